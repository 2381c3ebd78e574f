//! Coordinates from the stored integers, without a rounding on the way.
//!
//! Takes scale and offset of a header, which are decimals however they are stored, gives whole
//! nanometres and metres. A coordinate is a ratio of whole numbers until it is rounded, once.

use super::header::Header;
use super::words::refused;
use crate::diag::Failure;
use crate::geom::{Origin, P3, Point};
use crate::units::{Exact, LengthUnit, MAX_COORDINATE_M, NM_PER_M};

/// Beyond this, whole numbers are no longer exact in `f64`.
const EXACT: i128 = 1 << 53;

/// How stored integers become places: `(stored * step + start) / parts`.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Axis {
    step: i128,
    start: i128,
    parts: i128,
}

impl Axis {
    /// An axis in nanometres, from scale and offset in the unit of a file.
    fn nanometres(scale: f64, offset: f64, unit: LengthUnit) -> Option<Axis> {
        let decimals = [Exact::of_stored(scale)?, Exact::of_stored(offset)?];
        let ([step, start], parts) = unit.scale().over_one(decimals)?;
        Axis { step, start, parts }.shortened()
    }

    /// The same axis in metres.
    fn metres(self) -> Option<Axis> {
        let parts = self.parts.checked_mul(NM)?;
        Axis { parts, ..self }.shortened()
    }

    /// The same ratios in the smallest whole numbers; `None` if a stored integer leads to a number
    /// that cannot be held.
    fn shortened(self) -> Option<Axis> {
        let shared = gcd(gcd(self.step, self.start), self.parts);
        let axis = Axis {
            step: self.step / shared,
            start: self.start / shared,
            parts: self.parts / shared,
        };
        let largest = axis
            .step
            .checked_mul(1 << 31)?
            .checked_add(axis.start.abs())?;
        largest.checked_mul(4).map(|_| axis)
    }

    /// The numerator of a coordinate.
    fn whole(&self, stored: i32) -> i128 {
        i128::from(stored) * self.step + self.start
    }

    /// To the nearest whole number, halves away from zero.
    fn round(&self, stored: i32) -> i128 {
        let (num, half) = (self.whole(stored), self.parts / 2);
        if num >= 0 {
            (num + half) / self.parts
        } else {
            -((half - num) / self.parts)
        }
    }
}

fn gcd(a: i128, b: i128) -> i128 {
    let (mut a, mut b) = (a.abs(), b.abs());
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a.max(1)
}

/// How the stored integers of a file become points of a frame.
#[derive(Clone, Debug)]
pub(super) struct Lattice {
    /// Where the frame begins.
    pub(super) origin: Origin,
    plan: [PlanAxis; 2],
    height: HeightAxis,
}

/// East or north, about the origin.
#[derive(Clone, Copy, Debug)]
enum PlanAxis {
    /// The step is whole nanometres, and all sums are in range.
    Whole { step: i64, start: i64 },
    /// Nanometres in odd parts (of US survey feet: 3937), so that there are no halves.
    Odd { step: i64, start: i64, parts: i64 },
    /// Anything else.
    Any { axis: Axis, origin: i128 },
}

/// Heights, metres.
#[derive(Clone, Copy, Debug)]
enum HeightAxis {
    /// Numerator and denominator are exact in `f64`: one rounding.
    Exact { step: i64, start: i64, parts: f64 },
    /// Anything else: three.
    Any(Axis),
}

impl Lattice {
    /// The lattice of a file in these units, with its origin at the whole metre below `low`,
    /// stored integers of a place.
    pub(super) fn new(
        header: &Header,
        [plan_unit, height_unit]: [LengthUnit; 2],
        low: [i32; 2],
        file: &str,
    ) -> Result<Lattice, Failure> {
        let known = |k: usize, unit| {
            let axis = Axis::nanometres(header.scale[k], header.offset[k], unit)?;
            if k == 2 { axis.metres() } else { Some(axis) }
        };
        let axis = |k: usize, unit| {
            known(k, unit).ok_or_else(|| {
                refused(
                    file,
                    "cloud-scale",
                    format!(
                        "scale {:e} and offset {:e} of {} in the header cannot be taken together",
                        header.scale[k],
                        header.offset[k],
                        ["x", "y", "z"][k]
                    ),
                    super::header::DAMAGED,
                )
            })
        };
        let [x, y] = [axis(0, plan_unit)?, axis(1, plan_unit)?];
        let z = axis(2, height_unit)?;
        let metres = |axis: &Axis, stored| axis.round(stored).div_euclid(NM);
        let [x_m, y_m] = [metres(&x, low[0]), metres(&y, low[1])];
        if [x_m, y_m]
            .iter()
            .any(|m| m.unsigned_abs() > MAX_COORDINATE_M as u128)
        {
            return Err(too_far(file, [x_m as f64, y_m as f64]));
        }
        let height = match (small(z.whole(i32::MIN)), small(z.whole(i32::MAX))) {
            (true, true) if z.parts < EXACT => HeightAxis::Exact {
                step: z.step as i64,
                start: z.start as i64,
                parts: z.parts as f64,
            },
            _ => HeightAxis::Any(z),
        };
        Ok(Lattice {
            origin: Origin {
                x_m: x_m as i64,
                y_m: y_m as i64,
            },
            plan: [plan_axis(x, x_m * NM), plan_axis(y, y_m * NM)],
            height,
        })
    }

    /// The point of three stored integers; `None` beyond the range of coordinates.
    pub(super) fn point(&self, [x, y, z]: [i32; 3]) -> Option<P3> {
        let p = Point::new(self.plan[0].nm(x), self.plan[1].nm(y));
        let z = self.height.metres(z);
        let far = |nm: i64| nm.unsigned_abs() > FARTHEST_NM;
        (!far(p.x) && !far(p.y) && z.abs() <= MAX_COORDINATE_M).then_some(P3 { p, z })
    }
}

/// Nanometres in a metre.
const NM: i128 = NM_PER_M as i128;

/// Farthest from the origin that a point may lie, nanometres: both are within the limit.
const FARTHEST_NM: u64 = 2 * (MAX_COORDINATE_M * NM_PER_M) as u64;

fn small(number: i128) -> bool {
    number.abs() < EXACT
}

/// The quickest exact way for an axis about an origin in nanometres.
fn plan_axis(axis: Axis, origin: i128) -> PlanAxis {
    let about = Axis {
        start: axis.start - origin * axis.parts,
        ..axis
    };
    let fits = |stored| about.whole(stored).unsigned_abs() < 1 << 62;
    if fits(i32::MIN) && fits(i32::MAX) && axis.parts < 1 << 31 && axis.parts % 2 == 1 {
        let (step, start) = (about.step as i64, about.start as i64);
        return match axis.parts as i64 {
            1 => PlanAxis::Whole { step, start },
            parts => PlanAxis::Odd { step, start, parts },
        };
    }
    PlanAxis::Any { axis, origin }
}

impl PlanAxis {
    /// Nanometres from the origin.
    fn nm(&self, stored: i32) -> i64 {
        let stored_wide = i64::from(stored);
        match *self {
            PlanAxis::Whole { step, start } => stored_wide * step + start,
            PlanAxis::Odd { step, start, parts } => {
                (stored_wide * step + start + parts / 2).div_euclid(parts)
            }
            PlanAxis::Any { axis, origin } => {
                let nm = axis.round(stored) - origin;
                nm.clamp(i128::from(i64::MIN), i128::from(i64::MAX)) as i64
            }
        }
    }
}

impl HeightAxis {
    fn metres(&self, stored: i32) -> f64 {
        match *self {
            HeightAxis::Exact { step, start, parts } => {
                (i64::from(stored) * step + start) as f64 / parts
            }
            HeightAxis::Any(axis) => axis.whole(stored) as f64 / axis.parts as f64,
        }
    }
}

/// A coordinate that lies on no map.
pub(super) fn too_far(file: &str, [x, y]: [f64; 2]) -> Failure {
    refused(
        file,
        "cloud-too-far",
        format!("points at {x:.0}, {y:.0} m: no coordinate is larger than {MAX_COORDINATE_M:.0} m"),
        "look at the units; a file in degrees must be brought to metres or feet first",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn header(scale: f64, offset: [f64; 3]) -> Header {
        Header {
            minor: 2,
            format: 0,
            packed: false,
            copc: false,
            record_len: 20,
            points: 1,
            by_return: [0; 15],
            scale: [scale; 3],
            offset,
            low: [0.0; 3],
            high: [0.0; 3],
            wkt_rules: false,
            points_at: 227,
            points_end: 247,
            records: Vec::new(),
        }
    }

    /// A stored integer is a decimal: its text, read exactly, is the coordinate.
    #[test]
    fn a_stored_integer_is_the_decimal_it_is_written_as() {
        for (unit, scale, offset, stored, text) in [
            (LengthUnit::Metre, 0.001, 500_000.0, 123_456, "500123.456"),
            (
                LengthUnit::Metre,
                0.00025,
                270_000.0,
                13_428_580,
                "273357.145",
            ),
            (
                LengthUnit::Metre,
                1.0e-7,
                0.1,
                -1_999_999_999,
                "-199.8999999",
            ),
            (LengthUnit::Foot, 0.01, 0.0, 63_600_176, "636001.76"),
            (LengthUnit::Foot, 0.01, 637_301.2, -168_135, "635619.85"),
            (
                LengthUnit::UsSurveyFoot,
                0.001,
                2_445_000.0,
                180_001,
                "2445180.001",
            ),
            (
                LengthUnit::UsSurveyFoot,
                0.01,
                -7.5,
                i32::MIN,
                "-21474843.98",
            ),
            (LengthUnit::UsSurveyFoot, 0.000_1, 0.0, -12_345, "-1.2345"),
        ] {
            let header = header(scale, [offset; 3]);
            let lattice = Lattice::new(&header, [unit, unit], [stored; 2], "a.las").unwrap();
            let p = lattice.point([stored; 3]).unwrap();
            let nm = unit.parse_nm(text).unwrap();
            let origin = Origin::below(nm, nm);
            assert_eq!(lattice.origin, origin, "{text}");
            assert_eq!(Some(p.p), origin.local(nm, nm), "{text}");
            // One ulp of the height: the text goes through two roundings, the lattice through one.
            let z = unit.to_m(text.parse().unwrap());
            assert!((p.z - z).abs() <= z.abs() * 2.3e-16, "{text}: {} {z}", p.z);
        }
    }

    #[test]
    fn scales_that_are_no_decimals_are_taken_as_stored() {
        let third = 1.0 / 3.0;
        let header = header(third, [1.0e6; 3]);
        let unit = [LengthUnit::Metre; 2];
        let lattice = Lattice::new(&header, unit, [3; 2], "a.las").unwrap();
        let p = lattice.point([3, 4, 6]).unwrap();
        // 3 * 0.3333333333333333 is 0.9999999999999999: a nanometre above 1,000,001 m it is not.
        assert_eq!(
            (p.p, lattice.origin.x_m),
            (Point::new(0, 333_333_333), 1_000_001)
        );
        assert!((p.z - 1_000_002.0).abs() < 1e-9, "{}", p.z);
    }

    #[test]
    fn what_lies_on_no_map_is_refused() {
        let far = header(10.0, [0.0; 3]);
        let unit = [LengthUnit::Metre; 2];
        assert!(Lattice::new(&far, unit, [i32::MAX; 2], "a.las").is_err());
        let lattice = Lattice::new(&far, unit, [0; 2], "a.las").unwrap();
        assert_eq!(lattice.point([0, 0, i32::MAX]), None);
        assert_eq!(lattice.point([i32::MIN, 0, 0]), None);
    }
}
