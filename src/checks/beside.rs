//! The ground beside a feature, as it lies: a dig at the foot of a steep bank takes away what
//! holds it, a fill at its top loads it.

use std::collections::BTreeMap;

use crate::geom::{Point, distance_m};
use crate::surface::{Rule, Surface};
use crate::terrain::GROUND;
use crate::units::Slope;

use super::{AT_LIMIT, Checked, Context, Finding, Measure, Severity};

/// A steep place beside less of a rim than this is a kink, metres: 1 ft.
const SHORTEST_M: f64 = 0.3048;

/// Ground that meets a feature along its rim.
#[derive(Default)]
struct Beside {
    /// Steepness, length of the rim, middle of it.
    stretches: Vec<(f64, f64, Point)>,
}

pub(super) fn check(context: &Context, out: &mut Checked) {
    let design = context.design;
    let Some(limit) = context.job.limits.cut.or(context.soil.permanent) else {
        return;
    };
    let surface = &design.surface;
    let mut by_feature: BTreeMap<usize, Beside> = BTreeMap::new();
    for f in surface.facets() {
        let Some(feature) = design.parts[surface.label(f) as usize].feature else {
            continue;
        };
        let corners = surface.corners(f);
        for (k, n) in surface.neighbours(f).into_iter().enumerate() {
            if n == Surface::NONE || surface.label(n) != GROUND {
                continue;
            }
            let (a, b) = (corners[k].p, corners[(k + 1) % 3].p);
            let middle = Point::new((a.x + b.x) / 2, (a.y + b.y) / 2);
            let steep = surface.source(n).plane.steepness();
            let of = by_feature.entry(feature).or_default();
            of.stretches.push((steep, distance_m(a, b), middle));
        }
    }
    for (number, mut beside) in by_feature {
        let feature = &design.features[number];
        if feature.is_strip() {
            continue;
        }
        beside.stretches.sort_by(|a, b| b.0.total_cmp(&a.0));
        let over = |s: &&(f64, f64, Point)| s.0 > limit.rise_per_run() * (1.0 + AT_LIMIT);
        let length: f64 = beside.stretches.iter().filter(over).map(|s| s.1).sum();
        // The steepest that goes along more than a kink.
        let mut so_far = 0.0;
        let worst = beside.stretches.iter().find(|s| {
            so_far += s.1;
            so_far >= SHORTEST_M
        });
        let Some(&(steep, _, at)) = worst.filter(over) else {
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
