//! Delimited text as rows of named cells, each with the line it stands on.
//!
//! Takes the bytes of a file and the column heads a reader knows; gives a [`Sheet`] that hands
//! out its rows one by one. Knows nothing of points, rods or levels, nor of encodings and
//! separators (`text`).

use std::borrow::Cow;

use crate::diag::{At, Diagnostic, Failure};
use crate::job::Decimal;

use super::cell;
use super::head::{Wanted, columns_help};
use super::text::{
    check_size, decode, first_line, separator_of, skip_blank_and_comments, space_to_tabs,
};

/// Errors of one file that are listed; the rest is only counted.
pub(crate) const MAX_LISTED: usize = 20;

/// Errors of one file: the first twenty, and how many more there are.
#[derive(Debug, Default)]
pub(crate) struct Faults {
    listed: Vec<Diagnostic>,
    count: usize,
}

impl Faults {
    /// Adds an error.
    pub(crate) fn push(&mut self, diagnostic: Diagnostic) {
        if self.count < MAX_LISTED {
            self.listed.push(diagnostic);
        }
        self.count += 1;
    }

    /// True if nothing was added.
    pub(crate) fn is_empty(&self) -> bool {
        self.count == 0
    }

    /// The errors as a failure, with the notes made on the way in front.
    pub(crate) fn into_failure(self, file: &str, notes: Vec<Diagnostic>) -> Failure {
        let mut all = notes;
        all.extend(self.listed);
        if self.count > MAX_LISTED {
            let more = self.count - MAX_LISTED;
            all.push(
                Diagnostic::error("more-errors", format!("and {more} more like these"))
                    .at(At::file(file)),
            );
        }
        Failure(all)
    }
}

/// A file taken apart into rows and columns.
#[derive(Debug)]
pub(crate) struct Sheet<'a> {
    /// Name of the file, for messages.
    pub(super) file: &'a str,
    text: Cow<'a, str>,
    separator: u8,
    by_space: bool,
    decimal: Decimal,
    /// True if the first row names the columns.
    pub(super) has_head: bool,
    /// Columns in the order of the file.
    pub(super) columns: Vec<Column>,
}

/// One column of a sheet.
#[derive(Debug)]
pub(super) struct Column {
    /// The name as written.
    pub(super) head: String,
    /// The column it is, if a reader knows it.
    pub(super) key: Option<&'static str>,
    /// True if its cells hold numbers.
    pub(super) is_measured: bool,
    /// The corner, if the column holds tapes from one.
    pub(super) tape: Option<String>,
    /// True if a row separated by white space may end before it.
    pub(super) may_end: bool,
}

/// One row that is neither blank nor a comment.
#[derive(Debug)]
pub(crate) struct Row<'a> {
    sheet: &'a Sheet<'a>,
    record: &'a csv::StringRecord,
    /// The cells as they stand in the file.
    booked: &'a csv::StringRecord,
    /// Line of the file, counted from 1.
    pub(crate) line: usize,
}

impl Row<'_> {
    /// The trimmed text of a column, a number with a decimal point; empty if the file has no such column or the cell is blank.
    pub(crate) fn cell(&self, column: Option<usize>) -> &str {
        column.and_then(|i| self.record.get(i)).unwrap_or("")
    }

    /// The trimmed text of a column as it stands in the file, its decimals behind a comma if the
    /// file has them so.
    pub(crate) fn booked(&self, column: Option<usize>) -> &str {
        column.and_then(|i| self.booked.get(i)).unwrap_or("")
    }

    /// True if nothing stands in the row but this one cell.
    pub(crate) fn holds_only(&self, column: Option<usize>) -> bool {
        let blank = |(i, cell): (usize, &str)| Some(i) == column || cell.is_empty();
        column.is_some() && self.record.iter().enumerate().all(blank)
    }

    /// Where that cell stands.
    pub(crate) fn at(&self, column: Option<usize>) -> At {
        let head = column
            .and_then(|i| self.sheet.columns.get(i))
            .map_or("", |c| &c.head);
        At::cell(self.sheet.file, self.line, head, self.booked(column))
    }

    /// Where the row stands.
    pub(crate) fn row_at(&self) -> At {
        At::line(self.sheet.file, self.line)
    }
}

impl<'a> Sheet<'a> {
    /// Takes a file apart into rows, without asking what its columns are.
    ///
    /// # Errors
    ///
    /// too large, not UTF-8, a NUL byte, no content
    pub(crate) fn open(
        file: &'a str,
        bytes: &'a [u8],
        decimal: Decimal,
    ) -> Result<Sheet<'a>, Failure> {
        check_size(file, bytes.len())?;
        let text = decode(file, bytes)?;
        let Some(first) = first_line(&text) else {
            return Err(Diagnostic::error("empty-file", "the file holds no rows")
                .at(At::file(file))
                .help("export the shots again, or take the file out of the job")
                .into());
        };
        let (separator, by_space) = match separator_of(first, decimal) {
            Some(separator) => (separator, false),
            None => (b'\t', true),
        };
        let text = if by_space {
            Cow::Owned(space_to_tabs(&text))
        } else {
            text
        };
        Ok(Sheet {
            file,
            text,
            separator,
            by_space,
            decimal,
            has_head: false,
            columns: Vec::new(),
        })
    }

    /// Takes a file apart as far as its head.
    ///
    /// # Errors
    ///
    /// as [`Sheet::open`]; columns that are not known, named twice or in another unit than the
    /// job declares
    pub(crate) fn read(
        file: &'a str,
        bytes: &'a [u8],
        wanted: &Wanted<'_>,
    ) -> Result<(Sheet<'a>, Vec<Diagnostic>), Failure> {
        let mut sheet = Sheet::open(file, bytes, wanted.decimal)?;
        let mut cells: Vec<String> = Vec::new();
        let mut line = 0;
        sheet.records(|at_line, record| {
            line = at_line;
            cells = record.iter().map(str::to_owned).collect();
            false
        })?;
        let notes = sheet.name_columns(&cells, line, wanted)?;
        Ok((sheet, notes))
    }

    /// Index of a column by its key.
    pub(crate) fn column(&self, key: &str) -> Option<usize> {
        self.columns.iter().position(|c| c.key == Some(key))
    }

    /// The error for a file that lacks columns, saying which and how to name them.
    pub(crate) fn missing(&self, keys: &[&str], example: &str) -> Diagnostic {
        let found: Vec<&str> = self.columns.iter().map(|c| c.head.as_str()).collect();
        Diagnostic::error(
            "missing-column",
            format!(
                "there is no column for {}; the columns are {}",
                keys.join(", "),
                found.join(", ")
            ),
        )
        .at(At::file(self.file))
        .help(columns_help(example))
    }

    /// Calls `row` for every row after the head; ragged rows and a repeated head go to `faults`.
    ///
    /// # Errors
    ///
    /// the file has a head but no row below it
    pub(crate) fn each(
        &self,
        faults: &mut Faults,
        mut row: impl FnMut(&Row<'_>, &mut Faults),
    ) -> Result<(), Failure> {
        let mut skip = self.has_head;
        let mut rows = 0;
        self.records(|line, record| {
            if skip {
                skip = false;
                return true;
            }
            rows += 1;
            if let Some(fault) = self.misfit(line, record) {
                faults.push(fault);
                return true;
            }
            let pointed = match self.pointed(line, record, faults) {
                Some(Cow::Borrowed(_)) => None,
                Some(Cow::Owned(pointed)) => Some(pointed),
                None => return true,
            };
            let row_here = Row {
                sheet: self,
                record: pointed.as_ref().unwrap_or(record),
                booked: record,
                line,
            };
            row(&row_here, faults);
            true
        })?;
        if rows == 0 {
            return Err(
                Diagnostic::error("no-rows", "there is a head but no row below it")
                    .at(At::file(self.file))
                    .help("export the shots again, or take the file out of the job")
                    .into(),
            );
        }
        Ok(())
    }

    /// The record with a decimal point in all numbers; `None` if a number is written otherwise
    /// than the file is said to be, which goes to `faults`.
    fn pointed<'r>(
        &self,
        line: usize,
        record: &'r csv::StringRecord,
        faults: &mut Faults,
    ) -> Option<Cow<'r, csv::StringRecord>> {
        if self.decimal == Decimal::Point {
            return Some(Cow::Borrowed(record));
        }
        let mut pointed = csv::StringRecord::new();
        let mut is_sound = true;
        for (index, cell) in record.iter().enumerate() {
            let column = self.columns.get(index).filter(|c| c.is_measured);
            let Some(column) = column else {
                pointed.push_field(cell);
                continue;
            };
            let at = || At::cell(self.file, line, &column.head, cell);
            match cell::pointed(cell, self.decimal, at) {
                Ok(cell) => pointed.push_field(&cell),
                Err(fault) => {
                    is_sound = false;
                    faults.push(fault);
                }
            }
        }
        is_sound.then_some(Cow::Owned(pointed))
    }

    /// What keeps a record from being a row: too few or too many cells, or the head again.
    fn misfit(&self, line: usize, record: &csv::StringRecord) -> Option<Diagnostic> {
        let (wanted, mut found) = (self.columns.len(), record.len());
        while found > wanted && record.get(found - 1).is_some_and(str::is_empty) {
            found -= 1;
        }
        if self.has_head
            && found == wanted
            && record
                .iter()
                .zip(&self.columns)
                .all(|(a, b)| a.eq_ignore_ascii_case(&b.head))
        {
            return Some(
                Diagnostic::error(
                    "repeated-head",
                    "the line of column heads comes a second time",
                )
                .at(At::line(self.file, line))
                .help("take the line out, or keep two files that were joined apart"),
            );
        }
        let least = if self.by_space {
            wanted - self.columns.iter().rev().take_while(|c| c.may_end).count()
        } else {
            wanted
        };
        if (least..=wanted).contains(&found) {
            return None;
        }
        let text: Vec<&str> = record.iter().collect();
        let help = if record.iter().any(|cell| cell.contains('\n')) {
            "a quote mark that opens on this line is closed on a later one or never"
        } else if self.by_space {
            "leave no cell out, and put quotes round a cell that holds a space"
        } else {
            "give every row as many separators as the head; use a decimal point, not a comma"
        };
        let message = format!("the row has {found} cells where {wanted} are expected");
        let at = At::cell(self.file, line, "", text.join(" | "));
        Some(Diagnostic::error("ragged-row", message).at(at).help(help))
    }

    /// Calls `take` with line and cells of every record until it returns false.
    pub(crate) fn records(
        &self,
        mut take: impl FnMut(usize, &csv::StringRecord) -> bool,
    ) -> Result<(), Failure> {
        let bytes = self.text.as_bytes();
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .trim(csv::Trim::All)
            .comment(Some(b'#'))
            .delimiter(self.separator)
            .from_reader(bytes);
        let mut record = csv::StringRecord::new();
        let (mut offset, mut line) = (0, 1);
        loop {
            match reader.read_record(&mut record) {
                Ok(true) => {}
                Ok(false) => return Ok(()),
                Err(error) => {
                    let message = format!("the row cannot be read: {error}");
                    return Err(Diagnostic::error("bad-row", message)
                        .at(At::line(self.file, line))
                        .into());
                }
            }
            // The position is that of the blank and comment lines before the record.
            let from = record.position().map_or(0, |p| p.byte() as usize);
            let start = skip_blank_and_comments(bytes, from);
            line += bytes[offset..start].iter().filter(|&&b| b == b'\n').count();
            offset = start;
            let blank = record.iter().all(str::is_empty);
            let comment = record.get(0).is_some_and(|cell| cell.starts_with('#'));
            if !blank && !comment && !take(line, &record) {
                return Ok(());
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::head::{Head, Measure};
    use super::*;
    use crate::units::LengthUnit;

    const HEADS: &[Head] = &[
        Head {
            key: "name",
            aliases: &["pt"],
            measure: Measure::Text,
            may_end: false,
        },
        Head {
            key: "x",
            aliases: &["east"],
            measure: Measure::Plan,
            may_end: false,
        },
        Head {
            key: "code",
            aliases: &[],
            measure: Measure::Text,
            may_end: true,
        },
    ];

    /// Rows as "line: cells", or the codes of the errors.
    fn rows(bytes: &[u8], columns: Option<&str>) -> Result<Vec<String>, Vec<String>> {
        let names: Option<Vec<String>> =
            columns.map(|text| text.split(',').map(str::to_owned).collect());
        let wanted = Wanted {
            heads: HEADS,
            columns: names.as_deref(),
            decimal: Decimal::Point,
            plan: LengthUnit::Foot,
            height: LengthUnit::Foot,
            rod: None,
            example: "name,x,code",
        };
        let say = |Failure(all): Failure| -> Vec<String> {
            all.iter()
                .map(|d| format!("{} {}", d.code, d.at.first().map_or(0, |at| at.line)))
                .collect()
        };
        let (sheet, _) = Sheet::read("f.csv", bytes, &wanted).map_err(say)?;
        let mut faults = Faults::default();
        let mut out = Vec::new();
        let keys = ["name", "x", "code"].map(|key| sheet.column(key));
        sheet
            .each(&mut faults, |row, _| {
                out.push(format!(
                    "{}: {}",
                    row.line,
                    keys.map(|k| row.cell(k)).join("|")
                ));
            })
            .map_err(say)?;
        if faults.is_empty() {
            Ok(out)
        } else {
            Err(say(faults.into_failure("f.csv", vec![])))
        }
    }

    #[test]
    fn separators_line_ends_and_lines() {
        let want = vec!["4: a|1|c".to_owned(), "6: b|2|d".to_owned()];
        for text in [
            "# note, note; note\n\nname,x,code\na,1,c\n\nb,2,d\n",
            "# note\r\n\r\nPT;East (ft);Code\r\n a ; 1 ;c\r\n\r\nb;2;d",
            "# note\r\rname\tx\tcode\ra\t1\tc\r# more\rb\t2\td",
            "\u{feff}# note\n \nname x  code\n  a   1\tc\n\n\"b\" 2 d\n",
            "# note\n\"\"\n\"name\",\"x\",\"code\"\n\"a\",\"1\",\"c\",,\n,,\nb,2,d\n",
        ] {
            assert_eq!(rows(text.as_bytes(), None).as_ref(), Ok(&want), "{text:?}");
        }
        assert_eq!(
            rows(b"a,1,c\nb,2,d", Some("name,x,code")).unwrap()[1],
            "2: b|2|d"
        );
        assert_eq!(
            rows(b"Nr,Rechts,Art\nb,2,d", Some("name,x,code")).unwrap(),
            ["2: b|2|d"]
        );
        assert_eq!(rows(b"name x code\nb 2", None).unwrap(), ["2: b|2|"]);
        // A cell over two lines counts both, and the row stands where it begins.
        assert_eq!(
            rows(b"name,x,code\na,1,\"c\nc\"\nb,2,d", None).unwrap()[1],
            "4: b|2|d"
        );
    }

    #[test]
    fn what_is_no_table_is_said() {
        let fail = |bytes: &[u8]| rows(bytes, None).unwrap_err();
        assert_eq!(fail(b""), ["empty-file 0"]);
        assert_eq!(fail(b"# a\n\n,,,\n"), ["empty-file 0"]);
        assert_eq!(fail(b"name,x\n"), ["no-rows 0"]);
        assert_eq!(fail(b"a,1\n"), ["no-head 1"]);
        assert_eq!(fail(b"\nRechts,Hoch\n1,2\n"), ["no-head 2"]);
        assert_eq!(fail(b"name,x\na,\xff\n"), ["not-utf8 2"]);
        assert_eq!(fail(b"\xff\xfen\0"), ["not-utf8 0"]);
        assert_eq!(fail(b"name,x\r\rb\0,1\n"), ["nul-byte 3"]);
        assert_eq!(fail(b"name,x,east\na,1,2\n"), ["column-twice 1"]);
        assert_eq!(fail(b"name,x (m)\na,1\n"), ["unit-differs 1"]);
        assert_eq!(
            fail(b"name,x\na\nb,1,2\nname,x\nc,3\n"),
            ["ragged-row 2", "ragged-row 3", "repeated-head 4"]
        );
    }

    #[test]
    fn errors_beyond_twenty_are_counted() {
        let text = format!("name,x\n{}", "a\n".repeat(33));
        let errors = rows(text.as_bytes(), None).unwrap_err();
        assert_eq!(errors.len(), 21);
        assert_eq!(errors[20], "more-errors 0");
    }
}
