//! Where the cells of a grid lie: positions from exact starts and steps, rounded once.

use crate::diag::{At, Diagnostic};
use crate::geom::{Origin, Point};
use crate::job::ImportSpec;
use crate::units::{Exact, MAX_COORDINATE_M, NM_PER_M, Scale, round_ratio};

/// Most cells read: their faces take 48 bytes each, 5 GB in all.
pub(super) const MAX_CELLS: u64 = 100_000_000;

/// Thinnest cell, nanometres: a micrometre. Positions are rounded to a nanometre, and a cell
/// must keep its shape through that.
const MIN_CELL_NM: f64 = 1000.0;

/// One coordinate of cell centres: `(start + column * columns + row * rows) / den` nanometres.
#[derive(Clone, Copy, Debug)]
struct Axis {
    start: i128,
    column: i128,
    row: i128,
    den: i128,
}

impl Axis {
    fn at(&self, column: u32, row: u32) -> i128 {
        let numerator = self.start + self.column * i128::from(column) + self.row * i128::from(row);
        round_ratio(numerator, self.den)
    }
}

/// How one coordinate goes with column and row, in the unit of the file.
#[derive(Clone, Copy, Debug)]
pub(super) struct Steps {
    /// Of the first cell of the first row.
    pub(super) start: Exact,
    /// From a column to the next.
    pub(super) column: Exact,
    /// From a row to the next.
    pub(super) row: Exact,
}

/// Which point of the first cell a start is given for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Anchor {
    /// Its centre.
    Centre,
    /// The corner before it in columns and rows.
    Corner,
}

/// A grid of cell centres, rows counted as the file gives them.
#[derive(Clone, Debug)]
pub(super) struct Lattice {
    x: Axis,
    y: Axis,
    columns: u32,
    rows: u32,
    origin: Origin,
    /// Columns and rows turn the way x and y do.
    is_turned: bool,
    /// Plan area of a cell, square metres.
    cell_m2: f64,
}

impl Lattice {
    /// Lays out a grid: x and y of its first cell and how they go on.
    ///
    /// # Errors
    ///
    /// a grid without two rows and columns, too many cells, cells too thin, or places beyond
    /// [`MAX_COORDINATE_M`]
    pub(super) fn new(
        spec: &ImportSpec,
        [columns, rows]: [u32; 2],
        [x, y]: [(Steps, Anchor); 2],
        scale: Scale,
    ) -> Result<Lattice, Diagnostic> {
        let fault = |code, message: String, help: &str| {
            Diagnostic::error(code, message)
                .at(At::file(&spec.file))
                .help(help)
        };
        let cells = u64::from(columns) * u64::from(rows);
        if columns < 2 || rows < 2 {
            return Err(fault(
                "no-faces",
                format!("a grid of {columns} columns and {rows} rows has no faces"),
                "give a grid of at least two columns and two rows",
            ));
        }
        if cells > MAX_CELLS {
            return Err(fault(
                "grid-too-large",
                format!("the grid has {cells} cells; at most {MAX_CELLS} are read"),
                "cut out the part that is dug, or take every second row and column",
            ));
        }
        let last = [columns - 1, rows - 1];
        let (Some(x), Some(y)) = (axis(x, scale, last), axis(y, scale, last)) else {
            return Err(fault(
                "bad-grid",
                "the start or the step of the grid has too many digits".into(),
                "write coordinates in metres or feet, with as many decimals as were measured",
            ));
        };
        let limit = (MAX_COORDINATE_M * NM_PER_M) as i128;
        let ends = [
            (0, 0),
            (columns - 1, 0),
            (0, rows - 1),
            (columns - 1, rows - 1),
        ];
        let corners = ends.map(|(c, r)| (x.at(c, r), y.at(c, r)));
        if let Some(&(x, y)) = corners
            .iter()
            .find(|(x, y)| x.abs() > limit || y.abs() > limit)
        {
            return Err(fault(
                "out-of-range",
                format!(
                    "a corner of the grid lies at {:.0} m east, {:.0} m north; coordinates go up \
                     to {MAX_COORDINATE_M:e} m",
                    x as f64 / NM_PER_M,
                    y as f64 / NM_PER_M
                ),
                "check the start and the cell size, and the unit",
            ));
        }
        let step = |axis: &Axis, of: i128| of as f64 / axis.den as f64;
        let (cx, cy) = (step(&x, x.column), step(&y, y.column));
        let (rx, ry) = (step(&x, x.row), step(&y, y.row));
        let twist = cx * ry - cy * rx;
        let longest = (cx + rx).hypot(cy + ry).max((cx - rx).hypot(cy - ry));
        if twist == 0.0 || twist.abs() / longest < MIN_CELL_NM {
            return Err(fault(
                "bad-grid",
                "the cells of the grid are thinner than a micrometre".into(),
                "check the cell size, and the unit",
            ));
        }
        let west = corners.iter().map(|c| c.0).min().unwrap_or(0);
        let south = corners.iter().map(|c| c.1).min().unwrap_or(0);
        Ok(Lattice {
            x,
            y,
            columns,
            rows,
            origin: Origin::below(west as i64, south as i64),
            is_turned: twist > 0.0,
            cell_m2: twist.abs() / NM_PER_M / NM_PER_M,
        })
    }

    /// Number of columns.
    pub(super) fn columns(&self) -> usize {
        self.columns as usize
    }

    /// Number of rows.
    pub(super) fn rows(&self) -> usize {
        self.rows as usize
    }

    /// Where the local frame begins.
    pub(super) fn origin(&self) -> Origin {
        self.origin
    }

    /// True if column, row and up are a right-handed frame; false in the usual grid, whose rows
    /// run south.
    pub(super) fn is_turned(&self) -> bool {
        self.is_turned
    }

    /// Plan area of a cell, square metres.
    pub(super) fn cell_m2(&self) -> f64 {
        self.cell_m2
    }

    /// East coordinates of the columns in the local frame, where they are the same in every row.
    pub(super) fn east(&self) -> Option<Vec<i64>> {
        let is_straight = self.x.row == 0 && self.y.column == 0;
        let places = (0..self.columns).map(|column| self.place(self.x.at(column, 0), 0).x);
        is_straight.then(|| places.collect())
    }

    /// Where the centre of a cell lies, in the local frame.
    pub(super) fn at(&self, column: u32, row: u32) -> Point {
        self.place(self.x.at(column, row), self.y.at(column, row))
    }

    fn place(&self, x: i128, y: i128) -> Point {
        let local = |nm: i128, metres: i64| (nm - i128::from(metres) * 1_000_000_000) as i64;
        Point::new(local(x, self.origin.x_m), local(y, self.origin.y_m))
    }
}

/// Starts and steps over one denominator; half a step on where a corner is given.
fn axis((steps, anchor): (Steps, Anchor), scale: Scale, last: [u32; 2]) -> Option<Axis> {
    let ([start, column, row], den) = scale.over_one([steps.start, steps.column, steps.row])?;
    let (twice, den) = (start.checked_mul(2)?, den.checked_mul(2)?);
    let start = match anchor {
        Anchor::Centre => twice,
        Anchor::Corner => twice.checked_add(column)?.checked_add(row)?,
    };
    let axis = Axis {
        start,
        column: column.checked_mul(2)?,
        row: row.checked_mul(2)?,
        den,
    };
    // Whatever column and row are asked for lies inside 128 bits, and rounding adds a half.
    let [columns, rows] = last.map(i128::from);
    let reach = axis
        .start
        .abs()
        .checked_add(axis.column.abs().checked_mul(columns)?)?
        .checked_add(axis.row.abs().checked_mul(rows)?)?;
    reach.checked_add(den)?;
    Some(axis)
}
