//! From rows of heights to faces, row by row as they are read.
//!
//! Takes the rows of a grid in the order of the file, gives vertices and triangles. Cells are
//! what the file calls a cell: one height, at its centre. A square of four neighbouring cells
//! gives two triangles, one of three known cells one, any other none. Holds three rows and what
//! is given, however large the grid.
//!
//! The diagonal of a square runs from the south-west to the north-east in a grid whose rows run
//! east and west; in one laid out turned or mirrored it is the diagonal that does so once the
//! grid is turned or mirrored back. A square of plan area A whose corners are
//! `t = z00 + z11 - z01 - z10` out of one plane holds `A |t| / 6` more over one diagonal than
//! over the other: over the diagonal 00-11 its volume is `A (2 z00 + 2 z11 + z01 + z10) / 6`,
//! over the other `A (z00 + z11 + 2 z01 + 2 z10) / 6`.

use crate::geom::{P3, Point};
use crate::import::Faces;

use super::lattice::Lattice;

/// No vertex.
const NONE: u32 = u32::MAX;

/// What became of a grid.
#[derive(Debug)]
pub(super) struct Woven {
    /// The faces.
    pub(super) faces: Faces,
    /// Cells without a height.
    pub(super) unknown: u64,
    /// Cells with a height that belong to no face.
    pub(super) lonely: u64,
    /// What the volume below the surface changes by if every diagonal is turned, cubic metres.
    pub(super) turned_m3: f64,
    /// The most it changes by whichever diagonals are turned, cubic metres.
    pub(super) bound_m3: f64,
}

/// Takes rows, gives faces.
pub(super) struct Cells<'a> {
    lattice: &'a Lattice,
    /// East coordinates of the columns, where they are the same in every row.
    east: Option<Vec<i64>>,
    /// Vertices of the row before the last, by column.
    before: Vec<u32>,
    /// The last row; heights that are not known are NaN.
    last: Vec<f64>,
    /// Which cells of the last row belong to a face.
    used: Vec<bool>,
    /// The squares above the last row: which corners of each are known.
    above: Vec<u8>,
    rows: u32,
    woven: Woven,
    twist_m: f64,
    abs_twist_m: f64,
}

/// Corners of a square in `above`: of the row before and this one, left and right.
const LEFT: u8 = 1;
const RIGHT: u8 = 2;
const NEXT_LEFT: u8 = 4;
const NEXT_RIGHT: u8 = 8;

impl<'a> Cells<'a> {
    /// For the rows of a grid.
    pub(super) fn new(lattice: &'a Lattice) -> Cells<'a> {
        Cells {
            lattice,
            east: lattice.east(),
            before: Vec::new(),
            last: Vec::new(),
            used: Vec::new(),
            above: Vec::new(),
            rows: 0,
            woven: Woven {
                faces: Faces::default(),
                unknown: 0,
                lonely: 0,
                turned_m3: 0.0,
                bound_m3: 0.0,
            },
            twist_m: 0.0,
            abs_twist_m: 0.0,
        }
    }

    /// How many rows were taken.
    pub(super) fn rows(&self) -> u32 {
        self.rows
    }

    /// Takes the next row: heights in metres, NaN where none is known; empties it.
    ///
    /// # Input
    ///
    /// as many heights as the grid has columns
    pub(super) fn push(&mut self, heights: &mut Vec<f64>) {
        self.woven.unknown += heights.iter().filter(|z| z.is_nan()).count() as u64;
        let mut used = vec![false; heights.len()];
        let mut squares = Vec::with_capacity(heights.len().saturating_sub(1));
        if self.rows > 0 {
            let (mut twist_m, mut abs_twist_m) = (0.0, 0.0);
            let pairs = self.last.windows(2).zip(heights.windows(2));
            for (k, (upper, lower)) in pairs.enumerate() {
                let (z, bits) = (
                    [upper[0], upper[1], lower[0], lower[1]],
                    [LEFT, RIGHT, NEXT_LEFT, NEXT_RIGHT],
                );
                let known: u8 = (0..4).filter(|&i| !z[i].is_nan()).map(|i| bits[i]).sum();
                squares.push(known);
                if known.count_ones() < 3 {
                    continue;
                }
                self.used[k] |= known & LEFT != 0;
                self.used[k + 1] |= known & RIGHT != 0;
                used[k] |= known & NEXT_LEFT != 0;
                used[k + 1] |= known & NEXT_RIGHT != 0;
                if known.count_ones() == 4 {
                    let t = (z[1] + z[2]) - (z[0] + z[3]);
                    twist_m += t;
                    abs_twist_m += t.abs();
                }
            }
            self.twist_m += twist_m;
            self.abs_twist_m += abs_twist_m;
            self.settle();
        }
        self.above = squares;
        self.used = used;
        std::mem::swap(&mut self.last, heights);
        heights.clear();
        self.rows += 1;
    }

    /// The last row is complete: its vertices, and the faces above it.
    fn settle(&mut self) {
        let row = self.rows - 1;
        let north = self.lattice.at(0, row).y;
        let place = |column: u32| match &self.east {
            Some(east) => Point::new(east[column as usize], north),
            None => self.lattice.at(column, row),
        };
        let vertices = &mut self.woven.faces.vertices;
        let triangles = &mut self.woven.faces.triangles;
        let all = self.lattice.columns() * self.lattice.rows();
        let here: Vec<u32> = (0u32..)
            .zip(self.last.iter().zip(&self.used))
            .map(|(column, (&z, &used))| {
                if used {
                    grow(vertices, all);
                    vertices.push(P3 {
                        p: place(column),
                        z,
                    });
                    vertices.len() as u32 - 1
                } else {
                    self.woven.lonely += u64::from(!z.is_nan());
                    NONE
                }
            })
            .collect();
        for (k, &known) in self.above.iter().enumerate() {
            let (a, b) = (self.before[k], self.before[k + 1]);
            let (c, d) = (here[k], here[k + 1]);
            // Counter-clockwise where rows run south; turned over where the grid is turned.
            let two: &[[u32; 3]] = match known {
                0b1111 if self.lattice.is_turned() => &[[a, d, b], [a, c, d]],
                0b1111 => &[[c, d, b], [c, b, a]],
                0b1110 => &[[c, d, b]],
                0b1101 => &[[a, c, d]],
                0b1011 => &[[a, d, b]],
                0b0111 => &[[c, b, a]],
                _ => &[],
            };
            for &[i, j, k] in two {
                grow(triangles, 2 * all);
                triangles.push(if self.lattice.is_turned() {
                    [i, k, j]
                } else {
                    [i, j, k]
                });
            }
        }
        self.before = here;
    }

    /// All rows were taken.
    pub(super) fn finish(mut self) -> Woven {
        if self.rows > 0 {
            self.settle();
        }
        // Turning the other diagonal of a mirrored grid gains what it loses in the usual one.
        let sign = if self.lattice.is_turned() { 1.0 } else { -1.0 };
        let sixth_m2 = self.lattice.cell_m2() / 6.0;
        self.woven.turned_m3 = sign * self.twist_m * sixth_m2;
        self.woven.bound_m3 = self.abs_twist_m * sixth_m2;
        self.woven
    }
}

/// Makes room for one more: doubled as usual, but never beyond the most there can be.
fn grow<T>(list: &mut Vec<T>, most: usize) {
    if list.len() == list.capacity() {
        let more = list.len().max(1024).min(most - list.len());
        list.reserve_exact(more);
    }
}
