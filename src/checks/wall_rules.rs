//! What rules say of the walls that are needed: height from the footing, what presses on them,
//! walls one above the other.

use crate::design::{KeepOffPlace, Role};
use crate::geom::{Point, Ring};
use crate::job::{KeepOffKind, limits};
use crate::surface::Rule;

use super::guard;
use super::no_room::is_wall;
use super::wall::{Wall, WallStation};
use super::{Checked, Context, Finding, Measure, Severity};

/// A limit that is met exactly is not passed, metres: above rounding, far below a rod's reading.
pub(super) const EXACTLY_M: f64 = 1.0e-6;

/// Marks the walls with the limits they pass and with what they carry, and finds tiers and drops
/// beside paths.
pub(super) fn check(context: &Context, keep_offs: &[KeepOffPlace], out: &mut Checked) {
    let limits = &context.job.limits;
    let designed = limits.get(&limits::DESIGNED_WALL).value;
    let paths = guard::paths(context, out);
    for wall in &mut out.walls {
        wall.surcharge = surcharge(context, keep_offs, &paths, wall);
        if wall.total_height_m > limits.wall_height_m + EXACTLY_M {
            wall.passes.push("WL-1");
        }
        if !wall.surcharge.is_empty() {
            wall.passes.push("WL-2");
        }
        if wall.max_height_m > designed + EXACTLY_M {
            wall.passes.push("WL-3");
        }
    }
    tiers(context, out);
    guard::check(context, &paths, out);
}

/// Shares of a wall's height behind it at which is looked what stands there. Soil within about
/// the height of a wall presses on it.
const BEHIND: [f64; 4] = [0.15, 0.4, 0.7, 1.0];

/// Most stations of a wall that are looked at.
const MOST_STATIONS: usize = 24;

/// Ground behind a wall that rises by more than this share is a slope above it: 1 in 20.
const SLOPE_ABOVE: f64 = 0.05;

/// What presses on a wall from above, besides the soil it holds.
fn surcharge(
    context: &Context,
    keep_offs: &[KeepOffPlace],
    paths: &[(String, Ring)],
    wall: &Wall,
) -> Vec<String> {
    let design = context.design;
    let mut found: Vec<String> = Vec::new();
    let mut say = |words: String| {
        if !found.contains(&words) {
            found.push(words);
        }
    };
    let step = wall.stations.len().div_ceil(MOST_STATIONS).max(1);
    for (k, pair) in wall.stations.windows(2).enumerate() {
        if k % step != 0 {
            continue;
        }
        let Some((at, out)) = behind(context, wall, pair) else {
            continue;
        };
        let height = (pair[0].height_m + pair[1].height_m) / 2.0;
        let held = (pair[0].ground_m.max(pair[0].finished_m)
            + pair[1].ground_m.max(pair[1].finished_m))
            / 2.0;
        for share in BEHIND {
            let far = share * wall.total_height_m.min(2.0 * height);
            let p = Point::from_m(at[0] + far * out[0], at[1] + far * out[1]);
            let surface = if wall.holds_fill {
                &design.surface
            } else {
                &context.terrain.surface
            };
            if let Some(z) = surface.z_at(p)
                && z - held > SLOPE_ABOVE * far.max(SLOPE_ABOVE)
            {
                say(if wall.holds_fill {
                    format!("the slope of {} above it", wall.feature)
                } else {
                    "ground that rises behind it".to_owned()
                });
            }
            let facet = design.surface.facet_at(p);
            let part = facet.map(|f| &design.parts[design.surface.label(f) as usize]);
            if let Some(part) = part
                && let Some(number) = part.feature
            {
                let feature = &design.features[number];
                let is_bed = part.role == Role::Floor && feature.laid.rule == Rule::Lower;
                let is_above = design.surface.z_at(p).is_some_and(|z| z >= held - height);
                if feature.name != wall.feature && is_bed && is_above {
                    say(format!("{} above it", feature.name));
                } else if is_wall(design, number) && feature.name != wall.feature {
                    say(format!("the wall {} above it", feature.name));
                }
            }
            for (name, _) in paths.iter().filter(|(_, ring)| ring.contains(p)) {
                say(format!("the path \"{name}\" above it"));
            }
            let buildings = keep_offs.iter().filter(|k| k.kind == KeepOffKind::Building);
            for building in buildings {
                // Fill held back from a building has the building before it.
                let is_before = wall.holds_fill && building.name == wall.keep_off;
                if !is_before && building.area.as_ref().is_some_and(|ring| ring.contains(p)) {
                    say(format!("the building \"{}\" behind it", building.name));
                }
            }
        }
    }
    found
}

/// The middle of a stretch of wall, and the direction in plan toward the soil it holds.
pub(super) fn behind(
    context: &Context,
    wall: &Wall,
    pair: &[WallStation],
) -> Option<([f64; 2], [f64; 2])> {
    let origin = context.terrain.origin;
    let [a, b] = [pair[0], pair[1]].map(|s| [s.x_m - origin.x_m as f64, s.y_m - origin.y_m as f64]);
    let [dx, dy] = [b[0] - a[0], b[1] - a[1]];
    let length = dx.hypot(dy);
    if length <= EXACTLY_M {
        return None;
    }
    let at = [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0];
    let left = [-dy / length, dx / length];
    // The side on which the core of the feature lies, nearest first.
    let core = context
        .design
        .features
        .iter()
        .find(|f| f.name == wall.feature)
        .map(|f| &f.laid.core)?;
    let nearest = core
        .iter()
        .map(|p| [p.x_m() - at[0], p.y_m() - at[1]])
        .chain(core.windows(2).map(|w| {
            [
                (w[0].x_m() + w[1].x_m()) / 2.0 - at[0],
                (w[0].y_m() + w[1].y_m()) / 2.0 - at[1],
            ]
        }))
        .min_by(|p, q| p[0].hypot(p[1]).total_cmp(&q[0].hypot(q[1])))?;
    let toward = nearest[0] * left[0] + nearest[1] * left[1];
    // Fill is held on the side of the feature, the ground beside a cut on the other.
    let is_left = (toward > 0.0) == wall.holds_fill;
    let sign = if is_left { 1.0 } else { -1.0 };
    Some((at, left.map(|d| d * sign)))
}

/// Walls one above the other.
fn tiers(context: &Context, out: &mut Checked) {
    let limits = &context.job.limits;
    let times = limits.get(&limits::TIERS);
    let show = context.show();
    let mut findings = Vec::new();
    for (k, one) in out.walls.iter().enumerate() {
        for (j, two) in out.walls.iter().enumerate().skip(k + 1) {
            let Some((off_m, [at, other])) = nearest(one, two) else {
                continue;
            };
            let is_one_lower =
                at.ground_m.min(at.finished_m) <= other.ground_m.min(other.finished_m);
            let (lower, upper, here) = if is_one_lower {
                ((k, one), (j, two), at)
            } else {
                ((j, two), (k, one), other)
            };
            let asked = times.value * lower.1.max_height_m;
            let foot = |s: &WallStation| s.ground_m.min(s.finished_m);
            let rise = (foot(at) - foot(other)).abs();
            // Back to back, or one behind the other along a line, none stands on the other.
            let is_above = rise >= lower.1.max_height_m / 2.0 && one.keep_off != two.keep_off;
            if off_m >= asked - EXACTLY_M || !is_above {
                continue;
            }
            let combined = lower.1.total_height_m + upper.1.total_height_m;
            let is_over = combined > limits.wall_height_m + EXACTLY_M;
            findings.push(Finding {
                ids: &["WL-9"],
                feature: Some(upper.1.feature.clone()),
                place: format!(
                    "W{} and W{} near {}",
                    k + 1,
                    j + 1,
                    show.place(here.x_m, here.y_m)
                ),
                at_m: Some([here.x_m, here.y_m]),
                measured: Some(Measure {
                    value: off_m,
                    unit: "m",
                }),
                limit: Some(Measure {
                    value: asked,
                    unit: "m",
                }),
                limit_from: times.from.clone(),
                cure: format!(
                    "set the upper wall {} farther back, or count both as one wall of {}",
                    show.length(asked - off_m),
                    show.length(combined)
                ),
                caution: Some(4),
                ..Finding::new(
                    "tiers",
                    Severity::Warn,
                    format!(
                        "walls W{} and W{} stand {} apart, closer than {} times the height of the lower one ({}): they count as one of {} from the bottom of the lower footing{}",
                        k + 1,
                        j + 1,
                        show.length(off_m),
                        times.value,
                        show.length(lower.1.max_height_m),
                        show.length(combined),
                        if is_over {
                            format!(", over the limit of {}", show.length(limits.wall_height_m))
                        } else {
                            String::new()
                        }
                    ),
                )
            });
        }
    }
    for finding in findings {
        out.find(finding);
    }
}

/// Nearest places of two walls where both have a height.
fn nearest<'a>(one: &'a Wall, two: &'a Wall) -> Option<(f64, [&'a WallStation; 2])> {
    let mut best: Option<(f64, [&WallStation; 2])> = None;
    let high = |w: &'a Wall| {
        let least = w.max_height_m / 4.0;
        w.stations.iter().filter(move |s| s.height_m >= least)
    };
    for a in high(one) {
        for b in high(two) {
            let off = (a.x_m - b.x_m).hypot(a.y_m - b.y_m);
            if best.is_none_or(|(least, _)| off < least) {
                best = Some((off, [a, b]));
            }
        }
    }
    best
}
