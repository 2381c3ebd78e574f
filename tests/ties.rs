//! Places by tape from pages as builders type them: what is read, refused and said.

#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod common;

use common::{Folder, run_job};
use cutbank::diag::{Diagnostic, Failure, Level};
use cutbank::job::read;
use cutbank::run::check_job;
use cutbank::survey::Survey;
use cutbank::survey::tie::{Plan, Way};

fn apart(a: Plan, b: Plan) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

fn number(value: &serde_json::Value) -> f64 {
    value.as_f64().unwrap()
}

/// A survey of a job in feet whose other sections say nothing.
fn job(control: &str, files: &[(&str, &str)]) -> Result<(Survey, Vec<Diagnostic>), Failure> {
    let text = format!("[job]\nname = \"Yard\"\nunits = \"ft\"\n{control}");
    let (job, notes) = read("job.toml", &text)?;
    let files = files
        .iter()
        .fold(Folder::default(), |folder, (name, text)| {
            folder.with(name, text)
        });
    let (survey, mut said) = Survey::of(&job, &files)?;
    said.extend(notes);
    Ok((survey, said))
}

fn refused(control: &str, files: &[(&str, &str)]) -> String {
    match job(control, files) {
        Ok((survey, _)) => panic!("read without an error: {:?}", survey.shots),
        Err(failure) => failure.to_string(),
    }
}

/// Absolute place of a shot, feet.
fn at_ft(survey: &Survey, name: &str) -> Plan {
    let shot = &survey.shots[survey.by_name[name]];
    [
        (shot.p.x_m() + survey.origin.x_m as f64) / 0.3048,
        (shot.p.y_m() + survey.origin.y_m as f64) / 0.3048,
    ]
}

fn near(survey: &Survey, name: &str, want: Plan) {
    let got = at_ft(survey, name);
    // Places are whole nanometres; the tapes below are exact or written to 1e-4 ft.
    assert!(apart(got, want) < 2e-4, "{name}: {got:?} for {want:?}");
}

fn codes(said: &[Diagnostic]) -> Vec<&str> {
    said.iter().map(|d| d.code).collect()
}

const CORNERS: &str = "[control]\ncorners = { A = [0, 0], B = [40, 0], C = [40, 30, 100] }\n";

/// A notebook page typed into one file: readings and tapes in the same rows, corners by their
/// mutual distances. The house is 30 by 40 ft: its diagonal is 50 (3-4-5).
#[test]
fn a_page_in_one_file() {
    let page = "point,BS,IS,FS,tape A,tape B,tape C,side,remark\n\
                BM1,3.42,,,,,,,nail in the step\n\
                B,,,,40,,,,house corner\n\
                C,,2.55,,50,30,,left,house corner\n\
                1,,4.87,,24,32,,left,\n\
                2,,5.20,,30,50,,left,\n\
                3,,6.10,,25,25,25,,middle of the house\n\
                TP,,,4.00,50,30,,right,\n\
                TP,3.00,,,,,,,\n\
                4,,1.00,,24,32,,,by the gate\n\
                BM1,,,2.42,,,,,\n";
    let survey = "[[survey]]\nlevels = \"page.csv\"\nrod = \"tenths\"\n\
                  benchmark = { name = \"BM1\", level = 100.0 }\n";
    let (survey, said) = job(survey, &[("page.csv", page)]).unwrap();
    // 24-32-40 is a right triangle (3-4-5): 14.4 along, 19.2 beside.
    near(&survey, "1", [14.4, 19.2]);
    near(&survey, "2", [0.0, 30.0]);
    near(&survey, "3", [20.0, 15.0]);
    near(&survey, "C", [40.0, 30.0]);
    // A turning point with tapes is a shot, once.
    near(&survey, "TP", [40.0, -30.0]);
    assert_eq!(survey.shots.len(), 5);
    assert!((survey.shots[survey.by_name["1"]].z_m / 0.3048 - 98.55).abs() < 1e-9);
    assert!(codes(&said).contains(&"assumed-place"), "{said:?}");
    assert!(codes(&said).contains(&"two-answers"), "{said:?}");
    let open = &survey.unplaced[0];
    assert_eq!((open.name.as_str(), open.answers_m.len()), ("4", 2));
    let both = said.iter().find(|d| d.code == "two-answers").unwrap();
    assert_eq!(both.level, Level::Warn);
    assert!(
        both.message
            .contains("14.40 ft E, 19.20 ft N or at 14.40 ft E, -19.20 ft N")
    );
    assert!(both.help.contains("third tape, from C"), "{}", both.help);
    let corners: Vec<&str> = survey.corners.iter().map(|c| c.name.as_str()).collect();
    assert_eq!(corners, ["A", "B", "C"]);
}

/// Places in one file and heights in another meet by name; what is left over is said.
#[test]
fn places_and_heights_meet_by_name() {
    let ties = "point,from,tape,side,code\n1,A,24,left,fence\n1,B,32,,\n2,A,30,,\n2,C,40,,\n\
                2,B,50,,\n3,a,25,right,\n3,b,25,,\n9,A,30,left,\n9,B,50,,\n";
    let levels = "1 95.5 \n2 96\n3 97\n7 95\n";
    let spec = "[[survey]]\nties = \"ties.csv\"\n[[survey]]\nties = \"z.csv\"\n\
                columns = [\"point\", \"z\"]\n";
    let text = format!("{CORNERS}{spec}");
    let said = refused(&text, &[("ties.csv", ties), ("z.csv", levels)]);
    assert!(said.contains("no column for tape A, tape B"), "{said}");
    let spec = spec.replace("\"point\", \"z\"", "\"point\", \"z\", \"tape A\"");
    let text = format!("{CORNERS}{spec}");
    let levels = "1,95.5,\n2,96,\n3,97,\n7,95,\n";
    let (survey, said) = job(&text, &[("ties.csv", ties), ("z.csv", levels)]).unwrap();
    near(&survey, "1", [14.4, 19.2]);
    near(&survey, "2", [0.0, 30.0]);
    near(&survey, "3", [20.0, -15.0]);
    assert_eq!(survey.shots[0].code, "fence");
    assert_eq!(codes(&said), ["no-place", "no-height"]);
    assert!(said[0].message.ends_with(": 7") && said[1].message.ends_with(": 9"));
    assert_eq!(
        (said[0].at[0].file.as_str(), said[0].at[0].line),
        ("z.csv", 4)
    );
    assert_eq!(survey.ties.len(), 4);
    let fix = survey.ties.iter().find(|t| t.name == "2").unwrap();
    assert_eq!((fix.way, fix.corners.len()), (Way::Tapes, 3));
    assert!(fix.largest_residual_m.unwrap() < 1e-9);
}

/// Stations along a baseline and offsets to either side of it.
#[test]
fn baseline_and_offset() {
    let text = "point,station,offset,side,z\n1,10,5.2 L,,99\n2,10,5.2R,,98\n3,-4,0,,97\n4,20,3,right,96\n5,1,2 left,,95\n";
    let control = "[control]\ncorners = { A = [10, 10], B = [10, 50] }\nbaseline = [\"A\", \"B\"]\n\
                   [[survey]]\npoints = \"p.csv\"\n";
    let (survey, _) = job(control, &[("p.csv", text)]).unwrap();
    // The baseline runs north: left is west.
    near(&survey, "1", [4.8, 20.0]);
    near(&survey, "2", [15.2, 20.0]);
    near(&survey, "3", [10.0, 6.0]);
    near(&survey, "4", [13.0, 30.0]);
    near(&survey, "5", [8.0, 11.0]);
    assert!(survey.ties.iter().all(|t| t.way == Way::Offset));
    let bad = "point,station,offset,side,z\n1,10,5.2,,99\n2,10,-5,L,98\n3,1,2 L,right,97\n4,,2 L,,97\n5,1,2 up,,1\n";
    let said = refused(control, &[("p.csv", bad)]);
    for part in [
        "p.csv line 2, \"offset\": \"5.2\": the offset does not say its side",
        "p.csv line 3, \"offset\": \"-5\": an offset is not negative",
        "p.csv line 4, \"offset\": \"2 L\": the letter and the column `side` differ",
        "p.csv line 5, \"station\": the cell is blank",
        "p.csv line 6, \"offset\": \"2 up\": this is not a number",
    ] {
        assert!(said.contains(part), "{part}\n{said}");
    }
    let none = control.replace("baseline = [\"A\", \"B\"]\n", "");
    let said = refused(&none, &[("p.csv", text)]);
    let told = said.matches("stations and offsets need a baseline");
    assert_eq!(told.count(), 1, "{said}");
}

/// One tape and a bearing; from a shot that was itself placed by a bearing.
#[test]
fn distance_and_bearing() {
    let text = "point,from,tape,bearing,z\n1,A,10,90,99\n2,1,10,N0E,98\n3,2,14.142136,S45-00W,97\n";
    let control = "[control]\ncorners = { A = [5, 5] }\n[[survey]]\nties = \"p.csv\"\n";
    let (survey, _) = job(control, &[("p.csv", text)]).unwrap();
    near(&survey, "1", [15.0, 5.0]);
    near(&survey, "2", [15.0, 15.0]);
    near(&survey, "3", [5.0, 5.0]);
    let said = refused(
        control,
        &[("p.csv", "point,from,tape,bearing,z\n1,Q,10,90,1\n")],
    );
    assert!(
        said.contains("the place of the corner Q is not known"),
        "{said}"
    );
    let said = refused(
        control,
        &[("p.csv", "point,from,tape,bearing,z\n1,A,10,N95E,1\n")],
    );
    assert!(said.contains("\"bearing\": \"N95E\""), "{said}");
}

/// Tapes along the ground are reduced with the levels of both ends.
#[test]
fn tapes_along_the_ground() {
    // 40 ft along a slope of 20 % is 39.22 ft (job table): level 40 / root(1.04), rise a fifth.
    let level = 40.0 / 1.04_f64.sqrt();
    let z = 100.0 + level / 5.0;
    let text = format!(
        "point,tape A,tape B,side,z\n1,40,40,left,{z}\n2,30,50,left,100\n3,50,30,right,100\n"
    );
    let control = "[control]\ntapes = \"ground\"\ncorners = { A = [0, 0, 100], B = [40, 0, 100] }\n\
                   [[survey]]\nties = \"p.csv\"\n";
    let (survey, _) = job(control, &[("p.csv", &text)]).unwrap();
    near(&survey, "1", [20.0, (level * level - 400.0).sqrt()]);
    near(&survey, "2", [0.0, 30.0]);
    let low = control.replace("[0, 0, 100]", "[0, 0]");
    let said = refused(&low, &[("p.csv", &text)]);
    assert!(said.contains("the level of A is not known"), "{said}");
    let said = refused(
        control,
        &[("p.csv", "point,tape A,tape B,side,z\n1,40,40,left,150\n")],
    );
    assert!(
        said.contains("is shorter than the height between them, 50.00 ft"),
        "{said}"
    );
}

/// A shot placed by tapes is a corner for the next one.
#[test]
fn a_shot_serves_as_a_corner() {
    let text = "point,from,tape,side,z\n1,A,24,left,99\n1,B,32,,\n2,1,14.4,right,98\n2,A,19.2,,\n\
                3,2,40,right,97\n3,C,40,,\n3,1,43.8027,,\n";
    let control = format!("{CORNERS}[[survey]]\nties = \"t.csv\"\n");
    // The third lies where circles of 40 about 2 and C meet, below the line of both.
    let (mid, half) = ([20.0, 24.6], apart([0.0, 19.2], [40.0, 30.0]) / 2.0);
    let beside = (1600.0 - half * half).sqrt() / (2.0 * half);
    let third = [mid[0] + 10.8 * beside, mid[1] - 40.0 * beside];
    let taped = apart(third, [14.4, 19.2]);
    let text = text.replace("43.8027", &format!("{taped:.5}"));
    let (survey, said) = job(&control, &[("t.csv", &text)]).unwrap();
    near(&survey, "1", [14.4, 19.2]);
    near(&survey, "2", [0.0, 19.2]);
    near(&survey, "3", third);
    assert_eq!(codes(&said), Vec::<&str>::new());
}

/// A grid of rods, by distances, by names with a spacing, and as a list.
#[test]
fn rods_in_a_grid() {
    let grid = "row,0,10,20\nA,3.00,3.10,\nB,4.00,4.10,4.20\n";
    let control = "[control]\ncorners = { P = [100, 0], Q = [100, 50] }\n[[survey]]\n\
                   grid = \"g.csv\"\nrod = \"tenths\"\nbenchmark = { name = \"BM1\", level = 100.0 }\n\
                   backsight = \"3.42\"\nspacing = [10, 8]\norigin = \"P\"\ntowards = \"Q\"\nside = \"right\"\n";
    let (survey, _) = job(control, &[("g.csv", grid)]).unwrap();
    assert_eq!(survey.shots.len(), 5);
    // Columns run north from P, rows to the right of that: east.
    near(&survey, "B20", [108.0, 20.0]);
    near(&survey, "A10", [100.0, 10.0]);
    let shot = &survey.shots[survey.by_name["B0"]];
    assert!((shot.z_m / 0.3048 - 99.42).abs() < 1e-9);
    assert_eq!((shot.at.line, shot.at.column.as_str()), (3, "0"));
    let plain = "row,0,10,20\n0,95,96,97\n8.5,94,,96\n";
    let control = "[[survey]]\ngrid = \"g.csv\"\nrod = \"direct\"\n";
    let (survey, _) = job(control, &[("g.csv", plain)]).unwrap();
    near(&survey, "8.5-20", [20.0, 8.5]);
    let list = "row,column,z\nA,1,95\nC,2,96\nB,AA,97\n";
    let control = "[control]\nspacing = 5\n[[survey]]\npoints = \"l.csv\"\n";
    let (survey, said) = job(control, &[("l.csv", list)]).unwrap();
    assert_eq!(codes(&said), ["assumed-place"]);
    near(&survey, "C2", [10.0, 10.0]);
    near(&survey, "BAA", [130.0, 5.0]);
    for (text, part) in [
        ("col,1\nA,3\n", "the first cell of a grid is the word `row`"),
        ("row,1,1\nA,3,3\n", "two lines of the grid are called 1"),
        ("row,1\nA,3,4\n", "more cells than the head"),
        ("row,1\nA,x\n", "g.csv line 2, \"1\": \"x\""),
        ("row,1\nA,3\n", "their spacing is not given"),
        ("row,1\n", "the grid holds no reading"),
    ] {
        let said = refused(
            "[[survey]]\ngrid = \"g.csv\"\nrod = \"direct\"\n",
            &[("g.csv", text)],
        );
        assert!(said.contains(part), "{text}: {said}");
    }
    let said = refused(
        "[[survey]]\ngrid = \"g.csv\"\nrod = \"tenths\"\n",
        &[("g.csv", plain)],
    );
    assert!(said.contains("the grid has no benchmark"), "{said}");
}

/// 28 ft 6 in is 28.5 ft: the same yard in inches and in decimals lies at the same nanometres.
#[test]
fn tapes_in_feet_and_inches_are_those_in_decimals() {
    let place = |table: &str, distance: &str| {
        let control = format!(
            "[control]\ndistances = ['''A-B {distance}''']\n[[survey]]\npoints = \"t.csv\"\n"
        );
        let (survey, _) = job(&control, &[("t.csv", table)]).unwrap();
        survey.shots.iter().map(|shot| shot.p).collect::<Vec<_>>()
    };
    let inches = "point,tape A,tape B,side,z\n1,21' 3\",15-4-1/2,left,98\n\
                  2,18ft 9in,17-0,left,97\n3,25',12' 0\",right,97\n";
    let decimals = "point,tape A,tape B,side,z\n1,21.25,15.375,left,98\n\
                    2,18.75,17,left,97\n3,25,12,right,97\n";
    let found = place(inches, "28' 6\"");
    assert_eq!(found.len(), 3);
    assert_eq!(found, place(decimals, "28.5"));
    let control = "[control]\ncorners = { A = [0, 0], B = ['''28' 6\"''', 0] }\n\
                   [[survey]]\npoints = \"t.csv\"\n";
    let (survey, _) = job(control, &[("t.csv", decimals)]).unwrap();
    assert_eq!(survey.shots[0].p, found[0]);
}

/// Every bad cell is named with file, line, column head and text.
#[test]
fn bad_cells_are_named() {
    let text = "point,tape A,tape B,side,z\n1,-3,4,left,1\n2,0,4,left,1\n3,nan,1e300,left,1\n\
                4,12 6,4,up,1\n5,5000000,4,left,deep\n";
    let control = format!("{CORNERS}[[survey]]\nties = \"t.csv\"\n");
    let said = refused(&control, &[("t.csv", text)]);
    for part in [
        "t.csv line 2, \"tape A\": \"-3\": a tape is longer than 0",
        "t.csv line 3, \"tape A\": \"0\": a tape is longer than 0",
        "t.csv line 4, \"tape A\": \"nan\": this is not a finite number",
        "t.csv line 4, \"tape B\": \"1e300\"",
        "t.csv line 5, \"side\": \"up\": this is no side",
        "t.csv line 5, \"tape A\": \"12 6\": this is no clear length in ft",
        "t.csv line 6, \"tape A\": \"5000000\": no tape is longer than 10 km",
        "t.csv line 6, \"z\": \"deep\"",
    ] {
        assert!(said.contains(part), "{part}\n{said}");
    }
    for (text, part) in [
        (
            "point,tape A,tape A,z\n1,3,4,1\n",
            "two columns hold tapes from A",
        ),
        (
            "point,tape A (m),tape B,z\n1,3,4,1\n",
            "the column head says m, but the column is read in ft",
        ),
        (
            "point,from,tape,z\n1,,4,1\n",
            "does not say where the tape begins",
        ),
        (
            "point,tape A,tape Corner,z\n1,3,4,1\n",
            "the corner Corner is not known",
        ),
        (
            "point,tape A,tape B,z\n1,3,4,1\n",
            "3.00 ft and 4.00 ft are 33.00 ft too short for the 40.00 ft from A to B",
        ),
        (
            "point,tape A,tape B,z\n1,60,4,1\n",
            "60.00 ft from A is 16.00 ft too long for 4.00 ft from B",
        ),
        (
            "point,tape A,station,offset,z\n1,60,4,1 L,1\n",
            "says in two ways where the point is",
        ),
    ] {
        let said = refused(&control, &[("t.csv", text)]);
        assert!(said.contains(part), "{text}: {said}");
    }
    for (control, part) in [
        (
            "[control]\ncorners = { A = [0] }\n",
            "a corner is given by east and north",
        ),
        (
            "[control]\ncorners = { A = [0, inf] }\n",
            "a corner is given by east and north",
        ),
        (
            "[control]\ndistances = [\"A 12\"]\n",
            "\"A 12\": this does not name two corners",
        ),
        ("[control]\ndistances = [\"A-B -3\"]\n", "more than 0"),
        (
            "[control]\ndistances = [\"A-B x\"]\n",
            "the distance is not a number",
        ),
        (
            "[control]\nbaseline = [\"A\"]\n",
            "a baseline runs from one corner to another",
        ),
        ("[control]\nspacing = [1, 2, 3]\n", "one or two lengths"),
        (
            "[control]\ntape_error = 0\n",
            "`tape_error` must be more than 0",
        ),
        ("[control]\ncorner = {}\n", "perhaps `corners` is meant"),
        (
            "[control]\nside = { C = \"up\" }\n",
            "does not know this word",
        ),
    ] {
        let text = format!("{control}[[survey]]\nties = \"t.csv\"\n");
        let said = refused(&text, &[("t.csv", text_of_three())]);
        assert!(said.contains(part), "{control}: {said}");
    }
}

fn text_of_three() -> &'static str {
    "point,tape A,tape B,side,z\n1,24,32,left,1\n2,30,50,left,2\n3,25,25,right,3\n"
}

/// Corners that are not held, that may lie on either side, or that contradict each other.
#[test]
fn corners_that_are_not_enough() {
    let files = [("t.csv", text_of_three())];
    let survey = "[[survey]]\nties = \"t.csv\"\n";
    let (found, said) = job(
        &format!("[control]\ndistances = [\"A-B 40\"]\n{survey}"),
        &files,
    )
    .unwrap();
    near(&found, "1", [14.4, 19.2]);
    assert_eq!(codes(&said), ["assumed-place"]);
    let turned = format!("[control]\ndistances = [\"A-B 40\"]\nbearing = \"N\u{30}E\"\n{survey}");
    let (found, _) = job(&turned, &files).unwrap();
    near(&found, "1", [-19.2, 14.4]);
    for (control, part) in [
        (
            "distances = [\"A-B 40\", \"A-C 50\"]",
            "the corner C is not held in place: the distance B-C is missing",
        ),
        (
            "distances = [\"A-B 40\", \"A-C 50\", \"B-C 30\"]",
            "the corner C may lie left or right of the line from A to B",
        ),
        (
            "distances = [\"A-B 40\", \"A-C 5\", \"B-C 30\"]",
            "the distances to the corner C meet nowhere: A 5.00 ft, B 30.00 ft",
        ),
        (
            "corners = { A = [0, 0], B = [40, 0] }\ndistances = [\"A-B 41\"]",
            "it should be 40.00 ft; it looks misread by 1 ft",
        ),
        (
            "corners = { A = [0, 0] }",
            "the place of the corner B is not known",
        ),
    ] {
        let said = refused(&format!("[control]\n{control}\n{survey}"), &files);
        assert!(said.contains(part), "{control}: {said}");
    }
}

/// A thin crossing, a tape that does not agree, a side that contradicts.
#[test]
fn doubtful_ties_are_told() {
    let text = "point,tape A,tape B,tape C,side,z\n1,24,32,,left,1\n2,30,50,,left,2\n3,25,25,,right,3\n\
                thin,38,2.2,,left,4\nfoot,37.0555,22.3607,14.1421,,5\nten,46.0555,22.3607,14.1421,,6\nwrong,25,25,25,right,7\n";
    let control = format!("{CORNERS}tape_error = 0.02\n[[survey]]\nties = \"t.csv\"\n");
    let (survey, said) = job(&control, &[("t.csv", text)]).unwrap();
    let of = |name: &str| {
        let starts = |d: &&Diagnostic| d.message.contains(&format!("{name} "));
        said.iter()
            .find(starts)
            .map(ToString::to_string)
            .unwrap_or_default()
    };
    let thin = of("thin");
    assert!(thin.contains("only: the place may be off by"), "{thin}");
    assert!(thin.contains("take a third tape, from C"), "{thin}");
    let foot = of("foot");
    assert!(foot.contains("the tape to foot from A, 37.06 ft"), "{foot}");
    assert!(
        foot.contains("36.06 ft would agree; it looks misread by 1 ft"),
        "{foot}"
    );
    let ten = of("ten");
    assert!(
        ten.contains("misread by 10 ft") && ten.contains("not used for the ground"),
        "{ten}"
    );
    assert!(!survey.by_name.contains_key("ten"));
    let left: Vec<&str> = survey.unplaced.iter().map(|u| u.name.as_str()).collect();
    assert_eq!(left, ["foot", "ten"]);
    let wrong = of("wrong");
    assert!(
        wrong.contains("booked right of the line from A to B"),
        "{wrong}"
    );
    near(&survey, "wrong", [20.0, 15.0]);
}

/// A coordinate stays what it was; a corner that is a shot of a points file serves for ties.
#[test]
fn coordinates_and_ties_in_one_file() {
    let text = "name,x,y,z,tape P 1,tape P 2,side\nP 1,0,0,100,,,\nP 2,40,0,101,,,\n3,,,102,24,32,left\n4,1,2,103,3,4,\n";
    let (survey, said) = job("[[survey]]\npoints = \"p.csv\"\n", &[("p.csv", text)]).unwrap();
    assert_eq!(survey.shots.len(), 4);
    near(&survey, "3", [14.4, 19.2]);
    near(&survey, "4", [1.0, 2.0]);
    assert_eq!(codes(&said), ["coordinates-win"]);
    let names: Vec<(&str, bool)> = survey
        .corners
        .iter()
        .map(|c| (c.name.as_str(), c.is_given))
        .collect();
    assert_eq!(names, [("P 1", true), ("P 2", true)]);
}

/// `check` says it all as well, and the report carries ties and corners in SI.
#[test]
fn a_job_with_ties_is_checked_and_reported() {
    let text =
        format!("[job]\nname = \"Yard\"\nunits = \"ft\"\n{CORNERS}[[survey]]\nties = \"t.csv\"\n");
    let folder = Folder::default()
        .with("job.toml", &text)
        .with("t.csv", text_of_three());
    assert_eq!(codes(&check_job(&folder).unwrap()), Vec::<&str>::new());
    let outcome = run_job(folder, &text);
    let json = cutbank::report::json(&outcome);
    let tie = &json["survey"]["ties"][0];
    assert_eq!(tie["way"], "tapes");
    assert!((number(&tie["place_m"][0]) - 14.4 * 0.3048).abs() < 1e-9);
    // Crossing at a right angle: both semi axes are the tape error, 0.1 ft.
    assert!((number(&tie["ellipse"]["semi_major_m"]) - 0.03048).abs() < 1e-9);
    assert_eq!(json["survey"]["corners"].as_array().unwrap().len(), 3);
}

/// A corner with one tape in its row and the other in the job takes the side its row tells.
#[test]
fn the_side_of_a_corner_is_told_in_its_row() {
    let control = "[control]\ncorners = { A = [0, 0], B = [40, 0] }\n\
                   distances = [\"A-C 50\"]\n[[survey]]\nties = \"t.csv\"\n";
    let text = |side: &str| {
        format!(
            "point,from,tape,side,z\nC,B,30,{side},98\n1,A,24,left,99\n1,B,32,,\n2,C,40,right,97\n2,A,30,,\n"
        )
    };
    for (side, north) in [("left", 30.0), ("right", -30.0)] {
        let (survey, _) = job(control, &[("t.csv", &text(side))]).unwrap();
        near(&survey, "C", [40.0, north]);
    }
    let said = refused(control, &[("t.csv", &text(""))]);
    assert!(
        said.contains("C may lie left or right of the line from A to B"),
        "{said}"
    );
}

/// An offset as a spreadsheet may write it: a wide space or another mark before the letter.
#[test]
fn a_wide_space_before_the_side() {
    let control = "[control]\ncorners = { A = [10, 10], B = [10, 50] }\nbaseline = [\"A\", \"B\"]\n\
                   [[survey]]\npoints = \"p.csv\"\n";
    let text = "point,station,offset,z\n1,10,5.2\u{a0}L,99\n2,10,5.2\u{2003}R,98\n3,0,0,97\n";
    let (survey, _) = job(control, &[("p.csv", text)]).unwrap();
    near(&survey, "1", [4.8, 20.0]);
    near(&survey, "2", [15.2, 20.0]);
    // Found by damaged files.
    let said = refused(
        control,
        &[("p.csv", "point,station,offset,z\n2,10,\u{feff}L,98\n")],
    );
    assert!(said.contains("p.csv line 2, \"offset\""), "{said}");
}

/// A corner taped from twice is one end of the line: the side is told along A to B.
#[test]
fn a_tape_read_twice_leaves_the_side() {
    let text = "point,from,tape,side,z\n1,A,24,left,99\n1,A,24.01,,\n1,B,32,,\n\
                2,A,24,right,98\n2,A,24.01,,\n2,B,32,,\n3,A,30,left,97\n3,B,50,,\n";
    let control = format!("{CORNERS}[[survey]]\nties = \"t.csv\"\n");
    let (survey, _) = job(&control, &[("t.csv", text)]).unwrap();
    for (name, north) in [("1", 19.2), ("2", -19.2)] {
        let got = at_ft(&survey, name);
        assert!(apart(got, [14.4, north]) < 0.02, "{name}: {got:?}");
    }
}
