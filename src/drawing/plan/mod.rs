//! The plan: the yard from above, true to scale, north up.
//!
//! Takes an outcome, gives one SVG sheet. Zones, contours and names are drawn from the surfaces
//! and labels of the outcome; volumes and heights are the outcome's own numbers.

mod areas;
mod lines;

use super::ink::{Anchor, Look, Svg, fit, wrap};
use super::label::{LINE, Room};
use super::legend::{
    LIST_ROW_MM, List, Sample, TEXT_MM, bar_scale, benchmark, cross, legend, legend_height, north,
    title_block,
};
use super::region::Path;
use super::scale::{Paper, Scale, axis_number, round_step};
use super::section::{is_off_survey, letters};
use super::width_mm;
use crate::geom::Point;
use crate::outcome::Outcome;
use crate::show::Show;
use crate::units::NM_PER_M;

const MARGIN_MM: f64 = 10.0;
const COLUMN_MM: f64 = 56.0;
/// Between the frame and what is drawn: names and letters of sections stand there.
const PADDING_MM: f64 = 7.0;
/// The plan of a job.
///
/// # Units
///
/// the SVG's user unit is a millimetre on paper; width and height say so
pub fn plan(outcome: &Outcome) -> String {
    let mut sheet = Sheet::new(outcome);
    sheet.buildings();
    sheet.zones();
    sheet.contours();
    sheet.outlines();
    sheet.keep_offs();
    sheet.breaklines();
    sheet.streams();
    sheet.section_lines();
    sheet.walls();
    sheet.marks();
    sheet.names();
    sheet.shot_names();
    sheet.beside();
    sheet.svg.finish()
}

/// A text waiting for room, most important first.
struct Words {
    lines: Vec<String>,
    /// How many of the lines are bold; a text without is less important.
    bold_lines: usize,
    /// Places, the best first.
    at: Vec<[f64; 2]>,
    centred: bool,
    colour: &'static str,
    size_mm: f64,
    /// How far from its place it may stand, mm.
    gaps_mm: &'static [f64],
    /// What is listed beside the plan if there is no room for it.
    note: Option<String>,
}

/// How far names stand from their places, mm.
const NEAR_MM: &[f64] = &[1.2, 2.5, 4.0];
const FAR_MM: &[f64] = &[2.0, 4.0, 6.5, 9.0, 12.0, 16.0, 22.0];
/// Longest line of a name, mm, and most lines.
const NAME_MM: f64 = 40.0;
const NAME_LINES: usize = 3;

impl Words {
    /// Plain words near a place.
    fn plain(lines: Vec<String>, at: [f64; 2], centred: bool) -> Words {
        Words {
            lines,
            bold_lines: 0,
            at: vec![at],
            centred,
            colour: "#000000",
            size_mm: TEXT_MM,
            gaps_mm: NEAR_MM,
            note: None,
        }
    }

    /// Bold words, which may stand farther off.
    fn bold(lines: Vec<String>, at: [f64; 2], centred: bool) -> Words {
        Words {
            bold_lines: lines.len(),
            gaps_mm: FAR_MM,
            ..Words::plain(lines, at, centred)
        }
    }
}

/// A name broken into lines, with dots where even those are too few.
fn name_lines(name: &str) -> Vec<String> {
    let mut lines = wrap(name, TEXT_MM, NAME_MM);
    if lines.len() > NAME_LINES {
        let rest = lines.split_off(NAME_LINES - 1).join(" ");
        lines.push(fit(&rest, TEXT_MM, NAME_MM));
    }
    lines
}

struct Sheet<'a> {
    outcome: &'a Outcome,
    show: Show,
    paper: Paper,
    scale: Scale,
    /// Left, top, right, bottom of the frame, mm.
    frame: [f64; 4],
    /// Lower left of what is drawn, metres in the local frame.
    low: [f64; 2],
    /// Where that is on paper, mm.
    corner: [f64; 2],
    svg: Svg,
    room: Room,
    words: Vec<Words>,
    legend: Vec<(Sample, String)>,
    interval_words: Option<String>,
    /// What stands in words beside the plan.
    notes: Vec<String>,
}

/// Everything that is to be on the sheet: lower left and upper right, metres.
fn extent(outcome: &Outcome) -> ([f64; 2], [f64; 2]) {
    let surface = &outcome.terrain.surface;
    let ground = surface
        .facets()
        .flat_map(|f| surface.corners(f))
        .map(|c| c.p);
    let lines = outcome
        .keep_offs
        .iter()
        .flat_map(|k| k.line.iter().copied())
        .chain(
            outcome
                .sections
                .iter()
                .filter(|s| !is_off_survey(s))
                .flat_map(|s| s.line.iter().copied()),
        );
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for p in ground.chain(lines) {
        for (k, v) in [p.x_m(), p.y_m()].into_iter().enumerate() {
            low[k] = low[k].min(v);
            high[k] = high[k].max(v);
        }
    }
    if low[0] > high[0] {
        (low, high) = ([0.0; 2], [1.0; 2]);
    }
    (low, high)
}

impl<'a> Sheet<'a> {
    fn new(outcome: &'a Outcome) -> Sheet<'a> {
        let (low, high) = extent(outcome);
        let size = [high[0] - low[0], high[1] - low[1]];
        let unit = outcome.job.units;
        let room = |paper: Paper| {
            [
                paper.width_mm - 3.0 * MARGIN_MM - COLUMN_MM - 2.0 * PADDING_MM,
                paper.height_mm - 2.0 * MARGIN_MM - 2.0 * PADDING_MM,
            ]
        };
        let large = Scale::fitting(unit, size, room(Paper::A3));
        let small = Scale::fitting(unit, size, room(Paper::A4));
        let (paper, scale) = if small.denominator <= large.denominator {
            (Paper::A4, small)
        } else {
            (Paper::A3, large)
        };
        let frame = [
            MARGIN_MM,
            MARGIN_MM,
            paper.width_mm - 2.0 * MARGIN_MM - COLUMN_MM,
            paper.height_mm - MARGIN_MM,
        ];
        let k = scale.mm_per_m();
        // In the middle of the frame.
        let corner = [
            (frame[0] + frame[2] - size[0] * k) / 2.0,
            (frame[1] + frame[3] + size[1] * k) / 2.0,
        ];
        let title = format!("Plan of {}, {}", outcome.job.name, scale.words);
        let inner = [
            frame[0] + 1.0,
            frame[1] + 1.0,
            frame[2] - 1.0,
            frame[3] - 4.5,
        ];
        Sheet {
            outcome,
            show: Show::new(unit),
            svg: Svg::new(paper.width_mm, paper.height_mm, &title),
            room: Room::new(paper.width_mm, paper.height_mm, inner),
            paper,
            scale,
            frame,
            low,
            corner,
            words: Vec::new(),
            legend: Vec::new(),
            interval_words: None,
            notes: Vec::new(),
        }
    }

    /// Metres in the local frame to millimetres on paper.
    fn mm(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let k = self.scale.mm_per_m();
        [
            self.corner[0] + (x - self.low[0]) * k,
            self.corner[1] - (y - self.low[1]) * k,
        ]
    }

    fn point(&self, p: Point) -> [f64; 2] {
        self.mm([p.x_m(), p.y_m()])
    }

    fn path(&self, path: &[[f64; 2]]) -> Path {
        path.iter().map(|p| self.mm(*p)).collect()
    }

    fn points(&self, line: &[Point]) -> Path {
        line.iter().map(|p| self.point(*p)).collect()
    }

    /// Absolute metres to millimetres on paper.
    fn absolute(&self, x_m: f64, y_m: f64) -> [f64; 2] {
        let origin = self.outcome.terrain.origin;
        self.mm([x_m - origin.x_m as f64, y_m - origin.y_m as f64])
    }

    fn explain(&mut self, sample: Sample, words: impl Into<String>) {
        let words = words.into();
        if self.legend.iter().all(|(_, w)| *w != words) {
            self.legend.push((sample, words));
        }
    }

    fn say(&mut self, at: [f64; 2], lines: Vec<String>, centred: bool) {
        self.words.push(Words::plain(lines, at, centred));
    }

    /// The place in the yard at millimetres on paper.
    fn yard(&self, [x, y]: [f64; 2]) -> Point {
        let k = self.scale.mm_per_m();
        Point::from_m(
            (x - self.corner[0]) / k + self.low[0],
            (self.corner[1] - y) / k + self.low[1],
        )
    }

    /// The benchmark, if it has a place on the sheet.
    fn marks(&mut self) {
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

    /// Writes the texts that wait, the important ones first.
    fn names(&mut self) {
        let mut words = std::mem::take(&mut self.words);
        // Letters of zones and names of features first: they must be there.
        words.sort_by_key(|w| w.bold_lines == 0);
        self.svg.group("names");
        for w in &words {
            if self.write(w) {
                continue;
            }
            let Some(note) = &w.note else { continue };
            let number = format!("({})", self.notes.len() + 1);
            let at = w.at.first().copied().unwrap_or_default();
            let mark = Words {
                gaps_mm: FAR_MM,
                ..Words::bold(vec![number.clone()], at, true)
            };
            // Even a number may find no room; the note stands all the same.
            self.write(&mark);
            self.notes.push(format!("{number} {note}"));
        }
        for (number, section) in self.outcome.sections.iter().enumerate() {
            if is_off_survey(section) {
                let letters = letters(number);
                let words = format!("section {letters}-{letters}' is off the survey, not drawn");
                self.notes
                    .push(format!("({}) {words}", self.notes.len() + 1));
            }
        }
        self.svg.end_group();
    }

    /// Writes a text where it finds room; false if nowhere.
    fn write(&mut self, w: &Words) -> bool {
        let lines: Vec<&str> = w.lines.iter().map(String::as_str).collect();
        let size = (w.size_mm, w.bold_lines > 0);
        let room = &mut self.room;
        let spot =
            w.at.iter()
                .find_map(|at| room.place(&lines, size, *at, w.centred, w.gaps_mm));
        let Some(spot) = spot else { return false };
        for (k, line) in lines.iter().enumerate() {
            let at = [spot.at[0], spot.at[1] + k as f64 * w.size_mm * LINE];
            let look = Look {
                words: line,
                colour: w.colour,
                bold: k < w.bold_lines,
                halo: true,
            };
            self.svg.text(at, w.size_mm, spot.anchor, look);
        }
        true
    }

    /// Crosses where there is room for them, names where there is room for those.
    fn shot_names(&mut self) {
        const SIZE_MM: f64 = 1.8;
        let outcome = self.outcome;
        let mut crosses = Room::new(self.paper.width_mm, self.paper.height_mm, self.frame);
        self.svg.group("shots");
        let mut all = true;
        for shot in &outcome.survey.shots {
            let at = self.point(shot.p);
            let (low, high) = ([at[0] - 0.7, at[1] - 0.7], [at[0] + 0.7, at[1] + 0.7]);
            if !crosses.try_take(low, high) {
                all = false;
                continue;
            }
            cross(&mut self.svg, at);
            if let Some(spot) = self
                .room
                .place(&[&shot.name], (SIZE_MM, false), at, false, &[1.0])
            {
                let look = Look {
                    colour: "#333333",
                    ..Look::over_lines(&shot.name)
                };
                self.svg.text(spot.at, SIZE_MM, spot.anchor, look);
            }
        }
        self.svg.end_group();
        let words = if all {
            "shot"
        } else {
            "shot (not all are drawn)"
        };
        self.explain(Sample::Cross, words);
    }

    /// Frame, coordinates, north, bar scale, legend, title block.
    fn beside(&mut self) {
        let [left, top, right, bottom] = self.frame;
        let size = [right - left, bottom - top];
        self.coordinates();
        self.svg.group("beside");
        self.svg.rect(
            [left, top],
            size,
            "fill=\"none\" stroke=\"#000000\" stroke-width=\"0.35\"",
        );
        let x = right + MARGIN_MM;
        north(&mut self.svg, [x, top]);
        let height = bar_scale(
            &mut self.svg,
            [x + 12.0, top + 3.0],
            self.scale.mm_per_m(),
            self.show,
        );
        self.svg.text(
            [x + 12.0, top + 3.0 + height + 2.6],
            TEXT_MM,
            Anchor::Start,
            Look::plain(&self.scale.words),
        );
        let outcome = self.outcome;
        let unit = self.show.length_unit();
        let mut lines = vec![
            "Plan: soil to cut and to fill".to_owned(),
            format!("{}, made {}", self.scale.words, outcome.date),
            format!("True to scale on {} at full size", self.paper.name),
            format!(
                "Lengths and levels in {unit}, soil in {}",
                self.show.volume_unit()
            ),
        ];
        lines.extend(self.interval_words.take());
        lines.push(match &outcome.survey.benchmark {
            Some(mark) => {
                let level = self.show.level(mark.level_m);
                let words = mark.words.trim();
                let colon = if words.is_empty() { "" } else { ": " };
                format!(
                    "Benchmark {}, level {level} {unit}{colon}{words}",
                    mark.name
                )
            }
            None => "No benchmark named: levels as given".to_owned(),
        });
        lines.push("Not a boundary survey.".to_owned());
        let end = title_block(
            &mut self.svg,
            [x, bottom],
            COLUMN_MM,
            &outcome.job.name,
            &lines,
        );
        let start = top + 21.0;
        let entries = std::mem::take(&mut self.legend);
        let walls: Vec<String> = outcome
            .walls
            .iter()
            .enumerate()
            .map(|(k, wall)| {
                let (length, height) = (
                    self.show.length(wall.length_m),
                    self.show.level(wall.max_height_m),
                );
                format!("W{}: {length} long, up to {height} {unit} high", k + 1)
            })
            .collect();
        let notes = std::mem::take(&mut self.notes);
        let lists = [
            List::new("Notes", &notes, "the report", COLUMN_MM),
            List::new("Walls needed", &walls, "walls.csv", COLUMN_MM),
        ];
        let all: usize = lists.iter().map(List::rows).sum();
        // Between the legend, the lists and the title block.
        let gaps_mm = 5.0;
        let room = |tight: bool| {
            let left = end - start - legend_height(entries.len(), tight) - gaps_mm;
            (left / LIST_ROW_MM).floor().max(0.0) as usize
        };
        let tight = room(false) < all || start + legend_height(entries.len(), false) > end;
        let mut y = start + legend(&mut self.svg, [x, start], COLUMN_MM, &entries, tight) + 1.0;
        let mut left = room(tight);
        for (k, list) in lists.iter().enumerate() {
            // A row at least stays for the lists that follow.
            let kept = lists[k + 1..].iter().filter(|l| l.rows() > 0).count();
            let rows = list.fitted(left.saturating_sub(kept));
            left -= rows.len();
            for (k, row) in rows.iter().enumerate() {
                y += LIST_ROW_MM;
                let look = if k == 0 {
                    Look::bold(row)
                } else {
                    Look::plain(row)
                };
                self.svg.text([x, y], TEXT_MM, Anchor::Start, look);
            }
            if !rows.is_empty() {
                y += 1.2;
            }
        }
        self.svg.end_group();
    }

    /// East and north along the frame, in the survey's coordinates.
    fn coordinates(&mut self) {
        let [left, top, right, bottom] = self.frame;
        let unit = self.show.unit();
        let k = self.scale.mm_per_m();
        let step = round_step(unit.from_m(50.0 / k));
        let origin = self.outcome.terrain.origin;
        // East and north of a place on the frame, in the job's unit.
        let east = |x: f64| unit.from_m((x - self.corner[0]) / k + self.low[0] + origin.x_m as f64);
        let north =
            |y: f64| unit.from_m((self.corner[1] - y) / k + self.low[1] + origin.y_m as f64);
        let mut ticks: Vec<[[f64; 2]; 2]> = Vec::new();
        let mut words: Vec<([f64; 2], Anchor, String)> = Vec::new();
        let mut n = (east(left + 8.0) / step).ceil();
        while n * step <= east(right - 14.0) {
            let x = self.corner[0] + (unit.to_m(n * step) - origin.x_m as f64 - self.low[0]) * k;
            ticks.push([[x, bottom], [x, bottom - 1.5]]);
            ticks.push([[x, top], [x, top + 1.5]]);
            words.push((
                [x, bottom - 2.0],
                Anchor::Middle,
                format!("{} E", axis_number(n * step, step)),
            ));
            n += 1.0;
        }
        let mut n = (north(bottom - 8.0) / step).ceil();
        while n * step <= north(top + 5.0) {
            let y = self.corner[1] - (unit.to_m(n * step) - origin.y_m as f64 - self.low[1]) * k;
            ticks.push([[left, y], [left + 1.5, y]]);
            ticks.push([[right, y], [right - 1.5, y]]);
            words.push((
                [left + 2.0, y + 0.7],
                Anchor::Start,
                format!("{} N", axis_number(n * step, step)),
            ));
            n += 1.0;
        }
        self.svg.group("coordinates");
        self.svg.lines(&ticks, width_mm::THIN, "#000000");
        for (at, anchor, text) in words {
            let look = Look {
                colour: "#333333",
                ..Look::over_lines(&text)
            };
            self.svg.text(at, 2.0, anchor, look);
        }
        self.svg.end_group();
    }
}

fn length(path: &[[f64; 2]]) -> f64 {
    path.windows(2)
        .map(|w| (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1]))
        .sum()
}

/// The place at a distance along a path; its ends beyond them.
fn along(path: &[[f64; 2]], distance: f64) -> [f64; 2] {
    let mut left = distance;
    for w in path.windows(2) {
        let far = (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1]);
        if left <= far && far > 0.0 {
            let t = left / far;
            return [
                w[0][0] + t * (w[1][0] - w[0][0]),
                w[0][1] + t * (w[1][1] - w[0][1]),
            ];
        }
        left -= far;
    }
    path.last().copied().unwrap_or_default()
}
