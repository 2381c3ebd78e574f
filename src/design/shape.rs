//! From outlines and lines to flat pieces: floors with sides, ribbons with bends.
//!
//! Takes plan lines with levels, gives patches for the kernel. A pit and a mound are the same
//! shape, once with sides that rise outward and once with sides that fall. A corner turning
//! inward needs no piece of its own: the strips of its two sides overlap there, and the kernel
//! takes the lower (or higher) of them. Knows no feature and no soil.

use crate::geom::{P3, Point, Ring, triangulate_rings};
use crate::surface::{Label, Patch, Rule};

/// How sides meet at a corner that turns outward.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Corners {
    /// Planes extended until they meet in a straight hip.
    Mitre,
    /// A cone, built of flat facets.
    Round,
}

/// Run of a "vertical" face for each unit of its rise. A surface has one height at one place,
/// so a vertical face leans by this much: 0.1 mm in a metre, far below what anyone digs to.
pub const FACE_RUN_PER_RISE: f64 = 1.0e-4;

/// How sides leave an edge.
#[derive(Clone, Copy, Debug)]
pub struct Sides {
    /// Lower: sides rise outward. Raise: they fall.
    pub rule: Rule,
    /// Run for each unit of rise.
    pub run_per_rise: f64,
    /// Level the sides must reach or pass, metres.
    pub limit_z_m: f64,
    /// Corners turning outward.
    pub corners: Corners,
    /// Longest chord error of a round corner at the end of its sides, metres.
    pub chord_m: f64,
}

impl Sides {
    /// Run and rise of sides that start at the level farthest from the limit.
    fn reach(&self, levels: impl Iterator<Item = f64>) -> (f64, f64) {
        let rise = levels
            .map(|z| (self.limit_z_m - z) * self.up())
            .fold(0.0, f64::max);
        // A little more, so that the rim is clear of the highest ground.
        let rise = rise * 1.001 + 0.01;
        (
            rise * self.run_per_rise.max(FACE_RUN_PER_RISE),
            rise * self.up(),
        )
    }

    fn up(&self) -> f64 {
        match self.rule {
            Rule::Lower => 1.0,
            Rule::Raise => -1.0,
        }
    }
}

/// Labels for the parts of a shape, by the direction they look to in plan.
pub type Facing<'a> = &'a mut dyn FnMut([f64; 2]) -> Label;

/// A flat floor (or crest) with sides all round.
///
/// # Input
///
/// `z_m` the level of the floor
pub fn floor_with_sides(ring: &Ring, z_m: f64, floor: Label, sides: &Sides, side: Facing) -> Patch {
    let mut patch = Patch::new();
    let at = |p: Point| P3 { p, z: z_m };
    let triangles: Vec<[P3; 3]> = triangulate_rings(std::slice::from_ref(ring))
        .unwrap_or_default()
        .into_iter()
        .map(|t| t.map(at))
        .collect();
    patch.add_flat(&triangles, floor);
    let corners = ring.corners();
    let n = corners.len();
    let (run, rise) = sides.reach(std::iter::once(z_m));
    let all = Wedge {
        run: [0.0, run],
        rise: [0.0, rise],
        reach: run,
    };
    let normals: Vec<[f64; 2]> = (0..n)
        .map(|i| right_of(direction(corners[i], corners[(i + 1) % n])))
        .collect();
    for i in 0..n {
        let (a, b) = (at(corners[i]), at(corners[(i + 1) % n]));
        let before = normals[(i + n - 1) % n];
        let is_straight = is_straight(before, normals[i], run);
        let starts = if is_straight { before } else { normals[i] };
        skewed(
            &mut patch,
            [a, b],
            [starts, normals[i]],
            run,
            rise,
            side(normals[i]),
        );
        if !is_straight && cross(before, normals[i]) > 0.0 {
            corner(&mut patch, a, [before, normals[i]], all, sides, side);
        }
    }
    patch
}

/// How a ribbon ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Ends {
    /// A near-vertical face across the end.
    Square,
    /// The side slope carried round the end.
    Slope,
}

/// Labels of a ribbon; sides as seen along the line.
#[derive(Clone, Copy, Debug)]
pub struct RibbonLabels {
    /// The bed or crest.
    pub middle: Label,
    /// The left side.
    pub left: Label,
    /// The right side.
    pub right: Label,
    /// The first and the last end.
    pub ends: [Label; 2],
}

/// A bed (or crest) of even width along a line with levels, and its sides.
///
/// Across the line the section is level in the middle, its sides measured at right angles to
/// the line. At a bend the wedge on the outside is level at the level of the bend.
///
/// # Input
///
/// two or more points, neighbours different
pub fn ribbon(
    line: &[P3],
    width_m: f64,
    ends: [Ends; 2],
    labels: RibbonLabels,
    sides: &Sides,
) -> Patch {
    let mut patch = Patch::new();
    let half = width_m / 2.0;
    let (run, rise) = sides.reach(line.iter().map(|p| p.z));
    let ahead: Vec<[f64; 2]> = line.windows(2).map(|w| direction(w[0].p, w[1].p)).collect();
    for (k, w) in line.windows(2).enumerate() {
        let starts = match k.checked_sub(1) {
            Some(before) if is_straight(ahead[before], ahead[k], half + run) => ahead[before],
            _ => ahead[k],
        };
        let left = [left_of(starts), left_of(ahead[k])];
        let right = [right_of(starts), right_of(ahead[k])];
        let lefts = [
            offset(w[0], left[0], half, 0.0),
            offset(w[1], left[1], half, 0.0),
        ];
        let rights = [
            offset(w[0], right[0], half, 0.0),
            offset(w[1], right[1], half, 0.0),
        ];
        patch.add(&[rights[0], rights[1], lefts[1], lefts[0]], labels.middle);
        skewed(&mut patch, lefts, left, run, rise, labels.left);
        skewed(&mut patch, rights, right, run, rise, labels.right);
    }
    for (k, pair) in ahead.windows(2).enumerate() {
        let bend = line[k + 1];
        let turn = cross(pair[0], pair[1]);
        if is_straight(pair[0], pair[1], half + run) {
            continue;
        }
        // The outside of a bend lies to the right of a left turn.
        let (normals, label) = if turn > 0.0 {
            ([right_of(pair[0]), right_of(pair[1])], labels.right)
        } else {
            ([left_of(pair[1]), left_of(pair[0])], labels.left)
        };
        let mut middle = |_: [f64; 2]| labels.middle;
        let reach = half + run;
        let flat = Wedge {
            run: [0.0, half],
            rise: [0.0, 0.0],
            reach,
        };
        let sloped = Wedge {
            run: [half, reach],
            rise: [0.0, rise],
            reach,
        };
        corner(&mut patch, bend, normals, flat, sides, &mut middle);
        let mut side = |_: [f64; 2]| label;
        corner(&mut patch, bend, normals, sloped, sides, &mut side);
        // Inside the bend the two stretches overlap. Where one reaches past the other (a short
        // stretch, a rising bed) it ends in a face instead of in the air.
        let inner = if turn > 0.0 {
            labels.left
        } else {
            labels.right
        };
        for (ahead, out) in [(pair[0], pair[0]), (pair[1], pair[1].map(|d| -d))] {
            let in_side = if turn > 0.0 {
                left_of(ahead)
            } else {
                right_of(ahead)
            };
            let near = offset(bend, in_side, half, 0.0);
            let far = offset(near, in_side, run, rise);
            let face = rise.abs() * FACE_RUN_PER_RISE;
            strip(&mut patch, bend, near, out, face, rise, labels.middle);
            strip(&mut patch, near, far, out, face, rise, inner);
        }
    }
    let last = line.len() - 1;
    let first_out = ahead[0].map(|d| -d);
    let last_out = ahead[ahead.len() - 1];
    for (which, (end, out)) in [(line[0], first_out), (line[last], last_out)]
        .into_iter()
        .enumerate()
    {
        let (left, right) = (left_of(out), right_of(out));
        let [a, b] = [offset(end, right, half, 0.0), offset(end, left, half, 0.0)];
        let label = labels.ends[which];
        match ends[which] {
            Ends::Square => {
                // The face stands over the whole section, sides included.
                let [far_a, far_b] = [offset(a, right, run, rise), offset(b, left, run, rise)];
                for (from, to) in [(a, b), (far_a, a), (b, far_b)] {
                    let face = rise.abs() * FACE_RUN_PER_RISE;
                    strip(&mut patch, from, to, out, face, rise, label);
                }
            }
            Ends::Slope => {
                strip(&mut patch, a, b, out, run, rise, label);
                let mut facing = |_: [f64; 2]| label;
                let all = Wedge {
                    run: [0.0, run],
                    rise: [0.0, rise],
                    reach: run,
                };
                corner(&mut patch, a, [right, out], all, sides, &mut facing);
                corner(&mut patch, b, [out, left], all, sides, &mut facing);
            }
        }
    }
    patch
}

/// A rectangle from the edge `a b` outward.
fn strip(patch: &mut Patch, a: P3, b: P3, out: [f64; 2], run: f64, rise: f64, label: Label) {
    skewed(patch, [a, b], [out, out], run, rise, label);
}

/// The same with a direction of its own at each end, the two all but equal.
fn skewed(
    patch: &mut Patch,
    [a, b]: [P3; 2],
    out: [[f64; 2]; 2],
    run: f64,
    rise: f64,
    label: Label,
) {
    let (far_a, far_b) = (offset(a, out[0], run, rise), offset(b, out[1], run, rise));
    patch.add(&[a, far_a, far_b, b], label);
}

/// A turn that opens a wedge narrower than this, metres, is none: the pieces on both sides share
/// their corners there instead.
const NARROWEST_WEDGE_M: f64 = 2.0e-8;

/// True if a line goes straight on as far as a shape of this reach can tell.
fn is_straight(before: [f64; 2], after: [f64; 2], reach: f64) -> bool {
    cross(before, after).abs() * reach < NARROWEST_WEDGE_M && dot(before, after) > 0.0
}

/// Extent of a wedge outside a corner.
#[derive(Clone, Copy)]
struct Wedge {
    run: [f64; 2],
    rise: [f64; 2],
    reach: f64,
}

/// The wedge outside a corner between the directions `out[0]` and, turning left, `out[1]`;
/// from `run[0]` to `run[1]` away from it. Wedges of one corner share the farthest `reach`, and
/// with it the rays between their facets.
fn corner(
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
            let angle = bend.acos();
            let chord = (1.0 - (sides.chord_m / reach.max(sides.chord_m)).min(0.5)).acos() * 2.0;
            let count = (angle / chord).ceil().clamp(1.0, MAX_ROUND_FACETS);
            for k in 1..count as usize {
                let t = angle * k as f64 / count;
                let (sin, cos) = t.sin_cos();
                let [x, y] = out[0];
                rays.push(([x * cos - y * sin, x * sin + y * cos], 1.0));
            }
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

/// Longest mitre, as a multiple of the run: corners sharper than about 29 degrees are cut off.
const MITRE_LIMIT: f64 = 4.0;

/// Most facets of one round corner.
const MAX_ROUND_FACETS: f64 = 512.0;

fn direction(a: Point, b: Point) -> [f64; 2] {
    let [x, y] = b.relative_m(a);
    let length = x.hypot(y);
    [x / length, y / length]
}

fn right_of([x, y]: [f64; 2]) -> [f64; 2] {
    [y, -x]
}

fn left_of([x, y]: [f64; 2]) -> [f64; 2] {
    [-y, x]
}

fn cross(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

/// The direction half way, turning left from `a` to `b`.
fn middle(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    let sum = [a[0] + b[0], a[1] + b[1]];
    let length = sum[0].hypot(sum[1]);
    if length < 1.0e-9 {
        left_of(a)
    } else {
        [sum[0] / length, sum[1] / length]
    }
}

fn offset(from: P3, out: [f64; 2], run: f64, rise: f64) -> P3 {
    let step = Point::from_m(out[0] * run, out[1] * run);
    P3 {
        p: Point::new(from.p.x + step.x, from.p.y + step.y),
        z: from.z + rise,
    }
}
