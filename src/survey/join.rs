//! Places and heights of one name brought together.
//!
//! Takes the entries of all files and the places found by tape, gives shots with both, and says
//! what is left with one of them only.

use std::collections::{BTreeMap, BTreeSet};

use crate::diag::{At, Diagnostic};

use super::entry::{Entry, Role};
use super::tie::Places;
use super::{PointClass, RawShot};

/// Names that a diagnostic lists before it says how many more there are.
const MAX_NAMED: usize = 12;

/// What is known of the place of a name.
#[derive(Default)]
struct Known {
    /// Coordinates of the first row that has them, and no height.
    bare: Option<(i64, i64)>,
    /// True if a row has coordinates and a height.
    is_whole: bool,
    /// True if a row has a height.
    has_height: bool,
    /// Code of the row that says the place.
    code: String,
}

/// Shots in the order of the rows that give their heights.
pub(super) fn join(
    entries: Vec<Entry>,
    places: &Places,
    said: &mut Vec<Diagnostic>,
) -> Vec<RawShot> {
    let mut known: BTreeMap<&str, Known> = BTreeMap::new();
    for entry in entries
        .iter()
        .filter(|e| e.coordinates().is_none() || e.z_m.is_none())
    {
        known.entry(&entry.name).or_default();
    }
    if known.is_empty() {
        return entries.into_iter().filter_map(whole).collect();
    }
    for entry in &entries {
        let Some(known) = known.get_mut(&*entry.name) else {
            continue;
        };
        known.has_height |= entry.z_m.is_some();
        match (entry.coordinates(), entry.z_m) {
            (Some(_), Some(_)) => known.is_whole |= entry.role != Role::Control,
            (Some(place), None) => known.bare = known.bare.or(Some(place)),
            (None, _) => {}
        }
        if entry.z_m.is_none() && known.code.is_empty() {
            known.code.clone_from(&entry.code);
        }
    }
    let undecided: BTreeSet<&str> = places.unplaced.iter().map(|u| u.name.as_str()).collect();
    let corners: BTreeMap<&str, (i64, i64)> = places
        .corners
        .iter()
        .map(|c| (c.name.as_str(), c.place_nm))
        .collect();
    let mut shots = Vec::new();
    let mut left = Left::default();
    for entry in &entries {
        let about = known.get(&*entry.name);
        let by_name = places.by_name.get(&entry.name).copied();
        let corner = corners.get(&*entry.name).copied();
        let Some(z_m) = entry.z_m else {
            let has_height = about.is_some_and(|k| k.has_height);
            let is_said = undecided.contains(&*entry.name);
            if !has_height && corner.is_none() && !is_said {
                // A row of a level book without a reading is mostly a corner of the house.
                match entry.role {
                    Role::Turning => left.corner.add(entry),
                    Role::Ground | Role::Control => left.no_height.add(entry),
                }
            }
            continue;
        };
        if entry.role == Role::Control {
            continue;
        }
        let place = match (entry.coordinates(), about) {
            (Some(place), _) => Some(place),
            // A second reading on a shot that has its place and height already.
            (None, Some(known)) if known.is_whole => {
                if entry.role == Role::Ground {
                    left.again.add(entry);
                }
                continue;
            }
            // A corner of the job that was shot is ground as any other shot.
            (None, known) => known.and_then(|k| k.bare).or(by_name).or(corner),
        };
        let Some((x_nm, y_nm)) = place else {
            if entry.role == Role::Ground && !undecided.contains(&*entry.name) {
                left.no_place.add(entry);
            }
            continue;
        };
        let mut code = entry.code.clone();
        if code.is_empty()
            && let Some(known) = about
        {
            code.clone_from(&known.code);
        }
        shots.push(RawShot {
            name: entry.name.clone(),
            x_nm,
            y_nm,
            z_m,
            class: PointClass::of_code(&code),
            code,
            at: entry.at.clone(),
        });
    }
    left.say(said);
    shots
}

/// A row with place and height, unless it is a point of given level.
fn whole(entry: Entry) -> Option<RawShot> {
    let ((x_nm, y_nm), z_m) = entry.coordinates().zip(entry.z_m)?;
    (entry.role != Role::Control).then_some(RawShot {
        name: entry.name,
        x_nm,
        y_nm,
        z_m,
        code: entry.code,
        class: entry.class,
        at: entry.at,
    })
}

/// Names that are left over, and where the first one stands.
#[derive(Default)]
struct Names {
    names: Vec<String>,
    count: usize,
    at: Vec<At>,
}

impl Names {
    fn add(&mut self, entry: &Entry) {
        if self.names.last() == Some(&entry.name) {
            return;
        }
        self.count += 1;
        if self.names.len() < MAX_NAMED {
            self.names.push(entry.name.clone());
        }
        if self.at.is_empty() {
            self.at.push(entry.at.clone());
        }
    }

    /// `17, 18 and 5 more`.
    fn words(&self) -> String {
        let mut text = self.names.join(", ");
        if self.count > self.names.len() {
            text.push_str(&format!(" and {} more", self.count - self.names.len()));
        }
        text
    }
}

/// What is left with a place or a height only.
#[derive(Default)]
struct Left {
    no_place: Names,
    no_height: Names,
    corner: Names,
    again: Names,
}

impl Left {
    fn say(self, said: &mut Vec<Diagnostic>) {
        let mut say = |names: Names, fault: Diagnostic| {
            if names.count > 0 {
                said.push(Diagnostic {
                    at: names.at,
                    ..fault
                });
            }
        };
        let words = self.no_place.words();
        let message = format!("a height but no place, so no part of the ground: {words}");
        let fault = Diagnostic::warn("no-place", message).help(
            "give x and y, or tapes from two corners, in this row or in a row of the same name in any file",
        );
        say(self.no_place, fault);
        let words = self.no_height.words();
        let message = format!("a place but no height, so no part of the ground: {words}");
        let fault = Diagnostic::warn("no-height", message)
            .help("give a height in this row, or a reading in a level book under the same name");
        say(self.no_height, fault);
        let words = self.corner.words();
        let message = format!("a place and no reading, so no part of the ground: {words}");
        let fault = Diagnostic::note("no-reading", message)
            .help("a corner of the house needs none; else book a reading on it");
        say(self.corner, fault);
        let words = self.again.words();
        let message = format!(
            "read again without a place; the place and height of another row are kept: {words}"
        );
        let fault = Diagnostic::note("read-again", message)
            .help("give the second reading its own x and y if it is meant as a shot of its own");
        say(self.again, fault);
    }
}
