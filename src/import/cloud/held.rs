//! The header held against the points that were read.

use super::header::Header;
use super::pick::{Tally, header_box};
use super::words::{refused, thousands};
use crate::diag::{At, Diagnostic, Failure};

/// Point formats with waves, which may lie behind the points.
const WITH_WAVES: [u8; 4] = [4, 5, 9, 10];

/// The lowest x and y that the header names, as stored integers; `None` if its box is no box.
pub(super) fn low(header: &Header) -> Option<[i32; 2]> {
    let stored = |k: usize| (header.low[k] - header.offset[k]) / header.scale[k];
    let [x, y] = [stored(0), stored(1)];
    (x.is_finite() && y.is_finite()).then_some([x.floor() as i32, y.floor() as i32])
}

/// South-west and north-east end of the box of the header, as stored integers.
pub(super) fn corners(header: &Header) -> Option<[[i32; 3]; 2]> {
    let limits = header_box(header)?;
    Some([limits.map(|l| l[0]), limits.map(|l| l[1])])
}

/// Says where header and points do not fit.
///
/// # Errors
///
/// points of a packed file outside the box of the header: a byte of it is damaged, and then all
/// points behind it in its chunk are
pub(super) fn held(
    header: &Header,
    tally: &Tally,
    file: &str,
    said: &mut Vec<Diagnostic>,
) -> Result<(), Failure> {
    if let Some(number) = tally.too_far {
        return Err(refused(
            file,
            "cloud-too-far",
            format!(
                "point {} lies beyond all coordinates that are taken",
                thousands(number)
            ),
            "look at the units; else the file is damaged: copy it again from where it came",
        ));
    }
    if header_box(header).is_none() {
        said.push(
            Diagnostic::warn(
                "cloud-box",
                "the box in the header, which all points lie in, is none: damage in the file cannot be told by it",
            )
            .at(At::file(file)),
        );
    }
    let room = (header.points_end - header.points_at) / header.record_len as u64;
    if !header.packed && !WITH_WAVES.contains(&header.format) && room > header.points {
        said.push(
            Diagnostic::warn(
                "cloud-count",
                format!(
                    "the header claims {} points, the file has room for {}: what lies behind is not read",
                    thousands(header.points),
                    thousands(room)
                ),
            )
            .at(At::file(file))
            .help("the header may be damaged, or was not brought up to date"),
        );
    }
    if tally.outside > 0 {
        let words = outside_words(header, tally);
        if header.packed {
            return Err(refused(
                file,
                "cloud-outside",
                format!("{words}: a byte may be damaged"),
                "copy the file again from where it came; if it is whole there too, let a program that reads every point write its header anew",
            ));
        }
        said.push(
            Diagnostic::warn("cloud-outside", words)
                .at(At::file(file))
                .help("look at these points: they may be damaged, or the header was not brought up to date; bounds leave them out"),
        );
    }
    let mut counts = header.by_return.iter().zip(&tally.by_return[1..]);
    let told = header.by_return.iter().any(|&n| n > 0);
    if told && let Some(k) = counts.position(|(claimed, read)| claimed != read) {
        said.push(
            Diagnostic::warn(
                "cloud-returns",
                format!(
                    "the header counts {} points of return {}, the file holds {}",
                    thousands(header.by_return[k]),
                    k + 1,
                    thousands(tally.by_return[k + 1])
                ),
            )
            .at(At::file(file))
            .help("the header was not brought up to date when points were taken out, or a byte is damaged"),
        );
    }
    Ok(())
}

/// "2 points lie outside the box in the header (x 0 to 9, ...): point 7 at 1, 2, 300; ...".
fn outside_words(header: &Header, tally: &Tally) -> String {
    let first: Vec<String> = tally
        .outside_first
        .iter()
        .map(|(number, stored)| {
            let [x, y, z] = [0, 1, 2].map(|k| {
                short(
                    f64::from(stored[k]) * header.scale[k] + header.offset[k],
                    header.scale[k],
                )
            });
            format!("point {} at {x}, {y}, {z}", thousands(*number))
        })
        .collect();
    let limits: Vec<String> = ["x", "y", "z"]
        .iter()
        .enumerate()
        .map(|(k, axis)| {
            let [low, high] = [header.low[k], header.high[k]].map(|v| short(v, header.scale[k]));
            format!("{axis} {low} to {high}")
        })
        .collect();
    format!(
        "{} of {} points lie outside the box in the header ({}): {}{}",
        thousands(tally.outside),
        thousands(tally.read),
        limits.join(", "),
        first.join("; "),
        if tally.outside > tally.outside_first.len() as u64 {
            "; ..."
        } else {
            ""
        }
    )
}

/// A coordinate with the decimals of its step.
fn short(value: f64, step: f64) -> String {
    let decimals = (-step.log10()).ceil().clamp(0.0, 9.0) as usize;
    format!("{value:.decimals$}")
}
