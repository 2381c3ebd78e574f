//! The report for a terminal: one screen, the answer first.
//!
//! Takes an outcome, gives plain text of at most [`COLUMNS`] columns. Long lists are cut, and
//! then say how much was left out.

use std::fmt::Write as _;

use super::words;
use crate::checks::{Basis, Finding, Severity, WallWork};
use crate::outcome::Outcome;
use crate::show::Show;

/// Widest line, in characters.
const COLUMNS: usize = 100;
/// Lines of a screen.
const SCREEN: usize = 40;
/// Most findings, features, walls and cautions that are written out.
const MOST_FINDINGS: usize = 6;
const MOST_FEATURES: usize = 8;
const MOST_WALLS: usize = 3;

/// The summary of a run for people at a terminal.
pub fn text(outcome: &Outcome) -> String {
    // Sentences differ in length: findings are left out until the rest fits a screen.
    let mut most = MOST_FINDINGS;
    loop {
        let text = with_findings(outcome, most);
        if most <= 1 || text.lines().count() <= SCREEN {
            return text;
        }
        most -= 1;
    }
}

fn with_findings(outcome: &Outcome, most: usize) -> String {
    let show = Show::new(outcome.job.units);
    let mut out = Lines::default();
    out.add("", &format!("{}  ({})", outcome.job.name, outcome.date));
    let ground = words::ground(outcome).sentences();
    if outcome.to_build.features.is_empty() {
        // Only a survey: the ground is the answer.
        for sentence in &ground {
            out.add("", sentence);
        }
        out.add("", "The job lays no feature: nothing is dug or placed.");
        out.blank();
    } else {
        work(outcome, show, &mut out);
        if let Some(first) = ground.first() {
            out.add("", first);
        }
    }
    out.add(
        "Trust in the ground: ",
        &format!("{}.", words::trust_words(&outcome.trust, show)),
    );
    for (head, words) in words::survey(outcome) {
        out.add(head, &words);
    }
    if let Some(words) = words::water(outcome) {
        out.add("Water: ", &words);
    }
    out.blank();
    out.add("Findings: ", &format!("{}.", words::counts(outcome)));
    findings(outcome, most, &mut out);
    out.add("Rules: ", &format!("{}.", super::rules::counted(outcome)));
    let cautions: Vec<&str> = outcome.cautions.iter().map(|c| c.title).collect();
    let cautions = if cautions.is_empty() {
        "none".to_owned()
    } else {
        cautions.join("; ")
    };
    out.add("Cautions: ", &format!("{cautions}."));
    out.0
}

/// The soil of the features, and walls.
fn work(outcome: &Outcome, show: Show, out: &mut Lines) {
    if let Some(strip) = words::strip(outcome) {
        out.add("", &strip);
    }
    out.add("", &words::dig(outcome));
    out.add("", &words::place(outcome));
    out.add("", &words::over_or_short(outcome));
    out.add("", &words::cause(outcome));
    if !outcome.soil.is_named {
        out.add(
            "",
            &format!(
                "Soil assumed, because the job names none: {}. All loose and tamped numbers follow from it.",
                outcome.soil.name
            ),
        );
    }
    out.blank();
    features(outcome, show, out);
    if let Some(other) = words::other_fill(outcome) {
        out.add("", &other);
    }
    if let Some(layers) = words::layers(outcome) {
        out.add("Layers: ", &layers);
    }
    second(outcome, show, out);
    walls(outcome, show, out);
}

/// Text in lines of at most [`COLUMNS`] columns.
#[derive(Default)]
pub(super) struct Lines(pub(super) String);

impl Lines {
    pub(super) fn blank(&mut self) {
        self.0.push('\n');
    }

    /// A paragraph with a heading; further lines are set in.
    pub(super) fn add(&mut self, head: &str, words: &str) {
        let set_in = if head.is_empty() { 2 } else { 4 };
        let mut line = head.to_owned();
        let mut is_empty = true;
        for word in words.split_whitespace() {
            let word: String = word.chars().filter(|c| !c.is_control()).collect();
            let gap = usize::from(!is_empty);
            if !is_empty && width(&line) + gap + width(&word) > COLUMNS {
                let _ = writeln!(self.0, "{line}");
                line = " ".repeat(set_in);
                is_empty = true;
            }
            if !is_empty {
                line.push(' ');
            }
            line.push_str(&cut(&word, COLUMNS - set_in));
            is_empty = false;
        }
        let _ = writeln!(self.0, "{}", line.trim_end());
    }

    pub(super) fn row(&mut self, row: &str) {
        let _ = writeln!(self.0, "{}", row.trim_end());
    }
}

fn width(text: &str) -> usize {
    text.chars().count()
}

/// Text cut to a number of characters.
fn cut(text: &str, most: usize) -> String {
    let clean: String = text.chars().filter(|c| !c.is_control()).collect();
    if width(&clean) <= most {
        return clean;
    }
    let kept: String = clean.chars().take(most.saturating_sub(3)).collect();
    format!("{kept}...")
}

fn features(outcome: &Outcome, show: Show, out: &mut Lines) {
    const NAME: usize = 32;
    let unit = show.volume_unit();
    let row = |name: &str, cut_m3: &str, fill: &str| {
        format!("{:<NAME$} {cut_m3:>18} {fill:>18}", cut(name, NAME))
    };
    let features = &outcome.to_build.features;
    if features.is_empty() {
        out.row("Features: none in the job; no cut and no fill.");
        return;
    }
    out.row(&row(
        "Feature",
        &format!("cut, {unit} bank"),
        &format!("fill, {unit} tamped"),
    ));
    for f in features.iter().take(MOST_FEATURES) {
        out.row(&row(
            &f.name,
            &number_or_none(show, f.cut_m3),
            &number_or_none(show, f.fill_m3),
        ));
    }
    if features.len() > MOST_FEATURES {
        let rest = &features[MOST_FEATURES..];
        out.row(&row(
            &format!("{} more", rest.len()),
            &number_or_none(show, rest.iter().map(|f| f.cut_m3).sum()),
            &number_or_none(show, rest.iter().map(|f| f.fill_m3).sum()),
        ));
    }
    out.row(&row(
        "All",
        &number_or_none(show, outcome.to_build.cut_m3),
        &number_or_none(show, outcome.to_build.fill_m3),
    ));
}

/// A volume for a column whose head carries the unit.
fn number_or_none(show: Show, m3: f64) -> String {
    show.volume_or_none(m3)
        .trim_end_matches(show.volume_unit())
        .trim_end()
        .to_owned()
}

fn second(outcome: &Outcome, show: Show, out: &mut Lines) {
    match &outcome.second {
        Some(second) => {
            let exact = &outcome.to_build;
            out.add(
                "Second method: ",
                &format!(
                    "cut {}, fill {} by average end areas: straight lines between {}.",
                    words::with_gap(show, second.cut_end_area_m3, exact.cut_m3),
                    words::with_gap(show, second.fill_end_area_m3, exact.fill_m3),
                    words::counted(second.sections as u64, "section")
                ),
            );
        }
        None => out.add("Second method: ", &words::why_gap(outcome)),
    }
}

fn walls(outcome: &Outcome, show: Show, out: &mut Lines) {
    out.add("Walls needed: ", &format!("{}.", words::walls(outcome)));
    for (k, wall) in outcome.walls.iter().take(MOST_WALLS).enumerate() {
        let holds = if wall.holds_fill {
            "holds the fill of"
        } else {
            "holds the ground beside"
        };
        out.add(
            "  ",
            &format!(
                "W{}: {}, along \"{}\", {holds} {}{}",
                k + 1,
                words::wall_size(show, wall),
                wall.keep_off,
                wall.feature,
                match wall.basis {
                    Basis::AsDrawn => "",
                    Basis::AtLimit => " at its limit slope",
                }
            ),
        );
    }
    if outcome.walls.len() > MOST_WALLS {
        out.add(
            "  ",
            &format!(
                "and {} more, in walls.csv",
                outcome.walls.len() - MOST_WALLS
            ),
        );
    }
    let drawn: Vec<String> = outcome
        .wall_works
        .iter()
        .map(|work| drawn(show, work))
        .collect();
    if !drawn.is_empty() {
        out.add(
            "Walls drawn: ",
            &format!("{}; see engineer.html.", drawn.join("; ")),
        );
    }
}

/// "Patio wall: 21.1 ft long, up to 5.20 ft from its bottom to its top, 176 units".
fn drawn(show: Show, work: &WallWork) -> String {
    let wall = &work.quantities;
    let total_m = wall.stations.iter().map(|p| p.total_m).fold(0.0, f64::max);
    let units = wall.units.map_or(String::new(), |n| format!(", {n} units"));
    format!(
        "{}: {} long, up to {} from its bottom to its top{units}",
        wall.name,
        show.length(wall.length_m),
        show.level_with_unit(total_m)
    )
}

fn findings(outcome: &Outcome, most: usize, out: &mut Lines) {
    let grave: Vec<&Finding> = outcome
        .findings
        .iter()
        .filter(|f| matches!(f.severity, Severity::Stop | Severity::Warn))
        .collect();
    // Every rule and feature is heard before one of them is heard twice.
    let mut shown: Vec<usize> = Vec::new();
    for (k, f) in grave.iter().enumerate() {
        let heard = grave[..k]
            .iter()
            .any(|g| g.rule == f.rule && g.feature == f.feature && g.severity == f.severity);
        if !heard {
            shown.push(k);
        }
    }
    for k in 0..grave.len() {
        if !shown.contains(&k) {
            shown.push(k);
        }
    }
    shown.truncate(most);
    shown.sort_unstable();
    for k in &shown {
        let f = grave[*k];
        let mut words = f.words.clone();
        if let Some(place) = words::place_of(f) {
            words.push_str(&format!(". Place: {place}"));
        }
        if !f.cure.is_empty() {
            words.push_str(&format!(". Cure: {}", f.cure));
        }
        out.add(
            &format!("  {}: ", f.severity.word().to_uppercase()),
            &format!("{words}."),
        );
    }
    if grave.len() > shown.len() {
        let left = grave.len() - shown.len();
        out.add(
            "  ",
            &format!("and {left} more stop or warn findings, in the report"),
        );
    }
}
