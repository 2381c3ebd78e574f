//! Stream beds that stand above the surface they should be dug into, and shapes that run over
//! the edge of the survey.

use crate::geom::{Point, distance_m};
use crate::surface::Rule;

use super::{Context, Finding, Measure, Severity};

/// A bed this far above the surface is in the air, metres.
const IN_THE_AIR_M: f64 = 0.003;

pub(super) fn check(context: &Context) -> Vec<Finding> {
    let mut findings = Vec::new();
    for feature in &context.design.features {
        if let Some(axis) = &feature.laid.axis {
            findings.extend(bed_in_the_air(context, &feature.name, axis));
        }
        let length: f64 = feature
            .runs_out
            .iter()
            .map(|[a, b]| distance_m(a.p, b.p))
            .fold(0.0, |sum, length| sum + length);
        if length > 0.0 {
            let at = feature.runs_out[0][0].p;
            let what = match feature.laid.rule {
                Rule::Lower => "is cut into",
                Rule::Raise => "covers",
            };
            findings.push(Finding {
                ids: &["SV-4"],
                feature: Some(feature.name.clone()),
                place: context.place(at),
                at_m: Some(context.absolute(at)),
                measured: Some(Measure { value: length, unit: "m" }),
                cure: "survey further out, move the feature, make its sides steeper, or end it with a wall".to_owned(),
                ..Finding::new(
                    "off-survey",
                    Severity::Stop,
                    format!(
                        "{} does not meet the ground inside the survey: it {what} the edge of the data over {}; beyond it nothing is counted",
                        feature.name,
                        context.show().length(length)
                    ),
                )
            });
        }
    }
    findings
}

fn bed_in_the_air(context: &Context, name: &str, axis: &crate::design::Axis) -> Option<Finding> {
    let mut stretches: Vec<[f64; 2]> = Vec::new();
    let mut worst: (f64, Option<Point>) = (0.0, None);
    for pair in axis.bed.windows(2) {
        let ((s0, z0), (s1, z1)) = (pair[0], pair[1]);
        let length = s1 - s0;
        if length <= 0.0 {
            continue;
        }
        // Looked at every quarter of a metre, on a very long line 2,000 times.
        let steps = (length / 0.25).ceil().clamp(1.0, 2000.0) as usize;
        // Between the breaks: at a drop itself the bed has two levels.
        for k in 0..steps {
            let t = (k as f64 + 0.5) / steps as f64;
            let (station, bed) = (s0 + t * length, z0 + t * (z1 - z0));
            let half = length / steps as f64 / 2.0;
            let p = along(&axis.line, station);
            let design = context.design;
            let Some(facet) = design.surface.facet_at(p) else {
                continue;
            };
            let owner = design.parts[design.surface.label(facet) as usize].feature;
            // Over another dig the water falls into it; round a sharp bend the lower stretch of
            // the stream itself has cut the upper one.
            let is_dug = owner.is_some_and(|f| design.features[f].laid.rule == Rule::Lower);
            if is_dug {
                continue;
            }
            let gap = bed - design.surface.source(facet).plane.z_at(p);
            if gap > IN_THE_AIR_M {
                if gap > worst.0 {
                    worst = (gap, Some(p));
                }
                match stretches.last_mut() {
                    Some(last) if station - last[1] <= 0.3 => last[1] = station + half,
                    _ => stretches.push([(station - half).max(0.0), station + half]),
                }
            }
        }
    }
    let (gap, at) = (worst.0, worst.1?);
    let show = context.show();
    let list: Vec<String> = stretches
        .iter()
        .map(|[a, b]| format!("{} to {}", show.length_number(*a), show.length(*b)))
        .collect();
    Some(Finding {
        feature: Some(name.to_owned()),
        place: format!("station {}", list.join(", ")),
        at_m: Some(context.absolute(at)),
        measured: Some(Measure { value: gap, unit: "m" }),
        cure: "lower the bed there, or raise the ground under it first (a berm laid before the stream)".to_owned(),
        ..Finding::new(
            "bed-above-ground",
            Severity::Warn,
            format!(
                "{name}: the bed stands up to {} above the surface it should be dug into",
                show.length(gap)
            ),
        )
    })
}

/// The point of a line at a distance from its start.
pub(super) fn along(line: &[Point], distance: f64) -> Point {
    let mut left = distance;
    for pair in line.windows(2) {
        let length = distance_m(pair[0], pair[1]);
        if left <= length {
            let t = if length > 0.0 { left / length } else { 0.0 };
            return Point::new(
                pair[0].x + (t * (pair[1].x - pair[0].x) as f64).round() as i64,
                pair[0].y + (t * (pair[1].y - pair[0].y) as f64).round() as i64,
            );
        }
        left -= length;
    }
    line.last().copied().unwrap_or_default()
}
