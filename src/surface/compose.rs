//! Composition: lays a patch on a surface by lowering or raising it.
//!
//! The way, step by step (`DEVELOPERS.md`, "The kernel", gives the reasons):
//!
//! 1. Facets where a piece of the patch wins are found with the grid; with their edge
//!    neighbours they are the *region*. Nothing outside the region changes.
//! 2. Edges of the region, edges of the pieces and the *daylight* lines where a facet and a
//!    piece (or two pieces) meet are noded on the lattice and triangulated.
//! 3. Each triangle finds the facet and the pieces that hold its centre, exactly; the one that
//!    wins there is its source.
//! 4. Only edges between different sources are kept; vertices that merely cut a straight edge
//!    in two go. What is left is noded and triangulated again.
//! 5. Every height is checked against the planes of all facets around it, the area against what
//!    was there. Only then is the surface touched.
//!
//! If an edge of the region's rim would have to be cut, the facet behind it joins the region and
//! the work starts again.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use crate::geom::{
    CdtError, NodedEdge, Noding, NodingError, P3, Point, Segment, Triangulation, node, odd_side,
    orient, orient_sign, triangulate,
};

use super::clip::Polygon;
use super::grid::{Grid, Span};
use super::height_tolerance_m;
use super::patch::{Patch, Piece};
use super::plane::{Plane, Source};
use super::surface::{Facet, Surface};

/// Which of two heights wins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rule {
    /// The lower: digging.
    Lower,
    /// The higher: filling.
    Raise,
}

impl Rule {
    fn sign(self) -> f64 {
        match self {
            Rule::Lower => 1.0,
            Rule::Raise => -1.0,
        }
    }
}

/// What a composition did.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Composed {
    /// Facets taken out.
    pub removed: usize,
    /// Facets put in.
    pub added: usize,
}

/// Why a patch could not be laid; the surface is as it was.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum ComposeError {
    /// The rim of the patch does not reach the surface: there would be a step in it.
    #[error("the shape ends in the air: its rim is {gap_m:.3} m off the surface")]
    OpenRim {
        /// Where the step is highest.
        at: Point,
        /// Its height.
        gap_m: f64,
    },
    /// Lines too close together to be told apart.
    #[error("lines too close together to be told apart")]
    Unsettled {
        /// Where.
        at: Point,
    },
    /// The plan area changed: a check of the kernel against itself.
    #[error("the plan area would change")]
    AreaChanged {
        /// A place in the region.
        at: Point,
    },
    /// The region grew without end.
    #[error("the change spreads without end")]
    Spreads {
        /// A place in the region.
        at: Point,
    },
    /// The triangulator failed.
    #[error(transparent)]
    Triangulation(#[from] CdtError),
}

impl ComposeError {
    /// The place the error is about, if it has one.
    pub fn at(&self) -> Option<Point> {
        match *self {
            ComposeError::OpenRim { at, .. }
            | ComposeError::Unsettled { at }
            | ComposeError::AreaChanged { at }
            | ComposeError::Spreads { at } => Some(at),
            ComposeError::Triangulation(_) => None,
        }
    }
}

impl From<NodingError> for ComposeError {
    fn from(error: NodingError) -> ComposeError {
        match error {
            NodingError::Unsettled { at } => ComposeError::Unsettled { at },
        }
    }
}

/// Steepness up to which faces are looked for beside a place; steeper ones are not made.
const STEEPEST: f64 = 1.0e5;

/// How often the region may grow before the composition is given up.
const MAX_GROWTHS: usize = 100;

/// Vertices this many lattice units off the chord between their neighbours only cut it in two.
/// Rounding takes 0.71 units, snapping in further rounds the rest.
const STRAIGHT_UNITS: f64 = 2.0;

impl Surface {
    /// Lays a patch on the surface.
    ///
    /// Where the patch leaves the surface it is cut off at its rim. Where heights agree within
    /// the tolerance the surface that was there stays, so laying the same patch twice changes
    /// nothing.
    ///
    /// # Errors
    ///
    /// [`ComposeError`]; the surface is then unchanged
    /// # Cost
    ///
    /// that of the facets and pieces that meet, not of the whole surface
    pub fn compose(&mut self, patch: &Patch, rule: Rule) -> Result<Composed, ComposeError> {
        let Some(mut region) = Region::find(self, patch, rule) else {
            return Ok(Composed::default());
        };
        for _ in 0..MAX_GROWTHS {
            match region.work()? {
                Outcome::Unchanged => return Ok(Composed::default()),
                Outcome::Grow(more) => region.grow(&more),
                Outcome::Done(change) => return Ok(self.commit(&change)),
            }
        }
        Err(ComposeError::Spreads {
            at: self.plan(region.first())[0],
        })
    }

    fn commit(&mut self, change: &Change) -> Composed {
        let mut sheets: BTreeMap<u32, u32> = BTreeMap::new();
        for winner in &change.winners {
            if let Winner::Sheet(sheet) = *winner {
                sheets.entry(sheet).or_insert_with(|| {
                    self.sources.push(change.sheets[sheet as usize]);
                    self.sources.len() as u32 - 1
                });
            }
        }
        let vertex: Vec<u32> = change
            .vertices
            .iter()
            .map(|v| match *v {
                Vertex::Old(id) => id,
                Vertex::New(p3) => {
                    self.vertices.push(p3);
                    self.vertices.len() as u32 - 1
                }
            })
            .collect();
        for &f in &change.removed {
            self.facets[f as usize] = Facet::DEAD;
        }
        self.dead.extend(change.removed.iter().rev());
        let ids: Vec<u32> = change
            .triangles
            .iter()
            .map(|_| {
                self.dead.pop().unwrap_or_else(|| {
                    self.facets.push(Facet::DEAD);
                    self.facets.len() as u32 - 1
                })
            })
            .collect();
        for (t, &id) in ids.iter().enumerate() {
            let v = change.triangles[t].map(|k| vertex[k as usize]);
            let mut n = [Surface::NONE; 3];
            for k in 0..3 {
                n[k] = match change.neighbours[t][k] {
                    Behind::Inside(other) => ids[other as usize],
                    Behind::Outside(facet) => {
                        let other = &mut self.facets[facet as usize];
                        for j in 0..3 {
                            if other.v[j] == v[(k + 1) % 3] && other.v[(j + 1) % 3] == v[k] {
                                other.n[j] = id;
                            }
                        }
                        facet
                    }
                    Behind::Nothing => Surface::NONE,
                };
            }
            let source = match change.winners[t] {
                Winner::Ground(source) => source,
                Winner::Sheet(sheet) => sheets[&sheet],
            };
            self.facets[id as usize] = Facet { v, n, source };
            let plan = v.map(|k| self.vertices[k as usize].p);
            self.grid.insert(id, &Span::triangle(plan));
        }
        Composed {
            removed: change.removed.len(),
            added: ids.len(),
        }
    }
}

/// Where a triangle comes from: a plane of the surface, or a sheet of the patch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Winner {
    Ground(u32),
    Sheet(u32),
}

#[derive(Clone, Copy, Debug)]
enum Vertex {
    Old(u32),
    New(P3),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Behind {
    Inside(u32),
    Outside(u32),
    Nothing,
}

/// What is to be taken out and put in.
struct Change {
    removed: Vec<u32>,
    vertices: Vec<Vertex>,
    triangles: Vec<[u32; 3]>,
    neighbours: Vec<[Behind; 3]>,
    winners: Vec<Winner>,
    sheets: Vec<Source>,
}

enum Outcome {
    Unchanged,
    Grow(Vec<u32>),
    Done(Change),
}

/// An edge between the region and what lies around it.
#[derive(Clone, Copy)]
struct Rim {
    ends: [Point; 2],
    /// The facet behind it, or [`Surface::NONE`] at the rim of the surface.
    behind: u32,
}

/// The facets that may change, and the pieces that may change them.
struct Region<'a> {
    surface: &'a Surface,
    patch: &'a Patch,
    sign: f64,
    facets: BTreeSet<u32>,
    /// Indices of pieces that win somewhere.
    pieces: Vec<u32>,
}

impl<'a> Region<'a> {
    /// Facets where a piece wins, and their neighbours; `None` if none does.
    fn find(surface: &'a Surface, patch: &'a Patch, rule: Rule) -> Option<Region<'a>> {
        let sign = rule.sign();
        let mut facets = BTreeSet::new();
        let mut pieces = Vec::new();
        for (i, piece) in patch.pieces.iter().enumerate() {
            let mut wins = false;
            let plane = &patch.sheets[piece.sheet as usize].plane;
            surface.facets_near(&Span::triangle(piece.corners.map(|c| c.p)), |f| {
                // The difference is linear: where it is nowhere positive at the corners of the
                // facet, the piece wins nowhere on it. Most facets end here.
                let at_corners = surface.corners(f).map(|c| sign * (c.z - plane.z_at(c.p)));
                if at_corners.iter().all(|&gain| gain <= 0.0) {
                    return;
                }
                let pair = Pair::new(surface, f, patch, piece, sign);
                if pair.highest() > pair.tolerance {
                    facets.insert(f);
                    wins = true;
                }
            });
            if wins {
                pieces.push(i as u32);
            }
        }
        if facets.is_empty() {
            return None;
        }
        let ring: Vec<u32> = facets
            .iter()
            .flat_map(|&f| surface.neighbours(f))
            .filter(|&n| n != Surface::NONE)
            .collect();
        facets.extend(ring);
        Some(Region {
            surface,
            patch,
            sign,
            facets,
            pieces,
        })
    }

    fn first(&self) -> u32 {
        self.facets.first().copied().unwrap_or(0)
    }

    fn grow(&mut self, more: &[u32]) {
        self.facets.extend(more);
    }

    fn work(&self) -> Result<Outcome, ComposeError> {
        let arrangement = self.arrange();
        let rims = arrangement.rims;
        let first = self.sort_out(&arrangement.points, &arrangement.segments)?;
        // What the rounding beside a steep face explains is not a change.
        let finder = Finder::new(self);
        let changes = first
            .triangulation
            .triangles
            .iter()
            .zip(&first.winners)
            .any(|(tri, winner)| {
                let Some(Winner::Sheet(sheet)) = *winner else {
                    return false;
                };
                let tri = tri.map(|v| first.noding.points[v as usize]);
                thin_side(tri).is_none() && finder.is_real_gain(tri, sheet)
            });
        if !changes {
            return Ok(Outcome::Unchanged);
        }
        let (points, segments) = self.simplify(&first, &rims);
        let second = self.sort_out(&points, &segments)?;
        let cut = self.cut_rims(&second, &rims);
        if !cut.is_empty() {
            return Ok(Outcome::Grow(cut));
        }
        self.finish(&second, &rims)
    }

    /// Points and segments of the region, the pieces and the daylight lines.
    fn arrange(&self) -> Arrangement {
        let mut arrangement = Arrangement::default();
        for &f in &self.facets {
            let plan = self.surface.plan(f);
            let n = self.surface.neighbours(f);
            for k in 0..3 {
                let (a, b) = (plan[k], plan[(k + 1) % 3]);
                if !self.facets.contains(&n[k]) {
                    arrangement.add_rim(Rim {
                        ends: [a, b],
                        behind: n[k],
                    });
                } else if f < n[k] {
                    arrangement.add(a, b);
                }
            }
        }
        for &i in &self.pieces {
            let c = self.patch.pieces[i as usize].corners;
            for k in 0..3 {
                arrangement.add(c[k].p, c[(k + 1) % 3].p);
            }
        }
        for (k, &i) in self.pieces.iter().enumerate() {
            let piece = &self.patch.pieces[i as usize];
            let span = Span::triangle(piece.corners.map(|c| c.p));
            let plane = &self.patch.sheets[piece.sheet as usize].plane;
            for &f in &self.facets {
                let corners = self.surface.corners(f);
                let gains = corners.map(|c| self.sign * (c.z - plane.z_at(c.p)));
                // A difference of one sign at the corners has no zero line between them.
                let is_crossed = gains.iter().any(|&g| g > 0.0) && gains.iter().any(|&g| g < 0.0);
                if is_crossed && span.common(&Span::triangle(corners.map(|c| c.p))).is_some() {
                    let pair = Pair::new(self.surface, f, self.patch, piece, self.sign);
                    arrangement.add_daylight(pair.daylight());
                }
            }
            for &j in &self.pieces[k + 1..] {
                let other = &self.patch.pieces[j as usize];
                if other.sheet != piece.sheet
                    && span
                        .common(&Span::triangle(other.corners.map(|c| c.p)))
                        .is_some()
                {
                    let pair = Pair::of_pieces(self.patch, piece, other, self.sign);
                    arrangement.add_daylight(pair.daylight());
                }
            }
        }
        arrangement
    }

    /// Nodes, triangulates and finds the winner of every triangle inside the region.
    fn sort_out(&self, points: &[Point], segments: &[Segment]) -> Result<Sorted, ComposeError> {
        let noding = node(points, segments)?;
        let edges: Vec<[u32; 2]> = noding.edges.iter().map(|e| [e.a, e.b]).collect();
        let triangulation = triangulate(&noding.points, &edges)?;
        let inside = odd_side(&triangulation, |a, b| {
            find_edge(&noding.edges, a, b).is_some_and(|e| e.marked % 2 == 1)
        });
        let finder = Finder::new(self);
        let mut winners: Vec<Option<Winner>> = vec![None; triangulation.triangles.len()];
        let mut lost: Vec<u32> = Vec::new();
        for (t, tri) in triangulation.triangles.iter().enumerate() {
            if inside[t] {
                winners[t] = finder.winner(tri.map(|v| noding.points[v as usize]));
                if winners[t].is_none() {
                    lost.push(t as u32);
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
        })
    }

    /// Keeps edges between different sources and straightens them.
    fn simplify(&self, sorted: &Sorted, rims: &[Rim]) -> (Vec<Point>, Vec<Segment>) {
        let kept = Kept::new(sorted);
        let fixed: BTreeSet<Point> = rims.iter().flat_map(|r| r.ends).collect();
        let mut arrangement = Arrangement::default();
        kept.chains(&sorted.noding.points, &fixed, |a, b, mark| {
            arrangement.add_marked(a, b, mark);
        });
        (arrangement.points, arrangement.segments)
    }

    /// Facets behind rim edges that were cut.
    fn cut_rims(&self, sorted: &Sorted, rims: &[Rim]) -> Vec<u32> {
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
    fn finish(&self, sorted: &Sorted, rims: &[Rim]) -> Result<Outcome, ComposeError> {
        let Sorted {
            noding,
            triangulation,
            winners,
        } = sorted;
        let old: HashMap<Point, u32> = self
            .facets
            .iter()
            .flat_map(|&f| self.surface.vertex_ids(f))
            .map(|v| (self.surface.vertices[v as usize].p, v))
            .collect();
        let corners: HashMap<Point, f64> = self
            .pieces
            .iter()
            .flat_map(|&i| self.patch.pieces[i as usize].corners)
            .map(|c| (c.p, c.z))
            .collect();
        let behind: HashMap<Point, u32> = rims
            .iter()
            .filter(|r| r.behind != Surface::NONE)
            .flat_map(|r| r.ends.map(|p| (p, r.behind)))
            .collect();
        let finder = Finder::new(self);
        // Planes round every vertex.
        let mut around: Vec<Vec<Winner>> = vec![Vec::new(); noding.points.len()];
        for (tri, winner) in triangulation.triangles.iter().zip(winners) {
            if let Some(winner) = *winner {
                for &v in tri {
                    if !around[v as usize].contains(&winner) {
                        around[v as usize].push(winner);
                    }
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
            let planes: Vec<&Plane> = winners.iter().map(|&w| self.plane(w)).collect();
            let flattest = planes
                .iter()
                .copied()
                .min_by(|a, b| a.steepness().total_cmp(&b.steepness()))
                .unwrap_or(planes[0]);
            // Beside a steep face the place itself is uncertain along the face: the lines where two
            // other planes meet it run nearly side by side, and a unit across moves their
            // crossing by as much as the face is steep. A step lower than that is no step.
            let steepest = finder.steepest_near(p);
            let gap = |z: f64| {
                planes
                    .iter()
                    .map(|plane| {
                        let slack = height_tolerance_m(plane.steepness() + steepest);
                        (plane.z_at(p) - z).abs() - slack
                    })
                    .fold(f64::NEG_INFINITY, f64::max)
            };
            let old_id = old.get(&p).copied();
            let old_z = old_id.map(|id| self.surface.vertices[id as usize].z);
            index[v] = vertices.len() as u32;
            if let (Some(id), Some(z)) = (old_id, old_z)
                && gap(z) <= 0.0
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
            let off = gap(z);
            if off > 0.0 {
                return Err(ComposeError::OpenRim { at: p, gap_m: off });
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
            removed: self.facets.iter().copied().collect(),
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
                    let rim = find_edge(&noding.edges, tri[k], tri[(k + 1) % 3])
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
    fn check_area(&self, sorted: &Sorted, rims: &[Rim]) -> Result<(), ComposeError> {
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

    fn plane(&self, winner: Winner) -> &Plane {
        match winner {
            Winner::Ground(source) => &self.surface.sources[source as usize].plane,
            Winner::Sheet(sheet) => &self.patch.sheets[sheet as usize].plane,
        }
    }
}

/// Triangles thinner than this many units are decided by their neighbours: the centre of one may
/// lie in a crack between two pieces whose corners were rounded apart.
const THIN_UNITS: f64 = 2.0;

fn settle_slivers(noding: &Noding, t: &Triangulation, winners: &mut [Option<Winner>]) {
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

/// The longest side of a triangle that is thinner than [`THIN_UNITS`].
fn thin_side(p: [Point; 3]) -> Option<usize> {
    let lengths = [0, 1, 2].map(|k| {
        let (a, b) = (p[k], p[(k + 1) % 3]);
        ((b.x - a.x) as f64).hypot((b.y - a.y) as f64)
    });
    let longest = if lengths[0] >= lengths[1] && lengths[0] >= lengths[2] {
        0
    } else if lengths[1] >= lengths[2] {
        1
    } else {
        2
    };
    (orient(p[0], p[1], p[2]) as f64 <= THIN_UNITS * lengths[longest]).then_some(longest)
}

fn find_edge(edges: &[NodedEdge], a: u32, b: u32) -> Option<&NodedEdge> {
    edges
        .binary_search_by_key(&(a.min(b), a.max(b)), |e| (e.a, e.b))
        .ok()
        .map(|i| &edges[i])
}

/// A noded and triangulated region; `None` for triangles outside it.
struct Sorted {
    noding: Noding,
    triangulation: Triangulation,
    winners: Vec<Option<Winner>>,
}

/// Points, each once, and segments between them.
#[derive(Default)]
struct Arrangement {
    points: Vec<Point>,
    index: HashMap<Point, u32>,
    segments: Vec<Segment>,
    rims: Vec<Rim>,
}

impl Arrangement {
    fn point(&mut self, p: Point) -> u32 {
        let next = self.points.len() as u32;
        let index = *self.index.entry(p).or_insert(next);
        if index == next {
            self.points.push(p);
        }
        index
    }

    fn add(&mut self, a: Point, b: Point) {
        self.add_marked(a, b, Segment::UNMARKED);
    }

    fn add_marked(&mut self, a: Point, b: Point, mark: u32) {
        let (a, b) = (self.point(a), self.point(b));
        if a != b {
            self.segments.push(Segment { a, b, mark });
        }
    }

    fn add_rim(&mut self, rim: Rim) {
        self.add_marked(rim.ends[0], rim.ends[1], self.rims.len() as u32);
        self.rims.push(rim);
    }

    fn add_daylight(&mut self, line: Option<[Point; 2]>) {
        if let Some([a, b]) = line {
            self.add(a, b);
        }
    }
}

/// A facet and a piece, or two pieces, that share some plan area.
struct Pair {
    origin: Point,
    polygon: Polygon,
    /// Height of the first over the second at the corners, positive where the second wins.
    gain: [f64; 9],
    tolerance: f64,
    first: [P3; 3],
    second: [P3; 3],
    first_plane: Plane,
    second_plane: Plane,
    sign: f64,
}

impl Pair {
    fn new(surface: &Surface, facet: u32, patch: &Patch, piece: &Piece, sign: f64) -> Pair {
        Pair::between(
            (surface.corners(facet), &surface.source(facet).plane),
            (piece.corners, &patch.sheets[piece.sheet as usize].plane),
            sign,
        )
    }

    fn of_pieces(patch: &Patch, first: &Piece, second: &Piece, sign: f64) -> Pair {
        Pair::between(
            (first.corners, &patch.sheets[first.sheet as usize].plane),
            (second.corners, &patch.sheets[second.sheet as usize].plane),
            sign,
        )
    }

    fn between(
        (first, first_plane): ([P3; 3], &Plane),
        (second, second_plane): ([P3; 3], &Plane),
        sign: f64,
    ) -> Pair {
        let origin = first[0].p;
        let polygon = Polygon::common(
            first.map(|c| c.p.relative_m(origin)),
            second.map(|c| c.p.relative_m(origin)),
        );
        let base = first_plane.z_at(origin) - second_plane.z_at(origin);
        let slope = [
            first_plane.slope[0] - second_plane.slope[0],
            first_plane.slope[1] - second_plane.slope[1],
        ];
        let mut gain = [0.0; 9];
        for (gain, q) in gain.iter_mut().zip(polygon.corners()) {
            *gain = sign * (base + slope[0] * q[0] + slope[1] * q[1]);
        }
        Pair {
            origin,
            polygon,
            gain,
            tolerance: height_tolerance_m(first_plane.steepness() + second_plane.steepness()),
            first,
            second,
            first_plane: *first_plane,
            second_plane: *second_plane,
            sign,
        }
    }

    fn gains(&self) -> &[f64] {
        &self.gain[..self.polygon.corners().len()]
    }

    fn highest(&self) -> f64 {
        // A common part thinner than the lattice decides nothing.
        if self.polygon.area() < 1.0e-18 {
            return f64::NEG_INFINITY;
        }
        self.gains()
            .iter()
            .copied()
            .fold(f64::NEG_INFINITY, f64::max)
    }

    /// The line where the two are equally high, inside the common part.
    fn daylight(&self) -> Option<[Point; 2]> {
        let gains = self.gains();
        if self.highest() <= self.tolerance
            || gains.iter().copied().fold(f64::INFINITY, f64::min) >= 0.0
        {
            return None;
        }
        let mut ends: Vec<Point> = Vec::with_capacity(4);
        for (i, &gain) in gains.iter().enumerate() {
            let j = if i + 1 == gains.len() { 0 } else { i + 1 };
            if gain == 0.0 {
                let q = self.polygon.corners()[i];
                let offset = Point::from_m(q[0], q[1]);
                ends.push(Point::new(
                    self.origin.x + offset.x,
                    self.origin.y + offset.y,
                ));
            } else if (gain > 0.0) != (gains[j] > 0.0) && gains[j] != 0.0 {
                ends.push(self.on_side(self.polygon.sides()[i]));
            }
        }
        // Rounding may find the same end several times: the two farthest apart are meant.
        let mut best: Option<(f64, [Point; 2])> = None;
        for (i, &a) in ends.iter().enumerate() {
            for &b in &ends[i + 1..] {
                let far = ((b.x - a.x) as f64).hypot((b.y - a.y) as f64);
                if far > 0.0 && best.is_none_or(|(most, _)| far > most) {
                    best = Some((far, [a, b]));
                }
            }
        }
        best.map(|(_, ends)| ends)
    }

    /// The daylight point on a side, computed from the whole side in a fixed direction: every
    /// pair that shares the side and the other plane finds the same lattice point.
    fn on_side(&self, side: u8) -> Point {
        let (triangle, other) = if side < 3 {
            (&self.first, &self.second_plane)
        } else {
            (&self.second, &self.first_plane)
        };
        let k = side as usize % 3;
        let (mut a, mut b) = (triangle[k], triangle[(k + 1) % 3]);
        if b.p < a.p {
            std::mem::swap(&mut a, &mut b);
        }
        let at_a = self.sign * (a.z - other.z_at(a.p));
        let at_b = self.sign * (b.z - other.z_at(b.p));
        let t = at_a / (at_a - at_b);
        let t = if t.is_finite() {
            t.clamp(0.0, 1.0)
        } else {
            0.5
        };
        Point::new(
            a.p.x + (t * (b.p.x - a.p.x) as f64).round() as i64,
            a.p.y + (t * (b.p.y - a.p.y) as f64).round() as i64,
        )
    }
}

/// Finds what holds the centre of a triangle.
struct Finder<'a> {
    region: &'a Region<'a>,
    facets: Vec<u32>,
    facet_spans: Vec<Span>,
    facet_grid: Grid,
    piece_spans: Vec<Span>,
    piece_grid: Grid,
}

impl<'a> Finder<'a> {
    fn new(region: &'a Region<'a>) -> Finder<'a> {
        let facets: Vec<u32> = region.facets.iter().copied().collect();
        let facet_spans: Vec<Span> = facets
            .iter()
            .map(|&f| Span::triangle(region.surface.plan(f)))
            .collect();
        let piece_spans: Vec<Span> = region
            .pieces
            .iter()
            .map(|&i| Span::triangle(region.patch.pieces[i as usize].corners.map(|c| c.p)))
            .collect();
        Finder {
            region,
            facet_grid: Grid::new(&facet_spans),
            piece_grid: Grid::new(&piece_spans),
            facets,
            facet_spans,
            piece_spans,
        }
    }

    /// True if a sheet wins at a corner of a triangle by more than the steepest face nearby lets
    /// heights be uncertain there.
    fn is_real_gain(&self, triangle: [Point; 3], sheet: u32) -> bool {
        let Some(ground) = self.ground(&Centre::of(triangle)) else {
            return true;
        };
        let under = &self.region.surface.source(ground).plane;
        let over = &self.region.patch.sheets[sheet as usize].plane;
        triangle.iter().any(|&p| {
            let gain = self.region.sign * (under.z_at(p) - over.z_at(p));
            gain > height_tolerance_m(over.steepness() + under.steepness())
                && gain > height_tolerance_m(over.steepness() + self.steepest_beside(p))
        })
    }

    /// The facet that holds a centre; the lowest id on an edge.
    fn ground(&self, centre: &Centre) -> Option<u32> {
        let surface = self.region.surface;
        let mut ground: Option<u32> = None;
        self.facet_grid.near(
            &centre.span(),
            |i| Some(self.facet_spans[i as usize]),
            |i| {
                let f = self.facets[i as usize];
                if centre.is_in(surface.plan(f)) {
                    ground = Some(ground.map_or(f, |g| g.min(f)));
                }
            },
        );
        ground
    }

    /// Steepness of the steepest facet or piece beside which heights at a place may be uncertain:
    /// a place runs along a face by as many units as the face is steep.
    fn steepest_beside(&self, p: Point) -> f64 {
        let far = (THIN_UNITS * STEEPEST) as i64;
        let span = Span {
            low: Point::new(p.x - far, p.y - far),
            high: Point::new(p.x + far, p.y + far),
        };
        let mut steepest = 0.0f64;
        let mut see = |triangle: [Point; 3], steepness: f64| {
            if steepness > steepest && is_near(triangle, p, 2.0 * THIN_UNITS * (1.0 + steepness)) {
                steepest = steepness;
            }
        };
        let surface = self.region.surface;
        surface.facets_near(&span, |f| {
            see(surface.plan(f), surface.source(f).plane.steepness());
        });
        let patch = self.region.patch;
        for piece in &patch.pieces {
            let plane = &patch.sheets[piece.sheet as usize].plane;
            see(piece.corners.map(|c| c.p), plane.steepness());
        }
        steepest
    }

    /// Steepness of the steepest facet or piece within a few units of a place.
    fn steepest_near(&self, p: Point) -> f64 {
        let reach = THIN_UNITS as i64;
        let span = Span {
            low: Point::new(p.x - reach, p.y - reach),
            high: Point::new(p.x + reach, p.y + reach),
        };
        let surface = self.region.surface;
        let mut steepest = 0.0f64;
        self.facet_grid.near(
            &span,
            |i| Some(self.facet_spans[i as usize]),
            |i| {
                let f = self.facets[i as usize];
                if is_near(surface.plan(f), p, THIN_UNITS) {
                    steepest = steepest.max(surface.source(f).plane.steepness());
                }
            },
        );
        self.piece_grid.near(
            &span,
            |i| Some(self.piece_spans[i as usize]),
            |i| {
                let piece = &self.region.patch.pieces[self.region.pieces[i as usize] as usize];
                if is_near(piece.corners.map(|c| c.p), p, THIN_UNITS) {
                    let plane = &self.region.patch.sheets[piece.sheet as usize].plane;
                    steepest = steepest.max(plane.steepness());
                }
            },
        );
        steepest
    }

    fn winner(&self, triangle: [Point; 3]) -> Option<Winner> {
        let centre = Centre::of(triangle);
        let span = centre.span();
        let surface = self.region.surface;
        let ground = self.ground(&centre)?;
        let source = surface.facets[ground as usize].source;
        let under = &surface.sources[source as usize].plane;
        let under_z = centre.z(under);
        let mut best: Option<(f64, f64, u32)> = None;
        self.piece_grid.near(
            &span,
            |i| Some(self.piece_spans[i as usize]),
            |i| {
                let piece = &self.region.patch.pieces[self.region.pieces[i as usize] as usize];
                if !centre.is_in(piece.corners.map(|c| c.p)) {
                    return;
                }
                let plane = &self.region.patch.sheets[piece.sheet as usize].plane;
                let gain = self.region.sign * (under_z - centre.z(plane));
                let steepness = plane.steepness();
                let better = best.is_none_or(|(best_gain, best_steepness, sheet)| {
                    let slack = height_tolerance_m(steepness.min(best_steepness));
                    gain > best_gain + slack || (gain >= best_gain - slack && piece.sheet < sheet)
                });
                if better {
                    best = Some((gain, steepness, piece.sheet));
                }
            },
        );
        match best {
            Some((gain, steepness, sheet))
                if gain > height_tolerance_m(steepness + under.steepness()) =>
            {
                Some(Winner::Sheet(sheet))
            }
            _ => Some(Winner::Ground(source)),
        }
    }
}

/// True within this many units of a counter-clockwise triangle, about.
fn is_near(t: [Point; 3], p: Point, units: f64) -> bool {
    (0..3).all(|k| {
        let (a, b) = (t[k], t[(k + 1) % 3]);
        let length = ((b.x - a.x) as f64).hypot((b.y - a.y) as f64);
        orient(a, b, p) as f64 >= -units * length
    })
}

/// The centre of a triangle, held three times as large so that it is exact.
struct Centre {
    x3: i64,
    y3: i64,
}

impl Centre {
    fn of(t: [Point; 3]) -> Centre {
        Centre {
            x3: t[0].x + t[1].x + t[2].x,
            y3: t[0].y + t[1].y + t[2].y,
        }
    }

    fn span(&self) -> Span {
        let low = Point::new(self.x3.div_euclid(3), self.y3.div_euclid(3));
        Span {
            low,
            high: Point::new(low.x + 1, low.y + 1),
        }
    }

    fn is_in(&self, t: [Point; 3]) -> bool {
        let t3 = t.map(|p| Point::new(3 * p.x, 3 * p.y));
        let c = Point::new(self.x3, self.y3);
        orient_sign(t3[0], t3[1], c) >= 0
            && orient_sign(t3[1], t3[2], c) >= 0
            && orient_sign(t3[2], t3[0], c) >= 0
    }

    fn z(&self, plane: &Plane) -> f64 {
        let from = plane.through.p;
        let x = (self.x3 - 3 * from.x) as f64 / 3.0e9;
        let y = (self.y3 - 3 * from.y) as f64 / 3.0e9;
        plane.through.z + (plane.slope[0] * x + plane.slope[1] * y)
    }
}

/// What lies on one side of a kept edge.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Side {
    Of(Winner),
    /// Behind the rim with this number.
    Rim(u32),
}

/// An edge between two different sources.
#[derive(Clone, Copy)]
struct KeptEdge {
    ends: [u32; 2],
    /// Left and right, walking from the first end to the second.
    sides: [Side; 2],
    mark: u32,
}

/// The edges kept, by vertex.
struct Kept {
    edges: Vec<KeptEdge>,
    /// (vertex, edge), sorted.
    at: Vec<(u32, u32)>,
}

impl Kept {
    fn new(sorted: &Sorted) -> Kept {
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
                        let mark = find_edge(&sorted.noding.edges, a, b)
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

    fn around(&self, vertex: u32) -> &[(u32, u32)] {
        let from = self.at.partition_point(|&(v, _)| v < vertex);
        let len = self.at[from..]
            .iter()
            .take_while(|&&(v, _)| v == vertex)
            .count();
        &self.at[from..from + len]
    }

    /// The edge a line goes on with after `edge` at `vertex`, if it only passes through there.
    fn onward(
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
    fn chains(
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
fn straighten(line: &[Point], mut stretch: impl FnMut(Point, Point)) {
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

fn is_straight(line: &[Point]) -> bool {
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
