//! The ground beside a feature, as it lies: a dig at the foot of a steep bank takes away what
//! holds it, a fill at its top loads it.

use std::collections::BTreeMap;

use crate::geom::{Point, distance_m};
use crate::surface::{Rule, Surface};
use crate::terrain::GROUND;
use crate::units::Slope;

use super::steepness::{Steep, steepness};
use super::{AT_LIMIT, Checked, Context, Finding, Measure, Severity};

/// A steep place beside less of a rim than this is a kink, metres: 1 ft.
const SHORTEST_M: f64 = 0.3048;

/// A measured facet thinner than this is no bank, whatever its slope: its smallest height in
/// plan as a share of its longest side. At the rim of a survey shots stand almost in a line.
const SLIVER: f64 = 0.02;

/// True if the measured facet that a piece of ground was cut from is a sliver.
fn is_sliver(context: &Context, piece: u32) -> bool {
    let plan = context.design.surface.corners(piece).map(|c| c.p);
    let middle = Point::new(
        (plan[0].x + plan[1].x + plan[2].x) / 3,
        (plan[0].y + plan[1].y + plan[2].y) / 3,
    );
    let ground = &context.terrain.surface;
    ground.facet_at(middle).is_some_and(|f| {
        let c = ground.corners(f).map(|c| c.p);
        let longest = (0..3)
            .map(|k| distance_m(c[k], c[(k + 1) % 3]))
            .fold(f64::MIN_POSITIVE, f64::max);
        2.0 * ground.area_m2(f) < SLIVER * longest * longest
    })
}

pub(super) fn check(context: &Context, out: &mut Checked) {
    let design = context.design;
    let Some(limit) = context.job.limits.cut.or(context.soil.permanent) else {
        return;
    };
    let surface = &design.surface;
    let mut by_feature: BTreeMap<usize, Vec<(u32, f64)>> = BTreeMap::new();
    for f in surface.facets() {
        let Some(feature) = design.parts[surface.label(f) as usize].feature else {
            continue;
        };
        let corners = surface.corners(f);
        for (k, n) in surface.neighbours(f).into_iter().enumerate() {
            if n == Surface::NONE || surface.label(n) != GROUND {
                continue;
            }
            if is_sliver(context, n) {
                continue;
            }
            let length = distance_m(corners[k].p, corners[(k + 1) % 3].p);
            by_feature.entry(feature).or_default().push((n, length));
        }
    }
    for (number, beside) in by_feature {
        let feature = &design.features[number];
        if feature.is_strip() {
            continue;
        }
        let steeps = steepness(surface, &beside);
        let over = |s: &&Steep| s.rise_per_run > limit.rise_per_run() * (1.0 + AT_LIMIT);
        let length: f64 = steeps.iter().filter(over).map(|s| s.weight).sum();
        // The steepest that goes along more than a kink.
        let mut so_far = 0.0;
        let worst = steeps.iter().find(|s| {
            so_far += s.weight;
            so_far >= SHORTEST_M
        });
        let Some(&Steep {
            rise_per_run: steep,
            at,
            ..
        }) = worst.filter(over)
        else {
            continue;
        };
        let show = context.show();
        let slope = Slope::from_rise_per_run(steep);
        let what = match feature.laid.rule {
            Rule::Lower => "digging at its foot takes away what holds it",
            Rule::Raise => "fill at its top loads it",
        };
        out.find(Finding {
            ids: &["GR-1"],
            feature: Some(feature.name.clone()),
            place: context.place(at),
            at_m: Some(context.absolute(at)),
            measured: Some(Measure {
                value: steep,
                unit: "rise_per_run",
            }),
            limit: Some(Measure {
                value: limit.rise_per_run(),
                unit: "rise_per_run",
            }),
            limit_from: format!(
                "the limit for a permanent cut in {}, held against ground that nobody has cut",
                context.soil.name
            ),
            cure: format!(
                "move the feature away from the bank, or flatten the bank to {limit} over the {} beside it",
                show.length(length)
            ),
            ..Finding::new(
                "steep-beside",
                Severity::Warn,
                format!(
                    "the ground beside {} lies at {slope} along {}, steeper than {limit} for a cut: {what}",
                    feature.name,
                    show.length(length)
                ),
            )
        });
    }
}
