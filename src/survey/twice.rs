//! Differences measured twice: two points that two set-ups both read.
//!
//! With sight distances this shows the tilt of the sight line, without it the mean is the best
//! difference (reciprocal levelling). Takes a book that has been gone through once (`reduce`),
//! gives numbers; corrects nothing.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use crate::units::NM_PER_M;

use super::reduce::Work;

/// Points read from more set-ups are paired with the next set-up only, so that a benchmark read
/// from every set-up of a long book costs no square of them.
const MAX_ALL_PAIRS: usize = 8;

/// Least change of imbalance that shows a tilt, metres: over less, readings to 0.01 ft drown it.
const LEAST_IMBALANCE_M: f64 = 5.0;

/// Half the step of a rod read to 0.01 ft or 3 mm, metres.
const READING_M: f64 = 0.0015;

/// Two points read from two set-ups.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct TwiceMeasured {
    /// The two points.
    pub points: [String; 2],
    /// The two set-ups.
    pub setups: [String; 2],
    /// Lines of the readings on the second point.
    pub lines: [usize; 2],
    /// Level of the second point above the first from each set-up, metres.
    pub rises_m: [f64; 2],
    /// Mean of the two, metres.
    pub mean_rise_m: f64,
    /// Tilt of the sight line, rise over run, positive upward; `None` without distances, or if
    /// the set-ups stood too much alike (the imbalance changes by less than 5 m).
    pub tilt_rise_per_run: Option<f64>,
    /// What four readings to 0.01 ft leave uncertain of the tilt, rise over run.
    pub tilt_uncertain: Option<f64>,
    /// Level of the second point above the first without the tilt, metres.
    pub level_rise_m: Option<f64>,
}

impl TwiceMeasured {
    /// The reading a level sight line would have given, metres: the rod reading less the tilt
    /// over the distance; `None` if the tilt is not known.
    pub fn level_reading_m(&self, rod_m: f64, distance_m: f64) -> Option<f64> {
        self.tilt_rise_per_run.map(|tilt| rod_m - tilt * distance_m)
    }

    /// True if the tilt is more than the readings leave uncertain.
    pub fn tilt_shows(&self) -> bool {
        match (self.tilt_rise_per_run, self.tilt_uncertain) {
            (Some(tilt), Some(uncertain)) => tilt.abs() > uncertain,
            _ => false,
        }
    }
}

/// Curvature of the Earth less refraction on a sight, metres: what a level line of sight reads
/// too high, `0.0675 K^2` with K in kilometres. It cancels between two sights of one length.
///
/// # Source
///
/// surveying texts, from memory; a published worked problem has 0.0673
pub fn curvature_and_refraction_m(distance_m: f64) -> f64 {
    let km = distance_m / 1000.0;
    0.0675 * km * km
}

/// First reading of each of two points from one set-up.
type Readings = (usize, usize);

impl Work<'_> {
    /// Every pair of set-ups that read the same two points, with the pair of points that shows
    /// the tilt best, or the first and the last shared one.
    pub(crate) fn measured_twice(&self) -> Vec<TwiceMeasured> {
        let sights = &self.booked.sights;
        let mut of_point: BTreeMap<&str, BTreeMap<usize, usize>> = BTreeMap::new();
        for (index, sight) in sights.iter().enumerate() {
            let setups = of_point.entry(&sight.point).or_default();
            setups.entry(sight.setup).or_insert(index);
        }
        let mut shared: BTreeMap<(usize, usize), BTreeSet<Readings>> = BTreeMap::new();
        for readings in of_point.values() {
            let list: Vec<(usize, usize)> = readings.iter().map(|(&s, &i)| (s, i)).collect();
            let reach = if list.len() <= MAX_ALL_PAIRS {
                list.len()
            } else {
                1
            };
            for (k, &(one, first)) in list.iter().enumerate() {
                for &(other, second) in list.iter().skip(k + 1).take(reach) {
                    shared
                        .entry((one, other))
                        .or_default()
                        .insert((first, second));
                }
            }
        }
        shared
            .into_values()
            .filter(|points| points.len() > 1)
            .filter_map(|points| self.best_pair(&points.into_iter().collect::<Vec<_>>()))
            .collect()
    }

    /// The two shared points whose imbalance changes most between the set-ups: the extremes of
    /// what each point's own distance changes by.
    fn best_pair(&self, points: &[Readings]) -> Option<TwiceMeasured> {
        let distance = |sight: usize| self.booked.sights[sight].distance_nm;
        let change = |&(first, second): &Readings| Some(distance(second)? - distance(first)?);
        let with_distance = || points.iter().filter(|p| change(p).is_some());
        let low = with_distance().min_by_key(|p| change(p));
        let high = with_distance().max_by_key(|p| change(p));
        let (a, b) = match (low, high) {
            (Some(low), Some(high)) if change(low) != change(high) => {
                (low.min(high), low.max(high))
            }
            _ => (points.first()?, points.last()?),
        };
        Some(self.pair(*a, *b))
    }

    fn pair(&self, a: Readings, b: Readings) -> TwiceMeasured {
        let sights = &self.booked.sights;
        let metres = |nm: i64| nm as f64 / NM_PER_M;
        // The rise to b as a sloping sight line shows it, and how much farther b is than a.
        let rise_m = |a: usize, b: usize| metres(self.down_nm(a) - self.down_nm(b));
        let imbalance_m =
            |a: usize, b: usize| Some(metres(sights[b].distance_nm? - sights[a].distance_nm?));
        let rises_m = [rise_m(a.0, b.0), rise_m(a.1, b.1)];
        let imbalances = imbalance_m(a.0, b.0).zip(imbalance_m(a.1, b.1));
        let spread = imbalances
            .map(|(one, other)| other - one)
            .filter(|change| change.abs() >= LEAST_IMBALANCE_M);
        // Readings too big by the tilt times the distance make the far point seem low.
        let tilt = spread.map(|change| (rises_m[0] - rises_m[1]) / change);
        TwiceMeasured {
            points: [sights[a.0].point.clone(), sights[b.0].point.clone()],
            setups: [a.0, a.1].map(|i| self.booked.setups[sights[i].setup].name.clone()),
            lines: [sights[b.0].line, sights[b.1].line],
            rises_m,
            mean_rise_m: (rises_m[0] + rises_m[1]) / 2.0,
            tilt_rise_per_run: tilt,
            tilt_uncertain: spread.map(|change| 2.0 * READING_M / change.abs()),
            level_rise_m: tilt
                .zip(imbalances)
                .map(|(tilt, (imbalance, _))| rises_m[0] + tilt * imbalance),
        }
    }
}
