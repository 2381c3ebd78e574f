//! Level books that do not close: every level of the job stands on them.

use crate::survey::BookStatus;

use super::{Checked, Context, Finding, Measure, Severity};

pub(super) fn check(context: &Context, out: &mut Checked) {
    let books = &context.survey.books;
    if books.is_empty() {
        out.missing("SV-1", "no level book: the points come with their levels");
    }
    for book in books {
        let words = format!("{}: {}", book.file, book.words);
        if book.misclosure_m.is_some() {
            out.looked("SV-1", words.clone());
        } else {
            out.missing("SV-1", words.clone());
        }
        let (severity, cure) = match book.status {
            BookStatus::Refused => (
                Severity::Stop,
                "find the wrong reading or shoot the book again; do not dig to these levels",
            ),
            BookStatus::Open => (
                Severity::Warn,
                "shoot the benchmark again from the last set-up, so that something checks the readings",
            ),
            BookStatus::Closed | BookStatus::Adjusted => continue,
        };
        let measure = |value| Measure { value, unit: "m" };
        out.find(Finding {
            ids: &["SV-1"],
            place: book.file.clone(),
            measured: book.misclosure_m.map(|m| measure(m.abs())),
            limit: book.allowed_m.map(measure),
            limit_from: format!("{}; yours to change with allow", book.allowance),
            cure: cure.to_owned(),
            ..Finding::new("level-book", severity, words)
        });
    }
}
