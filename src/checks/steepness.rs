//! How steep ground lies where a foot or a wheel stands: small measured facets count together.
//!
//! In a scan points lie a hand apart, and a centimetre of noise makes every facet steep; so do
//! slivers between shots that stand almost in a line. What is drawn is steep as it is drawn.

use std::collections::BTreeMap;

use crate::geom::Point;
use crate::surface::Surface;
use crate::terrain::GROUND;
use crate::units::NM_PER_M;

/// Measured facets smaller than this count together with those in the same square of this area,
/// m2: about a square yard.
const TOGETHER_M2: f64 = 0.8;

/// A piece of ground of one slope.
#[derive(Clone, Copy, Debug)]
pub(super) struct Steep {
    pub(super) rise_per_run: f64,
    /// How much of it: plan area in square metres, or a length along it in metres.
    pub(super) weight: f64,
    pub(super) at: Point,
}

/// The slopes of facets, each with its weight, steepest first.
pub(super) fn steepness(surface: &Surface, facets: &[(u32, f64)]) -> Vec<Steep> {
    let side = (TOGETHER_M2.sqrt() * NM_PER_M) as i64;
    let mut alone: Vec<Steep> = Vec::new();
    let mut together: BTreeMap<[i64; 2], (f64, [f64; 2], Point)> = BTreeMap::new();
    for &(f, weight) in facets {
        let c = surface.corners(f).map(|c| c.p);
        let at = Point::new(
            (c[0].x + c[1].x + c[2].x) / 3,
            (c[0].y + c[1].y + c[2].y) / 3,
        );
        let plane = surface.source(f).plane;
        if surface.label(f) != GROUND || surface.area_m2(f) >= TOGETHER_M2 {
            alone.push(Steep {
                rise_per_run: plane.steepness(),
                weight,
                at,
            });
            continue;
        }
        let cell = [at.x, at.y].map(|v| v.div_euclid(side));
        let (sum, way, _) = together.entry(cell).or_insert((0.0, [0.0; 2], at));
        let [east, north] = plane.downhill();
        *sum += weight;
        *way = [way[0] + weight * east, way[1] + weight * north];
    }
    let taken = together.into_values().filter(|(sum, ..)| *sum > 0.0);
    alone.extend(taken.map(|(weight, [east, north], at)| Steep {
        rise_per_run: (east / weight).hypot(north / weight),
        weight,
        at,
    }));
    alone.sort_by(|a, b| b.rise_per_run.total_cmp(&a.rise_per_run));
    alone
}
