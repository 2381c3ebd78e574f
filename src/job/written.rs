//! The tree of a TOML text with the line and the source text of every value.
//!
//! Takes the text of a file, gives [`Entry`]s in the order of the file, or one plain-worded
//! diagnostic for a text that is not TOML. Knows no key and no unit: numbers stay decimals as
//! text, so that a coordinate keeps every digit that was typed.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::diag::{At, Diagnostic};

/// Deepest nesting accepted. A job needs four levels; the bound keeps recursion off a small stack.
const MAX_DEPTH: usize = 16;

/// One key with its value.
#[derive(Clone, Debug)]
pub(super) struct Entry {
    /// The key, unquoted.
    pub(super) key: String,
    /// Line of the key.
    pub(super) line: usize,
    /// What it is set to.
    pub(super) value: Written,
}

/// A value and how it was written.
#[derive(Clone, Debug)]
pub(super) struct Written {
    /// Line on which the value starts.
    pub(super) line: usize,
    /// Source text: without the quotes for text, on one line for a list.
    pub(super) text: String,
    /// The value.
    pub(super) value: Value,
}

/// The kinds of value a job can hold.
#[derive(Clone, Debug)]
pub(super) enum Value {
    /// Quoted text.
    Text(String),
    /// A number as a decimal, or `inf`, `nan` with or without a sign.
    Number {
        /// The number without separators, base ten.
        decimal: String,
        /// True if it was written without point and exponent.
        whole: bool,
    },
    /// `true` or `false`.
    Flag(bool),
    /// A date or a time; no key takes one.
    Date,
    /// Values in square brackets, or tables under one doubled heading.
    List(Vec<Written>),
    /// Keys under a heading or in braces.
    Table(Vec<Entry>),
}

impl Value {
    /// The kind, in words that fit behind "not".
    pub(super) fn kind(&self) -> &'static str {
        match self {
            Value::Text(_) => "text",
            Value::Number { .. } => "a number",
            Value::Flag(_) => "true or false",
            Value::Date => "a date",
            Value::List(_) => "a list",
            Value::Table(_) => "a group of keys",
        }
    }
}

/// Reads a whole file.
///
/// # Errors
///
/// one diagnostic with the line, its text and what is wrong with it
pub(super) fn parse(file: &str, text: &str) -> Result<Vec<Entry>, Diagnostic> {
    let source = Source {
        file,
        text,
        starts: line_starts(text),
    };
    match DeTable::parse(text) {
        Ok(table) => source.entries(table.get_ref(), 0),
        Err(error) => Err(source.syntax_error(error.message(), error.span())),
    }
}

/// The text of a file and where its lines start.
struct Source<'a> {
    file: &'a str,
    text: &'a str,
    starts: Vec<usize>,
}

/// Byte offsets at which lines start.
fn line_starts(text: &str) -> Vec<usize> {
    std::iter::once(0)
        .chain(text.match_indices('\n').map(|(at, _)| at + 1))
        .collect()
}

impl Source<'_> {
    /// Line of a byte offset, counted from 1.
    fn line(&self, offset: usize) -> usize {
        self.starts.partition_point(|&start| start <= offset)
    }

    /// Text of a line without the white space around it.
    fn line_text(&self, line: usize) -> &str {
        let start = self
            .starts
            .get(line.saturating_sub(1))
            .copied()
            .unwrap_or(0);
        let end = self.starts.get(line).copied().unwrap_or(self.text.len());
        self.text
            .get(start..end)
            .unwrap_or_default()
            .trim_start_matches('\u{feff}')
            .trim()
    }

    /// Source text of a span.
    fn slice(&self, span: Range<usize>) -> &str {
        self.text.get(span).unwrap_or_default()
    }

    fn entries(&self, table: &DeTable<'_>, depth: usize) -> Result<Vec<Entry>, Diagnostic> {
        // The parser sorts keys by their letters; people expect the order of the file.
        let mut pairs: Vec<_> = table.iter().collect();
        pairs.sort_by_key(|(key, _)| key.span().start);
        pairs
            .into_iter()
            .map(|(key, value)| {
                Ok(Entry {
                    key: key.get_ref().to_string(),
                    line: self.line(key.span().start),
                    value: self.written(value, depth + 1)?,
                })
            })
            .collect()
    }

    fn written(&self, value: &Spanned<DeValue<'_>>, depth: usize) -> Result<Written, Diagnostic> {
        let span = value.span();
        let line = self.line(span.start);
        if depth > MAX_DEPTH {
            return Err(
                Diagnostic::error("toml-syntax", "values are nested too deeply")
                    .at(At::cell(self.file, line, "", self.line_text(line)))
                    .help("a job needs no more than a few brackets inside one another"),
            );
        }
        let raw = self.slice(span);
        let (text, value) = match value.get_ref() {
            DeValue::String(text) => (text.to_string(), Value::Text(text.to_string())),
            DeValue::Integer(number) => {
                let decimal = i128::from_str_radix(number.as_str(), number.radix())
                    .map_or_else(|_| number.as_str().to_string(), |whole| whole.to_string());
                (
                    raw.to_string(),
                    Value::Number {
                        decimal,
                        whole: true,
                    },
                )
            }
            DeValue::Float(number) => {
                let decimal = number.as_str().to_string();
                (
                    raw.to_string(),
                    Value::Number {
                        decimal,
                        whole: false,
                    },
                )
            }
            DeValue::Boolean(flag) => (raw.to_string(), Value::Flag(*flag)),
            DeValue::Datetime(_) => (raw.to_string(), Value::Date),
            DeValue::Array(items) => {
                let items = items.iter().map(|item| self.written(item, depth + 1));
                (one_line(raw), Value::List(items.collect::<Result<_, _>>()?))
            }
            DeValue::Table(table) => (one_line(raw), Value::Table(self.entries(table, depth)?)),
        };
        Ok(Written { line, text, value })
    }

    /// The parser's finding in words for people who never heard of TOML.
    fn syntax_error(&self, message: &str, span: Option<Range<usize>>) -> Diagnostic {
        let span = span.unwrap_or(0..0);
        // At the end of the file the parser points behind the last line: show what was left open.
        let offset = if self
            .text
            .get(span.start..)
            .is_none_or(|rest| rest.trim().is_empty())
        {
            self.text.trim_end().len().saturating_sub(1)
        } else {
            span.start
        };
        let line = self.line(offset);
        let found = self.text.get(span.clone()).unwrap_or_default();
        let after_comma = self
            .text
            .get(..span.start)
            .is_some_and(|text| text.ends_with(','))
            || self
                .text
                .get(span.start..)
                .is_some_and(|text| text.starts_with(','));
        let (message, help) = plain_words(message, found, after_comma);
        Diagnostic::error("toml-syntax", message)
            .at(At::cell(self.file, line, "", self.line_text(line)))
            .help(help)
    }
}

/// White space of any kind becomes one blank, so that a list of many lines fits in a message.
fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Message and help for the faults people make most; the parser's own words for the others.
fn plain_words(message: &str, found: &str, at_comma: bool) -> (String, String) {
    let said = |message: &str, help: &str| (message.to_string(), help.to_string());
    if message.starts_with("duplicate key") {
        said(
            "this key or heading is written a second time",
            "keep one of the two; a heading that is repeated has two brackets on each side, as [[feature]]",
        )
    } else if message.starts_with("string values must be quoted") {
        if found.is_empty() {
            said(
                "a value is missing",
                "write it behind the `=`, or take the line out",
            )
        } else if found.contains(['\u{201c}', '\u{201d}', '\u{201e}', '\u{2018}', '\u{2019}']) {
            said(
                "curly quotes do not hold text",
                "use the straight quotes of a plain text editor: \"",
            )
        } else if found.starts_with(|first: char| first.is_ascii_digit() || first == '-') {
            said(
                "a number stands alone, and text stands in quotes",
                "leave out the unit behind the number, or put quotes around a text",
            )
        } else {
            said(
                "text must stand in quotes",
                "write for example name = \"Garden\"",
            )
        }
    } else if message.starts_with("unexpected key or value") && at_comma {
        said("a comma ends no number", "use a decimal point, as 1.5")
    } else if message.starts_with("unexpected key or value") {
        said(
            "something more stands behind the value",
            "begin a new line, or put # before a remark",
        )
    } else if message.starts_with("unexpected leading zero") {
        said(
            "a number does not begin with 0",
            "leave the 0 out, or put quotes around the name of a shot, as \"08\"",
        )
    } else if message.starts_with("key with no value") {
        said(
            "this is no `key = value`",
            "write for example units = \"ft\", or put # before a remark",
        )
    } else if message.starts_with("invalid mantissa") || message.starts_with("invalid fraction") {
        said(
            "a digit is missing beside the decimal point",
            "write 0.5 or 1.0",
        )
    } else if message.starts_with("unclosed array")
        || message.starts_with("missing comma between array")
    {
        said(
            "a list is not closed, or a comma is missing in it",
            "write for example [1.0, 2.0]",
        )
    } else if message.starts_with("unclosed inline table") {
        said(
            "a group in braces is not closed",
            "write for example { name = \"BM1\", level = 100.0 }",
        )
    } else if message.starts_with("unclosed") {
        said("a heading is not closed", "write [job] or [[feature]]")
    } else if message.starts_with("invalid") && message.contains("string") {
        said(
            "a text in quotes is not closed",
            "put the second quote at its end, on the same line",
        )
    } else {
        (
            format!("this cannot be read: {message}"),
            "put right this line or the one before".to_string(),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What a faulty text is answered with.
    fn refused(text: &str) -> String {
        parse("job.toml", text).unwrap_err().to_string()
    }

    #[test]
    fn keys_keep_line_order_and_source_text() {
        let text = "\u{feff}# yard\r\n[job]\r\nname = \"A\" # remark\r\nx.y = 1_000.50\r\n\
                    [[f]]\r\nz = 0x1F\r\na = [1,\r\n  2.5]\r\n";
        let entries = parse("job.toml", text).unwrap();
        assert_eq!(
            entries
                .iter()
                .map(|e| (e.key.as_str(), e.line))
                .collect::<Vec<_>>(),
            [("job", 2), ("f", 5)]
        );
        let Value::Table(job) = &entries[0].value.value else {
            panic!("no table")
        };
        assert_eq!((job[0].line, job[0].value.text.as_str()), (3, "A"));
        let Value::Table(x) = &job[1].value.value else {
            panic!("no table")
        };
        assert_eq!((x[0].line, x[0].value.text.as_str()), (4, "1_000.50"));
        assert!(
            matches!(&x[0].value.value, Value::Number { decimal, whole: false } if decimal == "1000.50")
        );
        let Value::List(f) = &entries[1].value.value else {
            panic!("no list")
        };
        let Value::Table(f) = &f[0].value else {
            panic!("no table")
        };
        assert_eq!(
            f.iter().map(|e| e.key.as_str()).collect::<Vec<_>>(),
            ["z", "a"]
        );
        assert!(
            matches!(&f[0].value.value, Value::Number { decimal, whole: true } if decimal == "31")
        );
        assert_eq!(f[1].value.text, "[1, 2.5]");
        let Value::List(a) = &f[1].value.value else {
            panic!("no list")
        };
        assert_eq!((a[0].line, a[1].line), (7, 8));
    }

    #[test]
    fn what_is_not_toml_is_answered_in_plain_words() {
        assert_eq!(
            refused("[job]\nname = Garden\n"),
            "error: job.toml line 2: \"name = Garden\": text must stand in quotes\n  \
             help: write for example name = \"Garden\""
        );
        assert_eq!(
            refused("[job]\r\nname = \"a\"\r\n[limits]\r\nchord = 1,5\r\n"),
            "error: job.toml line 4: \"chord = 1,5\": a comma ends no number\n  \
             help: use a decimal point, as 1.5"
        );
        for (text, line, words) in [
            ("a = 1\na = 2\n", 2, "written a second time"),
            ("a = 3 ft\n", 1, "a number stands alone"),
            ("a = \n", 1, "a value is missing"),
            ("a = \u{201c}x\u{201d}\n", 1, "curly quotes"),
            ("\na = .5\n", 2, "digit is missing"),
            ("a = 08\n", 1, "does not begin with 0"),
            ("x\n", 1, "no `key = value`"),
            ("b = 1\na = [1, 2\n\n\n", 2, "list is not closed"),
            ("a = { b = 1\n", 1, "braces is not closed"),
            ("[job\n", 1, "heading is not closed"),
            ("\na = \"x\nb = 1\n", 2, "quotes is not closed"),
            ("a = 1 b = 2\n", 1, "something more stands behind"),
            ("a = 1\rb = 2\n", 1, "cannot be read: carriage return"),
        ] {
            let answer = refused(text);
            assert!(answer.contains(words), "{text:?}: {answer}");
            assert!(
                answer.contains(&format!("job.toml line {line}: ")),
                "{text:?}: {answer}"
            );
        }
    }

    #[test]
    fn deep_nesting_is_refused_not_overflowed() {
        let keys = "a.".repeat(77) + "a=";
        let groups = keys.clone() + &("{".to_string() + &keys).repeat(70) + "1" + &"}".repeat(70);
        assert!(refused(&groups).contains("nested too deeply"));
        assert!(refused(&("a=".to_string() + &"[".repeat(100_000))).contains("line 1"));
        assert!(refused(&("a.".repeat(100_000) + "a=1")).contains("line 1"));
    }
}
