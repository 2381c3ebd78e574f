//! Lines cut down to the parts that can show in the result: the side of a piece where the piece
//! wins, an edge of the surface where no piece does.
//!
//! All cuts leave a margin, so that where exactly they are made is not felt.

use crate::geom::Point;

/// A line goes on by this much beyond the place where it stops to count, lattice units.
const MARGIN_UNITS: f64 = 1.0e6;

/// A stretch of a line, as shares of its length from one end.
pub(super) type Stretch = [f64; 2];

/// The stretch of a line from `a` to `b` inside a counter-clockwise triangle.
pub(super) fn inside([a, b]: [Point; 2], triangle: [Point; 3]) -> Option<Stretch> {
    let [mut from, mut to] = [0.0f64, 1.0f64];
    for k in 0..3 {
        let (c, d) = (triangle[k], triangle[(k + 1) % 3]);
        let (dx, dy) = ((d.x - c.x) as f64, (d.y - c.y) as f64);
        let left = |p: Point| dx * (p.y - c.y) as f64 - dy * (p.x - c.x) as f64;
        let (at_a, at_b) = (left(a), left(b));
        if at_a < 0.0 && at_b < 0.0 {
            return None;
        }
        if at_a < 0.0 {
            from = from.max(at_a / (at_a - at_b));
        } else if at_b < 0.0 {
            to = to.min(at_a / (at_a - at_b));
        }
    }
    (from < to).then_some([from, to])
}

/// The part of a stretch where a linear function with these values at the ends of the line is at
/// least `least`.
pub(super) fn where_at_least([from, to]: Stretch, ends: [f64; 2], least: f64) -> Option<Stretch> {
    let [g0, g1] = ends.map(|g| g - least);
    let at = |t: f64| g0 + t * (g1 - g0);
    match (at(from) >= 0.0, at(to) >= 0.0) {
        (true, true) => Some([from, to]),
        (false, false) => None,
        (is_first, _) => {
            let t = (g0 / (g0 - g1)).clamp(from, to);
            Some(if is_first { [from, t] } else { [t, to] })
        }
    }
}

/// The part of a line that holds a stretch and a margin.
pub(super) fn holding([a, b]: [Point; 2], [from, to]: Stretch) -> [Point; 2] {
    let margin = MARGIN_UNITS / length([a, b]);
    [at([a, b], from - margin), at([a, b], to + margin)]
}

/// What is left of a line without these stretches, a margin kept at their ends.
pub(super) fn without(line: [Point; 2], hidden: &mut [Stretch], mut visit: impl FnMut([Point; 2])) {
    if hidden.is_empty() {
        visit(line);
        return;
    }
    let length = length(line);
    let margin = MARGIN_UNITS / length;
    // Two pieces that share a side find its place with an error of some units.
    let joint = JOINT_UNITS / length;
    hidden.sort_unstable_by(|s, t| s[0].total_cmp(&t[0]));
    let mut from = 0.0f64;
    let mut stretch = hidden[0];
    let mut next = 1;
    loop {
        while next < hidden.len() && hidden[next][0] <= stretch[1] + joint {
            stretch[1] = stretch[1].max(hidden[next][1]);
            next += 1;
        }
        let [start, end] = [
            if stretch[0] <= 0.0 {
                0.0
            } else {
                stretch[0] + margin
            },
            if stretch[1] >= 1.0 {
                1.0
            } else {
                stretch[1] - margin
            },
        ];
        if start < end {
            if start > from {
                visit([at(line, from), at(line, start)]);
            }
            from = end;
        }
        if next == hidden.len() {
            break;
        }
        stretch = hidden[next];
        next += 1;
    }
    if from < 1.0 {
        visit([at(line, from), line[1]]);
    }
}

/// Stretches this close together are one, lattice units.
const JOINT_UNITS: f64 = 8.0;

fn length([a, b]: [Point; 2]) -> f64 {
    ((b.x - a.x) as f64).hypot((b.y - a.y) as f64)
}

/// The place at a share of a line, its ends exactly.
fn at([a, b]: [Point; 2], t: f64) -> Point {
    if t <= 0.0 {
        a
    } else if t >= 1.0 {
        b
    } else {
        Point::new(
            a.x + (t * (b.x - a.x) as f64).round() as i64,
            a.y + (t * (b.y - a.y) as f64).round() as i64,
        )
    }
}
