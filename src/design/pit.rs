//! A sump or a pump chamber: a pit in the floor of a basin.

use crate::diag::{At, Diagnostic};
use crate::geom::{P3, Point, Ring};
use crate::job::{LevelSpec, LevelWord, Place, PlaceList, Table};
use crate::surface::{Patch, Rule};
use crate::survey::Survey;

use super::entry::{bad_width, missing_benchmark, required, run_per_rise, side_role};
use super::outline::{Floor, Outline};
use super::shape::{Corners, Sides, circle};
use super::{Labels, Role, Site};

/// A pit in a floor.
#[derive(Debug)]
pub(super) struct Pit {
    /// What it is called: `sump` or `chamber`.
    pub(super) what: &'static str,
    plan: Plan,
    depth: Depth,
    run_per_rise: f64,
    at: At,
}

/// Outline of its bottom.
#[derive(Debug)]
enum Plan {
    Outline(PlaceList),
    Round(Place, At, f64),
    /// East and north.
    Square(Place, At, [f64; 2]),
}

#[derive(Debug)]
enum Depth {
    /// Below the floor it lies in, metres.
    Below(f64, At),
    Level(LevelSpec),
}

impl Pit {
    /// Reads a group of keys; nothing if there is none.
    pub(super) fn read(
        table: &mut Table,
        what: &'static str,
        diagnostics: &mut Vec<Diagnostic>,
    ) -> Option<Pit> {
        if !table.has(what) {
            table.expect(&[what]);
            return None;
        }
        let mut table = table.table(what, diagnostics)?;
        let at = table.at();
        table.expect(&["outline", "centre", "diameter", "size", "depth", "level"]);
        let plan = read_plan(&mut table, diagnostics);
        let depth = if table.has("level") && !table.has("depth") {
            table.level("level", diagnostics).map(Depth::Level)
        } else {
            let example = "depth = 0.5   # below the floor; or level = \"level:...\"";
            required(&mut table, "depth", example, Table::length_m, diagnostics)
                .map(|(depth, at)| Depth::Below(depth, at))
        };
        let run = match table.has("side_run_per_rise") {
            true => run_per_rise(&mut table, "side_run_per_rise", "1.0", diagnostics),
            false => {
                table.expect(&["side_run_per_rise"]);
                Some(0.0)
            }
        };
        table.finish(diagnostics);
        Some(Pit {
            what,
            plan: plan?,
            depth: depth?,
            run_per_rise: run?,
            at,
        })
    }

    /// Says what can be seen to be wrong before there is a ground.
    pub(super) fn check(&self, survey: &Survey, faults: &mut Vec<Diagnostic>) {
        faults.extend(self.outline(survey, 0.01).err());
        if let Depth::Level(level) = &self.depth {
            faults.extend(missing_benchmark(survey, level));
        }
    }

    /// Outline of its bottom.
    pub(super) fn outline(&self, survey: &Survey, chord_m: f64) -> Result<Outline, Diagnostic> {
        match &self.plan {
            Plan::Outline(places) => Outline::new(survey, places, self.what),
            Plan::Round(place, at, diameter) => {
                let (centre, _) = survey.resolve_place(place, at)?;
                self.ring(&circle(centre, diameter / 2.0, chord_m))
            }
            Plan::Square(place, at, [east, north]) => {
                let (centre, _) = survey.resolve_place(place, at)?;
                let corners = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)];
                let corners = corners.map(|(x, y)| {
                    let step = Point::from_m(x * east / 2.0, y * north / 2.0);
                    Point::new(centre.x + step.x, centre.y + step.y)
                });
                self.ring(&corners)
            }
        }
    }

    fn ring(&self, corners: &[Point]) -> Result<Outline, Diagnostic> {
        let what = self.what;
        Ring::new(corners).map(Outline::of).map_err(|fault| {
            Diagnostic::error("bad-outline", format!("this {what} is not usable: {fault}"))
                .at(self.at.clone())
                .help("make it wider")
        })
    }

    /// Level of its bottom under a floor of this level.
    ///
    /// # Errors
    ///
    /// a bottom that is not below the floor
    pub(super) fn level_m(&self, site: &Site, floor_m: f64) -> Result<f64, Diagnostic> {
        let (level, at) = match &self.depth {
            Depth::Below(depth, at) => (floor_m - depth, at),
            Depth::Level(spec) => match (site.fixed_level(spec)?, spec.word) {
                (Some(level), _) => (level, &spec.at),
                (None, LevelWord::Depth(_) | LevelWord::Height(_)) | (None, _) => {
                    let message = format!(
                        "the level of a {} does not count from the ground",
                        self.what
                    );
                    return Err(Diagnostic::error("bad-level", message)
                        .at(spec.at.clone())
                        .help("write depth = ... below the floor, or level:... or below-benchmark:..."));
                }
            },
        };
        if floor_m - level < SHALLOWEST_M {
            let message = format!(
                "the {} is not deeper than the floor it lies in: its bottom is at {}, the floor at {}",
                self.what,
                site.length(level),
                site.length(floor_m)
            );
            return Err(Diagnostic::error("not-deeper", message)
                .at(at.clone())
                .help("give it a depth of more than 0 below that floor"));
        }
        Ok(level)
    }

    /// Adds it to the basin.
    ///
    /// # Input
    ///
    /// `within`: what its top must lie in; `top_m`: the highest level of the floor
    /// # Errors
    ///
    /// a top that reaches beyond that outline
    pub(super) fn add(
        &self,
        patch: &mut Patch,
        site: &Site,
        (bottom, level_m): (&Outline, f64),
        within: (&Outline, &str),
        top_m: f64,
        label: Labels,
    ) -> Result<(), Diagnostic> {
        let sides = Sides {
            rule: Rule::Lower,
            run_per_rise: self.run_per_rise,
            limit_z_m: top_m,
            corners: Corners::Mitre,
            chord_m: site.chord_m,
        };
        let line = bottom.line(|_| level_m);
        let reach = ((top_m - level_m) * 1.001 + 0.01) * self.run_per_rise;
        let outside = line.iter().find(|c| within.0.depth_inside(c.p) < reach);
        if let Some(corner) = outside {
            let message = format!(
                "the {} does not lie on the {}: at {} its top reaches past the edge",
                self.what,
                within.1,
                site.place(corner.p)
            );
            return Err(Diagnostic::error("pit-outside", message)
                .at(self.at.clone())
                .help("move it inward, make it smaller, or its sides steeper"));
        }
        let runs = vec![[self.run_per_rise; 2]; line.len()];
        let floor = label(&format!("{} floor", self.what), Role::Floor);
        let side = label(&format!("{} side", self.what), side_role(self.run_per_rise));
        let shape = Floor {
            ring: &bottom.ring,
            line: &line,
            runs: &runs,
            of: "",
        };
        patch.append(&shape.patch(floor, &sides, &mut |_, _| side));
        Ok(())
    }

    pub(super) fn run_per_rise(&self) -> f64 {
        self.run_per_rise
    }
}

/// Pits shallower than this are none, metres.
const SHALLOWEST_M: f64 = 0.01;

fn read_plan(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Plan> {
    if table.has("outline") {
        return table.places("outline", diagnostics).map(Plan::Outline);
    }
    let example = "centre = [14.0, 16.0]   # with diameter or size; or outline = [...]";
    let centre = required(table, "centre", example, Table::place, diagnostics);
    if table.has("size") {
        let (size, size_at) = table.lengths_m("size", "[0.6, 0.8]", diagnostics)?;
        let [east, north] = match size[..] {
            [both] => [both; 2],
            [east, north] => [east, north],
            _ => {
                let message = "a size is one length, or two: east and north";
                let fault = Diagnostic::error("bad-width", message).at(size_at);
                diagnostics.push(fault.help("write for example size = [0.6, 0.8]"));
                return None;
            }
        };
        if let Some(fault) = bad_width(east, &size_at).or_else(|| bad_width(north, &size_at)) {
            diagnostics.push(fault);
            return None;
        }
        let (place, at) = centre?;
        return Some(Plan::Square(place, at, [east, north]));
    }
    let example = "diameter = 0.6   # or size = [0.6, 0.8]";
    let (diameter, diameter_at) =
        required(table, "diameter", example, Table::length_m, diagnostics)?;
    if let Some(fault) = bad_width(diameter, &diameter_at) {
        diagnostics.push(fault);
        return None;
    }
    let (place, at) = centre?;
    Some(Plan::Round(place, at, diameter))
}

/// The corners of a line at their level in a plane or facets, for the level of a floor under a
/// place: the triangle that holds it.
pub(super) fn level_under(triangles: &[[P3; 3]], p: Point) -> Option<f64> {
    use crate::geom::orient_sign;
    use crate::surface::Plane;
    triangles.iter().find_map(|&[a, b, c]| {
        let turns = [
            orient_sign(a.p, b.p, p),
            orient_sign(b.p, c.p, p),
            orient_sign(c.p, a.p, p),
        ];
        let is_inside = turns.iter().all(|&t| t >= 0) || turns.iter().all(|&t| t <= 0);
        is_inside.then(|| Plane::through(a, b, c).z_at(p))
    })
}
