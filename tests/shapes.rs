//! Shapes on level and inclined ground against closed forms worked out beside each check.
#![allow(clippy::unwrap_used)]

mod common;

use approx::assert_relative_eq;
use common::plane_ground;
use cutbank::design::shape::{
    Corners, Ends, FACE_RUN_PER_RISE, RibbonLabels, Sides, floor_with_sides, ribbon,
};
use cutbank::files::OneThread;
use cutbank::geom::{P3, Point, Ring};
use cutbank::surface::{LabelledCutFill, Patch, Rule, Surface, cut_fill};

fn sides(rule: Rule, run_per_rise: f64, corners: Corners, chord_m: f64) -> Sides {
    let limit_z_m = if rule == Rule::Lower { 20.0 } else { -20.0 };
    Sides {
        rule,
        run_per_rise,
        limit_z_m,
        corners,
        chord_m,
    }
}

fn ring(corners: &[(f64, f64)]) -> Ring {
    Ring::new(
        &corners
            .iter()
            .map(|&(x, y)| Point::from_m(x, y))
            .collect::<Vec<_>>(),
    )
    .unwrap()
}

fn line(points: &[(f64, f64, f64)]) -> Vec<P3> {
    points
        .iter()
        .map(|&(x, y, z)| P3 {
            p: Point::from_m(x, y),
            z,
        })
        .collect()
}

const LABELS: RibbonLabels = RibbonLabels {
    middle: 1,
    left: 2,
    right: 3,
    ends: [4, 5],
};

fn laid(ground: &Surface, patch: &Patch, rule: Rule) -> LabelledCutFill {
    let mut design = ground.clone();
    design.compose(patch, rule).unwrap();
    design.check_consistent().unwrap();
    cut_fill(ground, &design, &OneThread)
}

const L: [(f64, f64); 6] = [
    (10.0, 10.0),
    (18.0, 10.0),
    (18.0, 13.0),
    (13.0, 13.0),
    (13.0, 20.0),
    (10.0, 20.0),
];

#[test]
fn an_l_shaped_pit_with_mitred_corners() {
    // At height t the outline is moved out by s t: area A + P s t + (5 - 1) (s t)^2, five corners
    // turning outward, one inward. Area 8*3 + 3*7 = 45, perimeter 36.
    let (s, d) = (1.5, 2.0);
    let want = 45.0 * d + 36.0 * s * d * d / 2.0 + 4.0 * s * s * d * d * d / 3.0;
    let ground = plane_ground(0.0, 0.0, 0.0, -20.0, 50.0);
    let patch = floor_with_sides(
        &ring(&L),
        -d,
        1,
        &sides(Rule::Lower, s, Corners::Mitre, 0.01),
        &mut |_| 2,
    );
    let v = laid(&ground, &patch, Rule::Lower);
    assert_relative_eq!(v.total.cut_m3, want, max_relative = 1e-9);
    assert_relative_eq!(v.by_label[&1].cut_m3, 45.0 * d, max_relative = 1e-9);
    // The same upside down.
    let patch = floor_with_sides(
        &ring(&L),
        d,
        1,
        &sides(Rule::Raise, s, Corners::Mitre, 0.01),
        &mut |_| 2,
    );
    assert_relative_eq!(
        laid(&ground, &patch, Rule::Raise).total.fill_m3,
        want,
        max_relative = 1e-9
    );
}

#[test]
fn an_l_shaped_pit_with_round_corners_converges() {
    // Quarter circles at the five outward corners: A + P s t + (5 pi/4 - 1) (s t)^2.
    let (s, d) = (1.5, 2.0);
    let share = 5.0 * std::f64::consts::FRAC_PI_4 - 1.0;
    let want = 45.0 * d + 36.0 * s * d * d / 2.0 + share * s * s * d * d * d / 3.0;
    let ground = plane_ground(0.0, 0.0, 0.0, -20.0, 50.0);
    let error = |chord: f64| {
        let sides = sides(Rule::Lower, s, Corners::Round, chord);
        let patch = floor_with_sides(&ring(&L), -d, 1, &sides, &mut |_| 2);
        (laid(&ground, &patch, Rule::Lower).total.cut_m3 - want).abs() / want
    };
    let errors = [0.4, 0.1, 0.025, 0.00625].map(error);
    for pair in errors.windows(2) {
        // The chord error is of the same order as the area cut off: four times less each time.
        assert!(pair[1] < pair[0] / 3.0, "{errors:?}");
    }
    assert!(errors[3] < 1e-4, "{errors:?}");
}

#[test]
fn a_bent_level_trench_with_sloped_ends() {
    // Mitred bends add outside what they take away inside: section times length. The two ends
    // add a wedge of width w and two mitred corners each.
    let (w, s, d) = (1.2, 1.5, 1.0);
    let points = [
        (0.0, 0.0),
        (12.0, 0.0),
        (20.0, 9.0),
        (20.0, 22.0),
        (9.0, 30.0),
    ];
    let at: Vec<(f64, f64, f64)> = points.iter().map(|&(x, y)| (x, y, -d)).collect();
    let length: f64 = points
        .windows(2)
        .map(|p| (p[1].0 - p[0].0).hypot(p[1].1 - p[0].1))
        .sum();
    let want =
        (w * d + s * d * d) * length + 2.0 * (w * s * d * d / 2.0 + 2.0 * s * s * d * d * d / 3.0);
    let ground = plane_ground(0.0, 0.0, 0.0, -20.0, 50.0);
    let sides = sides(Rule::Lower, s, Corners::Mitre, 0.01);
    let patch = ribbon(&line(&at), w, [Ends::Slope; 2], LABELS, &sides);
    let v = laid(&ground, &patch, Rule::Lower);
    assert_relative_eq!(v.total.cut_m3, want, max_relative = 1e-8);
    let parts: f64 = v.by_label.values().map(|v| v.cut_m3).sum();
    assert_relative_eq!(parts, v.total.cut_m3, max_relative = 1e-13);
}

#[test]
fn a_graded_trench_on_inclined_ground() {
    // Ground rises 3 in 100 along the trench and 5 in 100 across it; the bed falls 2 in 100.
    // At x the depth in the middle is d = 1 + 0.05 x; each side reaches out from the depth
    // e = d -+ g w/2 at its foot: e^2 / 2 / (1/s -+ g). Square ends lean out by FACE of their
    // height.
    let (w, s, g, length) = (1.0, 2.0, 0.05, 16.0);
    let section = |d: f64| {
        let side = |g: f64| {
            let e = d + g * w / 2.0;
            e * e / 2.0 / (1.0 / s - g)
        };
        w * d + side(g) + side(-g)
    };
    // The section is a polynomial of degree two in d: Simpson's rule is exact.
    let depth = |x: f64| 1.0 + 0.05 * x;
    let body = length / 6.0
        * (section(depth(0.0)) + 4.0 * section(depth(length / 2.0)) + section(depth(length)));
    // The face stands on the section itself, sides included: half the square of the depth over
    // it, across the middle and over a triangle of depth e and reach r on each side.
    let moment = |d: f64| {
        let side = |g: f64| {
            let e = d + g * w / 2.0;
            let r = e / (1.0 / s - g);
            e * e * r / 6.0
        };
        let middle = w * (d * d + (g * w).powi(2) / 12.0) / 2.0;
        middle + side(g) + side(-g)
    };
    let ends = FACE_RUN_PER_RISE * (moment(depth(0.0)) + moment(depth(length)));
    let ground = plane_ground(0.0, 0.03, g, -20.0, 50.0);
    let bed = line(&[(0.0, 0.0, -1.0), (length, 0.0, -1.0 - 0.02 * length)]);
    let sides = sides(Rule::Lower, s, Corners::Mitre, 0.01);
    let patch = ribbon(&bed, w, [Ends::Square; 2], LABELS, &sides);
    let v = laid(&ground, &patch, Rule::Lower);
    assert_relative_eq!(v.total.cut_m3, body + ends, max_relative = 1e-7);
}

#[test]
fn vertical_sides_lean_as_little_as_they_say() {
    // A vertical pit of 4 by 3 by 2 m: the faces lean out by FACE of their height.
    let ground = plane_ground(0.0, 0.0, 0.0, -20.0, 50.0);
    let outline = ring(&[(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)]);
    let patch = floor_with_sides(
        &outline,
        -2.0,
        1,
        &sides(Rule::Lower, 0.0, Corners::Mitre, 0.01),
        &mut |_| 2,
    );
    let v = laid(&ground, &patch, Rule::Lower);
    let f = FACE_RUN_PER_RISE;
    let want = 24.0 + 14.0 * f * 4.0 / 2.0 + 4.0 * f * f * 8.0 / 3.0;
    assert_relative_eq!(v.total.cut_m3, want, max_relative = 1e-9);
}

#[test]
fn drops_add_up() {
    // Two level reaches, the lower one 0.5 m deeper: each its own trench, and the face between
    // them over the section of the deeper one.
    let (w, s) = (1.0, 1.0);
    let ground = plane_ground(0.0, 0.0, 0.0, -20.0, 50.0);
    let sides = sides(Rule::Lower, s, Corners::Mitre, 0.01);
    let mut patch = ribbon(
        &line(&[(0.0, 0.0, -0.5), (10.0, 0.0, -0.5)]),
        w,
        [Ends::Square; 2],
        LABELS,
        &sides,
    );
    patch.append(&ribbon(
        &line(&[(10.0, 0.0, -1.0), (20.0, 0.0, -1.0)]),
        w,
        [Ends::Square; 2],
        LABELS,
        &sides,
    ));
    let v = laid(&ground, &patch, Rule::Lower);
    let section = |d: f64| w * d + s * d * d;
    // Half the square of the depth over a section: w d^2/2 and two triangles of reach s d.
    let moment = |d: f64| w * d * d / 2.0 + 2.0 * d * d * s * d / 6.0;
    // The face of the drop leans over the upper bed: what it takes there is the moment of the
    // lower section less what the upper one had taken already; far below the tolerance here.
    let most = FACE_RUN_PER_RISE * (moment(0.5) + 2.0 * moment(1.0));
    let body = 10.0 * (section(0.5) + section(1.0));
    assert!(
        v.total.cut_m3 > body && v.total.cut_m3 < body + most,
        "{}",
        v.total.cut_m3
    );
}

#[test]
fn a_pit_leaves_the_hill_behind_it_alone() {
    // A pit of 4 by 4 m, 1 m deep, 1.5 across : 1 up, daylights 1.5 m out. A terrace 2 m high
    // begins 3 m out, where the plane of the side would pass 1 m under its top.
    let corner = |x: f64, y: f64, z: f64| P3 {
        p: Point::from_m(x, y),
        z,
    };
    let rows = [(-10.0, 0.0), (7.0, 0.0), (7.2, 2.0), (20.0, 2.0)];
    let points: Vec<P3> = rows
        .iter()
        .flat_map(|&(x, z)| [-10.0, 2.0, 14.0].map(|y| corner(x, y, z)))
        .collect();
    let ground = common::surface(&points, 0);
    let outline = ring(&[(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0)]);
    let sides = sides(Rule::Lower, 1.5, Corners::Mitre, 0.01);
    let mut patch = floor_with_sides(&outline, -1.0, 1, &sides, &mut |_| 2);
    let everywhere = laid(&ground, &patch, Rule::Lower);
    patch.anchor(1);
    let v = laid(&ground, &patch, Rule::Lower);
    assert!(everywhere.total.cut_m3 > v.total.cut_m3 + 1.0);
    let want = (16.0 + 4.0 * 5.5 * 5.5 + 49.0) / 6.0;
    assert_relative_eq!(v.total.cut_m3, want, max_relative = 1e-9);
    assert_relative_eq!(v.total.cut_area_m2, 49.0, max_relative = 1e-9);
    // Laid again it changes nothing, and laid after its side was filled up it is dug out again.
    let mut design = ground.clone();
    design.compose(&patch, Rule::Lower).unwrap();
    let once = design.clone();
    assert_eq!(design.compose(&patch, Rule::Lower).unwrap().added, 0);
    let heap = ring(&[(4.6, 1.0), (5.2, 1.0), (5.2, 3.0), (4.6, 3.0)]);
    let fill = Sides {
        rule: Rule::Raise,
        limit_z_m: -20.0,
        ..sides
    };
    let heap = floor_with_sides(&heap, -0.05, 3, &fill, &mut |_| 4);
    design.compose(&heap, Rule::Raise).unwrap();
    assert!(cut_fill(&once, &design, &OneThread).total.fill_m3 > 0.05);
    design.compose(&patch, Rule::Lower).unwrap();
    let back = cut_fill(&once, &design, &OneThread).total;
    assert!(back.fill_m3 < 1e-9 && back.cut_m3 < 1e-9, "{back:?}");
}
