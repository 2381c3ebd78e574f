//! Where water runs: closed forms, an independent flood of a fine grid, and what must hold on
//! any surface.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod common;

use common::{Random, at, close, near, plane_over, surface};
use cutbank::flow::{Drains, Line, Pits, Sink, Tin};
use cutbank::geom::{P3, Point};
use cutbank::surface::Surface;

/// Everything overflows.
const FULL: f64 = f64::INFINITY;

/// A grid of points `n` by `n` over a square with its middle at 0, 0, its triangles given.
fn grid(n: i32, half: f64, z: impl Fn(f64, f64) -> f64) -> Surface {
    let step = 2.0 * half / f64::from(n - 1);
    let mut vertices: Vec<P3> = Vec::new();
    for j in 0..n {
        for i in 0..n {
            let (x, y) = (f64::from(i) * step - half, f64::from(j) * step - half);
            vertices.push(at(x, y, z(x, y)));
        }
    }
    let mut triangles = Vec::new();
    for j in 0..n as u32 - 1 {
        for i in 0..n as u32 - 1 {
            let a = j * n as u32 + i;
            let (b, c, d) = (a + 1, a + 1 + n as u32, a + n as u32);
            // Diagonals by turns, so that no direction is preferred.
            match (i + j) % 2 {
                0 => triangles.extend([[a, b, c], [a, c, d]]),
                _ => triangles.extend([[a, b, d], [b, c, d]]),
            }
        }
    }
    Surface::from_triangles(vertices, &triangles, 0).unwrap()
}

fn end([x, y]: [f64; 2], surface: &Surface) -> (Vec<[f64; 3]>, Sink) {
    let tin = Tin::of(surface);
    let drop = tin
        .drop(surface, &Pits::of(&tin), Point::from_m(x, y), FULL)
        .unwrap();
    (drop.points, drop.sink)
}

#[test]
fn on_a_plane_a_drop_runs_straight() {
    // Falls 0.3 east and 0.4 south: from (-3, 4) on the line y = 4 - (x + 3) * 4 / 3 to the rim
    // at y = -10, x = 7.5.
    let plane = plane_over([-10.0, -10.0], [10.0, 10.0], |x, y| {
        50.0 - 0.3 * x + 0.4 * y
    });
    let (points, sink) = end([-3.0, 4.0], &plane);
    assert_eq!(sink, Sink::Rim);
    for [x, y, z] in &points {
        near("on the line", *y, 4.0 - (x + 3.0) * 4.0 / 3.0, 1e-9);
        near("height", *z, 50.0 - 0.3 * x + 0.4 * y, 1e-9);
    }
    let last = points[points.len() - 1];
    near("x of the end", last[0], 7.5, 1e-9);
    near("y of the end", last[1], -10.0, 1e-9);
    // The same over a thousand facets of any shape.
    let mut random = Random(5);
    let many: Vec<P3> = (0..500)
        .map(|_| [random.between(-10.0, 10.0), random.between(-10.0, 10.0)])
        .map(|[x, y]| at(x, y, 50.0 - 0.3 * x + 0.4 * y))
        .chain(
            [[-10.0, -10.0], [10.0, -10.0], [10.0, 10.0], [-10.0, 10.0]]
                .map(|[x, y]| at(x, y, 50.0 - 0.3 * x + 0.4 * y)),
        )
        .collect();
    let (points, _) = end([-3.0, 4.0], &surface(&many, 0));
    // Heights are those of lattice points: each is right to the rounding of its plan position,
    // half a nanometre, and slopes of slivers with it.
    let last = points[points.len() - 1];
    near("x of the end", last[0], 7.5, 1e-5);
    near("y of the end", last[1], -10.0, 1e-9);
}

#[test]
fn on_a_cone_a_drop_runs_away_from_the_tip() {
    // A pyramid of many sides: the drop keeps to its facet; its direction is off by at most half
    // the angle of a side.
    let sides = 64;
    let mut points = vec![at(0.0, 0.0, 20.0)];
    for k in 0..sides {
        let turn = std::f64::consts::TAU * f64::from(k) / f64::from(sides);
        points.push(at(10.0 * turn.cos(), 10.0 * turn.sin(), 10.0));
    }
    let cone = surface(&points, 0);
    for k in 0..50 {
        let turn = f64::from(k) * 0.1257;
        let (path, sink) = end([2.0 * turn.cos(), 2.0 * turn.sin()], &cone);
        assert_eq!(sink, Sink::Rim);
        let [x, y, z] = path[path.len() - 1];
        let off = (x * turn.sin() - y * turn.cos()).abs();
        assert!(
            off <= 8.0 * std::f64::consts::PI / f64::from(sides),
            "{off}"
        );
        assert!(x.hypot(y) > 9.98);
        near("the rim", z, 10.0, 1e-9);
    }
    // Turned over it is a pit with its bottom in the middle.
    let bowl: Vec<P3> = points.iter().map(|p| P3 { z: -p.z, ..*p }).collect();
    let bowl = surface(&bowl, 0);
    let tin = Tin::of(&bowl);
    let pits = Pits::of(&tin);
    assert_eq!(pits.len(), 1);
    near("depth", pits[0].depth_m(), 10.0, 1e-12);
    let pond = tin.pond(&pits, 0);
    // A pyramid over a regular polygon of 64 corners.
    let area = 0.5 * 64.0 * 100.0 * (std::f64::consts::TAU / 64.0).sin();
    close("area", pond.area_m2, area, 1e-9);
    close("volume", pond.volume_m3, area * 10.0 / 3.0, 1e-9);
}

#[test]
fn on_saddles_drops_follow_hyperbolas_closer_and_closer() {
    // Down z = x2 - y2: dx / dt = -2 x, dy / dt = 2 y, so x y stays. The same turned by 45
    // degrees: z = x y, where y2 - x2 stays.
    let saddles: [(fn(f64, f64) -> f64, fn(f64, f64) -> f64, [f64; 2]); 2] = [
        (|x, y| x * x - y * y, |x, y| x * y, [0.9, 0.11]),
        (|x, y| x * y, |x, y| y * y - x * x, [0.93, 0.61]),
    ];
    for (z, constant, start) in saddles {
        let mut last = f64::INFINITY;
        for n in [11, 21, 41, 81, 161] {
            let (path, sink) = end(start, &grid(n, 1.0, z));
            assert_eq!(sink, Sink::Rim);
            let want = constant(start[0], start[1]);
            let off = path.iter().map(|p| (constant(p[0], p[1]) - want).abs());
            let off = off.fold(0.0, f64::max);
            println!("{n}: off by {off:.5}");
            assert!(off < 3.0 / f64::from(n), "{n}: {off}");
            last = last.min(off);
        }
        assert!(last < 0.02, "{last}");
    }
}

/// A bowl `z = r2 / 20` sampled at rings: closed forms are sums of frustums of pyramids.
fn bowl(rings: usize, sides: usize) -> Vec<P3> {
    let mut points = vec![at(0.0, 0.0, 0.0)];
    for ring in 1..=rings {
        let r = ring as f64;
        for k in 0..sides {
            let turn = std::f64::consts::TAU * k as f64 / sides as f64;
            points.push(at(r * turn.cos(), r * turn.sin(), r * r / 20.0));
        }
    }
    points
}

#[test]
fn a_bowl_holds_what_the_closed_form_says() {
    let (rings, sides) = (10, 48);
    let bowl = surface(&bowl(rings, sides), 0);
    let tin = Tin::of(&bowl);
    let pits = Pits::of(&tin);
    assert_eq!(pits.len(), 1);
    assert!(pits[0].part_of.is_none());
    near("level", pits[0].lip.z, 5.0, 1e-12);
    let pond = tin.pond(&pits, 0);
    // Regular polygons of area `s r2`. Between two rings every pair of facets (a trapezoid of the
    // two sides) is level along both rings, so the water is a frustum: h / 3 (A + B + root(A B)).
    let s = 0.5 * sides as f64 * (std::f64::consts::TAU / sides as f64).sin();
    close("area", pond.area_m2, s * 100.0, 1e-9);
    let volume: f64 = (1..=rings)
        .map(|k| {
            let (a, b) = ((k - 1) as f64, k as f64);
            (b * b - a * a) / 20.0 / 3.0 * s * (a * a + a * b + b * b)
        })
        .sum();
    close("volume", pond.volume_m3, volume, 1e-8);
    // The smooth bowl holds pi R4 / 40 = 785.4 m3.
    close("the smooth one", pond.volume_m3, 785.398, 0.02);
}

#[test]
fn two_basins_share_a_lip_and_then_one() {
    // Drawn out along y, with ends that rise: bottoms at 1 and 2, a pass at 4 between them, lips
    // at 7 and 6 outside.
    let line = [
        (0.0, 7.0),
        (10.0, 1.0),
        (20.0, 4.0),
        (30.0, 2.0),
        (40.0, 6.0),
        (50.0, 0.0),
    ];
    let z = |x: f64| {
        let k = line.windows(2).find(|w| x <= w[1].0).unwrap();
        k[0].1 + (x - k[0].0) / (k[1].0 - k[0].0) * (k[1].1 - k[0].1)
    };
    let mut points = Vec::new();
    for i in 0..=10 {
        let x = f64::from(i) * 5.0;
        for (y, more) in [(-12.0, 9.0), (-2.0, 0.0), (2.0, 0.0), (12.0, 9.0)] {
            points.push(at(x, y, z(x) + more));
        }
    }
    let yard = surface(&points, 0);
    let tin = Tin::of(&yard);
    let pits = Pits::of(&tin);
    let widest: Vec<u32> = pits.widest_of(1e-6).collect();
    assert_eq!(widest.len(), 1);
    let all = pits[widest[0] as usize];
    assert_eq!((all.bottom.z, all.lip.z), (1.0, 6.0));
    let nested: Vec<f64> = pits
        .iter()
        .filter(|p| p.part_of.is_some() && p.depth_m() > 0.0)
        .map(|p| p.depth_m())
        .collect();
    assert_eq!(nested, [3.0, 2.0]);
    // A drop stands in the pit, or runs over to the right where it is taken to be full.
    let drop = |least| {
        tin.drop(&yard, &pits, Point::from_m(3.0, 0.5), least)
            .unwrap()
    };
    assert_eq!(drop(1.0).sink, Sink::Pit(widest[0]));
    let over = drop(FULL);
    assert_eq!(
        (over.sink, over.through.as_slice()),
        (Sink::Rim, &widest[..])
    );
    let last = over.points[over.points.len() - 1];
    near("it leaves at the low end", last[0], 50.0, 1e-9);
    // The lip is the whole line at x = 40 between y = -2 and 2: all to its left drains there.
    let drains = Drains::of(&tin, &pits, 1.0);
    let to_pit = drains.area_m2(|l| l.sink == Sink::Pit(widest[0]));
    close("catchment", to_pit, 40.0 * 24.0, 0.02);
    near("all of it", drains.area_m2(|_| true), 50.0 * 24.0, 1e-9);
}

/// Random points, some of them level with each other.
fn rough(seed: u64, count: usize, is_flat: bool) -> Surface {
    let mut random = Random(seed);
    let mut points = Vec::new();
    for _ in 0..count {
        let (x, y) = (random.between(0.0, 30.0), random.between(0.0, 30.0));
        let z = match is_flat {
            true => random.below(4) as f64,
            false => random.between(0.0, 3.0) - 0.1 * x,
        };
        points.push(at(x, y, z));
    }
    surface(&points, 0)
}

#[test]
fn no_drop_rises_and_labels_agree_with_drops() {
    let (mut agree, mut other) = (0, 0);
    for seed in 0..30 {
        let yard = rough(seed, 200, seed % 3 == 0);
        let tin = Tin::of(&yard);
        let pits = Pits::of(&tin);
        for least in [1e-9, 0.2, FULL] {
            let drains = Drains::of(&tin, &pits, least);
            let total: f64 = yard.facets().map(|f| yard.area_m2(f)).sum();
            close("all ends somewhere", drains.area_m2(|_| true), total, 1e-12);
            assert_eq!(drains.guessed_m2(), 0.0);
            // By many drops: their share is that of the areas.
            let mut random = Random(seed + 1000);
            let mut found = std::collections::BTreeMap::new();
            let mut drops = 0;
            while drops < 400 {
                let p = Point::from_m(random.between(0.0, 30.0), random.between(0.0, 30.0));
                let Some(drop) = tin.drop(&yard, &pits, p, least) else {
                    continue;
                };
                drops += 1;
                *found.entry(drop.sink).or_insert(0) += 1;
                if drop.through.is_empty() || least < 1e-6 {
                    for pair in drop.points.windows(2) {
                        assert!(pair[1][2] <= pair[0][2] + 1e-9, "seed {seed}: {pair:?}");
                    }
                }
                let facet = tin.facet_at(&yard, p).unwrap();
                match drains.label(facet).sink == drop.sink {
                    true => agree += 1,
                    // The facet is parted between two.
                    false => other += 1,
                }
            }
            for (sink, count) in found {
                let share = drains.area_m2(|l| l.sink == sink) / total;
                let spread = 5.0 * (share * (1.0 - share).max(0.0) / 400.0).sqrt() + 0.01;
                near(
                    &format!("share of {sink:?} in {seed}, {least}"),
                    f64::from(count) / 400.0,
                    share,
                    spread,
                );
            }
        }
    }
    assert!(
        agree > 5 * other,
        "{agree} agree, {other} lie in the lesser part of their facet"
    );
}

#[test]
fn catchments_of_an_area_are_exact_on_a_plane() {
    // Falls due south. A square 2 by 3 in the middle takes the strip north of it.
    let plane = plane_over([0.0, 0.0], [10.0, 20.0], |x, y| 0.05 * y + 0.0 * x);
    let corners = [[4.0, 8.0], [6.0, 8.0], [6.0, 11.0], [4.0, 11.0], [4.0, 8.0]];
    let line = |points: &[[f64; 2]], mark| Line {
        points: points.iter().map(|&[x, y]| Point::from_m(x, y)).collect(),
        mark,
    };
    let lines = [
        line(&corners, None),
        line(&[[-1.0, 15.0], [5.0, 15.5], [11.0, 15.0]], Some(7)),
    ];
    let mut tin = Tin::cut(&plane, &lines);
    tin.mark(|p, _| {
        let inside = (4.0..6.0).contains(&p.x_m()) && (8.0..11.0).contains(&p.y_m());
        inside.then_some(3)
    });
    tin.hold(vec![3]);
    let pits = Pits::of(&tin);
    let drains = Drains::of(&tin, &pits, FULL);
    close(
        "it and above it",
        drains.area_m2(|l| l.reaches(3)),
        2.0 * 12.0,
        1e-9,
    );
    // The line rises straight from 15 at x = -1 to 15.5 in the middle, and falls again: its mean
    // between the rims is that of its heights at x = 0 and in the middle.
    let mean = 15.0 + (0.5 / 6.0 + 0.5) / 2.0;
    close(
        "over the line",
        drains.area_m2(|l| l.reaches(7)),
        10.0 * (20.0 - mean),
        1e-9,
    );
    // Drops say the same.
    let drop = |x, y| tin.drop(&plane, &pits, Point::from_m(x, y), FULL).unwrap();
    assert_eq!(drop(5.0, 19.0).sink, Sink::Held(3));
    assert_eq!(drop(5.0, 19.0).met, [7]);
    assert_eq!(
        (drop(3.9, 19.0).sink, drop(3.9, 19.0).met),
        (Sink::Rim, vec![7])
    );
    assert_eq!(
        (drop(3.9, 14.0).sink, drop(3.9, 14.0).met),
        (Sink::Rim, vec![])
    );
}

#[test]
fn ponds_agree_with_a_flooded_grid() {
    // fixtures/flow/expected.json: the same triangles as a grid of 0.05 m, flooded by
    // scikit-image. Heights of cells are right. A lip lies up to a cell aside, so the level is off
    // by up to a cell times the slope there; what that does to the volume is taken off.
    let text = std::fs::read_to_string("fixtures/flow/expected.json").unwrap();
    let expected: serde_json::Value = serde_json::from_str(&text).unwrap();
    let step = expected["step_m"].as_f64().unwrap();
    let numbers = |v: &serde_json::Value| -> Vec<f64> {
        let all = v.as_array().unwrap().iter();
        all.map(|n| n.as_f64().unwrap()).collect()
    };
    let mut count = 0;
    for set in expected["sets"].as_array().unwrap() {
        let points: Vec<P3> = (set["points_m"].as_array().unwrap().iter())
            .map(|p| numbers(p))
            .map(|p| at(p[0], p[1], p[2]))
            .collect();
        let triangles: Vec<[u32; 3]> = (set["triangles"].as_array().unwrap().iter())
            .map(|t| numbers(t))
            .map(|t| [t[0] as u32, t[1] as u32, t[2] as u32])
            .collect();
        let yard = Surface::from_triangles(points, &triangles, 0).unwrap();
        let tin = Tin::of(&yard);
        let pits = Pits::of(&tin);
        let ours: Vec<u32> = pits.widest_of(0.2).collect();
        let ponds = set["ponds"].as_array().unwrap();
        let of = |pond: &serde_json::Value, key: &str| pond[key].as_f64().unwrap();
        let is_near = |k: u32, pond: &serde_json::Value| {
            let bottom = pits[k as usize].bottom.p;
            (bottom.x_m() - of(pond, "x_m")).hypot(bottom.y_m() - of(pond, "y_m")) < 2.0 * step
        };
        // A cell may miss the bottom, and a pond be a little less deep on the grid.
        for &k in ours.iter().filter(|&&k| pits[k as usize].depth_m() > 0.4) {
            let bottom = pits[k as usize].bottom;
            assert!(ponds.iter().any(|pond| is_near(k, pond)), "{bottom:?}");
        }
        for pond in ponds {
            let Some(&k) = ours.iter().find(|&&k| is_near(k, pond)) else {
                panic!("{pond}");
            };
            let found = tin.pond(&pits, k);
            let level = of(pond, "level_m");
            println!(
                "{:.4} {level:.4}, {:.2} {:.2}, {:.3} {:.3}",
                found.level_m,
                found.area_m2,
                of(pond, "area_m2"),
                found.volume_m3,
                of(pond, "volume_m3")
            );
            // Its lip lies up to a cell aside, or at the rim up to a cell inside.
            near("level", level, found.level_m, step);
            let perimeter: f64 = found
                .shore
                .iter()
                .map(|[a, b]| (b[0] - a[0]).hypot(b[1] - a[1]))
                .sum();
            let rise = level - found.level_m;
            let area = of(pond, "area_m2");
            assert!(
                (area - found.area_m2).abs() < perimeter * step + 20.0 * rise.abs() * perimeter
            );
            let volume = of(pond, "volume_m3") - rise * (area + found.area_m2) / 2.0;
            close("volume", volume, found.volume_m3, 0.005);
            count += 1;
        }
    }
    assert!(count >= 8);
}

#[test]
fn the_same_whoever_works_and_wherever_it_lies() {
    let yard = rough(3, 300, false);
    let moved = yard.moved(Point::from_m(400_000.0, 5_000_000.0));
    let areas = |surface: &Surface| -> Vec<f64> {
        let tin = Tin::of(surface);
        let drains = Drains::of(&tin, &Pits::of(&tin), 0.1);
        drains.areas().map(|(_, area)| area).collect()
    };
    assert_eq!(areas(&yard), areas(&yard));
    assert_eq!(areas(&yard), areas(&moved));
}
