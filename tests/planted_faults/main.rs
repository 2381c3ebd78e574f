//! For every family of rules a yard with that fault alone, which is found, and its repaired
//! twin, which is not flagged; and what holds for the register of rules.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod access;
#[path = "../common/mod.rs"]
mod common;
mod digging;
mod fills;
mod records;
mod slopes;

mod wall_objects;
mod walls;

mod drainage;

use common::{Folder, run_job};
use cutbank::checks::{Finding, rules};
use cutbank::outcome::Outcome;

#[test]
fn the_register_holds_every_rule_once() {
    let rules = rules();
    let mut ids: Vec<&str> = rules.iter().map(|rule| rule.id.as_str()).collect();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!((rules.len(), ids.len()), (82, 82));
    for rule in &rules {
        assert!(!rule.source.is_empty() && !rule.rule.is_empty(), "{rule:?}");
    }
}

/// A square yard of 60 m at the level `z(x, y)`, with features and the rest of a job in metres.
fn yard(z: impl Fn(f64, f64) -> f64, rest: &str) -> Outcome {
    let mut csv = String::from("name,x,y,z\n");
    for i in 0..=12 {
        for j in 0..=12 {
            // Off the grid a little, so that the triangulation is unique.
            let (x, y) = (
                f64::from(i) * 5.0 + f64::from(j) * 0.013,
                f64::from(j) * 5.0,
            );
            csv += &format!("{i}-{j},{x},{y},{}\n", z(x, y));
        }
    }
    let job = format!(
        "[job]\nname = \"test\"\nunits = \"m\"\n[[survey]]\npoints = \"points.csv\"\n{rest}"
    );
    run_job(Folder::default().with("points.csv", &csv), &job)
}

/// Findings that go with a rule and ask for something: stop or warn.
fn flagged<'a>(outcome: &'a Outcome, id: &str) -> Vec<&'a Finding> {
    use cutbank::checks::Severity;
    let asks = |f: &&Finding| f.ids.contains(&id) && f.severity <= Severity::Warn;
    outcome.findings.iter().filter(asks).collect()
}

#[test]
fn an_empty_yard_has_no_fault() {
    let outcome = yard(|x, _| 10.0 - 0.05 * x, "");
    for rule in rules() {
        assert!(flagged(&outcome, &rule.id).is_empty(), "{}", rule.id);
    }
    assert_eq!(outcome.rules.len(), 82);
}

#[test]
fn nothing_to_judge_is_not_passed() {
    use cutbank::checks::State;
    let outcome = yard(|x, _| 10.0 - 0.05 * x, "");
    for id in [
        "EX-1", "EX-2", "EX-6", "EX-7", "EX-8", "EX-9", "EX-10", "EX-13", "GR-1", "GR-2", "GR-5",
        "GR-7", "GR-8", "WL-1", "WL-4", "WL-10", "BM-1", "BM-3", "BM-4", "BM-6", "BM-7", "WA-12",
        "WA-14", "SV-1", "SV-4", "DR-1", "DR-10",
    ] {
        let answer = outcome.rules.iter().find(|a| a.rule.id == id).unwrap();
        assert_eq!(answer.state, State::NotChecked, "{id}: {}", answer.words);
        assert!(!answer.words.is_empty(), "{id}");
    }
}
