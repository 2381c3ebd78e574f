//! Points that are thinned together, in the order they are laid on the surface.

use std::ops::Range;

use crate::geom::{P3, Point, along_hilbert, hull};

use super::same_place::Heights;
use super::sample::bits_of;

/// Points are laid in rounds, each about eight times as large as the one before, so that the
/// first points of an area are few.
const ROUNDS: u64 = 8;

/// Bits of a key: the round, along the curve (twice), the number in the batch.
const CURVE_BITS: u32 = 12;
const NUMBER_BITS: u32 = 23;

/// Points by rounds, in each along a curve; each place once. Filled again and again: memory that
/// is given back has to be cleared before it is given out again.
#[derive(Debug, Default)]
pub(super) struct Batch {
    keys: Vec<u64>,
    points: Vec<P3>,
    rounds: Vec<Range<usize>>,
    same_place: u64,
    /// For the list of points that a triangle holds: the next one.
    pub(super) next: Vec<u32>,
}

impl Batch {
    /// Puts points in order; of those at one place one is left, by rule.
    pub(super) fn fill(&mut self, points: &[P3], heights: &mut Heights) {
        let frame = Frame::of(points);
        let batch = self;
        let mut keys = std::mem::take(&mut batch.keys);
        keys.clear();
        keys.extend(
            points
                .iter()
                .zip(0..)
                .map(|(point, number)| frame.key(point.p) | number),
        );
        keys.sort_unstable();
        batch.points.clear();
        batch.points.reserve_exact(points.len());
        batch.rounds.clear();
        batch.same_place = 0;
        let number = |key: u64| (key & ((1 << NUMBER_BITS) - 1)) as usize;
        let mut group: Vec<P3> = Vec::new();
        for round in keys.chunk_by(|a, b| round_of(*a) == round_of(*b)) {
            let begin = batch.points.len();
            for cell in round.chunk_by(|a, b| a >> NUMBER_BITS == b >> NUMBER_BITS) {
                if let [one] = cell {
                    batch.points.push(points[number(*one)]);
                    continue;
                }
                group.clear();
                group.extend(cell.iter().map(|key| points[number(*key)]));
                // Stable: those at one place stay in the order they came.
                group.sort_by_key(|point| point.p);
                for place in group.chunk_by(|a, b| a.p == b.p) {
                    batch.same_place += place.len() as u64 - 1;
                    batch.points.push(match place {
                        [one] => *one,
                        several => heights.of_group(several),
                    });
                }
            }
            batch.rounds.push(begin..batch.points.len());
        }
        batch.keys = keys;
        batch.next.clear();
        batch.next.resize(batch.points.len(), u32::MAX);
    }

    pub(super) fn points(&self) -> &[P3] {
        &self.points
    }

    /// The outermost points, counter-clockwise; fewer than three if all are on one line.
    pub(super) fn hull(&self) -> Vec<u32> {
        hull(self.points.iter().map(|point| point.p))
    }

    pub(super) fn rounds(&self) -> Vec<Range<usize>> {
        self.rounds.clone()
    }

    /// How many points were one with another.
    pub(super) fn same_place(&self) -> u64 {
        self.same_place
    }
}

/// Puts points along the curve.
pub(super) fn along_curve(points: Vec<P3>) -> Vec<P3> {
    let frame = Frame::of(&points);
    let mut keyed: Vec<(u64, u32)> = points
        .iter()
        .zip(0..)
        .map(|(point, k)| (frame.along(point.p), k))
        .collect();
    keyed.sort_unstable();
    keyed.iter().map(|&(_, k)| points[k as usize]).collect()
}

fn round_of(key: u64) -> u64 {
    key >> (2 * CURVE_BITS + NUMBER_BITS)
}

/// The square that the curve fills; what lies outside counts as at its rim.
struct Frame {
    low: Point,
    shift: u32,
}

impl Frame {
    /// Places looked at to find where most points are: a few far away must not widen it.
    const LOOKED_AT: usize = 1 << 10;

    fn of(points: &[P3]) -> Frame {
        let step = (points.len() / Frame::LOOKED_AT).max(1);
        let side = |along: fn(&P3) -> i64| {
            let mut some: Vec<i64> = points.iter().step_by(step).map(along).collect();
            some.sort_unstable();
            let at = |part: usize| some.get(some.len() * part / 64).copied().unwrap_or(0);
            let (low, high) = (at(1), at(63));
            let more = high.abs_diff(low) / 8 + 1;
            (
                low.saturating_sub_unsigned(more),
                high.abs_diff(low) + 2 * more,
            )
        };
        let ((x, width), (y, height)) = (side(|point| point.p.x), side(|point| point.p.y));
        let bits = u64::BITS - width.max(height).leading_zeros();
        Frame {
            low: Point::new(x, y),
            shift: bits.saturating_sub(CURVE_BITS),
        }
    }

    fn along(&self, p: Point) -> u64 {
        let cell = |low: i64, v: i64| {
            let steps = v.saturating_sub(low).max(0).cast_unsigned() >> self.shift;
            steps.min((1 << CURVE_BITS) - 1) as u32
        };
        along_hilbert(cell(self.low.x, p.x), cell(self.low.y, p.y), CURVE_BITS)
    }

    /// Round and place along the curve.
    fn key(&self, p: Point) -> u64 {
        let halved = u64::from((bits_of(p) >> 32).trailing_zeros());
        let round = (ROUNDS - 1).saturating_sub(halved / 3);
        (round << (2 * CURVE_BITS) | self.along(p)) << NUMBER_BITS
    }
}
