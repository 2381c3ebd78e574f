//! What is said of walls that are needed.

use crate::design::KeepOffPlace;
use crate::job::limits;
use crate::units::Slope;

use super::super::wall::{Along, AtLimit, Basis, LOWEST_WALL_M, Wall};
use super::super::{Change, Checked, Context, Finding, Measure, Severity};
use super::HeldRun;
use super::obstacle::stops_earth;
use super::rim::Rim;

/// Rules that speak of a wall that is needed.
const RULES: [&str; 4] = ["WL-1", "WL-2", "WL-3", "WL-9"];

/// Heights that differ by less than this are told once, metres: a hard level.
const SAME_HEIGHT_M: f64 = 0.003;

/// Rules by what a wall passes: over the height to be told of, loaded from above, to be designed,
/// along a boundary.
const IDS: [&[&str]; 16] = [
    &[],
    &["WL-1"],
    &["WL-2"],
    &["WL-1", "WL-2"],
    &["WL-3"],
    &["WL-1", "WL-3"],
    &["WL-2", "WL-3"],
    &["WL-1", "WL-2", "WL-3"],
    &["GR-6", "SV-8"],
    &["WL-1", "GR-6", "SV-8"],
    &["WL-2", "GR-6", "SV-8"],
    &["WL-1", "WL-2", "GR-6", "SV-8"],
    &["WL-3", "GR-6", "SV-8"],
    &["WL-1", "WL-3", "GR-6", "SV-8"],
    &["WL-2", "WL-3", "GR-6", "SV-8"],
    &["WL-1", "WL-2", "WL-3", "GR-6", "SV-8"],
];

/// The finding for a wall.
pub(super) fn needed(context: &Context, number: usize, wall: &Wall) -> Finding {
    let show = context.show();
    let limit = context.job.limits.wall_height_m;
    let passes = |id: &str| usize::from(wall.passes.contains(&id));
    let bits = passes("WL-1")
        + 2 * passes("WL-2")
        + 4 * passes("WL-3")
        + 8 * usize::from(wall.along == Along::Boundary);
    let is_own = (context.job.limits.set_by_user.iter()).any(|k| k == "wall_height");
    let first = wall.stations.first();
    let place = |s: Option<&crate::checks::WallStation>| {
        s.map(|s| show.place(s.x_m, s.y_m)).unwrap_or_default()
    };
    let change = change(context, wall);
    Finding {
        ids: IDS[bits],
        feature: Some(wall.feature.clone()),
        place: format!(
            "wall W{} along \"{}\" from {} to {}",
            number + 1,
            wall.keep_off,
            place(first),
            place(wall.stations.last())
        ),
        at_m: first.map(|s| [s.x_m, s.y_m]),
        measured: Some(Measure {
            value: wall.max_height_m,
            unit: "m",
        }),
        limit: Some(Measure {
            value: limit,
            unit: "m",
        }),
        limit_from: if is_own {
            "your limit, from the bottom of the footing".to_owned()
        } else {
            "4 ft from the bottom of the footing (IRC R105.2 and IBC 105.2; many places say less); yours to change in [limits]".to_owned()
        },
        cure: cure(context, wall, change.as_ref()),
        change,
        caution: Some(4),
        ..Finding::new("no-room", Severity::Warn, sentence(context, wall, is_own))
    }
}

fn sentence(context: &Context, wall: &Wall, is_own: bool) -> String {
    let show = context.show();
    let side = match (wall.along, wall.holds_fill) {
        (Along::Feature, true) => "has no room to slope down before the floor of",
        (_, true) => "has no room to slope down before",
        (_, false) => "has no room to slope up before",
    };
    let why = match (wall.basis, &wall.at_limit) {
        (Basis::AtLimit, Some(limit)) => format!(
            " at its limit slope of {}, and lands there only because it is drawn steeper",
            slope_words(limit)
        ),
        _ => String::new(),
    };
    let over = if wall.passes.contains(&"WL-1") {
        format!(
            ", {} from the bottom of its footing, over {} {}",
            show.length(wall.total_height_m),
            if is_own {
                "your limit of"
            } else {
                "the usual limit of"
            },
            show.length(context.job.limits.wall_height_m)
        )
    } else {
        String::new()
    };
    let mut words = format!(
        "{} {side} \"{}\"{why}: a wall is needed over {}, up to {} high{over}, {} of face",
        wall.feature,
        wall.keep_off,
        show.length(wall.length_m),
        show.length(wall.max_height_m),
        show.area(wall.face_m2)
    );
    if wall.along == Along::Building {
        words += if wall.holds_fill {
            "; without it soil stands that high against the building"
        } else {
            "; without it the ground at the building is dug away that deep"
        };
    }
    let state = if wall.holds_fill { "tamped" } else { "bank" };
    match wall.beyond_m3 {
        _ if wall.is_in_design => words += "; the design stops there in an upright face",
        _ if wall.basis == Basis::AtLimit || wall.along == Along::Feature => {}
        Some(volume) => {
            let volume = show.volume(volume);
            words += &format!("; as drawn, {volume} {state} lies past the line in all");
        }
        None => words += "; how much lies past the line is not computed",
    }
    words += &at_limit(context, wall);
    if wall.passes.contains(&"WL-3") {
        let designed = context.job.limits.get(&limits::DESIGNED_WALL);
        words += &format!(
            "; it holds more than {}, above which a wall must be designed ({})",
            show.length(designed.value),
            designed.from
        );
    }
    if !wall.surcharge.is_empty() {
        words += &format!("; it also carries {}", wall.surcharge.join(", "));
    }
    words
}

/// The same stretch at the limit slope, as a part of the sentence.
fn at_limit(context: &Context, wall: &Wall) -> String {
    let show = context.show();
    if wall.basis == Basis::AtLimit {
        return String::new();
    }
    let Some(limit) = &wall.at_limit else {
        return "; at a limit slope it is not looked at: none is known for this soil, or its side begins at a face".to_owned();
    };
    let slope = slope_words(limit);
    let off = limit.max_height_m - wall.max_height_m;
    match limit.lands_before_m {
        Some(before) if before > 0.0 => format!(
            "; at the limit slope of {slope} it would land {} before the line",
            show.length(before)
        ),
        _ if limit.max_height_m < LOWEST_WALL_M => {
            format!("; at the limit slope of {slope} it would land at the line")
        }
        _ if off.abs() <= SAME_HEIGHT_M => String::new(),
        _ if off < 0.0 => format!(
            "; at the limit slope of {slope} a wall of {} instead of {} is enough",
            show.level_with_unit(limit.max_height_m),
            show.level_with_unit(wall.max_height_m)
        ),
        _ => format!(
            "; it is drawn steeper than the limit slope of {slope}: kept to that, the wall is {} long, up to {} high, {} of face",
            show.length(limit.length_m),
            show.level_with_unit(limit.max_height_m),
            show.area(limit.face_m2)
        ),
    }
}

fn slope_words(limit: &AtLimit) -> String {
    let slope = Slope::from_rise_per_run(limit.slope_rise_per_run);
    format!("{:.2} across : 1 up", slope.run_per_rise())
}

/// The one value of the job that makes all sides of a feature as steep as the limit, where it is
/// drawn flatter.
fn change(context: &Context, wall: &Wall) -> Option<Change> {
    const KEY: &str = "side_run_per_rise";
    const OWN_SIDES: [&str; 4] = ["sides", "left_run_per_rise", "right_run_per_rise", "edges"];
    let limit = wall.at_limit.as_ref()?;
    let is_less = limit.max_height_m < wall.max_height_m - SAME_HEIGHT_M;
    if wall.basis == Basis::AtLimit || !is_less {
        return None;
    }
    let mut entries = context.job.features.iter();
    let entry = entries.find(|entry| entry.name == wall.feature)?;
    let has_one = entry.table.has(KEY) && !OWN_SIDES.iter().any(|key| entry.table.has(key));
    let feature = (context.design.features.iter()).find(|f| f.name == wall.feature)?;
    let is_flatter = feature.laid.side_rise_per_run < limit.slope_rise_per_run * (1.0 - 1.0e-9);
    (has_one && is_flatter).then(|| Change {
        feature: wall.feature.clone(),
        key: KEY.to_owned(),
        value: trimmed(1.0 / limit.slope_rise_per_run),
    })
}

/// A number without zeros at its end.
fn trimmed(value: f64) -> String {
    let text = format!("{value:.4}");
    let text = text.trim_end_matches('0');
    match text.strip_suffix('.') {
        Some(whole) => format!("{whole}.0"),
        None => text.to_owned(),
    }
}

fn cure(context: &Context, wall: &Wall, change: Option<&Change>) -> String {
    let show = context.show();
    let wall_words = format!(
        "build a wall there (about {} of face)",
        show.area(wall.face_m2)
    );
    let other = if wall.along == Along::Feature {
        "move one of the two, or raise the floor of the other"
    } else {
        "move the feature, or lower it"
    };
    match (change, &wall.at_limit) {
        (Some(change), Some(limit)) => {
            let gives = match limit.lands_before_m {
                Some(_) => "with round corners it lands before the line".to_owned(),
                None => format!(
                    "with round corners a wall of {} is enough",
                    show.level_with_unit(limit.max_height_m)
                ),
            };
            format!(
                "write {} = {} for {}: {gives}; or {wall_words}, or {other}",
                change.key, change.value, change.feature
            )
        }
        (None, Some(limit)) if limit.max_height_m > wall.max_height_m + SAME_HEIGHT_M => format!(
            "{wall_words}, or one of {} of face with the side at the limit; or {other}",
            show.area(limit.face_m2)
        ),
        (None, _) if wall.basis == Basis::AtLimit => {
            format!("{wall_words} and flatten the side to the limit behind it, or {other}")
        }
        _ => {
            format!("{wall_words}, or {other}, or make its side steeper if your limit leaves room")
        }
    }
}

/// What a wall of the job holds.
pub(super) fn held(context: &Context, run: &HeldRun) -> Finding {
    let show = context.show();
    let name = |f: usize| context.design.features[f].name.clone();
    Finding {
        feature: Some(name(run.feature)),
        place: context.place(run.at),
        at_m: Some(context.absolute(run.at)),
        measured: Some(Measure {
            value: run.height_m,
            unit: "m",
        }),
        cure: format!(
            "nothing of {} is placed or dug past \"{}\": where that is a keep-off, write keep_clear_of = [\"{}\"] for it",
            name(run.feature),
            run.line,
            run.line
        ),
        ..Finding::new(
            "held",
            Severity::Note,
            format!(
                "{} has no room before \"{}\" over {}, up to {} high: \"{}\" stands there and is high enough to hold it",
                name(run.feature),
                run.line,
                show.length(run.length_m),
                show.length(run.height_m),
                name(run.wall)
            ),
        )
    }
}

/// What was looked at, and what is missing, for the rules that speak of walls.
pub(super) fn said(context: &Context, keep_offs: &[KeepOffPlace], rims: &[Rim], out: &mut Checked) {
    let lines = keep_offs.iter().filter(|k| stops_earth(k.kind)).count();
    let design = context.design;
    let show = context.show();
    let num_features = design.features.iter().filter(|f| !f.is_strip()).count();
    let mut walls = out.walls.iter();
    let highest = walls.clone().map(|w| w.total_height_m).fold(0.0, f64::max);
    let words = match out.walls.len() {
        0 => format!(
            "{num_features} features along {lines} lines and areas and each other: no wall is needed"
        ),
        n => format!(
            "{n} walls needed, the highest {} from the bottom of its footing",
            show.length(highest)
        ),
    };
    let no_limit = walls.any(|w| w.at_limit.is_none());
    for id in RULES {
        if lines == 0 && num_features < 2 && out.walls.is_empty() {
            out.missing(
                id,
                "the job draws no line, area or second feature that a side must land before",
            );
            continue;
        }
        out.looked(id, words.clone());
        if no_limit {
            out.missing(
                id,
                "no limit slope is known for some sides: what they would need is told as drawn only",
            );
        }
    }
    // A keep-off that covers the core of a feature leaves no line to hold it at.
    for keep_off in keep_offs.iter().filter(|k| stops_earth(k.kind)) {
        let Some(area) = &keep_off.area else { continue };
        for (feature, rim) in design.features.iter().zip(rims) {
            let core = &feature.laid.core;
            let has_rim = !rim.fill.is_empty() || !rim.cut.is_empty();
            if has_rim && !core.is_empty() && core.iter().all(|&p| area.contains(p)) {
                let because = format!(
                    "{} stands inside \"{}\" altogether: what would have to be held there is not computed",
                    feature.name, keep_off.name
                );
                out.missing("WL-1", because);
            }
        }
    }
}
