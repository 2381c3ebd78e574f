//! The ledger: what every feature digs, places, digs again and refills, in the order of the job.
//!
//! Volumes by final label say what the design is; the ledger says what is done for it. A stream
//! cut into a berm digs soil that the berm has placed: by label that soil is in neither, in the
//! ledger it is placed once and dug once, and named.

use std::collections::BTreeMap;

use crate::design::Design;
use crate::surface::{CutFill, LabelledCutFill, Rule, Surface, Tally};

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
            // What the features before it have lost of their fill and of their cut.
            let (mut dug_again, mut refilled) = (BTreeMap::new(), BTreeMap::new());
            for change in feature.changes.iter().filter(|c| !c.is_empty()) {
                let before = Tally::of(ground, 0.0, change.removed.iter().copied()).result();
                let after = Tally::of(ground, 0.0, change.added.iter().copied()).result();
                let cut_m3 = after.total.cut_m3 - before.total.cut_m3;
                let fill_m3 = after.total.fill_m3 - before.total.fill_m3;
                // What is put back takes off again what the feature did beyond its keep-off.
                if (change.rule == Rule::Lower) != change.puts_back {
                    work.dug_m3 += cut_m3;
                    work.dug_again_m3 -= fill_m3;
                    lose(&mut dug_again, design, [&before, &after], |v| v.fill_m3);
                } else {
                    work.placed_m3 += fill_m3;
                    work.refilled_m3 -= cut_m3;
                    lose(&mut refilled, design, [&before, &after], |v| v.cut_m3);
                }
            }
            let names = |lost: BTreeMap<usize, f64>| {
                let some = lost.into_iter().filter(|(_, m3)| *m3 > NOTHING_M3);
                some.map(|(n, _)| design.features[n].name.clone()).collect()
            };
            work.dug_again_of = names(dug_again);
            work.refilled_of = names(refilled);
            work
        })
        .collect()
}

/// Adds what every feature has lost of its own from before to after.
fn lose(
    lost: &mut BTreeMap<usize, f64>,
    design: &Design,
    [before, after]: [&LabelledCutFill; 2],
    of: fn(&CutFill) -> f64,
) {
    for (found, sign) in [(before, 1.0), (after, -1.0)] {
        for (&label, volume) in &found.by_label {
            if let Some(n) = design.parts[label as usize].feature {
                *lost.entry(n).or_default() += sign * of(volume);
            }
        }
    }
}

/// A feature that has lost less than this is not named, m3: a millilitre. An edge cut anew is
/// bent by a nanometre, and by so much two features share a volume otherwise.
const NOTHING_M3: f64 = 1.0e-6;
