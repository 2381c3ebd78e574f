//! A dry overflow channel: from the spill point of a basin to where water may run out.
//!
//! Besides the keys of the centre line (`centre.rs`) and of the levels (`levels.rs`):
//!
//! | key | meaning |
//! | --- | --- |
//! | `depth` | instead of levels: the bed follows the ground under the line, this far below it |
//! | `width` | of the bed |
//! | `side_run_per_rise` | slope of the sides; `left_run_per_rise`, `right_run_per_rise` where one differs (as seen downstream) |
//! | `ends`, `corners`, `behind_daylight` | as for a stream |
//!
//! The bed must fall all the way: a channel that does not is refused with the place.

use crate::diag::Diagnostic;
use crate::geom::P3;
use crate::job::Table;
use crate::surface::{Patch, Rule};
use crate::survey::Survey;

use super::centre::{Centre, centre};
use super::entry::{SideSlopes, corners, leaves_behind, side_role, side_slopes, width_m, word};
use super::invert::{Invert, invert};
use super::shape::{Corners, Ends, FACE_RUN_PER_RISE, Section, Skirt};
use super::{Axis, Kind, Labels, Laid, Role, Shape, Site, Step};

pub(super) const KIND: Kind = Kind {
    name: "channel",
    read,
};

#[derive(Debug)]
struct Channel {
    centre: Centre,
    invert: Invert,
    width_m: f64,
    slopes: SideSlopes,
    corners: Corners,
    ends: Ends,
    leaves_behind: bool,
}

fn read(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Box<dyn Shape>> {
    let example = "line = [[22.0, 14.0], [30.0, 6.0]]   # in the direction of flow";
    let centre = centre(table, example, diagnostics);
    let invert = invert(table, diagnostics);
    let width = width_m(table, "width = 1.0", diagnostics);
    let slopes = side_slopes(table, None, diagnostics);
    let corners = corners(table, diagnostics);
    let words = [("slope", Ends::Slope), ("square", Ends::Square)];
    let ends = word(table, "ends", &words, diagnostics);
    let leaves_behind = leaves_behind(table, diagnostics);
    Some(Box::new(Channel {
        centre: centre?,
        invert: invert?,
        width_m: width?,
        slopes: slopes?,
        corners,
        ends,
        leaves_behind,
    }))
}

/// The least fall of a channel, rise over run: what a level of the trade can still see over a
/// channel's length, a millimetre on ten metres.
const LEAST_FALL: f64 = 1.0e-4;

/// A foot this far below the surface is no way out for water, metres: a third of an inch.
const DROWNED_M: f64 = 0.008;

impl Shape for Channel {
    fn check(&self, survey: &Survey, faults: &mut Vec<Diagnostic>) {
        let found = self.centre.points(survey, "a channel");
        self.invert
            .check(survey, found.as_ref().ok().map(Vec::len), faults);
        faults.extend(found.err());
    }

    fn lay(&self, site: &Site, label: Labels) -> Result<Laid, Diagnostic> {
        let half = self.width_m / 2.0;
        let line = self.centre.lay(site, "a channel", half)?;
        let grade = self.invert.grade(site, &line, 0.0)?;
        if let Some(([a, b], rise)) = grade.rise(&line, LEAST_FALL) {
            let how = if rise > 0.0 {
                format!("rises by {}", site.length(rise))
            } else {
                "does not fall".to_owned()
            };
            return Err(Diagnostic::error(
                "channel-does-not-fall",
                format!(
                    "the channel {how} between {} and {}; water would stand above",
                    site.place(a),
                    site.place(b)
                ),
            )
            .at(self.invert.at().clone())
            .help("list the line in the direction of flow; dig deeper there, go round, or give start and fall_percent"));
        }
        let [right, left] = self.slopes.right_left;
        let bed = label("bed", Role::Floor);
        let left_side = label("left side", side_role(left));
        let right_side = label("right side", side_role(right));
        let end_run = match self.ends {
            Ends::Slope => self.slopes.ends,
            Ends::Square => FACE_RUN_PER_RISE,
        };
        let end_labels = ["head end", "foot end"].map(|name| label(name, side_role(end_run)));
        let skirt = Skirt {
            sides: self.slopes.right_left,
            ends: [end_run; 2],
            end_labels,
        };
        let sections: Vec<Section> = grade
            .stations(&line)
            .into_iter()
            .map(|at_m| {
                let z = grade.z.at(at_m);
                Section {
                    at_m,
                    across: vec![[-half, z], [0.0, z], [half, z]],
                    labels: vec![right_side, bed, bed, left_side],
                }
            })
            .collect();
        let loft = self.centre.loft(site, "the channel", &line, &sections)?;
        let step = |level: &dyn Fn(P3) -> f64| -> Result<Vec<Step>, Diagnostic> {
            let loft = loft.moved(level);
            let run = right.max(left).max(end_run);
            let at = self.invert.at();
            let sides = site.sides(Rule::Lower, run, self.corners, &loft.outline(), at)?;
            let mut patch: Patch = loft.patch(&sides, &skirt);
            if self.leaves_behind {
                patch.anchor(bed);
            }
            Ok(vec![Step {
                rule: Rule::Lower,
                patch,
            }])
        };
        let middle: Vec<P3> = loft.sections().map(|corners| corners[1]).collect();
        let settles = middle.iter().any(|c| site.built_level(c.p, c.z) != c.z);
        let built = match settles {
            true => Some(step(&|c| site.built_level(c.p, c.z))?),
            false => None,
        };
        let mut notes: Vec<Diagnostic> = Vec::new();
        notes.extend(self.centre.crossing(site, "the channel", &line));
        let foot = middle[middle.len() - 1];
        if let Some(over) = site.so_far.z_at(foot.p).map(|z| z - foot.z)
            && over > DROWNED_M
        {
            notes.push(
                Diagnostic::warn(
                    "channel-ends-in-ground",
                    format!(
                        "the foot of the channel at {} lies {} below the surface: water stands there instead of running out",
                        site.place(foot.p),
                        site.length(over)
                    ),
                )
                .at(self.centre.places.at.clone())
                .help("carry the line on to where the ground is lower, or let it fall less"),
            );
        }
        let length_m = line.length_m();
        Ok(Laid {
            built,
            core_is_outline: false,
            axis: Some(Axis {
                line: line.points().iter().rev().copied().collect(),
                bed: (grade.stations(&line).iter().rev())
                    .map(|&s| (length_m - s, grade.z.at(s)))
                    .collect(),
                width_m: vec![(0.0, self.width_m)],
            }),
            lines: vec![("centre line".to_owned(), middle)],
            notes,
            ..Laid::new(
                Rule::Lower,
                step(&|c| c.z)?,
                line.points().to_vec(),
                right.min(left),
            )
        })
    }
}
