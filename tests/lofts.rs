//! Sections drawn along a line: closed forms, the same bed built another way, random lines.
#![allow(clippy::unwrap_used)]

mod common;

use approx::assert_relative_eq;
use common::{Random, plane_ground, surface};
use cutbank::design::shape::{
    BendFault, CentreLine, Corners, Ends, FACE_RUN_PER_RISE, Loft, RibbonLabels, Rounding, Section,
    Sides, Skirt, ribbon,
};
use cutbank::files::OneThread;
use cutbank::geom::{P3, Point, distance_m};
use cutbank::surface::{LabelledCutFill, Patch, Rule, Surface, cut_fill};

const BED: u32 = 1;
const RIGHT: u32 = 2;
const LEFT: u32 = 3;
const ENDS: [u32; 2] = [4, 5];

fn sides(rule: Rule, run_per_rise: f64) -> Sides {
    Sides {
        rule,
        run_per_rise,
        limit_z_m: if rule == Rule::Lower { 2.0 } else { -2.0 },
        corners: Corners::Mitre,
        chord_m: 0.01,
    }
}

fn skirt(run: f64, ends: f64) -> Skirt {
    Skirt {
        sides: [run; 2],
        ends: [ends; 2],
        end_labels: ENDS,
    }
}

fn points(line: &[[f64; 2]]) -> Vec<Point> {
    line.iter().map(|&[x, y]| Point::from_m(x, y)).collect()
}

/// A bed level across of one width, its level straight between stations.
fn bed(line: &CentreLine, half: f64, levels: &[(f64, f64)]) -> Result<Loft, BendFault> {
    let sections: Vec<Section> = levels
        .iter()
        .map(|&(at_m, z)| Section {
            at_m,
            across: vec![[-half, z], [0.0, z], [half, z]],
            labels: vec![RIGHT, BED, BED, LEFT],
        })
        .collect();
    Loft::new(line, &sections)
}

fn laid(ground: &Surface, patch: &Patch, rule: Rule) -> LabelledCutFill {
    let mut design = ground.clone();
    design.compose(patch, rule).unwrap();
    design.check_consistent().unwrap();
    cut_fill(ground, &design, &OneThread)
}

#[test]
fn a_level_bent_trench_is_section_times_length() {
    // Upright sides lean by FACE; the mitre adds outside what it takes away inside.
    let (half, d, s) = (0.6, 1.0, 1.5);
    let line = CentreLine::straight(&points(&[
        [0.0, 0.0],
        [12.0, 0.0],
        [20.0, 9.0],
        [20.0, 22.0],
        [9.0, 30.0],
    ]));
    let length = line.length_m();
    let loft = bed(&line, half, &[(0.0, -d), (length, -d)]).unwrap();
    let ground = plane_ground(0.0, 0.0, 0.0, -20.0, 50.0);
    let v = laid(
        &ground,
        &loft.patch(&sides(Rule::Lower, s), &skirt(s, s)),
        Rule::Lower,
    );
    // The ends: a wedge of the width and two mitred corners each.
    let want = (2.0 * half * d + s * d * d) * length
        + 2.0 * (half * s * d * d + 2.0 * s * s * d * d * d / 3.0);
    assert_relative_eq!(v.total.cut_m3, want, max_relative = 1e-9);
    let bed_m3 = v.by_label[&BED].cut_m3;
    assert_relative_eq!(bed_m3, 2.0 * half * d * length, max_relative = 1e-9);
}

fn random_line(random: &mut Random, count: usize, sharp: f64) -> Vec<[f64; 2]> {
    let mut at = [0.0, 0.0];
    let mut heading = random.between(0.0, 6.28);
    let mut line = vec![at];
    for _ in 1..count {
        let step = random.between(0.8, 4.0);
        at = [at[0] + step * heading.cos(), at[1] + step * heading.sin()];
        line.push(at);
        heading += random.between(-sharp, sharp);
    }
    line
}

/// The same level bed as strips that overlap inside the bends and mitred wedges outside.
#[test]
fn a_level_bed_agrees_with_overlapping_strips() {
    let mut random = Random(7);
    let mut compared = 0;
    for _ in 0..150 {
        let half = random.between(0.2, 1.0);
        let s = random.between(0.3, 2.5);
        let line = points(&random_line(&mut random, 6, 1.5));
        let centre = CentreLine::straight(&line);
        // In a stretch shorter than that the strips themselves reach past one another.
        let shortest = line
            .windows(2)
            .map(|w| distance_m(w[0], w[1]))
            .fold(f64::INFINITY, f64::min);
        let half = half.min(shortest);
        let z = -random.between(0.3, 1.5);
        let Ok(loft) = bed(&centre, half, &[(0.0, z), (centre.length_m(), z)]) else {
            continue;
        };
        let ground = plane_ground(0.0, 0.0, 0.0, -60.0, 60.0);
        let got = laid(
            &ground,
            &loft.patch(&sides(Rule::Lower, s), &skirt(s, s)),
            Rule::Lower,
        );
        let at: Vec<P3> = line.iter().map(|&p| P3 { p, z }).collect();
        let labels = RibbonLabels {
            middle: BED,
            left: LEFT,
            right: RIGHT,
            ends: ENDS,
        };
        let strips = ribbon(
            &at,
            2.0 * half,
            [Ends::Slope; 2],
            labels,
            &sides(Rule::Lower, s),
        );
        let want = laid(&ground, &strips, Rule::Lower);
        assert_relative_eq!(got.total.cut_m3, want.total.cut_m3, max_relative = 1e-8);
        compared += 1;
    }
    assert!(compared > 120, "{compared}");
}

/// Beds with falls and drops round any bends on rough ground: laid or refused by the bed, never
/// an open edge; and the ground is never higher than the bed where the bed is deep enough.
#[test]
fn graded_beds_round_any_bend_have_no_open_edge() {
    let trials: u64 = std::env::var("CUTBANK_TRIALS").map_or(30, |t| t.parse().unwrap());
    let (mut done, mut refused, mut open) = (0, 0, Vec::new());
    for seed in 0..trials {
        let mut random = Random(1000 + seed);
        let half = random.between(0.2, 1.0);
        let s = if seed % 3 == 0 {
            0.0
        } else {
            random.between(0.3, 2.5)
        };
        let line = points(&random_line(&mut random, 7, 1.4));
        let rounding = Rounding {
            radii_m: vec![if seed % 2 == 0 { 0.0 } else { half * 1.1 }; line.len()],
            through: Vec::new(),
            chord_m: 0.01,
            beside_m: half,
        };
        let Ok(centre) = CentreLine::new(&line, &rounding) else {
            refused += 1;
            continue;
        };
        let (mut levels, mut at, mut z) = (vec![(0.0, -0.5)], 0.0, -0.5);
        while at < centre.length_m() {
            let step = random.between(0.3, 3.0);
            at = (at + step).min(centre.length_m());
            z -= step * random.between(0.0, 0.15);
            levels.push((at, z));
            let drop = random.between(0.05, 0.8);
            let run = drop * [FACE_RUN_PER_RISE, 0.5][random.below(2) as usize];
            if random.below(3) == 0 && at + run < centre.length_m() {
                (at, z) = (at + run, z - drop);
                levels.push((at, z));
            }
        }
        let Ok(loft) = bed(&centre, half, &levels) else {
            refused += 1;
            continue;
        };
        let ground: Vec<P3> = (0..40 * 40)
            .map(|k| P3 {
                p: Point::from_m(
                    f64::from(k % 40) * 3.0 - 60.0 + random.between(0.0, 1.5),
                    f64::from(k / 40) * 3.0 - 60.0 + random.between(0.0, 1.5),
                ),
                z: random.between(0.0, 1.0),
            })
            .collect();
        let ground = surface(&ground, 0);
        let mut design = ground.clone();
        let ends = if seed % 5 == 0 { 0.0 } else { s };
        let patch = loft.patch(&sides(Rule::Lower, s), &skirt(s, ends));
        match design.compose(&patch, Rule::Lower) {
            Ok(_) => {
                design.check_consistent().unwrap();
                done += 1;
            }
            Err(error) => open.push((seed, error)),
        }
    }
    assert!(open.is_empty(), "{} of {done}: {open:?}", open.len());
    assert!(done > trials / 4, "{done} laid, {refused} refused");
}
