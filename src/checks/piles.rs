//! Piles of soil and stone: how far from the edge of every dig, and what they lie on.

use crate::design::KeepOffPlace;
use crate::geom::{Point, Ring, Union, compass, distance_m, orient};
use crate::job::{KeepOffKind, limits};
use crate::route::{Move, least_move};
use crate::show::Show;

use super::footprint::{Footprint, is_dig, length_inside, lines_apart_m};
use super::{Checked, Context, Finding, Measure, Severity};

/// A pile and its nearest dig.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct PilePlace {
    /// Its name.
    pub name: String,
    /// Lines round its foot, absolute, metres.
    pub rims_m: Vec<Vec<[f64; 2]>>,
    /// The dig whose edge is nearest, and how far it is, metres; `None` without a dig.
    pub nearest_edge: Option<(String, f64)>,
}

/// Clear of a line means this far from it, metres: a hand.
const CLEAR_M: f64 = 0.1;

/// Least length or area of an overlap worth a word, metres or square metres.
const BRUSH_M: f64 = 0.05;

/// "1.25 m to the north-east": rounded up, so that the move is enough.
pub(super) fn move_words(show: Show, by: Move) -> String {
    let step = show
        .unit()
        .to_m(if show.unit().is_foot() { 0.1 } else { 0.01 });
    let length = (by.length_m / step).ceil() * step;
    format!(
        "{} to the {}",
        show.length(length),
        compass_sixteenth(by.by_m)
    )
}

/// The nearest of sixteen compass words.
fn compass_sixteenth([x, y]: [f64; 2]) -> String {
    let turned = |by: f64| {
        let (sin, cos) = by.sin_cos();
        compass([x * cos - y * sin, x * sin + y * cos])
    };
    // Between two of the eight words a sixteenth to each side tells both.
    let sixteenth = std::f64::consts::TAU / 32.0;
    let (right, left) = (turned(-sixteenth), turned(sixteenth));
    if right == left {
        right.to_owned()
    } else {
        // "north and north-east" for north-north-east.
        format!("{} by {}", right.min(left), right.max(left))
    }
}

pub(super) fn check(context: &Context, footprints: &[Footprint], out: &mut Checked) {
    let features = &context.design.features;
    let is_pile = |k: &usize| features[*k].kind == "pile" && !footprints[*k].is_empty();
    let piles: Vec<usize> = (0..features.len()).filter(is_pile).collect();
    let digs: Vec<usize> = (0..features.len())
        .filter(|&k| is_dig(&features[k]) && !footprints[k].is_empty())
        .collect();
    let limit = context.job.limits.get(&limits::EDGE_SETBACK);
    let ways = out.access.routes.iter().filter(|r| r.closed_by.is_none());
    let num_ways = ways.count();
    let show = context.show();
    if digs.is_empty() {
        out.missing("EX-7", "nothing is dug");
    } else if piles.is_empty() {
        out.missing(
            "EX-7",
            "no pile is drawn, so where soil and stone will lie is not known (kind = \"pile\")",
        );
    }
    if !digs.is_empty() && num_ways > 0 {
        let words = format!(
            "{num_ways} barrow way(s) are laid {} from the edge of every dig",
            show.length(limit.value)
        );
        out.looked("EX-7", words);
    }
    let keep_offs = out.keep_offs.clone();
    for pile in piles {
        let mut nearest: Option<(usize, f64, [Point; 2])> = None;
        for &dig in &digs {
            let (far, at) = lines_apart_m(&footprints[pile].lines(), &footprints[dig].lines());
            if nearest.is_none_or(|(_, least, _)| far < least) {
                nearest = Some((dig, far, at));
            }
        }
        let name = &features[pile].name;
        if let Some((dig, far, at)) = nearest {
            let words = format!(
                "{name} lies {} from the edge of {}, the nearest dig",
                show.level_with_unit(far),
                features[dig].name
            );
            out.looked("EX-7", words.clone());
            // A lattice unit is no fault.
            if far < limit.value - 1.0e-6 {
                let rims: Vec<&[Point]> =
                    digs.iter().flat_map(|&d| footprints[d].lines()).collect();
                let cure = cure(show, name, &footprints[pile], &rims, limit.value);
                out.find(Finding {
                    ids: &["EX-7"],
                    feature: Some(name.clone()),
                    place: context.place(at[0]),
                    at_m: Some(context.absolute(at[0])),
                    measured: Some(Measure {
                        value: far,
                        unit: "m",
                    }),
                    limit: Some(Measure {
                        value: limit.value,
                        unit: "m",
                    }),
                    limit_from: limit.from.clone(),
                    cure,
                    caution: Some(3),
                    ..Finding::new("spoil-near-edge", Severity::Stop, words)
                });
            }
        }
        for keep_off in &keep_offs {
            out.findings
                .extend(on_keep_off(context, name, &footprints[pile], keep_off));
        }
        for (number, other) in features.iter().enumerate() {
            if number != pile && !is_dig(other) && !other.is_strip() && other.kind != "pile" {
                out.findings
                    .extend(on_feature(context, [pile, number], footprints));
            }
        }
        let rims = &footprints[pile].rims;
        let absolute = |rim: &Vec<Point>| rim.iter().map(|p| context.absolute(*p)).collect();
        out.access.piles.push(PilePlace {
            name: name.clone(),
            rims_m: rims.iter().map(absolute).collect(),
            nearest_edge: nearest.map(|(dig, far, _)| (features[dig].name.clone(), far)),
        });
    }
}

/// "move X 0.40 m to the east", or to find another place.
fn cure(show: Show, name: &str, pile: &Footprint, from: &[&[Point]], apart_m: f64) -> String {
    match least_move(&pile.lines(), from, apart_m) {
        Some(by) => format!("move {name} {}", move_words(show, by)),
        None => format!("find another place for {name}"),
    }
}

/// A pile over a boundary or a building; roots and buried lines look at everything by themselves.
fn on_keep_off(
    context: &Context,
    name: &str,
    pile: &Footprint,
    keep_off: &KeepOffPlace,
) -> Option<Finding> {
    let is_ours = matches!(
        keep_off.kind,
        KeepOffKind::Boundary | KeepOffKind::Building | KeepOffKind::Other
    );
    if !is_ours {
        return None;
    }
    let line: &[Point] = &keep_off.line;
    let (_, at) = lines_apart_m(&pile.lines(), &[line]);
    let foot: Vec<Ring> = pile
        .rims
        .iter()
        .filter_map(|rim| Ring::new(rim).ok())
        .collect();
    let show = context.show();
    let is_boundary = keep_off.kind == KeepOffKind::Boundary;
    let (measured, how) = match &keep_off.area {
        // Within a boundary that is an area is where a pile belongs.
        Some(area) if !is_boundary => {
            let both = Union::overlap(&foot, std::slice::from_ref(area)).unwrap_or_default();
            let nm2: i128 = both
                .triangles
                .iter()
                .map(|t| orient(t[0], t[1], t[2]))
                .sum();
            let value = nm2 as f64 / 2.0 / 1.0e18;
            let how = format!("{} of it are under the pile", show.area(value));
            (Measure { value, unit: "m2" }, how)
        }
        _ => {
            let across = foot.iter().map(|ring| length_inside(line, ring).0);
            let value = across.fold(0.0, f64::max);
            let how = format!("{} of its line are under the pile", show.length(value));
            (Measure { value, unit: "m" }, how)
        }
    };
    if measured.value < BRUSH_M {
        return None;
    }
    let what = match keep_off.kind {
        KeepOffKind::Boundary => "over the boundary",
        KeepOffKind::Building => "against the building",
        _ => "on",
    };
    Some(Finding {
        feature: Some(name.to_owned()),
        place: context.place(at[0]),
        at_m: Some(context.absolute(at[0])),
        measured: Some(measured),
        cure: cure(show, name, pile, &[line], CLEAR_M),
        ..Finding::new(
            "pile",
            Severity::Stop,
            format!("{name} lies {what} \"{}\": {how}", keep_off.name),
        )
    })
}

/// A pile on the place of something that is built.
fn on_feature(
    context: &Context,
    [pile, other]: [usize; 2],
    footprints: &[Footprint],
) -> Option<Finding> {
    let (mine, others) = (&footprints[pile], &footprints[other]);
    if others.is_empty() {
        return None;
    }
    // What lies on something shares its rim, as the surface has one label at each place.
    let (far, at) = lines_apart_m(&mine.lines(), &others.lines());
    let shared: f64 = shared_m(&mine.rims, &others.rims);
    if far > 0.0 || shared < BRUSH_M {
        return None;
    }
    let features = &context.design.features;
    let (name, other) = (&features[pile].name, &features[other].name);
    Some(Finding {
        feature: Some(name.clone()),
        place: context.place(at[0]),
        at_m: Some(context.absolute(at[0])),
        measured: Some(Measure {
            value: shared,
            unit: "m",
        }),
        cure: cure(context.show(), name, mine, &others.lines(), CLEAR_M),
        ..Finding::new(
            "pile",
            Severity::Warn,
            format!(
                "{name} lies on the place of {other}, over {} of its foot: it has to be moved before that is built",
                context.show().length(shared)
            ),
        )
    })
}

/// Length of rim that two footprints share, metres.
fn shared_m(some: &[Vec<Point>], others: &[Vec<Point>]) -> f64 {
    let sides = |rims: &[Vec<Point>]| -> std::collections::BTreeSet<[Point; 2]> {
        let pairs = rims.iter().flat_map(|rim| rim.windows(2));
        pairs.map(|w| [w[0].min(w[1]), w[0].max(w[1])]).collect()
    };
    let others = sides(others);
    let shared = sides(some).into_iter().filter(|s| others.contains(s));
    shared.map(|[a, b]| distance_m(a, b)).sum()
}
