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
//! Both may have `setup`, `rod kind` (the rod of the set-up), `x`, `y`, `known` (a given level),
//! `distance`, `code`, `remark`.

use std::collections::BTreeMap;

use crate::diag::{At, Diagnostic, Failure, nearest};
use crate::job::{Rod, SurveySpec};
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
use super::visit::{Distance, Way};

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

/// A set-up as booked.
#[derive(Clone, Debug)]
pub(crate) struct BookedSetup {
    /// Name as booked, or a number in the order of the book.
    pub(crate) name: String,
    /// First line.
    pub(crate) line: usize,
    /// The rod of all its readings.
    pub(crate) rod: Rod,
}

/// A whole book before reduction.
#[derive(Debug, Default)]
pub(crate) struct Booked {
    /// Set-ups in booked order.
    pub(crate) setups: Vec<BookedSetup>,
    /// Sights in booked order.
    pub(crate) sights: Vec<BookedSight>,
    /// Given levels in whole nanometres, and the line that gives each (0 for the job).
    pub(crate) known: BTreeMap<String, (i64, usize)>,
}

/// Reads a level book and reduces it.
///
/// A set-up begins at a backsight after a foresight, or where the `setup` column changes. Its rod
/// is `spec.rod`, or what the column `rod kind` says in its first row; it is the same for the
/// whole set-up, and in a row with FS and BS it is that of the set-up that begins. A row with a
/// `known` level and no reading only makes a point known; one with tapes and no reading only
/// says where a point is.
///
/// # Units
///
/// x, y, distance in `spec.units`; readings by the rod; `known` in `spec.z_units`
/// # Errors
///
/// bad cells (collected), no benchmark, a set-up without a backsight on a known point,
/// adjustment by distance without distances. A misclosure beyond the allowance is no error: the
/// book is given back as observed, its status `refused`, with a warning.
pub fn read_levels(
    spec: &SurveySpec,
    bytes: &[u8],
) -> Result<(LevelBook, Vec<Diagnostic>), Failure> {
    let wanted = Wanted {
        heads: HEADS,
        columns: spec.columns.as_deref(),
        decimal: spec.decimal,
        plan: spec.units,
        height: spec.z_units,
        rod: Some(spec.rod.kind),
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
    let mut ties = TieColumns::of(&sheet, spec.units);
    if Layout::station_names_points(&sheet) {
        ties.without_station();
        let message = "stations are taken as the names of the points: there is no other name, and \
                       no offset";
        notes.push(Diagnostic::note("station-names", message).at(At::file(&spec.file)));
    }
    let mut reader = Reader::new(spec, layout, ties);
    reader.take_benchmark(&mut faults);
    sheet.each(&mut faults, |row, faults| reader.row(row, faults))?;
    let Reader {
        booked,
        notes: said,
        places,
        paced,
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
            book.paced = paced;
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
    if spec.rod.kind.is_foot() && spec.z_units == LengthUnit::Metre {
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

/// True for the word in front of the sums at the foot of a page.
fn is_total(point: &str) -> bool {
    let word = point
        .trim_matches(|c: char| !c.is_alphanumeric())
        .to_lowercase();
    matches!(
        word.as_str(),
        "total" | "totals" | "sum" | "sums" | "\u{3c3}" | "page total" | "page totals"
    )
}

/// The book so far.
#[derive(Debug)]
pub(super) struct Reader<'s> {
    pub(super) spec: &'s SurveySpec,
    pub(super) layout: Layout,
    ties: TieColumns,
    pub(super) booked: Booked,
    /// Points whose place a row gives by tape.
    places: Vec<Entry>,
    /// Distances stepped from point to point.
    paced: Vec<Distance>,
    pub(super) notes: Vec<Diagnostic>,
    /// Text of the `setup` column for the present set-up.
    pub(super) label: String,
    /// True if that text may still be the one of the set-up before.
    pub(super) label_open: bool,
    /// True after a foresight of the present set-up.
    pub(super) after_fs: bool,
    /// True once a shot after the foresight was warned of in the present set-up.
    pub(super) warned: bool,
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
            paced: Vec::new(),
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
            faults.push(
                Diagnostic::error("bad-number", message)
                    .at(self.spec.at.clone())
                    .help("check it and its unit: no place on Earth lies so high or so deep"),
            );
        }
    }

    /// Takes one row.
    fn row(&mut self, row: &Row<'_>, faults: &mut Faults) {
        let layout = self.layout;
        let point = row.cell(layout.point);
        let known = row.cell(layout.known);
        let tied = self.ties.is_filled(row);
        let stepped = self.paced(row, faults);
        if row.holds_only(layout.remark) {
            return;
        }
        if is_total(point) {
            let message = "the row holds the totals of the page and is not read as a sight";
            return self.notes.push(
                Diagnostic::note("totals-row", message)
                    .at(row.at(layout.point))
                    .help("give the point another name if the rod stood there"),
            );
        }
        let says = tied || stepped || !known.is_empty();
        let Some(readings) = layout.readings(row, says, faults) else {
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
            self.enter(row, kind, both, faults);
            let rod = self.rod(row, both && kind == SightKind::Foresight, faults);
            let rod = match read_rod(rod, self.spec.z_units, row.cell(column)) {
                Ok(rod) => RodReading {
                    text: row.booked(column).to_owned(),
                    ..rod
                },
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

    /// Takes a distance that was stepped; true if the row has one.
    fn paced(&mut self, row: &Row<'_>, faults: &mut Faults) -> bool {
        let layout = self.layout;
        let (length, count) = (row.cell(layout.paced), row.cell(layout.paces));
        if length.is_empty() && count.is_empty() {
            return false;
        }
        let (column, unit_m) = if count.is_empty() {
            (layout.paced, Some(self.spec.units.metres()))
        } else {
            (layout.paces, self.spec.pace_m)
        };
        let refuse = |message: &str, column: Option<usize>, help: &str| {
            Diagnostic::error("bad-pace", message)
                .at(row.at(column))
                .help(help)
        };
        let length_m = if count.is_empty() {
            let nm = self.spec.units.parse_length_nm(length);
            nm.map(|nm| nm as f64 / NM_PER_M)
        } else {
            let number = count.parse::<f64>().ok();
            number.zip(unit_m).map(|(number, unit_m)| number * unit_m)
        };
        let from = row.cell(layout.from);
        let fault = if !length.is_empty() && !count.is_empty() {
            Some(refuse(
                "the row has a paced distance and a number of paces",
                layout.paces,
                "keep one of them",
            ))
        } else if unit_m.is_none() {
            Some(refuse(
                "how long a pace is is not known",
                column,
                "say `pace = 2.5` in the job (`--pace 2.5`): its length in the unit of the job",
            ))
        } else if !length_m.is_some_and(|m| m > 0.0 && m < MAX_HEIGHT_M) {
            Some(refuse(
                "this is no paced distance",
                column,
                "write a plain number above 0",
            ))
        } else if from.is_empty() {
            Some(refuse(
                "the row does not say where the paces begin",
                layout.from.or(column),
                "name the point in the column `from`",
            ))
        } else {
            short_name(from, || row.at(layout.from)).err()
        };
        match (fault, length_m) {
            (None, Some(length_m)) => self.paced.push(Distance {
                from: from.to_owned(),
                to: row.cell(layout.point).to_owned(),
                length_m,
                way: Way::Paced,
                at: row.at(column),
            }),
            (fault, _) => fault.into_iter().for_each(|fault| faults.push(fault)),
        }
        true
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
}
