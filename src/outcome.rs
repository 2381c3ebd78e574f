//! Everything one run of a job gives. Reports, sheets and drawings read it and compute nothing.

use crate::checks::{Caution, Finding, Severity, Wall};
use crate::design::{Design, KeepOffPlace};
use crate::diag::Diagnostic;
use crate::earthwork::{Balance, FeatureExtent, LayerQuantity, SecondMethod, Soil, Volumes, Work};
use crate::files::Input;
use crate::job::Job;
use crate::section::{Section, StreamProfile};
use crate::surface::Facts;
use crate::survey::{BookStatus, LevelBook, Survey, Visit};
use crate::terrain::{NotTrusted, Relief, Terrain, Trust};

/// The result of a run.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// The job.
    pub job: Job,
    /// The shots and level books.
    pub survey: Survey,
    /// Measured ground.
    pub terrain: Terrain,
    /// How far it may be off at each place, or why that is not computed.
    pub trust: Result<Trust, NotTrusted>,
    /// Facts about it.
    pub ground_facts: Facts,
    /// How it lies.
    pub relief: Relief,
    /// The design.
    pub design: Design,
    /// The soil taken.
    pub soil: Soil,
    /// Volumes from the ground to the settled soil.
    pub finished: Volumes,
    /// Volumes from the ground to the surface to be built: what is dug and placed.
    pub to_build: Volumes,
    /// Layers between the soil and the finished surface.
    pub layers: Vec<LayerQuantity>,
    /// How large and deep every feature is.
    pub extents: Vec<FeatureExtent>,
    /// What is dug and placed for every feature, in order.
    pub works: Vec<Work>,
    /// The same by parallel sections.
    pub second: Option<SecondMethod>,
    /// Balance of soil.
    pub balance: Balance,
    /// How far the ground may be off as a whole, metres.
    pub height_m: f64,
    /// Findings, gravest first.
    pub findings: Vec<Finding>,
    /// Walls needed.
    pub walls: Vec<Wall>,
    /// Keep-offs with their places.
    pub keep_offs: Vec<KeepOffPlace>,
    /// Cautions.
    pub cautions: Vec<Caution>,
    /// Cross-sections.
    pub sections: Vec<Section>,
    /// Long profiles of streams.
    pub profiles: Vec<StreamProfile>,
    /// What was doubtful in the input.
    pub diagnostics: Vec<Diagnostic>,
    /// Inputs read, in order: the job, then its survey files.
    pub inputs: Vec<Input>,
    /// Day of the run.
    pub date: String,
}

/// The answer of a job whose points have levels and no places: a quick visit.
#[derive(Clone, Debug)]
pub struct VisitOutcome {
    /// The job.
    pub job: Job,
    /// The level books.
    pub survey: Survey,
    /// Levels, and how steep it is from point to point.
    pub visit: Visit,
    /// What was doubtful in the input.
    pub diagnostics: Vec<Diagnostic>,
    /// Inputs read, in order: the job, then its survey files.
    pub inputs: Vec<Input>,
    /// Day of the run.
    pub date: String,
}

impl VisitOutcome {
    /// True if a level book does not close, so that no level of it is to be trusted.
    pub fn has_refused_book(&self) -> bool {
        let refused = |book: &LevelBook| book.status == BookStatus::Refused;
        self.survey.books.iter().any(refused)
    }
}

impl Outcome {
    /// Number of findings of a severity.
    pub fn count(&self, severity: Severity) -> usize {
        self.findings
            .iter()
            .filter(|f| f.severity == severity)
            .count()
    }

    /// True if any finding says stop.
    pub fn says_stop(&self) -> bool {
        self.count(Severity::Stop) > 0
    }
}
