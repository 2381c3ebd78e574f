//! Reads the entry of a wall.

use crate::diag::Diagnostic;
use crate::job::Table;

use super::super::Shape;
use super::super::centre::centre;
use super::super::entry::{required, run_per_rise_of, word};
use super::keys::extras;
use super::{Base, THINNEST_M, Top, Wall, WallStep};

pub(super) fn read(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Box<dyn Shape>> {
    let example = "line = [[12.0, 20.0], [30.0, 22.0]]   # the foot of the face";
    let centre = centre(table, example, diagnostics);
    let holds = match table.has("holds") {
        true => Some(word(
            table,
            "holds",
            &[("left", 1.0), ("right", -1.0)],
            diagnostics,
        )),
        false => {
            let example = "holds = \"left\"   # the side where the ground is higher";
            diagnostics.push(table.missing("holds", example));
            table.expect(&["holds"]);
            None
        }
    };
    let thickness = required(
        table,
        "thickness",
        "thickness = 1.0",
        Table::length_m,
        diagnostics,
    );
    let batter = run_per_rise_of(table, "batter_run_per_rise", diagnostics).unwrap_or(0.0);
    let top = read_top(table, diagnostics);
    let base = match table.has("buried") || table.has("base") {
        true => match table.one_of(&["buried", "base"], "buried = 0.5", diagnostics) {
            Some(_) => read_base(table, diagnostics),
            None => None,
        },
        false => Some(Base::Rule(table.at())),
    };
    let extras = extras(table, diagnostics);
    let mut steps = Vec::new();
    for mut entry in table.tables("steps", diagnostics) {
        let at = entry.at();
        let along = required(&mut entry, "at", "at = 6.0", Table::length_m, diagnostics);
        let base = read_base(&mut entry, diagnostics);
        let top = entry.level("top", diagnostics).map(Top::Everywhere);
        entry.finish(diagnostics);
        if let Some((at_m, _)) = along {
            steps.push(WallStep {
                at_m,
                base,
                top,
                at,
            });
        }
    }
    steps.sort_by(|a, b| a.at_m.total_cmp(&b.at_m));
    let (thickness_m, thickness_at) = thickness?;
    if thickness_m < THINNEST_M {
        diagnostics.push(
            Diagnostic::error("bad-thickness", "a wall is at least 1 cm thick")
                .at(thickness_at)
                .help("write the thickness of the base in the job's unit"),
        );
        return None;
    }
    Some(Box::new(Wall {
        centre: centre?,
        side: holds?,
        thickness_m,
        batter_run_per_rise: batter,
        top: top?,
        base: base?,
        steps,
        extras: extras?,
    }))
}

fn read_top(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Top> {
    let example = "top = \"height:2.5\"";
    match table.one_of(&["top", "tops"], example, diagnostics)? {
        "top" => table.level("top", diagnostics).map(Top::Everywhere),
        _ => {
            let mut knots = Vec::new();
            for mut entry in table.tables("tops", diagnostics) {
                let at = required(&mut entry, "at", "at = 6.0", Table::length_m, diagnostics);
                let example = "level = \"level:98.5\"";
                let level = required(&mut entry, "level", example, Table::level, diagnostics);
                entry.finish(diagnostics);
                knots.extend(at.zip(level).map(|((at_m, _), level)| (at_m, level)));
            }
            (!knots.is_empty()).then_some(Top::Along(knots))
        }
    }
}

fn read_base(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Base> {
    table.expect(&["buried", "base"]);
    if table.has("base") {
        return table.level("base", diagnostics).map(Base::Level);
    }
    let (buried_m, at) = table.length_m("buried", diagnostics)?;
    if buried_m < 0.0 {
        diagnostics.push(
            Diagnostic::error("bad-base", "the base of a wall is buried by 0 or more")
                .at(at)
                .help("write how far it lies below the lowest ground under it"),
        );
        return None;
    }
    Some(Base::Buried(buried_m, at))
}
