//! Point clouds: LAS 1.0 to 1.4, LAZ and COPC.
//!
//! Takes a file as a job names it, gives ground points about an origin of their own and an account
//! of all others. Reads block by block: memory goes with what is kept, not with the file. Every
//! count and every place in the file is held against its length before it is used.

pub(super) mod crs;
mod header;
mod held;
mod lattice;
mod packed;
mod pick;
mod reading;
mod sieve;
mod stages;
mod units;
mod wkt;
mod words;

use crate::diag::{At, Diagnostic, Failure};
use crate::files::{Files, Input};
use crate::job::ImportSpec;

use super::facts::LeftOut;
use super::{Content, Facts, Import};
use header::Header;
use lattice::Lattice;
use pick::{GROUND, Tally};
use reading::{Read, Reading};
use stages::Stored;
use words::{class, refused};

/// How exact heights of a cloud are meant to be, metres.
///
/// # Source
///
/// American Society for Photogrammetry and Remote Sensing, Positional Accuracy Standards for
/// Digital Geospatial Data, edition 2 (2023), vertical class of 10 cm; that of a public tile.
const HEIGHT_ERROR_M: f64 = 0.10;

/// Reads a file.
///
/// # Errors
///
/// in words: what cannot be read, where, and what to do
pub(super) fn read(
    spec: &ImportSpec,
    files: &dyn Files,
) -> Result<(Import, Vec<Diagnostic>), Failure> {
    let file = &*spec.file;
    let open = |e: String| refused(file, "cloud-unreadable", e, "");
    let mut stream = files.open(file).map_err(open)?;
    let stream = &mut *stream;
    let input = Input::of_stream(file, stream)
        .map_err(|e| refused(file, "cloud-unreadable", format!("cannot be read: {e}"), ""))?;
    let header = Header::read(stream, file)?;
    let mut said = Vec::new();
    let units = units::units(spec, &header, &mut said)?;
    let stored = Stored::new(stream, &header, file)?;
    let low = held::low(&header);
    let low = match low {
        Some(low) => low,
        None => {
            let [x, y, _] = stored.first_point(stream)?;
            [x, y]
        }
    };
    let lattice = Lattice::new(&header, [units.plan.unit, units.height.unit], low, file)?;
    let origin = lattice.origin;

    let reading = Reading {
        spec,
        header: &header,
        stored,
        lattice,
        workers: files.workers(),
    };
    let Read {
        thinned,
        tally,
        sieved,
    } = reading.all(stream, &mut said)?;
    held::held(&header, &tally, file, &mut said)?;
    let kept = thinned.points.len() as u64;
    if kept == 0 {
        return Err(nothing_kept(spec, &tally));
    }
    let mut left_out = tally.left_out();
    let mut leave = |why: &str, count: u64| {
        if count > 0 {
            let why = why.to_owned();
            left_out.push(LeftOut { why, count });
        }
    };
    if let Some(sieving) = &sieved {
        leave("stands on the ground, by the ground filter", sieving.above);
        leave("lies below the ground, by the ground filter", sieving.below);
        leave(
            "outside the box in the header, where the ground filter does not look",
            sieving.outside,
        );
    }
    leave("at the place of another", thinned.same_place);
    leave("thinned", thinned.loss.map_or(0, |loss| loss.points));
    let import = Import {
        source: spec.source(),
        origin,
        content: Content::Points(thinned.points),
        facts: Facts {
            format: header.words(),
            plan_unit: units.plan,
            height_unit: units.height,
            counted: "points",
            read: tally.read,
            kept,
            left_out,
            loss: thinned.loss,
            height_error_m: spec.height_error_m.unwrap_or(HEIGHT_ERROR_M),
        },
        taken_away: sieved.map(|sieving| sieving.picture(origin)),
        input,
    };
    Ok((import, said))
}

/// A file of which nothing was taken.
fn nothing_kept(spec: &ImportSpec, tally: &Tally) -> Failure {
    let left: Vec<String> = tally
        .left_out()
        .iter()
        .map(|l| format!("{} {}", words::thousands(l.count), l.why))
        .collect();
    let classes = spec.cloud.classes.as_deref().unwrap_or(&[GROUND]);
    let asked: Vec<String> = classes.iter().map(|&c| class(c)).collect();
    Diagnostic::error(
        "cloud-no-ground",
        format!(
            "no point was taken: asked for was {}; left out are {}",
            asked.join(", "),
            left.join(", ")
        ),
    )
    .at(At::file(&spec.file))
    .help("ask for other classes (classes = [2, 8], --classes 2,8), for wider bounds, or for the ground filter")
    .into()
}
