//! Sheets as CSV, in the job's units, the unit in the head of the column.
//!
//! Takes an outcome, gives text for a spreadsheet. Rounds as the sheets for people do. How CSV
//! is written is known here only.

use crate::checks::SlopeThere;
use crate::outcome::Outcome;
use crate::show::Show;

/// Walls needed, one row a station; only the head if there are none.
///
/// # Units
///
/// lengths and levels in the job's unit, named in the head
pub fn walls_csv(outcome: &Outcome) -> String {
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
            rows.push(row);
        }
    }
    csv_text(&head, rows)
}

/// Barrow ways, one a row; only the head if there are none.
///
/// # Units
///
/// lengths in the job's unit, named in the head; slopes in percent
pub fn routes_csv(outcome: &Outcome) -> String {
    let show = Show::new(outcome.job.units);
    let unit = show.length_unit();
    let mut head: Vec<String> = ["way", "name", "from", "to"].map(str::to_owned).to_vec();
    for name in ["width", "length", "along_slope", "climb", "fall"] {
        head.push(format!("{name}_{unit}"));
    }
    head.extend(["steepest_percent", "cross_percent"].map(str::to_owned));
    head.extend(["narrowest", "off_survey"].map(|name| format!("{name}_{unit}")));
    head.push("closed_by".to_owned());
    let percent = |there: Option<SlopeThere>| match there {
        Some(there) => format!("{:.1}", 100.0 * there.rise_per_run.abs()),
        None => String::new(),
    };
    let rows = outcome.access.routes.iter().enumerate().map(|(k, route)| {
        let mut row = vec![
            format!("R{}", k + 1),
            route.name.clone(),
            route.from.clone(),
            route.to.clone(),
            show.level(route.width_m),
        ];
        let is_open = route.closed_by.is_none();
        let length = |m: f64| {
            if is_open {
                show.level(m)
            } else {
                String::new()
            }
        };
        row.extend([route.length_m, route.along_slope_m].map(length));
        row.extend([route.climb_m, route.fall_m].map(length));
        row.extend([percent(route.steepest), percent(route.cross)]);
        let narrowest = route.narrowest.as_ref();
        row.push(narrowest.map_or(String::new(), |n| show.level(n.clear_m)));
        row.push(length(route.off_survey_m));
        let closed = route.closed_by.as_ref();
        row.push(closed.map_or(String::new(), |closed| closed.words.clone()));
        row
    });
    csv_text(&head, rows)
}

/// A head and its rows as CSV; every row has as many cells as the head.
pub fn csv_text<S: AsRef<str>>(head: &[S], rows: impl IntoIterator<Item = Vec<String>>) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    // Rows of one length written into memory cannot fail.
    let _ = writer.write_record(head.iter().map(AsRef::as_ref));
    for row in rows {
        let _ = writer.write_record(&row);
    }
    writer
        .into_inner()
        .ok()
        .and_then(|bytes| String::from_utf8(bytes).ok())
        .unwrap_or_default()
}
