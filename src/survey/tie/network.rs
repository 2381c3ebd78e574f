//! Corners known by the distances between them.
//!
//! Takes corners, some with a place, and the distances taped between them; gives the places of
//! all by least squares, or says which distance or which side is missing. Knows no names.
//!
//! With no place given the first corner is at 0, 0; with one place given the direction to the
//! second corner is free and taken as told.

use nalgebra::{DMatrix, DVector, Matrix2};

use super::circle::{Plan, apart_m};
use super::fix::{
    DOUBTED, Ellipse, LIKELY, TOUCHING, Tied, eased, fixes, is_last, is_on_side, standardised,
};
use super::rigid::{missing, random_places};

/// Most corners that are adjusted together: the work grows with the third power, 200 take a
/// third of a second.
pub const MAX_CORNERS: usize = 200;
/// Placements followed side by side while mirror images are open: six open corners.
const MAX_CANDIDATES: usize = 64;
/// Made-up placements tried where corners cannot be placed one after the other.
const MAX_TRIALS: u64 = 200;
/// Steps of one adjustment.
const MAX_STEPS: usize = 200;
/// Distances of which each is left out in turn to find a wrong one.
const MAX_LEFT_OUT: usize = 60;

/// A distance taped between two corners.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Distance {
    /// One corner, by index.
    pub a: usize,
    /// The other.
    pub b: usize,
    /// Level length, metres.
    pub length_m: f64,
}

/// On which side of the line from one corner to another a corner lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Beside {
    /// Where the line begins.
    pub from: usize,
    /// Where it ends.
    pub to: usize,
    /// True for left, looking from the first to the second.
    pub left: bool,
}

/// Corners and what was taped between them.
#[derive(Clone, Debug, Default)]
pub struct Network {
    /// The place of each corner, if it is given, metres.
    pub given: Vec<Option<Plan>>,
    /// Distances.
    pub distances: Vec<Distance>,
    /// The side of each corner, if it is given.
    pub sides: Vec<Option<Beside>>,
    /// Unit vector from the corner everything hangs on to the next one, where only one place is
    /// given or none.
    pub toward: Plan,
    /// Error of one tape (1 sigma), metres.
    pub sigma_m: f64,
}

/// What keeps corners from being placed.
#[derive(Clone, Debug, PartialEq)]
pub enum NetworkFault {
    /// Distances that are missing, by corners.
    Missing(Vec<(usize, usize)>),
    /// These corners may lie on either side.
    EitherSide(Vec<usize>),
    /// The distances to this corner meet nowhere.
    Nowhere(usize),
    /// More corners than [`MAX_CORNERS`].
    TooMany,
}

/// A distance that does not agree with the others.
#[derive(Clone, Debug, PartialEq)]
pub struct WrongDistance {
    /// Index of the distance with the largest residual.
    pub worst: usize,
    /// Its residual over its standard error.
    pub standard: f64,
    /// The distances that, left out alone, let all others agree, with the length they should
    /// have, metres.
    pub suspects: Vec<(usize, f64)>,
}

/// Adjusted corners.
#[derive(Clone, Debug, PartialEq)]
pub struct Adjusted {
    /// The places, metres.
    pub places: Vec<Plan>,
    /// Their error ellipses against the corners everything hangs on; `None` for those.
    pub ellipses: Vec<Option<Ellipse>>,
    /// Distance between the places minus the tape, metres.
    pub residuals_m: Vec<f64>,
    /// A distance that does not agree, if there is one.
    pub wrong: Option<WrongDistance>,
}

/// What of a network is held and what may move.
pub(super) struct Frame {
    /// Held places; those that turn about the first carry their direction.
    start: Vec<Option<Plan>>,
    /// Directions in which each corner may move: none, one or two.
    pub(super) free: Vec<Vec<Plan>>,
}

impl Frame {
    /// True if nothing may move.
    fn is_held(&self) -> bool {
        self.free.iter().all(Vec::is_empty)
    }
}

impl Network {
    /// Number of corners.
    fn len(&self) -> usize {
        self.given.len()
    }

    /// Distances that end at a corner, with the corner at their other end.
    fn at(&self, corner: usize) -> impl Iterator<Item = (usize, f64)> + '_ {
        self.distances.iter().filter_map(move |d| match corner {
            c if c == d.a => Some((d.b, d.length_m)),
            c if c == d.b => Some((d.a, d.length_m)),
            _ => None,
        })
    }

    /// Holds what is given, and takes away the freedom to move and turn as a whole.
    pub(super) fn frame(&self) -> Frame {
        let mut start = self.given.clone();
        let mut free: Vec<Vec<Plan>> = start
            .iter()
            .map(|place| match place {
                Some(_) => Vec::new(),
                None => vec![[1.0, 0.0], [0.0, 1.0]],
            })
            .collect();
        if start.iter().flatten().count() == 0 && !start.is_empty() {
            start[0] = Some([0.0, 0.0]);
            free[0].clear();
        }
        if start.iter().flatten().count() == 1
            && let Some(first) = start.iter().position(Option::is_some)
            && let Some((second, length_m)) = self.at(first).min_by_key(|(other, _)| *other)
            && let Some([x, y]) = start[first]
        {
            let [east, north] = self.toward;
            start[second] = Some([x + east * length_m, y + north * length_m]);
            free[second] = vec![[east, north]];
        }
        Frame { start, free }
    }

    /// The corner that the second corner hangs on, and that second corner, where only one place
    /// is given or none.
    pub fn first_line(&self) -> Option<(usize, usize)> {
        let frame = self.frame();
        let second = frame.free.iter().position(|free| free.len() == 1)?;
        let first = frame.free.iter().position(Vec::is_empty)?;
        Some((first, second))
    }

    fn sum_of_squares(&self, places: &[Plan]) -> f64 {
        self.distances
            .iter()
            .map(|d| (apart_m(places[d.a], places[d.b]) - d.length_m).powi(2))
            .sum()
    }

    /// True if every corner whose side is told lies there.
    fn sides_hold(&self, places: &[Plan]) -> bool {
        self.sides.iter().enumerate().all(|(corner, side)| {
            side.is_none_or(|s| is_on_side(places[s.from], places[s.to], places[corner], s.left))
        })
    }
}

/// Places all corners.
///
/// # Units
///
/// metres
/// # Errors
///
/// [`NetworkFault`]
/// # Source
///
/// whether the distances are enough: the rank of the rigidity matrix at a generic placement
/// (Hendrickson, "Conditions for unique graph realizations", 1992; from memory). Places: one
/// after the other from two or more placed corners, every mirror image followed; then all
/// distances together by least squares (Gauss and Newton).
pub fn adjust_corners(network: &Network) -> Result<Adjusted, NetworkFault> {
    if network.len() > MAX_CORNERS {
        return Err(NetworkFault::TooMany);
    }
    let lacking = missing(network);
    if !lacking.is_empty() {
        return Err(NetworkFault::Missing(lacking));
    }
    let frame = network.frame();
    let mut settled: Vec<(f64, Vec<Plan>)> = Vec::new();
    for start in candidates(network, &frame)? {
        let places = settle(&frame, &network.distances, start);
        let same = |other: &Vec<Plan>| farthest_m(other, &places) <= TOUCHING * network.sigma_m;
        if !settled.iter().any(|(_, other)| same(other)) {
            settled.push((network.sum_of_squares(&places), places));
        }
    }
    settled.sort_by(|a, b| a.0.total_cmp(&b.0));
    let as_told = settled.iter().any(|(_, places)| network.sides_hold(places));
    settled.retain(|(_, places)| !as_told || network.sides_hold(places));
    let Some((least, places)) = settled.first().cloned() else {
        return Err(NetworkFault::Nowhere(0));
    };
    let most = least + LIKELY * network.sigma_m * network.sigma_m;
    if let Some((_, other)) = settled.get(1).filter(|(sum, _)| *sum <= most) {
        let differ: Vec<usize> = (0..network.len())
            .filter(|&i| apart_m(other[i], places[i]) > TOUCHING * network.sigma_m)
            .collect();
        return Err(NetworkFault::EitherSide(differ));
    }
    Ok(finish(network, &frame, places))
}

/// Placements to start from: every mirror image that the distances leave open.
fn candidates(network: &Network, frame: &Frame) -> Result<Vec<Vec<Plan>>, NetworkFault> {
    let count = network.len();
    let mut is_placed: Vec<bool> = frame.start.iter().map(Option::is_some).collect();
    let begin: Vec<Plan> = frame.start.iter().map(|p| p.unwrap_or_default()).collect();
    let mut open = vec![begin];
    loop {
        let ties_of = |corner: usize| {
            let placed = network.at(corner).filter(|(other, _)| is_placed[*other]);
            let mut ends: Vec<usize> = placed.map(|(other, _)| other).collect();
            ends.sort_unstable();
            ends.dedup();
            ends.len()
        };
        let next = (0..count)
            .filter(|&corner| !is_placed[corner] && ties_of(corner) >= 2)
            .max_by_key(|&corner| (ties_of(corner), std::cmp::Reverse(corner)));
        let Some(corner) = next else {
            break;
        };
        let mut grown = Vec::new();
        for places in &open {
            let ties: Vec<Tied> = network
                .at(corner)
                .filter(|(other, _)| is_placed[*other])
                .map(|(other, length_m)| Tied {
                    corner: places[other],
                    length_m,
                })
                .collect();
            let mut answers: Vec<Plan> = fixes(&ties, network.sigma_m)
                .unwrap_or_default()
                .iter()
                .map(|fix| fix.at)
                .collect();
            if let Some(s) = network.sides[corner].filter(|s| is_placed[s.from] && is_placed[s.to])
            {
                let told = |at: &Plan| is_on_side(places[s.from], places[s.to], *at, s.left);
                if answers.iter().any(told) {
                    answers.retain(told);
                }
            }
            for at in answers {
                let mut more = places.clone();
                more[corner] = at;
                grown.push(more);
            }
        }
        if grown.is_empty() {
            return Err(NetworkFault::Nowhere(corner));
        }
        is_placed[corner] = true;
        if grown.len() > MAX_CANDIDATES {
            let sum = |places: &Vec<Plan>| -> f64 {
                let placed = network
                    .distances
                    .iter()
                    .filter(|d| is_placed[d.a] && is_placed[d.b]);
                placed
                    .map(|d| (apart_m(places[d.a], places[d.b]) - d.length_m).powi(2))
                    .sum()
            };
            grown.sort_by(|a, b| sum(a).total_cmp(&sum(b)));
            grown.truncate(MAX_CANDIDATES);
        }
        open = grown;
    }
    if is_placed.iter().all(|placed| *placed) {
        return Ok(open);
    }
    // Enough distances, but no corner hangs on two placed ones: made-up placements, adjusted.
    let reach_m = network
        .distances
        .iter()
        .fold(0.0, |most: f64, d| most.max(d.length_m));
    let mut trials = Vec::new();
    for seed in 1..=MAX_TRIALS {
        let made_up = random_places(count, seed);
        for places in open.iter().take(4) {
            let middle = (0..count)
                .find(|&i| is_placed[i])
                .map_or([0.0; 2], |i| places[i]);
            let mut trial = places.clone();
            for corner in (0..count).filter(|&i| !is_placed[i]) {
                let [x, y] = made_up[corner];
                trial[corner] = [middle[0] + x * 2.0 * reach_m, middle[1] + y * 2.0 * reach_m];
            }
            trials.push(trial);
        }
    }
    Ok(trials)
}

/// The farthest that a corner moves between two placements, metres.
fn farthest_m(a: &[Plan], b: &[Plan]) -> f64 {
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
fn settle(frame: &Frame, distances: &[Distance], start: Vec<Plan>) -> Vec<Plan> {
    let sum = |places: &[Plan]| -> f64 {
        distances
            .iter()
            .map(|d| (apart_m(places[d.a], places[d.b]) - d.length_m).powi(2))
            .sum()
    };
    let (mut places, mut damping) = (start, 0.0);
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
            normal[(i, i)] += damping;
        }
        let step = normal
            .cholesky()
            .map(|c| c.solve(&jacobian.tr_mul(&residuals)));
        let next = step.map(|step| moved(&places, &frame.free, &step));
        match next {
            Some(next) if sum(&next) <= now || is_last(damping, farthest_m(&next, &places)) => {
                let by_m = farthest_m(&next, &places);
                places = next;
                now = sum(&places);
                damping = eased(damping);
                if by_m < 1e-13 {
                    break;
                }
            }
            _ if damping > 1e6 => break,
            _ => damping = (damping * 10.0).max(1e-3),
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
fn finish(network: &Network, frame: &Frame, places: Vec<Plan>) -> Adjusted {
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
