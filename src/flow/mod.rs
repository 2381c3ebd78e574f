//! Where water runs on a surface: down the steepest line of every facet, over its edges, into
//! pits and over their lips.
//!
//! Takes a surface, gives paths, pits with what they hold, and what drains where. Knows no house
//! and no limit.
