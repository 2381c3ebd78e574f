//! The surface itself: vertices, facets with neighbours, the planes they come from.

use std::collections::BTreeMap;

use crate::geom::{P3, Point, Triangulation, orient, orient_sign};
use crate::units::NM_PER_M;

use super::grid::{Grid, Span};
use super::plane::{Label, Plane, Source};

/// A flat triangle of a surface.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Facet {
    /// Corners, counter-clockwise, as indices of vertices.
    pub v: [u32; 3],
    /// `n[k]` lies across the edge from corner `k` to corner `k + 1`; [`Surface::NONE`] at the rim.
    pub n: [u32; 3],
    /// The plane it lies in.
    pub(super) source: SourceId,
}

/// Which plane a facet lies in. That of a facet as it was built is not stored: it goes
/// through its corners. It is stored once the facet is cut, for the pieces of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct SourceId(u32);

impl SourceId {
    const OWN: u32 = 1 << 31;

    /// The plane through the corners of the facet itself, which was built with this id.
    pub(super) fn own(id: u32) -> SourceId {
        SourceId(id | SourceId::OWN)
    }

    /// A plane that is stored.
    pub(super) fn stored(id: u32) -> SourceId {
        SourceId(id)
    }

    pub(super) fn is_own(self) -> bool {
        self.0 & SourceId::OWN != 0
    }

    /// The same for a facet and its pieces.
    pub(super) fn id(self) -> u32 {
        self.0 & !SourceId::OWN
    }
}

impl Facet {
    pub(super) const DEAD: Facet = Facet {
        v: [Surface::NONE; 3],
        n: [Surface::NONE; 3],
        source: SourceId(0),
    };

    pub(super) fn is_dead(&self) -> bool {
        self.v[0] == Surface::NONE
    }
}

/// A surface with one height at every place it covers.
///
/// Flat arrays by facet and by vertex. A facet that a composition replaced stays as a dead
/// entry until another takes its place; [`Surface::facets`] leaves it out.
#[derive(Debug, Default)]
pub struct Surface {
    pub(super) vertices: Vec<P3>,
    pub(super) facets: Vec<Facet>,
    /// Facets as built, all with one label: ids of sources below this are theirs.
    pub(super) num_own: u32,
    own_label: Label,
    /// Sources of those that were cut.
    pub(super) cut: BTreeMap<u32, Source>,
    /// All other sources, ids from `num_own` on.
    pub(super) sources: Vec<Source>,
    pub(super) dead: Vec<u32>,
    pub(super) grid: Grid,
    /// Compositions that changed something and were not taken back.
    pub(super) compositions: u64,
}

impl Clone for Surface {
    /// A copy with some room: the first composition on it need not move whole arrays.
    fn clone(&self) -> Surface {
        fn with_room<T: Copy>(all: &[T]) -> Vec<T> {
            let mut copy = Vec::with_capacity(all.len() + all.len() / 16 + 1024);
            copy.extend_from_slice(all);
            copy
        }
        Surface {
            vertices: with_room(&self.vertices),
            facets: with_room(&self.facets),
            num_own: self.num_own,
            own_label: self.own_label,
            cut: self.cut.clone(),
            sources: with_room(&self.sources),
            dead: self.dead.clone(),
            grid: self.grid.clone(),
            compositions: self.compositions,
        }
    }
}

/// Why triangles make no surface.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SurfaceError {
    /// A triangle without area, or clockwise.
    #[error("triangle {0} has no area or is turned over")]
    BadTriangle(usize),
    /// More than two triangles at one edge.
    #[error("more than two triangles meet at one edge")]
    ThreeAtAnEdge {
        /// One end of the edge.
        at: Point,
    },
}

impl Surface {
    /// No facet.
    pub const NONE: u32 = u32::MAX;

    /// A surface from vertices and counter-clockwise triangles, every one with this label.
    ///
    /// # Errors
    ///
    /// [`SurfaceError`]
    pub fn from_triangles(
        vertices: Vec<P3>,
        triangles: &[[u32; 3]],
        label: Label,
    ) -> Result<Surface, SurfaceError> {
        let neighbours = link(&vertices, triangles)?;
        let facets = linked(&vertices, triangles, &neighbours)?;
        drop(neighbours);
        Ok(Surface::of_facets(vertices, facets, label))
    }

    /// The same from a triangulation of the vertices.
    pub(crate) fn from_triangulation(
        vertices: Vec<P3>,
        t: Triangulation,
        label: Label,
    ) -> Result<Surface, SurfaceError> {
        let facets = linked(&vertices, &t.triangles, &t.neighbours)?;
        drop(t);
        Ok(Surface::of_facets(vertices, facets, label))
    }

    /// The same with a source for every triangle.
    pub(super) fn with_sources(
        vertices: Vec<P3>,
        triangles: &[[u32; 3]],
        sources: Vec<Source>,
    ) -> Result<Surface, SurfaceError> {
        let mut surface = Surface::from_triangles(vertices, triangles, 0)?;
        for (facet, id) in surface.facets.iter_mut().zip(0..) {
            facet.source = SourceId::stored(id);
        }
        surface.num_own = 0;
        surface.sources = sources;
        Ok(surface)
    }

    fn of_facets(vertices: Vec<P3>, facets: Vec<Facet>, own_label: Label) -> Surface {
        let mut surface = Surface {
            num_own: facets.len() as u32,
            vertices,
            facets,
            own_label,
            ..Surface::default()
        };
        surface.grid = Grid::new(surface.facets.len(), |f| {
            Span::triangle(surface.plan(f as u32))
        });
        surface
    }

    /// The surface moved in plan by whole lattice units.
    pub fn moved(&self, by: Point) -> Surface {
        let mut moved = self.clone();
        let vertices = moved.vertices.iter_mut().map(|v| &mut v.p);
        let stored = moved.sources.iter_mut().chain(moved.cut.values_mut());
        for p in vertices.chain(stored.map(|s| &mut s.plane.through.p)) {
            *p = Point::new(p.x + by.x, p.y + by.y);
        }
        moved.grid = Grid::new(moved.facets.len(), |f| {
            moved.span(f as u32).unwrap_or(Span { low: by, high: by })
        });
        moved
    }

    /// Ids of the facets, ascending.
    pub fn facets(&self) -> impl Iterator<Item = u32> + '_ {
        (0..self.facets.len() as u32).filter(|&f| !self.facets[f as usize].is_dead())
    }

    /// Number of facets.
    pub fn num_facets(&self) -> usize {
        self.facets.len() - self.dead.len()
    }

    /// One more than the largest facet id.
    pub fn facet_slots(&self) -> usize {
        self.facets.len()
    }

    /// True if there is a facet with this id.
    pub fn is_facet(&self, facet: u32) -> bool {
        self.facets
            .get(facet as usize)
            .is_some_and(|f| !f.is_dead())
    }

    /// Corners of a facet.
    pub fn corners(&self, facet: u32) -> [P3; 3] {
        // Written out: the volume between large surfaces spends its time here.
        let [a, b, c] = self.facets[facet as usize].v;
        let at = |v: u32| self.vertices[v as usize];
        [at(a), at(b), at(c)]
    }

    /// Vertex indices of a facet.
    pub fn vertex_ids(&self, facet: u32) -> [u32; 3] {
        self.facets[facet as usize].v
    }

    /// Neighbours of a facet.
    pub fn neighbours(&self, facet: u32) -> [u32; 3] {
        self.facets[facet as usize].n
    }

    /// Label of a facet.
    pub fn label(&self, facet: u32) -> Label {
        let source = self.facets[facet as usize].source;
        if source.is_own() {
            self.own_label
        } else {
            self.stored(source.id()).label
        }
    }

    /// The plane a facet lies in, with its label.
    ///
    /// Its slope is that of the ground triangle or the part of a feature the facet was cut
    /// from, and so stays right for slivers.
    pub fn source(&self, facet: u32) -> Source {
        self.source_of(&self.facets[facet as usize])
    }

    /// The same of a facet that may have been taken out.
    pub(super) fn source_of(&self, facet: &Facet) -> Source {
        if !facet.source.is_own() {
            return *self.stored(facet.source.id());
        }
        let [a, b, c] = facet.v.map(|v| self.vertices[v as usize]);
        Source {
            plane: Plane::through(a, b, c),
            label: self.own_label,
        }
    }

    /// A source by its id, whether it is stored or not.
    pub(super) fn source_by_id(&self, id: u32) -> Source {
        match self.facets.get(id as usize) {
            Some(facet) if facet.source == SourceId::own(id) => self.source_of(facet),
            _ => *self.stored(id),
        }
    }

    fn stored(&self, id: u32) -> &Source {
        match id.checked_sub(self.num_own) {
            Some(k) => &self.sources[k as usize],
            // A facet that was cut has left its source there.
            None => &self.cut[&id],
        }
    }

    /// All vertices; some may belong to no facet any more.
    pub fn vertices(&self) -> &[P3] {
        &self.vertices
    }

    /// Plan area of a facet, square metres.
    pub fn area_m2(&self, facet: u32) -> f64 {
        self.twice_area_of_nm2(facet) as f64 / 2.0 / NM_PER_M / NM_PER_M
    }

    /// Twice the plan area of a facet in square nanometres, exactly.
    pub fn twice_area_of_nm2(&self, facet: u32) -> i128 {
        let [a, b, c] = self.plan(facet);
        orient(a, b, c)
    }

    pub(super) fn plan(&self, facet: u32) -> [Point; 3] {
        let [a, b, c] = self.corners(facet);
        [a.p, b.p, c.p]
    }

    /// Boxes of many facets, `None` for dead ones. Loops that wait for no answer keep many reads
    /// of memory under way at once.
    pub(super) fn spans(&self, facets: &[u32]) -> Vec<Option<Span>> {
        let vertices: Vec<[u32; 3]> = facets.iter().map(|&f| self.facets[f as usize].v).collect();
        let span = |&[a, b, c]: &[u32; 3]| {
            let at = |v: u32| self.vertices.get(v as usize).map(|v| v.p);
            Some(Span::triangle([at(a)?, at(b)?, at(c)?]))
        };
        vertices.iter().map(span).collect()
    }

    pub(super) fn span(&self, facet: u32) -> Option<Span> {
        self.is_facet(facet)
            .then(|| Span::triangle(self.plan(facet)))
    }

    /// Facets whose box touches a box.
    pub(super) fn facets_near(&self, span: &Span, visit: impl FnMut(u32)) {
        self.grid.near(span, |f| self.span(f), visit);
    }

    /// Ids of the facets whose box touches a box, ascending.
    ///
    /// # Cost
    ///
    /// that of the facets there
    pub fn facets_in(&self, low: Point, high: Point) -> Vec<u32> {
        let mut found = Vec::new();
        self.facets_near(&Span { low, high }, |f| found.push(f));
        found.sort_unstable();
        found
    }

    /// The facet that holds a place, the lowest id where several touch it; `None` off the surface.
    pub fn facet_at(&self, p: Point) -> Option<u32> {
        let mut found: Option<u32> = None;
        self.facets_near(&Span { low: p, high: p }, |f| {
            let [a, b, c] = self.plan(f);
            if orient_sign(a, b, p) >= 0 && orient_sign(b, c, p) >= 0 && orient_sign(c, a, p) >= 0 {
                found = Some(found.map_or(f, |best| best.min(f)));
            }
        });
        found
    }

    /// Height at a place, metres; `None` off the surface, never a guess.
    pub fn z_at(&self, p: Point) -> Option<f64> {
        let facet = self.facet_at(p)?;
        let corners = self.corners(facet);
        match corners.iter().find(|c| c.p == p) {
            Some(corner) => Some(corner.z),
            None => Some(self.source(facet).plane.z_at(p)),
        }
    }

    /// Lowest and highest corner, metres; `None` without facets.
    pub fn z_range(&self) -> Option<(f64, f64)> {
        self.facets()
            .flat_map(|f| self.corners(f))
            .map(|c| (c.z, c.z))
            .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
    }

    /// Lowest and highest corner of the facets whose box touches a box, metres; `None` if there
    /// are none.
    ///
    /// # Cost
    ///
    /// that of the facets there
    pub fn z_range_in(&self, low: Point, high: Point) -> Option<(f64, f64)> {
        let mut range: Option<(f64, f64)> = None;
        self.facets_near(&Span { low, high }, |f| {
            for c in self.corners(f) {
                range = Some(range.map_or((c.z, c.z), |(a, b)| (a.min(c.z), b.max(c.z))));
            }
        });
        range
    }

    /// Twice the plan area in square nanometres, exactly.
    pub fn twice_area_nm2(&self) -> i128 {
        self.facets().map(|f| self.twice_area_of_nm2(f)).sum()
    }

    /// Everything that must hold for a surface, checked; for tests.
    ///
    /// # Errors
    ///
    /// the first fault, in words
    pub fn check_consistent(&self) -> Result<(), String> {
        let mut at_place = std::collections::BTreeMap::new();
        for f in self.facets() {
            let facet = &self.facets[f as usize];
            let corners = self.corners(f);
            if orient(corners[0].p, corners[1].p, corners[2].p) <= 0 {
                return Err(format!("facet {f} is not counter-clockwise: {corners:?}"));
            }
            for (k, c) in corners.into_iter().enumerate() {
                let (a, b) = (facet.v[k], facet.v[(k + 1) % 3]);
                let n = facet.n[k];
                if n != Surface::NONE {
                    let other = self.facets[n as usize];
                    let back = (0..3).find(|&j| other.v[j] == b && other.v[(j + 1) % 3] == a);
                    if other.is_dead() || back.is_none_or(|j| other.n[j] != f) {
                        return Err(format!("facets {f} and {n} disagree about their edge"));
                    }
                }
                if let Some(z) = at_place.insert(c.p, c.z)
                    && z.to_bits() != c.z.to_bits()
                {
                    return Err(format!("two heights at {:?}: {z} and {}", c.p, c.z));
                }
                if !c.z.is_finite() {
                    return Err(format!("height at {:?} is {}", c.p, c.z));
                }
            }
        }
        Ok(())
    }
}

/// Facets as they are built.
fn linked(
    vertices: &[P3],
    triangles: &[[u32; 3]],
    neighbours: &[[u32; 3]],
) -> Result<Vec<Facet>, SurfaceError> {
    let facet = |(i, (&v, &n)): (usize, (&[u32; 3], &[u32; 3]))| {
        let [a, b, c] = v.map(|k| vertices[k as usize].p);
        if orient_sign(a, b, c) <= 0 {
            return Err(SurfaceError::BadTriangle(i));
        }
        let source = SourceId::own(i as u32);
        Ok(Facet { v, n, source })
    };
    let mut facets = Vec::with_capacity(triangles.len());
    for each in triangles.iter().zip(neighbours).enumerate() {
        facets.push(facet(each)?);
    }
    Ok(facets)
}

/// Neighbours by shared edges.
fn link(vertices: &[P3], triangles: &[[u32; 3]]) -> Result<Vec<[u32; 3]>, SurfaceError> {
    let mut edges: Vec<(u32, u32, u32, u8)> = Vec::with_capacity(triangles.len() * 3);
    for (t, v) in triangles.iter().enumerate() {
        for k in 0..3 {
            let (a, b) = (v[k], v[(k + 1) % 3]);
            edges.push((a.min(b), a.max(b), t as u32, k as u8));
        }
    }
    edges.sort_unstable();
    let mut neighbours = vec![[Surface::NONE; 3]; triangles.len()];
    for group in edges.chunk_by(|x, y| x.0 == y.0 && x.1 == y.1) {
        match group {
            [_] => {}
            [x, y] => {
                neighbours[x.2 as usize][x.3 as usize] = y.2;
                neighbours[y.2 as usize][y.3 as usize] = x.2;
            }
            more => {
                return Err(SurfaceError::ThreeAtAnEdge {
                    at: vertices[more[0].0 as usize].p,
                });
            }
        }
    }
    Ok(neighbours)
}
