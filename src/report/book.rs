//! A level book on the terminal: the answer first, then the page check and every sight.

use std::fmt::Write as _;

use crate::show::Show;
use crate::survey::{BookStatus, LevelBook};

/// A reduced level book in the unit of its rod.
pub fn book_text(book: &LevelBook, show: Show) -> String {
    let mut text = String::new();
    let unit = show.length_unit();
    let status = match book.status {
        BookStatus::Closed => "closed",
        BookStatus::Adjusted => "closed and adjusted",
        BookStatus::Refused => "refused: do not build on these levels",
        BookStatus::Open => "open: nothing checks a part of these readings",
    };
    let _ = writeln!(text, "{}: {status}", book.file);
    if !book.words.is_empty() {
        let _ = writeln!(text, "  {}", book.words);
    }
    match &book.benchmark {
        Some(b) => {
            let _ = writeln!(
                text,
                "  benchmark {} at {} {unit}",
                b.name,
                show.level(b.level_m)
            );
        }
        None => {
            let _ = writeln!(text, "  known levels as given in the book");
        }
    }
    for setup in &book.setups {
        let plane = match setup.plane_m {
            Some(plane) => format!("laser plane at {} {unit}", show.level(plane)),
            None => "a rod that shows elevations: no plane".to_owned(),
        };
        let _ = writeln!(
            text,
            "  set-up {}: {plane}, from {} (line {})",
            setup.name, setup.backsight, setup.line
        );
    }
    match (book.misclosure_m, book.allowed_m) {
        (Some(off), Some(allowed)) => {
            let word = match signed(show, off) {
                zero if zero == signed(show, 0.0) => "",
                low if low.starts_with('-') => " low",
                _ => " high",
            };
            let _ = writeln!(
                text,
                "  misclosure {} {unit}{word}, allowed {} {unit}",
                signed(show, off.abs()),
                signed(show, allowed)
            );
        }
        _ => {
            let _ = writeln!(
                text,
                "  misclosure not computed: shoot the benchmark again at the end"
            );
        }
    }
    let _ = writeln!(
        text,
        "  page check: sum of backsights {} - sum of foresights {} = {} {unit}",
        signed(show, book.sum_bs_m),
        signed(show, book.sum_fs_m),
        signed(show, book.sum_bs_m - book.sum_fs_m)
    );
    let _ = writeln!(
        text,
        "\n  {:<12} {:<4} {:>12} {:>12} {:>12}",
        "point",
        "",
        "rod as read",
        format!("level {unit}"),
        format!("adjusted {unit}")
    );
    for sight in &book.sights {
        let _ = writeln!(
            text,
            "  {:<12} {:<4} {:>12} {:>12} {:>12}",
            sight.name,
            sight.kind.name(),
            sight.rod,
            show.level(sight.elevation_m),
            show.level(sight.adjusted_m)
        );
    }
    text
}

/// A sum with every digit a rod gives, so that the page check adds up; it may be negative.
fn signed(show: Show, m: f64) -> String {
    let value = show.unit().from_m(m);
    // No sum is "-0".
    format!("{:.3}", if value.abs() < 5.0e-4 { 0.0 } else { value })
}
