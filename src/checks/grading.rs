//! The job as a whole: how much is moved, how deep and how high, what fill is laid on.

use crate::geom::Point;
use crate::job::{LimitKey, limits};
use crate::surface::{Extreme, Extremes, Rule, Within};
use crate::terrain::GROUND;
use crate::units::Slope;

use super::steepness::steepness;
use super::{AT_LIMIT, Checked, Context, Finding, Measure, Severity};

/// Steep ground under less fill than this is a kink, m2: about a square yard.
const SMALLEST_AREA_M2: f64 = 0.8;

pub(super) fn check(context: &Context, out: &mut Checked) {
    asked_about(context, out);
    benched(context, out);
    stripped(context, out);
}

/// A figure at which many places want to be told.
struct Over {
    words: String,
    key: &'static LimitKey,
    value: f64,
    unit: &'static str,
    place: Option<(Point, String)>,
}

/// Volumes, depths and heights at which many places want to be told (GR-4).
fn asked_about(context: &Context, out: &mut Checked) {
    let (limits, show, v) = (&context.job.limits, context.show(), context.to_build);
    let moved = v.cut_m3 + v.fill_m3;
    let farthest = |of: &dyn Fn(&Extremes) -> Option<Extreme>| {
        let extents = context.extents.iter();
        let all = extents
            .filter_map(|e| Some((e.name.clone(), of(e.whole.as_ref()?.extremes.as_ref()?)?)));
        all.max_by(|a, b| a.1.by_m.total_cmp(&b.1.by_m))
    };
    let cut = farthest(&|e| e.deepest_cut);
    let fill = farthest(&|e| e.highest_fill);
    let mut over: Vec<Over> = Vec::new();
    if moved >= limits.get(&limits::GRADING_VOLUME).value {
        over.push(Over {
            words: format!("the job moves {} in all, cut and fill", show.volume(moved)),
            key: &limits::GRADING_VOLUME,
            value: moved,
            unit: "m3",
            place: None,
        });
    }
    for (what, key, found) in [
        ("dug", &limits::GRADING_CUT, cut),
        ("filled", &limits::GRADING_FILL, fill),
    ] {
        if let Some((name, extreme)) = found
            && extreme.by_m >= limits.get(key).value
        {
            over.push(Over {
                words: format!("{name} is {what} {} at most", show.length(extreme.by_m)),
                key,
                value: extreme.by_m,
                unit: "m",
                place: Some((extreme.at.p, name)),
            });
        }
    }
    out.looked(
        "GR-4",
        format!("{} moved in all", show.volume_or_none(moved)),
    );
    for Over {
        words,
        key,
        value,
        unit,
        place,
    } in over
    {
        let limit = limits.get(key);
        let (at, feature) = place.unzip();
        let figure = if unit == "m3" {
            show.volume(limit.value)
        } else {
            show.length(limit.value)
        };
        out.find(Finding {
            ids: &["GR-4"],
            feature,
            place: at.map(|p| context.place(p)).unwrap_or_default(),
            at_m: at.map(|p| context.absolute(p)),
            measured: Some(Measure { value, unit }),
            limit: Some(Measure {
                value: limit.value,
                unit,
            }),
            limit_from: limit.from,
            cure: "ask the local building department before the work".to_owned(),
            caution: Some(16),
            ..Finding::new(
                "grading",
                Severity::Note,
                format!("{words}; many places want to be asked from {figure}"),
            )
        });
    }
}

/// Fill on steep ground is laid on steps (GR-5).
fn benched(context: &Context, out: &mut Checked) {
    let (design, ground) = (context.design, &context.terrain.surface);
    let limit = context.job.limits.get(&limits::BENCHED);
    let built = design.to_build();
    let mut fills = 0;
    for (number, feature) in design.features.iter().enumerate() {
        if feature.laid.rule != Rule::Raise || !feature.laid.places_soil {
            continue;
        }
        let is_own = |f: &u32| design.parts[built.label(*f) as usize].feature == Some(number);
        let plan = |f: u32| built.corners(f).map(|c| c.p);
        let within = Within(built.facets().filter(is_own).map(plan).collect());
        fills += 1;
        let mut steeps = steepness(ground, &ground.shares_within(&within));
        steeps.retain(|s| s.rise_per_run > limit.value * (1.0 + AT_LIMIT));
        let area: f64 = steeps.iter().map(|s| s.weight).sum();
        let Some(&worst) = steeps.first().filter(|_| area >= SMALLEST_AREA_M2) else {
            continue;
        };
        let at = worst.at;
        let (show, slope) = (context.show(), Slope::from_rise_per_run(limit.value));
        out.find(Finding {
            ids: &["GR-5"],
            feature: Some(feature.name.clone()),
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
            limit_from: limit.from.clone(),
            cure: format!("cut level steps into {} of ground before the first layer goes on", show.area(area)),
            caution: Some(5),
            ..Finding::new(
                "steep-under-fill",
                Severity::Warn,
                format!(
                    "{} lies on ground at up to {}, steeper than {slope} over {}: fill laid on a slope slides on it",
                    feature.name,
                    Slope::from_rise_per_run(worst.rise_per_run),
                    show.area(area)
                ),
            )
        });
    }
    match fills {
        0 => out.missing("GR-5", "nothing is filled"),
        n => out.looked("GR-5", format!("fills: {n}")),
    }
}

/// Topsoil is taken off before fill goes on (GR-7).
fn stripped(context: &Context, out: &mut Checked) {
    let design = context.design;
    let fills = || {
        let features = design.features.iter().enumerate();
        features.filter(|(_, f)| f.laid.rule == Rule::Raise && f.laid.places_soil)
    };
    if fills().next().is_none() {
        out.missing("GR-7", "nothing is filled");
        return;
    }
    if !design.strip_touched.is_empty() {
        out.looked(
            "GR-7",
            "sod and topsoil are stripped wherever anything is touched",
        );
        return;
    }
    let built = design.to_build();
    for (number, feature) in fills() {
        let is_own = |f: &u32| design.parts[built.label(*f) as usize].feature == Some(number);
        let plan = |f: u32| built.corners(f).map(|c| c.p);
        let within = Within(built.facets().filter(is_own).map(plan).collect());
        let area = |shares: Vec<(u32, f64)>| shares.iter().map(|s| s.1).sum::<f64>();
        let whole = area(context.terrain.surface.shares_within(&within));
        let bare = match &design.stripped {
            Some(stripped) => {
                let of_ground = |s: &(u32, f64)| stripped.label(s.0) == GROUND;
                area(
                    stripped
                        .shares_within(&within)
                        .into_iter()
                        .filter(of_ground)
                        .collect(),
                )
            }
            None => whole,
        };
        if bare < SMALLEST_AREA_M2 {
            continue;
        }
        let show = context.show();
        let highest = context.extremes(number).and_then(|e| e.highest_fill);
        let at = highest.map(|e| e.at.p);
        out.find(Finding {
            ids: &["GR-7"],
            feature: Some(feature.name.clone()),
            place: at.map(|p| context.place(p)).unwrap_or_default(),
            at_m: at.map(|p| context.absolute(p)),
            measured: Some(Measure {
                value: bare,
                unit: "m2",
            }),
            cure: format!(
                "lay a [[feature]] of kind \"strip\" over it first; 4 in over {} is {}",
                show.area(bare),
                show.volume(bare * 4.0 * 0.0254)
            ),
            limit_from: "common practice, no source".to_owned(),
            ..Finding::new(
                "strip",
                Severity::Warn,
                format!(
                    "{}: nothing is stripped under {} of it; sod and topsoil rot and settle below a fill, and are counted as soil to build with",
                    feature.name,
                    show.area(bare)
                ),
            )
        });
    }
    out.looked("GR-7", "fills are held against the strips");
}
