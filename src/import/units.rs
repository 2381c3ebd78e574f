//! Which unit a file is read in: what the user typed, what the file states, or what is taken.

use crate::diag::{At, Diagnostic};
use crate::job::ImportSpec;
use crate::units::LengthUnit;

use super::facts::{UnitFound, UnitFrom};

/// What a file states of its units.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Stated {
    /// Unit of plan coordinates.
    pub(super) plan: Option<LengthUnit>,
    /// Unit of heights.
    pub(super) height: Option<LengthUnit>,
}

/// The units of plan and heights, and what is to be said of them.
pub(super) fn settle(spec: &ImportSpec, stated: Stated) -> (UnitFound, UnitFound, Vec<Diagnostic>) {
    let plan = found(spec.units, stated.plan, spec.if_silent);
    let typed = spec.z_units.or(spec.units);
    let height = found(typed, stated.height, plan.unit);
    let mut said = Vec::new();
    let overruled = [
        ("plan", "units", "--units", plan),
        ("heights", "z_units", "--z-units", height),
    ];
    for (what, key, option, found) in overruled {
        if let Some(other) = found.overruled {
            said.push(
                Diagnostic::warn(
                    "unit-overruled",
                    format!(
                        "{what}: the file states {}, and is read in {}, as typed",
                        other.name(),
                        found.unit.name()
                    ),
                )
                .at(At::file(&spec.file))
                .help(format!(
                    "leave `{key}` ({option}) away if the file is right"
                )),
            );
        }
    }
    let taken = |found: UnitFound| found.from == UnitFrom::TakenForGranted;
    let what = match (taken(plan), taken(height)) {
        (true, true) => "plan and heights",
        (true, false) => "plan",
        (false, true) => "heights",
        (false, false) => return (plan, height, said),
    };
    let unit = if taken(plan) { plan.unit } else { height.unit };
    said.push(
        Diagnostic::note(
            "unit-assumed",
            format!(
                "the file does not say in which unit {what} are; {} is taken for granted",
                unit.name()
            ),
        )
        .at(At::file(&spec.file))
        .help("if it is another, say so with `units` and `z_units` (`--units`, `--z-units`)"),
    );
    (plan, height, said)
}

fn found(typed: Option<LengthUnit>, stated: Option<LengthUnit>, silent: LengthUnit) -> UnitFound {
    match (typed, stated) {
        (Some(unit), _) => UnitFound {
            unit,
            from: UnitFrom::Typed,
            overruled: stated.filter(|&other| other != unit),
        },
        (None, Some(unit)) => UnitFound {
            unit,
            from: UnitFrom::File,
            overruled: None,
        },
        (None, None) => UnitFound {
            unit: silent,
            from: UnitFrom::TakenForGranted,
            overruled: None,
        },
    }
}
