//! Features that stop at a keep-off, against closed forms and against what they are without it.
#![allow(clippy::unwrap_used)]

mod common;
#[path = "common/frustum.rs"]
mod frustum;
#[path = "common/typed.rs"]
mod typed;

use common::{close, inside, near, slow_z};
use cutbank::files::OneThread;
use cutbank::geom::Ring;
use cutbank::outcome::Outcome;
use cutbank::surface::{CutFill, Surface, cut_fill_within};
use frustum::{Frustum, Plane, z_of};
use typed::{outcome, place, refused, square};

const LEVEL: Plane = [0.0, 0.0, 0.0];
const INCLINED: Plane = [0.3, 0.03, 0.05];

fn points(ground: Plane) -> String {
    square(|x, y| z_of(ground, [x, y]))
}

fn berm(ground: Plane) -> Frustum {
    Frustum {
        low: [18.0, 20.0],
        high: [38.0, 22.0],
        z: z_of(ground, [38.0, 22.0]) + 2.0,
        run_per_rise: 2.0,
        ground,
        up: -1.0,
    }
}

fn pit(ground: Plane) -> Frustum {
    Frustum {
        z: z_of(ground, [18.0, 20.0]) - 2.0,
        run_per_rise: 1.5,
        up: 1.0,
        ..berm(ground)
    }
}

fn line(name: &str, at: &[[f64; 2]]) -> String {
    format!("[[keep-off]]\nname = \"{name}\"\nkind = \"boundary\"\nline = {at:?}\n")
}

fn area(name: &str, at: &[[f64; 2]]) -> String {
    format!("[[keep-off]]\nname = \"{name}\"\nkind = \"building\"\narea = {at:?}\n")
}

fn ring(o: &Outcome, corners: &[[f64; 2]]) -> Ring {
    let corners: Vec<_> = corners.iter().map(|&[x, y]| place(o, x, y)).collect();
    Ring::new(&corners).unwrap()
}

fn within(o: &Outcome, surface: &Surface, corners: &[[f64; 2]]) -> CutFill {
    let within = inside(&ring(o, corners));
    cut_fill_within(&o.terrain.surface, surface, &within, &OneThread).total
}

/// Beyond the line nothing changed; on the near side all is as without it, but for the lean of
/// the face. `beyond` and `before` together cover what the feature may touch.
#[track_caller]
fn stops_there(with: &Outcome, without: &Outcome, beyond: &[[f64; 2]], before: &[[f64; 2]]) {
    with.design.surface.check_consistent().unwrap();
    let far = within(with, &with.design.surface, beyond);
    assert_eq!((far.cut_m3, far.fill_m3), (0.0, 0.0), "beyond");
    // Heights at random places beyond, by trying every facet: equal to what was there.
    let far = ring(with, beyond);
    let mut random = common::Random(5);
    for _ in 0..200 {
        let p = place(with, random.between(1.0, 59.0), random.between(1.0, 59.0));
        if far.contains(p) {
            let (was, is) = (
                slow_z(&with.terrain.surface, p),
                slow_z(&with.design.surface, p),
            );
            near("beyond", is.unwrap(), was.unwrap(), 1e-12);
            let (was, is) = (with.terrain.surface.z_at(p), with.design.surface.z_at(p));
            assert_eq!(was.map(f64::to_bits), is.map(f64::to_bits));
        }
    }
    let a = within(with, &with.design.surface, before);
    let b = within(without, &without.design.surface, before);
    // The face leans by 1e-4 of its height: a wedge of 1e-4 h^2 / 2 along it.
    let lean: f64 = (with.design.features.iter().flat_map(|f| &f.stops))
        .flat_map(|s| s.stations.windows(2))
        .map(|w| {
            let h = |s: &cutbank::design::FaceStation| (s.shape_m - s.before_m).abs();
            0.5e-4 * h(&w[0]).max(h(&w[1])).powi(2) * (w[1].station_m - w[0].station_m)
        })
        .sum();
    let slack = 1e-9 * (b.cut_m3 + b.fill_m3);
    assert!(
        a.cut_m3 <= b.cut_m3 + slack && a.cut_m3 >= b.cut_m3 - lean - slack,
        "{a:?} {b:?} {lean}"
    );
    assert!(
        a.fill_m3 <= b.fill_m3 + slack && a.fill_m3 >= b.fill_m3 - lean - slack,
        "{a:?} {b:?} {lean}"
    );
    // The ledger knows nothing of what was laid beyond and put back.
    for work in &with.works {
        assert!(
            work.dug_again_of.is_empty() && work.refilled_of.is_empty(),
            "{work:?}"
        );
    }
    let dug: f64 = with.works.iter().map(|w| w.dug_m3).sum();
    let placed: f64 = with.works.iter().map(|w| w.placed_m3).sum();
    near("dug", dug, with.to_build.cut_m3, 1e-9 * (1.0 + dug));
    near(
        "placed",
        placed,
        with.to_build.fill_m3,
        1e-9 * (1.0 + placed),
    );
}

/// The face along the line y = 25: what the shape stands above (below) the ground there.
#[track_caller]
fn face_heights(o: &Outcome, shape: &Frustum, y: f64) {
    let stops = &o.design.features[0].stops;
    assert_eq!(stops.len(), 1, "{stops:?}");
    let pieces = shape.pieces();
    let mut seen = 0;
    let origin = o.terrain.origin;
    for s in &stops[0].stations {
        let at = [s.p.x_m() + origin.x_m as f64, s.p.y_m() + origin.y_m as f64];
        near("on the line", at[1], y, 1e-9);
        near("before", s.before_m, z_of(shape.ground, at), 1e-7);
        // A shape is the highest (lowest) of its planes and the ground.
        let z = pieces.iter().skip(1).map(|p| z_of(p.plane, at) * shape.up);
        let z = z.fold(f64::NEG_INFINITY, f64::max) * shape.up;
        let z = shape.up * (z * shape.up).min(z_of(shape.ground, at) * shape.up);
        near("shape", s.shape_m, z, 1e-7);
        seen += usize::from((s.shape_m - s.before_m).abs() > 1e-6);
    }
    assert!(seen >= 2, "{stops:?}");
}

#[test]
fn a_straight_line_cuts_a_berm_and_a_pit() {
    let boundary = line("Line", &[[-5.0, 24.0], [65.0, 24.0]]);
    let far = [[0.1, 24.0], [60.0, 24.0], [60.0, 59.0], [0.8, 59.0]];
    let before = [[0.1, 1.0], [60.0, 1.0], [60.0, 24.0], [0.1, 24.0]];
    for ground in [LEVEL, INCLINED] {
        for shape in [berm(ground), pit(ground)] {
            let entry = |more: &str| shape.entry("Shape", more) + &boundary;
            let with = outcome(&points(ground), &entry("keep_clear_of = [\"Line\"]"));
            let without = outcome(&points(ground), &entry(""));
            stops_there(&with, &without, &far, &before);
            face_heights(&with, &shape, 24.0);
            // The near side is the closed form of the whole shape on that side.
            let near_m3 = shape.volume_where(|[_, y]| 24.0 - y);
            let total = with.to_build.cut_m3 + with.to_build.fill_m3;
            close("near side", total, near_m3, 1e-4);
            // The wall that is said is the face that is laid.
            let [wall] = with.walls.as_slice() else {
                panic!("{:?}", with.walls)
            };
            let [other] = without.walls.as_slice() else {
                panic!("{:?}", without.walls)
            };
            assert!(wall.is_in_design && !other.is_in_design);
            close("length", wall.length_m, other.length_m, 1e-7);
            close("face", wall.face_m2, other.face_m2, 1e-7);
            close("height", wall.max_height_m, other.max_height_m, 1e-7);
            close(
                "saved",
                other.beyond_m3.unwrap(),
                shape.volume_where(|[_, y]| y - 24.0),
                1e-7,
            );
        }
    }
}

#[test]
fn the_side_is_cut_where_the_offset_says() {
    // On plane ground that falls across the berm, a side z across : 1 up with a crest h above the
    // ground at its edge reaches z h / (1 - z g).
    let g = 0.05;
    let ground = [0.0, 0.0, -g];
    let shape = Frustum {
        z: z_of(ground, [0.0, 22.0]) + 1.5,
        ..berm(ground)
    };
    let reach = 2.0 * 1.5 / (1.0 - 2.0 * g);
    for (off, stops) in [(-0.01, true), (0.01, false)] {
        let y = 22.0 + reach + off;
        let o = outcome(
            &points(ground),
            &(shape.entry("Berm", "keep_clear_of = [\"Line\"]")
                + &line("Line", &[[-5.0, y], [65.0, y]])),
        );
        let heights = o.design.features[0].stops.iter().flat_map(|s| &s.stations);
        let highest = heights
            .map(|s| (s.shape_m - s.before_m).abs())
            .fold(0.0, f64::max);
        assert_eq!(highest > 1e-6, stops, "{highest}");
        if stops {
            near("height", highest, 0.01 * (0.5 - g), 1e-7);
        }
    }
}

#[test]
fn a_bent_line_and_areas_stop_it_too() {
    let bent = [
        [-5.0, 24.0],
        [26.0, 24.0],
        [28.0, 23.0],
        [30.0, 25.0],
        [65.0, 25.0],
    ];
    let far = [
        [0.1, 24.0],
        [26.0, 24.0],
        [28.0, 23.0],
        [30.0, 25.0],
        [60.0, 25.0],
        [60.0, 59.0],
        [0.8, 59.0],
    ];
    let before = [
        [0.1, 1.0],
        [60.0, 1.0],
        [60.0, 25.0],
        [30.0, 25.0],
        [28.0, 23.0],
        [26.0, 24.0],
        [0.1, 24.0],
    ];
    let convex = [[24.0, 23.0], [30.0, 23.5], [29.0, 30.0], [23.0, 29.0]];
    let concave = [
        [20.0, 23.0],
        [36.0, 23.0],
        [36.0, 30.0],
        [30.0, 30.0],
        [30.0, 24.5],
        [26.0, 24.5],
        [26.0, 30.0],
        [20.0, 30.0],
    ];
    let all = [[0.8, 1.0], [60.0, 1.0], [60.0, 59.0], [0.8, 59.0]];
    for ground in [LEVEL, INCLINED] {
        for shape in [berm(ground), pit(ground)] {
            let run = |keep: &str, more: &str| {
                outcome(&points(ground), &(shape.entry("Shape", more) + keep))
            };
            let keep = line("Line", &bent);
            let with = run(&keep, "keep_clear_of = [\"Line\"]");
            stops_there(&with, &run(&keep, ""), &far, &before);
            assert!(
                with.walls.iter().all(|w| w.is_in_design),
                "{:?}",
                with.walls
            );
            for house in [&convex[..], &concave[..]] {
                let keep = area("House", house);
                let with = run(&keep, "keep_clear_of = [\"House\"]");
                let without = run(&keep, "");
                let far = within(&with, &with.design.surface, house);
                near("in the house", far.cut_m3 + far.fill_m3, 0.0, 1e-12);
                let saved = within(&without, &without.design.surface, house);
                let whole = |o: &Outcome| within(o, &o.design.surface, &all);
                let (a, b) = (whole(&with), whole(&without));
                near(
                    "cut",
                    a.cut_m3,
                    b.cut_m3 - saved.cut_m3,
                    1e-4 * (1.0 + b.cut_m3),
                );
                near(
                    "fill",
                    a.fill_m3,
                    b.fill_m3 - saved.fill_m3,
                    1e-4 * (1.0 + b.fill_m3),
                );
                assert!(
                    with.walls.iter().all(|w| w.is_in_design),
                    "{:?}",
                    with.walls
                );
                for (w, v) in with.walls.iter().zip(&without.walls) {
                    close("length", w.length_m, v.length_m, 1e-6);
                    close("face", w.face_m2, v.face_m2, 1e-6);
                }
            }
        }
    }
}

#[test]
fn two_keep_offs_that_cross_are_both_kept() {
    let one = [[-5.0, 24.0], [65.0, 24.0]];
    let two = [[40.0, -5.0], [40.0, 65.0]];
    for ground in [LEVEL, INCLINED] {
        for shape in [berm(ground), pit(ground)] {
            let o = outcome(
                &points(ground),
                &(shape.entry("Shape", "keep_clear_of = [\"North\", \"East\"]")
                    + &line("North", &one)
                    + &line("East", &two)),
            );
            o.design.surface.check_consistent().unwrap();
            for far in [
                [[0.8, 24.0], [60.0, 24.0], [60.0, 59.0], [0.8, 59.0]],
                [[40.0, 1.0], [60.0, 1.0], [60.0, 59.0], [40.0, 59.0]],
            ] {
                let far = within(&o, &o.design.surface, &far);
                assert_eq!((far.cut_m3, far.fill_m3), (0.0, 0.0));
            }
            let total = o.to_build.cut_m3 + o.to_build.fill_m3;
            let pieces = shape.pieces();
            let want: f64 = pieces
                .iter()
                .map(|p| {
                    let near = p.cut(|[_, y]| 24.0 - y).cut(|[x, _]| 40.0 - x);
                    near.integral(|at| shape.height(p, at))
                })
                .sum();
            close("near both", total, want, 1e-4);
            assert_eq!(o.design.features[0].stops.len(), 2);
        }
    }
}

#[test]
fn layers_and_settlement_stop_at_the_line_too() {
    let boundary = line("Line", &[[-5.0, 24.0], [65.0, 24.0]]);
    let far = [[0.8, 24.0], [60.0, 24.0], [60.0, 59.0], [0.8, 59.0]];
    let more = "keep_clear_of = [\"Line\"]\nsettlement_percent = 10\nlayers = [ { name = \"topsoil\", thick = 0.2 } ]";
    for ground in [LEVEL, INCLINED] {
        let shape = berm(ground);
        let o = outcome(&points(ground), &(shape.entry("Berm", more) + &boundary));
        let design = &o.design;
        for surface in [&design.surface, design.soil(), design.to_build()] {
            let far = within(&o, surface, &far);
            assert_eq!((far.cut_m3, far.fill_m3), (0.0, 0.0));
        }
        let soil = shape.at_level(shape.z - 0.2);
        let side = |[_, y]: [f64; 2]| 24.0 - y;
        close("soil", o.finished.fill_m3, soil.volume_where(side), 1e-4);
        let topsoil = shape.volume_where(side) - soil.volume_where(side);
        close("topsoil", o.layers[0].volume_m3.unwrap(), topsoil, 1e-3);
        assert!(o.works[0].dug_again_of.is_empty(), "{:?}", o.works);
    }
}

#[test]
fn a_feature_that_cannot_keep_clear_is_refused() {
    let points = points(LEVEL);
    let shape = berm(LEVEL);
    let fault = |keep: &str, names: &str, code: &str| {
        let more = format!("keep_clear_of = [{names}]");
        refused(&points, &(shape.entry("Berm", &more) + keep), code)
    };
    let through = line("Fence", &[[-5.0, 21.0], [65.0, 21.0]]);
    let core = fault(&through, "\"Fence\"", "no-room");
    assert!(core.message.contains("\"Fence\""), "{core:?}");
    assert!(core.at[0].line > 0);
    let house = area(
        "House",
        &[[25.0, 19.0], [30.0, 19.0], [30.0, 30.0], [25.0, 30.0]],
    );
    // The house stands across the crest, though no corner of the crest lies in it.
    fault(&house, "\"House\"", "no-room");
    let unknown = fault(&through, "\"Fense\"", "unknown-keep-off");
    assert!(unknown.help.contains("Fence"), "{unknown:?}");
    let back = line(
        "Fence",
        &[
            [10.0, 24.0],
            [40.0, 24.0],
            [40.0, 26.0],
            [10.0, 26.0],
            [10.0, 22.5],
            [45.0, 22.5],
        ],
    );
    let back = fault(&back, "\"Fence\"", "no-room");
    assert!(back.message.contains("turns back"), "{back:?}");
}
