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
use super::extreme::Depths;
use super::grid::{Block, Span};
use super::nearby::{Flat, Nearby};
use super::plane::{Label, Source};
use super::surface::Surface;
use super::tally::{LabelledCutFill, Sums};

/// A plan area as triangles that do not overlap.
#[derive(Clone, Debug, Default)]
pub struct Within(pub Vec<[Point; 3]>);

/// Entries of the second surface's grid in one piece of work: its facets and those below them
/// fit a core's own memory.
const BLOCK: usize = 4096;

/// Ids in one piece of work.
const IDS: u32 = 1024;

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
    LabelledCutFill::of(&between(from, by_m, to, Of::all(false), workers))
}

/// The same of all facets but those of one label, which most of a yard carries and nobody asks
/// for; inside a plan area, if one is given.
pub fn cut_fill_without(
    label: Label,
    from: &Surface,
    by_m: f64,
    to: &Surface,
    within: Option<&Within>,
    workers: &dyn Workers,
) -> LabelledCutFill {
    let of = Of {
        within,
        without: Some(label),
        is_full: false,
    };
    LabelledCutFill::of(&between(from, by_m, to, of, workers))
}

/// The same inside a plan area only. Extremes of level are those of whole facets.
pub fn cut_fill_within(
    from: &Surface,
    to: &Surface,
    within: &Within,
    workers: &dyn Workers,
) -> LabelledCutFill {
    let of = Of {
        within: Some(within),
        ..Of::all(false)
    };
    LabelledCutFill::of(&between(from, 0.0, to, of, workers))
}

/// What is counted of a surface.
#[derive(Clone, Copy)]
pub(super) struct Of<'a> {
    /// Inside a plan area only.
    within: Option<&'a Within>,
    /// But for facets of this label.
    without: Option<Label>,
    /// So that facets can be taken away again.
    is_full: bool,
}

impl Of<'_> {
    /// Everything.
    pub(super) fn all(is_full: bool) -> Of<'static> {
        Of {
            within: None,
            without: None,
            is_full,
        }
    }
}

/// Sums by label of facets of `to`.
///
/// How the work is cut up changes no bit: sums are of whole grains.
pub(super) fn between(
    from: &Surface,
    by_m: f64,
    to: &Surface,
    of: Of,
    workers: &dyn Workers,
) -> BTreeMap<Label, Sums> {
    let Of {
        within,
        without,
        is_full,
    } = of;
    let is_counted = |f: u32| to.is_facet(f) && Some(to.label(f)) != without;
    let is_kin = from.vertices.first() == to.vertices.first();
    // One made from the other has mostly the same facets under the same ids: they are compared in
    // the order of ids. Else facets are visited block by block as they lie in plan.
    let pieces: Vec<Piece> = if is_kin {
        let slots = to.facet_slots() as u32;
        let starts = (0..slots).step_by(IDS as usize);
        starts
            .map(|from| Piece::Ids(from..(from + IDS).min(slots)))
            .collect()
    } else {
        to.grid
            .blocks(BLOCK)
            .into_iter()
            .map(Piece::Block)
            .collect()
    };
    // Few large facets over many small ones: the work is cut up by rows of the small ones. A facet
    // that may be taken away again is done in one go, for its extremes.
    let most = if is_full { 1 } else { MOST_BANDS };
    let bands = (from.grid.num_cells() / (8 * to.facet_slots().max(1))).clamp(1, most);
    let rows = from.grid.num_rows();
    let parts = collect(workers, pieces.len() * bands, &|number| {
        let band = number % bands;
        let overlay = Overlay {
            from,
            by_m,
            within,
            rows: rows * band / bands..rows * (band + 1) / bands,
            is_kin,
            is_full,
        };
        match &pieces[number / bands] {
            Piece::Ids(ids) => overlay.piece(to, ids.clone().filter(|&f| is_counted(f))),
            Piece::Block(block) => {
                let lying = to.grid.lying_in(block, |ids| to.spans(ids));
                overlay.piece(to, lying.into_iter().filter(|&f| is_counted(f)))
            }
        }
    });
    let mut all: BTreeMap<Label, Sums> = BTreeMap::new();
    for part in &parts {
        for (&label, sums) in part {
            all.entry(label)
                .or_insert_with(|| Sums::new(is_full))
                .merge(sums);
        }
    }
    all
}

/// Facets of the second surface in one piece of work.
enum Piece {
    Ids(Range<u32>),
    Block(Block),
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
        is_full: true,
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
    is_full: bool,
}

impl Overlay<'_> {
    /// Sums of some facets of `to`.
    fn piece(&self, to: &Surface, facets: impl Iterator<Item = u32>) -> BTreeMap<Label, Sums> {
        let from = self.from;
        let mut all: BTreeMap<Label, Sums> = BTreeMap::new();
        let mut narrow: Vec<Facet> = Vec::new();
        let can_be_copied = self.rows == from_rows(from);
        for f in facets {
            let corners = to.corners(f);
            if self.is_kin && self.within.is_none() && self.is_same(&corners, f) {
                // No plane is asked for: most facets of a yard end here.
                let sums = self.of_label(&mut all, to.label(f));
                let span = Span::triangle(corners.map(|c| c.p));
                sums.count(usize::from(self.is_first(&span)));
                self.add_same(&corners, sums);
                continue;
            }
            let mut facet = Facet::new(corners, to.source(f));
            let sums = self.of_label(&mut all, facet.source.label);
            if self.count(&facet, sums) {
                if can_be_copied && from.grid.num_cells_of(&facet.span) <= WIDE_CELLS {
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
            let sums = self.of_label(&mut all, facet.source.label);
            if let Some(nearby) = &nearby {
                nearby.find(&facet.span, &mut below);
                let is_twin = |&f: &u32| {
                    let flat = nearby.flat(f);
                    flat.plan == facet.plan() && self.is_same(&facet.corners, flat.id)
                };
                if self.within.is_none() && below.iter().any(is_twin) {
                    self.add_same(&facet.corners, sums);
                } else {
                    for &f in &below {
                        self.add_pair(facet, nearby.flat(f), sums);
                    }
                    sums.end(&facet.corners, &facet.depths);
                }
            } else {
                self.look_up(facet, sums);
            }
        }
        all
    }

    fn of_label<'a>(&self, all: &'a mut BTreeMap<Label, Sums>, label: Label) -> &'a mut Sums {
        all.entry(label).or_insert_with(|| Sums::new(self.is_full))
    }

    /// Counts a facet; false if that is all there is to do.
    fn count(&self, facet: &Facet, sums: &mut Sums) -> bool {
        sums.count(usize::from(self.is_first(&facet.span)));
        self.within.is_none_or(|Within(triangles)| {
            triangles
                .iter()
                .any(|t| Span::triangle(*t).common(&facet.span).is_some())
        })
    }

    /// True for the piece of work that holds the lower left corner of a facet.
    fn is_first(&self, span: &Span) -> bool {
        self.rows.contains(&self.from.grid.row(span.low.y))
    }

    fn is_same(&self, corners: &[P3; 3], id: u32) -> bool {
        self.from.is_facet(id) && self.from.corners(id) == *corners
    }

    /// Adds a facet that is the same in both: there is nothing to clip.
    fn add_same(&self, corners: &[P3; 3], sums: &mut Sums) {
        let plan = corners.map(|c| c.p);
        if self.is_first(&Span::triangle(plan)) {
            let [a, b, c] = plan;
            let area = orient(a, b, c) as f64 / 2.0 / NM_PER_M / NM_PER_M;
            sums.add(&Parts::level(area, self.by_m), area);
            let mut depths = Depths::default();
            depths.see_common();
            for &c in corners {
                depths.see(self.by_m, || c);
            }
            sums.end(corners, &depths);
        }
    }

    /// Adds a facet by looking up those below it.
    fn look_up(&self, facet: &mut Facet, sums: &mut Sums) {
        let from = self.from;
        let span = facet.span;
        let corner = facet.corners[0].p;
        if self.within.is_none()
            && from
                .grid
                .any_at(corner, |f| self.is_same(&facet.corners, f))
        {
            self.add_same(&facet.corners, sums);
            return;
        }
        from.grid.near_rows(
            &span,
            self.rows.clone(),
            |f| from.span(f),
            |f| self.add_pair(facet, &Flat::of(from, f), sums),
        );
        sums.end(&facet.corners, &facet.depths);
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
            facet.depths.see_common();
            let mut depth = [0.0; 9];
            for (depth, q) in depth.iter_mut().zip(polygon.corners()) {
                *depth = base + slope[0] * q[0] + slope[1] * q[1];
                facet.depths.see(*depth, || {
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
    depths: Depths,
}

impl Facet {
    fn new(corners: [P3; 3], source: Source) -> Facet {
        let plan = corners.map(|c| c.p);
        Facet {
            corners,
            source,
            span: Span::triangle(plan),
            local: plan.map(|p| p.relative_m(plan[0])),
            depths: Depths::default(),
        }
    }

    fn plan(&self) -> [Point; 3] {
        self.corners.map(|c| c.p)
    }
}
