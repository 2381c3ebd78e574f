//! Upright faces along a border.

use std::collections::BTreeMap;

use crate::geom::{P3, Point, Ring};
use crate::surface::{BorderEdge, Label, Patch};

use super::corner::{Wedge, corner};
use super::sides::{Corners, FACE_RUN_PER_RISE, Sides, strip};
use super::vector::{cross, direction, is_straight, offset, right_of};

/// Faces that leave the border of a part outward and rise (or, negative, fall) by `rise_m`.
///
/// Faces of one side of the ring are parallel to it however it is broken; between sides that
/// turn outward stands a mitred wedge.
pub(crate) fn upright_round(
    patch: &mut Patch,
    ring: &Ring,
    border: &[BorderEdge],
    rise_m: f64,
    label: Label,
) {
    let run = rise_m.abs() * FACE_RUN_PER_RISE;
    let corners = ring.corners();
    let n = corners.len();
    let out: Vec<[f64; 2]> = (0..n)
        .map(|k| right_of(direction(corners[k], corners[(k + 1) % n])))
        .collect();
    for edge in border {
        let [a, b] = edge.ends;
        strip(patch, a, b, out[edge.side], run, rise_m, label);
    }
    let sides = Sides {
        rule: crate::surface::Rule::Lower,
        run_per_rise: FACE_RUN_PER_RISE,
        limit_z_m: 0.0,
        corners: Corners::Mitre,
        chord_m: 1.0,
    };
    let all = Wedge {
        run: [0.0, run],
        rise: [0.0, rise_m],
        reach: run,
    };
    for k in 0..n {
        let before = (k + n - 1) % n;
        let at = border
            .iter()
            .filter(|e| e.side == k || e.side == before)
            .flat_map(|e| e.ends)
            .find(|c: &P3| c.p == corners[k]);
        let Some(at) = at else { continue };
        let pair = [out[before], out[k]];
        if cross(pair[0], pair[1]) > 0.0 && !is_straight(pair[0], pair[1], run) {
            corner(patch, at, pair, all, &sides, &mut |_| label);
        }
    }
}

/// Run of a face let into a shape, for each unit of its rise: half that of the faces of the shape,
/// so that it comes out of one that stands right behind it.
const LET_IN_RUN_PER_RISE: f64 = FACE_RUN_PER_RISE / 2.0;

/// Faces let into a shape to a depth: they leave edges to the right and come out of whatever
/// stands behind; where two edges turn outward the wedge between their faces is closed.
pub(crate) fn let_in(patch: &mut Patch, edges: &[(P3, P3, Label)], depth_m: f64) {
    // A face behind that starts `depth_m` higher and leans twice as much is met at twice that.
    let rise_m = 2.0 * depth_m + 0.01;
    let run = rise_m * LET_IN_RUN_PER_RISE;
    let out = |a: P3, b: P3| right_of(direction(a.p, b.p));
    // Outlines of pieces that overlap may share a corner: any edge may go on in any other there.
    let mut onward: BTreeMap<Point, Vec<P3>> = BTreeMap::new();
    for &(a, b, _) in edges {
        onward.entry(a.p).or_default().push(b);
    }
    for &(a, b, label) in edges {
        strip(patch, a, b, out(a, b), run, rise_m, label);
        for &next in onward.get(&b.p).into_iter().flatten() {
            let pair = [out(a, b), out(b, next)];
            if cross(pair[0], pair[1]) > 0.0 && !is_straight(pair[0], pair[1], run) {
                let [one, two] = pair.map(|out| offset(b, out, run, rise_m));
                let [[ux, uy], [vx, vy]] = pair;
                if ux * vx + uy * vy >= 0.0 {
                    patch.add(&[b, one, two], label);
                } else {
                    // Turned by more than a right angle one facet would be far steeper than the
                    // faces: two, met half way.
                    let (x, y) = (vy - uy, ux - vx);
                    let middle = [x / x.hypot(y), y / x.hypot(y)];
                    let middle = offset(b, middle, run, rise_m);
                    patch.add(&[b, one, middle], label);
                    patch.add(&[b, middle, two], label);
                }
            }
        }
    }
}
