//! What the ground itself tells of wrong shots: spikes, slipped numbers, made-up bays.
//!
//! Takes the ground with its survey, gives diagnostics. Takes nothing out and moves nothing: a
//! person decides.

mod bays;
mod foretell;
mod gross;
mod look;
mod numbering;
mod pairs;
mod plane;
mod spikes;

use crate::diag::Diagnostic;
use crate::geom::P3;
use crate::job::GroundSpec;
use crate::show::Show;
use crate::survey::{Shot, Survey};

use super::Terrain;
use super::fan::Near;
use super::leave_out::LeaveOut;

/// The ground with all that a search for doubtful shots goes by.
struct Looked<'a> {
    survey: &'a Survey,
    spec: &'a GroundSpec,
    terrain: &'a Terrain,
    left_out: &'a LeaveOut,
    near: Near,
    /// By vertex: whether a line runs through it.
    on_line: Vec<bool>,
    show: Show,
    soil_m: f64,
}

/// Looks for shots, numbers and triangles that are likely to be wrong.
///
/// # Input
///
/// `left_out` of the same terrain; `show` the unit to speak in; `soil_m` how exact soil shots
/// are meant to be
/// # Cost
///
/// O(n log n)
pub fn doubts(
    survey: &Survey,
    spec: &GroundSpec,
    terrain: &Terrain,
    left_out: &LeaveOut,
    show: Show,
    soil_m: f64,
) -> Vec<Diagnostic> {
    if terrain.is_dense() {
        return vec![Diagnostic::note(
            "not-searched",
            "points of so dense a scan are not searched for wrong heights one by one",
        )];
    }
    let mut on_line = vec![false; terrain.surface.vertices().len()];
    for v in terrain.line_edges.iter().flatten() {
        on_line[*v as usize] = true;
    }
    let looked = Looked {
        survey,
        spec,
        terrain,
        left_out,
        near: Near::new(&terrain.surface),
        on_line,
        show,
        soil_m,
    };
    let model = foretell::Model::of(&looked, &looked.heights());
    let told = foretell::foretell(&looked, &model);
    let numbering = numbering::look(&looked, &told);
    let mut spikes = spikes::look(&looked, model, told);
    spikes.add(gross::look(&looked));
    let mut said = numbering.words(&looked);
    // Heights that slipped along the numbers are all off their neighbours, none by itself.
    said.extend(spikes.words(&looked, |v| numbering.has_slipped(v)));
    said.extend(pairs::near_places(&looked));
    said.extend(bays::look(&looked));
    said.extend(pairs::unjoined_codes(&looked));
    said
}

impl Looked<'_> {
    /// Vertices that were shot.
    fn shot_places(&self) -> &[P3] {
        &self.terrain.surface.vertices()[..self.terrain.shots.len()]
    }

    /// Heights by vertex, as they were shot.
    fn heights(&self) -> Vec<f64> {
        let vertices = self.terrain.surface.vertices();
        vertices.iter().map(|v| v.z).collect()
    }

    /// The shot of a vertex, if it was shot.
    fn shot(&self, v: u32) -> Option<&Shot> {
        let shot = self.terrain.shots.get(v as usize)?;
        Some(&self.survey.shots[*shot])
    }

    /// "16"; the place where nothing was shot.
    fn name(&self, v: u32) -> String {
        self.shot(v)
            .map_or_else(|| self.place(v), |shot| shot.name.clone())
    }

    /// "shot 16"; the place where nothing was shot.
    fn kind_and_name(&self, v: u32) -> String {
        self.shot(v)
            .map_or_else(|| self.place(v), |shot| format!("shot {}", shot.name))
    }

    /// "the point at 12.0 ft E, 40.0 ft N" of an import, or the corner of a line.
    fn place(&self, v: u32) -> String {
        let origin = self.terrain.origin;
        let p = self.terrain.surface.vertices()[v as usize].p;
        let place = self
            .show
            .place(p.x_m() + origin.x_m as f64, p.y_m() + origin.y_m as f64);
        let what = match (v as usize) < self.terrain.num_measured() {
            true => "the point",
            false => "the corner of a line",
        };
        format!("{what} at {place}")
    }

    fn accuracy_m(&self, v: u32) -> f64 {
        self.terrain.accuracy_m(self.survey, v, self.soil_m)
    }

    /// A length with its unit, as rods are read.
    fn height(&self, m: f64) -> String {
        format!("{} {}", self.show.level(m), self.show.length_unit())
    }
}
