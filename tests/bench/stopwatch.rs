//! The one way the benches take time.

use std::time::Instant;

/// Best of `runs`, milliseconds, and the result of the last.
pub fn best<T>(runs: usize, mut work: impl FnMut() -> T) -> (f64, T) {
    let mut fastest = f64::INFINITY;
    let mut result = None;
    for _ in 0..runs {
        let start = Instant::now();
        let value = work();
        fastest = fastest.min(start.elapsed().as_secs_f64() * 1e3);
        result = Some(value);
    }
    (fastest, result.unwrap())
}
