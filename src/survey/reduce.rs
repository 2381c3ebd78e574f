//! Reduction of a level book: elevations, checks and adjustment.
//!
//! Takes the sights of a book with the given levels, gives a [`LevelBook`]. Knows no file format
//! and no ground. All sums run in whole nanometres, so that the two ways of reduction (laser
//! plane, rise and fall) agree to the last digit or something is wrong with the program.
//!
//! A **run** is a chain of set-ups from a backsight on a known point; a backsight on a known
//! point begins a new run. A reading on a known point in a run checks it.

use std::collections::BTreeMap;

use crate::diag::{At, Diagnostic, Failure, nearest};
use crate::job::{RodKind, SurveySpec};
use crate::units::NM_PER_M;

use super::book::{Check, LevelBook, Setup, Sight, SightKind};
use super::cell::MAX_HEIGHT_M;
use super::levels::{Booked, BookedSetup};
use super::rod::called_back;
use super::twice;
use super::words;

/// Two benchmarks in one set-up that differ by more from their given levels are spoken of,
/// metres: 0.02 ft, as close as two careful readings come.
const BENCHMARKS_DIFFER_M: f64 = 0.02 * 0.3048;

/// A set-up during reduction.
#[derive(Debug)]
pub(crate) struct Station {
    /// Level of the plane, nm; for a direct rod the correction to its readings.
    pub(crate) plane_nm: i64,
    /// Sight the plane was found from.
    pub(crate) backsight: usize,
    /// Earlier sight that gave the level of the backsight; `None` at the start of a run.
    pub(crate) carried_by: Option<usize>,
    /// First set-up of the run.
    pub(crate) root: usize,
    /// Number of set-ups from the start of the run, itself included.
    pub(crate) depth: usize,
    /// Length of the run up to its backsight, nm; zero unless the allowance asks for it.
    pub(crate) before_nm: i128,
}

/// An elevation that is known a second way: the given level of its point, or another reading.
#[derive(Debug)]
pub(crate) struct Tested {
    pub(crate) sight: usize,
    /// The other reading; `None` for a given level.
    pub(crate) against: Option<usize>,
    /// What the sight gives minus the other, nm.
    pub(crate) misclosure_nm: i64,
    pub(crate) allowed_m: f64,
}

impl Tested {
    /// Within the allowance, counting the half nanometre that rounding may have cost.
    pub(crate) fn holds(&self) -> bool {
        self.misclosure_nm.abs() as f64 <= self.allowed_m * NM_PER_M + 0.5
    }

    /// Misclosure over allowance.
    pub(crate) fn ratio(&self) -> f64 {
        self.misclosure_nm.abs() as f64 / (self.allowed_m * NM_PER_M).max(1.0)
    }
}

/// Reduces a book.
///
/// # Errors
///
/// a set-up without a backsight on a point of known level; an elevation beyond any
/// height on Earth; adjustment or an allowance by distance without distances
/// # Source
///
/// height of instrument, rise and fall, page check: standard field practice of
/// levelling; adjustment in equal shares per set-up or in proportion to length
pub(crate) fn reduce(
    booked: &Booked,
    spec: &SurveySpec,
) -> Result<(LevelBook, Vec<Diagnostic>), Failure> {
    let mut work = Work::new(booked, spec);
    for setup in 0..booked.setups.len() {
        work.level(setup)?;
    }
    work.reread = work.read_twice();
    let page = work.page_check()?;
    let corrections = work.corrections()?;
    let (mut book, mut notes) = work.finish(&corrections);
    book.page = page;
    (book.suspects, book.more_suspects) = work.suspects();
    book.twice = work.measured_twice();
    book.longest_sight_m = booked
        .sights
        .iter()
        .filter_map(|s| s.distance_nm)
        .max()
        .map(|nm| nm as f64 / NM_PER_M);
    book.curvature_m = book.longest_sight_m.map(twice::curvature_and_refraction_m);
    notes.extend(work.say_rereads(&book));
    notes.extend(work.decimal_slips());
    let (deciding, unchecked) = work.verdict();
    let (words, said) = words::of_book(spec, &book, deciding.as_ref(), &unchecked);
    book.words = words;
    notes.extend(said);
    Ok((book, notes))
}

/// Everything known while the book is gone through.
pub(crate) struct Work<'b> {
    pub(crate) booked: &'b Booked,
    pub(crate) spec: &'b SurveySpec,
    pub(crate) stations: Vec<Station>,
    /// Elevation of every sight, nm.
    pub(crate) elevation_nm: Vec<i64>,
    /// Sights of each set-up, as a range of indices.
    pub(crate) ranges: Vec<std::ops::Range<usize>>,
    /// Last sight that gave each point an elevation.
    pub(crate) observed: BTreeMap<&'b str, usize>,
    /// Readings on points of given level.
    pub(crate) tested: Vec<Tested>,
    /// Points of unknown level read more than once.
    pub(crate) reread: Vec<Tested>,
    pub(crate) notes: Vec<Diagnostic>,
}

impl<'b> Work<'b> {
    fn new(booked: &'b Booked, spec: &'b SurveySpec) -> Work<'b> {
        let mut ranges = vec![0..0; booked.setups.len()];
        let mut start = 0;
        for (setup, range) in ranges.iter_mut().enumerate() {
            let count = booked.sights[start..]
                .iter()
                .take_while(|s| s.setup == setup)
                .count();
            *range = start..start + count;
            start += count;
        }
        Work {
            booked,
            spec,
            stations: Vec::new(),
            elevation_nm: vec![0; booked.sights.len()],
            ranges,
            observed: BTreeMap::new(),
            tested: Vec::new(),
            reread: Vec::new(),
            notes: Vec::new(),
        }
    }

    /// Depth of a sight below the plane, nm: the reading, or minus the elevation read.
    pub(crate) fn down_nm(&self, sight: usize) -> i64 {
        let nm = self.booked.sights[sight].rod.nm;
        if self.rod(sight) == RodKind::Direct {
            -nm
        } else {
            nm
        }
    }

    /// How the rod of a sight is divided.
    pub(crate) fn rod(&self, sight: usize) -> RodKind {
        self.booked.setups[self.booked.sights[sight].setup].rod.kind
    }

    pub(crate) fn at(&self, sight: usize) -> At {
        let sight = &self.booked.sights[sight];
        At::cell(&self.spec.file, sight.line, sight.kind.name(), &sight.point)
    }

    /// The reading of a sight as booked.
    pub(crate) fn at_reading(&self, sight: usize) -> At {
        let sight = &self.booked.sights[sight];
        let of = format!("{} on {}", sight.kind.name(), sight.point);
        At::cell(&self.spec.file, sight.line, of, &sight.rod.text)
    }

    /// Finds the plane of a set-up and the elevations of its sights.
    fn level(&mut self, setup: usize) -> Result<(), Diagnostic> {
        let booked = self.booked;
        let backsights: Vec<usize> = self.ranges[setup]
            .clone()
            .filter(|&i| booked.sights[i].kind == SightKind::Backsight)
            .collect();
        let found = backsights.iter().find_map(|&i| {
            let point = booked.sights[i].point.as_str();
            match booked.known.get(point) {
                Some(&(nm, _)) => Some((i, nm, None)),
                None => self
                    .observed
                    .get(point)
                    .map(|&by| (i, self.elevation_nm[by], Some(by))),
            }
        });
        let Some((backsight, level_nm, carried_by)) = found else {
            return Err(self.unknown_backsight(setup, &backsights));
        };
        let plane_nm = level_nm + self.down_nm(backsight);
        let (root, depth, before_nm) = match carried_by {
            Some(by) => {
                let before = &self.stations[booked.sights[by].setup];
                let length_nm = if self.spec.allow.by_length() {
                    before.before_nm + self.length_nm(by)?
                } else {
                    0
                };
                (before.root, before.depth + 1, length_nm)
            }
            None => (setup, 1, 0),
        };
        self.stations.push(Station {
            plane_nm,
            backsight,
            carried_by,
            root,
            depth,
            before_nm,
        });
        let mut benchmark = None;
        for sight in self.ranges[setup].clone() {
            let nm = plane_nm - self.down_nm(sight);
            if nm.unsigned_abs() as f64 > MAX_HEIGHT_M * NM_PER_M {
                let message = "the elevation is far larger than any height on Earth";
                return Err(Diagnostic::error("bad-number", message).at(self.at(sight)));
            }
            self.elevation_nm[sight] = nm;
            let point = booked.sights[sight].point.as_str();
            if let Some(&(known_nm, _)) = booked.known.get(point) {
                if sight != backsight {
                    self.compare(sight, nm - known_nm)?;
                }
                match benchmark {
                    None => benchmark = Some((sight, nm - known_nm)),
                    Some((first, off_nm)) => {
                        self.say_benchmarks(first, sight, nm - known_nm - off_nm)
                    }
                }
            }
            let again = booked.sights[sight].kind == SightKind::Backsight
                && self.observed.contains_key(point);
            if !again && !booked.known.contains_key(point) {
                self.observed.insert(point, sight);
            }
        }
        if self.rod(backsight) == RodKind::Direct && carried_by.is_none() {
            self.say_direct_shift(backsight, plane_nm);
        }
        Ok(())
    }

    /// Holds a sight against the given level of its point.
    fn compare(&mut self, sight: usize, misclosure_nm: i64) -> Result<(), Diagnostic> {
        let station = &self.stations[self.booked.sights[sight].setup];
        let length_nm = if self.spec.allow.by_length() {
            station.before_nm + self.length_nm(sight)?
        } else {
            0
        };
        let length_m = length_nm as f64 / NM_PER_M;
        self.tested.push(Tested {
            sight,
            against: None,
            misclosure_nm,
            allowed_m: self.spec.allow.allowed_m(station.depth, length_m),
        });
        Ok(())
    }

    /// Two points of given level in one set-up whose readings differ otherwise than their levels.
    fn say_benchmarks(&mut self, first: usize, second: usize, off_nm: i64) {
        let sights = &self.booked.sights;
        let (one, other) = (&sights[first].point, &sights[second].point);
        let off_m = off_nm as f64 / NM_PER_M;
        if one == other || off_m.abs() <= BENCHMARKS_DIFFER_M + 0.5 / NM_PER_M {
            return;
        }
        let message = format!(
            "from set-up {}, {other} comes out {} {} against {one} than their given levels say",
            self.booked.setups[sights[first].setup].name,
            words::length(self.spec, off_m.abs()),
            if off_m > 0.0 { "higher" } else { "lower" },
        );
        let help = "read both again; one of the points has moved, a given level is wrong, \
                    or the laser was moved in between";
        self.notes.push(
            Diagnostic::warn("benchmarks-differ", message)
                .at(self.at(first))
                .at(self.at(second))
                .help(help),
        );
    }

    /// A rod that shows elevations should show the benchmark's own.
    fn say_direct_shift(&mut self, backsight: usize, shift_nm: i64) {
        let shift_m = shift_nm as f64 / NM_PER_M;
        if shift_m.abs() > BENCHMARKS_DIFFER_M {
            let point = &self.booked.sights[backsight].point;
            let message = format!(
                "the rod does not show the level of {point}; all readings of the set-up are moved {} by {}",
                if shift_m > 0.0 { "up" } else { "down" },
                words::length(self.spec, shift_m.abs())
            );
            self.notes.push(
                Diagnostic::warn("direct-shift", message)
                    .at(self.at(backsight))
                    .help("check the level of the benchmark and the setting of the rod"),
            );
        }
    }

    /// The error for a set-up that hangs in the air.
    fn unknown_backsight(&self, setup: usize, backsights: &[usize]) -> Diagnostic {
        let BookedSetup { name, line, .. } = &self.booked.setups[setup];
        let Some(&first) = backsights.first() else {
            return Diagnostic::error("no-backsight", format!("set-up {name} has no backsight"))
                .at(At::line(&self.spec.file, *line))
                .help("book the reading on a known point first, as BS");
        };
        let point = &self.booked.sights[first].point;
        let known: Vec<&str> = self
            .booked
            .known
            .keys()
            .map(String::as_str)
            .chain(self.observed.keys().copied())
            .collect();
        let help = match nearest(point, known) {
            Some(near) => format!("is {near} meant? Otherwise give {point} a level"),
            None => format!("begin on the benchmark, or give {point} a level in a `known` column"),
        };
        let message = format!("the level of {point} is not known when set-up {name} begins on it");
        Diagnostic::error("unknown-backsight", message)
            .at(self.at(first))
            .help(help)
    }

    /// A check as it is given to people.
    fn check(&self, t: &Tested) -> Check {
        let sight = &self.booked.sights[t.sight];
        Check {
            name: sight.point.clone(),
            line: sight.line,
            setups: self.stations[sight.setup].depth,
            misclosure_m: t.misclosure_nm as f64 / NM_PER_M,
            allowed_m: t.allowed_m,
        }
    }

    /// The check that decides, and the set-ups whose runs nothing checks.
    fn verdict(&self) -> (Option<Check>, Vec<&str>) {
        let deciding = self.status().1.map(|t| self.check(t));
        let unchecked = self
            .roots()
            .filter(|&root| !self.tested.iter().any(|t| self.root(t.sight) == root))
            .map(|setup| self.booked.setups[setup].name.as_str())
            .collect();
        (deciding, unchecked)
    }

    /// Puts the results together.
    fn finish(&mut self, corrections: &[f64]) -> (LevelBook, Vec<Diagnostic>) {
        let metres = |nm: i64| nm as f64 / NM_PER_M;
        let sum_m = |kind| {
            let sights = self.booked.sights.iter().filter(|sight| sight.kind == kind);
            sights.map(|sight| i128::from(sight.rod.nm)).sum::<i128>() as f64 / NM_PER_M
        };
        let (status, deciding) = self.status();
        let mut book = LevelBook {
            file: self.spec.file.clone(),
            benchmark: self.spec.benchmark.clone(),
            sum_bs_m: sum_m(SightKind::Backsight),
            sum_fs_m: sum_m(SightKind::Foresight),
            checks: self.tested.iter().map(|t| self.check(t)).collect(),
            rereads: self.rereads(),
            misclosure_m: deciding.map(|t| metres(t.misclosure_nm)),
            allowed_m: deciding.map(|t| t.allowed_m),
            allowance: self.spec.allow.words().to_owned(),
            status,
            ..LevelBook::default()
        };
        for (index, (station, booked)) in self.stations.iter().zip(&self.booked.setups).enumerate()
        {
            let plane = self.rod(self.ranges[index].start) != RodKind::Direct;
            book.setups.push(Setup {
                name: booked.name.clone(),
                plane_m: plane.then(|| metres(station.plane_nm)),
                backsight: self.booked.sights[station.backsight].point.clone(),
                rod: booked.rod.words(),
                line: booked.line,
            });
        }
        for (index, sight) in self.booked.sights.iter().enumerate() {
            let station = &self.stations[sight.setup];
            let correction = if index == station.backsight {
                station
                    .carried_by
                    .map_or(0.0, |by| corrections[self.booked.sights[by].setup])
            } else {
                corrections[sight.setup]
            };
            let nm = self.elevation_nm[index];
            let rise = (index > self.ranges[sight.setup].start)
                .then(|| metres(self.down_nm(index - 1) - self.down_nm(index)));
            book.sights.push(Sight {
                name: sight.point.clone(),
                kind: sight.kind,
                setup: self.booked.setups[sight.setup].name.clone(),
                rod: sight.rod.text.clone(),
                rod_m: sight.rod.metres(),
                echo: called_back(self.rod(index), self.spec.z_units, sight.rod.metres()),
                rise_m: rise,
                elevation_m: metres(nm),
                adjusted_m: (nm as f64 + correction) / NM_PER_M,
                distance_m: sight.distance_nm.map(metres),
                code: sight.code.clone(),
                x_nm: sight.place.map(|place| place.0),
                y_nm: sight.place.map(|place| place.1),
                control: self.booked.known.contains_key(&sight.point),
                line: sight.line,
            });
        }
        (book, std::mem::take(&mut self.notes))
    }
}
