//! A second arm of a stream: it leaves the bed, goes round a rock, and is back.

use crate::diag::{At, Diagnostic};
use crate::geom::Point;
use crate::job::Table;

use super::super::entry::{SideSlopes, required, side_role, width_m, word};
use super::super::levels::check_stretches;
use super::super::shape::{Along, CentreLine, Loft, SAME_STATION_M, Section, Skirt};
use super::super::{Labels, Role, Site};
use super::bed::Bed;

/// A split as written.
#[derive(Debug)]
pub(super) struct Split {
    from_m: f64,
    to_m: f64,
    /// Offset of the arm from the line, to the left positive, metres.
    offset_m: f64,
    width_m: f64,
    /// Length over which the arm leaves, and over which it comes back.
    ramp_m: Option<f64>,
    at: At,
}

/// Reads `splits`.
pub(super) fn splits(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Vec<Split> {
    let mut splits = Vec::new();
    for mut entry in table.tables("splits", diagnostics) {
        let at = entry.at();
        let from = required(
            &mut entry,
            "from",
            "from = 4.0",
            Table::length_m,
            diagnostics,
        );
        let to = required(&mut entry, "to", "to = 12.0", Table::length_m, diagnostics);
        let offset = required(
            &mut entry,
            "offset",
            "offset = 2.5",
            Table::length_m,
            diagnostics,
        );
        let width = width_m(&mut entry, "width = 1.0", diagnostics);
        let sides = [("left", 1.0), ("right", -1.0)];
        let side = word(&mut entry, "side", &sides, diagnostics);
        let ramp = entry.length_m("ramp", diagnostics);
        entry.finish(diagnostics);
        let (Some((from_m, _)), Some((to_m, _)), Some((offset_m, _)), Some(width_m)) =
            (from, to, offset, width)
        else {
            continue;
        };
        splits.push(Split {
            from_m,
            to_m,
            offset_m: offset_m * side,
            width_m,
            ramp_m: ramp.map(|ramp| ramp.0),
            at,
        });
    }
    splits
}

impl Split {
    /// The arm: level with the bed where it leaves and where it is back, with an even fall
    /// between.
    ///
    /// # Errors
    ///
    /// it reaches past the line, has no room to leave, or leaves no island
    pub(super) fn arm(
        &self,
        site: &Site,
        line: &CentreLine,
        bed: &Bed,
        number: usize,
        slopes: &SideSlopes,
        label: Labels,
    ) -> Result<(Loft, Skirt), Diagnostic> {
        let (from, to) = (self.from_m, self.to_m);
        check_stretches(site, line, &[("split", [from, to], &self.at)])?;
        let ramp = self.ramp_m.unwrap_or((to - from) / 3.0);
        if ramp <= 0.0 || 2.0 * ramp > to - from {
            return Err(Diagnostic::error(
                "bad-split",
                format!(
                    "this arm leaves over {} and comes back over as much, but is only {} long",
                    site.length(ramp),
                    site.length(to - from)
                ),
            )
            .at(self.at.clone())
            .help("make ramp shorter, or the split longer"));
        }
        let stations = bed.stations(from, to);
        let inner = stations
            .iter()
            .filter(|&&s| s >= from + ramp && s <= to - ramp);
        let beside = inner
            .chain(&[from + ramp, to - ramp])
            .map(|&s| bed.width.at(s) / 2.0)
            .fold(0.0, f64::max)
            + self.width_m / 2.0;
        if self.offset_m.abs() <= beside {
            return Err(Diagnostic::error(
                "no-island",
                format!(
                    "an arm {} from the line leaves no island: half of both beds are {}",
                    site.length(self.offset_m.abs()),
                    site.length(beside)
                ),
            )
            .at(self.at.clone())
            .help("make offset larger; the sides of the island come on top"));
        }
        let offset = Along::new(vec![
            (from, 0.0),
            (from + ramp, self.offset_m),
            (to - ramp, self.offset_m),
            (to, 0.0),
        ]);
        let mut along: Vec<f64> = line
            .stations_m()
            .iter()
            .filter(|&&s| s > from + SAME_STATION_M && s < to - SAME_STATION_M)
            .chain(&[from, from + ramp, to - ramp, to])
            .copied()
            .collect();
        along.sort_by(f64::total_cmp);
        along.dedup_by(|b, a| *b - *a <= SAME_STATION_M);
        let points: Vec<Point> = along
            .iter()
            .map(|&s| line.beside(s, offset.at(s)))
            .collect();
        let arm = CentreLine::straight(&points);
        let name = |what: &str| format!("arm {}{what}", number + 1);
        let floor = label(&name(""), Role::Floor);
        let [right, left] = slopes.right_left;
        let right_side = label(&name(", right side"), side_role(right));
        let left_side = label(&name(", left side"), side_role(left));
        let end = label(&name(", end"), side_role(slopes.ends));
        let half = self.width_m / 2.0;
        let sections =
            [(0.0, bed.z.at(from)), (arm.length_m(), bed.z.at(to))].map(|(at_m, z)| Section {
                at_m,
                across: vec![[-half, z], [0.0, z], [half, z]],
                labels: vec![right_side, floor, floor, left_side],
            });
        let loft = Loft::new(&arm, &sections).map_err(|_| {
            Diagnostic::error(
                "tight-bend",
                format!(
                    "this arm would fold over itself between {} and {}",
                    site.place(line.at(from)),
                    site.place(line.at(to))
                ),
            )
            .at(self.at.clone())
            .help("take it round the outside of the bend, make it narrower, or ramp longer")
        })?;
        let skirt = Skirt {
            sides: slopes.right_left,
            ends: [slopes.ends; 2],
            end_labels: [end; 2],
        };
        Ok((loft, skirt))
    }
}
