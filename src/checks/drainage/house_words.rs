//! What is said of the fall of the ground round buildings.

use crate::design::KeepOffPlace;
use crate::geom::compass;
use crate::job::KeepOffKind;
use crate::job::limits::{HOUSE_FALL, HOUSE_REACH, PAVING};

use super::super::{Checked, Context, Finding, Measure, Severity};
use super::PUDDLE_M;
use super::house::{DIP_M, Fall, House, Station, ahead};

/// Falls that differ by less are the same, metres: what a rod does not tell.
const SAME_FALL_M: f64 = 0.003;

/// A fall this little under what is needed is what is needed, metres: rounding of heights.
const ROUNDING_M: f64 = 1.0e-6;

/// One thing that is wrong at a station.
struct Fault<'a> {
    id: &'static str,
    severity: Severity,
    station: &'a Station,
    /// How much is missing, metres, or rise over run; the worst is told.
    short: f64,
    /// True if it was not so, or less so, before the work.
    is_made: bool,
}

pub(super) fn say(context: &Context, houses: &[House], out: &mut Checked) {
    let is_line = |k: &&KeepOffPlace| k.kind == KeepOffKind::Building && k.area.is_none();
    let lines: Vec<String> = (out.keep_offs.iter().filter(is_line))
        .map(|k| k.name.clone())
        .collect();
    for name in lines {
        for id in ["DR-1", "DR-2", "DR-4", "DR-5"] {
            out.missing(
                id,
                format!("{name} is drawn as a line: give its area, so that its walls are known"),
            );
        }
    }
    if houses.is_empty() {
        for id in ["DR-1", "DR-2", "DR-4", "DR-5"] {
            out.missing(id, "no [[keep-off]] of the kind building with an area");
        }
    }
    for house in houses {
        one(context, house, out);
    }
}

fn one(context: &Context, house: &House, out: &mut Checked) {
    let show = context.show();
    let reach_m = context.job.limits.get(&HOUSE_REACH).value;
    let mut faults: Vec<Fault> = Vec::new();
    let mut least: Option<(f64, &Station, Fall)> = None;
    let (mut dark, mut shortened) = (0, 0);
    for station in &house.stations {
        let Some(after) = station.after else {
            dark += 1;
            continue;
        };
        let left = after.fall_m - after.needed_m;
        if least.is_none_or(|(most, ..)| left < most) {
            least = Some((left, station, after));
        }
        if after.known_m < after.reach_m {
            shortened += 1;
        }
        faults.extend(short(station, after, reach_m));
        faults.extend(dip(station, after));
        let limit = context.job.limits.get(&PAVING).value;
        faults.extend(paving(station, after, limit));
    }
    let all = house.stations.len();
    if dark > 0 {
        out.missing(
            "DR-1",
            format!(
                "{}: no ground was measured at the wall over {} of it",
                house.name,
                part(dark, all)
            ),
        );
    }
    if shortened > 0 {
        out.missing(
            "DR-1",
            format!(
                "{}: the survey ends less than {} from the wall over {} of it",
                house.name,
                show.length(reach_m),
                part(shortened, all)
            ),
        );
    }
    if let Some((_, station, fall)) = least {
        let words = format!(
            "{}: {} stations round it; least fall {} in {}, {} side",
            house.name,
            all - dark,
            show.level_with_unit(fall.fall_m),
            show.length(fall.known_m),
            compass(station.towards)
        );
        out.looked("DR-1", words.clone());
        let dips = faults.iter().filter(|f| f.id == "DR-5").count();
        out.looked(
            "DR-5",
            format!("{}: a dip at {dips} of {} stations", house.name, all - dark),
        );
    }
    let near = |s: &&Station| s.after.is_some_and(|a| a.reach_m < reach_m);
    match house.stations.iter().filter(near).count() {
        0 => out.looked(
            "DR-2",
            format!(
                "{}: nothing stands within {} of it",
                house.name,
                show.length(reach_m)
            ),
        ),
        n => out.looked(
            "DR-2",
            format!(
                "{}: something in the way at {n} of {all} stations",
                house.name
            ),
        ),
    }
    match house.stations.iter().filter(|s| s.paved.is_some()).count() {
        0 => out.looked(
            "DR-4",
            format!("{}: no [[area]] use = \"paved\" beside it", house.name),
        ),
        n => out.looked("DR-4", format!("{}: paving at {n} stations", house.name)),
    }
    for id in ["DR-1", "DR-2", "DR-4", "DR-5"] {
        for severity in Severity::ALL {
            for is_made in [true, false] {
                let of: Vec<&Fault> = faults
                    .iter()
                    .filter(|f| f.id == id && f.severity == severity && f.is_made == is_made)
                    .collect();
                let worst = of
                    .iter()
                    .copied()
                    .reduce(|a, b| if b.short > a.short { b } else { a });
                if let Some(worst) = worst {
                    out.find(finding(context, house, worst, of.len()));
                }
            }
        }
    }
}

fn part(count: usize, all: usize) -> String {
    format!("{:.0} %", 100.0 * count as f64 / all as f64)
}

/// Ground that falls less than it should.
fn short(station: &Station, after: Fall, reach_m: f64) -> Option<Fault<'_>> {
    let is_whole = after.known_m >= after.reach_m;
    let is_near = after.reach_m < reach_m;
    let short = after.needed_m - after.fall_m;
    let runs_back = after.fall_m <= ROUNDING_M && after.known_m > 0.0;
    let is_short = short > ROUNDING_M && (is_whole || runs_back);
    let is_bare = is_near && !station.is_drained;
    if !is_short && !is_bare {
        return None;
    }
    let is_made = is_short
        && station.before.is_some_and(|before| {
            after.needed_m - after.fall_m > before.needed_m - before.fall_m + SAME_FALL_M
        });
    let severity = match (is_short, is_made, runs_back) {
        (true, true, true) => Severity::Stop,
        (true, true, false) | (true, false, true) => Severity::Warn,
        _ => Severity::Note,
    };
    Some(Fault {
        id: if is_near { "DR-2" } else { "DR-1" },
        severity,
        station,
        // Where enough falls, the nearest obstacle is told.
        short: match is_short {
            true => short,
            false => -after.reach_m,
        },
        is_made,
    })
}

/// A dip on the way.
fn dip(station: &Station, after: Fall) -> Option<Fault<'_>> {
    let [_, depth] = after.dip_m?;
    let before = station.before.and_then(|b| b.dip_m);
    let is_made = station.before.is_some() && before.is_none_or(|[_, was]| depth > was + DIP_M);
    let severity = match (is_made, depth >= PUDDLE_M) {
        (true, true) => Severity::Stop,
        (true, false) | (false, true) => Severity::Warn,
        (false, false) => Severity::Note,
    };
    Some(Fault {
        id: "DR-5",
        severity,
        station,
        short: depth,
        is_made,
    })
}

/// Paving that falls less than it should.
fn paving(station: &Station, after: Fall, limit: f64) -> Option<Fault<'_>> {
    let slope = after.paved_rise_per_run?;
    // Heights are rounded to the lattice of the survey: a share of the limit.
    if slope >= limit * (1.0 - 1.0e-6) {
        return None;
    }
    let before = station.before.and_then(|b| b.paved_rise_per_run);
    let is_made = before.is_some_and(|before| slope < before - limit * 0.01);
    let severity = match (is_made, slope <= 0.0) {
        (true, true) => Severity::Stop,
        (true, false) | (false, true) => Severity::Warn,
        (false, false) => Severity::Note,
    };
    Some(Fault {
        id: "DR-4",
        severity,
        station,
        short: limit - slope,
        is_made,
    })
}

fn finding(context: &Context, house: &House, fault: &Fault, count: usize) -> Finding {
    let show = context.show();
    let limits = &context.job.limits;
    let station = fault.station;
    let side = compass(station.towards);
    let fallback = Fall {
        fall_m: 0.0,
        reach_m: 0.0,
        needed_m: 0.0,
        known_m: 0.0,
        dip_m: None,
        paved_rise_per_run: None,
    };
    let after = station.after.unwrap_or(fallback);
    let many = match count {
        1 => "at one station".to_owned(),
        n => format!("at {n} of {} stations", house.stations.len()),
    };
    let was = match (station.before, fault.is_made, fault.id) {
        (None, ..) => String::new(),
        (_, false, _) => "; it was so before the work".to_owned(),
        (Some(before), true, "DR-5") => match before.dip_m {
            Some([_, depth]) => format!("; before the work {} deep", show.level_with_unit(depth)),
            None => "; before the work there was none".to_owned(),
        },
        (Some(before), true, "DR-4") => match before.paved_rise_per_run {
            Some(slope) => format!("; before the work {:.1} %", slope * 100.0),
            None => String::new(),
        },
        (Some(before), true, _) => {
            format!("; before the work it {}", falls(context, before.fall_m, ""))
        }
    };
    let measure = |value| Some(Measure { value, unit: "m" });
    let mut found = Finding {
        place: format!("{side} side, {}", context.place(station.wall)),
        at_m: Some(station.at_m),
        caution: (fault.severity == Severity::Stop).then_some(11),
        ..Finding::new("house-fall", fault.severity, "")
    };
    let at = ahead(station.wall, station.towards, after.reach_m);
    match fault.id {
        "DR-5" => {
            let [far, depth] = after.dip_m.unwrap_or_default();
            found.ids = &["DR-5"];
            found.words = format!(
                "{}, {side} side: water stands {} from the wall in a dip {} deep, {many}{was}",
                house.name,
                show.length(far),
                show.level_with_unit(depth)
            );
            found.measured = measure(depth);
            found.limit = measure(0.0);
            found.limit_from =
                "follows from IRC R401.3: no dip between the wall and the end of the fall"
                    .to_owned();
            found.cure = format!(
                "take {} off the ground beyond the dip, or fill the dip by as much",
                show.level_with_unit(depth)
            );
            found.caution = found.caution.or(Some(15));
        }
        "DR-4" => {
            let limit = limits.get(&PAVING);
            let (name, from, to) = station.paved.clone().unwrap_or_default();
            let slope = after.paved_rise_per_run.unwrap_or_default();
            let needed = limit.value * (to - from);
            found.ids = &["DR-4"];
            found.words = format!(
                "{}, {side} side: the paving \"{name}\" falls {:.1} % away from the wall, {many}; it is to fall {:.1} %, that is {} over its {}{was}",
                house.name,
                slope * 100.0,
                limit.value * 100.0,
                show.level_with_unit(needed),
                show.length(to - from)
            );
            let rise = |value| {
                Some(Measure {
                    value,
                    unit: "rise_per_run",
                })
            };
            (found.measured, found.limit) = (rise(slope), rise(limit.value));
            found.limit_from = limit.from;
            found.cure = format!(
                "lower the far edge of the paving by {}",
                show.level_with_unit((limit.value - slope) * (to - from))
            );
        }
        id => {
            let is_near = id == "DR-2";
            let limit = limits.get(&HOUSE_FALL);
            found.ids = if is_near { &["DR-2"] } else { &["DR-1"] };
            let far = show.length(after.known_m);
            let stopped = station.stopped_by.clone().unwrap_or_default();
            let room = match (is_near, station.is_drained) {
                (false, _) => String::new(),
                (true, true) => format!(", to \"{stopped}\""),
                (true, false) => format!(", all there is to \"{stopped}\""),
            };
            found.words = format!(
                "{}, {side} side: the ground {}, {many}; it is to fall {}{was}",
                house.name,
                falls(context, after.fall_m, &format!(" in the first {far}{room}")),
                show.level_with_unit(after.needed_m),
            );
            (found.measured, found.limit) = (measure(after.fall_m), measure(after.needed_m));
            found.limit_from = match is_near {
                true => "5 percent over what there is, and a drain or swale: IRC R401.3, exception (2006-era text); yours to change in [limits]".to_owned(),
                false => limit.from,
            };
            let lower = (fault.short > 0.0).then(|| {
                format!(
                    "lower the ground {} at {}, {far} from the wall, and evenly from the wall on",
                    show.level_with_unit(fault.short),
                    context.place(at)
                )
            });
            let swale = (is_near && !station.is_drained)
                .then(|| "lay a drain or cut a swale there".to_owned());
            let back = (after.fall_m <= 0.0 && !is_near)
                .then(|| "cut a swale at 2 % along the wall, within that distance".to_owned());
            let all: Vec<String> = [swale, back, lower].into_iter().flatten().collect();
            found.cure = all.join("; or ");
        }
    }
    found
}

/// "falls 0.30 ft in the first 10 ft", or "rises 0.10 ft ..., so that water runs to the wall".
fn falls(context: &Context, fall_m: f64, over: &str) -> String {
    let show = context.show();
    match fall_m < 0.0 {
        true => format!(
            "rises {}{over}, so that water runs to the wall",
            show.level_with_unit(-fall_m)
        ),
        false => format!("falls {}{over}", show.level_with_unit(fall_m)),
    }
}
