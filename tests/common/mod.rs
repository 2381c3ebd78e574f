//! Helpers shared by the tests: a seeded generator, made grounds, an oracle for heights.
#![allow(dead_code, missing_docs, unreachable_pub)]

use cutbank::geom::{P3, Point, orient_sign, triangulate};
use cutbank::surface::Surface;

/// A small seeded generator (splitmix64), so that every run sees the same numbers.
///
/// Source: S. Vigna, "Further scramblings of Marsaglia's xorshift generators" (2017), which
/// gives splitmix64 as seeding generator.
#[derive(Clone)]
pub struct Random(pub u64);

impl Random {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    pub fn below(&mut self, n: u64) -> u64 {
        self.next() % n.max(1)
    }

    /// Evenly in `low..high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }
}

/// A surface over the Delaunay triangulation of points; doubled places keep the first height.
pub fn surface(points: &[P3], label: u32) -> Surface {
    let mut points = points.to_vec();
    let mut seen = std::collections::BTreeSet::new();
    points.retain(|p| seen.insert(p.p));
    let plan: Vec<Point> = points.iter().map(|p| p.p).collect();
    let t = triangulate(&plan, &[]).unwrap();
    Surface::from_triangles(points, &t.triangles, label).unwrap()
}

/// Height of a surface at a place, by trying every facet: the oracle.
pub fn slow_z(surface: &Surface, p: Point) -> Option<f64> {
    surface
        .facets()
        .find_map(|f| height_in(surface.corners(f), p))
}

/// Height in a triangle, barycentric; `None` outside.
pub fn height_in(corners: [P3; 3], p: Point) -> Option<f64> {
    let [a, b, c] = corners;
    let inside = orient_sign(a.p, b.p, p) >= 0
        && orient_sign(b.p, c.p, p) >= 0
        && orient_sign(c.p, a.p, p) >= 0;
    inside.then(|| {
        let [bx, by] = b.p.relative_m(a.p);
        let [cx, cy] = c.p.relative_m(a.p);
        let [x, y] = p.relative_m(a.p);
        let det = bx * cy - cx * by;
        let (u, v) = ((x * cy - cx * y) / det, (bx * y - x * by) / det);
        a.z + u * (b.z - a.z) + v * (c.z - a.z)
    })
}

/// A level quadrangle ground or one tilted: `z = z0 + gx x + gy y` over a square.
pub fn plane_ground(z0: f64, gx: f64, gy: f64, low: f64, high: f64) -> Surface {
    let corner = |x: f64, y: f64| P3 {
        p: Point::from_m(x, y),
        z: z0 + gx * x + gy * y,
    };
    surface(
        &[
            corner(low, low),
            corner(high, low),
            corner(high, high),
            corner(low, high),
        ],
        0,
    )
}
