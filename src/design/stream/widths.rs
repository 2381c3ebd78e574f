//! The width of a bed along its line.

use crate::diag::{At, Diagnostic};
use crate::job::Table;

use super::super::entry::{bad_width, required, width_m};
use super::super::shape::{Along, CentreLine};

/// Widths of a bed as written.
#[derive(Debug)]
pub(super) enum Widths {
    Even(f64),
    /// One for each point of the line.
    Points(Vec<f64>, At),
    /// By distance from the head.
    ByStation(Vec<(f64, f64)>),
}

/// Reads `width` or `widths`.
pub(super) fn widths(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Widths> {
    table.expect(&["width", "widths"]);
    if !table.has("widths") {
        return width_m(table, "width = 2.0", diagnostics).map(Widths::Even);
    }
    if table.has("width") {
        table.one_of(&["width", "widths"], "width = 2.0", diagnostics);
        return None;
    }
    if !table.holds_groups("widths") {
        let (widths, at) = table.lengths_m("widths", "[1.5, 2.0, 2.5]", diagnostics)?;
        if let Some(fault) = widths.iter().find_map(|&w| bad_width(w, &at)) {
            diagnostics.push(fault);
            return None;
        }
        return Some(Widths::Points(widths, at));
    }
    let mut found = Vec::new();
    for mut entry in table.tables("widths", diagnostics) {
        let at = required(&mut entry, "at", "at = 4.0", Table::length_m, diagnostics);
        let width = width_m(&mut entry, "width = 2.0", diagnostics);
        entry.finish(diagnostics);
        found.push((at?.0, width?));
    }
    Some(Widths::ByStation(found))
}

impl Widths {
    /// The fault of a list of widths that is too long or too short.
    pub(super) fn check(&self, points: usize) -> Option<Diagnostic> {
        match self {
            Widths::Points(widths, at) if widths.len() != points => Some(
                Diagnostic::error(
                    "width-count",
                    format!("the line has {points} points but {} widths are given", widths.len()),
                )
                .at(at.clone())
                .help("give one width for every point, or [{ at = 4.0, width = 2.0 }, ...] by distance from the head"),
            ),
            _ => None,
        }
    }

    /// The widest, metres.
    pub(super) fn widest_m(&self) -> f64 {
        match self {
            Widths::Even(width) => *width,
            Widths::Points(widths, _) => widths.iter().copied().fold(0.0, f64::max),
            Widths::ByStation(widths) => widths.iter().map(|w| w.1).fold(0.0, f64::max),
        }
    }

    /// By station.
    pub(super) fn along(&self, line: &CentreLine) -> Along {
        match self {
            Widths::Even(width) => Along::even(*width),
            Widths::Points(widths, _) => {
                let knots = line.given_m().iter().zip(widths);
                Along::new(knots.map(|(&s, &w)| (s, w)).collect())
            }
            Widths::ByStation(widths) => Along::new(widths.clone()),
        }
    }
}
