//! Depth of every dig, counted from the highest ground or fill beside it.

use crate::design::{Feature, Role};
use crate::geom::{P3, Point, distance_m};
use crate::job::{DigType, Limit, limits};
use crate::surface::{Label, Rule, Surface};

use super::cure::side_change;
use super::dig_type::{self, temporary};
use super::{AT_LIMIT, Checked, Context, Finding, Measure, ROUNDING, Severity};

/// What stands within this run for each unit of rise above a floor presses on its side: the
/// slope of unclassified soil, 1.5 across : 1 up.
const BESIDE_RUN_PER_RISE: f64 = 1.5;

/// The rim counts as beside a floor point up to this many times the distance of the nearest rim.
const RIM_REACH: f64 = 2.0;

pub(super) fn check(context: &Context, out: &mut Checked) {
    dig_type::say(context, out);
    let limits = &context.job.limits;
    let ids = ["EX-1", "EX-2", "EX-6", "EX-8"];
    let contradiction = limits
        .contradiction(&limits::WAY_OUT_DEPTH, &limits::PROTECT_DEPTH)
        .or_else(|| limits.contradiction(&limits::PROTECT_DEPTH, &limits::ENGINEER_DEPTH));
    if let Some(words) = contradiction {
        for id in ids {
            out.missing(id, words.clone());
        }
        out.find(Finding {
            ids: &["EX-1", "EX-2", "EX-6", "EX-8"],
            cure: "set the depth of the way out below that of protection, and that below the engineer's".to_owned(),
            ..Finding::new(
                "depth",
                Severity::NotChecked,
                format!("the depth of digs is not checked, because {words}"),
            )
        });
        return;
    }
    let top = context
        .design
        .to_build()
        .z_range()
        .map_or(0.0, |(_, top)| top);
    let digs = context.design.features.iter().enumerate();
    let findings: Vec<Finding> = digs
        .filter(|(_, feature)| feature.laid.rule == Rule::Lower)
        .filter_map(|(number, feature)| judge(context, number, feature, top))
        .collect();
    let deepest = findings.iter().filter_map(|f| f.measured.as_ref());
    let deepest = deepest.map(|m| m.value).fold(0.0, f64::max);
    for id in ids {
        match findings.len() {
            0 => out.missing(id, "nothing is dug"),
            n => {
                let deepest = context.show().length(deepest);
                out.looked(id, format!("digs: {n}, the deepest {deepest}"));
            }
        }
    }
    mixed_soil(context, out);
    out.findings.extend(findings);
}

/// Type A is told by undisturbed soil: a dig through placed soil is none.
fn mixed_soil(context: &Context, out: &mut Checked) {
    let is_a = dig_type::dig_type(context) == Some(DigType::A);
    if !is_a {
        out.looked("EX-11", "the soil is not taken as type A");
        return;
    }
    out.looked(
        "EX-11",
        "type A: that it is not fissured, shaken, wet or dug before is for the competent person",
    );
    let design = context.design;
    let placed = |label: Label| {
        let feature = design.parts[label as usize]
            .feature
            .map(|f| &design.features[f]);
        feature.is_some_and(|f| f.laid.rule == Rule::Raise && f.laid.places_soil)
    };
    for feature in design
        .features
        .iter()
        .filter(|f| f.laid.rule == Rule::Lower)
    {
        let cut = feature
            .changes
            .iter()
            .filter(|c| c.rule == Rule::Lower && !c.puts_back);
        let through: Vec<Point> = cut
            .flat_map(|c| &c.removed)
            .filter(|(_, source)| placed(source.label))
            .map(|(corners, _)| corners[0].p)
            .collect();
        if let Some(&at) = through.first() {
            out.find(Finding {
                ids: &["EX-11"],
                feature: Some(feature.name.clone()),
                place: context.place(at),
                at_m: Some(context.absolute(at)),
                limit_from: "29 CFR 1926 subpart P, appendix A, from memory".to_owned(),
                cure:
                    "do not take it as type A there: write classified = \"C\", at 1.5 across : 1 up"
                        .to_owned(),
                caution: Some(2),
                ..Finding::new(
                    "soil-type",
                    Severity::Warn,
                    format!(
                        "{} is dug through placed soil: soil that was dug before is never type A",
                        feature.name
                    ),
                )
            });
        }
    }
}

/// How many ways out a dig asks for, and over what length it is that deep, metres: one for every
/// two reaches, each in the middle of its stretch.
///
/// # Source
///
/// 29 CFR 1926.651(c)(2): at most 25 ft of travel sideways; the count follows.
fn ways_out(context: &Context, number: usize) -> (usize, f64) {
    let limits = &context.job.limits;
    let depth = limits.get(&limits::WAY_OUT_DEPTH).value;
    let reach = limits.get(&limits::WAY_OUT_REACH).value;
    let laid = &context.design.features[number].laid;
    let (ground, dug) = (&context.terrain.surface, context.design.to_build());
    let length = if laid.core_is_outline || laid.core.len() < 2 {
        let deep: Vec<Point> = context
            .design
            .labels(number)
            .filter(|&l| context.design.parts[l as usize].role == Role::Floor)
            .flat_map(|l| dug.facets().filter(move |&f| dug.label(f) == l))
            .flat_map(|f| dug.corners(f))
            .map(|c| c.p)
            .collect();
        let far = deep
            .iter()
            .flat_map(|a| deep.iter().map(|b| distance_m(*a, *b)));
        far.fold(0.0, f64::max)
    } else {
        let (above, below) = (ground.profile(&laid.core), dug.profile(&laid.core));
        let breaks = above.breaks_with(&below);
        let deep = |s: f64| Some(above.z_at(s)? - below.z_at(s)? - depth * (1.0 - ROUNDING));
        let pieces = breaks.windows(2).filter_map(|w| {
            let (a, b) = (deep(w[0])?, deep(w[1])?);
            let length = w[1] - w[0];
            Some(match (a >= 0.0, b >= 0.0) {
                (true, true) => length,
                (false, false) => 0.0,
                // The part of a straight stretch that lies above zero.
                _ => length * a.max(b) / (a - b).abs(),
            })
        });
        pieces.sum()
    };
    let count = (length / (2.0 * reach) * (1.0 - ROUNDING)).ceil().max(1.0);
    (count as usize, length)
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
    // From the highest down: what cannot be deeper than the deepest so far is not looked at.
    around.sort_by(|a, b| b.z.total_cmp(&a.z));
    let mut best: Option<(f64, P3, P3)> = None;
    let deeper = |best: &Option<(f64, P3, P3)>, at: P3, beside: P3| {
        beside.z - at.z > best.map_or(0.0, |b| b.0)
    };
    for &at in &floor {
        if rim.iter().any(|&beside| deeper(&best, at, beside)) {
            let nearest = rim
                .iter()
                .map(|r| distance_m(r.p, at.p))
                .fold(f64::INFINITY, f64::min);
            for &beside in &rim {
                if deeper(&best, at, beside) && distance_m(beside.p, at.p) <= RIM_REACH * nearest {
                    best = Some((beside.z - at.z, at, beside));
                }
            }
        }
        for &beside in &around {
            if !deeper(&best, at, beside) {
                break;
            }
            if distance_m(beside.p, at.p) <= BESIDE_RUN_PER_RISE * (beside.z - at.z) {
                best = Some((beside.z - at.z, at, beside));
                break;
            }
        }
    }
    best
}

fn judge(context: &Context, number: usize, feature: &Feature, top: f64) -> Option<Finding> {
    let (depth, at, beside) = deepest(context, number, top)?;
    let show = context.show();
    let get = |key| context.job.limits.get(key);
    let way_out = get(&limits::WAY_OUT_DEPTH);
    let protect = get(&limits::PROTECT_DEPTH);
    let engineer = get(&limits::ENGINEER_DEPTH);
    let temporary = temporary(context, depth);
    let steepest = temporary.slope;
    let is_steep = steepest.is_some_and(|slope| {
        feature.laid.side_rise_per_run > slope.rise_per_run() * (1.0 + AT_LIMIT)
    });
    let reaches = |limit: &Limit| depth >= limit.value * (1.0 - ROUNDING);
    let ways = |more: &str| {
        let (count, length) = ways_out(context, number);
        let reach = show.length(get(&limits::WAY_OUT_REACH).value);
        let noun = if count == 1 {
            "ladder or ramp"
        } else {
            "ladders or ramps"
        };
        format!(
            "{more}put {count} {noun} in, so that nobody over {} of it is farther than {reach} from one",
            show.length(length)
        )
    };
    let mut change = None;
    let (severity, ids, limit, more, cure): (_, &'static [&'static str], _, String, String) =
        if depth > engineer.value * (1.0 + ROUNDING) {
            (
                Severity::Stop,
                &["EX-6", "EX-1", "EX-8"],
                &engineer,
                format!(
                    "over {} protection is designed by a registered engineer",
                    show.length(engineer.value)
                ),
                format!(
                    "have the protection designed, or dig {} less deep",
                    show.length(depth - engineer.value)
                ),
            )
        } else if reaches(&protect) && is_steep {
            let slope = steepest.unwrap_or(context.job.limits.temporary);
            let run = slope.run_per_rise();
            let label = context.design.labels(number).find(|&l| {
                matches!(
                    context.design.parts[l as usize].role,
                    Role::Side | Role::Face
                )
            });
            change = label.and_then(|label| side_change(context, label, false, run));
            let key = change
                .as_ref()
                .map_or(String::new(), |c| format!(" ({} = {})", c.key, c.value));
            (
                Severity::Stop,
                &["EX-1", "EX-3", "EX-4", "EX-8"],
                &protect,
                format!(
                    "at {} or more nobody may be in it between unprotected faces, and its sides are steeper than {slope}, {}",
                    show.length(protect.value),
                    temporary.from
                ),
                format!(
                    "flatten the sides to {slope}{key}, which takes {} from the floor to the top on each side, or have them stepped or supported by a competent person; {}",
                    show.length(depth * run),
                    ways("then ")
                ),
            )
        } else if reaches(&protect) {
            (
                Severity::Warn,
                &["EX-8"],
                &protect,
                format!(
                    "at {} or more the sides must be sloped, stepped or supported by a competent person; its sloped sides are drawn no steeper than the temporary limit, near-vertical faces are listed apart",
                    show.length(protect.value)
                ),
                ways(
                    "cut no side steeper than drawn, look for cracks and seepage every morning and after rain, and ",
                ),
            )
        } else if reaches(&way_out) {
            (
                Severity::Warn,
                &["EX-8", "EX-2"],
                &way_out,
                format!(
                    "from {} a way out within {} is asked for; below {} the rule still asks that a competent person finds no sign of cave-in",
                    show.length(way_out.value),
                    show.length(get(&limits::WAY_OUT_REACH).value),
                    show.length(protect.value)
                ),
                ways("look for cracks, seepage and old fill before anyone steps in, and "),
            )
        } else {
            (
                Severity::Note,
                &["EX-2"],
                &way_out,
                "shallow holes cave in too: look for cracks, seepage and old fill before anyone steps in".to_owned(),
                String::new(),
            )
        };
    Some(Finding {
        ids,
        feature: Some(feature.name.clone()),
        place: context.place(at.p),
        at_m: Some(context.absolute(at.p)),
        measured: Some(Measure {
            value: depth,
            unit: "m",
        }),
        limit: Some(Measure {
            value: limit.value,
            unit: "m",
        }),
        limit_from: format!(
            "{}; it binds employers, the ground does not care",
            limit.from
        ),
        cure,
        change,
        caution: (depth >= way_out.value).then_some(2),
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
