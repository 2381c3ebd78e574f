//! The keys of what is under, behind and on a wall.

use crate::diag::{At, Diagnostic};
use crate::job::Table;
use crate::units::{KG_PER_LB, M3_PER_FT3};

use super::super::entry::{required, word};
use super::plan::{BaseStone, DrainStone, Pipe};

/// What belongs to a wall besides its body.
#[derive(Debug)]
pub(super) struct Extras {
    pub(super) course: Option<(f64, At)>,
    pub(super) unit_m: Option<f64>,
    pub(super) cap_m: Option<f64>,
    pub(super) base_stone: Option<BaseStone>,
    pub(super) drain_stone: Option<DrainStone>,
    pub(super) pipe: Option<Pipe>,
    pub(super) made_of: Option<String>,
    pub(super) kg_m3: Option<f64>,
}

/// What walls are made of, for their weight.
const MADE_OF: [(&str, &str); 3] = [
    ("stone", "stone"),
    ("concrete", "concrete"),
    ("timber", "timber"),
];

/// Lowest and highest course, metres: what is lower or higher is a mistake of unit.
const COURSE_M: [f64; 2] = [0.02, 1.5];
/// Shortest and longest unit, metres.
const UNIT_M: [f64; 2] = [0.02, 10.0];
/// Least and greatest weight of a wall, kg/m3.
const WEIGHT_KG_M3: [f64; 2] = [300.0, 8000.0];
/// Thickest stone under or behind a wall, metres.
const THICKEST_M: f64 = 10.0;
/// Fall of a drain pipe where nothing is said: 1 percent (common practice, no source).
const PIPE_FALL: f64 = 0.01;

/// Reads them; `None` after a fault.
pub(super) fn extras(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Extras> {
    let before = diagnostics.len();
    let course = table.length_m("course", diagnostics);
    within("course", &course, COURSE_M, table, diagnostics);
    let unit = table.length_m("unit", diagnostics);
    within("unit", &unit, UNIT_M, table, diagnostics);
    if let (Some((_, at)), None) = (&unit, &course) {
        diagnostics.push(
            Diagnostic::error(
                "no-course",
                "units are counted in courses, and this wall has none",
            )
            .at(at.clone())
            .help("give the height of a course, too: course = 0.5"),
        );
    }
    let cap = table.length_m("cap", diagnostics);
    within("cap", &cap, [0.005, COURSE_M[1]], table, diagnostics);
    let base_stone = base_stone(table, diagnostics);
    let drain = drain_stone(table, diagnostics);
    let pipe = pipe(table, diagnostics);
    if let (Some((_, at)), None) = (&pipe, &drain) {
        diagnostics.push(
            Diagnostic::error(
                "no-drain-stone",
                "a drain pipe lies in stone, and none lies behind this wall",
            )
            .at(at.clone())
            .help("write drain_stone = { width = 1.0 }, too"),
        );
    }
    let made_of = table
        .has("made_of")
        .then(|| word(table, "made_of", &MADE_OF, diagnostics).to_owned());
    let weight = table.number("weight", diagnostics);
    let unit_kg_m3 = match table.units().is_foot() {
        true => KG_PER_LB / M3_PER_FT3,
        false => 1.0,
    };
    let kg_m3 = weight.map(|(value, at)| {
        let kg_m3 = value * unit_kg_m3;
        if !(WEIGHT_KG_M3[0]..=WEIGHT_KG_M3[1]).contains(&kg_m3) {
            let unit = if table.units().is_foot() { "lb/ft3" } else { "kg/m3" };
            diagnostics.push(
                Diagnostic::error("bad-weight", format!("no wall weighs {value} {unit}"))
                    .at(at)
                    .help("dry-laid stone weighs about 130 lb/ft3 or 2080 kg/m3, concrete 150 or 2400"),
            );
        }
        kg_m3
    });
    (diagnostics.len() == before).then_some(Extras {
        course,
        unit_m: unit.map(|u| u.0),
        cap_m: cap.map(|c| c.0),
        base_stone,
        drain_stone: drain.map(|d| d.0),
        pipe: pipe.map(|p| p.0),
        made_of,
        kg_m3,
    })
}

/// Refuses a length outside its range.
fn within(
    key: &str,
    length: &Option<(f64, At)>,
    [least, most]: [f64; 2],
    table: &Table,
    diagnostics: &mut Vec<Diagnostic>,
) {
    if let Some((m, at)) = length
        && !(least..=most).contains(m)
    {
        let units = table.units();
        diagnostics.push(
            Diagnostic::error(
                "bad-size",
                format!(
                    "`{key}` lies between {:.2} and {:.2} {}",
                    units.from_m(least),
                    units.from_m(most),
                    units.name()
                ),
            )
            .at(at.clone())
            .help("write it in the unit of the job"),
        );
    }
}

/// Reads a length inside a table; `usual` where it is not given.
fn size(
    table: &mut Table,
    key: &str,
    usual: f64,
    least: f64,
    diagnostics: &mut Vec<Diagnostic>,
) -> f64 {
    table.expect(&[key]);
    let given = table.length_m(key, diagnostics);
    within(key, &given, [least, THICKEST_M], table, diagnostics);
    given.map_or(usual, |g| g.0)
}

fn base_stone(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<BaseStone> {
    let mut entry = table.table("base_stone", diagnostics)?;
    let thick = required(
        &mut entry,
        "thick",
        "thick = 0.5",
        Table::length_m,
        diagnostics,
    );
    within("thick", &thick, [0.01, THICKEST_M], &entry, diagnostics);
    let before_m = size(&mut entry, "before", 0.0, 0.0, diagnostics);
    let behind_m = size(&mut entry, "behind", 0.0, 0.0, diagnostics);
    entry.finish(diagnostics);
    Some(BaseStone {
        thick_m: thick?.0,
        before_m,
        behind_m,
    })
}

fn drain_stone(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<(DrainStone, At)> {
    let mut entry = table.table("drain_stone", diagnostics)?;
    let at = entry.at();
    let width = required(
        &mut entry,
        "width",
        "width = 1.0",
        Table::length_m,
        diagnostics,
    );
    within("width", &width, [0.05, THICKEST_M], &entry, diagnostics);
    let soil_cap_m = size(&mut entry, "soil_cap", 0.0, 0.0, diagnostics);
    entry.finish(diagnostics);
    let drain = DrainStone {
        width_m: width?.0,
        soil_cap_m,
    };
    Some((drain, at))
}

fn pipe(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<(Pipe, At)> {
    let mut entry = table.table("pipe", diagnostics)?;
    let at = entry.at();
    let outlet = entry.has("outlet");
    if !outlet {
        entry.expect(&["outlet"]);
        diagnostics.push(entry.missing("outlet", "outlet = \"end\"   # where its water comes out"));
    }
    let words = [("start", true), ("end", false)];
    let out_at_start = word(&mut entry, "outlet", &words, diagnostics);
    let fall = entry.number("fall_percent", diagnostics);
    if let Some((percent, at)) = &fall
        && !(0.0..=20.0).contains(percent)
    {
        diagnostics.push(
            Diagnostic::error("bad-slope", "a drain pipe falls by 0 to 20 percent")
                .at(at.clone())
                .help("1 percent is usual"),
        );
    }
    entry.finish(diagnostics);
    let pipe = Pipe {
        out_at_start,
        fall: fall.map_or(PIPE_FALL, |f| f.0 / 100.0),
    };
    outlet.then_some((pipe, at))
}
