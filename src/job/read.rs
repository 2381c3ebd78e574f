//! From the text of `job.toml` to a [`Job`].
//!
//! Takes the text of the file, gives the job and what is worth knowing about it, or every fault
//! found, in the order of the file. Knows the keys of all sections but `[[feature]]`, whose
//! entries stay tables, and no survey: whether a file or a shot exists is found out later.

mod access;
mod control;
mod imports;
mod survey;

use crate::diag::{At, Diagnostic, Failure, has_error};
use crate::files::Input;
use crate::units::{INCH_M, KG_PER_LB, LengthUnit, M3_PER_FT3, Slope};

pub use control::read_distance;

use super::place::printable;
use super::{
    Crossings, DigType, Duplicates, FeatureEntry, GroundSpec, Job, KeepOff, KeepOffKind,
    KeepOffShape, LimitKind, Limits, PA_PER_TSF, Radius, SectionSpec, SoilSpec, Table, Use,
    UsedArea, limits,
};

/// Smallest and largest volume that one of bank may become, loose or tamped. Published factors of
/// soils and rock lie between 0.7 and 1.9; outside these two a percentage was typed.
const VOLUME_RATIOS: (f64, f64) = (0.5, 2.5);

/// Flattest and steepest limit of a slope, rise over run: 1000 across for 1 up to 100 up for
/// 1 across. Beyond them a wrong notation was used.
const LIMIT_SLOPES: (f64, f64) = (0.001, 100.0);

/// Reads a job.
///
/// # Errors
///
/// every fault of the file, with the notes found beside them; only a text that is not
/// TOML at all ends at its first fault
pub fn read(file: &str, text: &str) -> Result<(Job, Vec<Diagnostic>), Failure> {
    let (job, diags) = read_partly(file, text)?;
    if has_error(&diags) {
        Err(Failure(diags))
    } else {
        Ok((job, diags))
    }
}

/// Reads a job as far as it can be read: what is at fault has its default, and stands in the
/// diagnostics. For those who want to say everything that is wrong, their own part included.
///
/// # Errors
///
/// a text that is not TOML at all
pub fn read_partly(file: &str, text: &str) -> Result<(Job, Vec<Diagnostic>), Failure> {
    let mut root = Table::parse(file, text)?;
    let mut diags = Vec::new();
    let (name, units, dig_day) = read_job(file, &mut root, &mut diags);
    root.set_units(units);
    let soil = read_soil(&mut root, &mut diags);
    let surveys = survey::read_surveys(file, &mut root, &mut diags);
    let features = read_features(&mut root, &mut diags);
    let job = Job {
        file: file.to_string(),
        input: Input::of(file, text.as_bytes()),
        name,
        units,
        soil,
        surveys: surveys.own,
        imports: surveys.imports,
        control: control::read_control(&mut root, &mut diags),
        strikes: survey::read_strikes(&mut root, &mut diags),
        ground: read_ground(&mut root, &mut diags),
        gates: access::read_gates(&mut root, &features, &mut diags),
        routes: access::read_routes(&mut root, &mut diags),
        features,
        keep_offs: read_keep_offs(&mut root, &mut diags),
        areas: read_areas(&mut root, &mut diags),
        dig_day,
        sections: read_sections(&mut root, &mut diags),
        limits: read_limits(&mut root, &mut diags),
    };
    if let Some(at) = root.discard("view") {
        diags.push(Diagnostic::note("not-used-yet", "views are not used yet").at(at));
    }
    root.finish(&mut diags);
    // People work through the file from its top; sorting is stable, so one line keeps its order.
    diags.sort_by_key(|diag| diag.at.first().map_or(0, |at| at.line));
    Ok((job, diags))
}

/// `[job]`: the name, the unit everything else is read in, the day of the first dig.
fn read_job(
    file: &str,
    root: &mut Table,
    diags: &mut Vec<Diagnostic>,
) -> (String, LengthUnit, Option<(String, At)>) {
    let fallback = ("Unnamed job".to_string(), LengthUnit::Metre, None);
    let there = root.has("job");
    let Some(mut table) = root.table("job", diags) else {
        if !there {
            diags.push(
                Diagnostic::error("missing-key", "the job has no [job]")
                    .at(At::file(file))
                    .help(
                        "begin the file with\n    [job]\n    name = \"Garden\"\n    \
                     units = \"ft\"    # ft, us-ft or m",
                    ),
            );
        }
        return fallback;
    };
    let named = table.has("name");
    let name = read_name(&mut table, diags).unwrap_or_else(|| {
        if !named {
            diags.push(
                Diagnostic::note(
                    "default-name",
                    "the job has no name; sheets say \"Unnamed job\"",
                )
                .at(table.at())
                .help("write for example name = \"Garden\""),
            );
        }
        fallback.0
    });
    let units = if table.has("units") {
        read_units("units", &mut table, diags)
    } else {
        let error = table.missing("units", "\"ft\"");
        diags.push(error.help("write units = \"ft\", \"us-ft\" (US survey feet) or \"m\""));
        None
    };
    let dig_day = read_day("dig", &mut table, diags);
    table.finish(diags);
    (name, units.unwrap_or(fallback.1), dig_day)
}

/// A day, as `"2026-05-31"`.
fn read_day(key: &str, table: &mut Table, diags: &mut Vec<Diagnostic>) -> Option<(String, At)> {
    let (text, at) = table.text(key, diags)?;
    if crate::units::days_since_1970(&text).is_some() {
        return Some((text, at));
    }
    diags.push(
        Diagnostic::error("bad-day", format!("`{key}` is no day"))
            .at(at)
            .help("write year, month and day, for example \"2026-05-31\""),
    );
    None
}

/// A unit of length by its short name.
fn read_units(key: &str, table: &mut Table, diags: &mut Vec<Diagnostic>) -> Option<LengthUnit> {
    let (index, _) = table.choice(key, &LengthUnit::NAMES, diags)?;
    LengthUnit::from_name(LengthUnit::NAMES[index])
}

/// A `name` that fits on one line of a sheet.
fn read_name(table: &mut Table, diags: &mut Vec<Diagnostic>) -> Option<String> {
    let (name, at) = table.text("name", diags)?;
    let trimmed = name.trim();
    if trimmed.is_empty() || trimmed.contains(char::is_control) {
        let message = "a name is one line of text that is not empty";
        diags.push(
            Diagnostic::error("bad-name", message)
                .at(at)
                .help("write for example name = \"Pond\""),
        );
        return None;
    }
    Some(trimmed.to_string())
}

/// The name of an entry, or its kind and number, which is said in a note.
fn name_or_default(
    table: &mut Table,
    default: impl FnOnce() -> String,
    diags: &mut Vec<Diagnostic>,
) -> String {
    let given = table.has("name");
    if let Some(name) = read_name(table, diags) {
        return name;
    }
    let name = default();
    if !given {
        let message = format!("{} has no name and is called \"{name}\"", table.title());
        diags.push(
            Diagnostic::note("default-name", message)
                .at(At {
                    text: String::new(),
                    ..table.at()
                })
                .help("give it a name that the crew will understand"),
        );
    }
    table.set_name(&name);
    name
}

/// A value refused unless it is above zero.
fn positive(key: &str, value: Option<(f64, At)>, diags: &mut Vec<Diagnostic>) -> Option<f64> {
    let (value, at) = value?;
    if value > 0.0 {
        return Some(value);
    }
    let message = format!("`{key}` must be more than 0");
    diags.push(
        Diagnostic::error("bad-range", message)
            .at(at)
            .help("leave the key out if it is not known"),
    );
    None
}

/// A length above zero, metres.
fn positive_m(key: &str, table: &mut Table, diags: &mut Vec<Diagnostic>) -> Option<f64> {
    let value = table.length_m(key, diags);
    positive(key, value, diags)
}

fn read_soil(root: &mut Table, diags: &mut Vec<Diagnostic>) -> SoilSpec {
    let Some(mut table) = root.table("soil", diags) else {
        return SoilSpec::default();
    };
    let foot = table.units().is_foot();
    // As in ordering soil, both feet mean the international one: they differ by 6 parts in a
    // million of a load that is heaped by eye.
    let (barrow_unit_m3, weight_unit_kg) = if foot {
        (M3_PER_FT3, KG_PER_LB)
    } else {
        (1.0, 1.0)
    };
    let truck_unit_m3 = table.units().volume_m3();
    let mut load = |key: &str, unit: f64, table: &mut Table| {
        let value = table.number(key, diags);
        positive(key, value, diags).map(|value| value * unit)
    };
    let barrow_m3 = load("barrow_volume", barrow_unit_m3, &mut table);
    let barrow_kg = load("barrow_weight", weight_unit_kg, &mut table);
    let truck_m3 = load("truck_volume", truck_unit_m3, &mut table);
    let truck_kg = load("truck_weight", weight_unit_kg, &mut table);
    let bank_kg_m3 = load("weight", weight_unit_kg / barrow_unit_m3, &mut table);
    let friction_degrees = table.number("friction_degrees", diags);
    if let Some((degrees, at)) = &friction_degrees
        && !(10.0..=50.0).contains(degrees)
    {
        diags.push(
            Diagnostic::error(
                "bad-friction",
                format!("no soil has a friction angle of {degrees} degrees"),
            )
            .at(at.clone())
            .help("clay lies at about 19 to 28 degrees, sand at 28 to 34, gravel at 34 to 38; leave it out for a range by class"),
        );
    }
    let soil = SoilSpec {
        kind: table.text("kind", diags),
        loose_per_bank: read_volume_ratio("loose_per_bank", "1.25", &mut table, diags),
        tamped_per_bank: read_volume_ratio("tamped_per_bank", "0.90", &mut table, diags),
        barrow_m3,
        barrow_kg,
        truck_m3,
        truck_kg,
        classified: table
            .choice("classified", &DigType::NAMES, diags)
            .map(|(index, at)| (DigType::ALL[index], at)),
        strength_pa: read_strength(&mut table, diags),
        open_hours: {
            let hours = table.number("open_hours", diags);
            positive("open_hours", hours, diags)
        },
        friction_degrees,
        bank_kg_m3,
    };
    table.finish(diags);
    soil
}

/// The strength of soil, in tons a square foot or kilopascals.
fn read_strength(table: &mut Table, diags: &mut Vec<Diagnostic>) -> Option<f64> {
    let units = [("unconfined_tsf", PA_PER_TSF), ("unconfined_kpa", 1000.0)];
    let keys = units.map(|(key, _)| key);
    if !keys.iter().any(|key| table.has(key)) {
        table.expect(&keys);
        return None;
    }
    let key = table.one_of(&keys, "unconfined_tsf = 1.0", diags)?;
    let unit_pa = units.iter().find(|(k, _)| *k == key)?.1;
    let value = table.number(key, diags);
    positive(key, value, diags).map(|value| value * unit_pa)
}

/// A volume for one of bank.
fn read_volume_ratio(
    key: &str,
    example: &str,
    table: &mut Table,
    diags: &mut Vec<Diagnostic>,
) -> Option<f64> {
    let (value, at) = table.number(key, diags)?;
    let (low, high) = VOLUME_RATIOS;
    if (low..=high).contains(&value) {
        return Some(value);
    }
    let message =
        format!("`{key}` lies between {low} and {high}: it is the volume that one of bank becomes");
    diags.push(Diagnostic::error("bad-range", message).at(at).help(format!(
        "write for example {key} = {example}, not a percentage"
    )));
    None
}

fn read_ground(root: &mut Table, diags: &mut Vec<Diagnostic>) -> GroundSpec {
    let Some(mut table) = root.table("ground", diags) else {
        return GroundSpec::default();
    };
    let ground = GroundSpec {
        outline: table.places("outline", diags),
        holes: table.place_lists("holes", diags).unwrap_or_default().0,
        no_data: table.place_lists("no_data", diags).unwrap_or_default().0,
        breaklines: table.place_lists("breaklines", diags).unwrap_or_default().0,
        max_edge_m: positive_m("max_edge", &mut table, diags),
        duplicates: match table.choice("duplicates", &["refuse", "first", "mean"], diags) {
            Some((1, _)) => Duplicates::First,
            Some((2, _)) => Duplicates::Mean,
            _ => Duplicates::Refuse,
        },
        crossings: match table.choice("crossings", &["refuse", "mean"], diags) {
            Some((1, _)) => Crossings::Mean,
            _ => Crossings::Refuse,
        },
    };
    table.finish(diags);
    ground
}

fn read_features(root: &mut Table, diags: &mut Vec<Diagnostic>) -> Vec<FeatureEntry> {
    let mut features: Vec<FeatureEntry> = Vec::new();
    let tables = root.tables("feature", diags);
    // Names that are given win over those made up here, wherever they stand in the file.
    let given: Vec<String> = tables
        .iter()
        .map(|table| table.at().text.trim().to_string())
        .collect();
    for mut table in tables {
        let line = At {
            text: String::new(),
            ..table.at()
        };
        if !table.has("kind") {
            diags.push(table.missing("kind", "\"basin\""));
        }
        let kind = table.text("kind", diags).map(|(kind, _)| kind);
        let word = kind
            .as_deref()
            .filter(|kind| !kind.trim().is_empty())
            .unwrap_or("feature");
        let word = printable(word);
        let number = features
            .iter()
            .filter(|feature| Some(&feature.kind) == kind.as_ref())
            .count()
            + 1;
        let default = || {
            let taken = |name: &String| {
                given.contains(name) || features.iter().any(|feature| feature.name == *name)
            };
            let mut name = format!("{word} {number}");
            let mut next = number;
            while taken(&name) {
                next += 1;
                name = format!("{word} {next}");
            }
            name
        };
        let name = name_or_default(&mut table, default, diags);
        let at = At {
            text: name.clone(),
            ..line
        };
        if let Some(other) = features.iter().find(|feature| feature.name == name) {
            let message = format!("two features are called \"{}\"", printable(&name));
            diags.push(
                Diagnostic::error("duplicate-name", message)
                    .at(at.clone())
                    .at(other.at.clone())
                    .help("give each its own name: sheets and soil plans go by it"),
            );
        }
        // An entry without a kind is kept for the names after it; its error ends the reading.
        features.push(FeatureEntry {
            kind: kind.unwrap_or_default(),
            name,
            at,
            table,
        });
    }
    features
}

fn read_keep_offs(root: &mut Table, diags: &mut Vec<Diagnostic>) -> Vec<KeepOff> {
    let mut keep_offs = Vec::new();
    for (index, mut table) in root.tables("keep-off", diags).into_iter().enumerate() {
        let name = name_or_default(&mut table, || format!("keep-off {}", index + 1), diags);
        let kind = match table.choice("kind", &KeepOffKind::NAMES, diags) {
            Some((0, _)) => KeepOffKind::Boundary,
            Some((1, _)) => KeepOffKind::Building,
            Some((2, _)) => KeepOffKind::Roots,
            Some((3, _)) => KeepOffKind::Service,
            _ => KeepOffKind::Other,
        };
        let at = table.at();
        let only = |key: &str, owner: bool, what: &str, table: &mut Table, diags: &mut Vec<_>| {
            if !owner && let Some(at) = table.discard(key) {
                diags.push(
                    Diagnostic::error("one-of", format!("`{key}` goes with {what} only"))
                        .at(at)
                        .help("take it out, or give the keep-off its kind"),
                );
            }
            owner
        };
        let mut of_kind = |key, kinds: &[KeepOffKind], what, table: &mut Table| {
            only(key, kinds.contains(&kind), what, table, diags)
        };
        let stands = [KeepOffKind::Building, KeepOffKind::Other];
        let line = [KeepOffKind::Service];
        let has_footing = of_kind("footing", &stands, "what stands on one", &mut table);
        let is_line = ["service", "hand_dig", "notified"]
            .map(|key| of_kind(key, &line, "a buried line", &mut table))
            .contains(&true);
        let footing = has_footing.then(|| table.level("footing", diags)).flatten();
        let (service, hand_dig_m, notified) = match is_line {
            true => (
                table.text("service", diags).map(|(text, _)| text),
                positive_m("hand_dig", &mut table, diags),
                read_day("notified", &mut table, diags),
            ),
            false => (None, None, None),
        };
        if let Some(shape) = read_shape(kind, &mut table, diags) {
            keep_offs.push(KeepOff {
                name,
                kind,
                shape,
                footing,
                service,
                hand_dig_m,
                notified,
                at,
            });
        }
        table.finish(diags);
    }
    keep_offs
}

fn read_areas(root: &mut Table, diags: &mut Vec<Diagnostic>) -> Vec<UsedArea> {
    let mut areas = Vec::new();
    for (index, mut table) in root.tables("area", diags).into_iter().enumerate() {
        let name = name_or_default(&mut table, || format!("area {}", index + 1), diags);
        let at = table.at();
        for (key, example) in [("use", "\"mown\""), ("area", "\"code:lawn\"")] {
            if !table.has(key) {
                diags.push(table.missing(key, example));
            }
        }
        let used = table.choice("use", &Use::NAMES, diags);
        let area = table.places("area", diags);
        if let (Some((index, _)), Some(area)) = (used, area) {
            areas.push(UsedArea {
                name,
                used: Use::ALL[index],
                area,
                at,
            });
        }
        table.finish(diags);
    }
    areas
}

/// One of a line, a band along a line, an area, a circle.
fn read_shape(
    kind: KeepOffKind,
    table: &mut Table,
    diags: &mut Vec<Diagnostic>,
) -> Option<KeepOffShape> {
    let example = "line = \"code:fence\", or centre = \"31\" with radius = 6.0";
    let way = table.one_of(&["line", "area", "centre"], example, diags);
    table.expect(&["half_width", "radius"]);
    let circle = ["radius", "trunk_in", "trunk_cm"].map(|key| (key, "centre"));
    for (key, owner) in [("half_width", "line")].into_iter().chain(circle) {
        if way.is_some_and(|way| way != owner)
            && let Some(at) = table.discard(key)
        {
            diags.push(
                Diagnostic::error("one-of", format!("`{key}` goes with `{owner}` only"))
                    .at(at)
                    .help(format!("take it out, or give `{owner}`")),
            );
        }
    }
    match way {
        Some("line") => {
            let banded = table.has("half_width");
            let line = table.places("line", diags);
            let half_width_m = positive_m("half_width", table, diags);
            match (banded, half_width_m) {
                (false, _) => line.map(KeepOffShape::Line),
                (true, half_width_m) => Some(KeepOffShape::Band {
                    line: line?,
                    half_width_m: half_width_m?,
                }),
            }
        }
        Some("area") => table.places("area", diags).map(KeepOffShape::Area),
        Some(_) => {
            let centre = table.place("centre", diags);
            let radius = read_radius(kind, table, diags);
            let (centre, at) = centre?;
            Some(KeepOffShape::Circle {
                centre,
                radius: radius?,
                at,
            })
        }
        None => {
            // The missing or doubled place is one fault; its measures are not another.
            for key in ["half_width", "radius", "trunk_in", "trunk_cm"] {
                table.discard(key);
            }
            None
        }
    }
}

/// The radius of a circle: of roots also by the trunk, in inches or centimetres.
fn read_radius(
    kind: KeepOffKind,
    table: &mut Table,
    diags: &mut Vec<Diagnostic>,
) -> Option<Radius> {
    let trunks = [("trunk_in", INCH_M), ("trunk_cm", 0.01)];
    if kind != KeepOffKind::Roots || !trunks.iter().any(|(key, _)| table.has(key)) {
        if !table.has("radius") {
            diags.push(table.missing("radius", "6.0"));
        }
        return positive_m("radius", table, diags).map(Radius::Given);
    }
    match table.one_of(&["radius", "trunk_in", "trunk_cm"], "trunk_in = 14", diags)? {
        "radius" => positive_m("radius", table, diags).map(Radius::Given),
        key => {
            let value = table.number(key, diags);
            let unit_m = trunks.iter().find(|(k, _)| *k == key)?.1;
            let diameter = positive(key, value, diags)?;
            Some(Radius::OfTrunk(diameter * unit_m))
        }
    }
}

fn read_sections(root: &mut Table, diags: &mut Vec<Diagnostic>) -> Vec<SectionSpec> {
    let mut sections = Vec::new();
    for (index, mut table) in root.tables("section", diags).into_iter().enumerate() {
        let name = name_or_default(&mut table, || format!("section {}", index + 1), diags);
        if !table.has("line") {
            diags.push(table.missing("line", "[\"31\", \"38\"]"));
        }
        if let Some(line) = table.places("line", diags) {
            sections.push(SectionSpec { name, line });
        }
        table.finish(diags);
    }
    sections
}

fn read_limits(root: &mut Table, diags: &mut Vec<Diagnostic>) -> Limits {
    let mut limits = Limits::default();
    let Some(mut table) = root.table("limits", diags) else {
        return limits;
    };
    let mut set = Vec::new();
    if let Some(slope) = read_slope("cut", &mut table, &mut set, diags) {
        limits.cut = Some(slope);
    }
    if let Some(slope) = read_slope("fill", &mut table, &mut set, diags) {
        limits.fill = slope;
    }
    if let Some(slope) = read_slope("temporary", &mut table, &mut set, diags) {
        limits.temporary = slope;
    }
    for (key, target) in [
        ("wall_height", &mut limits.wall_height_m),
        ("shot_height", &mut limits.shot_height_m),
        ("chord", &mut limits.chord_m),
    ] {
        if let Some(value_m) = positive_m(key, &mut table, diags) {
            *target = value_m;
            set.push(key.to_string());
        }
    }
    for key in limits::KEYS {
        let value = match key.kind {
            LimitKind::Slope => {
                read_slope(key.key, &mut table, &mut set, diags).map(|slope| slope.rise_per_run())
            }
            kind => {
                let value = table.number(key.key, diags);
                let value = positive(key.key, value, diags);
                set.extend(value.map(|_| key.key.to_string()));
                value.map(|value| value * kind.si(table.units()))
            }
        };
        if let Some(value) = value {
            limits.set.insert(key.key, value);
        }
    }
    limits.set_by_user = set;
    table.finish(diags);
    limits
}

/// A slope by one of its three keys, whose name is added to `set`.
fn read_slope(
    what: &str,
    table: &mut Table,
    set: &mut Vec<String>,
    diags: &mut Vec<Diagnostic>,
) -> Option<Slope> {
    let keys = ["run_per_rise", "percent", "degrees"].map(|notation| format!("{what}_{notation}"));
    let names = [&*keys[0], &*keys[1], &*keys[2]];
    if !names.iter().any(|key| table.has(key)) {
        table.expect(&names);
        return None;
    }
    let key = table.one_of(&names, "", diags)?;
    let (value, at) = table.number(key, diags)?;
    let slope = if key == names[0] {
        Slope::from_run_per_rise(value)
    } else if key == names[1] {
        Slope::from_percent(value)
    } else {
        // The tangent comes back from the other side beyond a right angle.
        Slope::from_degrees(if (0.0..90.0).contains(&value) {
            value
        } else {
            f64::NAN
        })
    };
    let (low, high) = LIMIT_SLOPES;
    if !(low..=high).contains(&slope.rise_per_run()) {
        let message = format!("`{key}` is no slope that can be a limit");
        diags.push(
            Diagnostic::error("bad-range", message).at(at).help(
                "give between 0.01 and 1000 across for 1 up, 0.1 and 10000 percent, or 0.06 and 89.4 degrees",
            ),
        );
        return None;
    }
    set.push(key.to_string());
    Some(slope)
}

#[cfg(test)]
mod tests;
