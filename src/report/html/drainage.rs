//! Where water runs, on the page: the sheet, what drains where, ponds, and falls at walls.

use super::page::{Head, Page};
use crate::checks::{House, PondKind, Station};
use crate::drawing::drainage;
use crate::geom::compass;

impl Page<'_> {
    pub(super) fn drainage(&mut self) {
        let (outcome, show) = (self.outcome, self.show);
        let found = &outcome.drainage;
        self.heading("drainage", "Drainage");
        self.picture(
            &drainage(outcome),
            "Ways of drops before (broken) and after (solid), water that stands, and the fall in front of walls. True to scale in drainage.svg at full size.",
        );
        self.quiet("Every drop takes the steepest way down, and every hollow is taken to be full. How much rain falls and how fast it runs is not computed.");
        let area = show.area_unit();
        let rows: Vec<(&str, Vec<String>)> = found
            .catchments
            .iter()
            .map(|c| {
                let areas = [c.before_m2, c.after_m2].map(|m2| show.area_or_none(m2));
                let [before, after] = areas.map(|words| super::bare(&words, area));
                ("", vec![c.name.clone(), before, after])
            })
            .collect();
        if !rows.is_empty() {
            let heads = [
                Head::Text("what"),
                Head::Number(format!("before, {area}")),
                Head::Number(format!("after, {area}")),
            ];
            self.table("What drains to it or over it", &heads, &rows);
        }
        self.ponds();
        for house in &found.houses {
            self.house(house);
        }
    }

    fn ponds(&mut self) {
        let (outcome, show) = (self.outcome, self.show);
        let rows: Vec<(&str, Vec<String>)> = outcome
            .drainage
            .ponds
            .iter()
            .map(|pond| {
                let kind = match pond.kind {
                    PondKind::Pool => "a pool that is meant",
                    PondKind::AsBefore => "as before the work",
                    PondKind::New => "made by the work",
                };
                let cells = vec![
                    pond.feature.clone().unwrap_or_else(|| "ground".to_owned()),
                    kind.to_owned(),
                    show.level(pond.depth_m),
                    super::bare(&show.area_or_none(pond.area_m2), show.area_unit()),
                    super::bare(&show.volume_or_none(pond.volume_m3), show.volume_unit()),
                ];
                ("", cells)
            })
            .collect();
        if rows.is_empty() {
            self.paragraph("No hollow of the finished surface holds water.");
            return;
        }
        let heads = [
            Head::Text("where"),
            Head::Text("what it is"),
            Head::Number(format!("depth, {}", show.length_unit())),
            Head::Number(format!("area, {}", show.area_unit())),
            Head::Number(format!("water, {}", show.volume_unit())),
        ];
        self.table("Water that stands, full to the lip", &heads, &rows);
    }

    /// The least fall of every side of a building.
    fn house(&mut self, house: &House) {
        let show = self.show;
        let mut sides: Vec<(&'static str, &Station)> = Vec::new();
        for station in &house.stations {
            let Some(after) = station.after else { continue };
            let left = |s: &Station| s.after.map_or(f64::INFINITY, |a| a.fall_m - a.needed_m);
            let side = compass(station.towards);
            match sides.iter_mut().find(|(name, _)| *name == side) {
                Some((_, least)) if after.fall_m - after.needed_m < left(least) => *least = station,
                Some(_) => {}
                None => sides.push((side, station)),
            }
        }
        let fall = |m: f64| match m < 0.0 {
            true => format!("rises {}", show.level(-m)),
            false => show.level(m),
        };
        let rows: Vec<(&str, Vec<String>)> = sides
            .iter()
            .filter_map(|(side, station)| {
                let after = station.after?;
                let before = station
                    .before
                    .map_or_else(|| "not known".to_owned(), |b| fall(b.fall_m));
                let dip = after
                    .dip_m
                    .map_or_else(|| "none".to_owned(), |[_, depth]| show.level(depth));
                let cells = vec![
                    (*side).to_owned(),
                    show.length_number(after.known_m),
                    before,
                    fall(after.fall_m),
                    show.level(after.needed_m),
                    dip,
                ];
                Some(("", cells))
            })
            .collect();
        if rows.is_empty() {
            self.paragraph(&format!("{}: no ground is known round it.", house.name));
            return;
        }
        let unit = show.length_unit();
        let heads = [
            Head::Text("side"),
            Head::Number(format!("over, {unit}")),
            Head::Number(format!("falls before, {unit}")),
            Head::Number(format!("falls after, {unit}")),
            Head::Number(format!("is to fall, {unit}")),
            Head::Number(format!("dip, {unit}")),
        ];
        let caption = format!("{}: least fall away from each side", house.name);
        self.table(&caption, &heads, &rows);
    }
}
