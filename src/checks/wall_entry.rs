//! A wall that is needed as an entry of the job: where its face stands, its tops and its bases.
//!
//! A wall has a body. Beside a fill its face stands on the line and the body on the side of the
//! fill, so its top is at the level of the soil at its back. Beside a cut the back stands on the
//! line, which the work must not pass, and the face in the dig.

use crate::geom::Point;

use super::Context;
use super::wall::{Basis, Wall};
use super::wall_rules::behind;

/// Thickness of the base, metres: 12 in, common for stacked stone (common practice, no source).
const THICKNESS_M: f64 = 0.3048;

/// How far the top stands above the soil behind it, metres: so that nothing washes over it.
const LIP_M: f64 = 0.02;

/// Tops and bases step by about one course, metres: 8 in.
const COURSE_M: f64 = 0.2032;

/// Shortest stretch between two steps, metres.
const SHORTEST_STEP_M: f64 = 0.6;

/// Least depth of the base in the ground, metres: 4 in.
const LEAST_BURIED_M: f64 = 0.1;

/// Points of a line this close to the straight way past them are left out, metres.
const STRAIGHT_M: f64 = 0.002;

/// A stretch with a level base and a level top.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct EntryStep {
    /// Distance along the line from its start, metres.
    pub at_m: f64,
    /// Level of the top, metres.
    pub top_m: f64,
    /// Level of the base, metres.
    pub base_m: f64,
}

/// A wall as a job can take it.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct WallEntry {
    /// Foot of the face, absolute, metres.
    pub line_m: Vec<[f64; 2]>,
    /// True if the ground is higher to the left of the line.
    pub holds_left: bool,
    /// Thickness of the base, metres.
    pub thickness_m: f64,
    /// Stretches in order; the first begins at 0.
    pub steps: Vec<EntryStep>,
}

/// The entry for a wall; `None` where it is too short for a wall of that thickness.
pub(super) fn entry(context: &Context, wall: &Wall) -> Option<WallEntry> {
    let sides: f64 = wall
        .stations
        .windows(2)
        .filter_map(|pair| {
            let (at, toward) = behind(context, wall, pair)?;
            let [a, b] = [place(context, pair[0].x_m, pair[0].y_m), at];
            let cross = (b[0] - a[0]) * toward[1] - (b[1] - a[1]) * toward[0];
            Some(cross.signum() * (pair[1].station_m - pair[0].station_m))
        })
        .sum();
    let holds_left = sides > 0.0;
    let left = if holds_left { 1.0 } else { -1.0 };
    let mut places: Vec<[f64; 2]> = Vec::new();
    for s in &wall.stations {
        let p = place(context, s.x_m, s.y_m);
        if places.last().is_none_or(|l| off(*l, p) > STRAIGHT_M) {
            places.push(p);
        }
    }
    let corners = straightened(&places);
    let corners = without_stubs(corners)?;
    // Beside a cut the body stands before the line: the face is farther into the dig.
    let line = if wall.holds_fill {
        corners
    } else {
        moved(&corners, -left * THICKNESS_M)
    };
    let steps = steps(context, wall, &line, left)?;
    let origin = context.terrain.origin;
    Some(WallEntry {
        line_m: line
            .iter()
            .map(|p| [p[0] + origin.x_m as f64, p[1] + origin.y_m as f64])
            .collect(),
        holds_left,
        thickness_m: THICKNESS_M,
        steps,
    })
}

fn place(context: &Context, x_m: f64, y_m: f64) -> [f64; 2] {
    let origin = context.terrain.origin;
    [x_m - origin.x_m as f64, y_m - origin.y_m as f64]
}

fn off(a: [f64; 2], b: [f64; 2]) -> f64 {
    (b[0] - a[0]).hypot(b[1] - a[1])
}

/// The corners of a line: points on the straight way between others are left out.
fn straightened(places: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let mut corners: Vec<[f64; 2]> = Vec::new();
    let mut from = 0;
    while from < places.len() {
        corners.push(places[from]);
        let is_straight = |to: usize| {
            (from + 1..to).all(|k| {
                let (a, b, p) = (places[from], places[to], places[k]);
                let length = off(a, b).max(f64::MIN_POSITIVE);
                let aside = (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
                aside.abs() / length <= STRAIGHT_M
            })
        };
        let mut to = from + 1;
        while to + 1 < places.len() && is_straight(to + 1) {
            to += 1;
        }
        from = to;
    }
    corners
}

/// A line without first and last pieces that a body could not go round: at a bend so near its end
/// it would fold over itself.
fn without_stubs(mut corners: Vec<[f64; 2]>) -> Option<Vec<[f64; 2]>> {
    while corners.len() > 2 && folds(corners[0], corners[1], corners[2]) {
        corners.remove(0);
    }
    while let [.., a, b, c] = corners[..]
        && folds(c, b, a)
    {
        corners.pop();
    }
    (corners.len() >= 2).then_some(corners)
}

/// True if the piece from an end to a bend is shorter than the inside of a wall round that bend.
fn folds(end: [f64; 2], bend: [f64; 2], next: [f64; 2]) -> bool {
    let (first, second) = (off(end, bend), off(bend, next));
    let dot = (bend[0] - end[0]) * (next[0] - bend[0]) + (bend[1] - end[1]) * (next[1] - bend[1]);
    let turn = (dot / (first * second)).clamp(-1.0, 1.0);
    // tan(t / 2) = sqrt((1 - cos t) / (1 + cos t))
    let half = ((1.0 - turn) / (1.0 + turn).max(f64::MIN_POSITIVE)).sqrt();
    first < 1.5 * THICKNESS_M * half
}

/// A line moved to its left by a distance, mitred at its bends.
fn moved(line: &[[f64; 2]], by_m: f64) -> Vec<[f64; 2]> {
    let n = line.len();
    let square = |k: usize| {
        let length = off(line[k], line[k + 1]).max(f64::MIN_POSITIVE);
        [
            -(line[k + 1][1] - line[k][1]) / length,
            (line[k + 1][0] - line[k][0]) / length,
        ]
    };
    (0..n)
        .map(|k| {
            let [a, b] = [square(k.saturating_sub(1).min(n - 2)), square(k.min(n - 2))];
            let sum = [a[0] + b[0], a[1] + b[1]];
            let share = 2.0 / (sum[0] * sum[0] + sum[1] * sum[1]).max(0.25);
            [0, 1].map(|axis| line[k][axis] + sum[axis] * share * by_m)
        })
        .collect()
}

/// Tops and bases stretch by stretch.
fn steps(context: &Context, wall: &Wall, line: &[[f64; 2]], left: f64) -> Option<Vec<EntryStep>> {
    let length: f64 = line.windows(2).map(|w| off(w[0], w[1])).sum();
    let surface = &context.design.surface;
    let z_at = |p: [f64; 2]| surface.z_at(Point::from_m(p[0], p[1]));
    let limit = wall.at_limit.as_ref().map(|l| l.slope_rise_per_run);
    // Every station with its place along the line of the face, its top and its base.
    let mut levels: Vec<EntryStep> = Vec::new();
    for (k, s) in wall.stations.iter().enumerate() {
        let p = place(context, s.x_m, s.y_m);
        let (at_m, direction) = along(line, p)?;
        let side = [-direction[1] * left, direction[0] * left];
        let step = |by: f64| [p[0] + side[0] * by, p[1] + side[1] * by];
        let (soil, low) = if wall.holds_fill {
            let back = match wall.basis {
                Basis::AtLimit => s.finished_m + THICKNESS_M * limit.unwrap_or(0.0),
                Basis::AsDrawn => z_at(step(THICKNESS_M)).unwrap_or(s.finished_m),
            };
            (s.finished_m.max(back), s.ground_m)
        } else {
            // The face stands deeper in the dig than the line.
            let foot = z_at(step(-THICKNESS_M)).unwrap_or(s.finished_m);
            (s.ground_m, s.finished_m.min(foot))
        };
        let buried = (wall.buried_m).max(LEAST_BURIED_M);
        let is_last = k + 1 == wall.stations.len();
        levels.push(EntryStep {
            at_m: if is_last { length } else { at_m },
            top_m: soil + LIP_M,
            base_m: low - buried,
        });
    }
    levels.sort_by(|a, b| a.at_m.total_cmp(&b.at_m));
    let mut steps: Vec<EntryStep> = Vec::new();
    let mut span = [
        f64::NEG_INFINITY,
        f64::INFINITY,
        f64::NEG_INFINITY,
        f64::INFINITY,
    ];
    let mut last: Option<EntryStep> = None;
    for level in levels {
        let next = [
            span[0].max(level.top_m),
            span[1].min(level.top_m),
            span[2].max(level.base_m),
            span[3].min(level.base_m),
        ];
        let is_much = next[0] - next[1] > COURSE_M || next[2] - next[3] > COURSE_M;
        let room = steps
            .last()
            .zip(last)
            .is_some_and(|(step, last): (&EntryStep, EntryStep)| {
                last.at_m - step.at_m >= SHORTEST_STEP_M && length - last.at_m >= SHORTEST_STEP_M
            });
        match (steps.last_mut(), last) {
            (Some(_), Some(before)) if is_much && room => {
                span = [
                    before.top_m.max(level.top_m),
                    before.top_m.min(level.top_m),
                    before.base_m.max(level.base_m),
                    before.base_m.min(level.base_m),
                ];
                steps.push(EntryStep {
                    at_m: before.at_m,
                    top_m: span[0],
                    base_m: span[3],
                });
            }
            (Some(step), _) => {
                span = next;
                step.top_m = step.top_m.max(level.top_m);
                step.base_m = step.base_m.min(level.base_m);
            }
            (None, _) => {
                span = next;
                steps.push(EntryStep { at_m: 0.0, ..level });
            }
        }
        last = Some(level);
    }
    (length >= SHORTEST_STEP_M / 2.0 && !steps.is_empty()).then_some(steps)
}

/// Where along a line the place nearest to another lies, and the direction there.
fn along(line: &[[f64; 2]], p: [f64; 2]) -> Option<(f64, [f64; 2])> {
    let mut best: Option<(f64, f64, [f64; 2])> = None;
    let mut walked = 0.0;
    for w in line.windows(2) {
        let length = off(w[0], w[1]);
        let direction = [0, 1].map(|axis| (w[1][axis] - w[0][axis]) / length);
        let s =
            ((p[0] - w[0][0]) * direction[0] + (p[1] - w[0][1]) * direction[1]).clamp(0.0, length);
        let far = off(p, [0, 1].map(|axis| w[0][axis] + s * direction[axis]));
        if best.is_none_or(|(least, ..)| far < least) {
            best = Some((far, walked + s, direction));
        }
        walked += length;
    }
    best.map(|(_, s, direction)| (s, direction))
}
