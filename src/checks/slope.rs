//! Slopes of every part against the limits for cut, fill and temporary faces.
//!
//! Held against the user's limits, never against the angle of repose: that is for piles.

use std::collections::BTreeMap;

use crate::design::{Design, Feature, Role, Stands};
use crate::geom::{Point, distance_m};
use crate::surface::{Label, Rule, Surface};
use crate::terrain::GROUND;
use crate::units::Slope;

use super::depth::PROTECT;
use super::{AT_LIMIT, Context, Finding, Measure, Severity};

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

pub(super) fn check(context: &Context) -> Vec<Finding> {
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
    findings
}

/// A near-vertical face: it is no slope, it has to be held.
fn face(context: &Context, label: Label, height: f64, centre: Point) -> Finding {
    let limit = context.job.limits.wall_height_m;
    let (severity, caution, more) = if height >= PROTECT.depth_m {
        let more = "at 5 ft or more nobody may stand below it unless it is sloped, stepped or supported by a competent person";
        (Severity::Stop, Some(2), more)
    } else if height >= limit {
        let more = "it reaches the height at which you want to be told of a wall";
        (Severity::Warn, Some(4), more)
    } else if height >= LOW_FACE_M {
        (Severity::Warn, None, "bare soil does not stand like this")
    } else {
        (Severity::Note, None, "bare soil does not stand like this")
    };
    Finding {
        feature: feature_name(context, label),
        place: context.place(centre),
        at_m: Some(context.absolute(centre)),
        measured: Some(Measure {
            value: height,
            unit: "m",
        }),
        cure: "stack stone against it or build it as a wall".to_owned(),
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
    let Some(SideLimit {
        slope: limit,
        what,
        from,
    }) = side_limit(context, feature, is_fill)
    else {
        return Some(Finding {
            feature: Some(feature.name.clone()),
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
            "{name}: {what} at {:.2} across : 1 up ({:.1} %), steeper than {:.2} across : 1 up ({:.1} %), over {} of {}",
            slope.run_per_rise(),
            slope.percent(),
            limit.run_per_rise(),
            limit.percent(),
            context.show().area(over_area),
            context.show().area(total)
        )
    } else {
        format!("{name}: {what} at {slope}; limit {limit}")
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
        cure: if is_over {
            cure(feature.laid.side_rise_per_run, worst, limit)
        } else {
            String::new()
        },
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

/// The steepest slope a side may have, and whose limit that is.
pub(super) struct SideLimit {
    pub(super) slope: Slope,
    /// "fill", "cut" or "temporary cut".
    pub(super) what: &'static str,
    pub(super) from: String,
}

/// The limit for the sides of a feature; `None` where none is offered for the soil.
pub(super) fn side_limit(context: &Context, feature: &Feature, is_fill: bool) -> Option<SideLimit> {
    let limits = &context.job.limits;
    let from = |key: &str, own: &str, usual: &str| {
        if limits.set_by_user.iter().any(|k| k.starts_with(key)) {
            own.to_owned()
        } else {
            format!("{usual}; yours to change in [limits]")
        }
    };
    Some(if is_fill {
        SideLimit {
            slope: limits.fill,
            what: "fill",
            from: from(
                "fill",
                "your limit for fill",
                "2 across : 1 up for fill (IBC appendix J107.6 where adopted)",
            ),
        }
    } else if feature.laid.stands == Stands::Temporary {
        SideLimit {
            slope: limits.temporary,
            what: "temporary cut",
            from: from(
                "temporary",
                "your limit for temporary faces",
                "1.5 across : 1 up until a competent person classifies the soil (29 CFR 1926.652(b)(1))",
            ),
        }
    } else {
        SideLimit {
            slope: limits.cut.or(context.soil.permanent)?,
            what: "cut",
            from: from(
                "cut",
                "your limit for cut",
                &format!(
                    "usual permanent cut in {} (IBC appendix J106.1 where adopted, or common practice)",
                    context.soil.name
                ),
            ),
        }
    })
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
fn cure(drawn: f64, worst: f64, limit: Slope) -> String {
    let limit = limit.rise_per_run();
    let along = (worst * worst - drawn * drawn).max(0.0);
    let across = limit * limit - along;
    if across <= limit * limit * LEAST_LEFT {
        return "let the bed fall less: along its line alone it is steeper than the limit"
            .to_owned();
    }
    // Rounded up to a tenth, so that what is typed is enough.
    let run = (10.0 / across.sqrt() - 1.0e-6).ceil() / 10.0;
    format!("flatten it to side_run_per_rise = {run:.1} or more, or hold it with a wall")
}
