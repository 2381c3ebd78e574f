//! The crest of a berm with its levels: along a line, or round an outline.

use crate::geom::{P3, Point, Ring};

use super::shape::{EdgeRun, crossing_of};

/// A crest with its levels.
pub(super) enum Crest {
    /// Along a line, of one width, with sides of one slope.
    Even(Vec<P3>, f64),
    /// Inside a ring.
    Ring {
        ring: Ring,
        line: Vec<P3>,
        runs: Vec<EdgeRun>,
        /// Its facets, where the corners do not say how they lie.
        top: Option<Vec<[P3; 3]>>,
    },
}

impl Crest {
    pub(super) fn round(ring: Ring, line: Vec<P3>, runs: Vec<EdgeRun>) -> Crest {
        Crest::Ring {
            ring,
            line,
            runs,
            top: None,
        }
    }

    /// Along a line, as wide at every point as it says there, level across, with slopes to the
    /// left and to the right; `None` if it folds over itself.
    pub(super) fn along(
        line: &[P3],
        widths: &[f64],
        [left_run, right_run]: [f64; 2],
        end_run: f64,
    ) -> Option<Crest> {
        let right = beside(line, widths)?;
        let back: Vec<P3> = line.iter().rev().copied().collect();
        let back_widths: Vec<f64> = widths.iter().rev().copied().collect();
        let left = beside(&back, &back_widths)?;
        let n = line.len();
        let corners = [right.clone(), left.clone()].concat();
        let plan: Vec<Point> = corners.iter().map(|c| c.p).collect();
        let ring = Ring::new(&plan)
            .ok()
            .filter(|ring| ring.corners() == plan)?;
        let mut runs = vec![[right_run; 2]; n - 1];
        runs.push([end_run; 2]);
        runs.extend(vec![[left_run; 2]; n - 1]);
        runs.push([end_run; 2]);
        let left: Vec<P3> = left.into_iter().rev().collect();
        let quads = right.windows(2).zip(left.windows(2));
        let top = quads
            .flat_map(|(r, l)| [[r[0], r[1], l[1]], [r[0], l[1], l[0]]])
            .collect();
        Some(Crest::Ring {
            ring,
            line: corners,
            runs,
            top: Some(top),
        })
    }

    pub(super) fn points(&self) -> Vec<P3> {
        match self {
            Crest::Even(line, _) | Crest::Ring { line, .. } => line.clone(),
        }
    }
}

/// The right edge of a strip along a line, half as far away as the strip is wide; at a bend where
/// the edges of both stretches meet.
fn beside(line: &[P3], widths: &[f64]) -> Option<Vec<P3>> {
    let n = line.len();
    (0..n)
        .map(|k| {
            let half = widths[k] / 2.0;
            // At an end the edge goes straight on.
            let here = line[k].p;
            let on = |p: Point| Point::new(2 * here.x - p.x, 2 * here.y - p.y);
            let before = match k {
                0 => [on(line[1].p), here],
                _ => [line[k - 1].p, here],
            };
            let after = match k + 1 < n {
                true => [here, line[k + 1].p],
                false => [here, on(line[k - 1].p)],
            };
            let p = crossing_of([before, after], [half; 2])?;
            Some(P3 { p, z: line[k].z })
        })
        .collect()
}
