//! Lines along the edges where one kind of facet ends and another begins.
//!
//! Takes facets told apart by a rule, gives lines and areas as vertices of the surface. Knows no
//! ink.

use std::collections::BTreeMap;

use super::surface::Surface;

/// Lines with a facet that is taken to the left and, to the right, a facet that is beyond, or
/// `None` for the end of the surface. A line that comes back to its start has its first vertex
/// again at its end.
///
/// # Cost
///
/// O(n) for n facets, and a logarithm of the edges found for each of them
pub fn borders(
    surface: &Surface,
    take: &dyn Fn(u32) -> bool,
    is_beyond: &dyn Fn(Option<u32>) -> bool,
) -> Vec<Vec<u32>> {
    chained(surface, surface.facets().filter(|&f| take(f)), is_beyond)
}

/// Facets that hang together by edges, each area as its rings: the outer one counter-clockwise
/// and first, then clockwise those round its holes. First and last vertex of a ring are the same.
///
/// # Cost
///
/// as [`borders`]
pub fn areas(surface: &Surface, take: &dyn Fn(u32) -> bool) -> Vec<Vec<Vec<u32>>> {
    let mut area_of = vec![Surface::NONE; surface.facet_slots()];
    let mut areas = Vec::new();
    for start in surface.facets().filter(|&f| take(f)) {
        if area_of[start as usize] != Surface::NONE {
            continue;
        }
        let number = areas.len() as u32;
        area_of[start as usize] = number;
        let mut facets = vec![start];
        let mut looked_at = 0;
        while let Some(&f) = facets.get(looked_at) {
            looked_at += 1;
            for n in surface.neighbours(f) {
                if n != Surface::NONE && take(n) && area_of[n as usize] == Surface::NONE {
                    area_of[n as usize] = number;
                    facets.push(n);
                }
            }
        }
        let is_beyond = |n: Option<u32>| n.is_none_or(|n| area_of[n as usize] != number);
        let mut rings = chained(surface, facets.into_iter(), &is_beyond);
        // One ring goes round them all and has the largest area.
        rings.sort_by_cached_key(|ring| std::cmp::Reverse(twice_area_nm2(surface, ring)));
        areas.push(rings);
    }
    areas
}

/// Edges of facets with something beyond, joined end to end.
fn chained(
    surface: &Surface,
    facets: impl Iterator<Item = u32>,
    is_beyond: &dyn Fn(Option<u32>) -> bool,
) -> Vec<Vec<u32>> {
    let mut next: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    // How many more lines leave a vertex than reach it.
    let mut surplus: BTreeMap<u32, i32> = BTreeMap::new();
    for f in facets {
        let (v, n) = (surface.vertex_ids(f), surface.neighbours(f));
        for k in 0..3 {
            if is_beyond((n[k] != Surface::NONE).then_some(n[k])) {
                let (from, to) = (v[k], v[(k + 1) % 3]);
                next.entry(from).or_default().push(to);
                *surplus.entry(from).or_default() += 1;
                *surplus.entry(to).or_default() -= 1;
            }
        }
    }
    let mut lines = Vec::new();
    // Lines with two ends first: what is left then comes back to where it starts.
    for (&start, &count) in &surplus {
        for _ in 0..count.max(0) {
            lines.push(walk(start, &mut next));
        }
    }
    while let Some((&start, _)) = next.first_key_value() {
        lines.push(walk(start, &mut next));
    }
    lines
}

/// Takes edges out, one after the other, until none goes on or the start is reached.
fn walk(start: u32, next: &mut BTreeMap<u32, Vec<u32>>) -> Vec<u32> {
    let mut line = vec![start];
    let mut at = start;
    while let Some(ends) = next.get_mut(&at) {
        let end = ends.pop();
        if ends.is_empty() {
            next.remove(&at);
        }
        let Some(end) = end else { break };
        line.push(end);
        at = end;
        if at == start {
            break;
        }
    }
    line
}

fn twice_area_nm2(surface: &Surface, ring: &[u32]) -> i128 {
    let at = |v: u32| {
        let p = surface.vertices()[v as usize].p;
        [i128::from(p.x), i128::from(p.y)]
    };
    ring.windows(2)
        .map(|edge| {
            let ([ax, ay], [bx, by]) = (at(edge[0]), at(edge[1]));
            ax * by - bx * ay
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::{P3, Point};

    /// Squares of two facets, four by four, the facet id of the lower one even.
    fn board() -> Surface {
        let vertices: Vec<P3> = (0..25)
            .map(|k| P3 {
                p: Point::new(k % 5, k / 5),
                z: 0.0,
            })
            .collect();
        let triangles: Vec<[u32; 3]> = (0..16u32)
            .flat_map(|k| {
                let a = k / 4 * 5 + k % 4;
                [[a, a + 1, a + 6], [a, a + 6, a + 5]]
            })
            .collect();
        Surface::from_triangles(vertices, &triangles, 0).unwrap()
    }

    #[test]
    fn areas_have_their_holes() {
        let board = board();
        // All but the four squares in the middle, and one of these.
        let taken = |f: u32| {
            let (x, y) = (f / 2 % 4, f / 8);
            let is_rim = x == 0 || y == 0 || x == 3 || y == 3;
            is_rim || (x, y) == (1, 1)
        };
        let found = areas(&board, &taken);
        assert_eq!(found.len(), 1);
        let sizes: Vec<i128> = found[0].iter().map(|r| twice_area_nm2(&board, r)).collect();
        assert_eq!(sizes, [32, -6]);
        for ring in &found[0] {
            assert_eq!(ring.first(), ring.last());
        }
        // Two squares that meet in a corner are two areas.
        let apart = areas(&board, &|f| [0, 1, 10, 11].contains(&f));
        assert_eq!(apart.iter().map(Vec::len).collect::<Vec<_>>(), [1, 1]);
    }

    #[test]
    fn borders_begin_and_end_where_something_else_begins() {
        let board = board();
        // The lower half against the upper half: one line from the west end to the east end,
        // with the taken half to its left.
        let is_upper = |f: u32| f >= 16;
        let line = borders(&board, &is_upper, &|n| n.is_some_and(|n| !is_upper(n)));
        assert_eq!(line, [[10, 11, 12, 13, 14]]);
        let round = borders(&board, &is_upper, &|n| n.is_none_or(|n| !is_upper(n)));
        assert_eq!((round.len(), round[0].len()), (1, 13));
    }
}
