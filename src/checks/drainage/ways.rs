//! Where drops run before and after the work, and what newly drains to a building or over a line
//! of property.

use crate::flow::{Label, Mark, Sink};
use crate::geom::{Point, distance_m};
use crate::show::Show;

use super::super::{Checked, Context, Finding, Measure, Severity};
use super::SMALLEST_SHED_M2;
use super::yard::{State, Yard, feature_mark, keep_off_mark};

/// Drops that are followed, about.
const DROPS: f64 = 140.0;

/// A way is kept to this, metres: a line on paper is thicker.
const WAY_M: f64 = 0.02;

/// The way of a drop.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Way {
    /// East, north and height of its breaks, absolute, metres.
    pub points_m: Vec<[f64; 3]>,
    /// Where it ends, in words.
    pub ends: String,
}

/// What drains to a place.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Catchment {
    /// A building, a line of property, a basin or a stream.
    pub name: String,
    /// Plan area that drains to it or over it on the measured ground, square metres.
    pub before_m2: f64,
    /// The same on the finished surface.
    pub after_m2: f64,
}

/// A drop before and after.
struct Pair {
    before: Option<crate::flow::Drop>,
    after: Option<crate::flow::Drop>,
}

pub(super) fn check(context: &Context, yard: &Yard, out: &mut Checked) {
    let pairs = drops(context, yard);
    for (mark, name) in targets(yard, out) {
        let area = |state: &State| state.drains.area_m2(|label| label.reaches(mark));
        let catchment = Catchment {
            name,
            before_m2: area(&yard.before),
            after_m2: area(&yard.after),
        };
        out.drainage.catchments.push(catchment);
    }
    to_buildings(context, yard, &pairs, out);
    over_lines(context, yard, &pairs, out);
    to_features(context, yard, out);
    let guessed = yard.before.drains.guessed_m2() + yard.after.drains.guessed_m2();
    if guessed >= SMALLEST_SHED_M2 {
        out.missing(
            "DR-6",
            format!(
                "facets over {} shed water in a ring; which way it leaves is guessed",
                context.show().area(guessed)
            ),
        );
    }
    if yard.before.tin.lines_left_out() || yard.after.tin.lines_left_out() {
        out.missing(
            "DR-6",
            "lines lie so close together that areas could not be parted along them",
        );
    }
    let ways = |drops: &dyn Fn(&Pair) -> Option<&crate::flow::Drop>| -> Vec<Way> {
        let drops = pairs.iter().filter_map(drops);
        drops.map(|drop| way(context, out, drop)).collect()
    };
    let (before, after) = (ways(&|p| p.before.as_ref()), ways(&|p| p.after.as_ref()));
    out.drainage.before = before;
    out.drainage.after = after;
}

/// Buildings and lines of property.
fn targets(yard: &Yard, out: &Checked) -> Vec<(Mark, String)> {
    let buildings = yard.buildings.iter().map(|(k, _)| *k);
    let all = buildings.chain(yard.boundaries.iter().copied());
    all.map(|k| (keep_off_mark(k), out.keep_offs[k].name.clone()))
        .collect()
}

/// Drops from a square grid of places over the ground.
fn drops(context: &Context, yard: &Yard) -> Vec<Pair> {
    let ground = &context.terrain.surface;
    let plan = || ground.facets().flat_map(|f| ground.corners(f)).map(|c| c.p);
    let Some(low) = plan().reduce(|a, b| Point::new(a.x.min(b.x), a.y.min(b.y))) else {
        return Vec::new();
    };
    let high = plan().fold(low, |a, b| Point::new(a.x.max(b.x), a.y.max(b.y)));
    let size = high.relative_m(low);
    let step = (size[0] * size[1] / DROPS).sqrt().max(0.1);
    let count = size.map(|s| (s / step).round().max(1.0) as usize);
    let mut pairs = Vec::new();
    for j in 0..count[1] {
        for i in 0..count[0] {
            let share = |k: usize, of: usize| (k as f64 + 0.5) / of as f64;
            let off = Point::from_m(share(i, count[0]) * size[0], share(j, count[1]) * size[1]);
            let start = Point::new(low.x + off.x, low.y + off.y);
            let run = |state: &State| {
                let full = f64::INFINITY;
                state.tin.drop(state.surface, &state.pits, start, full)
            };
            pairs.push(Pair {
                before: run(&yard.before),
                after: run(&yard.after),
            });
        }
    }
    pairs
}

fn reaches(drop: &crate::flow::Drop, mark: Mark) -> bool {
    drop.sink == Sink::Held(mark) || drop.met.contains(&mark)
}

/// A drop that reaches a mark after the work and did not before.
fn newly(pairs: &[Pair], mark: Mark) -> Option<&crate::flow::Drop> {
    let mut new = pairs.iter().filter_map(|pair| {
        let after = pair.after.as_ref().filter(|drop| reaches(drop, mark))?;
        let was = pair.before.as_ref().is_some_and(|drop| reaches(drop, mark));
        (!was).then_some(after)
    });
    // The one in the middle of all.
    let all: Vec<&crate::flow::Drop> = new.by_ref().collect();
    all.get(all.len() / 2).copied()
}

fn to_buildings(context: &Context, yard: &Yard, pairs: &[Pair], out: &mut Checked) {
    let show = context.show();
    if yard.buildings.is_empty() {
        out.missing(
            "DR-6",
            "no [[keep-off]] of the kind building with an area: where its water would go is not known",
        );
    }
    for (k, ring) in &yard.buildings {
        let mark = keep_off_mark(*k);
        let name = out.keep_offs[*k].name.clone();
        let [before, after] = drained(yard, mark, "to", &name, show, out);
        let more = after - before;
        if more < SMALLEST_SHED_M2 {
            continue;
        }
        let arrives = newly(pairs, mark).and_then(|drop| drop.points.last());
        let at = arrives.map_or_else(|| ring.inner_point(), |p| Point::from_m(p[0], p[1]));
        out.find(Finding {
            ids: &["DR-6"],
            feature: cause(context, at),
            place: context.place(at),
            at_m: Some(context.absolute(at)),
            measured: Some(Measure { value: more, unit: "m2" }),
            cure: format!(
                "turn the water of these {} aside before it reaches {name}: a swale or a drain on the uphill side, or the work set farther off",
                show.area(more)
            ),
            caution: Some(11),
            ..Finding::new(
                "water-to-building",
                Severity::Stop,
                format!(
                    "after the work water runs to {name} that did not before: {} more drain there, {} in all (before {})",
                    show.area(more),
                    show.area(after),
                    show.area_or_none(before)
                ),
            )
        });
    }
}

/// Where a path crosses a line.
fn crosses(points: &[[f64; 3]], line: &[Point]) -> Option<Point> {
    points.windows(2).find_map(|step| {
        let [p, q] = [0, 1].map(|k| Point::from_m(step[k][0], step[k][1]));
        line.windows(2).find_map(|pair| {
            let ([dx, dy], [ex, ey]) = (q.relative_m(p), pair[1].relative_m(pair[0]));
            let [ax, ay] = pair[0].relative_m(p);
            let across = dx * ey - dy * ex;
            let (t, u) = ((ax * ey - ay * ex) / across, (ax * dy - ay * dx) / across);
            // A path has a break on the line it was cut along.
            let near = -1.0e-6..=1.0 + 1.0e-6;
            (near.contains(&t) && near.contains(&u)).then(|| {
                let off = Point::from_m(t * dx, t * dy);
                Point::new(p.x + off.x, p.y + off.y)
            })
        })
    })
}

fn over_lines(context: &Context, yard: &Yard, pairs: &[Pair], out: &mut Checked) {
    let show = context.show();
    if yard.boundaries.is_empty() {
        out.missing(
            "DR-6",
            "no [[keep-off]] of the kind boundary: whether water is newly sent to a neighbour is not known",
        );
    }
    for &k in &yard.boundaries {
        let mark = keep_off_mark(k);
        let (name, line) = (out.keep_offs[k].name.clone(), out.keep_offs[k].line.clone());
        let [before, after] = drained(yard, mark, "over", &name, show, out);
        let more = after - before;
        if more < SMALLEST_SHED_M2 {
            continue;
        }
        let crossed = newly(pairs, mark).and_then(|drop| crosses(&drop.points, &line));
        let at = crossed.unwrap_or(line[line.len() / 2]);
        out.find(Finding {
            ids: &["DR-6"],
            feature: cause(context, at),
            place: context.place(at),
            at_m: Some(context.absolute(at)),
            measured: Some(Measure { value: more, unit: "m2" }),
            cure: format!(
                "lead the water of these {} back along the line on your side, or ask where it may go",
                show.area(more)
            ),
            caution: Some(11),
            ..Finding::new(
                "water-over-line",
                Severity::Warn,
                format!(
                    "after the work water runs over \"{name}\" that did not before: {} more drain there, {} in all (before {})",
                    show.area(more),
                    show.area(after),
                    show.area_or_none(before)
                ),
            )
        });
    }
}

/// The feature nearest to where water arrives that was laid there: most likely its cause.
fn cause(context: &Context, at: Point) -> Option<String> {
    let features = context.design.features.iter().filter(|f| !f.is_strip());
    let near = features.map(|feature| {
        let far = feature.laid.core.iter().map(|p| distance_m(*p, at));
        (far.fold(f64::INFINITY, f64::min), &feature.name)
    });
    near.min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name)| name.clone())
}

/// What drains to basins and streams.
fn to_features(context: &Context, yard: &Yard, out: &mut Checked) {
    let show = context.show();
    for (number, feature) in context.design.features.iter().enumerate() {
        if !matches!(feature.kind, "basin" | "stream") {
            continue;
        }
        let mark = feature_mark(&out.keep_offs, number);
        let of = |label: &Label| label.reaches(mark);
        let catchment = Catchment {
            name: feature.name.clone(),
            before_m2: yard.before.drains.area_m2(of),
            after_m2: yard.after.drains.area_m2(of),
        };
        out.find(Finding {
            feature: Some(feature.name.clone()),
            measured: Some(Measure {
                value: catchment.after_m2,
                unit: "m2",
            }),
            ..Finding::new(
                "catchment",
                Severity::Note,
                format!(
                    "{}: rain on {} runs into it (before the work {} ran through that place)",
                    feature.name,
                    show.area_or_none(catchment.after_m2),
                    show.area_or_none(catchment.before_m2)
                ),
            )
        });
        out.drainage.catchments.push(catchment);
    }
}

/// A way for drawings.
fn way(context: &Context, out: &Checked, drop: &crate::flow::Drop) -> Way {
    let origin = context.terrain.origin;
    let held = |mark: Mark| out.keep_offs.get(usize::from(mark)).map(|k| k.name.clone());
    let over = drop.met.iter().rev().find_map(|&mark| held(mark));
    let ends = match drop.sink {
        Sink::Held(mark) => format!("at {}", held(mark).unwrap_or_default()),
        Sink::Rim | Sink::Pit(_) => match over {
            Some(name) => format!("over the edge of the survey, past {name}"),
            None => "over the edge of the survey".to_owned(),
        },
    };
    let points_m = thinned(&drop.points)
        .into_iter()
        .map(|[x, y, z]| [x + origin.x_m as f64, y + origin.y_m as f64, z])
        .collect();
    Way { points_m, ends }
}

/// A path without the breaks a drawing does not show.
///
/// # Source
///
/// D. Douglas, T. Peucker, "Algorithms for the reduction of the number of points", The Canadian
/// Cartographer 10 (1973), 112-122
fn thinned(points: &[[f64; 3]]) -> Vec<[f64; 3]> {
    let mut keep = vec![false; points.len()];
    let mut open = vec![(0, points.len() - 1)];
    (keep[0], keep[points.len() - 1]) = (true, true);
    while let Some((from, to)) = open.pop() {
        let [a, b] = [points[from], points[to]];
        let [ex, ey] = [b[0] - a[0], b[1] - a[1]];
        let square = ex * ex + ey * ey;
        let far = |p: [f64; 3]| {
            let [x, y] = [p[0] - a[0], p[1] - a[1]];
            let share = match square > 0.0 {
                true => ((x * ex + y * ey) / square).clamp(0.0, 1.0),
                false => 0.0,
            };
            let off = [x - share * ex, y - share * ey];
            off[0] * off[0] + off[1] * off[1]
        };
        let worst = (from + 1..to)
            .map(|k| (far(points[k]), k))
            .max_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((_, k)) = worst.filter(|(far, _)| *far > WAY_M * WAY_M) {
            keep[k] = true;
            open.extend([(from, k), (k, to)]);
        }
    }
    (0..points.len())
        .filter(|&k| keep[k])
        .map(|k| points[k])
        .collect()
}

/// What drains to a mark before and after the work, m2; said as well.
fn drained(
    yard: &Yard,
    mark: Mark,
    how: &str,
    name: &str,
    show: Show,
    out: &mut Checked,
) -> [f64; 2] {
    let areas =
        [&yard.before, &yard.after].map(|state| state.drains.area_m2(|label| label.reaches(mark)));
    let [before, after] = areas.map(|area| show.area_or_none(area));
    let words = format!("{after} drain {how} {name}, before the work {before}");
    out.looked("DR-6", words);
    areas
}
