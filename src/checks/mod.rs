//! Checks: what the design would do to the people, the ground and the neighbours.
//!
//! Takes ground, design and the user's limits, gives [`Finding`]s. A check shows a number and
//! defers: it never says that anything is sound or permitted. Limits belong to the user.

mod access;
mod beside;
mod cautions;
mod cure;
mod depth;
mod detached;
mod dig_type;
mod drainage;
mod fills;
mod footing;
mod footprint;
mod grading;
mod guard;
mod keep_off;
mod levels;
mod no_room;
mod notice;
mod piles;
mod records;
mod register;
mod roots;
mod services;
mod slope;
mod steepness;
mod stream;
mod uses;
mod wall;
mod wall_entry;
mod wall_rules;
mod wall_work;
mod water;

use crate::design::{Design, KeepOffPlace, place_keep_offs};
use crate::diag::Diagnostic;
use crate::earthwork::{FeatureExtent, Soil, Volumes};
use crate::files::Workers;
use crate::geom::{Point, distance_m};
use crate::job::Job;
use crate::show::Show;
use crate::surface::Extremes;
use crate::survey::{Shot, Survey};
use crate::terrain::Terrain;
use crate::units::NM_PER_M;

use footprint::Footprint;
use register::Said;

pub use access::{Access, Closed, Gate, NarrowThere, Route, SlopeThere, check_access};
pub use cautions::{Caution, cautions};
pub use drainage::{Catchment, Drainage, Fall, House, PondKind, Standing, Station, Way};
pub use piles::PilePlace;
pub use register::{Rule, RuleAnswer, State, rules};
pub use roots::{InRoots, Tree};
pub use services::{InBand, Service, ServiceKind};
pub use wall::{Along, AtLimit, Basis, Wall, WallStation};
pub use wall_entry::{EntryStep, WallEntry};
pub use wall_work::{Surcharge, Tier, WallCase, WallSection, WallWork, What};

/// How grave a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// Do not dig or build like this.
    Stop,
    /// Look at this before work starts.
    Warn,
    /// An answer worth knowing.
    Note,
    /// Not checked, because.
    NotChecked,
}

impl Severity {
    /// All of them, gravest first.
    pub const ALL: [Severity; 4] = [
        Severity::Stop,
        Severity::Warn,
        Severity::Note,
        Severity::NotChecked,
    ];

    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Severity::Stop => "stop",
            Severity::Warn => "warn",
            Severity::Note => "note",
            Severity::NotChecked => "not checked",
        }
    }
}

/// Share by which a slope may pass its limit and still count as at it. The side of a bed that
/// falls runs a little steeper than its section, the flat facets of a round corner than its cone.
const AT_LIMIT: f64 = 0.01;

/// Heights and depths are sums of rounded parts: this share off a limit counts as at it.
const ROUNDING: f64 = 1.0e-6;

/// A number with its unit, as keys for machines.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Measure {
    /// The value, SI.
    pub value: f64,
    /// `m`, `m2`, `m3`, `rise_per_run`, `Pa`, `working days`, or `ratio` for a bare number.
    pub unit: &'static str,
}

/// What a check found.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Finding {
    /// Short name of the check, such as `slope` or `no-room`.
    pub rule: &'static str,
    /// The rules of the register it goes with, such as `EX-1`.
    pub ids: &'static [&'static str],
    /// How grave.
    pub severity: Severity,
    /// The feature it is about.
    pub feature: Option<String>,
    /// The answer in a sentence, in the job's unit.
    pub words: String,
    /// Where, in a few words; empty if everywhere.
    pub place: String,
    /// Where, absolute coordinates in metres.
    pub at_m: Option<[f64; 2]>,
    /// What was measured.
    pub measured: Option<Measure>,
    /// What it was held against.
    pub limit: Option<Measure>,
    /// Whose limit that is, and where it comes from.
    pub limit_from: String,
    /// What to do about it.
    pub cure: String,
    /// The cure as a change of the job file, where it is one.
    pub change: Option<Change>,
    /// Where the rules are from.
    pub source: String,
    /// Number of the caution that goes with it.
    pub caution: Option<u8>,
}

impl Finding {
    fn new(rule: &'static str, severity: Severity, words: impl Into<String>) -> Finding {
        Finding {
            rule,
            ids: &[],
            severity,
            feature: None,
            words: words.into(),
            place: String::new(),
            at_m: None,
            measured: None,
            limit: None,
            limit_from: String::new(),
            cure: String::new(),
            change: None,
            source: String::new(),
            caution: None,
        }
    }
}

/// A cure that a job file can take: one value of one feature.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Change {
    /// Name of the feature.
    pub feature: String,
    /// Key of its entry.
    pub key: String,
    /// The value as it would stand in the job file.
    pub value: String,
}

/// What every check may look at.
pub struct Context<'a> {
    /// The job.
    pub job: &'a Job,
    /// The survey.
    pub survey: &'a Survey,
    /// Measured ground.
    pub terrain: &'a Terrain,
    /// The design.
    pub design: &'a Design,
    /// The soil.
    pub soil: &'a Soil,
    /// Volumes from the ground to the surface to be built.
    pub to_build: &'a Volumes,
    /// How large and deep every feature is.
    pub extents: &'a [FeatureExtent],
    /// Threads.
    pub workers: &'a dyn Workers,
}

impl Context<'_> {
    fn show(&self) -> Show {
        Show::new(self.job.units)
    }

    /// Absolute coordinates in metres.
    fn absolute(&self, p: Point) -> [f64; 2] {
        let origin = self.terrain.origin;
        [p.x_m() + origin.x_m as f64, p.y_m() + origin.y_m as f64]
    }

    /// The shot nearest to a place, the first of several, and how far it is, metres.
    fn nearest_shot(&self, p: Point) -> Option<(f64, &Shot)> {
        let mut best: Option<(f64, &Shot)> = None;
        // East and west alone tell of most that they are farther; a whole nanometre more than
        // rounding can hide.
        let mut beyond_nm = u64::MAX;
        for shot in &self.survey.shots {
            if shot.p.x.abs_diff(p.x) > beyond_nm {
                continue;
            }
            let far = distance_m(shot.p, p);
            if best.is_none_or(|(least, _)| far < least) {
                best = Some((far, shot));
                beyond_nm = (far * NM_PER_M * (1.0 + 1.0e-9)) as u64 + 1;
            }
        }
        best
    }

    /// How far the soil of a feature lies below and above the ground.
    fn extremes(&self, feature: usize) -> Option<&Extremes> {
        self.extents.get(feature)?.whole.as_ref()?.extremes.as_ref()
    }

    fn place(&self, p: Point) -> String {
        let [x, y] = self.absolute(p);
        let near = self.nearest_shot(p).map_or(String::new(), |(far, shot)| {
            format!(", {} from shot {}", self.show().length(far), shot.name)
        });
        format!("{}{near}", self.show().place(x, y))
    }
}

/// What the checks found.
#[derive(Clone, Debug, Default)]
pub struct Checked {
    /// Findings, gravest first.
    pub findings: Vec<Finding>,
    /// Walls that are needed.
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
    said: Vec<Said>,
}

impl Checked {
    /// Takes a finding.
    fn find(&mut self, finding: Finding) {
        self.findings.push(finding);
    }

    /// Says that a rule was looked at, and what came of it.
    fn looked(&mut self, id: &'static str, words: impl Into<String>) {
        self.say(id, false, words.into());
    }

    /// Says that a rule could not be looked at, and what is missing.
    fn missing(&mut self, id: &'static str, because: impl Into<String>) {
        self.say(id, true, because.into());
    }

    fn say(&mut self, id: &'static str, is_missing: bool, words: String) {
        let said = Said {
            id,
            is_missing,
            words,
        };
        // Ten trees without a trunk are one answer.
        if !self.said.contains(&said) {
            self.said.push(said);
        }
    }
}

/// Runs all checks. A new one is a file here and a line below.
///
/// # Errors
///
/// a keep-off, a gate or a route whose places do not exist
pub fn check(context: &Context) -> Result<Checked, Diagnostic> {
    let mut out = Checked {
        keep_offs: place_keep_offs(context.job, context.survey)?,
        ..Checked::default()
    };
    levels::check(context, &mut out);
    slope::check(context, &mut out);
    beside::check(context, &mut out);
    uses::check(context, &mut out);
    depth::check(context, &mut out);
    footing::check(context, &mut out);
    grading::check(context, &mut out);
    fills::check(context, &mut out);
    water::check(context, &mut out);
    let found = keep_off::check(context, &out.keep_offs);
    out.findings.extend(found);
    no_room::check(context, &mut out);
    out.findings.extend(stream::check(context));
    out.findings.extend(detached::check(context));
    records::check(context, &mut out);
    wall_work::check(context, &mut out);
    drainage::check(context, &mut out);
    let features = 0..context.design.features.len();
    let footprints: Vec<Footprint> = features.map(|f| Footprint::of(context, f)).collect();
    access::check(context, &footprints, &mut out)?;
    roots::check(context, &footprints, &mut out);
    services::check(context, &footprints, &mut out);
    piles::check(context, &footprints, &mut out);
    out.findings.extend(not_checked());
    out.findings.sort_by_key(|f| f.severity);
    let rules = rules();
    for finding in &mut out.findings {
        let of = rules
            .iter()
            .filter(|r| finding.ids.contains(&r.id.as_str()));
        let sources: Vec<&str> = of.map(|r| r.source.as_str()).collect();
        finding.source = sources.join("; ");
    }
    let said = std::mem::take(&mut out.said);
    out.rules = register::answers(&out, &said);
    Ok(out)
}

/// What this version does not look at; said, so that silence is not taken for an answer.
fn not_checked() -> Vec<Finding> {
    const LIST: [(&str, &str); 4] = [
        (
            "water",
            "water levels, pump, overflow and whether the edges stay above water are not computed",
        ),
        (
            "storm",
            "how much rain falls and runs, storm water from above the yard and the water of a pump are not computed: drainage is where water runs, not how much",
        ),
        (
            "wall-strength",
            "no wall is designed here: sliding, overturning and bearing are for an engineer",
        ),
        (
            "deep-sliding",
            "slips deep in the ground, earthquakes, expansive clay, frost and groundwater are not looked at",
        ),
    ];
    LIST.map(|(rule, words)| Finding::new(rule, Severity::NotChecked, words))
        .to_vec()
}
