//! How much of every facet lies within an area.

use std::collections::BTreeMap;

use super::clip::Polygon;
use super::overlay::Within;
use super::surface::Surface;
use crate::geom::Point;

impl Surface {
    /// Plan area of every facet that lies within an area, m2, by facet; facets of none are left
    /// out.
    pub fn shares_within(&self, within: &Within) -> Vec<(u32, f64)> {
        let mut shares: BTreeMap<u32, f64> = BTreeMap::new();
        for triangle in &within.0 {
            let [x, y] = [|p: &Point| p.x, |p: &Point| p.y];
            let low = |of: fn(&Point) -> i64| triangle.iter().map(of).min().unwrap_or(0);
            let high = |of: fn(&Point) -> i64| triangle.iter().map(of).max().unwrap_or(0);
            let base = triangle[0];
            let local = |corners: [Point; 3]| corners.map(|p| p.relative_m(base));
            let second = local(*triangle);
            for f in self.facets_in(Point::new(low(x), low(y)), Point::new(high(x), high(y))) {
                let first = local(self.corners(f).map(|c| c.p));
                let area = Polygon::common(first, second).area();
                if area > 0.0 {
                    *shares.entry(f).or_default() += area;
                }
            }
        }
        shares.into_iter().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::P3;

    #[test]
    fn shares_add_up() {
        // A square of 10 m in two facets; the area is a triangle across both.
        let corner = |x, y| P3 {
            p: Point::from_m(x, y),
            z: 0.0,
        };
        let vertices = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)];
        let vertices = vertices.map(|(x, y)| corner(x, y)).to_vec();
        let surface =
            Surface::from_triangles(vertices, &[[0, 1, 2], [0, 2, 3]], 0).expect("two facets");
        let area = [(0.0, 0.0), (4.0, 0.0), (0.0, 4.0)].map(|(x, y)| Point::from_m(x, y));
        let shares = surface.shares_within(&Within(vec![area]));
        // The diagonal halves it.
        assert_eq!(shares.len(), 2);
        for (_, share) in shares {
            assert!((share - 4.0).abs() < 1e-12, "{share}");
        }
    }
}
