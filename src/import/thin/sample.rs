//! An even sample of the points left out, and what they tell.

use crate::geom::{P3, Point, scattered};

/// Points that are remembered, at most.
const MOST: usize = 1 << 21;

/// Every point, or one in 2, 4, 8, ..., chosen by its place: whatever the order they come in.
#[derive(Debug, Default)]
pub(super) struct Sample {
    points: Vec<P3>,
    /// One point in two to the power of this.
    halved: u32,
}

impl Sample {
    pub(super) fn offer(&mut self, point: P3) {
        if !is_chosen(point.p, self.halved) {
            return;
        }
        self.points.push(point);
        while self.points.len() > MOST {
            self.halved += 1;
            self.points.retain(|point| is_chosen(point.p, self.halved));
            if self.halved == 32 {
                self.points.truncate(MOST);
            }
        }
    }

    /// True if it is no sample but all that was offered.
    pub(super) fn is_complete(&self) -> bool {
        self.halved == 0
    }

    /// Takes those out that may be put back: all if it is complete, otherwise half of them.
    pub(super) fn take_for_repair(&mut self) -> Vec<P3> {
        let is_complete = self.is_complete();
        let (repair, rest) = std::mem::take(&mut self.points)
            .into_iter()
            .partition(|point| is_complete || is_for_repair(point.p));
        self.points = rest;
        repair
    }

    /// Those that loss is told from.
    pub(super) fn for_measure(&self, is_complete: bool) -> impl Iterator<Item = &P3> {
        self.points
            .iter()
            .filter(move |point| is_complete || !is_for_repair(point.p))
    }
}

/// How far points are off a surface.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Measured {
    pub(super) count: u64,
    pub(super) worst_m: f64,
    pub(super) beyond: u64,
    squares: f64,
}

impl Measured {
    pub(super) fn add(&mut self, off_m: f64, tolerance_m: f64) {
        self.count += 1;
        self.worst_m = self.worst_m.max(off_m);
        self.squares += off_m * off_m;
        self.beyond += u64::from(off_m > tolerance_m);
    }

    pub(super) fn rms_m(&self) -> f64 {
        (self.squares / self.count.max(1) as f64).sqrt()
    }
}

/// Even bits from a place.
pub(super) fn bits_of(p: Point) -> u64 {
    scattered(p.x.cast_unsigned().wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ p.y.cast_unsigned())
}

fn is_chosen(p: Point, halved: u32) -> bool {
    bits_of(p).trailing_zeros() >= halved
}

fn is_for_repair(p: Point) -> bool {
    bits_of(p) >> 63 == 0
}
