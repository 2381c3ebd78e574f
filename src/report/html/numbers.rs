//! The tables of the page: soil, balance, second method, walls, ground, inputs.
//!
//! Takes the page, adds tables to it. Knows no picture and no finding.

use std::fmt::Write as _;

use super::super::book::{page_words, twice_words};
use super::super::{imports, walls, words};
use super::{Head, Page, bare};
use crate::checks::WallStation;
use crate::drawing::{escape, ground as ground_plan, slopes, trust, walls as wall_sheets};
use crate::earthwork::Range;
use crate::units::Slope;

impl Page<'_> {
    pub(super) fn soil(&mut self) {
        let (outcome, show) = (self.outcome, self.show);
        self.heading("soil", "Soil by feature");
        let volumes = &outcome.to_build;
        if volumes.features.is_empty() {
            self.paragraph("None: the job has no feature, so nothing is cut or filled.");
            return;
        }
        let settles = outcome.design.built.is_some();
        let unit = show.volume_unit();
        let mut heads = vec![
            Head::Text("feature and part"),
            Head::Number(format!("cut, {unit} bank")),
            Head::Number(format!("fill, {unit} tamped")),
            Head::Number(format!("plan area, {}", show.area_unit())),
        ];
        if settles {
            heads.push(Head::Number(format!("fill once settled, {unit}")));
        }
        let number = |m3: f64| bare(&show.volume_or_none(m3), unit);
        let area = |m2: f64| bare(&show.area_or_none(m2), show.area_unit());
        let mut rows: Vec<(&str, Vec<String>)> = Vec::new();
        for (k, f) in volumes.features.iter().enumerate() {
            let after = outcome.finished.features.get(k);
            let how = outcome
                .design
                .features
                .get(k)
                .map_or("", |d| words::rule(d.laid.rule));
            // A strip over everything that is touched has no parts of its own.
            let area_m2 = if f.parts.is_empty() {
                f.cut_area_m2
            } else {
                f.parts.iter().map(|p| p.area_m2).sum()
            };
            let mut row = vec![
                format!("{} ({how})", f.name),
                number(f.cut_m3),
                number(f.fill_m3),
                area(area_m2),
            ];
            if settles {
                row.push(number(after.map_or(0.0, |a| a.fill_m3)));
            }
            rows.push(("whole", row));
            for part in &f.parts {
                let mut row = vec![
                    part.part.clone(),
                    number(part.cut_m3),
                    number(part.fill_m3),
                    area(part.area_m2),
                ];
                if settles {
                    let settled = after
                        .and_then(|a| a.parts.iter().find(|p| p.part == part.part))
                        .map_or(0.0, |p| p.fill_m3);
                    row.push(number(settled));
                }
                rows.push(("part", row));
            }
        }
        let all = volumes.features.iter().flat_map(|f| &f.parts);
        let mut total = vec![
            "All".to_owned(),
            number(volumes.cut_m3),
            number(volumes.fill_m3),
            area(all.map(|p| p.area_m2).sum()),
        ];
        if settles {
            total.push(number(outcome.finished.fill_m3));
        }
        rows.push(("sum", total));
        let caption = "Cut and fill to the surface to be built, by feature and part";
        self.table(caption, &heads, &rows);
        self.quiet("Parts add up to their feature and features to all, before rounding.");
        for said in [words::strip(outcome), words::other_fill(outcome)]
            .iter()
            .flatten()
        {
            self.paragraph(said);
        }
        for f in volumes.features.iter().filter(|f| f.refill_m3 > 0.0) {
            self.quiet(&format!(
                "{}: of the fill, {} are put back over what lies in it; no part holds them.",
                f.name,
                show.volume_or_none(f.refill_m3)
            ));
        }
        if settles {
            self.quiet("Fill is placed higher than it is to stay; the last column is what is left of it in place once it has settled.");
        }
        self.quiet(&format!("Soil: {}.", words::soil(outcome)));
    }

    pub(super) fn balance(&mut self) {
        let (outcome, show) = (self.outcome, self.show);
        let b = &outcome.balance;
        self.heading("balance", "Balance");
        let unit = show.volume_unit();
        let heads = [
            Head::Text("what"),
            Head::Text("state"),
            Head::Number(format!("likely, {unit}")),
            Head::Number(format!("low, {unit}")),
            Head::Number(format!("high, {unit}")),
            Head::Text("loads, at the likely value"),
        ];
        let row = |what: &str, state: &str, r: Range, loads: String| {
            let number = |v: f64| bare(&show.volume_or_none(v), unit);
            (
                "",
                vec![
                    what.to_owned(),
                    state.to_owned(),
                    number(r.likely),
                    number(r.low),
                    number(r.high),
                    loads,
                ],
            )
        };
        let no_loads = || "-".to_owned();
        let rows = [
            row("dig", "bank", b.dig_bank_m3, no_loads()),
            row(
                "the same, dug",
                "loose",
                b.dig_loose_m3,
                words::loads(b.dig_loads),
            ),
            row("which makes", "tamped", b.makes_tamped_m3, no_loads()),
            row("place", "tamped", b.place_tamped_m3, no_loads()),
            row("which takes", "bank", b.needs_bank_m3, no_loads()),
            row(
                "surplus",
                "loose",
                b.surplus_loose_m3,
                words::loads(b.surplus_loads),
            ),
            row("short", "tamped", b.short_tamped_m3, no_loads()),
            row(
                "the same, delivered",
                "loose",
                b.short_loose_m3,
                words::loads(b.short_loads),
            ),
        ];
        self.table("Soil dug against soil placed", &heads, &rows);
        self.paragraph(&words::cause(outcome));
        self.quiet(&format!(
            "The ground as a whole may be off by {}: from the shots' own range and the closure of the level books. What lies between the shots is not in it.",
            show.small_height(outcome.height_m)
        ));
    }

    pub(super) fn second(&mut self) {
        let (outcome, show) = (self.outcome, self.show);
        self.heading("second", "A second method");
        let Some(second) = &outcome.second else {
            self.paragraph(&words::why_gap(outcome));
            return;
        };
        let unit = show.volume_unit();
        let heads = [
            Head::Text("what"),
            Head::Number(format!("exact, {unit}")),
            Head::Number(format!("average end areas, {unit}")),
            Head::Number("gap".to_owned()),
            Head::Number(format!("prismoidal rule, {unit}")),
            Head::Number("gap".to_owned()),
        ];
        let number = |v: f64| bare(&show.volume_or_none(v), unit);
        let exact = &outcome.to_build;
        let rows = [
            (
                "cut, bank",
                exact.cut_m3,
                second.cut_end_area_m3,
                second.cut_prismoidal_m3,
            ),
            (
                "fill, tamped",
                exact.fill_m3,
                second.fill_end_area_m3,
                second.fill_prismoidal_m3,
            ),
        ]
        .map(|(what, exact, ends, prismoidal)| {
            (
                "",
                vec![
                    what.to_owned(),
                    number(exact),
                    number(ends),
                    words::gap_words(ends, exact),
                    number(prismoidal),
                    words::gap_words(prismoidal, exact),
                ],
            )
        });
        self.table("Parallel sections beside the exact volume", &heads, &rows);
        self.paragraph(&words::why_gap(outcome));
    }

    pub(super) fn walls(&mut self) {
        let (outcome, show) = (self.outcome, self.show);
        self.heading("walls", "Walls needed");
        self.paragraph(&format!("Walls: {}.", words::walls(outcome)));
        if !outcome.walls.is_empty() {
            self.add("<ul>");
            for (k, wall) in outcome.walls.iter().enumerate() {
                let size = words::wall_size(show, wall);
                self.add(&format!("<li>W{}: {}</li>", k + 1, escape(&size)));
            }
            self.add("</ul>");
            self.quiet("The list to price is walls.csv; every wall as an entry for job.toml is in walls.toml.");
            for (k, svg) in wall_sheets(outcome).into_iter().enumerate() {
                let file = match k {
                    0 => "walls.svg".to_owned(),
                    k => format!("walls-{}.svg", k + 1),
                };
                self.picture(
                    &svg,
                    &format!("Walls needed, sheet {}: true to scale when {file} is printed at full size; on this page go by the bar scale.", k + 1),
                );
            }
        }
        let unit = show.length_unit();
        let benchmark = outcome.survey.benchmark.as_ref();
        for (k, wall) in outcome.walls.iter().enumerate() {
            let _ = writeln!(
                self.body,
                "<h3>Wall W{}: {} at \"{}\"</h3>",
                k + 1,
                escape(&wall.feature),
                escape(&wall.keep_off)
            );
            self.facts(&format!("Wall W{}", k + 1), &walls::facts(show, wall));
            let mut heads = vec![
                Head::Number(format!("station, {unit}")),
                Head::Number(format!("height to hold, {unit}")),
                Head::Number(format!("at the limit slope, {unit}")),
                Head::Number(format!("ground, {unit}")),
                Head::Number(format!("finished, {unit}")),
            ];
            if let Some(mark) = benchmark {
                heads.push(Head::Number(format!("finished from {}, {unit}", mark.name)));
            }
            heads.push(Head::Text("place"));
            let shown = telling(&wall.stations);
            let rows: Vec<(&str, Vec<String>)> = shown
                .iter()
                .map(|s| {
                    let mut row = vec![
                        show.length_number(s.station_m),
                        show.level(s.height_m),
                        s.limit_height_m
                            .map_or("not computed".to_owned(), |m| show.level(m)),
                        show.level(s.ground_m),
                        show.level(s.finished_m),
                    ];
                    if let Some(mark) = benchmark {
                        row.push(show.below_benchmark(s.finished_m, mark.level_m));
                    }
                    row.push(show.place(s.x_m, s.y_m));
                    ("", row)
                })
                .collect();
            self.table(&format!("Wall W{} by station", k + 1), &heads, &rows);
            if shown.len() < wall.stations.len() {
                self.quiet(&format!(
                    "{} of {} stations: both ends, the highest, and evenly between; all in wall-stations.csv.",
                    shown.len(),
                    wall.stations.len()
                ));
            }
        }
    }

    pub(super) fn ground(&mut self) {
        let (outcome, show) = (self.outcome, self.show);
        let facts = &outcome.ground_facts;
        let imported = outcome.terrain.num_measured() - outcome.terrain.shots.len();
        let unit = show.length_unit();
        self.heading("ground", "Ground and level books");
        let ground = words::ground(outcome);
        for sentence in ground.sentences() {
            self.paragraph(&sentence);
        }
        self.picture(
            &ground_plan(outcome),
            "Ground plan: what was measured, and nothing else. True to scale when ground.svg is printed at full size; on this page go by the bar scale.",
        );
        self.facts(
            "The ground as measured",
            &[
                ("shots", outcome.terrain.num_shots.to_string()),
                ("points brought in", count_or_none(imported)),
                ("triangles", facts.triangles.to_string()),
                ("plan area", show.area(facts.area_m2)),
                ("area along the slope", show.area(facts.surface_area_m2)),
                (
                    "lowest and highest",
                    format!(
                        "{} and {} {unit}",
                        show.level(facts.min_z_m),
                        show.level(facts.max_z_m)
                    ),
                ),
                (
                    "mean slope",
                    Slope::from_rise_per_run(facts.mean_slope_rise_per_run).to_string(),
                ),
                (
                    "how far it may be off",
                    words::trust_words(&outcome.trust, show),
                ),
                (
                    "steepest triangle",
                    Slope::from_rise_per_run(facts.max_slope_rise_per_run).to_string(),
                ),
                ("holes", count_or_none(outcome.terrain.holes.len())),
                (
                    "areas without data",
                    count_or_none(outcome.terrain.no_data.len()),
                ),
                (
                    "taken off at the rim",
                    show.area_or_none(outcome.terrain.trimmed_m2),
                ),
                (
                    "breaklines",
                    count_or_none(outcome.terrain.breaklines.len()),
                ),
            ],
        );
        for brought in &outcome.survey.imports {
            let caption = format!("Brought in: {}", brought.import.source);
            self.facts(&caption, &imports::rows(brought, show));
        }
        for svg in imports::taken_away(&outcome.survey, show.unit()) {
            self.picture(
                &svg,
                "What the ground filter took away: nothing of it is ground in this report. Look for banks, walls and rocks among it.",
            );
        }
        for (k, area) in outcome.terrain.no_data.iter().enumerate() {
            self.paragraph(&format!(
                "No data, area {}: {}. Nobody measured there, and it is counted in nothing.",
                k + 1,
                show.area_or_none(area.area_m2)
            ));
        }
        let rows: Vec<(&str, Vec<String>)> = outcome
            .relief
            .bands
            .iter()
            .map(|band| {
                let words = format!("{}: {band}", band.letter);
                ("", vec![words, ground.area_with_share(band)])
            })
            .collect();
        let heads = [Head::Text("slope"), Head::Text("plan area")];
        self.table("The measured ground by slope", &heads, &rows);
        self.picture(
            &slopes(outcome),
            "Slopes of the measured ground, in bands with their letter; arrows show the way water runs. True to scale in slopes.svg at full size.",
        );
        // Where it is not computed the table above says why.
        if let Some(svg) = trust(outcome) {
            self.picture(
                &svg,
                "How well the measured ground is known, by grade; rings show where a further shot would tell most. True to scale in trust.svg at full size.",
            );
        }
        if outcome.survey.books.is_empty() {
            self.paragraph("Closure of level books: not computed, the job has no level book.");
        }
        for book in &outcome.survey.books {
            let or_not = |m: Option<f64>| match m {
                Some(m) => show.small_height(m),
                None => "not computed: nothing checks this book".to_owned(),
            };
            let mut rows = vec![
                ("closure", words::status(book.status).to_owned()),
                ("misclosure", or_not(book.misclosure_m.map(f64::abs))),
                ("allowed", or_not(book.allowed_m)),
                ("allowance", book.allowance.clone()),
                ("set-ups", book.setups.len().to_string()),
                ("sights", book.sights.len().to_string()),
                ("page check", page_words(book, show)),
            ];
            if !book.words.is_empty() {
                rows.push(("in words", book.words.clone()));
            }
            let twice = book.twice.iter().filter(|pair| pair.tilt_shows());
            rows.extend(twice.map(|pair| ("sight line", twice_words(pair, show))));
            self.facts(&format!("Level book {}", book.file), &rows);
        }
    }
}

/// Most stations of a wall on the page.
const MOST_STATIONS: usize = 12;

/// Stations that tell how a wall runs: all if they are few, else both ends, the highest, and
/// those nearest to even steps between.
fn telling(stations: &[WallStation]) -> Vec<&WallStation> {
    let (Some(first), Some(last)) = (stations.first(), stations.last()) else {
        return Vec::new();
    };
    if stations.len() <= MOST_STATIONS {
        return stations.iter().collect();
    }
    let nearest = |station_m: f64| {
        (0..stations.len()).min_by(|&a, &b| {
            let off = |k: usize| (stations[k].station_m - station_m).abs();
            off(a).total_cmp(&off(b))
        })
    };
    let highest = (0..stations.len()).reduce(|a, b| {
        if stations[b].height_m > stations[a].height_m {
            b
        } else {
            a
        }
    });
    let steps = MOST_STATIONS - 2;
    let mut chosen: Vec<usize> = (1..steps)
        .filter_map(|k| {
            let share = k as f64 / steps as f64;
            nearest(first.station_m + share * (last.station_m - first.station_m))
        })
        .chain(highest)
        .chain([0, stations.len() - 1])
        .collect();
    chosen.sort_unstable();
    chosen.dedup();
    chosen.into_iter().map(|k| &stations[k]).collect()
}

fn count_or_none(count: usize) -> String {
    if count == 0 {
        "none".to_owned()
    } else {
        count.to_string()
    }
}
