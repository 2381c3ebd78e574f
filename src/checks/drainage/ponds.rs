//! Hollows that hold water on the finished surface: pools that are meant, ponds that were there,
//! and those the design makes; berms that stand in the way of water or hold it.

use std::collections::BTreeMap;

use crate::design::{Feature, Role};
use crate::flow::Pond;
use crate::geom::Point;
use crate::job::limits::{DAM_DEPTH, DAM_DOWNSTREAM, DAM_SIDES, DAM_UPSTREAM};
use crate::surface::{Label, Rule};
use crate::units::Slope;

use super::super::{Checked, Context, Finding, Measure, Severity};
use super::yard::{Yard, feature_mark, feature_of};
use super::{PUDDLE_M, SMALLEST_SHED_M2};

/// A puddle smaller than this is none, m2: a square foot.
const SMALLEST_POND_M2: f64 = 0.1;

/// A pool of a basin shallower than this is none, metres: stone may fill a basin nearly to its rim.
const SHALLOWEST_M: f64 = 0.003;

/// Ground of more than this that drains across a place makes a way of water, m2: about a hundred
/// square feet; common practice, no source.
const WAY_OF_WATER_M2: f64 = 10.0;

/// Side slopes of less than this are slivers, m2.
const SMALLEST_SIDE_M2: f64 = 0.05;

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
struct Found {
    pond: Pond,
    pit: u32,
    kind: PondKind,
    /// The feature that holds it.
    by: Option<usize>,
    /// Plan area by feature that it covers.
    on: BTreeMap<usize, f64>,
}

pub(super) fn check(context: &Context, yard: &Yard, out: &mut Checked) {
    let ponds = find(context, yard);
    let berms: Vec<usize> = (0..context.design.features.len())
        .filter(|&k| is_berm(&context.design.features[k]))
        .collect();
    for found in &ponds {
        say(context, yard, found, out);
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
    if berms.is_empty() {
        out.missing("DR-8", "no berm, pad, pile or wall in the design");
        for id in ["BM-1", "BM-2"] {
            out.missing(id, "no berm in the design");
        }
    }
    for berm in berms {
        across(context, yard, berm, &ponds, out);
        holds(context, yard, berm, &ponds, out);
    }
}

/// True for what is raised and can stand in the way of water.
fn is_berm(feature: &Feature) -> bool {
    feature.laid.rule == Rule::Raise && !feature.is_strip()
}

fn find(context: &Context, yard: &Yard) -> Vec<Found> {
    let (design, state) = (context.design, &yard.after);
    let mut found = Vec::new();
    for pit in state.pits.widest_of(SHALLOWEST_M) {
        let pond = state.tin.pond(&state.pits, pit);
        if pond.area_m2 < SMALLEST_POND_M2 {
            continue;
        }
        let of = |f: usize| feature_of(design, state.surface, state.tin.facet_of(f));
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
        let holds_water = |f: &usize| matches!(design.features[*f].kind, "basin" | "stream");
        let mut below = state.tin.facets_at_bottom(&state.pits, pit).filter_map(of);
        let pool = below.find(holds_water);
        let meant: f64 = on
            .iter()
            .filter(|(f, _)| holds_water(f) || design.features[**f].kind == "channel")
            .fold(0.0, |sum, (_, area)| sum + area);
        let is_pool = pool.is_some() && pond.area_m2 - meant < SMALLEST_SHED_M2;
        if !is_pool && pond.depth_m < PUDDLE_M {
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

/// True if a pond stood there before the work that was as deep and as large.
fn was_there(yard: &Yard, bottom: Point, pond: &Pond) -> bool {
    let state = &yard.before;
    let Some(z) = state.surface.z_at(bottom) else {
        return false;
    };
    state.pits.widest_of(PUDDLE_M / 2.0).any(|pit| {
        let level = state.pits[pit as usize].lip.z;
        // Near the lowest place of the new one the old one stood about as high.
        level > z && level >= pond.level_m - PUDDLE_M / 2.0 && {
            let old = state.tin.pond(&state.pits, pit);
            let at = [bottom.x_m(), bottom.y_m()];
            let covers = old.parts.iter().any(|part| holds_place(part, at));
            covers && old.area_m2 >= pond.area_m2 * 0.9 - SMALLEST_POND_M2
        }
    })
}

/// True if a convex part, corners counter-clockwise, holds a place.
fn holds_place(part: &[[f64; 2]], [x, y]: [f64; 2]) -> bool {
    (0..part.len()).all(|k| {
        let (a, b) = (part[k], part[(k + 1) % part.len()]);
        (b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0]) >= -1.0e-9
    })
}

fn say(context: &Context, yard: &Yard, found: &Found, out: &mut Checked) {
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
            format!("water stands in a hollow as before the work: {size}"),
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

/// Whether a berm stands where water runs now.
fn across(context: &Context, yard: &Yard, berm: usize, ponds: &[Found], out: &mut Checked) {
    let (show, design) = (context.show(), context.design);
    let feature = &design.features[berm];
    let mark = feature_mark(&out.keep_offs, berm);
    let state = &yard.before;
    let reaches = state.drains.area_m2(|label| label.reaches(mark));
    let own = (0..state.tin.num_facets())
        .filter(|&f| state.tin.mark_of(f) == Some(mark))
        .fold(0.0, |sum, f| sum + state.tin.area_m2(f));
    let above = (reaches - own).max(0.0);
    let stands = ponds
        .iter()
        .find(|p| p.kind == PondKind::New && p.by == Some(berm));
    let words = format!(
        "{}: {} drain across the place where it is to stand",
        feature.name,
        show.area_or_none(above)
    );
    out.looked("DR-8", words.clone());
    if above < WAY_OF_WATER_M2 {
        return;
    }
    let at = feature.laid.core[feature.laid.core.len() / 2];
    let (severity, then, cure) = match stands {
        // The pond itself says how deep.
        Some(found) => (
            Severity::Warn,
            format!(
                "after the work it stands behind it, {} deep",
                show.level_with_unit(found.pond.depth_m)
            ),
            format!(
                "leave a gap or a pipe at its lowest place, {} deep, or cut a swale round its end",
                show.level_with_unit(found.pond.depth_m)
            ),
        ),
        None => (
            Severity::Note,
            "after the work it runs round it".to_owned(),
            "look where it goes on the sheet of drainage".to_owned(),
        ),
    };
    out.find(Finding {
        ids: &["DR-8"],
        feature: Some(feature.name.clone()),
        place: context.place(at),
        at_m: Some(context.absolute(at)),
        measured: Some(Measure {
            value: above,
            unit: "m2",
        }),
        cure,
        ..Finding::new(
            "blocked-way",
            severity,
            format!(
                "{} crosses the way water takes now: {} drain across its place; {then}",
                feature.name,
                show.area(above)
            ),
        )
    });
}

/// Water against a berm: how deep, and how steep its sides are then.
fn holds(context: &Context, yard: &Yard, berm: usize, ponds: &[Found], out: &mut Checked) {
    let (show, design, state) = (context.show(), context.design, &yard.after);
    let name = &design.features[berm].name;
    let limits = &context.job.limits;
    let is_of = |f: usize| feature_of(design, state.surface, state.tin.facet_of(f)) == Some(berm);
    let mut deepest: Option<(f64, &Found)> = None;
    for found in ponds.iter().filter(|p| p.on.contains_key(&berm)) {
        let wet = found.pond.facets.iter().filter(|&&f| is_of(f));
        let lowest = wet
            .flat_map(|&f| state.tin.heights(f))
            .fold(f64::INFINITY, f64::min);
        let depth = found.pond.level_m - lowest;
        if deepest.is_none_or(|(most, _)| depth > most) {
            deepest = Some((depth, found));
        }
    }
    let Some((depth, found)) = deepest.filter(|(depth, _)| *depth >= PUDDLE_M) else {
        for id in ["BM-1", "BM-2"] {
            out.looked(id, format!("{name}: no water stands against it"));
        }
        return;
    };
    let pit = state.pits[found.pit as usize];
    let limit = limits.get(&DAM_DEPTH);
    let words = format!(
        "{name}: water stands {} against it when the hollow behind is full",
        show.level_with_unit(depth)
    );
    out.looked("BM-1", words.clone());
    if depth >= limit.value - 1.0e-6 {
        out.find(Finding {
            ids: &["BM-1"],
            feature: Some(name.clone()),
            place: context.place(pit.bottom.p),
            at_m: Some(context.absolute(pit.bottom.p)),
            measured: Some(Measure { value: depth, unit: "m" }),
            limit: Some(Measure { value: limit.value, unit: "m" }),
            limit_from: limit.from,
            cure: format!(
                "lower the way out by more than {}, or ask the state dam office or the conservation district",
                show.level_with_unit(depth - limit.value)
            ),
            caution: Some(7),
            ..Finding::new(
                "dam",
                Severity::Warn,
                format!(
                    "{words}; from {} on many places count it as a dam",
                    show.level_with_unit(limit.value)
                ),
            )
        });
    }
    // Sides by the plane they lie in: those that get wet, and the others. A part by its label may
    // have both, where a berm goes round a corner.
    let plane_of = |f: usize| {
        let source = state.surface.source(state.tin.facet_of(f));
        (source.label, source.plane.slope.map(f64::to_bits))
    };
    let mut sides: BTreeMap<(Label, [u64; 2]), Vec<(f64, f64)>> = BTreeMap::new();
    for f in (0..state.tin.num_facets()).filter(|&f| is_of(f)) {
        let plane = plane_of(f);
        if design.parts[plane.0 as usize].role == Role::Side {
            let side = (state.tin.steepness(f), state.tin.area_m2(f));
            sides.entry(plane).or_default().push(side);
        }
    }
    let mut wet: Vec<(Label, [u64; 2])> = found.pond.facets.iter().map(|&f| plane_of(f)).collect();
    wet.sort_unstable();
    wet.dedup();
    let run = |is_wet: bool| {
        let of = sides
            .iter()
            .filter(|(plane, _)| wet.binary_search(plane).is_ok() == is_wet);
        let steepest = of.filter_map(|(_, facets)| steepest(facets.clone()));
        let steepest = steepest.fold(0.0, f64::max);
        (steepest > 0.0).then(|| 1.0 / steepest)
    };
    let (Some(up), Some(down)) = (run(true), run(false)) else {
        out.missing(
            "BM-2",
            format!("{name} has no side on one side of the water"),
        );
        return;
    };
    let needs = [
        1.0 / limits.get(&DAM_UPSTREAM).value,
        1.0 / limits.get(&DAM_DOWNSTREAM).value,
    ];
    let sum = limits.get(&DAM_SIDES);
    let words = format!(
        "{name}: {up:.2} across : 1 up towards the water, {down:.2} away from it, {:.2} in sum",
        up + down
    );
    out.looked("BM-2", words.clone());
    // A share for facets that are rounded to the lattice.
    let least = 1.0 - super::super::AT_LIMIT;
    if up >= needs[0] * least && down >= needs[1] * least && up + down >= sum.value * least {
        return;
    }
    let better = [up.max(needs[0]), down.max(needs[1])];
    let more = (sum.value - better[0] - better[1]).max(0.0);
    out.find(Finding {
        ids: &["BM-2"],
        feature: Some(name.clone()),
        place: context.place(pit.bottom.p),
        at_m: Some(context.absolute(pit.bottom.p)),
        measured: Some(Measure {
            value: 1.0 / up,
            unit: "rise_per_run",
        }),
        limit: Some(Measure {
            value: 1.0 / needs[0],
            unit: "rise_per_run",
        }),
        limit_from: sum.from,
        cure: format!(
            "lay its side towards the water at {:.1} across : 1 up and the other at {:.1}, or let the water out",
            better[0] + more,
            better[1]
        ),
        ..Finding::new(
            "dam-sides",
            Severity::Warn,
            format!(
                "{words}; a berm that holds water is to have {:.1} ({}) and {:.1} ({}), and {:.1} in sum",
                needs[0],
                percent(needs[0]),
                needs[1],
                percent(needs[1]),
                sum.value
            ),
        )
    });
}

fn percent(run_per_rise: f64) -> String {
    format!(
        "{:.0} %",
        Slope::from_rise_per_run(1.0 / run_per_rise).percent()
    )
}

/// The steepest slope that covers more than a sliver.
fn steepest(mut facets: Vec<(f64, f64)>) -> Option<f64> {
    facets.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut area = 0.0;
    facets.iter().find_map(|&(steep, of)| {
        area += of;
        (area >= SMALLEST_SIDE_M2).then_some(steep)
    })
}
