//! ASCII elevation grids: a head of keys and values, then heights row by row from the north.
//!
//! Keys may stand in any order and case. `xllcorner` is the west side of the first cell,
//! `xllcenter` its centre; the same for `y` and the south. A cell of the value `NODATA_value`
//! (-9999 if it is not given, by the custom of the format) has no height.

use std::io::BufRead;

use crate::diag::{At, Diagnostic, Failure, nearest};
use crate::job::ImportSpec;
use crate::units::{Exact, MAX_COORDINATE_M, Scale};

use super::cells::{Cells, Woven};
use super::lattice::{Anchor, Lattice, Steps};
use super::words::Words;

/// Keys of the head.
const KEYS: [&str; 10] = [
    "ncols",
    "nrows",
    "xllcorner",
    "xllcenter",
    "yllcorner",
    "yllcenter",
    "cellsize",
    "dx",
    "dy",
    "nodata_value",
];

/// Value of cells without a height where the head does not give one.
const USUAL_NODATA: f64 = -9999.0;

/// A grid as read.
pub(super) struct AsciiGrid {
    pub(super) lattice: Lattice,
    pub(super) woven: Woven,
    pub(super) said: Vec<Diagnostic>,
}

/// Reads a grid from a text of `bytes` bytes.
///
/// # Errors
///
/// a head that lacks something, what is no number, fewer or more heights than the head says
pub(super) fn read(
    spec: &ImportSpec,
    text: impl BufRead,
    bytes: u64,
    plan: Scale,
    height_m: f64,
) -> Result<AsciiGrid, Failure> {
    let mut words = Words::new(text);
    let head = Head::read(spec, &mut words)?;
    let lattice = head.lattice(spec, plan)?;
    let wanted = lattice.columns() as u64 * lattice.rows() as u64;
    // A height is at least a digit and what parts it from the next.
    if wanted > bytes.div_ceil(2) {
        return Err(Diagnostic::error(
            "grid-too-short",
            format!("the head says {wanted} heights; a file of {bytes} bytes does not hold them"),
        )
        .at(At::file(&spec.file))
        .help("the file is cut off, or `ncols` or `nrows` is wrong")
        .into());
    }
    let mut cells = Cells::new(&lattice);
    let mut row = Vec::new();
    let nodata = head.nodata.unwrap_or(USUAL_NODATA);
    let mut usual = 0u64;
    let mut first = head.first;
    while cells.rows() < lattice.rows() as u32 {
        while row.len() < lattice.columns() {
            let value = match first.take() {
                Some(value) => value,
                None => match next(spec, &mut words)? {
                    Some(text) => number(text),
                    None => return Err(too_few(spec, &words, &cells, row.len(), wanted).into()),
                },
            };
            let z = match value {
                Value::Number(value) if value == nodata => {
                    usual += u64::from(head.nodata.is_none());
                    f64::NAN
                }
                Value::Number(value) if (value * height_m).abs() <= MAX_COORDINATE_M => {
                    value * height_m
                }
                Value::None => f64::NAN,
                _ => {
                    return Err(bad_height(spec, &words, &cells, row.len()).into());
                }
            };
            row.push(z);
        }
        cells.push(&mut row);
    }
    if let Some(text) = next(spec, &mut words)? {
        let text = text.to_owned();
        return Err(Diagnostic::error(
            "grid-too-long",
            format!("more heights than the {wanted} that the head says"),
        )
        .at(At::cell(&spec.file, words.line(), "", text))
        .help("`ncols` or `nrows` is wrong, or two files were joined")
        .into());
    }
    let mut said = Vec::new();
    if usual > 0 {
        said.push(
            Diagnostic::note(
                "nodata-taken",
                format!(
                    "the head has no NODATA_value; {usual} cells of -9999 are taken as cells \
                     without a height, by the custom of the format"
                ),
            )
            .at(At::file(&spec.file))
            .help("add NODATA_value to the head"),
        );
    }
    let woven = cells.finish();
    Ok(AsciiGrid {
        lattice,
        woven,
        said,
    })
}

/// One word of the heights.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Value {
    Number(f64),
    /// `nan`: nothing is known.
    None,
    Bad,
}

fn number(text: &str) -> Value {
    match text.parse::<f64>() {
        Ok(value) if value.is_nan() => Value::None,
        Ok(value) if value.is_finite() => Value::Number(value),
        _ => Value::Bad,
    }
}

fn next<'a>(
    spec: &ImportSpec,
    words: &'a mut Words<impl BufRead>,
) -> Result<Option<&'a str>, Diagnostic> {
    words
        .next()
        .map_err(|error| super::unreadable(spec, &error))
}

/// A number of the head, and the line it stands on.
struct Given {
    text: String,
    line: usize,
}

/// The head of a grid.
struct Head {
    given: [Option<Given>; KEYS.len()],
    nodata: Option<f64>,
    /// The first height, read to know that the head is over.
    first: Option<Value>,
}

impl Head {
    fn read(spec: &ImportSpec, words: &mut Words<impl BufRead>) -> Result<Head, Diagnostic> {
        let mut head = Head {
            given: Default::default(),
            nodata: None,
            first: None,
        };
        while let Some(word) = next(spec, words)? {
            let key = word.trim_start_matches('\u{feff}').to_ascii_lowercase();
            let starts_a_key = key.starts_with(|c: char| c.is_ascii_alphabetic());
            if !starts_a_key || key == "nan" || key == "inf" {
                head.first = Some(number(&key));
                if head.first == Some(Value::Bad) {
                    let at = At::cell(&spec.file, words.line(), "", words.text());
                    return Err(not_a_number(at));
                }
                break;
            }
            let line = words.line();
            let place = KEYS.iter().position(|&known| known == key);
            let Some(place) = place else {
                let meant = nearest(&key, KEYS).map(|k| format!("; is {k} meant?"));
                return Err(Diagnostic::error(
                    "unknown-key",
                    format!(
                        "the head has a key that no elevation grid has{}",
                        meant.unwrap_or_default()
                    ),
                )
                .at(At::cell(&spec.file, line, "", words.text()))
                .help(
                    "an ASCII elevation grid begins with ncols, nrows, xllcorner or xllcenter, \
                     yllcorner or yllcenter, cellsize, and then has its heights",
                ));
            };
            if let Some(before) = &head.given[place] {
                return Err(
                    Diagnostic::error("key-twice", format!("{key} is given twice"))
                        .at(At::line(&spec.file, before.line))
                        .at(At::line(&spec.file, line))
                        .help("leave one away"),
                );
            }
            let text = next(spec, words)?.map(str::to_owned).unwrap_or_default();
            let value = Given {
                text,
                line: words.line(),
            };
            if key == "nodata_value" {
                head.nodata = match number(&value.text) {
                    Value::Number(value) => Some(value),
                    Value::None => Some(f64::NAN),
                    Value::Bad => {
                        return Err(not_a_number(At::cell(
                            &spec.file, value.line, key, value.text,
                        )));
                    }
                };
            }
            head.given[place] = Some(value);
        }
        Ok(head)
    }

    fn given(&self, key: &str) -> Option<&Given> {
        let place = KEYS.iter().position(|&known| known == key)?;
        self.given[place].as_ref()
    }

    fn lattice(&self, spec: &ImportSpec, scale: Scale) -> Result<Lattice, Diagnostic> {
        let [columns, rows] = [self.count(spec, "ncols")?, self.count(spec, "nrows")?];
        let (x, x_anchor) = self.start(spec, "xllcorner", "xllcenter")?;
        let (y, y_anchor) = self.start(spec, "yllcorner", "yllcenter")?;
        let [dx, dy] = match (self.given("cellsize"), self.given("dx"), self.given("dy")) {
            (Some(_), None, None) => {
                let size = self.size(spec, "cellsize")?;
                [size, size]
            }
            (None, Some(_), Some(_)) => [self.size(spec, "dx")?, self.size(spec, "dy")?],
            (None, None, None) => return Err(lacking(spec, "cellsize")),
            _ => {
                return Err(Diagnostic::error(
                    "bad-grid",
                    "the size of a cell is one `cellsize`, or both `dx` and `dy`",
                )
                .at(At::file(&spec.file))
                .help("leave one of them away"));
            }
        };
        // Rows come from the north; from its upper side, where the sides are given.
        let up = match y_anchor {
            Anchor::Corner => rows,
            Anchor::Centre => rows.saturating_sub(1),
        };
        let north = dy
            .times(Exact::whole(i64::from(up)))
            .and_then(|up| y.plus(up));
        let Some(north) = north else {
            return Err(
                Diagnostic::error("bad-grid", "the grid reaches beyond any place")
                    .at(At::file(&spec.file))
                    .help("check yllcorner, nrows and cellsize"),
            );
        };
        let none = Exact::whole(0);
        Lattice::new(
            spec,
            [columns, rows],
            [
                (
                    Steps {
                        start: x,
                        column: dx,
                        row: none,
                    },
                    x_anchor,
                ),
                (
                    Steps {
                        start: north,
                        column: none,
                        row: dy.negative(),
                    },
                    y_anchor,
                ),
            ],
            scale,
        )
    }

    fn start(
        &self,
        spec: &ImportSpec,
        corner: &str,
        centre: &str,
    ) -> Result<(Exact, Anchor), Diagnostic> {
        match (self.given(corner), self.given(centre)) {
            (Some(_), None) => Ok((self.decimal(spec, corner)?, Anchor::Corner)),
            (None, Some(_)) => Ok((self.decimal(spec, centre)?, Anchor::Centre)),
            (None, None) => Err(lacking(spec, corner)),
            (Some(one), Some(other)) => Err(Diagnostic::error(
                "key-twice",
                format!("both {corner} and {centre} are given"),
            )
            .at(At::line(&spec.file, one.line))
            .at(At::line(&spec.file, other.line))
            .help("leave one away")),
        }
    }

    fn count(&self, spec: &ImportSpec, key: &str) -> Result<u32, Diagnostic> {
        let given = self.given(key).ok_or_else(|| lacking(spec, key))?;
        given.text.parse().map_err(|_| {
            Diagnostic::error("bad-number", format!("{key} is no whole number"))
                .at(At::cell(&spec.file, given.line, key, &given.text))
                .help("it counts the cells of a row or a column")
        })
    }

    fn decimal(&self, spec: &ImportSpec, key: &str) -> Result<Exact, Diagnostic> {
        let given = self.given(key).ok_or_else(|| lacking(spec, key))?;
        Exact::parse(&given.text)
            .ok_or_else(|| not_a_number(At::cell(&spec.file, given.line, key, &given.text)))
    }

    fn size(&self, spec: &ImportSpec, key: &str) -> Result<Exact, Diagnostic> {
        let size = self.decimal(spec, key)?;
        if size.is_positive() {
            return Ok(size);
        }
        Err(
            Diagnostic::error("bad-grid", format!("{key} is not above zero"))
                .at(self.given(key).map_or_else(
                    || At::file(&spec.file),
                    |given| At::cell(&spec.file, given.line, key, &given.text),
                ))
                .help("it is the distance from one cell to the next"),
        )
    }
}

fn lacking(spec: &ImportSpec, key: &str) -> Diagnostic {
    Diagnostic::error("no-head", format!("the head of the grid lacks {key}"))
        .at(At::file(&spec.file))
        .help(
            "an ASCII elevation grid begins with ncols, nrows, xllcorner or xllcenter, yllcorner \
             or yllcenter, and cellsize; a list of points is read as CSV",
        )
}

fn not_a_number(at: At) -> Diagnostic {
    let help = if at.text.contains(',') {
        "use a decimal point"
    } else {
        "write a number with a decimal point"
    };
    Diagnostic::error("bad-number", "this is no number")
        .at(at)
        .help(help)
}

fn bad_height(
    spec: &ImportSpec,
    words: &Words<impl BufRead>,
    cells: &Cells<'_>,
    column: usize,
) -> Diagnostic {
    let at = At::cell(&spec.file, words.line(), "", words.text());
    let place = format!(
        "height {} of row {} from the north",
        column + 1,
        cells.rows() + 1
    );
    if number(&at.text) == Value::Bad {
        let mut fault = not_a_number(at);
        fault.message = format!("{place} is no number");
        return fault;
    }
    Diagnostic::error(
        "out-of-range",
        format!("{place} is beyond {MAX_COORDINATE_M:e} m"),
    )
    .at(at)
    .help("if it marks a cell without a height, say so with NODATA_value in the head")
}

fn too_few(
    spec: &ImportSpec,
    words: &Words<impl BufRead>,
    cells: &Cells<'_>,
    column: usize,
    wanted: u64,
) -> Diagnostic {
    Diagnostic::error(
        "grid-too-short",
        format!(
            "the file ends in row {} behind {column} heights; the head says {wanted} in all",
            cells.rows() + 1
        ),
    )
    .at(At::line(&spec.file, words.line()))
    .help("the file is cut off, or `ncols` or `nrows` is wrong")
}
