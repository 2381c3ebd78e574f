//! Gates, barrow ways, piles, trees and buried lines through whole jobs.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod common;

use common::{Folder, near, run_job, written};
use cutbank::checks::{Context, Finding, ServiceKind, Severity, check};
use cutbank::diag::{Failure, Level};
use cutbank::files::OneThread;
use cutbank::outcome::Outcome;
use cutbank::report::{files, html, json};
use cutbank::run::{check_job, read_job};

/// A yard of 60 m in metres, or feet, at the level `z(x, y)`.
fn folder(z: impl Fn(f64, f64) -> f64) -> Folder {
    let mut csv = String::from("name,x,y,z\n");
    for i in 0..=12 {
        for j in 0..=12 {
            let (x, y) = (
                f64::from(i) * 5.0 + f64::from(j) * 0.013,
                f64::from(j) * 5.0,
            );
            csv += &format!("{i}-{j},{x},{y},{}\n", z(x, y));
        }
    }
    Folder::default().with("points.csv", &csv)
}

fn job(units: &str, rest: &str) -> String {
    format!(
        "[job]\nname = \"test\"\nunits = \"{units}\"\n[[survey]]\npoints = \"points.csv\"\n{rest}"
    )
}

fn yard(z: impl Fn(f64, f64) -> f64, rest: &str) -> Outcome {
    run_job(folder(z), &job("m", rest))
}

/// The first fault of a job, as it is told.
fn refused(rest: &str) -> String {
    let folder = folder(|_, _| 10.0).with("job.toml", &job("m", rest));
    let faults = match read_job(&folder).and_then(|_| check_job(&folder)) {
        Err(Failure(faults)) => faults,
        Ok(said) => panic!("not refused: {said:?}"),
    };
    let fault = faults.iter().find(|d| d.level == Level::Error).unwrap();
    let at = fault.at.first().map_or(0, |at| at.line);
    assert!(at > 0, "no place: {fault:?}");
    format!("{} {}", fault.message, fault.help)
}

fn named<'a>(outcome: &'a Outcome, rule: &str) -> Vec<&'a Finding> {
    outcome.findings.iter().filter(|f| f.rule == rule).collect()
}

const PIT: &str = "[[feature]]\nkind = \"basin\"\nname = \"Pit\"\noutline = [[28.0, 28.0], [32.0, 28.0], [32.0, 32.0], [28.0, 32.0]]\nfloor = \"level:9.0\"\nside_run_per_rise = 1.0\ncorners = \"mitre\"\n";

#[test]
fn a_way_runs_from_the_gate_to_the_setback_of_the_dig() {
    let outcome = yard(
        |_, _| 10.0,
        &format!("{PIT}[[gate]]\nname = \"Gate\"\nat = [30.0, 5.0]\nwidth = 1.2\n"),
    );
    let [route] = &outcome.access.routes[..] else {
        panic!()
    };
    // The rim lies at y = 27; the middle of a barrow of 36 in keeps 2 ft and half its width.
    let want = 27.0 - 5.0 - 2.0 * 0.3048 - 0.9144 / 2.0;
    // It ends at one of the places a quarter of a metre apart along the rim: at most an eighth
    // of a metre beside the nearest.
    near(
        "length",
        route.length_m,
        want,
        0.125_f64.powi(2) / 2.0 / want,
    );
    near("climb", route.climb_m, 0.0, 1e-9);
    assert_eq!((route.from.as_str(), route.to.as_str()), ("Gate", "Pit"));
    assert!(
        outcome.access.words.contains("one to each dig"),
        "{}",
        outcome.access.words
    );
    // No gate, no way: said, not silent.
    let none = yard(|_, _| 10.0, PIT);
    assert!(none.access.routes.is_empty() && none.access.words.starts_with("Not computed"));
}

#[test]
fn ways_go_by_names_over_places_and_tell_their_climb() {
    let rest = format!(
        "{PIT}[[feature]]\nkind = \"pile\"\nname = \"Spoil\"\ncentre = [50.0, 30.0]\nvolume = 2.0\nrepose_run_per_rise = 1.5\n\
         [[route]]\nname = \"Soil\"\nfrom = \"Pit\"\nto = \"Spoil\"\n\
         [[route]]\nname = \"Stone\"\nfrom = [5.0, 5.0]\nto = \"10-10\"\nvia = [[5.0, 50.13]]\nwidth = 1.5\n"
    );
    let outcome = yard(|x, y| 10.0 + 0.05 * x + 0.02 * y, &rest);
    let [soil, stone] = &outcome.access.routes[..] else {
        panic!()
    };
    // Between the setback of the dig and the foot of the pile, along y = 30 or near it. The rim
    // and the foot lie where the sides meet the plane, not at round figures.
    assert!(soil.length_m > 11.0 && soil.length_m < 16.0, "{soil:?}");
    assert!(soil.climb_m > 0.5 && soil.fall_m < 0.05, "{soil:?}");
    // Shot 10-10 is at (50.13, 50). North, then east.
    let north = 50.13 - 5.0_f64;
    let east = (50.13_f64 - 5.0).hypot(0.13);
    near("stone", stone.length_m, north + east, 1e-6);
    near(
        "climb",
        stone.climb_m,
        0.02 * north + 0.05 * (50.13 - 5.0) - 0.02 * 0.13,
        1e-6,
    );
    near("width", stone.width_m, 1.5, 0.0);
    // Wider than a barrow: something else comes in, and the caution on machines is shown.
    assert!(outcome.cautions.iter().any(|c| c.number == 14));
    let slopes = stone.steepest.unwrap();
    near("steepest", slopes.rise_per_run.abs(), 0.05, 1e-3);
}

#[test]
fn a_gate_within_the_yard_is_passed_and_lets_nobody_in() {
    // A boundary all round with one gate, and a fence across with one of its own, which begins
    // where the boundary does.
    let rest = format!(
        "{PIT}[[keep-off]]\nname = \"Boundary\"\nkind = \"boundary\"\narea = [[20.0, 1.0], [59.0, 1.0], [59.0, 59.0], [1.0, 59.0], [1.0, 1.0]]\n\
         [[keep-off]]\nname = \"Fence\"\nkind = \"other\"\nline = [[1.0, 15.0], [59.0, 15.0]]\n\
         [[gate]]\nname = \"Street gate\"\nline = [[19.0, 1.0], [21.0, 1.0]]\n\
         [[gate]]\nname = \"Garden gate\"\nat = [20.0, 15.3]\nwidth = 1.0\n"
    );
    let outcome = yard(|_, _| 10.0, &rest);
    let [route] = &outcome.access.routes[..] else {
        panic!()
    };
    assert_eq!(
        (route.from.as_str(), &route.closed_by),
        ("Street gate", &None)
    );
    let narrowest = route.narrowest.as_ref().unwrap();
    assert_eq!(narrowest.words(), "at Garden gate");
    near("garden gate", narrowest.clear_m, 1.0, 1e-9);
    near("from the middle", route.line_m[0][0], 20.0, 1e-9);
}

#[test]
fn a_steep_bank_is_gone_round() {
    // A bank of 2 m over 2.5 m along x = 30, which ends at y = 40.
    let bank = |x: f64, y: f64| {
        let up = if y < 40.0 { 2.0 } else { 0.0 };
        10.0 + if x > 30.1 { up } else { 0.0 }
    };
    let route = "[[route]]\nname = \"Way\"\nfrom = [10.0, 20.0]\nto = [50.0, 20.0]\n";
    let limit = "[limits]\nbarrow_bank_percent = 30\n";
    let round = yard(bank, &format!("{route}{limit}"));
    let route_there = &round.access.routes[0];
    assert!(route_there.length_m > 45.0, "{}", route_there.length_m);
    let steep = route_there.steepest.unwrap().rise_per_run.abs();
    assert!(steep <= 0.3 + 1e-9, "{steep}");
    // A user who takes barrows up anything goes straight.
    let up = yard(
        bank,
        &format!("{route}[limits]\nbarrow_bank_percent = 90\n"),
    );
    near("straight", up.access.routes[0].length_m, 40.0, 1e-6);
    assert_eq!(named(&up, "route-steep").len(), 1);
}

#[test]
fn a_trench_with_its_spoil_beside_it_takes_the_published_corridor() {
    // 13.0 ft at the top, 2 ft back, a windrow of 6.56 ft: 21.56 ft on one side (29 CFR
    // 1926.651(j)(2), at least 2 ft from the edge; the corridor is the sum).
    let (top, back, base) = (13.0, 2.0, 6.56);
    let middle = 20.0 + top / 2.0 + back + base / 2.0;
    // A ridge whose foot is 6.56 ft across at 1.5 across : 1 up, 20 ft long between its tips'
    // middles: a prism and two half cones.
    let (r, h): (f64, f64) = (base / 2.0, base / 2.0 / 1.5);
    let ft3 = r * h * 20.0 + std::f64::consts::PI * r * r * h / 3.0;
    let rest = format!(
        "[[feature]]\nkind = \"trench\"\nname = \"Trench\"\nline = [[20.0, 10.0], [20.0, 50.0]]\nwidth = 4.0\ndepth = 6.0\nside_run_per_rise = 0.75\nbackfilled = false\n\
         [[feature]]\nkind = \"pile\"\nname = \"Windrow\"\nline = [[{middle}, 20.0], [{middle}, 40.0]]\nvolume = {}\nrepose_run_per_rise = 1.5\n[limits]\nchord = 0.0002\n",
        ft3 / 27.0
    );
    let outcome = run_job(folder(|_, _| 100.0), &job("ft", &rest));
    let (dig, far_m) = outcome.access.piles[0].nearest_edge.clone().unwrap();
    assert_eq!(dig, "Trench");
    near("2 ft back", far_m / 0.3048, 2.0, 1e-4);
    let east = outcome.access.piles[0].rims_m[0]
        .iter()
        .map(|p| p[0])
        .fold(0.0, f64::max);
    let west = 20.0 - top / 2.0;
    near("corridor", east / 0.3048 - west, 21.56, 1e-4);
}

#[test]
fn hand_digging_is_told_by_station_round_a_bend() {
    // A line with a bend: down the west side of the pit and along its south.
    let rest = format!(
        "{PIT}[[keep-off]]\nname = \"Water\"\nkind = \"service\"\nservice = \"drinking water\"\nline = [[26.8, 50.0], [26.8, 26.8], [50.0, 26.8]]\nhalf_width = 0.5\nhand_dig = 0.45\n"
    );
    let outcome = yard(|_, _| 10.0, &rest);
    let service = &outcome.access.services[0];
    assert_eq!((service.kind, service.hand_m), (ServiceKind::Water, 0.45));
    let work = &service.touched[0];
    // 0.25 m of the rim on both sides; sides 1 : 1.
    near("deepest", work.deepest_cut_m, 0.25, 1e-6);
    let area = 2.0 * 6.0 * 0.25 - 0.25 * 0.25;
    near("area", work.area_m2, area, 1e-6);
    // From y = 33 down to the bend at station 23.2, and on to x = 33.
    let all: f64 = work.length_m;
    assert!((all - (33.0 - 26.8 + 33.0 - 26.8)).abs() < 0.5, "{work:?}");
    near("from", work.stations_m[0][0], 50.0 - 33.0, 1e-6);
    near(
        "to",
        work.stations_m.last().unwrap()[1],
        23.2 + 33.0 - 26.8,
        1e-6,
    );
    let finding = outcome
        .findings
        .iter()
        .find(|f| f.ids == ["EX-13"] && f.severity == Severity::Warn)
        .unwrap();
    assert!(
        finding.cure.contains("a machine only outside"),
        "{}",
        finding.cure
    );
    assert_eq!(finding.limit_from, "hand_dig of this line");
}

#[test]
fn what_a_line_carries_is_told_from_its_words() {
    for (words, kind) in [
        ("power", ServiceKind::Power),
        ("Cable to the lamp", ServiceKind::Power),
        ("gas", ServiceKind::Gas),
        ("telephone", ServiceKind::Communications),
        ("drinking water", ServiceKind::Water),
        ("irrigation water", ServiceKind::Irrigation),
        ("storm water drain", ServiceKind::Sewer),
        ("pet fence", ServiceKind::Unknown),
    ] {
        assert_eq!(ServiceKind::from_words(words), kind, "{words}");
    }
}

#[test]
fn what_is_wrong_is_said_with_its_place() {
    let gate = "[[gate]]\nname = \"Gate\"\nat = [5.0, 5.0]\nwidth = 1.0\n";
    for (rest, words) in [
        ("[[gate]]\nname = \"G\"\nline = [[1.0, 1.0]]\n".to_owned(), "a gate has two"),
        ("[[gate]]\nname = \"G\"\nline = [[1.0, 1.0], [1.0, 1.0]]\n".to_owned(), "stand at one place"),
        ("[[gate]]\nname = \"G\"\nat = [1.0, 1.0]\n".to_owned(), "width"),
        ("[[gate]]\nname = \"G\"\nline = [[1.0, 1.0], [2.0, 1.0]]\nwidth = 1.0\n".to_owned(), "goes with `at` only"),
        (format!("{gate}{gate}"), "two things are called"),
        (format!("{PIT}[[gate]]\nname = \"Pit\"\nat = [5.0, 5.0]\nwidth = 1.0\n"), "two things are called"),
        (format!("{gate}[[route]]\nname = \"R\"\nfrom = \"Gaet\"\nto = [1.0, 1.0]\n"), "did you mean \"Gate\"?"),
        (format!("{gate}[[route]]\nname = \"R\"\nfrom = \"Gate\"\n"), "to"),
        (format!("{gate}[[route]]\nname = \"R\"\nfrom = \"Gate\"\nto = [1.0, 1.0]\nwidth = -1.0\n"), "must be more than 0"),
        (format!("{gate}[[route]]\nname = \"R\"\nfrom = \"Gate\"\nto = [1.0, 1.0]\nvia = [\"nowhere\"]\n"), "nowhere"),
        ("[[keep-off]]\nname = \"K\"\nkind = \"service\"\nline = [[1.0, 1.0], [9.0, 9.0]]\nnotified = \"5.6.2026\"\n".to_owned(), "is no day"),
    ] {
        let told = refused(&rest);
        assert!(told.contains(words), "{told} should say {words}");
    }
}

#[test]
fn page_sheet_and_tables_show_it() {
    let rest = format!(
        "{PIT}[[keep-off]]\nname = \"Cable\"\nkind = \"service\"\nservice = \"power\"\nline = [[5.0, 26.5], [55.0, 26.5]]\n\
         [[keep-off]]\nname = \"Oak\"\nkind = \"roots\"\ncentre = [36.0, 30.0]\ntrunk_cm = 30\n\
         [[keep-off]]\nname = \"Fence\"\nkind = \"boundary\"\nline = [[0.0, 15.0], [60.0, 15.0]]\n\
         [[gate]]\nname = \"Side gate\"\nline = [[20.0, 15.0], [21.1, 15.0]]\n\
         [[route]]\nname = \"Way\"\nfrom = [20.0, 5.0]\nto = \"Pit\"\n"
    );
    let outcome = yard(|_, _| 10.0, &rest);
    let page = html(&outcome);
    for words in [
        "Access, roots, buried lines",
        "Side gate",
        "Barrow ways",
        "by hand from station",
        "Work in root circles",
    ] {
        assert!(page.contains(words), "{words}");
    }
    let found = files(&outcome);
    let text = |name: &str| {
        let (_, content) = found.iter().find(|(n, _)| n == name).unwrap();
        String::from_utf8(written(content)).unwrap()
    };
    let svg = text("access.svg");
    for words in [
        "R1",
        "1.10 m clear",
        ">P<",
        "dig by hand inside of this",
        "roots 3.60 m round",
    ] {
        assert!(svg.contains(words), "{words}");
    }
    let csv = text("routes.csv");
    assert!(
        csv.starts_with("way,name,from,to,width_m,length_m,"),
        "{csv}"
    );
    let narrow = &outcome.access.routes[0].narrowest.as_ref().unwrap();
    near("gate", narrow.clear_m, 1.1, 1e-9);
    let json = json(&outcome);
    near(
        "json",
        json["access"]["gates"][0]["clear_m"].as_f64().unwrap(),
        1.1,
        1e-9,
    );
    // A job with none of it has no such files, and says so on its page.
    let bare = yard(|_, _| 10.0, PIT);
    assert!(
        files(&bare)
            .iter()
            .all(|(n, _)| n != "access.svg" && n != "routes.csv")
    );
    assert!(html(&bare).contains("Not computed: no gate is drawn"));
}

#[test]
fn a_yard_of_two_thousand_points_takes_milliseconds() {
    let mut csv = String::from("name,x,y,z\n");
    for i in 0..45 {
        for j in 0..45 {
            let (x, y) = (
                f64::from(i) * 1.4 + f64::from(j) * 0.013,
                f64::from(j) * 1.4,
            );
            csv += &format!(
                "{i}-{j},{x},{y},{}\n",
                10.0 + 0.05 * x + 0.3 * (x * 0.7).sin() * (y * 0.5).cos()
            );
        }
    }
    let mut rest = String::new();
    for k in 0..6 {
        let (x, y) = (8.0 + 9.0 * f64::from(k % 3), 12.0 + 20.0 * f64::from(k / 3));
        rest += &format!(
            "[[feature]]\nkind = \"basin\"\nname = \"Pit {k}\"\noutline = [[{x}, {y}], [{}, {y}], [{}, {}], [{x}, {}]]\nfloor = \"depth:0.6\"\nside_run_per_rise = 1.0\ncorners = \"round\"\n",
            x + 3.0,
            x + 3.0,
            y + 3.0,
            y + 3.0
        );
        rest += &format!(
            "[[feature]]\nkind = \"pile\"\nname = \"Pile {k}\"\ncentre = [{}, {}]\nvolume = 0.8\nrepose_run_per_rise = 1.5\n",
            x + 1.5,
            y + 9.0
        );
    }
    rest += "[[keep-off]]\nname = \"Cable\"\nkind = \"service\"\nline = [[3.0, 11.0], [30.0, 14.0], [58.0, 30.0]]\n[[keep-off]]\nname = \"Oak\"\nkind = \"roots\"\ncentre = [20.0, 20.0]\ntrunk_cm = 40\n[[gate]]\nname = \"Gate\"\nat = [1.0, 1.0]\nwidth = 1.2\n";
    let folder = Folder::default().with("points.csv", &csv);
    let begun = std::time::Instant::now();
    let outcome = run_job(folder, &job("m", &rest));
    println!(
        "whole job of 2,025 points and 12 features: {:?}, {} ways",
        begun.elapsed(),
        outcome.access.routes.len()
    );
    assert_eq!(outcome.access.routes.len(), 12);
    let context = Context {
        job: &outcome.job,
        survey: &outcome.survey,
        terrain: &outcome.terrain,
        design: &outcome.design,
        soil: &outcome.soil,
        to_build: &outcome.to_build,
        extents: &outcome.extents,
        workers: &OneThread,
    };
    let begun = std::time::Instant::now();
    let checked = check(&context).unwrap();
    println!("all checks of it: {:?}", begun.elapsed());
    assert_eq!(checked.findings, outcome.findings);
}
