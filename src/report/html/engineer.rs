//! The engineer's page of the drawn walls, and what the report's own page says of them.
//!
//! Numbers and what they rest on. No verdict: that is what the page is for.

use std::fmt::Write as _;

use super::page::{Frame, Head, Page};
use crate::checks::{WallCase, WallSection, WallWork};
use crate::design::WallPlan;
use crate::drawing::{escape, stretches, takes, wall_sections, wall_sheet};
use crate::outcome::Outcome;
use crate::report::words;
use crate::show::Show;
use crate::units::Slope;

/// Name of the file of the engineer's page.
pub(in crate::report) const ENGINEER: &str = "engineer.html";

/// What nobody looked at here.
const NOT_LOOKED_AT: [&str; 12] = [
    "earthquakes",
    "slips deep in the ground, below the base and behind the wall as a whole",
    "frost, and soil that swells or shrinks",
    "settlement of the base, and fill under it that is not drawn",
    "water in the ground before the wall, uplift under the base, ice, waves, water that washes soil out",
    "soil before the wall, which is left out: it would hold, until somebody digs it away",
    "cohesion of the soil and friction on the back, which are left out",
    "reinforced soil, anchors, piles, footings that spread, walls held at their top",
    "vehicles, fences, wind, people leaning, machines that tamp behind the wall",
    "loads that are drawn but have no figure: they are named and are not in the numbers",
    "the strength of the wall itself: sliding between courses, bulging, units that break",
    "whether the shots, the soil and the figures of the job are right",
];

/// The engineer's page; `None` where no wall is drawn.
pub fn engineer(outcome: &Outcome) -> Option<String> {
    if outcome.wall_works.is_empty() {
        return None;
    }
    let mut page = Page::new(outcome, Show::new(outcome.job.units));
    page.heading("what", "What this page is");
    page.paragraph("For the engineer and the permit office: sizes of every drawn wall, what loads it, and thrust, base pressure, sliding and overturning by the simple gravity check, per length of wall. These are numbers and what they rest on. Nothing here is a verdict, and nothing here says that a wall may be built.");
    page.paragraph("Who decides: the local building department whether a permit is asked for; a licensed structural or civil engineer how the wall is built; a geotechnical engineer what the soil bears and holds.");
    page.paragraph("Rankine's thrust on the upright back, from the base up, along the ground behind. Base pressure is straight; a base does not pull, so where the resultant leaves the middle third the heel lifts and the toe takes 2 W / (3 x). Cohesion, friction on the back and the soil before the wall are left out. The base stone counts as ground.");
    page.heading("walls", "The walls");
    for (k, work) in outcome.wall_works.iter().enumerate() {
        page.engineers_wall(k, work);
    }
    page.heading("not-looked-at", "What is not looked at");
    page.add("<ul>");
    for words in NOT_LOOKED_AT {
        page.add(&format!("<li>{}</li>", escape(words)));
    }
    page.add("</ul>");
    page.files(&outcome.inputs);
    let unit = page.show.length_unit();
    Some(page.finish(&Frame {
        name: &outcome.job.name,
        title: "walls, for the engineer",
        date: &outcome.date,
        line: &format!(
            "Walls, for the engineer. {}. {}. Lengths and levels in {unit}.",
            outcome.date,
            words::benchmark(outcome)
        ),
    }))
}

impl Page<'_> {
    /// What the report's own page says of drawn walls.
    pub(super) fn drawn_walls(&mut self) {
        let (outcome, show) = (self.outcome, self.show);
        self.heading("drawn-walls", "Walls drawn");
        if outcome.wall_works.is_empty() {
            self.paragraph("None.");
            return;
        }
        self.add(&format!(
            "<p>Sections, thrust and base pressure with what they rest on: <a href=\"{ENGINEER}\">the engineer's page</a>. Numbers, no verdict.</p>"
        ));
        for (k, work) in outcome.wall_works.iter().enumerate() {
            let Some(plan) = plan_of(outcome, work) else {
                continue;
            };
            let facts: Vec<(&str, String)> = takes(show, work, plan);
            self.facts(&format!("{}: what it takes", work.quantities.name), &facts);
            self.add(&format!(
                "<p>For the crew: <a href=\"wall-sheet-{}.svg\">wall sheet, with courses and steps</a>.</p>",
                k + 1
            ));
        }
    }

    /// One wall on the engineer's page.
    fn engineers_wall(&mut self, k: usize, work: &WallWork) {
        let (outcome, show) = (self.outcome, self.show);
        let Some(plan) = plan_of(outcome, work) else {
            return;
        };
        let _ = writeln!(
            self.body,
            "<h3 id=\"wall-{}\">{}</h3>",
            k + 1,
            escape(&work.quantities.name)
        );
        self.facts("Size", &size(show, work, plan));
        self.loads(work);
        if let Some(svg) = wall_sheet(outcome, work) {
            self.picture(
                &svg,
                &format!(
                    "Wall sheet for the crew, true to scale in wall-sheet-{}.svg at full size.",
                    k + 1
                ),
            );
        }
        self.facts("What it takes", &takes(show, work, plan));
        self.levels(work);
        if work.sections.is_empty() {
            self.paragraph("No section: no ground is known behind the wall, or none lies higher than its base.");
        }
        for ((n, section), svg) in work
            .sections
            .iter()
            .enumerate()
            .zip(wall_sections(outcome, work))
        {
            self.section(n, section, &svg);
        }
    }

    fn loads(&mut self, work: &WallWork) {
        let show = self.show;
        let mut all: Vec<String> = work
            .surcharges
            .iter()
            .map(|s| {
                format!(
                    "{}, {} behind the back, at {} along",
                    s.words,
                    show.length(s.distance_m),
                    show.length(s.station_m)
                )
            })
            .collect();
        all.extend(work.tiers.iter().map(|t| {
            format!(
                "the wall \"{}\" above, {} from face to face: {} high together",
                t.name,
                show.length(t.distance_m),
                show.level_with_unit(t.combined_m)
            )
        }));
        all.extend(
            work.holds_water.iter().map(|(what, at)| {
                format!("holds the water of {what}, at {} along", show.length(*at))
            }),
        );
        if all.is_empty() {
            self.paragraph("Nothing that loads the soil behind is drawn. Loads that are not drawn are not known.");
            return;
        }
        self.paragraph("What loads the soil behind, as drawn:");
        self.add("<ul>");
        for words in all {
            self.add(&format!("<li>{}</li>", escape(&words)));
        }
        self.add("</ul>");
    }

    /// Levels by stretch.
    fn levels(&mut self, work: &WallWork) {
        let show = self.show;
        let mark = self.outcome.survey.benchmark.as_ref();
        let unit = show.length_unit();
        let mut heads = vec![
            Head::Number(format!("from, {unit}")),
            Head::Number(format!("to, {unit}")),
            Head::Number(format!("base, {unit}")),
            Head::Number(format!("top, {unit}")),
            Head::Number("courses".to_owned()),
        ];
        if let Some(mark) = mark {
            heads.push(Head::Number(format!("base below {}, {unit}", mark.name)));
            heads.push(Head::Number(format!("top below {}, {unit}", mark.name)));
        }
        let rows: Vec<(&str, Vec<String>)> = stretches(work)
            .iter()
            .map(|row| {
                let top = match row.top_m == row.top_to_m {
                    true => show.level(row.top_m),
                    false => format!("{} to {}", show.level(row.top_m), show.level(row.top_to_m)),
                };
                let mut cells = vec![
                    show.length_number(row.from_m),
                    show.length_number(row.to_m),
                    show.level(row.base_m),
                    top,
                    row.courses.map_or("-".to_owned(), |n| n.to_string()),
                ];
                if let Some(mark) = mark {
                    cells.push(show.below_benchmark(row.base_m, mark.level_m));
                    let ends =
                        [row.top_m, row.top_to_m].map(|z| show.below_benchmark(z, mark.level_m));
                    cells.push(if ends[0] == ends[1] {
                        ends[0].clone()
                    } else {
                        ends.join(" to ")
                    });
                }
                ("", cells)
            })
            .collect();
        self.table("Levels from the start of the line on", &heads, &rows);
    }

    /// One section: picture, what is taken, what follows.
    fn section(&mut self, n: usize, section: &WallSection, svg: &str) {
        let show = self.show;
        let [x, y] = section.at_m;
        let place = format!(
            "{} along the foot of the face, {}",
            show.length(section.station_m),
            show.place(x, y)
        );
        let what = if n == 0 { "the highest" } else { "another" };
        let _ = writeln!(
            self.body,
            "<h3>Section {}, {what}: {}</h3>",
            n + 1,
            escape(&place)
        );
        self.picture(svg, "Section true to scale.");
        let degrees = |f: &crate::checks::WallSection| match f.friction_degrees {
            Some(b) if b.low == b.high => format!("{:.1} degrees; {}", b.likely, f.friction_from),
            Some(b) => format!(
                "{:.0} / {:.0} / {:.0} degrees, low / likely / high; {}",
                b.low, b.likely, b.high, f.friction_from
            ),
            None => format!("none offered for {}", self.outcome.soil.name),
        };
        let base = match section.base_friction {
            Some(b) => format!(
                "{:.2} / {:.2} / {:.2}; {}",
                b.low, b.likely, b.high, section.base_friction_from
            ),
            None => "none offered: sliding is not computed".to_owned(),
        };
        let behind = match section.rise_per_run > 0.0 {
            true => Slope::from_rise_per_run(section.rise_per_run).to_string(),
            false => "level, or falling and taken as level".to_owned(),
        };
        let none = || "none".to_owned();
        let facts = [
            (
                "soil",
                format!(
                    "{}, {} damp, {} full of water (10 lb/ft3 more, common practice, no source)",
                    self.outcome.soil.name,
                    show.weight(section.moist_kg_m3),
                    show.weight(section.saturated_kg_m3)
                ),
            ),
            ("friction angle", degrees(section)),
            ("friction of the base", base),
            (
                "weight of the wall",
                format!("{}; {}", show.weight(section.wall_kg_m3), section.wall_from),
            ),
            ("ground behind", behind),
            (
                "load in the numbers",
                match section.surcharge_pa > 0.0 {
                    true => format!(
                        "{} on the ground behind, for a path (common practice, no source)",
                        show.pressure(section.surcharge_pa)
                    ),
                    false => none(),
                },
            ),
            (
                "loads not in the numbers",
                match section.not_in_numbers.is_empty() {
                    true => none(),
                    false => section.not_in_numbers.join("; "),
                },
            ),
            (
                "presumed bearing",
                match section.presumed_bearing_pa {
                    Some(pa) => format!("{}; {}", show.pressure(pa), section.bearing_from),
                    None => "none for this soil".to_owned(),
                },
            ),
        ];
        self.facts("What is taken", &facts);
        if section.cases.is_empty() {
            self.paragraph("No numbers: give friction_degrees in [soil] once a geotechnical engineer has named it.");
            return;
        }
        self.thrusts(section);
        self.standings(section);
        if let Some(ratio) = section.water_ratio() {
            self.paragraph(&format!("Full of water the soil behind pushes {ratio:.1} times as hard as drained, at likely friction."));
        }
    }

    fn thrusts(&mut self, section: &WallSection) {
        let show = self.show;
        let unit = if show.unit().is_foot() {
            "lb/ft"
        } else {
            "kN/m"
        };
        let number = |n_m: f64| {
            show.thrust(n_m)
                .split(' ')
                .next()
                .unwrap_or_default()
                .to_owned()
        };
        let heads = [
            Head::Text("case"),
            Head::Number("coefficient".to_owned()),
            Head::Number(format!("soil, {unit}")),
            Head::Number(format!("load, {unit}")),
            Head::Number(format!("water, {unit}")),
            Head::Number(format!("pushes out, {unit}")),
            Head::Number(format!("acts above base, {}", show.length_unit())),
        ];
        let rows: Vec<(&str, Vec<String>)> = section
            .cases
            .iter()
            .map(|case| {
                let cells = match (&case.thrust, &case.why_not) {
                    (Some(t), _) => vec![
                        format!("{:.3}", t.coefficient),
                        number(t.soil.out_n_m.hypot(t.soil.down_n_m)),
                        number(t.surcharge.out_n_m.hypot(t.surcharge.down_n_m)),
                        number(t.water.out_n_m),
                        number(t.out_n_m()),
                        show.level(t.turning_n() / t.out_n_m()),
                    ],
                    (None, why) => vec![why.clone().unwrap_or_default()],
                };
                ("", std::iter::once(case_words(case)).chain(cells).collect())
            })
            .collect();
        self.table("Thrust per length of wall", &heads, &rows);
    }

    fn standings(&mut self, section: &WallSection) {
        let show = self.show;
        let (length, pressure) = (
            show.length_unit(),
            if show.unit().is_foot() {
                "lb/sq ft"
            } else {
                "kPa"
            },
        );
        let number = |pa: Option<f64>| match pa {
            Some(pa) => show
                .pressure(pa)
                .split(' ')
                .next()
                .unwrap_or_default()
                .to_owned(),
            None => "none".to_owned(),
        };
        let heads = [
            Head::Text("case"),
            Head::Number("sliding (1.5 is the usual least)".to_owned()),
            Head::Number("overturning (1.5 is the usual least)".to_owned()),
            Head::Number(format!("resultant from toe, {length}")),
            Head::Number(format!("eccentricity, {length}")),
            Head::Text("in middle third"),
            Head::Number(format!("toe, {pressure}")),
            Head::Number(format!("heel, {pressure}")),
        ];
        let factor = |f: Option<f64>| f.map_or("not computed".to_owned(), |f| format!("{f:.2}"));
        let rows: Vec<(&str, Vec<String>)> = section
            .cases
            .iter()
            .filter_map(|case| {
                let s = case.standing?;
                let cells = vec![
                    case_words(case),
                    factor(s.sliding),
                    factor(s.overturning),
                    show.level(s.resultant_m),
                    show.level(s.eccentricity_m),
                    if s.in_middle_third { "yes" } else { "no" }.to_owned(),
                    number(s.contact.toe_pa()),
                    number(s.contact.heel_pa()),
                ];
                Some(("", cells))
            })
            .collect();
        self.table(
            "Sliding, overturning and base pressure, not a verdict",
            &heads,
            &rows,
        );
        let presumed = section
            .presumed_bearing_pa
            .map_or("none for this soil".to_owned(), |pa| show.pressure(pa));
        self.quiet(&format!("Toe pressure \"none\": the resultant lies outside the base, so no pressure is computed. Presumed bearing beside it: {presumed}. The factors are usually asked to be 1.5 at least (IRC R404.4)."));
    }
}

/// "likely friction (28 degrees), drained".
fn case_words(case: &WallCase) -> String {
    let water = if case.water_m > 0.0 {
        "full of water"
    } else {
        "drained"
    };
    format!(
        "{} friction ({:.0} degrees), {water}",
        case.friction, case.friction_degrees
    )
}

fn plan_of<'a>(outcome: &'a Outcome, work: &WallWork) -> Option<&'a WallPlan> {
    let feature = outcome.design.features.get(work.quantities.feature)?;
    feature.laid.wall.as_deref()
}

/// Sizes of a wall in words.
fn size(show: Show, work: &WallWork, plan: &WallPlan) -> Vec<(&'static str, String)> {
    let stations = &work.quantities.stations;
    let most = |of: &dyn Fn(&usize) -> Option<f64>| {
        (0..stations.len()).filter_map(|k| of(&k)).reduce(f64::max)
    };
    let height = |m: Option<f64>| m.map_or("not known".to_owned(), |m| show.level_with_unit(m));
    let held =
        |k: &usize| Some(stations[*k].behind_m?.min(stations[*k].top_m) - stations[*k].front_m?);
    let mut facts = vec![
        ("length", show.length(work.quantities.length_m)),
        (
            "greatest height above the ground before it",
            height(most(&|k| stations[*k].exposed_m)),
        ),
        (
            "greatest height from the underside of the first course",
            height(most(&|k| Some(stations[*k].body_m))),
        ),
        (
            "greatest height from the bottom of what it stands on",
            height(most(&|k| Some(stations[*k].total_m))),
        ),
        (
            "greatest difference of the ground behind and before",
            height(most(&held)),
        ),
        (
            "thickness of the base",
            show.level_with_unit(plan.thickness_m),
        ),
        (
            "lean of the face",
            match plan.batter_run_per_rise > 0.0 {
                true => format!(
                    "goes back {:.3} for 1 up; the back is upright",
                    plan.batter_run_per_rise
                ),
                false => "none".to_owned(),
            },
        ),
        (
            "base",
            match plan.buried_per_height {
                Some(share) => format!("{share:.3} of the height below the ground"),
                None => "as the job gives it".to_owned(),
            },
        ),
    ];
    if let Some(stone) = plan.base_stone {
        facts.push((
            "base stone",
            format!(
                "{} thick, {} before the foot, {} behind the back",
                show.length(stone.thick_m),
                show.length(stone.before_m),
                show.length(stone.behind_m)
            ),
        ));
    }
    facts.push((
        "drain",
        match plan.drain_stone {
            Some(drain) => format!(
                "stone {} wide under {} of soil{}",
                show.length(drain.width_m),
                show.length(drain.soil_cap_m),
                if plan.pipe.is_some() {
                    ", with a pipe"
                } else {
                    ", no pipe"
                }
            ),
            None => "none drawn".to_owned(),
        },
    ));
    facts
}
