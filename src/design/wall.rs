//! A wall: a body with a leaning face on a base let into the ground.
//!
//! | key | meaning |
//! | --- | --- |
//! | `line`, `bend_radius`, `arcs` | the foot of the face, at the level of the base |
//! | `holds` | `"left"` or `"right"`: the side where the ground is higher, as seen along the line; the body stands on it |
//! | `thickness` | of the base |
//! | `top` | its level, or `"height:3.0"` above the ground at every point of the line |
//! | `tops` | instead: `[{ at, level }]`: levels at stations along the line, straight between, even beyond |
//! | `buried` | how far the base lies below the lowest ground under it |
//! | `base` | instead: its level |
//! | neither | the base lies an eighth of the height below the ground before it and under it, as measured and as the features before have left it |
//! | `batter_run_per_rise` | lean of the face, 0 if not said: it goes back so much for one up; the back is upright |
//! | `steps` | `[{ at, base, buried, top }]`: from `at` along the line on, the base (and the top) stand at another level |
//! | `course` | height of a course: base and top go in whole courses from the lowest base on, the base down and the top up; the base steps by itself where the ground rises |
//! | `unit` | length of a wall unit: units are counted, and levels change at whole ones |
//! | `cap` | thickness of the cap; the top of the wall is its top |
//! | `base_stone` | `{ thick, before, behind }`: stone under the first course, in a trench that is wider before the foot and behind the back |
//! | `drain_stone` | `{ width, soil_cap }`: stone behind the back from the level of the base up, under a cap of soil |
//! | `pipe` | `{ outlet, fall_percent }`: drain pipe in that stone, coming out at `"start"` or `"end"`; 1 percent if not said |
//! | `made_of`, `weight` | `"stone"`, `"concrete"`, `"timber"`; or kg/m3 (lb/ft3): for the engineer's page |
//!
//! The trench for the base is dug upright, as wide as the wall and what is asked for under and
//! behind it. The wall and its stone fill it, the rest is filled again. What stands behind and
//! before the wall is the business of other features: those that it holds are listed before it,
//! so that its stone takes the place of their soil, and what they left before a leaning face goes. A closed wall starts between two corners.

mod keys;
mod levels;
mod plan;

use crate::diag::{At, Diagnostic};
use crate::geom::P3;
use crate::job::{LevelSpec, LevelWord, Table};
use crate::surface::{Label, Patch, Rule};
use crate::survey::Survey;

use super::centre::{Centre, centre};
use super::entry::{missing_benchmark, required, run_per_rise_of, word};
use super::shape::{CentreLine, Corners, FACE_RUN_PER_RISE, Loft, Section, Skirt};
use super::{Kind, Labels, Laid, Role, Shape, Site, Step};

use keys::{Extras, extras};
use levels::{before_foot, is_changed};
use plan::solid_m3;

pub use plan::{BaseStone, DrainStone, Pipe, WallPlan, WallStretch};

pub(super) const KIND: Kind = Kind { name: "wall", read };

#[derive(Debug)]
struct Wall {
    centre: Centre,
    /// 1 if the body stands to the left of the line, -1 if to the right.
    side: f64,
    thickness_m: f64,
    batter_run_per_rise: f64,
    top: Top,
    base: Base,
    steps: Vec<WallStep>,
    extras: Extras,
}

#[derive(Clone, Debug)]
enum Base {
    Level(LevelSpec),
    /// Below the lowest ground under the stretch.
    Buried(f64, At),
    /// An eighth of the height below the ground.
    Rule(At),
}

impl Base {
    /// Where the job gives it.
    fn at(&self) -> &At {
        match self {
            Base::Level(spec) => &spec.at,
            Base::Buried(_, at) | Base::Rule(at) => at,
        }
    }
}

#[derive(Clone, Debug)]
enum Top {
    /// One level, or height above the ground, all along.
    Everywhere(LevelSpec),
    /// Levels at stations.
    Along(Vec<(f64, LevelSpec)>),
}

impl Top {
    fn specs(&self) -> Vec<&LevelSpec> {
        match self {
            Top::Everywhere(spec) => vec![spec],
            Top::Along(knots) => knots.iter().map(|k| &k.1).collect(),
        }
    }
}

#[derive(Debug)]
struct WallStep {
    at_m: f64,
    base: Option<Base>,
    top: Option<Top>,
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
    let top = read_top(table, diagnostics);
    let base = match table.has("buried") || table.has("base") {
        true => match table.one_of(&["buried", "base"], "buried = 0.5", diagnostics) {
            Some(_) => read_base(table, diagnostics),
            None => None,
        },
        false => Some(Base::Rule(table.at())),
    };
    let extras = extras(table, diagnostics);
    let mut steps = Vec::new();
    for mut entry in table.tables("steps", diagnostics) {
        let at = entry.at();
        let along = required(&mut entry, "at", "at = 6.0", Table::length_m, diagnostics);
        let base = read_base(&mut entry, diagnostics);
        let top = entry.level("top", diagnostics).map(Top::Everywhere);
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
        extras: extras?,
    }))
}

fn read_top(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Top> {
    let example = "top = \"height:2.5\"";
    match table.one_of(&["top", "tops"], example, diagnostics)? {
        "top" => table.level("top", diagnostics).map(Top::Everywhere),
        _ => {
            let mut knots = Vec::new();
            for mut entry in table.tables("tops", diagnostics) {
                let at = required(&mut entry, "at", "at = 6.0", Table::length_m, diagnostics);
                let example = "level = \"level:98.5\"";
                let level = required(&mut entry, "level", example, Table::level, diagnostics);
                entry.finish(diagnostics);
                knots.extend(at.zip(level).map(|((at_m, _), level)| (at_m, level)));
            }
            (!knots.is_empty()).then_some(Top::Along(knots))
        }
    }
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

impl Wall {
    /// Refuses a wall that has no height, or that leans until nothing is left of its top.
    fn check_height(
        &self,
        site: &Site,
        line: &CentreLine,
        stretch: &WallStretch,
    ) -> Result<(), Diagnostic> {
        for &(station, top_z) in &stretch.top {
            let height = top_z - stretch.base_z_m;
            let place = site.place(line.at(station));
            if height < LOWEST_M {
                return Err(Diagnostic::error(
                    "no-height",
                    format!(
                        "the top of the wall at {place} stands {} above its base: there is no wall",
                        site.length(height)
                    ),
                )
                .at(self.top_at())
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
                .at(self.top_at())
                .help(format!(
                    "make the wall more than {} thick, or the face steeper",
                    site.length(height * self.batter_run_per_rise)
                )));
            }
        }
        Ok(())
    }

    /// Where the job gives the top.
    fn top_at(&self) -> At {
        let first = self.top.specs().first().map(|spec| spec.at.clone());
        first.unwrap_or_default()
    }

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

impl Wall {
    /// What is dug: the trench of the base, and that of the stone behind the wall.
    fn dug(
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
        let mut step = self.step(site, line, &trench, Rule::Lower, &skirt(side))?;
        if let Some(drain) = &self.extras.drain_stone {
            let floor = label("drain stone", Role::Floor);
            let side = label("drain trench", Role::Face);
            let across = [0.0, self.thickness_m + drain.width_m];
            let behind = rows(across, 0.0, [side, floor]);
            let behind = self.step(site, line, &behind, Rule::Lower, &skirt(side))?;
            step.patch.append(&behind.patch);
        }
        Ok(step)
    }

    /// The body.
    fn body(
        &self,
        site: &Site,
        line: &CentreLine,
        stretches: &[WallStretch],
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
        self.step(site, line, &rows, Rule::Raise, &skirt)
    }

    /// What features before have left standing before a leaning face, taken away down to the
    /// ground before the foot; `None` where there is no such thing.
    fn cleared(
        &self,
        site: &Site,
        line: &CentreLine,
        stretches: &[WallStretch],
        label: Labels,
    ) -> Result<Option<Step>, Diagnostic> {
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
        let mut rows = Vec::new();
        for stretch in stretches {
            let span = [stretch.from_m, stretch.to_m];
            let knots = before_foot(site.so_far, line, self.side, span);
            let section = |&(at_m, z): &(f64, f64)| Section {
                at_m,
                across: self.across([0.0, lean(stretch)], z),
                labels: vec![side, floor, side],
            };
            if knots.len() > 1 && lean(stretch) >= THINNEST_M {
                rows.push(knots.iter().map(section).collect());
            }
        }
        let skirt = Skirt {
            sides: [FACE_RUN_PER_RISE; 2],
            ends: [FACE_RUN_PER_RISE; 2],
            end_labels: [side; 2],
        };
        Ok(Some(self.step(site, line, &rows, Rule::Lower, &skirt)?))
    }

    /// The wall as it is to be built.
    fn plan(
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
            is_buried_by_rule: matches!(self.base, Base::Rule(_)),
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

    /// Refuses a line that closes at a corner: the ends are square.
    fn check_closed(&self, site: &Site, line: &CentreLine) -> Result<(), Diagnostic> {
        let points = line.points();
        let (first, last) = (points[0], points[points.len() - 1]);
        let [[ax, ay], [bx, by]] = [
            points[1].relative_m(first),
            last.relative_m(points[points.len() - 2]),
        ];
        let turn = (ax * by - ay * bx).abs();
        let is_straight = turn <= STRAIGHT * ax.hypot(ay) * bx.hypot(by) && ax * bx + ay * by > 0.0;
        if first != last || is_straight {
            return Ok(());
        }
        let middle = line.at(line.stations_m()[1] / 2.0);
        Err(Diagnostic::error(
            "closed-at-corner",
            format!(
                "the wall closes on itself at the corner at {}: its ends are square and would not meet there",
                site.place(first)
            ),
        )
        .at(self.centre.places.at.clone())
        .help(format!(
            "start and end the line between two corners, such as at {}",
            site.place(middle)
        )))
    }
}

/// Sine of the angle up to which two stretches are one straight line.
const STRAIGHT: f64 = 1.0e-3;

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

/// The pieces of a strip, section to section.
fn quadrangles(strip: &Loft) -> Vec<[P3; 4]> {
    let rows: Vec<Vec<P3>> = strip.sections().collect();
    let pairs = rows.windows(2);
    pairs
        .map(|w| [w[0][0], w[1][0], w[1][1], w[0][1]])
        .collect()
}

impl Shape for Wall {
    fn check(&self, survey: &Survey, faults: &mut Vec<Diagnostic>) {
        faults.extend(self.centre.points(survey, "a wall").err());
        let bases =
            std::iter::once(&self.base).chain(self.steps.iter().filter_map(|s| s.base.as_ref()));
        let bases = bases.filter_map(|base| match base {
            Base::Level(spec) => Some(spec),
            Base::Buried(..) | Base::Rule(_) => None,
        });
        let tops = self.steps.iter().filter_map(|s| s.top.as_ref());
        let tops = std::iter::once(&self.top).chain(tops).flat_map(Top::specs);
        for spec in bases.chain(tops) {
            faults.extend(missing_benchmark(survey, spec));
        }
    }

    fn lay(&self, site: &Site, label: Labels) -> Result<Laid, Diagnostic> {
        let is_depth = |spec: &&&LevelSpec| matches!(spec.word, LevelWord::Depth(_));
        if let Some(spec) = self.top.specs().iter().find(is_depth) {
            return Err(Diagnostic::error(
                "bad-level",
                "a wall stands above the ground: its top cannot be a depth below it",
            )
            .at(spec.at.clone())
            .help("write height:..., level:... or below-benchmark:..."));
        }
        let behind = [
            self.extras
                .base_stone
                .map_or(0.0, |s| s.behind_m.max(s.before_m)),
            self.extras.drain_stone.map_or(0.0, |d| d.width_m),
        ];
        let widest = self.thickness_m + behind[0].max(behind[1]);
        let line = self.centre.lay(site, "a wall", widest)?;
        self.check_closed(site, &line)?;
        let stretches = self.stretches(site, &line)?;
        for stretch in &stretches {
            self.check_height(site, &line, stretch)?;
        }
        let trench = self.dug(site, &line, &stretches, label)?;
        let cleared = self.cleared(site, &line, &stretches, label)?;
        let body = self.body(site, &line, &stretches, label)?;
        let finished = cleared.into_iter().chain([body]).collect();
        let plan = self.plan(site, &line, stretches)?;
        let ends = |s: &WallStretch| {
            [s.from_m, s.to_m].map(|at| P3 {
                p: line.at(at),
                z: s.base_z_m,
            })
        };
        let foot = plan.stretches.iter().flat_map(ends).collect();
        Ok(Laid {
            places_soil: false,
            dug: Some(vec![trench]),
            core_is_outline: false,
            lines: vec![("foot of the face".to_owned(), foot)],
            notes: self
                .centre
                .crossing(site, "the wall", &line)
                .into_iter()
                .collect(),
            wall: Some(Box::new(plan)),
            ..Laid::new(
                Rule::Raise,
                finished,
                line.points().to_vec(),
                self.batter_run_per_rise.max(FACE_RUN_PER_RISE),
            )
        })
    }
}
