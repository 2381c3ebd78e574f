//! How the ground falls away from buildings, station by station round every wall.

use crate::design::KeepOffPlace;
use crate::geom::{Point, Ring, distance_m};
use crate::job::limits::{HOUSE_FALL, HOUSE_REACH, PAVING};
use crate::job::{KeepOffKind, Use};
use crate::surface::{ProfilePoint, Rule, Surface};

use super::super::{Checked, Context};
use super::house_words;
use super::yard::{feature_of, used};

/// Between stations along a wall, metres: a foot.
const STATION_M: f64 = 0.3048;

/// Most stations round one building; of a large one they stand farther apart.
const MOST_STATIONS: f64 = 240.0;

/// Ground that begins farther from the wall than this was not measured at the wall, metres.
const AT_WALL_M: f64 = 0.3;

/// Ground that ends this far before the reach ends with it, metres: the rounding of lines.
const SAME_M: f64 = 0.005;

/// A rise on the way lower than this is no dip, metres: what a rod does not tell.
pub(super) const DIP_M: f64 = 0.005;

/// Rays at an outward corner, between those of its two walls.
const FAN: usize = 3;

/// A building with the fall of the ground round it.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct House {
    /// Its keep-off.
    pub name: String,
    /// Stations round it.
    pub stations: Vec<Station>,
    /// Outline, metres in the frame of the surfaces.
    #[serde(skip)]
    pub ring: Ring,
}

/// A place at a wall, looking away from it.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Station {
    /// Along the outline from its first corner, metres.
    pub along_m: f64,
    /// Where it is, absolute coordinates in metres.
    pub at_m: [f64; 2],
    /// The way it looks: east and north, length 1.
    pub towards: [f64; 2],
    /// What stands in the way.
    pub stopped_by: Option<String>,
    /// True if a swale, a channel or a basin takes the water there.
    pub is_drained: bool,
    /// On the measured ground; `None` without ground there.
    pub before: Option<Fall>,
    /// On the finished surface.
    pub after: Option<Fall>,
    #[serde(skip)]
    pub(super) wall: Point,
    /// A wall looks square to itself; at a corner rays fan out.
    #[serde(skip)]
    pub(super) is_fan: bool,
    /// Paving on the way: name, where it begins and ends, and its least fall, metres.
    #[serde(skip)]
    pub(super) paved: Option<(String, f64, f64)>,
}

/// How the ground falls from a wall.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Fall {
    /// From the wall to the end of the reach, metres; below zero it runs to the wall.
    pub fall_m: f64,
    /// How far it is to fall, metres: ten feet, or to what stands in the way.
    pub reach_m: f64,
    /// How much it is to fall over that, metres.
    pub needed_m: f64,
    /// How far there is ground, metres.
    pub known_m: f64,
    /// The deepest dip on the way: how far from the wall, and how deep.
    pub dip_m: Option<[f64; 2]>,
    /// Rise over run of the paving on the way, away from the wall; below zero to it.
    pub paved_rise_per_run: Option<f64>,
}

pub(super) fn check(context: &Context, out: &mut Checked) {
    let keep_offs = &out.keep_offs;
    let is_building = |k: &&KeepOffPlace| k.kind == KeepOffKind::Building;
    let houses: Vec<House> = keep_offs
        .iter()
        .filter(is_building)
        .filter_map(|place| {
            let ring = place.area.clone()?;
            Some(House {
                name: place.name.clone(),
                stations: stations(context, keep_offs, place, &ring),
                ring,
            })
        })
        .collect();
    house_words::say(context, &houses, out);
    out.drainage.houses = houses;
}

/// What a ray may meet.
struct Around<'a> {
    context: &'a Context<'a>,
    /// Other keep-offs that end the way: name, line, true if water may not pass.
    others: Vec<&'a KeepOffPlace>,
    swales: Vec<(String, Ring)>,
    paved: Vec<(String, Ring)>,
}

fn stations(
    context: &Context,
    keep_offs: &[KeepOffPlace],
    own: &KeepOffPlace,
    ring: &Ring,
) -> Vec<Station> {
    let is_other = |k: &&KeepOffPlace| {
        matches!(k.kind, KeepOffKind::Boundary | KeepOffKind::Building) && k.name != own.name
    };
    let around = Around {
        context,
        others: keep_offs.iter().filter(is_other).collect(),
        swales: used(context, Use::Swale),
        paved: used(context, Use::Paved),
    };
    let corners = ring.corners();
    let n = corners.len();
    let step = STATION_M.max(ring.perimeter_m() / MOST_STATIONS);
    // Rings run counter-clockwise, so away from the wall is to the right.
    let out_of = |k: usize| {
        let (a, b) = (corners[k % n], corners[(k + 1) % n]);
        let [ex, ey] = b.relative_m(a);
        let length = ex.hypot(ey);
        [ey / length, -ex / length]
    };
    let mut found = Vec::new();
    let mut start = 0.0;
    for k in 0..n {
        let (a, b) = (corners[k], corners[(k + 1) % n]);
        let length = distance_m(a, b);
        let out = out_of(k);
        // In the middle of equal stretches, so that both ends of a wall are alike.
        let count = (length / step).round().max(1.0) as usize;
        for i in 0..count {
            let share = (i as f64 + 0.5) / count as f64;
            let [ex, ey] = b.relative_m(a);
            let foot = Point::from_m(share * ex, share * ey);
            let wall = Point::new(a.x + foot.x, a.y + foot.y);
            found.push(around.station(wall, out, start + share * length, false));
        }
        let next = out_of(k + 1);
        let turn = out[0] * next[1] - out[1] * next[0];
        if turn > 1.0e-6 {
            let angle = turn.atan2(out[0] * next[0] + out[1] * next[1]);
            for i in 1..=FAN {
                let (sin, cos) = (angle * i as f64 / (FAN + 1) as f64).sin_cos();
                let towards = [out[0] * cos - out[1] * sin, out[0] * sin + out[1] * cos];
                found.push(around.station(b, towards, start + length, true));
            }
        }
        start += length;
    }
    found
}

impl Around<'_> {
    fn station(&self, wall: Point, towards: [f64; 2], along_m: f64, is_fan: bool) -> Station {
        let limits = &self.context.job.limits;
        let (fall, reach) = (
            limits.get(&HOUSE_FALL).value,
            limits.get(&HOUSE_REACH).value,
        );
        let (stop_m, stopped_by) = self.obstacle(wall, towards, reach);
        let ahead_of = |surface: &Surface| -> Vec<ProfilePoint> {
            let end = ahead(wall, towards, stop_m);
            let run = surface.profile(&[wall, end]).runs.into_iter().next();
            run.filter(|run| run[0].distance_m <= AT_WALL_M)
                .unwrap_or_default()
        };
        let (ground, design) = (&self.context.terrain.surface, &self.context.design.surface);
        let (mut before, mut after) = (ahead_of(ground), ahead_of(design));
        let (before_m, _) = self.drain(ground, &before, stop_m);
        let (after_m, drain) = self.drain(design, &after, stop_m);
        cut_off(&mut before, before_m);
        cut_off(&mut after, after_m);
        let paved = self.paving(wall, towards, after_m);
        let on_paving = paved.as_ref().map_or(0.0, |(_, from, to)| to - from);
        let paving = limits.get(&PAVING).value.min(fall / reach);
        let fall_over = |run: &[ProfilePoint], reach_m: f64| {
            let slope = paved.as_ref().and_then(|(_, from, to)| {
                let (high, low) = (level_at(run, *from)?, level_at(run, *to)?);
                Some((high - low) / (to - from))
            });
            let bare = (reach_m - on_paving).max(0.0);
            let needed_m = fall / reach * bare + paving * on_paving;
            (run.len() > 1).then(|| fall_of(run, reach_m, needed_m, slope))
        };
        Station {
            along_m,
            at_m: self.context.absolute(wall),
            towards,
            is_drained: drain.is_some(),
            stopped_by: drain.or(stopped_by),
            before: fall_over(&before, before_m),
            after: fall_over(&after, after_m),
            wall,
            is_fan,
            paved,
        }
    }

    /// How far it is to a line of property or another building, and its name.
    fn obstacle(&self, wall: Point, towards: [f64; 2], reach: f64) -> (f64, Option<String>) {
        let mut nearest = (reach, None);
        for other in &self.others {
            for pair in other.line.windows(2) {
                if let Some(far) = crossing(wall, towards, pair[0], pair[1])
                    && far < nearest.0
                {
                    nearest = (far, Some(other.name.clone()));
                }
            }
        }
        nearest
    }

    /// How far it is to what takes the water: the lowest place of a swale, the edge of a basin,
    /// stream or channel.
    fn drain(&self, surface: &Surface, run: &[ProfilePoint], reach: f64) -> (f64, Option<String>) {
        let mut nearest = (reach, None);
        for (name, ring) in &self.swales {
            let inside = run
                .iter()
                .filter(|p| ring.contains(Point::from_m(p.x_m, p.y_m)));
            let lowest = inside.min_by(|a, b| a.z_m.total_cmp(&b.z_m));
            if let Some(p) = lowest.filter(|p| p.distance_m < nearest.0) {
                nearest = (p.distance_m, Some(name.clone()));
            }
        }
        let design = self.context.design;
        for pair in run.windows(2) {
            let middle = Point::from_m(
                (pair[0].x_m + pair[1].x_m) / 2.0,
                (pair[0].y_m + pair[1].y_m) / 2.0,
            );
            let facet = surface.facet_at(middle);
            let feature = facet.and_then(|f| feature_of(design, surface, f));
            let Some(feature) = feature.map(|f| &design.features[f]) else {
                continue;
            };
            let takes = matches!(feature.kind, "basin" | "stream" | "channel");
            if takes && feature.laid.rule == Rule::Lower && pair[0].distance_m < nearest.0 {
                nearest = (pair[0].distance_m, Some(feature.name.clone()));
            }
        }
        nearest
    }

    /// The paving on the way: its name, where it begins and where it ends.
    fn paving(&self, wall: Point, towards: [f64; 2], reach: f64) -> Option<(String, f64, f64)> {
        self.paved.iter().find_map(|(name, ring)| {
            let mut breaks: Vec<f64> = ring
                .sides()
                .filter_map(|(a, b)| crossing(wall, towards, a, b))
                .filter(|far| *far < reach)
                .collect();
            breaks.extend([0.0, reach]);
            breaks.sort_unstable_by(f64::total_cmp);
            let mut inside = breaks.windows(2).filter(|pair| {
                pair[1] - pair[0] > SAME_M
                    && ring.contains(ahead(wall, towards, (pair[0] + pair[1]) / 2.0))
            });
            inside.next().map(|pair| (name.clone(), pair[0], pair[1]))
        })
    }
}

/// The place so far ahead.
pub(super) fn ahead(from: Point, [x, y]: [f64; 2], far_m: f64) -> Point {
    let step = Point::from_m(x * far_m, y * far_m);
    Point::new(from.x + step.x, from.y + step.y)
}

/// How far ahead a line is crossed; nothing at the start itself.
fn crossing(from: Point, [dx, dy]: [f64; 2], a: Point, b: Point) -> Option<f64> {
    let ([ax, ay], [ex, ey]) = (a.relative_m(from), b.relative_m(a));
    let across = dx * ey - dy * ex;
    if across == 0.0 {
        return None;
    }
    let far = (ax * ey - ay * ex) / across;
    let share = (ax * dy - ay * dx) / across;
    ((0.0..=1.0).contains(&share) && far > SAME_M).then_some(far)
}

/// Keeps what of a profile lies within a distance.
fn cut_off(run: &mut Vec<ProfilePoint>, far_m: f64) {
    let Some(k) = run.iter().position(|p| p.distance_m > far_m) else {
        return;
    };
    let Some(&p) = k.checked_sub(1).map(|k| &run[k]) else {
        run.clear();
        return;
    };
    let q = run[k];
    let share = (far_m - p.distance_m) / (q.distance_m - p.distance_m);
    let mix = |a: f64, b: f64| a + share * (b - a);
    run.truncate(k);
    run.push(ProfilePoint {
        distance_m: far_m,
        x_m: mix(p.x_m, q.x_m),
        y_m: mix(p.y_m, q.y_m),
        z_m: mix(p.z_m, q.z_m),
    });
}

fn level_at(run: &[ProfilePoint], at_m: f64) -> Option<f64> {
    let near = |p: &ProfilePoint| (p.distance_m - at_m).abs() <= AT_WALL_M;
    let pair = run.windows(2).find(|w| {
        w[0].distance_m <= at_m && at_m <= w[1].distance_m && w[1].distance_m > w[0].distance_m
    });
    match pair {
        Some([p, q]) => {
            let share = (at_m - p.distance_m) / (q.distance_m - p.distance_m);
            Some(p.z_m + share * (q.z_m - p.z_m))
        }
        _ => run.iter().find(|p| near(p)).map(|p| p.z_m),
    }
}

fn fall_of(
    run: &[ProfilePoint],
    reach_m: f64,
    needed_m: f64,
    paved_rise_per_run: Option<f64>,
) -> Fall {
    let (first, last) = (run[0], run[run.len() - 1]);
    let known_m = match last.distance_m >= reach_m - SAME_M {
        true => reach_m,
        false => last.distance_m,
    };
    // How high the ground rises again behind each place.
    let mut highest = f64::NEG_INFINITY;
    let mut dip: Option<[f64; 2]> = None;
    for p in run.iter().rev() {
        highest = highest.max(p.z_m);
        let depth = highest - p.z_m;
        if depth > DIP_M && dip.is_none_or(|[_, most]| depth > most) {
            dip = Some([p.distance_m, depth]);
        }
    }
    // Ground that rises from the wall on is no dip but runs to the wall.
    let dip_m = dip.filter(|[at, _]| *at > AT_WALL_M || last.z_m < first.z_m);
    Fall {
        fall_m: first.z_m - last.z_m,
        reach_m,
        needed_m,
        known_m,
        dip_m,
        paved_rise_per_run,
    }
}
