//! The flattest thing that must be held: the soil that leaves a rim at the limit slope.
//!
//! For a fill its level at a place is the greatest of `z(c) - |p - c| / z_limit` over all points
//! `c` of the rim; for a cut the least of `z(c) + |p - c| / z_limit`. On a straight piece whose
//! level varies evenly the best point is known in closed form. Where a line stands between, the
//! way goes round its corners: the shortest way among straight ones bends at corners only, so the
//! level at every corner, found from the highest down, makes the rest exact.

use super::blockers::{Blockers, Corner};
use super::rim::Piece;

/// A place this close to the line of a piece is on it, metres: above the rounding of places.
const ON_RIM_M: f64 = 1.0e-7;

/// Where the soil at a place comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Reached {
    /// Level at the place, metres.
    pub(crate) z_m: f64,
    /// The last point of the way before it: of the rim, or a corner of a line.
    pub(crate) from: [f64; 3],
    /// Which source that is: tells where the level bends along a line.
    pub(crate) source: usize,
}

/// The soil round a rim at one slope.
#[derive(Debug)]
pub(crate) struct Envelope<'a> {
    pieces: &'a [Piece],
    blockers: &'a Blockers,
    /// Limit slope, rise over run.
    slope: f64,
    /// 1 for fill, -1 for a cut: then all is turned upside down.
    sign: f64,
    /// Corners that the soil reaches, with its level.
    round: Vec<(Corner, f64)>,
    low: [f64; 2],
    high: [f64; 2],
    /// The highest level of the rim, for a cut the lowest.
    top: f64,
}

impl<'a> Envelope<'a> {
    /// # Input
    ///
    /// `slope` rise over run, more than 0; `ground` the level that the soil lands on
    pub(crate) fn new(
        pieces: &'a [Piece],
        is_fill: bool,
        slope: f64,
        blockers: &'a Blockers,
        ground: impl Fn([f64; 2]) -> Option<f64>,
    ) -> Envelope<'a> {
        let sign = if is_fill { 1.0 } else { -1.0 };
        let mut low = [f64::INFINITY; 2];
        let mut high = [f64::NEG_INFINITY; 2];
        let mut top = f64::NEG_INFINITY;
        for end in pieces.iter().flat_map(|piece| [piece.from, piece.to]) {
            for axis in 0..2 {
                low[axis] = low[axis].min(end[axis]);
                high[axis] = high[axis].max(end[axis]);
            }
            top = top.max(sign * end[2]);
        }
        let mut envelope = Envelope {
            pieces,
            blockers,
            slope,
            sign,
            round: Vec::new(),
            low,
            high,
            top,
        };
        envelope.go_round(ground);
        envelope
    }

    /// Finds the level at every corner the soil reaches, the highest first.
    fn go_round(&mut self, ground: impl Fn([f64; 2]) -> Option<f64>) {
        let mut open: Vec<(Corner, f64, f64)> = self
            .blockers
            .corners()
            .into_iter()
            .filter_map(|corner| {
                let floor = self.sign * ground(corner.at)?;
                (self.most(corner.at) > floor).then_some((corner, floor))
            })
            .map(|(corner, floor)| {
                let best = self.best_of_rim(corner.at, &|c| corner.opens_to([c[0], c[1]]));
                (corner, floor, best.map_or(f64::NEG_INFINITY, |(h, ..)| h))
            })
            .collect();
        while let Some(k) = (0..open.len())
            .filter(|&k| open[k].2 > open[k].1)
            .max_by(|&i, &j| open[i].2.total_cmp(&open[j].2))
        {
            let (corner, _, level) = open.swap_remove(k);
            for (next, _, best) in &mut open {
                let [dx, dy] = [next.at[0] - corner.at[0], next.at[1] - corner.at[1]];
                let here = level - self.slope * dx.hypot(dy);
                if here > *best
                    && corner.opens_to(next.at)
                    && next.opens_to(corner.at)
                    && self.blockers.is_open(corner.at, next.at)
                {
                    *best = here;
                }
            }
            self.round.push((corner, level));
        }
    }

    /// What the level at a place cannot be above (for a cut below), turned.
    fn most(&self, p: [f64; 2]) -> f64 {
        let off = |axis: usize| {
            (self.low[axis] - p[axis])
                .max(p[axis] - self.high[axis])
                .max(0.0)
        };
        self.top - self.slope * off(0).hypot(off(1))
    }

    /// How high the soil can stand above the ground (for a cut below it) at most, metres: quick,
    /// to leave out what is far away.
    pub(crate) fn most_height_m(&self, p: [f64; 2], ground_m: f64) -> f64 {
        self.most(p) - self.sign * ground_m
    }

    /// Steepest change of the level along any line, rise over run.
    pub(crate) fn slope(&self) -> f64 {
        self.slope
    }

    /// Height to be held where the soil is at one level and the ground at another, metres.
    pub(crate) fn height_m(&self, z_m: f64, ground_m: f64) -> f64 {
        self.sign * (z_m - ground_m)
    }

    /// The level at a place; `None` where no way leads there.
    pub(crate) fn at(&self, p: [f64; 2]) -> Option<Reached> {
        let direct = self.best_of_rim(p, &|_| true);
        let (mut best, mut from, mut source) = match direct {
            Some((h, from, k)) => (h, Some(from), k),
            None => (f64::NEG_INFINITY, None, 0),
        };
        for (k, (corner, level)) in self.round.iter().enumerate() {
            let here = level - self.slope * (p[0] - corner.at[0]).hypot(p[1] - corner.at[1]);
            if here > best && corner.opens_to(p) && self.blockers.is_open(corner.at, p) {
                best = here;
                from = Some([corner.at[0], corner.at[1], self.sign * level]);
                source = 3 * (self.pieces.len() + k);
            }
        }
        from.map(|from| Reached {
            z_m: self.sign * best,
            from,
            source,
        })
    }

    /// The best point of the rim that sees a place: turned level there, the point, its source.
    fn best_of_rim(
        &self,
        p: [f64; 2],
        opens: &dyn Fn([f64; 3]) -> bool,
    ) -> Option<(f64, [f64; 3], usize)> {
        let mut best: Option<(f64, [f64; 3], usize)> = None;
        for (k, piece) in self.pieces.iter().enumerate() {
            // Sides leave a rim outward: across the core another piece is nearer.
            let outward =
                (p[0] - piece.from[0]) * piece.out[0] + (p[1] - piece.from[1]) * piece.out[1];
            if outward < -ON_RIM_M {
                continue;
            }
            let (h, c, part) = self.best_of_piece(piece, p);
            if best.is_none_or(|(most, ..)| h > most)
                && opens(c)
                && self.blockers.is_open([c[0], c[1]], p)
            {
                best = Some((h, c, 3 * k + part));
            }
        }
        best
    }

    /// The greatest of `h(c) - slope |p - c|` on a piece, the point, and whether that is an end.
    fn best_of_piece(&self, piece: &Piece, p: [f64; 2]) -> (f64, [f64; 3], usize) {
        let [ax, ay, az] = piece.from;
        let [dx, dy] = [piece.to[0] - ax, piece.to[1] - ay];
        let length = dx.hypot(dy);
        let (ux, uy) = (dx / length, dy / length);
        let along = (p[0] - ax) * ux + (p[1] - ay) * uy;
        let aside = ((p[1] - ay) * ux - (p[0] - ax) * uy).abs();
        let rise = self.sign * (piece.to[2] - az) / length;
        // Steeper than the limit along itself, the rim is reached from its upper end.
        let best = if rise.abs() < self.slope {
            along + aside * rise / (self.slope * self.slope - rise * rise).sqrt()
        } else {
            rise.signum() * f64::INFINITY
        };
        let t = best.clamp(0.0, length);
        let c = [ax + t * ux, ay + t * uy, az + self.sign * rise * t];
        let part = if best <= 0.0 {
            1
        } else if best >= length {
            2
        } else {
            0
        };
        let h = self.sign * c[2] - self.slope * (t - along).hypot(aside);
        (h, c, part)
    }
}
