//! How every point placed by tape was placed: plain results in metres, ready to be written as
//! JSON.

use serde::Serialize;

use crate::diag::At;
use crate::units::NM_PER_M;

use super::fix::Ellipse;

/// The way a shot was placed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// Tapes from corners.
    Tapes,
    /// Beside the baseline.
    Offset,
    /// One tape and a bearing.
    Bearing,
    /// A crossing of a grid.
    Grid,
}

/// A shot placed by tape.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TieFix {
    /// Name of the shot.
    pub name: String,
    /// How it was placed.
    pub way: Way,
    /// Corners it was placed from.
    pub corners: Vec<String>,
    /// East and north, whole nanometres, absolute (written in metres).
    #[serde(rename = "place_m", serialize_with = "as_metres")]
    pub place_nm: (i64, i64),
    /// Sine of the angle at which the best two tapes cross; only for tapes from corners.
    pub sin_crossing: Option<f64>,
    /// How many times the error of a tape the place may be off; only for tapes from corners.
    pub times_error: Option<f64>,
    /// 1-sigma error ellipse from the error of the tapes; `None` where it is not known.
    pub ellipse: Option<Ellipse>,
    /// Largest difference between a tape and the place, metres; only where a tape checks.
    pub largest_residual_m: Option<f64>,
    /// File and line.
    pub at: At,
}

/// A corner that tapes begin at.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CornerFix {
    /// Its name.
    pub name: String,
    /// East and north, whole nanometres, absolute (written in metres).
    #[serde(rename = "place_m", serialize_with = "as_metres")]
    pub place_nm: (i64, i64),
    /// True if its place was given, false if it follows from tapes.
    pub is_given: bool,
    /// 1-sigma error ellipse against the corners it hangs on; `None` for those.
    pub ellipse: Option<Ellipse>,
}

/// A shot that is not placed and so is no part of the ground.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Undecided {
    /// Its name.
    pub name: String,
    /// The places it may be at, absolute, metres.
    pub answers_m: Vec<[f64; 2]>,
    /// Why it is not placed.
    pub why: String,
    /// File and line.
    pub at: At,
}

/// Whole nanometres written in metres.
fn as_metres<S: serde::Serializer>(nm: &(i64, i64), out: S) -> Result<S::Ok, S::Error> {
    [nm.0 as f64 / NM_PER_M, nm.1 as f64 / NM_PER_M].serialize(out)
}
