//! `[[gate]]` and `[[route]]`: how barrows come in, and where they go.

use crate::diag::At;

use super::{Place, PlaceList};

/// One `[[gate]]`.
#[derive(Clone, Debug)]
pub struct GateSpec {
    /// What it is called.
    pub name: String,
    /// Where it is.
    pub shape: GateShape,
    /// Where the job says so.
    pub at: At,
}

/// How a gate is given.
#[derive(Clone, Debug)]
pub enum GateShape {
    /// By its two posts: what is clear is their distance.
    Posts(PlaceList),
    /// By its middle and its clear width, metres; it stands along the line drawn nearest to it.
    Middle {
        /// The middle.
        place: Place,
        /// Where the job says so.
        at: At,
        /// Clear width, metres.
        width_m: f64,
    },
}

/// One `[[route]]`.
#[derive(Clone, Debug)]
pub struct RouteSpec {
    /// What it is called.
    pub name: String,
    /// Where it starts: a gate or a feature by name, or a place.
    pub from: (Place, At),
    /// Where it ends.
    pub to: (Place, At),
    /// Places it passes on the way.
    pub via: Option<PlaceList>,
    /// Width it takes, metres, where it is not that of the limits.
    pub width_m: Option<f64>,
    /// Where the job says so.
    pub at: At,
}
