//! Field pages, points and grids as a user types them: levels, ground, contours.
#![allow(clippy::unwrap_used)]

use std::path::Path;

use approx::assert_relative_eq;
use tempfile::TempDir;

#[path = "common/program.rs"]
mod program;

use program::{cutbank, err, json, out};

/// A hill of 4 m over a square of 20 m, its foot at 10 m, in feet of a file without a job.
const HILL: &str = "name,x,y,z\n1,0,0,10\n2,20,0,10\n3,20,20,10\n4,0,20,10\n5,10,10,14\n";

#[test]
fn contours_speak_si_to_machines_and_the_unit_to_people() {
    let dir = TempDir::new().unwrap();
    std::fs::write(dir.path().join("hill.csv"), HILL).unwrap();
    let ask = |more: &[&str]| {
        let mut arguments = vec!["contours", "hill.csv", "--units", "ft"];
        arguments.extend(more);
        cutbank(dir.path(), &arguments)
    };
    // Half way up the square has half the side: 4 times 10 ft.
    let value = json(&ask(&["--interval", "2", "--format", "json"]));
    let lines = value["lines"].as_array().unwrap();
    assert_eq!(lines.len(), 1, "{value}");
    let line = &lines[0];
    assert_eq!(
        (&line["closed"], &line["round"]),
        (&true.into(), &"top".into())
    );
    let metres = |key: &str| line[key].as_f64().unwrap();
    assert_relative_eq!(metres("level_m"), 12.0 * 0.3048, max_relative = 1e-15);
    assert_relative_eq!(metres("length_m"), 40.0 * 0.3048, max_relative = 1e-9);
    let points = line["points"].as_array().unwrap();
    assert_eq!(points.len(), 4);
    for point in points {
        for key in ["x_m", "y_m"] {
            let feet = point[key].as_f64().unwrap() / 0.3048;
            assert!(
                (feet - 5.0).abs() < 1e-6 || (feet - 15.0).abs() < 1e-6,
                "{feet}"
            );
        }
    }
    let csv = out(&ask(&["--interval", "2", "--format", "csv"]));
    let rows: Vec<&str> = csv.lines().collect();
    assert_eq!(rows[0], "line,level_m,length_m,closed,x_m,y_m");
    assert_eq!(rows.len(), 5);
    // A fall of 4 ft is drawn every half foot: 7 levels between foot and tip.
    let text = out(&ask(&[]));
    assert!(text.contains("contours every 0.5 ft: 7 lines"), "{text}");
    assert!(
        text.contains("12.00       1        40.0  1 round a top"),
        "{text}"
    );
    let text = out(&ask(&["--levels", "13,11.5,-3"]));
    assert!(text.contains("at the levels asked for: 2 lines"), "{text}");
    assert!(text.contains("11.50       1        50.0"), "{text}");
}

#[test]
fn contours_closer_than_anybody_can_use_are_refused() {
    let dir = TempDir::new().unwrap();
    std::fs::write(dir.path().join("hill.csv"), HILL).unwrap();
    for interval in ["0.0001", "1e-300"] {
        let output = cutbank(
            dir.path(),
            &["contours", "hill.csv", "--interval", interval],
        );
        assert_eq!(output.status.code(), Some(2), "{interval}");
        let words = err(&output);
        assert!(
            words.contains("too many") || words.contains("this close"),
            "{words}"
        );
        assert!(words.contains("--interval 0.25 is usual"), "{words}");
    }
    let output = cutbank(dir.path(), &["contours", "hill.csv", "--interval", "0"]);
    assert_eq!(output.status.code(), Some(2));
}

#[test]
fn the_ground_is_told_in_words_first() {
    let dir = TempDir::new().unwrap();
    let ramp = "name,x,y,z\nA,0,0,10\nB,20,0,10\nC,20,20,12\nD,0,20,12\n";
    std::fs::write(dir.path().join("ramp.csv"), ramp).unwrap();
    let ground = |format: &str| {
        out(&cutbank(
            dir.path(),
            &["ground", "ramp.csv", "--format", format],
        ))
    };
    // However it is broken into lines.
    let text: Vec<String> = ground("text")
        .split_whitespace()
        .map(str::to_owned)
        .collect();
    let text = text.join(" ");
    for words in [
        "The ground falls 2.000 m from the north to the south: from 12.000 m at shot C (20.00 m E",
        "to 10.000 m at shot A (0.00 m E, 0.00 m N)",
        "at an azimuth of 180 degrees",
        "Steepest ground of any size: 5 to 10 %",
        "400 m2, 100 % of the ground",
    ] {
        assert!(text.contains(words), "{words}\n{text}");
    }
    let csv = ground("csv");
    let head = csv.lines().next().unwrap();
    assert!(head.contains("slope_band_C_area_m2"), "{head}");
    assert!(!csv.contains('{'), "{csv}");
}

#[test]
fn the_notebook_page_of_the_readme_is_read() {
    let readme =
        std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap();
    let from = readme.find("point,BS,IS,FS,tape A").unwrap();
    let page = readme[from..].split("```").next().unwrap();
    let dir = TempDir::new().unwrap();
    std::fs::write(dir.path().join("page.csv"), page).unwrap();
    let book = ["page.csv", "--benchmark", "BM1=100.00", "--rod", "tenths"];
    let with = |command: &str, more: &[&str]| {
        let arguments: Vec<&str> = [command].iter().chain(&book).chain(more).copied().collect();
        cutbank(dir.path(), &arguments)
    };
    let levels = with("levels", &[]);
    assert_eq!(levels.status.code(), Some(0), "{}", err(&levels));
    assert_eq!(err(&levels), "");
    let ground = with("ground", &[]);
    let text = out(&ground);
    for part in [
        "page.csv: 3 points",
        "corners            by tape: A, B, C",
        "placed by tape     3 shots",
        "read as            x, y in ft, heights in ft",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    assert!(err(&ground).starts_with("note: "), "{}", err(&ground));
    let value = json(&with("ground", &["--format", "json"]));
    assert_eq!(value["ties"].as_array().unwrap().len(), 3);
    // The corners given by hand give the same ground, turned.
    let corners = ["--corner", "A=0,0", "--corner", "B=0,28.4"];
    let turned = json(&with(
        "ground",
        &[&corners[..], &["--format", "json"]].concat(),
    ));
    assert_relative_eq!(
        turned["area_m2"].as_f64().unwrap(),
        value["area_m2"].as_f64().unwrap(),
        max_relative = 1e-6
    );
    for (more, word) in [
        (&["--corner", "A=0"][..], "a corner is NAME=X,Y"),
        (
            &["--corner", "A=0,0", "--corner", "A=1,0"],
            "is given twice",
        ),
        (&["--baseline", "A"], "from one corner to another"),
        (&["--spacing", "1,2,3"], "one or two lengths"),
        (&["--tapes", "ground"], "the level of A is not known"),
    ] {
        let output = with("ground", more);
        assert_eq!(output.status.code(), Some(2), "{more:?}");
        assert!(err(&output).contains(word), "{more:?}\n{}", err(&output));
    }
    std::fs::write(
        dir.path().join("grid.csv"),
        "row,0,10,20\nA,3.0,3.1,3.2\nB,4,4.5,\n",
    )
    .unwrap();
    let output = cutbank(
        dir.path(),
        &["ground", "grid.csv", "--rod", "direct", "--units", "ft"],
    );
    assert!(err(&output).contains("--spacing"), "{}", err(&output));
    std::fs::write(
        dir.path().join("grid.csv"),
        "row,0,10,20\n0,3.0,3.1,3.2\n8,4,4.5,\n",
    )
    .unwrap();
    let grid = cutbank(
        dir.path(),
        &[
            "ground",
            "grid.csv",
            "--rod",
            "tenths",
            "--benchmark",
            "BM=100",
            "--backsight",
            "3.42",
        ],
    );
    assert!(
        out(&grid).contains("heights            98.92 to 100.42 ft"),
        "{}{}",
        out(&grid),
        err(&grid)
    );
}

/// Corners known by distances typed on the command line, in feet and inches; a side for all.
#[test]
fn distances_between_corners_may_be_typed() {
    let dir = TempDir::new().unwrap();
    let table = "name,z,tape A,tape B\n1,98.2,21.3,15.4\n2,97.2,18.3,17.4\n3,97.0,25,12\n";
    std::fs::write(dir.path().join("ties.csv"), table).unwrap();
    let ground = |more: &[&str]| {
        let plain = ["ground", "ties.csv", "--units", "ft", "--format", "json"];
        cutbank(dir.path(), &[&plain[..], more].concat())
    };
    let typed = ["--distance", "A-B=28' 6\"", "--side", "left"];
    let value = json(&ground(&typed));
    assert_eq!(value["points"], 3);
    let given = [
        "--corner", "A=0,0", "--corner", "B=28-6,0", "--side", "left",
    ];
    assert_eq!(json(&ground(&given))["area_m2"], value["area_m2"]);
    let rough = json(&ground(&[&typed[..], &["--tape-error", "0.2"]].concat()));
    assert_ne!(rough, value);
    for (text, part) in [
        (
            "A-B=28 4",
            "write 28-4 for 28 ft 4 in, or 28.4 for decimal feet",
        ),
        ("A28.4", "write for example --distance A-B=28.40"),
    ] {
        let refused = ground(&["--distance", text]);
        assert_eq!(refused.status.code(), Some(2));
        assert!(err(&refused).contains(part), "{}", err(&refused));
    }
}

/// A book whose rod and unit are not named is read in metres, and says so.
#[test]
fn what_is_taken_for_granted_is_said() {
    let dir = TempDir::new().unwrap();
    let book = "point,Backsight,Intermediate,Foresight\nBM,1.4,,\n1,,1.5,\nBM,,,1.4\n";
    std::fs::write(dir.path().join("book.csv"), book).unwrap();
    let levels = |more: &[&str]| {
        let plain = ["levels", "book.csv", "--benchmark", "BM=100"];
        err(&cutbank(dir.path(), &[&plain[..], more].concat()))
    };
    assert!(levels(&[]).contains("neither --rod nor --units is given"));
    assert_eq!(levels(&["--rod", "metric"]), "");
    // A head in full words is that of a book for every command.
    let ground = cutbank(dir.path(), &["ground", "book.csv", "--benchmark", "BM=100"]);
    assert!(
        err(&ground).contains("no shot has a place"),
        "{}",
        err(&ground)
    );
}

/// Seven shots, three of them on a line: none has neighbours all round.
#[test]
fn a_slipped_decimal_point_is_named_in_a_small_yard() {
    let dir = TempDir::new().unwrap();
    let shots = "name,x,y,z,code\n1,0,0,100.2,\n2,30,0,100.9,\n3,30,20,99.1,\n4,0,20,98.7,\n\
                 t1,5,10,99.5,top\nt2,15,10,99.6,top\nt3,25,10,996.0,top\n";
    let file = dir.path().join("shots.csv");
    std::fs::write(&file, shots).unwrap();
    let ask = [
        "ground",
        "shots.csv",
        "--units",
        "ft",
        "--breaklines",
        "code:top",
    ];
    let said = err(&cutbank(dir.path(), &ask));
    for words in [
        "shots.csv line 8",
        "shot t3 lies 896",
        "give or take",
        "[[strike]]",
    ] {
        assert!(said.contains(words), "{words}\n{said}");
    }
    std::fs::write(&file, shots.replace("996.0", "99.60")).unwrap();
    assert_eq!(err(&cutbank(dir.path(), &ask)), "");
}

/// Bad input of every kind ends in words that name the file, and in exit code 2.
#[test]
fn what_is_no_field_page_is_said() {
    let dir = TempDir::new().unwrap();
    let write = |name: &str, bytes: &[u8]| std::fs::write(dir.path().join(name), bytes).unwrap();
    write("empty.csv", b"");
    write("latin.csv", b"point,BS,IS,FS\nBM1,4.2,,\nt\xfcr,,3,\n");
    write("wide.csv", b"\xff\xfep\0o\0");
    write("zeros.csv", &vec![0u8; 1 << 20]);
    write(
        "bad.csv",
        b"name,x,y,z\r\n1,0,0,0\n2,5,0,1\r3,0,5,1e300\nname,x,y,z\n4,nan,inf,2\n5,1\n",
    );
    std::fs::create_dir(dir.path().join("folder.csv")).unwrap();
    for command in ["levels", "ground"] {
        for (file, words) in [
            ("empty.csv", vec!["empty.csv", "holds no rows"]),
            ("latin.csv", vec!["latin.csv line 3", "0xfc is not UTF-8"]),
            ("wide.csv", vec!["wide.csv", "UTF-16"]),
            ("zeros.csv", vec!["zeros.csv line 1", "NUL byte"]),
            ("folder.csv", vec!["folder.csv", "folder"]),
            ("none.csv", vec!["none.csv", "there is no file"]),
        ] {
            let answer = cutbank(dir.path(), &[command, file]);
            assert_eq!(answer.status.code(), Some(2), "{command} {file}");
            let said = err(&answer);
            for word in words.iter().chain(&["help: "]) {
                assert!(said.contains(word), "{command} {file}: {word}\n{said}");
            }
            assert_eq!(out(&answer), "");
        }
    }
    let said = err(&cutbank(dir.path(), &["ground", "bad.csv"]));
    for words in [
        "bad.csv line 4, \"z\": \"1e300\"",
        "bad.csv line 5: the line of column heads comes a second time",
        "bad.csv line 6, \"x\": \"nan\"",
        "bad.csv line 6, \"y\": \"inf\"",
        "bad.csv line 7: \"5 | 1\": the row has 2 cells where 4 are expected",
    ] {
        assert!(said.contains(words), "{words}\n{said}");
    }
}
