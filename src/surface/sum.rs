//! Sums that rounding does not spoil.

/// A sum with the rounding error carried along.
///
/// # Source
///
/// A. Neumaier, "Rundungsfehleranalyse einiger Verfahren zur Summation endlicher
/// Summen", ZAMM 54 (1974), 39-51
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Sum {
    sum: f64,
    lost: f64,
}

impl Sum {
    pub(super) fn add(&mut self, value: f64) {
        let next = self.sum + value;
        self.lost += if self.sum.abs() >= value.abs() {
            (self.sum - next) + value
        } else {
            (value - next) + self.sum
        };
        self.sum = next;
    }

    pub(super) fn value(self) -> f64 {
        self.sum + self.lost
    }
}

/// A sum of whole grains: what is added in any order gives the same bits, and what is taken away
/// again leaves none.
///
/// A grain is 2^-56 (of a cubic or square metre, 1.4e-17: what a cubic metre as `f64` does not
/// tell); the largest sum is 2^71, twice the volume of the Earth in cubic metres. Beyond it the
/// sum stays there.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Grains(i128);

const GRAINS_PER_ONE: f64 = (1u64 << 56) as f64;

impl Grains {
    /// Adds a value, cut off to whole grains.
    pub(super) fn add(&mut self, value: f64) {
        let grains = value * GRAINS_PER_ONE;
        // Nearly all values fit the small integer, which is made in one instruction.
        let grains = if grains.abs() < i64::MAX as f64 {
            i128::from(grains as i64)
        } else {
            grains as i128
        };
        self.0 = self.0.saturating_add(grains);
    }

    pub(super) fn merge(&mut self, other: Grains) {
        self.0 = self.0.saturating_add(other.0);
    }

    pub(super) fn take(&mut self, other: Grains) {
        self.0 = self.0.saturating_sub(other.0);
    }

    pub(super) fn value(self) -> f64 {
        self.0 as f64 / GRAINS_PER_ONE
    }
}

#[cfg(test)]
mod tests {
    use super::Grains;

    #[test]
    fn order_changes_nothing_and_nothing_stays_behind() {
        let values = [1.0e9, 0.1, -3.7e-12, 1.0 / 3.0, 7.0e11, 2.5];
        let [mut up, mut down] = [Grains::default(); 2];
        values.iter().for_each(|&v| up.add(v));
        values.iter().rev().for_each(|&v| down.add(v));
        assert_eq!(up, down);
        let mut rest = up;
        rest.add(0.2);
        rest.take(up);
        assert!((rest.value() - 0.2).abs() < 1.0e-16);
    }
}
