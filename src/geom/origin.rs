//! Where a local frame begins.

use super::point::Point;

/// A whole-metre local origin; plan positions are relative to it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize)]
pub struct Origin {
    /// East, metres.
    pub x_m: i64,
    /// North, metres.
    pub y_m: i64,
}

/// Nanometres in a metre, as a whole number.
const NM: i64 = 1_000_000_000;

impl Origin {
    /// The whole metre at or below an absolute position in whole nanometres.
    pub fn below(x_nm: i64, y_nm: i64) -> Origin {
        Origin {
            x_m: x_nm.div_euclid(NM),
            y_m: y_nm.div_euclid(NM),
        }
    }

    /// An absolute position in whole nanometres, relative to the origin; `None` beyond the
    /// range of whole numbers.
    pub fn local(self, x_nm: i64, y_nm: i64) -> Option<Point> {
        let x = x_nm.checked_sub(self.x_m.checked_mul(NM)?)?;
        let y = y_nm.checked_sub(self.y_m.checked_mul(NM)?)?;
        Some(Point::new(x, y))
    }

    /// A position in this frame as an absolute one in whole nanometres.
    ///
    /// # Input
    ///
    /// within the largest coordinate accepted, as everything a reader gave
    pub fn absolute(self, p: Point) -> Point {
        Point::new(self.x_m * NM + p.x, self.y_m * NM + p.y)
    }

    /// What to add to positions in this frame to have them in another; `None` beyond the range of
    /// whole numbers.
    pub fn shift_to(self, other: Origin) -> Option<Point> {
        other.local(self.x_m.checked_mul(NM)?, self.y_m.checked_mul(NM)?)
    }
}
