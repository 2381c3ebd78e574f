//! Where a GeoTIFF says that its cells lie.
//!
//! # Source
//!
//! Open Geospatial Consortium, GeoTIFF 1.1, OGC 19-008r4 (2019), annex B

use crate::units::Exact;

use super::geotiff::AGAIN;
use super::lattice::Steps;

/// The tags that place a grid.
pub(super) struct PlaceTags {
    /// Sizes of a cell: across, down, up.
    pub(super) scale: Option<Vec<f64>>,
    /// Column, row and level of a cell, and its place; six numbers a tie.
    pub(super) ties: Option<Vec<f64>>,
    /// Four rows of four: columns, rows and levels to places.
    pub(super) matrix: Option<Vec<f64>>,
}

/// Why a grid has no place: in words, and what to do.
pub(super) struct NotPlaced(pub(super) &'static str, pub(super) &'static str);

impl PlaceTags {
    /// Where the first cell lies and how places go on, for x and y.
    ///
    /// # Errors
    ///
    /// [`NotPlaced`]
    pub(super) fn steps(&self) -> Result<[Steps; 2], NotPlaced> {
        let steps = match (
            self.scale.as_deref(),
            self.ties.as_deref(),
            self.matrix.as_deref(),
        ) {
            (Some([across, down, up]), Some([i, j, _, x, y, z]), _)
                if *z == 0.0 && (*up == 0.0 || *up == 1.0) =>
            {
                by_tie([*across, *down], [*i, *j], [*x, *y])
            }
            (Some([_, _, _]), Some([_, _, _, _, _, _]), _) => {
                return Err(NotPlaced(
                    "the TIFF says that its heights are to be stretched or shifted, which is not done",
                    "write the grid again with heights as they are",
                ));
            }
            (Some(_), Some(ties), _) if ties.len() > 6 => {
                return Err(NotPlaced(
                    "the TIFF is tied to the ground at several points, so it may be bent",
                    "straighten it first, to a grid with one start and one cell size",
                ));
            }
            (None, _, Some(matrix)) if matrix.len() == 16 => {
                let flat = [2, 6, 8, 9, 11, 12, 13, 14]
                    .iter()
                    .all(|&k| matrix[k] == 0.0);
                if !flat || (matrix[10] != 0.0 && matrix[10] != 1.0) || matrix[15] != 1.0 {
                    return Err(NotPlaced(
                        "the TIFF lies tilted or stretched in height, which is not read",
                        "write the grid again with heights as they are",
                    ));
                }
                by_matrix(
                    [matrix[3], matrix[0], matrix[1]],
                    [matrix[7], matrix[4], matrix[5]],
                )
            }
            _ => {
                return Err(NotPlaced(
                    "the TIFF does not say where it lies: it has no start and cell size",
                    "write it as a GeoTIFF; a file beside it with its place (.tfw) is not read",
                ));
            }
        };
        steps.ok_or(NotPlaced("the place of the TIFF is no number", AGAIN))
    }
}

/// A tie of the cell at column `i`, row `j` to a place, and cell sizes.
fn by_tie(size: [f64; 2], [i, j]: [f64; 2], [x, y]: [f64; 2]) -> Option<[Steps; 2]> {
    let none = Exact::whole(0);
    let across = Exact::of_stored(size[0])?;
    let up = Exact::of_stored(size[1])?.negative();
    let start = |place: f64, cells: f64, step: Exact| {
        let before = step.times(Exact::of_stored(cells)?)?.negative();
        Exact::of_stored(place)?.plus(before)
    };
    Some([
        Steps {
            start: start(x, i, across)?,
            column: across,
            row: none,
        },
        Steps {
            start: start(y, j, up)?,
            column: none,
            row: up,
        },
    ])
}

/// Start, and steps along columns and rows, of x and y.
fn by_matrix(x: [f64; 3], y: [f64; 3]) -> Option<[Steps; 2]> {
    let steps = |[start, column, row]: [f64; 3]| {
        Some(Steps {
            start: Exact::of_stored(start)?,
            column: Exact::of_stored(column)?,
            row: Exact::of_stored(row)?,
        })
    };
    Some([steps(x)?, steps(y)?])
}
