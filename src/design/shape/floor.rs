//! A level floor (or crest) inside an outline, with sides all round.

use crate::geom::{P3, Point, Ring, triangulate_rings};
use crate::surface::{Label, Patch};

use super::corner::{Wedge, corner};
use super::sides::{Facing, Sides, skewed};
use super::vector::{cross, direction, is_straight, right_of};

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
