//! Interpolation, slopes and triangulation (TIN).

use crate::common::{at, close, drawn_out, near, plane_over, rectangle};
use crate::{EXACT, FT, GROUND, composed, extent, one_triangle, soil, total};
use cutbank::earthwork::balance;
use cutbank::geom::{Point, compass, triangulate};
use cutbank::surface::{Patch, Plane, Rule, Surface, contours};
use cutbank::terrain::Relief;
use cutbank::units::{BankVolume, LengthUnit, M3_PER_FT3, M3_PER_YD3, Slope, TampedVolume};
use std::f64::consts::TAU;

/// TIN-01, closed form: the plane through three points, 101 at (3, 4).
#[test]
fn tin_01_plane_through_three_points() {
    let corners = [
        at(0.0, 0.0, 100.0),
        at(10.0, 0.0, 102.0),
        at(0.0, 10.0, 101.0),
    ];
    let p = Point::from_m(3.0, 4.0);
    close(
        "plane",
        Plane::through(corners[0], corners[1], corners[2]).z_at(p),
        101.0,
        1e-15,
    );
    let surface = Surface::from_triangles(corners.to_vec(), &[[0, 1, 2]], GROUND).unwrap();
    close("surface", surface.z_at(p).unwrap(), 101.0, 1e-15);
}

/// TIN-02, closed form: barycentric weights 0.379032, 0.314516, 0.306452 and z 99.6629 at (7, 5).
/// A height of 1 at one corner and 0 at the others gives the weight of that corner.
#[test]
fn tin_02_irregular_triangle() {
    let plan = [[2.0, 1.0], [14.0, 3.0], [6.0, 12.0]];
    let p = Point::from_m(7.0, 5.0);
    let z = one_triangle(plan, [98.4, 101.1, 99.75]).z_at(p).unwrap();
    near("z", z, 99.6629, 5e-5);
    for (k, want) in [0.379032, 0.314516, 0.306452].into_iter().enumerate() {
        let mut heights = [0.0; 3];
        heights[k] = 1.0;
        near(
            "weight",
            one_triangle(plan, heights).z_at(p).unwrap(),
            want,
            5e-7,
        );
    }
}

/// TIN-03, closed form: a plane rising 0.2 east and 0.1 north: 22.3607 %, 12.6044 degrees, and
/// water runs at 243.4349 degrees clockwise from north. Through three points, and as the plane
/// that fits a ground of many facets best.
#[test]
fn tin_03_slope_of_a_plane() {
    let plane = Plane::through(at(0.0, 0.0, 5.0), at(10.0, 0.0, 7.0), at(0.0, 10.0, 6.0));
    near("east", plane.slope[0], 0.2, 1e-15);
    near("north", plane.slope[1], 0.1, 1e-15);
    let slope = Slope::from_rise_per_run(plane.steepness());
    near("percent", slope.percent(), 22.3607, 5e-5);
    near("degrees", slope.degrees(), 12.6044, 5e-5);
    near(
        "azimuth",
        plane.downhill_azimuth_deg().unwrap(),
        243.4349,
        5e-5,
    );
    let ground = plane_over([0.0, 0.0], [10.0, 10.0], |x, y| 5.0 + 0.2 * x + 0.1 * y);
    let relief = Relief::of(&ground, None).unwrap();
    let best = relief.plane;
    near("percent", best.steepness() * 100.0, 22.3607, 5e-5);
    near(
        "azimuth",
        best.downhill_azimuth_deg().unwrap(),
        243.4349,
        5e-5,
    );
    assert_eq!(compass(best.downhill()), "south-west");
}

/// TIN-04, closed form: plan area 50, area along the slope 51.2348.
#[test]
fn tin_04_area_along_the_slope() {
    let surface = one_triangle(
        [[0.0, 0.0], [10.0, 0.0], [0.0, 10.0]],
        [100.0, 102.0, 101.0],
    );
    let facts = surface.facts().unwrap();
    close("plan", facts.area_m2, 50.0, 1e-15);
    near("slope", facts.surface_area_m2, 51.2348, 5e-5);
}

/// TIN-05 to TIN-07, closed form (one-corner pyramid A/3 a^3/((a-b)(a-c))): prisms of plan area
/// 50 with these depths at the corners; cut, fill and net as printed.
#[test]
fn tin_05_to_07_prisms() {
    let plan = [[0.0, 0.0], [10.0, 0.0], [0.0, 10.0]];
    for (depths, cut, fill, net, digits) in [
        ([1.2, 0.6, 0.3], 35.0, 0.0, 35.0, 1e-12),
        ([2.0, -1.0, -1.0], 14.8148, 14.8148, 0.0, 5e-5),
        ([1.2, 0.6, -0.9], 18.8571, 3.85714, 15.0, 5e-5),
    ] {
        let ground = one_triangle(plan, depths.map(|d| 20.0 + d));
        let design = one_triangle(plan, [20.0; 3]);
        let volume = total(&ground, &design);
        near("cut", volume.cut_m3, cut, digits);
        near("fill", volume.fill_m3, fill, digits);
        near("net", volume.net_m3(), net, 1e-12);
        near(
            "area",
            volume.cut_area_m2 + volume.fill_area_m2,
            50.0,
            1e-12,
        );
    }
}

/// TIN-08, Euler: 100 points, 12 of them on the hull, make 2n-2-h = 186 triangles and
/// 3n-3-h = 285 edges.
#[test]
fn tin_08_euler_counts() {
    let mut random = crate::common::Random(8);
    let mut points: Vec<Point> = (0..12)
        .map(|k| {
            let (sin, cos) = (TAU * f64::from(k) / 12.0).sin_cos();
            Point::from_m(50.0 * cos, 50.0 * sin)
        })
        .collect();
    // Inside the circle that touches the sides of the twelve-sided hull.
    while points.len() < 100 {
        let p = Point::from_m(random.between(-48.0, 48.0), random.between(-48.0, 48.0));
        if p.x_m().hypot(p.y_m()) < 48.0 {
            points.push(p);
        }
    }
    let t = triangulate(&points, &[]).unwrap();
    let edges: std::collections::BTreeSet<(u32, u32)> = t
        .triangles
        .iter()
        .flat_map(|&[a, b, c]| [(a, b), (b, c), (c, a)])
        .map(|(a, b)| (a.min(b), a.max(b)))
        .collect();
    assert_eq!((t.triangles.len(), edges.len()), (186, 285));
}

/// TIN-09, closed form: a saddle over a square has height 0 or 1 in the middle, by diagonal. A
/// breakline over either diagonal decides it.
#[test]
fn tin_09_a_breakline_decides_the_diagonal() {
    let corners = [
        [0.0, 0.0, 0.0],
        [10.0, 0.0, 1.0],
        [10.0, 10.0, 0.0],
        [0.0, 10.0, 1.0],
    ]
    .map(|[x, y, z]| at(x, y, z));
    let plan = corners.map(|c| c.p);
    for (breakline, want) in [([0, 2], 0.0), ([1, 3], 1.0)] {
        let t = triangulate(&plan, &[breakline]).unwrap();
        let surface = Surface::from_triangles(corners.to_vec(), &t.triangles, GROUND).unwrap();
        near(
            "middle",
            surface.z_at(Point::from_m(5.0, 5.0)).unwrap(),
            want,
            1e-15,
        );
    }
}

/// TIN-10, closed form: an edge 8 long from 99.4 to 101 passes 100 at 3 from its low end. A level
/// floor laid on it meets the edge there, and the contour passes there.
#[test]
fn tin_10_crossing_on_an_edge() {
    let ground = drawn_out(&[[0.0, 99.4], [8.0, 101.0]], [0.0, 4.0]);
    let mut patch = Patch::new();
    let level = rectangle([-1.0, -1.0], [9.0, 5.0]).map(|[x, y]| at(x, y, 100.0));
    patch.add(&level, 1);
    let surface = composed(&ground, &patch, Rule::Lower);
    let [low, _] = extent(&surface);
    near("crossing", low[0], 3.0, 1e-9);
    let lines = contours(&ground, &[100.0], &|_| true);
    assert_eq!(lines.len(), 1);
    for [x, _] in &lines[0].points {
        near("contour", *x, 3.0, 1e-12);
    }
}

/// TIN-11, closed form: D lies inside the circle through A, B, C, so the diagonal is B D.
#[test]
fn tin_11_delaunay_diagonal() {
    let plan = [[0.0, 0.0], [10.0, 0.0], [12.0, 9.0], [1.0, 8.0]].map(|[x, y]| Point::from_m(x, y));
    let t = triangulate(&plan, &[]).unwrap();
    assert_eq!(t.triangles.len(), 2);
    assert!(t.triangles.iter().all(|t| t.contains(&1) && t.contains(&3)));
}

/// TIN-12, closed form: 0.05 ft too high over 2000 sq ft is 100 cu ft, 3.7037 cu yd. Through the
/// volume itself and through the range the balance gives for such a height.
#[test]
fn tin_12_a_bias_becomes_volume() {
    let patch = |z: f64| {
        plane_over([0.0, 0.0], [50.0 * FT, 40.0 * FT], |x, y| {
            z + 0.1 * x - 0.2 * y
        })
    };
    let cut = total(&patch(30.0 + 0.05 * FT), &patch(30.0)).cut_m3;
    close("cubic feet", cut / M3_PER_FT3, 100.0, EXACT);
    near("cubic yards", cut / M3_PER_YD3, 3.7037, 5e-5);
    let dig = BankVolume::from_m3(50.0);
    let balance = balance(
        &soil(1.25, 0.9),
        dig,
        TampedVolume::default(),
        2000.0 * FT * FT,
        0.0,
        0.05 * FT,
    );
    let give = balance.dig_bank_m3.high - balance.dig_bank_m3.likely;
    close("range", give / M3_PER_FT3, 100.0, EXACT);
}

/// TIN-14, by definition (survey foot 1200/3937 m, international foot 0.3048 m): two million feet
/// east differ by 4.00001 ft.
#[test]
fn tin_14_two_kinds_of_foot() {
    let survey = LengthUnit::UsSurveyFoot.parse_nm("2000000").unwrap();
    let international = LengthUnit::Foot.parse_nm("2000000").unwrap();
    near(
        "feet",
        LengthUnit::Foot.from_m((survey - international) as f64 / 1e9),
        4.00001,
        5e-6,
    );
}
