//! The elements of an XML file, one by one, with the line each begins on.
//!
//! Nothing is expanded and nothing else is opened: a file with a document type definition is
//! refused, and so are references to entities that XML itself does not have. Depth, tags and
//! texts have limits, so that memory goes with what is kept.

use std::borrow::Cow;
use std::io::{self, BufRead, BufReader, Read};

use quick_xml::escape::resolve_xml_entity;
use quick_xml::events::Event;
use quick_xml::events::attributes::Attributes;
use quick_xml::{Error, Reader, XmlVersion};

use crate::diag::{At, Diagnostic};
use crate::files::Stream;

/// Deepest element that is read; those of a surface lie six deep.
const MAX_DEPTH: usize = 64;

/// Longest tag that is read, bytes.
const MAX_TAG: usize = 1 << 16;

/// Longest text between two tags, bytes: a list of some ten million points.
const MAX_TEXT: u64 = 1 << 28;

/// Bytes read at once.
const BUFFER: usize = 1 << 17;

/// A file read through a buffer, its lines counted, with a limit on what is read at once.
struct Guard {
    inner: BufReader<Box<dyn Stream>>,
    /// Line feeds read so far.
    feeds: usize,
    /// Bytes read since the last tag or text began.
    since: u64,
}

impl Read for Guard {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        let bytes = self.fill_buf()?;
        let count = bytes.len().min(out.len());
        out[..count].copy_from_slice(&bytes[..count]);
        self.consume(count);
        Ok(count)
    }
}

impl BufRead for Guard {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        if self.since > MAX_TEXT {
            return Err(io::Error::other(format!(
                "a tag or text is longer than {MAX_TEXT} bytes"
            )));
        }
        self.inner.fill_buf()
    }

    fn consume(&mut self, count: usize) {
        let bytes = &self.inner.buffer()[..count];
        self.feeds += bytes.iter().filter(|&&b| b == b'\n').count();
        self.since += count as u64;
        self.inner.consume(count);
    }
}

/// Walks through the elements of a file.
pub(super) struct Xml<'s> {
    file: &'s str,
    reader: Reader<Guard>,
    buffer: Vec<u8>,
    depth: usize,
    /// The tag opened last: its name without prefix, and all of it.
    name: String,
    tag: String,
    name_end: usize,
    /// Line on which the tag opened last begins.
    line: usize,
}

/// What comes next inside an element.
enum Next {
    Open,
    Close,
    Text,
}

impl<'s> Xml<'s> {
    /// Begins at the start of a file.
    pub(super) fn new(file: &'s str, stream: Box<dyn Stream>) -> Result<Xml<'s>, Diagnostic> {
        let mut inner = BufReader::with_capacity(BUFFER, stream);
        let start = inner.fill_buf().unwrap_or_default();
        let is_wide = start.starts_with(&[0xff, 0xfe])
            || start.starts_with(&[0xfe, 0xff])
            || start.iter().take(4).any(|&b| b == 0);
        if is_wide {
            return Err(other_encoding(file, "UTF-16"));
        }
        let guard = Guard {
            inner,
            feeds: 0,
            since: 0,
        };
        let mut reader = Reader::from_reader(guard);
        reader.config_mut().expand_empty_elements = true;
        Ok(Xml {
            file,
            reader,
            buffer: Vec::new(),
            depth: 0,
            name: String::new(),
            tag: String::new(),
            name_end: 0,
            line: 1,
        })
    }

    /// The file, wherever it is read to.
    pub(super) fn into_stream(self) -> Box<dyn Stream> {
        self.reader.into_inner().inner.into_inner()
    }

    /// Name of the element opened last, without its prefix.
    pub(super) fn name(&self) -> &str {
        &self.name
    }

    /// Line on which the tag of the element opened last begins.
    pub(super) fn line(&self) -> usize {
        self.line
    }

    /// Where the element opened last stands.
    pub(super) fn at(&self) -> At {
        At::line(self.file, self.line)
    }

    /// The value of an attribute of the element opened last.
    pub(super) fn attribute(&self, name: &str) -> Result<Option<Cow<'_, str>>, Diagnostic> {
        for attribute in Attributes::new(&self.tag, self.name_end) {
            let attribute = attribute.map_err(|error| self.broken(error.to_string()))?;
            if attribute.key.as_ref() == name {
                let value = attribute.normalized_value(XmlVersion::Implicit1_0);
                return value
                    .map(Some)
                    .map_err(|error| self.broken(error.to_string()));
            }
        }
        Ok(None)
    }

    /// Opens the next element inside the one that is open; `None` where that one ends.
    pub(super) fn child(&mut self) -> Result<Option<&str>, Diagnostic> {
        loop {
            match self.next(None)? {
                Next::Open => return Ok(Some(&self.name)),
                Next::Close => return Ok(None),
                Next::Text => {}
            }
        }
    }

    /// Passes over the rest of the element that is open, with all in it.
    pub(super) fn skip(&mut self) -> Result<(), Diagnostic> {
        let outside = self.depth.saturating_sub(1);
        while self.depth > outside {
            self.next(None)?;
        }
        Ok(())
    }

    /// The text of the element that is open, to its end; elements in it are passed over.
    pub(super) fn text(&mut self, text: &mut String) -> Result<(), Diagnostic> {
        text.clear();
        loop {
            match self.next(Some(text))? {
                Next::Open => self.skip()?,
                Next::Close => return Ok(()),
                Next::Text => {}
            }
        }
    }

    fn next(&mut self, text: Option<&mut String>) -> Result<Next, Diagnostic> {
        self.buffer.clear();
        let guard = self.reader.get_mut();
        guard.since = 0;
        let line = guard.feeds + 1;
        let file = self.file;
        let here = || At::line(file, line);
        let event = match self.reader.read_event_into(&mut self.buffer) {
            Ok(event) => event,
            Err(error) => return Err(fault(here(), &error)),
        };
        match event {
            Event::Start(tag) => {
                if tag.len() > MAX_TAG {
                    return Err(refused(
                        here(),
                        "xml-limits",
                        format!("a tag is longer than {MAX_TAG} bytes"),
                    ));
                }
                if self.depth == MAX_DEPTH {
                    return Err(refused(
                        here(),
                        "xml-limits",
                        format!("elements lie deeper than {MAX_DEPTH} in each other"),
                    ));
                }
                self.name.clear();
                self.name.push_str(tag.local_name().as_ref());
                self.name_end = tag.name().as_ref().len();
                self.tag.clear();
                self.tag.push_str(&tag);
                self.line = line;
                self.depth += 1;
                Ok(Next::Open)
            }
            Event::End(_) => {
                self.depth = self.depth.saturating_sub(1);
                Ok(Next::Close)
            }
            Event::Eof if self.depth > 0 => Err(refused(
                here(),
                "bad-xml",
                format!("the file ends inside {}", self.name),
            )),
            Event::Eof => Ok(Next::Close),
            Event::DocType(_) => Err(Diagnostic::error(
                "xml-dtd",
                "the file has a document type definition, which could make much of little or \
                 open other files",
            )
            .at(here())
            .help("take <!DOCTYPE ...> out; LandXML has none")),
            Event::Decl(decl) => match decl.encoding() {
                Some(Ok(name))
                    if !name.eq_ignore_ascii_case("utf-8")
                        && !name.eq_ignore_ascii_case("us-ascii") =>
                {
                    Err(other_encoding(file, &name))
                }
                _ => Ok(Next::Text),
            },
            Event::Text(part) => {
                if let Some(text) = text {
                    text.push_str(&part.borrow().into_inner());
                }
                Ok(Next::Text)
            }
            Event::CData(part) => {
                if let Some(text) = text {
                    text.push_str(&part.borrow().into_inner());
                }
                Ok(Next::Text)
            }
            Event::GeneralRef(name) => {
                let found = match name.resolve_char_ref() {
                    Ok(Some(c)) => Some(c.to_string()),
                    Ok(None) => resolve_xml_entity(&name.borrow().into_inner()).map(str::to_owned),
                    Err(_) => None,
                };
                let Some(found) = found else {
                    let name = name.borrow().into_inner().into_owned();
                    return Err(refused(
                        At::cell(file, line, "", name),
                        "bad-xml",
                        "this is no character and no entity of XML".into(),
                    ));
                };
                if let Some(text) = text {
                    text.push_str(&found);
                }
                Ok(Next::Text)
            }
            Event::Empty(_) | Event::Comment(_) | Event::PI(_) => Ok(Next::Text),
        }
    }

    fn broken(&self, why: String) -> Diagnostic {
        refused(self.at(), "bad-xml", format!("the XML is broken: {why}"))
    }
}

fn refused(at: At, code: &'static str, message: String) -> Diagnostic {
    Diagnostic::error(code, message)
        .at(at)
        .help("copy the file again from where it came, or write it again")
}

fn fault(at: At, error: &Error) -> Diagnostic {
    match error {
        Error::Io(error) => refused(
            at,
            "xml-limits",
            format!("the file cannot be read: {error}"),
        ),
        Error::Encoding(_) => Diagnostic::error("not-utf8", "this is not UTF-8 text")
            .at(at)
            .help("save the file in UTF-8"),
        other => refused(at, "bad-xml", format!("the XML is broken: {other}")),
    }
}

fn other_encoding(file: &str, name: &str) -> Diagnostic {
    let mut at = At::file(file);
    at.text = name.to_owned();
    Diagnostic::error(
        "not-utf8",
        "the file is written in another encoding than UTF-8",
    )
    .at(at)
    .help("save the file in UTF-8")
}
