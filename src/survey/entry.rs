//! What a reader found out about one point: where it is, how high it is, or only one of both.
//!
//! Plain data, absolute. Knows no file format; [`Survey::read`](super::Survey::read) joins the
//! entries of all files by name.

use crate::diag::At;
use crate::job::{GridSpec, Side};

use super::PointClass;

/// One point as a reader found it.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Name as booked.
    pub name: String,
    /// Where it is; `None` if this row does not say.
    pub whereabouts: Option<Whereabouts>,
    /// Elevation, metres; `None` if this row does not say.
    pub z_m: Option<f64>,
    /// Code, such as `fence`; empty if none.
    pub code: String,
    /// Class from the code.
    pub class: PointClass,
    /// What this row may become.
    pub role: Role,
    /// File and line it was booked on.
    pub at: At,
}

/// What becomes of an entry once place and height are known.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Role {
    /// A shot of the ground.
    #[default]
    Ground,
    /// A turning point: a shot of the ground if its place is told anywhere, and nothing is
    /// missing if it is not.
    Turning,
    /// A point of given level: never a shot of the ground.
    Control,
}

impl Entry {
    /// Coordinates, whole nanometres east and north, if the row gives them.
    pub fn coordinates(&self) -> Option<(i64, i64)> {
        match self.whereabouts {
            Some(Whereabouts::Coordinates { x_nm, y_nm }) => Some((x_nm, y_nm)),
            _ => None,
        }
    }
}

/// The ways to say where a point is.
#[derive(Clone, Debug, PartialEq)]
pub enum Whereabouts {
    /// Coordinates.
    Coordinates {
        /// East, whole nanometres, absolute.
        x_nm: i64,
        /// North, whole nanometres, absolute.
        y_nm: i64,
    },
    /// Tapes from corners.
    Tapes {
        /// In the order they were booked.
        tapes: Vec<Tape>,
        /// Side of the line from the first corner to the second.
        side: Option<Side>,
    },
    /// Beside the baseline.
    Offset {
        /// Along the baseline, metres.
        station_m: f64,
        /// Left of it, metres; negative for right.
        left_m: f64,
    },
    /// One tape and its direction.
    Bearing {
        /// The tape.
        tape: Tape,
        /// Unit vector, east and north.
        toward: [f64; 2],
    },
    /// A crossing of two lines of a grid.
    Grid {
        /// The line across, counted along the first direction.
        column: GridLine,
        /// The line along, counted beside it.
        row: GridLine,
        /// How the grid lies, where a grid file says it.
        frame: Option<Box<GridSpec>>,
    },
}

/// A tape from a corner.
#[derive(Clone, Debug, PartialEq)]
pub struct Tape {
    /// Name of the corner as booked.
    pub corner: String,
    /// As taped, metres.
    pub length_m: f64,
    /// The cell.
    pub at: At,
}

/// One line of a grid.
#[derive(Clone, Debug, PartialEq)]
pub enum GridLine {
    /// By its distance, metres.
    At(f64),
    /// By its number in the file, from 0.
    Nth(usize),
    /// As booked, and as a distance in metres if it is a number.
    Named(String, Option<f64>),
}
