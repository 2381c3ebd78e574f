//! Berms whose crest and slopes vary, benches and lifts, as typed in a job.
#![allow(clippy::unwrap_used)]

mod common;
#[path = "common/flat_yard.rs"]
mod flat_yard;

use approx::assert_relative_eq;
use common::near;
use cutbank::earthwork::lifts;
use cutbank::files::OneThread;
use cutbank::outcome::Outcome;
use cutbank::surface::{Label, cut_fill};
use flat_yard::{at, outcome, refusal};

const BERM: &str = r#"
[[feature]]
kind = "berm"
name = "Berm"
"#;

fn berm(gx: f64, gy: f64, rest: &str) -> Outcome {
    outcome("m", 60.0, gx, gy, &format!("{BERM}{rest}"))
}

#[test]
fn different_slopes_to_the_left_and_to_the_right() {
    // 20 m long, 1 m wide, 2 m high, 3:1 to the left, 1.5:1 to the right, 2:1 at the ends: at
    // height t below the crest the section is (20 + 4 t) by (1 + 4.5 t).
    let h = 2.0;
    let want = 20.0 * h + (20.0 * 4.5 + 1.0 * 4.0) * h * h / 2.0 + 4.0 * 4.5 * h * h * h / 3.0;
    let o = berm(
        0.0,
        0.0,
        "line = [[0, 0], [20, 0]]\nwidth = 1\ncrest = \"height:2\"\nside_run_per_rise = 2\n\
         left_run_per_rise = 3\nright_run_per_rise = 1.5\n",
    );
    assert_relative_eq!(o.finished.fill_m3, want, max_relative = 1e-9);
    let z = |x: f64, y: f64| o.design.surface.z_at(at(&o, x, y)).unwrap();
    near("left", z(10.0, 3.5), 101.0, 1e-8);
    near("right", z(10.0, -2.0), 101.0, 1e-8);
    // Round an outline, edge by edge, the same body.
    let o = berm(
        0.0,
        0.0,
        "outline = [[0, -0.5], [20, -0.5], [20, 0.5], [0, 0.5]]\ncrest = \"height:2\"\n\
         side_run_per_rise = 2\nsides = [{ facing = \"north\", run_per_rise = 3 }, \
         { edge = 1, run_per_rise = 1.5 }]\n",
    );
    assert_relative_eq!(o.finished.fill_m3, want, max_relative = 1e-9);
}

#[test]
fn a_crest_whose_level_and_width_vary() {
    // Upright all round, 10 m long: from 1 m high and 2 m wide to 2 m and 3 m: the section is
    // (2 + x/10)(1 + x/10), its integral over 10 m a polynomial; the faces lean 1e-4 of half the
    // square of their height, the long ones over a plan length of hypot(10, 0.5).
    let section = |x: f64| (2.0 + x / 10.0) * (1.0 + x / 10.0);
    let body = 10.0 / 6.0 * (section(0.0) + 4.0 * section(5.0) + section(10.0));
    let long = 2.0 * 10.0f64.hypot(0.5) * (1.0 + 2.0 + 4.0) / 3.0;
    let faces = 1.0e-4 / 2.0 * (long + 2.0 + 3.0 * 4.0);
    let o = berm(
        0.0,
        0.0,
        "line = [[0, 0], [10, 0]]\nwidth = [2, 3]\ncrest_levels = [\"height:1\", \"level:102\"]\n\
         side_run_per_rise = 0\n",
    );
    assert_relative_eq!(o.finished.fill_m3, body + faces, max_relative = 1e-7);
    // A bend: the crest lies at the level of its points, across as along.
    let o = berm(
        0.02,
        0.03,
        "line = [[0, 0], [10, 0], [16, 8], [16, 18]]\nwidth = [2, 1, 1.5, 3]\n\
         crest_levels = [\"level:102\", \"level:103\", \"level:102.5\", \"level:102\"]\n\
         side_run_per_rise = 2\nleft_run_per_rise = 1.5\n",
    );
    let z = |x: f64, y: f64| o.design.surface.z_at(at(&o, x, y)).unwrap();
    near("crest at a point", z(10.0, 0.0), 103.0, 1e-8);
    near("crest at a point", z(16.0, 8.0), 102.5, 1e-8);
}

#[test]
fn settlement_raises_a_varying_crest() {
    let o = berm(
        0.0,
        0.0,
        "line = [[0, 0], [20, 0]]\nwidth = [1, 2]\ncrest_levels = [\"height:1\", \"height:3\"]\n\
         side_run_per_rise = 2\nsettlement_percent = 10\n",
    );
    let p = at(&o, 19.9, 0.0);
    let height = |z: f64| z - 100.0;
    let built = height(o.design.to_build().z_at(p).unwrap());
    let finished = height(o.design.surface.z_at(p).unwrap());
    near("finished", finished, 2.99, 1e-6);
    near("built", built, 1.1 * finished, 1e-6);
}

/// Labels of a feature of the design.
fn labels(o: &Outcome, feature: usize) -> Vec<Label> {
    o.design.labels(feature).collect()
}

#[test]
fn lifts_add_up_to_the_fill() {
    // A frustum 2 m high on level ground in lifts of 0.3 m: at height z its section is
    // (20 + 4 t)(3 + 4 t), t = 2 - z below the crest.
    let o = berm(
        0.0,
        0.0,
        "outline = [[0, 0], [20, 0], [20, 3], [0, 3]]\ncrest = \"height:2\"\n\
         side_run_per_rise = 2\nlift = 0.3\n",
    );
    assert_eq!(o.design.features[0].laid.lift_m, Some(0.3));
    let section = |z: f64| (20.0 + 4.0 * (2.0 - z)) * (3.0 + 4.0 * (2.0 - z));
    let between =
        |a: f64, b: f64| (b - a) / 6.0 * (section(a) + 4.0 * section((a + b) / 2.0) + section(b));
    let ground = &o.terrain.surface;
    let all = lifts(ground, &o.design.surface, &labels(&o, 0), 0.3);
    assert_eq!(all.len(), 7);
    for (k, lift) in all.iter().enumerate() {
        let (a, b) = (0.3 * k as f64, (0.3 * (k + 1) as f64).min(2.0));
        assert_relative_eq!(lift.volume_m3, between(a, b), max_relative = 1e-8);
        assert_relative_eq!(lift.area_m2, section(a), max_relative = 1e-8);
        near("from", lift.from_m, 100.0 + a, 1e-9);
        near("to", lift.to_m, 100.0 + b, 1e-9);
    }
    // On a slope and round a bend they add up too.
    let o = berm(
        0.1,
        -0.07,
        "line = [[-8, 0], [6, 2], [14, 12]]\nwidth = [1, 2, 1]\n\
         crest_levels = [\"height:1.5\", \"height:2\", \"height:1\"]\n\
         side_run_per_rise = 1.5\nlift = 0.15\n",
    );
    let ground = &o.terrain.surface;
    let all = lifts(ground, &o.design.surface, &labels(&o, 0), 0.15);
    let sum: f64 = all.iter().map(|lift| lift.volume_m3).sum();
    assert_relative_eq!(sum, o.finished.fill_m3, max_relative = 1e-9);
    assert!(all.iter().all(|l| l.volume_m3 > 0.0 && l.area_m2 > 0.0));
    assert!(lifts(ground, &o.design.surface, &[], 0.15).is_empty());
}

const ON_SLOPE: &str = "line = [[0, -10], [0, 10]]\nwidth = 2\ncrest = \"level:102\"\n\
    side_run_per_rise = 1.5\n";

#[test]
fn benches_are_cut_under_the_berm_and_do_not_show() {
    // Ground rising 1 in 4 to the east. The finished surface is the same with and without benches;
    // what is dug for them is cut and filled again.
    let plain = berm(0.25, 0.0, ON_SLOPE);
    let benched = berm(
        0.25,
        0.0,
        &format!("{ON_SLOPE}benches = {{ height = 0.3 }}\n"),
    );
    let surface = &benched.design.surface;
    let gap = cut_fill(&plain.design.surface, surface, &OneThread).total;
    assert!(gap.cut_m3 < 1e-6 && gap.fill_m3 < 1e-6, "{gap:?}");
    let parts = &benched.design.parts;
    let shown = parts.iter().position(|p| p.name == "benches").unwrap();
    let shown: f64 = surface
        .facets()
        .filter(|&f| surface.label(f) as usize == shown)
        .map(|f| surface.area_m2(f))
        .sum();
    assert!(shown < 1e-6, "{shown}");
    // Over a whole tread the cut is half the height of a step deep, on the average.
    let dig = &benched.design.features[0].laid.finished[0];
    let mut dug = benched.terrain.surface.clone();
    dug.compose(&dig.patch, dig.rule).unwrap();
    dug.check_consistent().unwrap();
    let cut = cut_fill(&benched.terrain.surface, &dug, &OneThread).total;
    let under = plain.finished.fill_area_m2;
    assert!(
        (cut.cut_m3 / (under * 0.15) - 1.0).abs() < 0.05,
        "{} {under}",
        cut.cut_m3
    );
}

#[test]
fn benches_begin_at_the_slope_they_are_asked_for() {
    let o = berm(
        0.1,
        0.0,
        &format!("{ON_SLOPE}benches = {{ height = 0.3 }}\n"),
    );
    let is_said = |d: &cutbank::diag::Diagnostic| d.message.contains("rises by 10 percent");
    assert!(o.diagnostics.iter().any(is_said), "{:?}", o.diagnostics);
    assert!(o.design.parts.iter().all(|p| p.name != "benches"));
    let all = format!("{ON_SLOPE}benches = {{ height = 0.3, steeper_than_percent = 5 }}\n");
    let o = berm(0.1, 0.0, &all);
    assert!(o.design.parts.iter().any(|p| p.name == "benches"));
}

#[test]
fn a_stream_is_shelved_into_a_benched_berm() {
    let o = outcome(
        "m",
        60.0,
        0.25,
        0.02,
        &format!(
            "{BERM}line = [[0, -10], [2, 0], [0, 10]]\nwidth = [3, 4, 3]\n\
             crest_levels = [\"level:103\", \"level:102.5\", \"level:102\"]\n\
             side_run_per_rise = 1.5\nleft_run_per_rise = 2\nsettlement_percent = 8\nlift = 0.2\n\
             benches = {{ height = 0.4 }}\n\
             [[feature]]\nkind = \"stream\"\nname = \"Stream\"\n\
             line = [[0, -8], [2, 0], [0.5, 7]]\nstart = \"level:102.5\"\nfall_percent = 5\n\
             width = 0.6\nside_run_per_rise = 1\n"
        ),
    );
    o.design.surface.check_consistent().unwrap();
    o.design.to_build().check_consistent().unwrap();
    let bed = 102.5 - 0.05 * 68.0f64.sqrt();
    let z = o.design.surface.z_at(at(&o, 2.0, 0.0)).unwrap();
    near("bed", z, bed, 1e-6);
}

#[test]
fn a_berm_that_makes_no_sense_is_refused_in_words() {
    let base = "line = [[0, 0], [10, 0], [20, 5]]\nside_run_per_rise = 2\n";
    for (rest, expected) in [
        (
            "width = [1, 2]\ncrest = \"height:1\"\n",
            "3 points but 2 widths",
        ),
        (
            "width = 1\ncrest_levels = [\"height:1\", \"height:2\"]\n",
            "3 points but 2 levels",
        ),
        (
            "width = 0.000002\ncrest = \"height:1\"\n",
            "between 1 cm and 1 km",
        ),
        (
            "width = 1\ncrest = \"level:90\"\n",
            "below the ground everywhere",
        ),
        ("width = 1\ncrest = \"depth:1\"\n", "cannot be a depth"),
        (
            "width = 1\ncrest = \"height:1\"\nlift = 0.001\n",
            "between 2 cm and 2 m",
        ),
        (
            "width = 1\ncrest = \"height:1\"\nbenches = { height = 9 }\n",
            "between 5 cm and 3 m",
        ),
    ] {
        let found = refusal("m", 60.0, 0.0, 0.0, &format!("{BERM}{base}{rest}"));
        assert!(found.contains(expected), "{rest}: {found}");
    }
    let folded = "line = [[0, 0], [10, 0], [0, 1]]\nwidth = [3, 4, 3]\ncrest = \"height:1\"\n\
                  side_run_per_rise = 2\n";
    let found = refusal("m", 60.0, 0.0, 0.0, &format!("{BERM}{folded}"));
    assert!(found.contains("folds over itself"), "{found}");
    let o = berm(
        0.2,
        0.0,
        "line = [[0, 0], [10, 0]]\nwidth = 1\ncrest = \"level:101\"\nside_run_per_rise = 2\n",
    );
    let is_said = |d: &cutbank::diag::Diagnostic| d.message.contains("crest lies below the ground");
    assert!(o.diagnostics.iter().any(is_said), "{:?}", o.diagnostics);
}
