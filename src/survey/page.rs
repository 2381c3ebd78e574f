//! The page check: sums of the page held against the levels, and the book reduced a second way.
//!
//! Takes a book that has been gone through once (`reduce`), says whether its sums agree or why
//! they cannot be compared. A book whose sums differ is a mistake of the program.

use serde::Serialize;

use crate::diag::{At, Diagnostic};
use crate::job::RodKind;
use crate::units::NM_PER_M;

use super::book::SightKind;
use super::reduce::Work;

/// Sum of backsights less foresights, sum of rises less falls, and last level less first.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PageCheck {
    /// The three are the same, as they must be in one plain chain.
    Agrees {
        /// Sum of backsights less sum of foresights, metres.
        bs_less_fs_m: f64,
        /// Sum of rises less sum of falls, metres.
        rises_less_falls_m: f64,
        /// Level of the last foresight less level of the first backsight, metres.
        last_less_first_m: f64,
    },
    /// The book is not one plain chain, so the sums say nothing.
    DoesNotApply {
        /// Why, in words.
        because: String,
    },
}

impl Default for PageCheck {
    fn default() -> PageCheck {
        PageCheck::DoesNotApply {
            because: "the book holds no sight".to_owned(),
        }
    }
}

impl Work<'_> {
    /// Makes the page check, after reducing the book a second way by rises and falls.
    ///
    /// # Errors
    ///
    /// the two ways differ, which is a mistake of the program
    pub(crate) fn page_check(&self) -> Result<PageCheck, Diagnostic> {
        self.rise_and_fall()?;
        let sights = &self.booked.sights;
        if let Some(because) = self.not_plain() {
            return Ok(PageCheck::DoesNotApply { because });
        }
        let is = |kind| move |i: &usize| sights[*i].kind == kind;
        let last = (0..sights.len()).rfind(is(SightKind::Foresight));
        let (Some(last), Some(first)) = (last, self.stations.first()) else {
            return Ok(PageCheck::default());
        };
        let sum = |kind| -> i128 {
            let of_kind = (0..sights.len()).filter(is(kind));
            of_kind.map(|i| i128::from(self.down_nm(i))).sum()
        };
        let page_nm = sum(SightKind::Backsight) - sum(SightKind::Foresight);
        // From the backsight of each set-up on to its foresight, sight by sight.
        let rises_nm: i128 = (1..=last)
            .filter(|&i| sights[i].setup == sights[i - 1].setup)
            .map(|i| i128::from(self.down_nm(i - 1) - self.down_nm(i)))
            .sum();
        let along_nm = i128::from(self.elevation_nm[last] - self.elevation_nm[first.backsight]);
        if page_nm != along_nm || rises_nm != along_nm {
            return Err(internal("page check", At::file(&self.spec.file)));
        }
        let metres = |nm: i128| nm as f64 / NM_PER_M;
        Ok(PageCheck::Agrees {
            bs_less_fs_m: metres(page_nm),
            rises_less_falls_m: metres(rises_nm),
            last_less_first_m: metres(along_nm),
        })
    }

    /// Why the book is not one plain chain, if it is not: each set-up one BS, first, and one FS,
    /// last, each begun on the foresight before.
    fn not_plain(&self) -> Option<String> {
        let sights = &self.booked.sights;
        for (setup, station) in self.stations.iter().enumerate() {
            let name = &self.booked.setups[setup].name;
            let range = self.ranges[setup].clone();
            let count = |kind| range.clone().filter(|&i| sights[i].kind == kind).count();
            let backsights = count(SightKind::Backsight);
            let foresights = count(SightKind::Foresight);
            let chained = station.carried_by.is_some_and(|by| {
                sights[by].kind == SightKind::Foresight && sights[by].setup + 1 == setup
            });
            if self.rod(range.start) == RodKind::Direct {
                return Some("a direct rod shows elevations, which are not summed".to_owned());
            }
            if backsights != 1 {
                return Some(format!("set-up {name} has {backsights} backsights"));
            }
            if foresights != 1 {
                let count = match foresights {
                    0 => "no foresight".to_owned(),
                    n => format!("{n} foresights"),
                };
                return Some(format!("set-up {name} has {count}"));
            }
            if setup > 0 && !chained {
                return Some(format!(
                    "set-up {name} does not begin on the foresight of the set-up before"
                ));
            }
            if sights[range.start].kind != SightKind::Backsight
                || sights[range.end - 1].kind != SightKind::Foresight
            {
                return Some(format!("set-up {name} does not run from its BS to its FS"));
            }
        }
        None
    }

    /// Reduces every set-up a second way, sight by sight, and compares.
    fn rise_and_fall(&self) -> Result<(), Diagnostic> {
        for (setup, station) in self.stations.iter().enumerate() {
            let start = self.ranges[setup].start;
            let level_nm = station.plane_nm - self.down_nm(station.backsight);
            let mut from_first_nm = vec![0; self.ranges[setup].len()];
            for sight in self.ranges[setup].clone().skip(1) {
                let rise_nm = self.down_nm(sight - 1) - self.down_nm(sight);
                from_first_nm[sight - start] = from_first_nm[sight - 1 - start] + rise_nm;
            }
            let first_nm = level_nm - from_first_nm[station.backsight - start];
            for sight in self.ranges[setup].clone() {
                if first_nm + from_first_nm[sight - start] != self.elevation_nm[sight] {
                    return Err(internal("rise and fall", self.at(sight)));
                }
            }
        }
        Ok(())
    }
}

/// Two ways to one number that give two.
fn internal(what: &str, at: At) -> Diagnostic {
    let message = format!("the two ways to reduce the book differ: {what}");
    Diagnostic::error("internal", message)
        .at(at)
        .help("this is a mistake in the program; please report it with the file")
}
