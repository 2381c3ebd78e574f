//! Where tapes meet, and corners held by their distances: closed forms, a general solver,
//! properties. Geometry only, in metres.

#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod common;

use common::Random;
use cutbank::survey::tie::{
    Beside, DOUBTED, Distance, Fix, Miss, Network, NetworkFault, Plan, Tied, adjust_corners,
    best_crossing, fixes, missing, suspects,
};

fn apart(a: Plan, b: Plan) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

fn tied(corners: &[Plan], at: Plan) -> Vec<Tied> {
    corners
        .iter()
        .map(|&corner| Tied {
            corner,
            length_m: apart(corner, at),
        })
        .collect()
}

/// A normal deviate, by the method of Box and Muller (1958).
fn normal(random: &mut Random) -> f64 {
    let (u, v) = (
        random.between(f64::MIN_POSITIVE, 1.0),
        random.between(0.0, 1.0),
    );
    (-2.0 * u.ln()).sqrt() * (2.0 * std::f64::consts::PI * v).cos()
}

fn expected() -> serde_json::Value {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/ties/expected.json");
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn plan(value: &serde_json::Value) -> Plan {
    [value[0].as_f64().unwrap(), value[1].as_f64().unwrap()]
}

fn number(value: &serde_json::Value) -> f64 {
    value.as_f64().unwrap()
}

// ---- geometry ----

/// Crossing at 90, 60, 30 and 15 degrees multiplies the error by 1.41, 1.63, 2.83 and 5.46
/// (arithmetic of the job table; the closed form is the root of 2 over the sine).
#[test]
fn a_thin_crossing_multiplies_the_error() {
    for (degrees, times) in [(90.0_f64, 1.41), (60.0, 1.63), (30.0, 2.83), (15.0, 5.46)] {
        let (sin, cos) = degrees.to_radians().sin_cos();
        let ties = tied(&[[10.0, 0.0], [10.0 * cos, 10.0 * sin]], [0.0, 0.0]);
        let found = fixes(&ties, 0.03).unwrap();
        let fix = found
            .iter()
            .find(|fix| apart(fix.at, [0.0, 0.0]) < 1e-9)
            .unwrap();
        assert!((fix.sin_crossing - sin).abs() < 1e-12);
        assert!((fix.times_error - 2.0_f64.sqrt() / sin).abs() < 1e-9);
        assert!(
            (fix.times_error - times).abs() < 0.005,
            "{}",
            fix.times_error
        );
        // The squares of both semi axes add up to the square of that times the tape error.
        let e = fix.ellipse.unwrap();
        let whole = e.semi_major_m.hypot(e.semi_minor_m);
        assert!((whole - fix.times_error * 0.03).abs() < 1e-12);
    }
}

/// Forty shots by three to six tapes against scipy.optimize.least_squares
/// (`fixtures/ties/make_expected.py`).
#[test]
fn shots_agree_with_a_general_solver() {
    let expected = expected();
    let sigma_m = number(&expected["sigma_m"]);
    let mut most: f64 = 0.0;
    for case in expected["shots"].as_array().unwrap() {
        let ties: Vec<Tied> = case["corners"]
            .as_array()
            .unwrap()
            .iter()
            .zip(case["tapes_m"].as_array().unwrap())
            .map(|(corner, length)| Tied {
                corner: plan(corner),
                length_m: number(length),
            })
            .collect();
        let want = &case["found"];
        let found = fixes(&ties, sigma_m).unwrap();
        let fix = found
            .iter()
            .min_by(|a, b| {
                let far = |fix: &Fix| apart(fix.at, plan(&want["at"]));
                far(a).total_cmp(&far(b))
            })
            .unwrap();
        most = most.max(apart(fix.at, plan(&want["at"])));
        for (a, b) in fix
            .residuals_m
            .iter()
            .zip(want["residuals_m"].as_array().unwrap())
        {
            most = most.max((a - number(b)).abs());
        }
        let (e, f) = (fix.ellipse.unwrap(), &want["ellipse"]);
        most = most.max((e.semi_major_m - number(&f["semi_major_m"])).abs());
        most = most.max((e.semi_minor_m - number(&f["semi_minor_m"])).abs());
    }
    println!("largest difference of a shot to the general solver: {most:.2e} m");
    assert!(most < 1e-9, "{most}");
}

/// Ten networks of four to eight corners, two of them given, against the same solver.
#[test]
fn corners_agree_with_a_general_solver() {
    let expected = expected();
    let mut most: f64 = 0.0;
    for case in expected["networks"].as_array().unwrap() {
        let given: Vec<Option<Plan>> = case["given"]
            .as_array()
            .unwrap()
            .iter()
            .map(|p| (!p.is_null()).then(|| plan(p)))
            .collect();
        let mut sides = vec![None; given.len()];
        sides[2] = Some(Beside {
            from: 0,
            to: 1,
            left: case["third_is_left"].as_bool().unwrap(),
        });
        let network = Network {
            distances: case["distances"]
                .as_array()
                .unwrap()
                .iter()
                .map(|d| Distance {
                    a: d[0].as_u64().unwrap() as usize,
                    b: d[1].as_u64().unwrap() as usize,
                    length_m: number(&d[2]),
                })
                .collect(),
            sides,
            given,
            toward: [1.0, 0.0],
            sigma_m: number(&expected["sigma_m"]),
        };
        let found = adjust_corners(&network).unwrap();
        let want = &case["found"];
        for (a, b) in found.places.iter().zip(want["places"].as_array().unwrap()) {
            most = most.max(apart(*a, plan(b)));
        }
        for (a, b) in found
            .residuals_m
            .iter()
            .zip(want["residuals_m"].as_array().unwrap())
        {
            most = most.max((a - number(b)).abs());
        }
        for (a, b) in found
            .ellipses
            .iter()
            .zip(want["ellipses"].as_array().unwrap())
        {
            if let Some(a) = a.filter(|_| !b.is_null()) {
                most = most.max((a.semi_major_m - number(&b["semi_major_m"])).abs());
            }
        }
    }
    println!("largest difference of a corner to the general solver: {most:.2e} m");
    assert!(most < 1e-9, "{most}");
}

/// Exact tapes recover the place to 1e-9 m, in any order, and the mirror image is the other
/// answer.
#[test]
fn exact_tapes_recover_the_place() {
    let mut random = Random(5);
    let mut at = |low, high| [random.between(low, high), random.between(low, high)];
    for trial in 0..2_000 {
        let corners: Vec<Plan> = (0..2 + trial % 4).map(|_| at(0.0, 30.0)).collect();
        let place = at(-10.0, 40.0);
        let ties = tied(&corners, place);
        let near = |found: &[Fix]| {
            found
                .iter()
                .map(|fix| apart(fix.at, place))
                .fold(f64::INFINITY, f64::min)
        };
        // A hair of an error, so that no circle is taken as touching another.
        let found = fixes(&ties, 1e-12).unwrap();
        let crossing = found.iter().map(|f| f.sin_crossing).fold(0.0, f64::max);
        if crossing < 0.02 {
            continue;
        }
        assert!(near(&found) < 1e-9, "trial {trial}: {}", near(&found));
        let mut turned = ties.clone();
        turned.reverse();
        assert!(
            near(&fixes(&turned, 1e-12).unwrap()) < 1e-9,
            "trial {trial}"
        );
        if let [a, b] = &found[..] {
            // Mirror images over the line of the corners: equal distances to both.
            for &corner in &corners[..2] {
                assert!((apart(a.at, corner) - apart(b.at, corner)).abs() < 1e-9);
            }
        }
    }
}

/// Over 2,000 made shots the 1-sigma ellipse holds the true place as often as chi-square with two
/// degrees of freedom says, 39.3 % (1 - e^-1/2, closed form); 3 standard errors of that share
/// are 3.3 %.
#[test]
fn the_ellipse_holds_its_share() {
    let mut random = Random(11);
    let sigma_m = 0.03;
    let corners = [[0.0, 0.0], [12.0, 0.0], [12.0, 9.0], [0.0, 9.0]];
    let (mut held, mut count) = (0, 0);
    while count < 2_000 {
        let place = [random.between(-8.0, 20.0), random.between(-8.0, 17.0)];
        let mut ties = tied(&corners[..2 + count % 3], place);
        for tie in &mut ties {
            tie.length_m += sigma_m * normal(&mut random);
        }
        let Ok(found) = fixes(&ties, sigma_m) else {
            continue;
        };
        let far = |fix: &&Fix| apart(fix.at, place);
        let fix = found
            .iter()
            .min_by(|a, b| far(a).total_cmp(&far(b)))
            .unwrap();
        // On a thin crossing the circles are no straight lines any more.
        let Some(e) = fix.ellipse.filter(|_| fix.sin_crossing > 0.3) else {
            continue;
        };
        let (dx, dy) = (place[0] - fix.at[0], place[1] - fix.at[1]);
        let along = (dx * e.along[0] + dy * e.along[1]) / e.semi_major_m;
        let across = (dy * e.along[0] - dx * e.along[1]) / e.semi_minor_m;
        held += usize::from(along.hypot(across) <= 1.0);
        count += 1;
    }
    let share = held as f64 / count as f64;
    println!(
        "the 1-sigma ellipse holds {:.1} % of {count} shots",
        share * 100.0
    );
    assert!((share - (1.0 - (-0.5_f64).exp())).abs() < 0.033, "{share}");
}

/// A start on the wrong side of nearly collinear corners does not win.
#[test]
fn the_mirror_trap_does_not_win() {
    let corners = [[0.0, 0.0], [10.0, 0.1], [20.0, 0.0]];
    let place = [8.0, -6.0];
    let found = fixes(&tied(&corners, place), 0.001).unwrap();
    assert!(apart(found[0].at, place) < 1e-9);
    assert_eq!(found.len(), 1);
    // With corners on one line and tapes that are only good to 3 cm, both remain.
    let found = fixes(&tied(&corners, place), 0.1).unwrap();
    assert_eq!(found.len(), 2);
    assert!(apart(found[0].at, place) < 1e-9);
}

/// Tapes that are too short or too long say by how much.
#[test]
fn tapes_that_do_not_meet() {
    let tie = |x, length_m| Tied {
        corner: [x, 0.0],
        length_m,
    };
    let miss = |a, b| fixes(&[tie(0.0, a), tie(10.0, b)], 0.01);
    assert_eq!(miss(4.0, 5.0), Err(Miss::Apart(1.0)));
    assert_eq!(miss(13.0, 2.0), Err(Miss::Inside(1.0)));
    assert_eq!(miss(4.0, 5.98).unwrap().len(), 1);
    let same = fixes(&[tie(0.0, 4.0), tie(0.0, 5.0)], 0.01);
    assert_eq!(same, Err(Miss::OneCorner));
}

/// With four tapes and one misread by 1 m, that one is named and its right length given.
#[test]
fn a_wrong_tape_is_named() {
    let corners = [[0.0, 0.0], [12.0, 0.0], [12.0, 9.0], [0.0, 9.0]];
    let mut random = Random(3);
    for trial in 0..200 {
        let place = [random.between(-5.0, 17.0), random.between(-5.0, 14.0)];
        let mut ties = tied(&corners, place);
        let wrong = trial % 4;
        let right_m = ties[wrong].length_m;
        ties[wrong].length_m += 1.0;
        let fix = fixes(&ties, 0.01).unwrap().remove(0);
        assert!(fix.worst() > DOUBTED, "trial {trial}");
        let found = suspects(&ties, &fix, 0.01);
        assert!(
            found
                .iter()
                .any(|s| s.tie == wrong && (s.should_m - right_m).abs() < 0.05),
            "trial {trial}: {found:?}"
        );
        assert!(found.len() <= 2, "trial {trial}: {found:?}");
    }
}

/// The third corner that is asked for is the one that crosses best.
#[test]
fn the_third_corner_crosses_best() {
    let place = [10.0, 0.0];
    let ties = tied(&[[0.0, 0.0], [0.0, 1.0]], place);
    let (best, times) =
        best_crossing(&ties, place, &[[20.0, 0.5], [10.0, 8.0], [30.0, 1.0]]).unwrap();
    assert_eq!(best, 1);
    assert!(times < 2.0);
}

fn network(count: usize, pairs: &[(usize, usize)], places: &[Plan]) -> Network {
    Network {
        given: vec![None; count],
        distances: pairs
            .iter()
            .map(|&(a, b)| Distance {
                a,
                b,
                length_m: apart(places[a], places[b]),
            })
            .collect(),
        sides: vec![None; count],
        toward: [1.0, 0.0],
        sigma_m: 0.01,
    }
}

/// Which distances hold corners in place (Laman's count 2n - 3 and generic rigidity): a square
/// lacks a diagonal, a double banana needs more than its count, a chain of triangles is held.
#[test]
fn a_missing_distance_is_named() {
    let square = [[0.0, 0.0], [10.0, 0.0], [10.0, 8.0], [0.0, 8.0]];
    let sides = [(0, 1), (1, 2), (2, 3), (3, 0)];
    assert_eq!(missing(&network(4, &sides, &square)).len(), 1);
    let braced = [(0, 1), (1, 2), (2, 3), (3, 0), (0, 2)];
    assert!(missing(&network(4, &braced, &square)).is_empty());
    // Two tapes to the third corner, one to the fourth: the fourth lacks one to a held corner.
    let loose = [(0, 1), (0, 2), (1, 2), (0, 3)];
    assert_eq!(missing(&network(4, &loose, &square)), [(1, 3)]);
    // Enough in number, but all in one half: six distances among four corners, none to spare for
    // the fifth, which hangs on one.
    let places = [
        [0.0, 0.0],
        [10.0, 0.0],
        [10.0, 8.0],
        [0.0, 8.0],
        [20.0, 3.0],
    ];
    let heaped = [(0, 1), (0, 2), (0, 3), (1, 2), (1, 3), (2, 3), (3, 4)];
    assert_eq!(missing(&network(5, &heaped, &places)), [(0, 4)]);
}

/// Corners by distances alone come out to 1e-9 m in the frame of the first two; the side of the
/// third must be told, and every redundant corner finds its own.
#[test]
fn corners_by_distances() {
    let places = [[0.0, 0.0], [28.4, 0.0], [25.0, 14.0], [3.0, 16.0]];
    let all = [(0, 1), (0, 2), (1, 2), (0, 3), (1, 3), (2, 3)];
    let mut net = network(4, &all, &places);
    assert_eq!(
        adjust_corners(&net),
        Err(NetworkFault::EitherSide(vec![2, 3]))
    );
    net.sides[2] = Some(Beside {
        from: 0,
        to: 1,
        left: true,
    });
    let found = adjust_corners(&net).unwrap();
    for (a, b) in found.places.iter().zip(places) {
        assert!(apart(*a, b) < 1e-9);
    }
    assert!(found.wrong.is_none());
    net.sides[2] = Some(Beside {
        from: 0,
        to: 1,
        left: false,
    });
    let mirrored = adjust_corners(&net).unwrap();
    assert!((mirrored.places[3][1] + 16.0).abs() < 1e-9);
    // One distance 1 m off is found, with five to check it.
    let places = [
        [0.0, 0.0],
        [28.4, 0.0],
        [25.0, 14.0],
        [3.0, 16.0],
        [14.0, 25.0],
    ];
    let pairs: Vec<(usize, usize)> = (0..5)
        .flat_map(|a| (a + 1..5).map(move |b| (a, b)))
        .collect();
    let mut net = network(5, &pairs, &places);
    net.sides[2] = Some(Beside {
        from: 0,
        to: 1,
        left: true,
    });
    net.distances[5].length_m += 1.0;
    let wrong = adjust_corners(&net).unwrap().wrong.unwrap();
    let right_m = net.distances[5].length_m - 1.0;
    assert_eq!(wrong.suspects.len(), 1, "{wrong:?}");
    assert_eq!(wrong.suspects[0].0, 5);
    assert!((wrong.suspects[0].1 - right_m).abs() < 1e-6);
}

/// A framework without two placed corners to hang a third on: three corners joined to three
/// (K 3,3), which is held in general but cannot be built up one by one.
#[test]
fn corners_that_cannot_be_built_up_one_by_one() {
    let places = [
        [0.0, 0.0],
        [20.0, 0.0],
        [11.0, 2.0],
        [4.0, 13.0],
        [15.0, 16.0],
        [23.0, 9.0],
    ];
    let mut pairs = vec![(0, 1)];
    for a in [0, 1, 2] {
        pairs.extend([3, 4, 5].map(|b| (a, b)));
    }
    pairs.extend([(3, 4), (4, 5)]);
    let mut net = network(6, &pairs, &places);
    net.distances
        .retain(|d| (d.a, d.b) != (0, 3) || d.length_m < 0.0);
    net.sides[4] = Some(Beside {
        from: 0,
        to: 1,
        left: true,
    });
    let found = adjust_corners(&net).unwrap();
    for (a, b) in found.places.iter().zip(places) {
        assert!(apart(*a, b) < 1e-6, "{:?}", found.places);
    }
}
