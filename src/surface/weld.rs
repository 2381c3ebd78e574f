//! Welding: a surface without facets thinner than a given distance, to leave the program with.
//!
//! Takes a surface, gives another over some of its vertices. Facets of a composed surface may be
//! as thin as the lattice; a program that rounds coordinates would turn them over.

use crate::geom::{P3, Point, orient};
use crate::units::NM_PER_M;

use super::plane::Source;
use super::surface::{Surface, SurfaceError};

/// Rounds of joining; each takes out what the one before left thin. Four are usual.
const MAX_ROUNDS: usize = 40;

impl Surface {
    /// The surface with vertices joined and edges turned until no facet is thinner than a
    /// distance.
    ///
    /// A vertex is only ever joined to one that lies within the distance, and an edge only
    /// turned where a vertex lies within the distance of it; and only if every facet there keeps
    /// to the plane it comes from, within the distance times (1 + its slope). So a volume changes
    /// by at most the distance times the plan area and the area along the slope. Facets keep
    /// their source, with its label; heights are those of the vertices.
    ///
    /// Every facet stays counter-clockwise and neighbours agree. A thin facet stays where taking
    /// it out would turn another over or tilt it: above all a step, a face that is narrower than
    /// the distance and yet higher. [`Surface::thinner_than`] counts what is left.
    ///
    /// # Errors
    ///
    /// [`SurfaceError`]: a defect of the program
    /// # Cost
    ///
    /// O(n) and a few rounds over the thin facets
    pub fn welded(&self, distance_nm: i64) -> Result<Surface, SurfaceError> {
        let mut mesh = Mesh::of(self);
        let mut thin: Vec<u32> = (0..mesh.triangles.len() as u32).collect();
        for _ in 0..MAX_ROUNDS {
            thin.retain(|&t| mesh.is_thin(t, distance_nm));
            let mut touched = Vec::new();
            for &t in &thin {
                if mesh.is_thin(t, distance_nm) {
                    mesh.take_out(t, distance_nm, &mut touched);
                }
            }
            if touched.is_empty() {
                break;
            }
            thin.extend(touched);
            thin.sort_unstable();
            thin.dedup();
        }
        mesh.surface()
    }

    /// Number of facets thinner than a distance.
    pub fn thinner_than(&self, distance_nm: i64) -> usize {
        self.facets()
            .filter(|&f| is_thinner(self.plan(f), distance_nm))
            .count()
    }
}

/// Triangles that are taken out and changed one by one.
struct Mesh {
    vertices: Vec<P3>,
    /// Dead ones have three equal corners.
    triangles: Vec<[u32; 3]>,
    sources: Vec<Source>,
    /// Triangles at each vertex; some may have left it since.
    around: Vec<Vec<u32>>,
}

impl Mesh {
    fn of(surface: &Surface) -> Mesh {
        let vertices = surface.vertices().to_vec();
        let facets: Vec<u32> = surface.facets().collect();
        let mut around = vec![Vec::new(); vertices.len()];
        for (t, &f) in facets.iter().enumerate() {
            for v in surface.vertex_ids(f) {
                around[v as usize].push(t as u32);
            }
        }
        Mesh {
            vertices,
            triangles: facets.iter().map(|&f| surface.vertex_ids(f)).collect(),
            sources: facets.iter().map(|&f| surface.source(f)).collect(),
            around,
        }
    }

    fn at(&self, v: u32) -> Point {
        self.vertices[v as usize].p
    }

    fn is_alive(&self, t: u32) -> bool {
        let [a, b, _] = self.triangles[t as usize];
        a != b
    }

    fn is_thin(&self, t: u32, distance: i64) -> bool {
        self.is_alive(t) && is_thinner(self.triangles[t as usize].map(|v| self.at(v)), distance)
    }

    /// Living triangles at a vertex, ascending.
    fn fan(&self, v: u32) -> Vec<u32> {
        let mut fan: Vec<u32> = self.around[v as usize]
            .iter()
            .copied()
            .filter(|&t| self.is_alive(t) && self.triangles[t as usize].contains(&v))
            .collect();
        fan.sort_unstable();
        fan.dedup();
        fan
    }

    /// Takes out a thin triangle: by joining the ends of its shortest side, or, where that is
    /// longer than the distance, by turning its longest side.
    fn take_out(&mut self, t: u32, distance: i64, touched: &mut Vec<u32>) {
        let tri = self.triangles[t as usize];
        let lengths = [0, 1, 2].map(|k| squared(self.at(tri[k]), self.at(tri[(k + 1) % 3])));
        let mut sides = [0, 1, 2];
        sides.sort_by_key(|&k| (lengths[k], k));
        for k in sides {
            if lengths[k] <= i128::from(distance) * i128::from(distance) {
                let (a, b) = (tri[k], tri[(k + 1) % 3]);
                if self.join(a, b, distance, touched) || self.join(b, a, distance, touched) {
                    return;
                }
            }
        }
        self.turn(t, sides[2], distance, touched);
    }

    /// Joins a vertex to another, if no triangle turns over and the rim stays a rim.
    fn join(&mut self, from: u32, to: u32, distance: i64, touched: &mut Vec<u32>) -> bool {
        let (fan, other) = (self.fan(from), self.fan(to));
        let both: Vec<u32> = fan.iter().copied().filter(|t| other.contains(t)).collect();
        // A vertex of the rim is joined along the rim only: otherwise the rim would move.
        let is_rim_edge = both.len() == 1;
        if self.is_on_rim(from, &fan) && !is_rim_edge {
            return false;
        }
        // Vertices next to both must be tips of the triangles that go, or two sheets would touch.
        let beside = |fan: &[u32]| {
            let mut ring: Vec<u32> = fan
                .iter()
                .flat_map(|&t| self.triangles[t as usize])
                .collect();
            ring.sort_unstable();
            ring.dedup();
            ring
        };
        let (ring, other_ring) = (beside(&fan), beside(&other));
        let common = ring
            .iter()
            .filter(|v| **v != from && **v != to && other_ring.binary_search(v).is_ok())
            .count();
        if common != both.len() {
            return false;
        }
        let moved = |t: u32| self.triangles[t as usize].map(|v| if v == from { to } else { v });
        let stays = fan.iter().copied().filter(|t| !both.contains(t));
        for t in stays.clone() {
            let [a, b, c] = moved(t).map(|v| self.at(v));
            if orient(a, b, c) <= 0 || !self.fits(to, t, distance) {
                return false;
            }
        }
        let stays: Vec<u32> = stays.collect();
        for t in both {
            self.triangles[t as usize] = [to; 3];
        }
        for &t in &stays {
            let tri = &mut self.triangles[t as usize];
            *tri = tri.map(|v| if v == from { to } else { v });
            self.around[to as usize].push(t);
        }
        touched.extend(&stays);
        true
    }

    /// True if a vertex lies in the plane of a triangle's source, but for the distance.
    fn fits(&self, v: u32, t: u32, distance: i64) -> bool {
        let (vertex, plane) = (self.vertices[v as usize], &self.sources[t as usize].plane);
        let slack = distance as f64 / NM_PER_M * (1.0 + plane.steepness());
        (vertex.z - plane.z_at(vertex.p)).abs() <= slack
    }

    /// True if an edge at the vertex has a triangle on one side only.
    fn is_on_rim(&self, v: u32, fan: &[u32]) -> bool {
        let ends: Vec<[u32; 2]> = fan
            .iter()
            .map(|&t| {
                let tri = self.triangles[t as usize];
                let k = (0..3).find(|&k| tri[k] == v).unwrap_or(0);
                [tri[(k + 1) % 3], tri[(k + 2) % 3]]
            })
            .collect();
        ends.iter()
            .any(|[first, _]| ends.iter().all(|[_, last]| last != first))
    }

    /// Turns the side of a triangle that runs past its third corner, so that both triangles there
    /// have that corner. They take the source of the one behind the side.
    fn turn(&mut self, t: u32, side: usize, distance: i64, touched: &mut Vec<u32>) {
        let tri = self.triangles[t as usize];
        let (a, b, tip) = (tri[side], tri[(side + 1) % 3], tri[(side + 2) % 3]);
        let behind = self.fan(a).into_iter().find(|&n| {
            let n = self.triangles[n as usize];
            (0..3).any(|k| n[k] == b && n[(k + 1) % 3] == a)
        });
        let Some(behind) = behind else { return };
        let Some(&far) = self.triangles[behind as usize]
            .iter()
            .find(|v| **v != a && **v != b)
        else {
            return;
        };
        let (one, two) = ([a, far, tip], [far, b, tip]);
        let is_good = |tri: [u32; 3]| {
            let [a, b, c] = tri.map(|v| self.at(v));
            orient(a, b, c) > 0
        };
        // The edge between the tips may be there already, round a vertex of three triangles.
        let is_there = self
            .fan(tip)
            .iter()
            .any(|&n| self.triangles[n as usize].contains(&far));
        // Turned twice, it would be as it was.
        let thickness = |tri: [u32; 3]| thickness(tri.map(|v| self.at(v)));
        let was = thickness(tri).min(thickness(self.triangles[behind as usize]));
        if !self.fits(tip, behind, distance)
            || is_there
            || !is_good(one)
            || !is_good(two)
            || thickness(one).min(thickness(two)) <= was
        {
            return;
        }
        self.triangles[t as usize] = one;
        self.triangles[behind as usize] = two;
        self.sources[t as usize] = self.sources[behind as usize];
        self.around[far as usize].push(t);
        self.around[tip as usize].push(behind);
        touched.extend([t, behind]);
    }

    fn surface(self) -> Result<Surface, SurfaceError> {
        let mut number = vec![Surface::NONE; self.vertices.len()];
        let mut vertices = Vec::new();
        let mut triangles = Vec::new();
        let mut sources = Vec::new();
        for t in 0..self.triangles.len() as u32 {
            if !self.is_alive(t) {
                continue;
            }
            triangles.push(self.triangles[t as usize].map(|v| {
                let number = &mut number[v as usize];
                if *number == Surface::NONE {
                    *number = vertices.len() as u32;
                    vertices.push(self.vertices[v as usize]);
                }
                *number
            }));
            sources.push(self.sources[t as usize]);
        }
        Surface::with_sources(vertices, &triangles, sources)
    }
}

fn squared(a: Point, b: Point) -> i128 {
    let (dx, dy) = (i128::from(b.x - a.x), i128::from(b.y - a.y));
    dx * dx + dy * dy
}

/// The smallest height of a triangle, metres.
fn thickness(corners: [Point; 3]) -> f64 {
    let [a, b, c] = corners;
    let longest = squared(a, b).max(squared(b, c)).max(squared(c, a));
    orient(a, b, c) as f64 / (longest as f64).sqrt() / NM_PER_M
}

fn is_thinner(corners: [Point; 3], distance_nm: i64) -> bool {
    thickness(corners) * NM_PER_M < distance_nm as f64
}
