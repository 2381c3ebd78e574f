//! Channels, trenches and walls: published sections, closed forms, refusals in words.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod common;

use std::path::Path;

use approx::assert_relative_eq;
use common::{Folder, Random, inside, near, rectangle, reference_data, ring, run_job};
use cutbank::files::OneThread;
use cutbank::geom::Point;
use cutbank::outcome::Outcome;
use cutbank::run::{read_job, run};
use cutbank::surface::{CutFill, Surface, cut_fill, cut_fill_within};
use serde_json::Value;

/// Share by which volumes may differ from those of solids: chords and bisecting sections are the
/// same on both sides, and upright faces lean alike.
const SOLIDS: f64 = 1.0e-6;

/// A job with one feature on points of its own.
fn folder(units: &str, points: &[[f64; 3]], rest: &str) -> (Folder, String) {
    let mut text = "name,x,y,z\n".to_owned();
    for (k, [x, y, z]) in points.iter().enumerate() {
        text += &format!("P{k},{x},{y},{z}\n");
    }
    let job = format!(
        "[job]\nname = \"T\"\nunits = \"{units}\"\n[soil]\nkind = \"common earth (loam)\"\n\
         [[survey]]\npoints = \"p.csv\"\n[[feature]]\nname = \"F\"\n{rest}\n"
    );
    (Folder::default().with("p.csv", &text), job)
}

/// The plane `z = 10 + gx x + gy y` over 0 to 60.
fn plane(gx: f64, gy: f64) -> Vec<[f64; 3]> {
    [[0.0, 0.0], [60.0, 0.0], [60.0, 60.0], [0.0, 60.0]]
        .map(|[x, y]| [x, y, 10.0 + gx * x + gy * y])
        .to_vec()
}

fn laid(units: &str, points: &[[f64; 3]], rest: &str) -> Outcome {
    let (folder, job) = folder(units, points, rest);
    let outcome = run_job(folder, &job);
    outcome.design.surface.check_consistent().unwrap();
    outcome
}

fn refused(points: &[[f64; 3]], rest: &str) -> String {
    let (folder, job) = folder("m", points, rest);
    let folder = folder.with("job.toml", &job);
    match read_job(&folder).and_then(|(job, _)| run(job, &folder, &OneThread)) {
        Ok(_) => panic!("not refused: {rest}"),
        Err(failure) => failure.to_string(),
    }
}

fn within(outcome: &Outcome, to: &Surface, low: [f64; 2], high: [f64; 2]) -> CutFill {
    let area = inside(&ring(&rectangle(low, high)));
    cut_fill_within(&outcome.terrain.surface, to, &area, &OneThread).total
}

#[test]
fn a_trench_on_a_cross_slope() {
    // VOL-12, published (engineering reference page on earthwork sections): bottom 4 ft, 2.5 ft
    // deep in the middle, sides 1 : 1, ground rising 0.2 across: 17.09375 sq ft; it daylights
    // 5.625 ft uphill and 3.75 ft downhill.
    let section = "[[section]]\nname = \"across\"\nline = [[30.0, 10.0], [30.0, 50.0]]";
    let feature = format!(
        "kind = \"trench\"\nline = [[10.0, 30.0], [50.0, 30.0]]\nwidth = 4.0\n\
         start = \"level:13.5\"\nfall_percent = 0\nside_run_per_rise = 1.0\nbackfilled = false\n{section}"
    );
    let outcome = laid("ft", &plane(0.0, 0.2), &feature);
    let ft = 0.3048;
    near("area", outcome.sections[0].cut_m2 / ft / ft, 17.09375, 1e-7);
    let z = |y: f64| {
        let p = Point::from_m(30.0 * ft, y * ft);
        outcome.terrain.surface.z_at(p).unwrap() - outcome.design.surface.z_at(p).unwrap()
    };
    assert!(z(35.62) > 1e-4 && z(35.63) < 1e-9 && z(26.26) > 1e-4 && z(26.24) < 1e-9);
    // Three-level section by coordinates (closed form, as SEC-04): the same area from the
    // corners -3.75, -2, 2, 5.625 of floor and ground.
    let (down, up) = (3.75, 5.625);
    let want = 2.5 * (up + down) / 2.0 + 2.0 * ((2.5 + 0.2 * up) + (2.5 - 0.2 * down)) / 2.0;
    near("three levels", want, 17.09375, 1e-9);
}

#[test]
fn a_graded_trench_goes_round_a_bend_without_a_step() {
    // The floor of each stretch is a trapezium between the lines that halve the bends, split
    // along the line; on each half the diagonal that lies lower counts. The volume over a
    // triangle is its area times the mean of its depths.
    let (w, l0, l1, z0, g) = (0.6, 16.0, 12.0, 9.2, 0.04);
    let feature = format!(
        "kind = \"trench\"\nline = [[10.0, 10.0], [26.0, 10.0], [26.0, 22.0]]\nwidth = {w}\n\
         start = \"level:{z0}\"\nfall_percent = 4.0\nbackfilled = false"
    );
    let outcome = laid("m", &plane(0.0, 0.0), &feature);
    let half = w / 2.0;
    let d = |s: f64| 10.0 - z0 + g * s;
    // Corners of a half as (station along the line, offset, depth); the inside of the bend is
    // shorter by half, the outside longer by half.
    let volume = |length: f64, from: f64, starts: f64, ends: f64| {
        let (d0, d1) = (d(from), d(from + length));
        let area = |a: [f64; 2], b: [f64; 2], c: [f64; 2]| {
            ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])).abs() / 2.0
        };
        let (c0, c1) = ([0.0, 0.0], [length, 0.0]);
        let (e0, e1) = ([starts, half], [length + ends, half]);
        let one =
            area(c0, c1, e1) * (d0 + 2.0 * d1) / 3.0 + area(c0, e1, e0) * (2.0 * d0 + d1) / 3.0;
        let other =
            area(c0, c1, e0) * (2.0 * d0 + d1) / 3.0 + area(c1, e1, e0) * (d0 + 2.0 * d1) / 3.0;
        one.max(other)
    };
    // Sections turn within twice the half width before and after the bend, and are square beyond.
    let t = 2.0 * half;
    let want = 2.0 * volume(l0 - t, 0.0, 0.0, 0.0)
        + volume(t, l0 - t, 0.0, -half)
        + volume(t, l0 - t, 0.0, half)
        + volume(t, l0, half, 0.0)
        + volume(t, l0, -half, 0.0)
        + 2.0 * volume(l1 - t, l0 + t, 0.0, 0.0);
    let v = cut_fill(
        &outcome.terrain.surface,
        &outcome.design.surface,
        &OneThread,
    );
    let part = |name: &str| {
        let k = outcome.design.parts.iter().position(|p| p.name == name);
        k.unwrap() as u32
    };
    let floor = v.by_label[&part("floor")].cut_m3;
    // The stations where sections begin to turn are no sections: there the strips run on, so
    // the closed form is that of the whole stretches.
    let whole = volume(l0, 0.0, 0.0, -half)
        + volume(l0, 0.0, 0.0, half)
        + volume(l1, l0, half, 0.0)
        + volume(l1, l0, -half, 0.0);
    assert_relative_eq!(floor, whole, max_relative = 1e-8);
    assert_relative_eq!(floor, want, max_relative = 2e-3);
    // No step: round the bend the floor is nowhere steeper than twice its fall.
    let surface = &outcome.design.surface;
    for f in surface.facets() {
        if surface.label(f) == part("floor") {
            assert!(surface.source(f).plane.steepness() < 2.0 * g);
        }
    }
    for k in 0..=40 {
        let t = f64::from(k) / 40.0 * std::f64::consts::FRAC_PI_2;
        let p = Point::from_m(26.0 - 0.2 + 0.2 * t.sin(), 10.0 + 0.2 - 0.2 * t.cos());
        near("floor", surface.z_at(p).unwrap(), 10.0 - d(l0), 0.02);
    }
}

/// Rough ground: shots on a grid of 4 m, heights off by up to half a metre.
fn rough(seed: u64) -> Vec<[f64; 3]> {
    let mut random = Random(seed);
    let mut points = Vec::new();
    for k in 0..256 {
        let (i, j) = (f64::from(k % 16), f64::from(k / 16));
        let (x, y) = (
            i * 4.0 + random.between(0.0, 2.0),
            j * 4.0 + random.between(0.0, 2.0),
        );
        points.push(
            [x, y, 10.0 + 0.05 * x + random.between(-0.5, 0.5)]
                .map(|v: f64| (v * 1e3).round() / 1e3),
        );
    }
    points
}

#[test]
fn a_depth_is_kept_across_the_trench() {
    for seed in 1..5 {
        let feature = "kind = \"trench\"\nline = [[6.0, 8.0], [30.0, 14.0], [40.0, 44.0], [54.0, 50.0]]\n\
            bend_radius = 3.0\ndepth = 0.6\nwidth = 0.8\nbackfilled = false";
        let outcome = laid("m", &rough(seed), feature);
        let floor = outcome
            .design
            .parts
            .iter()
            .position(|p| p.name == "floor")
            .unwrap() as u32;
        let surface = &outcome.design.surface;
        let (mut seen, mut least) = (0, f64::INFINITY);
        for f in surface.facets().filter(|&f| surface.label(f) == floor) {
            // The depth is a difference of planes on every overlap: looked at along the facet.
            let corners = surface.corners(f);
            for i in 0..=12 {
                for j in 0..=12 - i {
                    let share = [f64::from(i) / 12.0, f64::from(j) / 12.0];
                    let share = [share[0], share[1], 1.0 - share[0] - share[1]];
                    let at = |v: fn(&cutbank::geom::P3) -> f64| -> f64 {
                        corners.iter().zip(share).map(|(c, s)| s * v(c)).sum()
                    };
                    let p = Point::from_m(at(|c| c.p.x_m()), at(|c| c.p.y_m()));
                    let Some(ground) = outcome.terrain.surface.z_at(p) else {
                        continue;
                    };
                    least = least.min(ground - at(|c| c.z));
                    seen += 1;
                }
            }
        }
        assert!(seen > 1000);
        // Breaks within a millimetre are one, and round an arc the strip is looked at square to
        // its chords.
        assert!(least > 0.6 - 0.002, "{least}");
        assert!(least < 0.605, "{least}");
    }
}

#[test]
fn a_refilled_trench_leaves_the_finished_surface_alone() {
    let feature =
        "kind = \"trench\"\nline = [[10.0, 30.0], [50.0, 30.0]]\nwidth = 0.5\ndepth = 0.8";
    let outcome = laid("m", &plane(0.01, 0.0), feature);
    let design = &outcome.design;
    let v = cut_fill(&outcome.terrain.surface, &design.surface, &OneThread).total;
    assert_eq!((v.cut_m3, v.fill_m3), (0.0, 0.0));
    let dug = within(
        &outcome,
        design.dug.as_ref().unwrap(),
        [10.0, 29.75],
        [50.0, 30.25],
    );
    assert_relative_eq!(dug.cut_m3, 40.0 * 0.5 * 0.8, max_relative = 1e-8);
}

#[test]
fn a_channel_follows_falling_ground() {
    // Ground falling 3 in 100 along the line: 0.4 below it everywhere, so that the section is
    // that of level ground, w d + s d^2 with its own slope on each side.
    let feature = "kind = \"channel\"\nline = [[10.0, 30.0], [50.0, 30.0]]\nwidth = 0.8\ndepth = 0.4\n\
        left_run_per_rise = 2.0\nright_run_per_rise = 1.0";
    let outcome = laid("m", &plane(-0.03, 0.0), feature);
    let v = within(
        &outcome,
        &outcome.design.surface,
        [20.0, 20.0],
        [40.0, 40.0],
    );
    let section = 0.8 * 0.4 + (2.0 + 1.0) * 0.4 * 0.4 / 2.0;
    assert_relative_eq!(v.cut_m3, 20.0 * section, max_relative = 1e-8);
    // It ends below the ground, which is said.
    let said: Vec<String> = outcome
        .diagnostics
        .iter()
        .map(ToString::to_string)
        .collect();
    assert!(
        said.iter().any(|d| d.contains(
            "the foot of the channel at 50.00 m E, 30.00 m N lies 0.40 m below the surface"
        )),
        "{said:?}"
    );
    // With a fall of its own it runs out of the ground: 0.4 deep at 10, falling 2 in 100 where
    // the ground falls 3, it comes out at 50.
    let feature = "kind = \"channel\"\nline = [[10.0, 30.0], [52.0, 30.0]]\nwidth = 0.8\n\
        start = \"depth:0.4\"\nfall_percent = 2.0\nside_run_per_rise = 1.5";
    let outcome = laid("m", &plane(-0.03, 0.0), feature);
    // A body whose depth goes evenly from 0.4 to 0 over 40: w d L/2 + s d^2 L/3, looked at
    // from 10 on.
    let v = within(
        &outcome,
        &outcome.design.surface,
        [10.0, 20.0],
        [60.0, 40.0],
    );
    let (l, d) = (40.0, 0.4);
    // The sides reach the ground where y = s (d - 0.01 x): straight in x.
    assert_relative_eq!(
        v.cut_m3,
        0.8 * d * l / 2.0 + 1.5 * d * d * l / 3.0,
        max_relative = 1e-8
    );
    assert!(
        !outcome
            .diagnostics
            .iter()
            .any(|d| d.code == "channel-ends-in-ground")
    );
}

#[test]
fn a_wall_on_its_base() {
    // Base at 9.5, 0.5 below level ground; top at 11.5; 1 thick, leaning back 0.1 for 1 up. At
    // the ground the face is 0.05 behind its foot, at the top 0.2.
    let feature = "kind = \"wall\"\nline = [[10.0, 30.0], [30.0, 30.0]]\nholds = \"left\"\nthickness = 1.0\n\
        top = \"height:1.5\"\nburied = 0.5\nbatter_run_per_rise = 0.1";
    let outcome = laid("m", &plane(0.0, 0.0), feature);
    let body = within(
        &outcome,
        &outcome.design.surface,
        [10.0, 30.0],
        [30.0, 31.0],
    );
    assert_relative_eq!(
        body.fill_m3,
        20.0 * (0.95 + 0.8) / 2.0 * 1.5,
        max_relative = 1e-8
    );
    assert_eq!(body.cut_m3, 0.0);
    let dug = outcome.design.dug.as_ref().unwrap();
    let trench = within(&outcome, dug, [10.0, 30.0], [30.0, 31.0]);
    assert_relative_eq!(trench.cut_m3, 20.0 * 0.5, max_relative = 1e-8);
    // The same wall held on the other side, listed the other way, is the same wall.
    let other = feature
        .replace(
            "[[10.0, 30.0], [30.0, 30.0]]",
            "[[30.0, 30.0], [10.0, 30.0]]",
        )
        .replace("left", "right");
    let other = laid("m", &plane(0.0, 0.0), &other);
    let mirrored = within(&other, &other.design.surface, [10.0, 30.0], [30.0, 31.0]);
    assert_relative_eq!(mirrored.fill_m3, body.fill_m3, max_relative = 1e-9);
}

#[test]
fn a_wall_steps_up_a_slope() {
    // Ground rises 1 in 10 along the wall: base 0.3 below the lowest ground of each stretch.
    let feature = "kind = \"wall\"\nline = [[10.0, 30.0], [30.0, 30.0]]\nholds = \"right\"\nthickness = 0.5\n\
        top = \"level:12.5\"\nburied = 0.3\nsteps = [{ at = 8.0, buried = 0.3, top = \"level:13.5\" }, { at = 14.0, base = \"level:12.0\" }]";
    let outcome = laid("m", &plane(0.1, 0.0), feature);
    let dug = outcome.design.dug.as_ref().unwrap();
    let z = |surface: &Surface, x: f64| surface.z_at(Point::from_m(x, 29.8)).unwrap();
    for (x, base, top) in [(12.0, 10.7, 12.5), (20.0, 11.5, 13.5), (28.0, 12.0, 13.5)] {
        near("base", z(dug, x), base, 1e-9);
        near("top", z(&outcome.design.surface, x), top, 1e-9);
    }
}

#[test]
fn what_cannot_be_is_refused_with_its_place() {
    let level = plane(0.0, 0.0);
    let rising = plane(0.02, 0.0);
    let wall = "kind = \"wall\"\nline = [[10.0, 30.0], [30.0, 30.0]]\nholds = \"left\"\n";
    let line = "line = [[10.0, 30.0], [30.0, 30.0]]\n";
    for (points, rest, words) in [
        (
            &rising,
            format!("kind = \"channel\"\n{line}width = 1.0\nside_run_per_rise = 1.0\ndepth = 0.4"),
            "the channel rises by 0.40 m between 10.00 m E, 30.00 m N and 30.00 m E, 30.00 m N; water would stand above",
        ),
        (
            &level,
            format!("kind = \"channel\"\n{line}width = 1.0\nside_run_per_rise = 1.0\nstart = \"level:9.5\"\nfall_percent = 0"),
            "the channel does not fall between 10.00 m E, 30.00 m N and 30.00 m E, 30.00 m N",
        ),
        (
            &level,
            format!("kind = \"channel\"\n{line}width = 1.0\nside_run_per_rise = 1.0\ndepth = 0.4\nlevels = [\"level:9.5\", \"level:9.0\"]"),
            "has `depth`, `levels` at once",
        ),
        (
            &level,
            format!("kind = \"trench\"\n{line}width = 0.4\nlevels = [\"level:9.5\", \"level:10.2\"]"),
            "the floor of the trench lies 0.20 m above the surface at 30.00 m E, 30.00 m N",
        ),
        (
            &level,
            format!("kind = \"trench\"\n{line}width = 0.4\ndepth = -0.5"),
            "a depth is more than 0",
        ),
        (
            &level,
            format!("kind = \"trench\"\nline = [[10.0, 30.0], [70.0, 30.0]]\nwidth = 0.4\ndepth = 0.5"),
            "there is no ground at 70.00 m E, 30.00 m N to count the depth from",
        ),
        (
            &level,
            "kind = \"trench\"\nline = [[10.0, 30.0], [30.0, 30.0], [10.0, 30.5]]\nwidth = 0.4\ndepth = 0.5".to_owned(),
            "the line of the trench turns back on itself at 30.00 m E, 30.00 m N",
        ),
        (
            &level,
            format!("{wall}thickness = 0.5\ntop = \"level:9.5\"\nburied = 0.5"),
            "the top of the wall at 10.00 m E, 30.00 m N stands 0.00 m above its base: there is no wall",
        ),
        (
            &level,
            format!("{wall}thickness = 0.5\ntop = \"height:2.0\"\nburied = 0.5\nbatter_run_per_rise = 0.25"),
            "the face at 10.00 m E, 30.00 m N meets the back of a wall 0.50 m thick",
        ),
        (
            &level,
            format!("{wall}thickness = 0.5\ntop = \"depth:2.0\"\nburied = 0.5"),
            "its top cannot be a depth below it",
        ),
        (
            &level,
            format!("{wall}thickness = 0.5\ntop = \"height:2.0\"\nburied = 0.5\nsteps = [{{ at = 25.0, buried = 0.2 }}]"),
            "lies 0.00 m to 25.00 m from the head, but the line is 20.00 m long",
        ),
        (
            &level,
            "kind = \"wall\"\nline = [[10.0, 30.0], [30.0, 30.0]]\nthickness = 0.5\ntop = \"height:2.0\"\nburied = 0.5".to_owned(),
            "needs `holds`",
        ),
    ] {
        let said = refused(points, &rest);
        assert!(said.contains(words), "{rest}\n{said}");
        assert!(said.contains("job.toml line"), "{said}");
    }
}

/// Booleans on solids of the same parameters (`fixtures/shapes/make_lines.py`) on a hillside with
/// a triangulation that is the only one.
#[test]
fn features_on_a_hillside_agree_with_solids() {
    let Some(data) = reference_data("features_on_a_hillside_agree_with_solids") else {
        return;
    };
    let shapes = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/shapes");
    let read = |name: &str| std::fs::read_to_string(shapes.join(name)).unwrap();
    let expected: Value = serde_json::from_str(&read("expected_lines.json")).unwrap();
    for kind in ["stream", "channel", "trench", "wall"] {
        let folder = Folder {
            directory: Some(data.clone()),
            ..Folder::default()
        };
        let outcome = run_job(folder, &read(&format!("{kind}.toml")));
        outcome.design.surface.check_consistent().unwrap();
        let surfaces = [Some(&outcome.design.surface), outcome.design.dug.as_ref()];
        for (surface, name) in surfaces.into_iter().zip(["finished", "dug"]) {
            let Some(surface) = surface else { continue };
            let v = cut_fill(&outcome.terrain.surface, surface, &OneThread).total;
            for (got, key) in [(v.cut_m3, "cut_m3"), (v.fill_m3, "fill_m3")] {
                let want = expected[kind][name][key].as_f64().unwrap();
                println!("{kind}, {name} {key}: {got} and {want}");
                assert!(
                    (got - want).abs() <= SOLIDS * want.max(1.0),
                    "{kind} {name} {key}: {got} {want}"
                );
            }
        }
    }
}
