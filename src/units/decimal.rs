//! Lengths as decimal text that comes back to the same length.
//!
//! Takes whole nanometres and heights in metres, gives numbers in a unit for files that leave the
//! program: the way back of [`LengthUnit::parse_nm`].

use std::fmt;

use super::{LengthUnit, round_ratio};

/// Decimals of a length: a nanometre is 3.3e-9 ft, so nine decimals tell two apart in any unit.
const BILLION: u64 = 1_000_000_000;

/// A length to nine decimals of its unit, without needless zeros.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Decimal(i64);

impl Decimal {
    /// Billionths of the unit: what is written, as a whole number.
    pub fn billionths(self) -> i64 {
        self.0
    }
}

impl fmt::Display for Decimal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        let (whole, mut part) = (
            self.0.unsigned_abs() / BILLION,
            self.0.unsigned_abs() % BILLION,
        );
        if part == 0 {
            return write!(f, "{sign}{whole}");
        }
        let mut digits = 9;
        while part % 10 == 0 {
            part /= 10;
            digits -= 1;
        }
        write!(f, "{sign}{whole}.{part:0digits$}")
    }
}

impl LengthUnit {
    /// Whole nanometres as a decimal number in this unit. [`LengthUnit::parse_nm`] reads the very
    /// same nanometres from its text.
    ///
    /// # Input
    ///
    /// at most [`MAX_COORDINATE_M`](super::MAX_COORDINATE_M)
    /// # Accuracy
    ///
    /// exact in metres; in feet within half of a billionth, 0.15 nm
    pub fn decimal(self, nm: i64) -> Decimal {
        if self == LengthUnit::Metre {
            return Decimal(nm);
        }
        let (num, den) = self.nm_ratio();
        let billionths = round_ratio(i128::from(nm) * den * i128::from(BILLION), num);
        Decimal(billionths as i64)
    }

    /// A height in metres as the number in this unit that [`LengthUnit::to_m`] brings back to it.
    ///
    /// # Accuracy
    ///
    /// exact in metres; in feet for nearly all heights, else it comes back within the last bit,
    /// since between two neighbouring numbers of metres there may be none of feet
    pub fn number_of_m(self, metres: f64) -> f64 {
        let value = self.from_m(metres);
        [value, value.next_up(), value.next_down()]
            .into_iter()
            .find(|&v| self.to_m(v) == metres)
            .unwrap_or(value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const UNITS: [LengthUnit; 3] = [
        LengthUnit::Metre,
        LengthUnit::Foot,
        LengthUnit::UsSurveyFoot,
    ];

    #[test]
    fn every_nanometre_comes_back() {
        let mut nm = 1i64;
        for k in 0..60_000i64 {
            nm = nm.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(k);
            // Of every size up to the largest coordinate.
            let nm = nm % (400_000_000_000_000_000 >> (k % 58));
            for unit in UNITS {
                let text = unit.decimal(nm).to_string();
                assert_eq!(unit.parse_nm(&text), Some(nm), "{text} {unit:?}");
            }
        }
    }

    #[test]
    fn no_needless_digits() {
        let text = |nm, unit: LengthUnit| unit.decimal(nm).to_string();
        assert_eq!(text(-12_500_000_000, LengthUnit::Metre), "-12.5");
        assert_eq!(text(7, LengthUnit::Metre), "0.000000007");
        assert_eq!(text(0, LengthUnit::Foot), "0");
        // A tenth of a foot is 30.48 mm; 3937 US survey feet are 1200 m, both by definition.
        assert_eq!(text(-30_480_000, LengthUnit::Foot), "-0.1");
        assert_eq!(text(1_200_000_000_000, LengthUnit::UsSurveyFoot), "3937");
    }

    #[test]
    fn heights_come_back_to_the_last_bit_or_beside_it() {
        let mut exact = 0;
        for k in 0..100_000 {
            let z = 80.0 + f64::from(k) * 0.000_317_31;
            assert_eq!(LengthUnit::Metre.number_of_m(z), z);
            let back = LengthUnit::Foot.to_m(LengthUnit::Foot.number_of_m(z));
            assert!((back - z).abs() <= z.next_up() - z, "{z}");
            exact += usize::from(back == z);
        }
        assert!(exact > 60_000, "{exact}");
    }
}
