//! The sheet of access: how barrows come in, what they go round, and what must be kept off.
//!
//! Takes an outcome, gives one SVG sheet. Lengths, widths and climbs are the outcome's numbers.

use super::legend::{List, Sample, arrow_head, dash, letter, open_ring, pile};
use super::region::{Path, inside, rings};
use super::sheet::{
    Beside, COLUMN_MM, FAR_MM, Sheet, Words, along, length, name_lines, places_of_ground,
};
use super::width_mm;
use crate::checks::{InBand, NarrowThere, Route, Service, ServiceKind};
use crate::geom::Point;
use crate::job::KeepOffKind;
use crate::outcome::Outcome;
use crate::surface::Rule;

/// Width of a way on paper, mm: heavier than any other line, and grey below a black one.
const WAY_MM: f64 = 0.6;

/// Between the letters along a buried line, mm.
const LETTERS_MM: f64 = 28.0;

/// True if a job has anything that belongs on the sheet.
pub fn has_access(outcome: &Outcome) -> bool {
    let access = &outcome.access;
    !(access.gates.is_empty()
        && access.routes.is_empty()
        && access.trees.is_empty()
        && access.services.is_empty()
        && access.piles.is_empty())
}

/// The yard with its gates, barrow ways, piles, root circles and buried lines; `None` where a job
/// has none of them.
///
/// # Units
///
/// the SVG's user unit is a millimetre on paper; width and height say so
pub fn access(outcome: &Outcome) -> Option<String> {
    if !has_access(outcome) {
        return None;
    }
    let mut sheet = Sheet::new(outcome, "Access of", places(outcome));
    sheet.buildings();
    sheet.roots();
    sheet.contours(None);
    sheet.rim();
    sheet.digs_and_piles();
    sheet.lines_not_crossed();
    sheet.services();
    sheet.barrow_ways();
    sheet.gates();
    sheet.marks();
    sheet.names();
    let unit = sheet.show.length_unit();
    let lists = vec![sheet.ways_listed(), sheet.services_listed()];
    sheet.beside(Beside {
        heading: "Access: barrow ways, piles, roots, buried lines".to_owned(),
        units: format!("Lengths in {unit}; ways as they are walked, in plan"),
        lists,
    });
    Some(sheet.svg.finish())
}

/// Everything that is to be on the sheet.
fn places(outcome: &Outcome) -> impl Iterator<Item = Point> {
    let origin = outcome.terrain.origin;
    let local = move |[x, y]: [f64; 2]| Point::from_m(x - origin.x_m as f64, y - origin.y_m as f64);
    let access = &outcome.access;
    let ways = access.routes.iter().flat_map(|r| r.line_m.iter().copied());
    let gates = access.gates.iter().map(|g| g.at_m);
    let bands = access
        .services
        .iter()
        .flat_map(|s| s.rims_m.iter().flatten().copied());
    let keep_offs = outcome.keep_offs.iter().flat_map(|k| &k.line).copied();
    places_of_ground(outcome)
        .chain(keep_offs)
        .chain(ways.chain(gates).chain(bands).map(local))
}

/// Colour of a buried line, as locators mark it.
fn colour(kind: ServiceKind) -> &'static str {
    match kind {
        ServiceKind::Power => "#C00000",
        ServiceKind::Gas => "#B89B00",
        ServiceKind::Communications => "#E07000",
        ServiceKind::Water => "#0050C0",
        ServiceKind::Irrigation => "#8000A0",
        ServiceKind::Sewer => "#007A30",
        ServiceKind::Unknown => "#333333",
    }
}

/// Words of a way for its line and for the list.
fn way_words(sheet: &Sheet, route: &Route) -> String {
    let show = sheet.show;
    format!(
        "{}, climbs {}",
        show.length(route.length_m),
        show.length(route.climb_m)
    )
}

impl Sheet<'_> {
    fn absolute_path(&self, line: &[[f64; 2]]) -> Path {
        line.iter().map(|[x, y]| self.absolute(*x, *y)).collect()
    }

    /// Root circles and trunks.
    fn roots(&mut self) {
        let outcome = self.outcome;
        self.svg.group("roots");
        for keep_off in outcome
            .keep_offs
            .iter()
            .filter(|k| k.kind == KeepOffKind::Roots)
        {
            let path = self.points(&keep_off.line);
            if keep_off.area.is_some() {
                self.svg.fill(std::slice::from_ref(&path), "#EEF1E8");
            }
            self.svg
                .line(&path, false, width_mm::MIDDLE, "#000000", dash::ROOTS);
            let middle = keep_off.middle.first().map(|p| self.point(*p));
            if let Some(at) = middle {
                open_ring(&mut self.svg, at, 0.9);
            }
            let tree = outcome
                .access
                .trees
                .iter()
                .find(|t| t.name == keep_off.name);
            let mut lines = name_lines(&keep_off.name);
            if let Some(radius_m) = tree.and_then(|t| t.radius_m) {
                lines.push(format!("roots {} round", self.show.length(radius_m)));
            }
            if let Some(at) = middle.or_else(|| inside(std::slice::from_ref(&path))) {
                self.words.push(Words {
                    note: Some(lines.join(", ")),
                    ..Words::plain(lines, at, false)
                });
            }
            let sample = Sample::Line {
                width: width_mm::MIDDLE,
                colour: "#000000",
                dash: dash::ROOTS,
            };
            self.explain(sample, "roots: no digging, fill or wheels");
        }
        self.svg.end_group();
    }

    /// Outlines of features: those that are dug open, piles, and what is built.
    fn digs_and_piles(&mut self) {
        let outcome = self.outcome;
        let design = &outcome.design;
        let built = design.to_build();
        self.svg.group("features");
        for (number, feature) in design.features.iter().enumerate() {
            if feature.is_strip() {
                continue;
            }
            let of = |f: u32| {
                design
                    .parts
                    .get(built.label(f) as usize)
                    .and_then(|p| p.feature)
            };
            let zone = rings(built, &|f| of(f) == Some(number));
            let paths: Vec<Path> = zone.iter().map(|r| self.path(r)).collect();
            let is_pile = feature.kind == "pile";
            let (fill, width, dashes, words) = match (feature.laid.rule, is_pile) {
                (_, true) => ("none", width_mm::NEW, "", "pile"),
                (Rule::Lower, _) => ("#F7F2EA", width_mm::NEW, "", "edge of a dig"),
                (Rule::Raise, _) => ("none", width_mm::THIN, "1 1", "fill to be built"),
            };
            if is_pile {
                pile(&mut self.svg, &paths);
            } else if fill != "none" {
                self.svg.fill(&paths, fill);
            }
            for path in &paths {
                self.svg.line(path, true, width, "#000000", dashes);
            }
            if !paths.is_empty() {
                let sample = Sample::Line {
                    width,
                    colour: "#000000",
                    dash: dashes,
                };
                if is_pile {
                    self.explain(Sample::Pile, words);
                } else {
                    self.explain(sample, words);
                }
            }
            let Some(at) = inside(&paths) else { continue };
            let mut lines = name_lines(&feature.name);
            let bold_lines = lines.len();
            let its_place = outcome.access.piles.iter().find(|p| p.name == feature.name);
            if let Some((_, far_m)) = its_place.and_then(|p| p.nearest_edge.as_ref()) {
                lines.push(format!("{} from the edge", self.show.length(*far_m)));
            }
            self.words.push(Words {
                bold_lines,
                note: Some(lines.join(", ")),
                ..Words::bold(lines, at, true)
            });
        }
        self.svg.end_group();
    }

    /// Boundaries, buildings, fences.
    fn lines_not_crossed(&mut self) {
        let outcome = self.outcome;
        self.svg.group("keep-offs");
        for keep_off in &outcome.keep_offs {
            let (width, dashes, words) = match keep_off.kind {
                KeepOffKind::Boundary => {
                    (width_mm::HEAVY, dash::BOUNDARY, "boundary, as drawn by you")
                }
                KeepOffKind::Building => (width_mm::NEW, "", "building"),
                KeepOffKind::Other => (width_mm::NEW, "1 1", "other obstacle"),
                KeepOffKind::Roots | KeepOffKind::Service => continue,
            };
            let path = self.points(&keep_off.line);
            self.svg.line(&path, false, width, "#000000", dashes);
            let is_area = keep_off.area.is_some() && keep_off.kind != KeepOffKind::Boundary;
            if keep_off.kind == KeepOffKind::Building && is_area {
                self.explain(Sample::Building, words);
            } else {
                let sample = Sample::Line {
                    width,
                    colour: "#000000",
                    dash: dashes,
                };
                self.explain(sample, words);
            }
            let at = match is_area {
                true => inside(std::slice::from_ref(&path)),
                false => Some(along(&path, length(&path) * 0.35)),
            };
            let lines = name_lines(&keep_off.name);
            self.words.extend(at.map(|at| Words {
                note: Some(keep_off.name.clone()),
                ..Words::plain(lines, at, is_area)
            }));
        }
        self.svg.end_group();
    }

    /// Buried lines in the colours of locators, each with its letter, and what is dug by hand.
    fn services(&mut self) {
        let outcome = self.outcome;
        for service in &outcome.access.services {
            self.svg.group("service");
            let colour = colour(service.kind);
            for rim in &service.rims_m {
                let path = self.absolute_path(rim);
                self.svg
                    .line(&path, false, width_mm::THIN, "#333333", "0.8 0.8");
            }
            let hand = Sample::Line {
                width: width_mm::THIN,
                colour: "#333333",
                dash: "0.8 0.8",
            };
            self.explain(hand, "dig by hand inside of this");
            let path = self.absolute_path(&service.line_m);
            self.svg
                .line(&path, false, width_mm::HEAVY, colour, dash::SERVICE);
            self.keep_clear(&path);
            let whole = length(&path);
            let count = (whole / LETTERS_MM).ceil().clamp(1.0, 40.0);
            let mut k = 0.5;
            while k < count {
                let [x, y] = along(&path, whole * k / count);
                letter(
                    &mut self.svg,
                    service.kind.letter(),
                    colour,
                    [x, y + 1.0],
                    3.0,
                );
                k += 1.0;
            }
            self.svg.end_group();
            let words = format!("{} {}", service.kind.letter(), service.kind.word());
            let sample = Sample::Line {
                width: width_mm::HEAVY,
                colour,
                dash: dash::SERVICE,
            };
            self.explain(sample, words);
            let lines = name_lines(&service.name);
            let at = [0.2, 0.4, 0.7].map(|share| along(&path, whole * share));
            self.words.push(Words {
                at: at.to_vec(),
                note: Some(service.name.clone()),
                ..Words::plain(lines, at[0], false)
            });
        }
    }

    /// Ways with length and climb, and their narrowest places.
    fn barrow_ways(&mut self) {
        let outcome = self.outcome;
        for (number, route) in outcome.access.routes.iter().enumerate() {
            let path = self.absolute_path(&route.line_m);
            let whole = length(&path);
            if whole <= 0.0 {
                continue;
            }
            self.svg.group("way");
            // As wide as a barrow takes, and the line of its middle.
            let wide = (route.width_m * self.scale.mm_per_m()).max(1.2);
            self.svg.path(
                &super::ink::path_data(&path, false),
                &format!(
                    "fill=\"none\" stroke=\"#000000\" stroke-opacity=\"0.10\" stroke-width=\"{wide:.2}\" stroke-linejoin=\"round\""
                ),
            );
            self.svg.line(&path, false, WAY_MM, "#000000", "");
            let behind = along(&path, (whole - 1.5).max(0.0));
            let tip = along(&path, whole);
            let (dx, dy) = (tip[0] - behind[0], tip[1] - behind[1]);
            let far = dx.hypot(dy).max(1.0e-9);
            arrow_head(&mut self.svg, tip, [dx / far, dy / far], 3.6);
            self.keep_clear(&path);
            // A gate tells its own width, and a place two ways pass is told once.
            let is_told = |narrow: &NarrowThere| {
                let before = &outcome.access.routes[..number];
                let mut told = before.iter().filter_map(|r| r.narrowest.as_ref());
                told.any(|other| other.ends_m == narrow.ends_m)
                    || narrow.between[0] == narrow.between[1]
                        && outcome
                            .access
                            .gates
                            .iter()
                            .any(|g| g.name == narrow.between[0])
            };
            if let Some(narrow) = route.narrowest.as_ref().filter(|n| !is_told(n)) {
                let ends = self.absolute_path(&narrow.ends_m);
                self.svg.line(&ends, false, width_mm::NEW, "#000000", "");
                for [x, y] in &ends {
                    let tick = [[x - 0.8, y - 0.8], [x + 0.8, y + 0.8]];
                    self.svg.line(&tick, false, width_mm::NEW, "#000000", "");
                }
                let middle = [
                    (ends[0][0] + ends[1][0]) / 2.0,
                    (ends[0][1] + ends[1][1]) / 2.0,
                ];
                self.words.push(Words {
                    gaps_mm: FAR_MM,
                    ..Words::plain(
                        vec![format!("{} clear", self.show.length(narrow.clear_m))],
                        middle,
                        false,
                    )
                });
                let sample = Sample::Line {
                    width: width_mm::NEW,
                    colour: "#000000",
                    dash: "",
                };
                self.explain(sample, "narrowest place of a way (with ticks)");
            }
            self.svg.end_group();
            let lines = vec![format!("R{}", number + 1), way_words(self, route)];
            let at = [0.5, 0.35, 0.65, 0.2, 0.8].map(|share| along(&path, whole * share));
            self.words.push(Words {
                at: at.to_vec(),
                bold_lines: 1,
                ..Words::bold(lines, at[0], false)
            });
            let sample = Sample::Line {
                width: WAY_MM,
                colour: "#000000",
                dash: "",
            };
            self.explain(sample, "barrow way, its width in grey");
        }
    }

    /// Gates with their posts and clear width.
    fn gates(&mut self) {
        let outcome = self.outcome;
        for gate in &outcome.access.gates {
            self.svg.group("gate");
            let [x, y] = gate.at_m;
            let at = self.absolute(x, y);
            if let Some(posts) = &gate.posts_m {
                let ends = self.absolute_path(posts);
                self.svg.line(&ends, false, 1.6, "#FFFFFF", "");
                self.svg.dots(&ends, 1.6, "#000000");
            } else {
                open_ring(&mut self.svg, at, 1.2);
            }
            self.svg.end_group();
            let mut lines = name_lines(&gate.name);
            let bold_lines = lines.len();
            lines.push(format!("{} clear", self.show.length(gate.clear_m)));
            self.words.push(Words {
                bold_lines,
                note: Some(lines.join(", ")),
                ..Words::bold(lines, at, false)
            });
            self.explain(Sample::Dot, "post of a gate");
        }
    }

    /// Ways in a list, those that are closed too.
    fn ways_listed(&self) -> List {
        let routes = self.outcome.access.routes.iter().enumerate();
        let ways: Vec<String> = routes
            .map(|(k, route)| {
                let what = match &route.closed_by {
                    Some(_) => "NO WAY, see the report".to_owned(),
                    None => way_words(self, route),
                };
                format!("R{} to {}: {what}", k + 1, route.to)
            })
            .collect();
        List::new("Barrow ways", &ways, "routes.csv", COLUMN_MM)
    }

    /// What is dug by hand, in a list.
    fn services_listed(&self) -> List {
        let show = self.show;
        let hand = |service: &Service| -> Vec<String> {
            let one = |work: &InBand| {
                let stations: Vec<String> = work
                    .stations_m
                    .iter()
                    .map(|[a, b]| format!("{} to {}", show.length_number(*a), show.length(*b)))
                    .collect();
                format!(
                    "{}, {}: st. {}",
                    service.name,
                    work.feature,
                    stations.join(", ")
                )
            };
            let dug = service.touched.iter().filter(|work| work.is_dug);
            dug.map(one).collect()
        };
        let rows: Vec<String> = self.outcome.access.services.iter().flat_map(hand).collect();
        List::new("Dig by hand", &rows, "the report", COLUMN_MM)
    }
}
