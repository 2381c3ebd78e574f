//! A grid of cells over the facets of a surface, to find those near a place.

use std::collections::BTreeMap;
use std::ops::Range;

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

/// A block of cells of a grid.
#[derive(Clone, Debug)]
pub(super) struct Block {
    columns: Range<usize>,
    rows: Range<usize>,
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
    /// A grid over so many boxes, about two boxes a cell. They are asked for more than once and
    /// never kept.
    pub(super) fn new(count: usize, span: impl Fn(usize) -> Span) -> Grid {
        let spans = || (0..count).map(&span);
        let Some(all) = Span::of(spans().flat_map(|s| [s.low, s.high])) else {
            return Grid::default();
        };
        let (width, height) = (
            (all.high.x - all.low.x + 1) as f64,
            (all.high.y - all.low.y + 1) as f64,
        );
        let cells = (count as f64 / 2.0).clamp(1.0, 5.0e7);
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
        for span in spans() {
            grid.cells(&span, |cell| counts[cell + 1] += 1);
        }
        for i in 1..counts.len() {
            counts[i] += counts[i - 1];
        }
        // Where the next entry of a cell goes; in the end, where the next cell begins.
        let mut ids = vec![0u32; counts[counts.len() - 1] as usize];
        for (id, span) in spans().enumerate() {
            grid.cells(&span, |cell| {
                ids[counts[cell] as usize] = id as u32;
                counts[cell] += 1;
            });
        }
        counts.rotate_right(1);
        counts[0] = 0;
        grid.starts = counts;
        grid.ids = ids;
        grid
    }

    fn column(&self, x: i64) -> usize {
        (((x - self.low.x).max(0) / self.size.max(1)) as usize).min(self.columns.saturating_sub(1))
    }

    pub(super) fn row(&self, y: i64) -> usize {
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

    /// Number of cells.
    pub(super) fn num_cells(&self) -> usize {
        self.starts.len().saturating_sub(1)
    }

    /// Number of rows, at least one.
    pub(super) fn num_rows(&self) -> usize {
        self.rows.max(1)
    }

    /// Number of cells that a box touches.
    pub(super) fn num_cells_of(&self, span: &Span) -> usize {
        let across = self.column(span.high.x) - self.column(span.low.x) + 1;
        across * (self.row(span.high.y) - self.row(span.low.y) + 1)
    }

    /// Blocks of cells, about as high as wide, with about this many entries each.
    pub(super) fn blocks(&self, entries: usize) -> Vec<Block> {
        let cells = (entries as f64 * self.num_cells() as f64 / self.ids.len().max(1) as f64)
            .max(1.0)
            .sqrt() as usize;
        let height = cells.clamp(1, self.num_rows());
        let mut blocks = Vec::new();
        for bottom in (0..self.rows).step_by(height) {
            let rows = bottom..(bottom + height).min(self.rows);
            let (mut from, mut count) = (0, 0);
            for column in 0..self.columns {
                for row in rows.clone() {
                    let cell = row * self.columns + column;
                    count += (self.starts[cell + 1] - self.starts[cell]) as usize;
                }
                if count >= entries || column + 1 == self.columns {
                    blocks.push(Block {
                        columns: from..column + 1,
                        rows: rows.clone(),
                    });
                    (from, count) = (column + 1, 0);
                }
            }
        }
        blocks
    }

    /// Entries of a cell; some may be of dead facets, or of facets that are elsewhere by now.
    fn entries(&self, cell: usize) -> impl Iterator<Item = u32> + '_ {
        let (from, to) = (self.starts[cell] as usize, self.starts[cell + 1] as usize);
        let later = if self.later.is_empty() {
            None
        } else {
            self.later.get(&cell)
        };
        let later = later.map_or(&[][..], Vec::as_slice);
        self.ids[from..to].iter().chain(later).copied()
    }

    /// True if an entry of the cell of a place is what is looked for.
    pub(super) fn any_at(&self, p: Point, is_it: impl Fn(u32) -> bool) -> bool {
        !self.starts.is_empty() && self.entries(self.cell_of(p)).any(is_it)
    }

    /// Facets whose lower left corner lies in a block.
    pub(super) fn lying_in(
        &self,
        block: &Block,
        spans_of: impl Fn(&[u32]) -> Vec<Option<Span>>,
    ) -> Vec<u32> {
        self.select(block, spans_of, Some)
    }

    /// Facets whose box touches a box, as [`Grid::near`] visits them; for a box with many.
    pub(super) fn touching(
        &self,
        span: &Span,
        spans_of: impl Fn(&[u32]) -> Vec<Option<Span>>,
    ) -> Vec<u32> {
        if self.starts.is_empty() {
            return Vec::new();
        }
        let block = Block {
            columns: self.column(span.low.x)..self.column(span.high.x) + 1,
            rows: self.row(span.low.y)..self.row(span.high.y) + 1,
        };
        self.select(&block, spans_of, |own| own.common(span))
    }

    /// Facets of a block that have a part of interest, each taken in the cell that holds the
    /// lower left corner of that part.
    fn select(
        &self,
        block: &Block,
        spans_of: impl Fn(&[u32]) -> Vec<Option<Span>>,
        part: impl Fn(Span) -> Option<Span>,
    ) -> Vec<u32> {
        let cells = || {
            let columns = || block.columns.clone();
            block
                .rows
                .clone()
                .flat_map(move |row| columns().map(move |column| (column, row)))
        };
        let ids: Vec<u32> = cells()
            .flat_map(|(column, row)| self.entries(row * self.columns + column))
            .collect();
        let spans = spans_of(&ids);
        let mut found = Vec::new();
        let mut all = ids.iter().zip(spans);
        for (column, row) in cells() {
            let cell = self.cell(column, row);
            let count = self.entries(row * self.columns + column).count();
            for (&id, own) in all.by_ref().take(count) {
                if own.and_then(&part).is_some_and(|part| cell.holds(part.low)) {
                    found.push(id);
                }
            }
        }
        found
    }

    fn cell(&self, column: usize, row: usize) -> Cell {
        Cell {
            x: side(self.low.x, self.size, column, self.columns),
            y: side(self.low.y, self.size, row, self.rows),
        }
    }

    /// Visits facets that may touch a box: each once, if `span_of` gives its present box
    /// (`None` for a dead one). A facet is visited in the cell that holds the lower left
    /// corner of the common box.
    pub(super) fn near(
        &self,
        span: &Span,
        span_of: impl Fn(u32) -> Option<Span>,
        visit: impl FnMut(u32),
    ) {
        self.near_rows(span, 0..self.rows, span_of, visit);
    }

    /// The same in some rows only.
    pub(super) fn near_rows(
        &self,
        span: &Span,
        rows: Range<usize>,
        span_of: impl Fn(u32) -> Option<Span>,
        mut visit: impl FnMut(u32),
    ) {
        if self.starts.is_empty() {
            return;
        }
        let columns = self.column(span.low.x)..=self.column(span.high.x);
        let low = self.row(span.low.y).max(rows.start);
        let high = (self.row(span.high.y) + 1).min(rows.end);
        for row in low..high {
            for column in columns.clone() {
                let cell = self.cell(column, row);
                for id in self.entries(row * self.columns + column) {
                    let common = span_of(id).and_then(|own| own.common(span));
                    if common.is_some_and(|common| cell.holds(common.low)) {
                        visit(id);
                    }
                }
            }
        }
    }
}

/// Where a cell begins and the next one does; the outermost go on without end.
struct Cell {
    x: [i64; 2],
    y: [i64; 2],
}

impl Cell {
    fn holds(&self, p: Point) -> bool {
        p.x >= self.x[0] && p.x < self.x[1] && p.y >= self.y[0] && p.y < self.y[1]
    }
}

/// Where a row or column begins, and where the next does.
fn side(low: i64, size: i64, index: usize, count: usize) -> [i64; 2] {
    let at = |index: usize| low.saturating_add(size.saturating_mul(index as i64));
    [
        if index == 0 { i64::MIN } else { at(index) },
        if index + 1 == count {
            i64::MAX
        } else {
            at(index + 1)
        },
    ]
}
