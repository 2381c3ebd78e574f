//! Pits: where water stands, and over which vertex it runs away.
//!
//! Vertices are taken from the lowest up. One with nothing lower beside it begins a pit; one that
//! meets two pits is the lip of both, and they are one from there on; one that meets the outside is
//! the lip for good. On flat facets lowest places and passes are vertices, so this is exact.
//!
//! # Source
//!
//! join trees: H. Carr, J. Snoeyink, U. Axen, "Computing contour trees in all dimensions",
//! Computational Geometry 24 (2003), 75-94; the same answer from the rim inwards: R. Barnes,
//! C. Lehman, D. Mulla, "Priority-flood", Computers and Geosciences 62 (2014), 117-127

use crate::geom::P3;
use crate::surface::Surface;

use super::tin::Tin;

/// A hollow up to its lip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pit {
    /// Its lowest vertex.
    pub bottom: P3,
    /// Where it runs over: the lowest pass out of it.
    pub lip: P3,
    /// Number of the pit it becomes part of once it is full; `None` if it runs over to the rim or
    /// down to another pit.
    pub part_of: Option<u32>,
    /// Id of the bottom in the [`Tin`].
    pub(super) bottom_id: u32,
    /// Id of the lip.
    pub(super) lip_id: u32,
    /// The vertex water takes beyond the lip; [`Surface::NONE`] if that is beyond the rim.
    pub(super) spill: u32,
}

impl Pit {
    /// Depth of the water when it is full, metres.
    pub fn depth_m(&self) -> f64 {
        self.lip.z - self.bottom.z
    }
}

/// All pits of a surface, nested ones before those they become part of.
#[derive(Clone, Debug, Default)]
pub struct Pits {
    pits: Vec<Pit>,
    /// For every vertex the pit that the steepest edges lead to; [`Surface::NONE`] for the rim.
    below: Vec<u32>,
    /// The widest pit each one becomes part of.
    widest: Vec<u32>,
}

impl std::ops::Deref for Pits {
    type Target = [Pit];

    fn deref(&self) -> &[Pit] {
        &self.pits
    }
}

/// Sets that are joined.
struct Sets {
    parent: Vec<u32>,
    /// The pit of a set, by its first member.
    pit: Vec<u32>,
}

impl Sets {
    fn find(&mut self, mut v: u32) -> u32 {
        while self.parent[v as usize] != v {
            let up = self.parent[self.parent[v as usize] as usize];
            self.parent[v as usize] = up;
            v = up;
        }
        v
    }
}

impl Pits {
    /// Finds them all.
    ///
    /// # Cost
    ///
    /// O(n log n): sorting the vertices by height
    pub fn of(tin: &Tin) -> Pits {
        let n = tin.vertices.len() as u32;
        let outside = n;
        let mut order: Vec<(f64, u32)> = (0..n)
            .filter(|&v| !tin.fan(v).is_empty())
            .map(|v| (tin.z(v), v))
            .collect();
        order.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let mut sets = Sets {
            parent: (0..=n).collect(),
            pit: vec![Surface::NONE; n as usize + 1],
        };
        let mut found = Pits {
            below: vec![Surface::NONE; n as usize],
            ..Pits::default()
        };
        let mut lower: Vec<(u32, f64)> = Vec::new();
        let mut met: Vec<u32> = Vec::new();
        for &(_, v) in &order {
            lower.clear();
            met.clear();
            let is_rim = tin.lower_neighbours(v, &mut lower);
            met.extend(lower.iter().map(|(w, _)| sets.find(*w)));
            if is_rim {
                met.push(sets.find(outside));
            }
            met.sort_unstable();
            met.dedup();
            let steepest = |of: &dyn Fn(u32) -> bool| {
                let among = lower.iter().filter(|(w, _)| of(*w));
                among.fold(None, |best: Option<(u32, f64)>, &(w, steep)| match best {
                    Some((_, most)) if most >= steep => best,
                    _ => Some((w, steep)),
                })
            };
            found.below[v as usize] = match steepest(&|_| true) {
                Some((w, _)) => found.below[w as usize],
                None if is_rim => Surface::NONE,
                None => found.pits.len() as u32,
            };
            match met.as_slice() {
                [] => {
                    sets.pit[v as usize] = found.begin(tin, v);
                    continue;
                }
                [one] => {
                    sets.parent[v as usize] = *one;
                    continue;
                }
                _ => {}
            }
            let beyond = sets.find(outside);
            let into = met.iter().copied().find(|&set| set == beyond);
            let spill = into.and_then(|_| {
                let mut is_out: Vec<u32> = Vec::new();
                for &(w, _) in &lower {
                    if sets.find(w) == beyond {
                        is_out.push(w);
                    }
                }
                steepest(&|w| is_out.contains(&w))
            });
            let joined = match into {
                Some(_) => None,
                None => Some(found.join(tin, &met, &sets.pit)),
            };
            for &set in &met {
                if set != beyond {
                    let pit = &mut found.pits[sets.pit[set as usize] as usize];
                    pit.lip_id = v;
                    pit.lip = tin.vertices[v as usize];
                    pit.part_of = joined;
                    pit.spill = spill.map_or(Surface::NONE, |(w, _)| w);
                }
            }
            let root = into.unwrap_or(met[0]);
            for &set in &met {
                sets.parent[set as usize] = root;
            }
            sets.parent[v as usize] = root;
            if let Some(pit) = joined {
                sets.pit[root as usize] = pit;
            }
        }
        found.widest = (0..found.pits.len() as u32).collect();
        for k in (0..found.pits.len()).rev() {
            if let Some(up) = found.pits[k].part_of {
                found.widest[k] = found.widest[up as usize];
            }
        }
        found
    }

    fn begin(&mut self, tin: &Tin, v: u32) -> u32 {
        let at = tin.vertices[v as usize];
        self.pits.push(Pit {
            bottom: at,
            lip: at,
            part_of: None,
            bottom_id: v,
            lip_id: v,
            spill: Surface::NONE,
        });
        self.pits.len() as u32 - 1
    }

    /// The pit that several become.
    fn join(&mut self, tin: &Tin, sets: &[u32], pit_of: &[u32]) -> u32 {
        let bottoms = sets
            .iter()
            .map(|&set| self.pits[pit_of[set as usize] as usize].bottom_id);
        let lowest = bottoms.reduce(|a, b| if tin.is_below(a, b) { a } else { b });
        self.begin(tin, lowest.unwrap_or_default())
    }

    /// The pit a vertex leads to along the steepest edges; `None` if they lead over the rim.
    pub(super) fn below(&self, v: u32) -> Option<u32> {
        let pit = self.below[v as usize];
        (pit != Surface::NONE).then_some(pit)
    }

    /// The widest pit a pit becomes part of.
    pub fn widest(&self, pit: u32) -> u32 {
        self.widest[pit as usize]
    }

    /// Numbers of the pits that are part of no other and at least so deep.
    pub fn widest_of(&self, least_depth_m: f64) -> impl Iterator<Item = u32> + '_ {
        (0..self.pits.len() as u32).filter(move |&k| {
            let pit = &self.pits[k as usize];
            pit.part_of.is_none() && pit.depth_m() >= least_depth_m
        })
    }
}

impl Tin {
    /// Vertices beside a vertex that come before it, each with how steep it is to them; true if
    /// the vertex lies on the rim.
    pub(super) fn lower_neighbours(&self, v: u32, lower: &mut Vec<(u32, f64)>) -> bool {
        let mut is_rim = false;
        for &f in self.fan(v) {
            let k = self.corner_of(f, v);
            let t = self.corners[f as usize];
            let across = self.across[f as usize];
            is_rim |= across[k] == Surface::NONE || across[(k + 2) % 3] == Surface::NONE;
            // Round an inner vertex the next corners are all there are.
            let ends = match across[(k + 2) % 3] {
                Surface::NONE => [Some(t[(k + 1) % 3]), Some(t[(k + 2) % 3])],
                _ => [Some(t[(k + 1) % 3]), None],
            };
            for w in ends.into_iter().flatten() {
                if self.is_below(w, v) {
                    let [x, y] = self.from_to(v, w);
                    lower.push((w, (self.z(v) - self.z(w)) / x.hypot(y)));
                }
            }
        }
        is_rim
    }
}
