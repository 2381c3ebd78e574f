//! The edges that are kept: those between different sources, straightened.

use std::collections::BTreeSet;

use crate::geom::{Point, Segment, Triangulation, orient};

use super::Winner;
use super::arrangement::Sorted;

/// Vertices this many lattice units off the chord between their neighbours only cut it in two.
/// Rounding takes 0.71 units, snapping in further rounds the rest.
pub(super) const STRAIGHT_UNITS: f64 = 2.0;

/// What lies on one side of a kept edge.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    Of(Winner),
    /// Behind the rim with this number.
    Rim(u32),
}

/// An edge between two different sources.
#[derive(Clone, Copy)]
pub(super) struct KeptEdge {
    pub(super) ends: [u32; 2],
    /// Left and right, walking from the first end to the second.
    pub(super) sides: [Side; 2],
    pub(super) mark: u32,
}

/// The edges kept, by vertex.
pub(super) struct Kept {
    pub(super) edges: Vec<KeptEdge>,
    /// (vertex, edge), sorted.
    pub(super) at: Vec<(u32, u32)>,
}

impl Kept {
    pub(super) fn new(sorted: &Sorted) -> Kept {
        let t = &sorted.triangulation;
        let mut edges = Vec::new();
        for (i, tri) in t.triangles.iter().enumerate() {
            let Some(winner) = sorted.winners[i] else {
                continue;
            };
            for k in 0..3 {
                let (a, b) = (tri[k], tri[(k + 1) % 3]);
                let n = t.neighbours[i][k];
                let other = if n == Triangulation::NONE {
                    None
                } else {
                    sorted.winners[n as usize]
                };
                match other {
                    Some(other) if other == winner => {}
                    Some(other) => {
                        if a < b {
                            edges.push(KeptEdge {
                                ends: [a, b],
                                sides: [Side::Of(winner), Side::Of(other)],
                                mark: Segment::UNMARKED,
                            });
                        }
                    }
                    None => {
                        let mark = sorted
                            .noding
                            .edge(a, b)
                            .map_or(Segment::UNMARKED, |e| e.mark);
                        edges.push(KeptEdge {
                            ends: [a, b],
                            sides: [Side::Of(winner), Side::Rim(mark)],
                            mark,
                        });
                    }
                }
            }
        }
        let mut at: Vec<(u32, u32)> = edges
            .iter()
            .enumerate()
            .flat_map(|(i, e)| e.ends.map(|v| (v, i as u32)))
            .collect();
        at.sort_unstable();
        Kept { edges, at }
    }

    pub(super) fn around(&self, vertex: u32) -> &[(u32, u32)] {
        let from = self.at.partition_point(|&(v, _)| v < vertex);
        let len = self.at[from..]
            .iter()
            .take_while(|&&(v, _)| v == vertex)
            .count();
        &self.at[from..from + len]
    }

    /// The edge a line goes on with after `edge` at `vertex`, if it only passes through there.
    pub(super) fn onward(
        &self,
        points: &[Point],
        fixed: &BTreeSet<Point>,
        edge: u32,
        vertex: u32,
    ) -> Option<u32> {
        let &[(_, e), (_, f)] = self.around(vertex) else {
            return None;
        };
        let next = if e == edge { f } else { e };
        let (one, two) = (&self.edges[edge as usize], &self.edges[next as usize]);
        let rim = one.mark != Segment::UNMARKED || two.mark != Segment::UNMARKED;
        if rim && fixed.contains(&points[vertex as usize]) {
            return None;
        }
        let before = if one.ends[1] == vertex {
            one.sides
        } else {
            [one.sides[1], one.sides[0]]
        };
        let after = if two.ends[0] == vertex {
            two.sides
        } else {
            [two.sides[1], two.sides[0]]
        };
        (before == after).then_some(next)
    }

    /// Walks all lines of edges with the same sources on their sides and hands on their straight
    /// stretches.
    pub(super) fn chains(
        &self,
        points: &[Point],
        fixed: &BTreeSet<Point>,
        mut stretch: impl FnMut(Point, Point, u32),
    ) {
        let mut done = vec![false; self.edges.len()];
        for start in 0..self.edges.len() as u32 {
            if done[start as usize] {
                continue;
            }
            // Back to the beginning of the line, or once round a closed one.
            let (mut edge, mut tail) = (start, self.edges[start as usize].ends[0]);
            while let Some(before) = self.onward(points, fixed, edge, tail) {
                if before == start {
                    break;
                }
                edge = before;
                let ends = self.edges[edge as usize].ends;
                tail = if ends[0] == tail { ends[1] } else { ends[0] };
            }
            let mark = self.edges[edge as usize].mark;
            let mut line = vec![points[tail as usize]];
            let mut at = tail;
            loop {
                done[edge as usize] = true;
                let ends = self.edges[edge as usize].ends;
                at = if ends[0] == at { ends[1] } else { ends[0] };
                line.push(points[at as usize]);
                match self.onward(points, fixed, edge, at) {
                    Some(next) if !done[next as usize] => edge = next,
                    _ => break,
                }
            }
            straighten(&line, |a, b| stretch(a, b, mark));
        }
    }
}

/// Longest stretches whose inner points lie within [`STRAIGHT_UNITS`] of the chord.
pub(super) fn straighten(line: &[Point], mut stretch: impl FnMut(Point, Point)) {
    let mut from = 0;
    while from + 1 < line.len() {
        let mut to = from + 1;
        while to + 1 < line.len() && is_straight(&line[from..=to + 1]) {
            to += 1;
        }
        stretch(line[from], line[to]);
        from = to;
    }
}

pub(super) fn is_straight(line: &[Point]) -> bool {
    let (a, b) = (line[0], line[line.len() - 1]);
    let (dx, dy) = ((b.x - a.x) as f64, (b.y - a.y) as f64);
    let length = dx.hypot(dy);
    line[1..line.len() - 1].iter().all(|&p| {
        let along = (p.x - a.x) as f64 * dx + (p.y - a.y) as f64 * dy;
        orient(a, b, p).unsigned_abs() as f64 <= STRAIGHT_UNITS * length
            && along > 0.0
            && along < length * length
    })
}
