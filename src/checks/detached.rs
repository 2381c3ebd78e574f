//! Places that a feature changes behind its own daylight line, apart from the rest of it.
//!
//! The plane of a side goes on past the line where it meets the ground. Where the ground rises
//! (or falls away) again behind it, the plane cuts (or covers) it there too.

use std::collections::BTreeSet;

use crate::design::Role;
use crate::surface::{Rule, Surface, Within, cut_fill_within};
use crate::terrain::GROUND;

use super::{Context, Finding, Measure, Severity};

/// Places smaller than this are not worth a word, m2.
const SMALLEST_AREA_M2: f64 = 0.1;

pub(super) fn check(context: &Context) -> Vec<Finding> {
    let design = context.design;
    let surface = &design.surface;
    let owner = |f: u32| design.parts[surface.label(f) as usize].feature;
    let mut seen: BTreeSet<u32> = BTreeSet::new();
    let mut found = Vec::new();
    for start in surface.facets() {
        let Some(feature) = owner(start) else {
            continue;
        };
        if !seen.insert(start) {
            continue;
        }
        let mut place = Vec::new();
        let mut stack = vec![start];
        // Apart: no floor of its own, and nothing but ground round it.
        let mut is_apart = true;
        while let Some(f) = stack.pop() {
            place.push(f);
            is_apart &= design.parts[surface.label(f) as usize].role != Role::Floor;
            for n in surface.neighbours(f) {
                if n == Surface::NONE {
                    continue;
                }
                if owner(n) == Some(feature) {
                    if seen.insert(n) {
                        stack.push(n);
                    }
                } else {
                    is_apart &= surface.label(n) == GROUND;
                }
            }
        }
        let area: f64 = place.iter().fold(0.0, |sum, &f| sum + surface.area_m2(f));
        if is_apart && area >= SMALLEST_AREA_M2 {
            found.push((feature, place, area));
        }
    }
    found
        .into_iter()
        .map(|(feature, place, area)| {
            let corners = |f: &u32| surface.corners(*f).map(|c| c.p);
            let within = Within(place.iter().map(corners).collect());
            let volume =
                cut_fill_within(&context.terrain.surface, surface, &within, context.workers).total;
            let feature = &design.features[feature];
            let at = corners(&place[0])[0];
            let show = context.show();
            let what = match feature.laid.rule {
                Rule::Lower => format!("cuts {} bank", show.volume(volume.cut_m3)),
                Rule::Raise => format!("places {} tamped", show.volume(volume.fill_m3)),
            };
            Finding {
                feature: Some(feature.name.clone()),
                place: context.place(at),
                at_m: Some(context.absolute(at)),
                measured: Some(Measure { value: area, unit: "m2" }),
                cure: "if that is not meant, write behind_daylight = \"leave\" for this feature"
                    .to_owned(),
                ..Finding::new(
                    "behind-daylight",
                    Severity::Warn,
                    format!(
                        "{} {what} over {} in a place apart, behind the line where its side first meets the ground",
                        feature.name,
                        show.area(area)
                    ),
                )
            }
        })
        .collect()
}
