//! The ground plan: what was measured, and nothing else.
//!
//! Takes an outcome, gives one SVG sheet: rim, holes, areas without data, breaklines with their
//! code, contours, every shot with its level. Knows no feature.

use super::ink::Look;
use super::label::Room;
use super::legend::Sample;
use super::sheet::{Beside, Sheet, Words, places_of_ground};
use crate::outcome::Outcome;

/// Size of levels beside shots, mm.
const LEVEL_MM: f64 = 1.8;
/// Between levels on a sheet of dots, mm across and down: more would be a carpet.
const LEVELS_APART_MM: [f64; 2] = [14.0, 7.0];

/// The measured ground of a job.
///
/// # Units
///
/// the SVG's user unit is a millimetre on paper; width and height say so
pub fn ground(outcome: &Outcome) -> String {
    let mut sheet = Sheet::new(outcome, "Ground plan of", places_of_ground(outcome));
    let show = sheet.show;
    sheet.contours(None);
    sheet.rim();
    sheet.breaklines(true);
    sheet.marks();
    sheet.extremes();
    sheet.shot_marks();
    sheet.names();
    sheet.shot_levels();
    sheet.beside(Beside {
        heading: "Ground plan: what was measured".to_owned(),
        units: format!("Lengths and levels in {}", show.length_unit()),
        lists: Vec::new(),
    });
    sheet.svg.finish()
}

impl Sheet<'_> {
    /// The highest and the lowest place, which must be there.
    fn extremes(&mut self) {
        let relief = &self.outcome.relief;
        for (spot, word) in [(&relief.high, "HP"), (&relief.low, "LP")] {
            let at = self.point(spot.at.p);
            let level = self.show.level(spot.at.z);
            self.words
                .push(Words::bold(vec![format!("{word} {level}")], at, false));
        }
        self.explain(Sample::Words("HP, LP"), "highest, lowest place");
    }

    /// Levels beside the shots where there is room, fewer where shots lie dense.
    fn shot_levels(&mut self) {
        let (shots, are_dense) = self.shots_on_sheet();
        let relief = &self.outcome.relief;
        let extremes: Vec<&str> = [&relief.high, &relief.low]
            .into_iter()
            .filter_map(|spot| spot.shot.as_deref())
            .collect();
        let mut spread = Room::new(self.paper.width_mm, self.paper.height_mm, self.frame);
        let [dx, dy] = LEVELS_APART_MM.map(|apart| apart / 2.0);
        let mut num_levels = 0;
        self.svg.group("levels");
        for (shot, at) in shots {
            // Written in bold already.
            if extremes.contains(&shot.name.as_str()) {
                num_levels += 1;
                continue;
            }
            if are_dense && !spread.try_take([at[0] - dx, at[1] - dy], [at[0] + dx, at[1] + dy]) {
                continue;
            }
            let level = self.show.level(shot.z_m);
            let size = (LEVEL_MM, false);
            if let Some(spot) = self.room.place(&[&level], size, at, false, &[1.0]) {
                num_levels += 1;
                let look = Look {
                    colour: "#222222",
                    ..Look::over_lines(&level)
                };
                self.svg.text(spot.at, LEVEL_MM, spot.anchor, look);
            }
        }
        self.svg.end_group();
        let num_shots = self.outcome.survey.shots.len() - self.outcome.terrain.outside.len();
        if num_levels < num_shots {
            self.notes.push(format!(
                "{num_levels} of {num_shots} shots have their level written; all are in the survey files"
            ));
        }
    }
}
