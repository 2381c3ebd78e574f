//! Level books from delimited text.
//!
//! Takes a survey entry of the job and the bytes of its file, gives the sights in booked order,
//! set-up by set-up, and has them reduced. Knows the two layouts of a book; does no arithmetic
//! of levels itself.
//!
//! - One row a sight: `point`, `type` (BS, IS, FS), `rod`.
//! - Field book: `point` and a column for each of `BS`, `IS`, `FS`; a turning point is one row
//!   with FS and BS, or a row with the FS followed by a row with the BS.
//!
//! Both may have `setup`, `x`, `y`, `known` (a given level), `distance`, `code`, `remark`.

use std::collections::BTreeMap;

use crate::diag::{At, Diagnostic, Failure, nearest};
use crate::job::{RodKind, SurveySpec};
use crate::units::{LengthUnit, NM_PER_M};

use super::PointClass;
use super::book::{LevelBook, SightKind};
use super::cell::{MAX_HEIGHT_M, height_m, plan_nm, short_name};
use super::entry::{Entry, Role};
use super::head::Wanted;
use super::layout::{EXAMPLE, HEADS, Layout};
use super::reduce::reduce;
use super::rod::{RodReading, read_rod};
use super::table::{Faults, Row, Sheet};
use super::tie::TieColumns;

/// A reading as booked.
#[derive(Clone, Debug)]
pub(crate) struct BookedSight {
    /// Index of its set-up.
    pub(crate) setup: usize,
    /// What it was taken for.
    pub(crate) kind: SightKind,
    /// Point the rod stood on.
    pub(crate) point: String,
    /// The reading.
    pub(crate) rod: RodReading,
    /// Plan position, whole nanometres, absolute.
    pub(crate) place: Option<(i64, i64)>,
    /// Length of the sight, whole nanometres.
    pub(crate) distance_nm: Option<i64>,
    /// Code; empty if none.
    pub(crate) code: String,
    /// Line of the file.
    pub(crate) line: usize,
}

/// A whole book before reduction.
#[derive(Debug, Default)]
pub(crate) struct Booked {
    /// Name and first line of every set-up.
    pub(crate) setups: Vec<(String, usize)>,
    /// Sights in booked order.
    pub(crate) sights: Vec<BookedSight>,
    /// Given levels in whole nanometres, and the line that gives each (0 for the job).
    pub(crate) known: BTreeMap<String, (i64, usize)>,
}

/// Reads a level book and reduces it.
///
/// A set-up begins at a backsight after a foresight, or where the `setup` column changes. A row
/// with a `known` level and no reading only makes a point known; one with tapes and no reading
/// only says where a point is.
///
/// # Units
///
/// x, y, distance in `spec.units`; readings by `spec.rod`; `known` in `spec.z_units`
/// # Errors
///
/// bad cells (collected), no benchmark, a set-up without a backsight on a known point,
/// adjustment by distance without distances. A misclosure beyond the allowance is no error: the
/// book is given back as observed, its status `refused`, with a warning.
pub fn read_levels(
    spec: &SurveySpec,
    bytes: &[u8],
) -> Result<(LevelBook, Vec<Diagnostic>), Failure> {
    let height = match spec.rod {
        RodKind::Metric => None,
        RodKind::Tenths | RodKind::InchEighths | RodKind::Direct => Some(spec.z_units),
    };
    let wanted = Wanted {
        heads: HEADS,
        columns: spec.columns.as_deref(),
        plan: spec.units,
        height,
        example: EXAMPLE,
    };
    let (sheet, mut notes) = Sheet::read(&spec.file, bytes, &wanted)?;
    let layout = match Layout::of(&sheet) {
        Ok(layout) => layout,
        Err(fault) => {
            notes.push(fault);
            return Err(Failure(notes));
        }
    };
    let mut faults = Faults::default();
    check_units(spec, &mut faults);
    let mut reader = Reader::new(spec, layout, TieColumns::of(&sheet, spec.units));
    reader.take_benchmark(&mut faults);
    sheet.each(&mut faults, |row, faults| reader.row(row, faults))?;
    let Reader {
        booked,
        notes: said,
        places,
        ..
    } = reader;
    notes.extend(said);
    if faults.is_empty() {
        check_benchmark(spec, &booked, &mut faults);
    }
    if !faults.is_empty() {
        return Err(faults.into_failure(&spec.file, notes));
    }
    match reduce(&booked, spec) {
        Ok((mut book, said)) => {
            notes.extend(said);
            book.places = places;
            Ok((book, notes))
        }
        Err(Failure(errors)) => {
            notes.extend(errors);
            Err(Failure(notes))
        }
    }
}

/// Refuses heights in metres from a rod in feet: one of the two is a slip.
fn check_units(spec: &SurveySpec, faults: &mut Faults) {
    let foot_rod = matches!(spec.rod, RodKind::Tenths | RodKind::InchEighths);
    if foot_rod && spec.z_units == LengthUnit::Metre {
        let message = "heights are in metres, but the rod is divided in feet";
        faults.push(
            Diagnostic::error("rod-unit", message)
                .at(spec.at.clone())
                .help(
                    "say `rod = \"metric\"` (`--rod metric`) for a rod in metres, or \
                 `z_units = \"ft\"` (`--z-units ft`) if benchmark and heights are in feet",
                ),
        );
    }
}

/// The benchmark must be given and must be booked.
fn check_benchmark(spec: &SurveySpec, booked: &Booked, faults: &mut Faults) {
    let points = || booked.sights.iter().map(|sight| sight.point.as_str());
    match &spec.benchmark {
        None if booked.known.is_empty() => {
            let message = "no benchmark is given, so no level can be computed";
            let name = booked
                .sights
                .first()
                .map_or("BM1", |sight| sight.point.as_str());
            let help = format!(
                "give one: `benchmark = {{ name = \"{name}\", level = 100.00 }}` in the job, \
                 `--benchmark {name}=100.00`, or a `known` column in the book"
            );
            faults.push(
                Diagnostic::error("no-benchmark", message)
                    .at(At::file(&spec.file))
                    .help(help),
            );
        }
        Some(benchmark) if !points().any(|point| point == benchmark.name) => {
            let message = format!(
                "the book has no reading on the benchmark {}",
                benchmark.name
            );
            let help = match nearest(&benchmark.name, points()) {
                Some(near) => format!("is {near} meant?"),
                None => "name the benchmark as it is booked".to_owned(),
            };
            faults.push(
                Diagnostic::error("no-benchmark", message)
                    .at(At::file(&spec.file))
                    .help(help),
            );
        }
        _ => {}
    }
}

/// The book so far.
#[derive(Debug)]
struct Reader<'s> {
    spec: &'s SurveySpec,
    layout: Layout,
    ties: TieColumns,
    booked: Booked,
    /// Points whose place a row gives by tape.
    places: Vec<Entry>,
    notes: Vec<Diagnostic>,
    /// Text of the `setup` column for the present set-up.
    label: String,
    /// True if that text may still be the one of the set-up before.
    label_open: bool,
    /// True after a foresight of the present set-up.
    after_fs: bool,
    /// True once a shot after the foresight was warned of in the present set-up.
    warned: bool,
    /// True once a row with coordinates and tapes was spoken of.
    both: bool,
}

impl<'s> Reader<'s> {
    fn new(spec: &'s SurveySpec, layout: Layout, ties: TieColumns) -> Reader<'s> {
        Reader {
            spec,
            layout,
            ties,
            booked: Booked::default(),
            places: Vec::new(),
            notes: Vec::new(),
            label: String::new(),
            label_open: false,
            after_fs: false,
            warned: false,
            both: false,
        }
    }

    /// Makes the benchmark of the job a known point.
    fn take_benchmark(&mut self, faults: &mut Faults) {
        let Some(benchmark) = &self.spec.benchmark else {
            return;
        };
        if benchmark.level_m.is_finite() && benchmark.level_m.abs() <= MAX_HEIGHT_M {
            let nm = (benchmark.level_m * NM_PER_M).round() as i64;
            self.booked.known.insert(benchmark.name.clone(), (nm, 0));
        } else {
            let message = format!("the level of the benchmark {} is no height", benchmark.name);
            faults.push(Diagnostic::error("bad-number", message).at(self.spec.at.clone()));
        }
    }

    /// Takes one row.
    fn row(&mut self, row: &Row<'_>, faults: &mut Faults) {
        let layout = self.layout;
        let point = row.cell(layout.point);
        let known = row.cell(layout.known);
        let tied = self.ties.is_filled(row);
        let Some(readings) = layout.readings(row, tied || !known.is_empty(), faults) else {
            return;
        };
        if point.is_empty() {
            faults.push(
                Diagnostic::error("blank-cell", "the row names no point")
                    .at(row.at(layout.point))
                    .help("name the spot the rod stood on"),
            );
            return;
        }
        if let Err(fault) = short_name(point, || row.at(layout.point)) {
            return faults.push(fault);
        }
        if !known.is_empty() {
            self.take_known(row, point, faults);
        }
        let place = self.place(row, faults);
        if place.is_some() && tied {
            if !self.both {
                self.both = true;
                self.notes.push(self.ties.not_needed(row.row_at()));
            }
        } else if let Some(whereabouts) = self.ties.read(row, faults) {
            let code = row.cell(layout.code);
            self.places.push(Entry {
                name: point.to_owned(),
                whereabouts: Some(whereabouts),
                z_m: None,
                code: code.to_owned(),
                class: PointClass::of_code(code),
                role: Role::Turning,
                at: row.row_at(),
            });
        }
        let distance_nm = self.distance(row, faults);
        let both = readings.len() > 1;
        for (kind, column) in readings {
            let rod = match read_rod(self.spec.rod, self.spec.z_units, row.cell(column)) {
                Ok(rod) => rod,
                Err((message, help)) => {
                    faults.push(
                        Diagnostic::error("bad-rod", message)
                            .at(row.at(column))
                            .help(help),
                    );
                    RodReading {
                        text: String::new(),
                        nm: 0,
                    }
                }
            };
            self.enter(row, kind, both, faults);
            self.booked.sights.push(BookedSight {
                setup: self.booked.setups.len() - 1,
                kind,
                point: point.to_owned(),
                rod,
                place,
                // In a row with FS and BS the distance is that of the foresight.
                distance_nm: distance_nm.filter(|_| !both || kind == SightKind::Foresight),
                code: row.cell(layout.code).to_owned(),
                line: row.line,
            });
        }
    }

    /// Takes a given level from the `known` column.
    fn take_known(&mut self, row: &Row<'_>, point: &str, faults: &mut Faults) {
        let column = self.layout.known;
        let level = height_m(row.cell(column), self.spec.z_units, || row.at(column));
        let nm = match level {
            Ok(level_m) => (level_m * NM_PER_M).round() as i64,
            Err(fault) => return faults.push(fault),
        };
        match self.booked.known.get(point) {
            Some(&(other, line)) if other != nm => {
                let unit = self.spec.z_units;
                let was = unit.from_m(other as f64 / NM_PER_M);
                let fault = Diagnostic::error(
                    "two-levels",
                    format!(
                        "{point} has another level already, {was:.3} {}",
                        unit.name()
                    ),
                )
                .at(row.at(column))
                .at(if line == 0 {
                    self.spec.at.clone()
                } else {
                    At::line(&self.spec.file, line)
                })
                .help("keep the one that is right");
                faults.push(fault);
            }
            Some(_) => {}
            None => {
                self.booked.known.insert(point.to_owned(), (nm, row.line));
            }
        }
    }

    /// Plan position, if the row has one.
    fn place(&self, row: &Row<'_>, faults: &mut Faults) -> Option<(i64, i64)> {
        let Layout { x, y, .. } = self.layout;
        if row.cell(x).is_empty() && row.cell(y).is_empty() {
            return None;
        }
        let mut number = |column| {
            plan_nm(row.cell(column), self.spec.units, || row.at(column))
                .map_err(|fault| faults.push(fault))
                .ok()
        };
        let (x_nm, y_nm) = (number(x), number(y));
        Some((x_nm?, y_nm?))
    }

    /// Length of the sight, if the row has one.
    fn distance(&self, row: &Row<'_>, faults: &mut Faults) -> Option<i64> {
        let column = self.layout.distance;
        if row.cell(column).is_empty() {
            return None;
        }
        match plan_nm(row.cell(column), self.spec.units, || row.at(column)) {
            Ok(nm) if nm >= 0 => Some(nm),
            Ok(_) => {
                faults.push(
                    Diagnostic::error("bad-number", "a distance is not negative")
                        .at(row.at(column))
                        .help("take the minus sign out"),
                );
                None
            }
            Err(fault) => {
                faults.push(fault);
                None
            }
        }
    }

    /// Goes to the set-up a sight belongs to, beginning a new one where the book does.
    fn enter(&mut self, row: &Row<'_>, kind: SightKind, both: bool, faults: &mut Faults) {
        let label = row.cell(self.layout.setup);
        let turn = both && kind == SightKind::Foresight;
        let mut differs = !label.is_empty() && label != self.label;
        let backsight = kind == SightKind::Backsight;
        if differs && self.label_open && !turn && !(backsight && self.after_fs) {
            if let Some(setup) = self.booked.setups.last_mut() {
                setup.0 = label.to_owned();
            }
            self.label = label.to_owned();
            self.label_open = false;
            differs = false;
        }
        let first = self.booked.setups.is_empty();
        let begins = first || (differs && !turn) || (backsight && self.after_fs);
        if begins {
            let number = (self.booked.setups.len() + 1).to_string();
            let name = if differs { label.to_owned() } else { number };
            // A turning point may still carry the name of the set-up before, or none.
            self.label_open = !differs;
            if differs {
                self.label = label.to_owned();
            }
            self.booked.setups.push((name, row.line));
            self.after_fs = false;
            self.warned = false;
            if !backsight {
                let setup = self.booked.setups.last().map_or("", |s| s.0.as_str());
                let message = format!(
                    "set-up {setup} begins with {}, not with a backsight",
                    kind.name()
                );
                faults.push(
                    Diagnostic::error("no-backsight", message)
                        .at(row.row_at())
                        .help("book the reading on a known point first, as BS"),
                );
            }
        }
        if self.after_fs && kind == SightKind::Intermediate && !self.warned {
            self.warned = true;
            let message = "a shot after the foresight is reduced with the plane of the same set-up";
            self.notes.push(
                Diagnostic::warn("shot-after-foresight", message)
                    .at(row.row_at())
                    .help("if the tripod was moved in between, a BS is missing"),
            );
        }
        if !begins && label == self.label && !label.is_empty() {
            self.label_open = false;
        }
        self.after_fs |= kind == SightKind::Foresight;
    }
}
