//! Feet, inches and fractions, in every way people write them.
//!
//! Takes text, gives sixteenths of an inch, or nothing where it could be meant in two ways.
//! Knows no rod and no tape.

use super::{LengthUnit, NM_PER_M};

/// Sixteenths of an inch in a foot.
pub(crate) const SIXTEENTHS_PER_FOOT: i64 = 192;

/// Fractions that have a character of their own.
const FRACTIONS: [(char, &str); 7] = [
    ('\u{bd}', "1/2"),
    ('\u{bc}', "1/4"),
    ('\u{be}', "3/4"),
    ('\u{215b}', "1/8"),
    ('\u{215c}', "3/8"),
    ('\u{215d}', "5/8"),
    ('\u{215e}', "7/8"),
];

/// The text in lower case with one kind of minus, foot mark, inch mark and fraction.
pub(crate) fn plain_marks(text: &str) -> String {
    let mut plain = String::with_capacity(text.len() + 4);
    for c in text.trim().to_lowercase().chars() {
        match c {
            '\u{2010}'..='\u{2014}' | '\u{2212}' => plain.push('-'),
            '\u{2018}' | '\u{2019}' | '\u{2032}' | '\u{b4}' | '`' => plain.push('\''),
            '\u{201c}' | '\u{201d}' | '\u{2033}' => plain.push('"'),
            '\u{2044}' => plain.push('/'),
            '\u{a0}' | '\u{2009}' | '\u{202f}' => plain.push(' '),
            _ => match FRACTIONS.iter().find(|(mark, _)| *mark == c) {
                Some((_, digits)) => {
                    // `7` followed by the mark of 3/8 is 7 3/8.
                    if plain.ends_with(|before: char| before.is_ascii_digit()) {
                        plain.push(' ');
                    }
                    plain.push_str(digits);
                }
                None => plain.push(c),
            },
        }
    }
    plain.replace("''", "\"")
}

/// Sixteenths of an inch of a reading in feet, inches and a fraction, of text that went through
/// [`plain_marks`].
///
/// `None` if it is not one, or could be meant in two ways: a lone `5`, `7 3/8` without a mark,
/// `5-7-3`.
pub(crate) fn sixteenths(plain: &str) -> Option<i64> {
    let (sign, body) = match plain.strip_prefix('-') {
        Some(rest) => (-1, rest.trim_start()),
        None => (1, plain),
    };
    let mut body = body.to_owned();
    for (words, mark) in [
        (["feet", "foot", "ft.", "ft"], "'"),
        (["inches", "inch", "in.", "in"], "\""),
    ] {
        for word in words {
            body = body.replace(word, mark);
        }
    }
    let (feet, rest) = match body.split_once('\'') {
        Some((feet, rest)) => (Some(whole(feet.trim_end())?), rest.trim_start()),
        None => (None, body.as_str()),
    };
    let (rest, inch_mark) = match rest.trim_end().strip_suffix('"') {
        Some(rest) => (rest.trim_end(), true),
        None => (rest.trim_end(), false),
    };
    let Some(feet) = feet else {
        return unmarked(rest, inch_mark).map(|n| sign * n);
    };
    let rest = rest.strip_prefix('-').unwrap_or(rest).trim_start();
    let inches = match words_of(rest)?.as_slice() {
        [] if !inch_mark => 0,
        [one] => inch(one, inch_mark)?,
        [inch, part] => whole(inch)? * 16 + fraction(part)?,
        _ => return None,
    };
    (inches < SIXTEENTHS_PER_FOOT).then(|| sign * (feet * SIXTEENTHS_PER_FOOT + inches))
}

/// A reading without a foot mark.
fn unmarked(rest: &str, inch_mark: bool) -> Option<i64> {
    let feet_and = |feet: &str, inches: i64| {
        let feet = whole(feet)?;
        (inches < SIXTEENTHS_PER_FOOT).then_some(feet * SIXTEENTHS_PER_FOOT + inches)
    };
    match words_of(rest)?.as_slice() {
        [feet, inch, part] => feet_and(feet, whole(inch)? * 16 + fraction(part)?),
        [inch, part] if part.contains('/') => {
            let inches = whole(inch)? * 16 + fraction(part)?;
            inch_mark.then_some(inches)
        }
        [feet, one] => feet_and(feet, inch(one, inch_mark)?),
        [one] if inch_mark => inch(one, true),
        _ => None,
    }
}

/// The words of a text, parted by a space or by a hyphen with or without spaces round it.
fn words_of(text: &str) -> Option<Vec<&str>> {
    if text.is_empty() {
        return Some(Vec::new());
    }
    let mut words = Vec::new();
    for part in text.split('-') {
        let before = words.len();
        words.extend(part.split_whitespace());
        if words.len() == before {
            return None;
        }
    }
    Some(words)
}

/// Whole inches or a fraction of one; with an inch mark also decimals that are whole sixteenths.
fn inch(text: &str, marked: bool) -> Option<i64> {
    if let Some(part) = fraction(text) {
        return Some(part);
    }
    if let Some(inches) = whole(text) {
        return Some(inches * 16);
    }
    let (inches, decimals) = text.split_once('.').filter(|_| marked)?;
    let (inches, tenth_thousandths) = (whole(inches)?, whole(&format!("{decimals:0<4}"))?);
    (tenth_thousandths % 625 == 0).then_some(inches * 16 + tenth_thousandths / 625)
}

/// A whole number of up to four digits.
fn whole(text: &str) -> Option<i64> {
    let digits = (1..=4).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_digit());
    digits.then(|| text.parse().ok()).flatten()
}

/// A proper fraction of an inch in sixteenths: halves, quarters, eighths or sixteenths.
fn fraction(text: &str) -> Option<i64> {
    let (num, den) = text.split_once('/')?;
    let (num, den) = (whole(num)?, whole(den)?);
    (matches!(den, 2 | 4 | 8 | 16) && num < den).then(|| num * 16 / den)
}

/// Sixteenths of an inch of this foot in whole nanometres.
pub(crate) fn sixteenths_nm(count: i64, foot: LengthUnit) -> i64 {
    if foot == LengthUnit::UsSurveyFoot {
        (count as f64 / SIXTEENTHS_PER_FOOT as f64 * foot.metres() * NM_PER_M).round() as i64
    } else {
        // An inch is 25.4 mm exactly, so a sixteenth is 1 587 500 nm.
        count * 1_587_500
    }
}

/// Feet, inches and a fraction as a crew writes them: `5-7-3/8`.
pub(crate) fn written(count: i64) -> String {
    let (feet, inch, part) = parts(count.abs());
    let sign = if count < 0 { "-" } else { "" };
    format!(
        "{sign}{feet}-{inch}{}",
        part.map_or_else(String::new, |p| format!("-{p}"))
    )
}

/// The same as it is spoken: `5 ft 7-3/8 in`.
pub(crate) fn spoken(count: i64) -> String {
    let (feet, inch, part) = parts(count.abs());
    let sign = if count < 0 { "-" } else { "" };
    let part = part.map_or_else(String::new, |p| format!("-{p}"));
    format!("{sign}{feet} ft {inch}{part} in")
}

/// Feet, inches and the fraction in lowest terms.
fn parts(count: i64) -> (i64, i64, Option<String>) {
    let (feet, rest) = (count / SIXTEENTHS_PER_FOOT, count % SIXTEENTHS_PER_FOOT);
    let (inch, mut num, mut den) = (rest / 16, rest % 16, 16);
    while num > 0 && num % 2 == 0 {
        (num, den) = (num / 2, den / 2);
    }
    (feet, inch, (num > 0).then(|| format!("{num}/{den}")))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn inches(text: &str) -> Option<f64> {
        sixteenths(&plain_marks(text)).map(|n| n as f64 / 16.0)
    }

    #[test]
    fn one_reading_in_every_notation() {
        // 4 ft 7-3/8 in is 55.375 in (arithmetic, LVL-15).
        for text in [
            "4-7-3/8",
            "4' 7 3/8\"",
            "4 7 3/8",
            "4'7-3/8\"",
            "4 ft 7 3/8 in",
            "4\u{2032} 7 3/8\u{2033}",
            "4\u{2019}-7\u{215c}\u{201d}",
            "4 - 7 - 3/8",
            "4\u{2013}7\u{215c}",
            "4ft7\u{215c}in",
            "4 Feet 7 3/8 Inches",
            "4' 7.375\"",
            "55 3/8\"",
            "4'-7 3/8''",
        ] {
            assert_eq!(inches(text), Some(55.375), "{text}");
        }
        for (text, want) in [
            ("5 7", 67.0),
            ("5-0", 60.0),
            ("5'", 60.0),
            ("5ft", 60.0),
            ("5ft 7in", 67.0),
            ("5 ft. 7 in.", 67.0),
            ("5'-7\"", 67.0),
            ("7 3/8\"", 7.375),
            ("7\"", 7.0),
            ("67\"", 67.0),
            ("3/8\"", 0.375),
            ("\u{bd}\"", 0.5),
            ("5' 3/8\"", 60.375),
            ("-5-7-3/8", -67.375),
            ("-0-6", -6.0),
        ] {
            assert_eq!(inches(text), Some(want), "{text}");
        }
    }

    #[test]
    fn what_could_be_meant_in_two_ways_is_none() {
        for text in [
            "5",
            "5.60",
            "7 3/8",
            "5-12",
            "5-7-8/8",
            "5-7-3/7",
            "",
            "-",
            "5--7",
            "x",
            "5-7-3",
            "5' 12\"",
            "5' 7.3\"",
            "5'\"",
            "5-7-3/8-1",
            "3/8",
            "5 7.5",
            "5'7'",
        ] {
            assert_eq!(inches(text), None, "{text}");
        }
    }

    #[test]
    fn readings_are_written_and_spoken() {
        let count = 67 * 16 + 6;
        assert_eq!(written(count), "5-7-3/8");
        assert_eq!(spoken(-count), "-5 ft 7-3/8 in");
        assert_eq!(
            (written(960), spoken(8)),
            ("5-0".into(), "0 ft 0-1/2 in".into())
        );
    }
}
