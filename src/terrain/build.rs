//! From shots to a surface: duplicates, crossing lines, triangulation, trimming.

use std::collections::BTreeMap;

use crate::diag::{At, Diagnostic, Failure, Level, has_error};
use crate::geom::{MAX_EXTENT_NM, P3, Point, Ring, odd_side, orient, triangulate};
use crate::job::{Duplicates, GroundSpec};
use crate::surface::Surface;
use crate::survey::{PlacedShot, Survey};
use crate::units::{LengthUnit, NM_PER_M};

use super::lines::Line;
use super::rim::Rim;
use super::weave::Woven;
use super::{GROUND, NoData, Terrain};

/// Heights closer than this are one: a hundredth of a foot, what a rod can tell.
pub(crate) const LEVEL_TOLERANCE_M: f64 = 0.003_048;

/// Faults of one kind that are named one by one; the rest are counted.
pub(super) const MAX_LISTED: usize = 20;

/// Builds the ground.
///
/// # Errors
///
/// unusable outline, unknown places, one place with two heights (unless the job says
/// which to take), fewer than three shots, all shots in line, shots so near each other that
/// the ground between them would be steeper than any wall
/// # Source
///
/// constrained Delaunay triangulation: L. P. Chew, "Constrained Delaunay
/// triangulations", Algorithmica 4 (1989), 97-108, through the `spade` crate
pub fn build(survey: &Survey, spec: &GroundSpec) -> Result<(Terrain, Vec<Diagnostic>), Failure> {
    if let Some(fault) = survey.few_shots() {
        return Err(fault.into());
    }
    let mut diagnostics = Vec::new();
    let places = distinct(survey, spec.duplicates, &mut diagnostics);
    if has_error(&diagnostics) {
        return Err(Failure(diagnostics));
    }
    near_enough(survey)?;
    let bare = surface(survey, &places.points, &mut diagnostics)?;
    let mut lines: Vec<Line> = Vec::new();
    // Every line that is meant; how many were added.
    let mut add = |meant: Result<Vec<(Vec<PlacedShot>, At)>, Diagnostic>, closed| -> usize {
        let before = lines.len();
        match meant {
            Ok(meant) => {
                for (placed, at) in meant {
                    match Line::through(&placed, &at, closed, &bare) {
                        Ok(line) => lines.push(line),
                        Err(diagnostic) => diagnostics.push(diagnostic),
                    }
                }
            }
            Err(diagnostic) => diagnostics.push(diagnostic),
        }
        lines.len() - before
    };
    let has_outline = spec
        .outline
        .iter()
        .any(|outline| add(survey.line(outline).map(|line| vec![line]), true) > 0);
    let mut num_holes = 0;
    for hole in &spec.holes {
        num_holes += add(survey.lines(hole), true);
    }
    for area in &spec.no_data {
        add(survey.lines(area), true);
    }
    for breakline in &spec.breaklines {
        add(survey.lines(breakline), false);
    }
    let mut rings = Vec::new();
    for line in lines.iter().filter(|line| line.closed) {
        match line.ring() {
            Ok(ring) => rings.push(ring),
            Err(diagnostic) => diagnostics.push(diagnostic),
        }
    }
    if has_error(&diagnostics) {
        return Err(Failure(diagnostics));
    }
    if let Some(outline) = lines.first().filter(|line| has_outline && line.is_cut) {
        let message =
            "the outline reaches beyond the shots; the ground ends at the outermost of them";
        diagnostics.push(
            Diagnostic::note("beyond-shots", message)
                .at(outline.at.clone())
                .help("shoot its corners if there is to be ground up to it"),
        );
    }
    let mut woven = Woven::new(&places, &lines)?;
    diagnostics.extend(woven.level(survey, &lines, spec.crossings)?);
    if has_error(&diagnostics) {
        return Err(Failure(diagnostics));
    }
    let plan: Vec<Point> = woven.vertices.iter().map(|v| v.p).collect();
    let t = triangulate(&plan, &woven.edges()).map_err(|e| kernel_failure(&e.to_string()))?;
    let mut keep = vec![true; t.triangles.len()];
    // The outline is the first line, then come the holes, then the areas without data.
    let mut taken_m2 = Vec::with_capacity(rings.len());
    for line in 0..rings.len() {
        let is_outline = has_outline && line == 0;
        let inside = odd_side(&t, |a, b| woven.is_side(line, a, b));
        let mut taken = 0;
        for (k, (keep, inside)) in keep.iter_mut().zip(inside).enumerate() {
            if *keep && inside != is_outline {
                *keep = false;
                let [a, b, c] = t.triangles[k].map(|v| plan[v as usize]);
                taken += orient(a, b, c);
            }
        }
        taken_m2.push(taken as f64 / 2.0 / NM_PER_M / NM_PER_M);
    }
    let rim = Rim {
        survey,
        lines: &lines,
        woven: &woven,
        t: &t,
    };
    rim.refuse_near_shots(&keep, &mut diagnostics)?;
    let area_m2 = |keep: &[bool]| {
        let kept = t.triangles.iter().zip(keep).filter(|(_, keep)| **keep);
        let areas = kept.map(|(v, _)| {
            let [a, b, c] = v.map(|v| plan[v as usize]);
            orient(a, b, c)
        });
        areas.sum::<i128>() as f64 / 2.0 / NM_PER_M / NM_PER_M
    };
    let whole_m2 = area_m2(&keep);
    rim.peel(spec.max_edge_m, &mut keep, &mut diagnostics);
    let trimmed_m2 = whole_m2 - area_m2(&keep);
    rim.refuse_steep(&keep, &mut diagnostics)?;
    let triangles: Vec<[u32; 3]> = t
        .triangles
        .iter()
        .zip(&keep)
        .filter(|(_, keep)| **keep)
        .map(|(t, _)| *t)
        .collect();
    if triangles.is_empty() {
        let mut fault = Diagnostic::error("no-ground", "nothing is left of the ground")
            .help("check the outline, the holes, the areas without data and the longest edge");
        fault.at = files_of(survey);
        return Err(fault.into());
    }
    let outside = outside_shots(survey, &rings, has_outline);
    diagnostics.extend(words_of_outside(survey, &outside));
    let num_shots = survey.shots.len() - outside.len();
    let breaklines = (rings.len()..lines.len()).map(|l| woven.line(l)).collect();
    let outline = has_outline.then(|| rings[0].clone());
    let first_no_data = usize::from(has_outline) + num_holes;
    let no_data = rings
        .split_off(first_no_data)
        .into_iter()
        .zip(&taken_m2[first_no_data..])
        .map(|(ring, &area_m2)| NoData { ring, area_m2 })
        .collect();
    let holes = rings.split_off(usize::from(has_outline));
    let line_edges = woven.edges();
    let surface = Surface::from_triangles(woven.vertices, &triangles, GROUND)
        .map_err(|e| kernel_failure(&e.to_string()))?;
    let terrain = Terrain {
        surface,
        origin: survey.origin,
        outline,
        holes,
        no_data,
        trimmed_m2,
        breaklines,
        outside,
        num_shots,
        shots: places.shots,
        line_edges,
    };
    Ok((terrain, diagnostics))
}

pub(super) fn kernel_failure(words: &str) -> Failure {
    Diagnostic::error(
        "ground",
        format!("the ground could not be triangulated: {words}"),
    )
    .help("this is a fault of the program; please report it with the survey")
    .into()
}

/// Shots beyond the outline or in a hole.
fn outside_shots(survey: &Survey, rings: &[Ring], has_outline: bool) -> Vec<usize> {
    let is_outside = |p: Point| {
        rings.iter().enumerate().any(|(i, ring)| {
            let on_line = ring.corners().contains(&p);
            let is_outline = has_outline && i == 0;
            !on_line && ring.contains(p) != is_outline
        })
    };
    (0..survey.shots.len())
        .filter(|&s| !rings.is_empty() && is_outside(survey.shots[s].p))
        .collect()
}

/// Names the shots that are not used: a corner of the outline left out, or a shot with a wrong
/// place, is seen by its name only.
fn words_of_outside(survey: &Survey, outside: &[usize]) -> Option<Diagnostic> {
    let named = outside.iter().take(MAX_LISTED).map(|&s| &survey.shots[s]);
    let mut words: Vec<&str> = named.clone().map(|shot| shot.name.as_str()).collect();
    let more = format!("and {} more", outside.len() - words.len());
    if outside.len() > words.len() {
        words.push(&more);
    }
    let words = words.join(", ");
    let words = match outside.len() {
        0 => return None,
        1 => format!(
            "shot {words} lies outside the outline, in a hole or in an area without data, and is not used"
        ),
        _ => format!(
            "shots {words} lie outside the outline, in a hole or in an area without data, and are not used"
        ),
    };
    let mut note = Diagnostic::note("outside", words)
        .help("if one of them belongs to the ground, check its place and the corners listed");
    note.at = named.map(|shot| shot.at.clone()).collect();
    Some(note)
}

/// Places shot, each once.
pub(super) struct Places {
    pub(super) points: Vec<P3>,
    /// The first shot at each place.
    pub(super) shots: Vec<usize>,
}

/// Shots by place, each place once.
fn distinct(survey: &Survey, policy: Duplicates, diagnostics: &mut Vec<Diagnostic>) -> Places {
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

/// Refuses shots that lie too far apart for exact geometry, and names the two outermost.
fn near_enough(survey: &Survey) -> Result<(), Failure> {
    let far = |along: fn(Point) -> i64| {
        let low = survey.shots.iter().min_by_key(|s| along(s.p))?;
        let high = survey.shots.iter().max_by_key(|s| along(s.p))?;
        let extent_nm = i128::from(along(high.p)) - i128::from(along(low.p));
        (extent_nm > i128::from(MAX_EXTENT_NM)).then_some((low, high))
    };
    let Some((low, high)) = far(|p| p.x).or_else(|| far(|p| p.y)) else {
        return Ok(());
    };
    Err(Diagnostic::error(
        "far-apart",
        format!(
            "the shots lie more than 4,500 km apart, {} and {} the farthest",
            low.name, high.name
        ),
    )
    .at(low.at.clone())
    .at(high.at.clone())
    .help("check the coordinates and units")
    .into())
}

/// The survey files, as the places of a fault of them all.
pub(super) fn files_of(survey: &Survey) -> Vec<At> {
    survey.inputs.iter().map(|i| At::file(&i.file)).collect()
}

/// A surface over bare points.
fn surface(
    survey: &Survey,
    points: &[P3],
    diagnostics: &mut Vec<Diagnostic>,
) -> Result<Surface, Failure> {
    let plan: Vec<Point> = points.iter().map(|p| p.p).collect();
    let t = triangulate(&plan, &[]).map_err(|e| kernel_failure(&e.to_string()))?;
    if t.triangles.is_empty() {
        let words = if points.len() < 3 {
            format!(
                "a surface needs at least three shots at different places, there are {}",
                points.len()
            )
        } else {
            format!(
                "all {} shots lie on one line, so they make no surface",
                points.len()
            )
        };
        let mut fault = Diagnostic::error("no-surface", words)
            .help("shoot points to the left and right of the line as well");
        fault.at = files_of(survey);
        diagnostics.push(fault);
        return Err(Failure(std::mem::take(diagnostics)));
    }
    Surface::from_triangulation(points.to_vec(), &t, GROUND)
        .map_err(|e| kernel_failure(&e.to_string()))
}
