//! Grounds of a few shots whose area and heights are known by hand.
//!
//! Areas are compared as whole square nanometres: corners lie on the lattice, so they are exact.
//! Expected values are elementary geometry (areas of rectangles and triangles, heights on a
//! straight line), worked out beside each test.
#![allow(clippy::unwrap_used)]

mod common;

use common::{Folder, near};
use cutbank::diag::{Diagnostic, Failure, Level};
use cutbank::geom::Point;
use cutbank::job::Job;
use cutbank::run::read_job;
use cutbank::survey::Survey;
use cutbank::terrain::{Terrain, build};

/// Twice a square metre in square nanometres.
const TWICE_M2: i128 = 2_000_000_000_000_000_000;

/// A job over shots `name,x,y,z,code`, with lines of `[ground]`.
fn job_of(shots: &str, lines: &str) -> (Job, Folder) {
    let job = format!(
        "[job]\nname = \"yard\"\nunits = \"m\"\n[[survey]]\npoints = \"shots.csv\"\n[ground]\n{lines}\n"
    );
    let folder = Folder::default()
        .with("job.toml", &job)
        .with("shots.csv", &format!("name,x,y,z,code\n{shots}"));
    let (job, _) = read_job(&folder).unwrap_or_else(|fault| panic!("{fault}"));
    (job, folder)
}

/// The shots with what is said of them.
fn survey_of(shots: &str, lines: &str) -> Result<(Survey, Vec<Diagnostic>), Failure> {
    let (job, folder) = job_of(shots, lines);
    Survey::of(&job, &folder)
}

fn ground(shots: &str, lines: &str) -> Result<(Terrain, Vec<Diagnostic>), Failure> {
    let (survey, _) = survey_of(shots, lines).unwrap_or_else(|fault| panic!("{fault}"));
    build(&survey, &job_of(shots, lines).0.ground)
}

/// The same, of which nothing worse than a note is said.
#[track_caller]
fn sound(shots: &str, lines: &str) -> Terrain {
    let (terrain, said) = ground(shots, lines).unwrap_or_else(|fault| panic!("{fault}"));
    assert!(said.iter().all(|d| d.level == Level::Note), "{said:#?}");
    terrain
}

/// The only diagnostic with this code, as printed.
#[track_caller]
fn only(said: &[Diagnostic], code: &str, level: Level) -> String {
    let found: Vec<&Diagnostic> = said.iter().filter(|d| d.code == code).collect();
    assert_eq!(found.len(), 1, "{code} in {said:#?}");
    assert_eq!(found[0].level, level, "{}", found[0]);
    found[0].to_string()
}

#[track_caller]
fn refused(shots: &str, lines: &str, code: &str) -> String {
    match ground(shots, lines) {
        Ok(_) => panic!("this ground was not refused"),
        Err(Failure(said)) => only(&said, code, Level::Error),
    }
}

/// Holds the plan area against halves of square metres, exactly.
#[track_caller]
fn assert_area_m2(terrain: &Terrain, area_m2: f64) {
    terrain.surface.check_consistent().unwrap();
    let want = (area_m2 * 2.0) as i128 * TWICE_M2 / 2;
    assert_eq!(terrain.surface.twice_area_nm2(), want, "{area_m2} m2");
}

fn z(terrain: &Terrain, x: f64, y: f64) -> f64 {
    let origin = terrain.origin;
    let p = Point::from_m(x - origin.x_m as f64, y - origin.y_m as f64);
    terrain
        .surface
        .z_at(p)
        .unwrap_or_else(|| panic!("no ground at {x}, {y}"))
}

#[track_caller]
fn assert_contains(text: &str, parts: &[&str]) {
    for part in parts {
        assert!(text.contains(part), "\"{part}\" is not in: {text}");
    }
}

/// A level square of ten metres with its middle.
const SQUARE: &str = "1,0,0,5,\n2,10,0,5,\n3,10,10,5,\n4,0,10,5,\n5,5,5,5,\n";

/// The same, the corners at different heights and without the middle.
const TILTED: &str = "1,0,0,5,\n2,10,0,6,\n3,10,10,7,\n4,0,10,6,\n";

#[test]
fn two_breaklines_share_a_stretch() {
    for lines in [
        r#"breaklines = [["1", "3"], ["3", "1"]]"#,
        r#"breaklines = [["1", "5", "3"], ["3", "5", "1"]]"#,
        r#"breaklines = [["1", "3"], ["5", "3"], ["1", "5"]]"#,
        // A shared stretch that ends on both outlines.
        r#"breaklines = [["1", "2", "3"], ["2", "3", "4"], ["4", "5"]]"#,
    ] {
        let outline = "outline = [\"1\", \"2\", \"3\", \"4\"]";
        let terrain = sound(SQUARE, &format!("{outline}\n{lines}"));
        assert_area_m2(&terrain, 100.0);
        near("middle", z(&terrain, 5.0, 5.0), 5.0, 1e-12);
    }
    let four = SQUARE.replace("5,5,5,5,\n", "");
    let lines = r#"breaklines = [["1", "3"], ["3", "1"]]"#;
    let outline = "outline = [\"1\", \"2\", \"3\", \"4\"]";
    assert_area_m2(&sound(&four, &format!("{outline}\n{lines}")), 100.0);
    // The diagonal of a square whose corners lie in no plane, with no shot on it.
    let lines = r#"breaklines = [["2", "4"], ["4", "2"]]"#;
    let terrain = sound(
        "1,0,0,5,\n2,10,0,6,\n3,10,10,5,\n4,0,10,6,\n",
        &format!("{outline}\n{lines}"),
    );
    assert_area_m2(&terrain, 100.0);
    near("on the ridge", z(&terrain, 5.0, 5.0), 6.0, 1e-12);
}

#[test]
fn outline_hole_and_breakline() {
    // A square of 12 m, a hole of 2 by 3 m, and a ridge through the hole at 6 m: 144 - 6.
    let shots = "1,0,0,5,\n2,12,0,5,\n3,12,12,5,\n4,0,12,5,\n\
                 h1,4,4,5,hut\nh2,6,4,5,hut\nh3,6,7,5,hut\nh4,4,7,5,hut\n\
                 r1,2,10,6,ridge\nr2,10,10,6,ridge\n9,20,20,5,\n";
    let lines = "outline = \"shots:1-4\"\nholes = [\"code:hut\"]\nbreaklines = [\"code:ridge\"]";
    let terrain = sound(shots, lines);
    assert_area_m2(&terrain, 144.0 - 6.0);
    assert_eq!(terrain.num_shots, 10);
    assert_eq!(terrain.holes.len(), 1);
    assert_eq!(terrain.breaklines.len(), 1);
    near("ridge", z(&terrain, 5.5, 10.0), 6.0, 1e-12);
    let inside = Point::from_m(5.0, 5.0);
    assert_eq!(terrain.surface.z_at(inside), None);
}

#[test]
fn a_breakline_along_the_outline_changes_nothing() {
    let outline = "outline = \"shots:1-4\"";
    for line in [
        r#"["1", "2"]"#,
        r#"["2", "1"]"#,
        r#"["4", "1", "2", "3"]"#,
        r#"["1", "2", "3", "4", "1"]"#,
    ] {
        let terrain = sound(SQUARE, &format!("{outline}\nbreaklines = [{line}, {line}]"));
        assert_area_m2(&terrain, 100.0);
    }
}

#[test]
fn a_breakline_passes_through_a_hole() {
    // The line lies level with the hole, so that their crossings agree.
    let shots = "1,0,0,5,\n2,10,0,5,\n3,10,10,5,\n4,0,10,5,\n\
                 h1,4,4,5,hut\nh2,6,4,5,hut\nh3,6,6,5,hut\nh4,4,6,5,hut\n\
                 a,1,5,5,\nb,9,5,5,\n";
    let lines = "outline = \"shots:1-4\"\nholes = [\"code:hut\"]\nbreaklines = [[\"a\", \"b\"]]";
    let terrain = sound(shots, lines);
    assert_area_m2(&terrain, 100.0 - 4.0);
    // The same line along a side of the hole, which it shares for two metres.
    let shots = shots
        .replace("a,1,5,5", "a,1,4,5")
        .replace("b,9,5,5", "b,9,4,5");
    assert_area_m2(&sound(&shots, lines), 100.0 - 4.0);
}

#[test]
fn two_holes_share_a_side() {
    let shots = format!("{SQUARE}a,1,1,5,\nb,3,1,5,\nc,3,3,5,\nd,1,3,5,\ne,4,1,5,\nf,4,3,5,\n");
    let lines = "outline = \"shots:1-4\"\n\
                 holes = [[\"a\", \"b\", \"c\", \"d\"], [\"b\", \"e\", \"f\", \"c\"]]";
    assert_area_m2(&sound(&shots, lines), 100.0 - 4.0 - 2.0);
}

#[test]
fn an_outline_by_coordinates_lies_on_the_hull() {
    // Its corners lie on the hull between shots; their heights are those of the plane
    // z = 5 + x / 10 + y / 10 through the shots.
    let lines = "outline = [[0, 0], [5, 0], [10, 5], [10, 10], [0, 10]]";
    let terrain = sound(TILTED, lines);
    assert_area_m2(&terrain, 100.0 - 12.5);
    near("on the cut", z(&terrain, 7.5, 2.5), 6.0, 1e-12);
    // A metre beyond the hull there is no ground: what is left is half the square.
    let beyond = sound(TILTED, "outline = [[0, 0], [11, 0], [10, 10]]");
    assert_area_m2(&beyond, 50.0);
}

#[test]
fn one_place_shot_twice() {
    let shots = format!("{SQUARE}5b,5,5,5.2,\n");
    let lines = "outline = \"shots:1-4\"";
    let text = refused(&shots, lines, "two-heights");
    assert_contains(&text, &["shots.csv line 6", "shots.csv line 7", "0.200 m"]);
    for (policy, height, words) in [
        ("first", 5.0, "the first is used"),
        ("mean", 5.1, "their mean"),
    ] {
        // A breakline through the second shot takes the height that the ground has.
        let lines = format!("{lines}\nduplicates = \"{policy}\"\nbreaklines = [[\"1\", \"5b\"]]");
        let (terrain, said) = ground(&shots, &lines).unwrap();
        assert_contains(&only(&said, "same-place", Level::Warn), &["5, 5b", words]);
        assert_area_m2(&terrain, 100.0);
        near(policy, z(&terrain, 5.0, 5.0), height, 1e-12);
        near(policy, z(&terrain, 2.5, 2.5), (5.0 + height) / 2.0, 1e-12);
        assert_eq!(terrain.breaklines[0][1].z, z(&terrain, 5.0, 5.0));
    }
    // Closer than the tolerance of 0.003048 m it is one height.
    let shots = format!("{SQUARE}5b,5,5,5.003,\n");
    let (terrain, said) = ground(&shots, lines).unwrap();
    only(&said, "same-place", Level::Warn);
    near("middle", z(&terrain, 5.0, 5.0), 5.0, 1e-12);
}

#[test]
fn long_edges_are_taken_off_the_rim() {
    // A far shot makes triangles with edges above 20 m; what is left is the square.
    let shots = format!("{SQUARE}9,40,5,5,\n");
    let (terrain, said) = ground(&shots, "max_edge = 20").unwrap();
    assert_area_m2(&terrain, 100.0);
    assert_contains(
        &only(&said, "longest-edge", Level::Note),
        &["1 triangles", "longer than the limit"],
    );
    // The whole: the square and a triangle of base 10 m and height 30 m.
    assert_area_m2(&sound(&shots, ""), 250.0);
    let text = refused(SQUARE, "max_edge = 1", "no-ground");
    assert_contains(&text, &["nothing is left", "the longest edge"]);
}

#[test]
fn two_breaklines_cross_at_two_heights() {
    let lines = "breaklines = [[\"1\", \"3\"], [\"2\", \"4\"]]";
    // Half way up: 6 on the one, 6 on the other.
    near("agreed", z(&sound(TILTED, lines), 5.0, 5.0), 6.0, 1e-12);
    let shots = TILTED.replace("3,10,10,7", "3,10,10,8");
    let text = refused(&shots, lines, "crossing-lines");
    assert_contains(
        &text,
        &["two lines cross 0.500 m apart", "near 5.00 m E, 5.00 m N"],
    );
    let (terrain, said) = ground(&shots, &format!("{lines}\ncrossings = \"mean\"")).unwrap();
    only(&said, "crossing-lines", Level::Warn);
    near("mean", z(&terrain, 5.0, 5.0), 6.25, 1e-12);
}

#[test]
fn a_breakline_crosses_itself() {
    // From 1 to 3 along the diagonal, round by 4, and back from 4 to 2: at the middle the first
    // piece is at (5 + 8) / 2, the last at (6 + 6) / 2.
    let shots = TILTED.replace("3,10,10,7", "3,10,10,8");
    let lines = "breaklines = [[\"1\", \"3\", \"4\", \"2\"]]";
    let text = refused(&shots, lines, "crossing-lines");
    assert_contains(
        &text,
        &[
            "job.toml line 7",
            "this line crosses itself 0.500 m apart",
            "near 5.00 m E, 5.00 m N",
        ],
    );
    let (terrain, said) = ground(&shots, &format!("{lines}\ncrossings = \"mean\"")).unwrap();
    assert_contains(
        &only(&said, "crossing-lines", Level::Warn),
        &["the mean is used"],
    );
    near("mean", z(&terrain, 5.0, 5.0), 6.25, 1e-12);
    // Where the heights agree it may cross itself.
    near("agreed", z(&sound(TILTED, lines), 5.0, 5.0), 6.0, 1e-12);
}

#[test]
fn a_shot_lies_on_a_breakline_that_does_not_name_it() {
    let shots = SQUARE.replace("5,5,5,5", "5,5,5,5.4");
    let lines = "outline = \"shots:1-4\"\nbreaklines = [[\"1\", \"3\"]]";
    let (terrain, said) = ground(&shots, lines).unwrap();
    let text = only(&said, "shot-on-line", Level::Warn);
    assert_contains(
        &text,
        &[
            "job.toml line 8",
            "shots.csv line 6",
            "shot 5 lies on this line, 0.400 m above it; the shot is used",
        ],
    );
    near("the shot", z(&terrain, 5.0, 5.0), 5.4, 1e-12);
    assert_area_m2(&terrain, 100.0);
    let shots = SQUARE.replace("5,5,5,5", "5,5,5,4.99");
    let (_, said) = ground(&shots, lines).unwrap();
    assert_contains(
        &only(&said, "shot-on-line", Level::Warn),
        &["0.010 m below it"],
    );
    // Within the tolerance nothing is said.
    sound(&SQUARE.replace("5,5,5,5", "5,5,5,5.003"), lines);
}

#[test]
fn shots_on_the_sides_of_an_outline_are_counted() {
    let shots = format!("{SQUARE}6,5,0,5.5,\n7,7,0,4.7,\n");
    let (terrain, said) = ground(&shots, "outline = \"shots:1-4\"").unwrap();
    let text = only(&said, "shot-on-outline", Level::Note);
    assert_contains(
        &text,
        &[
            "job.toml line 7",
            "2 shots lie on the sides",
            "up to 0.500 m",
        ],
    );
    near("the shot", z(&terrain, 5.0, 0.0), 5.5, 1e-12);
    assert_area_m2(&terrain, 100.0);
}

#[test]
fn a_line_passes_a_corner_without_a_shot() {
    // The corner 5, 5 takes its height from the bare ground, where the edge from 5 to 6 passes at
    // 5 m; the other line passes at 6 m.
    let shots = format!("{SQUARE}6,5,4,5,\na,2,8,6,\nb,8,2,6,\n").replace("5,5,5,5,", "5,5,6,5,");
    let lines = "breaklines = [[\"1\", [5, 5]], [\"a\", \"b\"]]";
    near("bare", z(&sound(&shots, ""), 5.0, 5.0), 5.0, 1e-12);
    let text = refused(&shots, lines, "crossing-lines");
    assert_contains(
        &text,
        &[
            "a line passes a corner given by coordinates",
            "1.000 m apart",
        ],
    );
    let (terrain, said) = ground(&shots, &format!("{lines}\ncrossings = \"mean\"")).unwrap();
    only(&said, "crossing-lines", Level::Warn);
    near("mean", z(&terrain, 5.0, 5.0), 5.5, 1e-12);
    assert_eq!(terrain.breaklines[0][1].z, z(&terrain, 5.0, 5.0));
}

#[test]
fn many_faulty_crossings_are_listed_up_to_a_limit() {
    // Eight lines east at 5 m, eight north at 6 m: 64 crossings.
    let mut shots = String::new();
    let mut lines = Vec::new();
    for i in 0..8 {
        let at = i + 1;
        shots += &format!("w{i},0,{at},5,\ne{i},10,{at},5,\ns{i},{at},0,6,\nn{i},{at},10,6,\n");
        lines.push(format!("[\"w{i}\", \"e{i}\"], [\"s{i}\", \"n{i}\"]"));
    }
    let Err(Failure(said)) = ground(&shots, &format!("breaklines = [{}]", lines.join(", "))) else {
        panic!("these crossings were not refused");
    };
    let faults: Vec<String> = said
        .iter()
        .filter(|d| d.code == "crossing-lines")
        .map(ToString::to_string)
        .collect();
    assert_eq!(faults.len(), 21);
    assert_contains(&faults[20], &["and 44 more crossings"]);
}

#[test]
fn shots_a_continent_apart_are_refused() {
    // The limit is 2^52 nm = 4,503,599.627370496 m.
    let shots = |x: &str| format!("1,0,0,5,\n2,0,9,5,\n3,{x},9,5,\n");
    let terrain = sound(&shots("4503599.627370496"), "");
    assert_eq!(
        terrain.surface.twice_area_nm2(),
        (1i128 << 52) * 9_000_000_000
    );
    for x in ["4503599.627370497", "390000000"] {
        let text = refused(&shots(x), "", "far-apart");
        assert_contains(
            &text,
            &[
                "shots.csv line 2",
                "shots.csv line 4",
                "the shots lie more than 4,500 km apart",
                "check the coordinates and units",
            ],
        );
    }
}

#[test]
fn shots_a_micrometre_apart_with_two_heights_are_refused() {
    // In the middle, and at a corner, where the sliver beside them is at the rim.
    for (near, first, line) in [("5.000001,5", "5", 6), ("10.000001,0", "2", 3)] {
        let shots = format!("{SQUARE}6,{near},8,\n");
        for lines in ["", "outline = \"shots:1-4\"\nbreaklines = [[\"1\", \"6\"]]"] {
            if near.starts_with("10") && !lines.is_empty() {
                continue;
            }
            let text = refused(&shots, lines, "too-steep");
            assert_contains(
                &text,
                &[
                    &format!("shots.csv line {line} and shots.csv line 7"),
                    &format!("shot {first} and shot 6 are 0.000001 m apart in plan"),
                    "3.000 m in height",
                    "take the wrong one out",
                ],
            );
        }
    }
    // Beyond the outline they do no harm.
    let shots = format!("{SQUARE}6,20,5,5,\n7,20.000001,5,8,\n");
    let lines = "outline = \"shots:1-4\"";
    assert_area_m2(&sound(&shots, lines), 100.0);
}

#[test]
fn a_shot_a_hair_beside_a_breakline_is_refused() {
    // 1 micrometre east of a diagonal is 0.000000707 m beside it.
    let shots = SQUARE.replace("5,5,5,5", "5,5.000001,5,5.5");
    let lines = "outline = \"shots:1-4\"\nbreaklines = [[\"1\", \"3\"]]";
    let text = refused(&shots, lines, "too-steep");
    assert_contains(
        &text,
        &[
            "shots.csv line 6",
            "shots.csv line 2",
            "shots.csv line 4",
            "shot 5 lies 0.000000707 m beside the line from shot",
            "0.500 m above it",
        ],
    );
    // A wall of 3 m that leans 0.2 mm is kept: slope 15,000, and 33,500 in the wedges at its ends.
    let shots = format!("{SQUARE}t1,2,6,8,\nt2,8,6,8,\nf1,2,6.0002,5,\nf2,8,6.0002,5,\n");
    let lines = "outline = \"shots:1-4\"\nbreaklines = [[\"t1\", \"t2\"], [\"f1\", \"f2\"]]";
    let terrain = sound(&shots, lines);
    assert_area_m2(&terrain, 100.0);
    near("half way down", z(&terrain, 5.0, 6.0001), 6.5, 1e-4);
}

#[test]
fn slivers_between_shots_in_line_go_from_the_rim() {
    // A shot 1 micrometre inside a side of 10 m: the sliver of slope 1,000,000 between them has
    // 10 m by 1 micrometre of twice its area. It goes from the hull and from an outline alike.
    let shots = format!("{SQUARE}6,5,0.000001,6,\n");
    for lines in ["", "outline = \"shots:1-4\""] {
        let (terrain, said) = ground(&shots, lines).unwrap();
        assert_contains(&only(&said, "rim-slivers", Level::Note), &["1 sliver"]);
        terrain.surface.check_consistent().unwrap();
        let want = 100 * TWICE_M2 - 10_000_000_000 * 1_000;
        assert_eq!(terrain.surface.twice_area_nm2(), want);
    }
    // Not one of slope 5,000.
    let shots = format!("{SQUARE}6,5,0.0002,6,\n");
    assert_area_m2(&sound(&shots, ""), 100.0);
}

#[test]
fn a_number_behind_a_code_keeps_lines_apart() {
    // Two ridges of height 1 along y = 2 and y = 8. As one line they would be joined from (8, 2)
    // to (2, 8) at height 1; apart, the ground between them has no such edge.
    let shots = "a,0,0,0,\nb,10,0,0,\nc,10,10,0,\nd,0,10,0,\nm,5,5,0,\n\
                 1,2,2,1,top1\n2,8,2,1,Top1+edge\n3,2,8,1,top2\n4,8,8,1,top2\n";
    let apart = sound(shots, "breaklines = [\"code:top\"]");
    assert_eq!(apart.breaklines.len(), 2);
    assert_eq!((z(&apart, 5.0, 2.0), z(&apart, 5.0, 8.0)), (1.0, 1.0));
    assert_eq!(z(&apart, 5.0, 5.0), 0.0);
    let one = sound(shots, "breaklines = [\"code:top2\"]");
    assert_eq!(one.breaklines.len(), 1);
    // A shot with several codes lies on each of their lines.
    let edge = refused(shots, "breaklines = [\"code:edge\"]", "short-line");
    assert_contains(&edge, &["at least 2 different places, it has 1"]);
    let outline = refused(shots, "outline = \"code:top\"", "several-lines");
    assert_contains(&outline, &["code:top1, code:top2", "with its number"]);
}

#[test]
fn a_struck_shot_makes_no_ground_and_stays_named() {
    // A square of height 0 with a wrong shot of height 5 in its middle.
    let shots = "a,0,0,0,\nb,10,0,0,\nc,10,10,0,\nd,0,10,0,\n17,5,5,5,\n";
    assert_eq!(z(&sound(shots, ""), 5.0, 5.0), 5.0);
    let strike = "[[strike]]\nshot = \"17\"\nwhy = \"the rod stood on a stump\"\n";
    let (terrain, said) = ground(shots, strike).unwrap();
    assert_eq!(z(&terrain, 5.0, 5.0), 0.0);
    assert_eq!(said.len(), 0);
    let read = survey_of(shots, strike).unwrap();
    assert_eq!(read.0.struck.len(), 1);
    assert_contains(
        &only(&read.1, "struck", Level::Note),
        &[
            "shots.csv line 6",
            "job.toml line 8",
            "shot 17 is struck out",
            "on a stump",
        ],
    );
    let fails = |shots: &str, strike: &str, code: &str| {
        let Err(Failure(said)) = survey_of(shots, strike) else {
            panic!("not refused: {strike}");
        };
        only(&said, code, Level::Error)
    };
    // No such shot; two of the name; a place that is struck out.
    let none = fails(shots, "[[strike]]\nshot = \"71\"\n", "no-shot");
    assert_contains(&none, &["job.toml line 8", "is \"17\" meant?"]);
    let twice = format!("{shots}17,6,6,0,\n");
    let which = fails(&twice, strike, "several-shots");
    assert_contains(
        &which,
        &["line 6", "line 7", "file = \"shots.csv\", line = 6"],
    );
    let by_line = format!("{strike}line = 6\n");
    assert_eq!(z(&sound(&twice, &by_line), 6.0, 6.0), 0.0);
    let used = format!("breaklines = [\"shots:a,17\"]\n{strike}");
    let struck = refused(shots, &used, "struck-shot");
    assert_contains(&struck, &["shot \"17\" is struck out", "shots.csv line 6"]);
}

#[test]
fn shots_outside_are_named_with_their_lines() {
    let shots = format!("{SQUARE}8,20,20,5,\n");
    let outline = "outline = [\"1\", \"2\", \"3\", \"4\"]";
    let (terrain, said) = ground(&shots, outline).unwrap();
    let text = only(&said, "outside", Level::Note);
    // Five shots of the square, then the one outside on line 7.
    assert!(
        text.starts_with("note: shots.csv line 7: shot 8 lies outside"),
        "{text}"
    );
    assert_eq!(terrain.num_shots, 5);
    // Of many, the first twenty are named and the rest counted.
    let far: String = (0..23)
        .map(|k| format!("far{k},{},30,5,\n", 20 + k))
        .collect();
    let (_, said) = ground(&format!("{SQUARE}{far}"), outline).unwrap();
    let note = said.iter().find(|d| d.code == "outside").unwrap();
    assert_eq!(note.at.len(), 20);
    assert!(
        note.message.contains("far19, and 3 more lie outside"),
        "{}",
        note.message
    );
}

/// A plane of 1 in 10 over a square of 10 m.
const SLOPE: &str = "1,0,0,0,\n2,10,0,1,\n3,10,10,1,\n4,0,10,0,\n5,4,6,0.4,\n";

#[test]
fn an_outline_beyond_the_shots_ends_at_them() {
    // The south half, 10 by 5 m, with a corner 5 m outside on either side.
    let half = "outline = [[-5.0, -5.0], [15.0, -5.0], [15.0, 5.0], [-5.0, 5.0]]";
    let (terrain, said) = ground(SLOPE, half).unwrap();
    assert_area_m2(&terrain, 50.0);
    assert_eq!(z(&terrain, 7.0, 2.0), 0.7);
    let note = only(&said, "beyond-shots", Level::Note);
    assert_contains(&note, &["job.toml line 7", "ends at the outermost"]);
    // All of it, and a house that stands half beyond the fence: 3 m of it inside.
    let all = "outline = [[-5, -5], [15, -5], [15, 15], [-5, 15]]\n\
               holes = [[[8.0, 2.0], [12.0, 2.0], [12.0, 5.0], [8.0, 5.0]]]";
    assert_area_m2(&sound(SLOPE, all), 100.0 - 2.0 * 3.0);
    let apart = "outline = [[20, 20], [30, 20], [30, 30]]";
    let words = refused(SLOPE, apart, "no-height");
    assert_contains(&words, &["not one area", "inside the shots"]);
    // Two legs of an outline that stand on the ground, joined beyond it.
    let legs = "outline = [[1, -9], [9, -9], [9, 3], [7, 3], [7, -5], [3, -5], [3, 3], [1, 3]]";
    assert_contains(&refused(SLOPE, legs, "no-height"), &["not one area"]);
    let crossed = "outline = [[-5, -5], [15, 15], [15, -5], [-5, 15]]";
    assert_contains(&refused(SLOPE, crossed, "bad-outline"), &["walking order"]);
    // A line has no height out there.
    let line = refused(SLOPE, "breaklines = [[[5, 5], [15, 5]]]", "no-height");
    assert_contains(&line, &["outside all shots"]);
}

/// Area that two convex rings share: one cut by the sides of the other in turn.
///
/// Source: I. E. Sutherland, G. W. Hodgman, "Reentrant polygon clipping", Communications of the
/// ACM 17 (1974), 32-42.
fn shared_area(ring: &[[f64; 2]], by: &[[f64; 2]]) -> f64 {
    let side = |a: [f64; 2], b: [f64; 2], p: [f64; 2]| {
        (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
    };
    let mut left = ring.to_vec();
    for k in 0..by.len() {
        let (a, b) = (by[k], by[(k + 1) % by.len()]);
        let mut next = Vec::new();
        for i in 0..left.len() {
            let (p, q) = (left[i], left[(i + 1) % left.len()]);
            let (sp, sq) = (side(a, b, p), side(a, b, q));
            if sp >= 0.0 {
                next.push(p);
            }
            if (sp > 0.0 && sq < 0.0) || (sp < 0.0 && sq > 0.0) {
                let t = sp / (sp - sq);
                next.push([p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])]);
            }
        }
        left = next;
    }
    let shoelace = (0..left.len()).map(|i| {
        let (p, q) = (left[i], left[(i + 1) % left.len()]);
        p[0] * q[1] - q[0] * p[1]
    });
    shoelace.sum::<f64>() / 2.0
}

#[test]
fn outlines_beyond_the_shots_against_clipping() {
    let mut random = common::Random(0x0417);
    let mut cut = 0;
    for _ in 0..300 {
        // Shots round an ellipse and inside it, outline of four corners round another centre.
        let round = |n: usize, x: f64, y: f64, r: f64, random: &mut common::Random| {
            (0..n)
                .map(|k| {
                    let turn = (k as f64 + random.between(0.1, 0.9)) / n as f64;
                    let turn = turn * std::f64::consts::TAU;
                    let round_mm = |v: f64| (v * 1000.0).round() / 1000.0;
                    [round_mm(x + r * turn.cos()), round_mm(y + r * turn.sin())]
                })
                .collect::<Vec<[f64; 2]>>()
        };
        let hull = round(9, 20.0, 20.0, 15.0, &mut random);
        let (x, y) = (random.between(5.0, 35.0), random.between(5.0, 35.0));
        let radius = random.between(4.0, 25.0);
        let outline = round(4, x, y, radius, &mut random);
        let mut shots = String::new();
        for (k, [x, y]) in hull.iter().enumerate() {
            shots += &format!("h{k},{x},{y},{},\n", 0.1 * x);
        }
        for k in 0..6 {
            let (x, y) = (random.between(15.0, 25.0), random.between(15.0, 25.0));
            shots += &format!("i{k},{x:.3},{y:.3},{:.4},\n", 0.1 * x);
        }
        let line = format!("outline = {outline:?}");
        let want = shared_area(&outline, &hull);
        match ground(&shots, &line) {
            Ok((terrain, said)) => {
                terrain.surface.check_consistent().unwrap();
                let area = terrain.surface.twice_area_nm2() as f64 / 2.0e18;
                assert!((area - want).abs() < 1e-6, "{area} {want}: {line}");
                cut += usize::from(said.iter().any(|d| d.code == "beyond-shots"));
            }
            Err(Failure(all)) => {
                assert!(want < 1e-6, "{want} m2 refused: {line} {all:?}");
            }
        }
    }
    assert!(cut > 100, "{cut} outlines were cut");
}

/// Of many places that were shot twice the first are named, the rest counted; an error among
/// them still stops the step.
#[test]
fn many_doubled_shots_are_counted() {
    let mut shots = String::new();
    for k in 0..100 {
        let (x, y) = (k % 10, k / 10);
        shots.push_str(&format!("a{k},{x},{y},9,\nb{k},{x},{y},9,\n"));
    }
    let said = |shots: &str| {
        let (job, folder) = job_of(shots, "");
        let (survey, _) = Survey::of(&job, &folder).unwrap();
        build(&survey, &job.ground).map(|(_, said)| said)
    };
    let warned = said(&shots).unwrap();
    assert_eq!(warned.len(), 21);
    let rest = &warned[20];
    assert!(rest.message.starts_with("and 80 more places"), "{rest}");
    let refused = said(&shots.replace("b99,9,9,9", "b99,9,9,8")).unwrap_err();
    assert!(refused.to_string().contains("shots a99, b99"), "{refused}");
}
