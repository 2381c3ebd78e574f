//! The report as one HTML page: readable on a phone, printable, no request leaves it.
//!
//! Takes an outcome, gives a whole file with its style and pictures inside. Uses no script. The
//! page says itself that nothing may be loaded.

mod access;
mod drainage;
mod engineer;
mod leaves;
mod numbers;
mod page;
mod register;
mod shots;
mod visit;
mod work;

use std::fmt::Write as _;

pub(super) use engineer::ENGINEER;
pub use engineer::engineer;
pub use visit::visit_html;

use page::{Frame, Head, Page};

use super::words;
use crate::checks::{Finding, Measure, Severity};
use crate::drawing::{escape, is_off_survey, letters, plan, profiles, sections};
use crate::earthwork::Range;
use crate::outcome::Outcome;
use crate::show::Show;
use crate::units::Slope;

/// The report as a page that stands alone.
pub fn html(outcome: &Outcome) -> String {
    let mut page = Page::new(outcome, Show::new(outcome.job.units));
    page.answer();
    page.findings();
    page.cautions();
    page.plan();
    page.drainage();
    page.sections();
    page.profiles();
    page.soil();
    page.balance();
    page.work();
    page.lifts();
    page.layers();
    page.second();
    page.walls();
    page.drawn_walls();
    page.access();
    page.sizes();
    page.ground();
    page.shots();
    page.doubts(&outcome.diagnostics);
    page.rules();
    page.leaves();
    page.files(&outcome.inputs);
    let (unit, volume) = (page.show.length_unit(), page.show.volume_unit());
    page.finish(&Frame {
        name: &outcome.job.name,
        title: "soil to cut and fill",
        date: &outcome.date,
        line: &format!(
            "{}. {}. Lengths and levels in {unit}, soil in {volume}.",
            outcome.date,
            words::benchmark(outcome)
        ),
    })
}

impl Page<'_> {
    fn answer(&mut self) {
        let (show, b) = (self.show, &self.outcome.balance);
        self.heading("answer", "The answer");
        let tile = |word: &str, m3: f64, state: &str, more: &str| {
            let number = show.volume_or_none(m3);
            let number = match number.rsplit_once(' ') {
                Some((number, unit)) => {
                    format!("{} <small>{} {state}</small>", escape(number), escape(unit))
                }
                None => escape(&number),
            };
            format!(
                "<div><span class=\"word\">{word}</span><span class=\"number\">{number}</span>{}</div>",
                escape(more)
            )
        };
        let range = |r: Range, state: &str| {
            if words::is_wide(r) {
                format!(
                    "{} to {} {} {state}",
                    show.volume_number(r.low),
                    show.volume_number(r.high),
                    show.volume_unit()
                )
            } else {
                String::new()
            }
        };
        let join = |parts: &[String]| {
            let parts: Vec<&str> = parts
                .iter()
                .map(String::as_str)
                .filter(|p| !p.is_empty())
                .collect();
            parts.join("; ")
        };
        let dig = tile(
            "Dig",
            b.dig_bank_m3.likely,
            "bank",
            &join(&[
                range(b.dig_bank_m3, "bank"),
                if words::is_some(b.dig_bank_m3.likely) {
                    format!(
                        "{} loose, {}",
                        show.volume_or_none(b.dig_loose_m3.likely),
                        words::loads(b.dig_loads)
                    )
                } else {
                    String::new()
                },
            ]),
        );
        let place = tile(
            "Place",
            b.place_tamped_m3.likely,
            "tamped",
            &join(&[
                range(b.place_tamped_m3, "tamped"),
                if words::is_some(b.place_tamped_m3.likely) {
                    format!("takes {} bank", show.volume_or_none(b.needs_bank_m3.likely))
                } else {
                    String::new()
                },
            ]),
        );
        let rest = match words::left(self.outcome) {
            words::Left::Surplus => tile(
                "Surplus",
                b.surplus_loose_m3.likely,
                "loose",
                &join(&[
                    range(b.surplus_loose_m3, "loose"),
                    words::loads(b.surplus_loads),
                ]),
            ),
            words::Left::Short => tile(
                "Short",
                b.short_tamped_m3.likely,
                "tamped",
                &join(&[
                    range(b.short_tamped_m3, "tamped"),
                    format!(
                        "order {} loose, {}",
                        show.volume(b.short_loose_m3.likely),
                        words::loads(b.short_loads)
                    ),
                ]),
            ),
            words::Left::Even => tile("Over or short", 0.0, "", "soil balances"),
        };
        self.add(&format!(
            "<div class=\"answer\">\n{dig}\n{place}\n{rest}\n</div>"
        ));
        let outcome = self.outcome;
        for sentence in [
            words::dig(outcome),
            words::place(outcome),
            words::over_or_short(outcome),
            words::cause(outcome),
        ] {
            self.paragraph(&sentence);
        }
        self.add("<p class=\"quiet\">Bank is soil as it lies, loose is soil as dug, tamped is soil placed in layers and tamped. Where the numbers come from: <a href=\"#soil\">soil by feature</a>, <a href=\"#balance\">balance</a>, <a href=\"#plan\">plan</a>, <a href=\"#inputs\">inputs</a>.</p>");
    }

    fn findings(&mut self) {
        let outcome = self.outcome;
        self.heading("findings", "Findings");
        let mut counts = String::from("<ul class=\"counts\">");
        for severity in Severity::ALL {
            let _ = write!(
                counts,
                "<li class=\"{}\">{} {}</li>",
                // Nothing found carries no alarm.
                match outcome.count(severity) {
                    0 => "zero",
                    _ => class(severity),
                },
                outcome.count(severity),
                severity.word()
            );
        }
        counts.push_str("</ul>");
        self.add(&counts);
        for severity in Severity::ALL {
            let of: Vec<&Finding> = outcome
                .findings
                .iter()
                .filter(|f| f.severity == severity)
                .collect();
            let (word, means) = match severity {
                Severity::Stop => ("Stop", "do not dig or build like this"),
                Severity::Warn => ("Warn", "look at this before work starts"),
                Severity::Note => ("Note", "answers worth knowing"),
                Severity::NotChecked => ("Not checked", "silence here is no answer"),
            };
            let _ = writeln!(self.body, "<h3>{word}: {} ({means})</h3>", of.len());
            if of.is_empty() {
                self.paragraph("None.");
                continue;
            }
            let _ = writeln!(self.body, "<ol class=\"findings\">");
            // One rule broken by every side of a feature is one thing to do.
            for group in of.chunk_by(|a, b| is_alike(a, b)) {
                self.finding(group);
            }
            self.add("</ol>");
        }
    }

    fn finding(&mut self, group: &[&Finding]) {
        let show = self.show;
        let Some(first) = group.first() else { return };
        let _ = writeln!(self.body, "<li class=\"{}\">", class(first.severity));
        for finding in group {
            let _ = writeln!(
                self.body,
                "<p><span class=\"tag {}\">{}</span> {}.</p>",
                class(finding.severity),
                finding.severity.word(),
                escape(finding.words.trim_end_matches('.'))
            );
            let mut rows: Vec<(&str, String)> = Vec::new();
            if let Some(place) = words::place_of(finding) {
                rows.push(("place", place.to_owned()));
            }
            if let Some(measured) = &finding.measured {
                rows.push(("measured", measure(show, measured)));
            }
            self.pairs(&rows);
        }
        let mut rows: Vec<(&str, String)> = Vec::new();
        if let Some(feature) = &first.feature {
            rows.push(("feature", feature.clone()));
        }
        if let Some(limit) = &first.limit {
            rows.push(("limit", measure(show, limit)));
        }
        if !first.limit_from.is_empty() {
            rows.push(("whose limit", first.limit_from.clone()));
        }
        if !first.cure.is_empty() {
            rows.push(("cure", first.cure.clone()));
        }
        if !first.ids.is_empty() {
            rows.push((
                "rules",
                format!("{}: {}", first.ids.join(", "), first.source),
            ));
        }
        if let Some(number) = first.caution {
            rows.push(("see", format!("caution {number}")));
        }
        self.pairs(&rows);
        self.add("</li>");
    }

    fn cautions(&mut self) {
        let outcome = self.outcome;
        self.heading("cautions", "Cautions");
        if outcome.cautions.is_empty() {
            self.paragraph("None.");
        }
        for caution in &outcome.cautions {
            let _ = writeln!(
                self.body,
                "<h3>{}. {}</h3>\n<p>{} <span class=\"quiet\">Shown here because of: {}.</span></p>",
                caution.number,
                escape(caution.title),
                escape(caution.words),
                escape(&caution.because)
            );
        }
    }

    fn plan(&mut self) {
        self.heading("plan", "Plan");
        let svg = plan(self.outcome);
        self.picture(
            &svg,
            "Plan with cut (C) and fill (F). True to scale when plan.svg is printed at full size; on this page go by the bar scale.",
        );
    }

    fn sections(&mut self) {
        let outcome = self.outcome;
        self.heading("sections", "Sections");
        if outcome.sections.is_empty() {
            self.paragraph("None: the job asks for no section and no feature has one by itself.");
            return;
        }
        let show = self.show;
        for (k, svg) in sections(outcome).into_iter().enumerate() {
            let section = &outcome.sections[k];
            let letter = letters(k);
            let is_off = is_off_survey(section);
            let off = if is_off {
                " (no ground along this line)"
            } else {
                ""
            };
            let _ = writeln!(
                self.body,
                "<h3>{letter}-{letter}': {}{off}</h3>",
                escape(&section.name)
            );
            let caption = if is_off {
                format!(
                    "Section {letter}-{letter}': cut and fill not computed, the survey does not reach this line."
                )
            } else {
                format!(
                    "Section {letter}-{letter}': cut {}, fill {}, over {}. True to scale in section-{}.svg at full size.",
                    show.area_or_none(section.cut_m2),
                    show.area_or_none(section.fill_m2),
                    show.length(section.length_m),
                    k + 1
                )
            };
            self.picture(&svg, &caption);
        }
    }

    fn profiles(&mut self) {
        let outcome = self.outcome;
        self.heading("profile", "Stream profile");
        if outcome.profiles.is_empty() {
            self.paragraph("None: the job has no stream.");
            return;
        }
        for (k, svg) in profiles(outcome).into_iter().enumerate() {
            let stream = &outcome.profiles[k];
            let _ = writeln!(self.body, "<h3>{}</h3>", escape(&stream.name));
            let caption = format!(
                "Long profile of {}: bed with its drops, and existing ground. Also in profile-{}.svg.",
                stream.name,
                k + 1
            );
            self.picture(&svg, &caption);
        }
    }
}

/// True if two findings are one rule with one limit and one cure, at two places.
fn is_alike(a: &Finding, b: &Finding) -> bool {
    a.rule == b.rule
        && a.feature == b.feature
        && a.limit == b.limit
        && a.limit_from == b.limit_from
        && a.cure == b.cure
        && a.caution == b.caution
        && a.ids == b.ids
}

fn class(severity: Severity) -> &'static str {
    match severity {
        Severity::Stop => "stop",
        Severity::Warn => "warn",
        Severity::Note => "note",
        Severity::NotChecked => "not-checked",
    }
}

/// A measured value or a limit in the job's unit.
fn measure(show: Show, measure: &Measure) -> String {
    let v = measure.value;
    match measure.unit {
        // No bare signs: a fall that rises, a distance beyond its line.
        "m" if v < 0.0 => format!("{} the other way", show.level_with_unit(-v)),
        "m" => show.level_with_unit(v),
        "m2" => show.area_or_none(v),
        "m3" => show.volume_or_none(v),
        "share" => format!("{:.1} %", 100.0 * v),
        "rise_per_run" => Slope::from_rise_per_run(v).to_string(),
        unit => format!("{v} {unit}"),
    }
}

/// A number without its unit, for columns whose head carries it.
fn bare(words: &str, unit: &str) -> String {
    words.trim_end_matches(unit).trim_end().to_owned()
}
