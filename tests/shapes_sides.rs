//! Sides with a slope for every edge, along lines whose levels vary, against the planes
//! themselves and closed forms.
#![allow(clippy::unwrap_used)]

mod common;

use approx::assert_relative_eq;
use common::{Random, at, plane_ground, ring};
use cutbank::design::shape::{
    Corners, EdgeRun, FACE_RUN_PER_RISE, SidePart, Sides, floor_within, sides_along,
};
use cutbank::files::OneThread;
use cutbank::geom::{P3, Point};
use cutbank::surface::{CutFill, Patch, Rule, Surface, cut_fill};

fn sides(rule: Rule, corners: Corners, limit_z_m: f64) -> Sides {
    Sides {
        rule,
        run_per_rise: 1.0,
        limit_z_m,
        corners,
        chord_m: 0.001,
    }
}

/// A floor inside a ring with levels, and its sides.
fn shape(line: &[P3], runs: &[f64], sides: &Sides) -> Patch {
    let corners: Vec<[f64; 2]> = line.iter().map(|c| [c.p.x_m(), c.p.y_m()]).collect();
    let runs: Vec<EdgeRun> = runs.iter().map(|&run| [run; 2]).collect();
    let mut patch = Patch::new();
    floor_within(&mut patch, &ring(&corners), line, 1);
    let mut label = |part| match part {
        SidePart::Edge(edge) => 10 + edge as u32,
        SidePart::Corner(_) => 2,
        SidePart::Cheek(_) => 3,
    };
    sides_along(&mut patch, line, true, &runs, sides, &mut label);
    patch
}

fn composed(ground: &Surface, patch: &Patch, rule: Rule) -> Result<Surface, String> {
    let mut design = ground.clone();
    design
        .compose(patch, rule)
        .map_err(|e| format!("{e} at {:?}", e.at()))?;
    design.check_consistent().unwrap();
    Ok(design)
}

fn volume(ground: &Surface, patch: &Patch, rule: Rule) -> CutFill {
    cut_fill(ground, &composed(ground, patch, rule).unwrap(), &OneThread).total
}

#[test]
fn a_rectangle_with_a_slope_for_every_side() {
    // Sides of run a west, b east, c south, d north for one up: at height t the section is
    // (w + (a + b) t) by (l + (c + d) t); its integral over the depth is a polynomial.
    let (w, l, h) = (4.0, 6.0, 2.0);
    let [south, east, north, west] = [0.5, 1.0, 2.0, 1.5];
    let (p, q) = (east + west, south + north);
    let want = w * l * h + (w * q + l * p) * h * h / 2.0 + p * q * h * h * h / 3.0;
    let ground = plane_ground(0.0, 0.0, 0.0, -30.0, 30.0);
    let corner = |z: f64| [(0.0, 0.0), (w, 0.0), (w, l), (0.0, l)].map(|(x, y)| at(x, y, z));
    let runs = [south, east, north, west];
    let pit = shape(&corner(-h), &runs, &sides(Rule::Lower, Corners::Mitre, 0.0));
    let cut = volume(&ground, &pit, Rule::Lower).cut_m3;
    assert_relative_eq!(cut, want, max_relative = 1e-9);
    let heap = shape(&corner(h), &runs, &sides(Rule::Raise, Corners::Mitre, 0.0));
    let fill = volume(&ground, &heap, Rule::Raise).fill_m3;
    assert_relative_eq!(fill, want, max_relative = 1e-9);
}

#[test]
fn round_corners_go_over_from_one_slope_to_the_other() {
    // Between runs a and b at a right angle the rim is at a + (b - a) u/(pi/2) from the corner,
    // u the angle: area pi/12 (a^2 + a b + b^2) t^2 at height t, and a third of that times the
    // depth in the end. Chords of a millimetre.
    let (w, l, h) = (4.0, 6.0, 2.0);
    let runs = [0.5, 1.0, 2.0, 1.5];
    let quarter = |a: f64, b: f64| std::f64::consts::PI / 12.0 * (a * a + a * b + b * b);
    let corners: f64 = (0..4).map(|k| quarter(runs[k], runs[(k + 1) % 4])).sum();
    let edges = w * (runs[0] + runs[2]) + l * (runs[1] + runs[3]);
    let want = w * l * h + edges * h * h / 2.0 + corners * h * h * h / 3.0;
    let ground = plane_ground(0.0, 0.0, 0.0, -30.0, 30.0);
    let line = [(0.0, 0.0), (w, 0.0), (w, l), (0.0, l)].map(|(x, y)| at(x, y, -h));
    let pit = shape(&line, &runs, &sides(Rule::Lower, Corners::Round, 0.0));
    let cut = volume(&ground, &pit, Rule::Lower).cut_m3;
    assert_relative_eq!(cut, want, max_relative = 2e-4);
}

#[test]
fn a_corner_turning_inward_between_different_slopes() {
    // An L: at height t each strip is moved out by its own run; the section is that of the L
    // with its six edges moved. Runs in order of the edges; the inner corner is between the
    // third and the fourth.
    let l = [
        (10.0, 10.0),
        (18.0, 10.0),
        (18.0, 13.0),
        (13.0, 13.0),
        (13.0, 20.0),
        (10.0, 20.0),
    ];
    let runs = [0.5, 1.0, 1.5, 0.8, 0.6, 2.0];
    let section = |t: f64| {
        let [s, e, n1, e2, n2, w] = runs.map(|r| r * t);
        let (x0, x1, x2) = (10.0 - w, 13.0 + e2, 18.0 + e);
        let (y0, y1, y2) = (10.0 - s, 13.0 + n1, 20.0 + n2);
        (x2 - x0) * (y1 - y0) + (x1 - x0) * (y2 - y1)
    };
    // A polynomial of degree two: Simpson's rule is exact.
    let h = 2.0;
    let want = h / 6.0 * (section(0.0) + 4.0 * section(h / 2.0) + section(h));
    let ground = plane_ground(0.0, 0.0, 0.0, -20.0, 50.0);
    let line = l.map(|(x, y)| at(x, y, -h));
    let pit = shape(&line, &runs, &sides(Rule::Lower, Corners::Mitre, 0.0));
    let cut = volume(&ground, &pit, Rule::Lower).cut_m3;
    assert_relative_eq!(cut, want, max_relative = 1e-9);
}

/// A convex ring with turns of 20 to 110 degrees.
fn convex(random: &mut Random) -> Vec<[f64; 2]> {
    loop {
        let mut turns = Vec::new();
        let mut sum = 0.0;
        while sum < 340.0 {
            let turn = random.between(20.0, 110.0);
            sum += turn;
            turns.push(turn);
        }
        let last = 360.0 - (sum - turns[turns.len() - 1]);
        if !(20.0..110.0).contains(&last) || turns.len() < 3 {
            continue;
        }
        let k = turns.len() - 1;
        turns[k] = last;
        // Corners on a circle from the directions of the edges: cut half planes.
        let mut heading = random.between(0.0, 360.0);
        let mut edges = Vec::new();
        for turn in &turns {
            heading += turn;
            let (sin, cos) = heading.to_radians().sin_cos();
            edges.push(([cos, sin], random.between(2.0, 6.0)));
        }
        let n = edges.len();
        let corners: Vec<[f64; 2]> = (0..n)
            .map(|k| {
                let ([ax, ay], a) = edges[(k + n - 1) % n];
                let ([bx, by], b) = edges[k];
                let det = ax * by - ay * bx;
                [(a * by - b * ay) / det, (b * ax - a * bx) / det]
            })
            .collect();
        // A half plane that cuts nothing off turns its edge round.
        let is_convex = (0..n).all(|k| {
            let (a, b) = (corners[k], corners[(k + 1) % n]);
            let ([nx, ny], _) = edges[k];
            (b[0] - a[0]) * -ny + (b[1] - a[1]) * nx > 0.5
        });
        if is_convex {
            return corners;
        }
    }
}

#[test]
fn a_convex_pit_is_where_all_its_planes_are_passed() {
    // Where an outline turns outward everywhere, the pit is what lies above the floor and above
    // the plane of every side: its surface is the highest of them. Slopes differ, uprights among
    // them, the floor falls up to 3 in 100; short sides are cut off by their neighbours.
    let mut random = Random(11);
    let mut looked_at = 0;
    for trial in 0..120 {
        let outline = convex(&mut random);
        let n = outline.len();
        let fall = match trial % 3 {
            0 => [0.0; 2],
            _ => [random.between(-0.02, 0.02), random.between(-0.02, 0.02)],
        };
        let floor = |x: f64, y: f64| -2.0 + fall[0] * x + fall[1] * y;
        let line: Vec<P3> = outline.iter().map(|&[x, y]| at(x, y, 0.0)).collect();
        let line: Vec<P3> = line
            .iter()
            .map(|c| P3 {
                z: floor(c.p.x_m(), c.p.y_m()),
                ..*c
            })
            .collect();
        let choice = [0.0, 0.5, 1.0, 1.5, 2.0];
        let runs: Vec<f64> = (0..n).map(|_| choice[random.below(5) as usize]).collect();
        for rule in [Rule::Lower, Rule::Raise] {
            let sign = if rule == Rule::Lower { 1.0 } else { -1.0 };
            let ground = plane_ground(0.0, 0.03 * sign, 0.0, -40.0, 40.0);
            let line: Vec<P3> = line
                .iter()
                .map(|c| P3 {
                    z: c.z * sign,
                    ..*c
                })
                .collect();
            let patch = shape(&line, &runs, &sides(rule, Corners::Mitre, 1.0 * sign));
            let design = composed(&ground, &patch, rule)
                .unwrap_or_else(|e| panic!("trial {trial}: {e}, {outline:?}, {runs:?}"));
            for _ in 0..200 {
                let (x, y) = (random.between(-12.0, 12.0), random.between(-12.0, 12.0));
                let p = Point::from_m(x, y);
                let mut pit = floor(x, y);
                let mut is_at_face = false;
                for k in 0..n {
                    let (a, b) = (line[k], line[(k + 1) % n]);
                    let [dx, dy] = b.p.relative_m(a.p);
                    let length = dx.hypot(dy);
                    let [px, py] = p.relative_m(a.p);
                    let along = (px * dx + py * dy) / length;
                    let out = (px * dy - py * dx) / length;
                    is_at_face |= runs[k] == 0.0 && (-1e-3..1e-2).contains(&out);
                    let run = runs[k].max(FACE_RUN_PER_RISE);
                    let z = sign * (a.z + (b.z - a.z) * along / length) + out / run;
                    if out > 0.0 {
                        pit = pit.max(z);
                    }
                }
                if is_at_face {
                    continue;
                }
                let want = pit.min(0.03 * x);
                let got = design.z_at(p).unwrap() * sign;
                looked_at += 1;
                assert!(
                    (got - want).abs() < 1e-6,
                    "trial {trial} {rule:?} at {x} {y}: {got}, not {want}; {outline:?} {runs:?}"
                );
            }
        }
    }
    assert!(looked_at > 40_000, "{looked_at}");
}

#[test]
fn any_outline_with_any_slopes_is_laid() {
    let mut random = Random(5);
    let mut refused = Vec::new();
    for trial in 0..150 {
        let n = 4 + random.below(9) as usize;
        let fall = [random.between(-0.05, 0.05), random.between(-0.05, 0.05)];
        let line: Vec<P3> = (0..n)
            .map(|k| {
                let angle =
                    std::f64::consts::TAU * (k as f64 + random.between(-0.3, 0.3)) / n as f64;
                let (sin, cos) = angle.sin_cos();
                let r = random.between(2.0, 8.0);
                let p = Point::from_m(r * cos, r * sin);
                P3 {
                    p,
                    z: -1.5 + fall[0] * p.x_m() + fall[1] * p.y_m(),
                }
            })
            .collect();
        let choice = [0.0, 0.25, 1.0, 1.0, 1.5, 3.0];
        let runs: Vec<f64> = (0..n).map(|_| choice[random.below(6) as usize]).collect();
        let ground = plane_ground(0.0, 0.01, -0.01, -80.0, 80.0);
        for corners in [Corners::Mitre, Corners::Round] {
            let sides = Sides {
                chord_m: 0.05,
                ..sides(Rule::Lower, corners, 1.5)
            };
            let patch = shape(&line, &runs, &sides);
            match composed(&ground, &patch, Rule::Lower) {
                Ok(design) => {
                    for corner in &line {
                        let inside = Point::new(corner.p.x / 2, corner.p.y / 2);
                        assert!(design.z_at(inside).unwrap() < -0.5, "trial {trial}");
                    }
                }
                Err(error) => refused.push((trial, corners, error)),
            }
        }
    }
    assert!(refused.is_empty(), "{} {refused:#?}", refused.len());
}
