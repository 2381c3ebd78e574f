//! Exact volume between two surfaces, by clipping facets against facets.
//!
//! # Source
//!
//! the prism under a plane triangle is area times mean height; triangles crossed by
//! the zero line are split there (closed form; check values TIN-05 to TIN-07)

use std::collections::BTreeMap;
use std::ops::Range;

use crate::files::{Workers, collect};
use crate::geom::{P3, Point, orient};
use crate::units::NM_PER_M;

use super::clip::{Parts, Polygon};
use super::grid::{Block, Span};
use super::nearby::{Flat, Nearby};
use super::plane::{Label, Source};
use super::surface::Surface;
use super::tally::{LabelledCutFill, Sums, Tally};

/// A plan area as triangles that do not overlap.
#[derive(Clone, Debug, Default)]
pub struct Within(pub Vec<[Point; 3]>);

/// Entries of the second surface's grid in one piece of work: its facets and those below them
/// fit a core's own memory.
const BLOCK: usize = 4096;

/// A facet over more cells of the first surface than this is looked up by itself.
const WIDE_CELLS: usize = 64;

/// Facets are worth a copy of those below them if there are at least so many.
const FEW: usize = 32;

/// Most bands a piece of work is cut into where the second surface has few large facets.
const MOST_BANDS: usize = 256;

/// Cut and fill from one surface to another, wherever both are.
///
/// # Units
///
/// cubic and square metres, cut and fill both positive
/// # Accuracy
///
/// exact for the planes up to rounding; parts of facets that share their plane
/// count as equal to the last bit
/// # Cost
///
/// O(n + k) for facets of about equal size, k pairs that share area
pub fn cut_fill(from: &Surface, to: &Surface, workers: &dyn Workers) -> LabelledCutFill {
    cut_fill_raised(from, 0.0, to, workers)
}

/// The same from the first surface raised by `by_m` metres, or lowered if that is negative: what
/// lies above a layer of that thickness, or below a strip that was taken off.
pub fn cut_fill_raised(
    from: &Surface,
    by_m: f64,
    to: &Surface,
    workers: &dyn Workers,
) -> LabelledCutFill {
    Tally::between(from, by_m, to, workers).result()
}

/// The same inside a plan area only. Extremes of level are those of whole facets.
pub fn cut_fill_within(
    from: &Surface,
    to: &Surface,
    within: &Within,
    workers: &dyn Workers,
) -> LabelledCutFill {
    Tally::with(between(from, 0.0, to, Some(within), workers)).result()
}

/// Sums by label of all facets of `to`.
///
/// Facets are visited block by block as they lie in plan. Sums are of whole grains: how the work
/// is cut up changes no bit.
pub(super) fn between(
    from: &Surface,
    by_m: f64,
    to: &Surface,
    within: Option<&Within>,
    workers: &dyn Workers,
) -> BTreeMap<Label, Sums> {
    let blocks = to.grid.blocks(BLOCK);
    // Few large facets over many small ones: the work is cut up by rows of the small ones.
    let bands = (from.grid.num_cells() / (8 * to.facet_slots().max(1))).clamp(1, MOST_BANDS);
    let rows = from.grid.num_rows();
    let parts = collect(workers, blocks.len() * bands, &|piece| {
        let band = piece % bands;
        let overlay = Overlay {
            from,
            by_m,
            within,
            rows: rows * band / bands..rows * (band + 1) / bands,
            is_kin: from.vertices.first() == to.vertices.first(),
        };
        overlay.block(to, &blocks[piece / bands])
    });
    let mut all: BTreeMap<Label, Sums> = BTreeMap::new();
    for part in &parts {
        for (&label, sums) in part {
            all.entry(label).or_default().merge(sums);
        }
    }
    all
}

/// Adds one facet over a surface raised by `by_m`.
pub(super) fn add_facet(
    from: &Surface,
    by_m: f64,
    corners: [P3; 3],
    source: Source,
    sums: &mut Sums,
) {
    let overlay = Overlay {
        from,
        by_m,
        within: None,
        rows: from_rows(from),
        is_kin: false,
    };
    let mut facet = Facet::new(corners, source);
    if overlay.count(&facet, sums) {
        overlay.look_up(&mut facet, sums);
    }
}

fn from_rows(from: &Surface) -> Range<usize> {
    0..from.grid.num_rows()
}

/// What facets are laid over.
struct Overlay<'a> {
    from: &'a Surface,
    by_m: f64,
    within: Option<&'a Within>,
    /// Rows of the grid of `from` that are looked at.
    rows: Range<usize>,
    /// True if facets of both may have the same ids because one was made from the other.
    is_kin: bool,
}

impl Overlay<'_> {
    /// Sums of the facets of `to` in a block of its grid.
    fn block(&self, to: &Surface, block: &Block) -> BTreeMap<Label, Sums> {
        let from = self.from;
        let mut all: BTreeMap<Label, Sums> = BTreeMap::new();
        let mut narrow: Vec<Facet> = Vec::new();
        let can_be_copied = self.rows == from_rows(from);
        for f in to.grid.lying_in(block, |ids| to.spans(ids)) {
            let mut facet = Facet::new(to.corners(f), *to.source(f));
            let sums = all.entry(facet.source.label).or_default();
            if self.count(&facet, sums) {
                if self.is_kin && self.within.is_none() && self.is_same(&facet, f) {
                    self.add_same(&facet, sums);
                } else if can_be_copied && from.grid.num_cells_of(&facet.span) <= WIDE_CELLS {
                    narrow.push(facet);
                } else {
                    self.look_up(&mut facet, sums);
                }
            }
        }
        let nearby = (narrow.len() >= FEW)
            .then(|| Span::of(narrow.iter().flat_map(|f| [f.span.low, f.span.high])))
            .flatten()
            .filter(|all| from.grid.num_cells_of(all) <= WIDE_CELLS * narrow.len())
            .map(|all| Nearby::new(from, &all));
        let mut below = Vec::new();
        for facet in &mut narrow {
            let sums = all.entry(facet.source.label).or_default();
            if let Some(nearby) = &nearby {
                nearby.find(&facet.span, &mut below);
                let is_twin = |&f: &u32| {
                    let flat = nearby.flat(f);
                    flat.plan == facet.plan() && self.is_same(facet, flat.id)
                };
                if self.within.is_none() && below.iter().any(is_twin) {
                    self.add_same(facet, sums);
                } else {
                    for &f in &below {
                        self.add_pair(facet, nearby.flat(f), sums);
                    }
                }
            } else {
                self.look_up(facet, sums);
            }
        }
        all
    }

    /// Counts a facet; false if that is all there is to do.
    fn count(&self, facet: &Facet, sums: &mut Sums) -> bool {
        sums.facets += usize::from(self.is_first(facet));
        self.within.is_none_or(|Within(triangles)| {
            triangles
                .iter()
                .any(|t| Span::triangle(*t).common(&facet.span).is_some())
        })
    }

    /// True for the piece of work that holds the lower left corner of a facet.
    fn is_first(&self, facet: &Facet) -> bool {
        self.rows.contains(&self.from.grid.row(facet.span.low.y))
    }

    fn is_same(&self, facet: &Facet, id: u32) -> bool {
        self.from.is_facet(id) && self.from.corners(id) == facet.corners
    }

    /// Adds a facet that is the same in both: there is nothing to clip.
    fn add_same(&self, facet: &Facet, sums: &mut Sums) {
        if self.is_first(facet) {
            sums.see_levels(facet.corners);
            let [a, b, c] = facet.plan();
            let area = orient(a, b, c) as f64 / 2.0 / NM_PER_M / NM_PER_M;
            sums.add(&Parts::level(area, self.by_m), area);
            for c in facet.corners {
                sums.see_depth(self.by_m, || c);
            }
        }
    }

    /// Adds a facet by looking up those below it.
    fn look_up(&self, facet: &mut Facet, sums: &mut Sums) {
        let from = self.from;
        let span = facet.span;
        let corner = facet.corners[0].p;
        if self.within.is_none() && from.grid.any_at(corner, |f| self.is_same(facet, f)) {
            self.add_same(facet, sums);
            return;
        }
        from.grid.near_rows(
            &span,
            self.rows.clone(),
            |f| from.span(f),
            |f| self.add_pair(facet, &Flat::of(from, f), sums),
        );
    }

    fn add_pair(&self, facet: &mut Facet, under: &Flat, sums: &mut Sums) {
        let (origin, span) = (facet.corners[0].p, facet.span);
        let [a, b, c] = under.plan;
        let below = [
            a.relative_m(origin),
            b.relative_m(origin),
            c.relative_m(origin),
        ];
        let mut polygon = Polygon::default();
        polygon.overlap(facet.local, below);
        // Boxes apart by less than rounding: nothing in common, whatever way they were found.
        if polygon.corners().is_empty() || Span::triangle(under.plan).common(&span).is_none() {
            return;
        }
        let (under, plane) = (&under.plane, &facet.source.plane);
        let same = under == plane;
        let (base, slope) = if same {
            (self.by_m, [0.0; 2])
        } else {
            (
                under.z_at(origin) - plane.z_at(origin) + self.by_m,
                [
                    under.slope[0] - plane.slope[0],
                    under.slope[1] - plane.slope[1],
                ],
            )
        };
        let mut add = |polygon: &Polygon| {
            if !facet.is_seen {
                facet.is_seen = true;
                sums.see_levels(facet.corners);
            }
            let mut depth = [0.0; 9];
            for (depth, q) in depth.iter_mut().zip(polygon.corners()) {
                *depth = base + slope[0] * q[0] + slope[1] * q[1];
                sums.see_depth(*depth, || {
                    let off = Point::from_m(q[0], q[1]);
                    let p = Point::new(origin.x + off.x, origin.y + off.y);
                    P3 {
                        p,
                        z: plane.z_at(p),
                    }
                });
            }
            sums.add(&polygon.parts(&depth), polygon.area());
        };
        match self.within {
            None => add(&polygon),
            Some(Within(triangles)) => {
                for t in triangles {
                    if Span::triangle(*t).common(&span).is_some() {
                        let part = polygon.within(t.map(|p| p.relative_m(origin)));
                        if !part.corners().is_empty() {
                            add(&part);
                        }
                    }
                }
            }
        }
    }
}

/// A facet of the second surface.
struct Facet {
    corners: [P3; 3],
    source: Source,
    span: Span,
    /// Plan corners in metres from the first.
    local: [[f64; 2]; 3],
    /// True once its levels are counted.
    is_seen: bool,
}

impl Facet {
    fn new(corners: [P3; 3], source: Source) -> Facet {
        let plan = corners.map(|c| c.p);
        Facet {
            corners,
            source,
            span: Span::triangle(plan),
            local: plan.map(|p| p.relative_m(plan[0])),
            is_seen: false,
        }
    }

    fn plan(&self) -> [Point; 3] {
        self.corners.map(|c| c.p)
    }
}
