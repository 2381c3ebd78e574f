//! Checks through whole jobs: slopes against limits, stretches that need a wall, depth of digs.
//!
//! Expected values are closed forms worked out beside the assertion.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod common;

use approx::assert_relative_eq;
use common::{Folder, run_job, slow_z};
use cutbank::checks::{Severity, Wall};
use cutbank::geom::Point;
use cutbank::outcome::Outcome;

/// A square of 60 m at the level of `z(x, y)` in its corners and on a 10 m grid.
fn ground(z: impl Fn(f64, f64) -> f64) -> String {
    let mut csv = String::from("name,x,y,z\n");
    for i in 0..=6 {
        for j in 0..=6 {
            // Off the grid a little, so that the triangulation is unique.
            let (x, y) = (
                f64::from(i) * 10.0 + f64::from(j) * 0.013,
                f64::from(j) * 10.0,
            );
            csv += &format!("{i}-{j},{x},{y},{}\n", z(x, y));
        }
    }
    csv
}

fn outcome(points: String, features: &str) -> Outcome {
    let job = format!(
        "[job]\nname = \"test\"\nunits = \"m\"\n[[survey]]\npoints = \"points.csv\"\n{features}"
    );
    run_job(Folder::default().with("points.csv", &points), &job)
}

const BERM: &str = r#"
[[feature]]
kind = "berm"
name = "Berm"
outline = [[10.0, 20.0], [30.0, 20.0], [30.0, 22.0], [10.0, 22.0]]
crest = "level:2.0"
side_run_per_rise = 2.0
"#;

/// Stations of a wall must be the difference of the two surfaces there, by an independent
/// look-up; its area that of a fine sampling.
fn assert_heights(outcome: &Outcome, wall: &Wall) {
    let origin = outcome.terrain.origin;
    for s in &wall.stations {
        let p = Point::from_m(s.x_m - origin.x_m as f64, s.y_m - origin.y_m as f64);
        let ground = slow_z(&outcome.terrain.surface, p).unwrap();
        let finished = slow_z(&outcome.design.surface, p).unwrap();
        assert!(
            (s.height_m - (finished - ground).abs()).abs() < 1e-7,
            "{s:?}"
        );
    }
    let area: f64 = wall
        .stations
        .windows(2)
        .map(|w| (w[0].height_m + w[1].height_m) / 2.0 * (w[1].station_m - w[0].station_m))
        .sum();
    assert_relative_eq!(area, wall.face_m2, max_relative = 1e-9);
}

#[test]
fn a_straight_boundary_cuts_a_berm_side() {
    // Level ground at 0, crest 2 m high, sides 2 across : 1 up. The line lies 2 m from the crest
    // edge, so 1 m is left over along the 20 m of crest. At the mitred corners the height stays
    // 1 m for 2 m and then falls to nothing over 2 m.
    let o = outcome(
        ground(|_, _| 0.0),
        &format!(
            "{BERM}[[keep-off]]\nname = \"Line\"\nkind = \"boundary\"\nline = [[-5.0, 24.0], [60.0, 24.0]]\n"
        ),
    );
    let [wall] = o.walls.as_slice() else {
        panic!("{:?}", o.walls)
    };
    assert_relative_eq!(wall.max_height_m, 1.0, max_relative = 1e-8);
    assert_relative_eq!(wall.length_m, 28.0, max_relative = 1e-8);
    assert_relative_eq!(wall.face_m2, 20.0 + 2.0 * (2.0 + 1.0), max_relative = 1e-8);
    assert_relative_eq!(wall.total_height_m, 1.0 + 1.0 / 8.0, max_relative = 1e-8);
    // Past the line: a prism of 1 m2 along the crest, and at each corner the integrals of
    // v (2 - v/2) and (u - 2)(2 - u/2) from 2 to 4: 8/3 + 2/3.
    assert_relative_eq!(
        wall.beyond_m3.unwrap(),
        20.0 + 2.0 * (10.0 / 3.0),
        max_relative = 1e-8
    );
    assert!(wall.holds_fill);
    assert_heights(&o, wall);
    let finding = o.findings.iter().find(|f| f.rule == "no-room").unwrap();
    assert_eq!(finding.severity, Severity::Warn);
    assert_eq!(finding.caution, Some(4));
}

#[test]
fn no_wall_where_there_is_room() {
    // The toe lies 4 m from the crest edge; the line 4.5 m.
    let o = outcome(
        ground(|_, _| 0.0),
        &format!(
            "{BERM}[[keep-off]]\nname = \"Line\"\nkind = \"boundary\"\nline = [[-5.0, 26.5], [60.0, 26.5]]\n"
        ),
    );
    assert!(o.walls.is_empty(), "{:?}", o.walls);
    assert!(!o.says_stop());
}

#[test]
fn a_bent_line_gives_two_walls() {
    // A boundary with a notch pushed back to y = 27: two stretches of wall, none in the notch.
    let o = outcome(
        ground(|_, _| 0.0),
        &format!(
            "{BERM}[[keep-off]]\nname = \"Line\"\nkind = \"boundary\"\n\
             line = [[-5.0, 24.0], [16.0, 24.0], [16.0, 27.0], [24.0, 27.0], [24.0, 24.0], [60.0, 24.0]]\n"
        ),
    );
    assert_eq!(o.walls.len(), 2, "{:?}", o.walls);
    for wall in &o.walls {
        assert_heights(&o, wall);
        assert_relative_eq!(wall.max_height_m, 1.0, max_relative = 1e-8);
        // From the corner of the notch along the crest, the corner of the berm, and back into
        // the notch, where the side falls to nothing over 2 m.
        assert_relative_eq!(wall.length_m, 6.0 + 4.0 + 2.0, max_relative = 1e-8);
        assert_relative_eq!(wall.face_m2, 6.0 + 2.0 + 1.0 + 1.0, max_relative = 1e-8);
    }
}

#[test]
fn a_line_across_a_berm_is_held_on_both_sides() {
    // The line crosses the crest square: 2 m high over its 2 m, falling to nothing over 4 m on
    // either side.
    let o = outcome(
        ground(|_, _| 0.0),
        &format!(
            "{BERM}[[keep-off]]\nname = \"Line\"\nkind = \"boundary\"\nline = [[20.0, 5.0], [20.0, 40.0]]\n"
        ),
    );
    let [wall] = o.walls.as_slice() else {
        panic!("{:?}", o.walls)
    };
    assert_relative_eq!(wall.max_height_m, 2.0, max_relative = 1e-8);
    assert_relative_eq!(wall.length_m, 10.0, max_relative = 1e-8);
    assert_relative_eq!(
        wall.face_m2,
        2.0 * 2.0 + 2.0 * (4.0 * 2.0 / 2.0),
        max_relative = 1e-8
    );
    assert_heights(&o, wall);
}

#[test]
fn a_basin_before_a_concave_building() {
    // A basin 1.5 m deep with sides 1.5 across : 1 up reaches 2.25 m out. An L-shaped building
    // wraps round its corner, 1 m away from the floor on two sides.
    let o = outcome(
        ground(|_, _| 0.0),
        r#"
[[feature]]
kind = "basin"
name = "Basin"
outline = [[20.0, 20.0], [26.0, 20.0], [26.0, 26.0], [20.0, 26.0]]
floor = "level:-1.5"
side_run_per_rise = 1.5
[[keep-off]]
name = "House"
kind = "building"
area = [[27.0, 10.0], [35.0, 10.0], [35.0, 35.0], [10.0, 35.0], [10.0, 27.0], [27.0, 27.0]]
"#,
    );
    let [wall] = o.walls.as_slice() else {
        panic!("{:?}", o.walls)
    };
    assert!(!wall.holds_fill);
    // On either arm: 1 m out the cut is 1.5 - 1/1.5 deep.
    assert_relative_eq!(wall.max_height_m, 1.5 - 1.0 / 1.5, max_relative = 1e-7);
    // Each arm runs from the inner corner (1 m past the floor corner) along 6 + 1 m and then
    // falls to nothing from 1 m past the other corner to 2.25 m.
    let arm = 1.0 + 6.0 + 2.25;
    assert_relative_eq!(wall.length_m, 2.0 * arm, max_relative = 1e-7);
    let h = 1.5 - 1.0 / 1.5;
    assert_relative_eq!(
        wall.face_m2,
        2.0 * (h * 8.0 + h * 1.25 / 2.0),
        max_relative = 1e-7
    );
    assert_heights(&o, wall);
}

#[test]
fn the_example_yard_needs_a_wall_on_real_ground() {
    let book = include_str!("../fixtures/garden/levels.csv");
    let job = include_str!("../fixtures/garden/job.toml");
    let o = run_job(Folder::default().with("levels.csv", book), job);
    assert!(!o.says_stop());
    let [wall] = o.walls.as_slice() else {
        panic!("{:?}", o.walls)
    };
    assert_eq!(
        (wall.feature.as_str(), wall.keep_off.as_str()),
        ("Fall berm", "North boundary")
    );
    assert_heights(&o, wall);
    assert!(
        wall.length_m > 2.0 && wall.length_m < 6.0,
        "{}",
        wall.length_m
    );
}

#[test]
fn slopes_are_held_against_the_users_limit() {
    let points = ground(|_, _| 0.0);
    let severity = |limits: &str| {
        let o = outcome(points.clone(), &format!("{BERM}{limits}"));
        let finding = o
            .findings
            .iter()
            .filter(|f| f.rule == "slope")
            .min_by_key(|f| f.severity)
            .unwrap_or_else(|| panic!("no slope finding"))
            .clone();
        assert_relative_eq!(finding.measured.unwrap().value, 0.5, max_relative = 1e-7);
        (
            finding.severity,
            finding.limit.unwrap().value,
            finding.limit_from,
            o.says_stop(),
        )
    };
    // 2 across : 1 up is the start limit for fill (IBC appendix J107.6 where adopted).
    let (grave, limit, from, stop) = severity("");
    assert_eq!((grave, stop), (Severity::Note, false));
    assert_relative_eq!(limit, 0.5);
    assert!(from.contains("J107.6"));
    let (grave, limit, from, stop) = severity("[limits]\nfill_run_per_rise = 3.0\n");
    assert_eq!((grave, stop), (Severity::Stop, true));
    assert_relative_eq!(limit, 1.0 / 3.0);
    assert!(from.contains("your limit"));
}

#[test]
fn slivers_are_no_cliffs() {
    // Sides that graze rough ground leave slivers; the steepest slope stays that of the part.
    let o = outcome(ground(|x, y| 0.3 * (x * 1.7).sin() * (y * 2.3).cos()), BERM);
    for finding in o.findings.iter().filter(|f| f.rule == "slope") {
        assert!(
            finding.measured.as_ref().unwrap().value < 0.5001,
            "{finding:?}"
        );
    }
}

const PIT: &str = r#"
[[feature]]
kind = "basin"
name = "Pit"
outline = [[20.0, 20.0], [24.0, 20.0], [24.0, 24.0], [20.0, 24.0]]
floor = "level:-1.0"
side_run_per_rise = 1.0
"#;

#[test]
fn depth_counts_from_the_highest_ground_beside() {
    let depth = |o: &Outcome| {
        let f = o
            .findings
            .iter()
            .find(|f| f.rule == "depth")
            .unwrap()
            .clone();
        // The limit printed is the step reached, or the next one where none is.
        let (measured, limit) = (f.measured.unwrap().value, f.limit.unwrap().value);
        assert_eq!(
            measured < limit,
            f.severity == Severity::Note,
            "{}",
            f.words
        );
        (measured, f.severity)
    };
    // Level ground: the depth of the floor.
    let o = outcome(ground(|_, _| 0.0), PIT);
    assert_relative_eq!(depth(&o).0, 1.0, max_relative = 1e-8);
    assert_eq!(depth(&o).1, Severity::Note);
    // Ground rising 0.1 to the east: floor -1 under ground 2.4 at the east edge; the side meets
    // the ground where 1 + 0.1 (24 + t) = t, at a depth of t.
    let o = outcome(ground(|x, _| 0.1 * x), PIT);
    let t = (1.0 + 2.4) / 0.9;
    assert!(depth(&o).0 > t - 1e-6, "{} is less than {t}", depth(&o).0);
    assert_eq!(
        depth(&o).1,
        Severity::Stop,
        "steeper than 1.5 across : 1 up and over 5 ft deep"
    );
    // Between 4 and 5 ft the rule is the way out.
    let o = outcome(ground(|_, _| 0.3), PIT);
    let warned = o.findings.iter().find(|f| f.rule == "depth").unwrap();
    assert_eq!(depth(&o).1, Severity::Warn);
    assert_relative_eq!(warned.limit.as_ref().unwrap().value, 4.0 * 0.3048);
    // A berm beside the pit counts: its crest at 1.2 stands 1.5 m from the edge of the floor,
    // inside the line of 1.5 across : 1 up from there.
    let berm = r#"
[[feature]]
kind = "berm"
name = "Berm"
outline = [[25.5, 18.0], [26.5, 18.0], [26.5, 26.0], [25.5, 26.0]]
crest = "level:1.2"
side_run_per_rise = 2.0
"#;
    let o = outcome(ground(|_, _| 0.0), &format!("{berm}{PIT}"));
    assert_relative_eq!(depth(&o).0, 1.0 + 1.2, max_relative = 1e-7);
}

#[test]
fn the_far_end_of_a_long_stream_is_not_beside_it() {
    // A bed 0.5 m under ground that falls 6 m over 30 m is 0.5 m deep (and a little more up the
    // slope beside it), not 6 m.
    let o = outcome(
        ground(|x, _| 12.0 - 0.2 * x),
        r#"
[[feature]]
kind = "stream"
name = "Stream"
line = [[10.0, 30.0], [40.0, 30.0]]
levels = ["depth:0.5", "depth:0.5"]
width = 0.6
side_run_per_rise = 2.0
"#,
    );
    let f = o.findings.iter().find(|f| f.rule == "depth").unwrap();
    let depth = f.measured.as_ref().unwrap().value;
    assert!((0.5..1.0).contains(&depth), "{depth}");
}

#[test]
fn roots_and_services_are_named_with_what_is_touched() {
    let o = outcome(
        ground(|_, _| 0.0),
        &format!(
            "{PIT}[[keep-off]]\nname = \"Oak\"\nkind = \"roots\"\ncentre = [28.0, 22.0]\nradius = 4.0\n\
             [[keep-off]]\nname = \"Cable\"\nkind = \"service\"\nline = [[0.0, 40.0], [50.0, 40.0]]\nhalf_width = 0.6\n"
        ),
    );
    let found: Vec<_> = o.findings.iter().filter(|f| f.rule == "keep-off").collect();
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(
        (found[0].severity, found[0].caution),
        (Severity::Warn, Some(10))
    );
    // The circle reaches from x = 24 on; the side covers it to x = 25 between y = 19 and 25,
    // between y = 22 -+ sqrt(16 - (28 - x)^2): the segment of a circle of height 1 and radius 4.
    let segment = 16.0 * (3.0f64 / 4.0).acos() - 3.0 * (16.0f64 - 9.0).sqrt();
    assert_relative_eq!(
        found[0].measured.as_ref().unwrap().value,
        segment,
        max_relative = 5e-3
    );
    assert!(o.cautions.iter().any(|c| c.number == 10));
}

#[test]
fn a_side_that_never_lands_is_said_not_looped() {
    // Fill at 3 across : 1 up on ground falling 1 in 2 never meets it (z g >= 1, rule GR-9).
    let o = outcome(
        ground(|x, _| -0.5 * x),
        r#"
[[feature]]
kind = "berm"
name = "Berm"
outline = [[10.0, 20.0], [14.0, 20.0], [14.0, 24.0], [10.0, 24.0]]
crest = "level:-3.0"
side_run_per_rise = 3.0
"#,
    );
    let f = o.findings.iter().find(|f| f.rule == "off-survey").unwrap();
    assert_eq!(f.severity, Severity::Stop);
    assert!(o.says_stop());
}

#[test]
fn a_stream_on_a_settling_berm_is_built_higher() {
    // Crest 2 m above level ground, settlement 20 %: built at 2.4 m. A bed at 1.8 m there is
    // built at 1.8 + 0.2 * 1.8 and settles to 1.8.
    let o = outcome(
        ground(|_, _| 0.0),
        r#"
[[feature]]
kind = "berm"
name = "Berm"
line = [[20.0, 30.0], [30.0, 30.0]]
width = 2.0
crest = "level:2.0"
side_run_per_rise = 2.0
settlement_percent = 20
[[feature]]
kind = "stream"
name = "Stream"
line = [[25.0, 30.0], [25.0, 29.5]]
width = 0.5
start = "level:1.8"
fall_percent = 0
side_run_per_rise = 2.0
"#,
    );
    let head = Point::from_m(25.0, 29.8);
    assert_relative_eq!(o.design.surface.z_at(head).unwrap(), 1.8, epsilon = 1e-7);
    let built = o.design.built.as_ref().unwrap();
    assert_relative_eq!(built.z_at(head).unwrap(), 1.8 + 0.2 * 1.8, epsilon = 1e-7);
}

#[test]
fn floors_on_a_line_and_in_an_area_say_stop() {
    // The line runs through the floor; the shed stands wholly inside it.
    let keep_offs = "[[keep-off]]\nname = \"Line\"\nkind = \"boundary\"\nline = [[22.0, 5.0], [22.0, 40.0]]\n\
         [[keep-off]]\nname = \"Shed\"\nkind = \"building\"\narea = [[21.0, 21.0], [23.0, 21.0], [23.0, 23.0], [21.0, 23.0]]\n";
    let o = outcome(ground(|_, _| 0.0), &format!("{PIT}{keep_offs}"));
    let stops: Vec<_> = o
        .findings
        .iter()
        .filter(|f| f.rule == "keep-off" && f.severity == Severity::Stop)
        .collect();
    assert_eq!(stops.len(), 2, "{stops:?}");
    // 4 m of floor on the line; 4 m2 of shed on the floor.
    assert_relative_eq!(
        stops[0].measured.as_ref().unwrap().value,
        4.0,
        max_relative = 1e-6
    );
    assert_relative_eq!(
        stops[1].measured.as_ref().unwrap().value,
        4.0,
        max_relative = 1e-6
    );
}

#[test]
fn vertical_sides_are_faces_to_be_held() {
    let o = outcome(
        ground(|_, _| 0.0),
        &BERM.replace("side_run_per_rise = 2.0", "side_run_per_rise = 0"),
    );
    let faces: Vec<_> = o.findings.iter().filter(|f| f.rule == "face").collect();
    assert_eq!(faces.len(), 4, "{faces:?}");
    for face in faces {
        // 2 m is over 5 ft.
        assert_eq!((face.severity, face.caution), (Severity::Stop, Some(2)));
        assert_relative_eq!(
            face.measured.as_ref().unwrap().value,
            2.0,
            max_relative = 1e-3
        );
    }
}

#[test]
fn a_hill_cut_behind_the_daylight_is_named_or_left() {
    // Level ground, and from x = 30 on a bank rising 3 in 10: the side of the pit, 2 in 10,
    // daylights at x = 29, and from x = 32 on its plane passes under the bank.
    let bank = |x: f64, _: f64| ((x - 30.0) * 0.3).clamp(0.0, 20.0);
    let pit = PIT.replace("side_run_per_rise = 1.0", "side_run_per_rise = 5.0");
    let o = outcome(ground(bank), &pit);
    let f = o
        .findings
        .iter()
        .find(|f| f.rule == "behind-daylight")
        .unwrap();
    assert_eq!(f.severity, Severity::Warn);
    let o2 = outcome(ground(bank), &format!("{pit}behind_daylight = \"leave\"\n"));
    assert!(o2.findings.iter().all(|f| f.rule != "behind-daylight"));
    assert!(o2.to_build.cut_m3 < o.to_build.cut_m3);
}

#[test]
fn a_book_that_does_not_close_says_stop() {
    let book = "setup,point,x,y,type,rod\n1,BM,0,0,BS,1.5\n1,a,10,0,IS,1.2\n1,b,0,10,IS,1.2\n1,c,10,10,IS,1.2\n1,BM,,,FS,1.9\n";
    let job = "[job]\nname = \"book\"\nunits = \"m\"\n[[survey]]\nlevels = \"book.csv\"\nrod = \"metric\"\nbenchmark = { name = \"BM\", level = 100.0 }\n";
    let o = run_job(Folder::default().with("book.csv", book), job);
    let f = o.findings.iter().find(|f| f.rule == "level-book").unwrap();
    assert_eq!(f.severity, Severity::Stop);
    assert_relative_eq!(f.measured.as_ref().unwrap().value, 0.4, max_relative = 1e-9);
}
