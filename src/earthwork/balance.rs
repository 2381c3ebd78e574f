//! What is dug against what is placed, with a range and the cause that dominates it.

use crate::units::{BankVolume, LooseVolume, TampedVolume};

use super::soil::Soil;

/// A likely value with a low and a high one.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize)]
pub struct Range {
    /// Low end.
    pub low: f64,
    /// The value to work with.
    pub likely: f64,
    /// High end.
    pub high: f64,
}

impl Range {
    /// A value without a range.
    pub fn exactly(value: f64) -> Range {
        Range {
            low: value,
            likely: value,
            high: value,
        }
    }

    /// A value give or take.
    pub fn about(likely: f64, give: f64) -> Range {
        Range {
            low: likely - give,
            likely,
            high: likely + give,
        }
    }
}

/// Loads of loose soil.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize)]
pub struct Loads {
    /// Barrow loads.
    pub barrows: u64,
    /// Truck loads.
    pub trucks: u64,
}

/// The balance of soil. Of surplus and short at most one is more than zero.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Balance {
    /// Soil to dig, in place, m3.
    pub dig_bank_m3: Range,
    /// The same as it lies in barrows, m3.
    pub dig_loose_m3: Range,
    /// Soil to place, tamped, m3.
    pub place_tamped_m3: Range,
    /// What the dug soil makes when tamped, m3.
    pub makes_tamped_m3: Range,
    /// Soil in place that the fill needs, m3.
    pub needs_bank_m3: Range,
    /// Dug soil left over, loose, m3; the range may start at zero.
    pub surplus_loose_m3: Range,
    /// Soil missing, tamped, m3; the range may start at zero.
    pub short_tamped_m3: Range,
    /// The missing soil as it would be delivered, loose, m3.
    pub short_loose_m3: Range,
    /// Loads dug.
    pub dig_loads: Loads,
    /// Loads left over.
    pub surplus_loads: Loads,
    /// Loads missing.
    pub short_loads: Loads,
    /// What makes the range of the balance widest, in words; empty if it has no range.
    pub widest_cause: String,
}

/// Balances what is dug against what is placed.
///
/// # Units
///
/// cubic metres; `height_m` is how far the ground may be off as a whole
/// # Source
///
/// bank, loose and tamped volumes by ratio (estimating texts; check values SOI-01 to
/// SOI-08); a height that is off everywhere does not average out (TIN-12)
pub fn balance(
    soil: &Soil,
    dig: BankVolume,
    place: TampedVolume,
    dig_area_m2: f64,
    place_area_m2: f64,
    height_m: f64,
) -> Balance {
    let dig_range = at_least_zero(Range::about(dig.m3(), dig_area_m2 * height_m));
    let place_range = at_least_zero(Range::about(place.m3(), place_area_m2 * height_m));
    let (loose, tamped) = (soil.loose_per_bank, soil.tamped_per_bank);
    let makes = soil.tamp(dig).m3();
    let needs = soil.dig_for(place).m3();
    // Of the surplus in bank measure: what each cause alone does to it.
    let surplus = |dig: f64, place: f64, tamped: f64| dig - place / tamped;
    let likely = surplus(dig.m3(), place.m3(), tamped.likely);
    let by_soil = [tamped.low, tamped.high].map(|t| surplus(dig.m3(), place.m3(), t) - likely);
    let by_height = dig_area_m2 * height_m + place_area_m2 * height_m / tamped.likely;
    let spread = |k: usize| by_soil[k].abs().hypot(by_height);
    let bank = Range {
        low: likely - spread(0),
        likely,
        high: likely + spread(1),
    };
    let over = at_least_zero(bank);
    let under = at_least_zero(Range {
        low: -bank.high,
        likely: -bank.likely,
        high: -bank.low,
    });
    let scale = |r: Range, factor: f64| Range {
        low: r.low * factor,
        likely: r.likely * factor,
        high: r.high * factor,
    };
    let both = |r: Range, f: Range| Range {
        low: r.low * f.low,
        likely: r.likely * f.likely,
        high: r.high * f.high,
    };
    // Without fill nothing can be short, without a dig nothing left over.
    let none = Range::default();
    let over = if dig.m3() > 0.0 { over } else { none };
    let under = if place.m3() > 0.0 { under } else { none };
    let surplus_loose = both(over, loose);
    let short_tamped = scale(under, tamped.likely);
    let short_loose = both(under, loose);
    let loads = |loose_m3: f64| {
        let loose = LooseVolume::from_m3(loose_m3);
        Loads {
            barrows: soil.barrows(loose),
            trucks: soil.trucks(loose),
        }
    };
    // What moves the loose surplus (or the loose soil missing) most.
    let by_shrink = by_soil[0].abs().max(by_soil[1].abs()) * loose.likely;
    let by_swell = likely.abs() * (loose.high - loose.low) / 2.0;
    let by_level = by_height * loose.likely;
    let most = by_shrink.max(by_swell).max(by_level);
    let widest_cause = if most <= 0.0 {
        String::new()
    } else if by_shrink >= most {
        format!(
            "how far this soil shrinks when tamped ({:.2} to {:.2} of bank)",
            tamped.low, tamped.high
        )
    } else if by_swell >= most {
        format!(
            "how far this soil swells when dug ({:.2} to {:.2} of bank)",
            loose.low, loose.high
        )
    } else {
        "the height of the ground at the shots".to_owned()
    };
    Balance {
        dig_bank_m3: dig_range,
        dig_loose_m3: both(dig_range, loose),
        place_tamped_m3: place_range,
        makes_tamped_m3: Range {
            low: dig_range.low * tamped.low,
            likely: makes,
            high: dig_range.high * tamped.high,
        },
        needs_bank_m3: Range {
            low: place_range.low / tamped.high,
            likely: needs,
            high: place_range.high / tamped.low,
        },
        surplus_loose_m3: surplus_loose,
        short_tamped_m3: short_tamped,
        short_loose_m3: short_loose,
        dig_loads: loads(soil.loosen(dig).m3()),
        surplus_loads: loads(surplus_loose.likely),
        short_loads: loads(short_loose.likely),
        widest_cause,
    }
}

fn at_least_zero(r: Range) -> Range {
    Range {
        low: r.low.max(0.0),
        likely: r.likely.max(0.0),
        high: r.high.max(0.0),
    }
}
