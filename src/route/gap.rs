//! Gaps between obstacles: the narrowest that a way passes, and the one that closes it.

use super::obstacle::Bar;
use super::ways::{LEAST_WIDTH_M, Way, Ways};
use crate::geom::{Point, gap_between};

/// A gap between two obstacles, or two parts of one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Narrow {
    /// Clear width, metres, without the margins of the obstacles.
    pub clear_m: f64,
    /// Where it is narrowest: a place on each side.
    pub ends: [Point; 2],
    /// Numbers of the obstacles on both sides.
    pub obstacles: [usize; 2],
}

/// What closes a way.
#[derive(Clone, Debug, PartialEq)]
pub enum Blocked {
    /// There is no room at an end.
    End {
        /// True for the place it starts from.
        is_start: bool,
        /// The obstacle in the way there.
        obstacle: usize,
        /// How much nearer it is than it may be, metres.
        missing_m: f64,
    },
    /// A gap is too narrow: the widest way there is passes it.
    Gap {
        /// The gap.
        gap: Narrow,
        /// By how much it is too narrow, metres.
        missing_m: f64,
    },
    /// No gap at all. The obstacle that alone closes it, if one does.
    Closed(Option<usize>),
}

/// Gaps wider than so many times the way are not told.
const WIDE: f64 = 4.0;

/// Halvings in the search for the widest way: a width of a metre to a tenth of a millimetre.
const HALVINGS: usize = 13;

/// How near a way must come to the shortest connection of two obstacles to pass between them,
/// metres: its arcs are drawn with chords.
const PASSES_M: f64 = super::ways::CHORD_M;

/// The narrowest place a line passes.
pub(super) fn narrowest(ways: &Ways, line: &[Point]) -> Option<Narrow> {
    let path: Vec<[f64; 2]> = line.iter().map(|p| p.relative_m(ways.base)).collect();
    let reach = WIDE * ways.width_m;
    let near: Vec<&Bar> = ways
        .graph
        .pieces
        .bars()
        .iter()
        .filter(|bar| {
            let reach = reach + bar.keep_m - bar.half_m;
            let mut stretches = path.windows(2);
            stretches.any(|w| is_near([w[0], w[1]], bar.ends_m, reach))
        })
        .collect();
    let mut best: Option<Narrow> = None;
    let mut least = reach;
    for (k, one) in near.iter().enumerate() {
        for other in &near[k + 1..] {
            let margins = one.keep_m - one.half_m + other.keep_m - other.half_m;
            if !is_near(one.ends_m, other.ends_m, least + margins) {
                continue;
            }
            let gap = gap_between(one.ends_m, other.ends_m);
            let clear_m = gap.distance_m - margins;
            if clear_m >= least || gap.distance_m <= 0.0 {
                continue;
            }
            let mut stretches = path.windows(2);
            let passes = |w: &[[f64; 2]]| {
                let stretch = [w[0], w[1]];
                is_near(stretch, gap.ends_m, PASSES_M)
                    && gap_between(stretch, gap.ends_m).distance_m <= PASSES_M
            };
            if stretches.any(passes) {
                least = clear_m;
                best = Some(Narrow {
                    clear_m,
                    ends: gap.ends_m.map(|p| ways.point(p)),
                    obstacles: [one.obstacle, other.obstacle],
                });
            }
        }
    }
    best
}

/// False if boxes alone tell that two pieces are farther apart.
fn is_near([a, b]: [[f64; 2]; 2], [c, d]: [[f64; 2]; 2], reach: f64) -> bool {
    (0..2).all(|k| {
        a[k].min(b[k]) - reach <= c[k].max(d[k]) && c[k].min(d[k]) - reach <= a[k].max(b[k])
    })
}

/// Why there is no way: the widest there is, found by halving, tells the gap.
pub(super) fn why_blocked(ways: &Ways, from: &[Point], to: &[Point]) -> Blocked {
    for (is_start, places) in [(true, from), (false, to)] {
        let missing = places.iter().map(|&p| ways.in_the_way_at(p));
        // Room at one of them is enough.
        let least = missing.min_by(|a, b| {
            let missing = |m: &Option<(usize, f64)>| m.map_or(0.0, |m| m.1);
            missing(a).total_cmp(&missing(b))
        });
        if let Some(Some((obstacle, missing_m))) = least {
            return Blocked::End {
                is_start,
                obstacle,
                missing_m,
            };
        }
    }
    let passes = |width_m: f64| -> Option<Way> {
        let narrower = ways.at_width(width_m);
        narrower.passable(from, to)
    };
    let mut low = LEAST_WIDTH_M;
    let Some(mut widest) = passes(low) else {
        return Blocked::Closed(closed_by(ways, from, to));
    };
    let mut high = ways.width_m;
    for _ in 0..HALVINGS {
        let middle = (low + high) / 2.0;
        match passes(middle) {
            Some(way) => (low, widest) = (middle, way),
            None => high = middle,
        }
    }
    match narrowest(ways, &widest.line) {
        Some(gap) if gap.clear_m < ways.width_m => Blocked::Gap {
            missing_m: ways.width_m - gap.clear_m,
            gap,
        },
        _ => Blocked::Closed(None),
    }
}

/// The first obstacle without which there would be a way.
fn closed_by(ways: &Ways, from: &[Point], to: &[Point]) -> Option<usize> {
    (0..ways.obstacles.len()).find(|&k| {
        let mut others = ways.obstacles.clone();
        others.remove(k);
        let others = Ways::new(others, LEAST_WIDTH_M);
        others.passable(from, to).is_some()
    })
}
