//! Shots that the job takes out: they make no ground, and stay visible.
//!
//! Takes shots as the readers found them and the `[[strike]]` entries of the job, parts the
//! shots. A level book still carries its levels over a struck point: the entry is about the
//! ground.

use crate::diag::{At, Diagnostic, nearest};
use crate::job::Strike;

use super::{RawShot, Shot};

/// A shot that was taken out, and why.
#[derive(Clone, Debug)]
pub struct Struck {
    /// The shot, as booked.
    pub shot: Shot,
    /// The reason the job gives; empty if none.
    pub why: String,
}

/// Parts shots that stay from shots that are struck out; every strike is said.
///
/// # Errors
///
/// (as diagnostics) a strike that means no shot, or more than one
pub(super) fn part(
    raw: Vec<RawShot>,
    strikes: &[Strike],
    said: &mut Vec<Diagnostic>,
) -> (Vec<RawShot>, Vec<(RawShot, String)>) {
    let mut struck_by: Vec<Option<&Strike>> = vec![None; raw.len()];
    for strike in strikes {
        let meant: Vec<usize> = (0..raw.len()).filter(|&i| means(strike, &raw[i])).collect();
        match meant.as_slice() {
            [] => said.push(no_shot(strike, &raw)),
            &[one] => match struck_by[one] {
                Some(before) => said.push(
                    Diagnostic::warn(
                        "struck-twice",
                        format!("{} is struck out twice", strike.shot),
                    )
                    .at(before.at.clone())
                    .at(strike.at.clone())
                    .help("take one of the entries out"),
                ),
                None => {
                    struck_by[one] = Some(strike);
                    said.push(note(strike, &raw[one]));
                }
            },
            several => said.push(which(strike, several, &raw)),
        }
    }
    let mut kept = Vec::with_capacity(raw.len());
    let mut struck = Vec::new();
    for (shot, strike) in raw.into_iter().zip(struck_by) {
        match strike {
            Some(strike) => struck.push((shot, strike.why.clone())),
            None => kept.push(shot),
        }
    }
    (kept, struck)
}

fn means(strike: &Strike, shot: &RawShot) -> bool {
    strike.shot == shot.name
        && strike
            .file
            .as_ref()
            .is_none_or(|file| *file == shot.at.file)
        && strike.line.is_none_or(|line| line == shot.at.line)
}

fn note(strike: &Strike, shot: &RawShot) -> Diagnostic {
    let why = if strike.why.is_empty() {
        "no reason is given".to_owned()
    } else {
        strike.why.clone()
    };
    Diagnostic::note(
        "struck",
        format!(
            "shot {} is struck out and makes no ground: {why}",
            shot.name
        ),
    )
    .at(shot.at.clone())
    .at(strike.at.clone())
}

fn no_shot(strike: &Strike, raw: &[RawShot]) -> Diagnostic {
    let name = &strike.shot;
    let named = raw.iter().find(|shot| shot.name == *name);
    let help = match (named, nearest(name, raw.iter().map(|s| s.name.as_str()))) {
        (Some(shot), _) => format!("the shot of this name stands in {}", shot.at),
        (None, Some(near)) => format!("is \"{near}\" meant?"),
        (None, None) => "name the shot as it is booked".to_owned(),
    };
    Diagnostic::error(
        "no-shot",
        format!("there is no shot \"{name}\" to strike out"),
    )
    .at(strike.at.clone())
    .help(help)
}

fn which(strike: &Strike, several: &[usize], raw: &[RawShot]) -> Diagnostic {
    let places: Vec<At> = several.iter().map(|&i| raw[i].at.clone()).collect();
    let first = &places[0];
    let mut error = Diagnostic::error(
        "several-shots",
        format!("{} shots are named \"{}\"", several.len(), strike.shot),
    )
    .at(strike.at.clone())
    .help(format!(
        "say which: file = \"{}\", line = {}",
        first.file, first.line
    ));
    error.at.extend(places);
    error
}
