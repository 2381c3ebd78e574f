//! The side of one edge as a plane, and the line in which two such planes meet.

use crate::geom::{P3, Point, distance_m};

use super::corner::is_long;
use super::sides::FACE_RUN_PER_RISE;
use super::vector::{cross, direction, dot, is_straight, offset, right_of};

/// The side of one edge; a rise of less than 0 is one that falls.
pub(super) struct Flank {
    pub(super) a: P3,
    pub(super) b: P3,
    pub(super) along: [f64; 2],
    pub(super) out: [f64; 2],
    /// Length of the edge in plan, metres.
    pub(super) length: f64,
    /// Rise for each unit of length along the edge.
    pub(super) gradient: f64,
    /// Run at both ends, metres.
    pub(super) run: [f64; 2],
    /// True if it is one plane.
    pub(super) is_even: bool,
    /// Rise at both ends, metres: up (or down) to one level for all sides of a line.
    pub(super) rise: [f64; 2],
}

impl Flank {
    pub(super) fn new([a, b]: [P3; 2], run_per_rise: [f64; 2], rise: [f64; 2]) -> Flank {
        let along = direction(a.p, b.p);
        let length = distance_m(a.p, b.p);
        Flank {
            a,
            b,
            along,
            out: right_of(along),
            length,
            gradient: (b.z - a.z) / length,
            run: [0, 1].map(|k| rise[k].abs() * run_per_rise[k].max(FACE_RUN_PER_RISE)),
            is_even: run_per_rise[0].to_bits() == run_per_rise[1].to_bits(),
            rise,
        }
    }

    /// The outer corner at right angles to one end.
    pub(super) fn far(&self, end: usize) -> P3 {
        offset(
            [self.a, self.b][end],
            self.out,
            self.run[end],
            self.rise[end],
        )
    }

    /// Its plane at one end.
    pub(super) fn face(&self, end: usize) -> Face {
        let across = self.rise[end] / self.run[end];
        Face {
            slope: [0, 1].map(|k| self.along[k] * self.gradient + self.out[k] * across),
            out: self.out,
            run: self.run[end],
        }
    }
}

/// A plane that rises (or falls) away from a corner.
#[derive(Clone, Copy)]
pub(super) struct Face {
    /// Rise per unit east and north.
    pub(super) slope: [f64; 2],
    pub(super) out: [f64; 2],
    /// Run of the whole rise, metres.
    pub(super) run: f64,
}

impl Face {
    /// Height above the corner.
    pub(super) fn height(&self, at: [f64; 2]) -> f64 {
        dot(self.slope, at)
    }

    /// Direction, with its length for the whole rise, of the line in which two planes through
    /// one corner meet on the side of `ahead`; `None` if it does not rise there.
    pub(super) fn meets(&self, other: &Face, ahead: [f64; 2], rise: f64) -> Option<[f64; 2]> {
        let apart = [0, 1].map(|k| self.slope[k] - other.slope[k]);
        let mut along = right_of(apart);
        if dot(along, ahead) < 0.0 {
            along = along.map(|a| -a);
        }
        let climb = self.height(along) * rise.signum();
        (climb > 0.0).then(|| along.map(|a| a * rise.abs() / climb))
    }
}

/// Far end of the hip (or valley) of two planes that leave a corner; `None` if they do not meet
/// outside of both edges, or only far away.
pub(super) fn hip(at: P3, [before, after]: [&Face; 2], rise: f64) -> Option<P3> {
    let ahead = [0, 1].map(|k| before.out[k] + after.out[k]);
    let way = before.meets(after, ahead, rise)?;
    let reach = way[0].hypot(way[1]);
    let is_outside = dot(way, before.out) > 0.0 && dot(way, after.out) > 0.0;
    (is_outside && !is_long(reach, before.run.max(after.run)))
        .then(|| offset(at, way.map(|w| w / reach), reach, rise))
}

/// Where the sides round a closed line pass a level, corner by corner; `None` where two of them
/// do not meet near their corner.
///
/// # Input
///
/// a level on the side to which the sides go, off every point of the line
pub(crate) fn rim_at(line: &[P3], runs: &[[f64; 2]], level_m: f64) -> Vec<Option<Point>> {
    let n = line.len();
    let flanks: Vec<Flank> = (0..n)
        .map(|k| {
            let ends = [line[k], line[(k + 1) % n]];
            Flank::new(ends, runs[k], ends.map(|e| level_m - e.z))
        })
        .collect();
    (0..n)
        .map(|k| {
            let [before, after] = [&flanks[(k + n - 1) % n], &flanks[k]];
            let reach = before.run[1].max(after.run[0]);
            if is_straight(before.out, after.out, reach) {
                let is_one_slope = before.run[1].to_bits() == after.run[0].to_bits();
                return is_one_slope.then(|| before.far(1).p);
            }
            hip(line[k], [&before.face(1), &after.face(0)], after.rise[0]).map(|far| far.p)
        })
        .collect()
}

/// The corner of two edges that follow one another, each moved out by a width to its right;
/// `None` if they hardly turn and the widths differ.
pub(crate) fn crossing_of([before, after]: [[Point; 2]; 2], widths: [f64; 2]) -> Option<Point> {
    let out = [before, after].map(|[a, b]| right_of(direction(a, b)));
    let (turn, bend) = (cross(out[0], out[1]), dot(out[0], out[1]));
    let corner = P3 {
        p: after[0],
        z: 0.0,
    };
    if widths[0].to_bits() == widths[1].to_bits() && turn.abs() < 1.0e-9 && bend > 0.0 {
        return Some(offset(corner, out[0], widths[0], 0.0).p);
    }
    if widths[0].to_bits() != widths[1].to_bits() && turn.abs() < SHALLOW {
        return None;
    }
    // w = a u + b v with w . u and w . v as wide as asked for.
    let det = 1.0 - bend * bend;
    let a = (widths[0] - bend * widths[1]) / det;
    let b = (widths[1] - bend * widths[0]) / det;
    let way = [0, 1].map(|k| a * out[0][k] + b * out[1][k]);
    Some(offset(corner, way, 1.0, 0.0).p)
}

/// Corners that turn by less than this (the sine of the angle, about 14 degrees) take up no
/// difference in slope or width: what meets there would meet four times as far away as it is
/// wide.
pub(super) const SHALLOW: f64 = 0.25;
