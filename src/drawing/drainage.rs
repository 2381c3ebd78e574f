//! The sheet of drainage: where drops run before and after the work, where water stands, and how
//! the ground falls away from buildings.
//!
//! Takes an outcome, gives one SVG sheet. Ways, ponds and falls are the outcome's own.

use std::collections::BTreeSet;

use super::legend::{List, Sample, arrow_head, dash};
use super::region::{Path, is_inside, rings};
use super::sheet::{Beside, COLUMN_MM, Sheet, Words, along, length, name_lines, places_of_ground};
use super::{ZONE_GREY, width_mm};
use crate::checks::{PondKind, Station, Way};
use crate::job::KeepOffKind;
use crate::outcome::Outcome;
use crate::surface::Surface;

/// Ways closer than this on paper run as one, mm.
const APART_MM: f64 = 2.6;
/// A way shorter than this on paper shows nothing, mm.
const SHORTEST_MM: f64 = 5.0;
/// Between arrows along a way, mm.
const ARROWS_MM: f64 = 24.0;
/// Between stations that carry their number, mm.
const STATIONS_MM: f64 = 7.5;
/// Water that stands.
const WATER: &str = "#D9DEE2";

/// Where water runs and stands.
///
/// # Units
///
/// the SVG's user unit is a millimetre on paper; width and height say so
pub fn drainage(outcome: &Outcome) -> String {
    let mut sheet = Sheet::new(outcome, "Drainage,", places_of_ground(outcome));
    let show = sheet.show;
    sheet.houses_filled();
    sheet.features();
    sheet.ponds();
    sheet.rim();
    sheet.lines_and_names();
    let drainage = &outcome.drainage;
    sheet.svg.group("before");
    let before = sheet.ways(&drainage.before, false);
    sheet.svg.end_group();
    sheet.svg.group("after");
    let after = sheet.ways(&drainage.after, true);
    sheet.svg.end_group();
    if before {
        let sample = Sample::Line {
            width: width_mm::THIN,
            colour: "#555555",
            dash: dash::EXISTING,
        };
        sheet.explain(sample, "way of water before");
    }
    if after {
        sheet.explain(Sample::Fall, "way of water after");
    }
    sheet.stations();
    sheet.names();
    let catchments: Vec<String> = drainage
        .catchments
        .iter()
        .map(|c| {
            format!(
                "{}: {}, before {}",
                c.name,
                show.area_or_none(c.after_m2),
                show.area_or_none(c.before_m2)
            )
        })
        .collect();
    sheet.beside(Beside {
        heading: "Drainage: where water runs and stands".to_owned(),
        units: format!(
            "Falls and depths in {}, areas in {}; every hollow full, how much rain is not computed",
            show.length_unit(),
            show.area_unit()
        ),
        lists: vec![List::new(
            "What drains to",
            &catchments,
            "the report",
            COLUMN_MM,
        )],
    });
    sheet.svg.finish()
}

impl Sheet<'_> {
    fn houses_filled(&mut self) {
        let outcome = self.outcome;
        self.svg.group("buildings");
        for house in &outcome.drainage.houses {
            let path = self.points(house.ring.corners());
            self.svg.fill(std::slice::from_ref(&path), "#E4E4E0");
            self.explain(Sample::Building, "building");
        }
        self.svg.end_group();
    }

    /// Outlines of what is dug and built.
    fn features(&mut self) {
        let outcome = self.outcome;
        let (design, surface) = (&outcome.design, &outcome.design.surface);
        self.svg.group("features");
        for (number, feature) in outcome.design.features.iter().enumerate() {
            if feature.is_strip() {
                continue;
            }
            let is_of = |f: u32| design.parts[surface.label(f) as usize].feature == Some(number);
            let mut largest: Option<(f64, Path)> = None;
            for ring in rings(surface, &is_of) {
                let path = self.path(&ring);
                self.svg.line(&path, true, width_mm::THIN, ZONE_GREY, "");
                let size = length(&path);
                if largest.as_ref().is_none_or(|(most, _)| size > *most) {
                    largest = Some((size, path));
                }
            }
            let Some((_, path)) = largest else { continue };
            let sample = Sample::Line {
                width: width_mm::THIN,
                colour: ZONE_GREY,
                dash: "",
            };
            self.explain(sample, "what is dug and built");
            let middle = middle(&path);
            self.words
                .push(Words::plain(name_lines(&feature.name), middle, true));
        }
        self.svg.end_group();
    }

    fn ponds(&mut self) {
        let outcome = self.outcome;
        let show = self.show;
        self.svg.group("ponds");
        for pond in &outcome.drainage.ponds {
            let parts: Vec<Path> = pond.parts.iter().map(|part| self.path(part)).collect();
            for part in &parts {
                let ring = std::slice::from_ref(part);
                self.svg.fill(ring, WATER);
                // So that no seam shows between parts.
                self.svg.line(part, true, 0.1, WATER, "");
            }
            let shore: Vec<[[f64; 2]; 2]> = pond
                .shore
                .iter()
                .map(|line| line.map(|at| self.mm(at)))
                .collect();
            self.svg.lines(&shore, width_mm::NEW, "#000000");
            let word = match pond.kind {
                PondKind::Pool => "pool",
                PondKind::AsBefore => "wet as before",
                PondKind::New => "STANDS",
            };
            let lines = vec![
                word.to_owned(),
                format!("{} deep", show.level_with_unit(pond.depth_m)),
            ];
            let at = self.absolute(pond.at_m[0], pond.at_m[1]);
            let note = format!("{word}, {} deep", show.level_with_unit(pond.depth_m));
            self.words.push(Words {
                note: Some(note),
                ..match pond.kind {
                    PondKind::New => Words::bold(lines, at, true),
                    _ => Words::plain(lines, at, true),
                }
            });
            let sample = Sample::Line {
                width: width_mm::NEW,
                colour: "#000000",
                dash: "",
            };
            self.explain(sample, "shore of standing water, full");
        }
        self.svg.end_group();
    }

    /// Lines of property and outlines of buildings, with names.
    fn lines_and_names(&mut self) {
        let outcome = self.outcome;
        self.svg.group("keep-off");
        for keep_off in &outcome.keep_offs {
            let path = self.points(&keep_off.line);
            let (width, dash, words) = match keep_off.kind {
                KeepOffKind::Building => (width_mm::NEW, "", None),
                KeepOffKind::Boundary => {
                    (width_mm::HEAVY, dash::BOUNDARY, Some("line of property"))
                }
                _ => continue,
            };
            self.svg.line(&path, false, width, "#000000", dash);
            if let Some(words) = words {
                let sample = Sample::Line {
                    width,
                    colour: "#000000",
                    dash,
                };
                self.explain(sample, words);
            }
            let at = match &keep_off.area {
                Some(area) => self.point(area.inner_point()),
                None => along(&path, length(&path) / 2.0),
            };
            let lines = name_lines(&keep_off.name);
            self.words
                .push(Words::plain(lines, at, keep_off.area.is_some()));
        }
        self.svg.end_group();
    }

    /// Ways of drops, the longest first, each as far as it runs apart from those before; true if
    /// any is drawn.
    fn ways(&mut self, ways: &[Way], is_after: bool) -> bool {
        // Under standing water nothing runs; before the work there is none of it.
        let parts: Vec<Path> = match is_after {
            true => (self.outcome.drainage.ponds.iter())
                .flat_map(|pond| pond.parts.iter().map(|part| self.path(part)))
                .collect(),
            false => Vec::new(),
        };
        let mut paths: Vec<Path> = ways
            .iter()
            .flat_map(|way| {
                let points = way.points_m.iter();
                let path: Path = points.map(|&[x, y, _]| self.absolute(x, y)).collect();
                outside(&path, &parts)
            })
            .collect();
        paths.sort_by(|a, b| length(b).total_cmp(&length(a)));
        let mut taken: BTreeSet<[i64; 2]> = BTreeSet::new();
        let mut any = false;
        for path in paths {
            let whole = length(&path);
            let steps = (whole / (APART_MM / 2.0)).ceil() as usize;
            let cell = |at: [f64; 2]| at.map(|v| (v / APART_MM).floor() as i64);
            let mut own: BTreeSet<[i64; 2]> = BTreeSet::new();
            let mut end = whole;
            for k in 0..=steps {
                let far = whole * k as f64 / steps.max(1) as f64;
                let here = cell(along(&path, far));
                if taken.contains(&here) {
                    // It runs into one that is drawn.
                    end = far;
                    break;
                }
                own.insert(here);
            }
            if end < SHORTEST_MM {
                continue;
            }
            let drawn = cut_at(&path, end);
            match is_after {
                true => {
                    self.svg.line(&drawn, false, 0.9, "#FFFFFF", "");
                    self.svg.line(&drawn, false, width_mm::NEW, "#000000", "");
                    self.arrows(&drawn);
                }
                false => {
                    self.svg
                        .line(&drawn, false, width_mm::THIN, "#555555", dash::EXISTING);
                }
            }
            any = true;
            taken.extend(own);
        }
        any
    }

    /// Arrow heads along a way, one at least.
    fn arrows(&mut self, path: &[[f64; 2]]) {
        let whole = length(path);
        let count = (whole / ARROWS_MM).round().max(1.0) as usize;
        for k in 0..count {
            let far = whole * (k as f64 + 0.6) / count as f64;
            let (from, tip) = (along(path, far - 0.8), along(path, far));
            let [dx, dy] = [tip[0] - from[0], tip[1] - from[1]];
            let long = dx.hypot(dy);
            if long > 0.0 {
                arrow_head(&mut self.svg, tip, [dx / long, dy / long], 2.2);
            }
        }
    }

    /// Falls in front of walls, as many as can be read.
    fn stations(&mut self) {
        let outcome = self.outcome;
        self.svg.group("stations");
        let (mut any, mut any_rise) = (false, false);
        for house in &outcome.drainage.houses {
            let mut last = f64::NEG_INFINITY;
            for station in &house.stations {
                let Some(after) = station.after else { continue };
                let at = station.along_m * self.scale.mm_per_m();
                let is_short = after.fall_m < after.needed_m;
                if at - last < STATIONS_MM || !self.can_stand(station) {
                    continue;
                }
                last = at;
                let [x, y] = self.absolute(station.at_m[0], station.at_m[1]);
                let [east, north] = station.towards;
                let tip = [x + east * 2.2, y - north * 2.2];
                let width = match is_short {
                    true => width_mm::HEAVY,
                    false => width_mm::THIN,
                };
                self.svg.line(&[[x, y], tip], false, width, "#000000", "");
                let rises = after.fall_m < 0.0;
                any_rise |= rises;
                any = true;
                let number = self.show.level(after.fall_m.abs());
                let words = match rises {
                    true => format!("R {number}"),
                    false => number,
                };
                let beyond = [x + east * 5.4, y - north * 4.0];
                let say = Words {
                    size_mm: 2.2,
                    gaps_mm: &[1.0, 2.0],
                    ..match is_short {
                        true => Words::bold(vec![words], beyond, true),
                        false => Words::plain(vec![words], beyond, true),
                    }
                };
                self.write(&say);
            }
        }
        self.svg.end_group();
        if any {
            let reach = self
                .outcome
                .job
                .limits
                .get(&crate::job::limits::HOUSE_REACH);
            let far = self.show.length(reach.value);
            self.explain(
                Sample::Words("0.50"),
                format!("fall from the wall in {far}"),
            );
            let words = match any_rise {
                true => "bold: too little; R it rises",
                false => "bold: too little",
            };
            self.explain(Sample::Words("0.20"), words);
        }
    }

    /// True where there is ground in front of a station on paper.
    fn can_stand(&self, station: &Station) -> bool {
        let surface: &Surface = &self.outcome.design.surface;
        let [x, y] = self.absolute(station.at_m[0], station.at_m[1]);
        let [east, north] = station.towards;
        let front = [x + east * 3.0, y - north * 3.0];
        surface.facet_at(self.yard(front)).is_some()
    }
}

/// The runs of a path that lie outside some convex parts.
fn outside(path: &[[f64; 2]], parts: &[Path]) -> Vec<Path> {
    let mut runs: Vec<Path> = Vec::new();
    let mut is_open = false;
    for pair in path.windows(2) {
        let far = (pair[1][0] - pair[0][0]).hypot(pair[1][1] - pair[0][1]);
        let steps = (far / APART_MM).ceil().max(1.0) as usize;
        let at = |k: usize| {
            let share = k as f64 / steps as f64;
            [0, 1].map(|i| pair[0][i] + share * (pair[1][i] - pair[0][i]))
        };
        for k in 0..steps {
            let (a, b) = (at(k), at(k + 1));
            let half = [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0];
            if parts.iter().any(|part| is_inside(part, half)) {
                is_open = false;
            } else if is_open && let Some(run) = runs.last_mut() {
                run.push(b);
            } else {
                runs.push(vec![a, b]);
                is_open = true;
            }
        }
    }
    runs
}

fn middle(path: &[[f64; 2]]) -> [f64; 2] {
    let mut low = [f64::INFINITY; 2];
    let mut high = [f64::NEG_INFINITY; 2];
    for at in path {
        for k in 0..2 {
            low[k] = low[k].min(at[k]);
            high[k] = high[k].max(at[k]);
        }
    }
    [(low[0] + high[0]) / 2.0, (low[1] + high[1]) / 2.0]
}

/// A path up to a distance along it.
fn cut_at(path: &[[f64; 2]], far: f64) -> Path {
    let mut drawn: Path = Vec::new();
    let mut left = far;
    for pair in path.windows(2) {
        let step = (pair[1][0] - pair[0][0]).hypot(pair[1][1] - pair[0][1]);
        if drawn.is_empty() {
            drawn.push(pair[0]);
        }
        if left <= step {
            drawn.push(along(pair, left));
            break;
        }
        left -= step;
        drawn.push(pair[1]);
    }
    drawn
}
