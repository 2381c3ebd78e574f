//! Points of a cloud as they come, with one height for every place.

use crate::geom::P3;
use crate::import::facts::Loss;
use crate::job::SamePlace;

/// Points that a ground is laid over.
#[derive(Clone, Debug, Default)]
pub(super) struct Thinned {
    /// Points at different places, in the order of the file.
    pub(super) points: Vec<P3>,
    /// How many were left out for another at the same place.
    pub(super) same_place: u64,
    /// What was lost by leaving out others; `None` if nothing was.
    pub(super) loss: Option<Loss>,
}

/// Takes points in the order of the file.
#[derive(Clone, Debug)]
pub(super) struct Collector {
    points: Vec<P3>,
    same_place: SamePlace,
}

impl Collector {
    /// With a rule for points at one place.
    pub(super) fn new(same_place: SamePlace) -> Collector {
        Collector {
            points: Vec::new(),
            same_place,
        }
    }

    /// The next points.
    pub(super) fn take(&mut self, points: &[P3]) {
        self.points.extend_from_slice(points);
    }

    /// All points, one for each place: that which came first, with the height by the rule.
    pub(super) fn finish(self) -> Thinned {
        let mut points = self.points;
        let places: Vec<_> = points.iter().map(|p| p.p).collect();
        let mut order: Vec<usize> = (0..points.len()).collect();
        order.sort_unstable_by_key(|&k| (places[k], k));
        let mut keep = vec![true; points.len()];
        let mut same_place = 0;
        for group in order.chunk_by(|&a, &b| places[a] == places[b]) {
            if group.len() == 1 {
                continue;
            }
            let heights = group.iter().map(|&k| points[k].z);
            let z = match self.same_place {
                SamePlace::Lowest => heights.fold(f64::INFINITY, f64::min),
                SamePlace::Highest => heights.fold(f64::NEG_INFINITY, f64::max),
                SamePlace::Mean => heights.sum::<f64>() / group.len() as f64,
                SamePlace::First => points[group[0]].z,
            };
            points[group[0]].z = z;
            for &k in &group[1..] {
                keep[k] = false;
            }
            same_place += group.len() as u64 - 1;
        }
        let mut keep = keep.iter();
        points.retain(|_| keep.next().is_none_or(|&keep| keep));
        Thinned {
            points,
            same_place,
            loss: None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::Point;

    #[test]
    fn one_height_for_every_place() {
        let at = |x, z| P3 {
            p: Point::new(x, 5),
            z,
        };
        let points = [at(3, 1.0), at(1, 4.0), at(3, 0.5), at(2, 7.0), at(3, 3.0)];
        for (rule, z) in [
            (SamePlace::Lowest, 0.5),
            (SamePlace::Highest, 3.0),
            (SamePlace::Mean, 1.5),
            (SamePlace::First, 1.0),
        ] {
            let mut collector = Collector::new(rule);
            collector.take(&points[..2]);
            collector.take(&points[2..]);
            let thinned = collector.finish();
            assert_eq!(thinned.points, [at(3, z), at(1, 4.0), at(2, 7.0)]);
            assert_eq!(thinned.same_place, 2);
        }
    }
}
