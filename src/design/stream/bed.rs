//! What a bed is besides a fall: its width, its pools, and the deeper outside of its bends.

use crate::diag::{At, Diagnostic};
use crate::job::Table;
use crate::surface::Label;

use super::super::entry::{bad_width, required, run_per_rise_of, side_role, width_m, width_of};
use super::super::levels::{AT_BEND_M, Grade, Levels, Named, check_stretches};
use super::super::shape::{Along, CentreLine, FACE_RUN_PER_RISE, SAME_STATION_M, Section};
use super::super::{Axis, Labels, Role, Site};

/// Widths of a bed as written.
#[derive(Debug)]
pub(super) enum Widths {
    Even(f64),
    /// One for each point of the line.
    Points(Vec<f64>, At),
    /// By distance from the head.
    ByStation(Vec<(f64, f64)>),
}

/// A stretch dug deeper, that holds water when the stream does not run.
#[derive(Debug)]
pub(super) struct Pool {
    at_m: f64,
    length_m: f64,
    depth_m: f64,
    width_m: Option<f64>,
    /// Length of the level lip at its downstream end.
    lip_m: f64,
    end_run_per_rise: f64,
    at: At,
}

/// How much deeper the outside of a bend is, and over which length it becomes so.
#[derive(Debug)]
pub(super) struct Outside {
    depth_m: f64,
    blend_m: Option<f64>,
}

/// Run for one of rise of the ends of a pool if not said; common practice, no source.
const POOL_END_RUN_PER_RISE: f64 = 2.0;

/// Reads `width` or `widths`.
pub(super) fn widths(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Widths> {
    table.expect(&["width", "widths"]);
    if !table.has("widths") {
        return width_m(table, "width = 2.0", diagnostics).map(Widths::Even);
    }
    if table.has("width") {
        table.one_of(&["width", "widths"], "width = 2.0", diagnostics);
        return None;
    }
    if !table.holds_groups("widths") {
        let (widths, at) = table.lengths_m("widths", "[1.5, 2.0, 2.5]", diagnostics)?;
        if let Some(fault) = widths.iter().find_map(|&w| bad_width(w, &at)) {
            diagnostics.push(fault);
            return None;
        }
        return Some(Widths::Points(widths, at));
    }
    let mut found = Vec::new();
    for mut entry in table.tables("widths", diagnostics) {
        let at = required(&mut entry, "at", "at = 4.0", Table::length_m, diagnostics);
        let width = width_m(&mut entry, "width = 2.0", diagnostics);
        entry.finish(diagnostics);
        found.push((at?.0, width?));
    }
    Some(Widths::ByStation(found))
}

/// Reads `pools`.
pub(super) fn pools(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Vec<Pool> {
    let mut pools = Vec::new();
    for mut entry in table.tables("pools", diagnostics) {
        let at = entry.at();
        let along = required(&mut entry, "at", "at = 5.0", Table::length_m, diagnostics);
        let length = required(
            &mut entry,
            "length",
            "length = 4.0",
            Table::length_m,
            diagnostics,
        );
        let depth = required(
            &mut entry,
            "depth",
            "depth = 0.5",
            Table::length_m,
            diagnostics,
        );
        let width = width_of(&mut entry, "width", diagnostics);
        let lip = entry.length_m("lip", diagnostics);
        let ends = run_per_rise_of(&mut entry, "end_run_per_rise", diagnostics);
        entry.finish(diagnostics);
        let (Some((at_m, _)), Some((length_m, _)), Some((depth_m, depth_at))) =
            (along, length, depth)
        else {
            continue;
        };
        let lip_m = lip.as_ref().map_or(0.0, |lip| lip.0);
        if depth_m <= 0.0 || lip_m < 0.0 {
            diagnostics.push(
                Diagnostic::error("bad-pool", "a pool is deeper than its lip, and a lip not shorter than nothing")
                    .at(depth_at)
                    .help("write depth = 0.5 for half a unit below the lip, lip = 0.3 for a level lip of that length"),
            );
            continue;
        }
        pools.push(Pool {
            at_m,
            length_m,
            depth_m,
            width_m: width,
            lip_m,
            end_run_per_rise: ends.unwrap_or(POOL_END_RUN_PER_RISE),
            at,
        });
    }
    pools.sort_by(|a, b| a.at_m.total_cmp(&b.at_m));
    pools
}

/// Reads `outer_depth` and `outer_blend`.
pub(super) fn outside(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Outside> {
    let blend = table.length_m("outer_blend", diagnostics);
    let (depth_m, at) = table.length_m("outer_depth", diagnostics)?;
    if depth_m < 0.0 || blend.as_ref().is_some_and(|blend| blend.0 <= 0.0) {
        diagnostics.push(
            Diagnostic::error(
                "bad-outer-depth",
                "the outside of a bend is deeper by `outer_depth`, 0 or more, and becomes so over `outer_blend`, more than 0",
            )
            .at(at)
            .help("write for example outer_depth = 0.2 and outer_blend = 2.0"),
        );
        return None;
    }
    Some(Outside {
        depth_m,
        blend_m: blend.map(|blend| blend.0),
    })
}

impl Widths {
    /// The fault of a list of widths that is too long or too short.
    pub(super) fn check(&self, points: usize) -> Option<Diagnostic> {
        match self {
            Widths::Points(widths, at) if widths.len() != points => Some(
                Diagnostic::error(
                    "width-count",
                    format!("the line has {points} points but {} widths are given", widths.len()),
                )
                .at(at.clone())
                .help("give one width for every point, or [{ at = 4.0, width = 2.0 }, ...] by distance from the head"),
            ),
            _ => None,
        }
    }

    /// The widest, metres.
    pub(super) fn widest_m(&self) -> f64 {
        match self {
            Widths::Even(width) => *width,
            Widths::Points(widths, _) => widths.iter().copied().fold(0.0, f64::max),
            Widths::ByStation(widths) => widths.iter().map(|w| w.1).fold(0.0, f64::max),
        }
    }

    fn along(&self, line: &CentreLine) -> Along {
        match self {
            Widths::Even(width) => Along::even(*width),
            Widths::Points(widths, _) => {
                let knots = line.given_m().iter().zip(widths);
                Along::new(knots.map(|(&s, &w)| (s, w)).collect())
            }
            Widths::ByStation(widths) => Along::new(widths.clone()),
        }
    }
}

/// A bed by station.
pub(super) struct Bed {
    /// Level of the middle.
    pub(super) z: Along,
    /// Level without its pools: that of the lips.
    pub(super) lips: Along,
    pub(super) width: Along,
    /// How much deeper the right and the left edge lie.
    pub(super) deeper: [Along; 2],
    stretches: Vec<Stretch>,
}

/// A stretch with a name of its own.
struct Stretch {
    from_m: f64,
    to_m: f64,
    bed: Label,
    /// What the sides beside it are called, if not sides.
    beside: Option<Label>,
}

/// What a bed is made of.
pub(super) struct Parts<'a> {
    pub(super) levels: &'a Levels,
    pub(super) widths: &'a Widths,
    pub(super) pools: &'a [Pool],
    pub(super) outside: Option<&'a Outside>,
}

impl Bed {
    /// # Errors
    ///
    /// pools that have no room for their ends, that reach past the line, a drop, a riffle or
    /// another pool
    pub(super) fn new(
        site: &Site,
        line: &CentreLine,
        grade: &Grade,
        parts: &Parts,
        label: Labels,
    ) -> Result<Bed, Diagnostic> {
        let mut bed = Bed {
            z: grade.z.clone(),
            lips: grade.z.clone(),
            width: parts.widths.along(line),
            deeper: [Along::even(0.0), Along::even(0.0)],
            stretches: Vec::new(),
        };
        for (k, &[from_m, to_m]) in grade.riffles_m.iter().enumerate() {
            let name = label(&format!("riffle {}", k + 1), Role::Floor);
            bed.stretches.push(Stretch {
                from_m,
                to_m,
                bed: name,
                beside: None,
            });
        }
        if let Levels::Falling { riffles, .. } = parts.levels {
            for riffle in riffles {
                let Some(width_m) = riffle.width_m else {
                    continue;
                };
                let (from, to) = (riffle.from_m, riffle.to_m);
                let taper = (to - from) / 4.0;
                let old = &bed.width;
                let knots = [
                    (from, old.at(from)),
                    (from + taper, width_m),
                    (to - taper, width_m),
                    (to, old.at(to)),
                ];
                bed.width = old.replaced(&knots);
            }
        }
        bed.add_pools(site, line, grade, parts, label)?;
        for (k, &[from_m, to_m]) in grade.faces_m.iter().enumerate() {
            let run = (to_m - from_m) / (bed.z.at(from_m) - bed.z.at(to_m)).max(f64::MIN_POSITIVE);
            let role = side_role(run);
            let name = label(&format!("drop {}", k + 1), role);
            bed.stretches.push(Stretch {
                from_m,
                to_m,
                bed: name,
                beside: Some(name),
            });
        }
        if let Some(outside) = parts.outside {
            for bend in line.bends() {
                let middle = (bend.from_m + bend.to_m) / 2.0;
                let blend = outside.blend_m.unwrap_or(bed.width.at(middle));
                let deeper = Along::new(vec![
                    (bend.from_m - blend, 0.0),
                    (bend.from_m, outside.depth_m),
                    (bend.to_m, outside.depth_m),
                    (bend.to_m + blend, 0.0),
                ]);
                // The outside of a turn to the left is the right edge.
                let side = usize::from(bend.turn < 0.0);
                bed.deeper[side] = bed.deeper[side].max(&deeper);
            }
        }
        Ok(bed)
    }

    fn add_pools(
        &mut self,
        site: &Site,
        line: &CentreLine,
        grade: &Grade,
        parts: &Parts,
        label: Labels,
    ) -> Result<(), Diagnostic> {
        // Typed to a hundredth, a pool begins at the foot of a drop and ends at the lip of one.
        let near = |station: f64, end: usize| {
            let ends = grade.faces_m.iter().map(|face| face[end]);
            let found = ends.into_iter().find(|s| (s - station).abs() < AT_BEND_M);
            found.unwrap_or(station)
        };
        let spans: Vec<[f64; 3]> = parts
            .pools
            .iter()
            .map(|pool| {
                let end = near(pool.at_m + pool.length_m + pool.lip_m, 0);
                [near(pool.at_m, 1), end - pool.lip_m, end]
            })
            .collect();
        let mut named: Vec<Named> = (spans.iter().zip(parts.pools))
            .map(|(&[from, _, end], pool)| ("pool", [from, end], &pool.at))
            .collect();
        if let Levels::Falling { riffles, drops, .. } = parts.levels {
            let runs = riffles
                .iter()
                .map(|r| ("riffle", [r.from_m, r.to_m], &r.at));
            let steps = drops.iter().zip(&grade.faces_m);
            named.extend(runs);
            named.extend(steps.map(|(drop, &face)| ("drop", face, &drop.at)));
            // A drop inside a riffle is a drop in fast water: only pools keep apart.
            named.retain(|one| {
                one.0 == "pool"
                    || spans.iter().any(|s| {
                        one.1[0] < s[2] - SAME_STATION_M && one.1[1] > s[0] + SAME_STATION_M
                    })
            });
        }
        if !parts.pools.is_empty() {
            check_stretches(site, line, &named)?;
        }
        for (k, (&[from, to, end], pool)) in spans.iter().zip(parts.pools).enumerate() {
            let lip_z = self.lips.at(end);
            let floor_z = lip_z - pool.depth_m;
            let run = pool.end_run_per_rise.max(FACE_RUN_PER_RISE);
            let (down, up) = ((self.lips.at(from) - floor_z) * run, pool.depth_m * run);
            if down + up > to - from {
                let over = self.lips.at(from) - lip_z;
                let fits = (((to - from) / run - over) / 2.0).max(0.0);
                return Err(Diagnostic::error(
                    "pool-too-deep",
                    format!(
                        "the pool at {} has no room for its ends: they take {} of its {} at {} across : 1 up; a depth of {} fits",
                        site.place(line.at(from)),
                        site.length(down + up),
                        site.length(to - from),
                        pool.end_run_per_rise,
                        site.length(fits)
                    ),
                )
                .at(pool.at.clone())
                .help("make it longer or shallower, or its ends steeper with end_run_per_rise"));
            }
            let wide = pool.width_m.unwrap_or(self.width.at((from + to) / 2.0));
            let widths = [
                (from, self.width.at(from)),
                (from + down, wide),
                (to - up, wide),
                (to, self.width.at(to)),
            ];
            if pool.width_m.is_some() {
                self.width = self.width.replaced(&widths);
            }
            let levels = [
                (from, self.lips.at(from)),
                (from + down, floor_z),
                (to - up, floor_z),
                (to, lip_z),
                (end, lip_z),
            ];
            self.z = self.z.replaced(&levels);
            // Water stands at the level of the lip.
            self.lips =
                self.lips
                    .replaced(&[(from, self.lips.at(from)), (to, lip_z), (end, lip_z)]);
            let name = label(&format!("pool {}", k + 1), Role::Floor);
            self.stretches.push(Stretch {
                from_m: from,
                to_m: to,
                bed: name,
                beside: None,
            });
        }
        Ok(())
    }

    /// Stations where anything changes, within a stretch of the line.
    pub(super) fn stations(&self, from_m: f64, to_m: f64) -> Vec<f64> {
        let all = [
            &self.z,
            &self.lips,
            &self.width,
            &self.deeper[0],
            &self.deeper[1],
        ];
        let knots = all.iter().flat_map(|along| along.knots()).map(|k| k.0);
        let bounds = self.stretches.iter().flat_map(|s| [s.from_m, s.to_m]);
        let mut stations: Vec<f64> = knots
            .chain(bounds)
            .filter(|&s| s > from_m + SAME_STATION_M && s < to_m - SAME_STATION_M)
            .chain([from_m, to_m])
            .collect();
        stations.sort_by(f64::total_cmp);
        stations.dedup_by(|b, a| *b - *a <= SAME_STATION_M);
        stations
    }

    /// Levels of the right edge, the middle and the left edge.
    pub(super) fn levels(&self, station_m: f64) -> [f64; 3] {
        let z = self.z.at(station_m);
        let [right, left] = [0, 1].map(|side| self.deeper[side].at(station_m));
        [z - right, z, z - left]
    }

    /// Labels of the bed and of the two sides on the stretch round a station.
    pub(super) fn labels(&self, station_m: f64, bed: Label, sides: [Label; 2]) -> [Label; 3] {
        let here = |s: &&Stretch| station_m > s.from_m && station_m < s.to_m;
        // A drop in a riffle is a drop: what was added last counts.
        match self.stretches.iter().rev().find(here) {
            Some(stretch) => {
                let beside = |side: Label| stretch.beside.unwrap_or(side);
                [stretch.bed, beside(sides[0]), beside(sides[1])]
            }
            None => [bed, sides[0], sides[1]],
        }
    }

    /// The sections of the bed.
    pub(super) fn sections(
        &self,
        line: &CentreLine,
        bed: Label,
        sides: [Label; 2],
    ) -> Vec<Section> {
        let stations = self.stations(0.0, line.length_m());
        let next = stations.iter().skip(1).chain(stations.last());
        stations
            .iter()
            .zip(next)
            .map(|(&at_m, &next_m)| {
                let half = self.width.at(at_m) / 2.0;
                let [right, middle, left] = self.levels(at_m);
                let [bed, beside_right, beside_left] =
                    self.labels((at_m + next_m) / 2.0, bed, sides);
                Section {
                    at_m,
                    across: vec![[-half, right], [0.0, middle], [half, left]],
                    labels: vec![beside_right, bed, bed, beside_left],
                }
            })
            .collect()
    }
}

impl Bed {
    /// The bed from the foot up.
    pub(super) fn axis(&self, line: &CentreLine) -> Axis {
        let length_m = line.length_m();
        let upright = |from: f64, to: f64| {
            let rise = self.z.at(from) - self.z.at(to);
            to - from <= rise * FACE_RUN_PER_RISE * 1.5
        };
        let mut bed: Vec<(f64, f64)> = Vec::new();
        let mut stations = self.stations(0.0, length_m);
        stations.reverse();
        for (k, &station) in stations.iter().enumerate() {
            // The foot of an upright face stands under its lip.
            let lip = stations.get(k + 1).copied();
            let under = lip.filter(|&lip| upright(lip, station));
            bed.push((length_m - under.unwrap_or(station), self.z.at(station)));
        }
        let width = self.width.knots().iter().rev();
        Axis {
            line: line.points().iter().rev().copied().collect(),
            bed,
            width_m: width.map(|k| (length_m - k.0, k.1)).collect(),
        }
    }
}
