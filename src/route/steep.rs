//! Banks and faces nobody goes up or down, as obstacles.

use super::obstacle::{Obstacle, Shape};
use crate::geom::Point;
use crate::surface::{Surface, areas};

/// Areas steeper than a slope that rise by at least a step.
///
/// # Input
///
/// `rise_per_run` the steepest that is still gone; `step_m` the least difference in height, from
/// the lowest to the highest place of an area: what is lower is stepped over
pub fn steep_banks(surface: &Surface, rise_per_run: f64, step_m: f64) -> Vec<Obstacle> {
    let is_steep = |f: u32| surface.source(f).plane.steepness() > rise_per_run;
    areas(surface, &is_steep)
        .into_iter()
        .filter_map(|rings| {
            let heights = || {
                rings
                    .iter()
                    .flatten()
                    .map(|&v| surface.vertices()[v as usize].z)
            };
            let high = heights().fold(f64::NEG_INFINITY, f64::max);
            let low = heights().fold(f64::INFINITY, f64::min);
            let line = |ring: &Vec<u32>| -> Vec<Point> {
                let at = |&v: &u32| surface.vertices()[v as usize].p;
                ring.iter().map(at).collect()
            };
            let lines = rings.iter().map(line).collect();
            (high - low >= step_m).then(|| Obstacle::new(Shape::Lines(lines)))
        })
        .collect()
}
