//! Water: toward a house, over a line, behind a berm, out of the wrong side of a basin.

use super::{flagged, yard};
use cutbank::checks::Severity;
use cutbank::outcome::Outcome;

/// Rules of drainage that may be flagged by stop or warn.
const IDS: [&str; 11] = [
    "DR-1", "DR-2", "DR-3", "DR-4", "DR-5", "DR-6", "DR-7", "DR-8", "DR-10", "BM-1", "BM-2",
];

/// The yard with the fault is flagged under the rule, its twin under none of them.
fn told(id: &str, fault: &Outcome, repaired: &Outcome) {
    assert!(
        !flagged(fault, id).is_empty(),
        "{id}: {:#?}",
        answers(fault)
    );
    for id in IDS {
        let found = flagged(repaired, id);
        assert!(found.is_empty(), "repaired, {id}: {found:#?}");
    }
}

fn answers(outcome: &Outcome) -> Vec<String> {
    let of = outcome
        .rules
        .iter()
        .filter(|r| IDS.contains(&r.rule.id.as_str()));
    of.map(|r| format!("{}: {}", r.rule.id, r.words)).collect()
}

/// A hill with its top under a house in the middle of the yard: 8 percent away on all sides.
fn hill(x: f64, y: f64) -> f64 {
    let far = |v: f64, low: f64, high: f64| (low - v).max(v - high).max(0.0);
    20.0 - 0.08 * far(x, 25.0, 35.0).hypot(far(y, 25.0, 35.0))
}

const HOUSE: &str = "[[keep-off]]\nname = \"House\"\nkind = \"building\"\n\
                     area = [[25.2, 25.2], [34.8, 25.2], [34.8, 34.8], [25.2, 34.8]]\n";

fn pad(low: [f64; 2], high: [f64; 2], level: f64) -> String {
    let ([a, b], [c, d]) = (low, high);
    format!(
        "[[feature]]\nkind = \"pad\"\nname = \"Pad\"\noutline = [[{a}, {b}], [{c}, {b}], [{c}, {d}], [{a}, {d}]]\n\
         level = \"level:{level}\"\ncut_run_per_rise = 2.0\nfill_run_per_rise = 2.0\n"
    )
}

#[test]
fn ground_that_rises_from_the_wall() {
    // A pad that stands higher than the wall 2 m off: water runs back.
    let fault = yard(
        hill,
        &format!("{HOUSE}{}", pad([27.0, 18.0], [33.0, 23.0], 20.1)),
    );
    let found = flagged(&fault, "DR-1");
    assert!(
        found.iter().any(|f| f.severity == Severity::Stop),
        "{found:#?}"
    );
    assert_eq!(found[0].caution, Some(11));
    let repaired = yard(
        hill,
        &format!("{HOUSE}{}", pad([27.0, 8.0], [33.0, 13.0], 18.7)),
    );
    told("DR-1", &fault, &repaired);
    // Between wall and pad it dips.
    let low = yard(
        hill,
        &format!("{HOUSE}{}", pad([27.0, 18.0], [33.0, 23.5], 19.95)),
    );
    told("DR-5", &low, &repaired);
}

#[test]
fn a_line_too_near_without_a_swale() {
    let line = "[[keep-off]]\nname = \"Line\"\nkind = \"boundary\"\nline = [[5, 23], [55, 23]]\n";
    // The ground is made level up to the line.
    let level = pad([27.0, 23.2], [33.0, 25.0], 20.0);
    let fault = yard(hill, &format!("{HOUSE}{line}{level}"));
    let swale = "[[area]]\nname = \"Swale\"\nuse = \"swale\"\narea = [[15, 23.5], [45, 23.5], [45, 24.5], [15, 24.5]]\n";
    assert!(
        !flagged(&fault, "DR-2").is_empty(),
        "{:#?}",
        answers(&fault)
    );
    // The natural fall to a swale is enough; the swale itself runs over a hill and is told.
    let repaired = yard(hill, &format!("{HOUSE}{line}{swale}"));
    assert!(
        flagged(&repaired, "DR-2").is_empty(),
        "{:#?}",
        answers(&repaired)
    );
}

#[test]
fn a_swale_that_does_not_fall() {
    let plane = |slope: f64| move |x: f64, y: f64| 20.0 - slope * x - 0.08 * (y - 30.0).abs();
    let rest = "[[keep-off]]\nname = \"Shed\"\nkind = \"building\"\n\
                area = [[20, 31], [24, 31], [24, 33], [20, 33]]\n\
                [[feature]]\nkind = \"channel\"\nname = \"Ditch\"\nline = [[12, 34.9], [32, 34.9]]\n\
                width = 0.4\nside_run_per_rise = 2.0\n";
    let with = |grade: &str| format!("{rest}{grade}");
    let fault = yard(
        plane(0.03),
        &with("start = \"depth:0.3\"\nfall_percent = 0.5\n"),
    );
    assert!(
        !flagged(&fault, "DR-3").is_empty(),
        "{:#?}",
        answers(&fault)
    );
    let repaired = yard(
        plane(0.03),
        &with("start = \"depth:0.3\"\nfall_percent = 3.0\n"),
    );
    assert!(
        flagged(&repaired, "DR-3").is_empty(),
        "{:#?}",
        answers(&repaired)
    );
}

#[test]
fn paving_that_falls_to_the_wall() {
    let area = "[[area]]\nname = \"Terrace\"\nuse = \"paved\"\narea = [[28, 22], [32, 22], [32, 25.2], [28, 25.2]]\n";
    let raised = pad([27.0, 21.5], [33.0, 25.0], 20.0);
    let fault = yard(hill, &format!("{HOUSE}{area}{raised}"));
    let repaired = yard(hill, &format!("{HOUSE}{area}"));
    told("DR-4", &fault, &repaired);
}

#[test]
fn water_sent_to_a_house() {
    // A slope to the south with a house off to the side; a long berm turns the slope's water
    // towards it.
    let slope = |x: f64, y: f64| 20.0 + 0.06 * y - 0.002 * x;
    let house = "[[keep-off]]\nname = \"House\"\nkind = \"building\"\n\
                 area = [[42, 22], [50, 22], [50, 28], [42, 28]]\n";
    let berm = |line: &str| {
        format!(
            "{house}[[feature]]\nkind = \"berm\"\nname = \"Berm\"\nline = {line}\nwidth = 1.0\n\
             crest = \"height:0.8\"\nside_run_per_rise = 2.0\n"
        )
    };
    let fault = yard(slope, &berm("[[8, 50], [46, 36]]"));
    let found = flagged(&fault, "DR-6");
    let to_house = found
        .iter()
        .find(|f| f.rule == "water-to-building")
        .unwrap();
    assert_eq!(
        (to_house.severity, to_house.caution),
        (Severity::Stop, Some(11))
    );
    assert!(to_house.measured.as_ref().unwrap().value > 100.0);
    // Turned the other way it takes water off the house.
    let away = yard(slope, &berm("[[52, 50], [36, 44]]"));
    assert!(
        !flagged(&away, "DR-6")
            .iter()
            .any(|f| f.rule == "water-to-building")
    );
}

#[test]
fn water_sent_over_a_line() {
    let slope = |x: f64, y: f64| 20.0 + 0.06 * y - 0.002 * x;
    let line =
        "[[keep-off]]\nname = \"East line\"\nkind = \"boundary\"\nline = [[54, 2], [54, 58]]\n";
    let berm = |at: &str| {
        format!(
            "{line}[[feature]]\nkind = \"berm\"\nname = \"Berm\"\nline = {at}\nwidth = 1.0\n\
             crest = \"height:0.8\"\nside_run_per_rise = 2.0\n"
        )
    };
    let fault = yard(slope, &berm("[[20, 44], [51, 34]]"));
    let repaired = yard(slope, &berm("[[30, 34], [12, 30]]"));
    told("DR-6", &fault, &repaired);
}

#[test]
fn an_overflow_that_ends_at_a_house() {
    let slope = |_: f64, y: f64| 20.0 + 0.06 * y;
    let with = |end: &str| {
        format!(
            "[[keep-off]]\nname = \"House\"\nkind = \"building\"\narea = [[20, 8], [28, 8], [28, 14], [20, 14]]\n\
             [[feature]]\nkind = \"channel\"\nname = \"Overflow\"\nline = [[32, 40], {end}]\nwidth = 0.5\n\
             side_run_per_rise = 2.0\nstart = \"depth:0.3\"\nfall_percent = 4.0\n"
        )
    };
    let fault = yard(slope, &with("[26, 15]"));
    let end = |o: &Outcome| {
        o.findings
            .iter()
            .any(|f| f.rule == "overflow-end" && f.severity == Severity::Stop)
    };
    assert!(end(&fault), "{:#?}", answers(&fault));
    let repaired = yard(slope, &with("[40, 18]"));
    // Uphill of the house the ground runs to it, as it did before: that is told of DR-1.
    assert!(
        flagged(&repaired, "DR-6").is_empty(),
        "{:#?}",
        answers(&repaired)
    );
}

#[test]
fn a_lawn_made_level() {
    let area = "[[area]]\nname = \"Lawn\"\nuse = \"mown\"\narea = [[30, 30], [36, 30], [36, 36], [30, 36]]\n";
    let slope = |x: f64, _: f64| 20.0 - 0.05 * x;
    let fault = yard(
        slope,
        &format!("{area}{}", pad([29.0, 29.0], [37.0, 37.0], 18.3)),
    );
    told("DR-7", &fault, &yard(slope, area));
}

/// A slope to the south with a berm across it, its ends turned up or not.
fn berm(line: &str, crest: f64, sides: [f64; 2]) -> Outcome {
    let [up, down] = sides;
    yard(
        |_, y| 20.0 + 0.05 * y,
        &format!(
            "[[feature]]\nkind = \"berm\"\nname = \"Berm\"\nline = {line}\nwidth = 1.0\ncrest = \"level:{crest}\"\n\
             right_run_per_rise = {up}\nleft_run_per_rise = {down}\nside_run_per_rise = 2.5\n"
        ),
    )
}

#[test]
fn a_berm_that_holds_water() {
    let bowl = "[[46, 40], [42, 26], [18, 26], [14, 40]]";
    let straight = "[[46, 28], [14, 24]]";
    let repaired = berm(straight, 22.0, [3.0, 2.5]);
    told("DR-8", &berm(bowl, 21.9, [3.0, 2.5]), &repaired);
    let deep = "[[46, 50], [42, 26], [18, 26], [14, 50]]";
    told("BM-1", &berm(deep, 22.6, [3.0, 2.5]), &repaired);
    told("BM-2", &berm(bowl, 21.9, [1.5, 2.0]), &repaired);
}

#[test]
fn an_overflow_that_is_not_the_lowest_place() {
    let slope = |_: f64, y: f64| 20.0 + 0.01 * y;
    let with = |start: &str| {
        format!(
            "[[feature]]\nkind = \"basin\"\nname = \"Basin\"\noutline = [[26, 28], [32, 28], [32, 34], [26, 34]]\n\
             floor = \"level:19.2\"\nside_run_per_rise = 1.5\n\
             [[feature]]\nkind = \"channel\"\nname = \"Overflow\"\nline = [[32.2, 31], [44, 28]]\nwidth = 0.6\n\
             side_run_per_rise = 2.0\nstart = \"level:{start}\"\nfall_percent = 1.0\n"
        )
    };
    let (fault, repaired) = (yard(slope, &with("20.24")), yard(slope, &with("20.1")));
    told("DR-10", &fault, &repaired);
}

#[test]
fn an_overflow_out_of_a_basin_filled_with_stone() {
    // Level ground at 10 m round a basin filled with stone to 9.9; the overflow begins at 9.8 in
    // the stone, or at 9.95, level with nothing but a hand of soil round it.
    let with = |start: &str, end: &str| {
        yard(
            |x, _| {
                if x > 40.0 {
                    10.0 - 0.1 * (x - 40.0)
                } else {
                    10.0
                }
            },
            &format!(
                "[[feature]]\nkind = \"basin\"\nname = \"Basin\"\noutline = [[28.0, 28.0], [34.0, 28.0], [34.0, 33.0], [28.0, 33.0]]\n\
                 floor = \"level:9.0\"\nside_run_per_rise = 1.5\ncorners = \"mitre\"\n\
                 layers = [ {{ name = \"liner\" }}, {{ name = \"stone\", to = \"level:9.9\", porosity = 0.4 }} ]\n\
                 [[feature]]\nkind = \"channel\"\nname = \"Overflow\"\nline = [[34.5, 30.5], [40.0, 30.5], [{end}, 30.5]]\nwidth = 0.5\n\
                 side_run_per_rise = 2.0\nstart = \"level:{start}\"\nfall_percent = 1.0\nends = \"slope\"\n"
            ),
        )
    };
    let (fault, repaired) = (with("9.95", "44.0"), with("9.80", "46.0"));
    told("DR-10", &fault, &repaired);
    let words = |o: &Outcome| {
        let answer = o.rules.iter().find(|r| r.rule.id == "DR-10").unwrap();
        answer.words.clone()
    };
    assert!(
        words(&repaired).contains("water leaves by Overflow"),
        "{}",
        words(&repaired)
    );
}
