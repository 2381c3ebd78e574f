//! Where features lie in plan, and what of lines and areas they touch.

use crate::design::Feature;
use crate::geom::{Point, Ring, distance_m, gap_between};
use crate::surface::{Rule, areas};

use super::Context;

/// Places as close as this are one, metres: the lattice and what rounding makes of a cut.
const SAME_M: f64 = 1.0e-7;

/// Areas smaller than this are a crack of the kernel's rounding, m2.
const CRACK_M2: f64 = 1.0e-4;

/// What a feature covers on the surface that is built.
#[derive(Clone, Debug, Default)]
pub(super) struct Footprint {
    /// Lines round it and round its holes, the first point again at the end.
    pub(super) rims: Vec<Vec<Point>>,
    /// Its facets.
    pub(super) facets: Vec<u32>,
}

impl Footprint {
    pub(super) fn of(context: &Context, feature: usize) -> Footprint {
        let surface = context.design.to_build();
        let parts = &context.design.parts;
        let is_own = |f: u32| parts[surface.label(f) as usize].feature == Some(feature);
        let mut rims = Vec::new();
        for rings in areas(surface, &is_own) {
            let line = |ring: &Vec<u32>| -> Vec<Point> {
                ring.iter()
                    .map(|&v| surface.vertices()[v as usize].p)
                    .collect()
            };
            let lines: Vec<Vec<Point>> = rings.iter().map(line).collect();
            if lines.first().is_some_and(|outer| area_m2(outer) > CRACK_M2) {
                rims.extend(lines);
            }
        }
        Footprint {
            rims,
            facets: surface.facets().filter(|&f| is_own(f)).collect(),
        }
    }

    pub(super) fn is_empty(&self) -> bool {
        self.rims.is_empty()
    }

    pub(super) fn lines(&self) -> Vec<&[Point]> {
        self.rims.iter().map(Vec::as_slice).collect()
    }

    /// Facets as areas, of those that come within a distance of a line.
    pub(super) fn pieces_near(&self, context: &Context, line: &[Point], reach_m: f64) -> Vec<Ring> {
        let surface = context.design.to_build();
        let plan = |&f: &u32| surface.corners(f).map(|c| c.p);
        let is_near = |t: &[Point; 3]| {
            let sides = [[t[0], t[1]], [t[1], t[2]], [t[2], t[0]]];
            let mut sides = sides.iter();
            sides.any(|side| lines_apart_m(&[side.as_slice()], &[line]).0 <= reach_m)
                || Ring::new(t).is_ok_and(|ring| line.iter().any(|p| ring.contains(*p)))
        };
        let facets = self.facets.iter().map(plan).filter(is_near);
        facets.filter_map(|t| Ring::new(&t).ok()).collect()
    }
}

/// True for a hole that people dig: no strip of sod.
pub(super) fn is_dig(feature: &Feature) -> bool {
    feature.laid.rule == Rule::Lower && !feature.is_strip()
}

/// Area inside a line that closes, m2; below zero if it goes round clockwise.
fn area_m2(line: &[Point]) -> f64 {
    let base = line.first().copied().unwrap_or_default();
    let corners: Vec<[f64; 2]> = line.iter().map(|p| p.relative_m(base)).collect();
    crate::geom::twice_area_of(&corners) / 2.0
}

/// How far two sets of lines are apart, metres, and the two places; a single point is a line.
pub(super) fn lines_apart_m(some: &[&[Point]], others: &[&[Point]]) -> (f64, [Point; 2]) {
    let base = some
        .iter()
        .find_map(|l| l.first())
        .copied()
        .unwrap_or_default();
    let sides = |lines: &[&[Point]]| -> Vec<[[f64; 2]; 2]> {
        let at = |p: &Point| p.relative_m(base);
        let one = |line: &&[Point]| -> Vec<[[f64; 2]; 2]> {
            match line {
                [p] => vec![[at(p); 2]],
                _ => line.windows(2).map(|w| [at(&w[0]), at(&w[1])]).collect(),
            }
        };
        lines.iter().flat_map(one).collect()
    };
    let mut best = (f64::INFINITY, [base; 2]);
    let others = sides(others);
    for side in sides(some) {
        for other in &others {
            let is_far = (0..2).any(|k| {
                side[0][k].min(side[1][k]) - best.0 > other[0][k].max(other[1][k])
                    || other[0][k].min(other[1][k]) - best.0 > side[0][k].max(side[1][k])
            });
            if is_far {
                continue;
            }
            let gap = gap_between(side, *other);
            if gap.distance_m < best.0 {
                let at = |[x, y]: [f64; 2]| {
                    let step = Point::from_m(x, y);
                    Point::new(base.x + step.x, base.y + step.y)
                };
                best = (gap.distance_m, gap.ends_m.map(at));
            }
        }
    }
    best
}

/// Length of a line inside an area, metres, and a place in the middle of the first such stretch.
pub(super) fn length_inside(line: &[Point], area: &Ring) -> (f64, Option<Point>) {
    let mut length = 0.0;
    let mut at = None;
    for pair in line.windows(2) {
        let whole = distance_m(pair[0], pair[1]);
        if whole <= SAME_M {
            continue;
        }
        let [dx, dy] = pair[1].relative_m(pair[0]);
        let mut cuts = vec![0.0, 1.0];
        for (a, b) in area.sides() {
            let ([ax, ay], [bx, by]) = (a.relative_m(pair[0]), b.relative_m(pair[0]));
            let (s, t) = (dx * ay - dy * ax, dx * by - dy * bx);
            if (s > 0.0) != (t > 0.0) {
                let u = s / (s - t);
                let [x, y] = [ax + u * (bx - ax), ay + u * (by - ay)];
                cuts.push((x * dx + y * dy) / (dx * dx + dy * dy));
            }
        }
        cuts.retain(|c| (0.0..=1.0).contains(c));
        cuts.sort_by(f64::total_cmp);
        for cut in cuts.windows(2) {
            let middle = (cut[0] + cut[1]) / 2.0;
            let p = Point::new(
                pair[0].x + (middle * (pair[1].x - pair[0].x) as f64).round() as i64,
                pair[0].y + (middle * (pair[1].y - pair[0].y) as f64).round() as i64,
            );
            if area.contains(p) {
                length += (cut[1] - cut[0]) * whole;
                at = at.or(Some(p));
            }
        }
    }
    (length, at)
}
