//! Heights of new facets, held against their sources before anything is changed.
//!
//! At a few places of every new facet the lowest (or highest) of all that lies there is worked
//! out anew: from the facets that were there and the pieces of the patch, whatever the
//! triangulation made of them.

use crate::geom::Point;
use crate::surface::grid::Span;
use crate::surface::height_tolerance_m;
use crate::surface::plane::Plane;
use crate::units::NM_PER_M;

use super::ComposeError;
use super::arrangement::Sorted;
use super::finder::{Finder, THIN_UNITS, is_thinner};

/// How far aside in plan a height may have been taken, lattice units. Rounding and straightening
/// move a line by up to four, and lines that were there before have been moved already.
const ASIDE_UNITS: i64 = 6;

/// Heights that a place may have.
struct Range {
    low: f64,
    high: f64,
    steepest: f64,
}

impl Finder<'_> {
    /// Checks every new facet at its centre and near its corners.
    pub(super) fn check_heights(&self, sorted: &Sorted) -> Result<(), ComposeError> {
        let triangles = sorted.triangulation.triangles.iter();
        for (tri, winner) in triangles.zip(&sorted.winners) {
            let Some(winner) = *winner else { continue };
            let corners = tri.map(|v| sorted.noding.points[v as usize]);
            let plane = self.region.plane(winner);
            for weights in [[1, 1, 1], [8, 1, 1], [1, 8, 1], [1, 1, 8]] {
                let p = mix(corners, weights);
                let off_m = self.off_m(p, &plane, corners);
                if off_m > 0.0 {
                    return Err(ComposeError::WrongHeight { at: p, off_m });
                }
            }
        }
        Ok(())
    }

    /// By how much the height of a plane at a place lies beyond what may be there, metres.
    fn off_m(&self, p: Point, plane: &Plane, corners: [Point; 3]) -> f64 {
        let Some(range) = self.range(p) else {
            return 0.0;
        };
        let z = plane.z_at(p);
        let beyond = (range.low - z).max(z - range.high);
        let slack = height_tolerance_m(plane.steepness());
        if beyond <= slack {
            return 0.0;
        }
        // A crack where rounded lines meet has no height of its own.
        let is_thin = is_thinner(corners, THIN_UNITS);
        if is_thin && beyond <= height_tolerance_m(range.steepest) {
            return 0.0;
        }
        beyond - slack
    }

    /// Steepness of the steepest plane within [`ASIDE_UNITS`] of a place, that of pieces which win
    /// nowhere included: a low step up a near-vertical face is narrower than the lattice.
    pub(super) fn steepest_near(&self, p: Point) -> f64 {
        let patch = self.region.patch;
        let pieces = patch.pieces.iter();
        let pieces = pieces.filter(|q| place(q.corners.map(|c| c.p), p) != Place::Outside);
        let steepness = pieces.map(|q| patch.sheets[q.sheet as usize].plane.steepness());
        let own = self.range(p).map_or(0.0, |range| range.steepest);
        steepness.fold(own, f64::max)
    }

    /// The heights a place may have, taken up to [`ASIDE_UNITS`] aside; `None` off the surface.
    fn range(&self, p: Point) -> Option<Range> {
        let aside = ASIDE_UNITS as f64 / NM_PER_M;
        let (surface, patch) = (self.region.surface, self.region.patch);
        let span = Span {
            low: Point::new(p.x - ASIDE_UNITS, p.y - ASIDE_UNITS),
            high: Point::new(p.x + ASIDE_UNITS, p.y + ASIDE_UNITS),
        };
        let mut under: Option<Range> = None;
        self.facets.near(&span, |i| {
            let f = self.region.facets[i as usize];
            if place(surface.plan(f), p) == Place::Outside {
                return;
            }
            let plane = &surface.source(f).plane;
            let (z, slope) = (plane.z_at(p), plane.steepness());
            let (low, high) = (z - aside * slope, z + aside * slope);
            let range = under.get_or_insert(Range {
                low,
                high,
                steepest: slope,
            });
            range.low = range.low.min(low);
            range.high = range.high.max(high);
            range.steepest = range.steepest.max(slope);
        });
        let mut range = under?;
        let kept = (range.low, range.high);
        let is_lower = self.region.sign > 0.0;
        self.pieces.near(&span, |i| {
            let piece = &patch.pieces[self.region.pieces()[i as usize] as usize];
            let place = place(piece.corners.map(|c| c.p), p);
            if place == Place::Outside {
                return;
            }
            let plane = &patch.sheets[piece.sheet as usize].plane;
            let (z, slope) = (plane.z_at(p), plane.steepness());
            let (low, high) = (z - aside * slope, z + aside * slope);
            range.steepest = range.steepest.max(slope);
            let is_inside = place == Place::Inside;
            if is_lower {
                range.low = range.low.min(low);
                if is_inside {
                    range.high = range.high.min(high);
                }
            } else {
                range.high = range.high.max(high);
                if is_inside {
                    range.low = range.low.max(low);
                }
            }
        });
        // What does not hang together with an anchor is left as it was.
        if !patch.anchors.is_empty() {
            range.low = range.low.min(kept.0);
            range.high = range.high.max(kept.1);
        }
        Some(range)
    }
}

#[derive(PartialEq)]
enum Place {
    Inside,
    /// Within [`ASIDE_UNITS`] of a side.
    Beside,
    Outside,
}

fn place(corners: [Point; 3], p: Point) -> Place {
    let mut found = Place::Inside;
    for k in 0..3 {
        let (a, b) = (corners[k], corners[(k + 1) % 3]);
        let (dx, dy) = ((b.x - a.x) as f64, (b.y - a.y) as f64);
        let left = dx * (p.y - a.y) as f64 - dy * (p.x - a.x) as f64;
        let is_near = left * left <= ((ASIDE_UNITS * ASIDE_UNITS) as f64) * (dx * dx + dy * dy);
        if left < 0.0 && !is_near {
            return Place::Outside;
        }
        if is_near {
            found = Place::Beside;
        }
    }
    found
}

/// The place between the corners with these weights.
fn mix(corners: [Point; 3], weights: [i64; 3]) -> Point {
    let from = corners[0];
    let sum: i64 = weights.iter().sum();
    let of = |along: fn(Point) -> i64| {
        let parts = corners.iter().zip(weights);
        let moment: i64 = parts.map(|(&c, w)| (along(c) - along(from)) * w).sum();
        along(from) + (moment as f64 / sum as f64).round() as i64
    };
    Point::new(of(|p| p.x), of(|p| p.y))
}
