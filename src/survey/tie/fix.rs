//! The place of a shot from tapes to known corners, and how well they agree.
//!
//! Takes corners in metres with the length taped from each, gives one place, or two where the
//! tapes leave two. Two tapes are met in closed form, three or more adjusted by least squares.
//! The places of the corners are taken as exact. Knows no names.

use nalgebra::{Matrix2, SymmetricEigen, Vector2};

use super::circle::{Meeting, Plan, apart_m, left_of, meet};
use super::damping::{Damping, STILL_M};

/// A residual of more standard errors than this is spoken of: 1 in 370 by chance alone.
pub const DOUBTED: f64 = 3.0;
/// A residual of more standard errors than this is no chance: the place is not used.
pub const REFUSED: f64 = 6.0;
/// Circles that miss by no more standard errors of a tape than this are taken as touching; two
/// answers no farther apart are one.
pub(crate) const TOUCHING: f64 = 3.0;
/// A second answer counts if its sum of squares is larger by no more than this many squares of
/// the tape error: e to the minus 4.5, about 1 in 100.
pub(crate) const LIKELY: f64 = 9.0;
/// Two adjusted places closer than this are one, metres: far below any tape.
const SAME_M: f64 = 1e-6;
/// Starting answers that are followed; those of four tapes.
const MAX_STARTS: usize = 12;
/// Tapes of which all pairs give starting answers.
const MAX_PAIRED: usize = 8;
/// Steps of one adjustment; from an answer of two tapes it settles in about five.
const MAX_STEPS: usize = 60;

/// A tape from a corner of known place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tied {
    /// The corner, metres.
    pub corner: Plan,
    /// Level length taped, metres.
    pub length_m: f64,
}

/// The 1-sigma error ellipse of a place, from the error of the tapes alone.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Ellipse {
    /// Half the long axis, metres.
    pub semi_major_m: f64,
    /// Half the short axis, metres.
    pub semi_minor_m: f64,
    /// Unit vector along the long axis, east and north; the east part is not negative.
    pub along: [f64; 2],
}

impl Ellipse {
    /// From a matrix of variances, square metres; `None` unless it is finite.
    pub(crate) fn of(variance: Matrix2<f64>) -> Option<Ellipse> {
        if !variance.iter().all(|v| v.is_finite()) {
            return None;
        }
        let eigen = SymmetricEigen::new(variance);
        let long = usize::from(eigen.eigenvalues[1] > eigen.eigenvalues[0]);
        let axis = eigen.eigenvectors.column(long);
        let sign = if axis[0] < 0.0 { -1.0 } else { 1.0 };
        Some(Ellipse {
            semi_major_m: eigen.eigenvalues[long].max(0.0).sqrt(),
            semi_minor_m: eigen.eigenvalues[1 - long].max(0.0).sqrt(),
            along: [sign * axis[0], sign * axis[1]],
        })
    }
}

/// A place that tapes give.
#[derive(Clone, Debug, PartialEq)]
pub struct Fix {
    /// The place, metres.
    pub at: Plan,
    /// Distance from the place to each corner minus the tape, metres.
    pub residuals_m: Vec<f64>,
    /// Residuals over their own standard errors; zero where nothing checks a tape.
    pub standard: Vec<f64>,
    /// A priori; `None` where the tapes run along one line.
    pub ellipse: Option<Ellipse>,
    /// Sine of the angle at which the two tapes that cross best cross.
    pub sin_crossing: f64,
    /// How many times the error of a tape the error of the place is: the root of the sum of both
    /// squared semi axes over the tape error; 1.41 for two tapes that cross squarely.
    pub times_error: f64,
}

impl Fix {
    fn of(ties: &[Tied], at: Plan, sigma_m: f64) -> Fix {
        let units: Vec<Vector2<f64>> = ties.iter().map(|tie| unit(tie.corner, at)).collect();
        let normal: Matrix2<f64> = units.iter().map(|u| u * u.transpose()).sum();
        let inverse = normal.try_inverse();
        let residuals_m: Vec<f64> = ties.iter().map(|tie| residual_m(tie, at)).collect();
        let standard = residuals_m
            .iter()
            .zip(&units)
            .map(|(residual_m, u)| {
                let free = inverse.map_or(0.0, |q| 1.0 - (u.transpose() * q * u)[0]);
                standardised(*residual_m, free, sigma_m)
            })
            .collect();
        let mut sin_crossing: f64 = 0.0;
        for (i, u) in units.iter().enumerate() {
            for v in &units[..i] {
                sin_crossing = sin_crossing.max((u[0] * v[1] - u[1] * v[0]).abs());
            }
        }
        Fix {
            at,
            residuals_m,
            standard,
            ellipse: inverse.and_then(|q| Ellipse::of(q * sigma_m * sigma_m)),
            sin_crossing,
            times_error: inverse.map_or(f64::INFINITY, |q| q.trace().max(0.0).sqrt()),
        }
    }

    /// The largest residual in size, metres.
    pub fn largest_residual_m(&self) -> f64 {
        self.residuals_m
            .iter()
            .fold(0.0, |most: f64, r| most.max(r.abs()))
    }

    /// The largest residual over its standard error.
    pub fn worst(&self) -> f64 {
        self.standard.iter().fold(0.0, |most: f64, w| most.max(*w))
    }

    fn sum_of_squares(&self) -> f64 {
        self.residuals_m.iter().map(|r| r * r).sum()
    }
}

/// A residual over its standard error; `free` is the share of the tape's own error that shows.
pub(crate) fn standardised(residual_m: f64, free: f64, sigma_m: f64) -> f64 {
    // Less than a millionth of an error shows: nothing checks this tape.
    if free > 1e-6 {
        residual_m.abs() / (sigma_m * free.sqrt())
    } else {
        0.0
    }
}

/// Unit vector from a corner to a place.
fn unit(corner: Plan, at: Plan) -> Vector2<f64> {
    let away = Vector2::new(at[0] - corner[0], at[1] - corner[1]);
    away.try_normalize(0.0).unwrap_or_else(Vector2::x)
}

fn residual_m(tie: &Tied, at: Plan) -> f64 {
    apart_m(tie.corner, at) - tie.length_m
}

/// Tapes that meet nowhere.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Miss {
    /// Both tapes together are too short, metres.
    Apart(f64),
    /// One tape is too long for the other, metres.
    Inside(f64),
    /// All tapes come from one place.
    OneCorner,
}

/// The places that agree with the tapes: the best first, and a second one if it agrees as well.
///
/// For two tapes the first is left of the line from the first corner to the second.
///
/// # Units
///
/// metres; `sigma_m` is the error of one tape (1 sigma)
/// # Errors
///
/// fewer than two corners; two tapes whose circles miss by more than chance
/// # Source
///
/// two tapes: closed form; more: least squares of the lengths by Gauss and Newton, from every
/// answer of two tapes, so that a start on the wrong side of a line of corners cannot win
pub fn fixes(ties: &[Tied], sigma_m: f64) -> Result<Vec<Fix>, Miss> {
    let slack_m = TOUCHING * sigma_m;
    if let [a, b] = ties {
        let fix = |at| Fix::of(ties, at, sigma_m);
        return match meet(a.corner, a.length_m, b.corner, b.length_m, slack_m) {
            Meeting::Two(answers) => Ok(answers.map(fix).to_vec()),
            Meeting::Touch(at) => Ok(vec![fix(at)]),
            Meeting::Apart(by_m) => Err(Miss::Apart(by_m)),
            Meeting::Inside(by_m) => Err(Miss::Inside(by_m)),
            Meeting::OneCorner => Err(Miss::OneCorner),
        };
    }
    let mut starts: Vec<Plan> = Vec::new();
    for (i, a) in ties.iter().take(MAX_PAIRED).enumerate() {
        for b in &ties[..i] {
            match meet(b.corner, b.length_m, a.corner, a.length_m, f64::EPSILON) {
                Meeting::Two(answers) => starts.extend(answers),
                Meeting::Touch(at) => starts.push(at),
                Meeting::OneCorner => {}
                Meeting::Apart(_) | Meeting::Inside(_) => {
                    // Beside the line on both sides, so that neither is favoured.
                    let nearest = meet(b.corner, b.length_m, a.corner, a.length_m, f64::INFINITY);
                    if let Meeting::Touch([x, y]) = nearest {
                        let beside = unit(b.corner, a.corner) * slack_m;
                        starts.push([x - beside[1], y + beside[0]]);
                        starts.push([x + beside[1], y - beside[0]]);
                    }
                }
            }
        }
    }
    if starts.is_empty() {
        return Err(Miss::OneCorner);
    }
    let sum = |at: Plan| {
        ties.iter()
            .map(|tie| residual_m(tie, at).powi(2))
            .sum::<f64>()
    };
    if starts.len() > MAX_STARTS {
        starts.sort_by(|a, b| sum(*a).total_cmp(&sum(*b)));
        starts.truncate(MAX_STARTS);
    }
    let mut found: Vec<Fix> = Vec::new();
    for start in starts {
        let at = settle(ties, start);
        if found.iter().all(|fix| apart_m(fix.at, at) > SAME_M) {
            found.push(Fix::of(ties, at, sigma_m));
        }
    }
    found.sort_by(|a, b| a.sum_of_squares().total_cmp(&b.sum_of_squares()));
    let most = found[0].sum_of_squares() + LIKELY * sigma_m * sigma_m;
    let first = found[0].at;
    let mut kept = Vec::new();
    for (index, fix) in found.into_iter().enumerate() {
        let other = apart_m(fix.at, first) > slack_m && fix.sum_of_squares() <= most;
        if index == 0 || (other && kept.len() == 1) {
            kept.push(fix);
        }
    }
    Ok(kept)
}

/// Least squares from a start; a step that makes it worse is damped.
fn settle(ties: &[Tied], start: Plan) -> Plan {
    let sum = |at: Plan| {
        ties.iter()
            .map(|tie| residual_m(tie, at).powi(2))
            .sum::<f64>()
    };
    let (mut at, mut now) = (start, sum(start));
    let mut damping = Damping::default();
    for _ in 0..MAX_STEPS {
        let mut normal = Matrix2::identity() * damping.value();
        let mut right = Vector2::zeros();
        for tie in ties {
            let u = unit(tie.corner, at);
            normal += u * u.transpose();
            right -= u * residual_m(tie, at);
        }
        let step = normal.try_inverse().map(|inverse| inverse * right);
        let next = step.map(|step| [at[0] + step[0], at[1] + step[1]]);
        match next {
            Some(next) if sum(next) <= now || damping.is_last(apart_m(next, at)) => {
                let moved_m = apart_m(next, at);
                (at, now) = (next, sum(next));
                damping.ease();
                if moved_m < STILL_M {
                    break;
                }
            }
            _ if damping.raise() => {}
            _ => break,
        }
    }
    at
}

/// A tape that may be wrong.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Suspect {
    /// Its index.
    pub tie: usize,
    /// The length that agrees with all the others, metres.
    pub should_m: f64,
}

/// The tapes that could each, alone, be what keeps the rest from agreeing.
///
/// With three tapes each of them could; with four or more mostly one is left. A tape comes twice
/// if the others leave two answers, the length nearer to the one booked first.
pub fn suspects(ties: &[Tied], fix: &Fix, sigma_m: f64) -> Vec<Suspect> {
    if fix.worst() <= DOUBTED || ties.len() < 3 {
        return Vec::new();
    }
    let mut found = Vec::new();
    for (index, tie) in ties.iter().enumerate() {
        let others: Vec<Tied> = (0..ties.len())
            .filter(|&i| i != index)
            .map(|i| ties[i])
            .collect();
        let mut should: Vec<f64> = fixes(&others, sigma_m)
            .unwrap_or_default()
            .iter()
            .filter(|other| other.worst() <= DOUBTED)
            .map(|other| apart_m(tie.corner, other.at))
            .collect();
        should.sort_by(|a, b| {
            let off = |should_m: &f64| (should_m - tie.length_m).abs();
            off(a).total_cmp(&off(b))
        });
        found.extend(should.into_iter().map(|should_m| Suspect {
            tie: index,
            should_m,
        }));
    }
    found
}

/// The corner that would cross best with the tapes of a place, and how many times a tape's error
/// the place would then be off.
pub fn best_crossing(ties: &[Tied], at: Plan, corners: &[Plan]) -> Option<(usize, f64)> {
    let mut normal: Matrix2<f64> = Matrix2::zeros();
    for tie in ties {
        let u = unit(tie.corner, at);
        normal += u * u.transpose();
    }
    corners
        .iter()
        .enumerate()
        .filter(|(_, corner)| apart_m(**corner, at) > SAME_M)
        .filter_map(|(index, corner)| {
            let u = unit(*corner, at);
            let inverse = (normal + u * u.transpose()).try_inverse()?;
            Some((index, inverse.trace().max(0.0).sqrt()))
        })
        .min_by(|a, b| a.1.total_cmp(&b.1))
}

/// True if a place lies on that side of a line.
pub(crate) fn is_on_side(a: Plan, b: Plan, at: Plan, left: bool) -> bool {
    (left_of(a, b, at) > 0.0) == left
}
