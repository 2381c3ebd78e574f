//! What a ground filter took away, as a picture.

use crate::geom::{Origin, Point};

/// Points that a ground filter took away, by cells of a coarse raster.
#[derive(Clone, Debug, PartialEq)]
pub struct TakenAway {
    /// The frame.
    pub origin: Origin,
    /// South-west corner of the raster, nanometres from the origin.
    pub low: Point,
    /// Side of a cell, metres.
    pub cell_m: f64,
    /// Cells from west to east.
    pub columns: u32,
    /// Cells from south to north.
    pub rows: u32,
    /// Points taken away because they stand on the ground.
    pub above: u64,
    /// Points taken away because they lie below it.
    pub below: u64,
    /// Cells where something was taken away, row by row from the south-west.
    pub cells: Vec<TakenCell>,
}

/// A cell of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TakenCell {
    /// From the west, counted from 0.
    pub column: u32,
    /// From the south, counted from 0.
    pub row: u32,
    /// Points taken away.
    pub count: u32,
    /// How far the highest of them stands above the ground, metres; 0 if all lie below it.
    pub highest_m: f64,
}
