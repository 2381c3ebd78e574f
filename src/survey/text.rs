//! The text of a survey file: encoding, line ends, separator, comments.
//!
//! Takes bytes, gives text in which every line ends in a line feed. Knows no columns.
//!
//! The separator is decided from the first line that is neither blank nor a comment: whichever
//! of semicolon, tab and comma stands there most often outside quotes (in this order where two
//! are equal); white space if none of them stands there.

use std::borrow::Cow;

use crate::diag::{At, Diagnostic};
use crate::job::Decimal;

/// Largest survey file read, bytes: a hundred times a full yard scan as text.
pub(crate) const MAX_FILE_BYTES: usize = 1 << 30;

/// Refuses a file above [`MAX_FILE_BYTES`].
pub(crate) fn check_size(file: &str, bytes: usize) -> Result<(), Diagnostic> {
    if bytes <= MAX_FILE_BYTES {
        return Ok(());
    }
    let message = format!("the file holds {bytes} bytes; at most {MAX_FILE_BYTES} are read");
    Err(Diagnostic::error("file-too-large", message)
        .at(At::file(file))
        .help("thin the points, or split the file and name each part in the job"))
}

/// Bytes as text without byte-order mark, every line ending in a line feed.
pub(crate) fn decode<'a>(file: &str, bytes: &'a [u8]) -> Result<Cow<'a, str>, Diagnostic> {
    let save = "save the file as plain text in UTF-8";
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err(Diagnostic::error("not-utf8", "the file is UTF-16 text")
            .at(At::file(file))
            .help(save));
    }
    let bytes = bytes.strip_prefix(&[0xef, 0xbb, 0xbf]).unwrap_or(bytes);
    let line_of = |end: usize| {
        let before = &bytes[..end];
        let lone = before
            .windows(2)
            .filter(|w| w[0] == b'\r' && w[1] != b'\n')
            .count();
        1 + before.iter().filter(|&&b| b == b'\n').count() + lone
    };
    if let Some(position) = bytes.iter().position(|&b| b == 0) {
        let message = "the file holds a NUL byte, so it is no text or it is damaged";
        return Err(Diagnostic::error("nul-byte", message)
            .at(At::line(file, line_of(position)))
            .help(save));
    }
    let text = std::str::from_utf8(bytes).map_err(|error| {
        let start = error.valid_up_to();
        let message = format!("byte {:#04x} is not UTF-8 text", bytes[start]);
        Diagnostic::error("not-utf8", message)
            .at(At::line(file, line_of(start)))
            .help(save)
    })?;
    let lone_return = bytes
        .iter()
        .enumerate()
        .any(|(i, &b)| b == b'\r' && bytes.get(i + 1) != Some(&b'\n'));
    if !lone_return {
        return Ok(Cow::Borrowed(text));
    }
    let mut out = String::with_capacity(text.len());
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        out.push(if c == '\r' && chars.peek() != Some(&'\n') {
            '\n'
        } else {
            c
        });
    }
    Ok(Cow::Owned(out))
}

/// The first line with content.
pub(crate) fn first_line(text: &str) -> Option<&str> {
    text.lines().map(str::trim).find(|line| {
        !line.starts_with('#')
            && line
                .chars()
                .any(|c| !matches!(c, ',' | ';' | '"') && !c.is_whitespace())
    })
}

/// The separator of a line, or `None` for white space. No comma parts columns where it parts
/// decimals.
pub(crate) fn separator_of(line: &str, decimal: Decimal) -> Option<u8> {
    let mut best: Option<(usize, u8)> = None;
    let separators: &[u8] = match decimal {
        Decimal::Point => b";\t,",
        Decimal::Comma => b";\t",
    };
    for &separator in separators {
        let mut quoted = false;
        let mut count = 0;
        for byte in line.bytes() {
            if byte == b'"' {
                quoted = !quoted;
            } else if byte == separator && !quoted {
                count += 1;
            }
        }
        if count > best.map_or(0, |(most, _)| most) {
            best = Some((count, separator));
        }
    }
    best.map(|(_, separator)| separator)
}

/// Runs of white space outside quotes as one tab; lines keep their number.
pub(crate) fn space_to_tabs(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for line in text.split('\n') {
        let (mut quoted, mut gap) = (false, false);
        for c in line.trim().chars() {
            if c.is_whitespace() && !quoted {
                gap = true;
                continue;
            }
            if gap {
                out.push('\t');
            }
            // A quote mark counts only where a cell opens or closes; elsewhere it means inches.
            if c == '"' && (quoted || gap || out.is_empty() || out.ends_with('\n')) {
                quoted = !quoted;
            }
            gap = false;
            out.push(c);
        }
        out.push('\n');
    }
    out
}

/// The first byte at or after `from` that belongs to a record.
pub(crate) fn skip_blank_and_comments(bytes: &[u8], from: usize) -> usize {
    let mut at = from.min(bytes.len());
    while let Some(&byte) = bytes.get(at) {
        match byte {
            b'\n' | b'\r' => at += 1,
            b'#' => {
                let rest = bytes[at..].iter().position(|&b| b == b'\n');
                at = rest.map_or(bytes.len(), |length| at + length + 1);
            }
            _ => break,
        }
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_beyond_the_limit_is_refused() {
        assert!(check_size("f.csv", MAX_FILE_BYTES).is_ok());
        assert_eq!(
            check_size("f.csv", MAX_FILE_BYTES + 1).unwrap_err().code,
            "file-too-large"
        );
    }

    #[test]
    fn the_separator_is_the_most_frequent() {
        assert_eq!(separator_of("a;b;c, d", Decimal::Point), Some(b';'));
        assert_eq!(separator_of("1;2,5;3,5;4,5", Decimal::Point), Some(b';'));
        assert_eq!(separator_of("\"a;b;c;d\",x,y", Decimal::Point), Some(b','));
        assert_eq!(separator_of("a\tb c", Decimal::Point), Some(b'\t'));
        assert_eq!(separator_of("a b c", Decimal::Point), None);
        assert_eq!(separator_of("1,5,3,5;4", Decimal::Comma), Some(b';'));
        assert_eq!(separator_of("1,5 3,5", Decimal::Comma), None);
    }
}
