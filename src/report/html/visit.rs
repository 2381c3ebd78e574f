//! The page of a job without places: the answer in sentences, then levels and books.

use super::super::visit::{NO_GROUND, against, sentences};
use super::page::{Frame, Head, Page};
use crate::outcome::VisitOutcome;
use crate::show::Show;

/// The page of a quick visit.
pub fn visit_html(outcome: &VisitOutcome) -> String {
    let show = Show::new(outcome.job.units);
    let mut page = Page::new(outcome, show);
    page.heading("answer", "The answer");
    for sentence in sentences(show, &outcome.visit) {
        page.paragraph(&sentence);
    }
    page.quiet(NO_GROUND);
    page.levels();
    page.heading("books", "Level books");
    for book in &outcome.survey.books {
        page.paragraph(&format!("{}: {}", book.file, book.words));
    }
    page.doubts(&outcome.diagnostics);
    page.files(&outcome.inputs);
    let mark = match &outcome.survey.benchmark {
        Some(b) if b.words.is_empty() => format!("Levels count from {}", b.name),
        Some(b) => format!("Levels count from {} ({})", b.name, b.words),
        None => "Levels as given in the book".to_owned(),
    };
    page.finish(&Frame {
        name: &outcome.job.name,
        title: "levels and slopes of a first visit",
        date: &outcome.date,
        line: &format!(
            "{}. {mark}. Lengths and levels in {}.",
            outcome.date,
            show.length_unit()
        ),
    })
}

impl Page<'_, VisitOutcome> {
    fn levels(&mut self) {
        let (outcome, show) = (self.outcome, self.show);
        self.heading("levels", "Levels");
        let benchmark = outcome.survey.benchmark.as_ref();
        let rows: Vec<(&str, Vec<String>)> = outcome
            .visit
            .points
            .iter()
            .map(|point| {
                let beside = benchmark.map_or_else(String::new, |b| against(show, point, b));
                (
                    "",
                    vec![
                        point.name.clone(),
                        show.level(point.level_m),
                        beside,
                        point.at.to_string(),
                    ],
                )
            })
            .collect();
        let heads = [
            Head::Text("point"),
            Head::Number(format!("level {}", show.length_unit())),
            Head::Text("against the benchmark"),
            Head::Text("booked"),
        ];
        self.table("From the highest to the lowest", &heads, &rows);
    }
}
