//! Berms that stand in the way of water, or hold it.

use std::collections::BTreeMap;

use crate::design::Role;
use crate::job::limits::{DAM_DEPTH, DAM_DOWNSTREAM, DAM_SIDES, DAM_UPSTREAM};
use crate::surface::Label;
use crate::units::Slope;

use super::super::{Checked, Context, Finding, Measure, Severity};
use super::PUDDLE_M;
use super::ponds::{Found, PondKind};
use super::yard::{Yard, feature_mark, feature_of};

/// Ground of more than this that drains across a place makes a way of water, m2: about a hundred
/// square feet; common practice, no source.
const WAY_OF_WATER_M2: f64 = 10.0;

/// Side slopes of less than this are slivers, m2.
const SMALLEST_SIDE_M2: f64 = 0.05;

/// The plane of a side: its label and its slope, bit by bit.
type SidePlane = (Label, [u64; 2]);

/// Whether a berm stands where water runs now.
pub(super) fn across(
    context: &Context,
    yard: &Yard,
    berm: usize,
    ponds: &[Found],
    out: &mut Checked,
) {
    let (show, design) = (context.show(), context.design);
    let feature = &design.features[berm];
    let mark = feature_mark(&out.keep_offs, berm);
    let state = &yard.before;
    let reaches = state.drains.area_m2(|label| label.reaches(mark));
    let own = (0..state.tin.num_facets())
        .filter(|&f| state.tin.mark_of(f) == Some(mark))
        .fold(0.0, |sum, f| sum + state.tin.area_m2(f));
    let above = (reaches - own).max(0.0);
    let stands = ponds
        .iter()
        .find(|p| p.kind == PondKind::New && p.by == Some(berm));
    let words = format!(
        "{}: {} drain across the place where it is to stand",
        feature.name,
        show.area_or_none(above)
    );
    out.looked("DR-8", words.clone());
    if above < WAY_OF_WATER_M2 {
        return;
    }
    let at = feature.laid.core[feature.laid.core.len() / 2];
    let (severity, then, cure) = match stands {
        // The pond itself says how deep.
        Some(found) => (
            Severity::Warn,
            format!(
                "after the work it stands behind it, {} deep",
                show.level_with_unit(found.pond.depth_m)
            ),
            format!(
                "leave a gap or a pipe at its lowest place, {} deep, or cut a swale round its end",
                show.level_with_unit(found.pond.depth_m)
            ),
        ),
        None => (
            Severity::Note,
            "after the work it runs round it".to_owned(),
            "look where it goes on the sheet of drainage".to_owned(),
        ),
    };
    out.find(Finding {
        ids: &["DR-8"],
        feature: Some(feature.name.clone()),
        place: context.place(at),
        at_m: Some(context.absolute(at)),
        measured: Some(Measure {
            value: above,
            unit: "m2",
        }),
        cure,
        ..Finding::new(
            "blocked-way",
            severity,
            format!(
                "{} crosses the way water takes now: {} drain across its place; {then}",
                feature.name,
                show.area(above)
            ),
        )
    });
}

/// Water against a berm: how deep, and how steep its sides are then.
pub(super) fn holds(
    context: &Context,
    yard: &Yard,
    berm: usize,
    ponds: &[Found],
    out: &mut Checked,
) {
    let (show, design, state) = (context.show(), context.design, &yard.after);
    let name = &design.features[berm].name;
    let limits = &context.job.limits;
    let is_of = |f: usize| feature_of(design, state.surface, state.tin.facet_of(f)) == Some(berm);
    let mut deepest: Option<(f64, &Found)> = None;
    for found in ponds.iter().filter(|p| p.on.contains_key(&berm)) {
        let wet = found.pond.facets.iter().filter(|&&f| is_of(f));
        let lowest = wet
            .flat_map(|&f| state.tin.heights(f))
            .fold(f64::INFINITY, f64::min);
        let depth = found.pond.level_m - lowest;
        if deepest.is_none_or(|(most, _)| depth > most) {
            deepest = Some((depth, found));
        }
    }
    let Some((depth, found)) = deepest.filter(|(depth, _)| *depth >= PUDDLE_M) else {
        for id in ["BM-1", "BM-2"] {
            out.looked(id, format!("{name}: no water stands against it"));
        }
        return;
    };
    let pit = state.pits[found.pit as usize];
    let limit = limits.get(&DAM_DEPTH);
    let words = format!(
        "{name}: water stands {} against it when the hollow behind is full",
        show.level_with_unit(depth)
    );
    out.looked("BM-1", words.clone());
    if depth >= limit.value - 1.0e-6 {
        out.find(Finding {
            ids: &["BM-1"],
            feature: Some(name.clone()),
            place: context.place(pit.bottom.p),
            at_m: Some(context.absolute(pit.bottom.p)),
            measured: Some(Measure { value: depth, unit: "m" }),
            limit: Some(Measure { value: limit.value, unit: "m" }),
            limit_from: limit.from,
            cure: format!(
                "lower the way out by more than {}, or ask the state dam office or the conservation district",
                show.level_with_unit(depth - limit.value)
            ),
            ..Finding::new(
                "dam",
                Severity::Warn,
                format!(
                    "{words}; from {} on many places count it as a dam",
                    show.level_with_unit(limit.value)
                ),
            )
        });
    }
    // Sides by the plane they lie in: those that get wet, and the others. A part by its label may
    // have both, where a berm goes round a corner.
    let plane_of = |f: usize| {
        let source = state.surface.source(state.tin.facet_of(f));
        (source.label, source.plane.slope.map(f64::to_bits))
    };
    let mut sides: BTreeMap<SidePlane, Vec<(f64, f64)>> = BTreeMap::new();
    for f in (0..state.tin.num_facets()).filter(|&f| is_of(f)) {
        let plane = plane_of(f);
        if design.parts[plane.0 as usize].role == Role::Side {
            let side = (state.tin.steepness(f), state.tin.area_m2(f));
            sides.entry(plane).or_default().push(side);
        }
    }
    let mut wet: Vec<SidePlane> = found.pond.facets.iter().map(|&f| plane_of(f)).collect();
    wet.sort_unstable();
    wet.dedup();
    let run = |is_wet: bool| {
        let of = sides
            .iter()
            .filter(|(plane, _)| wet.binary_search(plane).is_ok() == is_wet);
        let steepest = of.filter_map(|(_, facets)| steepest(facets.clone()));
        let steepest = steepest.fold(0.0, f64::max);
        (steepest > 0.0).then(|| 1.0 / steepest)
    };
    let (Some(up), Some(down)) = (run(true), run(false)) else {
        out.missing(
            "BM-2",
            format!("{name} has no side on one side of the water"),
        );
        return;
    };
    let needs = [
        1.0 / limits.get(&DAM_UPSTREAM).value,
        1.0 / limits.get(&DAM_DOWNSTREAM).value,
    ];
    let sum = limits.get(&DAM_SIDES);
    let words = format!(
        "{name}: {up:.2} across : 1 up towards the water, {down:.2} away from it, {:.2} in sum",
        up + down
    );
    out.looked("BM-2", words.clone());
    // A share for facets that are rounded to the lattice.
    let least = 1.0 - super::super::AT_LIMIT;
    if up >= needs[0] * least && down >= needs[1] * least && up + down >= sum.value * least {
        return;
    }
    let better = [up.max(needs[0]), down.max(needs[1])];
    let more = (sum.value - better[0] - better[1]).max(0.0);
    out.find(Finding {
        ids: &["BM-2"],
        feature: Some(name.clone()),
        place: context.place(pit.bottom.p),
        at_m: Some(context.absolute(pit.bottom.p)),
        measured: Some(Measure {
            value: 1.0 / up,
            unit: "rise_per_run",
        }),
        limit: Some(Measure {
            value: 1.0 / needs[0],
            unit: "rise_per_run",
        }),
        limit_from: sum.from,
        cure: format!(
            "lay its side towards the water at {:.1} across : 1 up and the other at {:.1}, or let the water out",
            better[0] + more,
            better[1]
        ),
        ..Finding::new(
            "dam-sides",
            Severity::Warn,
            format!(
                "{words}; a berm that holds water is to have {:.1} ({}) and {:.1} ({}), and {:.1} in sum",
                needs[0],
                percent(needs[0]),
                needs[1],
                percent(needs[1]),
                sum.value
            ),
        )
    });
}

fn percent(run_per_rise: f64) -> String {
    format!(
        "{:.0} %",
        Slope::from_rise_per_run(1.0 / run_per_rise).percent()
    )
}

/// The steepest slope that covers more than a sliver.
fn steepest(mut facets: Vec<(f64, f64)>) -> Option<f64> {
    facets.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut area = 0.0;
    facets.iter().find_map(|&(steep, of)| {
        area += of;
        (area >= SMALLEST_SIDE_M2).then_some(steep)
    })
}
