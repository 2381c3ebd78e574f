//! A pad: a level or slightly falling floor inside an outline, cut into the ground where that is
//! higher and filled up where it is lower.
//!
//! | key | takes |
//! | --- | --- |
//! | `outline` | corners of the pad |
//! | `level` | its level, that of its highest corner where it falls; `height:` and `depth:` count from the ground at the middle of its corners |
//! | `fall_percent` | 0 if absent |
//! | `fall_toward` | the way it falls: a compass word, or degrees clockwise from north such as `135` |
//! | `cut_run_per_rise` | slope of the sides where it is cut |
//! | `fill_run_per_rise` | slope of the sides where it is filled |
//! | `sides` | slopes of single edges, cut and filled: `[{ edge = 1, run_per_rise = 0.0 }]` |
//! | `corners`, `behind_daylight` | as for other shapes |

use crate::diag::{At, Diagnostic};
use crate::geom::{P3, Point};
use crate::job::{LevelSpec, PlaceList, Table};
use crate::surface::Rule;
use crate::survey::Survey;

use super::entry::{corners, leaves_behind, missing_benchmark, required, run_per_rise};
use super::outline::{EdgeSlopes, FACINGS, Floor, Outline, flattest, steepest};
use super::shape::Corners;
use super::{Kind, Labels, Laid, Role, Shape, Site, Step};

pub(super) const KIND: Kind = Kind { name: "pad", read };

#[derive(Debug)]
struct Pad {
    outline: PlaceList,
    level: LevelSpec,
    fall: Option<Fall>,
    cut_run_per_rise: f64,
    fill_run_per_rise: f64,
    sides: EdgeSlopes,
    corners: Corners,
    leaves_behind: bool,
}

#[derive(Debug)]
struct Fall {
    rise_per_run: f64,
    /// East and north of the way it falls.
    toward: [f64; 2],
    at: At,
}

/// Steepest fall of a pad, percent: steeper is a bank.
const STEEPEST_PERCENT: f64 = 25.0;

fn read(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Box<dyn Shape>> {
    let example = "outline = [[10.0, 12.0], [20.0, 12.0], [20.0, 20.0], [10.0, 20.0]]";
    let outline = required(table, "outline", example, Table::places, diagnostics);
    let example = "level = \"level:98.5\"";
    let level = required(table, "level", example, Table::level, diagnostics);
    let fall = read_fall(table, diagnostics);
    let example = "cut_run_per_rise = 1.5   # where it is cut: 1.5 across for 1 up";
    let cut = run_per_rise(table, "cut_run_per_rise", example, diagnostics);
    let example = "fill_run_per_rise = 2.0   # where it is filled: 2 across for 1 down";
    let fill = run_per_rise(table, "fill_run_per_rise", example, diagnostics);
    let sides = EdgeSlopes::read(table, diagnostics);
    let corners = corners(table, diagnostics);
    let leaves_behind = leaves_behind(table, diagnostics);
    Some(Box::new(Pad {
        outline: outline?,
        level: level?,
        fall: fall?,
        cut_run_per_rise: cut?,
        fill_run_per_rise: fill?,
        sides,
        corners,
        leaves_behind,
    }))
}

/// `None` for a fault.
fn read_fall(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Option<Fall>> {
    if !table.has("fall_percent") && !table.has("fall_toward") {
        table.expect(&["fall_percent", "fall_toward"]);
        return Some(None);
    }
    let example = "fall_percent = 2.0   # with fall_toward = \"east\"";
    let percent = required(table, "fall_percent", example, Table::number, diagnostics);
    let example = "fall_toward = \"east\"   # or degrees clockwise from north, such as 135";
    let toward = required(table, "fall_toward", example, Table::words, diagnostics);
    let ((percent, at), (word, word_at)) = (percent?, toward?);
    if !(0.0..=STEEPEST_PERCENT).contains(&percent) {
        let message = "a pad falls 0 to 25 percent";
        let fault = Diagnostic::error("bad-fall", message).at(at);
        diagnostics.push(fault.help("1 to 2 is usual, so that water runs off"));
        return None;
    }
    let word = word.trim();
    let degrees = match FACINGS.iter().position(|facing| *facing == word) {
        Some(eighth) => Some(45.0 * eighth as f64),
        None => word.parse().ok().filter(|d| (0.0..=360.0).contains(d)),
    };
    let Some(degrees) = degrees else {
        let message = "a way to fall is a compass word or 0 to 360 degrees from north";
        let fault = Diagnostic::error("bad-word", message).at(word_at);
        diagnostics.push(fault.help("write for example fall_toward = \"south-east\""));
        return None;
    };
    let (east, north) = degrees.to_radians().sin_cos();
    Some((percent > 0.0).then_some(Fall {
        rise_per_run: percent / 100.0,
        toward: [east, north],
        at,
    }))
}

impl Pad {
    /// The corners at their levels.
    fn line(&self, site: &Site, outline: &Outline) -> Result<Vec<P3>, Diagnostic> {
        let level = site.level_at(&self.level, outline.middle())?;
        let Some(fall) = &self.fall else {
            return Ok(outline.line(|_| level));
        };
        let first = outline.ring.corners()[0];
        let down = |p: Point| {
            let [x, y] = p.relative_m(first);
            (fall.toward[0] * x + fall.toward[1] * y) * fall.rise_per_run
        };
        let corners = outline.ring.corners().iter();
        let least = corners.map(|&p| down(p)).fold(f64::INFINITY, f64::min);
        Ok(outline.line(|p| level - (down(p) - least)))
    }
}

impl Shape for Pad {
    fn check(&self, survey: &Survey, faults: &mut Vec<Diagnostic>) {
        match Outline::new(survey, &self.outline, "pad") {
            Ok(outline) => self.sides.check(&outline, faults),
            Err(fault) => faults.push(fault),
        }
        faults.extend(missing_benchmark(survey, &self.level));
    }

    fn lay(&self, site: &Site, label: Labels) -> Result<Laid, Diagnostic> {
        let outline = Outline::new(site.survey, &self.outline, "pad")?;
        let line = self.line(site, &outline)?;
        let floor = label("floor", Role::Floor);
        let mut steps = Vec::new();
        let mut steep = f64::INFINITY;
        for (rule, run, of) in [
            (Rule::Lower, self.cut_run_per_rise, "cut "),
            (Rule::Raise, self.fill_run_per_rise, "fill "),
        ] {
            let runs = self.sides.runs(&outline, run)?;
            if let Some(fall) = &self.fall
                && fall.rise_per_run * flattest(&runs) >= 1.0
            {
                let message = format!(
                    "this pad falls by {} percent, as steeply as its flattest side of {} across for 1 up",
                    fall.rise_per_run * 100.0,
                    flattest(&runs)
                );
                return Err(Diagnostic::error("pad-too-steep", message)
                    .at(fall.at.clone())
                    .help("let it fall less, or make the sides steeper"));
            }
            steep = steep.min(steepest(&runs));
            let sides =
                site.sides_round(rule, (&line, &line), &runs, self.corners, &self.level.at)?;
            let shape = Floor {
                ring: &outline.ring,
                line: &line,
                runs: &runs,
                of,
            };
            let mut patch = shape.patch(floor, &sides, label);
            if self.leaves_behind {
                patch.anchor(floor);
            }
            steps.push(Step { rule, patch });
        }
        let core = outline.ring.corners().to_vec();
        // A dig to the checks: a side of a dig is fill where it lies above the ground.
        Ok(Laid::new(Rule::Lower, steps, core, steep))
    }
}
