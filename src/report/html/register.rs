//! Every rule that is known, and what became of it.

use super::page::{Head, Page};
use crate::checks::State;
use crate::report::rules::counted;

impl Page<'_> {
    pub(super) fn rules(&mut self) {
        let outcome = self.outcome;
        self.heading("rules", "Rules looked at");
        self.paragraph(&format!(
            "Rules: {}. A rule that is not checked says nothing about this yard. Model codes are not law until adopted; the local text decides. The same list is in rules.csv.",
            counted(outcome)
        ));
        let mut topics: Vec<&str> = Vec::new();
        for answer in &outcome.rules {
            if !topics.contains(&answer.rule.topic.as_str()) {
                topics.push(&answer.rule.topic);
            }
        }
        let heads = [
            Head::Text("rule"),
            Head::Text("state"),
            Head::Text("what came of it"),
            Head::Text("usual figure"),
            Head::Text("source"),
            Head::Text("ask"),
        ];
        for topic in topics {
            let rows: Vec<(&str, Vec<String>)> = outcome
                .rules
                .iter()
                .filter(|answer| answer.rule.topic == topic)
                .map(|answer| {
                    let rule = &answer.rule;
                    let class = match answer.state {
                        State::Checked => "",
                        State::NotChecked | State::Outside => "quiet",
                    };
                    let figure = format!("{} {}", rule.limit, rule.unit);
                    let cells = vec![
                        format!("{}: {}", rule.id, rule.rule),
                        answer.state.word().to_owned(),
                        answer.words.clone(),
                        figure.trim().to_owned(),
                        rule.source.clone(),
                        rule.defer_to.clone(),
                    ];
                    (class, cells)
                })
                .collect();
            self.table(topic, &heads, &rows);
        }
    }
}
