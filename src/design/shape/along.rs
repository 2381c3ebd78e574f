//! A number that changes along a line: a level, a width, a depth.

/// Stations closer than this are one, metres: rounding of a sum of lengths.
pub(crate) const SAME_STATION_M: f64 = 1.0e-7;

/// A number by station, straight between its knots and even beyond the first and the last.
#[derive(Clone, Debug, PartialEq)]
pub struct Along(Vec<(f64, f64)>);

impl Along {
    /// From knots (station, value); sorted by station, of knots at one station the last counts.
    ///
    /// # Input
    ///
    /// one knot at least
    pub fn new(mut knots: Vec<(f64, f64)>) -> Along {
        knots.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut kept: Vec<(f64, f64)> = Vec::with_capacity(knots.len());
        for knot in knots {
            match kept.last_mut() {
                Some(last) if knot.0 - last.0 <= SAME_STATION_M => last.1 = knot.1,
                _ => kept.push(knot),
            }
        }
        Along(kept)
    }

    /// The same number everywhere.
    pub fn even(value: f64) -> Along {
        Along(vec![(0.0, value)])
    }

    /// The knots in order.
    pub fn knots(&self) -> &[(f64, f64)] {
        &self.0
    }

    /// The number at a station.
    pub fn at(&self, station_m: f64) -> f64 {
        let after = self.0.partition_point(|k| k.0 < station_m - SAME_STATION_M);
        let Some(&(s1, v1)) = self.0.get(after) else {
            return self.0.last().map_or(0.0, |k| k.1);
        };
        if after == 0 || s1 - station_m <= SAME_STATION_M {
            return v1;
        }
        let (s0, v0) = self.0[after - 1];
        v0 + (v1 - v0) * (station_m - s0) / (s1 - s0)
    }

    /// The same with other values between two stations; outside them it stays as it is.
    ///
    /// # Input
    ///
    /// `knots` from one end of the stretch to the other
    pub fn replaced(&self, knots: &[(f64, f64)]) -> Along {
        let (Some(first), Some(last)) = (knots.first(), knots.last()) else {
            return self.clone();
        };
        let beside = self
            .0
            .iter()
            .filter(|k| k.0 < first.0 - SAME_STATION_M || k.0 > last.0 + SAME_STATION_M);
        Along::new(beside.chain(knots).copied().collect())
    }

    /// The larger of two at every station.
    pub fn max(&self, other: &Along) -> Along {
        let mut knots: Vec<(f64, f64)> = Vec::new();
        let mut stations: Vec<f64> = self.0.iter().chain(&other.0).map(|k| k.0).collect();
        stations.sort_by(f64::total_cmp);
        for pair in stations.windows(2) {
            let gap = |s: f64| self.at(s) - other.at(s);
            let (from, to) = (gap(pair[0]), gap(pair[1]));
            // Where they cross between two knots there is one more.
            if from * to < 0.0 {
                let s = pair[0] + (pair[1] - pair[0]) * from / (from - to);
                knots.push((s, self.at(s)));
            }
        }
        knots.extend(stations.iter().map(|&s| (s, self.at(s).max(other.at(s)))));
        Along::new(knots)
    }
}

#[cfg(test)]
mod tests {
    use super::Along;

    #[test]
    fn straight_between_knots_and_even_beyond() {
        let along = Along::new(vec![(4.0, 2.0), (2.0, 1.0)]);
        let at = [0.0, 2.0, 3.0, 4.0, 9.0].map(|s| along.at(s));
        assert_eq!(at, [1.0, 1.0, 1.5, 2.0, 2.0]);
    }

    #[test]
    fn the_larger_has_a_knot_where_they_cross() {
        let up = Along::new(vec![(0.0, 0.0), (4.0, 4.0)]);
        let both = up.max(&Along::even(1.0));
        let at = [0.0, 0.5, 1.0, 2.0].map(|s| both.at(s));
        assert_eq!(at, [1.0, 1.0, 1.0, 2.0]);
    }

    #[test]
    fn a_stretch_is_replaced() {
        let bed = Along::new(vec![(0.0, 10.0), (10.0, 9.0)]);
        let pool = bed.replaced(&[(4.0, 9.6), (5.0, 9.0), (6.0, 9.4)]);
        let at = [2.0, 4.0, 5.0, 6.0, 10.0].map(|s| pool.at(s));
        assert_eq!(at, [9.8, 9.6, 9.0, 9.4, 9.0]);
    }
}
