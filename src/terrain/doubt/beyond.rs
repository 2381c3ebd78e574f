//! The ground carried on beyond its rim, to hold the shots of the rim against.

use crate::geom::distance_m;
use crate::terrain::leave_out::Guess;

use super::Looked;

/// Shots near a place of the rim that it is held against.
const AT_RIM: usize = 8;

/// A shot at the rim held against the plane of those near it, the nearer the more.
pub(super) fn carried_on(looked: &Looked, v: u32) -> Option<Guess> {
    let vertices = looked.terrain.surface.vertices();
    let p = vertices[v as usize].p;
    let mut near: Vec<(f64, u32)> = looked
        .near
        .twice_of(v)
        .into_iter()
        .map(|u| (distance_m(vertices[u as usize].p, p), u))
        .collect();
    near.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    near.truncate(AT_RIM);
    // Normal equations of the plane, its height at the place the first unknown.
    let mut m = [[0.0f64; 3]; 3];
    let row = |u: u32| {
        let [x, y] = vertices[u as usize].p.relative_m(p);
        [1.0, x, y]
    };
    for &(d, u) in &near {
        let r = row(u);
        for (i, line) in m.iter_mut().enumerate() {
            for (j, cell) in line.iter_mut().enumerate() {
                *cell += r[i] * r[j] / (d * d);
            }
        }
    }
    let minor = |i: usize, j: usize| {
        let (a, b) = ((i + 1) % 3, (i + 2) % 3);
        let (c, e) = ((j + 1) % 3, (j + 2) % 3);
        m[a][c] * m[b][e] - m[a][e] * m[b][c]
    };
    let first = [minor(0, 0), minor(0, 1), minor(0, 2)];
    let all = m[0][0] * first[0] + m[0][1] * first[1] + m[0][2] * first[2];
    // Shots almost in line say nothing of the ground beside them.
    let size = m[0][0] * m[1][1].max(1.0e-12) * m[2][2].max(1.0e-12);
    if near.len() < 4 || all <= 1.0e-3 * size {
        return None;
    }
    let weights: Vec<(u32, f64)> = near
        .iter()
        .map(|&(d, u)| {
            let r = row(u);
            let dot = first[0] * r[0] + first[1] * r[1] + first[2] * r[2];
            (u, dot / all / (d * d))
        })
        .collect();
    let distance_m = weights
        .iter()
        .zip(&near)
        .map(|((_, weight), (d, _))| weight.abs() * d)
        .sum();
    Some(Guess {
        weights,
        distance_m,
    })
}
