//! What is said of gates and ways: findings, and what closes a way.

use crate::geom::Point;
use crate::job::limits;
use crate::route::{Blocked, Way};
use crate::units::Slope;

use super::super::{AT_LIMIT, Context, Finding, Measure, Severity};
use super::barriers::Barriers;
use super::gates::GatePlace;
use super::{Closed, OVER_M, Route};

/// What closes a way, with the place and how much is missing.
pub(super) fn closed(
    context: &Context,
    barriers: &Barriers,
    blocked: &Blocked,
    from: &str,
    to: &str,
) -> Closed {
    let show = context.show();
    let name = |obstacle: usize| &barriers.names[obstacle];
    match blocked {
        Blocked::End {
            is_start,
            obstacle,
            missing_m,
        } => {
            let end = if *is_start { from } else { to };
            let missing = show.level_with_unit(*missing_m);
            Closed {
                words: format!(
                    "there is no room at {end}: {} is {missing} too near",
                    name(*obstacle)
                ),
                at_m: None,
                missing_m: Some(*missing_m),
                cure: format!("move {end} or {} {missing} apart", name(*obstacle)),
            }
        }
        Blocked::Gap { gap, missing_m } => {
            let [a, b] = gap.obstacles.map(name);
            let [p, q] = gap.ends;
            let at = Point::new((p.x + q.x) / 2, (p.y + q.y) / 2);
            let has_margin = gap
                .obstacles
                .iter()
                .any(|&o| barriers.obstacles[o].margin_m > 0.0);
            let beside = match has_margin {
                true => ", the setback of the edge left free,",
                false => "",
            };
            let missing = show.level_with_unit(*missing_m);
            Closed {
                words: format!(
                    "the gap between {a} and {b}{beside} is {} wide at {}: {missing} is missing",
                    show.length(gap.clear_m.max(0.0)),
                    context.place(at)
                ),
                at_m: Some(context.absolute(at)),
                missing_m: Some(*missing_m),
                cure: format!(
                    "move {a} or {b} so that there is {missing} more between them, bring the barrow in by another gate, or carry"
                ),
            }
        }
        Blocked::Closed(Some(obstacle)) => Closed::without_a_gap(
            format!("{} closes it all round, without a gap", name(*obstacle)),
            format!(
                "draw the gate there is, or open {} by {}",
                name(*obstacle),
                show.length(barriers.width_m)
            ),
        ),
        Blocked::Closed(None) => Closed::without_a_gap(
            "more than one thing closes it, without a gap".to_owned(),
            format!(
                "draw the gates there are, or open {} through what stands there",
                show.length(barriers.width_m)
            ),
        ),
    }
}

impl Closed {
    fn without_a_gap(words: String, cure: String) -> Closed {
        Closed {
            words,
            at_m: None,
            missing_m: None,
            cure,
        }
    }

    /// No place beside a feature has room.
    pub(super) fn no_room(context: &Context, name: &str, width_m: f64) -> Closed {
        let width = context.show().length(width_m);
        Closed::without_a_gap(
            format!("no place at the edge of {name} has room for {width}"),
            format!("free {width} somewhere along the edge of {name}"),
        )
    }
}

pub(super) fn gate_finding(
    context: &Context,
    gate: &GatePlace,
    width_m: f64,
    from: &str,
) -> Finding {
    let show = context.show();
    let is_narrow = gate.clear_m < width_m;
    let measure = |value| Some(Measure { value, unit: "m" });
    let (severity, words, cure) = if is_narrow {
        let missing = show.level_with_unit(width_m - gate.clear_m);
        (
            Severity::Warn,
            format!(
                "{} is {} wide between its posts: a barrow needs {} more",
                gate.name,
                show.level_with_unit(gate.clear_m),
                missing
            ),
            format!(
                "take out a post or a panel, so that {missing} more is clear, or carry buckets; ways below are drawn as if it were wide enough"
            ),
        )
    } else {
        (
            Severity::Note,
            format!(
                "{} is {} wide between its posts, {} more than a barrow takes",
                gate.name,
                show.level_with_unit(gate.clear_m),
                show.level_with_unit(gate.clear_m - width_m)
            ),
            String::new(),
        )
    };
    Finding {
        place: context.place(gate.middle),
        at_m: Some(context.absolute(gate.middle)),
        measured: measure(gate.clear_m),
        limit: measure(width_m),
        limit_from: from.to_owned(),
        cure,
        ..Finding::new("gate", severity, words)
    }
}

pub(super) fn route_findings(context: &Context, route: &Route, way: Option<&Way>) -> Vec<Finding> {
    let show = context.show();
    let limits = &context.job.limits;
    if let Some(closed) = &route.closed_by {
        let measure = |value| Measure { value, unit: "m" };
        return vec![Finding {
            place: match closed.at_m {
                Some([x, y]) => show.place(x, y),
                None => String::new(),
            },
            at_m: closed.at_m,
            measured: closed
                .missing_m
                .map(|missing| measure(route.width_m - missing)),
            limit: Some(measure(route.width_m)),
            limit_from: limits.get(&limits::BARROW_WIDTH).from,
            cure: closed.cure.clone(),
            ..Finding::new(
                "route",
                Severity::Stop,
                format!(
                    "no barrow of {} comes from {} to {}: {}",
                    show.length(route.width_m),
                    route.from,
                    route.to,
                    closed.words
                ),
            )
        }];
    }
    let mut findings = Vec::new();
    let narrow = route.narrowest.as_ref().map_or(String::new(), |narrow| {
        format!(
            ", narrowest {} {}",
            show.length(narrow.clear_m),
            narrow.words()
        )
    });
    let off = match route.off_survey_m {
        off if off > 0.05 => format!(
            "; {} of it over ground that was not measured",
            show.length(off)
        ),
        _ => String::new(),
    };
    let start = way.and_then(|way| way.line.first());
    findings.push(Finding {
        place: start.map_or(String::new(), |p| context.place(*p)),
        at_m: start.map(|p| context.absolute(*p)),
        measured: Some(Measure {
            value: route.length_m,
            unit: "m",
        }),
        ..Finding::new(
            "route",
            Severity::Note,
            format!(
                "barrow way from {} to {}: {} long, climbs {}, falls {}{narrow}{off}",
                route.from,
                route.to,
                show.length(route.length_m),
                show.length(route.climb_m),
                show.length(route.fall_m)
            ),
        )
    });
    let slopes = [
        (
            &route.steepest,
            &limits::BARROW,
            "route-steep",
            "steep",
            "along it",
        ),
        (
            &route.cross,
            &limits::BARROW_CROSS,
            "route-cross",
            "sloping to a side",
            "across it",
        ),
    ];
    for (slope, key, rule, what, way) in slopes {
        let limit = limits.get(key);
        let Some(there) = slope else { continue };
        let steep = there.rise_per_run.abs();
        if steep <= limit.value * (1.0 + AT_LIMIT) {
            continue;
        }
        let measure = |value| {
            Some(Measure {
                value,
                unit: "rise_per_run",
            })
        };
        let cut = (steep - limit.value)
            * if rule == "route-steep" {
                OVER_M
            } else {
                route.width_m
            };
        let cure = match rule {
            "route-steep" => format!(
                "lay boards over a longer run, or ease it by {} over {}; lighter loads",
                show.level_with_unit(cut),
                show.length(OVER_M)
            ),
            _ => format!(
                "level it with boards, {} higher on the low side",
                show.level_with_unit(cut)
            ),
        };
        let origin = context.terrain.origin;
        let at = Point::from_m(
            there.at_m[0] - origin.x_m as f64,
            there.at_m[1] - origin.y_m as f64,
        );
        findings.push(Finding {
            feature: Some(route.name.clone()),
            place: format!(
                "station {}, {}",
                show.length(there.station_m),
                context.place(at)
            ),
            at_m: Some(there.at_m),
            measured: measure(steep),
            limit: measure(limit.value),
            limit_from: limit.from,
            cure,
            caution: Some(9),
            ..Finding::new(
                rule,
                Severity::Warn,
                format!(
                    "the barrow way from {} to {} is {what}: {} {way}",
                    route.from,
                    route.to,
                    Slope::from_rise_per_run(steep)
                ),
            )
        });
    }
    findings
}
