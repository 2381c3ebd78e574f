//! Points of the lattice and the one predicate everything rests on.

use crate::units::NM_PER_M;

/// A plan position: whole nanometres east and north of a local origin.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Point {
    /// East, nanometres.
    pub x: i64,
    /// North, nanometres.
    pub y: i64,
}

impl Point {
    /// A point from whole nanometres.
    pub const fn new(x: i64, y: i64) -> Point {
        Point { x, y }
    }

    /// The lattice point nearest to a position in metres.
    pub fn from_m(x_m: f64, y_m: f64) -> Point {
        Point {
            x: (x_m * NM_PER_M).round() as i64,
            y: (y_m * NM_PER_M).round() as i64,
        }
    }

    /// East, metres.
    pub fn x_m(self) -> f64 {
        self.x as f64 / NM_PER_M
    }

    /// North, metres.
    pub fn y_m(self) -> f64 {
        self.y as f64 / NM_PER_M
    }

    /// Position in metres relative to `from`; exact differences, rounded once.
    pub fn relative_m(self, from: Point) -> [f64; 2] {
        [
            (self.x - from.x) as f64 / NM_PER_M,
            (self.y - from.y) as f64 / NM_PER_M,
        ]
    }
}

/// A point with a height in metres.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct P3 {
    /// Plan position.
    pub p: Point,
    /// Height, metres.
    pub z: f64,
}

/// Twice the signed area of `a b c` in square nanometres, exactly; positive when counter-clockwise.
pub fn orient(a: Point, b: Point, c: Point) -> i128 {
    let (abx, aby) = (i128::from(b.x - a.x), i128::from(b.y - a.y));
    let (acx, acy) = (i128::from(c.x - a.x), i128::from(c.y - a.y));
    abx * acy - aby * acx
}

/// Sign of [`orient`]: 1, 0 or -1.
pub fn orient_sign(a: Point, b: Point, c: Point) -> i32 {
    let (abx, aby) = (b.x - a.x, b.y - a.y);
    let (acx, acy) = (c.x - a.x, c.y - a.y);
    // Filter: the rounding of two products and one difference stays below 4 ulp of the larger.
    let (left, right) = (abx as f64 * acy as f64, aby as f64 * acx as f64);
    let det = left - right;
    let bound = (left.abs() + right.abs()) * 1.0e-15;
    if det > bound {
        1
    } else if det < -bound {
        -1
    } else {
        let det = i128::from(abx) * i128::from(acy) - i128::from(aby) * i128::from(acx);
        det.signum() as i32
    }
}

/// Distance in plan, metres.
pub fn distance_m(a: Point, b: Point) -> f64 {
    let [dx, dy] = b.relative_m(a);
    dx.hypot(dy)
}

/// The nearest of eight compass words for a direction east and north.
pub fn compass([x, y]: [f64; 2]) -> &'static str {
    const WORDS: [&str; 8] = [
        "east",
        "north-east",
        "north",
        "north-west",
        "west",
        "south-west",
        "south",
        "south-east",
    ];
    let eighth = (y.atan2(x) / std::f64::consts::FRAC_PI_4).round() as i64;
    WORDS[eighth.rem_euclid(8) as usize]
}
