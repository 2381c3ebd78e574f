//! Contours: lines of one level over a surface.
//!
//! Takes a surface and levels, gives chained lines in metres. A level through a corner needs no
//! special case: a corner at the level counts as above it, so that every facet is crossed at two
//! edges or at none, and neighbours agree. Knows no ink.

use std::collections::{BTreeMap, BTreeSet};

use super::surface::Surface;
use crate::geom::twice_area_of;
use crate::units::LengthUnit;

/// A line of one level.
#[derive(Clone, Debug, PartialEq)]
pub struct Contour {
    /// The level, metres.
    pub level_m: f64,
    /// Places, metres in the local frame, two or more; the first is not repeated if the line is
    /// closed. The higher side lies to the left.
    pub points: Vec<[f64; 2]>,
    /// True if the line comes back to its start; else it ends where the surface ends.
    pub closed: bool,
}

/// What a closed contour goes round.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Round {
    /// Higher ground.
    Top,
    /// Lower ground.
    Hollow,
}

impl Contour {
    /// Length in plan, metres.
    pub fn length_m(&self) -> f64 {
        let next = self.points.iter().skip(1);
        let next = next.chain(self.points.first().filter(|_| self.closed));
        self.points
            .iter()
            .zip(next)
            .map(|(a, b)| (b[0] - a[0]).hypot(b[1] - a[1]))
            .sum()
    }

    /// What lies inside a closed line; `None` if it is open.
    pub fn round(&self) -> Option<Round> {
        // The higher side lies to the left: inside if the line runs counter-clockwise.
        self.closed.then(|| {
            if twice_area_of(&self.points) > 0.0 {
                Round::Top
            } else {
                Round::Hollow
            }
        })
    }
}

/// A corner closer to a level than this lies on it, metres: flat floors carry rounding.
const ON_LEVEL_M: f64 = 1.0e-6;

/// Contours of the facets that are taken, by level as given, then by the lowest facet.
///
/// A level that only touches the surface, at the tip of a top or along a level ridge, gives no
/// line there; it does along the low edge of a level terrace.
///
/// # Input
///
/// levels ascending
/// # Accuracy
///
/// crossings by straight lines along edges, to rounding; a corner within a micrometre of a level
/// lies on it
/// # Cost
///
/// a facet costs one search of the levels and a little for each that crosses it
pub fn contours(surface: &Surface, levels_m: &[f64], take: &dyn Fn(u32) -> bool) -> Vec<Contour> {
    let mut by_level: Vec<Vec<u32>> = vec![Vec::new(); levels_m.len()];
    for f in surface.facets().filter(|&f| take(f)) {
        let [first, end] = crossed_by(surface, f, levels_m);
        for facets in by_level.iter_mut().take(end).skip(first) {
            facets.push(f);
        }
    }
    let mut lines = Vec::new();
    for (facets, &level) in by_level.iter().zip(levels_m) {
        let mut left: BTreeSet<u32> = facets.iter().copied().collect();
        let mut chains: Vec<Chain> = Vec::new();
        while let Some(&start) = left.first() {
            let (pieces, closed) = trace(surface, level, start, &mut left);
            chains.extend(without_touching(pieces, closed));
        }
        let whole = joined(&chains).into_iter();
        lines.extend(whole.map(|points| finished(points, level)));
    }
    lines
}

/// How many straight pieces contours at these levels have, one for each facet that each level
/// crosses; to be asked before they are traced.
///
/// # Input
///
/// levels ascending
pub fn contour_pieces(surface: &Surface, levels_m: &[f64]) -> usize {
    surface
        .facets()
        .map(|f| {
            let [first, end] = crossed_by(surface, f, levels_m);
            end - first
        })
        .sum()
}

/// First and end of the levels that cross a facet.
fn crossed_by(surface: &Surface, facet: u32, levels_m: &[f64]) -> [usize; 2] {
    let z = surface.corners(facet).map(|c| c.z);
    let (low, high) = (z[0].min(z[1]).min(z[2]), z[0].max(z[1]).max(z[2]));
    [low, high].map(|z| levels_m.partition_point(|&level| level - ON_LEVEL_M <= z))
}

/// Edges of a facet at which a level enters and leaves, the high side to the left.
fn crossing(surface: &Surface, facet: u32, level: f64) -> Option<(usize, usize)> {
    let above = surface.corners(facet).map(|c| c.z >= level - ON_LEVEL_M);
    // Counter-clockwise round the facet, the level leaves where it goes from below to above.
    let enter = (0..3).find(|&k| above[k] && !above[(k + 1) % 3])?;
    let leave = (0..3).find(|&k| !above[k] && above[(k + 1) % 3])?;
    Some((enter, leave))
}

/// The place on an edge at a level, the same from both of its facets.
fn on_edge(surface: &Surface, facet: u32, edge: usize, level: f64) -> [f64; 2] {
    let v = surface.vertex_ids(facet);
    let (a, b) = (v[edge], v[(edge + 1) % 3]);
    let [a, b] = [a.min(b), a.max(b)].map(|v| surface.vertices()[v as usize]);
    // On a corner exactly, so that lines through it agree to the last bit.
    for end in [a, b] {
        if (level - end.z).abs() <= ON_LEVEL_M {
            return [end.p.x_m(), end.p.y_m()];
        }
    }
    // The ends lie on two sides of the level, each farther from it than that.
    let t = (level - a.z) / (b.z - a.z);
    let [dx, dy] = b.p.relative_m(a.p);
    [a.p.x_m() + t * dx, a.p.y_m() + t * dy]
}

/// A straight piece of a contour over one facet.
struct Piece {
    ends: [[f64; 2]; 2],
    /// True along a level ridge or a level edge of the surface: nothing there is higher.
    touches: bool,
}

/// Places of a line; the first is repeated at the end if the line is closed.
type Chain = Vec<[f64; 2]>;

/// Pieces from the first facet of a line on, and whether it comes back to it.
fn trace(
    surface: &Surface,
    level: f64,
    start: u32,
    left: &mut BTreeSet<u32>,
) -> (Vec<Piece>, bool) {
    // Back to the first facet of the line, or round to the start.
    let mut first = start;
    let mut closed = false;
    while let Some((enter, _)) = crossing(surface, first, level) {
        let before = surface.neighbours(first)[enter];
        if before == Surface::NONE || !left.contains(&before) {
            break;
        }
        first = before;
        if first == start {
            closed = true;
            break;
        }
    }
    let mut pieces = Vec::new();
    let mut at = first;
    while left.remove(&at) {
        let Some((enter, leave)) = crossing(surface, at, level) else {
            break;
        };
        let ends = [enter, leave].map(|edge| on_edge(surface, at, edge, level));
        // Past a corner that just reaches the level the line does not move.
        if ends[0] != ends[1] {
            pieces.push(Piece {
                ends,
                touches: touches(surface, at, level),
            });
        }
        at = surface.neighbours(at)[leave];
    }
    (pieces, closed)
}

/// True if a facet below a level has an edge on it, and what lies across is no higher.
fn touches(surface: &Surface, facet: u32, level: f64) -> bool {
    let z = surface.corners(facet).map(|c| c.z);
    let is_on = |z: f64| (z - level).abs() <= ON_LEVEL_M;
    let Some(edge) = (0..3).find(|&k| is_on(z[k]) && is_on(z[(k + 1) % 3])) else {
        return false;
    };
    let across = surface.neighbours(facet)[edge];
    let ends = surface.vertex_ids(facet);
    let is_end = |v: &u32| *v == ends[edge] || *v == ends[(edge + 1) % 3];
    z[(edge + 2) % 3] < level
        && (across == Surface::NONE
            || surface
                .vertex_ids(across)
                .iter()
                .filter(|v| !is_end(v))
                .all(|&v| surface.vertices()[v as usize].z < level - ON_LEVEL_M))
}

/// Chains of the pieces that do not merely touch; those that meet where a ridge was left out
/// are one.
fn without_touching(mut pieces: Vec<Piece>, closed: bool) -> Vec<Chain> {
    if closed && let Some(ridge) = pieces.iter().position(|piece| piece.touches) {
        pieces.rotate_left(ridge);
    }
    let mut chains: Vec<Chain> = Vec::new();
    for run in pieces.chunk_by(|a, b| a.touches == b.touches) {
        if run[0].touches {
            continue;
        }
        let mut chain = vec![run[0].ends[0]];
        chain.extend(run.iter().map(|piece| piece.ends[1]));
        chains.push(chain);
    }
    chains
}

/// Open chains joined where one ends and another starts, in the order of the first of each.
fn joined(chains: &[Chain]) -> Vec<Chain> {
    let is_open = |chain: &Chain| chain.first() != chain.last();
    let key = |p: Option<&[f64; 2]>| p.map(|p| p.map(f64::to_bits));
    let (mut by_start, mut by_end) = (BTreeMap::new(), BTreeMap::new());
    for (k, chain) in chains.iter().enumerate().filter(|(_, c)| is_open(c)) {
        let starts: &mut Vec<usize> = by_start.entry(key(chain.first())).or_default();
        starts.push(k);
        let ends: &mut Vec<usize> = by_end.entry(key(chain.last())).or_default();
        ends.push(k);
    }
    let mut is_used = vec![false; chains.len()];
    let mut whole = Vec::new();
    for (k, chain) in chains.iter().enumerate() {
        if std::mem::replace(&mut is_used[k], true) {
            continue;
        }
        let mut line = chain.clone();
        let mut unused = |at: Option<&Vec<usize>>| {
            let next = at?.iter().copied().find(|&k| !is_used[k])?;
            is_used[next] = true;
            Some(&chains[next])
        };
        while is_open(&line)
            && let Some(next) = unused(by_start.get(&key(line.last())))
        {
            line.extend_from_slice(&next[1..]);
        }
        while is_open(&line)
            && let Some(before) = unused(by_end.get(&key(line.first())))
        {
            let after = std::mem::replace(&mut line, before.clone());
            line.extend_from_slice(&after[1..]);
        }
        whole.push(line);
    }
    whole
}

fn finished(mut points: Chain, level_m: f64) -> Contour {
    let closed = points.first() == points.last();
    if closed {
        points.pop();
    }
    Contour {
        level_m,
        points,
        closed,
    }
}

/// Most levels of an interval nobody asked for; with more the lines would run together.
const MOST_LEVELS: f64 = 40.0;

/// The usual interval of contours for a fall, metres: 0.5 ft, 1 ft for more than 8 ft of fall,
/// 3 in for less than 2 ft; 0.1 m, 0.25 m for more than 2.5 m; larger where there would be too
/// many levels. Common practice, no source.
pub fn contour_interval_m(unit: LengthUnit, fall_m: f64) -> f64 {
    let fall = unit.from_m(fall_m);
    let mut steps: Vec<f64> = if unit.is_foot() {
        match fall {
            f if f < 2.0 => vec![0.25, 0.5, 1.0, 2.0],
            f if f <= 8.0 => vec![0.5, 1.0, 2.0],
            _ => vec![1.0, 2.0],
        }
    } else if fall <= 2.5 {
        vec![0.1, 0.25, 0.5, 1.0, 2.0]
    } else {
        vec![0.25, 0.5, 1.0, 2.0]
    };
    for power in 0..9 {
        steps.extend([5.0, 10.0, 20.0].map(|s| s * 10f64.powi(power)));
    }
    let step = steps
        .into_iter()
        .find(|step| fall / step <= MOST_LEVELS)
        .unwrap_or(fall);
    unit.to_m(step)
}

/// Whole multiples of an interval between two levels, with their numbers.
pub fn levels_between(low_m: f64, high_m: f64, interval_m: f64) -> Vec<(i64, f64)> {
    let (first, last) = (
        (low_m / interval_m).floor() as i64,
        (high_m / interval_m).ceil() as i64,
    );
    (first..=last)
        .map(|k| (k, k as f64 * interval_m))
        .filter(|(_, level)| *level > low_m && *level <= high_m)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::{P3, Point};

    fn vertex(x: f64, y: f64, z: f64) -> P3 {
        P3 {
            p: Point::from_m(x, y),
            z,
        }
    }

    /// A pyramid of height 1 over a square of side 2.
    fn pyramid() -> Surface {
        let vertices = vec![
            vertex(0.0, 0.0, 0.0),
            vertex(2.0, 0.0, 0.0),
            vertex(2.0, 2.0, 0.0),
            vertex(0.0, 2.0, 0.0),
            vertex(1.0, 1.0, 1.0),
        ];
        let triangles = [[0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4]];
        Surface::from_triangles(vertices, &triangles, 0).unwrap()
    }

    #[test]
    fn a_pyramid_has_square_contours() {
        let surface = pyramid();
        // At half the height the square has half the side: 4 x 1.
        let half = contours(&surface, &[0.5], &|_| true);
        assert_eq!(half.len(), 1);
        assert!(half[0].closed);
        assert_eq!(half[0].points.len(), 4);
        assert!((half[0].length_m() - 4.0).abs() < 1.0e-12);
        // The high side lies to the left: counter-clockwise round a top.
        assert_eq!(half[0].round(), Some(Round::Top));
        // Through the foot and through the tip no line.
        assert!(contours(&surface, &[0.0, 1.0], &|_| true).is_empty());
        assert_eq!(contour_pieces(&surface, &[0.25, 0.5]), 8);
        // Half of the facets: the line ends at the border of what is taken.
        let part = contours(&surface, &[0.5], &|f| f < 2);
        assert_eq!(part.len(), 1);
        assert!(!part[0].closed);
        assert!((part[0].length_m() - 2.0).abs() < 1.0e-12);
    }

    #[test]
    fn a_level_through_corners_gives_one_unbroken_line() {
        // A tilted grid whose middle row lies on the level.
        let mut vertices = Vec::new();
        for j in 0..3 {
            for i in 0..4 {
                vertices.push(vertex(f64::from(i), f64::from(j), f64::from(j)));
            }
        }
        let mut triangles = Vec::new();
        for j in 0..2u32 {
            for i in 0..3u32 {
                let a = j * 4 + i;
                triangles.push([a, a + 1, a + 5]);
                triangles.push([a, a + 5, a + 4]);
            }
        }
        let surface = Surface::from_triangles(vertices, &triangles, 0).unwrap();
        let lines = contours(&surface, &[1.0], &|_| true);
        assert_eq!(lines.len(), 1, "{lines:?}");
        assert!((lines[0].length_m() - 3.0).abs() < 1.0e-12);
        assert!(lines[0].points.iter().all(|p| (p[1] - 1.0).abs() < 1.0e-12));
    }

    #[test]
    fn intervals_follow_the_fall() {
        let in_feet = |fall: f64| contour_interval_m(LengthUnit::Foot, fall * 0.3048) / 0.3048;
        for (fall, interval) in [
            (1.0, 0.25),
            (6.0, 0.5),
            (9.0, 1.0),
            (60.0, 2.0),
            (300.0, 10.0),
        ] {
            assert!((in_feet(fall) - interval).abs() < 1.0e-9, "{fall}");
        }
        assert_eq!(contour_interval_m(LengthUnit::Metre, 2.0), 0.1);
        assert_eq!(contour_interval_m(LengthUnit::Metre, 4.0), 0.25);
        assert_eq!(
            levels_between(0.9, 2.0, 0.5),
            [(2, 1.0), (3, 1.5), (4, 2.0)]
        );
    }
}
