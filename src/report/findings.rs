//! Findings as CSV, SI with the unit in a column of its own.

use super::sheets::csv_text;
use crate::outcome::Outcome;

/// All findings, one a row.
pub fn findings_csv(outcome: &Outcome) -> String {
    let head = [
        "severity",
        "rule",
        "ids",
        "feature",
        "words",
        "place",
        "x_m",
        "y_m",
        "measured",
        "limit",
        "unit",
        "limit_from",
        "cure",
        "caution",
        "source",
    ];
    // Minus zero is zero.
    let number = |value: Option<f64>| value.map(|v| (v + 0.0).to_string()).unwrap_or_default();
    let rows = outcome.findings.iter().map(|f| {
        vec![
            // One word in every format for machines.
            f.severity.word().replace(' ', "-"),
            f.rule.to_owned(),
            f.ids.join(" "),
            f.feature.clone().unwrap_or_default(),
            f.words.clone(),
            f.place.clone(),
            number(f.at_m.map(|at| at[0])),
            number(f.at_m.map(|at| at[1])),
            number(f.measured.as_ref().map(|m| m.value)),
            number(f.limit.as_ref().map(|m| m.value)),
            f.measured
                .as_ref()
                .map(|m| m.unit.to_owned())
                .unwrap_or_default(),
            f.limit_from.clone(),
            f.cure.clone(),
            f.caution.map(|c| c.to_string()).unwrap_or_default(),
            f.source.clone(),
        ]
    });
    csv_text(&head, rows)
}
