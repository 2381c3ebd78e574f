//! Delaunay triangulation of many points without lines between them.

use super::cdt::Triangulation;
use super::hilbert::{along_hilbert, scattered};
use super::mesh::{Mesh, Spot};
use super::point::{Point, orient_sign};

/// Points are put in by rounds, each some eight times as large as the one before.
const ROUNDS: u32 = 10;

/// Bits of the curve in each direction: rounds and curve fill a word.
const CURVE_BITS: u32 = 30;

/// Triangulates the hull of points; `None` if two are at one place. Fewer than three points, or
/// all on a line, give no triangles.
///
/// There is one answer for every set of points (see [`super::circle::in_circle`]); the order of
/// the triangles depends on the order of the points as well, and on nothing else.
///
/// # Cost
///
/// O(n log n); 68 bytes a point at most, the 48 of the answer among them
/// # Source
///
/// order of the points: N. Amenta, S. Choi, G. Rote, "Incremental constructions con BRIO", SCG
/// (2003), 211-219, each round along Hilbert's curve; [`Mesh`] for the rest
pub(super) fn delaunay(points: &[Point]) -> Option<Triangulation> {
    let mut order = order(points);
    let at = |v: u32| points[v as usize];
    let Some(third) = first_off_line(points, &order) else {
        let mut sorted = points.to_vec();
        sorted.sort_unstable();
        let is_twice = sorted.windows(2).any(|pair| pair[0] == pair[1]);
        return (!is_twice).then(Triangulation::default);
    };
    order[2..=third].rotate_right(1);
    let mut mesh = Mesh::new(&at, [order[0], order[1], order[2]], points.len());
    let mut near = 0;
    for &v in &order[3..] {
        near = match mesh.locate(&at, at(v), near) {
            Spot::In(t) if mesh.corners(t).iter().any(|&c| at(c) == at(v)) => return None,
            Spot::In(t) | Spot::Beyond(t) => mesh.insert_in(&at, v, t),
        };
    }
    drop(order);
    let (triangles, neighbours) = mesh.into_triangles(Triangulation::NONE);
    Some(Triangulation {
        triangles,
        neighbours,
    })
}

/// The place in the order of the first point off the line through the first two.
fn first_off_line(points: &[Point], order: &[u32]) -> Option<usize> {
    let [a, b] = [*order.first()?, *order.get(1)?].map(|v| points[v as usize]);
    (2..order.len()).find(|&k| orient_sign(a, b, points[order[k] as usize]) != 0)
}

/// The order in which points are put in.
fn order(points: &[Point]) -> Vec<u32> {
    let mut low = Point::new(i64::MAX, i64::MAX);
    let mut high = Point::new(i64::MIN, i64::MIN);
    for p in points {
        low = Point::new(low.x.min(p.x), low.y.min(p.y));
        high = Point::new(high.x.max(p.x), high.y.max(p.y));
    }
    let side = high.x.abs_diff(low.x).max(high.y.abs_diff(low.y));
    let shift = (u64::BITS - side.leading_zeros()).saturating_sub(CURVE_BITS);
    let cell = |from: i64, to: i64| (to.abs_diff(from) >> shift) as u32;
    let mut keyed: Vec<(u64, u32)> = points
        .iter()
        .zip(0..)
        .map(|(p, v)| {
            let along = along_hilbert(cell(low.x, p.x), cell(low.y, p.y), CURVE_BITS);
            (round_of(v) << (2 * CURVE_BITS) | along, v)
        })
        .collect();
    keyed.sort_unstable();
    keyed.into_iter().map(|(_, v)| v).collect()
}

/// The round in which a point is put in: the last one for seven of eight, the one before for
/// seven of eight of the others, and so on.
fn round_of(v: u32) -> u64 {
    let bits = scattered(u64::from(v).wrapping_add(0x9E37_79B9_7F4A_7C15));
    u64::from(ROUNDS.saturating_sub(1 + bits.trailing_zeros() / 3))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::cdt::triangulate_with_spade;

    /// A seeded generator (xorshift, G. Marsaglia, "Xorshift RNGs", Journal of Statistical
    /// Software 8 (2003), 14).
    struct Random(u64);

    impl Random {
        fn below(&mut self, end: i64) -> i64 {
            self.0 ^= self.0 << 13;
            self.0 ^= self.0 >> 7;
            self.0 ^= self.0 << 17;
            (self.0 % end.cast_unsigned()).cast_signed()
        }
    }

    fn distinct(mut points: Vec<Point>) -> Vec<Point> {
        points.sort_unstable();
        points.dedup();
        // Sorted points would hide what depends on their order.
        let mut random = Random(11);
        for k in (1..points.len()).rev() {
            points.swap(k, random.below(k as i64 + 1) as usize);
        }
        points
    }

    fn spread(n: usize, side: i64) -> Vec<Point> {
        let mut random = Random(42);
        distinct(
            (0..n)
                .map(|_| Point::new(random.below(side), random.below(side)))
                .collect(),
        )
    }

    /// Triangles as sets of places, each beginning with its first, in order.
    fn as_set(points: &[Point], t: &Triangulation) -> Vec<[Point; 3]> {
        let mut all: Vec<[Point; 3]> = t
            .triangles
            .iter()
            .map(|v| {
                let mut corners = v.map(|k| points[k as usize]);
                while corners[0] != *corners.iter().min().unwrap() {
                    corners.rotate_left(1);
                }
                corners
            })
            .collect();
        all.sort_unstable();
        all
    }

    /// Counter-clockwise, linked both ways, no point in a circle, and as many as Euler says.
    fn check(points: &[Point]) -> Triangulation {
        let t = delaunay(points).unwrap();
        let mut rim = 0;
        for (k, v) in t.triangles.iter().enumerate() {
            let [a, b, c] = v.map(|v| points[v as usize]);
            assert_eq!(orient_sign(a, b, c), 1);
            for side in 0..3 {
                let n = t.neighbours[k][side];
                if n == Triangulation::NONE {
                    rim += 1;
                    continue;
                }
                let (from, to) = (v[side], v[(side + 1) % 3]);
                let other = t.triangles[n as usize];
                let back = (0..3).find(|&j| other[j] == to).unwrap();
                assert_eq!(t.neighbours[n as usize][back], k as u32);
                assert_eq!(other[(back + 1) % 3], from);
                let across = points[other[(back + 2) % 3] as usize];
                assert!(!super::super::circle::in_circle(a, b, c, across));
            }
        }
        if !t.triangles.is_empty() {
            assert_eq!(t.triangles.len() + rim + 2, 2 * points.len());
        }
        t
    }

    #[test]
    fn it_is_the_one_of_another_make_where_there_is_only_one() {
        for (n, side) in [
            (3, 100),
            (200, 1 << 20),
            (3_000, 1 << 40),
            (20_000, 1 << 52),
        ] {
            let points = spread(n, side);
            let own = check(&points);
            let other = triangulate_with_spade(&points, &[]).unwrap();
            assert_eq!(as_set(&points, &own), as_set(&points, &other), "{n} {side}");
        }
    }

    #[test]
    fn clusters_and_rows_almost_straight_are_like_any_other() {
        let mut random = Random(5);
        let clusters = (0..4_000).map(|k| {
            let middle = (k % 5) * (1 << 45);
            Point::new(
                middle + random.below(1 << 12),
                middle * 3 % 7 + random.below(1 << 12),
            )
        });
        let clusters = distinct(clusters.collect());
        let mut random = Random(6);
        let rows = (0..4_000).map(|k| {
            Point::new(
                random.below(1 << 40),
                (k % 20) * (1 << 33) + random.below(3),
            )
        });
        let rows = distinct(rows.collect());
        for points in [clusters, rows] {
            check(&points);
        }
    }

    #[test]
    fn the_order_of_points_makes_no_difference_to_the_triangles() {
        // Every square of a grid is a tie, and so are many circles through more than four.
        let grid = distinct((0..2_500).map(|k| Point::new(k % 50, k / 50)).collect());
        let few = spread(2_000, 60);
        for points in [grid, few] {
            let one = check(&points);
            let mut turned = points.clone();
            turned.reverse();
            let other = check(&turned);
            assert_eq!(as_set(&points, &one), as_set(&turned, &other));
            let again = check(&points);
            assert_eq!(one.triangles, again.triangles);
        }
    }

    #[test]
    fn the_diagonal_of_a_square_goes_from_north_west_to_south_east() {
        let square = [[0, 0], [1, 0], [1, 1], [0, 1]].map(|[x, y]| Point::new(x, y));
        let t = delaunay(&square).unwrap();
        assert!(t.triangles.iter().all(|v| v.contains(&1) && v.contains(&3)));
    }

    #[test]
    fn points_in_line_and_at_one_place() {
        let line: Vec<Point> = (0..100).map(|k| Point::new(3 * k, 7 * k)).collect();
        assert!(delaunay(&line).unwrap().triangles.is_empty());
        assert!(delaunay(&line[..1]).unwrap().triangles.is_empty());
        assert!(delaunay(&[]).unwrap().triangles.is_empty());
        assert!(delaunay(&[line[1], line[1]]).is_none());
        let mut fan = line.clone();
        fan.push(Point::new(5, 1000));
        check(&fan);
        for twice in [line[0], line[50], fan[100]] {
            let mut points = fan.clone();
            points.push(twice);
            assert!(delaunay(&points).is_none());
        }
    }
}
