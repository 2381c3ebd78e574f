//! What a reader tells of a file: its kind, its units, what was left out and why.

use crate::units::LengthUnit;

/// What was read from a file. `read` is `kept` and all of `left_out` together.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Facts {
    /// What the file is, in words: "LAS 1.4, point format 6".
    pub format: String,
    /// Unit of plan coordinates.
    pub plan_unit: UnitFound,
    /// Unit of heights.
    pub height_unit: UnitFound,
    /// What is counted: "points", "cells" or "faces".
    pub counted: &'static str,
    /// How many of them the file holds.
    pub read: u64,
    /// How many of them the ground rests on.
    pub kept: u64,
    /// The others, by reason.
    pub left_out: Vec<LeftOut>,
    /// What thinning lost; `None` if nothing was thinned.
    pub loss: Option<Loss>,
    /// How exact heights are meant to be, metres.
    pub height_error_m: f64,
}

/// A unit, and how it is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
pub struct UnitFound {
    /// The unit used.
    pub unit: LengthUnit,
    /// Who says so.
    pub from: UnitFrom,
    /// What the file states, where the user says another.
    pub overruled: Option<LengthUnit>,
}

/// Who says which unit a file is in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum UnitFrom {
    /// The user, for this file.
    Typed,
    /// The file itself.
    File,
    /// Nobody: it was taken for granted.
    TakenForGranted,
}

/// Things left out for one reason.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct LeftOut {
    /// Why, in words: "class 7 (low noise)", "flagged withheld", "thinned".
    pub why: String,
    /// How many.
    pub count: u64,
}

/// What the ground lost by thinning, measured against the points left out.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Loss {
    /// The tolerance that was aimed at, metres.
    pub tolerance_m: f64,
    /// Points left out by it.
    pub points: u64,
    /// How many of them were held against the thinned surface: all, or an even sample.
    pub looked_at: u64,
    /// The farthest of those off it, metres.
    pub worst_m: f64,
    /// Root mean square of those, metres.
    pub rms_m: f64,
    /// How many of those are farther off than the tolerance.
    pub beyond: u64,
}
