//! Units of length in LandXML, as ratios of whole nanometres.
//!
//! # Source
//!
//! LandXML-1.2 schema (2008): `linearUnit` of `Metric` and `Imperial`. A mile is taken as 5,280
//! international feet.

use crate::diag::{At, Diagnostic};
use crate::import::units::Stated;
use crate::job::ImportSpec;
use crate::units::{LengthUnit, Scale};

use super::xml::Xml;

/// A unit of length a file is written in.
#[derive(Clone, Copy, Debug)]
pub(super) struct FileUnit {
    /// As the file says it.
    word: &'static str,
    /// The unit it is a part or a multiple of.
    base: LengthUnit,
    scale: Scale,
}

impl FileUnit {
    fn of(word: &str) -> Option<FileUnit> {
        use LengthUnit::{Foot, Metre, UsSurveyFoot};
        let (word, base, num, den) = match word {
            "millimeter" => ("millimetres", Metre, 1, 1000),
            "centimeter" => ("centimetres", Metre, 1, 100),
            "meter" => ("metres", Metre, 1, 1),
            "kilometer" => ("kilometres", Metre, 1000, 1),
            "foot" | "feet" => ("feet", Foot, 1, 1),
            "USSurveyFoot" => ("US survey feet", UsSurveyFoot, 1, 1),
            "inch" => ("inches", Foot, 1, 12),
            "mile" | "miles" => ("miles", Foot, 5280, 1),
            _ => return None,
        };
        Some(FileUnit {
            word,
            base,
            scale: base.scale().times(num, den),
        })
    }
}

/// Units of plan and heights as a file states them.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct FileUnits {
    plan: Option<FileUnit>,
    height: Option<FileUnit>,
}

impl FileUnits {
    /// Reads the element `Units`, which is open.
    ///
    /// # Errors
    ///
    /// a unit that is not known here, unless the user says one
    pub(super) fn read(spec: &ImportSpec, xml: &mut Xml<'_>) -> Result<FileUnits, Diagnostic> {
        let mut units = FileUnits::default();
        while let Some(name) = xml.child()? {
            if name == "Metric" || name == "Imperial" {
                let plan = named(spec, xml, "linearUnit")?;
                let height = named(spec, xml, "elevationUnit")?;
                // Some programs write plain feet for heights beside either kind of foot.
                let is_same = matches!((plan, height), (Some(p), Some(h))
                    if h.base == LengthUnit::Foot && p.base.is_foot() && h.word == "feet");
                units = FileUnits {
                    plan,
                    height: if is_same { plan } else { height.or(plan) },
                };
            }
            xml.skip()?;
        }
        Ok(units)
    }

    /// As every reader states them.
    pub(super) fn stated(&self) -> Stated {
        Stated {
            plan: self.plan.map(|u| u.base),
            height: self.height.map(|u| u.base),
        }
    }

    /// Words for parts and multiples, such as millimetres; empty for plain metres and feet.
    pub(super) fn words(&self) -> String {
        match self.plan {
            Some(unit) if unit.scale != unit.base.scale() => format!(", lengths in {}", unit.word),
            _ => String::new(),
        }
    }

    /// One unit of plan, as it is to be read.
    pub(super) fn plan(&self, unit: LengthUnit, is_typed: bool) -> Scale {
        scale(self.plan, unit, is_typed)
    }

    /// One unit of height.
    pub(super) fn height(&self, unit: LengthUnit, is_typed: bool) -> Scale {
        scale(self.height, unit, is_typed)
    }
}

fn scale(stated: Option<FileUnit>, unit: LengthUnit, is_typed: bool) -> Scale {
    match stated {
        Some(stated) if !is_typed => stated.scale,
        _ => unit.scale(),
    }
}

fn named(
    spec: &ImportSpec,
    xml: &Xml<'_>,
    attribute: &str,
) -> Result<Option<FileUnit>, Diagnostic> {
    let Some(word) = xml.attribute(attribute)? else {
        return Ok(None);
    };
    match FileUnit::of(&word) {
        Some(unit) => Ok(Some(unit)),
        None if spec.units.is_some() => Ok(None),
        None => Err(Diagnostic::error(
            "surface-unit",
            format!("{attribute} of the file is no unit that is known here"),
        )
        .at(At::cell(&spec.file, xml.line(), attribute, word))
        .help("say its unit with `units` (`--units`): \"m\", \"ft\" or \"us-ft\"")),
    }
}
