//! What one booked reading can have been: the slips of the person who reads, calls or books.
//!
//! Takes a reading with its rod, gives the readings it can have stood for. Knows no level.

use serde::Serialize;

use crate::job::{Rod, RodKind};
use crate::units::inches::{SIXTEENTHS_PER_FOOT, plain_marks, sixteenths};
use crate::units::{INCH_M, LengthUnit, NM_PER_M};

use super::rod::{RodReading, read_rod};

/// A kind of mistake.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Slip {
    /// The rod misread by a whole foot.
    Foot,
    /// The rod misread, or booked, by two to five whole feet.
    SeveralFeet,
    /// The rod misread by a tenth of a foot.
    TenthOfFoot,
    /// The rod misread by an inch.
    Inch,
    /// The rod misread by a whole metre.
    Metre,
    /// The rod misread by a tenth of a metre.
    TenthOfMetre,
    /// Inches booked as tenths: 5 ft 9 in as 5.9, 5 ft 11 in as 5.11.
    InchesAsTenths,
    /// Tenths booked as inches: 5.9 as 5 ft 9 in, or as 5.75.
    TenthsAsInches,
    /// Two neighbouring digits swapped.
    DigitsSwapped,
    /// The decimal point one place off.
    DecimalPoint,
    /// The minus sign of an upside-down rod forgotten, or booked where it stood upright.
    Sign,
    /// Backsight and foresight booked in each other's place.
    SightsSwapped,
    /// The rod stood on another point of given level.
    OtherBenchmark,
    /// The laser was moved between two sights of one set-up.
    LaserMoved,
    /// A given level is wrong, or its benchmark has moved.
    GivenLevel,
}

impl Slip {
    /// What it is called to people.
    pub fn words(self) -> &'static str {
        match self {
            Slip::Foot => "a rod misread by 1 ft",
            Slip::SeveralFeet => "a rod misread by several whole feet",
            Slip::TenthOfFoot => "a rod misread by 0.1 ft",
            Slip::Inch => "a rod misread by 1 in",
            Slip::Metre => "a rod misread by 1 m",
            Slip::TenthOfMetre => "a rod misread by 0.1 m",
            Slip::InchesAsTenths => "inches booked as tenths",
            Slip::TenthsAsInches => "tenths taken for inches",
            Slip::DigitsSwapped => "two digits swapped",
            Slip::DecimalPoint => "a decimal point one place off",
            Slip::Sign => "a rod upside down, with its minus sign forgotten or one too many",
            Slip::SightsSwapped => "BS and FS booked in each other's place",
            Slip::OtherBenchmark => "the rod on another benchmark",
            Slip::LaserMoved => "the laser moved within a set-up",
            Slip::GivenLevel => "a wrong given level, or a benchmark that has moved",
        }
    }

    /// How rare it is beside a rod misread by a foot, on the scale of half a squared error: each
    /// unit makes it about a third as likely. Judgment, no source; only the order matters.
    pub(crate) fn rarity(self) -> f64 {
        match self {
            Slip::Foot | Slip::Metre | Slip::Inch => 0.0,
            Slip::TenthOfFoot | Slip::TenthOfMetre => 0.5,
            Slip::InchesAsTenths | Slip::TenthsAsInches => 0.5,
            Slip::DigitsSwapped => 0.7,
            Slip::SightsSwapped | Slip::OtherBenchmark | Slip::DecimalPoint | Slip::GivenLevel => {
                1.0
            }
            Slip::Sign => 1.2,
            Slip::SeveralFeet => 1.5,
            Slip::LaserMoved => 2.0,
        }
    }
}

/// Longest rod in common use, metres: a reading that a slip would make longer, and longer than
/// anything in the book, is not thought of.
const COMMON_ROD_M: f64 = 5.0;

/// Readings, whole nanometres signed as [`RodReading::nm`], that this one can have stood for.
///
/// `longest_nm` is the longest reading of the book. A reading never changes side of the sight
/// line but by its sign.
pub(crate) fn readings_meant(
    rod: Rod,
    heights: LengthUnit,
    booked: &RodReading,
    longest_nm: i64,
) -> Vec<(Slip, i64)> {
    let mut meant: Vec<(Slip, i64)> = Vec::new();
    let step = |metres: f64| (metres * NM_PER_M).round() as i64;
    let foot_m = if heights.is_foot() {
        heights.metres()
    } else {
        LengthUnit::Foot.metres()
    };
    let metric = match rod.kind {
        RodKind::Tenths | RodKind::InchEighths => false,
        RodKind::Metric | RodKind::Millimetres => true,
        RodKind::Direct => !heights.is_foot(),
    };
    let steps = match (metric, rod.kind) {
        (true, _) => [(Slip::Metre, 1.0), (Slip::TenthOfMetre, 0.1)],
        (false, RodKind::InchEighths) => [(Slip::Foot, foot_m), (Slip::Inch, INCH_M)],
        (false, _) => [(Slip::Foot, foot_m), (Slip::TenthOfFoot, foot_m / 10.0)],
    };
    for (slip, step_m) in steps {
        meant.push((slip, booked.nm - step(step_m)));
        meant.push((slip, booked.nm + step(step_m)));
    }
    if !metric {
        for feet in (-5..=5).filter(|feet: &i64| feet.abs() > 1) {
            let nm = booked.nm + step(feet as f64 * foot_m);
            meant.push((Slip::SeveralFeet, nm));
        }
    }
    let plain = plain_marks(&booked.text);
    let read = |text: &str| read_rod(rod, heights, text).ok().map(|rod| rod.nm);
    for text in swapped(&plain) {
        meant.extend(read(&text).map(|nm| (Slip::DigitsSwapped, nm)));
    }
    match rod.kind {
        RodKind::Tenths => meant.extend(inches_as_tenths(&plain, booked.nm, foot_m)),
        RodKind::InchEighths => meant.extend(whole_inches(&plain, booked.nm, foot_m)),
        RodKind::Metric | RodKind::Millimetres | RodKind::Direct => {}
    }
    if matches!(
        rod.kind,
        RodKind::Tenths | RodKind::Metric | RodKind::Millimetres
    ) {
        meant.push((Slip::DecimalPoint, booked.nm.saturating_mul(10)));
        meant.push((Slip::DecimalPoint, booked.nm / 10));
    }
    if rod.kind != RodKind::Direct {
        let limit = longest_nm.max(step(COMMON_ROD_M));
        meant.retain(|&(_, nm)| nm.abs() <= limit && nm.signum() == booked.nm.signum());
        // A rod declared upside down has no sign to forget.
        if !rod.upside_down {
            meant.push((Slip::Sign, -booked.nm));
        }
    }
    meant.retain(|&(_, nm)| nm != booked.nm);
    meant.sort_unstable();
    meant.dedup();
    meant
}

/// The text with each pair of neighbouring digits swapped, across a point or hyphen too, but
/// none of a fraction.
fn swapped(plain: &str) -> Vec<String> {
    let end = match plain.find('/') {
        Some(slash) => plain[..slash].rfind([' ', '-']).unwrap_or(0),
        None => plain.len(),
    };
    let digits: Vec<usize> = plain[..end]
        .char_indices()
        .filter(|(_, c)| c.is_ascii_digit())
        .map(|(i, _)| i)
        .collect();
    digits
        .windows(2)
        .map(|pair| {
            let mut bytes = plain.as_bytes().to_vec();
            bytes.swap(pair[0], pair[1]);
            String::from_utf8_lossy(&bytes).into_owned()
        })
        .filter(|text| text != plain)
        .collect()
}

/// `5.9` and `5.90` as 5 ft 9 in, `5.10` and `5.11` as 5 ft 10 in and 11 in; `5.75`, which is 9
/// inches in decimals, as 5.9.
fn inches_as_tenths(plain: &str, nm: i64, foot_m: f64) -> Vec<(Slip, i64)> {
    let digits = plain.trim_start_matches('-');
    let digits = digits.trim_end_matches(['f', 't', '\'', ' ']);
    let Some((feet, decimals)) = digits.split_once('.') else {
        return Vec::new();
    };
    let Ok(feet) = feet.parse::<u32>() else {
        return Vec::new();
    };
    let of = |feet_and: f64| {
        let meant = ((f64::from(feet) + feet_and) * foot_m * NM_PER_M).round() as i64;
        meant * nm.signum()
    };
    let mut meant = Vec::new();
    let inches = match decimals {
        "10" => Some(10),
        "11" => Some(11),
        _ => decimals
            .strip_suffix('0')
            .unwrap_or(decimals)
            .parse::<u32>()
            .ok()
            .filter(|inches| decimals.len() <= 2 && *inches <= 9 && !decimals.starts_with('0')),
    };
    meant.extend(inches.map(|n| (Slip::InchesAsTenths, of(f64::from(n) / 12.0))));
    for tenths in 1..=9u32 {
        let as_inches = format!("{:.2}", f64::from(tenths) / 12.0);
        if as_inches.strip_prefix("0.") == Some(decimals) {
            meant.push((Slip::TenthsAsInches, of(f64::from(tenths) / 10.0)));
        }
    }
    meant
}

/// `5-9` as 5.9 ft.
fn whole_inches(plain: &str, nm: i64, foot_m: f64) -> Option<(Slip, i64)> {
    let count = sixteenths(plain)?.abs();
    let (feet, rest) = (count / SIXTEENTHS_PER_FOOT, count % SIXTEENTHS_PER_FOOT);
    let inches = rest / 16;
    let whole = rest % 16 == 0 && (1..=9).contains(&inches);
    let feet_meant = feet as f64 + inches as f64 / 10.0;
    let meant = (feet_meant * foot_m * NM_PER_M).round() as i64 * nm.signum();
    whole.then_some((Slip::TenthsAsInches, meant))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Readings meant, in feet to a thousandth.
    fn meant(kind: RodKind, text: &str) -> Vec<(Slip, f64)> {
        let rod = Rod::from(kind);
        let booked = read_rod(rod, LengthUnit::Foot, text).unwrap();
        readings_meant(rod, LengthUnit::Foot, &booked, 0)
            .into_iter()
            .map(|(slip, nm)| (slip, (nm as f64 / 304_800.0).round() / 1000.0))
            .collect()
    }

    /// The differences are those of the table of test numbers: 9 tenths as 9 in 0.150 ft, 11 in
    /// as ".11" 0.807 ft, 10 in as ".10" 0.733 ft (arithmetic).
    #[test]
    fn tenths_and_inches() {
        for (kind, text, slip, want) in [
            (RodKind::Tenths, "5.9", Slip::InchesAsTenths, 5.75),
            (RodKind::Tenths, "5.90", Slip::InchesAsTenths, 5.75),
            (RodKind::Tenths, "5.75", Slip::TenthsAsInches, 5.9),
            (RodKind::Tenths, "5.11", Slip::InchesAsTenths, 5.917),
            (RodKind::Tenths, "5.10", Slip::InchesAsTenths, 5.833),
            (RodKind::InchEighths, "5-9", Slip::TenthsAsInches, 5.9),
        ] {
            assert!(meant(kind, text).contains(&(slip, want)), "{text}");
        }
        let mixed = |text| {
            let found = meant(RodKind::Tenths, text);
            found
                .iter()
                .any(|(slip, _)| matches!(slip, Slip::InchesAsTenths | Slip::TenthsAsInches))
        };
        assert!(!mixed("5.92") && !mixed("5.05") && !mixed("5"));
    }

    #[test]
    fn what_cannot_be_is_not_thought_of() {
        // A foot less than 0.60 ft lies below the foot of the rod; ten times 5.36 ft is no rod.
        let found = meant(RodKind::Tenths, "0.60");
        assert!(!found.contains(&(Slip::Foot, -0.4)) && found.contains(&(Slip::Foot, 1.6)));
        let found = meant(RodKind::Tenths, "5.36");
        assert_eq!(
            found,
            [
                (Slip::Foot, 4.36),
                (Slip::Foot, 6.36),
                (Slip::SeveralFeet, 0.36),
                (Slip::SeveralFeet, 1.36),
                (Slip::SeveralFeet, 2.36),
                (Slip::SeveralFeet, 3.36),
                (Slip::SeveralFeet, 7.36),
                (Slip::SeveralFeet, 8.36),
                (Slip::SeveralFeet, 9.36),
                (Slip::SeveralFeet, 10.36),
                (Slip::TenthOfFoot, 5.26),
                (Slip::TenthOfFoot, 5.46),
                (Slip::DigitsSwapped, 3.56),
                (Slip::DigitsSwapped, 5.63),
                (Slip::DecimalPoint, 0.536),
                (Slip::Sign, -5.36),
            ]
        );
        // 5 ft 7-3/8 in: 7 ft 5-3/8 in if feet and inches changed places.
        let found = meant(RodKind::InchEighths, "5-7-3/8");
        assert!(found.contains(&(Slip::DigitsSwapped, 7.448)));
        assert!(found.contains(&(Slip::Inch, 5.531)));
        // The digits of the fraction stay where they are.
        let swaps = |text| {
            let found = meant(RodKind::InchEighths, text);
            found
                .iter()
                .filter(|(slip, _)| *slip == Slip::DigitsSwapped)
                .count()
        };
        assert_eq!((swaps("6-10-1/2"), swaps("5-7-3/8")), (1, 1));
    }
}
