//! Column heads: which column is which, in which unit.
//!
//! Takes the first row of a sheet and the columns a reader knows, gives every column its key.
//! Knows no rows below the head.

use crate::diag::{At, Diagnostic, Failure, nearest};
use crate::job::Decimal;
use crate::units::LengthUnit;

use super::table::{Column, Faults, Sheet};

/// Columns that a note lists by name.
const MAX_NAMED: usize = 12;

/// What the numbers of a column measure, so that a unit in its head can be checked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Measure {
    /// No length.
    Text,
    /// Plan coordinates and distances.
    Plan,
    /// Elevations and rod readings.
    Height,
}

/// A column a reader knows.
#[derive(Debug)]
pub(crate) struct Head {
    /// The name used in messages and in `columns`.
    pub(crate) key: &'static str,
    /// Other names, lower case, without hyphen, underscore or space.
    pub(crate) aliases: &'static [&'static str],
    /// What it measures.
    pub(crate) measure: Measure,
    /// True if a row separated by white space may end before it.
    pub(crate) may_end: bool,
}

/// Columns that say where a point is by tape; every reader of points takes them.
const TIE_HEADS: &[Head] = &[
    tie_head("from", &[], Measure::Text),
    tie_head("tape", &[], Measure::Plan),
    tie_head("bearing", &["azimuth"], Measure::Text),
    tie_head("station", &["sta"], Measure::Plan),
    tie_head("offset", &[], Measure::Plan),
    tie_head("side", &[], Measure::Text),
    tie_head("row", &[], Measure::Plan),
    tie_head("column", &["col"], Measure::Plan),
];

const fn tie_head(key: &'static str, aliases: &'static [&'static str], measure: Measure) -> Head {
    Head {
        key,
        aliases,
        measure,
        may_end: false,
    }
}

/// What a reader expects of a file.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Wanted<'a> {
    /// Columns it knows.
    pub(crate) heads: &'static [Head],
    /// Names in order, for a file without a head.
    pub(crate) columns: Option<&'a [String]>,
    /// Mark of decimals in measured columns.
    pub(crate) decimal: Decimal,
    /// Declared unit of plan coordinates.
    pub(crate) plan: LengthUnit,
    /// Declared unit of heights; `None` where the head cannot contradict it.
    pub(crate) height: Option<LengthUnit>,
    /// A `columns` value that would do, for the help text.
    pub(crate) example: &'static str,
}

impl Sheet<'_> {
    /// Decides whether the first row is a head and gives every column its key.
    pub(crate) fn name_columns(
        &mut self,
        first: &[String],
        line: usize,
        wanted: &Wanted<'_>,
    ) -> Result<Vec<Diagnostic>, Failure> {
        let mut notes = Vec::new();
        let known = first
            .iter()
            .filter(|cell| key_of(cell, wanted.heads).is_some() || tape_from(cell).is_some())
            .count();
        let any_number = first.iter().any(|cell| cell.parse::<f64>().is_ok());
        let is_head = !any_number && known >= 2;
        let names: Vec<String> = match wanted.columns {
            Some(columns) => {
                let columns: Vec<String> = columns.iter().map(|c| c.trim().to_owned()).collect();
                self.has_head = is_head || no_digit_where_measured(first, &columns, wanted.heads);
                if self.has_head && first.iter().ne(columns.iter()) {
                    let message = "the first row is taken as column heads and not read; \
                                   the names given in `columns` are used instead";
                    notes.push(
                        Diagnostic::note("head-overridden", message).at(At::line(self.file, line)),
                    );
                }
                columns
            }
            None if is_head => {
                self.has_head = true;
                let mut names = first.to_vec();
                while names.last().is_some_and(String::is_empty) {
                    names.pop();
                }
                names
            }
            None => {
                let message = if any_number {
                    "the file has no line of column heads"
                } else {
                    "the first line is no line of column heads that is understood"
                };
                return Err(Diagnostic::error("no-head", message)
                    .at(At::cell(self.file, line, "", first.join(" | ")))
                    .help(columns_help(wanted.example))
                    .into());
            }
        };
        let mut faults = Faults::default();
        let mut unread: Vec<String> = Vec::new();
        for (index, name) in names.into_iter().enumerate() {
            if let Some((corner, unit)) = tape_from(&name) {
                if let Some(fault) = self.tape_fault(&name, line, &corner, unit, wanted.plan) {
                    faults.push(fault);
                }
                self.columns.push(Column {
                    head: name,
                    key: None,
                    is_measured: true,
                    tape: Some(corner),
                    may_end: false,
                });
                continue;
            }
            let key = match key_of(&name, wanted.heads) {
                Some((head, unit)) => {
                    if let Some(fault) = self.head_fault(&name, line, head, unit, wanted) {
                        faults.push(fault);
                    }
                    Some(head)
                }
                None => {
                    unread.push(if name.is_empty() {
                        format!("number {}", index + 1)
                    } else {
                        format!("\"{name}\"")
                    });
                    None
                }
            };
            let may_end = key.is_none_or(|head| head.may_end);
            self.columns.push(Column {
                head: name,
                key: key.map(|head| head.key),
                is_measured: key.is_some_and(|head| head.measure != Measure::Text),
                tape: None,
                may_end,
            });
        }
        if !unread.is_empty() {
            notes.push(self.unread(&unread, line, wanted.heads));
        }
        if faults.is_empty() {
            Ok(notes)
        } else {
            Err(faults.into_failure(self.file, notes))
        }
    }

    /// A column named twice, or in another unit than declared.
    fn head_fault(
        &self,
        name: &str,
        line: usize,
        head: &Head,
        unit: Option<LengthUnit>,
        wanted: &Wanted<'_>,
    ) -> Option<Diagnostic> {
        let at = At::cell(self.file, line, name, "");
        if let Some(other) = self.columns.iter().find(|c| c.key == Some(head.key)) {
            let message = format!(
                "\"{}\" and \"{name}\" both name the column {}",
                other.head, head.key
            );
            return Some(
                Diagnostic::error("column-twice", message)
                    .at(at)
                    .help("rename the one that is not meant, or name all columns with `columns`"),
            );
        }
        let declared = match head.measure {
            Measure::Text => None,
            Measure::Plan => Some(wanted.plan),
            Measure::Height => wanted.height,
        };
        unit_fault(unit?, declared?, at)
    }

    /// A corner with two columns of tapes, or in another unit than declared.
    fn tape_fault(
        &self,
        name: &str,
        line: usize,
        corner: &str,
        unit: Option<LengthUnit>,
        declared: LengthUnit,
    ) -> Option<Diagnostic> {
        let at = At::cell(self.file, line, name, "");
        if self
            .columns
            .iter()
            .any(|c| c.tape.as_deref() == Some(corner))
        {
            let message = format!("two columns hold tapes from {corner}");
            return Some(
                Diagnostic::error("column-twice", message)
                    .at(at)
                    .help("rename the one that is not meant"),
            );
        }
        unit_fault(unit?, declared, at)
    }

    /// Columns of tapes with the corner each is from.
    pub(crate) fn tapes(&self) -> Vec<(usize, String)> {
        self.columns
            .iter()
            .enumerate()
            .filter_map(|(index, column)| Some((index, column.tape.clone()?)))
            .collect()
    }

    /// The note on columns that are not read.
    fn unread(&self, names: &[String], line: usize, heads: &[Head]) -> Diagnostic {
        let mut text = names
            .iter()
            .take(MAX_NAMED)
            .map(String::as_str)
            .collect::<Vec<_>>()
            .join(", ");
        if names.len() > MAX_NAMED {
            text.push_str(&format!(" and {} more", names.len() - MAX_NAMED));
        }
        let message = if names.len() == 1 {
            format!("column {text} is not read")
        } else {
            format!("columns {text} are not read")
        };
        let note = Diagnostic::note("unread-column", message).at(At::line(self.file, line));
        let meant: Vec<String> = names
            .iter()
            .take(MAX_NAMED)
            .filter_map(|name| {
                let plain = name.trim_matches('"').to_lowercase();
                // Short names are near to everything, long ones to nothing.
                let near = nearest(&plain, heads.iter().map(|head| head.key))
                    .filter(|key| (3..=20).contains(&plain.len()) && key.len() > 2)?;
                Some(format!("{name} as {near}"))
            })
            .collect();
        if meant.is_empty() {
            note
        } else {
            note.help(format!(
                "rename the column if it is meant: {}",
                meant.join(", ")
            ))
        }
    }
}

/// A head that says another unit than the job.
fn unit_fault(unit: LengthUnit, declared: LengthUnit, at: At) -> Option<Diagnostic> {
    (unit != declared).then(|| {
        let (unit, declared) = (unit.name(), declared.name());
        Diagnostic::error(
            "unit-differs",
            format!("the column head says {unit}, the job says {declared}"),
        )
        .at(at)
        .help(format!(
            "give this file its own unit (`units` for x and y, `z_units` for heights, or \
             `--units`, `--z-units`), or correct the head to {declared}"
        ))
    })
}

/// The corner of a head such as `tape A` or `tape gate post (ft)`, and the unit it states.
/// `tape (ft)`, `tape_m` and `tape` alone are no such heads.
fn tape_from(cell: &str) -> Option<(String, Option<LengthUnit>)> {
    let cell = cell.trim();
    let (word, rest) = cell.split_at_checked(4)?;
    let mark = rest.chars().next()?;
    if !word.eq_ignore_ascii_case("tape") || !matches!(mark, ' ' | '_' | '-' | ':') {
        return None;
    }
    let name = rest[1..].trim();
    if name.is_empty() || name.starts_with(['(', '[']) {
        return None;
    }
    if mark == '_' && LengthUnit::from_name(name).is_some() {
        return None;
    }
    let bare = name.trim_end_matches([')', ']']);
    if bare.len() < name.len()
        && let Some((corner, unit)) = bare.rsplit_once(['(', '['])
        && let Some(unit) = LengthUnit::from_name(unit.trim())
    {
        return Some((corner.trim().to_owned(), Some(unit)));
    }
    Some((name.to_owned(), None))
}

/// How to name columns, in a job and on the command line.
pub(crate) fn columns_help(example: &str) -> String {
    format!(
        "name the columns in their order: `columns = \"{example}\"` in the job, \
         or `--columns {example}`"
    )
}

/// The known column a head names, and the unit it states (`x (ft)`, `x [m]`, `x_m`).
fn key_of<'h>(cell: &str, heads: &'h [Head]) -> Option<(&'h Head, Option<LengthUnit>)> {
    let lower = cell.trim().to_lowercase();
    let find = |name: &str| {
        let plain: String = name
            .chars()
            .filter(|c| !matches!(c, '-' | '_' | ' ' | '.'))
            .collect();
        heads
            .iter()
            .chain(TIE_HEADS)
            .find(|head| head.key == plain || head.aliases.contains(&plain.as_str()))
    };
    if let Some(head) = find(&lower) {
        return Some((head, None));
    }
    let bare = lower.trim_end_matches([')', ']']);
    let (base, unit) = bare.rsplit_once(['(', '[', '_', ' '])?;
    let unit = LengthUnit::from_name(unit.trim())?;
    let head = find(base).filter(|head| head.measure != Measure::Text)?;
    Some((head, Some(unit)))
}

/// True if every measured column of a first row holds words: then it is a head in other words.
fn no_digit_where_measured(first: &[String], columns: &[String], heads: &[Head]) -> bool {
    let mut any = false;
    for (cell, column) in first.iter().zip(columns) {
        let measured = key_of(column, heads).is_some_and(|(h, _)| h.measure != Measure::Text);
        if measured {
            any = true;
            if cell.is_empty() || cell.chars().any(|c| c.is_ascii_digit()) {
                return false;
            }
        }
    }
    any
}
