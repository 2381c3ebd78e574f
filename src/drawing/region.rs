//! Regions of a surface as rings, and the hatch that fills them.
//!
//! Takes facets chosen by a rule, gives rings in metres; takes rings on paper, gives lines and
//! dots inside. Knows no feature.

use crate::geom::twice_area_of;
use crate::surface::{self, Surface};

/// A ring of places, first not repeated.
pub(super) type Path = Vec<[f64; 2]>;

/// Rings round the facets that are taken, metres in the local frame.
///
/// Outer rings run counter-clockwise, rings round holes clockwise.
pub(super) fn rings(surface: &Surface, take: &dyn Fn(u32) -> bool) -> Vec<Path> {
    let lines = surface::borders(surface, take, &|n| n.is_none_or(|n| !take(n)));
    let place = |&v: &u32| {
        let p = surface.vertices()[v as usize].p;
        [p.x_m(), p.y_m()]
    };
    // A ring comes back to its start.
    lines
        .iter()
        .map(|line| line[..line.len() - 1].iter().map(place).collect())
        .collect()
}

/// Rings of one rule parted into areas: each an outer ring, then the holes in it.
pub(super) fn areas(rings: &[Path]) -> Vec<Vec<Path>> {
    let (outer, holes): (Vec<&Path>, Vec<&Path>) =
        rings.iter().partition(|ring| twice_area_of(ring) > 0.0);
    let mut areas: Vec<Vec<Path>> = outer.into_iter().map(|ring| vec![ring.clone()]).collect();
    for hole in holes {
        let Some(p) = inside(std::slice::from_ref(hole)) else {
            continue;
        };
        // A hole lies in the smallest area round it; an island in the hole is smaller than it.
        let size = twice_area_of(hole).abs();
        let round = areas
            .iter_mut()
            .filter(|area| twice_area_of(&area[0]) > size && is_inside(&area[0], p))
            .min_by(|a, b| twice_area_of(&a[0]).total_cmp(&twice_area_of(&b[0])));
        if let Some(area) = round {
            area.push(hole.clone());
        }
    }
    areas
}

/// True if a place lies inside a ring, by the even-odd rule.
pub(super) fn is_inside(ring: &[[f64; 2]], [x, y]: [f64; 2]) -> bool {
    let sides = ring.iter().zip(ring.iter().cycle().skip(1));
    let crossed = sides.filter(|(a, b)| {
        (a[1] > y) != (b[1] > y) && x < a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0])
    });
    crossed.count() % 2 == 1
}

/// Edges between two facets for which the rule gives different answers, metres.
pub(super) fn borders<K: PartialEq>(
    surface: &Surface,
    class: &dyn Fn(u32) -> Option<K>,
) -> Vec<[[f64; 2]; 2]> {
    let mut edges = Vec::new();
    for f in surface.facets() {
        let Some(own) = class(f) else { continue };
        let corners = surface.corners(f);
        for (k, n) in surface.neighbours(f).into_iter().enumerate() {
            if n != Surface::NONE && n > f && class(n).is_some_and(|other| other != own) {
                edges.push([corners[k].p, corners[(k + 1) % 3].p].map(|p| [p.x_m(), p.y_m()]));
            }
        }
    }
    edges
}

/// Stretches of lines `v = k * spacing` inside rings, by the even-odd rule, where `u` runs along
/// the direction given and `v` across it.
fn stretches(rings: &[Path], spacing: f64, [c, s]: [f64; 2]) -> Vec<(i64, f64, f64)> {
    let mut crossings: Vec<(i64, f64)> = Vec::new();
    for ring in rings {
        let n = ring.len();
        for k in 0..n {
            let [a, b] = [ring[k], ring[(k + 1) % n]]
                .map(|[x, y]| [x * c + y * s, (y * c - x * s) / spacing]);
            let (low, high) = if a[1] <= b[1] { (a, b) } else { (b, a) };
            // Half open: a corner on a line counts once.
            let mut line = low[1].ceil() as i64;
            while (line as f64) < high[1] {
                let t = (line as f64 - low[1]) / (high[1] - low[1]);
                crossings.push((line, low[0] + t * (high[0] - low[0])));
                line += 1;
            }
        }
    }
    crossings.sort_by(|x, y| x.0.cmp(&y.0).then(x.1.total_cmp(&y.1)));
    crossings
        .chunk_by(|x, y| x.0 == y.0)
        .flat_map(|line| line.chunks_exact(2))
        .map(|pair| (pair[0].0, pair[0].1, pair[1].1))
        .collect()
}

/// Shortest hatch line that is drawn, mm.
const SHORTEST_MM: f64 = 0.1;

/// Diagonal lines inside rings on paper.
///
/// # Input
///
/// `rising` for lines that rise to the right on paper (y down)
pub(super) fn hatch(rings: &[Path], spacing_mm: f64, rising: bool) -> Vec<[[f64; 2]; 2]> {
    let half = std::f64::consts::FRAC_1_SQRT_2;
    let [c, s] = [half, if rising { -half } else { half }];
    stretches(rings, spacing_mm, [c, s])
        .into_iter()
        .filter(|(_, from, to)| to - from >= SHORTEST_MM)
        .map(|(line, from, to)| {
            let v = line as f64 * spacing_mm;
            [from, to].map(|u| [u * c - v * s, u * s + v * c])
        })
        .collect()
}

/// Dots inside rings on paper, every second row shifted.
pub(super) fn dots(rings: &[Path], spacing_mm: f64) -> Vec<[f64; 2]> {
    let mut places = Vec::new();
    let row_mm = spacing_mm * 0.8;
    for (row, from, to) in stretches(rings, row_mm, [1.0, 0.0]) {
        let shift = if row.rem_euclid(2) == 0 { 0.0 } else { 0.5 };
        let mut k = (from / spacing_mm - shift).ceil();
        while (k + shift) * spacing_mm <= to {
            places.push([(k + shift) * spacing_mm, row as f64 * row_mm]);
            k += 1.0;
        }
    }
    places
}

/// A place well inside rings: the middle of the widest of several cuts across.
pub(super) fn inside(rings: &[Path]) -> Option<[f64; 2]> {
    const CUTS: f64 = 24.0;
    let ys = || rings.iter().flatten().map(|p| p[1]);
    let low = ys().fold(f64::INFINITY, f64::min);
    let high = ys().fold(f64::NEG_INFINITY, f64::max);
    if high <= low {
        return None;
    }
    let spacing = (high - low) / CUTS;
    let moved: Vec<Path> = rings
        .iter()
        .map(|r| r.iter().map(|[x, y]| [*x, y - low]).collect())
        .collect();
    let middle = CUTS / 2.0;
    stretches(&moved, spacing, [1.0, 0.0])
        .into_iter()
        // Wide, and not at the very top or bottom.
        .map(|(row, from, to)| {
            let off = (row as f64 - middle).abs() / middle;
            ((to - from) * (1.0 - 0.5 * off), row, (from + to) / 2.0)
        })
        .max_by(|x, y| x.0.total_cmp(&y.0).then(y.1.cmp(&x.1)))
        .map(|(_, row, x)| [x, row as f64 * spacing + low])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn holes_go_with_the_area_round_them() {
        let square = |low: f64, high: f64| vec![[low, low], [high, low], [high, high], [low, high]];
        let hole = |low: f64, high: f64| {
            let mut ring = square(low, high);
            ring.reverse();
            ring
        };
        // A ring of land with an island in its lake, a pond on the island, and land far off.
        let rings = [
            square(0.0, 10.0),
            hole(1.0, 9.0),
            square(2.0, 8.0),
            hole(4.0, 6.0),
            square(20.0, 30.0),
        ];
        assert_eq!(
            areas(&rings),
            [
                vec![square(0.0, 10.0), hole(1.0, 9.0)],
                vec![square(2.0, 8.0), hole(4.0, 6.0)],
                vec![square(20.0, 30.0)],
            ]
        );
    }

    #[test]
    fn hatch_keeps_to_the_rings() {
        let square = |low: f64, high: f64| vec![[low, low], [high, low], [high, high], [low, high]];
        let rings = [square(0.0, 10.0), square(4.0, 6.0)];
        let lines = hatch(&rings, 0.5, true);
        // Total length times spacing is the area, up to one line's share: 100 - 4.
        let length: f64 = lines
            .iter()
            .map(|[a, b]| (b[0] - a[0]).hypot(b[1] - a[1]))
            .sum();
        assert!((length * 0.5 - 96.0).abs() < 3.0, "{length}");
        for [a, b] in &lines {
            let middle = [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0];
            let in_hole = middle.iter().all(|c| *c > 4.0 && *c < 6.0);
            assert!(!in_hole, "{middle:?}");
            // Rising to the right with y down.
            assert!((b[0] - a[0]) * (b[1] - a[1]) < 0.0);
        }
        assert!(
            dots(&rings, 1.0)
                .iter()
                .all(|p| (0.0..=10.0).contains(&p[0]))
        );
        let at = inside(&rings).unwrap();
        assert!(at.iter().all(|c| *c > 0.0 && *c < 10.0));
        assert!(!at.iter().all(|c| *c > 4.0 && *c < 6.0));
    }
}
