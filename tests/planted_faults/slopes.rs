//! Slopes by soil and by use, and the ground beside and under what is built.

use cutbank::checks::{Severity, State};
use cutbank::outcome::Outcome;

use super::{flagged, yard};

fn berm(run: f64, rest: &str) -> String {
    format!(
        "[[feature]]\nkind = \"berm\"\nname = \"Berm\"\nline = [[20.0, 30.0], [40.0, 30.0]]\nwidth = 1.0\n\
         crest = \"height:1.0\"\nside_run_per_rise = {run}\nsettlement_percent = 10\nlift = 0.15\n{rest}"
    )
}

const STRIP: &str =
    "[[feature]]\nkind = \"strip\"\nname = \"Sod\"\nover = \"touched\"\nthick = 0.1\n";

#[test]
fn fill_steeper_than_its_limit() {
    let level = |_: f64, _: f64| 10.0;
    let steep = yard(level, &format!("{STRIP}{}", berm(1.5, "")));
    let found = flagged(&steep, "GR-2");
    assert!(found.iter().all(|f| f.severity == Severity::Stop) && !found.is_empty());
    let change = found[0].change.as_ref().unwrap();
    assert_eq!(
        (change.key.as_str(), change.value.as_str()),
        ("side_run_per_rise", "2.0")
    );
    // All three notations stand in the words.
    for notation in ["across : 1 up", "%", "in per ft"] {
        assert!(found[0].words.contains(notation), "{}", found[0].words);
    }
    let repaired = yard(level, &format!("{STRIP}{}", berm(2.0, "")));
    assert!(flagged(&repaired, "GR-2").is_empty());
    // The limit is the user's.
    let own = yard(
        level,
        &format!(
            "{STRIP}{}[limits]\nfill_run_per_rise = 1.5\n",
            berm(1.5, "")
        ),
    );
    assert!(flagged(&own, "GR-2").is_empty());
}

/// A pad cut into ground that rises to the east.
fn pad(cut: f64, rest: &str) -> Outcome {
    yard(
        |x, _| 10.0 + 0.2 * x,
        &format!(
            "[[feature]]\nkind = \"pad\"\nname = \"Pad\"\noutline = [[28.0, 28.0], [34.0, 28.0], [34.0, 34.0], [28.0, 34.0]]\n\
             level = \"level:15.6\"\ncut_run_per_rise = {cut}\nfill_run_per_rise = 2.0\n{rest}"
        ),
    )
}

#[test]
fn cut_steeper_than_its_limit() {
    let outcome = pad(1.0, "[limits]\ncut_run_per_rise = 2.0\n");
    let found = flagged(&outcome, "GR-1");
    assert!(!found.is_empty());
    // A pad has a key of its own for what it cuts.
    assert_eq!(found[0].change.as_ref().unwrap().key, "cut_run_per_rise");
    assert!(flagged(&pad(2.0, "[limits]\ncut_run_per_rise = 2.0\n"), "GR-1").is_empty());
    // Within the user's limit, and steeper than the model code: a note, with the exception.
    let note = pad(1.5, "[limits]\ncut_run_per_rise = 1.0\n");
    assert!(flagged(&note, "GR-1").is_empty());
    let code = note.findings.iter().find(|f| f.rule == "code-cut").unwrap();
    assert_eq!(code.severity, Severity::Note);
    assert!(
        code.ids.contains(&"GR-3") && code.words.contains("on conditions"),
        "{}",
        code.words
    );
}

#[test]
fn slopes_by_use() {
    let area = |used: &str, percent: f64, rest: &str| {
        yard(
            |x, _| 10.0 - percent / 100.0 * x,
            &format!(
                "[[area]]\nname = \"Here\"\nuse = \"{used}\"\narea = [[11.0, 11.0], [31.0, 11.0], [31.0, 23.0], [11.0, 23.0]]\n{rest}"
            ),
        )
    };
    let over = |o: &Outcome| {
        let found = o
            .findings
            .iter()
            .filter(|f| f.rule == "use" && f.severity == Severity::Warn);
        found.count()
    };
    // 3 across : 1 up for mowing (an extension bulletin); the others common practice.
    for (used, steepest) in [
        ("mown", 100.0 / 3.0),
        ("planted", 50.0),
        ("path", 100.0 / 12.0),
    ] {
        let steep = area(used, steepest * 1.03, "");
        assert_eq!(over(&steep), 1, "{used}");
        assert_eq!(over(&area(used, steepest * 0.99, "")), 0, "{used}");
        // All of it: plan areas add up to that of the outline.
        let words = &steep
            .findings
            .iter()
            .find(|f| f.rule == "use")
            .unwrap()
            .words;
        assert!(words.contains("over 240 m2"), "{words}");
    }
    assert_eq!(flagged(&area("mown", 40.0, ""), "GR-8").len(), 1);
    // Between 15 degrees and 3 : 1 it is mown on foot.
    let walked = area("mown", 30.0, "");
    let note = walked.findings.iter().find(|f| f.rule == "use").unwrap();
    assert!(note.cure.contains("on foot"), "{}", note.cure);
    // A lawn that may be no flatter than it may be steep.
    let odd = area("mown", 40.0, "[limits]\nlawn_percent = 50\n");
    assert_eq!(
        odd.rules
            .iter()
            .find(|a| a.rule.id == "GR-8")
            .unwrap()
            .state,
        State::NotChecked
    );
    assert!(flagged(&odd, "GR-8").is_empty());
}

#[test]
fn a_sliver_is_no_cliff() {
    // One shot 0.3 m beside another and 0.25 m higher: steep over hundredths of a square metre.
    let mut csv = String::from("name,x,y,z\n");
    for i in 0..=6 {
        for j in 0..=6 {
            csv += &format!("{i}-{j},{},{},10\n", 10 * i, 10 * j);
        }
    }
    csv += "a,21,21,10\nb,21.1,21,10.06\nc,21.2,21,10\nd,21.1,21.1,10\ne,21.1,20.9,10\n";
    let job = "[job]\nname = \"t\"\nunits = \"m\"\n[[survey]]\npoints = \"points.csv\"\n\
               [[area]]\nname = \"Lawn\"\nuse = \"mown\"\narea = [[15.0, 15.0], [35.0, 15.0], [35.0, 35.0], [15.0, 35.0]]\n";
    let files = super::common::Folder::default().with("points.csv", &csv);
    let outcome = super::common::run_job(files, job);
    assert!(flagged(&outcome, "GR-8").is_empty());
}

#[test]
fn fill_on_steep_ground_is_benched() {
    let on = |percent: f64| {
        yard(
            move |_, y| 10.0 - percent / 100.0 * y,
            &format!("{STRIP}{}", berm(2.0, "")),
        )
    };
    let found = on(25.0);
    let found = flagged(&found, "GR-5");
    assert_eq!(found.len(), 1);
    assert!(found[0].cure.contains("steps into"), "{}", found[0].cure);
    assert!(flagged(&on(15.0), "GR-5").is_empty());
}

#[test]
fn topsoil_under_a_fill() {
    let level = |_: f64, _: f64| 10.0;
    let bare = yard(level, &berm(2.0, ""));
    let found = flagged(&bare, "GR-7");
    assert_eq!(found.len(), 1);
    // The footprint: crest 20 x 1, sides 2 m out all round (mitred or round corners).
    let area = found[0].measured.as_ref().unwrap().value;
    assert!(area > 24.0 * 5.0 - 4.0 && area < 24.5 * 5.5, "{area}");
    assert!(flagged(&yard(level, &format!("{STRIP}{}", berm(2.0, ""))), "GR-7").is_empty());
    let part = "[[feature]]\nkind = \"strip\"\nname = \"Sod\"\noutline = [[5.0, 20.0], [55.0, 20.0], [55.0, 40.0], [5.0, 40.0]]\nthick = 0.1\n";
    assert!(flagged(&yard(level, &format!("{part}{}", berm(2.0, ""))), "GR-7").is_empty());
}

#[test]
fn a_bank_beside_a_dig() {
    // The ground rises 1.5 m over 1 m just north of the channel's side.
    let bank = |high: f64| {
        yard(
            move |_, y| if y > 31.0 { 10.0 + high } else { 10.0 },
            "[[feature]]\nkind = \"channel\"\nname = \"Ditch\"\nline = [[20.0, 29.0], [40.0, 29.0]]\nwidth = 1.0\nside_run_per_rise = 2.0\n\
             start = \"level:9.5\"\nfall_percent = 1.0\nends = \"slope\"\n",
        )
    };
    let steep = bank(5.0);
    let found: Vec<_> = steep
        .findings
        .iter()
        .filter(|f| f.rule == "steep-beside")
        .collect();
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(!bank(0.5).findings.iter().any(|f| f.rule == "steep-beside"));
}

#[test]
fn a_bed_too_steep_between_its_drops() {
    let stream = |percent: f64| {
        yard(
            |x, _| 20.0 - 0.1 * x,
            &format!(
                "[[feature]]\nkind = \"stream\"\nname = \"Stream\"\nline = [[10.0, 30.0], [30.0, 30.0]]\nwidth = 0.6\nside_run_per_rise = 2.0\n\
                 start = \"level:18.5\"\nfall_percent = {percent}\ndrops = [ {{ at = 10.0, height = 0.8 }} ]\n"
            ),
        )
    };
    let found = stream(4.0);
    let of = |o: &Outcome| {
        let beds = o
            .findings
            .iter()
            .filter(|f| f.rule == "bed-slope" && f.severity == Severity::Warn);
        beds.map(|f| f.cure.clone()).collect::<Vec<_>>()
    };
    // 20 m at 4 instead of 2 percent: 0.4 m more into drops.
    assert_eq!(of(&found).len(), 1);
    assert!(of(&found)[0].contains("0.40 m"), "{:?}", of(&found));
    assert!(of(&stream(2.0)).is_empty());
}

#[test]
fn the_noise_of_a_scan_is_no_slope() {
    // Points 0.15 m apart and a centimetre off: single facets lie at up to 30 percent and more.
    let scan = |percent: f64| {
        let mut random = super::common::Random(7);
        let mut csv = String::from("name,x,y,z\n");
        for i in 0..80 {
            for j in 0..80 {
                let (x, y) = (
                    f64::from(i) * 0.15,
                    f64::from(j) * 0.15 + f64::from(i) * 0.001,
                );
                let noise = random.between(-0.01, 0.01);
                csv += &format!(
                    "{i}-{j},{x:.3},{y:.3},{:.4}\n",
                    10.0 - percent / 100.0 * x + noise
                );
            }
        }
        let job = "[job]\nname = \"t\"\nunits = \"m\"\n[[survey]]\npoints = \"points.csv\"\n\
                   [[area]]\nname = \"Lawn\"\nuse = \"mown\"\narea = [[2.0, 2.0], [10.0, 2.0], [10.0, 10.0], [2.0, 10.0]]\n";
        let files = super::common::Folder::default().with("points.csv", &csv);
        super::common::run_job(files, job)
    };
    assert!(flagged(&scan(20.0), "GR-8").is_empty());
    assert_eq!(flagged(&scan(40.0), "GR-8").len(), 1);
}
