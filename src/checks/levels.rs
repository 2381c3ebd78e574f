//! Level books that do not close: every level of the job stands on them.

use crate::survey::BookStatus;

use super::{Context, Finding, Measure, Severity};

pub(super) fn check(context: &Context) -> Vec<Finding> {
    let judge = |status: BookStatus| match status {
        BookStatus::Refused => Some((
            Severity::Stop,
            "find the wrong reading or shoot the book again; do not dig to these levels",
        )),
        BookStatus::Open => Some((
            Severity::Warn,
            "shoot the benchmark again from the last set-up, so that something checks the readings",
        )),
        BookStatus::Closed | BookStatus::Adjusted => None,
    };
    context
        .survey
        .books
        .iter()
        .filter_map(|book| {
            let (severity, cure) = judge(book.status)?;
            let measure = |value| Measure { value, unit: "m" };
            Some(Finding {
                place: book.file.clone(),
                measured: book.misclosure_m.map(|m| measure(m.abs())),
                limit: book.allowed_m.map(measure),
                limit_from: format!("{}; yours to change with allow", book.allowance),
                cure: cure.to_owned(),
                ..Finding::new(
                    "level-book",
                    severity,
                    format!("{}: {}", book.file, book.words),
                )
            })
        })
        .collect()
}
