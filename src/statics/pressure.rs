//! Coefficients of earth pressure: Rankine and Coulomb.
//!
//! Angles are degrees, slopes rise over run. A coefficient times weight times depth is the
//! pressure; times weight times half the height squared the thrust.

use std::fmt;

/// Why there is no number.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum StaticsError {
    /// A friction angle that no soil has.
    Friction {
        /// As given.
        degrees: f64,
    },
    /// Backfill steeper than the friction angle: it would not lie there.
    BackfillTooSteep {
        /// Slope of the backfill, rise over run.
        rise_per_run: f64,
        /// Friction angle.
        degrees: f64,
    },
    /// A back that leans so far over, or friction on it so high, that no wedge pushes.
    NoWedge,
    /// Water above the ground behind the wall.
    WaterAboveGround {
        /// Of the water above the base, metres.
        water_m: f64,
        /// Of the ground there, metres.
        height_m: f64,
    },
    /// A length or weight that is no positive number.
    NotPositive {
        /// What it is.
        what: &'static str,
        /// As given.
        value: f64,
    },
}

impl fmt::Display for StaticsError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            StaticsError::Friction { degrees } => {
                write!(
                    f,
                    "a friction angle lies between 0 and 60 degrees, not at {degrees}"
                )
            }
            StaticsError::BackfillTooSteep {
                rise_per_run,
                degrees,
            } => write!(
                f,
                "the ground behind rises at {:.1} degrees, steeper than its friction angle of {degrees:.1} degrees: it has no thrust that can be computed, and would not lie there",
                rise_per_run.atan().to_degrees()
            ),
            StaticsError::NoWedge => write!(
                f,
                "with this lean of the back and this friction on it no wedge of soil pushes"
            ),
            StaticsError::WaterAboveGround { water_m, height_m } => write!(
                f,
                "the water behind stands {water_m:.3} m above the base, higher than the ground there ({height_m:.3} m)"
            ),
            StaticsError::NotPositive { what, value } => {
                write!(f, "the {what} is a number above 0, not {value}")
            }
        }
    }
}

impl std::error::Error for StaticsError {}

/// Largest friction angle that is believed, degrees: crushed rock has about 45.
const LARGEST_DEGREES: f64 = 60.0;

/// A friction angle in radians, if it is one.
pub(super) fn friction(degrees: f64) -> Result<f64, StaticsError> {
    if degrees > 0.0 && degrees <= LARGEST_DEGREES {
        Ok(degrees.to_radians())
    } else {
        Err(StaticsError::Friction { degrees })
    }
}

/// Active coefficient of a level backfill against an upright back: `tan^2(45 - phi/2)`.
///
/// # Errors
///
/// no friction angle
/// # Source
///
/// W. J. M. Rankine, "On the stability of loose earth", Phil. Trans. 147 (1857)
pub fn rankine_active(friction_degrees: f64) -> Result<f64, StaticsError> {
    rankine_active_sloping(friction_degrees, 0.0)
}

/// Passive coefficient of level ground before an upright face: `tan^2(45 + phi/2)`.
///
/// # Errors
///
/// no friction angle
/// # Source
///
/// as [`rankine_active`]
pub fn rankine_passive(friction_degrees: f64) -> Result<f64, StaticsError> {
    rankine_passive_sloping(friction_degrees, 0.0)
}

/// Active coefficient of a sloping backfill; the thrust acts along the backfill.
///
/// # Errors
///
/// no friction angle; a backfill steeper than it
/// # Source
///
/// as [`rankine_active`], in the form of NAVFAC DM 7.02, chapter 3 (from memory)
pub fn rankine_active_sloping(
    friction_degrees: f64,
    rise_per_run: f64,
) -> Result<f64, StaticsError> {
    let (cos, root) = sloping(friction_degrees, rise_per_run)?;
    Ok(cos * (cos - root) / (cos + root))
}

/// Passive coefficient of sloping ground; it acts along the slope.
///
/// # Errors
///
/// as [`rankine_active_sloping`]
/// # Source
///
/// as [`rankine_active_sloping`]
pub fn rankine_passive_sloping(
    friction_degrees: f64,
    rise_per_run: f64,
) -> Result<f64, StaticsError> {
    let (cos, root) = sloping(friction_degrees, rise_per_run)?;
    Ok(cos * (cos + root) / (cos - root))
}

/// Cosine of the slope, and the root of what it has over that of the friction angle.
fn sloping(friction_degrees: f64, rise_per_run: f64) -> Result<(f64, f64), StaticsError> {
    let phi = friction(friction_degrees)?;
    lies(friction_degrees, rise_per_run)?;
    let cos = rise_per_run.atan().cos();
    let over = cos * cos - phi.cos() * phi.cos();
    Ok((cos, over.max(0.0).sqrt()))
}

/// Refuses a backfill that would not lie there.
fn lies(friction_degrees: f64, rise_per_run: f64) -> Result<(), StaticsError> {
    let steepest = friction_degrees.to_radians().tan();
    if rise_per_run.abs() <= steepest {
        return Ok(());
    }
    Err(StaticsError::BackfillTooSteep {
        rise_per_run,
        degrees: friction_degrees,
    })
}

/// Active coefficient with friction on the back, a back that leans and a sloping backfill. The
/// thrust is turned by the friction angle of the wall from square to the back, downward.
///
/// # Input
///
/// `back_run_per_rise` how far the back goes towards the soil for one up: 0 upright, positive
/// for a wall that leans on the soil, negative where the soil lies on the back;
/// `wall_friction_degrees` 0 for a smooth back, at most the friction angle
/// # Errors
///
/// no friction angle; a backfill steeper than it; no wedge
/// # Source
///
/// C. A. Coulomb, "Essai sur une application des regles de maximis et minimis" (1776), in the
/// form of Mueller-Breslau as textbooks and NAVFAC DM 7.02 print it (from memory)
pub fn coulomb_active(
    friction_degrees: f64,
    wall_friction_degrees: f64,
    back_run_per_rise: f64,
    rise_per_run: f64,
) -> Result<f64, StaticsError> {
    let phi = friction(friction_degrees)?;
    lies(friction_degrees, rise_per_run)?;
    if !(0.0..=friction_degrees).contains(&wall_friction_degrees) {
        return Err(StaticsError::Friction {
            degrees: wall_friction_degrees,
        });
    }
    let delta = wall_friction_degrees.to_radians();
    // Positive where the soil lies on the back.
    let theta = -back_run_per_rise.atan();
    let beta = rise_per_run.atan();
    let (on_back, beside) = ((delta + theta).cos(), (theta - beta).cos());
    if on_back <= 0.0 || beside <= 0.0 || phi + theta.abs() >= std::f64::consts::FRAC_PI_2 {
        return Err(StaticsError::NoWedge);
    }
    let root = ((phi + delta).sin() * (phi - beta).sin().max(0.0) / (on_back * beside)).sqrt();
    let top = (phi - theta).cos();
    Ok(top * top / (theta.cos() * theta.cos() * on_back * (1.0 + root) * (1.0 + root)))
}
