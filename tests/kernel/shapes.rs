//! Random grounds and shapes to lay on them.

use cutbank::design::shape::{
    Corners, Ends, FACE_RUN_PER_RISE, RibbonLabels, Sides, floor_with_sides, ribbon,
};
use cutbank::geom::{P3, Point, Ring};
use cutbank::surface::{Label, Patch, Rule};

use crate::common::Random;

/// Side of a ground, metres.
const SIDE: f64 = 30.0;

fn at(x: f64, y: f64, z: f64) -> P3 {
    P3 {
        p: Point::from_m(x, y),
        z,
    }
}

/// A ground of one of six kinds.
pub fn ground(random: &mut Random) -> Vec<P3> {
    let kind = random.below(6);
    let n = 20 + random.below(40) as usize;
    let mut place = {
        let mut random = Random(random.next());
        move || (random.between(0.0, SIDE), random.between(0.0, SIDE))
    };
    match kind {
        // Random.
        0 => (0..n)
            .map(|_| place())
            .map(|(x, y)| at(x, y, random.between(9.0, 11.0)))
            .collect(),
        // Flat.
        1 => (0..n)
            .map(|_| place())
            .map(|(x, y)| at(x, y, 10.0))
            .collect(),
        // A regular lattice.
        2 => (0..49)
            .map(|i| (f64::from(i % 7) * 5.0, f64::from(i / 7) * 5.0))
            .map(|(x, y)| at(x, y, random.between(9.5, 10.5)))
            .collect(),
        // Nearly straight rows, their points within a millimetre.
        3 => (0..n)
            .map(|i| (place().0, (i % 4) as f64 * 10.0))
            .map(|(x, y)| {
                let wave = random.between(0.0, 0.001);
                at(x, y + wave, random.between(9.5, 10.5))
            })
            .collect(),
        // Tilted.
        4 => (0..n)
            .map(|_| place())
            .map(|(x, y)| at(x, y, 10.0 + 0.05 * x - 0.03 * y))
            .collect(),
        // Pairs up to 2 mm apart.
        _ => (0..n / 2)
            .flat_map(|_| {
                let (x, y) = place();
                let z = random.between(9.5, 10.5);
                let (dx, dy) = (random.between(0.0, 0.002), random.between(0.0, 0.002));
                let beside = at(x + dx, y + dy, z + random.between(-0.001, 0.001));
                [at(x, y, z), beside]
            })
            .collect(),
    }
}

/// A patch to lay, how, and its anchor.
pub struct Lay {
    pub patch: Patch,
    pub rule: Rule,
    pub anchor: Option<Label>,
    /// True if it may end in the air, so that it may have to be refused.
    pub is_open: bool,
    /// True for an outline of micrometres to millimetres, which may be refused.
    pub is_tiny: bool,
}

/// Labels of the parts; the floor may be an anchor.
const FLOOR: Label = 1;

/// Slopes of sides, run per rise: near-vertical, 1 mm of run in all, battered, earth.
fn run_per_rise(random: &mut Random, rise: f64) -> f64 {
    match random.below(10) {
        0..=2 => FACE_RUN_PER_RISE,
        3 => 0.001 / rise,
        4 => random.between(0.02, 0.3),
        5 => 0.5,
        6 => 1.0,
        7 => 1.5,
        8 => 2.0,
        _ => 3.0,
    }
}

fn sides(random: &mut Random, rule: Rule, z: f64) -> Sides {
    let limit_z_m = if rule == Rule::Lower { 12.6 } else { 7.4 };
    Sides {
        rule,
        run_per_rise: run_per_rise(random, (limit_z_m - z).abs()),
        limit_z_m,
        corners: if random.below(2) == 0 {
            Corners::Mitre
        } else {
            Corners::Round
        },
        chord_m: 0.1,
    }
}

/// An outline: convex and reflex, on whole metres, sharing the ground's vertices, sticking out
/// over the edge, tiny.
fn outline(random: &mut Random, ground: &[P3]) -> (Option<Ring>, bool) {
    let kind = random.below(9);
    let corners: Vec<Point> = match kind {
        0..=2 => {
            let (x, y) = (
                random.between(-2.0, SIDE + 2.0),
                random.between(-2.0, SIDE + 2.0),
            );
            let count = 3 + random.below(6);
            (0..count)
                .map(|k| {
                    let angle = std::f64::consts::TAU * k as f64 / count as f64;
                    let r = random.between(0.7, 4.0);
                    Point::from_m(x + r * angle.cos(), y + r * angle.sin())
                })
                .collect()
        }
        3 | 4 => {
            let (x, y) = (random.below(25) as f64, random.below(25) as f64);
            let (w, h) = (1.0 + random.below(8) as f64, 1.0 + random.below(8) as f64);
            [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
                .map(|(x, y)| Point::from_m(x, y))
                .to_vec()
        }
        5 | 6 => (0..3 + random.below(2))
            .map(|_| ground[random.below(ground.len() as u64) as usize].p)
            .collect(),
        7 => {
            let (x, y) = (random.between(0.0, 20.0), random.between(0.0, 20.0));
            let arm = [
                (0.0, 0.0),
                (6.0, 0.0),
                (6.0, 2.5),
                (2.5, 2.5),
                (2.5, 7.0),
                (0.0, 7.0),
            ];
            arm.map(|(dx, dy)| Point::from_m(x + dx, y + dy)).to_vec()
        }
        _ => {
            // From micrometres to millimetres.
            let (x, y) = (random.between(0.0, SIDE), random.between(0.0, SIDE));
            let scale = 10.0_f64.powf(random.between(-7.0, -2.0));
            (0..3 + random.below(3))
                .map(|_| {
                    let (dx, dy) = (random.between(0.0, scale), random.between(0.0, scale));
                    Point::from_m(x + dx, y + dy)
                })
                .collect()
        }
    };
    (Ring::new(&corners).ok(), kind == 8)
}

/// The line of a ribbon with levels.
fn line(random: &mut Random, z: f64) -> Vec<P3> {
    let mut line = vec![at(random.between(0.0, SIDE), random.between(0.0, SIDE), z)];
    for _ in 0..1 + random.below(4) {
        let last = line[line.len() - 1];
        let step = Point::from_m(random.between(-5.0, 5.0), random.between(-5.0, 5.0));
        line.push(P3 {
            p: Point::new(last.p.x + step.x, last.p.y + step.y),
            z: last.z + random.between(-0.2, 0.2),
        });
    }
    line
}

fn level(random: &mut Random, rule: Rule) -> f64 {
    match (random.below(5), rule) {
        // Exactly at the level of a flat ground.
        (0, _) => 10.0,
        // On whole decimetres: floors of several features at one level.
        (1, _) => 9.0 + random.below(20) as f64 / 10.0,
        (_, Rule::Lower) => random.between(8.2, 10.2),
        (_, Rule::Raise) => random.between(9.8, 11.8),
    }
}

/// One or two patches: a dig, a fill, or a pad that replaces what was there.
pub fn feature(random: &mut Random, ground: &[P3]) -> Vec<Lay> {
    let rule = if random.below(2) == 0 {
        Rule::Lower
    } else {
        Rule::Raise
    };
    let z = level(random, rule);
    let rules = match random.below(4) {
        0 => vec![Rule::Lower, Rule::Raise],
        _ => vec![rule],
    };
    let is_ribbon = random.below(4) == 0;
    let has_anchor = random.below(5) == 0;
    let (ring, is_tiny) = outline(random, ground);
    let line = line(random, z);
    let width = random.between(0.4, 2.0);
    let ends = [(); 2].map(|()| {
        if random.below(2) == 0 {
            Ends::Square
        } else {
            Ends::Slope
        }
    });
    let mut lay = Vec::new();
    for rule in rules {
        let sides = sides(random, rule, z);
        let mut patch = match (&ring, is_ribbon) {
            (Some(ring), false) => floor_with_sides(ring, z, FLOOR, &sides, &mut |_| 2),
            (None, false) => Patch::new(),
            (_, true) => {
                let labels = RibbonLabels {
                    middle: FLOOR,
                    left: 2,
                    right: 3,
                    ends: [4, 5],
                };
                ribbon(&line, width, ends, labels, &sides)
            }
        };
        if has_anchor {
            patch.anchor(FLOOR);
        }
        lay.push(Lay {
            patch,
            rule,
            anchor: has_anchor.then_some(FLOOR),
            is_open: false,
            is_tiny: is_tiny && !is_ribbon,
        });
    }
    // Exactly on the ground: three shots of it as a piece, or a little below them.
    if random.below(20) == 0 {
        let drop = if random.below(2) == 0 { 0.0 } else { 0.3 };
        let pick = [(); 3].map(|()| ground[random.below(ground.len() as u64) as usize]);
        let mut patch = Patch::new();
        patch.add(&pick.map(|c| P3 { z: c.z - drop, ..c }), FLOOR);
        lay.push(Lay {
            patch,
            rule: Rule::Lower,
            anchor: None,
            is_open: true,
            is_tiny: false,
        });
    }
    lay
}

/// The same patch moved in plan.
pub fn moved(lay: &Lay, by: Point) -> Lay {
    let mut patch = Patch::new();
    for (corners, label) in lay.patch.triangles() {
        let corners = corners.map(|c| P3 {
            p: Point::new(c.p.x + by.x, c.p.y + by.y),
            z: c.z,
        });
        patch.add(&corners, label);
    }
    if let Some(label) = lay.anchor {
        patch.anchor(label);
    }
    Lay { patch, ..*lay }
}

/// A yard of 200 to 2,000 shots and features about its middle: basins, berms and streams over one
/// another, sides of earth, round corners fine.
pub fn crowded_yard(random: &mut Random) -> (Vec<P3>, Vec<Lay>) {
    let n = 200 + random.below(1_800) as usize;
    let side = (n as f64).sqrt();
    let kind = random.below(3);
    let shots: Vec<P3> = (0..n)
        .map(|i| {
            let (x, y) = match kind {
                0 => (random.between(0.0, side), random.between(0.0, side)),
                1 => ((i % side as usize) as f64, (i / side as usize) as f64),
                // Rows almost straight, within a millimetre.
                _ => (
                    random.between(0.0, side),
                    (i % 64) as f64 * side / 64.0 + random.between(0.0, 0.001),
                ),
            };
            let z = 10.0 - 0.03 * x + 0.5 * (x / 7.0).sin() * (y / 9.0).cos();
            at(x, y, z + random.between(-0.01, 0.01))
        })
        .collect();
    let lays = (0..8 + random.below(3) as u32)
        .map(|k| {
            let rule = [Rule::Lower, Rule::Raise][usize::from(random.below(3) == 0)];
            let sides = Sides {
                rule,
                run_per_rise: [1.0, 1.5, 2.0][random.below(3) as usize],
                limit_z_m: if rule == Rule::Lower { 13.0 } else { 6.0 },
                corners: [Corners::Mitre, Corners::Round][random.below(2) as usize],
                chord_m: 0.02,
            };
            let mut near = || side / 2.0 + random.between(-8.0, 8.0);
            let (x, y) = (near(), near());
            let patch = if random.below(3) == 0 {
                let points = [(0.0, 0.0), (3.0, 1.0), (5.0, -1.0), (8.0, 0.5)];
                let line: Vec<P3> = points
                    .iter()
                    .enumerate()
                    .map(|(i, (dx, dy))| at(x + dx, y + dy, 9.5 - 0.1 * i as f64))
                    .collect();
                let labels = RibbonLabels {
                    middle: 10 * k + 1,
                    left: 10 * k + 2,
                    right: 10 * k + 3,
                    ends: [10 * k + 4; 2],
                };
                ribbon(&line, 0.6, [Ends::Slope; 2], labels, &sides)
            } else {
                let ring = [(0.0, 0.0), (3.0, 0.0), (3.5, 2.0), (1.5, 3.0), (0.0, 2.5)]
                    .map(|(dx, dy)| Point::from_m(x + dx, y + dy));
                let z = if rule == Rule::Lower { 8.3 } else { 11.0 };
                let z = z + random.between(-0.3, 0.3);
                let floor = 10 * k + 5;
                floor_with_sides(&Ring::new(&ring).unwrap(), z, floor, &sides, &mut |_| {
                    10 * k + 6
                })
            };
            Lay {
                patch,
                rule,
                anchor: None,
                is_open: false,
                is_tiny: false,
            }
        })
        .collect();
    (shots, lays)
}
