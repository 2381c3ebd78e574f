//! Layers on the soil through whole jobs, against closed forms beside each check.
#![allow(clippy::unwrap_used)]

mod common;
#[path = "common/frustum.rs"]
mod frustum;
#[path = "common/typed.rs"]
mod typed;

use common::close;
use cutbank::files::OneThread;
use cutbank::outcome::Outcome;
use cutbank::surface::cut_fill;
use frustum::{Frustum, Plane};
use typed::{outcome, refused, square};

const EXACT: f64 = 1e-9;
const LEVEL: Plane = [0.0, 0.0, 0.0];
/// Ground that falls to the south and rises to the east.
const INCLINED: Plane = [0.3, 0.03, 0.05];

fn points(ground: Plane) -> String {
    square(|x, y| frustum::z_of(ground, [x, y]))
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

/// A layer's area along the slope, volume and voids.
#[track_caller]
fn layer(o: &Outcome, name: &str) -> (f64, f64, Option<f64>) {
    let of = |l: &&cutbank::earthwork::LayerQuantity| l.layer == name;
    let found: Vec<_> = o.layers.iter().filter(of).collect();
    assert_eq!(found.len(), 1, "{:?}", o.layers);
    let l = found[0];
    (l.area_m2, l.volume_m3.unwrap_or(f64::NAN), l.voids_m3)
}

/// All layers together are the space between the soil and the finished surface, and soil and
/// layers together what lies between the ground and the finished surface.
#[track_caller]
fn add_up(o: &Outcome, relative: f64) {
    let layers: f64 = o.layers.iter().filter_map(|l| l.volume_m3).sum();
    let space = cut_fill(o.design.soil(), &o.design.surface, &OneThread).total;
    assert!(
        space.cut_m3 < 1e-9 * space.fill_m3,
        "finished below the soil: {space:?}"
    );
    close(
        "layers and the space between",
        layers,
        space.fill_m3,
        relative,
    );
    let seen = cut_fill(&o.terrain.surface, &o.design.surface, &OneThread).total;
    let soil = o.finished.fill_m3 - o.finished.cut_m3;
    common::near(
        "soil and layers",
        soil + layers,
        seen.fill_m3 - seen.cut_m3,
        relative * (layers + o.finished.cut_m3 + o.finished.fill_m3),
    );
}

#[test]
fn stone_to_a_level_is_a_frustum_between_levels() {
    for ground in [LEVEL, INCLINED] {
        let pit = pit(ground);
        let o = outcome(
            &points(ground),
            &pit.entry(
                "Pit",
                "layers = [ { name = \"liner\" }, { name = \"stone\", to = \"level:-1.0\", porosity = 0.4 }, { name = \"gravel\", to = \"level:-0.6\" } ]",
            ),
        );
        // At a height t above the floor: (6 + 3 t)(4 + 3 t).
        let to = |t: f64| 24.0 * t + 30.0 * t * t / 2.0 + 9.0 * t * t * t / 3.0;
        let (_, stone, voids) = layer(&o, "stone");
        close("stone", stone, to(1.0), EXACT);
        close("voids", voids.unwrap(), 0.4 * to(1.0), EXACT);
        close("gravel", layer(&o, "gravel").1, to(1.4) - to(1.0), EXACT);
        close("liner", layer(&o, "liner").0, pit.along(), EXACT);
        close("dug", o.to_build.cut_m3, pit.volume(), EXACT);
        add_up(&o, EXACT);
    }
}

#[test]
fn sand_follows_the_pit_and_stone_fills_what_is_left() {
    for ground in [LEVEL, INCLINED] {
        let pit = pit(ground);
        let o = outcome(
            &points(ground),
            &pit.entry(
                "Pit",
                "layers = [ { name = \"sand\", thick = 0.1 }, { name = \"stone\", to = \"level:-1.0\" } ]",
            ),
        );
        // The levels of a basin are the dug ones; sand lies on floor and sides up to the rim, where
        // it thins out to nothing.
        let lined = pit.at_level(-1.9);
        close("dug", o.to_build.cut_m3, pit.volume(), EXACT);
        close(
            "sand",
            layer(&o, "sand").1,
            pit.volume() - lined.volume(),
            EXACT,
        );
        close("sand lies on", layer(&o, "sand").0, pit.along(), EXACT);
        let to = |t: f64| 24.0 * t + 30.0 * t * t / 2.0 + 9.0 * t * t * t / 3.0;
        close("stone", layer(&o, "stone").1, to(0.9), EXACT);
        add_up(&o, EXACT);
    }
}

#[test]
fn an_upright_tank_is_filled_to_the_rim() {
    // Faces lean outward by 1e-4 of their rise h: (6 + 2e-4 h)(4 + 2e-4 h) at a height h.
    let tank = Frustum {
        run_per_rise: 0.0,
        ..pit(LEVEL)
    };
    let e = 2.0e-4f64;
    let want = |h: f64| 24.0 * h + 10.0 * e * h * h / 2.0 + e * e * h * h * h / 3.0;
    for to in ["depth:0.0", "level:0.0"] {
        let layers = format!("layers = [ {{ name = \"stone\", to = \"{to}\" }} ]");
        let o = outcome(&points(LEVEL), &tank.entry("Tank", &layers));
        close("stone", layer(&o, "stone").1, want(2.0), 1e-8);
        add_up(&o, 1e-8);
    }
}

#[test]
fn stone_to_the_lowest_place_of_the_rim() {
    for ground in [LEVEL, INCLINED] {
        let pit = pit(ground);
        let rim = pit.rim().map(|at| frustum::z_of(ground, at));
        let lowest = rim.into_iter().fold(f64::INFINITY, f64::min);
        let t = lowest + 2.0;
        let to = 24.0 * t + 30.0 * t * t / 2.0 + 9.0 * t * t * t / 3.0;
        let o = outcome(
            &points(ground),
            &pit.entry(
                "Pit",
                "layers = [ { name = \"stone\", to = \"depth:0.0\" } ]",
            ),
        );
        close("stone", layer(&o, "stone").1, to, 1e-7);
        add_up(&o, 1e-7);
        // A centimetre more runs out, and it is said where.
        let more = format!(
            "layers = [ {{ name = \"stone\", to = \"level:{}\" }} ]",
            lowest + 0.01
        );
        let fault = refused(&points(ground), &pit.entry("Pit", &more), "bad-layer");
        let at = pit.rim()[rim.iter().position(|&z| z == lowest).unwrap()];
        if ground[1] > 0.0 {
            let place = format!("{:.2} m E, {:.2} m N", at[0], at[1]);
            assert!(
                fault.message.contains(&place),
                "{} not {place}",
                fault.message
            );
        }
        assert!(
            fault.message.contains(&format!("{lowest:.2} m")),
            "{fault:?}"
        );
        assert!(fault.message.contains("run out over the rim"), "{fault:?}");
    }
}

#[test]
fn topsoil_on_a_pile_is_measured_plumb() {
    for ground in [LEVEL, INCLINED] {
        let pile = pile(ground);
        let soil = pile.at_level(4.8);
        let layers = "layers = [ { name = \"sand\", thick = 0.05 }, { name = \"topsoil\", thick = 0.15 } ]\n";
        // The levels of a berm are the finished ones, unless the job says otherwise.
        let o = outcome(&points(ground), &pile.entry("Berm", layers));
        close("soil", o.to_build.fill_m3, soil.volume(), EXACT);
        let all = layer(&o, "sand").1 + layer(&o, "topsoil").1;
        close("layers", all, pile.volume() - soil.volume(), EXACT);
        // Topsoil is what lies more than 0.05 m plumb above the soil and the ground.
        let up = pile.at_level(4.95);
        close(
            "topsoil",
            layer(&o, "topsoil").1,
            up.volume() - soil.volume(),
            EXACT,
        );
        add_up(&o, EXACT);
        let dug = format!("{layers}levels_are = \"dug\"");
        let o = outcome(&points(ground), &soil.entry("Berm", &dug));
        close("soil, dug", o.to_build.fill_m3, soil.volume(), EXACT);
        let all = layer(&o, "sand").1 + layer(&o, "topsoil").1;
        close("layers, dug", all, pile.volume() - soil.volume(), EXACT);
        add_up(&o, EXACT);
    }
}

#[test]
fn a_finished_basin_is_dug_deeper() {
    for ground in [LEVEL, INCLINED] {
        let pit = pit(ground);
        let o = outcome(
            &points(ground),
            &pit.entry(
                "Pit",
                "levels_are = \"finished\"\nlayers = [ { name = \"clay\", thick = 0.3 } ]",
            ),
        );
        let dug = pit.at_level(-2.3);
        close("dug", o.to_build.cut_m3, dug.volume(), EXACT);
        close(
            "clay",
            layer(&o, "clay").1,
            dug.volume() - pit.volume(),
            EXACT,
        );
        add_up(&o, EXACT);
    }
}

/// Layers on a bed of 0.6 m width: along a straight line of 20 m at a fall, its ends upright.
#[test]
fn gravel_on_the_bed_of_a_straight_stream() {
    let o = outcome(
        &points([1.0, -0.05, 0.0]),
        "[[feature]]\nkind = \"stream\"\nname = \"Stream\"\nline = [[15.0, 30.0], [35.0, 30.0]]\n\
         levels = [\"depth:0.5\", \"depth:0.5\"]\nwidth = 0.6\nside_run_per_rise = 2.0\n\
         layers = [ { name = \"gravel\", thick = 0.15, on = \"floor\", porosity = 0.3 } ]\n",
    );
    // The floor is boxed out with faces that lean outward 0.5e-4 of their rise.
    let (area, volume, voids) = layer(&o, "gravel");
    let lean = 2.0 * 20.0 * 0.15 * 0.15 * 0.5e-4;
    assert!((volume - 20.0 * 0.6 * 0.15).abs() < lean, "{volume}");
    close("voids", voids.unwrap(), 0.3 * volume, EXACT);
    close(
        "area",
        area,
        20.0 * 0.6 * (1.0f64 + 0.05 * 0.05).sqrt(),
        1e-4,
    );
    add_up(&o, 1e-6);
}

#[test]
fn gravel_on_a_bed_with_bends_and_drops() {
    let o = outcome(
        &points([3.0, -0.05, -0.02]),
        "[[feature]]\nkind = \"stream\"\nname = \"Stream\"\n\
         line = [[45.0, 20.0], [35.0, 20.0], [30.0, 28.0], [18.0, 30.0]]\n\
         start = \"depth:0.9\"\nfall_percent = 1.5\ndrops = [ { at = 2.0, height = 0.3 }, { at = 14.0, height = 0.25 } ]\n\
         width = 0.8\nside_run_per_rise = 1.5\n\
         layers = [ { name = \"gravel\", thick = 0.15, on = \"floor\" }, { name = \"stone\", thick = 0.1, on = \"floor\" } ]\n",
    );
    let bed = o
        .design
        .parts
        .iter()
        .position(|p| p.role == cutbank::design::Role::Floor)
        .unwrap();
    let facts = o
        .design
        .surface
        .facts_by(1, |l| (l as usize == bed).then_some(0))[0]
        .unwrap();
    // The box is as wide as the bed; at its edges and at drops faces lean.
    close("gravel", layer(&o, "gravel").1, facts.area_m2 * 0.15, 1e-3);
    close("stone", layer(&o, "stone").1, facts.area_m2 * 0.1, 1e-3);
    add_up(&o, 1e-6);
}

#[test]
fn layers_that_a_later_feature_cuts_through() {
    let wide = Frustum {
        low: [15.0, 15.0],
        high: [40.0, 40.0],
        z: -1.0,
        run_per_rise: 2.0,
        ground: LEVEL,
        up: 1.0,
    };
    let hole = Frustum {
        low: [24.0, 25.0],
        high: [28.0, 29.0],
        z: -2.5,
        run_per_rise: 1.0,
        ground: LEVEL,
        up: 1.0,
    };
    let o = outcome(
        &points(LEVEL),
        &[
            wide.entry(
                "Court",
                "levels_are = \"finished\"\nlayers = [ { name = \"gravel\", thick = 0.2 } ]",
            ),
            hole.entry("Hole", ""),
        ]
        .concat(),
    );
    // The hole takes out of the gravel what it takes of the slab between -1.2 and -1.
    let deep = wide.at_level(-1.2);
    let slab = |d: f64| (4.0 + 2.0 * d).powi(3) / 6.0;
    let gone = slab(1.5) - slab(1.3);
    close(
        "gravel",
        layer(&o, "gravel").1,
        deep.volume() - wide.volume() - gone,
        EXACT,
    );
    close(
        "dug",
        o.to_build.cut_m3,
        deep.volume() + slab(1.3) - slab(0.0),
        EXACT,
    );
    add_up(&o, EXACT);
}

#[test]
fn two_layered_features_that_meet_count_no_space_twice() {
    let court = Frustum {
        z: -1.0,
        ..pit(INCLINED)
    };
    let beside = Frustum {
        low: [31.0, 26.0],
        high: [36.0, 32.0],
        z: -0.4,
        run_per_rise: 2.0,
        ground: INCLINED,
        up: 1.0,
    };
    let berm = Frustum {
        low: [36.0, 38.0],
        high: [42.0, 40.0],
        z: 6.0,
        run_per_rise: 2.0,
        ground: INCLINED,
        up: -1.0,
    };
    let court = court.entry(
        "Court",
        "layers = [ { name = \"gravel\", thick = 0.2 }, { name = \"stone\", to = \"depth:1.2\" } ]",
    );
    let beside = beside.entry(
        "Beside",
        "levels_are = \"finished\"\nlayers = [ { name = \"clay\", thick = 0.3 } ]",
    );
    let berm = berm.entry("Berm", "layers = [ { name = \"topsoil\", thick = 0.1 } ]");
    // What is cut off slantwise of a fill, and what ends under a later fill, counts to no layer;
    // but none counts twice.
    let o = outcome(&points(INCLINED), &[court, beside, berm].concat());
    let layers: f64 = o.layers.iter().filter_map(|l| l.volume_m3).sum();
    let space = cut_fill(o.design.soil(), &o.design.surface, &OneThread).total;
    assert!(
        layers <= space.fill_m3 && layers > 0.9 * space.fill_m3,
        "{layers} {space:?}"
    );
    for l in &o.layers {
        assert!(l.volume_m3.unwrap() > 0.0, "{l:?}");
    }
}

#[test]
fn layers_that_make_no_sense_are_refused() {
    let points = points(LEVEL);
    let fault = |more: &str, code: &str| refused(&points, &pit(LEVEL).entry("Pit", more), code);
    for thick in ["0.0", "-0.2", "21.0", "1e300"] {
        let layers = format!("layers = [ {{ name = \"sand\", thick = {thick} }} ]");
        let code = if thick == "1e300" {
            "bad-value"
        } else {
            "bad-layer"
        };
        let folder = common::Folder::default();
        let faults = typed::try_outcome(folder, &points, &pit(LEVEL).entry("Pit", &layers));
        let faults = faults.unwrap_err().0;
        assert!(!faults.is_empty(), "{thick} {code}");
        assert!(faults.iter().all(|d| d.at[0].line > 0), "{faults:?}");
    }
    for thick in ["nan", "inf"] {
        let layers = format!("layers = [ {{ name = \"sand\", thick = {thick} }} ]");
        let folder = common::Folder::default();
        let faults = typed::try_outcome(folder, &points, &pit(LEVEL).entry("Pit", &layers));
        assert!(faults.is_err(), "{thick}");
    }
    let both = fault(
        "layers = [ { name = \"a\", thick = 0.1, to = \"depth:1\" } ]",
        "bad-layer",
    );
    assert!(both.message.contains("thickness and a level at once"));
    let over = fault(
        "layers = [ { name = \"a\", to = \"depth:1\" }, { name = \"b\", thick = 0.1 } ]",
        "bad-layer",
    );
    assert!(over.message.contains("cannot lie on one that fills it"));
    let porous = fault(
        "layers = [ { name = \"a\", to = \"depth:1\", porosity = 1.0 } ]",
        "bad-porosity",
    );
    assert!(porous.message.contains("0 to below 1"));
    let height = fault(
        "layers = [ { name = \"a\", to = \"height:1\" } ]",
        "bad-layer",
    );
    assert!(height.help.contains("depth:"));
    let floor = fault(
        "layers = [ { name = \"a\", thick = 0.1, on = \"floor\" } ]",
        "bad-layer",
    );
    assert!(floor.help.contains("finished"));
    let low = fault(
        "layers = [ { name = \"a\", to = \"level:-2.5\" } ]",
        "bad-layer",
    );
    assert!(low.message.contains("floor"), "{low:?}");
    let order = fault(
        "layers = [ { name = \"a\", to = \"level:-1.0\" }, { name = \"b\", to = \"level:-1.5\" } ]",
        "bad-layer",
    );
    assert!(order.message.contains("\"b\""), "{order:?}");
    let hill = refused(
        &points,
        &pile(LEVEL).entry("Berm", "layers = [ { name = \"a\", to = \"level:6.0\" } ]"),
        "bad-layer",
    );
    assert!(
        hill.message.contains("no hollow") || hill.message.contains("run out"),
        "{hill:?}"
    );
}
