//! Edges of a surface that are lines: those it was told to follow, and those where parts meet.
//!
//! Takes a surface with its lines, gives marked edges and the lines they join to. So a line that
//! was dug away is none any more, and every line runs along edges.

use std::collections::BTreeSet;

use crate::geom::{Point, orient};
use crate::surface::{HEIGHT_TOLERANCE_UNITS, Surface};

use super::Leaving;

/// A corner within this of a line lies on it, nanometres: lines are snapped to the lattice where
/// they cross, and features are cut off where they meet the ground.
const ON_LINE_NM: f64 = HEIGHT_TOLERANCE_UNITS;

/// Edges on lines, each with its lower vertex first.
pub(super) fn marked(leaving: &Leaving) -> BTreeSet<[u32; 2]> {
    let surface = leaving.surface;
    let mut edges = BTreeSet::new();
    for f in surface.facets() {
        let v = surface.vertex_ids(f);
        for (k, n) in surface.neighbours(f).into_iter().enumerate() {
            if n != Surface::NONE && surface.label(n) != surface.label(f) {
                edges.insert(edge(v[k], v[(k + 1) % 3]));
            }
        }
    }
    let beside = Point::new(ON_LINE_NM as i64, ON_LINE_NM as i64);
    for side in leaving.breaklines.iter().flat_map(|line| line.windows(2)) {
        let (a, b) = (side[0].p, side[1].p);
        let low = Point::new(a.x.min(b.x) - beside.x, a.y.min(b.y) - beside.y);
        let high = Point::new(a.x.max(b.x) + beside.x, a.y.max(b.y) + beside.y);
        for f in surface.facets_in(low, high) {
            let v = surface.vertex_ids(f);
            let on = surface.corners(f).map(|c| is_on(c.p, a, b));
            for k in 0..3 {
                if on[k] && on[(k + 1) % 3] {
                    edges.insert(edge(v[k], v[(k + 1) % 3]));
                }
            }
        }
    }
    edges
}

/// The bits of a facet's edges in a set: 1, 2 and 4 for the edges from its first, second and
/// third corner on.
pub(super) fn bits(edges: &BTreeSet<[u32; 2]>, v: [u32; 3]) -> u32 {
    (0..3)
        .filter(|&k| edges.contains(&edge(v[k], v[(k + 1) % 3])))
        .map(|k| 1 << k)
        .sum()
}

fn edge(a: u32, b: u32) -> [u32; 2] {
    [a.min(b), a.max(b)]
}

/// True if a place lies on a side, ends included.
fn is_on(p: Point, a: Point, b: Point) -> bool {
    let along = |from: Point, to: Point| {
        let (x, y) = ((to.x - from.x) as f64, (to.y - from.y) as f64);
        x.hypot(y)
    };
    let length = along(a, b);
    if length <= 0.0 {
        return false;
    }
    let beside = orient(a, b, p) as f64 / length;
    let dot = i128::from(p.x - a.x) * i128::from(b.x - a.x)
        + i128::from(p.y - a.y) * i128::from(b.y - a.y);
    let station = dot as f64 / length;
    beside.abs() <= ON_LINE_NM && (-ON_LINE_NM..=length + ON_LINE_NM).contains(&station)
}
