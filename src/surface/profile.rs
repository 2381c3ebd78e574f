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

/// Stretches closer than this belong to one run: a line almost along an edge meets it at a place
/// that the facets on both sides find a little apart. No hole in a survey is as narrow.
const SAME_RUN_M: f64 = 1.0e-3;

/// Heights at a join that differ by more than this are a step.
const STEP_M: f64 = 1.0e-6;

impl Surface {
    /// The profile along a line of two or more points.
    ///
    /// # Accuracy
    ///
    /// crossings to rounding; heights from the planes of the facets
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
        let last = self.runs.last().and_then(|run| run.last()).copied();
        let is_long = to.distance_m - from.distance_m > SAME_PLACE_M;
        match (last, self.runs.last_mut()) {
            (Some(last), Some(run)) if from.distance_m - last.distance_m <= SAME_RUN_M => {
                if to.distance_m - last.distance_m <= SAME_PLACE_M {
                    return;
                }
                // A near-vertical face crossed in less than the width of a break is a step.
                if (from.z_m - last.z_m).abs() > STEP_M
                    && from.distance_m >= last.distance_m - SAME_PLACE_M
                {
                    run.push(ProfilePoint {
                        z_m: from.z_m,
                        ..last
                    });
                }
                run.push(to);
            }
            _ if is_long => self.runs.push(vec![from, to]),
            _ => {}
        }
    }

    /// Distances, in metres and rising, at which this profile or another along the same line
    /// bends: between two of them both are straight.
    pub fn breaks_with(&self, other: &Profile) -> Vec<f64> {
        let mut breaks: Vec<f64> = self
            .points()
            .chain(other.points())
            .map(|p| p.distance_m)
            .collect();
        breaks.sort_by(f64::total_cmp);
        breaks.dedup();
        breaks
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

#[cfg(test)]
mod tests {
    use crate::geom::{P3, Point};
    use crate::surface::Surface;

    #[test]
    fn a_face_narrower_than_a_break_is_a_step() {
        // Level at 1 to x = 1, a face of half a millimetre over 50 nm, level at 0.9995 beyond.
        let row = [
            (0.0, 1.0),
            (1.0, 1.0),
            (1.000_000_05, 0.9995),
            (10.0, 0.9995),
        ];
        let vertices: Vec<P3> = [0.0, 1.0]
            .iter()
            .flat_map(|&y| {
                row.map(|(x, z)| P3 {
                    p: Point::from_m(x, y),
                    z,
                })
            })
            .collect();
        let triangles: Vec<[u32; 3]> = (0..3)
            .flat_map(|k| [[k, k + 1, k + 5], [k, k + 5, k + 4]])
            .collect();
        let surface = Surface::from_triangles(vertices, &triangles, 0).unwrap();
        let profile = surface.profile(&[Point::from_m(0.0, 0.5), Point::from_m(10.0, 0.5)]);
        assert_eq!(profile.runs.len(), 1);
        for (at, want) in [(0.5, 1.0), (1.5, 0.9995), (5.0, 0.9995), (9.0, 0.9995)] {
            assert!(
                (profile.z_at(at).unwrap() - want).abs() < 1e-9,
                "at {at}: {profile:?}"
            );
        }
    }

    #[test]
    fn a_line_almost_along_an_edge_has_no_gap() {
        let corner = |x, y| P3 {
            p: Point::new(x, y),
            z: 0.0,
        };
        let vertices = vec![
            corner(0, 7_233_833_366),
            corner(40_000_000_000, 32_210_755_335),
            corner(20_000_000_000, -40_000_000_000),
            corner(20_000_000_000, 80_000_000_000),
        ];
        let surface = Surface::from_triangles(vertices, &[[0, 2, 1], [0, 1, 3]], 0).unwrap();
        let line = [
            Point::new(2_508_275_393, 8_800_058_336),
            Point::new(37_864_007_572, 30_876_992_429),
        ];
        assert_eq!(surface.profile(&line).runs.len(), 1);
    }
}
