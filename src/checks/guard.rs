//! Drops beside walking surfaces.

use crate::geom::{Point, Ring};
use crate::job::{Use, limits};

use super::wall_rules::EXACTLY_M;
use super::{Checked, Context, Finding, Measure, Severity};

/// Walking surfaces with their outlines.
pub(super) fn paths(context: &Context, out: &mut Checked) -> Vec<(String, Ring)> {
    let areas = context.job.areas.iter().filter(|a| a.used == Use::Path);
    let mut paths = Vec::new();
    for area in areas {
        let ring = context.survey.resolve(&area.area).ok().and_then(|places| {
            let corners: Vec<Point> = places.iter().map(|p| p.p).collect();
            Ring::new(&corners).ok()
        });
        match ring {
            Some(ring) => paths.push((area.name.clone(), ring)),
            None => out.missing(
                "WL-11",
                format!("the outline of path \"{}\" is not usable", area.name),
            ),
        }
    }
    paths
}

/// A drop this near to a walking surface is beside it, metres: 36 in (IRC R312, from memory).
const BESIDE_PATH_M: f64 = 0.9144;

/// Along the edge of a path a drop is looked for every so far, metres.
const PATH_STEP_M: f64 = 0.25;

/// Drops beside paths: walls that are needed, and faces and slopes as drawn.
pub(super) fn check(context: &Context, paths: &[(String, Ring)], out: &mut Checked) {
    if paths.is_empty() {
        out.missing(
            "WL-11",
            "the job names no path: [[area]] with use = \"path\"",
        );
        return;
    }
    let limit = context.job.limits.get(&limits::GUARD_DROP);
    let show = context.show();
    let mut findings = Vec::new();
    for (name, ring) in paths {
        let drawn = deepest_beside(context, ring).map(|(drop, p)| {
            let what = "the finished ground".to_owned();
            (drop, context.absolute(p), what)
        });
        let needed = out.walls.iter().enumerate().flat_map(|(k, wall)| {
            wall.stations.iter().filter_map(move |s| {
                let origin = context.terrain.origin;
                let p = [s.x_m - origin.x_m as f64, s.y_m - origin.y_m as f64];
                let is_near = off_ring_m(ring, p) <= BESIDE_PATH_M;
                let top = s.ground_m.max(s.finished_m);
                let held = if wall.holds_fill {
                    &context.design.surface
                } else {
                    &context.terrain.surface
                };
                let level = held.z_at(nearest_of(ring, p)).unwrap_or(top);
                // The path lies above the foot of the wall, not below it.
                let is_above = level > (s.ground_m + s.finished_m) / 2.0;
                (is_near && is_above).then(|| {
                    let low = s.ground_m.min(s.finished_m);
                    (
                        level.min(top) - low,
                        [s.x_m, s.y_m],
                        format!("wall W{}", k + 1),
                    )
                })
            })
        });
        let worst = drawn
            .into_iter()
            .chain(needed)
            .max_by(|a, b| a.0.total_cmp(&b.0));
        let Some((drop, at, what)) = worst else {
            continue;
        };
        if drop < limit.value - EXACTLY_M {
            continue;
        }
        findings.push(Finding {
            ids: &["WL-11"],
            place: show.place(at[0], at[1]),
            at_m: Some(at),
            measured: Some(Measure {
                value: drop,
                unit: "m",
            }),
            limit: Some(Measure {
                value: limit.value,
                unit: "m",
            }),
            limit_from: limit.from.clone(),
            cure: format!(
                "move the path more than {} from the edge, lower the drop by {}, or put up a guard",
                show.length(BESIDE_PATH_M),
                show.length(drop - limit.value)
            ),
            ..Finding::new(
                "guard",
                Severity::Warn,
                format!(
                    "beside the path \"{name}\" {what} drops {} within {}",
                    show.length(drop),
                    show.length(BESIDE_PATH_M)
                ),
            )
        });
    }
    out.looked(
        "WL-11",
        format!(
            "{} paths: {} with a drop of {} or more beside them",
            paths.len(),
            findings.len(),
            show.length(limit.value)
        ),
    );
    for finding in findings {
        out.find(finding);
    }
}

/// The deepest drop of the finished surface beside a path, and where.
fn deepest_beside(context: &Context, ring: &Ring) -> Option<(f64, Point)> {
    let surface = &context.design.surface;
    let mut best: Option<(f64, Point)> = None;
    for (a, b) in ring.sides() {
        let [dx, dy] = b.relative_m(a);
        let length = dx.hypot(dy);
        let steps = (length / PATH_STEP_M).ceil().max(1.0) as usize;
        // Corners are listed counter-clockwise: outside lies to the right.
        let out = [dy / length, -dx / length];
        for k in 0..=steps {
            let s = length * k as f64 / steps as f64;
            let edge = [a.x_m() + s * dx / length, a.y_m() + s * dy / length];
            let on = |far: f64| Point::from_m(edge[0] + far * out[0], edge[1] + far * out[1]);
            let Some(level) = surface.z_at(on(0.0)) else {
                continue;
            };
            for q in surface.profile(&[on(0.0), on(BESIDE_PATH_M)]).points() {
                let drop = level - q.z_m;
                if best.is_none_or(|(most, _)| drop > most) {
                    best = Some((drop, on(0.0)));
                }
            }
        }
    }
    best
}

fn nearest_of(ring: &Ring, p: [f64; 2]) -> Point {
    let mut best = (f64::INFINITY, Point::from_m(p[0], p[1]));
    for (a, b) in ring.sides() {
        let [dx, dy] = b.relative_m(a);
        let t =
            (((p[0] - a.x_m()) * dx + (p[1] - a.y_m()) * dy) / (dx * dx + dy * dy)).clamp(0.0, 1.0);
        let at = [a.x_m() + t * dx, a.y_m() + t * dy];
        let off = (p[0] - at[0]).hypot(p[1] - at[1]);
        if off < best.0 {
            best = (off, Point::from_m(at[0], at[1]));
        }
    }
    best.1
}

/// How far a place is from the edge of an area, metres.
fn off_ring_m(ring: &Ring, p: [f64; 2]) -> f64 {
    let q = nearest_of(ring, p);
    (p[0] - q.x_m()).hypot(p[1] - q.y_m())
}
