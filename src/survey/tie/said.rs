//! What is said of ties: the first of each kind in full, the rest counted.

use std::collections::BTreeMap;

use crate::diag::{Diagnostic, has_error};
use crate::survey::table::MAX_LISTED;

/// Diagnostics in the order they came up.
#[derive(Debug, Default)]
pub(super) struct Said {
    listed: Vec<Diagnostic>,
    /// How many of each kind came up.
    counts: BTreeMap<&'static str, usize>,
    /// The first of each kind that is only counted.
    unlisted: BTreeMap<&'static str, Diagnostic>,
}

impl Said {
    /// Says something.
    pub(super) fn say(&mut self, diagnostic: Diagnostic) {
        let count = self.counts.entry(diagnostic.code).or_default();
        *count += 1;
        if *count <= MAX_LISTED {
            self.listed.push(diagnostic);
        } else {
            self.unlisted.entry(diagnostic.code).or_insert(diagnostic);
        }
    }

    /// True if more of this kind are only counted.
    pub(super) fn is_full(&self, code: &str) -> bool {
        self.counts
            .get(code)
            .is_some_and(|&count| count >= MAX_LISTED)
    }

    /// Says something that holds for all rows alike, once.
    pub(super) fn once(&mut self, diagnostic: Diagnostic) {
        if !self.counts.contains_key(diagnostic.code) {
            self.say(diagnostic);
        }
    }

    /// True as long as nothing stops the step.
    pub(super) fn is_sound(&self) -> bool {
        !has_error(&self.listed)
    }

    /// Hands everything over.
    pub(super) fn finish(self, diagnostics: &mut Vec<Diagnostic>) {
        diagnostics.extend(self.listed);
        for (code, first) in self.unlisted {
            let more = self.counts[code] - MAX_LISTED;
            diagnostics.push(Diagnostic {
                message: format!("and {more} more like these, from here on"),
                help: String::new(),
                ..first
            });
        }
    }
}
