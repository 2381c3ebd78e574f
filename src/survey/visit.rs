//! A quick visit: a few rods and paced distances, and no coordinates.
//!
//! Takes the levels of named points and the distances between pairs of them; gives how far apart
//! in level each pair is and how steep the way between. Knows no ground: what lies between two
//! points is not known here.

use std::collections::BTreeMap;

use crate::diag::{At, Diagnostic};
use crate::units::Slope;

use super::LevelBook;
use super::entry::{Entry, Whereabouts};

/// How far a paced distance may be off, as a share of it: common practice, no source. A trained
/// pace on a slope does better, a pace over beds and steps worse.
pub const PACED_ERROR: f64 = 0.05;

/// How a distance was measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Way {
    /// With a tape.
    Taped,
    /// By paces.
    Paced,
}

/// A distance between two named points, as booked.
#[derive(Clone, Debug, PartialEq)]
pub struct Distance {
    /// The point it was measured from.
    pub from: String,
    /// The point it was measured to.
    pub to: String,
    /// Along the level, metres.
    pub length_m: f64,
    /// How.
    pub way: Way,
    /// File and line.
    pub at: At,
}

/// Two points with their difference of level and the distance between.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Leg {
    /// The higher point.
    pub upper: String,
    /// The lower point.
    pub lower: String,
    /// Upper above lower, metres; 0 or more.
    pub rise_m: f64,
    /// Along the level, metres.
    pub distance_m: f64,
    /// How the distance was measured.
    pub way: Way,
    /// File and line of the distance.
    pub at: At,
}

impl Leg {
    /// The slope from one to the other in a straight line.
    pub fn slope(&self) -> Slope {
        Slope::from_rise_per_run(self.rise_m / self.distance_m)
    }

    /// The flattest and steepest it may be, for what pacing may be off; one slope if it was taped.
    pub fn slope_range(&self) -> (Slope, Slope) {
        let off = match self.way {
            Way::Taped => 0.0,
            Way::Paced => PACED_ERROR,
        };
        let at = |factor: f64| Slope::from_rise_per_run(self.rise_m / (self.distance_m * factor));
        (at(1.0 + off), at(1.0 - off))
    }
}

/// A point with its level.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Levelled {
    /// Name as booked.
    pub name: String,
    /// Its level, metres.
    pub level_m: f64,
    /// File and line of the reading.
    pub at: At,
}

/// What a quick visit tells.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize)]
pub struct Visit {
    /// Points from the highest to the lowest, each once.
    pub points: Vec<Levelled>,
    /// Pairs with a distance, in booked order.
    pub legs: Vec<Leg>,
}

/// True if these entries are no more than a visit: heights, and distances that place nothing.
/// Two tapes to one point may place it, and so may any coordinates.
pub(super) fn is_visit(entries: &[Entry]) -> bool {
    let mut tapes_to: BTreeMap<&str, usize> = BTreeMap::new();
    entries.iter().any(|entry| entry.z_m.is_some())
        && entries.iter().all(|entry| match &entry.whereabouts {
            None => true,
            Some(Whereabouts::Tapes { tapes, .. }) => {
                let count = tapes_to.entry(&entry.name).or_default();
                *count += tapes.len();
                *count < 2
            }
            Some(_) => false,
        })
}

impl Visit {
    /// What books and their entries tell, and what is doubtful about it.
    pub(super) fn of_entries(entries: &[Entry], books: &[LevelBook]) -> (Visit, Vec<Diagnostic>) {
        let levels = entries.iter().filter_map(|entry| {
            Some(Levelled {
                name: entry.name.clone(),
                level_m: entry.z_m?,
                at: entry.at.clone(),
            })
        });
        let taped = entries.iter().flat_map(|entry| {
            let tapes = match &entry.whereabouts {
                Some(Whereabouts::Tapes { tapes, .. }) => tapes.as_slice(),
                _ => &[],
            };
            tapes.iter().map(|tape| Distance {
                from: tape.corner.clone(),
                to: entry.name.clone(),
                length_m: tape.length_m,
                way: Way::Taped,
                at: tape.at.clone(),
            })
        });
        let mut distances: Vec<Distance> = taped.collect();
        distances.extend(books.iter().flat_map(|book| book.paced.iter().cloned()));
        distances.sort_by(|a, b| (&a.at.file, a.at.line).cmp(&(&b.at.file, b.at.line)));
        let visit = Visit::of(levels, &distances);
        let has = |name: &str| visit.points.iter().any(|point| point.name == name);
        let said = distances
            .iter()
            .filter_map(|distance| {
                let missing = [&distance.from, &distance.to]
                    .into_iter()
                    .find(|name| !has(name))?;
                let message = format!("{missing} has no level, so no slope is told to it");
                Some(
                    Diagnostic::warn("no-level", message)
                        .at(distance.at.clone())
                        .help("book a reading on it, or name the point as it is booked"),
                )
            })
            .collect();
        (visit, said)
    }

    /// The visit that one book is, and what is doubtful about it; `None` if the book says where
    /// its points are.
    pub fn of_book(book: &LevelBook) -> Option<(Visit, Vec<Diagnostic>)> {
        let entries = book.entries();
        is_visit(&entries).then(|| Visit::of_entries(&entries, std::slice::from_ref(book)))
    }

    /// Joins levels and distances by name. A distance to a point without a level is left to the
    /// caller to speak of; the first level of a name counts.
    pub fn of(levels: impl IntoIterator<Item = Levelled>, distances: &[Distance]) -> Visit {
        let mut by_name: BTreeMap<String, Levelled> = BTreeMap::new();
        for point in levels {
            by_name.entry(point.name.clone()).or_insert(point);
        }
        let legs = distances
            .iter()
            .filter_map(|distance| {
                let (from, to) = (by_name.get(&distance.from)?, by_name.get(&distance.to)?);
                let (upper, lower) = if from.level_m >= to.level_m {
                    (from, to)
                } else {
                    (to, from)
                };
                Some(Leg {
                    upper: upper.name.clone(),
                    lower: lower.name.clone(),
                    rise_m: upper.level_m - lower.level_m,
                    distance_m: distance.length_m,
                    way: distance.way,
                    at: distance.at.clone(),
                })
            })
            .collect();
        let mut points: Vec<Levelled> = by_name.into_values().collect();
        points.sort_by(|a, b| b.level_m.total_cmp(&a.level_m));
        Visit { points, legs }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pair_is_told_from_the_higher_point() {
        // Rods 2.1 and 5.5 ft below one plane, 34 ft apart: 3.4 ft, 10 % (arithmetic).
        let levelled = |name: &str, feet: f64| Levelled {
            name: name.into(),
            level_m: feet * 0.3048,
            at: At::default(),
        };
        let distance = |from: &str, to: &str, way| Distance {
            from: from.into(),
            to: to.into(),
            length_m: 34.0 * 0.3048,
            way,
            at: At::default(),
        };
        let visit = Visit::of(
            [levelled("basin", 98.0), levelled("head", 101.4)],
            &[
                distance("basin", "head", Way::Paced),
                distance("head", "basin", Way::Taped),
                distance("head", "gate", Way::Taped),
            ],
        );
        assert_eq!(visit.points[0].name, "head");
        assert_eq!(visit.legs.len(), 2);
        for leg in &visit.legs {
            assert_eq!((&*leg.upper, &*leg.lower), ("head", "basin"));
            assert!((leg.rise_m / 0.3048 - 3.4).abs() < 1e-12);
            assert!((leg.slope().rise_per_run() - 0.1).abs() < 1e-12);
        }
        let (flat, steep) = visit.legs[0].slope_range();
        assert!((flat.rise_per_run() - 0.1 / 1.05).abs() < 1e-12);
        assert!((steep.rise_per_run() - 0.1 / 0.95).abs() < 1e-12);
        let (flat, steep) = visit.legs[1].slope_range();
        assert_eq!(flat, steep);
    }
}
