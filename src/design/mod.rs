//! The design: features laid on the ground, one after the other.
//!
//! Takes the feature entries of a job, the survey and the ground; gives a [`Design`]: the
//! finished surface and the one to be built before it settles, every facet labelled by feature
//! and part. A kind of feature is one file with a [`Kind`], listed in [`KINDS`]; past this room
//! no kind is special. Knows no soil, no price, no limit.

mod basin;
mod bench;
mod berm;
mod centre;
mod channel;
mod crest;
mod entry;
mod imported;
mod invert;
mod keep_off;
mod lay;
mod layer;
mod ledge;
mod levels;
mod outline;
mod pad;
mod pile;
mod pit;
mod room;
mod root;
pub mod shape;
mod stream;
mod stretch;
mod strip;
mod trench;
mod wall;

use std::fmt::Debug;

use crate::diag::{At, Diagnostic};
use crate::files::{Files, Input};
use crate::geom::{Origin, P3, Point};
use crate::job::{LevelSpec, LevelWord, Table};
use crate::surface::{Delta, Label, Patch, Rule, Source, Surface};
use crate::survey::Survey;
use crate::units::LengthUnit;

use shape::{Corners, FACE_RUN_PER_RISE, Sides};

pub use keep_off::{KeepOffPlace, place_keep_offs};
pub use lay::{lay, read_features};
pub use layer::{Amount, Layer, Layers, LevelsAre};
pub(crate) use layer::{BESIDE_FLOOR, STEEPEST_FLOOR_RISE_PER_RUN};
pub use room::{FaceStation, Stop};
pub use wall::{BaseStone, DrainStone, Pipe, WallPlan, WallStretch};

/// All kinds of feature. A new one is a new file and a line here.
pub const KINDS: &[Kind] = &[
    basin::KIND,
    stream::KIND,
    berm::KIND,
    strip::KIND,
    channel::KIND,
    trench::KIND,
    wall::KIND,
    imported::KIND,
    pad::KIND,
    pile::KIND,
];

/// A kind of feature: its name in the job, and how its entry is read.
#[derive(Debug)]
pub struct Kind {
    /// Word after `kind =`.
    pub name: &'static str,
    /// Reads an entry; faults go to the diagnostics, and then there is no feature.
    pub read: ReadShape,
}

/// Reads the entry of one feature.
pub type ReadShape = fn(&mut Table, &mut Vec<Diagnostic>) -> Option<Box<dyn Shape>>;

/// A feature's entry after it was read.
#[derive(Debug)]
pub struct ReadFeature {
    /// Its kind.
    pub kind: &'static Kind,
    /// Its parameters.
    pub shape: Box<dyn Shape>,
    /// What lies on its soil.
    pub layers: Layers,
    /// Keep-offs it stops at, and where the job says so.
    pub keep_clear_of: Option<(Vec<String>, At)>,
}

/// A feature with its parameters, ready to be laid.
pub trait Shape: Debug + Send + Sync {
    /// Says what can be seen to be wrong before there is a ground: places and benchmarks that do
    /// not exist, counts that do not match. All of it.
    fn check(&self, survey: &Survey, faults: &mut Vec<Diagnostic>);

    /// Turns parameters into patches.
    ///
    /// # Errors
    ///
    /// places that do not exist, levels that make no sense, in words for the user
    fn lay(&self, site: &Site, label: Labels) -> Result<Laid, Diagnostic>;

    /// Which surface its levels describe where the job does not say.
    fn levels_are(&self) -> LevelsAre {
        LevelsAre::Finished
    }
}

/// What a feature may look at while it is laid.
pub struct Site<'a> {
    /// The shots.
    pub survey: &'a Survey,
    /// The files of the job.
    pub files: &'a dyn Files,
    /// Ground as measured.
    pub ground: &'a Surface,
    /// The finished surface so far.
    pub so_far: &'a Surface,
    /// All surfaces so far: finished, and those that differ from it while the work goes on.
    pub surfaces: Vec<&'a Surface>,
    /// Longest chord error of round corners, metres.
    pub chord_m: f64,
    /// How deep the base of a wall is buried where nothing is said, for one of its height.
    pub buried_per_height: f64,
    /// Settlement allowance of what lies on top so far, by label: the height added as a share of
    /// the finished one.
    pub settlement: Vec<f64>,
    /// Unit of the job, for words.
    pub units: LengthUnit,
    /// Whole-metre origin of plan positions, for words.
    pub origin: Origin,
    /// Thickness of the layers of the feature, metres: by so much a shape is shifted after it
    /// was laid, and its sides must still reach.
    pub layers_m: f64,
}

impl Site<'_> {
    /// A level that does not depend on the place, metres; `None` for a depth or height.
    ///
    /// # Errors
    ///
    /// below the benchmark, without a benchmark
    pub fn fixed_level(&self, spec: &LevelSpec) -> Result<Option<f64>, Diagnostic> {
        match spec.word {
            LevelWord::Level(z) => Ok(Some(z)),
            LevelWord::BelowBenchmark(drop) => match &self.survey.benchmark {
                Some(benchmark) => Ok(Some(benchmark.level_m - drop)),
                None => Err(entry::no_benchmark(&spec.at)),
            },
            LevelWord::Depth(_) | LevelWord::Height(_) => Ok(None),
        }
    }

    /// A level at a place: depths and heights count from the measured ground there.
    ///
    /// # Errors
    ///
    /// no ground there; below the benchmark, without a benchmark
    pub fn level_at(&self, spec: &LevelSpec, p: Point) -> Result<f64, Diagnostic> {
        if let Some(z) = self.fixed_level(spec)? {
            return Ok(z);
        }
        let ground = self.ground.z_at(p).ok_or_else(|| {
            Diagnostic::error(
                "no-ground-there",
                "there is no ground under this place to count from",
            )
            .at(spec.at.clone())
            .help("give the level itself, or move the place inside the survey")
        })?;
        Ok(match spec.word {
            LevelWord::Depth(depth) => ground - depth,
            LevelWord::Height(height) => ground + height,
            LevelWord::Level(z) => z,
            LevelWord::BelowBenchmark(_) => ground,
        })
    }
}

/// Farthest a side may run and highest it may rise, metres. Beyond lies a mistyped level.
const FARTHEST_SIDE_M: f64 = 2_000.0;

impl Site<'_> {
    /// The level to build to, so that a bed of this level is left when the fill under it has
    /// settled.
    pub fn built_level(&self, p: Point, z: f64) -> f64 {
        let share = self
            .so_far
            .facet_at(p)
            .and_then(|f| self.settlement.get(self.so_far.label(f) as usize))
            .copied()
            .unwrap_or(0.0);
        let fill = self
            .ground
            .z_at(p)
            .map_or(0.0, |ground| (z - ground).max(0.0));
        z + share * fill
    }

    /// A length in the job's unit, for words.
    pub fn length(&self, m: f64) -> String {
        in_unit(self.units, m)
    }

    /// A place in the job's unit and the survey's coordinates, for words.
    pub fn place(&self, p: Point) -> String {
        let x = p.x_m() + self.origin.x_m as f64;
        let y = p.y_m() + self.origin.y_m as f64;
        format!("{} E, {} N", self.length(x), self.length(y))
    }

    /// Sides that start at these places and reach the surface that lies within their reach.
    ///
    /// The reach is the least distance within which no surface so far is higher (or, for a fill,
    /// lower) than the end of the sides. So a side is as long as it must be, whatever the hills
    /// behind it; it does not cut a slope that rises again beyond.
    ///
    /// # Errors
    ///
    /// a level so far from the ground that the sides would run for kilometres
    pub fn sides(
        &self,
        rule: Rule,
        run_per_rise: f64,
        corners: Corners,
        from: &[P3],
        at: &At,
    ) -> Result<Sides, Diagnostic> {
        let run_per_rise = run_per_rise.max(FACE_RUN_PER_RISE);
        let lowest = from.iter().map(|p| p.z).fold(f64::INFINITY, f64::min);
        let highest = from.iter().map(|p| p.z).fold(f64::NEG_INFINITY, f64::max);
        let start = if rule == Rule::Lower { lowest } else { highest };
        // A mitred corner reaches farther than its sides.
        let stretch = match corners {
            Corners::Mitre => shape::longest_mitre(from),
            Corners::Round => 1.0,
        };
        let mut limit_z_m = start;
        loop {
            let rise = (limit_z_m - start).abs();
            let farthest = rise * run_per_rise;
            if farthest.max(rise).is_nan() || farthest.max(rise) > FARTHEST_SIDE_M {
                return Err(self.too_far(rise, run_per_rise, at));
            }
            let reach = (farthest * 1.001 + 0.02) * stretch;
            let seen = self.z_range_round(from, reach).unwrap_or((start, start));
            let needed = match rule {
                Rule::Lower => seen.1.max(start),
                Rule::Raise => seen.0.min(start),
            };
            // The range grows with the reach and is bounded by the site: it comes to rest.
            if (needed - limit_z_m).abs() <= f64::EPSILON * needed.abs() {
                break;
            }
            limit_z_m = needed;
        }
        Ok(Sides {
            rule,
            run_per_rise,
            limit_z_m: match rule {
                Rule::Lower => limit_z_m + self.layers_m,
                Rule::Raise => limit_z_m - self.layers_m,
            },
            corners,
            chord_m: self.chord_m,
        })
    }

    fn too_far(&self, rise: f64, run_per_rise: f64, at: &At) -> Diagnostic {
        Diagnostic::error(
            "far-level",
            format!(
                "from this level the sides would run {} and rise {} to reach the ground",
                self.length(rise * run_per_rise),
                self.length(rise),
            ),
        )
        .at(at.clone())
        .help("check the level and its unit")
    }

    /// Lowest and highest level of all surfaces so far in the box round places, padded.
    fn z_range_round(&self, places: &[P3], pad_m: f64) -> Option<(f64, f64)> {
        let pad = (pad_m * crate::units::NM_PER_M) as i64;
        let low = Point::new(
            places.iter().map(|c| c.p.x).min()?.saturating_sub(pad),
            places.iter().map(|c| c.p.y).min()?.saturating_sub(pad),
        );
        let high = Point::new(
            places.iter().map(|c| c.p.x).max()?.saturating_add(pad),
            places.iter().map(|c| c.p.y).max()?.saturating_add(pad),
        );
        self.surfaces
            .iter()
            .filter_map(|surface| surface.z_range_in(low, high))
            .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
    }
}

/// What a part of a feature is to the checks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    /// Measured ground.
    Ground,
    /// Floor, bed or crest.
    Floor,
    /// Ground whose sod or topsoil was taken off.
    Strip,
    /// A side that lies at a slope.
    Side,
    /// A face meant to stand near-vertical: a drop, a square end.
    Face,
}

/// A part of a feature, told by its label.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Part {
    /// Index of the feature in [`Design::features`]; `None` for the ground.
    pub feature: Option<usize>,
    /// Name within the feature, such as `north side`.
    pub name: String,
    /// What it is.
    pub role: Role,
}

/// Hands out labels for parts by name; the same name gives the same label.
pub type Labels<'a> = &'a mut dyn FnMut(&str, Role) -> Label;

/// How long the sides of a feature stand open.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Stands {
    /// Only while the work goes on: then the hole is filled with stone.
    Temporary,
    /// For good.
    Permanent,
}

/// One patch and how it is laid.
#[derive(Clone, Debug)]
pub struct Step {
    /// Dug or filled.
    pub rule: Rule,
    /// The pieces.
    pub patch: Patch,
}

/// A feature turned into patches.
#[derive(Clone, Debug)]
pub struct Laid {
    /// The finished shape, laid step by step.
    pub finished: Vec<Step>,
    /// The shape of the soil, where it is another than the finished one: under layers, or a
    /// trench that is filled again.
    pub dug: Option<Vec<Step>>,
    /// The shape of the soil to be built, if it settles into the dug one.
    pub built: Option<Vec<Step>>,
    /// Thickness of sod or topsoil to be stripped wherever anything is touched, metres.
    pub strip_touched_m: Option<f64>,
    /// What it is in the main, for words: a dig or a fill.
    pub rule: Rule,
    /// Floor or crest in plan: corners of an outline, or points of a line.
    pub core: Vec<Point>,
    /// True if `core` is an outline.
    pub core_is_outline: bool,
    /// For a stream: its bed from the foot up.
    pub axis: Option<Axis>,
    /// How long its sides stand open.
    pub stands: Stands,
    /// Settlement allowance: the height added, as a share of the finished height.
    pub settlement: f64,
    /// Slope its sides were drawn at, rise over run; the steepest where they differ.
    pub side_rise_per_run: f64,
    /// Lines of the feature whose length is asked for, by name, such as `centre line` or `crest`.
    pub lines: Vec<(String, Vec<P3>)>,
    /// True if what it places is soil, tamped: not a pile, which is loose, nor a wall.
    pub places_soil: bool,
    /// Thickness of the layers a fill is tamped in, metres.
    pub lift_m: Option<f64>,
    /// What the shape has to say of itself, such as how high a pile gets.
    pub notes: Vec<Diagnostic>,
    /// For a wall: how it is to be built.
    pub wall: Option<Box<WallPlan>>,
    /// Files that were read for it.
    pub inputs: Vec<Input>,
}

impl Laid {
    /// True if what was dug is filled again, so that nothing of it is seen.
    pub fn is_refilled(&self) -> bool {
        self.finished.is_empty() && self.dug.as_ref().is_some_and(|steps| !steps.is_empty())
    }

    /// A shape of these steps, without any of the rest: permanent, not settling, no line.
    ///
    /// # Input
    ///
    /// `core` floor or crest in plan: the corners of an outline
    pub fn new(rule: Rule, finished: Vec<Step>, core: Vec<Point>, side_run_per_rise: f64) -> Laid {
        Laid {
            finished,
            dug: None,
            built: None,
            strip_touched_m: None,
            rule,
            core,
            core_is_outline: true,
            axis: None,
            stands: Stands::Permanent,
            settlement: 0.0,
            side_rise_per_run: 1.0 / side_run_per_rise.max(FACE_RUN_PER_RISE),
            lines: Vec::new(),
            places_soil: true,
            lift_m: None,
            notes: Vec::new(),
            wall: None,
            inputs: Vec::new(),
        }
    }
}

/// The centre line of a stream from its foot, station 0, upstream.
#[derive(Clone, Debug, Default)]
pub struct Axis {
    /// Plan points from the foot to the head.
    pub line: Vec<Point>,
    /// Bed levels by station, metres; a drop is two entries at one station, lower first.
    pub bed: Vec<(f64, f64)>,
    /// Width of the bed by station, metres: straight between entries, even beyond them.
    pub width_m: Vec<(f64, f64)>,
}

/// A feature as it lies in the design.
#[derive(Clone, Debug)]
pub struct Feature {
    /// Kind, as in the job.
    pub kind: &'static str,
    /// Name.
    pub name: String,
    /// Where the job describes it.
    pub at: At,
    /// What it was turned into.
    pub laid: Laid,
    /// What lies on its soil, from the soil up.
    pub layers: Vec<Layer>,
    /// Level a layer that fills up to one reaches, metres, by number of the layer.
    pub filled_to_m: Vec<(usize, f64)>,
    /// Where it stops at keep-offs instead of passing them.
    pub stops: Vec<Stop>,
    /// What it changed on the surface to build, composition by composition.
    pub changes: Vec<Change>,
    /// How it is taken off again.
    undo: FeatureUndo,
    /// Stretches where it runs over the rim of the survey.
    pub runs_out: Vec<[P3; 2]>,
    /// What was to be said of it when it was laid.
    pub said: Vec<Diagnostic>,
}

impl Feature {
    /// True if it takes off sod or topsoil and lays nothing.
    pub fn is_strip(&self) -> bool {
        self.kind == strip::KIND.name
    }
}

/// What one composition changed.
#[derive(Clone, Debug)]
pub struct Change {
    /// Whether it lowered or raised.
    pub rule: Rule,
    /// True if it put back what was there before, beyond a keep-off: no work is done for it.
    pub puts_back: bool,
    /// Facets taken out.
    pub removed: Vec<([P3; 3], Source)>,
    /// Facets put in.
    pub added: Vec<([P3; 3], Source)>,
}

impl Change {
    /// True if nothing changed.
    pub fn is_empty(&self) -> bool {
        self.added.is_empty() && self.removed.is_empty()
    }
}

/// How a feature is taken off again.
#[derive(Clone, Debug, Default)]
struct FeatureUndo {
    /// Compositions of the finished, the dug and the built surface.
    deltas: [Vec<Delta>; 3],
    /// True if the dug surface began to be another with this feature.
    made_dug: bool,
    /// The same of the built surface.
    made_built: bool,
    /// For a strip: the stripped ground there was before.
    stripped_before: Option<Option<Box<Surface>>>,
    /// Parts there were before.
    parts: usize,
    /// Strips over everything that is touched there were before.
    strips: usize,
}

/// All features laid.
#[derive(Clone, Debug, Default)]
pub struct Design {
    /// The finished, settled surface.
    pub surface: Surface,
    /// The ground with sod and topsoil stripped over areas; `None` without such a strip.
    pub stripped: Option<Surface>,
    /// Thickness of sod or topsoil to be stripped wherever anything is touched, metres, by the
    /// features that say so, the uppermost first.
    pub strip_touched: Vec<(usize, f64)>,
    /// Where the soil ends, where layers or a refill lie on it.
    pub dug: Option<Surface>,
    /// The soil to be built, where a fill is placed higher to settle.
    pub built: Option<Surface>,
    /// Features in the order they were laid.
    pub features: Vec<Feature>,
    /// Parts by label.
    pub parts: Vec<Part>,
}

impl Design {
    /// The surface the soil is counted for: the built one where there is one.
    pub fn to_build(&self) -> &Surface {
        self.built.as_ref().unwrap_or(self.soil())
    }

    /// Where the soil ends once it has settled.
    pub fn soil(&self) -> &Surface {
        self.dug.as_ref().unwrap_or(&self.surface)
    }

    /// Labels of a feature.
    pub fn labels(&self, feature: usize) -> impl Iterator<Item = Label> + '_ {
        (0..self.parts.len() as Label)
            .filter(move |&l| self.parts[l as usize].feature == Some(feature))
    }

    /// "Reservoir, north side".
    pub fn part_name(&self, label: Label) -> String {
        match self.parts.get(label as usize) {
            Some(part) => match part.feature {
                Some(feature) => format!("{}, {}", self.features[feature].name, part.name),
                None => part.name.clone(),
            },
            None => format!("part {label}"),
        }
    }
}

/// A length in a unit, to a hundredth of it.
pub(crate) fn in_unit(unit: LengthUnit, m: f64) -> String {
    let name = if unit.is_foot() { "ft" } else { "m" };
    format!("{:.2} {name}", unit.from_m(m))
}
