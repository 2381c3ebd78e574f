//! Where water runs, before and after the work: away from buildings or to them, over lines of
//! property, into ponds, out of basins.
//!
//! Water is what the ground sheds: how much rain falls and how fast it runs is not computed. A
//! drop takes the steepest way down (`flow`), and every hollow on its way is taken to be full.

mod house;
mod house_words;
mod lawn;
mod overflow;
mod ponds;
mod swale;
mod ways;
mod yard;

use super::{Checked, Context};

pub use house::{Fall, House, Station};
pub use ponds::{PondKind, Standing};
pub use ways::{Catchment, Way};

use yard::Yard;

/// Hollows shallower than this are no ponds, metres: a tenth of a foot, as exact as soil is shot.
const PUDDLE_M: f64 = 0.03;

/// An area smaller than this tells nothing of where water runs, m2: about ten square feet.
const SMALLEST_SHED_M2: f64 = 1.0;

/// Where water runs.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize)]
pub struct Drainage {
    /// Ways of drops on the measured ground.
    pub before: Vec<Way>,
    /// Ways of drops from the same places on the finished surface.
    pub after: Vec<Way>,
    /// Hollows deep enough to hold water, on the finished surface.
    pub ponds: Vec<Standing>,
    /// What drains to buildings, lines of property, basins and streams.
    pub catchments: Vec<Catchment>,
    /// Fall of the ground away from buildings, station by station.
    pub houses: Vec<House>,
}

pub(super) fn check(context: &Context, out: &mut Checked) {
    let yard = Yard::of(context, &out.keep_offs);
    house::check(context, out);
    swale::check(context, out);
    lawn::check(context, &yard, out);
    ways::check(context, &yard, out);
    ponds::check(context, &yard, out);
    overflow::check(context, &yard, out);
    out.missing(
        "DR-9",
        "how much water runs is not computed, so neither is how fast it runs in the overflow",
    );
}
