//! Where the local frame of a survey begins.

use crate::geom::Point;

use super::shot::RawShot;

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
    /// The whole metre at or below the lower left of all shots.
    pub(super) fn of(shots: &[RawShot]) -> Origin {
        let least = |nm: fn(&RawShot) -> i64| shots.iter().map(nm).min().unwrap_or(0);
        Origin {
            x_m: least(|shot| shot.x_nm).div_euclid(NM),
            y_m: least(|shot| shot.y_nm).div_euclid(NM),
        }
    }

    /// An absolute position in whole nanometres, relative to the origin; `None` beyond the
    /// range of whole numbers.
    pub fn local(self, x_nm: i64, y_nm: i64) -> Option<Point> {
        let x = x_nm.checked_sub(self.x_m.checked_mul(NM)?)?;
        let y = y_nm.checked_sub(self.y_m.checked_mul(NM)?)?;
        Some(Point::new(x, y))
    }
}
