//! Rod readings: what was called out, as a length.
//!
//! Takes the text of a reading and how the rod is divided, gives whole nanometres with the text
//! kept; gives a reading back in both notations of the foot. Knows no level and no set-up.

use crate::job::RodKind;
use crate::units::{LengthUnit, NM_PER_M};

use super::cell::MAX_HEIGHT_M;

/// Longest rod in feet, metres: no yard rod reaches 30 ft.
const MAX_FOOT_ROD_M: f64 = 30.0 * 0.3048;
/// Longest metric rod, metres.
const MAX_METRIC_ROD_M: f64 = 10.0;
/// Sixteenths of an inch in a foot.
const SIXTEENTHS_PER_FOOT: i64 = 192;

/// A reading as it was called out, and what it means.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RodReading {
    /// The text as booked.
    pub text: String,
    /// The reading in whole nanometres; negative if the rod stood upside down. With
    /// [`RodKind::Direct`] it is the elevation itself.
    pub nm: i64,
}

impl RodReading {
    /// The reading in metres.
    pub fn metres(&self) -> f64 {
        self.nm as f64 / NM_PER_M
    }
}

/// Reads a rod reading.
///
/// - Tenths: `5.60`, with or without `ft`; inch-eighths: `5-7-3/8`, `5' 7 3/8"`, `5 7 3/8`,
///   `5 7`, `7 3/8"`, `5'`; metric: `1.234`, with or without `m`; direct: an elevation in
///   `heights`.
/// - A minus sign in front means that the rod stood upside down.
/// - Feet are US survey feet if `heights` is, international feet otherwise.
///
/// # Errors
///
/// a sentence on what is wrong and a sentence on what to do: not such a reading, or
/// longer than any rod (30 ft, 10 m)
pub fn read_rod(
    kind: RodKind,
    heights: LengthUnit,
    text: &str,
) -> Result<RodReading, (String, String)> {
    let booked = text.trim();
    let plain = plain_marks(booked);
    let foot = if heights.is_foot() {
        heights
    } else {
        LengthUnit::Foot
    };
    let (nm, limit_m) = match kind {
        RodKind::Tenths => {
            let digits = plain.strip_suffix("ft").unwrap_or(&plain).trim_end();
            (foot.parse_nm(digits), MAX_FOOT_ROD_M)
        }
        RodKind::Metric => {
            let digits = plain.strip_suffix('m').unwrap_or(&plain).trim_end();
            (LengthUnit::Metre.parse_nm(digits), MAX_METRIC_ROD_M)
        }
        RodKind::Direct => (heights.parse_nm(&plain), MAX_HEIGHT_M),
        RodKind::InchEighths => (
            inches(&plain).map(|n| sixteenths_nm(n, foot)),
            MAX_FOOT_ROD_M,
        ),
    };
    let Some(nm) = nm else {
        return Err(refusal(kind, booked, &plain));
    };
    // A hair of a nanometre for the foot that is no whole number of them.
    if nm.unsigned_abs() as f64 > limit_m * NM_PER_M + 1.0 {
        let (limit, help) = match kind {
            RodKind::Metric => ("10 m", "check the reading and the kind of rod"),
            RodKind::Direct => ("100 km", "check the elevation and its unit"),
            RodKind::Tenths | RodKind::InchEighths => (
                "30 ft",
                "check the reading: is a decimal point missing, or is the rod metric?",
            ),
        };
        return Err((format!("no rod reads more than {limit}"), help.to_owned()));
    }
    Ok(RodReading {
        text: booked.to_owned(),
        nm,
    })
}

/// A reading in metres the way the crew may call it: feet in both notations, to a hundredth and
/// to the nearest sixteenth of an inch (`5.60 ft = 5 ft 7-3/16 in`), or metres to a millimetre.
pub fn echo(kind: RodKind, rod_m: f64) -> String {
    if kind == RodKind::Metric {
        return format!("{rod_m:.3} m");
    }
    let feet = LengthUnit::Foot.from_m(rod_m);
    let parts = (feet.abs() * SIXTEENTHS_PER_FOOT as f64).round() as i64;
    let sign = if feet < 0.0 && parts > 0 { "-" } else { "" };
    // A reading that rounds to nothing carries no minus sign.
    let feet = if (feet * 100.0).round() == 0.0 {
        0.0
    } else {
        feet
    };
    let (whole, rest) = (parts / SIXTEENTHS_PER_FOOT, parts % SIXTEENTHS_PER_FOOT);
    let (inch, mut num, mut den) = (rest / 16, rest % 16, 16);
    while num > 0 && num % 2 == 0 {
        (num, den) = (num / 2, den / 2);
    }
    let fraction = if num > 0 {
        format!("-{num}/{den}")
    } else {
        String::new()
    };
    format!("{feet:.2} ft = {sign}{whole} ft {inch}{fraction} in")
}

/// What to say of a text that is no reading of this kind of rod.
fn refusal(kind: RodKind, booked: &str, plain: &str) -> (String, String) {
    if booked.is_empty() {
        return (
            "the rod reading is blank".into(),
            "fill it in, or take the row out".into(),
        );
    }
    let decimal = plain.parse::<f64>().is_ok_and(f64::is_finite);
    let in_inches = inches(plain).is_some();
    let (message, help) = match kind {
        RodKind::InchEighths if decimal && plain.contains('.') => (
            "a decimal reading on a rod of feet, inches and eighths",
            "book it as 5-7-3/8; if the rod is divided in tenths of a foot say `rod = \"tenths\"`",
        ),
        RodKind::InchEighths => (
            "this is no clear reading in feet, inches and eighths",
            "book feet, inches and eighths with hyphens: 5-7-3/8, or 5-0 for five feet",
        ),
        RodKind::Tenths | RodKind::Metric | RodKind::Direct if in_inches => (
            "a reading in feet and inches on a rod that is divided otherwise",
            "if the rod is divided in inches and eighths say `rod = \"inch-eighths\"`",
        ),
        _ if plain.contains(',') => ("this is not a number", "use a decimal point"),
        RodKind::Tenths => ("this is no reading in feet and tenths", "book it as 5.60"),
        RodKind::Metric => ("this is no reading in metres", "book it as 1.234"),
        RodKind::Direct => ("this is no elevation", "book it as a plain number"),
    };
    (message.to_owned(), help.to_owned())
}

/// The text with one kind of minus, foot mark and inch mark.
fn plain_marks(text: &str) -> String {
    text.replace('\u{2212}', "-")
        .replace(['\u{2032}', '\u{2019}'], "'")
        .replace(['\u{2033}', '\u{201d}'], "\"")
        .replace("''", "\"")
}

/// Sixteenths of an inch of a reading in feet, inches and a fraction; `None` if it is not one,
/// or could be meant in two ways (a lone `5`, or `7 3/8` without a mark).
fn inches(plain: &str) -> Option<i64> {
    let (sign, body) = match plain.strip_prefix('-') {
        Some(rest) => (-1, rest.trim_start()),
        None => (1, plain),
    };
    let body = body.replace("ft", "'").replace("in", "\"");
    let (feet, rest, marked) = match body.split_once('\'') {
        Some((feet, rest)) => (Some(whole(feet.trim())?), rest, true),
        None => (None, body.as_str(), false),
    };
    let (rest, inch_mark) = match rest.trim().strip_suffix('"') {
        Some(rest) => (rest.trim(), true),
        None => (rest.trim(), false),
    };
    let rest = if marked {
        rest.strip_prefix('-').unwrap_or(rest).trim_start()
    } else {
        rest
    };
    if rest.is_empty() {
        return (marked && !inch_mark).then(|| sign * feet.unwrap_or(0) * SIXTEENTHS_PER_FOOT);
    }
    let words: Vec<&str> = rest.split([' ', '-']).collect();
    if words.iter().any(|word| word.is_empty()) {
        return None;
    }
    let (feet, inch, part) = match (feet, words.as_slice()) {
        (Some(feet), [inch, part]) => (feet, whole(inch)?, fraction(part)?),
        (Some(feet), [one]) => match fraction(one) {
            Some(part) => (feet, 0, part),
            None => (feet, whole(one)?, 0),
        },
        (None, [feet, inch, part]) => (whole(feet)?, whole(inch)?, fraction(part)?),
        (None, [inch, part]) if inch_mark && part.contains('/') => {
            (0, whole(inch)?, fraction(part)?)
        }
        (None, [feet, inch]) => (whole(feet)?, whole(inch)?, 0),
        (None, [one]) if inch_mark => match fraction(one) {
            Some(part) => (0, 0, part),
            None => (0, whole(one)?, 0),
        },
        _ => return None,
    };
    (inch < 12).then(|| sign * ((feet * 12 + inch) * 16 + part))
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
fn sixteenths_nm(count: i64, foot: LengthUnit) -> i64 {
    if foot == LengthUnit::UsSurveyFoot {
        (count as f64 / SIXTEENTHS_PER_FOOT as f64 * foot.metres() * NM_PER_M).round() as i64
    } else {
        // An inch is 25.4 mm exactly, so a sixteenth is 1 587 500 nm.
        count * 1_587_500
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ft(kind: RodKind, text: &str) -> Option<f64> {
        read_rod(kind, LengthUnit::Foot, text)
            .ok()
            .map(|rod| rod.metres() / 0.3048)
    }

    #[test]
    fn inch_rods_in_all_notations() {
        // 4 ft 7-3/8 in is 4 + 7.375/12 ft, 5 ft 3-1/4 in is 5 + 3.25/12 ft (arithmetic, LVL-15).
        for text in [
            "4-7-3/8",
            "4' 7 3/8\"",
            "4 7 3/8",
            "4'7-3/8\"",
            "4 ft 7 3/8 in",
            "4\u{2032} 7 3/8\u{2033}",
        ] {
            let value = ft(RodKind::InchEighths, text).expect(text);
            assert!(
                (value - (4.0 + 7.375 / 12.0)).abs() < 1e-12,
                "{text}: {value}"
            );
        }
        for (text, inches) in [
            ("5 7", 67.0),
            ("5-0", 60.0),
            ("5'", 60.0),
            ("7 3/8\"", 7.375),
            ("7\"", 7.0),
            ("3/8\"", 0.375),
            ("5' 3/8\"", 60.375),
            ("-5-7-3/8", -67.375),
            ("-0-6", -6.0),
        ] {
            let value = ft(RodKind::InchEighths, text).expect(text);
            assert!((value * 12.0 - inches).abs() < 1e-9, "{text}: {value}");
        }
        for text in [
            "5", "5.60", "7 3/8", "5-12", "5-7-8/8", "5-7-3/7", "", "-", "5--7", "x", "31-0",
        ] {
            assert_eq!(ft(RodKind::InchEighths, text), None, "{text}");
        }
    }

    #[test]
    fn a_rod_is_refused_with_a_way_out() {
        let refuse = |kind, text: &str| read_rod(kind, LengthUnit::Foot, text).unwrap_err();
        assert!(
            refuse(RodKind::InchEighths, "5.60")
                .1
                .contains("rod = \"tenths\"")
        );
        assert!(
            refuse(RodKind::Tenths, "5-7-3/8")
                .1
                .contains("rod = \"inch-eighths\"")
        );
        assert!(refuse(RodKind::Tenths, "30.01").0.contains("30 ft"));
        assert!(refuse(RodKind::Tenths, "5,60").1.contains("decimal point"));
        assert!(refuse(RodKind::Metric, "10.001").0.contains("10 m"));
        for text in ["nan", "inf", "1e300", "-30.01", "5.6.0", "5.60 m"] {
            assert!(
                read_rod(RodKind::Tenths, LengthUnit::Foot, text).is_err(),
                "{text}"
            );
        }
    }

    #[test]
    fn decimals_and_elevations() {
        assert_eq!(ft(RodKind::Tenths, "30.00"), Some(30.0));
        assert_eq!(
            ft(RodKind::Tenths, "2.3 ft").map(|v| (v * 12.0 * 1e9).round()),
            Some(27.6e9)
        );
        let rod = read_rod(RodKind::Metric, LengthUnit::Metre, " -2.956 ").unwrap();
        assert_eq!((rod.nm, rod.text.as_str()), (-2_956_000_000, "-2.956"));
        let direct = read_rod(RodKind::Direct, LengthUnit::Metre, "783.213").unwrap();
        assert_eq!(direct.nm, 783_213_000_000);
        // 1 US survey foot = 1200/3937 m by definition.
        let survey = read_rod(RodKind::InchEighths, LengthUnit::UsSurveyFoot, "1-0").unwrap();
        assert_eq!(survey.nm, 304_800_610);
    }

    #[test]
    fn a_reading_is_said_both_ways() {
        // 0.60 ft is 7.2 in; to the nearest sixteenth 7-3/16 in (arithmetic).
        assert_eq!(
            echo(RodKind::Tenths, 5.60 * 0.3048),
            "5.60 ft = 5 ft 7-3/16 in"
        );
        assert_eq!(
            echo(RodKind::InchEighths, 4.5 * 0.3048),
            "4.50 ft = 4 ft 6 in"
        );
        assert_eq!(
            echo(RodKind::Tenths, 5.9999 * 0.3048),
            "6.00 ft = 6 ft 0 in"
        );
        assert_eq!(
            echo(RodKind::Tenths, -0.5 * 0.3048),
            "-0.50 ft = -0 ft 6 in"
        );
        assert_eq!(echo(RodKind::Metric, 1.2344), "1.234 m");
    }
}
