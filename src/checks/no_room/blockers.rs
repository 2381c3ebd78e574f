//! Lines that no soil passes, and which places see each other round them.

use std::f64::consts::TAU;

/// Distances below this are rounding, metres: the lattice is 1 nm, and places are rounded to it.
const SAME_M: f64 = 1.0e-7;

/// A line that no soil passes.
#[derive(Clone, Debug)]
struct Line {
    points: Vec<[f64; 2]>,
    is_closed: bool,
    low: [f64; 2],
    high: [f64; 2],
}

/// A corner of a line, seen from one side of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Corner {
    /// Where it is.
    pub(crate) at: [f64; 2],
    /// The directions that lie on this side: counter-clockwise from `start` over `width`.
    start: f64,
    width: f64,
}

impl Corner {
    /// True if a way from the corner to a place begins on this side of the line.
    pub(crate) fn opens_to(&self, p: [f64; 2]) -> bool {
        let [dx, dy] = [p[0] - self.at[0], p[1] - self.at[1]];
        let distance = dx.hypot(dy);
        if distance <= SAME_M {
            return true;
        }
        let turn = (dy.atan2(dx) - self.start).rem_euclid(TAU);
        // Along the line itself belongs to both sides.
        let slack = SAME_M / distance;
        turn <= self.width + slack || turn >= TAU - slack
    }
}

/// All such lines.
#[derive(Clone, Debug, Default)]
pub(crate) struct Blockers {
    lines: Vec<Line>,
}

impl Blockers {
    /// Adds a line; a closed one ends at its first point and encloses what is no ground for soil.
    pub(crate) fn add(&mut self, points: Vec<[f64; 2]>, is_closed: bool) {
        let mut low = [f64::INFINITY; 2];
        let mut high = [f64::NEG_INFINITY; 2];
        for p in &points {
            for axis in 0..2 {
                low[axis] = low[axis].min(p[axis]);
                high[axis] = high[axis].max(p[axis]);
            }
        }
        self.lines.push(Line {
            points,
            is_closed,
            low,
            high,
        });
    }

    /// Every corner of every line, once for each side of it that soil can lie on.
    pub(crate) fn corners(&self) -> Vec<Corner> {
        self.lines.iter().flat_map(Line::corners).collect()
    }

    /// True if the straight way between two places crosses no line. Each place may lie on one.
    pub(crate) fn is_open(&self, a: [f64; 2], b: [f64; 2]) -> bool {
        self.lines.iter().all(|line| !line.blocks(a, b))
    }
}

impl Line {
    /// True if its points were walked counter-clockwise.
    fn is_left(&self) -> bool {
        let twice: f64 = self
            .points
            .windows(2)
            .map(|w| w[0][0] * w[1][1] - w[1][0] * w[0][1])
            .sum();
        twice > 0.0
    }

    fn corner(&self, k: usize) -> Vec<Corner> {
        let n = self.points.len();
        let at = self.points[k];
        let toward = |p: [f64; 2]| (p[1] - at[1]).atan2(p[0] - at[0]);
        let last = n - 1;
        let (before, after) = match (k, self.is_closed) {
            (0, true) => (Some(last - 1), Some(1)),
            (0, false) => (None, Some(1)),
            (k, false) if k == last => (Some(k - 1), None),
            (k, _) => (Some(k - 1), Some(k + 1)),
        };
        let whole = |start: f64| Corner {
            at,
            start,
            width: TAU,
        };
        match (before, after) {
            (Some(before), Some(after)) => {
                let (back, ahead) = (toward(self.points[before]), toward(self.points[after]));
                // To the left of the line: counter-clockwise from ahead round to back.
                let left = (back - ahead).rem_euclid(TAU);
                let sides = [
                    Corner {
                        at,
                        start: ahead,
                        width: left,
                    },
                    Corner {
                        at,
                        start: back,
                        width: TAU - left,
                    },
                ];
                match (self.is_closed, self.is_left()) {
                    (false, _) => sides.to_vec(),
                    (true, true) => vec![sides[1]],
                    (true, false) => vec![sides[0]],
                }
            }
            (Some(k), None) | (None, Some(k)) => vec![whole(toward(self.points[k]))],
            (None, None) => Vec::new(),
        }
    }

    fn corners(&self) -> Vec<Corner> {
        // The last point of a closed line is its first.
        let count = self.points.len() - usize::from(self.is_closed);
        (0..count).flat_map(|k| self.corner(k)).collect()
    }

    fn blocks(&self, a: [f64; 2], b: [f64; 2]) -> bool {
        let apart = |axis: usize| {
            a[axis].max(b[axis]) < self.low[axis] - SAME_M
                || a[axis].min(b[axis]) > self.high[axis] + SAME_M
        };
        if apart(0) || apart(1) {
            return false;
        }
        let [dx, dy] = [b[0] - a[0], b[1] - a[1]];
        let length = dx.hypot(dy);
        if length <= SAME_M {
            return false;
        }
        let (ux, uy) = (dx / length, dy / length);
        // Distance to the left of the way, and along it.
        let aside = |p: [f64; 2]| ux * (p[1] - a[1]) - uy * (p[0] - a[0]);
        let along = |p: [f64; 2]| ux * (p[0] - a[0]) + uy * (p[1] - a[1]);
        for w in self.points.windows(2) {
            let (p, q) = (aside(w[0]), aside(w[1]));
            if p.abs() <= SAME_M || q.abs() <= SAME_M || (p > 0.0) == (q > 0.0) {
                continue;
            }
            let t = p / (p - q);
            let s = along(w[0]) + t * (along(w[1]) - along(w[0]));
            if s > SAME_M && s < length - SAME_M {
                return true;
            }
        }
        // A way through a corner passes if it stays on one side of the line.
        let count = self.points.len() - usize::from(self.is_closed);
        for k in 0..count {
            let p = self.points[k];
            let s = along(p);
            if aside(p).abs() > SAME_M || s < -SAME_M || s > length + SAME_M {
                continue;
            }
            let is_end = s <= SAME_M || s >= length - SAME_M;
            let passes = self
                .corner(k)
                .iter()
                .any(|side| side.opens_to(a) && side.opens_to(b));
            // From an outside corner of an area into it, or through a corner to the other side.
            if !passes && (!is_end || self.is_closed) {
                return true;
            }
        }
        // Both ends on an area, and the way between them through it.
        self.is_closed && self.holds([(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0])
    }

    /// True if a place lies inside a closed line and not on it.
    fn holds(&self, p: [f64; 2]) -> bool {
        let mut inside = false;
        for w in self.points.windows(2) {
            let (a, b) = (w[0], w[1]);
            let [dx, dy] = [b[0] - a[0], b[1] - a[1]];
            let length = dx.hypot(dy);
            let t = if length > 0.0 {
                (((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / (length * length)).clamp(0.0, 1.0)
            } else {
                0.0
            };
            let off = (p[0] - a[0] - t * dx).hypot(p[1] - a[1] - t * dy);
            if off <= SAME_M {
                return false;
            }
            if (a[1] > p[1]) != (b[1] > p[1])
                && p[0] < (b[0] - a[0]) * (p[1] - a[1]) / (b[1] - a[1]) + a[0]
            {
                inside = !inside;
            }
        }
        inside
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with(points: &[[f64; 2]], is_closed: bool) -> Blockers {
        let mut blockers = Blockers::default();
        blockers.add(points.to_vec(), is_closed);
        blockers
    }

    #[test]
    fn a_way_through_a_corner_of_a_line_is_shut() {
        let bent = with(&[[-2.0, 1.0], [0.0, 0.0], [2.0, 1.0]], false);
        // Straight through the bend to the other side, past it on one side, and to it.
        assert!(!bent.is_open([0.0, -1.0], [0.0, 1.0]));
        assert!(bent.is_open([-1.0, 0.0], [1.0, 0.0]));
        assert!(bent.is_open([0.0, -1.0], [0.0, 0.0]));
        assert!(bent.is_open([0.0, 1.0], [1.0, 0.5]));
        // Round its end.
        assert!(bent.is_open([2.0, 0.0], [2.0, 3.0]));
    }

    #[test]
    fn the_inside_of_an_area_is_shut() {
        let square = [[0.0, 0.0], [2.0, 0.0], [2.0, 2.0], [0.0, 2.0], [0.0, 0.0]];
        let house = with(&square, true);
        assert!(house.is_open([1.0, -1.0], [1.5, 0.0]));
        assert!(!house.is_open([1.0, -1.0], [1.0, 2.0]));
        assert!(!house.is_open([0.0, 0.0], [1.0, 2.0]));
        assert!(!house.is_open([-1.0, -1.0], [2.0, 2.0]));
        assert!(house.is_open([0.0, 0.0], [2.0, 0.0]));
        assert_eq!(house.corners().len(), 4);
        let corner = house.corners()[0];
        assert!(corner.opens_to([-1.0, 1.0]) && !corner.opens_to([1.0, 1.0]));
    }
}
