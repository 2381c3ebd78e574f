//! All rules that are known, and for each: looked at with what result, not looked at because, or
//! out of what is looked at.

use super::{Checked, Severity};

/// The rules as they are shipped.
const TABLE: &str = include_str!("rules.csv");

/// A rule: what is asked for, from where, and who decides.
#[derive(Clone, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Rule {
    /// Short name, such as `EX-1`.
    pub id: String,
    /// What it is about.
    pub topic: String,
    /// What it asks for.
    pub rule: String,
    /// The usual figure, in words.
    pub limit: String,
    /// Unit of the figure.
    pub unit: String,
    /// Where it is from.
    pub source: String,
    /// Who decides.
    pub defer_to: String,
    /// Why it is not looked at at all; empty for one that is.
    pub outside: String,
}

/// How far a rule was looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// Looked at.
    Checked,
    /// Not looked at: something is missing.
    NotChecked,
    /// Out of what is looked at.
    Outside,
}

impl State {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            State::Checked => "checked",
            State::NotChecked => "not checked",
            State::Outside => "out of what is looked at",
        }
    }
}

/// What is to be said of a rule.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct RuleAnswer {
    /// The rule.
    #[serde(flatten)]
    pub rule: Rule,
    /// How far it was looked at.
    pub state: State,
    /// What was looked at and what came of it, or why not.
    pub words: String,
    /// Findings on it, by number in the list of findings from 0.
    pub findings: Vec<usize>,
}

/// All rules, in the order of the table.
pub fn rules() -> Vec<Rule> {
    csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(TABLE.as_bytes())
        .deserialize()
        .filter_map(Result::ok)
        .collect()
}

/// What a check said of a rule it looked at, or could not look at.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Said {
    pub(super) id: &'static str,
    /// Without it the rule was looked at.
    pub(super) is_missing: bool,
    pub(super) words: String,
}

/// The answer to every rule, from what the checks said and found; the findings are in order.
pub(super) fn answers(checked: &Checked, said: &[Said]) -> Vec<RuleAnswer> {
    rules()
        .into_iter()
        .map(|rule| {
            let findings: Vec<usize> = (0..checked.findings.len())
                .filter(|&k| checked.findings[k].ids.iter().any(|id| *id == rule.id))
                .collect();
            let of = |is_missing: bool| {
                let mine = said.iter().filter(|s| s.id == rule.id);
                let words: Vec<&str> = mine
                    .filter(|s| s.is_missing == is_missing)
                    .map(|s| s.words.as_str())
                    .collect();
                words
            };
            let (looked, missing) = (of(false), of(true));
            // What could not be judged in part is never passed over.
            let (state, words) = if !rule.outside.is_empty() {
                (State::Outside, rule.outside.clone())
            } else if !missing.is_empty() {
                let all: Vec<&str> = missing.into_iter().chain(looked).collect();
                (State::NotChecked, all.join("; "))
            } else if !looked.is_empty() {
                (State::Checked, looked.join("; "))
            } else if !findings.is_empty() {
                (State::Checked, String::new())
            } else {
                let because = "nothing here looks at it yet".to_owned();
                (State::NotChecked, because)
            };
            let found = found_words(checked, &findings);
            let words = match (state, words.is_empty(), found.is_empty()) {
                (State::Outside, ..) | (_, false, true) => words,
                (_, true, _) => found,
                (_, false, false) => format!("{words}; {found}"),
            };
            RuleAnswer {
                rule,
                state,
                words,
                findings,
            }
        })
        .collect()
}

/// "1 stop, 2 warn".
fn found_words(checked: &Checked, findings: &[usize]) -> String {
    let count = |severity: Severity| {
        let of = findings
            .iter()
            .filter(|&&k| checked.findings[k].severity == severity);
        (of.count(), severity.word())
    };
    let words: Vec<String> = Severity::ALL
        .into_iter()
        .map(count)
        .filter(|(n, _)| *n > 0)
        .map(|(n, word)| format!("{n} {word}"))
        .collect();
    words.join(", ")
}
