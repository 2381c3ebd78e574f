//! How long each stage of a command took.

use std::time::Instant;

use serde_json::{Value, json};

/// Stages in the order they first ran, with the seconds they took.
#[derive(Default)]
pub(super) struct Stages(Vec<(&'static str, f64)>);

impl Stages {
    /// Does a piece of work and adds its time to a stage.
    pub(super) fn time<T>(&mut self, stage: &'static str, work: impl FnOnce() -> T) -> T {
        let start = Instant::now();
        let result = work();
        let seconds = start.elapsed().as_secs_f64();
        match self.0.iter_mut().find(|(name, _)| *name == stage) {
            Some((_, sum)) => *sum += seconds,
            None => self.0.push((stage, seconds)),
        }
        result
    }

    /// Adds the times to an answer for machines, as `stages_s`.
    pub(super) fn tell(&self, answer: &mut Value) {
        if let Value::Object(map) = answer {
            let stages = self
                .0
                .iter()
                .map(|(name, s)| ((*name).to_owned(), json!(s)));
            map.insert("stages_s".to_owned(), stages.collect());
        }
    }
}
