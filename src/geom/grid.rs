//! A grid of square cells, to find lines and points that lie near each other.
//!
//! Takes lines and points, gives cells with what lies in them. Knows no crossing.

use super::point::Point;

/// A grid of cells over lines and points.
pub(super) struct Grid {
    low: Point,
    size: i64,
    /// Cells a lattice unit.
    per_unit: f64,
    columns: usize,
    rows: usize,
}

/// What lies in each cell of a grid, by number.
pub(super) struct Cells {
    starts: Vec<u32>,
    numbers: Vec<u32>,
}

impl Cells {
    /// Puts (cell, number) in order of cells; those of one cell stay in the order given.
    fn of(count: usize, entries: &[(u32, u32)]) -> Cells {
        let mut starts = vec![0u32; count + 1];
        for &(cell, _) in entries {
            starts[cell as usize + 1] += 1;
        }
        for i in 0..count {
            starts[i + 1] += starts[i];
        }
        let mut next = starts.clone();
        let mut numbers = vec![0u32; entries.len()];
        for &(cell, number) in entries {
            numbers[next[cell as usize] as usize] = number;
            next[cell as usize] += 1;
        }
        Cells { starts, numbers }
    }

    /// What lies in a cell.
    pub(super) fn cell(&self, cell: usize) -> &[u32] {
        &self.numbers[self.starts[cell] as usize..self.starts[cell + 1] as usize]
    }

    /// What lies in each cell, in order.
    pub(super) fn iter(&self) -> impl Iterator<Item = &[u32]> {
        (0..self.starts.len() - 1).map(|cell| self.cell(cell))
    }
}

/// Most cells along one side of a grid.
const MAX_CELLS_A_SIDE: f64 = 4096.0;

impl Grid {
    /// A grid of about `count` cells over the lines; `None` if there are none.
    pub(super) fn new(lines: &[[Point; 2]], count: usize) -> Option<Grid> {
        let first = lines.first()?[0];
        let (mut low, mut high) = (first, first);
        for p in lines.iter().flatten() {
            low = Point::new(low.x.min(p.x), low.y.min(p.y));
            high = Point::new(high.x.max(p.x), high.y.max(p.y));
        }
        let low = Point::new(low.x - 4, low.y - 4);
        let extent = ((high.x - low.x).max(high.y - low.y) + 8) as f64;
        let per_side = (count as f64).sqrt().clamp(1.0, MAX_CELLS_A_SIDE);
        let size = (extent / per_side).ceil().max(8.0) as i64;
        Some(Grid {
            low,
            size,
            per_unit: 1.0 / size as f64,
            columns: ((high.x - low.x + 8) / size + 1) as usize,
            rows: ((high.y - low.y + 8) / size + 1) as usize,
        })
    }

    // Multiplied, not divided, and cut off at 0: what matters is that it never falls with the
    // coordinate, and that every caller finds the same.
    fn column(&self, x: i64) -> usize {
        (((x - self.low.x) as f64 * self.per_unit) as usize).min(self.columns - 1)
    }

    fn row(&self, y: i64) -> usize {
        (((y - self.low.y) as f64 * self.per_unit) as usize).min(self.rows - 1)
    }

    /// Lines by cell. Lines that share a point, or come within two units of each other, share
    /// a cell.
    pub(super) fn line_cells(&self, lines: &[[Point; 2]]) -> Cells {
        let mut entries = Vec::with_capacity(lines.len() * 3);
        for (i, &[mut a, mut b]) in lines.iter().enumerate() {
            if a.x > b.x {
                std::mem::swap(&mut a, &mut b);
            }
            // Two units of padding: snapping looks one unit aside, rounding takes the other.
            // Beyond 2^50 units the height at the side of a column is itself uncertain; so is
            // the side of a column, by a share of the whole.
            let blur = (self.columns as i64 * self.size) >> 50;
            let slack = 3 + ((b.y - a.y).abs() >> 50);
            let (first, last) = (self.column(a.x - 2), self.column(b.x + 2));
            for column in first..=last {
                let (y0, y1) = if first == last {
                    (a.y, b.y)
                } else {
                    let left = self.low.x + column as i64 * self.size - 2 - blur;
                    let right = left + self.size + 4 + 2 * blur;
                    let at = |x: i64| {
                        let t = (x - a.x) as f64 / (b.x - a.x).max(1) as f64;
                        a.y + (t.clamp(0.0, 1.0) * (b.y - a.y) as f64).round() as i64
                    };
                    (at(left), at(right))
                };
                for row in self.row(y0.min(y1) - slack)..=self.row(y0.max(y1) + slack) {
                    entries.push(((row * self.columns + column) as u32, i as u32));
                }
            }
        }
        Cells::of(self.columns * self.rows, &entries)
    }

    /// Points by cell; points off the grid left out.
    pub(super) fn point_cells(&self, points: &[Point]) -> Cells {
        let inside = |p: Point| {
            p.x >= self.low.x
                && p.y >= self.low.y
                && p.x <= self.low.x + self.columns as i64 * self.size
                && p.y <= self.low.y + self.rows as i64 * self.size
        };
        let entries: Vec<(u32, u32)> = points
            .iter()
            .enumerate()
            .filter(|(_, p)| inside(**p))
            .map(|(i, p)| {
                let cell = self.row(p.y) * self.columns + self.column(p.x);
                (cell as u32, i as u32)
            })
            .collect();
        Cells::of(self.columns * self.rows, &entries)
    }
}
