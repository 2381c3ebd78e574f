//! The columns of a level book in its two layouts.
//!
//! Takes a sheet, gives the column numbers and the readings of a row in the order they were
//! taken. Knows no set-ups and no levels.

use crate::diag::{At, Diagnostic};

use super::book::SightKind;
use super::head::{Head, Measure};
use super::table::{Faults, Row, Sheet};

const fn head(
    key: &'static str,
    aliases: &'static [&'static str],
    measure: Measure,
    may_end: bool,
) -> Head {
    Head {
        key,
        aliases,
        measure,
        may_end,
    }
}

/// Columns of a level book, both layouts.
pub(crate) const HEADS: &[Head] = &[
    head("setup", &["instrument", "tripod"], Measure::Text, false),
    head(
        "point",
        &["name", "id", "pt", "no", "pointname", "pointno"],
        Measure::Text,
        false,
    ),
    head("x", &["east", "easting", "e"], Measure::Plan, false),
    head("y", &["north", "northing", "n"], Measure::Plan, false),
    head("type", &["kind", "sight"], Measure::Text, false),
    head("rod", &["reading", "rodreading"], Measure::Height, false),
    head("rodkind", &["staff", "staffkind"], Measure::Text, false),
    head("bs", &["backsight"], Measure::Height, false),
    head(
        "is",
        &["intermediate", "intermediatesight"],
        Measure::Height,
        false,
    ),
    head("fs", &["foresight"], Measure::Height, false),
    head(
        "known",
        &["knownlevel", "given", "givenlevel"],
        Measure::Height,
        true,
    ),
    head("distance", &["dist", "length"], Measure::Plan, true),
    head("paced", &[], Measure::Plan, true),
    head("paces", &[], Measure::Plan, true),
    head("code", &["desc", "description"], Measure::Text, true),
    head("remark", &["remarks", "note", "notes"], Measure::Text, true),
];

/// A `columns` value for the help text.
pub(crate) const EXAMPLE: &str = "point,x,y,type,rod,code";

/// Where the readings stand.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Readings {
    /// One row a sight: columns of type and rod.
    Typed(Option<usize>, Option<usize>),
    /// Field book: columns of BS, IS and FS.
    Field(Option<usize>, Option<usize>, Option<usize>),
}

/// Column numbers of a book.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Layout {
    /// Readings.
    pub(crate) readings: Readings,
    /// Name of the set-up.
    pub(crate) setup: Option<usize>,
    /// The rod of the set-up.
    pub(crate) rod_kind: Option<usize>,
    /// Point the rod stood on.
    pub(crate) point: Option<usize>,
    /// East.
    pub(crate) x: Option<usize>,
    /// North.
    pub(crate) y: Option<usize>,
    /// Given level.
    pub(crate) known: Option<usize>,
    /// Length of the sight.
    pub(crate) distance: Option<usize>,
    /// Distance stepped from the point in `from`.
    pub(crate) paced: Option<usize>,
    /// The same in paces.
    pub(crate) paces: Option<usize>,
    /// Where it was stepped from.
    pub(crate) from: Option<usize>,
    /// Code.
    pub(crate) code: Option<usize>,
}

impl Layout {
    /// Finds the columns of a book.
    ///
    /// # Errors
    ///
    /// no column for points or readings, both layouts at once, x without y
    pub(crate) fn of(sheet: &Sheet<'_>) -> Result<Layout, Diagnostic> {
        let column = |key| sheet.column(key);
        let (kind, rod) = (column("type"), column("rod"));
        let (bs, is, fs) = (column("bs"), column("is"), column("fs"));
        let field = bs.is_some() || is.is_some() || fs.is_some();
        let readings = match (kind.is_some() || rod.is_some(), field) {
            (true, true) => {
                let message = "the book has columns of both layouts";
                return Err(Diagnostic::error("two-layouts", message)
                    .at(At::file(sheet.file))
                    .help("keep either `type` and `rod`, or `BS`, `IS` and `FS`"));
            }
            (false, false) => return Err(sheet.missing(&["type", "rod"], EXAMPLE)),
            (true, false) if kind.is_none() => return Err(sheet.missing(&["type"], EXAMPLE)),
            (true, false) if rod.is_none() => return Err(sheet.missing(&["rod"], EXAMPLE)),
            (true, false) => Readings::Typed(kind, rod),
            (false, true) if bs.is_none() => {
                return Err(sheet.missing(&["bs"], "point,bs,is,fs"));
            }
            (false, true) => Readings::Field(bs, is, fs),
        };
        let layout = Layout {
            readings,
            setup: column("setup"),
            rod_kind: column("rodkind"),
            point: column("point"),
            x: column("x"),
            y: column("y"),
            known: column("known"),
            distance: column("distance"),
            paced: column("paced"),
            paces: column("paces"),
            from: column("from"),
            code: column("code"),
        };
        if layout.point.is_none() {
            return Err(sheet.missing(&["point"], EXAMPLE));
        }
        match (layout.x, layout.y) {
            (Some(_), None) => Err(sheet.missing(&["y"], EXAMPLE)),
            (None, Some(_)) => Err(sheet.missing(&["x"], EXAMPLE)),
            _ => Ok(layout),
        }
    }

    /// The readings of a row in the order they were taken; `None` if there are none. A row that
    /// is `known` to say something else (a level, a place) needs none.
    pub(crate) fn readings(
        &self,
        row: &Row<'_>,
        known: bool,
        faults: &mut Faults,
    ) -> Option<Vec<(SightKind, Option<usize>)>> {
        let mut found = Vec::new();
        match self.readings {
            Readings::Typed(kind, rod) => {
                let word = row.cell(kind);
                if word.is_empty() && row.cell(rod).is_empty() && known {
                    return Some(found);
                }
                match sight_kind(word) {
                    Some(sight) => found.push((sight, rod)),
                    None => {
                        let message = if word.is_empty() {
                            "the row does not say what the sight was taken for"
                        } else {
                            "this is no type of sight"
                        };
                        faults.push(
                            Diagnostic::error("bad-sight", message)
                                .at(row.at(kind))
                                .help(
                                    "write BS, IS or FS; a turning point is two rows, FS then BS",
                                ),
                        );
                        return None;
                    }
                }
            }
            Readings::Field(bs, is, fs) => {
                for (sight, column) in [
                    (SightKind::Foresight, fs),
                    (SightKind::Intermediate, is),
                    (SightKind::Backsight, bs),
                ] {
                    if !row.cell(column).is_empty() {
                        found.push((sight, column));
                    }
                }
                let intermediate = found
                    .iter()
                    .any(|&(sight, _)| sight == SightKind::Intermediate);
                if found.len() > 1 && intermediate {
                    let message = "the row has an IS and another reading";
                    faults.push(
                        Diagnostic::error("two-readings", message)
                            .at(row.row_at())
                            .help(
                                "a turning point has FS and BS; give any other sight its own row",
                            ),
                    );
                    return None;
                }
                if found.is_empty() && !known {
                    let at = At {
                        text: row.cell(self.point).to_owned(),
                        ..row.row_at()
                    };
                    faults.push(
                        Diagnostic::error("no-reading", "the row has no reading")
                            .at(at)
                            .help("fill in BS, IS or FS, or put # in front of a remark"),
                    );
                    return None;
                }
            }
        }
        Some(found)
    }
}

/// The type of a sight, in short or in full.
fn sight_kind(word: &str) -> Option<SightKind> {
    match word.to_lowercase().as_str() {
        "bs" | "backsight" => Some(SightKind::Backsight),
        "is" | "intermediate" | "shot" => Some(SightKind::Intermediate),
        "fs" | "foresight" => Some(SightKind::Foresight),
        _ => None,
    }
}
