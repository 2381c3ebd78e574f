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
//! | neither | the base lies an eighth of the height (`wall_buried_per_height` in `[limits]`) below the ground before it and under it, as measured and as the features before have left it |
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

mod build;
mod keys;
mod levels;
mod plan;
mod planned;
mod read;

use crate::diag::{At, Diagnostic};
use crate::geom::P3;
use crate::job::{LevelSpec, LevelWord};
use crate::surface::Rule;
use crate::survey::Survey;

use super::centre::Centre;
use super::entry::missing_benchmark;
use super::shape::{CentreLine, FACE_RUN_PER_RISE};
use super::{Kind, Labels, Laid, Shape, Site};

use keys::Extras;
use read::read;

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
    /// A share of the height below the ground.
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

/// Thinnest wall, and narrowest top of a leaning one, metres.
const THINNEST_M: f64 = 0.01;

/// Lowest wall, metres.
const LOWEST_M: f64 = 0.01;

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
        let down_to = cleared.as_ref().map(|c| c.1);
        let body = self.body(site, &line, &stretches, down_to, label)?;
        let finished = cleared.into_iter().map(|c| c.0).chain([body]).collect();
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
