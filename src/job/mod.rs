//! The job: what the user asked for, read from `job.toml`.
//!
//! Takes the text of the file, gives a [`Job`]: plain data in SI, places still by name.
//! `written` keeps every value with its line, `table` hands them out and refuses unknown keys,
//! `read` turns them into the job. Knows no survey, no surface: shots and codes are looked up later, by `survey`.
//! Feature entries stay tables; each kind of feature reads its own (room `design`).

mod access;
mod allow;
mod import;
pub mod limits;
mod place;
mod read;
mod rod;
mod table;
mod written;

use crate::diag::At;
use crate::files::Input;
use crate::units::{LengthUnit, Slope};

pub use access::{GateShape, GateSpec, RouteSpec};
pub use allow::{ALLOW_HELP, Allowance, Growth};
pub use import::{
    CloudSpec, Common, GroundFilter, ImportKind, ImportSpec, Placing, SamePlace, Shift, Sieve, Thin,
};
pub use limits::{Limit, LimitKey, LimitKind};
pub use place::{LevelSpec, LevelWord, Place, PlaceList, PlaceListWord};
pub use read::{read, read_distance, read_partly};
pub use rod::{Rod, RodKind};
pub use table::Table;

/// A whole job, read and checked as far as it can be without its survey.
#[derive(Clone, Debug)]
pub struct Job {
    /// Name of the file it came from, for messages.
    pub file: String,
    /// Length and digest of the text it was read from.
    pub input: Input,
    /// What the job is called on every sheet.
    pub name: String,
    /// Unit of the numbers in the job file, and of the sheets for people.
    pub units: LengthUnit,
    /// The soil and the loads it is moved in.
    pub soil: SoilSpec,
    /// Survey files, in the order of the job.
    pub surveys: Vec<SurveySpec>,
    /// Scans, elevation grids and surfaces that other programs made, in the order of the job.
    pub imports: Vec<ImportSpec>,
    /// Corners, and how tapes lead to places.
    pub control: ControlSpec,
    /// Shots that are taken out.
    pub strikes: Vec<Strike>,
    /// How the ground is made from the shots.
    pub ground: GroundSpec,
    /// Features in the order they are laid, each still as written.
    pub features: Vec<FeatureEntry>,
    /// Lines and areas the work must not pass.
    pub keep_offs: Vec<KeepOff>,
    /// Areas that are used in one way.
    pub areas: Vec<UsedArea>,
    /// Gates barrows come through.
    pub gates: Vec<GateSpec>,
    /// Ways for barrows.
    pub routes: Vec<RouteSpec>,
    /// Day on which digging is to start.
    pub dig_day: Option<(String, At)>,
    /// Cross-sections asked for.
    pub sections: Vec<SectionSpec>,
    /// The user's limits.
    pub limits: Limits,
}

/// One `[[feature]]` as written.
#[derive(Clone, Debug)]
pub struct FeatureEntry {
    /// `kind`, such as `basin`.
    pub kind: String,
    /// `name`, unique in the job.
    pub name: String,
    /// Where the entry starts.
    pub at: At,
    /// All other keys.
    pub table: Table,
}

/// `[soil]`: a row of the built-in table, with what the user knows better.
#[derive(Clone, Debug, Default)]
pub struct SoilSpec {
    /// Name of the soil in the built-in table.
    pub kind: Option<(String, At)>,
    /// Loose volume for one of bank, instead of the table's range.
    pub loose_per_bank: Option<f64>,
    /// Tamped volume for one of bank, instead of the table's range.
    pub tamped_per_bank: Option<f64>,
    /// Heaped barrow, m3 of loose soil.
    pub barrow_m3: Option<f64>,
    /// Load one person can push, kg.
    pub barrow_kg: Option<f64>,
    /// Truck box, m3 of loose soil.
    pub truck_m3: Option<f64>,
    /// Truck payload, kg.
    pub truck_kg: Option<f64>,
    /// Type of soil for digging, as a competent person has classified it.
    pub classified: Option<(DigType, At)>,
    /// Unconfined compressive strength of the intact soil, Pa, as measured by somebody.
    pub strength_pa: Option<f64>,
    /// Hours an excavation stands open.
    pub open_hours: Option<f64>,
    /// Friction angle, degrees, instead of a range by class.
    pub friction_degrees: Option<(f64, At)>,
    /// Weight in place, kg/m3, instead of the table's.
    pub bank_kg_m3: Option<f64>,
}

/// Type of soil for digging (29 CFR 1926 subpart P, appendix A).
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
pub enum DigType {
    /// Stable rock.
    Rock,
    /// Stiff cohesive soil.
    A,
    /// Medium soil.
    B,
    /// Granular, soft or wet soil.
    C,
}

impl DigType {
    /// Words a job may use, in the order of the variants.
    pub const NAMES: [&'static str; 4] = ["rock", "A", "B", "C"];
    /// All of them, in the same order.
    pub const ALL: [DigType; 4] = [DigType::Rock, DigType::A, DigType::B, DigType::C];

    /// The type of intact cohesive soil by its unconfined compressive strength.
    ///
    /// # Source
    ///
    /// 29 CFR 1926 subpart P, appendix A: A from 1.5 tons a square foot on, C up to 0.5.
    pub fn of_strength(pascals: f64) -> DigType {
        match pascals / PA_PER_TSF {
            tsf if tsf >= 1.5 * (1.0 - 1.0e-9) => DigType::A,
            tsf if tsf > 0.5 * (1.0 + 1.0e-9) => DigType::B,
            _ => DigType::C,
        }
    }
}

/// Pascals in a short ton of 2,000 lb on a square foot: 0.45359237 x 9.80665 x 2,000 / 0.3048^2.
pub const PA_PER_TSF: f64 = 0.453_592_37 * 9.806_65 * 2_000.0 / (0.3048 * 0.3048);

/// One `[[survey]]`.
#[derive(Clone, Debug)]
pub struct SurveySpec {
    /// How the file is read.
    pub kind: SurveyKind,
    /// File name in the job folder.
    pub file: String,
    /// Where the job names it.
    pub at: At,
    /// Unit of plan coordinates (and of heights, if `z_units` is not given).
    pub units: LengthUnit,
    /// Unit of heights and rod readings.
    pub z_units: LengthUnit,
    /// Column names in order, for a file without a header (`name,x,y,z,code`).
    pub columns: Option<Vec<String>>,
    /// How decimals are parted from whole numbers in the file.
    pub decimal: Decimal,
    /// Length of one pace, metres, where distances are booked in paces.
    pub pace_m: Option<f64>,
    /// The benchmark of a level book.
    pub benchmark: Option<Benchmark>,
    /// The rod, where the book does not name another for a set-up.
    pub rod: Rod,
    /// How the misclosure of a level book is shared out.
    pub adjust: Adjust,
    /// How far the book may miss.
    pub allow: Allowance,
}

impl SurveySpec {
    /// A file read the usual way: no columns named, no benchmark, a rod that suits the unit.
    pub fn new(kind: SurveyKind, file: impl Into<String>, units: LengthUnit) -> SurveySpec {
        let rod = if units.is_foot() {
            RodKind::Tenths
        } else {
            RodKind::Metric
        };
        SurveySpec {
            kind,
            file: file.into(),
            at: At::default(),
            units,
            z_units: units,
            columns: None,
            decimal: Decimal::default(),
            pace_m: None,
            benchmark: None,
            rod: rod.into(),
            adjust: Adjust::default(),
            allow: Allowance::default(),
        }
    }
}

/// One `[[strike]]`: a shot that makes no ground and stays visible.
#[derive(Clone, Debug)]
pub struct Strike {
    /// Name of the shot.
    pub shot: String,
    /// Its file, where several shots have this name.
    pub file: Option<String>,
    /// Its line in that file.
    pub line: Option<usize>,
    /// Why; empty if no reason is given.
    pub why: String,
    /// Where the job says so.
    pub at: At,
}

/// How a survey file is read.
#[derive(Clone, Debug, PartialEq)]
pub enum SurveyKind {
    /// Points with x, y, z.
    Points,
    /// A level book with coordinates or tapes per shot.
    Levels,
    /// Tapes, offsets or bearings per shot, with or without heights.
    Ties,
    /// Rods in a grid: a matrix of readings.
    Grid(Box<GridSpec>),
}

/// How a matrix of rods is laid out.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct GridSpec {
    /// Reading on the benchmark, as called out; `None` for a rod that shows elevations.
    pub backsight: Option<(String, At)>,
    /// Where row 0 and column 0 cross; 0, 0 if not given.
    pub origin: Option<(Place, At)>,
    /// A place in the direction of the columns; east if not given.
    pub towards: Option<(Place, At)>,
    /// Side of that direction on which the rows lie.
    pub side: Side,
    /// Distance between columns and between rows, metres, where the heads are names.
    pub spacing_m: Option<(f64, f64)>,
}

/// A side of a line, looking along it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Side {
    /// Left.
    #[default]
    Left,
    /// Right.
    Right,
}

impl Side {
    /// The words a job or a file may use, in the order of the variants.
    pub const NAMES: [&'static str; 2] = ["left", "right"];

    /// The word.
    pub fn name(self) -> &'static str {
        Side::NAMES[usize::from(self == Side::Right)]
    }

    /// Reads `left`, `right`, `L` or `R`.
    pub fn from_word(word: &str) -> Option<Side> {
        match word.trim().to_lowercase().as_str() {
            "left" | "l" => Some(Side::Left),
            "right" | "r" => Some(Side::Right),
            _ => None,
        }
    }
}

/// How tapes were held.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Tapes {
    /// Level.
    #[default]
    Level,
    /// Along the ground: reduced with the levels of both ends.
    Ground,
}

/// A corner with a given place.
#[derive(Clone, Debug, PartialEq)]
pub struct CornerSpec {
    /// Its name.
    pub name: String,
    /// East and north, whole nanometres, absolute.
    pub place_nm: (i64, i64),
    /// Its level, metres.
    pub level_m: Option<f64>,
    /// Where it is given.
    pub at: At,
}

/// A distance taped between two corners.
#[derive(Clone, Debug, PartialEq)]
pub struct DistanceSpec {
    /// One corner.
    pub from: String,
    /// The other.
    pub to: String,
    /// As taped, metres.
    pub length_m: f64,
    /// Where it is given.
    pub at: At,
}

/// `[control]`: corners, and how tapes lead to places.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ControlSpec {
    /// Corners with a given place.
    pub corners: Vec<CornerSpec>,
    /// Distances between corners.
    pub distances: Vec<DistanceSpec>,
    /// Side of a corner, seen along the line of the first two corners it was taped from.
    pub sides: Vec<(String, Side, At)>,
    /// Where stations begin, and the corner they run towards.
    pub baseline: Option<(String, String, At)>,
    /// Bearing of the line from the first corner to the second, as called out; due east if not
    /// given. Only for corners known by distances.
    pub bearing: Option<(String, At)>,
    /// How tapes were held.
    pub tapes: Tapes,
    /// Side of every shot that does not say its own.
    pub side: Option<Side>,
    /// Error of one tape (1 sigma), metres.
    pub tape_error_m: Option<f64>,
    /// Distance between columns and between rows of a grid, metres.
    pub spacing_m: Option<(f64, f64)>,
}

/// The mark between a whole number and its decimals.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Decimal {
    /// `12.4`
    #[default]
    Point,
    /// `12,4`; then no comma parts columns.
    Comma,
}

/// How a misclosure is shared out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Adjust {
    /// Not at all: elevations as observed.
    #[default]
    None,
    /// In equal shares per set-up.
    Setups,
    /// In proportion to the length of the sights.
    Distance,
}

/// A lasting spot with a given level.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Benchmark {
    /// Name in the level book.
    pub name: String,
    /// Its level, metres.
    pub level_m: f64,
    /// Where to find it.
    pub words: String,
}

/// `[ground]`.
#[derive(Clone, Debug, Default)]
pub struct GroundSpec {
    /// Limit of the data; the hull of the shots if not given.
    pub outline: Option<PlaceList>,
    /// Areas with no ground, such as a house.
    pub holes: Vec<PlaceList>,
    /// Areas where the ground is not known, such as under a stack of timber.
    pub no_data: Vec<PlaceList>,
    /// Lines the surface must follow.
    pub breaklines: Vec<PlaceList>,
    /// Triangles with a longer edge are taken off at the rim, metres.
    pub max_edge_m: Option<f64>,
    /// What to do with one place shot twice at different heights.
    pub duplicates: Duplicates,
    /// What to do where two breaklines cross at different heights.
    pub crossings: Crossings,
}

/// One place, two heights.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Duplicates {
    /// Stop and name both shots.
    #[default]
    Refuse,
    /// Keep the first shot.
    First,
    /// Take the mean height.
    Mean,
}

/// Two breaklines cross at two heights.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Crossings {
    /// Stop and name both lines.
    #[default]
    Refuse,
    /// Take the mean height.
    Mean,
}

/// `[[keep-off]]`: a line or area the work must not pass.
#[derive(Clone, Debug)]
pub struct KeepOff {
    /// What it is called.
    pub name: String,
    /// What it is.
    pub kind: KeepOffKind,
    /// Where.
    pub shape: KeepOffShape,
    /// Bottom of its footing, for a building or a wall that stands.
    pub footing: Option<LevelSpec>,
    /// What a buried line carries, in words.
    pub service: Option<String>,
    /// Width that is dug by hand on each side of a buried line, metres, where the line has its own.
    pub hand_dig_m: Option<f64>,
    /// Day the locating service was told, for a buried line.
    pub notified: Option<(String, At)>,
    /// Where the job says so.
    pub at: At,
}

/// `[[area]]`: ground that is used in one way.
#[derive(Clone, Debug)]
pub struct UsedArea {
    /// What it is called.
    pub name: String,
    /// How it is used.
    pub used: Use,
    /// Its outline.
    pub area: PlaceList,
    /// Where the job says so.
    pub at: At,
}

/// How ground is used, which is what its slope is held against.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Use {
    /// Mown lawn.
    Mown,
    /// Planted.
    Planted,
    /// A path.
    Path,
    /// Paved.
    Paved,
    /// A swale, which carries water away.
    Swale,
}

impl Use {
    /// Words a job may use, in the order of the variants.
    pub const NAMES: [&'static str; 5] = ["mown", "planted", "path", "paved", "swale"];
    /// All of them, in the same order.
    pub const ALL: [Use; 5] = [Use::Mown, Use::Planted, Use::Path, Use::Paved, Use::Swale];
}

/// What a keep-off protects.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum KeepOffKind {
    /// A property line, as drawn by the user; not a boundary survey.
    Boundary,
    /// A house, shed or other building.
    Building,
    /// The roots of a tree.
    Roots,
    /// A band along a buried line.
    Service,
    /// Anything else.
    Other,
}

impl KeepOffKind {
    /// Words a job may use, in the order of the variants.
    pub const NAMES: [&'static str; 5] = ["boundary", "building", "roots", "service", "other"];
}

/// The radius of a circle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Radius {
    /// As given, metres.
    Given(f64),
    /// By the diameter of a trunk, metres, and the user's factor.
    OfTrunk(f64),
}

impl Radius {
    /// The radius under these limits, metres.
    pub fn metres(self, limits: &Limits) -> f64 {
        match self {
            Radius::Given(radius_m) => radius_m,
            Radius::OfTrunk(diameter_m) => diameter_m * limits.get(&limits::ROOTS_PER_TRUNK).value,
        }
    }
}

/// The shape of a keep-off.
#[derive(Clone, Debug)]
pub enum KeepOffShape {
    /// A line not to be passed.
    Line(PlaceList),
    /// An area not to be entered.
    Area(PlaceList),
    /// A circle not to be entered.
    Circle {
        /// Its centre.
        centre: Place,
        /// Its radius.
        radius: Radius,
        /// Where the job says so.
        at: At,
    },
    /// A band along a line not to be entered.
    Band {
        /// The middle of the band.
        line: PlaceList,
        /// Half its width, metres.
        half_width_m: f64,
    },
}

/// `[[section]]`: a line along which the yard is cut open.
#[derive(Clone, Debug)]
pub struct SectionSpec {
    /// Title.
    pub name: String,
    /// The line.
    pub line: PlaceList,
}

/// `[limits]`: the user's, started from usual figures.
#[derive(Clone, Debug)]
pub struct Limits {
    /// Steepest cut that is to stand; `None` takes the soil's.
    pub cut: Option<Slope>,
    /// Steepest fill that is to stand.
    pub fill: Slope,
    /// Steepest temporary face while the soil is not classified.
    pub temporary: Slope,
    /// Height of a wall, from the bottom of its footing, at which the user wants to be told, metres.
    pub wall_height_m: f64,
    /// Half range of the height of one soil shot, metres.
    pub shot_height_m: f64,
    /// Longest chord error where a round corner is built of flat facets, metres.
    pub chord_m: f64,
    /// Keys of `[limits]` that the user set, for "whose limit".
    pub set_by_user: Vec<String>,
    /// Limits of [`limits::KEYS`] that the user set, SI.
    set: limits::Set,
}

impl Default for Limits {
    fn default() -> Limits {
        Limits {
            cut: None,
            // IBC appendix J107.6 where adopted; rules GR-2 and EX-3 (29 CFR 1926.652(b)(1)).
            fill: Slope::from_rise_per_run(0.5),
            temporary: Slope::from_rise_per_run(1.0 / 1.5),
            wall_height_m: 4.0 * 0.3048,
            shot_height_m: 0.03,
            chord_m: 0.005,
            set_by_user: Vec::new(),
            set: limits::Set::new(),
        }
    }
}
