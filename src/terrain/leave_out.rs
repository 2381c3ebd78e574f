//! What the ground would be at a shot without that shot.
//!
//! Takes the ground, gives for every vertex the neighbours that would hold it, with weights.
//! The weights know places only: one and the same [`Guess`] serves any heights.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use crate::geom::{P3, Point, distance_m, orient, orient_sign};

use super::Terrain;
use super::fan::Fans;

/// Farthest a vertex of a line may stand off the straight between its neighbours, as a share of
/// that straight, to count as a place along it. Farther out it is a bend.
const BEND: f64 = 0.2;

/// The height at a place from shots round it: a weighted mean.
#[derive(Clone, Debug, PartialEq)]
pub struct Guess {
    /// Vertices with their weights, which add up to one.
    pub weights: Vec<(u32, f64)>,
    /// Weighted distance to them, metres.
    pub distance_m: f64,
}

impl Guess {
    fn new(weights: Vec<(u32, f64)>, vertices: &[P3], p: Point) -> Guess {
        let distance_m = weights
            .iter()
            .map(|&(v, weight)| weight.abs() * distance_m(vertices[v as usize].p, p))
            .sum();
        Guess {
            weights,
            distance_m,
        }
    }

    /// The height guessed, from the heights of the vertices.
    pub fn z_m(&self, z_of: impl Fn(u32) -> f64) -> f64 {
        self.weights
            .iter()
            .map(|&(v, weight)| weight * z_of(v))
            .sum()
    }
}

/// What the neighbours of every vertex say of its place.
#[derive(Clone, Debug, Default)]
pub struct LeaveOut {
    /// By vertex; empty for a dense scan. `None` at the rim: beyond the other shots nothing is known, unless a line
    /// runs through the vertex; where a line ends or bends; where a vertex belongs to no facet.
    pub guesses: Vec<Option<Guess>>,
}

impl LeaveOut {
    /// Takes out each vertex in turn, closes the hole it leaves with triangles between its
    /// neighbours, and finds the one over its place. On a line the height between the neighbours
    /// along it is taken.
    ///
    /// # Cost
    ///
    /// O(n log d) for n vertices with d neighbours each
    /// # Source
    ///
    /// order of the ears: O. Devillers, "On deletion in Delaunay triangulations", 15th Annual
    /// Symposium on Computational Geometry (1999), 181-188 (from memory)
    pub fn of(terrain: &Terrain) -> LeaveOut {
        if terrain.is_dense() {
            return LeaveOut::default();
        }
        let surface = &terrain.surface;
        let fans = Fans::new(surface);
        let lines = terrain.line_neighbours();
        let mut hole = Hole {
            vertices: surface.vertices(),
            ring: Vec::new(),
            heap: BinaryHeap::new(),
            next: Vec::new(),
            back: Vec::new(),
        };
        let mut ring = Vec::new();
        let guesses = (0..surface.vertices().len() as u32)
            .map(|v| {
                let is_closed = fans.ring(v, &mut ring);
                match lines[v as usize].as_slice() {
                    [] if is_closed => hole.inside(v, &ring),
                    &[a, b] => hole.along(v, a, b),
                    // The end of a line, or where several meet.
                    _ => None,
                }
            })
            .collect();
        LeaveOut { guesses }
    }

    /// Height of a vertex above what its neighbours say, metres.
    pub fn residual_m(&self, vertices: &[P3], v: u32) -> Option<f64> {
        let guess = self.guesses[v as usize].as_ref()?;
        Some(vertices[v as usize].z - guess.z_m(|u| vertices[u as usize].z))
    }
}

/// The hole a vertex leaves; its buffers serve one hole after the other.
struct Hole<'a> {
    vertices: &'a [P3],
    ring: Vec<u32>,
    heap: BinaryHeap<Ear>,
    next: Vec<u32>,
    back: Vec<u32>,
}

impl Hole<'_> {
    fn p(&self, v: u32) -> Point {
        self.vertices[v as usize].p
    }

    /// At a vertex of a line between its neighbours `a` and `b` on it: at the foot of the place
    /// on the straight between them. The triangle over the place would lean on the shots of one
    /// side, which may be the foot of a bank.
    fn along(&self, v: u32, a: u32, b: u32) -> Option<Guess> {
        let p = self.p(v);
        let (share, off) = self.foot(a, b, p);
        (off <= BEND && (0.0..=1.0).contains(&share)).then(|| self.between(a, b, share, p))
    }

    /// Where a place lies beside the line from `a` to `b`, and how far off it, as shares of it.
    fn foot(&self, a: u32, b: u32, p: Point) -> (f64, f64) {
        let [bx, by] = self.p(b).relative_m(self.p(a));
        let [px, py] = p.relative_m(self.p(a));
        let square = bx * bx + by * by;
        (
            (px * bx + py * by) / square,
            (px * by - py * bx).abs() / square,
        )
    }

    fn between(&self, a: u32, b: u32, share: f64, p: Point) -> Guess {
        Guess::new(vec![(a, 1.0 - share), (b, share)], self.vertices, p)
    }

    /// In a ring that can be seen all round from the place of `v`: ears are cut off the ring
    /// until the triangle over the place is left.
    fn inside(&mut self, v: u32, ring: &[u32]) -> Option<Guess> {
        let p = self.p(v);
        let n = ring.len() as u32;
        if n < 3 {
            return None;
        }
        self.ring.clear();
        self.ring.extend_from_slice(ring);
        self.next.clear();
        self.next.extend((0..n).map(|k| (k + 1) % n));
        self.back.clear();
        self.back.extend((0..n).map(|k| (k + n - 1) % n));
        self.heap.clear();
        for k in 0..n {
            self.add_ear(k, p);
        }
        let mut left = n;
        let mut last = 0;
        while left > 3 {
            let ear = self.heap.pop()?;
            let (before, after) = (self.back[ear.at as usize], self.next[ear.at as usize]);
            // A neighbour was cut off since.
            if [before, after] != ear.beside {
                continue;
            }
            let (a, c) = (self.ring[before as usize], self.ring[after as usize]);
            if orient_sign(self.p(a), self.p(c), p) == 0 {
                let (share, _) = self.foot(a, c, p);
                return Some(self.between(a, c, share, p));
            }
            self.next[before as usize] = after;
            self.back[after as usize] = before;
            // Never again the neighbour of anything.
            self.next[ear.at as usize] = u32::MAX;
            left -= 1;
            last = before;
            self.add_ear(before, p);
            self.add_ear(after, p);
        }
        let middle = self.next[last as usize];
        let corners = [last, middle, self.next[middle as usize]].map(|k| self.ring[k as usize]);
        let [a, b, c] = corners.map(|v| self.p(v));
        let all = orient(a, b, c) as f64;
        let parts = [orient(b, c, p), orient(c, a, p), orient(a, b, p)].map(|o| o as f64 / all);
        let weights = corners.into_iter().zip(parts).collect();
        Some(Guess::new(weights, self.vertices, p))
    }

    /// Enters a corner of the ring that can be cut off with the place still inside.
    fn add_ear(&mut self, at: u32, p: Point) {
        let beside = [self.back[at as usize], self.next[at as usize]];
        let [a, b, c] = [beside[0], at, beside[1]].map(|k| self.p(self.ring[k as usize]));
        if orient_sign(a, b, c) <= 0 || orient_sign(a, c, p) < 0 {
            return;
        }
        let [a, b, c] = [a, b, c].map(|q| q.relative_m(p));
        let cross = |u: [f64; 2], w: [f64; 2]| u[0] * w[1] - u[1] * w[0];
        let square = |u: [f64; 2]| u[0] * u[0] + u[1] * u[1];
        let parts = [cross(b, c), cross(c, a), cross(a, b)];
        let power = (square(a) * parts[0] + square(b) * parts[1] + square(c) * parts[2])
            / (parts[0] + parts[1] + parts[2]);
        self.heap.push(Ear { power, at, beside });
    }
}

/// A corner of the ring with its two neighbours.
struct Ear {
    /// Of the place with respect to the circle through the three, turned round: the smallest
    /// is an ear of the Delaunay triangulation.
    power: f64,
    at: u32,
    beside: [u32; 2],
}

impl Ord for Ear {
    /// The smallest power comes first out of a heap.
    fn cmp(&self, other: &Ear) -> Ordering {
        other
            .power
            .total_cmp(&self.power)
            .then_with(|| other.at.cmp(&self.at))
    }
}

impl PartialOrd for Ear {
    fn partial_cmp(&self, other: &Ear) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Ear {
    fn eq(&self, other: &Ear) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Ear {}
