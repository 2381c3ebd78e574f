//! What the engineer is told of a wall in the list of findings: factors, base pressure.

use crate::statics::bearing_source;

use super::super::{Checked, Finding, Measure, Severity};
use super::{Drawn, metres};

/// Factor against sliding and overturning that is usually the least (IRC R404.4).
const USUAL_LEAST: f64 = 1.5;

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
        let Some((case, stands)) = drained.and_then(|c| Some((c, c.standing?))) else {
            let why = drained.and_then(|c| c.why_not.clone()).unwrap_or_default();
            for id in IDS {
                out.missing(id, format!("{name}: {why}"));
            }
            return;
        };
        let taken = format!(
            "by the simple gravity check, drained, {:.0} degrees of friction",
            case.friction_degrees
        );
        let severity = |is_short: bool| {
            if is_short {
                Severity::Warn
            } else {
                Severity::Note
            }
        };
        let say = |ids, is_short, words: String, cure: &str| Finding {
            limit_from: "IRC R404.4; not a verdict".to_owned(),
            cure: cure.to_owned(),
            ..self.find(ids, severity(is_short), section.station_m, words)
        };
        let thicker = format!(
            "for the engineer: see engineer.html; a thicker base, a lower wall or less behind it change it ({} thick now)",
            self.length(self.plan.thickness_m)
        );
        let factor = |f: Option<f64>| f.map_or("not computed".to_owned(), |f| format!("{f:.2}"));
        let least = [stands.sliding, stands.overturning]
            .into_iter()
            .flatten()
            .fold(f64::INFINITY, f64::min);
        out.find(Finding {
            measured: least.is_finite().then_some(Measure { value: least, unit: "ratio" }),
            limit: Some(Measure { value: USUAL_LEAST, unit: "ratio" }),
            ..say(
                &["WL-4"],
                least < USUAL_LEAST,
                format!(
                    "for the engineer: {name}, sliding {}, overturning {} {taken} ({USUAL_LEAST} is the usual least); not a verdict",
                    factor(stands.sliding),
                    factor(stands.overturning)
                ),
                &thicker,
            )
        });
        if stands.sliding.is_none() {
            out.missing(
                "WL-4",
                format!(
                    "{name}: no friction of a base on {} is offered, so sliding is not computed",
                    soil.name
                ),
            );
        }
        out.find(Finding {
            measured: Some(metres(stands.eccentricity_m)),
            limit: Some(metres(self.plan.thickness_m / 6.0)),
            limit_from: "a sixth of the base, statics".to_owned(),
            ..say(
                &["WL-6"],
                !stands.in_middle_third,
                match stands.in_middle_third {
                    true => format!("for the engineer: {name}, the resultant lies in the middle third of the base {taken}; not a verdict"),
                    false => format!(
                        "for the engineer: {name}, the resultant lies {} from the toe, outside the middle third of the base {taken}: {}; not a verdict",
                        self.height(stands.resultant_m),
                        match stands.contact.toe_pa() {
                            Some(_) => "the heel lifts",
                            None => "before the base, and no pressure can be computed",
                        }
                    ),
                },
                &thicker,
            )
        });
        let presumed = section.presumed_bearing_pa;
        match (stands.contact.toe_pa(), presumed) {
            (Some(toe), Some(presumed)) => out.find(Finding {
                measured: Some(Measure { value: toe, unit: "Pa" }),
                limit: Some(Measure { value: presumed, unit: "Pa" }),
                limit_from: bearing_source().to_owned(),
                ..say(
                    &["WL-7"],
                    toe > presumed,
                    format!(
                        "for the engineer: {name}, toe pressure {} {taken}, presumed value for this soil {}; not a verdict",
                        self.context.show().pressure(toe),
                        self.context.show().pressure(presumed)
                    ),
                    &thicker,
                )
            }),
            (None, _) => out.missing("WL-7", format!("{name}: the resultant lies outside the base, so no pressure is computed")),
            (_, None) => out.missing("WL-7", format!("{name}: {} has no presumed bearing", soil.name)),
        }
    }
}
