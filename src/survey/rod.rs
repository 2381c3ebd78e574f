//! Rod readings: what was called out, as a length.
//!
//! Takes the text of a reading and the rod it was read on, gives whole nanometres with the text
//! kept; gives a reading back in both notations of the foot. Knows no level and no set-up.

use crate::job::{Rod, RodKind};
use crate::units::inches::{
    SIXTEENTHS_PER_FOOT, plain_marks, sixteenths, sixteenths_nm, spoken, written,
};
use crate::units::{LengthUnit, NM_PER_M};

use super::cell::MAX_HEIGHT_M;
use super::rod_refusal::refusal;

/// Longest rod in feet, metres: no yard rod reaches 30 ft.
pub(super) const MAX_FOOT_ROD_M: f64 = 30.0 * 0.3048;
/// Longest metric rod, metres.
pub(super) const MAX_METRIC_ROD_M: f64 = 10.0;
/// A reading on a rod in millimetres that has a point and is smaller was booked in metres.
const LEAST_POINTED_MM: f64 = 10.0;

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
///   `5 7`, `7 3/8"`, `5'` and the like; metric: `1.234`, with or without `m`, or `1234 mm`,
///   `123.4 cm`; millimetres: `1234`, or with a unit as metric; direct: an elevation in
///   `heights`.
/// - A minus sign in front means that the rod stood upside down, unless the rod is declared to
///   do so: then every reading counts upward and a sign is refused.
/// - Feet are US survey feet if `heights` is, international feet otherwise.
///
/// # Errors
///
/// a sentence on what is wrong and a sentence on what to do: not such a reading, longer than any
/// rod (30 ft, 10 m), or a sign that could be meant in two ways
pub fn read_rod(rod: Rod, heights: LengthUnit, text: &str) -> Result<RodReading, (String, String)> {
    let booked = text.trim();
    let plain = plain_marks(booked);
    let foot = foot_of(heights);
    if rod.upside_down && plain.starts_with('-') {
        let message = "a minus sign on a rod that is declared upside-down";
        let help = "take the sign out: every reading of this set-up counts upward already";
        return Err((message.to_owned(), help.to_owned()));
    }
    let (nm, limit_m) = match rod.kind {
        RodKind::Tenths => {
            let digits = plain.strip_suffix("ft").or(plain.strip_suffix('\''));
            let digits = digits.unwrap_or(&plain).trim_end();
            (foot.parse_nm(digits), MAX_FOOT_ROD_M)
        }
        RodKind::Metric => (metric(&plain, 9), MAX_METRIC_ROD_M),
        RodKind::Millimetres => (metric(&plain, 6), MAX_METRIC_ROD_M),
        RodKind::Direct => (heights.parse_nm(&plain), MAX_HEIGHT_M),
        RodKind::InchEighths => (
            sixteenths(&plain).map(|n| sixteenths_nm(n, foot)),
            MAX_FOOT_ROD_M,
        ),
    };
    let pointed_mm = rod.kind == RodKind::Millimetres
        && plain.contains('.')
        && plain
            .parse::<f64>()
            .is_ok_and(|mm| mm.abs() < LEAST_POINTED_MM);
    match nm {
        // A hair of a nanometre for the foot that is no whole number of them.
        Some(nm) if !pointed_mm && nm.unsigned_abs() as f64 <= limit_m * NM_PER_M + 1.0 => {
            Ok(RodReading {
                text: booked.to_owned(),
                nm: if rod.upside_down { -nm } else { nm },
            })
        }
        _ => Err(refusal(rod.kind, heights, booked, &plain, nm.is_some())),
    }
}

/// The foot of a book: that of its heights, the international foot if they are in metres.
pub(super) fn foot_of(heights: LengthUnit) -> LengthUnit {
    if heights.is_foot() {
        heights
    } else {
        LengthUnit::Foot
    }
}

/// Whole nanometres of a reading in metres, centimetres or millimetres; `bare` is the power of
/// ten of nanometres in the unit that is meant if none is written.
pub(super) fn metric(plain: &str, bare: u32) -> Option<i64> {
    let (digits, power) = match plain {
        _ if plain.ends_with("mm") => (&plain[..plain.len() - 2], 6),
        _ if plain.ends_with("cm") => (&plain[..plain.len() - 2], 7),
        _ if plain.ends_with('m') => (&plain[..plain.len() - 1], 9),
        _ => (plain, bare),
    };
    let digits = digits.trim_end();
    if power == 9 {
        return LengthUnit::Metre.parse_nm(digits);
    }
    // The same digits in metres, divided: exact, since a tenth of a millimetre is whole.
    let per_metre = 10i64.pow(9 - power);
    let metres_nm = LengthUnit::Metre.parse_nm(digits)?;
    Some((metres_nm + metres_nm.signum() * (per_metre / 2)) / per_metre)
}

/// What a reading is called back as: [`echo`], but an elevation in metres stays in metres.
pub(crate) fn called_back(kind: RodKind, heights: LengthUnit, rod_m: f64) -> String {
    match kind {
        RodKind::Direct if !heights.is_foot() => echo(RodKind::Metric, rod_m),
        _ => echo(kind, rod_m),
    }
}

/// A reading in metres the way the crew may call it: feet in both notations, to a hundredth and
/// to the nearest sixteenth of an inch (`5.60 ft = 5 ft 7-3/16 in`), or metres to a millimetre.
pub fn echo(kind: RodKind, rod_m: f64) -> String {
    if matches!(kind, RodKind::Metric | RodKind::Millimetres) {
        return format!("{rod_m:.3} m");
    }
    let feet = LengthUnit::Foot.from_m(rod_m);
    let count = (feet * SIXTEENTHS_PER_FOOT as f64).round() as i64;
    // A reading that rounds to nothing carries no minus sign.
    let feet = if (feet * 100.0).round() == 0.0 {
        0.0
    } else {
        feet
    };
    format!("{feet:.2} ft = {}", spoken(count))
}

/// A reading as it would have been booked on a rod of this kind.
pub(crate) fn as_booked(kind: RodKind, heights: LengthUnit, rod_m: f64) -> String {
    let foot = foot_of(heights);
    match kind {
        RodKind::Tenths => format!("{:.2}", foot.from_m(rod_m)),
        RodKind::InchEighths => {
            let count = foot.from_m(rod_m) * SIXTEENTHS_PER_FOOT as f64;
            written(count.round() as i64)
        }
        RodKind::Metric => format!("{rod_m:.3}"),
        RodKind::Millimetres => format!("{:.0}", rod_m * 1000.0),
        RodKind::Direct if heights.is_foot() => format!("{:.2}", heights.from_m(rod_m)),
        RodKind::Direct => format!("{rod_m:.3}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ft(kind: RodKind, text: &str) -> Option<f64> {
        read_rod(kind.into(), LengthUnit::Foot, text)
            .ok()
            .map(|rod| rod.metres() / 0.3048)
    }

    fn refuse(kind: RodKind, text: &str) -> (String, String) {
        read_rod(kind.into(), LengthUnit::Foot, text).unwrap_err()
    }

    #[test]
    fn a_rod_is_refused_with_both_echoes() {
        for (kind, text, echoes, cure) in [
            (
                RodKind::InchEighths,
                "5.60",
                "5.60 ft = 5 ft 7-3/16 in",
                "rod = \"tenths\"",
            ),
            (
                RodKind::Tenths,
                "5-7-3/8",
                "5-7-3/8 is 5.61 ft = 5 ft 7-3/8 in",
                "\"inch-eighths\"",
            ),
            (RodKind::Metric, "5-7-3/8", "1.711 m", "\"inch-eighths\""),
            (
                RodKind::Metric,
                "1234",
                "1234 mm would be 1.234 m",
                "rod = \"millimetres\"",
            ),
            (
                RodKind::Millimetres,
                "1.234",
                "1.234 m would be 1234 mm",
                "rod = \"metric\"",
            ),
            (
                RodKind::Tenths,
                "560",
                "5.60 ft = 5 ft 7-3/16 in",
                "decimal point missing",
            ),
            (
                RodKind::Tenths,
                "1234",
                "1.234 m = 4.05 ft",
                "rod = \"millimetres\"",
            ),
            (
                RodKind::Tenths,
                "1.234 m",
                "4.05 ft = 4 ft 0-9/16 in",
                "rod = \"metric\"",
            ),
            (RodKind::Tenths, "5,60", "5.60", "decimal point"),
            (RodKind::Tenths, "5,60", "5.60", "--decimal comma"),
            (RodKind::Tenths, "4.9O", "4.90", "a letter"),
            (RodKind::Metric, "n/a", "nothing was read", "# in front"),
        ] {
            let help = refuse(kind, text).1;
            assert!(
                help.contains(echoes) && help.contains(cure),
                "{text}: {help}"
            );
        }
        for (text, ways) in [
            ("5", "5-0 or 0-5"),
            ("7 3/8", "7-0-3/8 or 0-7-3/8"),
            ("5-7-3", "5-7-3/8 or 5-7-3/16"),
        ] {
            let help = refuse(RodKind::InchEighths, text).1;
            assert!(help.ends_with(ways), "{text}: {help}");
        }
        assert!(refuse(RodKind::Tenths, "nan").0.contains("not a finite"));
        assert!(refuse(RodKind::Metric, "1e300").0.contains("10 m"));
        assert!(refuse(RodKind::Tenths, "30.01").0.contains("30 ft"));
        assert!(refuse(RodKind::InchEighths, "31-0").0.contains("30 ft"));
        assert!(refuse(RodKind::Metric, "10.001").0.contains("10 m"));
        assert!(refuse(RodKind::Millimetres, "10001").0.contains("10 m"));
        for kind in [RodKind::Tenths, RodKind::InchEighths, RodKind::Metric] {
            for text in ["nan", "inf", "1e300", "-30.01", "5.6.0", "", "5 7.5"] {
                assert!(
                    read_rod(kind.into(), LengthUnit::Foot, text).is_err(),
                    "{text}"
                );
            }
        }
    }

    #[test]
    fn a_rod_upside_down_counts_upward() {
        let rod = Rod {
            kind: RodKind::Tenths,
            upside_down: true,
        };
        let read = |text| read_rod(rod, LengthUnit::Foot, text);
        assert_eq!(read("3.00").unwrap().nm, -914_400_000);
        assert!(read("-3.00").unwrap_err().1.contains("take the sign out"));
    }

    #[test]
    fn decimals_and_elevations() {
        assert_eq!(ft(RodKind::Tenths, "30.00"), Some(30.0));
        assert_eq!(ft(RodKind::Tenths, "5.60'"), ft(RodKind::Tenths, "5.60 ft"));
        assert_eq!(
            ft(RodKind::Tenths, "2.3 ft").map(|v| (v * 12.0 * 1e9).round()),
            Some(27.6e9)
        );
        let nm = |kind: RodKind, text: &str| {
            read_rod(kind.into(), LengthUnit::Metre, text).map(|rod| rod.nm)
        };
        for (kind, text) in [
            (RodKind::Metric, " -2.956 "),
            (RodKind::Metric, "-2.956 m"),
            (RodKind::Metric, "-2956 mm"),
            (RodKind::Metric, "-295.6cm"),
            (RodKind::Millimetres, "-2956"),
            (RodKind::Millimetres, "-2956 mm"),
            (RodKind::Millimetres, "-2.956 m"),
        ] {
            assert_eq!(nm(kind, text), Ok(-2_956_000_000), "{text}");
        }
        assert_eq!(nm(RodKind::Direct, "783.213"), Ok(783_213_000_000));
        // 1 US survey foot = 1200/3937 m by definition.
        let survey = read_rod(RodKind::InchEighths.into(), LengthUnit::UsSurveyFoot, "1-0");
        assert_eq!(survey.unwrap().nm, 304_800_610);
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
