//! The search for the mistake in a book that does not agree with itself.
//!
//! Takes a book that has been gone through once (`reduce`), gives the sights that can be wrong,
//! each with the reading it can have stood for. One mistake is looked for in each run; if none
//! explains every check, one that explains the worst.
//!
//! Every check is a sum of readings with signs: a plane rises with its backsight, a turning
//! point falls with its foresight. So a slip in one reading moves every check by a known amount,
//! or not at all. A sight is suspected if there is a slip (`slips`) that its digits allow and
//! that brings every broken check of the run within the allowance and breaks none that holds.

use serde::Serialize;

use crate::job::RodKind;
use crate::units::NM_PER_M;

use super::book::SightKind;
use super::guess::Guess;
use super::reduce::{Tested, Work};
use super::slips::Slip;

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
    /// True if it explains the worst check only and another mistake must be left, because no
    /// single mistake explains every check of the run.
    pub in_part: bool,
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
        // A given level weighs more than a second reading.
        broken.sort_by(|a, b| {
            let second = a.against.is_some().cmp(&b.against.is_some());
            second.then(b.ratio().total_cmp(&a.ratio()))
        });
        if broken.is_empty() {
            return (Vec::new(), 0);
        }
        let tree = Tree::of(self);
        let longest_nm = (0..self.booked.sights.len())
            .filter(|&i| self.rod(i) != RodKind::Direct)
            .map(|i| self.booked.sights[i].rod.nm.abs())
            .max()
            .unwrap_or(0);
        let marks = self.marks();
        let (mut found, mut more) = (Vec::new(), 0);
        while let Some(&worst) = broken.first() {
            let (run, others): (Vec<&Tested>, Vec<&Tested>) =
                broken.iter().copied().partition(|t| self.one_run(worst, t));
            broken = others;
            let score = |run: &[&Tested]| -> Vec<(f64, Guess, i64)> {
                let guesses = self.guesses(worst, longest_nm, &marks).into_iter();
                guesses
                    .filter_map(|guess| {
                        let (cost, left_nm) = self.cost(&tree, &guess, worst, run, &all)?;
                        Some((cost, guess, left_nm))
                    })
                    .collect()
            };
            let mut scored = score(&run);
            // Two mistakes in one run: what explains at least the worst check.
            let in_part = scored.is_empty() && run.len() > 1;
            if in_part {
                scored = score(&[worst]);
            }
            self.join_moves(&mut scored);
            scored.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.sight.cmp(&b.1.sight)));
            let best = scored.first().map_or(0.0, |s| s.0);
            scored.retain(|s| s.0 <= best + MAX_BEHIND);
            more += scored.len().saturating_sub(MAX_SUSPECTS);
            scored.truncate(MAX_SUSPECTS);
            found.extend(
                scored
                    .into_iter()
                    .map(|(_, guess, left)| self.suspect(guess, left, in_part)),
            );
        }
        (found, more)
    }

    /// Makes one guess of all stretches of a set-up in which the laser can have moved.
    fn join_moves(&self, scored: &mut Vec<(f64, Guess, i64)>) {
        let setup = |guess: &Guess| self.booked.sights[guess.sight].setup;
        // The guesses of one set-up stand side by side, in booked order.
        scored.dedup_by(|next, first| {
            let moved = |guess: &Guess| guess.slip == Slip::LaserMoved;
            let one = moved(&next.1) && moved(&first.1) && setup(&next.1) == setup(&first.1);
            if one {
                let stood = first.1.other;
                std::mem::swap(next, first);
                first.1.other = stood;
                first.0 = first.0.min(next.0);
            }
            one
        });
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
        let mut cost = guess.rarity + error(worst, left_nm);
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

    /// A guess as it is given to people.
    fn suspect(&self, guess: Guess, left_nm: i64, in_part: bool) -> Suspect {
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
            in_part,
        }
    }
}
