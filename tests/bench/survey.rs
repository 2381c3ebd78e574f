//! `cargo bench --bench survey`: seconds to read a survey, and how they grow with its size.
//!
//! Books are invented: loops of set-ups with four shots each, the benchmark read again after
//! every tenth, or one single loop. Some hold a mistake, so that the search for it is timed too.
#![allow(clippy::unwrap_used, clippy::print_stdout, unreachable_pub)]

#[path = "../common/mod.rs"]
mod common;
#[path = "stopwatch.rs"]
mod stopwatch;

use common::Random;
use cutbank::job::{Adjust, Allowance, Benchmark, SurveyKind, SurveySpec};
use cutbank::survey::{BookStatus, read_levels};
use cutbank::units::LengthUnit;
use stopwatch::best;

const SIGHTS: [usize; 3] = [500, 5_000, 50_000];

/// Sights of one set-up: BS, four shots, FS.
const SIGHTS_PER_SETUP: usize = 6;

/// A book of about so many sights in feet and tenths that comes back to its benchmark after
/// every so many set-ups; `slip` books one foresight in the middle a foot wrong.
fn book(sights: usize, loop_setups: usize, slip: bool) -> String {
    let mut dice = Random(sights as u64);
    let setups = sights / SIGHTS_PER_SETUP;
    let mut text = "setup,point,type,rod,distance\n".to_owned();
    let (mut point, mut hundredths) = ("BM1".to_owned(), 10_000i64);
    for setup in 1..=setups {
        let ends = setup % loop_setups == 0 || setup == setups;
        let next = if ends {
            "BM1".to_owned()
        } else {
            format!("TP{setup}")
        };
        let level = if ends {
            10_000
        } else {
            9_700 + dice.below(600) as i64
        };
        let plane = hundredths.max(level) + 60 + dice.below(500) as i64;
        let mut row = |name: &str, kind: &str, reading: i64| {
            let feet = reading as f64 / 100.0;
            text += &format!("{setup},{name},{kind},{feet:.2},{}\n", 40 + reading % 30);
        };
        row(&point, "BS", plane - hundredths);
        for shot in 0..4 {
            row(
                &format!("G{setup}.{shot}"),
                "IS",
                100 + dice.below(900) as i64,
            );
        }
        let wrong = if slip && setup == setups / 2 { 100 } else { 0 };
        row(&next, "FS", plane - level + wrong);
        (point, hundredths) = (next, level);
    }
    text
}

fn main() {
    let spec = SurveySpec {
        benchmark: Some(Benchmark {
            name: "BM1".into(),
            level_m: 100.0 * 0.3048,
            words: String::new(),
        }),
        adjust: Adjust::Setups,
        // Flat, so that a foot stands out in a loop of thousands of set-ups.
        allow: Allowance::from_words("0.02 ft", LengthUnit::Foot).unwrap(),
        ..SurveySpec::new(SurveyKind::Levels, "book.csv", LengthUnit::Foot)
    };
    println!(
        "{:<28} {:>10} {:>10} {:>10}",
        "what", "size", "seconds", "growth"
    );
    for (name, loop_setups, slip, status) in [
        ("level book, closed", 10, false, BookStatus::Closed),
        ("level book, one mistake", 10, true, BookStatus::Refused),
        (
            "one loop, one mistake",
            usize::MAX,
            true,
            BookStatus::Refused,
        ),
    ] {
        let mut before = None;
        for sights in SIGHTS {
            let text = book(sights, loop_setups, slip);
            let (took_ms, ()) = best(3, || {
                let (book, _) = read_levels(&spec, text.as_bytes()).unwrap();
                assert_eq!(book.status, status);
            });
            let took = took_ms / 1e3;
            let growth = before.map_or(String::new(), |b: f64| format!("{:.1}", took / b));
            println!("{name:<28} {sights:>10} {took:>10.4} {growth:>10}");
            before = Some(took);
        }
    }
}
