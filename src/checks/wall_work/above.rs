//! What stands above and beside a drawn wall: slopes, water, paths, buildings, other walls, and
//! the fill it stands on.

use std::collections::BTreeMap;

use crate::design::{Feature, KeepOffPlace, WallPlan};
use crate::earthwork::{WallPoint, WallQuantities};
use crate::geom::{P3, Point, Ring, distance_m, orient_sign};
use crate::job::{KeepOffKind, Use, limits};
use crate::surface::Rule;
use crate::units::Slope;

use super::super::Context;
use super::numbers::behind;

/// What loads the soil behind a wall.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum What {
    /// Ground that rises behind it.
    Slope,
    /// A stream or a pool.
    Water,
    /// A path or paving.
    Path,
    /// A building.
    Building,
    /// Another wall.
    Wall,
    /// A pile.
    Pile,
}

/// A load on the soil behind a wall.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Surcharge {
    /// What it is.
    pub what: What,
    /// The same in words, with its name.
    pub words: String,
    /// How far behind the back it begins, metres.
    pub distance_m: f64,
    /// Where along the wall, metres.
    pub station_m: f64,
}

/// Another wall above this one and so close that the two act together.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Tier {
    /// Its name.
    pub name: String,
    /// From face to face, metres.
    pub distance_m: f64,
    /// From which distance on they count apart, metres.
    pub apart_m: f64,
    /// From the ground before the lower wall to the top of the upper, metres.
    pub combined_m: f64,
    /// Where along the lower wall, metres.
    pub station_m: f64,
}

/// Ground behind that rises less than this counts as level: 1 in 10 (common practice, no source).
const LEVEL_RISE_PER_RUN: f64 = 0.1;

/// Distance between places that are looked at along and behind a wall, and most of them.
const STEP_M: f64 = 0.25;
const MOST_ACROSS: usize = 24;
const MOST_ALONG: usize = 400;

/// Water this near to face or back is held by the wall, metres: a foot.
const NEAR_M: f64 = 0.3;

/// Kinds of features that hold water.
const WATER: [&str; 2] = ["stream", "basin"];

/// What a wall has round it, looked at place by place.
pub(super) struct Around<'a> {
    context: &'a Context<'a>,
    keep_offs: &'a [KeepOffPlace],
    /// Paths and paving with their names.
    used: Vec<(String, Ring)>,
}

impl<'a> Around<'a> {
    pub(super) fn new(context: &'a Context<'a>, keep_offs: &'a [KeepOffPlace]) -> Around<'a> {
        let areas = context.job.areas.iter();
        let walked = areas.filter(|a| matches!(a.used, Use::Path | Use::Paved));
        let used = walked
            .filter_map(|area| {
                let places = context.survey.resolve(&area.area).ok()?;
                let corners: Vec<Point> = places.iter().map(|p| p.p).collect();
                Some((area.name.clone(), Ring::new(&corners).ok()?))
            })
            .collect();
        Around {
            context,
            keep_offs,
            used,
        }
    }

    /// Loads behind a wall, nearest first of each.
    pub(super) fn surcharges(&self, plan: &WallPlan, wall: &WallQuantities) -> Vec<Surcharge> {
        let share = self.context.job.limits.get(&limits::SURCHARGE_REACH).value;
        let mut found: BTreeMap<(What, String), Surcharge> = BTreeMap::new();
        let mut take = |what: What, words: String, distance_m: f64, station_m: f64| {
            let new = Surcharge {
                what,
                words: words.clone(),
                distance_m,
                station_m,
            };
            match found.get_mut(&(what, words.clone())) {
                Some(old) if old.distance_m <= distance_m => {}
                Some(old) => *old = new,
                None => {
                    found.insert((what, words), new);
                }
            }
        };
        let mut steepest: Option<(f64, f64)> = None;
        for point in &along(wall) {
            let reach = point.body_m * share;
            let Some(ground) = point.behind_m else {
                continue;
            };
            if ground <= point.base_m {
                continue;
            }
            let number = ((reach / STEP_M).ceil() as usize).clamp(1, MOST_ACROSS);
            let runs: Vec<f64> = (0..=number)
                .map(|k| 0.02 + (reach - 0.02) * k as f64 / number as f64)
                .collect();
            let far = behind(plan, point.station_m, reach);
            if let Some(z) = self.context.design.surface.z_at(far) {
                let rise = (z - ground) / reach;
                if rise > LEVEL_RISE_PER_RUN && steepest.is_none_or(|s| rise > s.0) {
                    steepest = Some((rise, point.station_m));
                }
            }
            for &run in &runs {
                let p = behind(plan, point.station_m, run);
                if let Some((kind, name)) = self.feature_at(p, wall.feature) {
                    let loads = match kind {
                        _ if WATER.contains(&kind) => {
                            Some((What::Water, format!("the {kind} \"{name}\"")))
                        }
                        "pile" => Some((What::Pile, format!("the pile \"{name}\""))),
                        "wall" => Some((What::Wall, format!("the wall \"{name}\""))),
                        _ => None,
                    };
                    if let Some((what, words)) = loads {
                        take(what, words, run, point.station_m);
                    }
                }
                for (name, ring) in &self.used {
                    if ring.contains(p) {
                        take(
                            What::Path,
                            format!("the path \"{name}\""),
                            run,
                            point.station_m,
                        );
                    }
                }
                for place in self.buildings() {
                    if place.area.as_ref().is_some_and(|area| area.contains(p)) {
                        take(
                            What::Building,
                            format!("the building \"{}\"", place.name),
                            run,
                            point.station_m,
                        );
                    }
                }
            }
            // A line, or what is narrower than the places looked at.
            let near = behind(plan, point.station_m, 0.0);
            for place in self.buildings() {
                if let Some(run) = crossing(near, far, &place.line) {
                    take(
                        What::Building,
                        format!("the building \"{}\"", place.name),
                        run,
                        point.station_m,
                    );
                }
            }
        }
        if let Some((rise, station_m)) = steepest {
            let words = format!("a slope of {}", Slope::from_rise_per_run(rise));
            take(What::Slope, words, 0.0, station_m);
        }
        found.into_values().collect()
    }

    fn buildings(&self) -> impl Iterator<Item = &KeepOffPlace> {
        self.keep_offs
            .iter()
            .filter(|k| k.kind == KeepOffKind::Building)
    }

    /// Kind and name of the feature whose finished surface is seen at a place.
    fn feature_at(&self, p: Point, but: usize) -> Option<(&'static str, &str)> {
        let design = self.context.design;
        let facet = design.surface.facet_at(p)?;
        let number = design.parts[design.surface.label(facet) as usize].feature?;
        let feature = &design.features[number];
        (number != but).then_some((feature.kind, feature.name.as_str()))
    }

    /// The water that a wall holds with its face or its back: its name, and where.
    pub(super) fn holds_water(
        &self,
        plan: &WallPlan,
        wall: &WallQuantities,
    ) -> Option<(String, f64)> {
        along(wall).iter().find_map(|point| {
            let places = [
                plan.line.beside(point.station_m, -NEAR_M * plan.side),
                behind(plan, point.station_m, NEAR_M),
            ];
            places.into_iter().find_map(|p| {
                let (kind, name) = self.feature_at(p, wall.feature)?;
                let is_water = WATER.contains(&kind);
                is_water.then(|| (format!("the {kind} \"{name}\""), point.station_m))
            })
        })
    }

    /// Walls above that act together with this one.
    pub(super) fn tiers(
        &self,
        plan: &WallPlan,
        wall: &WallQuantities,
        all: &[WallQuantities],
    ) -> Vec<Tier> {
        let times = self.context.job.limits.get(&limits::TIERS).value;
        let others = all.iter().filter(|o| o.feature != wall.feature);
        others
            .filter_map(|other| {
                let upper = self.context.design.features[other.feature]
                    .laid
                    .wall
                    .as_deref()?;
                let mut worst: Option<Tier> = None;
                for point in &along(wall) {
                    let (Some(front), Some(exposed)) = (point.front_m, point.exposed_m) else {
                        continue;
                    };
                    let foot = plan.line.at(point.station_m);
                    let Some((distance_m, station)) = nearest(foot, upper) else {
                        continue;
                    };
                    let top_m = upper
                        .stretch_at(station)
                        .map_or(f64::NAN, |s| s.top_at(station));
                    let apart_m = times * exposed;
                    let to = upper.line.at(station);
                    if distance_m >= apart_m || top_m <= point.top_m || !is_behind(plan, point, to)
                    {
                        continue;
                    }
                    let combined_m = top_m - front;
                    if worst.as_ref().is_none_or(|w| combined_m > w.combined_m) {
                        worst = Some(Tier {
                            name: other.name.clone(),
                            distance_m,
                            apart_m,
                            combined_m,
                            station_m: point.station_m,
                        });
                    }
                }
                worst
            })
            .collect()
    }

    /// How deep the ground as measured lies below what a wall stands on, where it does so most:
    /// depth, station, and the features whose fill is there.
    pub(super) fn fill_under(
        &self,
        plan: &WallPlan,
        wall: &WallQuantities,
    ) -> Option<(f64, f64, Vec<String>)> {
        let ground = &self.context.terrain.surface;
        let mut worst: Option<(f64, f64, Point)> = None;
        for point in &along(wall) {
            let bottom = point.top_m - point.total_m;
            for share in [0.05, 0.5, 0.95] {
                let offset = share * plan.thickness_m * plan.side;
                let p = plan.line.beside(point.station_m, offset);
                let Some(z) = ground.z_at(p) else { continue };
                let depth = bottom - z;
                if depth >= LEAST_FILL_M && worst.is_none_or(|w| depth > w.0) {
                    worst = Some((depth, point.station_m, p));
                }
            }
        }
        let (depth, station, p) = worst?;
        let before = &self.context.design.features[..wall.feature];
        let has_placed = |feature: &&Feature| {
            let changes = feature.changes.iter();
            let placed = changes.filter(|c| c.rule == Rule::Raise && !c.puts_back);
            placed.flat_map(|c| &c.added).any(|(t, _)| holds(t, p))
        };
        let names = before.iter().filter(has_placed).map(|f| f.name.clone());
        Some((depth, station, names.collect()))
    }
}

/// Fill thinner than this under a base is the roughness of the ground, metres: an inch.
const LEAST_FILL_M: f64 = 0.0254;

/// A wall at its stations, and between them so that none of its length is passed over: straight
/// between two of them, which are breaks of everything that is asked.
fn along(wall: &WallQuantities) -> Vec<WallPoint> {
    let every = (wall.length_m / MOST_ALONG as f64).max(STEP_M);
    let mut all: Vec<WallPoint> = Vec::new();
    for pair in wall.stations.windows(2) {
        let (a, b) = (&pair[0], &pair[1]);
        all.push(a.clone());
        let length = b.station_m - a.station_m;
        let count = (length / every).ceil().max(1.0) as usize;
        for k in 1..count {
            let t = k as f64 / count as f64;
            let mix = |x: f64, y: f64| x + (y - x) * t;
            let both = |x: Option<f64>, y: Option<f64>| Some(mix(x?, y?));
            all.push(WallPoint {
                station_m: mix(a.station_m, b.station_m),
                x_m: mix(a.x_m, b.x_m),
                y_m: mix(a.y_m, b.y_m),
                base_m: a.base_m,
                top_m: mix(a.top_m, b.top_m),
                front_m: both(a.front_m, b.front_m),
                behind_m: both(a.behind_m, b.behind_m),
                exposed_m: both(a.exposed_m, b.exposed_m),
                body_m: mix(a.body_m, b.body_m),
                total_m: mix(a.total_m, b.total_m),
                courses: a.courses,
            });
        }
    }
    all.extend(wall.stations.last().cloned());
    all
}

fn holds([a, b, c]: &[P3; 3], p: Point) -> bool {
    orient_sign(a.p, b.p, p) >= 0 && orient_sign(b.p, c.p, p) >= 0 && orient_sign(c.p, a.p, p) >= 0
}

/// Distance of a place from the foot of a wall, and the station there.
fn nearest(p: Point, wall: &WallPlan) -> Option<(f64, f64)> {
    let stations = wall.line.stations_m();
    let pairs = wall.line.points().windows(2).zip(stations);
    pairs
        .map(|(w, start)| {
            let ([x, y], [px, py]) = (w[1].relative_m(w[0]), p.relative_m(w[0]));
            let length = x.hypot(y);
            let t = ((px * x + py * y) / (length * length)).clamp(0.0, 1.0);
            ((px - x * t).hypot(py - y * t), start + length * t)
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
}

/// True if a place lies on the side of a wall that it holds.
fn is_behind(plan: &WallPlan, point: &WallPoint, p: Point) -> bool {
    let foot = plan.line.at(point.station_m);
    let ([x, y], [px, py]) = (
        behind(plan, point.station_m, 1.0).relative_m(foot),
        p.relative_m(foot),
    );
    x * px + y * py > 0.0
}

/// Where a straight stretch first crosses a line, as a distance from its start, metres.
fn crossing(a: Point, b: Point, line: &[Point]) -> Option<f64> {
    let length = distance_m(a, b);
    let [x, y] = b.relative_m(a);
    let crossed = line.windows(2).filter_map(|w| {
        let ends = [orient_sign(a, b, w[0]), orient_sign(a, b, w[1])];
        let sides = [orient_sign(w[0], w[1], a), orient_sign(w[0], w[1], b)];
        if ends[0] * ends[1] > 0 || sides[0] * sides[1] > 0 {
            return None;
        }
        let ([ux, uy], [vx, vy]) = (w[1].relative_m(w[0]), w[0].relative_m(a));
        let share = (vx * uy - vy * ux) / (x * uy - y * ux);
        share.is_finite().then_some(share * length)
    });
    crossed.reduce(f64::min)
}
