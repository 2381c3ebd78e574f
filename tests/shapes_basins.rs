//! Basins with sumps, chambers, ledges and slopes of their own, as typed in a job.
#![allow(clippy::unwrap_used)]

mod common;
#[path = "common/flat_yard.rs"]
mod flat_yard;

use approx::assert_relative_eq;
use common::near;
use cutbank::outcome::Outcome;
use flat_yard::{at, outcome, refusal};

const BASIN: &str = r#"
[[feature]]
kind = "basin"
name = "Basin"
"#;

const SQUARE: &str = "outline = [[0, 0], [8, 0], [8, 6], [0, 6]]\n";

fn basin(rest: &str) -> Outcome {
    outcome("m", 40.0, 0.0, 0.0, &format!("{BASIN}{SQUARE}{rest}"))
}

/// Volume of a frustum with a rectangular floor of `w` by `l` and one slope all round.
fn frustum(w: f64, l: f64, s: f64, h: f64) -> f64 {
    w * l * h + (w + l) * s * h * h + 4.0 / 3.0 * s * s * h * h * h
}

#[test]
fn a_basin_with_a_slope_for_every_edge() {
    // At height t the section is (8 + (e + w) t) by (6 + (s + n) t).
    let (h, p, q) = (2.0, 1.0 + 1.5, 0.5 + 2.0);
    let want = 48.0 * h + (8.0 * q + 6.0 * p) * h * h / 2.0 + p * q * h * h * h / 3.0;
    let o = basin(
        "floor = \"depth:2\"\nside_run_per_rise = 1.5\nsides = [{ edge = 1, run_per_rise = 0.5 }, \
         { facing = \"east\", run_per_rise = 1 }, { edge = 3, run_per_rise = 2 }]\n",
    );
    assert_relative_eq!(o.finished.cut_m3, want, max_relative = 1e-9);
    let parts: Vec<&str> = o.design.parts.iter().map(|p| p.name.as_str()).collect();
    assert_eq!(
        parts,
        [
            "ground",
            "floor",
            "south side",
            "west side",
            "east side",
            "north side"
        ]
    );
}

#[test]
fn an_upright_face_beside_slopes() {
    // The west face is upright: within the floor, and beyond the other sides as far as they go,
    // the section at height t is (8 + s t) by (6 + 2 s t), the face leaning 1e-4 t.
    let (h, s, lean) = (2.0, 1.5, 1.0e-4);
    let (p, q) = (s + lean, 2.0 * s);
    let want = 48.0 * h + (8.0 * q + 6.0 * p) * h * h / 2.0 + p * q * h * h * h / 3.0;
    let o = basin(
        "floor = \"level:98\"\nside_run_per_rise = 1.5\nsides = [{ facing = \"west\", run_per_rise = 0 }]\n",
    );
    assert_relative_eq!(o.finished.cut_m3, want, max_relative = 1e-8);
    assert!(o.design.parts.iter().any(|p| p.name == "west face"));
}

#[test]
fn a_sump_and_a_chamber_below_the_floor() {
    // Floor 2 m down at 1.5; a sump of 2 by 1 m, 0.5 m deep at 1:1, in it a chamber of 0.5 by
    // 0.5 m, 0.4 m deeper with faces that lean 1e-4.
    let o = basin(
        "floor = \"depth:2\"\nside_run_per_rise = 1.5\n\
         sump = { centre = [4, 3], size = [2, 1], depth = 0.5, side_run_per_rise = 1 }\n\
         chamber = { centre = [4.5, 3], size = 0.5, depth = 0.4 }\n",
    );
    let want =
        frustum(8.0, 6.0, 1.5, 2.0) + frustum(2.0, 1.0, 1.0, 0.5) + frustum(0.5, 0.5, 1.0e-4, 0.4);
    assert_relative_eq!(o.finished.cut_m3, want, max_relative = 1e-8);
    near(
        "floor",
        o.design.surface.z_at(at(&o, 1.0, 1.0)).unwrap(),
        98.0,
        1e-12,
    );
    near(
        "sump",
        o.design.surface.z_at(at(&o, 3.5, 3.0)).unwrap(),
        97.5,
        1e-12,
    );
    near(
        "chamber",
        o.design.surface.z_at(at(&o, 4.5, 3.0)).unwrap(),
        97.1,
        1e-12,
    );
    for name in ["sump floor", "sump side", "chamber floor", "chamber side"] {
        assert!(o.design.parts.iter().any(|p| p.name == name), "{name}");
    }
}

#[test]
fn a_round_chamber_holds_what_its_polygon_holds() {
    // Chords of 0.1 mm on a circle of 0.4 m: smaller than pi r^2 h by a share of 2/3 * 0.1/400.
    let o = basin(
        "floor = \"depth:2\"\nside_run_per_rise = 1\n\
         chamber = { centre = [4, 3], diameter = 0.8, level = \"level:97\" }\n",
    );
    let round = o.finished.cut_m3 - frustum(8.0, 6.0, 1.0, 2.0);
    let circle = std::f64::consts::PI * 0.16;
    assert!((round / circle - 1.0).abs() < 5e-4, "{round} {circle}");
}

#[test]
fn a_floor_that_falls_to_its_sump() {
    // A sump of 2 by 2 in the middle of a floor of 8 by 8, upright sides, 1 m deep at the sump and
    // falling to it by 10 percent of the distance: corners 3 sqrt 2 away, edges between two facets
    // of each side. Over each side the floor is a trapezium in one plane: level at the sump, and
    // 0.3 sqrt 2 up at the edge 3 m away.
    let o = outcome(
        "m",
        40.0,
        0.0,
        0.0,
        &format!(
            "{BASIN}outline = [[0, 0], [8, 0], [8, 8], [0, 8]]\nfloor = \"level:99\"\n\
             floor_fall_percent = 10\nside_run_per_rise = 0\n\
             sump = {{ centre = [4, 4], size = 2, depth = 0.5 }}\n"
        ),
    );
    // A trapezium of widths 2 and 8 over 3 m: depth falls from 1 to 1 - r.
    let r = 0.3 * 2.0f64.sqrt();
    let trapezium = 3.0 * ((2.0 + 8.0) / 2.0 - r * (2.0 + 2.0 * 8.0) / 6.0);
    let floor = 4.0 * trapezium + 4.0 * 1.5;
    let lean = 1.0e-4;
    let faces = 32.0 * lean * (1.0 - r).powi(2) / 2.0 + 8.0 * lean * 0.125;
    assert_relative_eq!(o.finished.cut_m3, floor + faces, max_relative = 1e-7);
}

#[test]
fn a_floor_with_a_level_for_every_corner() {
    // A plane floor 1 to 2 m deep, upright: 48 * 1.5 and the lean of the faces.
    let o = basin(
        "floor_levels = [\"level:98\", \"level:99\", \"level:99\", \"level:98\"]\nside_run_per_rise = 0\n",
    );
    let faces = 1.0e-4 / 2.0 * (6.0 * (1.0 + 4.0) + 2.0 * 8.0 * (1.0 + 2.0 + 4.0) / 3.0);
    assert_relative_eq!(o.finished.cut_m3, 72.0 + faces, max_relative = 1e-7);
}

#[test]
fn ledges_all_round_and_along_one_edge() {
    // Floor 2 m down at 1.5. A ledge all round 1 m down, 0.5 m wide: below it a frustum of the
    // floor, above it one of the ledge.
    let base = "floor = \"depth:2\"\nside_run_per_rise = 1.5\n";
    let lower = frustum(8.0, 6.0, 1.5, 1.0);
    let o = basin(&format!("{base}ledges = [{{ depth = 1, width = 0.5 }}]\n"));
    let upper = frustum(8.0 + 3.0 + 1.0, 6.0 + 3.0 + 1.0, 1.5, 1.0);
    assert_relative_eq!(o.finished.cut_m3, lower + upper, max_relative = 1e-9);
    near(
        "ledge",
        o.design.surface.z_at(at(&o, 4.0, -1.75)).unwrap(),
        99.0,
        1e-9,
    );
    // Along the south edge only, in ground that falls: the same sum of two frustums, the upper
    // one 0.5 m longer on that side.
    let o = basin(&format!(
        "{base}ledges = [{{ depth = 1, width = 0.5, edges = [{{ facing = \"south\" }}] }}]\n"
    ));
    let upper = frustum(8.0 + 3.0, 6.0 + 3.0 + 0.5, 1.5, 1.0);
    assert_relative_eq!(o.finished.cut_m3, lower + upper, max_relative = 1e-9);
    // Two of them, and the parts by name.
    let o = basin(&format!(
        "{base}ledges = [{{ level = \"level:99.5\", width = 0.3 }}, {{ depth = 1, width = 0.5 }}]\n"
    ));
    let middle = frustum(12.0, 10.0, 1.5, 0.5);
    let upper = frustum(12.0 + 1.5 + 0.6, 10.0 + 1.5 + 0.6, 1.5, 0.5);
    assert_relative_eq!(
        o.finished.cut_m3,
        lower + middle + upper,
        max_relative = 1e-9
    );
    assert!(o.design.parts.iter().any(|p| p.name == "ledge 2"));
}

#[test]
fn everything_at_once_in_inclined_ground_is_laid() {
    let o = outcome(
        "m",
        40.0,
        0.08,
        -0.05,
        &format!(
            "{BASIN}outline = [[0, 0], [8, 0], [8, 4], [5, 4], [5, 7], [0, 7]]\nfloor = \"depth:2\"\n\
             floor_fall_percent = 3\nside_run_per_rise = 1.5\n\
             sides = [{{ edge = 1, run_per_rise = 0 }}, {{ facing = \"west\", run_per_rise = 2 }}]\n\
             sump = {{ centre = [2.5, 2.5], diameter = 1.5, depth = 0.4, side_run_per_rise = 0.5 }}\n\
             chamber = {{ centre = [2.5, 2.5], diameter = 0.6, depth = 0.3 }}\n\
             ledges = [{{ depth = 0.5, width = 0.4, edges = [{{ facing = \"west\" }}, {{ edge = 5 }}] }}]\n\
             stands = \"permanent\"\nbehind_daylight = \"leave\"\n"
        ),
    );
    o.design.surface.check_consistent().unwrap();
    near(
        "chamber",
        o.design.surface.z_at(at(&o, 2.5, 2.5)).unwrap(),
        99.65 - 2.0 - 0.7,
        1e-9,
    );
    near(
        "ledge",
        o.design.surface.z_at(at(&o, -2.8, 3.0)).unwrap(),
        99.15,
        0.1,
    );
}

#[test]
fn a_basin_that_makes_no_sense_is_refused_in_words() {
    let words = |rest: &str| {
        refusal(
            "m",
            40.0,
            0.0,
            0.0,
            &format!("{BASIN}{SQUARE}side_run_per_rise = 1.5\n{rest}"),
        )
    };
    for (rest, expected) in [
        ("floor = \"level:101\"\n", "above the ground everywhere"),
        (
            "floor = \"height:1\"\n",
            "cannot be a height above the ground",
        ),
        (
            "floor = \"depth:2\"\nsump = { centre = [7.8, 3], diameter = 1, depth = 0.5 }\n",
            "does not lie on the floor",
        ),
        (
            "floor = \"depth:2\"\nsump = { centre = [4, 3], diameter = 1, depth = 0 }\n",
            "not deeper than the floor",
        ),
        (
            "floor = \"depth:2\"\nchamber = { centre = [4, 3], diameter = 1, level = \"level:99\" }\n",
            "the chamber is not deeper",
        ),
        (
            "floor = \"depth:2\"\nsump = { centre = [4, 3], diameter = 2, depth = 0.5 }\n\
             chamber = { centre = [4.8, 3], diameter = 1, depth = 0.5 }\n",
            "does not lie on the floor of the sump",
        ),
        (
            "floor = \"depth:2\"\nsump = { centre = [4, 3], diameter = 0.001, depth = 0.5 }\n",
            "between 1 cm and 1 km",
        ),
        (
            "floor = \"depth:2\"\nfloor_fall_percent = 2\n",
            "there is none",
        ),
        (
            "floor = \"depth:2\"\nledges = [{ depth = 2.5, width = 0.4 }]\n",
            "a ledge lies above the floor",
        ),
        (
            "floor = \"depth:2\"\nledges = [{ depth = 1, width = 0.000001 }]\n",
            "between 1 cm and 1 km",
        ),
        (
            "floor = \"depth:2\"\nledges = [{ depth = 1, width = 0.4, edges = [{ edge = 9 }] }]\n",
            "there is no edge 9",
        ),
        (
            "floor = \"depth:2\"\ncorners = \"round\"\nledges = [{ depth = 1, width = 0.4, edges = [{ edge = 1 }] }]\n",
            "not round",
        ),
        (
            "floor_levels = [\"level:98\", \"level:98\"]\n",
            "has 4 corners but 2 levels",
        ),
        ("floor = \"depth:2\"\nsumps = 1\n", "sump"),
    ] {
        let found = words(rest);
        assert!(found.contains(expected), "{rest}: {found}");
    }
}

#[test]
fn a_ledge_without_room_is_refused() {
    // A notch 1 m wide: ledges of 2 m on both its sides run into each other.
    let found = refusal(
        "m",
        40.0,
        0.0,
        0.0,
        &format!(
            "{BASIN}outline = [[0, 0], [9, 0], [9, 6], [5, 6], [5, 2], [4, 2], [4, 6], [0, 6]]\n\
             floor = \"depth:2\"\nside_run_per_rise = 0\nledges = [{{ depth = 1, width = 2 }}]\n"
        ),
    );
    assert!(found.contains("no room for this ledge"), "{found}");
}
