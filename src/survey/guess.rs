//! Every slip that can have moved one check of a book, as changes to its readings.
//!
//! Takes a book that has been gone through once (`reduce`) and a broken check, gives guesses.
//! Does not ask whether a guess explains anything: that is `blunder`.

use crate::job::{Rod, RodKind};
use crate::units::NM_PER_M;

use super::book::SightKind;
use super::reduce::{Tested, Work};
use super::rod::as_booked;
use super::slips::{Slip, readings_meant};

/// How rare a laser is that moved in a set-up whose backsight was not read again: it explains
/// any misclosure, so a slip that fits is told first.
const MOVED_UNSEEN: f64 = 4.0;

/// The most that a laser moves in a set-up without anybody seeing it, metres. Judgment.
const MOST_UNSEEN_M: f64 = 0.5;

/// How rare a wrong given level is that only one reading speaks for.
const LEVEL_ONCE: f64 = 3.0;

/// A slip that would explain a run: changes to the depths below the plane.
pub(super) struct Guess {
    pub(super) slip: Slip,
    /// How rare such a slip is, on the scale of [`Slip::rarity`].
    pub(super) rarity: f64,
    pub(super) sight: usize,
    /// Sights and what their depth below the plane would grow by, nm.
    pub(super) changes: Vec<(usize, i64)>,
    pub(super) would_be: String,
    pub(super) would_be_m: f64,
    pub(super) other: Option<usize>,
}

/// The sight by which a check leaves a set-up on its way back to the start.
struct WayOut {
    setup: usize,
    sight: usize,
    /// By how much the check must be let down for each unit that the sight is too high: one, or
    /// minus one on the way of the reading it is held against.
    lifts: i64,
}

impl Work<'_> {
    /// Everything that can have moved a check.
    pub(super) fn guesses(&self, worst: &Tested, longest_nm: i64, marks: &[usize]) -> Vec<Guess> {
        let sights = &self.booked.sights;
        let mut carrying: Vec<usize> = Vec::new();
        let mut ways: Vec<WayOut> = Vec::new();
        let ends = [(Some(worst.sight), 1), (worst.against, -1)];
        for (end, lifts) in ends {
            let mut next = end;
            while let Some(sight) = next {
                let setup = sights[sight].setup;
                carrying.extend([sight, self.stations[setup].backsight]);
                ways.push(WayOut {
                    setup,
                    sight,
                    lifts,
                });
                next = self.stations[setup].carried_by;
            }
        }
        carrying.sort_unstable();
        carrying.dedup();
        ways.sort_by_key(|way| way.setup);
        let mut guesses = Vec::new();
        for &sight in &carrying {
            self.guess_reading(sight, longest_nm, &mut guesses);
            self.guess_benchmark(sight, &mut guesses);
            self.guess_swap(sight, &mut guesses);
        }
        for out in ways.chunk_by(|a, b| a.setup == b.setup) {
            self.guess_moved(out, worst, marks, &mut guesses);
        }
        self.guess_level(worst, &mut guesses);
        guesses
    }

    /// Sights that a check or a later set-up hangs on, in booked order.
    pub(super) fn marks(&self) -> Vec<usize> {
        let checks = self.tested.iter().chain(&self.reread);
        let ends = checks.flat_map(|t| [Some(t.sight), t.against]).flatten();
        let carriers = self.stations.iter().filter_map(|s| s.carried_by);
        let mut marks: Vec<usize> = ends.chain(carriers).collect();
        marks.sort_unstable();
        marks.dedup();
        marks
    }

    /// Another reading of the same rod.
    fn guess_reading(&self, sight: usize, longest_nm: i64, guesses: &mut Vec<Guess>) {
        let booked = &self.booked.sights[sight];
        let rod = self.booked.setups[booked.setup].rod;
        let heights = self.spec.z_units;
        for (slip, nm) in readings_meant(rod, heights, &booked.rod, longest_nm) {
            let deeper = nm - booked.rod.nm;
            guesses.push(Guess {
                slip,
                rarity: slip.rarity(),
                sight,
                changes: vec![(sight, self.deeper(sight, deeper))],
                would_be: as_booked(rod.kind, heights, shown_m(rod, nm)),
                would_be_m: nm as f64 / NM_PER_M,
                other: None,
            });
        }
    }

    /// A change of a reading as a change of the depth below the plane.
    fn deeper(&self, sight: usize, reading_nm: i64) -> i64 {
        if self.rod(sight) == RodKind::Direct {
            -reading_nm
        } else {
            reading_nm
        }
    }

    /// The same reading on another point of given level.
    fn guess_benchmark(&self, sight: usize, guesses: &mut Vec<Guess>) {
        let booked = &self.booked.sights[sight];
        let Some(&(known_nm, _)) = self.booked.known.get(&booked.point) else {
            return;
        };
        for (name, &(other_nm, _)) in &self.booked.known {
            if other_nm != known_nm {
                // A plane found from a higher point is higher, as from a longer reading.
                guesses.push(Guess {
                    slip: Slip::OtherBenchmark,
                    rarity: Slip::OtherBenchmark.rarity(),
                    sight,
                    changes: vec![(sight, other_nm - known_nm)],
                    would_be: format!("on {name}"),
                    would_be_m: booked.rod.metres(),
                    other: None,
                });
            }
        }
    }

    /// A sight and the backsight of its set-up, or of the set-up begun on it, changed over.
    fn guess_swap(&self, sight: usize, guesses: &mut Vec<Guess>) {
        let sights = &self.booked.sights;
        if sights[sight].kind != SightKind::Foresight {
            return;
        }
        let own = self.stations[sights[sight].setup].backsight;
        let next = self.stations.get(sights[sight].setup + 1);
        let next = next.filter(|s| s.carried_by == Some(sight));
        for other in [Some(own), next.map(|s| s.backsight)].into_iter().flatten() {
            let alike = self.booked.setups[sights[sight].setup].rod
                == self.booked.setups[sights[other].setup].rod;
            let by_nm = self.down_nm(other) - self.down_nm(sight);
            if alike && by_nm != 0 {
                guesses.push(Guess {
                    slip: Slip::SightsSwapped,
                    rarity: Slip::SightsSwapped.rarity(),
                    sight,
                    changes: vec![(sight, by_nm), (other, -by_nm)],
                    would_be: sights[other].rod.text.clone(),
                    would_be_m: sights[other].rod.metres(),
                    other: Some(other),
                });
            }
        }
    }

    /// A laser that sank or was knocked in a set-up: one guess for each stretch of the set-up
    /// between two sights that a check or a later set-up hangs on.
    fn guess_moved(
        &self,
        out: &[WayOut],
        worst: &Tested,
        marks: &[usize],
        guesses: &mut Vec<Guess>,
    ) {
        let Some(setup) = out.first().map(|way| way.setup) else {
            return;
        };
        let sights = &self.booked.sights;
        let own = self.stations[setup].backsight;
        let range = &self.ranges[setup];
        let marked = |sight: usize| marks.partition_point(|&mark| mark < sight);
        let marks = &marks[marked(own + 1)..marked(range.end)];
        // Reading the point of the backsight again is what shows a laser that moved.
        let read_again = marks.iter().any(|&i| sights[i].point == sights[own].point);
        let rod = self.booked.setups[setup].rod;
        let mut stood = own;
        for (index, &from) in marks.iter().enumerate() {
            let lifts: i64 = out
                .iter()
                .filter(|way| way.sight >= from)
                .map(|way| way.lifts)
                .sum();
            let far = worst.misclosure_nm.abs() as f64 > MOST_UNSEEN_M * NM_PER_M;
            if lifts != 0 && (read_again || !far) {
                let deeper_nm = worst.misclosure_nm * lifts;
                let nm = sights[from].rod.nm + self.deeper(from, deeper_nm);
                guesses.push(Guess {
                    slip: Slip::LaserMoved,
                    rarity: if read_again {
                        Slip::LaserMoved.rarity()
                    } else {
                        MOVED_UNSEEN
                    },
                    sight: from,
                    changes: marks[index..].iter().map(|&i| (i, deeper_nm)).collect(),
                    would_be: as_booked(rod.kind, self.spec.z_units, shown_m(rod, nm)),
                    would_be_m: nm as f64 / NM_PER_M,
                    other: Some(stood),
                });
            }
            stood = from;
        }
    }

    /// A given level that is wrong, or a benchmark that has moved: only where other checks hold,
    /// or where two readings of it say the same.
    fn guess_level(&self, worst: &Tested, guesses: &mut Vec<Guess>) {
        let sights = &self.booked.sights;
        let point = &sights[worst.sight].point;
        let Some(&(known_nm, _)) = self.booked.known.get(point) else {
            return;
        };
        let root = self.root(worst.sight);
        let of_run = || self.tested.iter().filter(|t| self.root(t.sight) == root);
        let read = of_run().filter(|t| sights[t.sight].point == *point).count();
        let held = of_run().any(|t| t.holds() && sights[t.sight].point != *point);
        if read < 2 && !held {
            return;
        }
        let level_m = (known_nm + worst.misclosure_nm) as f64 / NM_PER_M;
        guesses.push(Guess {
            slip: Slip::GivenLevel,
            rarity: if read > 1 {
                Slip::GivenLevel.rarity()
            } else {
                LEVEL_ONCE
            },
            sight: worst.sight,
            changes: (0..sights.len())
                .filter(|&i| sights[i].point == *point)
                .map(|i| (i, worst.misclosure_nm))
                .collect(),
            would_be: as_booked(RodKind::Direct, self.spec.z_units, level_m),
            would_be_m: sights[worst.sight].rod.metres(),
            other: None,
        });
    }
}

/// A reading as it is booked, metres: without its sign on a rod declared upside down.
fn shown_m(rod: Rod, nm: i64) -> f64 {
    let metres = nm as f64 / NM_PER_M;
    if rod.upside_down { -metres } else { metres }
}
