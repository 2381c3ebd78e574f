//! The common part of two triangles, and integrals of a linear difference over it.

/// A convex polygon of up to nine corners, with the origin of each side.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Polygon {
    len: usize,
    corners: [[f64; 2]; 9],
    /// `sides[i]` runs from corner `i` to corner `i + 1`: 0 to 2 a side of the first triangle,
    /// 3 to 5 a side of the second.
    sides: [u8; 9],
}

impl Polygon {
    pub(super) fn triangle(corners: [[f64; 2]; 3]) -> Polygon {
        let mut all = [[0.0; 2]; 9];
        all[..3].copy_from_slice(&corners);
        Polygon {
            len: 3,
            corners: all,
            sides: [0, 1, 2, 0, 0, 0, 0, 0, 0],
        }
    }

    pub(super) fn corners(&self) -> &[[f64; 2]] {
        &self.corners[..self.len]
    }

    pub(super) fn sides(&self) -> &[u8] {
        &self.sides[..self.len]
    }

    fn push(&mut self, corner: [f64; 2], side: u8) {
        if self.len < 9 {
            self.corners[self.len] = corner;
            self.sides[self.len] = side;
            self.len += 1;
        }
    }

    /// Keeps what lies left of the line from `a` to `b`.
    fn keep_left(&self, a: [f64; 2], b: [f64; 2], tag: u8) -> Polygon {
        let side = |p: [f64; 2]| side(a, b, p);
        let mut out = Polygon {
            len: 0,
            corners: [[0.0; 2]; 9],
            sides: [0; 9],
        };
        for i in 0..self.len {
            let j = if i + 1 == self.len { 0 } else { i + 1 };
            let (p, q) = (self.corners[i], self.corners[j]);
            let (sp, sq) = (side(p), side(q));
            if sp >= 0.0 {
                out.push(p, self.sides[i]);
                if sq < 0.0 {
                    // Leaves: the new side runs along the line.
                    out.push(between(p, q, sp, sq), tag);
                }
            } else if sq > 0.0 {
                out.push(between(p, q, sp, sq), self.sides[i]);
            }
        }
        // A corner exactly on the line, left at once, leaves the tag of the old side behind it;
        // the side that follows it lies on the line.
        for i in 0..out.len {
            let j = if i + 1 == out.len { 0 } else { i + 1 };
            if side(out.corners[i]) == 0.0 && side(out.corners[j]) == 0.0 {
                out.sides[i] = tag;
            }
        }
        out
    }

    /// The common part of two counter-clockwise triangles; empty if it has no area.
    pub(super) fn common(first: [[f64; 2]; 3], second: [[f64; 2]; 3]) -> Polygon {
        let mut polygon = Polygon::triangle(first);
        for k in 0..3 {
            polygon = polygon.keep_left(second[k], second[(k + 1) % 3], 3 + k as u8);
            if polygon.len < 3 {
                polygon.len = 0;
                break;
            }
        }
        polygon
    }

    /// Becomes the common part of two counter-clockwise triangles in less time; origins of sides
    /// are lost.
    pub(super) fn overlap(&mut self, first: [[f64; 2]; 3], second: [[f64; 2]; 3]) {
        self.len = 0;
        // A side that has all of the other triangle on its right parts them.
        let [p, q, r] = first;
        let mut cuts = [false; 3];
        for k in 0..3 {
            let (a, b) = (second[k], second[(k + 1) % 3]);
            let (p, q, r) = (side(a, b, p), side(a, b, q), side(a, b, r));
            cuts[k] = (p < 0.0) | (q < 0.0) | (r < 0.0);
            if (p <= 0.0) & (q <= 0.0) & (r <= 0.0) {
                return;
            }
        }
        let [p, q, r] = second;
        for k in 0..3 {
            let (a, b) = (first[k], first[(k + 1) % 3]);
            if (side(a, b, p) <= 0.0) & (side(a, b, q) <= 0.0) & (side(a, b, r) <= 0.0) {
                return;
            }
        }
        self.len = 3;
        self.corners[..3].copy_from_slice(&first);
        for k in 0..3 {
            if cuts[k] {
                self.cut(second[k], second[(k + 1) % 3]);
            }
        }
    }

    /// The common part with another counter-clockwise triangle; origins of sides are lost.
    pub(super) fn within(&self, triangle: [[f64; 2]; 3]) -> Polygon {
        let mut polygon = *self;
        for k in 0..3 {
            polygon.cut(triangle[k], triangle[(k + 1) % 3]);
        }
        polygon
    }

    /// Keeps what lies left of the line from `a` to `b`; origins of sides are lost.
    fn cut(&mut self, a: [f64; 2], b: [f64; 2]) {
        let (before, count) = (self.corners, self.len);
        let mut sides = [0.0; 9];
        for k in 0..count {
            sides[k] = side(a, b, before[k]);
        }
        let Some(last) = count.checked_sub(1) else {
            return;
        };
        self.len = 0;
        let (mut p, mut sp) = (before[last], sides[last]);
        for k in 0..count {
            let (q, sq) = (before[k], sides[k]);
            if (sp < 0.0 && sq > 0.0) || (sp > 0.0 && sq < 0.0) {
                self.push(between(p, q, sp, sq), 0);
            }
            if sq >= 0.0 {
                self.push(q, 0);
            }
            (p, sp) = (q, sq);
        }
        if self.len < 3 {
            self.len = 0;
        }
    }

    pub(super) fn area(&self) -> f64 {
        let c = self.corners();
        (2..self.len)
            .map(|i| half_cross(c[0], c[i - 1], c[i]))
            .sum()
    }

    /// Integrals of the positive and of the negative part (both counted positive) of a linear
    /// function with these values at the corners, and the areas they cover.
    pub(super) fn parts(&self, values: &[f64; 9]) -> Parts {
        let c = self.corners();
        let mut parts = Parts::default();
        for i in 2..self.len {
            let area = half_cross(c[0], c[i - 1], c[i]);
            if area > 0.0 {
                parts.add_triangle(area, [values[0], values[i - 1], values[i]]);
            }
        }
        parts
    }
}

/// Positive where a place lies left of the line from `a` to `b`.
fn side(a: [f64; 2], b: [f64; 2], p: [f64; 2]) -> f64 {
    (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
}

fn between(p: [f64; 2], q: [f64; 2], sp: f64, sq: f64) -> [f64; 2] {
    // From the nearer end, so that both triangles find the same corner closely.
    let t = sp / (sp - sq);
    if t <= 0.5 {
        [p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])]
    } else {
        let u = sq / (sq - sp);
        [q[0] + u * (p[0] - q[0]), q[1] + u * (p[1] - q[1])]
    }
}

fn half_cross(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> f64 {
    0.5 * ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))
}

/// Positive and negative part of an integral, with the areas they cover.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Parts {
    pub(super) above: f64,
    pub(super) below: f64,
    pub(super) above_area: f64,
    pub(super) below_area: f64,
}

impl Parts {
    /// A constant over an area.
    pub(super) fn level(area: f64, value: f64) -> Parts {
        let mut parts = Parts::default();
        parts.add_triangle(area, [value; 3]);
        parts
    }

    /// Adds a triangle with these values at its corners.
    ///
    /// A triangle crossed by the zero line is split there: the corner that stands alone carries
    /// a pyramid of volume `area / 3 * a^3 / ((a - b) (a - c))`.
    fn add_triangle(&mut self, area: f64, values: [f64; 3]) {
        let [a, b, c] = values;
        let total = area * (a + b + c) / 3.0;
        if a >= 0.0 && b >= 0.0 && c >= 0.0 {
            if total > 0.0 {
                self.above += total;
                self.above_area += area;
            }
            return;
        }
        if a <= 0.0 && b <= 0.0 && c <= 0.0 {
            self.below -= total;
            self.below_area += area;
            return;
        }
        // Turn so that `a` is the corner with a sign of its own.
        let (a, b, c) = if (a > 0.0) == (b > 0.0) {
            (c, a, b)
        } else if (a > 0.0) == (c > 0.0) {
            (b, c, a)
        } else {
            (a, b, c)
        };
        let (u, v) = (a / (a - b), a / (a - c));
        let tip_area = area * u * v;
        let tip = tip_area * a.abs() / 3.0;
        // The rest is a quadrangle of two triangles with a corner or two on the zero line: a sum
        // of terms of one sign, so nothing cancels.
        let rest_area = area * ((1.0 - u) + u * (1.0 - v));
        let rest = area * ((1.0 - u) * (b.abs() + c.abs()) + u * (1.0 - v) * c.abs()) / 3.0;
        if a > 0.0 {
            self.above += tip;
            self.above_area += tip_area;
            self.below += rest;
            self.below_area += rest_area;
        } else {
            self.below += tip;
            self.below_area += tip_area;
            self.above += rest;
            self.above_area += rest_area;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn prisms_split_at_the_zero_line() {
        // Closed form of the one-corner pyramid; published check values TIN-05 to TIN-07.
        for (depths, cut, fill) in [
            ([1.2, 0.6, 0.3], 35.0, 0.0),
            ([2.0, -1.0, -1.0], 14.814_814_814_8, 14.814_814_814_8),
            ([1.2, 0.6, -0.9], 18.857_142_857_1, 3.857_142_857_1),
        ] {
            let t = Polygon::triangle([[0.0, 0.0], [10.0, 0.0], [0.0, 10.0]]);
            for turn in 0..3 {
                let mut values = [0.0; 9];
                for k in 0..3 {
                    values[k] = depths[(k + turn) % 3];
                }
                let parts = t.parts(&values);
                assert_relative_eq!(parts.above, cut, max_relative = 1e-10);
                assert_relative_eq!(parts.below, fill, max_relative = 1e-10);
                assert_relative_eq!(
                    parts.above_area + parts.below_area,
                    50.0,
                    max_relative = 1e-14
                );
            }
        }
    }

    #[test]
    fn common_part_of_two_triangles() {
        let a = [[0.0, 0.0], [4.0, 0.0], [0.0, 4.0]];
        let b = [[1.0, -1.0], [5.0, 3.0], [1.0, 3.0]];
        let common = Polygon::common(a, b);
        assert_relative_eq!(common.area(), 4.0 - 0.5, max_relative = 1e-15);
        assert_eq!(
            Polygon::common(a, [[10.0, 0.0], [11.0, 0.0], [10.0, 1.0]]).area(),
            0.0
        );
    }
}
