//! Sides along a line whose levels vary, with a slope of its own for every edge.
//!
//! Takes a line, open or closed, with the slope on the right of every edge; gives the pieces of
//! the sides and of the corners between them. At a corner that turns outward the planes of two
//! sides meet in a hip, or a fan of facets goes over from one slope to the other. At a corner
//! that turns inward the two sides overlap. Where slopes differ and the line hardly turns, the
//! planes would meet far away or nowhere: there the flatter side ends in an upright cheek.

use crate::geom::P3;
use crate::surface::{Label, Patch};

use super::corner::{Wedge, corner, fan, is_long};
use super::sides::{Corners, FACE_RUN_PER_RISE, Sides, skewed_to, strip};
use super::vector::{cross, direction, dot, is_straight, middle, offset, right_of};

/// Run for each unit of rise at the start and at the end of an edge, at right angles to it in
/// plan; 0 for an upright face.
pub type EdgeRun = [f64; 2];

/// A part of the sides along a line.
#[derive(Clone, Copy, Debug)]
pub enum SidePart {
    /// The side of an edge.
    Edge(usize),
    /// A facet of a corner, by the direction it looks to in plan.
    Corner([f64; 2]),
    /// The upright end of the side of this edge, which is flatter than the one beside it.
    Cheek(usize),
}

/// Adds the sides along a line, to the right of it.
///
/// # Input
///
/// two or more points (three for a closed line, counter-clockwise), neighbours different;
/// `runs` one for every edge, in a closed line the last from the last point to the first; of
/// `sides` everything but the slope
pub fn sides_along(
    patch: &mut Patch,
    line: &[P3],
    is_closed: bool,
    runs: &[EdgeRun],
    sides: &Sides,
    label: &mut dyn FnMut(SidePart) -> Label,
) {
    let n = line.len();
    let rise = sides.rise(line.iter().map(|p| p.z));
    let flanks: Vec<Flank> = runs
        .iter()
        .enumerate()
        .map(|(k, &run)| Flank::new(line[k], line[(k + 1) % n], run, rise))
        .collect();
    let count = flanks.len();
    let before = |k: usize| match k {
        0 if is_closed => Some(count - 1),
        0 => None,
        _ => Some(k - 1),
    };
    let mut joints: Vec<Option<Joint>> = (0..count)
        .map(|k| before(k).map(|b| Joint::new(line[k], &flanks[b], &flanks[k], rise, sides)))
        .collect();
    drop_crossing(&mut joints, &flanks, rise, is_closed);
    for (k, flank) in flanks.iter().enumerate() {
        let after = if k + 1 < count { k + 1 } else { 0 };
        let starts = joints[k].as_ref().map_or(flank.far(0, rise), |j| j.far[1]);
        let ends = match &joints[after] {
            Some(joint) if is_closed || after > 0 => joint.far[0],
            _ => flank.far(1, rise),
        };
        let [first, last] = flank.run;
        let is_even = first.to_bits() == last.to_bits();
        skewed_to(
            patch,
            [flank.a, flank.b],
            [starts, ends],
            is_even,
            label(SidePart::Edge(k)),
        );
        if let (Some(joint), Some(b)) = (&joints[k], before(k)) {
            let pair = [&flanks[b], flank];
            joint.fill(patch, pair, [b, k], rise, sides, label);
        }
    }
}

/// The side of one edge as a plane.
struct Flank {
    a: P3,
    b: P3,
    along: [f64; 2],
    out: [f64; 2],
    /// Rise for each unit of length along the edge.
    gradient: f64,
    /// Run at both ends, metres.
    run: [f64; 2],
}

impl Flank {
    fn new(a: P3, b: P3, run: EdgeRun, rise: f64) -> Flank {
        let along = direction(a.p, b.p);
        let [x, y] = b.p.relative_m(a.p);
        Flank {
            a,
            b,
            along,
            out: right_of(along),
            gradient: (b.z - a.z) / x.hypot(y),
            run: run.map(|run| rise.abs() * run.max(FACE_RUN_PER_RISE)),
        }
    }

    fn far(&self, end: usize, rise: f64) -> P3 {
        let from = [self.a, self.b][end];
        offset(from, self.out, self.run[end], rise)
    }

    /// Steepness in plan of the plane at one end.
    fn slope(&self, end: usize, rise: f64) -> [f64; 2] {
        let across = rise / self.run[end];
        [0, 1].map(|k| self.along[k] * self.gradient + self.out[k] * across)
    }

    /// The plane at one end, as height above that end.
    fn height(&self, end: usize, rise: f64, at: [f64; 2]) -> f64 {
        dot(self.slope(end, rise), at)
    }
}

/// A corner: where the side before and the one after it end, and what fills the rest.
struct Joint {
    at: P3,
    /// Far end of the side before and of the side after, on the rays they end in.
    far: [P3; 2],
    fill: Fill,
}

#[derive(Clone, Copy)]
enum Fill {
    /// Nothing: the sides share their ends, or overlap.
    None,
    /// As between two level edges of one slope.
    Even,
    /// Up to the line where the two planes meet.
    Hip(P3),
    /// The same twice, with a plane between them.
    TwoHips([P3; 2], [f64; 2]),
    /// Facets from one slope to the other.
    Fan(Corners),
    /// An upright end of the side before (0) or after (1).
    Cheek(usize),
    /// Both.
    Cheeks,
}

impl Joint {
    fn new(at: P3, before: &Flank, after: &Flank, rise: f64, sides: &Sides) -> Joint {
        let plain = [before.far(1, rise), after.far(0, rise)];
        let joint = |far, fill| Joint { at, far, fill };
        let runs = [before.run[1], after.run[0]];
        let is_one_slope = runs[0].to_bits() == runs[1].to_bits();
        let flatter = usize::from(runs[1] > runs[0]);
        if is_straight(before.out, after.out, runs[0].max(runs[1])) {
            return if is_one_slope {
                joint([plain[0]; 2], Fill::None)
            } else {
                joint(plain, Fill::Cheek(flatter))
            };
        }
        let is_level = before.gradient == 0.0 && after.gradient == 0.0;
        let turn = cross(before.out, after.out);
        let bend = dot(before.out, after.out);
        let is_shallow = bend > 0.0 && turn.abs() < SHALLOW;
        if turn > 0.0 {
            if is_one_slope && (is_level || sides.corners == Corners::Round) {
                return joint(plain, Fill::Even);
            }
            if sides.corners == Corners::Round {
                return match is_shallow {
                    true => joint(plain, Fill::Cheek(flatter)),
                    false => joint(plain, Fill::Fan(Corners::Round)),
                };
            }
            if let Some(hip) = meeting(at, before, after, rise) {
                return joint(trimmed(at, before, after, plain, hip), Fill::Hip(hip));
            }
            if bend < 0.0
                && let Some(two) = two_hips(at, before, after, rise)
            {
                return joint(plain, two);
            }
            return match is_one_slope || !is_shallow {
                true => joint(plain, Fill::Fan(Corners::Mitre)),
                false => joint(plain, Fill::Cheek(flatter)),
            };
        }
        if is_one_slope && is_level {
            return joint(plain, Fill::None);
        }
        // Each side goes on to its own ray at right angles; there the other must be the one
        // that wins.
        let (u, v) = (before.out, after.out);
        let wins = |one: f64, other: f64| (one - other) * rise.signum() >= 0.0;
        let is_valley = wins(before.height(1, rise, u), after.height(0, rise, u))
            && wins(after.height(0, rise, v), before.height(1, rise, v));
        if is_valley {
            return joint(plain, Fill::None);
        }
        match meeting(at, before, after, rise) {
            Some(hip) => joint(trimmed(at, before, after, plain, hip), Fill::Hip(hip)),
            None => joint(plain, Fill::Cheeks),
        }
    }

    #[allow(clippy::too_many_arguments)] // a corner is between two of everything
    fn fill(
        &self,
        patch: &mut Patch,
        [before, after]: [&Flank; 2],
        at: [usize; 2],
        rise: f64,
        sides: &Sides,
        label: &mut dyn FnMut(SidePart) -> Label,
    ) {
        let out = [before.out, after.out];
        let runs = [before.run[1], after.run[0]];
        match self.fill {
            Fill::None => {}
            Fill::Even => {
                let wedge = Wedge {
                    run: [0.0, runs[0]],
                    rise: [0.0, rise],
                    reach: runs[0],
                };
                let mut facing = |out| label(SidePart::Corner(out));
                corner(patch, self.at, out, wedge, sides, &mut facing);
            }
            Fill::Hip(hip) => {
                for (far, edge) in self.far.into_iter().zip(at) {
                    patch.add(&[self.at, far, hip], label(SidePart::Edge(edge)));
                }
            }
            Fill::TwoHips([first, second], out) => {
                patch.add(&[self.at, self.far[0], first], label(SidePart::Edge(at[0])));
                patch.add(&[self.at, first, second], label(SidePart::Corner(out)));
                patch.add(
                    &[self.at, second, self.far[1]],
                    label(SidePart::Edge(at[1])),
                );
            }
            Fill::Fan(_) => {
                let mut facing = |out| label(SidePart::Corner(out));
                let is_round = matches!(self.fill, Fill::Fan(Corners::Round));
                let chord_m = is_round.then_some(sides.chord_m);
                fan(patch, self.at, out, runs, rise, chord_m, &mut facing);
            }
            Fill::Cheek(flat) => self.cheek(patch, [before, after], at, flat, rise, label),
            Fill::Cheeks => {
                for flat in 0..2 {
                    self.cheek(patch, [before, after], at, flat, rise, label);
                }
            }
        }
    }

    /// The upright end of a side along the ray it ends in; at a corner that turns outward the
    /// side goes on as far as the ray of the other.
    #[allow(clippy::too_many_arguments)] // as above
    fn cheek(
        &self,
        patch: &mut Patch,
        flanks: [&Flank; 2],
        at: [usize; 2],
        flat: usize,
        rise: f64,
        label: &mut dyn FnMut(SidePart) -> Label,
    ) {
        let [flank, other] = [flanks[flat], flanks[1 - flat]];
        let mut foot = self.far[flat];
        if cross(flanks[0].out, flanks[1].out) > 0.0 {
            // In the plane of the flat side, along the ray of the other.
            let end = 1 - flat;
            let run = flank.run[end];
            let z = flank.height(end, rise, other.out.map(|o| o * run));
            foot = offset(self.at, other.out, run, z);
            patch.add(
                &[self.at, self.far[flat], foot],
                label(SidePart::Edge(at[flat])),
            );
        }
        // It leans over the other side.
        let away = match flat {
            0 => other.along,
            _ => other.along.map(|d| -d),
        };
        let label = label(SidePart::Cheek(at[flat]));
        let lean = rise.abs() * FACE_RUN_PER_RISE;
        strip(patch, self.at, foot, away, lean, rise, label);
    }
}

/// Gives up hips that lean so far over a side that they would cross on it: there a facet goes
/// over from one side to the other.
fn drop_crossing(joints: &mut [Option<Joint>], flanks: &[Flank], rise: f64, is_closed: bool) {
    let count = flanks.len();
    loop {
        let crossing = (0..count).find_map(|k| {
            let after = if k + 1 < count { k + 1 } else { 0 };
            let ends = match (is_closed || after > 0, &joints[after]) {
                (true, Some(joint)) => joint.far[0].p,
                _ => flanks[k].b.p,
            };
            let starts = joints[k].as_ref().map_or(flanks[k].a.p, |j| j.far[1].p);
            let is_crossing = dot(flanks[k].along, ends.relative_m(starts)) <= 0.0;
            let is_hip = |j: &usize| {
                matches!(
                    &joints[*j],
                    Some(Joint {
                        fill: Fill::Hip(_),
                        ..
                    })
                )
            };
            is_crossing
                .then(|| [k, after].into_iter().find(is_hip))
                .flatten()
        });
        let Some(k) = crossing else {
            return;
        };
        let before = if k == 0 { count - 1 } else { k - 1 };
        if let Some(joint) = &mut joints[k] {
            joint.far = [flanks[before].far(1, rise), flanks[k].far(0, rise)];
            joint.fill = Fill::Fan(Corners::Mitre);
        }
    }
}

/// Corners that turn by less than this (the sine of the angle, about 14 degrees) take up no
/// difference in slope: a hip there would run more than four times as far as its sides.
const SHALLOW: f64 = 0.25;

/// Far end of the line in which two sides meet; `None` if they do not outside of both edges, or
/// only far away.
fn meeting(at: P3, before: &Flank, after: &Flank, rise: f64) -> Option<P3> {
    let planes = [before.slope(1, rise), after.slope(0, rise)];
    let outs = [before.out, after.out];
    let runs = [before.run[1], after.run[0]];
    meeting_of(at, planes, outs, runs, rise)
}

fn meeting_of(
    at: P3,
    planes: [[f64; 2]; 2],
    outs: [[f64; 2]; 2],
    runs: [f64; 2],
    rise: f64,
) -> Option<P3> {
    let apart = [planes[0][0] - planes[1][0], planes[0][1] - planes[1][1]];
    let mut along = right_of(apart);
    if dot(along, outs[0]) + dot(along, outs[1]) < 0.0 {
        along = along.map(|a| -a);
    }
    let is_outside = outs.iter().all(|&out| dot(along, out) > 0.0);
    let climb = dot(planes[0], along) * rise.signum();
    let length = along[0].hypot(along[1]);
    let reach = length * rise.abs() / climb;
    if !is_outside || climb <= 0.0 || is_long(reach, runs[0].max(runs[1])) {
        return None;
    }
    Some(offset(at, along.map(|a| a / length), reach, rise))
}

/// Where a corner is so sharp that its planes meet far away: cut off by a plane between them, of
/// the slope between theirs.
fn two_hips(at: P3, before: &Flank, after: &Flank, rise: f64) -> Option<Fill> {
    let half = middle(before.out, after.out);
    let run = (before.run[1] + after.run[0]) / 2.0;
    let plane = half.map(|h| h * rise / run);
    let first = meeting_of(
        at,
        [before.slope(1, rise), plane],
        [before.out, half],
        [before.run[1], run],
        rise,
    )?;
    let second = meeting_of(
        at,
        [plane, after.slope(0, rise)],
        [half, after.out],
        [run, after.run[0]],
        rise,
    )?;
    // A hip that leans over one of the sides would need that side cut.
    let lean = |along: [f64; 2], hip: P3| dot(along, hip.p.relative_m(at.p));
    (lean(before.along, first) >= 0.0 && lean(after.along, second) <= 0.0)
        .then_some(Fill::TwoHips([first, second], half))
}

/// Ends of the two sides at a hip: at right angles to the edge, or at the hip where that leans
/// over the side.
fn trimmed(at: P3, before: &Flank, after: &Flank, plain: [P3; 2], hip: P3) -> [P3; 2] {
    let way = hip.p.relative_m(at.p);
    [
        if dot(before.along, way) < 0.0 {
            hip
        } else {
            plain[0]
        },
        if dot(after.along, way) > 0.0 {
            hip
        } else {
            plain[1]
        },
    ]
}
