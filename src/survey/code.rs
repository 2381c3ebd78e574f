//! Codes of shots: what a shot is, and which line it lies on.
//!
//! Takes the text of a code cell. A cell may hold several codes joined by `+` (`edge+wall2`), for
//! a shot that lies on more than one line; a number behind a code (`top1`, `top2`) tells several
//! lines of one kind apart. Upper and lower case are the same.

use crate::diag::{At, Diagnostic};
use crate::job::{PlaceList, PlaceListWord};

use super::resolve::PlacedShot;
use super::{PointClass, Survey};

/// Codes of shots that are meant to be exact to 0.01 ft or 3 mm.
pub const HARD_CODES: [&str; 5] = ["bm", "sill", "lip", "rim", "wall"];

/// The codes of a cell, in the order written, without blanks.
pub fn codes_of(cell: &str) -> impl Iterator<Item = &str> {
    cell.split('+')
        .map(str::trim)
        .filter(|code| !code.is_empty())
}

/// A code without the number behind it, and that number: `top2` is `top` and 2. A code of digits
/// only has none.
pub fn kind_and_number(code: &str) -> (&str, Option<u64>) {
    let kind = code.trim_end_matches(|c: char| c.is_ascii_digit());
    match code[kind.len()..].parse() {
        Ok(number) if !kind.is_empty() => (kind, Some(number)),
        _ => (code, None),
    }
}

impl PointClass {
    /// The class of a code cell: hard if one of its codes is of [`HARD_CODES`], numbered or not.
    pub fn of_code(cell: &str) -> PointClass {
        let is_hard = codes_of(cell).any(|code| {
            let (kind, _) = kind_and_number(code);
            HARD_CODES
                .iter()
                .any(|hard| hard.eq_ignore_ascii_case(kind))
        });
        if is_hard {
            PointClass::Hard
        } else {
            PointClass::Soil
        }
    }
}

impl Survey {
    /// The lines that a list of places means: one, or for a code one for every number behind it
    /// (`code:top` is the line of `top` and the lines of `top1`, `top2`, ...), each with where
    /// the job says so.
    ///
    /// # Errors
    ///
    /// as [`Survey::resolve`]
    pub fn lines(&self, places: &PlaceList) -> Result<Vec<(Vec<PlacedShot>, At)>, Diagnostic> {
        let PlaceListWord::Code(code) = &places.word else {
            return Ok(vec![(self.resolve(places)?, places.at.clone())]);
        };
        let wanted = code.trim().to_lowercase();
        let mut numbers: Vec<u64> = Vec::new();
        let mut is_plain = false;
        for shot in &self.shots {
            for code in codes_of(&shot.code).map(str::to_lowercase) {
                is_plain |= code == wanted;
                match kind_and_number(&code) {
                    (kind, Some(number)) if kind == wanted => numbers.push(number),
                    _ => {}
                }
            }
        }
        numbers.sort_unstable();
        numbers.dedup();
        if numbers.is_empty() {
            return Ok(vec![(self.resolve(places)?, places.at.clone())]);
        }
        let plain = is_plain.then(|| (self.shots_of(&wanted), places.at.clone()));
        let numbered = numbers.into_iter().map(|number| {
            let shots = self.shots_with(|code| {
                let code = code.to_lowercase();
                kind_and_number(&code) == (&wanted, Some(number))
            });
            let at = At {
                text: format!("code:{wanted}{number}"),
                ..places.at.clone()
            };
            (shots, at)
        });
        Ok(plain.into_iter().chain(numbered).collect())
    }

    /// The one line that a list of places means.
    ///
    /// # Errors
    ///
    /// as [`Survey::resolve`]; a code with several numbers behind it
    pub fn line(&self, places: &PlaceList) -> Result<(Vec<PlacedShot>, At), Diagnostic> {
        let mut lines = self.lines(places)?;
        if lines.len() == 1 {
            return Ok(lines.swap_remove(0));
        }
        let names: Vec<&str> = lines.iter().map(|(_, at)| at.text.as_str()).collect();
        let message = format!("one line is asked for, but there are {}", names.join(", "));
        Err(Diagnostic::error("several-lines", message)
            .at(places.at.clone())
            .help("name the one that is meant with its number"))
    }

    /// Shots that carry a code, upper or lower case, in booked order.
    pub(super) fn shots_of(&self, code: &str) -> Vec<PlacedShot> {
        let wanted = code.trim().to_lowercase();
        self.shots_with(|code| code.to_lowercase() == wanted)
    }

    fn shots_with(&self, is_meant: impl Fn(&str) -> bool) -> Vec<PlacedShot> {
        (0..self.shots.len())
            .filter(|&index| codes_of(&self.shots[index].code).any(&is_meant))
            .map(|index| self.placed(index))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_behind_a_code_is_apart() {
        assert_eq!(kind_and_number("top12"), ("top", Some(12)));
        assert_eq!(kind_and_number("top"), ("top", None));
        assert_eq!(kind_and_number("12"), ("12", None));
        assert_eq!(kind_and_number("wall-2"), ("wall-", Some(2)));
        let long = format!("t{}", "9".repeat(40));
        assert_eq!(kind_and_number(&long), (long.as_str(), None));
    }

    #[test]
    fn the_class_is_that_of_the_hardest_code() {
        for (cell, class) in [
            ("rim", PointClass::Hard),
            ("WALL2", PointClass::Hard),
            ("edge + wall1", PointClass::Hard),
            ("edge+toe", PointClass::Soil),
            ("wallflower", PointClass::Soil),
            ("", PointClass::Soil),
            ("+", PointClass::Soil),
        ] {
            assert_eq!(PointClass::of_code(cell), class, "{cell}");
        }
    }
}
