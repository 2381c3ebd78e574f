//! Digs: depth, soil type, ways out, footings.

use approx::assert_relative_eq;
use cutbank::checks::{Severity, State};
use cutbank::outcome::Outcome;

use super::{flagged, yard};

const FT: f64 = 0.3048;

/// A basin 4 m square in the middle of level ground at 10 m, floor so deep, sides at a slope.
fn pit(depth_m: f64, run: f64, rest: &str) -> Outcome {
    yard(
        |_, _| 10.0,
        &format!(
            "[[feature]]\nkind = \"basin\"\nname = \"Pit\"\noutline = [[28.0, 28.0], [32.0, 28.0], [32.0, 32.0], [28.0, 32.0]]\n\
             floor = \"depth:{depth_m}\"\nside_run_per_rise = {run}\ncorners = \"mitre\"\n{rest}"
        ),
    )
}

/// A trench of a length along the middle, upright or sloped.
fn trench(length_ft: f64, depth_ft: f64, run: f64, rest: &str) -> Outcome {
    let (from, to) = (30.0 - length_ft * FT / 2.0, 30.0 + length_ft * FT / 2.0);
    yard(
        |_, _| 10.0,
        &format!(
            "[[feature]]\nkind = \"trench\"\nname = \"Trench\"\nline = [[{from}, 30.0], [{to}, 30.0]]\n\
             depth = {}\nwidth = {}\nside_run_per_rise = {run}\n{rest}",
            depth_ft * FT,
            3.0 * FT
        ),
    )
}

fn state(outcome: &Outcome, id: &str) -> (State, String) {
    let answer = outcome.rules.iter().find(|a| a.rule.id == id).unwrap();
    (answer.state, answer.words.clone())
}

#[test]
fn unprotected_faces_at_five_feet() {
    // EXC-01 (29 CFR 1926.652(a), (b)): 4.9 ft only with the second condition, 5.0 and 8.0 ft
    // with protection, 21 ft by an engineer.
    let at = |depth_ft: f64| pit(depth_ft * FT, 0.5, "");
    let under = at(4.9);
    assert!(flagged(&under, "EX-1").is_empty());
    let words = &flagged(&under, "EX-2")[0].words;
    assert!(words.contains("no sign of cave-in"), "{words}");
    for depth in [5.0, 8.0] {
        let found = at(depth);
        let stop = flagged(&found, "EX-1");
        assert_eq!(stop[0].severity, Severity::Stop, "{depth}");
        assert!(flagged(&found, "EX-6").is_empty());
    }
    let engineer = flagged(&at(21.0), "EX-6")[0].words.clone();
    assert!(engineer.contains("engineer"), "{engineer}");
    assert!(flagged(&at(20.0), "EX-6").is_empty());
    // Repaired: laid back, and the number says by how much.
    assert!(flagged(&pit(8.0 * FT, 1.5, ""), "EX-1").is_empty());
}

#[test]
fn the_exemption_never_stands_alone() {
    for depth_ft in [1.0, 3.9, 4.0, 4.99] {
        let outcome = pit(depth_ft * FT, 1.5, "");
        let of_depth = outcome.findings.iter().filter(|f| f.rule == "depth");
        for finding in of_depth {
            let text = format!("{} {}", finding.words, finding.cure);
            assert!(
                text.contains("cave-in") || text.contains("cave in"),
                "{text}"
            );
        }
    }
}

#[test]
fn slopes_by_type_of_soil() {
    // EXC-02 and EXC-03: 1.5 across : 1 up while nothing is classified, 1 for type B, 3/4 for A
    // (29 CFR 1926.652(b)(1); subpart P, appendix B, table B-1).
    for (soil, run, id) in [
        ("", 1.5, "EX-3"),
        ("[soil]\nclassified = \"A\"\n", 0.75, "EX-4"),
        ("[soil]\nclassified = \"B\"\n", 1.0, "EX-4"),
        ("[soil]\nclassified = \"C\"\n", 1.5, "EX-4"),
    ] {
        let steep = pit(1.0, run - 0.1, soil);
        let found = flagged(&steep, id);
        assert_eq!(found.len(), 4, "{soil}: {found:?}");
        let limit = found[0].limit.as_ref().unwrap().value;
        assert_relative_eq!(limit, 1.0 / run, max_relative = 1e-12);
        let change = found[0].change.as_ref().unwrap();
        assert_eq!(change.key, "side_run_per_rise");
        assert!(change.value.parse::<f64>().unwrap() >= run);
        assert!(flagged(&pit(1.0, run, soil), id).is_empty(), "{soil}");
    }
    // EXC-04: type A open 20 hours, 12 ft deep: 1/2; longer or deeper it is 3/4 again.
    let short = |hours: f64, depth_ft: f64| {
        let soil = format!("[soil]\nclassified = \"A\"\nopen_hours = {hours}\n");
        flagged(&pit(depth_ft * FT, 0.5, &soil), "EX-4").len()
    };
    assert_eq!(short(20.0, 12.0), 0);
    assert!(short(30.0, 12.0) > 0);
    assert!(short(20.0, 12.5) > 0);
    // EXC-07 (subpart P, appendix A): type by unconfined strength in tons a square foot.
    for (tsf, run) in [(2.0, 0.75), (1.5, 0.75), (1.0, 1.0), (0.5, 1.5), (0.3, 1.5)] {
        let soil = format!("[soil]\nunconfined_tsf = {tsf}\n");
        assert!(flagged(&pit(1.0, run, &soil), "EX-4").is_empty(), "{tsf}");
        assert!(
            !flagged(&pit(1.0, run - 0.1, &soil), "EX-4").is_empty(),
            "{tsf}"
        );
    }
}

#[test]
fn laying_back_takes_room_and_says_how_much() {
    // EXC-02: 8 ft deep, floor 3 ft: 12 ft on each side, 27 ft at the top. EXC-03: 6 ft deep at
    // 1 : 1, 6 ft on each side.
    for (depth, soil, offset) in [(8.0, "", 12.0), (6.0, "[soil]\nclassified = \"B\"\n", 6.0)] {
        let outcome = trench(40.0, depth, 0.5, soil);
        let stop = flagged(&outcome, "EX-1");
        let cure = &stop.iter().find(|f| f.rule == "depth").unwrap().cure;
        let metres = format!("{:.2} m", offset * FT);
        assert!(cure.contains(&metres), "{metres}: {cure}");
    }
    // The drawn sides: the top of the laid back trench.
    let outcome = trench(40.0, 8.0, 1.5, "backfilled = false\n");
    let extent = outcome.extents[0].whole.as_ref().unwrap();
    let area_ft2 = extent.facts.area_m2 / (FT * FT);
    // Its ends are square: 27 ft wide, 40 ft long, but for what upright faces lean.
    assert_relative_eq!(area_ft2, 40.0 * 27.0, max_relative = 1e-3);
}

#[test]
fn ways_out_are_counted() {
    // EXC-06 (29 CFR 1926.651(c)(2), count derived): one for every 50 ft.
    for (length, count) in [(20.0, 1), (50.0, 1), (60.0, 2), (120.0, 3)] {
        let outcome = trench(length, 4.0, 1.5, "");
        let cure = &flagged(&outcome, "EX-8")[0].cure;
        assert!(
            cure.contains(&format!("put {count} ladder")),
            "{length}: {cure}"
        );
    }
    assert!(flagged(&trench(60.0, 3.9, 1.5, ""), "EX-8").is_empty());
    // EXC-08: the metric figures the rule prints, to its rounding.
    let outcome = trench(60.0, 4.0, 1.5, "");
    let limit = flagged(&outcome, "EX-8")[0].limit.as_ref().unwrap().value;
    assert!((limit - 1.22).abs() < 0.005);
}

#[test]
fn a_dig_through_fill_is_never_type_a() {
    let berm = "[[feature]]\nkind = \"berm\"\nname = \"Berm\"\nline = [[20.0, 36.0], [40.0, 36.0]]\nwidth = 1.0\n\
                crest = \"level:11.0\"\nside_run_per_rise = 2.0\nsettlement_percent = 10\nlift = 0.15\n";
    let job = |class: &str, far: f64| {
        yard(
            |_, _| 10.0,
            &format!(
                "[soil]\nclassified = \"{class}\"\n{berm}[[feature]]\nkind = \"basin\"\nname = \"Pit\"\n\
                 outline = [[28.0, {}], [32.0, {}], [32.0, {}], [28.0, {}]]\nfloor = \"level:9.0\"\nside_run_per_rise = 1.5\ncorners = \"mitre\"\n",
                28.0 - far,
                28.0 - far,
                33.0 - far,
                33.0 - far
            ),
        )
    };
    assert_eq!(flagged(&job("A", 0.0), "EX-11").len(), 1);
    assert!(flagged(&job("A", 5.0), "EX-11").is_empty());
    assert!(flagged(&job("C", 0.0), "EX-11").is_empty());
}

#[test]
fn a_dig_under_a_footing() {
    // A house with its footing 1 m down; the floor of the pit 2 m down, 0.5 m from the wall's
    // line at its near side: 1 m below the base, so the line is crossed by 0.5 m.
    let job = |west: f64, footing: &str| {
        yard(
            |_, _| 10.0,
            &format!(
                "[[feature]]\nkind = \"trench\"\nname = \"Trench\"\nline = [[{west}, 25.0], [{west}, 35.0]]\ndepth = 2.0\nwidth = 1.0\n\
                 [[keep-off]]\nname = \"House\"\nkind = \"building\"\narea = [[40.0, 20.0], [50.0, 20.0], [50.0, 40.0], [40.0, 40.0]]\n{footing}"
            ),
        )
    };
    let footing = "footing = \"depth:1.0\"\n";
    // The near side of the trench lies 0.5 m east of its middle.
    let near = job(39.0, footing);
    for id in ["EX-9", "EX-10"] {
        let found = flagged(&near, id);
        assert_eq!(found.len(), 1, "{id}");
        assert_eq!(found[0].severity, Severity::Stop);
        let over = -found[0].measured.as_ref().unwrap().value;
        // Upright sides lean 0.1 mm a metre.
        assert!((over - 0.5).abs() < 1e-3, "{over}");
    }
    // Farther by what the cure says it is clear; the base is still lower, which is a note.
    let far = job(38.4, footing);
    assert!(flagged(&far, "EX-9").is_empty());
    assert!(
        far.findings
            .iter()
            .any(|f| f.rule == "footing" && f.severity == Severity::Note)
    );
    // Without a footing nobody can tell.
    let unknown = job(39.0, "");
    assert!(flagged(&unknown, "EX-9").is_empty());
    let (state, words) = state(&unknown, "EX-9");
    assert_eq!(state, State::NotChecked);
    assert!(words.contains("footing = "), "{words}");
}

#[test]
fn limits_that_contradict_each_other_judge_nothing() {
    let outcome = pit(
        1.4,
        1.5,
        "[limits]\nway_out_depth = 2.0\nprotect_depth = 1.5\n",
    );
    for id in ["EX-1", "EX-2", "EX-6", "EX-8"] {
        assert_eq!(state(&outcome, id).0, State::NotChecked, "{id}");
    }
    let said = outcome.findings.iter().find(|f| f.rule == "depth").unwrap();
    assert_eq!(said.severity, Severity::NotChecked);
    assert!(
        said.words.contains("because [limits] contradicts itself"),
        "{}",
        said.words
    );
}
