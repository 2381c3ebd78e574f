//! Reports: the outcome in words for a terminal, as JSON, as one HTML page, and as sheets.
//!
//! Takes an [`Outcome`], gives text. Computes no result; rounds only where a person reads.
//! "None" and "not computed" are different words everywhere.

mod book;
mod exports;
mod findings;
mod ground;
mod html;
mod imports;
mod json;
mod routes;
mod rules;
mod sheets;
mod text;
mod ties;
mod visit;
mod walls;
mod words;

pub use book::book_text;
pub use exports::{lines, names, surfaces};
pub use findings::findings_csv;
pub use ground::Ground;
pub use html::{engineer, html, visit_html};
pub use imports::{imports_json, imports_text, taken_away};
pub use json::{SCHEMA, json, trust_row};
pub use routes::routes_csv;
pub use rules::rules_csv;
pub use sheets::csv_text;
pub use text::text;
pub use ties::{ties_json, ties_text};
pub use visit::{visit_csv, visit_json, visit_report, visit_report_json, visit_text};
pub use walls::{wall_stations_csv, wall_toml, walls_csv, walls_list_csv, walls_text, walls_toml};
pub use words::{counted, trust_words};

use crate::drawing::{
    access, drainage, ground as ground_plan, plan, profiles, sections, slopes, trust, wall_sheet,
    walls,
};
use crate::files::{Content, content};
use crate::outcome::{Outcome, VisitOutcome};

/// True for the name of a file that some report has: what an earlier report left behind.
pub fn is_report_file(name: &str) -> bool {
    let is_numbered = |before: &str| {
        name.strip_prefix(before)
            .and_then(|rest| rest.strip_suffix(".svg"))
            .is_some_and(|n| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit()))
    };
    let names = [
        "index.html",
        html::ENGINEER,
        "report.json",
        "plan.svg",
        "ground.svg",
        "slopes.svg",
        "drainage.svg",
        "trust.svg",
        "access.svg",
        "walls.csv",
        "rules.csv",
        "wall-stations.csv",
        "walls.svg",
        "walls.toml",
        "routes.csv",
        "lines.geojson",
        exports::THINNED,
    ];
    let is_surface = exports::SURFACES.iter().any(|surface| {
        let rest = name.strip_prefix(surface);
        rest.is_some_and(|rest| exports::ENDINGS.contains(&rest))
    });
    names.contains(&name)
        || is_surface
        || [
            "section-",
            "profile-",
            "taken-away-",
            "walls-",
            "wall-sheet-",
        ]
        .into_iter()
        .any(is_numbered)
}

/// The files of the report of a visit.
pub fn visit_files(outcome: &VisitOutcome) -> Vec<(String, Content<'_>)> {
    let json = format!("{:#}\n", visit_report_json(outcome));
    vec![
        ("index.html".to_owned(), content(visit_html(outcome))),
        ("report.json".to_owned(), content(json)),
    ]
}

/// The files of a report folder by name, in a fixed order.
pub fn files(outcome: &Outcome) -> Vec<(String, Content<'_>)> {
    let mut files: Vec<(String, Content)> = Vec::new();
    let mut add = |name: String, text: String| files.push((name, content(text)));
    add("index.html".to_owned(), html(outcome));
    add("report.json".to_owned(), format!("{:#}\n", json(outcome)));
    add("plan.svg".to_owned(), plan(outcome));
    add("ground.svg".to_owned(), ground_plan(outcome));
    add("slopes.svg".to_owned(), slopes(outcome));
    add("drainage.svg".to_owned(), drainage(outcome));
    if let Some(trust) = trust(outcome) {
        add("trust.svg".to_owned(), trust);
    }
    if let Some(access) = access(outcome) {
        add("access.svg".to_owned(), access);
    }
    for (k, svg) in sections(outcome).into_iter().enumerate() {
        add(format!("section-{}.svg", k + 1), svg);
    }
    for (k, svg) in profiles(outcome).into_iter().enumerate() {
        add(format!("profile-{}.svg", k + 1), svg);
    }
    if let Some(page) = engineer(outcome) {
        add(html::ENGINEER.to_owned(), page);
    }
    for (k, work) in outcome.wall_works.iter().enumerate() {
        if let Some(svg) = wall_sheet(outcome, work) {
            add(format!("wall-sheet-{}.svg", k + 1), svg);
        }
    }
    for (k, svg) in taken_away(&outcome.survey, outcome.job.units)
        .into_iter()
        .enumerate()
    {
        add(format!("taken-away-{}.svg", k + 1), svg);
    }
    for (k, svg) in walls(outcome).into_iter().enumerate() {
        let name = match k {
            0 => "walls.svg".to_owned(),
            k => format!("walls-{}.svg", k + 1),
        };
        add(name, svg);
    }
    add("walls.csv".to_owned(), walls_csv(outcome));
    add("rules.csv".to_owned(), rules_csv(outcome));
    add("wall-stations.csv".to_owned(), wall_stations_csv(outcome));
    add("walls.toml".to_owned(), walls_toml(outcome));
    if !outcome.access.routes.is_empty() {
        add("routes.csv".to_owned(), routes_csv(outcome));
    }
    files.extend(exports::files(outcome));
    files
}
