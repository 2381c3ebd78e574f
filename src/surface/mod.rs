//! Surfaces of flat facets over the lattice: building, looking up, composing, comparing.
//!
//! Takes vertices and triangles, gives heights, profiles, contours, volumes and composed surfaces.
//! Knows labels as numbers only: no ground, no feature, no soil.

mod border;
mod clip;
mod compose;
mod contour;
mod delta;
mod extreme;
mod facts;
mod grid;
mod nearby;
mod overlay;
mod part;
mod patch;
mod plane;
mod profile;
mod shares;
mod sum;
#[allow(clippy::module_inception)]
mod surface;
mod tally;
mod weld;

pub use border::{areas, borders};
pub use compose::{ComposeError, Composed, Rule, STEEPEST};
pub use contour::{Contour, Round, contour_interval_m, contour_pieces, contours, levels_between};
pub use delta::{Delta, UndoError};
pub use extreme::{Extreme, Extremes};
pub use facts::{Facts, LabelFacts};
pub use overlay::{Within, cut_fill, cut_fill_raised, cut_fill_within, cut_fill_without};
pub use part::{BorderEdge, SurfacePart};
pub use patch::Patch;
pub use plane::{Label, Plane, Source};
pub use profile::{Profile, ProfilePoint};
pub use surface::{Facet, Surface, SurfaceError};
pub use tally::{CutFill, LabelledCutFill, Tally};

/// Lattice units of slack, times steepness, within which two heights count as the same.
///
/// A crossing is rounded by up to 0.71 units once and snapped by up to one more per round; the
/// envelope of two planes is then off by that times the sum of their slopes.
pub const HEIGHT_TOLERANCE_UNITS: f64 = 4.0;

/// Height tolerance in metres where planes of these steepnesses meet.
pub(crate) fn height_tolerance_m(steepness: f64) -> f64 {
    HEIGHT_TOLERANCE_UNITS / crate::units::NM_PER_M * (1.0 + steepness)
}
