//! An open job after every change, undo and redo: to the last bit a fresh run of the same text.
#![allow(clippy::unwrap_used)]

mod common;

use std::cell::RefCell;
use std::fmt::Write as _;
use std::path::Path;

use common::{Folder, Random};
use cutbank::diag::Failure;
use cutbank::files::{Files, OneThread};
use cutbank::outcome::Outcome;
use cutbank::report::json;
use cutbank::run::{read_job, run};
use cutbank::session::{Changed, Session};
use cutbank::surface::Surface;

/// A yard with every kind of feature, layers, a strip, room, settlement and a refilled trench.
const JOB: &str = r#"# An invented yard.
[job]
name = "Every kind"
units = "m"

[soil]
kind = "common earth (loam)"

[[survey]]
points = "shots.csv"

[ground]
holes = [[[56, 3], [60, 3], [60, 8], [56, 8]]]

[limits]
wall_height = 1.2

[[feature]]
kind = "strip"
name = "Sod"
thick = 0.15                     # of the turf
outline = [[8, 8], [30, 8], [30, 24], [8, 24]]

[[feature]]
kind = "basin"
name = "Pond"
outline = [[12, 12], [20, 12], [20, 18], [12, 18]]
floor = "depth:1.2"              # below the ground
side_run_per_rise = 1.5
layers = [{ name = "liner" }, { name = "gravel", thick = 0.2, porosity = 0.4 }]

[[feature]]
kind = "berm"
name = "Bank"
line = [[10, 38], [24, 40], [40, 39]]
width = 1.0
crest = "height:1.0"
side_run_per_rise = 2.0
settlement_percent = 8           # of its height
keep_clear_of = ["Fence"]

[[feature]]
kind = "stream"
name = "Rill"
line = [[40, 34], [34, 30], [28, 26], [22, 17]]
width = 0.6
side_run_per_rise = 1.0
start = "depth:0.3"
fall_percent = 3.0

[[feature]]
kind = "trench"
name = "Pipe"
line = [[35, 6], [35, 20], [44, 24]]
depth = 0.7
width = 0.4
layers = [{ name = "sand", thick = 0.1 }]

[[feature]]
kind = "channel"
name = "Overflow"
line = [[54, 14], [48, 13], [40, 13]]
start = "depth:0.3"
fall_percent = 3.0
width = 0.5
side_run_per_rise = 1.0

[[feature]]
kind = "wall"
name = "Wall"
line = [[48, 30], [48, 38]]
holds = "right"
thickness = 0.4
top = "height:0.8"
buried = 0.2

[[feature]]
kind = "pad"
name = "Shed floor"
outline = [[52, 20], [57, 20], [57, 25], [52, 25]]
level = "height:0.1"
cut_run_per_rise = 1.0
fill_run_per_rise = 1.5

[[feature]]
kind = "pile"
name = "Spoil"
centre = [14, 52]
volume = 6.0
repose_run_per_rise = 1.5

[[feature]]
kind = "surface"
name = "Pool"
points = "pool.csv"
rule = "lower"
side_run_per_rise = 1.0

[[keep-off]]
name = "Fence"
kind = "boundary"
line = [[1, 44], [61, 44.5]]

[[keep-off]]
name = "Cable"
kind = "service"
line = [[2, 30], [20, 31]]
half_width = 0.5

[[section]]
name = "Across"
line = [[5, 15], [55, 15]]
"#;

/// Corners of the pool, its bottom at this level.
fn pool(z: f64) -> String {
    format!("name,x,y,z\na,50,50,{z}\nb,55,50,{z}\nc,55,55,{z}\nd,50,55,{z}\n")
}

fn yard() -> Folder {
    let mut shots = "name,x,y,z\n".to_owned();
    for k in 0..169u32 {
        // Off the grid, so that no four shots are on one circle.
        let x = f64::from(k % 13 * 5) + f64::from(k * 37 % 10) * 0.1;
        let y = f64::from(k / 13 * 5) + f64::from(k * 53 % 10) * 0.1;
        let z = 100.0 + 0.05 * x + 0.02 * y + 0.3 * (0.2 * x).sin() + 0.2 * (0.3 * y).cos();
        let _ = writeln!(shots, "{k},{x:.1},{y:.1},{z:.2}");
    }
    Folder::default()
        .with("shots.csv", &shots)
        .with("pool.csv", &pool(101.0))
        .with("job.toml", JOB)
}

fn garden() -> Folder {
    Folder {
        directory: Some(Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/garden")),
        ..Folder::default()
    }
}

/// Every bit that a person or a machine gets to see.
fn everything(outcome: &Outcome) -> String {
    let facets = |surface: &Surface| -> Vec<_> {
        let facets = surface.facets();
        facets
            .map(|f| (f, surface.corners(f), surface.source(f)))
            .collect()
    };
    let design = &outcome.design;
    let others = [&design.stripped, &design.dug, &design.built];
    format!(
        "{}\n{:?}\n{:?}\n{:?}\n{:?}\n{:?}\n{:?}\n{:?}\n{:?}",
        json(outcome),
        facets(&outcome.terrain.surface),
        facets(&design.surface),
        others.map(|s| s.as_ref().map(facets)),
        design.parts,
        outcome.diagnostics,
        outcome.inputs,
        outcome.job,
        outcome.extents,
    )
}

/// Asserts that an open job is what a fresh run of its text over these files gives.
fn assert_fresh(what: &str, session: &Session, files: &Folder) {
    let now = Folder {
        files: files.files.clone(),
        directory: files.directory.clone(),
    }
    .with("job.toml", session.text());
    let (job, said) = read_job(&now).unwrap();
    let fresh = run(job, &now, &OneThread).unwrap();
    assert_eq!(session.job_diagnostics(), said, "{what}");
    let (open, fresh) = (everything(session.outcome()), everything(&fresh));
    let differs = open.lines().zip(fresh.lines()).position(|(a, b)| a != b);
    assert_eq!(differs, None, "{what}: part of what a fresh run gives");
}

fn open(files: &Folder) -> Session<'_> {
    Session::open(files, &OneThread).unwrap_or_else(|fault| panic!("{fault}"))
}

#[test]
fn the_garden_after_every_change() {
    let files = garden();
    let mut session = open(&files);
    assert_fresh("open", &session, &files);
    let first = everything(session.outcome());
    let changes = [
        ("Stream", "width", "2.2", 4),
        ("Reservoir", "floor", "\"below-benchmark:7.80\"", 3),
        ("Fall berm", "crest", "\"level:100.00\"", 2),
        ("Reservoir", "side_run_per_rise", "1.6", 3),
    ];
    for (feature, key, value, kept) in changes {
        let changed = session.set(feature, key, value).unwrap();
        assert_eq!((changed.kept, changed.is_all_new), (kept, false));
        assert!(changed.features.iter().any(|f| f.name == feature));
        assert_fresh(feature, &session, &files);
    }
    // Comments and all other text stand.
    let text = session.text();
    assert!(text.contains("floor   = \"below-benchmark:7.80\"     # 2.5 ft below the lowest"));
    for _ in changes {
        session.undo().unwrap().unwrap();
        assert_fresh("undo", &session, &files);
    }
    assert!(session.undo().is_none());
    assert!(everything(session.outcome()) == first);
    for _ in changes {
        session.redo().unwrap().unwrap();
        assert_fresh("redo", &session, &files);
    }
    assert!(session.redo().is_none());
}

/// Changes of one value, some that cannot be.
const SETS: &[(&str, &str, &str)] = &[
    ("Sod", "thick", "0.2"),
    ("Pond", "floor", "\"depth:1.4\""),
    ("Pond", "side_run_per_rise", "1.7"),
    ("Pond", "layers", "[{ name = \"clay\", thick = 0.3 }]"),
    ("Pond", "corners", "\"round\""),
    ("Bank", "crest", "\"height:1.3\""),
    ("Bank", "settlement_percent", "0"),
    ("Rill", "width", "0.8"),
    ("Pipe", "depth", "0.9"),
    ("Pipe", "backfilled", "false"),
    ("Overflow", "width", "0.7"),
    ("Wall", "top", "\"height:1.0\""),
    ("Shed floor", "level", "\"height:0.2\""),
    ("Spoil", "volume", "9.0"),
    ("Pool", "side_run_per_rise", "1.5"),
    // These are refused.
    ("Pond", "floor", "\"level:200\""),
    ("Pond", "floor", "\"depht:1\""),
    ("Pond", "fluor", "1"),
    ("Bank", "keep_clear_of", "[\"Hedge\"]"),
    ("Pool", "points", "\"lake.csv\""),
    ("Spoil", "centre", "[900, 900]"),
    ("Wall", "name", "\"Pond\""),
];

/// Other texts: what stands there, and what is put in its place.
const TEXTS: &[(&str, &str)] = &[
    // A feature removed, and one added before others.
    (
        "[[feature]]\nkind = \"pile\"\nname = \"Spoil\"\ncentre = [14, 52]\nvolume = 6.0\nrepose_run_per_rise = 1.5\n",
        "",
    ),
    (
        "[[feature]]\nkind = \"wall\"",
        "[[feature]]\nkind = \"pile\"\nname = \"Heap\"\ncentre = [25, 52]\nvolume = 3.0\nrepose_run_per_rise = 1.5\n\n[[feature]]\nkind = \"wall\"",
    ),
    // Renamed, another heading, another line, keys in another order.
    ("name = \"Overflow\"", "name = \"Spillway\""),
    (
        "[[feature]]\nkind = \"wall\"",
        "[[ feature ]]\nkind = \"wall\"",
    ),
    (
        "[[feature]]\nkind = \"berm\"",
        "\n\n[[feature]]\nkind = \"berm\"",
    ),
    ("width = 0.4\nlayers", "# sand\nwidth = 0.4\nlayers"),
    (
        "rule = \"lower\"\nside_run_per_rise = 1.0",
        "side_run_per_rise = 1.0\nrule = \"lower\"",
    ),
    // What is not a feature.
    (
        "line = [[1, 44], [61, 44.5]]",
        "line = [[1, 42], [61, 42.5]]",
    ),
    ("line = [[5, 15], [55, 15]]", "line = [[5, 16], [55, 16]]"),
    ("wall_height = 1.2", "wall_height = 0.3"),
    ("wall_height = 1.2", "chord = 0.02"),
    ("wall_height = 1.2", "shot_height = 0.05"),
    ("common earth (loam)", "clay, firm, moist"),
    ("holes = [[[56, 3], [60, 3], [60, 8], [56, 8]]]", ""),
    ("name = \"Every kind\"", "name = \"Another\""),
    // These are refused.
    ("[[feature]]", "[[feature"),
    ("points = \"shots.csv\"", "points = \"gone.csv\""),
    ("line = [[5, 15], [55, 15]]", "line = [[5, 15], [5, 15]]"),
    ("units = \"m\"", "units = \"yards\""),
];

/// One change at random; `None` if it was an undo or redo with nothing to take back.
fn change(random: &mut Random, session: &mut Session) -> Option<Result<Changed, Failure>> {
    match random.below(6) {
        0 => session.undo(),
        1 => session.redo(),
        2 | 3 => {
            let (feature, key, value) = SETS[random.below(SETS.len() as u64) as usize];
            Some(session.set(feature, key, value))
        }
        _ => {
            let (from, to) = TEXTS[random.below(TEXTS.len() as u64) as usize];
            let text = session.text().replacen(from, to, 1);
            Some(session.edit(text))
        }
    }
}

#[test]
fn a_yard_with_every_kind_after_random_changes() {
    let files = yard();
    let (mut done, mut refused, mut relaid) = (0, 0, 0);
    for seed in 0..6 {
        let mut random = Random(seed);
        let mut session = open(&files);
        for step in 0..14 {
            let what = format!("seed {seed}, step {step}");
            let text = session.text().to_owned();
            let before = everything(session.outcome());
            match change(&mut random, &mut session) {
                Some(Ok(changed)) => {
                    assert_fresh(&what, &session, &files);
                    done += 1;
                    relaid += usize::from(changed.kept > 0);
                }
                Some(Err(_)) => {
                    assert_eq!(session.text(), text, "{what}");
                    assert!(everything(session.outcome()) == before, "{what}");
                    refused += 1;
                }
                None => assert_eq!(session.text(), text, "{what}"),
            }
        }
        // All the way back, whatever was refused between.
        while let Some(back) = session.undo() {
            back.unwrap();
        }
        assert_eq!(session.text(), JOB);
        assert_fresh("all taken back", &session, &files);
    }
    assert!(
        done > 30 && refused > 8 && relaid > 8,
        "{done} {refused} {relaid}"
    );
}

#[test]
fn every_change_of_the_list_alone() {
    let files = yard();
    let mut session = open(&files);
    let first = everything(session.outcome());
    let mut refused = Vec::new();
    for (feature, key, value) in SETS {
        match session.set(feature, key, value) {
            Ok(changed) => {
                assert!(!changed.is_all_new, "{feature} {key}");
                assert_fresh(&format!("{feature} {key}"), &session, &files);
                session.undo().unwrap().unwrap();
            }
            Err(fault) => refused.push(fault.to_string()),
        }
        assert_eq!(session.text(), JOB);
        assert!(everything(session.outcome()) == first, "{feature} {key}");
    }
    for (from, to) in TEXTS {
        assert!(JOB.contains(from), "{from}");
        match session.edit(JOB.replacen(from, to, 1)) {
            Ok(_) => {
                assert_fresh(to, &session, &files);
                session.undo().unwrap().unwrap();
            }
            Err(fault) => refused.push(fault.to_string()),
        }
        assert!(everything(session.outcome()) == first, "{from}");
    }
    assert_eq!(refused.len(), 11, "{}", refused.join("\n"));
    let all = refused.join("\n");
    for words in [
        "\"depht:1\"",
        "fluor",
        "no keep-off is called \"Hedge\"",
        "lake.csv",
        "gone.csv",
        "a section needs two different points",
        "yards",
    ] {
        assert!(all.contains(words), "{words} in\n{all}");
    }
}

/// The words with which a change of the yard is refused.
fn refusal(feature: &str, key: &str, value: &str) -> String {
    let files = yard();
    let mut session = open(&files);
    session.set(feature, key, value).unwrap_err().to_string()
}

#[test]
fn refusals_say_what_to_do() {
    let words = refusal("Pomd", "floor", "1");
    assert!(words.contains("no feature is called \"Pomd\""), "{words}");
    assert!(words.contains("perhaps \"Pond\" is meant"), "{words}");
    let words = refusal("Pond", "floor", "depth:1");
    assert!(words.contains("`depth:1` is no value"), "{words}");
    assert!(words.contains("text in quotes"), "{words}");
    // Text that would go on after the value is none either.
    let words = refusal("Pond", "floor", "1\nname = \"x\"");
    assert!(words.contains("is no value"), "{words}");
}

#[test]
fn entries_in_brackets_and_keys_of_their_own() {
    let job = "feature = [ { kind = \"pile\", name = \"Heap\", centre = [14, 52], volume = 3.0, \
               repose_run_per_rise = 1.5 } ]\n[job]\nname = \"x\"\nunits = \"m\"\n\
               [[survey]]\npoints = \"shots.csv\"\n";
    let files = yard().with("job.toml", job);
    let mut session = open(&files);
    let changed = session.set("Heap", "volume", "4.0").unwrap();
    assert_eq!(changed.features.len(), 1);
    assert!(
        session.text().contains("volume = 4.0, "),
        "{}",
        session.text()
    );
    assert_fresh("in brackets", &session, &files);
    let words = session.set("Hep", "volume", "4.0").unwrap_err().to_string();
    assert!(words.contains("perhaps \"Heap\" is meant"), "{words}");
}

/// Files that somebody else may change.
struct Shared(RefCell<Folder>);

impl Files for Shared {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        self.0.borrow().read(name)
    }

    fn today(&self) -> String {
        self.0.borrow().today()
    }
}

#[test]
fn files_that_change_on_the_disk_are_those_that_were_read() {
    let files = Shared(RefCell::new(yard()));
    let mut session = Session::open(&files, &OneThread).unwrap();
    session.set("Pond", "side_run_per_rise", "1.7").unwrap();
    for (name, text) in [("pool.csv", pool(100.5)), ("shots.csv", "gone".to_owned())] {
        let folder = files.0.take();
        files.0.replace(folder.with(name, &text));
    }
    session.undo().unwrap().unwrap();
    assert_fresh("undo", &session, &yard());
    let text = JOB.replacen("holes = [[[56, 3], [60, 3], [60, 8], [56, 8]]]", "", 1);
    assert!(session.edit(text).unwrap().is_all_new);
    assert_fresh("another ground", &session, &yard());
    session.set("Spoil", "centre", "[900, 900]").unwrap_err();
    assert_fresh("refused", &session, &yard());
}
