//! A basin: a floor dug inside an outline, with sides up to the ground.
//!
//! | key | takes |
//! | --- | --- |
//! | `outline` | corners of the floor |
//! | `floor` | its level; `depth:` counts from the lowest ground on the outline |
//! | `floor_levels` | instead: a level for every corner, such as `["level:97.2", ...]` |
//! | `floor_fall_percent` | fall towards the sump; `floor` is then its level at the sump |
//! | `sump` | `{ centre = [14.0, 16.0], diameter = 2.0, depth = 0.5, side_run_per_rise = 1.0 }`; instead of `diameter` a `size = [2.0, 1.5]`, instead of both an `outline`; instead of `depth` (below the floor) a `level`; upright without a slope |
//! | `chamber` | the pit for the pump chamber: the same keys; in the sump it counts from the floor of the sump |
//! | `ledges` | `[{ depth = 0.3, width = 0.4 }]`: shelves in the sides, below the lowest ground on the outline, or at a `level`; along some with `edges = [{ edge = 1 }, { facing = "north" }]` |
//! | `side_run_per_rise`, `sides`, `corners`, `behind_daylight` | slopes, see `outline.rs` and `entry.rs` |
//! | `stands` | `"temporary"` or `"permanent"` |
//!
//! A round sump or chamber is a polygon inside the circle, its chords as near as the job says.

use crate::diag::{At, Diagnostic};
use crate::geom::P3;
use crate::job::{LevelSpec, LevelWord, PlaceList, Table};
use crate::surface::{Patch, Rule};
use crate::survey::Survey;

use super::entry::{corners, leaves_behind, missing_benchmark, required, side_run_per_rise, word};
use super::ledge::Ledge;
use super::outline::{EdgeSlopes, Floor, Outline, distance_to, steepest};
use super::pit::{Pit, level_under};
use super::shape::{Corners, EdgeRun, Sides, floor_triangles};
use super::{Kind, Labels, Laid, LevelsAre, Role, Shape, Site, Stands, Step};

pub(super) const KIND: Kind = Kind {
    name: "basin",
    read,
};

#[derive(Debug)]
struct Basin {
    /// Outline of the floor.
    outline: PlaceList,
    floor: FloorLevel,
    sump: Option<Pit>,
    chamber: Option<Pit>,
    ledges: Vec<Ledge>,
    side_run_per_rise: f64,
    sides: EdgeSlopes,
    corners: Corners,
    stands: Stands,
    leaves_behind: bool,
}

#[derive(Debug)]
enum FloorLevel {
    Level(LevelSpec),
    /// One for every corner.
    Corners(Vec<LevelSpec>, At),
    /// The level at the sump, and how the floor falls to it, rise over run.
    Falling(LevelSpec, f64),
}

impl FloorLevel {
    fn at(&self) -> &At {
        match self {
            FloorLevel::Level(level) | FloorLevel::Falling(level, _) => &level.at,
            FloorLevel::Corners(_, at) => at,
        }
    }
}

/// Steepest fall of a floor, percent.
const STEEPEST_PERCENT: f64 = 50.0;

fn read(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Box<dyn Shape>> {
    let example = "outline = [[10.0, 12.0], [20.0, 12.0], [20.0, 20.0], [10.0, 20.0]]";
    let outline = required(table, "outline", example, Table::places, diagnostics);
    let has_sump = table.has("sump");
    let floor = read_floor(table, has_sump, diagnostics);
    let side = side_run_per_rise(table, diagnostics);
    let sides = EdgeSlopes::read(table, diagnostics);
    let corners = corners(table, diagnostics);
    let sump = Pit::read(table, "sump", diagnostics);
    let has_chamber = table.has("chamber");
    let chamber = Pit::read(table, "chamber", diagnostics);
    let ledges = Ledge::read(table, diagnostics);
    let words = [
        ("temporary", Stands::Temporary),
        ("permanent", Stands::Permanent),
    ];
    let stands = word(table, "stands", &words, diagnostics);
    let leaves_behind = leaves_behind(table, diagnostics);
    if let Some(ledge) = ledges.iter().find(|l| !l.is_all_round())
        && corners == Corners::Round
    {
        let message = "a ledge along some of the edges needs corners that are not round";
        let fault = Diagnostic::error("ledge-corner", message).at(ledge.at.clone());
        diagnostics.push(fault.help("write corners = \"mitre\", or leave out `edges`"));
        return None;
    }
    if has_sump && sump.is_none() || has_chamber && chamber.is_none() {
        return None;
    }
    Some(Box::new(Basin {
        outline: outline?,
        floor: floor?,
        sump,
        chamber,
        ledges,
        side_run_per_rise: side?,
        sides,
        corners,
        stands,
        leaves_behind,
    }))
}

fn read_floor(
    table: &mut Table,
    has_sump: bool,
    diagnostics: &mut Vec<Diagnostic>,
) -> Option<FloorLevel> {
    table.expect(&["floor", "floor_levels", "floor_fall_percent"]);
    if table.has("floor_levels") && !table.has("floor") {
        let (levels, at) = table.levels("floor_levels", diagnostics)?;
        if let Some(pair) = levels.iter().find(|specs| specs.len() > 1) {
            let message = "a floor has one level at every corner";
            let fault = Diagnostic::error("bad-level", message).at(pair[0].at.clone());
            diagnostics.push(fault.help("write one level for every corner of the outline"));
            return None;
        }
        return Some(FloorLevel::Corners(levels.concat(), at));
    }
    let floor = required(
        table,
        "floor",
        "floor = \"depth:3.0\"",
        Table::level,
        diagnostics,
    );
    let Some((percent, at)) = table.number("floor_fall_percent", diagnostics) else {
        return floor.map(FloorLevel::Level);
    };
    if !(0.0..=STEEPEST_PERCENT).contains(&percent) {
        let message = "a floor falls by 0 to 50 percent";
        let fault = Diagnostic::error("bad-fall", message).at(at);
        diagnostics.push(fault.help("1 to 5 is usual, so that water finds the sump"));
        return None;
    }
    if !has_sump {
        let message = "this floor falls to a sump, and there is none";
        let fault = Diagnostic::error("no-sump", message).at(at);
        diagnostics.push(fault.help(
            "write sump = { centre = [14.0, 16.0], diameter = 2.0, depth = 0.5 }, or floor_levels",
        ));
        return None;
    }
    floor.map(|floor| match percent > 0.0 {
        true => FloorLevel::Falling(floor, percent / 100.0),
        false => FloorLevel::Level(floor),
    })
}

/// The floor with its levels.
struct Bottom {
    /// Corners of the outline.
    line: Vec<P3>,
    /// Facets where it is no plane.
    facets: Option<Vec<[P3; 3]>>,
}

impl Basin {
    /// Water stands level: a depth counts from the lowest ground on the outline.
    fn rim_m(&self, site: &Site, outline: &Outline) -> Result<f64, Diagnostic> {
        let corners = outline.ring.corners().iter();
        let lowest = corners
            .filter_map(|&p| site.ground.z_at(p))
            .fold(f64::INFINITY, f64::min);
        if lowest.is_finite() {
            return Ok(lowest);
        }
        let message = "no corner of the basin lies inside the survey";
        Err(Diagnostic::error("outside", message)
            .at(self.outline.at.clone())
            .help("move it inside the outline, or shoot the ground there"))
    }

    fn level_m(&self, site: &Site, outline: &Outline, spec: &LevelSpec) -> Result<f64, Diagnostic> {
        match (site.fixed_level(spec)?, spec.word) {
            (Some(z), _) => Ok(z),
            (None, LevelWord::Depth(depth)) => Ok(self.rim_m(site, outline)? - depth),
            (None, _) => Err(Diagnostic::error(
                "bad-level",
                "a basin is dug: its floor cannot be a height above the ground",
            )
            .at(spec.at.clone())
            .help("write depth:..., level:... or below-benchmark:...")),
        }
    }

    fn bottom(
        &self,
        site: &Site,
        outline: &Outline,
        sump: Option<&Outline>,
    ) -> Result<Bottom, Diagnostic> {
        match (&self.floor, sump) {
            (FloorLevel::Level(spec), _) | (FloorLevel::Falling(spec, _), None) => {
                let level = self.level_m(site, outline, spec)?;
                Ok(Bottom {
                    line: outline.line(|_| level),
                    facets: None,
                })
            }
            (FloorLevel::Corners(specs, _), _) => {
                let levels: Vec<f64> = specs
                    .iter()
                    .map(|spec| self.level_m(site, outline, spec))
                    .collect::<Result<_, _>>()?;
                // As many levels as corners: checked before.
                let at = |p| outline.listed.iter().position(|l| *l == p).unwrap_or(0);
                Ok(Bottom {
                    line: outline.line(|p| levels[at(p)]),
                    facets: None,
                })
            }
            (FloorLevel::Falling(spec, fall), Some(sump)) => {
                let level = self.level_m(site, outline, spec)?;
                let away = |p| {
                    let edges = sump.ring.sides();
                    let distances = edges.map(|(a, b)| distance_to(p, a, b));
                    distances.fold(f64::INFINITY, f64::min)
                };
                let line = outline.line(|p| level + fall * away(p));
                let inner = sump.line(|_| level);
                let rings = [outline.ring.clone(), sump.ring.clone()];
                let mut facets = floor_triangles(&rings, &[line.clone(), inner.clone()].concat());
                facets.extend(floor_triangles(&rings[1..], &inner));
                Ok(Bottom {
                    line,
                    facets: Some(facets),
                })
            }
        }
    }

    /// The sides, from the floor up over every ledge.
    fn tiers(
        &self,
        site: &Site,
        outline: &Outline,
        bottom: &Bottom,
        runs: &[EdgeRun],
        label: Labels,
    ) -> Result<Patch, Diagnostic> {
        let mut patch = Patch::new();
        let highest = |line: &[P3]| line.iter().map(|c| c.z).fold(f64::NEG_INFINITY, f64::max);
        let mut ledges = Vec::new();
        for (k, ledge) in self.ledges.iter().enumerate() {
            let level = ledge.level_m(site, self.rim_m(site, outline)?)?;
            ledges.push((level, k + 1, ledge));
        }
        ledges.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut ring = outline.ring.clone();
        let mut line = bottom.line.clone();
        for (level, number, ledge) in ledges {
            let below = highest(&line);
            if level - below < LOWEST_RISER_M {
                let message = format!(
                    "a ledge lies above the floor and the ledge below it: this one is at {}, they at {}",
                    site.length(level),
                    site.length(below)
                );
                return Err(Diagnostic::error("low-ledge", message)
                    .at(ledge.at.clone())
                    .help("raise it, or lower the floor"));
            }
            let outer = ledge.outer(site, outline, &line, runs, level)?;
            // Sides that end at the ledge to the last bit; see `Sides::rise`.
            let start = line.iter().map(|c| c.z).fold(f64::INFINITY, f64::min);
            let sides = Sides {
                rule: Rule::Lower,
                run_per_rise: self.side_run_per_rise,
                limit_z_m: start + Sides::limit_for(level - start),
                corners: self.corners,
                chord_m: site.chord_m,
            };
            let part = label(&format!("ledge {number}"), Role::Floor);
            let shape = |line, ring| Floor {
                ring,
                line,
                runs,
                of: "",
            };
            shape(&line, &ring).add_sides(&mut patch, &sides, label);
            line = outer.line(|_| level);
            ring = outer.ring;
            patch.add_flat(&floor_triangles(std::slice::from_ref(&ring), &line), part);
        }
        let sides = site.sides_round(
            Rule::Lower,
            (&line, &line),
            runs,
            self.corners,
            self.floor.at(),
        )?;
        let shape = Floor {
            ring: &ring,
            line: &line,
            runs,
            of: "",
        };
        shape.add_sides(&mut patch, &sides, label);
        Ok(patch)
    }
}

/// Least height of a side between a floor and a ledge, metres.
const LOWEST_RISER_M: f64 = 0.02;

impl Shape for Basin {
    /// A basin is dug to its levels; what fills it lies on them.
    fn levels_are(&self) -> LevelsAre {
        LevelsAre::Dug
    }

    fn check(&self, survey: &Survey, faults: &mut Vec<Diagnostic>) {
        match Outline::new(survey, &self.outline, "basin") {
            Ok(outline) => {
                self.sides.check(&outline, faults);
                for ledge in &self.ledges {
                    ledge.check(survey, &outline, faults);
                }
                if let FloorLevel::Corners(levels, at) = &self.floor
                    && levels.len() != outline.listed.len()
                {
                    let message = format!(
                        "the outline has {} corners but {} levels are given",
                        outline.listed.len(),
                        levels.len()
                    );
                    let fault = Diagnostic::error("level-count", message).at(at.clone());
                    faults.push(fault.help("give one level for every corner"));
                }
            }
            Err(fault) => faults.push(fault),
        }
        let levels = match &self.floor {
            FloorLevel::Level(level) | FloorLevel::Falling(level, _) => std::slice::from_ref(level),
            FloorLevel::Corners(levels, _) => levels,
        };
        faults.extend(
            levels
                .iter()
                .filter_map(|level| missing_benchmark(survey, level)),
        );
        for pit in self.sump.iter().chain(&self.chamber) {
            pit.check(survey, faults);
        }
    }

    fn lay(&self, site: &Site, label: Labels) -> Result<Laid, Diagnostic> {
        let outline = Outline::new(site.survey, &self.outline, "basin")?;
        let outline_of = |pit: &Pit| pit.outline(site.survey, site.chord_m);
        let sump = self.sump.as_ref().map(outline_of).transpose()?;
        let chamber = self.chamber.as_ref().map(outline_of).transpose()?;
        let bottom = self.bottom(site, &outline, sump.as_ref())?;
        let runs = self.sides.runs(&outline, self.side_run_per_rise)?;
        let floor = label("floor", Role::Floor);
        let mut patch = Patch::new();
        let facets = match &bottom.facets {
            Some(facets) => {
                for facet in facets {
                    patch.add_flat(std::slice::from_ref(facet), floor);
                }
                facets.clone()
            }
            None => {
                super::shape::floor_within(&mut patch, &outline.ring, &bottom.line, floor);
                floor_triangles(std::slice::from_ref(&outline.ring), &bottom.line)
            }
        };
        patch.append(&self.tiers(site, &outline, &bottom, &runs, label)?);
        let top_m = bottom
            .line
            .iter()
            .map(|c| c.z)
            .fold(f64::NEG_INFINITY, f64::max);
        let mut steep = steepest(&runs);
        let mut sump_at: Option<(Outline, f64)> = None;
        if let (Some(pit), Some(plan)) = (&self.sump, sump) {
            let under = level_under(&facets, plan.middle()).unwrap_or(top_m);
            let level = pit.level_m(site, under)?;
            pit.add(
                &mut patch,
                site,
                (&plan, level),
                (&outline, "floor"),
                top_m,
                label,
            )?;
            steep = steep.min(pit.run_per_rise());
            sump_at = Some((plan, level));
        }
        if let (Some(pit), Some(plan)) = (&self.chamber, chamber) {
            let middle = plan.middle();
            let in_sump = sump_at.filter(|(sump, _)| sump.depth_inside(middle) >= 0.0);
            let under = match &in_sump {
                Some((_, level)) => *level,
                None => level_under(&facets, middle).unwrap_or(top_m),
            };
            let level = pit.level_m(site, under)?;
            let (within, top) = match &in_sump {
                Some((sump, level)) => ((sump, "floor of the sump"), *level),
                None => ((&outline, "floor"), top_m),
            };
            pit.add(&mut patch, site, (&plan, level), within, top, label)?;
            steep = steep.min(pit.run_per_rise());
        }
        if self.leaves_behind {
            patch.anchor(floor);
        }
        let steps = vec![Step {
            rule: Rule::Lower,
            patch,
        }];
        let core = outline.ring.corners().to_vec();
        Ok(Laid {
            stands: self.stands,
            ..Laid::new(Rule::Lower, steps, core, steep)
        })
    }
}
