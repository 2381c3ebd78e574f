//! The ground: a surface over the shots of a survey, with outline, holes and breaklines.
//!
//! Takes a survey and how the job wants the ground made, gives a [`Terrain`]. Only here are
//! shots turned into triangles. Knows no feature.

mod build;
mod lines;
mod rim;
mod weave;

use crate::geom::{P3, Ring};
use crate::surface::{Label, Surface};
use crate::survey::Origin;

pub use build::build;

/// The label of measured ground in every surface of a job.
pub const GROUND: Label = 0;

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
    /// Lines the surface follows.
    pub breaklines: Vec<Vec<P3>>,
    /// Shots the surface rests on.
    pub num_shots: usize,
}
