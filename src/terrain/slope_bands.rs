//! The ground by how steep it is: plan area in bands of slope.
//!
//! Takes a surface, gives areas that add up to its own, exactly. Weighed by area, a sliver
//! between two shots almost in line is what it is: nearly nothing.

use std::fmt;

use crate::surface::Surface;
use crate::units::{NM_PER_M, Slope};

/// Where one band ends and the next begins, rise over run: 2, 5, 10, 20 percent, then 3 across
/// and 2 across for 1 up. Bands of our own, at slopes that lawns, paths and banks are spoken of
/// in; common practice, no source.
const ENDS: [f64; 6] = [0.02, 0.05, 0.10, 0.20, 1.0 / 3.0, 0.5];

/// A slope is in the lower band up to this much above its end, rise over run: a micrometre over
/// a metre, far less than any rod can tell, and far more than the rounding of a facet.
const SAME_SLOPE: f64 = 1.0e-6;

/// Letters of the bands, from level to steep.
const LETTERS: [char; NUM_SLOPE_BANDS] = ['A', 'B', 'C', 'D', 'E', 'F', 'G'];

/// Number of bands.
pub const NUM_SLOPE_BANDS: usize = ENDS.len() + 1;

/// A band of slope and how much ground is in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlopeBand {
    /// Its letter on the sheets.
    pub letter: char,
    /// Steeper than this; level ground is in the first band.
    pub over: Slope,
    /// Up to this, itself included; `None` for the steepest band.
    pub up_to: Option<Slope>,
    /// Twice its plan area, square nanometres, exactly.
    pub twice_area_nm2: i128,
}

impl SlopeBand {
    /// Plan area, square metres.
    pub fn area_m2(&self) -> f64 {
        self.twice_area_nm2 as f64 / 2.0 / NM_PER_M / NM_PER_M
    }
}

impl fmt::Display for SlopeBand {
    /// The three notations a builder may think in.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let across = |slope: Slope| format!("{:.0}", slope.run_per_rise());
        let percent = |slope: Slope| format!("{:.0}", slope.percent());
        let inches = |slope: Slope| {
            let inches = slope.inches_per_foot();
            let decimals = if inches < 1.0 { 2 } else { 1 };
            format!("{inches:.decimals$}")
        };
        let over = self.over;
        match self.up_to {
            Some(up_to) if over.rise_per_run() <= 0.0 => write!(
                f,
                "up to {} % (flatter than {} across : 1 up, up to {} in per ft)",
                percent(up_to),
                across(up_to),
                inches(up_to)
            ),
            Some(up_to) => write!(
                f,
                "{} to {} % ({} to {} across : 1 up, {} to {} in per ft)",
                percent(over),
                percent(up_to),
                across(over),
                across(up_to),
                inches(over),
                inches(up_to)
            ),
            None => write!(
                f,
                "over {} % (steeper than {} across : 1 up, over {} in per ft)",
                percent(over),
                across(over),
                inches(over)
            ),
        }
    }
}

/// The band a slope is in, as its place among the bands.
pub fn slope_band_of(rise_per_run: f64) -> usize {
    ENDS.iter()
        .filter(|&&end| rise_per_run > end + SAME_SLOPE)
        .count()
}

/// The plan area of a surface by band, from level to steep; every band is there, also where it
/// has no area.
pub fn slope_bands(surface: &Surface) -> [SlopeBand; NUM_SLOPE_BANDS] {
    let mut bands = std::array::from_fn(|k| SlopeBand {
        letter: LETTERS[k],
        over: Slope::from_rise_per_run(if k == 0 { 0.0 } else { ENDS[k - 1] }),
        up_to: ENDS.get(k).map(|&end| Slope::from_rise_per_run(end)),
        twice_area_nm2: 0,
    });
    for f in surface.facets() {
        let band = slope_band_of(surface.source(f).plane.steepness());
        bands[band].twice_area_nm2 += surface.twice_area_of_nm2(f);
    }
    bands
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bands_are_told_three_ways() {
        let words = slope_bands(&Surface::default()).map(|band| band.to_string());
        assert_eq!(
            words,
            [
                "up to 2 % (flatter than 50 across : 1 up, up to 0.24 in per ft)",
                "2 to 5 % (50 to 20 across : 1 up, 0.24 to 0.60 in per ft)",
                "5 to 10 % (20 to 10 across : 1 up, 0.60 to 1.2 in per ft)",
                "10 to 20 % (10 to 5 across : 1 up, 1.2 to 2.4 in per ft)",
                "20 to 33 % (5 to 3 across : 1 up, 2.4 to 4.0 in per ft)",
                "33 to 50 % (3 to 2 across : 1 up, 4.0 to 6.0 in per ft)",
                "over 50 % (steeper than 2 across : 1 up, over 6.0 in per ft)",
            ]
        );
    }

    #[test]
    fn the_end_of_a_band_belongs_to_it() {
        for (slope, band) in [
            (0.0, 0),
            (0.02, 0),
            (0.02 + 1e-9, 0),
            (0.021, 1),
            (1.0 / 3.0, 4),
            (0.34, 5),
            (0.5, 5),
            (1.0e4, 6),
        ] {
            assert_eq!(slope_band_of(slope), band, "{slope}");
        }
    }
}
