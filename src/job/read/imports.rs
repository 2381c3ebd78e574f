//! The `[[survey]]` sections that name a scan, an elevation grid or a surface of another program.
//!
//! Takes their tables, gives how the file is read and brought to the benchmark. Knows no file.

use crate::diag::{At, Diagnostic};
use crate::job::{
    CloudSpec, Common, GroundFilter, ImportKind, ImportSpec, Placing, SamePlace, Shift, Sieve,
    Table, Thin,
};
use crate::units::{LengthUnit, NM_PER_M};

use super::survey::file_name_is_sound;
use super::{positive_m, read_units};

/// Keys that name such a file, with what it holds and an example.
const KEYS: [(&str, ImportKind, &str); 3] = [
    ("cloud", ImportKind::Cloud, "cloud = \"scan.laz\""),
    (
        "elevations",
        ImportKind::Elevations,
        "elevations = \"grid.tif\"",
    ),
    (
        "surface",
        ImportKind::Surface,
        "surface = \"yard.xml#Ground\"",
    ),
];

/// Keys that say how a cloud is read.
const CLOUD_KEYS: [&str; 8] = [
    "classes",
    "bounds",
    "keep_withheld",
    "keep_overlap",
    "same_place",
    "thin",
    "ground_filter",
    "sieve",
];

/// What the file of an entry holds, if it is one of another program.
pub(super) fn kind_of(table: &Table) -> Option<ImportKind> {
    let named = |(key, kind, _): &(&str, ImportKind, &str)| table.has(key).then_some(*kind);
    // `points` and the like beside it are refused as a second way in.
    KEYS.iter().find_map(named)
}

/// One `[[survey]]` of this kind; `None` if a fault leaves no file to read.
pub(super) fn read_import(
    kind: ImportKind,
    mut table: Table,
    diags: &mut Vec<Diagnostic>,
) -> Option<ImportSpec> {
    let job_units = table.units();
    let (key, _, example) = KEYS.iter().find(|(_, its, _)| *its == kind)?;
    let way = table.one_of(&super::survey::WAYS, example, diags);
    let file = way.and_then(|way| table.text(way, diags));
    debug_assert!(way.is_none_or(|way| way == *key));
    let file = file.filter(|(name, at)| file_name_is_sound(name, at, diags));
    let units = read_units("units", &mut table, diags);
    let z_units = read_units("z_units", &mut table, diags);
    let cloud = match kind {
        ImportKind::Cloud => read_cloud(units.unwrap_or(job_units), &mut table, diags),
        ImportKind::Elevations | ImportKind::Surface => {
            for key in CLOUD_KEYS {
                if let Some(at) = table.discard(key) {
                    let message = format!("`{key}` has no effect on {}", way.unwrap_or_default());
                    diags.push(
                        Diagnostic::warn("no-effect", message)
                            .at(at)
                            .help("it belongs to a cloud: cloud = \"scan.laz\""),
                    );
                }
            }
            CloudSpec::default()
        }
    };
    let height_error_m = positive_m("height_error", &mut table, diags);
    let placing = read_placing(&mut table, diags);
    table.finish(diags);
    let (name, at) = file?;
    Some(ImportSpec {
        at,
        units,
        z_units,
        cloud,
        height_error_m,
        placing,
        ..ImportSpec::named(kind, &name, job_units)
    })
}

/// How a cloud is read; bounds are in `unit`.
fn read_cloud(unit: LengthUnit, table: &mut Table, diags: &mut Vec<Diagnostic>) -> CloudSpec {
    let classes = read_classes(table, diags);
    let job_units = table.units();
    table.set_units(unit);
    let bounds_nm = read_bounds(table, diags);
    table.set_units(job_units);
    let mut flag = |key| table.flag(key, diags).is_some_and(|(is_on, _)| is_on);
    let (keep_withheld, keep_overlap) = (flag("keep_withheld"), flag("keep_overlap"));
    let same_place = match table.choice("same_place", &SamePlace::NAMES, diags) {
        Some((index, _)) => SamePlace::ALL[index],
        None => SamePlace::default(),
    };
    CloudSpec {
        classes,
        bounds_nm,
        keep_withheld,
        keep_overlap,
        same_place,
        thin: read_thin(table, diags),
        filter: match table.choice("ground_filter", &["always", "never"], diags) {
            Some((0, _)) => GroundFilter::Always,
            Some(_) => GroundFilter::Never,
            None => GroundFilter::IfUnclassified,
        },
        sieve: read_sieve(table, diags),
    }
}

/// The sizes that the ground filter goes by; the usual ones where none is given.
fn read_sieve(table: &mut Table, diags: &mut Vec<Diagnostic>) -> Sieve {
    let mut sieve = Sieve::default();
    let Some(mut sizes) = table.table("sieve", diags) else {
        return sieve;
    };
    let lengths = [
        ("cell", &mut sieve.cell_m),
        ("widest", &mut sieve.widest_m),
        ("height", &mut sieve.height_m),
        ("height_per_slope", &mut sieve.height_per_slope_m),
    ];
    for (key, size_m) in lengths {
        if let Some(length_m) = positive_m(key, &mut sizes, diags) {
            *size_m = length_m;
        }
    }
    if let Some((slope, at)) = sizes.number("slope_rise_per_run", diags) {
        if slope > 0.0 {
            sieve.slope_rise_per_run = slope;
        } else {
            diags.push(
                Diagnostic::error("bad-range", "the steepest ground is steeper than level")
                    .at(at)
                    .help("write for example slope_rise_per_run = 0.15"),
            );
        }
    }
    sizes.finish(diags);
    sieve
}

fn read_classes(table: &mut Table, diags: &mut Vec<Diagnostic>) -> Option<Vec<u8>> {
    let (classes, at) = table.numbers("classes", diags)?;
    let whole = |class: f64| (class.fract() == 0.0).then_some(class as i64);
    let read: Option<Vec<u8>> = classes
        .into_iter()
        .map(|class| u8::try_from(whole(class)?).ok())
        .collect();
    match read {
        Some(classes) if !classes.is_empty() => Some(classes),
        _ => {
            diags.push(
                Diagnostic::error("bad-class", "classes are whole numbers from 0 to 255")
                    .at(at)
                    .help("write for example classes = [2]; 2 is ground"),
            );
            None
        }
    }
}

/// West, south, east, north.
fn read_bounds(table: &mut Table, diags: &mut Vec<Diagnostic>) -> Option<[i64; 4]> {
    let (ends, at) = table.lengths_m("bounds", "bounds = [0, 0, 60, 40]", diags)?;
    let nm: Vec<i64> = ends.iter().map(|m| (m * NM_PER_M).round() as i64).collect();
    match nm[..] {
        [west, south, east, north] if west < east && south < north => {
            Some([west, south, east, north])
        }
        _ => {
            diags.push(
                Diagnostic::error(
                    "bad-bounds",
                    "bounds are the west, south, east and north end, in this order",
                )
                .at(at)
                .help("write for example bounds = [0, 0, 60, 40], in the unit of the file"),
            );
            None
        }
    }
}

fn read_thin(table: &mut Table, diags: &mut Vec<Diagnostic>) -> Thin {
    if !table.has("thin") {
        table.expect(&["thin"]);
        return Thin::IfLarge;
    }
    if table.is_text("thin") {
        return match table.choice("thin", &["never"], diags) {
            Some(_) => Thin::Never,
            None => Thin::IfLarge,
        };
    }
    positive_m("thin", table, diags).map_or(Thin::IfLarge, Thin::Within)
}

/// How the import is brought to the benchmark.
fn read_placing(table: &mut Table, diags: &mut Vec<Diagnostic>) -> Option<Placing> {
    let shift = table.choice("shift", &Shift::NAMES, diags);
    let fit_m = positive_m("fit", table, diags);
    let has_common = table.has("common");
    let common = if !has_common {
        table.expect(&["common"]);
        None
    } else if table.is_text("common") {
        table
            .text("common", diags)
            .filter(|(name, at)| file_name_is_sound(name, at, diags))
            .map(|(file, at)| (Common::File(file), at))
    } else {
        table
            .texts("common", diags)
            .map(|(shots, at)| (Common::Shots(shots), at))
    };
    let fault = |message: &str, at: At| {
        Diagnostic::error("bad-shift", message).at(at).help(
            "write shift = \"height\" and common = [\"S1\", \"S4\", \"S9\"], shots of this job, or \
             common = \"targets.csv\" with name, x, y, z of the same points as the file has them",
        )
    };
    match (shift, common) {
        (Some((0, _)), Some((common, at))) => Some(Placing {
            shift: Shift::Height,
            common,
            fit_m,
            at,
        }),
        (Some(_), Some((common @ Common::File(_), at))) => Some(Placing {
            shift: Shift::PlanAndHeight,
            common,
            fit_m,
            at,
        }),
        (Some(_), Some((Common::Shots(_), at))) => {
            diags.push(fault(
                "a shift in plan needs a file that says where the import has the common points",
                at,
            ));
            None
        }
        (Some((_, at)), None) => {
            if !has_common {
                diags.push(fault("`shift` needs the points to fit by, in `common`", at));
            }
            None
        }
        (None, Some((_, at))) => {
            diags.push(fault("`common` needs `shift`: what is to be moved", at));
            None
        }
        (None, None) => None,
    }
}
