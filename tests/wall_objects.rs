//! Walls as objects: what is dug, stone, body, courses, units, pipe and refill against closed
//! forms and counts by hand; refusals in words; a real yard.
#![allow(clippy::unwrap_used)]

mod common;

use common::{Folder, close, near, run_job};
use cutbank::checks::WallWork;
use cutbank::files::OneThread;
use cutbank::outcome::Outcome;
use cutbank::run::{read_job, run};
use cutbank::surface::Surface;

/// Share by which a volume may be off where upright faces lean 1e-4 and the body with them.
const LEAN: f64 = 5.0e-4;

fn folder(plane: impl Fn(f64, f64) -> f64, rest: &str) -> (Folder, String) {
    let mut csv = String::from("name,x,y,z\n");
    for (k, [x, y]) in [[0.0, 0.0], [60.0, 0.0], [60.0, 60.0], [0.0, 60.0]]
        .iter()
        .enumerate()
    {
        csv += &format!("P{k},{x},{y},{}\n", plane(*x, *y));
    }
    let job = format!(
        "[job]\nname = \"T\"\nunits = \"m\"\n[soil]\nkind = \"sand, damp\"\n\
         [[survey]]\npoints = \"p.csv\"\n{rest}"
    );
    (Folder::default().with("p.csv", &csv), job)
}

fn laid(plane: impl Fn(f64, f64) -> f64, rest: &str) -> Outcome {
    let (folder, job) = folder(plane, rest);
    let outcome = run_job(folder, &job);
    for surface in [Some(&outcome.design.surface), outcome.design.dug.as_ref()]
        .into_iter()
        .flatten()
    {
        surface.check_consistent().unwrap();
    }
    outcome
}

fn refused(rest: &str) -> String {
    let (folder, job) = folder(
        |_, _| 10.0,
        &format!("[[feature]]\nkind = \"wall\"\nname = \"W\"\n{rest}\n"),
    );
    let folder = folder.with("job.toml", &job);
    match read_job(&folder).and_then(|(job, _)| run(job, &folder, &OneThread)) {
        Ok(_) => panic!("not refused: {rest}"),
        Err(failure) => failure.to_string(),
    }
}

fn wall(outcome: &Outcome) -> &WallWork {
    outcome.wall_works.last().unwrap()
}

fn z(surface: &Surface, outcome: &Outcome, x: f64, y: f64) -> f64 {
    let o = outcome.terrain.origin;
    let p = cutbank::geom::Point::from_m(x - o.x_m as f64, y - o.y_m as f64);
    surface.z_at(p).unwrap()
}

/// A terrace 1.2 high with an upright face along y = 30.
const TERRACE: &str = "[[feature]]\nkind = \"pad\"\nname = \"terrace\"\n\
    outline = [[10, 30], [30, 30], [30, 40], [10, 40]]\nlevel = \"level:11.2\"\n\
    cut_run_per_rise = 1.5\nfill_run_per_rise = 0.0\n";

#[test]
fn a_straight_wall_on_flat_ground() {
    let rest = format!(
        "{TERRACE}[[feature]]\nkind = \"wall\"\nname = \"W\"\nline = [[10, 30], [30, 30]]\nholds = \"left\"\n\
         thickness = 0.6\ntop = \"height:1.2\"\ncourse = 0.15\nunit = 0.4\nmade_of = \"concrete\"\n\
         base_stone = {{ thick = 0.15, before = 0.15, behind = 0.15 }}\n\
         drain_stone = {{ width = 0.3, soil_cap = 0.2 }}\npipe = {{ outlet = \"end\" }}\n"
    );
    let outcome = laid(|_, _| 10.0, &rest);
    let q = &wall(&outcome).quantities;
    // An eighth of 1.2 buried: base at 9.85, 9 courses of 0.15 to 11.2.
    near("base", q.stations[0].base_m, 9.85, 1e-9);
    near("top", q.stations[0].top_m, 11.2, 1e-9);
    near("exposed", q.stations[0].exposed_m.unwrap(), 1.2, 1e-9);
    near("total", q.stations[0].total_m, 1.2 + 0.15 + 0.15, 1e-9);
    assert_eq!(q.stations[0].courses, Some(9));
    assert_eq!(q.courses.len(), 9);
    assert_eq!(q.units, Some(9 * 50));
    assert!(q.steps.is_empty());
    let length = 20.0;
    close("body", q.body_m3, length * 0.6 * 1.35, 1e-9);
    close("base stone", q.base_stone_m3, length * 0.9 * 0.15, 1e-9);
    // From the base to 0.2 below the terrace.
    close(
        "drain stone",
        q.drain_stone_m3,
        length * 0.3 * (11.2 - 0.2 - 9.85),
        LEAN,
    );
    // Before the foot down to the stone, and the cap; behind the base stone the drain goes on.
    close(
        "refill",
        q.refill_m3,
        length * (0.15 * 0.15 + 0.3 * 0.2),
        20.0 * LEAN,
    );
    close("face", q.face_m2, length * 1.35, 1e-9);
    close("exposed face", q.exposed_face_m2, length * 1.2, 1e-9);
    // One percent over its length.
    close(
        "pipe",
        q.pipe_m.unwrap(),
        length * 0.01_f64.hypot(1.0),
        1e-9,
    );
    near("outlet", q.outlet_below_ground_m.unwrap(), 0.15, 1e-9);
    near("pipe above base", q.pipe_above_base_m.unwrap(), 0.2, 1e-9);
    // What is dug below the ground: the base trench, and the drain trench beyond it.
    let dug = outcome
        .to_build
        .features
        .iter()
        .find(|f| f.name == "W")
        .unwrap();
    close(
        "trench",
        dug.cut_m3,
        length * (0.9 * 0.30 + 0.15 * 0.15),
        LEAN,
    );
    close("refilled soil", dug.refill_m3, q.refill_m3, 1e-12);
    // Body and stone are no soil.
    // (but for what lies under the lean of an upright face).
    assert!(outcome.to_build.other_fill_m3 < 0.01);
    // The fill of the terrace is counted without wall and stone: 0.9 wide from the foot.
    let terrace = outcome
        .to_build
        .features
        .iter()
        .find(|f| f.name == "terrace")
        .unwrap();
    close(
        "terrace",
        terrace.fill_m3,
        length * 1.2 * (10.0 - 0.9),
        LEAN,
    );
    // The lean of the terrace over its edge.
    assert!(q.drain_in_fill_m3 < 0.005, "{}", q.drain_in_fill_m3);
    // The finished terrace goes on over the wall.
    near(
        "finished",
        z(&outcome.design.surface, &outcome, 20.0, 30.3),
        11.2,
        1e-9,
    );
}

#[test]
fn stone_counted_twice_is_said() {
    // The same, the wall listed first: the terrace covers its trench.
    let wall = "[[feature]]\nkind = \"wall\"\nname = \"W\"\nline = [[10, 30], [30, 30]]\nholds = \"left\"\n\
         thickness = 0.6\ntop = \"height:1.2\"\ndrain_stone = { width = 0.3 }\n";
    let said = |outcome: &Outcome| {
        outcome
            .findings
            .iter()
            .any(|f| f.words.contains("are counted as both"))
    };
    let first = laid(|_, _| 10.0, &format!("{wall}{TERRACE}"));
    assert!(said(&first));
    // From the ground up: what is dug below it is dug in both orders.
    close(
        "both",
        first.wall_works[0].quantities.drain_in_fill_m3,
        20.0 * 0.3 * 1.35,
        LEAN,
    );
    assert!(!said(&laid(|_, _| 10.0, &format!("{TERRACE}{wall}"))));
}

#[test]
fn courses_step_up_a_slope() {
    // z = 10 + 0.1 x along the wall from x = 10: the base may not pass 1.125 z - 14.05 / 8 =
    // 10.61875 + 0.1125 s. In courses of 0.2 that is k = floor(0.5625 s) courses up; at whole
    // units of 0.5 the base rises at 2, 4, 5.5, 7.5, 9, 11, 12.5, 14.5, 16 and 18.
    let rest = "[[feature]]\nkind = \"wall\"\nname = \"W\"\nline = [[10, 30], [30, 30]]\nholds = \"left\"\n\
        thickness = 0.4\ntop = \"level:14.05\"\ncourse = 0.2\nunit = 0.5\ncap = 0.05\n\
        base_stone = { thick = 0.1 }\n";
    let outcome = laid(|x, _| 10.0 + 0.1 * x, rest);
    let q = &wall(&outcome).quantities;
    let at: Vec<f64> = q.steps.iter().map(|s| s.station_m).collect();
    let want = [2.0, 4.0, 5.5, 7.5, 9.0, 11.0, 12.5, 14.5, 16.0, 18.0];
    assert_eq!(at.len(), want.len(), "{at:?}");
    for (k, (step, want)) in q.steps.iter().zip(want).enumerate() {
        near("step", step.station_m, want, 1e-9);
        near("base", step.base_m[0], 10.61875 + 0.2 * k as f64, 1e-9);
        near("rise", step.base_m[1] - step.base_m[0], 0.2, 1e-9);
    }
    // 17 courses and the cap: 10.61875 + 3.4 + 0.05, the next above 14.05.
    let top = 14.06875;
    assert!(q.stations.iter().all(|p| (p.top_m - top).abs() < 1e-9));
    assert_eq!(q.courses.len(), 17);
    let units: Vec<u32> = q.courses.iter().map(|c| c.units.unwrap()).collect();
    assert_eq!(
        units,
        [
            4, 8, 11, 15, 18, 22, 25, 29, 32, 36, 40, 40, 40, 40, 40, 40, 40
        ]
    );
    assert_eq!(q.units, Some(480));
    assert_eq!(q.cap_units, Some(40));
    near("cap", q.cap_m.unwrap(), 20.0, 1e-9);
    // Body: every course at its length, and the cap.
    let courses: f64 = units.iter().map(|&n| f64::from(n) * 0.5 * 0.2 * 0.4).sum();
    close("body", q.body_m3, courses + 20.0 * 0.05 * 0.4, 1e-9);
    close("base stone", q.base_stone_m3, 20.0 * 0.4 * 0.1, 1e-9);
    // Buried by the rule everywhere, for the height asked for.
    for p in &q.stations {
        let ground = 10.0 + 0.1 * (10.0 + p.station_m);
        let rule = (14.05 - ground) / 8.0;
        assert!(ground - p.base_m >= rule - 1e-9, "{p:?}");
    }
    // Trench: under every stretch from the ground to its stone, ground mean at its middle.
    let mut from = 0.0;
    let mut trench = 0.0;
    for (k, to) in want.into_iter().chain([20.0]).enumerate() {
        let ground = 11.0 + 0.1 * (from + to) / 2.0;
        trench += (to - from) * 0.4 * (ground - (10.61875 + 0.2 * k as f64 - 0.1));
        from = to;
    }
    let dug = outcome
        .to_build
        .features
        .iter()
        .find(|f| f.name == "W")
        .unwrap();
    close("trench", dug.cut_m3, trench, LEAN);
}

#[test]
fn a_bent_wall() {
    // A right angle to the left, 10 and 10 long; inside, an L of width w has 20 w - w2.
    let inside = |w: f64| 20.0 * w - w * w;
    let rest = |holds: &str| {
        format!(
            "[[feature]]\nkind = \"wall\"\nname = \"W\"\nline = [[10, 30], [20, 30], [20, 40]]\nholds = \"{holds}\"\n\
             thickness = 0.6\ntop = \"level:11\"\nbase = \"level:9.8\"\n\
             base_stone = {{ thick = 0.1, before = 0.2, behind = 0.3 }}\n\
             drain_stone = {{ width = 0.3 }}\npipe = {{ outlet = \"start\", fall_percent = 0 }}\n"
        )
    };
    let left = laid(|_, _| 10.0, &rest("left"));
    let q = &wall(&left).quantities;
    close("body", q.body_m3, inside(0.6) * 1.2, 1e-9);
    close(
        "base stone",
        q.base_stone_m3,
        (inside(0.9) - inside(-0.2)) * 0.1,
        1e-9,
    );
    // Level ground behind: stone from 9.8 to 10.
    close(
        "drain stone",
        q.drain_stone_m3,
        (inside(0.9) - inside(0.6)) * 0.2,
        10.0 * LEAN,
    );
    close("pipe", q.pipe_m.unwrap(), 20.0 - 2.0 * 0.75, 1e-9);
    let right = laid(|_, _| 10.0, &rest("right"));
    let q = &wall(&right).quantities;
    close("body", q.body_m3, -inside(-0.6) * 1.2, 1e-9);
    close("pipe", q.pipe_m.unwrap(), 20.0 + 2.0 * 0.75, 1e-9);
    // A leaning face: less by the prism before it; at the corner its planes meet in a mitre.
    let leaning = rest("left") + "batter_run_per_rise = 0.1\n";
    let leaning = laid(|_, _| 10.0, &leaning);
    let q = &wall(&leaning).quantities;
    let before = 20.0 * 0.12 * 1.2 / 2.0 - 0.12 * 0.12 * 1.2 / 3.0;
    close("body", q.body_m3, inside(0.6) * 1.2 - before, 1e-9);
    close("face", q.face_m2, 20.0 * 1.2 * 0.1_f64.hypot(1.0), 1e-9);
}

#[test]
fn a_cross_slope_buries_by_the_lowest_ground() {
    // z = 10 + 0.2 (y - 30) rises behind the wall; a foot before it it lies 0.06 lower.
    let rest = "[[feature]]\nkind = \"wall\"\nname = \"W\"\nline = [[10, 30], [30, 30]]\nholds = \"left\"\n\
        thickness = 0.5\ntop = \"level:10.9\"\ndrain_stone = { width = 0.4, soil_cap = 0.1 }\n";
    let outcome = laid(|_, y| 10.0 + 0.2 * (y - 30.0), rest);
    let q = &wall(&outcome).quantities;
    near("base", q.stations[0].base_m, 9.94 - 0.96 / 8.0, 1e-9);
    // Behind, from 0.5 to 0.9: ground at 10.14 on the mean.
    close(
        "drain stone",
        q.drain_stone_m3,
        20.0 * 0.4 * (10.14 - 0.1 - 9.82),
        10.0 * LEAN,
    );
    close("body", q.body_m3, 20.0 * 0.5 * (10.9 - 9.82), 1e-9);
    near(
        "behind",
        q.stations[0].behind_m.unwrap(),
        10.0 + 0.2 * 0.51,
        1e-9,
    );
}

#[test]
fn tops_at_stations_and_a_closed_line() {
    let rest = "[[feature]]\nkind = \"wall\"\nname = \"W\"\nline = [[10, 30], [30, 30]]\nholds = \"right\"\n\
        thickness = 0.4\nburied = 0.2\ntops = [{ at = 5.0, level = \"level:11\" }, { at = 15.0, level = \"level:12\" }]\n";
    let outcome = laid(|_, _| 10.0, rest);
    let q = &wall(&outcome).quantities;
    // Straight between, even beyond: 5 at 1, 10 at 1.5, 5 at 2 above ground; 0.2 below it.
    close(
        "body",
        q.body_m3,
        0.4 * (5.0 + 15.0 + 10.0 + 20.0 * 0.2),
        1e-9,
    );
    near(
        "middle",
        z(&outcome.design.surface, &outcome, 20.0, 29.8),
        11.5,
        1e-9,
    );
    // A planter, started between two corners: the body is a frame.
    let rest = "[[feature]]\nkind = \"wall\"\nname = \"W\"\n\
        line = [[22, 30], [24, 30], [24, 34], [20, 34], [20, 30], [22, 30]]\nholds = \"left\"\n\
        thickness = 0.3\ntop = \"level:10.6\"\nbase = \"level:9.9\"\n";
    let outcome = laid(|_, _| 10.0, rest);
    close(
        "frame",
        wall(&outcome).quantities.body_m3,
        (16.0 - 3.4 * 3.4) * 0.7,
        1e-9,
    );
    let design = &outcome.design.surface;
    for (x, y, top) in [
        (22.0, 30.15, 10.6),
        (23.9, 33.9, 10.6),
        (20.1, 30.1, 10.6),
        (22.0, 32.0, 10.0),
    ] {
        near("top", z(design, &outcome, x, y), top, 1e-9);
    }
}

#[test]
fn what_makes_no_sense_is_refused_in_words() {
    let base = "line = [[10, 30], [30, 30]]\nholds = \"left\"\nthickness = 0.5\n";
    let top = "top = \"level:11\"\n";
    for (rest, words) in [
        (format!("{base}{top}unit = 0.4"), "units are counted in courses, and this wall has none"),
        (format!("{base}{top}course = 8.0"), "`course` lies between 0.02 and 1.50 m"),
        (format!("{base}{top}course = 0.02\nsteps = [{{ at = 3.0, top = \"level:30\" }}]"), "more than 400"),
        (format!("{base}{top}pipe = {{ outlet = \"end\" }}"), "a drain pipe lies in stone"),
        (format!("{base}{top}drain_stone = {{ width = 0.3 }}\npipe = {{ fall_percent = 1 }}"), "needs `outlet`"),
        (format!("{base}{top}drain_stone = {{ width = 0.3 }}\npipe = {{ outlet = \"end\", fall_percent = 40 }}"), "falls by 0 to 20 percent"),
        (format!("{base}{top}drain_stone = {{ width = -0.3 }}"), "`width` lies between 0.05 and 10.00 m"),
        (format!("{base}{top}drain_stone = {{ width = 0.3, cap = 1 }}"), "cap"),
        (format!("{base}{top}base_stone = {{ before = 0.3 }}"), "needs `thick`"),
        (format!("{base}{top}weight = 20"), "no wall weighs 20 kg/m3"),
        (format!("{base}{top}made_of = \"cheese\""), "cheese"),
        (format!("{base}{top}tops = [{{ at = 0.0, level = \"level:11\" }}]"), "has `top`, `tops` at once"),
        (format!("{base}tops = [{{ at = 21.0, level = \"level:11\" }}]"), "this level of the top is 21.00 m from the head, but the line is 20.00 m long"),
        (format!("{base}top = \"level:9.0\""), "there is no wall"),
        (format!("{base}{top}base = \"level:9.5\"\nburied = 0.2"), "has `buried`, `base` at once"),
        (
            "line = [[20, 30], [24, 30], [24, 34], [20, 34], [20, 30]]\nholds = \"left\"\nthickness = 0.3\ntop = \"level:11\"".to_owned(),
            "start and end the line between two corners, such as at 22.00 m E, 30.00 m N",
        ),
        (
            "line = [[50, 30], [70, 30]]\nholds = \"left\"\nthickness = 0.3\ntop = \"level:11\"\ncourse = 0.2\nline2 = 3".to_owned(),
            "line2",
        ),
    ] {
        let said = refused(&rest);
        assert!(said.contains(words), "{rest}\n{said}");
        assert!(said.contains("job.toml line"), "{said}");
    }
}

#[test]
fn a_course_taller_than_what_is_left_still_makes_a_wall() {
    // A wall of half a course takes one: the top goes up.
    let rest = "[[feature]]\nkind = \"wall\"\nname = \"W\"\nline = [[10, 30], [14, 30]]\nholds = \"left\"\n\
        thickness = 0.3\ntop = \"height:0.1\"\ncourse = 0.2\nunit = 0.4\n";
    let outcome = laid(|_, _| 10.0, rest);
    let q = &wall(&outcome).quantities;
    assert_eq!((q.courses.len(), q.units), (1, Some(10)));
    near("top", q.stations[0].top_m, 10.0 - 0.1 / 8.0 + 0.2, 1e-9);
}

#[test]
fn what_stood_before_a_leaning_face_is_taken_away() {
    // The terrace stands up to y = 30; the face of the wall goes back 0.2 for 1 up from 9.85.
    let rest = format!(
        "{TERRACE}[[feature]]\nkind = \"wall\"\nname = \"W\"\nline = [[10, 30], [30, 30]]\nholds = \"left\"\n\
         thickness = 0.8\ntop = \"level:11.2\"\nbatter_run_per_rise = 0.2\n"
    );
    let outcome = laid(|_, _| 10.0, &rest);
    for (y, want) in [
        (30.1, 9.85 + 0.5),
        (30.2, 9.85 + 1.0),
        (30.01, 10.0),
        (30.5, 11.2),
    ] {
        near(
            "finished",
            z(&outcome.design.surface, &outcome, 20.0, y),
            want,
            1e-6,
        );
    }
    // The same in a cut: the terrace is the ground, and a pad is dug before it.
    let dug = "[[feature]]\nkind = \"pad\"\nname = \"patio\"\noutline = [[10, 20], [30, 20], [30, 30], [10, 30]]\n\
        level = \"level:8.8\"\ncut_run_per_rise = 0.0\nfill_run_per_rise = 2.0\n\
        [[feature]]\nkind = \"wall\"\nname = \"W\"\nline = [[10, 30], [30, 30]]\nholds = \"left\"\n\
        thickness = 0.8\ntop = \"level:10\"\nbatter_run_per_rise = 0.2\n";
    let outcome = laid(|_, _| 10.0, dug);
    // The rule counts from what was dug before it: an eighth of 1.2 below 8.8.
    near(
        "base",
        wall(&outcome).quantities.stations[0].base_m,
        8.65,
        1e-9,
    );
    for (y, want) in [
        (30.1, 8.65 + 0.5),
        (30.2, 8.65 + 1.0),
        (30.01, 8.8),
        (30.5, 10.0),
    ] {
        near(
            "finished",
            z(&outcome.design.surface, &outcome, 20.0, y),
            want,
            1e-6,
        );
    }
}

/// An invented hillside in feet, shot every four feet or so.
fn hillside() -> String {
    let mut csv = String::from("name,x,y,z\n");
    for i in 0..=20 {
        for j in 0..=16 {
            let (x, y) = (
                4.0 * f64::from(i) + 0.3 * f64::from(j % 3),
                4.0 * f64::from(j) + 0.2 * f64::from(i % 4),
            );
            let z = 100.0 + 0.12 * y + 0.03 * x + 0.4 * (x / 9.0).sin() * (y / 7.0).cos();
            csv += &format!("{i}-{j},{x:.2},{y:.2},{z:.3}\n");
        }
    }
    csv
}

const HILLSIDE_JOB: &str = r#"
[job]
name = "Hillside"
units = "ft"
[soil]
kind = "sand, damp"
friction_degrees = 32
weight = 115
[[survey]]
points = "p.csv"
[[feature]]
kind = "pad"
name = "Lawn"
outline = [[16, 30], [40, 28], [64, 32], [62, 46], [18, 46]]
level = "level:106.6"
cut_run_per_rise = 2.0
fill_run_per_rise = 0.0
[[feature]]
kind = "wall"
name = "Lawn wall"
line = [[16, 30], [40, 28], [64, 32]]
bend_radius = 12
holds = "left"
thickness = 1.6
tops = [{ at = 0, level = "level:106.6" }, { at = 24, level = "level:106.9" }, { at = 40, level = "level:106.6" }]
batter_run_per_rise = 0.08
steps = [{ at = 10, buried = 0.7 }]
course = 0.5
unit = 1.25
cap = 0.2
weight = 140
base_stone = { thick = 0.5, before = 0.4, behind = 0.3 }
drain_stone = { width = 1.0, soil_cap = 0.4 }
pipe = { outlet = "end", fall_percent = 1.5 }
[[area]]
name = "walk"
use = "path"
area = [[30, 32], [50, 32], [50, 34], [30, 34]]
"#;

#[test]
fn a_wall_with_all_its_parameters_on_a_hillside() {
    const FT: f64 = 0.3048;
    let outcome = run_job(Folder::default().with("p.csv", &hillside()), HILLSIDE_JOB);
    let (design, dug) = (
        &outcome.design.surface,
        outcome.design.dug.as_ref().unwrap(),
    );
    design.check_consistent().unwrap();
    dug.check_consistent().unwrap();
    let work = wall(&outcome);
    let q = &work.quantities;
    assert!(!q.steps.is_empty());
    let lowest = q
        .stations
        .iter()
        .map(|p| p.base_m)
        .fold(f64::INFINITY, f64::min);
    for p in &q.stations {
        // Whole courses from the lowest base, and from base to cap.
        let up = (p.base_m - lowest) / (0.5 * FT);
        near("base", up, up.round(), 1e-6);
        let courses = (p.top_m - p.base_m - 0.2 * FT) / (0.5 * FT);
        near("courses", courses, f64::from(p.courses.unwrap()), 1e-6);
        // Never lower than asked for.
        let s = p.station_m / FT;
        let wanted = if s < 24.0 {
            106.6 + 0.3 * s / 24.0
        } else {
            (106.9 - 0.3 * (s - 24.0) / 16.0).min(106.9)
        };
        assert!(
            p.top_m / FT >= wanted - 1e-6,
            "{s}: {} {wanted}",
            p.top_m / FT
        );
        // Buried: by the rule before the step, by 0.7 after it.
        let ground = z(&outcome.terrain.surface, &outcome, p.x_m, p.y_m);
        let rule = if s < 10.0 - 1e-6 {
            (wanted * FT - ground) / 8.0
        } else {
            0.7 * FT
        };
        assert!(
            ground - p.base_m >= rule - 1e-6,
            "{s}: {} {rule}",
            ground - p.base_m
        );
    }
    // Units counted again, course by course, from stretches between steps.
    let mut spans: Vec<(f64, f64, f64, f64)> = Vec::new();
    for w in q.stations.windows(2) {
        if w[1].station_m > w[0].station_m {
            spans.push((
                w[0].station_m,
                w[1].station_m,
                w[0].base_m,
                w[0].top_m - 0.2 * FT,
            ));
        }
    }
    let mut units = 0;
    for course in &q.courses {
        let (low, high) = (
            course.underside_m + 1e-6,
            course.underside_m + 0.5 * FT - 1e-6,
        );
        let (mut run, mut length) = (0.0, 0.0);
        for &(from, to, base, top) in &spans {
            if base < low && top > high {
                run += to - from;
            } else {
                length += run;
                units += (run / (1.25 * FT) - 1e-6).ceil().max(0.0) as u32;
                run = 0.0;
            }
        }
        length += run;
        units += (run / (1.25 * FT) - 1e-6).ceil().max(0.0) as u32;
        close("course", length, course.length_m, 1e-9);
    }
    assert_eq!(q.units, Some(units));
    // The room over the trench, sampled, is wall, stone and soil put back.
    let number = q.feature;
    let step = 0.05 * FT;
    let (mut room, o) = (0.0, outcome.terrain.origin);
    for i in 0..1000 {
        for j in 0..200 {
            let (x, y) = (
                (15.0 * FT) + step * f64::from(i),
                26.0 * FT + step * f64::from(j),
            );
            let p = cutbank::geom::Point::from_m(x - o.x_m as f64, y - o.y_m as f64);
            let Some(facet) = dug.facet_at(p) else {
                continue;
            };
            if outcome.design.parts[dug.label(facet) as usize].feature == Some(number) {
                room += (design.z_at(p).unwrap() - dug.z_at(p).unwrap()).max(0.0) * step * step;
            }
        }
    }
    close(
        "room",
        q.body_m3 + q.base_stone_m3 + q.drain_stone_m3 + q.refill_m3,
        room,
        0.01,
    );
    assert!(q.refill_m3 > 0.0 && q.drain_stone_m3 > 0.0);
    // The path behind is a load and stands in the numbers; figures of the job are named so.
    assert!(work.surcharges.iter().any(|s| s.words.contains("walk")));
    let section = &work.sections[0];
    assert!(section.surcharge_pa > 0.0);
    assert_eq!(section.friction_from, "your figure");
    assert_eq!(section.friction_degrees.unwrap().low, 32.0);
    close(
        "weight",
        section.wall_kg_m3,
        140.0 * 0.45359237 / 0.028316846592,
        1e-12,
    );
    sheets(&outcome);
}

/// What the sheets of a yard with one wall must be.
fn sheets(outcome: &Outcome) {
    let files: Vec<(String, String)> = cutbank::report::files(outcome)
        .into_iter()
        .filter(|(name, _)| {
            [
                "index.html",
                "engineer.html",
                "wall-sheet-1.svg",
                "report.json",
            ]
            .contains(&name.as_str())
        })
        .map(|(name, content)| (name, String::from_utf8(common::written(&content)).unwrap()))
        .collect();
    assert_eq!(files.len(), 4);
    let file = |name: &str| &files.iter().find(|f| f.0 == name).unwrap().1;
    assert!(cutbank::report::is_report_file("engineer.html"));
    assert!(cutbank::report::is_report_file("wall-sheet-12.svg"));
    let page = file("engineer.html");
    for words in [
        "Not a boundary survey",
        "low friction (32 degrees), drained",
        "likely friction (32 degrees), full of water",
        "1.5 is the usual least",
        "not a verdict",
        "earthquakes",
        "Who decides",
        "presumed bearing",
    ] {
        assert!(page.contains(words), "{words}");
    }
    assert!(
        file("index.html").contains("href=\"engineer.html\"")
            && file("index.html").contains("wall-sheet-1.svg")
    );
    let json: serde_json::Value = serde_json::from_str(file("report.json")).unwrap();
    let wall = &json["wall_works"][0];
    assert!(wall["base_stone_m3"].as_f64().unwrap() > 0.0);
    assert!(
        wall["sections"][0]["cases"][0]["standing"]["sliding"]
            .as_f64()
            .unwrap()
            > 0.0
    );
    assert!(file("wall-sheet-1.svg").contains("Wall sheet: Lawn wall"));
    for (name, text) in &files {
        // Words of the policy of the page.
        let text = &text.replace("unsafe-inline", "");
        // The register on the index page speaks of stable rock.
        let verdicts: &[&str] = match name.as_str() {
            "engineer.html" | "wall-sheet-1.svg" => &["safe", "stable", "no permit needed"],
            _ => &[],
        };
        for word in ["NaN", "inf "].iter().chain(verdicts) {
            let near = text
                .find(word)
                .map(|at| &text[at.saturating_sub(40)..(at + 40).min(text.len())]);
            assert!(near.is_none(), "{name}: {near:?}");
        }
    }
}
