//! The outermost of many points.

use super::point::{Point, orient_sign};

/// One point in so many is enough to find where nearly all others lie.
const SAMPLED: usize = 64;

/// Columns by which points are told to lie inside.
const COLUMNS: usize = 1024;

/// The corners of the convex hull by number, counter-clockwise from the first in order; points
/// on a straight side are none. Fewer than three if all points lie on one line.
///
/// # Cost
///
/// a look at every point, and O(m log m) for the m that a hull of a sample does not hold
/// # Source
///
/// A. M. Andrew, "Another efficient algorithm for convex hulls in two dimensions", Information
/// Processing Letters 9 (1979), 216-219
pub(crate) fn hull(points: impl Iterator<Item = Point> + Clone) -> Vec<u32> {
    let all = points.zip(0..);
    let inner = chain(all.clone().step_by(SAMPLED).collect());
    let inside = Inside::new(&inner);
    let outer = all.filter(|&(p, _)| !inside.holds(p));
    let corners = chain(inner.iter().copied().chain(outer).collect());
    corners.into_iter().map(|(_, k)| k).collect()
}

fn chain(mut points: Vec<(Point, u32)>) -> Vec<(Point, u32)> {
    points.sort_unstable();
    points.dedup_by_key(|(p, _)| *p);
    let mut hull: Vec<(Point, u32)> = Vec::new();
    let mut half = |points: &mut dyn Iterator<Item = &(Point, u32)>| {
        let from = hull.len();
        for &corner in points {
            while let [.., (a, _), (b, _)] = hull[from..]
                && orient_sign(a, b, corner.0) <= 0
            {
                hull.pop();
            }
            hull.push(corner);
        }
        // The end is the beginning of the other half.
        hull.pop();
    };
    half(&mut points.iter());
    half(&mut points.iter().rev());
    hull
}

/// By columns: between which northings everything lies in a hull.
struct Inside {
    from: i64,
    width: i64,
    between: Vec<[i64; 2]>,
}

impl Inside {
    fn new(hull: &[(Point, u32)]) -> Inside {
        let hull: Vec<Point> = hull.iter().map(|&(p, _)| p).collect();
        let (Some(first), Some(last)) = (hull.iter().min(), hull.iter().max()) else {
            return Inside {
                from: 0,
                width: 1,
                between: Vec::new(),
            };
        };
        let width = (last.x - first.x) / COLUMNS as i64 + 1;
        let turn = hull.iter().position(|p| p == last).unwrap_or(0);
        let low = &hull[..=turn];
        let high: Vec<Point> = hull[turn..].iter().chain([first]).rev().copied().collect();
        let columns = (last.x - first.x) / width;
        let between = (0..columns).map(|column| {
            let ends = [column, column + 1].map(|side| first.x + side * width);
            // The hull is convex, so what lies inside at both ends of a column does so between. A
            // micrometre is more than rounding.
            let floor = ends
                .map(|x| height(low, x))
                .into_iter()
                .fold(f64::MIN, f64::max);
            let roof = ends
                .map(|x| height(&high, x))
                .into_iter()
                .fold(f64::MAX, f64::min);
            let slack = 1e3 + (floor.abs() + roof.abs()) * 1e-12;
            [(floor + slack).ceil() as i64, (roof - slack).floor() as i64]
        });
        Inside {
            from: first.x,
            width,
            between: between.collect(),
        }
    }

    fn holds(&self, p: Point) -> bool {
        let column = p.x.saturating_sub(self.from).div_euclid(self.width);
        usize::try_from(column)
            .ok()
            .and_then(|column| self.between.get(column))
            .is_some_and(|[low, high]| (low..=high).contains(&&p.y))
    }
}

/// Northing of a chain from west to east.
fn height(chain: &[Point], x: i64) -> f64 {
    let next = chain.partition_point(|p| p.x < x).clamp(1, chain.len() - 1);
    let (a, b) = (chain[next - 1], chain[next]);
    if a.x == b.x {
        return a.y as f64;
    }
    let part = (x - a.x) as f64 / (b.x - a.x) as f64;
    a.y as f64 + part * (b.y - a.y) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_point_lies_on_the_left_of_every_side() {
        let mut bits = 88_172_645_463_325_252u64;
        let mut below = |end: u64| {
            bits ^= bits << 13;
            bits ^= bits >> 7;
            bits ^= bits << 17;
            (bits % end) as i64
        };
        for (n, side) in [(5, 4), (400, 30), (30_000, 1 << 20), (30_000, 1 << 40)] {
            for shear in [0, 1, -3] {
                let points: Vec<Point> = (0..n)
                    .map(|_| (below(side), below(side)))
                    .map(|(x, y)| Point::new(x, y + shear * x))
                    .collect();
                let hull: Vec<Point> = hull(points.iter().copied())
                    .into_iter()
                    .map(|k| points[k as usize])
                    .collect();
                for (k, &a) in hull.iter().enumerate() {
                    let b = hull[(k + 1) % hull.len()];
                    let c = hull[(k + 2) % hull.len()];
                    assert_eq!(orient_sign(a, b, c), 1);
                    assert!(points.iter().all(|&p| orient_sign(a, b, p) >= 0));
                }
            }
        }
    }

    #[test]
    fn few_points_and_points_in_line() {
        let line: Vec<Point> = (0..500).map(|k| Point::new(2 * k, k)).collect();
        for n in [0, 1, 2, 3, 500] {
            let hull = hull(line[..n].iter().copied());
            assert!(hull.len() < 3);
        }
        let upright = (0..500).map(|k| Point::new(7, k));
        assert!(hull(upright.clone()).len() < 3);
        assert_eq!(hull(upright.chain([Point::new(8, 3)])).len(), 3);
    }
}
