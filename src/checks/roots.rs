//! Root circles: what is cut and buried in them, what lies on them, which ways cross them.

use crate::design::KeepOffPlace;
use crate::geom::{Point, Ring, distance_m, triangulate_rings};
use crate::job::{KeepOffKind, Radius, limits};
use crate::route::least_move;
use crate::surface::{CutFill, Extreme, Extremes, LabelledCutFill, Within, cut_fill_without};
use crate::terrain::GROUND;

use super::footprint::{Footprint, length_inside};
use super::piles::move_words;
use super::{Checked, Context, Finding, Measure, Severity};

/// Work on less than this of a circle is a brush with its line, m2.
const SMALLEST_TOUCHED_M2: f64 = 0.01;

/// A cut or fill lower than this is rounding, metres.
const TRACE_M: f64 = 0.001;

/// A way crosses a circle on more than this, metres.
const BRUSH_M: f64 = 0.05;

/// A tree.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Tree {
    /// Its name.
    pub name: String,
    /// Its middle, absolute, metres; `None` where its roots are given as an area.
    pub at_m: Option<[f64; 2]>,
    /// Radius of its root circle, metres; `None` for an area.
    pub radius_m: Option<f64>,
    /// Area of its roots, m2.
    pub area_m2: f64,
    /// What works in it, by feature.
    pub touched: Vec<InRoots>,
}

/// Work of a feature in a root circle.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct InRoots {
    /// The feature.
    pub feature: String,
    /// Area cut or buried, m2.
    pub touched_m2: f64,
    /// The same as a share of the circle.
    pub share: f64,
    /// Deepest cut in it, metres; 0 if nothing is cut.
    pub deepest_cut_m: f64,
    /// Highest fill in it, metres; 0 if nothing is filled.
    pub highest_fill_m: f64,
}

/// What is cut and filled inside an area, by label.
pub(super) fn work_inside(context: &Context, within: &Within) -> LabelledCutFill {
    cut_fill_without(
        GROUND,
        &context.terrain.surface,
        0.0,
        context.design.to_build(),
        Some(within),
        context.workers,
    )
}

/// What of that is one feature's, and how deep and high it is.
pub(super) fn work_of(
    context: &Context,
    found: &LabelledCutFill,
    feature: usize,
) -> Option<(CutFill, Extremes)> {
    let mut sum = CutFill::default();
    for label in context.design.labels(feature) {
        if let Some(v) = found.by_label.get(&label) {
            sum.cut_m3 += v.cut_m3;
            sum.fill_m3 += v.fill_m3;
            sum.cut_area_m2 += v.cut_area_m2;
            sum.fill_area_m2 += v.fill_area_m2;
        }
    }
    let extremes = found.extremes_of(context.design.labels(feature))?;
    Some((sum, extremes))
}

pub(super) fn check(context: &Context, footprints: &[Footprint], out: &mut Checked) {
    let keep_offs: Vec<(usize, KeepOffPlace)> = out.keep_offs.iter().cloned().enumerate().collect();
    for (number, keep_off) in keep_offs {
        let Some(area) = &keep_off.area else { continue };
        if keep_off.kind != KeepOffKind::Roots {
            continue;
        }
        let centre = keep_off.middle.first().copied();
        let radius_m = centre.map(|c| distance_m(c, area.corners()[0]));
        let mut tree = Tree {
            name: keep_off.name.clone(),
            at_m: centre.map(|c| context.absolute(c)),
            radius_m,
            area_m2: area.area_m2(),
            touched: Vec::new(),
        };
        let within = Within(triangulate_rings(std::slice::from_ref(area)).unwrap_or_default());
        let found = work_inside(context, &within);
        for (feature, footprint) in footprints.iter().enumerate() {
            let Some((sum, extremes)) = work_of(context, &found, feature) else {
                continue;
            };
            let touched_m2 = sum.cut_area_m2 + sum.fill_area_m2;
            if touched_m2 < SMALLEST_TOUCHED_M2 {
                continue;
            }
            let by = |extreme: Option<Extreme>| {
                let seen = extreme.filter(|e| e.by_m >= TRACE_M);
                seen.map_or(0.0, |e| e.by_m)
            };
            let work = InRoots {
                feature: context.design.features[feature].name.clone(),
                touched_m2,
                share: touched_m2 / tree.area_m2,
                deepest_cut_m: by(extremes.deepest_cut),
                highest_fill_m: by(extremes.highest_fill),
            };
            let whose = whose_circle(context, number);
            let cure = cure(
                context,
                &work.feature,
                footprint,
                centre.zip(radius_m),
                area,
            );
            let mut finding = finding(context, &tree, &work, cure, whose);
            let deepest = extremes.deepest_cut.or(extremes.highest_fill);
            finding.at_m = deepest.map(|e| context.absolute(e.at.p));
            out.find(finding);
            tree.touched.push(work);
        }
        for finding in ways_over(context, &tree, area, out) {
            out.find(finding);
        }
        out.access.trees.push(tree);
    }
}

/// Whose the circle is: drawn with its radius, or by the trunk and a factor.
fn whose_circle(context: &Context, keep_off: usize) -> String {
    use crate::job::KeepOffShape;
    let limits = &context.job.limits;
    match context.job.keep_offs.get(keep_off).map(|k| &k.shape) {
        Some(KeepOffShape::Circle {
            radius: Radius::OfTrunk(diameter_m),
            ..
        }) => {
            let factor = limits.get(&limits::ROOTS_PER_TRUNK);
            format!(
                "{} times the trunk of {}: {}",
                factor.value,
                context.show().length(*diameter_m),
                factor.from
            )
        }
        _ => "your circle, as drawn".to_owned(),
    }
}

fn cure(
    context: &Context,
    name: &str,
    footprint: &Footprint,
    circle: Option<(Point, f64)>,
    area: &Ring,
) -> String {
    let rim: Vec<Point>;
    let (from, apart_m): (&[Point], f64) = match &circle {
        Some((centre, radius_m)) => (std::slice::from_ref(centre), *radius_m),
        None => {
            rim = area
                .corners()
                .iter()
                .chain(area.corners().first())
                .copied()
                .collect();
            (&rim, 0.001)
        }
    };
    match least_move(&footprint.lines(), &[from], apart_m) {
        Some(by) => format!(
            "move {name} {}, which clears the circle, or ask a tree specialist first",
            move_words(context.show(), by)
        ),
        None => "ask a tree specialist first".to_owned(),
    }
}

fn finding(context: &Context, tree: &Tree, work: &InRoots, cure: String, whose: String) -> Finding {
    let show = context.show();
    let mut how = Vec::new();
    if work.deepest_cut_m > 0.0 {
        how.push(format!(
            "cut up to {} deep",
            show.level_with_unit(work.deepest_cut_m)
        ));
    }
    if work.highest_fill_m > 0.0 {
        how.push(format!(
            "buried up to {}",
            show.level_with_unit(work.highest_fill_m)
        ));
    }
    Finding {
        feature: Some(work.feature.clone()),
        place: tree.name.clone(),
        measured: Some(Measure {
            value: work.touched_m2,
            unit: "m2",
        }),
        limit: Some(Measure {
            value: 0.0,
            unit: "m2",
        }),
        limit_from: whose,
        cure,
        caution: Some(10),
        ..Finding::new(
            "keep-off",
            Severity::Warn,
            format!(
                "{} cuts or buries roots at \"{}\": {} touched, {:.0} percent of the circle, {}",
                work.feature,
                tree.name,
                show.area(work.touched_m2),
                100.0 * work.share,
                how.join(", ")
            ),
        )
    }
}

/// Ways that cross the circle: wheels press the soil over the roots.
fn ways_over(context: &Context, tree: &Tree, area: &Ring, out: &Checked) -> Vec<Finding> {
    let origin = context.terrain.origin;
    let show = context.show();
    let mut findings = Vec::new();
    for route in &out.access.routes {
        let local = |[x, y]: &[f64; 2]| Point::from_m(x - origin.x_m as f64, y - origin.y_m as f64);
        let line: Vec<Point> = route.line_m.iter().map(local).collect();
        let (length, at) = length_inside(&line, area);
        if length < BRUSH_M {
            continue;
        }
        findings.push(Finding {
            feature: Some(route.name.clone()),
            place: at.map_or(String::new(), |p| context.place(p)),
            at_m: at.map(|p| context.absolute(p)),
            measured: Some(Measure {
                value: length,
                unit: "m",
            }),
            cure: format!(
                "lay boards or a thick bed of chips over {}, or lead the way round with via",
                show.length(length)
            ),
            caution: Some(10),
            ..Finding::new(
                "route-roots",
                Severity::Warn,
                format!(
                    "the barrow way from {} to {} crosses the roots of \"{}\" over {}: wheels press the soil shut",
                    route.from,
                    route.to,
                    tree.name,
                    show.length(length)
                ),
            )
        });
    }
    findings
}
