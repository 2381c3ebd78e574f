//! Walls that the job builds: what they hold is asked for no more.

use crate::design::{Design, Role};
use crate::geom::{P3, Point};

use super::rim::plan;

/// A wall of the job.
#[derive(Clone, Debug)]
struct Built {
    feature: usize,
    /// Foot of its face.
    foot: Vec<[f64; 2]>,
    /// Its top.
    tops: Vec<[P3; 3]>,
}

/// All walls of the job.
#[derive(Clone, Debug, Default)]
pub(crate) struct BuiltWalls {
    walls: Vec<Built>,
}

/// A wall stands along a line if its face is no farther from it, metres: the body of a garden wall
/// that has to stand on the near side of the line.
const ALONG_M: f64 = 1.0;

/// The top of a wall may be this much lower than what it holds, metres: half an inch.
const TOP_SLACK_M: f64 = 0.0127;

impl BuiltWalls {
    pub(crate) fn of(design: &Design) -> BuiltWalls {
        let mut walls = Vec::new();
        for (number, feature) in design.features.iter().enumerate() {
            if !is_wall(design, number) {
                continue;
            }
            let tops = design
                .surface
                .facets()
                .filter(|&f| {
                    let part = &design.parts[design.surface.label(f) as usize];
                    part.feature == Some(number) && part.role == Role::Floor
                })
                .map(|f| design.surface.corners(f))
                .collect();
            walls.push(Built {
                feature: number,
                foot: feature.laid.core.iter().map(|&p| plan(p)).collect(),
                tops,
            });
        }
        BuiltWalls { walls }
    }

    /// The wall that holds soil up to a level at a place of a line.
    pub(crate) fn holds(&self, p: Point, level_m: f64) -> Option<usize> {
        let at = plan(p);
        self.walls
            .iter()
            .find(|wall| {
                let is_along = wall
                    .foot
                    .windows(2)
                    .any(|w| off_m(at, w[0], w[1]) <= ALONG_M);
                is_along
                    && wall
                        .top_near(at)
                        .is_some_and(|top| top >= level_m - TOP_SLACK_M)
            })
            .map(|wall| wall.feature)
    }
}

/// True for a wall as a feature.
pub(crate) fn is_wall(design: &Design, number: usize) -> bool {
    design.features[number].kind == "wall"
}

impl Built {
    /// Level of the top at its place nearest to another; `None` if none is near.
    fn top_near(&self, p: [f64; 2]) -> Option<f64> {
        let mut best: Option<(f64, f64)> = None;
        for corners in &self.tops {
            let plan = corners.map(|c| plan(c.p));
            for k in 0..3 {
                let off = off_m(p, plan[k], plan[(k + 1) % 3]);
                // The highest of the corners there: a step of the top counts for its upper half.
                let z = corners[k].z.max(corners[(k + 1) % 3].z);
                let is_nearer = best.is_none_or(|(least, level)| {
                    off < least - 1.0e-3 || off < least + 1.0e-3 && z > level
                });
                if off <= ALONG_M && is_nearer {
                    best = Some((off, z));
                }
            }
        }
        best.map(|(_, z)| z)
    }
}

/// Distance from a place to a straight piece, metres.
pub(crate) fn off_m(p: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    let [dx, dy] = [b[0] - a[0], b[1] - a[1]];
    let square = dx * dx + dy * dy;
    let t = if square > 0.0 {
        (((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / square).clamp(0.0, 1.0)
    } else {
        0.0
    };
    (p[0] - a[0] - t * dx).hypot(p[1] - a[1] - t * dy)
}
