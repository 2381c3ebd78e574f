//! The command `cures`: what the findings advise, where the job file can take it, and what soil it
//! costs.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::checks::{Change, Finding, Severity};
use crate::diag::{At, Diagnostic, Failure};
use crate::files::content;
use crate::outcome::Outcome;
use crate::report::{SCHEMA, counted, csv_text};
use crate::run::JOB_FILE;
use crate::session::{Changed, Session};
use crate::show::Show;

use super::Answer;
use super::args::{Format, Output};
use super::commands::pretty;
use super::disk::{Cores, Disk};
use super::whole::write_files;

/// A cure with what it is for.
struct Cure {
    change: Change,
    severity: Severity,
    words: String,
}

/// What a cure does: soil, and findings that say stop or warn.
struct Effect {
    changed: Changed,
    grave: [usize; 2],
}

pub(super) fn cures(
    job: &str,
    take: &[usize],
    write: bool,
    output: Output,
) -> Result<Answer, Failure> {
    let disk = Disk::new(job);
    let mut session = Session::open(&disk, &Cores)?;
    let list = cures_of(session.outcome());
    let show = Show::new(session.outcome().job.units);
    if take.is_empty() {
        let mut tried = Vec::new();
        for cure in &list {
            let effect = taken(&mut session, cure);
            if effect.is_ok() {
                // What was just laid is taken back: the job is as it was for the next one.
                session.undo().transpose()?;
            }
            tried.push(effect);
        }
        return Ok(Answer::new(listed(&list, &tried, show, output), Vec::new()));
    }
    let mut effects = Vec::new();
    for &number in take {
        let cure = number
            .checked_sub(1)
            .and_then(|k| list.get(k))
            .ok_or_else(|| {
                let has = counted(list.len() as u64, "cure");
                Failure::from(
                    Diagnostic::error(
                        "no-cure",
                        format!("there is no cure {number}: this job has {has}"),
                    )
                    .at(At::file(job))
                    .help(format!("`cutbank cures {job}` lists them")),
                )
            })?;
        effects.push((cure, taken(&mut session, cure)?));
    }
    let file = format!("{job}/{JOB_FILE}");
    if write {
        let text = session.text().to_owned();
        write_files(&[(file.clone(), content(text))]).map_err(|words| {
            Failure::from(Diagnostic::error("cannot-write", words).at(At::file(&file)))
        })?;
    }
    let mut text = String::new();
    for (cure, effect) in &effects {
        let _ = writeln!(text, "{}", line(cure));
        let _ = writeln!(text, "  {}", effect_words(effect, show));
    }
    let _ = match write {
        true => writeln!(text, "Written to {file}."),
        false => writeln!(text, "Not written: add --write to put it into {file}."),
    };
    Ok(Answer::new(text, Vec::new()))
}

/// The cures that the job file can take, each once, gravest first.
fn cures_of(outcome: &Outcome) -> Vec<Cure> {
    let mut list: Vec<Cure> = Vec::new();
    let asks = |f: &&Finding| f.severity <= Severity::Warn;
    for finding in outcome.findings.iter().filter(asks) {
        let Some(change) = &finding.change else {
            continue;
        };
        if !list.iter().any(|cure| cure.change == *change) {
            list.push(Cure {
                change: change.clone(),
                severity: finding.severity,
                words: finding.words.clone(),
            });
        }
    }
    list
}

fn grave(outcome: &Outcome) -> usize {
    outcome.count(Severity::Stop) + outcome.count(Severity::Warn)
}

fn taken(session: &mut Session, cure: &Cure) -> Result<Effect, Failure> {
    let before = grave(session.outcome());
    let Change {
        feature,
        key,
        value,
    } = &cure.change;
    let changed = session.set(feature, key, value)?;
    Ok(Effect {
        changed,
        grave: [before, grave(session.outcome())],
    })
}

fn line(cure: &Cure) -> String {
    let Change {
        feature,
        key,
        value,
    } = &cure.change;
    format!("{feature}: {key} = {value}")
}

fn effect_words(effect: &Effect, show: Show) -> String {
    let volumes = |name: &str, [before, after]: [f64; 2]| {
        format!(
            "{name} {} -> {}",
            show.volume_or_none(before),
            show.volume_or_none(after)
        )
    };
    let [before, after] = effect.grave;
    format!(
        "{} bank, {} tamped; stop and warn findings {before} -> {after}",
        volumes("cut", effect.changed.cut_m3),
        volumes("fill", effect.changed.fill_m3),
    )
}

fn listed(list: &[Cure], tried: &[Result<Effect, Failure>], show: Show, output: Output) -> String {
    let pairs = || list.iter().zip(tried).enumerate();
    match output.format {
        Format::Text if list.is_empty() => {
            "No finding has a cure that is one value of the job file.\n".to_owned()
        }
        Format::Text => {
            let mut text = String::new();
            for (k, (cure, effect)) in pairs() {
                let _ = writeln!(text, "{}. {}", k + 1, line(cure));
                let _ = writeln!(text, "   {}: {}", cure.severity.word(), cure.words);
                let _ = match effect {
                    Ok(effect) => writeln!(text, "   {}", effect_words(effect, show)),
                    Err(Failure(why)) => {
                        let words = why.first().map_or("it cannot be laid", |d| &d.message);
                        writeln!(text, "   cannot be taken: {words}")
                    }
                };
            }
            let _ = writeln!(
                text,
                "Take them with --take 1 --take 2; --write puts them into the job file."
            );
            text
        }
        Format::Json => {
            let rows: Vec<Value> = pairs()
                .map(|(k, (cure, effect))| {
                    let effect = effect.as_ref().ok();
                    json!({
                        "number": k + 1,
                        "feature": cure.change.feature,
                        "key": cure.change.key,
                        "value": cure.change.value,
                        "severity": cure.severity,
                        "words": cure.words,
                        "effect": effect.map(|e| &e.changed),
                        "grave_findings": effect.map(|e| e.grave),
                    })
                })
                .collect();
            pretty(&json!({ "schema": SCHEMA, "cures": rows }))
        }
        Format::Csv => {
            let head = [
                "number",
                "feature",
                "key",
                "value",
                "severity",
                "cut_before_m3",
                "cut_after_m3",
                "fill_before_m3",
                "fill_after_m3",
                "words",
            ];
            let rows = pairs().map(|(k, (cure, effect))| {
                let effect = effect.as_ref().ok().map(|e| &e.changed);
                let number = |v: Option<f64>| v.map(|v| v.to_string()).unwrap_or_default();
                vec![
                    (k + 1).to_string(),
                    cure.change.feature.clone(),
                    cure.change.key.clone(),
                    cure.change.value.clone(),
                    cure.severity.word().to_owned(),
                    number(effect.map(|e| e.cut_m3[0])),
                    number(effect.map(|e| e.cut_m3[1])),
                    number(effect.map(|e| e.fill_m3[0])),
                    number(effect.map(|e| e.fill_m3[1])),
                    cure.words.clone(),
                ]
            });
            csv_text(&head, rows)
        }
    }
}
