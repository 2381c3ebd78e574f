//! How the steps of a least-squares adjustment are damped.
//!
//! A step is taken plain as long as it makes the sum of squares smaller; after one that does not,
//! it is shortened until it does. Source: K. Levenberg (1944), D. Marquardt (1963), from memory.

/// A step shorter than this, metres, is the last: the digits of a yard's coordinates are at their
/// end.
pub(super) const STILL_M: f64 = 1e-13;

/// A plain step shorter than this, metres, is taken without asking the sum of squares: near the
/// minimum the sum is flat to its last digit over some 1e-8 m, and the step is not.
const FLAT_M: f64 = 1e-6;

/// Damping is added to a normal matrix of unit vectors, whose size is about 1: from a thousandth,
/// which hardly shortens a step, to a million, at which nothing moves any more.
const LEAST: f64 = 1e-3;
const MOST: f64 = 1e6;

/// What is added to the diagonal of the normal matrix.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Damping(f64);

impl Damping {
    /// The number to add.
    pub(super) fn value(self) -> f64 {
        self.0
    }

    /// True for a plain step so short that the sum of squares cannot judge it.
    pub(super) fn is_last(self, step_m: f64) -> bool {
        self.0 == 0.0 && step_m < FLAT_M
    }

    /// Less, after a step that went well.
    pub(super) fn ease(&mut self) {
        self.0 = if self.0 > 0.1 * LEAST {
            0.1 * self.0
        } else {
            0.0
        };
    }

    /// More, after a step that made it worse; false if no step makes it better.
    pub(super) fn raise(&mut self) -> bool {
        if self.0 > MOST {
            return false;
        }
        self.0 = (self.0 * 10.0).max(LEAST);
        true
    }
}
