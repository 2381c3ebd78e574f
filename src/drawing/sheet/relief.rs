//! The lie of the measured ground on a sheet: contours, rim, what has no ground, breaklines.
//!
//! Takes the sheet, adds ink and words to it. Knows no feature.

use super::super::ink::text_width_mm;
use super::super::legend::{Sample, TEXT_MM, benchmark, dash, no_data, no_ground};
use super::super::region::{Path, inside, is_inside, rings};
use super::super::scale::axis_number;
use super::super::squares::averaged;
use super::super::width_mm;
use super::{Sheet, Words, along, length};
use crate::geom::{Ring, twice_area_of};
use crate::job::PlaceListWord;
use crate::surface::{Contour, Surface, contour_interval_m, contours, levels_between};
use crate::terrain::GROUND;
use crate::units::NM_PER_M;

/// Contours closer than this on paper run together, mm.
const CLOSEST_MM: f64 = 1.2;

/// Contours of a dense ground shorter than this on paper are left out, mm.
const SPECK_MM: f64 = 5.0;

/// Smallest area on paper that has its words in it, square mm.
const WORDS_MM2: f64 = 200.0;

/// Why there is no ground in an area.
#[derive(Clone, Copy, PartialEq)]
enum Why {
    /// A hole: a house, a pond.
    Hole,
    /// Nobody could or did measure there; with its plan area, if the job names it, square metres.
    NoData(Option<f64>),
}

impl Sheet<'_> {
    /// Contours of the ground, and of a finished surface where it is no longer ground.
    pub(in super::super) fn contours(&mut self, finished: Option<&Surface>) {
        let ground = &self.outcome.terrain.surface;
        let Some((low, high)) = ground.z_range() else {
            return;
        };
        let interval = contour_interval_m(self.show.unit(), high - low);
        let (low, high) = finished
            .and_then(Surface::z_range)
            .map_or((low, high), |(a, b)| (low.min(a), high.max(b)));
        let numbered = levels_between(low, high, interval);
        let is_index = |c: &Contour| ((c.level_m / interval).round() as i64) % 5 == 0;
        let step = self.show.unit().from_m(interval);
        self.interval_words = Some(format!(
            "Contours every {} {}",
            axis_number(step, step),
            self.show.length_unit()
        ));
        self.svg.group("contours");
        // Where lines would run together only every fifth is drawn, or none.
        let mm_per_m = self.scale.mm_per_m();
        let apart = |surface: &Surface, f: u32, gap_m: f64| {
            gap_m * mm_per_m >= CLOSEST_MM * surface.source(f).plane.steepness()
        };
        let (fifths, others): (Vec<_>, Vec<_>) =
            numbered.iter().copied().partition(|(k, _)| k % 5 == 0);
        // Heights of a scan vary by themselves: as they are, contours would be torn to pieces.
        let averaged = averaged(ground, mm_per_m);
        let drawn = averaged.as_ref().map_or(ground, |(surface, _)| surface);
        let is_speck = |line: &Contour| line.length_m() * mm_per_m < SPECK_MM;
        let trace = |surface: &Surface, take: &dyn Fn(u32) -> bool| -> Vec<Contour> {
            let mut lines = Vec::new();
            for (of, gap_m) in [(&others, interval), (&fifths, interval * 5.0)] {
                let levels: Vec<f64> = of.iter().map(|(_, z)| *z).collect();
                let takes = |f: u32| take(f) && apart(surface, f, gap_m);
                lines.extend(contours(surface, &levels, &takes));
            }
            lines
        };
        let mut existing = trace(drawn, &|_| true);
        if let Some((_, side_m)) = averaged {
            existing.retain(|line| !is_speck(line));
            self.notes.push(format!(
                "Contours of the ground go through means over {}",
                self.show.length(side_m)
            ));
        }
        for line in &existing {
            let width = if is_index(line) {
                width_mm::MIDDLE
            } else {
                width_mm::THIN
            };
            let path = self.path(&line.points);
            self.svg
                .line(&path, line.closed, width, "#555555", dash::EXISTING);
        }
        let new = finished.map_or_else(Vec::new, |finished| {
            trace(finished, &|f| finished.label(f) != GROUND)
        });
        for line in &new {
            let width = if is_index(line) {
                width_mm::HEAVY
            } else {
                width_mm::NEW
            };
            let path = self.path(&line.points);
            self.svg.line(&path, line.closed, width, "#000000", "");
        }
        self.svg.end_group();
        if !existing.is_empty() {
            let sample = Sample::Line {
                width: width_mm::THIN,
                colour: "#555555",
                dash: dash::EXISTING,
            };
            self.explain(sample, "existing contour");
        }
        if !new.is_empty() {
            let sample = Sample::Line {
                width: width_mm::NEW,
                colour: "#000000",
                dash: "",
            };
            self.explain(sample, "new contour (finished)");
        }
        let new = new.iter().map(|c| (c, true));
        for (line, is_new) in new.chain(existing.iter().map(|c| (c, false))) {
            let path = self.path(&line.points);
            let whole = length(&path);
            if !is_index(line) || whole <= 14.0 {
                continue;
            }
            let words = axis_number(self.show.unit().from_m(line.level_m), step);
            let half = text_width_mm(&words, TEXT_MM) / 2.0 + 0.5;
            let at: Vec<[f64; 2]> = [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.1, 0.9]
                .into_iter()
                .map(|share| along(&path, whole * share))
                // The level of ground that is gone says nothing on a new floor.
                .filter(|at| is_new || finished.is_none() || !self.is_changed_near(*at, half))
                .collect();
            self.words.push(Words {
                at,
                // Beside its line a level could be read as another's.
                gaps_mm: &[],
                ..Words::plain(vec![words], [0.0; 2], true)
            });
        }
    }

    /// True if a feature changes the ground within a line of text centred on a place.
    fn is_changed_near(&self, [x, y]: [f64; 2], half_width_mm: f64) -> bool {
        let design = &self.outcome.design;
        let surfaces = std::iter::once(&design.surface).chain(&design.built);
        let half_height_mm = TEXT_MM * 0.6;
        surfaces.into_iter().any(|surface| {
            [-1.0, -0.5, 0.0, 0.5, 1.0].into_iter().any(|across| {
                [-1.0, 0.0, 1.0].into_iter().any(|down| {
                    let at = [x + across * half_width_mm, y + down * half_height_mm];
                    surface
                        .facet_at(self.yard(at))
                        .is_some_and(|f| surface.label(f) != GROUND)
                })
            })
        })
    }

    /// Rim of the ground, holes in it, and areas where it is not known.
    pub(in super::super) fn rim(&mut self) {
        let terrain = &self.outcome.terrain;
        self.svg.group("rim");
        let rim = rings(&terrain.surface, &|_| true);
        let (outer, inner): (Vec<Path>, Vec<Path>) =
            rim.into_iter().partition(|ring| twice_area_of(ring) > 0.0);
        let holes = terrain.holes.iter().map(|ring| (ring, Why::Hole));
        let no_data = terrain
            .no_data
            .iter()
            .map(|area| (&area.ring, Why::NoData(Some(area.area_m2))));
        let mut given: Vec<(&Ring, Why)> = holes.chain(no_data).collect();
        let mut areas: Vec<(Path, Why)> = Vec::new();
        for ring in &inner {
            let is_in = |(given, _): &(&Ring, Why)| {
                let p = given.inner_point();
                is_inside(ring, [p.x_m(), p.y_m()])
            };
            let (own, rest): (Vec<_>, Vec<_>) = given.into_iter().partition(is_in);
            given = rest;
            match own.as_slice() {
                [] => areas.push((self.path(ring), Why::NoData(None))),
                [(_, why)] => areas.push((self.path(ring), *why)),
                // Areas that touch make one gap in the ground: each as it was given.
                several => {
                    areas.extend(
                        several
                            .iter()
                            .map(|(r, why)| (self.points(r.corners()), *why)),
                    );
                }
            }
        }
        // What lies across the rim makes no ring in the ground.
        areas.extend(
            given
                .iter()
                .map(|(r, why)| (self.points(r.corners()), *why)),
        );
        for (path, why) in areas {
            self.without_ground(vec![path], why);
        }
        if let Some(outline) = terrain
            .outline
            .as_ref()
            .filter(|_| terrain.trimmed_m2 > 0.0)
        {
            let mut between = vec![self.points(outline.corners())];
            between.extend(outer.iter().map(|ring| self.path(ring)));
            between.extend(given.iter().map(|(r, _)| self.points(r.corners())));
            self.without_ground(between, Why::NoData(None));
        }
        for ring in outer.iter().chain(&inner) {
            let path = self.path(ring);
            self.svg.line(&path, true, width_mm::MIDDLE, "#000000", "");
        }
        self.svg.end_group();
        let sample = Sample::Line {
            width: width_mm::MIDDLE,
            colour: "#000000",
            dash: "",
        };
        self.explain(sample, "edge of the survey: ground ends");
    }

    /// Hatches an area, given by rings with the even-odd rule, and says why it has no ground.
    fn without_ground(&mut self, paths: Vec<Path>, why: Why) {
        let words = match why {
            Why::Hole => {
                no_ground(&mut self.svg, &paths);
                self.explain(Sample::NoGround, "no ground: a hole");
                vec!["no ground".to_owned()]
            }
            Why::NoData(area_m2) => {
                no_data(&mut self.svg, &paths);
                self.explain(Sample::NoData, "no data: counted in nothing");
                let area = area_m2.map(|m2| self.show.area(m2));
                std::iter::once("no data".to_owned()).chain(area).collect()
            }
        };
        for path in &paths {
            self.svg.line(path, true, width_mm::THIN, "#000000", "");
        }
        // What lies between the outline and the rim goes round, and has no middle.
        if paths.len() == 1
            && twice_area_of(&paths[0]).abs() / 2.0 > WORDS_MM2
            && let Some(at) = inside(&paths)
        {
            self.say(at, words, true);
        }
    }

    /// Lines the ground follows, each with its code where it was given by one.
    pub(in super::super) fn breaklines(&mut self, with_codes: bool) {
        let outcome = self.outcome;
        if outcome.terrain.breaklines.is_empty() {
            return;
        }
        self.svg.group("breaklines");
        let given = &outcome.job.ground.breaklines;
        for (k, line) in outcome.terrain.breaklines.iter().enumerate() {
            let path: Path = line.iter().map(|c| self.point(c.p)).collect();
            self.svg
                .line(&path, false, width_mm::THIN, "#000000", dash::BREAKLINE);
            if let (true, Some(PlaceListWord::Code(code))) =
                (with_codes, given.get(k).map(|l| &l.word))
            {
                let whole = length(&path);
                let at = [0.5, 0.3, 0.7, 0.1, 0.9].map(|share| along(&path, whole * share));
                self.words.push(Words {
                    at: at.to_vec(),
                    ..Words::plain(vec![code.clone()], at[0], false)
                });
            }
        }
        self.svg.end_group();
        let sample = Sample::Line {
            width: width_mm::THIN,
            colour: "#000000",
            dash: dash::BREAKLINE,
        };
        self.explain(sample, "breakline");
    }

    /// The benchmark, if it has a place on the sheet.
    pub(in super::super) fn marks(&mut self) {
        let outcome = self.outcome;
        let Some(mark) = &outcome.survey.benchmark else {
            return;
        };
        let place = outcome
            .survey
            .books
            .iter()
            .flat_map(|b| &b.sights)
            .find_map(|s| (s.name == mark.name).then_some((s.x_nm?, s.y_nm?)));
        let Some((x, y)) = place else { return };
        let at = self.absolute(x as f64 / NM_PER_M, y as f64 / NM_PER_M);
        let [left, top, right, bottom] = self.frame;
        if at[0] < left + 3.0 || at[0] > right - 3.0 || at[1] < top + 3.0 || at[1] > bottom - 5.0 {
            return;
        }
        benchmark(&mut self.svg, [at[0], at[1] + 0.9]);
        self.room
            .take([at[0] - 1.6, at[1] - 2.0], [at[0] + 1.6, at[1] + 1.0]);
        let words = format!("{} {}", mark.name, self.show.level(mark.level_m));
        self.words.insert(0, Words::bold(vec![words], at, false));
        self.explain(Sample::Benchmark, "benchmark");
    }
}
