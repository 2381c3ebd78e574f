//! From outlines and lines to flat pieces: floors with sides, ribbons with bends.
//!
//! Takes plan lines with levels, gives patches for the kernel. A pit and a mound are the same
//! shape, once with sides that rise outward and once with sides that fall. A corner turning
//! inward needs no piece of its own: the strips of its two sides overlap there, and the kernel
//! takes the lower (or higher) of them. Knows no feature and no soil.

mod along;
mod collapse;
mod cone;
mod corner;
mod flank;
mod floor;
mod joint;
mod line;
mod loft;
mod ribbon;
mod rim;
mod sheet;
mod sides;
mod upright;
mod vector;

pub use along::Along;
pub(crate) use along::SAME_STATION_M;
pub(crate) use cone::circle;
pub use cone::pile;
pub(crate) use corner::{longest_hip, longest_mitre};
pub(crate) use flank::{crossing_of, rim_at};
pub(crate) use floor::{floor_triangles, outward};
pub use floor::{floor_with_sides, floor_within};
pub use line::{Bend, CentreLine, NoRoom, Rounding};
pub use loft::{BendFault, Loft, Section, Skirt};
pub use ribbon::{Ends, RibbonLabels, ribbon};
pub use rim::{EdgeRun, SidePart, sides_along};
pub use sides::{Corners, FACE_RUN_PER_RISE, Facing, Sides};
pub(crate) use upright::{let_in, upright_round};
