//! Tops of cuts and toes of fills beside property lines, as drawn.

use crate::design::{KeepOffPlace, Role};
use crate::geom::Point;
use crate::job::{KeepOffKind, limits};
use crate::surface::Surface;
use crate::terrain::GROUND;

use super::super::{Checked, Finding, Measure, Severity};
use super::held::off_m;
use super::{Yard, is_wall, plan};

/// Where a side of a feature meets the ground.
struct Daylight {
    owner: usize,
    is_fill: bool,
    /// Ends of a straight piece, metres in the local frame, with levels.
    ends: [[f64; 3]; 2],
}

/// The place of a side that lies nearest to a line, against what is asked for there.
struct Near {
    at: [f64; 3],
    off_m: f64,
    asked_m: f64,
    height_m: f64,
}

/// Sides lower than this have no top and toe, metres.
const LOWEST_SIDE_M: f64 = 0.05;

pub(super) fn check(yard: &Yard, keep_offs: &[KeepOffPlace], out: &mut Checked) {
    let context = yard.context;
    let is_boundary = |k: &&KeepOffPlace| k.kind == KeepOffKind::Boundary;
    if !keep_offs.iter().any(|k| is_boundary(&k)) {
        for id in ["GR-6", "SV-8"] {
            out.missing(id, "the job draws no property line");
        }
        return;
    }
    let limits = &context.job.limits;
    let [top, toe, least] = [
        &limits::TOP_SETBACK,
        &limits::TOE_SETBACK,
        &limits::LINE_SETBACK,
    ]
    .map(|key| limits.get(key));
    let show = context.show();
    let daylight = daylight(yard);
    let (mut found, mut walls) = (0, 0);
    for keep_off in keep_offs.iter().filter(is_boundary) {
        let line: Vec<[f64; 2]> = keep_off.line.iter().map(|&p| plan(p)).collect();
        for (owner, feature) in context.design.features.iter().enumerate() {
            // Where it passes the line, the wall it needs says so.
            let has_wall =
                |w: &super::Wall| w.feature == feature.name && w.keep_off == keep_off.name;
            if out.walls.iter().any(has_wall) {
                walls += 1;
                continue;
            }
            for is_fill in [true, false] {
                let share = if is_fill { toe.value } else { top.value };
                let near = daylight
                    .iter()
                    .filter(|d| d.owner == owner && d.is_fill == is_fill)
                    .flat_map(|d| nearest(yard, d, &line, share, least.value))
                    .filter(|near| near.off_m < near.asked_m - 1.0e-6)
                    .max_by(|a, b| (a.asked_m - a.off_m).total_cmp(&(b.asked_m - b.off_m)));
                let Some(near) = near else { continue };
                found += 1;
                let place = Point::from_m(near.at[0], near.at[1]);
                let (what, part, from) = if is_fill {
                    ("toe of the fill", "half of it at the toe", &toe.from)
                } else {
                    ("top of the cut", "a fifth of it at the top", &top.from)
                };
                let by_height = share * near.height_m > least.value;
                out.find(Finding {
                    ids: &["GR-6", "SV-8"],
                    feature: Some(feature.name.clone()),
                    place: context.place(place),
                    at_m: Some(context.absolute(place)),
                    measured: Some(Measure {
                        value: near.off_m,
                        unit: "m",
                    }),
                    limit: Some(Measure {
                        value: near.asked_m,
                        unit: "m",
                    }),
                    limit_from: if by_height {
                        from.clone()
                    } else {
                        least.from.clone()
                    },
                    cure: format!(
                        "move it {} away from the line, or make the slope lower; and have the line staked by a licensed surveyor first: it is here as it was drawn",
                        show.length(near.asked_m - near.off_m)
                    ),
                    ..Finding::new(
                        "setback",
                        Severity::Warn,
                        format!(
                            "{}: the {what} comes to {} from \"{}\" as drawn; the slope is {} high there, and {} is asked for ({})",
                            feature.name,
                            show.length(near.off_m),
                            keep_off.name,
                            show.length(near.height_m),
                            show.length(near.asked_m),
                            if by_height { part } else { "the least" }
                        ),
                    )
                });
            }
        }
    }
    let words = format!(
        "tops and toes of all slopes against the property lines as drawn: {found} nearer than asked for, {walls} that pass a line"
    );
    out.looked("GR-6", words.clone());
    out.looked(
        "SV-8",
        format!("{words}; where a property line lies is for a licensed surveyor"),
    );
}

/// Where sides meet the ground on the finished surface.
fn daylight(yard: &Yard) -> Vec<Daylight> {
    let design = yard.context.design;
    let surface = &design.surface;
    let ground = &yard.context.terrain.surface;
    let mut found = Vec::new();
    for f in surface.facets() {
        let part = &design.parts[surface.label(f) as usize];
        let (Role::Side | Role::Face, Some(owner)) = (part.role, part.feature) else {
            continue;
        };
        if is_wall(design, owner) {
            continue;
        }
        let corners = surface.corners(f);
        for (k, n) in surface.neighbours(f).into_iter().enumerate() {
            if n == Surface::NONE || surface.label(n) != GROUND {
                continue;
            }
            let [a, b, c] = [0, 1, 2].map(|j| corners[(k + j) % 3]);
            // The corner of the facet off the daylight line tells on which side of the ground it is.
            let Some(z) = ground.z_at(c.p) else { continue };
            found.push(Daylight {
                owner,
                is_fill: c.z > z,
                ends: [a, b].map(|e| [e.p.x_m(), e.p.y_m(), e.z]),
            });
        }
    }
    found
}

/// Both ends and the place nearest to a line, each with what is asked for there.
fn nearest(
    yard: &Yard,
    daylight: &Daylight,
    line: &[[f64; 2]],
    share: f64,
    least_m: f64,
) -> Vec<Near> {
    let [a, b] = daylight.ends;
    let mut places = vec![a, b];
    // The place nearest to a corner of the line.
    for p in line {
        let [dx, dy] = [b[0] - a[0], b[1] - a[1]];
        let square = dx * dx + dy * dy;
        if square > 0.0 {
            let t = (((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / square).clamp(0.0, 1.0);
            places.push([0, 1, 2].map(|axis| a[axis] + t * (b[axis] - a[axis])));
        }
    }
    places
        .into_iter()
        .filter_map(|at| {
            let p = [at[0], at[1]];
            let off_m = line
                .windows(2)
                .map(|w| off_m(p, w[0], w[1]))
                .fold(f64::INFINITY, f64::min);
            let height_m = height_m(yard, daylight, at)?;
            let asked_m = (share * height_m).max(least_m);
            (height_m >= LOWEST_SIDE_M).then_some(Near {
                at,
                off_m,
                asked_m,
                height_m,
            })
        })
        .collect()
}

/// Height of the slope between its rim and a place where it meets the ground, metres.
fn height_m(yard: &Yard, daylight: &Daylight, at: [f64; 3]) -> Option<f64> {
    let pieces = yard.rims[daylight.owner].of(daylight.is_fill);
    let p = [at[0], at[1]];
    let nearest = pieces
        .iter()
        .map(|piece| {
            let [a, b] = [piece.from, piece.to];
            let off = off_m(p, [a[0], a[1]], [b[0], b[1]]);
            let z = if off_m(p, [a[0], a[1]], [a[0], a[1]]) < off_m(p, [b[0], b[1]], [b[0], b[1]]) {
                a[2]
            } else {
                b[2]
            };
            (off, z)
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))?;
    Some((nearest.1 - at[2]).abs())
}
