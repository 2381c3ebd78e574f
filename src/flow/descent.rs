//! The steepest way down from a vertex and over a side of a facet: the one rule that paths and
//! catchments share.

use crate::surface::Surface;

use super::tin::{Tin, cross};

/// Where water goes from a vertex.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Next {
    /// Through a facet and out over its side opposite, at a share of the way from the first end.
    Through { facet: u32, side: usize, at: f64 },
    /// Along an edge to a lower vertex.
    Along(u32),
    /// Nowhere: a pit.
    Stands,
    /// Over the rim.
    Off,
}

/// Where water goes that reaches a side of a facet from inside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Over {
    /// Over the rim.
    Rim,
    /// Into the facet beyond, over that side of it.
    Into(u32, usize),
    /// Along the edge or over level ground to a vertex.
    To(u32),
}

impl Tin {
    /// The steepest way down from a vertex; of two alike the one found first in the order of
    /// facets.
    pub(super) fn from_vertex(&self, v: u32) -> Next {
        let mut best: Option<(f64, Next)> = None;
        let mut is_lower = false;
        let mut is_rim = false;
        let mut take = |steep: f64, next: Next| {
            if best.is_none_or(|(most, _)| steep > most) {
                best = Some((steep, next));
            }
        };
        for &f in self.fan(v) {
            let k = self.corner_of(f, v);
            let t = self.corners[f as usize];
            let across = self.across[f as usize];
            let (b, c) = (t[(k + 1) % 3], t[(k + 2) % 3]);
            let (to_b, to_c) = (self.from_to(v, b), self.from_to(v, c));
            let down = self.downhill[f as usize];
            // The side to `c` is seen from the facet beyond, but at the rim.
            for (w, way, side) in [(b, to_b, k), (c, to_c, (k + 2) % 3)] {
                let off = across[side] == Surface::NONE;
                is_rim |= off;
                if !self.is_below(w, v) {
                    continue;
                }
                is_lower = true;
                let steep = (self.z(v) - self.z(w)) / way[0].hypot(way[1]);
                // Along the rim of a facet that runs out over it nothing is held.
                match off && self.out(f, side) == 1 {
                    true => take(steep, Next::Off),
                    false => take(steep, Next::Along(w)),
                }
            }
            if cross(to_b, down) > 0.0 && cross(down, to_c) > 0.0 {
                // Shares of the side opposite by how far its ends lie beside the fall.
                let (right, left) = (cross(down, to_b), cross(down, to_c));
                let next = Next::Through {
                    facet: f,
                    side: (k + 1) % 3,
                    at: (right / (right - left)).clamp(0.0, 1.0),
                };
                take(down[0].hypot(down[1]), next);
            }
        }
        match best {
            // A vertex below all round it is a pit, whatever a sliver beside it says.
            Some((_, next)) if is_lower => next,
            _ if is_rim => Next::Off,
            _ => Next::Stands,
        }
    }

    /// What becomes of water that reaches a side of a facet from inside.
    pub(super) fn over(&self, f: u32, side: usize) -> Over {
        let Some((g, k)) = self.beyond(f, side) else {
            return Over::Rim;
        };
        if self.is_level(g) {
            return Over::To(self.lowest(g));
        }
        if self.out(g, k) == -1 {
            return Over::Into(g, k);
        }
        let t = self.corners[g as usize];
        let (a, b) = (t[k], t[(k + 1) % 3]);
        Over::To(if self.is_below(a, b) { a } else { b })
    }

    /// Sides a facet sheds its water over, in the order of growing distance to the left of its
    /// fall.
    pub(super) fn outlets(&self, f: u32) -> [Option<usize>; 2] {
        let out = [0, 1, 2].map(|k| self.out(f, k) == 1);
        let first = (0..3).find(|&k| out[k] && !out[(k + 2) % 3]);
        let second = first.map(|k| (k + 1) % 3).filter(|&k| out[k]);
        [first, second]
    }

    /// How far a corner of a facet lies to the left of its fall, counted from corner 0, times the
    /// steepness.
    pub(super) fn beside(&self, f: u32) -> [f64; 3] {
        let t = self.corners[f as usize];
        let down = self.downhill[f as usize];
        [0, 1, 2].map(|k| cross(down, self.from_to(t[0], t[k])))
    }
}
