//! Ledges: shelves in the sides of a basin, at a level, along all edges or some.

use crate::diag::{At, Diagnostic};
use crate::geom::{P3, Point, Ring};
use crate::job::{LevelSpec, LevelWord, Table};
use crate::survey::Survey;

use super::Site;
use super::entry::{missing_benchmark, required, width_m};
use super::outline::{Edges, Outline};
use super::shape::{EdgeRun, crossing_of, rim_at};

/// A ledge as written.
#[derive(Debug)]
pub(super) struct Ledge {
    pub(super) level: Below,
    width_m: f64,
    /// None: along all.
    edges: Vec<(Edges, At)>,
    pub(super) at: At,
}

/// Where it lies.
#[derive(Debug)]
pub(super) enum Below {
    /// Below the lowest ground on the outline, metres.
    Depth(f64),
    Level(LevelSpec),
}

impl Ledge {
    /// Reads `ledges`.
    pub(super) fn read(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Vec<Ledge> {
        let mut ledges = Vec::new();
        for mut table in table.tables("ledges", diagnostics) {
            let at = table.at();
            table.expect(&["depth", "level"]);
            let level = if table.has("level") && !table.has("depth") {
                table.level("level", diagnostics).map(Below::Level)
            } else {
                let example = "depth = 0.3   # below the rim; or level = \"level:...\"";
                required(&mut table, "depth", example, Table::length_m, diagnostics)
                    .map(|(depth, _)| Below::Depth(depth))
            };
            let width = width_m(&mut table, "width = 0.4", diagnostics);
            let edges = table
                .tables("edges", diagnostics)
                .into_iter()
                .filter_map(|mut edge| {
                    let found = Edges::read(&mut edge, diagnostics);
                    edge.finish(diagnostics);
                    found
                })
                .collect();
            table.finish(diagnostics);
            if let (Some(level), Some(width_m)) = (level, width) {
                ledges.push(Ledge {
                    level,
                    width_m,
                    edges,
                    at,
                });
            }
        }
        ledges
    }

    /// True if it goes all the way round.
    pub(super) fn is_all_round(&self) -> bool {
        self.edges.is_empty()
    }

    /// Says what can be seen to be wrong before there is a ground.
    pub(super) fn check(&self, survey: &Survey, outline: &Outline, faults: &mut Vec<Diagnostic>) {
        if let Below::Level(level) = &self.level {
            faults.extend(missing_benchmark(survey, level));
        }
        for (edges, at) in &self.edges {
            faults.extend(edges.of(outline, at).err());
        }
    }

    /// Its level under a rim of this level.
    pub(super) fn level_m(&self, site: &Site, rim_m: f64) -> Result<f64, Diagnostic> {
        match &self.level {
            Below::Depth(depth) => Ok(rim_m - depth),
            Below::Level(spec) => match (site.fixed_level(spec)?, spec.word) {
                (Some(level), _) => Ok(level),
                (None, LevelWord::Depth(depth)) => Ok(rim_m - depth),
                (None, _) => Err(Diagnostic::error(
                    "bad-level",
                    "a ledge cannot be a height above the ground",
                )
                .at(spec.at.clone())
                .help("write depth = ..., level:... or below-benchmark:...")),
            },
        }
    }

    /// Its outer edge at a level, above sides that start on a line round the basin.
    ///
    /// # Input
    ///
    /// `outline` that of the basin, for the numbers of its edges
    /// # Errors
    ///
    /// a corner where the sides do not meet at that level, or a width that changes where the
    /// outline hardly turns; an outer edge that crosses itself
    pub(super) fn outer(
        &self,
        site: &Site,
        outline: &Outline,
        line: &[P3],
        runs: &[EdgeRun],
        level_m: f64,
    ) -> Result<Outline, Diagnostic> {
        let n = line.len();
        let mut widths = vec![
            if self.is_all_round() {
                self.width_m
            } else {
                0.0
            };
            n
        ];
        for (edges, at) in &self.edges {
            for edge in edges.of(outline, at)? {
                widths[edge] = self.width_m;
            }
        }
        let no_corner = |p: Point| {
            let message = format!(
                "no ledge can go round the corner at {}: the sides there differ and hardly turn",
                site.place(p)
            );
            Diagnostic::error("ledge-corner", message)
                .at(self.at.clone())
                .help("give both edges there the same slope, and the ledge along both or none")
        };
        let inner: Vec<Point> = rim_at(line, runs, level_m)
            .into_iter()
            .enumerate()
            .map(|(k, p)| p.ok_or_else(|| no_corner(line[k].p)))
            .collect::<Result<_, _>>()?;
        let outer: Vec<Point> = (0..n)
            .map(|k| {
                let before = (k + n - 1) % n;
                let edges = [[inner[before], inner[k]], [inner[k], inner[(k + 1) % n]]];
                crossing_of(edges, [widths[before], widths[k]]).ok_or_else(|| no_corner(line[k].p))
            })
            .collect::<Result<_, _>>()?;
        let ring = Ring::new(&outer)
            .ok()
            .filter(|ring| ring.corners() == outer);
        ring.map(Outline::of).ok_or_else(|| {
            let message = "there is no room for this ledge: its outer edge crosses itself";
            Diagnostic::error("ledge-room", message)
                .at(self.at.clone())
                .help("make it narrower, or the sides steeper")
        })
    }
}
