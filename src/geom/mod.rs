//! Exact plane geometry on the lattice of whole nanometres.
//!
//! Takes integer points, gives exact signs, noded arrangements and triangulations.
//! Knows no trade word: no ground, no soil, no feature.

mod cdt;
mod chain;
mod circle;
mod delaunay;
mod grid;
mod hilbert;
mod hull;
mod map;
mod mesh;
mod near;
mod noding;
mod origin;
mod point;
mod polygon;
mod union;

pub use cdt::{CdtError, MAX_EXTENT_NM, Triangulation, triangulate};
pub(crate) use chain::joined;
pub(crate) use hilbert::{along_hilbert, scattered};
pub(crate) use hull::hull;
pub(crate) use map::PointMap;
pub(crate) use mesh::{Mesh, Spot};
pub use near::{Gap, gap_between, nearest_on};
pub use noding::{NodedEdge, Noding, NodingError, Segment, node};
pub use origin::Origin;
pub use point::{P3, Point, compass, distance_m, orient, orient_sign};
pub(crate) use polygon::odd_side;
pub use polygon::{Ring, RingFault, triangulate_rings, twice_area_of};
pub use union::Union;
