//! Areas of sections and the volumes taken from them (SEC, BRM).

use crate::common::{at, close, drawn_out, inside, near, plane_over, rectangle, ring};
use crate::{EXACT, FT, GROUND, LABELS, composed, extent, laid, section_at, sides, total};
use cutbank::design::shape::{Corners, Ends, Sides, ribbon};
use cutbank::earthwork::{by_sections, section_areas};
use cutbank::files::OneThread;
use cutbank::geom::{P3, Point};
use cutbank::surface::{Rule, Surface, cut_fill_within};
use cutbank::units::{M3_PER_FT3, M3_PER_YD3};

/// SEC-01, published (a civil-engineering question with full working, an embankment of 150 m):
/// areas 6, 21, 40 m2, end areas 3450, prismoidal 3250 m3. The program takes 40 gaps instead of
/// one, so that end areas exceed by 200/40^2 instead of 200.
#[test]
fn sec_01_embankment_by_sections() {
    let ground = plane_over([-50.0, -50.0], [200.0, 50.0], |x, _| 30.0 - x / 50.0);
    let line = [0.0, 150.0].map(|x| at(x, 0.0, 30.5 - x / 150.0));
    let shape = sides(Rule::Raise, 2.0, &ground);
    let patch = ribbon(&line, 11.0, [Ends::Square; 2], LABELS, &shape);
    let bank = composed(&ground, &patch, Rule::Raise);
    let y = [-30.0, 30.0];
    for (x, want) in [(0.0, 6.0), (75.0, 21.0), (150.0, 40.0)] {
        close("area", section_at(x, y, &ground, &bank)[1], want, 1e-6);
    }
    let box_round = [Point::from_m(0.0, y[0]), Point::from_m(150.0, y[1])];
    let second = by_sections(&ground, &bank, &box_round).unwrap();
    close("prismoidal", second.fill_prismoidal_m3, 3250.0, EXACT);
    let gaps = (second.sections - 1) as f64;
    close(
        "end areas",
        second.fill_end_area_m3,
        3250.0 + 200.0 / gaps / gaps,
        EXACT,
    );
    let length = ring(&rectangle([0.0, y[0]], [150.0, y[1]]));
    let fill = cut_fill_within(&ground, &bank, &inside(&length), &OneThread)
        .total
        .fill_m3;
    close("exact", fill, 3250.0, EXACT);
}

/// SEC-02, closed form: a pyramid on its side, 30 long, end area 120: volume 1200, prismoidal the
/// same, end areas of one gap 1800; of n gaps 1200 + 600/n^2.
#[test]
fn sec_02_pyramid_by_sections() {
    let vertices = vec![
        at(0.0, 0.0, 0.0),
        at(30.0, -12.0, 0.0),
        at(30.0, 0.0, 10.0),
        at(30.0, 12.0, 0.0),
    ];
    let roof = Surface::from_triangles(vertices, &[[0, 1, 2], [0, 2, 3]], GROUND).unwrap();
    let floor = plane_over([-5.0, -20.0], [35.0, 20.0], |_, _| 0.0);
    close("exact", total(&roof, &floor).cut_m3, 1200.0, EXACT);
    let corners = [Point::from_m(0.0, -13.0), Point::from_m(30.0, 13.0)];
    let second = by_sections(&roof, &floor, &corners).unwrap();
    close("prismoidal", second.cut_prismoidal_m3, 1200.0, EXACT);
    let gaps = (second.sections - 1) as f64;
    close(
        "end areas",
        second.cut_end_area_m3,
        1200.0 + 600.0 / gaps / gaps,
        EXACT,
    );
    close(
        "middle",
        section_at(15.0, [-13.0, 13.0], &roof, &floor)[0],
        30.0,
        EXACT,
    );
}

/// SEC-03, closed form c (b + s c): base 20, cut 6 ft, sides 1.5: 174 sq ft.
/// SEC-04, route-surveying texts: three-level section, cut 6.2 left, 4 in the middle, 2.4 right:
/// catches at 19.3 and 13.6 ft, 108.8 sq ft.
#[test]
fn sec_03_04_sections_of_a_cut() {
    let slope = [(6.2 - 4.0) / 19.3, (2.4 - 4.0) / 13.6];
    for (ground, cut, catches, area) in [
        (
            [[-40.0, 6.0], [0.0, 6.0], [40.0, 6.0]],
            "level",
            [19.0, 19.0],
            174.0,
        ),
        (
            [
                [-40.0, 4.0 + 40.0 * slope[0]],
                [0.0, 4.0],
                [40.0, 4.0 + 40.0 * slope[1]],
            ],
            "three levels",
            [19.3, 13.6],
            108.8,
        ),
    ] {
        let ground = drawn_out(&ground.map(|[x, z]| [x * FT, z * FT]), [-30.0, 30.0]);
        let line = [-20.0, 20.0].map(|y| at(0.0, y, 0.0));
        let shape = sides(Rule::Lower, 1.5, &ground);
        let patch = ribbon(&line, 20.0 * FT, [Ends::Square; 2], LABELS, &shape);
        let road = composed(&ground, &patch, Rule::Lower);
        let across = [
            Point::from_m(-39.0 * FT, 1.0),
            Point::from_m(39.0 * FT, 1.0),
        ];
        let [got, _] = section_areas(&ground.profile(&across), &road.profile(&across));
        close(cut, got / FT / FT, area, EXACT);
        let [low, high] = extent(&road);
        close(cut, -low[0] / FT, catches[0], EXACT);
        close(cut, high[0] / FT, catches[1], EXACT);
    }
}

/// SEC-05, closed form: a design line under an irregular ground line, 23.05.
#[test]
fn sec_05_area_under_an_irregular_line() {
    let y = [0.0, 10.0];
    let ground = drawn_out(
        &[
            [-14.0, 1.6],
            [-8.0, 0.4],
            [0.0, 0.1],
            [9.0, 0.3],
            [13.0, 1.1],
        ],
        y,
    );
    let design = drawn_out(&[[-14.0, 1.6], [-3.0, -1.5], [3.0, -1.5], [13.0, 1.1]], y);
    let across = [Point::from_m(-14.0, 5.0), Point::from_m(13.0, 5.0)];
    let [cut, fill] = section_areas(&ground.profile(&across), &design.profile(&across));
    close("cut", cut, 23.05, EXACT);
    near("fill", fill, 0.0, 1e-12);
    // Ten times as long as wide, the same by volume.
    close("volume", total(&ground, &design).cut_m3, 230.5, EXACT);
}

/// Volume under the corners of cells by corner weights: the mean over both diagonals.
fn cells(size: f64, cells: &[[[f64; 3]; 4]], level: f64) -> f64 {
    let mut sum = 0.0;
    for cell in cells {
        let vertices: Vec<P3> = cell
            .iter()
            .map(|c| at(c[0] * size, c[1] * size, c[2]))
            .collect();
        for diagonal in [[[0, 1, 2], [0, 2, 3]], [[0, 1, 3], [1, 2, 3]]] {
            let ground = Surface::from_triangles(vertices.clone(), &diagonal, GROUND).unwrap();
            let flat = vertices.iter().map(|v| P3 { z: level, ..*v }).collect();
            let flat = Surface::from_triangles(flat, &diagonal, GROUND).unwrap();
            sum += total(&ground, &flat).net_m3() / 2.0;
        }
    }
    sum
}

/// SEC-08, published (an examination-style question on a parking lot): 199.074 cu yd of fill.
/// SEC-09, closed form (corner weights, published question banks): four cells, 450 cu ft.
/// SEC-10, closed form: an L of three cells, 2500 cu ft.
#[test]
fn sec_08_to_10_grid_cells() {
    let corners = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
    let heights = [87.6, 87.6, 87.6, 88.6];
    let cell = [0, 1, 2, 3].map(|k| [corners[k][0], corners[k][1], heights[k] * FT]);
    let fill = -cells(50.0 * FT, &[cell], 90.0 * FT);
    near("SEC-08", fill / M3_PER_YD3, 199.074, 5e-4);

    let square = |nodes: &dyn Fn(usize, usize) -> f64, i: usize, j: usize| {
        [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)]
            .map(|(i, j)| [i as f64, j as f64, nodes(i, j) * FT])
    };
    let cuts = [[1.2, 1.5, 1.9], [0.8, 1.1, 1.6], [0.3, 0.7, 1.0]];
    let node = |i: usize, j: usize| cuts[i][j];
    let pit = [(0, 0), (1, 0), (0, 1), (1, 1)].map(|(i, j)| square(&node, i, j));
    close(
        "SEC-09",
        cells(10.0 * FT, &pit, 0.0) / M3_PER_FT3,
        450.0,
        EXACT,
    );

    let cuts = [[2.0, 2.4, 3.0], [1.6, 2.1, 2.7], [1.2, 1.8, 0.0]];
    let node = |i: usize, j: usize| cuts[i][j];
    let pit = [(0, 0), (0, 1), (1, 0)].map(|(i, j)| square(&node, i, j));
    close(
        "SEC-10",
        cells(20.0 * FT, &pit, 0.0) / M3_PER_FT3,
        2500.0,
        EXACT,
    );
}

/// SEC-11, data of a published text exercise, areas recomputed: formation 10 m, sides 3, seven
/// heights 20 m apart.
#[test]
fn sec_11_seven_sections() {
    let heights = [0.5, 2.5, 3.0, 5.0, 4.0, 3.2, 0.4];
    let areas = [5.75, 43.75, 57.0, 125.0, 88.0, 62.72, 4.48];
    let ground = plane_over([-20.0, -40.0], [140.0, 40.0], |_, _| 0.0);
    let line: Vec<P3> = (0..7)
        .map(|k| at(20.0 * f64::from(k), 0.0, heights[k as usize]))
        .collect();
    let shape = sides(Rule::Raise, 3.0, &ground);
    let patch = ribbon(&line, 10.0, [Ends::Square; 2], LABELS, &shape);
    let bank = composed(&ground, &patch, Rule::Raise);
    for (k, area) in areas.into_iter().enumerate() {
        let got = section_at(20.0 * k as f64, [-39.0, 39.0], &ground, &bank);
        close("area", got[1], area, EXACT);
    }
}

/// BRM-05, closed form: a berm of 20 x 3 ft, 2.5 ft high, sides 2: 520.833 cu ft with straight
/// hips, 502.95 with round corners, whose chords are a micrometre here.
#[test]
fn brm_05_ends_of_a_berm() {
    let ground = plane_over([-10.0, -10.0], [20.0, 20.0], |_, _| 4.0);
    let crest = rectangle([0.0, 0.0], [20.0 * FT, 3.0 * FT]);
    let mitred = sides(Rule::Raise, 2.0, &ground);
    let round = Sides {
        corners: Corners::Round,
        chord_m: 1e-6,
        ..mitred
    };
    // In full 3125/6, and 437.5 + pi 5^2 2.5/3.
    for (shape, want, digits) in [(mitred, 520.833, 5e-4), (round, 502.95, 5e-4)] {
        let berm = laid(&ground, &crest, 4.0 + 2.5 * FT, &shape);
        near(
            "fill",
            total(&ground, &berm).fill_m3 / M3_PER_FT3,
            want,
            digits,
        );
    }
}

/// BRM-06, closed form: a berm 3 ft wide, 2 ft high in the middle, sides 2.5, ground falling
/// across by 0.12: toes 7.78571 and 3.5 ft from the crest, 17.6714 sq ft; on level ground 16.
#[test]
fn brm_06_berm_across_a_slope() {
    for (fall, toes, area, digits) in [
        (0.12, [7.78571, 3.5], 17.6714, 5e-5),
        (0.0, [5.0, 5.0], 16.0, 1e-8),
    ] {
        let ground = plane_over([-10.0, -10.0], [30.0, 10.0], |_, y| 5.0 - fall * y);
        let line = [0.0, 20.0].map(|x| at(x, 0.0, 5.0 + 2.0 * FT));
        let shape = sides(Rule::Raise, 2.5, &ground);
        let patch = ribbon(&line, 3.0 * FT, [Ends::Square; 2], LABELS, &shape);
        let berm = composed(&ground, &patch, Rule::Raise);
        let [cut, fill] = section_at(10.0, [-9.0, 9.0], &ground, &berm);
        near("area", fill / FT / FT, area, digits);
        near("cut", cut, 0.0, 1e-12);
        let [low, high] = extent(&berm);
        near("downhill", high[1] / FT - 1.5, toes[0], 5e-6);
        near("uphill", -low[1] / FT - 1.5, toes[1], 5e-6);
    }
}
