//! Contours, slope bands and the lie of the ground against closed forms, and the sheets that
//! show them.
//!
//! Expected values are elementary geometry, worked out beside each test.
#![allow(clippy::unwrap_used)]

mod common;

use std::f64::consts::{PI, TAU};

use common::{Folder, at, close, drawn_out, near, plane_over, run_job};
use cutbank::drawing::{ground, plan, slopes};
use cutbank::geom::{P3, Point};
use cutbank::outcome::Outcome;
use cutbank::surface::{Contour, Round, Surface, contours, levels_between};
use cutbank::terrain::{Fall, Relief, slope_bands};

fn all(surface: &Surface, levels: &[f64]) -> Vec<Contour> {
    contours(surface, levels, &|_| true)
}

/// The only contour at a level.
#[track_caller]
fn only(surface: &Surface, level: f64) -> Contour {
    let lines = all(surface, &[level]);
    assert_eq!(lines.len(), 1, "{lines:?}");
    lines[0].clone()
}

/// A cone of `sides` facets over a circle, `height` high in the middle (negative: a hollow).
fn cone(sides: u32, radius: f64, height: f64) -> Surface {
    let mut vertices = vec![at(0.0, 0.0, height)];
    vertices.extend((0..sides).map(|k| {
        let (sin, cos) = (TAU * f64::from(k) / f64::from(sides)).sin_cos();
        at(radius * cos, radius * sin, 0.0)
    }));
    let triangles: Vec<[u32; 3]> = (0..sides)
        .map(|k| [0, 1 + k, 1 + (k + 1) % sides])
        .collect();
    Surface::from_triangles(vertices, &triangles, 0).unwrap()
}

/// Closed form: at half its height a cone of n sides is a polygon of half the radius, with a
/// perimeter of 2 n r sin(pi / n), which tends to 2 pi r.
#[test]
fn contours_of_a_cone_tend_to_circles() {
    let (radius, height) = (10.0, 4.0);
    let mut gap = f64::INFINITY;
    for sides in [6u32, 24, 96, 384] {
        let line = only(&cone(sides, radius, height), height / 2.0);
        let n = f64::from(sides);
        let r = radius / 2.0;
        assert!(line.closed);
        assert_eq!(line.points.len(), sides as usize);
        close(
            "polygon",
            line.length_m(),
            2.0 * n * r * (PI / n).sin(),
            1e-8,
        );
        let short = TAU * r - line.length_m();
        // The chord falls short by a share of pi^2 / (6 n^2): sixteen times less for four times
        // the sides.
        assert!(short > 0.0 && short < gap / 15.0, "{sides}: {short}");
        gap = short;
    }
    assert!(gap / (TAU * radius / 2.0) < 2e-5);
}

/// A line round a top has the high ground inside, one round a hollow the low ground.
#[test]
fn tops_and_hollows_are_told_apart() {
    let top = only(&cone(8, 5.0, 1.0), 0.5);
    assert_eq!(top.round(), Some(Round::Top));
    let hollow = only(&cone(8, 5.0, -1.0), -0.5);
    assert_eq!(hollow.round(), Some(Round::Hollow));
    let open = only(&plane_over([0.0, 0.0], [4.0, 4.0], |x, _| x), 1.5);
    assert!(!open.closed);
    assert_eq!(open.round(), None);
}

/// Closed form: on a plane z = 0.3 x + 0.4 y over 10 by 10 the level 3.5 runs from (10, 1.25)
/// to (0, 8.75), straight, 12.5 long.
#[test]
fn a_plane_has_straight_contours() {
    let surface = plane_over([0.0, 0.0], [10.0, 10.0], |x, y| 0.3 * x + 0.4 * y);
    let line = only(&surface, 3.5);
    close("length", line.length_m(), 12.5, 1e-12);
    for [x, y] in &line.points {
        near("on the line", 0.3 * x + 0.4 * y, 3.5, 1e-12);
    }
    let mut ends = [line.points[0], *line.points.last().unwrap()];
    ends.sort_by(|a, b| a[0].total_cmp(&b[0]));
    for (end, want) in ends.iter().zip([[0.0, 8.75], [10.0, 1.25]]) {
        near("x", end[0], want[0], 1e-9);
        near("y", end[1], want[1], 1e-9);
    }
}

/// The high side lies to the left of every piece of every line.
#[test]
fn the_high_side_is_on_the_left() {
    let surface = cone(7, 5.0, 2.0);
    for line in all(&surface, &[0.3, 0.9, 1.7]) {
        for pair in line.points.windows(2) {
            let ([ax, ay], [bx, by]) = (pair[0], pair[1]);
            let middle = [(ax + bx) / 2.0, (ay + by) / 2.0];
            let left = Point::from_m(middle[0] - (by - ay) * 0.01, middle[1] + (bx - ax) * 0.01);
            assert!(surface.z_at(left).unwrap() > line.level_m);
        }
    }
}

/// Levels at the corners themselves: a terrace of 2 by 6 m at 1 m between a slope below it and
/// one above it. The line at its level is its low edge, once; a flat facet draws nothing.
#[test]
fn a_level_terrace_has_its_low_edge() {
    let surface = drawn_out(
        &[[0.0, 0.0], [3.0, 1.0], [5.0, 1.0], [8.0, 2.0]],
        [0.0, 6.0],
    );
    let line = only(&surface, 1.0);
    close("length", line.length_m(), 6.0, 1e-12);
    assert!(line.points.iter().all(|p| (p[0] - 3.0).abs() < 1e-9));
    assert!(!line.closed);
    // Neither the foot nor the highest edge is crossed: nothing lies below the one and nothing
    // above the other.
    assert!(all(&surface, &[0.0, 2.0]).is_empty());
}

/// A ridge and a valley exactly at a level: the ground touches it and does not cross it.
#[test]
fn a_level_that_only_touches_gives_no_line() {
    let ridge = drawn_out(&[[0.0, 0.0], [4.0, 1.0], [8.0, 0.0]], [0.0, 6.0]);
    assert!(all(&ridge, &[1.0]).is_empty(), "{:?}", all(&ridge, &[1.0]));
    // The same inside a wider surface, where the ridge ends in the open.
    let roof = [
        at(0.0, 0.0, 0.0),
        at(10.0, 0.0, 0.0),
        at(10.0, 6.0, 0.0),
        at(0.0, 6.0, 0.0),
        at(3.0, 3.0, 1.0),
        at(7.0, 3.0, 1.0),
    ];
    let triangles = [
        [0, 1, 5],
        [0, 5, 4],
        [1, 2, 5],
        [2, 3, 4],
        [2, 4, 5],
        [3, 0, 4],
    ];
    let roof = Surface::from_triangles(roof.to_vec(), &triangles, 0).unwrap();
    assert!(all(&roof, &[1.0]).is_empty());
    let valley = drawn_out(&[[0.0, 1.0], [4.0, 0.0], [8.0, 1.0]], [0.0, 6.0]);
    assert!(all(&valley, &[0.0]).is_empty());
    // A hair below the ridge there are two lines, one on each side, not one there and back.
    let lines = all(&ridge, &[0.75]);
    assert_eq!(lines.len(), 2);
    let length: f64 = lines.iter().map(Contour::length_m).sum();
    close("both", length, 12.0, 1e-12);
}

/// A ridge at the level that ends at a hill: the line goes round the hill and leaves the ridge
/// out. A square hill of side 2 on the level, its top 1 m above it, ground 1 m below all round.
#[test]
fn a_level_ridge_is_no_part_of_the_line_round_a_hill() {
    let vertices = vec![
        // The end of the ridge, on the rim.
        at(0.0, 0.0, 0.0),
        at(10.0, 0.0, -1.0),
        at(10.0, 10.0, -1.0),
        at(0.0, 10.0, -1.0),
        at(4.0, 4.0, 0.0),
        at(6.0, 4.0, 0.0),
        at(6.0, 6.0, 0.0),
        at(4.0, 6.0, 0.0),
        at(5.0, 5.0, 1.0),
    ];
    let plan: Vec<Point> = vertices.iter().map(|v| v.p).collect();
    let lines = [[4, 5], [5, 6], [6, 7], [7, 4], [4, 0], [4, 1], [4, 3]];
    let t = cutbank::geom::triangulate(&plan, &lines).unwrap();
    let surface = Surface::from_triangles(vertices, &t.triangles, 0).unwrap();
    let line = only(&surface, 0.0);
    assert_eq!(line.round(), Some(Round::Top));
    close("length", line.length_m(), 8.0, 1e-12);
}

/// Whole heights on a lattice, so that corners, edges and whole facets lie on the levels: the
/// lines hold every piece of the border of what is at the level or above, each once, and an open
/// line ends on the rim only.
#[test]
fn lines_through_corners_edges_and_flat_facets_lose_nothing() {
    const SIDE: u32 = 9;
    let mut random = common::Random(77);
    for trial in 0..300 {
        let mut vertices = Vec::new();
        for row in 0..SIDE {
            for column in 0..SIDE {
                let z = random.between(0.0, 3.0).floor();
                vertices.push(at(f64::from(column), f64::from(row), z));
            }
        }
        let mut triangles = Vec::new();
        for row in 0..SIDE - 1 {
            for column in 0..SIDE - 1 {
                let a = row * SIDE + column;
                let [b, c, d] = [a + 1, a + SIDE + 1, a + SIDE];
                if random.between(0.0, 1.0) < 0.5 {
                    triangles.extend([[a, b, c], [a, c, d]]);
                } else {
                    triangles.extend([[a, b, d], [b, c, d]]);
                }
            }
        }
        let surface = Surface::from_triangles(vertices, &triangles, 0).unwrap();
        for level in [1.0, 2.0, 0.5] {
            let lines = all(&surface, &[level]);
            let got: f64 = lines.iter().map(Contour::length_m).sum();
            near(
                &format!("trial {trial} at {level}"),
                got,
                border(&surface, level),
                1e-9,
            );
            let last = f64::from(SIDE - 1);
            let is_rim = |p: &[f64; 2]| p.iter().any(|v| *v == 0.0 || *v == last);
            for line in lines.iter().filter(|line| !line.closed) {
                let ends = [line.points[0], *line.points.last().unwrap()];
                assert!(
                    ends.iter().all(is_rim),
                    "trial {trial} at {level}: {line:?}"
                );
            }
        }
    }
}

/// Length of the border of what is at a level or above and has area, facet by facet.
fn border(surface: &Surface, level: f64) -> f64 {
    let has_area = |f: u32| {
        let z = surface.corners(f).map(|c| c.z);
        z.iter().any(|z| *z > level) || z.iter().all(|z| *z == level)
    };
    let mut sum = 0.0;
    for f in surface.facets() {
        let c = surface.corners(f);
        let mut ends = Vec::new();
        for k in 0..3 {
            let (a, b) = (c[k], c[(k + 1) % 3]);
            let (low, high) = if a.z < b.z { (a, b) } else { (b, a) };
            if low.z < level && high.z > level {
                let t = (level - low.z) / (high.z - low.z);
                let [dx, dy] = high.p.relative_m(low.p);
                ends.push([low.p.x_m() + t * dx, low.p.y_m() + t * dy]);
            }
            let across = surface.neighbours(f)[k];
            let is_below = c[(k + 2) % 3].z < level;
            if a.z == level
                && b.z == level
                && is_below
                && across != Surface::NONE
                && has_area(across)
            {
                let [dx, dy] = b.p.relative_m(a.p);
                sum += dx.hypot(dy);
            }
        }
        // From side to side, or from a side to the corner on the level.
        ends.extend(
            c.iter()
                .filter(|c| c.z == level && ends.len() == 1)
                .map(|c| [c.p.x_m(), c.p.y_m()])
                .collect::<Vec<_>>(),
        );
        if let [a, b] = ends[..] {
            sum += (b[0] - a[0]).hypot(b[1] - a[1]);
        }
    }
    sum
}

/// Closed form (layers of thin levels): the sum of all lengths times the interval tends to the
/// mean slope times the plan area.
#[test]
fn lengths_add_up_to_the_slope() {
    let mut random = common::Random(5);
    let vertices: Vec<P3> = (0..200)
        .map(|_| {
            let (x, y) = (random.between(0.0, 40.0), random.between(0.0, 30.0));
            at(x, y, 0.1 * x + (y / 5.0).sin())
        })
        .collect();
    let plan: Vec<Point> = vertices.iter().map(|v| v.p).collect();
    let t = cutbank::geom::triangulate(&plan, &[]).unwrap();
    let surface = Surface::from_triangles(vertices, &t.triangles, 0).unwrap();
    let (low, high) = surface.z_range().unwrap();
    let interval = (high - low) / 2000.0;
    let levels: Vec<f64> = levels_between(low, high, interval)
        .into_iter()
        .map(|(_, z)| z)
        .collect();
    let length: f64 = all(&surface, &levels).iter().map(Contour::length_m).sum();
    let facts = surface.facts().unwrap();
    close(
        "sum of lengths",
        length * interval,
        facts.mean_slope_rise_per_run * facts.area_m2,
        1e-3,
    );
}

/// Closed form: a plane is its own best plane, wherever its shots lie.
#[test]
fn the_best_plane_of_a_plane_is_itself() {
    let surface = plane_over([3.0, -7.0], [40.0, 20.0], |x, y| 5.0 - 0.03 * x + 0.11 * y);
    let best = surface.best_plane().unwrap();
    near("east", best.slope[0], -0.03, 1e-9);
    near("north", best.slope[1], 0.11, 1e-9);
    near("height", best.z_at(Point::from_m(10.0, 10.0)), 5.8, 1e-9);
    // A cone falls to all sides alike.
    let best = cone(12, 5.0, 3.0).best_plane().unwrap();
    near("cone", best.steepness(), 0.0, 1e-9);
    // Its mean height is a third of it.
    near("middle", best.through.z, 1.0, 1e-9);
}

#[test]
fn the_ground_falls_one_way_several_ways_or_not_at_all() {
    let fall = |surface: &Surface| Relief::of(surface, None).unwrap().fall();
    let south = plane_over([0.0, 0.0], [10.0, 10.0], |_, y| 0.1 * y);
    let Fall::OneWay([east, north]) = fall(&south) else {
        panic!("{:?}", fall(&south));
    };
    near("east", east, 0.0, 1e-9);
    near("north", north, -0.1, 1e-9);
    assert_eq!(fall(&cone(9, 5.0, 1.0)), Fall::ManyWays);
    let level = plane_over([0.0, 0.0], [10.0, 10.0], |_, _| 7.0);
    assert_eq!(fall(&level), Fall::Level);
}

/// Closed form: three strips of 6 m by 10, 5 and 2 m at 1, 10 and 100 percent. The areas add up
/// to the surface's own as whole numbers.
#[test]
fn slope_bands_hold_all_of_the_ground() {
    let surface = drawn_out(
        &[[0.0, 0.0], [10.0, 0.1], [15.0, 0.6], [17.0, 2.6]],
        [0.0, 6.0],
    );
    let bands = slope_bands(&surface);
    let areas = bands.map(|band| band.area_m2());
    for (area, want) in areas.iter().zip([60.0, 0.0, 30.0, 0.0, 0.0, 0.0, 12.0]) {
        near("band", *area, want, 1e-12);
    }
    let sum: i128 = bands.iter().map(|band| band.twice_area_nm2).sum();
    assert_eq!(sum, surface.twice_area_nm2());
    let mut random = common::Random(11);
    let vertices: Vec<P3> = (0..300)
        .map(|_| {
            let [x, y, z] = [0; 3].map(|_| random.between(0.0, 20.0));
            at(x, y, z * 0.2)
        })
        .collect();
    let plan: Vec<Point> = vertices.iter().map(|v| v.p).collect();
    let t = cutbank::geom::triangulate(&plan, &[]).unwrap();
    let surface = Surface::from_triangles(vertices, &t.triangles, 0).unwrap();
    let sum: i128 = slope_bands(&surface).iter().map(|b| b.twice_area_nm2).sum();
    assert_eq!(sum, surface.twice_area_nm2());
}

/// 20 by 12 m falling 1 m to 10 m east, with a house of 2 by 4 m, and a stack of timber of 3 by
/// 2 m that nobody could measure under.
fn yard() -> Outcome {
    let mut shots = String::from("name,x,y,z,code\n");
    let mut number = 0;
    let mut shoot = |x: f64, y: f64, code: &str| {
        number += 1;
        shots.push_str(&format!("{number},{x},{y},{},{code}\n", 100.0 - 0.1 * x));
    };
    for [x, y] in [[0.0, 0.0], [20.0, 0.0], [20.0, 12.0], [0.0, 12.0]] {
        shoot(x, y, "fence");
    }
    for [x, y] in [[4.0, 4.0], [6.0, 4.0], [6.0, 8.0], [4.0, 8.0]] {
        shoot(x, y, "house");
    }
    for [x, y] in [[12.0, 5.0], [15.0, 5.0], [15.0, 7.0], [12.0, 7.0]] {
        shoot(x, y, "pile");
    }
    let job = "[job]\nname = \"Yard\"\nunits = \"m\"\n[[survey]]\npoints = \"shots.csv\"\n\
               [ground]\noutline = \"code:fence\"\nholes = [\"code:house\"]\n\
               no_data = [\"code:pile\"]\n";
    run_job(Folder::default().with("shots.csv", &shots), job)
}

#[test]
fn no_data_is_cut_out_of_the_ground_and_is_no_hole() {
    let outcome = yard();
    let terrain = &outcome.terrain;
    assert_eq!((terrain.holes.len(), terrain.no_data.len()), (1, 1));
    near("its area", terrain.no_data[0].area_m2, 6.0, 1e-12);
    let whole = 20.0 * 12.0 - 2.0 * 4.0 - 3.0 * 2.0;
    near("ground", outcome.ground_facts.area_m2, whole, 1e-9);
    let [x, y] = [13.5, 6.0];
    let origin = terrain.origin;
    let p = Point::from_m(x - origin.x_m as f64, y - origin.y_m as f64);
    assert_eq!(terrain.surface.z_at(p), None);
    let json = cutbank::report::json(&outcome);
    assert_eq!(json["ground"]["num_holes"], 1);
    near(
        "json",
        json["ground"]["no_data_m2"][0].as_f64().unwrap(),
        6.0,
        1e-12,
    );
    let page = cutbank::report::html(&outcome);
    assert!(page.contains("No data, area 1: 6.0 m2"), "said on the page");
}

/// The contour at x = 13 m of the falling yard meets the stack and stops at it: two lines, 10 m
/// of the 12 m across. The one at x = 5 m meets the house: 8 m are left.
#[test]
fn contours_stop_at_holes_and_at_no_data() {
    let outcome = yard();
    let surface = &outcome.terrain.surface;
    for (level, length, lines) in [(98.7, 10.0, 2), (99.5, 8.0, 2), (99.0, 12.0, 1)] {
        let found = all(surface, &[level]);
        assert_eq!(found.len(), lines, "{level}: {found:?}");
        assert!(found.iter().all(|line| !line.closed));
        let sum: f64 = found.iter().map(Contour::length_m).sum();
        near("length", sum, length, 1e-6);
    }
}

/// Triangles taken off at the rim are counted.
#[test]
fn what_is_taken_off_at_the_rim_is_stated() {
    // Four shots of a square, and a fifth far off: its triangle has long edges.
    let shots = "name,x,y,z\n1,0,0,1\n2,10,0,1\n3,10,10,1\n4,0,10,1\n5,30,5,2\n";
    let job = "[job]\nname = \"Far\"\nunits = \"m\"\n[[survey]]\npoints = \"shots.csv\"\n\
               [ground]\nmax_edge = 15.0\n";
    let outcome = run_job(Folder::default().with("shots.csv", shots), job);
    // Half of 10 by 20.
    near("off", outcome.terrain.trimmed_m2, 100.0, 1e-9);
    near("left", outcome.ground_facts.area_m2, 100.0, 1e-9);
}

/// Path data of a drawing that has a piece of style.
fn paths<'a>(svg: &'a str, style: &str) -> Vec<Vec<[f64; 2]>> {
    svg.lines()
        .filter(|line| line.starts_with("<path") && line.contains(style))
        .map(|line: &'a str| {
            let data = line.split('"').nth(1).unwrap();
            data.split(['M', 'L', 'Z'])
                .filter(|pair| !pair.is_empty())
                .map(|pair| {
                    let (x, y) = pair.split_once(' ').unwrap();
                    [x.parse().unwrap(), y.parse().unwrap()]
                })
                .collect()
        })
        .collect()
}

/// Width and height of a path.
fn size(path: &[[f64; 2]]) -> [f64; 2] {
    [0, 1].map(|k| {
        let v = || path.iter().map(|p| p[k]);
        v().fold(f64::MIN, f64::max) - v().fold(f64::MAX, f64::min)
    })
}

/// The rim of 20 by 12 m on each sheet, at the scale that stands on it; hatch of both kinds, and
/// the levels of the shots.
#[test]
fn sheets_of_the_ground_are_true_to_scale() {
    let outcome = yard();
    for (name, svg) in [
        ("ground", ground(&outcome)),
        ("slopes", slopes(&outcome)),
        ("plan", plan(&outcome)),
    ] {
        let scale = svg.split("1 : ").nth(1).unwrap();
        let digits: String = scale.chars().take_while(char::is_ascii_digit).collect();
        let mm_per_m = 1000.0 / digits.parse::<f64>().unwrap();
        let rim = paths(&svg, "stroke=\"#000000\" stroke-width=\"0.25\"");
        let found = rim.iter().map(|path| size(path)).any(|[w, h]| {
            (w - 20.0 * mm_per_m).abs() < 0.011 && (h - 12.0 * mm_per_m).abs() < 0.011
        });
        assert!(found, "{name}: {mm_per_m} mm per m");
        for words in ["no data", "no ground", "Not a boundary survey."] {
            assert!(svg.contains(words), "{name} says {words}");
        }
    }
    let svg = ground(&outcome);
    for level in [
        "HP 100.000",
        "LP 98.000",
        ">99.600<",
        ">98.500<",
        "Contours every 0.1 m",
    ] {
        assert!(svg.contains(level), "{level}");
    }
}

/// Bands of slope on their sheet, with areas that are the outcome's own.
#[test]
fn the_sheet_of_slopes_carries_letters_and_areas() {
    let outcome = yard();
    let svg = slopes(&outcome);
    // All of it falls at 10 percent: band C, of which 226 m2 are left.
    assert!(svg.contains("5 to 10 %: 226 m2"));
    assert!(svg.contains("10 to 20 %: none"));
    assert!(svg.contains(">C</text>"));
    assert!(svg.contains("way water runs"));
    let json = cutbank::report::json(&outcome);
    let bands = json["ground"]["slope_bands"].as_array().unwrap();
    assert_eq!(bands.len(), 7);
    near("C", bands[2]["area_m2"].as_f64().unwrap(), 226.0, 1e-9);
    assert!(bands[6]["up_to_rise_per_run"].is_null());
    let azimuth = json["ground"]["downhill_azimuth_deg"].as_f64().unwrap();
    near("azimuth", azimuth, 90.0, 1e-6);
}

/// Two thousand shots still make a sheet that can be read and sent: dots, thinned levels.
#[test]
fn many_shots_make_a_small_sheet() {
    let mut random = common::Random(21);
    let mut shots = String::from("name,x,y,z\n");
    for k in 1..=2000 {
        let (x, y) = (random.between(0.0, 60.0), random.between(0.0, 40.0));
        let z = 100.0 + 0.05 * x + (y / 8.0).sin();
        shots.push_str(&format!("{k},{x:.3},{y:.3},{z:.3}\n"));
    }
    let job = "[job]\nname = \"Many\"\nunits = \"m\"\n[[survey]]\npoints = \"shots.csv\"\n";
    let outcome = run_job(Folder::default().with("shots.csv", &shots), job);
    let svg = ground(&outcome);
    assert!(svg.len() < 250_000, "{} bytes", svg.len());
    let levels = svg.matches("font-size=\"1.8\"").count();
    assert!((100..500).contains(&levels), "{levels} levels");
    assert!(svg.contains("of 2000 shots have their level written"));
}
