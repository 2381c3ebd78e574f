//! The planes that facets lie in.

use crate::geom::{P3, Point, orient};
use crate::units::NM_PER_M;

/// What a facet belongs to; meaning is given by the caller.
pub type Label = u32;

/// A plane through a lattice point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plane {
    /// A point of the plane.
    pub through: P3,
    /// Rise per unit east and per unit north.
    pub slope: [f64; 2],
}

impl Plane {
    /// A level plane.
    pub fn level(z_m: f64) -> Plane {
        Plane {
            through: P3 {
                p: Point::default(),
                z: z_m,
            },
            slope: [0.0, 0.0],
        }
    }

    /// The plane through three points that do not lie on one line in plan.
    pub fn through(a: P3, b: P3, c: P3) -> Plane {
        let twice_area = orient(a.p, b.p, c.p);
        // The same number, and sooner found where it is small.
        let twice_area = i64::try_from(twice_area).map_or(twice_area as f64, |v| v as f64);
        let twice_area = twice_area / NM_PER_M / NM_PER_M;
        let [bx, by] = b.p.relative_m(a.p);
        let [cx, cy] = c.p.relative_m(a.p);
        let (bz, cz) = (b.z - a.z, c.z - a.z);
        Plane {
            through: a,
            slope: [
                (bz * cy - cz * by) / twice_area,
                (cz * bx - bz * cx) / twice_area,
            ],
        }
    }

    /// Height at a plan position, metres.
    pub fn z_at(&self, p: Point) -> f64 {
        let [x, y] = p.relative_m(self.through.p);
        self.through.z + (self.slope[0] * x + self.slope[1] * y)
    }

    /// Rise over run along the steepest line.
    pub fn steepness(&self) -> f64 {
        self.slope[0].hypot(self.slope[1])
    }

    /// East and north of the way water runs; its length is the steepness.
    pub fn downhill(&self) -> [f64; 2] {
        self.slope.map(|rise| -rise)
    }

    /// The way water runs, degrees clockwise from north, 0 to 360; `None` for a level plane.
    pub fn downhill_azimuth_deg(&self) -> Option<f64> {
        let [east, north] = self.downhill();
        let degrees = east.atan2(north).to_degrees().rem_euclid(360.0);
        (self.steepness() > 0.0).then_some(degrees)
    }
}

/// Where facets come from: one flat piece of measured ground or of a feature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Source {
    /// The plane the facets lie in.
    pub plane: Plane,
    /// What they belong to.
    pub label: Label,
}
