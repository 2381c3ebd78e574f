//! What stands round a sheet in plan: coordinates, north, bar scale, legend, title block.
//!
//! Takes the sheet and what its title says, adds ink. Knows no yard.

use super::super::ink::{Anchor, Look};
use super::super::legend::{
    LIST_ROW_MM, List, TEXT_MM, bar_scale, legend, legend_height, north, title_block,
};
use super::super::scale::{axis_number, round_step};
use super::super::width_mm;
use super::{COLUMN_MM, MARGIN_MM, Sheet};

/// What the title block says of a sheet, and what is listed above it.
pub(in super::super) struct Beside {
    /// What it shows: "Plan: soil to cut and to fill".
    pub(in super::super) heading: String,
    /// What its numbers are in: "Lengths and levels in ft, soil in yd3".
    pub(in super::super) units: String,
    /// Lists below the legend, the notes of the sheet before them.
    pub(in super::super) lists: Vec<List>,
}

impl Sheet<'_> {
    /// Frame, coordinates, north, bar scale, legend, title block.
    pub(in super::super) fn beside(&mut self, what: Beside) {
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
            what.heading,
            format!("{}, made {}", self.scale.words, outcome.date),
            format!("True to scale on {} at full size", self.paper.name),
            what.units,
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
        let notes = std::mem::take(&mut self.notes);
        let mut lists = vec![List::new("Notes", &notes, "the report", COLUMN_MM)];
        lists.extend(what.lists);
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
