//! Plain facts about a surface: areas, heights, slopes, volume above a level.

use super::overlay::Sum;
use super::surface::Surface;

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

impl Surface {
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
