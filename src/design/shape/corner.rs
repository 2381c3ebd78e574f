//! The wedge that fills an outward corner between two sides: mitred or round.

use crate::geom::P3;
use crate::surface::Patch;

use super::sides::{Corners, Facing, Sides};
use super::vector::{cross, direction, dot, middle, offset, right_of};

/// Extent of a wedge outside a corner.
#[derive(Clone, Copy)]
pub(super) struct Wedge {
    pub(super) run: [f64; 2],
    pub(super) rise: [f64; 2],
    pub(super) reach: f64,
}

/// The wedge outside a corner between the directions `out[0]` and, turning left, `out[1]`;
/// from `run[0]` to `run[1]` away from it. Wedges of one corner share the farthest `reach`, and
/// with it the rays between their facets.
pub(super) fn corner(
    patch: &mut Patch,
    at: P3,
    out: [[f64; 2]; 2],
    Wedge { run, rise, reach }: Wedge,
    sides: &Sides,
    facing: Facing,
) {
    let bend = dot(out[0], out[1]).clamp(-1.0, 1.0);
    let mut rays = vec![(out[0], 1.0)];
    match sides.corners {
        // Straight hips; a corner sharper than the limit is cut off by a second hip.
        Corners::Mitre => {
            let stretch = (2.0 / (1.0 + bend)).sqrt();
            if stretch <= MITRE_LIMIT {
                rays.push((middle(out[0], out[1]), stretch));
            } else {
                let half = middle(out[0], out[1]);
                for (a, b) in [(out[0], half), (half, out[1])] {
                    let stretch = (2.0 / (1.0 + dot(a, b).clamp(-1.0, 1.0))).sqrt();
                    rays.push((middle(a, b), stretch));
                }
            }
        }
        Corners::Round => {
            let between = turned(out, facets(bend, reach, sides.chord_m));
            rays.extend(between.map(|ray| (ray, 1.0)));
        }
    }
    rays.push((out[1], 1.0));
    let last = rays.len() - 2;
    for (k, pair) in rays.windows(2).enumerate() {
        // Up to its hip a mitred corner belongs to the plane of its side.
        let label = facing(match sides.corners {
            Corners::Mitre if k == 0 => out[0],
            Corners::Mitre if k == last => out[1],
            _ => middle(pair[0].0, pair[1].0),
        });
        // In two steps, as the strips beside it are made: the shared corners must be the same
        // lattice points.
        let [(u, su), (v, sv)] = [pair[0], pair[1]];
        let (near_u, near_v) = (
            offset(at, u, run[0] * su, rise[0]),
            offset(at, v, run[0] * sv, rise[0]),
        );
        let (wide, high) = (run[1] - run[0], rise[1] - rise[0]);
        let (far_u, far_v) = (
            offset(near_u, u, wide * su, high),
            offset(near_v, v, wide * sv, high),
        );
        patch.add(&[near_u, far_u, far_v, near_v], label);
    }
}

/// The wedge outside a corner between two sides of different slopes: facets that go over from
/// the one to the other, or a single one without a chord error.
pub(super) fn fan(
    patch: &mut Patch,
    at: P3,
    out: [[f64; 2]; 2],
    (runs, rise): ([f64; 2], f64),
    chord_m: Option<f64>,
    facing: Facing,
) {
    let bend = dot(out[0], out[1]).clamp(-1.0, 1.0);
    let count = chord_m.map_or(1.0, |chord| facets(bend, runs[0].max(runs[1]), chord));
    let mut rays = vec![(out[0], runs[0])];
    for (k, ray) in turned(out, count).enumerate() {
        let share = (k + 1) as f64 / count;
        rays.push((ray, runs[0] + (runs[1] - runs[0]) * share));
    }
    rays.push((out[1], runs[1]));
    for pair in rays.windows(2) {
        let far = [0, 1].map(|k| offset(at, pair[k].0, pair[k].1, rise));
        patch.add(&[at, far[0], far[1]], facing(middle(pair[0].0, pair[1].0)));
    }
}

/// Number of facets of a round corner whose chords are off by so much at the end of its sides.
fn facets(bend: f64, reach: f64, chord_m: f64) -> f64 {
    turns(bend.acos(), reach, chord_m)
}

/// The same by the angle it turns.
pub(super) fn turns(angle: f64, reach: f64, chord_m: f64) -> f64 {
    let chord = (1.0 - (chord_m / reach.max(chord_m)).min(0.5)).acos() * 2.0;
    (angle / chord).ceil().clamp(1.0, MAX_ROUND_FACETS)
}

/// Directions between two, turning left, that part the angle evenly.
fn turned(out: [[f64; 2]; 2], count: f64) -> impl Iterator<Item = [f64; 2]> {
    let angle = dot(out[0], out[1]).clamp(-1.0, 1.0).acos();
    let [x, y] = out[0];
    (1..count as usize).map(move |k| {
        let t = angle * k as f64 / count;
        let (sin, cos) = t.sin_cos();
        [x * cos - y * sin, x * sin + y * cos]
    })
}

/// True if a hip that reaches so far is longer than a mitre may be for sides of this run.
pub(super) fn is_long(reach: f64, run: f64) -> bool {
    reach > MITRE_LIMIT * run
}

/// Longest mitre, as a multiple of the run: corners sharper than about 29 degrees are cut off.
const MITRE_LIMIT: f64 = 4.0;

/// Most facets of one round corner.
const MAX_ROUND_FACETS: f64 = 512.0;

/// Distance of the farthest mitre from its corner, as a multiple of the run, for sides along a
/// line or round an outline; a square end counts as two corners.
pub(crate) fn longest_mitre(line: &[P3]) -> f64 {
    let n = line.len();
    let ahead: Vec<[f64; 2]> = (0..n)
        .map(|k| (line[k].p, line[(k + 1) % n].p))
        .filter(|(a, b)| a != b)
        .map(|(a, b)| direction(a, b))
        .collect();
    (0..ahead.len())
        .map(|k| dot(ahead[k], ahead[(k + 1) % ahead.len()]))
        .map(|bend| {
            (2.0 / (1.0 + bend.clamp(-1.0, 1.0)))
                .sqrt()
                .min(MITRE_LIMIT)
        })
        .fold(2.0f64.sqrt(), f64::max)
}

/// Distance of the farthest hip from its corner round a ring of different slopes, as a multiple
/// of the longest run; see [`longest_mitre`].
pub(crate) fn longest_hip(line: &[P3], runs: &[[f64; 2]]) -> f64 {
    let n = line.len();
    let longest = runs.iter().flatten().copied().fold(0.0, f64::max);
    let out = |k: usize| right_of(direction(line[k].p, line[(k + 1) % n].p));
    (0..n)
        .filter(|&k| runs[k][0].to_bits() != runs[(k + n - 1) % n][1].to_bits())
        .map(|k| {
            let (before, after) = (out((k + n - 1) % n), out(k));
            let (a, b) = (runs[(k + n - 1) % n][1] / longest, runs[k][0] / longest);
            let (cos, sin) = (dot(before, after), cross(before, after).abs());
            ((a * a + b * b - 2.0 * a * b * cos).max(0.0).sqrt() / sin).min(MITRE_LIMIT)
        })
        .fold(1.0, f64::max)
}
