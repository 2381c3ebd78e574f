//! Sheets as CSV, in the job's units, the unit in the head of the column.
//!
//! Takes an outcome, gives text for a spreadsheet. Rounds as the sheets for people do. How CSV
//! is written is known here only.

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
