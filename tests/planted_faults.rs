//! For every family of rules a yard with that fault alone, which is found, and its repaired
//! twin, which is not flagged; and what holds for the register of rules.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

use cutbank::checks::rules;

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
