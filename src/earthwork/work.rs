//! The ledger: what every feature digs, places, digs again and refills, in the order of the job.
//!
//! Volumes by final label say what the design is; the ledger says what is done for it. A stream
//! cut into a berm digs soil that the berm has placed: by label that soil is in neither, in the
//! ledger it is placed once and dug once, and named.

use std::collections::BTreeSet;

use crate::design::Design;
use crate::surface::{CutFill, Label, Rule, Surface, Tally};

/// What is done for one feature, on the soil as the features before it have left it.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize)]
pub struct Work {
    /// Name of the feature.
    pub feature: String,
    /// Dug from the ground as it lay, m3 bank.
    pub dug_m3: f64,
    /// Dug out of what features before it have placed, m3 tamped.
    pub dug_again_m3: f64,
    /// The features that had placed it.
    pub dug_again_of: Vec<String>,
    /// Placed where a feature before it had dug, up to the ground, m3 tamped.
    pub refilled_m3: f64,
    /// The features that had dug there.
    pub refilled_of: Vec<String>,
    /// Placed above the ground, m3 tamped.
    pub placed_m3: f64,
}

/// The ledger of a design.
///
/// # Accuracy
///
/// sums of whole grains: over all features dug less refilled is the cut, and placed less dug
/// again the fill, of the surface to build
pub fn works(ground: &Surface, design: &Design) -> Vec<Work> {
    let features = design.features.iter();
    features
        .map(|feature| {
            let mut work = Work {
                feature: feature.name.clone(),
                ..Work::default()
            };
            let (mut dug_again, mut refilled) = (BTreeSet::new(), BTreeSet::new());
            for change in feature.changes.iter().filter(|c| !c.is_empty()) {
                let before = Tally::of(ground, 0.0, change.removed.iter().copied()).result();
                let after = Tally::of(ground, 0.0, change.added.iter().copied()).result();
                let (was, is) = (before.total, after.total);
                let owners = |of: fn(&CutFill) -> f64| {
                    let some = before
                        .by_label
                        .iter()
                        .filter(move |(_, v)| of(v) > NOTHING_M3);
                    some.filter_map(|(&label, _): (&Label, _)| design.parts[label as usize].feature)
                        .collect::<BTreeSet<usize>>()
                };
                match change.rule {
                    Rule::Lower => {
                        work.dug_m3 += is.cut_m3 - was.cut_m3;
                        let again = was.fill_m3 - is.fill_m3;
                        if again > NOTHING_M3 {
                            work.dug_again_m3 += again;
                            dug_again.extend(owners(|v| v.fill_m3));
                        }
                    }
                    Rule::Raise => {
                        work.placed_m3 += is.fill_m3 - was.fill_m3;
                        let again = was.cut_m3 - is.cut_m3;
                        if again > NOTHING_M3 {
                            work.refilled_m3 += again;
                            refilled.extend(owners(|v| v.cut_m3));
                        }
                    }
                }
            }
            let names = |of: BTreeSet<usize>| {
                let name = |n: usize| design.features[n].name.clone();
                of.into_iter().map(name).collect()
            };
            work.dug_again_of = names(dug_again);
            work.refilled_of = names(refilled);
            work
        })
        .collect()
}

/// Less than this is the rounding of facets cut anew, m3: a thousandth of a cubic millimetre.
const NOTHING_M3: f64 = 1.0e-12;
