//! Numbers for the engineer: thrust, base pressure, sliding and overturning of a drawn wall at its
//! highest place and at each other section, by the simple gravity check.
//!
//! Sets side by side what follows from low, likely and high friction, drained and full of water.
//! No verdict.

use crate::design::WallPlan;
use crate::earthwork::{Soil, WallPoint, WallQuantities};
use crate::geom::Point;
use crate::statics::{
    Backfill, Between, Class, Method, Standing, Thrust, base_friction, base_friction_source,
    bearing, bearing_source, body, friction_degrees, friction_source, masonry_kg_m3, standing,
    thrust,
};
use crate::units::PA_PER_PSF;

use super::super::Context;
use super::above::{Surcharge, What};

/// A section of a wall in numbers.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct WallSection {
    /// Where along the foot of the face, metres.
    pub station_m: f64,
    /// Absolute coordinates of the foot, metres.
    pub at_m: [f64; 2],
    /// Level of the underside of the first course, metres.
    pub base_m: f64,
    /// Level of the top, metres.
    pub top_m: f64,
    /// Finished ground before the foot, metres.
    pub front_m: Option<f64>,
    /// Finished ground behind the back, metres.
    pub behind_m: f64,
    /// Corners of the body: how far behind the foot and how high above the base, metres.
    pub body_m: Vec<[f64; 2]>,
    /// Rise of the ground behind, over the height of the wall; a fall counts as level.
    pub rise_per_run: f64,
    /// Ground behind: how far behind the back and how high, metres.
    pub ground_m: Vec<[f64; 2]>,
    /// Weight of the wall, kg/m3, and where it is from.
    pub wall_kg_m3: f64,
    /// Where that is from.
    pub wall_from: String,
    /// Weight of the soil in place, kg/m3.
    pub moist_kg_m3: f64,
    /// Weight of the soil full of water, kg/m3.
    pub saturated_kg_m3: f64,
    /// Friction angle, degrees; `None` where nobody offers one.
    pub friction_degrees: Option<Between>,
    /// Where that is from.
    pub friction_from: String,
    /// Friction of the base, a ratio.
    pub base_friction: Option<Between>,
    /// Where that is from.
    pub base_friction_from: String,
    /// Load behind that is in the numbers, Pa.
    pub surcharge_pa: f64,
    /// What loads the soil behind and is not in the numbers.
    pub not_in_numbers: Vec<String>,
    /// Presumed bearing, Pa; `None` where there is none.
    pub presumed_bearing_pa: Option<f64>,
    /// Where that is from.
    pub bearing_from: String,
    /// Low, likely and high friction, each drained and full of water.
    pub cases: Vec<WallCase>,
}

/// One set of assumptions and what follows.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct WallCase {
    /// `low`, `likely` or `high` friction.
    pub friction: &'static str,
    /// Friction angle, degrees.
    pub friction_degrees: f64,
    /// Friction of the base, a ratio.
    pub base_friction: Option<f64>,
    /// Height of water behind, metres.
    pub water_m: f64,
    /// What pushes; `None` where it cannot be computed.
    pub thrust: Option<Thrust>,
    /// How the wall stands.
    pub standing: Option<Standing>,
    /// Why there are no numbers.
    pub why_not: Option<String>,
}

/// Sections shown for one wall.
const MOST_SECTIONS: usize = 4;

/// Sections whose heights differ by less than this share of the highest are alike.
const ALIKE: f64 = 0.2;

/// What soil full of water weighs more than damp, kg/m3: 10 lb/ft3 (common practice, no source).
const WATER_IN_SOIL_KG_M3: f64 = 160.0;

/// Load of people on a path, lb/ft2 (common practice, no source).
const PATH_PSF: f64 = 100.0;

/// What a wall is taken to be made of where the job does not say.
const USUAL_WALL: &str = "stone";

/// Words for what is taken where the job gives a figure.
const YOURS: &str = "your figure";

/// The sections of a wall, the highest first.
pub(super) fn sections(
    context: &Context,
    plan: &WallPlan,
    wall: &WallQuantities,
    above: &[Surcharge],
) -> Vec<WallSection> {
    let mut points: Vec<&WallPoint> = wall.stations.iter().collect();
    // The first of equals: sorting keeps their order.
    points.sort_by(|a, b| b.body_m.total_cmp(&a.body_m));
    let highest_m = points.first().map_or(0.0, |p| p.body_m);
    let mut heights: Vec<f64> = Vec::new();
    let mut found = Vec::new();
    for point in points {
        let is_alike = |h: &f64| match plan.course_m {
            Some(course) => (h - point.body_m).abs() < course / 2.0,
            None => h - point.body_m < ALIKE * highest_m,
        };
        if heights.iter().any(is_alike) || heights.len() >= MOST_SECTIONS {
            continue;
        }
        if let Some(section) = section(context, plan, point, above) {
            heights.push(point.body_m);
            found.push(section);
        }
    }
    found
}

/// The class of a soil by the word of its table.
pub(super) fn class(soil: &Soil) -> Class {
    match soil.class.as_str() {
        "gravel" => Class::Gravel,
        "sand" => Class::Sand,
        "silt" => Class::Silt,
        "clay" => Class::Clay,
        "rock" => Class::Rock,
        _ => Class::Fill,
    }
}

/// Friction angle of the soil behind, and where it is from.
pub(super) fn friction(soil: &Soil) -> (Option<Between>, String) {
    match soil.friction_degrees {
        Some(degrees) => {
            let exactly = Between {
                low: degrees,
                likely: degrees,
                high: degrees,
            };
            (Some(exactly), YOURS.to_owned())
        }
        None => (friction_degrees(class(soil)), friction_source().to_owned()),
    }
}

/// The wall at a point; `None` where no ground lies behind it.
fn section(
    context: &Context,
    plan: &WallPlan,
    point: &WallPoint,
    above: &[Surcharge],
) -> Option<WallSection> {
    let (soil, class) = (context.soil, class(context.soil));
    let behind_m = point.behind_m?;
    let height_m = behind_m.min(point.top_m) - point.base_m;
    if height_m <= 0.0 {
        return None;
    }
    let ground_m = ground_behind(context, plan, point);
    let rise = ground_m
        .last()
        .map_or(0.0, |&[run, z]| (z - behind_m) / run);
    let (wall_kg_m3, wall_from) = weight(plan);
    let (friction_degrees, friction_from) = friction(soil);
    let base_friction = base_friction(class);
    let on_path = above.iter().any(|s| s.what == What::Path);
    let body_m = plan.section(point.body_m).to_vec();
    let mut section = WallSection {
        station_m: point.station_m,
        at_m: [point.x_m, point.y_m],
        base_m: point.base_m,
        top_m: point.top_m,
        front_m: point.front_m,
        behind_m,
        rise_per_run: rise.max(0.0),
        ground_m,
        wall_kg_m3,
        wall_from,
        moist_kg_m3: soil.bank_kg_m3,
        saturated_kg_m3: soil.bank_kg_m3 + WATER_IN_SOIL_KG_M3,
        friction_degrees,
        friction_from,
        base_friction,
        base_friction_from: base_friction_source().to_owned(),
        surcharge_pa: if on_path { PATH_PSF * PA_PER_PSF } else { 0.0 },
        not_in_numbers: above
            .iter()
            .filter(|s| !matches!(s.what, What::Path | What::Slope))
            .map(|s| s.words.clone())
            .collect(),
        presumed_bearing_pa: bearing(class).map(|b| b.bearing_pa),
        bearing_from: bearing_source().to_owned(),
        cases: Vec::new(),
        body_m,
    };
    section.cases = cases(&section, height_m);
    Some(section)
}

/// Weight of the wall, kg/m3, and where it is from.
fn weight(plan: &WallPlan) -> (f64, String) {
    let word = plan.made_of.as_deref().unwrap_or(USUAL_WALL);
    match (plan.kg_m3, &plan.made_of) {
        (Some(kg_m3), _) => (kg_m3, YOURS.to_owned()),
        (None, given) => {
            let from = match given {
                Some(word) => format!("usual for {word}, common practice, no source"),
                None => format!(
                    "the job does not say what the wall is made of: taken as {word}, common practice, no source"
                ),
            };
            (masonry_kg_m3(word).unwrap_or(0.0), from)
        }
    }
}

/// Places at which the ground behind is looked up, as shares of the height of the wall.
const SAMPLES: usize = 4;

/// The finished ground behind the back, over the height of the wall.
fn ground_behind(context: &Context, plan: &WallPlan, point: &WallPoint) -> Vec<[f64; 2]> {
    let surface = &context.design.surface;
    let mut ground = Vec::new();
    for k in 1..=SAMPLES {
        let run = point.body_m * k as f64 / SAMPLES as f64;
        let p = behind(plan, point.station_m, run);
        match surface.z_at(p) {
            Some(z) => ground.push([run, z]),
            None => break,
        }
    }
    ground
}

/// A place so far behind the back.
pub(super) fn behind(plan: &WallPlan, station_m: f64, run_m: f64) -> Point {
    plan.line
        .beside(station_m, (plan.thickness_m + run_m) * plan.side)
}

/// Every friction drained and full of water.
fn cases(section: &WallSection, height_m: f64) -> Vec<WallCase> {
    let Some(phi) = section.friction_degrees else {
        return Vec::new();
    };
    let mu = section.base_friction;
    let mut all = Vec::new();
    for water_m in [0.0, height_m] {
        for (friction, degrees, base) in [
            ("low", phi.low, mu.map(|m| m.low)),
            ("likely", phi.likely, mu.map(|m| m.likely)),
            ("high", phi.high, mu.map(|m| m.high)),
        ] {
            let backfill = Backfill {
                height_m,
                rise_per_run: section.rise_per_run,
                friction_degrees: degrees,
                moist_kg_m3: section.moist_kg_m3,
                saturated_kg_m3: section.saturated_kg_m3,
                surcharge_pa: section.surcharge_pa,
                water_m,
            };
            let found = thrust(&backfill, Method::Rankine).and_then(|thrust| {
                let body = body(&section.body_m, section.wall_kg_m3)?;
                let mut stands = standing(&body, &thrust, base.unwrap_or(0.0));
                if base.is_none() {
                    stands.sliding = None;
                }
                Ok((thrust, stands))
            });
            let why_not = found.as_ref().err().map(ToString::to_string);
            let (thrust, standing) = found.ok().unzip();
            all.push(WallCase {
                friction,
                friction_degrees: degrees,
                base_friction: base,
                water_m,
                thrust,
                standing,
                why_not,
            });
        }
    }
    all
}

impl WallSection {
    /// The case of likely friction, drained or full of water.
    pub fn likely(&self, is_drained: bool) -> Option<&WallCase> {
        let mut likely = self.cases.iter().filter(|c| c.friction == "likely");
        likely.find(|c| (c.water_m == 0.0) == is_drained)
    }

    /// Thrust full of water for one drained, at likely friction.
    pub fn water_ratio(&self) -> Option<f64> {
        let out = |is_drained| Some(self.likely(is_drained)?.thrust?.out_n_m());
        Some(out(false)? / out(true)?)
    }
}
