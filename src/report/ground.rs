//! The ground by itself: how it lies, in words and as JSON.
//!
//! Takes facts and relief of a surface, gives text. The command line and every report say the
//! same from here.

use serde_json::{Map, Value, json};

use super::text::Lines;
use super::words::counted;
use crate::geom::{Origin, compass};
use crate::show::Show;
use crate::surface::{CutFill, Facts};
use crate::terrain::{Fall, Relief, SlopeBand, Spot};
use crate::units::Slope;

/// A surface as the command line was asked for it.
#[derive(Clone, Copy, Debug)]
pub struct Ground<'a> {
    /// What can be said of it by itself.
    pub facts: &'a Facts,
    /// How it lies.
    pub relief: &'a Relief,
    /// Of its plan positions.
    pub origin: Origin,
    /// Unit of plan and areas.
    pub show: Show,
    /// Unit of heights.
    pub heights: Show,
}

impl Ground<'_> {
    /// How it lies, the answer first: fall, slope, steepest ground.
    pub fn sentences(&self) -> Vec<String> {
        let (facts, relief) = (self.facts, self.relief);
        let (high, low) = (self.spot(&relief.high), self.spot(&relief.low));
        let fall = self.height(relief.fall_m());
        let mean = Slope::from_rise_per_run(facts.mean_slope_rise_per_run);
        let mut sentences = vec![match relief.fall() {
            Fall::Level if fall == self.height(0.0) => {
                format!("The ground is level at {}.", self.height(facts.min_z_m))
            }
            Fall::Level => format!(
                "The ground is level at {}: no two places of it differ by more than {fall}.",
                self.height(facts.min_z_m)
            ),
            Fall::OneWay([east, north]) => format!(
                "The ground falls {fall} from the {} to the {}: from {high} to {low}.",
                compass([-east, -north]),
                compass([east, north])
            ),
            Fall::ManyWays => format!(
                "The ground falls several ways, as a hill, a hollow or a valley does; it differs \
                 by {fall}, from {high} to {low}."
            ),
        }];
        if relief.fall() == Fall::Level {
            return sentences;
        }
        let azimuth = match (relief.fall(), relief.plane.downhill_azimuth_deg()) {
            (Fall::OneWay(_), Some(degrees)) => format!(
                "; as one plane it falls {} at an azimuth of {degrees:.0} degrees",
                Slope::from_rise_per_run(relief.plane.steepness())
            ),
            _ => String::new(),
        };
        sentences.push(format!("Mean slope {mean} by plan area{azimuth}."));
        let (steepest, steeper_m2) = relief.steepest();
        let steeper = if steeper_m2 > 0.0 {
            format!(
                "; {} are steeper: banks, or slivers between shots almost in line",
                self.show.area_or_none(steeper_m2)
            )
        } else {
            String::new()
        };
        sentences.push(format!(
            "Steepest ground of any size: {steepest}, {}{steeper}.",
            self.area_with_share(&steepest)
        ));
        sentences
    }

    /// "12.0 sq ft, 3 % of the ground".
    pub fn area_with_share(&self, band: &SlopeBand) -> String {
        let area_m2 = band.area_m2();
        let words = self.show.area_or_none(area_m2);
        if band.twice_area_nm2 == 0 {
            return words;
        }
        let percent = area_m2 / self.facts.area_m2 * 100.0;
        let share = if percent < 0.5 {
            "under 1".to_owned()
        } else {
            format!("{percent:.0}")
        };
        format!("{words}, {share} % of the ground")
    }

    fn height(&self, m: f64) -> String {
        self.heights.level_with_unit(m)
    }

    /// "100.12 ft at shot 7 (12.0 ft E, 40.0 ft N)".
    fn spot(&self, spot: &Spot) -> String {
        let [x, y] = self.absolute_m(spot);
        let place = self.show.place(x, y);
        let level = self.height(spot.at.z);
        match &spot.shot {
            Some(name) => format!("{level} at shot {name} ({place})"),
            None => format!("{level} at {place}"),
        }
    }

    fn absolute_m(&self, spot: &Spot) -> [f64; 2] {
        [
            spot.at.p.x_m() + self.origin.x_m as f64,
            spot.at.p.y_m() + self.origin.y_m as f64,
        ]
    }

    /// The same for machines.
    ///
    /// # Units
    ///
    /// SI, named in every key; coordinates are absolute; azimuth in degrees clockwise from north
    pub fn json(&self) -> Map<String, Value> {
        let (facts, relief) = (self.facts, self.relief);
        let ([high_x, high_y], [low_x, low_y]) =
            (self.absolute_m(&relief.high), self.absolute_m(&relief.low));
        let pairs: [(&str, Value); 17] = [
            ("points", facts.points.into()),
            ("triangles", facts.triangles.into()),
            ("area_m2", facts.area_m2.into()),
            ("surface_area_m2", facts.surface_area_m2.into()),
            ("min_z_m", facts.min_z_m.into()),
            ("max_z_m", facts.max_z_m.into()),
            (
                "mean_slope_rise_per_run",
                facts.mean_slope_rise_per_run.into(),
            ),
            (
                "max_slope_rise_per_run",
                facts.max_slope_rise_per_run.into(),
            ),
            ("best_plane_rise_per_run", relief.plane.steepness().into()),
            (
                "downhill_azimuth_deg",
                relief.plane.downhill_azimuth_deg().into(),
            ),
            ("high_x_m", high_x.into()),
            ("high_y_m", high_y.into()),
            ("high_shot", relief.high.shot.clone().into()),
            ("low_x_m", low_x.into()),
            ("low_y_m", low_y.into()),
            ("low_shot", relief.low.shot.clone().into()),
            ("slope_bands", relief.bands.iter().map(band_json).collect()),
        ];
        pairs
            .map(|(key, value)| (key.to_owned(), value))
            .into_iter()
            .collect()
    }

    /// The same as one row: the areas of the bands each under its own key.
    pub fn row(&self) -> Map<String, Value> {
        let mut row = self.json();
        row.shift_remove("slope_bands");
        for band in &self.relief.bands {
            let key = format!("slope_band_{}_area_m2", band.letter);
            row.insert(key, band.area_m2().into());
        }
        row
    }

    /// For people at a terminal; with the volumes above and below a level, if one is given in
    /// the unit of heights.
    pub fn text(&self, name: &str, above: Option<(f64, CutFill)>) -> String {
        let facts = self.facts;
        let mut out = Lines::default();
        out.add(
            "",
            &format!(
                "{name}: {}, {}",
                counted(facts.points as u64, "point"),
                counted(facts.triangles as u64, "triangle")
            ),
        );
        for sentence in self.sentences() {
            out.add("  ", &sentence);
        }
        out.blank();
        let mut row = |head: &str, words: &str| out.row(&format!("  {head:<18} {words}"));
        row("area", &self.show.area(facts.area_m2));
        row("along the slope", &self.show.area(facts.surface_area_m2));
        let lowest = self.heights.level(facts.min_z_m);
        row(
            "heights",
            &format!("{lowest} to {}", self.height(facts.max_z_m)),
        );
        let steepest = Slope::from_rise_per_run(facts.max_slope_rise_per_run);
        row(
            "steepest triangle",
            &format!("{steepest} (may be a sliver)"),
        );
        if let Some((z, volume)) = above {
            let unit = self.heights.length_unit();
            for (side, m3) in [("above", volume.cut_m3), ("below", volume.fill_m3)] {
                let volume = self.show.volume(m3);
                out.row(&format!("  volume {side} {z} {unit}: {volume}"));
            }
        }
        out.row("  by slope");
        for band in &self.relief.bands {
            out.add(
                &format!("    {}  ", band.letter),
                &format!("{band}: {}", self.area_with_share(band)),
            );
        }
        out.0
    }
}

fn band_json(band: &SlopeBand) -> Value {
    json!({
        "letter": band.letter,
        "over_rise_per_run": band.over,
        "up_to_rise_per_run": band.up_to,
        "area_m2": band.area_m2(),
    })
}
