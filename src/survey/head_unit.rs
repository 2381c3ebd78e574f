//! Units that stand in column heads, and whether they agree with how the file is read.
//!
//! Takes the word behind a head (`x (ft)`, `rod mm`), gives the unit; says what to declare where
//! the two differ. Knows no column.

use crate::diag::{At, Diagnostic};
use crate::job::RodKind;
use crate::units::LengthUnit;

use super::rod::foot_of;

/// A unit as a head states it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stated {
    /// A unit a file can be declared to be in.
    Length(LengthUnit),
    /// Millimetres.
    Millimetres,
    /// Centimetres.
    Centimetres,
    /// Inches, or feet and inches.
    Inches,
    /// Feet and tenths.
    Tenths,
}

impl Stated {
    /// Reads the word of a head in lower case.
    pub(super) fn from_word(word: &str) -> Option<Stated> {
        let word = word.trim();
        if let Some(unit) = LengthUnit::from_name(word) {
            return Some(Stated::Length(unit));
        }
        Some(match word {
            "feet" | "foot" => Stated::Length(LengthUnit::Foot),
            "metres" | "metre" | "meters" | "meter" => Stated::Length(LengthUnit::Metre),
            "mm" | "millimetres" | "millimeters" => Stated::Millimetres,
            "cm" | "centimetres" | "centimeters" => Stated::Centimetres,
            "in" | "inch" | "inches" | "ft-in" | "ft/in" | "ft+in" | "feet-inches" => {
                Stated::Inches
            }
            "tenths" => Stated::Tenths,
            _ => return None,
        })
    }

    /// The unit in words.
    fn name(self) -> &'static str {
        match self {
            Stated::Length(unit) => unit.name(),
            Stated::Millimetres => "mm",
            Stated::Centimetres => "cm",
            Stated::Inches => "inches",
            Stated::Tenths => "tenths",
        }
    }
}

/// The fault of a head of lengths that says another unit than declared; `key` and `option` are
/// what declares it.
pub(super) fn length_fault(
    stated: Stated,
    declared: LengthUnit,
    (key, option): (&str, &str),
    at: At,
) -> Option<Diagnostic> {
    if stated == Stated::Length(declared) || (stated == Stated::Tenths && declared.is_foot()) {
        return None;
    }
    let (unit, declared) = (stated.name(), declared.name());
    let help = match stated {
        Stated::Length(_) => format!(
            "give this file its own unit: `{key} = \"{unit}\"` in the job, or `{option} {unit}`; \
             or correct the head to {declared}"
        ),
        Stated::Inches if declared != "m" => format!(
            "correct the head to {declared} and write feet and inches as 28-4-1/2, decimal feet \
             as 28.4"
        ),
        _ => format!("write the lengths in {declared} and correct the head"),
    };
    Some(
        Diagnostic::error(
            "unit-differs",
            format!("the column head says {unit}, but the column is read in {declared}"),
        )
        .at(at)
        .help(help),
    )
}

/// The fault of a head of rod readings that says another unit than the rod has.
pub(super) fn rod_fault(
    stated: Stated,
    rod: RodKind,
    heights: LengthUnit,
    at: At,
) -> Option<Diagnostic> {
    let foot = Stated::Length(foot_of(heights));
    let agrees = match rod {
        RodKind::Tenths => stated == foot || stated == Stated::Tenths,
        RodKind::InchEighths => stated == foot || stated == Stated::Inches,
        RodKind::Metric => stated == Stated::Length(LengthUnit::Metre),
        RodKind::Millimetres => stated == Stated::Millimetres,
        RodKind::Direct => stated == Stated::Length(heights),
    };
    if agrees {
        return None;
    }
    let say = |kind: &str| format!("`rod = \"{kind}\"` in the job, or `--rod {kind}`");
    let help = match stated {
        Stated::Length(LengthUnit::UsSurveyFoot) => {
            "the foot of a rod is that of the heights: say `z_units = \"us-ft\"` (`--z-units us-ft`)"
                .to_owned()
        }
        Stated::Length(LengthUnit::Foot) if rod.is_foot() => {
            "the foot of a rod is that of the heights: say `z_units = \"ft\"` (`--z-units ft`), or \
             correct the head"
                .to_owned()
        }
        Stated::Length(LengthUnit::Metre) => format!("say {}", say("metric")),
        Stated::Length(LengthUnit::Foot) => format!(
            "say {} for 5.60, or inch-eighths for 5-7-3/8",
            say("tenths")
        ),
        Stated::Tenths => format!("say {}", say("tenths")),
        Stated::Inches => format!(
            "say {}, and write feet and inches as 5-7-3/8",
            say("inch-eighths")
        ),
        Stated::Millimetres => format!("say {}", say("millimetres")),
        Stated::Centimetres => format!(
            "say {}, write 123.4 cm or 1.234 in each cell, and take the unit out of the head",
            say("metric")
        ),
    };
    Some(
        Diagnostic::error(
            "unit-differs",
            format!(
                "the column head says {}, but the rod is read as {}",
                stated.name(),
                rod.name()
            ),
        )
        .at(at)
        .help(help),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_head_agrees_with_its_rod_or_names_the_cure() {
        let fault = |word: &str, rod, heights| {
            rod_fault(
                Stated::from_word(word).unwrap(),
                rod,
                heights,
                At::default(),
            )
            .map(|fault| fault.help)
        };
        let (m, ft) = (LengthUnit::Metre, LengthUnit::Foot);
        for (word, rod, heights) in [
            ("mm", RodKind::Millimetres, m),
            ("m", RodKind::Metric, m),
            ("meters", RodKind::Metric, ft),
            ("ft", RodKind::Tenths, ft),
            ("feet", RodKind::InchEighths, ft),
            ("in", RodKind::InchEighths, ft),
            ("tenths", RodKind::Tenths, ft),
        ] {
            assert_eq!(fault(word, rod, heights), None, "{word}");
        }
        for (word, rod, heights, cure) in [
            ("mm", RodKind::Metric, m, "--rod millimetres"),
            ("mm", RodKind::Tenths, ft, "--rod millimetres"),
            ("ft", RodKind::Metric, m, "--rod tenths"),
            ("m", RodKind::Tenths, ft, "--rod metric"),
            ("ft-in", RodKind::Tenths, ft, "--rod inch-eighths"),
            ("cm", RodKind::Metric, m, "123.4 cm"),
            ("us-ft", RodKind::Tenths, ft, "--z-units us-ft"),
        ] {
            assert!(fault(word, rod, heights).unwrap().contains(cure), "{word}");
        }
    }
}
