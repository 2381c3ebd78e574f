//! Memory of thinning goes with what is kept. Alone in its file: it looks at the whole program.
#![allow(clippy::unwrap_used)]

mod common;

use common::Random;
use cutbank::geom::{P3, Point};
use cutbank::import::Thinner;
use cutbank::job::{SamePlace, Thin};
use peak_alloc::PeakAlloc;

#[global_allocator]
static MEMORY: PeakAlloc = PeakAlloc;

#[test]
fn memory_goes_with_what_is_kept() {
    // 10 million points in no order on smooth ground: 240 MB as they come, some thousands kept.
    let mut random = Random(17);
    let mut thinner = Thinner::new(Thin::IfLarge, SamePlace::Lowest);
    let before = MEMORY.current_usage();
    MEMORY.reset_peak_usage();
    for _ in 0..100 {
        let some = (0..100_000)
            .map(|_| smooth(&mut random))
            .collect::<Vec<P3>>();
        thinner.take(&some);
    }
    let thinned = thinner.finish();
    let peak = MEMORY.peak_usage() - before;
    let loss = thinned.loss.unwrap();
    assert_eq!(
        10_000_000,
        thinned.points.len() as u64 + thinned.same_place + loss.points
    );
    assert!(loss.beyond * 100 <= loss.looked_at, "{loss:?}");
    // A batch of two million points as they came and in order with its lists, the sample with its
    // copies at the end, and 150 bytes a point: as much for any larger file.
    let most = (2 << 20) * (72 + 32) + (2 << 20) * 24 * 3 + 150 * thinned.points.len();
    assert!(peak < most, "{peak} bytes at the peak, {most} expected");
}

/// A place of a square kilometre, in millimetres.
fn smooth(random: &mut Random) -> P3 {
    let (x, y) = (
        random.between(0.0, 1e6).round() / 1e3,
        random.between(0.0, 1e6).round() / 1e3,
    );
    let z = 4.0 * (x / 90.0).sin() * (y / 70.0).cos() + random.between(-0.02, 0.02);
    P3 {
        p: Point::from_m(x, y),
        z,
    }
}
