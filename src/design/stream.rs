//! A stream bed along a line, with falls, drops, riffles, pools and banks.
//!
//! Besides the keys of the centre line (`centre.rs`) and of the levels (`levels.rs`):
//!
//! | key | meaning |
//! | --- | --- |
//! | `width` | of the bed |
//! | `widths` | instead: one for each point of the line, or `[{ at = 4.0, width = 2.0 }]` |
//! | `side_run_per_rise` | slope of the sides; `left_run_per_rise`, `right_run_per_rise` where one differs (as seen downstream) |
//! | `outer_depth`, `outer_blend` | by how much the outside of a bend is deeper; over which length it becomes so, the width of the bed if not said |
//! | `pools` | `[{ at, length, depth, width, lip, end_run_per_rise }]`: from `at` over `length` the bed is deeper, by `depth` below its downstream lip, which is level over `lip` |
//! | `splits` | `[{ from, to, side, offset, width, ramp }]`: a second arm that leaves the middle of the bed at `from`, lies `offset` to the `side` and is back at `to` |
//! | `banks` | `{ freeboard, width, outer_run_per_rise, from, to }`: banks that stand `freeboard` above the bed and the lips of its pools, raised where the ground is lower |
//! | `ends` | `"slope"` or `"square"` |
//! | `corners`, `behind_daylight` | as for a basin |

mod arm;
mod banks;
mod bed;
mod reach;

use crate::diag::Diagnostic;
use crate::geom::{P3, Point};
use crate::job::Table;
use crate::surface::{Label, Patch, Rule};
use crate::survey::Survey;

use super::centre::{Centre, centre};
use super::entry::{SideSlopes, corners, leaves_behind, side_role, side_slopes, word};
use super::levels::{Levels, drops, levels, riffles};
use super::shape::{Corners, Ends, FACE_RUN_PER_RISE, Skirt};
use super::{Kind, Labels, Laid, Role, Shape, Site, Step};

use arm::Split;
use banks::Banks;
use bed::{Bed, Outside, Parts, Pool, Widths};

pub(super) const KIND: Kind = Kind {
    name: "stream",
    read,
};

#[derive(Debug)]
struct Stream {
    /// In the direction of flow.
    centre: Centre,
    levels: Levels,
    widths: Widths,
    slopes: SideSlopes,
    outside: Option<Outside>,
    pools: Vec<Pool>,
    splits: Vec<Split>,
    banks: Option<Banks>,
    corners: Corners,
    ends: Ends,
    leaves_behind: bool,
}

fn read(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Box<dyn Shape>> {
    let example = "line = [[40.0, 44.0], [34.0, 30.0], [20.0, 14.0]]   # in the direction of flow";
    let centre = centre(table, example, diagnostics);
    let mut levels = levels(table, diagnostics);
    table.expect(&["drops", "riffles"]);
    if let Some(Levels::Falling {
        riffles: into_riffles,
        drops: into_drops,
        ..
    }) = &mut levels
    {
        *into_drops = drops(table, diagnostics);
        *into_riffles = riffles(table, diagnostics);
    }
    let widths = bed::widths(table, diagnostics);
    let slopes = side_slopes(table, None, diagnostics);
    let outside = bed::outside(table, diagnostics);
    let pools = bed::pools(table, diagnostics);
    let splits = arm::splits(table, diagnostics);
    let banks = banks::banks(table, diagnostics);
    let corners = corners(table, diagnostics);
    let words = [("slope", Ends::Slope), ("square", Ends::Square)];
    let ends = word(table, "ends", &words, diagnostics);
    let leaves_behind = leaves_behind(table, diagnostics);
    Some(Box::new(Stream {
        centre: centre?,
        levels: levels?,
        widths: widths?,
        slopes: slopes?,
        outside,
        pools,
        splits,
        banks,
        corners,
        ends,
        leaves_behind,
    }))
}

/// Labels that every stretch of a stream has.
#[derive(Clone, Copy)]
struct Names {
    bed: Label,
    left: Label,
    right: Label,
    ends: [Label; 2],
}

impl Stream {
    /// The width, if the stream is laid of even reaches between upright drops, strips that
    /// overlap in the bends.
    fn is_even(&self) -> Option<f64> {
        let Widths::Even(width_m) = self.widths else {
            return None;
        };
        let plain_levels = match &self.levels {
            Levels::Given(..) => true,
            Levels::ByStation(..) => false,
            Levels::Falling { riffles, drops, .. } => {
                riffles.is_empty() && drops.iter().all(|d| d.face_run_per_rise.is_none())
            }
        };
        let [right, left] = self.slopes.right_left;
        let is_even = plain_levels
            && self.centre.is_of_corners()
            && right == left
            && self.outside.is_none()
            && self.pools.is_empty()
            && self.splits.is_empty()
            && self.banks.is_none();
        is_even.then_some(width_m)
    }

    fn names(&self, label: Labels) -> Names {
        let bed = label("bed", Role::Floor);
        let [right, left] = self.slopes.right_left;
        let left = label("left side", side_role(left));
        let right = label("right side", side_role(right));
        let end_role = match self.ends {
            Ends::Slope => side_role(self.slopes.ends),
            Ends::Square => Role::Face,
        };
        let ends = ["head end", "foot end"].map(|name| label(name, end_role));
        Names {
            bed,
            left,
            right,
            ends,
        }
    }

    fn skirt(&self, names: &Names) -> Skirt {
        let end = match self.ends {
            Ends::Slope => self.slopes.ends,
            Ends::Square => FACE_RUN_PER_RISE,
        };
        Skirt {
            sides: self.slopes.right_left,
            ends: [end; 2],
            end_labels: names.ends,
        }
    }

    /// Lays the stream of sections drawn along its line.
    fn lofted(&self, site: &Site, label: Labels) -> Result<Laid, Diagnostic> {
        let line = self
            .centre
            .lay(site, "a stream", self.widths.widest_m() / 2.0)?;
        let grade = self.levels.grade(site, &line)?;
        if let Some(([a, b], rise)) = grade.rise(&line, 0.0) {
            return Err(rising_bed(site, a, b, rise, &self.levels));
        }
        let names = self.names(label);
        let parts = Parts {
            levels: &self.levels,
            widths: &self.widths,
            pools: &self.pools,
            outside: self.outside.as_ref(),
        };
        let bed = Bed::new(site, &line, &grade, &parts, label)?;
        let sections = bed.sections(&line, names.bed, [names.right, names.left]);
        let mut lofts = vec![(
            self.centre.loft(site, "the stream", &line, &sections)?,
            self.skirt(&names),
        )];
        for (k, split) in self.splits.iter().enumerate() {
            lofts.push(split.arm(site, &line, &bed, k, &self.slopes, label)?);
        }
        let banks = match &self.banks {
            Some(banks) => banks.loft(site, &self.centre, &line, &bed, &self.slopes, label)?,
            None => None,
        };
        let step = |level: &dyn Fn(P3) -> f64| -> Result<Vec<Step>, Diagnostic> {
            let mut patch = Patch::new();
            for (loft, skirt) in &lofts {
                let loft = loft.moved(level);
                let run = skirt.sides[0].max(skirt.sides[1]).max(skirt.ends[0]);
                let at = self.levels.at();
                let sides = site.sides(Rule::Lower, run, self.corners, &loft.outline(), at)?;
                patch.append(&loft.patch(&sides, skirt));
            }
            if self.leaves_behind {
                patch.anchor(names.bed);
            }
            let mut steps = vec![Step {
                rule: Rule::Lower,
                patch,
            }];
            if let Some((loft, skirt)) = &banks {
                let loft = loft.moved(level);
                let run = skirt.sides[0].max(skirt.ends[0]);
                let at = self.levels.at();
                let sides = site.sides(Rule::Raise, run, self.corners, &loft.outline(), at)?;
                steps.push(Step {
                    rule: Rule::Raise,
                    patch: loft.patch(&sides, skirt),
                });
            }
            Ok(steps)
        };
        let settles = lofts.iter().any(|(loft, _)| {
            loft.sections()
                .flatten()
                .any(|c| site.built_level(c.p, c.z) != c.z)
        });
        let built = match settles {
            true => Some(step(&|c| site.built_level(c.p, c.z))?),
            false => None,
        };
        let [right, left] = self.slopes.right_left;
        let middle: Vec<P3> = lofts[0].0.sections().map(|corners| corners[1]).collect();
        let mut lines = vec![("centre line".to_owned(), middle)];
        for (k, (loft, _)) in lofts.iter().enumerate().skip(1) {
            lines.push((format!("arm {k}"), loft.sections().map(|c| c[1]).collect()));
        }
        Ok(Laid {
            built,
            core_is_outline: false,
            axis: Some(bed.axis(&line)),
            lines,
            notes: self
                .centre
                .crossing(site, "the stream", &line)
                .into_iter()
                .collect(),
            ..Laid::new(
                Rule::Lower,
                step(&|c| c.z)?,
                line.points().to_vec(),
                right.min(left),
            )
        })
    }
}

/// The fault of a bed that rises downstream.
fn rising_bed(site: &Site, from: Point, to: Point, rise_m: f64, levels: &Levels) -> Diagnostic {
    Diagnostic::error(
        "rising-bed",
        format!(
            "the bed rises by {} downstream, from {} to {}",
            site.length(rise_m),
            site.place(from),
            site.place(to)
        ),
    )
    .at(levels.at().clone())
    .help("list the line in the direction of flow, and let every level fall")
}

impl Shape for Stream {
    fn check(&self, survey: &Survey, faults: &mut Vec<Diagnostic>) {
        let found = self.centre.points(survey, "a stream");
        let points = found.as_ref().ok().map(Vec::len);
        self.levels.check(survey, points, faults);
        faults.extend(points.and_then(|points| self.widths.check(points)));
        faults.extend(found.err());
    }

    fn lay(&self, site: &Site, label: Labels) -> Result<Laid, Diagnostic> {
        match self.is_even() {
            Some(width_m) => self.even(site, width_m, label),
            None => self.lofted(site, label),
        }
    }
}
