//! The columns that say where a point is by tape, in any table.
//!
//! Takes a row, gives its [`Whereabouts`]. Knows no corner: whether it exists is found out when
//! all files are read.

use crate::diag::{At, Diagnostic};
use crate::job::Side;
use crate::survey::cell::{bad_number, plan_nm, short_name};
use crate::survey::entry::{GridLine, Tape, Whereabouts};
use crate::survey::grid::crossing_name;
use crate::survey::table::{Faults, Row, Sheet};
use crate::units::{LengthUnit, NM_PER_M};

use super::bearing::read_bearing;

/// Longest tape, metres: a slipped digit or another unit is caught.
const MAX_TAPE_M: f64 = 1.0e4;

/// Column numbers of one sheet.
#[derive(Clone, Debug)]
pub(crate) struct TieColumns {
    /// `tape A`, `tape B`: column and corner.
    wide: Vec<(usize, String)>,
    from: Option<usize>,
    tape: Option<usize>,
    bearing: Option<usize>,
    station: Option<usize>,
    offset: Option<usize>,
    side: Option<usize>,
    row: Option<usize>,
    column: Option<usize>,
    unit: LengthUnit,
}

impl TieColumns {
    /// Finds the columns; lengths are in `unit`.
    pub(crate) fn of(sheet: &Sheet<'_>, unit: LengthUnit) -> TieColumns {
        TieColumns {
            wide: sheet.tapes(),
            from: sheet.column("from"),
            tape: sheet.column("tape"),
            bearing: sheet.column("bearing"),
            station: sheet.column("station"),
            offset: sheet.column("offset"),
            side: sheet.column("side"),
            row: sheet.column("row"),
            column: sheet.column("column"),
            unit,
        }
    }

    /// True if the sheet can say where a point is.
    pub(crate) fn any(&self) -> bool {
        let pair = |a: Option<usize>, b: Option<usize>| a.is_some() && b.is_some();
        !self.wide.is_empty()
            || pair(self.from, self.tape)
            || pair(self.station, self.offset)
            || pair(self.row, self.column)
    }

    /// True if the row says anything of a place.
    pub(crate) fn is_filled(&self, row: &Row<'_>) -> bool {
        let single = [
            self.tape,
            self.bearing,
            self.station,
            self.offset,
            self.row,
            self.column,
        ];
        let wide = self.wide.iter().map(|(column, _)| Some(*column));
        self.any()
            && single
                .into_iter()
                .chain(wide)
                .any(|c| !row.cell(c).is_empty())
    }

    /// Name of a rod of a grid that has none of its own: row and column.
    pub(crate) fn grid_name(&self, row: &Row<'_>) -> Option<String> {
        let (along, across) = (row.cell(self.row), row.cell(self.column));
        (!along.is_empty() && !across.is_empty()).then(|| crossing_name(along, across))
    }

    /// Where the point of a row is; `None` if the row does not say, or says it wrongly.
    pub(crate) fn read(&self, row: &Row<'_>, faults: &mut Faults) -> Option<Whereabouts> {
        if !self.is_filled(row) {
            return None;
        }
        let has = |column| !row.cell(column).is_empty();
        let taped = has(self.tape) || self.wide.iter().any(|(column, _)| has(Some(*column)));
        let offset = has(self.station) || has(self.offset);
        let grid = has(self.row) || has(self.column);
        let count =
            usize::from(taped || has(self.bearing)) + usize::from(offset) + usize::from(grid);
        if count > 1 {
            faults.push(
                Diagnostic::error("two-places", "the row says in two ways where the point is")
                    .at(row.row_at())
                    .help("keep either tapes, or station and offset, or row and column of a grid"),
            );
            return None;
        }
        let side = self.side(row, faults);
        if offset {
            self.offset(row, side, faults)
        } else if grid {
            self.grid(row, faults)
        } else {
            self.tapes(row, side, faults)
        }
    }

    /// `left` or `right`.
    fn side(&self, row: &Row<'_>, faults: &mut Faults) -> Option<Side> {
        let word = row.cell(self.side);
        if word.is_empty() {
            return None;
        }
        let side = Side::from_word(word);
        if side.is_none() {
            faults.push(
                Diagnostic::error("bad-side", "this is no side")
                    .at(row.at(self.side))
                    .help("write left or right, as seen looking along the line"),
            );
        }
        side
    }

    fn tapes(&self, row: &Row<'_>, side: Option<Side>, faults: &mut Faults) -> Option<Whereabouts> {
        let mut tapes = Vec::new();
        for (column, corner) in &self.wide {
            if !row.cell(Some(*column)).is_empty()
                && let Some(length_m) = self.length(row, Some(*column), faults)
            {
                tapes.push(Tape {
                    corner: corner.clone(),
                    length_m,
                    at: row.at(Some(*column)),
                });
            }
        }
        let (from, long) = (row.cell(self.from), row.cell(self.tape));
        if !long.is_empty() || !row.cell(self.bearing).is_empty() {
            if from.is_empty() {
                faults.push(
                    Diagnostic::error("blank-cell", "the row does not say where the tape begins")
                        .at(row.at(self.from.or(self.tape)))
                        .help("name the corner in the column `from`"),
                );
                return None;
            }
            if let Err(fault) = short_name(from, || row.at(self.from)) {
                faults.push(fault);
                return None;
            }
            let tape = Tape {
                corner: from.to_owned(),
                length_m: self.length(row, self.tape, faults)?,
                at: row.at(self.tape),
            };
            if !row.cell(self.bearing).is_empty() {
                if !tapes.is_empty() {
                    faults.push(
                        Diagnostic::error(
                            "two-places",
                            "the row has a bearing and tapes from other corners",
                        )
                        .at(row.at(self.bearing))
                        .help("give the bearing its own point, or leave it out"),
                    );
                    return None;
                }
                return match read_bearing(row.cell(self.bearing)) {
                    Ok(toward) => Some(Whereabouts::Bearing { tape, toward }),
                    Err(message) => {
                        faults.push(
                            Diagnostic::error("bad-bearing", message)
                                .at(row.at(self.bearing))
                                .help("write degrees clockwise from north, as 245.5 or 245-30-15, or N45-30E"),
                        );
                        None
                    }
                };
            }
            tapes.push(tape);
        }
        (!tapes.is_empty()).then_some(Whereabouts::Tapes { tapes, side })
    }

    /// A tape, metres: more than nothing.
    fn length(&self, row: &Row<'_>, column: Option<usize>, faults: &mut Faults) -> Option<f64> {
        match plan_nm(row.cell(column), self.unit, || row.at(column)) {
            Ok(nm) if nm > 0 && nm as f64 <= MAX_TAPE_M * NM_PER_M => Some(nm as f64 / NM_PER_M),
            Ok(nm) => {
                let (message, help) = if nm > 0 {
                    (
                        "no tape is longer than 10 km",
                        "check the number and its unit",
                    )
                } else {
                    (
                        "a tape is longer than 0",
                        "leave the cell blank if it was not taped",
                    )
                };
                faults.push(
                    Diagnostic::error("bad-tape", message)
                        .at(row.at(column))
                        .help(help),
                );
                None
            }
            Err(fault) => {
                faults.push(fault);
                None
            }
        }
    }

    fn offset(
        &self,
        row: &Row<'_>,
        side: Option<Side>,
        faults: &mut Faults,
    ) -> Option<Whereabouts> {
        let metres = |column: Option<usize>, text: &str, faults: &mut Faults| {
            plan_nm(text, self.unit, || row.at(column))
                .map_err(|fault| faults.push(fault))
                .ok()
                .map(|nm| nm as f64 / NM_PER_M)
        };
        let station_m = metres(self.station, row.cell(self.station), faults);
        let cell = row.cell(self.offset);
        let (digits, letter) = match cell.char_indices().next_back() {
            Some((at, c)) if c.is_alphabetic() => {
                // What stands before the letter may be a wide space.
                let mut before = cell[..at].char_indices();
                let word = before
                    .rfind(|(_, c)| !c.is_alphabetic())
                    .map_or(0, |(i, c)| i + c.len_utf8());
                (cell[..word].trim(), Some(&cell[word..]))
            }
            _ => (cell, None),
        };
        let own = letter.map(|letter| (letter, Side::from_word(letter)));
        if let Some((_, None)) = own {
            faults.push(
                bad_number(cell, row.at(self.offset))
                    .help("write the offset and its side, as 5.2 L or 5.2 R"),
            );
            return None;
        }
        let size_m = metres(self.offset, digits, faults);
        let (station_m, size_m) = (station_m?, size_m?);
        let told = own.and_then(|(_, side)| side);
        let refuse = |message: &str| {
            Diagnostic::error("bad-offset", message)
                .at(row.at(self.offset))
                .help("write the offset and its side looking along the baseline, as 5.2 L or 5.2 R")
        };
        let fault = match (told, side) {
            (Some(a), Some(b)) if a != b => Some("the letter and the column `side` differ"),
            _ if size_m < 0.0 => Some("an offset is not negative"),
            (None, None) if size_m > 0.0 => Some("the offset does not say its side"),
            _ => None,
        };
        if let Some(message) = fault {
            faults.push(refuse(message));
            return None;
        }
        let left = told.or(side).unwrap_or_default() == Side::Left;
        Some(Whereabouts::Offset {
            station_m,
            left_m: if left { size_m } else { -size_m },
        })
    }

    fn grid(&self, row: &Row<'_>, faults: &mut Faults) -> Option<Whereabouts> {
        for column in [self.row, self.column] {
            if row.cell(column).is_empty() {
                faults.push(
                    Diagnostic::error("blank-cell", "a rod of a grid has a row and a column")
                        .at(row.at(column))
                        .help("fill in both"),
                );
                return None;
            }
        }
        let line = |text: &str| {
            let metres = self.unit.parse_nm(text).map(|nm| nm as f64 / NM_PER_M);
            GridLine::Named(text.to_owned(), metres)
        };
        Some(Whereabouts::Grid {
            column: line(row.cell(self.column)),
            row: line(row.cell(self.row)),
            frame: None,
        })
    }

    /// The note on a row that has coordinates and would be placed by tape as well.
    pub(crate) fn not_needed(&self, at: At) -> Diagnostic {
        Diagnostic::note(
            "coordinates-win",
            "rows with coordinates are placed by them; their tapes, offsets or grid lines are not read",
        )
        .at(at)
        .help("leave x and y blank where the tapes are meant")
    }
}
