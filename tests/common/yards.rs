//! Made yards of a normal job, with noise, a bank, and with or without its lines.
#![allow(dead_code, unreachable_pub)]

use crate::common::Random;
use crate::made::{Booked, Waves, normal, strewn};

/// How exact soil shots are meant to be, metres; four of five made shots lie within.
pub const SOIL_M: f64 = 0.03;

/// Standard deviation of made shots with that accuracy, feet.
pub const NOISE_FT: f64 = 0.1 / 1.2816;

/// A yard of a normal job: 40 to 80 ft across with a fall of 2 to 12 ft, an undulation, a bank,
/// 40 to 150 shots with those of top and toe among them.
pub struct Yard {
    pub shots: Vec<Booked>,
    pub side: f64,
    /// The first shots are strewn over the yard, in walking order; the rest lie on the bank.
    pub strewn: usize,
    pub has_lines: bool,
    /// Level of the laser.
    pub plane: f64,
    /// Level of the ground without the noise of the shots.
    pub ground: Box<dyn Fn(f64, f64) -> f64>,
}

/// The yard of a seed, its shots scattered by that standard deviation.
pub fn yard(seed: u64, noise_ft: f64) -> Yard {
    let mut random = Random(seed * 31 + 5);
    let side = random.between(40.0, 80.0);
    let count = 40 + random.below(111) as usize;
    let (fall, turn) = (
        random.between(2.0, 12.0),
        random.between(0.0, std::f64::consts::TAU),
    );
    let slope = [fall / side * turn.cos(), fall / side * turn.sin()];
    let z = random.between(0.1, 0.5);
    let waves = Waves::new(&mut random, side * 0.6, 3, 1.3, z);
    let (high, foot) = (random.between(1.0, 3.0), random.between(0.25, 0.6) * side);
    let bend = random.between(-3.0, 3.0);
    let wide = high * random.between(1.5, 2.5);
    let line = move |x: f64| foot + bend * (x / 12.0).sin();
    let ground = move |x: f64, y: f64| {
        let bank = ((y - line(x)) / wide).clamp(0.0, 1.0) * high;
        95.0 + slope[0] * x + slope[1] * y + waves.z(x, y) + bank
    };
    let has_lines = seed.is_multiple_of(2);
    let on_bank = if has_lines { count / 4 } else { 0 };
    let mut places: Vec<([f64; 2], &str)> = strewn(&mut random, count - on_bank, side)
        .into_iter()
        .map(|p| (p, "ground"))
        .collect();
    let strewn = places.len();
    for k in 0..on_bank {
        let half = on_bank / 2;
        let (code, up) = if k < half {
            ("top", wide)
        } else {
            ("toe", 0.0)
        };
        let x = ((k % half.max(1)) as f64 + random.between(0.2, 0.8)) / half.max(1) as f64 * side;
        if k / half.max(1) < 2 {
            places.push(([x, line(x) + up], code));
        }
    }
    let shots: Vec<Booked> = places
        .into_iter()
        .enumerate()
        .map(|(k, ([x, y], code))| Booked {
            name: (k + 1).to_string(),
            x: (x * 10.0).round() / 10.0,
            y: (y * 10.0).round() / 10.0,
            z: ((ground(x, y) + noise_ft * normal(&mut random)) * 100.0).round() / 100.0,
            code,
        })
        .collect();
    let top = shots.iter().map(|s| s.z).fold(0.0, f64::max);
    Yard {
        shots,
        side,
        strewn,
        has_lines,
        plane: top + 4.0,
        ground: Box::new(ground),
    }
}
