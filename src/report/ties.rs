//! How shots were placed by tape, for people and for machines.
//!
//! Takes a survey, gives lines of text or JSON. Computes nothing.

use std::fmt::Write as _;

use serde_json::{Map, Value, json};

use crate::show::Show;
use crate::survey::Survey;
use crate::survey::tie::TieFix;

/// Fixes that are written out, the worst first.
const MOST_FIXES: usize = 3;
/// Names that are written out.
const MOST_NAMES: usize = 8;

/// The places by tape as JSON members: `ties`, `corners`, `unplaced`.
///
/// # Units
///
/// SI, named in every key; coordinates are absolute, in metres
pub fn ties_json(survey: &Survey) -> Map<String, Value> {
    let mut map = Map::new();
    map.insert("ties".to_owned(), json!(survey.ties));
    map.insert("corners".to_owned(), json!(survey.corners));
    map.insert("unplaced".to_owned(), json!(survey.unplaced));
    map
}

/// What is to be said of places by tape on a terminal; empty if there are none.
pub fn ties_text(survey: &Survey, show: Show) -> String {
    let mut text = String::new();
    if !survey.corners.is_empty() {
        let names = |is_given: bool| {
            let corners = survey.corners.iter().filter(|c| c.is_given == is_given);
            list(corners.map(|c| c.name.as_str()))
        };
        let words = [("given: ", names(true)), ("by tape: ", names(false))]
            .iter()
            .filter(|(_, names)| !names.is_empty())
            .map(|(how, names)| format!("{how}{names}"))
            .collect::<Vec<_>>()
            .join("; ");
        let _ = writeln!(text, "  corners            {words}");
    }
    let mut fixes: Vec<&TieFix> = survey.ties.iter().collect();
    if !fixes.is_empty() {
        let placed = match fixes.len() {
            1 => "1 shot".to_owned(),
            n => format!("{n} shots"),
        };
        fixes.retain(|fix| fix.ellipse.is_some());
        let major_m = |fix: &TieFix| fix.ellipse.map_or(0.0, |e| e.semi_major_m);
        // The sort is stable: equals stay in booked order.
        fixes.sort_by(|a, b| major_m(b).total_cmp(&major_m(a)));
        let usual = fixes.get(fixes.len() / 2).map_or(String::new(), |fix| {
            format!(
                ", usually good to {} (1 sigma); least good:",
                small(show, major_m(fix))
            )
        });
        let _ = writeln!(text, "  placed by tape     {placed}{usual}");
        for fix in fixes.iter().take(MOST_FIXES) {
            let angle = fix.sin_crossing.map_or(String::new(), |sin| {
                let degrees = sin.clamp(0.0, 1.0).asin().to_degrees();
                format!(", tapes cross at {degrees:.0} degrees")
            });
            let residual = fix.largest_residual_m.map_or(String::new(), |m| {
                format!(", tapes agree within {}", small(show, m))
            });
            let _ = writeln!(
                text,
                "    {} good to {}{angle}{residual}",
                fix.name,
                small(show, major_m(fix))
            );
        }
    }
    if !survey.unplaced.is_empty() {
        let names = list(survey.unplaced.iter().map(|u| u.name.as_str()));
        let _ = writeln!(text, "  not placed         {names}: no part of this ground");
    }
    text
}

/// An error of a tape: hundredths of a foot, or centimetres.
fn small(show: Show, metres: f64) -> String {
    if show.unit().is_foot() {
        format!("{:.2} ft", show.unit().from_m(metres))
    } else {
        format!("{metres:.2} m")
    }
}

/// Names with commas, the first few of them.
fn list<'a>(names: impl Iterator<Item = &'a str>) -> String {
    let names: Vec<&str> = names.collect();
    let shown = names[..names.len().min(MOST_NAMES)].join(", ");
    if names.len() > MOST_NAMES {
        format!("{shown} and {} more", names.len() - MOST_NAMES)
    } else {
        shown
    }
}
