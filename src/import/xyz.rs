//! Points of a machine as text: one a line, x, y and z first.
//!
//! Takes a file line by line, gives ground points and an account of all others. A point here has
//! no name and no code; a table with names is a file of shots, and `survey` reads it.

use std::io::{BufRead as _, BufReader, Read as _};

use crate::diag::{At, Diagnostic, Failure};
use crate::files::Files;
use crate::geom::{Origin, P3};
use crate::job::ImportSpec;
use crate::units::{LengthUnit, NM_PER_M};

use super::facts::LeftOut;
use super::thin::{Thinned, Thinner};
use super::units::{Stated, settle};
use super::{Content, Facts, Import, open};

/// How exact heights are meant to be, metres: the same as of a cloud in another format.
const HEIGHT_ERROR_M: f64 = 0.10;

/// No line of three numbers is longer; what has none is no text.
const MAX_LINE: u64 = 4096;

/// Bad lines that are named one by one.
const MAX_LISTED: usize = 20;

/// Points that are handed on at a time.
const BATCH: usize = 1 << 16;

/// True for a file whose name says that it holds points as text.
pub(super) fn is_one(file: &str) -> bool {
    let ending = file.rsplit_once('.').map(|(_, ending)| ending);
    ending.is_some_and(|ending| ending.eq_ignore_ascii_case("xyz"))
}

/// Reads a file.
///
/// Cells are parted by blanks, tabs, commas or semicolons; what follows the third is not used,
/// and that is said. Lines that begin with `#` or `//` are remarks; the first other line may be a
/// head, if none of its cells is a number, and must then name x, y and z in this order.
///
/// # Errors
///
/// every bad line with its number and text: the first twenty, then a count; a file without
/// points
pub(super) fn read(
    spec: &ImportSpec,
    files: &dyn Files,
) -> Result<(Import, Vec<Diagnostic>), Failure> {
    let file = &*spec.file;
    let unreadable = |why: String| -> Failure {
        Diagnostic::error("unreadable-file", format!("{file} cannot be read: {why}"))
            .at(At::file(file))
            .help("check that the file is whole and is text: x, y and z in every line")
            .into()
    };
    let (stream, input) = open(spec, files)?;
    let (plan_unit, height_unit, mut said) = settle(spec, Stated::default());
    let mut rows = Rows {
        file,
        units: [plan_unit.unit, height_unit.unit],
        faults: Vec::new(),
        bad: 0,
        extra: 0,
    };
    let mut lines = BufReader::new(stream);
    let mut thinner = Thinner::new(spec.cloud.thin, spec.cloud.same_place);
    let (mut origin, mut read, mut beyond) = (None, 0u64, 0u64);
    let mut batch: Vec<P3> = Vec::with_capacity(BATCH);
    let (mut number, mut line, mut may_be_head) = (0, Vec::new(), true);
    loop {
        line.clear();
        let mut limited = (&mut lines).take(MAX_LINE);
        let length = limited
            .read_until(b'\n', &mut line)
            .map_err(|e| unreadable(e.to_string()))?;
        if length == 0 {
            break;
        }
        if length as u64 == MAX_LINE {
            return Err(unreadable(format!(
                "line {} is no line of text",
                number + 1
            )));
        }
        number += 1;
        let text = String::from_utf8_lossy(&line);
        let text = text.trim_start_matches('\u{feff}').trim();
        if text.is_empty() || text.starts_with('#') || text.starts_with("//") {
            continue;
        }
        if std::mem::take(&mut may_be_head) && is_head(text) {
            if !names_xyz(text) {
                return Err(Diagnostic::error(
                    "bad-head",
                    "the columns of this file are not x, y and z in this order",
                )
                .at(At::cell(file, number, "", text))
                .help("put them in order, or name the file .csv: then columns are found by name")
                .into());
            }
            continue;
        }
        let Some([x, y, z]) = rows.row(text, number) else {
            continue;
        };
        read += 1;
        let [west, south, east, north] =
            spec.cloud
                .bounds_nm
                .unwrap_or([i64::MIN, i64::MIN, i64::MAX, i64::MAX]);
        if x < west || x > east || y < south || y > north {
            beyond += 1;
            continue;
        }
        let origin = *origin.get_or_insert_with(|| Origin::below(x, y));
        // Coordinates are at most 4e8 m, whose differences whole nanometres hold.
        if let Some(p) = origin.local(x, y) {
            batch.push(P3 {
                p,
                z: z as f64 / NM_PER_M,
            });
        }
        if batch.len() == BATCH {
            thinner.take(&batch);
            batch.clear();
        }
    }
    rows.finish()?;
    thinner.take(&batch);
    let Thinned {
        points,
        same_place,
        loss,
    } = thinner.finish();
    let Some(origin) = origin.filter(|_| !points.is_empty()) else {
        let message = match beyond {
            0 => "the file has no point".to_owned(),
            n => format!("all {n} points of the file lie outside the bounds"),
        };
        return Err(Diagnostic::error("no-points", message)
            .at(At::file(file))
            .help("give x, y and z in every line; check bounds and units")
            .into());
    };
    if rows.extra > 0 {
        let message = format!(
            "{} lines have more than x, y and z; what follows is not used",
            rows.extra
        );
        said.push(
            Diagnostic::note("more-columns", message)
                .at(At::file(file))
                .help("if names or codes are among it, name the file .csv and its columns"),
        );
    }
    let kept = points.len() as u64;
    let thinned = read - beyond - same_place - kept;
    let left_out = [
        (beyond, "outside the bounds"),
        (same_place, "at the place of another"),
        (thinned, "thinned"),
    ];
    let facts = Facts {
        format: "points as text".to_owned(),
        plan_unit,
        height_unit,
        counted: "points",
        read,
        kept,
        left_out: left_out
            .into_iter()
            .filter(|(count, _)| *count > 0)
            .map(|(count, why)| LeftOut {
                why: why.to_owned(),
                count,
            })
            .collect(),
        loss,
        height_error_m: spec.height_error_m.unwrap_or(HEIGHT_ERROR_M),
    };
    let import = Import {
        taken_away: None,
        source: spec.source(),
        origin,
        content: Content::Points(points),
        facts,
        input,
    };
    Ok((import, said))
}

fn cells(text: &str) -> impl Iterator<Item = &str> {
    text.split([' ', '\t', ',', ';'])
        .filter(|cell| !cell.is_empty())
}

/// True for a line none of whose cells is a number.
fn is_head(text: &str) -> bool {
    cells(text).all(|cell| cell.parse::<f64>().is_err())
}

fn names_xyz(text: &str) -> bool {
    let starts = [["x", "e"], ["y", "n"], ["z", "h"]];
    let mut cells = cells(text).map(str::to_lowercase);
    starts.iter().all(|words| {
        let cell = cells.next();
        cell.is_some_and(|cell| {
            words
                .iter()
                .any(|word| cell.trim_matches('"').starts_with(word))
        })
    })
}

/// Lines read so far, and what was wrong with them.
struct Rows<'a> {
    file: &'a str,
    units: [LengthUnit; 2],
    faults: Vec<Diagnostic>,
    bad: usize,
    extra: u64,
}

impl Rows<'_> {
    /// East, north and height in whole nanometres.
    fn row(&mut self, text: &str, line: usize) -> Option<[i64; 3]> {
        let mut cells = cells(text);
        let [plan, height] = self.units;
        let mut nm = [0; 3];
        for (k, (head, unit)) in [("x", plan), ("y", plan), ("z", height)]
            .into_iter()
            .enumerate()
        {
            let cell = cells.next();
            match cell.and_then(|cell| unit.parse_nm(cell)) {
                Some(value) => nm[k] = value,
                None => {
                    let message = match cell {
                        None => "there are fewer than three numbers in this line",
                        Some(_) => "this is not a number, or lies beyond any place on Earth",
                    };
                    self.bad += 1;
                    if self.bad <= MAX_LISTED {
                        let at = At::cell(self.file, line, head, cell.unwrap_or(text));
                        let fault = Diagnostic::error("bad-number", message).at(at);
                        self.faults
                            .push(fault.help("write x, y and z with decimal points"));
                    }
                    return None;
                }
            }
        }
        self.extra += u64::from(cells.next().is_some());
        Some(nm)
    }

    fn finish(&mut self) -> Result<(), Failure> {
        if self.bad == 0 {
            return Ok(());
        }
        let mut faults = std::mem::take(&mut self.faults);
        if self.bad > MAX_LISTED {
            let more = self.bad - MAX_LISTED;
            faults.push(
                Diagnostic::error("bad-number", format!("and {more} more lines like these"))
                    .at(At::file(self.file))
                    .help("name the file .csv if its columns are others"),
            );
        }
        Err(Failure(faults))
    }
}
