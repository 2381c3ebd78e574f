//! Slopes of every part against the limits for cut, fill and temporary faces.
//!
//! Held against the user's limits, never against the angle of repose: that is for piles.

use std::collections::BTreeMap;

use crate::design::{Design, Feature, Role, Stands};
use crate::geom::{Point, distance_m};
use crate::job::limits;
use crate::surface::{Label, Rule, STEEPEST, Surface};
use crate::terrain::GROUND;
use crate::units::Slope;

use super::cure::{run_up, side_change};
use super::dig_type::temporary;
use super::{AT_LIMIT, Change, Checked, Context, Finding, Measure, ROUNDING, Severity};

/// Parts of a slope smaller than this cannot make it steep: slivers are no cliffs, m2. About the
/// area of a spade.
const SMALLEST_AREA_M2: f64 = 0.05;

/// A near-vertical face lower than this is held by a stone or two, metres: 1 ft.
const LOW_FACE_M: f64 = 0.3048;

#[derive(Default)]
struct Steep {
    /// (steepness, plan area, centre).
    facets: Vec<(f64, f64, Point)>,
}

pub(super) fn check(context: &Context, out: &mut Checked) {
    let design = context.design;
    let ground = &context.terrain.surface;
    // Cut and fill of a part are judged apart: a stream side may lie in both.
    let mut by_part: BTreeMap<(Label, bool), Steep> = BTreeMap::new();
    let mut faces: BTreeMap<Label, (f64, Point)> = BTreeMap::new();
    for f in design.surface.facets() {
        let label = design.surface.label(f);
        if label == GROUND {
            continue;
        }
        let corners = design.surface.corners(f);
        let plan = corners.map(|c| c.p);
        let centre = Point::new(
            (plan[0].x + plan[1].x + plan[2].x) / 3,
            (plan[0].y + plan[1].y + plan[2].y) / 3,
        );
        match design.parts[label as usize].role {
            Role::Side => {
                let plane = &design.surface.source(f).plane;
                // Placed soil is fill wherever it lies; a dig is in fill where it is above the ground.
                let is_placed = design.parts[label as usize]
                    .feature
                    .is_some_and(|f| design.features[f].laid.rule == Rule::Raise);
                let is_above = ground.z_at(centre).is_some_and(|g| plane.z_at(centre) > g);
                let is_fill = is_placed || is_above;
                by_part.entry((label, is_fill)).or_default().facets.push((
                    plane.steepness(),
                    design.surface.area_m2(f),
                    centre,
                ));
            }
            // The face of a wall is no bare soil.
            Role::Face if is_built(design, label) => {}
            Role::Face => {
                let (height, place) = faces.entry(label).or_insert((0.0, centre));
                let own = face_height_m(&design.surface, f);
                // A sliver of a face is no face, whatever its height.
                let steep = design.surface.source(f).plane.steepness();
                if own > *height && design.surface.area_m2(f) * steep >= SMALLEST_AREA_M2 {
                    (*height, *place) = (own, centre);
                }
            }
            Role::Ground | Role::Floor | Role::Strip => {}
        }
    }
    let mut findings = Vec::new();
    for ((label, is_fill), steep) in by_part {
        findings.extend(judge(context, label, is_fill, steep));
    }
    let mut findings = within_limit_as_one(findings);
    for (label, (height, centre)) in faces.into_iter().filter(|(_, (height, _))| *height > 0.0) {
        findings.push(face(context, label, height, centre));
    }
    findings.extend(steeper_than_code(context, &findings));
    say(&findings, out);
    out.findings.extend(findings);
}

/// What was looked at, rule by rule.
fn say(findings: &[Finding], out: &mut Checked) {
    for (id, what) in [
        ("GR-1", "cuts that stand for good"),
        ("GR-2", "fills"),
        ("GR-3", "cuts between 2 and 1.5 across : 1 up"),
    ] {
        let of: Vec<&Finding> = findings.iter().filter(|f| f.ids.contains(&id)).collect();
        let steepest = of
            .iter()
            .filter_map(|f| f.measured.as_ref())
            .map(|m| m.value)
            .fold(0.0, f64::max);
        if of.is_empty() {
            out.missing(id, format!("no side is one of {what}"));
        } else {
            let steepest = Slope::from_rise_per_run(steepest);
            out.looked(id, format!("{what}: steepest {steepest}"));
        }
    }
}

/// A near-vertical face: it is no slope, it has to be held.
fn face(context: &Context, label: Label, height: f64, centre: Point) -> Finding {
    let wall = context.job.limits.wall_height_m;
    let protect = context.job.limits.get(&limits::PROTECT_DEPTH);
    let (severity, caution, ids, more): (_, _, &'static [&'static str], _) = if height
        >= protect.value * (1.0 - ROUNDING)
    {
        let more = format!(
            "at {} or more nobody may stand below it unless it is sloped, stepped or supported by a competent person",
            context.show().length(protect.value)
        );
        (Severity::Stop, Some(2), &["EX-1"], more)
    } else if height >= wall {
        let more = "it reaches the height at which you want to be told of a wall".to_owned();
        (Severity::Warn, Some(4), &["EX-2"], more)
    } else if height >= LOW_FACE_M {
        let more = "bare soil does not stand like this".to_owned();
        (Severity::Warn, None, &["EX-2"], more)
    } else {
        let more = "bare soil does not stand like this".to_owned();
        (Severity::Note, None, &["EX-2"], more)
    };
    // A drop of a bed is meant to be one; the upright side of a dig can be laid back.
    let is_side = context.design.parts[label as usize].name.contains("side");
    let change = temporary(context, height)
        .slope
        .filter(|_| is_side)
        .and_then(|slope| side_change(context, label, false, slope.run_per_rise()));
    let sloped = match &change {
        Some(change) => format!(
            ", or slope it: {} = {} takes {} more on each side",
            change.key,
            change.value,
            context
                .show()
                .length(height * change.value.parse().unwrap_or(0.0))
        ),
        None => String::new(),
    };
    Finding {
        ids,
        feature: feature_name(context, label),
        place: context.place(centre),
        at_m: Some(context.absolute(centre)),
        measured: Some(Measure {
            value: height,
            unit: "m",
        }),
        limit: Some(Measure {
            value: protect.value,
            unit: "m",
        }),
        limit_from: protect.from,
        cure: format!("stack stone against it or build it as a wall{sloped}"),
        change,
        caution,
        ..Finding::new(
            "face",
            severity,
            format!(
                "{}: a near-vertical face up to {} high, to be held: {more}",
                context.design.part_name(label),
                context.show().length(height)
            ),
        )
    }
}

/// Cuts that keep to the user's limit and are steeper than the model code takes without a
/// report.
fn steeper_than_code(context: &Context, findings: &[Finding]) -> Vec<Finding> {
    let show = context.show();
    let is_such = |f: &&Finding| {
        f.ids.contains(&"GR-1")
            && f.severity == Severity::Note
            && f.measured
                .as_ref()
                .is_some_and(|m| m.value > CODE_CUT * (1.0 + AT_LIMIT))
    };
    let such = findings.iter().filter(is_such);
    such.map(|f| {
        let steep = f.measured.as_ref().map_or(0.0, |m| m.value);
        let low = steep <= LOW_CODE_CUT * (1.0 + AT_LIMIT);
        let more = if low {
            format!("some places take down to 1.5 across : 1 up in cuts up to {} high, on conditions", show.length(LOW_CODE_CUT_M))
        } else {
            "it is steeper than the exception for low cuts as well".to_owned()
        };
        Finding {
            ids: &["GR-1", "GR-3"],
            limit: Some(Measure { value: CODE_CUT, unit: "rise_per_run" }),
            limit_from: "IBC appendix J106.1 where adopted".to_owned(),
            cure: "ask the building department, or draw it at 2.0 across : 1 up".to_owned(),
            change: None,
            caution: None,
            ..Finding {
                words: format!(
                    "{}: cut at {}, steeper than 2 across : 1 up, from which a report is asked for where that code holds; {more}",
                    f.feature.clone().unwrap_or_default(),
                    Slope::from_rise_per_run(steep)
                ),
                rule: "code-cut",
                ..f.clone()
            }
        }
    })
    .collect()
}

/// Joins the sides of a feature that keep to the same limit into one finding, that of the
/// steepest: eight sides at their limit are one answer.
fn within_limit_as_one(findings: Vec<Finding>) -> Vec<Finding> {
    let mut joined: Vec<(Finding, usize)> = Vec::new();
    for finding in findings {
        let same = |(other, _): &&mut (Finding, usize)| {
            finding.severity == Severity::Note
                && other.severity == Severity::Note
                && other.feature == finding.feature
                && other.limit_from == finding.limit_from
        };
        let value = |f: &Finding| f.measured.as_ref().map_or(0.0, |m| m.value);
        match joined.iter_mut().find(same) {
            Some((other, count)) => {
                *count += 1;
                if value(&finding) > value(other) {
                    *other = finding;
                }
            }
            None => joined.push((finding, 1)),
        }
    }
    joined
        .into_iter()
        .map(|(finding, count)| match (&finding.feature, &finding.measured, &finding.limit) {
            (Some(name), Some(slope), Some(limit)) if count > 1 => {
                let [slope, limit] = [slope, limit].map(|m| Slope::from_rise_per_run(m.value));
                let words = format!(
                    "{name}: all {count} sides of this kind no steeper than {slope}; limit {limit}"
                );
                Finding { words, ..finding }
            }
            _ => finding,
        })
        .collect()
}

/// Height of a near-vertical facet from foot to top: how far it reaches across its longest side
/// in plan, times its steepness.
fn face_height_m(surface: &Surface, facet: u32) -> f64 {
    let plan = surface.corners(facet).map(|c| c.p);
    let longest = (0..3)
        .map(|k| distance_m(plan[k], plan[(k + 1) % 3]))
        .fold(f64::MIN_POSITIVE, f64::max);
    2.0 * surface.area_m2(facet) / longest * surface.source(facet).plane.steepness()
}

fn feature_name(context: &Context, label: Label) -> Option<String> {
    let part = &context.design.parts[label as usize];
    part.feature
        .map(|f| context.design.features[f].name.clone())
}

fn judge(context: &Context, label: Label, is_fill: bool, mut steep: Steep) -> Option<Finding> {
    let design = context.design;
    let part = &design.parts[label as usize];
    let feature = &design.features[part.feature?];
    steep.facets.sort_by(|a, b| b.0.total_cmp(&a.0));
    let total: f64 = steep.facets.iter().map(|f| f.1).sum();
    if total < SMALLEST_AREA_M2 {
        return None;
    }
    // The steepest slope that covers more than a sliver.
    let mut area = 0.0;
    let &(worst, _, centre) = steep.facets.iter().find(|f| {
        area += f.1;
        area >= SMALLEST_AREA_M2
    })?;
    let Some(judged) = side_limit(context, feature, is_fill) else {
        return Some(Finding {
            feature: Some(feature.name.clone()),
            ids: &["GR-1"],
            cure: "ask a geotechnical engineer, then set cut_run_per_rise in [limits]".to_owned(),
            ..Finding::new(
                "slope",
                Severity::NotChecked,
                format!(
                    "{}: no limit is offered for cuts in {}",
                    design.part_name(label),
                    context.soil.name
                ),
            )
        });
    };
    let SideLimit {
        slope: limit,
        what,
        from,
        ids,
    } = judged;
    let slope = Slope::from_rise_per_run(worst);
    let is_over = worst > limit.rise_per_run() * (1.0 + AT_LIMIT);
    let over_area: f64 = steep
        .facets
        .iter()
        .filter(|f| f.0 > limit.rise_per_run() * (1.0 + AT_LIMIT))
        .map(|f| f.1)
        .sum();
    let name = design.part_name(label);
    let words = if is_over {
        format!(
            "{name}: {what} at {}, steeper than {}, over {} of {}",
            finely(slope),
            finely(limit),
            context.show().area(over_area),
            context.show().area(total)
        )
    } else {
        format!("{name}: {what} at {slope}; limit {limit}")
    };
    let (cure, change) = match is_over {
        true => cure(context, label, is_fill, worst, limit),
        false => (String::new(), None),
    };
    Some(Finding {
        feature: Some(feature.name.clone()),
        place: context.place(centre),
        at_m: Some(context.absolute(centre)),
        measured: Some(Measure {
            value: worst,
            unit: "rise_per_run",
        }),
        limit: Some(Measure {
            value: limit.rise_per_run(),
            unit: "rise_per_run",
        }),
        limit_from: from,
        cure,
        change,
        ids,
        caution: is_fill.then_some(5),
        ..Finding::new(
            "slope",
            if is_over {
                Severity::Stop
            } else {
                Severity::Note
            },
            words,
        )
    })
}

/// A slope in all three notations, finer than is usual: a hair over the limit must be seen.
fn finely(slope: Slope) -> String {
    format!(
        "{:.2} across : 1 up ({:.1} %, {:.1} in per ft)",
        slope.run_per_rise(),
        slope.percent(),
        slope.inches_per_foot()
    )
}

/// True for parts of what is built of something else than soil.
fn is_built(design: &Design, label: Label) -> bool {
    let feature = design.parts[label as usize].feature;
    feature.is_some_and(|f| !design.features[f].laid.places_soil)
}

/// Where the fall along the bed leaves less than this share of the limit, no flatter side cures it.
const LEAST_LEFT: f64 = 0.01;

/// How flat the side has to be drawn. What a bed falls along its line makes its sides steeper
/// than their section; that part stays.
fn cure(
    context: &Context,
    label: Label,
    is_fill: bool,
    worst: f64,
    limit: Slope,
) -> (String, Option<Change>) {
    let number = context.design.parts[label as usize].feature;
    let drawn = number.map_or(worst, |f| context.design.features[f].laid.side_rise_per_run);
    let limit = limit.rise_per_run();
    let along = (worst * worst - drawn * drawn).max(0.0);
    let across = limit * limit - along;
    if across <= limit * limit * LEAST_LEFT {
        let words = "let the bed fall less: along its line alone it is steeper than the limit";
        return (words.to_owned(), None);
    }
    let run = 1.0 / across.sqrt();
    let change = side_change(context, label, is_fill, run);
    let how = match &change {
        Some(change) => format!("{} = {} or more", change.key, change.value),
        None => format!(
            "{:.1} across : 1 up or more where it is steeper",
            run_up(run)
        ),
    };
    let words = format!("flatten it to {how}, or hold it with a wall");
    (words, change)
}

/// The steepest slope a side may have, and whose limit that is.
pub(super) struct SideLimit {
    pub(super) slope: Slope,
    /// "fill", "cut" or "temporary cut".
    pub(super) what: &'static str,
    pub(super) from: String,
    /// The rules it rests on.
    pub(super) ids: &'static [&'static str],
}

/// Steepest permanent cut and fill of the model code: 2 across : 1 up; and down to 1.5 a low cut
/// on conditions (IBC appendix J106.1 and J107.6 where adopted).
const CODE_CUT: f64 = 0.5;
const LOW_CODE_CUT: f64 = 1.0 / 1.5;
const LOW_CODE_CUT_M: f64 = 8.0 * 0.3048;

/// The limit of a side; `None` for a cut in a soil that has none.
pub(super) fn side_limit(context: &Context, feature: &Feature, is_fill: bool) -> Option<SideLimit> {
    let limits = &context.job.limits;
    let by_user = |key: &str| limits.set_by_user.iter().any(|k| k.starts_with(key));
    if is_fill {
        let from = if by_user("fill") {
            "your limit for fill".to_owned()
        } else {
            "2 across : 1 up for fill (IBC appendix J107.6 where adopted); yours to change in [limits]".to_owned()
        };
        return Some(SideLimit {
            slope: limits.fill,
            what: "fill",
            from,
            ids: &["GR-2"],
        });
    }
    if feature.laid.stands == Stands::Temporary {
        let temporary = temporary(context, deepest_cut_m(context, feature));
        return Some(SideLimit {
            // Rock may stand upright; what is drawn as a side lies.
            slope: temporary
                .slope
                .unwrap_or(Slope::from_rise_per_run(STEEPEST)),
            what: "temporary cut",
            from: temporary.from,
            ids: temporary.ids,
        });
    }
    let limit = limits.cut.or(context.soil.permanent)?;
    let from = if by_user("cut") {
        "your limit for cut".to_owned()
    } else {
        format!(
            "usual permanent cut in {} (IBC appendix J106.1 where adopted, or common practice); yours to change in [limits]",
            context.soil.name
        )
    };
    Some(SideLimit {
        slope: limit,
        what: "cut",
        from,
        ids: &["GR-1"],
    })
}

/// How deep a feature is dug at most, metres.
fn deepest_cut_m(context: &Context, feature: &Feature) -> f64 {
    let mut features = context.design.features.iter();
    let number = features.position(|f| f.name == feature.name);
    let extremes = number.and_then(|number| context.extremes(number));
    extremes
        .and_then(|e| e.deepest_cut.as_ref())
        .map_or(0.0, |cut| cut.by_m)
}
