//! What a wall takes: heights by station, courses, units, stone, pipe, and the soil put back.

use crate::design::{Design, WallPlan, WallStretch};
use crate::geom::{Origin, P3, Point, distance_m};
use crate::surface::{Plane, Source, Surface, Tally};
use crate::terrain::GROUND;

use super::volume::above_soil_m3;

/// A wall at a station.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct WallPoint {
    /// Distance along the foot of the face, metres.
    pub station_m: f64,
    /// East, metres, absolute.
    pub x_m: f64,
    /// North, metres, absolute.
    pub y_m: f64,
    /// Level of the underside of the first course, metres.
    pub base_m: f64,
    /// Level of the top, metres.
    pub top_m: f64,
    /// Finished ground before the foot, metres; `None` off the survey.
    pub front_m: Option<f64>,
    /// Finished ground right behind the back, metres; `None` off the survey.
    pub behind_m: Option<f64>,
    /// From the ground before it to the top, metres.
    pub exposed_m: Option<f64>,
    /// From the underside of the first course to the top, metres.
    pub body_m: f64,
    /// From the bottom of what it stands on, its base stone, to the top, metres.
    pub total_m: f64,
    /// Courses, without the cap.
    pub courses: Option<u32>,
}

/// Where base or top change their level.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct WallStep {
    /// Distance along the foot of the face, metres.
    pub station_m: f64,
    /// Level of the base before and after, metres.
    pub base_m: [f64; 2],
    /// Level of the top before and after, metres.
    pub top_m: [f64; 2],
}

/// A course.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct CourseCount {
    /// From the lowest, 1.
    pub number: u32,
    /// Level of its underside, metres.
    pub underside_m: f64,
    /// Length, metres.
    pub length_m: f64,
    /// Units, each run of the course rounded up to whole ones.
    pub units: Option<u32>,
}

/// Quantities of a wall.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize)]
pub struct WallQuantities {
    /// Number of its feature.
    pub feature: usize,
    /// Name.
    pub name: String,
    /// Length along the foot of the face, metres.
    pub length_m: f64,
    /// By station; at a step twice.
    pub stations: Vec<WallPoint>,
    /// Changes of level, in order.
    pub steps: Vec<WallStep>,
    /// Courses from the lowest up; empty without a height of course.
    pub courses: Vec<CourseCount>,
    /// Units of all courses.
    pub units: Option<u32>,
    /// Length of the cap, metres.
    pub cap_m: Option<f64>,
    /// Units of the cap.
    pub cap_units: Option<u32>,
    /// Face from the base to the top, along its lean, m2.
    pub face_m2: f64,
    /// Face above the ground before it, m2.
    pub exposed_face_m2: f64,
    /// Body with its cap, m3.
    pub body_m3: f64,
    /// Stone under the first course, m3 as placed.
    pub base_stone_m3: f64,
    /// Stone behind the wall, m3 as placed.
    pub drain_stone_m3: f64,
    /// Of the stone behind the wall, what lies in soil that features after it have placed there,
    /// m3: it is in both.
    pub drain_in_fill_m3: f64,
    /// Soil put back before and behind the wall and over its stone, m3 tamped.
    pub refill_m3: f64,
    /// Length of the drain pipe, metres.
    pub pipe_m: Option<f64>,
    /// Stations and levels of its underside, from the outlet on, metres.
    pub pipe_levels: Vec<(f64, f64)>,
    /// How far the underside of its outlet lies below the ground before the wall there, metres;
    /// negative above it.
    pub outlet_below_ground_m: Option<f64>,
    /// Largest height of the pipe above the base, where water stays, metres.
    pub pipe_above_base_m: Option<f64>,
}

/// How far beside foot and back the finished ground is looked up, metres: past the lean of the
/// faces.
const BESIDE_M: f64 = 0.005;

/// Stations closer than this are one, metres.
const SAME_PLACE_M: f64 = 0.01;

/// Share of a course, or of a unit, that is rounding.
const SAME: f64 = 1.0e-6;

/// Quantities of all walls of a design.
pub fn wall_quantities(design: &Design, origin: Origin) -> Vec<WallQuantities> {
    let features = design.features.iter().enumerate();
    features
        .filter_map(|(number, feature)| {
            let plan = feature.laid.wall.as_deref()?;
            let counted = Counted { design, plan };
            let mut wall = counted.quantities(origin);
            wall.feature = number;
            wall.name.clone_from(&feature.name);
            wall.refill_m3 = refill_m3(design, number);
            Some(wall)
        })
        .collect()
}

/// Soil put back round a wall in its trench, m3 tamped: the room over what was dug for it, less
/// the wall and its stone; 0 for what is no wall.
pub(super) fn refill_m3(design: &Design, number: usize) -> f64 {
    let Some(plan) = design.features[number].laid.wall.as_deref() else {
        return 0.0;
    };
    let taken = plan.body_m3 + plan.base_stone_m3 + Counted { design, plan }.drain_stone_m3();
    (above_soil_m3(design, number, 0.0) - taken).max(0.0)
}

/// A wall in its design.
struct Counted<'a> {
    design: &'a Design,
    plan: &'a WallPlan,
}

impl Counted<'_> {
    fn quantities(&self, origin: Origin) -> WallQuantities {
        let plan = self.plan;
        let stations = self.stations(origin);
        let lean = plan.batter_run_per_rise.hypot(1.0);
        let over = |height: &dyn Fn(&WallPoint) -> f64| -> f64 {
            let pairs = stations.windows(2);
            pairs
                .map(|w| (height(&w[0]) + height(&w[1])) / 2.0 * (w[1].station_m - w[0].station_m))
                .sum::<f64>()
                * lean
        };
        let courses = self.courses();
        let cap_runs = plan.cap_m.map(|_| self.cap_runs());
        let of_units = |lengths: &[f64]| -> Option<u32> {
            lengths.iter().map(|&m| units(m, plan.unit_m)).sum()
        };
        let pipe_levels = plan.pipe_levels();
        let outlet = pipe_levels.first().and_then(|&(s, z)| {
            let ground = self.design.surface.z_at(self.beside(s, -BESIDE_M))?;
            Some(ground - z)
        });
        let above_base = pipe_levels.iter().filter_map(|&(s, z)| {
            // At a step both stretches end there.
            let bases = plan
                .stretches
                .iter()
                .filter(|p| p.from_m <= s && s <= p.to_m);
            let lowest = bases.map(|p| p.base_z_m).reduce(f64::min)?;
            Some(z - lowest)
        });
        WallQuantities {
            length_m: plan.line.length_m(),
            steps: self.steps(),
            units: match courses.is_empty() {
                true => None,
                false => courses.iter().map(|c| c.units).sum(),
            },
            courses,
            cap_m: cap_runs.as_ref().map(|runs| runs.iter().sum()),
            cap_units: cap_runs.as_deref().and_then(of_units),
            face_m2: over(&|p| p.body_m),
            exposed_face_m2: over(&|p| p.exposed_m.unwrap_or(0.0)),
            body_m3: plan.body_m3,
            base_stone_m3: plan.base_stone_m3,
            drain_stone_m3: self.drain_stone_m3(),
            drain_in_fill_m3: self.drain_in_fill_m3(),
            pipe_m: plan.pipe.map(|_| self.pipe_m()),
            outlet_below_ground_m: outlet,
            pipe_above_base_m: above_base.reduce(f64::max),
            pipe_levels,
            stations,
            ..WallQuantities::default()
        }
    }

    /// A place so far behind the foot of the face; before it if negative.
    fn beside(&self, station_m: f64, behind_m: f64) -> Point {
        self.plan.line.beside(station_m, behind_m * self.plan.side)
    }

    /// Stations where a level or the ground beside the wall breaks.
    fn stations(&self, origin: Origin) -> Vec<WallPoint> {
        let (plan, surface) = (self.plan, &self.design.surface);
        let line = &plan.line;
        let thick = plan.base_stone.map_or(0.0, |s| s.thick_m);
        let back = plan.thickness_m + 2.0 * BESIDE_M;
        let mut breaks: Vec<f64> = line.stations_m().to_vec();
        for (k, start) in line
            .stations_m()
            .iter()
            .enumerate()
            .take(line.points().len() - 1)
        {
            for offset in [-BESIDE_M, back] {
                let profile = surface.profile(&line.parallel(k, offset * plan.side));
                breaks.extend(profile.points().map(|p| start + p.distance_m));
            }
        }
        breaks.sort_by(f64::total_cmp);
        let mut all = Vec::new();
        for stretch in &plan.stretches {
            let (from, to) = (stretch.from_m, stretch.to_m);
            let inside = |s: &f64| *s > from + SAME_PLACE_M && *s < to - SAME_PLACE_M;
            let mut own: Vec<f64> = stretch.top.iter().map(|k| k.0).collect();
            own.extend(breaks.iter().copied().filter(inside));
            own.sort_by(f64::total_cmp);
            own.dedup_by(|b, a| *b - *a < SAME_PLACE_M && *b < to);
            for station_m in own {
                let p = line.at(station_m);
                let top_m = stretch.top_at(station_m);
                // At a step both stretches are looked up on their own side of it.
                let aside = station_m.clamp(from + BESIDE_M, (to - BESIDE_M).max(from + BESIDE_M));
                let front_m = surface.z_at(self.beside(aside, -BESIDE_M));
                let body_m = top_m - stretch.base_z_m;
                all.push(WallPoint {
                    station_m,
                    x_m: p.x_m() + origin.x_m as f64,
                    y_m: p.y_m() + origin.y_m as f64,
                    base_m: stretch.base_z_m,
                    top_m,
                    front_m,
                    behind_m: surface.z_at(self.beside(aside, back)),
                    exposed_m: front_m.map(|z| (top_m - z).max(0.0)),
                    body_m,
                    total_m: body_m + thick,
                    courses: plan.course_m.map(|course| {
                        let height = body_m - plan.cap_m.unwrap_or(0.0);
                        (height / course).round().max(0.0) as u32
                    }),
                });
            }
        }
        all
    }

    fn steps(&self) -> Vec<WallStep> {
        let pairs = self.plan.stretches.windows(2);
        pairs
            .map(|w| WallStep {
                station_m: w[0].to_m,
                base_m: [w[0].base_z_m, w[1].base_z_m],
                top_m: [w[0].top_at(w[0].to_m), w[1].top_at(w[1].from_m)],
            })
            .filter(|s| s.base_m[0] != s.base_m[1] || s.top_m[0] != s.top_m[1])
            .collect()
    }

    /// Every course with the lengths it runs over.
    fn courses(&self) -> Vec<CourseCount> {
        let plan = self.plan;
        let Some(course_m) = plan.course_m else {
            return Vec::new();
        };
        let cap_m = plan.cap_m.unwrap_or(0.0);
        let levels = |s: &WallStretch| {
            let top = s.top.iter().map(|k| k.1).fold(f64::INFINITY, f64::min) - cap_m;
            (s.base_z_m, top)
        };
        let all = plan.stretches.iter().map(levels);
        let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), (a, b)| {
            (l.min(a), h.max(b))
        });
        let count = ((high - low) / course_m + SAME).floor().max(0.0) as u32;
        (0..count)
            .map(|k| {
                let underside_m = low + f64::from(k) * course_m;
                let slack = SAME * course_m;
                let holds = |s: &WallStretch| {
                    let (base, top) = levels(s);
                    base <= underside_m + slack && underside_m + course_m <= top + slack
                };
                let runs = runs(&plan.stretches, |s| holds(s).then_some(()));
                CourseCount {
                    number: k + 1,
                    underside_m,
                    length_m: runs.iter().sum(),
                    units: runs.iter().map(|&m| units(m, plan.unit_m)).sum(),
                }
            })
            .collect()
    }

    /// Lengths of the cap at one level each.
    fn cap_runs(&self) -> Vec<f64> {
        runs(&self.plan.stretches, |s| Some(s.top_at(s.from_m).to_bits()))
    }

    /// Volume of the stone behind the back: up to the finished ground or the top of the wall,
    /// less the soil on it.
    fn drain_stone_m3(&self) -> f64 {
        let cap = self.plan.drain_stone.map_or(0.0, |d| d.soil_cap_m);
        self.over_strips(&self.design.surface, cap, cap)
    }

    /// What of it lies within the soil of the design.
    fn drain_in_fill_m3(&self) -> f64 {
        let cap = self.plan.drain_stone.map_or(0.0, |d| d.soil_cap_m);
        self.over_strips(self.design.soil(), 0.0, cap)
    }

    /// Volume over the strips behind the back, from the base up to a surface less `under_m`, and
    /// to the top of the wall less `cap_m` at most.
    fn over_strips(&self, surface: &Surface, under_m: f64, cap_m: f64) -> f64 {
        let above = |facets: &[([P3; 3], Source)], by_m: f64| {
            Tally::of(surface, by_m, facets.iter().copied())
                .result()
                .total
                .cut_m3
        };
        let (mut low, mut high) = (Vec::new(), Vec::new());
        for (stretch, strip) in self.plan.stretches.iter().zip(&self.plan.drain_strips) {
            for (k, &[a, b, c, d]) in strip.iter().enumerate() {
                // As many knots as sections; in courses the top is level.
                let top = |k: usize| {
                    stretch
                        .top
                        .get(k)
                        .map_or_else(|| stretch.top_at(stretch.to_m), |t| t.1)
                };
                let (near, far) = (top(k), top(k + 1));
                for (corners, tops) in [
                    ([a, b, c], [near, far, far]),
                    ([a, c, d], [near, far, near]),
                ] {
                    low.extend(facet(corners));
                    let lifted = [0, 1, 2].map(|i| P3 {
                        z: tops[i] - cap_m,
                        ..corners[i]
                    });
                    high.extend(facet(lifted));
                }
            }
        }
        (above(&low, -under_m) - above(&high, -under_m)).max(0.0)
    }

    fn pipe_m(&self) -> f64 {
        let middle = |a: P3, b: P3| Point::new((a.p.x + b.p.x) / 2, (a.p.y + b.p.y) / 2);
        let fall = self.plan.pipe.map_or(0.0, |p| p.fall);
        let strips = self.plan.drain_strips.iter().flatten();
        let plan_m: f64 = strips
            .map(|&[a, b, c, d]| distance_m(middle(a, d), middle(b, c)))
            .sum();
        let levels = self.plan.pipe_levels();
        let rises: f64 = levels
            .windows(2)
            .filter(|w| w[0].0 == w[1].0)
            .map(|w| (w[1].1 - w[0].1).abs())
            .sum();
        plan_m * fall.hypot(1.0) + rises
    }
}

/// A facet of its own plane; none for one without area.
fn facet(corners: [P3; 3]) -> Option<([P3; 3], Source)> {
    let [a, b, c] = corners;
    let turn = crate::geom::orient_sign(a.p, b.p, c.p);
    let corners = if turn < 0 { [a, c, b] } else { corners };
    let [a, b, c] = corners;
    (turn != 0).then(|| {
        let plane = Plane::through(a, b, c);
        (
            corners,
            Source {
                plane,
                label: GROUND,
            },
        )
    })
}

/// Lengths of runs of stretches that follow each other with the same key.
fn runs<K: PartialEq>(
    stretches: &[WallStretch],
    key: impl Fn(&WallStretch) -> Option<K>,
) -> Vec<f64> {
    let mut all: Vec<(f64, f64, K)> = Vec::new();
    for stretch in stretches {
        let Some(key) = key(stretch) else { continue };
        match all.last_mut() {
            Some((_, to, last)) if *last == key && *to == stretch.from_m => *to = stretch.to_m,
            _ => all.push((stretch.from_m, stretch.to_m, key)),
        }
    }
    all.into_iter().map(|(from, to, _)| to - from).collect()
}

/// Whole units of a length.
fn units(length_m: f64, unit_m: Option<f64>) -> Option<u32> {
    unit_m.map(|unit| (length_m / unit - SAME).ceil().max(0.0) as u32)
}
