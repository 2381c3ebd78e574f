//! Where a side has no room before a keep-off: the stretch that needs a wall.
//!
//! The wall stands on the line of the keep-off. Along that line ground and finished surface are
//! compared at every break of both; where they differ the soil has to be held, and the
//! difference is the height left over. So any shape of the two lines is the same case.

use crate::design::{Feature, KeepOffPlace};
use crate::geom::{Point, Ring, distance_m, orient_sign, triangulate_rings};
use crate::surface::{Within, cut_fill_within};

use super::stream::along;
use super::{Context, Finding, Measure, Severity};

/// A point of a wall.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct WallStation {
    /// Distance from the start of the wall, metres.
    pub station_m: f64,
    /// East, metres, absolute.
    pub x_m: f64,
    /// North, metres, absolute.
    pub y_m: f64,
    /// Ground at the line, metres.
    pub ground_m: f64,
    /// Finished surface at the line, metres.
    pub finished_m: f64,
    /// Height to hold, metres.
    pub height_m: f64,
}

/// A stretch of wall that is needed.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Wall {
    /// The feature whose side has no room.
    pub feature: String,
    /// The keep-off it would pass.
    pub keep_off: String,
    /// True if it holds fill, false if it holds the ground beside a cut.
    pub holds_fill: bool,
    /// Length along the keep-off, metres.
    pub length_m: f64,
    /// Greatest height to hold, metres.
    pub max_height_m: f64,
    /// Face area above the lower side, m2.
    pub face_m2: f64,
    /// Height from the bottom of the footing at the highest place, metres: an eighth of the
    /// height is buried (common practice, no source).
    pub total_height_m: f64,
    /// True if the design stops there in an upright face, false if it passes the line.
    pub is_in_design: bool,
    /// Volume of the feature beyond the line, m3; `None` if the line does not say which side is
    /// beyond.
    pub beyond_m3: Option<f64>,
    /// Heights along it.
    pub stations: Vec<WallStation>,
}

/// A difference lower than this needs no wall, metres: half an inch.
pub(super) const LOWEST_WALL_M: f64 = 0.0127;

/// Stretches closer than this are one wall, metres: about one wall unit.
const JOINED_M: f64 = 0.4;

/// Share of a wall's height that is buried: 1 in for 8 in (common practice, no source).
const BURIED_SHARE: f64 = 1.0 / 8.0;

/// Shortest and smallest wall worth a word, metres and square metres.
const SHORTEST_WALL_M: f64 = 0.15;
const SMALLEST_WALL_M2: f64 = 0.01;

/// One break of the keep-off line with both heights.
struct Step {
    station: f64,
    ground: f64,
    finished: f64,
}

pub(super) fn walls_along(context: &Context, keep_off: &KeepOffPlace) -> Vec<Wall> {
    let (terrain, design) = (context.terrain, context.design);
    let ground = terrain.surface.profile(&keep_off.line);
    let finished = design.surface.profile(&keep_off.line);
    let breaks = ground.breaks_with(&finished);
    let step = |station: f64| {
        Some(Step {
            station,
            ground: ground.z_at(station)?,
            finished: finished.z_at(station)?,
        })
    };
    // Stretches by the feature whose facet lies there.
    let mut runs: Vec<(usize, Vec<[Step; 2]>)> = Vec::new();
    for pair in breaks.windows(2) {
        let middle = (pair[0] + pair[1]) / 2.0;
        let Some(at) = step(middle) else { continue };
        if !at.differs() {
            continue;
        }
        let place = along(&keep_off.line, middle);
        let owner = design
            .surface
            .facet_at(place)
            .and_then(|f| design.parts[design.surface.label(f) as usize].feature);
        if let (Some(owner), Some(from), Some(to)) = (owner, step(pair[0]), step(pair[1])) {
            join(&mut runs, owner, [from, to]);
        }
    }
    let mut walls: Vec<Wall> = runs
        .into_iter()
        .filter_map(|(owner, steps)| wall(context, keep_off, owner, &steps, false))
        .collect();
    for (owner, feature) in design.features.iter().enumerate() {
        let stops = feature.stops.iter();
        for stop in stops.filter(|s| s.keep_off == keep_off.name) {
            let mut runs = Vec::new();
            for pair in stop.stations.windows(2) {
                let [from, to] = [pair[0], pair[1]].map(|s| Step {
                    station: s.station_m,
                    ground: s.before_m,
                    finished: s.shape_m,
                });
                if from.differs() || to.differs() {
                    join(&mut runs, owner, [from, to]);
                }
            }
            let found = runs.into_iter();
            walls.extend(
                found.filter_map(|(owner, steps)| wall(context, keep_off, owner, &steps, true)),
            );
        }
    }
    walls
}

impl Step {
    fn differs(&self) -> bool {
        (self.finished - self.ground).abs() >= 1.0e-6
    }
}

/// Adds a stretch to the last run if it goes on there, for the same feature and holding the same
/// side.
fn join(runs: &mut Vec<(usize, Vec<[Step; 2]>)>, owner: usize, [from, to]: [Step; 2]) {
    let rise = |[a, b]: &[Step; 2]| a.finished + b.finished - a.ground - b.ground;
    let next = [from, to];
    match runs.last_mut() {
        Some((last, steps))
            if *last == owner
                && steps.last().is_some_and(|before| {
                    next[0].station - before[1].station <= JOINED_M
                        && (rise(before) > 0.0) == (rise(&next) > 0.0)
                }) =>
        {
            steps.push(next);
        }
        _ => runs.push((owner, vec![next])),
    }
}

fn wall(
    context: &Context,
    keep_off: &KeepOffPlace,
    number: usize,
    steps: &[[Step; 2]],
    is_in_design: bool,
) -> Option<Wall> {
    let feature = &context.design.features[number];
    let height = |s: &Step| (s.finished - s.ground).abs();
    let start = steps.first()?[0].station;
    let end = steps.last()?[1].station;
    let max_height_m = steps.iter().flatten().map(height).fold(0.0, f64::max);
    if max_height_m < LOWEST_WALL_M || end - start < SHORTEST_WALL_M {
        return None;
    }
    let face_m2: f64 = steps
        .iter()
        .map(|[a, b]| (height(a) + height(b)) / 2.0 * (b.station - a.station))
        .sum();
    if face_m2 < SMALLEST_WALL_M2 {
        return None;
    }
    let mut stations: Vec<WallStation> = Vec::new();
    for s in steps.iter().flatten() {
        let [x_m, y_m] = context.absolute(along(&keep_off.line, s.station));
        let station_m = s.station - start;
        if stations
            .last()
            .is_some_and(|last| station_m - last.station_m < 1.0e-6)
        {
            continue;
        }
        stations.push(WallStation {
            station_m,
            x_m,
            y_m,
            ground_m: s.ground,
            finished_m: s.finished,
            height_m: height(s),
        });
    }
    Some(Wall {
        feature: feature.name.clone(),
        keep_off: keep_off.name.clone(),
        holds_fill: steps[0][0].finished + steps[0][1].finished
            > steps[0][0].ground + steps[0][1].ground,
        length_m: end - start,
        max_height_m,
        face_m2,
        total_height_m: max_height_m * (1.0 + BURIED_SHARE),
        is_in_design,
        beyond_m3: if is_in_design {
            Some(0.0)
        } else {
            beyond(context, keep_off, feature, number)
        },
        stations,
    })
}

/// Volume of a feature on the far side of a keep-off.
fn beyond(
    context: &Context,
    keep_off: &KeepOffPlace,
    feature: &Feature,
    number: usize,
) -> Option<f64> {
    let area = match &keep_off.area {
        Some(area) => area.clone(),
        None => far_side(context, &keep_off.line, feature.laid.core.first().copied()?)?,
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

pub(super) fn wall_finding(context: &Context, keep_off: &KeepOffPlace, wall: &Wall) -> Finding {
    let show = context.show();
    let limit = context.job.limits.wall_height_m;
    let is_over = wall.total_height_m > limit;
    let is_own = context
        .job
        .limits
        .set_by_user
        .iter()
        .any(|k| k == "wall_height");
    let (side, state) = if wall.holds_fill {
        ("has no room to slope down", "tamped")
    } else {
        ("has no room to slope up", "bank")
    };
    let beyond = match wall.beyond_m3 {
        _ if wall.is_in_design => "; the design stops there in an upright face".to_owned(),
        Some(volume) => format!(
            "; as drawn, {} {state} lies past the line in all",
            show.volume(volume)
        ),
        None => "; how much lies past the line is not computed".to_owned(),
    };
    let over = if is_over {
        format!(
            ", {} from the bottom of its footing, over {} {}",
            show.length(wall.total_height_m),
            if is_own {
                "your limit of"
            } else {
                "the usual limit of"
            },
            show.length(limit)
        )
    } else {
        String::new()
    };
    let first = wall.stations.first();
    Finding {
        feature: Some(wall.feature.clone()),
        place: format!(
            "along \"{}\" from {} to {}",
            keep_off.name,
            first.map(|s| show.place(s.x_m, s.y_m)).unwrap_or_default(),
            wall.stations
                .last()
                .map(|s| show.place(s.x_m, s.y_m))
                .unwrap_or_default()
        ),
        at_m: first.map(|s| [s.x_m, s.y_m]),
        measured: Some(Measure {
            value: wall.max_height_m,
            unit: "m",
        }),
        limit: Some(Measure {
            value: limit,
            unit: "m",
        }),
        limit_from: if is_own {
            "your limit, from the bottom of the footing".to_owned()
        } else {
            "4 ft from the bottom of the footing (IRC R105.2 and IBC 105.2; many places say less); yours to change in [limits]".to_owned()
        },
        cure: format!(
            "build a wall there (about {} of face), or move the feature, lower it, or make its side steeper if your limit leaves room",
            show.area(wall.face_m2)
        ),
        caution: Some(4),
        ..Finding::new(
            "no-room",
            Severity::Warn,
            format!(
                "{} {side} before \"{}\": a wall is needed over {}, up to {} high{over}, {} of face{beyond}",
                wall.feature,
                keep_off.name,
                show.length(wall.length_m),
                show.length(wall.max_height_m),
                show.area(wall.face_m2)
            ),
        )
    }
}
