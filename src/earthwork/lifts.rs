//! A fill lift by lift: how much soil every tamped layer takes, from the lowest ground up.

use crate::geom::{P3, Point};
use crate::surface::{CutFill, Label, Plane, Source, Surface, Tally};

/// One layer of a fill.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Lift {
    /// Number, from 1 at the lowest ground.
    pub number: usize,
    /// Level it starts at, metres.
    pub from_m: f64,
    /// Level it is brought up to, metres.
    pub to_m: f64,
    /// Soil in it, m3 tamped.
    pub volume_m3: f64,
    /// Plan area of what is placed, m2.
    pub area_m2: f64,
}

/// The lifts of a fill; their volumes add up to it.
///
/// # Input
///
/// `ground` what the fill is placed on, nowhere above it; `labels` the parts of the fill
/// # Accuracy
///
/// exact up to rounding: the fill below a level is what lies between the ground and the level less
/// what lies between the fill and the level
/// # Cost
///
/// lifts times the facets of the fill and of the ground under it
pub fn lifts(ground: &Surface, built: &Surface, labels: &[Label], lift_m: f64) -> Vec<Lift> {
    let facets: Vec<[P3; 3]> = built
        .facets()
        .filter(|&f| labels.contains(&built.label(f)))
        .map(|f| built.corners(f))
        .collect();
    let corners = || facets.iter().flatten();
    let top = corners().map(|c| c.z).fold(f64::NEG_INFINITY, f64::max);
    let mut ends = corners().map(|c| c.p);
    let Some(first) = ends.next() else {
        return Vec::new();
    };
    let (low, high) = ends.fold((first, first), |(a, b), p| {
        (
            Point::new(a.x.min(p.x), a.y.min(p.y)),
            Point::new(b.x.max(p.x), b.y.max(p.y)),
        )
    });
    // The ground is lowest at one of its own vertices or at the rim of the fill, which has a
    // vertex wherever it crosses an edge of the ground.
    let rim = corners().filter_map(|c| ground.z_at(c.p));
    let inside = ground
        .vertices()
        .iter()
        .filter(|v| low.x <= v.p.x && v.p.x <= high.x && low.y <= v.p.y && v.p.y <= high.y)
        .filter(|v| {
            built
                .facet_at(v.p)
                .is_some_and(|f| labels.contains(&built.label(f)))
        })
        .filter_map(|v| ground.z_at(v.p));
    let lowest = rim.chain(inside).fold(f64::INFINITY, f64::min);
    let is_fill = top.is_finite() && lowest < top && lift_m > 0.0;
    if !is_fill {
        return Vec::new();
    }
    let count = ((top - lowest) / lift_m).ceil().max(1.0) as usize;
    // The footprint as a level sheet, held against what lies there.
    let below = |z: f64| {
        let source = Source {
            plane: Plane::level(z),
            label: 0,
        };
        let sheet = || facets.iter().map(|t| (t.map(|c| P3 { z, ..c }), source));
        let over = |surface| Tally::of(surface, 0.0, sheet()).result().total;
        (over(ground), over(built))
    };
    let lift = |number: usize, done: &mut (CutFill, CutFill)| {
        let to_m = match number == count {
            true => top,
            false => lowest + lift_m * number as f64,
        };
        let to = below(to_m);
        let filled = |(ground, fill): (CutFill, CutFill)| ground.fill_m3 - fill.fill_m3;
        let lift = Lift {
            number,
            from_m: lowest + lift_m * (number - 1) as f64,
            to_m,
            volume_m3: filled(to) - filled(*done),
            area_m2: to.0.fill_area_m2 - done.1.fill_area_m2,
        };
        *done = to;
        lift
    };
    let mut done = (CutFill::default(), CutFill::default());
    (1..=count).map(|number| lift(number, &mut done)).collect()
}
