//! An evaluation of heights that shares nothing with the kernel: the lowest (or highest) of all
//! planes at a place, in an interval that says how much a step of some lattice units aside
//! would change it.

use cutbank::geom::{P3, Point};
use cutbank::surface::{Label, Patch, Plane, Rule, Surface};

/// A flat triangle.
#[derive(Clone, Copy)]
pub struct Flat {
    pub corners: [Point; 3],
    pub plane: Plane,
    pub label: Label,
}

/// Flat triangles by cells of a grid.
pub struct Flats {
    flats: Vec<Flat>,
    low: Point,
    size: i64,
    columns: i64,
    rows: i64,
    starts: Vec<u32>,
    ids: Vec<u32>,
}

impl Flats {
    /// The facets of a surface, each with the plane it comes from.
    pub fn of_surface(surface: &Surface) -> Flats {
        let flat = |f: u32| Flat {
            corners: surface.corners(f).map(|c| c.p),
            plane: surface.source(f).plane,
            label: surface.label(f),
        };
        Flats::new(surface.facets().map(flat).collect())
    }

    /// The pieces of a patch, each with the plane through its corners.
    pub fn of_patch(patch: &Patch) -> Flats {
        let flat = |([a, b, c], label): ([P3; 3], Label)| Flat {
            corners: [a.p, b.p, c.p],
            plane: Plane::through(a, b, c),
            label,
        };
        Flats::new(patch.triangles().map(flat).collect())
    }

    fn new(flats: Vec<Flat>) -> Flats {
        let all = || flats.iter().flat_map(|f| f.corners);
        let low = Point::new(
            all().map(|p| p.x).min().unwrap_or(0),
            all().map(|p| p.y).min().unwrap_or(0),
        );
        let high = Point::new(
            all().map(|p| p.x).max().unwrap_or(0),
            all().map(|p| p.y).max().unwrap_or(0),
        );
        let extent = (high.x - low.x).max(high.y - low.y) + 1;
        let size = (extent as f64 / (flats.len() as f64).sqrt().max(1.0)).ceil() as i64;
        let mut all = Flats {
            columns: (high.x - low.x) / size + 1,
            rows: (high.y - low.y) / size + 1,
            flats,
            low,
            size,
            starts: Vec::new(),
            ids: Vec::new(),
        };
        let mut cells: Vec<(i64, u32)> = Vec::new();
        for (i, flat) in all.flats.iter().enumerate() {
            let [a, b, c] = flat.corners;
            let low = Point::new(a.x.min(b.x).min(c.x), a.y.min(b.y).min(c.y));
            let high = Point::new(a.x.max(b.x).max(c.x), a.y.max(b.y).max(c.y));
            for row in all.row(low.y)..=all.row(high.y) {
                for column in all.column(low.x)..=all.column(high.x) {
                    cells.push((row * all.columns + column, i as u32));
                }
            }
        }
        cells.sort_unstable();
        let count = (all.columns * all.rows) as usize;
        all.starts = vec![0; count + 1];
        for &(cell, _) in &cells {
            all.starts[cell as usize + 1] += 1;
        }
        for i in 0..count {
            all.starts[i + 1] += all.starts[i];
        }
        all.ids = cells.into_iter().map(|(_, i)| i).collect();
        all
    }

    fn column(&self, x: i64) -> i64 {
        ((x - self.low.x) / self.size).clamp(0, self.columns - 1)
    }

    fn row(&self, y: i64) -> i64 {
        ((y - self.low.y) / self.size).clamp(0, self.rows - 1)
    }

    /// Visits triangles that come within `r` units of a place; true if the place lies inside by
    /// as much.
    fn near(&self, p: Point, r: f64, mut visit: impl FnMut(&Flat, bool)) {
        let step = r.ceil() as i64;
        let (c0, c1) = (self.column(p.x - step), self.column(p.x + step));
        let (r0, r1) = (self.row(p.y - step), self.row(p.y + step));
        for row in r0..=r1 {
            for column in c0..=c1 {
                let cell = (row * self.columns + column) as usize;
                for &i in &self.ids[self.starts[cell] as usize..self.starts[cell + 1] as usize] {
                    let flat = &self.flats[i as usize];
                    let inside = depth(flat.corners, p);
                    if inside >= -r {
                        visit(flat, inside >= r);
                    }
                }
            }
        }
    }
}

/// How far a place lies inside a triangle, lattice units; negative outside.
fn depth(corners: [Point; 3], p: Point) -> f64 {
    let mut least = f64::INFINITY;
    for k in 0..3 {
        let (a, b) = (corners[k], corners[(k + 1) % 3]);
        let (dx, dy) = ((b.x - a.x) as f64, (b.y - a.y) as f64);
        let side = dx * (p.y - a.y) as f64 - dy * (p.x - a.x) as f64;
        least = least.min(side / dx.hypot(dy));
    }
    // Beyond a sharp corner the sides reach far: the box round the triangle cuts that off.
    let beyond = |low: i64, high: i64, v: i64| (v - low).min(high - v) as f64;
    let [a, b, c] = corners;
    let east = beyond(a.x.min(b.x).min(c.x), a.x.max(b.x).max(c.x), p.x);
    let north = beyond(a.y.min(b.y).min(c.y), a.y.max(b.y).max(c.y), p.y);
    least.min(east.min(0.0)).min(north.min(0.0))
}

/// Lowest and highest height a place may have, metres.
#[derive(Clone, Copy, Debug)]
pub struct Range {
    pub low: f64,
    pub high: f64,
    /// Steepness of the steepest plane there.
    pub steepest: f64,
}

impl Range {
    /// Distance of a height from the range, metres.
    pub fn off(&self, z: f64) -> f64 {
        (self.low - z).max(z - self.high).max(0.0)
    }
}

/// Heights a surface has within `r` units of a place; `None` off it.
pub fn surface_range(flats: &Flats, p: Point, r: f64) -> Option<Range> {
    let mut range: Option<Range> = None;
    flats.near(p, r, |flat, _| {
        let (z, slope) = (flat.plane.z_at(p), flat.plane.steepness());
        let own = Range {
            low: z - r * 1e-9 * slope,
            high: z + r * 1e-9 * slope,
            steepest: slope,
        };
        range = Some(range.map_or(own, |range| Range {
            low: range.low.min(own.low),
            high: range.high.max(own.high),
            steepest: range.steepest.max(slope),
        }));
    });
    range
}

/// What a patch makes of a range within `r` units of a place. With anchors the surface may stay
/// as it is, but not under the anchors themselves.
pub fn laid(
    under: Range,
    patch: &Flats,
    rule: Rule,
    anchor: Option<Label>,
    p: Point,
    r: f64,
) -> Range {
    let mut range = under;
    let mut kept = true;
    patch.near(p, r, |flat, is_inside| {
        let (z, slope) = (flat.plane.z_at(p), flat.plane.steepness());
        let slack = r * 1e-9 * slope;
        range.steepest = range.steepest.max(slope);
        kept &= !(is_inside && Some(flat.label) == anchor);
        match rule {
            Rule::Lower => {
                range.low = range.low.min(z - slack);
                if is_inside {
                    range.high = range.high.min(z + slack);
                }
            }
            Rule::Raise => {
                range.high = range.high.max(z + slack);
                if is_inside {
                    range.low = range.low.max(z - slack);
                }
            }
        }
    });
    if anchor.is_some() && kept {
        range.low = range.low.min(under.low);
        range.high = range.high.max(under.high);
    }
    range
}
