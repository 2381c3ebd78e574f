//! Facets cut along lines, so that what lies on one side of a line can be told from the other.

use std::collections::{BTreeMap, BTreeSet};

use crate::geom::{P3, Point, Segment, distance_m, node, orient_sign, triangulate};
use crate::surface::Surface;
use crate::units::NM_PER_M;

use super::tin::Mark;

/// A line to cut along.
#[derive(Clone, Debug)]
pub struct Line {
    /// Its points, two or more.
    pub points: Vec<Point>,
    /// What water that meets it is marked with; `None` if it only parts facets.
    pub mark: Option<Mark>,
}

/// Facets that are replaced, and what replaces them.
#[derive(Debug, Default)]
pub(super) struct Pieces {
    /// Facets that are gone, ascending.
    pub(super) replaced: Vec<u32>,
    /// Vertices beyond those of the surface.
    pub(super) vertices: Vec<P3>,
    /// Pieces with the facet each is of; corners count on from the vertices of the surface.
    pub(super) triangles: Vec<(u32, [u32; 3])>,
    /// Edges on marked lines, lower vertex first.
    pub(super) lines: Vec<([u32; 2], Mark)>,
    /// True if the lines could not be told apart, so that nothing is cut.
    pub(super) left_out: bool,
}

/// Most boxes a straight line is searched in.
const MOST_BOXES: i64 = 64;

/// Rounds after which lines are left alone: each takes in facets whose edge was cut at the rim.
const MAX_ROUNDS: usize = 8;

pub(super) fn cut(surface: &Surface, lines: &[Line]) -> Pieces {
    let mut facets = BTreeSet::new();
    let box_m = facet_size_m(surface);
    for pair in lines.iter().flat_map(|line| line.points.windows(2)) {
        touched(surface, pair[0], pair[1], box_m, &mut facets);
    }
    if facets.is_empty() {
        return Pieces::default();
    }
    for _ in 0..MAX_ROUNDS {
        match arrange(surface, lines, &facets) {
            Some(Ok(pieces)) => return pieces,
            Some(Err(more)) => facets.extend(more),
            None => break,
        }
    }
    Pieces {
        left_out: true,
        ..Pieces::default()
    }
}

/// Side of a square as large as a facet usually is, metres.
fn facet_size_m(surface: &Surface) -> f64 {
    let area_m2 = surface.twice_area_nm2() as f64 / 2.0 / NM_PER_M / NM_PER_M;
    (area_m2 / surface.num_facets().max(1) as f64).sqrt()
}

/// Adds the facets a segment touches.
fn touched(surface: &Surface, a: Point, b: Point, box_m: f64, facets: &mut BTreeSet<u32>) {
    if a == b {
        return;
    }
    let boxes = ((distance_m(a, b) / box_m).ceil() as i64).clamp(1, MOST_BOXES);
    let at = |k: i64| {
        let part = |from: i64, to: i64| {
            from + (i128::from(to - from) * i128::from(k) / i128::from(boxes)) as i64
        };
        Point::new(part(a.x, b.x), part(a.y, b.y))
    };
    for k in 0..boxes {
        let (p, q) = (at(k), at(k + 1));
        let low = Point::new(p.x.min(q.x) - 1, p.y.min(q.y) - 1);
        let high = Point::new(p.x.max(q.x) + 1, p.y.max(q.y) + 1);
        for f in surface.facets_in(low, high) {
            let t = surface.corners(f).map(|c| c.p);
            let sides = t.map(|c| orient_sign(a, b, c));
            let is_beside = sides.iter().all(|s| *s > 0) || sides.iter().all(|s| *s < 0);
            let is_beyond = (0..3).any(|k| {
                let side = |p| orient_sign(t[k], t[(k + 1) % 3], p);
                side(a) < 0 && side(b) < 0
            });
            if !is_beside && !is_beyond {
                facets.insert(f);
            }
        }
    }
}

/// The facets with the lines through them; `Err` holds facets whose edge was cut from beside,
/// `None` lines that cannot be told apart.
fn arrange(
    surface: &Surface,
    lines: &[Line],
    facets: &BTreeSet<u32>,
) -> Option<Result<Pieces, Vec<u32>>> {
    let mut points: Vec<Point> = Vec::new();
    let mut number: BTreeMap<Point, u32> = BTreeMap::new();
    let mut add = |p: Point, points: &mut Vec<Point>| {
        *number.entry(p).or_insert_with(|| {
            points.push(p);
            points.len() as u32 - 1
        })
    };
    let mut segments: Vec<Segment> = Vec::new();
    let mut heights: BTreeMap<Point, (u32, f64)> = BTreeMap::new();
    let mut rim: Vec<(u32, u32, u32)> = Vec::new();
    for &f in facets {
        let (t, v, n) = (
            surface.corners(f),
            surface.vertex_ids(f),
            surface.neighbours(f),
        );
        for k in 0..3 {
            heights.insert(t[k].p, (v[k], t[k].z));
            let is_mine = n[k] == Surface::NONE || !facets.contains(&n[k]);
            if is_mine || n[k] > f {
                let (a, b) = (add(t[k].p, &mut points), add(t[(k + 1) % 3].p, &mut points));
                segments.push(Segment::new(a, b));
                if is_mine {
                    rim.push((a, b, n[k]));
                }
            }
        }
    }
    // A line runs on over holes and beyond the rim; only what lies on facets is kept below.
    for (k, line) in lines.iter().enumerate() {
        for pair in line.points.windows(2).filter(|pair| pair[0] != pair[1]) {
            let (a, b) = (add(pair[0], &mut points), add(pair[1], &mut points));
            segments.push(Segment {
                mark: k as u32,
                ..Segment::new(a, b)
            });
        }
    }
    let noding = node(&points, &segments).ok()?;
    let cut_at_rim: Vec<u32> = rim
        .iter()
        .filter(|&&(a, b, n)| n != Surface::NONE && noding.edge(a, b).is_none())
        .map(|rim| rim.2)
        .collect();
    if !cut_at_rim.is_empty() {
        return Some(Err(cut_at_rim));
    }
    let edges: Vec<[u32; 2]> = noding.edges.iter().map(|e| [e.a, e.b]).collect();
    let t = triangulate(&noding.points, &edges).ok()?;
    let finder = Finder { surface, facets };
    let mut pieces = Pieces {
        replaced: facets.iter().copied().collect(),
        ..Pieces::default()
    };
    let mut ids: Vec<Option<u32>> = noding
        .points
        .iter()
        .map(|p| heights.get(p).map(|(v, _)| *v))
        .collect();
    for corners in &t.triangles {
        let plan = corners.map(|c| noding.points[c as usize]);
        let Some(f) = finder.holds(plan) else {
            continue;
        };
        let plane = surface.source(f).plane;
        let v = corners.map(|c| {
            *ids[c as usize].get_or_insert_with(|| {
                let p = noding.points[c as usize];
                pieces.vertices.push(P3 {
                    p,
                    z: plane.z_at(p),
                });
                (surface.vertices().len() + pieces.vertices.len() - 1) as u32
            })
        });
        pieces.triangles.push((f, v));
    }
    for edge in noding.edges.iter().filter(|e| e.marked > 0) {
        let (Some(a), Some(b)) = (ids[edge.a as usize], ids[edge.b as usize]) else {
            continue;
        };
        let marks = noding.marks_of(edge).iter();
        if let Some(mark) = marks.filter_map(|&k| lines[k as usize].mark).next() {
            pieces.lines.push(([a.min(b), a.max(b)], mark));
        }
    }
    Some(Ok(pieces))
}

/// Finds which of some facets holds a triangle, exactly.
struct Finder<'a> {
    surface: &'a Surface,
    facets: &'a BTreeSet<u32>,
}

impl Finder<'_> {
    /// The facet that holds the centre of a triangle: three times the centre is a lattice point.
    fn holds(&self, [a, b, c]: [Point; 3]) -> Option<u32> {
        let thrice = Point::new(a.x + b.x + c.x, a.y + b.y + c.y);
        let low = Point::new(thrice.x.div_euclid(3), thrice.y.div_euclid(3));
        let high = Point::new(low.x + 1, low.y + 1);
        self.surface.facets_in(low, high).into_iter().find(|f| {
            let t = self.surface.corners(*f).map(|c| c.p);
            let t = t.map(|p| Point::new(3 * p.x, 3 * p.y));
            self.facets.contains(f)
                && (0..3).all(|k| orient_sign(t[k], t[(k + 1) % 3], thrice) >= 0)
        })
    }
}
