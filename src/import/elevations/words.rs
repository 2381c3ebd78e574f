//! The words of a text file, one by one, however long its lines are.

use std::io::{self, BufRead};

/// Longest word that is looked at; the rest of a longer one is passed over.
const MAX_WORD: usize = 64;

/// Reads words parted by white space.
pub(super) struct Words<R> {
    reader: R,
    /// Line of the word read last, counted from 1.
    line: usize,
    /// Line feeds behind it that belong to the next.
    behind: usize,
    word: Vec<u8>,
}

impl<R: BufRead> Words<R> {
    /// From the start of a text; a byte-order mark is passed over.
    pub(super) fn new(reader: R) -> Words<R> {
        Words {
            reader,
            line: 1,
            behind: 0,
            word: Vec::with_capacity(MAX_WORD),
        }
    }

    /// Line of the word read last.
    pub(super) fn line(&self) -> usize {
        self.line
    }

    /// The word read last, as far as it is text.
    pub(super) fn text(&self) -> String {
        String::from_utf8_lossy(&self.word).into_owned()
    }

    /// Goes on to the next word; `None` at the end.
    pub(super) fn next(&mut self) -> io::Result<Option<&str>> {
        self.line += self.behind;
        self.behind = 0;
        self.word.clear();
        loop {
            let bytes = match self.reader.fill_buf() {
                Ok([]) => break,
                Ok(bytes) => bytes,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                Err(error) => return Err(error),
            };
            let mut from = 0;
            if self.word.is_empty() {
                while let Some(&byte) = bytes.get(from)
                    && byte.is_ascii_whitespace()
                {
                    self.line += usize::from(byte == b'\n');
                    from += 1;
                }
            }
            let rest = &bytes[from..];
            let length = rest
                .iter()
                .position(u8::is_ascii_whitespace)
                .unwrap_or(rest.len());
            let room = MAX_WORD - self.word.len().min(MAX_WORD);
            self.word.extend_from_slice(&rest[..length.min(room)]);
            let is_end = length < rest.len();
            self.behind = usize::from(is_end && rest[length] == b'\n');
            self.reader.consume(from + length + usize::from(is_end));
            if is_end && !self.word.is_empty() {
                break;
            }
        }
        if self.word.is_empty() {
            return Ok(None);
        }
        // What is no text is no number either, and is shown as far as it is.
        Ok(Some(std::str::from_utf8(&self.word).unwrap_or("?")))
    }
}
