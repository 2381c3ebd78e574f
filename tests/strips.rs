//! Sod and topsoil taken off first: over an area, and over everything that is touched.
#![allow(clippy::unwrap_used)]

mod common;
#[path = "common/frustum.rs"]
mod frustum;
#[path = "common/typed.rs"]
mod typed;

use common::{close, near};
use cutbank::earthwork::FeatureVolume;
use cutbank::files::OneThread;
use cutbank::outcome::Outcome;
use cutbank::surface::cut_fill;
use frustum::{Frustum, Plane, z_of};
use typed::{outcome, place, refused, square};

const EXACT: f64 = 1e-9;
const LEVEL: Plane = [0.0, 0.0, 0.0];
const INCLINED: Plane = [0.3, 0.03, 0.05];

fn points(ground: Plane) -> String {
    square(|x, y| z_of(ground, [x, y]))
}

fn pit(ground: Plane) -> Frustum {
    Frustum {
        low: [24.0, 25.0],
        high: [30.0, 29.0],
        z: -2.0,
        run_per_rise: 1.5,
        ground,
        up: 1.0,
    }
}

fn pile(ground: Plane) -> Frustum {
    Frustum {
        z: 5.0,
        up: -1.0,
        ..pit(ground)
    }
}

fn touched(name: &str, thick: f64) -> String {
    format!(
        "[[feature]]\nkind = \"strip\"\nname = \"{name}\"\nthick = {thick}\nover = \"touched\"\n"
    )
}

fn over(name: &str, thick: f64, outline: &[[f64; 2]]) -> String {
    format!(
        "[[feature]]\nkind = \"strip\"\nname = \"{name}\"\nthick = {thick}\noutline = {outline:?}\n"
    )
}

fn feature<'a>(o: &'a Outcome, name: &str) -> &'a FeatureVolume {
    let named = |f: &&FeatureVolume| f.name == name;
    o.to_build.features.iter().find(named).unwrap()
}

/// Cut less fill, strips included, is what lies between the ground and what is built.
#[track_caller]
fn nets(o: &Outcome, strip_m3: f64) {
    let found = cut_fill(&o.terrain.surface, o.design.to_build(), &OneThread).total;
    let net = o.to_build.cut_m3 - o.to_build.fill_m3;
    // What is touched is stripped, and where a fill lies it is filled again.
    near(
        "net",
        net,
        found.net_m3(),
        EXACT * (1.0 + o.to_build.cut_m3 + o.to_build.fill_m3),
    );
    close("strip", o.to_build.strip_m3, strip_m3, EXACT);
    let sum: f64 = o.to_build.features.iter().map(|f| f.cut_m3).sum();
    near("features", sum, o.to_build.cut_m3, EXACT * (1.0 + sum));
}

#[test]
fn a_strip_over_an_outline_follows_the_ground() {
    let outline = [
        [12.0, 13.0],
        [45.0, 15.0],
        [40.0, 41.0],
        [30.0, 25.0],
        [14.0, 44.0],
    ];
    let area = {
        let n = outline.len();
        let cross = |k: usize| {
            let (a, b) = (outline[k], outline[(k + 1) % n]);
            a[0] * b[1] - a[1] * b[0]
        };
        (0..n).map(cross).sum::<f64>() / 2.0
    };
    let wavy = square(|x, y| 0.4 * (x * 1.7).sin() + 0.3 * (y * 2.3).cos() + 0.02 * x);
    for points in [points(LEVEL), points(INCLINED), wavy] {
        let o = outcome(&points, &over("Lawn", 0.25, &outline));
        // The edges stand upright on the outline and lean outward by 1e-4 of 0.25 m.
        let around: f64 = (0..outline.len())
            .map(|k| {
                let (a, b) = (outline[k], outline[(k + 1) % outline.len()]);
                (a[0] - b[0]).hypot(a[1] - b[1])
            })
            .sum();
        let lean = around * 0.25 * 0.25 * 1e-4 / 2.0;
        near("volume", o.to_build.cut_m3, area * 0.25 + lean, 0.1 * lean);
        let within = common::inside(&{
            let corners: Vec<_> = outline.iter().map(|&[x, y]| place(&o, x, y)).collect();
            cutbank::geom::Ring::new(&corners).unwrap()
        });
        let inside = cutbank::surface::cut_fill_within(
            &o.terrain.surface,
            &o.design.surface,
            &within,
            &OneThread,
        );
        close("inside", inside.total.cut_m3, area * 0.25, EXACT);
        near("strip", o.to_build.strip_m3, o.to_build.cut_m3, 1e-12);
        near("fill", o.to_build.fill_m3, 0.0, 1e-12);
    }
}

#[test]
fn a_pit_and_a_pile_on_stripped_ground() {
    // A strip of 40 x 30 m, 0.2 m thick; what is dug and placed counts from 0.2 m below.
    let lawn = over(
        "Lawn",
        0.2,
        &[[10.0, 12.0], [50.0, 12.0], [50.0, 50.0], [10.0, 50.0]],
    );
    for ground in [LEVEL, INCLINED] {
        let stripped = [ground[0] - 0.2, ground[1], ground[2]];
        let strip_m3 = outcome(&points(ground), &lawn).to_build.strip_m3;
        near("strip", strip_m3, 40.0 * 38.0 * 0.2, 1e-3);
        for shape in [pit(ground), pile(ground)] {
            let o = outcome(&points(ground), &(lawn.clone() + &shape.entry("Shape", "")));
            let on = Frustum {
                ground: stripped,
                ..shape
            };
            let v = feature(&o, "Shape");
            close("shape", v.cut_m3 + v.fill_m3, on.volume(), EXACT);
            nets(&o, strip_m3);
        }
    }
}

#[test]
fn what_is_touched_is_stripped_first() {
    for ground in [LEVEL, INCLINED] {
        let lower = [ground[0] - 0.3, ground[1], ground[2]];
        // A pile: the strip is its footprint, and the fill grows by as much.
        let shape = pile(ground);
        let strips = touched("Sod", 0.05) + &touched("Topsoil", 0.25);
        let o = outcome(
            &points(ground),
            &(strips.clone() + &shape.entry("Berm", "")),
        );
        close("sod", feature(&o, "Sod").cut_m3, 0.05 * shape.area(), EXACT);
        close(
            "topsoil",
            feature(&o, "Topsoil").cut_m3,
            0.25 * shape.area(),
            EXACT,
        );
        let berm = feature(&o, "Berm");
        close(
            "fill",
            berm.fill_m3,
            shape.volume() + 0.3 * shape.area(),
            EXACT,
        );
        near("cut", berm.cut_m3, 0.0, 1e-12);
        nets(&o, 0.3 * shape.area());
        // A pit: topsoil and the rest are the whole pit. Where the pit is shallower than the
        // topsoil, at its rim, soil goes back.
        let shape = pit(ground);
        let o = outcome(&points(ground), &(shape.entry("Pit", "") + &strips));
        let v = feature(&o, "Pit");
        let below = Frustum {
            ground: lower,
            ..shape
        };
        close("dug below", v.cut_m3, below.volume(), EXACT);
        close(
            "whole",
            v.cut_m3 - v.fill_m3 + 0.3 * shape.area(),
            shape.volume(),
            EXACT,
        );
        nets(&o, 0.3 * shape.area());
        assert!(o.second.is_none());
    }
}

#[test]
fn strips_that_cannot_come_there_are_refused() {
    let points = points(LEVEL);
    let lawn = over("Lawn", 0.2, &[[10.0, 12.0], [50.0, 12.0], [50.0, 50.0]]);
    let both = refused(&points, &(lawn.clone() + &touched("Sod", 0.1)), "strip");
    assert!(both.message.contains("\"Lawn\"") && both.message.contains("\"Sod\""));
    let late = refused(&points, &(pit(LEVEL).entry("Pit", "") + &lawn), "strip");
    assert!(
        late.message.contains("\"Pit\" already lies there"),
        "{late:?}"
    );
    assert!(late.help.contains("before the first feature"));
    for thick in ["0.0", "-0.1", "2.5", "0.001", "nan", "1e300"] {
        let bad = touched("Sod", 0.1).replace("0.1", thick);
        let faults = typed::try_outcome(common::Folder::default(), &points, &bad);
        let faults = faults.unwrap_err().0;
        assert!(
            faults.iter().any(|d| d.at.iter().any(|at| at.line > 0)),
            "{faults:?}"
        );
    }
    let crossing = over(
        "Lawn",
        0.2,
        &[[10.0, 12.0], [50.0, 50.0], [50.0, 12.0], [10.0, 50.0]],
    );
    refused(&points, &crossing, "bad-outline");
    let both = touched("Sod", 0.1) + "outline = [[1.0, 1.0], [2.0, 1.0], [2.0, 2.0]]\n";
    let faults = typed::try_outcome(common::Folder::default(), &points, &both);
    let words = faults.map(|_| ()).unwrap_err().to_string();
    assert!(
        words.contains("outline") && words.contains("over"),
        "{words}"
    );
}

#[test]
fn strips_over_one_another_take_off_their_own_thickness() {
    // Sod over 20 x 20 m, and topsoil over 30 x 30 m that holds it: 0.05 and 0.25 m.
    let sod = over(
        "Sod",
        0.05,
        &[[20.0, 20.0], [40.0, 20.0], [40.0, 40.0], [20.0, 40.0]],
    );
    let topsoil = over(
        "Topsoil",
        0.25,
        &[[15.0, 15.0], [45.0, 15.0], [45.0, 45.0], [15.0, 45.0]],
    );
    for ground in [LEVEL, INCLINED] {
        let o = outcome(&points(ground), &(sod.clone() + &topsoil));
        close("sod", feature(&o, "Sod").cut_m3, 400.0 * 0.05, 1e-4);
        close("topsoil", feature(&o, "Topsoil").cut_m3, 900.0 * 0.25, 1e-4);
        close(
            "strip",
            o.to_build.strip_m3,
            400.0 * 0.05 + 900.0 * 0.25,
            1e-4,
        );
        let z = o.design.surface.z_at(place(&o, 30.0, 30.0)).unwrap();
        near("level", z, z_of(ground, [30.0, 30.0]) - 0.3, 1e-9);
    }
}
