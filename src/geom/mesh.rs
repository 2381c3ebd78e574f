//! A Delaunay triangulation that grows point by point.

use super::circle::in_circle;
use super::point::{Point, orient_sign};

/// Triangles over points that are put in one by one. Beyond the hull lie triangles to a corner
/// at infinity, so that a point outside is like any other.
///
/// Exact, and the same whatever the order of the points (see [`in_circle`]). 48 bytes a point.
/// The points themselves stay with the caller, who hands in how to look them up.
///
/// # Source
///
/// A. Bowyer, "Computing Dirichlet tessellations", and D. F. Watson, "Computing the
/// n-dimensional Delaunay tessellation", The Computer Journal 24 (1981), 162-172
#[derive(Clone, Debug, Default)]
pub(crate) struct Mesh {
    corners: Vec<[u32; 3]>,
    /// `neighbours[t][k]` lies across the edge from corner `k` to corner `k + 1`.
    neighbours: Vec<[u32; 3]>,
    /// Triangles the last point put in did away with; their places were taken by new ones.
    gone: Vec<u32>,
    /// Triangles round the last point put in.
    fan: Vec<u32>,
    open: Vec<(u32, usize)>,
    border: Vec<Border>,
}

/// An edge of the hole a new point makes, counter-clockwise: its first corner, and what lies
/// beyond.
#[derive(Clone, Copy, Debug)]
struct Border {
    from: u32,
    beyond: u32,
    side: usize,
}

/// What a place is found in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Spot {
    /// A triangle that holds the place, on its rim or inside.
    In(u32),
    /// Beyond the hull, before an edge that sees it.
    Beyond(u32),
}

impl Mesh {
    /// The corner at infinity. It is the last one of its triangles.
    pub(crate) const INFINITY: u32 = u32::MAX;

    /// The triangle of three points that do not lie on one line, with room for `points`.
    pub(crate) fn new(at: &impl Fn(u32) -> Point, [a, b, c]: [u32; 3], points: usize) -> Mesh {
        let (b, c) = if orient_sign(at(a), at(b), at(c)) > 0 {
            (b, c)
        } else {
            (c, b)
        };
        let far = Mesh::INFINITY;
        let mut mesh = Mesh {
            corners: Vec::with_capacity(2 * points),
            neighbours: Vec::with_capacity(2 * points),
            ..Mesh::default()
        };
        mesh.corners
            .extend([[a, b, c], [b, a, far], [c, b, far], [a, c, far]]);
        mesh.neighbours
            .extend([[1, 2, 3], [0, 3, 2], [0, 1, 3], [0, 2, 1]]);
        mesh
    }

    /// Number of triangles, those to infinity included.
    pub(crate) fn num_triangles(&self) -> usize {
        self.corners.len()
    }

    /// Corners of a triangle, counter-clockwise.
    pub(crate) fn corners(&self, t: u32) -> [u32; 3] {
        self.corners[t as usize]
    }

    /// Triangles across the edges of a triangle.
    pub(crate) fn neighbours(&self, t: u32) -> [u32; 3] {
        self.neighbours[t as usize]
    }

    /// True beyond the hull.
    pub(crate) fn is_beyond(&self, t: u32) -> bool {
        self.corners[t as usize][2] == Mesh::INFINITY
    }

    /// Where the last point was put in: ids of the triangles that are gone. All of them are in
    /// use again.
    pub(crate) fn gone(&self) -> &[u32] {
        &self.gone
    }

    /// Triangles round the last point that was put in, counter-clockwise.
    pub(crate) fn fan(&self) -> &[u32] {
        &self.fan
    }

    /// Walks from a triangle to a place.
    ///
    /// # Cost
    ///
    /// that of the triangles between. The walk ends in every Delaunay triangulation: L. De
    /// Floriani et al., "On sorting triangles in a Delaunay tessellation", Algorithmica 6
    /// (1991), 522-532
    pub(crate) fn locate(&self, at: &impl Fn(u32) -> Point, p: Point, near: u32) -> Spot {
        let mut t = near;
        if self.is_beyond(t) {
            t = self.neighbours[t as usize][0];
        }
        'walk: loop {
            let corners = self.corners[t as usize];
            let [a, b, c] = corners.map(at);
            for (k, (from, to)) in [(a, b), (b, c), (c, a)].into_iter().enumerate() {
                if orient_sign(from, to, p) < 0 {
                    t = self.neighbours[t as usize][k];
                    if self.is_beyond(t) {
                        return Spot::Beyond(t);
                    }
                    continue 'walk;
                }
            }
            return Spot::In(t);
        }
    }

    /// Puts in a point that is at no other's place; the triangle is known that holds or sees it.
    /// Gives a triangle at it.
    pub(crate) fn insert_in(&mut self, at: &impl Fn(u32) -> Point, v: u32, start: u32) -> u32 {
        let p = at(v);
        self.hollow(at, p, start);
        // As many edges as triangles that are gone, and two more.
        self.fan.clear();
        self.fan.extend_from_slice(&self.gone);
        for _ in 0..2 {
            self.fan.push(self.corners.len() as u32);
            self.corners.push([v; 3]);
            self.neighbours.push([0; 3]);
        }
        let count = self.border.len();
        for i in 0..count {
            let Border { from, beyond, side } = self.border[i];
            let to = self.border[(i + 1) % count].from;
            let t = self.fan[i];
            let before = self.fan[(i + count - 1) % count];
            let after = self.fan[(i + 1) % count];
            let (corners, around) = if to == Mesh::INFINITY {
                ([v, from, to], [before, beyond, after])
            } else if from == Mesh::INFINITY {
                ([to, v, from], [after, before, beyond])
            } else {
                ([from, to, v], [beyond, after, before])
            };
            self.corners[t as usize] = corners;
            self.neighbours[t as usize] = around;
            self.neighbours[beyond as usize][side] = t;
        }
        self.fan[count - 1]
    }

    /// Finds the triangles that a point does away with and the edges round them. They hang
    /// together without a ring, so a walk round them meets the edges in their order.
    fn hollow(&mut self, at: &impl Fn(u32) -> Point, p: Point, start: u32) {
        self.gone.clear();
        self.border.clear();
        self.open.clear();
        self.gone.push(start);
        self.open.extend([(start, 2), (start, 1), (start, 0)]);
        while let Some((t, k)) = self.open.pop() {
            let beyond = self.neighbours[t as usize][k];
            let corners = self.corners[t as usize];
            let (from, to) = (corners[k], corners[(k + 1) % 3]);
            let other = self.corners[beyond as usize];
            let side = if other[0] == to {
                0
            } else if other[1] == to {
                1
            } else {
                2
            };
            if self.is_hit(at, p, other) {
                self.gone.push(beyond);
                self.open.push((beyond, (side + 2) % 3));
                self.open.push((beyond, (side + 1) % 3));
            } else {
                self.border.push(Border { from, beyond, side });
            }
        }
    }

    /// True if a point lies in the circle round a triangle; beyond the hull, if it is seen by
    /// its edge or lies on it.
    fn is_hit(&self, at: &impl Fn(u32) -> Point, p: Point, [a, b, c]: [u32; 3]) -> bool {
        let (a, b) = (at(a), at(b));
        if c != Mesh::INFINITY {
            return in_circle(a, b, at(c), p);
        }
        match orient_sign(a, b, p) {
            0 => (a.min(b)..a.max(b)).contains(&p),
            sign => sign > 0,
        }
    }

    /// The triangles without those to infinity, whose places the last ones take.
    pub(crate) fn into_triangles(mut self, none: u32) -> (Vec<[u32; 3]>, Vec<[u32; 3]>) {
        let mut end = self.corners.len();
        let mut t = 0;
        while t < end {
            if self.corners[t][2] != Mesh::INFINITY {
                t += 1;
                continue;
            }
            for n in self.neighbours[t] {
                if n != none {
                    let back = &mut self.neighbours[n as usize];
                    back.iter_mut()
                        .filter(|b| **b == t as u32)
                        .for_each(|b| *b = none);
                }
            }
            end -= 1;
            if t < end {
                self.corners[t] = self.corners[end];
                self.neighbours[t] = self.neighbours[end];
                for n in self.neighbours[t] {
                    if n != none {
                        let back = &mut self.neighbours[n as usize];
                        back.iter_mut()
                            .filter(|b| **b == end as u32)
                            .for_each(|b| *b = t as u32);
                    }
                }
            }
        }
        self.corners.truncate(end);
        self.neighbours.truncate(end);
        (self.corners, self.neighbours)
    }
}
