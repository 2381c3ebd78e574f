//! Blunders planted in made yards, one at a time: how many are named, and what is named without
//! being wrong. `cargo test --release --test point_blunders -- --nocapture` prints the table.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod common;
#[path = "common/made.rs"]
mod made;
#[path = "common/yards.rs"]
mod yards;

use common::Random;
use cutbank::diag::{At, Diagnostic};
use cutbank::job::{GroundSpec, PlaceList, PlaceListWord};
use cutbank::show::Show;
use cutbank::terrain::{LeaveOut, build, doubts};
use cutbank::units::LengthUnit;
use made::Booked;
use yards::{NOISE_FT, SOIL_M, Yard, yard};

/// Made yards for each kind of blunder.
const YARDS: u64 = 200;

/// The first yard of those that limits were chosen on, and of others that they never saw.
const TUNED: u64 = 0;
const FRESH: u64 = 10_000;

/// The scatter of a careful crew on even ground, feet.
const TIGHT_FT: f64 = 0.02;

/// What is said of a yard; lines of `shots.csv` count shots from 2.
fn said(yard: &Yard) -> Vec<Diagnostic> {
    let survey = made::survey(&yard.shots, LengthUnit::Foot);
    let line = |code: &str| PlaceList {
        word: PlaceListWord::Code(code.to_owned()),
        at: At::default(),
    };
    let breaklines = if yard.has_lines {
        vec![line("top"), line("toe")]
    } else {
        Vec::new()
    };
    let spec = GroundSpec {
        breaklines,
        crossings: cutbank::job::Crossings::Mean,
        ..GroundSpec::default()
    };
    match build(&survey, &spec) {
        Err(failure) => failure.0,
        Ok((terrain, _)) => {
            let left_out = LeaveOut::of(&terrain);
            let show = Show::new(LengthUnit::Foot);
            doubts(&survey, &spec, &terrain, &left_out, show, SOIL_M)
        }
    }
}

#[derive(Default)]
struct Row {
    planted: usize,
    named: usize,
    explained: usize,
    /// Diagnostics that name something that is right: spikes, slips, bays.
    false_spikes: usize,
    false_slips: usize,
    false_bays: usize,
    yards_with_false: usize,
}

impl Row {
    /// Counts what is said of a yard in which the shots at `wrong` are wrong.
    fn count(&mut self, said: &[Diagnostic], wrong: &[usize], codes: &[&str], words: &str) {
        let is_of = |d: &&Diagnostic| {
            wrong.is_empty() || d.at.iter().take(2).any(|at| wrong.contains(&(at.line - 2)))
        };
        let found: Vec<&Diagnostic> = said
            .iter()
            .filter(|d| codes.contains(&d.code))
            .filter(|d| d.code != "spike" || wrong.contains(&(d.at[0].line - 2)))
            .filter(is_of)
            .collect();
        self.planted += 1;
        self.named += usize::from(!found.is_empty());
        self.explained +=
            usize::from(!words.is_empty() && found.iter().any(|d| d.message.contains(words)));
        let spikes = said
            .iter()
            .filter(|d| d.code == "spike" && !d.at.is_empty());
        let spikes = spikes
            .filter(|d| !wrong.contains(&(d.at[0].line - 2)))
            .count();
        let of = |code: &str| {
            let is_meant = codes.contains(&code);
            said.iter().filter(|d| d.code == code && !is_meant).count()
        };
        let (slips, bays) = (of("numbers-slipped"), of("bay"));
        self.false_spikes += spikes;
        self.false_slips += slips;
        self.false_bays += bays;
        self.yards_with_false += usize::from(spikes + slips + bays > 0);
    }

    fn print(&self, kind: &str) {
        let share = |n: usize| 100.0 * n as f64 / self.planted.max(1) as f64;
        println!(
            "{kind:<42} {:>5} {:>8.1} % {:>9.1} % {:>7} {:>6} {:>6} {:>12.1} %",
            self.planted,
            share(self.named),
            share(self.explained),
            self.false_spikes,
            self.false_slips,
            self.false_bays,
            share(self.yards_with_false)
        );
    }

    fn share(&self) -> f64 {
        self.named as f64 / self.planted as f64
    }

    /// Prints the row and holds it to what was measured before, less a little.
    fn hold(&self, kind: &str, least: f64) {
        self.print(kind);
        let share = self.share();
        assert!(share >= least, "{kind}: {share}");
        let most = 0.15 * self.planted as f64;
        assert!(
            (self.yards_with_false as f64) < most,
            "{kind}: false alarms"
        );
    }
}

fn head() {
    println!(
        "{:<42} {:>5} {:>10} {:>11} {:>7} {:>6} {:>6} {:>14}",
        "kind", "yards", "named", "explained", "false:", "slips", "bays", "yards with"
    );
}

/// A shot of the strewn ones.
fn any(yard: &Yard, random: &mut Random) -> usize {
    random.below(yard.strewn as u64) as usize
}

/// A booked number with two neighbouring digits exchanged that differ.
fn swapped(value: f64, random: &mut Random) -> f64 {
    for _ in 0..100 {
        let mut text = format!("{value:.2}").into_bytes();
        let k = random.below(text.len() as u64 - 1) as usize;
        let is_digit = |b: u8| b.is_ascii_digit();
        if is_digit(text[k]) && is_digit(text[k + 1]) && text[k] != text[k + 1] {
            text.swap(k, k + 1);
            return String::from_utf8(text).unwrap().parse().unwrap();
        }
    }
    value
}

/// Plants a blunder in every yard; `plant` gives the shots made wrong, none to leave the yard out.
fn study(
    codes: &[&str],
    words: &str,
    plant: impl FnMut(&mut Yard, &mut Random) -> Option<Vec<usize>>,
) -> Row {
    study_of(TUNED, NOISE_FT, codes, words, plant)
}

/// The same in other yards.
fn study_of(
    first: u64,
    noise_ft: f64,
    codes: &[&str],
    words: &str,
    mut plant: impl FnMut(&mut Yard, &mut Random) -> Option<Vec<usize>>,
) -> Row {
    let mut row = Row::default();
    for seed in first..first + YARDS {
        let mut yard = yard(seed, noise_ft);
        let mut random = Random(seed * 101 + 17);
        if let Some(wrong) = plant(&mut yard, &mut random) {
            row.count(&said(&yard), &wrong, codes, words);
        }
    }
    row
}

/// A height wrong by so many feet.
fn off(by: f64) -> impl Fn(&mut Yard, &mut Random) -> Option<Vec<usize>> {
    move |yard, random| {
        let k = any(yard, random);
        yard.shots[k].z += by;
        Some(vec![k])
    }
}

#[test]
fn clean_yards_are_left_alone() {
    head();
    for (first, noise_ft, kind) in [
        (TUNED, NOISE_FT, "nothing wrong"),
        (FRESH, NOISE_FT, "nothing wrong, fresh yards"),
        (TUNED, TIGHT_FT, "nothing wrong, tight"),
        (FRESH, TIGHT_FT, "nothing wrong, tight, fresh yards"),
    ] {
        let row = study_of(first, noise_ft, &[], "", |_, _| Some(vec![usize::MAX]));
        row.print(kind);
        assert!(row.yards_with_false as f64 <= 0.06 * row.planted as f64);
    }
}

#[test]
fn wrong_heights_are_named_in_other_yards() {
    head();
    for (by, noise_ft, kind, least) in [
        (1.0, NOISE_FT, "1 ft too high, fresh yards", 0.56),
        (-1.0, NOISE_FT, "1 ft too low, fresh yards", 0.57),
        (2.0, NOISE_FT, "2 ft too high, fresh yards", 0.85),
        (1.0, TIGHT_FT, "1 ft too high, tight, fresh yards", 0.65),
    ] {
        study_of(FRESH, noise_ft, &["spike"], "", off(by)).hold(kind, least);
    }
    // With the lines of the bank there is no edge that a wrong shot could be mistaken for.
    let with_lines = |yard: &mut Yard, random: &mut Random| {
        let k = any(yard, random);
        yard.shots[k].z += 1.0;
        yard.has_lines.then(|| vec![k])
    };
    for (first, kind) in [
        (TUNED, "1 ft too high, tight, bank on lines"),
        (FRESH, "the same, fresh yards"),
    ] {
        study_of(first, TIGHT_FT, &["spike"], "", with_lines).hold(kind, 0.78);
    }
}

#[test]
fn wrong_heights_are_named() {
    head();
    study(&["spike"], "1 ft misread", off(1.0)).hold("1 ft too high", 0.58);
    study(&["spike"], "1 ft misread", off(-1.0)).hold("1 ft too low", 0.58);
    study(&["spike"], "", off(2.0)).hold("2 ft too high", 0.86);
    study(&["spike"], "", off(0.1)).hold("0.1 ft too high (below the noise)", 0.0);
    let inches = |is_large: bool| {
        move |yard: &mut Yard, random: &mut Random| {
            let k = any(yard, random);
            let rod = yard.plane - yard.shots[k].z;
            let inches = ((rod - rod.floor()) * 12.0).floor();
            let booked = if inches < 10.0 {
                inches / 10.0
            } else {
                inches / 100.0
            };
            yard.shots[k].z = yard.plane - (rod.floor() + booked);
            ((inches >= 10.0) == is_large).then(|| vec![k])
        }
    };
    study(&["spike"], "inches", inches(true)).hold("10 or 11 in booked as .10, .11", 0.25);
    study(&["spike"], "inches", inches(false)).hold("0 to 9 in booked as tenths (to 0.15 ft)", 0.0);
    let digits = |is_large: bool| {
        move |yard: &mut Yard, random: &mut Random| {
            let k = any(yard, random);
            let was = yard.shots[k].z;
            yard.shots[k].z = swapped(was, random);
            (((yard.shots[k].z - was).abs() > 0.8) == is_large).then(|| vec![k])
        }
    };
    study(&["spike"], "digits", digits(true)).hold("two digits swapped, over 0.8 ft off", 0.92);
    study(&["spike"], "digits", digits(false)).hold("two digits swapped, up to 0.8 ft off", 0.0);
}

#[test]
fn wrong_places_are_named() {
    head();
    // A wrong place matters by as much as the ground there is higher or lower.
    let is_off = |yard: &Yard, k: usize, by_ft: f64| {
        let shot = &yard.shots[k];
        ((yard.ground)(shot.x, shot.y) - shot.z).abs() > by_ft
    };
    for (by_ft, words, least) in [
        (0.0, "", [0.57, 0.36]),
        (1.0, ", ground there 1 ft off", [0.88, 0.63]),
    ] {
        let swap = |yard: &mut Yard, random: &mut Random| {
            let k = any(yard, random);
            let shot = &mut yard.shots[k];
            (shot.x, shot.y) = (shot.y, shot.x);
            is_off(yard, k, by_ft).then(|| vec![k])
        };
        study(&["spike"], "x and y", swap).hold(&format!("x and y swapped{words}"), least[0]);
        let moved = |yard: &mut Yard, random: &mut Random| {
            let k = any(yard, random);
            let by = if random.below(2) == 0 { 10.0 } else { -10.0 };
            let shot = &mut yard.shots[k];
            if random.below(2) == 0 {
                shot.x += by;
            } else {
                shot.y += by;
            }
            is_off(yard, k, by_ft).then(|| vec![k])
        };
        study(&["spike"], "", moved).hold(&format!("x or y off by 10 ft{words}"), least[1]);
    }
    let twice = |apart: f64| {
        move |yard: &mut Yard, random: &mut Random| {
            let k = any(yard, random);
            let mut again = yard.shots[k].clone();
            again.name = (yard.shots.len() + 1).to_string();
            again.z += 1.0;
            again.x += apart;
            yard.shots.push(again);
            Some(vec![k, yard.shots.len() - 1])
        }
    };
    study(&["two-heights"], "", twice(0.0)).hold("same place twice, 1 ft apart in height", 1.0);
    study(&["near-place", "spike"], "", twice(0.1))
        .hold("0.1 ft beside it, 1 ft apart in height", 0.95);
}

#[test]
fn slipped_numbers_are_named() {
    head();
    for by in [1i64, -1] {
        let slip = |yard: &mut Yard, random: &mut Random| {
            let n = yard.strewn;
            let first = n / 5 + random.below(n as u64 / 2) as usize;
            let was: Vec<f64> = yard.shots.iter().map(|s| s.z).collect();
            for k in first..n {
                let from = k as i64 + by;
                let from = if from < n as i64 { from } else { k as i64 };
                yard.shots[k].z = was[from as usize];
            }
            Some((first..n).collect())
        };
        for (first, kind) in [(TUNED, ""), (FRESH, ", fresh yards")] {
            let row = study_of(first, NOISE_FT, &["numbers-slipped"], "", slip);
            row.print(&format!("heights slipped by {by:+}{kind}"));
            assert!(row.share() > 0.6, "{}", row.share());
        }
    }
}

#[test]
fn bays_are_named() {
    head();
    let bay = |yard: &mut Yard, random: &mut Random| {
        let (x, radius) = (
            random.between(0.3, 0.7) * yard.side,
            random.between(0.25, 0.35) * yard.side,
        );
        yard.shots.retain(|s| (s.x - x).hypot(s.y) > radius);
        yard.strewn = yard.shots.iter().filter(|s| s.code == "ground").count();
        Some(Vec::new())
    };
    let row = study(&["bay"], "", bay);
    row.print("a bay without an outline");
    assert!(row.share() > 0.82, "{}", row.share());
}

/// Shots of a plane 40 by 40 ft, 5 ft apart, in rows; then what `change` makes of them.
fn rows(change: impl Fn(&mut Vec<Booked>)) -> Vec<Diagnostic> {
    let mut random = Random(4);
    let mut shots: Vec<Booked> = (0..81)
        .map(|k| {
            let (x, y) = (f64::from(k % 9) * 5.0, f64::from(k / 9) * 5.0);
            Booked {
                name: (k + 1).to_string(),
                x: x + random.between(-0.5, 0.5),
                y: y + random.between(-0.5, 0.5),
                z: 90.0 + 0.05 * x + 0.02 * y,
                code: "ground",
            }
        })
        .collect();
    change(&mut shots);
    said(&Yard {
        shots,
        side: 40.0,
        strewn: 81,
        has_lines: false,
        plane: 100.0,
        ground: Box::new(|_, _| 0.0),
    })
}

fn codes(said: &[Diagnostic]) -> Vec<&'static str> {
    said.iter().map(|d| d.code).collect()
}

#[test]
fn an_even_slope_says_nothing() {
    assert_eq!(codes(&rows(|_| {})), Vec::<&str>::new());
}

#[test]
fn one_wrong_height_is_named_alone() {
    let said = rows(|shots| shots[40].z += 1.0);
    assert_eq!(codes(&said), ["spike"]);
    assert!(
        said[0].message.starts_with("shot 41 lies 1.0"),
        "{}",
        said[0].message
    );
    assert!(
        said[0].message.contains("1 ft misread"),
        "{}",
        said[0].message
    );
    assert!(
        said[0].help.contains("[[strike]] shot = \"41\""),
        "{}",
        said[0].help
    );
    // The spike's own line first, then those of its nearest neighbours.
    assert_eq!(said[0].at[0].line, 42);
    assert_eq!(said[0].at.len(), 4);
    // A wild height beside it does not hide it.
    let said = rows(|shots| {
        shots[40].z += 1.0;
        shots[44].z -= 10.0;
    });
    assert_eq!(codes(&said), ["spike", "spike"]);
    assert!(
        said[0].message.starts_with("shot 45 lies 9.9"),
        "{}",
        said[0].message
    );
    assert!(
        said[1].message.starts_with("shot 41 lies "),
        "{}",
        said[1].message
    );
    // At the rim, too.
    let said = rows(|shots| shots[4].z -= 3.0);
    assert_eq!(codes(&said), ["spike"]);
    assert!(
        said[0].message.starts_with("shot 5 lies"),
        "{}",
        said[0].message
    );
}

#[test]
fn missing_numbers_are_listed() {
    let said = rows(|shots| {
        for k in [60, 32, 31, 30, 16] {
            shots.remove(k);
        }
    });
    assert_eq!(codes(&said), ["numbers-missing"]);
    assert_eq!(
        said[0].message,
        "numbers 17, 31-33 and 61 are missing between 1 and 81"
    );
    // Names that are no sequence stay unsaid.
    let said = rows(|shots| {
        for (k, shot) in shots.iter_mut().enumerate() {
            shot.name = (k * k).to_string();
        }
    });
    assert_eq!(codes(&said), Vec::<&str>::new());
}

#[test]
fn two_heights_a_hair_apart_are_named() {
    let again = |code: &'static str| {
        rows(move |shots| {
            let mut other = shots[40].clone();
            other.name = "82".to_owned();
            other.x += 0.1;
            other.z += 1.0;
            other.code = code;
            shots[40].code = code;
            shots.push(other);
        })
    };
    let said = again("ground");
    assert!(codes(&said).contains(&"near-place"), "{said:?}");
    assert!(
        said.iter()
            .any(|d| d.message.contains("30 mm apart in plan and 1.00 ft")),
        "{said:?}"
    );
    // Top and foot of a wall are like that.
    assert!(!codes(&again("wall")).contains(&"near-place"));
}

#[test]
fn codes_of_lines_that_nothing_joins_are_asked_for() {
    let said = rows(|shots| {
        for shot in &mut shots[18..27] {
            shot.code = "top";
        }
    });
    assert_eq!(codes(&said), ["unjoined-code"]);
    assert!(
        said[0].help.contains("breaklines = [\"code:top\"]"),
        "{}",
        said[0].help
    );
}

#[test]
fn a_bay_is_measured() {
    // Without the shots of the middle of the south side, rows 1 to 5, columns 3 to 7.
    let said = rows(|shots| {
        let mut k = 0;
        shots.retain(|_| {
            let (row, column) = (k / 9, k % 9);
            k += 1;
            !(row < 5 && (2..7).contains(&column))
        });
        for (k, shot) in shots.iter_mut().enumerate() {
            shot.name = (k + 1).to_string();
        }
    });
    assert_eq!(codes(&said), ["bay"]);
    // From column 2 to column 8 are 30 ft, and 25 ft up to row 6: 750 sq ft, give or take what
    // the places are off the grid.
    let area: f64 = (said[0].message.split("a bay of ").nth(1).unwrap())
        .split(' ')
        .next()
        .unwrap()
        .parse()
        .unwrap();
    assert!((650.0..=800.0).contains(&area), "{}", said[0].message);
    assert!(said[0].help.contains("max_edge = "), "{}", said[0].help);
}
