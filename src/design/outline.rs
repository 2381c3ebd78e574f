//! An outline as the job lists it, with a level at every corner and a slope for every edge.
//!
//! Shared keys: `side_run_per_rise` for all edges, and `sides = [{ edge = 1, run_per_rise = 0.0 }]`
//! or `sides = [{ facing = "north", run_per_rise = 2.0 }]` for some; edge 1 goes from the first
//! corner to the second.

use crate::diag::{At, Diagnostic};
use crate::geom::{P3, Point, Ring, compass, distance_m};
use crate::job::{PlaceList, Table};
use crate::surface::{Label, Patch, Rule};
use crate::survey::Survey;

use super::entry::{required, ring, run_per_rise, side_role};
use super::shape::{
    Corners, EdgeRun, SidePart, Sides, floor_within, longest_hip, longest_mitre, outward,
    sides_along,
};
use super::{Labels, Role, Site};

/// An outline with its corners as listed.
pub(super) struct Outline {
    pub(super) ring: Ring,
    /// Corners in the order of the job.
    pub(super) listed: Vec<Point>,
}

impl Outline {
    pub(super) fn new(
        survey: &Survey,
        places: &PlaceList,
        what: &str,
    ) -> Result<Outline, Diagnostic> {
        let ring = ring(survey, places, what)?;
        let mut listed: Vec<Point> = survey.resolve(places)?.iter().map(|p| p.p).collect();
        listed.dedup();
        while listed.len() > 1 && listed.first() == listed.last() {
            listed.pop();
        }
        Ok(Outline { ring, listed })
    }

    /// An outline that the job does not list.
    pub(super) fn of(ring: Ring) -> Outline {
        let listed = ring.corners().to_vec();
        Outline { ring, listed }
    }

    /// The corners with levels.
    pub(super) fn line(&self, level: impl Fn(Point) -> f64) -> Vec<P3> {
        let at = |&p: &Point| P3 { p, z: level(p) };
        self.ring.corners().iter().map(at).collect()
    }

    /// Edge of the ring from one corner to the next, by number in the job, from 1.
    fn edge(&self, number: usize) -> Option<usize> {
        let n = self.listed.len();
        let ends = [
            *self.listed.get(number.checked_sub(1)?)?,
            self.listed[number % n],
        ];
        let corners = self.ring.corners();
        (0..n).find(|&k| {
            let edge = [corners[k], corners[(k + 1) % n]];
            edge == ends || edge == [ends[1], ends[0]]
        })
    }

    /// The way an edge looks, as one of eight words.
    pub(super) fn facing(&self, edge: usize) -> &'static str {
        compass(outward(&self.ring, edge))
    }

    /// Centre of the corners.
    pub(super) fn middle(&self) -> Point {
        let corners = self.ring.corners();
        let mean = |of: fn(&Point) -> i64| {
            let sum: i128 = corners.iter().map(|p| i128::from(of(p))).sum();
            (sum / corners.len() as i128) as i64
        };
        Point::new(mean(|p| p.x), mean(|p| p.y))
    }

    /// Least distance of a point from the outline, metres; less than 0 outside.
    pub(super) fn depth_inside(&self, p: Point) -> f64 {
        let nearest = self
            .ring
            .sides()
            .map(|(a, b)| distance_to(p, a, b))
            .fold(f64::INFINITY, f64::min);
        if self.ring.contains(p) {
            nearest
        } else {
            -nearest
        }
    }
}

/// Distance of a point from a line between two others, metres.
pub(super) fn distance_to(p: Point, a: Point, b: Point) -> f64 {
    let [dx, dy] = b.relative_m(a);
    let [px, py] = p.relative_m(a);
    let length = distance_m(a, b);
    let along = ((px * dx + py * dy) / length).clamp(0.0, length);
    (px - dx / length * along).hypot(py - dy / length * along)
}

/// Edges chosen in the job.
#[derive(Clone, Debug)]
pub(super) enum Edges {
    /// By number, from 1.
    Number(usize),
    /// By the way they look.
    Facing(String),
}

impl Edges {
    /// Reads `edge = 1` or `facing = "north"`.
    pub(super) fn read(
        table: &mut Table,
        diagnostics: &mut Vec<Diagnostic>,
    ) -> Option<(Edges, At)> {
        if table.has("facing") && !table.has("edge") {
            let (index, at) = table.choice("facing", &FACINGS, diagnostics)?;
            return Some((Edges::Facing(FACINGS[index].to_owned()), at));
        }
        table.expect(&["edge", "facing"]);
        let example = "edge = 1   # from the first corner to the second; or facing = \"north\"";
        let (number, at) = required(table, "edge", example, Table::number, diagnostics)?;
        if number.fract() != 0.0 || !(1.0..=1.0e6).contains(&number) {
            let message = "edges have whole numbers, from 1";
            let help = "edge 1 goes from the first corner to the second";
            diagnostics.push(Diagnostic::error("bad-edge", message).at(at).help(help));
            return None;
        }
        Some((Edges::Number(number as usize), at))
    }

    /// The edges of a ring.
    pub(super) fn of(&self, outline: &Outline, at: &At) -> Result<Vec<usize>, Diagnostic> {
        let n = outline.ring.corners().len();
        let found: Vec<usize> = match self {
            Edges::Number(number) => outline.edge(*number).into_iter().collect(),
            Edges::Facing(word) => (0..n).filter(|&k| outline.facing(k) == word).collect(),
        };
        if found.is_empty() {
            let message = match self {
                Edges::Number(number) => {
                    format!("there is no edge {number}: the outline has {n}")
                }
                Edges::Facing(word) => format!("no edge of the outline looks {word}"),
            };
            let faces: Vec<String> = (1..=n)
                .filter_map(|k| Some(format!("{k} {}", outline.facing(outline.edge(k)?))))
                .collect();
            return Err(Diagnostic::error("no-such-edge", message)
                .at(at.clone())
                .help(format!("its edges look: {}", faces.join(", "))));
        }
        Ok(found)
    }
}

/// Words for the way an edge looks.
pub(super) const FACINGS: [&str; 8] = [
    "north",
    "north-east",
    "east",
    "south-east",
    "south",
    "south-west",
    "west",
    "north-west",
];

/// Slopes of some sides of an outline.
#[derive(Clone, Debug)]
pub(super) struct EdgeSlopes {
    own: Vec<(Edges, f64, At)>,
}

impl EdgeSlopes {
    /// Reads `sides`.
    pub(super) fn read(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> EdgeSlopes {
        let mut own = Vec::new();
        for mut table in table.tables("sides", diagnostics) {
            let edges = Edges::read(&mut table, diagnostics);
            let example = "run_per_rise = 0.0   # 0 for an upright face";
            let run = run_per_rise(&mut table, "run_per_rise", example, diagnostics);
            table.finish(diagnostics);
            if let (Some(run), Some((edges, at))) = (run, edges) {
                own.push((edges, run, at));
            }
        }
        EdgeSlopes { own }
    }

    /// The run of every edge: this one where nothing is said; what is said later counts.
    ///
    /// # Errors
    ///
    /// an edge that the outline does not have
    pub(super) fn runs(&self, outline: &Outline, run: f64) -> Result<Vec<EdgeRun>, Diagnostic> {
        let mut runs = vec![[run; 2]; outline.ring.corners().len()];
        for (edges, run, at) in &self.own {
            for edge in edges.of(outline, at)? {
                runs[edge] = [*run; 2];
            }
        }
        Ok(runs)
    }

    /// Says what can be seen to be wrong before there is a ground.
    pub(super) fn check(&self, outline: &Outline, faults: &mut Vec<Diagnostic>) {
        for (edges, _, at) in &self.own {
            faults.extend(edges.of(outline, at).err());
        }
    }
}

/// Steepest of some runs.
pub(super) fn steepest(runs: &[EdgeRun]) -> f64 {
    runs.iter().flatten().copied().fold(f64::INFINITY, f64::min)
}

/// Flattest of some runs.
pub(super) fn flattest(runs: &[EdgeRun]) -> f64 {
    runs.iter().flatten().copied().fold(0.0, f64::max)
}

impl Site<'_> {
    /// Sides round a ring, each of its own slope; see [`Site::sides`].
    ///
    /// # Input
    ///
    /// `from`: all places they start at, those of `line` among them
    pub(super) fn sides_round(
        &self,
        rule: Rule,
        (line, from): (&[P3], &[P3]),
        runs: &[EdgeRun],
        corners: Corners,
        at: &At,
    ) -> Result<Sides, Diagnostic> {
        let run = flattest(runs);
        // A hip between different slopes may reach farther than a mitre between equal ones.
        let stretch = match corners {
            Corners::Mitre => longest_hip(line, runs) / longest_mitre(line),
            Corners::Round => 1.0,
        };
        let sides = self.sides(rule, run * stretch.max(1.0), corners, from, at)?;
        Ok(Sides {
            run_per_rise: run,
            ..sides
        })
    }
}

/// A floor (or crest) inside a ring and its sides, with names such as `north side`; where slopes
/// differ the upright ones are faces.
pub(super) struct Floor<'a> {
    pub(super) ring: &'a Ring,
    pub(super) line: &'a [P3],
    pub(super) runs: &'a [EdgeRun],
    /// Put before `side` or `face`: empty, or such as `cut `.
    pub(super) of: &'a str,
}

impl Floor<'_> {
    pub(super) fn patch(&self, floor: Label, sides: &Sides, label: Labels) -> Patch {
        let mut patch = Patch::new();
        floor_within(&mut patch, self.ring, self.line, floor);
        self.add_sides(&mut patch, sides, label);
        patch
    }

    /// The sides alone.
    pub(super) fn add_sides(&self, patch: &mut Patch, sides: &Sides, label: Labels) {
        let is_even = self.runs.iter().all(|r| r == &self.runs[0]);
        let mut part = |part| {
            let (out, run) = match part {
                SidePart::Edge(edge) => (outward(self.ring, edge), self.runs[edge][0]),
                SidePart::Corner(out) => (out, flattest(self.runs)),
                SidePart::Cheek(_) => return label(&format!("{}cheek", self.of), Role::Face),
            };
            let role = side_role(run);
            let noun = match role {
                Role::Face if !is_even => "face",
                _ => "side",
            };
            label(&format!("{} {}{noun}", compass(out), self.of), role)
        };
        sides_along(patch, self.line, true, self.runs, sides, &mut part);
    }
}
