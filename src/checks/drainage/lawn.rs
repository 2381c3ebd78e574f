//! Lawn that is too flat to dry.

use crate::job::limits::{LAWN, MOWING};

use super::super::{Checked, Context, Finding, Measure, Severity};
use super::SMALLEST_SHED_M2;
use super::yard::{Yard, feature_of};

pub(super) fn check(context: &Context, yard: &Yard, out: &mut Checked) {
    if yard.mown.is_empty() {
        out.missing("DR-7", "no [[area]] use = \"mown\"");
        return;
    }
    if let Some(words) = context.job.limits.contradiction(&LAWN, &MOWING) {
        out.missing("DR-7", words);
        return;
    }
    let limit = context.job.limits.get(&LAWN);
    let (state, show) = (&yard.after, context.show());
    for (name, ring) in &yard.mown {
        let (mut flat_m2, mut made_m2) = (0.0, 0.0);
        let mut all_m2 = 0.0;
        let mut largest = (0.0, None);
        // Facets are cut along the outline, so each lies on one side of it.
        for f in 0..state.tin.num_facets() {
            let middle = state.tin.centre(f);
            if !ring.contains(middle) {
                continue;
            }
            let area = state.tin.area_m2(f);
            all_m2 += area;
            if state.tin.steepness(f) < limit.value * (1.0 - 1.0e-6) {
                flat_m2 += area;
                let facet = state.tin.facet_of(f);
                if feature_of(context.design, state.surface, facet).is_some() {
                    made_m2 += area;
                }
                if area > largest.0 {
                    largest = (area, Some(middle));
                }
            }
        }
        out.looked(
            "DR-7",
            format!(
                "{name}: {} of {} flatter than {:.1} %",
                show.area_or_none(flat_m2),
                show.area(all_m2),
                limit.value * 100.0
            ),
        );
        let (true, Some(at)) = (flat_m2 >= SMALLEST_SHED_M2, largest.1) else {
            continue;
        };
        let run = largest.0.sqrt();
        let is_made = made_m2 >= SMALLEST_SHED_M2;
        let (severity, was) = match is_made {
            true => (Severity::Warn, ""),
            false => (Severity::Note, "; it was so before the work"),
        };
        out.find(Finding {
            ids: &["DR-7"],
            place: context.place(at),
            at_m: Some(context.absolute(at)),
            measured: Some(Measure {
                value: flat_m2,
                unit: "m2",
            }),
            limit: Some(Measure {
                value: limit.value,
                unit: "rise_per_run",
            }),
            limit_from: limit.from.clone(),
            cure: format!(
                "give it {} of fall over {}, or take it for planting",
                show.level_with_unit(limit.value * run),
                show.length(run)
            ),
            ..Finding::new(
                "flat-lawn",
                severity,
                format!(
                    "{name}: {} of the lawn fall less than {:.1} % and will stay wet{was}",
                    show.area(flat_m2),
                    limit.value * 100.0
                ),
            )
        });
    }
}
