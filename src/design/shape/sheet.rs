//! A sheet of triangles that may fold over itself, made into a patch without an open edge.

use std::collections::BTreeMap;

use crate::geom::{P3, orient};
use crate::surface::{Label, Patch};

use super::sides::{FACE_RUN_PER_RISE, skewed};
use super::vector::{direction, left_of, right_of};

/// A sheet: corners shared by number, triangles counter-clockwise as long as it does not fold.
#[derive(Default)]
pub(super) struct Sheet {
    pub(super) corners: Vec<P3>,
    triangles: Vec<Triangle>,
    /// Pieces that go on beyond a fold, from the edge that is to be closed.
    tongues: Vec<([P3; 3], Label)>,
}

struct Triangle {
    corners: [u32; 3],
    label: Label,
}

/// Triangles thinner than this many lattice units have no side to tell a fold by.
const THINNEST_UNITS: f64 = 2.0;

impl Sheet {
    pub(super) fn corner(&mut self, corner: P3) -> u32 {
        self.corners.push(corner);
        self.corners.len() as u32 - 1
    }

    pub(super) fn triangle(&mut self, corners: [u32; 3], label: Label) {
        let [a, b, c] = corners;
        if a != b && b != c && c != a {
            self.triangles.push(Triangle { corners, label });
        }
    }

    /// Two triangles over a quadrangle, along the diagonal that lies lower (`up` 1, a dig) or
    /// higher (-1, a fill): what counts where pieces overlap, and the same in a mirror.
    pub(super) fn quadrangle(&mut self, q: [u32; 4], label: Label, up: f64) {
        let [a, b, c, d] = q;
        let at = q.map(|k| self.corners[k as usize]);
        // Where the diagonals cross, b d divides a c by the areas beside it.
        let beside_a = orient(at[0].p, at[1].p, at[3].p) as f64;
        let beside_c = orient(at[2].p, at[3].p, at[1].p) as f64;
        let beside_b = orient(at[1].p, at[2].p, at[0].p) as f64;
        let beside_d = orient(at[3].p, at[0].p, at[2].p) as f64;
        let between =
            |one: f64, z1: f64, other: f64, z2: f64| (z1 * other + z2 * one) / (one + other);
        let along_ac = between(beside_a, at[0].z, beside_c, at[2].z);
        let along_bd = between(beside_b, at[1].z, beside_d, at[3].z);
        if (along_ac - along_bd) * up <= 0.0 {
            self.triangle([a, b, c], label);
            self.triangle([a, c, d], label);
        } else {
            self.triangle([a, b, d], label);
            self.triangle([b, c, d], label);
        }
    }

    /// A piece beside the sheet: its edge from the first corner to the last ends in the air.
    pub(super) fn tongue(&mut self, corners: [P3; 3], label: Label) {
        self.tongues.push((corners, label));
    }

    /// -1, 0 or 1: folded over, too thin to tell, as it should lie.
    fn side(&self, triangle: &Triangle) -> i32 {
        let [a, b, c] = triangle.corners.map(|k| self.corners[k as usize].p);
        let area = orient(a, b, c);
        let longest = [(a, b), (b, c), (c, a)]
            .iter()
            .map(|(p, q)| ((q.x - p.x) as f64).hypot((q.y - p.y) as f64))
            .fold(0.0, f64::max);
        if area.unsigned_abs() as f64 <= THINNEST_UNITS * longest {
            0
        } else {
            area.signum() as i32
        }
    }

    /// The pieces, every fold closed by an upright face.
    ///
    /// Along a fold the sheet turns back on itself, and what lies beyond would end in the air.
    /// The lowest (highest) of sheet and faces is the envelope of the sheet.
    ///
    /// # Input
    ///
    /// `rise` height of the faces, with its sign
    pub(super) fn patch(&self, rise: f64) -> Patch {
        let mut patch = Patch::new();
        let sides: Vec<i32> = self.triangles.iter().map(|t| self.side(t)).collect();
        let mut edges: BTreeMap<[u32; 2], Vec<usize>> = BTreeMap::new();
        for (t, triangle) in self.triangles.iter().enumerate() {
            let corners = triangle.corners.map(|k| self.corners[k as usize]);
            patch.add(&corners, triangle.label);
            for k in 0..3 {
                let (a, b) = (triangle.corners[k], triangle.corners[(k + 1) % 3]);
                edges.entry([a.min(b), a.max(b)]).or_default().push(t);
            }
        }
        for ([a, b], beside) in edges {
            let [one, other] = beside[..] else { continue };
            if (sides[one] > 0) == (sides[other] > 0) {
                continue;
            }
            let triangle = &self.triangles[if sides[one] > 0 { one } else { other }];
            // Along the edge as its triangle goes round, outside is to the right.
            let k = triangle.corners.iter().position(|&c| c == a);
            let is_forward = k.is_some_and(|k| triangle.corners[(k + 1) % 3] == b);
            let (from, to) = if is_forward { (a, b) } else { (b, a) };
            let edge = [from, to].map(|k| self.corners[k as usize]);
            close(&mut patch, edge, rise, triangle.label);
        }
        for &(corners, label) in &self.tongues {
            patch.add(&corners, label);
            let [first, middle, last] = corners;
            let edge = if orient(first.p, middle.p, last.p) > 0 {
                [last, first]
            } else {
                [first, last]
            };
            close(&mut patch, edge, rise, label);
        }
        patch
    }
}

/// An upright face to the right of an edge and round its ends.
fn close(patch: &mut Patch, [from, to]: [P3; 2], rise: f64, label: Label) {
    if from.p == to.p {
        return;
    }
    let run = rise.abs() * FACE_RUN_PER_RISE;
    let ahead = direction(from.p, to.p);
    let out = right_of(ahead);
    skewed(patch, [from, to], [out, out], run, rise, label);
    let around = [out, ahead, left_of(ahead), ahead.map(|d| -d)];
    for end in [from, to] {
        for k in 0..4 {
            let pair = [around[k], around[(k + 1) % 4]];
            skewed(patch, [end, end], pair, run, rise, label);
        }
    }
}
