//! The rooms of the house and the one way through them, read from the sources, and the map
//! (`DEVELOPERS.md`) held to both.
//!
//! A room may use only rooms that stand before it in `ROOMS`. A new arrow has to be written
//! down here, where it is seen.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Rooms from the bottom up, each with the rooms it uses.
const ROOMS: &[(&str, &[&str])] = &[
    ("units", &[]),
    ("diag", &[]),
    ("files", &[]),
    ("geom", &["units"]),
    ("surface", &["files", "geom", "units"]),
    ("flow", &["geom", "surface", "units"]),
    ("route", &["geom", "surface"]),
    ("statics", &["units"]),
    ("show", &["surface", "units"]),
    ("job", &["diag", "files", "units"]),
    ("import", &["diag", "files", "geom", "job", "show", "units"]),
    ("export", &["files", "geom", "surface", "units"]),
    (
        "survey",
        &["diag", "files", "geom", "import", "job", "units"],
    ),
    (
        "terrain",
        &[
            "diag", "geom", "import", "job", "show", "surface", "survey", "units",
        ],
    ),
    (
        "design",
        &[
            "diag", "files", "geom", "job", "surface", "survey", "terrain", "units",
        ],
    ),
    (
        "earthwork",
        &[
            "design", "diag", "files", "geom", "job", "surface", "terrain", "units",
        ],
    ),
    (
        "checks",
        &[
            "design",
            "diag",
            "earthwork",
            "files",
            "flow",
            "geom",
            "job",
            "route",
            "show",
            "statics",
            "surface",
            "survey",
            "terrain",
            "units",
        ],
    ),
    (
        "section",
        &[
            "design",
            "diag",
            "earthwork",
            "geom",
            "job",
            "surface",
            "survey",
            "terrain",
        ],
    ),
    (
        "outcome",
        &[
            "checks",
            "design",
            "diag",
            "earthwork",
            "files",
            "job",
            "section",
            "surface",
            "survey",
            "terrain",
        ],
    ),
    (
        "run",
        &[
            "checks",
            "design",
            "diag",
            "earthwork",
            "files",
            "geom",
            "job",
            "outcome",
            "section",
            "show",
            "surface",
            "survey",
            "terrain",
            "units",
        ],
    ),
    (
        "session",
        &["design", "diag", "files", "job", "outcome", "run", "survey"],
    ),
    (
        "drawing",
        &[
            "checks", "design", "geom", "import", "job", "outcome", "section", "show", "surface",
            "survey", "terrain", "units",
        ],
    ),
    (
        "report",
        &[
            "checks",
            "design",
            "diag",
            "drawing",
            "earthwork",
            "export",
            "files",
            "geom",
            "import",
            "job",
            "outcome",
            "section",
            "show",
            "surface",
            "survey",
            "terrain",
            "units",
        ],
    ),
    (
        "cli",
        &[
            "checks", "design", "diag", "export", "files", "geom", "job", "outcome", "report",
            "run", "session", "show", "surface", "survey", "terrain", "units",
        ],
    ),
];

fn sources(dir: &Path, found: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> = std::fs::read_dir(dir)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

/// Rooms named after `crate::` in a source text, tests included.
fn named(text: &str) -> BTreeSet<String> {
    let mut rooms = BTreeSet::new();
    for (at, _) in text.match_indices("crate::") {
        let before = text[..at].chars().next_back().unwrap_or(' ');
        if before.is_alphanumeric() || before == '_' {
            continue;
        }
        let rest = &text[at + "crate::".len()..];
        let list = match rest.strip_prefix('{') {
            Some(group) => &group[..group.find("};").unwrap_or(0)],
            None => rest,
        };
        let is_group = rest.starts_with('{');
        let parts: Vec<&str> = if is_group {
            list.split(',').collect()
        } else {
            vec![list]
        };
        for part in parts {
            let word: String = part
                .trim()
                .chars()
                .take_while(|c| c.is_ascii_lowercase() || *c == '_')
                .collect();
            if !word.is_empty() {
                rooms.insert(word);
            }
        }
    }
    rooms
}

fn arrows() -> BTreeMap<String, BTreeSet<String>> {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&src, &mut files);
    let mut arrows: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for file in files {
        let inside = file.strip_prefix(&src).unwrap();
        let first = inside
            .components()
            .next()
            .unwrap()
            .as_os_str()
            .to_string_lossy()
            .into_owned();
        let room = first.trim_end_matches(".rs").to_owned();
        if room == "lib" || room == "main" {
            continue;
        }
        let uses = arrows.entry(room.clone()).or_default();
        uses.extend(named(&std::fs::read_to_string(&file).unwrap()));
        uses.remove(&room);
    }
    arrows
}

#[test]
fn every_arrow_is_known() {
    let mut new = Vec::new();
    for (room, uses) in arrows() {
        let Some((_, known)) = ROOMS.iter().find(|(name, _)| *name == room) else {
            panic!("room `{room}` is not listed in ROOMS");
        };
        for target in uses {
            if !known.contains(&target.as_str()) {
                new.push(format!("{room} -> {target}"));
            }
        }
    }
    assert!(new.is_empty(), "arrows that ROOMS does not list: {new:?}");
}

#[test]
fn no_arrow_points_up() {
    for (at, (room, uses)) in ROOMS.iter().enumerate() {
        for target in *uses {
            let to = ROOMS.iter().position(|(name, _)| name == target);
            assert!(
                to.is_some_and(|to| to < at),
                "{room} -> {target} points up or nowhere"
            );
        }
    }
}

#[test]
fn listed_arrows_exist() {
    // A list that allows more than there is would let a circle grow unseen.
    let arrows = arrows();
    for (room, uses) in ROOMS {
        for target in *uses {
            assert!(
                arrows
                    .get(*room)
                    .is_some_and(|found| found.contains(*target)),
                "{room} does not use {target} any more: take it off the list"
            );
        }
    }
}

#[test]
fn engine_rooms_ask_nobody() {
    // Files, clock, threads and printing come in through the shell only.
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&src, &mut files);
    let forbidden = [
        "std::fs",
        "std::thread",
        "std::time",
        "rayon::",
        "std::env",
        "println!",
        "eprintln!",
    ];
    for file in files {
        let inside = file
            .strip_prefix(&src)
            .unwrap()
            .to_string_lossy()
            .into_owned();
        if inside.starts_with("cli") || inside == "main.rs" {
            continue;
        }
        let text = std::fs::read_to_string(&file).unwrap();
        let text = text.split("#[cfg(test)]").next().unwrap();
        for word in forbidden {
            assert!(!text.contains(word), "src/{inside} uses {word}");
        }
    }
}

fn map() -> String {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("DEVELOPERS.md")).unwrap()
}

/// Words between backticks, in order.
fn quoted(text: &str) -> Vec<&str> {
    text.split('`').skip(1).step_by(2).collect()
}

/// What the first column of the table under a heading names, in order.
fn first_column<'a>(map: &'a str, heading: &str) -> Vec<&'a str> {
    let section = map
        .split_once(&format!("\n## {heading}\n"))
        .unwrap_or_else(|| panic!("DEVELOPERS.md has no heading \"{heading}\""))
        .1;
    let section = section.split("\n## ").next().unwrap();
    section
        .lines()
        .filter(|line| line.starts_with("| "))
        .flat_map(|line| quoted(line.split('|').nth(1).unwrap()))
        .collect()
}

#[test]
fn the_map_names_every_room_in_order() {
    let rooms: Vec<&str> = ROOMS.iter().map(|(room, _)| *room).collect();
    assert_eq!(first_column(&map(), "Rooms"), rooms);
}

#[test]
fn the_map_names_every_file_of_tests() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let map = map();
    let mut listed = first_column(&map, "Tests");
    listed.sort_unstable();
    let mut found: Vec<String> = std::fs::read_dir(root.join("tests"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .map(|name| format!("tests/{name}"))
        .filter_map(|name| {
            let main = format!("{name}/main.rs");
            let is_program = root.join(&main).exists();
            (is_program || name.ends_with(".rs")).then_some(if is_program { main } else { name })
        })
        .collect();
    found.sort();
    assert_eq!(listed, found);
}

#[test]
fn what_the_map_points_to_is_there() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let map = map();
    // Fenced drawings hold no words in backticks.
    let prose: String = map.split("```").step_by(2).collect();
    let mut count = 0;
    for word in quoted(&prose) {
        if ["src/", "tests/", ".ci/"]
            .iter()
            .any(|s| word.starts_with(s))
        {
            assert!(root.join(word).exists(), "there is no {word}");
            count += 1;
        }
    }
    assert!(count > 20, "only {count} files are named");
    // Names in the section on where a new thing goes stand in the sources.
    let mut files = Vec::new();
    sources(&root.join("src"), &mut files);
    sources(&root.join("tests"), &mut files);
    let code: String = files
        .iter()
        .map(|file| std::fs::read_to_string(file).unwrap())
        .collect();
    let section = prose.split("## Where a new thing goes").nth(1).unwrap();
    for word in quoted(section.split("\n## ").next().unwrap()) {
        let last = word.rsplit("::").next().unwrap();
        if last.chars().all(|c| c.is_alphanumeric() || c == '_') {
            assert!(
                code.contains(last),
                "nothing in the sources is called {word}"
            );
        }
    }
}
