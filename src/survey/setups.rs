//! Where a set-up of a level book begins, and which rod it was read with.
//!
//! Part of the reader of level books (`levels`): takes row after row, tells them apart. Reads no
//! reading and knows no level.

use crate::diag::{At, Diagnostic};
use crate::job::Rod;

use super::book::SightKind;
use super::levels::{BookedSetup, Reader};
use super::table::{Faults, Row};

impl Reader<'_> {
    /// The rod of the present set-up, which a cell may name where the set-up begins.
    pub(super) fn rod(&mut self, row: &Row<'_>, turning: bool, faults: &mut Faults) -> Rod {
        let index = self.booked.setups.len() - 1;
        let first = self.booked.sights.last().is_none_or(|s| s.setup != index);
        let setup = &mut self.booked.setups[index];
        let column = self.layout.rod_kind;
        let words = row.cell(column);
        if words.is_empty() || turning {
            return setup.rod;
        }
        match Rod::from_words(words) {
            None => faults.push(
                Diagnostic::error("bad-rod-kind", "this is no kind of rod")
                    .at(row.at(column))
                    .help(format!("write {}", Rod::WORDS)),
            ),
            Some(rod) if first => setup.rod = rod,
            Some(rod) if rod != setup.rod => {
                let message = format!(
                    "set-up {} was begun with a rod in {}, and here it is another",
                    setup.name,
                    setup.rod.words()
                );
                faults.push(
                    Diagnostic::error("rod-changes", message)
                        .at(At::line(&self.spec.file, setup.line))
                        .at(row.at(column))
                        .help(if rod.kind == setup.rod.kind {
                            "one reading of a rod on its head is booked with a minus sign in front, \
                             under the rod of its set-up"
                        } else {
                            "name the rod in the first row of the set-up and keep it; a row with \
                             FS and BS carries the rod of the set-up that begins there"
                        }),
                );
            }
            Some(_) => {}
        }
        setup.rod
    }

    /// Goes to the set-up a sight belongs to, beginning a new one where the book does.
    pub(super) fn enter(
        &mut self,
        row: &Row<'_>,
        kind: SightKind,
        both: bool,
        faults: &mut Faults,
    ) {
        let label = row.cell(self.layout.setup);
        let turn = both && kind == SightKind::Foresight;
        let mut differs = !label.is_empty() && label != self.label;
        let backsight = kind == SightKind::Backsight;
        if differs && self.label_open && !turn && !(backsight && self.after_fs) {
            if let Some(setup) = self.booked.setups.last_mut() {
                setup.name = label.to_owned();
            }
            self.label = label.to_owned();
            self.label_open = false;
            differs = false;
        }
        let first = self.booked.setups.is_empty();
        let begins = first || (differs && !turn) || (backsight && self.after_fs);
        if begins {
            let number = (self.booked.setups.len() + 1).to_string();
            let name = if differs { label.to_owned() } else { number };
            // A turning point may still carry the name of the set-up before, or none.
            self.label_open = !differs;
            if differs {
                self.label = label.to_owned();
            }
            self.booked.setups.push(BookedSetup {
                name,
                line: row.line,
                rod: self.spec.rod,
            });
            self.after_fs = false;
            self.warned = false;
            if !backsight {
                let setup = self.booked.setups.last().map_or("", |s| s.name.as_str());
                let message = format!(
                    "set-up {setup} begins with {}, not with a backsight",
                    kind.name()
                );
                faults.push(
                    Diagnostic::error("no-backsight", message)
                        .at(row.row_at())
                        .help("book the reading on a known point first, as BS"),
                );
            }
        }
        if self.after_fs && kind == SightKind::Intermediate && !self.warned {
            self.warned = true;
            let message = "a shot after the foresight is reduced with the plane of the same set-up";
            self.notes.push(
                Diagnostic::warn("shot-after-foresight", message)
                    .at(row.row_at())
                    .help("if the tripod was moved in between, a BS is missing"),
            );
        }
        if !begins && label == self.label && !label.is_empty() {
            self.label_open = false;
        }
        self.after_fs |= kind == SightKind::Foresight;
    }
}
