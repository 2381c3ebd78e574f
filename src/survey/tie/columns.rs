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

    /// Leaves the column of stations out: it holds the names of the points.
    pub(crate) fn without_station(&mut self) {
        self.station = None;
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
        let station_m = match full_stations(row.cell(self.station), self.unit) {
            Some(nm) => Some(nm as f64 / NM_PER_M),
            None if row.cell(self.station).contains('+') => {
                faults.push(
                    Diagnostic::error("bad-station", "this is no station that is understood")
                        .at(row.at(self.station))
                        .help(
                            "write the whole distance along the baseline, as 125.5; 1+25.5 is read \
                             in feet only, where a full station is 100 ft",
                        ),
                );
                return None;
            }
            None => metres(self.station, row.cell(self.station), faults),
        };
        let cell = row.cell(self.offset);
        let (digits, told) = side_of_offset(cell);
        if told.is_none() && self.unit.parse_length_nm(digits).is_none() && !digits.is_empty() {
            faults.push(
                bad_number(cell, row.at(self.offset))
                    .help("write the offset and its side, as 5.2 L or 5.2 R"),
            );
            return None;
        }
        let size_m = metres(self.offset, digits, faults);
        let (station_m, size_m) = (station_m?, size_m?);
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
            let metres = self
                .unit
                .parse_length_nm(text)
                .map(|nm| nm as f64 / NM_PER_M);
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

/// A station counted in full stations, whole nanometres: `1+25.5` is 125.5 ft. Elsewhere than in
/// feet a full station may be 100 m or 1,000 m, so only `0+25.5` is read there.
fn full_stations(text: &str, unit: LengthUnit) -> Option<i64> {
    let (full, plus) = text.split_once('+')?;
    let full: u16 = full.trim().parse().ok()?;
    let is_decimal = plus.starts_with(|c: char| c.is_ascii_digit());
    let plus_nm = unit.parse_nm(plus).filter(|_| is_decimal)?;
    let hundred_nm = unit.parse_nm("100")?;
    let is_plain = full == 0 || (unit.is_foot() && plus_nm < hundred_nm);
    is_plain.then_some(i64::from(full) * hundred_nm + plus_nm)
}

/// The length and the side of an offset: `5.2 L`, `L 5.2`, `5.2 left`; no side if none is told.
fn side_of_offset(cell: &str) -> (&str, Option<Side>) {
    let cell = cell.trim();
    let digits = cell.trim_end_matches(char::is_alphabetic);
    if let Some(side) = Side::from_word(&cell[digits.len()..]) {
        return (digits.trim_end(), Some(side));
    }
    let digits = cell.trim_start_matches(char::is_alphabetic);
    match Side::from_word(&cell[..cell.len() - digits.len()]) {
        Some(side) => (digits.trim_start(), Some(side)),
        None => (cell, None),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stations_are_counted_as_they_are_staked() {
        let feet = |text| full_stations(text, LengthUnit::Foot);
        assert_eq!(feet("1+25.5"), LengthUnit::Foot.parse_nm("125.5"));
        assert_eq!(feet("0+10"), LengthUnit::Foot.parse_nm("10"));
        assert_eq!(
            (feet("1+100"), feet("1+"), feet("1+-5")),
            (None, None, None)
        );
        // A full station in metres is 100 m on one job and 1,000 m on another.
        let metres = |text| full_stations(text, LengthUnit::Metre);
        assert_eq!(metres("1+25.5"), None);
        assert_eq!(metres("0+25.5"), Some(25_500_000_000));
    }

    #[test]
    fn an_offset_has_its_side_before_or_behind() {
        for text in ["5.2 L", "L5.2", "left 5.2", "5.2 Left", "l 5.2"] {
            assert_eq!(side_of_offset(text), ("5.2", Some(Side::Left)), "{text}");
        }
        assert_eq!(side_of_offset("5ft 2in"), ("5ft 2in", None));
        assert_eq!(side_of_offset("5' 2\" R"), ("5' 2\"", Some(Side::Right)));
        assert_eq!(side_of_offset("5.2 X").1, None);
    }
}
