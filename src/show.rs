//! Numbers for people: in the job's unit, rounded by what the number is for.
//!
//! The only place that rounds. Volumes and slopes keep full precision everywhere else.

use crate::surface::CutFill;
use crate::units::{GRAVITY_M_S2, KG_PER_LB, LengthUnit, M3_PER_FT3, PA_PER_PSF};

/// Cubic or square metres below this are the kernel's rounding, not soil.
const NOTHING: f64 = 1.0e-6;

/// Writes SI numbers in a job's unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Show {
    unit: LengthUnit,
}

impl Show {
    /// For a job in this unit.
    pub fn new(unit: LengthUnit) -> Show {
        Show { unit }
    }

    /// The unit.
    pub fn unit(self) -> LengthUnit {
        self.unit
    }

    /// "ft" or "m": both feet are "ft" to a reader.
    pub fn length_unit(self) -> &'static str {
        if self.unit.is_foot() { "ft" } else { "m" }
    }

    /// "yd3" or "m3".
    pub fn volume_unit(self) -> &'static str {
        self.unit.volume_name()
    }

    /// "sq ft" or "m2".
    pub fn area_unit(self) -> &'static str {
        if self.unit.is_foot() { "sq ft" } else { "m2" }
    }

    /// A hard level or height: 0.01 ft or 1 mm, as rods are read.
    pub fn level(self, m: f64) -> String {
        if self.unit.is_foot() {
            fixed(self.unit.from_m(m), 2)
        } else {
            fixed(m, 3)
        }
    }

    /// The same with its unit.
    pub fn level_with_unit(self, m: f64) -> String {
        format!("{} {}", self.level(m), self.length_unit())
    }

    /// A closure or an uncertainty, too small for the rounding of levels, with its unit.
    pub fn small_height(self, m: f64) -> String {
        if self.unit.is_foot() {
            format!("{:.3} ft", self.unit.from_m(m))
        } else {
            format!("{m:.4} m")
        }
    }

    /// A paced distance, with its unit: whole feet, tenths of a metre.
    pub fn paced(self, m: f64) -> String {
        let digits = usize::from(!self.unit.is_foot());
        format!(
            "{} {}",
            fixed(self.unit.from_m(m), digits),
            self.length_unit()
        )
    }

    /// A soil level or a tape distance: 0.1 ft or 1 cm, with its unit.
    pub fn length(self, m: f64) -> String {
        format!("{} {}", self.length_number(m), self.length_unit())
    }

    /// The same without the unit, for column heads that carry it.
    pub fn length_number(self, m: f64) -> String {
        if self.unit.is_foot() {
            fixed(self.unit.from_m(m), 1)
        } else {
            fixed(m, 2)
        }
    }

    /// A working volume, with its unit.
    pub fn volume(self, m3: f64) -> String {
        format!("{} {}", self.volume_number(m3), self.volume_unit())
    }

    /// The same without the unit.
    pub fn volume_number(self, m3: f64) -> String {
        format!("{:.1}", m3 / self.unit.volume_m3())
    }

    /// An area, with its unit.
    pub fn area(self, m2: f64) -> String {
        let value = m2 / self.unit.area_m2();
        let digits = usize::from(value < 100.0);
        format!("{value:.digits$} {}", self.area_unit())
    }

    /// A volume, where nothing at all is "none" and a trace is not shown as zero.
    pub fn volume_or_none(self, m3: f64) -> String {
        let least = 0.05 * self.unit.volume_m3();
        match m3 {
            v if v < NOTHING => "none".to_owned(),
            v if v < least => format!("under 0.1 {}", self.volume_unit()),
            v => self.volume(v),
        }
    }

    /// An area, where nothing at all is "none" and a trace is not shown as zero.
    pub fn area_or_none(self, m2: f64) -> String {
        let least = 0.05 * self.unit.area_m2();
        match m2 {
            v if v < NOTHING => "none".to_owned(),
            v if v < least => format!("under 0.1 {}", self.area_unit()),
            v => self.area(v),
        }
    }

    /// "cut 3.2 yd3, fill 1.0 yd3".
    pub fn cut_fill(self, v: &CutFill) -> String {
        format!(
            "cut {} bank, fill {} tamped",
            self.volume_or_none(v.cut_m3),
            self.volume_or_none(v.fill_m3)
        )
    }

    /// A pressure: whole pounds a square foot, or tenths of a kilopascal.
    pub fn pressure(self, pa: f64) -> String {
        if self.unit.is_foot() {
            format!("{} lb/sq ft", fixed(pa / PA_PER_PSF, 0))
        } else {
            format!("{} kPa", fixed(pa / 1000.0, 1))
        }
    }

    /// A force on a length of wall: whole pounds a foot, or tenths of a kilonewton a metre.
    pub fn thrust(self, n_m: f64) -> String {
        if self.unit.is_foot() {
            let lb_ft = n_m / GRAVITY_M_S2 / KG_PER_LB * LengthUnit::Foot.metres();
            format!("{} lb/ft", fixed(lb_ft, 0))
        } else {
            format!("{} kN/m", fixed(n_m / 1000.0, 1))
        }
    }

    /// A weight by volume: whole pounds a cubic foot, or tens of kilograms a cubic metre.
    pub fn weight(self, kg_m3: f64) -> String {
        if self.unit.is_foot() {
            format!("{} lb/ft3", fixed(kg_m3 * M3_PER_FT3 / KG_PER_LB, 0))
        } else {
            format!("{} kg/m3", fixed((kg_m3 / 10.0).round() * 10.0, 0))
        }
    }

    /// A place in the survey's coordinates.
    pub fn place(self, x_m: f64, y_m: f64) -> String {
        format!("{} E, {} N", self.length(x_m), self.length(y_m))
    }

    /// A level as the crew reads it: below the benchmark, or ABOVE it.
    pub fn below_benchmark(self, z_m: f64, benchmark_m: f64) -> String {
        let drop = benchmark_m - z_m;
        if drop >= 0.0 {
            format!("{} below", self.level(drop))
        } else {
            format!("{} ABOVE", self.level(-drop))
        }
    }
}

/// A number to so many decimals, never "-0.0".
fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| b == b'0' || b == b'.') => rest.to_owned(),
        _ => text,
    }
}

/// A count with commas between thousands.
pub fn thousands(count: u64) -> String {
    let digits = count.to_string();
    let mut words = String::new();
    for (k, digit) in digits.chars().enumerate() {
        if k > 0 && (digits.len() - k).is_multiple_of(3) {
            words.push(',');
        }
        words.push(digit);
    }
    words
}
