//! Numbers in cells: lengths with a declared unit, refused with words when they are none.
//!
//! Takes the text of a cell, gives whole nanometres or metres. Knows no column.

use std::borrow::Cow;

use crate::diag::{At, Diagnostic};
use crate::job::Decimal;
use crate::units::{LengthUnit, NM_PER_M};

/// Largest height accepted, metres, up or down: ten times any height or depth on Earth, so that
/// a slipped digit or `1e300` is caught.
pub(crate) const MAX_HEIGHT_M: f64 = 1.0e5;

/// The text of a number with a decimal point.
///
/// # Errors
///
/// a file said to have decimal commas, and a point or several commas in the cell
pub(crate) fn pointed(
    text: &str,
    decimal: Decimal,
    at: impl FnOnce() -> At,
) -> Result<Cow<'_, str>, Diagnostic> {
    match decimal {
        Decimal::Point => Ok(Cow::Borrowed(text)),
        Decimal::Comma if text.contains('.') || text.matches(',').count() > 1 => {
            let message = "this is no number with a decimal comma, as the file is said to have";
            Err(Diagnostic::error("bad-number", message)
                .at(at())
                .help("write it as 1234,5, or take `decimal = \"comma\"` away"))
        }
        Decimal::Comma => Ok(Cow::Owned(text.replace(',', "."))),
    }
}

/// A plan coordinate or distance in whole nanometres: a decimal number, or in feet also feet and
/// inches.
///
/// # Errors
///
/// blank, no length, one that could be meant in two ways, not finite, or beyond the range of the
/// lattice
pub(crate) fn plan_nm(
    text: &str,
    unit: LengthUnit,
    at: impl FnOnce() -> At,
) -> Result<i64, Diagnostic> {
    unit.parse_length_nm(text)
        .ok_or_else(|| bad_length(text, unit, at()))
}

/// A height in metres, a decimal number converted in floating point at full precision; with the
/// mark of its unit or in feet and inches as [`plan_nm`].
///
/// # Errors
///
/// blank, no height, one that could be meant in two ways, not finite, or beyond
/// [`MAX_HEIGHT_M`]
pub(crate) fn height_m(
    text: &str,
    unit: LengthUnit,
    at: impl FnOnce() -> At,
) -> Result<f64, Diagnostic> {
    let metres = match text.parse::<f64>() {
        Ok(value) => Some(unit.to_m(value)),
        Err(_) => unit.parse_length_nm(text).map(|nm| nm as f64 / NM_PER_M),
    };
    metres
        .filter(|m| m.is_finite() && m.abs() <= MAX_HEIGHT_M)
        .ok_or_else(|| bad_length(text, unit, at()))
}

/// The error for a cell that holds no length in this unit, with what it may have been meant as.
fn bad_length(text: &str, unit: LengthUnit, at: At) -> Diagnostic {
    match unit.length_meant(text) {
        Some(help) if text.parse::<f64>().is_err() && !text.contains(',') => {
            let message = format!("this is no clear length in {}", unit.name());
            Diagnostic::error("bad-number", message).at(at).help(help)
        }
        _ => bad_number(text, at),
    }
}

/// The error for a cell that holds no usable number.
pub(crate) fn bad_number(text: &str, at: At) -> Diagnostic {
    if text.is_empty() {
        return Diagnostic::error("blank-cell", "the cell is blank where a number is needed")
            .at(at)
            .help("fill it in, or take the row out");
    }
    if let Ok(value) = text.parse::<f64>() {
        let message = if value.is_nan() || text.to_lowercase().contains("inf") {
            "this is not a finite number"
        } else {
            "this number is far larger than any place or height on Earth"
        };
        return Diagnostic::error("bad-number", message)
            .at(at)
            .help("correct the cell, or check the unit of the file");
    }
    let pointed = text.replacen(',', ".", 1);
    let thousands = text.replace(',', "");
    let whole = text.split_once('.').map_or(text, |(whole, _)| whole);
    let in_threes = whole.split(',').skip(1).all(|part| part.len() == 3);
    let help = if text.contains(',') && in_threes && thousands.parse::<f64>().is_ok() {
        if pointed.parse::<f64>().is_ok() {
            format!(
                "write {thousands} if the comma parts thousands, or use a decimal point: {pointed}"
            )
        } else {
            format!("write {thousands}, without commas between thousands")
        }
    } else if text.matches(',').count() == 1 && pointed.parse::<f64>().is_ok() {
        format!(
            "use a decimal point: {pointed}; or say `decimal = \"comma\"` (`--decimal comma`) if the \
             whole file is written so"
        )
    } else {
        "write a plain number with a decimal point, without unit or spaces".to_owned()
    };
    Diagnostic::error("bad-number", "this is not a number")
        .at(at)
        .help(help)
}

/// Longest name of a point, bytes. A longer one is a lost quote mark, and would make every
/// search for the nearest name slow.
const MAX_NAME_BYTES: usize = 200;

/// Refuses a name that is longer than any name.
///
/// # Errors
///
/// longer than 200 bytes
pub(crate) fn short_name(name: &str, at: impl FnOnce() -> At) -> Result<(), Diagnostic> {
    if name.len() <= MAX_NAME_BYTES {
        return Ok(());
    }
    let message = format!("the name is longer than {MAX_NAME_BYTES} bytes");
    Err(Diagnostic::error("long-name", message)
        .at(at())
        .help("shorten it, or look for a quote mark that is not closed"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn commas_are_told_apart() {
        let help = |text| bad_number(text, At::default()).help;
        assert_eq!(
            help("1,200.00"),
            "write 1200.00, without commas between thousands"
        );
        assert!(help("1,200").contains("write 1200 if the comma parts thousands"));
        assert!(help("98,2").contains("--decimal comma"));
        assert!(help("1,20.00").contains("plain number"));
    }
}
