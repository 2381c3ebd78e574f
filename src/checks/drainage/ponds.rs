//! Hollows that hold water on the finished surface: pools that are meant, ponds that were there,
//! and those the design makes.

use std::collections::BTreeMap;

use crate::design::Feature;
use crate::flow::{Pond, Sink};
use crate::geom::Point;
use crate::surface::Rule;

use super::super::{Checked, Context, Finding, Measure, Severity};
use super::held;
use super::yard::{Yard, feature_of};
use super::{PUDDLE_M, SMALLEST_SHED_M2};

/// A puddle smaller than this is none, m2: a square foot.
const SMALLEST_POND_M2: f64 = 0.1;

/// A pool of a basin shallower than this is none, metres: stone may fill a basin nearly to its rim.
const SHALLOWEST_M: f64 = 0.003;

/// What a pond is to the work.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum PondKind {
    /// A basin or a stream, which is to hold water.
    Pool,
    /// It was there before the work, as deep.
    AsBefore,
    /// The design makes it, or makes it deeper.
    New,
}

/// Standing water on the finished surface, every hollow full to its lip.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Standing {
    /// What it is to the work.
    pub kind: PondKind,
    /// The feature that holds it.
    pub feature: Option<String>,
    /// Its deepest place, absolute coordinates in metres.
    pub at_m: [f64; 2],
    /// Where it runs over, absolute coordinates in metres.
    pub lip_m: [f64; 2],
    /// Level of the water, metres.
    pub level_m: f64,
    /// Greatest depth, metres.
    pub depth_m: f64,
    /// Plan area, square metres.
    pub area_m2: f64,
    /// Volume, cubic metres; stone in it is not taken off.
    pub volume_m3: f64,
    /// Its parts in plan, metres in the frame of the surfaces.
    #[serde(skip)]
    pub parts: Vec<Vec<[f64; 2]>>,
    /// Its shore in stretches.
    #[serde(skip)]
    pub shore: Vec<[[f64; 2]; 2]>,
}

/// A pond with what it lies on.
pub(super) struct Found {
    pub(super) pond: Pond,
    pub(super) pit: u32,
    pub(super) kind: PondKind,
    /// The feature that holds it.
    pub(super) by: Option<usize>,
    /// Plan area by feature that it covers.
    pub(super) on: BTreeMap<usize, f64>,
}

pub(super) fn check(context: &Context, yard: &Yard, out: &mut Checked) {
    let ponds = find(context, yard);
    let berms: Vec<usize> = (0..context.design.features.len())
        .filter(|&k| is_berm(&context.design.features[k]))
        .collect();
    // Hollows of the ground as it was are one answer: that of the deepest.
    let mut old: Option<(usize, &Found)> = None;
    for found in &ponds {
        match (found.kind, old) {
            (PondKind::AsBefore, None) => old = Some((1, found)),
            (PondKind::AsBefore, Some((n, deepest))) => {
                let is_deeper = found.pond.depth_m > deepest.pond.depth_m;
                old = Some((n + 1, if is_deeper { found } else { deepest }));
            }
            _ => say(context, yard, found, 1, out),
        }
        let pit = yard.after.pits[found.pit as usize];
        out.drainage.ponds.push(Standing {
            kind: found.kind,
            feature: found.by.map(|f| context.design.features[f].name.clone()),
            at_m: context.absolute(pit.bottom.p),
            lip_m: context.absolute(pit.lip.p),
            level_m: found.pond.level_m,
            depth_m: found.pond.depth_m,
            area_m2: found.pond.area_m2,
            volume_m3: found.pond.volume_m3,
            parts: found.pond.parts.clone(),
            shore: found.pond.shore.clone(),
        });
    }
    if let Some((count, deepest)) = old {
        say(context, yard, deepest, count, out);
    }
    if berms.is_empty() {
        out.missing("DR-8", "no berm, pad, pile or wall in the design");
        for id in ["BM-1", "BM-2"] {
            out.missing(id, "no berm in the design");
        }
    }
    for berm in berms {
        held::across(context, yard, berm, &ponds, out);
        held::holds(context, yard, berm, &ponds, out);
    }
}

/// True for what is raised and can stand in the way of water.
fn is_berm(feature: &Feature) -> bool {
    let is_dug = matches!(feature.kind, "basin" | "stream" | "channel" | "trench");
    let mut steps = feature.laid.finished.iter();
    !is_dug && !feature.is_strip() && steps.any(|step| step.rule == Rule::Raise)
}

fn find(context: &Context, yard: &Yard) -> Vec<Found> {
    let (design, state) = (context.design, &yard.after);
    let mut found = Vec::new();
    for pit in state.pits.widest_of(SHALLOWEST_M) {
        let of = |f: usize| feature_of(design, state.surface, state.tin.facet_of(f));
        let holds_water = |f: &usize| matches!(design.features[*f].kind, "basin" | "stream");
        let mut below = state.tin.facets_at_bottom(&state.pits, pit).filter_map(of);
        let pool = below.find(holds_water);
        let is_shallow = state.pits[pit as usize].depth_m() < PUDDLE_M;
        if is_shallow && pool.is_none() {
            continue;
        }
        let pond = state.tin.pond(&state.pits, pit);
        if pond.area_m2 < SMALLEST_POND_M2 {
            continue;
        }
        let mut on: BTreeMap<usize, f64> = BTreeMap::new();
        for (&f, part) in pond.facets.iter().zip(&pond.parts) {
            if let Some(feature) = of(f) {
                *on.entry(feature).or_default() += crate::geom::twice_area_of(part) / 2.0;
            }
        }
        let mut at_lip: Vec<usize> = (state.tin.facets_at_lip(&state.pits, pit))
            .filter_map(of)
            .collect();
        at_lip.sort_unstable();
        at_lip.dedup();
        let meant: f64 = on
            .iter()
            .filter(|(f, _)| holds_water(f) || design.features[**f].kind == "channel")
            .fold(0.0, |sum, (_, area)| sum + area);
        let is_pool = pool.is_some() && pond.area_m2 - meant < SMALLEST_SHED_M2;
        if !is_pool && is_shallow {
            continue;
        }
        let most = |of: &dyn Fn(&usize) -> bool| {
            let all = on.iter().filter(|(f, _)| of(f));
            all.max_by(|a, b| a.1.total_cmp(b.1)).map(|(f, _)| *f)
        };
        let is_raised = |f: &usize| is_berm(&design.features[*f]);
        let by = match is_pool {
            true => pool,
            false => (at_lip.iter().copied().find(is_raised))
                .or_else(|| most(&is_raised))
                .or_else(|| most(&|_| true))
                .or_else(|| at_lip.first().copied()),
        };
        let bottom = state.pits[pit as usize].bottom;
        let kind = match (is_pool, by) {
            (true, _) => PondKind::Pool,
            _ if was_there(yard, bottom.p, &pond) => PondKind::AsBefore,
            _ => PondKind::New,
        };
        found.push(Found {
            pond,
            pit,
            kind,
            by,
            on,
        });
    }
    found
}

/// True if a pond stood there before the work that was as deep and as large: a drop that falls on
/// the lowest place of the new one ends in it.
fn was_there(yard: &Yard, bottom: Point, pond: &Pond) -> bool {
    let state = &yard.before;
    let least = PUDDLE_M / 2.0;
    let drop = state.tin.drop(state.surface, &state.pits, bottom, least);
    let Some(Sink::Pit(pit)) = drop.map(|drop| drop.sink) else {
        return false;
    };
    let old = state.tin.pond(&state.pits, pit);
    old.level_m >= pond.level_m - least && old.area_m2 >= pond.area_m2 * 0.9 - SMALLEST_POND_M2
}

fn say(context: &Context, yard: &Yard, found: &Found, count: usize, out: &mut Checked) {
    let (show, design) = (context.show(), context.design);
    let pit = yard.after.pits[found.pit as usize];
    let pond = &found.pond;
    let size = format!(
        "{} deep, {}, {}",
        show.level_with_unit(pond.depth_m),
        show.area(pond.area_m2),
        show.volume_or_none(pond.volume_m3)
    );
    let name = found.by.map(|f| design.features[f].name.clone());
    let lip = context.place(pit.lip.p);
    let by_berm = found.by.is_some_and(|f| is_berm(&design.features[f]));
    let (severity, words, cure, caution) = match found.kind {
        PondKind::Pool => (
            Severity::Note,
            format!(
                "{}: holds water up to {}, {size}; it runs over at {lip}",
                name.clone().unwrap_or_default(),
                show.level_with_unit(pond.level_m)
            ),
            String::new(),
            None,
        ),
        PondKind::AsBefore => (
            Severity::Note,
            match count {
                1 => format!("water stands in a hollow as before the work: {size}"),
                n => format!("water stands in {n} hollows as before the work, the deepest {size}"),
            },
            String::new(),
            Some(15),
        ),
        PondKind::New => (
            Severity::Warn,
            match (&name, by_berm) {
                (Some(name), true) => format!("water stands behind {name}: {size}"),
                (Some(name), false) => format!("water stands at {name} in a new hollow: {size}"),
                (None, _) => format!("water stands in a new hollow: {size}"),
            },
            format!(
                "let it out at {lip} by a cut {} deep, or fill it with {}",
                show.level_with_unit(pond.depth_m),
                show.volume_or_none(pond.volume_m3)
            ),
            Some(15),
        ),
    };
    out.find(Finding {
        ids: match (found.kind, by_berm) {
            (PondKind::New, true) => &["DR-8"],
            _ => &[],
        },
        feature: name,
        place: context.place(pit.bottom.p),
        at_m: Some(context.absolute(pit.bottom.p)),
        measured: Some(Measure {
            value: pond.depth_m,
            unit: "m",
        }),
        cure,
        caution,
        ..Finding::new("pond", severity, words)
    });
}
