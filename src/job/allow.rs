//! How far a level book may miss: the user's allowance, in plain words.
//!
//! Takes `0.02 ft per root setup` or the like, gives an [`Allowance`]. Knows no book.

use crate::units::{INCH_M, LengthUnit, M_PER_MILE};

/// What an allowance grows with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Growth {
    /// The root of the number of set-ups.
    RootSetups,
    /// The root of the length of the run in kilometres.
    RootKilometres,
    /// The root of the length of the run in miles of 5,280 international feet.
    RootMiles,
    /// Nothing: one figure for any run.
    Flat,
}

/// Allowed misclosure of a level book.
///
/// # Source
///
/// 5 mm per root set-up: course pages on levelling. 12 mm per root km: course pages quoting the
/// federal geodetic control standard of 1984, third order. 0.050 ft and 0.100 ft per root mile:
/// a university construction-survey laboratory table, third and fourth order. 0.02 ft per root
/// set-up, which holds if nothing is said: common practice in yards, no source.
#[derive(Clone, Debug, PartialEq)]
pub struct Allowance {
    each_m: f64,
    growth: Growth,
    words: String,
}

impl Default for Allowance {
    fn default() -> Allowance {
        Allowance {
            each_m: 0.02 * LengthUnit::Foot.metres(),
            growth: Growth::RootSetups,
            words: "0.02 ft per root set-up (common practice, no source)".to_owned(),
        }
    }
}

/// Largest allowance accepted, metres: beyond it nothing would be checked.
const MAX_ALLOWANCE_M: f64 = 10.0;

/// What to write, for help texts.
pub const ALLOW_HELP: &str = "write for example \"0.02 ft per root setup\", \
     \"5 mm per root setup\", \"12 mm per root km\", \"0.050 ft per root mile\" or \"0.03 ft\" \
     for one figure; a bare number is per root set-up in the unit of heights";

impl Allowance {
    /// Reads the words of a job or a command line; a bare number is in `heights` and grows with
    /// the root of the set-ups.
    ///
    /// # Errors
    ///
    /// what is wrong, in a sentence: no such words, not finite, not above zero or above 10 m
    pub fn from_words(text: &str, heights: LengthUnit) -> Result<Allowance, String> {
        let lower = text.trim().to_lowercase();
        let digits = lower
            .find(|c: char| !(c.is_ascii_digit() || ".+-".contains(c)))
            .unwrap_or(lower.len());
        let (number, rest) = lower.split_at(digits);
        let value: f64 = number
            .parse()
            .map_err(|_| "an allowance begins with a number".to_owned())?;
        let rest: Vec<&str> = rest.split_whitespace().collect();
        let (unit_m, unit, rest) = match rest.split_first() {
            None => (
                heights.metres(),
                heights.name(),
                &["per", "root", "setup"][..],
            ),
            Some((&unit, rest)) => {
                let unit_m = match unit {
                    "mm" => 0.001,
                    "cm" => 0.01,
                    "in" => INCH_M,
                    _ => LengthUnit::from_name(unit)
                        .ok_or_else(|| format!("\"{unit}\" is no unit of an allowance"))?
                        .metres(),
                };
                (unit_m, unit, rest)
            }
        };
        let (growth, over) = match rest {
            [] => (Growth::Flat, ""),
            ["per", "root", over] => match *over {
                "setup" | "set-up" | "setups" | "set-ups" => {
                    (Growth::RootSetups, " per root set-up")
                }
                "km" => (Growth::RootKilometres, " per root km"),
                "mile" | "mi" => (Growth::RootMiles, " per root mile"),
                _ => return Err(format!("nothing grows with the root of \"{over}\"")),
            },
            _ => {
                let rest = rest.join(" ");
                return Err(format!(
                    "\"{rest}\" does not say what the allowance grows with"
                ));
            }
        };
        let each_m = value * unit_m;
        if !(each_m > 0.0 && each_m <= MAX_ALLOWANCE_M) {
            return Err("an allowance is more than 0 and at most 10 m".to_owned());
        }
        Ok(Allowance {
            each_m,
            growth,
            words: format!("{number} {unit}{over}"),
        })
    }

    /// What it grows with.
    pub fn growth(&self) -> Growth {
        self.growth
    }

    /// True if it asks for the length of the run.
    pub fn by_length(&self) -> bool {
        matches!(self.growth, Growth::RootKilometres | Growth::RootMiles)
    }

    /// The allowance in words.
    pub fn words(&self) -> &str {
        &self.words
    }

    /// Allowed for a run of so many set-ups and metres, metres.
    pub fn allowed_m(&self, setups: usize, length_m: f64) -> f64 {
        let over = match self.growth {
            Growth::RootSetups => setups as f64,
            Growth::RootKilometres => length_m / 1000.0,
            Growth::RootMiles => length_m / M_PER_MILE,
            Growth::Flat => 1.0,
        };
        self.each_m * over.sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_read_and_said_again() {
        let read = |text| Allowance::from_words(text, LengthUnit::Foot);
        for (text, each_m, growth, words) in [
            (
                "0.02",
                0.02 * 0.3048,
                Growth::RootSetups,
                "0.02 ft per root set-up",
            ),
            (
                "5mm per root set-up",
                0.005,
                Growth::RootSetups,
                "5 mm per root set-up",
            ),
            (
                "12 mm per root km",
                0.012,
                Growth::RootKilometres,
                "12 mm per root km",
            ),
            (
                "0.050 ft per root mile",
                0.05 * 0.3048,
                Growth::RootMiles,
                "0.050 ft per root mile",
            ),
            (" 0.03 FT ", 0.03 * 0.3048, Growth::Flat, "0.03 ft"),
            ("0.25 in", 0.25 * 0.0254, Growth::Flat, "0.25 in"),
        ] {
            let allow = read(text).unwrap();
            assert!((allow.each_m - each_m).abs() < 1e-12, "{text}");
            assert_eq!((allow.growth, allow.words()), (growth, words));
        }
        for bad in [
            "",
            "ft",
            "0",
            "-0.02",
            "nan",
            "inf ft",
            "1e300",
            "11 m",
            "0.02 yd",
            "0.02 ft per setup",
            "0.02 ft per root day",
            "1e5 ft",
        ] {
            assert!(read(bad).is_err(), "{bad}");
        }
    }
}
