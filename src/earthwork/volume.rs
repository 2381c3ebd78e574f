//! Cut and fill of a design, in total and by feature and part.

use crate::design::Design;
use crate::files::Workers;
use crate::surface::{CutFill, Label, LabelledCutFill, Surface, cut_fill};

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
    /// Plan area of the cut, m2.
    pub cut_area_m2: f64,
    /// Plan area of the fill, m2.
    pub fill_area_m2: f64,
    /// By feature; these add up to the total.
    pub features: Vec<FeatureVolume>,
}

/// Volumes from the ground to one of a design's surfaces.
pub fn volumes(
    ground: &Surface,
    surface: &Surface,
    design: &Design,
    workers: &dyn Workers,
) -> Volumes {
    let LabelledCutFill {
        total, by_label, ..
    } = cut_fill(ground, surface, workers);
    let features = design
        .features
        .iter()
        .enumerate()
        .map(|(number, feature)| {
            let parts: Vec<(Label, CutFill)> = design
                .labels(number)
                .filter_map(|label| by_label.get(&label).map(|v| (label, *v)))
                .collect();
            let sum = |of: fn(&CutFill) -> f64| parts.iter().map(|(_, v)| of(v)).sum();
            FeatureVolume {
                name: feature.name.clone(),
                cut_m3: sum(|v| v.cut_m3),
                fill_m3: sum(|v| v.fill_m3),
                cut_area_m2: sum(|v| v.cut_area_m2),
                fill_area_m2: sum(|v| v.fill_area_m2),
                parts: parts
                    .iter()
                    .map(|(label, v)| PartVolume {
                        part: design.parts[*label as usize].name.clone(),
                        cut_m3: v.cut_m3,
                        fill_m3: v.fill_m3,
                        area_m2: v.common_area_m2,
                    })
                    .collect(),
            }
        })
        .collect();
    Volumes {
        cut_m3: total.cut_m3,
        fill_m3: total.fill_m3,
        cut_area_m2: total.cut_area_m2,
        fill_area_m2: total.fill_area_m2,
        features,
    }
}
