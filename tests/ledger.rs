//! The ledger, sizes, features taken off again, surfaces of a file of their own: through whole
//! jobs, against closed forms and against the same job with fewer features.
#![allow(clippy::unwrap_used)]

mod common;
#[path = "common/frustum.rs"]
mod frustum;
#[path = "common/typed.rs"]
mod typed;

use common::{Folder, close, near};
use cutbank::design::Design;
use cutbank::files::OneThread;
use cutbank::outcome::Outcome;
use cutbank::surface::{Surface, cut_fill};
use frustum::{Frustum, Plane, z_of};
use typed::{outcome, place, square, try_outcome};

const EXACT: f64 = 1e-9;
const LEVEL: Plane = [0.0, 0.0, 0.0];
const INCLINED: Plane = [0.3, 0.03, 0.05];

fn points(ground: Plane) -> String {
    square(|x, y| z_of(ground, [x, y]))
}

fn box_of(low: [f64; 2], high: [f64; 2], z: f64, up: f64) -> Frustum {
    Frustum {
        low,
        high,
        z,
        run_per_rise: 1.5,
        ground: LEVEL,
        up,
    }
}

/// Dug less refilled is the cut, placed less dug again the fill, of the surface to build.
#[track_caller]
fn adds_up(o: &Outcome) {
    let sum = |of: fn(&cutbank::earthwork::Work) -> f64| o.works.iter().map(of).sum::<f64>();
    let found = cut_fill(&o.terrain.surface, o.design.to_build(), &OneThread).total;
    let slack = EXACT * (1.0 + sum(|w| w.dug_m3) + sum(|w| w.placed_m3));
    near(
        "cut",
        sum(|w| w.dug_m3) - sum(|w| w.refilled_m3),
        found.cut_m3,
        slack,
    );
    near(
        "fill",
        sum(|w| w.placed_m3) - sum(|w| w.dug_again_m3),
        found.fill_m3,
        slack,
    );
    for w in &o.works {
        for v in [w.dug_m3, w.dug_again_m3, w.refilled_m3, w.placed_m3] {
            assert!(v > -1e-6, "{w:?}");
        }
        assert_eq!(w.dug_again_m3 > 1e-6, !w.dug_again_of.is_empty(), "{w:?}");
        assert_eq!(w.refilled_m3 > 1e-6, !w.refilled_of.is_empty(), "{w:?}");
        assert!(!w.dug_again_of.contains(&w.feature) && !w.refilled_of.contains(&w.feature));
    }
}

#[test]
fn a_basin_refilled_by_a_berm() {
    // A pit 2 m deep; a berm 1 m high over the whole of it and more.
    let pit = box_of([24.0, 24.0], [30.0, 28.0], -2.0, 1.0);
    let berm = box_of([18.0, 18.0], [36.0, 34.0], 1.0, -1.0);
    let o = outcome(
        &points(LEVEL),
        &(pit.entry("Pit", "") + &berm.entry("Berm", "")),
    );
    adds_up(&o);
    let [dig, fill] = o.works.as_slice() else {
        panic!()
    };
    close("dug", dig.dug_m3, pit.volume(), EXACT);
    close("refilled", fill.refilled_m3, pit.volume(), EXACT);
    close("placed", fill.placed_m3, berm.volume(), EXACT);
    assert_eq!(fill.refilled_of, ["Pit"]);
    assert!(dig.refilled_of.is_empty() && fill.dug_again_of.is_empty());
    // By label the pit is gone.
    near("cut", o.to_build.cut_m3, 0.0, 1e-9);
}

#[test]
fn a_trench_through_a_pad() {
    // Upright, so that every volume is a box: a pad 1 m high, a trench 1 m wide through it that
    // goes 0.5 m into the ground.
    let upright = |f: Frustum| Frustum {
        run_per_rise: 0.0,
        ..f
    };
    let pad = upright(box_of([20.0, 20.0], [30.0, 30.0], 1.0, -1.0));
    let other = upright(box_of([40.0, 20.0], [45.0, 30.0], 1.0, -1.0));
    let trench = upright(box_of([15.0, 24.0], [35.0, 25.0], -0.5, 1.0));
    let o = outcome(
        &points(LEVEL),
        &(pad.entry("Pad", "") + &other.entry("Other", "") + &trench.entry("Trench", "")),
    );
    adds_up(&o);
    let work = &o.works[2];
    close("dug", work.dug_m3, 20.0 * 1.0 * 0.5, 1e-3);
    close("dug again", work.dug_again_m3, 10.0 * 1.0 * 1.0, 1e-3);
    assert_eq!(work.dug_again_of, ["Pad"]);
    close("placed", o.works[0].placed_m3, 100.0, 1e-3);
}

#[test]
fn a_stream_through_a_settling_berm() {
    let berm = Frustum {
        ground: INCLINED,
        ..box_of([20.0, 24.0], [40.0, 28.0], 5.0, -1.0)
    };
    let stream = "[[feature]]\nkind = \"stream\"\nname = \"Stream\"\nline = [[30.0, 40.0], [30.0, 15.0]]\n\
        levels = [\"level:3.0\", \"level:1.0\"]\nwidth = 0.8\nside_run_per_rise = 2.0\n";
    let o = outcome(
        &points(INCLINED),
        &(berm.entry("Berm", "settlement_percent = 10") + stream),
    );
    adds_up(&o);
    assert_eq!(o.works[1].dug_again_of, ["Berm"]);
    // The other way round the berm refills the stream.
    let o = outcome(
        &points(INCLINED),
        &(stream.to_owned() + &berm.entry("Berm", "settlement_percent = 10")),
    );
    adds_up(&o);
    assert_eq!(o.works[1].refilled_of, ["Stream"]);
    assert!(o.works[1].dug_again_of.is_empty());
}

#[test]
fn sizes_are_closed_forms() {
    for ground in [LEVEL, INCLINED] {
        let pit = Frustum {
            ground,
            z: -2.0,
            ..box_of([24.0, 24.0], [30.0, 28.0], -2.0, 1.0)
        };
        let o = outcome(&points(ground), &pit.entry("Pit", ""));
        let whole = o.extents[0].whole.as_ref().unwrap();
        close("area", whole.facts.area_m2, pit.area(), EXACT);
        close("along", whole.facts.surface_area_m2, pit.along(), EXACT);
        let rim = pit.rim();
        let around: f64 = (0..4)
            .map(|k| {
                let (a, b) = (rim[k], rim[(k + 1) % 4]);
                (a[0] - b[0]).hypot(a[1] - b[1])
            })
            .sum();
        close("perimeter", whole.facts.perimeter_m, around, 1e-8);
        let highest = rim
            .into_iter()
            .map(|at| z_of(ground, at))
            .fold(f64::MIN, f64::max);
        near("highest", whole.facts.highest.z, highest, 1e-7);
        near("lowest", whole.facts.lowest.z, -2.0, 1e-12);
        let deepest = whole.extremes.as_ref().unwrap().deepest_cut.unwrap();
        // On level ground anywhere on the floor, the farthest west first; else under the highest
        // corner of the ground over the floor.
        if ground[1] <= 0.0 {
            near("deepest", deepest.by_m, 2.0, 1e-9);
            assert_eq!(deepest.at.p, place(&o, 24.0, 24.0));
        } else {
            near(
                "deepest",
                deepest.by_m,
                z_of(ground, [30.0, 28.0]) + 2.0,
                1e-9,
            );
            assert_eq!(deepest.at.p, place(&o, 30.0, 28.0));
        }
        let highest = whole.extremes.as_ref().unwrap().highest_fill;
        assert!(highest.is_none_or(|h| h.by_m < 1e-8), "{highest:?}");
        let floor = o.extents[0].parts.iter().find(|p| p.0 == "floor").unwrap();
        close("floor", floor.1.facts.area_m2, 24.0, EXACT);
        close("round it", floor.1.facts.perimeter_m, 20.0, EXACT);
    }
}

/// All that there is of a surface, by place, to the last bit.
fn bits(surface: &Surface) -> Vec<String> {
    let mut all: Vec<String> = (surface.facets())
        .map(|f| {
            let c = surface.corners(f).map(|c| (c.p.x, c.p.y, c.z.to_bits()));
            format!("{f} {c:?} {} {:?}", surface.label(f), surface.neighbours(f))
        })
        .collect();
    all.sort();
    all
}

fn all_bits(design: &Design) -> Vec<Option<Vec<String>>> {
    [
        Some(&design.surface),
        design.dug.as_ref(),
        design.built.as_ref(),
        design.stripped.as_ref(),
    ]
    .map(|surface| surface.map(bits))
    .to_vec()
}

#[test]
fn features_are_taken_off_to_the_last_bit() {
    let strip = "[[feature]]\nkind = \"strip\"\nname = \"Lawn\"\nthick = 0.1\noutline = [[15.0, 15.0], [45.0, 16.0], [44.0, 44.0], [16.0, 45.0]]\n";
    let more = "[[feature]]\nkind = \"strip\"\nname = \"Bed\"\nthick = 0.3\noutline = [[50.0, 15.0], [55.0, 15.0], [55.0, 20.0]]\n";
    let touched =
        "[[feature]]\nkind = \"strip\"\nname = \"Topsoil\"\nthick = 0.2\nover = \"touched\"\n";
    let of = |low: [f64; 2], high: [f64; 2], z: f64, up: f64| Frustum {
        ground: INCLINED,
        ..box_of(low, high, z, up)
    };
    let pit = of([20.0, 20.0], [28.0, 26.0], -0.5, 1.0).entry(
        "Pit",
        "layers = [ { name = \"sand\", thick = 0.1 }, { name = \"stone\", to = \"depth:0.8\" } ]",
    );
    let berm = of([25.0, 30.0], [35.0, 33.0], 5.0, -1.0)
        .entry("Berm", "settlement_percent = 10\nkeep_clear_of = [\"Line\"]\nlayers = [ { name = \"topsoil\", thick = 0.1 } ]");
    let hole = of([30.0, 31.0], [36.0, 36.0], 1.0, 1.0).entry("Hole", "");
    let stream = "[[feature]]\nkind = \"stream\"\nname = \"Stream\"\nline = [[40.0, 40.0], [30.0, 28.0], [20.0, 15.0]]\n\
        levels = [\"depth:0.5\", \"depth:0.5\", \"depth:0.5\"]\nwidth = 0.8\nside_run_per_rise = 2.0\n\
        layers = [ { name = \"gravel\", thick = 0.15, on = \"floor\" } ]\n";
    let line =
        "[[keep-off]]\nname = \"Line\"\nkind = \"boundary\"\nline = [[10.0, 35.0], [50.0, 35.0]]\n";
    for features in [
        vec![strip, more, &pit, &berm, &hole, stream],
        vec![touched, &hole, &berm, stream, &pit],
        vec![&berm, &pit, stream, &hole],
    ] {
        let laid = |k: usize| outcome(&points(INCLINED), &(features[..k].concat() + line)).design;
        let mut design = laid(features.len());
        for k in (0..features.len()).rev() {
            design.take_off_last();
            let fresh = laid(k);
            assert_eq!(all_bits(&design), all_bits(&fresh), "{k}");
            assert_eq!(design.parts, fresh.parts);
            assert_eq!(design.strip_touched, fresh.strip_touched);
            assert_eq!(design.features.len(), k);
        }
    }
}

/// A pool of its own file: a bowl over a rectangle, in a frame far away if `by` says so.
fn pool(unit: f64, depth: f64) -> String {
    let mut csv = String::from("name,x,y,z\n");
    for i in 0..=4 {
        for j in 0..=4 {
            let (x, y) = (20.0 + 2.0 * f64::from(i), 22.0 + 1.5 * f64::from(j));
            let inside = (1..4).contains(&i) && (1..4).contains(&j);
            let z = if inside { -depth } else { -1.0 };
            csv += &format!("{i}{j},{},{},{}\n", x / unit, y / unit, z / unit);
        }
    }
    csv
}

fn laid(rule: &str, run: &str, level: f64, file: &str) -> Outcome {
    let feature = format!(
        "[[feature]]\nkind = \"surface\"\nname = \"Pool\"\npoints = \"pool.csv\"\nrule = \"{rule}\"\n{run}"
    );
    let folder = Folder::default().with("pool.csv", file);
    let o = try_outcome(folder, &square(|_, _| level), &feature);
    o.unwrap_or_else(|fault| panic!("{fault}"))
}

#[test]
fn a_surface_of_its_own_file() {
    // Alone: level at -1 along the rim, at -2 over 4 x 3 m in the middle, between them a ring
    // triangulated somehow: its volume below -1 by the surface alone.
    let alone = outcome(&pool(1.0, 2.0), "");
    let below: f64 = (alone.terrain.surface.facets())
        .map(|f| {
            let c = alone.terrain.surface.corners(f);
            alone.terrain.surface.area_m2(f) * c.iter().map(|c| -1.0 - c.z).sum::<f64>() / 3.0
        })
        .sum();
    // 8 x 6 m, ground at 0: the box down to -1 and the bowl; sides 1.5 across for 1 up from -1.
    let sides = box_of([20.0, 22.0], [28.0, 28.0], -1.0, 1.0).volume();
    let run = "side_run_per_rise = 1.5\n";
    let o = laid("lower", run, 0.0, &pool(1.0, 2.0));
    close("dug", o.to_build.cut_m3, sides + below, EXACT);
    // Upright: the faces lean outward by 1e-4 of a rise of 1 m.
    let o = laid("lower", "", 0.0, &pool(1.0, 2.0));
    let e = 2.0e-4;
    let upright = 48.0 + 14.0 * e / 2.0 + e * e / 3.0;
    close("dug", o.to_build.cut_m3, upright + below, 1e-8);
    // Ground at -1.5: replacing fills the rim up to -1 and digs the middle to -2; lowering and
    // raising do one of both.
    let both = laid("replace", run, -1.5, &pool(1.0, 2.0));
    let dig = laid("lower", run, -1.5, &pool(1.0, 2.0));
    let fill = laid("raise", run, -1.5, &pool(1.0, 2.0));
    close("dug", both.to_build.cut_m3, dig.to_build.cut_m3, 1e-8);
    close("placed", both.to_build.fill_m3, fill.to_build.fill_m3, 1e-8);
    assert!(dig.to_build.fill_m3 == 0.0 && fill.to_build.cut_m3 == 0.0);
    let z = |x, y| both.design.surface.z_at(place(&both, x, y)).unwrap();
    near("middle", z(24.0, 25.0), -2.0, 1e-9);
    near("rim", z(20.0, 25.0), -1.0, 1e-9);
    adds_up(&both);
}

#[test]
fn a_surface_in_feet_and_far_away() {
    // The same yard and pool, both two million metres off, one written in feet.
    let far = |csv: &str, unit: f64| {
        let mut moved = String::from("name,x,y,z\n");
        for row in csv.lines().skip(1) {
            let c: Vec<&str> = row.split(',').collect();
            let v = |k: usize| c[k].parse::<f64>().unwrap();
            let off = 2_000_000.0 / unit;
            moved += &format!(
                "{},{:.4},{:.4},{}\n",
                c[0],
                v(1) + off,
                v(2) + 2.0 * off,
                v(3)
            );
        }
        moved
    };
    let feature = "[[feature]]\nkind = \"surface\"\nname = \"Pool\"\npoints = \"pool.csv\"\nrule = \"lower\"\nside_run_per_rise = 1.5\n";
    let run = |points: &str, pool: &str, unit: &str| {
        let folder = Folder::default()
            .with("points.csv", points)
            .with("pool.csv", pool);
        let head = typed::HEAD.replace("\"m\"", &format!("\"{unit}\""));
        common::run_job(folder, &(head + feature)).to_build.cut_m3
    };
    let ground = square(|_, _| 0.0);
    let here = run(&ground, &pool(1.0, 2.0), "m");
    let there = run(&far(&ground, 1.0), &far(&pool(1.0, 2.0), 1.0), "m");
    close("far away", there, here, EXACT);
    // In feet: the numbers of the yard as feet, the pool as feet: the same shape scaled.
    let feet = run(&ground, &pool(1.0, 2.0), "ft");
    close("in feet", feet, here * 0.3048f64.powi(3), 1e-7);
}

#[test]
fn a_surface_that_cannot_be_read_is_refused_with_its_file() {
    let feature = "[[feature]]\nkind = \"surface\"\nname = \"Pool\"\npoints = \"pool.csv\"\nrule = \"lower\"\n";
    let ground = square(|_, _| 0.0);
    let fault = |folder: Folder, more: &str| {
        let o = try_outcome(folder, &ground, &(feature.to_owned() + more));
        o.map(|_| ()).unwrap_err().to_string()
    };
    let missing = fault(Folder::default(), "");
    assert!(missing.contains("pool.csv"), "{missing}");
    let empty = fault(Folder::default().with("pool.csv", "name,x,y,z\n"), "");
    assert!(empty.contains("pool.csv"), "{empty}");
    let two = fault(
        Folder::default().with("pool.csv", "name,x,y,z\na,20,20,-1\nb,25,20,-1\n"),
        "",
    );
    assert!(two.contains("pool.csv"), "{two}");
    let words = fault(
        Folder::default().with("pool.csv", "name,x,y,z\na,20,20,deep\n"),
        "",
    );
    assert!(
        words.contains("pool.csv") && words.contains("deep"),
        "{words}"
    );
    let rule = fault(
        Folder::default().with("pool.csv", &pool(1.0, 2.0)),
        "corners = \"sharp\"\n",
    );
    assert!(rule.contains("mitre"), "{rule}");
}
