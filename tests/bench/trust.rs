//! Leaving out every shot, drawing the trust map and looking for doubtful shots at several sizes,
//! beside the build of the same ground in the same run.
//!
//! `cargo bench --bench trust` prints one table: best of several runs on one thread.
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

use common::Random;
use cutbank::job::GroundSpec;
use cutbank::show::Show;
use cutbank::terrain::{LeaveOut, Trust, build, doubts};
use cutbank::units::LengthUnit;
use made::{Booked, Waves, normal, strewn};
use stopwatch::best;

/// How exact soil shots are meant to be, metres.
const SOIL_M: f64 = 0.03;

fn main() {
    println!(
        "{:>8} | {:>10} {:>12} {:>10} {:>11} | {:>8} {:>8}",
        "n", "build ms", "leave out ms", "trust ms", "doubts ms", "growth", "said"
    );
    let mut before: Option<f64> = None;
    for n in [1_000usize, 10_000, 100_000] {
        let runs = if n >= 100_000 { 2 } else { 5 };
        let mut random = Random(42);
        let side = (n as f64).sqrt() * 3.0;
        let waves = Waves::new(&mut random, 60.0, 6, 0.8, 1.0);
        // The rows are as many as the square root: no place has to be taken away again.
        let shots: Vec<Booked> = strewn(&mut random, n, side)
            .into_iter()
            .enumerate()
            .map(|(k, [x, y])| Booked {
                name: (k + 1).to_string(),
                x,
                y,
                z: 100.0 + waves.z(x, y) + 0.02 * normal(&mut random),
                code: "",
            })
            .collect();
        let survey = made::survey(&shots, LengthUnit::Metre);
        let spec = GroundSpec::default();
        let (built, (terrain, _)) = best(runs, || build(&survey, &spec).unwrap());
        let (left, left_out) = best(runs, || LeaveOut::of(&terrain));
        let (drawn, trust) = best(runs, || Trust::of(&terrain, &survey, &left_out, SOIL_M));
        let show = Show::new(LengthUnit::Metre);
        let (looked, said) = best(runs, || {
            doubts(&survey, &spec, &terrain, &left_out, show, SOIL_M)
        });
        assert!(trust.is_ok());
        let all = left + drawn + looked;
        let growth = before.map_or_else(|| "-".to_owned(), |b| format!("{:.1}", all / b));
        before = Some(all);
        println!(
            "{n:>8} | {built:>10.2} {left:>12.2} {drawn:>10.2} {looked:>11.2} | {growth:>8} {:>8}",
            said.len()
        );
    }
}
