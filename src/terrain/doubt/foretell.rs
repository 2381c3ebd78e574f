//! What the shots round a place say of its height.
//!
//! Takes places, gives for each shot weights of those near it, and how far the ground and the
//! errors of shots let it lie off: kriging with a plane as drift, its measure taken from the yard.
//!
//! Source: G. Matheron, "The intrinsic random functions and their applications", Advances in
//! Applied Probability 5 (1973), 439-468 (from memory).

use nalgebra::{DMatrix, DVector};

use super::Looked;

/// Entries of the equations are near one: a smaller pivot is rounding.
const ZERO: f64 = 1.0e-9;

/// Nearest shots a height is foretold from.
const MOST: usize = 12;

/// Fewest shots that hold a plane and tell something beyond it.
const FEWEST: usize = 4;

/// Shots of one side a height is foretold from.
const MOST_ON_SIDE: usize = 9;

/// A shot this far beyond square to a side, as the sine of the angle, still counts to it.
const BESIDE: f64 = -0.1;

/// Half the width of the middle 80 % of a normal distribution, in standard deviations: a shot is
/// meant to lie within its accuracy that often.
const EIGHTY: f64 = 1.2816;

/// Variance of a soil shot as a share of that of the ground between two shots, tried one after
/// the other.
const NOISES: [f64; 5] = [1.0 / 64.0, 1.0 / 8.0, 1.0, 8.0, 64.0];

/// Shots are held for at least this share as uncertain as their class, however well they agree.
const LEAST_ERROR: f64 = 0.2;

/// Shots the measure of the yard is taken from, at most.
const SAMPLE: usize = 100;

/// Degrees of freedom of the t distribution that errors are held against, so that a blunder
/// counts little: K. Lange, R. Little and J. Taylor, "Robust statistical modeling using the t
/// distribution", JASA 84 (1989), 881-896 (from memory).
const TAILS: f64 = 4.0;

/// Measures of a yard within this factor name the same shots.
const ALIKE: f64 = 1.1;

/// A height foretold.
pub(super) struct Foretold {
    pub weights: Vec<(u32, f64)>,
    /// Variance from the shots' errors, its own among them, square metres.
    pub noise_m2: f64,
    /// Standard deviation from the ground, of which one at the yard's own roughness, metres.
    pub ground_m: f64,
}

/// How the variance of the ground grows with distance: as that power of it, tried one after the
/// other.
#[derive(Clone, Copy)]
enum Power {
    /// 1.
    Rough,
    /// 1.5.
    Even,
    /// 3.
    Smooth,
}

/// How the heights of a yard vary.
#[derive(Clone, Copy)]
pub(super) struct Model {
    power: Power,
    /// Distance of neighbours, metres.
    apart_m: f64,
    /// Variance of a soil shot over that of the ground at that distance.
    noise: f64,
    /// Standard deviation of the ground at that distance, metres.
    ground_m: f64,
}

/// A vertex with those that foretell it and where they lie from it, metres, nearest first.
pub(super) struct Place {
    v: u32,
    near: Vec<(u32, [f64; 2])>,
}

/// Every shot foretold from others; `None` where too few hold it.
pub(super) fn foretell(looked: &Looked, model: &Model) -> Vec<Option<Foretold>> {
    let vertices = looked.terrain.surface.vertices();
    let num_shots = looked.terrain.shots.len() as u32;
    let one = |v: u32| {
        if !looked.on_line[v as usize] {
            return model.foretold(looked, &Place::round(looked, v, MOST)?);
        }
        // Along the line only: beside it the ground may be another.
        let guess = looked.left_out.guesses[v as usize].as_ref()?;
        let near = guess.weights.iter().map(|&(u, _)| u);
        let place = Place::new(looked, v, near);
        Some(model.scatter(looked, &place, guess.weights.clone()))
    };
    let mut told: Vec<Option<Foretold>> = (0..num_shots).map(one).collect();
    told.resize_with(vertices.len(), || None);
    told
}

impl Place {
    fn new(looked: &Looked, v: u32, near: impl Iterator<Item = u32>) -> Place {
        let vertices = looked.terrain.surface.vertices();
        let p = |v: u32| vertices[v as usize].p;
        Place {
            v,
            near: near.map(|u| (u, p(u).relative_m(p(v)))).collect(),
        }
    }

    /// With the nearest vertices reached without crossing a line.
    pub(super) fn round(looked: &Looked, v: u32, most: usize) -> Option<Place> {
        /// Of a hub only some, as many as tell anything of a place.
        const HUB: usize = 40;
        let few = |v: u32| looked.near.of(v).iter().copied().take(HUB);
        let open = few(v).filter(|&u| !looked.on_line[u as usize]);
        let mut near: Vec<u32> = few(v).chain(open.flat_map(few)).collect();
        near.sort_unstable();
        near.dedup();
        near.retain(|&u| u != v);
        let mut place = Place::new(looked, v, near.into_iter());
        let square = |[x, y]: [f64; 2]| x * x + y * y;
        place
            .near
            .sort_by(|a, b| square(a.1).total_cmp(&square(b.1)).then(a.0.cmp(&b.0)));
        place.near.truncate(most);
        (place.near.len() >= FEWEST).then_some(place)
    }

    /// With those on one side only.
    pub(super) fn on_side(&self, way: [f64; 2]) -> Option<Place> {
        let is_there =
            |[x, y]: [f64; 2]| x * way[0] + y * way[1] >= BESIDE * (x * x + y * y).sqrt();
        let near: Vec<(u32, [f64; 2])> = (self.near.iter())
            .filter(|(_, at)| is_there(*at))
            .take(MOST_ON_SIDE)
            .copied()
            .collect();
        (near.len() > FEWEST).then_some(Place { v: self.v, near })
    }
}

/// The factor on standard deviations that suits errors best, and minus the logarithm of their
/// likelihood with it.
fn likelihood(errors: &[(f64, f64)]) -> (f64, f64) {
    let n = errors.len().max(1) as f64;
    let mut square = 1.0;
    for _ in 0..20 {
        let weighted = errors.iter().map(|(e, sd)| {
            let t = (e / sd).powi(2);
            (TAILS + 1.0) / (TAILS + t / square) * t
        });
        square = (weighted.sum::<f64>() / n).max(1.0e-6);
    }
    let scale = square.sqrt();
    let cost = errors.iter().map(|(e, sd)| {
        (scale * sd).ln() + (TAILS + 1.0) / 2.0 * (1.0 + (e / sd).powi(2) / square / TAILS).ln()
    });
    (scale, cost.sum())
}

impl Model {
    /// The model under which the shots foretell one another best, their heights as given.
    pub(super) fn of(looked: &Looked, z: &[f64]) -> Model {
        let num_shots = looked.terrain.shots.len() as u32;
        let free: Vec<u32> = (0..num_shots)
            .filter(|&v| !looked.on_line[v as usize])
            .collect();
        let step = free.len().div_ceil(SAMPLE).max(1);
        let sample: Vec<Place> = (free.into_iter().step_by(step))
            .filter_map(|v| Place::round(looked, v, MOST))
            .collect();
        // The third nearest shot: two may lie together by chance.
        let third = |place: &Place| place.near[2].1[0].hypot(place.near[2].1[1]);
        let mut apart: Vec<f64> = sample.iter().map(third).collect();
        apart.sort_unstable_by(f64::total_cmp);
        let apart_m = apart.get(apart.len() / 2).copied().unwrap_or(1.0);
        let trial = |power, noise: f64| Model {
            power,
            apart_m,
            noise,
            ground_m: looked.soil_m / EIGHTY / noise.sqrt(),
        };
        let z = |u: u32| z[u as usize];
        let mut best = (f64::INFINITY, trial(Power::Rough, 1.0));
        for power in [Power::Rough, Power::Even, Power::Smooth] {
            for noise in NOISES {
                let mut model = trial(power, noise);
                // Each error with its standard deviation under the model.
                let errors: Vec<(f64, f64)> = (sample.iter())
                    .filter_map(|place| {
                        let told = model.foretold(looked, place)?;
                        let sd = told.noise_m2.sqrt().hypot(told.ground_m);
                        Some((z(place.v) - told.z_m(z), sd))
                    })
                    .collect();
                let (scale, cost) = likelihood(&errors);
                model.ground_m *= scale.max(LEAST_ERROR);
                if cost < best.0 {
                    best = (cost, model);
                }
            }
        }
        best.1
    }

    /// True if shots scatter about as much under another model.
    pub(super) fn is_like(&self, other: &Model) -> bool {
        let scatter = |m: &Model| m.ground_m * (1.0 + m.noise).sqrt();
        (1.0 / ALIKE..=ALIKE).contains(&(scatter(self) / scatter(other)))
    }

    /// Generalised covariance of two places, apart from a plane: minus half the variance of
    /// their difference where the ground is rough.
    fn covariance(&self, [x, y]: [f64; 2]) -> f64 {
        let d = (x * x + y * y).sqrt() / self.apart_m;
        match self.power {
            Power::Rough => -d,
            Power::Even => -d * d.sqrt(),
            Power::Smooth => d * d * d,
        }
    }

    /// Variance of a vertex over that of the ground.
    fn noise_of(&self, looked: &Looked, v: u32) -> f64 {
        self.noise * (looked.accuracy_m(v) / looked.soil_m).powi(2)
    }

    /// The height of a place from those near it; `None` if they lie in line.
    pub(super) fn foretold(&self, looked: &Looked, place: &Place) -> Option<Foretold> {
        let n = place.near.len();
        // Unknown are the weights, and three multipliers that keep a plane as it is.
        let m = n + 3;
        let mut a = DMatrix::zeros(m, m);
        let mut right = DVector::zeros(m);
        for (i, &(u, at)) in place.near.iter().enumerate() {
            for (j, &(_, [x, y])) in place.near[..i].iter().enumerate() {
                let k = self.covariance([at[0] - x, at[1] - y]);
                (a[(i, j)], a[(j, i)]) = (k, k);
            }
            a[(i, i)] = self.noise_of(looked, u);
            let drift = [1.0, at[0] / self.apart_m, at[1] / self.apart_m];
            for (d, f) in drift.into_iter().enumerate() {
                (a[(i, n + d)], a[(n + d, i)]) = (f, f);
            }
            right[i] = self.covariance(at);
        }
        right[n] = 1.0;
        let lu = a.lu();
        // Places in line hold no plane.
        if lu.u().diagonal().iter().any(|pivot| pivot.abs() < ZERO) {
            return None;
        }
        let weights = lu.solve(&right)?;
        let weights = weights.iter().copied();
        let weights = place.near.iter().map(|&(u, _)| u).zip(weights).collect();
        Some(self.scatter(looked, place, weights))
    }

    /// How far a place may lie off what vertices with these weights make it.
    fn scatter(&self, looked: &Looked, place: &Place, weights: Vec<(u32, f64)>) -> Foretold {
        let (mut ground, mut noise) = (0.0, self.noise_of(looked, place.v));
        for (i, &(u, one)) in weights.iter().enumerate() {
            let at = place.near[i].1;
            ground -= 2.0 * one * self.covariance(at);
            noise += one * one * self.noise_of(looked, u);
            for (j, &(_, other)) in weights[..i].iter().enumerate() {
                let [x, y] = place.near[j].1;
                ground += 2.0 * one * other * self.covariance([at[0] - x, at[1] - y]);
            }
        }
        Foretold {
            weights,
            noise_m2: noise * self.ground_m.powi(2),
            // A thousandth of the ground between two shots: never nothing.
            ground_m: ground.max(1.0e-6).sqrt() * self.ground_m,
        }
    }
}

/// By vertex: those it is among the foretellers of.
pub(super) fn used_by(told: &[Option<Foretold>]) -> Vec<Vec<u32>> {
    let mut used_by = vec![Vec::new(); told.len()];
    for (v, one) in told.iter().enumerate() {
        for &(u, _) in one.iter().flat_map(|t| &t.weights) {
            used_by[u as usize].push(v as u32);
        }
    }
    used_by
}

impl Foretold {
    /// Minus the logarithm of how likely it is to lie so far off, with heavy tails; nought at
    /// nothing off.
    pub(super) fn unlikely(&self, off_m: f64) -> f64 {
        let square = off_m * off_m / (self.noise_m2 + self.ground_m.powi(2));
        (TAILS + 1.0) / 2.0 * (square / TAILS).ln_1p()
    }

    /// The height, from those of the vertices.
    pub(super) fn z_m(&self, z_of: impl Fn(u32) -> f64) -> f64 {
        self.weights.iter().map(|&(u, w)| w * z_of(u)).sum()
    }
}
