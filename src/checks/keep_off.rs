//! Lines and areas that the work must not pass: what lies in or on them.

use std::collections::BTreeMap;

use crate::design::{KeepOffPlace, Role};
use crate::geom::{Point, Ring, triangulate_rings};
use crate::job::KeepOffKind;
use crate::surface::{CutFill, Within, cut_fill_without};
use crate::terrain::GROUND;

use super::stream::along;
use super::wall::LOWEST_WALL_M;
use super::{Context, Finding, Measure, Severity};

/// Work on less than this of a keep-off is a brush with its line, m2.
const SMALLEST_TOUCHED_M2: f64 = 0.01;

pub(super) fn check(context: &Context, keep_offs: &[KeepOffPlace]) -> Vec<Finding> {
    let mut findings = Vec::new();
    for keep_off in keep_offs {
        // Roots and buried lines are looked at apart.
        if matches!(keep_off.kind, KeepOffKind::Roots | KeepOffKind::Service) {
            continue;
        }
        match &keep_off.area {
            Some(area) => findings.extend(inside(context, keep_off, area)),
            None => findings.extend(stands_across(context, keep_off)),
        }
    }
    findings
}

/// Work inside an area that must not be entered.
fn inside(context: &Context, keep_off: &KeepOffPlace, area: &Ring) -> Vec<Finding> {
    let within = Within(triangulate_rings(std::slice::from_ref(area)).unwrap_or_default());
    let found = cut_fill_without(
        GROUND,
        &context.terrain.surface,
        0.0,
        &context.design.surface,
        Some(&within),
        context.workers,
    );
    let show = context.show();
    let mut findings = Vec::new();
    for (number, feature) in context.design.features.iter().enumerate() {
        let mut sum = CutFill::default();
        for label in context.design.labels(number) {
            if let Some(v) = found.by_label.get(&label) {
                sum.cut_m3 += v.cut_m3;
                sum.fill_m3 += v.fill_m3;
                sum.cut_area_m2 += v.cut_area_m2;
                sum.fill_area_m2 += v.fill_area_m2;
            }
        }
        let touched = sum.cut_area_m2 + sum.fill_area_m2;
        if touched < SMALLEST_TOUCHED_M2 {
            continue;
        }
        let floor: f64 = context
            .design
            .labels(number)
            .filter(|&l| context.design.parts[l as usize].role == Role::Floor)
            .filter_map(|l| found.by_label.get(&l))
            .fold(0.0, |sum, v| sum + v.common_area_m2);
        // Its side alone: the wall finding says what to do.
        if floor < SMALLEST_TOUCHED_M2 {
            continue;
        }
        findings.push(Finding {
            feature: Some(feature.name.clone()),
            place: keep_off.name.clone(),
            at_m: Some(context.absolute(area.inner_point())),
            measured: Some(Measure {
                value: touched,
                unit: "m2",
            }),
            cure: "move the feature out of the area".to_owned(),
            ..Finding::new(
                "keep-off",
                Severity::Stop,
                format!(
                    "{} stands inside the area at \"{}\": {} touched, {}",
                    feature.name,
                    keep_off.name,
                    show.area(touched),
                    show.cut_fill(&sum)
                ),
            )
        });
    }
    findings
}

/// Floors, beds and crests that lie across an open line.
fn stands_across(context: &Context, keep_off: &KeepOffPlace) -> Vec<Finding> {
    let design = context.design;
    let profile = design.surface.profile(&keep_off.line);
    let mut lengths: BTreeMap<usize, (f64, Point)> = BTreeMap::new();
    for pair in profile.runs.iter().flat_map(|run| run.windows(2)) {
        let middle = (pair[0].distance_m + pair[1].distance_m) / 2.0;
        let at = along(&keep_off.line, middle);
        let Some(facet) = design.surface.facet_at(at) else {
            continue;
        };
        let part = &design.parts[design.surface.label(facet) as usize];
        if let (Role::Floor, Some(feature)) = (part.role, part.feature) {
            let (length, _) = lengths.entry(feature).or_insert((0.0, at));
            *length += pair[1].distance_m - pair[0].distance_m;
        }
    }
    lengths
        .into_iter()
        .filter(|(_, (length, _))| *length >= LOWEST_WALL_M)
        .map(|(feature, (length, at))| {
            let name = &design.features[feature].name;
            Finding {
                feature: Some(name.clone()),
                place: context.place(at),
                at_m: Some(context.absolute(at)),
                measured: Some(Measure {
                    value: length,
                    unit: "m",
                }),
                cure: "move the feature to one side of the line".to_owned(),
                ..Finding::new(
                    "keep-off",
                    Severity::Stop,
                    format!(
                        "{name} stands across \"{}\": {} of its floor, bed or crest lie on the line",
                        keep_off.name,
                        context.show().length(length)
                    ),
                )
            }
        })
        .collect()
}
