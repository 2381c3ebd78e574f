//! What a side must land before: keep-offs, and the floors of other features.

use crate::design::{Design, KeepOffPlace, Role};
use crate::geom::{Point, distance_m};
use crate::job::KeepOffKind;
use crate::surface::{Plane, Profile, ProfilePoint, Rule};

use super::super::wall::Along;
use super::super::{Context, stream};
use super::blockers::Blockers;
use super::rim::plan;

/// A line that sides must not pass, with the level on the low side of a wall there.
#[derive(Clone, Debug)]
pub(crate) struct Obstacle {
    pub(crate) name: String,
    pub(crate) along: Along,
    /// Closed lines end at their first point.
    pub(crate) line: Vec<Point>,
    pub(crate) is_closed: bool,
    pub(crate) length_m: f64,
    /// The ground along it; of another feature its floor.
    pub(crate) low: Profile,
    /// The other feature.
    pub(crate) feature: Option<usize>,
    /// Short stretches of it, to tell quickly what is far off.
    pub(crate) strips: Vec<Strip>,
}

/// A short stretch of a line over which the level on its low side changes evenly.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Strip {
    /// Its ends, metres along the line.
    pub(crate) from: f64,
    pub(crate) to: f64,
    /// Its middle, metres in the local frame.
    pub(crate) middle: [f64; 2],
    /// Level there, and how much it changes to either end, metres.
    pub(crate) low_m: f64,
    pub(crate) swing_m: f64,
}

/// Strips are no longer than this, metres.
const STRIP_M: f64 = 0.25;

/// The strips of a line: between the breaks of the level along it, and no longer than a hand's
/// reach.
fn strips(line: &[Point], low: &Profile) -> Vec<Strip> {
    let mut strips = Vec::new();
    for pair in low.breaks_with(&Profile::default()).windows(2) {
        let length = pair[1] - pair[0];
        let count = (length / STRIP_M).ceil().max(1.0);
        let mut k = 0.0;
        while k < count {
            let from = pair[0] + length * (k / count);
            let to = pair[0] + length * ((k + 1.0) / count);
            k += 1.0;
            let middle = (from + to) / 2.0;
            let Some(low_m) = low.z_at(middle) else {
                continue;
            };
            let inside = (to - from) * 1.0e-6;
            let swing = |s: f64| low.z_at(s).map_or(0.0, |z| (z - low_m).abs());
            strips.push(Strip {
                from,
                to,
                middle: plan(stream::along(line, middle)),
                low_m,
                swing_m: swing(from + inside).max(swing(to - inside)),
            });
        }
    }
    strips
}

impl Obstacle {
    /// The point at a distance from the start; a closed line goes on round.
    pub(crate) fn at(&self, station_m: f64) -> Point {
        let past = self.is_closed && station_m > self.length_m;
        let turned = if past { self.length_m } else { 0.0 };
        stream::along(&self.line, station_m - turned)
    }
}

fn length_m(line: &[Point]) -> f64 {
    line.windows(2).map(|w| distance_m(w[0], w[1])).sum()
}

/// True for a keep-off that earth must not pass; roots and buried lines are told in other words.
pub(crate) fn stops_earth(kind: KeepOffKind) -> bool {
    !matches!(kind, KeepOffKind::Roots | KeepOffKind::Service)
}

/// A keep-off as an obstacle.
pub(crate) fn of_keep_off(context: &Context, keep_off: &KeepOffPlace) -> Obstacle {
    let low = context.terrain.surface.profile(&keep_off.line);
    Obstacle {
        name: keep_off.name.clone(),
        along: Along::of(keep_off.kind),
        line: keep_off.line.clone(),
        is_closed: keep_off.area.is_some(),
        length_m: length_m(&keep_off.line),
        strips: strips(&keep_off.line, &low),
        low,
        feature: None,
    }
}

/// Lines that soil does not pass on its way to another.
pub(crate) fn blockers(keep_offs: &[KeepOffPlace]) -> Blockers {
    let mut blockers = Blockers::default();
    for keep_off in keep_offs.iter().filter(|k| stops_earth(k.kind)) {
        let points = keep_off.line.iter().map(|&p| plan(p)).collect();
        blockers.add(points, keep_off.area.is_some());
    }
    blockers
}

/// Longest stretch over which a floor is taken as straight along its outline, metres.
const FLOOR_STEP_M: f64 = 0.25;

/// The outline of the floor of a dig or a pad, with the level of the floor along it.
///
/// `None` for what merges with a fill: a bed or a channel drawn along a line runs down a fill on
/// purpose, and the crest of a fill that a higher one runs over is a valley, not a wall.
pub(crate) fn of_feature(design: &Design, number: usize) -> Option<Obstacle> {
    let feature = &design.features[number];
    let laid = &feature.laid;
    let is_dig_or_pad = laid.rule == Rule::Lower && laid.core_is_outline && laid.axis.is_none();
    if !is_dig_or_pad || laid.is_refilled() || laid.core.len() < 3 {
        return None;
    }
    let floors: Vec<(Point, Plane)> = design
        .soil()
        .facets()
        .filter(|&f| {
            let part = &design.parts[design.soil().label(f) as usize];
            part.feature == Some(number) && part.role == Role::Floor
        })
        .map(|f| {
            let [a, b, c] = design.soil().corners(f).map(|c| c.p);
            let middle = Point::new((a.x + b.x + c.x) / 3, (a.y + b.y + c.y) / 3);
            (middle, design.soil().source(f).plane)
        })
        .collect();
    if floors.is_empty() {
        return None;
    }
    let mut line = laid.core.clone();
    line.push(line[0]);
    let mut run = Vec::new();
    let mut walked = 0.0;
    let level = |p: Point| {
        let nearest = floors
            .iter()
            .min_by(|a, b| distance_m(a.0, p).total_cmp(&distance_m(b.0, p)));
        nearest.map_or(f64::NAN, |(_, plane)| plane.z_at(p))
    };
    for w in line.windows(2) {
        let length = distance_m(w[0], w[1]);
        let steps = (length / FLOOR_STEP_M).ceil().max(1.0) as usize;
        let from = usize::from(!run.is_empty());
        for k in from..=steps {
            let s = length * k as f64 / steps as f64;
            let p = stream::along(w, s);
            run.push(ProfilePoint {
                distance_m: walked + s,
                x_m: p.x_m(),
                y_m: p.y_m(),
                z_m: level(p),
            });
        }
        walked += length;
    }
    let low = Profile { runs: vec![run] };
    Some(Obstacle {
        name: feature.name.clone(),
        along: Along::Feature,
        is_closed: true,
        length_m: walked,
        strips: strips(&line, &low),
        line,
        low,
        feature: Some(number),
    })
}
