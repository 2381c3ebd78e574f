//! What several areas cover together.

use std::collections::BTreeSet;

use super::cdt::{Triangulation, triangulate};
use super::chain::joined;
use super::noding::{Segment, node};
use super::point::Point;
use super::polygon::Ring;

/// What at least one of several areas covers.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Union {
    /// Triangles that do not overlap.
    pub triangles: Vec<[Point; 3]>,
    /// Lines along its edge, those that close with their first point again at the end.
    pub rims: Vec<Vec<Point>>,
}

impl Union {
    /// Areas joined, which may overlap, touch or repeat each other.
    ///
    /// # Errors
    ///
    /// `None` if their lines lie too close together to be told apart
    pub fn of(areas: &[Ring]) -> Option<Union> {
        Union::where_both(areas, None)
    }

    /// What at least one of some areas and one of others cover both.
    ///
    /// # Errors
    ///
    /// as [`Union::of`]
    pub fn overlap(some: &[Ring], others: &[Ring]) -> Option<Union> {
        Union::where_both(some, Some(others))
    }

    fn where_both(areas: &[Ring], others: Option<&[Ring]>) -> Option<Union> {
        let all = || areas.iter().chain(others.unwrap_or_default());
        let mut points: Vec<Point> = all().flat_map(|r| r.corners()).copied().collect();
        points.sort_unstable();
        points.dedup();
        if points.is_empty() {
            return Some(Union::default());
        }
        let at = |p: Point| points.binary_search(&p).map(|i| i as u32).ok();
        let mut segments = Vec::new();
        for (a, b) in all().flat_map(Ring::sides) {
            segments.push(Segment::new(at(a)?, at(b)?));
        }
        let noding = node(&points, &segments).ok()?;
        let edges: Vec<[u32; 2]> = noding.edges.iter().map(|e| [e.a, e.b]).collect();
        let t = triangulate(&noding.points, &edges).ok()?;
        let corners = |k: usize| t.triangles[k].map(|v| noding.points[v as usize]);
        let is_in: Vec<bool> = (0..t.triangles.len())
            .map(|k| {
                let [a, b, c] = corners(k);
                // No side runs through a triangle, so any place inside tells.
                let middle = Point::new((a.x + b.x + c.x) / 3, (a.y + b.y + c.y) / 3);
                let is_of = |rings: &[Ring]| rings.iter().any(|ring| ring.contains(middle));
                is_of(areas) && others.is_none_or(is_of)
            })
            .collect();
        let mut union = Union::default();
        let mut rim: BTreeSet<[u32; 2]> = BTreeSet::new();
        for (k, tri) in t.triangles.iter().enumerate().filter(|(k, _)| is_in[*k]) {
            union.triangles.push(corners(k));
            for side in 0..3 {
                let beyond = t.neighbours[k][side];
                if beyond == Triangulation::NONE || !is_in[beyond as usize] {
                    let (a, b) = (tri[side], tri[(side + 1) % 3]);
                    rim.insert([a.min(b), a.max(b)]);
                }
            }
        }
        let place = |v: u32| noding.points[v as usize];
        union.rims = joined(&rim)
            .into_iter()
            .map(|line| line.into_iter().map(place).collect())
            .collect();
        Some(union)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::orient;

    fn square(x: i64, y: i64, side: i64) -> Ring {
        Ring::new(
            &[(0, 0), (side, 0), (side, side), (0, side)].map(|(i, j)| Point::new(x + i, y + j)),
        )
        .unwrap()
    }

    #[test]
    fn what_overlaps_counts_once() {
        let union = Union::of(&[square(0, 0, 10), square(5, 5, 10), square(0, 0, 10)]).unwrap();
        let twice: i128 = union
            .triangles
            .iter()
            .map(|t| orient(t[0], t[1], t[2]))
            .sum();
        assert_eq!(twice, 2 * (100 + 100 - 25));
        assert_eq!(union.rims.len(), 1);
        assert_eq!(union.rims[0].first(), union.rims[0].last());
        let apart = Union::of(&[square(0, 0, 10), square(50, 0, 10)]).unwrap();
        assert_eq!((apart.triangles.len(), apart.rims.len()), (4, 2));
        let both = Union::overlap(&[square(0, 0, 12)], &[square(6, 6, 12), square(9, 3, 12)]);
        let both = both.unwrap().triangles;
        let twice: i128 = both.iter().map(|t| orient(t[0], t[1], t[2])).sum();
        assert_eq!(twice, 2 * (36 + 27 - 18));
    }
}
