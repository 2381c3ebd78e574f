//! Rings that reach beyond the shots: what of them lies within.
//!
//! Takes a ring of which some corners lie where no height is known, gives the ring round what it
//! has in common with the ground over the bare shots. Beyond the outermost shots there is no
//! ground that an outline could end or a hole could take away.

use std::collections::BTreeMap;

use crate::diag::{At, Diagnostic};
use crate::geom::{P3, Point, Ring, Segment, Triangulation, node, odd_side, triangulate};
use crate::surface::Surface;
use crate::survey::PlacedShot;

/// Marks of the sides that are noded.
const RING: u32 = 0;
const HULL: u32 = 1;

/// The ring round the places that a ring and the bare ground share, with heights.
///
/// # Errors
///
/// no area in common, or several
pub(super) fn within(
    placed: &[PlacedShot],
    bare: &Surface,
    at: &At,
) -> Result<Vec<P3>, Diagnostic> {
    let mut corners: Vec<Point> = placed.iter().map(|place| place.p).collect();
    corners.dedup();
    if corners.len() > 1 && corners.first() == corners.last() {
        corners.pop();
    }
    let ring = Ring::new(&corners).map_err(|fault| super::lines::bad_outline(&fault, at))?;
    let hull = hull_of(bare);
    let mut points: Vec<Point> = Vec::new();
    let mut index: BTreeMap<Point, u32> = BTreeMap::new();
    let mut enter = |p: Point| {
        *index.entry(p).or_insert_with(|| {
            points.push(p);
            points.len() as u32 - 1
        })
    };
    let mut segments: Vec<Segment> = Vec::new();
    let hull_sides = hull.iter().map(|[a, b]| (a.p, b.p, HULL));
    for (a, b, mark) in ring.sides().map(|(a, b)| (a, b, RING)).chain(hull_sides) {
        let (a, b) = (enter(a), enter(b));
        segments.push(Segment { a, b, mark });
    }
    let internal = |words: String| {
        Diagnostic::error("ground", format!("this outline could not be cut: {words}"))
            .at(at.clone())
            .help("name shots as its corners, or move them inside the shots")
    };
    let noded = node(&points, &segments).map_err(|e| internal(e.to_string()))?;
    let edges: Vec<[u32; 2]> = noded.edges.iter().map(|e| [e.a, e.b]).collect();
    let t = triangulate(&noded.points, &edges).map_err(|e| internal(e.to_string()))?;
    let inside = |mark: u32| {
        odd_side(&t, |a, b| {
            noded.edge(a, b).is_some_and(|edge| {
                let marks = noded.marks_of(edge).iter();
                marks.filter(|m| **m == mark).count() % 2 == 1
            })
        })
    };
    let keep: Vec<bool> = inside(RING)
        .into_iter()
        .zip(inside(HULL))
        .map(|(ring, hull)| ring && hull)
        .collect();
    let rim = rim_of(&t, &keep).ok_or_else(|| {
        let message = "this outline reaches beyond the shots, and what it has in common with the \
                       ground between them is not one area";
        Diagnostic::error("no-height", message)
            .at(at.clone())
            .help("shoot its corners, or move them inside the shots")
    })?;
    let known: BTreeMap<Point, f64> = placed
        .iter()
        .filter_map(|place| Some((place.p, place.z_m?)))
        .collect();
    Ok(rim
        .into_iter()
        .map(|v| {
            let p = noded.points[v as usize];
            let z = known.get(&p).copied();
            let z = z
                .or_else(|| bare.z_at(p))
                .unwrap_or_else(|| on_hull(&hull, p));
            P3 { p, z }
        })
        .collect())
}

/// Sides of the bare ground, counter-clockwise.
fn hull_of(bare: &Surface) -> Vec<[P3; 2]> {
    bare.facets()
        .flat_map(|f| {
            let (corners, neighbours) = (bare.corners(f), bare.neighbours(f));
            (0..3)
                .filter(move |&k| neighbours[k] == Surface::NONE)
                .map(move |k| [corners[k], corners[(k + 1) % 3]])
        })
        .collect()
}

/// The rim of the kept triangles as one closed line; `None` if there is none, or several.
fn rim_of(t: &Triangulation, keep: &[bool]) -> Option<Vec<u32>> {
    let mut next: BTreeMap<u32, u32> = BTreeMap::new();
    for (corners, neighbours) in t
        .triangles
        .iter()
        .zip(&t.neighbours)
        .zip(keep)
        .filter_map(|(both, keep)| keep.then_some(both))
    {
        for k in 0..3 {
            let beyond = neighbours[k];
            if beyond != Triangulation::NONE && keep[beyond as usize] {
                continue;
            }
            // Two ways on from one place: areas that touch.
            if next.insert(corners[k], corners[(k + 1) % 3]).is_some() {
                return None;
            }
        }
    }
    let (&start, _) = next.first_key_value()?;
    let mut rim = vec![start];
    let mut v = next.remove(&start)?;
    while v != start {
        rim.push(v);
        v = next.remove(&v)?;
    }
    next.is_empty().then_some(rim)
}

/// Height of a place that rounding has put a hair beyond the hull: along its nearest side.
fn on_hull(hull: &[[P3; 2]], p: Point) -> f64 {
    let mut best = (f64::INFINITY, 0.0);
    for [a, b] in hull {
        let [dx, dy] = b.p.relative_m(a.p);
        let [x, y] = p.relative_m(a.p);
        let along = ((x * dx + y * dy) / (dx * dx + dy * dy)).clamp(0.0, 1.0);
        let off_m = (x - along * dx).hypot(y - along * dy);
        if off_m < best.0 {
            best = (off_m, a.z + along * (b.z - a.z));
        }
    }
    debug_assert!(best.0 < 1.0e-6, "{} m off the hull", best.0);
    best.1
}
