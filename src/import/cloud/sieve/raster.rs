//! Heights in cells, and the two operations that a ground filter is made of: opening, and filling
//! of holes.

use crate::files::{Workers, collect};

/// Rows that are worked on at once.
const BAND: usize = 64;
/// Sweeps over the holes; they start from coarser cells, so that the last change little.
const SWEEPS: usize = 40;
/// Over-relaxation of a sweep.
const RELAXED: f32 = 1.7;

/// Heights in metres above a base, row by row from the south; not a number where there is none.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Raster {
    pub(super) columns: usize,
    pub(super) rows: usize,
    pub(super) heights: Vec<f32>,
}

impl Raster {
    pub(super) fn empty(columns: usize, rows: usize) -> Raster {
        Raster {
            columns,
            rows,
            heights: vec![f32::NAN; columns * rows],
        }
    }

    /// The lowest height within a disk round every cell, then the highest of those: what is
    /// narrower than the disk is gone. Without holes.
    pub(super) fn opened(&self, radius: usize, workers: &dyn Workers) -> Raster {
        let eroded = self.lowest(radius, workers);
        eroded.negative().lowest(radius, workers).negative()
    }

    /// The opposite: pits narrower than the disk are gone. Without holes.
    pub(super) fn closed(&self, radius: usize, workers: &dyn Workers) -> Raster {
        self.clone().negative().opened(radius, workers).negative()
    }

    fn negative(mut self) -> Raster {
        self.heights.iter_mut().for_each(|z| *z = -*z);
        self
    }

    /// The lowest height within a disk of so many cells round every cell.
    fn lowest(&self, radius: usize, workers: &dyn Workers) -> Raster {
        let bands = self.rows.div_ceil(BAND);
        let heights = collect(workers, bands, &|band| {
            let first = band * BAND;
            self.lowest_in(radius, first, (first + BAND).min(self.rows))
        });
        Raster {
            columns: self.columns,
            rows: self.rows,
            heights: heights.concat(),
        }
    }

    /// The same for rows `first..end`: the lowest of columns of cells, as high as the disk is there.
    /// The lowest of a column is that of two overlapping ones whose height is a power of two.
    fn lowest_in(&self, radius: usize, first: usize, end: usize) -> Vec<f32> {
        let width = self.columns;
        let height = end - first + 2 * radius;
        let mut cells = vec![f32::INFINITY; height * width];
        let (from, to) = (first.saturating_sub(radius), (end + radius).min(self.rows));
        let start = (from + radius - first) * width;
        let known = &self.heights[from * width..to * width];
        cells[start..start + known.len()].copy_from_slice(known);
        let mut columns = vec![cells];
        let mut half = 1;
        while 2 * half <= 2 * radius + 1 {
            let lower = &columns[columns.len() - 1];
            let upper = &lower[half * width..];
            let both = lower.iter().zip(upper).map(|(a, b)| a.min(*b));
            columns.push(both.collect());
            half *= 2;
        }
        let mut out = vec![f32::INFINITY; (end - first) * width];
        for aside in 0..=radius.min(width - 1) {
            let reach = (radius * radius - aside * aside).isqrt();
            let power = (2 * reach + 1).ilog2() as usize;
            let column = &columns[power];
            for (row, out) in out.chunks_exact_mut(width).enumerate() {
                let lower = &column[(row + radius - reach) * width..][..width];
                let upper = &column[(row + radius + reach + 1 - (1 << power)) * width..][..width];
                let both = lower.iter().zip(upper).map(|(a, b)| a.min(*b));
                for (out, z) in out[aside..].iter_mut().zip(both.clone()) {
                    *out = out.min(z);
                }
                for (out, z) in out.iter_mut().zip(both.skip(aside)) {
                    *out = out.min(z);
                }
            }
        }
        out
    }

    /// Fills cells without a height by a skin stretched between those that have one.
    ///
    /// At least one cell must have a height.
    pub(super) fn filled(mut self) -> Raster {
        let holes: Vec<usize> = (0..self.heights.len())
            .filter(|&k| self.heights[k].is_nan())
            .collect();
        if holes.is_empty() || holes.len() == self.heights.len() {
            return self;
        }
        let coarse = self.halved().filled();
        for &k in &holes {
            let (row, column) = (k / self.columns, k % self.columns);
            let at = |place: usize| (place as f64 + 0.5) / 2.0 - 0.5;
            self.heights[k] = coarse.at(at(column), at(row)) as f32;
        }
        for _ in 0..SWEEPS {
            for &k in &holes {
                let (row, column) = (k / self.columns, k % self.columns);
                let (mut sum, mut count) = (0.0, 0.0);
                let mut add = |there: bool, at: usize| {
                    if there {
                        sum += self.heights[at];
                        count += 1.0;
                    }
                };
                add(column > 0, k.wrapping_sub(1));
                add(column + 1 < self.columns, k + 1);
                add(row > 0, k.wrapping_sub(self.columns));
                add(row + 1 < self.rows, k + self.columns);
                let z = self.heights[k];
                self.heights[k] = z + RELAXED * (sum / count - z);
            }
        }
        self
    }

    /// Means of two by two cells.
    fn halved(&self) -> Raster {
        let (columns, rows) = (self.columns.div_ceil(2), self.rows.div_ceil(2));
        let mut coarse = Raster::empty(columns, rows);
        for row in 0..rows {
            for column in 0..columns {
                let (mut sum, mut count) = (0.0, 0.0);
                for r in 2 * row..(2 * row + 2).min(self.rows) {
                    for c in 2 * column..(2 * column + 2).min(self.columns) {
                        let z = self.heights[r * self.columns + c];
                        if !z.is_nan() {
                            sum += z;
                            count += 1.0;
                        }
                    }
                }
                if count > 0.0 {
                    coarse.heights[row * columns + column] = sum / count;
                }
            }
        }
        coarse
    }

    /// The height at a place counted in cells from the centre of the first, between the centres
    /// round it; beyond the outermost as at them.
    pub(super) fn at(&self, column: f64, row: f64) -> f64 {
        let side = |at: f64, count: usize| {
            let at = at.clamp(0.0, (count - 1) as f64);
            let low = (at as usize).min(count.saturating_sub(2));
            (low, (low + 1).min(count - 1), at - low as f64)
        };
        let (west, east, u) = side(column, self.columns);
        let (south, north, v) = side(row, self.rows);
        let z = |row: usize, column: usize| f64::from(self.heights[row * self.columns + column]);
        let low = z(south, west) + u * (z(south, east) - z(south, west));
        let high = z(north, west) + u * (z(north, east) - z(north, west));
        low + v * (high - low)
    }

    /// Rise per cell at every cell, by the differences to its neighbours.
    pub(super) fn steepness(&self) -> Raster {
        let mut steep = Raster::empty(self.columns, self.rows);
        let rise = |low: usize, high: usize, apart: usize| {
            (self.heights[high] - self.heights[low]) / apart.max(1) as f32
        };
        for row in 0..self.rows {
            for column in 0..self.columns {
                let k = row * self.columns + column;
                let (w, e) = (column.saturating_sub(1), (column + 1).min(self.columns - 1));
                let (s, n) = (row.saturating_sub(1), (row + 1).min(self.rows - 1));
                let across = rise(k - (column - w), k + (e - column), e - w);
                let along = rise(s * self.columns + column, n * self.columns + column, n - s);
                steep.heights[k] = across.hypot(along);
            }
        }
        steep
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::OneThread;

    fn made(columns: usize, rows: usize, z: impl Fn(usize, usize) -> f32) -> Raster {
        let cells = (0..rows).flat_map(|r| (0..columns).map(move |c| (r, c)));
        Raster {
            columns,
            rows,
            heights: cells.map(|(r, c)| z(r, c)).collect(),
        }
    }

    /// Against the lowest of all cells of a disk, one by one.
    #[test]
    fn the_lowest_in_a_disk_is_found() {
        for (columns, rows) in [(1, 1), (7, 3), (70, 131)] {
            let raster = made(columns, rows, |r, c| {
                ((r * 7919 + c * 104_729) % 997) as f32
            });
            for radius in [1, 2, 5, 9] {
                let fast = raster.lowest(radius, &OneThread);
                let slow = made(columns, rows, |r, c| {
                    let mut low = f32::INFINITY;
                    for y in r.saturating_sub(radius)..(r + radius + 1).min(rows) {
                        for x in c.saturating_sub(radius)..(c + radius + 1).min(columns) {
                            let (dy, dx) = (y.abs_diff(r), x.abs_diff(c));
                            if dx * dx + dy * dy <= radius * radius {
                                low = low.min(raster.heights[y * columns + x]);
                            }
                        }
                    }
                    low
                });
                assert_eq!(fast, slow, "{columns} x {rows}, {radius}");
            }
        }
    }

    /// A plane is the skin between its own edges, whatever the hole.
    #[test]
    fn a_hole_in_a_plane_is_filled_by_the_plane() {
        let plane = |r: usize, c: usize| 3.0 + 0.1 * r as f32 - 0.05 * c as f32;
        let mut raster = made(60, 40, plane);
        for r in 10..25 {
            for c in 20..36 {
                raster.heights[r * 60 + c] = f32::NAN;
            }
        }
        let filled = raster.filled();
        let off = |r: usize, c: usize| (filled.heights[r * 60 + c] - plane(r, c)).abs();
        let worst = (0..40).flat_map(|r| (0..60).map(move |c| (r, c)));
        let worst = worst.map(|(r, c)| off(r, c)).fold(0.0, f32::max);
        assert!(worst < 0.01, "{worst}");
    }

    #[test]
    fn heights_between_cells_lie_on_a_plane() {
        let raster = made(4, 3, |r, c| 2.0 * r as f32 - c as f32);
        assert!((raster.at(1.25, 0.5) - (1.0 - 1.25)).abs() < 1e-12);
        assert_eq!(raster.at(-5.0, 9.0), 4.0);
        let steep = raster.steepness();
        assert!(steep.heights.iter().all(|s| (s - 5f32.sqrt()).abs() < 1e-6));
    }
}
