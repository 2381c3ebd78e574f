//! What soil, surcharge and water behind a wall push with.

use crate::units::GRAVITY_M_S2;

use super::WATER_KG_M3;
use super::pressure::{StaticsError, coulomb_active, friction, rankine_active_sloping};

/// How the pressure of the soil is computed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Method {
    /// Rankine on an upright back: no friction on it, the thrust acts along the backfill.
    Rankine,
    /// Coulomb, with friction on the back.
    Coulomb {
        /// Friction between soil and back, degrees.
        wall_friction_degrees: f64,
        /// Lean of the back towards the soil, run for one of rise.
        back_run_per_rise: f64,
    },
}

/// What lies behind a wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Backfill {
    /// Height of the soil against the back, from the base up, metres.
    pub height_m: f64,
    /// Rise of the ground behind, over run.
    pub rise_per_run: f64,
    /// Friction angle of the soil, degrees.
    pub friction_degrees: f64,
    /// Weight of the soil above the water, kg/m3.
    pub moist_kg_m3: f64,
    /// Weight of the soil full of water, kg/m3.
    pub saturated_kg_m3: f64,
    /// Load on the ground behind, Pa.
    pub surcharge_pa: f64,
    /// Height of the water behind, from the base up, metres; 0 where it is drained.
    pub water_m: f64,
}

/// A force on one metre of wall.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize)]
pub struct Force {
    /// Pushing out, N/m.
    pub out_n_m: f64,
    /// Pressing down, N/m.
    pub down_n_m: f64,
    /// How high above the base it acts, metres; 0 for none.
    pub arm_m: f64,
}

/// What pushes against a wall, per metre of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize)]
pub struct Thrust {
    /// Coefficient of the soil's pressure.
    pub coefficient: f64,
    /// The soil.
    pub soil: Force,
    /// The load on it.
    pub surcharge: Force,
    /// The water, square to the back.
    pub water: Force,
}

impl Thrust {
    /// Everything that pushes out, N/m.
    pub fn out_n_m(&self) -> f64 {
        self.parts().iter().map(|f| f.out_n_m).sum()
    }

    /// The whole of soil, surcharge and water along their own directions, each by itself, N/m.
    pub fn total_n_m(&self) -> f64 {
        let parts = self.parts();
        parts.iter().map(|f| f.out_n_m.hypot(f.down_n_m)).sum()
    }

    /// Moment of what pushes out about the level of the base, N m/m.
    pub fn turning_n(&self) -> f64 {
        self.parts().iter().map(|f| f.out_n_m * f.arm_m).sum()
    }

    pub(super) fn parts(&self) -> [Force; 3] {
        [self.soil, self.surcharge, self.water]
    }
}

/// Thrust on a wall, per metre of it.
///
/// Below the water the soil weighs less by the weight of water, and the water pushes by itself.
///
/// # Errors
///
/// sizes and weights that are not positive; water above the ground; no friction angle, or a
/// backfill steeper than it
/// # Source
///
/// pressures that grow straight with depth, summed piece by piece (closed form)
pub fn thrust(backfill: &Backfill, method: Method) -> Result<Thrust, StaticsError> {
    let b = backfill;
    friction(b.friction_degrees)?;
    for (what, value) in [
        ("height of the soil", b.height_m),
        ("weight of the soil", b.moist_kg_m3),
        ("weight of the soil with water", b.saturated_kg_m3),
    ] {
        if !(value > 0.0 && value.is_finite()) {
            return Err(StaticsError::NotPositive { what, value });
        }
    }
    for (what, value) in [
        ("surcharge", b.surcharge_pa),
        ("height of the water", b.water_m),
    ] {
        if !(value >= 0.0 && value.is_finite()) {
            return Err(StaticsError::NotPositive { what, value });
        }
    }
    if b.water_m > b.height_m {
        return Err(StaticsError::WaterAboveGround {
            water_m: b.water_m,
            height_m: b.height_m,
        });
    }
    // Coefficient, the direction of the soil's thrust below the level, and that of the water's.
    let (coefficient, turned, lean) = match method {
        Method::Rankine => (
            rankine_active_sloping(b.friction_degrees, b.rise_per_run)?,
            b.rise_per_run.atan(),
            0.0,
        ),
        Method::Coulomb {
            wall_friction_degrees,
            back_run_per_rise,
        } => {
            let k = coulomb_active(
                b.friction_degrees,
                wall_friction_degrees,
                back_run_per_rise,
                b.rise_per_run,
            )?;
            let lean = back_run_per_rise.atan();
            (k, wall_friction_degrees.to_radians() - lean, lean)
        }
    };
    let force = |push: f64, moment: f64, turned: f64| Force {
        out_n_m: push * turned.cos(),
        down_n_m: push * turned.sin(),
        arm_m: if push > 0.0 { moment / push } else { 0.0 },
    };
    let (h, w) = (b.height_m, b.water_m);
    let moist = b.moist_kg_m3 * GRAVITY_M_S2;
    let under = (b.saturated_kg_m3 - WATER_KG_M3).max(0.0) * GRAVITY_M_S2;
    // Above the water, a block of that below it, and what grows in the water.
    let dry = h - w;
    let pieces = [
        (moist * dry * dry / 2.0, w + dry / 3.0),
        (moist * dry * w, w / 2.0),
        (under * w * w / 2.0, w / 3.0),
    ];
    let push: f64 = pieces.iter().map(|p| p.0).sum::<f64>() * coefficient;
    let moment: f64 = pieces.iter().map(|p| p.0 * p.1).sum::<f64>() * coefficient;
    let load = coefficient * b.surcharge_pa * h;
    let water = WATER_KG_M3 * GRAVITY_M_S2 * w * w / 2.0 / lean.cos();
    Ok(Thrust {
        coefficient,
        soil: force(push, moment, turned),
        surcharge: force(load, load * h / 2.0, turned),
        water: force(water, water * w / 3.0, -lean),
    })
}
