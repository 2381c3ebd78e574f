//! The path of a drop.

use std::collections::BTreeSet;

use crate::geom::Point;
use crate::surface::Surface;

use super::descent::{Next, Over};
use super::label::Sink;
use super::pits::Pits;
use super::tin::{Mark, Tin, cross};

/// A drop's way down.
#[derive(Clone, Debug, PartialEq)]
pub struct Drop {
    /// East, north and height of every break of its path, metres in the frame of the surface.
    /// Between the bottom of a full pit and its lip the path is straight and rises.
    pub points: Vec<[f64; 3]>,
    /// Where it ends.
    pub sink: Sink,
    /// What it met on its way, in order.
    pub met: Vec<Mark>,
    /// Shallow pits it ran through, in order.
    pub through: Vec<u32>,
}

/// A drop under way.
struct Running<'a> {
    tin: &'a Tin,
    pits: &'a Pits,
    drop: Drop,
}

impl Tin {
    /// Where a drop runs that falls at a place; `None` off the surface. Pits shallower than
    /// `least_depth_m` are taken to be full. `surface` is the one the facets were made of.
    ///
    /// It always ends: it reaches no vertex twice but by running over a lip, and lips come lower
    /// and lower.
    pub fn drop(
        &self,
        surface: &Surface,
        pits: &Pits,
        start: Point,
        least_depth_m: f64,
    ) -> Option<Drop> {
        let facet = self.facet_at(surface, start)? as u32;
        let at = start.relative_m(self.base);
        let [x, y] = self.plan_m(at);
        let mut running = Running {
            tin: self,
            pits,
            drop: Drop {
                points: vec![[x, y, self.z_in(facet, at)]],
                sink: Sink::Rim,
                met: Vec::new(),
                through: Vec::new(),
            },
        };
        running.drop.sink = running.run(facet, at, least_depth_m);
        Some(running.drop)
    }

    /// Height of a facet between its corners at a place from `base`.
    fn z_in(&self, f: u32, [x, y]: [f64; 2]) -> f64 {
        let t = self.corners[f as usize];
        let [ox, oy] = self.xy[t[0] as usize];
        let (b, c) = (self.from_to(t[0], t[1]), self.from_to(t[0], t[2]));
        let p = [x - ox, y - oy];
        let whole = cross(b, c);
        let (u, v) = (cross(p, c) / whole, cross(b, p) / whole);
        let z = t.map(|v| self.z(v));
        z[0] + u * (z[1] - z[0]) + v * (z[2] - z[0])
    }
}

impl Running<'_> {
    fn run(&mut self, first: u32, from: [f64; 2], least_depth_m: f64) -> Sink {
        let tin = self.tin;
        let mut seen: BTreeSet<u32> = BTreeSet::new();
        // Steps over sides before a vertex is met: each lower than the last, but for rounding.
        let mut left = 4 * tin.corners.len() + 64;
        let mut vertex = None;
        if let Some(sink) = self.enter(first) {
            return sink;
        }
        let mut inside = Some((first, from));
        loop {
            let over = match (inside.take(), vertex.take()) {
                (Some((f, at)), _) => match self.leaves(f, at) {
                    Some((side, share)) => Some((f, side, share)),
                    None => {
                        vertex = Some(tin.lowest(f));
                        None
                    }
                },
                (None, Some(v)) => {
                    self.at_vertex(v);
                    if let Some(sink) = self.meet_vertex(v) {
                        return sink;
                    }
                    match seen.insert(v).then(|| tin.from_vertex(v)) {
                        Some(Next::Through { facet, side, at }) => Some((facet, side, at)),
                        Some(Next::Along(w)) => {
                            vertex = Some(w);
                            None
                        }
                        Some(Next::Off) => return Sink::Rim,
                        // A pit; or a ring of facets, left by way of its pit.
                        Some(Next::Stands) | None => match self.stands(v, least_depth_m) {
                            Ok(w) => {
                                vertex = Some(w);
                                None
                            }
                            Err(sink) => return sink,
                        },
                    }
                }
                (None, None) => return Sink::Rim,
            };
            let Some((f, side, share)) = over else {
                continue;
            };
            let at = self.at_side(f, side, share);
            if let Some(mark) = self.line(f, side) {
                self.meet(mark);
            }
            match tin.over(f, side) {
                Over::Rim => return Sink::Rim,
                Over::To(v) => vertex = Some(v),
                Over::Into(g, _) => {
                    if let Some(sink) = self.enter(g) {
                        return sink;
                    }
                    left = left.saturating_sub(1);
                    match left {
                        0 => vertex = Some(tin.lowest(g)),
                        _ => inside = Some((g, at)),
                    }
                }
            }
        }
    }

    /// The side a drop leaves a facet over, and the share of it.
    fn leaves(&self, f: u32, at: [f64; 2]) -> Option<(usize, f64)> {
        let tin = self.tin;
        let [first, second] = tin.outlets(f);
        let first = first?;
        let t = tin.corners[f as usize];
        let [ox, oy] = tin.xy[t[0] as usize];
        let here = cross(tin.downhill[f as usize], [at[0] - ox, at[1] - oy]);
        let beside = tin.beside(f);
        let share = |side: usize| {
            let (p, q) = (beside[side], beside[(side + 1) % 3]);
            (here - p) / (q - p)
        };
        Some(match second {
            Some(second) if share(first) > 1.0 => (second, share(second).clamp(0.0, 1.0)),
            _ => (first, share(first).clamp(0.0, 1.0)),
        })
    }

    fn line(&self, f: u32, side: usize) -> Option<Mark> {
        let t = self.tin.corners[f as usize];
        self.tin.line_on(t[side], t[(side + 1) % 3])
    }

    fn at_side(&mut self, f: u32, side: usize, share: f64) -> [f64; 2] {
        let tin = self.tin;
        let t = tin.corners[f as usize];
        let (a, b) = (t[side], t[(side + 1) % 3]);
        let [ax, ay] = tin.xy[a as usize];
        let [ex, ey] = tin.from_to(a, b);
        let at = [ax + share * ex, ay + share * ey];
        self.add(at, tin.z(a) + share * (tin.z(b) - tin.z(a)));
        at
    }

    fn at_vertex(&mut self, v: u32) {
        self.add(self.tin.xy[v as usize], self.tin.z(v));
    }

    fn add(&mut self, at: [f64; 2], z: f64) {
        let [x, y] = self.tin.plan_m(at);
        if self.drop.points.last() != Some(&[x, y, z]) {
            self.drop.points.push([x, y, z]);
        }
    }

    fn meet(&mut self, mark: Mark) {
        if !self.drop.met.contains(&mark) {
            self.drop.met.push(mark);
        }
    }

    fn enter(&mut self, f: u32) -> Option<Sink> {
        let mark = self.tin.mark_of(f as usize)?;
        if self.tin.is_holding(mark) {
            return Some(Sink::Held(mark));
        }
        self.meet(mark);
        None
    }

    fn meet_vertex(&mut self, v: u32) -> Option<Sink> {
        for &f in self.tin.fan(v) {
            if let Some(sink) = self.enter(f) {
                return Some(sink);
            }
        }
        for &mark in self.tin.lines_at(v) {
            self.meet(mark);
        }
        None
    }

    /// The vertex beyond the lip of the pit below a vertex, or where water stands.
    fn stands(&mut self, v: u32, least_depth_m: f64) -> Result<u32, Sink> {
        let Some(pit) = self.pits.below(v).map(|pit| self.pits.widest(pit)) else {
            return Err(Sink::Rim);
        };
        let of = self.pits[pit as usize];
        if of.depth_m() >= least_depth_m {
            return Err(Sink::Pit(pit));
        }
        self.drop.through.push(pit);
        self.at_vertex(of.lip_id);
        match of.spill {
            Surface::NONE => Err(Sink::Rim),
            spill => Ok(spill),
        }
    }
}
