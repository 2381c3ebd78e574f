//! Streams with all their parameters: closed forms beside each check, refusals in words.
#![allow(clippy::unwrap_used)]

mod common;

use approx::assert_relative_eq;
use common::{Folder, inside, rectangle, ring, run_job};
use cutbank::files::OneThread;
use cutbank::geom::Point;
use cutbank::outcome::Outcome;
use cutbank::run::{read_job, run};
use cutbank::surface::{LabelledCutFill, cut_fill, cut_fill_within};

/// A job in metres on the plane `z = 10 + gx x + gy y` over 0 to 60 m, with one feature.
fn folder(gx: f64, gy: f64, feature: &str) -> (Folder, String) {
    let mut points = "name,x,y,z\n".to_owned();
    for (k, (x, y)) in [(0, 0), (60, 0), (60, 60), (0, 60)].into_iter().enumerate() {
        let z = 10.0 + gx * f64::from(x) + gy * f64::from(y);
        points += &format!("P{k},{x},{y},{z}\n");
    }
    let job = format!(
        "[job]\nname = \"T\"\nunits = \"m\"\n[soil]\nkind = \"common earth (loam)\"\n\
         [[survey]]\npoints = \"p.csv\"\n\
         [[feature]]\nname = \"F\"\n{feature}\n"
    );
    (Folder::default().with("p.csv", &points), job)
}

fn laid(gx: f64, gy: f64, feature: &str) -> Outcome {
    let (folder, job) = folder(gx, gy, feature);
    run_job(folder, &job)
}

fn refused(feature: &str) -> String {
    let (folder, job) = folder(0.0, 0.0, feature);
    let folder = folder.with("job.toml", &job);
    match read_job(&folder).and_then(|(job, _)| run(job, &folder, &OneThread)) {
        Ok(_) => panic!("not refused: {feature}"),
        Err(failure) => failure.to_string(),
    }
}

fn volumes(outcome: &Outcome) -> LabelledCutFill {
    outcome.design.surface.check_consistent().unwrap();
    cut_fill(
        &outcome.terrain.surface,
        &outcome.design.surface,
        &OneThread,
    )
}

/// Cut below a part of the feature.
fn cut(outcome: &Outcome, part: &str) -> f64 {
    let v = volumes(outcome);
    let parts = outcome.design.parts.iter().enumerate();
    parts
        .filter(|(_, p)| p.feature.is_some() && p.name == part)
        .map(|(k, _)| v.by_label.get(&(k as u32)).map_or(0.0, |v| v.cut_m3))
        .sum()
}

fn z(outcome: &Outcome, x: f64, y: f64) -> f64 {
    outcome.design.surface.z_at(Point::from_m(x, y)).unwrap()
}

#[test]
fn a_tapering_bed_on_level_ground() {
    // A pit whose floor is a trapezium: area A, outline P; its sides go out at s all round:
    // A d + P s d^2/2 + s^2 d^3/3 times the sum of tan(turn/2) at the corners.
    let (l, w0, w1, d, s) = (20.0, 1.0, 3.0, 0.8, 1.5);
    let feature = format!(
        "kind = \"stream\"\nline = [[10.0, 30.0], [30.0, 30.0]]\nwidths = [{w0}, {w1}]\n\
         start = \"level:{}\"\nfall_percent = 0\nside_run_per_rise = {s}",
        10.0 - d
    );
    let edge = f64::hypot(l, (w1 - w0) / 2.0);
    let lean = ((w1 - w0) / 2.0 / l).atan();
    let right = std::f64::consts::FRAC_PI_2;
    let corners = 2.0 * (((right + lean) / 2.0).tan() + ((right - lean) / 2.0).tan());
    let (area, outline) = ((w0 + w1) / 2.0 * l, 2.0 * edge + w0 + w1);
    let want = area * d + outline * s * d * d / 2.0 + s * s * d.powi(3) / 3.0 * corners;
    let outcome = laid(0.0, 0.0, &feature);
    assert_relative_eq!(volumes(&outcome).total.cut_m3, want, max_relative = 1e-8);
}

#[test]
fn rounded_bends_are_section_times_length() {
    let (w, d, s) = (1.2, 0.7, 1.25);
    let feature = format!(
        "kind = \"stream\"\nline = [[10.0, 10.0], [30.0, 10.0], [30.0, 30.0], [45.0, 45.0]]\n\
         bend_radius = [4.0, 6.0]\nwidth = {w}\nlevels = [\"level:{z}\", \"level:{z}\", \"level:{z}\", \"level:{z}\"]\n\
         side_run_per_rise = {s}",
        z = 10.0 - d
    );
    let outcome = laid(0.0, 0.0, &feature);
    let axis = outcome.design.features[0].laid.axis.as_ref().unwrap();
    // Tangents are taken off and chords put in: arcs of 90 and 45 degrees, 5 mm chord error at
    // the outer edge.
    let exact = 20.0 + 20.0 + 450f64.sqrt() - 2.0 * 4.0 + 4.0 * std::f64::consts::FRAC_PI_2
        - 2.0 * 6.0 * (std::f64::consts::PI / 8.0).tan()
        + 6.0 * std::f64::consts::FRAC_PI_4;
    let length = axis.bed.last().unwrap().0;
    assert!(length < exact && length > exact * 0.999, "{length} {exact}");
    let ends = 2.0 * (w * s * d * d / 2.0 + 2.0 * s * s * d * d * d / 3.0);
    let want = (w * d + s * d * d) * length + ends;
    assert_relative_eq!(volumes(&outcome).total.cut_m3, want, max_relative = 1e-8);
}

const POOL: &str = "kind = \"stream\"\nline = [[10.0, 30.0], [40.0, 30.0]]\nwidth = 1.5\n\
    start = \"level:9.5\"\nfall_percent = 2.0\nside_run_per_rise = 1.0\n\
    pools = [{ at = 8.0, length = 6.0, depth = 0.6, width = 2.5, lip = 0.4, end_run_per_rise = 1.5 }]";

#[test]
fn a_pool_is_a_prismoid() {
    // Bed at 9.5 - 0.02 x. The lip ends at 14.4: level 9.212; floor 0.6 below. The upper end
    // falls from 9.34 over 1.5 times 0.728, the lower rises over 0.9.
    let lip = 9.5 - 0.02 * 14.4;
    let floor = lip - 0.6;
    let (down, up) = ((9.34 - floor) * 1.5, 0.6 * 1.5);
    let d = |z: f64| 10.0 - z;
    // Width and depth both go straight: Simpson's rule is exact.
    let end = |run: f64, z: f64| {
        let middle = (1.5 + 2.5) / 2.0 * d((z + floor) / 2.0);
        run / 6.0 * (1.5 * d(z) + 4.0 * middle + 2.5 * d(floor))
    };
    let want = end(down, 9.34) + (6.0 - down - up) * 2.5 * d(floor) + end(up, lip);
    let outcome = laid(0.0, 0.0, POOL);
    assert_relative_eq!(cut(&outcome, "pool 1"), want, max_relative = 1e-8);
    // The lip is level and the bed below it goes on as it would without a pool.
    assert_relative_eq!(z(&outcome, 24.0, 30.0), lip, max_relative = 1e-9);
    assert_relative_eq!(z(&outcome, 24.2, 30.3), lip, max_relative = 1e-9);
    assert_relative_eq!(z(&outcome, 30.0, 30.0), 9.1, max_relative = 1e-9);
    let bed = &outcome.design.features[0].laid.axis.as_ref().unwrap().bed;
    assert!(
        bed.iter()
            .any(|&(s, z)| (s - 15.6).abs() < 1e-9 && (z - lip).abs() < 1e-9)
    );
}

#[test]
fn a_drop_with_a_leaning_face_and_a_riffle() {
    // Along the bed: 1 % but 5 % from 12 to 16; at 6 a face 0.5 high, 0.8 across for 1 up.
    let feature = "kind = \"stream\"\nline = [[10.0, 30.0], [30.0, 30.0]]\nwidth = 2.0\n\
        start = \"level:9.7\"\nfall_percent = 1.0\nside_run_per_rise = 1.0\n\
        drops = [{ at = 6.0, height = 0.5, face_run_per_rise = 0.8 }]\n\
        riffles = [{ from = 12.0, to = 16.0, fall_percent = 5.0, width = 1.0 }]";
    let outcome = laid(0.0, 0.0, feature);
    let lip = 0.3 + 0.06;
    let face = 0.4 * 2.0 * (lip + 0.25);
    assert_relative_eq!(
        cut(&outcome, "drop 1"),
        face + drop_sides(lip),
        max_relative = 1e-8
    );
    let foot = lip + 0.5;
    let at_riffle = foot + 0.01 * (12.0 - 6.4);
    // Widths 2 to 1 over the first metre, 1, and back over the last; depth grows by 0.05 a metre.
    let piece = |from: f64, to: f64, w0: f64, w1: f64| {
        let d = |x: f64| at_riffle + 0.05 * x;
        let middle = (w0 + w1) / 2.0 * d((from + to) / 2.0);
        (to - from) / 6.0 * (w0 * d(from) + 4.0 * middle + w1 * d(to))
    };
    let riffle = piece(0.0, 1.0, 2.0, 1.0) + piece(1.0, 3.0, 1.0, 1.0) + piece(3.0, 4.0, 1.0, 2.0);
    assert_relative_eq!(cut(&outcome, "riffle 1"), riffle, max_relative = 1e-8);
    let end = at_riffle + 0.2 + 0.01 * 4.0;
    assert_relative_eq!(z(&outcome, 30.0, 30.0), 10.0 - end, max_relative = 1e-9);
}

/// The sides beside the leaning face above: each the integral of half the square of the depth
/// over the length of the face.
fn drop_sides(lip: f64) -> f64 {
    2.0 * 0.4 / 6.0 * (lip * lip + 4.0 * (lip + 0.25).powi(2) + (lip + 0.5).powi(2)) / 2.0
}

#[test]
fn the_outside_of_a_bend_is_deeper() {
    // The whole line is one arc to the left: the right edge is 0.3 deeper all along. Each chord
    // c adds on the outer half of the bed a plane that falls from nothing to 0.3; its outer edge
    // is longer by half tan(a/2) at every end that halves a bend of a.
    let feature = "kind = \"stream\"\nline = [[20.0, 20.0], [30.0, 24.0], [34.0, 34.0]]\n\
        arcs = [{ through = 2 }]\nwidth = 2.0\nouter_depth = 0.3\nstart = \"level:9.5\"\n\
        fall_percent = 0\nside_run_per_rise = 0";
    let outcome = laid(0.0, 0.0, feature);
    let line = &outcome.design.features[0].laid.core;
    let way = |k: usize| {
        let [x, y] = line[k + 1].relative_m(line[k]);
        (x.hypot(y), y.atan2(x))
    };
    let n = line.len() - 1;
    let half_turn = |k: usize| match k {
        0 => 0.0,
        k if k == n => 0.0,
        k => ((way(k).1 - way(k - 1).1) / 2.0).tan(),
    };
    let mut want = 0.0;
    for k in 0..n {
        let c = way(k).0;
        let longer = half_turn(k) + half_turn(k + 1);
        // Depth 0.5 over the bed of half width 1 on both sides, then the extra.
        want += 0.5 * 2.0 * c + 0.3 * (c / 2.0 + longer / 3.0);
    }
    assert!(n > 6);
    assert_relative_eq!(cut(&outcome, "bed"), want, max_relative = 1e-8);
}

#[test]
fn banks_are_raised_where_the_ground_is_low() {
    // Bed at 9.8 on ground at 10, banks 0.5 above it: 0.3 above the ground, 0.8 wide, inside
    // at 1.5, outside at 2. Between 4 and 16 m along, clear of the ends.
    let feature = "kind = \"stream\"\nline = [[10.0, 30.0], [30.0, 30.0]]\nwidth = 1.0\n\
        start = \"level:9.8\"\nfall_percent = 0\nside_run_per_rise = 1.5\n\
        banks = { freeboard = 0.5, width = 0.8, outer_run_per_rise = 2.0 }";
    let outcome = laid(0.0, 0.0, feature);
    let strip = inside(&ring(&rectangle([14.0, 20.0], [26.0, 40.0])));
    let v = cut_fill_within(
        &outcome.terrain.surface,
        &outcome.design.surface,
        &strip,
        &OneThread,
    );
    let bank = 0.8 * 0.3 + (1.5 + 2.0) * 0.3 * 0.3 / 2.0;
    assert_relative_eq!(v.total.fill_m3, 12.0 * 2.0 * bank, max_relative = 1e-8);
    let bed = 1.0 * 0.2 + 1.5 * 0.2 * 0.2;
    assert_relative_eq!(v.total.cut_m3, 12.0 * bed, max_relative = 1e-8);
    // Ground falling to the north by 1 in 10 across: the south bank is in the hill, the north
    // one is raised. At the bed edge y = 0.5 the ground is 0.05 below the middle; the crest runs
    // from 1.25 to 2.05, the outside meets the ground where 0.3 - (y - 2.05)/2 = -0.1 y.
    let outcome = laid(0.0, -0.1, &feature.replace("level:9.8", "level:6.8"));
    let v = cut_fill_within(
        &outcome.terrain.surface,
        &outcome.design.surface,
        &strip,
        &OneThread,
    );
    let toe = (0.3 + 2.05 / 2.0) / (0.5 - 0.1);
    // Inside: from where the side at 1.5 cuts the ground, -0.2 + (y - 0.5)/1.5 = -0.1 y.
    let cut_at = (0.2 + 0.5 / 1.5) / (1.0 / 1.5 + 0.1);
    let above = |y: f64, z: f64| z + 0.1 * y;
    let north = (1.25 - cut_at) * above(1.25, 0.3) / 2.0
        + 0.8 * (above(1.25, 0.3) + above(2.05, 0.3)) / 2.0
        + (toe - 2.05) * above(2.05, 0.3) / 2.0;
    // South: the crest from -1.25 to -2.05 lies above the ground at -0.1 y; to where both meet.
    let south_cut = (0.2 + 0.5 / 1.5) / (1.0 / 1.5 - 0.1);
    let south_toe = (0.3 + 2.05 / 2.0) / (0.5 + 0.1);
    let over = |y: f64, z: f64| z - 0.1 * y;
    let south = (1.25 - south_cut) * over(1.25, 0.3) / 2.0
        + 0.8 * (over(1.25, 0.3) + over(2.05, 0.3)) / 2.0
        + (south_toe - 2.05) * over(2.05, 0.3) / 2.0;
    assert_relative_eq!(v.total.fill_m3, 12.0 * (north + south), max_relative = 1e-8);
}

#[test]
fn a_second_arm_goes_round_an_island() {
    let feature = "kind = \"stream\"\nline = [[10.0, 30.0], [40.0, 30.0]]\nwidth = 1.0\n\
        start = \"level:9.5\"\nfall_percent = 1.0\nside_run_per_rise = 0.5\n\
        splits = [{ from = 6.0, to = 24.0, side = \"left\", offset = 4.0, width = 1.0, ramp = 6.0 }]";
    let outcome = laid(0.0, 0.0, feature);
    // The island keeps the ground; the middle of the arm falls evenly over its own length.
    assert_relative_eq!(z(&outcome, 25.0, 32.0), 10.0, max_relative = 1e-12);
    assert_relative_eq!(
        z(&outcome, 25.0, 34.0),
        9.5 - 0.06 - 0.09,
        max_relative = 1e-9
    );
    let arm = &outcome.design.features[0].laid.lines[1];
    assert_eq!(arm.0, "arm 1");
    assert_relative_eq!(arm.1[0].z, 9.44, max_relative = 1e-12);
    assert_relative_eq!(arm.1[arm.1.len() - 1].z, 9.26, max_relative = 1e-12);
    assert!(cut(&outcome, "arm 1") > 0.5 * 10.0);
}

#[test]
fn what_cannot_be_is_refused_with_its_place() {
    let base = "kind = \"stream\"\nline = [[10.0, 30.0], [30.0, 30.0], [30.0, 40.0]]\nside_run_per_rise = 1.0\n";
    let with = |rest: &str| refused(&format!("{base}{rest}"));
    let falling = "width = 1.0\nstart = \"level:9.5\"\nfall_percent = 1.0\n";
    for (rest, words) in [
        (
            "width = 8.0\nstart = \"level:9.5\"\nfall_percent = 1.0\nbend_radius = 3.0".to_owned(),
            "is tighter than its width: its inside lies 4.00 m from the line",
        ),
        (
            format!("{falling}bend_radius = 12.0"),
            "the bend at 30.00 m E, 30.00 m N is too long for the stretches beside it: a radius of 10.00 m fits",
        ),
        (
            format!("{falling}pools = [{{ at = 28.0, length = 3.0, depth = 0.3 }}]"),
            "the pool lies 28.00 m to 31.00 m from the head, but the line is 30.00 m long",
        ),
        (
            format!("{falling}pools = [{{ at = 4.0, length = 3.0, depth = 1.2 }}]"),
            "the pool at 14.00 m E, 30.00 m N has no room for its ends: they take 4.86 m of its 3.00 m at 2 across : 1 up; a depth of 0.74 m fits",
        ),
        (
            format!("{falling}pools = [{{ at = 4.0, length = 3.0, depth = 0.3 }}, {{ at = 6.0, length = 3.0, depth = 0.3 }}]"),
            "the pool begins 6.00 m from the head, at 16.00 m E, 30.00 m N, where the pool reaches to 7.00 m",
        ),
        (
            format!("{falling}drops = [{{ at = 5.0, height = 0.3 }}]\npools = [{{ at = 4.0, length = 3.0, depth = 0.3 }}]"),
            "the drop begins 5.00 m from the head",
        ),
        (
            format!("{falling}riffles = [{{ from = 9.0, to = 4.0, fall_percent = 5.0 }}]"),
            "the riffle ends 4.00 m from the head, before it begins",
        ),
        (
            format!("{falling}splits = [{{ from = 2.0, to = 12.0, offset = 0.8, width = 1.0 }}]"),
            "an arm 0.80 m from the line leaves no island: half of both beds are 1.00 m",
        ),
        (
            format!("{falling}drops = [{{ at = 33.0, height = 0.3, face_run_per_rise = 1.0 }}]"),
            "this drop is 33.00 m from the head",
        ),
        (
            "widths = [1.0, 2.0]\nstart = \"level:9.5\"\nfall_percent = 1.0".to_owned(),
            "the line has 3 points but 2 widths are given",
        ),
        (
            "widths = [1.0, 0.0, 1.0]\nstart = \"level:9.5\"\nfall_percent = 1.0".to_owned(),
            "a width is between 1 cm and 1 km",
        ),
        (
            "width = 1.0\nbend_radius = 2.0\nlevels = [\"level:9.5\", \"level:9.0\", \"level:9.2\"]".to_owned(),
            "the bed rises by 0.20 m downstream",
        ),
        (
            "width = 1.0\nwidths = [1.0]\nstart = \"level:9.5\"\nfall_percent = 1.0".to_owned(),
            "has `width`, `widths` at once",
        ),
        (
            format!("{falling}bend_radius = [1.0, 2.0]"),
            "the line has 1 bends but 2 radii are given",
        ),
        (
            format!("{falling}arcs = [{{ through = 3 }}]"),
            "no arc can run through point 3 of 3",
        ),
    ] {
        let said = with(&rest);
        assert!(said.contains(words), "{rest}\n{said}");
        assert!(said.contains("job.toml line"), "{said}");
    }
}
