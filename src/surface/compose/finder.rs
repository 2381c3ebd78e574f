//! Finds what holds the centre of a triangle, exactly, and how uncertain heights are beside it.

use crate::geom::{Point, orient, orient_sign};
use crate::surface::grid::{Grid, Span};
use crate::surface::height_tolerance_m;
use crate::surface::plane::Plane;

use super::Winner;
use super::region::Region;

/// Triangles thinner than this many units are decided by their neighbours: the centre of one may
/// lie in a crack between two pieces whose corners were rounded apart.
pub(super) const THIN_UNITS: f64 = 2.0;

/// Finds what holds the centre of a triangle.
pub(super) struct Finder<'a> {
    pub(super) region: &'a Region<'a>,
    pub(super) facets: Vec<u32>,
    pub(super) facet_spans: Vec<Span>,
    pub(super) facet_grid: Grid,
    pub(super) piece_spans: Vec<Span>,
    pub(super) piece_grid: Grid,
    /// Places that are left as they are.
    alone: &'a [[Point; 3]],
    alone_grid: Grid,
}

impl<'a> Finder<'a> {
    pub(super) fn new(region: &'a Region<'a>, alone: &'a [[Point; 3]]) -> Finder<'a> {
        let alone_spans: Vec<Span> = alone.iter().map(|&t| Span::triangle(t)).collect();
        let facets: Vec<u32> = region.facets.iter().copied().collect();
        let facet_spans: Vec<Span> = facets
            .iter()
            .map(|&f| Span::triangle(region.surface.plan(f)))
            .collect();
        let piece_spans: Vec<Span> = region
            .pieces
            .iter()
            .map(|&i| Span::triangle(region.patch.pieces[i as usize].corners.map(|c| c.p)))
            .collect();
        Finder {
            region,
            facet_grid: Grid::new(&facet_spans),
            piece_grid: Grid::new(&piece_spans),
            facets,
            facet_spans,
            piece_spans,
            alone,
            alone_grid: Grid::new(&alone_spans),
        }
    }

    /// True if a sheet wins at a corner of a triangle by more than the steepest face lets heights
    /// be uncertain.
    pub(super) fn is_real_gain(&self, triangle: [Point; 3], sheet: u32) -> bool {
        let Some(ground) = self.ground(&Centre::of(triangle)) else {
            return true;
        };
        let under = &self.region.surface.source(ground).plane;
        let over = &self.region.patch.sheets[sheet as usize].plane;
        triangle.iter().any(|&p| {
            let gain = self.region.sign * (under.z_at(p) - over.z_at(p));
            gain > height_tolerance_m(
                over.steepness() + under.steepness().max(self.region.steepest),
            )
        })
    }

    /// The plane of the surface under the centre of a triangle.
    pub(super) fn ground_source(&self, triangle: [Point; 3]) -> Option<u32> {
        let facet = self.ground(&Centre::of(triangle))?;
        Some(self.region.surface.facets[facet as usize].source)
    }

    /// The facet that holds a centre; the lowest id on an edge.
    pub(super) fn ground(&self, centre: &Centre) -> Option<u32> {
        let surface = self.region.surface;
        let mut ground: Option<u32> = None;
        self.facet_grid.near(
            &centre.span(),
            |i| Some(self.facet_spans[i as usize]),
            |i| {
                let f = self.facets[i as usize];
                if centre.is_in(surface.plan(f)) {
                    ground = Some(ground.map_or(f, |g| g.min(f)));
                }
            },
        );
        ground
    }

    /// What holds the centre of a triangle; `None` off the region, and where the surface is to be
    /// left alone the surface.
    pub(super) fn find(&self, triangle: [Point; 3]) -> Option<Found> {
        let centre = Centre::of(triangle);
        let span = centre.span();
        let surface = self.region.surface;
        let ground = self.ground(&centre)?;
        let source = surface.facets[ground as usize].source;
        let under = &surface.sources[source as usize].plane;
        let under_z = centre.z(under);
        let mut best: Option<(f64, f64, u32)> = None;
        self.piece_grid.near(
            &span,
            |i| Some(self.piece_spans[i as usize]),
            |i| {
                let piece = &self.region.patch.pieces[self.region.pieces[i as usize] as usize];
                if !centre.is_in(piece.corners.map(|c| c.p)) {
                    return;
                }
                let plane = &self.region.patch.sheets[piece.sheet as usize].plane;
                let gain = self.region.sign * (under_z - centre.z(plane));
                let steepness = plane.steepness();
                let better = best.is_none_or(|(best_gain, best_steepness, sheet)| {
                    let slack = height_tolerance_m(steepness.min(best_steepness));
                    gain > best_gain + slack || (gain >= best_gain - slack && piece.sheet < sheet)
                });
                if better {
                    best = Some((gain, steepness, piece.sheet));
                }
            },
        );
        let ground = Winner::Ground(source);
        let Some((gain, steepness, sheet)) = best else {
            return Some(Found {
                winner: ground,
                level_with: None,
            });
        };
        let slack = height_tolerance_m(steepness + under.steepness());
        // The centre is exact, so the flatter of the two says how much is rounding. A step up a
        // steep face is then a step, however low.
        let flat = height_tolerance_m(steepness.min(under.steepness()));
        let is_winner = gain > flat && !self.is_left_alone(&centre);
        Some(Found {
            winner: if is_winner {
                Winner::Sheet(sheet)
            } else {
                ground
            },
            level_with: (gain >= -slack).then_some(sheet),
        })
    }

    fn is_left_alone(&self, centre: &Centre) -> bool {
        let mut inside = false;
        self.alone_grid.near(
            &centre.span(),
            |i| Some(Span::triangle(self.alone[i as usize])),
            |i| inside |= centre.is_in(self.alone[i as usize]),
        );
        inside
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

/// The longest side of a triangle that is thinner than [`THIN_UNITS`].
pub(super) fn thin_side(p: [Point; 3]) -> Option<usize> {
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
    (orient(p[0], p[1], p[2]) as f64 <= THIN_UNITS * lengths[longest]).then_some(longest)
}
