//! The floor of a channel or trench: a depth below the ground, or levels of its own.

use crate::diag::{At, Diagnostic};
use crate::geom::Point;
use crate::job::Table;
use crate::survey::Survey;

use super::Site;
use super::levels::{Grade, Levels, levels};
use super::shape::{Along, CentreLine, SAME_STATION_M};

/// A floor as written.
#[derive(Debug)]
pub(super) enum Invert {
    /// This far below the ground.
    Depth(f64, At),
    Levels(Levels),
}

/// Reads `depth`, `levels`, or `start` and `fall_percent`.
pub(super) fn invert(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Invert> {
    table.expect(&["depth", "levels", "start", "fall_percent"]);
    let given: Vec<&str> = ["depth", "levels", "start"]
        .into_iter()
        .filter(|key| table.has(key))
        .collect();
    if given.len() != 1 {
        let example =
            "depth = 0.6   # below the ground; or start = \"level:98.4\" and fall_percent = 1.0";
        table.one_of(&["depth", "levels", "start"], example, diagnostics);
        table.discard("fall_percent");
        return None;
    }
    if given[0] != "depth" {
        return levels(table, diagnostics).map(Invert::Levels);
    }
    let (depth_m, at) = table.length_m("depth", diagnostics)?;
    if depth_m <= 0.0 {
        diagnostics.push(
            Diagnostic::error("bad-depth", "a depth is more than 0")
                .at(at)
                .help("write how far below the ground the floor lies"),
        );
        return None;
    }
    Some(Invert::Depth(depth_m, at))
}

impl Invert {
    /// Where the job gives it.
    pub(super) fn at(&self) -> &At {
        match self {
            Invert::Depth(_, at) => at,
            Invert::Levels(levels) => levels.at(),
        }
    }

    /// What is wrong before there is a ground.
    pub(super) fn check(
        &self,
        survey: &Survey,
        points: Option<usize>,
        faults: &mut Vec<Diagnostic>,
    ) {
        if let Invert::Levels(levels) = self {
            levels.check(survey, points, faults);
        }
    }

    /// Levels by station. A depth is kept over `half_m` to both sides of the line.
    ///
    /// # Errors
    ///
    /// no ground to count from
    pub(super) fn grade(
        &self,
        site: &Site,
        line: &CentreLine,
        half_m: f64,
    ) -> Result<Grade, Diagnostic> {
        match self {
            Invert::Levels(levels) => levels.grade(site, line),
            Invert::Depth(depth_m, at) => {
                let mut knots = Vec::new();
                for station in breaks(site, line, half_m) {
                    let ground = lowest_across(site, line, station, half_m).ok_or_else(|| {
                        Diagnostic::error(
                            "no-ground-there",
                            format!(
                                "there is no ground at {} to count the depth from",
                                site.place(line.at(station))
                            ),
                        )
                        .at(at.clone())
                        .help("give levels instead, or keep the line inside the survey")
                    })?;
                    knots.push((station, ground - depth_m));
                }
                Ok(Grade {
                    z: Along::new(knots),
                    faces_m: Vec::new(),
                    riffles_m: Vec::new(),
                })
            }
        }
    }
}

/// Stations where the ground under a strip along a line breaks: between two of them the lowest
/// ground across the strip is the lowest of several straight lines, and so never lower than the
/// straight line between its ends.
fn breaks(site: &Site, line: &CentreLine, half_m: f64) -> Vec<f64> {
    let mut stations: Vec<f64> = line.stations_m().to_vec();
    for (k, ends) in line.stations_m().windows(2).enumerate() {
        let (start, end) = (ends[0], ends[1]);
        let offsets: &[f64] = if half_m > 0.0 {
            &[-half_m, 0.0, half_m]
        } else {
            &[0.0]
        };
        for &offset in offsets {
            let beside = line.parallel(k, offset);
            let profile = site.ground.profile(&beside);
            stations.extend(profile.points().map(|p| start + p.distance_m));
        }
        if half_m > 0.0 {
            stations.extend(site.ground.vertices().iter().filter_map(|v| {
                let [along, aside] = line.from_stretch(k, v.p);
                let inside = along > 0.0 && along < end - start && aside.abs() < half_m;
                inside.then_some(start + along)
            }));
        }
    }
    let length_m = line.length_m();
    stations.retain(|s| (0.0..=length_m).contains(s));
    stations.sort_by(f64::total_cmp);
    stations.dedup_by(|b, a| *b - *a <= SAME_BREAK_M && *b < length_m);
    // The end stays, and what is all but at it goes.
    let near_end = |s: &f64| *s >= length_m || *s < length_m - SAME_BREAK_M;
    stations.retain(near_end);
    stations
}

/// Breaks of the ground closer together than this are one, metres: the floor is not dug finer.
const SAME_BREAK_M: f64 = 1.0e-3;

/// The lowest ground on lines square across the strip at a station; at a bend across both of its
/// stretches and on the line that halves it.
fn lowest_across(site: &Site, line: &CentreLine, station: f64, half_m: f64) -> Option<f64> {
    if half_m <= SAME_STATION_M {
        return site.ground.z_at(line.at(station));
    }
    // A hole under part of the strip is no reason to give up: what is there counts.
    let lowest = |ends: [Point; 2]| {
        let across = site.ground.profile(&ends);
        across.points().map(|p| p.z_m).reduce(f64::min)
    };
    line.across(station, half_m)
        .into_iter()
        .filter_map(lowest)
        .reduce(f64::min)
}
