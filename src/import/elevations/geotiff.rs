//! GeoTIFF: one band of heights, with its place and units.
//!
//! # Source
//!
//! Open Geospatial Consortium, GeoTIFF 1.1, OGC 19-008r4 (2019), annex B (where cells lie); the
//! tags of NODATA, scale and offset as the open-source library GDAL documents them

use std::io::{BufReader, Read, Seek, SeekFrom};

use tiff::TiffError;
use tiff::decoder::ifd::Value;
use tiff::decoder::{ChunkType, Decoder};
use tiff::tags::ByteOrder;
use tiff::tags::Tag;

use crate::diag::{At, Diagnostic, Failure};
use crate::files::{Input, Stream};
use crate::import::{Import, unreadable};
use crate::job::ImportSpec;
use crate::units::MAX_COORDINATE_M;

use super::cells::Cells;
use super::directory::{self, Page};
use super::geokeys::GeoKeys;
use super::lattice::{Anchor, Lattice, Steps};
use super::pixels::{Fault, Layout, Meaning, Pieces};
use super::place::{NotPlaced, PlaceTags};
use super::unpack::{self, Packing, Predictor, Stored};
use super::{BUFFER, GridRead, settle};

/// Tags that are looked at before the library reads the page.
mod tag {
    pub(super) const WIDTH: u16 = 256;
    pub(super) const HEIGHT: u16 = 257;
    pub(super) const BITS: u16 = 258;
    pub(super) const COMPRESSION: u16 = 259;
    pub(super) const PHOTOMETRIC: u16 = 262;
    pub(super) const ORIENTATION: u16 = 274;
    pub(super) const SAMPLES: u16 = 277;
    pub(super) const PREDICTOR: u16 = 317;
    pub(super) const FORMAT: u16 = 339;
    pub(super) const METADATA: u16 = 42112;
}

/// Whether a file that cannot be read is damaged or of a kind that is not read.
const CONVERT: &str =
    "write it again as a plain GeoTIFF of one band, not compressed or with deflate";
pub(super) const AGAIN: &str = "copy the file again from where it came, or write it again";

fn refused(spec: &ImportSpec, code: &'static str, message: String, help: &str) -> Diagnostic {
    Diagnostic::error(code, message)
        .at(At::file(&spec.file))
        .help(help)
}

/// What the library could not do, in words.
fn words(spec: &ImportSpec, error: &TiffError) -> Diagnostic {
    match error {
        TiffError::IoError(error) if error.kind() != std::io::ErrorKind::UnexpectedEof => refused(
            spec,
            "bad-tiff",
            format!("heights cannot be unpacked: {error}"),
            AGAIN,
        ),
        TiffError::IoError(_) => refused(
            spec,
            "bad-tiff",
            "the file, or what is packed in it, ends too soon".into(),
            AGAIN,
        ),
        TiffError::UnsupportedError(kind) => refused(
            spec,
            "bad-tiff",
            format!("this kind of TIFF is not read: {kind}"),
            CONVERT,
        ),
        other => refused(
            spec,
            "bad-tiff",
            format!("the TIFF is damaged: {other}"),
            AGAIN,
        ),
    }
}

/// Reads a file that begins like a TIFF.
pub(super) fn read(
    spec: &ImportSpec,
    mut stream: Box<dyn Stream>,
    input: Input,
) -> Result<(Import, Vec<Diagnostic>), Failure> {
    let length = input.bytes as u64;
    let pages = directory::pages(&mut *stream, length).map_err(|fault| match fault {
        directory::Fault::Io(error) => unreadable(spec, &error),
        directory::Fault::Words(words) => refused(spec, "bad-tiff", words, AGAIN),
    })?;
    let mut said = Vec::new();
    let page = one_page(spec, &pages, &mut said)?;
    let kind = Kind::of(spec, page, length)?;
    stream
        .seek(SeekFrom::Start(0))
        .map_err(|error| unreadable(spec, &error))?;
    let mut decoder = Decoder::new(BufReader::with_capacity(BUFFER, stream))
        .map_err(|error| words(spec, &error))?;
    let mut tags = Tags {
        spec,
        decoder: &mut decoder,
    };
    let keys = tags.keys()?;
    let (plan, height, more) = settle(spec, keys.units(spec, &mut said)?);
    said.extend(more);
    let steps = tags.steps(keys.anchor())?;
    let nodata = tags.nodata()?;
    tags.refuse_scaled()?;

    let pieces = tags.pieces(kind.rows)?;

    let lattice = Lattice::new(spec, [kind.columns, kind.rows], steps, plan.unit.scale())?;
    let layout = Layout {
        columns: lattice.columns(),
        rows: lattice.rows(),
        stored: Stored {
            is_little: decoder.byte_order() == ByteOrder::LittleEndian,
            ..kind.stored
        },
        packing: kind.packing,
        length,
        pieces,
    };
    let meaning = Meaning {
        // It was rounded to the type of the heights when they were written.
        nodata: nodata.map(|value| match (kind.stored.kind, kind.stored.size) {
            (unpack::Kind::Decimal, 4) => f64::from(value as f32),
            _ => value,
        }),
        unit_m: height.unit.metres(),
        most_m: MAX_COORDINATE_M,
    };
    let mut cells = Cells::new(&lattice);
    let rows = layout.rows(decoder.inner(), &meaning, |row| cells.push(row));
    rows.map_err(|fault| match fault {
        Fault::Io(error) => unreadable(spec, &error),
        Fault::Words(words) => refused(spec, "bad-tiff", words, AGAIN),
        Fault::Height(z, column, row) => refused(
            spec,
            "out-of-range",
            format!(
                "height {z:e} in column {}, row {} is beyond {MAX_COORDINATE_M:e} m",
                column + 1,
                row + 1
            ),
            "if it marks cells without a height, the file must say so: set its NODATA value",
        ),
    })?;
    let woven = cells.finish();
    let read = GridRead {
        format: kind.format,
        lattice,
        woven,
        units: [plan, height],
    };
    read.import(spec, input, said)
}

/// The page that is read; others are told.
fn one_page<'a>(
    spec: &ImportSpec,
    pages: &'a [Page],
    said: &mut Vec<Diagnostic>,
) -> Result<&'a Page, Diagnostic> {
    if pages.iter().any(Page::is_mask) {
        return Err(refused(
            spec,
            "grid-mask",
            "which cells are known is said by a mask beside the heights, which is not read".into(),
            "write the grid with a NODATA value instead of a mask",
        ));
    }
    let full = pages.iter().filter(|page| !page.is_reduced()).count();
    let first = pages.first().filter(|page| !page.is_reduced());
    let Some(page) = first else {
        return Err(refused(
            spec,
            "bad-tiff",
            "the first page of the TIFF is a smaller copy of another".into(),
            CONVERT,
        ));
    };
    if full > 1 {
        said.push(
            Diagnostic::warn(
                "several-pages",
                format!("the TIFF holds {full} pages; the first is read"),
            )
            .at(At::file(&spec.file))
            .help("write the page that is meant as a file of its own"),
        );
    }
    Ok(page)
}

/// What a page holds.
struct Kind {
    columns: u32,
    rows: u32,
    stored: Stored,
    packing: Packing,
    format: String,
}

impl Kind {
    fn of(spec: &ImportSpec, page: &Page, length: u64) -> Result<Kind, Diagnostic> {
        let number = |tag, usual| page.number(tag).unwrap_or(usual);
        let samples = number(tag::SAMPLES, 1);
        if samples != 1 {
            return Err(refused(
                spec,
                "several-bands",
                format!("the TIFF holds {samples} bands, as a picture does; heights are one"),
                CONVERT,
            ));
        }
        let photometric = page.number(tag::PHOTOMETRIC);
        if photometric != Some(1) {
            let words = match photometric {
                None => "the TIFF does not say what its values mean",
                Some(_) => {
                    "the TIFF holds a picture, not heights: its values do not grow from black"
                }
            };
            return Err(refused(spec, "bad-tiff", words.into(), CONVERT));
        }
        if number(tag::ORIENTATION, 1) != 1 {
            return Err(refused(
                spec,
                "bad-tiff",
                "the rows of the TIFF do not run from its upper left corner".into(),
                CONVERT,
            ));
        }
        let packing = Packing::of(number(tag::COMPRESSION, 1)).map_err(|name| {
            refused(
                spec,
                "tiff-compression",
                format!("the TIFF is packed with {name} compression, which is not read"),
                "write it again with deflate or LZW, or not compressed",
            )
        })?;
        let (bits, format) = (number(tag::BITS, 1), number(tag::FORMAT, 1));
        let (kind, held) = match (format, bits) {
            (1, 8 | 16 | 32 | 64) => (unpack::Kind::Unsigned, "whole numbers"),
            (2, 8 | 16 | 32 | 64) => (unpack::Kind::Signed, "whole numbers with a sign"),
            (3, 16 | 32 | 64) => (unpack::Kind::Decimal, "decimals"),
            _ => {
                return Err(refused(
                    spec,
                    "bad-tiff",
                    format!("heights of {bits} bits of kind {format} are not read"),
                    CONVERT,
                ));
            }
        };
        let predictor = match (number(tag::PREDICTOR, 1), kind) {
            (1, _) => Predictor::None,
            (2, _) => Predictor::Horizontal,
            (3, unpack::Kind::Decimal) => Predictor::FloatingPoint,
            (other, _) => {
                return Err(refused(
                    spec,
                    "bad-tiff",
                    format!("heights packed with predictor {other} are not read"),
                    CONVERT,
                ));
            }
        };
        let size = |tag| page.number(tag).and_then(|n| u32::try_from(n).ok());
        let (Some(columns), Some(rows)) = (size(tag::WIDTH), size(tag::HEIGHT)) else {
            return Err(refused(
                spec,
                "bad-tiff",
                "the TIFF does not say how many columns and rows it has".into(),
                AGAIN,
            ));
        };
        let claimed = u128::from(columns) * u128::from(rows) * u128::from(bits / 8);
        if claimed > u128::from(length) * u128::from(packing.ratio()) {
            return Err(refused(
                spec,
                "bad-tiff",
                format!(
                    "the TIFF claims {columns} columns and {rows} rows, more than its {length} \
                     bytes can hold"
                ),
                AGAIN,
            ));
        }
        Ok(Kind {
            columns,
            rows,
            stored: Stored {
                kind,
                size: bits as usize / 8,
                predictor,
                is_little: true,
            },
            packing,
            format: format!("GeoTIFF, {held} of {bits} bits, {}", packing.name()),
        })
    }
}

/// Reads tags, with words for what is wrong with them.
struct Tags<'a, R: Read + Seek> {
    spec: &'a ImportSpec,
    decoder: &'a mut Decoder<R>,
}

impl<R: Read + Seek> Tags<'_, R> {
    fn find<T>(
        &mut self,
        tag: Tag,
        into: fn(Value) -> Result<T, TiffError>,
    ) -> Result<Option<T>, Diagnostic> {
        let value = self.decoder.find_tag(tag);
        value
            .and_then(|value| value.map(into).transpose())
            .map_err(|error| words(self.spec, &error))
    }

    /// Where strips or tiles lie.
    fn pieces(&mut self, rows: u32) -> Result<Pieces, Diagnostic> {
        let (offsets, bytes) = match self.decoder.get_chunk_type() {
            ChunkType::Strip => (Tag::StripOffsets, Tag::StripByteCounts),
            ChunkType::Tile => (Tag::TileOffsets, Tag::TileByteCounts),
        };
        let (columns, height) = self.decoder.chunk_dimensions();
        Ok(Pieces {
            offsets: self.find(offsets, Value::into_u64_vec)?.unwrap_or_default(),
            bytes: self.find(bytes, Value::into_u64_vec)?.unwrap_or_default(),
            size: [columns as usize, height.min(rows) as usize],
        })
    }

    fn keys(&mut self) -> Result<GeoKeys, Diagnostic> {
        let directory = self.find(Tag::GeoKeyDirectoryTag, Value::into_u16_vec)?;
        let doubles = self.find(Tag::GeoDoubleParamsTag, Value::into_f64_vec)?;
        Ok(GeoKeys::new(
            &directory.unwrap_or_default(),
            doubles.unwrap_or_default(),
        ))
    }

    /// The value of cells without a height.
    fn nodata(&mut self) -> Result<Option<f64>, Diagnostic> {
        let Some(text) = self.find(Tag::GdalNodata, Value::into_string)? else {
            return Ok(None);
        };
        let text = text.trim();
        text.parse().map(Some).map_err(|_| {
            let mut fault = refused(
                self.spec,
                "bad-number",
                "the NODATA value of the TIFF is no number".into(),
                "set it again",
            );
            fault.at[0].text = text.to_owned();
            fault
        })
    }

    /// Refuses heights that are to be multiplied or shifted before they are heights.
    fn refuse_scaled(&mut self) -> Result<(), Diagnostic> {
        let text = self.find(Tag::Unknown(tag::METADATA), Value::into_string)?;
        let Some(text) = text else { return Ok(()) };
        for (role, neutral) in [("scale", 1.0), ("offset", 0.0)] {
            let marked = text
                .split("<Item")
                .find(|item| item.contains(&format!("role=\"{role}\"")));
            let value = marked
                .and_then(|item| item.split_once('>'))
                .and_then(|(_, rest)| rest.split('<').next());
            if let Some(value) = value
                && value.trim().parse() != Ok(neutral)
            {
                let mut fault = refused(
                    self.spec,
                    "grid-scaled",
                    format!(
                        "the TIFF says that its values have a {role}; they are read as they are, so this would be wrong"
                    ),
                    "write the grid again with heights as they are",
                );
                fault.at[0].text = value.to_owned();
                return Err(fault);
            }
        }
        Ok(())
    }

    /// Where the first cell lies and how places go on, for x and y.
    fn steps(&mut self, anchor: Anchor) -> Result<[(Steps, Anchor); 2], Diagnostic> {
        let tags = PlaceTags {
            scale: self.find(Tag::ModelPixelScaleTag, Value::into_f64_vec)?,
            ties: self.find(Tag::ModelTiepointTag, Value::into_f64_vec)?,
            matrix: self.find(Tag::ModelTransformationTag, Value::into_f64_vec)?,
        };
        let [x, y] = tags.steps().map_err(|NotPlaced(message, help)| {
            refused(self.spec, "grid-place", message.to_owned(), help)
        })?;
        Ok([(x, anchor), (y, anchor)])
    }
}
