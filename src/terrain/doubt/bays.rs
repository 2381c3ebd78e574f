//! Bays of the data that triangles along the rim bridge.
//!
//! Takes a ground without outline and without longest edge, where its rim is the hull of the
//! shots; gives the bays in which all ground is made up.

use crate::diag::Diagnostic;
use crate::geom::distance_m;
use crate::surface::Surface;

use super::Looked;

/// A bay opens at an edge of the rim this many times longer than shots near it lie apart.
const WIDE: f64 = 3.5;

/// It reaches inward across edges down to this many times that distance.
const INWARD: f64 = 2.5;

/// A triangle at the rim flatter than this share of that distance holds no ground worth a word:
/// what lies behind it counts as the rim.
const FLAT: f64 = 0.4;

/// A bay holds at least this many squares of that distance.
const AREA: f64 = 5.0;

/// A bay of a scan is worth a word from this share of its area on.
const OF_A_SCAN: f64 = 0.001;

/// Bays named one by one.
const MOST_BAYS: usize = 5;

struct Bay {
    ends: [u32; 2],
    length_m: f64,
    area_m2: f64,
}

pub(super) fn look(looked: &Looked) -> Vec<Diagnostic> {
    if looked.spec.outline.is_some() || looked.spec.max_edge_m.is_some() {
        return Vec::new();
    }
    // Where a cloud was thinned its long triangles lie on points that were left out.
    let mut imports = looked.survey.imports.iter();
    if imports.any(|brought| brought.import.facts.loss.is_some()) {
        return Vec::new();
    }
    let search = Search::new(looked);
    let mut taken = vec![false; looked.terrain.surface.facet_slots()];
    let mut bays = search.find(&mut taken);
    if looked.terrain.shots.is_empty() {
        // Points of a scan lie close: gaps of a pace at its rim are no bays.
        let surface = &looked.terrain.surface;
        let whole: f64 = surface.facets().map(|f| surface.area_m2(f)).sum();
        bays.retain(|bay| bay.area_m2 >= OF_A_SCAN * whole);
    }
    bays.sort_by(|a, b| b.area_m2.total_cmp(&a.area_m2).then(a.ends.cmp(&b.ends)));
    let longest = search.longest_kept_m(&taken);
    words(looked, &bays, longest)
}

struct Search<'a> {
    looked: &'a Looked<'a>,
    /// By vertex: how far shots near it lie apart, metres.
    apart_m: Vec<f64>,
}

impl<'a> Search<'a> {
    fn new(looked: &'a Looked<'a>) -> Search<'a> {
        let surface = &looked.terrain.surface;
        let vertices = surface.vertices();
        let n = vertices.len() as u32;
        // The three nearest neighbours: those across a bay do not count.
        let own: Vec<f64> = (0..n)
            .map(|v| {
                let near = looked.near.of(v).iter();
                let mut away: Vec<f64> = near
                    .map(|&u| distance_m(vertices[u as usize].p, vertices[v as usize].p))
                    .collect();
                away.sort_unstable_by(f64::total_cmp);
                away.truncate(3);
                away.iter().sum::<f64>() / away.len().max(1) as f64
            })
            .collect();
        let area: f64 = surface.facets().map(|f| surface.area_m2(f)).sum();
        // A row of shots along a fence lies closer than those of the yard behind it.
        let least = 0.7 * (area / f64::from(n)).sqrt();
        let apart_m = (0..n)
            .map(|v| {
                let near = looked.near.twice_of(v);
                let mut around: Vec<f64> = near.iter().map(|&u| own[u as usize]).collect();
                around.push(own[v as usize]);
                around.sort_unstable_by(f64::total_cmp);
                around[around.len() / 2].max(least)
            })
            .collect();
        Search { looked, apart_m }
    }

    fn surface(&self) -> &Surface {
        &self.looked.terrain.surface
    }

    /// The side of a facet from corner `k` on: its ends, its length, how far shots lie apart.
    fn side(&self, f: u32, k: usize) -> ([u32; 2], f64, f64) {
        let (ids, corners) = (self.surface().vertex_ids(f), self.surface().corners(f));
        let next = (k + 1) % 3;
        let ends = [ids[k], ids[next]];
        let apart = ends.map(|v| self.apart_m[v as usize]);
        (
            ends,
            distance_m(corners[k].p, corners[next].p),
            apart[0].max(apart[1]),
        )
    }

    /// Bays, in the order of the facets they open at; their facets are marked, with the flat
    /// ones along the rim.
    fn find(&self, taken: &mut [bool]) -> Vec<Bay> {
        let mut bays = Vec::new();
        let mut open: Vec<(u32, usize)> = Vec::new();
        for f in self.surface().facets() {
            let neighbours = self.surface().neighbours(f);
            open.extend(
                (0..3)
                    .filter(|&k| neighbours[k] == Surface::NONE)
                    .map(|k| (f, k)),
            );
        }
        open.reverse();
        while let Some((f, k)) = open.pop() {
            if taken[f as usize] {
                continue;
            }
            let (ends, length_m, apart) = self.side(f, k);
            let height = 2.0 * self.surface().area_m2(f) / length_m;
            if height < FLAT * apart {
                taken[f as usize] = true;
                open.extend(self.beyond(f));
            } else if length_m > WIDE * apart {
                let area_m2 = self.fill(f, taken);
                if area_m2 > AREA * apart * apart {
                    bays.push(Bay {
                        ends,
                        length_m,
                        area_m2,
                    });
                }
            }
        }
        bays
    }

    /// The sides of its neighbours that a facet bares when it goes.
    fn beyond(&self, f: u32) -> Vec<(u32, usize)> {
        let mut sides = Vec::new();
        for n in self.surface().neighbours(f) {
            if n != Surface::NONE {
                let back = self.surface().neighbours(n);
                sides.extend((0..3).filter(|&k| back[k] == f).map(|k| (n, k)));
            }
        }
        sides
    }

    /// Marks the facets of a bay from the one it opens at; gives their area.
    fn fill(&self, first: u32, taken: &mut [bool]) -> f64 {
        let mut area = 0.0;
        let mut stack = vec![first];
        taken[first as usize] = true;
        while let Some(f) = stack.pop() {
            area += self.surface().area_m2(f);
            for k in 0..3 {
                let (_, length, apart) = self.side(f, k);
                let n = self.surface().neighbours(f)[k];
                if n != Surface::NONE && !taken[n as usize] && length > INWARD * apart {
                    taken[n as usize] = true;
                    stack.push(n);
                }
            }
        }
        area
    }

    /// The longest edge of the ground outside its bays, metres.
    fn longest_kept_m(&self, taken: &[bool]) -> f64 {
        self.surface()
            .facets()
            .filter(|&f| !taken[f as usize])
            .flat_map(|f| [0, 1, 2].map(|k| self.side(f, k).1))
            .fold(0.0, f64::max)
    }
}

fn words(looked: &Looked, bays: &[Bay], longest_kept_m: f64) -> Vec<Diagnostic> {
    let unit = looked.show.unit();
    // A whole number of the unit above all edges that are to stay.
    let limit = unit.from_m(longest_kept_m).ceil().max(1.0);
    let shortest = bays
        .iter()
        .map(|b| b.length_m)
        .fold(f64::INFINITY, f64::min);
    let keeps = limit < unit.from_m(shortest);
    let limit = if keeps {
        format!("or max_edge = {limit:.1} (`--max-edge {limit:.1}`), ")
    } else {
        String::new()
    };
    let mut said: Vec<Diagnostic> = bays
        .iter()
        .take(MOST_BAYS)
        .map(|bay| {
            let [a, b] = bay.ends;
            let words = format!(
                "between {} and {}, {} apart, the ground bridges a bay of {} in which nothing \
                 was shot: its height there is made up",
                looked.kind_and_name(a),
                looked.kind_and_name(b),
                looked.show.length(bay.length_m),
                looked.show.area(bay.area_m2)
            );
            let mut diagnostic = Diagnostic::warn("bay", words).help(format!(
                "name the limit of the data: outline in [ground] (`--outline`), {limit}or shoot in the \
                 bay"
            ));
            let shots = bay.ends.iter().filter_map(|&v| looked.shot(v));
            diagnostic.at = shots.map(|shot| shot.at.clone()).collect();
            diagnostic
        })
        .collect();
    if bays.len() > MOST_BAYS {
        let rest = &bays[MOST_BAYS..];
        let area: f64 = rest.iter().map(|b| b.area_m2).sum();
        said.push(Diagnostic::warn(
            "bay",
            format!(
                "and {} smaller bays of {} together",
                rest.len(),
                looked.show.area(area)
            ),
        ));
    }
    said
}
