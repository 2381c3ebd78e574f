//! A basin: a flat floor dug inside an outline, with sloping sides.

use crate::diag::Diagnostic;
use crate::job::{LevelSpec, LevelWord, PlaceList, Table};
use crate::surface::Rule;

use super::lay::ring;
use super::shape::{Corners, Sides, floor_with_sides};
use super::{Kind, Labels, Laid, Role, Shape, Site, Stands, compass};

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
    let stands = table
        .choice("stands", &Stands::NAMES, diagnostics)
        .map_or(Stands::Temporary, |(i, _)| {
            [Stands::Temporary, Stands::Permanent][i]
        });
    Some(Box::new(Basin {
        outline: outline?,
        floor: floor?,
        side_run_per_rise: side?,
        corners,
        stands,
    }))
}

/// Reads a key that must be there.
pub(super) fn required<T>(
    table: &mut Table,
    key: &str,
    example: &str,
    read: fn(&mut Table, &str, &mut Vec<Diagnostic>) -> Option<T>,
    diagnostics: &mut Vec<Diagnostic>,
) -> Option<T> {
    if !table.has(key) {
        table.expect(&[key]);
        diagnostics.push(table.missing(key, example));
        return None;
    }
    read(table, key, diagnostics)
}

/// Flattest side that may be asked for; flatter is a mistake of unit.
const FLATTEST_RUN_PER_RISE: f64 = 100.0;

/// Reads `side_run_per_rise`: 0 for a vertical face.
pub(super) fn side_run_per_rise(
    table: &mut Table,
    diagnostics: &mut Vec<Diagnostic>,
) -> Option<f64> {
    let example = "side_run_per_rise = 1.5   # 1.5 across for 1 up";
    let (run, at) = required(
        table,
        "side_run_per_rise",
        example,
        Table::number,
        diagnostics,
    )?;
    if !(0.0..=FLATTEST_RUN_PER_RISE).contains(&run) {
        diagnostics.push(
            Diagnostic::error(
                "bad-slope",
                "a side slope is 0 (vertical) to 100 across for 1 up",
            )
            .at(at)
            .help("write the run for one up, such as 1.5"),
        );
        return None;
    }
    Some(run)
}

/// Reads `corners`.
pub(super) fn corners(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Corners {
    table
        .choice("corners", &Corners::NAMES, diagnostics)
        .map_or(Corners::Mitre, |(i, _)| [Corners::Mitre, Corners::Round][i])
}

impl Shape for Basin {
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
        let sides = Sides {
            rule: Rule::Lower,
            run_per_rise: self.side_run_per_rise,
            limit_z_m: site.z_range.1,
            corners: self.corners,
            chord_m: site.chord_m,
        };
        let floor = label("floor", Role::Floor);
        let patch = floor_with_sides(&outline, floor_z_m, floor, &sides, &mut |out| {
            label(&format!("{} side", compass(out)), Role::Side)
        });
        Ok(Laid {
            patch,
            built: None,
            rule: Rule::Lower,
            core: outline.corners().to_vec(),
            core_is_outline: true,
            axis: None,
            stands: self.stands,
            settlement: 0.0,
            side_rise_per_run: 1.0 / self.side_run_per_rise.max(super::shape::FACE_RUN_PER_RISE),
        })
    }
}
