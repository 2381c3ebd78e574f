//! From shots to a surface: duplicates, crossing lines, triangulation, trimming.

use std::collections::BTreeMap;

use crate::diag::{Diagnostic, Failure, has_error};
use crate::geom::{
    NodedEdge, P3, Point, Segment, Triangulation, distance_m, node, odd_side, triangulate,
};
use crate::job::{Crossings, Duplicates, GroundSpec};
use crate::surface::{Plane, Surface};
use crate::survey::Survey;

use super::lines::Line;
use super::{GROUND, Terrain};

/// Heights closer than this are one: a hundredth of a foot, what a rod can tell.
pub(crate) const LEVEL_TOLERANCE_M: f64 = 0.003_048;

/// Triangles at the rim steeper than this are taken off: slivers between shots almost in line,
/// whose slope means nothing. Far above any wall a rod can be held to.
const STEEPEST_GROUND: f64 = 1.0e4;

/// Builds the ground.
///
/// # Errors
///
/// unusable outline, unknown places, one place with two heights (unless the job says
/// which to take), fewer than three shots, all shots in line
/// # Source
///
/// constrained Delaunay triangulation: L. P. Chew, "Constrained Delaunay
/// triangulations", Algorithmica 4 (1989), 97-108, through the `spade` crate
pub fn build(survey: &Survey, spec: &GroundSpec) -> Result<(Terrain, Vec<Diagnostic>), Failure> {
    let mut diagnostics = Vec::new();
    let points = distinct(survey, spec.duplicates, &mut diagnostics);
    if has_error(&diagnostics) {
        return Err(Failure(diagnostics));
    }
    let bare = surface(points.clone(), &[], &mut diagnostics)?;
    let mut lines: Vec<Line> = Vec::new();
    let mut add = |places, closed| match Line::resolve(survey, places, closed, &bare) {
        Ok(line) => {
            lines.push(line);
            true
        }
        Err(diagnostic) => {
            diagnostics.push(diagnostic);
            false
        }
    };
    let has_outline = spec.outline.as_ref().is_some_and(|o| add(o, true));
    let mut num_holes = 0;
    for hole in &spec.holes {
        num_holes += usize::from(add(hole, true));
    }
    for breakline in &spec.breaklines {
        add(breakline, false);
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
    let (vertices, edges) = noded(&points, &lines, spec.crossings, &mut diagnostics)?;
    let plan: Vec<Point> = vertices.iter().map(|v| v.p).collect();
    let mut ends: Vec<[u32; 2]> = edges.iter().map(|e| [e.a, e.b]).collect();
    ends.dedup();
    let t = triangulate(&plan, &ends).map_err(|e| kernel_failure(&e.to_string()))?;
    let mut keep = vec![true; t.triangles.len()];
    // Marks number the lines: the outline first, then the holes.
    for (mark, _) in rings.iter().enumerate() {
        let is_outline = has_outline && mark == 0;
        let inside = odd_side(&t, |a, b| on_line(&edges, a, b, mark as u32));
        for (keep, inside) in keep.iter_mut().zip(inside) {
            *keep &= inside == is_outline;
        }
    }
    peel(
        &vertices,
        &t,
        spec.max_edge_m,
        has_outline,
        &mut keep,
        &mut diagnostics,
    );
    let triangles: Vec<[u32; 3]> = t
        .triangles
        .iter()
        .zip(&keep)
        .filter(|(_, keep)| **keep)
        .map(|(t, _)| *t)
        .collect();
    if triangles.is_empty() {
        return Err(
            Diagnostic::error("no-ground", "nothing is left of the ground")
                .help("check the outline, the holes and the longest edge")
                .into(),
        );
    }
    let outside = outside_shots(survey, &rings, has_outline);
    if outside > 0 {
        diagnostics.push(Diagnostic::note(
            "outside",
            format!("{outside} shots lie outside the outline or in a hole and are not used"),
        ));
    }
    let num_shots = survey.shots.len() - outside;
    let breaklines = lines
        .iter()
        .filter(|l| !l.closed)
        .map(|l| l.points.clone())
        .collect();
    let outline = has_outline.then(|| rings[0].clone());
    let holes = rings.split_off(usize::from(has_outline));
    debug_assert_eq!(holes.len(), num_holes);
    let surface = Surface::from_triangles(vertices, &triangles, GROUND)
        .map_err(|e| kernel_failure(&e.to_string()))?;
    let terrain = Terrain {
        surface,
        origin: survey.origin,
        outline,
        holes,
        breaklines,
        num_shots,
    };
    Ok((terrain, diagnostics))
}

fn kernel_failure(words: &str) -> Failure {
    Diagnostic::error(
        "ground",
        format!("the ground could not be triangulated: {words}"),
    )
    .help("this is a fault of the program; please report it with the survey")
    .into()
}

fn outside_shots(survey: &Survey, rings: &[crate::geom::Ring], has_outline: bool) -> usize {
    let is_outside = |p: Point| {
        rings.iter().enumerate().any(|(i, ring)| {
            let on_line = ring.corners().contains(&p);
            let is_outline = has_outline && i == 0;
            !on_line && ring.contains(p) != is_outline
        })
    };
    if rings.is_empty() {
        0
    } else {
        survey.shots.iter().filter(|s| is_outside(s.p)).count()
    }
}

/// Shots by place, each place once.
fn distinct(survey: &Survey, policy: Duplicates, diagnostics: &mut Vec<Diagnostic>) -> Vec<P3> {
    let mut by_place: BTreeMap<Point, Vec<usize>> = BTreeMap::new();
    for (i, shot) in survey.shots.iter().enumerate() {
        by_place.entry(shot.p).or_default().push(i);
    }
    let mut z_of: BTreeMap<Point, f64> = BTreeMap::new();
    for (&p, shots) in &by_place {
        let first = &survey.shots[shots[0]];
        let heights = shots.iter().map(|&i| survey.shots[i].z_m);
        let low = heights.clone().fold(f64::INFINITY, f64::min);
        let high = heights.clone().fold(f64::NEG_INFINITY, f64::max);
        let mut z = first.z_m;
        if shots.len() > 1 {
            let names: Vec<&str> = shots
                .iter()
                .map(|&i| survey.shots[i].name.as_str())
                .collect();
            let words = format!(
                "shots {} are at one place, {:.3} m apart in height",
                names.join(", "),
                high - low
            );
            let mut diagnostic = match policy {
                Duplicates::Refuse if high - low > LEVEL_TOLERANCE_M => {
                    Diagnostic::error("two-heights", words).help(
                        "take the wrong one out, or say in [ground]: \
                         duplicates = \"first\" or \"mean\"",
                    )
                }
                Duplicates::Mean => {
                    z = heights.sum::<f64>() / shots.len() as f64;
                    Diagnostic::warn("same-place", format!("{words}; their mean is used"))
                }
                _ => Diagnostic::warn("same-place", format!("{words}; the first is used")),
            };
            for &i in shots {
                diagnostic = diagnostic.at(survey.shots[i].at.clone());
            }
            diagnostics.push(diagnostic);
        }
        z_of.insert(p, z);
    }
    // In the order they were shot, so that vertices can be told by their number.
    survey
        .shots
        .iter()
        .filter_map(|shot| z_of.remove(&shot.p).map(|z| P3 { p: shot.p, z }))
        .collect()
}

/// A surface over bare points.
fn surface(
    points: Vec<P3>,
    edges: &[[u32; 2]],
    diagnostics: &mut Vec<Diagnostic>,
) -> Result<Surface, Failure> {
    let plan: Vec<Point> = points.iter().map(|p| p.p).collect();
    let t = triangulate(&plan, edges).map_err(|e| kernel_failure(&e.to_string()))?;
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
        diagnostics.push(
            Diagnostic::error("no-surface", words)
                .help("shoot points to the left and right of the line as well"),
        );
        return Err(Failure(std::mem::take(diagnostics)));
    }
    Surface::from_triangulation(points, &t, GROUND).map_err(|e| kernel_failure(&e.to_string()))
}

/// Points and lines noded together; crossings get a height.
fn noded(
    points: &[P3],
    lines: &[Line],
    policy: Crossings,
    diagnostics: &mut Vec<Diagnostic>,
) -> Result<(Vec<P3>, Vec<NodedEdge>), Failure> {
    let mut vertices = points.to_vec();
    let mut index: BTreeMap<Point, u32> = points
        .iter()
        .enumerate()
        .map(|(i, p)| (p.p, i as u32))
        .collect();
    let mut segments = Vec::new();
    for (mark, line) in lines.iter().enumerate() {
        for (a, b) in line.pieces() {
            let mut at = |p: P3| {
                *index.entry(p.p).or_insert_with(|| {
                    vertices.push(p);
                    vertices.len() as u32 - 1
                })
            };
            let (a, b) = (at(a), at(b));
            if a != b {
                segments.push(Segment {
                    a,
                    b,
                    mark: mark as u32,
                });
            }
        }
    }
    let plan: Vec<Point> = vertices.iter().map(|v| v.p).collect();
    let noding = node(&plan, &segments).map_err(|e| kernel_failure(&e.to_string()))?;
    for &q in &noding.points[plan.len()..] {
        let found: Vec<(f64, &Line)> = lines
            .iter()
            .filter_map(|line| line.z_at(q).map(|z| (z, line)))
            .collect();
        let low = found.iter().map(|f| f.0).fold(f64::INFINITY, f64::min);
        let high = found.iter().map(|f| f.0).fold(f64::NEG_INFINITY, f64::max);
        let z = found.iter().map(|f| f.0).sum::<f64>() / found.len().max(1) as f64;
        if high - low > LEVEL_TOLERANCE_M {
            let words = format!(
                "two lines cross {:.3} m apart in height near {:.2}, {:.2} m from the local origin",
                high - low,
                q.x_m(),
                q.y_m()
            );
            let mut diagnostic = match policy {
                Crossings::Refuse => Diagnostic::error("crossing-lines", words).help(
                    "shoot the crossing and put it on both lines, or say in [ground]: \
                     crossings = \"mean\"",
                ),
                Crossings::Mean => {
                    Diagnostic::warn("crossing-lines", format!("{words}; the mean is used"))
                }
            };
            for (_, line) in &found {
                diagnostic = diagnostic.at(line.at.clone());
            }
            diagnostics.push(diagnostic);
        }
        vertices.push(P3 { p: q, z });
    }
    if has_error(diagnostics) {
        return Err(Failure(std::mem::take(diagnostics)));
    }
    // An edge of several lines must answer for each of them: keep one entry per line.
    let mut edges = noding.edges;
    let shared: Vec<NodedEdge> = edges.iter().filter(|e| e.marked > 1).copied().collect();
    for edge in shared {
        for (mark, line) in lines.iter().enumerate() {
            let [a, b] = [edge.a, edge.b].map(|v| vertices[v as usize].p);
            if line.z_at(a).is_some() && line.z_at(b).is_some() && mark as u32 != edge.mark {
                edges.push(NodedEdge {
                    mark: mark as u32,
                    ..edge
                });
            }
        }
    }
    edges.sort_unstable_by_key(|e| (e.a, e.b, e.mark));
    Ok((vertices, edges))
}

fn on_line(edges: &[NodedEdge], a: u32, b: u32, mark: u32) -> bool {
    edges
        .binary_search_by_key(&(a.min(b), a.max(b), mark), |e| (e.a, e.b, e.mark))
        .is_ok()
}

/// Takes triangles off the rim: too long ones, and slivers of absurd slope.
fn peel(
    vertices: &[P3],
    t: &Triangulation,
    max_edge_m: Option<f64>,
    has_outline: bool,
    keep: &mut [bool],
    diagnostics: &mut Vec<Diagnostic>,
) {
    let too_long = |tri: [u32; 3]| {
        max_edge_m.is_some_and(|limit| {
            (0..3).any(|k| {
                let (a, b) = (
                    vertices[tri[k] as usize].p,
                    vertices[tri[(k + 1) % 3] as usize].p,
                );
                distance_m(a, b) > limit
            })
        })
    };
    let too_steep = |tri: [u32; 3]| {
        let [a, b, c] = tri.map(|v| vertices[v as usize]);
        !has_outline && Plane::through(a, b, c).steepness() > STEEPEST_GROUND
    };
    let (mut long, mut steep) = (0, 0);
    let mut rim: Vec<u32> = (0..t.triangles.len() as u32).collect();
    while let Some(i) = rim.pop() {
        let i = i as usize;
        let is_rim = t.neighbours[i]
            .iter()
            .any(|&n| n == Triangulation::NONE || !keep[n as usize]);
        if !keep[i] || !is_rim {
            continue;
        }
        let (is_long, is_steep) = (too_long(t.triangles[i]), too_steep(t.triangles[i]));
        if is_long || is_steep {
            keep[i] = false;
            long += usize::from(is_long);
            steep += usize::from(!is_long);
            rim.extend(
                t.neighbours[i]
                    .iter()
                    .filter(|&&n| n != Triangulation::NONE),
            );
        }
    }
    if long > 0 {
        diagnostics.push(Diagnostic::note(
            "longest-edge",
            format!(
                "{long} triangles at the rim have an edge longer than the limit and were taken off"
            ),
        ));
    }
    if steep > 0 {
        diagnostics.push(Diagnostic::note(
            "rim-slivers",
            format!("{steep} slivers between shots almost in line were taken off the rim"),
        ));
    }
}
