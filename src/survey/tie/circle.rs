//! Where two circles meet: the place of two tapes, in closed form.
//!
//! Takes two corners with the length taped from each, gives both answers. Knows no names, no
//! units but metres, and not which answer is meant.

/// A plan position, metres.
pub type Plan = [f64; 2];

/// How two circles about two corners meet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Meeting {
    /// Two places: left of the line from the first corner to the second, then right of it.
    Two([Plan; 2]),
    /// One place on the line of the corners, or so near to it that the sides cannot be told apart.
    Touch(Plan),
    /// The tapes do not reach each other: both together are too short by so much, metres.
    Apart(f64),
    /// One circle lies inside the other: their difference is too large by so much, metres.
    Inside(f64),
    /// Both corners are one place.
    OneCorner,
}

/// Meets two circles. A miss of up to `slack_m`, and two answers that lie no farther apart than
/// that, count as touching.
///
/// # Units
///
/// metres
/// # Source
///
/// closed form: with the corners d apart, the place lies (d + (r1 - r2)(r1 + r2) / d) / 2 along
/// the line and the root of r1^2 minus its square beside it (elementary geometry)
pub fn meet(a: Plan, ra_m: f64, b: Plan, rb_m: f64, slack_m: f64) -> Meeting {
    let [dx, dy] = [b[0] - a[0], b[1] - a[1]];
    let d_m = dx.hypot(dy);
    if d_m <= f64::EPSILON * (ra_m + rb_m) {
        return Meeting::OneCorner;
    }
    let (ux, uy) = (dx / d_m, dy / d_m);
    let on_line = |along_m: f64| [a[0] + ux * along_m, a[1] + uy * along_m];
    let apart_m = d_m - ra_m - rb_m;
    if apart_m > 0.0 {
        return if apart_m <= slack_m {
            Meeting::Touch(on_line(ra_m + apart_m / 2.0))
        } else {
            Meeting::Apart(apart_m)
        };
    }
    let inside_m = (ra_m - rb_m).abs() - d_m;
    if inside_m > 0.0 {
        return if inside_m > slack_m {
            Meeting::Inside(inside_m)
        } else if ra_m > rb_m {
            Meeting::Touch(on_line(ra_m - inside_m / 2.0))
        } else {
            Meeting::Touch(on_line(-(ra_m + inside_m / 2.0)))
        };
    }
    let along_m = f64::midpoint(d_m, (ra_m - rb_m) * (ra_m + rb_m) / d_m);
    let beside_m = ((ra_m - along_m) * (ra_m + along_m)).max(0.0).sqrt();
    let [x, y] = on_line(along_m);
    if 2.0 * beside_m <= slack_m {
        return Meeting::Touch([x, y]);
    }
    Meeting::Two([
        [x - uy * beside_m, y + ux * beside_m],
        [x + uy * beside_m, y - ux * beside_m],
    ])
}

/// Length of a tape that lay along the ground, reduced to the level; `None` if it is shorter
/// than the difference in height.
///
/// # Source
///
/// Pythagoras: a straight tape of length s over a height h covers the root of s^2 - h^2
pub fn level_length_m(along_ground_m: f64, rise_m: f64) -> Option<f64> {
    let square = (along_ground_m - rise_m) * (along_ground_m + rise_m);
    (square > 0.0).then(|| square.sqrt())
}

/// Twice the signed area of a triangle, positive if `p` lies left of the line from `a` to `b`.
pub(crate) fn left_of(a: Plan, b: Plan, p: Plan) -> f64 {
    (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
}

/// Distance of two places, metres.
pub(crate) fn apart_m(a: Plan, b: Plan) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn closed_forms() {
        // The right triangle 3, 4, 5: corners 5 apart, place 2.4 beside and 1.8 along.
        let Meeting::Two([left, right]) = meet([0.0, 0.0], 3.0, [5.0, 0.0], 4.0, 0.0) else {
            panic!("3-4-5 does not meet");
        };
        assert!(apart_m(left, [1.8, 2.4]) < 1e-15 && apart_m(right, [1.8, -2.4]) < 1e-15);
        // Equilateral: height is the root of 3 over 2.
        let Meeting::Two([left, _]) = meet([0.0, 0.0], 2.0, [0.0, 2.0], 2.0, 0.0) else {
            panic!("equal sides do not meet");
        };
        assert!(apart_m(left, [-(3.0_f64.sqrt()), 1.0]) < 1e-15);
    }

    #[test]
    fn circles_that_miss() {
        let (a, b) = ([0.0, 0.0], [10.0, 0.0]);
        assert_eq!(meet(a, 4.0, b, 5.0, 0.5), Meeting::Apart(1.0));
        assert_eq!(meet(a, 13.0, b, 2.0, 0.5), Meeting::Inside(1.0));
        assert_eq!(meet(a, 4.0, b, 5.0, 1.0), Meeting::Touch([4.5, 0.0]));
        assert_eq!(meet(a, 13.0, b, 2.0, 1.0), Meeting::Touch([12.5, 0.0]));
        assert_eq!(meet(a, 2.0, b, 13.0, 1.0), Meeting::Touch([-2.5, 0.0]));
        assert_eq!(meet(a, 2.0, a, 13.0, 1.0), Meeting::OneCorner);
        assert_eq!(meet(a, 4.0, b, 6.0, 0.0), Meeting::Touch([4.0, 0.0]));
    }

    #[test]
    fn a_tape_along_a_slope() {
        // 40 ft along 10, 20 and 30 % is 39.80, 39.22 and 38.31 ft (arithmetic, job table):
        // the level part is 40 / root(1 + g^2), printed to 0.01.
        for (grade, level) in [(0.1_f64, 39.80), (0.2, 39.22), (0.3, 38.31)] {
            let rise = 40.0 * grade / grade.hypot(1.0);
            let found = level_length_m(40.0, rise).expect("a level length");
            assert!((found - level).abs() < 0.005, "{grade}: {found}");
            assert!((found - 40.0 / grade.hypot(1.0)).abs() < 1e-13);
        }
        assert_eq!(level_length_m(1.0, 1.0), None);
        assert_eq!(level_length_m(1.0, -2.0), None);
    }
}
