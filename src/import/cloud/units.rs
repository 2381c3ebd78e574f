//! Which units a cloud is read in: what the user says, else the file, else what is usual.

use super::crs::{Said, Stated};
use super::header::Header;
use super::words::refused;
use crate::diag::{At, Diagnostic, Failure};
use crate::import::facts::{UnitFound, UnitFrom};
use crate::import::units::{self, settle};
use crate::job::ImportSpec;
use crate::units::LengthUnit;

/// A step of coordinates as small as this is no length on a site, but common for degrees.
const STEP_OF_DEGREES: f64 = 1.0e-6;

/// Units of plan and heights.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Units {
    pub(super) plan: UnitFound,
    pub(super) height: UnitFound,
}

/// A unit of length in words.
pub(super) fn unit_words(unit: LengthUnit) -> &'static str {
    match unit {
        LengthUnit::Metre => "metres",
        LengthUnit::Foot => "feet",
        LengthUnit::UsSurveyFoot => "US survey feet",
    }
}

/// Finds the units of a file.
///
/// # Errors
///
/// coordinates in degrees or in a unit that is not known, unless the user says a unit
pub(super) fn units(
    spec: &ImportSpec,
    header: &Header,
    said: &mut Vec<Diagnostic>,
) -> Result<Units, Failure> {
    let file = &spec.file;
    let stated = Stated::of(header);
    if spec.units.is_none() {
        for words in &stated.contradictions {
            said.push(
                Diagnostic::warn("units-contradict", words.clone())
                    .at(At::file(file))
                    .help("say the units of this file: units = \"m\", \"ft\" or \"us-ft\" (--units), z_units for heights"),
            );
        }
    }
    let typed = spec.z_units.or(spec.units);
    let plan = known("coordinates", spec.units, stated.plan.as_ref(), file, said)?;
    let height = known("heights", typed, stated.height.as_ref(), file, said)?;
    if spec.units.is_none() && plan.is_none() && looks_like_degrees(header) {
        return Err(refused(
            file,
            "cloud-degrees",
            format!(
                "the file names no unit, and its coordinates (x {} to {}, y {} to {}, in steps of {:e}) look like degrees",
                header.low[0], header.high[0], header.low[1], header.high[1], header.scale[0]
            ),
            format!("{BRING}; if they are lengths, say so: units = \"m\" (--units m)"),
        ));
    }
    let (plan, height, settled) = settle(spec, units::Stated { plan, height });
    said.extend(settled);
    if plan.from == UnitFrom::TakenForGranted
        && let Some(code) = stated.code
    {
        said.push(
            Diagnostic::note(
                "unit-by-code",
                format!(
                    "the file names coordinate system EPSG {code}, whose unit is not known here"
                ),
            )
            .at(At::file(file)),
        );
    }
    Ok(Units { plan, height })
}

/// What to do with degrees.
const BRING: &str = "a yard is measured in metres or feet: bring the file to a projected coordinate system in metres or feet first";

/// A unit of length that the file states; what is none is refused, unless the user says one.
fn known(
    what: &str,
    typed: Option<LengthUnit>,
    stated: Option<&Said>,
    file: &str,
    said: &mut Vec<Diagnostic>,
) -> Result<Option<LengthUnit>, Failure> {
    let other = match stated {
        None => return Ok(None),
        Some(&Said::Unit(unit)) => return Ok(Some(unit)),
        Some(other) => other,
    };
    let words = format!("the file says that its {what} are {}", in_unit(other));
    if let Some(unit) = typed {
        let words = format!("{words}; they are read as {}, as typed", unit_words(unit));
        said.push(Diagnostic::warn("unit-overruled", words).at(At::file(file)));
        return Ok(None);
    }
    Err(match other {
        Said::Other(_) => refused(
            file,
            "cloud-unit",
            format!("{words}, which is not known here"),
            "bring it to metres or feet first; if they are metres or feet all the same, say so: units = \"m\", \"ft\" or \"us-ft\" (--units), z_units for heights",
        ),
        _ => refused(file, "cloud-degrees", words, BRING),
    })
}

fn in_unit(said: &Said) -> String {
    match said {
        Said::EarthCentred => said.words(),
        _ => format!("in {}", said.words()),
    }
}

/// True for coordinates that fit on a globe, in steps no length has.
fn looks_like_degrees(header: &Header) -> bool {
    let within = |k: usize, most: f64| header.low[k].abs() <= most && header.high[k].abs() <= most;
    within(0, 180.0) && within(1, 90.0) && header.scale[..2].iter().all(|&s| s <= STEP_OF_DEGREES)
}
