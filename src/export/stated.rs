//! What every format says of a surface, and the numbers its vertices and facets get.
//!
//! Takes a surface, gives its used vertices in order and how well corners tell its planes.

use crate::surface::Surface;

/// The vertices that belong to a facet, ascending, and their numbers from 1.
pub(super) struct Numbered {
    /// Vertices of the surface.
    pub(super) used: Vec<u32>,
    /// Number by vertex; 0 for one that belongs to no facet.
    pub(super) number: Vec<u32>,
}

impl Numbered {
    pub(super) fn of(surface: &Surface) -> Numbered {
        let mut number = vec![0u32; surface.vertices().len()];
        for f in surface.facets() {
            for v in surface.vertex_ids(f) {
                number[v as usize] = 1;
            }
        }
        let mut used = Vec::new();
        for (v, number) in number.iter_mut().enumerate() {
            if *number > 0 {
                used.push(v as u32);
                *number = used.len() as u32;
            }
        }
        Numbered { used, number }
    }

    /// Numbers of the corners of a facet.
    pub(super) fn corners(&self, surface: &Surface, facet: u32) -> [u32; 3] {
        surface.vertex_ids(facet).map(|v| self.number[v as usize])
    }
}

/// The most by which any volume differs between the planes facets come from, with which volumes
/// are counted, and planes through their corners, which is all a file can hold; cubic metres.
///
/// The difference is linear over a facet, so it is nowhere larger than at a corner.
pub(super) fn corners_off_planes_m3(surface: &Surface) -> f64 {
    surface
        .facets()
        .map(|f| {
            let plane = surface.source(f).plane;
            let corners = surface.corners(f);
            let off = corners.map(|c| (c.z - plane.z_at(c.p)).abs());
            surface.area_m2(f) * off.into_iter().fold(0.0, f64::max)
        })
        .sum()
}
