//! A surface made ready for water: the fall of every facet, facets round every vertex, and marks
//! on what is asked after.

use std::collections::BTreeMap;

use crate::geom::{P3, Point, orient_sign};
use crate::surface::Surface;

use super::cut::{Line, cut};

/// Flatter than this is level, rise over run: a nanometre in a metre, the lattice itself.
const LEVEL_RISE_PER_RUN: f64 = 1.0e-9;

/// An edge that turns less than this away from the fall runs along it: rounding of the product.
const ALONG: f64 = 1.0e-12;

/// A number for a place that is asked after.
pub type Mark = u16;

/// Facets ready for water.
#[derive(Clone, Debug, Default)]
pub struct Tin {
    /// What plan positions count from.
    pub(super) base: Point,
    pub(super) vertices: Vec<P3>,
    /// Plan positions of the vertices from `base`, metres.
    pub(super) xy: Vec<[f64; 2]>,
    /// Corners of every facet, counter-clockwise.
    pub(super) corners: Vec<[u32; 3]>,
    /// Across the side from corner `k` to corner `k + 1`; [`Surface::NONE`] at the rim.
    pub(super) across: Vec<[u32; 3]>,
    /// East and north of the way water runs, its length the steepness; zero where it is level.
    pub(super) downhill: Vec<[f64; 2]>,
    /// The facet of the surface each one is, or is a piece of.
    pub(super) facet_of: Vec<u32>,
    /// The facet here for each of the surface; [`Surface::NONE`] where it was cut.
    number: Vec<u32>,
    /// Pieces of facets that were cut come from here on.
    first_piece: usize,
    left_out: bool,
    /// Where the facets round a vertex begin in `fan`.
    fan_start: Vec<u32>,
    fan: Vec<u32>,
    /// What a facet is marked with; empty if nothing is.
    marks: Vec<Option<Mark>>,
    /// What holds water that reaches it.
    takes: Vec<Mark>,
    /// Edges that lie on a marked line, lower vertex first.
    lines: BTreeMap<[u32; 2], Mark>,
    /// Marks of lines by vertex.
    line_vertices: BTreeMap<u32, Vec<Mark>>,
}

impl Tin {
    /// All facets of a surface.
    pub fn of(surface: &Surface) -> Tin {
        Tin::cut(surface, &[])
    }

    /// The same, cut along lines, so that a mark ends where its area ends. A line that cannot be
    /// told apart on the lattice from others is left out: then areas end at facets.
    ///
    /// # Cost
    ///
    /// O(n) for n facets, and that of a triangulation of those the lines touch
    pub fn cut(surface: &Surface, lines: &[Line]) -> Tin {
        let pieces = cut(surface, lines);
        let facets: Vec<u32> = surface
            .facets()
            .filter(|f| pieces.replaced.binary_search(f).is_err())
            .collect();
        let mut number = vec![Surface::NONE; surface.facet_slots()];
        for (k, &f) in facets.iter().enumerate() {
            number[f as usize] = k as u32;
        }
        let mut tin = Tin {
            vertices: surface.vertices().to_vec(),
            ..Tin::default()
        };
        tin.vertices.extend(&pieces.vertices);
        let all = facets.iter().map(|&f| (f, surface.vertex_ids(f)));
        for (f, corners) in all.chain(pieces.triangles.iter().copied()) {
            let plane = surface.source(f).plane;
            let is_level = plane.steepness() < LEVEL_RISE_PER_RUN;
            tin.corners.push(corners);
            tin.facet_of.push(f);
            tin.downhill.push(match is_level {
                true => [0.0; 2],
                false => plane.downhill(),
            });
        }
        let known = facets.iter().map(|&f| {
            let across = surface.neighbours(f);
            across.map(|n| match n {
                Surface::NONE => Surface::NONE,
                n => number[n as usize],
            })
        });
        tin.across = known.collect();
        tin.across.resize(tin.corners.len(), [Surface::NONE; 3]);
        tin.link(facets.len(), &pieces.replaced, surface, &number);
        tin.first_piece = facets.len();
        tin.number = number;
        tin.left_out = pieces.left_out;
        let first = tin.corners.first().map(|t| tin.vertices[t[0] as usize].p);
        tin.base = first.unwrap_or_default();
        tin.xy = tin
            .vertices
            .iter()
            .map(|v| v.p.relative_m(tin.base))
            .collect();
        tin.make_fans();
        for (edge, mark) in pieces.lines {
            tin.mark_edge(edge, mark);
        }
        tin
    }

    /// Finds neighbours of the pieces, which come after `first`, among each other and among the
    /// facets round what they replace.
    fn link(&mut self, first: usize, replaced: &[u32], surface: &Surface, number: &[u32]) {
        let mut open: BTreeMap<[u32; 2], (u32, usize)> = BTreeMap::new();
        for &f in replaced {
            for n in surface.neighbours(f) {
                let Some(&g) = number.get(n as usize).filter(|&&g| g != Surface::NONE) else {
                    continue;
                };
                let beside = surface.neighbours(n);
                for k in 0..3 {
                    if beside[k] == f {
                        let t = self.corners[g as usize];
                        open.insert([t[k], t[(k + 1) % 3]], (g, k));
                        self.across[g as usize][k] = Surface::NONE;
                    }
                }
            }
        }
        for f in first..self.corners.len() {
            let t = self.corners[f];
            for k in 0..3 {
                let (a, b) = (t[k], t[(k + 1) % 3]);
                match open.remove(&[b, a]) {
                    Some((g, j)) => {
                        self.across[f][k] = g;
                        self.across[g as usize][j] = f as u32;
                    }
                    None => {
                        open.insert([a, b], (f as u32, k));
                    }
                }
            }
        }
    }

    fn make_fans(&mut self) {
        let mut start = vec![0u32; self.vertices.len() + 1];
        for &v in self.corners.iter().flatten() {
            start[v as usize + 1] += 1;
        }
        for v in 1..start.len() {
            start[v] += start[v - 1];
        }
        let mut next = start.clone();
        self.fan = vec![0; self.corners.len() * 3];
        for (f, t) in self.corners.iter().enumerate() {
            for &v in t {
                let slot = &mut next[v as usize];
                self.fan[*slot as usize] = f as u32;
                *slot += 1;
            }
        }
        self.fan_start = start;
    }

    /// Marks every facet by a place inside it and the facet of the surface it is of.
    pub fn mark(&mut self, of: impl Fn(Point, u32) -> Option<Mark>) {
        self.marks = (0..self.corners.len())
            .map(|f| of(self.centre(f), self.facet_of[f]))
            .collect();
    }

    /// Marks that hold what reaches them: water that comes to them is at its end.
    pub fn hold(&mut self, marks: Vec<Mark>) {
        self.takes = marks;
    }

    /// The middle of a facet, rounded to the lattice.
    pub fn centre(&self, f: usize) -> Point {
        let [a, b, c] = self.corners[f].map(|v| self.vertices[v as usize].p);
        Point::new((a.x + b.x + c.x) / 3, (a.y + b.y + c.y) / 3)
    }

    /// Marks edges of the rim, by their ends: what runs over them there.
    pub fn mark_rim(&mut self, of: impl Fn(Point, Point) -> Option<Mark>) {
        for f in 0..self.corners.len() {
            for k in 0..3 {
                let (a, b) = (self.corners[f][k], self.corners[f][(k + 1) % 3]);
                let [p, q] = [a, b].map(|v| self.vertices[v as usize].p);
                if self.across[f][k] == Surface::NONE
                    && let Some(mark) = of(p, q)
                {
                    self.mark_edge([a.min(b), a.max(b)], mark);
                }
            }
        }
    }

    fn mark_edge(&mut self, edge: [u32; 2], mark: Mark) {
        for v in edge {
            let marks = self.line_vertices.entry(v).or_default();
            if !marks.contains(&mark) {
                marks.push(mark);
            }
        }
        self.lines.insert(edge, mark);
    }

    /// True if lines were left out, since they cannot be told apart on the lattice.
    pub fn lines_left_out(&self) -> bool {
        self.left_out
    }

    /// The facet that holds a place of the surface this was made of.
    pub fn facet_at(&self, surface: &Surface, p: Point) -> Option<usize> {
        let of = surface.facet_at(p)?;
        match self.number[of as usize] {
            Surface::NONE => (self.first_piece..self.corners.len()).find(|&f| {
                let t = self.corners[f].map(|v| self.vertices[v as usize].p);
                self.facet_of[f] == of && (0..3).all(|k| orient_sign(t[k], t[(k + 1) % 3], p) >= 0)
            }),
            f => Some(f as usize),
        }
    }

    /// Number of facets.
    pub fn num_facets(&self) -> usize {
        self.corners.len()
    }

    /// Plan area of a facet, square metres.
    pub fn area_m2(&self, f: usize) -> f64 {
        let [a, b, c] = self.corners[f].map(|v| self.vertices[v as usize].p);
        let ([bx, by], [cx, cy]) = (b.relative_m(a), c.relative_m(a));
        (bx * cy - by * cx) / 2.0
    }

    /// Heights of the corners of a facet, metres.
    pub fn heights(&self, f: usize) -> [f64; 3] {
        self.corners[f].map(|v| self.z(v))
    }

    /// How steep a facet is, rise over run.
    pub fn steepness(&self, f: usize) -> f64 {
        let [x, y] = self.downhill[f];
        x.hypot(y)
    }

    /// The facet of the surface that a facet is, or is a piece of.
    pub fn facet_of(&self, f: usize) -> u32 {
        self.facet_of[f]
    }

    /// The mark of a facet.
    pub fn mark_of(&self, f: usize) -> Option<Mark> {
        self.marks.get(f).copied().flatten()
    }

    pub(super) fn is_holding(&self, mark: Mark) -> bool {
        self.takes.contains(&mark)
    }

    /// The mark of the line that lies on an edge.
    pub(super) fn line_on(&self, a: u32, b: u32) -> Option<Mark> {
        if self.lines.is_empty() {
            return None;
        }
        self.lines.get(&[a.min(b), a.max(b)]).copied()
    }

    /// Marks of the lines through a vertex.
    pub(super) fn lines_at(&self, v: u32) -> &[Mark] {
        if self.lines.is_empty() {
            return &[];
        }
        self.line_vertices.get(&v).map_or(&[], Vec::as_slice)
    }

    /// Facets round a vertex, ascending.
    pub(super) fn fan(&self, v: u32) -> &[u32] {
        let at = |k: u32| self.fan_start[k as usize] as usize;
        &self.fan[at(v)..at(v + 1)]
    }

    /// Which corner of a facet a vertex is.
    pub(super) fn corner_of(&self, f: u32, v: u32) -> usize {
        let t = self.corners[f as usize];
        (0..3).find(|&k| t[k] == v).unwrap_or(0)
    }

    pub(super) fn z(&self, v: u32) -> f64 {
        self.vertices[v as usize].z
    }

    /// True if a vertex comes before another from the lowest up; of equal heights the one with the
    /// smaller number, so that no two are equal.
    pub(super) fn is_below(&self, a: u32, b: u32) -> bool {
        (self.z(a), a) < (self.z(b), b)
    }

    /// The lowest corner of a facet.
    pub(super) fn lowest(&self, f: u32) -> u32 {
        let [a, b, c] = self.corners[f as usize];
        let lower = |a, b| if self.is_below(a, b) { a } else { b };
        lower(lower(a, b), c)
    }

    pub(super) fn is_level(&self, f: u32) -> bool {
        self.downhill[f as usize] == [0.0; 2]
    }

    /// How water meets a side of a facet from inside: 1 it runs out over it, -1 it runs in from
    /// it, 0 it runs along it or stands.
    pub(super) fn out(&self, f: u32, k: usize) -> i8 {
        let t = self.corners[f as usize];
        let [ex, ey] = self.from_to(t[k], t[(k + 1) % 3]);
        let [dx, dy] = self.downhill[f as usize];
        let across = dx * ey - dy * ex;
        let along = ALONG * ((dx * ey).abs() + (dy * ex).abs());
        match across {
            a if a > along => 1,
            a if a < -along => -1,
            _ => 0,
        }
    }

    /// From one vertex to another in plan, metres; exact differences, rounded once.
    pub(super) fn from_to(&self, a: u32, b: u32) -> [f64; 2] {
        let (a, b) = (self.vertices[a as usize].p, self.vertices[b as usize].p);
        b.relative_m(a)
    }

    /// The side of the neighbour across a side of a facet.
    pub(super) fn beyond(&self, f: u32, k: usize) -> Option<(u32, usize)> {
        let n = self.across[f as usize][k];
        if n == Surface::NONE {
            return None;
        }
        let b = self.corners[f as usize][(k + 1) % 3];
        Some((n, self.corner_of(n, b)))
    }

    /// A place from `base` as a place of the surface's frame, metres.
    pub(super) fn plan_m(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        [x + self.base.x_m(), y + self.base.y_m()]
    }
}

pub(super) fn cross(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}
