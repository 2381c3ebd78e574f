//! What a region is cut up into: points and segments, and triangles with their winners.

use crate::geom::{Noding, Point, PointMap, Segment, Triangulation};

use super::Winner;

/// An edge between the region and what lies around it.
#[derive(Clone, Copy)]
pub(super) struct Rim {
    pub(super) ends: [Point; 2],
    /// The facet behind it, or [`Surface::NONE`] at the rim of the surface.
    pub(super) behind: u32,
}

/// A noded and triangulated region; `None` for triangles outside it.
pub(super) struct Sorted {
    pub(super) noding: Noding,
    pub(super) triangulation: Triangulation,
    pub(super) winners: Vec<Option<Winner>>,
    /// The piece that lies at or beyond the surface there, by triangle.
    pub(super) level_with: Vec<Option<u32>>,
}

/// Points, each once, and segments between them.
#[derive(Default)]
pub(super) struct Arrangement {
    pub(super) points: Vec<Point>,
    pub(super) index: PointMap<u32>,
    pub(super) segments: Vec<Segment>,
    pub(super) rims: Vec<Rim>,
}

impl Arrangement {
    pub(super) fn point(&mut self, p: Point) -> u32 {
        let next = self.points.len() as u32;
        let index = *self.index.entry(p).or_insert(next);
        if index == next {
            self.points.push(p);
        }
        index
    }

    pub(super) fn add(&mut self, a: Point, b: Point) {
        self.add_marked(a, b, Segment::UNMARKED);
    }

    pub(super) fn add_marked(&mut self, a: Point, b: Point, mark: u32) {
        let (a, b) = (self.point(a), self.point(b));
        if a != b {
            self.segments.push(Segment { a, b, mark });
        }
    }

    pub(super) fn add_rim(&mut self, rim: Rim) {
        self.add_marked(rim.ends[0], rim.ends[1], self.rims.len() as u32);
        self.rims.push(rim);
    }
}
