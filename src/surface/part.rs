//! The part of a surface inside an outline, with its border.

use std::collections::{BTreeMap, HashMap};

use crate::geom::{P3, Point, Ring, Segment, Triangulation, node, odd_side, triangulate};

use super::compose::{Centre, ComposeError};
use super::plane::{Label, Source};
use super::surface::{Facet, Surface};

/// What of a surface lies inside an outline.
#[derive(Clone, Debug, Default)]
pub struct SurfacePart {
    /// Flat pieces, counter-clockwise, by the facet they were cut from.
    pub facets: Vec<(Vec<[P3; 3]>, Source)>,
    /// The outline where there is surface inside of it, broken at every facet.
    pub border: Vec<BorderEdge>,
}

/// A piece of a side of the outline; the part lies to its left.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BorderEdge {
    /// Number of the side: from this corner of the ring to the next.
    pub side: usize,
    /// Its ends, on the surface.
    pub ends: [P3; 2],
}

impl Surface {
    /// The facets with some labels alone, with gaps where the others were: to be laid facets over.
    pub fn with_labels(&self, wanted: impl Fn(Label) -> bool) -> Surface {
        let mut part = self.clone();
        for f in self.facets() {
            if !wanted(self.label(f)) {
                part.facets[f as usize] = Facet::DEAD;
                part.dead.push(f);
            }
        }
        for f in 0..part.facets.len() {
            for k in 0..3 {
                let n = part.facets[f].n[k];
                if n != Surface::NONE && part.facets[n as usize].is_dead() {
                    part.facets[f].n[k] = Surface::NONE;
                }
            }
        }
        part
    }

    /// The part inside a ring, of the facets that touch a box.
    ///
    /// Pieces meet in common corners on the lattice, where heights are those of the facets.
    ///
    /// # Errors
    ///
    /// lines too close together to be told apart
    pub fn part_inside(
        &self,
        ring: &Ring,
        low: Point,
        high: Point,
    ) -> Result<SurfacePart, ComposeError> {
        let facets = self.facets_in(low, high);
        let mut points: Vec<Point> = Vec::new();
        let mut index: HashMap<Point, u32> = HashMap::new();
        let mut enter = |p: Point| {
            *index.entry(p).or_insert_with(|| {
                points.push(p);
                points.len() as u32 - 1
            })
        };
        let mut segments: Vec<Segment> = Vec::new();
        for (side, (a, b)) in ring.sides().enumerate() {
            let (a, b) = (enter(a), enter(b));
            segments.push(Segment {
                a,
                b,
                mark: side as u32,
            });
        }
        let mut heights: BTreeMap<Point, f64> = BTreeMap::new();
        for &f in &facets {
            let corners = self.corners(f);
            heights.extend(corners.map(|c| (c.p, c.z)));
            let v = corners.map(|c| enter(c.p));
            segments.extend((0..3).map(|k| Segment::new(v[k], v[(k + 1) % 3])));
        }
        let noding = node(&points, &segments)?;
        let edges: Vec<[u32; 2]> = noding.edges.iter().map(|e| [e.a, e.b]).collect();
        let t = triangulate(&noding.points, &edges)?;
        let is_side = |a, b| noding.edge(a, b).is_some_and(|e| e.marked % 2 == 1);
        let inside = odd_side(&t, is_side);
        let mut by_facet: BTreeMap<u32, Vec<[P3; 3]>> = BTreeMap::new();
        let mut border = Vec::new();
        for (i, tri) in t.triangles.iter().enumerate() {
            if !inside[i] {
                continue;
            }
            let plan = tri.map(|v| noding.points[v as usize]);
            let centre = Centre::of(plan);
            let mut holder: Option<u32> = None;
            self.facets_near(&centre.span(), |f| {
                if centre.is_in(self.plan(f)) {
                    holder = Some(holder.map_or(f, |h| h.min(f)));
                }
            });
            // What lies beyond the facets asked for is no part of it.
            let Some(facet) = holder.filter(|f| facets.binary_search(f).is_ok()) else {
                continue;
            };
            let plane = &self.source(facet).plane;
            let corners = plan.map(|p| P3 {
                p,
                z: heights.get(&p).copied().unwrap_or_else(|| plane.z_at(p)),
            });
            by_facet.entry(facet).or_default().push(corners);
            for k in 0..3 {
                let (a, b) = (k, (k + 1) % 3);
                let n = t.neighbours[i][k];
                let is_border = n == Triangulation::NONE || !inside[n as usize];
                let side = noding
                    .edge(tri[a], tri[b])
                    .and_then(|e| noding.marks_of(e).first());
                if let (true, Some(&side)) = (is_border, side) {
                    border.push(BorderEdge {
                        side: side as usize,
                        ends: [corners[a], corners[b]],
                    });
                }
            }
        }
        let along = |edge: &BorderEdge| {
            let from = ring.corners()[edge.side];
            let [x, y] = edge.ends[0].p.relative_m(from);
            x.hypot(y)
        };
        border.sort_by(|a, b| (a.side.cmp(&b.side)).then(along(a).total_cmp(&along(b))));
        Ok(SurfacePart {
            facets: by_facet
                .into_iter()
                .map(|(facet, pieces)| (pieces, self.source(facet)))
                .collect(),
            border,
        })
    }
}
