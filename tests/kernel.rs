//! The kernel against an independent evaluation: random surfaces, random shapes.
//!
//! What must hold after every composition: the plan area is unchanged, every facet is
//! counter-clockwise, neighbours agree, one height at one place, heights are the envelope of
//! surface and patch, and laying the same patch again changes nothing.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod common;

use common::{Random, height_in, slow_z, surface};
use cutbank::design::shape::{Corners, Ends, RibbonLabels, Sides, floor_with_sides, ribbon};
use cutbank::geom::{P3, Point, Ring};
use cutbank::surface::{ComposeError, Patch, Plane, Rule, Surface};

fn ground(random: &mut Random, kind: u64) -> Vec<P3> {
    let n = 20 + random.below(60) as usize;
    let at = |x: f64, y: f64, z: f64| P3 {
        p: Point::from_m(x, y),
        z,
    };
    match kind % 6 {
        // Random.
        0 => (0..n)
            .map(|_| {
                at(
                    random.between(0.0, 30.0),
                    random.between(0.0, 30.0),
                    random.between(9.0, 11.0),
                )
            })
            .collect(),
        // Flat.
        1 => (0..n)
            .map(|_| at(random.between(0.0, 30.0), random.between(0.0, 30.0), 10.0))
            .collect(),
        // A regular lattice.
        2 => (0..49)
            .map(|i| {
                at(
                    f64::from(i % 7) * 5.0,
                    f64::from(i / 7) * 5.0,
                    random.between(9.5, 10.5),
                )
            })
            .collect(),
        // Nearly straight rows a millimetre apart.
        3 => (0..n)
            .map(|i| {
                let row = (i % 4) as f64;
                let wave = random.between(0.0, 0.001);
                at(
                    random.between(0.0, 30.0),
                    row * 10.0 + wave,
                    random.between(9.5, 10.5),
                )
            })
            .collect(),
        // Tilted.
        4 => (0..n)
            .map(|_| {
                let (x, y) = (random.between(0.0, 30.0), random.between(0.0, 30.0));
                at(x, y, 10.0 + 0.05 * x - 0.03 * y)
            })
            .collect(),
        // Pairs up to 2 mm apart.
        _ => {
            let mut points: Vec<P3> = Vec::new();
            for _ in 0..n / 2 {
                let (x, y) = (random.between(0.0, 30.0), random.between(0.0, 30.0));
                let z = random.between(9.5, 10.5);
                points.push(at(x, y, z));
                let (dx, dy) = (random.between(0.0, 0.002), random.between(0.0, 0.002));
                points.push(at(x + dx, y + dy, z + random.between(-0.001, 0.001)));
            }
            points
        }
    }
}

fn sides(random: &mut Random, rule: Rule) -> Sides {
    Sides {
        rule,
        run_per_rise: [0.5, 1.0, 1.5, 2.0, 3.0][random.below(5) as usize],
        limit_z_m: if rule == Rule::Lower { 15.0 } else { 5.0 },
        corners: if random.below(2) == 0 {
            Corners::Mitre
        } else {
            Corners::Round
        },
        chord_m: 0.1,
    }
}

/// A patch: outlines convex and reflex, on lattice points, shared with the ground, ribbons,
/// sticking out over the edge.
fn patch(random: &mut Random, ground: &[P3], rule: Rule) -> Patch {
    let sides = sides(random, rule);
    let z = if rule == Rule::Lower {
        random.between(8.2, 10.2)
    } else {
        random.between(9.8, 11.8)
    };
    let z = if random.below(4) == 0 { 10.0 } else { z };
    match random.below(5) {
        0 => {
            let (x, y) = (random.between(-2.0, 30.0), random.between(-2.0, 30.0));
            let count = 3 + random.below(6);
            let ring: Vec<Point> = (0..count)
                .map(|k| {
                    let angle = std::f64::consts::TAU * k as f64 / count as f64;
                    let r = random.between(0.7, 4.0);
                    Point::from_m(x + r * angle.cos(), y + r * angle.sin())
                })
                .collect();
            Ring::new(&ring).map_or_else(
                |_| Patch::new(),
                |ring| floor_with_sides(&ring, z, 1, &sides, &mut |_| 2),
            )
        }
        1 => {
            // On whole metres.
            let (x, y) = (random.below(25) as f64, random.below(25) as f64);
            let (w, h) = (1.0 + random.below(8) as f64, 1.0 + random.below(8) as f64);
            let ring =
                [(x, y), (x + w, y), (x + w, y + h), (x, y + h)].map(|(x, y)| Point::from_m(x, y));
            floor_with_sides(&Ring::new(&ring).unwrap(), z, 1, &sides, &mut |_| 2)
        }
        2 => {
            // The corners are shots of the ground.
            let ring: Vec<Point> = (0..3)
                .map(|_| ground[random.below(ground.len() as u64) as usize].p)
                .collect();
            Ring::new(&ring).map_or_else(
                |_| Patch::new(),
                |ring| floor_with_sides(&ring, z, 1, &sides, &mut |_| 2),
            )
        }
        3 => {
            // An L.
            let (x, y) = (random.between(0.0, 20.0), random.between(0.0, 20.0));
            let ring = [
                (0.0, 0.0),
                (6.0, 0.0),
                (6.0, 2.5),
                (2.5, 2.5),
                (2.5, 7.0),
                (0.0, 7.0),
            ]
            .map(|(dx, dy)| Point::from_m(x + dx, y + dy));
            floor_with_sides(&Ring::new(&ring).unwrap(), z, 1, &sides, &mut |_| 2)
        }
        _ => {
            let mut line = vec![P3 {
                p: Point::from_m(random.between(0.0, 30.0), random.between(0.0, 30.0)),
                z,
            }];
            for _ in 0..2 + random.below(4) {
                let last = line[line.len() - 1];
                let step = Point::from_m(random.between(-5.0, 5.0), random.between(-5.0, 5.0));
                line.push(P3 {
                    p: Point::new(last.p.x + step.x, last.p.y + step.y),
                    z: last.z + random.between(-0.2, 0.2),
                });
            }
            let ends = if random.below(2) == 0 {
                Ends::Square
            } else {
                Ends::Slope
            };
            let labels = RibbonLabels {
                middle: 1,
                left: 2,
                right: 3,
                ends: [4, 5],
            };
            ribbon(
                &line,
                random.between(0.4, 2.0),
                [ends, ends],
                labels,
                &sides,
            )
        }
    }
}

fn shift(points: &mut [P3], by: Point) {
    for p in points {
        p.p = Point::new(p.p.x + by.x, p.p.y + by.y);
    }
}

struct Tally {
    composed: u32,
    refused: Vec<(u64, ComposeError)>,
    worst_m: f64,
}

/// Runs trials; returns what happened. Panics on a wrong answer.
fn trials(seeds: std::ops::Range<u64>, origin: Point) -> Tally {
    let mut tally = Tally {
        composed: 0,
        refused: Vec::new(),
        worst_m: 0.0,
    };
    for seed in seeds {
        let mut random = Random(seed);
        let kind = random.next();
        let mut points = ground(&mut random, kind);
        shift(&mut points, origin);
        let mut yard: Surface = surface(&points, 0);
        for _ in 0..1 + random.below(3) {
            let rule = if random.below(2) == 0 {
                Rule::Lower
            } else {
                Rule::Raise
            };
            let mut local = points.clone();
            shift(&mut local, Point::new(-origin.x, -origin.y));
            let patch = patch(&mut random, &local, rule);
            let patch = moved(&patch, origin);
            let before = yard.clone();
            match yard.compose(&patch, rule) {
                Err(error) => {
                    assert_eq!(
                        yard.num_facets(),
                        before.num_facets(),
                        "seed {seed}: changed"
                    );
                    tally.refused.push((seed, error));
                    continue;
                }
                Ok(_) => tally.composed += 1,
            }
            check(seed, &before, &patch, rule, &yard, &mut random, &mut tally);
            let again = yard.clone();
            let done = yard
                .compose(&patch, rule)
                .unwrap_or_else(|e| panic!("seed {seed}: {e}"));
            assert_eq!(
                (done.removed, done.added),
                (0, 0),
                "seed {seed}: not idempotent"
            );
            assert_eq!(yard.num_facets(), again.num_facets());
        }
    }
    tally
}

fn moved(patch: &Patch, by: Point) -> Patch {
    let mut out = Patch::new();
    for (corners, label) in patch.triangles() {
        out.add(
            &corners.map(|c| P3 {
                p: Point::new(c.p.x + by.x, c.p.y + by.y),
                z: c.z,
            }),
            label,
        );
    }
    out
}

fn check(
    seed: u64,
    before: &Surface,
    patch: &Patch,
    rule: Rule,
    after: &Surface,
    random: &mut Random,
    tally: &mut Tally,
) {
    after
        .check_consistent()
        .unwrap_or_else(|e| panic!("seed {seed}: {e}"));
    let (a, b) = (before.twice_area_nm2(), after.twice_area_nm2());
    // Vertices added on the outer rim are rounded to the lattice: under 1e-9 of the area.
    assert!(
        (a - b).unsigned_abs() as f64 <= 1e-9 * a as f64,
        "seed {seed}: area {a} -> {b}"
    );
    for _ in 0..60 {
        let f = after
            .facets()
            .nth(random.below(after.num_facets() as u64) as usize)
            .unwrap();
        let c = after.corners(f);
        let (u, v) = (random.between(0.0, 1.0), random.between(0.0, 1.0));
        let (u, v) = if u + v > 1.0 {
            (1.0 - u, 1.0 - v)
        } else {
            (u, v)
        };
        let mix = |k: fn(&P3) -> i64| {
            let (a, b, d) = (k(&c[0]), k(&c[1]), k(&c[2]));
            a + (u * (b - a) as f64 + v * (d - a) as f64) as i64
        };
        let p = Point::new(mix(|c| c.p.x), mix(|c| c.p.y));
        let Some(under) = slow_z(before, p) else {
            continue;
        };
        let mut want = under;
        for (corners, _) in patch.triangles() {
            if let Some(z) = height_in(corners, p) {
                want = if rule == Rule::Lower {
                    want.min(z)
                } else {
                    want.max(z)
                };
            }
        }
        let got = after.source(f).plane.z_at(p);
        // Four lattice units times the steepest slope that took part.
        let planes = [before, after]
            .into_iter()
            .flat_map(|s| s.facets().map(|f| s.source(f).plane));
        let pieces = patch
            .triangles()
            .map(|([a, b, c], _)| Plane::through(a, b, c));
        let steepest = planes
            .chain(pieces)
            .map(|p| p.steepness())
            .fold(1.0, f64::max);
        let limit = 4.0e-9 * (1.0 + steepest);
        assert!(
            (got - want).abs() <= limit,
            "seed {seed}: {got} instead of {want} at {p:?}, limit {limit}"
        );
        tally.worst_m = tally.worst_m.max((got - want).abs() / (1.0 + steepest));
    }
}

#[test]
fn a_thousand_random_compositions() {
    // CUTBANK_TRIALS=40000 makes a campaign of it.
    let count = std::env::var("CUTBANK_TRIALS")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(400);
    let near = trials(0..count, Point::default());
    let far = trials(0..150, Point::from_m(500_000.0, 4_600_000.0));
    for (name, tally) in [("near", &near), ("far", &far)] {
        println!(
            "{name}: {} composed, worst {:.1e}",
            tally.composed, tally.worst_m
        );
        for (seed, error) in &tally.refused {
            println!("  seed {seed}: {error:?}");
        }
    }
    assert!(near.composed + far.composed >= 1000);
    assert!(near.refused.is_empty() && far.refused.is_empty());
}
