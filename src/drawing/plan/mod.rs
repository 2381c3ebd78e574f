//! The plan: the yard from above, true to scale, north up.
//!
//! Takes an outcome, gives one SVG sheet. Zones, contours and names are drawn from the surfaces
//! and labels of the outcome; volumes and heights are the outcome's own numbers.

mod areas;
mod lines;

use super::ink::Look;
use super::label::Room;
use super::legend::{List, Sample, crosses};
use super::section::{is_off_survey, letters};
use super::sheet::{Beside, COLUMN_MM, Sheet, places_of_ground};
use crate::geom::Point;
use crate::outcome::Outcome;

/// The plan of a job.
///
/// # Units
///
/// the SVG's user unit is a millimetre on paper; width and height say so
pub fn plan(outcome: &Outcome) -> String {
    let mut sheet = Sheet::new(outcome, "Plan of", places(outcome));
    sheet.buildings();
    sheet.zones();
    sheet.contours(Some(&outcome.design.surface));
    sheet.rim();
    sheet.outlines();
    sheet.keep_offs();
    sheet.breaklines(false);
    sheet.streams();
    sheet.section_lines();
    sheet.walls();
    sheet.marks();
    sheet.names();
    sheet.off_survey();
    sheet.shot_names();
    let unit = sheet.show.length_unit();
    let soil = sheet.show.volume_unit();
    let walls = sheet.walls_needed();
    sheet.beside(Beside {
        heading: "Plan: soil to cut and to fill".to_owned(),
        units: format!("Lengths and levels in {unit}, soil in {soil}"),
        lists: vec![walls],
    });
    sheet.svg.finish()
}

/// Everything that is to be on the sheet.
fn places(outcome: &Outcome) -> impl Iterator<Item = Point> {
    let keep_offs = outcome.keep_offs.iter().flat_map(|k| &k.line);
    let sections = outcome.sections.iter().filter(|s| !is_off_survey(s));
    let lines = keep_offs.chain(sections.flat_map(|s| &s.line));
    places_of_ground(outcome).chain(lines.copied())
}

impl Sheet<'_> {
    /// Notes of the sections that cannot be drawn.
    fn off_survey(&mut self) {
        for (number, section) in self.outcome.sections.iter().enumerate() {
            if is_off_survey(section) {
                let letters = letters(number);
                let words = format!("section {letters}-{letters}' is off the survey, not drawn");
                self.notes
                    .push(format!("({}) {words}", self.notes.len() + 1));
            }
        }
    }

    /// Crosses where there is room for them, names where there is room for those.
    fn shot_names(&mut self) {
        const SIZE_MM: f64 = 1.8;
        let outcome = self.outcome;
        let mut marks = Room::new(self.paper.width_mm, self.paper.height_mm, self.frame);
        self.svg.group("shots");
        let mut all = true;
        let mut drawn: Vec<[f64; 2]> = Vec::new();
        for shot in &outcome.survey.shots {
            let at = self.point(shot.p);
            let (low, high) = ([at[0] - 0.7, at[1] - 0.7], [at[0] + 0.7, at[1] + 0.7]);
            if !marks.try_take(low, high) {
                all = false;
                continue;
            }
            drawn.push(at);
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
        crosses(&mut self.svg, &drawn);
        self.svg.end_group();
        let words = if all {
            "shot"
        } else {
            "shot (not all are drawn)"
        };
        self.explain(Sample::Cross, words);
    }

    /// Walls with their length and height, in a list.
    fn walls_needed(&self) -> List {
        let unit = self.show.length_unit();
        let walls: Vec<String> = self
            .outcome
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
        List::new("Walls needed", &walls, "walls.csv", COLUMN_MM)
    }
}
