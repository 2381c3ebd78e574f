//! Build, compose and volume at several sizes, beside a peer library in the same run.
//!
//! `cargo bench` prints one table. Each figure is the best of several runs on one thread unless
//! it says otherwise; ratios are to `delaunator` on the same points. `CUTBANK_TEN_MILLION=1` adds a
//! ground of 10 million facets; `-- pair` (feature, yard, million, table) runs one part.
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
use cutbank::surface::{Delta, Patch, Rule, Surface, Tally, cut_fill};
use peak_alloc::PeakAlloc;

#[global_allocator]
static MEMORY: PeakAlloc = PeakAlloc;

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
    // Of the ground there, as `points` makes it.
    let level = 10.0 - 0.03 * middle;
    (0..10)
        .map(|k| {
            let rule = if k % 3 == 1 { Rule::Raise } else { Rule::Lower };
            let sides = Sides {
                rule,
                run_per_rise: 1.5,
                limit_z_m: level + if rule == Rule::Lower { 6.0 } else { -6.0 },
                corners: if k % 2 == 0 {
                    Corners::Mitre
                } else {
                    Corners::Round
                },
                chord_m: 0.02,
            };
            let mut at = || middle + random.between(-8.0, 8.0);
            let (x, y) = (at(), at());
            let z = level + if rule == Rule::Lower { -1.0 } else { 1.0 };
            let patch = if k % 3 == 2 {
                let line: Vec<P3> = [(0.0, 0.0), (3.0, 1.0), (5.0, -1.0), (8.0, 0.5)]
                    .iter()
                    .enumerate()
                    .map(|(i, (dx, dy))| P3 {
                        p: Point::from_m(x + dx, y + dy),
                        z: level - 0.5 - 0.1 * i as f64,
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
    // A word after `--` picks the parts whose name holds it.
    let word = std::env::args().skip(1).find(|a| !a.starts_with('-'));
    let is_wanted = |part: &str| word.as_ref().is_none_or(|word| part.contains(word));
    if is_wanted("table") {
        table();
    }
    if is_wanted("feature") {
        for facets in [10_000, 100_000, 1_000_000] {
            one_feature(facets);
        }
        if std::env::var_os("CUTBANK_TEN_MILLION").is_some() {
            one_feature(10_000_000);
        }
    }
    if is_wanted("yard") {
        a_yard_from_scratch();
    }
    if is_wanted("pair") {
        pair_of_surfaces(500_000);
    }
    if is_wanted("million") {
        a_million_points();
    }
}

fn table() {
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

/// Lays a feature on a kept surface and follows the volume, then takes both back.
fn lay_and_take_back(
    ground: &Surface,
    design: &mut Surface,
    tally: &mut Tally,
    (patch, rule): &(Patch, Rule),
) -> [f64; 3] {
    let start = Instant::now();
    let delta = design.compose(patch, *rule).unwrap().delta;
    let laid = start.elapsed();
    let old = Tally::of(ground, 0.0, design.removed_by(&delta));
    let new = Tally::of(ground, 0.0, design.added_by(&delta));
    tally.exchange(ground, design, &old, &new);
    let counted = start.elapsed();
    design.undo(delta).unwrap();
    tally.exchange(ground, design, &new, &old);
    [laid, counted - laid, start.elapsed() - counted].map(|t| t.as_secs_f64() * 1e3)
}

/// One feature on grounds of growing size: the time must not grow with them.
fn one_feature(facets: usize) {
    let shots = points("random", facets / 2);
    let before = MEMORY.current_usage();
    let ground = surface(&shots, 0);
    let bytes = (MEMORY.current_usage() - before) as f64 / ground.num_facets() as f64;
    drop(shots);
    let features = features((facets as f64 / 2.0).sqrt() / 2.0);
    let mut design = ground.clone();
    let (count_ms, fresh) = best(1, || Tally::between(&ground, 0.0, &design, &Threads(2)));
    let mut tally = fresh.clone();
    let first = lay_and_take_back(&ground, &mut design, &mut tally, &features[0]);
    let mut fastest = first;
    for _ in 0..20 {
        let times = lay_and_take_back(&ground, &mut design, &mut tally, &features[0]);
        for (fastest, time) in fastest.iter_mut().zip(times) {
            *fastest = fastest.min(time);
        }
    }
    assert!(tally == fresh, "taken back and yet not the same");
    println!(
        "one feature on {} facets: laid {:.2} ms (first time {:.2}), local volume {:.2} ms, both \
         taken back {:.2} ms; volume of all {count_ms:.1} ms on two threads; {bytes:.0} bytes a facet",
        ground.num_facets(),
        fastest[0],
        first[0],
        fastest[1],
        fastest[2],
    );
}

/// Ten features on a yard of 2,000 points: from scratch, and the last one moved.
fn a_yard_from_scratch() {
    let shots = points("random", 2_000);
    let features = features(2_000f64.sqrt() / 2.0);
    let lay = |design: &mut Surface, features: &[(Patch, Rule)]| -> Vec<Delta> {
        features
            .iter()
            .map(|(patch, rule)| design.compose(patch, *rule).unwrap().delta)
            .collect()
    };
    let (scratch, (ground, mut design, mut laid)) = best(7, || {
        let ground = surface(&shots, 0);
        let mut design = ground.clone();
        let laid = lay(&mut design, &features);
        cut_fill(&ground, &design, &OneThread);
        (ground, design, laid)
    });
    let (volume, mut tally) = best(7, || Tally::between(&ground, 0.0, &design, &OneThread));
    // The last feature is taken up and laid again, as an edit of it does.
    let mut last = laid.pop().unwrap();
    let mut moved = f64::INFINITY;
    for _ in 0..20 {
        let start = Instant::now();
        let old = Tally::of(&ground, 0.0, design.added_by(&last));
        let new = Tally::of(&ground, 0.0, design.removed_by(&last));
        design.undo(last).unwrap();
        tally.exchange(&ground, &design, &old, &new);
        last = lay(&mut design, &features[9..]).remove(0);
        let old = Tally::of(&ground, 0.0, design.removed_by(&last));
        let new = Tally::of(&ground, 0.0, design.added_by(&last));
        tally.exchange(&ground, &design, &old, &new);
        moved = moved.min(start.elapsed().as_secs_f64() * 1e3);
    }
    assert!(tally == Tally::between(&ground, 0.0, &design, &OneThread));
    println!(
        "yard of 2000 points, ten features: {scratch:.1} ms from scratch with volume, {volume:.2} ms \
         the volume alone ({} facets); one feature taken up, laid again and counted {moved:.2} ms",
        design.num_facets()
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
