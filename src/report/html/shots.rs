//! Shots that need a word: placed by tape, not placed, struck out.

use super::page::{Head, Page};
use crate::survey::Survey;

/// Most shots placed by tape that are listed; all stand in report.json.
const MOST_TIES: usize = 60;

impl Page<'_> {
    /// Nothing, where every shot has coordinates and is used.
    pub(super) fn shots(&mut self) {
        let survey = &self.outcome.survey;
        let is_plain =
            survey.ties.is_empty() && survey.unplaced.is_empty() && survey.struck.is_empty();
        if is_plain {
            return;
        }
        self.heading("shots", "Shots by tape, and shots taken out");
        self.corners(survey);
        self.ties(survey);
        self.unplaced(survey);
        self.struck(survey);
    }

    fn corners(&mut self, survey: &Survey) {
        if survey.corners.is_empty() {
            return;
        }
        let show = self.show;
        let rows: Vec<(&str, Vec<String>)> = survey
            .corners
            .iter()
            .map(|corner| {
                let (x_nm, y_nm) = corner.place_nm;
                let place = show.place(x_nm as f64 * 1e-9, y_nm as f64 * 1e-9);
                let how = match (corner.is_given, &corner.ellipse) {
                    (true, _) => "given".to_owned(),
                    (false, Some(e)) => {
                        format!("by tape, good to {}", show.level_with_unit(e.semi_major_m))
                    }
                    (false, None) => "by tape; the others hang on it".to_owned(),
                };
                ("", vec![corner.name.clone(), place, how])
            })
            .collect();
        let heads = ["corner", "place", "how"].map(Head::Text);
        self.table("Corners", &heads, &rows);
    }

    fn ties(&mut self, survey: &Survey) {
        if survey.ties.is_empty() {
            return;
        }
        let show = self.show;
        let rows: Vec<(&str, Vec<String>)> = survey
            .ties
            .iter()
            .take(MOST_TIES)
            .map(|fix| {
                let or_none = |words: Option<String>| words.unwrap_or_else(|| "none".to_owned());
                let crossing = fix
                    .sin_crossing
                    .map(|sin| format!("{:.0} degrees", sin.clamp(0.0, 1.0).asin().to_degrees()));
                let good_to = fix.ellipse.map(|e| show.level_with_unit(e.semi_major_m));
                let residual = fix.largest_residual_m.map(|m| show.level_with_unit(m));
                (
                    "",
                    vec![
                        fix.name.clone(),
                        fix.corners.join(", "),
                        or_none(crossing),
                        good_to.unwrap_or_else(|| "not computed".to_owned()),
                        residual.unwrap_or_else(|| "nothing checks it".to_owned()),
                        fix.at.to_string(),
                    ],
                )
            })
            .collect();
        let heads = [
            Head::Text("shot"),
            Head::Text("from"),
            Head::Text("tapes cross at"),
            Head::Text("good to (1 sigma)"),
            Head::Text("tapes agree within"),
            Head::Text("booked"),
        ];
        self.table("Placed by tape", &heads, &rows);
        if survey.ties.len() > rows.len() {
            self.quiet(&format!(
                "{} of {} shots by tape; all in report.json.",
                rows.len(),
                survey.ties.len()
            ));
        }
    }

    fn unplaced(&mut self, survey: &Survey) {
        if survey.unplaced.is_empty() {
            return;
        }
        let show = self.show;
        let rows: Vec<(&str, Vec<String>)> = survey
            .unplaced
            .iter()
            .map(|shot| {
                let places: Vec<String> = shot
                    .answers_m
                    .iter()
                    .map(|&[x, y]| show.place(x, y))
                    .collect();
                (
                    "",
                    vec![
                        shot.name.clone(),
                        places.join(", or "),
                        shot.why.clone(),
                        shot.at.to_string(),
                    ],
                )
            })
            .collect();
        let heads = ["shot", "may be at", "why", "booked"].map(Head::Text);
        self.table("Not placed, and no part of the ground", &heads, &rows);
    }

    fn struck(&mut self, survey: &Survey) {
        if survey.struck.is_empty() {
            return;
        }
        let show = self.show;
        let rows: Vec<(&str, Vec<String>)> = survey
            .struck
            .iter()
            .map(|taken| {
                let why = match taken.why.as_str() {
                    "" => "no reason given",
                    why => why,
                };
                (
                    "",
                    vec![
                        taken.shot.name.clone(),
                        show.level_with_unit(taken.shot.z_m),
                        why.to_owned(),
                        taken.shot.at.to_string(),
                    ],
                )
            })
            .collect();
        let heads = ["shot", "level", "why", "booked"].map(Head::Text);
        self.table("Struck out by the job", &heads, &rows);
    }
}
