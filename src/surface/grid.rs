//! A grid of cells over the facets of a surface, to find those near a place.

use std::collections::BTreeMap;

use crate::geom::Point;

/// A box on the lattice, both ends included.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Span {
    pub(super) low: Point,
    pub(super) high: Point,
}

impl Span {
    pub(super) fn of(points: impl IntoIterator<Item = Point>) -> Option<Span> {
        points
            .into_iter()
            .map(|p| Span { low: p, high: p })
            .reduce(|a, b| Span {
                low: Point::new(a.low.x.min(b.low.x), a.low.y.min(b.low.y)),
                high: Point::new(a.high.x.max(b.high.x), a.high.y.max(b.high.y)),
            })
    }

    pub(super) fn triangle(t: [Point; 3]) -> Span {
        Span {
            low: Point::new(
                t[0].x.min(t[1].x).min(t[2].x),
                t[0].y.min(t[1].y).min(t[2].y),
            ),
            high: Point::new(
                t[0].x.max(t[1].x).max(t[2].x),
                t[0].y.max(t[1].y).max(t[2].y),
            ),
        }
    }

    pub(super) fn common(&self, other: &Span) -> Option<Span> {
        let low = Point::new(self.low.x.max(other.low.x), self.low.y.max(other.low.y));
        let high = Point::new(self.high.x.min(other.high.x), self.high.y.min(other.high.y));
        (low.x <= high.x && low.y <= high.y).then_some(Span { low, high })
    }
}

/// Facets by cell. Entries are never taken out: a caller checks what it finds against the
/// facet's present corners.
#[derive(Clone, Debug, Default)]
pub(super) struct Grid {
    low: Point,
    size: i64,
    columns: usize,
    rows: usize,
    starts: Vec<u32>,
    ids: Vec<u32>,
    later: BTreeMap<usize, Vec<u32>>,
}

impl Grid {
    /// A grid over these boxes, about two boxes a cell.
    pub(super) fn new(spans: &[Span]) -> Grid {
        let Some(all) = Span::of(spans.iter().flat_map(|s| [s.low, s.high])) else {
            return Grid::default();
        };
        let (width, height) = (
            (all.high.x - all.low.x + 1) as f64,
            (all.high.y - all.low.y + 1) as f64,
        );
        let cells = (spans.len() as f64 / 2.0).clamp(1.0, 5.0e7);
        let size = (width * height / cells)
            .sqrt()
            .max(width.max(height) / 1.0e4)
            .ceil()
            .max(1.0);
        let mut grid = Grid {
            low: all.low,
            size: size as i64,
            columns: (width / size) as usize + 1,
            rows: (height / size) as usize + 1,
            ..Grid::default()
        };
        let mut counts = vec![0u32; grid.columns * grid.rows + 1];
        for span in spans {
            grid.cells(span, |cell| counts[cell + 1] += 1);
        }
        for i in 1..counts.len() {
            counts[i] += counts[i - 1];
        }
        let mut next = counts.clone();
        let mut ids = vec![0u32; counts[counts.len() - 1] as usize];
        for (id, span) in spans.iter().enumerate() {
            grid.cells(span, |cell| {
                ids[next[cell] as usize] = id as u32;
                next[cell] += 1;
            });
        }
        grid.starts = counts;
        grid.ids = ids;
        grid
    }

    fn column(&self, x: i64) -> usize {
        (((x - self.low.x).max(0) / self.size.max(1)) as usize).min(self.columns.saturating_sub(1))
    }

    fn row(&self, y: i64) -> usize {
        (((y - self.low.y).max(0) / self.size.max(1)) as usize).min(self.rows.saturating_sub(1))
    }

    fn cell_of(&self, p: Point) -> usize {
        self.row(p.y) * self.columns + self.column(p.x)
    }

    fn cells(&self, span: &Span, mut visit: impl FnMut(usize)) {
        for row in self.row(span.low.y)..=self.row(span.high.y) {
            for column in self.column(span.low.x)..=self.column(span.high.x) {
                visit(row * self.columns + column);
            }
        }
    }

    /// Adds a facet made after the grid was, and notes the cells that got an entry.
    pub(super) fn insert(&mut self, id: u32, span: &Span, entered: &mut Vec<usize>) {
        let from = entered.len();
        self.cells(span, |cell| entered.push(cell));
        let mut kept = from;
        for k in from..entered.len() {
            let cell = entered[k];
            let (low, high) = (self.starts[cell] as usize, self.starts[cell + 1] as usize);
            // The id may be that of a dead facet whose entry still stands here.
            if self.ids[low..high].contains(&id) {
                continue;
            }
            let later = self.later.entry(cell).or_default();
            if !later.contains(&id) {
                later.push(id);
                entered[kept] = cell;
                kept += 1;
            }
        }
        entered.truncate(kept);
    }

    /// Takes the last entry of a cell back that [`Grid::insert`] made there.
    pub(super) fn take_last(&mut self, cell: usize) {
        if let Some(later) = self.later.get_mut(&cell) {
            later.pop();
            if later.is_empty() {
                self.later.remove(&cell);
            }
        }
    }

    /// Visits facets that may touch a box: each once, if `span_of` gives its present box
    /// (`None` for a dead one). A facet is visited in the cell that holds the lower left
    /// corner of the common box.
    pub(super) fn near(
        &self,
        span: &Span,
        span_of: impl Fn(u32) -> Option<Span>,
        mut visit: impl FnMut(u32),
    ) {
        if self.starts.is_empty() {
            return;
        }
        self.cells(span, |cell| {
            let (from, to) = (self.starts[cell] as usize, self.starts[cell + 1] as usize);
            let later = self.later.get(&cell).map_or(&[][..], Vec::as_slice);
            for &id in self.ids[from..to].iter().chain(later) {
                let Some(own) = span_of(id) else { continue };
                let Some(common) = own.common(span) else {
                    continue;
                };
                if self.cell_of(common.low) == cell {
                    visit(id);
                }
            }
        });
    }
}
