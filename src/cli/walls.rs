//! `cutbank walls`: the walls a job needs, and each as an entry for the job file.

use serde_json::json;

use crate::diag::{At, Diagnostic, Failure};
use crate::report::{SCHEMA, wall_toml, walls_list_csv, walls_text};
use crate::run;

use super::Answer;
use super::args::{Format, Output};
use super::commands::{WORKERS, pretty};
use super::disk::Disk;

/// The walls of a job, or one of them as an entry.
pub(super) fn walls(job: &str, entry: Option<usize>, output: Output) -> Result<Answer, Failure> {
    let files = Disk::new(job);
    let (read, mut diagnostics) = run::read_job(&files)?;
    let outcome = match run::answer(read, &files, WORKERS)? {
        run::Answer::Yard(outcome) => outcome,
        run::Answer::Visit(_) => {
            return Err(Diagnostic::error(
                "no-places",
                "the points of this job have levels and no places, so no wall can be looked for",
            )
            .at(At::file(job))
            .help("give the points places, by tape or by coordinates")
            .into());
        }
    };
    diagnostics.extend(outcome.diagnostics.iter().cloned());
    let text = match (entry, output.format) {
        (Some(number), format) => {
            let Some(wall) = number.checked_sub(1).and_then(|k| outcome.walls.get(k)) else {
                let message = match outcome.walls.len() {
                    0 => "this job needs no wall".to_owned(),
                    n => format!("there is no wall W{number}: this job needs W1 to W{n}"),
                };
                return Err(Diagnostic::error("no-such-wall", message)
                    .at(At::file(job))
                    .help("cutbank walls JOB lists them with their numbers")
                    .into());
            };
            match format {
                Format::Json => pretty(&json!({
                    "schema": SCHEMA,
                    "wall": number,
                    "entry": wall.entry,
                    "toml": wall_toml(&outcome, number - 1),
                })),
                Format::Text | Format::Csv => wall_toml(&outcome, number - 1),
            }
        }
        (None, Format::Text) => walls_text(&outcome),
        (None, Format::Json) => pretty(&json!({ "schema": SCHEMA, "walls": outcome.walls })),
        (None, Format::Csv) => walls_list_csv(&outcome),
    };
    Ok(Answer::new(text, diagnostics))
}
