//! Places and levels as a job names them.
//!
//! Takes the words of one value, gives what they mean in SI. Knows no file, no key and no
//! survey: whether a shot exists is found out later.

use crate::diag::At;
use crate::units::{LengthUnit, MAX_COORDINATE_M};

/// Most shots that one list of names may hold: a typing slip such as `1-1000000000` is refused
/// before it fills the memory.
const MAX_SHOTS: usize = 10_000;

/// One place: a shot by name, or coordinates.
#[derive(Clone, Debug, PartialEq)]
pub enum Place {
    /// A shot of the survey.
    Shot(String),
    /// `"code:tree"`: the only shot with that code.
    Code(String),
    /// Absolute coordinates, whole nanometres east and north.
    Coordinates(i64, i64),
}

/// A list of places: a line or an outline.
#[derive(Clone, Debug, PartialEq)]
pub struct PlaceList {
    /// What is meant.
    pub word: PlaceListWord,
    /// Where the job says so, with its text.
    pub at: At,
}

/// The ways to name a list of places.
#[derive(Clone, Debug, PartialEq)]
pub enum PlaceListWord {
    /// `"code:fence"`: every shot with that code, in the order they were shot.
    Code(String),
    /// `"shots:31-38,40"`: shots by name, with ranges of numbered names.
    Shots(Vec<String>),
    /// `["31", [12.0, 40.5], ...]`: one by one.
    Places(Vec<Place>),
}

/// A level as the job gives it, SI.
#[derive(Clone, Debug, PartialEq)]
pub struct LevelSpec {
    /// What is meant.
    pub word: LevelWord,
    /// Where the job says so, with its text.
    pub at: At,
}

/// The ways to give a level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LevelWord {
    /// `"level:94.80"`, metres.
    Level(f64),
    /// `"below-benchmark:5.20"`, metres.
    BelowBenchmark(f64),
    /// `"depth:3.0"`: below the ground, metres.
    Depth(f64),
    /// `"height:2.0"`: above the ground, metres.
    Height(f64),
}

impl LevelWord {
    /// Reads `level:94.80` and its three sisters; numbers are in `units`.
    ///
    /// # Errors
    ///
    /// what is wrong, in a sentence
    pub(super) fn parse(text: &str, units: LengthUnit) -> Result<LevelWord, String> {
        let Some((way, number)) = text.split_once(':') else {
            return Err("this does not say how the level is meant".to_string());
        };
        let (way, number) = (way.trim(), number.trim());
        let known = ["level", "below-benchmark", "depth", "height"];
        if !known.contains(&way) {
            return Err(format!(
                "a level is not given by the word `{}`",
                printable(way)
            ));
        }
        let value = parse_number(number)
            .ok_or_else(|| format!("`{}` is not a number", printable(number)))?;
        let metres = units.to_m(value);
        if metres.abs() > MAX_COORDINATE_M {
            return Err(format!("`{}` is too large for a level", printable(number)));
        }
        if metres < 0.0 && (way == "depth" || way == "height") {
            let other = if way == "depth" { "height" } else { "depth" };
            return Err(format!(
                "a {way} is not negative; the other way is `{other}`"
            ));
        }
        Ok(match way {
            "level" => LevelWord::Level(metres),
            "below-benchmark" => LevelWord::BelowBenchmark(metres),
            "depth" => LevelWord::Depth(metres),
            _ => LevelWord::Height(metres),
        })
    }
}

impl PlaceListWord {
    /// Reads `code:fence` or `shots:31-38,40`.
    ///
    /// # Errors
    ///
    /// what is wrong, in a sentence
    pub(super) fn parse(text: &str) -> Result<PlaceListWord, String> {
        match text.trim().split_once(':') {
            Some(("code", code)) if code.trim().is_empty() => {
                Err("no code stands behind `code:`".to_string())
            }
            Some(("code", code)) => Ok(PlaceListWord::Code(code.trim().to_string())),
            Some(("shots", names)) => parse_shots(names).map(PlaceListWord::Shots),
            _ => Err("this does not say which places are meant".to_string()),
        }
    }
}

/// Names and ranges with commas between them.
///
/// A range is two names that end in digits and begin alike (`31-38`, `S1-S4`, `S1-4`); it may
/// run downwards. Anything else with a hyphen is one name (`TP-1`).
fn parse_shots(list: &str) -> Result<Vec<String>, String> {
    let mut names = Vec::new();
    for item in list.split(',').map(str::trim) {
        if item.is_empty() {
            return Err("a name is missing in the list of shots".to_string());
        }
        match parse_range(item) {
            None => names.push(item.to_string()),
            Some(Range {
                prefix,
                width,
                first,
                last,
            }) => {
                let too_many = || {
                    format!(
                        "`{}` makes more than {MAX_SHOTS} shots of one list",
                        printable(item)
                    )
                };
                let count = first.abs_diff(last).checked_add(1).ok_or_else(too_many)?;
                if count > MAX_SHOTS as u64 {
                    return Err(too_many());
                }
                let name = |number: u64| format!("{prefix}{number:0width$}");
                if first <= last {
                    names.extend((first..=last).map(name));
                } else {
                    names.extend((last..=first).rev().map(name));
                }
            }
        }
        if names.len() > MAX_SHOTS {
            return Err(format!("more than {MAX_SHOTS} shots stand in one list"));
        }
    }
    Ok(names)
}

/// A range of numbered names.
struct Range<'a> {
    prefix: &'a str,
    /// Digits to fill up with zeros, as in `01-08`.
    width: usize,
    first: u64,
    last: u64,
}

fn parse_range(item: &str) -> Option<Range<'_>> {
    item.match_indices('-').find_map(|(hyphen, _)| {
        let (left, right) = (item[..hyphen].trim(), item[hyphen + 1..].trim());
        let (prefix, from) = split_digits(left);
        let (other, to) = split_digits(right);
        if !(other.is_empty() || other == prefix) {
            return None;
        }
        // No number of 64 bits has more than 20 digits.
        let width = if from.starts_with('0') { from.len() } else { 0 };
        if width > 20 {
            return None;
        }
        Some(Range {
            prefix,
            width,
            first: from.parse().ok()?,
            last: to.parse().ok()?,
        })
    })
}

/// A name without the digits it ends in, and those digits.
fn split_digits(name: &str) -> (&str, &str) {
    name.split_at(name.trim_end_matches(|c: char| c.is_ascii_digit()).len())
}

/// A finite number in plain decimals or with an exponent; no words such as `inf`.
pub(super) fn parse_number(text: &str) -> Option<f64> {
    let text = text.trim();
    let plain = text
        .bytes()
        .all(|b| b.is_ascii_digit() || b"+-.eE".contains(&b));
    let value: f64 = if plain {
        text.parse().ok()?
    } else {
        return None;
    };
    value.is_finite().then_some(value)
}

/// Text of the user as it may stand inside a message: one line, not too long.
pub(super) fn printable(text: &str) -> String {
    let mut clean: String = text
        .chars()
        .map(|c| if c.is_control() { '.' } else { c })
        .take(40)
        .collect();
    if text.chars().nth(40).is_some() {
        clean.push_str("...");
    }
    clean
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shots(list: &str) -> Vec<String> {
        match PlaceListWord::parse(&format!("shots:{list}")).unwrap() {
            PlaceListWord::Shots(names) => names,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn ranges_of_shots_are_written_out() {
        assert_eq!(shots("31-34, 40"), ["31", "32", "33", "34", "40"]);
        assert_eq!(shots("3-1"), ["3", "2", "1"]);
        assert_eq!(shots("S9-S11"), ["S9", "S10", "S11"]);
        assert_eq!(shots("S-9-10"), ["S-9", "S-10"]);
        assert_eq!(shots("08-11"), ["08", "09", "10", "11"]);
        assert_eq!(shots(&format!("{}1-2", "0".repeat(70_000))).len(), 1);
        assert_eq!(shots("TP-1,gate-post,7"), ["TP-1", "gate-post", "7"]);
        assert_eq!(
            PlaceListWord::parse("code: fence "),
            Ok(PlaceListWord::Code("fence".to_string()))
        );
    }

    #[test]
    fn lists_that_say_nothing_or_too_much_are_refused() {
        for (text, words) in [
            ("31-38", "does not say which places"),
            ("code:", "no code stands"),
            ("shots:", "a name is missing"),
            ("shots:1,,2", "a name is missing"),
            ("shots:1-10001", "more than 10000 shots"),
            ("shots:0-18446744073709551615", "more than 10000 shots"),
            ("shots:1-9000,1-9000", "more than 10000 shots"),
        ] {
            let answer = PlaceListWord::parse(text).unwrap_err();
            assert!(answer.contains(words), "{text}: {answer}");
        }
    }

    #[test]
    fn levels_have_four_ways() {
        let ft = LengthUnit::Foot;
        assert_eq!(
            LevelWord::parse("level:94.80", ft),
            Ok(LevelWord::Level(94.80 * 0.3048))
        );
        assert_eq!(
            LevelWord::parse("below-benchmark: -1.20", LengthUnit::Metre),
            Ok(LevelWord::BelowBenchmark(-1.2))
        );
        assert_eq!(
            LevelWord::parse("depth:3", ft),
            Ok(LevelWord::Depth(3.0 * 0.3048))
        );
        assert_eq!(LevelWord::parse("height:0", ft), Ok(LevelWord::Height(0.0)));
        for (text, words) in [
            ("94.80", "how the level is meant"),
            ("dept:3", "the word `dept`"),
            ("level:", "`` is not a number"),
            ("level:nan", "`nan` is not a number"),
            ("level:inf", "`inf` is not a number"),
            ("level:1e999", "`1e999` is not a number"),
            ("level:1e300", "too large"),
            ("level:3,5", "`3,5` is not a number"),
            ("depth:-1", "the other way is `height`"),
            ("height:-1", "the other way is `depth`"),
        ] {
            let answer = LevelWord::parse(text, ft).unwrap_err();
            assert!(answer.contains(words), "{text}: {answer}");
        }
    }
}
