//! What became of water: where it ends and what it met on its way.

use std::collections::BTreeMap;

use super::tin::Mark;

/// Where water ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sink {
    /// In a pit, by number.
    Pit(u32),
    /// Over the rim of the surface.
    Rim,
    /// At a mark that holds what reaches it.
    Held(Mark),
}

/// Where water ends and what it met before.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Label {
    /// Where it ends.
    pub sink: Sink,
    /// Marks it met, ascending.
    pub met: Vec<Mark>,
}

impl Label {
    /// True if it met a mark or ended at it.
    pub fn reaches(&self, mark: Mark) -> bool {
        self.sink == Sink::Held(mark) || self.met.binary_search(&mark).is_ok()
    }
}

/// All labels there are, each once.
#[derive(Clone, Debug, Default)]
pub(super) struct Labels {
    pub(super) all: Vec<Label>,
    numbers: BTreeMap<Label, u32>,
    with: BTreeMap<(u32, Mark), u32>,
}

impl Labels {
    pub(super) fn number(&mut self, label: Label) -> u32 {
        let all = &mut self.all;
        *self.numbers.entry(label).or_insert_with_key(|label| {
            all.push(label.clone());
            all.len() as u32 - 1
        })
    }

    pub(super) fn sink(&mut self, sink: Sink) -> u32 {
        self.number(Label {
            sink,
            met: Vec::new(),
        })
    }

    /// The same with one more mark met.
    pub(super) fn with(&mut self, label: u32, mark: Mark) -> u32 {
        if let Some(&known) = self.with.get(&(label, mark)) {
            return known;
        }
        let mut more = self.all[label as usize].clone();
        if let Err(place) = more.met.binary_search(&mark) {
            more.met.insert(place, mark);
        }
        let number = self.number(more);
        self.with.insert((label, mark), number);
        number
    }
}
