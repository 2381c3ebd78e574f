//! Shots far off what their neighbours say.
//!
//! Takes the ground, gives the culprits: a wrong shot also makes its neighbours look wrong, and
//! they are cleared once its height is put right.

use crate::diag::Diagnostic;
use crate::geom::distance_m;
use crate::terrain::build::MAX_LISTED;
use crate::terrain::fan::Fans;

use super::Looked;
use super::foretell::{Foretold, Model, Place, foretell, used_by};
use super::gross::Gross;
use super::look::looks_like;

/// Rounds of searching, each with the measure of the yard as the one before left it, at most.
const MOST_ROUNDS: usize = 4;

/// A shot is looked into from this many times its expected scatter on.
const WORTH_A_LOOK: f64 = 2.0;

/// A shot is named from this many times its expected scatter on, with the factors below. Chosen,
/// as they are, on the made yards of `tests/point_blunders.rs`, so that clean ground with banks
/// stays silent.
const SPIKE: f64 = 3.5;

/// So many times that at the rim, where the ground is carried on beyond its shots.
const AT_RIM: f64 = 1.25;

/// So many times that for a shot between its neighbours in height: top and foot of a bank that
/// no line joins look like that.
const BETWEEN: f64 = 1.5;

/// At an edge the shots of one side of it tell a height well, beside a spike none do. A shot this
/// many times the scatter off what those of every side say counts as it is; it counts so much
/// less or more, down to the lower and up to the upper of two shares, the nearer or farther it is
/// to those of the best side.
const OFF_EVERY_SIDE: f64 = 2.0;
const LESS_OR_MORE: [f64; 2] = [0.3, 1.3];

/// Sides looked at, evenly round.
const SIDES: usize = 8;

/// Shots near a place that its sides are taken from, at most.
const ALL_SIDES: usize = 40;

/// One neighbour's doubt counts up to this many times its scatter when culprits are compared, so
/// that no single one outweighs all others.
const MOST_DOUBT: f64 = 10.0;

/// The roughness of the whole ground counts like so many shots beside those near a place.
const SHRINK: f64 = 5.0;

/// The share of shots whose roughness stands for that of a place: the middle one, and an upper
/// one that a bank in part of it already lifts; with the same of a normal distribution in
/// standard deviations.
const MIDDLE: (f64, f64) = (0.5, 0.6745);
const UPPER: (f64, f64) = (0.85, 1.4395);

/// A shot that lies off its neighbours.
pub(super) struct Spike {
    vertex: u32,
    /// Above what the neighbours say, metres.
    off_m: f64,
    /// What they say, metres.
    says_m: f64,
    /// Expected scatter, metres.
    scatter_m: f64,
    by: By,
}

/// Who says what a height should be.
#[derive(Clone, Copy, PartialEq)]
enum By {
    Neighbours,
    /// All shots, as a plane.
    Yard,
}

/// The spikes of a ground, worst first.
pub(super) struct Spikes(Vec<Spike>);

pub(super) fn look(looked: &Looked, model: Model, guesses: Vec<Option<Foretold>>) -> Spikes {
    let mut spikes: Vec<Spike> = Vec::new();
    let mut z = looked.heights();
    let (mut model, mut guesses) = (model, guesses);
    for _ in 0..MOST_ROUNDS {
        let before = spikes.len();
        let mut search = Search::new(looked, model, guesses, z, &spikes);
        for v in search.worth_a_look() {
            // Clearing one culprit may bring out another beside it.
            while let Some(spike) = search.culprit(v) {
                search.put_right(spike.vertex, spike.says_m);
                spikes.push(spike);
            }
        }
        if spikes.len() == before {
            break;
        }
        // A wild height makes the whole yard look rough, and others hide in that.
        z = search.z;
        let calmer = Model::of(looked, &z);
        if calmer.is_like(&model) {
            break;
        }
        model = calmer;
        guesses = foretell(looked, &model);
    }
    spikes.sort_by(|a, b| {
        let times = |s: &Spike| s.off_m.abs() / s.scatter_m;
        times(b).total_cmp(&times(a)).then(a.vertex.cmp(&b.vertex))
    });
    Spikes(spikes)
}

struct Search<'a> {
    looked: &'a Looked<'a>,
    model: Model,
    guesses: Vec<Option<Foretold>>,
    at_rim: Vec<bool>,
    /// Vertices whose guess counts on a vertex.
    used_by: Vec<Vec<u32>>,
    /// Heights, put right where a spike was found.
    z: Vec<f64>,
    is_right: Vec<bool>,
    /// Roughness of the whole ground, middle and upper.
    whole: [f64; 2],
    /// Roughness near each vertex.
    rough: Vec<f64>,
    /// Off by so many times the scatter.
    doubt: Vec<f64>,
}

impl<'a> Search<'a> {
    fn new(
        looked: &'a Looked<'a>,
        model: Model,
        guesses: Vec<Option<Foretold>>,
        z: Vec<f64>,
        found: &[Spike],
    ) -> Search<'a> {
        let vertices = looked.terrain.surface.vertices();
        let fans = Fans::new(&looked.terrain.surface);
        let mut ring = Vec::new();
        let at_rim: Vec<bool> = (0..vertices.len() as u32)
            .map(|v| !fans.ring(v, &mut ring) && !looked.on_line[v as usize])
            .collect();
        let used_by = used_by(&guesses);
        let mut search = Search {
            looked,
            model,
            guesses,
            at_rim,
            used_by,
            z,
            is_right: vec![false; vertices.len()],
            whole: [0.0; 2],
            rough: vec![0.0; vertices.len()],
            doubt: vec![0.0; vertices.len()],
        };
        for spike in found {
            search.is_right[spike.vertex as usize] = true;
        }
        let all: Vec<u32> = (0..vertices.len() as u32).collect();
        search.whole = [MIDDLE, UPPER].map(|(share, of_normal)| {
            quantile(search.roughness_of(&all), share).unwrap_or(0.0) / of_normal
        });
        for &v in &all {
            let near = search.looked.near.twice_of(v);
            search.rough[v as usize] = search.local(&near, 0);
        }
        for &v in &all {
            search.judge(v);
        }
        search
    }

    /// Shots that look wrong, worst first.
    fn worth_a_look(&self) -> Vec<u32> {
        let doubt = |v: u32| self.doubt[v as usize];
        let mut worth: Vec<u32> = (0..self.guesses.len() as u32)
            .filter(|&v| doubt(v) > WORTH_A_LOOK)
            .collect();
        worth.sort_by(|&a, &b| doubt(b).total_cmp(&doubt(a)).then(a.cmp(&b)));
        worth
    }

    /// Height of a vertex above what its neighbours say.
    fn off_m(&self, v: u32) -> Option<f64> {
        let guess = self.guesses[v as usize].as_ref()?;
        Some(self.z[v as usize] - guess.z_m(|u| self.z[u as usize]))
    }

    /// How much each of some vertices is off per distance to its neighbours.
    fn roughness_of(&self, of: &[u32]) -> Vec<f64> {
        of.iter()
            .filter(|&&v| !self.at_rim[v as usize] && !self.is_right[v as usize])
            .filter_map(|&v| {
                let guess = self.guesses[v as usize].as_ref()?;
                let off = self.off_m(v)?;
                let excess = (off * off - guess.noise_m2).max(0.0).sqrt();
                Some(excess / guess.ground_m)
            })
            .collect()
    }

    /// Roughness near a place: by the middle (0) or the upper (1) of the shots there,
    /// drawn towards the whole ground's.
    fn local(&self, near: &[u32], by: usize) -> f64 {
        let roughness = self.roughness_of(near);
        let count = roughness.len() as f64;
        let (share, of_normal) = [MIDDLE, UPPER][by];
        let own = quantile(roughness, share).unwrap_or(0.0) / of_normal;
        ((count * own * own + SHRINK * self.whole[by].powi(2)) / (count + SHRINK)).sqrt()
    }

    /// Expected scatter of a vertex about what its neighbours say, on ground of a roughness.
    fn scatter_m(&self, v: u32, rough: f64) -> f64 {
        let Some(guess) = &self.guesses[v as usize] else {
            return f64::INFINITY;
        };
        (guess.noise_m2 + (rough * guess.ground_m).powi(2)).sqrt()
    }

    fn judge(&mut self, v: u32) {
        let off = self.off_m(v).unwrap_or(0.0).abs();
        let scatter = self.scatter_m(v, self.rough[v as usize]);
        self.doubt[v as usize] = if self.is_right[v as usize] {
            0.0
        } else {
            off / scatter
        };
    }

    /// Gives a vertex another height and judges anew all that count on it.
    fn set(&mut self, v: u32, z: f64) {
        self.z[v as usize] = z;
        self.judge(v);
        for k in 0..self.used_by[v as usize].len() {
            self.judge(self.used_by[v as usize][k]);
        }
    }

    fn put_right(&mut self, v: u32, z: f64) {
        self.is_right[v as usize] = true;
        self.set(v, z);
    }

    /// The shot that explains best why `v` looks wrong, if it is far enough off once its
    /// neighbours no longer suffer from it.
    fn culprit(&mut self, v: u32) -> Option<Spike> {
        if self.doubt[v as usize] <= WORTH_A_LOOK {
            return None;
        }
        let guess = self.guesses[v as usize].as_ref()?;
        let mut accused: Vec<u32> = guess.weights.iter().map(|&(u, _)| u).collect();
        accused.extend(&self.used_by[v as usize]);
        accused.push(v);
        accused.sort_unstable();
        accused.dedup();
        accused.retain(|&u| self.doubt[u as usize] > 0.5 * WORTH_A_LOOK);
        let mut around = self.looked.near.twice_of(v);
        around.push(v);
        let best = accused
            .into_iter()
            .map(|u| (self.left_with(u, &around), u))
            .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)))?
            .1;
        let spike = self.measured(best)?;
        (self.weight(&spike) > SPIKE).then_some(spike)
    }

    /// Times its scatter that a shot is off, less where an edge of the ground may explain it.
    fn weight(&self, spike: &Spike) -> f64 {
        let v = spike.vertex;
        let mut times = spike.off_m.abs() / spike.scatter_m;
        if self.at_rim[v as usize] {
            times /= AT_RIM;
        }
        if !self.stands_out(v) {
            times /= BETWEEN;
        }
        let [less, more] = LESS_OR_MORE;
        let sides = self.off_best_side(v, spike.off_m.signum());
        times * sides.map_or(1.0, |sides| (sides / OFF_EVERY_SIDE).clamp(less, more))
    }

    /// Times its scatter that a shot is off what the shots of that side say which comes nearest,
    /// counted `up` or down; `None` on a line, which is an edge itself.
    fn off_best_side(&self, v: u32, up: f64) -> Option<f64> {
        if self.looked.on_line[v as usize] {
            return None;
        }
        let place = Place::round(self.looked, v, ALL_SIDES)?;
        let one = |k: usize| {
            let turn = k as f64 / SIDES as f64 * std::f64::consts::TAU;
            let side = place.on_side([turn.cos(), turn.sin()])?;
            let told = self.model.foretold(self.looked, &side)?;
            let off_m = self.z[v as usize] - told.z_m(|u| self.z[u as usize]);
            Some(off_m * up / told.noise_m2.sqrt().hypot(told.ground_m))
        };
        (0..SIDES).filter_map(one).min_by(f64::total_cmp)
    }

    /// True for a shot above or below all its neighbours.
    fn stands_out(&self, v: u32) -> bool {
        let z = |u: u32| self.z[u as usize];
        let near = self.looked.near.of(v);
        near.iter().all(|&u| z(u) < z(v)) || near.iter().all(|&u| z(u) > z(v))
    }

    /// All doubt left around if `u` were put right.
    fn left_with(&mut self, u: u32, around: &[u32]) -> f64 {
        let Some(off) = self.off_m(u) else {
            return f64::INFINITY;
        };
        let was = self.z[u as usize];
        self.set(u, was - off);
        let left = around
            .iter()
            .map(|&w| self.doubt[w as usize].min(MOST_DOUBT))
            .sum();
        self.set(u, was);
        left
    }

    /// How far a shot is off on the ground as its neighbours show it without it.
    fn measured(&mut self, v: u32) -> Option<Spike> {
        let off_m = self.off_m(v)?;
        let was = self.z[v as usize];
        let near = self.looked.near.twice_of(v);
        self.set(v, was - off_m);
        let rough = self.local(&near, 1);
        self.set(v, was);
        Some(Spike {
            vertex: v,
            off_m,
            says_m: was - off_m,
            scatter_m: self.scatter_m(v, rough),
            by: By::Neighbours,
        })
    }
}

/// The value below which a share of the values lie.
fn quantile(mut values: Vec<f64>, share: f64) -> Option<f64> {
    let k = ((values.len() as f64 * share) as usize).min(values.len().checked_sub(1)?);
    let (_, value, _) = values.select_nth_unstable_by(k, f64::total_cmp);
    Some(*value)
}

impl Spikes {
    /// Adds shots far off the whole yard that their neighbours could not tell.
    pub(super) fn add(&mut self, gross: Vec<Gross>) {
        for one in gross {
            if self.0.iter().any(|spike| spike.vertex == one.vertex) {
                continue;
            }
            self.0.push(Spike {
                vertex: one.vertex,
                off_m: one.off_m,
                says_m: one.says_m,
                scatter_m: one.usual_m,
                by: By::Yard,
            });
        }
    }

    pub(super) fn words(
        &self,
        looked: &Looked,
        is_explained: impl Fn(u32) -> bool,
    ) -> Vec<Diagnostic> {
        let mut said = Vec::new();
        let spikes: Vec<&Spike> = self.0.iter().filter(|s| !is_explained(s.vertex)).collect();
        for spike in spikes.iter().take(MAX_LISTED) {
            said.extend(spike.words(looked));
        }
        if spikes.len() > MAX_LISTED {
            let more = spikes.len() - MAX_LISTED;
            said.push(Diagnostic::warn(
                "spike",
                format!("and {more} more shots like these"),
            ));
        }
        said
    }
}

impl Spike {
    fn words(&self, looked: &Looked) -> Option<Diagnostic> {
        let shot = looked.shot(self.vertex)?;
        let vertices = looked.terrain.surface.vertices();
        let mut near: Vec<u32> = looked.near.of(self.vertex).to_vec();
        let away = |u: u32| distance_m(vertices[u as usize].p, shot.p);
        near.sort_by(|&a, &b| away(a).total_cmp(&away(b)).then(a.cmp(&b)));
        near.truncate(3);
        let names: Vec<String> = near.iter().map(|&u| looked.name(u)).collect();
        let side = if self.off_m > 0.0 { "above" } else { "below" };
        let who = match self.by {
            By::Neighbours => format!("what its neighbours say (nearest: {})", names.join(", ")),
            By::Yard => "what all shots of the yard together say".to_owned(),
        };
        let mut words = format!(
            "shot {} lies {} {side} {who}: {} where they make it {}, give or take {}",
            shot.name,
            looked.height(self.off_m.abs()),
            looked.height(shot.z_m),
            looked.height(self.says_m),
            looked.height(self.scatter_m)
        );
        if let Some(cause) = looks_like(looked, shot, self.says_m, self.scatter_m) {
            words.push_str(&format!("; it looks like {cause}"));
        }
        let help = format!(
            "shoot it again, correct it, or strike it in job.toml: [[strike]] shot = \"{}\", \
             why = \"...\"; if the ground is like that, leave it and join the edge with a breakline",
            shot.name
        );
        let mut diagnostic = Diagnostic::warn("spike", words)
            .at(shot.at.clone())
            .help(help);
        let others = near.iter().filter_map(|&u| looked.shot(u));
        diagnostic.at.extend(others.map(|shot| shot.at.clone()));
        Some(diagnostic)
    }
}
