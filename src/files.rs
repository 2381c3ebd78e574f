//! The one door through which bytes, the date and worker threads come in.
//!
//! The engine opens no file and asks no clock: it is handed a [`Files`] and a [`Workers`].
//! Disk, built-in example, browser upload and tests are implementations of them.

use std::io::{Read, Seek, SeekFrom, Write};

/// Reads inputs by the name the job gives them.
pub trait Files {
    /// Whole content of one file.
    ///
    /// # Errors
    ///
    /// a sentence for the user: missing, a directory, too large, no permission
    fn read(&self, name: &str) -> Result<Vec<u8>, String>;

    /// One file as a stream, for what may be larger than memory.
    ///
    /// # Errors
    ///
    /// as [`Files::read`]
    fn open(&self, name: &str) -> Result<Box<dyn Stream>, String> {
        Ok(Box::new(std::io::Cursor::new(self.read(name)?)))
    }

    /// Who does work that can be parted.
    fn workers(&self) -> &dyn Workers {
        &OneThread
    }

    /// Today's date as `YYYY-MM-DD`.
    fn today(&self) -> String;
}

/// What a file that is written shall hold; may be asked for again. Large ones are made piece by
/// piece.
pub type Content<'a> = Box<dyn Fn(&mut dyn Write) -> std::io::Result<()> + 'a>;

/// Bytes as they are.
pub fn content<'a>(bytes: impl Into<Vec<u8>>) -> Content<'a> {
    let bytes = bytes.into();
    Box::new(move |out| out.write_all(&bytes))
}

/// A file that is read piece by piece.
pub trait Stream: Read + Seek + Send + Sync {}

impl<T: Read + Seek + Send + Sync> Stream for T {}

/// An input file and a digest of what was read from it.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Input {
    /// Name in the job folder.
    pub file: String,
    /// Length in bytes.
    pub bytes: usize,
    /// FNV-1a digest, 64 bits, hexadecimal: tells two inputs apart, proves nothing.
    pub digest: String,
}

/// Bytes at each end of a streamed file that its digest is made of.
const DIGESTED_END: usize = 1 << 16;

impl Input {
    /// Of a file too large to be held: the digest is of its length and its two ends, marked so.
    ///
    /// # Errors
    ///
    /// as the stream gives them
    pub fn of_stream(file: &str, stream: &mut dyn Stream) -> std::io::Result<Input> {
        let length = stream.seek(SeekFrom::End(0))?;
        let mut ends = length.to_le_bytes().to_vec();
        for start in [0, length.saturating_sub(DIGESTED_END as u64)] {
            stream.seek(SeekFrom::Start(start))?;
            let mut end = Vec::new();
            stream.take(DIGESTED_END as u64).read_to_end(&mut end)?;
            ends.extend(end);
        }
        stream.seek(SeekFrom::Start(0))?;
        let digest = format!("ends-{}", Input::of(file, &ends).digest);
        Ok(Input {
            file: file.to_owned(),
            bytes: length as usize,
            digest,
        })
    }

    /// Of the bytes as they were read; whoever reads a file keeps this, so that no file is read
    /// a second time (a pipe has nothing more to give, a file may have changed).
    ///
    /// # Source
    ///
    /// G. Fowler, L. C. Noll, K.-P. Vo, FNV-1a, 64 bits (offset basis and prime as published)
    pub fn of(file: &str, bytes: &[u8]) -> Input {
        let hash = bytes.iter().fold(0xcbf2_9ce4_8422_2325u64, |hash, byte| {
            (hash ^ u64::from(*byte)).wrapping_mul(0x0000_0100_0000_01b3)
        });
        Input {
            file: file.to_owned(),
            bytes: bytes.len(),
            digest: format!("{hash:016x}"),
        }
    }
}

/// Runs independent pieces of work, on as many threads as it likes.
///
/// Results are asked for by index and summed in order by the caller, so that the number of
/// threads never changes a bit of the answer.
pub trait Workers: Sync {
    /// Calls `work(0)`, `work(1)`, ... `work(count - 1)`, in any order, and returns when all are done.
    fn for_each(&self, count: usize, work: &(dyn Fn(usize) + Sync));
}

/// All work on the calling thread.
#[derive(Clone, Copy, Debug, Default)]
pub struct OneThread;

impl Workers for OneThread {
    fn for_each(&self, count: usize, work: &(dyn Fn(usize) + Sync)) {
        for index in 0..count {
            work(index);
        }
    }
}

/// Results of `count` pieces of work, in order.
pub fn collect<T: Send + Sync>(
    workers: &dyn Workers,
    count: usize,
    work: &(dyn Fn(usize) -> T + Sync),
) -> Vec<T> {
    let slots: Vec<std::sync::OnceLock<T>> = std::iter::repeat_with(std::sync::OnceLock::new)
        .take(count)
        .collect();
    workers.for_each(count, &|index| {
        let _ = slots[index].set(work(index));
    });
    slots
        .into_iter()
        .filter_map(std::sync::OnceLock::into_inner)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::Input;

    #[test]
    fn digests_are_as_published() {
        // Test vectors of the authors (G. Fowler, L. C. Noll, K.-P. Vo, fnv64a).
        for (text, digest) in [
            ("", "cbf29ce484222325"),
            ("a", "af63dc4c8601ec8c"),
            ("foobar", "85944171f73967e8"),
        ] {
            let input = Input::of("shots.csv", text.as_bytes());
            assert_eq!((input.bytes, &*input.digest), (text.len(), digest));
        }
    }
}
