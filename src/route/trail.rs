//! A way on a surface: how it climbs, where it is steepest, how much it leans to a side.

use crate::geom::{Point, distance_m};
use crate::surface::{ProfilePoint, Surface};

/// A slope at a place of a way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Steep {
    /// Rise over run; above zero where the way goes up, or where its left side is higher.
    pub rise_per_run: f64,
    /// Distance from the start, in plan, to the middle of the place, metres.
    pub station_m: f64,
    /// The place, metres in the local frame.
    pub at_m: [f64; 2],
}

/// A way on a surface.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trail {
    /// Length along the slope where there is a surface, metres.
    pub along_slope_m: f64,
    /// Length in plan where there is none, metres.
    pub off_surface_m: f64,
    /// Sum of all rises, metres.
    pub climb_m: f64,
    /// Sum of all falls, metres.
    pub fall_m: f64,
    /// The steepest stretch; `None` where none is as long as was asked for.
    pub steepest: Option<Steep>,
    /// The steepest cross slope over the width.
    pub cross: Option<Steep>,
}

/// Between places at which the cross slope is looked at, metres.
const CROSS_EVERY_M: f64 = 0.25;

/// Most such places on one way.
const CROSS_MOST: f64 = 4000.0;

/// A line as somebody of a width goes along it.
///
/// # Input
///
/// `over_m` length in plan of the stretch that counts as the steepest; where a run on the surface
/// is shorter, the whole of it counts
/// # Accuracy
///
/// climb and steepest stretch exact for the facets; cross slope at places a quarter of a metre
/// apart
pub fn trail(surface: &Surface, line: &[Point], width_m: f64, over_m: f64) -> Trail {
    let profile = surface.profile(line);
    let mut trail = Trail::default();
    let mut known_m = 0.0;
    for run in &profile.runs {
        for pair in run.windows(2) {
            let (run_m, rise) = (
                pair[1].distance_m - pair[0].distance_m,
                pair[1].z_m - pair[0].z_m,
            );
            known_m += run_m;
            trail.along_slope_m += run_m.hypot(rise);
            trail.climb_m += rise.max(0.0);
            trail.fall_m += (-rise).max(0.0);
        }
        let steepest = steepest(run, over_m);
        if let Some(steep) = steepest
            && trail
                .steepest
                .is_none_or(|s| steep.rise_per_run.abs() > s.rise_per_run.abs())
        {
            trail.steepest = Some(steep);
        }
    }
    let length: f64 = line.windows(2).map(|w| distance_m(w[0], w[1])).sum();
    trail.off_surface_m = (length - known_m).max(0.0);
    trail.cross = cross(surface, line, width_m, length);
    trail
}

/// The steepest stretch of a run of a profile. Heights are straight between its points, so one
/// end of the steepest stretch lies on one of them.
fn steepest(run: &[ProfilePoint], over_m: f64) -> Option<Steep> {
    let (first, last) = (run.first()?, run.last()?);
    let over = over_m.min(last.distance_m - first.distance_m);
    if over <= 0.0 {
        return None;
    }
    let at = |s: f64| {
        let next = run
            .partition_point(|p| p.distance_m < s)
            .clamp(1, run.len() - 1);
        let (a, b) = (&run[next - 1], &run[next]);
        let t = (s - a.distance_m) / (b.distance_m - a.distance_m);
        [(a.x_m, b.x_m), (a.y_m, b.y_m), (a.z_m, b.z_m)].map(|(a, b)| a + t * (b - a))
    };
    let mut best: Option<Steep> = None;
    for p in run {
        for from in [p.distance_m, p.distance_m - over] {
            let from = from.clamp(first.distance_m, last.distance_m - over);
            let [[_, _, low], [x, y, _], [_, _, high]] =
                [from, from + over / 2.0, from + over].map(at);
            let rise_per_run = (high - low) / over;
            if best.is_none_or(|b| rise_per_run.abs() > b.rise_per_run.abs()) {
                best = Some(Steep {
                    rise_per_run,
                    station_m: from + over / 2.0,
                    at_m: [x, y],
                });
            }
        }
    }
    best
}

/// The steepest cross slope: the difference in height of the two sides over the width.
fn cross(surface: &Surface, line: &[Point], width_m: f64, length: f64) -> Option<Steep> {
    let every = CROSS_EVERY_M.max(length / CROSS_MOST);
    let mut best: Option<Steep> = None;
    let mut start = 0.0;
    for pair in line.windows(2) {
        let [dx, dy] = pair[1].relative_m(pair[0]);
        let far = dx.hypot(dy);
        if far <= 0.0 {
            continue;
        }
        let (nx, ny) = (-dy / far * width_m / 2.0, dx / far * width_m / 2.0);
        let steps = (far / every).ceil().max(1.0) as usize;
        for k in 0..steps {
            let s = far * (k as f64 + 0.5) / steps as f64;
            let (x, y) = (pair[0].x_m() + dx * s / far, pair[0].y_m() + dy * s / far);
            let z = |side: f64| surface.z_at(Point::from_m(x + side * nx, y + side * ny));
            let (Some(left), Some(right)) = (z(1.0), z(-1.0)) else {
                continue;
            };
            let rise_per_run = (left - right) / width_m;
            if best.is_none_or(|b| rise_per_run.abs() > b.rise_per_run.abs()) {
                best = Some(Steep {
                    rise_per_run,
                    station_m: start + s,
                    at_m: [x, y],
                });
            }
        }
        start += far;
    }
    best
}
