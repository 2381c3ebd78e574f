//! All checks of a yard of 2,000 shots and ten features of every kind, beside the time it takes
//! to lay them: best of several runs on one thread.
//!
//! `cargo bench --bench checks`
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

use common::{Folder, Random};
use cutbank::checks::{Context, check};
use cutbank::design::lay;
use cutbank::files::OneThread;
use cutbank::outcome::Outcome;
use cutbank::run::{read_job, run};
use made::{Waves, strewn};
use stopwatch::best;

const JOB: &str = r#"
[job]
name = "made"
units = "m"
dig = "2026-06-01"
[[survey]]
points = "shots.csv"
[[feature]]
kind = "strip"
name = "Sod"
over = "touched"
thick = 0.1
[[feature]]
kind = "trench"
name = "Pipe"
line = [[30.0, 20.0], [24.0, 34.0], [36.0, 52.0]]
depth = 0.5
width = 0.3
[[feature]]
kind = "berm"
name = "Berm"
line = [[26.0, 50.0], [36.0, 54.0], [46.0, 52.0]]
width = 1.0
crest = "height:1.2"
side_run_per_rise = 2.0
corners = "round"
settlement_percent = 10
lift = 0.15
[[feature]]
kind = "berm"
name = "Bank"
line = [[12.0, 12.0], [12.0, 30.0]]
width = 0.8
crest = "height:0.8"
side_run_per_rise = 2.0
[[feature]]
kind = "basin"
name = "Reservoir"
outline = [[28.0, 14.0], [33.0, 14.0], [33.0, 18.0], [28.0, 18.0]]
floor = "depth:1.3"
side_run_per_rise = 1.5
corners = "mitre"
layers = [ { name = "liner" }, { name = "stone", to = "depth:0.2", porosity = 0.4 } ]
[[feature]]
kind = "channel"
name = "Overflow"
line = [[36.0, 15.0], [44.0, 10.0], [52.0, 8.0]]
width = 0.6
side_run_per_rise = 3.0
start = "depth:0.3"
fall_percent = 1.5
[[feature]]
kind = "pad"
name = "Seat"
outline = [[50.0, 30.0], [56.0, 30.0], [56.0, 35.0], [50.0, 35.0]]
level = "height:0.2"
cut_run_per_rise = 2.0
fill_run_per_rise = 2.0
[[feature]]
kind = "wall"
name = "Wall"
line = [[60.0, 40.0], [60.0, 52.0]]
holds = "right"
thickness = 0.4
top = "height:0.8"
buried = 0.15
[[feature]]
kind = "pile"
name = "Heap"
centre = [66.0, 20.0]
volume = 4.0
repose_run_per_rise = 1.5
[[feature]]
kind = "basin"
name = "Pool"
outline = [[64.0, 62.0], [69.0, 62.0], [69.0, 66.0], [64.0, 66.0]]
floor = "depth:0.7"
side_run_per_rise = 2.0
[[keep-off]]
name = "House"
kind = "building"
area = [[70.0, 30.0], [82.0, 30.0], [82.0, 44.0], [70.0, 44.0]]
footing = "depth:0.8"
[[keep-off]]
name = "Line"
kind = "boundary"
line = [[2.0, 57.0], [30.0, 56.0], [60.0, 58.0], [88.0, 57.0]]
[[keep-off]]
name = "Oak"
kind = "roots"
centre = [18.0, 44.0]
trunk_cm = 40
[[keep-off]]
name = "Gas"
kind = "service"
line = [[2.0, 26.0], [40.0, 27.0], [70.0, 25.0]]
service = "gas"
notified = "2026-05-20"
[[area]]
name = "Lawn"
use = "mown"
area = [[40.0, 62.0], [60.0, 62.0], [60.0, 80.0], [40.0, 80.0]]
"#;

/// 2,000 shots over 90 m by 90 m.
fn yard() -> Folder {
    let mut random = Random(42);
    let waves = Waves::new(&mut random, 40.0, 4, 1.2, 0.5);
    let mut csv = "name,x,y,z\n".to_owned();
    for (k, [x, y]) in strewn(&mut random, 2000, 90.0).into_iter().enumerate() {
        let z = 100.0 + 0.05 * x + waves.z(x, y);
        let _ = writeln!(csv, "{k},{x:.2},{y:.2},{z:.3}");
    }
    Folder::default()
        .with("job.toml", JOB)
        .with("shots.csv", &csv)
}

fn main() {
    let folder = yard();
    let (job, _) = read_job(&folder).unwrap();
    let outcome: Outcome = run(job, &folder, &OneThread).unwrap();
    let (laying, _) = best(9, || {
        lay(&outcome.job, &outcome.survey, &outcome.terrain, &folder).unwrap()
    });
    let context = Context {
        job: &outcome.job,
        survey: &outcome.survey,
        terrain: &outcome.terrain,
        design: &outcome.design,
        soil: &outcome.soil,
        to_build: &outcome.to_build,
        extents: &outcome.extents,
        workers: &OneThread,
    };
    let (checking, _) = best(9, || check(&context).unwrap());
    println!(
        "{} shots, {} features, {} facets: laid in {:.1} ms, all checks {:.1} ms, ratio {:.2}; {} findings",
        outcome.survey.shots.len(),
        outcome.design.features.len(),
        outcome.design.surface.num_facets(),
        laying,
        checking,
        checking / laying,
        outcome.findings.len()
    );
}
