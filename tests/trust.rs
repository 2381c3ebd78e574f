//! The trust map: closed forms, and whether shots that were held back lie within the half range
//! it gave for their places.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod common;
#[path = "common/made.rs"]
mod made;

use common::{Folder, Random, reference_data};
use cutbank::job::{GroundSpec, RodKind, SurveyKind, SurveySpec};
use cutbank::survey::Survey;
use cutbank::terrain::{LeaveOut, NotTrusted, Terrain, Trust, build};
use cutbank::units::LengthUnit;
use made::{Booked, Waves, normal, points_spec, strewn};

/// How exact soil shots are meant to be, metres.
const SOIL_M: f64 = 0.03;

/// Standard deviation of shots of which four of five lie within [`SOIL_M`]: the 90 % point of
/// the normal distribution is 1.2816.
const NOISE_M: f64 = SOIL_M / 1.2816;

fn trust(survey: &Survey) -> (Terrain, Result<Trust, NotTrusted>) {
    let (terrain, _) = build(survey, &GroundSpec::default()).unwrap_or_else(|e| panic!("{e}"));
    let trust = Trust::of(&terrain, survey, &LeaveOut::of(&terrain), SOIL_M);
    (terrain, trust)
}

struct Coverage {
    within: usize,
    checked: usize,
    /// Mean half range and mean miss over the held-back shots, metres.
    half_m: f64,
    miss_m: f64,
    /// Share covered in the half with the larger and the smaller half ranges.
    halves: [f64; 2],
}

/// Holds back shots at random, again and again, and counts those within their half range.
fn coverage(survey: &Survey, splits: u64, share: f64) -> Coverage {
    let mut pairs: Vec<(f64, f64)> = Vec::new();
    for split in 0..splits {
        let mut random = Random(split * 7919 + 1);
        let (back, kept) = survey
            .shots
            .iter()
            .cloned()
            .partition(|_| random.between(0.0, 1.0) < share);
        let (back, kept): (Vec<_>, Vec<_>) = (back, kept);
        let thinned = Survey {
            shots: kept,
            ..survey.clone()
        };
        let (terrain, Ok(trust)) = trust(&thinned) else {
            panic!("{} shots do not calibrate", thinned.shots.len())
        };
        for shot in back {
            if let Some(z) = terrain.surface.z_at(shot.p) {
                let half = trust.at_m(&terrain, shot.p).unwrap();
                pairs.push((half, (z - shot.z_m).abs()));
            }
        }
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let within = |pairs: &[(f64, f64)]| pairs.iter().filter(|(half, off)| off <= half).count();
    let (low, high) = pairs.split_at(pairs.len() / 2);
    Coverage {
        within: within(&pairs),
        checked: pairs.len(),
        half_m: pairs.iter().map(|p| p.0).sum::<f64>() / pairs.len() as f64,
        miss_m: pairs.iter().map(|p| p.1).sum::<f64>() / pairs.len() as f64,
        halves: [low, high].map(|part| within(part) as f64 / part.len() as f64),
    }
}

/// The share covered must be what is promised, to five in a hundred.
fn check(name: &str, survey: &Survey, splits: u64, share: f64) {
    let c = coverage(survey, splits, share);
    let covered = c.within as f64 / c.checked as f64;
    println!(
        "{name:<34} {:>5} shots, {:>6} held back: {:.1} % within (smaller half ranges {:.1} %, \
         larger {:.1} %), mean half range {:.3} m, mean miss {:.3} m",
        survey.shots.len(),
        c.checked,
        covered * 100.0,
        c.halves[0] * 100.0,
        c.halves[1] * 100.0,
        c.half_m,
        c.miss_m
    );
    assert!((0.75..=0.85).contains(&covered), "{name}: {covered}");
}

fn made_survey(seed: u64, count: usize, z: impl Fn(f64, f64) -> f64) -> Survey {
    let mut random = Random(seed);
    let shots: Vec<Booked> = strewn(&mut random, count, 30.0)
        .into_iter()
        .enumerate()
        .map(|(k, [x, y])| Booked {
            name: format!("{}", k + 1),
            x,
            y,
            z: 30.0 + z(x, y) + NOISE_M * normal(&mut random),
            code: "",
        })
        .collect();
    made::survey(&shots, LengthUnit::Metre)
}

fn terraces(x: f64, y: f64) -> f64 {
    // Three levels with banks 1 in 1.5 between them, 1.2 m high, that bend.
    let along = y + 2.0 * (x / 9.0).sin();
    let bank = |foot: f64| ((along - foot) / 1.8).clamp(0.0, 1.0) * 1.2;
    bank(8.0) + bank(17.0) + bank(25.0) + 0.01 * x
}

#[test]
fn made_grounds_are_covered() {
    for (name, count) in [("60 shots", 60), ("150 shots", 150), ("600 shots", 600)] {
        let splits = 12_000 / count as u64;
        let hill =
            |x: f64, y: f64| 2.0 * (-((x - 14.0).powi(2) + (y - 16.0).powi(2)) / 120.0).exp();
        check(
            &format!("smooth hill, {name}"),
            &made_survey(11, count, hill),
            splits,
            0.15,
        );
        let waves = Waves::new(&mut Random(5), 30.0, 7, 0.7, 0.8);
        let rough = |x: f64, y: f64| waves.z(x, y) + 0.08 * x;
        check(
            &format!("rough waves, {name}"),
            &made_survey(12, count, rough),
            splits,
            0.15,
        );
        check(
            &format!("terraces with banks, {name}"),
            &made_survey(13, count, terraces),
            splits,
            0.15,
        );
    }
}

#[test]
fn surveys_are_covered() {
    let spec = SurveySpec {
        kind: SurveyKind::Levels,
        rod: RodKind::Tenths,
        benchmark: Some(cutbank::job::Benchmark {
            name: "BM1".to_owned(),
            level_m: 100.0 * 0.3048,
            words: String::new(),
        }),
        ..points_spec("levels.csv", LengthUnit::Foot)
    };
    let directory = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/level_book_yard");
    let folder = Folder {
        directory: Some(directory.into()),
        ..Folder::default()
    };
    let (survey, _) = Survey::read(&[spec], &folder).unwrap();
    check("level_book_yard", &survey, 400, 0.15);
    let Some(data) = reference_data("topo_ft and volcano_jitter held back") else {
        return;
    };
    let folder = Folder {
        directory: Some(data),
        ..Folder::default()
    };
    let read = |name: &str, unit| Survey::read(&[points_spec(name, unit)], &folder).unwrap().0;
    check("topo_ft", &read("topo_ft.csv", LengthUnit::Foot), 400, 0.15);
    let volcano = read("volcano_jitter.csv", LengthUnit::Metre);
    for count in [150, 500, 1500] {
        let mut random = Random(count);
        let mut thinned = volcano.clone();
        let share = count as f64 / volcano.shots.len() as f64;
        thinned.shots.retain(|_| random.between(0.0, 1.0) < share);
        check(
            &format!("volcano_jitter, one in {:.0}", 1.0 / share),
            &thinned,
            12_000 / count,
            0.15,
        );
    }
}
