//! How a wall is to be built, from its parameters and its stretches.

use crate::diag::Diagnostic;
use crate::geom::P3;

use super::super::Site;
use super::super::shape::{CentreLine, Loft, Section};
use super::plan::{WallPlan, WallStretch, solid_m3};
use super::{Base, Wall};

impl Wall {
    /// The wall as it is to be built.
    pub(super) fn plan(
        &self,
        site: &Site,
        line: &CentreLine,
        stretches: Vec<WallStretch>,
    ) -> Result<WallPlan, Diagnostic> {
        let loft = |stretch: &WallStretch, corners: &dyn Fn(f64) -> Vec<[f64; 2]>| {
            let section = |&(at_m, z): &(f64, f64)| {
                let mut across = corners(z);
                if self.side < 0.0 {
                    across.reverse();
                }
                let labels = vec![0; across.len() + 1];
                Section {
                    at_m,
                    across,
                    labels,
                }
            };
            let rows: Vec<Section> = stretch.top.iter().map(section).collect();
            self.centre.loft(site, "the wall", line, &rows)
        };
        let thick = self.thickness_m;
        let mut plan = WallPlan {
            line: line.clone(),
            side: self.side,
            thickness_m: thick,
            batter_run_per_rise: self.batter_run_per_rise,
            stretches: Vec::new(),
            buried_per_height: matches!(self.base, Base::Rule(_)).then_some(site.buried_per_height),
            course_m: self.extras.course.as_ref().map(|c| c.0),
            unit_m: self.extras.unit_m,
            cap_m: self.extras.cap_m,
            base_stone: self.extras.base_stone,
            drain_stone: self.extras.drain_stone,
            pipe: self.extras.pipe,
            made_of: self.extras.made_of.clone(),
            kg_m3: self.extras.kg_m3,
            body_m3: 0.0,
            base_stone_m3: 0.0,
            drain_strips: Vec::new(),
        };
        for stretch in &stretches {
            let (base, batter) = (stretch.base_z_m, self.batter_run_per_rise);
            let out = |m: f64| m * self.side;
            let body = loft(stretch, &|z| {
                let face = (z - base) * batter;
                vec![
                    [0.0, base],
                    [out(face), z],
                    [out(thick), z],
                    [out(thick), base],
                ]
            })?;
            plan.body_m3 += solid_m3(&body.sections().collect::<Vec<_>>());
            if let Some(stone) = &plan.base_stone {
                let (near, far) = (out(-stone.before_m), out(thick + stone.behind_m));
                let low = base - stone.thick_m;
                let prism = loft(stretch, &|_| {
                    vec![[near, low], [near, base], [far, base], [far, low]]
                })?;
                plan.base_stone_m3 += solid_m3(&prism.sections().collect::<Vec<_>>());
            }
            if let Some(drain) = &plan.drain_stone {
                let (near, far) = (out(thick), out(thick + drain.width_m));
                let strip = loft(stretch, &|_| vec![[near, base], [far, base]])?;
                plan.drain_strips.push(quadrangles(&strip));
            }
        }
        plan.stretches = stretches;
        Ok(plan)
    }
}

/// The pieces of a strip, section to section.
fn quadrangles(strip: &Loft) -> Vec<[P3; 4]> {
    let rows: Vec<Vec<P3>> = strip.sections().collect();
    let pairs = rows.windows(2);
    pairs
        .map(|w| [w[0][0], w[1][0], w[1][1], w[0][1]])
        .collect()
}
