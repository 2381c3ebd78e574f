//! From faces as written to faces of the ground.
//!
//! Faces are turned counter-clockwise; those that are invisible or have no area in plan are left
//! out and counted. Corners at one place become one. Faces that lie over each other are refused.

use std::collections::BTreeSet;

use crate::diag::{At, Diagnostic};
use crate::geom::{Origin, P3, Point, PointMap, joined, orient_sign};
use crate::import::overlap::{Overlap, overlap};
use crate::import::{Faces, LeftOut};
use crate::job::ImportSpec;

use super::written::{Face, Spot, Written};

/// A surface as it is given on.
pub(super) struct Mesh {
    pub(super) faces: Faces,
    pub(super) origin: Origin,
    pub(super) kept: u64,
    pub(super) left_out: Vec<LeftOut>,
    /// Four-cornered faces that are kept.
    pub(super) squares: u64,
    /// The most by which the choice of their diagonals moves the volume, cubic metres.
    pub(super) bound_m3: f64,
    /// Points that belong to no face that is kept.
    pub(super) lonely: u64,
    /// Pairs of neighbours on a breakline that are no edge of the surface.
    pub(super) off_edge: u64,
    /// Faces lay too close to hold each against all others.
    pub(super) is_unchecked: bool,
}

/// Spots of a surface by their ids.
struct Ids<'a> {
    spots: &'a [Spot],
    /// Ids with their spots, ascending.
    sorted: Vec<(u64, u32)>,
}

impl<'a> Ids<'a> {
    fn new(spec: &ImportSpec, spots: &'a [Spot]) -> Result<Ids<'a>, Diagnostic> {
        let mut sorted: Vec<(u64, u32)> = spots.iter().map(|s| s.id).zip(0..).collect();
        sorted.sort_unstable();
        let line = |k: u32| At::line(&spec.file, spots[k as usize].line as usize);
        match sorted.windows(2).find(|two| two[0].0 == two[1].0) {
            Some(two) => Err(Diagnostic::error(
                "id-twice",
                format!("two points of the surface have the id {}", two[0].0),
            )
            .at(line(two[0].1))
            .at(line(two[1].1))
            .help("write the surface again, with an id of its own for every point")),
            None => Ok(Ids { spots, sorted }),
        }
    }

    fn find(&self, id: u64) -> Option<u32> {
        // Most files number their points from 1 without a gap.
        let guess = usize::try_from(id).ok()?.wrapping_sub(1);
        if self.spots.get(guess).is_some_and(|s| s.id == id) {
            return u32::try_from(guess).ok();
        }
        let at = self.sorted.binary_search_by_key(&id, |s| s.0).ok()?;
        Some(self.sorted[at].1)
    }
}

/// Builds the faces of a surface with a definition.
///
/// # Errors
///
/// a face at a point that is not there or has no height, faces over each other, one place with
/// two heights, no face at all
pub(super) fn build(spec: &ImportSpec, written: &Written) -> Result<Mesh, Diagnostic> {
    let ids = Ids::new(spec, &written.spots)?;
    let mut builder = Builder {
        spec,
        written,
        same: one_of_each_place(&written.spots),
        triangles: Vec::new(),
        face_of: Vec::new(),
        breaks: BTreeSet::new(),
        invisible: 0,
        flat: 0,
        kept: 0,
        squares: 0,
        bound_m3: 0.0,
    };
    for (number, face) in written.faces.iter().enumerate() {
        builder.take(&ids, number, face)?;
    }
    builder.finish()
}

/// For each spot the first with a height at its place.
fn one_of_each_place(spots: &[Spot]) -> Vec<u32> {
    let mut first: PointMap<u32> = PointMap::default();
    let each = spots.iter().zip(0u32..);
    each.map(|(spot, k)| match spot.z.is_nan() {
        true => k,
        false => *first.entry(spot.p).or_insert(k),
    })
    .collect()
}

struct Builder<'a> {
    spec: &'a ImportSpec,
    written: &'a Written,
    /// For each spot the first with a height at its place.
    same: Vec<u32>,
    /// By spots, counter-clockwise.
    triangles: Vec<[u32; 3]>,
    /// Which face each triangle is of.
    face_of: Vec<u32>,
    /// Edges on breaklines, by spots.
    breaks: BTreeSet<[u32; 2]>,
    invisible: u64,
    flat: u64,
    kept: u64,
    squares: u64,
    bound_m3: f64,
}

impl Builder<'_> {
    fn fault(&self, number: usize, code: &'static str, message: String) -> Diagnostic {
        let line = self.written.faces[number].line as usize;
        Diagnostic::error(code, message).at(At::line(&self.spec.file, line))
    }

    fn take(&mut self, ids: &Ids<'_>, number: usize, face: &Face) -> Result<(), Diagnostic> {
        if face.is_invisible {
            self.invisible += 1;
            return Ok(());
        }
        let count = if face.ids[3] == 0 { 3 } else { 4 };
        let mut corners = [0u32; 4];
        for (corner, &id) in corners.iter_mut().zip(&face.ids[..count]) {
            let Some(found) = ids.find(id) else {
                let message = format!(
                    "face {} hangs on point {id}, which the surface does not have",
                    number + 1
                );
                return Err(self
                    .fault(number, "no-point", message)
                    .help("write the surface again: points were left out of it"));
            };
            *corner = self.at_its_place(number, found)?;
        }
        let corners = &corners[..count];
        let split = match self.split(corners) {
            Split::Into(triangles) => triangles,
            Split::Flat => {
                self.flat += 1;
                return Ok(());
            }
            Split::Crossed => {
                let message = format!("the sides of face {} cross each other", number + 1);
                return Err(self
                    .fault(number, "bad-face", message)
                    .help("give the corners of a face in their order round it"));
            }
        };
        self.kept += 1;
        if split.len() == 2 {
            self.squares += 1;
            self.bound_m3 += self.twist_m3(corners);
        }
        for triangle in split {
            self.triangles.push(triangle);
            self.face_of.push(number as u32);
        }
        for k in 0..count {
            if face.breaks >> k & 1 == 1 {
                let (a, b) = (corners[k], corners[(k + 1) % count]);
                self.breaks.insert([a.min(b), a.max(b)]);
            }
        }
        Ok(())
    }

    /// The spot that stands for all at its place.
    fn at_its_place(&self, number: usize, spot: u32) -> Result<u32, Diagnostic> {
        let spots = &self.written.spots;
        let same = self.same[spot as usize];
        let (this, first) = (&spots[spot as usize], &spots[same as usize]);
        if this.z.is_nan() {
            let message = format!(
                "face {} hangs on point {}, which has no height",
                number + 1,
                this.id
            );
            return Err(self
                .fault(number, "no-height", message)
                .at(At::line(&self.spec.file, this.line as usize))
                .help("give the point its height"));
        }
        if this.z.to_bits() != first.z.to_bits() {
            return Err(two_heights(self.spec, first, this));
        }
        Ok(same)
    }

    fn plan(&self, spot: u32) -> Point {
        self.written.spots[spot as usize].p
    }

    fn turn(&self, [a, b, c]: [u32; 3]) -> i32 {
        orient_sign(self.plan(a), self.plan(b), self.plan(c))
    }

    /// A face as counter-clockwise triangles. A square is parted from its first to its third
    /// corner, unless that line would lie outside of it.
    fn split(&self, corners: &[u32]) -> Split {
        let ccw = |t: [u32; 3]| {
            if self.turn(t) < 0 {
                [t[0], t[2], t[1]]
            } else {
                t
            }
        };
        let &[a, b, c, d] = corners else {
            let t = [corners[0], corners[1], corners[2]];
            return match self.turn(t) {
                0 => Split::Flat,
                _ => Split::Into(vec![ccw(t)]),
            };
        };
        for two in [[[a, b, c], [a, c, d]], [[b, c, d], [b, d, a]]] {
            match [self.turn(two[0]), self.turn(two[1])] {
                [1, 1] | [-1, -1] => return Split::Into(two.map(ccw).to_vec()),
                [0, 0] => return Split::Flat,
                // Three corners on a line, the fourth beside it.
                [0, _] if two[0][0] == a => return Split::Into(vec![ccw(two[1])]),
                [_, 0] if two[0][0] == a => return Split::Into(vec![ccw(two[0])]),
                _ => {}
            }
        }
        Split::Crossed
    }

    /// The volume between the two ways to part a square: that of the body between its four
    /// corners, a sixth of the product of three edges.
    fn twist_m3(&self, corners: &[u32]) -> f64 {
        let spots = &self.written.spots;
        let first = &spots[corners[0] as usize];
        let edge = |k: usize| {
            let spot = &spots[corners[k] as usize];
            let [x, y] = spot.p.relative_m(first.p);
            [x, y, spot.z - first.z]
        };
        let (a, b, c) = (edge(1), edge(2), edge(3));
        let cross = [
            b[1] * c[2] - b[2] * c[1],
            b[2] * c[0] - b[0] * c[2],
            b[0] * c[1] - b[1] * c[0],
        ];
        let product: f64 = a.iter().zip(cross).map(|(a, c)| a * c).sum();
        product.abs() / 6.0
    }

    fn finish(mut self) -> Result<Mesh, Diagnostic> {
        let spots = &self.written.spots;
        let off_edge = self.follow_source();
        // Only corners of faces, in the order of the file.
        let mut number = vec![u32::MAX; spots.len()];
        for &corner in self.triangles.iter().flatten() {
            number[corner as usize] = 0;
        }
        let used = || spots.iter().zip(&number).filter(|(_, n)| **n == 0);
        let west = used().map(|(s, _)| s.p.x).min();
        let south = used().map(|(s, _)| s.p.y).min();
        let (Some(west), Some(south)) = (west, south) else {
            return Err(Diagnostic::error(
                "no-faces",
                format!(
                    "surface \"{}\" has no visible face with an area in plan",
                    self.written.name
                ),
            )
            .at(At::line(&self.spec.file, self.written.line))
            .help("write the surface again, or give its points"));
        };
        let origin = Origin::below(west, south);
        let mut vertices = Vec::new();
        for (spot, number) in spots.iter().zip(&mut number) {
            // Places are within the largest coordinate, so the way to the origin fits.
            if *number == 0
                && let Some(p) = origin.local(spot.p.x, spot.p.y)
            {
                *number = vertices.len() as u32;
                vertices.push(P3 { p, z: spot.z });
            }
        }
        let to_vertices = |t: [u32; 3]| t.map(|corner| number[corner as usize]);
        let triangles: Vec<[u32; 3]> = self.triangles.into_iter().map(to_vertices).collect();
        let found = overlap(&vertices, &triangles);
        if let Overlap::Pair(one, other) = found {
            let of = |t: usize| self.face_of[t] as usize;
            let line = |f: usize| At::line(&self.spec.file, self.written.faces[f].line as usize);
            return Err(Diagnostic::error(
                "faces-overlap",
                format!(
                    "faces {} and {} lie over each other in plan; ground has one height at a place",
                    of(one) + 1,
                    of(other) + 1
                ),
            )
            .at(line(of(one)))
            .at(line(of(other)))
            .help("write only the upper or the lower side, or one surface at a time"));
        }
        let breaks: BTreeSet<[u32; 2]> = self
            .breaks
            .iter()
            .map(|edge| edge.map(|corner| number[corner as usize]))
            .filter(|edge| !edge.contains(&u32::MAX))
            .collect();
        let why = [
            ("invisible faces", self.invisible),
            ("faces without an area in plan", self.flat),
        ];
        let left_out = why.into_iter().filter(|&(_, count)| count > 0);
        Ok(Mesh {
            lonely: number.iter().filter(|&&n| n == u32::MAX).count() as u64,
            faces: Faces {
                vertices,
                triangles,
                breaklines: joined(&breaks),
            },
            origin,
            kept: self.kept,
            left_out: left_out
                .map(|(why, count)| LeftOut {
                    why: why.to_owned(),
                    count,
                })
                .collect(),
            squares: self.squares,
            bound_m3: self.bound_m3,
            off_edge,
            is_unchecked: found == Overlap::NotSure,
        })
    }

    /// Marks the edges that breaklines of the source data run along; how many of their links are
    /// no edge.
    fn follow_source(&mut self) -> u64 {
        if self.written.breaklines.is_empty() {
            return 0;
        }
        let mut edges: Vec<[u32; 2]> = self
            .triangles
            .iter()
            .flat_map(|&[a, b, c]| [[a, b], [b, c], [c, a]])
            .map(|[a, b]| [a.min(b), a.max(b)])
            .collect();
        edges.sort_unstable();
        let mut at: PointMap<u32> = PointMap::default();
        for &[a, b] in &edges {
            at.insert(self.plan(a), a);
            at.insert(self.plan(b), b);
        }
        let mut off_edge = 0;
        for line in &self.written.breaklines {
            for link in line.windows(2) {
                let ends = (at.get(&link[0].p), at.get(&link[1].p));
                let edge = match ends {
                    (Some(&a), Some(&b)) => Some([a.min(b), a.max(b)]),
                    _ => None,
                };
                match edge.filter(|edge| edges.binary_search(edge).is_ok()) {
                    Some(edge) => drop(self.breaks.insert(edge)),
                    None if link[0].p == link[1].p => {}
                    None => off_edge += 1,
                }
            }
        }
        off_edge
    }
}

/// What a face becomes.
enum Split {
    Into(Vec<[u32; 3]>),
    /// It has no area in plan.
    Flat,
    /// Its sides cross.
    Crossed,
}

/// One place with two heights.
pub(super) fn two_heights(spec: &ImportSpec, first: &Spot, second: &Spot) -> Diagnostic {
    let name = |spot: &Spot| match spot.id {
        0 => format!("that of line {}", spot.line),
        id => format!("point {id}"),
    };
    Diagnostic::error(
        "two-heights",
        format!(
            "{} and {} lie at one place, with heights {} m and {} m",
            name(first),
            name(second),
            first.z,
            second.z
        ),
    )
    .at(At::line(&spec.file, first.line as usize))
    .at(At::line(&spec.file, second.line as usize))
    .help("an upright face has a foot beside its top: move one of them by a millimetre, or take one out")
}
