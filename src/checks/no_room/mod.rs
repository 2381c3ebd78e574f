//! Where a wall is needed: along every line that a side must land before, the height left over.
//!
//! Along a line ([`obstacle`]) two things are compared with the ground at every break: the surface
//! as drawn, and the side at the limit slope of its soil ([`envelope`]), which is the least that
//! has to be held. Both are kept apart and told in one finding:
//!
//! - as drawn it passes the line: the wall as drawn, and what the limit slope would spare, or ask
//!   for if the side is drawn steeper;
//! - as drawn it lands before the line, steeper than the limit: the wall at the limit.
//!
//! Where soil comes from is the rim of the core ([`rim`]); lines stand in its way ([`blockers`]),
//! so behind a line nothing is asked for twice. A wall of the job that is high enough holds what
//! is behind it ([`held`]). Soil that has landed on its way, or that runs into a dig of another
//! feature, is at an end there; the floor of that dig is a line of its own.

mod assemble;
mod blockers;
mod compare;
mod envelope;
mod held;
mod never;
mod obstacle;
mod rim;
mod runs;
mod setback;
mod words;

use std::collections::BTreeMap;

use crate::design::KeepOffPlace;
use crate::geom::Point;
use crate::job::KeepOffKind;

use super::slope::side_limit;
use super::wall::{Basis, Wall};
use super::{Checked, Context};

use blockers::Blockers;
use envelope::Envelope;
use held::BuiltWalls;
use obstacle::Obstacle;
use rim::{Rim, plan};
use runs::{Run, joined};

pub(super) use held::is_wall;

/// What is compared along every line.
struct Yard<'a> {
    context: &'a Context<'a>,
    rims: &'a [Rim],
    /// By feature: fill, cut.
    envelopes: Vec<[Option<Envelope<'a>>; 2]>,
    /// Lines that nothing is built beyond.
    boundaries: Blockers,
    built: BuiltWalls,
    obstacles: Vec<Obstacle>,
}

pub(super) fn check(context: &Context, out: &mut Checked) {
    let design = context.design;
    let keep_offs = std::mem::take(&mut out.keep_offs);
    let rims = rim::rims(design);
    let blockers = obstacle::blockers(&keep_offs);
    // Round a building drawn soil lies on all sides; past a line or a boundary nothing is built.
    let is_end = |k: &&KeepOffPlace| {
        obstacle::stops_earth(k.kind) && (k.area.is_none() || k.kind == KeepOffKind::Boundary)
    };
    let mut boundaries = Blockers::default();
    for keep_off in keep_offs.iter().filter(is_end) {
        let points = keep_off.line.iter().map(|&p| plan(p)).collect();
        boundaries.add(points, keep_off.area.is_some());
    }
    let ground = |p: [f64; 2]| context.terrain.surface.z_at(Point::from_m(p[0], p[1]));
    let envelopes: Vec<[Option<Envelope>; 2]> = rims
        .iter()
        .enumerate()
        .map(|(number, rim)| {
            [true, false].map(|is_fill| {
                let pieces = rim.of(is_fill);
                if pieces.is_empty() {
                    return None;
                }
                let limit = side_limit(context, &design.features[number], is_fill)?;
                let slope = limit.slope.rise_per_run();
                Some(Envelope::new(pieces, is_fill, slope, &blockers, ground))
            })
        })
        .collect();
    let mut obstacles: Vec<Obstacle> = keep_offs
        .iter()
        .filter(|k| obstacle::stops_earth(k.kind))
        .map(|k| obstacle::of_keep_off(context, k))
        .collect();
    let features = 0..design.features.len();
    obstacles.extend(features.filter_map(|number| obstacle::of_feature(design, number)));
    let yard = Yard {
        context,
        rims: &rims,
        envelopes,
        boundaries,
        built: BuiltWalls::of(design),
        obstacles,
    };
    for number in 0..yard.obstacles.len() {
        let (walls, held) = yard.walls(number, &keep_offs);
        for wall in held {
            out.find(words::held(context, &wall));
        }
        out.walls.extend(walls);
    }
    super::wall_rules::check(context, &keep_offs, out);
    for wall in &mut out.walls {
        wall.entry = super::wall_entry::entry(context, wall);
    }
    for (k, wall) in out.walls.clone().iter().enumerate() {
        out.find(words::needed(context, k, wall));
    }
    never::check(&yard, out);
    setback::check(&yard, &keep_offs, out);
    words::said(context, &keep_offs, &rims, out);
    out.keep_offs = keep_offs;
}

/// A stretch that a wall of the job holds.
struct HeldRun {
    feature: usize,
    wall: usize,
    line: String,
    length_m: f64,
    height_m: f64,
    at: Point,
}

impl Yard<'_> {
    /// The walls needed along a line, and what walls of the job hold there.
    fn walls(&self, number: usize, keep_offs: &[KeepOffPlace]) -> (Vec<Wall>, Vec<HeldRun>) {
        let obstacle = &self.obstacles[number];
        let round_m = obstacle.is_closed.then_some(obstacle.length_m);
        let mut drawn = self.drawn(number);
        drawn.extend(self.stops(obstacle));
        let mut at_limit = self.at_limit(number);
        let mut walls = Vec::new();
        let mut held = Vec::new();
        let mut beyond = BTreeMap::new();
        // What is drawn comes first; the same stretch at the limit slope is told beside it.
        for run in &drawn {
            let same = |l: &&Run| {
                l.owner == run.owner && l.is_fill == run.is_fill && l.is_beside(run, round_m)
            };
            let beside: Vec<Run> = at_limit.iter().filter(same).cloned().collect();
            walls.extend(self.keep(obstacle, run, Some(&beside), &mut held));
        }
        let taken = |run: &Run| {
            drawn.iter().any(|d| {
                d.owner == run.owner && d.is_fill == run.is_fill && d.is_beside(run, round_m)
            })
        };
        at_limit.retain(|run| !taken(run));
        at_limit.sort_by(|a, b| b.max_height_m().total_cmp(&a.max_height_m()));
        // One wall at one place: the highest first, of the others what is left.
        let mut placed = drawn;
        for run in at_limit {
            let mut left = run.steps.clone();
            left.retain(|[a, b]| {
                let middle = (a.station + b.station) / 2.0;
                let same = |p: &&Run| p.is_fill == run.is_fill;
                !placed
                    .iter()
                    .filter(same)
                    .any(|p| p.covers(middle, round_m))
            });
            let pieces = left.into_iter().map(|s| (run.owner, run.is_fill, s));
            for run in joined(pieces, false) {
                walls.extend(self.keep(obstacle, &run, None, &mut held));
                placed.push(run);
            }
        }
        let keep_off = keep_offs.iter().find(|k| k.name == obstacle.name);
        for (owner, wall) in &mut walls {
            let is_past = wall.basis == Basis::AsDrawn && !wall.is_in_design;
            if let (true, Some(keep_off)) = (is_past, keep_off) {
                let volume = beyond
                    .entry(*owner)
                    .or_insert_with(|| self.beyond_m3(keep_off, *owner));
                wall.beyond_m3 = *volume;
            }
        }
        (walls.into_iter().map(|(_, wall)| wall).collect(), held)
    }
}
