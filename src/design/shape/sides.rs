//! How sides leave an edge: slope, reach, corners; and the strips they are made of.

use crate::geom::P3;
use crate::surface::{Label, Patch, Rule};

use super::vector::offset;

/// How sides meet at a corner that turns outward.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Corners {
    /// Planes extended until they meet in a straight hip.
    Mitre,
    /// A cone, built of flat facets.
    Round,
}

/// Run of a "vertical" face for each unit of its rise. A surface has one height at one place,
/// so a vertical face leans by this much: 0.1 mm in a metre, far below what anyone digs to.
pub const FACE_RUN_PER_RISE: f64 = 1.0e-4;

/// How sides leave an edge.
#[derive(Clone, Copy, Debug)]
pub struct Sides {
    /// Lower: sides rise outward. Raise: they fall.
    pub rule: Rule,
    /// Run for each unit of rise.
    pub run_per_rise: f64,
    /// Level the sides must reach or pass, metres.
    pub limit_z_m: f64,
    /// Corners turning outward.
    pub corners: Corners,
    /// Longest chord error of a round corner at the end of its sides, metres.
    pub chord_m: f64,
}

/// Sides end a little beyond their limit, so that the rim is clear of the highest ground: by a
/// thousandth of their rise and a centimetre.
const CLEAR: f64 = 1.001;
const CLEAR_M: f64 = 0.01;

impl Sides {
    /// Run and rise of sides that start at the level farthest from the limit.
    pub(super) fn reach(&self, levels: impl Iterator<Item = f64>) -> (f64, f64) {
        let rise = self.rise(levels);
        (rise.abs() * self.run_per_rise.max(FACE_RUN_PER_RISE), rise)
    }

    /// Rise of sides that start at the level farthest from the limit; less than 0 where they
    /// fall.
    pub(super) fn rise(&self, levels: impl Iterator<Item = f64>) -> f64 {
        let rise = levels
            .map(|z| (self.limit_z_m - z) * self.up())
            .fold(0.0, f64::max);
        (rise * CLEAR + CLEAR_M) * self.up()
    }

    /// The limit above their start of sides that end exactly so high.
    pub(crate) fn limit_for(rise: f64) -> f64 {
        (rise - CLEAR_M) / CLEAR
    }

    pub(super) fn up(&self) -> f64 {
        match self.rule {
            Rule::Lower => 1.0,
            Rule::Raise => -1.0,
        }
    }
}

/// Labels for the parts of a shape, by the direction they look to in plan.
pub type Facing<'a> = &'a mut dyn FnMut([f64; 2]) -> Label;

/// A rectangle from the edge `a b` outward.
pub(super) fn strip(
    patch: &mut Patch,
    a: P3,
    b: P3,
    out: [f64; 2],
    run: f64,
    rise: f64,
    label: Label,
) {
    skewed(patch, [a, b], [out, out], run, rise, label);
}

/// The same with a direction of its own at each end, the two all but equal.
pub(super) fn skewed(
    patch: &mut Patch,
    [a, b]: [P3; 2],
    out: [[f64; 2]; 2],
    run: f64,
    rise: f64,
    label: Label,
) {
    let far = [offset(a, out[0], run, rise), offset(b, out[1], run, rise)];
    patch.add(&[a, far[0], far[1], b], label);
}
