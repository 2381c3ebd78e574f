//! Cut and fill of a design, in total and by feature and part.

use crate::design::Design;
use crate::files::Workers;
use crate::surface::{CutFill, Label, Surface, Tally, cut_fill_without};
use crate::terrain::GROUND;

use super::layers::LayerQuantity;
use super::wall::refill_m3;

/// Volumes of one part of a feature.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct PartVolume {
    /// Name of the part.
    pub part: String,
    /// Cut, m3 bank.
    pub cut_m3: f64,
    /// Fill, m3 tamped.
    pub fill_m3: f64,
    /// Plan area, m2.
    pub area_m2: f64,
}

/// Volumes of one feature, by the labels the finished surface carries.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct FeatureVolume {
    /// Name of the feature.
    pub name: String,
    /// Cut, m3 bank.
    pub cut_m3: f64,
    /// Fill, m3 tamped.
    pub fill_m3: f64,
    /// Plan area of the cut, m2.
    pub cut_area_m2: f64,
    /// Plan area of the fill, m2.
    pub fill_area_m2: f64,
    /// Soil put back over what it has dug, m3 tamped; in the fill, and in no part.
    pub refill_m3: f64,
    /// Its parts.
    pub parts: Vec<PartVolume>,
}

/// Cut and fill between the ground and a designed surface.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize)]
pub struct Volumes {
    /// Cut, m3 bank.
    pub cut_m3: f64,
    /// Fill, m3 tamped.
    pub fill_m3: f64,
    /// Of the fill, what is no soil placed and tamped, m3: loose piles, bodies of walls.
    pub other_fill_m3: f64,
    /// Of the cut, sod and topsoil that are stripped first, m3 bank: no soil to fill with.
    pub strip_m3: f64,
    /// Plan area of the cut, m2.
    pub cut_area_m2: f64,
    /// Plan area of the fill, m2.
    pub fill_area_m2: f64,
    /// By feature; these add up to the total.
    pub features: Vec<FeatureVolume>,
}

/// Volumes from the ground to one of a design's surfaces.
///
/// Sod and topsoil that are stripped first are volumes of the strips; what the features dig and
/// place is counted from the stripped ground. A trench that is filled again places what it has
/// dug, less its layers; that of a wall what is not wall and stone.
pub fn volumes(
    ground: &Surface,
    surface: &Surface,
    design: &Design,
    layers: &[LayerQuantity],
    workers: &dyn Workers,
) -> Volumes {
    let touched_m: f64 = design.strip_touched.iter().map(|(_, t)| t).sum();
    let base = design.stripped.as_ref().unwrap_or(ground);
    let mut by_label = cut_fill_without(GROUND, base, -touched_m, surface, None, workers).by_label;
    if let Some(stripped) = &design.stripped {
        by_label.extend(cut_fill_without(GROUND, ground, 0.0, stripped, None, workers).by_label);
    }
    let touched_m2: f64 = by_label.values().map(|v| v.common_area_m2).sum();
    let features: Vec<FeatureVolume> = design
        .features
        .iter()
        .enumerate()
        .map(|(number, feature)| {
            let parts: Vec<(Label, CutFill)> = design
                .labels(number)
                .filter_map(|label| by_label.get(&label).map(|v| (label, *v)))
                .collect();
            let sum = |of: fn(&CutFill) -> f64| parts.iter().map(|(_, v)| of(v)).sum::<f64>();
            let mut volume = FeatureVolume {
                name: feature.name.clone(),
                cut_m3: sum(|v| v.cut_m3),
                fill_m3: sum(|v| v.fill_m3),
                cut_area_m2: sum(|v| v.cut_area_m2),
                fill_area_m2: sum(|v| v.fill_area_m2),
                refill_m3: 0.0,
                parts: parts
                    .iter()
                    .map(|(label, v)| PartVolume {
                        part: design.parts[*label as usize].name.clone(),
                        cut_m3: v.cut_m3,
                        fill_m3: v.fill_m3,
                        area_m2: v.common_area_m2,
                    })
                    .collect(),
            };
            if feature.is_strip() {
                (volume.cut_m3, volume.cut_area_m2) = stripped(ground, design, number);
            }
            if let Some(thick_m) = feature.laid.strip_touched_m {
                volume.cut_m3 += thick_m * touched_m2;
                volume.cut_area_m2 += touched_m2;
            }
            if feature.laid.is_refilled() {
                let own = layers.iter().filter(|l| l.feature == feature.name);
                let layered: f64 = own.filter_map(|l| l.volume_m3).sum();
                volume.refill_m3 = (above_soil_m3(design, number, 0.0) - layered).max(0.0);
                volume.fill_m3 += volume.refill_m3;
            }
            if feature.laid.wall.is_some() {
                volume.refill_m3 = refill_m3(design, number);
                volume.fill_m3 += volume.refill_m3;
            }
            volume
        })
        .collect();
    let sum = |of: fn(&FeatureVolume) -> f64| features.iter().map(of).sum();
    Volumes {
        cut_m3: sum(|f| f.cut_m3),
        fill_m3: sum(|f| f.fill_m3),
        // Under the lean of a wall's trench lies soil.
        other_fill_m3: (features.iter().zip(&design.features))
            .filter(|(_, feature)| !feature.laid.places_soil && feature.laid.wall.is_none())
            .map(|(volume, _)| volume.fill_m3)
            .sum(),
        strip_m3: (features.iter().zip(&design.features))
            .filter(|(_, feature)| feature.is_strip())
            .map(|(volume, _)| volume.cut_m3)
            .sum(),
        cut_area_m2: sum(|f| f.cut_area_m2),
        fill_area_m2: sum(|f| f.fill_area_m2),
        features,
    }
}

/// Volume and plan area of what a strip takes off where it lies: a strip below it has its label
/// in the end, and not its volume.
fn stripped(ground: &Surface, design: &Design, number: usize) -> (f64, f64) {
    let (mut volume_m3, mut area_m2) = (0.0, 0.0);
    for change in &design.features[number].changes {
        for (facets, sign) in [(&change.added, 1.0), (&change.removed, -1.0)] {
            let found = Tally::of(ground, 0.0, facets.iter().copied()).result();
            volume_m3 += sign * found.total.cut_m3;
            let own = design.labels(number).filter_map(|l| found.by_label.get(&l));
            area_m2 += sign * own.map(|v| v.common_area_m2).sum::<f64>();
        }
    }
    (volume_m3, area_m2)
}

/// Volume between the soil of a feature, raised by `by_m`, and the finished surface above it.
pub(super) fn above_soil_m3(design: &Design, number: usize, by_m: f64) -> f64 {
    let soil = design.soil();
    let own = soil
        .facets()
        .filter(|&f| design.parts[soil.label(f) as usize].feature == Some(number))
        .map(|f| (soil.corners(f), soil.source(f)));
    Tally::of(&design.surface, -by_m, own).result().total.cut_m3
}
