//! What can be said of water without its levels: covers on a liner, the fall of a floor to its
//! sump, voids. The rest waits for levels and flows, and is said not to be checked.

use crate::design::{Amount, Role};
use crate::job::limits;
use crate::surface::Rule;
use crate::units::Slope;

use super::cure::side_change;
use super::{AT_LIMIT, Checked, Context, Finding, Measure, Severity};

/// What the name of a sheet of liner has in it.
const LINER: &str = "liner";

/// Less of a side than this cannot slide, m2: about the area of a spade.
const SMALLEST_AREA_M2: f64 = 0.05;

pub(super) fn check(context: &Context, out: &mut Checked) {
    for id in ["WA-1", "WA-4", "WA-5", "WA-6", "WA-8", "WA-13"] {
        out.missing(id, "water levels are not computed yet");
    }
    for id in ["WA-7", "WA-11", "DR-9"] {
        out.missing(id, "no flow of water is computed yet");
    }
    covers(context, out);
    floors(context, out);
    voids(context, out);
}

/// A cover that lies on a liner on a slope (WA-12).
fn covers(context: &Context, out: &mut Checked) {
    let (design, surface) = (context.design, &context.design.surface);
    let limit = context.job.limits.get(&limits::LINER);
    let mut liners = 0;
    for (number, feature) in design.features.iter().enumerate() {
        let Some(liner) = feature.layers.iter().position(|l| l.name.contains(LINER)) else {
            continue;
        };
        liners += 1;
        // A cover with a thickness that lies on the sides as well; what fills a hollow to a level
        // holds itself.
        let covers =
            |l: &&crate::design::Layer| !l.on_floor && matches!(l.amount, Amount::Thick(_));
        let Some(cover) = feature.layers[liner + 1..].iter().find(covers) else {
            continue;
        };
        let mut steep: Vec<(f64, u32)> = surface
            .facets()
            .filter(|&f| {
                let part = &design.parts[surface.label(f) as usize];
                part.feature == Some(number) && part.role == Role::Side
            })
            .map(|f| (surface.source(f).plane.steepness(), f))
            .collect();
        steep.sort_by(|a, b| b.0.total_cmp(&a.0));
        let over = |s: &&(f64, u32)| s.0 > limit.value * (1.0 + AT_LIMIT);
        let area: f64 = steep
            .iter()
            .filter(over)
            .map(|s| surface.area_m2(s.1))
            .sum();
        let Some(&(worst, facet)) = steep.first().filter(|_| area >= SMALLEST_AREA_M2) else {
            continue;
        };
        let (show, slope) = (context.show(), Slope::from_rise_per_run(limit.value));
        let at = surface.corners(facet)[0].p;
        let change = side_change(context, surface.label(facet), false, slope.run_per_rise());
        let how = match &change {
            Some(change) => format!("{} = {}", change.key, change.value),
            None => format!("{slope}"),
        };
        out.find(Finding {
            ids: &["WA-12"],
            feature: Some(feature.name.clone()),
            place: context.place(at),
            at_m: Some(context.absolute(at)),
            measured: Some(Measure {
                value: worst,
                unit: "rise_per_run",
            }),
            limit: Some(Measure {
                value: limit.value,
                unit: "rise_per_run",
            }),
            limit_from: limit.from.clone(),
            cure: format!("flatten the sides to {how}, or keep the {} to the floor (on = \"floor\") or fill up to a level with it", cover.name),
            change,
            ..Finding::new(
                "cover",
                Severity::Warn,
                format!(
                    "{}: {} on a liner at up to {}, over {}: a cover slides on a slope steeper than {slope}",
                    feature.name,
                    cover.name,
                    Slope::from_rise_per_run(worst),
                    show.area(area)
                ),
            )
        });
    }
    match liners {
        0 => out.missing("WA-12", "no liner is laid"),
        n => out.looked("WA-12", format!("features with a liner: {n}")),
    }
}

/// Least and most a floor falls to where the pump stands (common practice, no source).
const FALL_TO_PUMP: f64 = 0.01;

/// The floor of a basin falls to its lowest place (WA-14).
fn floors(context: &Context, out: &mut Checked) {
    let surface = &context.design.surface;
    let mut basins = 0;
    for (number, feature) in context.design.features.iter().enumerate() {
        if feature.kind != "basin" {
            continue;
        }
        basins += 1;
        let facts = surface.facts_by(1, |label| {
            let part = &context.design.parts[label as usize];
            (part.feature == Some(number) && part.role == Role::Floor && part.name == "floor")
                .then_some(0)
        });
        let Some(facts) = facts.first().copied().flatten() else {
            continue;
        };
        let show = context.show();
        let fall = facts.highest.z - facts.lowest.z;
        let across = facts.area_m2.sqrt();
        if fall >= FALL_TO_PUMP * across * (1.0 - AT_LIMIT) {
            continue;
        }
        let at = facts.lowest.p;
        out.find(Finding {
            ids: &["WA-14"],
            feature: Some(feature.name.clone()),
            place: context.place(at),
            at_m: Some(context.absolute(at)),
            measured: Some(Measure {
                value: fall,
                unit: "m",
            }),
            limit: Some(Measure {
                value: FALL_TO_PUMP * across,
                unit: "m",
            }),
            limit_from: "1 to 2 percent, common practice, no source".to_owned(),
            cure: format!("let it fall {} towards the pump", show.level_with_unit(FALL_TO_PUMP * across)),
            ..Finding::new(
                "floor-fall",
                Severity::Note,
                format!("{}: the floor falls {} from end to end: what settles on it does not run to the pump", feature.name, show.level_with_unit(fall)),
            )
        });
    }
    match basins {
        0 => out.missing("WA-14", "no basin is drawn"),
        n => out.looked("WA-14", format!("basins: {n}")),
    }
}

/// What share of a layer of stone is taken as voids (WA-10).
fn voids(context: &Context, out: &mut Checked) {
    let mut any = false;
    for feature in context
        .design
        .features
        .iter()
        .filter(|f| f.laid.rule == Rule::Lower)
    {
        for layer in &feature.layers {
            if let Some(share) = layer.porosity {
                any = true;
                out.looked(
                    "WA-10",
                    format!("{}: {:.0} percent of the {} taken as voids; a bucket test with your stone tells better", feature.name, 100.0 * share, layer.name),
                );
            }
        }
    }
    if !any {
        out.missing("WA-10", "no layer says its porosity");
    }
}
