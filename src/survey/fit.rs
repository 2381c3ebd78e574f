//! The shift that makes an import fit the common points, and which of them spoils it.
//!
//! Takes pairs of places, gives a movement with what is left at each pair. Knows no file and no
//! name.

use crate::geom::Point;
use crate::units::NM_PER_M;

/// A point as the import has it and as the job has it, both in the frame of their own.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Pair {
    /// In the import: east and north, whole nanometres.
    pub(super) from: Point,
    /// In the job.
    pub(super) to: Point,
    /// Height in the import, metres.
    pub(super) from_z_m: f64,
    /// Height in the job, metres.
    pub(super) to_z_m: f64,
}

/// A movement of the plan as a whole, and of all heights.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Movement {
    /// Centre of the common points in the import and where it goes.
    from: Point,
    to: Point,
    /// Cosine and sine of the turn, counter-clockwise.
    turn: [f64; 2],
    /// Added to every height, metres.
    pub(super) up_m: f64,
}

/// What is left between a pair after the movement.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Left {
    /// Distance in plan, metres.
    pub(super) plan_m: f64,
    /// Height of the job above that of the import, metres.
    pub(super) height_m: f64,
}

impl Left {
    fn worst_m(self) -> f64 {
        self.plan_m.max(self.height_m.abs())
    }
}

impl Movement {
    /// Heights only: the mean difference.
    pub(super) fn up(pairs: &[Pair]) -> Movement {
        let up = pairs.iter().map(|pair| pair.to_z_m - pair.from_z_m);
        Movement {
            from: Point::default(),
            to: Point::default(),
            turn: [1.0, 0.0],
            up_m: up.sum::<f64>() / pairs.len().max(1) as f64,
        }
    }

    /// Moved and turned in plan so that the squares of what is left are least; the scale stays.
    /// `None` if the points of either side fall into one.
    ///
    /// # Source
    ///
    /// S. Umeyama, "Least-squares estimation of transformation parameters between two point
    /// patterns", IEEE Transactions on Pattern Analysis and Machine Intelligence 13 (1991),
    /// 376-380; in the plane the best rotation is the argument of a complex sum
    pub(super) fn in_plan(pairs: &[Pair]) -> Option<Movement> {
        let centre = |of: fn(&Pair) -> Point| {
            let n = pairs.len().max(1) as i128;
            let sum = pairs.iter().map(of).fold((0i128, 0i128), |(x, y), p| {
                (x + i128::from(p.x), y + i128::from(p.y))
            });
            Point::new((sum.0 / n) as i64, (sum.1 / n) as i64)
        };
        let (from, to) = (centre(|pair| pair.from), centre(|pair| pair.to));
        let (mut cos, mut sin) = (0.0, 0.0);
        for pair in pairs {
            let [ax, ay] = pair.from.relative_m(from);
            let [bx, by] = pair.to.relative_m(to);
            cos += ax * bx + ay * by;
            sin += ax * by - ay * bx;
        }
        let length = cos.hypot(sin);
        (length > 0.0).then(|| Movement {
            from,
            to,
            turn: [cos / length, sin / length],
            ..Movement::up(pairs)
        })
    }

    /// Where a place goes, rounded once to the lattice.
    pub(super) fn place(&self, p: Point) -> Point {
        if self.turn == [1.0, 0.0] {
            return Point::new(p.x - self.from.x + self.to.x, p.y - self.from.y + self.to.y);
        }
        let [x, y] = p.relative_m(self.from);
        let [cos, sin] = self.turn;
        let nm = |m: f64| (m * NM_PER_M).round() as i64;
        Point::new(
            self.to.x + nm(cos * x - sin * y),
            self.to.y + nm(sin * x + cos * y),
        )
    }

    /// Degrees counter-clockwise.
    pub(super) fn turn_deg(&self) -> f64 {
        self.turn[1].atan2(self.turn[0]).to_degrees()
    }

    /// What is left at a pair.
    pub(super) fn left(&self, pair: &Pair) -> Left {
        let [x, y] = self.place(pair.from).relative_m(pair.to);
        Left {
            plan_m: x.hypot(y),
            height_m: pair.to_z_m - pair.from_z_m - self.up_m,
        }
    }
}

/// How the movement is found from the pairs.
pub(super) type Fit = fn(&[Pair]) -> Option<Movement>;

/// The farthest that any pair is off, metres.
pub(super) fn worst_m(movement: &Movement, pairs: &[Pair]) -> f64 {
    let left = pairs.iter().map(|pair| movement.left(pair).worst_m());
    left.fold(0.0, f64::max)
}

/// The pairs without which the others agree, with how far those are then off and the pair itself:
/// (number, others, itself), the best agreement first.
pub(super) fn spoilers(pairs: &[Pair], fit: Fit, limit_m: f64) -> Vec<(usize, f64, f64)> {
    let mut found: Vec<(usize, f64, f64)> = (0..pairs.len())
        .filter_map(|k| {
            let rest: Vec<Pair> = pairs
                .iter()
                .enumerate()
                .filter_map(|(i, pair)| (i != k).then_some(*pair))
                .collect();
            let movement = fit(&rest)?;
            let others = worst_m(&movement, &rest);
            let own = movement.left(&pairs[k]).worst_m();
            (rest.len() >= 2 && others <= limit_m).then_some((k, others, own))
        })
        .collect();
    found.sort_by(|a, b| a.1.total_cmp(&b.1));
    found
}

/// How many times longer the distances between the points are in the job than in the import;
/// `None` if they fall into one.
pub(super) fn stretch(pairs: &[Pair]) -> Option<f64> {
    let spread = |of: fn(&Pair) -> Point| {
        let mut sum = 0.0;
        for (k, a) in pairs.iter().enumerate() {
            for b in &pairs[k + 1..] {
                let [x, y] = of(a).relative_m(of(b));
                sum += x * x + y * y;
            }
        }
        sum.sqrt()
    };
    let (from, to) = (spread(|pair| pair.from), spread(|pair| pair.to));
    (from > 0.0).then(|| to / from)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(turn_deg: f64, up_m: f64) -> Vec<Pair> {
        let (sin, cos) = turn_deg.to_radians().sin_cos();
        [(0.0, 0.0), (30.0, 2.0), (11.0, 25.0), (-8.0, 14.0)]
            .into_iter()
            .enumerate()
            .map(|(k, (x, y))| Pair {
                from: Point::from_m(x + 500_000.0, y + 4_100_000.0),
                to: Point::from_m(cos * x - sin * y + 3.0, sin * x + cos * y - 7.0),
                from_z_m: 100.0 + k as f64,
                to_z_m: 100.0 + k as f64 + up_m,
            })
            .collect()
    }

    #[test]
    fn a_movement_is_found_again() {
        for turn in [0.0, 12.5, -170.0] {
            let pairs = pairs(turn, -4.25);
            let movement = Movement::in_plan(&pairs).unwrap();
            assert!(worst_m(&movement, &pairs) < 3.0e-9);
            assert!((movement.turn_deg() - turn).abs() < 1e-8);
            assert!((movement.up_m + 4.25).abs() < 1e-12);
            assert!((stretch(&pairs).unwrap() - 1.0).abs() < 1e-9);
        }
    }

    #[test]
    fn the_point_that_spoils_a_fit_is_found() {
        for bad in 0..4 {
            let mut pairs = pairs(30.0, 1.0);
            pairs[bad].to_z_m += 0.4;
            let movement = Movement::in_plan(&pairs).unwrap();
            // The mean takes a quarter of it up.
            assert!((worst_m(&movement, &pairs) - 0.3).abs() < 1e-9);
            let found = spoilers(&pairs, Movement::in_plan, 0.05);
            assert_eq!(found.len(), 1);
            assert_eq!(found[0].0, bad);
            assert!((found[0].2 - 0.4).abs() < 1e-9);
        }
    }
}
