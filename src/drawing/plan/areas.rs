//! What covers the plan: zones of cut and fill, contours, holes, features, keep-offs.
//!
//! Takes the sheet, adds ink and words to it. Knows no line that is walked along.

use super::super::contour::{Contour, contour_interval_m, contours, levels_between};
use super::super::ink::text_width_mm;
use super::super::legend::{Sample, TEXT_MM, cut_area, dash, fill_area, no_ground};
use super::super::region::{Path, borders, inside, rings, twice_area};
use super::super::scale::axis_number;
use super::super::{CUT, FILL, ZONE_GREY, width_mm};
use super::{Sheet, Words, along, length, name_lines};
use crate::geom::Point;
use crate::job::KeepOffKind;
use crate::surface::Surface;
use crate::terrain::GROUND;

/// A difference below this is no cut and no fill, metres: the kernel's own rounding.
const NOTHING_M: f64 = 1.0e-6;

/// Contours closer than this on paper run together, mm.
const CLOSEST_MM: f64 = 1.2;

impl Sheet<'_> {
    /// Areas of buildings, below everything else: a hole in the ground stays to be seen on them.
    pub(super) fn buildings(&mut self) {
        let outcome = self.outcome;
        let is_building =
            |k: &&crate::checks::KeepOffPlace| k.kind == KeepOffKind::Building && k.area.is_some();
        for building in outcome.keep_offs.iter().filter(is_building) {
            let path = self.points(&building.line);
            self.svg.fill(std::slice::from_ref(&path), "#E4E4E0");
        }
    }

    /// Cut and fill of the surface that is built, by the side of the ground a facet lies on.
    pub(super) fn zones(&mut self) {
        let outcome = self.outcome;
        let (built, ground) = (outcome.design.to_build(), &outcome.terrain.surface);
        let mut side = vec![0i8; built.facet_slots()];
        for f in built.facets().filter(|&f| built.label(f) != GROUND) {
            side[f as usize] = side_of_ground(built, ground, f);
        }
        self.svg.group("zones");
        for (sign, word, colour) in [(-1i8, "C", CUT), (1, "F", FILL)] {
            let zones = rings(built, &|f| side[f as usize] == sign);
            if zones.is_empty() {
                continue;
            }
            let paths: Vec<Path> = zones.iter().map(|r| self.path(r)).collect();
            if sign < 0 {
                cut_area(&mut self.svg, &paths, 2.0);
                self.explain(Sample::Cut, "cut: dig here");
            } else {
                fill_area(&mut self.svg, &paths, 1.7);
                self.explain(Sample::Fill, "fill: place soil here");
            }
            for path in &paths {
                self.svg.line(path, true, width_mm::MIDDLE, ZONE_GREY, "");
            }
            for (zone, path) in zones.iter().zip(&paths) {
                // A zone smaller than a letter carries it beside.
                if twice_area(zone) <= 0.0 || twice_area(path).abs() < 0.5 {
                    continue;
                }
                let holes = zones
                    .iter()
                    .zip(&paths)
                    .filter(|(z, _)| twice_area(z) < 0.0);
                let all: Vec<Path> = std::iter::once(path.clone())
                    .chain(holes.map(|(_, p)| p.clone()))
                    .collect();
                if let Some(at) = inside(&all) {
                    self.words.push(Words {
                        colour,
                        size_mm: 3.5,
                        ..Words::bold(vec![word.to_owned()], at, true)
                    });
                }
            }
        }
        self.svg.end_group();
    }

    pub(super) fn contours(&mut self) {
        let outcome = self.outcome;
        let (ground, finished) = (&outcome.terrain.surface, &outcome.design.surface);
        let Some((low, high)) = ground.z_range() else {
            return;
        };
        let interval = contour_interval_m(self.show, high - low);
        let (low, high) = finished
            .z_range()
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
        let trace = |surface: &Surface, take: &dyn Fn(u32) -> bool| -> Vec<Contour> {
            let mut lines = Vec::new();
            for (of, gap_m) in [(&others, interval), (&fifths, interval * 5.0)] {
                let levels: Vec<f64> = of.iter().map(|(_, z)| *z).collect();
                let takes = |f: u32| take(f) && apart(surface, f, gap_m);
                lines.extend(contours(surface, &levels, &takes));
            }
            lines
        };
        let existing = trace(ground, &|_| true);
        for line in existing.iter().filter(|c| c.points.len() > 1) {
            let width = if is_index(line) {
                width_mm::MIDDLE
            } else {
                width_mm::THIN
            };
            let path = self.path(&line.points);
            self.svg
                .line(&path, line.closed, width, "#555555", dash::EXISTING);
        }
        let new = trace(finished, &|f| finished.label(f) != GROUND);
        for line in new.iter().filter(|c| c.points.len() > 1) {
            let width = if is_index(line) {
                width_mm::HEAVY
            } else {
                width_mm::NEW
            };
            let path = self.path(&line.points);
            self.svg.line(&path, line.closed, width, "#000000", "");
        }
        self.svg.end_group();
        if existing.iter().any(|c| c.points.len() > 1) {
            let sample = Sample::Line {
                width: width_mm::THIN,
                colour: "#555555",
                dash: dash::EXISTING,
            };
            self.explain(sample, "existing contour");
        }
        if new.iter().any(|c| c.points.len() > 1) {
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
                .filter(|at| is_new || !self.is_changed_near(*at, half))
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

    /// Rim of the survey, holes in it, floors and crests, names of features.
    pub(super) fn outlines(&mut self) {
        let outcome = self.outcome;
        self.svg.group("outlines");
        let rim = rings(&outcome.terrain.surface, &|_| true);
        for ring in &rim {
            let path = self.path(ring);
            if twice_area(ring) < 0.0 {
                let hole = vec![path.clone()];
                no_ground(&mut self.svg, &hole);
                self.explain(Sample::NoGround, "no ground: not surveyed");
                if twice_area(&path).abs() > 400.0
                    && let Some(at) = inside(&hole)
                {
                    self.say(at, vec!["no ground".to_owned()], true);
                }
            }
            self.svg.line(&path, true, width_mm::MIDDLE, "#000000", "");
        }
        let sample = Sample::Line {
            width: width_mm::MIDDLE,
            colour: "#000000",
            dash: "",
        };
        self.explain(sample, "edge of the survey");
        let design = &outcome.design;
        let built = design.to_build();
        let feature = |f: u32| {
            design
                .parts
                .get(built.label(f) as usize)
                .and_then(|part| part.feature)
        };
        // Ground against feature is a zone outline already; here parts and features meet.
        let inner = borders(built, &|f| feature(f).map(|_| built.label(f)));
        let between = borders(built, &|f| Some(feature(f)));
        let inner: Vec<[[f64; 2]; 2]> = inner
            .iter()
            .map(|[a, b]| [self.mm(*a), self.mm(*b)])
            .collect();
        let between: Vec<[[f64; 2]; 2]> = between
            .iter()
            .map(|[a, b]| [self.mm(*a), self.mm(*b)])
            .collect();
        self.svg.lines(&inner, width_mm::THIN, "#333333");
        self.svg.lines(&between, width_mm::MIDDLE, ZONE_GREY);
        self.svg.end_group();
        for (number, name) in design.features.iter().map(|f| f.name.clone()).enumerate() {
            let zone = rings(built, &|f| feature(f) == Some(number));
            let paths: Vec<Path> = zone.iter().map(|r| self.path(r)).collect();
            let at = inside(&paths).or_else(|| {
                design.features[number]
                    .laid
                    .core
                    .first()
                    .map(|p| self.point(*p))
            });
            let Some(at) = at else { continue };
            let mut lines = name_lines(&name);
            let bold_lines = lines.len();
            let mut note = name;
            if let Some(v) = outcome.to_build.features.get(number) {
                let mut volume = Vec::new();
                for (m3, letter) in [(v.cut_m3, "C"), (v.fill_m3, "F")] {
                    // What is not seen at this rounding is a trace, not a volume to plan for.
                    if m3 >= 0.05 * self.show.unit().volume_m3() {
                        volume.push(format!("{letter} {}", self.show.volume(m3)));
                    }
                }
                if !volume.is_empty() {
                    let volume = volume.join(", ");
                    note = format!("{note}: {volume}");
                    lines.push(volume);
                }
            }
            self.words.push(Words {
                bold_lines,
                note: Some(note),
                ..Words::bold(lines, at, true)
            });
        }
    }

    pub(super) fn keep_offs(&mut self) {
        let outcome = self.outcome;
        self.svg.group("keep-offs");
        for keep_off in &outcome.keep_offs {
            let path = self.points(&keep_off.line);
            let (width, dash, colour, kind) = match keep_off.kind {
                KeepOffKind::Boundary => (
                    width_mm::HEAVY,
                    dash::BOUNDARY,
                    "#000000",
                    "boundary, as drawn by you",
                ),
                KeepOffKind::Building => (width_mm::NEW, "", "#000000", "building"),
                KeepOffKind::Roots => (
                    width_mm::MIDDLE,
                    dash::ROOTS,
                    "#000000",
                    "roots: no digging, no fill",
                ),
                KeepOffKind::Service => (
                    width_mm::MIDDLE,
                    dash::SERVICE,
                    "#000000",
                    "band along a buried line",
                ),
                KeepOffKind::Other => (width_mm::MIDDLE, "1 1", "#000000", "keep off"),
            };
            if keep_off.kind == KeepOffKind::Building && keep_off.area.is_some() {
                self.explain(Sample::Building, kind);
            } else {
                let sample = Sample::Line {
                    width,
                    colour,
                    dash,
                };
                self.explain(sample, kind);
            }
            self.svg.line(&path, false, width, colour, dash);
            if keep_off.area.is_none() {
                self.keep_clear(&path);
            }
            let at = match &keep_off.area {
                Some(_) => inside(std::slice::from_ref(&path)),
                None => Some(along(&path, length(&path) / 2.0)),
            };
            if let Some(at) = at {
                let lines = name_lines(&keep_off.name);
                self.words.push(Words {
                    note: Some(keep_off.name.clone()),
                    ..Words::plain(lines, at, keep_off.area.is_some())
                });
            }
        }
        self.svg.end_group();
    }

    pub(super) fn breaklines(&mut self) {
        let outcome = self.outcome;
        if outcome.terrain.breaklines.is_empty() {
            return;
        }
        self.svg.group("breaklines");
        for line in &outcome.terrain.breaklines {
            let path: Path = line.iter().map(|c| self.point(c.p)).collect();
            self.svg
                .line(&path, false, width_mm::THIN, "#000000", "2.5 0.8");
        }
        self.svg.end_group();
        let sample = Sample::Line {
            width: width_mm::THIN,
            colour: "#000000",
            dash: "2.5 0.8",
        };
        self.explain(sample, "breakline");
    }
}

/// -1 below the ground, 1 above it, 0 on it, by the middle of a facet.
fn side_of_ground(built: &Surface, ground: &Surface, facet: u32) -> i8 {
    let corners = built.corners(facet);
    let sum = |of: fn(Point) -> i64| corners.iter().map(|c| i128::from(of(c.p))).sum::<i128>();
    let middle = Point::new((sum(|p| p.x) / 3) as i64, (sum(|p| p.y) / 3) as i64);
    let z = corners.iter().map(|c| c.z).sum::<f64>() / 3.0;
    match ground.z_at(middle) {
        Some(g) if z < g - NOTHING_M => -1,
        Some(g) if z > g + NOTHING_M => 1,
        _ => 0,
    }
}
