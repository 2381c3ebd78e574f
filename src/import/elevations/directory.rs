//! The directories of a TIFF, held against the length of the file before anything is read by
//! what they claim.
//!
//! Takes the file, gives its pages. Every value that an entry points at lies inside the file, so
//! that no count in a directory leads to an allocation that the file does not warrant.
//!
//! # Source
//!
//! Aldus / Adobe, TIFF Revision 6.0 (1992), section 2; BigTIFF as the open-source library libtiff
//! describes it (offsets and counts of 8 bytes, magic number 43)

use std::io::{self, Read, Seek, SeekFrom};

/// Most pages of a file that are looked at.
const MAX_PAGES: usize = 1024;

/// Most entries of a directory: tags are 16 bits, and files have some dozens.
const MAX_ENTRIES: u64 = 4096;

/// One directory: a page, a smaller copy of one, or a mask.
#[derive(Debug)]
pub(super) struct Page {
    tags: Vec<Entry>,
}

#[derive(Clone, Copy, Debug)]
struct Entry {
    tag: u16,
    /// The value, if it is a single whole number.
    value: Option<u64>,
}

/// Tag: what kind of page it is, as bits.
const NEW_SUBFILE_TYPE: u16 = 254;

impl Page {
    /// True for a smaller copy of another page.
    pub(super) fn is_reduced(&self) -> bool {
        self.number(NEW_SUBFILE_TYPE)
            .is_some_and(|kind| kind & 1 != 0)
    }

    /// True for a mask of another page.
    pub(super) fn is_mask(&self) -> bool {
        self.number(NEW_SUBFILE_TYPE)
            .is_some_and(|kind| kind & 4 != 0)
    }

    /// The value of a tag that is a single whole number.
    pub(super) fn number(&self, tag: u16) -> Option<u64> {
        self.tags.iter().find(|e| e.tag == tag)?.value
    }
}

/// Reads whole numbers in the byte order of a file.
struct Numbers {
    is_little: bool,
    is_big_tiff: bool,
}

impl Numbers {
    fn whole(&self, bytes: &[u8]) -> u64 {
        let add = |sum: u64, byte: &u8| sum << 8 | u64::from(*byte);
        if self.is_little {
            bytes.iter().rev().fold(0, add)
        } else {
            bytes.iter().fold(0, add)
        }
    }
}

/// Why the directories cannot be read.
#[derive(Debug)]
pub(super) enum Fault {
    /// The file itself.
    Io(io::Error),
    /// What stands in it, in words.
    Words(String),
}

impl From<io::Error> for Fault {
    fn from(error: io::Error) -> Fault {
        Fault::Io(error)
    }
}

fn wrong<T>(words: impl Into<String>) -> Result<T, Fault> {
    Err(Fault::Words(words.into()))
}

/// All pages of a file of this length; leaves the file at its start.
///
/// # Errors
///
/// a directory or a value that lies outside the file, directories in a ring, too many of them
pub(super) fn pages(
    file: &mut (impl Read + Seek + ?Sized),
    length: u64,
) -> Result<Vec<Page>, Fault> {
    let mut head = [0u8; 16];
    let have = length.min(16) as usize;
    file.read_exact(&mut head[..have])?;
    let mut numbers = Numbers {
        is_little: head.starts_with(b"II"),
        is_big_tiff: false,
    };
    let mut next = match numbers.whole(&head[2..4]) {
        42 => numbers.whole(&head[4..8]),
        43 if numbers.whole(&head[4..6]) == 8 && have == 16 => {
            numbers.is_big_tiff = true;
            numbers.whole(&head[8..16])
        }
        _ => return wrong("the file begins like a TIFF, and is none"),
    };
    let mut seen = Vec::new();
    let mut pages = Vec::new();
    while next != 0 {
        if seen.contains(&next) {
            return wrong("the directories of the TIFF point at each other in a ring");
        }
        if seen.len() == MAX_PAGES {
            return wrong(format!("the TIFF has more than {MAX_PAGES} pages"));
        }
        seen.push(next);
        let page;
        (page, next) = read_page(file, length, &numbers, next)?;
        pages.push(page);
    }
    file.seek(SeekFrom::Start(0))?;
    if pages.is_empty() {
        return wrong("the TIFF has no page");
    }
    Ok(pages)
}

fn read_page(
    file: &mut (impl Read + Seek + ?Sized),
    length: u64,
    numbers: &Numbers,
    at: u64,
) -> Result<(Page, u64), Fault> {
    let outside = || wrong("a directory of the TIFF lies beyond the end of the file");
    // Sizes of the count of entries, of an entry, and of an offset.
    let (counted, size, offset) = if numbers.is_big_tiff {
        (8, 20, 8)
    } else {
        (2, 12, 4)
    };
    if at
        .checked_add(counted + offset)
        .is_none_or(|end| end > length)
    {
        return outside();
    }
    file.seek(SeekFrom::Start(at))?;
    let mut bytes = [0u8; 8];
    file.read_exact(&mut bytes[..counted as usize])?;
    let entries = numbers.whole(&bytes[..counted as usize]);
    if entries > MAX_ENTRIES {
        return wrong(format!("a directory of the TIFF claims {entries} entries"));
    }
    if at + counted + entries * size + offset > length {
        return outside();
    }
    let mut bytes = vec![0u8; (entries * size + offset) as usize];
    file.read_exact(&mut bytes)?;
    let (entries, next) = bytes.split_at((entries * size) as usize);
    let mut tags = Vec::new();
    for entry in entries.chunks_exact(size as usize) {
        let tag = numbers.whole(&entry[..2]) as u16;
        let kind = numbers.whole(&entry[2..4]);
        let (count, value) = entry[4..].split_at(offset as usize);
        let count = numbers.whole(count);
        let Some(each) = size_of_kind(kind) else {
            return wrong(format!(
                "tag {tag} of the TIFF has a value of an unknown kind ({kind})"
            ));
        };
        let bytes = count.saturating_mul(each);
        if bytes > offset {
            let end = numbers.whole(value).checked_add(bytes);
            if end.is_none_or(|end| end > length) {
                return wrong(format!(
                    "tag {tag} of the TIFF claims {count} values beyond the end of the file"
                ));
            }
        }
        let is_whole = matches!(kind, 1 | 3 | 4 | 16) && count == 1;
        tags.push(Entry {
            tag,
            value: (is_whole && each <= offset).then(|| numbers.whole(&value[..each as usize])),
        });
    }
    Ok((Page { tags }, numbers.whole(next)))
}

/// Bytes of a value of a kind.
fn size_of_kind(kind: u64) -> Option<u64> {
    match kind {
        1 | 2 | 6 | 7 => Some(1),
        3 | 8 => Some(2),
        4 | 9 | 11 | 13 => Some(4),
        5 | 10 | 12 | 16 | 17 | 18 => Some(8),
        _ => None,
    }
}
