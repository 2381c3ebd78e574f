//! The three stages of reading a cloud, side by side: load, unpack and pick, take.
//!
//! While some blocks are unpacked, those before them are taken and those after them loaded. What
//! is taken comes in the order of the file, whatever the number of threads.

use std::sync::{Mutex, OnceLock, PoisonError};

use super::header::{DAMAGED, Header};
use super::packed::{Packed, bytes_of};
use super::pick::{Batch, Pick};
use super::words::{refused, thousands};
use crate::diag::Failure;
use crate::files::{Stream, Workers};

/// Blocks that are unpacked at once.
const AT_ONCE: usize = 4;
/// Points of a block of a file that is not packed.
const PLAIN_POINTS: u64 = 1 << 16;
/// Most bytes of such a block: points may be 65,535 bytes long.
const PLAIN_BYTES: u64 = 1 << 22;
/// A chunk of more points is unpacked by itself and taken piece by piece, for the sake of memory.
const WHOLE_POINTS: u64 = 1 << 20;
/// Points taken at once from such a chunk.
const PIECE: usize = 1 << 16;

/// Points of a file as they are stored.
pub(super) struct Stored<'a> {
    file: &'a str,
    header: &'a Header,
    packed: Option<Packed>,
}

/// Some of them.
struct Block {
    /// Number of the first, from 1.
    first: u64,
    points: u64,
    bytes: Vec<u8>,
}

/// What is done with points, in the order of the file.
pub(super) type Take<'a> = dyn FnMut(Batch) -> Result<(), Failure> + Send + 'a;

impl<'a> Stored<'a> {
    /// Finds the points of a file.
    pub(super) fn new(
        stream: &mut dyn Stream,
        header: &'a Header,
        file: &'a str,
    ) -> Result<Stored<'a>, Failure> {
        let packed = if header.packed {
            Some(Packed::read(stream, header, file)?)
        } else {
            let room = header.points_end - header.points_at;
            let held = room / header.record_len as u64;
            if held < header.points {
                return Err(refused(
                    file,
                    "cloud-count",
                    format!(
                        "the header claims {} points, the file holds {}",
                        thousands(header.points),
                        thousands(held)
                    ),
                    "the file was cut off, or its header is damaged: copy it again from where it came",
                ));
            }
            None
        };
        Ok(Stored {
            file,
            header,
            packed,
        })
    }

    /// The stored integers of the first point.
    pub(super) fn first_point(&self, stream: &mut dyn Stream) -> Result<[i32; 3], Failure> {
        let mut first = None;
        for block in Loader::new(stream, self).load()?.iter().take(1) {
            self.records(block, &mut |records| {
                first = first.or_else(|| records.first_chunk::<12>().copied());
                Ok(())
            })?;
        }
        let bytes = first.unwrap_or([0; 12]);
        Ok([0, 4, 8]
            .map(|at| i32::from_le_bytes([bytes[at], bytes[at + 1], bytes[at + 2], bytes[at + 3]])))
    }

    /// Reads all points, in the order of the file.
    pub(super) fn read(
        &self,
        stream: &mut dyn Stream,
        pick: &Pick,
        workers: &dyn Workers,
        take: &mut Take<'_>,
    ) -> Result<(), Failure> {
        let mut loader = Loader::new(stream, self);
        let mut blocks = loader.load()?;
        let mut done: Vec<Batch> = Vec::new();
        while !(blocks.is_empty() && done.is_empty()) {
            if let [block] = &blocks[..]
                && block.points > WHOLE_POINTS
            {
                done.drain(..).try_for_each(&mut *take)?;
                self.in_pieces(block, pick, take)?;
                blocks = loader.load()?;
                continue;
            }
            let slots: Vec<OnceLock<Result<Batch, Failure>>> =
                blocks.iter().map(|_| OnceLock::new()).collect();
            let (mut taken, mut loaded) = (Ok(()), Ok(Vec::new()));
            let beside = Mutex::new((&mut *take, &mut done, &mut loader, &mut taken, &mut loaded));
            workers.for_each(blocks.len() + 1, &|index| {
                if let Some(index) = index.checked_sub(1) {
                    let _ = slots[index].set(self.picked(&blocks[index], pick));
                    return;
                }
                let mut beside = beside.lock().unwrap_or_else(PoisonError::into_inner);
                let (take, done, loader, taken, loaded) = &mut *beside;
                **taken = done.drain(..).try_for_each(&mut **take);
                **loaded = loader.load();
            });
            taken?;
            for slot in slots {
                done.extend(slot.into_inner().transpose()?);
            }
            blocks = loaded?;
        }
        Ok(())
    }

    /// The points of a block that are taken.
    fn picked(&self, block: &Block, pick: &Pick) -> Result<Batch, Failure> {
        let mut batch = Batch::default();
        let mut first = block.first;
        self.records(block, &mut |records| {
            pick.take(records, first, &mut batch);
            first += (records.len() / self.header.record_len) as u64;
            Ok(())
        })?;
        Ok(batch)
    }

    /// Takes a large block piece by piece.
    fn in_pieces(&self, block: &Block, pick: &Pick, take: &mut Take<'_>) -> Result<(), Failure> {
        let mut batch = Batch::default();
        let mut first = block.first;
        self.records(block, &mut |records| {
            pick.take(records, first, &mut batch);
            first += (records.len() / self.header.record_len) as u64;
            if batch.points.len() >= PIECE {
                take(std::mem::take(&mut batch))?;
            }
            Ok(())
        })?;
        take(batch)
    }

    /// The records of a block, some at a time.
    fn records(
        &self,
        block: &Block,
        each: &mut dyn FnMut(&[u8]) -> Result<(), Failure>,
    ) -> Result<(), Failure> {
        let Some(packed) = &self.packed else {
            return each(&block.bytes);
        };
        if packed.unpack(&block.bytes, block.points, each)? {
            return Ok(());
        }
        Err(refused(
            self.file,
            "cloud-damaged",
            format!(
                "points {} to {} cannot be unpacked: a byte is damaged",
                thousands(block.first),
                thousands(block.first + block.points - 1)
            ),
            DAMAGED,
        ))
    }
}

/// Loads block after block.
struct Loader<'a> {
    stream: &'a mut dyn Stream,
    stored: &'a Stored<'a>,
    /// Number of the next point, from 1.
    first: u64,
    /// The next chunk.
    chunk: usize,
}

impl<'a> Loader<'a> {
    fn new(stream: &'a mut dyn Stream, stored: &'a Stored<'a>) -> Loader<'a> {
        Loader {
            stream,
            stored,
            first: 1,
            chunk: 0,
        }
    }

    /// The next blocks; none at the end. A large one comes alone.
    fn load(&mut self) -> Result<Vec<Block>, Failure> {
        let mut blocks: Vec<Block> = Vec::new();
        while blocks.len() < AT_ONCE {
            let Some((at, bytes, points)) = self.next() else {
                break;
            };
            let large = points > WHOLE_POINTS;
            if large && !blocks.is_empty() {
                break;
            }
            blocks.push(Block {
                first: self.first,
                points,
                bytes: bytes_of(self.stream, at, bytes, self.stored.file)?,
            });
            self.first += points;
            self.chunk += 1;
            if large {
                break;
            }
        }
        Ok(blocks)
    }

    /// Where the next block begins, its bytes and its points.
    fn next(&self) -> Option<(u64, u64, u64)> {
        let header = self.stored.header;
        if let Some(packed) = &self.stored.packed {
            let chunk = packed.chunks.get(self.chunk)?;
            return Some((chunk.at, chunk.bytes, chunk.points));
        }
        let length = header.record_len as u64;
        let read = self.first - 1;
        let points = PLAIN_POINTS
            .min(PLAIN_BYTES / length)
            .min(header.points - read);
        (points > 0).then(|| (header.points_at + read * length, points * length, points))
    }
}
