//! The trust map as a sheet: how far the measured ground may be off, and where to shoot next.
//!
//! Takes an outcome, gives one SVG sheet. Half ranges and areas are the outcome's own numbers.

use super::banded::Band;
use super::legend::{List, NEXT_SHOT_MM, Sample, open_ring};
use super::sheet::{Beside, COLUMN_MM, Sheet, Words, places_of_ground};
use super::squares::Banding;
use crate::outcome::Outcome;
use crate::show::Show;
use crate::terrain::{Grade, Trust};

/// The measured ground by how well it is known; `None` where that is not computed.
///
/// # Units
///
/// the SVG's user unit is a millimetre on paper; width and height say so
pub fn trust(outcome: &Outcome) -> Option<String> {
    let trust = outcome.trust.as_ref().ok()?;
    let mut sheet = Sheet::new(outcome, "Trust in the ground,", places_of_ground(outcome));
    let show = sheet.show;
    let digits = '1'..='9';
    let bands: Vec<Band> = trust
        .grades
        .iter()
        .zip(digits)
        .map(|(area, letter)| Band {
            letter,
            words: format!("{}: {}", area.grade.word(), show.area_or_none(area.area_m2)),
        })
        .collect();
    let grade_of = |facet: u32| {
        let grade = Grade::of(trust.at_centres_m[facet as usize]);
        Grade::ALL.iter().position(|g| *g == grade).unwrap_or(0)
    };
    sheet.bands(&bands, &Banding::Middle(&grade_of));
    sheet.rim();
    sheet.shot_marks();
    sheet.shoot_next(trust);
    sheet.names();
    let rows = grade_rows(show);
    sheet.beside(Beside {
        heading: "How far the ground may be off".to_owned(),
        units: format!("Heights in {}, areas seen from above", show.length_unit()),
        lists: vec![List::new(
            "Four of five places are within",
            &rows,
            "the report",
            COLUMN_MM,
        )],
    });
    Some(sheet.svg.finish())
}

/// "1: measured, within 0.15 ft".
fn grade_rows(show: Show) -> Vec<String> {
    Grade::ALL
        .iter()
        .zip(1..)
        .map(|(grade, number)| {
            let limit_m = grade.limit_m();
            if limit_m.is_finite() {
                let limit = show.level_with_unit(limit_m);
                format!("{number}: {}, {limit}", grade.word())
            } else {
                format!("{number}: {}, more", grade.word())
            }
        })
        .collect()
}

impl Sheet<'_> {
    /// The places where a further shot would tell most; none where the ground is known as well
    /// as a shot tells.
    fn shoot_next(&mut self, trust: &Trust) {
        let worth_it = |half_m: f64| Grade::of(half_m) != Grade::Measured;
        let mut places = trust.shoot_next.iter().peekable();
        if places
            .peek()
            .is_some_and(|worst| worth_it(worst.half_range_80_m))
        {
            self.explain(Sample::NextShot, "where a further shot tells most");
        }
        for (number, place) in (1..).zip(places.filter(|p| worth_it(p.half_range_80_m))) {
            let at = self.absolute(place.x_m, place.y_m);
            open_ring(&mut self.svg, at, NEXT_SHOT_MM);
            self.room
                .take([at[0] - 1.4, at[1] - 1.4], [at[0] + 1.4, at[1] + 1.4]);
            let half = self.show.level_with_unit(place.half_range_80_m);
            let now = format!("now within {half}");
            let words = vec![format!("next shot {number}"), now];
            self.words.push(Words::bold(words, at, false));
        }
    }
}
