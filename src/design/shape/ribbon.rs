//! A bed (or crest) of even width along a line, with its sides and ends.

use crate::geom::P3;
use crate::surface::{Label, Patch};

use super::corner::{Wedge, corner};
use super::sides::{FACE_RUN_PER_RISE, Sides, skewed, strip};
use super::vector::{cross, direction, is_straight, left_of, offset, right_of};

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
