//! Banks that are raised where the ground beside a stream is too low.

use crate::diag::{At, Diagnostic};
use crate::geom::{P3, Point};
use crate::job::Table;

use super::super::centre::Centre;
use super::super::entry::{SideSlopes, required, run_per_rise_of, side_role, width_m};
use super::super::levels::check_stretches;
use super::super::shape::{CentreLine, FACE_RUN_PER_RISE, Loft, Section, Skirt};
use super::super::{Labels, Role, Site};
use super::bed::Bed;

/// Banks as written.
#[derive(Debug)]
pub(super) struct Banks {
    /// Height of the crests above the bed, and above the lip beside a pool.
    freeboard_m: f64,
    /// Width of the crests.
    width_m: f64,
    outer_run_per_rise: f64,
    from_m: Option<f64>,
    to_m: Option<f64>,
    at: At,
}

/// Run for one of rise of the outside of a bank if not said; common practice, no source.
const OUTER_RUN_PER_RISE: f64 = 2.0;

/// Reads `banks`.
pub(super) fn banks(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Banks> {
    let mut entry = table.table("banks", diagnostics)?;
    let at = entry.at();
    let example = "freeboard = 0.4";
    let freeboard = required(
        &mut entry,
        "freeboard",
        example,
        Table::length_m,
        diagnostics,
    );
    let width = width_m(&mut entry, "width = 1.0", diagnostics);
    let outer = run_per_rise_of(&mut entry, "outer_run_per_rise", diagnostics);
    let from = entry.length_m("from", diagnostics);
    let to = entry.length_m("to", diagnostics);
    entry.finish(diagnostics);
    let (freeboard_m, freeboard_at) = freeboard?;
    if freeboard_m <= 0.0 {
        diagnostics.push(
            Diagnostic::error("bad-freeboard", "a freeboard is more than 0")
                .at(freeboard_at)
                .help("write how far the banks stand above the bed"),
        );
        return None;
    }
    Some(Banks {
        freeboard_m,
        width_m: width?,
        outer_run_per_rise: outer.unwrap_or(OUTER_RUN_PER_RISE),
        from_m: from.map(|from| from.0),
        to_m: to.map(|to| to.0),
        at,
    })
}

/// Steps by which it is looked where banks run over another dig, metres.
const LOOK_EVERY_M: f64 = 0.05;

/// A surface lower than the measured ground by more than this was dug, metres.
const DUG_M: f64 = 0.01;

impl Banks {
    /// The banks with the bed between them, to be raised; `None` if they would lie over another
    /// dig all along.
    ///
    /// Where the line begins or ends in what another feature dug, the banks stop short of it, so
    /// that their ends do not fill it.
    ///
    /// # Errors
    ///
    /// a bank that would fold over itself inside a bend; ends beyond those of the line
    pub(super) fn loft(
        &self,
        site: &Site,
        centre: &Centre,
        line: &CentreLine,
        bed: &Bed,
        slopes: &SideSlopes,
        label: Labels,
    ) -> Result<Option<(Loft, Skirt)>, Diagnostic> {
        let length_m = line.length_m();
        let mut ends = [self.from_m.unwrap_or(0.0), self.to_m.unwrap_or(length_m)];
        check_stretches(site, line, &[("bank", ends, &self.at)])?;
        let steps = ((ends[1] - ends[0]) / LOOK_EVERY_M)
            .ceil()
            .clamp(1.0, 1.0e5);
        let every = (ends[1] - ends[0]) / steps;
        let is_dug = |at_m: f64| {
            self.across(bed, slopes, at_m).iter().any(|&[offset, _]| {
                let p = line.beside(at_m, offset);
                matches!((site.so_far.z_at(p), site.ground.z_at(p)), (Some(now), Some(was)) if now < was - DUG_M)
            })
        };
        for (end, way) in [(0, 1.0), (1, -1.0)] {
            let was = ends[end];
            while ends[0] < ends[1] && is_dug(ends[end]) {
                ends[end] += way * every;
            }
            // The end slopes down as far as the bank is high there.
            if ends[end] != was {
                ends[end] += way
                    * self.height_m(site, line, bed, slopes, ends[end])
                    * self.outer_run_per_rise;
            }
        }
        if ends[0] >= ends[1] {
            return Ok(None);
        }
        let crests = ["left bank", "right bank"].map(|name| label(name, Role::Floor));
        let inner = ["left bank, inside", "right bank, inside"];
        let [right_run, left_run] = slopes.right_left;
        let inner = [
            label(inner[0], side_role(left_run)),
            label(inner[1], side_role(right_run)),
        ];
        let role = side_role(self.outer_run_per_rise);
        let outer = ["left bank, outside", "right bank, outside"].map(|name| label(name, role));
        let bottom = label("raised bed", Role::Floor);
        let end = label("end of bank", role);
        let sections: Vec<Section> = bed
            .stations(ends[0], ends[1])
            .into_iter()
            .map(|at_m| Section {
                at_m,
                across: self.across(bed, slopes, at_m),
                labels: vec![
                    outer[1], crests[1], inner[1], bottom, bottom, inner[0], crests[0], outer[0],
                ],
            })
            .collect();
        let loft = centre.loft(site, "the banks of the stream", line, &sections)?;
        let outer_run = self.outer_run_per_rise;
        let skirt = Skirt {
            sides: [outer_run; 2],
            ends: [outer_run; 2],
            end_labels: [end; 2],
        };
        Ok(Some((loft, skirt)))
    }

    /// Offsets and levels across bed and banks, from right to left.
    fn across(&self, bed: &Bed, slopes: &SideSlopes, at_m: f64) -> Vec<[f64; 2]> {
        let half = bed.width.at(at_m) / 2.0;
        let [right, middle, left] = bed.levels(at_m);
        let crest = bed.lips.at(at_m) + self.freeboard_m;
        let [right_run, left_run] = slopes.right_left.map(|run| run.max(FACE_RUN_PER_RISE));
        let inside_right = half + (crest - right) * right_run;
        let inside_left = half + (crest - left) * left_run;
        vec![
            [-inside_right - self.width_m, crest],
            [-inside_right, crest],
            [-half, right],
            [0.0, middle],
            [half, left],
            [inside_left, crest],
            [inside_left + self.width_m, crest],
        ]
    }

    /// How far the crests stand above the surface at a station, at most.
    fn height_m(
        &self,
        site: &Site,
        line: &CentreLine,
        bed: &Bed,
        slopes: &SideSlopes,
        at_m: f64,
    ) -> f64 {
        let places: Vec<P3> = self
            .across(bed, slopes, at_m)
            .into_iter()
            .map(|[offset, z]| {
                let p: Point = line.beside(at_m, offset);
                P3 { p, z }
            })
            .collect();
        let above = places
            .iter()
            .filter_map(|c| Some(c.z - site.so_far.z_at(c.p)?));
        above.fold(0.0, f64::max)
    }
}
