//! Random yards: what holds of level books, ties and grounds whatever was shot.
//!
//! Books of mixed rods, networks of tapes that are thin, in line, of one place or wrong, grounds
//! with shots in line, twice, a nanometre apart, worlds apart or sky-high. They are read from
//! text as typed. All trials are seeded; `CUTBANK_TRIALS` and `CUTBANK_SEED` ask for others.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod common;

use std::collections::BTreeMap;
use std::fmt::{Debug, Write};

use common::{Folder, Random};
use cutbank::diag::{Diagnostic, Failure, Level};
use cutbank::job::{GroundSpec, Job, read};
use cutbank::show::Show;
use cutbank::surface::contours;
use cutbank::survey::tie::Way;
use cutbank::survey::{SightKind, Survey};
use cutbank::terrain::{LeaveOut, Terrain, Trust, build, doubts, slope_bands};

fn asked(variable: &str, usual: u64) -> u64 {
    let text = std::env::var(variable).ok();
    text.map_or(usual, |text| text.parse().unwrap())
}

/// Calls a check with a generator of its own for every trial; what fails can be run alone.
fn trials(usual: u64, check: impl Fn(&mut Random) -> bool) {
    let seed = asked("CUTBANK_SEED", 1) << 32;
    let count = asked("CUTBANK_TRIALS", usual);
    let mut good = 0;
    for trial in 0..count {
        let run = std::panic::AssertUnwindSafe(|| check(&mut Random(seed + trial)));
        match std::panic::catch_unwind(run) {
            Ok(is_read) => good += usize::from(is_read),
            Err(panic) => {
                println!("trial {trial}, generator Random({})", seed + trial);
                std::panic::resume_unwind(panic);
            }
        }
    }
    println!("{good} of {count} gave an answer");
    assert!(
        good as u64 > count / 20,
        "only {good} of {count} gave an answer"
    );
}

/// Panics where something computed is no number.
#[track_caller]
fn finite(what: &impl Debug) {
    let text = format!("{what:?}");
    let is_finite = !text.contains("NaN") && !text.contains(" inf") && !text.contains("-inf");
    assert!(is_finite, "{text}");
}

fn normal(random: &mut Random) -> f64 {
    (0..12).map(|_| random.between(-0.5, 0.5)).sum()
}

/// The job of a text, and its survey.
fn survey(text: &str, files: &[(&str, &str)]) -> Result<(Job, Survey, Vec<Diagnostic>), Failure> {
    let (job, _) = read("job.toml", text)?;
    let folder = files
        .iter()
        .fold(Folder::default(), |folder, (name, text)| {
            folder.with(name, text)
        });
    let (survey, said) = Survey::of(&job, &folder)?;
    Ok((job, survey, said))
}

/// A refusal in words: with an error that names a place, and no mistake of the program.
fn refused(Failure(said): &Failure, shown: &str) {
    let errors: Vec<_> = said.iter().filter(|d| d.level == Level::Error).collect();
    assert!(!errors.is_empty(), "{shown}");
    for d in errors {
        assert!(!d.at.is_empty(), "{d}\n{shown}");
        assert!(!["internal", "kernel"].contains(&d.code), "{d}\n{shown}");
        finite(&d.message);
    }
}

// ---- level books ----

/// One set-up after the other round a yard: rods of all kinds, points shot again, benchmarks.
struct Book {
    rows: Vec<(usize, String)>,
    /// True heights, in thousandths of a foot.
    level: BTreeMap<String, i64>,
}

const RODS: [&str; 5] = [
    "tenths",
    "inch-eighths",
    "tenths upside-down",
    "tenths",
    "inch-eighths",
];

fn book(random: &mut Random) -> Book {
    let mut rows = Vec::new();
    // Heights are whole 96ths of a foot times 12.5: an eighth of an inch and, for the rods in
    // tenths, booked in full.
    let mut level: BTreeMap<String, i64> = BTreeMap::new();
    let mut fresh = |random: &mut Random, name: &str| {
        let z = 9_600 + random.below(300) as i64;
        *level.entry(name.to_owned()).or_insert(z)
    };
    let num_setups = 1 + random.below(6) as usize;
    let mut at = "BM1".to_owned();
    let start = fresh(random, "BM1");
    for setup in 0..num_setups {
        let rod = RODS[random.below(5) as usize];
        let plane =
            9_600 + if rod.contains("upside") { -60 } else { 420 } + random.below(40) as i64;
        let mut row = |name: &str, kind: &str, z: i64, kind_of_rod: &str, known: &str| {
            let down = if rod.contains("upside") {
                z - plane
            } else {
                plane - z
            };
            let reading = if rod.starts_with("inch") {
                format!("{}-{}-{}/8", down / 96, down % 96 / 8, down % 8)
            } else {
                format!("{:.8}", down as f64 / 96.0)
            };
            rows.push((
                setup,
                format!("{setup},{name},{kind_of_rod},{kind},{reading},{known}"),
            ));
        };
        let z = fresh(random, &at);
        row(&at, "BS", z, rod, "");
        for shot in 0..random.below(5) {
            let name = match random.below(6) {
                0 => "S1".to_owned(),
                _ => format!("P{setup}-{shot}"),
            };
            let z = fresh(random, &name);
            row(&name, "IS", z, "", "");
        }
        if setup + 1 == num_setups {
            let (name, z) = match random.below(3) {
                0 => ("BM1".to_owned(), start),
                1 => ("BM2".to_owned(), fresh(random, "BM2")),
                _ => break,
            };
            let known = format!("{:.8}", z as f64 / 96.0);
            row(&name, "FS", z, "", if name == "BM2" { &known } else { "" });
        } else {
            at = format!("T{setup}");
            let z = fresh(random, &at);
            row(&at, "FS", z, "", "");
        }
    }
    Book { rows, level }
}

fn text_of(rows: &[(usize, String)]) -> String {
    let mut text = "setup,point,rod kind,type,rod,known\n".to_owned();
    for (_, row) in rows {
        writeln!(text, "{row}").unwrap();
    }
    text
}

/// Every level is what it was before it was booked, in whatever order the shots of a set-up stand;
/// a benchmark that is higher lifts all; one reading changed at random leaves numbers.
#[test]
fn books_give_back_their_levels() {
    trials(400, |random| {
        let book = book(random);
        let base = book.level["BM1"] as f64 / 96.0;
        let job = |base: f64| {
            format!(
                "[job]\nname = \"Y\"\nunits = \"ft\"\n[[survey]]\nlevels = \"l.csv\"\nrod = \"tenths\"\n\
                 adjust = \"setups\"\nbenchmark = {{ name = \"BM1\", level = {base:.8} }}\n"
            )
        };
        let levels = |job: &str, rows: &[(usize, String)]| {
            let text = text_of(rows);
            let (_, survey, _) =
                survey(job, &[("l.csv", &text)]).unwrap_or_else(|fault| panic!("{fault}\n{text}"));
            finite(&survey.books);
            let book = &survey.books[0];
            book.sights
                .iter()
                .map(|s| (s.name.clone(), s.adjusted_m / 0.3048))
                .collect::<Vec<_>>()
        };
        let first = levels(&job(base), &book.rows);
        for (name, z) in &first {
            let want = book.level[name] as f64 / 96.0;
            assert!(
                (z - want).abs() < 1e-6,
                "{name}: {z} for {want}\n{}",
                text_of(&book.rows)
            );
        }
        for ((name, z), (_, higher)) in first.iter().zip(levels(&job(base + 10.0), &book.rows)) {
            // A second given level holds its end down.
            let is_held = book.level.contains_key("BM2");
            assert!(is_held || (higher - z - 10.0).abs() < 1e-7, "{name}");
        }
        // Shots of one set-up change places.
        let mut mixed = book.rows.clone();
        for _ in 0..mixed.len() {
            let k = random.below(mixed.len() as u64) as usize;
            let is_shot = |k: usize| mixed.get(k).is_some_and(|(_, row)| row.contains(",IS,"));
            if is_shot(k) && is_shot(k + 1) && mixed[k].0 == mixed[k + 1].0 {
                mixed.swap(k, k + 1);
            }
        }
        for (name, z) in levels(&job(base), &mixed) {
            let want = book.level[&name] as f64 / 96.0;
            assert!((z - want).abs() < 1e-6, "{name}");
        }
        // A slip of a foot or a digit, anywhere.
        let k = random.below(mixed.len() as u64) as usize;
        let slip = ["1", "12.5", "0.1", "99", "-1"][random.below(5) as usize];
        let cells: Vec<&str> = mixed[k].1.split(',').collect();
        let row = [cells[0], cells[1], cells[2], cells[3], slip, cells[5]].join(",");
        mixed[k].1 = row;
        let text = text_of(&mixed);
        match survey(&job(base), &[("l.csv", &text)]) {
            Ok((_, survey, said)) => {
                finite(&survey.books);
                finite(&said);
                let controls = survey.books[0].sights.iter().filter(|s| s.control);
                assert!(controls.count() > 0);
                let kinds = survey.books[0].sights.iter().map(|s| s.kind);
                assert_eq!(kinds.filter(|k| *k == SightKind::Backsight).count(), {
                    mixed.iter().filter(|(_, row)| row.contains(",BS,")).count()
                });
            }
            Err(fault) => refused(&fault, &text),
        }
        true
    });
}

// ---- ties ----

struct Ties {
    control: String,
    /// Rows of one point together.
    points: Vec<String>,
    tapes: BTreeMap<String, Vec<(String, f64)>>,
}

fn ties(random: &mut Random, east: f64) -> Ties {
    let reach = [0.5, 20.0, 20.0, 20.0, 3_000.0][random.below(5) as usize];
    let count = 2 + random.below(5) as usize;
    let in_line = random.below(4) == 0;
    let mut corners: Vec<[f64; 2]> = Vec::new();
    for k in 0..count {
        let place = match random.below(12) {
            0 if k > 0 => corners[k - 1],
            1 if k > 0 => [corners[k - 1][0] + 1e-9, corners[k - 1][1]],
            _ if in_line => {
                let along = random.between(0.0, reach);
                [along, 0.25 * along]
            }
            _ => [random.between(0.0, reach), random.between(0.0, reach)],
        };
        corners.push(place.map(|v| (v * 1e9).round() / 1e9));
    }
    let name = |k: usize| char::from(b'A' + k as u8).to_string();
    let given = if random.below(3) == 0 { 2 } else { count };
    let noise = [0.0, 1e-6, 0.01, 0.05][random.below(4) as usize];
    let apart = |a: [f64; 2], b: [f64; 2]| (a[0] - b[0]).hypot(a[1] - b[1]);
    let mut control = "[control]\ncorners = { ".to_owned();
    for (k, [x, y]) in corners.iter().enumerate().take(given) {
        let comma = if k > 0 { ", " } else { "" };
        write!(control, "{comma}{} = [{:.9}, {y:.9}]", name(k), x + east).unwrap();
    }
    control.push_str(" }\n");
    if given < count {
        let mut list = Vec::new();
        let mut sides = Vec::new();
        for k in given..count {
            for other in 0..k {
                let length = apart(corners[k], corners[other]) + noise * normal(random);
                if random.below(5) > 0 && length > 1e-6 {
                    list.push(format!("\"{}-{} {length:.9}\"", name(other), name(k)));
                }
            }
            if random.below(3) > 0 {
                sides.push(format!("{} = \"left\"", name(k)));
            }
        }
        writeln!(
            control,
            "distances = [{}]\nside = {{ {} }}",
            list.join(", "),
            sides.join(", ")
        )
        .unwrap();
    }
    if random.below(3) == 0 {
        control.push_str("tape_error = 0.003\n");
    }
    let mut points = Vec::new();
    let mut tapes: BTreeMap<String, Vec<(String, f64)>> = BTreeMap::new();
    for point in 0..3 + random.below(10) {
        let place = [random.between(-reach, reach), random.between(-reach, reach)];
        let mut rows = String::new();
        for row in 0..1 + random.below(5) {
            let k = random.below(count as u64) as usize;
            let mut length = apart(corners[k], place) + noise * normal(random);
            match random.below(40) {
                0 => length += 1.0,
                1 => length *= 10.0,
                2 => length = 0.001,
                _ => {}
            }
            let length = (length.max(1e-3) * 1e6).round() / 1e6;
            let side = match (row, random.below(3)) {
                (0, 0) => "left",
                (0, 1) => "right",
                _ => "",
            };
            let z = if row == 0 { "99.5" } else { "" };
            writeln!(rows, "{point},{},{length},{side},{z}", name(k)).unwrap();
            let own = tapes.entry(point.to_string()).or_default();
            own.push((name(k), length));
        }
        points.push(rows);
    }
    Ties {
        control,
        points,
        tapes,
    }
}

type Placed = BTreeMap<String, [f64; 2]>;

fn placed(ties: &Ties, points: &[String]) -> Result<(Placed, Survey), String> {
    let text = format!("point,from,tape,side,z\n{}", points.concat());
    let job = format!(
        "[job]\nname = \"Y\"\nunits = \"m\"\n{}[[survey]]\nties = \"t.csv\"\n",
        ties.control
    );
    match survey(&job, &[("t.csv", &text)]) {
        Ok((_, survey, said)) => {
            finite(&survey.ties);
            finite(&survey.corners);
            finite(&survey.unplaced);
            finite(&said);
            let places = |(x, y): (i64, i64)| [x as f64 / 1e9, y as f64 / 1e9];
            let all = survey
                .ties
                .iter()
                .map(|t| (t.name.clone(), places(t.place_nm)));
            let corners = survey
                .corners
                .iter()
                .map(|c| (c.name.clone(), places(c.place_nm)));
            Ok((all.chain(corners).collect(), survey))
        }
        Err(fault) => {
            refused(&fault, &format!("{job}\n{text}"));
            Err(fault.to_string())
        }
    }
}

/// A place that is given satisfies its tapes within what is said of it; it is the same in any
/// order of the points, and moves with its corners.
#[test]
fn places_satisfy_their_tapes() {
    trials(1_200, |random| {
        let mut again = random.clone();
        let made = ties(random, 0.0);
        let shown = || format!("{}\n{}", made.control, made.points.concat());
        let first = placed(&made, &made.points);
        let mut turned = made.points.clone();
        let by = random.below(turned.len() as u64) as usize;
        turned.rotate_left(by);
        let second = placed(&made, &turned);
        let moved = ties(&mut again, 1_000.0);
        let third = placed(&moved, &moved.points);
        assert_eq!(
            first.is_ok(),
            second.is_ok(),
            "{}\n{:?}\n{:?}",
            shown(),
            first.err(),
            second.err()
        );
        assert_eq!(
            first.is_ok(),
            third.is_ok(),
            "moved\n{}\n{:?}\n{:?}",
            shown(),
            first.err(),
            third.err()
        );
        let (Ok((places, survey)), Ok((second, _)), Ok((third, _))) = (first, second, third) else {
            return false;
        };
        assert!(places.keys().eq(second.keys()), "{}", shown());
        assert!(places.keys().eq(third.keys()), "moved\n{}", shown());
        for (name, [x, y]) in &places {
            let [x2, y2] = second[name];
            assert!((x - x2).hypot(y - y2) < 1e-6, "{name}\n{}", shown());
            let [x3, y3] = third[name];
            assert!(
                (x - x3 + 1_000.0).hypot(y - y3) < 1e-6,
                "{name} moved\n{}",
                shown()
            );
        }
        for tie in survey.ties.iter().filter(|tie| tie.way == Way::Tapes) {
            let own = &made.tapes[&tie.name];
            let [x, y] = places[&tie.name];
            let off = own.iter().map(|(corner, length)| {
                let [cx, cy] = places[corner];
                ((x - cx).hypot(y - cy) - length).abs()
            });
            let worst = off.fold(0.0, f64::max);
            let said = tie.largest_residual_m.unwrap_or(0.0);
            // Circles that miss each other by chance are met half way: three tape errors of 0.1 ft.
            let slack = if own.len() == 2 { 0.2 } else { 1e-6 };
            assert!(worst <= said + slack, "{tie:?} off by {worst}\n{}", shown());
        }
        true
    });
}

// ---- grounds ----

struct Yard {
    points: Vec<(String, [i64; 2], f64, &'static str)>,
    ground: String,
}

fn yard(random: &mut Random) -> Yard {
    let reach = [1.0, 30.0, 30.0, 2_000.0][random.below(4) as usize];
    let tall = [0.0, 2.0, 2.0, 1e5][random.below(4) as usize];
    let far = [0, 0, 4_500_000, -7_000_000][random.below(4) as usize] * 1_000_000_000;
    let on_grid = random.below(3) == 0;
    let nm = |m: f64| (m * 1e9).round() as i64;
    let mut points: Vec<(String, [i64; 2], f64, &'static str)> = Vec::new();
    let count = 3 + random.below(80);
    for k in 0..count {
        let before = points.last().map(|p| (p.1, p.2));
        let mut place = [random.between(0.0, reach), random.between(0.0, reach)].map(nm);
        if on_grid {
            place = place.map(|v| v / nm(reach / 8.0) * nm(reach / 8.0));
        }
        let mut z = 100.0 + tall * random.between(-0.5, 0.5);
        match (random.below(40), before) {
            (0, Some((p, _))) => place = [p[0] + 1, p[1]],
            (1, Some((p, at))) => (place, z) = (p, at),
            (2, Some((p, at))) => (place, z) = ([p[0], p[1] + 1_000], at + 0.001),
            (3, Some((p, _))) => place = [p[0], p[1]],
            (4..7, Some((p, _))) => place[1] = p[1],
            _ => {}
        }
        let code = ["", "", "", "", "top", "lip", "pile", "edge"][random.below(8) as usize];
        points.push((k.to_string(), [place[0] + far, place[1] + far], z, code));
    }
    let mut ground = "[ground]\nduplicates = \"mean\"\ncrossings = \"mean\"\n".to_owned();
    let name = |random: &mut Random| random.below(count).to_string();
    let ring = |random: &mut Random| {
        let list: Vec<String> = (0..3 + random.below(3))
            .map(|_| format!("\"{}\"", name(random)))
            .collect();
        format!("[{}]", list.join(", "))
    };
    if random.below(4) == 0 {
        writeln!(ground, "outline = {}", ring(random)).unwrap();
    }
    if random.below(4) == 0 {
        writeln!(ground, "holes = [{}]", ring(random)).unwrap();
    }
    if random.below(4) == 0 {
        writeln!(ground, "no_data = [{}]", ring(random)).unwrap();
    }
    if random.below(3) == 0 {
        writeln!(ground, "breaklines = [{}, \"code:top\"]", ring(random)).unwrap();
    }
    if random.below(4) == 0 {
        writeln!(ground, "max_edge = {:.3}", reach * random.between(0.1, 1.0)).unwrap();
    }
    Yard { points, ground }
}

struct Built {
    terrain: Terrain,
    trust: Option<Trust>,
    said: usize,
}

fn made(yard: &Yard, by_m: i64) -> Result<Built, String> {
    let mut text = "name,x,y,z,code\n".to_owned();
    let metres = |nm: i64| {
        let sign = if nm < 0 { "-" } else { "" };
        let nm = nm.unsigned_abs();
        format!("{sign}{}.{:09}", nm / 1_000_000_000, nm % 1_000_000_000)
    };
    for (name, [x, y], z, code) in &yard.points {
        let x = metres(x + by_m * 1_000_000_000);
        writeln!(text, "{name},{x},{},{z},{code}", metres(*y)).unwrap();
    }
    let job = format!(
        "[job]\nname = \"Y\"\nunits = \"m\"\n[[survey]]\npoints = \"p.csv\"\n{}",
        yard.ground
    );
    let ground = |spec: &GroundSpec, survey: &Survey| build(survey, spec);
    let built = survey(&job, &[("p.csv", &text)]).and_then(|(job, survey, _)| {
        let (terrain, said) = ground(&job.ground, &survey)?;
        Ok((job, survey, terrain, said))
    });
    let (job, survey, terrain, mut said) = match built {
        Ok(built) => built,
        Err(fault) => {
            refused(&fault, &format!("{job}\n{text}"));
            return Err(fault.0.iter().map(|d| d.code).collect::<Vec<_>>().join(" "));
        }
    };
    let shown = || format!("{job:?}\n{text}");
    terrain.surface.check_consistent().unwrap();
    let left_out = LeaveOut::of(&terrain);
    for guess in left_out.guesses.iter().flatten() {
        let sum: f64 = guess.weights.iter().map(|w| w.1).sum();
        assert!((sum - 1.0).abs() < 1e-6, "{guess:?}\n{}", shown());
    }
    let soil_m = job.limits.shot_height_m;
    said.extend(doubts(
        &survey,
        &job.ground,
        &terrain,
        &left_out,
        Show::new(job.units),
        soil_m,
    ));
    finite(&said);
    let surface = &terrain.surface;
    let area_m2: f64 = surface.facets().map(|f| surface.area_m2(f)).sum();
    let banded_m2: f64 = slope_bands(surface).iter().map(|b| b.area_m2()).sum();
    assert!((banded_m2 - area_m2).abs() <= 1e-9 * area_m2, "{}", shown());
    let (low, high) = surface.z_range().unwrap();
    for line in contours(surface, &[low, (low + high) / 2.0, high], &|_| true) {
        finite(&line);
    }
    let trust = Trust::of(&terrain, &survey, &left_out, soil_m).ok();
    if let Some(trust) = &trust {
        finite(trust);
        let floor_m = 0.003 - 1e-9;
        assert!(
            trust.at_centres_m.iter().all(|m| *m >= floor_m),
            "{}",
            shown()
        );
        let graded_m2: f64 = trust.grades.iter().map(|g| g.area_m2).sum();
        assert!(
            (graded_m2 - area_m2).abs() <= 1e-9 * area_m2,
            "{graded_m2} of {area_m2}\n{}",
            shown()
        );
        assert!((0.0..=1.0).contains(&trust.covered));
        for place in &trust.shoot_next {
            assert!(place.half_range_80_m >= floor_m);
        }
    }
    Ok(Built {
        terrain,
        trust,
        said: said.len(),
    })
}

fn area_nm2(built: &Built) -> i128 {
    let surface = &built.terrain.surface;
    surface.facets().map(|f| surface.twice_area_of_nm2(f)).sum()
}

/// A ground is the same to the last bit when it is made again and where it lies elsewhere; its
/// shots in another order give the same heights and the same area.
#[test]
fn grounds_hold_together() {
    trials(1_000, |random| {
        let yard = yard(random);
        let first = made(&yard, 0);
        let again = made(&yard, 0);
        let moved = made(&yard, 1_234);
        let mut turned = yard;
        let by = random.below(turned.points.len() as u64) as usize;
        turned.points.rotate_left(by);
        let mixed = made(&turned, 0);
        let (first, again, moved) = match (first, again, moved) {
            (Ok(first), Ok(again), Ok(moved)) => (first, again, moved),
            (Err(first), Err(again), Err(moved)) => {
                assert_eq!((&first, &first), (&again, &moved));
                return false;
            }
            (first, _, moved) => panic!("{:?} there, {:?} here", moved.err(), first.err()),
        };
        let same = |a: &Terrain, b: &Terrain| {
            let vertices = |t: &Terrain| {
                t.surface
                    .vertices()
                    .iter()
                    .map(|v| (v.p, v.z.to_bits()))
                    .collect::<Vec<_>>()
            };
            vertices(a) == vertices(b)
        };
        assert!(same(&first.terrain, &again.terrain), "made again");
        assert_eq!(first.trust, again.trust, "made again");
        assert_eq!(first.said, again.said, "made again");
        assert!(same(&first.terrain, &moved.terrain), "moved");
        assert_eq!(area_nm2(&first), area_nm2(&moved), "moved");
        let halves = |b: &Built| b.trust.as_ref().map(|t| t.at_centres_m.clone());
        assert_eq!(halves(&first), halves(&moved), "moved");
        // The order of shots decides which name a code's line begins with, and so the ground.
        if !turned.ground.contains("code:") {
            let mixed = mixed.unwrap_or_else(|why| panic!("in another order: {why}"));
            // Which sliver at the rim is taken off hangs on how four shots on one circle are cut.
            let whole_m2 = |b: &Built| area_nm2(b) as f64 / 2e18 + b.terrain.trimmed_m2;
            let (a, b) = (whole_m2(&first), whole_m2(&mixed));
            assert!((a - b).abs() <= 1e-9 * a, "in another order: {a} and {b}");
            let heights = |b: &Built| {
                let vertices = b.terrain.surface.vertices();
                vertices
                    .iter()
                    .map(|v| (v.p, v.z))
                    .collect::<BTreeMap<_, _>>()
            };
            let (a, b) = (heights(&first), heights(&mixed));
            for (p, z) in &a {
                let same = b.get(p).is_none_or(|other| (other - z).abs() < 1e-6);
                assert!(same, "{p:?}: {z} and {:?}", b.get(p));
            }
        }
        true
    });
}
