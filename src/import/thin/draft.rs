//! The surface of the points kept so far.

use crate::geom::{Mesh, P3, Point, Spot, orient};

use super::batch::{Batch, along_curve};
use super::same_place::Heights;
use super::sample::Measured;

/// No point, no triangle.
const NONE: u32 = u32::MAX;

/// In place of the next point of a list: this one is kept.
const KEPT: u32 = u32::MAX - 1;

/// A Delaunay triangulation of points kept, and the points of a batch by the triangle they lie
/// in. 96 bytes a point kept.
///
/// # Source
///
/// M. Garland, P. Heckbert, "Fast polygonal approximation of terrains and height fields",
/// Carnegie Mellon University, CMU-CS-95-181 (1995): greedy insertion, the point farthest off in
/// each triangle; here the triangles are taken in no order of importance
#[derive(Debug)]
pub(super) struct Draft {
    vertices: Vec<P3>,
    mesh: Mesh,
    /// By triangle: the first of the list of its points.
    first: Vec<u32>,
    /// By triangle: what has to be put in.
    wanted: Vec<Wanted>,
    /// Triangles in which a point has to be put in; some may be done already.
    todo: Vec<u32>,
    /// Points that look for a triangle again.
    moving: Vec<u32>,
}

/// The point of a triangle that is farthest off, if it is off by more than the tolerance.
#[derive(Clone, Copy, Debug)]
struct Wanted {
    point: u32,
    off: f32,
}

impl Wanted {
    const NOTHING: Wanted = Wanted {
        point: NONE,
        off: 0.0,
    };
}

/// Where a point of a batch goes that is not kept.
pub(super) enum Dropped {
    /// To the next batch: its triangle is not final.
    Waits(P3),
    /// It is left out.
    Out(P3),
}

impl Draft {
    /// The triangle of three outermost points; `None` if all points are on one line.
    pub(super) fn new(batch: &mut Batch) -> Option<Draft> {
        let outer = batch.hull();
        let [a, b, c] = *outer.first_chunk()?;
        let vertices: Vec<P3> = [a, b, c].map(|k| batch.points()[k as usize]).to_vec();
        let mesh = Mesh::new(&|v: u32| vertices[v as usize].p, [0, 1, 2], 3);
        for k in [a, b, c] {
            batch.next[k as usize] = KEPT;
        }
        Some(Draft {
            first: vec![NONE; mesh.num_triangles()],
            wanted: vec![Wanted::NOTHING; mesh.num_triangles()],
            vertices,
            mesh,
            todo: Vec::new(),
            moving: Vec::new(),
        })
    }

    pub(super) fn num_points(&self) -> usize {
        self.vertices.len()
    }

    pub(super) fn into_points(self) -> Vec<P3> {
        let Draft { vertices, .. } = self;
        along_curve(vertices)
    }

    /// Lays a batch on the surface and puts points in until none is off by more than the
    /// tolerance. Gives the number of points that were one with a point kept before.
    pub(super) fn lay(
        &mut self,
        batch: &mut Batch,
        tolerance_m: f64,
        heights: &mut Heights,
    ) -> u64 {
        let mut same_place = 0;
        let mut near = 0;
        // What lies beyond the hull is kept whatever its height: no surface is known there.
        for k in batch.hull() {
            let point = batch.points()[k as usize];
            if let Spot::Beyond(t) = self.locate(point.p, near) {
                batch.next[k as usize] = KEPT;
                near = self.keep(point, t);
            }
        }
        for round in batch.rounds() {
            let mut facet = Facet::of(self, near);
            for k in round {
                if batch.next[k] == KEPT {
                    heights.keep(batch.points()[k].p);
                    continue;
                }
                let point = batch.points()[k];
                let (Spot::In(t) | Spot::Beyond(t)) = self.locate(point.p, near);
                near = t;
                if facet.t != t {
                    facet = Facet::of(self, t);
                }
                if let Some(v) = self.vertex_at(t, point.p) {
                    same_place += 1;
                    batch.next[k] = KEPT;
                    let kept = &mut self.vertices[v as usize];
                    kept.z = heights.with_kept(*kept, point);
                    self.look_round(batch, t, v, tolerance_m);
                    facet = Facet::of(self, t);
                    continue;
                }
                self.add(batch, k as u32, t);
                self.want(t, k as u32, facet.off_m(point), tolerance_m);
            }
            while let Some(t) = self.todo.pop() {
                if self.wanted[t as usize].point != NONE {
                    self.put_in(batch, t, tolerance_m, heights);
                }
            }
        }
        same_place
    }

    /// Takes the points of a batch off that were not kept; up to `may_wait` of them wait.
    pub(super) fn lift(&mut self, batch: &Batch, may_wait: usize, mut take: impl FnMut(Dropped)) {
        let mut waiting = 0;
        for t in 0..self.first.len() as u32 {
            let mut next = std::mem::replace(&mut self.first[t as usize], NONE);
            if next == NONE {
                continue;
            }
            let waits = waiting < may_wait && self.is_open(t);
            while next != NONE {
                let point = batch.points()[next as usize];
                if waits {
                    waiting += 1;
                    take(Dropped::Waits(point));
                } else {
                    take(Dropped::Out(point));
                }
                next = batch.next[next as usize];
            }
        }
    }

    /// How far points are off the surface.
    pub(super) fn measure<'a>(
        &self,
        points: impl Iterator<Item = &'a P3>,
        tolerance_m: f64,
    ) -> Measured {
        let mut measured = Measured::default();
        let mut facet = Facet::of(self, 0);
        let points = along_curve(points.copied().collect());
        for point in points {
            // Every point lies within the hull: those beyond were put in.
            let (Spot::In(t) | Spot::Beyond(t)) = self.locate(point.p, facet.t);
            if facet.t != t {
                facet = Facet::of(self, t);
            }
            measured.add(facet.off_m(point), tolerance_m);
        }
        measured
    }

    fn locate(&self, p: Point, near: u32) -> Spot {
        self.mesh
            .locate(&|v: u32| self.vertices[v as usize].p, p, near)
    }

    fn vertex_at(&self, t: u32, p: Point) -> Option<u32> {
        let corners = self.mesh.corners(t);
        corners
            .into_iter()
            .find(|&v| self.vertices.get(v as usize).is_some_and(|v| v.p == p))
    }

    fn add(&mut self, batch: &mut Batch, point: u32, t: u32) {
        batch.next[point as usize] = std::mem::replace(&mut self.first[t as usize], point);
    }

    fn want(&mut self, t: u32, point: u32, off_m: f64, tolerance_m: f64) {
        if off_m <= tolerance_m {
            return;
        }
        let wanted = &mut self.wanted[t as usize];
        if wanted.point == NONE {
            self.todo.push(t);
        }
        let off = off_m as f32;
        if wanted.point == NONE || off > wanted.off {
            *wanted = Wanted { point, off };
        }
    }

    /// Makes a point part of the surface, in the triangle that holds or sees it. Triangles at it
    /// have no points yet.
    fn keep(&mut self, point: P3, t: u32) -> u32 {
        let v = self.vertices.len() as u32;
        self.vertices.push(point);
        let vertices = &self.vertices;
        let near = self.mesh.insert_in(&|v: u32| vertices[v as usize].p, v, t);
        self.first.resize(self.mesh.num_triangles(), NONE);
        self.wanted
            .resize(self.mesh.num_triangles(), Wanted::NOTHING);
        near
    }

    /// Puts in the point that a triangle wants most.
    fn put_in(&mut self, batch: &mut Batch, t: u32, tolerance_m: f64, heights: &mut Heights) {
        let wanted = self.wanted[t as usize].point;
        let point = batch.points()[wanted as usize];
        heights.keep(point.p);
        let mut near = self.keep(point, t);
        self.moving.clear();
        for &gone in self.mesh.gone() {
            let mut next = self.first[gone as usize];
            while next != NONE {
                if next != wanted {
                    self.moving.push(next);
                }
                next = batch.next[next as usize];
            }
        }
        batch.next[wanted as usize] = KEPT;
        for &t in self.mesh.fan() {
            self.first[t as usize] = NONE;
            self.wanted[t as usize] = Wanted::NOTHING;
        }
        for k in 0..self.moving.len() {
            let moving = self.moving[k];
            let p = batch.points()[moving as usize].p;
            let (Spot::In(t) | Spot::Beyond(t)) = self.locate(p, near);
            near = t;
            self.add(batch, moving, t);
        }
        for k in 0..self.mesh.fan().len() {
            let t = self.mesh.fan()[k];
            self.look_over(batch, t, tolerance_m);
        }
    }

    /// Finds anew what a triangle wants.
    fn look_over(&mut self, batch: &Batch, t: u32, tolerance_m: f64) {
        let mut next = self.first[t as usize];
        if next == NONE || self.mesh.is_beyond(t) {
            return;
        }
        self.wanted[t as usize] = Wanted::NOTHING;
        let facet = Facet::of(self, t);
        while next != NONE {
            let off_m = facet.off_m(batch.points()[next as usize]);
            self.want(t, next, off_m, tolerance_m);
            next = batch.next[next as usize];
        }
    }

    /// The same for all triangles round a vertex whose height is another now.
    fn look_round(&mut self, batch: &Batch, start: u32, v: u32, tolerance_m: f64) {
        let mut t = start;
        loop {
            self.look_over(batch, t, tolerance_m);
            let corners = self.mesh.corners(t);
            let side = corners.iter().position(|&c| c == v).unwrap_or_default();
            t = self.mesh.neighbours(t)[side];
            if t == start {
                return;
            }
        }
    }

    /// True if a triangle lies at the front: the circle round it reaches beyond the hull, so
    /// that points still to come may do away with it. Looked at in five places.
    fn is_open(&self, t: u32) -> bool {
        if self.mesh.is_beyond(t) {
            return true;
        }
        let [a, b, c] = self.mesh.corners(t).map(|v| self.vertices[v as usize].p);
        let [bx, by] = [(b.x - a.x) as f64, (b.y - a.y) as f64];
        let [cx, cy] = [(c.x - a.x) as f64, (c.y - a.y) as f64];
        let twice = 2.0 * orient(a, b, c) as f64;
        let (b_lift, c_lift) = (bx * bx + by * by, cx * cx + cy * cy);
        let x = (b_lift * cy - c_lift * by) / twice;
        let y = (c_lift * bx - b_lift * cx) / twice;
        let radius = x.hypot(y);
        let ways = [[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]];
        ways.iter().any(|way| {
            // Far beyond all points, and not beyond what can be counted with.
            let reach = |from: i64, v: f64| from + v.clamp(-1.0e18, 1.0e18) as i64;
            let p = Point::new(
                reach(a.x, x + radius * way[0]),
                reach(a.y, y + radius * way[1]),
            );
            matches!(self.locate(p, t), Spot::Beyond(_))
        })
    }
}

/// The plane of a triangle, to hold points against it.
struct Facet {
    t: u32,
    through: P3,
    slope_per_nm: [f64; 2],
}

impl Facet {
    /// Beyond the hull there is no plane, and nothing is measured.
    fn of(draft: &Draft, t: u32) -> Facet {
        let corners = draft.mesh.corners(t);
        if draft.mesh.is_beyond(t) {
            return Facet {
                t,
                through: P3::default(),
                slope_per_nm: [f64::NAN; 2],
            };
        }
        let [a, b, c] = corners.map(|v| draft.vertices[v as usize]);
        let [bx, by] = [(b.p.x - a.p.x) as f64, (b.p.y - a.p.y) as f64];
        let [cx, cy] = [(c.p.x - a.p.x) as f64, (c.p.y - a.p.y) as f64];
        let (bz, cz) = (b.z - a.z, c.z - a.z);
        let twice_area = orient(a.p, b.p, c.p) as f64;
        Facet {
            t,
            through: a,
            slope_per_nm: [
                (bz * cy - cz * by) / twice_area,
                (cz * bx - bz * cx) / twice_area,
            ],
        }
    }

    fn off_m(&self, point: P3) -> f64 {
        let [x, y] = [
            (point.p.x - self.through.p.x) as f64,
            (point.p.y - self.through.p.y) as f64,
        ];
        let rise = self.slope_per_nm[0] * x + self.slope_per_nm[1] * y;
        (point.z - (self.through.z + rise)).abs()
    }
}
