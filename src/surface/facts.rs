//! Plain facts about a surface or some labels of it: areas, heights, slopes, volume above a level.

use super::extreme::{higher, lower};
use super::plane::{Label, Plane};
use super::sum::Sum;
use super::surface::Surface;
use crate::geom::{P3, Point, distance_m};

/// What can be said of a surface by itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Facts {
    /// Vertices that belong to a facet.
    pub points: usize,
    /// Facets.
    pub triangles: usize,
    /// Plan area, square metres.
    pub area_m2: f64,
    /// Area along the slope, square metres.
    pub surface_area_m2: f64,
    /// Lowest height, metres.
    pub min_z_m: f64,
    /// Highest height, metres.
    pub max_z_m: f64,
    /// Mean steepness, weighted by plan area.
    pub mean_slope_rise_per_run: f64,
    /// Steepest facet. Slivers rule this figure; the mean is the useful one.
    pub max_slope_rise_per_run: f64,
}

/// What can be said of the facets with some labels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LabelFacts {
    /// Plan area, square metres.
    pub area_m2: f64,
    /// Area along the slope, square metres.
    pub surface_area_m2: f64,
    /// Length in plan of the edges behind which there is another label or nothing, metres.
    pub perimeter_m: f64,
    /// Lowest corner; of equal ones the one farthest west, then south.
    pub lowest: P3,
    /// Highest corner; of equal ones the one farthest west, then south.
    pub highest: P3,
}

impl Surface {
    /// Facts about facets in `count` groups by label; `None` for a group without facets.
    ///
    /// # Input
    ///
    /// `group` the group of a label, below `count`; `None` for one that counts nowhere
    pub fn facts_by(
        &self,
        count: usize,
        group: impl Fn(Label) -> Option<usize>,
    ) -> Vec<Option<LabelFacts>> {
        let mut sums = vec![[Sum::default(); 3]; count];
        let mut levels: Vec<Option<[P3; 2]>> = vec![None; count];
        for f in self.facets() {
            let Some(own) = group(self.label(f)) else {
                continue;
            };
            let [area, surface_area, perimeter] = &mut sums[own];
            let plan = self.area_m2(f);
            let slope = self.source(f).plane.steepness();
            area.add(plan);
            surface_area.add(plan * (1.0 + slope * slope).sqrt());
            let corners = self.corners(f);
            for (k, n) in self.neighbours(f).into_iter().enumerate() {
                if n == Surface::NONE || group(self.label(n)) != Some(own) {
                    perimeter.add(distance_m(corners[k].p, corners[(k + 1) % 3].p));
                }
            }
            for c in corners {
                let [lowest, highest] = levels[own].get_or_insert([c; 2]);
                *lowest = lower(*lowest, c);
                *highest = higher(*highest, c);
            }
        }
        let groups = sums.into_iter().zip(levels);
        groups
            .map(|([area, surface_area, perimeter], levels)| {
                let [lowest, highest] = levels?;
                Some(LabelFacts {
                    area_m2: area.value(),
                    surface_area_m2: surface_area.value(),
                    perimeter_m: perimeter.value(),
                    lowest,
                    highest,
                })
            })
            .collect()
    }

    /// Facts; `None` for a surface without facets.
    pub fn facts(&self) -> Option<Facts> {
        let (min_z_m, max_z_m) = self.z_range()?;
        let mut used = vec![false; self.vertices().len()];
        let (mut area, mut surface_area, mut slope_area) =
            (Sum::default(), Sum::default(), Sum::default());
        let mut max_slope = 0.0f64;
        for f in self.facets() {
            for v in self.vertex_ids(f) {
                used[v as usize] = true;
            }
            let plan = self.area_m2(f);
            let slope = self.source(f).plane.steepness();
            area.add(plan);
            surface_area.add(plan * (1.0 + slope * slope).sqrt());
            slope_area.add(plan * slope);
            max_slope = max_slope.max(slope);
        }
        Some(Facts {
            points: used.iter().filter(|u| **u).count(),
            triangles: self.num_facets(),
            area_m2: area.value(),
            surface_area_m2: surface_area.value(),
            min_z_m,
            max_z_m,
            mean_slope_rise_per_run: slope_area.value() / area.value(),
            max_slope_rise_per_run: max_slope,
        })
    }

    /// The plane that fits the surface best: least squares of the height differences over the
    /// plan area, so that places shot densely weigh no more than others. `None` without facets.
    ///
    /// # Source
    ///
    /// closed form: the integral of the product of two linear functions f, g over a triangle of
    /// area A is A / 12 (sum of f g at the corners + sum of f times sum of g)
    pub fn best_plane(&self) -> Option<Plane> {
        let first = self.facets().next()?;
        let from = self.corners(first)[0];
        // East, north and height above the first corner, at the corners of a facet.
        let corners = |f: u32| {
            self.corners(f).map(|c| {
                let [x, y] = c.p.relative_m(from.p);
                [x, y, c.z - from.z]
            })
        };
        let mut area = Sum::default();
        let mut sums = [Sum::default(); 3];
        for f in self.facets() {
            let (plan, c) = (self.area_m2(f), corners(f));
            area.add(plan);
            for (k, sum) in sums.iter_mut().enumerate() {
                sum.add(plan * (c[0][k] + c[1][k] + c[2][k]) / 3.0);
            }
        }
        let middle = sums.map(|s| s.value() / area.value());
        // Moments about the middle: xx, xy, yy, xz, yz.
        const PAIRS: [(usize, usize); 5] = [(0, 0), (0, 1), (1, 1), (0, 2), (1, 2)];
        let mut moments = [Sum::default(); 5];
        for f in self.facets() {
            let plan = self.area_m2(f);
            let c = corners(f).map(|c| [c[0] - middle[0], c[1] - middle[1], c[2] - middle[2]]);
            let sum = |k: usize| c[0][k] + c[1][k] + c[2][k];
            for (moment, (i, j)) in moments.iter_mut().zip(PAIRS) {
                let products: f64 = c.iter().map(|c| c[i] * c[j]).sum();
                moment.add(plan / 12.0 * (products + sum(i) * sum(j)));
            }
        }
        let [xx, xy, yy, xz, yz] = moments.map(Sum::value);
        // Facets have area, so they spread both ways and this is more than nothing.
        let spread = xx * yy - xy * xy;
        let slope = [(xz * yy - yz * xy) / spread, (yz * xx - xz * xy) / spread];
        let p = Point::from_m(from.p.x_m() + middle[0], from.p.y_m() + middle[1]);
        let through = P3 {
            p,
            z: from.z + middle[2],
        };
        Some(Plane { through, slope })
    }

    /// Volume between the surface and a level below it, cubic metres: parts above the level
    /// count positive, parts below it negative.
    pub fn volume_above_m3(&self, z_m: f64) -> f64 {
        let mut volume = Sum::default();
        for f in self.facets() {
            let [a, b, c] = self.corners(f).map(|c| c.z - z_m);
            volume.add(self.area_m2(f) * (a + b + c) / 3.0);
        }
        volume.value()
    }
}
