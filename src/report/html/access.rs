//! Access on the page: gates, barrow ways, piles, trees, buried lines.
//!
//! Takes the page, adds a picture and tables to it.

use super::{Head, Page, bare};
use crate::drawing::access;
use crate::units::Slope;

impl Page<'_> {
    /// Everything of access; a sentence where a job has none of it.
    pub(super) fn access(&mut self) {
        let found = &self.outcome.access;
        self.heading("access", "Access, roots, buried lines");
        if let Some(svg) = access(self.outcome) {
            self.picture(
                &svg,
                "Barrow ways (R1, R2, ...), piles, root circles and buried lines. Also in access.svg.",
            );
        }
        self.ways();
        self.paragraph(&found.words);
        self.trees();
        self.buried();
    }

    fn ways(&mut self) {
        let (found, show) = (&self.outcome.access, self.show);
        if found.routes.is_empty() {
            return;
        }
        let unit = show.length_unit();
        let heads = [
            Head::Text("way"),
            Head::Text("from"),
            Head::Text("to"),
            Head::Number(format!("length, {unit}")),
            Head::Number(format!("climbs, {unit}")),
            Head::Number(format!("falls, {unit}")),
            Head::Text("steepest"),
            Head::Text("leans most"),
            Head::Text("narrowest"),
        ];
        let slope = |at: Option<crate::checks::SlopeThere>| match at {
            Some(there) => Slope::from_rise_per_run(there.rise_per_run.abs()).to_string(),
            None => "not computed: no ground there".to_owned(),
        };
        let number = |m: f64| bare(&show.length(m), unit);
        let rows: Vec<(&str, Vec<String>)> = found
            .routes
            .iter()
            .enumerate()
            .map(|(k, route)| {
                let mut cells = vec![format!("R{}", k + 1), route.from.clone(), route.to.clone()];
                match &route.closed_by {
                    Some(closed) => {
                        cells.extend(["no way", "", ""].map(str::to_owned));
                        cells.push(closed.words.clone());
                        cells.extend(["", ""].map(str::to_owned));
                    }
                    None => {
                        cells.extend([route.length_m, route.climb_m, route.fall_m].map(number));
                        cells.extend([slope(route.steepest), slope(route.cross)]);
                        cells.push(match &route.narrowest {
                            Some(narrow) => {
                                format!("{} {}", show.length(narrow.clear_m), narrow.words())
                            }
                            None => "wide all along".to_owned(),
                        });
                    }
                }
                ("", cells)
            })
            .collect();
        self.table("Barrow ways; also in routes.csv", &heads, &rows);
    }

    fn trees(&mut self) {
        let (found, show) = (&self.outcome.access, self.show);
        if found.trees.is_empty() {
            return;
        }
        let (unit, area) = (show.length_unit(), show.area_unit());
        let heads = [
            Head::Text("tree"),
            Head::Number(format!("roots round it, {unit}")),
            Head::Text("feature"),
            Head::Number(format!("touched, {area}")),
            Head::Number("share".to_owned()),
            Head::Number(format!("deepest cut, {unit}")),
            Head::Number(format!("highest fill, {unit}")),
        ];
        let depth = |m: f64| {
            if m > 0.0 {
                show.level(m)
            } else {
                "none".to_owned()
            }
        };
        let mut rows: Vec<(&str, Vec<String>)> = Vec::new();
        for tree in &found.trees {
            let radius = match tree.radius_m {
                Some(radius_m) => bare(&show.length(radius_m), unit),
                None => "as drawn".to_owned(),
            };
            if tree.touched.is_empty() {
                let mut cells = vec![tree.name.clone(), radius, "none".to_owned()];
                cells.extend(["none", "", "none", "none"].map(str::to_owned));
                rows.push(("", cells));
                continue;
            }
            for work in &tree.touched {
                rows.push((
                    "",
                    vec![
                        tree.name.clone(),
                        radius.clone(),
                        work.feature.clone(),
                        bare(&show.area(work.touched_m2), area),
                        format!("{:.0} %", 100.0 * work.share),
                        depth(work.deepest_cut_m),
                        depth(work.highest_fill_m),
                    ],
                ));
            }
        }
        self.table("Work in root circles", &heads, &rows);
    }

    fn buried(&mut self) {
        let (found, show) = (&self.outcome.access, self.show);
        if found.services.is_empty() {
            return;
        }
        let unit = show.length_unit();
        let heads = [
            Head::Text("buried line"),
            Head::Text("carries"),
            Head::Number(format!("by hand each side, {unit}")),
            Head::Text("feature"),
            Head::Text("by hand from station to station"),
            Head::Number(format!("deepest cut, {unit}")),
            Head::Text("told"),
            Head::Text("dig from"),
        ];
        let mut rows: Vec<(&str, Vec<String>)> = Vec::new();
        for service in &found.services {
            let carries = match &service.carries {
                Some(words) => format!("{} ({})", words, service.kind.letter()),
                None => format!("{} ({})", service.kind.word(), service.kind.letter()),
            };
            let told = service.notified.as_deref().unwrap_or("not given");
            let from = service.earliest_dig.as_deref().unwrap_or("not computed");
            let row = |feature: &str, stations: String, depth: String| {
                let hand = bare(&show.length(service.hand_m), unit);
                let cells = [
                    &service.name,
                    carries.as_str(),
                    &hand,
                    feature,
                    &stations,
                    &depth,
                    told,
                    from,
                ];
                ("", cells.map(str::to_owned).to_vec())
            };
            if service.touched.is_empty() {
                rows.push(row("none", "none".to_owned(), "none".to_owned()));
            }
            for work in &service.touched {
                let stations: Vec<String> = work
                    .stations_m
                    .iter()
                    .map(|[a, b]| format!("{} to {}", show.length_number(*a), show.length(*b)))
                    .collect();
                let depth = match work.is_dug {
                    true => show.level(work.deepest_cut_m),
                    false => "fill only".to_owned(),
                };
                rows.push(row(&work.feature, stations.join(", "), depth));
            }
        }
        self.table("Digs and fills beside buried lines", &heads, &rows);
    }
}
