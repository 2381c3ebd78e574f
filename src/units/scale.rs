//! Exact decimals, and any unit of length as a ratio of whole nanometres.
//!
//! Takes decimal text or stored numbers, gives whole nanometres rounded once. A grid is laid out
//! from a start and a step: both stay exact until a position is asked for, so that the ten
//! thousandth line of a grid is where it belongs.

use super::{LengthUnit, MAX_COORDINATE_M, NM_PER_M, round_ratio};

/// Decimals behind the point that are kept. One unit of the last is under a hundred thousandth
/// of a nanometre in any unit that is not a mile; with more, the products of a grid in US survey
/// feet would leave 128 bits.
const MAX_DECIMALS: u32 = 17;

/// Digits of a number that are looked at: a coordinate of nine, and all decimals kept.
const MAX_DIGITS: usize = 40;

/// A decimal number, exact: `mantissa` over ten to the power of `decimals`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Exact {
    mantissa: i128,
    decimals: u32,
}

impl Exact {
    /// Reads `-12.5`, `1e3` or `2.5E-3`; decimals beyond `MAX_DECIMALS` are rounded off.
    ///
    /// `None` when the text is no number, or one of more than a coordinate can have.
    pub fn parse(text: &str) -> Option<Exact> {
        let text = text.trim();
        let (text, exponent) = match text.find(['e', 'E']) {
            Some(at) => (&text[..at], text[at + 1..].parse::<i32>().ok()?),
            None => (text, 0),
        };
        let (is_negative, digits) = match text.as_bytes().first()? {
            b'-' => (true, &text[1..]),
            b'+' => (false, &text[1..]),
            _ => (false, text),
        };
        if digits.len() > MAX_DIGITS || exponent.unsigned_abs() > 400 {
            return None;
        }
        let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
        if whole.is_empty() && part.is_empty() {
            return None;
        }
        let mut mantissa: i128 = 0;
        for byte in whole.bytes().chain(part.bytes()) {
            if !byte.is_ascii_digit() {
                return None;
            }
            mantissa = mantissa
                .checked_mul(10)?
                .checked_add(i128::from(byte - b'0'))?;
        }
        let mantissa = if is_negative { -mantissa } else { mantissa };
        Exact::of(mantissa, part.len() as i32 - exponent)
    }

    /// A stored number, as the shortest decimal that is stored as that number: who wrote a step
    /// of 0.1 meant a tenth. `None` for what is no number.
    pub fn of_stored(value: f64) -> Option<Exact> {
        if !value.is_finite() {
            return None;
        }
        Exact::parse(&format!("{value:e}"))
    }

    /// A whole number.
    pub const fn whole(value: i64) -> Exact {
        Exact {
            mantissa: value as i128,
            decimals: 0,
        }
    }

    /// The product, exactly as far as decimals are kept.
    pub fn times(self, other: Exact) -> Option<Exact> {
        let mantissa = self.mantissa.checked_mul(other.mantissa)?;
        Exact::of(mantissa, (self.decimals + other.decimals) as i32)
    }

    /// The sum, exactly.
    pub fn plus(self, other: Exact) -> Option<Exact> {
        let decimals = self.decimals.max(other.decimals);
        let over = |d: Exact| d.mantissa.checked_mul(power_of_ten(decimals - d.decimals)?);
        Some(Exact {
            mantissa: over(self)?.checked_add(over(other)?)?,
            decimals,
        })
    }

    /// The same, with the other sign.
    pub const fn negative(self) -> Exact {
        Exact {
            mantissa: -self.mantissa,
            decimals: self.decimals,
        }
    }

    /// True above zero.
    pub const fn is_positive(self) -> bool {
        self.mantissa > 0
    }

    fn of(mantissa: i128, decimals: i32) -> Option<Exact> {
        const KEPT: i32 = MAX_DECIMALS as i32;
        if mantissa == 0 {
            return Some(Exact::whole(0));
        }
        match decimals {
            ..0 => Some(Exact {
                mantissa: mantissa.checked_mul(power_of_ten(decimals.unsigned_abs())?)?,
                decimals: 0,
            }),
            0..=KEPT => Some(Exact {
                mantissa,
                decimals: decimals.unsigned_abs(),
            }),
            _ => Some(Exact {
                mantissa: power_of_ten((decimals - KEPT).unsigned_abs())
                    .map_or(0, |den| round_ratio(mantissa, den)),
                decimals: MAX_DECIMALS,
            }),
        }
    }
}

fn power_of_ten(exponent: u32) -> Option<i128> {
    10i128.checked_pow(exponent)
}

/// A unit of length as a ratio of whole nanometres.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Scale {
    num: i128,
    den: i128,
}

impl LengthUnit {
    /// The unit as a ratio of whole nanometres.
    pub fn scale(self) -> Scale {
        let (num, den) = self.nm_ratio();
        Scale { num, den }
    }
}

impl Scale {
    /// A unit `num / den` times as long: an inch is a foot times 1/12.
    pub const fn times(self, num: i128, den: i128) -> Scale {
        Scale {
            num: self.num * num,
            den: self.den * den,
        }
    }

    /// Metres in one unit.
    pub fn metres(self) -> f64 {
        self.num as f64 / (self.den as f64 * NM_PER_M)
    }

    /// A decimal number in this unit as whole nanometres, rounded once; `None` as in
    /// [`LengthUnit::parse_nm`].
    pub fn parse_nm(self, text: &str) -> Option<i64> {
        let ([numerator], den) = self.over_one([Exact::parse(text)?])?;
        let limit = (MAX_COORDINATE_M * NM_PER_M) as i128;
        let nm = round_ratio(numerator, den);
        (nm.abs() <= limit).then_some(nm as i64)
    }

    /// Numbers in this unit over one denominator: each is its numerator over the denominator, in
    /// nanometres, exactly. `None` beyond 128 bits.
    pub fn over_one<const N: usize>(self, values: [Exact; N]) -> Option<([i128; N], i128)> {
        let decimals = values.iter().map(|v| v.decimals).max().unwrap_or(0);
        let mut numerators = [0; N];
        for (numerator, value) in numerators.iter_mut().zip(values) {
            *numerator = value
                .mantissa
                .checked_mul(power_of_ten(decimals - value.decimals)?)?
                .checked_mul(self.num)?;
        }
        Some((numerators, self.den.checked_mul(power_of_ten(decimals)?)?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exponents_are_exact() {
        let metre = LengthUnit::Metre.scale();
        assert_eq!(metre.parse_nm("5e5"), Some(500_000_000_000_000));
        assert_eq!(
            metre.parse_nm("4.2000001234567891e6"),
            Some(4_200_000_123_456_789)
        );
        assert_eq!(metre.parse_nm("12.5E-3"), Some(12_500_000));
        assert_eq!(metre.parse_nm("1e-400"), Some(0));
        for bad in [
            "", ".", "e5", "1e", "1e1.5", "1e300", "nan", "1,5", "--1", "5e8",
        ] {
            assert_eq!(metre.parse_nm(bad), None, "{bad}");
        }
    }

    #[test]
    fn parts_of_units_are_exact() {
        // 12 inches are a foot, 1000 millimetres a metre, a mile 5,280 feet.
        assert_eq!(
            LengthUnit::Foot.scale().times(1, 12).parse_nm("1"),
            Some(25_400_000)
        );
        assert_eq!(
            LengthUnit::Metre.scale().times(1, 1000).parse_nm("0.5"),
            Some(500_000)
        );
        assert_eq!(
            LengthUnit::Foot.scale().times(5280, 1).parse_nm("1"),
            Some(1_609_344_000_000)
        );
        for unit in [
            LengthUnit::Metre,
            LengthUnit::Foot,
            LengthUnit::UsSurveyFoot,
        ] {
            assert_eq!(unit.scale().metres().to_bits(), unit.metres().to_bits());
        }
    }

    #[test]
    fn a_stored_tenth_is_a_tenth() {
        assert_eq!(Exact::of_stored(0.1), Exact::parse("0.1"));
        assert_eq!(Exact::of_stored(-4_200_000.25), Exact::parse("-4200000.25"));
        assert_eq!(Exact::of_stored(f64::NAN), None);
        let tenth = Exact::of_stored(0.1).unwrap();
        assert_eq!(
            tenth.times(Exact::whole(-30)).map(Exact::negative),
            Exact::parse("3.0")
        );
        assert_eq!(tenth.plus(Exact::whole(2)), Exact::parse("2.1"));
    }
}
