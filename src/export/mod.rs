//! Surfaces in open formats, for other programs.
//!
//! Takes a surface as volumes are counted from it, with its origin, the names of its labels and
//! its lines; gives bytes. Every format reads back to the same volume within its own precision.
