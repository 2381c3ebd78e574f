//! The lines in which two sides meet in a corner.

use super::sides::{Corners, FACE_RUN_PER_RISE, Sides};
use super::vector::{cross, dot, left_of, middle};

/// The longest mitre of a corner of the sides, as a multiple of the run.
const MITRE_LIMIT: f64 = 4.0;

/// Most facets of one round corner.
const MAX_ROUND_FACETS: f64 = 512.0;

/// The way a side goes from its edge.
#[derive(Clone, Copy)]
pub(super) struct Way {
    /// Outward, in plan.
    pub(super) out: [f64; 2],
    /// Run for each unit of rise, square to the edge.
    pub(super) run: f64,
    /// Rise of the edge itself, ahead, for each unit of its length, as the sides rise.
    pub(super) grade: f64,
}

impl Way {
    /// Gradient of its plane in plan.
    pub(super) fn gradient(&self) -> [f64; 2] {
        let ahead = left_of(self.out);
        [0, 1].map(|i| self.out[i] / self.run + ahead[i] * self.grade)
    }

    /// Straight out.
    fn square(&self) -> [f64; 2] {
        self.out.map(|d| d * self.run)
    }

    /// The line in which two planes meet; `None` if they are all but one plane, or meet far away.
    fn hip(&self, other: &Way) -> Option<[f64; 2]> {
        let (a, b) = (self.gradient(), other.gradient());
        let turn = cross(a, b);
        if turn.abs() < SAME_PLANE * a[0].hypot(a[1]) * b[0].hypot(b[1]) {
            return None;
        }
        let hip = [(b[1] - a[1]) / turn, (a[0] - b[0]) / turn];
        let longest = self.run.max(other.run) * MITRE_LIMIT;
        (hip[0].hypot(hip[1]) <= longest).then_some(hip)
    }

    /// The line half way between two sides of one slope.
    fn mitre(&self, other: &Way) -> Option<[f64; 2]> {
        let scale = self.run / (1.0 + dot(self.out, other.out));
        let mitre = [0, 1].map(|i| (self.out[i] + other.out[i]) * scale);
        let is_near = mitre[0].hypot(mitre[1]) <= self.run * MITRE_LIMIT;
        (self.run == other.run && is_near).then_some(mitre)
    }
}

/// The sine of the angle between two planes' gradients below which rounding decides where they
/// meet.
const SAME_PLANE: f64 = 1.0e-6;

/// Turns by less than this, the sine of the angle, are too small to solve for the hip of two
/// different slopes.
const SMALLEST_HIP: f64 = 0.05;

/// The rays between two sides that meet in a corner: run east and north for one of rise.
pub(super) fn between(before: Way, after: Way, sides: &Sides, reach: f64) -> Vec<[f64; 2]> {
    let (turn, along) = (cross(before.out, after.out), dot(before.out, after.out));
    let is_same = before.run == after.run;
    if !is_same && turn.abs() < SMALLEST_HIP {
        return vec![before.square(), after.square()];
    }
    let is_face = before.run.min(after.run) <= FACE_RUN_PER_RISE;
    if turn > 0.0 && sides.corners == Corners::Round && !is_face {
        let angle = turn.atan2(along);
        let reach = reach * before.run.max(after.run);
        let chord = (1.0 - (sides.chord_m / reach.max(sides.chord_m)).min(0.5)).acos() * 2.0;
        let count = (angle / chord).ceil().clamp(1.0, MAX_ROUND_FACETS) as usize;
        // Less than one facet: a bend of the line, not a corner.
        if count > 1 || !is_same {
            return (0..=count)
                .map(|k| {
                    let t = k as f64 / count as f64;
                    let (sin, cos) = (angle * t).sin_cos();
                    let run = before.run + (after.run - before.run) * t;
                    let [x, y] = before.out;
                    [(x * cos - y * sin) * run, (x * sin + y * cos) * run]
                })
                .collect();
        }
    }
    if let Some(ray) = before.hip(&after).or_else(|| before.mitre(&after)) {
        return vec![ray];
    }
    if turn <= 0.0 {
        return vec![before.square(), after.square()];
    }
    // A sharp corner is cut off.
    let half = Way {
        out: middle(before.out, after.out),
        run: (before.run + after.run) / 2.0,
        grade: 0.0,
    };
    let rays = [before.hip(&half), half.hip(&after)];
    rays.map(|ray| ray.unwrap_or(half.square())).to_vec()
}
