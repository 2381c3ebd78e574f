//! Directions in plan.

use crate::geom::{P3, Point};

/// A turn that opens a wedge narrower than this, metres, is none: the pieces on both sides share
/// their corners there instead.
const NARROWEST_WEDGE_M: f64 = 2.0e-8;

/// True if a line goes straight on as far as a shape of this reach can tell.
pub(super) fn is_straight(before: [f64; 2], after: [f64; 2], reach: f64) -> bool {
    cross(before, after).abs() * reach < NARROWEST_WEDGE_M && dot(before, after) > 0.0
}

pub(super) fn direction(a: Point, b: Point) -> [f64; 2] {
    let [x, y] = b.relative_m(a);
    let length = x.hypot(y);
    [x / length, y / length]
}

pub(super) fn right_of([x, y]: [f64; 2]) -> [f64; 2] {
    [y, -x]
}

pub(super) fn left_of([x, y]: [f64; 2]) -> [f64; 2] {
    [-y, x]
}

pub(super) fn cross(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

pub(super) fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

/// The direction half way, turning left from `a` to `b`.
pub(super) fn middle(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    let sum = [a[0] + b[0], a[1] + b[1]];
    let length = sum[0].hypot(sum[1]);
    if length < 1.0e-9 {
        left_of(a)
    } else {
        [sum[0] / length, sum[1] / length]
    }
}

pub(super) fn offset(from: P3, out: [f64; 2], run: f64, rise: f64) -> P3 {
    let step = Point::from_m(out[0] * run, out[1] * run);
    P3 {
        p: Point::new(from.p.x + step.x, from.p.y + step.y),
        z: from.z + rise,
    }
}
