//! Volumes of closed form and published ones (VOL).

use crate::common::{at, close, inside, near, plane_over, rectangle, ring};
use crate::{EXACT, FT, GROUND, LABELS, composed, extent, laid, section_at, sides, total};
use cutbank::design::shape::{Corners, Ends, Sides, ribbon};
use cutbank::files::OneThread;
use cutbank::geom::Point;
use cutbank::surface::{Rule, Surface, cut_fill_within};
use cutbank::units::{M3_PER_FT3, M3_PER_YD3};
use std::f64::consts::TAU;

/// VOL-01, closed form: a basin 12 x 8 ft with vertical sides, 2 to 3.2 ft deep under a sloping
/// plane: 249.6 cu ft, 9.24444 cu yd. Once as floor in an area, once as a basin laid, whose sides
/// lean outward by 1e-4, so that the volume is taken within the floor.
#[test]
fn vol_01_vertical_basin_under_a_slope() {
    let ground = plane_over([-30.0 * FT, -30.0 * FT], [42.0 * FT, 38.0 * FT], |_, y| {
        20.0 + 0.15 * y
    });
    let floor = rectangle([0.0, 0.0], [12.0 * FT, 8.0 * FT]);
    let level = 20.0 - 2.0 * FT;
    let flat = plane_over(floor[0], floor[2], |_, _| level);
    close(
        "floor",
        total(&ground, &flat).cut_m3 / M3_PER_FT3,
        249.6,
        EXACT,
    );
    let basin = laid(&ground, &floor, level, &sides(Rule::Lower, 0.0, &ground));
    let cut = cut_fill_within(&ground, &basin, &inside(&ring(&floor)), &OneThread)
        .total
        .cut_m3;
    close("basin", cut / M3_PER_FT3, 249.6, EXACT);
    near("yards", cut / M3_PER_YD3, 9.24444, 5e-6);
}

/// Pits with sloping sides in level ground: bottom, depth, run for one of rise, top, volume (ft).
#[test]
fn vol_02_04_05_pits_in_level_ground() {
    for (id, bottom, depth, side, top, cubic_feet) in [
        // Closed form: frustum of a square pyramid, h/3 (A1 + A2 + sqrt(A1 A2)).
        ("VOL-02", [4.0, 4.0], 3.0, 1.0, [10.0, 10.0], 156.0),
        // Closed form (the prismoidal rule is exact): 122.083 cu ft, in full 1465/12.
        ("VOL-04", [6.0, 3.0], 2.5, 1.0, [11.0, 8.0], 1465.0 / 12.0),
        // Published: a university mathematics help service, answer on the excavation of a pond.
        ("VOL-05", [52.0, 22.0], 12.0, 2.0, [100.0, 70.0], 44256.0),
    ] {
        let ground = plane_over(
            [-200.0 * FT, -200.0 * FT],
            [200.0 * FT, 200.0 * FT],
            |_, _| 10.0,
        );
        let floor = rectangle([0.0, 0.0], bottom.map(|b| b * FT));
        let pit = laid(
            &ground,
            &floor,
            10.0 - depth * FT,
            &sides(Rule::Lower, side, &ground),
        );
        close(
            id,
            total(&ground, &pit).cut_m3 / M3_PER_FT3,
            cubic_feet,
            EXACT,
        );
        let [low, high] = extent(&pit);
        for k in 0..2 {
            close(id, (high[k] - low[k]) / FT, top[k], EXACT);
        }
    }
    // The digits the table prints.
    near("VOL-04", 1465.0 / 12.0, 122.083, 5e-4);
}

/// VOL-03, closed form: frustum of a cone, radii 1 and 2.2 m, 0.8 m deep: 6.73557 m3. The round
/// floor is a polygon of 800 sides round the circle, larger by a share of (pi/800)^2/3, 5e-6.
#[test]
fn vol_03_frustum_of_a_cone() {
    let sides_of_polygon = 800;
    let out = 1.0 / (TAU / 2.0 / f64::from(sides_of_polygon)).cos();
    let floor: Vec<[f64; 2]> = (0..sides_of_polygon)
        .map(|k| {
            let (sin, cos) = (TAU * f64::from(k) / f64::from(sides_of_polygon)).sin_cos();
            [out * cos, out * sin]
        })
        .collect();
    let ground = plane_over([-5.0, -5.0], [5.0, 5.0], |_, _| 3.0);
    let pit = laid(&ground, &floor, 2.2, &sides(Rule::Lower, 1.5, &ground));
    near("volume", total(&ground, &pit).cut_m3, 6.73557, 1e-4);
}

/// VOL-06, published: a university mathematics help service, answer on a dam: bottom 100, top 14,
/// height 15 ft: section 855 sq ft, 9500 cu yd over 300 ft. The faces at the ends lean outward by
/// 1e-4 and are left out by taking the volume within the 300 ft.
#[test]
fn vol_06_straight_dam() {
    let ground = plane_over(
        [-100.0 * FT, -100.0 * FT],
        [400.0 * FT, 100.0 * FT],
        |_, _| 50.0,
    );
    let line = [0.0, 300.0].map(|x| at(x * FT, 0.0, 50.0 + 15.0 * FT));
    let shape = sides(Rule::Raise, (100.0 - 14.0) / 2.0 / 15.0, &ground);
    let patch = ribbon(&line, 14.0 * FT, [Ends::Square; 2], LABELS, &shape);
    let dam = composed(&ground, &patch, Rule::Raise);
    let length = ring(&rectangle([0.0, -80.0 * FT], [300.0 * FT, 80.0 * FT]));
    let fill = cut_fill_within(&ground, &dam, &inside(&length), &OneThread)
        .total
        .fill_m3;
    close("yards", fill / M3_PER_YD3, 9500.0, EXACT);
    let [_, section] = section_at(150.0 * FT, [-90.0 * FT, 90.0 * FT], &ground, &dam);
    close("section", section / FT / FT, 855.0, EXACT);
}

/// VOL-07, closed form: a trench 20 x 3 ft, floor level, 0 to 2.4 ft deep: 72 cu ft.
#[test]
fn vol_07_wedge() {
    let ground = plane_over([-20.0 * FT, -20.0 * FT], [40.0 * FT, 23.0 * FT], |x, _| {
        7.0 + 0.12 * x
    });
    let floor = rectangle([0.0, 0.0], [20.0 * FT, 3.0 * FT]);
    let trench = laid(&ground, &floor, 7.0, &sides(Rule::Lower, 0.0, &ground));
    let within = inside(&ring(&floor));
    let volume = cut_fill_within(&ground, &trench, &within, &OneThread).total;
    close("cut", volume.cut_m3 / M3_PER_FT3, 72.0, EXACT);
}

/// VOL-08, closed form h b/6 (2a + c): a wedge on a base of 8 x 3 ft with an edge of 14 ft, 2 ft
/// up: 30 cu ft. It overhangs its base, so its underside is a surface of its own.
#[test]
fn vol_08_wedge_with_a_long_edge() {
    let corner = |x: f64, y: f64, z: f64| at(x * FT, y * FT, z * FT);
    let vertices = vec![
        corner(0.0, 0.0, 0.0),
        corner(8.0, 0.0, 0.0),
        corner(8.0, 3.0, 0.0),
        corner(0.0, 3.0, 0.0),
        corner(-3.0, 1.5, 2.0),
        corner(11.0, 1.5, 2.0),
    ];
    let roof = [[0, 1, 5], [0, 5, 4], [2, 3, 4], [2, 4, 5]];
    let under = [[0, 1, 2], [0, 2, 3], [1, 5, 2], [3, 4, 0]];
    let [roof, under] =
        [&roof, &under].map(|t| Surface::from_triangles(vertices.clone(), t, GROUND).unwrap());
    let volume = total(&roof, &under);
    close("cut", volume.cut_m3 / M3_PER_FT3, 30.0, EXACT);
    near("fill", volume.fill_m3, 0.0, 1e-12);
}

/// VOL-10, closed form (two triangular prisms): a level pad of 10 x 20 ft on ground of 1 in 10:
/// cut 25, fill 25 cu ft, deepest cut 0.5 ft.
#[test]
fn vol_10_balanced_pad() {
    let ground = plane_over([-10.0, -10.0], [10.0, 10.0], |x, _| 3.0 + 0.1 * x);
    let corners = rectangle([-5.0 * FT, 0.0], [5.0 * FT, 20.0 * FT]);
    let pad = plane_over(corners[0], corners[2], |_, _| 3.0);
    let volume = total(&ground, &pad);
    close("cut", volume.cut_m3 / M3_PER_FT3, 25.0, EXACT);
    close("fill", volume.fill_m3 / M3_PER_FT3, 25.0, EXACT);
    let edge = Point::from_m(corners[2][0], corners[2][1]);
    let depth = ground.z_at(edge).unwrap() - pad.z_at(edge).unwrap();
    close("depth", depth / FT, 0.5, EXACT);
}

/// VOL-11, closed form pi d^3 m^2/3 (1 - g^2 m^2)^-1.5: a cone 2 deep with sides of 1.5 across
/// for 1 up: 18.8496 in level ground, 23.6607 in ground of 1 in 4, ratio 1.25524. The floor is a
/// square of a micrometre, the corners are round with chords of a micrometre.
#[test]
fn vol_11_cone_in_a_slope() {
    let cut = |g: f64| {
        let ground = plane_over([-20.0, -20.0], [20.0, 20.0], |x, _| 10.0 + g * x);
        let round = Sides {
            corners: Corners::Round,
            chord_m: 1e-6,
            ..sides(Rule::Lower, 1.5, &ground)
        };
        let tip = rectangle([-5e-7, -5e-7], [5e-7, 5e-7]);
        total(&ground, &laid(&ground, &tip, 8.0, &round)).cut_m3
    };
    let (level, slope) = (cut(0.0), cut(0.25));
    near("level", level, 18.8496, 1e-4);
    near("slope", slope, 23.6607, 1e-3);
    near("ratio", slope / level, 1.25524, 1e-5);
}

/// VOL-12, published (an engineering reference page on sections of earthwork, A = 0.5 (h + b/n)
/// (WL + WG) - b^2/n with formation 2b): a trench 4 ft wide, 2.5 ft deep, sides 1:1, ground falling
/// across by 0.2: half widths 5.625 and 3.75 ft, area 17.0938, in level ground 16.25 sq ft.
#[test]
fn vol_12_trench_across_a_slope() {
    for (g, widths, area, digits) in [
        (0.2, [3.75, 5.625], 17.0938, 5e-5),
        (0.0, [4.5, 4.5], 16.25, 1e-8),
    ] {
        let ground = plane_over([-10.0, -10.0], [30.0, 10.0], |_, y| 20.0 + g * y);
        let line = [0.0, 20.0].map(|x| at(x, 0.0, 20.0 - 2.5 * FT));
        let shape = sides(Rule::Lower, 1.0, &ground);
        let patch = ribbon(&line, 4.0 * FT, [Ends::Square; 2], LABELS, &shape);
        let trench = composed(&ground, &patch, Rule::Lower);
        let [cut, fill] = section_at(10.0, [-9.0, 9.0], &ground, &trench);
        near("area", cut / FT / FT, area, digits);
        near("fill", fill, 0.0, 1e-12);
        let [low, high] = extent(&trench);
        close("downhill", -low[1] / FT, widths[0], EXACT);
        close("uphill", high[1] / FT, widths[1], EXACT);
    }
}

/// VOL-15, closed form (determinant): a tetrahedron of 10.
#[test]
fn vol_15_tetrahedron() {
    let vertices = vec![
        at(0.0, 0.0, 0.0),
        at(4.0, 0.0, 0.0),
        at(0.0, 5.0, 0.0),
        at(1.0, 1.0, 3.0),
    ];
    let roof = [[0, 1, 3], [1, 2, 3], [2, 0, 3]];
    let roof = Surface::from_triangles(vertices.clone(), &roof, GROUND).unwrap();
    let base = Surface::from_triangles(vertices, &[[0, 1, 2]], GROUND).unwrap();
    close("cut", total(&roof, &base).cut_m3, 10.0, EXACT);
}

/// VOL-16, closed form: two planes over 10 x 6, from -0.5 to 1.5 apart: cut 33.75, fill 3.75,
/// net 30.
#[test]
fn vol_16_two_planes() {
    let ground = plane_over([0.0, 0.0], [10.0, 6.0], |x, y| 8.5 + 0.5 * x + 0.1 * y);
    let design = plane_over([0.0, 0.0], [10.0, 6.0], |x, y| 9.0 + 0.3 * x + 0.1 * y);
    let volume = total(&ground, &design);
    close("cut", volume.cut_m3, 33.75, EXACT);
    close("fill", volume.fill_m3, 3.75, EXACT);
    close("net", volume.net_m3(), 30.0, EXACT);
}
