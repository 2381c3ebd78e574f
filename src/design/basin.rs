//! A basin: a flat floor dug inside an outline, with sloping sides.

use crate::diag::Diagnostic;
use crate::geom::compass;
use crate::job::{LevelSpec, LevelWord, PlaceList, Table};
use crate::surface::Rule;
use crate::survey::Survey;

use super::entry::{
    corners, leaves_behind, level_at, missing_benchmark, required, ring, side_role,
    side_run_per_rise, word,
};
use super::shape::{Corners, floor_with_sides};
use super::{Kind, Labels, Laid, LevelsAre, Role, Shape, Site, Stands, Step};

pub(super) const KIND: Kind = Kind {
    name: "basin",
    read,
};

#[derive(Debug)]
struct Basin {
    /// Outline of the floor.
    outline: PlaceList,
    floor: LevelSpec,
    side_run_per_rise: f64,
    corners: Corners,
    stands: Stands,
    leaves_behind: bool,
}

fn read(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Box<dyn Shape>> {
    let example = "outline = [[10.0, 12.0], [20.0, 12.0], [20.0, 20.0], [10.0, 20.0]]";
    let outline = required(table, "outline", example, Table::places, diagnostics);
    let floor = required(
        table,
        "floor",
        "floor = \"depth:3.0\"",
        Table::level,
        diagnostics,
    );
    let side = side_run_per_rise(table, diagnostics);
    let corners = corners(table, diagnostics);
    let words = [
        ("temporary", Stands::Temporary),
        ("permanent", Stands::Permanent),
    ];
    let stands = word(table, "stands", &words, diagnostics);
    let leaves_behind = leaves_behind(table, diagnostics);
    Some(Box::new(Basin {
        outline: outline?,
        floor: floor?,
        side_run_per_rise: side?,
        corners,
        stands,
        leaves_behind,
    }))
}

impl Shape for Basin {
    /// A basin is dug to its levels; what fills it lies on them.
    fn levels_are(&self) -> LevelsAre {
        LevelsAre::Dug
    }

    fn check(&self, survey: &Survey, faults: &mut Vec<Diagnostic>) {
        faults.extend(ring(survey, &self.outline, "basin").err());
        faults.extend(missing_benchmark(survey, &self.floor));
    }

    fn lay(&self, site: &Site, label: Labels) -> Result<Laid, Diagnostic> {
        let outline = ring(site.survey, &self.outline, "basin")?;
        let floor_z_m = match (site.fixed_level(&self.floor)?, self.floor.word) {
            (Some(z), _) => z,
            // Water stands level: a depth counts from the lowest ground on the outline.
            (None, LevelWord::Depth(depth)) => {
                let lowest = outline
                    .corners()
                    .iter()
                    .filter_map(|&p| site.ground.z_at(p))
                    .fold(f64::INFINITY, f64::min);
                if !lowest.is_finite() {
                    return Err(Diagnostic::error(
                        "outside",
                        "no corner of the basin lies inside the survey",
                    )
                    .at(self.outline.at.clone())
                    .help("move it inside the outline, or shoot the ground there"));
                }
                lowest - depth
            }
            (None, _) => {
                return Err(Diagnostic::error(
                    "bad-level",
                    "a basin is dug: its floor cannot be a height above the ground",
                )
                .at(self.floor.at.clone())
                .help("write depth:..., level:... or below-benchmark:..."));
            }
        };
        let sides = site.sides(
            Rule::Lower,
            self.side_run_per_rise,
            self.corners,
            &level_at(outline.corners(), floor_z_m),
            &self.floor.at,
        )?;
        let floor = label("floor", Role::Floor);
        let side = side_role(self.side_run_per_rise);
        let mut patch = floor_with_sides(&outline, floor_z_m, floor, &sides, &mut |out| {
            label(&format!("{} side", compass(out)), side)
        });
        if self.leaves_behind {
            patch.anchor(floor);
        }
        let steps = vec![Step {
            rule: Rule::Lower,
            patch,
        }];
        Ok(Laid {
            stands: self.stands,
            ..Laid::new(
                Rule::Lower,
                steps,
                outline.corners().to_vec(),
                self.side_run_per_rise,
            )
        })
    }
}
