//! A file read before it is known what it is.

use std::cell::RefCell;

use crate::diag::{At, Diagnostic, Failure};
use crate::files::{Files, Stream, Workers};
use crate::job::SurveyKind;
use crate::survey::is_book_head;

use super::args::Reading;

/// Files of which one is already read, so that a pipe is read only once. It is handed on once:
/// a large file is not held twice.
pub(super) struct Held<'a> {
    files: &'a dyn Files,
    name: String,
    bytes: RefCell<Option<Vec<u8>>>,
}

impl<'a> Held<'a> {
    pub(super) fn read(files: &'a dyn Files, name: &str) -> Result<Held<'a>, Failure> {
        let bytes = files.read(name).map_err(|words| {
            Failure::from(
                Diagnostic::error("no-file", words)
                    .at(At::file(name))
                    .help("check the name, or write level:Z, plane:Z0,DX,DY or JOB:ground"),
            )
        })?;
        Ok(Held {
            files,
            name: name.to_owned(),
            bytes: RefCell::new(Some(bytes)),
        })
    }

    /// How the file is read, from its head: a level book if it names rod readings, a grid of rods
    /// if it begins with `row` and names no column.
    pub(super) fn kind(&self, reading: &Reading) -> SurveyKind {
        let bytes = self.bytes.borrow();
        let bytes = bytes.as_deref().unwrap_or_default();
        let text = String::from_utf8_lossy(&bytes[..bytes.len().min(4096)]);
        let head = text
            .trim_start_matches('\u{feff}')
            .lines()
            .map(str::trim)
            .find(|line| !line.is_empty() && !line.starts_with('#'))
            .unwrap_or_default()
            .to_lowercase();
        let cells: Vec<&str> = head
            .split([',', ';', '\t', ' '])
            .map(|c| c.trim().trim_matches('"'))
            .collect();
        let has = |name: &str| cells.contains(&name);
        let by_space = (has("rod") && has("type")) || (has("bs") && (has("fs") || has("is")));
        if by_space || is_book_head(&head) {
            SurveyKind::Levels
        } else if (cells.first() == Some(&"row") && !has("column") && !has("col"))
            || is_matrix_head(&cells)
        {
            SurveyKind::Grid(Box::new(reading.grid()))
        } else {
            SurveyKind::Points
        }
    }
}

/// True for the head of a grid of rods that lacks its first word: a blank cell, then distances.
fn is_matrix_head(cells: &[&str]) -> bool {
    let (first, rest) = cells.split_first().unwrap_or((&"-", &[]));
    let is_number = |cell: &&str| cell.parse::<f64>().is_ok();
    first.is_empty() && rest.len() > 1 && rest.iter().all(is_number)
}

impl Files for Held<'_> {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        let held = if name == self.name {
            self.bytes.borrow_mut().take()
        } else {
            None
        };
        held.map_or_else(|| self.files.read(name), Ok)
    }

    fn open(&self, name: &str) -> Result<Box<dyn Stream>, String> {
        self.files.open(name)
    }

    fn workers(&self) -> &dyn Workers {
        self.files.workers()
    }

    fn today(&self) -> String {
        self.files.today()
    }
}
