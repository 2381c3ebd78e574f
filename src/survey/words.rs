//! How a level book closes, in words.
//!
//! Takes a reduced book, gives a sentence and the diagnostic that carries it. Computes nothing.

use crate::diag::{At, Diagnostic};
use crate::job::{Adjust, RodKind, SurveySpec};
use crate::units::LengthUnit;

use super::book::{BookStatus, Check, LevelBook};
use super::reduce::spoken_unit;

/// A length in the unit of the rod: hundredths of a foot, millimetres.
pub(crate) fn length(spec: &SurveySpec, metres: f64) -> String {
    let unit = spoken_unit(spec);
    let value = unit.from_m(metres);
    if unit.is_foot() {
        format!("{value:.2} {}", unit.name())
    } else {
        format!("{value:.3} {}", unit.name())
    }
}

/// The sentence on a book, and a diagnostic unless it closes.
///
/// `deciding` is the check that decided, `unchecked` the set-ups whose runs nothing checks.
pub(crate) fn of_book(
    spec: &SurveySpec,
    book: &LevelBook,
    deciding: Option<&Check>,
    unchecked: &[&str],
) -> (String, Option<Diagnostic>) {
    let count = |n: usize| {
        if n == 1 {
            "one set-up".to_owned()
        } else {
            format!("{n} set-ups")
        }
    };
    let misses = |check: &Check| {
        let by = length(spec, check.misclosure_m.abs());
        let side = if check.misclosure_m > 0.0 {
            "high"
        } else {
            "low"
        };
        let allowed = length(spec, check.allowed_m);
        let setups = count(check.setups);
        format!(
            "{} comes out {by} {side}; {allowed} is allowed for {setups}",
            check.name
        )
    };
    match (book.status, deciding) {
        (BookStatus::Open, _) => {
            let words = if unchecked.len() == book.setups.len() || deciding.is_none() {
                format!(
                    "{}, one benchmark: nothing checks these readings",
                    count(book.setups.len())
                )
            } else {
                format!(
                    "nothing checks the readings from set-up {} on",
                    unchecked.join(", ")
                )
            };
            let said = Diagnostic::warn("book-open", words.clone())
                .at(At::file(&book.file))
                .help("end the book with a reading on the benchmark or on another known point");
            (words, Some(said))
        }
        (BookStatus::Refused, Some(check)) => {
            let words = format!("the book does not close: {}", misses(check));
            let mut help = "nothing was adjusted; find the mistake".to_owned();
            if let Some(hint) = looks_like(spec, check) {
                help = format!("{help}. {hint}");
            }
            let said = Diagnostic::warn("book-refused", words.clone())
                .at(At::line(&book.file, check.line))
                .help(help.clone());
            (format!("{words}; {help}"), Some(said))
        }
        (_, Some(check)) if check.misclosure_m == 0.0 => (
            format!("the book closes on {} without a difference", check.name),
            None,
        ),
        (BookStatus::Adjusted, Some(check)) => {
            let way = match spec.adjust {
                Adjust::Distance => "in proportion to the length of the sights",
                Adjust::Setups | Adjust::None => "in equal shares per set-up",
            };
            (
                format!("the book closes: {}; shared out {way}", misses(check)),
                None,
            )
        }
        (_, Some(check)) => (format!("the book closes: {}", misses(check)), None),
        (_, None) => (String::new(), None),
    }
}

/// The slip a misclosure looks like, if it is near a round figure of the rod.
fn looks_like(spec: &SurveySpec, check: &Check) -> Option<String> {
    let missed_m = check.misclosure_m.abs();
    let near = |step_m: f64| {
        let times = (missed_m / step_m).round();
        (1.0..=5.0).contains(&times)
            && (missed_m - times * step_m).abs() <= check.allowed_m.min(step_m * 0.2)
    };
    let slips: &[(f64, &str)] = match (spec.rod, spoken_unit(spec)) {
        (RodKind::InchEighths, _) => &[
            (
                0.3048,
                "A whole number of feet off: look for a rod misread by a foot",
            ),
            (
                0.0254,
                "A whole number of inches off: look for a rod misread by an inch",
            ),
        ],
        (_, LengthUnit::Metre) => &[
            (
                1.0,
                "Close to whole metres: look for a rod misread by a metre",
            ),
            (
                0.1,
                "Close to whole decimetres: look for a rod misread by 0.1 m",
            ),
        ],
        _ => &[
            (
                0.3048,
                "Close to whole feet: look for a rod misread by a foot",
            ),
            (
                0.03048,
                "Close to whole tenths: look for a rod misread by 0.1 ft",
            ),
        ],
    };
    slips
        .iter()
        .find(|&&(step_m, _)| near(step_m))
        .map(|&(_, text)| text.to_owned())
}
