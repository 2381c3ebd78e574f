//! Benches: steps cut into a slope before a fill is placed on it, so that it does not slide.
//!
//! Under the fill, and nowhere else, the ground is lowered to level treads with upright risers
//! between them. Treads are straight: they run across the mean slope of the ground under the
//! fill, each as wide as that slope takes to rise by the height of a step. Where the ground lies
//! lower than its tread nothing is cut. The fill covers them wholly: they end where it is still
//! some millimetres thick.

use std::collections::BTreeMap;

use crate::diag::{At, Diagnostic};
use crate::geom::{P3, Point, orient};
use crate::job::Table;
use crate::surface::{Label, Patch, Rule, Surface};
use crate::units::NM_PER_M;

use super::entry::required;
use super::shape::{Corners, SidePart, Sides, sides_along};
use super::{Labels, Role, Site};

/// Benches as written.
#[derive(Debug)]
pub(super) struct Benches {
    height_m: f64,
    /// Cut where the ground is steeper than this, rise over run.
    steeper_than: f64,
    at: At,
}

/// Heights of a step, metres.
const HEIGHT_M: std::ops::RangeInclusive<f64> = 0.05..=3.0;

/// Slope from which benches are cut if the job does not say, percent.
const STEEPER_THAN_PERCENT: f64 = 20.0;

/// Benches end where the fill over them is thinner than this, metres, so that their risers, which
/// lean a little, stay under it.
const THINNEST_COVER_M: f64 = 0.005;

impl Benches {
    /// Reads `benches`; nothing if there are none.
    pub(super) fn read(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Benches> {
        if !table.has("benches") {
            table.expect(&["benches"]);
            return None;
        }
        let mut table = table.table("benches", diagnostics)?;
        let at = table.at();
        let height = required(
            &mut table,
            "height",
            "height = 0.5",
            Table::length_m,
            diagnostics,
        );
        let steeper = table.number("steeper_than_percent", diagnostics);
        table.finish(diagnostics);
        let (height_m, height_at) = height?;
        if !HEIGHT_M.contains(&height_m) {
            let message = "a bench is between 5 cm and 3 m high";
            let fault = Diagnostic::error("bad-bench", message).at(height_at);
            diagnostics.push(fault.help("a spade's depth or a lift is usual"));
            return None;
        }
        let (percent, percent_at) = steeper.unwrap_or((STEEPER_THAN_PERCENT, At::default()));
        if !(0.0..=100.0).contains(&percent) {
            let message = "benches are cut where the ground is steeper than 0 to 100 percent";
            let fault = Diagnostic::error("bad-bench", message).at(percent_at);
            diagnostics.push(fault.help("20 (5 across for 1 up) is usual"));
            return None;
        }
        Some(Benches {
            height_m,
            steeper_than: percent / 100.0,
            at,
        })
    }

    /// The benches under a fill; nothing if the ground is not steep enough, and then a note.
    pub(super) fn patch(
        &self,
        site: &Site,
        fill: &Patch,
        label: Labels,
        notes: &mut Vec<Diagnostic>,
    ) -> Result<Patch, Diagnostic> {
        let footprint = self.footprint(site.so_far, fill)?;
        let mut patch = Patch::new();
        let Some(slope) = Slope::under(&footprint, site.so_far) else {
            return Ok(patch);
        };
        if slope.steepness <= self.steeper_than {
            let message = format!(
                "no benches are cut: the ground under it rises by {:.0} percent, and they begin at {:.0}",
                slope.steepness * 100.0,
                self.steeper_than * 100.0
            );
            notes.push(Diagnostic::note("no-benches", message).at(self.at.clone()));
            return Ok(patch);
        }
        let part = label("benches", Role::Floor);
        let width = self.height_m / slope.steepness;
        let count = ((slope.farthest - slope.nearest) / width).ceil() as usize;
        for k in 0..count {
            let from = slope.nearest + width * k as f64;
            let level = slope.level + slope.steepness * from;
            if level >= slope.highest_m {
                break;
            }
            let tread = Tread::of(&footprint, &slope, [from, from + width]);
            let at = |p: Point| P3 { p, z: level };
            let triangles: Vec<[P3; 3]> = tread.triangles.iter().map(|t| t.map(at)).collect();
            patch.add_flat(&triangles, part);
            let sides = Sides {
                rule: Rule::Lower,
                run_per_rise: 0.0,
                limit_z_m: slope.highest_m,
                corners: Corners::Mitre,
                chord_m: site.chord_m,
            };
            for ring in tread.rings() {
                let line: Vec<P3> = ring.into_iter().map(at).collect();
                let runs = vec![[0.0; 2]; line.len()];
                sides_along(
                    &mut patch,
                    &line,
                    true,
                    &runs,
                    &sides,
                    &mut |_: SidePart| part,
                );
            }
        }
        Ok(patch)
    }

    /// Where the fill lies, in plan.
    fn footprint(&self, so_far: &Surface, fill: &Patch) -> Result<Vec<[Point; 3]>, Diagnostic> {
        let mut labels: Vec<Label> = fill.triangles().map(|(_, label)| label).collect();
        labels.sort_unstable();
        labels.dedup();
        let mut trial = so_far.clone();
        let composed = trial
            .compose(&fill.raised(-THINNEST_COVER_M), Rule::Raise)
            .map_err(|error| {
                Diagnostic::error("cannot-lay", format!("no benches can be cut here: {error}"))
                    .at(self.at.clone())
                    .help("leave them out, or move the berm a little")
            })?;
        let added = composed.delta.added().iter();
        Ok(added
            .filter(|&&f| labels.binary_search(&trial.label(f)).is_ok())
            .map(|&f| trial.corners(f).map(|c| c.p))
            .collect())
    }
}

/// The mean slope of the ground under a fill.
struct Slope {
    /// What distances up the slope count from.
    origin: Point,
    /// East and north, uphill.
    up: [f64; 2],
    steepness: f64,
    /// Level of the mean plane at the origin.
    level: f64,
    /// Least and greatest distance of the fill up the slope.
    nearest: f64,
    farthest: f64,
    /// Highest ground under the fill, metres.
    highest_m: f64,
}

impl Slope {
    /// A plane fitted to the ground at the middles of the facets, by area.
    fn under(footprint: &[[Point; 3]], ground: &Surface) -> Option<Slope> {
        let origin = footprint.first()?[0];
        let mut highest_m = f64::NEG_INFINITY;
        let mut sums = [[0.0; 4]; 3];
        for corners in footprint {
            let [a, b, c] = corners.map(|p| p.relative_m(origin));
            let area = ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])).abs() / 2.0;
            for p in corners {
                let z = ground.z_at(*p)?;
                highest_m = highest_m.max(z);
                let [x, y] = p.relative_m(origin);
                let row = [1.0, x, y, z];
                for i in 0..3 {
                    for (sum, value) in sums[i].iter_mut().zip(row) {
                        *sum += area * row[i] * value;
                    }
                }
            }
        }
        let [level, east, north] = solved(sums)?;
        let steepness = east.hypot(north);
        if steepness == 0.0 {
            return None;
        }
        let mut slope = Slope {
            origin,
            up: [east / steepness, north / steepness],
            steepness,
            level,
            nearest: f64::INFINITY,
            farthest: f64::NEG_INFINITY,
            highest_m,
        };
        for p in footprint.iter().flatten() {
            let up = slope.up_to(*p);
            slope.nearest = slope.nearest.min(up);
            slope.farthest = slope.farthest.max(up);
        }
        Some(slope)
    }

    /// Distance up the slope.
    fn up_to(&self, p: Point) -> f64 {
        let [x, y] = p.relative_m(self.origin);
        self.up[0] * x + self.up[1] * y
    }

    /// Where an edge passes a distance up the slope; the same point whichever end is first.
    fn at(&self, a: Point, b: Point, up: f64) -> Point {
        let (a, b) = if a <= b { (a, b) } else { (b, a) };
        let (from, to) = (self.up_to(a), self.up_to(b));
        let share = (up - from) / (to - from);
        let [x, y] = b.relative_m(a);
        let way = Point::from_m(x * share, y * share);
        Point::new(a.x + way.x, a.y + way.y)
    }
}

/// Three equations by elimination, the greatest pivot first; `None` if they do not tell.
fn solved(mut rows: [[f64; 4]; 3]) -> Option<[f64; 3]> {
    for k in 0..3 {
        let pivot = (k..3).max_by(|&a, &b| rows[a][k].abs().total_cmp(&rows[b][k].abs()))?;
        rows.swap(k, pivot);
        if rows[k][k] == 0.0 {
            return None;
        }
        let top = rows[k];
        for (_, row) in rows.iter_mut().enumerate().filter(|(i, _)| *i != k) {
            let share = row[k] / top[k];
            for (value, above) in row.iter_mut().zip(top) {
                *value -= share * above;
            }
        }
    }
    Some([0, 1, 2].map(|k| rows[k][3] / rows[k][k]))
}

/// The part of a footprint between two distances up the slope.
#[derive(Default)]
struct Tread {
    triangles: Vec<[Point; 3]>,
    /// Edges with the tread on their left that no other of its triangles shares.
    border: BTreeMap<Point, Vec<Point>>,
}

impl Tread {
    fn of(footprint: &[[Point; 3]], slope: &Slope, [from, to]: [f64; 2]) -> Tread {
        let mut tread = Tread::default();
        for corners in footprint {
            let above = cut(corners, slope, from, 1.0);
            let ring = cut(&above, slope, to, -1.0);
            for k in 2..ring.len() {
                let triangle = [ring[0], ring[k - 1], ring[k]];
                if orient(triangle[0], triangle[1], triangle[2]) > MIN_TWICE_AREA {
                    for e in 0..3 {
                        tread.edge(triangle[e], triangle[(e + 1) % 3]);
                    }
                    tread.triangles.push(triangle);
                }
            }
        }
        tread
    }

    fn edge(&mut self, a: Point, b: Point) {
        if let Some(ends) = self.border.get_mut(&b)
            && let Some(k) = ends.iter().position(|end| *end == a)
        {
            ends.swap_remove(k);
            return;
        }
        self.border.entry(a).or_default().push(b);
    }

    /// The border as rings, the tread on their left.
    fn rings(mut self) -> Vec<Vec<Point>> {
        let mut rings = Vec::new();
        while let Some(start) = self
            .border
            .iter()
            .find(|(_, ends)| !ends.is_empty())
            .map(|(p, _)| *p)
        {
            let mut ring = vec![start];
            let mut here = start;
            while let Some(next) = self.border.get_mut(&here).and_then(Vec::pop) {
                if next == start {
                    break;
                }
                ring.push(next);
                here = next;
            }
            if ring.len() > 2 {
                rings.push(ring);
            }
        }
        rings
    }
}

/// Triangles of less than a square micrometre are left out.
const MIN_TWICE_AREA: i128 = (NM_PER_M as i128 / 1_000_000) * (NM_PER_M as i128 / 1_000_000);

/// A convex polygon on one side of a line across the slope.
fn cut(corners: &[Point], slope: &Slope, up: f64, side: f64) -> Vec<Point> {
    let n = corners.len();
    let mut kept: Vec<Point> = Vec::with_capacity(n + 1);
    for k in 0..n {
        let (a, b) = (corners[k], corners[(k + 1) % n]);
        let [from, to] = [a, b].map(|p| (slope.up_to(p) - up) * side);
        if from >= 0.0 {
            kept.push(a);
        }
        if from * to < 0.0 {
            kept.push(slope.at(a, b, up));
        }
    }
    kept.dedup();
    while kept.len() > 1 && kept.first() == kept.last() {
        kept.pop();
    }
    kept
}
