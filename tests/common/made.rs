//! Made grounds and the shots somebody might take of them, seeded.
#![allow(dead_code, missing_docs, unreachable_pub)]

use cutbank::job::{SurveyKind, SurveySpec};
use cutbank::survey::Survey;
use cutbank::units::LengthUnit;

use crate::common::{Folder, Random};

/// A booked shot: plan and height in the unit of its file.
#[derive(Clone, Debug)]
pub struct Booked {
    pub name: String,
    pub x: f64,
    pub y: f64,
    pub z: f64,
    pub code: &'static str,
}

/// How a points file of that unit is read.
pub fn points_spec(file: &str, unit: LengthUnit) -> SurveySpec {
    SurveySpec::new(SurveyKind::Points, file, unit)
}

/// The survey of a points file with these rows; the first shot stands on line 2.
pub fn survey(shots: &[Booked], unit: LengthUnit) -> Survey {
    let mut text = "name,x,y,z,code\n".to_owned();
    for s in shots {
        text += &format!("{},{:.3},{:.3},{:.4},{}\n", s.name, s.x, s.y, s.z, s.code);
    }
    let folder = Folder::default().with("shots.csv", &text);
    let specs = [points_spec("shots.csv", unit)];
    let (survey, _) = Survey::read(&specs, &folder).unwrap_or_else(|e| panic!("{e}"));
    survey
}

/// Close to a normal distribution of standard deviation one: twelve even numbers added up.
pub fn normal(random: &mut Random) -> f64 {
    (0..12).map(|_| random.between(0.0, 1.0)).sum::<f64>() - 6.0
}

/// Waves of shrinking length, heights as length to the power `roughness`.
pub struct Waves(Vec<[f64; 4]>);

impl Waves {
    pub fn new(random: &mut Random, longest: f64, octaves: i32, roughness: f64, z: f64) -> Waves {
        let mut waves = Vec::new();
        for octave in 0..octaves {
            let length = longest / 2f64.powi(octave);
            for _ in 0..4 {
                let turn = random.between(0.0, std::f64::consts::TAU);
                let k = std::f64::consts::TAU / length;
                waves.push([
                    k * turn.cos(),
                    k * turn.sin(),
                    random.between(0.0, std::f64::consts::TAU),
                    0.5 * z * (length / longest).powf(roughness),
                ]);
            }
        }
        Waves(waves)
    }

    pub fn z(&self, x: f64, y: f64) -> f64 {
        let one = |&[kx, ky, phase, z]: &[f64; 4]| z * (kx * x + ky * y + phase).sin();
        self.0.iter().map(one).sum()
    }
}

/// Places strewn over a square as a person walks: a grid set off at random.
pub fn strewn(random: &mut Random, count: usize, side: f64) -> Vec<[f64; 2]> {
    let rows = (count as f64).sqrt().ceil() as usize;
    let cell = side / rows as f64;
    let mut places: Vec<[f64; 2]> = (0..rows * rows)
        .map(|k| {
            let mut at = |i: usize| (i as f64 + 0.5 + random.between(-0.42, 0.42)) * cell;
            // Rows are walked to and fro.
            let (row, column) = (k / rows, k % rows);
            let column = if row % 2 == 0 {
                column
            } else {
                rows - 1 - column
            };
            [at(column), at(row)]
        })
        .collect();
    while places.len() > count {
        places.remove(random.below(places.len() as u64) as usize);
    }
    places
}
