//! Heights far from those of the whole yard.
//!
//! In a small survey hardly a shot has neighbours all round, and lines part the rest: what
//! neighbours say cannot be asked. A decimal point in the wrong place stands out all the same.

use crate::geom::P3;

use super::Looked;
use super::plane::best_plane;

/// Fewest shots that tell what is usual in a yard.
const FEWEST: usize = 6;

/// A shot this many times the usual distance off the plane of the yard is gross, and at least so
/// far, metres: 5 ft, above any wall or bank that a small yard is measured over without a line.
const TIMES: f64 = 8.0;
const LEAST_M: f64 = 5.0 * 0.3048;

/// Rounds of weighing anew.
const ROUNDS: usize = 30;

/// Shots nearer to the plane than this weigh alike, metres.
const ALIKE_M: f64 = 0.01;

/// A median distance from the plane in standard deviations of a normal distribution.
const MEDIAN_TO_SIGMA: f64 = 1.4826;

/// A shot far off the plane of the yard.
pub(super) struct Gross {
    pub vertex: u32,
    /// Above the plane, metres.
    pub off_m: f64,
    /// Height of the plane there, metres.
    pub says_m: f64,
    /// Usual distance of a shot from the plane, metres.
    pub usual_m: f64,
}

/// Shots far off the plane of least absolute distances, worst first.
///
/// # Source
///
/// least absolute deviations by least squares weighed anew: E. J. Schlossmacher, "An iterative
/// technique for absolute deviations curve fitting", JASA 68 (1973), 857-859 (from memory)
pub(super) fn look(looked: &Looked) -> Vec<Gross> {
    let places: &[P3] = looked.shot_places();
    if places.len() < FEWEST {
        return Vec::new();
    }
    let mut plane = best_plane(places, |_| 1.0);
    for _ in 0..ROUNDS {
        let off: Vec<f64> = places.iter().map(|v| v.z - plane.z_at(v.p)).collect();
        plane = best_plane(places, |k| 1.0 / off[k].abs().max(ALIKE_M));
    }
    let off = |v: &P3| v.z - plane.z_at(v.p);
    let mut sizes: Vec<f64> = places.iter().map(|v| off(v).abs()).collect();
    let middle = sizes.len() / 2;
    let usual_m = MEDIAN_TO_SIGMA * *sizes.select_nth_unstable_by(middle, f64::total_cmp).1;
    let mut gross: Vec<Gross> = (0u32..)
        .zip(places)
        .map(|(vertex, place)| Gross {
            vertex,
            off_m: off(place),
            says_m: plane.z_at(place.p),
            usual_m,
        })
        .filter(|g| g.off_m.abs() > (TIMES * usual_m).max(LEAST_M))
        .collect();
    gross.sort_by(|a, b| {
        b.off_m
            .abs()
            .total_cmp(&a.off_m.abs())
            .then(a.vertex.cmp(&b.vertex))
    });
    gross
}
