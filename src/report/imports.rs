//! What came in from files of other programs, for people and for machines.
//!
//! Takes a survey, gives rows of words or JSON. Computes nothing.

use std::fmt::Write as _;

use serde_json::{Map, Value, json};

use super::words::counted;
use crate::drawing;
use crate::import::{Loss, UnitFound, UnitFrom};
use crate::job::Shift;
use crate::show::{Show, thousands};
use crate::survey::{Brought, Placement, Survey};
use crate::units::LengthUnit;

/// Width of the column of heads on a terminal.
const HEAD: usize = 19;

/// The imports as a JSON member `imports`.
///
/// # Units
///
/// SI, named in every key
pub fn imports_json(survey: &Survey) -> Map<String, Value> {
    let one = |brought: &Brought| {
        let mut value = json!(brought.import.facts);
        if let Some(map) = value.as_object_mut() {
            map.shift_insert(0, "source".to_owned(), json!(brought.import.source));
            map.insert("placement".to_owned(), json!(brought.placement));
        }
        value
    };
    let imports: Vec<Value> = survey.imports.iter().map(one).collect();
    Map::from_iter([("imports".to_owned(), json!(imports))])
}

/// Pictures of what a ground filter took away, one for every cloud it was used on.
///
/// # Units
///
/// each an SVG whose user unit is a millimetre on paper; heights and coordinates in `unit`
pub fn taken_away(survey: &Survey, unit: LengthUnit) -> Vec<String> {
    let imports = survey.imports.iter().map(|brought| &brought.import);
    imports
        .filter_map(|import| {
            let picture = import.taken_away.as_ref()?;
            Some(drawing::taken_away(picture, &import.source, unit))
        })
        .collect()
}

/// What is to be said of imports on a terminal; empty if there are none.
pub fn imports_text(survey: &Survey, heights: Show) -> String {
    let mut text = String::new();
    for brought in &survey.imports {
        for (head, words) in rows(brought, heights) {
            let _ = writeln!(text, "  {head:HEAD$}{words}");
        }
    }
    text
}

/// Head and words of everything that is told of an import.
pub(super) fn rows(brought: &Brought, heights: Show) -> Vec<(&'static str, String)> {
    let facts = &brought.import.facts;
    let all = format!("{} {}", thousands(facts.read), facts.counted);
    let kept = if facts.kept == facts.read {
        format!("all {all}")
    } else {
        format!("{} of {all}", thousands(facts.kept))
    };
    let mut rows = vec![
        (
            "came from",
            format!("{}, {}", brought.import.source, facts.format),
        ),
        ("kept", kept),
    ];
    if !facts.left_out.is_empty() {
        let left: Vec<String> = facts
            .left_out
            .iter()
            .map(|left| format!("{} {}", thousands(left.count), left.why))
            .collect();
        rows.push(("left out", left.join("; ")));
    }
    if let Some(loss) = &facts.loss {
        rows.push(("lost by thinning", lost(loss, heights)));
    }
    rows.push((
        "units",
        format!(
            "x, y in {}; heights in {}",
            unit(facts.plan_unit),
            unit(facts.height_unit)
        ),
    ));
    rows.push((
        "heights good to",
        format!(
            "{} (1 sigma), as meant for this source",
            heights.level_with_unit(facts.height_error_m)
        ),
    ));
    rows.push((
        "benchmark",
        match &brought.placement {
            Some(placement) => placed(placement, heights),
            None => "not brought to one: places and heights are those of the file".to_owned(),
        },
    ));
    rows
}

/// "us-ft, as the file says".
fn unit(found: UnitFound) -> String {
    let name = found.unit.name();
    match (found.from, found.overruled) {
        (UnitFrom::File, _) => format!("{name}, as the file says"),
        (UnitFrom::Typed, None) => format!("{name}, as you say"),
        (UnitFrom::Typed, Some(other)) => {
            format!("{name}, as you say, though the file says {}", other.name())
        }
        (UnitFrom::TakenForGranted, _) => format!("{name}, taken for granted: nobody says"),
    }
}

fn lost(loss: &Loss, heights: Show) -> String {
    let height = |m: f64| heights.level_with_unit(m);
    let looked = if loss.looked_at == loss.points {
        "all".to_owned()
    } else {
        format!("{}, evenly chosen,", thousands(loss.looked_at))
    };
    format!(
        "{} points left out at a tolerance of {}; {looked} held against the surface that is left: worst {} \
         off, {} as a root mean square, {} beyond the tolerance",
        thousands(loss.points),
        height(loss.tolerance_m),
        height(loss.worst_m),
        height(loss.rms_m),
        thousands(loss.beyond)
    )
}

fn placed(placement: &Placement, heights: Show) -> String {
    let height = |m: f64| heights.level_with_unit(m);
    let up = |m: f64| {
        let way = if m < 0.0 { "below" } else { "above" };
        format!("{} {way}", height(m.abs()))
    };
    let moved = match placement.shift {
        Shift::Height => format!("heights shifted by {}", signed(placement.up_m, heights)),
        Shift::PlanAndHeight => format!(
            "moved and turned by {:.3} degrees in plan, heights shifted by {}",
            placement.turn_deg,
            signed(placement.up_m, heights)
        ),
    };
    let points: Vec<String> = placement
        .common
        .iter()
        .map(|point| {
            let plan = match placement.shift {
                Shift::Height => String::new(),
                Shift::PlanAndHeight => format!(" and {} aside", height(point.plan_m)),
            };
            format!("{} {}{plan}", point.name, up(point.height_m))
        })
        .collect();
    format!(
        "{moved} to fit {}; after it the job has {}; the limit is {}",
        counted(placement.common.len() as u64, "common point"),
        points.join(", "),
        height(placement.fit_m)
    )
}

/// "+0.12 ft".
fn signed(m: f64, heights: Show) -> String {
    let sign = if m < 0.0 { "-" } else { "+" };
    format!("{sign}{}", heights.level_with_unit(m.abs()))
}
