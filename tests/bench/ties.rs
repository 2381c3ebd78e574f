//! Placing shots by tape at several sizes, and corners by their mutual distances.
//!
//! `cargo bench --bench ties` prints one table. Each figure is the best of three runs on one
//! thread, from the text of the files to the survey.
#![allow(
    missing_docs,
    clippy::unwrap_used,
    clippy::print_stdout,
    unreachable_pub
)]

#[path = "../common/mod.rs"]
mod common;
#[path = "stopwatch.rs"]
mod stopwatch;

use std::fmt::Write as _;

use common::{Folder, Random};
use cutbank::job::read;
use cutbank::survey::Survey;
use cutbank::survey::tie::{Distance, Network, adjust_corners};
use stopwatch::best;

const JOB: &str = "[job]\nname = \"Yard\"\nunits = \"m\"\n[control]\n\
                   corners = { A = [0, 0], B = [12, 0], C = [12, 9], D = [0, 9] }\n\
                   [[survey]]\nties = \"ties.csv\"\n";

/// Shots round a house of 12 by 9 m, each by so many tapes with an error of 2 cm.
fn page(shots: usize, tapes: usize) -> String {
    let corners = [[0.0, 0.0], [12.0, 0.0], [12.0, 9.0], [0.0, 9.0]];
    let mut random = Random(9);
    let mut text = String::from("point,tape A,tape B,tape C,tape D,side,z\n");
    for shot in 0..shots {
        let (x, y) = (random.between(-20.0, 32.0), random.between(-20.0, 29.0));
        let _ = write!(text, "{shot}");
        for (corner, [cx, cy]) in corners.iter().enumerate() {
            let tape = (x - cx).hypot(y - cy) + random.between(-0.02, 0.02);
            match corner < tapes {
                true => write!(text, ",{tape:.3}"),
                false => write!(text, ","),
            }
            .unwrap();
        }
        let side = if y > 0.0 { "left" } else { "right" };
        let _ = writeln!(text, ",{side},{:.2}", 100.0 - 0.1 * y);
    }
    text
}

fn main() {
    println!(
        "{:>8} | {:>12} {:>12} {:>12} | {:>9}",
        "shots", "2 tapes ms", "3 tapes ms", "4 tapes ms", "us a shot"
    );
    for shots in [1_000, 10_000, 100_000] {
        let ms = [2, 3, 4].map(|tapes| {
            let folder = Folder::default().with("ties.csv", &page(shots, tapes));
            let (job, _) = read("job.toml", JOB).unwrap();
            let (ms, survey) = best(3, || Survey::of(&job, &folder).map(|(survey, _)| survey));
            let placed = survey.map_or(0, |survey| survey.ties.len());
            assert!(placed > shots * 9 / 10, "only {placed} of {shots} placed");
            ms
        });
        println!(
            "{shots:>8} | {:>12.1} {:>12.1} {:>12.1} | {:>9.1}",
            ms[0],
            ms[1],
            ms[2],
            ms[1] * 1e3 / shots as f64
        );
    }
    for corners in [10, 50, 200] {
        println!(
            "{corners} corners by distances: {:.1} ms",
            network_ms(corners)
        );
    }
}

/// Corners in two rows, each taped to the four before it.
fn network_ms(count: usize) -> f64 {
    let mut random = Random(4);
    let place = |i: usize| [(i / 2) as f64 * 5.0, (i % 2) as f64 * 6.0 + (i % 3) as f64];
    let mut distances = Vec::new();
    for b in 1..count {
        for a in b.saturating_sub(4)..b {
            let (p, q) = (place(a), place(b));
            let length_m = (p[0] - q[0]).hypot(p[1] - q[1]) + random.between(-0.005, 0.005);
            distances.push(Distance { a, b, length_m });
        }
    }
    let mut given = vec![None; count];
    for (i, given) in given.iter_mut().enumerate().take(3) {
        *given = Some(place(i));
    }
    let network = Network {
        given,
        distances,
        sides: vec![None; count],
        toward: [1.0, 0.0],
        sigma_m: 0.01,
    };
    best(3, || adjust_corners(&network).unwrap()).0
}
