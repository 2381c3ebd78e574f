//! Simple polygons: faults, orientation, containment, triangulation.

use super::cdt::{Triangulation, triangulate};
use super::grid::Grid;
use super::noding::{Segment, node};
use super::point::{Point, distance_m, orient, orient_sign};

/// A closed line of at least three corners, the first not repeated, counter-clockwise.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ring(Vec<Point>);

/// Why a list of corners is no ring.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RingFault {
    /// Fewer than three different corners.
    #[error("it has fewer than three different corners")]
    TooFew,
    /// All corners lie on one line.
    #[error("its corners all lie on one line")]
    NoArea,
    /// Two sides meet where they should not; sides are counted from 0 at the first corner.
    #[error("its sides {} and {} cross or touch", first + 1, second + 1)]
    Crosses {
        /// A side.
        first: usize,
        /// Another side.
        second: usize,
    },
}

impl Ring {
    /// Checks corners and turns them counter-clockwise; repeated neighbours are joined.
    ///
    /// # Errors
    ///
    /// [`RingFault`]; of sides that cross the pair with the lowest numbers
    /// # Cost
    ///
    /// O(n + k) for sides of about equal length, k pairs that share a grid cell
    pub fn new(corners: &[Point]) -> Result<Ring, RingFault> {
        let mut ring: Vec<Point> = Vec::with_capacity(corners.len());
        for &p in corners {
            if ring.last() != Some(&p) {
                ring.push(p);
            }
        }
        while ring.len() > 1 && ring.first() == ring.last() {
            ring.pop();
        }
        if ring.len() < 3 {
            return Err(RingFault::TooFew);
        }
        if let Some((first, second)) = first_crossing(&ring) {
            return Err(RingFault::Crosses { first, second });
        }
        let area = twice_area(&ring);
        if area == 0 {
            return Err(RingFault::NoArea);
        }
        if area < 0 {
            ring.reverse();
        }
        Ok(Ring(ring))
    }

    /// The corners.
    pub fn corners(&self) -> &[Point] {
        &self.0
    }

    /// Sides as pairs of corners.
    pub fn sides(&self) -> impl Iterator<Item = (Point, Point)> + '_ {
        let n = self.0.len();
        (0..n).map(move |i| (self.0[i], self.0[(i + 1) % n]))
    }

    /// Area, square metres.
    pub fn area_m2(&self) -> f64 {
        twice_area(&self.0) as f64 / 2.0 / 1.0e18
    }

    /// Length of the line, metres.
    pub fn perimeter_m(&self) -> f64 {
        self.sides().map(|(a, b)| distance_m(a, b)).sum()
    }

    /// True inside and on the line.
    pub fn contains(&self, p: Point) -> bool {
        let mut inside = false;
        for (a, b) in self.sides() {
            let side = orient_sign(a, b, p);
            if side == 0 && dot(p, a, b) <= 0 {
                return true;
            }
            if (a.y > p.y) != (b.y > p.y) && (side > 0) == (b.y > a.y) {
                inside = !inside;
            }
        }
        inside
    }

    /// A point strictly inside.
    pub fn inner_point(&self) -> Point {
        let triangles = triangulate_rings(std::slice::from_ref(self)).unwrap_or_default();
        let largest = triangles.iter().max_by_key(|t| orient(t[0], t[1], t[2]));
        let t = largest.copied().unwrap_or([self.0[0]; 3]);
        Point::new(
            (t[0].x + t[1].x + t[2].x) / 3,
            (t[0].y + t[1].y + t[2].y) / 3,
        )
    }
}

/// The first two sides, by number, that meet anywhere but in a corner between them.
fn first_crossing(ring: &[Point]) -> Option<(usize, usize)> {
    let n = ring.len();
    let side = |i: usize| [ring[i], ring[(i + 1) % n]];
    // Neighbours may only share their common corner.
    let folds_back = |i: usize| {
        let (a, corner, b) = (ring[(i + n - 1) % n], ring[i], ring[(i + 1) % n]);
        orient_sign(a, corner, b) == 0 && dot(corner, a, b) > 0
    };
    let folds = (0..n)
        .filter(|&i| folds_back(i))
        .map(|i| if i == 0 { (0, n - 1) } else { (i - 1, i) });
    let mut first = folds.min();
    let lines: Vec<[Point; 2]> = (0..n).map(side).collect();
    let grid = Grid::new(&lines, n)?;
    for cell in grid.line_cells(&lines).iter() {
        for (k, &i) in cell.iter().enumerate() {
            for &j in &cell[k + 1..] {
                let pair = (i as usize, j as usize);
                let adjacent = pair.1 == pair.0 + 1 || pair == (0, n - 1);
                if !adjacent && first.is_none_or(|first| pair < first) {
                    let ([a, b], [c, d]) = (side(pair.0), side(pair.1));
                    if touches(a, b, c, d) {
                        first = Some(pair);
                    }
                }
            }
        }
    }
    first
}

fn dot(o: Point, a: Point, b: Point) -> i128 {
    i128::from(a.x - o.x) * i128::from(b.x - o.x) + i128::from(a.y - o.y) * i128::from(b.y - o.y)
}

fn twice_area(ring: &[Point]) -> i128 {
    (1..ring.len().saturating_sub(1))
        .map(|i| orient(ring[0], ring[i], ring[i + 1]))
        .sum()
}

/// True if two segments share any point.
fn touches(a: Point, b: Point, c: Point, d: Point) -> bool {
    if a.x.max(b.x) < c.x.min(d.x)
        || c.x.max(d.x) < a.x.min(b.x)
        || a.y.max(b.y) < c.y.min(d.y)
        || c.y.max(d.y) < a.y.min(b.y)
    {
        return false;
    }
    let (s, t) = (orient_sign(a, b, c), orient_sign(a, b, d));
    let (u, v) = (orient_sign(c, d, a), orient_sign(c, d, b));
    if s * t < 0 && u * v < 0 {
        return true;
    }
    (s == 0 && dot(c, a, b) <= 0)
        || (t == 0 && dot(d, a, b) <= 0)
        || (u == 0 && dot(a, c, d) <= 0)
        || (v == 0 && dot(b, c, d) <= 0)
}

/// Triangles that fill what an odd number of rings surround.
///
/// # Errors
///
/// `None` if the rings lie too close together to be told apart
pub fn triangulate_rings(rings: &[Ring]) -> Option<Vec<[Point; 3]>> {
    let mut points: Vec<Point> = rings
        .iter()
        .flat_map(|r| r.corners().iter().copied())
        .collect();
    points.sort_unstable();
    points.dedup();
    let at = |p: Point| points.binary_search(&p).map(|i| i as u32).ok();
    let mut segments = Vec::new();
    for (a, b) in rings.iter().flat_map(Ring::sides) {
        segments.push(Segment {
            a: at(a)?,
            b: at(b)?,
            mark: 0,
        });
    }
    let noding = node(&points, &segments).ok()?;
    let edges: Vec<[u32; 2]> = noding.edges.iter().map(|e| [e.a, e.b]).collect();
    let t = triangulate(&noding.points, &edges).ok()?;
    let inside = odd_side(&t, |a, b| {
        noding.edge(a, b).is_some_and(|e| e.marked % 2 == 1)
    });
    Some(
        t.triangles
            .iter()
            .zip(&inside)
            .filter(|(_, inside)| **inside)
            .map(|(t, _)| t.map(|v| noding.points[v as usize]))
            .collect(),
    )
}

/// Twice the area inside a ring of places, the first not repeated; positive when it runs
/// counter-clockwise (y up). The square of the unit of the places.
pub fn twice_area_of(ring: &[[f64; 2]]) -> f64 {
    let n = ring.len();
    (0..n)
        .map(|k| {
            let (a, b) = (ring[k], ring[(k + 1) % n]);
            a[0] * b[1] - a[1] * b[0]
        })
        .sum()
}

/// For each triangle: whether an odd number of the edges for which `is_line` holds lies
/// between it and the outside.
pub(crate) fn odd_side(t: &Triangulation, is_line: impl Fn(u32, u32) -> bool) -> Vec<bool> {
    let n = t.triangles.len();
    let mut side: Vec<Option<bool>> = vec![None; n];
    let mut stack: Vec<u32> = Vec::new();
    for start in 0..n {
        for k in 0..3 {
            if t.neighbours[start][k] == Triangulation::NONE && side[start].is_none() {
                let (a, b) = (t.triangles[start][k], t.triangles[start][(k + 1) % 3]);
                side[start] = Some(is_line(a, b));
                stack.push(start as u32);
            }
        }
        while let Some(at) = stack.pop() {
            let at = at as usize;
            for k in 0..3 {
                let next = t.neighbours[at][k];
                if next != Triangulation::NONE && side[next as usize].is_none() {
                    let (a, b) = (t.triangles[at][k], t.triangles[at][(k + 1) % 3]);
                    side[next as usize] = side[at].map(|s| s ^ is_line(a, b));
                    stack.push(next);
                }
            }
        }
    }
    side.into_iter().map(|s| s.unwrap_or(false)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring(corners: &[(i64, i64)]) -> Result<Ring, RingFault> {
        Ring::new(
            &corners
                .iter()
                .map(|&(x, y)| Point::new(x, y))
                .collect::<Vec<_>>(),
        )
    }

    #[test]
    fn rings_are_checked_and_turned() {
        let r = ring(&[(0, 0), (0, 10), (10, 10), (10, 0), (0, 0)]).unwrap();
        assert_eq!(r.corners().len(), 4);
        assert!(r.contains(Point::new(10, 5)) && r.contains(Point::new(5, 5)));
        assert!(!r.contains(Point::new(11, 5)) && !r.contains(Point::new(-1, 10)));
        assert_eq!(
            ring(&[(0, 0), (5, 5), (9, 9)]),
            Err(RingFault::Crosses {
                first: 0,
                second: 2
            })
        );
        assert!(matches!(
            ring(&[(0, 0), (10, 10), (10, 0), (0, 10)]),
            Err(RingFault::Crosses {
                first: 0,
                second: 2
            })
        ));
        assert_eq!(ring(&[(0, 0), (1, 1), (0, 0)]), Err(RingFault::TooFew));
    }

    /// Sides that meet, by trying every pair as the rule says: the oracle.
    fn slow_crossing(ring: &[Point]) -> Option<(usize, usize)> {
        let n = ring.len();
        let pairs = (0..n).flat_map(|i| (i + 1..n).map(move |j| (i, j)));
        pairs.into_iter().find(|&(i, j)| {
            let (a, b) = (ring[i], ring[(i + 1) % n]);
            let (c, d) = (ring[j], ring[(j + 1) % n]);
            if j == i + 1 {
                orient_sign(a, b, d) == 0 && dot(b, a, d) > 0
            } else if (i, j) == (0, n - 1) {
                orient_sign(c, a, b) == 0 && dot(a, b, c) > 0
            } else {
                touches(a, b, c, d)
            }
        })
    }

    #[test]
    fn the_first_crossing_is_that_of_every_pair_tried() {
        let mut seed = 3u64;
        let mut next = |range: i64| {
            seed = seed
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (seed >> 33) as i64 % range
        };
        let mut found = [0; 2];
        for round in 0..4000i64 {
            // Star-shaped rings, of which a few corners are moved, from tiny to continental.
            let n = 3 + next(40);
            let scale = [10, 1_000, 1_000_000_000, 1_i64 << 58][round as usize % 4];
            let mut corners: Vec<Point> = (0..n)
                .map(|i| {
                    let turn = std::f64::consts::TAU * i as f64 / n as f64;
                    let radius = scale as f64 * (0.5 + next(500) as f64 / 1000.0);
                    Point::new(
                        (radius * turn.cos()).round() as i64,
                        (radius * turn.sin()).round() as i64,
                    )
                })
                .collect();
            for _ in 0..next(3) {
                let (i, j) = (next(n) as usize, next(n) as usize);
                corners[i] = Point::new(corners[j].x + next(3) - 1, corners[i].y);
            }
            corners.dedup();
            if corners.len() < 3 || corners.first() == corners.last() {
                continue;
            }
            let want = slow_crossing(&corners);
            assert_eq!(first_crossing(&corners), want, "{corners:?}");
            found[usize::from(want.is_some())] += 1;
        }
        assert!(found.iter().all(|&count| count > 500), "{found:?}");
    }

    #[test]
    fn a_comb_of_many_teeth_is_checked() {
        // A comb of 10,000 teeth: every side meets only those beside it.
        let teeth = 10_000;
        let mut corners: Vec<Point> = (0..2 * teeth)
            .map(|i| Point::new(i * 1_000, 1_000_000 * (i % 2)))
            .collect();
        corners.push(Point::new(2 * teeth * 1_000, -1_000_000));
        corners.push(Point::new(0, -1_000_000));
        let ring = Ring::new(&corners).unwrap();
        assert_eq!(ring.corners().len(), 20_002);
        // The last tooth reaches back through the one before it.
        let last = 2 * teeth as usize - 1;
        corners[last] = Point::new(corners[last - 3].x, 900_000);
        assert_eq!(
            Ring::new(&corners),
            Err(RingFault::Crosses {
                first: last - 3,
                second: last - 1
            })
        );
    }

    #[test]
    fn rings_with_holes_fill() {
        let outer = ring(&[(0, 0), (100, 0), (100, 100), (0, 100)]).unwrap();
        let hole = ring(&[(20, 20), (40, 20), (40, 50), (20, 50)]).unwrap();
        let triangles = triangulate_rings(&[outer, hole]).unwrap();
        let area: i128 = triangles.iter().map(|t| orient(t[0], t[1], t[2])).sum();
        assert_eq!(area, 2 * (100 * 100 - 20 * 30));
    }
}
