//! Build, compose and volume at several sizes, beside a peer library in the same run.
//!
//! `cargo bench` prints one table. Each figure is the best of several runs on one thread unless
//! it says otherwise; ratios are to `delaunator` on the same points.
#![allow(
    missing_docs,
    clippy::unwrap_used,
    clippy::print_stdout,
    unreachable_pub
)]

#[path = "../common/mod.rs"]
mod common;
#[path = "stopwatch.rs"]
mod stopwatch;

use std::time::Instant;
use stopwatch::best;

use common::{Random, surface};
use cutbank::design::shape::{Corners, Ends, RibbonLabels, Sides, floor_with_sides, ribbon};
use cutbank::files::{OneThread, Workers};
use cutbank::geom::{P3, Point, Ring, Segment, node, triangulate};
use cutbank::surface::{Patch, Rule, Surface, cut_fill};

/// Threads of the standard library, for the figure on two cores.
struct Threads(usize);

impl Workers for Threads {
    fn for_each(&self, count: usize, work: &(dyn Fn(usize) + Sync)) {
        let next = std::sync::atomic::AtomicUsize::new(0);
        std::thread::scope(|scope| {
            for _ in 0..self.0 {
                scope.spawn(|| {
                    loop {
                        let i = next.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
                        if i >= count {
                            break;
                        }
                        work(i);
                    }
                });
            }
        });
    }
}

fn points(kind: &str, n: usize) -> Vec<P3> {
    let mut random = Random(42);
    let side = (n as f64).sqrt();
    let z = |x: f64, y: f64, r: &mut Random| {
        10.0 - 0.03 * x + 0.5 * (x / 7.0).sin() * (y / 9.0).cos() + r.between(-0.01, 0.01)
    };
    (0..n)
        .map(|i| {
            let (x, y) = match kind {
                "random" => (random.between(0.0, side), random.between(0.0, side)),
                "gridded" => ((i % side as usize) as f64, (i / side as usize) as f64),
                // Rows almost straight, a millimetre apart in pairs.
                _ => (
                    random.between(0.0, side),
                    (i % 64) as f64 * side / 64.0 + random.between(0.0, 0.001),
                ),
            };
            P3 {
                p: Point::from_m(x, y),
                z: z(x, y, &mut random),
            }
        })
        .collect()
}

/// Ten features about the middle of a yard: basins, berms and streams over one another.
fn features(middle: f64) -> Vec<(Patch, Rule)> {
    let mut random = Random(7);
    (0..10)
        .map(|k| {
            let rule = if k % 3 == 1 { Rule::Raise } else { Rule::Lower };
            let sides = Sides {
                rule,
                run_per_rise: 1.5,
                limit_z_m: if rule == Rule::Lower { 16.0 } else { 4.0 },
                corners: if k % 2 == 0 {
                    Corners::Mitre
                } else {
                    Corners::Round
                },
                chord_m: 0.02,
            };
            let mut at = || middle + random.between(-8.0, 8.0);
            let (x, y) = (at(), at());
            let z = if rule == Rule::Lower { 8.3 } else { 11.0 };
            let patch = if k % 3 == 2 {
                let line: Vec<P3> = [(0.0, 0.0), (3.0, 1.0), (5.0, -1.0), (8.0, 0.5)]
                    .iter()
                    .enumerate()
                    .map(|(i, (dx, dy))| P3 {
                        p: Point::from_m(x + dx, y + dy),
                        z: 9.5 - 0.1 * i as f64,
                    })
                    .collect();
                let labels = RibbonLabels {
                    middle: 10 * k,
                    left: 10 * k + 1,
                    right: 10 * k + 2,
                    ends: [10 * k + 3; 2],
                };
                ribbon(&line, 0.6, [Ends::Slope; 2], labels, &sides)
            } else {
                let ring = [(0.0, 0.0), (3.0, 0.0), (3.5, 2.0), (1.5, 3.0), (0.0, 2.5)]
                    .map(|(dx, dy)| Point::from_m(x + dx, y + dy));
                floor_with_sides(
                    &Ring::new(&ring).unwrap(),
                    z,
                    10 * k + 5,
                    &sides,
                    &mut |_| 10 * k + 6,
                )
            };
            (patch, rule)
        })
        .collect()
}

fn main() {
    println!(
        "{:<11} {:>8} | {:>10} {:>10} {:>6} | {:>11} {:>11} | {:>10} {:>10} | {:>9}",
        "points",
        "n",
        "build ms",
        "peer ms",
        "ratio",
        "10 feat ms",
        "1 feat ms",
        "volume ms",
        "2 thr ms",
        "find ns"
    );
    for kind in ["random", "gridded", "degenerate"] {
        for n in [1_000, 10_000, 100_000] {
            row(kind, n);
        }
    }
    pair_of_surfaces(300_000);
    a_million_points();
}

fn row(kind: &str, n: usize) {
    let runs = if n >= 100_000 { 3 } else { 7 };
    let shots = points(kind, n);
    let (build, ground) = best(runs, || surface(&shots, 0));
    let sites: Vec<delaunator::Point> = shots
        .iter()
        .map(|p| delaunator::Point {
            x: p.p.x_m(),
            y: p.p.y_m(),
        })
        .collect();
    let (peer, _) = best(runs, || delaunator::triangulate(&sites));
    let features = features((n as f64).sqrt() / 2.0);
    let lay = |ground: &Surface, features: &[(Patch, Rule)]| {
        let mut design = ground.clone();
        let start = Instant::now();
        let mut refused = 0;
        for (patch, rule) in features {
            refused += usize::from(design.compose(patch, *rule).is_err());
        }
        (start.elapsed().as_secs_f64() * 1e3, design, refused)
    };
    let mut ten = f64::INFINITY;
    let mut one = f64::INFINITY;
    let mut design = ground.clone();
    for _ in 0..runs {
        let (ms, laid, refused) = lay(&ground, &features);
        assert_eq!(refused, 0, "a feature was refused");
        ten = ten.min(ms);
        design = laid;
        one = one.min(lay(&ground, &features[..1]).0);
    }
    let (volume, a) = best(runs, || cut_fill(&ground, &design, &OneThread));
    let (two, b) = best(runs, || cut_fill(&ground, &design, &Threads(2)));
    assert_eq!(a, b, "the number of threads changed the answer");
    let mut random = Random(3);
    let side = (n as f64).sqrt();
    let places: Vec<Point> = (0..10_000)
        .map(|_| Point::from_m(random.between(0.0, side), random.between(0.0, side)))
        .collect();
    let (find, _) = best(runs, || {
        places.iter().filter_map(|&p| ground.z_at(p)).sum::<f64>()
    });
    println!(
        "{kind:<11} {n:>8} | {build:>10.2} {peer:>10.2} {:>6.2} | {ten:>11.2} {one:>11.2} | {volume:>10.2} {two:>10.2} | {:>9.0}",
        build / peer,
        find * 100.0
    );
}

/// Exact volume between two unrelated surfaces, and the floor under it: triangulating them.
fn pair_of_surfaces(n: usize) {
    let a = points("random", n);
    let b: Vec<P3> = points("random", n + 1)
        .iter()
        .rev()
        .map(|p| P3 {
            p: Point::new(p.p.y + 1234, p.p.x + 4321),
            z: p.z + 0.1,
        })
        .collect();
    let plan: Vec<Point> = a.iter().map(|p| p.p).collect();
    let (bare, _) = best(1, || triangulate(&plan, &[]).unwrap());
    let (a, b) = (surface(&a, 0), surface(&b, 0));
    let (one, x) = best(2, || cut_fill(&a, &b, &OneThread));
    let (two, y) = best(2, || cut_fill(&a, &b, &Threads(2)));
    assert_eq!(x, y);
    println!(
        "volume between two surfaces of {} facets each: {one:.0} ms on one thread, {two:.0} ms on two; \
         triangulating one of them takes {bare:.0} ms",
        a.num_facets()
    );
}

/// A million points and a thousand lines that cross: noding, constrained triangulation, surface.
fn a_million_points() {
    let shots = points("random", 1_000_000);
    let mut plan: Vec<Point> = shots.iter().map(|p| p.p).collect();
    plan.sort_unstable();
    plan.dedup();
    let mut random = Random(11);
    let mut end = || random.below(plan.len() as u64) as u32;
    let segments: Vec<Segment> = (0..1_000)
        .map(|_| Segment::new(end(), end()))
        .filter(|s| s.a != s.b)
        .collect();
    let (noding_ms, noding) = best(1, || node(&plan, &segments).unwrap());
    let edges: Vec<[u32; 2]> = noding.edges.iter().map(|e| [e.a, e.b]).collect();
    let (load_ms, t) = best(1, || triangulate(&noding.points, &edges).unwrap());
    let vertices: Vec<P3> = noding.points.iter().map(|&p| P3 { p, z: 0.0 }).collect();
    let (surface_ms, surface) = best(1, || {
        Surface::from_triangles(vertices.clone(), &t.triangles, 0).unwrap()
    });
    println!(
        "a million points, 1000 lines with {} crossings: noding {noding_ms:.0} ms, \
         constrained triangulation {load_ms:.0} ms, neighbours and grid {surface_ms:.0} ms for {} facets",
        noding.points.len() - plan.len(),
        surface.num_facets()
    );
}
