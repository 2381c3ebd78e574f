//! Level books: layouts, rods, checks, and what is said of mistakes. The cases of the table of
//! check values are in `tests/checks/levels.rs`.

#[path = "common/book.rs"]
mod book;
mod common;

use book::{FT, allow, feet, metres, near, planes, reduce, refuse, spec, values};
use common::Folder;
use cutbank::diag::Failure;
use cutbank::job::{Adjust, RodKind, SurveyKind, SurveySpec};
use cutbank::survey::{
    BookStatus, Entry, LevelBook, PageCheck, PointClass, Role, Slip, Survey, read_levels,
    suspect_groups,
};

/// An allowance by length asks for sight distances, and says which set-up has none.
#[test]
fn an_allowance_by_length_needs_distances() {
    let spec = SurveySpec {
        allow: allow("12 mm per root km"),
        ..metres("A", 50.0)
    };
    let text = "point,type,rod,distance\nA,BS,1.0,20\nT,FS,1.0,20\nT,BS,1.0,\nA,FS,1.0,\n";
    let said = refuse(&spec, text);
    assert_eq!((said[0].code, said[0].at[0].line), ("no-distance", 4));
    assert!(said[0].message.contains("set-up 2"), "{}", said[0]);
}

/// A made-up yard of one set-up: HI 105.37 ft, elevation = HI - rod, so every level is a
/// two-decimal difference.
const YARD: &str = include_str!("../fixtures/level_book_yard/levels.csv");

/// Reduced levels of the yard, shots 1 to 48, feet.
const YARD_LEVELS: [f64; 48] = [
    101.21, 101.03, 100.93, 100.49, 99.71, 99.11, 98.2, 97.67, 101.39, 101.16, 100.84, 100.46,
    99.94, 99.33, 98.38, 97.86, 101.71, 101.18, 100.71, 100.22, 99.92, 99.38, 98.85, 98.35, 101.94,
    101.14, 100.65, 99.99, 99.74, 99.49, 99.34, 98.91, 101.9, 101.36, 100.43, 100.0, 99.78, 99.66,
    99.55, 99.36, 102.31, 101.35, 100.86, 100.28, 100.1, 99.92, 99.65, 99.41,
];

#[test]
fn the_yard_becomes_shots() {
    let spec = feet("BM1", 100.0);
    let files = Folder::default().with("levels.csv", YARD);
    let (survey, said) = Survey::read(&[spec], &files).unwrap();
    assert_eq!((survey.shots.len(), said.len()), (48, 0));
    for (i, (shot, want)) in survey.shots.iter().zip(YARD_LEVELS).enumerate() {
        assert_eq!(shot.name, (i + 1).to_string());
        near(shot.z_m, FT, want);
    }
    // The lower left is (-1.7, -1.9) ft, that is (-0.518, -0.579) m.
    assert_eq!((survey.origin.x_m, survey.origin.y_m), (-1, -1));
    // Shot 1 stands at (-1.5, 0.0) ft, on line 4 below remark, head and benchmark.
    let first = &survey.shots[survey.by_name["1"]];
    assert_eq!(
        (first.p.x, first.p.y),
        (-457_200_000 + 1_000_000_000, 1_000_000_000)
    );
    assert_eq!((first.at.line, first.class), (4, PointClass::Soil));
    let book = &survey.books[0];
    planes(book, FT, &[105.37]);
    near(book.misclosure_m.unwrap(), FT, -0.01);
    near(book.allowed_m.unwrap(), FT, 0.02);
    assert_eq!(book.status, BookStatus::Closed);
    assert_eq!(survey.benchmark.unwrap().name, "BM1");
}

#[test]
fn a_book_is_written_in_metres() {
    let (book, _) = reduce(&feet("BM1", 100.0), YARD);
    let json = serde_json::to_value(&book).unwrap();
    assert_eq!(json["status"], "closed");
    assert_eq!(json["setups"][0]["plane_m"], 105.37 * 0.3048);
    assert_eq!(json["points"][1]["name"], "1");
    assert_eq!(json["points"][1]["kind"], "IS");
    assert_eq!(json["points"][1]["rod"], "4.16");
    assert_eq!(json["points"][1]["x_m"], -0.4572);
    assert!((json["points"][1]["elevation_m"].as_f64().unwrap() - 30.848_808).abs() < 1e-12);
    assert_eq!(
        json["points"][1]["adjusted_m"],
        json["points"][1]["elevation_m"]
    );
    assert!((json["misclosure_m"].as_f64().unwrap() + 0.003_048).abs() < 1e-12);
    assert!((json["allowed_m"].as_f64().unwrap() - 0.006_096).abs() < 1e-12);
}

/// What becomes ground: turning points once, no control point, no point without coordinates.
#[test]
fn shots_of_a_book() {
    let text = "setup,point,x,y,type,rod,code\n1,BM1,0,0,BS,5.00,bm\n1,A,1,1,IS,4.00,rim\n\
                1,B,,,IS,4.00,\n1,TP,,,FS,6.00,\n2,TP,9,9,BS,3.00,toe\n2,A,1,1,FS,1.00,\n\
                2,C,2,0,IS,2.00,\n2,BM1,0,0,FS,2.01,\n";
    let (book, said) = reduce(&feet("BM1", 100.0), text);
    let entries = book.entries();
    let is_shot = |e: &&Entry| e.role != Role::Control && e.coordinates().is_some();
    let shots: Vec<&Entry> = entries.iter().filter(is_shot).collect();
    let names: Vec<&str> = shots.iter().map(|shot| shot.name.as_str()).collect();
    assert_eq!(names, ["A", "TP", "C"]);
    assert_eq!(
        (shots[0].class, shots[1].coordinates()),
        (PointClass::Hard, Some((9 * 304_800_000, 9 * 304_800_000)))
    );
    // B has a height and waits for a place.
    let b = entries.iter().find(|e| e.name == "B").unwrap();
    assert_eq!((b.coordinates(), b.role), (None, Role::Ground));
    assert_eq!(book.setups[1].name, "2");
    // C stands after a foresight of the same set-up.
    assert_eq!(
        said.iter().map(|d| d.code).collect::<Vec<_>>(),
        ["shot-after-foresight"]
    );
}

/// Where set-ups begin, with and without a column that names them.
#[test]
fn setups_begin_where_the_book_says() {
    let spec = feet("BM1", 100.0);
    let named = |text: &str| {
        let (book, _) = reduce(&spec, text);
        book.sights
            .iter()
            .map(|s| format!("{}{}", s.name, s.setup))
            .collect::<Vec<_>>()
            .join(" ")
    };
    let plain = "point,type,rod\nBM1,BS,5\nA,IS,4\nT,FS,6\nT,BS,5\nBM1,FS,4\n";
    assert_eq!(named(plain), "BM11 A1 T1 T2 BM12");
    let column = "setup,point,type,rod\na,BM1,BS,5\na,A,IS,4\nb,A,BS,6\nb,BM1,FS,7\n";
    assert_eq!(named(column), "BM1a Aa Ab BM1b");
    // The row of a turning point may carry the name of either set-up.
    for row in ["a,T,5,,6", "b,T,5,,6", ",T,5,,6"] {
        let text = format!("setup,point,bs,is,fs\na,BM1,5,,\na,A,,4,\n{row}\nb,C,,3,\nb,BM1,,,4\n");
        assert_eq!(named(&text), "BM1a Aa Ta Tb Cb BM1b", "{row}");
    }
}

#[test]
fn two_benchmarks_in_one_setup() {
    let text = "point,type,rod,known\nBM1,BS,5.00,\nBM2,BS,4.00,101.03\nA,IS,3.00,\n";
    let (book, said) = reduce(&feet("BM1", 100.0), text);
    planes(&book, FT, &[105.0]);
    assert_eq!(
        (book.status, said[0].code),
        (BookStatus::Refused, "benchmarks-differ")
    );
    assert!(
        said[0].message.contains(
            "from set-up 1, BM2 comes out 0.03 ft lower against BM1 than their given levels say"
        ),
        "{}",
        said[0].message
    );
    let (book, said) = reduce(&feet("BM1", 100.0), &text.replace("101.03", "101.02"));
    assert_eq!((book.status, said.len()), (BookStatus::Closed, 0));
    // The first of two backsights may be on an unknown point: it is then a shot.
    let (book, _) = reduce(
        &feet("BM1", 100.0),
        "point,type,rod\nN,BS,4.00\nBM1,BS,5.00\n",
    );
    values_of_first(&book, "N", 101.0);
}

/// A rod for each set-up, in one height unit; 0.957 m is 3.1398 ft.
#[test]
fn rods_change_with_the_setup() {
    let text = "setup,rod kind,point,type,rod\n1,,BM1,BS,5.42\n1,,TP1,FS,8.26\n\
                2,metric,TP1,BS,0.957\n2,,TP2,FS,143.6 cm\n\
                3,inch-eighths,TP2,BS,6-10-1/2\n3,inch-eighths,BM1,FS,2' 5\u{215c}\u{201d}\n";
    let (book, _) = reduce(&feet("BM1", 100.0), text);
    let metre = |m: f64| m / 0.3048;
    let second = 97.16 + metre(0.957);
    let third = second - metre(1.436) + 6.875;
    planes(&book, FT, &[105.42, second, third]);
    near(
        book.misclosure_m.unwrap(),
        FT,
        third - 2.0 - 5.375 / 12.0 - 100.0,
    );
    let rods: Vec<&str> = book.setups.iter().map(|s| s.rod.as_str()).collect();
    assert_eq!(rods, ["tenths", "metric", "inch-eighths"]);
    assert_eq!(book.sights[3].rod, "143.6 cm");
    assert!(book.words.contains(" ft "), "{}", book.words);
    // The row of a turning point names the rod of the set-up that begins there.
    let field = "staff,point,bs,fs\n,BM1,5.42,\nmm,TP1,957,8.26\n,BM1,,79\n";
    let (book, _) = reduce(&feet("BM1", 100.0), field);
    planes(&book, FT, &[105.42, second]);

    let changed = text.replace("2,,TP2", "2,tenths,TP2");
    let said = refuse(&feet("BM1", 100.0), &changed);
    let lines: Vec<usize> = said[0].at.iter().map(|at| at.line).collect();
    assert_eq!((said[0].code, lines), ("rod-changes", vec![4, 5]));
    let unknown = text.replace("metric", "yardstick");
    assert_eq!(
        refuse(&feet("BM1", 100.0), &unknown)[0].code,
        "bad-rod-kind"
    );
}

/// A set-up whose rod stood upside down is one whose readings all carry a minus sign.
#[test]
fn a_rod_declared_upside_down() {
    let signed = "setup,point,type,rod\n1,BM1,BS,5.00\n1,C,FS,-3.00\n2,C,BS,-4.00\n2,D,IS,-1.50\n";
    let (want, _) = reduce(&feet("BM1", 100.0), signed);
    near(want.sights[1].elevation_m, FT, 108.0);
    let declared = "setup,rod kind,point,type,rod\n1,,BM1,BS,5.00\n1,,C,FS,-3.00\n\
                    2,tenths upside-down,C,BS,4.00\n2,,D,IS,1.50\n";
    let (book, _) = reduce(&feet("BM1", 100.0), declared);
    for (got, want) in book.sights.iter().zip(&want.sights) {
        near(got.elevation_m, FT, FT.from_m(want.elevation_m));
    }
    let twice = declared.replace("IS,1.50", "IS,-1.50");
    let said = refuse(&feet("BM1", 100.0), &twice);
    assert!(said[0].help.contains("take the sign out"), "{}", said[0]);
}

/// Why the sums of a page say nothing, where the book is not one plain chain.
#[test]
fn a_page_check_that_does_not_apply_says_why() {
    let because = |text: &str| match reduce(&feet("BM1", 100.0), text).0.page {
        PageCheck::DoesNotApply { because } => because,
        agrees => panic!("{agrees:?}"),
    };
    let head = "setup,point,type,rod\n";
    for (rows, want) in [
        ("1,BM1,BS,5\n1,A,IS,4\n", "set-up 1 has no foresight"),
        (
            "1,BM1,BS,5\n1,A,BS,4\n1,BM1,FS,5\n",
            "set-up 1 has 2 backsights",
        ),
        (
            "1,BM1,BS,5\n1,A,FS,4\n1,B,FS,4\n",
            "set-up 1 has 2 foresights",
        ),
        (
            "1,BM1,BS,5\n1,A,FS,4\n2,BM1,BS,5\n2,A,FS,4\n",
            "set-up 2 does not begin on the foresight",
        ),
        (
            "1,BM1,BS,5\n1,A,FS,4\n1,B,IS,4\n",
            "does not run from its BS to its FS",
        ),
    ] {
        let got = because(&format!("{head}{rows}"));
        assert!(got.contains(want), "{got}");
    }
}

/// A stake read from two set-ups tells on which side of it a misread foot lies.
#[test]
fn points_read_twice_narrow_the_search() {
    // The loop of LVL-05 with the backsight of the second set-up a foot too long.
    let text = "setup,point,type,rod,code\n1,BM1,BS,5.42,\n1,S,IS,4.87,rim\n1,TP1,FS,8.26,\n\
                2,TP1,BS,4.14,\n2,S,IS,-0.25,rim\n2,TP2,FS,4.71,\n3,TP2,BS,6.88,\n3,BM1,FS,2.44,\n";
    let (book, said) = reduce(&feet("BM1", 100.0), text);
    assert_eq!(book.status, BookStatus::Refused);
    assert_eq!((book.rereads.len(), book.rereads[0].lines), (1, [3, 6]));
    near(book.rereads[0].difference_m, FT, 1.0);
    let first = &suspect_groups(&book)[0];
    let lines: Vec<usize> = first.suspects.iter().map(|s| s.line).collect();
    // Both the stake and the closing are right again only if it is one of these.
    assert_eq!((first.slip, lines), (Slip::Foot, vec![4, 5]));
    let suspect = first.suspects[1];
    assert_eq!(
        (suspect.booked.as_str(), suspect.would_be.as_str()),
        ("4.14", "3.14")
    );
    near(suspect.misclosure_after_m, FT, 0.03);
    let differ = said.iter().find(|d| d.code == "points-differ").unwrap();
    assert!(
        differ
            .message
            .contains("S, read from set-ups 1 and 2, comes out 1.00 ft higher"),
        "{}",
        differ.message
    );
    // One name for two places is two points; so is a label that shots of one set-up share.
    let places = text
        .replace("setup,point,type", "setup,x,y,point,type")
        .replace("1,S,", "1,5,5,S,")
        .replace("2,S,", "2,9,5,S,");
    let places: String = places
        .lines()
        .map(|line| {
            let bare = line.starts_with("setup") || line.contains(",S,");
            let line = if bare {
                line.to_owned()
            } else {
                line.replacen(',', ",,,", 1)
            };
            line + "\n"
        })
        .collect();
    assert_eq!(reduce(&feet("BM1", 100.0), &places).0.rereads, []);
}

/// Two mistakes in one run: the worst check is explained, and it is said that it is not all.
#[test]
fn of_two_mistakes_the_worse_is_explained() {
    // BM2 booked 5.36 for 5.63 and the last foresight 0.06 ft off, which no slip explains.
    let text = "setup,point,type,rod,known\n1,BM1,BS,5.42,\n1,TP1,FS,8.26,\n2,TP1,BS,3.14,\n\
                2,BM2,IS,5.36,94.67\n2,BM1,FS,0.36,\n";
    let (book, said) = reduce(&feet("BM1", 100.0), text);
    let first = &suspect_groups(&book)[0];
    assert_eq!(
        (first.slip, first.suspects[0].line),
        (Slip::DigitsSwapped, 5)
    );
    assert!(first.suspects[0].in_part && first.suspects[0].would_be == "5.63");
    assert!(
        said.iter()
            .any(|d| d.help.contains("no single mistake explains every check")),
        "{said:?}"
    );
}

/// A given level is doubted only where another check holds, or two readings of it agree.
#[test]
fn a_wrong_given_level_is_named() {
    let text = "setup,point,type,rod,known\n1,BM1,BS,5.00,\n1,BM2,IS,3.63,101.00\n1,TP,FS,6.00,\n\
                2,TP,BS,4.00,\n2,BM2,IS,1.63,\n2,BM1,FS,3.00,\n";
    let (book, said) = reduce(&feet("BM1", 100.0), text);
    let first = &suspect_groups(&book)[0];
    assert_eq!((first.slip, first.suspects.len()), (Slip::GivenLevel, 1));
    assert_eq!(first.suspects[0].would_be, "101.37");
    let refused = said.iter().find(|d| d.code == "book-refused").unwrap();
    assert!(
        refused.help.contains("BM2 would be at 101.37"),
        "{}",
        refused.help
    );
}

/// A benchmark read again from the same set-up: the laser moved after the last reading that held.
#[test]
fn a_moved_laser_is_placed_between_two_sights() {
    let text = "point,type,rod\nBM1,BS,5.00\nA,IS,4.13\nBM1,IS,5.01\nB,IS,6.27\nC,IS,6.93\n\
                BM1,FS,5.37\n";
    let (book, said) = reduce(&feet("BM1", 100.0), text);
    let moved = book.suspects.iter().find(|s| s.slip == Slip::LaserMoved);
    let moved = moved.expect("a laser that moved");
    assert_eq!((moved.other_line, moved.line), (Some(4), 7));
    assert!(
        said.iter()
            .any(|d| d.help.contains("between line 4 and line 7")),
        "{said:?}"
    );
}

/// A shot whose point has slipped stands out twice: by its digits and by its size.
#[test]
fn a_slipped_decimal_point_of_a_shot_is_spoken_of() {
    let text = "point,type,rod\nBM1,BS,4.63\nA,IS,4.87\nB,IS,5.90\nC,IS,.525\nD,IS,6.10\n\
                E,IS,5.55\nBM1,FS,4.63\n";
    let (_, said) = reduce(&feet("BM1", 100.0), text);
    let [said] = &said[..] else {
        panic!("{said:?}");
    };
    assert_eq!((said.code, said.at[0].line), ("decimal-slip", 5));
    assert!(
        said.message.contains("5.25 would be among them"),
        "{}",
        said.message
    );
    // Beyond the others, but booked like them: no slip that the book shows.
    for reading in ["0.53", "11.40", "5.253"] {
        let (_, said) = reduce(&feet("BM1", 100.0), &text.replace(".525", reading));
        assert_eq!(said.len(), 0, "{reading}: {said:?}");
    }
}

fn values_of_first(book: &LevelBook, name: &str, want_ft: f64) {
    let sight = book.sights.iter().find(|s| s.name == name);
    near(sight.map_or(f64::NAN, |s| s.elevation_m), FT, want_ft);
}

/// A second run from the benchmark stands for itself: neither its check nor its correction
/// mixes with the first.
#[test]
fn runs_are_adjusted_apart() {
    let text =
        "point,bs,is,fs\nBM1,5.00,,\nA,,4.00,\nBM1,,,5.02\nBM1,6.00,,\nB,,4.00,\nBM1,,,5.99\n";
    let spec = SurveySpec {
        adjust: Adjust::Setups,
        ..feet("BM1", 100.0)
    };
    let (book, _) = reduce(&spec, text);
    values(&book, FT, |s| s.adjusted_m, &[("A", 101.02), ("B", 101.99)]);
    assert_eq!((book.status, book.checks.len()), (BookStatus::Adjusted, 2));
    let open: String = text
        .lines()
        .take(6)
        .map(|line| format!("{line}\n"))
        .collect();
    let (book, said) = reduce(&spec, &open);
    assert_eq!(book.status, BookStatus::Open);
    assert!(
        said[0].message.contains("from set-up 2 on"),
        "{}",
        said[0].message
    );
}

#[test]
fn a_direct_rod_shows_elevations() {
    let spec = SurveySpec {
        rod: RodKind::Direct.into(),
        ..feet("BM1", 100.0)
    };
    let (book, said) = reduce(
        &spec,
        "point,type,rod\nBM1,BS,100.10\nA,IS,98.50\nBM1,FS,100.11\n",
    );
    values_of_first(&book, "A", 98.40);
    near(book.misclosure_m.unwrap(), FT, 0.01);
    assert_eq!(said[0].code, "direct-shift");
    assert!(
        said[0].message.contains("down by 0.10 ft"),
        "{}",
        said[0].message
    );
}

#[test]
fn what_a_book_lacks_is_said() {
    let bare = spec(FT, None);
    let text = "point,type,rod\nBM1,BS,5.00\nA,IS,4.00\n";
    let said = refuse(&bare, text);
    assert!(
        said[0]
            .help
            .contains("benchmark = { name = \"BM1\", level = 100.00 }")
    );
    assert!(said[0].help.contains("--benchmark BM1=100.00"));
    let said = refuse(&feet("BM2", 100.0), text);
    assert!(said[0].help.contains("BM1"), "{}", said[0]);
    let lost = "point,type,rod\nBM1,BS,5.00\nTP1,FS,4.00\nTP11,BS,3.00\n";
    let said = refuse(&feet("BM1", 100.0), lost);
    assert_eq!((said[0].code, said[0].at[0].line), ("unknown-backsight", 4));
    assert!(said[0].help.contains("TP1 meant"), "{}", said[0].help);
    let said = refuse(
        &feet("BM1", 100.0),
        "point,type,rod\nA,IS,5.00\nBM1,BS,4.00\n",
    );
    assert_eq!((said[0].code, said[0].at[0].line), ("no-backsight", 2));
    // Metres and a rod in feet: one of the two is a slip.
    let mixed = SurveySpec {
        rod: RodKind::Tenths.into(),
        ..metres("BM1", 100.0)
    };
    assert_eq!(refuse(&mixed, text)[0].code, "rod-unit");
    let both = "point,type,rod,bs\nBM1,BS,5.00,5.00\n";
    assert_eq!(refuse(&feet("BM1", 100.0), both)[0].code, "two-layouts");
    let long = format!("point,type,rod\nBM1,BS,5.00\n{},IS,4.00\n", "A".repeat(201));
    assert_eq!(refuse(&feet("BM1", 100.0), &long)[0].code, "long-name");
    for level in [f64::NAN, f64::INFINITY, 1e300] {
        assert_eq!(refuse(&feet("BM1", level), text)[0].code, "bad-number");
    }
}

#[test]
fn every_bad_cell_of_a_book_is_named() {
    let text = "point,x,y,type,rod,distance,known\nBM1,0,0,BS,5-7-3/8,,\nA,1,,IS,31,-4,\n\
                ,1,1,IS,4,,\nB,1,1,TP,4,,\nBM1,,,FS,,,101\n";
    let said: Vec<String> = refuse(&feet("BM1", 100.0), text)
        .iter()
        .map(|d| format!("{} {} {}", d.code, d.at[0].line, d.at[0].column))
        .collect();
    assert_eq!(
        said,
        [
            "bad-rod 2 rod",
            "blank-cell 3 y",
            "bad-number 3 distance",
            "bad-rod 3 rod",
            "blank-cell 4 point",
            "bad-sight 5 type",
            "two-levels 6 known",
            "bad-rod 6 rod",
        ]
    );
}

/// Damage of every kind is said with line, column head, cell and what to do.
#[test]
fn bad_books_are_said_in_full() {
    let said = |text: &[u8]| match read_levels(&feet("BM1", 100.0), text) {
        Ok((book, _)) => panic!("read without an error: {book:?}"),
        Err(Failure(all)) => all,
    };
    for (text, code, place) in [
        (&b""[..], "empty-file", "levels.csv"),
        (b"point,type,rod\n", "no-rows", "levels.csv"),
        (
            b"BM1,BS,5.00\n",
            "no-head",
            "levels.csv line 1: \"BM1 | BS | 5.00\"",
        ),
        (b"\0\x01", "nul-byte", "levels.csv line 1"),
        (
            b"point,type,rod\nBM1,BS,5\nA\xff,IS,4\n",
            "not-utf8",
            "levels.csv line 3",
        ),
        (
            b"point,type,rod\nBM1,BS,5\nA,IS\n",
            "ragged-row",
            "levels.csv line 3: \"A | IS\"",
        ),
        (
            b"point,type,rod\nBM1,BS,5\npoint,type,rod\n",
            "repeated-head",
            "levels.csv line 3",
        ),
        (
            b"point,type,rod,reading\nBM1,BS,5,5\n",
            "column-twice",
            "levels.csv line 1, \"reading\"",
        ),
        (
            b"point,type,rod\nBM1,BS,nan\n",
            "bad-rod",
            "levels.csv line 2, \"rod\": \"nan\"",
        ),
        (
            b"point,type,rod\nBM1,BS,-inf\n",
            "bad-rod",
            "levels.csv line 2, \"rod\": \"-inf\"",
        ),
        (
            b"point,type,rod\nBM1,BS,1e300\n",
            "bad-rod",
            "levels.csv line 2, \"rod\": \"1e300\"",
        ),
        (
            b"point,type,rod\nBM1,BS,\n",
            "bad-rod",
            "levels.csv line 2, \"rod\"",
        ),
        (
            b"point,type,rod,known\nBM1,BS,5,inf\n",
            "bad-number",
            "levels.csv line 2, \"known\": \"inf\"",
        ),
        (
            b"point,type,rod,distance\nBM1,BS,5,1e300\n",
            "bad-number",
            "levels.csv line 2, \"distance\": \"1e300\"",
        ),
        (
            b"point,type,rod,staff\nBM1,BS,5,feet\n",
            "bad-rod-kind",
            "levels.csv line 2, \"staff\": \"feet\"",
        ),
    ] {
        let all = said(text);
        assert_eq!(all[0].code, code, "{}", all[0]);
        assert_eq!(all[0].at[0].to_string(), place, "{}", all[0]);
        assert!(!all[0].help.is_empty(), "{}", all[0]);
    }
    // Three kinds of line ends in one file are one book; lines count through.
    let mixed = "point,type,rod\r\nBM1,BS,5.00\nA,IS,4.00\rBM1,FS,5.01\r\n";
    let (book, _) = reduce(&feet("BM1", 100.0), mixed);
    let lines: Vec<usize> = book.sights.iter().map(|s| s.line).collect();
    assert_eq!((book.status, lines), (BookStatus::Closed, vec![2, 3, 4]));
}

#[test]
fn files_of_a_job_are_read_together() {
    let levels = feet("BM1", 100.0);
    let points = |file: &str| SurveySpec {
        kind: SurveyKind::Points,
        file: file.into(),
        ..spec(FT, None)
    };
    let good = "name,x,y,z,code\n1,90,90,95.5,fence\n60,80,90,96,fence\n";
    let files = Folder::default()
        .with("levels.csv", YARD)
        .with("good.csv", good)
        .with("bad.csv", "name,x,y,z\n1,2,3,?\n");
    let (survey, said) = Survey::read(&[levels.clone(), points("good.csv")], &files).unwrap();
    assert_eq!(survey.shots.len(), 50);
    assert_eq!((said.len(), said[0].code), (1, "name-twice"));
    let lines: Vec<(&str, usize)> = said[0]
        .at
        .iter()
        .map(|a| (a.file.as_str(), a.line))
        .collect();
    assert_eq!(lines, [("levels.csv", 4), ("good.csv", 2)]);
    assert_eq!(survey.by_name["1"], 0);
    let codes = |specs: &[SurveySpec]| match Survey::read(specs, &files) {
        Ok(_) => panic!("read without an error"),
        Err(Failure(all)) => all.iter().map(|d| d.code).collect::<Vec<_>>(),
    };
    assert_eq!(codes(&[]), ["no-survey"]);
    assert_eq!(codes(&[points("good.csv")]), ["few-shots"]);
    let twice = [points("bad.csv"), points("none.csv"), points("bad.csv")];
    assert_eq!(
        codes(&twice),
        ["bad-number", "unreadable-file", "file-twice"]
    );
    let moved = SurveySpec {
        file: "again.csv".into(),
        ..feet("BM1", 101.0)
    };
    let files = Folder::default()
        .with("levels.csv", YARD)
        .with("again.csv", YARD);
    let Err(Failure(all)) = Survey::read(&[levels, moved], &files) else {
        panic!("two levels of one benchmark were read");
    };
    assert_eq!(all[0].code, "two-levels");
}
