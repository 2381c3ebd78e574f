//! Where water runs on a surface: down the steepest line of every facet, over its edges, into
//! pits and over their lips.
//!
//! Takes a surface, gives paths of drops, pits with what they hold, and what drains where. Knows
//! no house and no limit: places that are asked after are numbers.
//!
//! Water has no depth and no speed here: it takes the steepest way down at every place. On a facet
//! that is the fall of the plane the facet was cut from, so a sliver turns nothing aside. What
//! is a pit and where it runs over is told by the heights of vertices alone.
//!
//! # Source
//!
//! paths and catchments on facets: S. Yu, M. van Kreveld, J. Snoeyink, "Drainage queries in
//! TINs: from local to global and back again", 7th Symposium on Spatial Data Handling (1996);
//! M. de Berg and others, "The complexity of rivers in triangulated terrains", 8th CCCG (1996)

mod cut;
mod descent;
mod drains;
mod drop;
mod label;
mod pits;
mod pond;
mod strips;
mod tin;

pub use cut::Line;
pub use drains::Drains;
pub use drop::Drop;
pub use label::{Label, Sink};
pub use pits::{Pit, Pits};
pub use pond::Pond;
pub use tin::{Mark, Tin};
