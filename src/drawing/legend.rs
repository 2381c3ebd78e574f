//! What stands beside a plan: north, bar scale, legend and title block.
//!
//! Takes words and samples, gives ink in a column. Knows no yard.

use super::banded::Shade;
use super::ink::{Anchor, Look, Svg, fit, num, stroke, wrap};
use super::region::{dots, hatch};
use super::scale::{axis_number, bar_part};
use super::{CUT, CUT_PALE, FILL, FILL_PALE, ZONE_GREY, width_mm};
use crate::show::Show;

/// A sample in the legend.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Sample {
    Cut,
    Fill,
    Line {
        width: f64,
        colour: &'static str,
        dash: &'static str,
    },
    Arrow,
    Fall,
    Cross,
    Dot,
    Diamond,
    NextShot,
    Undecided,
    Struck,
    /// Letters as they stand on the sheet.
    Words(&'static str),
    Benchmark,
    NoGround,
    NoData,
    Band(Shade),
    Building,
    Pile,
}

/// Dashes of lines, mm.
pub(super) mod dash {
    pub(crate) const EXISTING: &str = "1.6 1";
    pub(crate) const BOUNDARY: &str = "9 1.5 1 1.5";
    pub(crate) const ROOTS: &str = "3 1.2";
    pub(crate) const SERVICE: &str = "5 1 1 1 1 1";
    pub(crate) const SECTION: &str = "7 1.5 1.5 1.5";
    pub(crate) const CENTRE: &str = "4 1 0.6 1";
    pub(crate) const BREAKLINE: &str = "2.5 0.8";
}

/// Size of plain text, mm.
pub(super) const TEXT_MM: f64 = 2.5;

const SAMPLE: [f64; 2] = [11.0, 3.6];
const ROW_MM: f64 = 5.2;
const TIGHT_ROW_MM: f64 = 4.1;
/// Height of a row of a list.
pub(super) const LIST_ROW_MM: f64 = 3.6;

/// Fills rings as cut: pale, hatched, outlined in grey.
pub(super) fn cut_area(svg: &mut Svg, rings: &[Vec<[f64; 2]>], spacing_mm: f64) {
    svg.fill(rings, CUT_PALE);
    svg.lines(&hatch(rings, spacing_mm, true), width_mm::HATCH, CUT);
}

/// Fills rings as fill: pale, dotted.
pub(super) fn fill_area(svg: &mut Svg, rings: &[Vec<[f64; 2]>], spacing_mm: f64) {
    svg.fill(rings, FILL_PALE);
    svg.dots(&dots(rings, spacing_mm), 0.45, FILL);
}

fn sample(svg: &mut Svg, sample: Sample, [x, y]: [f64; 2]) {
    let [w, h] = SAMPLE;
    let ring = vec![vec![[x, y], [x + w, y], [x + w, y + h], [x, y + h]]];
    let middle = y + h / 2.0;
    match sample {
        Sample::Cut => {
            cut_area(svg, &ring, 1.4);
            svg.line(&ring[0], true, width_mm::MIDDLE, ZONE_GREY, "");
            letter(svg, "C", CUT, [x + w / 2.0, middle + 1.0], 2.8);
        }
        Sample::Fill => {
            fill_area(svg, &ring, 1.3);
            svg.line(&ring[0], true, width_mm::MIDDLE, ZONE_GREY, "");
            letter(svg, "F", FILL, [x + w / 2.0, middle + 1.0], 2.8);
        }
        Sample::Line {
            width,
            colour,
            dash,
        } => svg.line(&[[x, middle], [x + w, middle]], false, width, colour, dash),
        Sample::Arrow => {
            let line = [[x, middle], [x + w, middle]];
            svg.line(&line, false, width_mm::MIDDLE, "#000000", dash::CENTRE);
            arrow_head(svg, [x + w, middle], [1.0, 0.0], 2.4);
        }
        Sample::Fall => {
            svg.line(
                &[[x + 2.5, middle], [x + 8.5, middle]],
                false,
                width_mm::MIDDLE,
                "#000000",
                "",
            );
            arrow_head(svg, [x + 8.5, middle], [1.0, 0.0], 2.4);
        }
        Sample::Diamond => diamond(svg, [x + w / 2.0, middle]),
        Sample::NextShot => open_ring(svg, [x + w / 2.0, middle], NEXT_SHOT_MM),
        Sample::Undecided => open_ring(svg, [x + w / 2.0, middle], UNDECIDED_MM),
        Sample::Struck => struck(svg, [x + w / 2.0, middle]),
        Sample::Dot => svg.dots(&[[x + w / 2.0, middle]], 0.4, "#000000"),
        Sample::Words(words) => {
            let at = [x + w / 2.0, middle + 0.9];
            svg.text(at, TEXT_MM, Anchor::Middle, Look::bold(words));
        }
        Sample::Cross => crosses(svg, &[[x + w / 2.0, middle]]),
        Sample::Benchmark => benchmark(svg, [x + w / 2.0, middle + 1.2]),
        Sample::NoGround => {
            no_ground(svg, &ring);
            svg.line(&ring[0], true, width_mm::MIDDLE, ZONE_GREY, "");
        }
        Sample::NoData => {
            no_data(svg, &ring);
            svg.line(&ring[0], true, width_mm::THIN, "#000000", "");
        }
        Sample::Band(shade) => {
            shade.fill(svg, &ring);
            svg.line(&ring[0], true, width_mm::THIN, "#000000", "");
            letter(
                svg,
                &shade.letter.to_string(),
                "#000000",
                [x + w / 2.0, middle + 1.0],
                2.8,
            );
        }
        Sample::Pile => {
            pile(svg, &ring);
            svg.line(&ring[0], true, width_mm::NEW, "#000000", "");
        }
        Sample::Building => {
            svg.fill(&ring, "#E4E4E0");
            svg.line(&ring[0], true, width_mm::NEW, "#000000", "");
        }
    }
}

/// Hatches rings where there is no ground: grey, both ways.
pub(super) fn no_ground(svg: &mut Svg, rings: &[Vec<[f64; 2]>]) {
    for rising in [true, false] {
        svg.lines(&hatch(rings, 2.2, rising), width_mm::HATCH, "#8C8C8C");
    }
}

/// Hatches rings where the ground is not known: grey broken lines, falling to the right.
pub(super) fn no_data(svg: &mut Svg, rings: &[Vec<[f64; 2]>]) {
    for [a, b] in hatch(rings, 1.8, false) {
        svg.line(&[a, b], false, width_mm::THIN, "#6B6B6B", "1.8 0.9");
    }
}

/// Fills rings as a pile: sand-coloured, dotted.
pub(super) fn pile(svg: &mut Svg, rings: &[Vec<[f64; 2]>]) {
    svg.fill(rings, "#EDE6DA");
    svg.dots(&dots(rings, 1.6), 0.3, "#000000");
}

/// The letter of a zone.
pub(super) fn letter(svg: &mut Svg, word: &str, colour: &str, at: [f64; 2], size_mm: f64) {
    let look = Look {
        words: word,
        colour,
        bold: true,
        halo: true,
    };
    svg.text(at, size_mm, Anchor::Middle, look);
}

/// A solid arrow head with its tip at a place, pointing along a unit direction.
pub(super) fn arrow_head(svg: &mut Svg, tip: [f64; 2], [dx, dy]: [f64; 2], size_mm: f64) {
    let back = [tip[0] - dx * size_mm, tip[1] - dy * size_mm];
    let half = size_mm * 0.3;
    let ring = vec![vec![
        tip,
        [back[0] - dy * half, back[1] + dx * half],
        [back[0] + dy * half, back[1] - dx * half],
    ]];
    svg.fill(&ring, "#000000");
}

/// The marks of shots.
pub(super) fn crosses(svg: &mut Svg, places: &[[f64; 2]]) {
    let r = 0.7;
    let lines: Vec<[[f64; 2]; 2]> = places
        .iter()
        .flat_map(|&[x, y]| [[[x - r, y], [x + r, y]], [[x, y - r], [x, y + r]]])
        .collect();
    svg.lines(&lines, width_mm::THIN, "#000000");
}

/// The mark of a shot that is not used.
pub(super) fn diamond(svg: &mut Svg, [x, y]: [f64; 2]) {
    let r = 0.9;
    let corners = [[x - r, y], [x, y - r], [x + r, y], [x, y + r]];
    svg.fill(&[corners.to_vec()], "#FFFFFF");
    svg.line(&corners, true, width_mm::THIN, "#000000", "");
}

/// Radius of the ring where a further shot tells most, mm.
pub(super) const NEXT_SHOT_MM: f64 = 1.4;

/// Radius of the ring round a place that is not decided, mm.
pub(super) const UNDECIDED_MM: f64 = 0.8;

/// An open ring.
pub(super) fn open_ring(svg: &mut Svg, [x, y]: [f64; 2], radius_mm: f64) {
    let (r, across) = (num(radius_mm), num(2.0 * radius_mm));
    let data = format!(
        "M{} {}a{r} {r} 0 1 0 {across} 0a{r} {r} 0 1 0 -{across} 0z",
        num(x - radius_mm),
        num(y)
    );
    svg.path(&data, &stroke(width_mm::MIDDLE, "#000000", ""));
}

/// The mark of a shot that was struck out: its cross, struck through twice.
pub(super) fn struck(svg: &mut Svg, [x, y]: [f64; 2]) {
    crosses(svg, &[[x, y]]);
    let r = 1.2;
    let lines: Vec<[[f64; 2]; 2]> = [-0.3, 0.3]
        .map(|off| [[x - r, y + r + off], [x + r, y - r + off]])
        .to_vec();
    svg.lines(&lines, width_mm::MIDDLE, "#000000");
}

/// The mark of the benchmark: a triangle standing on its side.
pub(super) fn benchmark(svg: &mut Svg, [x, y]: [f64; 2]) {
    let ring = vec![vec![[x - 1.6, y], [x + 1.6, y], [x, y - 2.8]]];
    svg.fill(&ring, "#FFFFFF");
    svg.line(&ring[0], true, width_mm::NEW, "#000000", "");
    svg.dots(&[[x, y - 0.9]], 0.8, "#000000");
}

/// A bar scale with four parts from its upper left corner; gives its height.
pub(super) fn bar_scale(svg: &mut Svg, [x, y]: [f64; 2], mm_per_m: f64, show: Show) -> f64 {
    let (step, step_m) = bar_part(show, mm_per_m, 11.5);
    let part = step_m * mm_per_m;
    for k in 0..4 {
        let colour = if k % 2 == 0 { "#000000" } else { "#FFFFFF" };
        let style = format!("fill=\"{colour}\" stroke=\"#000000\" stroke-width=\"0.18\"");
        svg.rect([x + part * f64::from(k), y + 3.4], [part, 1.6], &style);
    }
    for k in [0, 1, 2, 4] {
        let words = axis_number(step * f64::from(k), step);
        let words = if k == 4 {
            format!("{words} {}", show.length_unit())
        } else {
            words
        };
        let anchor = if k == 4 {
            Anchor::Start
        } else {
            Anchor::Middle
        };
        let shift = if k == 4 { -1.2 } else { 0.0 };
        let at = [x + part * f64::from(k) + shift, y + 2.6];
        svg.text(at, TEXT_MM, anchor, Look::plain(&words));
    }
    7.0
}

/// North is up; an arrow with its letter, upper left corner given.
pub(super) fn north(svg: &mut Svg, [x, y]: [f64; 2]) {
    let middle = x + 4.0;
    let shaft = [[middle, y + 16.0], [middle, y + 5.0]];
    svg.line(&shaft, false, width_mm::NEW, "#000000", "");
    arrow_head(svg, [middle, y + 4.0], [0.0, -1.0], 4.5);
    svg.text([middle, y + 3.0], 3.5, Anchor::Middle, Look::bold("N"));
}

/// Legend from its upper left corner, its rows closer than usual if `tight`; gives its height.
pub(super) fn legend(
    svg: &mut Svg,
    [x, y]: [f64; 2],
    width_mm: f64,
    entries: &[(Sample, String)],
    tight: bool,
) -> f64 {
    let row_mm = if tight { TIGHT_ROW_MM } else { ROW_MM };
    svg.text([x, y + 3.0], TEXT_MM, Anchor::Start, Look::bold("Legend"));
    for (k, (what, words)) in entries.iter().enumerate() {
        let top = y + 5.0 + row_mm * k as f64;
        sample(svg, *what, [x, top]);
        let at = [x + SAMPLE[0] + 2.0, top + 2.7];
        let words = fit(words, TEXT_MM, width_mm - SAMPLE[0] - 2.0);
        svg.text(at, TEXT_MM, Anchor::Start, Look::plain(&words));
    }
    5.0 + row_mm * entries.len() as f64
}

/// Height of a legend.
pub(super) fn legend_height(entries: usize, tight: bool) -> f64 {
    let row_mm = if tight { TIGHT_ROW_MM } else { ROW_MM };
    5.0 + row_mm * entries as f64
}

/// A list under a head.
pub(super) struct List {
    pub(super) head: &'static str,
    /// Entries, each in rows.
    pub(super) entries: Vec<Vec<String>>,
    /// Where to look for what finds no room.
    pub(super) more_in: &'static str,
}

impl List {
    /// Entries broken into at most two rows of a width.
    pub(super) fn new(
        head: &'static str,
        entries: &[String],
        more_in: &'static str,
        width_mm: f64,
    ) -> List {
        let entries = entries
            .iter()
            .map(|words| {
                let mut rows = wrap(words, TEXT_MM, width_mm);
                if rows.len() > 2 {
                    let rest = rows.split_off(1).join(" ");
                    rows.push(fit(&rest, TEXT_MM, width_mm));
                }
                rows
            })
            .collect();
        List {
            head,
            entries,
            more_in,
        }
    }

    /// Rows of the whole list with its head.
    pub(super) fn rows(&self) -> usize {
        match self.entries.len() {
            0 => 0,
            _ => 1 + self.entries.iter().map(Vec::len).sum::<usize>(),
        }
    }

    /// The list in at most so many rows; what is left out is counted in the last one.
    pub(super) fn fitted(&self, most: usize) -> Vec<String> {
        if self.entries.is_empty() || most == 0 {
            return Vec::new();
        }
        let mut rows = vec![self.head.to_owned()];
        let whole = self.rows() <= most;
        for (k, entry) in self.entries.iter().enumerate() {
            let needs = entry.len() + usize::from(!whole);
            if rows.len() + needs > most {
                let left = self.entries.len() - k;
                let words = if k == 0 {
                    format!("{}: {left}, see {}", self.head, self.more_in)
                } else {
                    format!("and {left} more, see {}", self.more_in)
                };
                if k == 0 {
                    rows.clear();
                }
                rows.push(words);
                break;
            }
            rows.extend(entry.iter().cloned());
        }
        rows
    }
}

/// Title block standing on a line: a name and plain lines below it; gives its upper edge.
pub(super) fn title_block(
    svg: &mut Svg,
    [x, bottom]: [f64; 2],
    width_mm: f64,
    name: &str,
    lines: &[String],
) -> f64 {
    const NAME_MM: f64 = 3.5;
    let mut names = wrap(name, NAME_MM * 1.06, width_mm);
    if names.len() > 3 {
        names.truncate(3);
        if let Some(last) = names.last_mut() {
            *last = fit(&format!("{last} and so on"), NAME_MM * 1.06, width_mm);
        }
    }
    let rows: Vec<String> = lines
        .iter()
        .flat_map(|l| wrap(l, TEXT_MM, width_mm))
        .collect();
    let height = names.len() as f64 * 4.6 + rows.len() as f64 * 3.6 + 3.0;
    let top = bottom - height;
    svg.path(
        &format!(
            "M{} {}h{}",
            super::ink::num(x),
            super::ink::num(top),
            super::ink::num(width_mm)
        ),
        &stroke(crate::drawing::width_mm::NEW, "#000000", ""),
    );
    let mut y = top + 1.2;
    for name in &names {
        y += 4.6;
        svg.text([x, y - 0.6], NAME_MM, Anchor::Start, Look::bold(name));
    }
    for row in &rows {
        y += 3.6;
        svg.text([x, y - 0.4], TEXT_MM, Anchor::Start, Look::plain(row));
    }
    top
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_list_says_what_it_leaves_out() {
        let entries: Vec<String> = (1..=9).map(|k| format!("W{k}: 3.0 ft long")).collect();
        let list = List::new("Walls needed", &entries, "walls.csv", 56.0);
        assert_eq!(list.rows(), 10);
        assert_eq!(list.fitted(10).len(), 10);
        assert_eq!(
            list.fitted(4),
            [
                "Walls needed",
                "W1: 3.0 ft long",
                "W2: 3.0 ft long",
                "and 7 more, see walls.csv"
            ]
        );
        assert_eq!(list.fitted(1), ["Walls needed: 9, see walls.csv"]);
        assert!(list.fitted(0).is_empty());
    }
}
