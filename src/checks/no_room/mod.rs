//! Where a wall is needed: along every line that a side must land before, the height left over.
//!
//! Along a line ([`obstacle`]) two things are compared with the ground at every break: the surface
//! as drawn, and the side at the limit slope of its soil ([`envelope`]), which is the least that
//! has to be held. Both are kept apart and told in one finding:
//!
//! - as drawn it passes the line: the wall as drawn, and what the limit slope would spare, or ask
//!   for if the side is drawn steeper;
//! - as drawn it lands before the line, steeper than the limit: the wall at the limit.
//!
//! Where soil comes from is the rim of the core ([`rim`]); lines stand in its way ([`blockers`]),
//! so behind a line nothing is asked for twice. A wall of the job that is high enough holds what
//! is behind it ([`held`]). Soil that has landed on its way, or that runs into a dig of another
//! feature, is at an end there; the floor of that dig is a line of its own.

mod blockers;
mod envelope;
mod held;
mod never;
mod obstacle;
mod rim;
mod runs;
mod setback;
mod words;

use crate::design::{KeepOffPlace, Role};
use crate::geom::{Point, Ring, distance_m, orient_sign, triangulate_rings};
use crate::job::KeepOffKind;
use crate::surface::{Rule, Within, cut_fill_within};

use super::slope::side_limit;
use super::wall::{
    AtLimit, Basis, LOWEST_WALL_M, SHORTEST_WALL_M, SMALLEST_WALL_M2, Wall, WallStation,
};
use super::{Checked, Context};
use crate::job::limits;

use blockers::Blockers;
use envelope::Envelope;
use held::{BuiltWalls, off_m};
use obstacle::Obstacle;
use rim::{Rim, plan};
use runs::{AtLine, Run, Step, close_round, joined};

pub(super) use held::is_wall;

/// What is compared along every line.
struct Yard<'a> {
    context: &'a Context<'a>,
    rims: &'a [Rim],
    /// By feature: fill, cut.
    envelopes: Vec<[Option<Envelope<'a>>; 2]>,
    /// Property lines alone.
    boundaries: Blockers,
    built: BuiltWalls,
    obstacles: Vec<Obstacle>,
}

pub(super) fn check(context: &Context, out: &mut Checked) {
    let design = context.design;
    let keep_offs = std::mem::take(&mut out.keep_offs);
    let rims = rim::rims(design);
    let blockers = obstacle::blockers(&keep_offs);
    let of_boundary = |k: &&KeepOffPlace| k.kind == KeepOffKind::Boundary;
    let mut boundaries = Blockers::default();
    for keep_off in keep_offs.iter().filter(of_boundary) {
        let points = keep_off.line.iter().map(|&p| plan(p)).collect();
        boundaries.add(points, keep_off.area.is_some());
    }
    let ground = |p: [f64; 2]| context.terrain.surface.z_at(Point::from_m(p[0], p[1]));
    let envelopes: Vec<[Option<Envelope>; 2]> = rims
        .iter()
        .enumerate()
        .map(|(number, rim)| {
            [true, false].map(|is_fill| {
                let pieces = rim.of(is_fill);
                if pieces.is_empty() {
                    return None;
                }
                let limit = side_limit(context, &design.features[number], is_fill)?;
                let slope = limit.slope.rise_per_run();
                Some(Envelope::new(pieces, is_fill, slope, &blockers, ground))
            })
        })
        .collect();
    let mut obstacles: Vec<Obstacle> = keep_offs
        .iter()
        .filter(|k| obstacle::stops_earth(k.kind))
        .map(|k| obstacle::of_keep_off(context, k))
        .collect();
    let features = 0..design.features.len();
    obstacles.extend(features.filter_map(|number| obstacle::of_feature(design, number)));
    let yard = Yard {
        context,
        rims: &rims,
        envelopes,
        boundaries,
        built: BuiltWalls::of(design),
        obstacles,
    };
    for number in 0..yard.obstacles.len() {
        let (walls, held) = yard.walls(number, &keep_offs);
        for wall in held {
            out.find(words::held(context, &wall));
        }
        out.walls.extend(walls);
    }
    super::wall_rules::check(context, &keep_offs, out);
    for (k, wall) in out.walls.clone().iter().enumerate() {
        out.find(words::needed(context, k, wall));
    }
    never::check(&yard, out);
    setback::check(&yard, &keep_offs, out);
    words::said(context, &keep_offs, &rims, out);
    out.keep_offs = keep_offs;
}

/// A stretch that a wall of the job holds.
struct HeldRun {
    feature: usize,
    wall: usize,
    line: String,
    length_m: f64,
    height_m: f64,
    at: Point,
}

impl Yard<'_> {
    /// The walls needed along a line, and what walls of the job hold there.
    fn walls(&self, number: usize, keep_offs: &[KeepOffPlace]) -> (Vec<Wall>, Vec<HeldRun>) {
        let obstacle = &self.obstacles[number];
        let round_m = obstacle.is_closed.then_some(obstacle.length_m);
        let mut drawn = self.drawn(number);
        drawn.extend(self.stops(obstacle));
        let mut at_limit = self.at_limit(number);
        let mut walls = Vec::new();
        let mut held = Vec::new();
        // What is drawn comes first; the same stretch at the limit slope is told beside it.
        for run in &drawn {
            let same = |l: &&Run| {
                l.owner == run.owner && l.is_fill == run.is_fill && l.is_beside(run, round_m)
            };
            let beside: Vec<Run> = at_limit.iter().filter(same).cloned().collect();
            walls.extend(self.keep(obstacle, run, Some(&beside), keep_offs, &mut held));
        }
        let taken = |run: &Run| {
            drawn.iter().any(|d| {
                d.owner == run.owner && d.is_fill == run.is_fill && d.is_beside(run, round_m)
            })
        };
        at_limit.retain(|run| !taken(run));
        at_limit.sort_by(|a, b| b.max_height_m().total_cmp(&a.max_height_m()));
        // One wall at one place: the highest first, of the others what is left.
        let mut placed = drawn;
        for run in at_limit {
            let mut left = run.steps.clone();
            left.retain(|[a, b]| {
                let middle = (a.station + b.station) / 2.0;
                let same = |p: &&Run| p.is_fill == run.is_fill;
                !placed
                    .iter()
                    .filter(same)
                    .any(|p| p.covers(middle, round_m))
            });
            let pieces = left.into_iter().map(|s| (run.owner, run.is_fill, s));
            for run in joined(pieces, false) {
                walls.extend(self.keep(obstacle, &run, None, keep_offs, &mut held));
                placed.push(run);
            }
        }
        (walls, held)
    }

    /// Stretches where the surface as drawn is another than on the low side of the line.
    fn drawn(&self, number: usize) -> Vec<Run> {
        let obstacle = &self.obstacles[number];
        let design = self.context.design;
        let finished = design.surface.profile(&obstacle.line);
        let breaks = obstacle.low.breaks_with(&finished);
        let step = |station: f64| {
            Some(Step {
                station,
                ground: obstacle.low.z_at(station)?,
                finished: finished.z_at(station)?,
            })
        };
        let mut pieces = Vec::new();
        for pair in breaks.windows(2) {
            let middle = (pair[0] + pair[1]) / 2.0;
            let Some(at) = step(middle) else { continue };
            if !at.differs() {
                continue;
            }
            let place = obstacle.at(middle);
            let owner = design
                .surface
                .facet_at(place)
                .and_then(|f| design.parts[design.surface.label(f) as usize].feature);
            let (Some(owner), Some(from), Some(to)) = (owner, step(pair[0]), step(pair[1])) else {
                continue;
            };
            let rise = from.finished + to.finished - from.ground - to.ground;
            let is_fill = rise > 0.0;
            if obstacle.feature.is_some()
                && (obstacle.feature == Some(owner) || !self.places_soil(owner) || !is_fill)
            {
                continue;
            }
            let is_other = is_wall(design, owner)
                || self.is_taken(number, place)
                || !self.is_before_boundaries(owner, is_fill, place);
            if !is_other {
                pieces.push((owner, is_fill, [from, to]));
            }
        }
        let mut runs = joined(pieces, false);
        if obstacle.is_closed {
            close_round(&mut runs, obstacle.length_m);
        }
        runs
    }

    /// Faces where features stop by themselves.
    fn stops(&self, obstacle: &Obstacle) -> Vec<Run> {
        let mut all = Vec::new();
        if obstacle.feature.is_some() {
            return all;
        }
        for (owner, feature) in self.context.design.features.iter().enumerate() {
            for stop in feature.stops.iter().filter(|s| s.keep_off == obstacle.name) {
                let pieces = stop.stations.windows(2).filter_map(|pair| {
                    let [from, to] = [pair[0], pair[1]].map(|s| Step {
                        station: s.station_m,
                        ground: s.before_m,
                        finished: s.shape_m,
                    });
                    let rise = from.finished + to.finished - from.ground - to.ground;
                    (from.differs() || to.differs()).then_some((owner, rise > 0.0, [from, to]))
                });
                let mut runs = joined(pieces, true);
                if obstacle.is_closed {
                    close_round(&mut runs, obstacle.length_m);
                }
                all.extend(runs);
            }
        }
        all
    }

    fn places_soil(&self, owner: usize) -> bool {
        let laid = &self.context.design.features[owner].laid;
        laid.rule == Rule::Raise && laid.places_soil
    }

    /// True if a place of a line lies on a line before it in the job: one wall stands there.
    fn is_taken(&self, number: usize, place: Point) -> bool {
        /// Two lines closer than this are one, metres.
        const ONE_LINE_M: f64 = 1.0e-3;
        let p = plan(place);
        self.obstacles[..number].iter().any(|other| {
            let mut pieces = other.line.windows(2);
            pieces.any(|w| off_m(p, plan(w[0]), plan(w[1])) <= ONE_LINE_M)
        })
    }

    /// True if a place is seen from a feature without a property line between: behind one nothing
    /// is built.
    fn is_before_boundaries(&self, owner: usize, is_fill: bool, place: Point) -> bool {
        let pieces = self.rims[owner].of(is_fill);
        let p = plan(place);
        pieces.is_empty()
            || pieces.iter().any(|piece| {
                let [a, b] = [piece.from, piece.to].map(|c| [c[0], c[1]]);
                let middle = [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0];
                [middle, a, b]
                    .iter()
                    .any(|&c| self.boundaries.is_open(c, p))
            })
    }

    /// The level of the core of a feature, where a place lies on it.
    fn core_level(&self, owner: usize, place: Point) -> Option<f64> {
        let design = self.context.design;
        let facet = design.surface.facet_at(place)?;
        let part = &design.parts[design.surface.label(facet) as usize];
        (part.feature == Some(owner) && part.role == Role::Floor)
            .then(|| design.surface.source(facet).plane.z_at(place))
    }

    /// Stretches where the sides of features at their limit slope have not landed.
    fn at_limit(&self, number: usize) -> Vec<Run> {
        let obstacle = &self.obstacles[number];
        let mut all = Vec::new();
        for (owner, envelopes) in self.envelopes.iter().enumerate() {
            for (envelope, is_fill) in envelopes.iter().zip([true, false]) {
                let Some(envelope) = envelope else { continue };
                let other = obstacle.feature;
                if other == Some(owner) || other.is_some() && !is_fill {
                    continue;
                }
                // Earlier fill round a later pad or dig, and fill laid over it, alike; what a
                // pad fills round itself meets the pad beside it at its own level.
                let ground = &self.context.terrain.surface;
                let cut = other
                    .and_then(|f| side_limit(self.context, &self.context.design.features[f], false))
                    .map(|limit| limit.slope.rise_per_run());
                let natural = |station: f64, low: f64| {
                    if other.is_none() {
                        return (low, 0.0);
                    }
                    let natural = ground.z_at(obstacle.at(station)).unwrap_or(low);
                    let deep = (natural - low).max(0.0);
                    // The dig climbs to the natural ground at its own limit; only there the
                    // fill begins, and stands higher by what it rises over that run.
                    let above = cut.map_or(0.0, |cut| deep / cut * envelope.slope());
                    (low.max(natural), above)
                };
                let core = |p: Point| match other {
                    Some(_) => None,
                    None => self.core_level(owner, p),
                };
                let line = AtLine {
                    obstacle,
                    envelope,
                    core: &core,
                    landing: &natural,
                };
                let pieces: Vec<[Step; 2]> = line
                    .pieces()
                    .into_iter()
                    .filter(|[a, b]| {
                        let middle = (a.station + b.station) / 2.0;
                        let place = obstacle.at(middle);
                        !self.is_taken(number, place)
                            && line.reached(place).is_some_and(|r| {
                                !self.ends_before(owner, is_fill, other, r.from, place)
                            })
                    })
                    .collect();
                let pieces = pieces.into_iter().map(|s| (owner, is_fill, s));
                let mut runs = joined(pieces, false);
                if obstacle.is_closed {
                    close_round(&mut runs, obstacle.length_m);
                }
                all.extend(runs);
            }
        }
        all
    }

    /// True if the side at the limit slope comes to an end on its way from the rim to a place: it
    /// lands on higher ground between, or runs into a dig of another feature.
    fn ends_before(
        &self,
        owner: usize,
        is_fill: bool,
        obstacle: Option<usize>,
        from: [f64; 3],
        place: Point,
    ) -> bool {
        let start = Point::from_m(from[0], from[1]);
        let far = distance_m(start, place);
        if far < 2.0 * LOWEST_WALL_M {
            return false;
        }
        let Some(envelope) = &self.envelopes[owner][usize::from(!is_fill)] else {
            return false;
        };
        let sign = if is_fill { 1.0 } else { -1.0 };
        let level = |d: f64| from[2] - sign * envelope.slope() * d;
        let design = self.context.design;
        let inside = |d: f64| d > LOWEST_WALL_M && d < far - LOWEST_WALL_M;
        let line = [start, place];
        let lands = self
            .context
            .terrain
            .surface
            .profile(&line)
            .points()
            .any(|q| {
                inside(q.distance_m) && sign * (level(q.distance_m) - q.z_m) < -LOWEST_WALL_M / 10.0
            });
        if lands {
            return true;
        }
        is_fill
            && design.surface.profile(&line).points().any(|q| {
                let is_dug = inside(q.distance_m) && level(q.distance_m) - q.z_m > LOWEST_WALL_M;
                is_dug
                    && design
                        .surface
                        .facet_at(Point::from_m(q.x_m, q.y_m))
                        .and_then(|f| design.parts[design.surface.label(f) as usize].feature)
                        .is_some_and(|f| {
                            f != owner
                                && Some(f) != obstacle
                                && design.features[f].laid.rule == Rule::Lower
                        })
            })
    }

    /// A run as walls, less what walls of the job hold.
    fn keep(
        &self,
        obstacle: &Obstacle,
        run: &Run,
        beside: Option<&[Run]>,
        keep_offs: &[KeepOffPlace],
        held: &mut Vec<HeldRun>,
    ) -> Vec<Wall> {
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
            .map(|run| self.wall(obstacle, &run, beside, keep_offs))
            .collect()
    }

    fn wall(
        &self,
        obstacle: &Obstacle,
        run: &Run,
        beside: Option<&[Run]>,
        keep_offs: &[KeepOffPlace],
    ) -> Wall {
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
        let keep_off = keep_offs.iter().find(|k| k.name == obstacle.name);
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
            beyond_m3: match keep_off {
                _ if run.is_in_design || beside.is_none() => Some(0.0),
                Some(keep_off) => self.beyond_m3(keep_off, run.owner),
                None => None,
            },
            at_limit,
            surcharge: Vec::new(),
            passes: Vec::new(),
            stations,
        }
    }

    /// How far before the line the side at the limit slope lands, at the nearest place of a run.
    fn lands_before_m(&self, obstacle: &Obstacle, run: &Run) -> Option<f64> {
        let envelope = self.envelopes[run.owner][usize::from(!run.is_fill)].as_ref()?;
        let sign = if run.is_fill { 1.0 } else { -1.0 };
        let mut least: Option<f64> = None;
        for step in run.steps.iter().flatten() {
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
    fn beyond_m3(&self, keep_off: &KeepOffPlace, number: usize) -> Option<f64> {
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
