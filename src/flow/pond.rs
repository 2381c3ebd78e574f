//! Still water in a pit: its area and volume up to a level, exactly on the facets.
//!
//! # Source
//!
//! a plane triangle cut by a level: the corner that stands alone carries a pyramid (closed form)

use std::collections::BTreeSet;

use crate::geom::P3;

use super::pits::Pits;
use super::tin::Tin;

/// A height in order.
#[derive(Clone, Copy, PartialEq)]
struct Height(f64);

impl Eq for Height {}

impl PartialOrd for Height {
    fn partial_cmp(&self, other: &Height) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Height {
    fn cmp(&self, other: &Height) -> std::cmp::Ordering {
        self.0.total_cmp(&other.0)
    }
}

/// Still water.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pond {
    /// Level of the water, metres.
    pub level_m: f64,
    /// Greatest depth, metres.
    pub depth_m: f64,
    /// Plan area, square metres.
    pub area_m2: f64,
    /// Volume, cubic metres.
    pub volume_m3: f64,
    /// Its parts by facet, in plan, metres in the frame of the surface; each convex.
    pub parts: Vec<Vec<[f64; 2]>>,
    /// Its shore in stretches.
    pub shore: Vec<[[f64; 2]; 2]>,
    /// The facet of the [`Tin`] each part lies on.
    pub facets: Vec<usize>,
}

impl Tin {
    /// The water in a pit full to its lip.
    ///
    /// # Cost
    ///
    /// that of the facets it covers
    pub fn pond(&self, pits: &Pits, pit: u32) -> Pond {
        let of = &pits[pit as usize];
        self.pond_to(of.bottom_id, of.lip.z)
    }

    /// Facets round the lip of a pit.
    pub fn facets_at_lip(&self, pits: &Pits, pit: u32) -> impl Iterator<Item = usize> + '_ {
        let lip = pits[pit as usize].lip_id;
        self.fan(lip).iter().map(|&f| f as usize)
    }

    /// Facets round the bottom of a pit.
    pub fn facets_at_bottom(&self, pits: &Pits, pit: u32) -> impl Iterator<Item = usize> + '_ {
        let bottom = pits[pit as usize].bottom_id;
        self.fan(bottom).iter().map(|&f| f as usize)
    }

    /// The lowest pass out of an area with a pit that does not lie on some facets: where its water
    /// would leave if they were walled off. `None` if there is no other.
    pub fn lip_without(
        &self,
        pits: &Pits,
        pit: u32,
        inside: &dyn Fn(usize) -> bool,
        wall: &dyn Fn(usize) -> bool,
    ) -> Option<P3> {
        let bottom = pits[pit as usize].bottom_id;
        let lip = self.flooded(BTreeSet::from([bottom]), Some(bottom), inside, wall)?;
        Some(self.vertices[lip as usize])
    }

    /// The lowest pass out of some facets that water stands in whatever their heights, such as a
    /// hollow filled with stone, that does not lie on others; and the facets round it. `None` if
    /// there is none.
    ///
    /// # Cost
    ///
    /// that of looking at every vertex once
    pub fn lip_out_of(
        &self,
        inside: &dyn Fn(usize) -> bool,
        wall: &dyn Fn(usize) -> bool,
    ) -> Option<(P3, Vec<usize>)> {
        let is_within = |v: &u32| {
            let fan = self.fan(*v);
            !fan.is_empty() && fan.iter().all(|&f| inside(f as usize))
        };
        let seeds: BTreeSet<u32> = (0..self.vertices.len() as u32).filter(is_within).collect();
        let lip = self.flooded(seeds, None, inside, wall)?;
        let round = self.fan(lip).iter().map(|&f| f as usize).collect();
        Some((self.vertices[lip as usize], round))
    }

    /// Floods from some vertices, the lowest first; the lip is the highest place met before the
    /// water runs down outside or over the rim.
    fn flooded(
        &self,
        seeds: BTreeSet<u32>,
        mut lip: Option<u32>,
        inside: &dyn Fn(usize) -> bool,
        wall: &dyn Fn(usize) -> bool,
    ) -> Option<u32> {
        let is_walled = |v: u32| self.fan(v).iter().any(|&f| wall(f as usize));
        let is_outside = |v: u32| !self.fan(v).iter().any(|&f| inside(f as usize));
        let mut next: BTreeSet<(Height, u32)> =
            seeds.iter().map(|&v| (Height(self.z(v)), v)).collect();
        let mut seen = seeds.clone();
        let mut lower = Vec::new();
        while let Some((Height(z), v)) = next.pop_first() {
            match lip {
                _ if seeds.contains(&v) => {}
                Some(lip) if z < self.z(lip) && is_outside(v) => return Some(lip),
                Some(highest) if z <= self.z(highest) => {}
                _ => lip = Some(v),
            }
            lower.clear();
            if self.lower_neighbours(v, &mut lower) {
                return lip;
            }
            for &f in self.fan(v) {
                for w in self.corners[f as usize] {
                    if !is_walled(w) && seen.insert(w) {
                        next.insert((Height(self.z(w)), w));
                    }
                }
            }
        }
        None
    }

    /// Water that hangs together with a vertex, up to a level.
    fn pond_to(&self, bottom: u32, level_m: f64) -> Pond {
        let mut pond = Pond {
            level_m,
            depth_m: level_m - self.z(bottom),
            ..Pond::default()
        };
        let mut wet = BTreeSet::from([bottom]);
        let mut facets = BTreeSet::new();
        let mut next = vec![bottom];
        while let Some(v) = next.pop() {
            for &f in self.fan(v) {
                if !facets.insert(f) {
                    continue;
                }
                for w in self.corners[f as usize] {
                    if self.z(w) < level_m && wet.insert(w) {
                        next.push(w);
                    }
                }
            }
        }
        for f in facets {
            self.flood(f, &mut pond);
        }
        pond
    }

    /// Adds what of a facet lies below the level of a pond.
    fn flood(&self, f: u32, pond: &mut Pond) {
        let t = self.corners[f as usize];
        let at: [P3; 3] = t.map(|v| self.vertices[v as usize]);
        let deep = at.map(|c| pond.level_m - c.z);
        let area = self.area_m2(f as usize);
        // Cut at the level, corner by corner.
        let mut part: Vec<[f64; 2]> = Vec::with_capacity(4);
        let mut depths: Vec<f64> = Vec::with_capacity(4);
        let mut shares: Vec<[f64; 2]> = Vec::with_capacity(4);
        let mut shore: Vec<[f64; 2]> = Vec::new();
        const SHARES: [[f64; 2]; 3] = [[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]];
        let mut is_wet = false;
        for k in 0..3 {
            let j = (k + 1) % 3;
            let (p, q) = (self.xy[t[k] as usize], self.xy[t[j] as usize]);
            is_wet |= deep[k] > 0.0;
            if deep[k] >= 0.0 {
                part.push(self.plan_m(p));
                depths.push(deep[k]);
                shares.push(SHARES[k]);
            }
            if deep[k] == 0.0 {
                shore.push(self.plan_m(p));
            }
            if (deep[k] > 0.0 && deep[j] < 0.0) || (deep[k] < 0.0 && deep[j] > 0.0) {
                let s = deep[k] / (deep[k] - deep[j]);
                let mix = |a: f64, b: f64| a + s * (b - a);
                let at = self.plan_m([mix(p[0], q[0]), mix(p[1], q[1])]);
                part.push(at);
                depths.push(0.0);
                shares.push([
                    mix(SHARES[k][0], SHARES[j][0]),
                    mix(SHARES[k][1], SHARES[j][1]),
                ]);
                shore.push(at);
            }
        }
        if !is_wet || part.len() < 3 {
            return;
        }
        for k in 2..part.len() {
            let [a, b, c] = [shares[0], shares[k - 1], shares[k]];
            let share = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
            pond.area_m2 += area * share;
            pond.volume_m3 += area * share * (depths[0] + depths[k - 1] + depths[k]) / 3.0;
        }
        if let [a, b] = shore[..] {
            pond.shore.push([a, b]);
        }
        pond.parts.push(part);
        pond.facets.push(f as usize);
    }
}
