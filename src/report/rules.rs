//! The register of rules as a sheet, and counted in words.

use super::sheets::csv_text;
use crate::checks::State;
use crate::outcome::Outcome;

/// Every rule that is known and what became of it, one a row.
pub fn rules_csv(outcome: &Outcome) -> String {
    let head = [
        "id", "topic", "rule", "limit", "unit", "source", "state", "words", "defer_to",
    ];
    let rows = outcome.rules.iter().map(|answer| {
        let rule = &answer.rule;
        vec![
            rule.id.clone(),
            rule.topic.clone(),
            rule.rule.clone(),
            rule.limit.clone(),
            rule.unit.clone(),
            rule.source.clone(),
            answer.state.word().to_owned(),
            answer.words.clone(),
            rule.defer_to.clone(),
        ]
    });
    csv_text(&head, rows)
}

/// "40 checked, 31 not checked, 11 out of what is looked at; 82 in all".
pub(super) fn counted(outcome: &Outcome) -> String {
    let parts: Vec<String> = [State::Checked, State::NotChecked, State::Outside]
        .into_iter()
        .map(|state| {
            let count = outcome.rules.iter().filter(|r| r.state == state).count();
            format!("{count} {}", state.word())
        })
        .collect();
    format!("{}; {} in all", parts.join(", "), outcome.rules.len())
}
