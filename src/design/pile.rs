//! A pile of loose soil at its slope of repose: a cone, or a ridge along a line.
//!
//! | key | takes |
//! | --- | --- |
//! | `centre` | the place under the top of a cone, such as `[30.0, 12.0]` |
//! | `line` | instead: the line under a level ridge, such as `[[30.0, 12.0], [42.0, 12.0]]` |
//! | `volume` | loose soil, cubic yards in a job in feet, else cubic metres |
//! | `repose_run_per_rise` | slope it comes to rest at, such as `1.5` |
//!
//! The height is searched so that the flat facets of the pile hold the volume exactly, on
//! whatever ground there is.

use crate::diag::{At, Diagnostic};
use crate::geom::{P3, Point, distance_m};
use crate::job::{Place, PlaceList, Table};
use crate::surface::{Label, Patch, Rule, Surface, Tally};
use crate::survey::Survey;

use super::entry::{line, required};
use super::root::rising_root;
use super::shape::{Corners, pile};
use super::{Kind, Labels, Laid, Role, Shape, Site, Step};

pub(super) const KIND: Kind = Kind { name: "pile", read };

#[derive(Debug)]
struct Pile {
    under: Under,
    volume_m3: f64,
    volume_at: At,
    repose_run_per_rise: f64,
}

#[derive(Debug)]
enum Under {
    Centre(Place, At),
    Line(PlaceList),
}

/// Slopes that loose soil comes to rest at, run for one of rise.
const REPOSE: std::ops::RangeInclusive<f64> = 0.5..=10.0;

/// Least volume that makes a pile, cubic metres: a litre.
const LEAST_M3: f64 = 1.0e-3;

/// Part of the volume by which the facets may miss it.
const VOLUME_RELATIVE: f64 = 1.0e-9;

fn read(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Box<dyn Shape>> {
    table.expect(&["centre", "line"]);
    let under = if table.has("line") && !table.has("centre") {
        table.places("line", diagnostics).map(Under::Line)
    } else {
        let example = "centre = [30.0, 12.0]   # or line = [...] for a ridge";
        required(table, "centre", example, Table::place, diagnostics)
            .map(|(place, at)| Under::Centre(place, at))
    };
    let unit = table.units();
    let example = format!("volume = 10.0   # loose, {}", unit.volume_name());
    let volume = required(table, "volume", &example, Table::number, diagnostics);
    let example = "repose_run_per_rise = 1.5   # 1.5 across for 1 up";
    let repose = required(
        table,
        "repose_run_per_rise",
        example,
        Table::number,
        diagnostics,
    );
    let volume = volume.filter(|(volume, at)| {
        let is_some = volume * unit.volume_m3() >= LEAST_M3;
        if !is_some {
            let fault =
                Diagnostic::error("no-volume", "a pile of no volume is none").at(at.clone());
            diagnostics.push(fault.help(format!(
                "write the loose volume in {}, such as volume = 10.0",
                unit.volume_name()
            )));
        }
        is_some
    });
    let repose = repose.filter(|(run, at)| {
        let is_one = REPOSE.contains(run);
        if !is_one {
            let message = "loose soil comes to rest at 0.5 to 10 across for 1 up";
            let fault = Diagnostic::error("bad-slope", message).at(at.clone());
            diagnostics.push(fault.help("1.5 is usual for dry loose soil"));
        }
        is_one
    });
    let (volume, volume_at) = volume?;
    Some(Box::new(Pile {
        under: under?,
        volume_m3: volume * unit.volume_m3(),
        volume_at,
        repose_run_per_rise: repose?.0,
    }))
}

impl Pile {
    fn points(&self, survey: &Survey) -> Result<Vec<Point>, Diagnostic> {
        match &self.under {
            Under::Centre(place, at) => Ok(vec![survey.resolve_place(place, at)?.0]),
            Under::Line(places) => line(survey, places, "the ridge of a pile"),
        }
    }

    fn at(&self) -> &At {
        match &self.under {
            Under::Centre(_, at) => at,
            Under::Line(places) => &places.at,
        }
    }

    /// Height on level ground: the root of `s h^2 l + pi s^2 h^3 / 3`.
    fn level_height_m(&self, length_m: f64) -> f64 {
        let s = self.repose_run_per_rise;
        let cone = |h: f64| std::f64::consts::PI * s * s * h * h * h / 3.0;
        let volume = |h: f64| s * h * h * length_m + cone(h);
        let high = (3.0 * self.volume_m3 / std::f64::consts::PI / s / s).cbrt();
        let over = volume(high) - self.volume_m3;
        let f = |h: f64| Ok::<f64, std::convert::Infallible>(volume(h) - self.volume_m3);
        if over <= 0.0 {
            return high;
        }
        let ends = [[0.0, high], [-self.volume_m3, over]];
        rising_root(ends[0], ends[1], self.volume_m3 * 1.0e-6, f).unwrap_or(high)
    }
}

impl Shape for Pile {
    fn check(&self, survey: &Survey, faults: &mut Vec<Diagnostic>) {
        faults.extend(self.points(survey).err());
    }

    fn lay(&self, site: &Site, label: Labels) -> Result<Laid, Diagnostic> {
        let points = self.points(site.survey)?;
        let under: Vec<f64> = points.iter().filter_map(|&p| site.so_far.z_at(p)).collect();
        if under.len() < points.len() {
            let message = "there is no ground under the top of this pile";
            return Err(Diagnostic::error("outside", message)
                .at(self.at().clone())
                .help("move it inside the outline, or shoot the ground there"));
        }
        let lowest = under.iter().copied().fold(f64::INFINITY, f64::min);
        let highest = under.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        // Loose soil lies at the slope it comes to rest at: it is no side that somebody chose.
        let side = label("pile", Role::Floor);
        let mut trial = Trial {
            so_far: site.so_far,
            surface: site.so_far.clone(),
            side,
            corners: Vec::new(),
            runs_out: false,
        };
        let patch = |top: f64| -> Result<(Patch, Vec<P3>), Diagnostic> {
            let line: Vec<P3> = points.iter().map(|&p| P3 { p, z: top }).collect();
            let run = self.repose_run_per_rise;
            let sides = site.sides(Rule::Raise, run, Corners::Round, &line, &self.volume_at)?;
            Ok((pile(&line, &sides, side), line))
        };
        let length: f64 = points.windows(2).map(|w| distance_m(w[0], w[1])).sum();
        let start = self.level_height_m(length);
        let mut excess = |top: f64| -> Result<f64, Diagnostic> {
            let (patch, _) = patch(top)?;
            Ok(trial.volume_m3(&patch, self)? - self.volume_m3)
        };
        // On the ground under the top the pile is not higher than nothing.
        let mut low = [lowest, -self.volume_m3];
        let mut high = [highest + start, 0.0];
        high[1] = excess(high[0])?;
        let mut tries = 0;
        while high[1] < 0.0 {
            tries += 1;
            if tries > MOST_DOUBLINGS {
                return Err(self.too_big());
            }
            low = high;
            high[0] += start * f64::from(1 << tries);
            high[1] = excess(high[0])?;
        }
        let tolerance = self.volume_m3 * VOLUME_RELATIVE;
        let top = if high[1] <= tolerance {
            high[0]
        } else {
            rising_root([low[0], high[0]], [low[1], high[1]], tolerance, &mut excess)?
        };
        excess(top)?;
        if trial.runs_out {
            return Err(self.too_big());
        }
        let across = trial.widest_m();
        let (patch, ridge) = patch(top)?;
        let steps = vec![Step {
            rule: Rule::Raise,
            patch,
        }];
        let note = Diagnostic::note(
            "pile",
            format!(
                "this pile is {} across and {} high",
                site.length(across),
                site.length(top - lowest)
            ),
        );
        Ok(Laid {
            places_soil: false,
            core_is_outline: false,
            lines: match length > 0.0 {
                true => vec![("ridge".to_owned(), ridge)],
                false => Vec::new(),
            },
            notes: vec![note.at(self.at().clone())],
            ..Laid::new(Rule::Raise, steps, points, self.repose_run_per_rise)
        })
    }
}

impl Pile {
    fn too_big(&self) -> Diagnostic {
        let message = "this pile is bigger than the site: it runs over the edge of the survey";
        Diagnostic::error("pile-too-big", message)
            .at(self.volume_at.clone())
            .help("make it smaller or several, move it inward, or shoot more ground round it")
    }
}

/// Times the height is doubled before a pile counts as bigger than the site.
const MOST_DOUBLINGS: u32 = 12;

/// The surface so far, on which a pile is tried and taken off again.
struct Trial<'a> {
    so_far: &'a Surface,
    surface: Surface,
    side: Label,
    /// Corners of the last pile where it lies open.
    corners: Vec<Point>,
    /// True if it ran over the rim.
    runs_out: bool,
}

impl Trial<'_> {
    fn volume_m3(&mut self, patch: &Patch, pile: &Pile) -> Result<f64, Diagnostic> {
        let refused = |error: String| {
            Diagnostic::error("cannot-lay", format!("this pile cannot be laid: {error}"))
                .at(pile.at().clone())
                .help("move it a little")
        };
        let delta = match self.surface.compose(patch, Rule::Raise) {
            Ok(composed) => composed.delta,
            Err(error) => return Err(refused(error.to_string())),
        };
        let added = self.surface.added_by(&delta);
        let volume = Tally::of(self.so_far, 0.0, added).result().total;
        self.corners.clear();
        self.runs_out = false;
        for &facet in delta.added() {
            if self.surface.label(facet) == self.side {
                let at = self.surface.corners(facet).map(|c| c.p);
                self.corners.extend(at);
                self.runs_out |= self.surface.neighbours(facet).contains(&Surface::NONE);
            }
        }
        self.corners.sort_unstable();
        self.corners.dedup();
        let undone = self.surface.undo(delta);
        undone.map_err(|error| refused(error.to_string()))?;
        Ok(-volume.net_m3())
    }

    /// Distance of the two corners farthest apart.
    fn widest_m(&self) -> f64 {
        let mut widest = 0.0f64;
        for (k, &a) in self.corners.iter().enumerate() {
            for &b in &self.corners[k..] {
                widest = widest.max(distance_m(a, b));
            }
        }
        widest
    }
}
