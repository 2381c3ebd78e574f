//! The shortest ways round obstacles: closed forms, every sequence of corners tried, a fine grid,
//! and what holds whatever stands in the way.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod common;

use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::f64::consts::{FRAC_PI_2, PI};

use common::{Random, close, near, plane_over, rectangle, ring};
use cutbank::geom::{Point, Ring, distance_m, gap_between, orient_sign};
use cutbank::route::{Blocked, Obstacle, Shape, Ways, least_move, steep_banks, trail};

/// What arithmetic leaves of a nanometre.
const EXACT_M: f64 = 1.0e-9;

fn p(x: f64, y: f64) -> Point {
    Point::from_m(x, y)
}

fn area(corners: &[[f64; 2]]) -> Obstacle {
    Obstacle::new(Shape::Area(vec![ring(corners)]))
}

fn line(points: &[[f64; 2]]) -> Obstacle {
    let points = points.iter().map(|[x, y]| p(*x, *y)).collect();
    Obstacle::new(Shape::Lines(vec![points]))
}

fn disc(x: f64, y: f64, radius_m: f64) -> Obstacle {
    let centre = p(x, y);
    Obstacle::new(Shape::Disc { centre, radius_m })
}

#[test]
fn nothing_in_the_way_is_a_straight_line() {
    let way = Ways::new(Vec::new(), 1.0)
        .between(p(1.0, 2.0), p(4.0, 6.0))
        .unwrap();
    assert_eq!((way.length_m, way.line.len()), (5.0, 2));
    assert_eq!(way.narrowest, None);
    let stays = Ways::new(Vec::new(), 1.0)
        .between(p(1.0, 2.0), p(1.0, 2.0))
        .unwrap();
    assert_eq!(stays.length_m, 0.0);
}

#[test]
fn round_a_square_by_tangents_and_arcs() {
    let ways = Ways::new(vec![area(&rectangle([0.0, 0.0], [10.0, 10.0]))], 1.0);
    let way = ways.between(p(-5.0, 5.0), p(15.0, 5.0)).unwrap();
    // From (-5, 5) a tangent to the disc of 0.5 m round (0, 10), an arc until the way is level,
    // the side, and the same again. The corner is seen at 45 degrees.
    let far = 50.0_f64.sqrt();
    let turn = PI / 4.0 + (0.5 / far).asin();
    let want = 2.0 * ((50.0_f64 - 0.25).sqrt() + 0.5 * turn) + 10.0;
    near("round a square", way.length_m, want, EXACT_M);
    // From a corner's own reach: along one side and the next, a quarter turn between them.
    let way = ways.between(p(-0.5, 2.0), p(8.0, 10.5)).unwrap();
    near("along", way.length_m, 8.0 + 0.5 * FRAC_PI_2 + 8.0, EXACT_M);
}

#[test]
fn round_a_disc_by_tangents_and_an_arc() {
    let ways = Ways::new(vec![disc(0.0, 0.0, 2.0)], 1.0);
    let way = ways.between(p(-5.0, 0.0), p(5.0, 0.0)).unwrap();
    let r: f64 = 2.5;
    let want = 2.0 * (25.0 - r * r).sqrt() + r * (PI - 2.0 * (r / 5.0).acos());
    near("round a disc", way.length_m, want, EXACT_M);
    // A margin counts as more radius.
    let mut wider = disc(0.0, 0.0, 1.5);
    wider.margin_m = 0.5;
    let same = Ways::new(vec![wider], 1.0)
        .between(p(-5.0, 0.0), p(5.0, 0.0))
        .unwrap();
    near("margin", same.length_m, want, EXACT_M);
    // Between two discs that touch the way on both sides, crossing over.
    let two = vec![
        disc(0.0, -1.0, 0.5),
        disc(4.0, 1.0, 0.5),
        line(&[[0.0, -1.0], [0.0, -90.0]]),
        line(&[[4.0, 1.0], [4.0, 90.0]]),
    ];
    let way = Ways::new(two, 1.0)
        .between(p(-4.0, -1.0), p(8.0, 1.0))
        .unwrap();
    // Discs of 1 m round (0, -1) and (4, 1), met at 4 m: the tangent from outside turns by
    // asin(1/4), the inner one leans by atan(2/4) less asin(2/sqrt 20).
    let inner = (20.0_f64 - 4.0).sqrt();
    let lean = (0.5_f64).atan() - (2.0 / 20.0_f64.sqrt()).asin();
    let turn = (0.25_f64).asin() - lean;
    near(
        "crossing over",
        way.length_m,
        inner + 2.0 * (15.0_f64.sqrt() + turn),
        EXACT_M,
    );
}

#[test]
fn a_line_is_rounded_at_its_end_and_holes_are_left_by_their_gap() {
    // Round the free end of a fence.
    let ways = Ways::new(vec![line(&[[0.0, 0.0], [0.0, -50.0]])], 2.0);
    let way = ways.between(p(-1.0, -5.0), p(1.0, -5.0)).unwrap();
    near("round a fence", way.length_m, 5.0 + PI + 5.0, EXACT_M);
    // A yard closed all round: no way out, and the obstacle that closes it.
    let outer = ring(&rectangle([0.0, 0.0], [10.0, 10.0]));
    let inner = ring(&rectangle([2.0, 2.0], [8.0, 8.0]));
    let house = Obstacle::new(Shape::Area(vec![outer, inner]));
    let ways = Ways::new(vec![disc(20.0, 20.0, 0.1), house], 1.0);
    assert!(
        (ways.between(p(3.0, 3.0), p(7.0, 7.0)).unwrap().length_m - 32.0_f64.sqrt()).abs()
            < EXACT_M
    );
    assert_eq!(
        ways.between(p(5.0, 5.0), p(-5.0, 5.0)),
        Err(Blocked::Closed(Some(1)))
    );
    assert_eq!(
        ways.between(p(1.0, 5.0), p(-5.0, 5.0)),
        Err(Blocked::End {
            is_start: true,
            obstacle: 1,
            missing_m: 0.5 - 1.0 + 0.5 + 0.5
        })
    );
}

#[test]
fn a_gap_is_passed_just_when_it_is_wide_enough() {
    // 36 in and not a nanometre less, between two walls, two posts, a wall and a post.
    let gap = 914_400_000;
    let fence = |from: i64, to: i64| {
        Obstacle::new(Shape::Lines(vec![vec![
            Point::new(from, 0),
            Point::new(to, 0),
        ]]))
    };
    let block = |from: i64, to: i64| {
        let corners = [
            (from, 0),
            (to, 0),
            (to, 3_000_000_000),
            (from, 3_000_000_000),
        ];
        let ring = Ring::new(&corners.map(|(x, y)| Point::new(x, y))).unwrap();
        Obstacle::new(Shape::Area(vec![ring]))
    };
    let far = 90_000_000_000;
    let cases = [
        [fence(-far, 0), fence(gap, far)],
        [block(-far, 0), block(gap, far)],
        [fence(-far, 0), block(gap, far)],
    ];
    for (k, obstacles) in cases.into_iter().enumerate() {
        // No way round their far ends.
        let box_ = line(&[
            [-90.0, -20.0],
            [90.0, -20.0],
            [90.0, 20.0],
            [-90.0, 20.0],
            [-90.0, -20.0],
        ]);
        let obstacles = [obstacles.to_vec(), vec![box_]].concat();
        let (from, to) = (p(3.0, -4.0), p(-2.0, 7.0));
        let wide = Ways::new(obstacles.clone(), 0.9144);
        let way = wide.between(from, to).unwrap();
        let narrow = way.narrowest.unwrap();
        near("gap", narrow.clear_m, 0.9144, EXACT_M);
        assert_eq!(narrow.obstacles, [0, 1], "case {k}");
        let wider = Ways::new(obstacles.clone(), 0.914_400_001);
        match wider.between(from, to) {
            Err(Blocked::Gap { gap, missing_m }) => {
                near("missing", missing_m, 1.0e-9, 1.0e-12);
                assert_eq!(gap.obstacles, [0, 1], "case {k}");
            }
            other => panic!("case {k}: {other:?}"),
        }
        let far_wider = Ways::new(obstacles.clone(), 1.2);
        match far_wider.between(from, to) {
            Err(Blocked::Gap { missing_m, .. }) => near("missing", missing_m, 0.2856, EXACT_M),
            other => panic!("case {k}: {other:?}"),
        }
    }
}

/// Posts, fences and blocks in a square of 20 m, some over each other.
fn random_obstacles(random: &mut Random, count: u64) -> Vec<Obstacle> {
    (0..count)
        .map(|_| {
            let (x, y) = (random.between(3.0, 17.0), random.between(3.0, 17.0));
            let mut reach = || random.between(-3.0, 3.0);
            match (reach() * 1000.0) as i64 % 3 {
                0 => line(&[
                    [x, y],
                    [x + reach(), y + reach()],
                    [x + reach(), y + reach()],
                ]),
                1 => disc(x, y, reach().abs() / 3.0 + 0.1),
                _ => {
                    // A triangle, seldom flat.
                    let corners = [
                        [x, y],
                        [x + 2.0 + reach() / 3.0, y + reach() / 3.0],
                        [x + reach() / 3.0, y + 2.0],
                    ];
                    area(&corners)
                }
            }
        })
        .collect()
}

/// Straight pieces of an obstacle with the room to keep besides half a width.
fn pieces(obstacle: &Obstacle) -> Vec<([Point; 2], f64)> {
    match &obstacle.shape {
        Shape::Area(rings) => rings
            .iter()
            .flat_map(Ring::sides)
            .map(|(a, b)| ([a, b], 0.0))
            .collect(),
        Shape::Lines(lines) => lines
            .iter()
            .flat_map(|l| l.windows(2).map(|w| ([w[0], w[1]], 0.0)))
            .collect(),
        Shape::Disc { centre, radius_m } => vec![([*centre; 2], *radius_m)],
    }
}

/// How far a straight piece keeps from everything, metres; below zero inside a disc.
fn clearance_m(obstacles: &[Obstacle], [a, b]: [Point; 2]) -> f64 {
    let origin = Point::default();
    let metres = |[a, b]: [Point; 2]| [a, b].map(|p| p.relative_m(origin));
    let away = |(piece, radius): ([Point; 2], f64)| {
        gap_between(metres([a, b]), metres(piece)).distance_m - radius
    };
    let least = obstacles.iter().flat_map(pieces).map(away);
    least.fold(f64::INFINITY, f64::min)
}

#[test]
fn ways_keep_their_distance_and_are_the_same_both_ways() {
    let mut random = Random(11);
    let (mut found, mut closed) = (0, 0);
    for _ in 0..300 {
        let mut obstacles = random_obstacles(&mut random, 14);
        obstacles.push(line(&[
            [0.0, 0.0],
            [20.0, 0.0],
            [20.0, 20.0],
            [0.0, 20.0],
            [0.0, 0.0],
        ]));
        // A fence through the middle with a gap, often narrower than the way.
        let (y, gap) = (random.between(4.0, 14.0), random.between(0.0, 4.0));
        obstacles.push(line(&[[10.0, 0.0], [10.0, y]]));
        obstacles.push(line(&[[10.0, y + gap], [10.0, 20.0]]));
        let width_m = random.between(0.3, 2.5);
        let ways = Ways::new(obstacles.clone(), width_m);
        let mut place = |x: f64| p(random.between(x, x + 6.0), random.between(1.0, 19.0));
        let places = [place(1.0), place(13.0), place(1.0)];
        if places.iter().any(|q| ways.in_the_way_at(*q).is_some()) {
            continue;
        }
        let there = ways.lengths_m(places[0], &places);
        for (k, length) in there.iter().enumerate() {
            let way = ways.between(places[0], places[k]).ok();
            match (&way, length) {
                (Some(way), Some(length)) => near("one of many", way.length_m, *length, EXACT_M),
                (None, None) => closed += 1,
                other => panic!("{other:?}"),
            }
            let back = ways.between(places[k], places[0]).ok();
            assert_eq!(way.is_some(), back.is_some());
            let Some((way, back)) = way.zip(back) else {
                continue;
            };
            found += 1;
            near("back", way.length_m, back.length_m, EXACT_M);
            let drawn: f64 = way.line.windows(2).map(|w| distance_m(w[0], w[1])).sum();
            // Chords within a millimetre of arcs of at least 0.15 m.
            assert!(
                drawn <= way.length_m + 1.0e-6 && drawn >= way.length_m * 0.99,
                "{drawn}"
            );
            for pair in way.line.windows(2) {
                let clear = clearance_m(&obstacles, [pair[0], pair[1]]);
                assert!(clear >= width_m / 2.0 - 0.001_01, "{clear} of {width_m}");
            }
            if let Some(narrow) = way.narrowest {
                assert!(narrow.clear_m >= width_m - EXACT_M, "{narrow:?} {width_m}");
            }
        }
        // A detour over a third place is never shorter.
        if let (Some(direct), Some(first)) = (there[1], there[2])
            && let Some(second) = ways.lengths_m(places[2], &places[1..2])[0]
        {
            assert!(direct <= first + second + EXACT_M);
        }
    }
    assert!(found > 200 && closed > 10, "{found} found, {closed} closed");
}

#[test]
fn every_sequence_of_corners_is_longer() {
    // Ways of no width among fences and triangles: exact predicates, every order of corners.
    let mut random = Random(5);
    let mut bent = 0;
    for _ in 0..400 {
        let mut obstacles = random_obstacles(&mut random, 5);
        obstacles.retain(|o| !matches!(o.shape, Shape::Disc { .. }));
        obstacles.truncate(3);
        // A line of one piece: at a bend of two a way of no width would slip through.
        for obstacle in &mut obstacles {
            if let Shape::Lines(lines) = &mut obstacle.shape {
                lines[0].truncate(2);
            }
        }
        let sides: Vec<[Point; 2]> = obstacles.iter().flat_map(pieces).map(|s| s.0).collect();
        let corners: Vec<Point> = sides.iter().flatten().copied().collect();
        let mut corners = corners;
        corners.sort_unstable();
        corners.dedup();
        let (from, to) = (
            p(0.5, random.between(4.0, 16.0)),
            p(19.5, random.between(4.0, 16.0)),
        );
        let sees = |a: Point, b: Point| {
            let crosses = |[c, d]: &[Point; 2]| {
                orient_sign(a, b, *c) * orient_sign(a, b, *d) < 0
                    && orient_sign(*c, *d, a) * orient_sign(*c, *d, b) < 0
            };
            let middle = Point::new((a.x + b.x) / 2, (a.y + b.y) / 2);
            let is_side = sides
                .iter()
                .any(|s| (s[0] == a && s[1] == b) || (s[0] == b && s[1] == a));
            let inside = || obstacles.iter().any(|o| o.covers(middle));
            !sides.iter().any(crosses) && (is_side || !inside())
        };
        // Depth first over all orders of corners, cut off where it is already too long.
        fn walk(
            at: Point,
            to: Point,
            so_far: f64,
            left: &[Point],
            sees: &dyn Fn(Point, Point) -> bool,
            best: &mut f64,
        ) {
            if so_far + distance_m(at, to) >= *best {
                return;
            }
            if sees(at, to) {
                *best = so_far + distance_m(at, to);
                return;
            }
            for (k, &next) in left.iter().enumerate() {
                if sees(at, next) {
                    let rest: Vec<Point> = left
                        .iter()
                        .enumerate()
                        .filter(|(j, _)| *j != k)
                        .map(|(_, q)| *q)
                        .collect();
                    walk(next, to, so_far + distance_m(at, next), &rest, sees, best);
                }
            }
        }
        let mut best = f64::INFINITY;
        walk(from, to, 0.0, &corners, &sees, &mut best);
        let ways = Ways::new(obstacles.clone(), 0.0);
        let got = ways.between(from, to).unwrap().length_m;
        // A way of a micrometre bends round discs of half of one: at each of at most ten corners
        // it is longer by at most pi times that.
        assert!(
            got >= best - EXACT_M && got <= best + 2.0e-5,
            "{got} for {best}"
        );
        bent += usize::from(got > distance_m(from, to) + 1.0e-3);
    }
    assert!(bent > 100, "{bent}");
}

/// Shortest way over a grid with steps to 16 neighbours, each kept clear.
fn over_grid(
    obstacles: &[Obstacle],
    half_m: f64,
    from: Point,
    to: Point,
    step_m: f64,
) -> Option<f64> {
    let n = (20.0 / step_m).round() as i64;
    let place = |i: i64, j: i64| p(i as f64 * step_m, j as f64 * step_m);
    let index = |q: Point| {
        (
            (q.x_m() / step_m).round() as i64,
            (q.y_m() / step_m).round() as i64,
        )
    };
    let id = |(i, j): (i64, i64)| (i * (n + 1) + j) as usize;
    let mut steps = Vec::new();
    for (a, b) in [(1, 0), (1, 1), (2, 1), (1, 2)] {
        for (i, j) in [(a, b), (-b, a), (-a, -b), (b, -a)] {
            steps.push((i, j));
        }
    }
    let mut length = vec![f64::INFINITY; ((n + 1) * (n + 1)) as usize];
    let mut queue = BinaryHeap::new();
    let start = index(from);
    length[id(start)] = 0.0;
    queue.push(Reverse((0u64, start)));
    while let Some(Reverse((far, at))) = queue.pop() {
        let so_far = f64::from_bits(far);
        if so_far > length[id(at)] {
            continue;
        }
        if at == index(to) {
            return Some(so_far);
        }
        for (di, dj) in &steps {
            let next = (at.0 + di, at.1 + dj);
            if next.0 < 0 || next.1 < 0 || next.0 > n || next.1 > n {
                continue;
            }
            let (a, b) = (place(at.0, at.1), place(next.0, next.1));
            let longer = so_far + distance_m(a, b);
            if longer < length[id(next)] && clearance_m(obstacles, [a, b]) >= half_m {
                length[id(next)] = longer;
                queue.push(Reverse((longer.to_bits(), next)));
            }
        }
    }
    None
}

#[test]
fn a_fine_grid_finds_nothing_shorter() {
    const STEP_M: f64 = 0.1;
    // Sixteen directions lie at most 26.57 degrees apart: the worst direction is longer by the
    // secant of half of that.
    let metric = 1.0 / (0.5_f64.atan() / 2.0).cos();
    let mut random = Random(77);
    let (mut compared, mut worst) = (0, 0.0_f64);
    while compared < 12 {
        let mut obstacles = random_obstacles(&mut random, 9);
        // Closed in, so that the grid's own rim does not matter.
        obstacles.push(line(&[
            [0.0, 0.0],
            [20.0, 0.0],
            [20.0, 20.0],
            [0.0, 20.0],
            [0.0, 0.0],
        ]));
        let ways = Ways::new(obstacles.clone(), 1.0);
        let (from, to) = (p(1.0, 1.5), p(19.0, 18.5));
        let Ok(way) = ways.between(from, to) else {
            continue;
        };
        let strict = over_grid(&obstacles, 0.5, from, to, STEP_M);
        if let Some(grid) = strict {
            assert!(way.length_m <= grid + EXACT_M, "{} {grid}", way.length_m);
        }
        // With a little less room the grid can follow the way from node to node.
        let loose = over_grid(&obstacles, 0.5 - 2.0 * STEP_M, from, to, STEP_M).unwrap();
        worst = worst.max(loose / way.length_m);
        assert!(
            loose <= metric * way.length_m + 4.0 * STEP_M,
            "{loose} {}",
            way.length_m
        );
        compared += 1;
    }
    println!("grid over way, worst: {worst:.4}; bound {metric:.4}");
}

#[test]
fn hundreds_of_corners_take_milliseconds() {
    let mut random = Random(3);
    let mut obstacles = Vec::new();
    for i in 0..10 {
        for j in 0..10 {
            let (x, y) = (
                f64::from(i) * 6.0 + random.between(0.0, 1.5),
                f64::from(j) * 6.0 + random.between(0.0, 1.5),
            );
            obstacles.push(area(&[
                [x, y],
                [x + 3.0, y + random.between(0.0, 1.0)],
                [x + 3.5, y + 3.0],
                [x + 0.5, y + 3.5],
            ]));
        }
    }
    let begun = std::time::Instant::now();
    let ways = Ways::new(obstacles, 0.9144);
    let made = begun.elapsed();
    let begun = std::time::Instant::now();
    let way = ways.between(p(-2.0, -2.0), p(62.0, 61.0)).unwrap();
    let one = begun.elapsed();
    let begun = std::time::Instant::now();
    let many: Vec<Point> = (0..20).map(|k| p(f64::from(k) * 3.0, 65.0)).collect();
    let lengths = ways.lengths_m(p(-2.0, -2.0), &many);
    println!(
        "400 corners: made {made:?}, one way {one:?}, twenty ends {:?}, {:.3} m",
        begun.elapsed(),
        way.length_m
    );
    assert!(lengths.iter().all(Option::is_some));
    assert!(made.as_millis() + one.as_millis() < 2000);
}

#[test]
fn a_way_tells_its_climb() {
    // A plane rising 0.1 to the east and 0.05 to the north.
    let ground = plane_over([0.0, 0.0], [50.0, 50.0], |x, y| 100.0 + 0.1 * x + 0.05 * y);
    let along = [p(10.0, 10.0), p(30.0, 10.0), p(30.0, 20.0), p(20.0, 20.0)];
    let found = trail(&ground, &along, 1.0, 1.0);
    near("climb", found.climb_m, 20.0 * 0.1 + 10.0 * 0.05, EXACT_M);
    near("fall", found.fall_m, 10.0 * 0.1, EXACT_M);
    let length = 30.0 * 1.01_f64.sqrt() + 10.0 * 1.0025_f64.sqrt();
    near("along the slope", found.along_slope_m, length, EXACT_M);
    near(
        "steepest",
        found.steepest.unwrap().rise_per_run.abs(),
        0.1,
        EXACT_M,
    );
    // Northward the ground falls to the left by 0.1.
    near("cross", found.cross.unwrap().rise_per_run, -0.1, EXACT_M);
    assert_eq!(found.off_surface_m, 0.0);
    let out = trail(&ground, &[p(40.0, 5.0), p(60.0, 5.0)], 1.0, 1.0);
    near("off the survey", out.off_surface_m, 10.0, EXACT_M);
}

#[test]
fn the_steepest_stretch_is_as_long_as_asked_for() {
    // Level, a step of 0.3 m over 0.5 m, level again.
    let step = |x: f64, _: f64| 0.3 * ((x - 10.0) / 0.5).clamp(0.0, 1.0);
    let ground = common::drawn_out(
        &[[0.0, step(0.0, 0.0)], [10.0, 0.0], [10.5, 0.3], [20.0, 0.3]],
        [0.0, 5.0],
    );
    let over = |over_m| {
        let found = trail(&ground, &[p(1.0, 2.0), p(19.0, 2.0)], 0.5, over_m);
        found.steepest.unwrap()
    };
    near("over 1 m", over(1.0).rise_per_run, 0.3, EXACT_M);
    near("over half a metre", over(0.5).rise_per_run, 0.6, EXACT_M);
    near("where", over(0.5).station_m, 10.25 - 1.0, 1.0e-6);
    // Steeper than 1 : 2 and higher than a hand: gone round, and here there is no way round.
    let banks = steep_banks(&ground, 0.5, 0.1);
    assert_eq!(banks.len(), 1);
    assert!(steep_banks(&ground, 0.5, 0.31).is_empty());
    let mut obstacles = banks;
    obstacles.push(line(&[
        [0.0, 0.0],
        [20.0, 0.0],
        [20.0, 5.0],
        [0.0, 5.0],
        [0.0, 0.0],
    ]));
    let ways = Ways::new(obstacles, 1.0);
    assert_eq!(
        ways.between(p(1.0, 2.0), p(19.0, 2.0)),
        Err(Blocked::Closed(Some(0)))
    );
}

#[test]
fn places_beside_are_as_near_as_the_width_lets_one_come() {
    let mut pit = area(&rectangle([0.0, 0.0], [4.0, 2.0]));
    pit.margin_m = 0.6;
    let wall = line(&[[-3.0, 3.0], [7.0, 3.0]]);
    let ways = Ways::new(vec![pit.clone(), wall], 1.0);
    let places = ways.beside(0, 0.5);
    assert!(places.len() > 10);
    for place in &places {
        near(
            "beside",
            clearance_m(std::slice::from_ref(&pit), [*place; 2]),
            1.1,
            1.0e-7,
        );
        // 1 m between the wall and the pit is no room for a metre beside a margin of 0.6.
        assert!(place.y_m() < 2.5, "{place:?}");
    }
    let way = ways.nearest(&[p(2.0, -9.0)], &places).unwrap();
    close("to it", way.length_m, 9.0 - 1.1, 1.0e-6);
}

#[test]
fn the_least_move_clears() {
    let square = |x: f64, y: f64| {
        [
            [x, y],
            [x + 2.0, y],
            [x + 2.0, y + 2.0],
            [x, y + 2.0],
            [x, y],
        ]
        .map(|[x, y]| p(x, y))
    };
    let trunk = [p(0.0, 0.0)];
    // Its near side 1 m off, 3 m asked for.
    let here = square(1.0, -1.0);
    let found = least_move(&[&here], &[&trunk], 3.0).unwrap();
    assert!(
        found.length_m >= 2.0 && found.length_m <= 2.0 * 1.005 + 0.01,
        "{found:?}"
    );
    assert!(found.by_m[0] > 0.0 && found.by_m[1].abs() < 0.2);
    // Over it: out by the nearest side.
    let over = square(-0.5, -1.0);
    let found = least_move(&[&over], &[&trunk], 1.0).unwrap();
    assert!(
        found.length_m >= 1.5 && found.length_m <= 1.5 * 1.005 + 0.02,
        "{found:?}"
    );
    assert_eq!(least_move(&[&here], &[&trunk], 0.9), None);
    let moved = square(-0.5 + found.by_m[0], -1.0 + found.by_m[1]);
    assert_eq!(least_move(&[&moved], &[&trunk], 1.0 - 1.0e-6), None);
}
