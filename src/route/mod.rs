//! The shortest way round obstacles, for somebody who has a width.
//!
//! Takes what stands in the way and, for the climb, a surface; gives lines with their length,
//! their narrowest place, climb and cross slope, or what closes the way. Knows no barrow and no
//! gate.
//!
//! A way of a width is the line of its middle, which keeps half the width from every obstacle:
//! a point among obstacles grown by a disc (T. Lozano-Pérez, M. A. Wesley, "An algorithm for
//! planning collision-free paths among polyhedral obstacles", 1979). The shortest one is made of
//! straight stretches that touch two of the discs round corners, and of arcs on them, as the
//! shortest way of a point is made of lines from corner to corner (D. T. Lee, "Proximity and
//! reachability in the plane", 1978). So nothing is approximated: the discs are discs.

mod apart;
mod disc;
mod gap;
mod obstacle;
mod search;
mod steep;
mod trail;
mod ways;

pub use apart::{Move, least_move};
pub use gap::{Blocked, Narrow};
pub use obstacle::{Obstacle, Shape};
pub use steep::steep_banks;
pub use trail::{Steep, Trail, trail};
pub use ways::{Way, Ways};
