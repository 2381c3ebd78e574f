//! A grid of square cells, to find lines and points that lie near each other.
//!
//! Takes lines and points, gives cells with what lies in them. Knows no crossing.

use super::point::Point;

/// A grid of about one line a cell, to find neighbours.
pub(super) struct Grid {
    low: Point,
    size: i64,
    columns: u64,
    rows: u64,
}

impl Grid {
    /// A grid over the lines; `None` if there are none.
    pub(super) fn new(lines: impl ExactSizeIterator<Item = [Point; 2]>) -> Option<Grid> {
        let count = lines.len();
        let mut ends = lines.flatten();
        let first = ends.next()?;
        let (mut low, mut high) = (first, first);
        for p in ends {
            low = Point::new(low.x.min(p.x), low.y.min(p.y));
            high = Point::new(high.x.max(p.x), high.y.max(p.y));
        }
        let low = Point::new(low.x - 4, low.y - 4);
        let extent = ((high.x - low.x).max(high.y - low.y) + 8) as f64;
        let per_side = (count as f64).sqrt().clamp(1.0, 4096.0);
        let size = (extent / per_side).ceil().max(8.0) as i64;
        Some(Grid {
            low,
            size,
            columns: ((high.x - low.x + 8) / size + 1) as u64,
            rows: ((high.y - low.y + 8) / size + 1) as u64,
        })
    }

    fn column(&self, x: i64) -> u64 {
        (((x - self.low.x).max(0) / self.size) as u64).min(self.columns - 1)
    }

    fn row(&self, y: i64) -> u64 {
        (((y - self.low.y).max(0) / self.size) as u64).min(self.rows - 1)
    }

    /// (cell, line), sorted. Lines that share a point, or come within two units of each other,
    /// share a cell.
    pub(super) fn line_cells(
        &self,
        lines: impl ExactSizeIterator<Item = [Point; 2]>,
    ) -> Vec<(u64, u32)> {
        let mut line_cells = Vec::with_capacity(lines.len() * 3);
        for (i, [mut a, mut b]) in lines.enumerate() {
            if a.x > b.x {
                std::mem::swap(&mut a, &mut b);
            }
            // Two units of padding: snapping looks one unit aside, rounding takes the other.
            // Beyond 2^50 units the height at the side of a column is itself uncertain.
            let slack = 3 + ((b.y - a.y).abs() >> 50);
            let (first, last) = (self.column(a.x - 2), self.column(b.x + 2));
            for column in first..=last {
                let (y0, y1) = if first == last {
                    (a.y, b.y)
                } else {
                    let left = self.low.x + column as i64 * self.size - 2;
                    let right = left + self.size + 4;
                    let at = |x: i64| {
                        let t = (x - a.x) as f64 / (b.x - a.x).max(1) as f64;
                        a.y + (t.clamp(0.0, 1.0) * (b.y - a.y) as f64).round() as i64
                    };
                    (at(left), at(right))
                };
                for row in self.row(y0.min(y1) - slack)..=self.row(y0.max(y1) + slack) {
                    line_cells.push((row * self.columns + column, i as u32));
                }
            }
        }
        line_cells.sort_unstable();
        line_cells
    }

    /// (cell, point), sorted; points off the grid left out.
    pub(super) fn point_cells(&self, points: &[Point]) -> Vec<(u64, u32)> {
        let inside = |p: Point| {
            p.x >= self.low.x
                && p.y >= self.low.y
                && p.x <= self.low.x + self.columns as i64 * self.size
                && p.y <= self.low.y + self.rows as i64 * self.size
        };
        let mut point_cells: Vec<(u64, u32)> = points
            .iter()
            .enumerate()
            .filter(|(_, p)| inside(**p))
            .map(|(i, p)| (self.row(p.y) * self.columns + self.column(p.x), i as u32))
            .collect();
        point_cells.sort_unstable();
        point_cells
    }
}
