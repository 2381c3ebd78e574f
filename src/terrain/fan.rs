//! The neighbours of each vertex, in order round it.

use crate::surface::Surface;

/// Finds the ring of vertices round a vertex.
pub(super) struct Fans<'a> {
    surface: &'a Surface,
    /// A facet of each vertex; [`Surface::NONE`] without any.
    facet: Vec<u32>,
    /// Facets of each vertex.
    count: Vec<u32>,
}

impl<'a> Fans<'a> {
    pub(super) fn new(surface: &'a Surface) -> Fans<'a> {
        let mut facet = vec![Surface::NONE; surface.vertices().len()];
        let mut count = vec![0; surface.vertices().len()];
        for f in surface.facets() {
            for v in surface.vertex_ids(f) {
                facet[v as usize] = f;
                count[v as usize] += 1;
            }
        }
        Fans {
            surface,
            facet,
            count,
        }
    }

    /// Puts the neighbours of a vertex into `ring`, counter-clockwise. True if they close
    /// round it; false at the rim, where the first and the last lie on the rim as well.
    pub(super) fn ring(&self, v: u32, ring: &mut Vec<u32>) -> bool {
        ring.clear();
        let first = self.facet[v as usize];
        if first == Surface::NONE {
            return false;
        }
        let corner = |f: u32| {
            let ids = self.surface.vertex_ids(f);
            let k = (0..3).find(|&k| ids[k] == v).unwrap_or(0);
            (k, ids)
        };
        // Clockwise to the rim, if there is one.
        let mut start = first;
        loop {
            let (k, _) = corner(start);
            let before = self.surface.neighbours(start)[k];
            if before == first || before == Surface::NONE {
                break;
            }
            start = before;
        }
        let is_rim = {
            let (k, _) = corner(start);
            self.surface.neighbours(start)[k] == Surface::NONE
        };
        if !is_rim {
            start = first;
        }
        let mut at = start;
        let mut facets = 0;
        loop {
            let (k, ids) = corner(at);
            ring.push(ids[(k + 1) % 3]);
            facets += 1;
            let next = self.surface.neighbours(at)[(k + 2) % 3];
            if next == Surface::NONE {
                ring.push(ids[(k + 2) % 3]);
                return false;
            }
            if next == start {
                // Where two fans meet in one vertex, neither goes all the way round.
                return facets == self.count[v as usize];
            }
            at = next;
        }
    }
}

/// Which vertices are joined to which by an edge.
pub(super) struct Near {
    starts: Vec<u32>,
    ids: Vec<u32>,
}

impl Near {
    pub(super) fn new(surface: &Surface) -> Near {
        let fans = Fans::new(surface);
        let (mut starts, mut ids, mut ring) = (vec![0], Vec::new(), Vec::new());
        for v in 0..surface.vertices().len() as u32 {
            fans.ring(v, &mut ring);
            ids.extend_from_slice(&ring);
            starts.push(ids.len() as u32);
        }
        Near { starts, ids }
    }

    /// The neighbours of a vertex, counter-clockwise.
    pub(super) fn of(&self, v: u32) -> &[u32] {
        let v = v as usize;
        &self.ids[self.starts[v] as usize..self.starts[v + 1] as usize]
    }

    /// True for a vertex itself and its neighbours.
    pub(super) fn is_near(&self, v: u32, u: u32) -> bool {
        // The same both ways; a hub has a long list.
        let (few, other) = match self.of(v).len() <= self.of(u).len() {
            true => (v, u),
            false => (u, v),
        };
        v == u || self.of(few).contains(&other)
    }

    /// The neighbours of a vertex and theirs, without itself, sorted; of a hub only some.
    pub(super) fn twice_of(&self, v: u32) -> Vec<u32> {
        /// More do not tell more of a place, and a hub has them all.
        const MOST: usize = 40;
        let few = |v: u32| self.of(v).iter().copied().take(MOST);
        let mut all: Vec<u32> = few(v).chain(few(v).flat_map(few)).collect();
        all.sort_unstable();
        all.dedup();
        all.retain(|&u| u != v);
        all
    }
}
