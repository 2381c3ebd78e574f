//! Marks of shots on a sheet of the ground: used, struck out, left out, not yet placed.
//!
//! Takes an outcome, gives ink. A shot that makes no ground looks different from one that does.

use super::label::Room;
use super::legend::{Sample, UNDECIDED_MM, crosses, dash, diamond, open_ring, struck};
use super::sheet::{Sheet, Words};
use super::width_mm;
use crate::outcome::Outcome;
use crate::survey::Shot;

/// Shots nearer to each other on paper than this, in the middle, are dots, mm.
const CROSS_APART_MM: f64 = 9.0;

/// Most shots without a place that are drawn; the rest is counted.
const MOST_UNDECIDED: usize = 40;

impl<'a> Sheet<'a> {
    /// True for a place inside the frame.
    fn is_on_sheet(&self, [x, y]: [f64; 2]) -> bool {
        let [left, top, right, bottom] = self.frame;
        (left..=right).contains(&x) && (top..=bottom).contains(&y)
    }

    /// Shots of the ground on the sheet with their places, and whether they lie too dense for
    /// crosses.
    pub(super) fn shots_on_sheet(&self) -> (Vec<(&'a Shot, [f64; 2])>, bool) {
        let outcome: &'a Outcome = self.outcome;
        let outside = &outcome.terrain.outside;
        let shots: Vec<(&Shot, [f64; 2])> = outcome
            .survey
            .shots
            .iter()
            .enumerate()
            .filter(|(index, _)| outside.binary_search(index).is_err())
            .map(|(_, shot)| (shot, self.point(shot.p)))
            .filter(|(_, at)| self.is_on_sheet(*at))
            .collect();
        let k = self.scale.mm_per_m();
        let area_mm2 = outcome.ground_facts.area_m2 * k * k;
        let are_dense = (area_mm2 / shots.len().max(1) as f64).sqrt() < CROSS_APART_MM;
        (shots, are_dense)
    }

    /// Every shot of the ground as a cross, or as a dot where shots lie dense, and beside them
    /// the shots that make no ground.
    pub(super) fn shot_marks(&mut self) {
        let (shots, are_dense) = self.shots_on_sheet();
        let mut marks = Room::new(self.paper.width_mm, self.paper.height_mm, self.frame);
        let half = if are_dense { 0.25 } else { 0.7 };
        // A mark on a mark says nothing more.
        let drawn: Vec<[f64; 2]> = shots
            .iter()
            .map(|(_, at)| *at)
            .filter(|[x, y]| marks.try_take([x - half, y - half], [x + half, y + half]))
            .collect();
        self.svg.group("shots");
        let mark = if are_dense {
            self.svg.dots(&drawn, 0.4, "#000000");
            Sample::Dot
        } else {
            crosses(&mut self.svg, &drawn);
            Sample::Cross
        };
        self.explain(mark, "shot of the ground");
        let used = self.outcome.survey.shots.len() - self.outcome.terrain.outside.len();
        if used > drawn.len() {
            let left = used - drawn.len();
            self.notes.push(format!(
                "{left} shots lie on a mark already drawn or off the sheet"
            ));
        }
        self.outside_marks();
        self.struck_marks();
        self.undecided_marks();
        self.svg.end_group();
    }

    /// Shots outside the outline, in a hole or in an area without data.
    fn outside_marks(&mut self) {
        let outcome = self.outcome;
        let shots = &outcome.survey.shots;
        let places: Vec<[f64; 2]> = outcome
            .terrain
            .outside
            .iter()
            .map(|&index| self.point(shots[index].p))
            .filter(|at| self.is_on_sheet(*at))
            .collect();
        for &at in &places {
            diamond(&mut self.svg, at);
        }
        if !places.is_empty() {
            self.explain(Sample::Diamond, "shot outside: not used");
        }
    }

    /// Shots that the job takes out, with their names.
    fn struck_marks(&mut self) {
        let outcome = self.outcome;
        for taken in &outcome.survey.struck {
            let at = self.point(taken.shot.p);
            if !self.is_on_sheet(at) {
                continue;
            }
            struck(&mut self.svg, at);
            self.room
                .take([at[0] - 1.3, at[1] - 1.3], [at[0] + 1.3, at[1] + 1.3]);
            let words = format!("{}: struck out", taken.shot.name);
            self.words.push(Words::plain(vec![words], at, false));
            self.explain(Sample::Struck, "shot struck out by the job");
        }
    }

    /// Shots by tape that may stand at one of two places: both, joined.
    fn undecided_marks(&mut self) {
        let outcome = self.outcome;
        let unplaced = &outcome.survey.unplaced;
        for shot in unplaced.iter().take(MOST_UNDECIDED) {
            let places: Vec<[f64; 2]> = shot
                .answers_m
                .iter()
                .map(|&[x, y]| self.absolute(x, y))
                .collect();
            let both: Option<[[f64; 2]; 2]> = places.as_slice().try_into().ok();
            if let Some([a, b]) = both
                && self.is_on_sheet(a)
                && self.is_on_sheet(b)
            {
                self.svg
                    .line(&[a, b], false, width_mm::HATCH, "#6B6B6B", dash::EXISTING);
            }
            for at in places {
                if !self.is_on_sheet(at) {
                    continue;
                }
                open_ring(&mut self.svg, at, UNDECIDED_MM);
                let words = format!("{}?", shot.name);
                self.words.push(Words::plain(vec![words], at, false));
                self.explain(Sample::Undecided, "shot by tape: not decided");
            }
        }
        if !unplaced.is_empty() {
            let names: Vec<&str> = unplaced
                .iter()
                .take(MOST_UNDECIDED)
                .map(|shot| shot.name.as_str())
                .collect();
            let more = unplaced.len() - names.len();
            let more = if more > 0 {
                format!(" and {more} more")
            } else {
                String::new()
            };
            self.notes.push(format!(
                "not placed, and no part of the ground: {}{more}",
                names.join(", ")
            ));
        }
    }
}
