//! Grids of elevations: GeoTIFF and ASCII grids.
//!
//! Which of the two a file is, is told from its first bytes. Cells become faces in `cells.rs`;
//! where they lie is exact (`lattice.rs`).

mod ascii;
mod cells;
mod directory;
mod geokeys;
mod geotiff;
mod lattice;
mod pixels;
mod place;
mod unpack;
mod words;

use std::io::{BufReader, Read, Seek, SeekFrom};

use crate::diag::{At, Diagnostic, Failure};
use crate::files::{Files, Input, Stream};
use crate::job::ImportSpec;

use super::units::{Stated, settle};
use super::{Content, Facts, Import, LeftOut, UnitFound, unreadable};

use cells::Woven;
use lattice::Lattice;

/// How exact heights of an elevation grid are meant to be, metres, where nobody says: judged
/// here. Public grids made from laser scans are given with root mean square errors of 0.1 m on
/// open ground.
const HEIGHT_ERROR_M: f64 = 0.15;

/// Bytes read at once.
const BUFFER: usize = 1 << 17;

/// Bytes that tell what a file is.
const SNIFFED: u64 = 512;

/// Reads a file.
///
/// # Errors
///
/// in words: what cannot be read, where, and what to do
pub(super) fn read(
    spec: &ImportSpec,
    files: &dyn Files,
) -> Result<(Import, Vec<Diagnostic>), Failure> {
    let (mut stream, input) = super::open(spec, files)?;
    let mut start = Vec::new();
    (&mut stream)
        .take(SNIFFED)
        .read_to_end(&mut start)
        .and_then(|_| stream.seek(SeekFrom::Start(0)))
        .map_err(|error| unreadable(spec, &error))?;
    if start.starts_with(b"II") || start.starts_with(b"MM") {
        return geotiff::read(spec, stream, input);
    }
    if !looks_like_text(&start) {
        return Err(Diagnostic::error(
            "unknown-format",
            "the file is neither a GeoTIFF nor an ASCII elevation grid",
        )
        .at(At::file(&spec.file))
        .help("a grid begins with the word ncols, a TIFF with II or MM; points are read as CSV, clouds as LAS")
        .into());
    }
    read_ascii(spec, stream, input)
}

/// True for what begins like a head: letters before anything else, and nothing that is no text.
fn looks_like_text(start: &[u8]) -> bool {
    let start = start.strip_prefix(&[0xef, 0xbb, 0xbf]).unwrap_or(start);
    let first = start.iter().find(|b| !b.is_ascii_whitespace());
    first.is_some_and(u8::is_ascii_alphabetic) && !start.contains(&0)
}

fn read_ascii(
    spec: &ImportSpec,
    stream: Box<dyn Stream>,
    input: Input,
) -> Result<(Import, Vec<Diagnostic>), Failure> {
    let (plan, height, mut said) = settle(spec, Stated::default());
    let text = BufReader::with_capacity(BUFFER, stream);
    let bytes = input.bytes as u64;
    let grid = ascii::read(spec, text, bytes, plan.unit.scale(), height.unit.metres())?;
    said.extend(grid.said);
    let read = GridRead {
        format: "ASCII elevation grid".to_owned(),
        lattice: grid.lattice,
        woven: grid.woven,
        units: [plan, height],
    };
    read.import(spec, input, said)
}

/// A grid with its faces and what is to be told of it.
struct GridRead {
    format: String,
    lattice: Lattice,
    woven: Woven,
    /// Of plan and heights.
    units: [UnitFound; 2],
}

impl GridRead {
    fn import(
        self,
        spec: &ImportSpec,
        input: Input,
        mut said: Vec<Diagnostic>,
    ) -> Result<(Import, Vec<Diagnostic>), Failure> {
        let GridRead {
            format,
            lattice,
            woven,
            units: [plan, height],
        } = self;
        if woven.faces.triangles.is_empty() {
            return Err(Diagnostic::error(
                "no-faces",
                "no three cells of a square of four have heights, so there is no surface",
            )
            .at(At::file(&spec.file))
            .help("is the value that marks cells without a height right?")
            .into());
        }
        said.push(diagonals(spec, &woven, plan));
        let left_out = [
            ("NODATA", woven.unknown),
            ("no square of three known cells holds it", woven.lonely),
        ];
        let left_out = left_out
            .into_iter()
            .filter(|&(_, count)| count > 0)
            .map(|(why, count)| LeftOut {
                why: why.to_owned(),
                count,
            });
        let facts = Facts {
            format: format!(
                "{format}, {} columns x {} rows",
                lattice.columns(),
                lattice.rows()
            ),
            plan_unit: plan,
            height_unit: height,
            counted: "cells",
            read: lattice.columns() as u64 * lattice.rows() as u64,
            kept: woven.faces.vertices.len() as u64,
            left_out: left_out.collect(),
            loss: None,
            height_error_m: spec.height_error_m.unwrap_or(HEIGHT_ERROR_M),
        };
        let import = Import {
            taken_away: None,
            source: spec.source(),
            origin: lattice.origin(),
            content: Content::Faces(woven.faces),
            facts,
            input,
        };
        Ok((import, said))
    }
}

/// Which diagonal, and what it does to volumes.
fn diagonals(spec: &ImportSpec, woven: &Woven, plan: UnitFound) -> Diagnostic {
    let volume = |m3: f64| {
        format!(
            "{:.1} {}",
            m3 / plan.unit.volume_m3(),
            plan.unit.volume_name()
        )
    };
    let way = if woven.turned_m3 < 0.0 {
        "less"
    } else {
        "more"
    };
    Diagnostic::note(
        "diagonals",
        format!(
            "four cells make a square of two faces, parted from south-west to north-east; parted \
             the other way the surface would hold {} {way}, and no choice of diagonals moves its \
             volume by more than {}",
            volume(woven.turned_m3.abs()),
            volume(woven.bound_m3)
        ),
    )
    .at(At::file(&spec.file))
}
