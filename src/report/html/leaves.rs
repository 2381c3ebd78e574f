//! What lies beside the page for other programs.

use super::page::{Head, Page};
use crate::report::exports::{self, MOST_CONTOUR_PIECES, MOST_FACETS};

impl Page<'_> {
    pub(super) fn leaves(&mut self) {
        let outcome = self.outcome;
        self.heading("other-programs", "For other programs");
        let unit = outcome.job.units.name();
        let mut rows: Vec<(&str, Vec<String>)> = Vec::new();
        let mut too_large: Vec<String> = Vec::new();
        for leaving in exports::surfaces(outcome).surfaces {
            let name = leaving.name;
            let means = match &*name {
                "ground" => "the ground as measured",
                "design" => "what is seen when all is done and settled",
                "dug" => "where the soil ends, under layers",
                _ => "the soil as it is made, before it settles",
            };
            let facets = leaving.surface.num_facets();
            if facets > MOST_FACETS {
                too_large.push(format!(
                    "{name} has {facets} facets, too many for this folder: cutbank ground \
                     JOB:{name} --export {name}.xml writes it."
                ));
                continue;
            }
            for (file, what) in [
                (format!("{name}.xml"), format!("LandXML 1.2, in {unit}")),
                (format!("{name}.glb"), "glTF 2.0, in metres".to_owned()),
                (
                    format!("{name}-vertices.csv, {name}-facets.csv"),
                    "tables, in metres".to_owned(),
                ),
            ] {
                rows.push(("", vec![file, what, means.to_owned()]));
            }
        }
        if let Some((_, loss)) = exports::thinned(&outcome.terrain.surface) {
            let means = format!(
                "the ground to be looked at, {}; its outline and holes are not kept",
                exports::words_of_loss(&loss)
            );
            let form = "glTF 2.0, in metres".to_owned();
            rows.push(("", vec![exports::THINNED.to_owned(), form, means]));
        }
        let pieces = exports::num_contour_pieces(outcome);
        if pieces > MOST_CONTOUR_PIECES {
            too_large.push(format!(
                "Contours have {pieces} straight pieces, too many for lines.geojson: cutbank \
                 contours JOB:ground --interval H --export contours.geojson writes fewer."
            ));
        }
        rows.push((
            "",
            vec![
                "lines.geojson".to_owned(),
                "GeoJSON, in local metres: not longitude and latitude".to_owned(),
                "outlines, parts, daylight lines, contours, sections, keep-offs".to_owned(),
            ],
        ));
        let heads = [Head::Text("file"), Head::Text("form"), Head::Text("what")];
        self.table("Files beside this page", &heads, &rows);
        for words in too_large {
            self.paragraph(&words);
        }
        self.quiet("Surfaces hold the very facets that volumes are counted from; coordinates are those of the survey, and each file says its unit and how far it is rounded.");
    }
}
