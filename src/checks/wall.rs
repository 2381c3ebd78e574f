//! A wall that is needed: heights by station, and what they add up to.

use crate::job::KeepOffKind;

/// A point of a wall.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct WallStation {
    /// Distance from the start of the wall, metres.
    pub station_m: f64,
    /// East, metres, absolute.
    pub x_m: f64,
    /// North, metres, absolute.
    pub y_m: f64,
    /// Ground at the line, metres; along another feature its floor there.
    pub ground_m: f64,
    /// The soil at the line, metres: the finished surface as drawn, or the side at the limit
    /// slope for a wall that only the limit asks for.
    pub finished_m: f64,
    /// Height to hold, metres.
    pub height_m: f64,
    /// Height to hold at the limit slope, metres; `None` where no limit is known for the soil.
    pub limit_height_m: Option<f64>,
}

/// What the heights of a wall are those of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Basis {
    /// The side as it is drawn: it passes the line.
    AsDrawn,
    /// The side at the limit slope: as drawn it lands before the line, steeper than the limit.
    AtLimit,
}

/// What a wall stands along.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Along {
    /// A property line as drawn.
    Boundary,
    /// A house, shed or other building.
    Building,
    /// Another keep-off.
    Other,
    /// The floor, bed or pad of another feature.
    Feature,
}

impl Along {
    pub(super) fn of(kind: KeepOffKind) -> Along {
        match kind {
            KeepOffKind::Boundary => Along::Boundary,
            KeepOffKind::Building => Along::Building,
            KeepOffKind::Roots | KeepOffKind::Service | KeepOffKind::Other => Along::Other,
        }
    }
}

/// The same stretch at the limit slope: the least that has to be held.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct AtLimit {
    /// The limit, rise over run.
    pub slope_rise_per_run: f64,
    /// Whose limit it is.
    pub from: String,
    /// Length along the line, metres; 0 where it lands before it.
    pub length_m: f64,
    /// Greatest height to hold, metres.
    pub max_height_m: f64,
    /// Face area, m2.
    pub face_m2: f64,
    /// How far before the line it would land at the nearest place, metres; `None` where it does
    /// not.
    pub lands_before_m: Option<f64>,
}

/// A stretch of wall that is needed.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Wall {
    /// The feature whose side has no room.
    pub feature: String,
    /// The keep-off, or the feature, it would run into.
    pub keep_off: String,
    /// What that is.
    pub along: Along,
    /// What the heights are those of.
    pub basis: Basis,
    /// True if it holds fill, false if it holds the ground beside a cut.
    pub holds_fill: bool,
    /// Length along the line, metres.
    pub length_m: f64,
    /// Greatest height to hold, metres: exposed.
    pub max_height_m: f64,
    /// Mean height to hold, metres.
    pub mean_height_m: f64,
    /// Face area above the lower side, m2.
    pub face_m2: f64,
    /// How far it stands in the ground at the highest place, metres: a share of its height.
    pub buried_m: f64,
    /// Height from the bottom of the footing at the highest place, metres.
    pub total_height_m: f64,
    /// Face area with the buried part, m2.
    pub face_with_buried_m2: f64,
    /// True if the design stops there in an upright face, false if it passes the line.
    pub is_in_design: bool,
    /// Volume of the feature beyond the line, m3; `None` if the line does not say which side is
    /// beyond.
    pub beyond_m3: Option<f64>,
    /// What it would be at the limit slope; `None` where no limit is known for the soil.
    pub at_limit: Option<AtLimit>,
    /// What presses on it from above, besides the soil it holds.
    pub surcharge: Vec<String>,
    /// Rules of the register whose limits it passes.
    pub passes: Vec<&'static str>,
    /// Heights along it.
    pub stations: Vec<WallStation>,
}

/// A difference lower than this needs no wall, metres: half an inch.
pub(super) const LOWEST_WALL_M: f64 = 0.0127;

/// Stretches closer than this are one wall, metres: about one wall unit.
pub(super) const JOINED_M: f64 = 0.4;

/// Shortest and smallest wall worth a word, metres and square metres.
pub(super) const SHORTEST_WALL_M: f64 = 0.15;
pub(super) const SMALLEST_WALL_M2: f64 = 0.01;
