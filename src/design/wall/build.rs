//! A wall as patches: what is dug for it, what is taken away before its face, its body.

use crate::diag::Diagnostic;
use crate::geom::{Point, distance_m};
use crate::surface::{Label, Patch, Rule};

use super::super::shape::{CentreLine, Corners, FACE_RUN_PER_RISE, Section, Skirt};
use super::super::{Labels, Role, Site, Step};
use super::levels::{AT_FOOT_M, before_foot, is_changed};
use super::plan::{BaseStone, WallStretch};
use super::{THINNEST_M, Wall};

impl Wall {
    /// Offsets across the wall from right to left, from distances behind the foot of the face.
    fn across(&self, [near_m, far_m]: [f64; 2], z: f64) -> Vec<[f64; 2]> {
        let (near, far) = (near_m * self.side, far_m * self.side);
        if self.side > 0.0 {
            vec![[near, z], [far, z]]
        } else {
            vec![[far, z], [near, z]]
        }
    }

    /// A pair for the face and the back as one for right and left.
    fn right_left<T: Copy>(&self, face: T, back: T) -> [T; 2] {
        if self.side > 0.0 {
            [face, back]
        } else {
            [back, face]
        }
    }

    /// One step: strips along every stretch, with its sides, which reach a level at least.
    fn step(
        &self,
        site: &Site,
        line: &CentreLine,
        stretches: &[Vec<Section>],
        rule: Rule,
        skirt: &Skirt,
        at_least: Option<f64>,
    ) -> Result<Step, Diagnostic> {
        let run = skirt.sides[0].max(skirt.sides[1]);
        let mut patch = Patch::new();
        for sections in stretches {
            let loft = self.centre.loft(site, "the wall", line, sections)?;
            let at = &self.centre.places.at;
            let mut sides = site.sides(rule, run, Corners::Mitre, &loft.outline(), at)?;
            if let Some(z) = at_least {
                sides.limit_z_m = match rule {
                    Rule::Lower => sides.limit_z_m.max(z),
                    Rule::Raise => sides.limit_z_m.min(z),
                };
            }
            patch.append(&loft.patch(&sides, skirt));
        }
        Ok(Step { rule, patch })
    }
}

impl Wall {
    /// What is dug: the trench of the base, and that of the stone behind the wall.
    pub(super) fn dug(
        &self,
        site: &Site,
        line: &CentreLine,
        stretches: &[WallStretch],
        label: Labels,
    ) -> Result<Step, Diagnostic> {
        let base = label("base", Role::Floor);
        let side = label("base trench", Role::Face);
        let stone = self.extras.base_stone.unwrap_or(BaseStone {
            thick_m: 0.0,
            before_m: 0.0,
            behind_m: 0.0,
        });
        let under = [-stone.before_m, self.thickness_m + stone.behind_m];
        let levels = one_by_base(stretches);
        let rows = |across: [f64; 2], below_m: f64, labels: [Label; 2]| -> Vec<Vec<Section>> {
            let [side, floor] = labels;
            let both = levels.iter().map(|&([from, to], z)| {
                [from, to].map(|at_m| Section {
                    at_m,
                    across: self.across(across, z - below_m),
                    labels: vec![side, floor, side],
                })
            });
            both.map(Vec::from).collect()
        };
        let skirt = |label: Label| Skirt {
            sides: [FACE_RUN_PER_RISE; 2],
            ends: [FACE_RUN_PER_RISE; 2],
            end_labels: [label; 2],
        };
        let trench = rows(under, stone.thick_m, [side, base]);
        let mut step = self.step(site, line, &trench, Rule::Lower, &skirt(side), None)?;
        if let Some(drain) = &self.extras.drain_stone {
            let floor = label("drain stone", Role::Floor);
            let side = label("drain trench", Role::Face);
            let across = [0.0, self.thickness_m + drain.width_m];
            let behind = rows(across, 0.0, [side, floor]);
            let behind = self.step(site, line, &behind, Rule::Lower, &skirt(side), None)?;
            step.patch.append(&behind.patch);
        }
        Ok(step)
    }

    /// The body, its faces going down to a level at least.
    pub(super) fn body(
        &self,
        site: &Site,
        line: &CentreLine,
        stretches: &[WallStretch],
        down_to: Option<f64>,
        label: Labels,
    ) -> Result<Step, Diagnostic> {
        let batter = self.batter_run_per_rise.max(FACE_RUN_PER_RISE);
        let face = label("face", Role::Face);
        let back = label("back", Role::Face);
        let top = label("top", Role::Floor);
        let end = label("end", Role::Face);
        let [right, left] = self.right_left(face, back);
        let rows: Vec<Vec<Section>> = stretches
            .iter()
            .map(|stretch| {
                let section = |&(at_m, z): &(f64, f64)| Section {
                    at_m,
                    across: self.across([(z - stretch.base_z_m) * batter, self.thickness_m], z),
                    labels: vec![right, top, left],
                };
                stretch.top.iter().map(section).collect()
            })
            .collect();
        let skirt = Skirt {
            sides: self.right_left(batter, FACE_RUN_PER_RISE),
            ends: [FACE_RUN_PER_RISE; 2],
            end_labels: [end; 2],
        };
        self.step(site, line, &rows, Rule::Raise, &skirt, down_to)
    }

    /// What features before have left standing before a leaning face, taken away down to the
    /// ground before the foot, and the lowest of that; `None` where there is no such thing.
    pub(super) fn cleared(
        &self,
        site: &Site,
        line: &CentreLine,
        stretches: &[WallStretch],
        label: Labels,
    ) -> Result<Option<(Step, f64)>, Diagnostic> {
        let lean = |s: &WallStretch| {
            let heights = s.top.iter().map(|k| k.1 - s.base_z_m);
            heights.fold(0.0, f64::max) * self.batter_run_per_rise
        };
        let most_m = stretches.iter().map(lean).fold(0.0, f64::max);
        if most_m < THINNEST_M || !is_changed(site, line, self.side, most_m) {
            return Ok(None);
        }
        let floor = label("before the face", Role::Floor);
        let side = label("cut before the face", Role::Face);
        // A little beyond the foot and the ends, so that no upright face of what is taken away
        // lies in one of the shape that takes it.
        let longer = beyond_ends(line);
        let (first, last) = (0.0, line.length_m());
        let mut rows: Vec<Vec<Section>> = Vec::new();
        let mut lowest = f64::INFINITY;
        for stretch in stretches {
            let span = [stretch.from_m, stretch.to_m];
            let knots = before_foot(site.so_far, line, self.side, span);
            let section = |&(at_m, z): &(f64, f64)| Section {
                at_m: match at_m {
                    s if s <= first => 0.0,
                    s if s >= last => longer.length_m(),
                    s => s + AT_FOOT_M,
                },
                across: self.across([-AT_FOOT_M, lean(stretch)], z),
                labels: vec![side, floor, side],
            };
            if knots.len() > 1 && lean(stretch) >= THINNEST_M {
                lowest = knots.iter().map(|k| k.1).fold(lowest, f64::min);
                rows.push(knots.iter().map(section).collect());
            }
        }
        if rows.is_empty() {
            return Ok(None);
        }
        let skirt = Skirt {
            sides: [FACE_RUN_PER_RISE; 2],
            ends: [FACE_RUN_PER_RISE; 2],
            end_labels: [side; 2],
        };
        let step = self.step(site, &longer, &rows, Rule::Lower, &skirt, None)?;
        Ok(Some((step, lowest)))
    }
}

/// A line that reaches a little past both ends of another.
fn beyond_ends(line: &CentreLine) -> CentreLine {
    let mut points = line.points().to_vec();
    let moved = |from: Point, towards: Point| {
        let ([x, y], far) = (towards.relative_m(from), distance_m(from, towards));
        let step = Point::from_m(-x / far * AT_FOOT_M, -y / far * AT_FOOT_M);
        Point::new(from.x + step.x, from.y + step.y)
    };
    let n = points.len();
    let ends = [
        moved(points[0], points[1]),
        moved(points[n - 1], points[n - 2]),
    ];
    (points[0], points[n - 1]) = (ends[0], ends[1]);
    CentreLine::straight(&points)
}

/// Stretches of one base level, whatever their tops: ends and level.
fn one_by_base(stretches: &[WallStretch]) -> Vec<([f64; 2], f64)> {
    let mut all: Vec<([f64; 2], f64)> = Vec::new();
    for stretch in stretches {
        match all.last_mut() {
            Some((span, z)) if z.to_bits() == stretch.base_z_m.to_bits() => span[1] = stretch.to_m,
            _ => all.push(([stretch.from_m, stretch.to_m], stretch.base_z_m)),
        }
    }
    all
}
