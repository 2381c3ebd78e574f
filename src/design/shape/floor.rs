//! A floor (or crest) inside an outline, with sides all round.

use crate::geom::{P3, Ring, orient, triangulate_rings};
use crate::surface::{Label, Patch, Plane};

use super::rim::{SidePart, sides_along};
use super::sides::{Facing, Sides};
use super::vector::{direction, right_of};

/// A flat floor (or crest) with even sides all round.
///
/// # Input
///
/// `z_m` the level of the floor
pub fn floor_with_sides(ring: &Ring, z_m: f64, floor: Label, sides: &Sides, side: Facing) -> Patch {
    let corners = ring.corners();
    let n = corners.len();
    let line: Vec<P3> = corners.iter().map(|&p| P3 { p, z: z_m }).collect();
    let mut patch = Patch::new();
    floor_within(&mut patch, ring, &line, floor);
    let mut label = |part| match part {
        SidePart::Corner(out) => side(out),
        // Sides of one slope have no cheeks.
        SidePart::Edge(edge) | SidePart::Cheek(edge) => side(outward(ring, edge)),
    };
    let runs = vec![[sides.run_per_rise; 2]; n];
    sides_along(&mut patch, &line, true, &runs, sides, &mut label);
    patch
}

/// Direction away from the inside of a ring at one of its edges.
pub(crate) fn outward(ring: &Ring, edge: usize) -> [f64; 2] {
    let corners = ring.corners();
    right_of(direction(
        corners[edge],
        corners[(edge + 1) % corners.len()],
    ))
}

/// Heights that differ from a plane by less than this lie in it, metres: rounding.
const FLAT_M: f64 = 1.0e-9;

/// Adds a floor inside a ring whose corners have levels: one plane if they lie in one, else
/// triangles.
pub fn floor_within(patch: &mut Patch, ring: &Ring, line: &[P3], floor: Label) {
    let triangles = floor_triangles(std::slice::from_ref(ring), line);
    if is_flat(line) {
        patch.add_flat(&triangles, floor);
    } else {
        for triangle in &triangles {
            patch.add_flat(std::slice::from_ref(triangle), floor);
        }
    }
}

/// Triangles between rings (the second a hole in the first) whose corners have levels.
pub(crate) fn floor_triangles(rings: &[Ring], corners: &[P3]) -> Vec<[P3; 3]> {
    let at = |p| {
        let known = corners.iter().find(|c| c.p == p);
        *known.unwrap_or(&P3 { p, z: corners[0].z })
    };
    triangulate_rings(rings)
        .unwrap_or_default()
        .into_iter()
        .map(|t| t.map(at))
        .collect()
}

/// True if all points lie in the plane of the two corners farthest from the first and from each
/// other.
fn is_flat(line: &[P3]) -> bool {
    let Some(first) = line.first() else {
        return true;
    };
    let area = |a: &P3, b: &P3| orient(first.p, a.p, b.p).unsigned_abs();
    let Some(second) = line.iter().max_by_key(|c| {
        let [x, y] = [c.p.x - first.p.x, c.p.y - first.p.y].map(i128::from);
        x * x + y * y
    }) else {
        return true;
    };
    let Some(third) = line.iter().max_by_key(|c| area(second, c)) else {
        return true;
    };
    if area(second, third) == 0 {
        return false;
    }
    let plane = Plane::through(*first, *second, *third);
    line.iter().all(|c| (plane.z_at(c.p) - c.z).abs() <= FLAT_M)
}
