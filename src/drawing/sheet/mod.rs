//! A sheet in plan: the yard from above, true to scale, north up.
//!
//! Takes a piece of the yard, gives paper, scale, and room for words. What is drawn on it is said
//! by the plan, the ground plan and the sheets of bands; what stands beside it, by `beside`; the
//! lie of the ground that several of them show, by `relief`.

mod beside;
mod relief;

pub(super) use beside::Beside;

use super::ink::{Look, Svg, fit, wrap};
use super::label::{LINE, Room};
use super::legend::{Sample, TEXT_MM};
use super::region::Path;
use super::scale::{Paper, Scale};
use crate::geom::Point;
use crate::outcome::Outcome;
use crate::show::Show;

pub(super) const MARGIN_MM: f64 = 10.0;
pub(super) const COLUMN_MM: f64 = 56.0;
/// Between the frame and what is drawn: names and letters of sections stand there.
const PADDING_MM: f64 = 7.0;

/// A text waiting for room, most important first.
pub(super) struct Words {
    pub(super) lines: Vec<String>,
    /// How many of the lines are bold; a text without is less important.
    pub(super) bold_lines: usize,
    /// Places, the best first.
    pub(super) at: Vec<[f64; 2]>,
    pub(super) centred: bool,
    pub(super) colour: &'static str,
    pub(super) size_mm: f64,
    /// How far from its place it may stand, mm.
    pub(super) gaps_mm: &'static [f64],
    /// What is listed beside the plan if there is no room for it.
    pub(super) note: Option<String>,
}

/// How far names stand from their places, mm.
pub(super) const NEAR_MM: &[f64] = &[1.2, 2.5, 4.0];
pub(super) const FAR_MM: &[f64] = &[2.0, 4.0, 6.5, 9.0, 12.0, 16.0, 22.0];
/// Longest line of a name, mm, and most lines.
const NAME_MM: f64 = 40.0;
const NAME_LINES: usize = 3;

impl Words {
    /// Plain words near a place.
    pub(super) fn plain(lines: Vec<String>, at: [f64; 2], centred: bool) -> Words {
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
    pub(super) fn bold(lines: Vec<String>, at: [f64; 2], centred: bool) -> Words {
        Words {
            bold_lines: lines.len(),
            gaps_mm: FAR_MM,
            ..Words::plain(lines, at, centred)
        }
    }
}

/// A name broken into lines, with dots where even those are too few.
pub(super) fn name_lines(name: &str) -> Vec<String> {
    let mut lines = wrap(name, TEXT_MM, NAME_MM);
    if lines.len() > NAME_LINES {
        let rest = lines.split_off(NAME_LINES - 1).join(" ");
        lines.push(fit(&rest, TEXT_MM, NAME_MM));
    }
    lines
}

/// A sheet being drawn, with what waits for room on it.
pub(super) struct Sheet<'a> {
    pub(super) outcome: &'a Outcome,
    pub(super) show: Show,
    pub(super) paper: Paper,
    pub(super) scale: Scale,
    /// Left, top, right, bottom of the frame, mm.
    pub(super) frame: [f64; 4],
    /// Lower left of what is drawn, metres in the local frame.
    pub(super) low: [f64; 2],
    /// Where that is on paper, mm.
    pub(super) corner: [f64; 2],
    pub(super) svg: Svg,
    pub(super) room: Room,
    pub(super) words: Vec<Words>,
    pub(super) legend: Vec<(Sample, String)>,
    pub(super) interval_words: Option<String>,
    /// What stands in words beside the plan.
    pub(super) notes: Vec<String>,
}

/// What a sheet of the ground alone shows: the ground, its outline and areas without it.
pub(super) fn places_of_ground(outcome: &Outcome) -> impl Iterator<Item = Point> {
    let terrain = &outcome.terrain;
    let corners = terrain
        .surface
        .facets()
        .flat_map(|f| terrain.surface.corners(f));
    let no_data = terrain.no_data.iter().map(|area| &area.ring);
    let rings = terrain.outline.iter().chain(&terrain.holes).chain(no_data);
    corners
        .map(|c| c.p)
        .chain(rings.flat_map(|ring| ring.corners()).copied())
}

/// The box of what is to be on a sheet: lower left and upper right, metres.
fn extent(places: impl Iterator<Item = Point>) -> ([f64; 2], [f64; 2]) {
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for p in places {
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
    /// Empty paper of the size and scale that take these places; `title` is what it is a sheet
    /// of, before the name of the job.
    pub(super) fn new(
        outcome: &'a Outcome,
        title: &str,
        places: impl Iterator<Item = Point>,
    ) -> Sheet<'a> {
        let (low, high) = extent(places);
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
        let title = format!("{title} {}, {}", outcome.job.name, scale.words);
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
    pub(super) fn mm(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let k = self.scale.mm_per_m();
        [
            self.corner[0] + (x - self.low[0]) * k,
            self.corner[1] - (y - self.low[1]) * k,
        ]
    }

    pub(super) fn point(&self, p: Point) -> [f64; 2] {
        self.mm([p.x_m(), p.y_m()])
    }

    pub(super) fn path(&self, path: &[[f64; 2]]) -> Path {
        path.iter().map(|p| self.mm(*p)).collect()
    }

    pub(super) fn points(&self, line: &[Point]) -> Path {
        line.iter().map(|p| self.point(*p)).collect()
    }

    /// Absolute metres to millimetres on paper.
    pub(super) fn absolute(&self, x_m: f64, y_m: f64) -> [f64; 2] {
        let origin = self.outcome.terrain.origin;
        self.mm([x_m - origin.x_m as f64, y_m - origin.y_m as f64])
    }

    pub(super) fn explain(&mut self, sample: Sample, words: impl Into<String>) {
        let words = words.into();
        if self.legend.iter().all(|(_, w)| *w != words) {
            self.legend.push((sample, words));
        }
    }

    pub(super) fn say(&mut self, at: [f64; 2], lines: Vec<String>, centred: bool) {
        self.words.push(Words::plain(lines, at, centred));
    }

    /// The place in the yard at millimetres on paper.
    pub(super) fn yard(&self, [x, y]: [f64; 2]) -> Point {
        let k = self.scale.mm_per_m();
        Point::from_m(
            (x - self.corner[0]) / k + self.low[0],
            (self.corner[1] - y) / k + self.low[1],
        )
    }

    /// Writes the texts that wait, the important ones first.
    pub(super) fn names(&mut self) {
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
        self.svg.end_group();
    }

    /// Writes a text where it finds room; false if nowhere.
    pub(super) fn write(&mut self, w: &Words) -> bool {
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
}

pub(super) fn length(path: &[[f64; 2]]) -> f64 {
    path.windows(2)
        .map(|w| (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1]))
        .sum()
}

/// The place at a distance along a path; its ends beyond them.
pub(super) fn along(path: &[[f64; 2]], distance: f64) -> [f64; 2] {
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
