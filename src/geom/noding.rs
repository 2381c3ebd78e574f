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

use super::grid::Grid;
use super::map::PointMap;
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
    /// The lowest mark of the segments that run here, or [`Segment::UNMARKED`].
    pub mark: u32,
    /// How many marked segments run here; [`Noding::marks_of`] gives their marks.
    pub marked: u32,
    first_mark: u32,
    /// True if the last round made it.
    is_new: bool,
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
    marks: Vec<u32>,
}

impl Noding {
    /// The piece between two points, in either order.
    pub fn edge(&self, a: u32, b: u32) -> Option<&NodedEdge> {
        self.edges
            .binary_search_by_key(&(a.min(b), a.max(b)), |e| (e.a, e.b))
            .ok()
            .map(|i| &self.edges[i])
    }

    /// The marks of all marked segments that run on a piece, sorted; one for each segment.
    pub fn marks_of(&self, edge: &NodedEdge) -> &[u32] {
        let first = edge.first_mark as usize;
        &self.marks[first..first + edge.marked as usize]
    }
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
    let mut work = Work {
        points: points.to_vec(),
        index: PointMap::default(),
    };
    let (mut edges, mut marks) = merge(segments.iter().map(|&s| (s, true)).collect());
    for round in 1..=MAX_ROUNDS {
        let mut cuts = work.find_cuts(&edges, round == 1);
        if cuts.is_empty() {
            return Ok(Noding {
                points: work.points,
                edges,
                rounds: round,
                marks,
            });
        }
        cuts.sort_unstable();
        cuts.dedup();
        if round == MAX_ROUNDS {
            return Err(NodingError::Unsettled {
                at: work.points[cuts[0].1 as usize],
            });
        }
        (edges, marks) = cut(&work.points, &edges, &marks, &cuts);
    }
    unreachable!("the loop returns in its last round")
}

/// One cut: (edge, point).
type Cut = (u32, u32);

/// Points, and their numbers once a crossing has to be looked up.
struct Work {
    points: Vec<Point>,
    index: PointMap<u32>,
}

impl Work {
    /// Where edges must bend: at their crossings, and at points whose pixel they pass through.
    ///
    /// Edges that an earlier round left whole are sorted out with each other and with the points
    /// there were, so only new edges and new points are looked at.
    fn find_cuts(&mut self, edges: &[NodedEdge], is_first: bool) -> Vec<Cut> {
        let mut cuts = Vec::new();
        let lines: Vec<[Point; 2]> = edges
            .iter()
            .map(|e| [self.points[e.a as usize], self.points[e.b as usize]])
            .collect();
        let Some(grid) = Grid::new(&lines, lines.len().max(self.points.len())) else {
            return cuts;
        };
        let line_cells = grid.line_cells(&lines);
        let num_old = if is_first { 0 } else { self.points.len() };
        // All crossings first: every edge must bend round the new points in the same round, or
        // it could be jumped over.
        for cell in line_cells.iter() {
            for (k, &i) in cell.iter().enumerate() {
                let is_new = edges[i as usize].is_new;
                for &j in &cell[k + 1..] {
                    if (is_new || edges[j as usize].is_new)
                        && let Some(q) = crossing(lines[i as usize], lines[j as usize])
                    {
                        let q = self.number(q);
                        for e in [i, j] {
                            let edge = &edges[e as usize];
                            if q != edge.a && q != edge.b {
                                cuts.push((e, q));
                            }
                        }
                    }
                }
            }
        }
        let point_cells = grid.point_cells(&self.points);
        for (cell, points) in point_cells.iter().enumerate() {
            if points.is_empty() {
                continue;
            }
            for &i in line_cells.cell(cell) {
                let edge = &edges[i as usize];
                for &v in points {
                    if (edge.is_new || v as usize >= num_old)
                        && v != edge.a
                        && v != edge.b
                        && meets_pixel(lines[i as usize], self.points[v as usize])
                    {
                        cuts.push((i, v));
                    }
                }
            }
        }
        cuts
    }

    /// The number of a place; a new one for a new place.
    fn number(&mut self, p: Point) -> u32 {
        if self.index.is_empty() {
            let numbers = self.points.iter().enumerate();
            self.index = numbers.map(|(i, &p)| (p, i as u32)).collect();
        }
        let next = self.points.len() as u32;
        let number = *self.index.entry(p).or_insert(next);
        if number == next {
            self.points.push(p);
        }
        number
    }
}

/// True if a line passes through the unit square round a point that is none of its ends; the left
/// and the lower side of the square count as inside.
fn meets_pixel([a, b]: [Point; 2], p: Point) -> bool {
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

/// The lattice point nearest to the crossing of two lines, if they cross properly.
fn crossing([a, b]: [Point; 2], [c, d]: [Point; 2]) -> Option<Point> {
    if a.x.max(b.x) < c.x.min(d.x)
        || c.x.max(d.x) < a.x.min(b.x)
        || a.y.max(b.y) < c.y.min(d.y)
        || c.y.max(d.y) < a.y.min(b.y)
        || a == c
        || a == d
        || b == c
        || b == d
        || orient_sign(a, b, c) * orient_sign(a, b, d) >= 0
        || orient_sign(c, d, a) * orient_sign(c, d, b) >= 0
    {
        return None;
    }
    let at_a = orient(c, d, a) as f64;
    let at_b = orient(c, d, b) as f64;
    let t = at_a / (at_a - at_b);
    // From the nearer end, so that the rounding of t costs least.
    Some(if t <= 0.5 {
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
    })
}

/// Replaces each edge by its pieces between the cuts, in order along the edge.
fn cut(
    points: &[Point],
    edges: &[NodedEdge],
    marks: &[u32],
    cuts: &[Cut],
) -> (Vec<NodedEdge>, Vec<u32>) {
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
        let own = match edge.marked {
            0 => &[Segment::UNMARKED],
            n => &marks[edge.first_mark as usize..][..n as usize],
        };
        let is_new = !chain.is_empty();
        let mut from = edge.a;
        for &to in chain.iter().chain(std::iter::once(&edge.b)) {
            pieces.extend(own.iter().map(|&mark| {
                let piece = Segment {
                    a: from,
                    b: to,
                    mark,
                };
                (piece, is_new)
            }));
            from = to;
        }
    }
    merge(pieces)
}

/// Sorts pieces and joins those with the same ends; their marks, edge by edge. Each comes with
/// whether it is new.
fn merge(mut pieces: Vec<(Segment, bool)>) -> (Vec<NodedEdge>, Vec<u32>) {
    for (piece, _) in &mut pieces {
        (piece.a, piece.b) = (piece.a.min(piece.b), piece.a.max(piece.b));
    }
    pieces.retain(|(p, _)| p.a != p.b);
    pieces.sort_unstable_by_key(|(p, is_new)| (p.a, p.b, p.mark, *is_new));
    let mut marks = Vec::new();
    let mut edges = Vec::with_capacity(pieces.len());
    for same in pieces.chunk_by(|(p, _), (q, _)| (p.a, p.b) == (q.a, q.b)) {
        let first_mark = marks.len() as u32;
        let marked = same.iter().map(|(p, _)| p.mark);
        marks.extend(marked.filter(|&mark| mark != Segment::UNMARKED));
        let (first, _) = same[0];
        edges.push(NodedEdge {
            a: first.a,
            b: first.b,
            // The lowest: an edge is marked if any of its segments is.
            mark: first.mark,
            marked: marks.len() as u32 - first_mark,
            first_mark,
            is_new: same.iter().all(|&(_, is_new)| is_new),
        });
    }
    (edges, marks)
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
                let p = at(v);
                assert!(
                    v == s.a || v == s.b || !meets_pixel([at(s.a), at(s.b)], p),
                    "{v} lies on {s:?}"
                );
            }
        }
    }

    #[test]
    fn a_shared_piece_keeps_every_mark() {
        // Three segments on one line, the third crossed by a fourth without a mark.
        let points =
            [(0, 0), (10, 0), (20, 0), (30, 0), (25, -5), (25, 5)].map(|(x, y)| Point::new(x, y));
        let segment = |a, b, mark| Segment { a, b, mark };
        let segments = [
            segment(0, 2, 7),
            segment(3, 0, 4),
            segment(1, 2, 4),
            Segment::new(4, 5),
        ];
        let noding = node(&points, &segments).unwrap();
        assert_noded(&noding);
        let cross = noding.points.len() as u32 - 1;
        assert_eq!(noding.points[cross as usize], Point::new(25, 0));
        let marks = |a, b| noding.marks_of(noding.edge(a, b).unwrap());
        assert_eq!(marks(0, 1), [4, 7]);
        assert_eq!(marks(2, 1), [4, 4, 7]);
        assert_eq!(marks(2, cross), [4]);
        assert_eq!(marks(3, cross), [4]);
        assert!(marks(4, cross).is_empty());
        assert_eq!(noding.edge(0, 3), None);
        let shared = noding.edge(1, 2).unwrap();
        assert_eq!((shared.mark, shared.marked), (4, 3));
        assert_eq!(noding.edges.len(), 6);
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
