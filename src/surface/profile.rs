//! The height of a surface along a line, at every break.

use crate::geom::{Point, distance_m};

use super::grid::Span;
use super::surface::Surface;

/// A break of a profile.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProfilePoint {
    /// Distance along the line from its start, metres.
    pub distance_m: f64,
    /// East, metres in the local frame.
    pub x_m: f64,
    /// North, metres in the local frame.
    pub y_m: f64,
    /// Height, metres.
    pub z_m: f64,
}

/// Heights along a line: one run of points per stretch where there is a surface.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Profile {
    /// Runs in order along the line; between two runs there is no surface.
    pub runs: Vec<Vec<ProfilePoint>>,
}

/// Breaks closer than this along the line are one.
const SAME_PLACE_M: f64 = 1.0e-7;

impl Surface {
    /// The profile along a line of two or more points.
    ///
    /// # Accuracy  crossings to rounding; heights from the planes of the facets
    pub fn profile(&self, line: &[Point]) -> Profile {
        let mut profile = Profile::default();
        let mut start = 0.0;
        for pair in line.windows(2) {
            self.add_straight(pair[0], pair[1], start, &mut profile);
            start += distance_m(pair[0], pair[1]);
        }
        profile
    }

    fn add_straight(&self, a: Point, b: Point, start: f64, profile: &mut Profile) {
        let length = distance_m(a, b);
        if length <= 0.0 {
            return;
        }
        let direction = b.relative_m(a).map(|d| d / length);
        let mut stretches: Vec<(f64, f64, u32)> = Vec::new();
        // Boxes along the line keep the search narrow on a long one.
        let steps = ((self.num_facets() as f64).sqrt().ceil() as i64).clamp(1, 256);
        let mut seen = std::collections::BTreeSet::new();
        for step in 0..steps {
            let at = |s: i64| {
                Point::new(
                    a.x + ((b.x - a.x) as i128 * s as i128 / steps as i128) as i64,
                    a.y + ((b.y - a.y) as i128 * s as i128 / steps as i128) as i64,
                )
            };
            let (p, q) = (at(step), at(step + 1));
            let span = Span {
                low: Point::new(p.x.min(q.x) - 1, p.y.min(q.y) - 1),
                high: Point::new(p.x.max(q.x) + 1, p.y.max(q.y) + 1),
            };
            self.facets_near(&span, |f| {
                if seen.insert(f)
                    && let Some((from, to)) = self.inside(f, a, direction, length)
                    && to - from > 0.0
                {
                    stretches.push((from, to, f));
                }
            });
        }
        stretches.sort_by(|x, y| {
            x.0.total_cmp(&y.0)
                .then(x.1.total_cmp(&y.1))
                .then(x.2.cmp(&y.2))
        });
        for (from, to, facet) in stretches {
            let plane = self.source(facet).plane;
            let base = plane.z_at(a);
            let rise = plane.slope[0] * direction[0] + plane.slope[1] * direction[1];
            let [ax, ay] = [a.x_m(), a.y_m()];
            profile.add_stretch([from, to].map(|s| ProfilePoint {
                distance_m: start + s,
                x_m: ax + s * direction[0],
                y_m: ay + s * direction[1],
                z_m: base + rise * s,
            }));
        }
    }

    /// The stretch of a line inside a facet, as distances from `a`.
    fn inside(&self, facet: u32, a: Point, direction: [f64; 2], length: f64) -> Option<(f64, f64)> {
        let t = self.plan(facet).map(|p| p.relative_m(a));
        let (mut from, mut to) = (0.0, length);
        for k in 0..3 {
            let (p, q) = (t[k], t[(k + 1) % 3]);
            let (ex, ey) = (q[0] - p[0], q[1] - p[1]);
            // Positive inside: at distance s it is `at_start + s * change`.
            let at_start = ex * -p[1] - ey * -p[0];
            let change = ex * direction[1] - ey * direction[0];
            if change == 0.0 {
                if at_start < 0.0 {
                    return None;
                }
                continue;
            }
            let s = -at_start / change;
            if change > 0.0 {
                from = f64::max(from, s);
            } else {
                to = f64::min(to, s);
            }
        }
        (to > from).then_some((from, to))
    }
}

impl Profile {
    /// Adds a straight stretch that starts no earlier than the last one did.
    fn add_stretch(&mut self, [from, to]: [ProfilePoint; 2]) {
        let end = self
            .runs
            .last()
            .and_then(|run| run.last())
            .map(|last| last.distance_m);
        match (end, self.runs.last_mut()) {
            (Some(end), Some(run)) if from.distance_m - end <= SAME_PLACE_M => {
                if to.distance_m - end > SAME_PLACE_M {
                    run.push(to);
                }
            }
            _ if to.distance_m - from.distance_m > SAME_PLACE_M => self.runs.push(vec![from, to]),
            _ => {}
        }
    }

    /// Height at a distance along the line; `None` where there is no surface.
    pub fn z_at(&self, distance_m: f64) -> Option<f64> {
        self.runs.iter().find_map(|run| {
            let next = run.partition_point(|p| p.distance_m < distance_m);
            if next == 0 {
                return (run[0].distance_m <= distance_m + SAME_PLACE_M).then(|| run[0].z_m);
            }
            let (a, b) = (run.get(next - 1)?, run.get(next)?);
            let t = (distance_m - a.distance_m) / (b.distance_m - a.distance_m);
            Some(a.z_m + t * (b.z_m - a.z_m))
        })
    }

    /// All points in order.
    pub fn points(&self) -> impl Iterator<Item = &ProfilePoint> {
        self.runs.iter().flatten()
    }
}
