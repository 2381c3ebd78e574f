//! The tables of the work: what is dug and placed in which order, layers, sizes.
//!
//! Takes the page, adds tables to it.

use super::super::words;
use super::{Head, Page, bare};
use crate::earthwork::{Extent, LayerQuantity};
use crate::geom::P3;
use crate::surface::Extreme;

impl Page<'_> {
    /// The ledger; only where features are laid.
    pub(super) fn work(&mut self) {
        let (outcome, show) = (self.outcome, self.show);
        if outcome.works.is_empty() {
            return;
        }
        self.heading("work", "Work in order");
        let unit = show.volume_unit();
        let heads = [
            Head::Text("feature"),
            Head::Number(format!("dug from the ground, {unit} bank")),
            Head::Number(format!("dug out of fill, {unit} tamped")),
            Head::Number(format!("filled into a dig, {unit} tamped")),
            Head::Number(format!("placed on top, {unit} tamped")),
            Head::Text("of"),
        ];
        let number = |m3: f64| bare(&show.volume_or_none(m3), unit);
        let rows: Vec<(&str, Vec<String>)> = outcome
            .works
            .iter()
            .map(|work| {
                let mut of: Vec<&str> = work.dug_again_of.iter().map(String::as_str).collect();
                of.extend(work.refilled_of.iter().map(String::as_str));
                let cells = vec![
                    work.feature.clone(),
                    number(work.dug_m3),
                    number(work.dug_again_m3),
                    number(work.refilled_m3),
                    number(work.placed_m3),
                    of.join(", "),
                ];
                ("", cells)
            })
            .collect();
        self.table(
            "What each feature digs and places on what those before it left",
            &heads,
            &rows,
        );
        self.quiet(&words::ledger(outcome));
        if !outcome.design.strip_touched.is_empty() {
            self.quiet("Counted from the ground as measured: what is dug holds the sod and topsoil over it, and what is placed does not fill the strip below it.");
        }
    }

    /// Fills lift by lift; only where a feature says how thick they are.
    pub(super) fn lifts(&mut self) {
        let (outcome, show) = (self.outcome, self.show);
        if outcome.lifts.is_empty() {
            return;
        }
        self.heading("lifts", "Lifts");
        let unit = show.volume_unit();
        let heads = [
            Head::Text("feature and lift, from the ground up"),
            Head::Number(format!("from, {}", show.length_unit())),
            Head::Number(format!("to, {}", show.length_unit())),
            Head::Number(format!("soil, {unit} tamped")),
            Head::Number(format!("plan area, {}", show.area_unit())),
        ];
        let mut rows: Vec<(&str, Vec<String>)> = Vec::new();
        for (feature, lifts) in &outcome.lifts {
            for lift in lifts {
                let cells = vec![
                    format!("{feature}, lift {}", lift.number),
                    show.level(lift.from_m),
                    show.level(lift.to_m),
                    bare(&show.volume_or_none(lift.volume_m3), unit),
                    bare(&show.area_or_none(lift.area_m2), show.area_unit()),
                ];
                rows.push(("", cells));
            }
        }
        self.table("Fills as they are tamped, layer by layer", &heads, &rows);
        self.quiet("Counted from the measured ground; what fills a strip or a bench comes on top.");
    }

    /// Layers on the soil; only where there are any.
    pub(super) fn layers(&mut self) {
        let (outcome, show) = (self.outcome, self.show);
        if outcome.layers.is_empty() {
            return;
        }
        self.heading("layers", "Layers on the soil");
        let unit = show.volume_unit();
        let heads = [
            Head::Text("feature"),
            Head::Text("layer, from the soil up"),
            Head::Number(format!("area it lies on, {}", show.area_unit())),
            Head::Number(format!("volume as placed, {unit}")),
            Head::Number(format!("voids in it, {unit}")),
        ];
        let number = |m3: Option<f64>| match m3 {
            Some(m3) => bare(&show.volume_or_none(m3), unit),
            None => "-".to_owned(),
        };
        let row = |layer: &LayerQuantity| {
            let cells = vec![
                layer.feature.clone(),
                layer.layer.clone(),
                bare(&show.area_or_none(layer.area_m2), show.area_unit()),
                number(layer.volume_m3),
                number(layer.voids_m3),
            ];
            ("", cells)
        };
        let rows: Vec<(&str, Vec<String>)> = outcome.layers.iter().map(row).collect();
        self.table(
            "Layers between the soil and the finished surface",
            &heads,
            &rows,
        );
        self.quiet("Areas run along the slope and hold no laps and no waste. Thickness is plumb; an upright face carries none.");
    }

    /// Sizes of features and parts.
    pub(super) fn sizes(&mut self) {
        let (outcome, show) = (self.outcome, self.show);
        if outcome.extents.is_empty() {
            return;
        }
        self.heading("sizes", "Sizes");
        let length = show.length_unit();
        let heads = [
            Head::Text("feature and part"),
            Head::Number(format!("plan area, {}", show.area_unit())),
            Head::Number(format!("along the slope, {}", show.area_unit())),
            Head::Number(format!("outline, {length}")),
            Head::Number(format!("lowest, {length}")),
            Head::Number(format!("highest, {length}")),
            Head::Number(format!("deepest cut, {length}")),
            Head::Number(format!("highest fill, {length}")),
            Head::Text("deepest and highest at"),
        ];
        let origin = outcome.terrain.origin;
        let place = |at: P3| {
            let [x, y] = [
                at.p.x_m() + origin.x_m as f64,
                at.p.y_m() + origin.y_m as f64,
            ];
            show.place(x, y)
        };
        let far = |extreme: Option<Extreme>| match extreme {
            Some(extreme) => show.length_number(extreme.by_m),
            None => "none".to_owned(),
        };
        let cells = |name: &str, extent: &Extent| {
            let facts = &extent.facts;
            let area = |m2: f64| bare(&show.area_or_none(m2), show.area_unit());
            let [cut, fill] = extent
                .extremes
                .map_or([None; 2], |e| [e.deepest_cut, e.highest_fill]);
            let places: Vec<String> = [cut, fill].iter().flatten().map(|e| place(e.at)).collect();
            vec![
                name.to_owned(),
                area(facts.area_m2),
                area(facts.surface_area_m2),
                show.length_number(facts.perimeter_m),
                show.level(facts.lowest.z),
                show.level(facts.highest.z),
                far(cut),
                far(fill),
                places.join("; "),
            ]
        };
        let mut rows: Vec<(&str, Vec<String>)> = Vec::new();
        for feature in &outcome.extents {
            if let Some(whole) = &feature.whole {
                rows.push(("whole", cells(&feature.name, whole)));
            }
            for (name, part) in &feature.parts {
                rows.push(("part", cells(name, part)));
            }
        }
        if !rows.is_empty() {
            self.table(
                "Sizes of the finished surface, depths of the soil",
                &heads,
                &rows,
            );
        }
        let heads = [
            Head::Text("line"),
            Head::Number(format!("in plan, {length}")),
            Head::Number(format!("along the line, {length}")),
        ];
        let lines: Vec<(&str, Vec<String>)> = outcome
            .extents
            .iter()
            .flat_map(|feature| {
                feature.lines.iter().map(|line| {
                    let cells = vec![
                        format!("{}, {}", feature.name, line.name),
                        show.length_number(line.plan_m),
                        show.length_number(line.developed_m),
                    ];
                    ("", cells)
                })
            })
            .collect();
        if !lines.is_empty() {
            self.table("Lengths of lines", &heads, &lines);
        }
    }
}
