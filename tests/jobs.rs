//! Jobs of every kind of feature, random, nonsense and large: no panic, and no wrong sum.
//!
//! `CUTBANK_TRIALS` and `CUTBANK_SEED` ask for more, as in `yards` and `mangling`.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod common;
#[path = "common/typed.rs"]
mod typed;

use std::collections::BTreeMap;
use std::fmt::Write as _;

use common::{Folder, Random, near};
use cutbank::diag::Failure;
use cutbank::files::OneThread;
use cutbank::outcome::Outcome;
use cutbank::surface::{Surface, cut_fill};
use typed::{refused, square, try_outcome};

fn pick<'a>(random: &mut Random, of: &[&'a str]) -> &'a str {
    of[random.below(of.len() as u64) as usize]
}

fn often(random: &mut Random, percent: u64) -> bool {
    random.below(100) < percent
}

/// A number to a centimetre, or now and then nonsense.
fn number(random: &mut Random, low: f64, high: f64) -> String {
    if often(random, 1) {
        let odd = ["0.0", "-1.0", "1e300", "nan", "1e-9", "\"deep\"", "-0.0"];
        return pick(random, &odd).to_owned();
    }
    format!("{:.2}", random.between(low, high))
}

fn corner(random: &mut Random) -> [f64; 2] {
    [random.between(4.0, 56.0), random.between(4.0, 56.0)]
}

/// A ring round a place, at times with a corner turned in, seldom crossing itself.
fn outline(random: &mut Random, size: f64) -> String {
    let [x, y] = corner(random);
    let n = 3 + random.below(5);
    let mut corners: Vec<[f64; 2]> = (0..n)
        .map(|k| {
            let turn = std::f64::consts::TAU * k as f64 / n as f64;
            let r = size * random.between(0.35, 1.0);
            [x + r * turn.cos(), y + r * turn.sin()]
        })
        .collect();
    if often(random, 2) {
        corners.swap(0, 1);
    }
    places(&corners)
}

fn places(corners: &[[f64; 2]]) -> String {
    let each: Vec<String> = corners
        .iter()
        .map(|[x, y]| format!("[{x:.2}, {y:.2}]"))
        .collect();
    format!("[{}]", each.join(", "))
}

fn walk(random: &mut Random, points: usize) -> Vec<[f64; 2]> {
    let mut at = corner(random);
    let mut turn = random.between(0.0, 6.3);
    let mut line = vec![at];
    for _ in 1..points {
        turn += random.between(-0.8, 0.8);
        let step = random.between(3.0, 12.0);
        at = [at[0] + step * turn.cos(), at[1] + step * turn.sin()];
        line.push(at);
    }
    line
}

fn layers(random: &mut Random, is_hollow: bool) -> String {
    let mut all = Vec::new();
    for name in ["sand", "liner", "gravel"] {
        if often(random, 40) {
            let thick = number(random, 0.03, 0.4);
            let floor = if often(random, 25) {
                ", on = \"floor\""
            } else {
                ""
            };
            all.push(match name {
                "liner" => "{ name = \"liner\" }".to_owned(),
                _ => format!("{{ name = \"{name}\", thick = {thick}{floor} }}"),
            });
        }
    }
    if is_hollow && often(random, 50) {
        let to = number(random, 0.0, 1.5);
        all.push(format!(
            "{{ name = \"stone\", to = \"depth:{to}\", porosity = 0.4 }}"
        ));
    }
    let mut text = String::new();
    if !all.is_empty() {
        let _ = writeln!(text, "layers = [ {} ]", all.join(", "));
    }
    if often(random, 30) {
        let word = pick(random, &["dug", "finished"]);
        let _ = writeln!(text, "levels_are = \"{word}\"");
    }
    text
}

fn feature(random: &mut Random, k: usize) -> String {
    let name = pick(
        random,
        &["Pit", "Ö \\\"quoted\\\" #1", "a,b;c", "<tag>&amp;", "深い"],
    );
    let mut text = format!("[[feature]]\nname = \"{name} {k}\"\n");
    let side = match random.below(6) {
        0 => "0".to_owned(),
        _ => number(random, 0.5, 3.0),
    };
    match random.below(15) {
        0..=3 => {
            let floor = number(random, 0.2, 2.5);
            let word = pick(random, &["depth", "depth", "depth", "depth", "level"]);
            let ring = outline(random, 6.0);
            let _ = writeln!(
                text,
                "kind = \"basin\"\noutline = {ring}\nfloor = \"{word}:{floor}\"\nside_run_per_rise = {side}"
            );
            text += &layers(random, true);
        }
        4..=6 => {
            let crest = number(random, 0.2, 2.0);
            let word = pick(random, &["height", "height", "height", "height", "level"]);
            if often(random, 50) {
                let ring = outline(random, 4.0);
                let _ = writeln!(text, "outline = {ring}");
            } else {
                let points = 2 + random.below(3) as usize;
                let line = places(&walk(random, points));
                let width = number(random, 0.3, 3.0);
                let _ = writeln!(text, "line = {line}\nwidth = {width}");
            }
            let _ = writeln!(
                text,
                "kind = \"berm\"\ncrest = \"{word}:{crest}\"\nside_run_per_rise = {side}"
            );
            if often(random, 30) {
                let percent = number(random, 0.0, 20.0);
                let _ = writeln!(text, "settlement_percent = {percent}");
            }
            text += &layers(random, false);
        }
        7..=8 => {
            let points = 2 + random.below(3) as usize;
            let line = places(&walk(random, points));
            let width = number(random, 0.3, 1.2);
            let depth = number(random, 0.3, 1.2);
            let fall = number(random, 0.0, 3.0);
            let _ = writeln!(
                text,
                "kind = \"stream\"\nline = {line}\nstart = \"depth:{depth}\"\nfall_percent = {fall}\nwidth = {width}\nside_run_per_rise = {side}"
            );
            if often(random, 40) {
                let (at, height) = (number(random, 0.5, 8.0), number(random, 0.1, 0.6));
                let _ = writeln!(text, "drops = [ {{ at = {at}, height = {height} }} ]");
            }
            text += &layers(random, false);
        }
        9 => {
            let line = places(&walk(random, 3));
            let (width, depth) = (number(random, 0.2, 1.0), number(random, 0.3, 1.2));
            let filled = often(random, 60);
            let _ = writeln!(
                text,
                "kind = \"trench\"\nline = {line}\nwidth = {width}\ndepth = {depth}\nbackfilled = {filled}"
            );
            text += &layers(random, false);
        }
        10 => {
            let line = places(&walk(random, 3));
            let (width, depth) = (number(random, 0.3, 1.5), number(random, 0.2, 0.8));
            let _ = writeln!(
                text,
                "kind = \"channel\"\nline = {line}\nwidth = {width}\ndepth = {depth}\nside_run_per_rise = {side}"
            );
        }
        11 => {
            let line = places(&walk(random, 3));
            let (thickness, top) = (number(random, 0.3, 1.0), number(random, 0.3, 1.5));
            let holds = pick(random, &["left", "right"]);
            let _ = writeln!(
                text,
                "kind = \"wall\"\nline = {line}\nholds = \"{holds}\"\nthickness = {thickness}\ntop = \"height:{top}\"\nburied = 0.3"
            );
        }
        12 => {
            let ring = outline(random, 6.0);
            let (up, fall) = (number(random, -0.5, 0.5), number(random, 0.0, 3.0));
            let toward = pick(random, &["north", "southeast", "135"]);
            let _ = writeln!(
                text,
                "kind = \"pad\"\noutline = {ring}\nlevel = \"height:{up}\"\nfall_percent = {fall}\nfall_toward = \"{toward}\"\ncut_run_per_rise = {side}\nfill_run_per_rise = {side}"
            );
            text += &layers(random, false);
        }
        13 => {
            let [x, y] = corner(random);
            let volume = number(random, 0.5, 20.0);
            let _ = writeln!(
                text,
                "kind = \"pile\"\ncentre = [{x:.2}, {y:.2}]\nvolume = {volume}\nrepose_run_per_rise = 1.4"
            );
        }
        _ => {
            let thick = number(random, 0.05, 0.4);
            let _ = writeln!(text, "kind = \"strip\"\nthick = {thick}");
            if often(random, 50) {
                let ring = outline(random, 12.0);
                let _ = writeln!(text, "outline = {ring}");
            } else {
                text += "over = \"touched\"\n";
            }
            return text;
        }
    }
    if often(random, 25) {
        let names = pick(random, &["\"Line\"", "\"House\"", "\"Line\", \"House\""]);
        let _ = writeln!(text, "keep_clear_of = [{names}]");
    }
    text
}

fn job(random: &mut Random) -> (String, String) {
    let (gx, gy, wave) = (
        random.between(-0.08, 0.08),
        random.between(-0.08, 0.08),
        random.between(0.0, 0.6),
    );
    let points = square(|x, y| {
        let z = gx * x + gy * y + wave * ((x * 0.31).sin() + (y * 0.23).cos());
        (z * 1000.0).round() / 1000.0
    });
    let count = 1 + random.below(5) as usize;
    let mut features: String = (0..count).map(|k| feature(random, k)).collect();
    let line = places(&walk(random, 3));
    let house = outline(random, 5.0);
    let _ = write!(
        features,
        "[[keep-off]]\nname = \"Line\"\nkind = \"boundary\"\nline = {line}\n\
         [[keep-off]]\nname = \"House\"\nkind = \"building\"\narea = {house}\n"
    );
    (points, features)
}

fn facets(surface: &Surface) -> Vec<String> {
    (surface.facets())
        .map(|f| {
            let c = surface.corners(f).map(|c| (c.p.x, c.p.y, c.z.to_bits()));
            format!("{f} {c:?} {:?}", surface.neighbours(f))
        })
        .collect()
}

/// What must hold whatever was laid.
fn holds(mut o: Outcome) {
    let ground = &o.terrain.surface;
    let area = ground.twice_area_nm2();
    let surfaces = [
        Some(&o.design.surface),
        o.design.dug.as_ref(),
        o.design.built.as_ref(),
    ];
    for surface in surfaces.into_iter().flatten() {
        surface.check_consistent().unwrap();
        // Where a feature runs over the rim of the survey, that is broken to the nanometre.
        let off = (surface.twice_area_nm2() - area) as f64 / 2e18;
        let runs_out = o.design.features.iter().any(|f| !f.runs_out.is_empty());
        assert!(
            off == 0.0 || (runs_out && off.abs() < 1e-5),
            "area off by {off} m2"
        );
    }
    let found = cut_fill(ground, o.design.to_build(), &OneThread).total;
    let slack = 1e-8 * (1.0 + found.cut_m3 + found.fill_m3);
    for volumes in [&o.finished, &o.to_build] {
        let sum = |of: fn(&cutbank::earthwork::FeatureVolume) -> f64| {
            volumes.features.iter().map(of).sum::<f64>()
        };
        near("cut of features", sum(|f| f.cut_m3), volumes.cut_m3, slack);
        near(
            "fill of features",
            sum(|f| f.fill_m3),
            volumes.fill_m3,
            slack,
        );
    }
    // What is filled again over what was dug lies on neither surface of the soil.
    let refill: f64 = o.to_build.features.iter().map(|f| f.refill_m3).sum();
    let net = o.to_build.cut_m3 - (o.to_build.fill_m3 - refill);
    near("net", net, found.net_m3(), slack);
    let sum = |of: fn(&cutbank::earthwork::Work) -> f64| o.works.iter().map(of).sum::<f64>();
    let slack = slack + 1e-9 * (sum(|w| w.dug_m3) + sum(|w| w.placed_m3));
    near(
        "dug",
        sum(|w| w.dug_m3) - sum(|w| w.refilled_m3),
        found.cut_m3,
        slack,
    );
    near(
        "placed",
        sum(|w| w.placed_m3) - sum(|w| w.dug_again_m3),
        found.fill_m3,
        slack,
    );
    for w in &o.works {
        for v in [w.dug_m3, w.dug_again_m3, w.refilled_m3, w.placed_m3] {
            assert!(v > -1e-4, "{w:?}");
        }
    }
    let space = cut_fill(o.design.soil(), &o.design.surface, &OneThread).total;
    let layers: f64 = o.layers.iter().filter_map(|l| l.volume_m3).sum();
    assert!(layers <= space.fill_m3 + slack, "{layers} in {space:?}");
    assert!(
        o.layers.iter().all(|l| l.volume_m3.unwrap_or(0.0) > -slack),
        "{:?}",
        o.layers
    );
    let before = facets(ground);
    while !o.design.features.is_empty() {
        o.design.take_off_last();
    }
    assert_eq!(facets(&o.design.surface), before, "all taken off");
    assert!(o.design.dug.is_none() && o.design.built.is_none() && o.design.stripped.is_none());
}

fn from_environment(name: &str) -> Option<u64> {
    std::env::var(name).ok().and_then(|v| v.parse().ok())
}

#[test]
fn random_jobs_hold_or_are_refused_in_words() {
    let trials = from_environment("CUTBANK_TRIALS").unwrap_or(300);
    let first = from_environment("CUTBANK_SEED").unwrap_or(1);
    let mut codes: BTreeMap<&'static str, usize> = BTreeMap::new();
    let mut laid = 0;
    for seed in first..first + trials {
        let (points, features) = job(&mut Random(seed));
        let run = || match try_outcome(Folder::default(), &points, &features) {
            Ok(o) => {
                holds(o);
                Vec::new()
            }
            Err(Failure(faults)) => faults,
        };
        let faults =
            std::panic::catch_unwind(run).unwrap_or_else(|_| panic!("seed {seed}:\n{features}"));
        laid += usize::from(faults.is_empty());
        let errors = faults
            .iter()
            .filter(|d| d.level == cutbank::diag::Level::Error);
        for fault in errors {
            *codes.entry(fault.code).or_default() += 1;
            assert!(
                !fault.message.is_empty() && !fault.help.is_empty(),
                "{fault:?}"
            );
            assert!(fault.at.iter().any(|at| at.line > 0), "{seed}: {fault:?}");
            if fault.code == "cannot-lay" {
                println!("seed {seed}: {}", fault.message);
            }
        }
    }
    println!("{laid} of {trials} laid; refused: {codes:?}");
    assert!(laid as u64 * 4 > trials, "{codes:?}");
}

#[test]
fn a_job_of_many_features() {
    // Pits, piles and streams side by side, a pit of each row with a liner and stone.
    let count = from_environment("CUTBANK_FEATURES").unwrap_or(60) as usize;
    let across = (count as f64).sqrt().ceil() as usize;
    let cell = 58.0 / across as f64;
    let mut features = String::new();
    for k in 0..count {
        let (x, y) = (
            1.0 + (k % across) as f64 * cell,
            1.0 + (k / across) as f64 * cell,
        );
        let (a, b) = (0.35 * cell, 0.65 * cell);
        let (d, w) = (0.1 * cell, 0.03 * cell);
        let ring = places(&[
            [x + a, y + a],
            [x + b, y + a],
            [x + b, y + b],
            [x + a, y + b],
        ]);
        let _ = match k % 3 {
            0 => writeln!(
                features,
                "[[feature]]\nkind = \"basin\"\nname = \"Pit {k}\"\noutline = {ring}\nfloor = \"depth:{d:.3}\"\nside_run_per_rise = 1.5\nlayers = [ {{ name = \"stone\", to = \"depth:0.02\" }} ]"
            ),
            1 => writeln!(
                features,
                "[[feature]]\nkind = \"berm\"\nname = \"Berm {k}\"\noutline = {ring}\ncrest = \"height:{d:.3}\"\nside_run_per_rise = 2.0"
            ),
            _ => writeln!(
                features,
                "[[feature]]\nkind = \"stream\"\nname = \"Stream {k}\"\nline = {}\nlevels = [\"depth:{w:.3}\", \"depth:{d:.3}\"]\nwidth = 0.3\nside_run_per_rise = 1.5",
                places(&[[x + a, y + a], [x + b, y + b]])
            ),
        };
    }
    let points = square(|x, y| 0.1 * (y * 0.2).sin() - 0.02 * x);
    let start = std::time::Instant::now();
    let o = try_outcome(Folder::default(), &points, &features).unwrap_or_else(|e| panic!("{e}"));
    println!(
        "{count} features in {:.2} s, {} facets",
        start.elapsed().as_secs_f64(),
        o.design.surface.num_facets()
    );
    assert_eq!(o.works.len(), count);
    holds(o);
}

const PIT: &str = "[[feature]]\nkind = \"basin\"\nname = \"Pit\"\noutline = [[20.0, 20.0], [26.0, 20.0], [26.0, 24.0], [20.0, 24.0]]\nfloor = \"level:-2.0\"\nside_run_per_rise = 1.5\n";

#[test]
fn nonsense_is_refused_with_its_place() {
    let level = square(|_, _| 0.0);
    let crossed = PIT.replace("[26.0, 20.0], [26.0, 24.0]", "[26.0, 24.0], [26.0, 20.0]");
    assert!(
        refused(&level, &crossed, "bad-outline")
            .message
            .contains("outline")
    );
    let above = refused(&level, &PIT.replace("level:-2.0", "level:1.0"), "no-effect");
    assert!(
        above.message.contains("above the ground") && above.help.contains("0.00 m"),
        "{above:?}"
    );
    let deep = refused(
        &level,
        &PIT.replace("level:-2.0", "level:-3000"),
        "far-level",
    );
    assert!(deep.help.contains("level and its unit"), "{deep:?}");
    let outside = refused(
        &level,
        &PIT.replace("20.0]", "220.0]").replace("24.0]", "224.0]"),
        "outside",
    );
    assert!(
        outside.message.contains("outside the survey"),
        "{outside:?}"
    );
    // A floor above the ground in part is cut off there, and it is said.
    let o = typed::outcome(
        &square(|x, _| 0.2 * (x - 23.0)),
        &PIT.replace("level:-2.0", "level:-0.2"),
    );
    let partly = o.diagnostics.iter().find(|d| d.code == "partly").unwrap();
    assert!(partly.message.contains("2 of its 4 corners"), "{partly:?}");
    // Two features that contradict: the second lies above what the first has dug away.
    let again = PIT
        .replace("\"Pit\"", "\"Shallow\"")
        .replace("level:-2.0", "level:-1.0");
    let again = refused(&level, &(PIT.to_owned() + &again), "no-effect");
    assert!(
        again.message.contains("what the features before it left"),
        "{again:?}"
    );
    let stream = |levels: &str| {
        format!(
            "[[feature]]\nkind = \"stream\"\nname = \"Stream\"\nline = [[10.0, 10.0], [30.0, 12.0]]\nlevels = {levels}\nwidth = 0.5\nside_run_per_rise = 2.0\n"
        )
    };
    let o = try_outcome(
        Folder::default(),
        &level,
        &stream("[\"level:-1.0\", \"level:-0.5\"]"),
    );
    match o {
        Err(fault) => assert!(fault.to_string().contains("rise"), "{fault}"),
        Ok(o) => assert!(
            o.findings
                .iter()
                .any(|f| f.words.contains("rise") || f.words.contains("uphill")),
            "a stream that rises is not said"
        ),
    }
    let count = try_outcome(Folder::default(), &level, &stream("[\"level:-1.0\"]"));
    assert!(count.is_err());
    let wide = stream("[\"level:-1.0\", \"level:-1.2\"]").replace("width = 0.5", "width = 0");
    assert!(refused(&level, &wide, "bad-width").at[0].line > 0);
}

#[test]
fn far_coordinates_and_tiny_patches() {
    // The same job five million metres off gives the same volume.
    let move_by = |csv: &str, by: f64| {
        let mut moved = String::from("name,x,y,z\n");
        for row in csv.lines().skip(1) {
            let c: Vec<&str> = row.split(',').collect();
            let v = |k: usize| c[k].parse::<f64>().unwrap();
            let _ = writeln!(moved, "{},{:.3},{:.3},{}", c[0], v(1) + by, v(2) + by, v(3));
        }
        moved
    };
    let ground = square(|x, y| 0.02 * x + 0.01 * y);
    let here = typed::outcome(&ground, PIT).to_build.cut_m3;
    let far = PIT
        .replace("20.0", "5000020.0")
        .replace("26.0", "5000026.0")
        .replace("24.0", "5000024.0");
    let there = typed::outcome(&move_by(&ground, 5_000_000.0), &far)
        .to_build
        .cut_m3;
    common::close("far away", there, here, 1e-9);
    // A pit of a few micrometres: laid right, or said to be too small.
    let tiny = PIT
        .replace("26.0", "20.000004")
        .replace("24.0", "20.000003")
        .replace("level:-2.0", "level:-0.000005");
    match try_outcome(Folder::default(), &square(|_, _| 0.0), &tiny) {
        Ok(o) => assert!(o.to_build.cut_m3 < 1e-14 && o.to_build.cut_m3 >= 0.0),
        Err(fault) => assert!(fault.to_string().contains("job.toml line"), "{fault}"),
    }
}
