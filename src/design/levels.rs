//! The levels of a bed or an invert along its centre line, as a job gives them.
//!
//! | key | meaning |
//! | --- | --- |
//! | `levels` | one for each point of the line, two in brackets above and below a drop; or `[{ at = 4.0, level = "..." }]`, by distance from the head |
//! | `start`, `fall_percent` | instead: the level at the head, and how far it falls on 100 of length |
//! | `riffles` | `[{ from, to, fall_percent, width }]`: stretches with a fall, and if given a width, of their own |
//! | `drops` | `[{ at, height, face_run_per_rise }]`: where the bed steps down; from `at` its face runs downstream, upright if not said |

use crate::diag::{At, Diagnostic};
use crate::geom::Point;
use crate::job::{LevelSpec, Table};
use crate::survey::Survey;

use super::Site;
use super::entry::{missing_benchmark, required, run_per_rise_of, width_of};
use super::shape::{Along, CentreLine, FACE_RUN_PER_RISE, SAME_STATION_M};

/// Levels as written.
#[derive(Debug)]
pub(super) enum Levels {
    /// One entry a point; two levels at a point are a drop.
    Given(Vec<Vec<LevelSpec>>, At),
    /// By distance from the head.
    ByStation(Vec<(f64, LevelSpec)>, At),
    /// From the head by a fall, riffles and drops.
    Falling {
        start: LevelSpec,
        fall_rise_per_run: f64,
        riffles: Vec<Riffle>,
        drops: Vec<Drop>,
    },
}

/// A step of the bed.
#[derive(Clone, Debug)]
pub(super) struct Drop {
    /// Distance from the head along the line, metres.
    pub(super) at_m: f64,
    pub(super) height_m: f64,
    /// Run for each unit of rise of its face; `None` for an upright one.
    pub(super) face_run_per_rise: Option<f64>,
    pub(super) at: At,
}

/// A stretch with a fall of its own.
#[derive(Clone, Debug)]
pub(super) struct Riffle {
    pub(super) from_m: f64,
    pub(super) to_m: f64,
    pub(super) fall_rise_per_run: f64,
    pub(super) width_m: Option<f64>,
    pub(super) at: At,
}

/// Levels by station.
#[derive(Clone, Debug)]
pub(super) struct Grade {
    pub(super) z: Along,
    /// Faces of drops: where they begin and end.
    pub(super) faces_m: Vec<[f64; 2]>,
    /// Riffles: where they begin and end.
    pub(super) riffles_m: Vec<[f64; 2]>,
}

/// A rise lower than this is rounding, metres.
pub(super) const RISE_TOLERANCE_M: f64 = 1.0e-6;

/// A drop nearer to a bend than this is at the bend, metres; nearer to an end it has no reach.
pub(super) const AT_BEND_M: f64 = 0.01;

/// Reads `levels`, or `start` and `fall_percent`.
pub(super) fn levels(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Levels> {
    table.expect(&["levels", "start", "fall_percent"]);
    if !table.has("levels") {
        return falling(table, diagnostics);
    }
    if !table.holds_groups("levels") {
        let (levels, at) = table.levels("levels", diagnostics)?;
        return Some(Levels::Given(levels, at));
    }
    let mut found = Vec::new();
    let mut first = None;
    for mut entry in table.tables("levels", diagnostics) {
        first.get_or_insert(entry.at());
        let at = required(&mut entry, "at", "at = 4.0", Table::length_m, diagnostics);
        let example = "level = \"depth:0.5\"";
        let level = required(&mut entry, "level", example, Table::level, diagnostics);
        entry.finish(diagnostics);
        found.push((at?.0, level?));
    }
    found.sort_by(|a: &(f64, LevelSpec), b| a.0.total_cmp(&b.0));
    Some(Levels::ByStation(found, first?))
}

fn falling(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Levels> {
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
    let fall_rise_per_run = rise_per_run(fall?, diagnostics)?;
    Some(Levels::Falling {
        start: start?,
        fall_rise_per_run,
        riffles: Vec::new(),
        drops: Vec::new(),
    })
}

fn rise_per_run((percent, at): (f64, At), diagnostics: &mut Vec<Diagnostic>) -> Option<f64> {
    if (0.0..=100.0).contains(&percent) {
        return Some(percent / 100.0);
    }
    diagnostics.push(
        Diagnostic::error(
            "bad-fall",
            "the fall of a bed is 0 to 100 percent; water does not run up",
        )
        .at(at)
        .help("1 to 2 is usual between drops"),
    );
    None
}

/// Reads `drops`, from the head down.
pub(super) fn drops(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Vec<Drop> {
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
        let face_run_per_rise = run_per_rise_of(&mut entry, "face_run_per_rise", diagnostics);
        entry.finish(diagnostics);
        if let (Some((at_m, _)), Some((height_m, height_at))) = (along, height) {
            if height_m <= 0.0 {
                diagnostics.push(
                    Diagnostic::error("bad-drop", "a drop falls: its height is more than 0")
                        .at(height_at)
                        .help("write how far the water falls, as a positive number"),
                );
            }
            drops.push(Drop {
                at_m,
                height_m,
                face_run_per_rise,
                at,
            });
        }
    }
    drops.sort_by(|a, b| a.at_m.total_cmp(&b.at_m));
    drops
}

/// Reads `riffles`, from the head down.
pub(super) fn riffles(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Vec<Riffle> {
    let mut riffles = Vec::new();
    for mut entry in table.tables("riffles", diagnostics) {
        let at = entry.at();
        let from = required(
            &mut entry,
            "from",
            "from = 4.0",
            Table::length_m,
            diagnostics,
        );
        let to = required(&mut entry, "to", "to = 7.5", Table::length_m, diagnostics);
        let example = "fall_percent = 6.0";
        let fall = required(
            &mut entry,
            "fall_percent",
            example,
            Table::number,
            diagnostics,
        );
        let width = width_of(&mut entry, "width", diagnostics);
        entry.finish(diagnostics);
        let fall = fall.and_then(|fall| rise_per_run(fall, diagnostics));
        if let (Some((from_m, _)), Some((to_m, _)), Some(fall_rise_per_run)) = (from, to, fall) {
            riffles.push(Riffle {
                from_m,
                to_m,
                fall_rise_per_run,
                width_m: width,
                at,
            });
        }
    }
    riffles.sort_by(|a, b| a.from_m.total_cmp(&b.from_m));
    riffles
}

/// A stretch of a line as a job names it: what it is, its ends, where the job says so.
pub(super) type Named<'a> = (&'a str, [f64; 2], &'a At);

/// Refuses stretches that reach past the ends of the line, and those that overlap.
pub(super) fn check_stretches(
    site: &Site,
    line: &CentreLine,
    stretches: &[Named],
) -> Result<(), Diagnostic> {
    let length_m = line.length_m();
    let mut sorted: Vec<&Named> = stretches.iter().collect();
    sorted.sort_by(|a, b| a.1[0].total_cmp(&b.1[0]));
    for (what, [from, to], at) in &sorted {
        if to <= from {
            return Err(Diagnostic::error(
                "bad-stretch",
                format!(
                    "the {what} ends {} from the head, before it begins",
                    site.length(*to)
                ),
            )
            .at((*at).clone())
            .help("`from` is nearer to the head than `to`; lengths are more than 0"));
        }
        if *from < -SAME_STATION_M || *to > length_m + SAME_STATION_M {
            return Err(Diagnostic::error(
                "off-line",
                format!(
                    "the {what} lies {} to {} from the head, but the line is {} long",
                    site.length(*from),
                    site.length(*to),
                    site.length(length_m)
                ),
            )
            .at((*at).clone())
            .help("distances count along the line from the head"));
        }
    }
    for pair in sorted.windows(2) {
        let ((one, a, _), (other, b, at)) = (pair[0], pair[1]);
        if b[0] < a[1] - SAME_STATION_M {
            let words = format!(
                "the {other} begins {} from the head, at {}, where the {one} reaches to {}",
                site.length(b[0]),
                site.place(line.at(b[0])),
                site.length(a[1])
            );
            return Err(Diagnostic::error("overlap", words)
                .at((*at).clone())
                .help("move one of the two along the line, or make it shorter"));
        }
    }
    Ok(())
}

impl Levels {
    /// Where the job gives the levels.
    pub(super) fn at(&self) -> &At {
        match self {
            Levels::Given(_, at) | Levels::ByStation(_, at) => at,
            Levels::Falling { start, .. } => &start.at,
        }
    }

    /// What is wrong before there is a ground, for a line of `points` points.
    pub(super) fn check(
        &self,
        survey: &Survey,
        points: Option<usize>,
        faults: &mut Vec<Diagnostic>,
    ) {
        let specs: Vec<&LevelSpec> = match self {
            Levels::Given(levels, at) => {
                if let Some(points) = points
                    && points != levels.len()
                {
                    faults.push(level_count(points, levels.len(), at));
                }
                levels.iter().flatten().collect()
            }
            Levels::ByStation(levels, _) => levels.iter().map(|level| &level.1).collect(),
            Levels::Falling { start, .. } => vec![start],
        };
        faults.extend(
            specs
                .into_iter()
                .filter_map(|spec| missing_benchmark(survey, spec)),
        );
    }

    /// Levels by station along a line.
    ///
    /// # Errors
    ///
    /// no ground where a depth counts from it; drops and riffles beyond the ends or in one another
    pub(super) fn grade(&self, site: &Site, line: &CentreLine) -> Result<Grade, Diagnostic> {
        match self {
            Levels::Given(levels, at) => given(site, line, levels, at),
            Levels::ByStation(levels, _) => {
                let mut knots = Vec::new();
                for (at_m, spec) in levels {
                    if *at_m < 0.0 || *at_m > line.length_m() + AT_BEND_M {
                        return Err(off_line(site, line, "level", *at_m, &spec.at));
                    }
                    knots.push((*at_m, site.level_at(spec, line.at(*at_m))?));
                }
                Ok(Grade {
                    z: Along::new(knots),
                    faces_m: Vec::new(),
                    riffles_m: Vec::new(),
                })
            }
            Levels::Falling {
                start,
                fall_rise_per_run,
                riffles,
                drops,
            } => {
                let start_z = site.level_at(start, line.at(0.0))?;
                fallen(site, line, start_z, *fall_rise_per_run, riffles, drops)
            }
        }
    }
}

fn off_line(site: &Site, line: &CentreLine, what: &str, at_m: f64, at: &At) -> Diagnostic {
    Diagnostic::error(
        "off-line",
        format!(
            "this {what} is {} from the head, but the line is {} long",
            site.length(at_m),
            site.length(line.length_m())
        ),
    )
    .at(at.clone())
    .help("`at` counts along the line from the head")
}

fn given(
    site: &Site,
    line: &CentreLine,
    levels: &[Vec<LevelSpec>],
    at: &At,
) -> Result<Grade, Diagnostic> {
    let points = line.given_m().len();
    if levels.len() != points {
        return Err(level_count(points, levels.len(), at));
    }
    drop_at_end(levels)?;
    let mut knots = Vec::new();
    let mut faces_m = Vec::new();
    for (specs, &station) in levels.iter().zip(line.given_m()) {
        let p = line.at(station);
        let z: Vec<f64> = specs
            .iter()
            .map(|spec| site.level_at(spec, p))
            .collect::<Result<_, _>>()?;
        knots.push((station, z[0]));
        if let [above, below] = z[..] {
            if below > above + RISE_TOLERANCE_M {
                return Err(rising_drop(site, below - above, at));
            }
            let foot = station + (above - below) * FACE_RUN_PER_RISE;
            knots.push((foot, below));
            faces_m.push([station, foot]);
        }
    }
    Ok(Grade {
        z: Along::new(knots),
        faces_m,
        riffles_m: Vec::new(),
    })
}

/// The fault of a drop whose lower level is the higher.
pub(super) fn rising_drop(site: &Site, by_m: f64, at: &At) -> Diagnostic {
    Diagnostic::error(
        "rising-bed",
        format!(
            "the second level of this drop is {} higher than the first",
            site.length(by_m)
        ),
    )
    .at(at.clone())
    .help("write the level above the drop first, then the one below it")
}

/// Refuses two levels at the first or the last point.
pub(super) fn drop_at_end(levels: &[Vec<LevelSpec>]) -> Result<(), Diagnostic> {
    let ends = [levels.first(), levels.last()];
    match ends.into_iter().flatten().find(|specs| specs.len() > 1) {
        None => Ok(()),
        Some(pair) => Err(Diagnostic::error(
            "drop-at-end",
            "there is no stream above a drop at the head, and none below a drop at the foot",
        )
        .at(pair[0].at.clone())
        .help("give one level there, or add a point a little before or after it")),
    }
}

/// The fault of a list of levels that is too long or too short.
pub(super) fn level_count(points: usize, levels: usize, at: &At) -> Diagnostic {
    Diagnostic::error(
        "level-count",
        format!("the line has {points} points but {levels} levels are given"),
    )
    .at(at.clone())
    .help("give one level for every point; two in brackets where the water drops")
}

/// Refuses a drop that does not lie between the ends of a line.
pub(super) fn check_drops(site: &Site, drops: &[Drop], total_m: f64) -> Result<(), Diagnostic> {
    let off = drops
        .iter()
        .find(|d| d.at_m < AT_BEND_M || d.at_m > total_m - AT_BEND_M);
    match off {
        None => Ok(()),
        Some(drop) => Err(Diagnostic::error(
            "drop-off-line",
            format!(
                "this drop is {} from the head, but has to lie between the ends of the line, which is {} long",
                site.length(drop.at_m),
                site.length(total_m)
            ),
        )
        .at(drop.at.clone())
        .help("`at` counts along the line from the head")),
    }
}

fn fallen(
    site: &Site,
    line: &CentreLine,
    start_z: f64,
    fall: f64,
    riffles: &[Riffle],
    drops: &[Drop],
) -> Result<Grade, Diagnostic> {
    check_drops(site, drops, line.length_m())?;
    let faces: Vec<([f64; 2], f64)> = drops
        .iter()
        .map(|drop| {
            let run = drop.face_run_per_rise.unwrap_or(0.0).max(FACE_RUN_PER_RISE);
            ([drop.at_m, drop.at_m + drop.height_m * run], drop.height_m)
        })
        .collect();
    let named: Vec<Named> = (faces.iter().zip(drops))
        .map(|(face, drop)| ("face of this drop", face.0, &drop.at))
        .collect();
    check_stretches(site, line, &named)?;
    let named: Vec<Named> = riffles
        .iter()
        .map(|r| ("riffle", [r.from_m, r.to_m], &r.at))
        .collect();
    check_stretches(site, line, &named)?;
    let mut cuts: Vec<f64> = vec![0.0, line.length_m()];
    cuts.extend(faces.iter().flat_map(|face| face.0));
    cuts.extend(riffles.iter().flat_map(|r| [r.from_m, r.to_m]));
    cuts.sort_by(f64::total_cmp);
    let mut z = start_z;
    let mut knots = vec![(0.0, z)];
    for pair in cuts.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        let half = (from + to) / 2.0;
        let inside = |[a, b]: [f64; 2]| half > a && half < b;
        z -= match faces.iter().find(|face| inside(face.0)) {
            Some(([a, b], height)) => height * (to - from) / (b - a),
            None => {
                let riffle = riffles.iter().find(|r| inside([r.from_m, r.to_m]));
                riffle.map_or(fall, |r| r.fall_rise_per_run) * (to - from)
            }
        };
        knots.push((to, z));
    }
    Ok(Grade {
        z: Along::new(knots),
        faces_m: faces.into_iter().map(|face| face.0).collect(),
        riffles_m: riffles.iter().map(|r| [r.from_m, r.to_m]).collect(),
    })
}

impl Grade {
    /// Stations of the line's ends and of every break between them.
    pub(super) fn stations(&self, line: &CentreLine) -> Vec<f64> {
        let end = line.length_m();
        let inside = |s: &f64| *s > SAME_STATION_M && *s < end - SAME_STATION_M;
        let knots = self.z.knots().iter().map(|k| k.0).filter(inside);
        std::iter::once(0.0).chain(knots).chain([end]).collect()
    }

    /// The first two places between which the level falls by less than `least` of the length, and
    /// how much it rises there.
    pub(super) fn rise(&self, line: &CentreLine, least: f64) -> Option<([Point; 2], f64)> {
        let stations = self.stations(line);
        stations.windows(2).find_map(|pair| {
            let rise = self.z.at(pair[1]) - self.z.at(pair[0]);
            let misses = rise + least * (pair[1] - pair[0]) > RISE_TOLERANCE_M;
            misses.then(|| ([line.at(pair[0]), line.at(pair[1])], rise))
        })
    }
}
