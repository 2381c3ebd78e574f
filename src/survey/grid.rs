//! A grid of rods: a matrix of readings from one set-up.
//!
//! Takes the survey entry and the bytes of its file, gives one entry a reading with its lines of
//! the grid and its level. Knows no corner: where the grid lies is found out with all files read.
//!
//! First row: `row`, then each column's distance or name. First column: each row's distance or
//! name. Blank cells were not shot.

use std::collections::BTreeSet;

use crate::diag::{At, Diagnostic, Failure};
use crate::job::{GridSpec, RodKind, SurveySpec};
use crate::units::{LengthUnit, NM_PER_M};

use super::cell::{pointed, short_name};
use super::entry::{Entry, GridLine, Role, Whereabouts};
use super::rod::read_rod;
use super::table::{Faults, Sheet};
use super::{Entries, PointClass};

/// A line of the grid: its name, and its place in the grid.
struct Line {
    name: String,
    line: GridLine,
}

impl Line {
    /// Names are counted in the order of the file; numbers are distances, unless a spacing is
    /// given. `text` is the name with a decimal point.
    fn of(name: &str, text: &str, number: usize, unit: LengthUnit, spaced: bool) -> Line {
        let metres = unit.parse_length_nm(text).map(|nm| nm as f64 / NM_PER_M);
        Line {
            name: name.to_owned(),
            line: match metres {
                Some(m) if !spaced => GridLine::At(m),
                _ => GridLine::Nth(number),
            },
        }
    }
}

/// Name of the rod where two lines cross: row and column, with a hyphen between two numbers.
pub(crate) fn crossing_name(row: &str, column: &str) -> String {
    let digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit() || c == '.');
    if digit(row.chars().next_back()) && digit(column.chars().next()) {
        format!("{row}-{column}")
    } else {
        format!("{row}{column}")
    }
}

/// Reads a grid of rods.
///
/// # Units
///
/// distances in `spec.units`; readings by `spec.rod`
/// # Errors
///
/// no head that begins with `row`, a line named twice, bad readings (collected), no plane
pub(crate) fn read_grid(
    spec: &SurveySpec,
    grid: &GridSpec,
    bytes: &[u8],
) -> Result<Entries, Failure> {
    let file = spec.file.as_str();
    let plane_nm = plane_nm(spec, grid)?;
    let sheet = Sheet::open(file, bytes, spec.decimal)?;
    let spaced = grid.spacing_m.is_some();
    let mut faults = Faults::default();
    let mut columns: Vec<Line> = Vec::new();
    let mut rows: BTreeSet<String> = BTreeSet::new();
    let mut heads: BTreeSet<String> = BTreeSet::new();
    let mut entries = Vec::new();
    let mut is_first = true;
    sheet.records(|line, record| {
        let cell = |i: usize| record.get(i).unwrap_or("");
        if is_first {
            is_first = false;
            if !cell(0).eq_ignore_ascii_case("row") {
                faults.push(
                    Diagnostic::error("no-head", "the first cell of a grid is the word `row`")
                        .at(At::cell(file, line, "", cell(0)))
                        .help("write row, and behind it the distance or name of every column"),
                );
                return false;
            }
            let mut count = record.len();
            while count > 1 && cell(count - 1).is_empty() {
                count -= 1;
            }
            for i in 1..count {
                let name = cell(i);
                if name.is_empty() || !heads.insert(name.to_owned()) {
                    faults.push(line_fault(name, At::cell(file, line, "row", name)));
                }
                let at = || At::cell(file, line, "row", name);
                match pointed(name, spec.decimal, at) {
                    Ok(text) => columns.push(Line::of(name, &text, i - 1, spec.units, spaced)),
                    Err(fault) => faults.push(fault),
                }
            }
            return true;
        }
        let name = cell(0).to_owned();
        let at = At::cell(file, line, "row", &name);
        if name.is_empty() || rows.contains(&name) {
            faults.push(line_fault(&name, at));
            return true;
        }
        if let Err(fault) = short_name(&name, || at.clone()) {
            faults.push(fault);
            return true;
        }
        if (columns.len() + 1..record.len()).any(|i| !cell(i).is_empty()) {
            faults.push(
                Diagnostic::error("ragged-row", "the row has more cells than the head")
                    .at(at)
                    .help("name every column in the head"),
            );
            return true;
        }
        let row = match pointed(&name, spec.decimal, || at.clone()) {
            Ok(text) => Line::of(&name, &text, rows.len(), spec.units, spaced),
            Err(fault) => {
                faults.push(fault);
                return true;
            }
        };
        rows.insert(name);
        for (i, column) in columns.iter().enumerate() {
            let text = cell(i + 1);
            if text.is_empty() {
                continue;
            }
            let at = At::cell(file, line, &column.name, text);
            let text = match pointed(text, spec.decimal, || at.clone()) {
                Ok(text) => text,
                Err(fault) => {
                    faults.push(fault);
                    continue;
                }
            };
            match read_rod(spec.rod, spec.z_units, &text) {
                Ok(rod) => entries.push(Entry {
                    name: crossing_name(&row.name, &column.name),
                    whereabouts: Some(Whereabouts::Grid {
                        column: column.line.clone(),
                        row: row.line.clone(),
                        frame: Some(Box::new(grid.clone())),
                    }),
                    z_m: Some(match plane_nm {
                        Some(plane_nm) => (plane_nm - rod.nm) as f64 / NM_PER_M,
                        None => rod.metres(),
                    }),
                    code: String::new(),
                    class: PointClass::Soil,
                    role: Role::Ground,
                    at,
                }),
                Err((_, _)) if !text.contains(|c: char| c.is_ascii_digit()) => faults.push(
                    Diagnostic::error("bad-rod", "this is no reading")
                        .at(at)
                        .help("leave the cell blank where no rod stood"),
                ),
                Err((message, help)) => {
                    faults.push(Diagnostic::error("bad-rod", message).at(at).help(help))
                }
            }
        }
        true
    })?;
    if faults.is_empty() && entries.is_empty() {
        faults.push(
            Diagnostic::error("no-rows", "the grid holds no reading")
                .at(At::file(file))
                .help("fill in the readings below the head"),
        );
    }
    if faults.is_empty() {
        Ok((entries, Vec::new()))
    } else {
        Err(faults.into_failure(file, Vec::new()))
    }
}

/// A line without a name, or with one that is taken.
fn line_fault(name: &str, at: At) -> Diagnostic {
    if name.is_empty() {
        return Diagnostic::error("blank-cell", "a line of the grid has no name")
            .at(at)
            .help("give its distance, a letter or a number");
    }
    Diagnostic::error(
        "line-twice",
        format!("two lines of the grid are called {name}"),
    )
    .at(at)
    .help("give each line its own name")
}

/// Level of the plane, whole nanometres; `None` for a rod that shows elevations.
fn plane_nm(spec: &SurveySpec, grid: &GridSpec) -> Result<Option<i64>, Diagnostic> {
    if spec.rod.kind == RodKind::Direct {
        return Ok(None);
    }
    let (Some(benchmark), Some((text, at))) = (&spec.benchmark, &grid.backsight) else {
        let lacking = if spec.benchmark.is_none() {
            "benchmark"
        } else {
            "backsight"
        };
        return Err(Diagnostic::error(
            "no-plane",
            format!("the grid has no {lacking}, so its readings have no level"),
        )
        .at(spec.at.clone())
        .help(
            "give `benchmark = { name = \"BM1\", level = 100.00 }` and `backsight = \"3.42\"` \
             (`--benchmark BM1=100.00 --backsight 3.42`), or `rod = \"direct\"` if the cells are levels",
        ));
    };
    match read_rod(spec.rod, spec.z_units, text) {
        Ok(rod) => Ok(Some((benchmark.level_m * NM_PER_M).round() as i64 + rod.nm)),
        Err((message, help)) => Err(Diagnostic::error("bad-rod", message)
            .at(at.clone())
            .help(help)),
    }
}
