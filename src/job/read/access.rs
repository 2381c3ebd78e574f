//! Reads `[[gate]]` and `[[route]]`.

use super::super::{FeatureEntry, GateShape, GateSpec, Place, RouteSpec, Table};
use super::{name_or_default, positive_m};
use crate::diag::{At, Diagnostic};
use crate::job::place::printable;

pub(super) fn read_gates(
    root: &mut Table,
    features: &[FeatureEntry],
    diags: &mut Vec<Diagnostic>,
) -> Vec<GateSpec> {
    let mut gates: Vec<GateSpec> = Vec::new();
    for (index, mut table) in root.tables("gate", diags).into_iter().enumerate() {
        let name = name_or_default(&mut table, || format!("gate {}", index + 1), diags);
        let at = table.at();
        // A route may end at either, and goes by the name.
        let namesakes = gates.iter().map(|g| (&g.name, &g.at));
        let mut namesakes = namesakes.chain(features.iter().map(|f| (&f.name, &f.at)));
        if let Some((_, other)) = namesakes.find(|(other, _)| **other == name) {
            let message = format!("two things are called \"{}\"", printable(&name));
            diags.push(
                Diagnostic::error("duplicate-name", message)
                    .at(at.clone())
                    .at(other.clone())
                    .help("give the gate a name of its own: routes go by it"),
            );
        }
        let example = "line = [[2.0, 0.0], [5.0, 0.0]]   # its posts; or at = ... with width = 3.0";
        let way = table.one_of(&["line", "at"], example, diags);
        table.expect(&["width"]);
        let shape = match way {
            Some("line") => {
                if let Some(at) = table.discard("width") {
                    let message = "`width` goes with `at` only: posts say how far they stand apart";
                    let fault = Diagnostic::error("one-of", message).at(at);
                    diags.push(fault.help("take it out, or give the middle of the gate as `at`"));
                }
                table.places("line", diags).map(GateShape::Posts)
            }
            Some(_) => {
                if !table.has("width") {
                    diags.push(table.missing("width", "3.0"));
                }
                let place = table.place("at", diags);
                let width_m = positive_m("width", &mut table, diags);
                place
                    .zip(width_m)
                    .map(|((place, at), width_m)| GateShape::Middle { place, at, width_m })
            }
            None => {
                table.discard("width");
                None
            }
        };
        if let Some(shape) = shape {
            gates.push(GateSpec { name, shape, at });
        }
        table.finish(diags);
    }
    gates
}

pub(super) fn read_routes(root: &mut Table, diags: &mut Vec<Diagnostic>) -> Vec<RouteSpec> {
    let mut routes = Vec::new();
    for (index, mut table) in root.tables("route", diags).into_iter().enumerate() {
        let name = name_or_default(&mut table, || format!("route {}", index + 1), diags);
        let at: At = table.at();
        let mut end = |key: &str, example: &str, table: &mut Table| -> Option<(Place, At)> {
            if !table.has(key) {
                diags.push(table.missing(key, example));
            }
            table.place(key, diags)
        };
        let from = end("from", "\"Side gate\"", &mut table);
        let to = end("to", "\"Reservoir\"", &mut table);
        let via = table.places("via", diags);
        let width_m = positive_m("width", &mut table, diags);
        if let Some((from, to)) = from.zip(to) {
            routes.push(RouteSpec {
                name,
                from,
                to,
                via,
                width_m,
                at,
            });
        }
        table.finish(diags);
    }
    routes
}
