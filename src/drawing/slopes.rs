//! The sheet of slopes: how steep the measured ground is, and which way water runs on it.
//!
//! Takes an outcome, gives one SVG sheet. Areas are the outcome's own numbers.

use super::banded::Band;
use super::legend::Sample;
use super::legend::{List, arrow_head};
use super::sheet::{Beside, COLUMN_MM, Sheet, places_of_ground};
use super::squares::Banding;
use super::width_mm;
use crate::outcome::Outcome;
use crate::terrain::slope_band_of;

/// Between arrows of fall on paper, mm.
const ARROWS_MM: f64 = 17.0;
/// Length of an arrow of fall, mm.
const ARROW_MM: f64 = 6.0;
/// Ground flatter than this has no arrow, rise over run: a hand's width in 10 m.
const FLATTEST: f64 = 0.01;

/// The measured ground in bands of slope.
///
/// # Units
///
/// the SVG's user unit is a millimetre on paper; width and height say so
pub fn slopes(outcome: &Outcome) -> String {
    let mut sheet = Sheet::new(outcome, "Slopes of the ground,", places_of_ground(outcome));
    let show = sheet.show;
    let in_short = |words: String| words.split(" (").next().unwrap_or_default().to_owned();
    let bands = outcome.relief.bands.map(|band| Band {
        letter: band.letter,
        words: format!(
            "{}: {}",
            in_short(band.to_string()),
            show.area_or_none(band.area_m2())
        ),
    });
    sheet.bands(&bands, &Banding::Slope(&slope_band_of));
    sheet.rim();
    sheet.names();
    sheet.fall_arrows();
    let notations: Vec<String> = outcome
        .relief
        .bands
        .iter()
        .map(|band| format!("{}: {band}", band.letter))
        .collect();
    sheet.beside(Beside {
        heading: "Slopes of the measured ground".to_owned(),
        units: format!("Areas in {}, seen from above", show.area_unit()),
        lists: vec![List::new(
            "Slopes three ways",
            &notations,
            "the report",
            COLUMN_MM,
        )],
    });
    sheet.svg.finish()
}

impl Sheet<'_> {
    /// Sparse arrows down the slope, where no word stands.
    fn fall_arrows(&mut self) {
        let surface = &self.outcome.terrain.surface;
        let [left, top, right, bottom] = self.frame;
        self.svg.group("fall");
        let mut any = false;
        let mut y = top + ARROWS_MM / 2.0;
        while y < bottom {
            let mut x = left + ARROWS_MM / 2.0;
            while x < right {
                let facet = surface.facet_at(self.yard([x, y]));
                let down = facet.map(|f| surface.source(f).plane.downhill());
                if let Some([east, north]) = down
                    && east.hypot(north) >= FLATTEST
                {
                    let steep = east.hypot(north);
                    // North is up on paper, and paper is counted down.
                    let [dx, dy] = [east / steep, -north / steep];
                    let [hx, hy] = [dx * ARROW_MM / 2.0, dy * ARROW_MM / 2.0];
                    let low = [x - hx.abs() - 0.5, y - hy.abs() - 0.5];
                    let high = [x + hx.abs() + 0.5, y + hy.abs() + 0.5];
                    let tip = [x + hx, y + hy];
                    let shaft = [[x - hx, y - hy], tip];
                    // All of it on the ground: beyond the rim nothing is known.
                    let is_on = |at: &[f64; 2]| surface.facet_at(self.yard(*at)).is_some();
                    if shaft.iter().all(is_on) && self.room.try_take(low, high) {
                        self.svg.line(&shaft, false, 1.1, "#FFFFFF", "");
                        self.svg
                            .line(&shaft, false, width_mm::MIDDLE, "#000000", "");
                        arrow_head(&mut self.svg, tip, [dx, dy], 2.4);
                        any = true;
                    }
                }
                x += ARROWS_MM;
            }
            y += ARROWS_MM;
        }
        self.svg.end_group();
        if any {
            self.explain(Sample::Fall, "way water runs");
        }
    }
}
