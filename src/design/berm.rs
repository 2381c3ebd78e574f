//! A berm: a crest along a line or inside an outline, with sides falling to daylight.

use crate::diag::Diagnostic;
use crate::geom::{P3, Ring, compass};
use crate::job::{LevelSpec, LevelWord, PlaceList, Table};
use crate::surface::{Label, Patch, Rule};
use crate::survey::Survey;

use super::entry::{
    corners, leaves_behind, level_at, line, missing_benchmark, required, ring, side_role,
    side_run_per_rise, width_m,
};
use super::shape::{Corners, Ends, RibbonLabels, Sides, floor_with_sides, ribbon};
use super::{Kind, Labels, Laid, Role, Shape, Site, Step};

pub(super) const KIND: Kind = Kind { name: "berm", read };

#[derive(Debug)]
struct Berm {
    crest_line: CrestLine,
    crest: LevelSpec,
    side_run_per_rise: f64,
    corners: Corners,
    /// Settlement allowance: the height added, as a share of the finished height.
    settlement: f64,
    leaves_behind: bool,
}

#[derive(Debug)]
enum CrestLine {
    Line { line: PlaceList, width_m: f64 },
    Outline(PlaceList),
}

/// Settlement above this is no allowance but a mistake.
const MOST_SETTLEMENT_PERCENT: f64 = 40.0;

fn read(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Box<dyn Shape>> {
    table.expect(&["line", "outline", "width"]);
    let crest_line = if table.has("outline") && !table.has("line") {
        table.places("outline", diagnostics).map(CrestLine::Outline)
    } else {
        let line = required(
            table,
            "line",
            "line = [[10.0, 40.0], [24.0, 42.0]]   # or outline = [...]",
            Table::places,
            diagnostics,
        );
        let width = width_m(table, "width = 3.0", diagnostics);
        line.zip(width)
            .map(|(line, width_m)| CrestLine::Line { line, width_m })
    };
    let crest = required(
        table,
        "crest",
        "crest = \"height:2.5\"",
        Table::level,
        diagnostics,
    );
    let side = side_run_per_rise(table, diagnostics);
    let corners = corners(table, diagnostics);
    let leaves_behind = leaves_behind(table, diagnostics);
    let settlement = match table.number("settlement_percent", diagnostics) {
        None => 0.0,
        Some((percent, _)) if (0.0..=MOST_SETTLEMENT_PERCENT).contains(&percent) => percent / 100.0,
        Some((_, at)) => {
            diagnostics.push(
                Diagnostic::error(
                    "bad-settlement",
                    "a settlement allowance is 0 to 40 percent of the height",
                )
                .at(at)
                .help("5 is usual for soil tamped in thin layers, 10 for soil that is not"),
            );
            return None;
        }
    };
    Some(Box::new(Berm {
        crest_line: crest_line?,
        crest: crest?,
        side_run_per_rise: side?,
        corners,
        settlement,
        leaves_behind,
    }))
}

impl Berm {
    fn patch(
        &self,
        crest: &Crest,
        sides: &Sides,
        top: Label,
        side: &mut dyn FnMut([f64; 2]) -> Label,
    ) -> Patch {
        match crest {
            Crest::Flat(ring, z_m) => floor_with_sides(ring, *z_m, top, sides, side),
            Crest::Along(line, width_m) => {
                let (a, b) = (line[0].p, line[line.len() - 1].p);
                let [x, y] = b.relative_m(a);
                let labels = RibbonLabels {
                    middle: top,
                    left: side([-y, x]),
                    right: side([y, -x]),
                    ends: [side([-x, -y]), side([x, y])],
                };
                ribbon(line, *width_m, [Ends::Slope; 2], labels, sides)
            }
        }
    }
}

/// A crest with its levels.
enum Crest {
    Flat(Ring, f64),
    Along(Vec<P3>, f64),
}

impl Crest {
    fn points(&self) -> Vec<P3> {
        match self {
            Crest::Flat(ring, z_m) => level_at(ring.corners(), *z_m),
            Crest::Along(line, _) => line.clone(),
        }
    }
}

impl Shape for Berm {
    fn check(&self, survey: &Survey, faults: &mut Vec<Diagnostic>) {
        faults.extend(match &self.crest_line {
            CrestLine::Outline(places) => ring(survey, places, "berm").err(),
            CrestLine::Line { line: places, .. } => line(survey, places, "a crest line").err(),
        });
        faults.extend(missing_benchmark(survey, &self.crest));
    }

    fn lay(&self, site: &Site, label: Labels) -> Result<Laid, Diagnostic> {
        if let LevelWord::Depth(_) = self.crest.word {
            return Err(Diagnostic::error(
                "bad-level",
                "a berm is filled: its crest cannot be a depth below the ground",
            )
            .at(self.crest.at.clone())
            .help("write height:..., level:... or below-benchmark:..."));
        }
        let allow = |z: f64, ground: Option<f64>| {
            z + ground.map_or(0.0, |g| (z - g).max(0.0) * self.settlement)
        };
        let (crest, built, core) = match &self.crest_line {
            CrestLine::Outline(places) => {
                let ring = ring(site.survey, places, "berm")?;
                let ground = || ring.corners().iter().filter_map(|&p| site.ground.z_at(p));
                // A height counts from the highest ground under the crest, so that it is kept
                // everywhere; the allowance from the lowest, where most will settle.
                let z = match (site.fixed_level(&self.crest)?, self.crest.word) {
                    (Some(z), _) => z,
                    (None, LevelWord::Height(height)) => {
                        ground().fold(f64::NEG_INFINITY, f64::max) + height
                    }
                    (None, _) => f64::NEG_INFINITY,
                };
                if !z.is_finite() {
                    return Err(Diagnostic::error(
                        "outside",
                        "no corner of the berm lies inside the survey",
                    )
                    .at(places.at.clone())
                    .help("move it inside the outline, or shoot the ground there"));
                }
                let built = allow(z, ground().reduce(f64::min));
                let core = ring.corners().to_vec();
                (Crest::Flat(ring.clone(), z), Crest::Flat(ring, built), core)
            }
            CrestLine::Line { line, width_m } => {
                let mut points = Vec::new();
                let mut raised = Vec::new();
                for place in site.survey.resolve(line)? {
                    let z = site.level_at(&self.crest, place.p)?;
                    points.push(P3 { p: place.p, z });
                    raised.push(P3 {
                        p: place.p,
                        z: allow(z, site.ground.z_at(place.p)),
                    });
                }
                points.dedup_by_key(|p| p.p);
                raised.dedup_by_key(|p| p.p);
                if points.len() < 2 {
                    return Err(Diagnostic::error(
                        "short-line",
                        "a crest line needs two different points",
                    )
                    .at(line.at.clone())
                    .help("add a point, or give an outline"));
                }
                let core = points.iter().map(|p| p.p).collect();
                (
                    Crest::Along(points, *width_m),
                    Crest::Along(raised, *width_m),
                    core,
                )
            }
        };
        let points = [crest.points(), built.points()].concat();
        let sides = site.sides(
            Rule::Raise,
            self.side_run_per_rise,
            self.corners,
            &points,
            &self.crest.at,
        )?;
        let top = label("crest", Role::Floor);
        let role = side_role(self.side_run_per_rise);
        let mut side = |out: [f64; 2]| label(&format!("{} side", compass(out)), role);
        let mut step = |crest: &Crest| {
            let mut patch = self.patch(crest, &sides, top, &mut side);
            if self.leaves_behind {
                patch.anchor(top);
            }
            vec![Step {
                rule: Rule::Raise,
                patch,
            }]
        };
        let finished = step(&crest);
        Ok(Laid {
            built: (self.settlement > 0.0).then(|| step(&built)),
            core_is_outline: matches!(self.crest_line, CrestLine::Outline(_)),
            settlement: self.settlement,
            lines: vec![("crest".to_owned(), crest.points())],
            ..Laid::new(Rule::Raise, finished, core, self.side_run_per_rise)
        })
    }
}
