//! The kernel against an independent evaluation: random surfaces, random shapes.
//!
//! What must hold after every composition: the plan area is unchanged, every facet is
//! counter-clockwise, neighbours agree, one height at one place, heights are the envelope of
//! surface and patch, and laying the same patch again changes nothing. A refusal changes nothing.
//!
//! `CUTBANK_TRIALS` (compositions to reach), `CUTBANK_MINUTES`, `CUTBANK_SEED` (the first seed) and
//! `CUTBANK_THREADS` make a campaign of it; every failure names its seed.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    unreachable_pub,
    missing_docs
)]

mod common;
#[path = "kernel/envelope.rs"]
mod envelope;
#[path = "kernel/shapes.rs"]
mod shapes;

use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use common::{Random, surface};
use cutbank::files::OneThread;
use cutbank::geom::{P3, Point, orient};
use cutbank::surface::{ComposeError, Surface, cut_fill};
use envelope::{Flats, Range, laid, surface_range};
use shapes::{Lay, crowded_yard, feature, ground, moved};

/// Lattice units a height may lie aside of where it belongs, after one composition.
const ASIDE_UNITS: [f64; 12] = [
    4.0, 8.0, 16.0, 32.0, 64.0, 128.0, 1024.0, 4096.0, 16384.0, 65536.0, 262144.0, 1e7,
];

/// Height that rounding may take besides, metres.
const ROUNDING_M: f64 = 4.0e-9;

/// Compositions (seed, step) known to change something when laid again, heights right both times:
/// a ribbon that ends over a step of 20 micrometres. The cause is open.
const CHANGED_AGAIN: [(u64, usize); 1] = [(367, 3)];

#[derive(Default)]
struct Tally {
    composed: u64,
    unchanged: u64,
    open: u64,
    tiny: u64,
    refused: Vec<(u64, usize, String)>,
    refusals: BTreeMap<&'static str, u64>,
    faults: Vec<String>,
    aside: [u64; 13],
    /// Worst height off, over 1 + the steepest slope that took part, metres.
    worst: (f64, u64),
    slowest: (f64, u64),
}

impl Tally {
    fn add(&mut self, other: Tally) {
        self.composed += other.composed;
        self.unchanged += other.unchanged;
        self.open += other.open;
        self.tiny += other.tiny;
        self.refused.extend(other.refused);
        for (kind, count) in other.refusals {
            *self.refusals.entry(kind).or_default() += count;
        }
        self.faults.extend(other.faults);
        for (sum, n) in self.aside.iter_mut().zip(other.aside) {
            *sum += n;
        }
        if other.worst.0 > self.worst.0 {
            self.worst = other.worst;
        }
        if other.slowest.0 > self.slowest.0 {
            self.slowest = other.slowest;
        }
    }
}

fn kind(error: &ComposeError) -> &'static str {
    match error {
        ComposeError::OpenRim { .. } => "open rim",
        ComposeError::Unsettled { .. } => "unsettled",
        ComposeError::AreaChanged { .. } => "area",
        ComposeError::Spreads { .. } => "spreads",
        ComposeError::Triangulation(_) => "triangulation",
        ComposeError::WrongHeight { .. } => "wrong height",
        ComposeError::TooSteep { .. } => "too steep",
    }
}

/// Lays a sequence of features on a ground.
fn trial(seed: u64, tally: &mut Tally) {
    let mut random = Random(seed);
    let mut points = ground(&mut random);
    let is_far = random.below(4) == 0;
    let origin = if is_far {
        Point::from_m(500_000.0, 4_600_000.0)
    } else {
        Point::default()
    };
    let mut yard: Surface = {
        let shots: Vec<P3> = points
            .iter()
            .map(|c| P3 {
                p: Point::new(c.p.x + origin.x, c.p.y + origin.y),
                z: c.z,
            })
            .collect();
        surface(&shots, 0)
    };
    points.dedup_by_key(|c| c.p);
    for step in 0..1 + random.below(8) as usize {
        for lay in feature(&mut random, &points) {
            let lay = if is_far { moved(&lay, origin) } else { lay };
            compose(seed, step, &mut yard, &lay, &mut random, tally);
        }
    }
}

fn compose(
    seed: u64,
    step: usize,
    yard: &mut Surface,
    lay: &Lay,
    random: &mut Random,
    tally: &mut Tally,
) {
    let before = yard.clone();
    let start = Instant::now();
    let done = yard.compose(&lay.patch, lay.rule);
    let seconds = start.elapsed().as_secs_f64();
    if seconds > tally.slowest.0 {
        tally.slowest = (seconds, seed);
    }
    let mut fault = |what: String| {
        tally
            .faults
            .push(format!("seed {seed} step {step}: {what}"))
    };
    match done {
        Err(error) => {
            if !same(&before, yard) {
                fault(format!("refused ({error:?}) and yet changed"));
            }
            if lay.is_open && matches!(error, ComposeError::OpenRim { .. }) {
                tally.open += 1;
                return;
            }
            if lay.is_tiny {
                tally.tiny += 1;
                return;
            }
            *tally.refusals.entry(kind(&error)).or_default() += 1;
            tally.refused.push((seed, step, format!("{error:?}")));
            return;
        }
        Ok(done) => {
            tally.composed += 1;
            if done.added == 0 {
                tally.unchanged += 1;
            }
        }
    }
    if let Err(words) = yard.check_consistent() {
        fault(words);
    }
    let (a, b) = (before.twice_area_nm2(), yard.twice_area_nm2());
    // Vertices added on the outer rim are rounded to the lattice: under 1e-9 of the area.
    if (a - b).unsigned_abs() as f64 > 1e-9 * a as f64 {
        fault(format!("area {a} -> {b}"));
    }
    check_heights(seed, step, &before, lay, yard, random, tally);
    let is_known = CHANGED_AGAIN.contains(&(seed, step));
    let again = yard.clone();
    let what = match yard.compose(&lay.patch, lay.rule) {
        Err(error) => Some(format!("again: {error}")),
        Ok(done) if (done.removed, done.added) != (0, 0) && !is_known => {
            Some(format!("again: {} out, {} in", done.removed, done.added))
        }
        Ok(_) => None,
    };
    if let Some(what) = what {
        tally
            .faults
            .push(format!("seed {seed} step {step}: {what}"));
        *yard = again;
    }
}

/// Bit by bit the same.
fn same(a: &Surface, b: &Surface) -> bool {
    let bits = |s: &Surface, f: u32| s.corners(f).map(|c| (c.p, c.z.to_bits()));
    a.num_facets() == b.num_facets()
        && a.facets().eq(b.facets())
        && a.facets().all(|f| {
            bits(a, f) == bits(b, f)
                && a.neighbours(f) == b.neighbours(f)
                && a.source(f) == b.source(f)
        })
}

fn check_heights(
    seed: u64,
    step: usize,
    before: &Surface,
    lay: &Lay,
    after: &Surface,
    random: &mut Random,
    tally: &mut Tally,
) {
    let old = Flats::of_surface(before);
    let pieces = Flats::of_patch(&lay.patch);
    let range = |p: Point, r: f64| -> Option<Range> {
        let under = surface_range(&old, p, r)?;
        Some(laid(under, &pieces, lay.rule, lay.anchor, p, r))
    };
    for f in after.facets() {
        if before.is_facet(f) && before.corners(f) == after.corners(f) {
            continue;
        }
        let plane = &after.source(f).plane;
        let c = after.corners(f).map(|c| c.p);
        let centre = [1.0 / 3.0; 2];
        let (u, v) = (random.between(0.0, 1.0), random.between(0.0, 1.0));
        let inner = if u + v > 1.0 {
            [1.0 - u, 1.0 - v]
        } else {
            [u, v]
        };
        for [u, v] in [centre, inner] {
            let mix = |a: i64, b: i64, d: i64| {
                a + (u * (b - a) as f64 + v * (d - a) as f64).round() as i64
            };
            let p = Point::new(mix(c[0].x, c[1].x, c[2].x), mix(c[0].y, c[1].y, c[2].y));
            let got = plane.z_at(p);
            let rung = ASIDE_UNITS.iter().position(|&r| {
                range(p, r).is_some_and(|range| {
                    range.off(got) <= ROUNDING_M + r * 1e-9 * plane.steepness()
                })
            });
            tally.aside[rung.unwrap_or(12)] += 1;
            let is_thin = thickness(c) <= THIN_UNITS
                && range(p, 4.0)
                    .is_some_and(|range| range.off(got) <= 4e-9 * (1.0 + range.steepest));
            if !is_thin && rung.is_none_or(|rung| rung > 1) {
                let what = range(p, 4.0);
                tally.faults.push(format!(
                    "seed {seed} step {step}: {got} at {p:?} facet {f} label {} slope {:.3e}, range {what:?}, rung {rung:?} {:?} {:?}",
                    after.label(f), plane.steepness(), c.map(|c| (c.x - p.x, c.y - p.y)), before.facet_at(p).map(|g| (before.label(g), before.source(g).plane.slope))
                ));
            }
            if rung != Some(0) {
                let Some(exact) = range(p, 1.0) else { continue };
                let worst = exact.off(got) / (1.0 + exact.steepest.max(plane.steepness()));
                if worst > tally.worst.0 {
                    tally.worst = (worst, seed);
                }
            }
        }
    }
}

/// Facets thinner than this may be cracks where rounded lines meet: their heights are held to the
/// slope of the steepest plane there.
const THIN_UNITS: f64 = 2.0;

fn thickness(c: [Point; 3]) -> f64 {
    let longest = (0..3)
        .map(|k| (c[k], c[(k + 1) % 3]))
        .map(|(a, b)| ((b.x - a.x) as f64).hypot((b.y - a.y) as f64))
        .fold(0.0, f64::max);
    orient(c[0], c[1], c[2]) as f64 / longest
}

fn asked(variable: &str, usual: u64) -> u64 {
    let text = std::env::var(variable).ok();
    text.map_or(usual, |text| text.parse().unwrap())
}

/// Runs trials on threads until so many patches are composed; prints what happened, and panics
/// if anything was wrong.
fn run(name: &str, wanted: u64, first: u64, trial: impl Fn(u64, &mut Tally) + Sync) -> Tally {
    let next = AtomicU64::new(0);
    let composed = AtomicU64::new(0);
    let all = Mutex::new(Tally::default());
    let start = Instant::now();
    let limit = Duration::from_secs(60 * asked("CUTBANK_MINUTES", 600));
    std::thread::scope(|scope| {
        for _ in 0..asked("CUTBANK_THREADS", 2) {
            scope.spawn(|| {
                while composed.load(Ordering::Relaxed) < wanted && start.elapsed() < limit {
                    let seed = first + next.fetch_add(1, Ordering::Relaxed);
                    let mut tally = Tally::default();
                    let run = std::panic::AssertUnwindSafe(|| trial(seed, &mut tally));
                    if std::panic::catch_unwind(run).is_err() {
                        tally.faults.push(format!("seed {seed}: panic"));
                    }
                    composed.fetch_add(tally.composed, Ordering::Relaxed);
                    all.lock().unwrap().add(tally);
                }
            });
        }
    });
    let mut tally = all.into_inner().unwrap();
    tally.faults.sort();
    tally.refused.sort();
    println!(
        "{name}: {} composed ({} unchanged; refused {} that end in the air, {} tiny ones) in {:.0} s, \
         refused {:?}, worst {:.1} units (seed {}), slowest {:.3} s (seed {})",
        tally.composed,
        tally.unchanged,
        tally.open,
        tally.tiny,
        start.elapsed().as_secs_f64(),
        tally.refusals,
        tally.worst.0 * 1e9,
        tally.worst.1,
        tally.slowest.0,
        tally.slowest.1
    );
    println!("aside {:?} of {ASIDE_UNITS:?}", tally.aside);
    for (seed, step, error) in &tally.refused {
        println!("  refused: seed {seed} step {step}: {error}");
    }
    for fault in &tally.faults {
        println!("  {fault}");
    }
    assert!(tally.faults.is_empty(), "{} faults", tally.faults.len());
    tally
}

#[test]
fn random_compositions_are_right_or_refused() {
    let wanted = asked("CUTBANK_TRIALS", 20_000);
    let tally = run("compositions", wanted, asked("CUTBANK_SEED", 0), trial);
    // One in 10,000: `what_failed_once_holds` has one.
    assert!(tally.refused.len() as u64 <= 1 + wanted / 10_000);
}

/// Ten features over one another, on up to 2,000 shots.
#[test]
fn crowded_yards_are_right_or_refused() {
    let wanted = asked("CUTBANK_YARDS", 30) * 9;
    let tally = run("yards", wanted, asked("CUTBANK_SEED", 0), |seed, tally| {
        let mut random = Random(seed);
        let (shots, lays) = crowded_yard(&mut random);
        let mut yard = surface(&shots, 0);
        for (step, lay) in lays.iter().enumerate() {
            compose(seed, step, &mut yard, lay, &mut random, tally);
        }
    });
    assert!(tally.refused.is_empty());
}

/// What went wrong once: wrong heights beside near-vertical faces, shapes that changed something
/// when laid again, and false refusals.
#[test]
fn what_failed_once_holds() {
    const SEEDS: [u64; 37] = [
        102, 117, 132, 197, 239, 271, 537, 577, 633, 899, 975, 1074, 1103, 1154, 1188, 1367, 1418,
        1633, 1952, 2374, 2520, 2703, 3508, 3976, 4147, 4170, 4682, 5437, 6412, 6860, 9229, 9339,
        9976, 10_300, 1694, 3385, 367,
    ];
    let mut tally = Tally::default();
    for seed in SEEDS {
        trial(seed, &mut tally);
    }
    assert!(tally.faults.is_empty(), "{:#?}", tally.faults);
    // One is known to be refused: a gap of 0.1 micrometres at the end of a ribbon.
    let refused: Vec<(u64, usize)> = tally.refused.iter().map(|r| (r.0, r.1)).collect();
    assert!(
        refused.iter().all(|r| *r == (1694, 3)),
        "{:#?}",
        tally.refused
    );
}

/// What a campaign found and nobody has mended: false refusals, heights some nanometres farther
/// aside than they should be, shapes that change some facets when laid again. None may get worse.
#[test]
fn what_is_still_open_stays_small() {
    const SEEDS: [u64; 33] = [
        1_000_219, 1_002_371, 1_004_427, 1_005_167, 1_006_234, 1_007_229, 1_008_672, 1_009_124,
        1_009_803, 1_010_683, 1_010_883, 1_011_207, 1_011_437, 1_015_961, 1_017_061, 1_019_735,
        1_020_227, 1_023_731, 1_025_131, 1_026_719, 1_026_847, 1_027_172, 1_033_120, 1_041_447,
        1_041_708, 1_042_068, 1_042_353, 1_043_471, 1_043_534, 1_046_231, 367, 1_694, 9_229,
    ];
    // Those of a million compositions from seed 7,000,000 on.
    const OF_A_MILLION: [u64; 108] = [
        7_000_956, 7_002_541, 7_005_775, 7_006_242, 7_008_015, 7_015_298, 7_015_746, 7_017_296,
        7_017_412, 7_017_692, 7_019_395, 7_019_548, 7_019_927, 7_021_146, 7_021_320, 7_022_953,
        7_023_713, 7_023_837, 7_026_647, 7_028_118, 7_028_786, 7_029_115, 7_033_535, 7_036_142,
        7_039_190, 7_040_488, 7_041_150, 7_044_389, 7_046_400, 7_047_060, 7_048_348, 7_050_984,
        7_053_392, 7_057_417, 7_057_712, 7_057_779, 7_061_046, 7_061_086, 7_061_703, 7_062_192,
        7_062_445, 7_064_984, 7_066_004, 7_066_524, 7_068_172, 7_069_388, 7_069_655, 7_072_199,
        7_072_352, 7_077_353, 7_077_478, 7_079_630, 7_080_547, 7_080_900, 7_081_295, 7_081_958,
        7_083_195, 7_085_124, 7_085_197, 7_089_681, 7_091_111, 7_094_873, 7_097_202, 7_098_500,
        7_103_890, 7_105_366, 7_107_258, 7_111_470, 7_112_006, 7_113_508, 7_116_445, 7_117_531,
        7_118_579, 7_120_863, 7_121_587, 7_125_847, 7_126_917, 7_128_220, 7_128_399, 7_128_999,
        7_129_463, 7_132_916, 7_134_845, 7_136_821, 7_137_962, 7_138_677, 7_138_965, 7_142_744,
        7_147_318, 7_148_648, 7_150_468, 7_151_105, 7_151_596, 7_152_121, 7_152_628, 7_156_056,
        7_158_711, 7_159_277, 7_160_683, 7_164_116, 7_164_540, 7_166_708, 7_171_104, 7_171_406,
        7_174_380, 7_175_384, 7_175_586, 7_177_075,
    ];
    let mut tally = Tally::default();
    for seed in SEEDS.into_iter().chain(OF_A_MILLION) {
        trial(seed, &mut tally);
    }
    println!("{} refused, {:#?}", tally.refused.len(), tally.faults);
    assert!(tally.refused.len() <= 107 && tally.faults.len() <= 47);
    // Metres over (1 + the steepest slope there).
    assert!(tally.worst.0 <= 20.0e-9, "{:?}", tally.worst);
}

/// What a weld of a micrometre may change: nothing thinner is left, the plan holds together, and
/// the volume moves by less than the weld times the area of all faces.
#[test]
fn welded_surfaces_have_no_slivers() {
    const WELD_NM: i64 = 1_000;
    let (mut before, mut left, mut facets) = (0, 0, 0);
    for seed in 0..asked("CUTBANK_WELDS", 300) {
        let mut random = Random(seed);
        let shots = ground(&mut random);
        let mut yard = surface(&shots, 0);
        for _ in 0..1 + random.below(8) {
            for lay in feature(&mut random, &shots) {
                let _ = yard.compose(&lay.patch, lay.rule);
            }
        }
        let welded = yard.welded(WELD_NM).unwrap();
        welded
            .check_consistent()
            .unwrap_or_else(|e| panic!("seed {seed}: {e}"));
        before += yard.thinner_than(WELD_NM);
        left += welded.thinner_than(WELD_NM);
        facets += yard.num_facets();
        // By the heights of its vertices, as an exported surface is read.
        let plain = |s: &Surface| {
            let triangles: Vec<[u32; 3]> = s.facets().map(|f| s.vertex_ids(f)).collect();
            Surface::from_triangles(s.vertices().to_vec(), &triangles, 0).unwrap()
        };
        let moved = cut_fill(&yard, &plain(&welded), &OneThread).total;
        let facts = yard.facts().unwrap();
        let limit = WELD_NM as f64 * 1e-9 * (facts.area_m2 + facts.surface_area_m2);
        assert!(
            moved.cut_m3 + moved.fill_m3 <= limit,
            "seed {seed}: {moved:?}, limit {limit:e}"
        );
        let again = welded.welded(WELD_NM).unwrap();
        assert_eq!(again.num_facets(), welded.num_facets(), "seed {seed}");
    }
    println!("{before} of {facets} facets were thinner, {left} are left");
    assert!(before > 0);
    assert!(left < before / 2);
}
