//! Slopes by use: mown, planted, walked on, paved; and beds of streams between their drops.

use crate::design::Axis;
use crate::geom::{Point, Ring, triangulate_rings};
use crate::job::{LimitKey, Use, UsedArea, limits};
use crate::surface::Within;
use crate::units::Slope;

use super::steepness::{Steep, steepness};
use super::stream::along;
use super::{AT_LIMIT, Checked, Context, Finding, Measure, Severity};

/// Less of an area than this cannot make it steep, m2: about the area of a spade.
const SMALLEST_AREA_M2: f64 = 0.05;

/// Slope at which machine manuals end for mowers one rides on: 15 degrees.
const RIDE_ON_DEGREES: f64 = 15.0;

/// What a use is held against, and what to do beyond it.
fn limit_of(used: Use) -> Option<(&'static LimitKey, &'static str)> {
    match used {
        Use::Mown => Some((&limits::MOWING, "plant it instead of mowing")),
        Use::Planted => Some((&limits::PLANTED, "hold it with stone or a wall")),
        Use::Path | Use::Paved => Some((&limits::PATH, "lengthen the way, or lay steps")),
        // How flat a swale may be is a matter of drainage.
        Use::Swale => None,
    }
}

pub(super) fn check(context: &Context, out: &mut Checked) {
    let contradiction = context
        .job
        .limits
        .contradiction(&limits::LAWN, &limits::MOWING);
    let mut mown = 0;
    for area in &context.job.areas {
        mown += usize::from(area.used == Use::Mown);
        match &contradiction {
            Some(words) if area.used == Use::Mown => {
                out.missing("GR-8", words.clone());
                out.find(not_checked(area, words));
            }
            _ => of_area(context, area, out),
        }
    }
    if mown == 0 {
        out.missing(
            "GR-8",
            "no lawn is drawn: add an [[area]] with use = \"mown\"",
        );
    }
    for feature in &context.design.features {
        if let Some(axis) = &feature.laid.axis {
            bed(context, &feature.name, axis, out);
        }
    }
}

fn not_checked(area: &UsedArea, because: &str) -> Finding {
    Finding {
        ids: &["GR-8"],
        place: area.name.clone(),
        ..Finding::new(
            "use",
            Severity::NotChecked,
            format!(
                "the slope of \"{}\" is not checked, because {because}",
                area.name
            ),
        )
    }
}

fn of_area(context: &Context, area: &UsedArea, out: &mut Checked) {
    let Some((key, instead)) = limit_of(area.used) else {
        return;
    };
    let found = context.survey.resolve(&area.area).ok();
    let corners: Vec<Point> = found.into_iter().flatten().map(|place| place.p).collect();
    let triangles = Ring::new(&corners)
        .ok()
        .and_then(|ring| triangulate_rings(&[ring]));
    let surface = &context.design.surface;
    let shares = triangles.map(|t| surface.shares_within(&Within(t)));
    let Some(shares) = shares.filter(|s| !s.is_empty()) else {
        let because = "its outline is not usable, or has no ground";
        if area.used == Use::Mown {
            out.missing("GR-8", format!("\"{}\": {because}", area.name));
        }
        out.find(not_checked(area, because));
        return;
    };
    let steeps = steepness(surface, &shares);
    let total: f64 = steeps.iter().map(|s| s.weight).sum();
    let mean = steeps
        .iter()
        .map(|s| s.rise_per_run * s.weight)
        .sum::<f64>()
        / total;
    let limit = context.job.limits.get(key);
    let over = |s: &&Steep| s.rise_per_run > limit.value * (1.0 + AT_LIMIT);
    let over_area: f64 = steeps.iter().filter(over).map(|s| s.weight).sum();
    let mut so_far = 0.0;
    let worst = steeps.iter().find(|s| {
        so_far += s.weight;
        so_far >= SMALLEST_AREA_M2.min(total / 2.0)
    });
    let Some(worst) = worst else { return };
    let slope = Slope::from_rise_per_run(worst.rise_per_run);
    let show = context.show();
    let is_over = over(&worst);
    let used = Use::NAMES[Use::ALL.iter().position(|u| *u == area.used).unwrap_or(0)];
    let words = format!(
        "\"{}\", {used}: at most {slope}, {} on average over {}",
        area.name,
        Slope::from_rise_per_run(mean),
        show.area(total)
    );
    if area.used == Use::Mown {
        out.looked("GR-8", words.clone());
    }
    let at = worst.at;
    let limit_slope = Slope::from_rise_per_run(limit.value);
    let rides = area.used == Use::Mown && slope.degrees() > RIDE_ON_DEGREES;
    let cure = match (is_over, rides) {
        (true, _) => format!(
            "{instead}, or flatten {} to {limit_slope}",
            show.area(over_area)
        ),
        (false, true) => {
            "mow it on foot: machine manuals end at 15 degrees for mowers one rides on".to_owned()
        }
        (false, false) => String::new(),
    };
    let over_words = if is_over {
        format!("; steeper than {limit_slope} over {}", show.area(over_area))
    } else {
        String::new()
    };
    out.find(Finding {
        ids: if area.used == Use::Mown {
            &["GR-8"]
        } else {
            &[]
        },
        place: context.place(at),
        at_m: Some(context.absolute(at)),
        measured: Some(Measure {
            value: worst.rise_per_run,
            unit: "rise_per_run",
        }),
        limit: Some(Measure {
            value: limit.value,
            unit: "rise_per_run",
        }),
        limit_from: limit.from,
        cure,
        caution: (rides || is_over && area.used == Use::Mown).then_some(14),
        ..Finding::new(
            "use",
            if is_over {
                Severity::Warn
            } else {
                Severity::Note
            },
            format!("{words}{over_words}"),
        )
    });
}

/// The bed of a stream between its drops, each stretch as a whole, its pools included.
fn bed(context: &Context, name: &str, axis: &Axis, out: &mut Checked) {
    let limit = context.job.limits.get(&limits::STREAM);
    let mut worst: Option<(f64, f64, f64)> = None;
    let mut over = 0.0;
    // Two entries at one station are a drop.
    for stretch in axis.bed.chunk_by(|a, b| b.0 > a.0) {
        let (Some(&(s0, z0)), Some(&(s1, z1))) = (stretch.first(), stretch.last()) else {
            continue;
        };
        if s1 - s0 < SHORTEST_REACH_M {
            continue;
        }
        let steep = (z1 - z0) / (s1 - s0);
        if worst.is_none_or(|w| steep > w.0) {
            worst = Some((steep, s0, s1));
        }
        if steep > limit.value * (1.0 + AT_LIMIT) {
            over += z1 - z0 - limit.value * (s1 - s0);
        }
    }
    let Some((steep, from, to)) = worst else {
        return;
    };
    let show = context.show();
    let slope = Slope::from_rise_per_run(steep.max(0.0));
    let is_over = over > 0.0;
    let at = along(&axis.line, f64::midpoint(from, to));
    out.find(Finding {
        feature: Some(name.to_owned()),
        place: format!(
            "station {} to {}; {}",
            show.length_number(from),
            show.length(to),
            context.place(at)
        ),
        at_m: Some(context.absolute(at)),
        measured: Some(Measure {
            value: steep,
            unit: "rise_per_run",
        }),
        limit: Some(Measure {
            value: limit.value,
            unit: "rise_per_run",
        }),
        limit_from: limit.from.clone(),
        cure: if is_over {
            format!(
                "put {} more into drops, so that the bed between them washes less",
                show.length(over)
            )
        } else {
            String::new()
        },
        ..Finding::new(
            "bed-slope",
            if is_over {
                Severity::Warn
            } else {
                Severity::Note
            },
            format!(
                "{name}: the bed between its drops falls at most {slope}; limit {}",
                Slope::from_rise_per_run(limit.value)
            ),
        )
    });
}

/// A shorter stretch of bed is the lip of a drop, metres: 1 ft.
const SHORTEST_REACH_M: f64 = 0.3048;
