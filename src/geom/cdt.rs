//! Constrained Delaunay triangulation of noded edges.
//!
//! The only place that calls the triangulator. Its constraints never cross, since they come
//! from [`super::node`]; a conflict it reports all the same is an error, never ignored.

use spade::{ConstrainedDelaunayTriangulation, HasPosition, Point2, Triangulation as _};

use super::delaunay::delaunay;
use super::point::Point;

/// Triangles over a list of points, counter-clockwise, with their neighbours.
#[derive(Clone, Debug, Default)]
pub struct Triangulation {
    /// Corners as indices into the points.
    pub triangles: Vec<[u32; 3]>,
    /// `neighbours[t][k]` lies across the edge from corner `k` to corner `k + 1`;
    /// [`Triangulation::NONE`] outside the hull.
    pub neighbours: Vec<[u32; 3]>,
}

impl Triangulation {
    /// No triangle.
    pub const NONE: u32 = u32::MAX;

    /// The triangles to be kept alone, in their order.
    pub(crate) fn kept(mut self, keep: &[bool]) -> Triangulation {
        let mut count = 0;
        let mut number = Vec::with_capacity(keep.len());
        for &keep in keep {
            number.push(if keep { count } else { Triangulation::NONE });
            count += u32::from(keep);
        }
        for n in self.neighbours.iter_mut().flatten() {
            // No triangle has no number either.
            *n = number.get(*n as usize).copied().unwrap_or(*n);
        }
        let mut stays = keep.iter();
        self.triangles.retain(|_| stays.next() == Some(&true));
        let mut stays = keep.iter();
        self.neighbours.retain(|_| stays.next() == Some(&true));
        self
    }
}

/// Why a triangulation could not be made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CdtError {
    /// Two constraints cross: they were not noded. A defect of the program.
    #[error("two constraint lines cross")]
    Conflict,
    /// The points lie more than [`MAX_EXTENT_NM`] apart.
    #[error("the points lie more than 4,500 km apart")]
    BadCoordinate,
}

/// Farthest that points may lie apart in either direction: 2^52 nm, some 4,500 km. Up to there
/// coordinates relative to any of the points are whole numbers below 2^53, exact in `f64`.
pub const MAX_EXTENT_NM: i64 = 1 << 52;

struct Site(Point2<f64>);

impl HasPosition for Site {
    type Scalar = f64;
    fn position(&self) -> Point2<f64> {
        self.0
    }
}

/// Triangulates the convex hull of distinct points, with every edge in it.
///
/// # Errors
///
/// [`CdtError`]; fewer than three points or all on a line give no triangles
/// # Cost
///
/// O(n log n)
/// # Source
///
/// bulk loading and constraint insertion of the `spade` crate
pub fn triangulate(points: &[Point], edges: &[[u32; 2]]) -> Result<Triangulation, CdtError> {
    if points.is_empty() {
        return Ok(Triangulation::default());
    }
    if extent_nm(points) > i128::from(MAX_EXTENT_NM) {
        return Err(CdtError::BadCoordinate);
    }
    if edges.is_empty() {
        return delaunay(points).ok_or(CdtError::Conflict);
    }
    triangulate_with_spade(points, edges)
}

/// The same through `spade`, which takes lines between points as well.
pub(super) fn triangulate_with_spade(
    points: &[Point],
    edges: &[[u32; 2]],
) -> Result<Triangulation, CdtError> {
    let Some(&first) = points.first() else {
        return Ok(Triangulation::default());
    };
    let sites = points
        .iter()
        .map(|p| Site(Point2::new((p.x - first.x) as f64, (p.y - first.y) as f64)))
        .collect();
    let constraints = edges
        .iter()
        .map(|&[a, b]| [a as usize, b as usize])
        .collect();
    let mut conflicts = 0usize;
    let cdt =
        ConstrainedDelaunayTriangulation::<Site>::try_bulk_load_cdt(sites, constraints, |_| {
            conflicts += 1
        })
        .map_err(|_| CdtError::BadCoordinate)?;
    if conflicts > 0 || cdt.num_vertices() != points.len() {
        return Err(CdtError::Conflict);
    }
    let count = cdt.num_inner_faces();
    let mut triangles = Vec::with_capacity(count);
    let mut neighbours = Vec::with_capacity(count);
    for face in cdt.inner_faces() {
        triangles.push(face.vertices().map(|v| v.index() as u32));
        // Inner faces are numbered after the outer one.
        neighbours.push(face.adjacent_edges().map(|edge| {
            edge.rev()
                .face()
                .as_inner()
                .map_or(Triangulation::NONE, |f| f.index() as u32 - 1)
        }));
    }
    Ok(Triangulation {
        triangles,
        neighbours,
    })
}

/// The longer side of the box round the points.
fn extent_nm(points: &[Point]) -> i128 {
    let side = |along: fn(&Point) -> i64| {
        let (low, high) = points
            .iter()
            .map(along)
            .fold((i64::MAX, i64::MIN), |(low, high), v| {
                (low.min(v), high.max(v))
            });
        i128::from(high) - i128::from(low)
    };
    side(|p| p.x).max(side(|p| p.y))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::orient_sign;

    #[test]
    fn points_too_far_apart_are_refused() {
        let far =
            |x: i64| triangulate(&[Point::new(x, 0), Point::new(0, 1), Point::new(1, 7)], &[]);
        assert_eq!(far(MAX_EXTENT_NM).unwrap().triangles.len(), 1);
        for x in [MAX_EXTENT_NM + 1, -MAX_EXTENT_NM, i64::MAX, i64::MIN] {
            assert_eq!(far(x).unwrap_err(), CdtError::BadCoordinate);
        }
    }

    #[test]
    fn neighbours_lie_across_their_edge() {
        let points: Vec<Point> = (0..30)
            .map(|i| Point::new(i * i * 7 % 101, i * 13 % 97))
            .collect();
        let t = triangulate(&points, &[[0, 5]]).unwrap();
        for (k, tri) in t.triangles.iter().enumerate() {
            assert_eq!(
                orient_sign(
                    points[tri[0] as usize],
                    points[tri[1] as usize],
                    points[tri[2] as usize]
                ),
                1
            );
            for side in 0..3 {
                let n = t.neighbours[k][side];
                if n != Triangulation::NONE {
                    let (a, b) = (tri[side], tri[(side + 1) % 3]);
                    let other = t.triangles[n as usize];
                    assert!(other.contains(&a) && other.contains(&b));
                }
            }
        }
        assert!(
            t.triangles
                .iter()
                .any(|tri| tri.contains(&0) && tri.contains(&5))
        );
    }
}
