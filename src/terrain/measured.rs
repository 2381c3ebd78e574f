//! The places that were measured: shots and points of imports, each place once.

use std::collections::BTreeMap;

use crate::diag::{At, Diagnostic, Level};
use crate::geom::{P3, Point};
use crate::import::Content;
use crate::job::Duplicates;
use crate::survey::Survey;
use crate::units::LengthUnit;

use super::Imported;
use super::build::{LEVEL_TOLERANCE_M, MAX_LISTED};

/// Places measured, each once.
pub(super) struct Places {
    /// Those shot, then those of imports.
    pub(super) points: Vec<P3>,
    /// The first shot at each place shot.
    pub(super) shots: Vec<usize>,
}

/// Shots by place, each place once.
pub(super) fn distinct(
    survey: &Survey,
    policy: Duplicates,
    diagnostics: &mut Vec<Diagnostic>,
) -> Places {
    let mut by_place: BTreeMap<Point, Vec<usize>> = BTreeMap::new();
    for (i, shot) in survey.shots.iter().enumerate() {
        by_place.entry(shot.p).or_default().push(i);
    }
    let mut z_of: BTreeMap<Point, f64> = BTreeMap::new();
    let mut said: Vec<Diagnostic> = Vec::new();
    for (&p, shots) in &by_place {
        let first = &survey.shots[shots[0]];
        let heights = shots.iter().map(|&i| survey.shots[i].z_m);
        let low = heights.clone().fold(f64::INFINITY, f64::min);
        let high = heights.clone().fold(f64::NEG_INFINITY, f64::max);
        let mut z = first.z_m;
        if shots.len() > 1 {
            let names = shots.iter().take(MAX_LISTED);
            let names: Vec<&str> = names.map(|&i| survey.shots[i].name.as_str()).collect();
            let more = match shots.len() - names.len() {
                0 => String::new(),
                more => format!(" and {more} more"),
            };
            let words = format!(
                "shots {}{more} are at one place, {:.3} m ({:.2} ft) apart in height",
                names.join(", "),
                high - low,
                LengthUnit::Foot.from_m(high - low)
            );
            let mut diagnostic = match policy {
                Duplicates::Refuse if high - low > LEVEL_TOLERANCE_M => {
                    Diagnostic::error("two-heights", words).help(
                        "strike the wrong one, or say in [ground]: \
                         duplicates = \"first\" or \"mean\" (`--duplicates first`)",
                    )
                }
                Duplicates::Mean => {
                    z = heights.sum::<f64>() / shots.len() as f64;
                    Diagnostic::warn("same-place", format!("{words}; their mean is used"))
                }
                _ => Diagnostic::warn("same-place", format!("{words}; the first is used")),
            };
            for &i in shots.iter().take(MAX_LISTED) {
                diagnostic = diagnostic.at(survey.shots[i].at.clone());
            }
            said.push(diagnostic);
        }
        z_of.insert(p, z);
    }
    let (errors, warnings) = said.into_iter().partition(|d| d.level == Level::Error);
    for mut kind in <[Vec<Diagnostic>; 2]>::from((errors, warnings)) {
        let more = kind.len().saturating_sub(MAX_LISTED);
        kind.truncate(MAX_LISTED + 1);
        if let Some(rest) = kind.get_mut(MAX_LISTED) {
            rest.message = format!("and {more} more places like this, from here on");
            rest.help.clear();
        }
        diagnostics.extend(kind);
    }
    // In the order they were shot, so that vertices can be told by their number.
    let (points, shots) = survey
        .shots
        .iter()
        .enumerate()
        .filter_map(|(i, shot)| {
            Some((
                P3 {
                    p: shot.p,
                    z: z_of.remove(&shot.p)?,
                },
                i,
            ))
        })
        .unzip();
    Places { points, shots }
}

/// Puts the points of imports behind the shots. A place that was shot keeps the height shot, one
/// that an earlier import has keeps its height.
pub(super) fn add_imports(
    survey: &Survey,
    places: &mut Places,
    diagnostics: &mut Vec<Diagnostic>,
) -> Vec<Imported> {
    let mut imported = Vec::with_capacity(survey.imports.len());
    let mut taken: Vec<Point> = places.points.iter().map(|c| c.p).collect();
    taken.sort_unstable();
    for (number, brought) in survey.imports.iter().enumerate() {
        let Content::Points(points) = &brought.import.content else {
            continue;
        };
        let first = places.points.len();
        let is_new = |c: &&P3| taken.binary_search(&c.p).is_err();
        places.points.reserve_exact(points.len());
        places.points.extend(points.iter().filter(is_new));
        let left = points.len() - (places.points.len() - first);
        if left > 0 {
            let message = format!(
                "{left} points of {} lie where a point is already; what came first is used, shots \
                 before imports",
                brought.import.source
            );
            diagnostics
                .push(Diagnostic::note("same-place", message).at(At::file(&brought.import.source)));
        }
        imported.push(Imported {
            vertices: first as u32..places.points.len() as u32,
            height_error_m: brought.import.facts.height_error_m,
        });
        // What follows must not lie on these either.
        if number + 1 < survey.imports.len() {
            taken.extend(places.points[first..].iter().map(|c| c.p));
            taken.sort_unstable();
        }
    }
    imported
}
