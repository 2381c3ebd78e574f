//! A level book on the terminal: the answer first, then what it rests on, and every sight.

use std::fmt::Write as _;

use crate::show::Show;
use crate::survey::{
    BookStatus, LevelBook, PageCheck, Slip, Suspect, TwiceMeasured, suspect_groups,
};

/// Suspects of one kind that are listed.
const MAX_LISTED: usize = 8;

/// Pairs of points measured twice that are listed.
const MAX_PAIRS: usize = 5;

/// A reduced level book in the unit of its heights.
pub fn book_text(book: &LevelBook, show: Show) -> String {
    let mut text = String::new();
    let unit = show.length_unit();
    let status = match book.status {
        BookStatus::Closed => "closed",
        BookStatus::Adjusted => "closed and adjusted",
        BookStatus::Refused => "refused: do not build on these levels",
        BookStatus::Open => "open: nothing checks a part of these readings",
    };
    let _ = writeln!(text, "{}: {status}", book.file);
    if !book.words.is_empty() {
        let _ = writeln!(text, "  {}", book.words);
    }
    suspects(book, &mut text);
    match &book.benchmark {
        Some(b) => {
            let _ = writeln!(
                text,
                "  benchmark {} at {} {unit}",
                b.name,
                show.level(b.level_m)
            );
        }
        None => {
            let _ = writeln!(text, "  known levels as given in the book");
        }
    }
    for setup in &book.setups {
        let plane = match setup.plane_m {
            Some(plane) => format!("laser plane at {} {unit}", show.level(plane)),
            None => "a rod that shows elevations: no plane".to_owned(),
        };
        let _ = writeln!(
            text,
            "  set-up {}: {plane}, from {} (line {}), rod: {}",
            setup.name, setup.backsight, setup.line, setup.rod
        );
    }
    closure(book, show, &mut text);
    let _ = writeln!(text, "  page check {}", page_words(book, show));
    for pair in book.twice.iter().take(MAX_PAIRS) {
        let _ = writeln!(text, "  {}", twice_words(pair, show));
    }
    if book.twice.len() > MAX_PAIRS {
        let more = book.twice.len() - MAX_PAIRS;
        let _ = writeln!(text, "  and {more} more pairs of points measured twice");
    }
    if let (Some(longest_m), Some(curvature_m)) = (book.longest_sight_m, book.curvature_m) {
        let _ = writeln!(
            text,
            "  longest sight {}: curvature of the Earth less refraction {} {unit}, not applied",
            show.length(longest_m),
            fine(show, curvature_m)
        );
    }
    let _ = writeln!(
        text,
        "\n  {:<12} {:<4} {:>12} {:>26} {:>12} {:>12}",
        "point",
        "",
        "rod as read",
        "that is",
        format!("level {unit}"),
        format!("adjusted {unit}")
    );
    for sight in &book.sights {
        let _ = writeln!(
            text,
            "  {:<12} {:<4} {:>12} {:>26} {:>12} {:>12}",
            sight.name,
            sight.kind.name(),
            sight.rod,
            sight.echo,
            show.level(sight.elevation_m),
            show.level(sight.adjusted_m)
        );
    }
    text
}

/// The sights that can be the mistake, by kind.
fn suspects(book: &LevelBook, text: &mut String) {
    let groups = suspect_groups(book);
    if groups.is_empty() {
        return;
    }
    let in_part = book.suspects.iter().any(|suspect| suspect.in_part);
    let all = if in_part {
        ", though no single mistake explains every check"
    } else {
        ""
    };
    let _ = writeln!(text, "  look first at, likeliest first{all}:");
    for group in &groups {
        let count = group.suspects.len();
        let which = match count {
            1 => String::new(),
            n if group.slip == Slip::LaserMoved => {
                format!(", any of these {n} set-ups; the book cannot tell which")
            }
            n => format!(", any of these {n} sights; the book cannot tell which"),
        };
        let _ = writeln!(text, "    {}{which}:", group.slip.words());
        for suspect in group.suspects.iter().take(MAX_LISTED) {
            let _ = writeln!(text, "      {}", suspected(suspect));
        }
        if count > MAX_LISTED {
            let _ = writeln!(text, "      and {} more", count - MAX_LISTED);
        }
    }
    if book.more_suspects > 0 {
        let _ = writeln!(text, "    and {} more sights as likely", book.more_suspects);
    }
}

/// One suspect in words.
fn suspected(suspect: &Suspect) -> String {
    let Suspect { line, booked, .. } = suspect;
    let sight = format!(
        "line {line}, {} on {} from set-up {}: {booked}",
        suspect.kind.name(),
        suspect.name,
        suspect.setup
    );
    match (suspect.slip, suspect.other_line) {
        (Slip::LaserMoved, Some(stood)) => {
            format!(
                "set-up {}: after the sight on line {stood} and before the one on line {line}",
                suspect.setup
            )
        }
        (Slip::SightsSwapped, Some(other)) if other == *line => {
            format!(
                "{sight} and {} in one row, the other way round",
                suspect.would_be
            )
        }
        (Slip::SightsSwapped, Some(other)) => {
            format!("{sight}, and {} on line {other}", suspect.would_be)
        }
        (Slip::GivenLevel, _) => {
            format!(
                "{}, from line {line}: it would be at {}",
                suspect.name, suspect.would_be
            )
        }
        (Slip::OtherBenchmark, _) => format!("{sight}, read {} perhaps", suspect.would_be),
        _ => format!("{sight}, would be {}", suspect.would_be),
    }
}

/// Misclosure and allowance.
fn closure(book: &LevelBook, show: Show, text: &mut String) {
    let unit = show.length_unit();
    let (Some(off), Some(allowed)) = (book.misclosure_m, book.allowed_m) else {
        let _ = writeln!(
            text,
            "  misclosure not computed: shoot the benchmark again at the end"
        );
        return;
    };
    let word = match signed(show, off) {
        zero if zero == signed(show, 0.0) => "",
        low if low.starts_with('-') => " low",
        _ => " high",
    };
    let _ = writeln!(
        text,
        "  misclosure {} {unit}{word}, allowed {} {unit}: {}",
        signed(show, off.abs()),
        signed(show, allowed),
        book.allowance
    );
}

/// The page check, or why there is none.
pub(super) fn page_words(book: &LevelBook, show: Show) -> String {
    let unit = show.length_unit();
    let sums = format!(
        "sum of backsights {} - sum of foresights {} = {} {unit}",
        signed(show, book.sum_bs_m),
        signed(show, book.sum_fs_m),
        signed(show, book.sum_bs_m - book.sum_fs_m)
    );
    match &book.page {
        PageCheck::Agrees {
            rises_less_falls_m,
            last_less_first_m,
            ..
        } => format!(
            "agrees: {sums}; rises - falls = {}, last level - first = {}",
            signed(show, *rises_less_falls_m),
            signed(show, *last_less_first_m)
        ),
        PageCheck::DoesNotApply { because } => format!("does not apply: {because}; {sums}"),
    }
}

/// A pair of points measured twice.
pub(super) fn twice_words(pair: &TwiceMeasured, show: Show) -> String {
    let unit = show.length_unit();
    let [first, second] = &pair.points;
    let [one, other] = &pair.setups;
    let mut text = format!(
        "{first} to {second} measured twice: {} {unit} from set-up {one}, {} from set-up {other}, \
         mean {}",
        signed(show, pair.rises_m[0]),
        signed(show, pair.rises_m[1]),
        signed(show, pair.mean_rise_m)
    );
    let (run_m, run) = if show.unit().is_foot() {
        (show.unit().to_m(100.0), "100 ft")
    } else {
        (30.0, "30 m")
    };
    let over = |slope: f64| fine(show, slope.abs() * run_m);
    if let (Some(tilt), Some(uncertain)) = (pair.tilt_rise_per_run, pair.tilt_uncertain) {
        text += &if pair.tilt_shows() {
            format!(
                "; the sight line tilts {} {} {unit} in {run} (give or take {})",
                if tilt > 0.0 { "up" } else { "down" },
                over(tilt),
                over(uncertain)
            )
        } else {
            format!(
                "; no tilt of the sight line beyond the {} {unit} in {run} that such readings show",
                over(uncertain)
            )
        };
    }
    if let Some(level_m) = pair.level_rise_m.filter(|_| pair.tilt_shows()) {
        text += &format!(", without it {} {unit}", signed(show, level_m));
    }
    text
}

/// A sum with every digit a rod gives, so that the page check adds up; it may be negative.
fn signed(show: Show, m: f64) -> String {
    let value = show.unit().from_m(m);
    // No sum is "-0".
    format!("{:.3}", if value.abs() < 5.0e-4 { 0.0 } else { value })
}

/// A difference smaller than a rod can show.
fn fine(show: Show, m: f64) -> String {
    format!("{:.4}", show.unit().from_m(m))
}
