//! What the list of findings says of the engineer's numbers: where they stand.

use crate::statics::bearing_source;

use super::super::{Checked, Finding, Severity};
use super::Drawn;

impl Drawn<'_> {
    /// WL-4, WL-6 and WL-7: numbers for the engineer at the highest place.
    pub(super) fn numbers(&self, out: &mut Checked) {
        const IDS: [&str; 3] = ["WL-4", "WL-6", "WL-7"];
        let (name, soil) = (self.name(), self.context.soil);
        let Some(section) = self.work.sections.first() else {
            for id in IDS {
                out.missing(id, format!("no soil is known behind {name}"));
            }
            return;
        };
        if section.friction_degrees.is_none() {
            for id in IDS {
                out.missing(
                    id,
                    format!("nobody offers a friction angle for {}: give friction_degrees in [soil] after a geotechnical engineer has named it", soil.name),
                );
            }
            return;
        }
        let drained = section.likely(true);
        let Some(stands) = drained.and_then(|c| c.standing) else {
            let why = drained.and_then(|c| c.why_not.clone()).unwrap_or_default();
            for id in IDS {
                out.missing(id, format!("{name}: {why}"));
            }
            return;
        };
        // The numbers stand on the engineer's page alone: here a wall that slides and one that does
        // not read alike.
        let words = format!(
            "for the engineer: {name}: thrust, sliding, overturning and base pressure by the simple gravity check stand in engineer.html beside the usual figures; not a verdict"
        );
        out.find(Finding {
            limit_from: format!("IRC R404.4; {}", bearing_source()),
            cure: "give the engineer that page and what you know of the soil".to_owned(),
            ..self.find(
                &["WL-4", "WL-6", "WL-7"],
                Severity::Note,
                section.station_m,
                words,
            )
        });
        for id in IDS {
            out.looked(id, format!("{name}: the numbers stand in engineer.html"));
        }
        if stands.sliding.is_none() {
            out.missing(
                "WL-4",
                format!(
                    "{name}: no friction of a base on {} is offered, so sliding is not computed",
                    soil.name
                ),
            );
        }
        if stands.contact.toe_pa().is_none() {
            let because = "the resultant lies outside the base, so no pressure is computed";
            out.missing("WL-7", format!("{name}: {because}"));
        } else if section.presumed_bearing_pa.is_none() {
            out.missing(
                "WL-7",
                format!("{name}: {} has no presumed bearing", soil.name),
            );
        }
    }
}
