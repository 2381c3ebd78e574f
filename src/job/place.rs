//! Places and levels as a job names them.
//!
//! Takes the words of one value, gives what they mean in SI. Knows no file, no key and no
//! survey: whether a shot exists is found out later.

use crate::diag::At;
use crate::units::{LengthUnit, MAX_COORDINATE_M};

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
    /// `"shots:31-38,40"`: names and ranges of numbered names, each as typed. Whether `1-3` is a
    /// range or the name of a shot, only the survey can tell.
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

/// Names and ranges with commas between them, each as typed.
fn parse_shots(list: &str) -> Result<Vec<String>, String> {
    let items: Vec<String> = list
        .split(',')
        .map(|item| item.trim().to_string())
        .collect();
    if items.iter().any(String::is_empty) {
        return Err("a name is missing in the list of shots".to_string());
    }
    Ok(items)
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
    fn shots_stay_as_typed() {
        // Only the survey knows whether `1-3` is a range or a name.
        assert_eq!(shots("31-34, 40 ,1-3"), ["31-34", "40", "1-3"]);
        assert_eq!(shots("TP-1,gate-post,7"), ["TP-1", "gate-post", "7"]);
        assert_eq!(shots("S9 - S11"), ["S9 - S11"]);
        assert_eq!(
            PlaceListWord::parse("code: fence "),
            Ok(PlaceListWord::Code("fence".to_string()))
        );
    }

    #[test]
    fn lists_that_say_nothing_are_refused() {
        for (text, words) in [
            ("31-38", "does not say which places"),
            ("code:", "no code stands"),
            ("shots:", "a name is missing"),
            ("shots:1,,2", "a name is missing"),
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
