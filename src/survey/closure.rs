//! How a level book closes: checks, status, and the share of every set-up in the misclosure.
//!
//! Takes a book that has been gone through once (`reduce`), gives corrections and a status.
//! Knows no file and no words.

use std::collections::BTreeMap;

use crate::diag::{At, Diagnostic};
use crate::job::Adjust;

use super::book::{BookStatus, SightKind};
use super::levels::BookedSetup;
use super::reduce::{Tested, Work};

impl Work<'_> {
    /// First set-up of the run a sight belongs to.
    pub(crate) fn root(&self, sight: usize) -> usize {
        self.stations[self.booked.sights[sight].setup].root
    }

    /// First set-up of every run.
    pub(crate) fn roots(&self) -> impl DoubleEndedIterator<Item = usize> + '_ {
        (0..self.stations.len()).filter(|&setup| self.stations[setup].root == setup)
    }

    /// The check a run is adjusted to: its last foresight on a known point, or its last shot.
    fn closing(&self, root: usize) -> Option<&Tested> {
        let of_kind = |kind| {
            self.tested
                .iter()
                .rfind(|t| self.root(t.sight) == root && self.booked.sights[t.sight].kind == kind)
        };
        of_kind(SightKind::Foresight).or_else(|| of_kind(SightKind::Intermediate))
    }

    /// Correction of every set-up in nanometres, to be added to what was observed from it.
    pub(crate) fn corrections(&self) -> Result<Vec<f64>, Diagnostic> {
        let mut corrections = vec![0.0; self.stations.len()];
        if self.spec.adjust == Adjust::None {
            return Ok(corrections);
        }
        for root in self.roots() {
            let holds = self
                .tested
                .iter()
                .all(|t| self.root(t.sight) != root || t.holds());
            let Some(closing) = self.closing(root).filter(|_| holds) else {
                continue;
            };
            // From the closing sight back to the start: each set-up with its onward sight.
            let mut path = vec![closing.sight];
            while let Some(by) = path
                .last()
                .and_then(|&sight| self.stations[self.booked.sights[sight].setup].carried_by)
            {
                path.push(by);
            }
            path.reverse();
            let lengths = path
                .iter()
                .map(|&s| self.weight(s))
                .collect::<Result<Vec<_>, _>>()?;
            let total: i128 = lengths.iter().sum();
            if total == 0 {
                let message = "all distances are zero, so nothing can be shared out by distance";
                return Err(Diagnostic::error("no-distance", message)
                    .at(At::file(&self.spec.file))
                    .help("book the distances, or say `adjust = \"setups\"`"));
            }
            let mut run = 0;
            let mut on_path = BTreeMap::new();
            for (&sight, length) in path.iter().zip(&lengths) {
                run += length;
                let share = run as f64 / total as f64;
                on_path.insert(
                    self.booked.sights[sight].setup,
                    -(closing.misclosure_nm as f64) * share,
                );
            }
            for setup in root..self.stations.len() {
                if self.stations[setup].root != root {
                    continue;
                }
                // A set-up beside the path hangs on a set-up of the run and moves with it.
                let before = self.stations[setup]
                    .carried_by
                    .map_or(0.0, |by| corrections[self.booked.sights[by].setup]);
                corrections[setup] = on_path.get(&setup).copied().unwrap_or(before);
            }
        }
        Ok(corrections)
    }

    /// Weight of the set-up a sight was taken from: one, or the length of backsight and sight.
    fn weight(&self, sight: usize) -> Result<i128, Diagnostic> {
        if self.spec.adjust == Adjust::Distance {
            self.length_nm(sight)
        } else {
            Ok(1)
        }
    }

    /// Length of the backsight of a set-up and of a sight from it, nm.
    ///
    /// # Errors
    ///
    /// neither has a distance
    pub(crate) fn length_nm(&self, sight: usize) -> Result<i128, Diagnostic> {
        let setup = self.booked.sights[sight].setup;
        let back = self.booked.sights[self.stations[setup].backsight].distance_nm;
        let fore = self.booked.sights[sight].distance_nm;
        if back.is_none() && fore.is_none() {
            let BookedSetup { name, line, .. } = &self.booked.setups[setup];
            let message = format!("set-up {name} has no sight distance");
            let cure = if self.spec.adjust == Adjust::Distance {
                "say `adjust = \"setups\"`"
            } else {
                "give an allowance per root setup"
            };
            return Err(Diagnostic::error("no-distance", message)
                .at(At::line(&self.spec.file, *line))
                .help(format!(
                    "fill in the `distance` column at BS and FS, or {cure}"
                )));
        }
        Ok(i128::from(back.unwrap_or(0)) + i128::from(fore.unwrap_or(0)))
    }

    /// How the book closes, and the check that says so.
    pub(crate) fn status(&self) -> (BookStatus, Option<&Tested>) {
        let broken = self.tested.iter().filter(|t| !t.holds());
        if let Some(worst) = broken.max_by(|a, b| a.ratio().total_cmp(&b.ratio())) {
            return (BookStatus::Refused, Some(worst));
        }
        let last = self
            .roots()
            .rev()
            .find_map(|root| self.closing(root))
            .or(self.tested.last());
        let open = self
            .roots()
            .any(|root| !self.tested.iter().any(|t| self.root(t.sight) == root));
        let adjusted = self.spec.adjust != Adjust::None
            && self
                .roots()
                .filter_map(|root| self.closing(root))
                .any(|t| t.misclosure_nm != 0);
        let status = match (open, adjusted) {
            (true, _) => BookStatus::Open,
            (false, true) => BookStatus::Adjusted,
            (false, false) => BookStatus::Closed,
        };
        (status, last)
    }
}
