//! Stretches of a line as a job gives them: within its ends, and apart from one another.

use crate::diag::{At, Diagnostic};

use super::Site;
use super::shape::{CentreLine, SAME_STATION_M};

/// A stretch of a line as a job names it: what it is, its ends, where the job says so.
pub(super) type Named<'a> = (&'a str, [f64; 2], &'a At);

/// Refuses stretches that reach past the ends of the line, and those that overlap.
pub(super) fn check_stretches(
    site: &Site,
    line: &CentreLine,
    stretches: &[Named],
) -> Result<(), Diagnostic> {
    let length_m = line.length_m();
    let mut sorted: Vec<&Named> = stretches.iter().collect();
    sorted.sort_by(|a, b| a.1[0].total_cmp(&b.1[0]));
    for (what, [from, to], at) in &sorted {
        if to <= from {
            return Err(Diagnostic::error(
                "bad-stretch",
                format!(
                    "the {what} ends {} from the head, before it begins",
                    site.length(*to)
                ),
            )
            .at((*at).clone())
            .help("`from` is nearer to the head than `to`; lengths are more than 0"));
        }
        if *from < -SAME_STATION_M || *to > length_m + SAME_STATION_M {
            return Err(Diagnostic::error(
                "off-line",
                format!(
                    "the {what} lies {} to {} from the head, but the line is {} long",
                    site.length(*from),
                    site.length(*to),
                    site.length(length_m)
                ),
            )
            .at((*at).clone())
            .help("distances count along the line from the head"));
        }
    }
    for pair in sorted.windows(2) {
        let ((one, a, _), (other, b, at)) = (pair[0], pair[1]);
        if b[0] < a[1] - SAME_STATION_M {
            let words = format!(
                "the {other} begins {} from the head, at {}, where the {one} reaches to {}",
                site.length(b[0]),
                site.place(line.at(b[0])),
                site.length(a[1])
            );
            return Err(Diagnostic::error("overlap", words)
                .at((*at).clone())
                .help("move one of the two along the line, or make it shorter"));
        }
    }
    Ok(())
}

/// The fault of a distance that lies beyond the line.
pub(super) fn off_line(
    site: &Site,
    line: &CentreLine,
    what: &str,
    at_m: f64,
    at: &At,
) -> Diagnostic {
    Diagnostic::error(
        "off-line",
        format!(
            "this {what} is {} from the head, but the line is {} long",
            site.length(at_m),
            site.length(line.length_m())
        ),
    )
    .at(at.clone())
    .help("`at` counts along the line from the head")
}
