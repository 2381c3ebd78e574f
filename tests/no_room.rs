//! No-room lines against closed forms, published figures, and an independent search.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod common;

use common::{Folder, close, near, reference_data, run_job, slow_z};
use cutbank::checks::{Basis, Severity, Wall};
use cutbank::geom::{Point, orient_sign};
use cutbank::outcome::Outcome;
use cutbank::report::wall_toml;

/// A yard from `-half` to `half` whose ground is the plane `100 + gx x + gy y`, in the unit.
fn plane(unit: &str, half: f64, [gx, gy]: [f64; 2], limits: &str, rest: &str) -> Outcome {
    let mut csv = "name,east,north,level\n".to_owned();
    let corners = [(-half, -half), (half, -half), (half, half), (-half, half)];
    for (k, (x, y)) in corners.iter().enumerate() {
        csv += &format!("{k},{x},{y},{}\n", 100.0 + gx * x + gy * y);
    }
    job(unit, csv, limits, rest)
}

fn job(unit: &str, csv: String, limits: &str, rest: &str) -> Outcome {
    let job = format!(
        "[job]\nname = \"test\"\nunits = \"{unit}\"\n[limits]\n{limits}\n\
         [[survey]]\npoints = \"points.csv\"\n{rest}"
    );
    run_job(Folder::default().with("points.csv", &csv), &job)
}

fn line(name: &str, kind: &str, at: &[[f64; 2]]) -> String {
    format!("[[keep-off]]\nname = \"{name}\"\nkind = \"{kind}\"\nline = {at:?}\n")
}

fn area(name: &str, kind: &str, at: &[[f64; 2]]) -> String {
    format!("[[keep-off]]\nname = \"{name}\"\nkind = \"{kind}\"\narea = {at:?}\n")
}

fn berm(outline: &[[f64; 2]], crest: f64, run: f64) -> String {
    format!(
        "[[feature]]\nkind = \"berm\"\nname = \"Berm\"\noutline = {outline:?}\n\
         crest = \"level:{crest}\"\nside_run_per_rise = {run}\n"
    )
}

/// Height in the unit left over in the middle of a long straight edge, `off` away from it at
/// `y = 0` to the south; the ground falls that way by `g`.
fn left_over(g: f64, h: f64, z: f64, off: f64) -> Option<f64> {
    // Drawn so steep that it lands: what is asked for is the side at the limit.
    let outline = [[-40.0, 0.0], [40.0, 0.0], [40.0, 2.0], [-40.0, 2.0]];
    let rest = berm(&outline, 100.0 + h, 0.2) + &line("L", "other", &[[-30.0, -off], [30.0, -off]]);
    let o = plane(
        "ft",
        60.0,
        [0.0, g],
        &format!("fill_run_per_rise = {z}"),
        &rest,
    );
    let wall = o.walls.first()?;
    assert_eq!((wall.basis, wall.holds_fill), (Basis::AtLimit, true));
    Some(wall.max_height_m / 0.3048)
}

/// The offset at which nothing is left over, from the heights at two lines before it.
fn lands_at(g: f64, h: f64, z: f64) -> f64 {
    let (one, two) = (0.5 * z * h, 0.75 * z * h);
    let (a, b) = (
        left_over(g, h, z, one).unwrap(),
        left_over(g, h, z, two).unwrap(),
    );
    one + a * (two - one) / (a - b)
}

#[test]
fn a_straight_edge_on_a_plane_lands_at_its_offset() {
    for (g, h, z) in [(0.0, 2.0, 2.0), (0.05, 1.5, 2.5), (-0.1, 3.0, 1.5)] {
        close("offset", lands_at(g, h, z), z * h / (1.0 - z * g), 1e-7);
    }
    // SLP-03: edge 2 ft above the ground, 3 across : 1 up, ground falls 12 percent: 9.375 ft
    // (closed form; a state university extension bulletin on mounds prints the factor 1.56).
    near("SLP-03", lands_at(0.12, 2.0, 3.0), 9.375, 1e-4);
    // As a yes or no: half an inch is the lowest wall.
    assert!(left_over(0.12, 2.0, 3.0, 9.375 - 0.25).is_some());
    assert!(left_over(0.12, 2.0, 3.0, 9.375 + 0.01).is_none());
}

#[test]
fn a_fill_of_three_to_one_widens_as_the_bulletin_says() {
    // SLP-04: width factor of a 3:1 fill down a slope of 1 to 15 percent, state university
    // extension bulletin 813, table 4, printed to 0.01.
    let printed = [
        1.03, 1.06, 1.10, 1.14, 1.18, 1.22, 1.27, 1.32, 1.37, 1.43, 1.49, 1.56, 1.64, 1.72, 1.82,
    ];
    for (k, want) in printed.into_iter().enumerate() {
        let g = (k + 1) as f64 / 100.0;
        near("SLP-04", lands_at(g, 2.0, 3.0) / 6.0, want, 0.006);
    }
}

#[test]
fn a_berm_across_a_falling_yard_lands_on_both_sides() {
    // BRM-06: crest 3 ft wide, 2 ft high at its middle, 2.5 across : 1 up, ground falls 12
    // percent across it: 7.785714 ft downhill and 3.5 ft uphill from the edges of the crest
    // (closed form).
    let (half, z, g) = (1.5, 2.5, 0.12);
    let down = lands_at(g, 2.0 + half * g, z);
    let up = lands_at(-g, 2.0 - half * g, z);
    near("downhill", down, 7.785_714_286, 1e-4);
    near("uphill", up, 3.5, 1e-4);
}

#[test]
fn a_side_that_never_lands_is_said() {
    // z g = 2 x 0.6: the limit slope never meets the ground; drawn at 1 across : 1 up it does.
    let outline = [[-4.0, -4.0], [4.0, -4.0], [4.0, 4.0], [-4.0, 4.0]];
    let never = |g: f64| {
        let o = plane(
            "m",
            60.0,
            [g, 0.0],
            "fill_run_per_rise = 2.0",
            &berm(&outline, 104.0, 1.0),
        );
        let mut found = o.findings.iter().filter(|f| f.rule == "never-lands");
        found.next().cloned()
    };
    let f = never(0.6).unwrap();
    assert_eq!((f.severity, f.ids), (Severity::Stop, &["GR-9"][..]));
    near("fall", f.measured.as_ref().unwrap().value, 0.6, 1e-6);
    assert!(
        f.cure.contains("wall along 8.00 m of its edge"),
        "{}",
        f.cure
    );
    assert_eq!(never(0.45), None);
}

#[test]
fn a_cone_goes_round_the_end_of_a_crest() {
    // Level ground, crest 2 m up, 2 across : 1 up at the limit: at every place what is left over
    // is 2 - distance / 2 from the rectangle of the crest.
    let outline = [[-10.0, -1.0], [10.0, -1.0], [10.0, 1.0], [-10.0, 1.0]];
    let rest = berm(&outline, 102.0, 0.1) + &line("L", "boundary", &[[11.0, -20.0], [13.0, 20.0]]);
    let o = plane("m", 60.0, [0.0, 0.0], "fill_run_per_rise = 2.0", &rest);
    let [wall] = o.walls.as_slice() else {
        panic!("{:?}", o.walls)
    };
    let want = |x: f64, y: f64| {
        let off = (x.abs() - 10.0).max(0.0).hypot((y.abs() - 1.0).max(0.0));
        (2.0 - off / 2.0).max(0.0)
    };
    for w in wall.stations.windows(2) {
        near("station", w[0].height_m, want(w[0].x_m, w[0].y_m), 1e-6);
        let middle = [(w[0].x_m + w[1].x_m) / 2.0, (w[0].y_m + w[1].y_m) / 2.0];
        let between = (w[0].height_m + w[1].height_m) / 2.0;
        near("between", between, want(middle[0], middle[1]), 1e-4);
    }
    near("end", wall.stations.last().unwrap().height_m, 0.0, 1e-9);
}

#[test]
fn one_value_is_the_cure_where_the_side_is_flatter_than_the_limit() {
    // 2 m high, drawn at 3 across : 1 up it reaches 6 m, at the limit of 2 across : 1 up 4 m.
    let outline = [[-10.0, -1.0], [10.0, -1.0], [10.0, 1.0], [-10.0, 1.0]];
    let at = |off: f64| {
        let rest = berm(&outline, 102.0, 3.0)
            + "corners = \"round\"\n"
            + &line("L", "boundary", &[[-40.0, -1.0 - off], [40.0, -1.0 - off]]);
        plane("m", 60.0, [0.0, 0.0], "fill_run_per_rise = 2.0", &rest)
    };
    let o = at(5.0);
    let [wall] = o.walls.as_slice() else {
        panic!("{:?}", o.walls)
    };
    near("as drawn", wall.max_height_m, 2.0 - 5.0 / 3.0, 1e-7);
    let limit = wall.at_limit.as_ref().unwrap();
    near("lands", limit.lands_before_m.unwrap(), 1.0, 1e-6);
    let found = |o: &Outcome| {
        o.findings
            .iter()
            .find(|f| f.rule == "no-room")
            .unwrap()
            .clone()
    };
    let f = found(&o);
    assert!(
        f.words.contains("it would land 1.00 m before the line"),
        "{}",
        f.words
    );
    let change = f.change.unwrap();
    assert_eq!(
        (change.key.as_str(), change.value.as_str()),
        ("side_run_per_rise", "2.0")
    );
    // Nearer, a lower wall is enough: 2 - 3 / 2 instead of 2 - 3 / 3.
    let o = at(3.0);
    let limit = o.walls[0].at_limit.as_ref().unwrap();
    near("as drawn", o.walls[0].max_height_m, 1.0, 1e-7);
    near("at the limit", limit.max_height_m, 0.5, 1e-7);
    let words = found(&o).words;
    assert!(
        words.contains("a wall of 0.500 m instead of 1.000 m is enough"),
        "{words}"
    );
}

#[test]
fn a_line_that_crosses_another_is_not_asked_for_twice() {
    // Behind the first line nothing is built: the second needs a wall only before it.
    let outline = [[-10.0, -1.0], [10.0, -1.0], [10.0, 1.0], [-10.0, 1.0]];
    let one = line("One", "boundary", &[[-40.0, -3.0], [40.0, -3.0]]);
    let two = line("Two", "boundary", &[[12.0, -30.0], [12.0, 30.0]]);
    for run in [2.0, 0.2] {
        let rest = berm(&outline, 102.0, run) + &one + &two;
        let o = plane("m", 60.0, [0.0, 0.0], "fill_run_per_rise = 2.0", &rest);
        assert_eq!(o.walls.len(), 2, "{:?}", o.walls);
        for wall in &o.walls {
            let is_two = wall.keep_off == "Two";
            for s in &wall.stations {
                let inside = if is_two { s.y_m + 3.0 } else { 12.0 - s.x_m };
                assert!(inside >= -1e-6, "{} {s:?}", wall.keep_off);
            }
            near("highest", wall.max_height_m, 1.0, 1e-6);
        }
    }
}

#[test]
fn a_run_past_the_closing_point_of_an_area_is_one() {
    // The ring begins in the middle of the side that faces the berm.
    let outline = [[-10.0, -1.0], [10.0, -1.0], [10.0, 1.0], [-10.0, 1.0]];
    let house = [
        [0.0, -3.0],
        [-4.0, -3.0],
        [-4.0, -9.0],
        [4.0, -9.0],
        [4.0, -3.0],
    ];
    for run in [2.0, 0.2] {
        let rest = berm(&outline, 102.0, run) + &area("House", "building", &house);
        let o = plane("m", 60.0, [0.0, 0.0], "fill_run_per_rise = 2.0", &rest);
        let [wall] = o.walls.as_slice() else {
            panic!("{:?}", o.walls)
        };
        // 1 m high along the front and nothing 2 m down each side: soil as it slopes past.
        near("length", wall.length_m, 8.0 + 2.0 * 2.0, 2e-3);
        near("face", wall.face_m2, 8.0 + 2.0 * 1.0, 2e-3);
        let f = o.findings.iter().find(|f| f.rule == "no-room").unwrap();
        assert!(f.words.contains("against the building"), "{}", f.words);
    }
}

#[test]
fn a_fill_lands_before_the_pad_of_another_feature() {
    // Crest 1 m over the ground, 1 m away from a pad that is let 0.1 m into it: the pad climbs
    // to the ground over 0.2 m, and there 1 - (1 - 0.2) / 2 of the fill is left over.
    let pad = "[[feature]]\nkind = \"pad\"\nname = \"Seat\"\noutline = [[-5.0, -8.0], [5.0, -8.0], [5.0, -2.0], [-5.0, -2.0]]\n\
               level = \"level:99.9\"\ncut_run_per_rise = 2.0\nfill_run_per_rise = 2.0\n";
    let at = |y: f64, run: f64| {
        let outline = [[-10.0, y], [10.0, y], [10.0, y + 2.0], [-10.0, y + 2.0]];
        let rest = pad.to_owned() + &berm(&outline, 101.0, run);
        let limits = "fill_run_per_rise = 2.0\ncut_run_per_rise = 2.0";
        plane("m", 60.0, [0.0, 0.0], limits, &rest)
    };
    for run in [0.5, 1.0] {
        let o = at(-1.0, run);
        let [wall] = o.walls.as_slice() else {
            panic!("{:?}", o.walls)
        };
        assert_eq!(
            (wall.feature.as_str(), wall.keep_off.as_str()),
            ("Berm", "Seat")
        );
        // At 1 across : 1 up it reaches the edge of the pad at the ground, 0.1 m above its floor.
        let drawn = if run == 1.0 { 0.1 } else { 0.6 };
        near("height", wall.max_height_m, drawn, 1e-6);
        let limit = wall.at_limit.as_ref().unwrap();
        near("at the limit", limit.max_height_m, 0.6, 1e-6);
    }
    assert!(at(0.3, 0.5).walls.is_empty());
    // Two berms that meet make a valley, a bed in a berm is there on purpose.
    let second = "[[feature]]\nkind = \"berm\"\nname = \"Low\"\nline = [[0.0, 8.0], [0.0, 3.0]]\nwidth = 1.0\ncrest = \"level:100.5\"\nside_run_per_rise = 2.0\n\
                  [[feature]]\nkind = \"stream\"\nname = \"Stream\"\nline = [[0.0, 0.0], [0.0, -6.0]]\nlevels = [\"level:100.8\", \"level:99.8\"]\nwidth = 0.5\nside_run_per_rise = 2.0\n";
    let outline = [[-10.0, -1.0], [10.0, -1.0], [10.0, 1.0], [-10.0, 1.0]];
    let o = plane(
        "m",
        60.0,
        [0.0, 0.0],
        "",
        &(berm(&outline, 101.0, 2.0) + second),
    );
    assert!(o.walls.is_empty(), "{:?}", o.walls);
}

#[test]
fn a_dig_that_cuts_the_slope_of_a_fill_leaves_it_too_steep() {
    // The side of the berm would reach 2 m at the limit; the floor of a pit at ground level less
    // nothing begins 1 m from the crest edge: 1 - 1/2 is left over.
    let pit = "[[feature]]\nkind = \"basin\"\nname = \"Pit\"\noutline = [[-3.0, -6.0], [3.0, -6.0], [3.0, -2.0], [-3.0, -2.0]]\n\
               floor = \"level:99.99\"\nside_run_per_rise = 0.5\n";
    let outline = [[-10.0, -1.0], [10.0, -1.0], [10.0, 1.0], [-10.0, 1.0]];
    let o = plane(
        "m",
        60.0,
        [0.0, 0.0],
        "fill_run_per_rise = 2.0\ntemporary_run_per_rise = 2.0",
        &(berm(&outline, 101.0, 2.0) + pit),
    );
    let wall = o.walls.iter().find(|w| w.keep_off == "Pit").unwrap();
    // The pit climbs its 1 cm at 2 across : 1 up first.
    near("height", wall.max_height_m, 0.5 + 0.01, 1e-6);
    near("length", wall.length_m, 6.0 + 2.0, 0.1);
}

/// Heights of the walls of a line in order along it, as a function of east and north.
fn height_at(walls: &[&Wall], x: f64, y: f64) -> f64 {
    let mut best: (f64, f64) = (f64::INFINITY, 0.0);
    for w in walls.iter().flat_map(|w| w.stations.windows(2)) {
        let (dx, dy) = (w[1].x_m - w[0].x_m, w[1].y_m - w[0].y_m);
        let square = (dx * dx + dy * dy).max(1e-18);
        let t = (((x - w[0].x_m) * dx + (y - w[0].y_m) * dy) / square).clamp(0.0, 1.0);
        let off = (x - w[0].x_m - t * dx).hypot(y - w[0].y_m - t * dy);
        if off < best.0 {
            best = (off, w[0].height_m + t * (w[1].height_m - w[0].height_m));
        }
    }
    if best.0 < 1e-3 { best.1 } else { 0.0 }
}

/// An independent search: dense points of the rim, straight ways that cross no line and ways round
/// the corners of lines, each corner set off a little to either side.
struct Search {
    rim: Vec<[f64; 3]>,
    lines: Vec<Vec<[f64; 2]>>,
    areas: Vec<Vec<[f64; 2]>>,
    slope: f64,
}

impl Search {
    fn p([x, y]: [f64; 2]) -> Point {
        Point::from_m(x, y)
    }

    /// True if the way crosses no line; its ends are drawn back a little from what they lie on.
    fn is_open(&self, a: [f64; 2], b: [f64; 2]) -> bool {
        let far = (b[0] - a[0]).hypot(b[1] - a[1]).max(1e-9);
        let back = 2e-5 / far;
        let b = [b[0] + back * (a[0] - b[0]), b[1] + back * (a[1] - b[1])];
        let (pa, pb) = (Search::p(a), Search::p(b));
        let crosses = |w: &[[f64; 2]]| {
            let (c, d) = (Search::p(w[0]), Search::p(w[1]));
            orient_sign(pa, pb, c) * orient_sign(pa, pb, d) <= 0
                && orient_sign(c, d, pa) * orient_sign(c, d, pb) <= 0
        };
        let mut all = self.lines.iter().chain(&self.areas);
        let crossed = all.any(|line| line.windows(2).any(crosses));
        let inside = |ring: &Vec<[f64; 2]>| {
            let ring: Vec<Point> = ring[1..].iter().map(|&c| Search::p(c)).collect();
            cutbank::geom::Ring::new(&ring).unwrap().contains(pb)
        };
        !crossed && !self.areas.iter().any(inside)
    }

    /// Corners set off by a hundredth of a millimetre times ten in eight directions.
    fn corners(&self) -> Vec<[f64; 2]> {
        let mut found = Vec::new();
        for line in self.lines.iter().chain(&self.areas) {
            for c in line {
                for k in 0..16 {
                    let (sin, cos) =
                        (std::f64::consts::TAU * (f64::from(k) + 0.3) / 16.0).sin_cos();
                    found.push([c[0] + 1e-4 * cos, c[1] + 1e-4 * sin]);
                }
            }
        }
        let is_out = |c: &[f64; 2]| {
            !self.areas.iter().any(|ring| {
                let ring: Vec<Point> = ring[1..].iter().map(|&c| Search::p(c)).collect();
                cutbank::geom::Ring::new(&ring)
                    .unwrap()
                    .contains(Search::p(*c))
            })
        };
        found.retain(is_out);
        found
    }

    fn level(&self, corners: &[([f64; 2], f64)], p: [f64; 2]) -> f64 {
        let mut best = f64::NEG_INFINITY;
        let rim = self.rim.iter().map(|c| ([c[0], c[1]], c[2]));
        for (c, z) in rim.chain(corners.iter().copied()) {
            let here = z - self.slope * (p[0] - c[0]).hypot(p[1] - c[1]);
            if here > best && self.is_open(c, p) {
                best = here;
            }
        }
        best
    }

    /// Levels at all corners, until none rises any more.
    fn solve(&self) -> Vec<([f64; 2], f64)> {
        let mut corners: Vec<([f64; 2], f64)> = self
            .corners()
            .into_iter()
            .map(|c| (c, self.level(&[], c)))
            .collect();
        loop {
            let next: Vec<([f64; 2], f64)> = corners
                .iter()
                .map(|&(c, z)| {
                    let others: Vec<_> = corners.iter().copied().filter(|o| o.1 > z).collect();
                    let mut best = z;
                    for (o, level) in others {
                        let here = level - self.slope * (c[0] - o[0]).hypot(c[1] - o[1]);
                        if here > best + 1e-9 && self.is_open(o, c) {
                            best = here;
                        }
                    }
                    (c, best)
                })
                .collect();
            let moved = next.iter().zip(&corners).any(|(a, b)| a.1 > b.1 + 1e-9);
            corners = next;
            if !moved {
                return corners;
            }
        }
    }
}

/// Points of a rectangle of crest with a level at every corner, a centimetre apart.
fn rim(corners: &[[f64; 3]]) -> Vec<[f64; 3]> {
    let mut all = Vec::new();
    for k in 0..corners.len() {
        let (a, b) = (corners[k], corners[(k + 1) % corners.len()]);
        let steps = ((b[0] - a[0]).hypot(b[1] - a[1]) / 0.01).ceil() as usize;
        for j in 0..steps {
            let t = j as f64 / steps as f64;
            all.push([0, 1, 2].map(|axis| a[axis] + t * (b[axis] - a[axis])));
        }
    }
    all
}

/// Holds every line of an outcome against the search. Points a centimetre apart on the rim put
/// the search off by 1e-4 m at 0.1 m; corners set off by 0.1 mm by 1e-4 m each.
fn held_against(o: &Outcome, search: &Search, tolerance_m: f64) -> f64 {
    let corners = search.solve();
    let mut worst: f64 = 0.0;
    let mut seen = 0;
    for keep_off in &o.keep_offs {
        let walls: Vec<&Wall> = o
            .walls
            .iter()
            .filter(|w| w.keep_off == keep_off.name)
            .collect();
        let origin = o.terrain.origin;
        for w in keep_off.line.windows(2) {
            let [dx, dy] = w[1].relative_m(w[0]);
            let steps = (dx.hypot(dy) / 0.11).ceil() as usize;
            for k in 0..steps {
                let t = (k as f64 + 0.37) / steps as f64;
                let local = [w[0].x_m() + t * dx, w[0].y_m() + t * dy];
                let Some(ground) = slow_z(&o.terrain.surface, Search::p(local)) else {
                    continue;
                };
                let at = [local[0] + origin.x_m as f64, local[1] + origin.y_m as f64];
                let want = (search.level(&corners, at) - ground).max(0.0);
                let got = height_at(&walls, at[0], at[1]);
                // Half an inch needs no wall.
                if got == 0.0 && want < 0.0127 {
                    continue;
                }
                let off = (got - want).abs();
                assert!(
                    off < tolerance_m,
                    "{}: {at:?}: {got}, not {want}",
                    keep_off.name
                );
                worst = worst.max(off);
                seen += usize::from(want > 0.0);
            }
        }
    }
    assert!(seen > 20, "{seen}");
    worst
}

#[test]
fn concave_and_crossing_lines_agree_with_a_search() {
    let outline = [[-6.0, -1.0], [6.0, -1.0], [6.0, 1.0], [-6.0, 1.0]];
    let notch = vec![
        [-20.0, -2.6],
        [-2.0, -2.4],
        [-2.0, -5.0],
        [2.0, -5.0],
        [2.0, -2.2],
        [20.0, -2.9],
    ];
    let fence = vec![[7.0, -20.0], [7.2, 1.0], [8.0, 12.0]];
    let house = vec![
        [-3.0, 2.5],
        [3.0, 2.0],
        [3.0, 7.0],
        [1.0, 7.0],
        [1.0, 4.0],
        [-3.0, 4.0],
        [-3.0, 2.5],
    ];
    let shed = vec![
        [-8.5, -1.0],
        [-7.0, -1.2],
        [-7.0, 1.5],
        [-8.5, 1.5],
        [-8.5, -1.0],
    ];
    let rest = berm(&outline, 102.5, 0.2)
        + &line("Notch", "boundary", &notch)
        + &line("Fence", "boundary", &fence)
        + &area("House", "building", &house[1..])
        + &area("Shed", "building", &shed[1..]);
    let rim = rim(&outline.map(|[x, y]| [x, y, 102.5]));
    for ground in [[0.0, 0.0], [0.03, -0.06]] {
        let o = plane("m", 60.0, ground, "fill_run_per_rise = 2.0", &rest);
        let search = Search {
            rim: rim.clone(),
            lines: vec![notch.clone(), fence.clone()],
            areas: vec![house.clone(), shed.clone()],
            slope: 0.5,
        };
        let worst = held_against(&o, &search, 1.5e-3);
        println!("concave and crossing: off by {worst:.1e} m at most");
    }
}

#[test]
fn a_varying_crest_on_waves_agrees_with_a_search() {
    // Invented ground: waves of 15 cm; a crest that climbs 1 in 8 along itself.
    let mut csv = "name,east,north,level\n".to_owned();
    for i in -15..=15 {
        for j in -15..=15 {
            let (x, y) = (f64::from(i) + 0.01 * f64::from(j), f64::from(j));
            let z = 100.0 + 0.15 * (x * 0.7).sin() * (y * 0.5).cos() - 0.04 * y;
            csv += &format!("{i}_{j},{x},{y},{z:.4}\n");
        }
    }
    let fence = vec![[-12.0, -3.5], [0.0, -2.2], [12.0, -3.0]];
    let rest = "[[feature]]\nkind = \"berm\"\nname = \"Berm\"\noutline = [[-6.0, -1.0], [6.0, -1.0], [6.0, 1.0], [-6.0, 1.0]]\n\
        crest_levels = [\"level:101.5\", \"level:103.0\", \"level:103.0\", \"level:101.5\"]\nside_run_per_rise = 0.2\n"
        .to_owned()
        + &line("Fence", "boundary", &fence);
    let o = job("m", csv, "fill_run_per_rise = 1.5", &rest);
    let corners = [
        [-6.0, -1.0, 101.5],
        [6.0, -1.0, 103.0],
        [6.0, 1.0, 103.0],
        [-6.0, 1.0, 101.5],
    ];
    let search = Search {
        rim: rim(&corners),
        lines: vec![fence],
        areas: Vec::new(),
        slope: 1.0 / 1.5,
    };
    let worst = held_against(&o, &search, 1e-3);
    println!("waves: off by {worst:.1e} m at most");
}

#[test]
fn real_ground_agrees_with_a_search() {
    let Some(folder) = reference_data("real_ground_agrees_with_a_search") else {
        return;
    };
    let csv = std::fs::read_to_string(folder.join("topo_ft.csv")).unwrap();
    let mut places: Vec<[f64; 3]> = Vec::new();
    for row in csv.lines().skip(1) {
        let numbers: Vec<f64> = row
            .split(',')
            .filter_map(|c| c.trim().parse().ok())
            .collect();
        if let [.., x, y, z] = numbers[..] {
            places.push([x, y, z]);
        }
    }
    let mean = |axis: usize| places.iter().map(|p| p[axis]).sum::<f64>() / places.len() as f64;
    let (cx, cy) = (mean(0).round(), mean(1).round());
    let mut points = "name,east,north,level\n".to_owned();
    for (k, [x, y, z]) in places.iter().enumerate() {
        points += &format!("{k},{x},{y},{z}\n");
    }
    // A crest of 40 by 10 ft over the middle of the survey, a bent line beside it.
    let outline = [
        [cx - 20.0, cy - 5.0],
        [cx + 20.0, cy - 5.0],
        [cx + 20.0, cy + 5.0],
        [cx - 20.0, cy + 5.0],
    ];
    // Five feet above the highest ground at its corners.
    let bare = job("ft", points.clone(), "", "");
    let origin = bare.terrain.origin;
    let ground = outline.map(|[x, y]| {
        let p = [
            x * 0.3048 - origin.x_m as f64,
            y * 0.3048 - origin.y_m as f64,
        ];
        slow_z(&bare.terrain.surface, Search::p(p)).unwrap() / 0.3048
    });
    let top = ground.into_iter().fold(f64::NEG_INFINITY, f64::max).round() + 5.0;
    let fence = vec![
        [cx - 60.0, cy - 12.0],
        [cx, cy - 8.0],
        [cx + 60.0, cy - 14.0],
    ];
    let rest = berm(&outline, top, 0.1) + &line("Fence", "boundary", &fence);
    let o = job("ft", points, "fill_run_per_rise = 2.0", &rest);
    let m = |[x, y]: [f64; 2]| [x * 0.3048, y * 0.3048];
    let search = Search {
        rim: rim(&outline.map(|c| {
            let [x, y] = m(c);
            [x, y, top * 0.3048]
        })),
        lines: vec![fence.iter().map(|&c| m(c)).collect()],
        areas: Vec::new(),
        slope: 0.5,
    };
    let worst = held_against(&o, &search, 2e-3);
    println!("real ground: off by {worst:.1e} m at most");
}

/// A pit on level ground whose north side has a line beside it: the wall holds `exposed` feet.
fn cut_wall(exposed: f64, limits: &str) -> Outcome {
    let depth = exposed + 1.0;
    let rest = format!(
        "[[feature]]\nkind = \"basin\"\nname = \"Pit\"\noutline = [[-10.0, -6.0], [10.0, -6.0], [10.0, 0.0], [-10.0, 0.0]]\n\
         floor = \"level:{}\"\nside_run_per_rise = 1.0\n{}",
        100.0 - depth,
        line("L", "other", &[[-50.0, 1.0], [50.0, 1.0]])
    );
    plane(
        "ft",
        60.0,
        [0.0, 0.0],
        &format!("temporary_run_per_rise = 1.0\n{limits}"),
        &rest,
    )
}

fn asks(o: &Outcome, id: &str) -> bool {
    let mut walls = o.findings.iter().filter(|f| f.rule == "no-room");
    walls.any(|f| f.ids.contains(&id))
}

#[test]
fn the_height_to_be_told_of_counts_from_the_footing() {
    // WAL-01 (IRC R105.2): exposed and buried feet; not over 4 ft from the bottom of the footing,
    // 4.00 exactly is not over.
    for (exposed, buried, total, over) in [
        (3.0, 0.5, 3.5, false),
        (3.0, 1.5, 4.5, true),
        (3.5, 0.5, 4.0, false),
    ] {
        let o = cut_wall(
            exposed,
            &format!("wall_buried_per_height = {}", buried / exposed),
        );
        let [wall] = o.walls.as_slice() else {
            panic!("{:?}", o.walls)
        };
        near("exposed", wall.max_height_m / 0.3048, exposed, 1e-6);
        near(
            "from the footing",
            wall.total_height_m / 0.3048,
            total,
            1e-6,
        );
        assert_eq!(asks(&o, "WL-1"), over, "{exposed} + {buried}");
        assert!(!asks(&o, "WL-2"));
        near("buried", wall.buried_m / 0.3048, buried, 1e-6);
    }
    // The fourth: 2 ft exposed with a slope above it.
    let outline = [[-20.0, 0.0], [20.0, 0.0], [20.0, 3.0], [-20.0, 3.0]];
    let rest = berm(&outline, 103.0, 2.0) + &line("L", "other", &[[-50.0, -2.0], [50.0, -2.0]]);
    let o = plane("ft", 60.0, [0.0, 0.0], "", &rest);
    near("exposed", o.walls[0].max_height_m / 0.3048, 2.0, 1e-6);
    assert!(asks(&o, "WL-2") && !asks(&o, "WL-1"));
}

#[test]
fn a_wall_that_holds_more_than_the_limit_must_be_designed() {
    // WAL-02 (IRC R404.4): 23, 25, 49 in held against 24 in (2009) and 48 in (later, from memory).
    for (limit_ft, want) in [(2.0, [false, true, true]), (4.0, [false, false, true])] {
        for (inches, want) in [23.0, 25.0, 49.0].into_iter().zip(want) {
            let o = cut_wall(inches / 12.0, &format!("designed_wall = {limit_ft}"));
            assert_eq!(asks(&o, "WL-3"), want, "{inches} in against {limit_ft} ft");
        }
    }
}

/// What the job asks for once the entries of all its walls are pasted into it.
fn with_walls_built(unit: &str, ground: [f64; 2], limits: &str, rest: &str) -> Outcome {
    let o = plane(unit, 60.0, ground, limits, rest);
    assert!(!o.walls.is_empty());
    let entries: String = (0..o.walls.len()).map(|k| wall_toml(&o, k)).collect();
    assert_eq!(
        entries.matches("[[feature]]").count(),
        o.walls.len(),
        "{entries}"
    );
    plane(unit, 60.0, ground, limits, &format!("{rest}\n{entries}"))
}

#[test]
fn a_wall_pasted_from_its_entry_holds() {
    let outline = [[-10.0, -1.0], [10.0, -1.0], [10.0, 1.0], [-10.0, 1.0]];
    let fill = |run: f64| berm(&outline, 102.0, run);
    let pit = "[[feature]]\nkind = \"basin\"\nname = \"Pit\"\noutline = [[-10.0, -6.0], [10.0, -6.0], [10.0, 0.0], [-10.0, 0.0]]\n\
               floor = \"level:98.0\"\nside_run_per_rise = 1.5\n";
    let straight = line("L", "boundary", &[[-40.0, -3.0], [40.0, -3.4]]);
    let bent = line(
        "L",
        "boundary",
        &[[-40.0, -3.0], [-2.0, -2.5], [3.0, -4.0], [40.0, -3.4]],
    );
    let house = [[-4.0, -3.0], [-4.0, -9.0], [4.0, -9.0], [4.0, -3.0]];
    let house = area("House", "building", &house);
    let round =
        "[[keep-off]]\nname = \"Pool\"\nkind = \"other\"\ncentre = [0.0, -5.0]\nradius = 2.5\n"
            .to_owned();
    let beside = line("L", "boundary", &[[-40.0, 1.0], [40.0, 1.2]]);
    let round_pit =
        "[[keep-off]]\nname = \"Pool\"\nkind = \"other\"\ncentre = [0.0, 3.6]\nradius = 2.5\n";
    for (k, rest) in [
        fill(2.0) + &straight,
        fill(0.2) + &straight,
        fill(2.0) + &bent,
        fill(2.0) + &house,
        fill(2.0) + &round,
        pit.to_owned() + &beside,
        pit.to_owned() + round_pit,
    ]
    .into_iter()
    .enumerate()
    {
        for ground in [[0.0, 0.0], [0.04, 0.03]] {
            let o = with_walls_built("m", ground, "fill_run_per_rise = 2.0", &rest);
            assert!(o.walls.is_empty(), "{k}: {:?}", o.walls);
            let held: Vec<_> = o.findings.iter().filter(|f| f.rule == "held").collect();
            // Beside a cut the wall stands where the side was; beside a fill the side is still
            // drawn past it, and that is told.
            assert!(!held.is_empty() || rest.contains("Pit"), "{k}");
            assert!(held.iter().all(|f| f.severity == Severity::Note));
        }
    }
}

#[test]
fn a_wall_that_is_too_low_does_not_hold() {
    let outline = [[-10.0, -1.0], [10.0, -1.0], [10.0, 1.0], [-10.0, 1.0]];
    let rest = berm(&outline, 102.0, 2.0) + &line("L", "boundary", &[[-40.0, -3.0], [40.0, -3.0]]);
    let low = "[[feature]]\nkind = \"wall\"\nname = \"Low\"\nline = [[-15.0, -3.0], [15.0, -3.0]]\nholds = \"left\"\n\
               thickness = 0.3\ntop = \"height:0.5\"\nburied = 0.2\n";
    let o = plane("m", 60.0, [0.0, 0.0], "", &(rest.clone() + low));
    let [wall] = o.walls.as_slice() else {
        panic!("{:?}", o.walls)
    };
    assert_eq!(wall.feature, "Berm");
    near("height", wall.max_height_m, 1.0, 1e-6);
    // High enough over the west half: the rest is still asked for.
    let half = low
        .replace("height:0.5", "height:1.4")
        .replace("[15.0, -3.0]", "[0.0, -3.0]");
    let o = plane("m", 60.0, [0.0, 0.0], "", &(rest + &half));
    let [wall] = o.walls.as_slice() else {
        panic!("{:?}", o.walls)
    };
    let west = wall
        .stations
        .iter()
        .map(|s| s.x_m)
        .fold(f64::INFINITY, f64::min);
    assert!((0.0..=1.01).contains(&west), "{west}");
}
