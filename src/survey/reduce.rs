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
use crate::units::{LengthUnit, NM_PER_M};

use super::book::{Check, LevelBook, Setup, Sight, SightKind};
use super::cell::MAX_HEIGHT_M;
use super::levels::Booked;
use super::words;

/// Allowed misclosure of one set-up, metres: 0.02 ft; it grows with the root of the set-ups.
/// Common practice in yards, not a published limit.
pub const ALLOWED_PER_SETUP_M: f64 = 0.02 * 0.3048;

/// Two backsights in one set-up that differ by more are spoken of, metres: 0.02 ft.
const BACKSIGHTS_DIFFER_M: f64 = 0.02 * 0.3048;

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
}

/// A reading on a known point.
#[derive(Debug)]
pub(crate) struct Tested {
    pub(crate) sight: usize,
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
/// height on Earth; adjustment by distance without distances; an allowance that is no length
/// # Source
///
/// height of instrument, rise and fall, page check: standard field practice of
/// levelling; adjustment in equal shares per set-up or in proportion to length
pub(crate) fn reduce(
    booked: &Booked,
    spec: &SurveySpec,
) -> Result<(LevelBook, Vec<Diagnostic>), Failure> {
    let per_setup_m = spec.allow_per_setup_m.unwrap_or(ALLOWED_PER_SETUP_M);
    if !per_setup_m.is_finite() || per_setup_m < 0.0 {
        return Err(
            Diagnostic::error("bad-number", "the allowed misclosure is no length")
                .at(spec.at.clone())
                .help("give a length of zero or more")
                .into(),
        );
    }
    let mut work = Work::new(booked, spec, per_setup_m);
    for setup in 0..booked.setups.len() {
        work.level(setup)?;
    }
    work.rise_and_fall()?;
    let corrections = work.corrections()?;
    Ok(work.finish(&corrections))
}

/// Everything known while the book is gone through.
pub(crate) struct Work<'b> {
    pub(crate) booked: &'b Booked,
    pub(crate) spec: &'b SurveySpec,
    pub(crate) per_setup_m: f64,
    pub(crate) stations: Vec<Station>,
    /// Elevation of every sight, nm.
    pub(crate) elevation_nm: Vec<i64>,
    /// Sights of each set-up, as a range of indices.
    pub(crate) ranges: Vec<std::ops::Range<usize>>,
    /// Last sight that gave each point an elevation.
    pub(crate) observed: BTreeMap<&'b str, usize>,
    pub(crate) tested: Vec<Tested>,
    pub(crate) notes: Vec<Diagnostic>,
}

impl<'b> Work<'b> {
    fn new(booked: &'b Booked, spec: &'b SurveySpec, per_setup_m: f64) -> Work<'b> {
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
            per_setup_m,
            stations: Vec::new(),
            elevation_nm: vec![0; booked.sights.len()],
            ranges,
            observed: BTreeMap::new(),
            tested: Vec::new(),
            notes: Vec::new(),
        }
    }

    /// Depth of a sight below the plane, nm: the reading, or minus the elevation read.
    fn down_nm(&self, sight: usize) -> i64 {
        let nm = self.booked.sights[sight].rod.nm;
        if self.spec.rod == RodKind::Direct {
            -nm
        } else {
            nm
        }
    }

    fn at(&self, sight: usize) -> At {
        let sight = &self.booked.sights[sight];
        At::cell(&self.spec.file, sight.line, sight.kind.name(), &sight.point)
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
        let (root, depth) = match carried_by {
            Some(by) => {
                let before = &self.stations[booked.sights[by].setup];
                (before.root, before.depth + 1)
            }
            None => (setup, 1),
        };
        self.stations.push(Station {
            plane_nm,
            backsight,
            carried_by,
            root,
            depth,
        });
        for sight in self.ranges[setup].clone() {
            let nm = plane_nm - self.down_nm(sight);
            if nm.unsigned_abs() as f64 > MAX_HEIGHT_M * NM_PER_M {
                let message = "the elevation is far larger than any height on Earth";
                return Err(Diagnostic::error("bad-number", message).at(self.at(sight)));
            }
            self.elevation_nm[sight] = nm;
            if sight != backsight {
                self.compare(sight, nm, depth);
            }
            let point = booked.sights[sight].point.as_str();
            let again = booked.sights[sight].kind == SightKind::Backsight
                && self.observed.contains_key(point);
            if !again && !booked.known.contains_key(point) {
                self.observed.insert(point, sight);
            }
        }
        if self.spec.rod == RodKind::Direct && carried_by.is_none() {
            self.say_direct_shift(backsight, plane_nm);
        }
        Ok(())
    }

    /// Compares a sight with the given level of its point, or with an earlier backsight point.
    fn compare(&mut self, sight: usize, nm: i64, depth: usize) {
        let booked = self.booked;
        let it = &booked.sights[sight];
        let backsight = it.kind == SightKind::Backsight;
        let before = match booked.known.get(&it.point) {
            Some(&(known, _)) => {
                let allowed_m = self.per_setup_m * (depth as f64).sqrt();
                self.tested.push(Tested {
                    sight,
                    misclosure_nm: nm - known,
                    allowed_m,
                });
                known
            }
            None => match self.observed.get(it.point.as_str()) {
                Some(&by) if backsight => self.elevation_nm[by],
                _ => return,
            },
        };
        let difference_m = (nm - before) as f64 / NM_PER_M;
        if backsight && difference_m.abs() > BACKSIGHTS_DIFFER_M + 0.5 / NM_PER_M {
            let first = self
                .stations
                .last()
                .map_or(sight, |station| station.backsight);
            let message = format!(
                "the backsights on {} and {} differ by {}; the plane is taken from {}",
                booked.sights[first].point,
                it.point,
                words::length(self.spec, difference_m.abs()),
                booked.sights[first].point
            );
            let help = "read both again; one of the points has moved, has another level, \
                        or the tripod was moved in between";
            self.notes.push(
                Diagnostic::warn("backsights-differ", message)
                    .at(self.at(first))
                    .at(self.at(sight))
                    .help(help),
            );
        }
    }

    /// A rod that shows elevations should show the benchmark's own.
    fn say_direct_shift(&mut self, backsight: usize, shift_nm: i64) {
        let shift_m = shift_nm as f64 / NM_PER_M;
        if shift_m.abs() > BACKSIGHTS_DIFFER_M {
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
        let (name, line) = &self.booked.setups[setup];
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

    /// Reduces the book a second way and compares, and makes the page check where the book is
    /// one plain chain.
    fn rise_and_fall(&self) -> Result<(), Diagnostic> {
        let internal = |what: &str, at: At| {
            Diagnostic::error(
                "internal",
                format!("the two ways to reduce the book differ: {what}"),
            )
            .at(at)
            .help("this is a mistake in the program; please report it with the file")
        };
        for (setup, station) in self.stations.iter().enumerate() {
            let start = self.ranges[setup].start;
            let level_nm = station.plane_nm - self.down_nm(station.backsight);
            let mut from_first_nm = vec![0; self.ranges[setup].len()];
            for sight in self.ranges[setup].clone().skip(1) {
                let rise_nm = self.down_nm(sight - 1) - self.down_nm(sight);
                from_first_nm[sight - start] = from_first_nm[sight - 1 - start] + rise_nm;
            }
            let first_nm = level_nm - from_first_nm[station.backsight - start];
            for sight in self.ranges[setup].clone() {
                if first_nm + from_first_nm[sight - start] != self.elevation_nm[sight] {
                    return Err(internal("rise and fall", self.at(sight)));
                }
            }
        }
        let sights = &self.booked.sights;
        let count = |setup: usize, kind| {
            self.ranges[setup]
                .clone()
                .filter(|&i| sights[i].kind == kind)
                .count()
        };
        let plain = self.stations.iter().enumerate().all(|(setup, station)| {
            let chained = station.carried_by.is_some_and(|by| {
                sights[by].kind == SightKind::Foresight && sights[by].setup + 1 == setup
            });
            (setup == 0 || chained)
                && count(setup, SightKind::Backsight) == 1
                && count(setup, SightKind::Foresight) == 1
        });
        let last = (0..sights.len()).rfind(|&i| sights[i].kind == SightKind::Foresight);
        if let (true, Some(last), Some(first)) = (plain, last, self.stations.first()) {
            let page: i128 = (0..sights.len())
                .map(|i| match sights[i].kind {
                    SightKind::Backsight => i128::from(self.down_nm(i)),
                    SightKind::Foresight => -i128::from(self.down_nm(i)),
                    SightKind::Intermediate => 0,
                })
                .sum();
            let along = self.elevation_nm[last] - self.elevation_nm[first.backsight];
            if page != i128::from(along) {
                return Err(internal("page check", At::file(&self.spec.file)));
            }
        }
        Ok(())
    }

    /// Puts the results together.
    fn finish(self, corrections: &[f64]) -> (LevelBook, Vec<Diagnostic>) {
        let metres = |nm: i64| nm as f64 / NM_PER_M;
        let sum_m = |kind| {
            let sights = self.booked.sights.iter().filter(|sight| sight.kind == kind);
            sights.map(|sight| i128::from(sight.rod.nm)).sum::<i128>() as f64 / NM_PER_M
        };
        let check = |t: &Tested| Check {
            name: self.booked.sights[t.sight].point.clone(),
            line: self.booked.sights[t.sight].line,
            setups: self.stations[self.booked.sights[t.sight].setup].depth,
            misclosure_m: metres(t.misclosure_nm),
            allowed_m: t.allowed_m,
        };
        let (status, deciding) = self.status();
        let deciding = deciding.map(check);
        let mut book = LevelBook {
            file: self.spec.file.clone(),
            benchmark: self.spec.benchmark.clone(),
            sum_bs_m: sum_m(SightKind::Backsight),
            sum_fs_m: sum_m(SightKind::Foresight),
            checks: self.tested.iter().map(check).collect(),
            misclosure_m: deciding.as_ref().map(|c| c.misclosure_m),
            allowed_m: deciding.as_ref().map(|c| c.allowed_m),
            status,
            ..LevelBook::default()
        };
        for (station, (name, line)) in self.stations.iter().zip(&self.booked.setups) {
            book.setups.push(Setup {
                name: name.clone(),
                plane_m: (self.spec.rod != RodKind::Direct).then(|| metres(station.plane_nm)),
                backsight: self.booked.sights[station.backsight].point.clone(),
                line: *line,
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
                setup: self.booked.setups[sight.setup].0.clone(),
                rod: sight.rod.text.clone(),
                rod_m: sight.rod.metres(),
                rise_m: rise,
                elevation_m: metres(nm),
                adjusted_m: (nm as f64 + correction) / NM_PER_M,
                code: sight.code.clone(),
                x_nm: sight.place.map(|place| place.0),
                y_nm: sight.place.map(|place| place.1),
                control: self.booked.known.contains_key(&sight.point),
                line: sight.line,
            });
        }
        let mut notes = self.notes;
        let unchecked: Vec<&str> = self
            .stations
            .iter()
            .enumerate()
            .filter(|&(setup, station)| {
                station.root == setup
                    && !self
                        .tested
                        .iter()
                        .any(|t| self.stations[self.booked.sights[t.sight].setup].root == setup)
            })
            .map(|(setup, _)| self.booked.setups[setup].0.as_str())
            .collect();
        let (words, said) = words::of_book(self.spec, &book, deciding.as_ref(), &unchecked);
        book.words = words;
        notes.extend(said);
        (book, notes)
    }
}

/// Unit in which a book is spoken of: that of its rod.
pub(crate) fn spoken_unit(spec: &SurveySpec) -> LengthUnit {
    match spec.rod {
        RodKind::Metric => LengthUnit::Metre,
        RodKind::Direct => spec.z_units,
        RodKind::Tenths | RodKind::InchEighths if spec.z_units.is_foot() => spec.z_units,
        RodKind::Tenths | RodKind::InchEighths => LengthUnit::Foot,
    }
}
