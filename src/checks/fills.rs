//! Berms and other fills: crest, settlement, layers, and pipes below them.

use crate::design::{Feature, Laid};
use crate::geom::{Ring, distance_m};
use crate::job::limits;
use crate::surface::Rule;

use super::{Checked, Context, Finding, Measure, ROUNDING, Severity};

pub(super) fn check(context: &Context, out: &mut Checked) {
    let features = context.design.features.iter().enumerate();
    let fills: Vec<(usize, &Feature)> = features
        .filter(|(_, f)| f.laid.rule == Rule::Raise && f.laid.places_soil)
        .collect();
    out.missing(
        "BM-5",
        "the water that runs over the overflow is not computed yet",
    );
    if fills.is_empty() {
        for id in ["BM-3", "BM-4", "BM-6", "BM-7"] {
            out.missing(id, "nothing is filled");
        }
        return;
    }
    for &(number, feature) in &fills {
        if feature.kind == "berm" {
            crest(context, number, feature, out);
            settlement(context, number, feature, out);
        }
        lifts(context, number, feature, out);
    }
    if !fills.iter().any(|(_, f)| f.kind == "berm") {
        for id in ["BM-3", "BM-4"] {
            out.missing(id, "no fill is a berm");
        }
    }
    pipes(context, &fills, out);
}

/// How wide the crest is as it was laid, whatever was cut into it later: as the job says, or that
/// of the rectangle with its area and its outline.
fn crest(context: &Context, number: usize, feature: &Feature, out: &mut Checked) {
    let entry = &context.job.features[number].table;
    let said = entry.clone().length_m("width", &mut Vec::new());
    let Some(width) = said.map(|(m, _)| m).or_else(|| across_m(&feature.laid)) else {
        out.missing(
            "BM-3",
            format!("{} has no crest of one width", feature.name),
        );
        return;
    };
    let at = feature.laid.core.first().copied();
    let (show, limit) = (context.show(), context.job.limits.get(&limits::CREST_WIDTH));
    out.looked(
        "BM-3",
        format!("{}: crest {} wide", feature.name, show.length(width)),
    );
    if width >= limit.value * (1.0 - 1.0e-3) {
        return;
    }
    out.find(Finding {
        ids: &["BM-3"],
        feature: Some(feature.name.clone()),
        place: at.map(|p| context.place(p)).unwrap_or_default(),
        at_m: at.map(|p| context.absolute(p)),
        measured: Some(Measure {
            value: width,
            unit: "m",
        }),
        limit: Some(Measure {
            value: limit.value,
            unit: "m",
        }),
        limit_from: limit.from.clone(),
        cure: format!(
            "make it {} wider; a narrow crest is trodden and washed off, and cannot be tamped",
            show.length(limit.value - width)
        ),
        caution: Some(5),
        ..Finding::new(
            "crest",
            Severity::Warn,
            format!(
                "{}: the crest is {} wide, under {}",
                feature.name,
                show.length(width),
                show.length(limit.value)
            ),
        )
    });
}

/// The shorter side of the rectangle that has the area and the length of an outline.
fn across_m(laid: &Laid) -> Option<f64> {
    let ring = Ring::new(&laid.core)
        .ok()
        .filter(|_| laid.core_is_outline)?;
    let half: f64 = ring.sides().map(|(a, b)| distance_m(a, b)).sum::<f64>() / 2.0;
    // Sides a and b: a + b is half the outline, a b the area.
    Some((half - (half * half - 4.0 * ring.area_m2()).max(0.0).sqrt()) / 2.0)
}

/// Usual allowance for soil that no machine compacts (NRCS practice 378, from memory).
const USUAL_SETTLEMENT: f64 = 0.10;
/// Least allowance, for soil that a machine compacts (the same).
const LEAST_SETTLEMENT: f64 = 0.05;

fn settlement(context: &Context, number: usize, feature: &Feature, out: &mut Checked) {
    let show = context.show();
    let highest = context.extremes(number).and_then(|e| e.highest_fill);
    let share = feature.laid.settlement;
    let Some(highest) = highest else {
        out.looked(
            "BM-4",
            format!("{} is nowhere above the ground", feature.name),
        );
        return;
    };
    // The highest fill is that of the soil as built.
    let settled = highest.by_m / (1.0 + share);
    out.looked(
        "BM-4",
        format!(
            "{}: built {} high so that it settles to {}, {:.0} percent",
            feature.name,
            show.length(highest.by_m),
            show.length(settled),
            100.0 * share
        ),
    );
    if share >= LEAST_SETTLEMENT * (1.0 - ROUNDING) {
        return;
    }
    out.find(Finding {
        ids: &["BM-4"],
        feature: Some(feature.name.clone()),
        place: context.place(highest.at.p),
        at_m: Some(context.absolute(highest.at.p)),
        measured: Some(Measure {
            value: share,
            unit: "share",
        }),
        limit: Some(Measure {
            value: LEAST_SETTLEMENT,
            unit: "share",
        }),
        limit_from:
            "5 percent where a machine compacts it, else 10 (NRCS practice 378, from memory)"
                .to_owned(),
        cure: format!(
            "build it to {} instead of {} at its highest: settlement_percent = 10",
            show.length(settled * (1.0 + USUAL_SETTLEMENT)),
            show.length(highest.by_m)
        ),
        change: Some(super::Change {
            feature: feature.name.clone(),
            key: "settlement_percent".to_owned(),
            value: "10".to_owned(),
        }),
        caution: Some(5),
        ..Finding::new(
            "settlement",
            Severity::Warn,
            format!(
                "{} is built with {:.0} percent for settlement: at its highest it settles below {}",
                feature.name,
                100.0 * share,
                show.length(settled)
            ),
        )
    });
}

fn lifts(context: &Context, number: usize, feature: &Feature, out: &mut Checked) {
    let limit = context.job.limits.get(&limits::LIFT);
    let show = context.show();
    let Some(lift) = feature.laid.lift_m else {
        out.missing(
            "BM-6",
            format!(
                "{} does not say how thick its layers are: lift = ...",
                feature.name
            ),
        );
        return;
    };
    out.looked(
        "BM-6",
        format!("{}: layers of {}", feature.name, show.length(lift)),
    );
    if lift <= limit.value * (1.0 + ROUNDING) {
        return;
    }
    let highest = context.extremes(number).and_then(|e| e.highest_fill);
    let at = highest.map(|e| e.at.p);
    out.find(Finding {
        ids: &["BM-6"],
        feature: Some(feature.name.clone()),
        place: at.map(|p| context.place(p)).unwrap_or_default(),
        at_m: at.map(|p| context.absolute(p)),
        measured: Some(Measure {
            value: lift,
            unit: "m",
        }),
        limit: Some(Measure {
            value: limit.value,
            unit: "m",
        }),
        limit_from: limit.from,
        cure: format!(
            "place it in layers of {} at most, each tamped: lift = {}",
            show.length(limit.value),
            show.length_number(limit.value)
        ),
        caution: Some(5),
        ..Finding::new(
            "lift",
            Severity::Warn,
            format!(
                "{} is placed in layers of {}: dumped thick it settles and leaks",
                feature.name,
                show.length(lift)
            ),
        )
    });
}

/// Trenches that run under or through a fill (BM-7).
fn pipes(context: &Context, fills: &[(usize, &Feature)], out: &mut Checked) {
    let built = context.design.to_build();
    let mut through = 0;
    for trench in context
        .design
        .features
        .iter()
        .filter(|f| f.laid.is_refilled())
    {
        let over = built.profile(&trench.laid.core);
        for &(number, fill) in fills {
            let mut length = 0.0;
            let mut at = None;
            for pair in over.runs.iter().flat_map(|run| run.windows(2)) {
                let middle = f64::midpoint(pair[0].distance_m, pair[1].distance_m);
                let p = super::stream::along(&trench.laid.core, middle);
                let owner = built
                    .facet_at(p)
                    .and_then(|f| context.design.parts[built.label(f) as usize].feature);
                if owner == Some(number) {
                    length += pair[1].distance_m - pair[0].distance_m;
                    at = at.or(Some(p));
                }
            }
            let Some(at) = at.filter(|_| length >= SHORTEST_UNDER_M) else {
                continue;
            };
            through += 1;
            out.find(Finding {
                ids: &["BM-7"],
                feature: Some(trench.name.clone()),
                place: context.place(at),
                at_m: Some(context.absolute(at)),
                measured: Some(Measure { value: length, unit: "m" }),
                limit_from: "NRCS practice 378, from memory".to_owned(),
                cure: "lay it before the first layer, tamp by hand round it, and where the fill holds water give it a collar or a filter".to_owned(),
                ..Finding::new(
                    "pipe-through-fill",
                    Severity::Note,
                    format!("{} runs under {} for {}", trench.name, fill.name, context.show().length(length)),
                )
            });
        }
    }
    let pipes = context.design.features.iter();
    match pipes.filter(|f| f.laid.is_refilled()).count() {
        0 => out.missing("BM-7", "no pipe trench is drawn"),
        n => out.looked(
            "BM-7",
            format!("pipe trenches: {n}, stretches under a fill: {through}"),
        ),
    }
}

/// A pipe under less of a fill than this touches its toe, metres: 1 ft.
const SHORTEST_UNDER_M: f64 = 0.3048;
