//! What covers the plan: zones of cut and fill, features, keep-offs.
//!
//! Takes the sheet, adds ink and words to it. Knows no line that is walked along.

use super::super::legend::{Sample, cut_area, dash, fill_area};
use super::super::region::{Path, areas, borders, inside, rings};
use super::super::sheet::{Sheet, Words, along, length, name_lines};
use super::super::{CUT, FILL, ZONE_GREY, width_mm};
use crate::geom::{Point, twice_area_of};
use crate::job::KeepOffKind;
use crate::surface::Surface;
use crate::terrain::GROUND;

/// A difference below this is no cut and no fill, metres: the kernel's own rounding.
const NOTHING_M: f64 = 1.0e-6;

impl Sheet<'_> {
    /// Areas of buildings, below everything else: a hole in the ground stays to be seen on them.
    pub(in super::super) fn buildings(&mut self) {
        let outcome = self.outcome;
        let is_building =
            |k: &&crate::design::KeepOffPlace| k.kind == KeepOffKind::Building && k.area.is_some();
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
            for area in areas(&zones) {
                let all: Vec<Path> = area.iter().map(|r| self.path(r)).collect();
                // A zone smaller than a letter carries it beside.
                if twice_area_of(&all[0]).abs() < 0.5 {
                    continue;
                }
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

    /// Floors and crests, names of features.
    pub(super) fn outlines(&mut self) {
        let outcome = self.outcome;
        self.svg.group("outlines");
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
