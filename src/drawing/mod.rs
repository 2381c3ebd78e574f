//! Drawings: the plan, the ground plan, sheets of bands, cross-sections and long profiles as SVG,
//! true to scale.
//!
//! Takes an [`Outcome`](crate::outcome::Outcome), gives SVG text whose user unit is one
//! millimetre on paper (a hundredth of one in sections and profiles). Computes no result: every
//! number written on a sheet stands in the outcome; geometry here is for ink only.

mod access;
mod banded;
mod canvas;
mod drainage;
mod ground;
mod ink;
mod label;
mod legend;
mod marks;
mod plan;
mod profile;
mod region;
mod scale;
mod section;
mod sheet;
mod slopes;
mod squares;
mod taken;
mod trust;
mod wall_section;
mod wall_sheet;
mod walls;

pub use access::{access, has_access};
pub use drainage::drainage;
pub use ground::ground;
pub use ink::escape;
pub use plan::plan;
pub use profile::profiles;
pub use scale::{Paper, Scale};
pub(crate) use section::is_off_survey;
pub use section::{letters, sections};
pub use slopes::slopes;
pub use taken::taken_away;
pub use trust::trust;
pub use wall_section::wall_sections;
pub use wall_sheet::wall_sheet;
pub(crate) use wall_sheet::{stretches, takes};
pub use walls::walls;

/// Font of every sheet; the first that is there is taken.
pub(crate) const FONT: &str = "DejaVu Sans, Arial, sans-serif";

/// Cut, strong: hatch lines and letters.
pub(crate) const CUT: &str = "#B05915";
/// Cut, pale: area fill.
pub(crate) const CUT_PALE: &str = "#F6D9B3";
/// Fill, strong: dots and letters.
pub(crate) const FILL: &str = "#4A1C84";
/// Fill, pale: area fill.
pub(crate) const FILL_PALE: &str = "#D4CBEB";
/// Outlines of zones.
pub(crate) const ZONE_GREY: &str = "#6B6B6B";

/// Widths of lines on paper, mm.
pub(crate) mod width_mm {
    /// Hatch.
    pub(crate) const HATCH: f64 = 0.13;
    /// Existing contours, dimensions.
    pub(crate) const THIN: f64 = 0.18;
    /// Outlines of zones, every fifth existing contour.
    pub(crate) const MIDDLE: f64 = 0.25;
    /// New contours, finished surface.
    pub(crate) const NEW: f64 = 0.35;
    /// Walls, every fifth new contour, property lines.
    pub(crate) const HEAVY: f64 = 0.5;
}
