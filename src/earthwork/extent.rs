//! How large and how deep every feature and part is, and how long its lines.

use crate::design::Design;
use crate::geom::P3;
use crate::surface::{Extremes, LabelFacts, LabelledCutFill, Surface};
use crate::terrain::GROUND;

/// Sizes of a feature or part.
#[derive(Clone, Debug, PartialEq)]
pub struct Extent {
    /// Plan area, area along the slope, outline and levels, on the finished surface.
    pub facts: LabelFacts,
    /// Where its soil lies deepest below the ground and highest above it; `None` where it has no
    /// plan area in common with the ground.
    pub extremes: Option<Extremes>,
}

/// A line of a feature by its length.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct LineLength {
    /// What it is, such as `centre line`.
    pub name: String,
    /// Length in plan, metres.
    pub plan_m: f64,
    /// Length along the line, up and down, metres.
    pub developed_m: f64,
}

/// Sizes of a feature and its parts.
#[derive(Clone, Debug, PartialEq)]
pub struct FeatureExtent {
    /// Name.
    pub name: String,
    /// The whole; `None` where nothing of it is left.
    pub whole: Option<Extent>,
    /// Its parts, by name; those of which something is left.
    pub parts: Vec<(String, Extent)>,
    /// Its lines.
    pub lines: Vec<LineLength>,
}

/// Sizes of all features: areas and levels of the finished surface, depths of the soil.
///
/// # Input
///
/// `found` what lies between the ground and the surface to build
pub fn extents(design: &Design, finished: &Surface, found: &LabelledCutFill) -> Vec<FeatureExtent> {
    let count = design.parts.len();
    let feature_of = |label: u32| design.parts[label as usize].feature;
    let by_part = finished.facts_by(count, |label| (label != GROUND).then_some(label as usize));
    let by_feature = finished.facts_by(design.features.len(), feature_of);
    let features = design.features.iter().enumerate();
    features
        .map(|(number, feature)| FeatureExtent {
            name: feature.name.clone(),
            whole: by_feature[number].map(|facts| Extent {
                facts,
                extremes: found.extremes_of(design.labels(number)),
            }),
            parts: design
                .labels(number)
                .filter_map(|label| {
                    let extent = Extent {
                        facts: by_part[label as usize]?,
                        extremes: found.extremes.get(&label).copied(),
                    };
                    Some((design.parts[label as usize].name.clone(), extent))
                })
                .collect(),
            lines: feature
                .laid
                .lines
                .iter()
                .map(|(name, line)| length(name, line))
                .collect(),
        })
        .collect()
}

fn length(name: &str, line: &[P3]) -> LineLength {
    let steps = || {
        line.windows(2).map(|w| {
            let [x, y] = w[1].p.relative_m(w[0].p);
            [x.hypot(y), w[1].z - w[0].z]
        })
    };
    LineLength {
        name: name.to_owned(),
        plan_m: steps().map(|[run, _]| run).sum(),
        developed_m: steps().map(|[run, rise]| run.hypot(rise)).sum(),
    }
}
