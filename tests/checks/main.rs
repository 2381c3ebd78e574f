//! The program held against the table of check values: published figures and closed forms.
//!
//! Case numbers are those of the project's table of check values. Every number is typed in as
//! the table prints it, with its source beside it: "closed form" is geometry or arithmetic,
//! "published" was read in the named document, "from memory" was not seen again. Only what goes
//! through a function of the program is asserted; the other cases are listed below.
//!
//! Cases that go through no function of the program, and so are not asserted here:
//!
//! TIN-09  the bilinear height 0.5: the program interpolates in triangles only.
//! TIN-11  the determinant 3450 itself: the in-circle test lies inside the triangulation crate,
//!         and what it decides is asserted.
//! TIN-13  RMSE to 95 percent of a point cloud: no clouds are read, and no range of another share
//!         is made from an RMSE.
//! VOL-02  174 by two horizontal end areas: sections are vertical.
//! VOL-09  the spherical cap: no feature has a curved floor.
//! VOL-13  the conical heap and
//! VOL-14  the windrow: the program sizes no heap of spoil.
//! SEC-06, SEC-11 (totals)  volumes from a list of areas: sections are taken from surfaces.
//! SEC-07  mass haul with stripping: there is no haul along a line.
//! SOI-03  swell and shrink from three unit weights: factors are given, weights follow.
//! SOI-05  two meanings of shrink: the program asks for ratios and knows no shrink percent.
//! BRM-02  top widths of dams of 10 ft and more: no berm here is one.
//! BRM-07  freeboard over the flowing overflow: no flow of water is computed.
//! SOI-11, SOI-12  stone by porosity and void ratio: no feature is filled with stone.
//!
//! Cases of slopes, digs, drainage, walls and berms that ask a whole job stand in
//! `tests/planted_faults`, `tests/drainage.rs`, `tests/no_room.rs`, `tests/statics.rs` and
//! `tests/access.rs`.
#![allow(clippy::unwrap_used)]

#[path = "../common/book.rs"]
mod book;
#[path = "../common/mod.rs"]
mod common;
mod levels;
mod sections;
mod slopes;
mod soil;
mod surfaces;
mod volumes;

use common::{at, ring};
use cutbank::design::shape::{Corners, RibbonLabels, Sides, floor_with_sides};
use cutbank::earthwork::{Soil, section_areas};
use cutbank::files::OneThread;
use cutbank::geom::{P3, Point};
use cutbank::job::SoilSpec;
use cutbank::surface::{CutFill, Patch, Rule, Surface, cut_fill};

/// Metres in an international foot.
const FT: f64 = 0.3048;

/// Closed forms: what a lattice of a nanometre leaves of ten digits.
const EXACT: f64 = 1.0e-9;

const GROUND: u32 = 0;

fn one_triangle(corners: [[f64; 2]; 3], z: [f64; 3]) -> Surface {
    let vertices: Vec<P3> = corners
        .iter()
        .zip(z)
        .map(|(c, z)| at(c[0], c[1], z))
        .collect();
    Surface::from_triangles(vertices, &[[0, 1, 2]], GROUND).unwrap()
}

fn total(from: &Surface, to: &Surface) -> CutFill {
    cut_fill(from, to, &OneThread).total
}

fn composed(ground: &Surface, patch: &Patch, rule: Rule) -> Surface {
    let mut surface = ground.clone();
    surface.compose(patch, rule).unwrap();
    surface.check_consistent().unwrap();
    surface
}

fn sides(rule: Rule, run_per_rise: f64, ground: &Surface) -> Sides {
    let (low, high) = ground.z_range().unwrap();
    Sides {
        rule,
        run_per_rise,
        limit_z_m: if rule == Rule::Lower { high } else { low },
        corners: Corners::Mitre,
        chord_m: 0.005,
    }
}

/// A floor (rule lower) or crest (rule raise) with sides laid on a ground.
fn laid(ground: &Surface, corners: &[[f64; 2]], z: f64, sides: &Sides) -> Surface {
    let patch = floor_with_sides(&ring(corners), z, 1, sides, &mut |_| 2);
    composed(ground, &patch, sides.rule)
}

const LABELS: RibbonLabels = RibbonLabels {
    middle: 1,
    left: 2,
    right: 3,
    ends: [4, 5],
};

/// Lowest and highest plan position of everything that is not ground.
fn extent(surface: &Surface) -> [[f64; 2]; 2] {
    let mut low = [f64::INFINITY; 2];
    let mut high = [f64::NEG_INFINITY; 2];
    for f in surface.facets().filter(|&f| surface.label(f) != GROUND) {
        for corner in surface.corners(f) {
            let p = [corner.p.x_m(), corner.p.y_m()];
            for k in 0..2 {
                low[k] = low[k].min(p[k]);
                high[k] = high[k].max(p[k]);
            }
        }
    }
    [low, high]
}

/// Areas of cut and fill in a section at right angles to the y axis.
fn section_at(x: f64, y: [f64; 2], ground: &Surface, design: &Surface) -> [f64; 2] {
    let line = [Point::from_m(x, y[0]), Point::from_m(x, y[1])];
    section_areas(&ground.profile(&line), &design.profile(&line))
}

/// A soil with factors of its own; loads are limited by room only.
fn soil(loose_per_bank: f64, tamped_per_bank: f64) -> Soil {
    Soil::from_spec(&SoilSpec {
        loose_per_bank: Some(loose_per_bank),
        tamped_per_bank: Some(tamped_per_bank),
        truck_kg: Some(1e9),
        barrow_kg: Some(1e9),
        ..SoilSpec::default()
    })
    .unwrap()
}
