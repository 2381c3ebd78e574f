//! Thinning of clouds: closed forms, the tolerance in any order of points, and the loss as
//! stated against a recount that looks at every point and every facet.
#![allow(clippy::unwrap_used)]

mod common;

use std::collections::BTreeMap;

use common::Random;
use cutbank::geom::{P3, Point, triangulate};
use cutbank::import::{Thinned, Thinner};
use cutbank::job::{SamePlace, Thin};
use cutbank::surface::Surface;

/// Computing a height by a plane through three corners rounds at the sixteenth digit.
const ROUNDING_M: f64 = 1e-9;

fn thinned(points: &[P3], tolerance_m: f64) -> Thinned {
    let mut thinner = Thinner::new(Thin::Within(tolerance_m), SamePlace::Lowest);
    points.chunks(1000).for_each(|some| thinner.take(some));
    thinner.finish()
}

fn surface(points: &[P3]) -> Surface {
    let plan: Vec<Point> = points.iter().map(|point| point.p).collect();
    let t = triangulate(&plan, &[]).unwrap();
    Surface::from_triangles(points.to_vec(), &t.triangles, 0).unwrap()
}

fn at(x_m: f64, y_m: f64, z: f64) -> P3 {
    P3 {
        p: Point::from_m(x_m, y_m),
        z,
    }
}

/// Millimetres, so that many places lie on one circle, as in a scan.
fn hills(random: &mut Random, n: usize, side_m: f64) -> Vec<P3> {
    let mm = |v: f64| (v * 1e3).round() / 1e3;
    (0..n)
        .map(|_| {
            let (x, y) = (random.between(0.0, side_m), random.between(0.0, side_m));
            let z = 0.8 * (x / 7.0).sin() + 0.5 * (y / 5.0).cos() - 0.04 * x;
            at(mm(x), mm(y), mm(z + random.between(-0.02, 0.02)))
        })
        .collect()
}

/// What is stated, against every point that was left out and the surface that is left.
fn check_loss(all: &[P3], thinned: &Thinned) {
    let kept: BTreeMap<Point, f64> = thinned.points.iter().map(|k| (k.p, k.z)).collect();
    assert_eq!(kept.len(), thinned.points.len(), "a place is there twice");
    let surface = surface(&thinned.points);
    let mut lowest: BTreeMap<Point, f64> = BTreeMap::new();
    for point in all {
        let z = lowest.entry(point.p).or_insert(point.z);
        *z = z.min(point.z);
    }
    let out: Vec<f64> = lowest
        .iter()
        .filter(|(p, _)| !kept.contains_key(p))
        .map(|(&p, z)| (surface.z_at(p).expect("the hull is kept") - z).abs())
        .collect();
    let loss = thinned.loss.unwrap();
    let count = out.len() as u64;
    assert_eq!((loss.points, loss.looked_at), (count, count));
    let same = (all.len() - lowest.len()) as u64;
    assert_eq!(thinned.same_place, same);
    assert_eq!(all.len() as u64, kept.len() as u64 + same + loss.points);
    let worst = out.iter().fold(0.0, |worst: f64, off| worst.max(*off));
    let rms = (out.iter().map(|off| off * off).sum::<f64>() / count as f64).sqrt();
    assert!(
        (worst - loss.worst_m).abs() < ROUNDING_M,
        "{worst} {loss:?}"
    );
    assert!((rms - loss.rms_m).abs() < ROUNDING_M, "{rms} {loss:?}");
    assert!(worst <= loss.tolerance_m + ROUNDING_M);
    assert_eq!(loss.beyond, 0);
    for (p, z) in kept {
        assert_eq!(z, lowest[&p]);
    }
}

#[test]
fn a_plane_keeps_its_corners() {
    let plane = |x: f64, y: f64| at(x, y, 3.0 + 0.25 * x - 0.125 * y);
    let points: Vec<P3> = (0..=40)
        .flat_map(|x| (0..=30).map(move |y| plane(f64::from(x), f64::from(y))))
        .collect();
    let thinned = thinned(&points, 0.001);
    let mut places: Vec<Point> = thinned.points.iter().map(|point| point.p).collect();
    places.sort_unstable();
    let corners = [(0.0, 0.0), (0.0, 30.0), (40.0, 0.0), (40.0, 30.0)];
    assert_eq!(places, corners.map(|(x, y)| Point::from_m(x, y)));
    check_loss(&points, &thinned);
}

#[test]
fn a_roof_keeps_its_ridge() {
    // The ridge runs at x = 20 from gable to gable.
    let roof = |x: f64, y: f64| at(x, y, 5.0 - 0.5 * (x - 20.0).abs());
    let points: Vec<P3> = (0..=40)
        .flat_map(|x| (0..=30).map(move |y| roof(f64::from(x), f64::from(y))))
        .collect();
    let thinned = thinned(&points, 0.001);
    let surface = surface(&thinned.points);
    for y in 0..=30 {
        let ridge = surface.z_at(Point::from_m(20.0, f64::from(y))).unwrap();
        assert!((ridge - 5.0).abs() <= 0.001, "{ridge} at {y}");
    }
    // Some points of the slopes stay that were needed while the ridge was not yet laid.
    assert!(thinned.points.len() <= 40, "{}", thinned.points.len());
    check_loss(&points, &thinned);
}

#[test]
fn the_tolerance_holds_in_any_order_of_points() {
    for (seed, tolerance_m) in [(1, 0.05), (2, 0.03), (3, 0.2), (4, 0.005)] {
        let mut random = Random(seed);
        let shuffled = hills(&mut random, 20_000, 60.0);
        let mut strips = shuffled.clone();
        strips.sort_by_key(|point| (point.p.y / 4_000_000_000, point.p.x));
        let mut sorted = shuffled.clone();
        sorted.sort_by_key(|point| point.p);
        for points in [shuffled, strips, sorted] {
            check_loss(&points, &thinned(&points, tolerance_m));
        }
    }
}

#[test]
fn batches_are_laid_on_what_is_there() {
    // More than one batch, in strips and shuffled; all that is dropped fits into the sample.
    let mut random = Random(9);
    let mut points = hills(&mut random, 2_600_000, 400.0);
    let mut sizes = Vec::new();
    for order in ["shuffled", "strips"] {
        if order == "strips" {
            points.sort_by_key(|point| point.p.y / 40_000_000_000);
        }
        let thinned = thinned(&points, 0.05);
        let loss = thinned.loss.unwrap();
        let left_out = points.len() as u64 - thinned.same_place - loss.points;
        assert_eq!(left_out, thinned.points.len() as u64);
        if loss.looked_at == loss.points {
            assert_eq!(loss.beyond, 0, "{order}: {loss:?}");
        }
        // 1 in 100 of those that had no say: the surface moved a little after they were dropped.
        assert!(loss.beyond * 100 <= loss.looked_at, "{order}: {loss:?}");
        sizes.push(thinned.points.len());
    }
    let [shuffled, strips] = sizes[..] else {
        unreachable!("two orders")
    };
    // The order must not make many more points needful.
    assert!(shuffled * 4 < strips * 5 && strips * 4 < shuffled * 5);
}

#[test]
fn points_at_one_place_are_one_by_rule() {
    // Two million points between the two of a pair, so that they come in different batches.
    let ground = |random: &mut Random| {
        let (x, y) = (random.between(1.0, 99.0), random.between(1.0, 99.0));
        at(x, y, 0.0)
    };
    // A top of 3 m is kept whatever comes after it.
    let heights = [3.0, 2.0, 5.0, 2.5];
    for (rule, expected) in [
        (SamePlace::Lowest, 2.0),
        (SamePlace::Highest, 5.0),
        (SamePlace::First, 3.0),
        // (3 + 2 + 5 + 2.5) / 4
        (SamePlace::Mean, 3.125),
    ] {
        let mut random = Random(4);
        let mut thinner = Thinner::new(Thin::Within(0.05), rule);
        let corners = [(0.0, 0.0), (100.0, 0.0), (0.0, 100.0), (100.0, 100.0)];
        thinner.take(&corners.map(|(x, y)| at(x, y, 0.0)));
        let place = Point::from_m(50.0, 50.0);
        for pair in heights.chunks(2) {
            for &z in pair {
                thinner.take(&[P3 { p: place, z }]);
            }
            let more: Vec<P3> = (0..2_200_000).map(|_| ground(&mut random)).collect();
            thinner.take(&more);
        }
        let thinned = thinner.finish();
        let here: Vec<f64> = thinned
            .points
            .iter()
            .filter(|point| point.p == place)
            .map(|point| point.z)
            .collect();
        assert_eq!(here, [expected], "{rule:?}");
        assert!(thinned.same_place >= 3);
    }
}

#[test]
fn what_is_not_thinned_comes_out_as_it_came_in() {
    let mut random = Random(3);
    let mut points = hills(&mut random, 5_000, 50.0);
    let twice = P3 {
        z: points[70].z + 1.0,
        ..points[70]
    };
    points.insert(4_000, twice);
    for thin in [Thin::IfLarge, Thin::Never] {
        for (rule, z) in [
            (SamePlace::Lowest, points[70].z),
            (SamePlace::Highest, twice.z),
            (SamePlace::Mean, (points[70].z + twice.z) / 2.0),
        ] {
            let mut thinner = Thinner::new(thin, rule);
            thinner.take(&points);
            let thinned = thinner.finish();
            assert_eq!((thinned.same_place, thinned.loss), (1, None));
            let mut expected = points.clone();
            expected.remove(4_000);
            expected[70].z = z;
            assert_eq!(thinned.points, expected);
        }
    }
}

#[test]
fn points_in_line_and_very_few_points() {
    for n in [0, 1, 2, 50] {
        let line: Vec<P3> = (0..n)
            .map(|k| at(f64::from(k), 2.0 * f64::from(k), 0.0))
            .collect();
        let thinned = thinned(&line, 0.05);
        assert_eq!((thinned.points.len(), thinned.loss), (line.len(), None));
    }
}

#[test]
fn the_same_points_give_the_same_bits() {
    let mut random = Random(8);
    let points = hills(&mut random, 50_000, 80.0);
    let once = thinned(&points, 0.04);
    let mut thinner = Thinner::new(Thin::Within(0.04), SamePlace::Lowest);
    thinner.take(&points);
    let again = std::thread::scope(|scope| scope.spawn(|| thinner.finish()).join().unwrap());
    assert_eq!(once.points, again.points);
    assert_eq!(once.loss, again.loss);
}

#[test]
fn a_few_points_far_away_cost_no_time() {
    // Without care the curve would have one cell for all the others.
    let mut random = Random(12);
    let mut points = hills(&mut random, 200_000, 100.0);
    points.push(at(4.0e8, 4.0e8, 0.0));
    points.push(at(-4.0e8, 3.0e8, 0.0));
    let thinned = thinned(&points, 0.05);
    assert_eq!(thinned.loss.unwrap().beyond, 0);
}
