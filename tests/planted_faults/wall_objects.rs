//! Drawn walls: every rule with its fault alone, and a repaired twin.

use super::{flagged, yard};
use cutbank::checks::{Finding, Severity, State};
use cutbank::outcome::Outcome;

/// The rules in the care of the check of drawn walls.
const RULES: [&str; 10] = [
    "WL-1", "WL-2", "WL-3", "WL-4", "WL-6", "WL-7", "WL-8", "WL-9", "WL-10", "WL-12",
];

/// A terrace of a height above 10 with an upright face along `y`.
fn terrace(name: &str, y: f64, height: f64) -> String {
    format!(
        "[[feature]]\nkind = \"pad\"\nname = \"{name}\"\noutline = [[10, {y}], [30, {y}], [30, 44], [10, 44]]\n\
         level = \"level:{}\"\ncut_run_per_rise = 1.5\nfill_run_per_rise = 0.0\n",
        10.0 + height
    )
}

const DRAIN: &str = "drain_stone = { width = 0.3, soil_cap = 0.1 }\npipe = { outlet = \"end\" }\n";

/// A wall along `y` with its top at a height above 10.
fn wall(name: &str, y: f64, height: f64, thickness: f64, rest: &str) -> String {
    format!(
        "[[feature]]\nkind = \"wall\"\nname = \"{name}\"\nline = [[10, {y}], [30, {y}]]\nholds = \"left\"\n\
         thickness = {thickness}\ntop = \"level:{}\"\n{rest}",
        10.0 + height
    )
}

const SAND: &str = "[soil]\nkind = \"sand, damp\"\n";
const CONCRETE: &str = "made_of = \"concrete\"\n";

/// What the check of drawn walls found on a rule: others speak of walls that are needed.
fn mine<'a>(outcome: &'a Outcome, id: &str) -> Vec<&'a Finding> {
    let mut found = flagged(outcome, id);
    found.retain(|f| f.rule == "wall");
    found
}

/// The rules of drawn walls that are flagged.
fn all_flagged(outcome: &Outcome) -> Vec<&'static str> {
    RULES
        .into_iter()
        .filter(|id| !mine(outcome, id).is_empty())
        .collect()
}

fn level(rest: &str) -> Outcome {
    yard(|_, _| 10.0, rest)
}

/// A fault and its repaired twin on level ground.
#[track_caller]
fn pair(id: &str, fault: &str, repaired: &str) {
    let found = level(fault);
    assert_eq!(all_flagged(&found), [id], "{:#?}", found.findings);
    for finding in mine(&found, id) {
        assert!(
            !finding.cure.is_empty() && !finding.place.is_empty(),
            "{finding:?}"
        );
        let words = format!("{} {}", finding.words, finding.cure);
        for verdict in ["safe", "stable", "allowed", "no permit"] {
            assert!(!words.contains(verdict), "{words}");
        }
    }
    let twin = level(repaired);
    assert!(
        all_flagged(&twin).is_empty(),
        "{:?} {:#?}",
        all_flagged(&twin),
        twin.findings
    );
}

/// A low wall before a terrace, with a drain.
fn good() -> String {
    format!(
        "{SAND}{}{}",
        terrace("T", 30.0, 0.6),
        wall("W", 30.0, 0.6, 0.6, &format!("{CONCRETE}{DRAIN}"))
    )
}

#[test]
fn too_high_from_the_bottom_of_its_footing() {
    // WL-1, IRC R105.2: 4 ft from the bottom of the footing; 4.00 is not over.
    let at = |base: f64| {
        let rest = format!("{CONCRETE}{DRAIN}base = \"level:{base}\"\n");
        format!(
            "{SAND}{}{}",
            terrace("T", 30.0, 1.0),
            wall("W", 30.0, 1.0, 0.9, &rest)
        )
    };
    pair("WL-1", &at(9.77), &at(11.0 - 4.0 * 0.3048));
    // The base stone counts.
    let stone = at(11.0 - 4.0 * 0.3048) + "base_stone = { thick = 0.1 }\n";
    assert_eq!(all_flagged(&level(&stone)), ["WL-1"]);
}

#[test]
fn something_loads_the_soil_behind() {
    // WL-2: a path within the height of the wall behind its back (0.675 of 0.6 thick).
    let path = |y: f64| {
        let far = y + 0.8;
        format!(
            "{}[[area]]\nname = \"walk\"\nuse = \"path\"\narea = [[15, {y}], [25, {y}], [25, {far}], [15, {far}]]\n",
            good()
        )
    };
    pair("WL-2", &path(31.0), &path(31.4));
    let building = |y: f64| {
        let far = y + 2.0;
        format!(
            "{}[[keep-off]]\nname = \"shed\"\nkind = \"building\"\narea = [[18, {y}], [20, {y}], [20, {far}], [18, {far}]]\n",
            good()
        )
    };
    pair("WL-2", &building(31.1), &building(31.5));
    // Ground that rises behind.
    let rising = |bank: f64| {
        format!(
            "{SAND}{}",
            wall(
                "W",
                29.0,
                0.6,
                0.6,
                &format!("{CONCRETE}{DRAIN}base = \"level:9.9\"\n")
            )
        ) + &format!("[limits]\nsurcharge_reach = {bank}\n")
    };
    let hill = |rest: &str| yard(|_, y| 10.0 + (y - 30.0).max(0.0) * 0.3, rest);
    assert_eq!(all_flagged(&hill(&rising(3.0))), ["WL-2"]);
    assert!(all_flagged(&hill(&rising(0.5))).is_empty());
}

#[test]
fn a_wall_that_must_be_designed() {
    // WL-3, IRC R404.4: more than 48 in held (later editions; 24 in 2009).
    let held = |limit: &str| {
        let rest = format!("{CONCRETE}{DRAIN}");
        format!(
            "{SAND}{}{}[limits]\nwall_height = 3.0\n{limit}",
            terrace("T", 30.0, 1.3),
            wall("W", 30.0, 1.3, 1.2, &rest)
        )
    };
    pair("WL-3", &held(""), &held("designed_wall = 1.3\n"));
}

#[test]
fn numbers_for_the_engineer() {
    let of = |soil: &str, height: f64, thickness: f64, rest: &str| {
        format!(
            "[soil]\nkind = \"{soil}\"\n{}{}",
            terrace("T", 30.0, height),
            wall("W", 30.0, height, thickness, &format!("{DRAIN}{rest}"))
        )
    };
    // A light wall slides, a thin one tips, a very heavy one presses: what is said is the same as
    // of a stout one, and the numbers are with the engineer's.
    let stout = level(&of("sand, damp", 0.6, 0.6, CONCRETE));
    let likely = |o: &Outcome| {
        o.wall_works[0].sections[0]
            .likely(true)
            .unwrap()
            .standing
            .unwrap()
    };
    assert!(likely(&stout).sliding.unwrap() > 1.5 && likely(&stout).in_middle_third);
    let said = |o: &Outcome| {
        let of = |f: &&Finding| f.ids.contains(&"WL-4");
        let finding = o.findings.iter().find(of).unwrap();
        assert_eq!(finding.severity, Severity::Note);
        assert_eq!((&finding.measured, &finding.limit), (&None, &None));
        finding.words.clone()
    };
    let light = level(&of("sand, damp", 0.6, 0.6, "made_of = \"timber\"\n"));
    assert!(likely(&light).sliding.unwrap() < 1.5);
    let thin = level(&of("gravel, pit run", 1.0, 0.35, "weight = 4000\n"));
    assert!(!likely(&thin).in_middle_third);
    let heavy = level(&of("clay, firm, moist", 1.0, 0.9, "weight = 8000\n"));
    let section = &heavy.wall_works[0].sections[0];
    assert!(likely(&heavy).contact.toe_pa().unwrap() > section.presumed_bearing_pa.unwrap());
    for other in [&light, &thin, &heavy] {
        assert_eq!(said(other), said(&stout));
        for id in ["WL-4", "WL-6", "WL-7"] {
            assert!(flagged(other, id).is_empty(), "{id}");
        }
    }
    // Without a friction angle there are no numbers, and that is said.
    let unknown = level(&of("unknown existing fill", 0.6, 0.6, CONCRETE));
    for id in ["WL-4", "WL-6", "WL-7"] {
        let answer = unknown.rules.iter().find(|r| r.rule.id == id).unwrap();
        // Nothing is built, so no wall is needed either.
        assert_eq!(answer.state, State::NotChecked, "{id}");
        assert!(
            answer.words.contains("friction_degrees in [soil]"),
            "{}",
            answer.words
        );
    }
    let words = said(&level(&good()));
    assert!(words.starts_with("for the engineer:") && words.ends_with("not a verdict"));
}

#[test]
fn a_base_on_fill() {
    // WL-8: a wall across a terrace of fill; its twin goes down to the ground.
    let on = |base: f64| {
        let rest = format!("{CONCRETE}{DRAIN}base = \"level:{base}\"\n");
        format!(
            "{SAND}{}{}",
            terrace("T", 25.0, 0.5),
            wall("W", 30.0, 0.9, 0.6, &rest)
        )
    };
    pair("WL-8", &on(10.4), &on(9.95));
    let found = level(&on(10.4));
    let finding = mine(&found, "WL-8")[0];
    assert_eq!(finding.severity, Severity::Stop);
    assert!(
        finding.words.contains("on fill of T, 0.400 m above"),
        "{}",
        finding.words
    );
    // The soil of the job itself.
    let soil = good().replace("sand, damp", "topsoil");
    assert_eq!(all_flagged(&level(&soil)), ["WL-8"]);
}

#[test]
fn tiers_that_act_together() {
    // WL-9: closer than twice the height of the lower (0.6), and farther than it is high.
    let tiers = |y: f64| {
        let deep = format!("{CONCRETE}{DRAIN}base = \"level:9.95\"\n");
        format!(
            "{SAND}{}{}{}{}[limits]\nwall_height = 2.0\n",
            terrace("low terrace", 30.0, 0.6),
            terrace("high terrace", y, 1.2),
            wall(
                "low",
                30.0,
                0.6,
                0.4,
                &format!("{CONCRETE}drain_stone = {{ width = 0.3 }}\n")
            ),
            wall("high", y, 1.2, 0.9, &deep)
        )
    };
    pair("WL-9", &tiers(31.15), &tiers(32.5));
    let found = level(&tiers(31.15));
    let finding = mine(&found, "WL-9")[0];
    assert!(
        finding.words.contains("combined height is 1.200 m"),
        "{}",
        finding.words
    );
}

#[test]
fn a_wall_without_a_drain() {
    // WL-10: the thrust with water stands beside that without; twin with stone behind.
    let without = good().replace(DRAIN, "");
    pair("WL-10", &without, &good());
    let found = level(&without);
    let finding = mine(&found, "WL-10")[0];
    let times = finding.measured.as_ref().unwrap().value;
    assert!(times > 1.5 && times < 3.0, "{times}");
    let change = finding.change.as_ref().unwrap();
    assert_eq!(change.key, "drain_stone");
    // The change can be taken as it stands.
    let cured = without + &format!("{} = {}\n", change.key, change.value);
    assert!(all_flagged(&level(&cured)).is_empty());
}

#[test]
fn a_wall_that_holds_water() {
    // WL-12: the rim of a basin comes within a foot of the face.
    let basin = |far: f64| {
        let basin = format!(
            "[[feature]]\nkind = \"basin\"\nname = \"pool\"\noutline = [[15, 26], [25, 26], [25, {far}], [15, {far}]]\n\
             floor = \"level:9.8\"\nside_run_per_rise = 1.0\n"
        );
        good().replacen("[[feature]]", &format!("{basin}[[feature]]"), 1)
    };
    pair("WL-12", &basin(29.65), &basin(28.0));
}

#[test]
fn without_a_wall_nothing_is_checked() {
    let outcome = level("");
    for id in RULES {
        let answer = outcome.rules.iter().find(|r| r.rule.id == id).unwrap();
        // Nothing is built, so no wall is needed either.
        assert_eq!(answer.state, State::NotChecked, "{id}");
        assert!(
            answer.words.contains("no wall is drawn"),
            "{}",
            answer.words
        );
    }
}
