//! The heights of a TIFF, strip by strip or tile by tile, as rows.
//!
//! A strip or tile is read only if the bytes it has in the file can hold what it claims.

use std::io::{self, Read, Seek, SeekFrom};

use super::unpack::{Packing, Stored};

/// Why heights cannot be read.
#[derive(Debug)]
pub(super) enum Fault {
    /// The file itself.
    Io(io::Error),
    /// A strip or tile claims what it cannot hold, or is damaged; in words.
    Words(String),
    /// A height that is none, at a column and a row.
    Height(f64, usize, usize),
}

/// Where the strips or tiles of a page lie.
pub(super) struct Pieces {
    /// Where in the file each begins.
    pub(super) offsets: Vec<u64>,
    /// How many bytes of the file each has.
    pub(super) bytes: Vec<u64>,
    /// Columns and rows of a whole one.
    pub(super) size: [usize; 2],
}

/// How the heights of a page lie in its file.
pub(super) struct Layout {
    pub(super) columns: usize,
    pub(super) rows: usize,
    pub(super) stored: Stored,
    pub(super) packing: Packing,
    /// Length of the file, bytes.
    pub(super) length: u64,
    pub(super) pieces: Pieces,
}

/// Which stored numbers are heights.
pub(super) struct Meaning {
    /// The value of cells without a height, as it is stored in the type of the heights.
    pub(super) nodata: Option<f64>,
    /// Metres in one unit of height.
    pub(super) unit_m: f64,
    /// Largest height, metres.
    pub(super) most_m: f64,
}

/// Of what `Layout::rows` holds of a band.
enum Held {
    /// Nothing was written there: nothing is known.
    Unwritten,
    Bytes(Vec<u8>),
}

impl Layout {
    /// Gives all rows, from the first.
    ///
    /// # Errors
    ///
    /// [`Fault`]
    pub(super) fn rows(
        &self,
        file: &mut (impl Read + Seek),
        meaning: &Meaning,
        mut take: impl FnMut(&mut Vec<f64>),
    ) -> Result<(), Fault> {
        let [width, height] = self.pieces.size;
        let across = self.columns.div_ceil(width);
        self.check(across * self.rows.div_ceil(height))?;
        let stride = width * self.stored.size;
        let mut row = Vec::new();
        for band in 0..self.rows.div_ceil(height) {
            let rows = height.min(self.rows - band * height);
            let mut held = Vec::with_capacity(across);
            for k in 0..across {
                held.push(self.piece(file, band * across + k, rows * stride)?);
            }
            for r in 0..rows {
                for (k, held) in held.iter_mut().enumerate() {
                    let columns = width.min(self.columns - k * width);
                    let from = row.len();
                    match held {
                        Held::Unwritten => row.resize(from + columns, f64::NAN),
                        Held::Bytes(bytes) => {
                            let line = &mut bytes[r * stride..(r + 1) * stride];
                            self.stored.numbers(line, |value| {
                                row.push(if meaning.nodata == Some(value) {
                                    f64::NAN
                                } else {
                                    value * meaning.unit_m
                                });
                            });
                            row.truncate(from + columns);
                        }
                    }
                }
                if let Some(column) = row.iter().position(|z| z.abs() > meaning.most_m) {
                    let value = row[column] / meaning.unit_m;
                    return Err(Fault::Height(value, column, band * height + r));
                }
                take(&mut row);
            }
        }
        Ok(())
    }

    /// Holds what is said of strips or tiles against the file.
    fn check(&self, wanted: usize) -> Result<(), Fault> {
        let Pieces { offsets, bytes, .. } = &self.pieces;
        if offsets.len() != wanted || bytes.len() != wanted {
            return Err(Fault::Words(format!(
                "the page has {} strips or tiles where {wanted} are needed",
                offsets.len()
            )));
        }
        let mut sum = 0u64;
        for (k, (&offset, &count)) in offsets.iter().zip(bytes).enumerate() {
            let end = offset.checked_add(count);
            if end.is_none_or(|end| end > self.length) {
                return Err(Fault::Words(format!(
                    "strip or tile {} lies beyond the end of the file",
                    k + 1
                )));
            }
            sum = sum.saturating_add(count);
        }
        if sum > self.length {
            return Err(Fault::Words("strips or tiles lie over each other".into()));
        }
        Ok(())
    }

    fn piece(
        &self,
        file: &mut (impl Read + Seek),
        number: usize,
        wanted: usize,
    ) -> Result<Held, Fault> {
        let (offset, count) = (self.pieces.offsets[number], self.pieces.bytes[number]);
        if offset == 0 && count == 0 {
            return Ok(Held::Unwritten);
        }
        if wanted as u64 > count.saturating_mul(self.packing.ratio()) {
            return Err(Fault::Words(format!(
                "strip or tile {} claims {wanted} bytes of heights, more than its {count} bytes \
                 can hold",
                number + 1
            )));
        }
        let mut packed = vec![0; count as usize];
        file.seek(SeekFrom::Start(offset))
            .and_then(|_| file.read_exact(&mut packed))
            .map_err(Fault::Io)?;
        match self.packing.unpack(&packed, wanted) {
            Some(bytes) => Ok(Held::Bytes(bytes)),
            None => Err(Fault::Words(format!(
                "strip or tile {} ends too soon, or what is packed in it is damaged",
                number + 1
            ))),
        }
    }
}
