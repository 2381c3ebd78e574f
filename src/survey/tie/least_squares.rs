//! All distances between corners at once, by least squares.
//!
//! Takes a network and a placement to start from, gives the placement that fits best, what each
//! distance is off, and which of them may be wrong. Knows no mirror images.

use nalgebra::{DMatrix, DVector, Matrix2};

use super::circle::{Plan, apart_m};
use super::damping::{Damping, STILL_M};
use super::fix::{DOUBTED, Ellipse, standardised};
use super::network::{Adjusted, Distance, Frame, Network, WrongDistance};
use super::rigid::missing;

/// Steps of one adjustment.
const MAX_STEPS: usize = 200;
/// Distances of which each is left out in turn to find a wrong one.
const MAX_LEFT_OUT: usize = 60;

/// The farthest that a corner moves between two placements, metres.
pub(super) fn farthest_m(a: &[Plan], b: &[Plan]) -> f64 {
    a.iter()
        .zip(b)
        .fold(0.0, |most: f64, (a, b)| most.max(apart_m(*a, *b)))
}

/// Rows of the rigidity matrix: how each distance grows with each freedom.
pub(super) fn rigidity(
    distances: &[Distance],
    places: &[Plan],
    free: &[Vec<Plan>],
) -> DMatrix<f64> {
    let mut first = Vec::with_capacity(free.len());
    let mut columns = 0;
    for directions in free {
        first.push(columns);
        columns += directions.len();
    }
    let mut matrix = DMatrix::zeros(distances.len(), columns);
    for (row, d) in distances.iter().enumerate() {
        let length_m = apart_m(places[d.a], places[d.b]).max(f64::MIN_POSITIVE);
        let [ux, uy] = [
            (places[d.b][0] - places[d.a][0]) / length_m,
            (places[d.b][1] - places[d.a][1]) / length_m,
        ];
        for (corner, sign) in [(d.a, -1.0), (d.b, 1.0)] {
            for (k, [east, north]) in free[corner].iter().enumerate() {
                matrix[(row, first[corner] + k)] += sign * (ux * east + uy * north);
            }
        }
    }
    matrix
}

/// Least squares of all distances from a start; a step that makes it worse is damped.
pub(super) fn settle(frame: &Frame, distances: &[Distance], start: Vec<Plan>) -> Vec<Plan> {
    let sum = |places: &[Plan]| -> f64 {
        distances
            .iter()
            .map(|d| (apart_m(places[d.a], places[d.b]) - d.length_m).powi(2))
            .sum()
    };
    let (mut places, mut damping) = (start, Damping::default());
    let mut now = sum(&places);
    if frame.is_held() {
        return places;
    }
    for _ in 0..MAX_STEPS {
        let jacobian = rigidity(distances, &places, &frame.free);
        let residuals = DVector::from_iterator(
            distances.len(),
            distances
                .iter()
                .map(|d| d.length_m - apart_m(places[d.a], places[d.b])),
        );
        let mut normal = jacobian.tr_mul(&jacobian);
        for i in 0..normal.nrows() {
            normal[(i, i)] += damping.value();
        }
        let step = normal
            .cholesky()
            .map(|c| c.solve(&jacobian.tr_mul(&residuals)));
        let next = step.map(|step| moved(&places, &frame.free, &step));
        match next {
            Some(next) if sum(&next) <= now || damping.is_last(farthest_m(&next, &places)) => {
                let by_m = farthest_m(&next, &places);
                places = next;
                now = sum(&places);
                damping.ease();
                if by_m < STILL_M {
                    break;
                }
            }
            _ if damping.raise() => {}
            _ => break,
        }
    }
    places
}

/// Places after a step of all freedoms.
fn moved(places: &[Plan], free: &[Vec<Plan>], step: &DVector<f64>) -> Vec<Plan> {
    let mut column = 0;
    let mut next = places.to_vec();
    for (place, directions) in next.iter_mut().zip(free) {
        for [east, north] in directions {
            place[0] += east * step[column];
            place[1] += north * step[column];
            column += 1;
        }
    }
    next
}

/// Ellipses, residuals, and the distance that does not agree.
pub(super) fn finish(network: &Network, frame: &Frame, places: Vec<Plan>) -> Adjusted {
    let (residuals_m, standard, inverse) =
        standard_residuals(network, frame, &network.distances, &places);
    let mut column = 0;
    let mut ellipses = Vec::with_capacity(places.len());
    for directions in &frame.free {
        let from = column;
        column += directions.len();
        let mut variance: Matrix2<f64> = Matrix2::zeros();
        if let Some(inverse) = &inverse {
            for (i, a) in directions.iter().enumerate() {
                for (j, b) in directions.iter().enumerate() {
                    let v = inverse[(from + i, from + j)] * network.sigma_m * network.sigma_m;
                    variance +=
                        Matrix2::new(a[0] * b[0], a[0] * b[1], a[1] * b[0], a[1] * b[1]) * v;
                }
            }
        }
        let is_known = !directions.is_empty() && inverse.is_some();
        ellipses.push(is_known.then(|| Ellipse::of(variance)).flatten());
    }
    let worst = (0..standard.len()).max_by(|&a, &b| standard[a].total_cmp(&standard[b]));
    let wrong = worst
        .filter(|&worst| standard[worst] > DOUBTED)
        .map(|worst| WrongDistance {
            worst,
            standard: standard[worst],
            suspects: suspects(network, frame, &places),
        });
    Adjusted {
        places,
        ellipses,
        residuals_m,
        wrong,
    }
}

type Residuals = (Vec<f64>, Vec<f64>, Option<DMatrix<f64>>);

/// Residuals, the same over their standard errors, and the inverse of the normal matrix.
fn standard_residuals(
    network: &Network,
    frame: &Frame,
    distances: &[Distance],
    places: &[Plan],
) -> Residuals {
    let jacobian = rigidity(distances, places, &frame.free);
    let inverse = match frame.is_held() {
        true => None,
        false => jacobian.tr_mul(&jacobian).cholesky().map(|c| c.inverse()),
    };
    // Between two given places the whole error of a tape shows.
    let held = if frame.is_held() { 1.0 } else { 0.0 };
    let residuals_m: Vec<f64> = distances
        .iter()
        .map(|d| apart_m(places[d.a], places[d.b]) - d.length_m)
        .collect();
    let standard = residuals_m
        .iter()
        .enumerate()
        .map(|(row, residual_m)| {
            let j = jacobian.row(row);
            let free = inverse
                .as_ref()
                .map_or(held, |q| 1.0 - (j * q * j.transpose())[0]);
            standardised(*residual_m, free, network.sigma_m)
        })
        .collect();
    (residuals_m, standard, inverse)
}

/// Distances that could each, alone, be what keeps the rest from agreeing.
fn suspects(network: &Network, frame: &Frame, places: &[Plan]) -> Vec<(usize, f64)> {
    if network.distances.len() > MAX_LEFT_OUT {
        return Vec::new();
    }
    let mut found = Vec::new();
    for index in 0..network.distances.len() {
        let mut others = network.clone();
        let out = others.distances.remove(index);
        if !missing(&others).is_empty() {
            continue;
        }
        let settled = settle(frame, &others.distances, places.to_vec());
        let (_, standard, _) = standard_residuals(&others, frame, &others.distances, &settled);
        if standard.iter().all(|w| *w <= DOUBTED) {
            found.push((index, apart_m(settled[out.a], settled[out.b])));
        }
    }
    found
}
