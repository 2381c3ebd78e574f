//! What must hold for any ground: volumes of seeded random terrains against their own laws.
//!
//! Every terrain covers the same square, so that two of them have a volume everywhere. Sums of the
//! same parts in another order may differ by rounding: where a change of place or of order is
//! meant to change nothing, 1e-12 of the cut and fill is allowed.
#![allow(clippy::unwrap_used)]

mod common;

use std::collections::BTreeMap;

use common::{Random, Threads, at, close, inside, near, plane_over, rectangle, ring, surface};
use cutbank::design::shape::{Corners, Sides, floor_with_sides};
use cutbank::files::OneThread;
use cutbank::geom::{P3, Point, Ring, orient_sign, triangulate, triangulate_rings};
use cutbank::surface::{
    CutFill, LabelledCutFill, Patch, Rule, Surface, Within, cut_fill, cut_fill_within,
};

/// Side of the square, metres.
const SIDE: f64 = 40.0;

/// Terrains tried for each law.
const TRIALS: u64 = 20;

/// Shots of a terrain: the corners of the square and some inside, about 10 m high.
fn shots(random: &mut Random, count: usize) -> Vec<P3> {
    let mut points: Vec<P3> = rectangle([0.0, 0.0], [SIDE, SIDE])
        .map(|[x, y]| at(x, y, random.between(9.0, 11.0)))
        .to_vec();
    let (east, north) = (random.between(-0.01, 0.01), random.between(-0.01, 0.01));
    for _ in 0..count {
        let (x, y) = (
            random.between(0.1, SIDE - 0.1),
            random.between(0.1, SIDE - 0.1),
        );
        points.push(at(
            x,
            y,
            10.0 + east * x + north * y + random.between(-0.8, 0.8),
        ));
    }
    points
}

fn two(seed: u64) -> (Vec<P3>, Vec<P3>) {
    let mut random = Random(seed);
    let count = 20 + random.below(150) as usize;
    let first = shots(&mut random, count);
    let count = 20 + random.below(150) as usize;
    (first, shots(&mut random, count))
}

fn total(from: &Surface, to: &Surface) -> CutFill {
    cut_fill(from, to, &OneThread).total
}

/// Cut, fill, their areas and the common area, all the same to a share.
#[track_caller]
fn alike(what: &str, got: &CutFill, want: &CutFill, relative: f64) {
    for (part, got, want) in [
        ("cut", got.cut_m3, want.cut_m3),
        ("fill", got.fill_m3, want.fill_m3),
        ("cut area", got.cut_area_m2, want.cut_area_m2),
        ("fill area", got.fill_area_m2, want.fill_area_m2),
        ("area", got.common_area_m2, want.common_area_m2),
    ] {
        assert!(want > 0.0, "{what}, {part}: nothing to compare");
        close(&format!("{what}, {part}"), got, want, relative);
    }
}

fn bits(labelled: &LabelledCutFill) -> Vec<u64> {
    std::iter::once(&labelled.total)
        .chain(labelled.by_label.values())
        .flat_map(|v| {
            [
                v.cut_m3,
                v.fill_m3,
                v.cut_area_m2,
                v.fill_area_m2,
                v.common_area_m2,
            ]
        })
        .map(f64::to_bits)
        .collect()
}

#[test]
fn swapping_the_surfaces_swaps_cut_and_fill() {
    for seed in 0..TRIALS {
        let (a, b) = two(seed);
        let (a, b) = (surface(&a, 0), surface(&b, 0));
        let (there, back) = (total(&a, &b), total(&b, &a));
        let swapped = CutFill {
            cut_m3: back.fill_m3,
            fill_m3: back.cut_m3,
            cut_area_m2: back.fill_area_m2,
            fill_area_m2: back.cut_area_m2,
            common_area_m2: back.common_area_m2,
        };
        alike("swapped", &swapped, &there, 1e-12);
    }
}

#[test]
fn net_is_the_difference_of_two_volumes_above_a_level() {
    for seed in 0..TRIALS {
        let (a, b) = two(100 + seed);
        let (a, b) = (surface(&a, 0), surface(&b, 0));
        let volume = total(&a, &b);
        for level in [0.0, 9.5, 20.0] {
            let net = a.volume_above_m3(level) - b.volume_above_m3(level);
            near("net", volume.net_m3(), net, 1e-12 * 10.0 * SIDE * SIDE);
        }
        close("area", volume.common_area_m2, SIDE * SIDE, 1e-12);
        close(
            "parts",
            volume.cut_area_m2 + volume.fill_area_m2,
            SIDE * SIDE,
            1e-12,
        );
    }
}

fn mapped(points: &[P3], map: impl Fn(Point) -> Point) -> Vec<P3> {
    points
        .iter()
        .map(|p| P3 {
            p: map(p.p),
            z: p.z,
        })
        .collect()
}

/// Facts that do not depend on where a surface lies or which way it looks.
fn facts_alike(what: &str, got: &Surface, want: &Surface) {
    let (got, want) = (got.facts().unwrap(), want.facts().unwrap());
    assert_eq!(
        (got.points, got.triangles),
        (want.points, want.triangles),
        "{what}"
    );
    for (part, got, want) in [
        ("area", got.area_m2, want.area_m2),
        (
            "area along the slope",
            got.surface_area_m2,
            want.surface_area_m2,
        ),
        (
            "mean slope",
            got.mean_slope_rise_per_run,
            want.mean_slope_rise_per_run,
        ),
        (
            "steepest",
            got.max_slope_rise_per_run,
            want.max_slope_rise_per_run,
        ),
    ] {
        close(&format!("{what}, {part}"), got, want, 1e-12);
    }
}

/// By whole metres, far out as well: differences on the lattice stay the same whole numbers.
#[test]
fn moving_by_whole_metres_changes_nothing() {
    for seed in 0..TRIALS {
        let (a, b) = two(200 + seed);
        let want = total(&surface(&a, 0), &surface(&b, 0));
        for (x, y) in [(1, -7), (-3000, 12), (500_000, 4_600_000)] {
            let by = Point::from_m(f64::from(x), f64::from(y));
            let to = |p: Point| Point::new(p.x + by.x, p.y + by.y);
            let (moved_a, moved_b) = (surface(&mapped(&a, to), 0), surface(&mapped(&b, to), 0));
            alike("moved", &total(&moved_a, &moved_b), &want, 1e-12);
            facts_alike("moved", &moved_a, &surface(&a, 0));
        }
    }
}

type Turn = fn(Point) -> Point;

/// A quarter turn and a mirror are exact on the lattice.
#[test]
fn turning_and_mirroring_change_nothing() {
    for seed in 0..TRIALS {
        let (a, b) = two(300 + seed);
        let want = total(&surface(&a, 0), &surface(&b, 0));
        let turns: [(&str, Turn); 4] = [
            ("quarter turn", |p| Point::new(-p.y, p.x)),
            ("half turn", |p| Point::new(-p.x, -p.y)),
            ("mirrored", |p| Point::new(-p.x, p.y)),
            ("mirrored at the diagonal", |p| Point::new(p.y, p.x)),
        ];
        for (what, turn) in turns {
            let (turned_a, turned_b) =
                (surface(&mapped(&a, turn), 0), surface(&mapped(&b, turn), 0));
            alike(what, &total(&turned_a, &turned_b), &want, 1e-12);
            facts_alike(what, &turned_a, &surface(&a, 0));
        }
    }
}

/// Random places have no four on a circle, so that the triangulation is the only one.
#[test]
fn the_order_of_the_shots_changes_nothing() {
    for seed in 0..TRIALS {
        let (a, b) = two(400 + seed);
        let want = total(&surface(&a, 0), &surface(&b, 0));
        let mut random = Random(seed);
        let mut shuffled = a.clone();
        for k in (1..shuffled.len()).rev() {
            shuffled.swap(k, random.below(k as u64 + 1) as usize);
        }
        assert!(shuffled != a);
        alike(
            "shuffled",
            &total(&surface(&shuffled, 0), &surface(&b, 0)),
            &want,
            1e-12,
        );
    }
}

/// Shots taken on the facets that are there say nothing new, as long as the old edges stay.
#[test]
fn shots_on_the_facets_change_nothing() {
    for seed in 0..TRIALS {
        let (a, b) = two(500 + seed);
        let (first, second) = (surface(&a, 0), surface(&b, 0));
        let want = total(&first, &second);
        let mut random = Random(seed);
        let mut more = first.vertices().to_vec();
        let mut edges: Vec<[u32; 2]> = Vec::new();
        for f in first.facets() {
            let v = first.vertex_ids(f);
            edges.extend(
                (0..3)
                    .map(|k| [v[k], v[(k + 1) % 3]])
                    .filter(|e| e[0] < e[1]),
            );
            let [p, q, r] = first.corners(f);
            let (s, t) = (random.between(0.1, 0.5), random.between(0.1, 0.4));
            let mix = |p: i64, q: i64, r: i64| p + (s * (q - p) as f64 + t * (r - p) as f64) as i64;
            let place = Point::new(mix(p.p.x, q.p.x, r.p.x), mix(p.p.y, q.p.y, r.p.y));
            let is_inside = [(p, q), (q, r), (r, p)]
                .iter()
                .all(|(from, to)| orient_sign(from.p, to.p, place) > 0);
            if is_inside {
                more.push(P3 {
                    p: place,
                    z: first.source(f).plane.z_at(place),
                });
            }
        }
        // Edges of the rim have their neighbour on one side only and may run either way.
        for f in first.facets() {
            let (v, n) = (first.vertex_ids(f), first.neighbours(f));
            edges.extend(
                (0..3)
                    .filter(|&k| n[k] == Surface::NONE)
                    .map(|k| [v[k], v[(k + 1) % 3]]),
            );
        }
        assert!(more.len() > first.vertices().len() + 30);
        let plan: Vec<Point> = more.iter().map(|p| p.p).collect();
        let t = triangulate(&plan, &edges).unwrap();
        let refined = Surface::from_triangles(more, &t.triangles, 0).unwrap();
        alike("refined", &total(&refined, &second), &want, 1e-9);
        alike(
            "refined",
            &total(&second, &refined),
            &total(&second, &first),
            1e-9,
        );
        let between = total(&first, &refined);
        near(
            "between",
            between.cut_m3 + between.fill_m3,
            0.0,
            1e-9 * want.cut_m3,
        );
    }
}

#[test]
fn raising_adds_height_times_area() {
    for seed in 0..TRIALS {
        let (a, _) = two(600 + seed);
        let height = Random(seed).between(0.01, 3.0);
        let raised: Vec<P3> = a
            .iter()
            .map(|p| P3 {
                z: p.z + height,
                ..*p
            })
            .collect();
        let (low, high) = (surface(&a, 0), surface(&raised, 0));
        let want = height * SIDE * SIDE;
        close("fill", total(&low, &high).fill_m3, want, 1e-12);
        near("cut", total(&low, &high).cut_m3, 0.0, 1e-12);
        close("cut", total(&high, &low).cut_m3, want, 1e-12);
        let above = |s: &Surface| s.volume_above_m3(8.0);
        close("above", above(&high) - above(&low), want, 1e-11);
    }
}

fn sum(parts: &[CutFill]) -> CutFill {
    let of = |get: fn(&CutFill) -> f64| parts.iter().map(get).sum();
    CutFill {
        cut_m3: of(|v| v.cut_m3),
        fill_m3: of(|v| v.fill_m3),
        cut_area_m2: of(|v| v.cut_area_m2),
        fill_area_m2: of(|v| v.fill_area_m2),
        common_area_m2: of(|v| v.common_area_m2),
    }
}

/// A region cut in two along any line through it, and the whole square in four.
#[test]
fn parts_of_a_region_add_up() {
    for seed in 0..TRIALS {
        let (a, b) = two(700 + seed);
        let (a, b) = (surface(&a, 0), surface(&b, 0));
        let mut random = Random(seed);
        let within = |ring: &Ring| cut_fill_within(&a, &b, &inside(ring), &OneThread).total;
        let (low, high) = (random.between(2.0, 12.0), random.between(25.0, 38.0));
        let (below, above) = (random.between(13.0, 24.0), random.between(13.0, 24.0));
        let whole = within(&ring(&rectangle([low, low], [high, high])));
        // The cut runs from one side to the other; its ends are corners of the whole as well, so
        // that both parts have the same lattice points.
        let west = ring(&[[low, low], [below, low], [above, high], [low, high]]);
        let east = ring(&[[below, low], [high, low], [high, high], [above, high]]);
        alike(
            "two parts",
            &sum(&[within(&west), within(&east)]),
            &whole,
            1e-9,
        );
        let (x, y) = (random.between(10.0, 30.0), random.between(10.0, 30.0));
        let quarters = [
            ([0.0, 0.0], [x, y]),
            ([x, 0.0], [SIDE, y]),
            ([x, y], [SIDE, SIDE]),
            ([0.0, y], [x, SIDE]),
        ];
        let quarters = quarters.map(|(low, high)| within(&ring(&rectangle(low, high))));
        alike("four parts", &sum(&quarters), &total(&a, &b), 1e-12);
    }
}

/// A star and everything round it, many triangles each, add up to the square.
#[test]
fn inside_and_outside_of_a_star_add_up() {
    for seed in 0..TRIALS {
        let (a, b) = two(750 + seed);
        let (a, b) = (surface(&a, 0), surface(&b, 0));
        let mut random = Random(seed);
        let tips: Vec<[f64; 2]> = (0..24)
            .map(|k| {
                let radius = [8.0, 17.0][k % 2] + random.between(-2.0, 2.0);
                let (sin, cos) = (std::f64::consts::TAU * k as f64 / 24.0).sin_cos();
                [SIDE / 2.0 + radius * cos, SIDE / 2.0 + radius * sin]
            })
            .collect();
        let star = ring(&tips);
        let square = ring(&rectangle([0.0, 0.0], [SIDE, SIDE]));
        let outside = Within(triangulate_rings(&[square, star.clone()]).unwrap());
        let within = inside(&star);
        assert!(within.0.len() >= 22 && outside.0.len() >= 28);
        let parts = [&within, &outside].map(|w| cut_fill_within(&a, &b, w, &OneThread).total);
        close("star", parts[0].common_area_m2, star.area_m2(), 1e-12);
        alike("inside and outside", &sum(&parts), &total(&a, &b), 1e-12);
    }
}

/// Sums are formed in a fixed order, so the number of threads may not change a single bit.
#[test]
fn threads_change_no_bit() {
    let mut random = Random(8);
    let (first, second) = (shots(&mut random, 6000), shots(&mut random, 5000));
    let first = surface(&first, 0);
    let mut second = surface(&second, 0);
    let pit = floor_with_sides(
        &ring(&rectangle([10.0, 10.0], [20.0, 25.0])),
        7.0,
        1,
        &dug(&second),
        &mut |_| 2,
    );
    second.compose(&pit, Rule::Lower).unwrap();
    // More than a few pieces of work.
    assert!(second.facet_slots() > 8000);
    let within = inside(&ring(&[[5.0, 5.0], [35.0, 8.0], [20.0, 36.0]]));
    let one = bits(&cut_fill(&first, &second, &OneThread));
    let part = bits(&cut_fill_within(&first, &second, &within, &OneThread));
    assert!(one != part && one.len() == 4 * 5);
    for count in [1, 2, 7] {
        assert_eq!(
            bits(&cut_fill(&first, &second, &Threads(count))),
            one,
            "{count}"
        );
        let got = cut_fill_within(&first, &second, &within, &Threads(count));
        assert_eq!(bits(&got), part, "{count}");
    }
}

fn dug(ground: &Surface) -> Sides {
    Sides {
        rule: Rule::Lower,
        run_per_rise: 1.5,
        limit_z_m: ground.z_range().unwrap().1,
        corners: Corners::Mitre,
        chord_m: 0.01,
    }
}

/// The middles of ever smaller cells, looked up one by one: off only in cells that an edge or the
/// line without cut and fill passes through, so faster than the cells shrink.
#[test]
fn samples_on_a_grid_close_in_on_the_volume() {
    let (a, b) = two(801);
    let (a, b) = (surface(&a, 0), surface(&b, 0));
    let volume = total(&a, &b);
    let sampled = |n: u32| {
        let cell = SIDE / f64::from(n);
        let (mut cut, mut fill) = (0.0, 0.0);
        for i in 0..n {
            for j in 0..n {
                let middle = |k: u32| (f64::from(k) + 0.5) * cell;
                let p = Point::from_m(middle(i), middle(j));
                let depth = a.z_at(p).unwrap() - b.z_at(p).unwrap();
                cut += depth.max(0.0) * cell * cell;
                fill += (-depth).max(0.0) * cell * cell;
            }
        }
        [(cut - volume.cut_m3).abs(), (fill - volume.fill_m3).abs()]
            .map(|off| off / (volume.cut_m3 + volume.fill_m3))
    };
    let errors = [8, 32, 128, 512].map(sampled);
    for k in 0..2 {
        assert!(errors[3][k] < 1e-4, "{errors:?}");
        assert!(errors[3][k] < errors[1][k] / 20.0, "{errors:?}");
        assert!(errors[2][k] < errors[0][k], "{errors:?}");
    }
}

/// Labels of the second surface share out the total; the parts of the ground are unchanged.
#[test]
fn labels_add_up_to_the_total() {
    for seed in 0..TRIALS {
        let (a, _) = two(900 + seed);
        let ground = surface(&a, 0);
        let mut design = ground.clone();
        let mut random = Random(seed);
        let (x, y) = (random.between(8.0, 20.0), random.between(8.0, 20.0));
        let outline = ring(&rectangle(
            [x, y],
            [x + random.between(2.0, 9.0), y + random.between(2.0, 9.0)],
        ));
        let mut next = 1;
        let pit = floor_with_sides(
            &outline,
            random.between(6.5, 8.0),
            1,
            &dug(&ground),
            &mut |_| {
                next += 1;
                next
            },
        );
        design.compose(&pit, Rule::Lower).unwrap();
        let LabelledCutFill {
            total, by_label, ..
        } = cut_fill(&ground, &design, &OneThread);
        assert!(by_label.len() >= 6, "{by_label:?}");
        let parts: Vec<CutFill> = by_label.values().copied().collect();
        close("cut", sum(&parts).cut_m3, total.cut_m3, 1e-14);
        close(
            "area",
            sum(&parts).common_area_m2,
            total.common_area_m2,
            1e-14,
        );
        close("area", total.common_area_m2, SIDE * SIDE, 1e-12);
        near("fill", total.fill_m3, 0.0, 1e-9 * total.cut_m3);
        // What is left is the rounding of cut edges to the lattice.
        near("cut of the ground", by_label[&0].cut_m3, 0.0, 1e-12);
        // By the areas of the facets themselves.
        let mut areas: BTreeMap<u32, f64> = BTreeMap::new();
        for f in design.facets() {
            *areas.entry(design.label(f)).or_default() += design.area_m2(f);
        }
        assert!(areas.keys().eq(by_label.keys()));
        for (label, area) in areas {
            close(
                "area of a label",
                by_label[&label].common_area_m2,
                area,
                1e-9,
            );
        }
        // A part alone is the same as the total within its place: the floor.
        let floor = cut_fill_within(&ground, &design, &inside(&outline), &OneThread).total;
        close("floor", by_label[&1].cut_m3, floor.cut_m3, 1e-9);
    }
}

/// Cut and fill to a level against a surface lowered and raised to it: two ways through the
/// program that share no volume.
#[test]
fn cut_and_fill_are_what_lowering_and_raising_change() {
    for seed in 0..TRIALS {
        let (a, _) = two(1000 + seed);
        let ground = surface(&a, 0);
        let level = 10.0;
        let corners =
            rectangle([-1.0, -1.0], [SIDE + 1.0, SIDE + 1.0]).map(|[x, y]| at(x, y, level));
        let mut patch = Patch::new();
        patch.add(&corners, 1);
        let changed = |rule: Rule| {
            let mut surface = ground.clone();
            surface.compose(&patch, rule).unwrap();
            surface.volume_above_m3(level)
        };
        let above = ground.volume_above_m3(level);
        let plane = plane_over([-1.0, -1.0], [SIDE + 1.0, SIDE + 1.0], |_, _| level);
        let volume = total(&ground, &plane);
        near("net", volume.net_m3(), above, 1e-12 * SIDE * SIDE);
        close("cut", volume.cut_m3, above - changed(Rule::Lower), 1e-9);
        close("fill", volume.fill_m3, changed(Rule::Raise) - above, 1e-9);
        close("highest above", changed(Rule::Raise), volume.cut_m3, 1e-9);
        close("lowest below", -changed(Rule::Lower), volume.fill_m3, 1e-9);
    }
}
