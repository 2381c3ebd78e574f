//! A ground filter: which points of a cloud without classes are ground, told by shape.
//!
//! Takes points twice. First the lowest of every cell; what stands out of them by more than a slope
//! allows, at every width up to the widest thing that stands on the ground, is no ground, and the
//! gaps are filled. Then every point is held against that ground.
//!
//! Memory goes with area by cell, [`MOST_CELLS`] at most, and not with the number of points.
//!
//! # Source
//!
//! T. J. Pingel, K. C. Clarke, W. A. McBride, An improved simple morphological filter for the
//! terrain classification of airborne LIDAR data, ISPRS Journal of Photogrammetry and Remote
//! Sensing 77 (2013), 21-30. Gaps are filled by a stretched skin in place of springs.

mod raster;

use super::words::{refused, thousands};
use crate::diag::Failure;
use crate::files::Workers;
use crate::geom::{Origin, P3, Point};
use crate::import::taken::{TakenAway, TakenCell};
use crate::job::Sieve;
use crate::units::NM_PER_M;
use raster::Raster;

/// Most cells, so that the filter takes no more than half a gigabyte.
const MOST_CELLS: f64 = 16_777_216.0;
/// Most cells for one point: with more, hardly a cell has a point round it. So a box that a header
/// makes up leads to no memory.
const CELLS_PER_POINT: f64 = 64.0;
/// Most cells across half of the widest thing.
const WIDEST_CELLS: f64 = 64.0;
/// A pit of one cell as steep as this is no ground but noise.
///
/// # Source
///
/// as the filter: low outliers, slope of 500 %
const PIT_SLOPE: f64 = 5.0;
/// Cells across the picture of what was taken away, at most.
const PICTURE_CELLS: usize = 120;

/// Where cells lie.
#[derive(Clone, Copy, Debug)]
struct Frame {
    /// South-west corner, nanometres from the origin.
    low: Point,
    cell_nm: i64,
    columns: usize,
    rows: usize,
    /// What heights count from, metres.
    base_m: f64,
}

impl Frame {
    /// Column and row of a place; `None` outside.
    fn cell(&self, p: Point) -> Option<(usize, usize)> {
        let column = usize::try_from((p.x - self.low.x).div_euclid(self.cell_nm)).ok()?;
        let row = usize::try_from((p.y - self.low.y).div_euclid(self.cell_nm)).ok()?;
        (column < self.columns && row < self.rows).then_some((column, row))
    }
}

/// The lowest point of every cell.
#[derive(Clone, Debug)]
pub(super) struct Lows {
    frame: Frame,
    raster: Raster,
}

impl Lows {
    /// Cells over an area given by two of its points.
    ///
    /// # Errors
    ///
    /// in words: parameters that make no filter, an area with too many cells
    pub(super) fn new(
        [low, high]: [P3; 2],
        points: u64,
        sieve: &Sieve,
        file: &str,
    ) -> Result<Lows, Failure> {
        holds(sieve, file)?;
        let count = |low: i64, high: i64| {
            (high.saturating_sub(low)).max(0) as f64 / NM_PER_M / sieve.cell_m + 1.0
        };
        let [columns, rows] = [count(low.p.x, high.p.x), count(low.p.y, high.p.y)];
        if columns * rows > MOST_CELLS {
            return Err(refused(
                file,
                "cloud-filter",
                format!(
                    "the ground filter would need {} cells of {} m; it takes {} at most",
                    thousands((columns * rows) as u64),
                    sieve.cell_m,
                    thousands(MOST_CELLS as u64)
                ),
                "give bounds, or a larger cell",
            ));
        }
        if columns * rows > points as f64 * CELLS_PER_POINT + 1.0 {
            return Err(refused(
                file,
                "cloud-filter",
                format!(
                    "{} points on {} cells of {} m: the ground filter cannot tell ground from so few",
                    thousands(points),
                    thousands((columns * rows) as u64),
                    sieve.cell_m
                ),
                "give a larger cell, or the classes that are ground",
            ));
        }
        let (columns, rows) = (columns as usize, rows as usize);
        Ok(Lows {
            frame: Frame {
                low: low.p,
                cell_nm: (sieve.cell_m * NM_PER_M) as i64,
                columns,
                rows,
                base_m: low.z,
            },
            raster: Raster::empty(columns, rows),
        })
    }

    /// Looks at points.
    pub(super) fn add(&mut self, points: &[P3]) {
        for point in points {
            if let Some((column, row)) = self.frame.cell(point.p) {
                let z = (point.z - self.frame.base_m) as f32;
                let low = &mut self.raster.heights[row * self.frame.columns + column];
                *low = low.min(z);
            }
        }
    }

    /// The ground under them; `None` without a point.
    pub(super) fn ground(self, sieve: &Sieve, workers: &dyn Workers) -> Option<Ground> {
        let Lows { frame, raster } = self;
        if raster.heights.iter().all(|z| z.is_nan()) {
            return None;
        }
        let lowest = raster;
        let mut surface = lowest.clone().filled();
        // Pits of one cell: points far below, from echoes and errors.
        let closed = surface.closed(1, workers);
        let deepest = (PIT_SLOPE * sieve.cell_m) as f32;
        let mut ground = lowest;
        for ((z, pit), closed) in ground
            .heights
            .iter_mut()
            .zip(&surface.heights)
            .zip(&closed.heights)
        {
            if closed - pit > deepest {
                *z = f32::NAN;
            }
        }
        surface = ground.clone().filled();
        let widest = (sieve.widest_m / 2.0 / sieve.cell_m).round() as usize;
        for radius in 1..=widest.max(1) {
            let opened = surface.opened(radius, workers);
            let allowed = (sieve.slope_rise_per_run * radius as f64 * sieve.cell_m) as f32;
            for ((z, before), opened) in ground
                .heights
                .iter_mut()
                .zip(&surface.heights)
                .zip(&opened.heights)
            {
                if before - opened > allowed {
                    *z = f32::NAN;
                }
            }
            surface = opened;
        }
        if ground.heights.iter().all(|z| z.is_nan()) {
            ground = surface;
        }
        let ground = ground.filled();
        Some(Ground {
            steep: ground.steepness(),
            ground,
            frame,
        })
    }
}

/// Refuses parameters that make no filter.
fn holds(sieve: &Sieve, file: &str) -> Result<(), Failure> {
    let wrong = |name: &str, value: f64, limits: &str| {
        refused(
            file,
            "cloud-filter",
            format!("{name} of the ground filter is {value}; it must be {limits}"),
            "leave it out to have the usual one",
        )
    };
    let cells = sieve.widest_m / 2.0 / sieve.cell_m;
    if !(0.01..=1000.0).contains(&sieve.cell_m) {
        return Err(wrong("the cell", sieve.cell_m, "0.01 to 1000 m"));
    }
    if !(0.5..=WIDEST_CELLS).contains(&cells) {
        let limits = format!("1 to {} cells of {} m", 2.0 * WIDEST_CELLS, sieve.cell_m);
        return Err(wrong("the widest thing", sieve.widest_m, &limits));
    }
    if !(0.0..=10.0).contains(&sieve.slope_rise_per_run) {
        return Err(wrong(
            "the slope",
            sieve.slope_rise_per_run,
            "0 to 10 (rise over run)",
        ));
    }
    for (name, value) in [
        ("the height", sieve.height_m),
        ("the height per slope", sieve.height_per_slope_m),
    ] {
        if !(0.0..=100.0).contains(&value) {
            return Err(wrong(name, value, "0 to 100 m"));
        }
    }
    Ok(())
}

/// Ground in cells.
#[derive(Clone, Debug)]
pub(super) struct Ground {
    frame: Frame,
    ground: Raster,
    steep: Raster,
}

/// A point held against the ground.
enum Lies {
    On,
    /// So many metres above it, in a cell.
    Above(f64, (usize, usize)),
    Below((usize, usize)),
    /// Outside the cells.
    Outside,
}

impl Ground {
    fn lies(&self, point: &P3, sieve: &Sieve) -> Lies {
        let frame = &self.frame;
        let Some(cell) = frame.cell(point.p) else {
            return Lies::Outside;
        };
        let at = |nm: i64, low: i64| (nm - low) as f64 / frame.cell_nm as f64 - 0.5;
        let (column, row) = (at(point.p.x, frame.low.x), at(point.p.y, frame.low.y));
        let above = point.z - frame.base_m - self.ground.at(column, row);
        let steep = self.steep.at(column, row) / sieve.cell_m;
        let within = sieve.height_m + sieve.height_per_slope_m * steep;
        if above.abs() <= within {
            Lies::On
        } else if above > 0.0 {
            Lies::Above(above, cell)
        } else {
            Lies::Below(cell)
        }
    }
}

/// Parts points into ground and what is taken away, and keeps a picture of the latter.
#[derive(Clone, Debug)]
pub(super) struct Sieving<'a> {
    ground: Ground,
    sieve: &'a Sieve,
    /// Cells of the filter in a cell of the picture, each way.
    times: usize,
    columns: usize,
    /// Points taken away, and the highest of them above the ground.
    cells: Vec<(u32, f64)>,
    /// Points taken away above the ground.
    pub(super) above: u64,
    /// The same below it.
    pub(super) below: u64,
    /// Points outside the box of the header.
    pub(super) outside: u64,
}

impl<'a> Sieving<'a> {
    pub(super) fn new(ground: Ground, sieve: &'a Sieve) -> Sieving<'a> {
        let Frame { columns, rows, .. } = ground.frame;
        let times = columns.max(rows).div_ceil(PICTURE_CELLS).max(1);
        let (columns, rows) = (columns.div_ceil(times), rows.div_ceil(times));
        Sieving {
            ground,
            sieve,
            times,
            columns,
            cells: vec![(0, 0.0); columns * rows],
            above: 0,
            below: 0,
            outside: 0,
        }
    }

    /// Those of the points that are ground.
    pub(super) fn keep(&mut self, points: &mut Vec<P3>) {
        points.retain(|point| {
            let (above, (column, row)) = match self.ground.lies(point, self.sieve) {
                Lies::On => return true,
                Lies::Above(above, cell) => {
                    self.above += 1;
                    (above, cell)
                }
                Lies::Below(cell) => {
                    self.below += 1;
                    (0.0, cell)
                }
                Lies::Outside => {
                    self.outside += 1;
                    return false;
                }
            };
            let cell = row / self.times * self.columns + column / self.times;
            let (count, highest) = &mut self.cells[cell];
            *count = count.saturating_add(1);
            *highest = highest.max(above);
            false
        });
    }

    /// The picture of what was taken away.
    pub(super) fn picture(&self, origin: Origin) -> TakenAway {
        let frame = &self.ground.frame;
        let cells = self.cells.iter().zip(0..);
        TakenAway {
            origin,
            low: frame.low,
            cell_m: self.sieve.cell_m * self.times as f64,
            columns: self.columns as u32,
            rows: (self.cells.len() / self.columns) as u32,
            above: self.above,
            below: self.below,
            cells: cells
                .filter(|((count, _), _)| *count > 0)
                .map(|(&(count, highest_m), k)| TakenCell {
                    column: k % self.columns as u32,
                    row: k / self.columns as u32,
                    count,
                    highest_m,
                })
                .collect(),
        }
    }
}
