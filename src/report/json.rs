//! The report for machines: SI units always, the unit in every key.
//!
//! Takes an outcome, gives a JSON value with stable keys. `null` means not computed; nothing at
//! all is `0` or an empty list.

use serde_json::{Map, Value, json};

use super::imports::imports_json;
use super::ties::ties_json;
use super::words;
use crate::checks::Severity;
use crate::design::Feature;
use crate::drawing::is_off_survey;
use crate::earthwork::{Extent, FeatureVolume, Soil, Volumes};
use crate::geom::{Origin, P3, distance_m};
use crate::outcome::Outcome;
use crate::section::{Section, StreamProfile};
use crate::surface::{Extreme, Profile, Rule};
use crate::survey::Struck;
use crate::terrain::{NotTrusted, Trust};
use crate::units::Slope;

/// Number of this set of keys; it changes when a key changes its meaning or goes.
pub const SCHEMA: u32 = 1;

/// The whole outcome as JSON.
///
/// # Units
///
/// SI, named in every key; coordinates are absolute, in metres
pub fn json(outcome: &Outcome) -> Value {
    let origin = outcome.terrain.origin;
    let mut value = json!({
        "schema": SCHEMA,
        "program": env!("CARGO_PKG_NAME"),
        "program_version": env!("CARGO_PKG_VERSION"),
        "date": outcome.date,
        "job": {
            "name": outcome.job.name,
            "file": outcome.job.file,
            "units": outcome.job.units,
        },
        "inputs": outcome.inputs,
        "soil": soil(&outcome.soil),
        "survey": {
            "num_shots": outcome.survey.shots.len(),
            "benchmark": outcome.survey.benchmark,
            "books": outcome.survey.books,
            "struck": outcome.survey.struck.iter().map(|s| struck(s, origin)).collect::<Vec<Value>>(),
        },
        "ground": ground(outcome),
        "features": outcome
            .design
            .features
            .iter()
            .enumerate()
            .map(|(number, f)| feature(outcome, number, f))
            .collect::<Vec<Value>>(),
        "finished": volumes(&outcome.finished),
        "to_build": volumes(&outcome.to_build),
        "layers": outcome.layers,
        "works": outcome.works,
        "lifts": outcome
            .lifts
            .iter()
            .map(|(feature, lifts)| json!({ "feature": feature, "lifts": lifts }))
            .collect::<Vec<Value>>(),
        "second_method": second(outcome),
        "balance": outcome.balance,
        "counts": counts(outcome),
        "findings": outcome.findings,
        "rules": outcome.rules,
        "walls": outcome.walls,
        "drainage": outcome.drainage,
        "wall_works": outcome.wall_works,
        "access": outcome.access,
        "cautions": outcome.cautions,
        "sections": outcome
            .sections
            .iter()
            .map(|s| section(s, origin))
            .collect::<Vec<Value>>(),
        "profiles": outcome
            .profiles
            .iter()
            .map(|p| stream(p, origin))
            .collect::<Vec<Value>>(),
        "diagnostics": outcome.diagnostics,
    });
    if let Some(survey) = value["survey"].as_object_mut() {
        survey.extend(ties_json(&outcome.survey));
        survey.extend(imports_json(&outcome.survey));
    }
    without_minus_zero(&mut value);
    value
}

/// Turns minus zero, which sums of nothing give, into zero.
pub(super) fn without_minus_zero(value: &mut Value) {
    match value {
        Value::Number(number) if number.as_f64() == Some(0.0) && number.is_f64() => {
            *value = json!(0.0);
        }
        Value::Array(list) => list.iter_mut().for_each(without_minus_zero),
        Value::Object(map) => map.values_mut().for_each(without_minus_zero),
        _ => {}
    }
}

fn ground(outcome: &Outcome) -> Value {
    let terrain = &outcome.terrain;
    let mut ground = super::words::ground(outcome).json();
    let no_data: Vec<f64> = terrain.no_data.iter().map(|area| area.area_m2).collect();
    ground.shift_insert(0, "num_shots".to_owned(), terrain.num_shots.into());
    for (key, value) in [
        ("num_holes", terrain.holes.len().into()),
        ("no_data_m2", no_data.into()),
        ("trimmed_m2", terrain.trimmed_m2.into()),
        ("num_breaklines", terrain.breaklines.len().into()),
        ("height_uncertainty_m", outcome.height_m.into()),
        ("trust", trust(&outcome.trust)),
    ] {
        ground.insert(key.to_owned(), value);
    }
    Value::Object(ground)
}

/// How far the ground is to be trusted; `null` half ranges where that is not computed.
fn trust(trust: &Result<Trust, NotTrusted>) -> Value {
    let map = trust.as_ref().ok();
    json!({
        "share": map.map(|_| Trust::SHARE),
        "checks": map.map(|t| t.checks),
        "mean_half_range_80_m": map.map(|t| t.mean_m),
        "grades": map.map(|t| {
            t.grades
                .iter()
                .map(|g| {
                    let limit_m = g.grade.limit_m();
                    json!({
                        "grade": g.grade,
                        "within_m": limit_m.is_finite().then_some(limit_m),
                        "area_m2": g.area_m2,
                    })
                })
                .collect::<Vec<Value>>()
        }),
        "shoot_next": map.map(|t| &t.shoot_next),
        "why_not_computed": trust.as_ref().err().map(ToString::to_string),
    })
}

/// The same in single values, for an answer of one row.
///
/// # Units
///
/// SI, named in every key; `null` where it is not computed
pub fn trust_row(trust: &Result<Trust, NotTrusted>) -> Map<String, Value> {
    let map = trust.as_ref().ok();
    let worst = map.and_then(Trust::worst);
    let pairs: [(&str, Value); 5] = [
        ("trust_checks", json!(map.map(|t| t.checks))),
        ("mean_half_range_80_m", json!(map.map(|t| t.mean_m))),
        (
            "worst_half_range_80_m",
            json!(worst.map(|w| w.half_range_80_m)),
        ),
        ("worst_x_m", json!(worst.map(|w| w.x_m))),
        ("worst_y_m", json!(worst.map(|w| w.y_m))),
    ];
    pairs
        .map(|(key, value)| (key.to_owned(), value))
        .into_iter()
        .collect()
}

fn counts(outcome: &Outcome) -> Value {
    let counts: Map<String, Value> = Severity::ALL
        .into_iter()
        .map(|s| (s.word().replace(' ', "_"), outcome.count(s).into()))
        .collect();
    Value::Object(counts)
}

fn soil(soil: &Soil) -> Value {
    json!({
        "name": soil.name,
        "is_named_by_job": soil.is_named,
        "bank_kg_m3": soil.bank_kg_m3,
        "loose_per_bank": soil.loose_per_bank,
        "tamped_per_bank": soil.tamped_per_bank,
        "temporary_rise_per_run": soil.temporary.rise_per_run(),
        "permanent_rise_per_run": soil.permanent.map(Slope::rise_per_run),
        "in_berm": soil.in_berm,
        "barrow_m3": soil.barrow_m3,
        "barrow_kg": soil.barrow_kg,
        "truck_m3": soil.truck_m3,
        "truck_kg": soil.truck_kg,
        "class": soil.class,
        "friction_degrees": soil.friction_degrees,
    })
}

fn volumes(v: &Volumes) -> Value {
    json!({
        "cut_m3": v.cut_m3,
        "fill_m3": v.fill_m3,
        "net_m3": v.cut_m3 - v.fill_m3,
        "strip_m3": v.strip_m3,
        "other_fill_m3": v.other_fill_m3,
        "cut_area_m2": v.cut_area_m2,
        "fill_area_m2": v.fill_area_m2,
    })
}

/// Sizes; `null` where nothing of it is left.
fn extent(extent: Option<&Extent>, origin: Origin) -> Value {
    let Some(Extent { facts, extremes }) = extent else {
        return Value::Null;
    };
    let place = |at: P3| {
        json!({
            "x_m": at.p.x_m() + origin.x_m as f64,
            "y_m": at.p.y_m() + origin.y_m as f64,
            "z_m": at.z,
        })
    };
    let far = |extreme: Option<Extreme>| match extreme {
        Some(extreme) => json!({ "by_m": extreme.by_m, "at": place(extreme.at) }),
        None => Value::Null,
    };
    json!({
        "area_m2": facts.area_m2,
        "surface_area_m2": facts.surface_area_m2,
        "perimeter_m": facts.perimeter_m,
        "lowest": place(facts.lowest),
        "highest": place(facts.highest),
        "deepest_cut": far(extremes.and_then(|e| e.deepest_cut)),
        "highest_fill": far(extremes.and_then(|e| e.highest_fill)),
    })
}

fn feature(outcome: &Outcome, number: usize, feature: &Feature) -> Value {
    let volume = |v: &Volumes| v.features.get(number).map(by_part);
    let laid = &feature.laid;
    let origin = outcome.terrain.origin;
    let sizes = outcome.extents.get(number);
    let parts: Map<String, Value> = sizes
        .iter()
        .flat_map(|sizes| &sizes.parts)
        .map(|(name, part)| (name.clone(), extent(Some(part), origin)))
        .collect();
    json!({
        "name": feature.name,
        "kind": feature.kind,
        "is_dug": laid.rule == Rule::Lower,
        "stands": laid.stands,
        "side_rise_per_run": laid.side_rise_per_run,
        "settlement_share": laid.settlement,
        "runs_out_m": feature.runs_out.iter().map(|[a, b]| distance_m(a.p, b.p)).sum::<f64>(),
        "finished": volume(&outcome.finished),
        "to_build": volume(&outcome.to_build),
        "size": extent(sizes.and_then(|s| s.whole.as_ref()), origin),
        "part_sizes": parts,
        "lines": sizes.map(|s| &s.lines),
        "stops": feature.stops,
    })
}

fn by_part(v: &FeatureVolume) -> Value {
    json!({
        "cut_m3": v.cut_m3,
        "fill_m3": v.fill_m3,
        "cut_area_m2": v.cut_area_m2,
        "fill_area_m2": v.fill_area_m2,
        "refill_m3": v.refill_m3,
        "parts": v.parts,
    })
}

fn second(outcome: &Outcome) -> Value {
    let Some(second) = &outcome.second else {
        return Value::Null;
    };
    let exact = &outcome.to_build;
    json!({
        "num_sections": second.sections,
        "spacing_m": second.spacing_m,
        "cut_end_area_m3": second.cut_end_area_m3,
        "fill_end_area_m3": second.fill_end_area_m3,
        "cut_prismoidal_m3": second.cut_prismoidal_m3,
        "fill_prismoidal_m3": second.fill_prismoidal_m3,
        "cut_end_area_gap": words::gap(second.cut_end_area_m3, exact.cut_m3),
        "fill_end_area_gap": words::gap(second.fill_end_area_m3, exact.fill_m3),
        "cut_prismoidal_gap": words::gap(second.cut_prismoidal_m3, exact.cut_m3),
        "fill_prismoidal_gap": words::gap(second.fill_prismoidal_m3, exact.fill_m3),
        "why": words::why_gap(outcome),
    })
}

/// Points of a profile, a list for each run.
/// A shot that was taken out.
fn struck(struck: &Struck, origin: Origin) -> Value {
    let shot = &struck.shot;
    json!({
        "name": shot.name,
        "x_m": shot.p.x_m() + origin.x_m as f64,
        "y_m": shot.p.y_m() + origin.y_m as f64,
        "z_m": shot.z_m,
        "code": shot.code,
        "why": struck.why,
        "at": shot.at,
    })
}

fn points(profile: &Profile, origin: Origin) -> Value {
    profile
        .runs
        .iter()
        .map(|run| {
            run.iter()
                .map(|p| {
                    json!({
                        "distance_m": p.distance_m,
                        "x_m": p.x_m + origin.x_m as f64,
                        "y_m": p.y_m + origin.y_m as f64,
                        "z_m": p.z_m,
                    })
                })
                .collect::<Value>()
        })
        .collect()
}

fn section(section: &Section, origin: Origin) -> Value {
    json!({
        "name": section.name,
        "length_m": section.length_m,
        // Off the survey nothing is computed.
        "cut_m2": (!is_off_survey(section)).then_some(section.cut_m2),
        "fill_m2": (!is_off_survey(section)).then_some(section.fill_m2),
        "line_m": section
            .line
            .iter()
            .map(|p| [p.x_m() + origin.x_m as f64, p.y_m() + origin.y_m as f64])
            .collect::<Vec<[f64; 2]>>(),
        "ground": points(&section.ground, origin),
        "finished": points(&section.design, origin),
        "to_build": section.built.as_ref().map(|b| points(b, origin)),
    })
}

fn stream(stream: &StreamProfile, origin: Origin) -> Value {
    json!({
        "name": stream.name,
        "ground": points(&stream.ground, origin),
        "finished": points(&stream.design, origin),
        "bed": stream
            .bed
            .iter()
            .map(|(station_m, z_m)| json!({ "station_m": station_m, "z_m": z_m }))
            .collect::<Vec<Value>>(),
    })
}
