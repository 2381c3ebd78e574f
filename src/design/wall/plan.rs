//! A wall as it is to be built: where its courses lie, and what is under and behind it.
//!
//! Quantities that follow from the wall alone are here; what hangs on the ground round it is
//! counted by `earthwork`.

use crate::geom::P3;

use super::super::shape::CentreLine;

/// A wall as it is to be built.
#[derive(Clone, Debug)]
pub struct WallPlan {
    /// The foot of the face, at the level of the base.
    pub line: CentreLine,
    /// 1 if the body stands to the left of the line, -1 if to the right.
    pub side: f64,
    /// Thickness of the base, metres.
    pub thickness_m: f64,
    /// Lean of the face: it goes back so much for one up.
    pub batter_run_per_rise: f64,
    /// Stretches with one base level, in order.
    pub stretches: Vec<WallStretch>,
    /// Depth of the base for one of the height, where it follows the rule.
    pub buried_per_height: Option<f64>,
    /// Height of a course, metres.
    pub course_m: Option<f64>,
    /// Length of a unit, metres.
    pub unit_m: Option<f64>,
    /// Thickness of the cap, metres; its top is that of the wall.
    pub cap_m: Option<f64>,
    /// Stone under the first course.
    pub base_stone: Option<BaseStone>,
    /// Stone behind the wall.
    pub drain_stone: Option<DrainStone>,
    /// Drain pipe along the base.
    pub pipe: Option<Pipe>,
    /// What it is made of, as the job says.
    pub made_of: Option<String>,
    /// Weight, kg/m3, as the job says.
    pub kg_m3: Option<f64>,
    /// Volume of the body with its cap, m3, upright faces taken as upright.
    pub body_m3: f64,
    /// Volume of the stone under the first course, m3.
    pub base_stone_m3: f64,
    /// The strip behind the back where drain stone goes: quadrangles in plan for every stretch, at
    /// the level of the base.
    pub drain_strips: Vec<Vec<[P3; 4]>>,
}

/// A stretch of a wall with a level base.
#[derive(Clone, Debug, PartialEq)]
pub struct WallStretch {
    /// Station where it begins, metres.
    pub from_m: f64,
    /// Station where it ends, metres.
    pub to_m: f64,
    /// Level of the underside of its first course, metres.
    pub base_z_m: f64,
    /// Stations and levels of its top, straight between.
    pub top: Vec<(f64, f64)>,
}

/// Stone under the first course.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct BaseStone {
    /// Thickness, metres.
    pub thick_m: f64,
    /// How far it reaches before the foot of the face, metres.
    pub before_m: f64,
    /// How far it reaches behind the back, metres.
    pub behind_m: f64,
}

/// Stone behind a wall, from the level of its base up.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct DrainStone {
    /// Width behind the back, metres.
    pub width_m: f64,
    /// Soil on top of it, metres.
    pub soil_cap_m: f64,
}

/// A drain pipe along the base, behind the wall.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Pipe {
    /// True if its water comes out at the start of the line, false at its end.
    pub out_at_start: bool,
    /// Fall towards the outlet, rise over run.
    pub fall: f64,
}

impl WallStretch {
    /// Level of the top at a station, metres.
    pub fn top_at(&self, station_m: f64) -> f64 {
        let after = self.top.partition_point(|k| k.0 < station_m);
        match (
            after.checked_sub(1).map(|k| self.top[k]),
            self.top.get(after),
        ) {
            (Some((s0, z0)), Some(&(s1, z1))) if s1 > s0 => {
                z0 + (z1 - z0) * (station_m - s0) / (s1 - s0)
            }
            (_, Some(&(_, z))) | (Some((_, z)), None) => z,
            (None, None) => self.base_z_m,
        }
    }

    /// Length, metres.
    pub fn length_m(&self) -> f64 {
        self.to_m - self.from_m
    }
}

impl WallPlan {
    /// Corners of a section at a station: how far behind the foot of the face and how high above
    /// the base, metres; from the toe to the heel, and over the top back.
    pub fn section(&self, height_m: f64) -> [[f64; 2]; 4] {
        let [b, back] = [self.thickness_m, height_m * self.batter_run_per_rise];
        [[0.0, 0.0], [b, 0.0], [b, height_m], [back, height_m]]
    }

    /// The stretch that holds a station; at a step the one before it.
    pub fn stretch_at(&self, station_m: f64) -> Option<&WallStretch> {
        let after = self.stretches.partition_point(|s| s.to_m < station_m);
        self.stretches.get(after).or(self.stretches.last())
    }

    /// Levels of the underside of the pipe by station, metres: it falls everywhere towards its
    /// outlet by its fall at least, and lies nowhere below the base.
    pub fn pipe_levels(&self) -> Vec<(f64, f64)> {
        let Some(pipe) = self.pipe else {
            return Vec::new();
        };
        let mut stretches: Vec<&WallStretch> = self.stretches.iter().collect();
        if !pipe.out_at_start {
            stretches.reverse();
        }
        let mut levels: Vec<(f64, f64)> = Vec::new();
        let mut z = f64::NEG_INFINITY;
        for stretch in stretches {
            let (near, far) = match pipe.out_at_start {
                true => (stretch.from_m, stretch.to_m),
                false => (stretch.to_m, stretch.from_m),
            };
            z = z.max(stretch.base_z_m);
            levels.push((near, z));
            z += pipe.fall * stretch.length_m();
            levels.push((far, z));
        }
        levels
    }
}

/// Volume between sections, m3: corners of a section in order, the same number in each.
pub(super) fn solid_m3(sections: &[Vec<P3>]) -> f64 {
    let Some(origin) = sections.first().and_then(|s| s.first()).copied() else {
        return 0.0;
    };
    let from = |c: P3| {
        let [x, y] = c.p.relative_m(origin.p);
        [x, y, c.z - origin.z]
    };
    // Six times the tetrahedron from the origin to a triangle.
    let six = |t: [P3; 3]| {
        let [[ax, ay, az], [bx, by, bz], [cx, cy, cz]] = t.map(from);
        ax * (by * cz - bz * cy) - ay * (bx * cz - bz * cx) + az * (bx * cy - by * cx)
    };
    let fan = |ring: &[P3]| -> f64 {
        (2..ring.len())
            .map(|k| six([ring[0], ring[k - 1], ring[k]]))
            .sum()
    };
    let mut sum = 0.0;
    if let [first, .., last] = sections {
        sum += fan(last) - fan(first);
    }
    for pair in sections.windows(2) {
        let n = pair[0].len();
        for k in 0..n {
            let (a, b) = (pair[0][k], pair[0][(k + 1) % n]);
            let (c, d) = (pair[1][(k + 1) % n], pair[1][k]);
            sum += six([a, b, c]) + six([a, c, d]);
        }
    }
    (sum / 6.0).abs()
}
