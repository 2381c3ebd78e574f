//! Sides of facets in stretches: what becomes of water that runs in over each.
//!
//! On a facet water runs in parallel lines, so a stretch of a side it leaves over is a stretch of
//! the side it came in over, and the strip between them has an area in closed form.

/// A stretch up to a place along a side, with a label.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Stretch {
    /// Where it ends: a share of the side, or a distance beside the fall.
    pub(super) end: f64,
    pub(super) label: u32,
}

/// Adds a stretch; a longer one if the label is that of the last.
pub(super) fn push(stretches: &mut Vec<Stretch>, end: f64, label: u32) {
    match stretches.last_mut() {
        Some(last) if last.label == label || last.end >= end => {
            last.end = last.end.max(end);
        }
        _ => stretches.push(Stretch { end, label }),
    }
}

/// The share of a triangle's area that lies between its corner farthest right and a line along
/// the fall, `at` to the left; `beside` are the corners' distances.
///
/// Its width across the fall grows evenly from one outer corner to the middle one and shrinks
/// evenly to the other.
pub(super) fn share_up_to(mut beside: [f64; 3], at: f64) -> f64 {
    beside.sort_unstable_by(f64::total_cmp);
    let [right, middle, left] = beside;
    let whole = left - right;
    if at <= right || whole <= 0.0 {
        0.0
    } else if at >= left {
        1.0
    } else if at <= middle {
        (at - right) / whole * ((at - right) / (middle - right))
    } else {
        1.0 - (left - at) / whole * ((left - at) / (left - middle))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_of_a_triangle() {
        // The triangle (0,0), (4,0), (1,3) parted along x = 1 and x = 2: areas 1.5, then
        // 1.5 + (3 + 2) / 2 of 6.
        let beside = [0.0, 4.0, 1.0];
        assert!((share_up_to(beside, 1.0) - 1.5 / 6.0).abs() < 1e-15);
        assert!((share_up_to(beside, 2.0) - 4.0 / 6.0).abs() < 1e-15);
        assert_eq!(share_up_to(beside, -1.0), 0.0);
        assert_eq!(share_up_to(beside, 5.0), 1.0);
    }
}
