//! Ways as a sheet.

use super::sheets::csv_text;
use crate::checks::SlopeThere;
use crate::outcome::Outcome;
use crate::show::Show;

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
