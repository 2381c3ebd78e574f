//! The region of a composition: what may change, how it is cut up, what it becomes.

use std::collections::BTreeSet;

use crate::geom::{
    Noding, P3, Point, PointMap, Segment, Triangulation, node, odd_side, orient, triangulate,
};
use crate::surface::height_tolerance_m;
use crate::surface::patch::Patch;
use crate::surface::plane::Plane;
use crate::surface::surface::Surface;

use super::arrangement::{Arrangement, Rim, Sorted};
use super::finder::{Alone, Finder, thin_side};
use super::kept::{Kept, STRAIGHT_UNITS};
use super::reach::Reach;
use super::{Behind, Change, ComposeError, Outcome, Rule, Vertex, Winner};

/// Faces steeper than this are judged by where they stand, not by their height at a place.
const STEEP: f64 = 100.0;

/// How far a steep face may stand off its plane in plan, metres: two that meet at a small angle
/// meet at a place that is uncertain by as much.
const FACE_OFF_M: f64 = 4.0e-8;

/// The sides of a corner are off by this much, metres: straightening and rounding.
const TIP_M: f64 = 4.0e-9;

/// Corners sharper than this sine count as no sharper.
const SHARPEST: f64 = 1.0e-6;

/// A shape ends in the air where its planes are this many tolerances apart at a vertex. Lines
/// that meet there were moved by a few units each; what ends in the air does so by far more.
const OPEN: f64 = 4.0;

/// The facets that may change, and the pieces that may change them.
pub(super) struct Region<'a> {
    pub(super) surface: &'a Surface,
    pub(super) patch: &'a Patch,
    pub(super) sign: f64,
    /// Ascending.
    pub(super) facets: Vec<u32>,
    reach: Reach,
}

impl<'a> Region<'a> {
    /// Facets where a piece wins, and their neighbours; `None` if none does.
    pub(super) fn find(surface: &'a Surface, patch: &'a Patch, rule: Rule) -> Option<Region<'a>> {
        let reach = Reach::find(surface, patch, rule.sign())?;
        let mut region = Region {
            surface,
            patch,
            sign: rule.sign(),
            facets: reach.facets.clone(),
            reach,
        };
        let beside: Vec<u32> = region
            .facets
            .iter()
            .flat_map(|&f| surface.neighbours(f))
            .filter(|&n| n != Surface::NONE)
            .collect();
        region.grow(&beside);
        Some(region)
    }

    /// Indices of the pieces that win somewhere.
    pub(super) fn pieces(&self) -> &[u32] {
        &self.reach.pieces
    }

    pub(super) fn first(&self) -> u32 {
        self.facets.first().copied().unwrap_or(0)
    }

    pub(super) fn grow(&mut self, more: &[u32]) {
        self.facets.extend(more);
        self.facets.sort_unstable();
        self.facets.dedup();
    }

    pub(super) fn work(&self) -> Result<Outcome, ComposeError> {
        let arrangement = self.arrange();
        let rims = arrangement.rims;
        let finder = Finder::new(self);
        let mut first = self.sort_out(&arrangement.points, &arrangement.segments, &finder, &[])?;
        let alone = self.leave_detached_alone(&mut first, &finder, &rims);
        let mut won = first.triangulation.triangles.iter().zip(&first.winners);
        let changes = won.any(|(tri, winner)| match *winner {
            Some(Winner::Sheet(sheet)) => {
                finder.is_worthwhile(tri.map(|v| first.noding.points[v as usize]), sheet)
            }
            _ => false,
        });
        if !changes {
            return Ok(Outcome::Unchanged);
        }
        let (points, segments) = self.simplify(&first, &rims);
        let second = self.sort_out(&points, &segments, &finder, &alone)?;
        let cut = self.cut_rims(&second, &rims);
        if !cut.is_empty() {
            return Ok(Outcome::Grow(cut));
        }
        let outcome = self.finish(&second, &finder, &rims)?;
        if let Outcome::Done(_) = outcome {
            finder.check_heights(&second)?;
        }
        Ok(outcome)
    }

    /// Points and segments of the region, the pieces and the daylight lines.
    pub(super) fn arrange(&self) -> Arrangement {
        let mut arrangement = Arrangement::default();
        for &f in &self.facets {
            let plan = self.surface.plan(f);
            let n = self.surface.neighbours(f);
            for k in 0..3 {
                let (a, b) = (plan[k], plan[(k + 1) % 3]);
                if self.facets.binary_search(&n[k]).is_err() {
                    arrangement.add_rim(Rim {
                        ends: [a, b],
                        behind: n[k],
                    });
                } else if f < n[k] {
                    let facets = [f, n[k]];
                    self.reach
                        .trim_edge(self.surface, self.patch, facets, [a, b], |[a, b]| {
                            arrangement.add(a, b);
                        });
                }
            }
        }
        for &[a, b] in self.reach.sides.iter().chain(&self.reach.daylight) {
            arrangement.add(a, b);
        }
        arrangement
    }

    /// Nodes, triangulates and finds the winner of every triangle inside the region.
    pub(super) fn sort_out(
        &self,
        points: &[Point],
        segments: &[Segment],
        finder: &Finder,
        alone: &[[Point; 3]],
    ) -> Result<Sorted, ComposeError> {
        let noding = node(points, segments)?;
        let edges: Vec<[u32; 2]> = noding.edges.iter().map(|e| [e.a, e.b]).collect();
        let triangulation = triangulate(&noding.points, &edges)?;
        let inside = odd_side(&triangulation, |a, b| {
            noding.edge(a, b).is_some_and(|e| e.marked % 2 == 1)
        });
        let alone = Alone::new(alone);
        let mut winners: Vec<Option<Winner>> = vec![None; triangulation.triangles.len()];
        let mut level_with: Vec<Option<u32>> = vec![None; triangulation.triangles.len()];
        let mut lost: Vec<u32> = Vec::new();
        for (t, tri) in triangulation.triangles.iter().enumerate() {
            if inside[t] {
                match finder.find(tri.map(|v| noding.points[v as usize]), &alone) {
                    Some(found) => {
                        winners[t] = Some(found.winner);
                        level_with[t] = found.level_with;
                    }
                    None => lost.push(t as u32),
                }
            }
        }
        // A sliver at the rim may have its centre a unit outside: it takes after a neighbour.
        while !lost.is_empty() {
            let before = lost.len();
            lost.retain(|&t| {
                let from = triangulation.neighbours[t as usize]
                    .iter()
                    .filter(|&&n| n != Triangulation::NONE)
                    .find_map(|&n| winners[n as usize]);
                winners[t as usize] = from;
                from.is_none()
            });
            if lost.len() == before {
                let at = noding.points[triangulation.triangles[lost[0] as usize][0] as usize];
                return Err(ComposeError::AreaChanged { at });
            }
        }
        settle_slivers(&noding, &triangulation, &mut winners);
        Ok(Sorted {
            noding,
            triangulation,
            winners,
            level_with,
        })
    }

    /// Gives back to the surface what does not hang together with an anchor of the patch, and
    /// returns those triangles.
    ///
    /// A piece may lie level with a surface that an earlier composition left there; such places
    /// carry on the connection. Where they reach the rim of the region, what lies beyond is
    /// taken to hang together.
    fn leave_detached_alone(
        &self,
        sorted: &mut Sorted,
        finder: &Finder,
        rims: &[Rim],
    ) -> Vec<[Point; 3]> {
        if self.patch.anchors.is_empty() {
            return Vec::new();
        }
        let t = &sorted.triangulation;
        let goes_on_outside = |tri: [u32; 3]| {
            (0..3).any(|k| {
                sorted
                    .noding
                    .edge(tri[k], tri[(k + 1) % 3])
                    .filter(|e| e.mark != Segment::UNMARKED)
                    .is_some_and(|e| rims[e.mark as usize].behind != Surface::NONE)
            })
        };
        let mut reached = vec![false; t.triangles.len()];
        let mut stack: Vec<usize> = Vec::new();
        for (i, &sheet) in sorted.level_with.iter().enumerate() {
            let Some(sheet) = sheet else { continue };
            let label = self.patch.sheets[sheet as usize].label;
            if self.patch.anchors.contains(&label) || goes_on_outside(t.triangles[i]) {
                reached[i] = true;
                stack.push(i);
            }
        }
        while let Some(i) = stack.pop() {
            for &n in &t.neighbours[i] {
                let n = n as usize;
                if n < reached.len() && !reached[n] && sorted.level_with[n].is_some() {
                    reached[n] = true;
                    stack.push(n);
                }
            }
        }
        let mut alone = Vec::new();
        for (i, reached) in reached.into_iter().enumerate() {
            if reached || !matches!(sorted.winners[i], Some(Winner::Sheet(_))) {
                continue;
            }
            let tri = t.triangles[i].map(|v| sorted.noding.points[v as usize]);
            if let Some(ground) = finder.ground_source(tri) {
                sorted.winners[i] = Some(Winner::Ground(ground));
                alone.push(tri);
            }
        }
        alone
    }

    /// Keeps edges between different sources and straightens them.
    pub(super) fn simplify(&self, sorted: &Sorted, rims: &[Rim]) -> (Vec<Point>, Vec<Segment>) {
        let kept = Kept::new(sorted);
        let fixed: BTreeSet<Point> = rims.iter().flat_map(|r| r.ends).collect();
        let mut arrangement = Arrangement::default();
        kept.chains(&sorted.noding.points, &fixed, |a, b, mark| {
            arrangement.add_marked(a, b, mark);
        });
        (arrangement.points, arrangement.segments)
    }

    /// Facets behind rim edges that were cut.
    pub(super) fn cut_rims(&self, sorted: &Sorted, rims: &[Rim]) -> Vec<u32> {
        let mut whole = vec![false; rims.len()];
        for edge in &sorted.noding.edges {
            if edge.marked == 1 {
                let rim = rims[edge.mark as usize];
                let ends = [edge.a, edge.b].map(|v| sorted.noding.points[v as usize]);
                whole[edge.mark as usize] |= ends == rim.ends || ends == [rim.ends[1], rim.ends[0]];
            }
        }
        let mut more: Vec<u32> = rims
            .iter()
            .zip(whole)
            .filter(|(rim, whole)| !whole && rim.behind != Surface::NONE)
            .map(|(rim, _)| rim.behind)
            .collect();
        more.sort_unstable();
        more.dedup();
        more
    }

    /// Heights, checks, and the change to be made.
    pub(super) fn finish(
        &self,
        sorted: &Sorted,
        finder: &Finder,
        rims: &[Rim],
    ) -> Result<Outcome, ComposeError> {
        let Sorted {
            noding,
            triangulation,
            winners,
            ..
        } = sorted;
        let old: PointMap<u32> = self
            .facets
            .iter()
            .flat_map(|&f| self.surface.vertex_ids(f))
            .map(|v| (self.surface.vertices[v as usize].p, v))
            .collect();
        let corners: PointMap<f64> = self
            .pieces()
            .iter()
            .flat_map(|&i| self.patch.pieces[i as usize].corners)
            .map(|c| (c.p, c.z))
            .collect();
        let behind: PointMap<u32> = rims
            .iter()
            .filter(|r| r.behind != Surface::NONE)
            .flat_map(|r| r.ends.map(|p| (p, r.behind)))
            .collect();
        // Sources round every vertex, each with its widest corner there.
        let mut around: Vec<Vec<(Winner, f64)>> = vec![Vec::new(); noding.points.len()];
        for (tri, winner) in triangulation.triangles.iter().zip(winners) {
            let Some(winner) = *winner else { continue };
            let corners = tri.map(|v| noding.points[v as usize]);
            for (k, &v) in tri.iter().enumerate() {
                let sine = sine_at(corners, k);
                let here = &mut around[v as usize];
                match here.iter_mut().find(|(other, _)| *other == winner) {
                    Some((_, widest)) => *widest = widest.max(sine),
                    None => here.push((winner, sine)),
                }
            }
        }
        let mut vertices = Vec::new();
        let mut index = vec![u32::MAX; noding.points.len()];
        let mut more = Vec::new();
        for (v, winners) in around.iter().enumerate() {
            if winners.is_empty() {
                continue;
            }
            let p = noding.points[v];
            let planes: Vec<(Plane, f64)> = winners
                .iter()
                .map(|&(winner, sine)| (self.plane(winner), sine))
                .collect();
            let flattest = planes
                .iter()
                .map(|&(plane, _)| plane)
                .min_by(|a, b| a.steepness().total_cmp(&b.steepness()))
                .unwrap_or(planes[0].0);
            let own = planes.iter().map(|(p, _)| p.steepness());
            let own = own.fold(0.0, f64::max);
            let gap = |z: f64| gap_m(&planes, p, z, own);
            let old_id = old.get(&p).copied();
            let old_z = old_id.map(|id| self.surface.vertices[id as usize].z);
            index[v] = vertices.len() as u32;
            // Where only what was there meets, nothing has changed.
            let is_ground = winners.iter().all(|(w, _)| matches!(w, Winner::Ground(_)));
            if let (Some(id), Some(z)) = (old_id, old_z)
                && (is_ground || gap(z) <= 0.0)
            {
                vertices.push(Vertex::Old(id));
                continue;
            }
            if let Some(&facet) = behind.get(&p) {
                // The height must change, but a facet outside the region stands on it.
                more.push(facet);
                continue;
            }
            let z = match corners.get(&p) {
                Some(&z) if gap(z) <= 0.0 => z,
                _ => flattest.z_at(p),
            };
            // A steep face a few units away may have been narrower than the lattice here.
            let open_m = match gap(z) {
                open_m if open_m > 0.0 => gap_m(&planes, p, z, own.max(finder.steepest_near(p))),
                closed_m => closed_m,
            };
            if open_m > 0.0 {
                return Err(ComposeError::OpenRim {
                    at: p,
                    gap_m: open_m,
                });
            }
            vertices.push(Vertex::New(P3 { p, z }));
        }
        if !more.is_empty() {
            more.sort_unstable();
            more.dedup();
            return Ok(Outcome::Grow(more));
        }
        self.check_area(sorted, rims)?;
        let mut number = vec![u32::MAX; winners.len()];
        let mut count = 0;
        for (t, winner) in winners.iter().enumerate() {
            if winner.is_some() {
                number[t] = count;
                count += 1;
            }
        }
        let mut change = Change {
            removed: self.facets.clone(),
            vertices,
            triangles: Vec::with_capacity(count as usize),
            neighbours: Vec::with_capacity(count as usize),
            winners: winners.iter().flatten().copied().collect(),
            sheets: self.patch.sheets.clone(),
        };
        for (t, tri) in triangulation.triangles.iter().enumerate() {
            if winners[t].is_none() {
                continue;
            }
            change.triangles.push(tri.map(|v| index[v as usize]));
            let mut sides = [Behind::Nothing; 3];
            for (k, side) in sides.iter_mut().enumerate() {
                let n = triangulation.neighbours[t][k];
                *side = if n != Triangulation::NONE && winners[n as usize].is_some() {
                    Behind::Inside(number[n as usize])
                } else {
                    let rim = noding
                        .edge(tri[k], tri[(k + 1) % 3])
                        .filter(|e| e.mark != Segment::UNMARKED)
                        .map(|e| rims[e.mark as usize].behind);
                    match rim {
                        Some(facet) if facet != Surface::NONE => Behind::Outside(facet),
                        _ => Behind::Nothing,
                    }
                };
            }
            change.neighbours.push(sides);
        }
        Ok(Outcome::Done(change))
    }

    /// The plan area must be what it was: exactly where no vertex was added on the rim of the
    /// surface, and up to the rounding of those otherwise.
    pub(super) fn check_area(&self, sorted: &Sorted, rims: &[Rim]) -> Result<(), ComposeError> {
        let before: i128 = self
            .facets
            .iter()
            .map(|&f| {
                let [a, b, c] = self.surface.plan(f);
                orient(a, b, c)
            })
            .sum();
        let after: i128 = sorted
            .triangulation
            .triangles
            .iter()
            .zip(&sorted.winners)
            .filter(|(_, winner)| winner.is_some())
            .map(|(tri, _)| {
                let [a, b, c] = tri.map(|v| sorted.noding.points[v as usize]);
                orient(a, b, c)
            })
            .sum();
        let outer: f64 = rims
            .iter()
            .filter(|r| r.behind == Surface::NONE)
            .map(|r| {
                let [a, b] = r.ends;
                ((b.x - a.x) as f64).hypot((b.y - a.y) as f64)
            })
            .sum();
        let slack = 2.0 * STRAIGHT_UNITS * outer;
        if (after - before).unsigned_abs() as f64 > slack {
            let at = self.surface.plan(self.first())[0];
            return Err(ComposeError::AreaChanged { at });
        }
        Ok(())
    }

    pub(super) fn plane(&self, winner: Winner) -> Plane {
        match winner {
            Winner::Ground(source) => self.surface.source_by_id(source).plane,
            Winner::Sheet(sheet) => self.patch.sheets[sheet as usize].plane,
        }
    }
}

/// Sine of the angle of a triangle at a corner; 1 for an obtuse one.
fn sine_at(corners: [Point; 3], k: usize) -> f64 {
    let (at, b, c) = (corners[k], corners[(k + 1) % 3], corners[(k + 2) % 3]);
    let [bx, by] = b.relative_m(at);
    let [cx, cy] = c.relative_m(at);
    if bx * cx + by * cy <= 0.0 {
        return 1.0;
    }
    (bx * cy - by * cx).abs() / (bx.hypot(by) * cx.hypot(cy))
}

/// How far the planes round a vertex are from its height, beyond what the steepest face there
/// explains, metres. With each plane comes the sine of its corner: the tip of a sharp one lies
/// farther along it when its sides move aside.
fn gap_m(planes: &[(Plane, f64)], p: Point, z: f64, steepest: f64) -> f64 {
    let beyond = planes.iter().map(|&(plane, sine)| {
        let slope = plane.steepness();
        let beside = if slope >= STEEP {
            slope * FACE_OFF_M
        } else {
            0.0
        };
        let tip = slope * TIP_M / sine.max(SHARPEST);
        let slack = (OPEN * height_tolerance_m(slope + steepest))
            .max(beside)
            .max(tip);
        (plane.z_at(p) - z).abs() - slack
    });
    beyond.fold(f64::NEG_INFINITY, f64::max)
}

pub(super) fn settle_slivers(noding: &Noding, t: &Triangulation, winners: &mut [Option<Winner>]) {
    let first = winners.to_vec();
    for (i, tri) in t.triangles.iter().enumerate() {
        let Some(own) = first[i] else { continue };
        let Some(longest) = thin_side(tri.map(|v| noding.points[v as usize])) else {
            continue;
        };
        let behind = |k: usize| match t.neighbours[i][k] {
            Triangulation::NONE => None,
            n => first[n as usize],
        };
        if (0..3).all(|k| behind(k) != Some(own))
            && let Some(winner) = behind(longest)
        {
            winners[i] = Some(winner);
        }
    }
}
