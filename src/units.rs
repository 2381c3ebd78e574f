//! Units of length, slope and soil volume; the only place with conversion factors.
//!
//! Takes text or numbers with a declared unit, gives SI. Plan positions become whole
//! nanometres, everything else `f64` metres. Knows nothing of files or features.

use std::fmt;

mod day;
mod decimal;
pub(crate) mod inches;
mod length;
mod scale;

pub use scale::{Exact, Scale};

pub use day::{WEEKDAYS, day_from_1970, days_since_1970, weekday};
pub use decimal::Decimal;

/// Nanometres in a metre: the plan lattice of the kernel.
pub const NM_PER_M: f64 = 1.0e9;
/// Cubic metres in a cubic foot (0.3048^3, exact in decimal).
pub const M3_PER_FT3: f64 = 0.028_316_846_592;
/// Cubic metres in a cubic yard (27 cubic feet).
pub const M3_PER_YD3: f64 = 27.0 * M3_PER_FT3;
/// Metres in an inch of the international foot (exact).
pub const INCH_M: f64 = 0.0254;
/// Metres in a mile of 5,280 international feet (exact).
pub const M_PER_MILE: f64 = 5280.0 * 0.3048;
/// Kilograms in an avoirdupois pound (international agreement of 1959, exact).
pub const KG_PER_LB: f64 = 0.453_592_37;
/// Standard gravity, m/s2 (3rd General Conference on Weights and Measures, 1901, exact).
pub const GRAVITY_M_S2: f64 = 9.806_65;
/// Pascals in a pound-force per square foot.
pub const PA_PER_PSF: f64 = KG_PER_LB * GRAVITY_M_S2 / (0.3048 * 0.3048);

/// A unit of length in which a file or a job is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Serialize)]
pub enum LengthUnit {
    /// Metre.
    #[serde(rename = "m")]
    Metre,
    /// International foot, 0.3048 m exactly.
    #[serde(rename = "ft")]
    Foot,
    /// US survey foot, 1200/3937 m exactly.
    #[serde(rename = "us-ft")]
    UsSurveyFoot,
}

impl LengthUnit {
    /// The words a job or a command line may use.
    pub const NAMES: [&'static str; 3] = ["m", "ft", "us-ft"];

    /// Reads one of [`LengthUnit::NAMES`].
    pub fn from_name(name: &str) -> Option<LengthUnit> {
        match name {
            "m" => Some(LengthUnit::Metre),
            "ft" => Some(LengthUnit::Foot),
            "us-ft" => Some(LengthUnit::UsSurveyFoot),
            _ => None,
        }
    }

    /// The short name, as printed in column heads.
    pub fn name(self) -> &'static str {
        match self {
            LengthUnit::Metre => "m",
            LengthUnit::Foot => "ft",
            LengthUnit::UsSurveyFoot => "us-ft",
        }
    }

    /// True for both feet.
    pub fn is_foot(self) -> bool {
        self != LengthUnit::Metre
    }

    /// Metres in one unit as a ratio of whole numbers: (numerator, denominator).
    pub const fn metre_ratio(self) -> (i128, i128) {
        match self {
            LengthUnit::Metre => (1, 1),
            LengthUnit::Foot => (381, 1250),
            LengthUnit::UsSurveyFoot => (1200, 3937),
        }
    }

    /// One unit as a ratio of whole nanometres: (numerator, denominator).
    fn nm_ratio(self) -> (i128, i128) {
        let (metres, parts) = self.metre_ratio();
        (metres * NM_PER_M as i128, parts)
    }

    /// Metres in one unit.
    pub fn metres(self) -> f64 {
        match self {
            LengthUnit::Metre => 1.0,
            LengthUnit::Foot => 0.3048,
            LengthUnit::UsSurveyFoot => 1200.0 / 3937.0,
        }
    }

    /// A length in this unit, in metres.
    pub fn to_m(self, value: f64) -> f64 {
        value * self.metres()
    }

    /// Metres, in this unit.
    pub fn from_m(self, metres: f64) -> f64 {
        metres / self.metres()
    }

    /// A decimal number in this unit as whole nanometres, rounded once.
    ///
    /// Plain decimals (`-12.345`) are converted in integers, so that a coordinate of several
    /// million keeps its last digit; a number with an exponent goes through `f64`.
    /// `None` when the text is no finite number or is larger than [`MAX_COORDINATE_M`].
    pub fn parse_nm(self, text: &str) -> Option<i64> {
        let limit = (MAX_COORDINATE_M * NM_PER_M) as i128;
        let nm = match parse_decimal(text) {
            Some((mantissa, decimals)) => {
                let (num, den) = self.nm_ratio();
                let den = den * 10i128.checked_pow(decimals)?;
                round_ratio(mantissa.checked_mul(num)?, den)
            }
            None => {
                let value: f64 = text.trim().parse().ok()?;
                if !value.is_finite() || value.abs() > MAX_COORDINATE_M * 4.0 {
                    return None;
                }
                (self.to_m(value) * NM_PER_M).round() as i128
            }
        };
        (nm.abs() <= limit).then_some(nm as i64)
    }

    /// Name of the unit of volume that people of this unit order soil in.
    pub fn volume_name(self) -> &'static str {
        if self.is_foot() { "yd3" } else { "m3" }
    }

    /// Cubic metres in that unit of volume.
    pub fn volume_m3(self) -> f64 {
        if self.is_foot() { M3_PER_YD3 } else { 1.0 }
    }

    /// Square metres in the square of this unit.
    pub fn area_m2(self) -> f64 {
        self.metres() * self.metres()
    }
}

/// Largest plan coordinate accepted, metres. The circumference of the Earth is 4.0e7 m; ten
/// times that leaves every product of the kernel inside 128 bits and still catches `1e300`.
pub const MAX_COORDINATE_M: f64 = 4.0e8;

/// Whole mantissa and number of decimals of a plain decimal, if it is one of up to 30 digits.
fn parse_decimal(text: &str) -> Option<(i128, u32)> {
    let text = text.trim();
    let (negative, digits) = match text.as_bytes().first()? {
        b'-' => (true, &text[1..]),
        b'+' => (false, &text[1..]),
        _ => (false, text),
    };
    if digits.len() > 24 {
        return None;
    }
    let mut mantissa: i128 = 0;
    let mut decimals: Option<u32> = None;
    let mut any = false;
    for byte in digits.bytes() {
        match byte {
            b'0'..=b'9' => {
                mantissa = mantissa * 10 + i128::from(byte - b'0');
                any = true;
                if let Some(count) = decimals.as_mut() {
                    *count += 1;
                }
            }
            b'.' if decimals.is_none() => decimals = Some(0),
            _ => return None,
        }
    }
    any.then_some((
        if negative { -mantissa } else { mantissa },
        decimals.unwrap_or(0),
    ))
}

/// `num / den` to the nearest integer, halves away from zero; `den` is positive.
pub(crate) fn round_ratio(num: i128, den: i128) -> i128 {
    let half = den / 2;
    if num >= 0 {
        (num + half) / den
    } else {
        -((-num + half) / den)
    }
}

/// Steepness, held as rise over run; never a bare ratio in text.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, serde::Serialize)]
#[serde(transparent)]
pub struct Slope(f64);

impl Slope {
    /// From rise over run (0.5 is "2 across : 1 up").
    pub const fn from_rise_per_run(rise_per_run: f64) -> Slope {
        Slope(rise_per_run)
    }

    /// From run over rise, the way side slopes are spoken of (2 is "2 across : 1 up").
    pub fn from_run_per_rise(run_per_rise: f64) -> Slope {
        Slope(1.0 / run_per_rise)
    }

    /// From percent.
    pub fn from_percent(percent: f64) -> Slope {
        Slope(percent / 100.0)
    }

    /// From degrees above the level.
    pub fn from_degrees(degrees: f64) -> Slope {
        Slope(degrees.to_radians().tan())
    }

    /// Rise over run.
    pub fn rise_per_run(self) -> f64 {
        self.0
    }

    /// Run over rise; infinite for level ground.
    pub fn run_per_rise(self) -> f64 {
        1.0 / self.0
    }

    /// Percent.
    pub fn percent(self) -> f64 {
        self.0 * 100.0
    }

    /// Degrees above the level.
    pub fn degrees(self) -> f64 {
        self.0.atan().to_degrees()
    }

    /// Fall in inches over one foot of run.
    pub fn inches_per_foot(self) -> f64 {
        self.0 * 12.0
    }
}

impl fmt::Display for Slope {
    /// All three notations a builder may think in.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let percent = self.percent();
        if self.0 <= 0.0 {
            write!(f, "level")
        } else if self.0 < 0.1 {
            write!(
                f,
                "{percent:.1} % ({:.0} across : 1 up, {:.2} in per ft)",
                self.run_per_rise(),
                self.inches_per_foot()
            )
        } else if self.0 > 50.0 {
            write!(f, "a vertical face")
        } else {
            write!(
                f,
                "{:.1} across : 1 up ({percent:.0} %, {:.1} in per ft)",
                self.run_per_rise(),
                self.inches_per_foot()
            )
        }
    }
}

macro_rules! soil_volume {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, serde::Serialize)]
        #[serde(transparent)]
        pub struct $name(f64);

        impl $name {
            /// From cubic metres.
            pub const fn from_m3(m3: f64) -> $name {
                $name(m3)
            }

            /// Cubic metres.
            pub fn m3(self) -> f64 {
                self.0
            }

            /// In the unit people of `unit` order soil in (cubic yards or cubic metres).
            pub fn in_unit(self, unit: LengthUnit) -> f64 {
                self.0 / unit.volume_m3()
            }
        }

        impl std::ops::Add for $name {
            type Output = $name;
            fn add(self, other: $name) -> $name {
                $name(self.0 + other.0)
            }
        }
    };
}

soil_volume!(
    /// Soil as it lies in the ground.
    BankVolume
);
soil_volume!(
    /// Soil as dug, in a barrow, truck or pile.
    LooseVolume
);
soil_volume!(
    /// Soil placed in layers and tamped.
    TampedVolume
);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_become_whole_nanometres() {
        assert_eq!(LengthUnit::Foot.parse_nm("0.001"), Some(304_800));
        assert_eq!(
            LengthUnit::Metre.parse_nm("-4600000.123456789"),
            Some(-4_600_000_123_456_789)
        );
        assert_eq!(LengthUnit::Metre.parse_nm("-0.0"), Some(0));
        assert_eq!(LengthUnit::Metre.parse_nm("1e2"), Some(100_000_000_000));
        // 3937 US survey feet are 1200 m by definition.
        assert_eq!(
            LengthUnit::UsSurveyFoot.parse_nm("3937"),
            Some(1_200_000_000_000)
        );
        for bad in [
            "",
            "-",
            ".",
            "nan",
            "inf",
            "1e300",
            "12,4",
            "1.2.3",
            "999999999999",
        ] {
            assert_eq!(LengthUnit::Metre.parse_nm(bad), None, "{bad}");
        }
    }

    #[test]
    fn slopes_read_three_ways() {
        assert_eq!(
            Slope::from_run_per_rise(1.5).to_string(),
            "1.5 across : 1 up (67 %, 8.0 in per ft)"
        );
        assert_eq!(
            Slope::from_percent(2.0).to_string(),
            "2.0 % (50 across : 1 up, 0.24 in per ft)"
        );
    }
}
