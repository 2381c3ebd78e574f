//! A study of mistakes: what the program finds of slips planted in level books.
//!
//! Two hundred invented books from a seed, each with reading noise, loops and lines of two to six
//! set-ups, some with a benchmark on the way, with points read from two set-ups, with backsights
//! read again before the tripod is moved. One mistake of each kind is planted in each book on a
//! random sight that carries levels. `cargo test --test blunders -- --nocapture` prints the
//! table; the bounds asserted lie somewhat below what was measured.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod common;

use common::Random;
use cutbank::job::{Benchmark, RodKind, SurveyKind, SurveySpec};
use cutbank::survey::{BookStatus, LevelBook, Slip, read_levels};
use cutbank::units::LengthUnit;

const BOOKS: u64 = 200;

/// Standard error of one reading, metres: 0.004 ft, a rod read to 0.01 ft or 1/8 in with care.
const READING_M: f64 = 0.004 * 0.3048;

const FT: f64 = 0.3048;

/// One row of a book.
#[derive(Clone, Debug)]
struct Row {
    setup: usize,
    point: String,
    kind: &'static str,
    /// What the rod truly showed, noise included, metres.
    rod_m: f64,
    /// True if a check of the book hangs on it.
    carries: bool,
    text: String,
}

#[derive(Clone, Debug)]
struct Book {
    rod: RodKind,
    rows: Vec<Row>,
    /// Given levels of the two benchmarks, metres; the second may be unread.
    levels: [f64; 2],
    second: bool,
}

/// Gaussian noise as a sum of twelve even ones.
fn noise(dice: &mut Random) -> f64 {
    (0..12).map(|_| dice.between(-0.5, 0.5)).sum::<f64>() * READING_M
}

fn written(rod: RodKind, m: f64) -> String {
    let sign = if m < 0.0 { "-" } else { "" };
    match rod {
        RodKind::InchEighths => {
            let eighths = (m.abs() / FT * 96.0).round() as i64;
            let (feet, rest) = (eighths / 96, eighths % 96);
            match rest % 8 {
                0 => format!("{sign}{feet}-{}", rest / 8),
                n => format!("{sign}{feet}-{}-{}", rest / 8, eighth(n)),
            }
        }
        RodKind::Metric => format!("{m:.3}"),
        _ => format!("{:.2}", m / FT),
    }
}

fn eighth(n: i64) -> &'static str {
    ["", "1/8", "1/4", "3/8", "1/2", "5/8", "3/4", "7/8"][n as usize]
}

/// Rods of the books: tenths three times as often as the others.
const RODS: [RodKind; 5] = [
    RodKind::Tenths,
    RodKind::Tenths,
    RodKind::Tenths,
    RodKind::InchEighths,
    RodKind::Metric,
];

/// A book of two to six set-ups; readings between 0.5 and 12 ft. Half of the books have a second
/// benchmark, or all if one is `asked`.
fn book(seed: u64, rods: &[RodKind], asked: bool) -> Book {
    let mut dice = Random(seed.wrapping_mul(7919));
    let rod = rods[dice.below(rods.len() as u64) as usize];
    let setups = 2 + dice.below(5) as usize;
    let bm1 = 100.0 * FT;
    let bm2 = bm1 + dice.between(0.5, 3.0) * FT;
    let second = dice.below(2) == 0 || asked;
    let ends_on_second = second && dice.below(2) == 0;
    let on_the_way = second.then(|| dice.below(setups as u64) as usize);
    let mut rows = Vec::new();
    let (mut from, mut level) = ("BM1".to_owned(), bm1);
    // A stake read from this set-up that the next one may read again.
    let mut stake: Option<(String, f64)> = None;
    for setup in 0..setups {
        let (next, next_level) = if setup + 1 < setups {
            let at = level + dice.between(-6.0, 6.0) * FT;
            (
                format!("TP{setup}"),
                at.clamp(bm1 - 6.0 * FT, bm1 + 6.0 * FT),
            )
        } else if ends_on_second {
            ("BM2".to_owned(), bm2)
        } else {
            ("BM1".to_owned(), bm1)
        };
        let plane = level.max(next_level) + dice.between(0.6, 6.0) * FT;
        let mut row = |point: &str, kind, at: f64, carries, dice: &mut Random| {
            let rod_m = plane - at + noise(dice);
            rows.push(Row {
                setup,
                point: point.to_owned(),
                kind,
                rod_m,
                carries,
                text: written(rod, rod_m),
            });
        };
        row(&from, "BS", level, true, &mut dice);
        if let Some((name, at)) = stake.take().filter(|(_, at)| plane - at > 0.3 * FT) {
            row(&name, "IS", at, false, &mut dice);
        }
        for shot in 0..2 + dice.below(4) {
            let at = plane - dice.between(0.5, 11.0) * FT;
            row(&format!("G{setup}{shot}"), "IS", at, false, &mut dice);
        }
        if on_the_way == Some(setup) && (plane - bm2) > 0.3 * FT {
            row("BM2", "IS", bm2, false, &mut dice);
        }
        if setup + 1 < setups && dice.below(2) == 0 {
            let name = format!("S{setup}");
            let at = plane - dice.between(1.0, 5.0) * FT;
            row(&name, "IS", at, false, &mut dice);
            stake = Some((name, at));
        }
        if dice.below(3) == 0 {
            row(&from, "IS", level, false, &mut dice);
        }
        row(&next, "FS", next_level, true, &mut dice);
        (from, level) = (next, next_level);
    }
    Book {
        rod,
        rows,
        levels: [bm1, bm2],
        second,
    }
}

fn reduce(book: &Book) -> Option<LevelBook> {
    let mut text = "setup,point,type,rod,known\n".to_owned();
    let unit = unit(book);
    for row in &book.rows {
        let known = if book.second && row.point == "BM2" {
            format!("{:.4}", unit.from_m(book.levels[1]))
        } else {
            String::new()
        };
        text += &format!(
            "{},{},{},{},{known}\n",
            row.setup + 1,
            row.point,
            row.kind,
            row.text
        );
    }
    let spec = SurveySpec {
        benchmark: Some(Benchmark {
            name: "BM1".into(),
            level_m: book.levels[0],
            words: String::new(),
        }),
        rod: book.rod.into(),
        ..SurveySpec::new(SurveyKind::Levels, "book.csv", unit)
    };
    read_levels(&spec, text.as_bytes())
        .ok()
        .map(|(book, _)| book)
}

fn unit(book: &Book) -> LengthUnit {
    if book.rod == RodKind::Metric {
        LengthUnit::Metre
    } else {
        LengthUnit::Foot
    }
}

/// A mistake that was planted.
struct Planted {
    slip: Slip,
    /// Lines of the sights it spoils.
    lines: Vec<usize>,
    /// By how much the reading is wrong, metres.
    size_m: f64,
}

/// The kinds of mistake in the order of the table, with the least percent of books that must be
/// refused and in which the sight must be named with the kind. A foot stands for a metre on a
/// metric rod.
const KINDS: [(Slip, f64, f64); 12] = [
    (Slip::Foot, 98.0, 94.0),
    (Slip::TenthOfFoot, 98.0, 95.0),
    (Slip::Inch, 96.0, 93.0),
    (Slip::InchesAsTenths, 87.0, 86.0),
    (Slip::TenthsAsInches, 87.0, 86.0),
    (Slip::DigitsSwapped, 97.0, 94.0),
    (Slip::DecimalPoint, 98.0, 94.0),
    (Slip::Sign, 98.0, 94.0),
    (Slip::SightsSwapped, 96.0, 90.0),
    (Slip::OtherBenchmark, 96.0, 89.0),
    (Slip::LaserMoved, 96.0, 72.0),
    (Slip::GivenLevel, 96.0, 86.0),
];

/// True if a mistake can happen on a rod.
fn can_be(kind: Slip, rod: RodKind) -> bool {
    match kind {
        Slip::Inch | Slip::TenthsAsInches => rod == RodKind::InchEighths,
        Slip::InchesAsTenths => rod == RodKind::Tenths,
        Slip::TenthOfFoot | Slip::DigitsSwapped | Slip::DecimalPoint => rod != RodKind::InchEighths,
        _ => true,
    }
}

/// Plants one mistake; `None` if the book has no place for it.
fn plant(book: &mut Book, kind: Slip, dice: &mut Random) -> Option<Planted> {
    let carrying: Vec<usize> = (0..book.rows.len())
        .filter(|&i| book.rows[i].carries)
        .collect();
    let metric = book.rod == RodKind::Metric;
    let at = carrying[dice.below(carrying.len() as u64) as usize];
    let true_m = book.rows[at].rod_m;
    let one = |at: usize, slip, size_m: f64| {
        Some(Planted {
            slip,
            lines: vec![at + 2],
            size_m,
        })
    };
    let side = if dice.below(2) == 0 && true_m > 1.2 {
        -1.0
    } else {
        1.0
    };
    let mut by = |slip, step_m: f64| {
        book.rows[at].text = written(book.rod, true_m + side * step_m);
        one(at, slip, step_m)
    };
    match kind {
        Slip::Foot if metric => by(Slip::Metre, 1.0),
        Slip::Foot => by(Slip::Foot, FT),
        Slip::TenthOfFoot if metric => by(Slip::TenthOfMetre, 0.1),
        Slip::TenthOfFoot => by(Slip::TenthOfFoot, FT / 10.0),
        Slip::Inch => by(Slip::Inch, FT / 12.0),
        Slip::InchesAsTenths => {
            // The side of the rod that shows inches, at a whole inch.
            let inches = (true_m / FT * 12.0).round() as i64;
            let (feet, rest) = (inches / 12, inches % 12);
            shift(book, at, inches as f64 * FT / 12.0 - true_m);
            book.rows[at].text = format!("{feet}.{rest}");
            let booked: f64 = book.rows[at].text.parse().unwrap();
            one(at, kind, booked * FT - inches as f64 * FT / 12.0)
        }
        Slip::TenthsAsInches => {
            let tenths = (true_m / FT * 10.0).round() as i64;
            let (feet, rest) = (tenths / 10, tenths % 10);
            shift(book, at, tenths as f64 * FT / 10.0 - true_m);
            book.rows[at].text = format!("{feet}-{rest}");
            one(at, kind, rest as f64 * FT * (1.0 / 10.0 - 1.0 / 12.0))
        }
        Slip::DigitsSwapped => {
            let text = book.rows[at].text.clone();
            let digits: Vec<usize> = (0..text.len())
                .filter(|&i| text.as_bytes()[i].is_ascii_digit())
                .collect();
            let pair = dice.below(digits.len() as u64 - 1) as usize;
            let mut bytes = text.clone().into_bytes();
            bytes.swap(digits[pair], digits[pair + 1]);
            let swapped = String::from_utf8(bytes).unwrap();
            let unit = unit(book);
            let value = |text: &str| unit.to_m(text.parse::<f64>().unwrap());
            book.rows[at].text = swapped.clone();
            (swapped != text).then_some(())?;
            one(at, kind, value(&swapped) - value(&text))
        }
        Slip::DecimalPoint => {
            let unit = unit(book);
            let value: f64 = book.rows[at].text.parse().unwrap();
            let decimals = if metric { 4 } else { 3 };
            book.rows[at].text = format!("{:.decimals$}", value / 10.0);
            one(at, kind, unit.to_m(value * 0.9))
        }
        Slip::Sign => {
            book.rows[at].text = format!("-{}", book.rows[at].text);
            one(at, kind, 2.0 * true_m)
        }
        Slip::SightsSwapped => {
            let setup = book.rows[at].setup;
            let of = |kind| {
                let mut rows = book.rows.iter();
                rows.position(|row| row.setup == setup && row.kind == kind)
            };
            let (bs, fs) = (of("BS")?, of("FS")?);
            let (a, b) = (book.rows[bs].text.clone(), book.rows[fs].text.clone());
            let size_m = 2.0 * (book.rows[bs].rod_m - book.rows[fs].rod_m);
            (book.rows[bs].text, book.rows[fs].text) = (b, a);
            Some(Planted {
                slip: kind,
                lines: vec![bs + 2, fs + 2],
                size_m,
            })
        }
        Slip::OtherBenchmark => {
            let on: Vec<usize> = (0..book.rows.len())
                .filter(|&i| book.rows[i].point.starts_with("BM"))
                .collect();
            let at = on[dice.below(on.len() as u64) as usize];
            let [bm1, bm2] = book.levels;
            let rise = if book.rows[at].point == "BM1" {
                bm2 - bm1
            } else {
                bm1 - bm2
            };
            book.rows[at].text = written(book.rod, book.rows[at].rod_m - rise);
            (book.rows[at].rod_m - rise > 0.1 * FT).then_some(())?;
            one(at, kind, rise)
        }
        Slip::GivenLevel => {
            let off_m = side * dice.between(0.06, 1.0) * FT;
            book.levels[1] += off_m;
            book.rows
                .iter()
                .any(|row| row.point == "BM2")
                .then_some(())?;
            Some(Planted {
                slip: kind,
                lines: (0..book.rows.len())
                    .filter(|&i| book.rows[i].point == "BM2")
                    .map(|i| i + 2)
                    .collect(),
                size_m: off_m,
            })
        }
        Slip::LaserMoved => {
            let sank = side * dice.between(0.06, 0.5) * FT;
            let setup = book.rows[at].setup;
            let own: Vec<usize> = (0..book.rows.len())
                .filter(|&i| book.rows[i].setup == setup)
                .collect();
            let from = 1 + dice.below(own.len() as u64 - 1) as usize;
            for &i in &own[from..] {
                book.rows[i].text = written(book.rod, book.rows[i].rod_m - sank);
            }
            Some(Planted {
                slip: kind,
                lines: own[from..].iter().map(|i| i + 2).collect(),
                size_m: sank,
            })
        }
        _ => None,
    }
}

/// Moves the plane of the set-up of a sight, so that the sight truly shows another reading and
/// every level stays as it was.
fn shift(book: &mut Book, at: usize, by_m: f64) {
    let (rod, setup) = (book.rod, book.rows[at].setup);
    for row in book.rows.iter_mut().filter(|row| row.setup == setup) {
        row.rod_m += by_m;
        row.text = written(rod, row.rod_m);
    }
}

#[derive(Debug, Default)]
struct Tally {
    planted: usize,
    /// Too small for the allowance, and so no matter.
    small: usize,
    small_refused: usize,
    refused: usize,
    kind_named: usize,
    sight_named: usize,
    exact: usize,
    first: usize,
    named: Vec<usize>,
}

impl Tally {
    fn share(&self, part: usize) -> f64 {
        100.0 * part as f64 / (self.planted - self.small).max(1) as f64
    }

    fn median_named(&mut self) -> usize {
        self.named.sort_unstable();
        self.named.get(self.named.len() / 2).copied().unwrap_or(0)
    }
}

/// Counts one book with a mistake in it.
fn count(tally: &mut Tally, planted: &Planted, book: Option<&LevelBook>) {
    tally.planted += 1;
    // A book that is not read at all names the cell: found, and nothing more to tell.
    let Some(book) = book else {
        tally.refused += 1;
        tally.kind_named += 1;
        tally.sight_named += 1;
        tally.exact += 1;
        tally.first += 1;
        tally.named.push(1);
        return;
    };
    let refused = book.status == BookStatus::Refused;
    let least_m = book
        .checks
        .iter()
        .map(|c| c.allowed_m)
        .fold(f64::INFINITY, f64::min);
    if planted.size_m.abs() <= least_m {
        tally.small += 1;
        tally.small_refused += usize::from(refused);
        return;
    }
    if !refused {
        return;
    }
    tally.refused += 1;
    let on_line = |line: usize| planted.lines.contains(&line);
    let hit = |s: &cutbank::survey::Suspect| on_line(s.line) || s.other_line.is_some_and(on_line);
    let suspects = &book.suspects;
    tally.kind_named += usize::from(suspects.iter().any(|s| s.slip == planted.slip));
    tally.sight_named += usize::from(suspects.iter().any(hit));
    tally.exact += usize::from(suspects.iter().any(|s| s.slip == planted.slip && hit(s)));
    let first = suspects.first().map(|s| s.slip);
    tally.first += usize::from(first == Some(planted.slip));
    tally.named.push(suspects.len() + book.more_suspects);
}

#[test]
fn planted_mistakes_are_found_and_named() {
    let mut false_alarms = [0; 3];
    for seed in 1..=BOOKS {
        let clean = reduce(&book(seed, &RODS, false)).expect("a clean book is read");
        false_alarms[0] += usize::from(clean.status == BookStatus::Refused);
        false_alarms[1] += usize::from(clean.rereads.iter().any(|r| !r.agrees()));
        false_alarms[2] += usize::from(!clean.suspects.is_empty());
    }
    println!(
        "{BOOKS} clean books: {} refused, {} with points that differ, {} with suspects",
        false_alarms[0], false_alarms[1], false_alarms[2]
    );
    println!(
        "{:<18} {:>7} {:>6} {:>8} {:>8} {:>8} {:>8} {:>8} {:>8} {:>6} {:>6}",
        "kind",
        "planted",
        "small",
        "(found)",
        "refused%",
        "kind%",
        "sight%",
        "exact%",
        "first%",
        "median",
        "most"
    );
    let mut all = Tally::default();
    for (index, (kind, least_refused, least_exact)) in KINDS.into_iter().enumerate() {
        // Only books that have a place for the mistake.
        let rods: Vec<RodKind> = RODS.into_iter().filter(|&rod| can_be(kind, rod)).collect();
        let asked = matches!(kind, Slip::OtherBenchmark | Slip::GivenLevel);
        let mut tally = Tally::default();
        for seed in 1..=BOOKS {
            let mut book = book(seed, &rods, asked);
            let mut dice = Random(seed * 31 + index as u64);
            if let Some(planted) = plant(&mut book, kind, &mut dice) {
                count(&mut tally, &planted, reduce(&book).as_ref());
            }
        }
        let median = tally.median_named();
        println!(
            "{:<18} {:>7} {:>6} {:>8} {:>8.0} {:>8.0} {:>8.0} {:>8.0} {:>8.0} {:>6} {:>6}",
            format!("{kind:?}"),
            tally.planted,
            tally.small,
            tally.small_refused,
            tally.share(tally.refused),
            tally.share(tally.kind_named),
            tally.share(tally.sight_named),
            tally.share(tally.exact),
            tally.share(tally.first),
            median,
            tally.named.last().copied().unwrap_or(0),
        );
        all.planted += tally.planted;
        all.small += tally.small;
        all.refused += tally.refused;
        all.exact += tally.exact;
        all.sight_named += tally.sight_named;
        all.named.extend(&tally.named);
        assert!(tally.share(tally.refused) >= least_refused, "{kind:?}");
        assert!(tally.share(tally.exact) >= least_exact, "{kind:?}");
    }
    let median = all.median_named();
    println!(
        "all: {} planted, {} small, refused {:.0} %, sight named {:.0} %, exact {:.0} %, median {median} suspects",
        all.planted,
        all.small,
        all.share(all.refused),
        all.share(all.sight_named),
        all.share(all.exact),
    );
    assert!(
        false_alarms[0] <= 4 && false_alarms[1] <= 2,
        "{false_alarms:?}"
    );
}
