//! From shots to a surface: duplicates, crossing lines, triangulation, trimming.

use crate::diag::{At, Diagnostic, Failure, has_error};
use crate::geom::{MAX_EXTENT_NM, P3, Point, Ring, Triangulation, odd_side, orient, triangulate};
use crate::job::GroundSpec;
use crate::surface::Surface;
use crate::survey::{PlacedShot, Survey};
use crate::units::NM_PER_M;

use super::given::as_given;
use super::lines::Line;
use super::measured::{add_imports, distinct};
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
    if survey.imports.iter().any(|brought| brought.is_faces()) {
        return as_given(survey, spec);
    }
    let mut diagnostics = Vec::new();
    let mut places = distinct(survey, spec.duplicates, &mut diagnostics);
    let imported = add_imports(survey, &mut places, &mut diagnostics);
    if has_error(&diagnostics) {
        return Err(Failure(diagnostics));
    }
    near_enough(survey)?;
    let bare = triangulated(survey, &places.points, &mut diagnostics)?;
    let lists = [&spec.holes, &spec.no_data, &spec.breaklines];
    let has_lines = spec.outline.is_some() || lists.iter().any(|list| !list.is_empty());
    // Without lines it is the ground; with them, what their corners are laid on.
    let (bare, ground) = if has_lines {
        let bare = Surface::from_triangulation(places.points.clone(), bare, GROUND)
            .map_err(|e| kernel_failure(&e.to_string()))?;
        (bare, None)
    } else {
        (Surface::default(), Some(bare))
    };
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
    drop(bare);
    let mut woven = Woven::new(&mut places, &lines)?;
    diagnostics.extend(woven.level(survey, &lines, spec.crossings)?);
    if has_error(&diagnostics) {
        return Err(Failure(diagnostics));
    }
    let t = match ground {
        Some(t) => t,
        None => {
            let plan: Vec<Point> = woven.vertices.iter().map(|v| v.p).collect();
            triangulate(&plan, &woven.edges()).map_err(|e| kernel_failure(&e.to_string()))?
        }
    };
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
                let [a, b, c] = t.triangles[k].map(|v| woven.vertices[v as usize].p);
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
            let [a, b, c] = v.map(|v| woven.vertices[v as usize].p);
            orient(a, b, c)
        });
        areas.sum::<i128>() as f64 / 2.0 / NM_PER_M / NM_PER_M
    };
    let whole_m2 = area_m2(&keep);
    rim.peel(spec.max_edge_m, &mut keep, &mut diagnostics);
    let trimmed_m2 = whole_m2 - area_m2(&keep);
    rim.refuse_steep(&keep, &mut diagnostics)?;
    let t = t.kept(&keep);
    drop(keep);
    if t.triangles.is_empty() {
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
    let surface = Surface::from_triangulation(woven.vertices, t, GROUND)
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
        imported,
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

/// Triangles between bare points.
fn triangulated(
    survey: &Survey,
    points: &[P3],
    diagnostics: &mut Vec<Diagnostic>,
) -> Result<Triangulation, Failure> {
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
    Ok(t)
}
