//! Real open data that a fresh clone can reach: the elevation grid the `contour` crate carries.
//!
//! It is the grid of the R data set `volcano`, a hill: 87 x 61 heights in whole metres, 10 m
//! apart (the crate's package holds it in `tests/fixtures/volcano.json`, licence MIT or
//! Apache-2.0). Its first row lies north and its columns run from east to west, as comparing it
//! with the R data set shows; here it is laid out with x east.
//!
//! Every cell is a tie: four points on one circle, so that either diagonal is Delaunay. Results
//! for the two fixed diagonals were computed apart from this program by clipping and by solids;
//! a triangulation that picks its own diagonals must lie within the bound of all ties.
#![allow(clippy::unwrap_used)]

mod common;

use std::collections::BTreeSet;

use common::{at, close, inside, near, package, plane_over, rectangle, ring};
use cutbank::files::OneThread;
use cutbank::geom::{P3, Point, orient, triangulate};
use cutbank::surface::{Contour, Surface, contour_pieces, contours, cut_fill, cut_fill_within};

const COLUMNS: u32 = 87;
const ROWS: u32 = 61;
const CELL_M: f64 = 10.0;

/// The grid as points, row by row from the north, each row from west to east.
fn points() -> Vec<P3> {
    let file = package("contour").join("tests/fixtures/volcano.json");
    let grid: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(file).unwrap()).unwrap();
    assert_eq!(
        (&grid["width"], &grid["height"]),
        (&COLUMNS.into(), &ROWS.into())
    );
    let heights = grid["data"].as_array().unwrap();
    (0..ROWS)
        .flat_map(|row| (0..COLUMNS).map(move |column| (row, column)))
        .map(|(row, column)| {
            let height = &heights[(row * COLUMNS + (COLUMNS - 1 - column)) as usize];
            let (x, y) = (f64::from(column), f64::from(ROWS - 1 - row));
            at(x * CELL_M, y * CELL_M, height.as_f64().unwrap())
        })
        .collect()
}

/// Corners of a cell: south-west, south-east, north-east, north-west.
fn cell(row: u32, column: u32) -> [u32; 4] {
    let at = |row: u32, column: u32| row * COLUMNS + column;
    [
        at(row + 1, column),
        at(row + 1, column + 1),
        at(row, column + 1),
        at(row, column),
    ]
}

fn cells() -> impl Iterator<Item = [u32; 4]> {
    (0..ROWS - 1).flat_map(|row| (0..COLUMNS - 1).map(move |column| cell(row, column)))
}

/// The grid with one diagonal in every cell.
fn fixed(points: &[P3], from_south_west: bool) -> Surface {
    let triangles: Vec<[u32; 3]> = cells()
        .flat_map(|[a, b, c, d]| {
            if from_south_west {
                [[a, b, c], [a, c, d]]
            } else {
                [[a, b, d], [b, c, d]]
            }
        })
        .collect();
    Surface::from_triangles(points.to_vec(), &triangles, 0).unwrap()
}

fn delaunay(points: &[P3]) -> Surface {
    let plan: Vec<Point> = points.iter().map(|p| p.p).collect();
    let t = triangulate(&plan, &[]).unwrap();
    Surface::from_triangles(points.to_vec(), &t.triangles, 0).unwrap()
}

/// Sum over the cells of the volume between their two diagonals: a cell of area A whose corners
/// are `t` off a plane holds `A |t| / 6` more with one diagonal than with the other.
fn tie_bound_m3(points: &[P3]) -> f64 {
    cells()
        .map(|c| {
            let [a, b, c, d] = c.map(|v| points[v as usize].z);
            CELL_M * CELL_M * (a - b + c - d).abs() / 6.0
        })
        .sum()
}

/// The grid is the one the results are for: count, range and sum of heights of the R data set.
#[test]
fn the_grid_is_the_known_one() {
    let points = points();
    assert_eq!(points.len(), 5307);
    let sum: f64 = points.iter().map(|p| p.z).sum();
    near("sum", sum, 690_907.0, 0.0);
    let facts = delaunay(&points).facts().unwrap();
    near("lowest", facts.min_z_m, 94.0, 0.0);
    near("highest", facts.max_z_m, 195.0, 0.0);
    near("plan area", facts.area_m2, 860.0 * 600.0, 1e-6);
    assert_eq!(facts.points, 5307);
}

/// Euler: n points, h of them on the rim, make 2n-2-h triangles and 3n-3-h edges.
#[test]
fn euler_counts() {
    let points = points();
    let surface = delaunay(&points);
    let (n, h) = (points.len(), 2 * (COLUMNS + ROWS) as usize - 4);
    assert_eq!(surface.num_facets(), 2 * n - 2 - h);
    assert_eq!(surface.num_facets(), 10_320);
    let sides = surface.facets().flat_map(|f| surface.neighbours(f));
    let rim = sides.filter(|&n| n == Surface::NONE).count();
    assert_eq!(rim, h);
    assert_eq!((3 * surface.num_facets() + rim) / 2, 3 * n - 3 - h);
    surface.check_consistent().unwrap();
}

/// Results for both diagonals, computed apart from this program: volume above 90 m, area along the
/// slope, mean and steepest slope, cut and fill to 130 m, cut and fill of a pad at 165 m.
#[test]
fn both_fixed_diagonals() {
    let points = points();
    let mut above = Vec::new();
    for (from_south_west, volume, area, mean, steepest, level, pad) in [
        (
            true,
            21_113_050.0,
            544_557.817_854_641_5,
            0.279_960_303_859_031_76,
            1.252_996_408_614_166_7,
            [5_899_203.973_567_823, 5_426_153.973_567_823],
            [6_202.137_037_037_037, 73_909.537_037_037],
        ),
        (
            false,
            21_112_950.0,
            544_580.180_567_393_4,
            0.281_511_084_460_599_2,
            1.303_840_481_040_529_7,
            [5_899_002.384_582_79, 5_426_052.384_582_789],
            [6_173.551_851_851_852, 73_820.935_185_185_18],
        ),
    ] {
        let surface = fixed(&points, from_south_west);
        let facts = surface.facts().unwrap();
        assert_eq!(facts.triangles, 10_320);
        above.push(surface.volume_above_m3(90.0));
        close("volume", surface.volume_above_m3(90.0), volume, 1e-13);
        close("area", facts.surface_area_m2, area, 1e-12);
        close("mean", facts.mean_slope_rise_per_run, mean, 1e-12);
        close("steepest", facts.max_slope_rise_per_run, steepest, 1e-12);
        let at_130 = plane_over([-5.0, -5.0], [865.0, 605.0], |_, _| 130.0);
        let got = cut_fill(&surface, &at_130, &OneThread).total;
        close("cut to 130", got.cut_m3, level[0], 1e-12);
        close("fill to 130", got.fill_m3, level[1], 1e-12);
        let at_165 = plane_over([-5.0, -5.0], [865.0, 605.0], |_, _| 165.0);
        let within = inside(&ring(&rectangle([303.0, 252.0], [421.0, 333.0])));
        let got = cut_fill_within(&surface, &at_165, &within, &OneThread).total;
        close("cut of the pad", got.cut_m3, pad[0], 1e-11);
        close("fill of the pad", got.fill_m3, pad[1], 1e-11);
        close("pad", got.common_area_m2, 9558.0, 1e-12);
    }
    // The mean of the two is the volume under bilinear cells.
    close("bilinear", (above[0] + above[1]) / 2.0, 21_113_000.0, 1e-13);
}

/// Lengths of contours over both diagonals, computed apart from this program: between the
/// heights, so that no line runs along an edge.
#[test]
fn contours_of_both_fixed_diagonals() {
    let points = points();
    for (from_south_west, wants) in [
        (
            true,
            [
                (130.5, 2_015.997_113_460_112_4, 424, 1),
                (150.5, 1_552.861_572_997_06, 326, 2),
                (170.5, 1_262.932_416_897_238_7, 280, 1),
            ],
        ),
        (
            false,
            [
                (130.5, 2_027.382_892_489_994, 446, 1),
                (150.5, 1_559.504_245_373_344_7, 346, 2),
                (170.5, 1_253.793_616_779_959_4, 258, 1),
            ],
        ),
    ] {
        let surface = fixed(&points, from_south_west);
        for (level, length, pieces, closed) in wants {
            let lines = contours(&surface, &[level], &|_| true);
            let got: f64 = lines.iter().map(Contour::length_m).sum();
            close("length", got, length, 1e-12);
            assert_eq!(contour_pieces(&surface, &[level]), pieces);
            assert!(lines.iter().all(|line| line.closed));
            assert_eq!(lines.len(), closed);
        }
    }
}

/// The crate's own lines run from side to side of the cells: each of their corners is a corner
/// of the contours over triangles, which have one more on each diagonal they cross.
#[test]
fn contours_pass_where_those_of_the_grid_do() {
    let points = points();
    let heights: Vec<f64> = points.iter().map(|p| p.z).collect();
    let surface = fixed(&points, true);
    let micrometres = |m: f64| (m * 1.0e6).round() as i64;
    let is_inner = |p: &[i64; 2]| {
        let ends = [COLUMNS, ROWS].map(|n| micrometres(f64::from(n - 1) * CELL_M));
        (0..2).all(|k| p[k] > 0 && p[k] < ends[k])
    };
    for level in [110.5, 130.5, 150.5, 170.5] {
        let grid = contour::ContourBuilder::new(COLUMNS as usize, ROWS as usize, true);
        let wants = grid.lines(&heights, &[level]).unwrap();
        // Columns and rows of the crate are counted at the middle of its cells, rows from north.
        let want: BTreeSet<[i64; 2]> = wants
            .iter()
            .flat_map(|line| &line.geometry().0)
            .flat_map(|line| &line.0)
            .map(|c| {
                [c.x - 0.5, f64::from(ROWS) - 0.5 - c.y].map(|cell| micrometres(cell * CELL_M))
            })
            // It goes on round the rim of the grid, half a cell outside.
            .filter(is_inner)
            .collect();
        let on_side = |v: f64| (v / CELL_M - (v / CELL_M).round()).abs() < 1e-12;
        let got: BTreeSet<[i64; 2]> = contours(&surface, &[level], &|_| true)
            .iter()
            .flat_map(|line| &line.points)
            .filter(|p| on_side(p[0]) || on_side(p[1]))
            .map(|p| p.map(micrometres))
            .filter(is_inner)
            .collect();
        assert!(want.len() > 100, "{level}: {}", want.len());
        assert_eq!(got, want, "{level}");
    }
}

/// Whatever diagonals are picked, the volume lies within half the bound of all ties of the
/// bilinear one; the bound is 52,033.3 m3 by the same results, and by the heights themselves.
#[test]
fn picked_diagonals_lie_within_the_ties() {
    let points = points();
    let bound = tie_bound_m3(&points);
    close("bound", bound, 156_100.0 / 3.0, 1e-12);
    let surface = delaunay(&points);
    near(
        "volume",
        surface.volume_above_m3(90.0),
        21_113_000.0,
        bound / 2.0,
    );
    // No edge but sides and diagonals of cells is Delaunay here.
    for f in surface.facets() {
        close(
            "area of a triangle",
            surface.area_m2(f),
            CELL_M * CELL_M / 2.0,
            1e-15,
        );
    }
    let [first, second] = [true, false].map(|d| fixed(&points, d));
    let between = cut_fill(&first, &second, &OneThread).total;
    close(
        "between the diagonals",
        between.cut_m3 + between.fill_m3,
        bound,
        1e-12,
    );
    close("net between them", between.net_m3(), 100.0, 1e-9);
    for other in [&first, &second] {
        let apart = cut_fill(&surface, other, &OneThread).total;
        assert!(apart.cut_m3 + apart.fill_m3 <= bound * (1.0 + 1e-12));
    }
}

/// Twice the area of the convex hull (A. M. Andrew's chains, "Another efficient algorithm for
/// convex hulls in two dimensions", Information Processing Letters 9 (1979), 216-219).
fn twice_hull_area(points: &[Point]) -> i128 {
    let mut sorted = points.to_vec();
    sorted.sort_unstable();
    let chain = |points: &mut dyn Iterator<Item = &Point>| {
        let mut chain: Vec<Point> = Vec::new();
        for &p in points {
            while chain.len() > 1 && orient(chain[chain.len() - 2], chain[chain.len() - 1], p) <= 0
            {
                chain.pop();
            }
            chain.push(p);
        }
        chain
    };
    let mut hull = chain(&mut sorted.iter());
    hull.pop();
    hull.extend(chain(&mut sorted.iter().rev()));
    hull.windows(2)
        .map(|side| orient(hull[0], side[0], side[1]))
        .sum()
}

/// In-circle determinant; whole numbers this small need no more than 128 bits.
fn in_circle([a, b, c]: [Point; 3], d: Point) -> i128 {
    let [a, b, c] = [a, b, c].map(|p| [i128::from(p.x - d.x), i128::from(p.y - d.y)]);
    let lift = |[x, y]: [i128; 2]| x * x + y * y;
    let cross = |[ax, ay]: [i128; 2], [bx, by]: [i128; 2]| ax * by - bx * ay;
    lift(a) * cross(b, c) + lift(b) * cross(c, a) + lift(c) * cross(a, b)
}

/// The sets of points that once defeated a triangulator of another make, which its package
/// ships as regressions, rounded to whole numbers of up to 28 bits.
#[test]
fn sets_that_defeated_a_triangulator_are_delaunay() {
    let folder = package("delaunator").join("tests/fixtures");
    let mut num_sets = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let text = std::fs::read_to_string(entry.unwrap().path()).unwrap();
        let read: Vec<[f64; 2]> = serde_json::from_str(&text).unwrap();
        let largest = read.iter().flatten().fold(0.0, |m: f64, v| m.max(v.abs()));
        let scale = f64::from(1 << 27) / largest;
        let mut points: Vec<Point> = read
            .iter()
            .map(|p| p.map(|v| (v * scale).round() as i64))
            .map(|[x, y]| Point::new(x, y))
            .collect();
        points.sort_unstable();
        points.dedup();
        let t = triangulate(&points, &[]).unwrap();
        let mut area = 0;
        for v in &t.triangles {
            let corners = v.map(|k| points[k as usize]);
            let [a, b, c] = corners;
            assert!(orient(a, b, c) > 0);
            area += orient(a, b, c);
            assert!(points.iter().all(|&d| in_circle(corners, d) <= 0));
        }
        assert_eq!(area, twice_hull_area(&points));
        num_sets += 1;
    }
    assert!(num_sets >= 10, "{num_sets} sets");
}
