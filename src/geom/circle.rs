//! Which points lie in the circle through three others: exact, and never undecided.

use super::point::{Point, orient_sign};

/// True if `d` lies in the circle through `a b c`, which are counter-clockwise.
///
/// Of four points on one circle, the one farthest east (of two, the one farther north) counts
/// as off the circle of the others. So every set of points has one triangulation, whatever their
/// order: the diagonal between four such points never ends at that one.
///
/// # Input
///
/// four different points, coordinates less than 2^61 nm apart
/// # Source
///
/// filter: J. R. Shewchuk, "Adaptive precision floating-point arithmetic and fast robust
/// geometric predicates", Discrete & Computational Geometry 18 (1997), 305-363, error bound A of
/// the in-circle test; beyond it, whole numbers of 256 bits. Ties: O. Devillers, M. Teillaud,
/// "Perturbations and vertex removal in a 3D Delaunay triangulation", SODA (2003), 313-319
#[inline]
pub(super) fn in_circle(a: Point, b: Point, c: Point, d: Point) -> bool {
    /// (10 + 96 u) u with u = 2^-53. It allows for the rounding of the differences, too.
    const BOUND: f64 = 1.110_223_024_625_157_7e-15;
    let [adx, bdx, cdx] = [a, b, c].map(|p| (p.x - d.x) as f64);
    let [ady, bdy, cdy] = [a, b, c].map(|p| (p.y - d.y) as f64);
    let (bc, cb) = (bdx * cdy, cdx * bdy);
    let (ca, ac) = (cdx * ady, adx * cdy);
    let (ab, ba) = (adx * bdy, bdx * ady);
    let [a_lift, b_lift, c_lift] = [
        adx * adx + ady * ady,
        bdx * bdx + bdy * bdy,
        cdx * cdx + cdy * cdy,
    ];
    let det = a_lift * (bc - cb) + b_lift * (ca - ac) + c_lift * (ab - ba);
    let size = a_lift * (bc.abs() + cb.abs())
        + b_lift * (ca.abs() + ac.abs())
        + c_lift * (ab.abs() + ba.abs());
    if det.abs() > BOUND * size {
        return det > 0.0;
    }
    match exact(a, b, c, d) {
        0 => in_circle_by_rule(a, b, c, d),
        sign => sign > 0,
    }
}

/// Sign of the in-circle determinant: 1 inside, 0 on the circle, -1 outside.
#[cold]
fn exact(a: Point, b: Point, c: Point, d: Point) -> i32 {
    let [(adx, ady), (bdx, bdy), (cdx, cdy)] =
        [a, b, c].map(|p| (i128::from(p.x - d.x), i128::from(p.y - d.y)));
    let lift = |x: i128, y: i128| x * x + y * y;
    Wide::product(lift(adx, ady), bdx * cdy - cdx * bdy)
        .plus(Wide::product(lift(bdx, bdy), cdx * ady - adx * cdy))
        .plus(Wide::product(lift(cdx, cdy), adx * bdy - bdx * ady))
        .sign()
}

/// The rule for four points on one circle.
#[cold]
fn in_circle_by_rule(a: Point, b: Point, c: Point, d: Point) -> bool {
    // No three of them are in line, so raising the last one a little settles it: whoever is
    // raised is outside, and raises the circle over what lies on its side of the other two.
    let last = a.max(b).max(c).max(d);
    if last == d {
        false
    } else if last == a {
        orient_sign(d, b, c) > 0
    } else if last == b {
        orient_sign(a, d, c) > 0
    } else {
        orient_sign(a, b, d) > 0
    }
}

/// A whole number of 256 bits, in two's complement.
#[derive(Clone, Copy)]
struct Wide {
    high: i128,
    low: u128,
}

impl Wide {
    fn product(a: i128, b: i128) -> Wide {
        let half = |x: u128| (x >> 64, x & u128::from(u64::MAX));
        let ((a1, a0), (b1, b0)) = (half(a.unsigned_abs()), half(b.unsigned_abs()));
        let (middle, carry) = (a1 * b0).overflowing_add(a0 * b1);
        let (low, more) = (a0 * b0).overflowing_add(middle << 64);
        let high = a1 * b1 + (middle >> 64) + (u128::from(carry) << 64) + u128::from(more);
        let size = Wide {
            high: high.cast_signed(),
            low,
        };
        if (a < 0) == (b < 0) {
            size
        } else {
            Wide {
                high: !size.high,
                low: !size.low,
            }
            .plus(Wide { high: 0, low: 1 })
        }
    }

    fn plus(self, other: Wide) -> Wide {
        let (low, carry) = self.low.overflowing_add(other.low);
        Wide {
            high: self
                .high
                .wrapping_add(other.high)
                .wrapping_add(i128::from(carry)),
            low,
        }
    }

    fn sign(self) -> i32 {
        match self.high.signum() {
            0 => i32::from(self.low > 0),
            sign => sign as i32,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn p(x: i64, y: i64) -> Point {
        Point::new(x, y)
    }

    #[test]
    fn one_nanometre_decides() {
        // Corners of a square as large as the lattice allows, and the last corner a hair aside.
        for side in [2, 1 << 20, 1 << 31, 1 << 52, 1 << 60] {
            let (a, b, c) = (p(0, 0), p(side, 0), p(side, side));
            assert_eq!(exact(a, b, c, p(0, side)), 0);
            assert_eq!(exact(a, b, c, p(1, side)), 1);
            assert_eq!(exact(a, b, c, p(0, side - 1)), 1);
            assert_eq!(exact(a, b, c, p(-1, side)), -1);
            assert_eq!(exact(a, b, c, p(0, side + 1)), -1);
            assert!(in_circle(a, b, c, p(1, side)));
            assert!(!in_circle(a, b, c, p(-1, side)));
        }
    }

    #[test]
    fn four_on_a_circle_are_decided_alike_whoever_asks() {
        // 5, 12, 13 and its turns lie on one circle about 0.
        let on = [p(5, 12), p(-12, 5), p(-5, -12), p(12, -5)];
        for turn in 0..4 {
            let [a, b, c, d] = [0, 1, 2, 3].map(|k| on[(k + turn) % 4]);
            // Farthest east is (12, -5): it is outside, and so is who lies across from it.
            let is_cut_off = d == p(12, -5) || d == p(-12, 5);
            assert_eq!(in_circle(a, b, c, d), !is_cut_off, "{d:?}");
        }
    }

    #[test]
    fn products_of_256_bits_are_right() {
        let parts = |a, b| {
            let w = Wide::product(a, b);
            (w.high, w.low)
        };
        assert_eq!(parts(3, -5), (-1, (-15i128).cast_unsigned()));
        assert_eq!(parts(1 << 100, 1 << 100), (1 << 72, 0));
        assert_eq!(parts(-(1 << 100), 1 << 100), (-(1 << 72), 0));
        // (2^127 - 1)^2 = 2^254 - 2^128 + 1
        assert_eq!(parts(i128::MAX, i128::MAX), ((1 << 126) - 1, 1));
        assert_eq!(parts(0, i128::MIN), (0, 0));
    }
}
