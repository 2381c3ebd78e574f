//! Slopes in every notation, and where a side meets the ground (SLP).

use crate::common::{close, near, plane_over, rectangle};
use crate::{EXACT, FT, extent, laid, sides};
use cutbank::checks::Severity;
use cutbank::surface::Rule;
use cutbank::units::Slope;

/// SLP-01, published: 29 CFR 1926 subpart P appendix B table B-1 prints 53, 45 and 34 degrees for
/// 3/4:1, 1:1 and 1.5:1; the digits are closed form.
#[test]
fn slp_01_three_notations() {
    for (run, degrees, percent) in [
        (0.75, 53.1301, 133.333),
        (1.0, 45.0, 100.0),
        (1.5, 33.6901, 66.6667),
        (2.0, 26.5651, 50.0),
        (3.0, 18.4349, 33.3333),
        (4.0, 14.0362, 25.0),
        (5.0, 11.3099, 20.0),
    ] {
        let slope = Slope::from_run_per_rise(run);
        near("degrees", slope.degrees(), degrees, 5e-5);
        near("percent", slope.percent(), percent, 5e-4);
        close(
            "back",
            Slope::from_degrees(slope.degrees()).run_per_rise(),
            run,
            1e-14,
        );
        close(
            "back",
            Slope::from_percent(slope.percent()).run_per_rise(),
            run,
            1e-14,
        );
    }
    for (run, printed) in [(0.75, 53.0), (1.0, 45.0), (1.5, 34.0)] {
        near(
            "printed",
            Slope::from_run_per_rise(run).degrees(),
            printed,
            0.5,
        );
    }
}

/// SLP-02, closed form: 2.4 ft in 48 ft: 5 %, 0.6 in per ft, 48.06 ft along the slope, which is
/// the area of a strip a foot wide.
#[test]
fn slp_02_fall_of_a_stream() {
    let bed = plane_over([0.0, 0.0], [48.0 * FT, FT], |x, _| 30.0 - 2.4 / 48.0 * x);
    let facts = bed.facts().unwrap();
    let slope = Slope::from_rise_per_run(facts.mean_slope_rise_per_run);
    close("percent", slope.percent(), 5.0, EXACT);
    close("inches", slope.inches_per_foot(), 0.6, EXACT);
    near("along", facts.surface_area_m2 / FT / FT, 48.06, 1e-4);
}

/// Offset of the toe of a fill of 3:1 whose edge is `height` above ground falling away by `fall`.
fn toe(height: f64, fall: f64) -> f64 {
    let ground = plane_over([-10.0, -10.0], [60.0, 10.0], |x, _| 20.0 - fall * x);
    let crest = rectangle([-2.0, -1.0], [0.0, 1.0]);
    let berm = laid(
        &ground,
        &crest,
        20.0 + height,
        &sides(Rule::Raise, 3.0, &ground),
    );
    extent(&berm)[1][0]
}

/// SLP-03, closed form z h/(1 - z g); a state university extension bulletin on mounds prints 1.56
/// for 3:1 on 12 percent: 2 ft up on ground falling by 0.12: 9.375 ft, factor 1.5625.
#[test]
fn slp_03_catch_point() {
    let offset = toe(2.0 * FT, 0.12);
    close("offset", offset / FT, 9.375, EXACT);
    close("factor", offset / toe(2.0 * FT, 0.0), 1.5625, EXACT);
}

/// SLP-03, its warning: where the ground falls as steeply as the fill the side never catches. It
/// is reported where the berm runs over the rim of the survey, not looked for without end.
#[test]
fn slp_03_a_side_that_never_catches_is_reported() {
    let shots = "name,x,y,z\n1,0,0,50\n2,60,0,30\n3,60,40,30\n4,0,40,50\n";
    let job = |run: f64| {
        format!(
            "[job]\nname = \"Slope\"\nunits = \"m\"\n[[survey]]\npoints = \"shots.csv\"\n\
             [[feature]]\nkind = \"berm\"\nname = \"Berm\"\n\
             outline = [[20, 18], [22, 18], [22, 22], [20, 22]]\n\
             crest = \"height:1.0\"\nside_run_per_rise = {run}\n"
        )
    };
    let folder = || crate::common::Folder::default().with("shots.csv", shots);
    let off_survey = |run: f64| {
        let outcome = crate::common::run_job(folder(), &job(run));
        let found = outcome.findings.iter().find(|f| f.rule == "off-survey");
        found.map(|f| f.severity)
    };
    assert_eq!(off_survey(2.0), None);
    assert_eq!(off_survey(3.0), Some(Severity::Stop));
}

/// SLP-04, published: a state university extension bulletin, table 4: width factors of a fill of
/// 3:1 for ground of 1 to 15 percent, every row recomputed.
#[test]
fn slp_04_width_factors() {
    let level = toe(1.0, 0.0);
    for (percent, want) in [
        1.03093, 1.06383, 1.0989, 1.13636, 1.17647, 1.21951, 1.26582, 1.31579, 1.36986, 1.42857,
        1.49254, 1.5625, 1.63934, 1.72414, 1.81818,
    ]
    .into_iter()
    .enumerate()
    {
        near(
            "factor",
            toe(1.0, (percent + 1) as f64 / 100.0) / level,
            want,
            5e-6,
        );
    }
}

/// SLP-05, closed form: a quarter inch per foot is 2.08333 %, 1.19349 degrees.
#[test]
fn slp_05_inches_per_foot() {
    let slope = Slope::from_rise_per_run(0.25 / 12.0);
    near("inches", slope.inches_per_foot(), 0.25, 1e-15);
    near("percent", slope.percent(), 2.08333, 5e-6);
    near("degrees", slope.degrees(), 1.19349, 5e-6);
}
