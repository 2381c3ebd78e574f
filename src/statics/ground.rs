//! Published figures of soils and masonry: friction, presumed bearing, weight.

use crate::units::{KG_PER_LB, LengthUnit, M3_PER_FT3, PA_PER_PSF};

/// Class of a soil, as tables of codes part them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Class {
    /// Gravel, sandy gravel (GW, GP).
    Gravel,
    /// Sand, silty or clayey sand, silty or clayey gravel (SW, SP, SM, SC, GM, GC).
    Sand,
    /// Silt without clay (ML, MH).
    Silt,
    /// Clay, sandy or silty clay (CL, CH), and earth of no known class.
    Clay,
    /// Rock that is soft or weathered.
    Rock,
    /// Fill, topsoil, mud, organic soil, peat.
    Fill,
}

/// Where a figure lies.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Between {
    /// Least.
    pub low: f64,
    /// Most likely.
    pub likely: f64,
    /// Greatest.
    pub high: f64,
}

/// Friction angles of a class, degrees; `None` where none is offered.
///
/// # Source
///
/// [`friction_source`]
pub fn friction_degrees(class: Class) -> Option<Between> {
    let (low, likely, high) = match class {
        Class::Gravel => (34.0, 36.0, 38.0),
        Class::Sand => (28.0, 31.0, 34.0),
        Class::Silt => (25.0, 28.0, 32.0),
        Class::Clay => (19.0, 24.0, 28.0),
        Class::Rock | Class::Fill => return None,
    };
    Some(Between { low, likely, high })
}

/// Where the friction angles are from.
pub fn friction_source() -> &'static str {
    "range by class of soil: compacted soils in NAVFAC DM 7.02, loose sand at 28 degrees, from memory"
}

/// Friction of mass concrete or masonry on a soil: the table as it is printed, least and greatest.
pub const BASE_FRICTION: [(&str, [f64; 2]); 4] = [
    ("clean gravel, coarse sand", [0.55, 0.60]),
    ("fine to medium sand, silty gravel", [0.45, 0.55]),
    ("silty or clayey fine sand", [0.35, 0.45]),
    ("nonplastic silt", [0.30, 0.35]),
];

/// Friction of mass concrete or masonry on the ground under it, a ratio; `None` where none is
/// offered.
///
/// # Source
///
/// [`base_friction_source`]
pub fn base_friction(class: Class) -> Option<Between> {
    let [gravel, sand, fine, silt] = BASE_FRICTION.map(|(_, range)| range);
    let [low, high] = match class {
        Class::Gravel => gravel,
        Class::Sand => [fine[0], sand[1]],
        Class::Silt | Class::Clay => silt,
        Class::Rock | Class::Fill => return None,
    };
    Some(Between {
        low,
        likely: (low + high) / 2.0,
        high,
    })
}

/// Where the friction of a base is from.
pub fn base_friction_source() -> &'static str {
    "NAVFAC DM 7.02, table 1, mass concrete: gravel 0.55 to 0.60, sands 0.35 to 0.55, silt 0.30 to 0.35; clay is taken as silt"
}

/// Presumed values of a class.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Bearing {
    /// Vertical bearing, Pa.
    pub bearing_pa: f64,
    /// Bearing of the soil before the wall for each metre below grade, Pa/m.
    pub lateral_pa_m: f64,
    /// Sliding friction, a ratio; `None` for clay, where cohesion counts instead.
    pub friction: Option<f64>,
    /// Sliding cohesion, Pa, for clay.
    pub cohesion_pa: Option<f64>,
}

/// Presumed bearing of a class; `None` for fill, mud, organic soil and peat, which have none.
///
/// # Source
///
/// [`bearing_source`]
pub fn bearing(class: Class) -> Option<Bearing> {
    let of = |psf: f64, lateral: f64, friction: Option<f64>, cohesion: Option<f64>| Bearing {
        bearing_pa: psf * PA_PER_PSF,
        lateral_pa_m: lateral * PA_PER_PSF / LengthUnit::Foot.metres(),
        friction,
        cohesion_pa: cohesion.map(|c| c * PA_PER_PSF),
    };
    Some(match class {
        Class::Gravel => of(3000.0, 200.0, Some(0.35), None),
        Class::Sand => of(2000.0, 150.0, Some(0.25), None),
        Class::Silt | Class::Clay => of(1500.0, 100.0, None, Some(130.0)),
        Class::Rock | Class::Fill => return None,
    })
}

/// Where presumed bearing is from.
pub fn bearing_source() -> &'static str {
    "IBC 2012 table 1806.2; IRC table R401.4.1"
}

/// Usual weight of what walls are made of, by a word, kg/m3: dry-laid stone with its gaps 130
/// lb/ft3, concrete 150, timber 50 (common practice, no source).
pub fn masonry_kg_m3(word: &str) -> Option<f64> {
    let pcf = match word {
        "stone" => 130.0,
        "concrete" => 150.0,
        "timber" => 50.0,
        _ => return None,
    };
    Some(pcf * KG_PER_LB / M3_PER_FT3)
}
