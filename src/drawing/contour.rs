//! Contours: lines of one level over a surface.
//!
//! Takes a surface and levels, gives chained lines in metres. A level through a corner needs no
//! special case: a corner at the level counts as above it, so that every facet is crossed at two
//! edges or at none, and neighbours agree. Knows no ink.

use std::collections::BTreeSet;

use crate::show::Show;
use crate::surface::Surface;

/// A line of one level.
#[derive(Clone, Debug, PartialEq)]
pub struct Contour {
    /// The level, metres.
    pub level_m: f64,
    /// Places, metres in the local frame; the first is not repeated if the line is closed.
    pub points: Vec<[f64; 2]>,
    /// True if the line comes back to its start.
    pub closed: bool,
}

/// A corner closer to a level than this lies on it, metres: flat floors carry rounding.
const ON_LEVEL_M: f64 = 1.0e-6;

/// Contours of the facets that are taken, by level as given, then by the lowest facet.
///
/// # Accuracy
///
/// crossings by straight lines along edges, to rounding
/// # Cost      facets times levels that cross them
pub fn contours(surface: &Surface, levels_m: &[f64], take: &dyn Fn(u32) -> bool) -> Vec<Contour> {
    let mut by_level: Vec<Vec<u32>> = vec![Vec::new(); levels_m.len()];
    for f in surface.facets().filter(|&f| take(f)) {
        let z = surface.corners(f).map(|c| c.z);
        let (low, high) = (z[0].min(z[1]).min(z[2]), z[0].max(z[1]).max(z[2]));
        for (k, &level) in levels_m.iter().enumerate() {
            if low < level - ON_LEVEL_M && high >= level - ON_LEVEL_M {
                by_level[k].push(f);
            }
        }
    }
    let mut lines = Vec::new();
    for (facets, &level) in by_level.iter().zip(levels_m) {
        let mut left: BTreeSet<u32> = facets.iter().copied().collect();
        while let Some(&start) = left.first() {
            lines.push(trace(surface, level, start, &mut left));
        }
    }
    lines
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
    let t = if a.z == b.z {
        0.0
    } else {
        ((level - a.z) / (b.z - a.z)).clamp(0.0, 1.0)
    };
    let [dx, dy] = b.p.relative_m(a.p);
    [a.p.x_m() + t * dx, a.p.y_m() + t * dy]
}

fn trace(surface: &Surface, level: f64, start: u32, left: &mut BTreeSet<u32>) -> Contour {
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
    let mut points: Vec<[f64; 2]> = Vec::new();
    let mut add = |p: [f64; 2]| {
        if points.last() != Some(&p) {
            points.push(p);
        }
    };
    let mut at = first;
    while left.remove(&at) {
        let Some((enter, leave)) = crossing(surface, at, level) else {
            break;
        };
        if at == first {
            add(on_edge(surface, at, enter, level));
        }
        add(on_edge(surface, at, leave, level));
        at = surface.neighbours(at)[leave];
    }
    if closed && points.len() > 1 && points.first() == points.last() {
        points.pop();
    }
    Contour {
        level_m: level,
        points,
        closed,
    }
}

/// Most levels drawn; with more the lines would run together.
const MOST_LEVELS: f64 = 40.0;

/// The interval of contours for a fall, metres: 0.5 ft, 1 ft for more than 8 ft of fall, 3 in
/// for less than 2 ft; 0.1 m, 0.25 m for more than 2.5 m; larger where there would be too many.
pub fn contour_interval_m(show: Show, fall_m: f64) -> f64 {
    let unit = show.unit();
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
    use crate::units::LengthUnit;

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

    fn length(c: &Contour) -> f64 {
        let n = c.points.len();
        (0..n - usize::from(!c.closed))
            .map(|k| {
                let (a, b) = (c.points[k], c.points[(k + 1) % n]);
                (b[0] - a[0]).hypot(b[1] - a[1])
            })
            .sum()
    }

    #[test]
    fn a_pyramid_has_square_contours() {
        let surface = pyramid();
        // At half the height the square has half the side: 4 x 1.
        let half = contours(&surface, &[0.5], &|_| true);
        assert_eq!(half.len(), 1);
        assert!(half[0].closed);
        assert_eq!(half[0].points.len(), 4);
        assert!((length(&half[0]) - 4.0).abs() < 1.0e-12);
        // The high side lies to the left: counter-clockwise round a top.
        assert!(super::super::region::twice_area(&half[0].points) > 0.0);
        // Through the foot no line, through the tip a point.
        assert!(contours(&surface, &[0.0], &|_| true).is_empty());
        assert_eq!(contours(&surface, &[1.0], &|_| true)[0].points.len(), 1);
        // Half of the facets: the line ends at the border of what is taken.
        let part = contours(&surface, &[0.5], &|f| f < 2);
        assert_eq!(part.len(), 1);
        assert!(!part[0].closed);
        assert!((length(&part[0]) - 2.0).abs() < 1.0e-12);
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
        assert!((length(&lines[0]) - 3.0).abs() < 1.0e-12);
        assert!(lines[0].points.iter().all(|p| (p[1] - 1.0).abs() < 1.0e-12));
    }

    #[test]
    fn intervals_follow_the_fall() {
        let feet = Show::new(LengthUnit::Foot);
        let in_feet = |fall: f64| contour_interval_m(feet, fall * 0.3048) / 0.3048;
        for (fall, interval) in [
            (1.0, 0.25),
            (6.0, 0.5),
            (9.0, 1.0),
            (60.0, 2.0),
            (300.0, 10.0),
        ] {
            assert!((in_feet(fall) - interval).abs() < 1.0e-9, "{fall}");
        }
        let metres = Show::new(LengthUnit::Metre);
        assert_eq!(contour_interval_m(metres, 2.0), 0.1);
        assert_eq!(contour_interval_m(metres, 4.0), 0.25);
        assert_eq!(
            levels_between(0.9, 2.0, 0.5),
            [(2, 1.0), (3, 1.5), (4, 2.0)]
        );
    }
}
