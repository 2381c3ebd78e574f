//! A stream bed: an even bed along a line with falls and drops, and sloping sides.

use crate::diag::{At, Diagnostic};
use crate::geom::{P3, Point, distance_m};
use crate::job::{LevelSpec, PlaceList, Table};
use crate::surface::{Patch, Rule};

use super::basin::{corners, required, side_run_per_rise};
use super::shape::{Corners, Ends, RibbonLabels, Sides, ribbon};
use super::{Axis, Kind, Labels, Laid, Role, Shape, Site, Stands};

pub(super) const KIND: Kind = Kind {
    name: "stream",
    read,
};

#[derive(Debug)]
struct Stream {
    /// Centre line in the direction of flow.
    line: PlaceList,
    levels: Levels,
    width_m: f64,
    side_run_per_rise: f64,
    corners: Corners,
    ends: Ends,
}

#[derive(Debug)]
enum Levels {
    /// One entry a point; two levels at a point are a drop.
    Given(Vec<Vec<LevelSpec>>, At),
    /// From the head by a fall and drops.
    Falling {
        start: LevelSpec,
        fall_rise_per_run: f64,
        drops: Vec<Drop>,
    },
}

#[derive(Debug)]
struct Drop {
    /// Distance from the head along the line, metres.
    at_m: f64,
    height_m: f64,
    at: At,
}

fn read(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Box<dyn Shape>> {
    let line = required(
        table,
        "line",
        "line = [[40.0, 44.0], [34.0, 30.0], [20.0, 14.0]]   # in the direction of flow",
        Table::places,
        diagnostics,
    );
    table.expect(&["levels", "start", "fall_percent", "drops"]);
    let levels = if table.has("levels") {
        table
            .levels("levels", diagnostics)
            .map(|(levels, at)| Levels::Given(levels, at))
    } else {
        read_falling(table, diagnostics)
    };
    let width = required(table, "width", "width = 2.0", Table::length_m, diagnostics);
    let side = side_run_per_rise(table, diagnostics);
    let corners = corners(table, diagnostics);
    let ends = table
        .choice("ends", &Ends::NAMES, diagnostics)
        .map_or(Ends::Slope, |(i, _)| [Ends::Square, Ends::Slope][i]);
    Some(Box::new(Stream {
        line: line?,
        levels: levels?,
        width_m: width?.0,
        side_run_per_rise: side?,
        corners,
        ends,
    }))
}

fn read_falling(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Levels> {
    let start = required(
        table,
        "start",
        "start = \"level:101.2\"   # bed at the head; or levels = [...], one a point",
        Table::level,
        diagnostics,
    );
    let fall = required(
        table,
        "fall_percent",
        "fall_percent = 1.5",
        Table::number,
        diagnostics,
    );
    let mut drops = Vec::new();
    for mut entry in table.tables("drops", diagnostics) {
        let at = entry.at();
        let along = required(&mut entry, "at", "at = 12.0", Table::length_m, diagnostics);
        let height = required(
            &mut entry,
            "height",
            "height = 0.8",
            Table::length_m,
            diagnostics,
        );
        entry.finish(diagnostics);
        if let (Some((at_m, _)), Some((height_m, height_at))) = (along, height) {
            if height_m <= 0.0 {
                diagnostics.push(
                    Diagnostic::error("bad-drop", "a drop falls: its height is more than 0")
                        .at(height_at)
                        .help("write how far the water falls, as a positive number"),
                );
            }
            drops.push(Drop { at_m, height_m, at });
        }
    }
    let (percent, at) = fall?;
    if !(0.0..=100.0).contains(&percent) {
        diagnostics.push(
            Diagnostic::error(
                "bad-fall",
                "the fall of a bed is 0 to 100 percent; water does not run up",
            )
            .at(at)
            .help("1 to 2 is usual between drops"),
        );
        return None;
    }
    drops.sort_by(|a, b| a.at_m.total_cmp(&b.at_m));
    Some(Levels::Falling {
        start: start?,
        fall_rise_per_run: percent / 100.0,
        drops,
    })
}

/// A stretch between drops, head to foot.
type Reach = Vec<P3>;

impl Stream {
    /// Bed levels as reaches; between two reaches is a drop.
    fn reaches(&self, site: &Site, line: &[Point]) -> Result<Vec<Reach>, Diagnostic> {
        let reaches = match &self.levels {
            Levels::Given(levels, at) => given(site, line, levels, at)?,
            Levels::Falling {
                start,
                fall_rise_per_run,
                drops,
            } => falling(
                site.level_at(start, line[0])?,
                *fall_rise_per_run,
                drops,
                line,
            )?,
        };
        for reach in &reaches {
            for pair in reach.windows(2) {
                if pair[1].z > pair[0].z + RISE_TOLERANCE_M {
                    return Err(Diagnostic::error(
                        "rising-bed",
                        format!(
                            "the bed rises by {:.3} m downstream between {:.2}, {:.2} and {:.2}, {:.2} (metres from the local origin)",
                            pair[1].z - pair[0].z,
                            pair[0].p.x_m(),
                            pair[0].p.y_m(),
                            pair[1].p.x_m(),
                            pair[1].p.y_m()
                        ),
                    )
                    .at(self.line.at.clone())
                    .help("list the line in the direction of flow, and let every level fall"));
                }
            }
        }
        Ok(reaches)
    }
}

/// A rise lower than this is rounding, metres.
const RISE_TOLERANCE_M: f64 = 1.0e-6;

fn given(
    site: &Site,
    line: &[Point],
    levels: &[Vec<LevelSpec>],
    at: &At,
) -> Result<Vec<Reach>, Diagnostic> {
    if levels.len() != line.len() {
        return Err(Diagnostic::error(
            "level-count",
            format!(
                "the line has {} points but {} levels are given",
                line.len(),
                levels.len()
            ),
        )
        .at(at.clone())
        .help("give one level for every point; two in brackets where the water drops"));
    }
    let mut reaches = vec![Vec::new()];
    for (&p, specs) in line.iter().zip(levels) {
        for (k, spec) in specs.iter().enumerate() {
            if k > 0 {
                reaches.push(Vec::new());
            }
            let z = site.level_at(spec, p)?;
            if let Some(reach) = reaches.last_mut() {
                reach.push(P3 { p, z });
            }
        }
    }
    // A drop at the very head or foot leaves a reach of a single point.
    reaches.retain(|r| r.len() > 1);
    Ok(reaches)
}

fn falling(
    start_z: f64,
    fall: f64,
    drops: &[Drop],
    line: &[Point],
) -> Result<Vec<Reach>, Diagnostic> {
    let total: f64 = line.windows(2).map(|w| distance_m(w[0], w[1])).sum();
    if let Some(drop) = drops.iter().find(|d| d.at_m <= 0.0 || d.at_m >= total) {
        return Err(Diagnostic::error(
            "drop-off-line",
            format!(
                "this drop is {:.2} m from the head, but the line is {total:.2} m long",
                drop.at_m
            ),
        )
        .at(drop.at.clone())
        .help("`at` counts along the line from the head"));
    }
    let mut reaches: Vec<Reach> = vec![vec![P3 {
        p: line[0],
        z: start_z,
    }]];
    let (mut walked, mut z) = (0.0, start_z);
    let mut next = 0;
    for pair in line.windows(2) {
        let length = distance_m(pair[0], pair[1]);
        let [dx, dy] = pair[1].relative_m(pair[0]);
        let mut from = 0.0;
        while next < drops.len() && drops[next].at_m <= walked + length {
            let along = drops[next].at_m - walked;
            let step = Point::from_m(dx * along / length, dy * along / length);
            let p = Point::new(pair[0].x + step.x, pair[0].y + step.y);
            z -= fall * (along - from);
            push(&mut reaches, P3 { p, z });
            z -= drops[next].height_m;
            reaches.push(vec![P3 { p, z }]);
            from = along;
            next += 1;
        }
        z -= fall * (length - from);
        push(&mut reaches, P3 { p: pair[1], z });
        walked += length;
    }
    reaches.retain(|r| r.len() > 1);
    Ok(reaches)
}

fn push(reaches: &mut [Reach], point: P3) {
    if let Some(reach) = reaches.last_mut()
        && reach.last().is_none_or(|last| last.p != point.p)
    {
        reach.push(point);
    }
}

impl Shape for Stream {
    fn lay(&self, site: &Site, label: Labels) -> Result<Laid, Diagnostic> {
        let mut line: Vec<Point> = site
            .survey
            .resolve(&self.line)?
            .iter()
            .map(|p| p.p)
            .collect();
        line.dedup();
        if line.len() < 2 {
            return Err(
                Diagnostic::error("short-line", "a stream needs two different points")
                    .at(self.line.at.clone())
                    .help("list its centre line in the direction of flow"),
            );
        }
        let reaches = self.reaches(site, &line)?;
        let sides = Sides {
            rule: Rule::Lower,
            run_per_rise: self.side_run_per_rise,
            limit_z_m: site.z_range.1,
            corners: self.corners,
            chord_m: site.chord_m,
        };
        let bed = label("bed", Role::Floor);
        let (left, right) = (
            label("left side", Role::Side),
            label("right side", Role::Side),
        );
        let end_role = if self.ends == Ends::Slope {
            Role::Side
        } else {
            Role::Face
        };
        let mut patch = Patch::new();
        for (k, reach) in reaches.iter().enumerate() {
            let (is_head, is_foot) = (k == 0, k + 1 == reaches.len());
            let upper = if is_head {
                label("head end", end_role)
            } else {
                label(&format!("drop {k}"), Role::Face)
            };
            let lower = if is_foot {
                label("foot end", end_role)
            } else {
                upper
            };
            let ends = [
                if is_head { self.ends } else { Ends::Square },
                if is_foot { self.ends } else { Ends::Square },
            ];
            let labels = RibbonLabels {
                middle: bed,
                left,
                right,
                ends: [upper, lower],
            };
            patch.append(&ribbon(reach, self.width_m, ends, labels, &sides));
        }
        Ok(Laid {
            patch,
            built: None,
            rule: Rule::Lower,
            core: line.clone(),
            core_is_outline: false,
            axis: Some(axis(&line, &reaches, self.width_m)),
            stands: Stands::Permanent,
            settlement: 0.0,
            side_rise_per_run: 1.0 / self.side_run_per_rise.max(super::shape::FACE_RUN_PER_RISE),
        })
    }
}

/// The bed from the foot up.
fn axis(line: &[Point], reaches: &[Reach], width_m: f64) -> Axis {
    let mut bed = Vec::new();
    let mut station = 0.0;
    for reach in reaches.iter().rev() {
        let mut last: Option<Point> = None;
        for point in reach.iter().rev() {
            station += last.map_or(0.0, |last| distance_m(last, point.p));
            bed.push((station, point.z));
            last = Some(point.p);
        }
    }
    Axis {
        line: line.iter().rev().copied().collect(),
        bed,
        width_m,
    }
}
