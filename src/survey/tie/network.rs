//! Corners known by the distances between them.
//!
//! Takes corners, some with a place, and the distances taped between them; gives the places of
//! all by least squares, or says which distance or which side is missing. Knows no names.
//!
//! With no place given the first corner is at 0, 0; with one place given the direction to the
//! second corner is free and taken as told.

use super::circle::{Plan, apart_m};
use super::fix::{Ellipse, LIKELY, TOUCHING, Tied, fixes, is_on_side};
use super::least_squares::{farthest_m, finish, settle};
use super::rigid::{missing, random_places};

/// Most corners that are adjusted together: the work grows with the third power, 200 take a
/// third of a second.
pub const MAX_CORNERS: usize = 200;
/// Placements followed side by side while mirror images are open: six open corners.
const MAX_CANDIDATES: usize = 64;
/// Made-up placements tried where corners cannot be placed one after the other.
const MAX_TRIALS: u64 = 200;

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
    pub(super) start: Vec<Option<Plan>>,
    /// Directions in which each corner may move: none, one or two.
    pub(super) free: Vec<Vec<Plan>>,
}

impl Frame {
    /// True if nothing may move.
    pub(super) fn is_held(&self) -> bool {
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
