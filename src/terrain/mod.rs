//! The ground: a surface over the shots of a survey, with outline, holes and breaklines.
//!
//! Takes a survey and how the job wants the ground made, gives a [`Terrain`]. Only here are
//! shots turned into triangles. Knows no feature.

mod build;
mod lines;
mod relief;
mod rim;
mod slope_bands;
mod weave;

use crate::geom::{P3, Ring};
use crate::surface::{Label, Surface};
use crate::survey::Origin;

pub use build::build;
pub use relief::{Fall, Relief, Spot};
pub use slope_bands::{NUM_SLOPE_BANDS, SlopeBand, slope_band_of, slope_bands};

/// The label of measured ground in every surface of a job.
pub const GROUND: Label = 0;

/// An area where the ground is not known, such as under a stack of timber: no surface is made
/// there, and it is counted in nothing.
#[derive(Clone, Debug)]
pub struct NoData {
    /// Its outline, as given.
    pub ring: Ring,
    /// Plan area it takes out of the ground, square metres: what lies outside the outline, in a
    /// hole or in an area named before is not in it.
    pub area_m2: f64,
}

/// Ground as it was measured; never changed.
#[derive(Clone, Debug, Default)]
pub struct Terrain {
    /// The surface, every facet labelled [`GROUND`].
    pub surface: Surface,
    /// The local origin of all plan positions.
    pub origin: Origin,
    /// Limit of the data, if the job gives one.
    pub outline: Option<Ring>,
    /// Areas without ground.
    pub holes: Vec<Ring>,
    /// Areas where the ground is not known.
    pub no_data: Vec<NoData>,
    /// Plan area taken off at the rim because its triangles had too long an edge, square metres:
    /// inside the outline, but without ground.
    pub trimmed_m2: f64,
    /// Lines the surface follows.
    pub breaklines: Vec<Vec<P3>>,
    /// Shots the surface rests on.
    pub num_shots: usize,
}
