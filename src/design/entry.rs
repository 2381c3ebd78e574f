//! Keys that several kinds of feature share, read from their entries in the job.

use crate::diag::{At, Diagnostic};
use crate::geom::{P3, Point, Ring};
use crate::job::{LevelSpec, LevelWord, PlaceList, Table};
use crate::survey::Survey;

use super::Role;
use super::shape::Corners;

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

/// Narrowest width that is dug or built, metres.
const NARROWEST_M: f64 = 0.01;
/// Widest, metres: wider is a mistake of unit.
const WIDEST_M: f64 = 1000.0;

/// Reads a width that must be there.
pub(super) fn width_m(
    table: &mut Table,
    example: &str,
    diagnostics: &mut Vec<Diagnostic>,
) -> Option<f64> {
    let (width_m, at) = required(table, "width", example, Table::length_m, diagnostics)?;
    if let Some(fault) = bad_width(width_m, &at) {
        diagnostics.push(fault);
        return None;
    }
    Some(width_m)
}

/// Reads a width that may be there.
pub(super) fn width_of(
    table: &mut Table,
    key: &str,
    diagnostics: &mut Vec<Diagnostic>,
) -> Option<f64> {
    let (width_m, at) = table.length_m(key, diagnostics)?;
    let fault = bad_width(width_m, &at);
    let is_usable = fault.is_none();
    diagnostics.extend(fault);
    is_usable.then_some(width_m)
}

/// The fault of a width that nothing is dug or built to.
pub(super) fn bad_width(width_m: f64, at: &At) -> Option<Diagnostic> {
    let fault = || {
        Diagnostic::error("bad-width", "a width is between 1 cm and 1 km")
            .at(at.clone())
            .help("write it in the job's unit, as a positive number")
    };
    (!(NARROWEST_M..=WIDEST_M).contains(&width_m)).then(fault)
}

/// Flattest side that may be asked for; flatter is a mistake of unit.
const FLATTEST_RUN_PER_RISE: f64 = 100.0;

/// Reads `side_run_per_rise`: 0 for a vertical face.
pub(super) fn side_run_per_rise(
    table: &mut Table,
    diagnostics: &mut Vec<Diagnostic>,
) -> Option<f64> {
    let example = "side_run_per_rise = 1.5   # 1.5 across for 1 up";
    run_per_rise(table, "side_run_per_rise", example, diagnostics)
}

/// Reads the slope of a side: 0 for a vertical face.
pub(super) fn run_per_rise(
    table: &mut Table,
    key: &str,
    example: &str,
    diagnostics: &mut Vec<Diagnostic>,
) -> Option<f64> {
    if !table.has(key) {
        table.expect(&[key]);
        diagnostics.push(table.missing(key, example));
        return None;
    }
    run_per_rise_of(table, key, diagnostics)
}

/// Reads a slope that may be there, as run for one of rise: 0 for a vertical face.
pub(super) fn run_per_rise_of(
    table: &mut Table,
    key: &str,
    diagnostics: &mut Vec<Diagnostic>,
) -> Option<f64> {
    let (run, at) = table.number(key, diagnostics)?;
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

/// Slopes of the two sides of a line, run for one of rise.
#[derive(Clone, Copy, Debug)]
pub(super) struct SideSlopes {
    /// As seen along the line: right, left.
    pub(super) right_left: [f64; 2],
    /// Carried round sloping ends.
    pub(super) ends: f64,
}

/// Reads `side_run_per_rise`, and `left_run_per_rise` and `right_run_per_rise` where a side
/// differs. `example` asks for the first where it must be there; `None` makes sides upright.
pub(super) fn side_slopes(
    table: &mut Table,
    default: Option<f64>,
    diagnostics: &mut Vec<Diagnostic>,
) -> Option<SideSlopes> {
    let left = run_per_rise_of(table, "left_run_per_rise", diagnostics);
    let right = run_per_rise_of(table, "right_run_per_rise", diagnostics);
    if let (Some(left), Some(right), false) = (left, right, table.has("side_run_per_rise")) {
        return Some(SideSlopes {
            right_left: [right, left],
            ends: left.max(right),
        });
    }
    let both = match (default, table.has("side_run_per_rise")) {
        (Some(default), false) => {
            table.expect(&["side_run_per_rise"]);
            default
        }
        _ => side_run_per_rise(table, diagnostics)?,
    };
    Some(SideSlopes {
        right_left: [right.unwrap_or(both), left.unwrap_or(both)],
        ends: both,
    })
}

/// Sides steeper than this are faces to be held, not slopes: 1 across for 10 up.
const STEEPEST_SIDE_RUN_PER_RISE: f64 = 0.1;

/// What sides of this slope are to the checks.
pub(super) fn side_role(run_per_rise: f64) -> Role {
    if run_per_rise < STEEPEST_SIDE_RUN_PER_RISE {
        Role::Face
    } else {
        Role::Side
    }
}

/// Reads one of several words; the first if the key is absent.
pub(super) fn word<T: Copy>(
    table: &mut Table,
    key: &str,
    words: &[(&str, T)],
    diagnostics: &mut Vec<Diagnostic>,
) -> T {
    let names: Vec<&str> = words.iter().map(|(name, _)| *name).collect();
    let index = table
        .choice(key, &names, diagnostics)
        .map_or(0, |(index, _)| index);
    words[index].1
}

/// Reads `corners`.
pub(super) fn corners(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Corners {
    let words = [("mitre", Corners::Mitre), ("round", Corners::Round)];
    word(table, "corners", &words, diagnostics)
}

/// Reads `behind_daylight`: true if places that only the prolonged side would reach are left
/// alone.
///
/// A side is a plane that goes on past the line where it meets the ground. Where the ground
/// rises (or falls away) again behind that line, the plane cuts (or covers) it there too, unless
/// the job says to leave it.
pub(super) fn leaves_behind(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> bool {
    let words = [("shape", false), ("leave", true)];
    word(table, "behind_daylight", &words, diagnostics)
}

/// A ring from resolved places, with the fault in words.
pub(super) fn ring(survey: &Survey, places: &PlaceList, what: &str) -> Result<Ring, Diagnostic> {
    let corners: Vec<Point> = survey.resolve(places)?.iter().map(|p| p.p).collect();
    Ring::new(&corners).map_err(|fault| {
        Diagnostic::error(
            "bad-outline",
            format!("the outline of this {what} is not usable: {fault}"),
        )
        .at(places.at.clone())
        .help("list the corners in walking order, each once, without crossing a side")
    })
}

/// Plan points at one level.
pub(super) fn level_at(points: &[Point], z: f64) -> Vec<P3> {
    points.iter().map(|&p| P3 { p, z }).collect()
}

/// Different points of a line, two at least.
pub(super) fn line(
    survey: &Survey,
    places: &PlaceList,
    what: &str,
) -> Result<Vec<Point>, Diagnostic> {
    let mut points: Vec<Point> = survey.resolve(places)?.iter().map(|p| p.p).collect();
    points.dedup();
    if points.len() < 2 {
        return Err(
            Diagnostic::error("short-line", format!("{what} needs two different points"))
                .at(places.at.clone())
                .help("add a point"),
        );
    }
    Ok(points)
}

/// The fault of a level that counts from a benchmark that is not there.
pub(super) fn missing_benchmark(survey: &Survey, level: &LevelSpec) -> Option<Diagnostic> {
    match level.word {
        LevelWord::BelowBenchmark(_) if survey.benchmark.is_none() => Some(no_benchmark(&level.at)),
        _ => None,
    }
}

pub(super) fn no_benchmark(at: &At) -> Diagnostic {
    Diagnostic::error(
        "no-benchmark",
        "this level counts from the benchmark, but no survey file names one",
    )
    .at(at.clone())
    .help("give [[survey]] a benchmark = { name, level, words }, or write level:...")
}
