//! The `[[survey]]` sections of a job.
//!
//! Takes their tables, gives the names of the files and how to read them. Knows no file: what
//! stands in it, and whether it is there, is found out by the room `survey`.

use crate::diag::{At, Diagnostic, nearest};
use crate::job::{
    ALLOW_HELP, Adjust, Allowance, Benchmark, Decimal, GridSpec, ImportSpec, Place, Rod, RodKind,
    Side, Strike, SurveyKind, SurveySpec, Table,
};
use crate::units::LengthUnit;

use super::control::read_spacing;
use super::{imports, positive_m, read_name, read_units};

/// Ways to bring a survey in.
pub(super) const WAYS: [&str; 7] = [
    "points",
    "levels",
    "ties",
    "grid",
    "cloud",
    "elevations",
    "surface",
];

/// What the `[[survey]]` of a job name.
#[derive(Default)]
pub(super) struct Surveys {
    pub(super) own: Vec<SurveySpec>,
    pub(super) imports: Vec<ImportSpec>,
}

/// All `[[survey]]` of a job; one at least must be there.
pub(super) fn read_surveys(file: &str, root: &mut Table, diags: &mut Vec<Diagnostic>) -> Surveys {
    let faults = diags.len();
    let tables = root.tables("survey", diags);
    if tables.is_empty() && diags.len() == faults {
        diags.push(
            Diagnostic::error("missing-key", "the job has no [[survey]]")
                .at(At::file(file))
                .help(
                    "say where the shots are:\n    [[survey]]\n    \
                 points = \"shots.csv\"    # or levels = \"levels.csv\", a level book",
                ),
        );
    }
    let mut surveys = Surveys::default();
    for table in tables {
        match imports::kind_of(&table) {
            Some(kind) => surveys
                .imports
                .extend(imports::read_import(kind, table, diags)),
            None => surveys.own.extend(read_survey(table, diags)),
        }
    }
    surveys
}

/// One `[[survey]]`; `None` if a fault leaves no file to read.
fn read_survey(mut table: Table, diags: &mut Vec<Diagnostic>) -> Option<SurveySpec> {
    let job_units = table.units();
    let way = table.one_of(&WAYS, "points = \"shots.csv\"", diags);
    let file = way.and_then(|way| table.text(way, diags));
    let file = file.filter(|(name, at)| file_name_is_sound(name, at, diags));
    let units = read_units("units", &mut table, diags).unwrap_or(job_units);
    let z_units = read_units("z_units", &mut table, diags).unwrap_or(units);
    let columns = read_columns(&mut table, diags);
    let decimal = match table.choice("decimal", &["point", "comma"], diags) {
        Some((1, _)) => Decimal::Comma,
        _ => Decimal::Point,
    };
    let pace_m = positive_m("pace", &mut table, diags);
    let benchmark = read_benchmark(z_units, &mut table, diags);
    let book = !matches!(way, Some("points" | "ties" | "grid"));
    for key in ["rod", "adjust", "allow"] {
        let has_effect = book || (way == Some("grid") && key == "rod");
        if !has_effect && table.has(key) {
            let way = way.unwrap_or_default();
            let mut warning =
                Diagnostic::warn("no-effect", format!("`{key}` has no effect on {way}"))
                    .help("it belongs to a level book: levels = \"levels.csv\"");
            warning.at.extend(table.discard(key));
            diags.push(warning);
        }
    }
    let rod = read_rod(way, z_units, &mut table, diags);
    let adjust = match table.choice("adjust", &["none", "setups", "distance"], diags) {
        Some((1, _)) => Adjust::Setups,
        Some((2, _)) => Adjust::Distance,
        _ => Adjust::None,
    };
    let allow = read_allow(z_units, &mut table, diags);
    let kind = match way {
        Some("points") => SurveyKind::Points,
        Some("ties") => SurveyKind::Ties,
        Some("grid") => SurveyKind::Grid(Box::new(read_grid(&mut table, diags))),
        _ => SurveyKind::Levels,
    };
    table.finish(diags);
    let (file, at) = file?;
    Some(SurveySpec {
        kind,
        file,
        at,
        units,
        z_units,
        columns,
        decimal,
        pace_m,
        benchmark,
        rod,
        adjust,
        allow,
    })
}

/// All `[[strike]]` of a job.
pub(super) fn read_strikes(root: &mut Table, diags: &mut Vec<Diagnostic>) -> Vec<Strike> {
    let mut strikes = Vec::new();
    for mut table in root.tables("strike", diags) {
        if !table.has("shot") {
            diags.push(table.missing("shot", "\"17\""));
        }
        let shot = table.text("shot", diags);
        let file = table.text("file", diags).map(|(file, _)| file);
        let line = table.number("line", diags).and_then(|(line, at)| {
            if line >= 1.0 && line.fract() == 0.0 {
                return Some(line as usize);
            }
            diags.push(
                Diagnostic::error("bad-range", "`line` is a line of the file, counted from 1")
                    .at(at)
                    .help("write for example line = 14"),
            );
            None
        });
        let why = table.text("why", diags).map(|(why, _)| why);
        table.finish(diags);
        if let Some((shot, at)) = shot {
            strikes.push(Strike {
                shot: shot.trim().to_owned(),
                file,
                line,
                why: why.unwrap_or_default().trim().to_owned(),
                at,
            });
        }
    }
    strikes
}

/// Where the rods of a grid stand.
fn read_grid(table: &mut Table, diags: &mut Vec<Diagnostic>) -> GridSpec {
    let one_place = |key: &str, table: &mut Table, diags: &mut Vec<Diagnostic>| {
        let (place, at) = table.place(key, diags)?;
        if !matches!(place, Place::Code(_)) {
            return Some((place, at));
        }
        diags.push(
            Diagnostic::error("bad-place", format!("`{key}` is not given by a code"))
                .at(at)
                .help("name a corner or a shot, or give coordinates"),
        );
        None
    };
    GridSpec {
        backsight: table.text("backsight", diags),
        origin: one_place("origin", table, diags),
        towards: one_place("towards", table, diags),
        side: match table.choice("side", &Side::NAMES, diags) {
            Some((1, _)) => Side::Right,
            _ => Side::Left,
        },
        spacing_m: read_spacing(table, diags),
    }
}

/// Files of a job live in its folder: nothing of the machine around it is read.
pub(super) fn file_name_is_sound(name: &str, at: &At, diags: &mut Vec<Diagnostic>) -> bool {
    let message = if name.trim().is_empty() || name.contains(char::is_control) {
        "this is not the name of a file"
    } else if name.starts_with(['/', '\\']) || name.chars().nth(1) == Some(':') {
        "a file of a job is not named by a path from the top of the disk"
    } else if name.split(['/', '\\']).any(|part| part == "..") {
        "a file of a job does not lie above its folder"
    } else {
        return true;
    };
    diags.push(
        Diagnostic::error("bad-file-name", message)
            .at(at.clone())
            .help("put the file into the folder of the job and write its name only"),
    );
    false
}

/// The columns of a file without a header.
fn read_columns(table: &mut Table, diags: &mut Vec<Diagnostic>) -> Option<Vec<String>> {
    let (columns, at) = table.texts("columns", diags)?;
    let columns: Vec<String> = columns.iter().map(|name| name.trim().to_string()).collect();
    if columns.is_empty() || columns.iter().any(String::is_empty) {
        diags.push(
            Diagnostic::error(
                "bad-word",
                "`columns` names every column of the file in order",
            )
            .at(at)
            .help("write for example columns = [\"name\", \"x\", \"y\", \"z\", \"code\"]"),
        );
        return None;
    }
    Some(columns)
}

/// How the rod is divided and held; if a level book does not say, by its unit, and that is said.
fn read_rod(
    way: Option<&str>,
    z_units: LengthUnit,
    table: &mut Table,
    diags: &mut Vec<Diagnostic>,
) -> Rod {
    let given = table.has("rod");
    let default = if z_units.is_foot() {
        RodKind::Tenths
    } else {
        RodKind::Metric
    };
    if let Some((words, at)) = table.text("rod", diags) {
        if let Some(rod) = Rod::from_words(&words) {
            return rod;
        }
        let help = match nearest(&words, RodKind::NAMES) {
            Some(near) => format!("perhaps \"{near}\" is meant; write {}", Rod::WORDS),
            None => format!("write {}", Rod::WORDS),
        };
        diags.push(
            Diagnostic::error("bad-word", "`rod` does not know this word")
                .at(at)
                .help(help),
        );
    } else if matches!(way, Some("levels" | "grid")) && !given {
        let words = default.name();
        let message = format!("no `rod` is given; readings are taken as \"{words}\"");
        diags.push(
            Diagnostic::note("default-rod", message)
                .at(table.at())
                .help(format!(
                    "write rod = \"{words}\", or another of {}",
                    RodKind::NAMES.join(", ")
                )),
        );
    }
    default.into()
}

/// How far the book may miss: words, or a number per root set-up in the unit of heights.
fn read_allow(z_units: LengthUnit, table: &mut Table, diags: &mut Vec<Diagnostic>) -> Allowance {
    let Some((words, at)) = table.words("allow", diags) else {
        return Allowance::default();
    };
    Allowance::from_words(&words, z_units).unwrap_or_else(|message| {
        diags.push(
            Diagnostic::error("bad-allowance", message)
                .at(at)
                .help(ALLOW_HELP),
        );
        Allowance::default()
    })
}

/// `benchmark = { name, level, words }`, its level in the unit of the survey's heights.
fn read_benchmark(
    z_units: LengthUnit,
    table: &mut Table,
    diags: &mut Vec<Diagnostic>,
) -> Option<Benchmark> {
    let mut inner = table.table("benchmark", diags)?;
    inner.set_units(z_units);
    for (key, example) in [("name", "\"BM1\""), ("level", "100.00")] {
        if !inner.has(key) {
            diags.push(inner.missing(key, example));
        }
    }
    let name = read_name(&mut inner, diags);
    let level = inner.length_m("level", diags);
    let words = inner
        .text("words", diags)
        .map(|(words, _)| words)
        .unwrap_or_default();
    inner.finish(diags);
    Some(Benchmark {
        name: name?,
        level_m: level?.0,
        words,
    })
}
