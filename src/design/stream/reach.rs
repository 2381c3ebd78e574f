//! A stream of even width and upright drops, laid as even reaches that overlap in the bends.

use crate::diag::{At, Diagnostic};
use crate::geom::{P3, Point, distance_m};
use crate::job::LevelSpec;
use crate::surface::{Patch, Rule};

use super::super::entry::side_role;
use super::super::levels::{
    AT_BEND_M, Drop, Levels, RISE_TOLERANCE_M, check_drops, drop_at_end, level_count, rising_drop,
};
use super::super::shape::{Ends, RibbonLabels, ribbon};
use super::super::{Axis, Labels, Laid, Role, Site, Step};
use super::{Stream, rising_bed};

/// A stretch between drops, head to foot.
type Reach = Vec<P3>;

impl Stream {
    /// Bed levels as reaches; between two reaches is a drop.
    fn reaches(&self, site: &Site, line: &[Point]) -> Result<Vec<Reach>, Diagnostic> {
        let reaches = match &self.levels {
            Levels::Given(levels, at) => given(site, line, levels, at)?,
            Levels::ByStation(..) => Vec::new(),
            Levels::Falling {
                start,
                fall_rise_per_run,
                drops,
                ..
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
                return Err(rising_drop(site, below.z - above.z, self.levels.at()));
            }
        }
        for reach in &reaches {
            for pair in reach.windows(2) {
                if pair[1].z > pair[0].z + RISE_TOLERANCE_M {
                    let rise = pair[1].z - pair[0].z;
                    return Err(rising_bed(site, pair[0].p, pair[1].p, rise, &self.levels));
                }
            }
        }
        Ok(reaches)
    }
}

fn given(
    site: &Site,
    line: &[Point],
    levels: &[Vec<LevelSpec>],
    at: &At,
) -> Result<Vec<Reach>, Diagnostic> {
    if levels.len() != line.len() {
        return Err(level_count(line.len(), levels.len(), at));
    }
    drop_at_end(levels)?;
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
    check_drops(site, drops, total)?;
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

impl Stream {
    /// Lays the stream of even reaches.
    pub(super) fn even(
        &self,
        site: &Site,
        width_m: f64,
        label: Labels,
    ) -> Result<Laid, Diagnostic> {
        let line = self.centre.points(site.survey, "a stream")?;
        let reaches = self.reaches(site, &line)?;
        let points: Vec<P3> = reaches.iter().flatten().copied().collect();
        let run = self.slopes.ends;
        let sides = site.sides(Rule::Lower, run, self.corners, &points, self.levels.at())?;
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
                patch.append(&ribbon(&reach, width_m, ends, labels, &sides));
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
            axis: Some(axis(&line, &reaches, width_m)),
            lines: vec![("centre line".to_owned(), points)],
            ..Laid::new(Rule::Lower, step(&reaches), line, run)
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
        width_m: vec![(0.0, width_m)],
    }
}
