//! Points of unknown level that were read more than once: the readings must agree.
//!
//! Takes a book that has been gone through once (`reduce`), gives the pairs of readings with
//! their differences, in numbers and in words. Shares nothing out and refuses nothing.

use std::collections::BTreeMap;

use crate::diag::Diagnostic;
use crate::units::NM_PER_M;

use super::book::{LevelBook, Reread, SightKind};
use super::levels::BookedSight;
use super::reduce::{Tested, Work};
use super::{PointClass, words};

/// Difference of two shots of one spot of soft ground, metres: 0.1 ft, to which ground is shot
/// (trade judgment, no source).
const SOIL_M: f64 = 0.1 * 0.3048;

/// Rereads beyond the allowance that are spoken of one by one.
const MAX_SAID: usize = 10;

impl Work<'_> {
    /// Every reading on a point of unknown level, held against the one before it.
    ///
    /// The backsight that a plane was found from is no reading of its own. A name that two shots
    /// of one set-up carry is a label, not a point; nor are two readings at two places one point.
    pub(crate) fn read_twice(&self) -> Vec<Tested> {
        let sights = &self.booked.sights;
        let mut of_point: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
        for (index, sight) in sights.iter().enumerate() {
            let defines = self.stations[sight.setup].backsight == index;
            if !defines && !self.booked.known.contains_key(&sight.point) {
                of_point.entry(&sight.point).or_default().push(index);
            }
        }
        let mut found: Vec<Tested> = of_point
            .values()
            .filter(|readings| readings.len() > 1 && !self.is_label(readings))
            .flat_map(|readings| readings.windows(2))
            .filter(|pair| places_agree(&sights[pair[0]], &sights[pair[1]]))
            .map(|pair| self.reread(pair[0], pair[1]))
            .collect();
        found.sort_by_key(|t| t.sight);
        found
    }

    /// True if two shots of one set-up carry the name.
    fn is_label(&self, readings: &[usize]) -> bool {
        let sights = &self.booked.sights;
        let shot = |i: usize| sights[i].kind == SightKind::Intermediate;
        readings.windows(2).any(|pair| {
            sights[pair[0]].setup == sights[pair[1]].setup && shot(pair[0]) && shot(pair[1])
        })
    }

    /// One pair of readings and what they may differ by: the allowance for the set-ups between
    /// them, at least a tenth of a foot where both are shots of soft ground.
    fn reread(&self, first: usize, second: usize) -> Tested {
        let soft = |i: usize| {
            let sight = &self.booked.sights[i];
            sight.kind == SightKind::Intermediate
                && PointClass::of_code(&sight.code) == PointClass::Soil
        };
        let (setups, length_nm) = self.between(first, second);
        let length_m = length_nm as f64 / NM_PER_M;
        let allowed_m = self.spec.allow.allowed_m(setups, length_m);
        Tested {
            sight: second,
            against: Some(first),
            misclosure_nm: self.elevation_nm[second] - self.elevation_nm[first],
            allowed_m: if soft(first) && soft(second) {
                allowed_m.max(SOIL_M)
            } else {
                allowed_m
            },
        }
    }

    /// Set-ups on the way from one reading to the other, and its length (zero unless the
    /// allowance asks for it).
    fn between(&self, first: usize, second: usize) -> (usize, i128) {
        let by_length = self.spec.allow.by_length();
        let setup = |sight: usize| self.booked.sights[sight].setup;
        // A set-up without distances adds nothing here; the checks have refused it if it counts.
        let along = |sight: usize| match by_length {
            true => self.length_nm(sight).unwrap_or(0),
            false => 0,
        };
        let (mut a, mut b) = (setup(first), setup(second));
        let (one, other) = (&self.stations[a], &self.stations[b]);
        if one.root != other.root {
            let length_nm = one.before_nm + along(first) + other.before_nm + along(second);
            return (one.depth + other.depth, length_nm);
        }
        let (mut setups, mut length_nm) = (1, along(first) + along(second));
        while a != b {
            // A set-up hangs on an earlier one: the later of the two is left.
            let later = a.max(b);
            let Some(by) = self.stations[later].carried_by else {
                break;
            };
            setups += 1;
            length_nm += along(by);
            if later == a {
                a = setup(by);
            } else {
                b = setup(by);
            }
        }
        (setups, length_nm)
    }

    /// The pairs as they are given to people.
    pub(crate) fn rereads(&self) -> Vec<Reread> {
        let sights = &self.booked.sights;
        let reread = |t: &Tested| {
            let first = &sights[t.against?];
            let second = &sights[t.sight];
            let setup = |sight: &BookedSight| self.booked.setups[sight.setup].name.clone();
            Some(Reread {
                name: second.point.clone(),
                lines: [first.line, second.line],
                setups: [setup(first), setup(second)],
                difference_m: t.misclosure_nm as f64 / NM_PER_M,
                allowed_m: t.allowed_m,
            })
        };
        self.reread.iter().filter_map(reread).collect()
    }

    /// The pairs that differ by more than readings do, in words.
    pub(crate) fn say_rereads(&self, book: &LevelBook) -> Vec<Diagnostic> {
        let broken: Vec<&Tested> = self.reread.iter().filter(|t| !t.holds()).collect();
        let mut said: Vec<Diagnostic> = broken
            .iter()
            .take(MAX_SAID)
            .filter_map(|t| Some((t.against?, t.sight, *t)))
            .map(|(first, second, t)| {
                let sights = &self.booked.sights;
                let setup = |i: usize| &self.booked.setups[sights[i].setup].name;
                let off_m = t.misclosure_nm as f64 / NM_PER_M;
                let where_from = if setup(first) == setup(second) {
                    format!("read twice from set-up {}", setup(first))
                } else {
                    format!("read from set-ups {} and {}", setup(first), setup(second))
                };
                let message = format!(
                    "{}, {where_from}, comes out {} {} the second time; {} is allowed",
                    sights[second].point,
                    words::length(self.spec, off_m.abs()),
                    if off_m > 0.0 { "higher" } else { "lower" },
                    words::length(self.spec, t.allowed_m),
                );
                let help = match words::suspects(book) {
                    Some(looks) => format!("{looks}; if these are two spots, give them two names"),
                    None => "read it again; if these are two spots, give them two names".to_owned(),
                };
                Diagnostic::warn("points-differ", message)
                    .at(self.at(first))
                    .at(self.at(second))
                    .help(help)
            })
            .collect();
        if broken.len() > MAX_SAID {
            let more = broken.len() - MAX_SAID;
            said.push(Diagnostic::warn(
                "points-differ",
                format!("and {more} more points that differ"),
            ));
        }
        said
    }
}

/// False for two readings booked at two places: two spots of one name.
fn places_agree(one: &BookedSight, other: &BookedSight) -> bool {
    match (one.place, other.place) {
        (Some(a), Some(b)) => a == b,
        _ => true,
    }
}
