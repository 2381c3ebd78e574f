//! Berms: crest, settlement, layers; and covers on liners.

use approx::assert_relative_eq;
use cutbank::outcome::Outcome;

use super::{flagged, yard};

fn berm(width: f64, settlement: &str, lift: f64) -> Outcome {
    yard(
        |_, _| 10.0,
        &format!(
            "[[feature]]\nkind = \"berm\"\nname = \"Berm\"\nline = [[20.0, 30.0], [40.0, 30.0]]\nwidth = {width}\n\
             crest = \"height:0.9144\"\nside_run_per_rise = 2.0\n{settlement}\nlift = {lift}\n"
        ),
    )
}

#[test]
fn a_narrow_crest() {
    let narrow = berm(0.5, "settlement_percent = 10", 0.15);
    assert_eq!(flagged(&narrow, "BM-3").len(), 1);
    assert!(flagged(&berm(0.61, "settlement_percent = 10", 0.15), "BM-3").is_empty());
}

#[test]
fn no_allowance_for_settlement() {
    let bare = berm(1.0, "", 0.15);
    let found = flagged(&bare, "BM-4");
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].change.as_ref().unwrap().value, "10");
    // BRM-01 (NRCS practice 378, from memory): 3 ft are built to 3.15 at 5 percent, 3.3 at 10.
    for (percent, feet) in [(5.0, 3.15), (10.0, 3.3)] {
        let repaired = berm(1.0, &format!("settlement_percent = {percent}"), 0.15);
        assert!(flagged(&repaired, "BM-4").is_empty());
        let extent = repaired.extents[0].whole.as_ref().unwrap();
        let built = extent.extremes.unwrap().highest_fill.unwrap().by_m;
        assert_relative_eq!(built / 0.3048, feet, max_relative = 1e-9);
    }
}

#[test]
fn layers_too_thick() {
    let thick = berm(1.0, "settlement_percent = 10", 0.3);
    assert_eq!(flagged(&thick, "BM-6").len(), 1);
    assert!(flagged(&berm(1.0, "settlement_percent = 10", 0.2), "BM-6").is_empty());
}

#[test]
fn a_cover_on_a_steep_liner() {
    let basin = |run: f64, layers: &str| {
        yard(
            |_, _| 10.0,
            &format!(
                "[[feature]]\nkind = \"basin\"\nname = \"Pond\"\noutline = [[28.0, 28.0], [32.0, 28.0], [32.0, 32.0], [28.0, 32.0]]\n\
                 floor = \"depth:0.6\"\nside_run_per_rise = {run}\ncorners = \"mitre\"\nlayers = [ {{ name = \"liner\" }}, {layers} ]\n"
            ),
        )
    };
    let cover = "{ name = \"gravel\", thick = 0.1 }";
    // 2.5 across : 1 up under a cover (NRCS 521A, a state specification).
    let steep = basin(2.0, cover);
    let found = flagged(&steep, "WA-12");
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].change.as_ref().unwrap().value, "2.5");
    assert!(flagged(&basin(2.5, cover), "WA-12").is_empty());
    // Stone that fills it to a level holds itself.
    assert!(
        flagged(
            &basin(2.0, "{ name = \"stone\", to = \"depth:0.1\" }"),
            "WA-12"
        )
        .is_empty()
    );
}
