//! How the ground lies: which way it falls, its highest and lowest place, area by slope.
//!
//! Takes a surface and the survey it came from, gives numbers and names of shots. Knows no unit
//! and no words for people.

use crate::geom::P3;
use crate::surface::{Plane, Surface};
use crate::survey::Survey;

use super::build::LEVEL_TOLERANCE_M;
use super::slope_bands::{NUM_SLOPE_BANDS, SlopeBand, slope_bands};

/// How the ground lies.
#[derive(Clone, Debug, PartialEq)]
pub struct Relief {
    /// The plane that fits it best.
    pub plane: Plane,
    /// Its highest place.
    pub high: Spot,
    /// Its lowest place.
    pub low: Spot,
    /// Plan area by slope, from level to steep.
    pub bands: [SlopeBand; NUM_SLOPE_BANDS],
    /// Mean steepness, weighted by plan area.
    mean_slope_rise_per_run: f64,
}

/// A place of the ground.
#[derive(Clone, Debug, PartialEq)]
pub struct Spot {
    /// Where, in the local frame.
    pub at: P3,
    /// The shot taken there, if one was.
    pub shot: Option<String>,
}

/// The way the ground falls as a whole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fall {
    /// No two places differ by more than a rod can tell.
    Level,
    /// One way, east and north of it.
    OneWay([f64; 2]),
    /// Several ways: a hill, a hollow, a valley.
    ManyWays,
}

/// The ground falls one way if the slope of its best plane is at least this share of its mean
/// slope: 1 for a plane, 0 for a cone. Common practice, no source.
const ONE_WAY_SHARE: f64 = 0.5;

impl Relief {
    /// How a surface lies, with the names of the shots that lie on it; `None` without facets.
    pub fn of(surface: &Surface, survey: Option<&Survey>) -> Option<Relief> {
        let vertices = surface.vertices();
        let ids = || surface.facets().flat_map(|f| surface.vertex_ids(f));
        // Of places of one height the one shot first.
        let extreme = |sign: f64| {
            let by = |v: &u32| vertices[*v as usize].z * sign;
            ids().max_by(|a, b| by(a).total_cmp(&by(b)).then(b.cmp(a)))
        };
        let [high, low] = [extreme(1.0)?, extreme(-1.0)?].map(|v| vertices[v as usize]);
        let spot = |at: P3| Spot {
            at,
            shot: survey.and_then(|survey| {
                let here = survey
                    .shots
                    .iter()
                    .find(|s| s.p == at.p && (s.z_m - at.z).abs() <= LEVEL_TOLERANCE_M);
                here.map(|shot| shot.name.clone())
            }),
        };
        Some(Relief {
            plane: surface.best_plane()?,
            high: spot(high),
            low: spot(low),
            bands: slope_bands(surface),
            mean_slope_rise_per_run: surface.facts()?.mean_slope_rise_per_run,
        })
    }

    /// From the highest to the lowest place, metres.
    pub fn fall_m(&self) -> f64 {
        self.high.at.z - self.low.at.z
    }

    /// The way it falls.
    pub fn fall(&self) -> Fall {
        if self.fall_m() <= LEVEL_TOLERANCE_M {
            Fall::Level
        } else if self.plane.steepness() >= ONE_WAY_SHARE * self.mean_slope_rise_per_run {
            Fall::OneWay(self.plane.downhill())
        } else {
            Fall::ManyWays
        }
    }

    /// The steepest band that holds a hundredth of the ground or more, and the area of what is
    /// steeper, square metres: narrow banks, and slivers between shots almost in line.
    pub fn steepest(&self) -> (SlopeBand, f64) {
        let whole: i128 = self.bands.iter().map(|b| b.twice_area_nm2).sum();
        let is_telling = |band: &SlopeBand| band.twice_area_nm2 * 100 >= whole;
        // The whole is in seven bands, so one of them holds a seventh.
        let k = self.bands.iter().rposition(is_telling).unwrap_or(0);
        let steeper = self.bands[k + 1..].iter().map(SlopeBand::area_m2).sum();
        (self.bands[k], steeper)
    }
}
