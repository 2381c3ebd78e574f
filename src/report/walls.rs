//! Walls that are needed as sheets: a list to price, every station, and entries for the job.

use std::fmt::Write as _;

use super::sheets::csv_text;
use crate::checks::{Along, AtLimit, Basis, Wall, WallEntry};
use crate::outcome::Outcome;
use crate::show::Show;
use crate::units::Slope;

/// "the fill" or "the ground beside the cut".
pub(super) fn holds(wall: &Wall) -> &'static str {
    if wall.holds_fill {
        "the fill"
    } else {
        "the ground beside the cut"
    }
}

/// What the heights are those of, in words.
pub(super) fn basis(wall: &Wall) -> &'static str {
    match (wall.basis, wall.is_in_design) {
        (Basis::AtLimit, _) => "the side at the limit slope; as drawn it lands, steeper",
        (Basis::AsDrawn, true) => "as drawn; the design stops there in an upright face",
        (Basis::AsDrawn, false) => "as drawn; the side passes the line",
    }
}

/// What a wall stands along, in a word.
pub(super) fn along(wall: &Wall) -> &'static str {
    match wall.along {
        Along::Boundary => "property line",
        Along::Building => "building",
        Along::Other => "keep-off",
        Along::Feature => "feature",
    }
}

/// "at 2.00 across : 1 up: 0.31 ft high", or that it lands.
pub(super) fn at_limit(show: Show, wall: &Wall) -> String {
    let Some(limit) = &wall.at_limit else {
        return "not computed: no limit slope is known".to_owned();
    };
    let slope = slope(limit);
    match limit.lands_before_m {
        Some(before) => format!(
            "at {slope} it lands {} before the line",
            show.length(before)
        ),
        None => format!(
            "at {slope}: {} long, up to {} high, {} of face",
            show.length(limit.length_m),
            show.level_with_unit(limit.max_height_m),
            show.area(limit.face_m2)
        ),
    }
}

fn slope(limit: &AtLimit) -> String {
    let slope = Slope::from_rise_per_run(limit.slope_rise_per_run);
    format!("{:.2} across : 1 up", slope.run_per_rise())
}

/// Walls needed, one a row: what a builder prices; only the head if there are none.
///
/// # Units
///
/// lengths and areas in the job's unit, named in the head
pub fn walls_csv(outcome: &Outcome) -> String {
    let show = Show::new(outcome.job.units);
    let unit = show.length_unit();
    let area = if show.unit().is_foot() { "sq_ft" } else { "m2" };
    let mut head: Vec<String> = [
        "wall",
        "feature",
        "along",
        "kind_of_line",
        "holds",
        "heights",
    ]
    .map(str::to_owned)
    .to_vec();
    for name in [
        "start_east",
        "start_north",
        "end_east",
        "end_north",
        "length",
        "exposed_height_max",
        "exposed_height_mean",
        "buried",
        "height_from_footing_max",
    ] {
        head.push(format!("{name}_{unit}"));
    }
    for name in ["face_exposed", "face_with_buried_part"] {
        head.push(format!("{name}_{area}"));
    }
    head.push(format!("height_at_limit_slope_max_{unit}"));
    head.extend(["limit_slope", "limits_passed", "surcharge"].map(str::to_owned));
    let number = |m2: f64| format!("{:.1}", m2 / show.unit().area_m2());
    let rows = outcome.walls.iter().enumerate().map(|(k, wall)| {
        let place = |s: Option<&crate::checks::WallStation>| {
            s.map_or([String::new(), String::new()], |s| {
                [show.level(s.x_m), show.level(s.y_m)]
            })
        };
        let mut row = vec![
            format!("W{}", k + 1),
            wall.feature.clone(),
            wall.keep_off.clone(),
            along(wall).to_owned(),
            holds(wall).to_owned(),
            basis(wall).to_owned(),
        ];
        row.extend(place(wall.stations.first()));
        row.extend(place(wall.stations.last()));
        row.push(show.length_number(wall.length_m));
        for m in [
            wall.max_height_m,
            wall.mean_height_m,
            wall.buried_m,
            wall.total_height_m,
        ] {
            row.push(show.level(m));
        }
        row.push(number(wall.face_m2));
        row.push(number(wall.face_with_buried_m2));
        let limit = wall.at_limit.as_ref();
        row.push(limit.map_or("not computed".to_owned(), |l| show.level(l.max_height_m)));
        row.push(limit.map_or("not known".to_owned(), slope));
        row.push(wall.passes.join("; "));
        row.push(wall.surcharge.join("; "));
        row
    });
    csv_text(&head, rows)
}

/// The same list for machines, SI with the unit in every key.
pub fn walls_list_csv(outcome: &Outcome) -> String {
    let head = [
        "wall",
        "feature",
        "along",
        "kind_of_line",
        "holds",
        "basis",
        "start_x_m",
        "start_y_m",
        "end_x_m",
        "end_y_m",
        "length_m",
        "max_height_m",
        "mean_height_m",
        "buried_m",
        "total_height_m",
        "face_m2",
        "face_with_buried_m2",
        "limit_rise_per_run",
        "limit_max_height_m",
        "passes",
        "surcharge",
    ];
    let rows = outcome.walls.iter().enumerate().map(|(k, wall)| {
        let number = |m: f64| (m + 0.0).to_string();
        let place = |s: Option<&crate::checks::WallStation>| {
            let cell = |m: Option<f64>| m.map(number).unwrap_or_default();
            [cell(s.map(|s| s.x_m)), cell(s.map(|s| s.y_m))]
        };
        let mut row = vec![
            (k + 1).to_string(),
            wall.feature.clone(),
            wall.keep_off.clone(),
            along(wall).to_owned(),
            if wall.holds_fill { "fill" } else { "ground" }.to_owned(),
            match wall.basis {
                Basis::AsDrawn => "as-drawn",
                Basis::AtLimit => "at-limit",
            }
            .to_owned(),
        ];
        row.extend(place(wall.stations.first()));
        row.extend(place(wall.stations.last()));
        row.extend(
            [
                wall.length_m,
                wall.max_height_m,
                wall.mean_height_m,
                wall.buried_m,
                wall.total_height_m,
                wall.face_m2,
                wall.face_with_buried_m2,
            ]
            .map(number),
        );
        let limit = wall.at_limit.as_ref();
        let cell = |m: Option<f64>| m.map(number).unwrap_or_default();
        row.push(cell(limit.map(|l| l.slope_rise_per_run)));
        row.push(cell(limit.map(|l| l.max_height_m)));
        row.push(wall.passes.join("; "));
        row.push(wall.surcharge.join("; "));
        row
    });
    csv_text(&head, rows)
}

/// Walls needed, one row a station; only the head if there are none.
///
/// # Units
///
/// lengths and levels in the job's unit, named in the head
pub fn wall_stations_csv(outcome: &Outcome) -> String {
    let show = Show::new(outcome.job.units);
    let unit = show.length_unit();
    let benchmark = outcome.survey.benchmark.as_ref();
    let mut head: Vec<String> = ["wall", "feature", "keep_off", "holds"]
        .map(str::to_owned)
        .to_vec();
    for name in ["station", "east", "north", "ground", "finished", "height"] {
        head.push(format!("{name}_{unit}"));
    }
    if benchmark.is_some() {
        head.push(format!("finished_below_benchmark_{unit}"));
    }
    head.push(format!("height_at_limit_slope_{unit}"));
    let mut rows = Vec::new();
    for (number, wall) in outcome.walls.iter().enumerate() {
        for s in &wall.stations {
            let mut row = vec![
                (number + 1).to_string(),
                wall.feature.clone(),
                wall.keep_off.clone(),
                if wall.holds_fill { "fill" } else { "ground" }.to_owned(),
            ];
            for m in [
                s.station_m,
                s.x_m,
                s.y_m,
                s.ground_m,
                s.finished_m,
                s.height_m,
            ] {
                row.push(show.level(m));
            }
            if let Some(mark) = benchmark {
                row.push(show.level(mark.level_m - s.finished_m));
            }
            row.push(
                s.limit_height_m
                    .map_or("not computed".to_owned(), |m| show.level(m)),
            );
            rows.push(row);
        }
    }
    csv_text(&head, rows)
}

/// The walls needed as entries for the job file, all of them.
pub fn walls_toml(outcome: &Outcome) -> String {
    let mut text = String::from(
        "# Walls that are needed, as entries for job.toml: copy one behind the features it holds.\n",
    );
    if outcome.walls.is_empty() {
        text += "# None is needed.\n";
    }
    for number in 0..outcome.walls.len() {
        text.push('\n');
        text += &wall_toml(outcome, number);
    }
    text
}

/// One wall, by its number from 0, as an entry for the job file.
pub fn wall_toml(outcome: &Outcome, number: usize) -> String {
    let show = Show::new(outcome.job.units);
    let Some(wall) = outcome.walls.get(number) else {
        return String::new();
    };
    let mut text = String::new();
    let _ = writeln!(
        text,
        "# W{}: holds {} of {} along \"{}\", {} long, up to {} exposed.",
        number + 1,
        holds(wall),
        one_line(&wall.feature),
        one_line(&wall.keep_off),
        show.length(wall.length_m),
        show.level_with_unit(wall.max_height_m)
    );
    let Some(entry) = &wall.entry else {
        text += "# It is shorter than a wall of that thickness needs: no entry is made of it.\n";
        return text;
    };
    let _ = writeln!(
        text,
        "# Tops are at the level of the soil at the back of the wall, {} thick, and a finger above it.",
        show.length(entry.thickness_m)
    );
    if wall.along != Along::Feature {
        let _ = writeln!(
            text,
            "# So that nothing is placed or dug past it, write for {}: keep_clear_of = [{}]",
            one_line(&wall.feature),
            quoted(&one_line(&wall.keep_off))
        );
    }
    entry_toml(outcome, number, entry, &mut text);
    text
}

fn entry_toml(outcome: &Outcome, number: usize, entry: &WallEntry, text: &mut String) {
    let unit = outcome.job.units;
    // A tenth of a millimetre: a wall stands on its line.
    let metre = |m: f64| {
        let written = format!("{:.4}", unit.from_m(m) + 0.0);
        written
    };
    let places: Vec<String> = entry
        .line_m
        .iter()
        .map(|p| format!("[{}, {}]", metre(p[0]), metre(p[1])))
        .collect();
    let taken = |name: &str| outcome.job.features.iter().any(|f| f.name == name);
    let mut name = format!("Wall {}", number + 1);
    while taken(&name) {
        name += " more";
    }
    text.push_str("[[feature]]\nkind = \"wall\"\n");
    let _ = writeln!(text, "name = {}", quoted(&name));
    let _ = writeln!(text, "line = [{}]", places.join(", "));
    let holds = if entry.holds_left { "left" } else { "right" };
    let _ = writeln!(text, "holds = \"{holds}\"");
    let _ = writeln!(text, "thickness = {}", metre(entry.thickness_m));
    if let Some(first) = entry.steps.first() {
        let _ = writeln!(text, "top = \"level:{}\"", metre(first.top_m));
        let _ = writeln!(text, "base = \"level:{}\"", metre(first.base_m));
    }
    if entry.steps.len() > 1 {
        text.push_str("steps = [\n");
        for step in &entry.steps[1..] {
            let _ = writeln!(
                text,
                "  {{ at = {}, top = \"level:{}\", base = \"level:{}\" }},",
                metre(step.at_m),
                metre(step.top_m),
                metre(step.base_m)
            );
        }
        text.push_str("]\n");
    }
}

/// A name without line ends, for a comment.
fn one_line(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}

/// A text as TOML takes it.
fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}

/// The walls on a terminal: the list, then what each is made of.
pub fn walls_text(outcome: &Outcome) -> String {
    let show = Show::new(outcome.job.units);
    let mut text = format!("Walls needed: {}.\n", super::words::walls(outcome));
    for (k, wall) in outcome.walls.iter().enumerate() {
        let _ = writeln!(
            text,
            "\nW{}: {}, holds {} of {} along \"{}\"",
            k + 1,
            super::words::wall_size(show, wall),
            holds(wall),
            wall.feature,
            wall.keep_off
        );
        for (what, words) in facts(show, wall) {
            let _ = writeln!(text, "  {what}: {words}");
        }
    }
    text
}

/// What is told of a wall, by name.
pub(super) fn facts(show: Show, wall: &Wall) -> Vec<(&'static str, String)> {
    let place = |s: Option<&crate::checks::WallStation>| {
        s.map(|s| show.place(s.x_m, s.y_m)).unwrap_or_default()
    };
    let beyond = match wall.beyond_m3 {
        Some(m3) => show.volume_or_none(m3),
        None if wall.along == Along::Feature => {
            "not computed: it runs over the floor of the other feature".to_owned()
        }
        None => "not computed: the line does not say which side is beyond".to_owned(),
    };
    let or_none = |list: &[String]| match list.is_empty() {
        true => "none".to_owned(),
        false => list.join(", "),
    };
    let passes: Vec<String> = wall.passes.iter().map(|id| (*id).to_owned()).collect();
    vec![
        ("heights", basis(wall).to_owned()),
        ("from", place(wall.stations.first())),
        ("to", place(wall.stations.last())),
        ("length", show.length(wall.length_m)),
        (
            "exposed height",
            format!(
                "up to {}, {} in the mean",
                show.level_with_unit(wall.max_height_m),
                show.level_with_unit(wall.mean_height_m)
            ),
        ),
        (
            "from the bottom of its footing",
            format!(
                "up to {}, of it {} in the ground",
                show.level_with_unit(wall.total_height_m),
                show.level_with_unit(wall.buried_m)
            ),
        ),
        (
            "face",
            format!(
                "{}, with the buried part {}",
                show.area_or_none(wall.face_m2),
                show.area_or_none(wall.face_with_buried_m2)
            ),
        ),
        ("at the limit slope", at_limit(show, wall)),
        ("passes the limits of", or_none(&passes)),
        ("carries besides its soil", or_none(&wall.surcharge)),
        ("soil drawn past the line", beyond),
    ]
}
