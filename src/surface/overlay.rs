//! Exact volume between two surfaces, by clipping facets against facets.
//!
//! # Source
//!
//! the prism under a plane triangle is area times mean height; triangles crossed by
//! the zero line are split there (closed form; check values TIN-05 to TIN-07)

use std::collections::BTreeMap;

use crate::files::{Workers, collect};
use crate::geom::Point;

use super::clip::{Parts, Polygon};
use super::grid::Span;
use super::plane::Label;
use super::surface::Surface;

/// Volumes and areas between two surfaces; cut where the second lies below the first.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct CutFill {
    /// Volume above the second and below the first surface, cubic metres.
    pub cut_m3: f64,
    /// Volume above the first and below the second surface, cubic metres.
    pub fill_m3: f64,
    /// Plan area of the cut, square metres.
    pub cut_area_m2: f64,
    /// Plan area of the fill, square metres.
    pub fill_area_m2: f64,
    /// Plan area covered by both surfaces, square metres.
    pub common_area_m2: f64,
}

impl CutFill {
    /// Cut minus fill, cubic metres.
    pub fn net_m3(&self) -> f64 {
        self.cut_m3 - self.fill_m3
    }
}

/// A volume by the labels of the second surface.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LabelledCutFill {
    /// Everything.
    pub total: CutFill,
    /// By label; adds up to the total.
    pub by_label: BTreeMap<Label, CutFill>,
}

/// A plan area as triangles that do not overlap.
#[derive(Clone, Debug, Default)]
pub struct Within(pub Vec<[Point; 3]>);

/// Facets of the second surface in one piece of work. Fixed, so that sums are formed in the
/// same order for any number of threads.
const CHUNK: usize = 1024;

/// Cut and fill from one surface to another, wherever both are.
///
/// # Units
///
/// cubic and square metres, cut and fill both positive
/// # Accuracy
///
/// exact for the planes up to rounding; parts of facets that share their plane
/// count as equal to the last bit
/// # Cost
///
/// O(n + k) for facets of about equal size, k pairs that share area
pub fn cut_fill(from: &Surface, to: &Surface, workers: &dyn Workers) -> LabelledCutFill {
    sum(from, to, None, workers)
}

/// The same inside a plan area only.
pub fn cut_fill_within(
    from: &Surface,
    to: &Surface,
    within: &Within,
    workers: &dyn Workers,
) -> LabelledCutFill {
    sum(from, to, Some(within), workers)
}

fn sum(
    from: &Surface,
    to: &Surface,
    within: Option<&Within>,
    workers: &dyn Workers,
) -> LabelledCutFill {
    let slots = to.facet_slots();
    let chunks = collect(workers, slots.div_ceil(CHUNK), &|chunk| {
        let mut sums: BTreeMap<Label, Sums> = BTreeMap::new();
        for facet in chunk * CHUNK..((chunk + 1) * CHUNK).min(slots) {
            let facet = facet as u32;
            if to.is_facet(facet) {
                add_facet(
                    from,
                    to,
                    facet,
                    within,
                    sums.entry(to.label(facet)).or_default(),
                );
            }
        }
        sums
    });
    let mut by_label: BTreeMap<Label, Sums> = BTreeMap::new();
    for chunk in &chunks {
        for (&label, sums) in chunk {
            by_label.entry(label).or_default().merge(sums);
        }
    }
    let mut total = Sums::default();
    let by_label = by_label
        .iter()
        .map(|(&label, sums)| {
            total.merge(sums);
            (label, sums.result())
        })
        .collect();
    LabelledCutFill {
        total: total.result(),
        by_label,
    }
}

fn add_facet(from: &Surface, to: &Surface, facet: u32, within: Option<&Within>, sums: &mut Sums) {
    let corners = to.corners(facet);
    let plan = corners.map(|c| c.p);
    let origin = plan[0];
    let local = plan.map(|p| p.relative_m(origin));
    let plane = to.source(facet).plane;
    // A facet that a composition left alone is the same in both: nothing to clip.
    if within.is_none() && from.is_facet(facet) && from.corners(facet) == corners {
        sums.add(&Parts::default(), to.area_m2(facet));
        return;
    }
    let span = Span::triangle(plan);
    if let Some(Within(triangles)) = within
        && triangles
            .iter()
            .all(|t| Span::triangle(*t).common(&span).is_none())
    {
        return;
    }
    from.facets_near(&span, |other| {
        let under = from.source(other).plane;
        let polygon = Polygon::common(local, from.plan(other).map(|p| p.relative_m(origin)));
        if polygon.corners().is_empty() {
            return;
        }
        let same = under == plane;
        let base = under.z_at(origin) - plane.z_at(origin);
        let slope = [
            under.slope[0] - plane.slope[0],
            under.slope[1] - plane.slope[1],
        ];
        let mut add = |polygon: &Polygon| {
            let parts = if same {
                Parts::default()
            } else {
                let mut depth = [0.0; 9];
                for (depth, q) in depth.iter_mut().zip(polygon.corners()) {
                    *depth = base + slope[0] * q[0] + slope[1] * q[1];
                }
                polygon.parts(&depth)
            };
            sums.add(&parts, polygon.area());
        };
        match within {
            None => add(&polygon),
            Some(Within(triangles)) => {
                for t in triangles {
                    if Span::triangle(*t).common(&span).is_some() {
                        let part = polygon.within(t.map(|p| p.relative_m(origin)));
                        if !part.corners().is_empty() {
                            add(&part);
                        }
                    }
                }
            }
        }
    });
}

/// A sum with the rounding error carried along.
///
/// # Source
///
/// A. Neumaier, "Rundungsfehleranalyse einiger Verfahren zur Summation endlicher
/// Summen", ZAMM 54 (1974), 39-51
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Sum {
    sum: f64,
    lost: f64,
}

impl Sum {
    pub(super) fn add(&mut self, value: f64) {
        let next = self.sum + value;
        self.lost += if self.sum.abs() >= value.abs() {
            (self.sum - next) + value
        } else {
            (value - next) + self.sum
        };
        self.sum = next;
    }

    pub(super) fn value(self) -> f64 {
        self.sum + self.lost
    }

    fn merge(&mut self, other: Sum) {
        self.add(other.sum);
        self.add(other.lost);
    }
}

#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    cut: Sum,
    fill: Sum,
    cut_area: Sum,
    fill_area: Sum,
    common_area: Sum,
}

impl Sums {
    fn add(&mut self, parts: &Parts, area: f64) {
        self.cut.add(parts.above);
        self.fill.add(parts.below);
        self.cut_area.add(parts.above_area);
        self.fill_area.add(parts.below_area);
        self.common_area.add(area);
    }

    fn merge(&mut self, other: &Sums) {
        self.cut.merge(other.cut);
        self.fill.merge(other.fill);
        self.cut_area.merge(other.cut_area);
        self.fill_area.merge(other.fill_area);
        self.common_area.merge(other.common_area);
    }

    fn result(&self) -> CutFill {
        CutFill {
            cut_m3: self.cut.value(),
            fill_m3: self.fill.value(),
            cut_area_m2: self.cut_area.value(),
            fill_area_m2: self.fill_area.value(),
            common_area_m2: self.common_area.value(),
        }
    }
}
