//! What is compared along a line: the surface as drawn, faces where a feature stops, and sides at
//! the limit slope, each as stretches by feature.

use crate::design::Role;
use crate::geom::{Point, distance_m};
use crate::surface::Rule;

use super::super::slope::side_limit;
use super::super::wall::LOWEST_WALL_M;
use super::Yard;
use super::held::{is_wall, off_m};
use super::obstacle::Obstacle;
use super::rim::plan;
use super::runs::{AtLine, Run, Step, close_round, joined};

/// Places of a line closer than this are reached alike, metres: a hand.
const TOLD_M: f64 = 0.1;

impl Yard<'_> {
    /// Stretches where the surface as drawn is another than on the low side of the line.
    pub(super) fn drawn(&self, number: usize) -> Vec<Run> {
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
    pub(super) fn stops(&self, obstacle: &Obstacle) -> Vec<Run> {
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

    /// True if a place is seen from a feature without a line between that nothing is built beyond.
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
    pub(super) fn core_level(&self, owner: usize, place: Point) -> Option<f64> {
        let design = self.context.design;
        let facet = design.surface.facet_at(place)?;
        let part = &design.parts[design.surface.label(facet) as usize];
        (part.feature == Some(owner) && part.role == Role::Floor)
            .then(|| design.surface.source(facet).plane.z_at(place))
    }

    /// Stretches where the sides of features at their limit slope have not landed.
    pub(super) fn at_limit(&self, number: usize) -> Vec<Run> {
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
                // Where the way to a place ends before it is told every so far.
                let mut told: Option<(f64, bool)> = None;
                let mut pieces = line.pieces();
                pieces.retain(|[a, b]| {
                    let middle = (a.station + b.station) / 2.0;
                    let place = obstacle.at(middle);
                    if self.is_taken(number, place) {
                        return false;
                    }
                    if let Some((at, counts)) = told
                        && middle - at < TOLD_M
                    {
                        return counts;
                    }
                    let counts = line
                        .reached(place)
                        .is_some_and(|r| !self.ends_before(owner, is_fill, other, r.from, place));
                    told = Some((middle, counts));
                    counts
                });
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
}
