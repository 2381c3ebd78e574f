//! From names to places: every corner first, then every shot that tapes, offsets, bearings or
//! grid lines lead to.
//!
//! Takes the entries of all files and the job's `[control]`, gives a place for each name that
//! has one, how it was found, and what is to be said of it. Knows no file format and no ground.

use std::collections::BTreeMap;

use crate::diag::{At, Diagnostic, nearest};
use crate::job::{ControlSpec, GridSpec, Place, Side, Tapes};
use crate::survey::entry::{Entry, GridLine, Tape, Whereabouts};
use crate::units::{LengthUnit, MAX_COORDINATE_M, NM_PER_M};

use super::circle::{Plan, level_length_m};
use super::fix::Ellipse;
use super::result::{CornerFix, TieFix, Undecided, Way};
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
    index: BTreeMap<String, usize>,
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
    fn add(&mut self, name: &str, at: &At) -> usize {
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
    fn corner(&mut self, name: &str, at: &At) -> usize {
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

    /// Brings all rows of a name together.
    fn gather(&mut self, entries: &[Entry]) {
        let control = self.control;
        // Names of the file come first as they are spelled there, each by itself.
        for entry in entries {
            let index = match self.index.get(&entry.name) {
                Some(&index) => index,
                None => self.add(&entry.name, &entry.at),
            };
            let named = &mut self.named[index];
            named.z_m = named.z_m.or(entry.z_m);
            match &entry.whereabouts {
                None => {}
                Some(Whereabouts::Coordinates { x_nm, y_nm }) => {
                    named.place = named.place.or(Some((*x_nm, *y_nm)));
                    named.is_given = true;
                }
                Some(way) => {
                    if let Some(fault) = join(named, way, &entry.at) {
                        self.said.say(fault);
                    }
                }
            }
        }
        for corner in &control.corners {
            let index = self.corner(&corner.name, &corner.at);
            let named = &mut self.named[index];
            if named.is_given && named.place != Some(corner.place_nm) {
                let message = format!("the corner {} is given two places", named.name);
                let other = named.at.clone();
                self.said.say(
                    Diagnostic::error("corner-twice", message)
                        .at(corner.at.clone())
                        .at(other)
                        .help("keep the one that is right"),
                );
                continue;
            }
            named.place = Some(corner.place_nm);
            named.is_given = true;
            named.z_m = corner.level_m.or(named.z_m);
        }
        if let Some((from, to, at)) = &control.baseline {
            for end in [from, to] {
                self.corner(end, at);
            }
        }
        for distance in &control.distances {
            for end in [&distance.from, &distance.to] {
                self.corner(end, &distance.at);
            }
        }
        for index in 0..self.named.len() {
            let tapes: Vec<Tape> = match &self.named[index].way {
                Some(Whereabouts::Tapes { tapes, .. }) => tapes.clone(),
                Some(Whereabouts::Bearing { tape, .. }) => vec![tape.clone()],
                Some(Whereabouts::Grid {
                    frame: Some(frame), ..
                }) => {
                    for (place, at) in frame.clone().origin.iter().chain(&frame.clone().towards) {
                        if let Place::Shot(name) = place {
                            self.corner(name, at);
                        }
                    }
                    Vec::new()
                }
                _ => Vec::new(),
            };
            for tape in tapes {
                let corner = self.corner(&tape.corner, &tape.at);
                if corner == index {
                    let message = format!("a tape from {} to itself", tape.corner);
                    self.said.say(
                        Diagnostic::error("bad-tape", message)
                            .at(tape.at.clone())
                            .help("name another corner, or leave the cell blank"),
                    );
                }
            }
        }
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
        let known: Vec<&str> = self
            .named
            .iter()
            .filter(|n| n.place.is_some())
            .map(|n| n.name.as_str())
            .collect();
        let help = match nearest(name, known) {
            Some(near) => format!("is {near} meant? Otherwise give {name} a place"),
            None => format!(
                "give it a place: `{name} = [0.0, 0.0]` under `[control] corners`, `--corner {name}=0,0`, \
                 or a row of its own with tapes from the other corners"
            ),
        };
        let message = format!("the place of the corner {name} is not known");
        self.said.say(
            Diagnostic::error("unknown-corner", message)
                .at(at)
                .help(help),
        );
    }

    /// Where a name lies that is placed by an offset, a bearing or a grid, if what it hangs on is
    /// placed already.
    pub(super) fn place_beside(&mut self, index: usize) -> Option<(i64, i64)> {
        if let Some(Whereabouts::Tapes { .. }) = self.named[index].way {
            return None;
        }
        match self.named[index].way.clone()? {
            Whereabouts::Offset { station_m, left_m } => {
                let (origin, along, _) = self.baseline()?;
                Self::absolute(
                    origin,
                    [
                        along[0] * station_m - along[1] * left_m,
                        along[1] * station_m + along[0] * left_m,
                    ],
                )
            }
            Whereabouts::Bearing { tape, toward } => {
                let corner = self.find(&tape.corner)?;
                let from = self.named[corner].place?;
                let length_m = self.level_m(corner, index, &tape)?;
                Self::absolute(from, [toward[0] * length_m, toward[1] * length_m])
            }
            Whereabouts::Grid { column, row, frame } => {
                let frame = frame.as_deref();
                let (across_m, along_m) = self.crossing(index, &column, &row, frame)?;
                let (origin, along, side) = self.grid_frame(frame)?;
                let left_m = if side == Side::Left {
                    along_m
                } else {
                    -along_m
                };
                Self::absolute(
                    origin,
                    [
                        along[0] * across_m - along[1] * left_m,
                        along[1] * across_m + along[0] * left_m,
                    ],
                )
            }
            Whereabouts::Coordinates { .. } | Whereabouts::Tapes { .. } => None,
        }
    }

    /// Start and direction of the baseline, and the names of its ends.
    pub(super) fn baseline(&self) -> Option<((i64, i64), Plan, [usize; 2])> {
        let (from, to, _) = self.control.baseline.as_ref()?;
        let (from, to) = (self.find(from)?, self.find(to)?);
        let (start, end) = (self.named[from].place?, self.named[to].place?);
        Some((start, direction(start, end)?, [from, to]))
    }

    /// Distances of a crossing along the columns and along the rows, metres.
    fn crossing(
        &mut self,
        index: usize,
        column: &GridLine,
        row: &GridLine,
        frame: Option<&GridSpec>,
    ) -> Option<(f64, f64)> {
        let spacing = frame
            .and_then(|frame| frame.spacing_m)
            .or(self.control.spacing_m);
        let metres = |line: &GridLine, spacing_m: Option<f64>| match (line, spacing_m) {
            (GridLine::At(m), _) | (GridLine::Named(_, Some(m)), None) => Some(*m),
            (GridLine::Nth(n), Some(s)) => Some(*n as f64 * s),
            (GridLine::Named(name, _), Some(s)) => number_of(name).map(|n| n * s),
            (GridLine::Nth(_) | GridLine::Named(_, None), None) => None,
        };
        let across_m = metres(column, spacing.map(|s| s.0));
        let along_m = metres(row, spacing.map(|s| s.1));
        if across_m.is_none() || along_m.is_none() {
            let at = self.named[index].at.clone();
            let fault = match spacing {
                None => Diagnostic::error("no-spacing", "the lines of the grid have names, but their spacing is not given")
                    .help("give it: `spacing = 10` (or `[10, 8]`) under `[control]` or at the grid, or `--spacing 10`"),
                Some(_) => Diagnostic::error("bad-line-name", "a line of the grid is named by letters or by a number")
                    .help("write A, B, C (A is the first) or 0, 1, 2"),
            };
            self.said.say(fault.at(at));
        }
        across_m.zip(along_m)
    }

    /// Where a grid begins, the direction of its columns, and the side its rows run to.
    fn grid_frame(&self, frame: Option<&GridSpec>) -> Option<((i64, i64), Plan, Side)> {
        let look_up = |place: &Place| match place {
            Place::Coordinates(x, y) => Some((*x, *y)),
            Place::Shot(name) => self.named[self.find(name)?].place,
            Place::Code(_) => None,
        };
        let own = frame.map(|frame| (frame.origin.as_ref(), frame.towards.as_ref(), frame.side));
        if let Some((origin, towards, side)) = own
            && (origin.is_some() || towards.is_some())
        {
            let start = origin.map_or(Some((0, 0)), |(place, _)| look_up(place))?;
            let along = match towards {
                Some((place, _)) => direction(start, look_up(place)?)?,
                None => [1.0, 0.0],
            };
            return Some((start, along, side));
        }
        let side = own
            .map(|(_, _, side)| side)
            .or(self.control.side)
            .unwrap_or_default();
        if self.control.baseline.is_some() {
            let (start, along, _) = self.baseline()?;
            return Some((start, along, side));
        }
        Some(((0, 0), [1.0, 0.0], side))
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

    /// How a name was placed by an offset, a bearing or a grid.
    pub(super) fn tell_beside(&mut self, index: usize, place_nm: (i64, i64)) {
        let sigma_m = self.sigma_m;
        let named = &self.named[index];
        let (way, corners, ellipse) = match &named.way {
            Some(Whereabouts::Offset { .. }) => {
                let round = Ellipse {
                    semi_major_m: sigma_m,
                    semi_minor_m: sigma_m,
                    along: [1.0, 0.0],
                };
                let ends = self.control.baseline.as_ref();
                let ends = ends.map_or(Vec::new(), |(a, b, _)| vec![a.clone(), b.clone()]);
                (Way::Offset, ends, Some(round))
            }
            Some(Whereabouts::Bearing { tape, .. }) => {
                (Way::Bearing, vec![tape.corner.clone()], None)
            }
            _ => (Way::Grid, Vec::new(), None),
        };
        let is_free = match &named.way {
            Some(Whereabouts::Grid { frame, .. }) => {
                self.control.baseline.is_none()
                    && frame
                        .as_ref()
                        .is_none_or(|f| f.origin.is_none() && f.towards.is_none())
            }
            _ => false,
        };
        if is_free {
            let message =
                "the grid has no place: its lines begin at 0, 0, columns are counted to the east";
            self.said.once(
                Diagnostic::note("assumed-place", message)
                    .at(named.at.clone())
                    .help(
                        "give `baseline` under `[control]`, or `origin` and `towards` of a grid file, \
                         if it is to meet other shots",
                    ),
            );
        }
        self.found.ties.push(TieFix {
            name: named.name.clone(),
            way,
            corners,
            place_nm,
            sin_crossing: None,
            times_error: None,
            ellipse,
            largest_residual_m: None,
            at: named.at.clone(),
        });
    }
}

/// Adds a row to what is known of a name; the fault if the two contradict.
fn join(named: &mut Named, way: &Whereabouts, at: &At) -> Option<Diagnostic> {
    match (&mut named.way, way) {
        (None, way) => {
            named.way = Some(way.clone());
            named.at = at.clone();
            None
        }
        (
            Some(Whereabouts::Tapes { tapes, side }),
            Whereabouts::Tapes {
                tapes: more,
                side: other,
            },
        ) => {
            tapes.extend(more.iter().cloned());
            let contradicts = side.is_some() && other.is_some() && side != other;
            *side = side.or(*other);
            contradicts.then(|| {
                let message = format!(
                    "{} is on the left in one row and on the right in another",
                    named.name
                );
                Diagnostic::error("bad-side", message)
                    .at(named.at.clone())
                    .at(at.clone())
                    .help("keep the side that is right")
            })
        }
        (Some(known), way) if known == way => None,
        (Some(_), _) => {
            let message = format!("two rows say in different ways where {} is", named.name);
            Some(
                Diagnostic::error("two-places", message)
                    .at(named.at.clone())
                    .at(at.clone())
                    .help("keep one of them, or give one of the points another name"),
            )
        }
    }
}

/// Unit vector from one place to another.
fn direction(from: (i64, i64), to: (i64, i64)) -> Option<Plan> {
    let [dx, dy] = Search::local(to, from);
    let length_m = dx.hypot(dy);
    (length_m > 0.0).then(|| [dx / length_m, dy / length_m])
}

/// Number of a line named by a number, or by letters with A as 0, Z as 25 and AA as 26.
fn number_of(name: &str) -> Option<f64> {
    let name = name.trim();
    if let Ok(number) = name.parse::<i32>() {
        return Some(f64::from(number));
    }
    let letters = (1..=3).contains(&name.len()) && name.bytes().all(|b| b.is_ascii_alphabetic());
    letters.then(|| {
        let value = name.bytes().fold(0, |n, b| {
            n * 26 + i32::from(b.to_ascii_uppercase() - b'A') + 1
        });
        f64::from(value - 1)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_of_a_grid_are_numbered() {
        let numbers = ["A", "b", "Z", "AA", "AB", "0", "12", "-1"].map(number_of);
        let want = [0.0, 1.0, 25.0, 26.0, 27.0, 0.0, 12.0, -1.0].map(Some);
        assert_eq!(numbers, want);
        assert_eq!(number_of("A1"), None);
    }
}
