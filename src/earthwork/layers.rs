//! How much of every layer there is between the soil and the finished surface.

use crate::design::{Amount, Design, Role};
use crate::files::Workers;
use crate::geom::{P3, Point};
use crate::surface::{Source, Surface, Tally, Within, cut_fill_within};

use super::volume::above_soil_m3;

/// How much there is of one layer of a feature.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct LayerQuantity {
    /// The feature.
    pub feature: String,
    /// The layer, such as `stone`.
    pub layer: String,
    /// Area of what it lies on, along the slope, m2.
    pub area_m2: f64,
    /// Volume as placed, m3; `None` for a sheet.
    pub volume_m3: Option<f64>,
    /// Volume of the voids in it, m3; `None` where no porosity is given.
    pub voids_m3: Option<f64>,
}

/// All layers of all features, from the soil up.
pub fn layer_quantities(design: &Design, workers: &dyn Workers) -> Vec<LayerQuantity> {
    let mut all = Vec::new();
    let numbers = 0..design.features.len();
    for number in numbers.filter(|&n| !design.features[n].layers.is_empty()) {
        all.extend(Stack::of(design, number).quantities(workers));
    }
    all
}

/// A facet with where it comes from.
type Shape = ([P3; 3], Source);

/// What lies on one feature.
struct Stack<'a> {
    design: &'a Design,
    number: usize,
    /// Facets of the finished surface on its floor, on the rest of it, and those of what fills
    /// it to a level.
    floor: Vec<Shape>,
    beside: Vec<Shape>,
    filled: Vec<Shape>,
    /// Facets of the soil on its floor and on the rest.
    soil: [Vec<Shape>; 2],
}

impl Stack<'_> {
    fn of(design: &Design, number: usize) -> Stack<'_> {
        let feature = &design.features[number];
        let filling: Vec<&str> = feature
            .filled_to_m
            .iter()
            .map(|&(k, _)| feature.layers[k].name.as_str())
            .collect();
        let is_own = |label: u32| design.parts[label as usize].feature == Some(number);
        let fills = |label: u32| {
            let name = design.parts[label as usize].name.as_str();
            let stem = name
                .strip_suffix(crate::design::BESIDE_FLOOR)
                .unwrap_or(name);
            filling.contains(&stem)
        };
        let is_floor = |label: u32| design.parts[label as usize].role == Role::Floor;
        let own = |surface: &Surface, wanted: &dyn Fn(u32) -> bool| -> Vec<Shape> {
            surface
                .facets()
                .filter(|&f| is_own(surface.label(f)) && wanted(surface.label(f)))
                .map(|f| (surface.corners(f), *surface.source(f)))
                .collect()
        };
        let (finished, soil) = (&design.surface, design.soil());
        Stack {
            design,
            number,
            floor: own(finished, &|l| is_floor(l) && !fills(l)),
            beside: own(finished, &|l| !is_floor(l) && !fills(l)),
            filled: own(finished, &|l| fills(l)),
            soil: [own(soil, &is_floor), own(soil, &|l| !is_floor(l))],
        }
    }

    /// Volume between the soil raised by `by_m` and some facets of the finished surface.
    fn above(&self, by_m: f64, facets: &[Shape]) -> f64 {
        let tally = Tally::of(self.design.soil(), by_m, facets.iter().copied());
        tally.result().total.fill_m3
    }

    fn quantities(&self, workers: &dyn Workers) -> Vec<LayerQuantity> {
        let feature = &self.design.features[self.number];
        // What lies below on the floor, and on the rest.
        let (mut on_floor_m, mut on_all_m) = (0.0, 0.0);
        let mut filled_from = None;
        let mut quantities = Vec::new();
        for (k, layer) in feature.layers.iter().enumerate() {
            let slab = |below_m: f64, facets: &[Shape]| {
                self.above(below_m, facets) - self.above(below_m + layer.thick_m(), facets)
            };
            let is_refilled = feature.laid.is_refilled();
            let volume_m3 = match &layer.amount {
                Amount::Sheet => None,
                Amount::Thick(thick_m) if is_refilled => {
                    let above = |by_m| above_soil_m3(self.design, self.number, by_m);
                    let volume = above(on_all_m) - above(on_all_m + thick_m);
                    on_all_m += thick_m;
                    Some(volume)
                }
                Amount::Thick(thick_m) => {
                    let mut volume = slab(on_floor_m, &self.floor) + slab(on_all_m, &self.filled);
                    on_floor_m += thick_m;
                    if !layer.on_floor {
                        volume += slab(on_all_m, &self.beside);
                        on_all_m += thick_m;
                    }
                    Some(volume)
                }
                Amount::UpTo(_) => {
                    let to = feature.filled_to_m.iter().find(|f| f.0 == k);
                    let to_m = to.map_or(0.0, |f| f.1);
                    let volume = self.filled_above(on_all_m, filled_from, workers)
                        - self.filled_above(on_all_m, Some(to_m), workers);
                    filled_from = Some(to_m);
                    Some(volume)
                }
            };
            let [floor, beside] = &self.soil;
            let mut area_m2 = along_slope_m2(floor);
            if !layer.on_floor {
                area_m2 += along_slope_m2(beside);
            }
            quantities.push(LayerQuantity {
                feature: feature.name.clone(),
                layer: layer.name.clone(),
                area_m2,
                volume_m3,
                voids_m3: volume_m3.zip(layer.porosity).map(|(v, share)| v * share),
            });
        }
        quantities
    }

    /// Volume of what fills the feature above a level (all of it, without one) and above the
    /// layers that follow the shape, `under_m` thick.
    ///
    /// What fills lies level, so above a level below it is its area times the difference, less
    /// what of the shape stands above that level.
    fn filled_above(&self, under_m: f64, level_m: Option<f64>, workers: &dyn Workers) -> f64 {
        let Some(level_m) = level_m else {
            return self.above(under_m, &self.filled);
        };
        let mut volume = 0.0;
        let mut below = Vec::new();
        for (corners, _) in &self.filled {
            let rise = corners[0].z - level_m;
            if rise > 0.0 {
                volume += plan_m2(corners) * rise;
                below.push(corners.map(|c| c.p));
            }
        }
        let Some(sheet) = level_sheet(&below, level_m - under_m) else {
            return volume;
        };
        let stands = cut_fill_within(self.design.soil(), &sheet, &Within(below), workers);
        volume - stands.total.cut_m3
    }
}

/// A level sheet below some triangles.
fn level_sheet(triangles: &[[Point; 3]], z: f64) -> Option<Surface> {
    let points = || triangles.iter().flatten();
    let low = Point::new(points().map(|p| p.x).min()?, points().map(|p| p.y).min()?);
    let high = Point::new(points().map(|p| p.x).max()?, points().map(|p| p.y).max()?);
    let corner = |x, y| P3 {
        p: Point::new(x, y),
        z,
    };
    let vertices = vec![
        corner(low.x, low.y),
        corner(high.x, low.y),
        corner(high.x, high.y),
        corner(low.x, high.y),
    ];
    Surface::from_triangles(vertices, &[[0, 1, 2], [0, 2, 3]], 0).ok()
}

fn plan_m2(corners: &[P3; 3]) -> f64 {
    let [x, y] = corners[1].p.relative_m(corners[0].p);
    let [u, v] = corners[2].p.relative_m(corners[0].p);
    (x * v - y * u) / 2.0
}

fn along_slope_m2(facets: &[Shape]) -> f64 {
    facets
        .iter()
        .map(|(corners, source)| plan_m2(corners) * source.plane.steepness().hypot(1.0))
        .sum()
}
