//! The command `contours`: lines of one level over a surface.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::diag::{At, Diagnostic, Failure};
use crate::export::contour_lines;
use crate::geom::Origin;
use crate::report::{SCHEMA, csv_text};
use crate::show::Show;
use crate::surface::{
    Contour, Round, Surface, contour_interval_m, contour_pieces, contours, levels_between,
};

use super::Answer;
use super::align::align;
use super::args::{Format, Output, Reading};
use super::commands::{number, pretty};
use super::export::Export;
use super::source::{for_sources, load};
use super::stages::Stages;

/// Most straight pieces of line in one answer: some 5 MB of JSON, and far more than a yard has.
const MOST_PIECES: usize = 100_000;

/// Most levels in one answer.
const MOST_LEVELS: f64 = 100_000.0;

pub(super) fn contours_of(
    source: &str,
    interval: Option<f64>,
    levels: &[f64],
    export: Option<&str>,
    reading: &Reading,
    output: Output,
) -> Result<Answer, Failure> {
    let export = Export::of_lines(export)?;
    let reading = &for_sources(reading, &[source])?;
    let loaded = load(source, reading, &mut Stages::default())?;
    let diagnostics = loaded.diagnostics.clone();
    let (surfaces, origin) = align(vec![loaded])?;
    let (name, surface) = &surfaces[0];
    let unit = reading.z_unit();
    let range = surface.z_range().ok_or_else(|| {
        Failure::from(Diagnostic::error("no-ground", "there is no surface").at(At::file(source)))
    })?;
    let interval_m = match interval {
        Some(interval) => unit.to_m(interval),
        None => contour_interval_m(unit, range.1 - range.0),
    };
    let levels_m = if levels.is_empty() {
        levels_at(range, interval_m, reading)?
    } else {
        let mut levels_m: Vec<f64> = levels.iter().map(|&z| unit.to_m(z)).collect();
        levels_m.sort_by(f64::total_cmp);
        levels_m.dedup();
        levels_m
    };
    let pieces = contour_pieces(surface, &levels_m);
    if pieces > MOST_PIECES {
        return Err(too_many(
            &format!("{pieces} straight pieces of line"),
            range,
            reading,
        ));
    }
    let lines = contours(surface, &levels_m, &|_| true);
    let written = match &export {
        Some(export) => export.lines(origin, &contour_lines(name, &lines))?,
        None => Vec::new(),
    };
    let text = match output.format {
        Format::Json => {
            let interval_m = levels.is_empty().then_some(interval_m);
            let lines: Vec<Value> = lines.iter().map(|line| line_json(line, origin)).collect();
            let mut value = json!({
                "schema": SCHEMA,
                "source": name,
                "interval_m": interval_m,
                "levels_m": levels_m,
                "lines": lines,
            });
            if export.is_some() {
                value["written"] = json!(written);
            }
            pretty(&value)
        }
        Format::Csv => csv_text(
            &["line", "level_m", "length_m", "closed", "x_m", "y_m"],
            lines.iter().enumerate().flat_map(|(k, line)| {
                line.points.iter().map(move |p| {
                    let [x, y] = absolute_m(*p, origin);
                    vec![
                        (k + 1).to_string(),
                        number(line.level_m),
                        number(line.length_m()),
                        line.closed.to_string(),
                        number(x),
                        number(y),
                    ]
                })
            }),
        ),
        Format::Text => {
            let every = levels.is_empty().then_some(interval_m);
            let mut text = text(name, surface, every, &levels_m, &lines, reading);
            if let Some(export) = &export {
                text.push_str(&export.words(&written));
            }
            text
        }
    };
    Ok(Answer::new(text, diagnostics))
}

/// All multiples of an interval that the surface reaches.
fn levels_at(range: (f64, f64), interval_m: f64, reading: &Reading) -> Result<Vec<f64>, Failure> {
    let count = (range.1 - range.0) / interval_m;
    if count > MOST_LEVELS {
        return Err(too_many(&format!("{count:.0} levels"), range, reading));
    }
    // In the unit of heights first, so that a level is what was asked for to the last digit.
    let unit = reading.z_unit();
    let step = unit.from_m(interval_m);
    Ok(levels_between(range.0, range.1, interval_m)
        .into_iter()
        .map(|(k, _)| unit.to_m(k as f64 * step))
        .collect())
}

fn too_many(what: &str, range: (f64, f64), reading: &Reading) -> Failure {
    let unit = reading.z_unit();
    let usual = unit.from_m(contour_interval_m(unit, range.1 - range.0));
    Diagnostic::error(
        "too-many-contours",
        format!("contours this close would make {what}; at most {MOST_PIECES} are drawn"),
    )
    .help(format!(
        "take a larger interval; for this fall --interval {usual} is usual"
    ))
    .into()
}

fn absolute_m([x, y]: [f64; 2], origin: Origin) -> [f64; 2] {
    [x + origin.x_m as f64, y + origin.y_m as f64]
}

fn line_json(line: &Contour, origin: Origin) -> Value {
    let points: Vec<Value> = line
        .points
        .iter()
        .map(|p| {
            let [x, y] = absolute_m(*p, origin);
            json!({ "x_m": x, "y_m": y })
        })
        .collect();
    json!({
        "level_m": line.level_m,
        "length_m": line.length_m(),
        "closed": line.closed,
        "round": line.round().map(round_word),
        "points": points,
    })
}

fn round_word(round: Round) -> &'static str {
    match round {
        Round::Top => "top",
        Round::Hollow => "hollow",
    }
}

fn text(
    name: &str,
    surface: &Surface,
    interval_m: Option<f64>,
    levels_m: &[f64],
    lines: &[Contour],
    reading: &Reading,
) -> String {
    let show = Show::new(reading.unit());
    let heights = Show::new(reading.z_unit());
    let unit = heights.length_unit();
    let mut text = String::new();
    let whole: f64 = lines.iter().map(Contour::length_m).sum();
    let every = match interval_m {
        Some(m) => format!("contours every {} {unit}", heights.unit().from_m(m)),
        None => "contours at the levels asked for".to_owned(),
    };
    let count = |n: usize, word: &str| match n {
        1 => format!("1 {word}"),
        n => format!("{n} {word}s"),
    };
    let _ = writeln!(
        text,
        "{name}: {every}: {}, {} in all",
        count(lines.len(), "line"),
        show.length(whole)
    );
    let (low, high) = surface.z_range().unwrap_or_default();
    let _ = writeln!(
        text,
        "  the surface lies from {} to {} {unit}",
        heights.level(low),
        heights.level(high)
    );
    let _ = writeln!(
        text,
        "  {:>10}  {:>6}  {:>10}  closed",
        format!("level {unit}"),
        "lines",
        format!("length {}", show.length_unit())
    );
    for &level in levels_m.iter().rev() {
        let own: Vec<&Contour> = lines.iter().filter(|l| l.level_m == level).collect();
        let round = |what: Round| own.iter().filter(|l| l.round() == Some(what)).count();
        let closed: Vec<String> = [
            (round(Round::Top), "round a top", "round tops"),
            (round(Round::Hollow), "round a hollow", "round hollows"),
        ]
        .into_iter()
        .filter(|(n, ..)| *n > 0)
        .map(|(n, one, more)| format!("{n} {}", if n == 1 { one } else { more }))
        .collect();
        let length: f64 = own.iter().map(|l| l.length_m()).sum();
        let _ = writeln!(
            text,
            "  {:>10}  {:>6}  {:>10}  {}",
            heights.level(level),
            own.len(),
            show.length_number(length),
            if closed.is_empty() {
                "none".to_owned()
            } else {
                closed.join(", ")
            }
        );
    }
    text
}
