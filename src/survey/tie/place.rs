//! From names to places: every corner first, then every shot that tapes, offsets, bearings or
//! grid lines lead to.
//!
//! Takes the entries of all files and the job's `[control]`, gives a place for each name that
//! has one, how it was found, and what is to be said of it. Knows no file format and no ground.

use std::collections::BTreeMap;

use crate::diag::{At, Diagnostic, nearest};
use crate::job::{ControlSpec, Tapes};
use crate::survey::entry::{Entry, Tape, Whereabouts};
use crate::units::{LengthUnit, MAX_COORDINATE_M, NM_PER_M};

use super::circle::{Plan, level_length_m};
use super::fix::Ellipse;
use super::result::{CornerFix, TieFix, Undecided};
use super::said::Said;
use super::words;

/// Error of one tape (1 sigma), metres: 0.1 ft. Two tapes that cross at 90 to 30 degrees then
/// give a place to 2 to 4 in, as yards are taped. Common practice, no source.
pub const TAPE_ERROR_M: f64 = 0.1 * 0.3048;

/// What is known of places by name.
#[derive(Debug, Default)]
pub(crate) struct Places {
    /// Every name that has a place other than by its own row, whole nanometres.
    pub(crate) by_name: BTreeMap<String, (i64, i64)>,
    /// How shots were placed.
    pub(crate) ties: Vec<TieFix>,
    /// Corners.
    pub(crate) corners: Vec<CornerFix>,
    /// Shots that are not placed.
    pub(crate) unplaced: Vec<Undecided>,
}

/// A name with all that was booked for its place.
#[derive(Debug)]
pub(super) struct Named {
    pub(super) name: String,
    /// Its first row, or where the job names it.
    pub(super) at: At,
    /// Place, whole nanometres, once it is known.
    pub(super) place: Option<(i64, i64)>,
    /// True if the place was given by coordinates.
    pub(super) is_given: bool,
    pub(super) way: Option<Whereabouts>,
    pub(super) z_m: Option<f64>,
    /// True if a tape begins here, or the job calls it a corner.
    pub(super) is_corner: bool,
    pub(super) ellipse: Option<Ellipse>,
}

/// Everything during the search.
#[derive(Debug)]
pub(super) struct Search<'a> {
    pub(super) control: &'a ControlSpec,
    pub(super) unit: LengthUnit,
    pub(super) sigma_m: f64,
    pub(super) named: Vec<Named>,
    pub(super) index: BTreeMap<String, usize>,
    /// Names in lower case; `None` where several differ only in case.
    lower: BTreeMap<String, Option<usize>>,
    /// Indices of the corners.
    pub(super) corners: Vec<usize>,
    pub(super) said: Said,
    pub(super) found: Places,
}

/// Gives every name a place that has one.
pub(crate) fn place(
    entries: &[Entry],
    control: &ControlSpec,
    unit: LengthUnit,
    diagnostics: &mut Vec<Diagnostic>,
) -> Places {
    let by_tape = |entry: &&Entry| entry.whereabouts.is_some() && entry.coordinates().is_none();
    if *control == ControlSpec::default() && entries.iter().find(by_tape).is_none() {
        return Places::default();
    }
    let mut search = Search {
        control,
        unit,
        sigma_m: control.tape_error_m.unwrap_or(TAPE_ERROR_M),
        named: Vec::new(),
        index: BTreeMap::new(),
        lower: BTreeMap::new(),
        corners: Vec::new(),
        said: Said::default(),
        found: Places::default(),
    };
    search.gather(entries);
    if search.said.is_sound() {
        search.place_corners();
    }
    if search.said.is_sound() {
        search.place_shots();
    }
    search.tell_corners();
    search.said.finish(diagnostics);
    search.found
}

impl Search<'_> {
    /// A new name in the list.
    pub(super) fn add(&mut self, name: &str, at: &At) -> usize {
        let index = self.named.len();
        self.named.push(Named {
            name: name.to_owned(),
            at: at.clone(),
            place: None,
            is_given: false,
            way: None,
            z_m: None,
            is_corner: false,
            ellipse: None,
        });
        self.index.insert(name.to_owned(), index);
        self.lower
            .entry(name.to_lowercase())
            .and_modify(|only| *only = None)
            .or_insert(Some(index));
        index
    }

    /// A corner in the list, new if no name is it.
    pub(super) fn corner(&mut self, name: &str, at: &At) -> usize {
        let index = self.find(name).unwrap_or_else(|| self.add(name, at));
        if !self.named[index].is_corner {
            self.named[index].is_corner = true;
            self.corners.push(index);
        }
        index
    }

    /// A name as booked, or the only one that differs from it in upper and lower case.
    pub(super) fn find(&self, name: &str) -> Option<usize> {
        let exact = self.index.get(name).copied();
        exact.or_else(|| self.lower.get(&name.to_lowercase()).copied().flatten())
    }

    /// Position relative to a place of reference, metres.
    pub(super) fn local(place: (i64, i64), from: (i64, i64)) -> Plan {
        [
            (place.0 - from.0) as f64 / NM_PER_M,
            (place.1 - from.1) as f64 / NM_PER_M,
        ]
    }

    /// The place so far from a place of reference; `None` beyond any place on Earth.
    pub(super) fn absolute(from: (i64, i64), local: Plan) -> Option<(i64, i64)> {
        let nm = |m: f64| {
            let is_near = m.abs() <= MAX_COORDINATE_M;
            is_near.then(|| (m * NM_PER_M).round() as i64)
        };
        Some((
            from.0.checked_add(nm(local[0])?)?,
            from.1.checked_add(nm(local[1])?)?,
        ))
    }

    /// Level length of a tape between two names, or what is wrong with it.
    pub(super) fn level_m(&mut self, a: usize, b: usize, tape: &Tape) -> Option<f64> {
        if self.control.tapes == Tapes::Level {
            return Some(tape.length_m);
        }
        let (from, to) = (&self.named[a], &self.named[b]);
        let (Some(za), Some(zb)) = (from.z_m, to.z_m) else {
            let lacking = if from.z_m.is_none() { from } else { to };
            let message = format!(
                "the level of {} is not known, so the tape along the ground from {} to {} cannot be reduced",
                lacking.name, from.name, to.name
            );
            let help = format!(
                "shoot {0}, give it a level (`{0} = [x, y, level]` under `[control] corners`), or hold the tapes level",
                lacking.name
            );
            self.said.say(
                Diagnostic::error("no-level", message)
                    .at(tape.at.clone())
                    .help(help),
            );
            return None;
        };
        let level_m = level_length_m(tape.length_m, zb - za);
        if level_m.is_none() {
            let message = format!(
                "the tape of {} from {} to {} is shorter than the height between them, {}",
                words::length(self.unit, tape.length_m),
                from.name,
                to.name,
                words::length(self.unit, (zb - za).abs())
            );
            self.said.say(
                Diagnostic::error("short-tape", message)
                    .at(tape.at.clone())
                    .help("check the tape and both levels"),
            );
        }
        level_m
    }

    /// The error for a corner that nothing gives a place.
    pub(super) fn unknown_corner(&mut self, name: &str, at: At) {
        let message = format!("the place of the corner {name} is not known");
        let fault = Diagnostic::error("unknown-corner", message).at(at);
        // Looking for a name that is near takes as long as there are names.
        if self.said.is_full(fault.code) {
            return self.said.say(fault);
        }
        let known = self.named.iter().filter(|n| n.place.is_some());
        let known = known.map(|n| n.name.as_str());
        let help = match nearest(name, known) {
            Some(near) => format!("is {near} meant? Otherwise give {name} a place"),
            None => format!(
                "give it a place: `{name} = [0.0, 0.0]` under `[control] corners`, `--corner {name}=0,0`, \
                 or a row of its own with tapes from the other corners"
            ),
        };
        self.said.say(fault.help(help));
    }

    /// Lists the corners by name.
    fn tell_corners(&mut self) {
        let mut corners: Vec<CornerFix> = Vec::new();
        for named in self.named.iter().filter(|named| named.is_corner) {
            if let Some(place_nm) = named.place {
                corners.push(CornerFix {
                    name: named.name.clone(),
                    place_nm,
                    is_given: named.is_given,
                    ellipse: named.ellipse,
                });
            }
        }
        corners.sort_by(|a, b| a.name.cmp(&b.name));
        self.found.corners = corners;
    }

    /// Notes a place found for a name.
    pub(super) fn settle(&mut self, index: usize, place: (i64, i64), ellipse: Option<Ellipse>) {
        let named = &mut self.named[index];
        named.place = Some(place);
        named.ellipse = ellipse;
        self.found.by_name.insert(named.name.clone(), place);
    }
}
