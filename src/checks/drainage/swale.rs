//! Whether swales beside a building fall along their length.

use crate::geom::{Point, Ring, distance_m};
use crate::job::limits::{HOUSE_REACH, SWALE};
use crate::job::{KeepOffKind, Use};
use crate::surface::Surface;

use super::super::{Checked, Context, Finding, Measure, Severity};
use super::yard::{distance_to_m, used};

/// Cross-sections a swale is looked at by.
const SECTIONS: usize = 24;

/// A swale: its name, and the places of its lowest line from one end to the other with levels.
struct Swale {
    name: String,
    line: Vec<(Point, f64)>,
}

pub(super) fn check(context: &Context, out: &mut Checked) {
    let reach_m = context.job.limits.get(&HOUSE_REACH).value;
    let buildings: Vec<Ring> = out
        .keep_offs
        .iter()
        .filter(|k| k.kind == KeepOffKind::Building)
        .filter_map(|k| k.area.clone())
        .collect();
    let surface = &context.design.surface;
    let drawn = used(context, Use::Swale)
        .into_iter()
        .filter_map(|(name, ring)| {
            let line = lowest_line(surface, &ring);
            (line.len() > 1).then_some(Swale { name, line })
        });
    let channels = context.design.features.iter().filter_map(|feature| {
        let axis = feature.laid.axis.as_ref()?;
        (feature.kind == "channel").then(|| Swale {
            name: feature.name.clone(),
            line: axis
                .bed
                .iter()
                .map(|&(at, z)| (super::super::stream::along(&axis.line, at), z))
                .collect(),
        })
    });
    // Two lines are nearest at an end of one of them.
    let is_beside = |ring: &Ring, a: Point, b: Point| {
        let mut corners = ring.corners().iter();
        corners.any(|&p| distance_to_m(p, (a, b)) <= reach_m)
            || ring
                .sides()
                .any(|side| distance_to_m(a, side).min(distance_to_m(b, side)) <= reach_m)
    };
    let is_near = |swale: &Swale| {
        let mut stretches = swale.line.windows(2);
        stretches.any(|pair| {
            let mut rings = buildings.iter();
            rings.any(|ring| is_beside(ring, pair[0].0, pair[1].0))
        })
    };
    let near: Vec<Swale> = drawn.chain(channels).filter(is_near).collect();
    if near.is_empty() {
        let show = context.show();
        out.missing(
            "DR-3",
            format!(
                "no [[area]] use = \"swale\" and no channel within {} of a building",
                show.length(reach_m)
            ),
        );
    }
    for swale in near {
        let words = along(context, &swale, out);
        out.looked("DR-3", words);
    }
}

fn along(context: &Context, swale: &Swale, out: &mut Checked) -> String {
    let show = context.show();
    let limit = context.job.limits.get(&SWALE);
    let (first, last) = (swale.line[0], swale.line[swale.line.len() - 1]);
    let length: f64 = swale
        .line
        .windows(2)
        .map(|pair| distance_m(pair[0].0, pair[1].0))
        .sum();
    let fall = (first.1 - last.1).abs();
    let slope = fall / length;
    let low_end = if first.1 < last.1 { first.0 } else { last.0 };
    let words = format!(
        "{}: falls {} over {}, {:.1} %",
        swale.name,
        show.level_with_unit(fall),
        show.length(length),
        slope * 100.0
    );
    // A share of the limit for heights that are rounded to the lattice of the survey.
    if slope < limit.value * (1.0 - 1.0e-6) {
        let needed = limit.value * length;
        out.find(Finding {
            ids: &["DR-3"],
            place: context.place(low_end),
            at_m: Some(context.absolute(low_end)),
            measured: Some(Measure {
                value: slope,
                unit: "rise_per_run",
            }),
            limit: Some(Measure {
                value: limit.value,
                unit: "rise_per_run",
            }),
            limit_from: limit.from,
            cure: format!(
                "cut its low end {} deeper, and its bottom evenly to there",
                show.level_with_unit(needed - fall)
            ),
            ..Finding::new(
                "swale",
                Severity::Warn,
                format!(
                    "{words}; beside a building it is to fall {}, {:.1} %",
                    show.level_with_unit(needed),
                    limit.value * 100.0
                ),
            )
        });
    }
    words
}

/// The lowest place of every section across an area, along the line of its two corners that lie
/// farthest apart.
fn lowest_line(surface: &Surface, ring: &Ring) -> Vec<(Point, f64)> {
    let corners = ring.corners();
    let mut ends = (0.0, corners[0], corners[0]);
    for (k, &a) in corners.iter().enumerate() {
        for &b in &corners[k + 1..] {
            let far = distance_m(a, b);
            if far > ends.0 {
                ends = (far, a, b);
            }
        }
    }
    let (length, a, b) = ends;
    let [ex, ey] = b.relative_m(a).map(|d| d / length);
    (0..SECTIONS)
        .filter_map(|k| {
            let at = (k as f64 + 0.5) / SECTIONS as f64 * length;
            let beside = |side: f64| {
                let step = Point::from_m(at * ex - side * ey, at * ey + side * ex);
                Point::new(a.x + step.x, a.y + step.y)
            };
            let profile = surface.profile(&[beside(-length), beside(length)]);
            let points = profile.runs.into_iter().flatten();
            points
                .map(|p| (Point::from_m(p.x_m, p.y_m), p.z_m))
                .filter(|(p, _)| ring.contains(*p))
                .min_by(|a, b| a.1.total_cmp(&b.1))
        })
        .collect()
}
