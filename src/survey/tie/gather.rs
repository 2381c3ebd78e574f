//! All rows and all lines of the job that speak of one name, brought together.
//!
//! Takes entries and `[control]`, fills the list of names and says where two rows contradict.
//! Places nothing.

use crate::diag::{At, Diagnostic};
use crate::job::Place;
use crate::survey::entry::{Entry, Tape, Whereabouts};

use super::place::{Named, Search};

impl Search<'_> {
    /// Brings all rows of a name together.
    pub(super) fn gather(&mut self, entries: &[Entry]) {
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
                    let ends = [frame.origin.clone(), frame.towards.clone()];
                    for (place, at) in ends.into_iter().flatten() {
                        if let Place::Shot(name) = place {
                            self.corner(&name, &at);
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
