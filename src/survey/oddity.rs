//! A reading that a book alone shows to be odd: its decimal point stands one place off.
//!
//! Takes a book that has been gone through once (`reduce`), gives warnings. No check sees a slip
//! in a shot of the ground, so only what is odd in two ways at once is spoken of: the shot has
//! one decimal more or less than all others, lies beyond all others of its set-up, and falls
//! among them with the point moved back.

use crate::diag::Diagnostic;
use crate::job::RodKind;

use super::book::SightKind;
use super::reduce::Work;
use super::rod::as_booked;
use crate::units::NM_PER_M;

/// Fewest other readings of a set-up to judge one by.
const LEAST_OTHERS: usize = 5;

impl Work<'_> {
    /// Shots of the ground whose decimal point has slipped.
    pub(crate) fn decimal_slips(&self) -> Vec<Diagnostic> {
        let mut said = Vec::new();
        for (setup, range) in self.ranges.iter().enumerate() {
            let rod = self.booked.setups[setup].rod;
            if range.len() <= LEAST_OTHERS || !matches!(rod.kind, RodKind::Tenths | RodKind::Metric)
            {
                continue;
            }
            // The two least and the two greatest, to leave any one reading out.
            let depth = |i: usize| self.booked.sights[i].rod.nm.abs();
            let mut sorted: Vec<i64> = range.clone().map(depth).collect();
            sorted.sort_unstable();
            let count_of = |decimals: usize| {
                let of = range.clone().map(|i| self.decimals(i));
                of.filter(|&found| found == decimals).count()
            };
            for sight in range.clone() {
                if self.booked.sights[sight].kind != SightKind::Intermediate {
                    continue;
                }
                let nm = depth(sight);
                let last = sorted.len() - 1;
                let (least, most) = (
                    if nm == sorted[0] {
                        sorted[1]
                    } else {
                        sorted[0]
                    },
                    if nm == sorted[last] {
                        sorted[last - 1]
                    } else {
                        sorted[last]
                    },
                );
                let decimals = self.decimals(sight);
                let (meant_nm, usual) = if nm < least {
                    (nm.saturating_mul(10), decimals.checked_sub(1))
                } else if nm > most {
                    (nm / 10, Some(decimals + 1))
                } else {
                    continue;
                };
                let alone = usual.is_some_and(|usual| count_of(usual) == range.len() - 1);
                if alone && (least..=most).contains(&meant_nm) {
                    let meant = as_booked(rod.kind, self.spec.z_units, meant_nm as f64 / NM_PER_M);
                    let message = format!(
                        "every other reading of set-up {} is of another length and size; \
                         {meant} would be among them",
                        self.booked.setups[setup].name
                    );
                    said.push(
                        Diagnostic::warn("decimal-slip", message)
                            .at(self.at_reading(sight))
                            .help("look whether the decimal point is one place off"),
                    );
                }
            }
        }
        said
    }

    /// Digits behind the point of a reading as booked.
    fn decimals(&self, sight: usize) -> usize {
        let text = &self.booked.sights[sight].rod.text;
        text.split_once('.').map_or(0, |(_, rest)| {
            rest.bytes().take_while(u8::is_ascii_digit).count()
        })
    }
}
