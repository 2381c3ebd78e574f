//! A wall that holds by its weight: what it weighs, and how its base is pressed.

use crate::units::GRAVITY_M_S2;

use super::pressure::StaticsError;
use super::thrust::Thrust;

/// A cross-section by its weight, per metre of wall.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Body {
    /// Area of the section, m2.
    pub area_m2: f64,
    /// Weight, N/m.
    pub weight_n_m: f64,
    /// How far behind the toe it acts, metres.
    pub arm_m: f64,
    /// How high above the base it acts, metres.
    pub height_m: f64,
    /// Width of the base, metres.
    pub base_m: f64,
}

/// A section of any shape: rectangle, trapezoid, a stack that leans.
///
/// # Input
///
/// corners in order, either way round: how far behind the toe and how high above the base,
/// metres; the lowest ones are the base, and the toe is at 0
/// # Errors
///
/// no area, no base, or no weight
/// # Source
///
/// area and centroid of a polygon (closed form)
pub fn body(section: &[[f64; 2]], wall_kg_m3: f64) -> Result<Body, StaticsError> {
    let (mut twice, mut x, mut y) = (0.0, 0.0, 0.0);
    for (k, &[ax, ay]) in section.iter().enumerate() {
        let [bx, by] = section[(k + 1) % section.len()];
        let cross = ax * by - bx * ay;
        twice += cross;
        x += (ax + bx) * cross;
        y += (ay + by) * cross;
    }
    let positive = |what: &'static str, value: f64| match value > 0.0 && value.is_finite() {
        true => Ok(value),
        false => Err(StaticsError::NotPositive { what, value }),
    };
    let area_m2 = positive("area of the section", twice.abs() / 2.0)?;
    positive("weight of the wall", wall_kg_m3)?;
    let low = section.iter().map(|c| c[1]).fold(f64::INFINITY, f64::min);
    let base = section
        .iter()
        .filter(|c| c[1] - low <= LEVEL_M)
        .map(|c| c[0]);
    let base_m = positive("width of the base", base.fold(0.0, f64::max))?;
    Ok(Body {
        area_m2,
        weight_n_m: area_m2 * wall_kg_m3 * GRAVITY_M_S2,
        arm_m: x / (3.0 * twice),
        height_m: y / (3.0 * twice),
        base_m,
    })
}

/// Corners within this of the lowest are corners of the base, metres: a nanometre.
const LEVEL_M: f64 = 1.0e-9;

/// How a base is pressed.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
#[serde(rename_all = "kebab-case", tag = "contact")]
pub enum Contact {
    /// Over its whole width: the resultant lies in the middle third.
    Whole {
        /// Under the toe, Pa.
        toe_pa: f64,
        /// Under the heel, Pa.
        heel_pa: f64,
    },
    /// Over a part: soil under a base does not pull, so the rest has no contact.
    Part {
        /// Width that is pressed, metres.
        width_m: f64,
        /// Under the pressed edge, Pa; the other has none.
        edge_pa: f64,
        /// True if the toe is pressed and the heel lifts.
        is_toe: bool,
    },
    /// The resultant lies outside the base: no pressure can be computed.
    None,
}

/// How a wall stands on its base under its weight and what pushes, per metre of it.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Standing {
    /// Weight and what presses down, N/m.
    pub down_n_m: f64,
    /// What resists sliding, for one that pushes; `None` where nothing pushes.
    pub sliding: Option<f64>,
    /// What resists turning over the toe, for one that turns; `None` where nothing does.
    pub overturning: Option<f64>,
    /// Where the resultant meets the base, from the toe, metres; negative before it.
    pub resultant_m: f64,
    /// How far that is from the middle of the base towards the toe, metres.
    pub eccentricity_m: f64,
    /// True if it lies in the middle third.
    pub in_middle_third: bool,
    /// Pressure under the base.
    #[serde(flatten)]
    pub contact: Contact,
    /// Pressure under toe and heel by the straight-line formula that lets a base pull, Pa: a
    /// negative one means no contact.
    pub straight_pa: [f64; 2],
}

/// Sliding, overturning and base pressure by the simple gravity check.
///
/// The soil before the wall is left out: it is dug away one day, and washed out another.
///
/// # Input
///
/// `friction` of the base on what it stands on, a ratio; the thrust presses down at the heel of
/// the base (an upright back)
/// # Source
///
/// statics (closed form); the pressure of a base in part lifted, 2 W / (3 x): any textbook on
/// foundations
pub fn standing(body: &Body, thrust: &Thrust, friction: f64) -> Standing {
    let presses: f64 = thrust.parts().iter().map(|f| f.down_n_m).sum();
    let (b, down) = (body.base_m, body.weight_n_m + presses);
    let (pushes, turns) = (thrust.out_n_m(), thrust.turning_n());
    let holds = body.weight_n_m * body.arm_m + presses * b;
    let x = (holds - turns) / down;
    let e = b / 2.0 - x;
    let mean = down / b;
    let straight_pa = [mean * (1.0 + 6.0 * e / b), mean * (1.0 - 6.0 * e / b)];
    let in_middle_third = e.abs() <= b / 6.0;
    let contact = if in_middle_third {
        let [toe_pa, heel_pa] = straight_pa;
        Contact::Whole { toe_pa, heel_pa }
    } else if x > 0.0 && x < b {
        let is_toe = e > 0.0;
        let near = if is_toe { x } else { b - x };
        Contact::Part {
            width_m: 3.0 * near,
            edge_pa: 2.0 * down / (3.0 * near),
            is_toe,
        }
    } else {
        Contact::None
    };
    Standing {
        down_n_m: down,
        sliding: (pushes > 0.0).then_some(friction * down / pushes),
        overturning: (turns > 0.0).then_some(holds / turns),
        resultant_m: x,
        eccentricity_m: e,
        in_middle_third,
        contact,
        straight_pa,
    }
}

impl Contact {
    /// Pressure under the toe, Pa; `None` where none can be computed.
    pub fn toe_pa(&self) -> Option<f64> {
        match *self {
            Contact::Whole { toe_pa, .. } => Some(toe_pa),
            Contact::Part {
                edge_pa, is_toe, ..
            } => Some(if is_toe { edge_pa } else { 0.0 }),
            Contact::None => None,
        }
    }

    /// The same under the heel.
    pub fn heel_pa(&self) -> Option<f64> {
        match *self {
            Contact::Whole { heel_pa, .. } => Some(heel_pa),
            Contact::Part {
                edge_pa, is_toe, ..
            } => Some(if is_toe { 0.0 } else { edge_pa }),
            Contact::None => None,
        }
    }
}
