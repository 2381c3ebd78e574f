//! A quick visit in words, for a terminal, and as JSON.
//!
//! Takes levels and distances of named points, gives the answer first: how far apart in level,
//! how far apart in plan, how steep. Computes nothing.

use std::fmt::Write as _;

use serde_json::{Value, json};

use super::json::SCHEMA;
use super::sheets::csv_text;
use super::text::Lines;
use super::words::counted;
use crate::diag::Level;
use crate::job::Benchmark;
use crate::outcome::VisitOutcome;
use crate::show::Show;
use crate::survey::{Leg, Levelled, Visit, Way};
use crate::units::Slope;

/// "the head" for a plain word, "P1" for a name.
fn called(name: &str) -> String {
    let is_word = name
        .split(' ')
        .all(|word| word.len() > 1 && word.chars().all(|c| c.is_lowercase()));
    if is_word {
        format!("the {name}")
    } else {
        name.to_owned()
    }
}

/// A sentence begun with a capital letter.
fn begun(words: &str) -> String {
    let mut chars = words.chars();
    match chars.next() {
        Some(first) if words.starts_with("the ") => first.to_uppercase().chain(chars).collect(),
        _ => words.to_owned(),
    }
}

/// Per cent to one figure behind the point below 10.
fn percent(slope: Slope) -> String {
    let percent = slope.percent();
    let digits = usize::from(percent < 9.95);
    format!("{percent:.digits$} %")
}

/// "the head is 3.4 ft above the basin, 34 ft apart, 10 % (10.0 across : 1 up, 1.2 in per ft)".
pub(super) fn leg_words(show: Show, leg: &Leg) -> String {
    let (upper, lower) = (called(&leg.upper), called(&leg.lower));
    let apart = match leg.way {
        Way::Taped => show.length(leg.distance_m),
        Way::Paced => show.paced(leg.distance_m),
    };
    let slope = leg.slope();
    let rise = show.length(leg.rise_m);
    if rise == show.length(0.0) {
        return format!("{upper} and {lower} are at one level, {apart} apart");
    }
    let mut words = format!(
        "{upper} is {rise} above {lower}, {apart} apart, {} ({:.1} across : 1 up, {:.1} in per ft)",
        percent(slope),
        slope.run_per_rise(),
        slope.inches_per_foot()
    );
    if leg.way == Way::Paced {
        let (flat, steep) = leg.slope_range();
        let (flat, steep) = (percent(flat), percent(steep));
        let flat = flat.trim_end_matches(" %");
        let _ = write!(words, "; paced, so {flat} to {steep}");
    }
    words
}

/// The sentences of a visit: every pair with a distance, then the whole fall.
pub(super) fn sentences(show: Show, visit: &Visit) -> Vec<String> {
    let mut all: Vec<String> = visit
        .legs
        .iter()
        .map(|leg| format!("{}.", begun(&leg_words(show, leg))))
        .collect();
    if let [first, .., last] = visit.points.as_slice() {
        all.push(format!(
            "Highest is {}, lowest {}: {} between them.",
            called(&first.name),
            called(&last.name),
            show.length(first.level_m - last.level_m)
        ));
    }
    all
}

/// "2.1 ft lower than BM1"; empty for the benchmark itself.
pub(super) fn against(show: Show, point: &Levelled, benchmark: &Benchmark) -> String {
    if point.name == benchmark.name {
        return "the benchmark".to_owned();
    }
    let off = point.level_m - benchmark.level_m;
    let side = if off > 0.0 { "higher" } else { "lower" };
    format!(
        "{} {} {side} than {}",
        show.level(off.abs()),
        show.length_unit(),
        benchmark.name
    )
}

/// The sentences of a visit, a line each.
pub fn visit_text(visit: &Visit, show: Show) -> String {
    let mut lines = Lines::default();
    for sentence in sentences(show, visit) {
        lines.add("", &sentence);
    }
    lines.0
}

/// Points with their levels.
fn points_text(visit: &Visit, benchmark: Option<&Benchmark>, show: Show) -> String {
    let mut text = String::new();
    let unit = show.length_unit();
    let _ = writeln!(text, "\n  {:<16} {:>10}", "point", format!("level {unit}"));
    for point in &visit.points {
        let beside = benchmark.map_or_else(String::new, |b| against(show, point, b));
        let _ = writeln!(
            text,
            "  {:<16} {:>10}  {beside}",
            point.name,
            show.level(point.level_m)
        );
    }
    text
}

/// What a visit does not tell.
pub(super) const NO_GROUND: &str = "No shot has a place, so there is no ground: no volumes, no \
     plan, and nothing about what lies between these points. Slopes are in a straight line from \
     point to point. To get a ground, give shots x and y, or tapes from two corners.";

/// The answer of a job without places, for a terminal.
pub fn visit_report(outcome: &VisitOutcome) -> String {
    let show = Show::new(outcome.job.units);
    let mut text = format!("{}  ({})\n", outcome.job.name, outcome.date);
    text.push_str(&visit_text(&outcome.visit, show));
    text.push_str(&points_text(
        &outcome.visit,
        outcome.survey.benchmark.as_ref(),
        show,
    ));
    let mut lines = Lines::default();
    for book in &outcome.survey.books {
        lines.blank();
        lines.add(&format!("{}: ", book.file), &format!("{}.", book.words));
    }
    lines.blank();
    lines.add("", NO_GROUND);
    let doubts = outcome
        .diagnostics
        .iter()
        .filter(|d| d.level != Level::Note)
        .count();
    if doubts > 0 {
        let count = counted(doubts as u64, "doubt");
        lines.add("", &format!("{count} about the input, named apart."));
    }
    text + &lines.0
}

/// A visit in SI.
pub fn visit_json(visit: &Visit) -> Value {
    json!({
        "points": visit.points.iter().map(|p| json!({
            "name": p.name,
            "elevation_m": p.level_m,
            "at": p.at,
        })).collect::<Vec<Value>>(),
        "legs": visit.legs.iter().map(|leg| json!({
            "upper": leg.upper,
            "lower": leg.lower,
            "rise_m": leg.rise_m,
            "distance_m": leg.distance_m,
            "way": leg.way,
            "slope_rise_per_run": leg.slope().rise_per_run(),
            "flattest_rise_per_run": leg.slope_range().0.rise_per_run(),
            "steepest_rise_per_run": leg.slope_range().1.rise_per_run(),
            "at": leg.at,
        })).collect::<Vec<Value>>(),
    })
}

/// The whole answer of a job without places, in SI.
pub fn visit_report_json(outcome: &VisitOutcome) -> Value {
    let mut value = json!({
        "schema": SCHEMA,
        "program": env!("CARGO_PKG_NAME"),
        "program_version": env!("CARGO_PKG_VERSION"),
        "job": outcome.job.name,
        "date": outcome.date,
        "inputs": outcome.inputs,
        "visit": visit_json(&outcome.visit),
        "benchmark": outcome.survey.benchmark,
        "books": outcome.survey.books,
        "ground": Value::Null,
        "why_no_ground": NO_GROUND,
        "diagnostics": outcome.diagnostics,
    });
    super::json::without_minus_zero(&mut value);
    value
}

/// The pairs of a visit as CSV.
///
/// # Units
///
/// SI, named in the head
pub fn visit_csv(visit: &Visit) -> String {
    csv_text(
        &[
            "upper",
            "lower",
            "rise_m",
            "distance_m",
            "slope_rise_per_run",
        ],
        visit.legs.iter().map(|leg| {
            vec![
                leg.upper.clone(),
                leg.lower.clone(),
                leg.rise_m.to_string(),
                leg.distance_m.to_string(),
                leg.slope().rise_per_run().to_string(),
            ]
        }),
    )
}
