//! Walls that are needed and what rules say of them; slopes beside property lines.

use super::{Outcome, flagged, yard};

const MINE: [&str; 8] = [
    "GR-6", "GR-9", "WL-1", "WL-2", "WL-3", "WL-9", "WL-11", "SV-8",
];

#[track_caller]
fn planted(id: &str, fault: &Outcome, repaired: &Outcome) {
    assert!(!flagged(fault, id).is_empty(), "{id} is not found");
    for id in MINE {
        let found = flagged(repaired, id);
        assert!(found.is_empty(), "repaired, and yet {id}: {found:?}");
    }
    for outcome in [fault, repaired] {
        let answer = outcome.rules.iter().find(|a| a.rule.id == id).unwrap();
        assert!(!answer.words.contains("nothing here looks at it"), "{id}");
    }
}

fn berm(name: &str, y: [f64; 2], crest: f64, run: f64) -> String {
    let [a, b] = y;
    format!(
        "[[feature]]\nkind = \"berm\"\nname = \"{name}\"\noutline = [[20.0, {a}], [40.0, {a}], [40.0, {b}], [20.0, {b}]]\n\
         crest = \"level:{crest}\"\nside_run_per_rise = {run}\n"
    )
}

fn pit(y: [f64; 2], floor: f64) -> String {
    let [a, b] = y;
    format!(
        "[[feature]]\nkind = \"basin\"\nname = \"Pit\"\noutline = [[20.0, {a}], [40.0, {a}], [40.0, {b}], [20.0, {b}]]\n\
         floor = \"level:{floor}\"\nside_run_per_rise = 1.5\n"
    )
}

fn line(name: &str, kind: &str, y: f64) -> String {
    format!(
        "[[keep-off]]\nname = \"{name}\"\nkind = \"{kind}\"\nline = [[2.0, {y}], [58.0, {y}]]\n"
    )
}

const CUT: &str = "[limits]\ntemporary_run_per_rise = 1.5\n";

fn flat(rest: &str) -> Outcome {
    yard(|_, _| 10.0, rest)
}

/// A pit `deep` below level ground, its floor ending at y = 24 and a line `off` farther north.
fn beside(deep: f64, off: f64) -> Outcome {
    flat(&(CUT.to_owned() + &pit([18.0, 24.0], 10.0 - deep) + &line("L", "other", 24.0 + off)))
}

#[test]
fn gr_6_and_sv_8_a_toe_at_the_property_line() {
    // 1 m high at 2 across : 1 up: the toe lies 2 m from the crest, half a metre of room is left.
    let at = |y: f64| flat(&(berm("Berm", [20.0, 22.0], 11.0, 2.0) + &line("L", "boundary", y)));
    let (fault, repaired) = (at(24.5), at(24.7));
    planted("GR-6", &fault, &repaired);
    planted("SV-8", &fault, &repaired);
    let f = flagged(&fault, "GR-6")[0];
    let near = |got: f64, want: f64| assert!((got - want).abs() < 1e-6, "{got}, not {want}");
    near(f.measured.as_ref().unwrap().value, 0.5);
    // 2 ft is more than half of 1 m.
    near(f.limit.as_ref().unwrap().value, 0.6096);
    // Of 2 m it is half the height: the toe at 4 m, 1 m asked for.
    let at = |y: f64| flat(&(berm("Berm", [20.0, 22.0], 12.0, 2.0) + &line("L", "boundary", y)));
    planted("GR-6", &at(26.9), &at(27.1));
}

#[test]
fn gr_6_the_top_of_a_cut_at_the_property_line() {
    // 1 m deep at 1.5 across : 1 up: the top lies 1.5 m from the floor; 2 ft is asked for.
    let at = |y: f64| flat(&(CUT.to_owned() + &pit([18.0, 24.0], 9.0) + &line("L", "boundary", y)));
    planted("GR-6", &at(25.9), &at(26.2));
}

#[test]
fn gr_9_a_fill_that_never_lands() {
    // At the limit of 2 across : 1 up on ground that falls 0.6: z g = 1.2. It falls 0.3: 0.6.
    let at = |g: f64, crest: f64| {
        yard(
            move |x, _| 40.0 - g * x,
            &berm("Berm", [28.0, 32.0], crest, 1.0),
        )
    };
    planted("GR-9", &at(0.6, 29.0), &at(0.3, 35.0));
}

#[test]
fn wl_1_a_wall_over_the_height_to_be_told_of() {
    // The line 0.3 m from the floor: 0.2 m less than the depth is left over. 1.2 m and an eighth
    // of it are over 4 ft, 1.0 m and an eighth are not.
    planted("WL-1", &beside(1.4, 0.3), &beside(1.2, 0.3));
}

#[test]
fn wl_2_a_wall_below_a_slope() {
    // The same 0.5 m of soil held: below the side of a berm, and at the edge of its crest.
    let at = |crest_edge: f64, crest: f64| {
        flat(&(berm("Berm", [18.0, crest_edge], crest, 2.0) + &line("L", "other", 24.0)))
    };
    let (fault, repaired) = (at(23.0, 11.0), at(23.995, 10.5));
    planted("WL-2", &fault, &repaired);
    let words = &flagged(&fault, "WL-2")[0].words;
    assert!(
        words.contains("carries the slope of Berm above it"),
        "{words}"
    );
    assert!(!repaired.walls.is_empty());
    // A building behind the wall of a pit.
    let house = "[[keep-off]]\nname = \"House\"\nkind = \"building\"\narea = [[25.0, 25.0], [35.0, 25.0], [35.0, 30.0], [25.0, 30.0]]\n";
    let far = house.replace("25.0], [35.0, 25.0]", "27.5], [35.0, 27.5]");
    let base = CUT.to_owned() + &pit([18.0, 24.0], 9.0) + &line("L", "other", 24.3);
    planted(
        "WL-2",
        &flat(&(base.clone() + house)),
        &flat(&(base + &far)),
    );
}

#[test]
fn wl_3_a_wall_that_holds_too_much_to_go_undesigned() {
    let at = |deep: f64| {
        let limits = "[limits]\ntemporary_run_per_rise = 1.5\nwall_height = 3.0\n";
        flat(&(limits.to_owned() + &pit([18.0, 24.0], 10.0 - deep) + &line("L", "other", 24.3)))
    };
    // 48 in are 1.2192 m; 0.2 m less than the depth is held.
    planted("WL-3", &at(1.43), &at(1.41));
}

#[test]
fn wl_9_two_walls_one_above_the_other() {
    // Below, a pit whose wall holds 0.8 m at y = 24.3; above, the edge of a fill held along a
    // second line. Closer than 1.6 m they count as one.
    let at = |y: f64| {
        flat(
            &(CUT.to_owned()
                + &pit([18.0, 24.0], 9.0)
                + &line("Low", "other", 24.3)
                + &berm("Berm", [y + 0.005, y + 4.0], 10.4, 2.0)
                + "keep_clear_of = [\"High\"]\n"
                + &line("High", "other", y)),
        )
    };
    planted("WL-9", &at(25.8), &at(26.0));
}

#[test]
fn wl_11_a_drop_beside_a_path() {
    let path = |y: f64| {
        format!(
            "[[area]]\nname = \"Walk\"\nuse = \"path\"\narea = [[20.0, {y}], [40.0, {y}], [40.0, {}], [20.0, {}]]\n",
            y + 1.2,
            y + 1.2
        )
    };
    let at = |y: f64| {
        flat(&(CUT.to_owned() + &pit([18.0, 24.0], 9.0) + &line("L", "other", 24.3) + &path(y)))
    };
    // 0.8 m is over 30 in.
    planted("WL-11", &at(24.6), &at(26.5));
}

#[test]
fn a_feature_that_stands_in_a_keep_off_has_no_wall_to_ask_for() {
    let around = "[[keep-off]]\nname = \"Garden\"\nkind = \"other\"\narea = [[5.0, 5.0], [55.0, 5.0], [55.0, 55.0], [5.0, 55.0]]\n";
    let outcome = flat(&(CUT.to_owned() + &pit([18.0, 24.0], 9.0) + around));
    let answer = outcome.rules.iter().find(|a| a.rule.id == "WL-1").unwrap();
    assert_eq!(answer.state.word(), "not checked");
    assert!(answer.words.contains("stands inside \"Garden\" altogether"));
}
