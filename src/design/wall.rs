//! A wall: a body with a leaning face on a base let into the ground.
//!
//! | key | meaning |
//! | --- | --- |
//! | `line`, `bend_radius`, `arcs` | the foot of the face, at the level of the base |
//! | `holds` | `"left"` or `"right"`: the side where the ground is higher, as seen along the line; the body stands on it |
//! | `thickness` | of the base |
//! | `top` | its level, or `"height:3.0"` above the ground at every point of the line |
//! | `buried` | how far the base lies below the lowest ground under it |
//! | `base` | instead: its level |
//! | `batter_run_per_rise` | lean of the face, 0 if not said: it goes back so much for one up |
//! | `steps` | `[{ at, base, buried, top }]`: from `at` along the line on, the base (and the top) stand at another level |
//!
//! The trench for the base is dug upright and as wide as the wall; the wall fills it. What stands
//! behind and before the wall is the business of other features.

use crate::diag::{At, Diagnostic};
use crate::geom::P3;
use crate::job::{LevelSpec, LevelWord, Table};
use crate::surface::{Label, Patch, Rule};
use crate::survey::Survey;

use super::centre::{Centre, centre};
use super::entry::{missing_benchmark, required, run_per_rise_of, word};
use super::shape::{CentreLine, Corners, FACE_RUN_PER_RISE, Section, Skirt};
use super::stretch::check_stretches;
use super::{Kind, Labels, Laid, Role, Shape, Site, Step};

pub(super) const KIND: Kind = Kind { name: "wall", read };

#[derive(Debug)]
struct Wall {
    centre: Centre,
    /// 1 if the body stands to the left of the line, -1 if to the right.
    side: f64,
    thickness_m: f64,
    batter_run_per_rise: f64,
    top: LevelSpec,
    base: Base,
    steps: Vec<WallStep>,
}

#[derive(Clone, Debug)]
enum Base {
    Level(LevelSpec),
    /// Below the lowest ground under the stretch.
    Buried(f64, At),
}

#[derive(Debug)]
struct WallStep {
    at_m: f64,
    base: Option<Base>,
    top: Option<LevelSpec>,
    at: At,
}

fn read(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Box<dyn Shape>> {
    let example = "line = [[12.0, 20.0], [30.0, 22.0]]   # the foot of the face";
    let centre = centre(table, example, diagnostics);
    let holds = match table.has("holds") {
        true => Some(word(
            table,
            "holds",
            &[("left", 1.0), ("right", -1.0)],
            diagnostics,
        )),
        false => {
            let example = "holds = \"left\"   # the side where the ground is higher";
            diagnostics.push(table.missing("holds", example));
            table.expect(&["holds"]);
            None
        }
    };
    let thickness = required(
        table,
        "thickness",
        "thickness = 1.0",
        Table::length_m,
        diagnostics,
    );
    let batter = run_per_rise_of(table, "batter_run_per_rise", diagnostics).unwrap_or(0.0);
    let example = "top = \"height:2.5\"";
    let top = required(table, "top", example, Table::level, diagnostics);
    let base = match table.one_of(&["buried", "base"], "buried = 0.5", diagnostics) {
        Some(_) => read_base(table, diagnostics),
        None => None,
    };
    let mut steps = Vec::new();
    for mut entry in table.tables("steps", diagnostics) {
        let at = entry.at();
        let along = required(&mut entry, "at", "at = 6.0", Table::length_m, diagnostics);
        let base = read_base(&mut entry, diagnostics);
        let top = entry.level("top", diagnostics);
        entry.finish(diagnostics);
        if let Some((at_m, _)) = along {
            steps.push(WallStep {
                at_m,
                base,
                top,
                at,
            });
        }
    }
    steps.sort_by(|a, b| a.at_m.total_cmp(&b.at_m));
    let (thickness_m, thickness_at) = thickness?;
    if thickness_m < THINNEST_M {
        diagnostics.push(
            Diagnostic::error("bad-thickness", "a wall is at least 1 cm thick")
                .at(thickness_at)
                .help("write the thickness of the base in the job's unit"),
        );
        return None;
    }
    Some(Box::new(Wall {
        centre: centre?,
        side: holds?,
        thickness_m,
        batter_run_per_rise: batter,
        top: top?,
        base: base?,
        steps,
    }))
}

/// Thinnest wall, and narrowest top of a leaning one, metres.
const THINNEST_M: f64 = 0.01;

/// Lowest wall, metres.
const LOWEST_M: f64 = 0.01;

fn read_base(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Base> {
    table.expect(&["buried", "base"]);
    if table.has("base") {
        return table.level("base", diagnostics).map(Base::Level);
    }
    let (buried_m, at) = table.length_m("buried", diagnostics)?;
    if buried_m < 0.0 {
        diagnostics.push(
            Diagnostic::error("bad-base", "the base of a wall is buried by 0 or more")
                .at(at)
                .help("write how far it lies below the lowest ground under it"),
        );
        return None;
    }
    Some(Base::Buried(buried_m, at))
}

/// A stretch of a wall with a level base.
struct Stretch {
    from_m: f64,
    to_m: f64,
    base_z: f64,
    /// Stations and levels of its top.
    top: Vec<(f64, f64)>,
}

impl Wall {
    /// Stretches between steps.
    fn stretches(&self, site: &Site, line: &CentreLine) -> Result<Vec<Stretch>, Diagnostic> {
        let length_m = line.length_m();
        let mut bounds = vec![0.0];
        for step in &self.steps {
            let from = bounds[bounds.len() - 1];
            check_stretches(site, line, &[("step", [from, step.at_m], &step.at)])?;
            bounds.push(step.at_m);
        }
        if let Some(last) = self.steps.last() {
            let span = [bounds[bounds.len() - 1], length_m];
            check_stretches(
                site,
                line,
                &[("stretch after the last step", span, &last.at)],
            )?;
        }
        bounds.push(length_m);
        let (mut base, mut top) = (&self.base, &self.top);
        let mut stretches = Vec::new();
        for (k, span) in bounds.windows(2).enumerate() {
            if let Some(step) = k.checked_sub(1).and_then(|k| self.steps.get(k)) {
                base = step.base.as_ref().unwrap_or(base);
                top = step.top.as_ref().unwrap_or(top);
            }
            let (from_m, to_m) = (span[0], span[1]);
            let base_z = self.base_z(site, line, base, [from_m, to_m])?;
            let inside = |s: &&f64| **s > from_m && **s < to_m;
            let points = line.stations_m().iter().filter(inside);
            let top = std::iter::once(&from_m)
                .chain(points)
                .chain([&to_m])
                .map(|&s| Ok((s, site.level_at(top, line.at(s))?)))
                .collect::<Result<Vec<_>, Diagnostic>>()?;
            stretches.push(Stretch {
                from_m,
                to_m,
                base_z,
                top,
            });
        }
        Ok(stretches)
    }

    fn base_z(
        &self,
        site: &Site,
        line: &CentreLine,
        base: &Base,
        [from_m, to_m]: [f64; 2],
    ) -> Result<f64, Diagnostic> {
        let (buried_m, at) = match base {
            Base::Level(spec) => return site.level_at(spec, line.at(from_m)),
            Base::Buried(buried_m, at) => (*buried_m, at),
        };
        // Along the foot, the middle and the back of the base.
        let mut lowest = f64::INFINITY;
        for share in [0.0, 0.5, 1.0] {
            let offset = share * self.thickness_m * self.side;
            let mut stations = line.stations_m().to_vec();
            stations.retain(|&s| s > from_m && s < to_m);
            let along: Vec<_> = std::iter::once(from_m)
                .chain(stations)
                .chain([to_m])
                .map(|s| line.beside(s, offset))
                .collect();
            let ground = site.ground.profile(&along);
            lowest = ground.points().map(|p| p.z_m).fold(lowest, f64::min);
        }
        if lowest.is_finite() {
            return Ok(lowest - buried_m);
        }
        Err(Diagnostic::error(
            "no-ground-there",
            format!(
                "there is no ground under the wall at {}",
                site.place(line.at(from_m))
            ),
        )
        .at(at.clone())
        .help("keep it inside the survey, or give the level of its base"))
    }

    /// Refuses a wall that has no height, or that leans until nothing is left of its top.
    fn check_height(
        &self,
        site: &Site,
        line: &CentreLine,
        stretch: &Stretch,
    ) -> Result<(), Diagnostic> {
        for &(station, top_z) in &stretch.top {
            let height = top_z - stretch.base_z;
            let place = site.place(line.at(station));
            if height < LOWEST_M {
                return Err(Diagnostic::error(
                    "no-height",
                    format!(
                        "the top of the wall at {place} stands {} above its base: there is no wall",
                        site.length(height)
                    ),
                )
                .at(self.top.at.clone())
                .help("raise the top there, lower the base, or end the wall before"));
            }
            let left = self.thickness_m - height * self.batter_run_per_rise;
            if left < THINNEST_M {
                return Err(Diagnostic::error(
                    "no-top",
                    format!(
                        "leaning back {} across : 1 up over {} the face at {place} meets the back of a wall {} thick",
                        self.batter_run_per_rise,
                        site.length(height),
                        site.length(self.thickness_m)
                    ),
                )
                .at(self.top.at.clone())
                .help(format!(
                    "make the wall more than {} thick, or the face steeper",
                    site.length(height * self.batter_run_per_rise)
                )));
            }
        }
        Ok(())
    }

    /// Offsets across the wall from right to left: face side and back side turned as they lie.
    fn across(&self, face_m: f64, z: f64) -> Vec<[f64; 2]> {
        let (face, back) = (face_m * self.side, self.thickness_m * self.side);
        if self.side > 0.0 {
            vec![[face, z], [back, z]]
        } else {
            vec![[back, z], [face, z]]
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

    /// One step: strips along every stretch, with its sides.
    fn step(
        &self,
        site: &Site,
        line: &CentreLine,
        stretches: &[Vec<Section>],
        rule: Rule,
        skirt: &Skirt,
    ) -> Result<Step, Diagnostic> {
        let run = skirt.sides[0].max(skirt.sides[1]);
        let mut patch = Patch::new();
        for sections in stretches {
            let loft = self.centre.loft(site, "the wall", line, sections)?;
            let at = &self.centre.places.at;
            let sides = site.sides(rule, run, Corners::Mitre, &loft.outline(), at)?;
            patch.append(&loft.patch(&sides, skirt));
        }
        Ok(Step { rule, patch })
    }
}

impl Shape for Wall {
    fn check(&self, survey: &Survey, faults: &mut Vec<Diagnostic>) {
        faults.extend(self.centre.points(survey, "a wall").err());
        let bases =
            std::iter::once(&self.base).chain(self.steps.iter().filter_map(|s| s.base.as_ref()));
        let bases = bases.filter_map(|base| match base {
            Base::Level(spec) => Some(spec),
            Base::Buried(..) => None,
        });
        let tops = self.steps.iter().filter_map(|s| s.top.as_ref());
        for spec in bases.chain(tops).chain([&self.top]) {
            faults.extend(missing_benchmark(survey, spec));
        }
    }

    fn lay(&self, site: &Site, label: Labels) -> Result<Laid, Diagnostic> {
        if let LevelWord::Depth(_) = self.top.word {
            return Err(Diagnostic::error(
                "bad-level",
                "a wall stands above the ground: its top cannot be a depth below it",
            )
            .at(self.top.at.clone())
            .help("write height:..., level:... or below-benchmark:..."));
        }
        let line = self.centre.lay(site, "a wall", self.thickness_m)?;
        let stretches = self.stretches(site, &line)?;
        for stretch in &stretches {
            self.check_height(site, &line, stretch)?;
        }
        let upright = FACE_RUN_PER_RISE;
        let dug: Vec<Vec<Section>> = {
            let base = label("base", Role::Floor);
            let side = label("base trench", Role::Face);
            let section = |at_m: f64, z: f64| Section {
                at_m,
                across: self.across(0.0, z),
                labels: vec![side, base, side],
            };
            let both = |s: &Stretch| vec![section(s.from_m, s.base_z), section(s.to_m, s.base_z)];
            stretches.iter().map(both).collect()
        };
        let trench_end: Label = label("base trench", Role::Face);
        let trench = Skirt {
            sides: [upright; 2],
            ends: [upright; 2],
            end_labels: [trench_end; 2],
        };
        let trench = self.step(site, &line, &dug, Rule::Lower, &trench)?;
        let batter = self.batter_run_per_rise.max(upright);
        let face = label("face", Role::Face);
        let back = label("back", Role::Face);
        let top = label("top", Role::Floor);
        let end = label("end", Role::Face);
        let [right, left] = self.right_left(face, back);
        let body: Vec<Vec<Section>> = stretches
            .iter()
            .map(|stretch| {
                let section = |&(at_m, z): &(f64, f64)| Section {
                    at_m,
                    across: self.across((z - stretch.base_z) * batter, z),
                    labels: vec![right, top, left],
                };
                stretch.top.iter().map(section).collect()
            })
            .collect();
        let skirt = Skirt {
            sides: self.right_left(batter, upright),
            ends: [upright; 2],
            end_labels: [end; 2],
        };
        let body = self.step(site, &line, &body, Rule::Raise, &skirt)?;
        let at_base = |z: &dyn Fn(&Stretch) -> f64| -> Vec<P3> {
            let ends = |s: &Stretch| {
                [s.from_m, s.to_m].map(|at| P3 {
                    p: line.at(at),
                    z: z(s),
                })
            };
            stretches.iter().flat_map(ends).collect()
        };
        Ok(Laid {
            places_soil: false,
            dug: Some(vec![trench]),
            core_is_outline: false,
            lines: vec![("foot of the face".to_owned(), at_base(&|s| s.base_z))],
            notes: self
                .centre
                .crossing(site, "the wall", &line)
                .into_iter()
                .collect(),
            ..Laid::new(Rule::Raise, vec![body], line.points().to_vec(), batter)
        })
    }
}
