//! A berm: a crest along a line or inside an outline, with sides falling to daylight.
//!
//! | key | takes |
//! | --- | --- |
//! | `line` | points of the crest line |
//! | `width` | its width, or one for every point: `[3.0, 2.0]` |
//! | `outline` | instead of both: corners of the crest |
//! | `crest` | its level; `height:` counts from the ground, for an outline from the highest under it |
//! | `crest_levels` | instead: a level for every point or corner, such as `["height:2.5", ...]` |
//! | `side_run_per_rise` | slope of all sides |
//! | `left_run_per_rise`, `right_run_per_rise` | along a line, as seen from its first point |
//! | `sides` | round an outline: `[{ facing = "north", run_per_rise = 3.0 }]` |
//! | `settlement_percent` | height added, of the finished height |
//! | `lift` | thickness of the layers it is tamped in |
//! | `benches` | `{ height = 0.5, steeper_than_percent = 20.0 }`: see `bench.rs` |
//! | `corners`, `behind_daylight` | as for other shapes |

use crate::diag::{At, Diagnostic};
use crate::geom::{P3, Point, compass};
use crate::job::{LevelSpec, LevelWord, PlaceList, Table};
use crate::surface::{Label, Patch, Rule};
use crate::survey::Survey;

use super::bench::Benches;
use super::crest::Crest;
use super::entry::{
    bad_width, corners, leaves_behind, level_at, line, missing_benchmark, required, run_per_rise,
    side_role, side_run_per_rise,
};
use super::outline::{EdgeSlopes, Floor, Outline, steepest};
use super::shape::{Corners, EdgeRun, Ends, RibbonLabels, ribbon};
use super::{Kind, Labels, Laid, Role, Shape, Site, Step};

pub(super) const KIND: Kind = Kind { name: "berm", read };

#[derive(Debug)]
struct Berm {
    crest_line: CrestLine,
    levels: Levels,
    side_run_per_rise: f64,
    corners: Corners,
    /// Settlement allowance: the height added, as a share of the finished height.
    settlement: f64,
    lift_m: Option<f64>,
    benches: Option<Benches>,
    leaves_behind: bool,
}

#[derive(Debug)]
enum CrestLine {
    Line {
        line: PlaceList,
        /// One, or one for every point.
        widths_m: Vec<f64>,
        widths_at: At,
        /// Slopes to the left and to the right.
        runs: [f64; 2],
    },
    Outline(PlaceList, EdgeSlopes),
}

#[derive(Debug)]
enum Levels {
    One(LevelSpec),
    Each(Vec<LevelSpec>, At),
}

impl Levels {
    fn at(&self) -> &At {
        match self {
            Levels::One(level) => &level.at,
            Levels::Each(_, at) => at,
        }
    }

    fn all(&self) -> &[LevelSpec] {
        match self {
            Levels::One(level) => std::slice::from_ref(level),
            Levels::Each(levels, _) => levels,
        }
    }
}

/// Settlement above this is no allowance but a mistake.
const MOST_SETTLEMENT_PERCENT: f64 = 40.0;

/// Thickness of lifts that are tamped, metres.
const LIFT_M: std::ops::RangeInclusive<f64> = 0.02..=2.0;

fn read(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Box<dyn Shape>> {
    table.expect(&["line", "outline", "width"]);
    let is_outline = table.has("outline") && !table.has("line");
    let outline = match is_outline {
        true => table.places("outline", diagnostics),
        false => None,
    };
    let along = match is_outline {
        true => None,
        false => read_line(table, diagnostics),
    };
    let levels = read_levels(table, diagnostics);
    let side = side_run_per_rise(table, diagnostics);
    let crest_line = if is_outline {
        let slopes = EdgeSlopes::read(table, diagnostics);
        outline.map(|outline| CrestLine::Outline(outline, slopes))
    } else {
        let runs = ["left_run_per_rise", "right_run_per_rise"].map(|key| {
            if !table.has(key) {
                table.expect(&[key]);
                return side;
            }
            run_per_rise(table, key, &format!("{key} = 3.0"), diagnostics)
        });
        let runs = runs[0].zip(runs[1]).map(|(left, right)| [left, right]);
        along
            .zip(runs)
            .map(|((line, widths_m, widths_at), runs)| CrestLine::Line {
                line,
                widths_m,
                widths_at,
                runs,
            })
    };
    let corners = corners(table, diagnostics);
    let leaves_behind = leaves_behind(table, diagnostics);
    let settlement = read_settlement(table, diagnostics);
    let has_benches = table.has("benches");
    let benches = Benches::read(table, diagnostics);
    let lift = match table.length_m("lift", diagnostics) {
        Some((lift, at)) if !LIFT_M.contains(&lift) => {
            let message = "a lift is between 2 cm and 2 m thick";
            let fault = Diagnostic::error("bad-lift", message).at(at);
            diagnostics.push(fault.help("10 to 20 cm (4 to 8 in) are tamped at a time"));
            return None;
        }
        lift => lift.map(|(lift, _)| lift),
    };
    if has_benches && benches.is_none() {
        return None;
    }
    Some(Box::new(Berm {
        crest_line: crest_line?,
        levels: levels?,
        side_run_per_rise: side?,
        corners,
        settlement: settlement?,
        lift_m: lift,
        benches,
        leaves_behind,
    }))
}

fn read_line(
    table: &mut Table,
    diagnostics: &mut Vec<Diagnostic>,
) -> Option<(PlaceList, Vec<f64>, At)> {
    let example = "line = [[10.0, 40.0], [24.0, 42.0]]   # or outline = [...]";
    let line = required(table, "line", example, Table::places, diagnostics);
    let example = "width = 3.0";
    if !table.has("width") {
        diagnostics.push(table.missing("width", example));
        return None;
    }
    let (widths, at) = table.lengths_m("width", "3.0", diagnostics)?;
    if let Some(fault) = widths.iter().find_map(|&width| bad_width(width, &at)) {
        diagnostics.push(fault);
        return None;
    }
    line.map(|line| (line, widths, at))
}

fn read_levels(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Levels> {
    table.expect(&["crest", "crest_levels"]);
    if !table.has("crest_levels") || table.has("crest") {
        let example = "crest = \"height:2.5\"";
        return required(table, "crest", example, Table::level, diagnostics).map(Levels::One);
    }
    let (levels, at) = table.levels("crest_levels", diagnostics)?;
    if let Some(pair) = levels.iter().find(|specs| specs.len() > 1) {
        let message = "a crest has one level at every point";
        let fault = Diagnostic::error("bad-level", message).at(pair[0].at.clone());
        diagnostics.push(fault.help("write one level for every point"));
        return None;
    }
    Some(Levels::Each(levels.concat(), at))
}

fn read_settlement(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<f64> {
    match table.number("settlement_percent", diagnostics) {
        None => Some(0.0),
        Some((percent, _)) if (0.0..=MOST_SETTLEMENT_PERCENT).contains(&percent) => {
            Some(percent / 100.0)
        }
        Some((_, at)) => {
            diagnostics.push(
                Diagnostic::error(
                    "bad-settlement",
                    "a settlement allowance is 0 to 40 percent of the height",
                )
                .at(at)
                .help("5 is usual for soil tamped in thin layers, 10 for soil that is not"),
            );
            None
        }
    }
}

/// A crest with its levels, finished and as built before it settles.
struct Crests {
    finished: Crest,
    built: Crest,
    core: Vec<Point>,
}

impl Berm {
    /// What does not fit the number of points.
    fn counts(&self, points: usize, faults: &mut Vec<Diagnostic>) {
        if let Levels::Each(levels, at) = &self.levels
            && levels.len() != points
        {
            let message = format!(
                "the crest has {points} points but {} levels are given",
                levels.len()
            );
            let fault = Diagnostic::error("level-count", message).at(at.clone());
            faults.push(fault.help("give one level for every point"));
        }
        if let CrestLine::Line {
            widths_m,
            widths_at,
            ..
        } = &self.crest_line
            && widths_m.len() > 1
            && widths_m.len() != points
        {
            let message = format!(
                "the crest has {points} points but {} widths are given",
                widths_m.len()
            );
            let fault = Diagnostic::error("width-count", message).at(widths_at.clone());
            faults.push(fault.help("give one width, or one for every point"));
        }
    }

    /// The allowance for settlement on a level over the ground.
    fn allow(&self, z: f64, ground: Option<f64>) -> f64 {
        z + ground.map_or(0.0, |g| (z - g).max(0.0) * self.settlement)
    }

    fn crests(&self, site: &Site) -> Result<Crests, Diagnostic> {
        match &self.crest_line {
            CrestLine::Outline(places, slopes) => self.round(site, places, slopes),
            CrestLine::Line {
                line,
                widths_m,
                runs,
                ..
            } => self.along(site, line, widths_m, *runs),
        }
    }

    fn round(
        &self,
        site: &Site,
        places: &PlaceList,
        slopes: &EdgeSlopes,
    ) -> Result<Crests, Diagnostic> {
        let outline = Outline::new(site.survey, places, "berm")?;
        let runs = slopes.runs(&outline, self.side_run_per_rise)?;
        let corners = outline.ring.corners();
        let ground = || corners.iter().filter_map(|&p| site.ground.z_at(p));
        let (finished, built) = match &self.levels {
            Levels::One(spec) => {
                // A height counts from the highest ground under the crest, so that it is kept
                // everywhere; the allowance from the lowest, where most will settle.
                let z = match (site.fixed_level(spec)?, spec.word) {
                    (Some(z), _) => z,
                    (None, LevelWord::Height(height)) => {
                        ground().fold(f64::NEG_INFINITY, f64::max) + height
                    }
                    (None, _) => f64::NEG_INFINITY,
                };
                if !z.is_finite() {
                    return Err(Diagnostic::error(
                        "outside",
                        "no corner of the berm lies inside the survey",
                    )
                    .at(places.at.clone())
                    .help("move it inside the outline, or shoot the ground there"));
                }
                let built = self.allow(z, ground().reduce(f64::min));
                (level_at(corners, z), level_at(corners, built))
            }
            Levels::Each(specs, _) => {
                let mut levels = Vec::new();
                for (spec, &p) in specs.iter().zip(&outline.listed) {
                    levels.push(site.level_at(spec, p)?);
                }
                // As many levels as corners: checked before.
                let index = |p| outline.listed.iter().position(|l| *l == p).unwrap_or(0);
                (
                    outline.line(|p| levels[index(p)]),
                    outline.line(|p| self.allow(levels[index(p)], site.ground.z_at(p))),
                )
            }
        };
        let core = corners.to_vec();
        let crest = |line| Crest::round(outline.ring.clone(), line, runs.clone());
        Ok(Crests {
            finished: crest(finished),
            built: crest(built),
            core,
        })
    }

    fn along(
        &self,
        site: &Site,
        places: &PlaceList,
        widths_m: &[f64],
        runs: [f64; 2],
    ) -> Result<Crests, Diagnostic> {
        let (mut points, mut raised, mut widths) = (Vec::new(), Vec::new(), Vec::new());
        for (k, place) in site.survey.resolve(places)?.iter().enumerate() {
            let specs = self.levels.all();
            let z = site.level_at(&specs[k.min(specs.len() - 1)], place.p)?;
            if points.last().is_some_and(|last: &P3| last.p == place.p) {
                continue;
            }
            points.push(P3 { p: place.p, z });
            raised.push(P3 {
                p: place.p,
                z: self.allow(z, site.ground.z_at(place.p)),
            });
            widths.push(widths_m[k.min(widths_m.len() - 1)]);
        }
        if points.len() < 2 {
            return Err(
                Diagnostic::error("short-line", "a crest line needs two different points")
                    .at(places.at.clone())
                    .help("add a point, or give an outline"),
            );
        }
        let core = points.iter().map(|p| p.p).collect();
        let is_even = widths.iter().all(|w| *w == widths[0]) && runs == [self.side_run_per_rise; 2];
        if is_even {
            let crest = |line| Crest::Even(line, widths[0]);
            return Ok(Crests {
                finished: crest(points),
                built: crest(raised),
                core,
            });
        }
        let ends = self.side_run_per_rise;
        let crest = |line: &[P3]| {
            Crest::along(line, &widths, runs, ends).ok_or_else(|| {
                let message = "the crest folds over itself: a bend is tighter than it is wide";
                Diagnostic::error("tight-bend", message)
                    .at(places.at.clone())
                    .help("make it narrower there, or the bend wider")
            })
        };
        Ok(Crests {
            finished: crest(&points)?,
            built: crest(&raised)?,
            core,
        })
    }

    fn patch(
        &self,
        site: &Site,
        crest: &Crest,
        both: &[P3],
        label: Labels,
    ) -> Result<Patch, Diagnostic> {
        let at = self.levels.at();
        let top = label("crest", Role::Floor);
        let mut patch = match crest {
            Crest::Even(line, width_m) => {
                let run = self.side_run_per_rise;
                let sides = site.sides(Rule::Raise, run, self.corners, both, at)?;
                let role = side_role(run);
                let mut side =
                    |out: [f64; 2]| -> Label { label(&format!("{} side", compass(out)), role) };
                let [x, y] = line[line.len() - 1].p.relative_m(line[0].p);
                let labels = RibbonLabels {
                    middle: top,
                    left: side([-y, x]),
                    right: side([y, -x]),
                    ends: [side([-x, -y]), side([x, y])],
                };
                ribbon(line, *width_m, [Ends::Slope; 2], labels, &sides)
            }
            Crest::Ring {
                ring,
                line,
                runs,
                top: facets,
            } => {
                let sides = site.sides_round(Rule::Raise, (line, both), runs, self.corners, at)?;
                let shape = Floor {
                    ring,
                    line,
                    runs,
                    of: "",
                };
                match facets {
                    None => shape.patch(top, &sides, label),
                    Some(facets) => {
                        let mut patch = Patch::new();
                        for facet in facets {
                            patch.add_flat(std::slice::from_ref(facet), top);
                        }
                        shape.add_sides(&mut patch, &sides, label);
                        patch
                    }
                }
            }
        };
        if self.leaves_behind {
            patch.anchor(top);
        }
        Ok(patch)
    }

    fn steepest(&self, crest: &Crest) -> f64 {
        match crest {
            Crest::Even(..) => self.side_run_per_rise,
            Crest::Ring { runs, .. } => steepest(runs as &[EdgeRun]),
        }
    }
}

impl Shape for Berm {
    fn check(&self, survey: &Survey, faults: &mut Vec<Diagnostic>) {
        match &self.crest_line {
            CrestLine::Outline(places, slopes) => match Outline::new(survey, places, "berm") {
                Ok(outline) => {
                    slopes.check(&outline, faults);
                    self.counts(outline.listed.len(), faults);
                }
                Err(fault) => faults.push(fault),
            },
            CrestLine::Line { line: places, .. } => {
                faults.extend(line(survey, places, "a crest line").err());
                if let Ok(points) = survey.resolve(places) {
                    self.counts(points.len(), faults);
                }
            }
        }
        let levels = self.levels.all().iter();
        faults.extend(levels.filter_map(|level| missing_benchmark(survey, level)));
    }

    fn lay(&self, site: &Site, label: Labels) -> Result<Laid, Diagnostic> {
        if let Some(spec) = self
            .levels
            .all()
            .iter()
            .find(|spec| matches!(spec.word, LevelWord::Depth(_)))
        {
            return Err(Diagnostic::error(
                "bad-level",
                "a berm is filled: its crest cannot be a depth below the ground",
            )
            .at(spec.at.clone())
            .help("write height:..., level:... or below-benchmark:..."));
        }
        let crests = self.crests(site)?;
        let both = [crests.finished.points(), crests.built.points()].concat();
        let finished = self.patch(site, &crests.finished, &both, label)?;
        let mut notes = Vec::new();
        let benches = match &self.benches {
            Some(benches) => benches.patch(site, &finished, label, &mut notes)?,
            None => Patch::new(),
        };
        let steps = |patch: Patch| {
            let dig = Step {
                rule: Rule::Lower,
                patch: benches.clone(),
            };
            let fill = Step {
                rule: Rule::Raise,
                patch,
            };
            match benches.is_empty() {
                true => vec![fill],
                false => vec![dig, fill],
            }
        };
        let built = match self.settlement > 0.0 {
            true => Some(steps(self.patch(site, &crests.built, &both, label)?)),
            false => None,
        };
        if let CrestLine::Line { .. } = self.crest_line {
            notes.extend(below_ground(
                site,
                &crests.finished.points(),
                self.levels.at(),
            ));
        }
        Ok(Laid {
            built,
            core_is_outline: matches!(self.crest_line, CrestLine::Outline(..)),
            settlement: self.settlement,
            lines: vec![("crest".to_owned(), crests.finished.points())],
            lift_m: self.lift_m,
            notes,
            ..Laid::new(
                Rule::Raise,
                steps(finished),
                crests.core,
                self.steepest(&crests.finished),
            )
        })
    }
}

/// Says where a crest line lies below the ground.
fn below_ground(site: &Site, points: &[P3], at: &At) -> Option<Diagnostic> {
    let low = points
        .iter()
        .find(|c| site.so_far.z_at(c.p).is_some_and(|ground| ground > c.z))?;
    let message = format!("the crest lies below the ground at {}", site.place(low.p));
    let diagnostic = Diagnostic::warn("partly", message).at(at.clone());
    Some(
        diagnostic
            .help("the crest is cut off where it meets the ground; raise it if that is not meant"),
    )
}
