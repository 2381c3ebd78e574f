//! A patch: flat pieces to be laid on a surface.
//!
//! Pieces may overlap: where several cover a place, the lowest counts when lowering and the
//! highest when raising. A bend folding over itself or a corner turning inward is therefore
//! just pieces that overlap.

use std::collections::BTreeSet;

use crate::geom::{P3, Point, orient};

use super::plane::{Label, Plane, Source};

/// A triangle of a patch.
#[derive(Clone, Copy, Debug)]
pub(super) struct Piece {
    pub(super) corners: [P3; 3],
    pub(super) sheet: u32,
}

/// Flat pieces with labels.
#[derive(Clone, Debug, Default)]
pub struct Patch {
    pub(super) pieces: Vec<Piece>,
    pub(super) sheets: Vec<Source>,
    /// Labels that everything else must hang together with; none: no such demand.
    pub(super) anchors: BTreeSet<Label>,
}

/// Pieces narrower than this many lattice units are left out: nothing is lost that a volume
/// could show, and a crack of that width is closed by its neighbours (`compose::finder`).
const THINNEST_UNITS: f64 = 2.0;

impl Patch {
    /// An empty patch.
    pub fn new() -> Patch {
        Patch::default()
    }

    /// True if nothing is to be laid.
    pub fn is_empty(&self) -> bool {
        self.pieces.is_empty()
    }

    /// The pieces as triangles with their labels.
    pub fn triangles(&self) -> impl Iterator<Item = ([P3; 3], Label)> + '_ {
        self.pieces
            .iter()
            .map(|p| (p.corners, self.sheets[p.sheet as usize].label))
    }

    /// Makes a label an anchor: only what hangs together with a piece of an anchor is laid. So the
    /// side of a pit ends where it first meets the ground, and does not cut a hill behind.
    pub fn anchor(&mut self, label: Label) {
        self.anchors.insert(label);
    }

    /// A corner and the steepness of a piece that is steeper than this, or whose slope is no
    /// number.
    pub(super) fn steeper_than(&self, steepest: f64) -> Option<(Point, f64)> {
        self.pieces.iter().find_map(|piece| {
            let steepness = self.sheets[piece.sheet as usize].plane.steepness();
            let is_steeper = steepness.is_nan() || steepness > steepest;
            is_steeper.then_some((piece.corners[0].p, steepness))
        })
    }

    /// The patch moved in plan by whole lattice units.
    pub(super) fn moved(&self, by: Point) -> Patch {
        let mut moved = self.clone();
        let corners = moved.pieces.iter_mut().flat_map(|p| &mut p.corners);
        let planes = moved.sheets.iter_mut().map(|s| &mut s.plane.through);
        for p3 in corners.chain(planes) {
            p3.p = Point::new(p3.p.x + by.x, p3.p.y + by.y);
        }
        moved
    }

    /// Adds another patch's pieces.
    pub fn append(&mut self, other: &Patch) {
        self.anchors.extend(&other.anchors);
        let shift = self.sheets.len() as u32;
        self.sheets.extend(&other.sheets);
        self.pieces.extend(other.pieces.iter().map(|p| Piece {
            sheet: p.sheet + shift,
            ..*p
        }));
    }

    /// Adds a flat convex polygon.
    ///
    /// # Input
    ///
    /// corners in order, either way round; fewer than three different ones add nothing
    pub fn add(&mut self, corners: &[P3], label: Label) {
        let mut ring: Vec<P3> = Vec::with_capacity(corners.len());
        for &corner in corners {
            if ring.iter().all(|c| c.p != corner.p) {
                ring.push(corner);
            }
        }
        let fan: Vec<[P3; 3]> = (2..ring.len())
            .map(|k| [ring[0], ring[k - 1], ring[k]])
            .collect();
        self.add_flat(&fan, label);
    }

    /// Adds triangles that all lie in one plane and do not overlap; the plane is taken through
    /// the largest.
    pub fn add_flat(&mut self, triangles: &[[P3; 3]], label: Label) {
        let mut largest: (i128, Option<[P3; 3]>) = (0, None);
        for &[a, b, c] in triangles {
            let area = orient(a.p, b.p, c.p);
            if area.abs() > largest.0 {
                let corners = if area < 0 { [a, c, b] } else { [a, b, c] };
                largest = (area.abs(), Some(corners));
            }
        }
        if let (_, Some([a, b, c])) = largest {
            self.add_in_plane(triangles, Plane::through(a, b, c), label);
        }
    }

    /// Adds triangles of a plane that is known better than their corners tell, such as parts of
    /// a facet. Those too thin to matter are left out.
    pub fn add_in_plane(&mut self, triangles: &[[P3; 3]], plane: Plane, label: Label) {
        let sheet = self.sheets.len() as u32;
        let before = self.pieces.len();
        for &[a, b, c] in triangles {
            let area = orient(a.p, b.p, c.p);
            let corners = if area < 0 { [a, c, b] } else { [a, b, c] };
            let longest = [(a, b), (b, c), (c, a)]
                .iter()
                .map(|(a, b)| ((b.p.x - a.p.x) as f64).hypot((b.p.y - a.p.y) as f64))
                .fold(0.0, f64::max);
            if area.unsigned_abs() as f64 > THINNEST_UNITS * longest {
                self.pieces.push(Piece { corners, sheet });
            }
        }
        if self.pieces.len() > before {
            self.sheets.push(Source { plane, label });
        }
    }

    /// The same patch higher by a length, metres; lower if it is negative.
    pub fn raised(&self, by_m: f64) -> Patch {
        let mut patch = self.clone();
        for piece in &mut patch.pieces {
            for corner in &mut piece.corners {
                corner.z += by_m;
            }
        }
        for sheet in &mut patch.sheets {
            sheet.plane.through.z += by_m;
        }
        patch
    }
}
