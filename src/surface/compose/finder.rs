//! Finds what holds the centre of a triangle, exactly, and how uncertain heights are beside it.

use crate::geom::{Point, orient, orient_sign};
use crate::surface::grid::Span;
use crate::surface::height_tolerance_m;
use crate::surface::plane::Plane;
use crate::units::NM_PER_M;

use super::Winner;
use super::boxes::Boxes;
use super::pair::{NARROWEST_M, WORTHWHILE};
use super::region::Region;

/// Triangles thinner than this many units are decided by their neighbours: the centre of one may
/// lie in a crack between two pieces whose corners were rounded apart.
pub(super) const THIN_UNITS: f64 = 2.0;

/// Finds what holds the centre of a triangle.
pub(super) struct Finder<'a> {
    pub(super) region: &'a Region<'a>,
    pub(super) facets: Boxes,
    pub(super) pieces: Boxes,
}

/// Places that are left as they are.
pub(super) struct Alone<'a> {
    triangles: &'a [[Point; 3]],
    boxes: Boxes,
}

impl<'a> Alone<'a> {
    pub(super) fn new(triangles: &'a [[Point; 3]]) -> Alone<'a> {
        let spans: Vec<Span> = triangles.iter().map(|&t| Span::triangle(t)).collect();
        Alone {
            triangles,
            boxes: Boxes::new(&spans),
        }
    }

    fn holds(&self, centre: &Centre) -> bool {
        let mut inside = false;
        self.boxes.near(&centre.span(), |i| {
            inside |= centre.is_in(self.triangles[i as usize]);
        });
        inside
    }
}

impl<'a> Finder<'a> {
    pub(super) fn new(region: &'a Region<'a>) -> Finder<'a> {
        let (surface, patch) = (region.surface, region.patch);
        let plan = |i: u32| patch.pieces[i as usize].corners.map(|c| c.p);
        let facets = region.facets.iter();
        let pieces = region.pieces().iter();
        let facets: Vec<Span> = facets.map(|&f| Span::triangle(surface.plan(f))).collect();
        let pieces: Vec<Span> = pieces.map(|&i| Span::triangle(plan(i))).collect();
        Finder {
            region,
            facets: Boxes::new(&facets),
            pieces: Boxes::new(&pieces),
        }
    }

    /// True if what a sheet wins on a triangle is a reason to change the surface.
    pub(super) fn is_worthwhile(&self, triangle: [Point; 3], sheet: u32) -> bool {
        let Some(facet) = self.ground(&Centre::of(triangle)) else {
            return false;
        };
        let under = &self.region.surface.source(facet).plane;
        let over = &self.region.patch.sheets[sheet as usize].plane;
        let least = WORTHWHILE * height_tolerance_m(under.steepness() + over.steepness());
        let gain = |p: Point| self.region.sign * (under.z_at(p) - over.z_at(p));
        !is_thinner(triangle, NARROWEST_M * NM_PER_M) && triangle.iter().any(|&p| gain(p) > least)
    }

    /// The plane of the surface under the centre of a triangle.
    pub(super) fn ground_source(&self, triangle: [Point; 3]) -> Option<u32> {
        let facet = self.ground(&Centre::of(triangle))?;
        Some(self.region.surface.facets[facet as usize].source.id())
    }

    /// The facet that holds a centre; the lowest id on an edge.
    pub(super) fn ground(&self, centre: &Centre) -> Option<u32> {
        let surface = self.region.surface;
        let mut ground: Option<u32> = None;
        self.facets.near(&centre.span(), |i| {
            let f = self.region.facets[i as usize];
            if centre.is_in(surface.plan(f)) {
                ground = Some(ground.map_or(f, |g| g.min(f)));
            }
        });
        ground
    }

    /// What holds the centre of a triangle; `None` off the region, and where the surface is to be
    /// left alone the surface.
    pub(super) fn find(&self, triangle: [Point; 3], alone: &Alone) -> Option<Found> {
        let centre = Centre::of(triangle);
        let span = centre.span();
        let surface = self.region.surface;
        let ground = self.ground(&centre)?;
        let source = surface.facets[ground as usize].source.id();
        let under = &surface.source(ground).plane;
        let under_z = centre.z(under);
        let gains =
            |plane: &Plane| triangle.map(|p| self.region.sign * (under.z_at(p) - plane.z_at(p)));
        let mut best: Option<Candidate> = None;
        self.pieces.near(&span, |i| {
            let piece = &self.region.patch.pieces[self.region.pieces()[i as usize] as usize];
            if !centre.is_in(piece.corners.map(|c| c.p)) {
                return;
            }
            let plane = &self.region.patch.sheets[piece.sheet as usize].plane;
            let candidate = Candidate {
                gain: self.region.sign * (under_z - centre.z(plane)),
                at_corners: gains(plane),
                steepness: plane.steepness(),
                sheet: piece.sheet,
            };
            if best.is_none_or(|best| candidate.is_better_than(&best)) {
                best = Some(candidate);
            }
        });
        let ground = Winner::Ground(source);
        let Some(best) = best else {
            return Some(Found {
                winner: ground,
                level_with: None,
            });
        };
        let slack = height_tolerance_m(best.steepness + under.steepness());
        // The centre is exact, so the flatter of the two says how much is rounding. A step up a
        // steep face is then a step, however low. Where two planes meet at a small angle, a
        // triangle that is level with the surface at its centre may gain more at a corner.
        let flat = height_tolerance_m(best.steepness.min(under.steepness()));
        let most = best.at_corners.into_iter().fold(best.gain, f64::max);
        let is_winner = best.gain > 0.0 && most > flat && !alone.holds(&centre);
        Some(Found {
            winner: if is_winner {
                Winner::Sheet(best.sheet)
            } else {
                ground
            },
            level_with: (best.gain >= -slack).then_some(best.sheet),
        })
    }
}

/// A sheet over a triangle.
#[derive(Clone, Copy)]
struct Candidate {
    /// By how much it wins over the surface at the centre, metres.
    gain: f64,
    at_corners: [f64; 3],
    steepness: f64,
    sheet: u32,
}

impl Candidate {
    /// The one that wins by more; the lower number of two that lie level all over the triangle.
    fn is_better_than(&self, best: &Candidate) -> bool {
        let slack = height_tolerance_m(self.steepness.min(best.steepness));
        let pairs = self.at_corners.iter().zip(best.at_corners);
        let is_level = (self.gain - best.gain).abs() <= slack
            && pairs
                .into_iter()
                .all(|(own, other)| (own - other).abs() <= slack);
        if is_level {
            self.sheet < best.sheet
        } else {
            self.gain > best.gain
        }
    }
}

/// What was found at the centre of a triangle.
#[derive(Clone, Copy, Debug)]
pub(super) struct Found {
    pub(super) winner: Winner,
    /// The piece that lies there at or beyond the surface.
    pub(super) level_with: Option<u32>,
}

/// The centre of a triangle, held three times as large so that it is exact.
pub(in crate::surface) struct Centre {
    pub(in crate::surface) x3: i64,
    pub(in crate::surface) y3: i64,
}

impl Centre {
    pub(in crate::surface) fn of(t: [Point; 3]) -> Centre {
        Centre {
            x3: t[0].x + t[1].x + t[2].x,
            y3: t[0].y + t[1].y + t[2].y,
        }
    }

    pub(in crate::surface) fn span(&self) -> Span {
        let low = Point::new(self.x3.div_euclid(3), self.y3.div_euclid(3));
        Span {
            low,
            high: Point::new(low.x + 1, low.y + 1),
        }
    }

    pub(in crate::surface) fn is_in(&self, t: [Point; 3]) -> bool {
        let t3 = t.map(|p| Point::new(3 * p.x, 3 * p.y));
        let c = Point::new(self.x3, self.y3);
        orient_sign(t3[0], t3[1], c) >= 0
            && orient_sign(t3[1], t3[2], c) >= 0
            && orient_sign(t3[2], t3[0], c) >= 0
    }

    pub(in crate::surface) fn z(&self, plane: &Plane) -> f64 {
        let from = plane.through.p;
        let x = (self.x3 - 3 * from.x) as f64 / 3.0e9;
        let y = (self.y3 - 3 * from.y) as f64 / 3.0e9;
        plane.through.z + (plane.slope[0] * x + plane.slope[1] * y)
    }
}

/// The longest side of a triangle, and its length in lattice units.
fn longest_side(p: [Point; 3]) -> (usize, f64) {
    let lengths = [0, 1, 2].map(|k| {
        let (a, b) = (p[k], p[(k + 1) % 3]);
        ((b.x - a.x) as f64).hypot((b.y - a.y) as f64)
    });
    let longest = if lengths[0] >= lengths[1] && lengths[0] >= lengths[2] {
        0
    } else if lengths[1] >= lengths[2] {
        1
    } else {
        2
    };
    (longest, lengths[longest])
}

/// True if a triangle is no thicker than so many lattice units.
pub(super) fn is_thinner(p: [Point; 3], units: f64) -> bool {
    orient(p[0], p[1], p[2]) as f64 <= units * longest_side(p).1
}

/// The longest side of a triangle that is thinner than [`THIN_UNITS`].
pub(super) fn thin_side(p: [Point; 3]) -> Option<usize> {
    is_thinner(p, THIN_UNITS).then(|| longest_side(p).0)
}
