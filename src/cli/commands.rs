//! One function a command.

use std::fmt::Write as _;
use std::path::Path;

use serde_json::{Value, json};

use crate::diag::{At, Diagnostic, Failure, Level};
use crate::export::{Drawn, profile_lines};
use crate::files::{Content, Files, Workers, content};
use crate::geom::{Origin, Point};
use crate::job::{ALLOW_HELP, Adjust, Allowance, SurveyKind};
use crate::report::{Ground, SCHEMA, counted, csv_text};
use crate::run;
use crate::show::Show;
use crate::surface::{Profile, cut_fill};
use crate::survey::{BookStatus, Visit, read_levels};
use crate::terrain::Relief;

use super::align::{align, told};
use super::args::{AdjustWord, Format, Output, Reading};
use super::disk::{Cores, Disk, EXAMPLE_FILES, Example};
use super::export::{Export, write_taken_away};
use super::folder::write_folder;
use super::source::{Loaded, for_sources, is_job, load, load_all};
use super::stages::Stages;
use super::{Answer, STOP};

pub(super) const WORKERS: &dyn Workers = &Cores;

pub(super) fn report(job: Option<&str>, out: &str, output: Output) -> Result<Answer, Failure> {
    let disk = Disk::new(job.unwrap_or_default());
    let files: &dyn Files = if job.is_some() { &disk } else { &Example };
    let mut stages = Stages::default();
    let (read, mut diagnostics) = stages.time("read", || crate::run::read_job(files))?;
    let answer = stages.time("run", || crate::run::answer(read, files, WORKERS))?;
    let (written, said) = stages.time("draw", || match &answer {
        run::Answer::Yard(outcome) => (crate::report::files(outcome), &outcome.diagnostics),
        run::Answer::Visit(visit) => (crate::report::visit_files(visit), &visit.diagnostics),
    });
    diagnostics.extend(said.iter().cloned());
    let done = stages.time("write", || write_folder(Path::new(out), &written));
    done.map_err(|words| {
        Failure::from(
            Diagnostic::error("cannot-write", words)
                .at(At::file(out))
                .help("nothing that was there before is gone; name another folder with --out"),
        )
    })?;
    let timed = |mut value: Value| {
        stages.tell(&mut value);
        pretty(&value)
    };
    let mut text = match (&answer, output.format) {
        (run::Answer::Yard(outcome), Format::Json) => timed(crate::report::json(outcome)),
        (run::Answer::Yard(outcome), Format::Csv) => crate::report::findings_csv(outcome),
        (run::Answer::Yard(outcome), Format::Text) => crate::report::text(outcome),
        (run::Answer::Visit(visit), Format::Json) => timed(crate::report::visit_report_json(visit)),
        (run::Answer::Visit(visit), Format::Csv) => crate::report::visit_csv(&visit.visit),
        (run::Answer::Visit(visit), Format::Text) => crate::report::visit_report(visit),
    };
    if output.format == Format::Text && !output.quiet {
        let page = Path::new(out).join("index.html");
        let _ = writeln!(text, "\nThe report is in {}", page.display());
    }
    let code = match &answer {
        run::Answer::Yard(outcome) if outcome.says_stop() => STOP,
        run::Answer::Visit(visit) if visit.has_refused_book() => STOP,
        _ => super::DONE,
    };
    Ok(Answer {
        text,
        diagnostics,
        code,
    })
}

pub(super) fn new(dir: &str) -> Result<Answer, Failure> {
    let path = Path::new(dir);
    let taken = |words: String| {
        Failure::from(
            Diagnostic::error("cannot-write", words)
                .at(At::file(dir))
                .help("name a folder that does not exist yet"),
        )
    };
    if path.exists() {
        return Err(taken(
            "there is something with this name already".to_owned(),
        ));
    }
    let files: Vec<(String, Content)> = EXAMPLE_FILES
        .iter()
        .map(|(name, text)| ((*name).to_owned(), content(*text)))
        .collect();
    write_folder(path, &files).map_err(taken)?;
    let mut text = String::new();
    let _ = writeln!(
        text,
        "A job to change is in {dir}: job.toml and the level book levels.csv."
    );
    let _ = writeln!(text, "Then: cutbank check {dir}, and cutbank report {dir}");
    Ok(Answer::new(text, Vec::new()))
}

pub(super) fn check(job: &str, output: Output) -> Result<Answer, Failure> {
    let result = crate::run::check_job(&Disk::new(job));
    if output.format == Format::Json {
        let (found, code) = match result {
            Ok(found) => (found, super::DONE),
            Err(Failure(found)) => (found, super::FAILED),
        };
        let value = json!({ "schema": SCHEMA, "job": job, "diagnostics": found });
        return Ok(Answer {
            text: pretty(&value),
            diagnostics: Vec::new(),
            code,
        });
    }
    let found = result?;
    let warned = found.iter().filter(|d| d.level == Level::Warn).count();
    let parts: Vec<String> = [(warned, "warning"), (found.len() - warned, "note")]
        .into_iter()
        .filter(|(count, _)| *count > 0)
        .map(|(count, word)| counted(count as u64, word))
        .collect();
    let text = match parts.join(", ").as_str() {
        "" => format!("{job}: nothing is wrong with this job\n"),
        parts => format!("{job}: this job can run; {parts}\n"),
    };
    Ok(Answer::new(text, found))
}

pub(super) fn levels(
    book: &str,
    reading: &Reading,
    adjust: AdjustWord,
    allow: Option<&str>,
    output: Output,
) -> Result<Answer, Failure> {
    let mut spec = reading.spec(book, SurveyKind::Levels)?;
    spec.adjust = match adjust {
        AdjustWord::None => Adjust::None,
        AdjustWord::Setups => Adjust::Setups,
        AdjustWord::Distance => Adjust::Distance,
    };
    if let Some(words) = allow {
        spec.allow = Allowance::from_words(words, spec.z_units).map_err(|message| {
            Diagnostic::error("bad-allowance", message)
                .at(At::cell("command line", 0, "--allow", words))
                .help(ALLOW_HELP)
        })?;
    }
    let bytes = Disk::new("").read(book).map_err(|words| {
        Failure::from(
            Diagnostic::error("no-file", words)
                .at(At::file(book))
                .help("give the level book itself by name, such as levels.csv"),
        )
    })?;
    let granted = reading.taken_for_granted(book, &spec.kind);
    let (book, mut diagnostics) = read_levels(&spec, &bytes)?;
    diagnostics.extend(granted);
    let visit = Visit::of_book(&book).map(|(visit, doubts)| {
        diagnostics.extend(doubts);
        visit
    });
    let visit = visit.filter(|visit| !visit.legs.is_empty());
    let show = Show::new(spec.z_units);
    let text = match output.format {
        Format::Json => {
            let mut value = serde_json::to_value(&book).unwrap_or(Value::Null);
            if let Value::Object(map) = &mut value {
                map.insert("schema".to_owned(), json!(SCHEMA));
                if let Some(visit) = &visit {
                    map.insert("visit".to_owned(), crate::report::visit_json(visit));
                }
            }
            pretty(&value)
        }
        Format::Csv => csv_text(
            &["name", "kind", "elevation_m", "adjusted_m"],
            book.sights.iter().map(|s| {
                vec![
                    s.name.clone(),
                    s.kind.name().to_owned(),
                    number(s.elevation_m),
                    number(s.adjusted_m),
                ]
            }),
        ),
        Format::Text => {
            let mut text = crate::report::book_text(&book, show);
            if let Some(visit) = &visit {
                text.push('\n');
                text.push_str(&crate::report::visit_text(visit, Show::new(spec.units)));
            }
            text
        }
    };
    let code = if book.status == BookStatus::Refused {
        STOP
    } else {
        super::DONE
    };
    Ok(Answer {
        text,
        diagnostics,
        code,
    })
}

pub(super) fn ground(
    source: &str,
    above: Option<f64>,
    export: Option<&str>,
    taken_away: Option<&str>,
    reading: &Reading,
    output: Output,
) -> Result<Answer, Failure> {
    let export = Export::of(export)?;
    let reading = &for_sources(reading, &[source])?;
    let mut loaded = load(source, reading, &mut Stages::default())?;
    let diagnostics = loaded.diagnostics.clone();
    let survey = loaded.survey.take();
    let trust = loaded.trust.take();
    if let Some(file) = taken_away {
        write_taken_away(file, survey.as_ref(), reading.unit())?;
    }
    let has_imports = survey.as_ref().is_some_and(|s| !s.imports.is_empty());
    // A level book or a grid that is no job was read in the unit of its rod.
    let of_book = survey
        .as_ref()
        .is_some_and(|survey| survey.benchmark.is_some() || !survey.books.is_empty());
    let reading = &if of_book {
        reading.for_book()
    } else {
        reading.clone()
    };
    let told = told(std::slice::from_ref(&loaded));
    let level = above.map(|z| Loaded::level("--above", reading.z_unit().to_m(z)));
    let (surfaces, origin) = align(std::iter::once(loaded).chain(level).collect())?;
    let (name, surface) = &surfaces[0];
    let (facts, relief) = surface
        .facts()
        .zip(Relief::of(surface, survey.as_ref()))
        .ok_or_else(|| {
            Failure::from(
                Diagnostic::error("no-ground", "there is no surface").at(At::file(source)),
            )
        })?;
    // Digging down to the level takes what stands above it; filling up to it, what is missing.
    let apart = surfaces
        .get(1)
        .map(|(_, level)| cut_fill(surface, level, WORKERS).total);
    let written = match &export {
        Some(export) => export.surfaces(&surfaces[..1], told, origin, reading.unit())?,
        None => Vec::new(),
    };
    let ground = Ground {
        facts: &facts,
        relief: &relief,
        origin,
        show: Show::new(reading.unit()),
        heights: Show::new(reading.z_unit()),
    };
    let text = match output.format {
        Format::Json | Format::Csv => {
            let mut value = match output.format {
                Format::Csv => ground.row(),
                _ => ground.json(),
            };
            value.shift_insert(0, "schema".to_owned(), json!(SCHEMA));
            value.shift_insert(1, "source".to_owned(), json!(name));
            if let Some(trust) = &trust {
                value.extend(crate::report::trust_row(trust));
            }
            if let Some(v) = apart {
                value.insert("volume_above_m3".to_owned(), json!(v.cut_m3));
                value.insert("volume_below_m3".to_owned(), json!(v.fill_m3));
            }
            if export.is_some() && output.format == Format::Json {
                value.insert("written".to_owned(), json!(written));
            }
            if let (Format::Json, Some(survey)) = (output.format, &survey) {
                value.extend(crate::report::ties_json(survey));
                value.extend(crate::report::imports_json(survey));
            }
            machine(&Value::Object(value), output.format)
        }
        Format::Text => {
            let mut text = ground.text(name, above.zip(apart));
            if let Some(trust) = &trust {
                let words = crate::report::trust_words(trust, ground.heights);
                let _ = writeln!(text, "  trust              {words}");
            }
            if let Some(survey) = &survey {
                text.push_str(&crate::report::ties_text(survey, ground.show));
                text.push_str(&crate::report::imports_text(survey, ground.heights));
            }
            let _ = writeln!(
                text,
                "  {}            x, y in {}, heights in {}",
                // A job says file by file how it is read, and so does an import.
                if is_job(source) || has_imports {
                    "told in"
                } else {
                    "read as"
                },
                reading.unit().name(),
                reading.z_unit().name()
            );
            if let Some(export) = &export {
                text.push_str(&export.words(&written));
            }
            text
        }
    };
    Ok(Answer::new(text, diagnostics))
}

/// What was said of all surfaces; of two from one job the same is said once.
fn said_once(loaded: &[Loaded]) -> Vec<Diagnostic> {
    let mut said: Vec<Diagnostic> = Vec::new();
    for diagnostic in loaded.iter().flat_map(|l| &l.diagnostics) {
        if !said.contains(diagnostic) {
            said.push(diagnostic.clone());
        }
    }
    said
}

pub(super) fn volume(
    from: &str,
    to: &str,
    export: Option<&str>,
    reading: &Reading,
    output: Output,
) -> Result<Answer, Failure> {
    let export = Export::of(export)?;
    let reading = &for_sources(reading, &[from, to])?;
    let mut stages = Stages::default();
    let loaded = load_all(&[from, to], reading, &mut stages)?;
    let diagnostics = said_once(&loaded);
    let told = told(&loaded);
    let (surfaces, origin) = stages.time("build", || align(loaded))?;
    let v = stages.time("volume", || {
        cut_fill(&surfaces[0].1, &surfaces[1].1, WORKERS).total
    });
    if v.common_area_m2 <= 0.0 {
        return Err(Diagnostic::error("apart", "the two surfaces share no area")
            .help("check units and coordinates of both")
            .into());
    }
    let written = match &export {
        Some(export) => export.surfaces(&surfaces, told, origin, reading.unit())?,
        None => Vec::new(),
    };
    let text = match output.format {
        Format::Json | Format::Csv => {
            let mut value = json!({
                "schema": SCHEMA,
                "from": from,
                "to": to,
                "cut_m3": v.cut_m3,
                "fill_m3": v.fill_m3,
                "net_m3": v.net_m3(),
                "cut_area_m2": v.cut_area_m2,
                "fill_area_m2": v.fill_area_m2,
                "common_area_m2": v.common_area_m2,
            });
            if output.format == Format::Json {
                if export.is_some() {
                    value["written"] = json!(written);
                }
                stages.tell(&mut value);
            }
            machine(&value, output.format)
        }
        Format::Text => {
            let show = Show::new(reading.unit());
            let mut text = String::new();
            let net = v.net_m3();
            let word = if net >= 0.0 {
                "more cut than fill"
            } else {
                "more fill than cut"
            };
            let _ = writeln!(text, "{from} to {to}");
            let _ = writeln!(
                text,
                "  cut   {:>12}  over {}",
                show.volume(v.cut_m3),
                show.area(v.cut_area_m2)
            );
            let _ = writeln!(
                text,
                "  fill  {:>12}  over {}",
                show.volume(v.fill_m3),
                show.area(v.fill_area_m2)
            );
            let _ = writeln!(text, "  net   {:>12}  {word}", show.volume(net.abs()));
            let _ = writeln!(
                text,
                "  both surfaces cover {}; what only one covers is not counted",
                show.area(v.common_area_m2)
            );
            let _ = writeln!(text, "  volumes as they lie: no swelling, no shrinking");
            if let Some(export) = &export {
                text.push_str(&export.words(&written));
            }
            text
        }
    };
    Ok(Answer::new(text, diagnostics))
}

pub(super) fn section(
    sources: &[String],
    line: &str,
    export: Option<&str>,
    reading: &Reading,
    output: Output,
) -> Result<Answer, Failure> {
    let export = Export::of_lines(export)?;
    let names: Vec<&str> = sources.iter().map(String::as_str).collect();
    let reading = &for_sources(reading, &names)?;
    let loaded = load_all(&names, reading, &mut Stages::default())?;
    let diagnostics = said_once(&loaded);
    let (surfaces, origin) = align(loaded)?;
    let points: Vec<Point> = line
        .split_whitespace()
        .map(|text| typed_point(text, reading, origin))
        .collect::<Result<_, _>>()?;
    if points.windows(2).all(|w| w[0] == w[1]) {
        return Err(
            Diagnostic::error("short-line", "the line needs two different points")
                .help("write --line x,y x,y")
                .into(),
        );
    }
    let profiles: Vec<(&str, Profile)> = surfaces
        .iter()
        .map(|(name, s)| (name.as_str(), s.profile(&points)))
        .collect();
    if profiles.iter().all(|(_, p)| p.runs.is_empty()) {
        return Err(
            Diagnostic::error("off-surface", "the line meets none of the surfaces")
                .help("check its coordinates and --units")
                .into(),
        );
    }
    let written = match &export {
        Some(export) => {
            let of = |(name, profile): &(&str, Profile)| profile_lines("section", name, profile);
            let drawn: Vec<Drawn> = profiles.iter().filter_map(of).collect();
            export.lines(origin, &drawn)?
        }
        None => Vec::new(),
    };
    let absolute =
        |p: &crate::surface::ProfilePoint| [p.x_m + origin.x_m as f64, p.y_m + origin.y_m as f64];
    let text = match output.format {
        Format::Json => {
            let of = |profile: &Profile| -> Vec<Value> {
                profile
                    .points()
                    .map(|p| {
                        let [x, y] = absolute(p);
                        json!({ "distance_m": p.distance_m, "x_m": x, "y_m": y, "z_m": p.z_m })
                    })
                    .collect()
            };
            let sections: Vec<Value> = profiles
                .iter()
                .map(|(name, p)| json!({ "source": name, "stretches": p.runs.len(), "points": of(p) }))
                .collect();
            let mut value =
                json!({ "schema": SCHEMA, "points": of(&profiles[0].1), "sections": sections });
            if export.is_some() {
                value["written"] = json!(written);
            }
            pretty(&value)
        }
        Format::Csv => csv_text(
            &["source", "distance_m", "x_m", "y_m", "z_m"],
            profiles.iter().flat_map(|(name, profile)| {
                profile.points().map(|p| {
                    let [x, y] = absolute(p);
                    vec![
                        (*name).to_owned(),
                        number(p.distance_m),
                        number(x),
                        number(y),
                        number(p.z_m),
                    ]
                })
            }),
        ),
        Format::Text => {
            let show = Show::new(reading.unit());
            let heights = Show::new(reading.z_unit());
            let mut text = String::new();
            for (name, profile) in &profiles {
                let _ = writeln!(text, "{name}");
                let _ = writeln!(
                    text,
                    "  {:>10}  {:>10}",
                    format!("along {}", show.length_unit()),
                    format!("level {}", heights.length_unit())
                );
                for (k, run) in profile.runs.iter().enumerate() {
                    if k > 0 {
                        let _ = writeln!(text, "  no surface");
                    }
                    for p in run {
                        let _ = writeln!(
                            text,
                            "  {:>10}  {:>10}",
                            show.length_number(p.distance_m),
                            heights.level(p.z_m)
                        );
                    }
                }
            }
            if let Some(export) = &export {
                text.push_str(&export.words(&written));
            }
            text
        }
    };
    Ok(Answer::new(text, diagnostics))
}

fn typed_point(text: &str, reading: &Reading, origin: Origin) -> Result<Point, Failure> {
    let unit = reading.unit();
    text.split_once(',')
        .and_then(|(x, y)| Some((unit.parse_nm(x)?, unit.parse_nm(y)?)))
        .and_then(|(x, y)| origin.local(x, y))
        .ok_or_else(|| {
            Diagnostic::error("bad-point", "a point of the line is x,y")
                .at(At::cell("command line", 0, "--line", text))
                .help("write for example --line 12.5,40 60,8")
                .into()
        })
}

/// A number with every digit it has.
pub(super) fn number(value: f64) -> String {
    format!("{value}")
}

pub(super) fn pretty(value: &Value) -> String {
    let mut text = serde_json::to_string_pretty(value).unwrap_or_default();
    text.push('\n');
    text
}

/// A flat object as JSON, or as CSV with its keys as head.
fn machine(value: &Value, format: Format) -> String {
    match (format, value) {
        (Format::Csv, Value::Object(map)) => {
            let heads: Vec<&str> = map.keys().map(String::as_str).collect();
            let row = map.values().map(|v| match v {
                Value::String(s) => s.clone(),
                other => other.to_string(),
            });
            csv_text(&heads, std::iter::once(row.collect()))
        }
        _ => pretty(value),
    }
}
