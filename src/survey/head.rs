//! Column heads: which column is which, in which unit.
//!
//! Takes the first row of a sheet and the columns a reader knows, gives every column its key.
//! Knows no rows below the head.

use crate::diag::{At, Diagnostic, Failure, nearest};
use crate::job::{Decimal, RodKind};
use crate::units::LengthUnit;

use super::head_unit::{Stated, length_fault, rod_fault};
use super::table::{Column, Faults, Sheet};

/// What declares the unit of plan lengths, in a job and on the command line.
const PLAN_UNIT: (&str, &str) = ("units", "--units");
/// What declares the unit of heights.
const HEIGHT_UNIT: (&str, &str) = ("z_units", "--z-units");

/// Columns that a note lists by name.
const MAX_NAMED: usize = 12;

/// What the numbers of a column measure, so that a unit in its head can be checked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Measure {
    /// No length.
    Text,
    /// Plan coordinates and distances.
    Plan,
    /// Elevations.
    Height,
    /// Readings of a rod, in the unit it is divided in.
    Rod,
}

/// Words for the name of a point, without hyphen, underscore, point or space.
pub(crate) const POINT_WORDS: &[&str] = &[
    "name",
    "id",
    "point",
    "pt",
    "p",
    "no",
    "nr",
    "number",
    "pointname",
    "pointno",
    "pointnumber",
    "pointid",
    "ptno",
    "ptnumber",
    "ptid",
    "point#",
    "pt#",
    "shot",
    "shotno",
];

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
    tie_head("tape", &["dist", "distance", "taped"], Measure::Plan),
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
    /// Declared unit of heights.
    pub(crate) height: LengthUnit,
    /// The rod of the columns of readings, if there are any.
    pub(crate) rod: Option<RodKind>,
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
                    .help(format!(
                        "{}; put # in front of any line above the heads",
                        columns_help(wanted.example)
                    ))
                    .into());
            }
        };
        // A rod that is told set-up by set-up is not told by a head.
        let is_rod_kind = |name: &String| {
            key_of(name, wanted.heads).is_some_and(|(head, _)| head.key == "rodkind")
        };
        let rod = wanted.rod.filter(|_| !names.iter().any(is_rod_kind));
        let wanted = &Wanted { rod, ..*wanted };
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
        unit: Option<Stated>,
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
        match head.measure {
            Measure::Text => None,
            Measure::Plan => length_fault(unit?, wanted.plan, PLAN_UNIT, at),
            Measure::Height => length_fault(unit?, wanted.height, HEIGHT_UNIT, at),
            Measure::Rod => rod_fault(unit?, wanted.rod?, wanted.height, at),
        }
    }

    /// A corner with two columns of tapes, or in another unit than declared.
    fn tape_fault(
        &self,
        name: &str,
        line: usize,
        corner: &str,
        unit: Option<Stated>,
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
        length_fault(unit?, declared, PLAN_UNIT, at)
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

/// Words in front of the corner in the head of a column of tapes, the longer ones first.
const TAPE_WORDS: [&str; 7] = [
    "tape from",
    "tape to",
    "distance from",
    "distance to",
    "dist from",
    "from",
    "tape",
];

/// The corner of a head such as `tape A`, `from A` or `tape gate post (ft)`, and the unit it
/// states. `tape (ft)`, `tape_m` and `tape` alone are no such heads.
fn tape_from(cell: &str) -> Option<(String, Option<Stated>)> {
    let cell = cell.trim();
    let (word, rest) = TAPE_WORDS.iter().find_map(|word| {
        let (start, rest) = cell.split_at_checked(word.len())?;
        let is_word = rest.starts_with([' ', '_', '-', ':']) && start.eq_ignore_ascii_case(word);
        is_word.then_some((*word, rest))
    })?;
    let name = rest[1..].trim();
    if name.is_empty() || name.starts_with(['(', '[']) {
        return None;
    }
    let stated = Stated::from_word(&name.to_lowercase());
    if stated.is_some() && (rest.starts_with('_') || word != "tape") {
        return None;
    }
    let bare = name.trim_end_matches([')', ']']);
    if bare.len() < name.len()
        && let Some((corner, unit)) = bare.rsplit_once(['(', '['])
        && let Some(unit) = Stated::from_word(&unit.to_lowercase())
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
fn key_of<'h>(cell: &str, heads: &'h [Head]) -> Option<(&'h Head, Option<Stated>)> {
    let lower = cell.trim().to_lowercase();
    let find = |name: &str| {
        let plain: String = name
            .chars()
            .filter(|c| !matches!(c, '-' | '+' | '_' | ' ' | '.'))
            .collect();
        // `BS (+)` and `FS (-)`.
        let plain = plain.trim_end_matches("()");
        heads
            .iter()
            .chain(TIE_HEADS)
            .find(|head| head.key == plain || head.aliases.contains(&plain))
    };
    if let Some(head) = find(&lower) {
        return Some((head, None));
    }
    let bare = lower.trim_end_matches([')', ']']);
    let (base, unit) = bare.rsplit_once(['(', '[', '_', ' '])?;
    let unit = Stated::from_word(unit)?;
    let head = find(base).filter(|head| head.measure != Measure::Text)?;
    Some((head, Some(unit)))
}

/// True if the first line of a file names readings of a rod: a type and a rod, or a backsight and
/// another sight.
pub(super) fn names_readings(first: &str, heads: &[Head]) -> bool {
    let keys: Vec<&str> = first
        .split([',', ';', '\t'])
        .filter_map(|cell| Some(key_of(cell.trim().trim_matches('"'), heads)?.0.key))
        .collect();
    let has = |key| keys.contains(&key);
    (has("rod") && has("type")) || (has("bs") && (has("fs") || has("is")))
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
