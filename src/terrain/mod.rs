//! The ground: a surface over the shots of a survey, with outline, holes and breaklines.
//!
//! Takes a survey and how the job wants the ground made, gives a [`Terrain`]. Only here are
//! shots turned into triangles. Knows no feature.

mod build;
mod doubt;
mod fan;
mod given;
mod grade;
mod leave_out;
mod lines;
mod measured;
mod reach;
mod relief;
mod rim;
mod slope_bands;
mod trust;
mod weave;

use std::ops::Range;

use crate::geom::{Origin, P3, Ring};
use crate::surface::{Label, Surface};
use crate::survey::{PointClass, Survey};

pub use build::build;
pub use doubt::doubts;
pub use grade::{Grade, GradeArea};
pub use leave_out::{Guess, LeaveOut};
pub use relief::{Fall, Relief, Spot};
pub use slope_bands::{NUM_SLOPE_BANDS, SlopeBand, slope_band_of, slope_bands};
pub use trust::{NotTrusted, Trust, TrustPlace};

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
    /// Shots outside the outline, in a hole or in an area without data, ascending: no part of
    /// the ground.
    pub outside: Vec<usize>,
    /// Shots the surface rests on.
    pub num_shots: usize,
    /// The shot of each vertex, by number in the survey. Corners of lines given by coordinates
    /// and crossings are vertices too; they come after these.
    pub shots: Vec<usize>,
    /// The vertices each import gave, in the order of the survey; they come after those shot.
    pub imported: Vec<Imported>,
    /// Edges of the surface that lie on a line, each with its lower vertex first, sorted.
    pub line_edges: Vec<[u32; 2]>,
}

/// Vertices of the ground that an import gave.
#[derive(Clone, Debug, PartialEq)]
pub struct Imported {
    /// Their ids.
    pub vertices: Range<u32>,
    /// How exact heights of the source are meant to be, metres.
    pub height_error_m: f64,
}

impl Terrain {
    /// Number of vertices that were measured: shots and points of imports. Corners of lines given
    /// by coordinates, and crossings, come after them.
    pub fn num_measured(&self) -> usize {
        let last = self.imported.last();
        last.map_or(self.shots.len(), |last| last.vertices.end as usize)
    }

    /// True for a scan so dense that its points are not looked at one by one: no doubts are
    /// searched for and no trust map is drawn.
    pub fn is_dense(&self) -> bool {
        self.num_measured() - self.shots.len() > DENSE
    }

    /// The next vertices on lines, by vertex.
    fn line_neighbours(&self) -> Vec<Vec<u32>> {
        let mut neighbours = vec![Vec::new(); self.surface.vertices().len()];
        for &[a, b] in &self.line_edges {
            neighbours[a as usize].push(b);
            neighbours[b as usize].push(a);
        }
        neighbours
    }

    /// How exact the height of a vertex is meant to be, metres: by the class of its shot or of
    /// the import it is from; as soil where it was not measured.
    fn accuracy_m(&self, survey: &Survey, v: u32, soil_m: f64) -> f64 {
        match self.shots.get(v as usize).map(|&s| survey.shots[s].class) {
            Some(PointClass::Hard) => HARD_M.min(soil_m),
            Some(PointClass::Soil) => soil_m,
            None => {
                let mut from = self.imported.iter();
                let from = from.find(|from| from.vertices.contains(&v));
                from.map_or(soil_m, |from| from.height_error_m)
            }
        }
    }
}

/// More points of imports than this are as good as a picture of the ground: between them it is
/// no farther from any of them than a pace, and they have no names to be asked after.
const DENSE: usize = 500_000;

/// A hard shot is meant to be this exact, metres: a hundredth of a foot.
const HARD_M: f64 = 0.003;
