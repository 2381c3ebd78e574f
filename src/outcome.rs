//! Everything one run of a job gives. Reports, sheets and drawings read it and compute nothing.

use crate::checks::{Access, Caution, Drainage, Finding, RuleAnswer, Severity, Wall, WallWork};
use crate::design::{Design, KeepOffPlace};
use crate::diag::Diagnostic;
use crate::earthwork::{
    Balance, FeatureExtent, LayerQuantity, Lift, SecondMethod, Soil, Volumes, Work,
};
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
    /// Fills that are tamped in layers, by feature, the lowest layer first.
    pub lifts: Vec<(String, Vec<Lift>)>,
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
    /// Every rule that is known, and what became of it.
    pub rules: Vec<RuleAnswer>,
    /// Where water runs.
    pub drainage: Drainage,
    /// Gates and ways.
    pub access: Access,
    /// Walls as they are built.
    pub wall_works: Vec<WallWork>,
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

/// What a survey gives, whatever is laid on it; fields as in [`Outcome`].
#[derive(Clone, Debug)]
pub(crate) struct Base {
    pub(crate) survey: Survey,
    pub(crate) terrain: Terrain,
    pub(crate) trust: Result<Trust, NotTrusted>,
    pub(crate) ground_facts: Facts,
    pub(crate) relief: Relief,
    pub(crate) diagnostics: Vec<Diagnostic>,
}

/// What a design means on its ground; fields as in [`Outcome`].
#[derive(Clone, Debug)]
pub(crate) struct Answers {
    pub(crate) soil: Soil,
    pub(crate) finished: Volumes,
    pub(crate) to_build: Volumes,
    pub(crate) layers: Vec<LayerQuantity>,
    pub(crate) extents: Vec<FeatureExtent>,
    pub(crate) works: Vec<Work>,
    pub(crate) lifts: Vec<(String, Vec<Lift>)>,
    pub(crate) second: Option<SecondMethod>,
    pub(crate) balance: Balance,
    pub(crate) height_m: f64,
    pub(crate) findings: Vec<Finding>,
    pub(crate) walls: Vec<Wall>,
    pub(crate) keep_offs: Vec<KeepOffPlace>,
    pub(crate) rules: Vec<RuleAnswer>,
    pub(crate) drainage: Drainage,
    pub(crate) access: Access,
    pub(crate) wall_works: Vec<WallWork>,
    pub(crate) cautions: Vec<Caution>,
    pub(crate) sections: Vec<Section>,
    pub(crate) profiles: Vec<StreamProfile>,
    pub(crate) inputs: Vec<Input>,
}

impl Outcome {
    pub(crate) fn of(
        job: Job,
        base: Base,
        design: Design,
        said: Vec<Diagnostic>,
        answers: Answers,
        date: String,
    ) -> Outcome {
        let mut diagnostics = base.diagnostics;
        diagnostics.extend(said);
        Outcome {
            job,
            survey: base.survey,
            terrain: base.terrain,
            trust: base.trust,
            ground_facts: base.ground_facts,
            relief: base.relief,
            design,
            soil: answers.soil,
            finished: answers.finished,
            to_build: answers.to_build,
            layers: answers.layers,
            extents: answers.extents,
            works: answers.works,
            lifts: answers.lifts,
            second: answers.second,
            balance: answers.balance,
            height_m: answers.height_m,
            findings: answers.findings,
            walls: answers.walls,
            keep_offs: answers.keep_offs,
            rules: answers.rules,
            drainage: answers.drainage,
            access: answers.access,
            wall_works: answers.wall_works,
            cautions: answers.cautions,
            sections: answers.sections,
            profiles: answers.profiles,
            diagnostics,
            inputs: answers.inputs,
            date,
        }
    }

    /// Puts another design on the same survey and ground.
    pub(crate) fn redesign(
        &mut self,
        job: Job,
        design: Design,
        diagnostics: Vec<Diagnostic>,
        answers: Answers,
    ) {
        self.job = job;
        self.design = design;
        self.diagnostics = diagnostics;
        self.soil = answers.soil;
        self.finished = answers.finished;
        self.to_build = answers.to_build;
        self.layers = answers.layers;
        self.extents = answers.extents;
        self.works = answers.works;
        self.lifts = answers.lifts;
        self.second = answers.second;
        self.balance = answers.balance;
        self.height_m = answers.height_m;
        self.findings = answers.findings;
        self.walls = answers.walls;
        self.keep_offs = answers.keep_offs;
        self.rules = answers.rules;
        self.drainage = answers.drainage;
        self.access = answers.access;
        self.wall_works = answers.wall_works;
        self.cautions = answers.cautions;
        self.sections = answers.sections;
        self.profiles = answers.profiles;
        self.inputs = answers.inputs;
    }

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
