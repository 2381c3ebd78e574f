//! What is said of ties: the first of each kind in full, the rest counted.

use std::collections::BTreeMap;

use crate::diag::{Diagnostic, Level, has_error};
use crate::survey::table::MAX_LISTED;

/// Diagnostics in the order they came up.
#[derive(Debug, Default)]
pub(super) struct Said {
    listed: Vec<Diagnostic>,
    /// How many of each level and kind came up.
    counts: BTreeMap<&'static str, (Level, usize)>,
}

impl Said {
    /// Says something.
    pub(super) fn say(&mut self, diagnostic: Diagnostic) {
        let (_, count) = self
            .counts
            .entry(diagnostic.code)
            .or_insert((diagnostic.level, 0));
        *count += 1;
        if *count <= MAX_LISTED {
            self.listed.push(diagnostic);
        }
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
        for (code, (level, count)) in self.counts {
            if count > MAX_LISTED {
                let words = format!("and {} more like these", count - MAX_LISTED);
                diagnostics.push(match level {
                    Level::Error => Diagnostic::error(code, words),
                    Level::Warn => Diagnostic::warn(code, words),
                    Level::Note => Diagnostic::note(code, words),
                });
            }
        }
    }
}
