//! A stretch as a wall: sizes, heights at the limit beside it, what is drawn past the line, and
//! what a wall of the job holds of it.

use crate::design::KeepOffPlace;
use crate::geom::{Point, Ring, distance_m, orient_sign, triangulate_rings};
use crate::job::limits;
use crate::surface::{Within, cut_fill_within};

use super::super::Context;
use super::super::slope::side_limit;
use super::super::wall::{
    AtLimit, Basis, LOWEST_WALL_M, SHORTEST_WALL_M, SMALLEST_WALL_M2, Wall, WallStation,
};
use super::obstacle::Obstacle;
use super::rim::plan;
use super::runs::{Run, Step, joined};
use super::{HeldRun, Yard};

impl Yard<'_> {
    /// A run as walls, less what walls of the job hold.
    pub(super) fn keep(
        &self,
        obstacle: &Obstacle,
        run: &Run,
        beside: Option<&[Run]>,
        held: &mut Vec<HeldRun>,
    ) -> Vec<(usize, Wall)> {
        let mut free = Vec::new();
        let mut by_wall: Vec<(usize, Vec<[Step; 2]>)> = Vec::new();
        for [a, b] in &run.steps {
            let middle = obstacle.at((a.station + b.station) / 2.0);
            let level = |s: &Step| s.finished.max(s.ground);
            match self.built.holds(middle, (level(a) + level(b)) / 2.0) {
                None => free.push((run.owner, run.is_fill, [*a, *b])),
                Some(wall) => match by_wall.iter_mut().find(|(w, _)| *w == wall) {
                    Some((_, steps)) => steps.push([*a, *b]),
                    None => by_wall.push((wall, vec![[*a, *b]])),
                },
            }
        }
        for (wall, steps) in by_wall {
            let run = Run {
                steps,
                ..run.clone()
            };
            let length_m: f64 = run.steps.iter().map(|[a, b]| b.station - a.station).sum();
            if is_worth_a_word(&run) {
                held.push(HeldRun {
                    feature: run.owner,
                    wall,
                    line: obstacle.name.clone(),
                    length_m,
                    height_m: run.max_height_m(),
                    at: obstacle.at(run.start()),
                });
            }
        }
        joined(free, run.is_in_design)
            .into_iter()
            .filter(is_worth_a_word)
            .map(|run| (run.owner, self.wall(obstacle, &run, beside)))
            .collect()
    }

    fn wall(&self, obstacle: &Obstacle, run: &Run, beside: Option<&[Run]>) -> Wall {
        let context = self.context;
        let feature = &context.design.features[run.owner];
        let envelope = self.envelopes[run.owner][usize::from(!run.is_fill)].as_ref();
        let start = run.start();
        let mut stations: Vec<WallStation> = Vec::new();
        for s in run.steps.iter().flatten() {
            let station_m = s.station - start;
            if stations
                .last()
                .is_some_and(|last| station_m - last.station_m < 1.0e-6)
            {
                continue;
            }
            let place = obstacle.at(s.station);
            let [x_m, y_m] = context.absolute(place);
            let limit_height_m = match (beside, envelope) {
                (None, _) => Some(s.height()),
                (Some(_), None) => None,
                (Some(_), Some(envelope)) => Some({
                    let level = self
                        .core_level(run.owner, place)
                        .or_else(|| envelope.at(plan(place)).map(|r| r.z_m));
                    level.map_or(0.0, |z| envelope.height_m(z, s.ground).max(0.0))
                }),
            };
            stations.push(WallStation {
                station_m,
                x_m,
                y_m,
                ground_m: s.ground,
                finished_m: s.finished,
                height_m: s.height(),
                limit_height_m,
            });
        }
        let limit = side_limit(context, feature, run.is_fill).filter(|_| envelope.is_some());
        let at_limit = limit.map(|limit| {
            let own = [run.clone()];
            let runs = beside.unwrap_or(&own);
            let add = |of: &dyn Fn(&Run) -> f64| runs.iter().map(of).sum::<f64>();
            let max_height_m = runs.iter().map(Run::max_height_m).fold(0.0, f64::max);
            let passes = max_height_m >= LOWEST_WALL_M;
            AtLimit {
                slope_rise_per_run: limit.slope.rise_per_run(),
                from: limit.from,
                length_m: if passes { add(&Run::length_m) } else { 0.0 },
                max_height_m: if passes { max_height_m } else { 0.0 },
                face_m2: if passes { add(&Run::face_m2) } else { 0.0 },
                lands_before_m: if passes {
                    None
                } else {
                    self.lands_before_m(obstacle, run)
                },
            }
        });
        let buried = context.job.limits.get(&limits::WALL_BURIED).value;
        let (length_m, max_height_m, face_m2) = (run.length_m(), run.max_height_m(), run.face_m2());
        Wall {
            feature: feature.name.clone(),
            keep_off: obstacle.name.clone(),
            along: obstacle.along,
            basis: if beside.is_some() {
                Basis::AsDrawn
            } else {
                Basis::AtLimit
            },
            holds_fill: run.is_fill,
            length_m,
            max_height_m,
            mean_height_m: face_m2 / length_m,
            face_m2,
            buried_m: max_height_m * buried,
            total_height_m: max_height_m * (1.0 + buried),
            face_with_buried_m2: face_m2 * (1.0 + buried),
            is_in_design: run.is_in_design,
            // Counted where something is drawn past the line.
            beyond_m3: (run.is_in_design || beside.is_none()).then_some(0.0),
            at_limit,
            surcharge: Vec::new(),
            passes: Vec::new(),
            entry: None,
            stations,
        }
    }

    /// How far before the line the side at the limit slope lands, at the nearest place of a run.
    fn lands_before_m(&self, obstacle: &Obstacle, run: &Run) -> Option<f64> {
        let envelope = self.envelopes[run.owner][usize::from(!run.is_fill)].as_ref()?;
        let sign = if run.is_fill { 1.0 } else { -1.0 };
        let mut least: Option<f64> = None;
        for step in run.steps.iter().map(|[from, _]| from) {
            let place = obstacle.at(step.station);
            let from = envelope.at(plan(place))?.from;
            let start = Point::from_m(from[0], from[1]);
            let ground = self.context.terrain.surface.profile(&[start, place]);
            let height = |d: f64, z: f64| sign * (from[2] - z) - envelope.slope() * d;
            let points: Vec<_> = ground.points().collect();
            let lands = points.windows(2).find_map(|w| {
                let [a, b] = [w[0], w[1]].map(|q| height(q.distance_m, q.z_m));
                (b <= 0.0).then(|| {
                    let t = if a > b {
                        (a / (a - b)).clamp(0.0, 1.0)
                    } else {
                        0.0
                    };
                    w[0].distance_m + t * (w[1].distance_m - w[0].distance_m)
                })
            });
            let before = lands.map_or(0.0, |d| distance_m(start, place) - d);
            least = Some(least.map_or(before, |l: f64| l.min(before)));
        }
        least
    }

    /// Volume of a feature on the far side of a keep-off.
    pub(super) fn beyond_m3(&self, keep_off: &KeepOffPlace, number: usize) -> Option<f64> {
        let context = self.context;
        let core = &context.design.features[number].laid.core;
        let area = match &keep_off.area {
            Some(area) => area.clone(),
            None => far_side(context, &keep_off.line, core.first().copied()?)?,
        };
        let within = Within(triangulate_rings(&[area])?);
        let found = cut_fill_within(
            &context.terrain.surface,
            &context.design.surface,
            &within,
            context.workers,
        );
        Some(
            context
                .design
                .labels(number)
                .filter_map(|label| found.by_label.get(&label))
                .map(|v| v.cut_m3 + v.fill_m3)
                .sum(),
        )
    }
}

fn is_worth_a_word(run: &Run) -> bool {
    run.max_height_m() >= LOWEST_WALL_M
        && run.length_m() >= SHORTEST_WALL_M
        && run.face_m2() >= SMALLEST_WALL_M2
}

/// What lies on the other side of an open line than `near`, as a large ring: the line, and far
/// off square to its two ends. Past the ends of the line nothing is beyond it. `None` if that
/// crosses itself.
fn far_side(context: &Context, line: &[Point], near: Point) -> Option<Ring> {
    let vertices = context.terrain.surface.vertices().iter();
    let far = vertices
        .map(|v| distance_m(v.p, line[0]))
        .fold(1.0, f64::max)
        * 4.0;
    let n = line.len();
    let square = |a: Point, b: Point| {
        let [x, y] = b.relative_m(a);
        let length = x.hypot(y);
        [-y / length, x / length]
    };
    let step = |p: Point, [x, y]: [f64; 2], m: f64| {
        let s = Point::from_m(x * m, y * m);
        Point::new(p.x + s.x, p.y + s.y)
    };
    [far, -far].into_iter().find_map(|m| {
        let mut corners = line.to_vec();
        corners.push(step(line[n - 1], square(line[n - 2], line[n - 1]), m));
        corners.push(step(line[0], square(line[0], line[1]), m));
        let ring = Ring::new(&corners).ok()?;
        let is_left = m > 0.0;
        let whole = orient_sign(line[0], line[n - 1], near);
        // The near point may lie past the ends: then the side it is on tells.
        let holds_near = ring.contains(near) || (whole > 0) == is_left && whole != 0;
        (!holds_near).then_some(ring)
    })
}
