//! How a level book closes, in words.
//!
//! Takes a reduced book, gives a sentence and the diagnostic that carries it. Computes nothing.

use crate::diag::{At, Diagnostic};
use crate::job::{Adjust, SurveySpec};

use super::blunder::Suspect;
use super::book::{BookStatus, Check, LevelBook};
use super::slips::Slip;

/// Lines that a sentence names.
const MAX_LINES: usize = 8;

/// A misclosure of up to so many times the allowance may be nothing but rough readings.
const NOT_FAR: f64 = 2.0;

/// Kinds of mistake that a sentence names.
const MAX_KINDS: usize = 3;

/// A length in the unit of heights: hundredths of a foot, millimetres.
pub(crate) fn length(spec: &SurveySpec, metres: f64) -> String {
    let unit = spec.z_units;
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
            let mut help = match suspects(book) {
                Some(looks) => format!("nothing was adjusted; {looks}"),
                None => {
                    "nothing was adjusted, and no single slip of one reading explains it: look \
                         for two mistakes, a benchmark that has moved or a wrong given level"
                        .to_owned()
                }
            };
            if check.misclosure_m.abs() <= NOT_FAR * check.allowed_m {
                help += "; it is not far beyond the allowance, so rough readings alone may do it";
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

/// Suspects of one kind, in the order of the book's list.
pub struct SuspectGroup<'b> {
    /// What would have gone wrong.
    pub slip: Slip,
    /// The sights it can have happened to.
    pub suspects: Vec<&'b Suspect>,
}

/// The suspects of a book by kind, the kind of the likeliest first.
pub fn suspect_groups(book: &LevelBook) -> Vec<SuspectGroup<'_>> {
    let mut groups: Vec<SuspectGroup<'_>> = Vec::new();
    for suspect in &book.suspects {
        match groups.iter_mut().find(|group| group.slip == suspect.slip) {
            Some(group) => group.suspects.push(suspect),
            None => groups.push(SuspectGroup {
                slip: suspect.slip,
                suspects: vec![suspect],
            }),
        }
    }
    groups
}

/// What the mistake looks like and where it can be; `None` without suspects.
pub(crate) fn suspects(book: &LevelBook) -> Option<String> {
    let groups = suspect_groups(book);
    let first = groups.first()?;
    if first.slip == Slip::LaserMoved && groups.len() == 1 {
        return Some(format!(
            "no slip of a single reading explains it; the laser may have moved within a set-up \
             ({}), or there are two mistakes",
            place(first)
        ));
    }
    let mut parts: Vec<String> = groups
        .iter()
        .take(MAX_KINDS)
        .map(|group| format!("{} ({})", group.slip.words(), place(group)))
        .collect();
    if groups.len() > MAX_KINDS {
        parts.push("or less likely something else".to_owned());
    }
    let parts = parts.join(", or ");
    Some(if first.suspects.iter().any(|suspect| suspect.in_part) {
        format!("no single mistake explains every check; the worst alone looks like {parts}")
    } else {
        format!("it looks like {parts}")
    })
}

/// Where a mistake of one kind can be.
fn place(group: &SuspectGroup<'_>) -> String {
    match group.suspects.as_slice() {
        [one] if one.slip == Slip::LaserMoved => match one.other_line {
            Some(stood) => format!("between line {stood} and line {}", one.line),
            None => format!("before line {}", one.line),
        },
        [one] if one.slip == Slip::SightsSwapped => match one.other_line {
            Some(other) if other != one.line => format!("lines {other} and {}", one.line),
            _ => format!("line {}", one.line),
        },
        many if many[0].slip == Slip::LaserMoved => {
            let setups: Vec<&str> = many.iter().map(|suspect| suspect.setup.as_str()).collect();
            let more = setups.len().saturating_sub(MAX_LINES);
            let first = setups.iter().take(MAX_LINES).copied();
            let rest = (more > 0).then(|| format!(" and {more} more"));
            format!(
                "any of set-ups {}{}",
                first.collect::<Vec<_>>().join(", "),
                rest.unwrap_or_default()
            )
        }
        [one] if one.slip == Slip::GivenLevel => {
            format!("{} would be at {}", one.name, one.would_be)
        }
        [one] => format!(
            "line {}, {} on {}: {} for {}",
            one.line,
            one.kind.name(),
            one.name,
            one.booked,
            one.would_be
        ),
        many => {
            let mut lines: Vec<usize> = many.iter().map(|suspect| suspect.line).collect();
            lines.sort_unstable();
            lines.dedup();
            let more = lines.len().saturating_sub(MAX_LINES);
            let mut text: Vec<String> =
                lines.iter().take(MAX_LINES).map(usize::to_string).collect();
            if more > 0 {
                text.push(format!("and {more} more"));
            }
            format!("any of {} sights, lines {}", many.len(), text.join(", "))
        }
    }
}
