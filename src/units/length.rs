//! Lengths as people write them beside a tape: decimals, or feet and inches.
//!
//! Takes the text and the unit it is meant in; gives whole nanometres, or words on what else it
//! may mean.

use super::inches::{plain_marks, sixteenths, sixteenths_nm, spoken};
use super::{LengthUnit, NM_PER_M};

/// Metric marks that may stand behind a number, with the metres in each.
const METRIC_MARKS: [(&str, f64); 3] = [("mm", 0.001), ("cm", 0.01), ("m", 1.0)];

impl LengthUnit {
    /// A length in whole nanometres: a decimal number, with or without the mark of this unit
    /// (`28.4`, `28.4 ft`, `12.34 m`); where this is a foot also feet, inches and a fraction
    /// (`28' 4"`, `28-4-1/2`, `28ft 4in`).
    ///
    /// `None` when the text is none of these, when it could be meant in two ways (`28 4`,
    /// `28 1/2`), or as in [`LengthUnit::parse_nm`].
    pub fn parse_length_nm(self, text: &str) -> Option<i64> {
        if let Some(nm) = self.parse_nm(text) {
            return Some(nm);
        }
        let plain = plain_marks(text);
        let marks: &[&str] = match self {
            LengthUnit::Metre => &["m"],
            LengthUnit::Foot => &["ft", "ft.", "'"],
            LengthUnit::UsSurveyFoot => &["us-ft", "ft", "ft.", "'"],
        };
        let decimal = marks
            .iter()
            .filter_map(|mark| plain.strip_suffix(mark))
            .find_map(|digits| self.parse_nm(digits));
        if decimal.is_some() || !self.is_foot() || two_numbers(&plain).is_some() {
            return decimal;
        }
        sixteenths(&plain).map(|count| sixteenths_nm(count, self))
    }

    /// What to write instead of a text that [`LengthUnit::parse_length_nm`] does not take, with
    /// every length it may have been meant as; `None` if it looks like no length.
    pub fn length_meant(self, text: &str) -> Option<String> {
        let plain = plain_marks(text);
        if let Some((mark, metres)) = METRIC_MARKS.iter().find(|(mark, _)| plain.ends_with(mark))
            && let Ok(number) = plain[..plain.len() - mark.len()].trim().parse::<f64>()
        {
            let length = self.from_m(number * metres);
            return Some(format!(
                "{text} is {length:.3} {}: write it so, without the unit",
                self.name()
            ));
        }
        if !self.is_foot() {
            let count = sixteenths(&plain)?;
            let metres = sixteenths_nm(count, LengthUnit::Foot) as f64 / NM_PER_M;
            return Some(format!(
                "{text} is {} = {metres:.3} m: write {metres:.3}, or say that the file is in feet \
                 (`units = \"ft\"`, `--units ft`)",
                spoken(count)
            ));
        }
        let ways = |one: &str, other: &str| {
            Some(format!(
                "it can be meant in two ways: write {one}, or {other}"
            ))
        };
        if let Some((feet, inches)) = two_numbers(&plain) {
            return ways(
                &format!("{feet}-{inches} for {feet} ft {inches} in"),
                &format!("{feet}.{inches} for decimal feet"),
            );
        }
        let bare = plain.trim_end_matches(['\'', '"']).trim_end();
        let words: Vec<&str> = bare.split([' ', '-']).filter(|w| !w.is_empty()).collect();
        match words[..] {
            [one, part] if is_digits(one) && part.contains('/') => {
                let (num, den) = part.split_once('/')?;
                let (num, den) = (num.parse::<f64>().ok()?, den.parse::<f64>().ok()?);
                let feet = one.parse::<f64>().ok()? + num / den;
                ways(
                    &format!("{one}-0-{part} for {one} ft 0-{part} in"),
                    &format!("{feet} for {one} feet and {part} of a foot"),
                )
            }
            [feet, inches, part] if words.iter().all(|word| is_digits(word)) => ways(
                &format!("{feet}-{inches}-{part}/8"),
                &format!("{feet}-{inches}-{part}/16"),
            ),
            _ => plain.starts_with(|c: char| c.is_ascii_digit()).then(|| {
                "write decimal feet as 28.4, or feet and inches as 28' 4\" or 28-4-1/2; there are \
                 less than 12 inches behind the feet"
                    .to_owned()
            }),
        }
    }
}

/// Two whole numbers with nothing but a space between: inches behind feet, or a lost point.
fn two_numbers(plain: &str) -> Option<(&str, &str)> {
    let (one, other) = plain.split_once(' ')?;
    let other = other.trim_start();
    (is_digits(one) && is_digits(other)).then_some((one, other))
}

fn is_digits(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tape_in_feet_is_read_as_it_is_written() {
        // 28 ft 4 in is 340 in of 25.4 mm (arithmetic); a half inch more is 340.5 in.
        for (text, tenth_inches) in [
            ("28' 4\"", 3400),
            ("28'4\"", 3400),
            ("28-4", 3400),
            ("28ft 4in", 3400),
            ("28 ft. 4 in.", 3400),
            ("28\u{2019} 4\u{201d}", 3400),
            ("340\"", 3400),
            ("28-4-1/2", 3405),
            ("28' 4 1/2\"", 3405),
            ("28' 4-1/2\"", 3405),
            ("28 4 1/2", 3405),
            ("28' 4\u{bd}\"", 3405),
            ("28'", 3360),
            ("28.5'", 3420),
            ("28.5 ft", 3420),
            ("28.5", 3420),
        ] {
            let nm = LengthUnit::Foot.parse_length_nm(text);
            assert_eq!(nm, Some(tenth_inches * 2_540_000), "{text}");
        }
        let metres = |text| LengthUnit::Metre.parse_length_nm(text);
        assert_eq!(metres("12.34 m"), Some(12_340_000_000));
        assert_eq!((metres("28' 4\""), metres("1234 cm")), (None, None));
        // 1 US survey foot = 1200/3937 m by definition.
        let survey = LengthUnit::UsSurveyFoot.parse_length_nm("1'");
        assert_eq!(survey, Some(304_800_610));
    }

    #[test]
    fn what_can_be_meant_in_two_ways_is_refused_with_both() {
        for (unit, text, one, other) in [
            (LengthUnit::Foot, "28 4", "28-4 for 28 ft 4 in", "28.4 for"),
            (LengthUnit::Foot, "28 1/2", "28-0-1/2", "28.5 for"),
            (LengthUnit::Foot, "28 1/2'", "28-0-1/2", "28.5 for"),
            (LengthUnit::Foot, "28-4-1", "28-4-1/8", "28-4-1/16"),
            (LengthUnit::Foot, "28' 13\"", "28.4", "less than 12"),
            (LengthUnit::Foot, "12.34 m", "40.486 ft", "write it so"),
            (LengthUnit::Metre, "1234 cm", "12.340 m", "write it so"),
            (LengthUnit::Metre, "28' 4\"", "8.636 m", "--units ft"),
        ] {
            assert_eq!(unit.parse_length_nm(text), None, "{text}");
            let help = unit.length_meant(text).unwrap();
            assert!(help.contains(one) && help.contains(other), "{text}: {help}");
        }
        for text in ["", "-", "gate", "nan", "'", "m"] {
            assert_eq!(LengthUnit::Foot.parse_length_nm(text), None, "{text}");
            assert_eq!(LengthUnit::Foot.length_meant(text), None, "{text}");
        }
    }
}
