//! Digs near footings: below the base of what stands, and across the line of its influence.
//!
//! From the bottom edge of a footing a line falls at a slope (1 to 1 if nothing is said); soil
//! above that line may be dug, soil below it carries the footing.

use crate::geom::{P3, Point, distance_m};
use crate::job::{KeepOffKind, LevelWord, limits};
use crate::surface::Rule;
use crate::units::NM_PER_M;

use super::{Checked, Context, Finding, Measure, Severity};

/// What stands on a footing: its outline as sides with the level of the base at both ends.
struct Footing {
    name: String,
    sides: Vec<[P3; 2]>,
}

/// How far a dig goes below the line under a footing, or stays above it.
struct Nearest {
    /// Above 0 where it goes below, metres.
    below_m: f64,
    /// The place of the dig.
    dig: P3,
    /// Level of the base that counts there, and how far it is in plan, metres.
    base_m: f64,
    far_m: f64,
}

pub(super) fn check(context: &Context, out: &mut Checked) {
    let footings = footings(context, out);
    let digs = context.design.features.iter().enumerate();
    let digs: Vec<(usize, Vec<[P3; 3]>)> = digs
        .filter(|(_, feature)| feature.laid.rule == Rule::Lower)
        .map(|(number, _)| (number, dug(context, number)))
        .collect();
    let per_run = context.job.limits.get(&limits::FOOTING);
    for footing in &footings {
        let mut least = f64::INFINITY;
        for (number, facets) in &digs {
            let Some(found) = nearest(footing, facets, per_run.value) else {
                continue;
            };
            least = least.min(-found.below_m);
            out.findings
                .extend(judge(context, footing, *number, &found));
        }
        let words = match least {
            _ if !least.is_finite() => {
                for id in ["EX-9", "EX-10"] {
                    out.missing(id, "nothing is dug");
                }
                continue;
            }
            least if least >= 0.0 => format!(
                "\"{}\": every dig stays {} or more above the line under its footing",
                footing.name,
                context.show().length(least)
            ),
            _ => format!(
                "\"{}\": a dig goes below the line under its footing",
                footing.name
            ),
        };
        out.looked("EX-9", words.clone());
        out.looked("EX-10", words);
    }
}

/// What stands and has a footing; says what has none.
fn footings(context: &Context, out: &mut Checked) -> Vec<Footing> {
    let mut footings = Vec::new();
    let mut buildings = 0;
    let pairs: Vec<_> = context.job.keep_offs.iter().zip(&out.keep_offs).collect();
    let mut missing = Vec::new();
    for (keep_off, place) in pairs {
        let is_building = keep_off.kind == KeepOffKind::Building;
        buildings += usize::from(is_building);
        let Some(footing) = &keep_off.footing else {
            if is_building {
                missing.push(format!(
                    "\"{}\" has no footing: write footing = \"depth:1.0\" or \"level:...\", the bottom of its footing",
                    keep_off.name
                ));
            }
            continue;
        };
        let ground = |p: Point| nearest_ground(context, p);
        let base = |p: Point| match footing.word {
            LevelWord::Level(z) => Some(z),
            LevelWord::BelowBenchmark(drop) => {
                Some(context.survey.benchmark.as_ref()?.level_m - drop)
            }
            LevelWord::Depth(depth) => Some(ground(p)? - depth),
            LevelWord::Height(height) => Some(ground(p)? + height),
        };
        let sides: Option<Vec<[P3; 2]>> = place
            .line
            .windows(2)
            .map(|w| {
                let end = |p: Point| Some(P3 { p, z: base(p)? });
                Some([end(w[0])?, end(w[1])?])
            })
            .collect();
        match sides {
            Some(sides) => footings.push(Footing {
                name: keep_off.name.clone(),
                sides,
            }),
            None => missing.push(format!(
                "the footing of \"{}\" counts from ground or a benchmark that is not there: write footing = \"level:...\"",
                keep_off.name
            )),
        }
    }
    if buildings == 0 && footings.is_empty() {
        missing.push("no building is drawn: add a [[keep-off]] of kind \"building\"".to_owned());
    }
    for words in missing {
        out.missing("EX-9", words.clone());
        out.missing("EX-10", words);
    }
    footings
}

/// The ground at a place, or at the vertex of it that is nearest: a house is often a hole.
fn nearest_ground(context: &Context, p: Point) -> Option<f64> {
    let ground = &context.terrain.surface;
    ground.z_at(p).or_else(|| {
        let far = |v: &&P3| distance_m(v.p, p);
        let nearest = ground
            .vertices()
            .iter()
            .min_by(|a, b| far(a).total_cmp(&far(b)));
        nearest.map(|v| v.z)
    })
}

/// What a dig has dug, in flat pieces, as it stands open.
fn dug(context: &Context, number: usize) -> Vec<[P3; 3]> {
    let surface = context.design.to_build();
    let is_own = |f: &u32| context.design.parts[surface.label(*f) as usize].feature == Some(number);
    surface
        .facets()
        .filter(is_own)
        .map(|f| surface.corners(f))
        .collect()
}

/// The place of a dig that goes deepest below the line, or comes nearest to it.
///
/// Under one side of the outline the line falls with the distance, which is convex, so the
/// difference to a flat facet is greatest on its rim; along an edge it has one greatest value,
/// which is closed in on.
fn nearest(footing: &Footing, facets: &[[P3; 3]], rise_per_run: f64) -> Option<Nearest> {
    let mut best: Option<Nearest> = None;
    for side in &footing.sides {
        let highest = side[0].z.max(side[1].z);
        for corners in facets {
            // No place of the facet goes deeper below the line than this.
            let lowest = corners.iter().map(|c| c.z).fold(f64::INFINITY, f64::min);
            let bound = highest - apart_m(side, corners) * rise_per_run - lowest;
            if best.as_ref().is_some_and(|b| bound <= b.below_m) {
                continue;
            }
            for k in 0..3 {
                let found = along_edge(side, [corners[k], corners[(k + 1) % 3]], rise_per_run);
                if best.as_ref().is_none_or(|b| found.below_m > b.below_m) {
                    best = Some(found);
                }
            }
        }
    }
    best
}

/// How far the boxes round a side and a facet are apart in plan, metres: they are no nearer.
fn apart_m(side: &[P3; 2], corners: &[P3; 3]) -> f64 {
    let gap = |of: fn(&P3) -> i64| {
        let range = |points: &[P3]| {
            let all = points.iter().map(of);
            (all.clone().min().unwrap_or(0), all.max().unwrap_or(0))
        };
        let ((a, b), (c, d)) = (range(side), range(corners));
        (c - b).max(a - d).max(0) as f64 / NM_PER_M
    };
    gap(|c| c.p.x).hypot(gap(|c| c.p.y))
}

/// Steps of closing in on the greatest value of an edge: 0.618^48 of its length is left, less
/// than a nanometre for ten metres.
const STEPS: usize = 48;

fn along_edge(side: &[P3; 2], edge: [P3; 2], rise_per_run: f64) -> Nearest {
    let at = |t: f64| {
        let [x, y] = edge[1].p.relative_m(edge[0].p);
        let step = Point::from_m(t * x, t * y);
        let p = Point::new(edge[0].p.x + step.x, edge[0].p.y + step.y);
        let z = edge[0].z + t * (edge[1].z - edge[0].z);
        let (far_m, base_m) = to_side(side, p);
        Nearest {
            below_m: base_m - far_m * rise_per_run - z,
            dig: P3 { p, z },
            base_m,
            far_m,
        }
    };
    let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..STEPS {
        let span = golden * (high - low);
        if at(high - span).below_m >= at(low + span).below_m {
            high = low + span;
        } else {
            low = high - span;
        }
    }
    // The ends themselves are corners of the dig.
    [at(0.0), at(1.0), at((low + high) / 2.0)]
        .into_iter()
        .reduce(|a, b| if b.below_m > a.below_m { b } else { a })
        .unwrap_or_else(|| at(0.0))
}

/// Distance of a place from a side in plan, metres, and the level of its base there.
fn to_side(side: &[P3; 2], p: Point) -> (f64, f64) {
    let [x, y] = side[1].p.relative_m(side[0].p);
    let [px, py] = p.relative_m(side[0].p);
    let square = x * x + y * y;
    let t = if square > 0.0 {
        ((px * x + py * y) / square).clamp(0.0, 1.0)
    } else {
        0.0
    };
    let far = (px - t * x).hypot(py - t * y);
    (far, side[0].z + t * (side[1].z - side[0].z))
}

fn judge(context: &Context, footing: &Footing, number: usize, found: &Nearest) -> Option<Finding> {
    let show = context.show();
    let feature = &context.design.features[number].name;
    let limit = context.job.limits.get(&limits::FOOTING);
    let under = found.base_m - found.dig.z;
    let crosses = found.below_m > 1.0e-6;
    if !crosses && under <= 0.0 {
        return None;
    }
    let slope = context.job.limits.slope(&limits::FOOTING);
    let (severity, words, cure) = if crosses {
        // Farther away by this much, or less deep, it stays above the line.
        let away = found.below_m / limit.value;
        (
            Severity::Stop,
            format!(
                "{feature} goes {} below the line that falls from the footing of \"{}\" at {slope}: {} from it the dig lies {} below its base",
                show.length(found.below_m),
                footing.name,
                show.length(found.far_m),
                show.length(under)
            ),
            format!(
                "move it {} farther away or dig {} less deep there; else stop here until a licensed engineer agrees or the footing is supported",
                show.length(away),
                show.length(found.below_m)
            ),
        )
    } else {
        (
            Severity::Note,
            format!(
                "{feature} goes {} below the base of \"{}\" at {} from it, and stays {} above the line that falls from its footing at {slope}",
                show.length(under),
                footing.name,
                show.length(found.far_m),
                show.length(-found.below_m)
            ),
            "keep that distance; the ground under a footing is not looked at".to_owned(),
        )
    };
    Some(Finding {
        ids: &["EX-9", "EX-10"],
        feature: Some(feature.clone()),
        place: context.place(found.dig.p),
        at_m: Some(context.absolute(found.dig.p)),
        measured: Some(Measure {
            value: -found.below_m,
            unit: "m",
        }),
        limit: Some(Measure {
            value: 0.0,
            unit: "m",
        }),
        limit_from: format!("29 CFR 1926.651(i)(2); {}", limit.from),
        cure,
        caution: Some(2),
        ..Finding::new("footing", severity, words)
    })
}
