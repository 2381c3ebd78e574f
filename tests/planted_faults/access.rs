//! Piles, buried lines, trees, gates and barrow ways: a fault alone, and its repaired twin.

use super::{flagged, yard};
use cutbank::checks::{Finding, Severity, State};
use cutbank::outcome::Outcome;

/// The rules this family answers for.
const MINE: [&str; 2] = ["EX-7", "EX-13"];

/// Findings by the short name of their check that ask for something.
fn asking<'a>(outcome: &'a Outcome, rule: &str) -> Vec<&'a Finding> {
    let asks = |f: &&Finding| f.rule == rule && f.severity <= Severity::Warn;
    outcome.findings.iter().filter(asks).collect()
}

/// True if nothing of this family asks for anything.
fn is_quiet(outcome: &Outcome) -> bool {
    let names = [
        "gate",
        "route",
        "route-steep",
        "route-cross",
        "route-roots",
        "pile",
        "notice",
    ];
    let is_roots = |f: &&Finding| f.rule == "keep-off" && f.caution.is_some();
    MINE.iter().all(|id| flagged(outcome, id).is_empty())
        && names.iter().all(|rule| asking(outcome, rule).is_empty())
        && !outcome.findings.iter().any(|f| is_roots(&f))
}

fn state(outcome: &Outcome, id: &str) -> (State, String) {
    let answer = outcome.rules.iter().find(|a| a.rule.id == id).unwrap();
    (answer.state, answer.words.clone())
}

const LEVEL: fn(f64, f64) -> f64 = |_, _| 10.0;

/// A pit of 4 m by 4 m and 1 m deep with sides 1 : 1: its rim is 6 m by 6 m, from (27, 27).
const PIT: &str = "[[feature]]\nkind = \"basin\"\nname = \"Pit\"\noutline = [[28.0, 28.0], [32.0, 28.0], [32.0, 32.0], [28.0, 32.0]]\nfloor = \"level:9.0\"\nside_run_per_rise = 1.0\ncorners = \"mitre\"\n";

/// A cone of 1 m3 loose at 1.5 across : 1 up: its foot has the radius (3 V 1.5 / pi)^(1/3).
fn pile(x: f64, y: f64) -> String {
    format!(
        "[[feature]]\nkind = \"pile\"\nname = \"Spoil\"\ncentre = [{x}, {y}]\nvolume = 1.0\nrepose_run_per_rise = 1.5\n"
    )
}

fn foot_m() -> f64 {
    (3.0 * 1.5 / std::f64::consts::PI).cbrt()
}

#[test]
fn spoil_within_two_feet_of_an_edge() {
    // Its foot 0.50 m from the rim at x = 33.
    let near = yard(LEVEL, &format!("{PIT}{}", pile(33.5 + foot_m(), 30.0)));
    let found = flagged(&near, "EX-7");
    assert_eq!(found.len(), 1, "{found:?}");
    // The cone is built of flat facets of its own radius: a chord of 5 mm.
    let measured = found[0].measured.as_ref().unwrap().value;
    assert!((measured - 0.5).abs() < 0.006, "{measured}");
    // 29 CFR 1926.651(j)(2): 2 ft, 0.61 m.
    assert_eq!(found[0].limit.as_ref().unwrap().value, 2.0 * 0.3048);
    assert_eq!(
        (found[0].severity, found[0].caution),
        (Severity::Stop, Some(3))
    );
    assert!(
        found[0].cure.contains("0.1") && found[0].cure.ends_with("to the east"),
        "{}",
        found[0].cure
    );
    assert!(state(&near, "EX-7").1.contains("1 stop"));
    let far = yard(LEVEL, &format!("{PIT}{}", pile(33.65 + foot_m(), 30.0)));
    assert!(is_quiet(&far));
    assert_eq!(state(&far, "EX-7").0, State::Checked);
    // The user's own limit holds.
    let own = format!(
        "{PIT}{}[limits]\nedge_setback = 1.5\n",
        pile(34.0 + foot_m(), 30.0)
    );
    let found = yard(LEVEL, &own);
    assert_eq!(flagged(&found, "EX-7")[0].limit_from, "your limit");
}

#[test]
fn a_dig_without_a_pile_is_not_passed() {
    let outcome = yard(LEVEL, PIT);
    let (state, words) = state(&outcome, "EX-7");
    assert_eq!(state, State::NotChecked);
    assert!(words.contains("no pile is drawn"), "{words}");
    assert!(is_quiet(&outcome));
}

#[test]
fn a_dig_in_the_band_of_a_buried_line() {
    let job = |y: f64| {
        format!(
            "{PIT}[[keep-off]]\nname = \"Cable\"\nkind = \"service\"\nservice = \"power\"\nline = [[5.0, {y}], [55.0, {y}]]\nnotified = \"2026-06-05\"\n"
        )
    };
    let near = yard_dug("2026-06-11", &job(26.8));
    let found = flagged(&near, "EX-13");
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(
        (found[0].severity, found[0].caution),
        (Severity::Warn, Some(1))
    );
    assert_eq!(found[0].limit.as_ref().unwrap().value, 24.0 * 0.0254);
    // The band reaches 0.4096 m past the rim at y = 27: the sides are 1 : 1, so it is that deep.
    let depth = 26.8 + 24.0 * 0.0254 - 27.0;
    let service = &near.access.services[0];
    let work = &service.touched[0];
    assert!((work.deepest_cut_m - depth).abs() < 1e-6, "{work:?}");
    // From x = 27 to 33 along a line that starts at x = 5.
    assert_eq!(work.stations_m.len(), 1);
    assert!(
        (work.stations_m[0][0] - 22.0).abs() < 1e-6 && (work.length_m - 6.0).abs() < 1e-6,
        "{work:?}"
    );
    assert!(
        found[0].cure.contains("by hand") && found[0].cure.contains("to the north"),
        "{}",
        found[0].cure
    );
    let far = yard_dug("2026-06-11", &job(26.3));
    assert!(is_quiet(&far));
    assert_eq!(state(&far, "EX-13").0, State::Checked);
    // hand_dig of the line itself wins over the limit.
    let own = job(26.3).replace("service = \"power\"", "service = \"power\"\nhand_dig = 1.0");
    assert_eq!(flagged(&yard_dug("2026-06-11", &own), "EX-13").len(), 1);
}

/// A level yard with a day of digging.
fn yard_dug(day: &str, rest: &str) -> Outcome {
    let mut csv = String::from("name,x,y,z\n");
    for i in 0..=12 {
        for j in 0..=12 {
            let (x, y) = (
                f64::from(i) * 5.0 + f64::from(j) * 0.013,
                f64::from(j) * 5.0,
            );
            csv += &format!("{i}-{j},{x},{y},10.0\n");
        }
    }
    let job = format!(
        "[job]\nname = \"test\"\nunits = \"m\"\ndig = \"{day}\"\n[[survey]]\npoints = \"points.csv\"\n{rest}"
    );
    super::run_job(super::Folder::default().with("points.csv", &csv), &job)
}

#[test]
fn a_dig_without_a_buried_line_is_not_passed() {
    let outcome = yard(LEVEL, PIT);
    let (state, words) = state(&outcome, "EX-13");
    assert_eq!(state, State::NotChecked);
    assert!(words.contains("no buried line is drawn"), "{words}");
    assert!(outcome.cautions.iter().any(|c| c.number == 1));
}

#[test]
fn digging_before_the_notice_runs_out() {
    // Told on a Friday, three whole working days: Thursday is the first day. State one-call laws,
    // from memory: 2 to 3 days.
    let line = |told: &str| {
        format!(
            "{PIT}[[keep-off]]\nname = \"Gas\"\nkind = \"service\"\nline = [[5.0, 5.0], [55.0, 5.0]]\nnotified = \"{told}\"\n"
        )
    };
    let early = yard_dug("2026-06-10", &line("2026-06-05"));
    let found = flagged(&early, "EX-13");
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(
        (found[0].rule, found[0].severity),
        ("notice", Severity::Stop)
    );
    assert_eq!(found[0].measured.as_ref().unwrap().value, 2.0);
    assert!(
        found[0].cure.contains("Thursday 2026-06-11"),
        "{}",
        found[0].cure
    );
    let in_time = yard_dug("2026-06-11", &line("2026-06-05"));
    assert!(is_quiet(&in_time));
    assert_eq!(
        in_time.access.services[0].earliest_dig.as_deref(),
        Some("2026-06-11")
    );
    // Two days are enough where the user says so.
    let own = format!("{}[limits]\nnotice_days = 2\n", line("2026-06-05"));
    assert!(is_quiet(&yard_dug("2026-06-10", &own)));
    // A day missing is not passed over.
    let no_day = yard(LEVEL, &line("2026-06-05"));
    assert_eq!(state(&no_day, "EX-13").0, State::NotChecked);
    let untold = line("2026-06-05").replace("notified = \"2026-06-05\"\n", "");
    let (state, words) = state(&yard_dug("2026-06-11", &untold), "EX-13");
    assert_eq!(state, State::NotChecked);
    assert!(
        words.contains("the day of the notice is not given"),
        "{words}"
    );
}

#[test]
fn a_dig_in_a_root_circle() {
    // 10 in of trunk: 10 ft of roots, 3.048 m.
    let tree = |x: f64| {
        format!(
            "{PIT}[[keep-off]]\nname = \"Oak\"\nkind = \"roots\"\ncentre = [{x}, 30.0]\ntrunk_in = 10\n"
        )
    };
    let near = yard(LEVEL, &tree(35.5));
    let found: Vec<&Finding> = near
        .findings
        .iter()
        .filter(|f| f.caution == Some(10))
        .collect();
    assert_eq!(found.len(), 1, "{found:?}");
    // The rim at x = 33 lies 2.5 m from the trunk: a segment of the circle.
    let (r, d) = (3.048_f64, 2.5_f64);
    let segment = r * r * (d / r).acos() - d * (r * r - d * d).sqrt();
    let work = &near.access.trees[0].touched[0];
    // A circle of 72 sides.
    assert!(
        (work.touched_m2 / segment - 1.0).abs() < 1e-2,
        "{work:?} {segment}"
    );
    assert!((work.share - work.touched_m2 / (std::f64::consts::PI * r * r)).abs() < 2e-3);
    assert!((work.deepest_cut_m - (r - d)).abs() < 5e-3, "{work:?}");
    assert!(
        found[0].cure.contains("0.55 m to the west")
            || found[0].cure.contains("0.56 m to the west"),
        "{}",
        found[0].cure
    );
    assert!(near.cautions.iter().any(|c| c.number == 10));
    assert!(is_quiet(&yard(LEVEL, &tree(36.06))));
}

#[test]
fn a_pile_over_a_boundary() {
    let line = |x: f64| {
        format!(
            "{}[[keep-off]]\nname = \"Line\"\nkind = \"boundary\"\nline = [[{x}, 5.0], [{x}, 55.0]]\n",
            pile(20.0, 30.0)
        )
    };
    let over = yard(LEVEL, &line(20.6));
    let found = asking(&over, "pile");
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].cure.contains("to the west"), "{}", found[0].cure);
    let beside = yard(LEVEL, &line(20.0 + foot_m() + 0.2));
    assert!(asking(&beside, "pile").is_empty());
}

/// A fence across the yard with a gate of a width, and a pit behind it.
fn fenced(gate_m: f64) -> String {
    format!(
        "{PIT}[[keep-off]]\nname = \"Fence\"\nkind = \"boundary\"\nline = [[-5.0, 15.0], [70.0, 15.0], [70.0, 70.0], [-5.0, 70.0], [-5.0, 15.0]]\n[[gate]]\nname = \"Side gate\"\nline = [[20.0, 15.0], [{}, 15.0]]\n",
        20.0 + gate_m
    )
}

#[test]
fn a_gate_that_is_narrower_than_a_barrow() {
    let narrow = yard(LEVEL, &fenced(0.8));
    let found = asking(&narrow, "gate");
    assert_eq!(found.len(), 1);
    assert!((found[0].measured.as_ref().unwrap().value - 0.8).abs() < 1e-9);
    // 36 in are 0.9144 m.
    assert!(found[0].cure.contains("0.114 m"), "{}", found[0].cure);
    let wide = yard(LEVEL, &fenced(0.9144));
    assert!(is_quiet(&wide));
    let route = &wide.access.routes[0];
    let narrowest = route.narrowest.as_ref().unwrap();
    assert!((narrowest.clear_m - 0.9144).abs() < 1e-9);
    assert_eq!(narrowest.words(), "at Side gate");
    // Passed as if it were wide enough, and told as it is.
    let told = narrow.access.routes[0].narrowest.as_ref().unwrap();
    assert!((told.clear_m - 0.8).abs() < 1e-9);
}

#[test]
fn a_dig_no_barrow_comes_to() {
    // Closed by a shed that leaves 0.7 m to a wall.
    let closed = |gap: f64| {
        format!(
            "{}[[keep-off]]\nname = \"Shed\"\nkind = \"building\"\narea = [[-5.5, 17.0], [20.0, 17.0], [20.0, 19.0], [-5.5, 19.0]]\n[[keep-off]]\nname = \"Garage\"\nkind = \"building\"\narea = [[{x}, 17.0], [71.0, 17.0], [71.0, 19.0], [{x}, 19.0]]\n",
            fenced(1.2),
            x = 20.0 + gap
        )
    };
    let shut = yard(LEVEL, &closed(0.7));
    let found = asking(&shut, "route");
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].severity, Severity::Stop);
    assert!(
        found[0].words.contains("\"Shed\"") && found[0].words.contains("\"Garage\""),
        "{}",
        found[0].words
    );
    assert!(
        found[0].words.contains("0.214 m is missing"),
        "{}",
        found[0].words
    );
    assert!(is_quiet(&yard(LEVEL, &closed(0.95))));
}

#[test]
fn a_way_that_is_too_steep_or_leans_too_far() {
    let asked = "[[route]]\nname = \"Way\"\nfrom = [10.0, 10.0]\nto = [40.0, 10.0]\n";
    // 1 in 8 is common practice, no source.
    let steep = yard(|x, _| 10.0 + 0.2 * x, asked);
    let found = asking(&steep, "route-steep");
    assert_eq!(found.len(), 1);
    assert!((found[0].measured.as_ref().unwrap().value - 0.2).abs() < 1e-6);
    assert_eq!(found[0].caution, Some(9));
    assert!(steep.cautions.iter().any(|c| c.number == 9));
    assert!(asking(&steep, "route-cross").is_empty());
    let leaning = yard(|_, y| 10.0 + 0.2 * y, asked);
    assert_eq!(asking(&leaning, "route-cross").len(), 1);
    assert!(asking(&leaning, "route-steep").is_empty());
    assert!(is_quiet(&yard(|x, y| 10.0 + 0.08 * x + 0.05 * y, asked)));
}

#[test]
fn a_way_over_roots() {
    let tree = |y: f64| {
        format!(
            "[[route]]\nname = \"Way\"\nfrom = [10.0, 10.0]\nto = [40.0, 10.0]\n[[keep-off]]\nname = \"Oak\"\nkind = \"roots\"\ncentre = [25.0, {y}]\ntrunk_cm = 30\n"
        )
    };
    let over = yard(LEVEL, &tree(11.0));
    let found = asking(&over, "route-roots");
    assert_eq!(found.len(), 1);
    // A chord of a circle of 12 times 0.3 m, 1 m from its middle; 72 sides.
    let chord = 2.0 * (3.6_f64 * 3.6 - 1.0).sqrt();
    let measured = found[0].measured.as_ref().unwrap().value;
    assert!((measured / chord - 1.0).abs() < 2e-3, "{measured} {chord}");
    assert!(is_quiet(&yard(LEVEL, &tree(14.0))));
}
