//! A reduced level book: set-ups, sights with elevations, and how well the book closes.
//!
//! Plain results in metres, ready to be written as JSON. Knows no file format and no ground.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::diag::At;
use crate::job::Benchmark;
use crate::units::NM_PER_M;

use super::PointClass;
use super::blunder::Suspect;
use super::entry::{Entry, Role, Whereabouts};
use super::page::PageCheck;
use super::twice::TwiceMeasured;
use super::visit::Distance;

/// What a sight was taken for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub enum SightKind {
    /// Rod on a spot of known level, to find the laser plane.
    #[serde(rename = "BS")]
    Backsight,
    /// Rod on any spot in between.
    #[default]
    #[serde(rename = "IS")]
    Intermediate,
    /// Last sight of a set-up, on a turning point or a known spot.
    #[serde(rename = "FS")]
    Foresight,
}

impl SightKind {
    /// The short form used in field books.
    pub fn name(self) -> &'static str {
        match self {
            SightKind::Backsight => "BS",
            SightKind::Intermediate => "IS",
            SightKind::Foresight => "FS",
        }
    }
}

/// How a level book closes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum BookStatus {
    /// Within the allowance, elevations as observed.
    Closed,
    /// Within the allowance, and the misclosure was shared out.
    Adjusted,
    /// Beyond the allowance; elevations as observed, to be mistrusted.
    Refused,
    /// Nothing checks at least a part of the readings.
    #[default]
    Open,
}

/// One position of the tripod.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Setup {
    /// Name as booked, or a number in the order of the book.
    pub name: String,
    /// Level of the laser plane, metres; `None` for a rod that shows elevations itself, where
    /// no plane is known.
    pub plane_m: Option<f64>,
    /// Point of the backsight the plane was found from.
    pub backsight: String,
    /// The rod of its readings, in the words of a job.
    pub rod: String,
    /// Line on which the set-up begins.
    pub line: usize,
}

impl Setup {
    /// Rod reading that puts the foot of the rod at a level, metres: plane minus level.
    ///
    /// Holds only as long as the tripod stays; `None` if the plane is not known.
    pub fn target_rod_m(&self, level_m: f64) -> Option<f64> {
        self.plane_m.map(|plane_m| plane_m - level_m)
    }
}

/// One reading and the elevation it gives.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Sight {
    /// Point the rod stood on.
    pub name: String,
    /// What the sight was taken for.
    pub kind: SightKind,
    /// Name of the set-up it was read from.
    pub setup: String,
    /// The reading as booked.
    pub rod: String,
    /// The reading in metres; the elevation read for a rod that shows it.
    pub rod_m: f64,
    /// The reading said again: both notations of the foot, or metres.
    pub echo: String,
    /// Rise (positive) or fall (negative) from the sight before in the same set-up, metres;
    /// `None` for the first sight of a set-up.
    pub rise_m: Option<f64>,
    /// Elevation as observed, metres.
    pub elevation_m: f64,
    /// Elevation after the misclosure was shared out, metres; as observed if it was not.
    pub adjusted_m: f64,
    /// Length of the sight, metres, if it was booked.
    pub distance_m: Option<f64>,
    /// Code; empty if none.
    pub code: String,
    /// East, whole nanometres, absolute (written in metres).
    #[serde(rename = "x_m", serialize_with = "as_metres")]
    pub x_nm: Option<i64>,
    /// North, whole nanometres, absolute (written in metres).
    #[serde(rename = "y_m", serialize_with = "as_metres")]
    pub y_nm: Option<i64>,
    /// True if the point has a given level: a control point, never a shot of the ground.
    pub control: bool,
    /// Line of the file.
    pub line: usize,
}

/// A known point read from a plane that was found elsewhere.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Check {
    /// The known point.
    pub name: String,
    /// Line of the reading.
    pub line: usize,
    /// Number of set-ups from the known point the run began at.
    pub setups: usize,
    /// Observed minus known, metres.
    pub misclosure_m: f64,
    /// Allowed for that run, metres.
    pub allowed_m: f64,
}

/// A point of unknown level that was read twice: two elevations of one spot.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Reread {
    /// The point.
    pub name: String,
    /// Lines of the two readings.
    pub lines: [usize; 2],
    /// Set-ups they were read from.
    pub setups: [String; 2],
    /// Second elevation minus first, metres.
    pub difference_m: f64,
    /// Difference that readings on sound ground may show, metres.
    pub allowed_m: f64,
}

impl Reread {
    /// True if the two agree as well as readings do.
    pub fn agrees(&self) -> bool {
        self.difference_m.abs() <= self.allowed_m + 0.5 / NM_PER_M
    }
}

/// A reduced level book.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct LevelBook {
    /// File it was read from.
    pub file: String,
    /// Benchmark given by the job; `None` if the book itself gives the known levels.
    pub benchmark: Option<Benchmark>,
    /// Set-ups in booked order.
    pub setups: Vec<Setup>,
    /// Sights in booked order.
    #[serde(rename = "points")]
    pub sights: Vec<Sight>,
    /// Points whose place a row of the book gives by tape, with or without a reading.
    #[serde(skip)]
    pub places: Vec<Entry>,
    /// Distances stepped from point to point; they place nothing.
    #[serde(skip)]
    pub paced: Vec<Distance>,
    /// Sum of all booked backsights, metres.
    pub sum_bs_m: f64,
    /// Sum of all booked foresights, metres.
    pub sum_fs_m: f64,
    /// The sums of the page held against the first and the last level.
    pub page: PageCheck,
    /// Every reading on a known point that checks the book.
    pub checks: Vec<Check>,
    /// Every other point that was read more than once.
    pub rereads: Vec<Reread>,
    /// Readings that can be the mistake, likeliest first; empty if everything agrees.
    pub suspects: Vec<Suspect>,
    /// Suspects that are as good but not listed.
    pub more_suspects: usize,
    /// Pairs of points that two set-ups both read.
    pub twice: Vec<TwiceMeasured>,
    /// Longest booked sight, metres.
    pub longest_sight_m: Option<f64>,
    /// Curvature of the Earth less refraction on that sight, metres; it is not applied.
    pub curvature_m: Option<f64>,
    /// Observed minus known at the last check, or at the worst if the book is refused, metres;
    /// `None` if nothing checks the book.
    pub misclosure_m: Option<f64>,
    /// Allowance at that check, metres.
    pub allowed_m: Option<f64>,
    /// The allowance as it was given, in words.
    pub allowance: String,
    /// How the book closes.
    pub status: BookStatus,
    /// The same in words, in the unit of the rod.
    pub words: String,
}

/// Whole nanometres written in metres.
// The reference to an option is the signature serde asks for.
#[allow(clippy::ref_option)]
fn as_metres<S: serde::Serializer>(nm: &Option<i64>, out: S) -> Result<S::Ok, S::Error> {
    nm.map(|nm| nm as f64 / NM_PER_M).serialize(out)
}

impl LevelBook {
    /// What the book says of each point, in booked order; see
    /// [`Survey::read_with`](super::Survey::read_with).
    pub fn entries(&self) -> Vec<Entry> {
        // A turning point may have its coordinates in the row of its other sight only.
        let mut places: BTreeMap<&str, (i64, i64)> = BTreeMap::new();
        for sight in &self.sights {
            if let (Some(x_nm), Some(y_nm)) = (sight.x_nm, sight.y_nm) {
                places.entry(&sight.name).or_insert((x_nm, y_nm));
            }
        }
        let mut seen: BTreeMap<&str, ()> = BTreeMap::new();
        let mut heights: BTreeMap<&str, ()> = BTreeMap::new();
        let mut entries = Vec::new();
        for sight in &self.sights {
            let own = sight.x_nm.zip(sight.y_nm);
            let again = seen.contains_key(&*sight.name);
            let place = match sight.kind {
                SightKind::Intermediate => own,
                SightKind::Backsight | SightKind::Foresight if again => None,
                SightKind::Backsight | SightKind::Foresight => {
                    own.or_else(|| places.get(&*sight.name).copied())
                }
            };
            let role = match sight.kind {
                _ if sight.control => Role::Control,
                SightKind::Intermediate => Role::Ground,
                SightKind::Backsight | SightKind::Foresight => Role::Turning,
            };
            if place.is_some() && role != Role::Control {
                seen.insert(&sight.name, ());
            } else if role != Role::Ground && (again || heights.insert(&sight.name, ()).is_some()) {
                continue;
            }
            entries.push(Entry {
                name: sight.name.clone(),
                whereabouts: place.map(|(x_nm, y_nm)| Whereabouts::Coordinates { x_nm, y_nm }),
                z_m: Some(sight.adjusted_m),
                code: sight.code.clone(),
                class: PointClass::of_code(&sight.code),
                role,
                at: At::line(&self.file, sight.line),
            });
        }
        entries.extend(self.places.iter().cloned());
        // Corners count in the order in which the page names them.
        entries.sort_by_key(|entry| entry.at.line);
        entries
    }
}
