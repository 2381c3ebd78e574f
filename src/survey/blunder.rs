//! The search for the mistake in a book that does not agree with itself.
//!
//! Takes a book that has been gone through once (`reduce`), gives the sights that can be wrong,
//! each with the reading it can have stood for. One mistake is looked for in each run.
//!
//! Every check is a sum of readings with signs: a plane rises with its backsight, a turning
//! point falls with its foresight. So a slip in one reading moves every check by a known amount,
//! or not at all. A sight is suspected if there is a slip (`slips`) that its digits allow and
//! that brings every broken check of the run within the allowance and breaks none that holds.

use serde::Serialize;

use crate::job::RodKind;
use crate::units::NM_PER_M;

use super::book::SightKind;
use super::reduce::{Tested, Work};
use super::rod::as_booked;
use super::slips::{Slip, readings_meant};

/// Suspects that are kept.
const MAX_SUSPECTS: usize = 60;

/// Suspects that much less likely than the best, on the scale of [`Slip::rarity`], are not named.
const MAX_BEHIND: f64 = 2.5;

/// A sight that can be the mistake.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Suspect {
    /// What would have gone wrong.
    pub slip: Slip,
    /// Line of the sight.
    pub line: usize,
    /// The point the rod stood on.
    pub name: String,
    /// What the sight was taken for.
    pub kind: SightKind,
    /// Set-up it was read from.
    pub setup: String,
    /// The reading as booked.
    pub booked: String,
    /// The reading as it would have been, or the benchmark it was taken on.
    pub would_be: String,
    /// The reading as it would have been, metres; as booked for another benchmark.
    pub would_be_m: f64,
    /// Line of the other sight of a swap, or of the last sight before the laser was moved.
    pub other_line: Option<usize>,
    /// What the check that is worst would then miss by, metres.
    pub misclosure_after_m: f64,
}

/// A slip that would explain a run: changes to the depths below the plane.
struct Guess {
    slip: Slip,
    sight: usize,
    /// Sights and what their depth below the plane would grow by, nm.
    changes: Vec<(usize, i64)>,
    would_be: String,
    would_be_m: f64,
    other: Option<usize>,
}

/// Which set-up hangs on which, ready to be asked.
struct Tree {
    /// First and last number of the set-ups that hang on each, itself included.
    spans: Vec<(usize, usize)>,
    /// Set-ups begun on each sight.
    begun_on: Vec<Vec<usize>>,
}

impl Tree {
    fn of(work: &Work<'_>) -> Tree {
        let count = work.stations.len();
        let mut begun_on = vec![Vec::new(); work.booked.sights.len()];
        // A set-up hangs on an earlier one, so sizes add up from the end.
        let mut sizes = vec![1; count];
        for (setup, station) in work.stations.iter().enumerate().rev() {
            if let Some(by) = station.carried_by {
                begun_on[by].push(setup);
                sizes[work.booked.sights[by].setup] += sizes[setup];
            }
        }
        let mut next_free = vec![0; count];
        let mut spans = vec![(0, 0); count];
        let mut free = 0;
        for (setup, station) in work.stations.iter().enumerate() {
            let from = match station.carried_by.map(|by| work.booked.sights[by].setup) {
                Some(parent) => {
                    let from = next_free[parent];
                    next_free[parent] += sizes[setup];
                    from
                }
                None => {
                    free += sizes[setup];
                    free - sizes[setup]
                }
            };
            next_free[setup] = from + 1;
            spans[setup] = (from, from + sizes[setup] - 1);
        }
        Tree { spans, begun_on }
    }

    /// True if a set-up hangs on another, or is it.
    fn hangs_on(&self, setup: usize, other: usize) -> bool {
        let (first, last) = self.spans[other];
        (first..=last).contains(&self.spans[setup].0)
    }
}

impl Work<'_> {
    /// The sights that can be the mistake, likeliest first, and how many more are as likely.
    pub(crate) fn suspects(&self) -> (Vec<Suspect>, usize) {
        let all: Vec<&Tested> = self.tested.iter().chain(&self.reread).collect();
        let mut broken: Vec<&Tested> = all.iter().copied().filter(|t| !t.holds()).collect();
        broken.sort_by(|a, b| b.ratio().total_cmp(&a.ratio()));
        if broken.is_empty() {
            return (Vec::new(), 0);
        }
        let tree = Tree::of(self);
        let longest_nm = (0..self.booked.sights.len())
            .filter(|&i| self.rod(i) != RodKind::Direct)
            .map(|i| self.booked.sights[i].rod.nm.abs())
            .max()
            .unwrap_or(0);
        let (mut found, mut more) = (Vec::new(), 0);
        while let Some(&worst) = broken.first() {
            let (run, others): (Vec<&Tested>, Vec<&Tested>) =
                broken.iter().copied().partition(|t| self.one_run(worst, t));
            broken = others;
            let mut scored: Vec<(f64, Guess, i64)> = self
                .guesses(worst, longest_nm)
                .into_iter()
                .filter_map(|guess| {
                    let (cost, left_nm) = self.cost(&tree, &guess, worst, &run, &all)?;
                    Some((cost, guess, left_nm))
                })
                .collect();
            scored.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.sight.cmp(&b.1.sight)));
            let best = scored.first().map_or(0.0, |s| s.0);
            scored.retain(|s| s.0 <= best + MAX_BEHIND);
            more += scored.len().saturating_sub(MAX_SUSPECTS);
            scored.truncate(MAX_SUSPECTS);
            found.extend(
                scored
                    .into_iter()
                    .map(|(_, guess, left)| self.suspect(guess, left)),
            );
        }
        (found, more)
    }

    /// True if two checks hang on one start.
    fn one_run(&self, one: &Tested, other: &Tested) -> bool {
        let roots = |t: &Tested| [Some(t.sight), t.against].map(|s| s.map(|s| self.root(s)));
        let of_one = roots(one);
        roots(other)
            .iter()
            .any(|root| root.is_some() && of_one.contains(root))
    }

    /// What the check grows by if the depth of a sight grows by one.
    fn share(&self, tree: &Tree, sight: usize, t: &Tested) -> i64 {
        let on = |end: usize| {
            let setup = self.booked.sights[end].setup;
            let of = self.booked.sights[sight].setup;
            let raises = self.stations[of].backsight == sight && tree.hangs_on(setup, of);
            let lowers = tree.begun_on[sight]
                .iter()
                .any(|&next| tree.hangs_on(setup, next));
            i64::from(raises) - i64::from(lowers) - i64::from(end == sight)
        };
        on(t.sight) - t.against.map_or(0, on)
    }

    /// How unlikely a guess is, and what it leaves of the worst check; `None` if it leaves a
    /// check of the run broken or breaks another.
    fn cost(
        &self,
        tree: &Tree,
        guess: &Guess,
        worst: &Tested,
        run: &[&Tested],
        all: &[&Tested],
    ) -> Option<(f64, i64)> {
        let after = |t: &Tested| {
            let moved = guess.changes.iter();
            let moved: i64 = moved.map(|&(s, by)| self.share(tree, s, t) * by).sum();
            (t.misclosure_nm + moved, moved != 0)
        };
        let holds = |t: &Tested, nm: i64| nm.abs() as f64 <= t.allowed_m * NM_PER_M + 0.5;
        let (left_nm, moved) = after(worst);
        if !moved || !holds(worst, left_nm) {
            return None;
        }
        // The allowance is taken as two standard errors of a check.
        let error = |t: &Tested, nm: i64| 2.0 * (nm as f64 / (t.allowed_m * NM_PER_M)).powi(2);
        let mut cost = guess.slip.rarity() + error(worst, left_nm);
        for &t in run.iter().filter(|t| !std::ptr::eq(**t, worst)) {
            let (nm, _) = after(t);
            if !holds(t, nm) {
                return None;
            }
            cost += error(t, nm);
        }
        for &t in all.iter().filter(|t| t.holds()) {
            let (nm, moved) = after(t);
            if moved && !holds(t, nm) {
                return None;
            }
        }
        Some((cost, left_nm))
    }

    /// Everything that can have moved a check.
    fn guesses(&self, worst: &Tested, longest_nm: i64) -> Vec<Guess> {
        let sights = &self.booked.sights;
        let mut carrying: Vec<usize> = Vec::new();
        for end in [Some(worst.sight), worst.against].into_iter().flatten() {
            let mut sight = Some(end);
            while let Some(s) = sight {
                let station = &self.stations[sights[s].setup];
                carrying.extend([s, station.backsight]);
                sight = station.carried_by;
            }
        }
        carrying.sort_unstable();
        carrying.dedup();
        let mut guesses = Vec::new();
        for &sight in &carrying {
            self.guess_reading(sight, longest_nm, &mut guesses);
            self.guess_benchmark(sight, &mut guesses);
            self.guess_swap(sight, &mut guesses);
        }
        self.guess_moved(worst, &mut guesses);
        guesses
    }

    /// Another reading of the same rod.
    fn guess_reading(&self, sight: usize, longest_nm: i64, guesses: &mut Vec<Guess>) {
        let booked = &self.booked.sights[sight];
        let rod = self.booked.setups[booked.setup].rod;
        let heights = self.spec.z_units;
        for (slip, nm) in readings_meant(rod, heights, &booked.rod, longest_nm) {
            let deeper = nm - booked.rod.nm;
            let would_be_m = nm as f64 / NM_PER_M;
            // A rod declared upside down is booked without its sign.
            let shown_m = if rod.upside_down {
                -would_be_m
            } else {
                would_be_m
            };
            guesses.push(Guess {
                slip,
                sight,
                changes: vec![(sight, self.deeper(sight, deeper))],
                would_be: as_booked(rod.kind, heights, shown_m),
                would_be_m,
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
                    sight,
                    changes: vec![(sight, by_nm), (other, -by_nm)],
                    would_be: sights[other].rod.text.clone(),
                    would_be_m: sights[other].rod.metres(),
                    other: Some(other),
                });
            }
        }
    }

    /// A laser that sank or was knocked before a point was read again from the same set-up.
    fn guess_moved(&self, worst: &Tested, guesses: &mut Vec<Guess>) {
        let sights = &self.booked.sights;
        let setup = sights[worst.sight].setup;
        let own = self.stations[setup].backsight;
        let first = match worst.against {
            Some(first) => first,
            None if sights[own].point == sights[worst.sight].point => own,
            None => return,
        };
        if sights[first].setup != setup || worst.sight <= first {
            return;
        }
        // Everything from the last point that still agreed on is doubtful.
        let stood = self
            .tested
            .iter()
            .chain(&self.reread)
            .filter(|t| t.holds() && sights[t.sight].setup == setup && t.sight < worst.sight)
            .map(|t| t.sight)
            .max()
            .unwrap_or(first);
        let moved_nm = worst.misclosure_nm;
        let nm = sights[worst.sight].rod.nm + self.deeper(worst.sight, moved_nm);
        let rod = self.booked.setups[setup].rod;
        let would_be_m = nm as f64 / NM_PER_M;
        let shown_m = if rod.upside_down {
            -would_be_m
        } else {
            would_be_m
        };
        guesses.push(Guess {
            slip: Slip::LaserMoved,
            sight: worst.sight,
            changes: (worst.sight..self.ranges[setup].end)
                .map(|sight| (sight, moved_nm))
                .collect(),
            would_be: as_booked(rod.kind, self.spec.z_units, shown_m),
            would_be_m,
            other: Some(stood),
        });
    }

    /// A guess as it is given to people.
    fn suspect(&self, guess: Guess, left_nm: i64) -> Suspect {
        let sight = &self.booked.sights[guess.sight];
        Suspect {
            slip: guess.slip,
            line: sight.line,
            name: sight.point.clone(),
            kind: sight.kind,
            setup: self.booked.setups[sight.setup].name.clone(),
            booked: sight.rod.text.clone(),
            would_be: guess.would_be,
            would_be_m: guess.would_be_m,
            other_line: guess.other.map(|other| self.booked.sights[other].line),
            misclosure_after_m: left_nm as f64 / NM_PER_M,
        }
    }
}
