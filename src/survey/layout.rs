//! The columns of a level book in its two layouts.
//!
//! Takes a sheet, gives the column numbers and the readings of a row in the order they were
//! taken. Knows no set-ups and no levels.

use crate::diag::{At, Diagnostic};

use super::book::SightKind;
use super::head::{Head, Measure, POINT_WORDS, names_readings};
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
    head("point", POINT_WORDS, Measure::Text, false),
    head("x", &["east", "easting", "e"], Measure::Plan, false),
    head("y", &["north", "northing", "n"], Measure::Plan, false),
    head("type", &["kind", "sight"], Measure::Text, false),
    head("rod", &["reading", "rodreading"], Measure::Rod, false),
    head("rodkind", &["staff", "staffkind"], Measure::Text, false),
    head("bs", &["backsight", "back"], Measure::Rod, false),
    head(
        "is",
        &[
            "intermediate",
            "intermediatesight",
            "inter",
            "ss",
            "sideshot",
        ],
        Measure::Rod,
        false,
    ),
    head("fs", &["foresight", "fore"], Measure::Rod, false),
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

/// What to do where a book has no readings that are understood.
const LAYOUT_HELP: &str = "name the columns point, BS, IS, FS, or point, type, rod with one row a \
                           sight; in the head, or in their order: `columns = \"point,bs,is,fs\"` in \
                           the job, or `--columns point,bs,is,fs`";
/// What to do where a book does not say what its sights were taken for.
const TYPE_HELP: &str = "add a column `type` that says what each sight was taken for: BS on the \
                         benchmark, IS on the ground, FS when the laser moves or the day ends; or \
                         give BS, IS and FS a column each";

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
    /// Remark, which is not read.
    pub(crate) remark: Option<usize>,
}

/// True if the first line of a file is the head of a level book.
pub fn is_book_head(first: &str) -> bool {
    names_readings(first, HEADS)
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
            (false, false) => {
                return Err(sheet.missing(&["readings"], EXAMPLE).help(LAYOUT_HELP));
            }
            (true, false) if kind.is_none() => {
                return Err(sheet.missing(&["type"], EXAMPLE).help(TYPE_HELP));
            }
            (true, false) if rod.is_none() => {
                return Err(sheet.missing(&["rod"], EXAMPLE).help(LAYOUT_HELP));
            }
            (true, false) => Readings::Typed(kind, rod),
            (false, true) if bs.is_none() => {
                return Err(sheet.missing(&["bs"], "point,bs,is,fs"));
            }
            (false, true) => Readings::Field(bs, is, fs),
        };
        let has_bearing = column("bearing").is_some() && column("from").is_some();
        if has_bearing && column("tape").is_none() {
            let example = "point,from,tape,bearing,bs,is,fs";
            return Err(sheet.missing(&["tape"], example));
        }
        let is_name = Layout::station_names_points(sheet);
        let layout = Layout {
            readings,
            setup: column("setup"),
            rod_kind: column("rodkind"),
            point: column("point").or(column("station").filter(|_| is_name)),
            x: column("x"),
            y: column("y"),
            known: column("known"),
            distance: column("distance"),
            paced: column("paced"),
            paces: column("paces"),
            from: column("from"),
            code: column("code"),
            remark: column("remark"),
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

    /// True if the column `station` names the points, as in a book with `Sta, BS, HI, FS`: there
    /// is no other name, and no offset beside a baseline.
    pub(crate) fn station_names_points(sheet: &Sheet<'_>) -> bool {
        let has = |key| sheet.column(key).is_some();
        has("station") && !has("point") && !has("offset")
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
    let plain: String = word
        .to_lowercase()
        .chars()
        .filter(|c| !matches!(c, ' ' | '.' | '-' | '_'))
        .collect();
    match plain.as_str() {
        "bs" | "backsight" | "back" => Some(SightKind::Backsight),
        "is" | "intermediate" | "intermediatesight" | "inter" | "ss" | "sideshot" | "shot" => {
            Some(SightKind::Intermediate)
        }
        "fs" | "foresight" | "fore" => Some(SightKind::Foresight),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use crate::diag::{Diagnostic, Failure};
    use crate::job::{Benchmark, RodKind, SurveyKind, SurveySpec};
    use crate::survey::{LevelBook, read_levels};
    use crate::units::LengthUnit;

    fn read(rod: RodKind, text: &str) -> Result<(LevelBook, Vec<Diagnostic>), Failure> {
        let units = if rod.is_foot() {
            LengthUnit::Foot
        } else {
            LengthUnit::Metre
        };
        let mut spec = SurveySpec::new(SurveyKind::Levels, "book.csv", units);
        spec.rod = rod.into();
        spec.benchmark = Some(Benchmark {
            name: "BM".into(),
            level_m: 0.0,
            words: String::new(),
        });
        read_levels(&spec, text.as_bytes())
    }

    fn codes(notes: &[Diagnostic]) -> Vec<&str> {
        notes.iter().map(|note| note.code).collect()
    }

    #[test]
    fn heads_of_a_field_book_are_understood_as_crews_write_them() {
        for head in [
            "point,BS,IS,FS",
            "Pt No,BS (ft),IS ft,FS_ft",
            "Point #,BS (+),SS,FS (-)",
            "PT.,Back,Inter,Fore",
            "Shot,Backsight,Intermediate,Foresight",
        ] {
            let text = format!("{head}\nBM,4.00,,\n1,,5.00,\nBM,,,4.00\n");
            let (book, notes) = read(RodKind::Tenths, &text).expect(head);
            assert_eq!(book.sights.len(), 3, "{head}");
            assert!(notes.is_empty(), "{head}: {notes:?}");
        }
    }

    #[test]
    fn stations_name_the_points_of_a_book_without_offsets() {
        let text = "Sta,BS,HI,FS,Elev\nBM,4.00,104.00,,100.00\n1,,,5.00,99.00\nBM,,,4.00,100.00\n";
        let (book, notes) = read(RodKind::Tenths, text).unwrap();
        assert_eq!(book.sights[1].name, "1");
        assert_eq!(codes(&notes), ["unread-column", "station-names"]);
    }

    #[test]
    fn the_totals_of_a_page_are_no_sight() {
        for word in ["Total", "TOTALS:", "Sum", "\u{3a3}"] {
            let text =
                format!("point,BS,IS,FS\nBM,4.00,,\n1,,5.00,\nBM,,,4.00\n{word},4.00,,4.00\n");
            let (book, notes) = read(RodKind::Tenths, &text).unwrap();
            assert_eq!((book.sights.len(), book.setups.len()), (3, 1), "{word}");
            assert_eq!(codes(&notes), ["totals-row"], "{word}");
        }
    }

    #[test]
    fn a_row_that_is_a_remark_is_no_sight() {
        let text =
            "point,type,rod,remark\nBM,B.S.,4.00,\n,,,tea\n1,side shot,5.00,\nBM,Fore,4.00,\n";
        let (book, notes) = read(RodKind::Tenths, text).unwrap();
        assert_eq!((book.sights.len(), notes.len()), (3, 0));
        let said = read(
            RodKind::Tenths,
            "point,BS,IS,FS,remark\nBM,4.00,,,\n1,,,,hidden\n",
        );
        assert_eq!(codes(&said.unwrap_err().0), ["no-reading"]);
    }

    #[test]
    fn a_head_in_another_unit_than_the_rod_names_the_cure() {
        let text = "point,type,rod (mm)\nBM,BS,1402\nBM,FS,1402\n";
        assert!(read(RodKind::Millimetres, text).is_ok());
        for (rod, text, cure) in [
            (RodKind::Metric, text, "--rod millimetres"),
            (
                RodKind::Metric,
                "point,BS ft,FS ft\nBM,4.00,\nBM,,4.00\n",
                "--rod tenths",
            ),
            (
                RodKind::Tenths,
                "point,BS m,FS m\nBM,1.402,\nBM,,1.402\n",
                "--rod metric",
            ),
        ] {
            let Failure(faults) = read(rod, text).unwrap_err();
            assert_eq!(faults[0].code, "unit-differs");
            assert!(faults[0].help.contains(cure), "{}", faults[0].help);
        }
        // Where the book tells the rod of each set-up, a head does not.
        let text = "point,rod kind,type,rod (mm)\nBM,metric,BS,1.402\nBM,metric,FS,1.402\n";
        assert!(read(RodKind::Metric, text).is_ok());
    }

    #[test]
    fn a_book_that_does_not_tell_its_sights_is_told_how() {
        let Failure(faults) = read(RodKind::Tenths, "point,rod\nBM,4.00\n").unwrap_err();
        assert!(faults[0].help.contains("BS on the benchmark"));
    }
}
