//! What is walked along on the plan: streams, section lines, walls.
//!
//! Takes the sheet, adds ink and words to it. Knows no area.

use super::super::legend::{Sample, arrow_head, dash, letter};
use super::super::region::Path;
use super::super::scale::{axis_number, round_step};
use super::super::section::{is_off_survey, letters};
use super::super::sheet::{Sheet, Words, along, length};
use super::super::width_mm;

impl Sheet<'_> {
    /// Centre lines, flow and stations from the foot.
    pub(super) fn streams(&mut self) {
        let outcome = self.outcome;
        let streams: Vec<&crate::design::Axis> = outcome
            .design
            .features
            .iter()
            .filter_map(|f| f.laid.axis.as_ref())
            .collect();
        for axis in streams {
            let path = self.points(&axis.line);
            let whole = length(&path);
            if whole <= 0.0 {
                continue;
            }
            self.svg.group("stream");
            self.svg
                .line(&path, false, width_mm::MIDDLE, "#000000", dash::CENTRE);
            // The line starts at the foot: water runs to its first point.
            for share in [0.25, 0.75] {
                let at = along(&path, whole * share);
                let behind = along(&path, (whole * share + 1.0).min(whole));
                let (dx, dy) = (at[0] - behind[0], at[1] - behind[1]);
                let far = dx.hypot(dy).max(1.0e-9);
                arrow_head(&mut self.svg, at, [dx / far, dy / far], 3.0);
            }
            let k = self.scale.mm_per_m();
            let unit = self.show.unit();
            let step =
                round_step(unit.from_m(26.0 / k)).max(round_step(unit.from_m(whole / k / 20.0)));
            let mut station = 0.0;
            while unit.to_m(station) * k <= whole + 1.0e-6 {
                let s = unit.to_m(station) * k;
                let at = along(&path, s);
                let ahead = along(&path, (s + 0.5).min(whole));
                let back = along(&path, (s - 0.5).max(0.0));
                let (dx, dy) = (ahead[0] - back[0], ahead[1] - back[1]);
                let far = dx.hypot(dy).max(1.0e-9);
                let (nx, ny) = (-dy / far * 1.2, dx / far * 1.2);
                let tick = [[at[0] - nx, at[1] - ny], [at[0] + nx, at[1] + ny]];
                self.svg.line(&tick, false, width_mm::MIDDLE, "#000000", "");
                self.say(
                    tick[1],
                    vec![format!("st. {}", axis_number(station, step))],
                    false,
                );
                station += step;
            }
            self.svg.end_group();
            self.explain(Sample::Arrow, "stream, way of flow, station");
        }
    }

    pub(super) fn section_lines(&mut self) {
        let outcome = self.outcome;
        for (number, section) in outcome.sections.iter().enumerate() {
            let path = self.points(&section.line);
            let n = path.len();
            if n < 2 || is_off_survey(section) {
                continue;
            }
            self.svg.group("section");
            self.svg
                .line(&path, false, width_mm::MIDDLE, "#000000", dash::SECTION);
            self.keep_clear(&path);
            let letters = letters(number);
            for (end, next, word) in [
                (path[0], path[1], letters.clone()),
                (path[n - 1], path[n - 2], format!("{letters}'")),
            ] {
                let (dx, dy) = (end[0] - next[0], end[1] - next[1]);
                let far = dx.hypot(dy).max(1.0e-9);
                let (dx, dy) = (dx / far, dy / far);
                let inner = [end[0] - dx * 4.0, end[1] - dy * 4.0];
                self.svg.line(&[inner, end], false, 0.7, "#000000", "");
                let at = [end[0] + dx * 3.2, end[1] + dy * 3.2];
                letter(&mut self.svg, &word, "#000000", [at[0], at[1] + 1.25], 3.5);
                self.room
                    .take([at[0] - 2.2, at[1] - 2.0], [at[0] + 2.2, at[1] + 2.0]);
            }
            self.svg.end_group();
            let sample = Sample::Line {
                width: width_mm::MIDDLE,
                colour: "#000000",
                dash: dash::SECTION,
            };
            self.explain(sample, "section, A on its left side");
        }
    }

    pub(super) fn walls(&mut self) {
        let outcome = self.outcome;
        for (number, wall) in outcome.walls.iter().enumerate() {
            let path: Path = wall
                .stations
                .iter()
                .map(|s| self.absolute(s.x_m, s.y_m))
                .collect();
            self.svg.group("wall");
            self.svg.line(&path, false, 1.4, "#FFFFFF", "");
            self.svg.line(&path, false, width_mm::HEAVY, "#000000", "");
            self.keep_clear(&path);
            // Ticks across tell it from any other line.
            let whole = length(&path);
            let mut s = 1.0;
            let mut ticks = Vec::new();
            while s < whole {
                let (at, ahead) = (along(&path, s), along(&path, (s + 0.4).min(whole)));
                let (dx, dy) = (ahead[0] - at[0], ahead[1] - at[1]);
                let far = dx.hypot(dy).max(1.0e-9);
                let (nx, ny) = (-dy / far * 1.1, dx / far * 1.1);
                ticks.push([[at[0] - nx, at[1] - ny], [at[0] + nx, at[1] + ny]]);
                s += 3.0;
            }
            self.svg.lines(&ticks, width_mm::MIDDLE, "#000000");
            self.svg.end_group();
            // Its length and height stand in the list beside the plan.
            let at = [0.5, 0.3, 0.7, 0.1, 0.9].map(|share| along(&path, whole * share));
            self.words.push(Words {
                at: at.to_vec(),
                gaps_mm: &[1.6, 2.5, 4.0, 6.5, 9.0],
                ..Words::bold(vec![format!("W{}", number + 1)], at[0], false)
            });
            let sample = Sample::Line {
                width: width_mm::HEAVY,
                colour: "#000000",
                dash: "",
            };
            self.explain(sample, "wall needed (with ticks)");
        }
    }

    /// Keeps text off a line.
    pub(in super::super) fn keep_clear(&mut self, path: &[[f64; 2]]) {
        let whole = length(path);
        // A line far longer than the sheet is not worth more steps than the sheet has room for.
        let steps = (whole / 0.5).min(5000.0);
        let mut k = 0.0;
        while k <= steps {
            let at = along(path, whole * k / steps.max(1.0));
            let [left, top, right, bottom] = self.frame;
            if (left..right).contains(&at[0]) && (top..bottom).contains(&at[1]) {
                self.room.take(at, at);
            }
            k += 1.0;
        }
    }
}
