//! The shortest way round obstacles, for somebody who has a width.
//!
//! Takes a surface and what stands in the way, gives lines with length, climb and their
//! narrowest place. Knows no barrow and no gate.
