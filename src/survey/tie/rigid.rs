//! Whether distances hold corners in place.
//!
//! Takes a network, gives the distances it lacks. Knows nothing of lengths: whether a framework
//! can move is a matter of which corners are joined, for all but freak lengths.

use nalgebra::DMatrix;

use super::circle::Plan;
use super::least_squares::rigidity;
use super::network::{Distance, Network};

/// Squared singular values below this share of the largest are nothing: rounding leaves some
/// 1e-15 of it.
const NOTHING: f64 = 1e-12;
/// A corner that moves by more than this share of a free movement is not held.
const MOVES: f64 = 1e-6;

/// Made-up places in the unit square, the same for the same seed.
///
/// Source: the generator is splitmix64 (Vigna 2017).
pub(super) fn random_places(count: usize, seed: u64) -> Vec<Plan> {
    let mut state = seed;
    let mut next = || {
        state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64 - 0.5
    };
    (0..count).map(|_| [next(), next()]).collect()
}

/// Distances that are missing, as pairs of corners; empty if the corners are held.
///
/// Pairs that tie a loose corner to a held one come first, then those of corners named first.
///
/// # Source
///
/// generic rigidity: a framework is held if and only if its rigidity matrix has full rank at one
/// placement taken at random (Asimow and Roth 1978; Hendrickson 1992; both from memory)
pub fn missing(network: &Network) -> Vec<(usize, usize)> {
    let frame = network.frame();
    let places = random_places(network.given.len(), 1);
    let mut distances = network.distances.clone();
    let mut lacking = Vec::new();
    // The second corner turns about the first: its freedom is along the line of both.
    let mut free = frame.free;
    if let Some((first, second)) = network.first_line() {
        let [dx, dy] = [
            places[second][0] - places[first][0],
            places[second][1] - places[first][1],
        ];
        let length = dx.hypot(dy);
        free[second] = vec![[dx / length, dy / length]];
    }
    let count = free.len();
    loop {
        let matrix = rigidity(&distances, &places, &free);
        let motions = loose(&matrix);
        if motions.ncols() == 0 {
            return lacking;
        }
        let mut moves = vec![false; count];
        let mut column = 0;
        for (corner, directions) in free.iter().enumerate() {
            for k in column..column + directions.len() {
                moves[corner] |= motions.row(k).norm() > MOVES;
            }
            column += directions.len();
        }
        let mut best: Option<(bool, usize, usize)> = None;
        for a in 0..count {
            for b in a + 1..count {
                if !(moves[a] || moves[b]) {
                    continue;
                }
                let pair = Distance {
                    a,
                    b,
                    length_m: 0.0,
                };
                let row = rigidity(&[pair], &places, &free);
                if (row * &motions).norm() > MOVES {
                    let rank = (moves[a] && moves[b], b, a);
                    if best.is_none_or(|other| rank < other) {
                        best = Some(rank);
                    }
                }
            }
        }
        let Some((_, b, a)) = best else {
            return lacking;
        };
        distances.push(Distance {
            a,
            b,
            length_m: 0.0,
        });
        lacking.push((a, b));
    }
}

/// An orthonormal basis of the movements that change no distance, as columns.
fn loose(matrix: &DMatrix<f64>) -> DMatrix<f64> {
    let columns = matrix.ncols();
    if columns == 0 {
        return DMatrix::zeros(0, 0);
    }
    // The normal matrix is square, so that all its directions come out.
    let eigen = matrix.tr_mul(matrix).symmetric_eigen();
    let largest = eigen
        .eigenvalues
        .iter()
        .fold(0.0, |most: f64, v| most.max(*v));
    let still: Vec<usize> = (0..columns)
        .filter(|&i| eigen.eigenvalues[i] <= NOTHING * largest.max(f64::MIN_POSITIVE))
        .collect();
    eigen.eigenvectors.select_columns(still.iter())
}
