//! Depth of every dig, counted from the highest ground or fill beside it.

use crate::design::Feature;
use crate::geom::{P3, Point, distance_m};
use crate::surface::{Rule, Surface};

use super::{AT_LIMIT, Context, Finding, Measure, Severity};

/// A depth from which a rule asks for more, and the rule.
pub(super) struct Step {
    pub(super) depth_m: f64,
    source: &'static str,
}

/// Depth at which a way out is asked for: 4 ft.
const WAY_OUT: Step = Step {
    depth_m: 4.0 * 0.3048,
    source: "29 CFR 1926.651(c)(2)",
};
/// Depth at which faces need protection: 5 ft.
pub(super) const PROTECT: Step = Step {
    depth_m: 5.0 * 0.3048,
    source: "29 CFR 1926.652(a)(1)",
};
/// Depth over which protection is designed by a registered engineer: 20 ft.
const ENGINEER: Step = Step {
    depth_m: 20.0 * 0.3048,
    source: "29 CFR 1926 subpart P, appendix B",
};

/// What stands within this run for each unit of rise above a floor presses on its side: the
/// slope of unclassified soil, 1.5 across : 1 up.
const BESIDE_RUN_PER_RISE: f64 = 1.5;

/// The rim counts as beside a floor point up to this many times the distance of the nearest rim.
const RIM_REACH: f64 = 2.0;

pub(super) fn check(context: &Context) -> Vec<Finding> {
    let Some((_, top)) = context.design.to_build().z_range() else {
        return Vec::new();
    };
    context
        .design
        .features
        .iter()
        .enumerate()
        .filter(|(_, feature)| feature.laid.rule == Rule::Lower)
        .filter_map(|(number, feature)| judge(context, number, feature, top))
        .collect()
}

/// Deepest place of a dig: depth, floor point, the point beside it that it counts from.
/// Nothing is higher than `top`.
fn deepest(context: &Context, number: usize, top: f64) -> Option<(f64, P3, P3)> {
    let design = context.design;
    // Counted against what stands while people dig: fill at its built height.
    let surface = design.to_build();
    let is_own = |f: u32| design.parts[surface.label(f) as usize].feature == Some(number);
    let mut floor: Vec<P3> = Vec::new();
    let mut rim: Vec<P3> = Vec::new();
    for f in surface.facets().filter(|&f| is_own(f)) {
        let corners = surface.corners(f);
        floor.extend(corners);
        for (k, n) in surface.neighbours(f).into_iter().enumerate() {
            if n == Surface::NONE || !is_own(n) {
                rim.extend([corners[k], corners[(k + 1) % 3]]);
            }
        }
    }
    let distinct = |points: &mut Vec<P3>| {
        points.sort_by_key(|point| point.p);
        points.dedup_by_key(|p| p.p);
    };
    distinct(&mut floor);
    distinct(&mut rim);
    let (low, _) = floor
        .iter()
        .map(|p| p.z)
        .fold(None, |range: Option<(f64, f64)>, z| {
            Some(range.map_or((z, z), |(a, b)| (a.min(z), b.max(z))))
        })?;
    let reach = Point::from_m(BESIDE_RUN_PER_RISE * (top - low), 0.0).x;
    let west = floor.iter().map(|p| p.p.x).min()? - reach;
    let east = floor.iter().map(|p| p.p.x).max()? + reach;
    let south = floor.iter().map(|p| p.p.y).min()? - reach;
    let north = floor.iter().map(|p| p.p.y).max()? + reach;
    let mut around: Vec<P3> = surface
        .facets_in(Point::new(west, south), Point::new(east, north))
        .into_iter()
        .flat_map(|f| surface.corners(f))
        .filter(|c| c.p.x >= west && c.p.x <= east && c.p.y >= south && c.p.y <= north)
        .filter(|c| c.z > low)
        .collect();
    distinct(&mut around);
    let mut best: Option<(f64, P3, P3)> = None;
    let mut see = |at: P3, beside: P3| {
        let depth = beside.z - at.z;
        if depth > best.map_or(0.0, |b| b.0) {
            best = Some((depth, at, beside));
        }
    };
    for &at in &floor {
        let nearest = rim
            .iter()
            .map(|r| distance_m(r.p, at.p))
            .fold(f64::INFINITY, f64::min);
        for &beside in &rim {
            if distance_m(beside.p, at.p) <= RIM_REACH * nearest {
                see(at, beside);
            }
        }
        for &beside in &around {
            if distance_m(beside.p, at.p) <= BESIDE_RUN_PER_RISE * (beside.z - at.z) {
                see(at, beside);
            }
        }
    }
    best
}

fn judge(context: &Context, number: usize, feature: &Feature, top: f64) -> Option<Finding> {
    let (depth, at, beside) = deepest(context, number, top)?;
    let show = context.show();
    let temporary = context.job.limits.temporary.rise_per_run();
    let steep = feature.laid.side_rise_per_run > temporary * (1.0 + AT_LIMIT);
    let (severity, step, more, cure) = if depth >= ENGINEER.depth_m {
        (
            Severity::Stop,
            &ENGINEER,
            "over 20 ft protection is designed by a registered engineer",
            "have the protection designed, or dig less deep",
        )
    } else if depth >= PROTECT.depth_m && steep {
        (
            Severity::Stop,
            &PROTECT,
            "at 5 ft or more nobody may be in it between unprotected faces, and its sides are steeper than the temporary limit",
            "flatten the sides, or have them stepped or supported by a competent person",
        )
    } else if depth >= PROTECT.depth_m {
        (
            Severity::Warn,
            &PROTECT,
            "at 5 ft or more the sides must be sloped, stepped or supported by a competent person; its sloped sides are drawn no steeper than the temporary limit, near-vertical faces are listed apart",
            "cut no side steeper than drawn, and look for cracks and seepage every morning and after rain",
        )
    } else if depth >= WAY_OUT.depth_m {
        (
            Severity::Warn,
            &WAY_OUT,
            "from 4 ft a way out within 25 ft is asked for; below 5 ft the rule still asks that a competent person finds no sign of cave-in",
            "put a ladder or ramp in, and look for cracks, seepage and old fill before anyone steps in",
        )
    } else {
        (
            Severity::Note,
            &WAY_OUT,
            "shallow holes cave in too: look for cracks, seepage and old fill before anyone steps in",
            "",
        )
    };
    Some(Finding {
        feature: Some(feature.name.clone()),
        place: context.place(at.p),
        at_m: Some(context.absolute(at.p)),
        measured: Some(Measure {
            value: depth,
            unit: "m",
        }),
        limit: Some(Measure {
            value: step.depth_m,
            unit: "m",
        }),
        limit_from: format!(
            "{}; it binds employers, the ground does not care",
            step.source
        ),
        cure: cure.to_owned(),
        caution: (depth >= WAY_OUT.depth_m).then_some(2),
        ..Finding::new(
            "depth",
            severity,
            format!(
                "{} is {} deep below the highest ground or fill beside it ({}): {more}",
                feature.name,
                show.length(depth),
                context.place(beside.p)
            ),
        )
    })
}
