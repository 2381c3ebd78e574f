//! One feature of an open job moved, at several sizes of ground: how long until the new answer.
//!
//! `cargo bench --bench session` prints one table: best of several runs on one thread.
#![allow(
    missing_docs,
    clippy::unwrap_used,
    clippy::print_stdout,
    unreachable_pub,
    dead_code
)]

#[path = "../common/mod.rs"]
mod common;
#[path = "../common/made.rs"]
mod made;
#[path = "stopwatch.rs"]
mod stopwatch;

use std::fmt::Write as _;
use std::path::Path;

use common::{Folder, Random};
use cutbank::files::{Files, OneThread};
use cutbank::run::read_job;
use cutbank::session::Session;
use cutbank::surface::Tally;
use made::{Waves, strewn};
use stopwatch::best;

/// Features of the made yard: basins and berms by turns.
const FEATURES: usize = 10;

/// A made yard of so many shots, 2 m apart, with ten features on its first 80 m by 80 m.
fn yard(shots: usize) -> Folder {
    let mut random = Random(42);
    let side = (shots as f64).sqrt() * 2.0;
    let waves = Waves::new(&mut random, 40.0, 4, 1.2, 0.5);
    let mut csv = "name,x,y,z\n".to_owned();
    for (k, [x, y]) in strewn(&mut random, shots, side).into_iter().enumerate() {
        let _ = writeln!(csv, "{k},{x:.2},{y:.2},{:.3}", 100.0 + waves.z(x, y));
    }
    let mut job = "[job]\nname = \"made\"\nunits = \"m\"\n[[survey]]\npoints = \"shots.csv\"\n\
                   [[keep-off]]\nname = \"shed\"\nkind = \"building\"\n\
                   area = [[2, 2], [6, 2], [6, 5], [2, 5]]\n"
        .to_owned();
    for k in 0..FEATURES {
        let (x, y) = (12.0 + 15.0 * (k % 5) as f64, 20.0 + 30.0 * (k / 5) as f64);
        job += &if k % 2 == 0 {
            format!(
                "[[feature]]\nkind = \"basin\"\nname = \"{k}\"\nside_run_per_rise = 1.5\n\
                 outline = [[{x}, {y}], [{}, {y}], [{}, {}], [{x}, {}]]\nfloor = \"depth:1.2\"\n",
                x + 4.0,
                x + 5.0,
                y + 3.0,
                y + 4.0
            )
        } else {
            format!(
                "[[feature]]\nkind = \"berm\"\nname = \"{k}\"\nside_run_per_rise = 2.0\n\
                 line = [[{x}, {y}], [{}, {}], [{}, {}]]\nwidth = 1.0\ncrest = \"height:1.0\"\n",
                x + 4.0,
                y + 3.0,
                x + 5.0,
                y + 8.0
            )
        };
    }
    Folder::default()
        .with("shots.csv", &csv)
        .with("job.toml", &job)
}

/// A job with the features to be moved: name, key and two values by turns.
type Moves = Vec<(&'static str, &'static str, &'static str, [&'static str; 2])>;

fn main() {
    println!(
        "{:>8} {:>7} {:>8} | {:>8} | {:>8} {:>8} {:>8} | {:>14}",
        "ground", "open ms", "moved", "set ms", "reading", "laying", "answers", "lay+volume one"
    );
    let basin = |name, place| (name, "floor", place, ["\"depth:1.2\"", "\"depth:1.3\""]);
    let berm = |name, place| (name, "crest", place, ["\"height:1.0\"", "\"height:1.1\""]);
    let in_yard =
        || -> Moves { vec![basin("0", "first"), basin("4", "middle"), berm("9", "last")] };
    let garden = Folder {
        directory: Some(Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/garden")),
        ..Folder::default()
    };
    let in_garden: Moves = vec![
        (
            "Fall berm",
            "crest",
            "first",
            ["\"level:99.95\"", "\"level:100.05\""],
        ),
        (
            "Reservoir",
            "floor",
            "middle",
            ["\"below-benchmark:8.00\"", "\"below-benchmark:8.10\""],
        ),
        ("Stream", "width", "last", ["2.0", "2.1"]),
    ];
    measure("garden", &garden, &in_garden);
    measure("2000", &yard(2_000), &in_yard());
    measure("100000", &yard(100_000), &in_yard());
}

fn measure(ground: &str, files: &Folder, moves: &Moves) {
    let (opened, mut session) = best(1, || Session::open(files, &OneThread).unwrap());
    for (name, key, place, values) in moves {
        let mut k = 0;
        let (set, changed) = best(10, || {
            k += 1;
            session.set(name, key, values[k % 2]).unwrap()
        });
        assert!(!changed.is_all_new && !changed.features.is_empty());
        let now = Folder::default().with("job.toml", session.text());
        let (reading, (job, _)) = best(10, || read_job(&now).unwrap());
        let outcome = session.outcome();
        let mut design = outcome.design.clone();
        let (survey, terrain) = (&outcome.survey, &outcome.terrain);
        let mut lay = |keep| {
            design
                .lay_from(keep, &job, survey, terrain, files as &dyn Files)
                .unwrap();
        };
        let (laying, ()) = best(10, || lay(changed.kept));
        // The last feature alone, with the volumes of what it changed.
        let last = outcome.design.features.len() - 1;
        let (one, _) = best(10, || {
            lay(last);
            let changes = &outcome.design.features[last].changes;
            let of = |facets: &[_]| Tally::of(&terrain.surface, 0.0, facets.iter().copied());
            changes
                .iter()
                .map(|c| {
                    of(&c.added).result().total.net_m3() - of(&c.removed).result().total.net_m3()
                })
                .sum::<f64>()
        });
        println!(
            "{ground:>8} {opened:>7.1} {place:>8} | {set:>8.2} | {reading:>8.2} {laying:>8.2} {:>8.2} | {one:>14.2}",
            set - reading - laying
        );
    }
}
