//! Where water leaves a basin, and where an overflow takes it.

use std::collections::BTreeSet;

use crate::flow::{Pit, Sink};
use crate::geom::{P3, Point, distance_m};
use crate::job::KeepOffKind;
use crate::job::limits::{LINE_SETBACK, SPILL_BELOW_RIM};
use crate::surface::Surface;

use super::super::{Checked, Context, Finding, Measure, Severity};
use super::yard::{Yard, distance_to_m, feature_of, keep_off_mark};

/// A bed that rises less than this on the way is even, metres: rounding of heights.
const EVEN_M: f64 = 0.002;

pub(super) fn check(context: &Context, yard: &Yard, out: &mut Checked) {
    let of_kind = |kind: &'static str| {
        let all = context.design.features.iter().enumerate();
        all.filter(move |(_, f)| f.kind == kind).map(|(k, _)| k)
    };
    if of_kind("basin").next().is_none() {
        out.missing("DR-10", "no basin in the design");
    }
    for basin in of_kind("basin") {
        rim(context, yard, basin, out);
    }
    if of_kind("channel").next().is_none() {
        out.missing("DR-6", "no channel in the design: no overflow to look at");
    }
    for channel in of_kind("channel") {
        falls(context, channel, out);
        ends(context, yard, channel, out);
    }
}

/// The hollow of a basin up to the lip over which its water leaves it.
fn hollow(context: &Context, yard: &Yard, basin: usize) -> Option<(u32, Pit)> {
    let state = &yard.after;
    let of = |f: usize| feature_of(context.design, state.surface, state.tin.facet_of(f));
    let mut found: Option<(u32, Pit)> = None;
    for (k, pit) in (0..).zip(state.pits.iter()) {
        let mut below = state.tin.facets_at_bottom(&state.pits, k);
        let leaves = || {
            let mut at_lip = state.tin.facets_at_lip(&state.pits, k);
            at_lip.any(|f| of(f) != Some(basin))
        };
        // Nested hollows come first: a sump, the space between two ledges.
        let is_deeper = found.is_none_or(|(_, best)| pit.bottom.z < best.bottom.z);
        if is_deeper && pit.depth_m() >= EVEN_M && below.any(|f| of(f) == Some(basin)) && leaves() {
            found = Some((k, *pit));
        }
    }
    found
}

/// Channels that begin at a basin: those that meet it on the finished surface.
fn channels_of<'a>(context: &'a Context, basin: usize) -> Vec<&'a str> {
    let (design, surface) = (context.design, &context.design.surface);
    let of = |f: u32| feature_of(design, surface, f);
    let mut met: BTreeSet<usize> = BTreeSet::new();
    for f in surface.facets().filter(|&f| of(f) == Some(basin)) {
        let beside = surface.neighbours(f).into_iter();
        met.extend(beside.filter(|&n| n != Surface::NONE).filter_map(of));
    }
    let features = met.into_iter().map(|k| &design.features[k]);
    let channels = features.filter(|f| f.kind == "channel");
    channels.map(|f| f.name.as_str()).collect()
}

fn rim(context: &Context, yard: &Yard, basin: usize, out: &mut Checked) {
    let (show, design, state) = (context.show(), context.design, &yard.after);
    let name = design.features[basin].name.clone();
    let feature = |f: usize| feature_of(design, state.surface, state.tin.facet_of(f));
    let is_channel = |f: usize| feature(f).filter(|&k| design.features[k].kind == "channel");
    let is_inside = |f: usize| feature(f) == Some(basin);
    let open = hollow(context, yard, basin);
    // Filled with stone up to its overflow there is no hollow to be seen: water stands in the
    // stone, wherever that ends.
    let lip = match &open {
        Some((pit, of)) => Some((of.lip, state.tin.facets_at_lip(&state.pits, *pit).collect())),
        None => state.tin.lip_out_of(&is_inside, &|_| false),
    };
    let Some((lip, round)): Option<(P3, Vec<usize>)> = lip else {
        out.missing("DR-10", format!("{name} has no rim inside the survey"));
        return;
    };
    let overflow = round.into_iter().find_map(is_channel);
    let place = context.place(lip.p);
    let level = show.level_with_unit(lip.z);
    let Some(overflow) = overflow else {
        let channels = channels_of(context, basin);
        if channels.is_empty() {
            out.missing(
                "DR-10",
                format!("{name} has no overflow channel: when it is full water leaves over its rim at {place}, level {level}"),
            );
            return;
        }
        let words = format!(
            "{name}: water will leave at {place}, level {level}, and not at {}",
            channels.join(" or ")
        );
        out.looked("DR-10", words.clone());
        out.find(Finding {
            ids: &["DR-10"],
            feature: Some(name),
            place,
            at_m: Some(context.absolute(lip.p)),
            limit_from: context.job.limits.get(&SPILL_BELOW_RIM).from,
            cure: format!(
                "begin the overflow {} below {level}, or raise the rim there",
                show.level_with_unit(context.job.limits.get(&SPILL_BELOW_RIM).value)
            ),
            caution: Some(12),
            ..Finding::new("overflow-rim", Severity::Warn, words)
        });
        return;
    };
    let over = &design.features[overflow].name;
    let is_wall = |f: usize| feature(f) == Some(overflow);
    let limit = context.job.limits.get(&SPILL_BELOW_RIM);
    let next = match open {
        Some((pit, _)) => state
            .tin
            .lip_without(&state.pits, pit, &is_inside, &is_wall),
        None => state.tin.lip_out_of(&is_inside, &is_wall).map(|(p, _)| p),
    };
    let Some(next) = next else {
        out.looked("DR-10", format!("{name}: water leaves by {over} alone"));
        return;
    };
    let above = next.z - lip.z;
    let other = context.place(next.p);
    let words = format!(
        "{name}: water leaves by {over} at level {level}; the next lowest place of the rim is {} higher, at {other}",
        show.level_with_unit(above)
    );
    out.looked("DR-10", words.clone());
    let is_short = above < limit.value - 1.0e-6;
    let measure = |value| Some(Measure { value, unit: "m" });
    let short = show.level_with_unit(limit.value - above);
    out.find(Finding {
        ids: &["DR-10"],
        feature: Some(name),
        place: other.clone(),
        at_m: Some(context.absolute(next.p)),
        measured: measure(above),
        limit: measure(limit.value),
        limit_from: limit.from,
        cure: match is_short {
            true => format!("raise the rim at {other} by {short}, or begin {over} so much lower"),
            false => String::new(),
        },
        ..Finding::new(
            "overflow-rim",
            if is_short {
                Severity::Warn
            } else {
                Severity::Note
            },
            match is_short {
                true => format!(
                    "{words}; it is to be {} higher everywhere",
                    show.level_with_unit(limit.value)
                ),
                false => words,
            },
        )
    });
}

/// Whether a channel falls all the way on the finished surface.
fn falls(context: &Context, channel: usize, out: &mut Checked) {
    let show = context.show();
    let feature = &context.design.features[channel];
    let Some(axis) = &feature.laid.axis else {
        return;
    };
    // From the head down.
    let line: Vec<Point> = axis.line.iter().rev().copied().collect();
    let surface = &context.design.surface;
    let profile = surface.profile(&line);
    // What of the line lies in the basin is no channel yet.
    let mut pairs = profile.runs.iter().flat_map(|run| run.windows(2));
    let head = pairs.find(|pair| {
        let middle = [0, 1].map(|k| [pair[0], pair[1]].map(|p| [p.x_m, p.y_m][k]));
        let [x, y] = middle.map(|[a, b]| (a + b) / 2.0);
        let facet = surface.facet_at(Point::from_m(x, y));
        facet.and_then(|f| feature_of(context.design, surface, f)) == Some(channel)
    });
    let head_m = head.map_or(0.0, |pair| pair[0].distance_m);
    let mut highest = f64::NEG_INFINITY;
    let mut worst: Option<(f64, Point)> = None;
    let below_head = profile.runs.iter().flatten();
    for p in below_head.rev().filter(|p| p.distance_m >= head_m) {
        highest = highest.max(p.z_m);
        let rise = highest - p.z_m;
        if rise > EVEN_M && worst.is_none_or(|(most, _)| rise > most) {
            worst = Some((rise, Point::from_m(p.x_m, p.y_m)));
        }
    }
    let Some((rise, at)) = worst else {
        out.looked("DR-6", format!("{} falls all the way", feature.name));
        return;
    };
    let words = format!(
        "{} does not fall all the way: water stands {} deep in it",
        feature.name,
        show.level_with_unit(rise)
    );
    out.looked("DR-6", words.clone());
    out.find(Finding {
        ids: &["DR-6"],
        feature: Some(feature.name.clone()),
        place: context.place(at),
        at_m: Some(context.absolute(at)),
        measured: Some(Measure {
            value: rise,
            unit: "m",
        }),
        cure: format!(
            "cut its bed {} deeper from there to its end, or begin it higher",
            show.level_with_unit(rise)
        ),
        caution: Some(12),
        ..Finding::new("overflow-falls", Severity::Warn, words)
    });
}

/// Where a channel ends, and where its water goes from there.
fn ends(context: &Context, yard: &Yard, channel: usize, out: &mut Checked) {
    let (show, state) = (context.show(), &yard.after);
    let feature = &context.design.features[channel];
    let Some(&foot) = feature
        .laid
        .axis
        .as_ref()
        .and_then(|axis| axis.line.first())
    else {
        return;
    };
    let name = &feature.name;
    let full = f64::INFINITY;
    let drop = state.tin.drop(state.surface, &state.pits, foot, full);
    let near_m = context.job.limits.get(&LINE_SETBACK).value;
    let mut said = false;
    for (k, keep_off) in out.keep_offs.clone().iter().enumerate() {
        let line = keep_off.line.windows(2);
        let far = line
            .map(|pair| distance_to_m(foot, (pair[0], pair[1])))
            .fold(f64::INFINITY, f64::min);
        let is_in = keep_off
            .area
            .as_ref()
            .is_some_and(|ring| ring.contains(foot));
        let reaches = drop.as_ref().is_some_and(|drop| {
            let mark = keep_off_mark(k);
            drop.sink == Sink::Held(mark) || drop.met.contains(&mark)
        });
        let at_end = is_in || far <= near_m;
        let (severity, how) = match keep_off.kind {
            KeepOffKind::Building if at_end || reaches => (Severity::Stop, at_end),
            KeepOffKind::Boundary if at_end || reaches => (Severity::Warn, at_end),
            KeepOffKind::Service if is_in => (Severity::Warn, true),
            _ => continue,
        };
        said = true;
        let words = match how {
            true => format!("{name} ends at \"{}\"", keep_off.name),
            false => format!("what leaves {name} runs on to \"{}\"", keep_off.name),
        };
        out.find(Finding {
            ids: &["DR-6"],
            feature: Some(name.clone()),
            place: context.place(foot),
            at_m: Some(context.absolute(foot)),
            measured: Some(Measure { value: far, unit: "m" }),
            cure: format!(
                "end it at least {} from there, where the ground falls away from it, or lead it into a soak pit; ask where the water may go",
                show.length(near_m)
            ),
            caution: Some(12),
            ..Finding::new("overflow-end", severity, words)
        });
    }
    let run: f64 = drop.as_ref().map_or(0.0, |drop| {
        drop.points
            .windows(2)
            .map(|w| {
                distance_m(
                    Point::from_m(w[0][0], w[0][1]),
                    Point::from_m(w[1][0], w[1][1]),
                )
            })
            .fold(0.0, |sum, length| sum + length)
    });
    let on = match drop {
        None => "beyond the survey".to_owned(),
        Some(_) => format!(
            "at {}; from there its water runs on over {} to the edge of the survey",
            context.place(foot),
            show.length(run)
        ),
    };
    let quiet = if said {
        ""
    } else {
        ", past no building, line of property or buried line"
    };
    out.looked("DR-6", format!("{name} ends {on}{quiet}"));
}
