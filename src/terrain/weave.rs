//! Shots and lines woven together: every crossing a vertex, every edge with the lines it is of.
//!
//! Takes the places shot and the resolved lines, gives vertices with heights and noded edges.
//! Knows no triangle.

use crate::diag::{At, Diagnostic, Failure};
use crate::geom::{Noding, P3, Point, PointMap, Segment, node};
use crate::job::Crossings;
use crate::survey::Survey;

use super::build::{LEVEL_TOLERANCE_M, MAX_LISTED, kernel_failure};
use super::lines::Line;
use super::measured::Places;

/// A straight piece of a line; its number is the mark of its edges.
struct Piece {
    line: usize,
    ends: [u32; 2],
}

/// Vertices and edges of the ground before it is triangulated.
pub(super) struct Woven {
    /// The places shot, points of imports, then corners given by coordinates, then crossings.
    pub(super) vertices: Vec<P3>,
    /// The shot of each vertex that was shot.
    shots: Vec<usize>,
    /// Places shot and points of imports; corners come after them.
    num_measured: usize,
    /// A line of each vertex that was not measured.
    line_of: Vec<usize>,
    /// Places shot and corners given by coordinates; crossings come after them.
    num_corners: usize,
    /// The vertices each line was given by.
    corners: Vec<Vec<u32>>,
    pieces: Vec<Piece>,
    noding: Noding,
}

impl Woven {
    /// Nodes the lines among the places; crossings get their heights from [`Woven::level`].
    ///
    /// Points are taken from the places. Without lines nothing is looked up, and there is nothing
    /// to node.
    pub(super) fn new(places: &mut Places, lines: &[Line]) -> Result<Woven, Failure> {
        let mut vertices = std::mem::take(&mut places.points);
        let num_measured = vertices.len();
        let mut index = PointMap::default();
        if !lines.is_empty() {
            index.extend(vertices.iter().zip(0..).map(|(p, i)| (p.p, i)));
        }
        let mut line_of = Vec::new();
        let mut pieces: Vec<Piece> = Vec::new();
        let mut corners = Vec::with_capacity(lines.len());
        for (number, line) in lines.iter().enumerate() {
            let own: Vec<u32> = line
                .points
                .iter()
                .map(|&p| {
                    *index.entry(p.p).or_insert_with(|| {
                        vertices.push(p);
                        line_of.push(number);
                        vertices.len() as u32 - 1
                    })
                })
                .collect();
            let first = own.first().filter(|_| line.closed);
            let next = own.iter().skip(1).chain(first);
            pieces.extend(own.iter().zip(next).map(|(&a, &b)| Piece {
                line: number,
                ends: [a, b],
            }));
            corners.push(own);
        }
        let segments: Vec<Segment> = pieces
            .iter()
            .enumerate()
            .map(|(mark, piece)| Segment {
                a: piece.ends[0],
                b: piece.ends[1],
                mark: mark as u32,
            })
            .collect();
        drop(index);
        let looked_at = if lines.is_empty() { &[] } else { &vertices[..] };
        let plan: Vec<Point> = looked_at.iter().map(|v| v.p).collect();
        let noding = node(&plan, &segments).map_err(|e| kernel_failure(&e.to_string()))?;
        Ok(Woven {
            num_corners: vertices.len(),
            vertices,
            shots: places.shots.clone(),
            num_measured,
            line_of,
            corners,
            pieces,
            noding,
        })
    }

    /// Edges for the triangulator, each once.
    pub(super) fn edges(&self) -> Vec<[u32; 2]> {
        self.noding.edges.iter().map(|e| [e.a, e.b]).collect()
    }

    /// True if a closed line runs between two vertices; a line folded onto itself by the
    /// rounding to the lattice does not count.
    pub(super) fn is_side(&self, line: usize, a: u32, b: u32) -> bool {
        let marks = self
            .noding
            .edge(a, b)
            .map_or(&[][..], |e| self.noding.marks_of(e));
        let own = marks
            .iter()
            .filter(|&&mark| self.pieces[mark as usize].line == line);
        own.count() % 2 == 1
    }

    /// A line as the ground follows it.
    pub(super) fn line(&self, line: usize) -> Vec<P3> {
        self.corners[line]
            .iter()
            .map(|&v| self.vertices[v as usize])
            .collect()
    }

    /// Gives crossings their height, and holds the heights of all lines that meet at a place
    /// against each other.
    ///
    /// A shot on a line keeps its height. Where lines meet away from the shots, their heights
    /// must agree, or the policy says what happens; that holds for a line meeting itself too.
    pub(super) fn level(
        &mut self,
        survey: &Survey,
        lines: &[Line],
        policy: Crossings,
    ) -> Result<Vec<Diagnostic>, Failure> {
        let new = self.noding.points.get(self.num_corners..);
        let new = new.unwrap_or_default();
        // No height yet; every one of them is on a piece and gets one below.
        self.vertices
            .extend(new.iter().map(|&p| P3 { p, z: f64::NAN }));
        let mut levelled = Vec::new();
        let mut meetings = Vec::new();
        let mut on_lines = Vec::new();
        for passes in self.passes().chunk_by(|one, other| one.0 == other.0) {
            let v = passes[0].0;
            let own = self.vertices[v as usize];
            let heights = passes.iter().map(|&(_, mark)| {
                let piece = &self.pieces[mark as usize];
                (piece.line, self.z_on(piece, own.p))
            });
            if (v as usize) < self.num_measured {
                let mut off: Vec<(usize, f64)> = heights
                    .map(|(line, z)| (line, own.z - z))
                    .filter(|(_, off)| off.abs() > LEVEL_TOLERANCE_M)
                    .collect();
                off.dedup_by_key(|(line, _)| *line);
                on_lines.extend(off.into_iter().map(|(line, off)| (line, v, off)));
                continue;
            }
            let is_corner = (v as usize) < self.num_corners;
            let first = is_corner.then(|| (self.line_of[v as usize - self.num_measured], own.z));
            let heights: Vec<(usize, f64)> = first.into_iter().chain(heights).collect();
            let meeting = Meeting::new(v, &heights);
            if !is_corner {
                self.line_of.push(heights[0].0);
            }
            let is_apart = meeting.apart_m > LEVEL_TOLERANCE_M;
            if is_apart || !is_corner {
                levelled.push((v, meeting.mean_m));
            }
            if is_apart {
                meetings.push(meeting);
            }
        }
        // Only now, so that every height was taken from the lines as they were given.
        for (v, z) in levelled {
            self.vertices[v as usize].z = z;
        }
        if self.vertices.iter().any(|v| v.z.is_nan()) {
            return Err(kernel_failure("a crossing lies on no line"));
        }
        let mut said = self.words_of_meetings(&meetings, survey, lines, policy);
        said.extend(self.words_of_shots(on_lines, survey, lines));
        Ok(said)
    }

    /// Pieces that pass a vertex which is not their end: (vertex, piece), sorted, each once.
    fn passes(&self) -> Vec<(u32, u32)> {
        let mut passes: Vec<(u32, u32)> = Vec::new();
        for edge in &self.noding.edges {
            for &mark in self.noding.marks_of(edge) {
                let ends = self.pieces[mark as usize].ends;
                let inside = [edge.a, edge.b].into_iter().filter(|v| !ends.contains(v));
                passes.extend(inside.map(|v| (v, mark)));
            }
        }
        passes.sort_unstable();
        passes.dedup();
        passes
    }

    /// Height of a piece beside a point of it.
    fn z_on(&self, piece: &Piece, q: Point) -> f64 {
        let [a, b] = piece.ends.map(|v| self.vertices[v as usize]);
        let [dx, dy] = b.p.relative_m(a.p);
        let [qx, qy] = q.relative_m(a.p);
        let length = dx.hypot(dy);
        let along = (qx * dx + qy * dy) / length;
        a.z + (b.z - a.z) * (along / length).clamp(0.0, 1.0)
    }

    fn words_of_meetings(
        &self,
        meetings: &[Meeting],
        survey: &Survey,
        lines: &[Line],
        policy: Crossings,
    ) -> Vec<Diagnostic> {
        let one = |words: String| match policy {
            Crossings::Refuse => Diagnostic::error("crossing-lines", words),
            Crossings::Mean => Diagnostic::warn("crossing-lines", words),
        };
        let mut said = Vec::new();
        for meeting in meetings.iter().take(MAX_LISTED) {
            let who = match (meeting.vertex as usize) < self.num_corners {
                true => "a line passes a corner given by coordinates",
                false if meeting.lines.len() == 1 => "this line crosses itself",
                false if meeting.lines.len() == 2 => "two lines cross",
                false => "several lines cross",
            };
            let words = format!(
                "{who} {:.3} m apart in height {}",
                meeting.apart_m,
                place(survey, self.vertices[meeting.vertex as usize].p)
            );
            let mut diagnostic = match policy {
                Crossings::Refuse => one(words).help(
                    "shoot the crossing and put it on both lines, or say in [ground]: \
                     crossings = \"mean\"",
                ),
                Crossings::Mean => one(format!("{words}; the mean is used")),
            };
            diagnostic.at = meeting.lines.iter().map(|&l| lines[l].at.clone()).collect();
            said.push(diagnostic);
        }
        if let Some(first) = meetings.get(MAX_LISTED) {
            let more = meetings.len() - MAX_LISTED;
            let mut rest = one(format!("and {more} more crossings like these"));
            rest.at = first.lines.iter().map(|&l| lines[l].at.clone()).collect();
            said.push(rest);
        }
        said
    }

    /// Shots on a breakline are named one by one. Outlines and holes only bound the ground, and
    /// shots beside their corners are usual: these are counted.
    fn words_of_shots(
        &self,
        mut on_lines: Vec<(usize, u32, f64)>,
        survey: &Survey,
        lines: &[Line],
    ) -> Vec<Diagnostic> {
        on_lines.sort_unstable_by_key(|&(line, v, _)| (line, v));
        let mut said = Vec::new();
        let mut count = 0;
        for shots in on_lines.chunk_by(|one, other| one.0 == other.0) {
            let line = &lines[shots[0].0];
            if line.closed {
                let most = shots.iter().map(|s| s.2.abs()).fold(0.0, f64::max);
                let words = match shots.len() {
                    1 => "1 shot lies on a side of this outline".to_owned(),
                    n => format!("{n} shots lie on the sides of this outline"),
                };
                said.push(
                    Diagnostic::note(
                        "shot-on-outline",
                        format!(
                            "{words}, up to {most:.3} m above or below the straight line between \
                             its corners; the heights shot are used"
                        ),
                    )
                    .at(line.at.clone()),
                );
                continue;
            }
            for &(_, v, off) in shots {
                count += 1;
                if count > MAX_LISTED {
                    continue;
                }
                let (name, at) = self.name(v, survey, lines);
                let side = if off > 0.0 { "above" } else { "below" };
                said.push(
                    Diagnostic::warn(
                        "shot-on-line",
                        format!(
                            "{name} lies on this line, {:.3} m {side} it; the shot is used",
                            off.abs()
                        ),
                    )
                    .at(line.at.clone())
                    .at(at)
                    .help("put the shot into the line, or check which of the heights is wrong"),
                );
            }
        }
        if count > MAX_LISTED {
            let more = count - MAX_LISTED;
            said.push(Diagnostic::warn(
                "shot-on-line",
                format!("and {more} more shots like these"),
            ));
        }
        said
    }

    /// How a vertex is called, and where it comes from.
    pub(super) fn name(&self, v: u32, survey: &Survey, lines: &[Line]) -> (String, At) {
        if let Some(&shot) = self.shots.get(v as usize) {
            let shot = &survey.shots[shot];
            return (format!("shot {}", shot.name), shot.at.clone());
        }
        let p = self.vertices[v as usize].p;
        if (v as usize) < self.num_measured {
            // Imports come in the order of the survey, and so do their points.
            return (
                format!("the point of an import {}", place(survey, p)),
                At::default(),
            );
        }
        let what = if (v as usize) < self.num_corners {
            "corner"
        } else {
            "crossing"
        };
        let line = &lines[self.line_of[v as usize - self.num_measured]];
        (format!("the {what} {}", place(survey, p)), line.at.clone())
    }
}

/// Lines at one place that is no shot.
struct Meeting {
    vertex: u32,
    /// Each once, ascending.
    lines: Vec<usize>,
    /// Between the lowest and the highest, metres.
    apart_m: f64,
    mean_m: f64,
}

impl Meeting {
    /// From lines with their heights, at least one.
    fn new(vertex: u32, heights: &[(usize, f64)]) -> Meeting {
        let z = || heights.iter().map(|h| h.1);
        let mut lines: Vec<usize> = heights.iter().map(|h| h.0).collect();
        lines.sort_unstable();
        lines.dedup();
        Meeting {
            vertex,
            lines,
            apart_m: z().fold(f64::NEG_INFINITY, f64::max) - z().fold(f64::INFINITY, f64::min),
            mean_m: z().sum::<f64>() / heights.len() as f64,
        }
    }
}

/// Words for a place.
fn place(survey: &Survey, p: Point) -> String {
    format!(
        "near {:.2} m E, {:.2} m N",
        p.x_m() + survey.origin.x_m as f64,
        p.y_m() + survey.origin.y_m as f64
    )
}
