//! Scales and paper: which of them takes a drawing.
//!
//! Takes sizes in metres and the job's unit, gives millimetres on paper. Knows no drawing.

use crate::show::Show;
use crate::units::LengthUnit;

/// A size of paper, lying on its long side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Paper {
    /// Name.
    pub name: &'static str,
    /// Width, mm.
    pub width_mm: f64,
    /// Height, mm.
    pub height_mm: f64,
}

impl Paper {
    /// ISO 216 A4, lying.
    pub const A4: Paper = Paper {
        name: "A4",
        width_mm: 297.0,
        height_mm: 210.0,
    };
    /// ISO 216 A3, lying.
    pub const A3: Paper = Paper {
        name: "A3",
        width_mm: 420.0,
        height_mm: 297.0,
    };
}

/// How much smaller a drawing is than the yard.
#[derive(Clone, Debug, PartialEq)]
pub struct Scale {
    /// Length in the yard for one on paper.
    pub denominator: f64,
    /// "1 in = 10 ft (1 : 120)" or "1 : 100".
    pub words: String,
}

/// Millimetres in an inch, by definition.
const MM_PER_INCH: f64 = 25.4;

/// Scales of metric jobs, largest first; further ones go on by tens.
const METRIC: [f64; 8] = [50.0, 100.0, 200.0, 250.0, 500.0, 1000.0, 2000.0, 5000.0];

/// Feet for one inch, largest scale first; further ones go on by tens.
const FEET: [f64; 8] = [4.0, 5.0, 8.0, 10.0, 20.0, 40.0, 100.0, 200.0];

impl Scale {
    /// Millimetres on paper for a metre.
    pub fn mm_per_m(&self) -> f64 {
        1000.0 / self.denominator
    }

    /// The usual scales in a unit, largest first.
    pub fn usual(unit: LengthUnit) -> Vec<Scale> {
        let base: [f64; 8] = if unit.is_foot() { FEET } else { METRIC };
        let mut values = base.to_vec();
        // The last three, ten times and more: far beyond any yard, but never no drawing.
        let top = base[7];
        for power in 1..7 {
            for share in [0.25, 0.5, 1.0] {
                values.push(top * share * 10f64.powi(power));
            }
        }
        values
            .into_iter()
            .map(|value| {
                if unit.is_foot() {
                    let denominator = value * unit.metres() * 1000.0 / MM_PER_INCH;
                    Scale {
                        denominator,
                        words: format!("1 in = {value:.0} ft (1 : {denominator:.0})"),
                    }
                } else {
                    Scale {
                        denominator: value,
                        words: format!("1 : {value:.0}"),
                    }
                }
            })
            .collect()
    }

    /// The largest usual scale at which a size in the yard fits a size on paper.
    pub fn fitting(unit: LengthUnit, size_m: [f64; 2], room_mm: [f64; 2]) -> Scale {
        let usual = Scale::usual(unit);
        let fits = |scale: &&Scale| (0..2).all(|k| size_m[k] * scale.mm_per_m() <= room_mm[k]);
        match usual.iter().find(fits) {
            Some(scale) => scale.clone(),
            None => {
                let need = (0..2)
                    .map(|k| size_m[k] * 1000.0 / room_mm[k])
                    .fold(1.0, f64::max);
                Scale {
                    denominator: need,
                    words: format!("1 : {need:.0}"),
                }
            }
        }
    }
}

/// The largest of 1, 2, 5 times a power of ten that is not above a value.
pub(super) fn round_step(most: f64) -> f64 {
    if !most.is_finite() || most <= 0.0 {
        return 1.0;
    }
    let power = 10f64.powf(most.log10().floor());
    [5.0, 2.0, 1.0]
        .into_iter()
        .map(|digit| digit * power)
        // Rounding of the logarithm may leave the power a hair too large.
        .find(|step| *step <= most * (1.0 + 1.0e-9))
        .unwrap_or(power / 2.0)
}

/// Most decimals on an axis.
const MOST_DECIMALS: usize = 3;

/// Decimals that multiples of a step need: 0.25 needs two, 0.5 one, 20 none.
fn decimals_of(step: f64) -> usize {
    (0..MOST_DECIMALS)
        .find(|&d| {
            let whole = step * 10f64.powi(d as i32);
            whole.round() >= 1.0 && (whole - whole.round()).abs() < 1.0e-6
        })
        .unwrap_or(MOST_DECIMALS)
}

/// A number of the job's unit as it stands on an axis, a bar or a contour: as many decimals as
/// its step needs.
pub(super) fn axis_number(value: f64, step: f64) -> String {
    let decimals = decimals_of(step);
    let text = format!("{value:.decimals$}");
    if text.trim_start_matches(['-', '0', '.']).is_empty() {
        "0".to_owned()
    } else {
        text
    }
}

/// Length of one part of a bar scale: in the job's unit and in metres.
pub(super) fn bar_part(show: Show, mm_per_m: f64, most_mm: f64) -> (f64, f64) {
    let unit = show.unit();
    let step = round_step(unit.from_m(most_mm / mm_per_m));
    (step, unit.to_m(step))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_inch_for_ten_feet_is_one_to_120() {
        let scale = Scale::fitting(LengthUnit::Foot, [60.0 * 0.3048, 1.0], [160.0, 100.0]);
        assert_eq!(scale.words, "1 in = 10 ft (1 : 120)");
        // 10 ft are 3.048 m and stand on 25.4 mm.
        assert!((3.048 * scale.mm_per_m() - 25.4).abs() < 1.0e-9);
    }

    #[test]
    fn the_largest_scale_that_fits_is_taken() {
        let scale = |m: f64| Scale::fitting(LengthUnit::Metre, [m, 1.0], [200.0, 200.0]);
        assert_eq!(scale(10.0).words, "1 : 50");
        assert_eq!(scale(20.0).words, "1 : 100");
        assert_eq!(scale(20.1).words, "1 : 200");
        assert_eq!(scale(2000.0).words, "1 : 12500");
        assert!(scale(1.0e9).mm_per_m() * 1.0e9 <= 200.0 + 1.0e-6);
    }

    #[test]
    fn steps_are_round() {
        assert_eq!(round_step(9.9), 5.0);
        assert_eq!(round_step(10.0), 10.0);
        assert_eq!(round_step(0.3), 0.2);
        assert_eq!(round_step(0.0), 1.0);
        assert_eq!(axis_number(2.5, 0.5), "2.5");
        assert_eq!(axis_number(-0.0, 1.0), "0");
        assert_eq!(axis_number(20.0, 10.0), "20");
        // A quarter is two decimals: 98.75 is not 98.8.
        assert_eq!(axis_number(98.75, 0.25), "98.75");
        assert_eq!(axis_number(97.5, 0.5), "97.5");
        assert_eq!(axis_number(0.3, 0.1), "0.3");
        assert_eq!(axis_number(1.0, 0.0001), "1.000");
    }
}
