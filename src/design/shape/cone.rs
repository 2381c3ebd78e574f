//! Cones and ridges at one slope: piles as they are tipped.

use crate::geom::{P3, Point};
use crate::surface::{Label, Patch};

use super::corner::turns;
use super::rim::{SidePart, sides_along};
use super::sides::{Corners, Sides};
use super::vector::{direction, left_of, offset, right_of};

/// A cone of flat facets, or a ridge along a line with half a cone at both ends.
///
/// The lines from the top to the corners of the facets lie at the slope of the sides.
///
/// # Input
///
/// one point for a cone, more for a ridge; neighbours different
pub fn pile(line: &[P3], sides: &Sides, label: Label) -> Patch {
    let mut patch = Patch::new();
    let (run, rise) = sides.reach(line.iter().map(|p| p.z));
    let count = turns(std::f64::consts::TAU, run, sides.chord_m);
    let first = line[0];
    let last = line[line.len() - 1];
    if line.len() == 1 {
        // Whole quarters, so that a cone is as wide as it is long.
        let count = (count / 4.0).ceil() * 4.0;
        round(
            &mut patch,
            first,
            [1.0, 0.0],
            [std::f64::consts::TAU, count],
            [run, rise],
            label,
        );
        return patch;
    }
    let half = [std::f64::consts::PI, (count / 2.0).ceil()];
    let back: Vec<P3> = line.iter().rev().copied().collect();
    let runs = vec![[sides.run_per_rise; 2]; line.len() - 1];
    let sides = Sides {
        corners: Corners::Round,
        ..*sides
    };
    for line in [line, &back] {
        let mut part = |_: SidePart| label;
        sides_along(&mut patch, line, false, &runs, &sides, &mut part);
    }
    let ahead = [
        direction(first.p, line[1].p),
        direction(line[line.len() - 2].p, last.p),
    ];
    round(
        &mut patch,
        last,
        right_of(ahead[1]),
        half,
        [run, rise],
        label,
    );
    round(
        &mut patch,
        first,
        left_of(ahead[0]),
        half,
        [run, rise],
        label,
    );
    patch
}

/// Facets round a top, turning left through an angle.
fn round(
    patch: &mut Patch,
    top: P3,
    [x, y]: [f64; 2],
    [angle, count]: [f64; 2],
    [run, rise]: [f64; 2],
    label: Label,
) {
    let foot = |k: usize| {
        let ray = match k as f64 {
            0.0 => [x, y],
            k if k == count && angle < 4.0 => [-x, -y],
            k if k == count => [x, y],
            k => {
                let (sin, cos) = (angle * k / count).sin_cos();
                [x * cos - y * sin, x * sin + y * cos]
            }
        };
        offset(top, ray, run, rise)
    };
    for k in 0..count as usize {
        patch.add(&[top, foot(k), foot(k + 1)], label);
    }
}

/// Corners of a circle, in whole quarters; on the circle, so that the polygon is smaller.
pub(crate) fn circle(centre: Point, radius_m: f64, chord_m: f64) -> Vec<Point> {
    let count = (turns(std::f64::consts::TAU, radius_m, chord_m) / 4.0).ceil() * 4.0;
    (0..count as usize)
        .map(|k| {
            let (sin, cos) = (std::f64::consts::TAU * k as f64 / count).sin_cos();
            let step = Point::from_m(radius_m * cos, radius_m * sin);
            Point::new(centre.x + step.x, centre.y + step.y)
        })
        .collect()
}
