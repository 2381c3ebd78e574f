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
    assert_eq!(outcome.to_build.other_fill_m3, 0.0);
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
    assert_eq!(q.drain_in_fill_m3, 0.0);
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
