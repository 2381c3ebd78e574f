//! Distances between straight pieces, as metres about a common point.
//!
//! What is asked here is how far, not on which side: differences of lattice points are exact,
//! and the rest is ordinary arithmetic on them. Yards are small: squares of metres do not overflow.

/// The shortest connection of two straight pieces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// Its length, metres; 0 where they meet.
    pub distance_m: f64,
    /// Its ends, the first on the first piece.
    pub ends_m: [[f64; 2]; 2],
}

/// The place of a straight piece that is nearest to `p`.
pub fn nearest_on(p: [f64; 2], [a, b]: [[f64; 2]; 2]) -> [f64; 2] {
    let (ux, uy) = (b[0] - a[0], b[1] - a[1]);
    let square = ux * ux + uy * uy;
    if square <= 0.0 {
        return a;
    }
    let t = ((p[0] - a[0]) * ux + (p[1] - a[1]) * uy) / square;
    if t <= 0.0 {
        a
    } else if t >= 1.0 {
        b
    } else {
        [a[0] + t * ux, a[1] + t * uy]
    }
}

/// The shortest connection of two straight pieces; either may be a single place.
pub fn gap_between(one: [[f64; 2]; 2], other: [[f64; 2]; 2]) -> Gap {
    let turn = |o: [f64; 2], p: [f64; 2], q: [f64; 2]| {
        (p[0] - o[0]) * (q[1] - o[1]) - (p[1] - o[1]) * (q[0] - o[0])
    };
    let ([a, b], [c, d]) = (one, other);
    let (s, t) = (turn(a, b, c), turn(a, b, d));
    if s * t < 0.0 && turn(c, d, a) * turn(c, d, b) < 0.0 {
        let share = s / (s - t);
        let at = [c[0] + share * (d[0] - c[0]), c[1] + share * (d[1] - c[1])];
        return Gap {
            distance_m: 0.0,
            ends_m: [at, at],
        };
    }
    let pairs = [
        [a, nearest_on(a, other)],
        [b, nearest_on(b, other)],
        [nearest_on(c, one), c],
        [nearest_on(d, one), d],
    ];
    let mut best = Gap {
        distance_m: f64::INFINITY,
        ends_m: pairs[0],
    };
    for ends_m in pairs {
        let [p, q] = ends_m;
        let (x, y) = (q[0] - p[0], q[1] - p[1]);
        let distance_m = (x * x + y * y).sqrt();
        if distance_m < best.distance_m {
            best = Gap { distance_m, ends_m };
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gaps_are_those_of_the_closed_forms() {
        let gap = gap_between([[0.0, 0.0], [4.0, 0.0]], [[5.0, 1.0], [5.0, 9.0]]);
        assert_eq!(gap.distance_m, 2.0_f64.sqrt());
        assert_eq!(gap.ends_m, [[4.0, 0.0], [5.0, 1.0]]);
        let crossed = gap_between([[0.0, 0.0], [4.0, 4.0]], [[0.0, 4.0], [4.0, 0.0]]);
        assert_eq!((crossed.distance_m, crossed.ends_m[0]), (0.0, [2.0, 2.0]));
        let parallel = gap_between([[0.0, 0.0], [4.0, 0.0]], [[1.0, 3.0], [9.0, 3.0]]);
        assert_eq!(parallel.distance_m, 3.0);
        assert_eq!(nearest_on([2.0, 5.0], [[1.0, 1.0], [1.0, 1.0]]), [1.0, 1.0]);
    }
}
