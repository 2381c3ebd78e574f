//! Places by tape: ties from corners, baseline and offset, rods in a grid, distance and bearing,
//! and corners known by the distances between them.
//!
//! `circle`, `fix`, `network`, `least_squares`, `damping` and `rigid` are geometry on metres and
//! know no names; `columns` reads the cells of a row; `gather` brings the rows of a name together;
//! `place`, `beside`, `corners` and `shots` give every name its place; `words` says what does not
//! agree.

mod bearing;
mod beside;
mod circle;
mod columns;
mod corners;
mod damping;
mod fix;
mod gather;
mod least_squares;
mod network;
mod place;
mod result;
mod rigid;
mod said;
mod shots;
mod words;

pub use bearing::read_bearing;
pub use circle::{Meeting, Plan, level_length_m, meet};
pub use fix::{
    DOUBTED, Ellipse, Fix, Miss, REFUSED, Suspect, Tied, best_crossing, fixes, suspects,
};
pub use network::{
    Adjusted, Beside, Distance, MAX_CORNERS, Network, NetworkFault, WrongDistance, adjust_corners,
};
pub use place::TAPE_ERROR_M;
pub use result::{CornerFix, TieFix, Undecided, Way};
pub use rigid::missing;

pub(crate) use columns::TieColumns;
pub(crate) use place::{Places, place};
