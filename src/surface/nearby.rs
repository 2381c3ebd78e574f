//! Facets of one part of a surface, copied side by side, to find those near many boxes fast.
//!
//! Facets that lie side by side are strewn over the arrays of a large surface: every look at one
//! waits for memory. A piece of work copies the facets it needs once and asks the copy.

use crate::geom::Point;

use super::grid::Span;
use super::plane::Plane;
use super::surface::Surface;

/// Plan corners and plane of a facet.
#[derive(Clone, Copy, Debug)]
pub(super) struct Flat {
    pub(super) id: u32,
    pub(super) plan: [Point; 3],
    pub(super) plane: Plane,
}

impl Flat {
    pub(super) fn of(surface: &Surface, facet: u32) -> Flat {
        Flat {
            id: facet,
            plan: surface.plan(facet),
            plane: surface.source(facet).plane,
        }
    }
}

/// Facets near a part of the plan, by cells of a small grid.
pub(super) struct Nearby {
    low: Point,
    /// A coarse unit is this many binary digits above a nanometre.
    coarse: u32,
    /// A cell is this many binary digits above a coarse unit.
    cell: u32,
    columns: usize,
    starts: Vec<u32>,
    entries: Vec<Entry>,
    flats: Vec<Flat>,
}

/// A facet in a cell, with its box in coarse units.
#[derive(Clone, Copy, Debug, Default)]
struct Entry {
    span: Coarse,
    flat: u32,
}

/// A box in coarse units: two that touch, touch here too.
#[derive(Clone, Copy, Debug, Default)]
struct Coarse {
    low: [i32; 2],
    high: [i32; 2],
}

/// Binary digits of the longer side of the part, in coarse units.
const DIGITS: u32 = 20;

impl Nearby {
    /// The facets that may touch a box.
    pub(super) fn new(surface: &Surface, around: &Span) -> Nearby {
        let ids = surface.grid.touching(around, |ids| surface.spans(ids));
        let flats: Vec<Flat> = ids.iter().map(|&f| Flat::of(surface, f)).collect();
        let digits = |length: i64| i64::BITS - length.leading_zeros();
        let longer = digits(around.high.x - around.low.x).max(digits(around.high.y - around.low.y));
        let mut nearby = Nearby {
            low: around.low,
            coarse: longer.saturating_sub(DIGITS),
            cell: 0,
            columns: 1,
            starts: Vec::new(),
            entries: Vec::new(),
            flats,
        };
        let spans: Vec<Coarse> = nearby
            .flats
            .iter()
            .map(|flat| {
                let own = Span::triangle(flat.plan);
                nearby.coarse(&own.common(around).unwrap_or(*around))
            })
            .collect();
        // Cells about as wide as the facets are on average.
        let widths: f64 = spans
            .iter()
            .map(|s| f64::from(s.high[0] - s.low[0] + s.high[1] - s.low[1]) / 2.0)
            .sum();
        let width = (widths / spans.len().max(1) as f64).max(1.0);
        nearby.cell = (width.log2().round() as u32).max(longer.min(DIGITS).saturating_sub(10));
        let last = nearby.coarse(around).high;
        nearby.columns = (last[0] >> nearby.cell) as usize + 1;
        let rows = (last[1] >> nearby.cell) as usize + 1;
        let mut starts = vec![0u32; nearby.columns * rows + 1];
        for span in &spans {
            nearby.cells(span, |cell, _| starts[cell + 1] += 1);
        }
        for k in 1..starts.len() {
            starts[k] += starts[k - 1];
        }
        let mut next = starts.clone();
        let mut entries = vec![Entry::default(); starts[starts.len() - 1] as usize];
        for (flat, &span) in spans.iter().enumerate() {
            nearby.cells(&span, |cell, _| {
                let flat = flat as u32;
                entries[next[cell] as usize] = Entry { span, flat };
                next[cell] += 1;
            });
        }
        nearby.starts = starts;
        nearby.entries = entries;
        nearby
    }

    fn coarse(&self, span: &Span) -> Coarse {
        let of = |p: Point| {
            [
                ((p.x - self.low.x) >> self.coarse) as i32,
                ((p.y - self.low.y) >> self.coarse) as i32,
            ]
        };
        Coarse {
            low: of(span.low),
            high: of(span.high),
        }
    }

    fn cells(&self, span: &Coarse, mut visit: impl FnMut(usize, [i32; 2])) {
        let [low, high] = [span.low, span.high].map(|p| p.map(|v| v >> self.cell));
        for row in low[1]..=high[1] {
            for column in low[0]..=high[0] {
                visit(row as usize * self.columns + column as usize, [column, row]);
            }
        }
    }

    /// Finds the facets whose box touches a box inside the part, or comes within a coarse unit of
    /// it: each once, in the cell that holds the lower left corner of the common box.
    pub(super) fn find(&self, span: &Span, found: &mut Vec<u32>) {
        found.clear();
        let own = self.coarse(span);
        self.cells(&own, |cell, place| {
            let entries = &self.entries[self.starts[cell] as usize..self.starts[cell + 1] as usize];
            let (mut count, room) = (found.len(), found.len() + entries.len());
            found.resize(room, 0);
            // Most entries are not wanted, and which are is not to be foretold: no branch here.
            for entry in entries {
                let other = &entry.span;
                let touch = (other.low[0] <= own.high[0])
                    & (other.low[1] <= own.high[1])
                    & (other.high[0] >= own.low[0])
                    & (other.high[1] >= own.low[1]);
                let is_here = (other.low[0].max(own.low[0]) >> self.cell == place[0])
                    & (other.low[1].max(own.low[1]) >> self.cell == place[1]);
                found[count] = entry.flat;
                count += usize::from(touch & is_here);
            }
            found.truncate(count);
        });
    }

    /// A facet that was found.
    pub(super) fn flat(&self, found: u32) -> &Flat {
        &self.flats[found as usize]
    }
}
