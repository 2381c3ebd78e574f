//! A stream bed: an even bed along a line with falls and drops, and sloping sides.

use crate::diag::{At, Diagnostic};
use crate::geom::{P3, Point, distance_m};
use crate::job::{LevelSpec, PlaceList, Table};
use crate::surface::{Patch, Rule};
use crate::survey::Survey;

use super::entry::{
    corners, leaves_behind, line, missing_benchmark, required, side_role, side_run_per_rise,
    width_m, word,
};
use super::shape::{Corners, Ends, RibbonLabels, ribbon};
use super::{Axis, Kind, Labels, Laid, Role, Shape, Site, Step};

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
    leaves_behind: bool,
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
    let width = width_m(table, "width = 2.0", diagnostics);
    let side = side_run_per_rise(table, diagnostics);
    let corners = corners(table, diagnostics);
    let words = [("slope", Ends::Slope), ("square", Ends::Square)];
    let ends = word(table, "ends", &words, diagnostics);
    let leaves_behind = leaves_behind(table, diagnostics);
    Some(Box::new(Stream {
        line: line?,
        levels: levels?,
        width_m: width?,
        side_run_per_rise: side?,
        corners,
        ends,
        leaves_behind,
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

/// A drop nearer to a bend than this is at the bend, metres; nearer to an end it has no reach.
const AT_BEND_M: f64 = 0.01;

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
                site,
                site.level_at(start, line[0])?,
                *fall_rise_per_run,
                drops,
                line,
            )?,
        };
        for pair in reaches.windows(2) {
            let (above, below) = (pair[0][pair[0].len() - 1], pair[1][0]);
            if below.z > above.z + RISE_TOLERANCE_M {
                return Err(Diagnostic::error(
                    "rising-bed",
                    format!(
                        "the second level of this drop is {} higher than the first",
                        site.length(below.z - above.z)
                    ),
                )
                .at(self.levels_at().clone())
                .help("write the level above the drop first, then the one below it"));
            }
        }
        for reach in &reaches {
            for pair in reach.windows(2) {
                if pair[1].z > pair[0].z + RISE_TOLERANCE_M {
                    return Err(Diagnostic::error(
                        "rising-bed",
                        format!(
                            "the bed rises by {} downstream, from {} to {}",
                            site.length(pair[1].z - pair[0].z),
                            site.place(pair[0].p),
                            site.place(pair[1].p)
                        ),
                    )
                    .at(self.levels_at().clone())
                    .help("list the line in the direction of flow, and let every level fall"));
                }
            }
        }
        Ok(reaches)
    }
}

impl Stream {
    fn levels_at(&self) -> &At {
        match &self.levels {
            Levels::Given(_, at) => at,
            Levels::Falling { start, .. } => &start.at,
        }
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
        return Err(level_count(line.len(), levels.len(), at));
    }
    let ends = [levels.first(), levels.last()];
    if let Some(pair) = ends.into_iter().flatten().find(|specs| specs.len() > 1) {
        return Err(Diagnostic::error(
            "drop-at-end",
            "there is no stream above a drop at the head, and none below a drop at the foot",
        )
        .at(pair[0].at.clone())
        .help("give one level there, or add a point a little before or after it"));
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
    Ok(reaches)
}

fn falling(
    site: &Site,
    start_z: f64,
    fall: f64,
    drops: &[Drop],
    line: &[Point],
) -> Result<Vec<Reach>, Diagnostic> {
    let total: f64 = line.windows(2).map(|w| distance_m(w[0], w[1])).sum();
    if let Some(drop) = drops
        .iter()
        .find(|d| d.at_m < AT_BEND_M || d.at_m > total - AT_BEND_M)
    {
        return Err(Diagnostic::error(
            "drop-off-line",
            format!(
                "this drop is {} from the head, but has to lie between the ends of the line, which is {} long",
                site.length(drop.at_m),
                site.length(total)
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
            let along = match drops[next].at_m - walked {
                // Typed to a hundredth it may miss the bend it was meant for.
                near if near < AT_BEND_M && walked > 0.0 => 0.0,
                near if near > length - AT_BEND_M && walked + length < total => length,
                along => along,
            };
            // So close below another drop that it is part of it.
            let along = if along - from < AT_BEND_M && from > 0.0 {
                from
            } else {
                along
            };
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

/// Where the water drops at a bend, the lower bed begins this much before it, metres, so that it
/// goes round the outside of the bend like any other.
const BEFORE_BEND_M: f64 = 0.005;

/// Turns by less than this (the sine of the angle) are no bends.
const STRAIGHT: f64 = 1.0e-3;

/// A lower reach that begins at a bend, with a short piece in the old direction put before it.
fn round_the_bend(upper: &Reach, lower: &Reach) -> Reach {
    let n = upper.len();
    let [bx, by] = upper[n - 1].p.relative_m(upper[n - 2].p);
    let [ax, ay] = lower[1].p.relative_m(lower[0].p);
    let mut reach = lower.clone();
    if (bx * ay - by * ax).abs() > STRAIGHT * bx.hypot(by) * ax.hypot(ay) {
        let share = BEFORE_BEND_M / bx.hypot(by);
        let back = Point::from_m(bx * share, by * share);
        let first = lower[0];
        let p = Point::new(first.p.x - back.x, first.p.y - back.y);
        reach.insert(0, P3 { p, ..first });
    }
    reach
}

impl Shape for Stream {
    fn check(&self, survey: &Survey, faults: &mut Vec<Diagnostic>) {
        let found = line(survey, &self.line, "a stream");
        match &self.levels {
            Levels::Given(levels, at) => {
                for spec in levels.iter().flatten() {
                    faults.extend(missing_benchmark(survey, spec));
                }
                if let Ok(points) = &found
                    && points.len() != levels.len()
                {
                    faults.push(level_count(points.len(), levels.len(), at));
                }
            }
            Levels::Falling { start, .. } => faults.extend(missing_benchmark(survey, start)),
        }
        faults.extend(found.err());
    }

    fn lay(&self, site: &Site, label: Labels) -> Result<Laid, Diagnostic> {
        let line = line(site.survey, &self.line, "a stream")?;
        let reaches = self.reaches(site, &line)?;
        let points: Vec<P3> = reaches.iter().flatten().copied().collect();
        let run = self.side_run_per_rise;
        let sides = site.sides(Rule::Lower, run, self.corners, &points, self.levels_at())?;
        let bed = label("bed", Role::Floor);
        let side = side_role(run);
        let left = label("left side", side);
        let right = label("right side", side);
        let end_role = match self.ends {
            Ends::Slope => side,
            Ends::Square => Role::Face,
        };
        let raised: Vec<Reach> = reaches
            .iter()
            .map(|reach| {
                let raise = |p: &P3| P3 {
                    p: p.p,
                    z: site.built_level(p.p, p.z),
                };
                reach.iter().map(raise).collect()
            })
            .collect();
        let mut step = |reaches: &[Reach]| {
            let mut patch = Patch::new();
            for (k, reach) in reaches.iter().enumerate() {
                let (is_head, is_foot) = (k == 0, k + 1 == reaches.len());
                let mut end = |is_end: bool, name: String| match is_end {
                    true => (label(&name, end_role), self.ends),
                    false => (label(&name, Role::Face), Ends::Square),
                };
                // Drops are counted from the head: one above every reach but the first.
                let drop = |k: usize| format!("drop {k}");
                let head = end(
                    is_head,
                    if is_head {
                        "head end".to_owned()
                    } else {
                        drop(k)
                    },
                );
                let foot = end(
                    is_foot,
                    if is_foot {
                        "foot end".to_owned()
                    } else {
                        drop(k + 1)
                    },
                );
                let labels = RibbonLabels {
                    middle: bed,
                    left,
                    right,
                    ends: [head.0, foot.0],
                };
                let ends = [head.1, foot.1];
                let reach = match k {
                    0 => reach.clone(),
                    _ => round_the_bend(&reaches[k - 1], reach),
                };
                patch.append(&ribbon(&reach, self.width_m, ends, labels, &sides));
            }
            if self.leaves_behind {
                patch.anchor(bed);
            }
            vec![Step {
                rule: Rule::Lower,
                patch,
            }]
        };
        Ok(Laid {
            built: (raised != reaches).then(|| step(&raised)),
            core_is_outline: false,
            axis: Some(axis(&line, &reaches, self.width_m)),
            lines: vec![("centre line".to_owned(), points)],
            ..Laid::new(Rule::Lower, step(&reaches), line, run)
        })
    }
}

fn level_count(points: usize, levels: usize, at: &At) -> Diagnostic {
    Diagnostic::error(
        "level-count",
        format!("the line has {points} points but {levels} levels are given"),
    )
    .at(at.clone())
    .help("give one level for every point; two in brackets where the water drops")
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
