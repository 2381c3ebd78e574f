//! How far something must be moved to be clear of something else, and which way.

use crate::geom::{Point, gap_between};

/// A move in plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Move {
    /// East and north, metres.
    pub by_m: [f64; 2],
    /// How far, metres.
    pub length_m: f64,
}

/// Directions that are tried. The least of all directions is at most half a percent shorter.
const DIRECTIONS: usize = 32;

/// Least step of a move, metres: a move is at most this much longer than it need be.
const STEP_M: f64 = 0.01;

/// Longest move that is looked for, metres.
const FARTHEST_M: f64 = 100.0;

/// A line or a rim, with what it surrounds if it closes.
type Line<'a> = &'a [Point];

/// The least move of `what`, as a whole and straight, that brings all of it `apart_m` away from
/// all of `from`. Lines that close stand for what they surround.
///
/// # Accuracy
///
/// at most half a percent and a centimetre longer than the least of all
/// # Errors
///
/// `None` if it would have to be moved by more than 100 m, or if nothing is too near
pub fn least_move(what: &[Line], from: &[Line], apart_m: f64) -> Option<Move> {
    let base = *what.first()?.first()?;
    let sides = |lines: &[Line]| -> Vec<[[f64; 2]; 2]> {
        let one = |line: &Line| -> Vec<[[f64; 2]; 2]> {
            let at = |p: &Point| p.relative_m(base);
            match line {
                [p] => vec![[at(p); 2]],
                _ => line.windows(2).map(|w| [at(&w[0]), at(&w[1])]).collect(),
            }
        };
        lines.iter().flat_map(one).collect()
    };
    let (moved, fixed) = (sides(what), sides(from));
    let closed = |lines: &[Line]| -> Vec<[[f64; 2]; 2]> {
        let is_closed = |line: &&Line| line.len() > 2 && line.first() == line.last();
        sides(&lines.iter().filter(is_closed).copied().collect::<Vec<_>>())
    };
    let (moved_rims, fixed_rims) = (closed(what), closed(from));
    let distance_m = |by: [f64; 2]| {
        let mut least = f64::INFINITY;
        for side in &moved {
            let side = side.map(|p| [p[0] + by[0], p[1] + by[1]]);
            for other in &fixed {
                let is_far = (0..2).any(|k| {
                    side[0][k].min(side[1][k]) - least > other[0][k].max(other[1][k])
                        || other[0][k].min(other[1][k]) - least > side[0][k].max(side[1][k])
                });
                if !is_far {
                    least = least.min(gap_between(side, *other).distance_m);
                }
            }
        }
        let shifted = |p: [f64; 2]| [p[0] + by[0], p[1] + by[1]];
        let is_in = |p: [f64; 2], ring: &[[[f64; 2]; 2]]| {
            let crosses = |[a, b]: &[[f64; 2]; 2]| {
                (a[1] > p[1]) != (b[1] > p[1])
                    && p[0] < a[0] + (p[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0])
            };
            ring.iter().filter(|side| crosses(side)).count() % 2 == 1
        };
        // One wholly in the other: no sides cross.
        let back = |p: [f64; 2]| [p[0] - by[0], p[1] - by[1]];
        let is_over = fixed
            .first()
            .is_some_and(|side| is_in(back(side[0]), &moved_rims))
            || moved
                .first()
                .is_some_and(|side| is_in(shifted(side[0]), &fixed_rims));
        if is_over { 0.0 } else { least }
    };
    if distance_m([0.0; 2]) >= apart_m {
        return None;
    }
    let mut best: Option<Move> = None;
    for k in 0..DIRECTIONS {
        let (sin, cos) = (std::f64::consts::TAU * k as f64 / DIRECTIONS as f64).sin_cos();
        let mut length_m = 0.0;
        loop {
            let by_m = [length_m * cos, length_m * sin];
            if best.is_some_and(|b| length_m >= b.length_m) || length_m > FARTHEST_M {
                break;
            }
            let missing = apart_m - distance_m(by_m);
            if missing <= 0.0 {
                best = Some(Move { by_m, length_m });
                break;
            }
            // Nothing comes nearer or farther by more than it is moved. Where they overlap
            // nothing is known of how deep, and what is missing is the same each time.
            length_m += missing.max(STEP_M);
        }
    }
    best
}
