//! A trench for a pipe or a cable along a route, filled again or left open.
//!
//! Besides the keys of the centre line (`centre.rs`) and of the levels (`levels.rs`):
//!
//! | key | meaning |
//! | --- | --- |
//! | `depth` | instead of levels: the floor follows the ground and is nowhere across the trench less than this below it |
//! | `width` | of the floor |
//! | `side_run_per_rise` | slope of the sides, upright if not said; `left_run_per_rise`, `right_run_per_rise` where one differs |
//! | `backfilled` | `true` (if not said): dug and filled again, so that the finished surface is what it was; `false`: stays open |
//!
//! The ends are square. Round a bend the floor goes on without a step, whatever its fall.

use crate::diag::Diagnostic;
use crate::geom::P3;
use crate::job::Table;
use crate::surface::Rule;
use crate::survey::Survey;

use super::centre::{Centre, centre};
use super::entry::{SideSlopes, side_role, side_slopes, width_m};
use super::invert::{Invert, invert};
use super::levels::RISE_TOLERANCE_M;
use super::shape::{Corners, FACE_RUN_PER_RISE, Section, Skirt};
use super::{Kind, Labels, Laid, Role, Shape, Site, Stands, Step};

pub(super) const KIND: Kind = Kind {
    name: "trench",
    read,
};

#[derive(Debug)]
struct Trench {
    centre: Centre,
    invert: Invert,
    width_m: f64,
    slopes: SideSlopes,
    backfilled: bool,
}

fn read(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Box<dyn Shape>> {
    let example = "line = [[22.0, 14.0], [30.0, 26.0], [44.0, 30.0]]   # the route";
    let centre = centre(table, example, diagnostics);
    let invert = invert(table, diagnostics);
    let width = width_m(table, "width = 0.4", diagnostics);
    let slopes = side_slopes(table, Some(0.0), diagnostics);
    let backfilled = table
        .flag("backfilled", diagnostics)
        .is_none_or(|flag| flag.0);
    Some(Box::new(Trench {
        centre: centre?,
        invert: invert?,
        width_m: width?,
        slopes: slopes?,
        backfilled,
    }))
}

impl Shape for Trench {
    fn check(&self, survey: &Survey, faults: &mut Vec<Diagnostic>) {
        let found = self.centre.points(survey, "a trench");
        self.invert
            .check(survey, found.as_ref().ok().map(Vec::len), faults);
        faults.extend(found.err());
    }

    fn lay(&self, site: &Site, label: Labels) -> Result<Laid, Diagnostic> {
        let half = self.width_m / 2.0;
        let line = self.centre.lay(site, "a trench", half)?;
        let grade = self.invert.grade(site, &line, half)?;
        let [right, left] = self.slopes.right_left;
        let floor = label("floor", Role::Floor);
        let left_side = label("left side", side_role(left));
        let right_side = label("right side", side_role(right));
        let end = label("ends", Role::Face);
        let sections: Vec<Section> = grade
            .stations(&line)
            .into_iter()
            .map(|at_m| {
                let z = grade.z.at(at_m);
                Section {
                    at_m,
                    across: vec![[-half, z], [0.0, z], [half, z]],
                    labels: vec![right_side, floor, floor, left_side],
                }
            })
            .collect();
        let loft = self.centre.loft(site, "the trench", &line, &sections)?;
        let middle: Vec<P3> = loft.sections().map(|corners| corners[1]).collect();
        // The ground is straight between its breaks; they are sections if a depth is given.
        let in_the_air = middle.iter().find_map(|c| {
            let ground = site.so_far.z_at(c.p)?;
            (c.z > ground + RISE_TOLERANCE_M).then_some((c.p, c.z - ground))
        });
        if let Some((p, over)) = in_the_air {
            return Err(Diagnostic::error(
                "invert-above-ground",
                format!(
                    "the floor of the trench lies {} above the surface at {}",
                    site.length(over),
                    site.place(p)
                ),
            )
            .at(self.invert.at().clone())
            .help("lower it there, or end the trench where it comes out of the ground"));
        }
        let at = self.invert.at();
        let run = right.max(left);
        let sides = site.sides(Rule::Lower, run, Corners::Mitre, &loft.outline(), at)?;
        let skirt = Skirt {
            sides: self.slopes.right_left,
            ends: [FACE_RUN_PER_RISE; 2],
            end_labels: [end; 2],
        };
        let steps = vec![Step {
            rule: Rule::Lower,
            patch: loft.patch(&sides, &skirt),
        }];
        let (finished, dug, stands) = match self.backfilled {
            true => (Vec::new(), Some(steps), Stands::Temporary),
            false => (steps, None, Stands::Permanent),
        };
        Ok(Laid {
            dug,
            stands,
            core_is_outline: false,
            lines: vec![("route".to_owned(), middle)],
            notes: self
                .centre
                .crossing(site, "the trench", &line)
                .into_iter()
                .collect(),
            ..Laid::new(
                Rule::Lower,
                finished,
                line.points().to_vec(),
                right.min(left),
            )
        })
    }
}
