//! Sentences that several reports share, so that they cannot drift apart.
//!
//! Takes an outcome, gives words in the job's unit. Knows no layout.

use super::ground::Ground;
use crate::checks::{Finding, PondKind, Severity, Wall};
use crate::diag::Level;
use crate::earthwork::{Loads, Range, Work};
use crate::outcome::Outcome;
use crate::show::Show;
use crate::surface::Rule;
use crate::survey::BookStatus;
use crate::terrain::{Grade, NotTrusted, Trust};

/// Cubic metres below this are rounding of the kernel, not soil.
const NOTHING_M3: f64 = 1.0e-6;

/// The measured ground of an outcome, in the job's unit.
pub(super) fn ground(outcome: &Outcome) -> Ground<'_> {
    let show = Show::new(outcome.job.units);
    Ground {
        facts: &outcome.ground_facts,
        relief: &outcome.relief,
        origin: outcome.terrain.origin,
        show,
        heights: show,
    }
}

/// "12 barrows or 1 truck"; "no loads" for no soil.
pub(super) fn loads(loads: Loads) -> String {
    if loads.barrows == 0 && loads.trucks == 0 {
        return "no loads".to_owned();
    }
    format!(
        "{} or {}",
        counted(loads.barrows, "barrow"),
        counted(loads.trucks, "truck")
    )
}

/// "1 barrow", "2 barrows".
pub fn counted(count: u64, word: &str) -> String {
    match count {
        1 => format!("1 {word}"),
        n => format!("{n} {word}s"),
    }
}

/// "12.3 yd3 (11.0 to 14.1)", or a single value where there is no range.
pub(super) fn volume_range(show: Show, r: Range) -> String {
    let [low, likely, high] = [r.low, r.likely, r.high].map(|v| show.volume_number(v));
    if low == high {
        format!("{likely} {}", show.volume_unit())
    } else {
        format!("{likely} {} ({low} to {high})", show.volume_unit())
    }
}

/// What comes out of the balance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Left {
    Surplus,
    Short,
    Even,
}

pub(super) fn left(outcome: &Outcome) -> Left {
    let b = &outcome.balance;
    if b.surplus_loose_m3.likely >= NOTHING_M3 {
        Left::Surplus
    } else if b.short_tamped_m3.likely >= NOTHING_M3 {
        Left::Short
    } else {
        Left::Even
    }
}

/// What became of shots that are no plain part of the ground, and of level books: a heading and
/// words for each.
pub(super) fn survey(outcome: &Outcome) -> Vec<(&'static str, String)> {
    const MOST: usize = 8;
    let survey = &outcome.survey;
    let names = |all: Vec<&str>| {
        let more = all.len().saturating_sub(MOST);
        let shown = all[..all.len() - more].join(", ");
        match more {
            0 => shown,
            n => format!("{shown} and {n} more"),
        }
    };
    let mut said = Vec::new();
    for book in &survey.books {
        if !book.words.is_empty() {
            said.push(("Level book: ", format!("{}: {}.", book.file, book.words)));
        }
    }
    if !survey.unplaced.is_empty() {
        let all = survey.unplaced.iter().map(|u| u.name.as_str()).collect();
        let words = format!("{}: no part of the ground until decided.", names(all));
        said.push(("Not placed by tape: ", words));
    }
    if !survey.struck.is_empty() {
        let all = survey.struck.iter().map(|s| s.shot.name.as_str()).collect();
        said.push(("Struck out: ", format!("{}.", names(all))));
    }
    let doubts = outcome
        .diagnostics
        .iter()
        .filter(|d| d.level == Level::Warn)
        .count();
    if doubts > 0 {
        let words = format!(
            "{}, named apart and in the report.",
            counted(doubts as u64, "warning")
        );
        said.push(("Doubts about the input: ", words));
    }
    said
}

/// "within 0.12 ft in four of five places, as a mean over the area, worst 0.41 ft near 12.0 ft E,
/// 30.1 ft N: shoot there next; 12 % of it is guessed, beyond 0.50 ft".
pub fn trust_words(trust: &Result<Trust, NotTrusted>, show: Show) -> String {
    let trust = match trust {
        Ok(trust) => trust,
        Err(why) => return format!("not computed: {why}"),
    };
    let height = |m: f64| show.level_with_unit(m);
    let mut words = format!(
        "within {} in four of five places, as a mean over the area",
        height(trust.mean_m)
    );
    if let Some(worst) = trust.worst() {
        words.push_str(&format!(
            ", worst {} near {}",
            height(worst.half_range_80_m),
            show.place(worst.x_m, worst.y_m)
        ));
        // Where a place is known as well as a shot tells, another shot tells no more.
        if worst.half_range_80_m > Grade::Measured.limit_m() {
            words.push_str(": shoot there next");
        }
    }
    let all: f64 = trust.grades.iter().map(|g| g.area_m2).sum();
    let guessed = trust.grades[Grade::Guessed as usize].area_m2 / all;
    if guessed >= 0.005 {
        words.push_str(&format!(
            "; {:.0} % of it is guessed, beyond {}",
            guessed * 100.0,
            height(Grade::Fair.limit_m())
        ));
    }
    words
}

/// "Dig 21.7 yd3 (21.5 to 21.9) bank: 27.2 yd3 loose, 235 barrows or 3 trucks."
pub(super) fn dig(outcome: &Outcome) -> String {
    let (show, b) = (Show::new(outcome.job.units), &outcome.balance);
    if b.dig_bank_m3.likely < NOTHING_M3 {
        return "Dig none: nothing lies below the ground.".to_owned();
    }
    format!(
        "Dig {} bank: {} loose, {}.",
        volume_range(show, b.dig_bank_m3),
        show.volume(b.dig_loose_m3.likely),
        loads(b.dig_loads)
    )
}

/// "Strip 21.0 yd3 bank of sod and topsoil first and keep it apart: it is no soil to fill with."
pub(super) fn strip(outcome: &Outcome) -> Option<String> {
    let show = Show::new(outcome.job.units);
    let m3 = outcome.to_build.strip_m3;
    (m3 >= NOTHING_M3).then(|| {
        format!(
            "Strip {} bank of sod and topsoil first and keep it apart: it is no soil to fill with.",
            show.volume(m3)
        )
    })
}

/// What of the fill is no soil to place.
pub(super) fn other_fill(outcome: &Outcome) -> Option<String> {
    let show = Show::new(outcome.job.units);
    let m3 = outcome.to_build.other_fill_m3;
    (m3 >= NOTHING_M3).then(|| {
        format!(
            "Of the fill, {} is left out of what is placed: piles are loose soil that is there already, walls are built.",
            show.volume(m3)
        )
    })
}

/// "Stone 4.1 yd3, gravel 0.6 yd3": layers of all features by name, in the order they are met.
pub(super) fn layers(outcome: &Outcome) -> Option<String> {
    let show = Show::new(outcome.job.units);
    let mut names: Vec<&str> = Vec::new();
    for layer in &outcome.layers {
        if !names.contains(&layer.layer.as_str()) {
            names.push(&layer.layer);
        }
    }
    let words: Vec<String> = names
        .iter()
        .map(|name| {
            let own = || outcome.layers.iter().filter(|l| l.layer == **name);
            let volumes: Vec<f64> = own().filter_map(|l| l.volume_m3).collect();
            if volumes.is_empty() {
                format!("{name} {}", show.area(own().map(|l| l.area_m2).sum()))
            } else {
                format!("{name} {}", show.volume_or_none(volumes.iter().sum()))
            }
        })
        .collect();
    (!words.is_empty()).then(|| format!("{}.", words.join(", ")))
}

/// How the ledger adds up.
pub(super) fn ledger(outcome: &Outcome) -> String {
    let show = Show::new(outcome.job.units);
    let sum = |of: fn(&Work) -> f64| outcome.works.iter().map(of).sum::<f64>();
    let again = sum(|w| w.dug_again_m3);
    let refilled = sum(|w| w.refilled_m3);
    if again < NOTHING_M3 && refilled < NOTHING_M3 {
        return "No soil is dug out of fill, and no dig is filled again.".to_owned();
    }
    format!(
        "Soil handled for another feature first: {} dug out of fill, {} filled into a dig. Another order of the features, or another place, may save it.",
        show.volume_or_none(again),
        show.volume_or_none(refilled)
    )
}

/// "Place 19.4 yd3 (19.2 to 19.7) tamped; that takes 21.6 yd3 bank."
pub(super) fn place(outcome: &Outcome) -> String {
    let (show, b) = (Show::new(outcome.job.units), &outcome.balance);
    if b.place_tamped_m3.likely < NOTHING_M3 {
        return "Place none: nothing lies above the ground.".to_owned();
    }
    format!(
        "Place {} tamped; that takes {} bank.",
        volume_range(show, b.place_tamped_m3),
        show.volume_or_none(b.needs_bank_m3.likely)
    )
}

/// "Surplus 0.2 yd3 loose (0.0 to 1.8), 2 barrows or 1 truck; it may as well be short by up to
/// 1.1 yd3 tamped."
pub(super) fn over_or_short(outcome: &Outcome) -> String {
    let (show, b) = (Show::new(outcome.job.units), &outcome.balance);
    let may_be = |high: f64, words: &str| {
        if high >= NOTHING_M3 {
            format!("; {words} {}", show.volume(high))
        } else {
            String::new()
        }
    };
    match left(outcome) {
        Left::Surplus => format!(
            "Surplus {} loose, {}{}.",
            volume_range(show, b.surplus_loose_m3),
            loads(b.surplus_loads),
            may_be(
                b.short_tamped_m3.high,
                "it may as well turn out short, tamped, by up to"
            )
        ),
        Left::Short => format!(
            "Short {} tamped: order {} loose, {}{}.",
            volume_range(show, b.short_tamped_m3),
            show.volume(b.short_loose_m3.likely),
            loads(b.short_loads),
            may_be(
                b.surplus_loose_m3.high,
                "it may as well leave, loose, up to"
            )
        ),
        Left::Even => format!(
            "Nothing over, nothing short{}{}.",
            may_be(b.surplus_loose_m3.high, "surplus, loose, up to"),
            may_be(b.short_tamped_m3.high, "short, tamped, up to")
        ),
    }
}

/// What makes the range widest.
pub(super) fn cause(outcome: &Outcome) -> String {
    match outcome.balance.widest_cause.as_str() {
        "" => "The balance has no range: nothing is dug or placed.".to_owned(),
        cause => format!("Widest cause of the range: {cause}."),
    }
}

/// True if a volume is soil and not rounding.
pub(super) fn is_some(m3: f64) -> bool {
    m3 >= NOTHING_M3
}

/// True if a range says more than its likely value.
pub(super) fn is_wide(r: Range) -> bool {
    r.high - r.low >= NOTHING_M3
}

/// The soil and where its factors come from.
pub(super) fn soil(outcome: &Outcome) -> String {
    let soil = &outcome.soil;
    let chosen = if soil.is_named {
        ""
    } else {
        " (taken because the job names no soil)"
    };
    format!(
        "{}{chosen}: 1 bank makes {:.2} loose ({:.2} to {:.2}) and {:.2} tamped ({:.2} to {:.2})",
        soil.name,
        soil.loose_per_bank.likely,
        soil.loose_per_bank.low,
        soil.loose_per_bank.high,
        soil.tamped_per_bank.likely,
        soil.tamped_per_bank.low,
        soil.tamped_per_bank.high
    )
}

/// "2 stop, 1 warn, 0 note, 5 not checked".
pub(super) fn counts(outcome: &Outcome) -> String {
    Severity::ALL
        .map(|s| format!("{} {}", outcome.count(s), s.word()))
        .join(", ")
}

/// Gap between the second method and the exact volume, as a share; `None` if there is nothing
/// to compare with.
pub(super) fn gap(second_m3: f64, exact_m3: f64) -> Option<f64> {
    (exact_m3 >= NOTHING_M3).then(|| second_m3 / exact_m3 - 1.0)
}

/// A gap in words: "+1.2 %", "none to compare with".
pub(super) fn gap_words(second_m3: f64, exact_m3: f64) -> String {
    match gap(second_m3, exact_m3) {
        Some(share) if share.abs() < 5.0e-4 => "0.0 %".to_owned(),
        Some(share) => format!("{:+.1} %", share * 100.0),
        None => "none to compare with".to_owned(),
    }
}

/// A volume of the second method with its gap: "3.2 yd3 (+1.2 %)"; only "none" where both are.
pub(super) fn with_gap(show: Show, second_m3: f64, exact_m3: f64) -> String {
    let words = show.volume_or_none(second_m3);
    if second_m3 < NOTHING_M3 && exact_m3 < NOTHING_M3 {
        return words;
    }
    format!("{words} ({})", gap_words(second_m3, exact_m3))
}

/// "12.7 ft long, up to 0.84 ft high".
pub(super) fn wall_size(show: Show, wall: &Wall) -> String {
    format!(
        "{} long, up to {} {} high",
        show.length(wall.length_m),
        show.level(wall.max_height_m),
        show.length_unit()
    )
}

/// Why the second method differs.
pub(super) fn why_gap(outcome: &Outcome) -> String {
    match &outcome.second {
        Some(second) => {
            let show = Show::new(outcome.job.units);
            format!(
                "It lays straight lines between {} {} apart; the exact volume follows every facet.",
                counted(second.sections as u64, "section"),
                show.length(second.spacing_m)
            )
        }
        None if !outcome.design.strip_touched.is_empty() => {
            "Not computed: sections know no ground that is stripped wherever something is touched."
                .to_owned()
        }
        None => "Not computed: no feature changes the ground.".to_owned(),
    }
}

/// "Benchmark BM1, level 100.00 ft: brass bolt in the lower step".
pub(super) fn benchmark(outcome: &Outcome) -> String {
    let show = Show::new(outcome.job.units);
    match &outcome.survey.benchmark {
        Some(mark) => format!(
            "Benchmark {}, level {} {}: {}",
            mark.name,
            show.level(mark.level_m),
            show.length_unit(),
            if mark.words.trim().is_empty() {
                "no words say where it is"
            } else {
                &mark.words
            }
        ),
        None => "No benchmark named: levels stand as given in the survey".to_owned(),
    }
}

/// How the walls came out: none, not computed or how many.
pub(super) fn walls(outcome: &Outcome) -> String {
    let lines = outcome.keep_offs.len();
    match outcome.walls.len() {
        0 if lines == 0 => "not computed: the job draws no keep-off to compare with".to_owned(),
        0 => format!("none along the {} drawn", counted(lines as u64, "keep-off")),
        1 => "1 stretch".to_owned(),
        n => format!("{n} stretches"),
    }
}

/// A level book's closure in words.
pub(super) fn status(status: BookStatus) -> &'static str {
    match status {
        BookStatus::Closed => "closed within its allowance",
        BookStatus::Adjusted => "closed within its allowance, misclosure shared out",
        BookStatus::Refused => "does NOT close: beyond its allowance",
        BookStatus::Open => "open: at least a part of it is not checked",
    }
}

/// "dug" or "filled".
pub(super) fn rule(rule: Rule) -> &'static str {
    match rule {
        Rule::Lower => "dug",
        Rule::Raise => "filled",
    }
}

/// Place of a finding, with where it belongs.
pub(super) fn place_of(finding: &Finding) -> Option<&str> {
    (!finding.place.is_empty()).then_some(finding.place.as_str())
}

/// Where water goes, in a sentence: what drains to buildings and lines of property, and whether
/// the work makes hollows. Nothing where nothing is drawn or laid that could tell.
pub(super) fn water(outcome: &Outcome) -> Option<String> {
    let show = Show::new(outcome.job.units);
    let drainage = &outcome.drainage;
    let is_feature = |name: &str| outcome.design.features.iter().any(|f| f.name == name);
    let mut parts: Vec<String> = drainage
        .catchments
        .iter()
        .filter(|c| !is_feature(&c.name))
        .take(3)
        .map(|c| {
            let [before, after] = [c.before_m2, c.after_m2].map(|m2| show.area_or_none(m2));
            match before == after {
                true => format!("{after} drain to {}, as before", c.name),
                false => format!("{after} drain to {}, before {before}", c.name),
            }
        })
        .collect();
    let new = drainage.ponds.iter();
    let new = new.filter(|p| p.kind == PondKind::New).count();
    if !outcome.design.features.is_empty() {
        parts.push(match new {
            0 => "the work makes no standing water".to_owned(),
            1 => "the work makes one standing pocket".to_owned(),
            n => format!("the work makes {n} standing pockets"),
        });
    }
    (!parts.is_empty()).then(|| format!("{}.", parts.join("; ")))
}
