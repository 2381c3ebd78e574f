//! How much of every layer there is between the soil and the finished surface.

use crate::design::{Amount, BESIDE_FLOOR, Design, Role, STEEPEST_FLOOR_RISE_PER_RUN};
use crate::files::Workers;
use crate::geom::{P3, Point};
use crate::surface::{Label, Source, Surface, Tally, Within, cut_fill_within};

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
///
/// The space between the soil and the finished surface belongs, place by place, to the feature
/// whose fill to a level is seen there; else to the one whose soil it lies on; else, where that
/// one has no layers, to the one that is seen. So no space is counted twice, and what thins out
/// to the ground at a rim or a toe is counted too.
pub fn layer_quantities(design: &Design, workers: &dyn Workers) -> Vec<LayerQuantity> {
    let layered: Vec<usize> = (0..design.features.len())
        .filter(|&n| !design.features[n].layers.is_empty())
        .collect();
    if layered.is_empty() {
        return Vec::new();
    }
    let lies = Lies::of(design);
    let stacks = layered.iter().map(|&number| Stack::of(&lies, number));
    stacks.flat_map(|s| s.quantities(workers)).collect()
}

/// A facet with where it comes from.
type Shape = ([P3; 3], Source);

/// What lies on the soil of a design, common to all its features.
struct Lies<'a> {
    design: &'a Design,
    /// The finished surface without what fills a hollow to a level.
    seen: Surface,
    /// The soil without that of features with layers.
    bare: Surface,
    /// By label: true for what fills a hollow to a level.
    fills: Vec<bool>,
    /// Facets of the finished surface and of the soil, by feature.
    finished: Vec<Vec<Shape>>,
    soil: Vec<Vec<Shape>>,
}

impl Lies<'_> {
    fn of(design: &Design) -> Lies<'_> {
        let is_layered = |l: Label| {
            let feature = design.parts[l as usize].feature;
            feature.is_some_and(|n| !design.features[n].layers.is_empty())
        };
        let fills: Vec<bool> = (design.parts.iter())
            .map(|part| {
                let stem = part.name.strip_suffix(BESIDE_FLOOR).unwrap_or(&part.name);
                part.feature.is_some_and(|n| {
                    let feature = &design.features[n];
                    let mut filled = feature.filled_to_m.iter();
                    filled.any(|&(k, _)| feature.layers[k].name == stem)
                })
            })
            .collect();
        let by_feature = |surface: &Surface| {
            let mut all = vec![Vec::new(); design.features.len()];
            for f in surface.facets() {
                if let Some(n) = design.parts[surface.label(f) as usize].feature {
                    all[n].push((surface.corners(f), surface.source(f)));
                }
            }
            all
        };
        Lies {
            design,
            seen: design.surface.with_labels(|l| !fills[l as usize]),
            bare: design.soil().with_labels(|l| !is_layered(l)),
            finished: by_feature(&design.surface),
            soil: by_feature(design.soil()),
            fills,
        }
    }
}

/// What lies on one feature.
struct Stack<'a> {
    lies: &'a Lies<'a>,
    number: usize,
    /// Facets of the finished surface on its floor and on the rest, and those of what fills it to
    /// a level.
    finished: [Vec<Shape>; 2],
    filled: Vec<Shape>,
    /// Facets of the soil on its floor and on the rest.
    soil: [Vec<Shape>; 2],
}

impl Stack<'_> {
    fn of<'a>(lies: &'a Lies<'a>, number: usize) -> Stack<'a> {
        let parts = &lies.design.parts;
        let part = |facets: &[Shape], wanted: &dyn Fn(Label) -> bool| -> Vec<Shape> {
            let own = facets.iter().filter(|(_, source)| wanted(source.label));
            own.copied().collect()
        };
        let is_floor = |l: Label| parts[l as usize].role == Role::Floor;
        let fills = |l: Label| lies.fills[l as usize];
        let (finished, soil) = (&lies.finished[number], &lies.soil[number]);
        Stack {
            lies,
            number,
            finished: [
                part(finished, &|l| is_floor(l) && !fills(l)),
                part(finished, &|l| !is_floor(l) && !fills(l)),
            ],
            filled: part(finished, &|l| fills(l)),
            soil: [part(soil, &is_floor), part(soil, &|l| !is_floor(l))],
        }
    }

    /// Volume of what fills it to a level, above the soil raised by `by_m`.
    fn fill_above(&self, by_m: f64) -> f64 {
        let filled = self.filled.iter().copied();
        let tally = Tally::of(self.lies.design.soil(), by_m, filled);
        tally.result().total.fill_m3
    }

    /// Volume of the rest above the soil raised by `by_m`, on the floor (0) or beside it (1).
    fn follows_above(&self, by_m: f64, place: usize) -> f64 {
        let on_own = Tally::of(&self.lies.seen, -by_m, self.soil[place].iter().copied());
        let on_bare = Tally::of(&self.lies.bare, by_m, self.finished[place].iter().copied());
        on_own.result().total.cut_m3 + on_bare.result().total.fill_m3
    }

    fn quantities(&self, workers: &dyn Workers) -> Vec<LayerQuantity> {
        let design = self.lies.design;
        let feature = &design.features[self.number];
        // What lies below on the floor, and on the rest.
        let (mut on_floor_m, mut on_all_m) = (0.0, 0.0);
        let mut filled_from = None;
        let mut quantities = Vec::new();
        for (k, layer) in feature.layers.iter().enumerate() {
            let follows = |below_m: f64, place: usize| {
                let up_m = below_m + layer.thick_m();
                self.follows_above(below_m, place) - self.follows_above(up_m, place)
            };
            let is_refilled = feature.laid.is_refilled();
            let volume_m3 = match &layer.amount {
                Amount::Sheet => None,
                Amount::Thick(thick_m) if is_refilled => {
                    let above = |by_m| above_soil_m3(design, self.number, by_m);
                    let volume = above(on_all_m) - above(on_all_m + thick_m);
                    on_all_m += thick_m;
                    Some(volume)
                }
                Amount::Thick(thick_m) => {
                    let mut volume = follows(on_floor_m, 0);
                    on_floor_m += thick_m;
                    if !layer.on_floor {
                        volume += follows(on_all_m, 1);
                        volume += self.fill_above(on_all_m) - self.fill_above(on_all_m + thick_m);
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
            let is_flat = |s: &&Shape| s.1.plane.steepness() < STEEPEST_FLOOR_RISE_PER_RUN;
            let mut area_m2 = match layer.on_floor {
                // Not on the faces it is boxed out with.
                true => along_slope_m2(floor.iter().filter(is_flat)),
                false => along_slope_m2(floor),
            };
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
            return self.fill_above(under_m);
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
        let stands = cut_fill_within(self.lies.design.soil(), &sheet, &Within(below), workers);
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

fn along_slope_m2<'a>(facets: impl IntoIterator<Item = &'a Shape>) -> f64 {
    facets
        .into_iter()
        .map(|(corners, source)| plan_m2(corners) * source.plane.steepness().hypot(1.0))
        .sum()
}
