//! A shot: a name with a place, a height and the line it was booked on.

use crate::diag::{At, Diagnostic};
use crate::geom::{Origin, Point};

/// How exact a shot is meant to be.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum PointClass {
    /// Ground: 0.1 ft or 3 cm.
    #[default]
    Soil,
    /// Benchmarks, wall tops, lips: 0.01 ft or 3 mm.
    Hard,
}

/// A shot with place and height, in absolute coordinates.
#[derive(Clone, Debug)]
pub(crate) struct RawShot {
    /// Name as booked.
    pub(crate) name: String,
    /// East, whole nanometres, absolute.
    pub(crate) x_nm: i64,
    /// North, whole nanometres, absolute.
    pub(crate) y_nm: i64,
    /// Elevation, metres.
    pub(crate) z_m: f64,
    /// Code, such as `fence`; empty if none.
    pub(crate) code: String,
    /// Class from the code.
    pub(crate) class: PointClass,
    /// File and line it was booked on.
    pub(crate) at: At,
}

impl RawShot {
    /// The shot in the frame of an origin.
    pub(super) fn local(self, origin: Origin) -> Result<Shot, Diagnostic> {
        match origin.local(self.x_nm, self.y_nm) {
            Some(p) => Ok(Shot {
                name: self.name,
                p,
                z_m: self.z_m,
                code: self.code,
                class: self.class,
                at: self.at,
            }),
            None => {
                let message = format!("shot {} lies too far from the others", self.name);
                Err(Diagnostic::error("far-shot", message).at(self.at))
            }
        }
    }
}

/// A shot in the local frame.
#[derive(Clone, Debug)]
pub struct Shot {
    /// Name as booked.
    pub name: String,
    /// Plan position relative to the survey's origin.
    pub p: Point,
    /// Elevation, metres.
    pub z_m: f64,
    /// Code; empty if none.
    pub code: String,
    /// Class.
    pub class: PointClass,
    /// File and line.
    pub at: At,
}
