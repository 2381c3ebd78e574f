//! Where water runs on large grounds: pits with their lips, and what drains where.
//!
//! `cargo bench --bench flow` prints one table: best of three runs on one thread. The floor is
//! sorting all vertices by height, which no flood can do without.
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

use common::{Random, at, surface};
use cutbank::flow::{Drains, Pits, Tin};
use cutbank::surface::Surface;
use made::{Waves, normal, strewn};
use stopwatch::best;

/// A made ground of about so many facets, heights with an error of 2 cm or none.
fn ground(facets: usize, error_m: f64) -> Surface {
    let mut random = Random(7);
    let side = (facets as f64 / 2.0).sqrt() * 0.5;
    let waves = Waves::new(&mut random, 40.0, 5, 1.2, 2.0);
    let points: Vec<_> = strewn(&mut random, facets / 2, side)
        .into_iter()
        .map(|[x, y]| {
            at(
                x,
                y,
                waves.z(x, y) - 0.05 * y + error_m * normal(&mut random),
            )
        })
        .collect();
    surface(&points, 0)
}

fn main() {
    println!(
        "{:>9} {:>6} | {:>8} {:>8} {:>8} {:>8} | {:>8} {:>8} | {:>6} {:>7}",
        "facets",
        "rough",
        "tin ms",
        "pits ms",
        "drain ms",
        "ponds ms",
        "all ms",
        "sort ms",
        "ratio",
        "pits"
    );
    for facets in [10_000, 100_000, 1_000_000] {
        for error_m in [0.0, 0.02] {
            let ground = ground(facets, error_m);
            let runs = 3;
            let (tin_ms, tin) = best(runs, || Tin::of(&ground));
            let (pits_ms, pits) = best(runs, || Pits::of(&tin));
            let (drain_ms, drains) = best(runs, || Drains::of(&tin, &pits, 0.05));
            let (ponds_ms, ponds) = best(runs, || {
                let deep = pits.widest_of(0.05);
                deep.map(|k| tin.pond(&pits, k).volume_m3).count()
            });
            let (sort_ms, _) = best(runs, || {
                let mut heights: Vec<f64> = ground.vertices().iter().map(|v| v.z).collect();
                heights.sort_unstable_by(f64::total_cmp);
                heights
            });
            let all = tin_ms + pits_ms + drain_ms + ponds_ms;
            assert!(drains.area_m2(|_| true) > 0.0);
            println!(
                "{:>9} {:>6} | {:>8.1} {:>8.1} {:>8.1} {:>8.1} | {:>8.1} {:>8.1} | {:>6.1} {:>7}",
                ground.num_facets(),
                if error_m > 0.0 { "yes" } else { "no" },
                tin_ms,
                pits_ms,
                drain_ms,
                ponds_ms,
                all,
                sort_ms,
                all / sort_ms,
                ponds
            );
        }
    }
}
