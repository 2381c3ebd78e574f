//! The chunks of a LAZ file: where each lies, that it holds together, and its points.
//!
//! Takes the records of a header, gives chunks whose places and counts add up to the file; unpacks
//! one chunk at a time from its own bytes. Chunks do not depend on each other.
//!
//! # Source
//!
//! M. Isenburg, LASzip: lossless compression of LiDAR data, Photogrammetric Engineering and Remote
//! Sensing 79 (2013), 209-217; American Society for Photogrammetry and Remote Sensing, LAZ
//! Specification 1.4 R1 (2019), chapters 4 (chunk table) and 6 (layers of point formats 6 to 10)

use std::io::{Cursor, Read, SeekFrom};

use laz::laszip::ChunkTable;
use laz::record::{
    LayeredPointRecordDecompressor, RecordDecompressor, SequentialPointRecordDecompressor,
};
use laz::{DecompressionSelection, LazItem, LazItemType, LazVlr};

use super::header::{DAMAGED, Header};
use super::words::{cut_off, refused, thousands};
use crate::diag::Failure;
use crate::files::Stream;

/// Bytes from the start of the points to the place where the chunk table is named.
const TABLE_PLACE: u64 = 8;
/// Bytes of the head of the chunk table.
const TABLE_HEAD: u64 = 8;
/// Most bytes of a chunk: one of 50,000 points, as is usual, has about one million.
const MOST_CHUNK_BYTES: u64 = 1 << 28;
/// Points unpacked at once, so that they stay in the cache until they are looked at.
const AT_ONCE: usize = 2048;

/// Compressors, by their numbers in the format.
mod compressor {
    pub(super) const ONE_CHUNK: u16 = 1;
    /// All that is not named here: chunks of whole points.
    pub(super) const LAYERS: u16 = 3;
}

/// A piece of a LAZ file that can be unpacked by itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Chunk {
    /// Where it begins.
    pub(super) at: u64,
    /// How long it is.
    pub(super) bytes: u64,
    /// How many points it holds.
    pub(super) points: u64,
}

/// How a file is packed.
#[derive(Clone, Debug)]
pub(super) struct Packed {
    items: Vec<LazItem>,
    layered: bool,
    record_len: usize,
    /// Its chunks, in the order of their points.
    pub(super) chunks: Vec<Chunk>,
}

impl Packed {
    /// Reads how a file is packed, and where its chunks are.
    pub(super) fn read(
        stream: &mut dyn Stream,
        header: &Header,
        file: &str,
    ) -> Result<Packed, Failure> {
        let refuse =
            |message: &str, help: &str| refused(file, "cloud-packing", message.to_owned(), help);
        let Some(record) = header.records.iter().find(|r| !r.projection) else {
            return Err(refuse(
                "the record that says how its points are packed is not there",
                DAMAGED,
            ));
        };
        let (Ok(vlr), Some(kind)) = (
            LazVlr::from_buffer(&record.data),
            record.data.first_chunk::<2>(),
        ) else {
            return Err(refuse(
                "the record that says how its points are packed cannot be read",
                DAMAGED,
            ));
        };
        let kind = u16::from_le_bytes(*kind);
        let items = vlr.items().clone();
        let layered = kind == compressor::LAYERS;
        if !(compressor::ONE_CHUNK..=compressor::LAYERS).contains(&kind)
            || !items_fit(&items, header, layered)
        {
            return Err(refuse(
                &format!(
                    "its points are not packed as those of point format {} are",
                    header.format
                ),
                DAMAGED,
            ));
        }
        let chunks = if kind == compressor::ONE_CHUNK {
            vec![Chunk {
                at: header.points_at,
                bytes: header.points_end - header.points_at,
                points: header.points,
            }]
        } else {
            chunks(stream, header, &vlr, file)?
        };
        if let Some(chunk) = chunks.iter().find(|c| c.bytes > MOST_CHUNK_BYTES) {
            return Err(refused(
                file,
                "cloud-packing",
                format!(
                    "{} points are packed as one piece of {} bytes; {} can be unpacked",
                    thousands(chunk.points),
                    thousands(chunk.bytes),
                    thousands(MOST_CHUNK_BYTES)
                ),
                "pack it again in chunks of 50,000 points, as is usual",
            ));
        }
        Ok(Packed {
            items,
            layered,
            record_len: header.record_len,
            chunks,
        })
    }

    /// Unpacks the points of a chunk from its bytes, a few at a time.
    ///
    /// # Errors
    ///
    /// `Ok(false)` if the bytes are not those of so many points; else what `each` says
    pub(super) fn unpack<E>(
        &self,
        bytes: &[u8],
        points: u64,
        each: &mut dyn FnMut(&[u8]) -> Result<(), E>,
    ) -> Result<bool, E> {
        if self.layered {
            if !self.layers_fit(bytes, points) {
                return Ok(false);
            }
            let mut unpacker = LayeredPointRecordDecompressor::new(Cursor::new(bytes));
            if unpacker.set_fields_from(&self.items).is_err() {
                return Ok(false);
            }
            // What no ground is made of stays packed.
            let wanted = DecompressionSelection::base()
                .decompress_z()
                .decompress_classification()
                .decompress_flags();
            unpacker.set_selection(wanted);
            self.run(points, each, &mut |out| {
                unpacker.decompress_next(out).is_ok()
            })
        } else {
            if !starts(bytes, self.record_len) {
                return Ok(false);
            }
            let mut unpacker = SequentialPointRecordDecompressor::new(Cursor::new(bytes));
            if unpacker.set_fields_from(&self.items).is_err() {
                return Ok(false);
            }
            let whole = self.run(points, each, &mut |out| {
                unpacker.decompress_next(out).is_ok()
            })?;
            // A damaged byte makes the unpacker take more bytes or less than there are.
            let used = RecordDecompressor::get(&unpacker).position();
            Ok(whole && used == bytes.len() as u64)
        }
    }

    fn run<E>(
        &self,
        points: u64,
        each: &mut dyn FnMut(&[u8]) -> Result<(), E>,
        next: &mut dyn FnMut(&mut [u8]) -> bool,
    ) -> Result<bool, E> {
        let mut left = points;
        let mut records = vec![0; self.record_len * AT_ONCE.min(points as usize)];
        while left > 0 {
            let count = (left as usize).min(AT_ONCE);
            let records = &mut records[..count * self.record_len];
            for record in records.chunks_exact_mut(self.record_len) {
                if !next(record) {
                    return Ok(false);
                }
            }
            each(records)?;
            left -= count as u64;
        }
        Ok(true)
    }

    /// True if the layers of a chunk fill it: their lengths stand in front of them. The unpacker
    /// takes them at their word and makes room for as much as they say.
    fn layers_fit(&self, bytes: &[u8], points: u64) -> bool {
        let word = |at: usize| {
            let bytes = bytes.get(at..at + 4)?;
            Some(u32::from_le_bytes(bytes.try_into().ok()?))
        };
        let layers: usize = self.items.iter().map(layers_of).sum();
        let counted = word(self.record_len).map(u64::from) == Some(points);
        let first = self.record_len + 4;
        let mut at = first + 4 * layers;
        for layer in 0..layers {
            let Some(length) = word(first + 4 * layer) else {
                return false;
            };
            if length > 0 && !starts(bytes, at) {
                return false;
            }
            at = at.saturating_add(length as usize);
        }
        counted && at == bytes.len()
    }
}

/// True if a number that the unpacker can start with stands at a place: all ones would be beyond
/// its range, and no packer writes them.
fn starts(bytes: &[u8], at: usize) -> bool {
    bytes
        .get(at..at.saturating_add(4))
        .is_some_and(|word| word != [0xff; 4])
}

/// Layers of a part of a point.
fn layers_of(item: &LazItem) -> usize {
    match item.item_type() {
        // Place and return; height, class, flags, intensity, scan angle, user data, source, time.
        LazItemType::Point14 => 9,
        LazItemType::RGBNIR14 => 2,
        LazItemType::Byte14(count) => usize::from(count),
        _ => 1,
    }
}

/// True if a point is packed from the parts that its format has.
fn items_fit(items: &[LazItem], header: &Header, layered: bool) -> bool {
    let parts: &[u16] = match header.format {
        0 => &[20],
        1 => &[20, 8],
        2 => &[20, 6],
        3 => &[20, 8, 6],
        4 => &[20, 8, 29],
        5 => &[20, 8, 6, 29],
        6 => &[30],
        7 => &[30, 6],
        8 => &[30, 8],
        9 => &[30, 29],
        _ => &[30, 8, 29],
    };
    let is_new = |t: LazItemType| {
        use LazItemType::{Byte14, Point14, RGB14, RGBNIR14, WavePacket14};
        matches!(t, Point14 | RGB14 | RGBNIR14 | WavePacket14 | Byte14(_))
    };
    let is_bytes = |t| matches!(t, LazItemType::Byte(_) | LazItemType::Byte14(_));
    let length: usize = items.iter().map(|i| usize::from(i.size())).sum();
    let plain = items.iter().filter(|i| !is_bytes(i.item_type()));
    let first = items.first().map(LazItem::item_type);
    layered == header.is_extended()
        && length == header.record_len
        && matches!(first, Some(LazItemType::Point10 | LazItemType::Point14))
        && plain.map(LazItem::size).eq(parts.iter().copied())
        && items.iter().all(|i| {
            is_new(i.item_type()) == layered
                && if layered { [3, 4] } else { [1, 2] }.contains(&i.version())
                && expected_size(i.item_type()).is_none_or(|size| size == i.size())
        })
}

/// Bytes of a part; `None` where the file says it.
fn expected_size(item: LazItemType) -> Option<u16> {
    Some(match item {
        LazItemType::Byte(_) | LazItemType::Byte14(_) => return None,
        LazItemType::Point10 => 20,
        LazItemType::Point14 => 30,
        LazItemType::GpsTime | LazItemType::RGBNIR14 => 8,
        LazItemType::RGB12 | LazItemType::RGB14 => 6,
        LazItemType::WavePacket13 | LazItemType::WavePacket14 => 29,
    })
}

/// Reads the chunk table and holds it against file and header.
fn chunks(
    stream: &mut dyn Stream,
    header: &Header,
    vlr: &LazVlr,
    file: &str,
) -> Result<Vec<Chunk>, Failure> {
    let missing = || {
        refused(
            file,
            "cloud-cut-off",
            "the table at its end that says where its points are is not there".to_owned(),
            "the file was cut off or never finished: copy it again from where it came",
        )
    };
    let wrong = |message: String| refused(file, "cloud-packing", message, DAMAGED);
    let first = header.points_at + TABLE_PLACE;
    let mut place = |at: SeekFrom| {
        let mut bytes = [0; 8];
        stream.seek(at).ok()?;
        stream.read_exact(&mut bytes).ok()?;
        u64::try_from(i64::from_le_bytes(bytes)).ok()
    };
    // A writer that could not go back names the place in the last bytes of the file.
    let table = place(SeekFrom::Start(header.points_at))
        .filter(|&at| at >= first)
        .or_else(|| place(SeekFrom::End(-(TABLE_PLACE as i64))))
        .filter(|&at| at >= first)
        .ok_or_else(missing)?;
    let mut head = [0; TABLE_HEAD as usize];
    let read = stream.seek(SeekFrom::Start(table));
    if read.is_err() || stream.read_exact(&mut head).is_err() {
        return Err(missing());
    }
    let count = u64::from(u32::from_le_bytes([head[4], head[5], head[6], head[7]]));
    let room = table - first;
    // Every chunk begins with a whole point.
    let most = room / header.record_len as u64;
    if count == 0 || count > most {
        return Err(wrong(format!(
            "its table names {} pieces of points; there is room for {}",
            thousands(count),
            thousands(most)
        )));
    }
    stream.seek(SeekFrom::Start(table)).map_err(|_| missing())?;
    let varied = vlr.uses_variable_size_chunks();
    let entries = ChunkTable::read(&mut (&mut *stream), varied).map_err(|_| missing())?;
    let size = u64::from(vlr.chunk_size());
    let mut left = header.points;
    let mut at = first;
    let mut chunks = Vec::new();
    for entry in entries.as_ref() {
        let points = if varied {
            entry.point_count
        } else {
            size.min(left)
        };
        let end = at.checked_add(entry.byte_count).filter(|&end| end <= table);
        let (Some(end), true) = (end, points <= left) else {
            return Err(wrong(
                "its table of pieces does not fit the file: they reach beyond their end".to_owned(),
            ));
        };
        if points == 0 && entry.byte_count > 0 {
            return Err(refused(
                file,
                "cloud-count",
                format!(
                    "the header claims {} points, the file holds more",
                    thousands(header.points)
                ),
                DAMAGED,
            ));
        }
        if points > 0 {
            let bytes = entry.byte_count;
            chunks.push(Chunk { at, bytes, points });
        }
        left -= points;
        at = end;
    }
    if left > 0 {
        return Err(refused(
            file,
            "cloud-count",
            format!(
                "the header claims {} points, the file holds {}",
                thousands(header.points),
                thousands(header.points - left)
            ),
            "the header or the file is damaged: copy it again from where it came",
        ));
    }
    Ok(chunks)
}

/// The bytes of a chunk; its length is within the file, as was held before.
pub(super) fn bytes_of(
    stream: &mut dyn Stream,
    at: u64,
    length: u64,
    file: &str,
) -> Result<Vec<u8>, Failure> {
    let mut bytes = Vec::with_capacity(length as usize);
    let read = stream
        .seek(SeekFrom::Start(at))
        .and_then(|_| (&mut *stream).take(length).read_to_end(&mut bytes));
    match read {
        Ok(got) if got as u64 == length => Ok(bytes),
        Ok(_) => Err(cut_off(file, "within its points".to_owned())),
        Err(e) => Err(refused(
            file,
            "cloud-unreadable",
            format!("cannot be read: {e}"),
            "",
        )),
    }
}
