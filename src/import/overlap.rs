//! Whether faces lie over each other in plan, exactly.
//!
//! Two triangles have no inside in common if and only if a line along a side of one of them has
//! the other on its outer side; with exact orientation that decides. Pairs are found by the
//! cells of a grid that both reach into.

use crate::geom::{P3, Point, orient_sign};

/// What was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Overlap {
    /// No two faces lie over each other.
    None,
    /// These two do.
    Pair(usize, usize),
    /// Faces lie so that holding each against its neighbours would take too long; at least no
    /// two lie on the same side of an edge they share.
    NotSure,
}

/// Most cells of the grid that faces are entered in, for each face on average. A surface as
/// people measure it takes about four; only long faces side by side all over it take many.
const MAX_ENTRIES: usize = 64;

/// Most pairs that are looked at, for each face on average.
const MAX_PAIRS: usize = 1024;

/// Looks for two faces that lie over each other.
///
/// # Input
///
/// counter-clockwise triangles
/// # Cost
///
/// that of the pairs near each other; bounded by [`MAX_ENTRIES`] and [`MAX_PAIRS`]
pub(super) fn overlap(vertices: &[P3], triangles: &[[u32; 3]]) -> Overlap {
    if let Some((one, other)) = same_side(triangles) {
        return Overlap::Pair(one, other);
    }
    let plan = |t: usize| triangles[t].map(|v| vertices[v as usize].p);
    let Some(grid) = Grid::over(vertices, triangles.len()) else {
        return Overlap::None;
    };
    let mut entries: Vec<(u32, u32)> = Vec::with_capacity(triangles.len() * 4);
    for t in 0..triangles.len() {
        grid.cells(plan(t), |cell| entries.push((cell, t as u32)));
        if entries.len() > triangles.len().max(64) * MAX_ENTRIES {
            return Overlap::NotSure;
        }
    }
    entries.sort_unstable();
    let mut pairs = 0;
    for cell in entries.chunk_by(|a, b| a.0 == b.0) {
        pairs += cell.len() * (cell.len() - 1) / 2;
        if pairs > triangles.len().max(64) * MAX_PAIRS {
            return Overlap::NotSure;
        }
        for (k, &(_, one)) in cell.iter().enumerate() {
            let a = plan(one as usize);
            for &(_, other) in &cell[k + 1..] {
                let b = plan(other as usize);
                if boxes_meet(a, b) && !is_apart(a, b) && !is_apart(b, a) {
                    return Overlap::Pair(one as usize, other as usize);
                }
            }
        }
    }
    Overlap::None
}

/// Two triangles on the same side of an edge they share.
fn same_side(triangles: &[[u32; 3]]) -> Option<(usize, usize)> {
    let mut edges: Vec<(u32, u32, u32)> = triangles
        .iter()
        .zip(0u32..)
        .flat_map(|(&[a, b, c], t)| [(a, b, t), (b, c, t), (c, a, t)])
        .collect();
    edges.sort_unstable();
    let two = edges
        .windows(2)
        .find(|two| (two[0].0, two[0].1) == (two[1].0, two[1].1))?;
    Some((two[0].2 as usize, two[1].2 as usize))
}

fn boxes_meet(a: [Point; 3], b: [Point; 3]) -> bool {
    let [al, ah] = corners(a);
    let [bl, bh] = corners(b);
    al.x < bh.x && bl.x < ah.x && al.y < bh.y && bl.y < ah.y
}

/// South-west and north-east corner of the box round a triangle.
fn corners([a, b, c]: [Point; 3]) -> [Point; 2] {
    [
        Point::new(a.x.min(b.x).min(c.x), a.y.min(b.y).min(c.y)),
        Point::new(a.x.max(b.x).max(c.x), a.y.max(b.y).max(c.y)),
    ]
}

/// True if a side of `a` has all of `b` on its outer side.
fn is_apart(a: [Point; 3], b: [Point; 3]) -> bool {
    (0..3).any(|k| {
        let (from, to) = (a[k], a[(k + 1) % 3]);
        b.iter().all(|&p| orient_sign(from, to, p) <= 0)
    })
}

/// Square cells over all vertices.
struct Grid {
    low: Point,
    size: i64,
    columns: i64,
}

impl Grid {
    /// About one cell for each face.
    fn over(vertices: &[P3], faces: usize) -> Option<Grid> {
        let first = vertices.first()?.p;
        let (low, high) = vertices.iter().fold((first, first), |(low, high), v| {
            (
                Point::new(low.x.min(v.p.x), low.y.min(v.p.y)),
                Point::new(high.x.max(v.p.x), high.y.max(v.p.y)),
            )
        });
        let (wide, tall) = ((high.x - low.x) as f64, (high.y - low.y) as f64);
        let share = (wide * tall / faces.max(1) as f64).sqrt();
        // No more than 2^15 columns or rows, so that a cell has a number of 32 bits.
        let size = share
            .max(wide / 32_000.0)
            .max(tall / 32_000.0)
            .ceil()
            .max(1.0) as i64;
        Some(Grid {
            low,
            size,
            columns: (high.x - low.x) / size + 1,
        })
    }

    /// The cells that a triangle reaches into, row by row: those between its sides there, and
    /// one more on either side for what rounding may hide.
    fn cells(&self, triangle: [Point; 3], mut visit: impl FnMut(u32)) {
        let [low, high] = corners(triangle);
        let row = |y: i64| (y - self.low.y) / self.size;
        let column = |x: f64| ((x - self.low.x as f64) / self.size as f64).floor() as i64;
        for r in row(low.y)..=row(high.y) {
            let south = (self.low.y + r * self.size) as f64;
            let north = south + self.size as f64;
            let (mut west, mut east) = (f64::INFINITY, f64::NEG_INFINITY);
            for k in 0..3 {
                let (a, b) = (triangle[k], triangle[(k + 1) % 3]);
                let (a, b) = if a.y <= b.y { (a, b) } else { (b, a) };
                if (b.y as f64) < south || (a.y as f64) > north {
                    continue;
                }
                let rise = (b.y - a.y) as f64;
                for y in [south, north] {
                    let t = if rise > 0.0 {
                        ((y - a.y as f64) / rise).clamp(0.0, 1.0)
                    } else {
                        0.0
                    };
                    let x = a.x as f64 + t * (b.x - a.x) as f64;
                    west = west.min(x);
                    east = east.max(x);
                }
                if rise == 0.0 {
                    east = east.max(b.x as f64);
                    west = west.min(b.x as f64);
                }
            }
            // A share of a cell covers the rounding of places.
            let slack = self.size as f64 * 1.0e-6 + 2.0;
            let first = column(west - slack).max(0);
            let last = column(east + slack).min(self.columns - 1);
            for c in first..=last {
                visit((r * self.columns + c) as u32);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(x: i64, y: i64) -> P3 {
        P3 {
            p: Point::new(x, y),
            z: 0.0,
        }
    }

    #[test]
    fn neighbours_touch_and_do_not_overlap() {
        let vertices = [at(0, 0), at(100, 0), at(100, 100), at(0, 100), at(50, 0)];
        let square = [[0, 1, 2], [0, 2, 3]];
        assert_eq!(overlap(&vertices, &square), Overlap::None);
        // A corner on the inside of a neighbour's side.
        let t = [[0, 4, 3], [4, 1, 3], [1, 2, 3]];
        assert_eq!(overlap(&vertices, &t), Overlap::None);
        assert_eq!(overlap(&vertices, &[]), Overlap::None);
        // The same face twice, and two over the same edge.
        let twice = [[0, 1, 2], [1, 2, 0]];
        assert_eq!(overlap(&vertices, &twice), Overlap::Pair(0, 1));
        let over = [[0, 1, 2], [0, 1, 3]];
        assert_eq!(overlap(&vertices, &over), Overlap::Pair(0, 1));
    }

    #[test]
    fn a_face_inside_another_and_a_star_are_found() {
        let vertices = [
            at(0, 0),
            at(900, 0),
            at(0, 900),
            at(100, 100),
            at(200, 100),
            at(100, 200),
            at(500, -10),
            at(510, -10),
            at(500, 1000),
        ];
        let inside = [[0, 1, 2], [3, 4, 5]];
        assert_eq!(overlap(&vertices, &inside), Overlap::Pair(0, 1));
        let star = [[0, 1, 2], [6, 7, 8]];
        assert_eq!(overlap(&vertices, &star), Overlap::Pair(0, 1));
        let apart = [[3, 4, 5], [6, 7, 8]];
        assert_eq!(overlap(&vertices, &apart), Overlap::None);
    }

    #[test]
    fn what_would_take_too_long_is_not_sure() {
        // Long narrow faces side by side, slanted: each reaches into as many cells as there are
        // rows and columns of cells.
        let (count, far) = (8000, 32_000);
        let vertices: Vec<P3> = (0..count)
            .flat_map(|k| [at(4 * k, 0), at(4 * k + 2, 0), at(4 * k + far, far)])
            .collect();
        let triangles: Vec<[u32; 3]> = (0..count as u32)
            .map(|k| [3 * k, 3 * k + 1, 3 * k + 2])
            .collect();
        assert_eq!(overlap(&vertices, &triangles), Overlap::NotSure);
        // Few of them are held against each other.
        assert_eq!(overlap(&vertices[..300], &triangles[..100]), Overlap::None);
    }
}
