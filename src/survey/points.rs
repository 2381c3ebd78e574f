//! Points from delimited text: x, y and z, or tapes instead of x and y.
//!
//! Takes a survey entry of the job and the bytes of its file, gives entries in absolute
//! coordinates or by tape. Knows no rod, no benchmark and no other file.

use crate::diag::{Diagnostic, Failure};
use crate::job::{SurveyKind, SurveySpec};

use super::cell::{height_m, plan_nm, short_name};
use super::entry::{Entry, Role, Whereabouts};
use super::head::{Head, Measure, POINT_WORDS, Wanted, columns_help};
use super::table::{Faults, Row, Sheet};
use super::tie::TieColumns;
use super::{Entries, PointClass};

/// Columns of a point file.
const HEADS: &[Head] = &[
    Head {
        key: "name",
        aliases: POINT_WORDS,
        measure: Measure::Text,
        may_end: false,
    },
    Head {
        key: "x",
        aliases: &["east", "easting", "e"],
        measure: Measure::Plan,
        may_end: false,
    },
    Head {
        key: "y",
        aliases: &["north", "northing", "n"],
        measure: Measure::Plan,
        may_end: false,
    },
    Head {
        key: "z",
        aliases: &["elev", "elevation", "level", "height", "rl", "reducedlevel"],
        measure: Measure::Height,
        may_end: false,
    },
    Head {
        key: "code",
        aliases: &["desc", "description", "d"],
        measure: Measure::Text,
        may_end: true,
    },
    Head {
        key: "remark",
        aliases: &["remarks", "note", "notes"],
        measure: Measure::Text,
        may_end: true,
    },
];

/// A `columns` value for the help text.
const EXAMPLE: &str = "name,x,y,z,code";
/// The same for a file of ties.
const TIE_EXAMPLE: &str = "name,tape A,tape B,side";

/// Reads a point file.
///
/// Columns are found by their heads (upper or lower case): `name` (id, point, pt no, p, no), `x`
/// (east, easting, e), `y` (north, northing, n), `z` (elev, elevation, level, height, rl), `code`
/// (desc, description, d), `remark`; a unit may follow (`x (ft)`, `z_m`) and must be the declared
/// one. Without a name column a shot is named by the number of its row, counted from 1 below
/// the head.
///
/// With columns of tapes (`tape A` or `from A`, or `from` and `tape`; `station` and `offset`; `row` and
/// `column`) x, y and z may be left blank or out: a place or a height may come from another row
/// or file.
///
/// # Units
///
/// x, y and tapes in `spec.units`, z in `spec.z_units`
/// # Errors
///
/// every bad cell with line, column head and text: the first twenty, then a count
pub fn read_points(spec: &SurveySpec, bytes: &[u8]) -> Result<Entries, Failure> {
    let example = match spec.kind {
        SurveyKind::Ties => TIE_EXAMPLE,
        _ => EXAMPLE,
    };
    let wanted = Wanted {
        heads: HEADS,
        columns: spec.columns.as_deref(),
        decimal: spec.decimal,
        plan: spec.units,
        height: spec.z_units,
        rod: None,
        example,
    };
    let (sheet, mut notes) = Sheet::read(&spec.file, bytes, &wanted)?;
    let ties = TieColumns::of(&sheet, spec.units);
    let column = |key: &str| sheet.column(key);
    let (name, code) = (column("name"), column("code"));
    let (x, y, z) = (column("x"), column("y"), column("z"));
    let may_be_blank = ties.any() || spec.kind == SurveyKind::Ties;
    let all = [("x", x), ("y", y), ("z", z)];
    let lacking: Vec<&str> = match (ties.any(), x.is_some() || y.is_some()) {
        // Tapes say the place.
        (true, false) => Vec::new(),
        (false, false) if spec.kind == SurveyKind::Ties => vec!["tape A, tape B"],
        _ => (all.iter().take(if may_be_blank { 2 } else { 3 }))
            .filter_map(|&(key, found)| found.is_none().then_some(key))
            .collect(),
    };
    if !lacking.is_empty() {
        let fault = sheet.missing(&lacking, example);
        notes.push(if x.is_none() && y.is_none() {
            fault.help(format!(
                "{}; or say where the points are by tape: columns `tape A`, `tape B`, or `from`, \
                 `tape`, `bearing`, or `station`, `offset`",
                columns_help(example)
            ))
        } else {
            fault
        });
        return Err(Failure(notes));
    }
    let mut entries = Vec::new();
    let mut faults = Faults::default();
    let (mut rows, mut both) = (0, None);
    sheet.each(&mut faults, |row, faults| {
        rows += 1;
        let label = match name {
            Some(_) => row.cell(name).to_owned(),
            None => ties.grid_name(row).unwrap_or_else(|| rows.to_string()),
        };
        if label.is_empty() {
            let message = "the shot has no name";
            let fault = Diagnostic::error("blank-cell", message)
                .at(row.at(name))
                .help("give it a name, or leave the name column out of the whole file");
            faults.push(fault);
        }
        let mut keep = |fault| faults.push(fault);
        let _ = short_name(&label, || row.at(name)).map_err(&mut keep);
        let is_blank = row.cell(x).is_empty() && row.cell(y).is_empty();
        let place = if is_blank && may_be_blank {
            Ok(ties.read(row, faults))
        } else {
            if both.is_none() && ties.is_filled(row) {
                both = Some(row.row_at());
            }
            let x_nm = plan_nm(row.cell(x), spec.units, || row.at(x)).map_err(&mut keep);
            let y_nm = plan_nm(row.cell(y), spec.units, || row.at(y)).map_err(&mut keep);
            x_nm.and_then(|x_nm| Ok(Some(Whereabouts::Coordinates { x_nm, y_nm: y_nm? })))
        };
        let z_m = match row.cell(z) {
            "" if may_be_blank => Ok(None),
            text => height_m(text, spec.z_units, || row.at(z))
                .map(Some)
                .map_err(|fault| faults.push(fault)),
        };
        if let (Ok(whereabouts), Ok(z_m)) = (place, z_m) {
            entries.push(entry(row, label, whereabouts, z_m, row.cell(code)));
        }
    })?;
    notes.extend(both.map(|at| ties.not_needed(at)));
    if faults.is_empty() {
        Ok((entries, notes))
    } else {
        Err(faults.into_failure(&spec.file, notes))
    }
}

fn entry(
    row: &Row<'_>,
    name: String,
    whereabouts: Option<Whereabouts>,
    z_m: Option<f64>,
    code: &str,
) -> Entry {
    Entry {
        name,
        whereabouts,
        z_m,
        code: code.to_owned(),
        class: PointClass::of_code(code),
        role: Role::Ground,
        at: row.row_at(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diag::Level;
    use crate::job::{Decimal, SurveyKind};
    use crate::units::LengthUnit;

    fn spec(units: LengthUnit, columns: Option<&str>) -> SurveySpec {
        SurveySpec {
            columns: columns.map(|text| text.split(',').map(str::to_owned).collect()),
            ..SurveySpec::new(SurveyKind::Points, "shots.csv", units)
        }
    }

    #[test]
    fn heads_and_units_of_other_instruments_are_understood() {
        let feet = spec(LengthUnit::Foot, None);
        for text in [
            "P,N,E,Z,D\n7,2,1,3,top\n",
            "Pt No,Northing (feet),Easting (feet),RL (ft),Desc\n7,2,1,3,top\n",
            "Point Number,y,x,z,code\n7,2 ft,1',3 ft,top\n",
            "Point Number,y,x,z,code\n7,2-0,12\",3' 0\",top\n",
        ] {
            let (shots, notes) = read_points(&feet, text.as_bytes()).expect(text);
            assert_eq!((&*shots[0].name, &*shots[0].code), ("7", "top"), "{text}");
            assert_eq!(shots[0].coordinates(), Some((304_800_000, 609_600_000)));
            assert!((shots[0].z_m.unwrap() - 3.0 * 0.3048).abs() < 1e-12);
            assert!(notes.is_empty(), "{text}: {notes:?}");
        }
        let faults = read_points(&feet, b"name,x (m),y (m),z (mm)\n1,1,1,1\n").unwrap_err();
        let helps: Vec<&str> = faults.0.iter().map(|fault| &*fault.help).collect();
        assert!(helps[0].contains("`--units m`"), "{helps:?}");
        assert!(helps[2].contains("write the lengths in ft"), "{helps:?}");
    }

    #[test]
    fn a_column_of_tapes_may_begin_with_from() {
        let text = "point,from A,Tape from B (ft),tape to C\n1,21.3,15' 6\",\n";
        let ties = SurveySpec::new(SurveyKind::Ties, "ties.csv", LengthUnit::Foot);
        let (entries, notes) = read_points(&ties, text.as_bytes()).unwrap();
        let Some(Whereabouts::Tapes { tapes, .. }) = &entries[0].whereabouts else {
            panic!("tapes");
        };
        let told: Vec<_> = tapes
            .iter()
            .map(|t| (&*t.corner, (t.length_m / 0.3048 * 1e6).round()))
            .collect();
        assert_eq!(told, [("A", 21.3e6), ("B", 15.5e6)]);
        assert!(notes.is_empty());
    }

    #[test]
    fn coordinates_keep_their_last_digit() {
        let text = "No;Northing;Easting;Elev;Remark;Desc;quality\n\
                    7;4600000.123456789;-0.5;12.5;by the gate;rim;good\n";
        let (shots, notes) = read_points(&spec(LengthUnit::Metre, None), text.as_bytes()).unwrap();
        let shot = &shots[0];
        assert_eq!((shot.name.as_str(), shot.code.as_str()), ("7", "rim"));
        assert_eq!(
            shot.coordinates(),
            Some((-500_000_000, 4_600_000_123_456_789))
        );
        assert_eq!(
            (shot.z_m.unwrap(), shot.class, shot.at.line),
            (12.5, PointClass::Hard, 2)
        );
        assert_eq!(
            (notes.len(), notes[0].level, notes[0].code),
            (1, Level::Note, "unread-column")
        );
        assert!(notes[0].message.contains("quality"));
    }

    #[test]
    fn feet_and_row_numbers() {
        // 3937 US survey feet are 1200 m by definition; a foot is 0.3048 m.
        let survey = read_points(
            &spec(LengthUnit::UsSurveyFoot, Some("x,y,z")),
            b"0 3937 3937\n3937 0 0",
        );
        let (shots, _) = survey.unwrap();
        assert_eq!(
            (shots[0].coordinates(), shots[1].name.as_str()),
            (Some((0, 1_200_000_000_000)), "2")
        );
        assert!((shots[0].z_m.unwrap() - 1200.0).abs() < 1e-9);
        let (shots, _) = read_points(&spec(LengthUnit::Foot, None), b"x,y,z\n10,0,100\n").unwrap();
        assert_eq!(
            (shots[0].coordinates(), shots[0].z_m),
            (Some((3_048_000_000, 0)), Some(30.48))
        );
    }

    #[test]
    fn decimals_behind_a_comma_are_read_where_they_are_declared() {
        let comma = SurveySpec {
            decimal: Decimal::Comma,
            ..spec(LengthUnit::Metre, None)
        };
        for text in [
            "name;x;y;z;code\n1,1;0,5;-1,25;100,04;toe\n2;3;4;5;\n",
            "name\tx\ty\tz\tcode\r\n1,1\t0,5\t-1,25\t100,04\ttoe\r\n2\t3\t4\t5\t\r\n",
            "name x y z code\n1,1 0,5 -1,25 100,04 toe\n2 3 4 5\n",
        ] {
            let (shots, _) = read_points(&comma, text.as_bytes()).expect(text);
            assert_eq!(shots.len(), 2);
            let one = &shots[0];
            assert_eq!(
                (one.name.as_str(), one.z_m),
                ("1,1", Some(100.04)),
                "{text}"
            );
            assert_eq!(one.coordinates(), Some((500_000_000, -1_250_000_000)));
        }
        let Failure(all) =
            read_points(&comma, b"name;x;y;z\na;1.5;2;3\nb;1,2,3;2;x,5\n").unwrap_err();
        let said: Vec<_> = all
            .iter()
            .map(|d| format!("{} {} {}", d.at[0].line, d.at[0].column, d.at[0].text))
            .collect();
        assert_eq!(said, ["2 x 1.5", "3 x 1,2,3"]);
        assert!(all[0].help.contains("1234,5"), "{}", all[0].help);
        let Failure(all) = read_points(&comma, b"name;x;y;z\nb;1,2;2;x,5\n").unwrap_err();
        assert_eq!(all[0].at[0].text, "x,5");
    }

    #[test]
    fn every_bad_cell_is_named() {
        let text = "name,x,y,z\na;,1,2,3\nb,\"12,4\",2,\nc,nan,1e300,deep\n,1,2,inf\n";
        let Err(Failure(all)) = read_points(&spec(LengthUnit::Metre, None), text.as_bytes()) else {
            panic!("bad cells were read");
        };
        let said: Vec<String> = all
            .iter()
            .map(|d| {
                format!(
                    "{} {} {} {}",
                    d.code, d.at[0].line, d.at[0].column, d.at[0].text
                )
            })
            .collect();
        assert_eq!(
            said,
            [
                "bad-number 3 x 12,4",
                "blank-cell 3 z ",
                "bad-number 4 x nan",
                "bad-number 4 y 1e300",
                "bad-number 4 z deep",
                "blank-cell 5 name ",
                "bad-number 5 z inf",
            ]
        );
        assert!(
            all[0]
                .help
                .starts_with("use a decimal point: 12.4; or say `decimal")
        );
    }

    #[test]
    fn a_file_without_the_columns_says_how_to_name_them() {
        let fail = |text: &str| {
            let Failure(all) =
                read_points(&spec(LengthUnit::Metre, None), text.as_bytes()).unwrap_err();
            all.last().map(ToString::to_string).unwrap_or_default()
        };
        for text in ["1,2,3,4\n", "name,east,height\n1,2,3\n"] {
            let said = fail(text);
            assert!(said.contains("--columns name,x,y,z,code"), "{said}");
            assert!(said.contains("columns = \"name,x,y,z,code\""), "{said}");
        }
        assert!(fail("name,east,height\n1,2,3\n").contains("no column for y"));
    }
}
