//! Earthwork: how much soil, in which state, from which feature.
//!
//! Takes ground and design, gives cut and fill in total and by feature, the balance of soil with
//! its range, and loads. No bare signs: cut, fill, surplus and short are each positive. Knows no
//! slope limit and no price.

mod balance;
mod extent;
mod layers;
mod lifts;
mod second;
mod soil;
mod volume;
mod wall;
mod work;

pub use balance::{Balance, Loads, Range, balance};
pub use extent::{Extent, FeatureExtent, LineLength, extents};
pub use layers::{LayerQuantity, layer_quantities};
pub use lifts::{Lift, lifts};
pub use second::{SecondMethod, by_sections, section_areas};
pub use soil::{Soil, SoilError, soil_names};
pub use volume::{FeatureVolume, PartVolume, Volumes, volumes};
pub use wall::{CourseCount, WallPoint, WallQuantities, WallStep, wall_quantities};
pub use work::{Work, works};
