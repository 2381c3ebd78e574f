//! Findings as CSV, SI with the unit in a column of its own.

use crate::outcome::Outcome;

/// All findings, one a row.
pub fn findings_csv(outcome: &Outcome) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    // Writing to memory does not fail.
    let _ = writer.write_record([
        "severity",
        "rule",
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
    ]);
    let number = |value: Option<f64>| value.map(|v| v.to_string()).unwrap_or_default();
    for f in &outcome.findings {
        let _ = writer.write_record([
            f.severity.word().to_owned(),
            f.rule.to_owned(),
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
        ]);
    }
    writer
        .into_inner()
        .ok()
        .and_then(|bytes| String::from_utf8(bytes).ok())
        .unwrap_or_default()
}
