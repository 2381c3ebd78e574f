//! Cures that a job file can take: the key of a feature that says how steep its sides are.

use crate::surface::Label;

use super::{Change, Context};

/// A change of the side of a part to a run for one of rise, rounded up to a tenth so that what is
/// typed is enough; `None` where the feature has no single key for it.
pub(super) fn side_change(
    context: &Context,
    label: Label,
    is_fill: bool,
    run_per_rise: f64,
) -> Option<Change> {
    let part = context.design.parts.get(label as usize)?;
    let feature = part.feature?;
    let entry = context.job.features.get(feature)?;
    let table = &entry.table;
    // Slopes of single edges win over the one of all; a pile lies as it falls.
    let keys_of_their_own = [
        "sides",
        "left_run_per_rise",
        "right_run_per_rise",
        "repose_run_per_rise",
    ];
    let sided = [
        ("left", "left_run_per_rise"),
        ("right", "right_run_per_rise"),
    ]
    .into_iter()
    .find(|(side, key)| part.name.contains(side) && table.has(key));
    let key = if let Some((_, key)) = sided {
        key
    } else if table.has("cut_run_per_rise") && table.has("fill_run_per_rise") {
        if is_fill {
            "fill_run_per_rise"
        } else {
            "cut_run_per_rise"
        }
    } else if keys_of_their_own.iter().any(|key| table.has(key)) {
        return None;
    } else {
        "side_run_per_rise"
    };
    Some(Change {
        feature: entry.name.clone(),
        key: key.to_owned(),
        value: format!("{:.1}", run_up(run_per_rise)),
    })
}

/// Rounded up to a tenth.
pub(super) fn run_up(run_per_rise: f64) -> f64 {
    (10.0 * run_per_rise - 1.0e-6).ceil() / 10.0
}
