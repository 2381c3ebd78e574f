//! Noding: cuts segments at their crossings and snaps them to the lattice, until no two
//! segments cross and no point lies on the inside of a segment.
//!
//! Takes points and segments by index, gives the points (with the crossings added) and the
//! pieces. Afterwards the pieces can be handed to a triangulator as constraints that never cross.
//!
//! # Source
//!
//! iterated snap rounding: J. Hershberger, "Stable snap rounding", Computational
//! Geometry 46 (2013), 403-416, after D. Greene and F. Yao, "Finite-resolution computational
//! geometry", 27th FOCS (1986); D. Halperin and E. Packer, "Iterated snap rounding",
//! Computational Geometry 23 (2002), 209-225.

use std::collections::HashMap;

use super::point::{Point, orient, orient_sign};

/// A segment between two points of the list handed to [`node`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Segment {
    /// Index of one end.
    pub a: u32,
    /// Index of the other end.
    pub b: u32,
    /// A mark of the caller's, carried to every piece; [`Segment::UNMARKED`] for none.
    pub mark: u32,
}

impl Segment {
    /// No mark.
    pub const UNMARKED: u32 = u32::MAX;

    /// A segment without a mark.
    pub fn new(a: u32, b: u32) -> Segment {
        Segment {
            a,
            b,
            mark: Segment::UNMARKED,
        }
    }
}

/// A piece of one or more segments, `a < b`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NodedEdge {
    /// Index of the lower end.
    pub a: u32,
    /// Index of the upper end.
    pub b: u32,
    /// The mark of a marked segment that runs here, or [`Segment::UNMARKED`].
    pub mark: u32,
    /// How many marked segments run here.
    pub marked: u32,
}

/// The result of [`node`].
#[derive(Clone, Debug, Default)]
pub struct Noding {
    /// The input points, then the crossings.
    pub points: Vec<Point>,
    /// Pieces, sorted by ends, each once.
    pub edges: Vec<NodedEdge>,
    /// Rounds that were needed.
    pub rounds: u32,
}

/// Why noding gave up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NodingError {
    /// The arrangement did not come to rest within a fixed number of rounds.
    #[error("lines lie so close together that they cannot be told apart on the nanometre lattice")]
    Unsettled {
        /// A place where it still moved.
        at: Point,
    },
}

/// Rounds after which noding gives up; three or four are usual, hard bundles need about ten.
const MAX_ROUNDS: u32 = 64;

/// Nodes segments over distinct points.
///
/// # Input
///
/// `points` without duplicates; segments of non-zero length
/// # Errors
///
/// [`NodingError::Unsettled`]
/// # Cost
///
/// O(n + k) for segments of about equal length, k pairs that share a grid cell
pub fn node(points: &[Point], segments: &[Segment]) -> Result<Noding, NodingError> {
    let mut points = points.to_vec();
    let mut index: HashMap<Point, u32> = points
        .iter()
        .enumerate()
        .map(|(i, &p)| (p, i as u32))
        .collect();
    let mut edges = merge(segments.iter().map(|s| NodedEdge {
        a: s.a.min(s.b),
        b: s.a.max(s.b),
        mark: s.mark,
        marked: u32::from(s.mark != Segment::UNMARKED),
    }));
    for round in 1..=MAX_ROUNDS {
        let mut cuts = find_cuts(&mut points, &mut index, &edges);
        if cuts.is_empty() {
            return Ok(Noding {
                points,
                edges,
                rounds: round,
            });
        }
        cuts.sort_unstable();
        cuts.dedup();
        if round == MAX_ROUNDS {
            return Err(NodingError::Unsettled {
                at: points[cuts[0].1 as usize],
            });
        }
        edges = cut(&points, &edges, &cuts);
    }
    unreachable!("the loop returns in its last round")
}

/// One cut: (edge, point).
type Cut = (u32, u32);

fn find_cuts(
    points: &mut Vec<Point>,
    index: &mut HashMap<Point, u32>,
    edges: &[NodedEdge],
) -> Vec<Cut> {
    let mut cuts = Vec::new();
    let Some(grid) = Grid::new(points, edges) else {
        return cuts;
    };
    let edge_cells = grid.edge_cells(points, edges);
    // All crossings first: every edge must bend round the new points in the same round, or
    // it could be jumped over.
    for cell in edge_cells.chunk_by(|a, b| a.0 == b.0) {
        for (k, &(_, i)) in cell.iter().enumerate() {
            for &(_, j) in &cell[k + 1..] {
                cross(points, index, edges, i, j, &mut cuts);
            }
        }
    }
    let point_cells = grid.point_cells(points);
    let mut v = 0;
    for cell in edge_cells.chunk_by(|a, b| a.0 == b.0) {
        v += point_cells[v..]
            .iter()
            .take_while(|c| c.0 < cell[0].0)
            .count();
        for &(_, point) in point_cells[v..].iter().take_while(|c| c.0 == cell[0].0) {
            for &(_, edge) in cell {
                if meets_pixel(points, edges[edge as usize], point) {
                    cuts.push((edge, point));
                }
            }
        }
    }
    cuts
}

/// True if the edge passes through the unit square round the point, of which the left and the
/// lower side count as inside; its own ends aside.
fn meets_pixel(points: &[Point], edge: NodedEdge, point: u32) -> bool {
    if point == edge.a || point == edge.b {
        return false;
    }
    let (a, b, p) = (
        points[edge.a as usize],
        points[edge.b as usize],
        points[point as usize],
    );
    // Ends are lattice points, so none lies on the border of a pixel.
    if p.x < a.x.min(b.x) || p.x > a.x.max(b.x) || p.y < a.y.min(b.y) || p.y > a.y.max(b.y) {
        return false;
    }
    let (dx, dy) = (b.x - a.x, b.y - a.y);
    let (px, py) = (p.x - a.x, p.y - a.y);
    // Twice the cross product at the centre; at a corner it differs by the half sides.
    let (left, right) = (px as f64 * dy as f64, py as f64 * dx as f64);
    let reach = dx.abs() as f64 + dy.abs() as f64;
    if (left - right).abs() > reach + (left.abs() + right.abs()) * 1.0e-15 {
        return false;
    }
    let (dx, dy) = (i128::from(dx), i128::from(dy));
    let centre = 2 * (dx * i128::from(py) - dy * i128::from(px));
    let corners = [
        centre - dx + dy,
        centre - dx - dy,
        centre + dx - dy,
        centre + dx + dy,
    ];
    let [lower_left, ..] = corners;
    let above = corners.iter().any(|&c| c > 0);
    let below = corners.iter().any(|&c| c < 0);
    (above && below) || lower_left == 0
}

/// Adds the crossing of two edges, if they cross properly, to the cuts of both.
fn cross(
    points: &mut Vec<Point>,
    index: &mut HashMap<Point, u32>,
    edges: &[NodedEdge],
    i: u32,
    j: u32,
    cuts: &mut Vec<Cut>,
) {
    let (s, t) = (edges[i as usize], edges[j as usize]);
    if s.a == t.a || s.a == t.b || s.b == t.a || s.b == t.b {
        return;
    }
    let (a, b) = (points[s.a as usize], points[s.b as usize]);
    let (c, d) = (points[t.a as usize], points[t.b as usize]);
    if a.x.max(b.x) < c.x.min(d.x)
        || c.x.max(d.x) < a.x.min(b.x)
        || a.y.max(b.y) < c.y.min(d.y)
        || c.y.max(d.y) < a.y.min(b.y)
    {
        return;
    }
    if orient_sign(a, b, c) * orient_sign(a, b, d) >= 0
        || orient_sign(c, d, a) * orient_sign(c, d, b) >= 0
    {
        return;
    }
    let q = crossing(a, b, c, d);
    let q = *index.entry(q).or_insert_with(|| {
        points.push(q);
        (points.len() - 1) as u32
    });
    if q != s.a && q != s.b {
        cuts.push((i, q));
    }
    if q != t.a && q != t.b {
        cuts.push((j, q));
    }
}

/// The lattice point nearest to the crossing of two properly crossing segments.
fn crossing(a: Point, b: Point, c: Point, d: Point) -> Point {
    let at_a = orient(c, d, a) as f64;
    let at_b = orient(c, d, b) as f64;
    let t = at_a / (at_a - at_b);
    // From the nearer end, so that the rounding of t costs least.
    if t <= 0.5 {
        Point::new(
            a.x + (t * (b.x - a.x) as f64).round() as i64,
            a.y + (t * (b.y - a.y) as f64).round() as i64,
        )
    } else {
        let u = at_b / (at_b - at_a);
        Point::new(
            b.x + (u * (a.x - b.x) as f64).round() as i64,
            b.y + (u * (a.y - b.y) as f64).round() as i64,
        )
    }
}

/// Replaces each edge by its pieces between the cuts, in order along the edge.
fn cut(points: &[Point], edges: &[NodedEdge], cuts: &[Cut]) -> Vec<NodedEdge> {
    let mut pieces = Vec::with_capacity(edges.len() + cuts.len());
    let mut next = 0;
    let mut chain: Vec<u32> = Vec::new();
    for (i, edge) in edges.iter().enumerate() {
        chain.clear();
        while next < cuts.len() && cuts[next].0 as usize == i {
            chain.push(cuts[next].1);
            next += 1;
        }
        let (a, b) = (points[edge.a as usize], points[edge.b as usize]);
        let (dx, dy) = (i128::from(b.x - a.x), i128::from(b.y - a.y));
        chain.sort_unstable_by_key(|&v| {
            let p = points[v as usize];
            (i128::from(p.x - a.x) * dx + i128::from(p.y - a.y) * dy, v)
        });
        let mut from = edge.a;
        for &to in chain.iter().chain(std::iter::once(&edge.b)) {
            pieces.push(NodedEdge {
                a: from.min(to),
                b: from.max(to),
                ..*edge
            });
            from = to;
        }
    }
    merge(pieces.into_iter())
}

/// Sorts pieces and joins those with the same ends.
fn merge(pieces: impl Iterator<Item = NodedEdge>) -> Vec<NodedEdge> {
    let mut pieces: Vec<NodedEdge> = pieces.filter(|p| p.a != p.b).collect();
    pieces.sort_unstable_by_key(|p| (p.a, p.b, p.mark));
    pieces.dedup_by(|next, kept| {
        let same = next.a == kept.a && next.b == kept.b;
        if same {
            // Sorted by mark: the kept one is marked if any is.
            kept.marked += next.marked;
        }
        same
    });
    pieces
}

/// A grid of about one edge a cell, to find neighbours.
struct Grid {
    low: Point,
    size: i64,
    columns: u64,
    rows: u64,
}

impl Grid {
    fn new(points: &[Point], edges: &[NodedEdge]) -> Option<Grid> {
        let mut ends = edges
            .iter()
            .flat_map(|e| [points[e.a as usize], points[e.b as usize]]);
        let first = ends.next()?;
        let (mut low, mut high) = (first, first);
        for p in ends {
            low = Point::new(low.x.min(p.x), low.y.min(p.y));
            high = Point::new(high.x.max(p.x), high.y.max(p.y));
        }
        let low = Point::new(low.x - 4, low.y - 4);
        let extent = ((high.x - low.x).max(high.y - low.y) + 8) as f64;
        let per_side = (edges.len() as f64).sqrt().clamp(1.0, 4096.0);
        let size = (extent / per_side).ceil().max(8.0) as i64;
        Some(Grid {
            low,
            size,
            columns: ((high.x - low.x + 8) / size + 1) as u64,
            rows: ((high.y - low.y + 8) / size + 1) as u64,
        })
    }

    fn column(&self, x: i64) -> u64 {
        (((x - self.low.x).max(0) / self.size) as u64).min(self.columns - 1)
    }

    fn row(&self, y: i64) -> u64 {
        (((y - self.low.y).max(0) / self.size) as u64).min(self.rows - 1)
    }

    /// (cell, edge), sorted.
    fn edge_cells(&self, points: &[Point], edges: &[NodedEdge]) -> Vec<(u64, u32)> {
        let mut edge_cells = Vec::with_capacity(edges.len() * 3);
        for (i, edge) in edges.iter().enumerate() {
            let (mut a, mut b) = (points[edge.a as usize], points[edge.b as usize]);
            if a.x > b.x {
                std::mem::swap(&mut a, &mut b);
            }
            // Two units of padding: snapping looks one unit aside, rounding takes the other.
            let (first, last) = (self.column(a.x - 2), self.column(b.x + 2));
            for column in first..=last {
                let (y0, y1) = if first == last {
                    (a.y, b.y)
                } else {
                    let left = self.low.x + column as i64 * self.size - 2;
                    let right = left + self.size + 4;
                    let at = |x: i64| {
                        let t = (x - a.x) as f64 / (b.x - a.x).max(1) as f64;
                        a.y + (t.clamp(0.0, 1.0) * (b.y - a.y) as f64).round() as i64
                    };
                    (at(left), at(right))
                };
                for row in self.row(y0.min(y1) - 3)..=self.row(y0.max(y1) + 3) {
                    edge_cells.push((row * self.columns + column, i as u32));
                }
            }
        }
        edge_cells.sort_unstable();
        edge_cells
    }

    /// (cell, point), sorted; points off the grid left out.
    fn point_cells(&self, points: &[Point]) -> Vec<(u64, u32)> {
        let inside = |p: Point| {
            p.x >= self.low.x
                && p.y >= self.low.y
                && p.x <= self.low.x + self.columns as i64 * self.size
                && p.y <= self.low.y + self.rows as i64 * self.size
        };
        let mut point_cells: Vec<(u64, u32)> = points
            .iter()
            .enumerate()
            .filter(|(_, p)| inside(**p))
            .map(|(i, p)| (self.row(p.y) * self.columns + self.column(p.x), i as u32))
            .collect();
        point_cells.sort_unstable();
        point_cells
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// No two pieces cross, no point lies on the inside of a piece.
    fn assert_noded(noding: &Noding) {
        let at = |i: u32| noding.points[i as usize];
        for (k, s) in noding.edges.iter().enumerate() {
            for t in &noding.edges[k + 1..] {
                let (a, b, c, d) = (at(s.a), at(s.b), at(t.a), at(t.b));
                assert!(
                    orient_sign(a, b, c) * orient_sign(a, b, d) >= 0
                        || orient_sign(c, d, a) * orient_sign(c, d, b) >= 0,
                    "{s:?} crosses {t:?}"
                );
            }
            for v in 0..noding.points.len() as u32 {
                assert!(!meets_pixel(&noding.points, *s, v), "{v} lies on {s:?}");
            }
        }
    }

    #[test]
    fn bundles_of_lines_come_to_rest() {
        let mut seed = 7u64;
        let mut next = |range: i64| {
            seed = seed
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (seed >> 33) as i64 % range
        };
        for (spread, height) in [
            (50, 50),
            (30, 30),
            (100_000, 3),
            (1_000_000_000, 1_000_000_000),
        ] {
            for _ in 0..40 {
                let mut points: Vec<Point> = Vec::new();
                let mut segments = Vec::new();
                for _ in 0..40 {
                    let mut end = || {
                        let p = Point::new(next(spread), next(height));
                        points.iter().position(|&q| q == p).unwrap_or_else(|| {
                            points.push(p);
                            points.len() - 1
                        }) as u32
                    };
                    let (a, b) = (end(), end());
                    if a != b {
                        segments.push(Segment::new(a, b));
                    }
                }
                assert_noded(&node(&points, &segments).unwrap());
            }
        }
    }
}
