//! The survey: shots with a name, a place, a height and the line they were booked on.
//!
//! Takes survey files as the job names them, gives a [`Survey`]. Only this room knows file
//! formats of points, level books, ties and grids. A new way in is a reader that returns
//! [`Entry`]s: a place, a height or both for a name. They are joined by name across all files.

mod blunder;
mod book;
mod bring;
mod cell;
mod closure;
mod code;
mod entry;
mod fit;
mod grid;
mod guess;
mod head;
mod head_unit;
mod join;
mod layout;
mod levels;
mod oddity;
mod page;
mod points;
mod reduce;
mod reread;
mod resolve;
mod rod;
mod rod_refusal;
mod setups;
mod shot;
mod slips;
mod strike;
mod table;
mod text;
pub mod tie;
mod twice;
mod visit;
mod words;

use std::collections::BTreeMap;

use crate::diag::{At, Diagnostic, Failure, has_error};
use crate::files::{Files, Input};
use crate::geom::{Origin, Point};
use crate::import::{self, Import};
use crate::job::{Benchmark, ControlSpec, ImportSpec, Job, Strike, SurveyKind, SurveySpec};
use crate::units::LengthUnit;

use bring::{Known, bring, is_far_off};
use grid::read_grid;
use join::join;
use shot::RawShot;
use table::MAX_LISTED;
use tie::{CornerFix, TieFix, Undecided, place};

pub use blunder::Suspect;
pub use book::{BookStatus, Check, LevelBook, Reread, Setup, Sight, SightKind};
pub use bring::{Brought, CommonPoint, Placement};
pub use code::{HARD_CODES, codes_of, kind_and_number};
pub use entry::{Entry, GridLine, Role, Tape, Whereabouts};
pub use layout::is_book_head;
pub use levels::read_levels;
pub use page::PageCheck;
pub use points::read_points;
pub use resolve::{MAX_RANGE_SHOTS, PlacedShot};
pub use rod::{RodReading, echo, read_rod};
pub use shot::{PointClass, Shot};
pub use slips::Slip;
pub use strike::Struck;
pub use twice::{TwiceMeasured, curvature_and_refraction_m};
pub use visit::{Leg, Levelled, PACED_ERROR, Visit, Way};
pub use words::{SuspectGroup, suspect_groups};

/// Fewest shots with coordinates that make a surface.
const MIN_SHOTS: usize = 3;

/// All shots of a job.
#[derive(Clone, Debug, Default)]
pub struct Survey {
    /// The local origin.
    pub origin: Origin,
    /// Shots in the order of the files.
    pub shots: Vec<Shot>,
    /// Shots that the job takes out.
    pub struck: Vec<Struck>,
    /// Reduced level books.
    pub books: Vec<LevelBook>,
    /// The benchmark of the job, if a level book names one.
    pub benchmark: Option<Benchmark>,
    /// Shots by name (the first of each name).
    pub by_name: BTreeMap<String, usize>,
    /// The files, in the order of the job, as they were read.
    pub inputs: Vec<Input>,
    /// How each shot placed by tape was placed.
    pub ties: Vec<TieFix>,
    /// Corners that tapes begin at.
    pub corners: Vec<CornerFix>,
    /// Shots that are not placed: no part of the ground.
    pub unplaced: Vec<Undecided>,
    /// Scans, grids and surfaces of other programs, in the local frame and in the order of the
    /// job.
    pub imports: Vec<Brought>,
    /// What there is to tell where no point has a place.
    pub visit: Option<Visit>,
}

/// Where a survey comes from.
#[derive(Clone, Copy, Debug, Default)]
pub struct Sources<'a> {
    /// Files of shots, in the order of the job.
    pub surveys: &'a [SurveySpec],
    /// Files of other programs, in the order of the job.
    pub imports: &'a [ImportSpec],
    /// Corners, and how tapes lead to places; nothing if not given.
    pub control: Option<&'a ControlSpec>,
    /// Shots that are taken out.
    pub strikes: &'a [Strike],
    /// How exact heights of shots are meant to be, metres.
    pub shot_m: f64,
}

/// What a reader returns.
pub type Entries = (Vec<Entry>, Vec<Diagnostic>);

impl Survey {
    /// Reads survey files without corners of their own; see [`Survey::read_with`].
    ///
    /// # Errors
    ///
    /// as [`Survey::read_with`]
    pub fn read(
        specs: &[SurveySpec],
        files: &dyn Files,
    ) -> Result<(Survey, Vec<Diagnostic>), Failure> {
        let sources = Sources {
            surveys: specs,
            ..Sources::default()
        };
        Survey::read_with(&sources, files)
    }

    /// Reads the survey of a job; see [`Survey::read_with`].
    ///
    /// # Errors
    ///
    /// as [`Survey::read_with`]
    pub fn of(job: &Job, files: &dyn Files) -> Result<(Survey, Vec<Diagnostic>), Failure> {
        let sources = Sources {
            surveys: &job.surveys,
            imports: &job.imports,
            control: Some(&job.control),
            strikes: &job.strikes,
            shot_m: job.limits.shot_height_m,
        };
        Survey::read_with(&sources, files)
    }

    /// Reads every survey file of a job, joins what they say of each name, and brings all shots
    /// into one local frame.
    ///
    /// A row with place and height is a shot. A row with one of them is joined with a row of
    /// the same name that has the other, in any file: a level book gives heights, a file of ties
    /// places. Places come from coordinates, or by tape from `control` and from the mutual
    /// distances of corners. What ends with one of the two only is said.
    ///
    /// A level book gives a shot for every intermediate sight with coordinates, and for turning
    /// points and other backsights and foresights the first time they are seen. Points of known
    /// level (the benchmark above all) are control, not ground: they stay in the book and never
    /// become shots. Heights are the adjusted ones. Shots named by `strikes` are set apart.
    ///
    /// # Errors
    ///
    /// all diagnostics of all files: a file that cannot be read, bad cells, a book
    /// that cannot be reduced, one benchmark with two levels, corners that are not held in
    /// place, tapes that do not meet, fewer than three shots
    pub fn read_with(
        sources: &Sources,
        files: &dyn Files,
    ) -> Result<(Survey, Vec<Diagnostic>), Failure> {
        let none = ControlSpec::default();
        let (specs, control) = (sources.surveys, sources.control.unwrap_or(&none));
        let mut survey = Survey::default();
        let mut entries: Vec<Entry> = Vec::new();
        let mut said: Vec<Diagnostic> = Vec::new();
        let mut failed = specs.is_empty() && sources.imports.is_empty();
        if failed {
            said.push(
                Diagnostic::error("no-survey", "the job names no survey file").help(
                    "add `[[survey]]` with `points = \"shots.csv\"` or `levels = \"levels.csv\"`",
                ),
            );
        }
        for (index, spec) in specs.iter().enumerate() {
            let read = named_once(&specs[..index], spec)
                .and_then(|()| bytes_of(spec, files))
                .map_err(Failure::from)
                .and_then(|bytes| {
                    survey.inputs.push(Input::of(&spec.file, &bytes));
                    survey.take(spec, &bytes, &mut entries)
                });
            match read {
                Ok(notes) => said.extend(notes),
                Err(Failure(errors)) => {
                    failed = true;
                    said.extend(errors);
                }
            }
        }
        let mut imports = Vec::with_capacity(sources.imports.len());
        for (index, spec) in sources.imports.iter().enumerate() {
            let read = import_once(&sources.imports[..index], spec)
                .map_err(Failure::from)
                .and_then(|()| import::read(spec, files));
            match read {
                Ok((import, notes)) => {
                    survey.inputs.push(import.input.clone());
                    said.extend(notes);
                    imports.push((spec, import));
                }
                Err(Failure(errors)) => {
                    failed = true;
                    said.extend(errors);
                }
            }
        }
        if failed {
            return Err(Failure(said));
        }
        let is_bare = *control == none && sources.strikes.is_empty() && imports.is_empty();
        if is_bare && visit::is_visit(&entries) {
            let (visit, doubts) = Visit::of_entries(&entries, &survey.books);
            survey.visit = Some(visit);
            said.extend(doubts);
            return Ok((survey, said));
        }
        said.extend(paced_in_vain(&survey.books));
        let unit = specs.first().map_or(LengthUnit::Metre, |spec| spec.units);
        let places = place(&entries, control, unit, &mut said);
        if has_error(&said) {
            return Err(Failure(said));
        }
        let mut known = control_points(&entries);
        let raw = join(entries, &places, &mut said);
        survey.ties = places.ties;
        survey.corners = places.corners;
        survey.unplaced = places.unplaced;
        let (raw, struck) = strike::part(raw, sources.strikes, &mut said);
        if has_error(&said) {
            return Err(Failure(said));
        }
        if imports.iter().any(|(spec, _)| spec.placing.is_some()) {
            for shot in &raw {
                known.entry(shot.name.clone()).or_insert_with(|| Known {
                    x_nm: shot.x_nm,
                    y_nm: shot.y_nm,
                    z_m: shot.z_m,
                    at: shot.at.clone(),
                });
            }
        }
        survey.origin = origin_of(&raw, &imports);
        survey.place(raw, struck, &mut said)?;
        for (spec, import) in imports {
            let brought = bring(spec, import, survey.origin, &known, sources.shot_m, files)?;
            said.extend(survey.far_off(spec, &brought));
            survey.imports.push(brought);
        }
        said.extend(survey.few_shots());
        if has_error(&said) {
            return Err(Failure(said));
        }
        Ok((survey, said))
    }

    /// The error for a survey of too few shots to make a surface.
    pub fn few_shots(&self) -> Option<Diagnostic> {
        if !self.imports.is_empty() {
            return None;
        }
        let shots = match self.shots.len() {
            0 => "no shot has a place and a height".to_owned(),
            1 => "only one shot has a place and a height".to_owned(),
            n if n < MIN_SHOTS => format!("only {n} shots have a place and a height"),
            _ => return None,
        };
        let mut fault = Diagnostic::error(
            "few-shots",
            format!("{shots}; a surface needs at least three"),
        )
        .help(
            "give more shots a place: x and y, or tapes from two corners (columns `tape A`, \
             `tape B`, and `side`)",
        );
        fault.at = self.inputs.iter().map(|i| At::file(&i.file)).collect();
        Some(fault)
    }

    /// Reads one file.
    fn take(
        &mut self,
        spec: &SurveySpec,
        bytes: &[u8],
        entries: &mut Vec<Entry>,
    ) -> Result<Vec<Diagnostic>, Failure> {
        let (found, notes) = match &spec.kind {
            SurveyKind::Points | SurveyKind::Ties => read_points(spec, bytes)?,
            SurveyKind::Grid(grid) => {
                let (found, mut notes) = read_grid(spec, grid, bytes)?;
                if let Err(fault) = self.take_benchmark(spec) {
                    notes.push(fault);
                    return Err(Failure(notes));
                }
                (found, notes)
            }
            SurveyKind::Levels => {
                let (book, mut notes) = read_levels(spec, bytes)?;
                let found = book.entries();
                if let Err(fault) = self.take_benchmark(spec) {
                    notes.push(fault);
                    return Err(Failure(notes));
                }
                self.books.push(book);
                (found, notes)
            }
        };
        entries.extend(found);
        Ok(notes)
    }

    /// Keeps the first benchmark; the same name with another level is a slip.
    fn take_benchmark(&mut self, spec: &SurveySpec) -> Result<(), Diagnostic> {
        let Some(benchmark) = &spec.benchmark else {
            return Ok(());
        };
        match &self.benchmark {
            None => self.benchmark = Some(benchmark.clone()),
            Some(first) if first.name == benchmark.name && first.level_m != benchmark.level_m => {
                let message = format!(
                    "the benchmark {} is given two levels, {:.4} m and {:.4} m",
                    first.name, first.level_m, benchmark.level_m
                );
                return Err(Diagnostic::error("two-levels", message)
                    .at(spec.at.clone())
                    .help(
                        "all files of a job count from one benchmark; keep the level that is right",
                    ));
            }
            Some(_) => {}
        }
        Ok(())
    }

    /// Doubts an import that lies nowhere near the shots.
    fn far_off(&self, spec: &ImportSpec, brought: &Brought) -> Option<Diagnostic> {
        let shots: Vec<Point> = self.shots.iter().map(|shot| shot.p).collect();
        let apart_m = is_far_off(brought.import.content.points(), &shots)?;
        let message = format!(
            "{} lies {apart_m:.0} m from the shots of the job",
            spec.source()
        );
        Some(
            Diagnostic::warn("far-import", message)
                .at(spec.at.clone())
                .help("check coordinates and units of both, or place it by common points"),
        )
    }

    /// Makes the shots local and enters their names.
    fn place(
        &mut self,
        raw: Vec<RawShot>,
        struck: Vec<(RawShot, String)>,
        said: &mut Vec<Diagnostic>,
    ) -> Result<(), Diagnostic> {
        for (shot, why) in struck {
            let shot = shot.local(self.origin)?;
            self.struck.push(Struck { shot, why });
        }
        let mut twice = 0;
        for shot in raw {
            let shot = shot.local(self.origin)?;
            let name = &shot.name;
            match self.by_name.get(name).map(|&first| &self.shots[first]) {
                Some(first) if first.p != shot.p => {
                    twice += 1;
                    if twice <= MAX_LISTED {
                        let message =
                            format!("two shots at different places are both named {name}");
                        let help = "rename one; where the job says this name, the first is meant";
                        said.push(
                            Diagnostic::warn("name-twice", message)
                                .at(first.at.clone())
                                .at(shot.at.clone())
                                .help(help),
                        );
                    }
                }
                Some(_) => {}
                None => {
                    self.by_name.insert(name.clone(), self.shots.len());
                }
            }
            self.shots.push(shot);
        }
        if twice > MAX_LISTED {
            let more = twice - MAX_LISTED;
            said.push(Diagnostic::warn(
                "name-twice",
                format!("and {more} more names used twice"),
            ));
        }
        Ok(())
    }
}

/// The whole metre below all shots; without shots, that of the first import.
fn origin_of(raw: &[RawShot], imports: &[(&ImportSpec, Import)]) -> Origin {
    let least = |nm: fn(&RawShot) -> i64| raw.iter().map(nm).min();
    let shots = least(|shot| shot.x_nm).zip(least(|shot| shot.y_nm));
    let first = imports.first().map(|(_, import)| import.origin);
    shots
        .map(|(x_nm, y_nm)| Origin::below(x_nm, y_nm))
        .or(first)
        .unwrap_or_default()
}

/// Points of given level with coordinates: no shots, but an import can be placed by them.
fn control_points(entries: &[Entry]) -> BTreeMap<String, Known> {
    let control = entries.iter().filter(|entry| entry.role == Role::Control);
    let known = control.filter_map(|entry| {
        let (x_nm, y_nm) = entry.coordinates()?;
        let known = Known {
            x_nm,
            y_nm,
            z_m: entry.z_m?,
            at: entry.at.clone(),
        };
        Some((entry.name.clone(), known))
    });
    known.collect()
}

/// Refuses an import that the job names a second time.
fn import_once(before: &[ImportSpec], spec: &ImportSpec) -> Result<(), Diagnostic> {
    let source = spec.source();
    match before.iter().find(|other| other.source() == source) {
        None => Ok(()),
        Some(other) => Err(Diagnostic::error(
            "file-twice",
            format!("the job names {source} twice"),
        )
        .at(other.at.clone())
        .at(spec.at.clone())
        .help("take one of the entries out")),
    }
}

/// Refuses a file that the job names a second time: every shot would be there twice.
fn named_once(before: &[SurveySpec], spec: &SurveySpec) -> Result<(), Diagnostic> {
    match before
        .iter()
        .find(|other| other.file == spec.file && spec.file != "-")
    {
        None => Ok(()),
        Some(other) => {
            let message = format!("the job names the survey file {} twice", spec.file);
            Err(Diagnostic::error("file-twice", message)
                .at(other.at.clone())
                .at(spec.at.clone())
                .help("take one of the entries out"))
        }
    }
}

/// The note on paced distances where shots have places.
fn paced_in_vain(books: &[LevelBook]) -> Option<Diagnostic> {
    let first = books.iter().find_map(|book| book.paced.first())?;
    let message = "paced distances place no shot and are not used";
    Some(
        Diagnostic::note("paced", message)
            .at(first.at.clone())
            .help("give a distance as `tape` if it was taped and is to place the shot"),
    )
}

/// Content of a survey file.
fn bytes_of(spec: &SurveySpec, files: &dyn Files) -> Result<Vec<u8>, Diagnostic> {
    files.read(&spec.file).map_err(|why| {
        Diagnostic::error(
            "unreadable-file",
            format!("{} cannot be read: {why}", spec.file),
        )
        .at(spec.at.clone())
        .help("names are relative to the job folder; check the spelling")
    })
}
