//! Level books typed in a test, and what is expected of them.
#![allow(dead_code, missing_docs, unreachable_pub, clippy::unwrap_used)]

use cutbank::diag::{At, Diagnostic, Failure, has_error};
use cutbank::job::{Allowance, Benchmark, SurveyKind, SurveySpec};
use cutbank::survey::{LevelBook, PageCheck, Sight, SightKind, read_levels};
use cutbank::units::LengthUnit;

/// A level-book entry of a job in feet and tenths, or in metres.
pub fn spec(units: LengthUnit, benchmark: Option<(&str, f64)>) -> SurveySpec {
    SurveySpec {
        at: At::line("job.toml", 9),
        benchmark: benchmark.map(|(name, level)| Benchmark {
            name: name.into(),
            level_m: units.to_m(level),
            words: String::new(),
        }),
        ..SurveySpec::new(SurveyKind::Levels, "levels.csv", units)
    }
}

pub fn allow(words: &str) -> Allowance {
    Allowance::from_words(words, LengthUnit::Foot).expect("an allowance")
}

pub fn feet(start: &str, level: f64) -> SurveySpec {
    spec(LengthUnit::Foot, Some((start, level)))
}

pub fn metres(start: &str, level: f64) -> SurveySpec {
    spec(LengthUnit::Metre, Some((start, level)))
}

pub fn reduce(spec: &SurveySpec, text: &str) -> (LevelBook, Vec<Diagnostic>) {
    match read_levels(spec, text.as_bytes()) {
        Ok(found) => found,
        Err(failure) => panic!("{failure}"),
    }
}

pub fn refuse(spec: &SurveySpec, text: &str) -> Vec<Diagnostic> {
    match read_levels(spec, text.as_bytes()) {
        Ok((book, _)) => panic!("read without an error: {book:?}"),
        Err(Failure(all)) => {
            assert!(has_error(&all));
            all
        }
    }
}

/// Tolerance for levels printed to `digits` decimals of exact sums: rounding of `f64` only.
pub const EXACT: f64 = 1e-9;

/// Checks the planes of all set-ups, in the unit of the book.
pub fn planes(book: &LevelBook, unit: LengthUnit, expected: &[f64]) {
    assert_eq!(book.setups.len(), expected.len());
    for (setup, want) in book.setups.iter().zip(expected) {
        let got = unit.from_m(setup.plane_m.expect("a plane"));
        assert!(
            (got - want).abs() < EXACT,
            "plane of {}: {got} for {want}",
            setup.name
        );
    }
}

/// Checks a value of the last sight on each named point.
pub fn values(book: &LevelBook, unit: LengthUnit, of: fn(&Sight) -> f64, expected: &[(&str, f64)]) {
    for &(name, want) in expected {
        let sight = book
            .sights
            .iter()
            .rfind(|s| s.name == name && s.kind != SightKind::Backsight);
        let got = unit.from_m(of(sight.unwrap_or_else(|| panic!("no sight on {name}"))));
        assert!((got - want).abs() < EXACT, "{name}: {got} for {want}");
    }
}

pub fn near(got_m: f64, unit: LengthUnit, want: f64) {
    let got = unit.from_m(got_m);
    assert!((got - want).abs() < EXACT, "{got} for {want}");
}

/// Sums of backsights and foresights and their difference.
pub fn page(book: &LevelBook, unit: LengthUnit, bs: f64, fs: f64, difference: f64) {
    near(book.sum_bs_m, unit, bs);
    near(book.sum_fs_m, unit, fs);
    near(book.sum_bs_m - book.sum_fs_m, unit, difference);
    let PageCheck::Agrees {
        bs_less_fs_m,
        rises_less_falls_m,
        last_less_first_m,
    } = book.page
    else {
        panic!("{:?}", book.page);
    };
    for sum_m in [bs_less_fs_m, rises_less_falls_m, last_less_first_m] {
        near(sum_m, unit, difference);
    }
}

pub const FT: LengthUnit = LengthUnit::Foot;
pub const M: LengthUnit = LengthUnit::Metre;

/// LVL-05's readings as a field book.
pub const LOOP: &str = "point,bs,is,fs\nBM1,5.42,,\nP1,,4.87,\nP2,,6.31,\nTP1,3.14,,8.26\nP3,,5.05,\n\
                    P4,,7.92,\nTP2,6.88,,4.71\nP5,,6.10,\nBM1,,,2.44\n";
