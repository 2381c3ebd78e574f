//! Rules that the records themselves answer: the survey behind the ground, and how soil is
//! counted.

use crate::geom::distance_m;
use crate::job::ImportKind;
use crate::survey::SightKind;

use super::{Checked, Context, Finding, Measure, Severity};

pub(super) fn check(context: &Context, out: &mut Checked) {
    slips(context, out);
    sights(context, out);
    spacing(context, out);
    clouds(context, out);
    units(context, out);
    soil(context, out);
}

/// What can have gone wrong in a book that does not close (SV-2).
fn slips(context: &Context, out: &mut Checked) {
    let books = &context.survey.books;
    if books.is_empty() {
        out.missing("SV-2", "no level book");
    }
    for book in books {
        let words = match book.suspects.first() {
            Some(first) => format!(
                "{}: readings that can be the mistake: {}, the likeliest line {}",
                book.file,
                book.suspects.len(),
                first.line
            ),
            None => format!("{}: no reading is suspected", book.file),
        };
        out.looked("SV-2", words);
    }
}

/// Longest sight, and longest difference of back- and foresights of a set-up, metres (common
/// practice, no source): 150 ft and 30 ft.
const LONGEST_SIGHT_M: f64 = 150.0 * 0.3048;
const UNEVEN_M: f64 = 30.0 * 0.3048;

/// Length of sights (SV-3).
fn sights(context: &Context, out: &mut Checked) {
    let show = context.show();
    let books = &context.survey.books;
    let is_booked = |b: &&crate::survey::LevelBook| b.longest_sight_m.is_some();
    if !books.iter().any(|b| is_booked(&b)) {
        out.missing("SV-3", "no level book with the length of its sights");
        return;
    }
    for book in books.iter().filter(is_booked) {
        let longest = book.longest_sight_m.unwrap_or(0.0);
        let mut uneven: Option<(f64, &str)> = None;
        for setup in &book.setups {
            let of = |kind: SightKind| {
                let mine = book
                    .sights
                    .iter()
                    .filter(|s| s.setup == setup.name && s.kind == kind);
                mine.filter_map(|s| s.distance_m).collect::<Vec<f64>>()
            };
            for back in of(SightKind::Backsight) {
                for fore in of(SightKind::Foresight) {
                    let by = (back - fore).abs();
                    if uneven.is_none_or(|(most, _)| by > most) {
                        uneven = Some((by, &setup.name));
                    }
                }
            }
        }
        let by = uneven.map_or(0.0, |u| u.0);
        out.looked(
            "SV-3",
            format!(
                "{}: longest sight {}, back- and foresight differ by {} at most",
                book.file,
                show.length(longest),
                show.length(by)
            ),
        );
        if longest <= LONGEST_SIGHT_M && by <= UNEVEN_M {
            continue;
        }
        let (value, limit, words) = if by > UNEVEN_M {
            let setup = uneven.map_or("", |u| u.1);
            (
                by,
                UNEVEN_M,
                format!(
                    "set-up {setup}: backsight and foresight differ by {}",
                    show.length(by)
                ),
            )
        } else {
            (
                longest,
                LONGEST_SIGHT_M,
                format!("the longest sight is {}", show.length(longest)),
            )
        };
        out.find(Finding {
            ids: &["SV-3"],
            place: book.file.clone(),
            measured: Some(Measure { value, unit: "m" }),
            limit: Some(Measure { value: limit, unit: "m" }),
            limit_from: "common practice, no source".to_owned(),
            cure: format!("set up {} nearer to the middle: a sight line that is not level shows in the difference", show.length((value - limit) / 2.0)),
            ..Finding::new("sights", Severity::Warn, format!("{}: {words}", book.file))
        });
    }
}

/// How far points lie apart against what is dug (SV-5).
fn spacing(context: &Context, out: &mut Checked) {
    let terrain = context.terrain;
    let count = terrain.num_measured();
    let area = terrain.surface.twice_area_nm2() as f64 / 2.0 / 1.0e18;
    if count == 0 || area <= 0.0 {
        out.missing("SV-5", "there is no ground");
        return;
    }
    let show = context.show();
    let apart = (area / count as f64).sqrt();
    out.looked(
        "SV-5",
        format!("points lie {} apart on average", show.length(apart)),
    );
    for (extent, feature) in context.extents.iter().zip(&context.design.features) {
        let laid = &feature.laid;
        let Some(whole) = extent
            .whole
            .as_ref()
            .filter(|_| laid.core_is_outline && !feature.is_strip())
        else {
            continue;
        };
        let half = whole.facts.perimeter_m / 2.0;
        let across = (half - (half * half - 4.0 * whole.facts.area_m2).max(0.0).sqrt()) / 2.0;
        let middle = whole.facts.lowest.p;
        let near = terrain.surface.vertices()[..count.min(terrain.surface.vertices().len())].iter();
        let reach = across.max(apart);
        let here = near.filter(|v| distance_m(v.p, middle) <= reach).count();
        // Spacing where the feature lies, where there is enough to tell it.
        let local = match here {
            0 => apart.max(reach),
            n => (std::f64::consts::PI * reach * reach / n as f64).sqrt(),
        };
        if local <= across / 2.0 {
            continue;
        }
        out.find(Finding {
            ids: &["SV-5"],
            feature: Some(feature.name.clone()),
            place: context.place(middle),
            at_m: Some(context.absolute(middle)),
            measured: Some(Measure {
                value: local,
                unit: "m",
            }),
            limit: Some(Measure {
                value: across / 2.0,
                unit: "m",
            }),
            limit_from: "half the feature, common practice, no source".to_owned(),
            cure: format!(
                "shoot points {} apart round it before digging",
                show.length(across / 2.0)
            ),
            ..Finding::new(
                "spacing",
                Severity::Note,
                format!(
                    "points lie {} apart where {} is {} across",
                    show.length(local),
                    feature.name,
                    show.length(across)
                ),
            )
        });
    }
}

/// Clouds are for planning (SV-6), and what lies outside the survey is counted in nothing (SV-4).
fn clouds(context: &Context, out: &mut Checked) {
    let clouds = context
        .job
        .imports
        .iter()
        .filter(|i| i.kind == ImportKind::Cloud);
    let files: Vec<&str> = clouds.map(|i| i.file.as_str()).collect();
    if files.is_empty() {
        out.missing("SV-6", "no cloud is used");
    } else {
        out.looked("SV-6", format!("clouds: {}", files.join(", ")));
        out.find(Finding {
            ids: &["SV-6"],
            place: files.join(", "),
            limit_from: "0.20 m at 95 percent for quality level 2 of a national lidar specification, from memory".to_owned(),
            cure: "set lips, rims and walls out with a level, from the benchmark".to_owned(),
            ..Finding::new(
                "cloud",
                Severity::Note,
                "the ground comes from a cloud, at least in part: good for planning soil, not for lips and walls",
            )
        });
    }
    let off = |f: &&Finding| f.rule == "off-survey";
    match out.findings.iter().filter(off).count() {
        _ if context.design.features.is_empty() => out.missing("SV-4", "nothing is laid"),
        0 => out.looked("SV-4", "every feature ends inside the survey"),
        n => out.looked("SV-4", format!("features that run over its edge: {n}")),
    }
}

/// Foot, rod and datum (SV-7).
fn units(context: &Context, out: &mut Checked) {
    let mut words = vec![format!("the job is in {}", context.job.units.name())];
    for book in &context.survey.books {
        let mut rods: Vec<&str> = book.setups.iter().map(|s| s.rod.as_str()).collect();
        rods.dedup();
        words.push(format!("{}: rod {}", book.file, rods.join(", ")));
    }
    match &context.survey.benchmark {
        Some(mark) => words.push(format!("levels count from {}", mark.name)),
        None => words.push("levels are as the files give them, without a benchmark".to_owned()),
    }
    out.looked("SV-7", words.join("; "));
}

/// How soil is counted: three states, ranges, loads by room and by weight (HA-1 to HA-6).
fn soil(context: &Context, out: &mut Checked) {
    let soil = context.soil;
    out.looked(
        "HA-1",
        "bank, loose and tamped are three volumes everywhere",
    );
    let range = |r: crate::earthwork::Range| format!("{:.2} to {:.2}", r.low, r.high);
    out.looked(
        "HA-2",
        format!(
            "{}: {} loose and {} tamped for one of bank",
            soil.name,
            range(soil.loose_per_bank),
            range(soil.tamped_per_bank)
        ),
    );
    let loose = soil.loose_kg_m3();
    let kg = |kg: f64| match context.job.units.is_foot() {
        true => format!("{:.0} lb", kg / crate::units::KG_PER_LB),
        false => format!("{kg:.0} kg"),
    };
    let full = soil.barrow_m3 * loose;
    out.looked(
        "HA-3",
        format!(
            "a full barrow of this soil weighs about {}, loads of {} are counted",
            kg(full),
            kg(full.min(soil.barrow_kg))
        ),
    );
    out.looked(
        "HA-4",
        format!(
            "{} of this soil in place weighs {}",
            context.show().volume(context.job.units.volume_m3()),
            kg(context.job.units.volume_m3() * soil.bank_kg_m3)
        ),
    );
    let by_weight = soil.truck_kg / loose < soil.truck_m3;
    out.looked(
        "HA-5",
        if by_weight {
            "trucks are counted by weight, which runs out before room"
        } else {
            "trucks are counted by room, which runs out before weight"
        },
    );
    out.looked("HA-6", format!("{} in a berm: {}", soil.name, soil.in_berm));
}
