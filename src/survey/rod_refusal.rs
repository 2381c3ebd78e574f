//! What to say of a text that is no reading of its rod: both echoes, and the way out.
//!
//! Takes the text and the kind of rod, gives a sentence on what is wrong and one on what to do.

use crate::job::RodKind;
use crate::units::inches::{SIXTEENTHS_PER_FOOT, sixteenths, sixteenths_nm, written};
use crate::units::{LengthUnit, MAX_COORDINATE_M, NM_PER_M};

use super::rod::{MAX_FOOT_ROD_M, MAX_METRIC_ROD_M, as_booked, echo, foot_of, metric};

/// What to say of a text that is no reading of this kind of rod, with what it would be on
/// another. `read` is true for a number that only is too large.
pub(super) fn refusal(
    kind: RodKind,
    heights: LengthUnit,
    booked: &str,
    plain: &str,
    read: bool,
) -> (String, String) {
    if booked.is_empty() {
        return (
            "the rod reading is blank".into(),
            "fill it in, or take the row out".into(),
        );
    }
    let number = plain.parse::<f64>().ok();
    if number.is_some_and(|value| !value.is_finite()) {
        return (
            "this is not a finite number".into(),
            "book what the rod shows".into(),
        );
    }
    // What is too large even for a coordinate is a number all the same.
    let read = read || number.is_some_and(|value| value.abs() > MAX_COORDINATE_M);
    if let Some(found) = in_inches(kind, plain, heights) {
        return found;
    }
    if let Some(metres) = unit_written(plain).filter(|_| kind.is_foot()) {
        let message = "a metric reading on a rod that is divided in feet";
        let help = format!(
            "{booked} is {}; if the rod is metric say `rod = \"metric\"`",
            echo(kind, metres)
        );
        return (message.to_owned(), help);
    }
    let (message, help) = match (kind, number) {
        (RodKind::InchEighths, Some(feet)) if plain.contains('.') => (
            "a decimal reading on a rod of feet, inches and eighths".to_owned(),
            decimal_help(feet),
        ),
        (RodKind::InchEighths, _) => (
            if read {
                "no rod reads more than 30 ft".to_owned()
            } else {
                "this is no clear reading in feet, inches and eighths".to_owned()
            },
            two_ways(plain).unwrap_or_else(|| {
                "book feet, inches and eighths with hyphens: 5-7-3/8, or 5-0 for five feet"
                    .to_owned()
            }),
        ),
        (RodKind::Tenths, Some(value)) if read => (
            "no rod reads more than 30 ft".to_owned(),
            too_long_help(value),
        ),
        (RodKind::Metric, Some(value)) if read => (
            "no rod reads more than 10 m".to_owned(),
            if value.abs() <= 10_000.0 {
                format!(
                    "{booked} mm would be {:.3} m: book {:.3}, or {booked} mm, or say \
                     `rod = \"millimetres\"`",
                    value / 1000.0,
                    value / 1000.0
                )
            } else {
                "check the reading and the kind of rod".to_owned()
            },
        ),
        (RodKind::Millimetres, Some(value)) if read && value.abs() <= MAX_METRIC_ROD_M => (
            "a reading in metres on a rod that is booked in millimetres".to_owned(),
            format!(
                "{booked} m would be {:.0} mm: book {:.0}, or {booked} m, or say \
                 `rod = \"metric\"`",
                value * 1000.0,
                value * 1000.0
            ),
        ),
        (RodKind::Millimetres, Some(_)) if read => (
            "no rod reads more than 10 m".to_owned(),
            "check the reading and the kind of rod".to_owned(),
        ),
        (RodKind::Direct, Some(_)) if read => (
            "no elevation is more than 100 km".to_owned(),
            "check the elevation and its unit".to_owned(),
        ),
        _ if plain.contains(',') => (
            "this is not a number".to_owned(),
            format!(
                "use a decimal point: {}; or say `decimal = \"comma\"` (`--decimal comma`) if the \
                 whole file is written so",
                plain.replacen(',', ".", 1)
            ),
        ),
        _ if !plain.contains(|c: char| c.is_ascii_digit()) => (
            "this is no reading".to_owned(),
            "book what the rod shows; if nothing was read, put # in front of the row".to_owned(),
        ),
        _ if letters_for_digits(plain).is_some() => (
            "this is not a number".to_owned(),
            format!(
                "there is a letter in it: is {} meant?",
                letters_for_digits(plain).unwrap_or_default()
            ),
        ),
        (RodKind::Tenths, _) => (
            "this is no reading in feet and tenths".to_owned(),
            "book it as 5.60".to_owned(),
        ),
        (RodKind::Metric, _) => (
            "this is no reading in metres".to_owned(),
            "book it as 1.234, or with its unit as 1234 mm or 123.4 cm".to_owned(),
        ),
        (RodKind::Millimetres, _) => (
            "this is no reading in millimetres".to_owned(),
            "book it as 1234".to_owned(),
        ),
        (RodKind::Direct, _) => (
            "this is no elevation".to_owned(),
            "book it as a plain number".to_owned(),
        ),
    };
    (message, help)
}

/// The number of a text in which an O stands for a 0, or an l or I for a 1.
fn letters_for_digits(plain: &str) -> Option<String> {
    let digits = plain.replace('o', "0").replace(['l', 'i'], "1");
    (digits != plain && digits.parse::<f64>().is_ok()).then_some(digits)
}

/// The two readings that a text could be meant as.
fn two_ways(plain: &str) -> Option<String> {
    let words: Vec<&str> = plain.split([' ', '-']).filter(|w| !w.is_empty()).collect();
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    let (one, other) = match words.as_slice() {
        [one] if digits(one) => (format!("{one}-0"), format!("0-{one}")),
        [one, part] if digits(one) && part.contains('/') => {
            (format!("{one}-0-{part}"), format!("0-{one}-{part}"))
        }
        [feet, inch, part] if [feet, inch, part].iter().all(|w| digits(w)) => (
            format!("{feet}-{inch}-{part}/8"),
            format!("{feet}-{inch}-{part}/16"),
        ),
        _ => return None,
    };
    Some(format!(
        "it can be meant in two ways: book {one} or {other}"
    ))
}

/// A reading in feet and inches on a rod that is divided otherwise, in both notations.
fn in_inches(kind: RodKind, plain: &str, heights: LengthUnit) -> Option<(String, String)> {
    let count = sixteenths(plain).filter(|_| kind != RodKind::InchEighths)?;
    let rod_m = sixteenths_nm(count, foot_of(heights)) as f64 / NM_PER_M;
    let both = echo(RodKind::InchEighths, rod_m);
    let cure = match kind {
        RodKind::Tenths => format!(
            "book it as {}, or if the rod is divided in inches and eighths say \
             `rod = \"inch-eighths\"`",
            as_booked(RodKind::Tenths, heights, rod_m)
        ),
        _ => format!(
            "that is {}; if the rod is divided in inches and eighths say `rod = \"inch-eighths\"`",
            echo(RodKind::Metric, rod_m)
        ),
    };
    Some((
        "a reading in feet and inches on a rod that is divided otherwise".to_owned(),
        format!("{plain} is {both}; {cure}"),
    ))
}

/// Metres of a reading that carries a metric unit.
fn unit_written(plain: &str) -> Option<f64> {
    let nm = metric(plain, 9).filter(|_| plain.ends_with('m'))?;
    Some(nm as f64 / NM_PER_M).filter(|metres| metres.abs() <= MAX_METRIC_ROD_M)
}

/// A decimal reading where inches were called for.
fn decimal_help(feet: f64) -> String {
    let rod_m = LengthUnit::Foot.to_m(feet);
    if rod_m.abs() > MAX_FOOT_ROD_M {
        return "book it as 5-7-3/8".to_owned();
    }
    let count = (feet * SIXTEENTHS_PER_FOOT as f64).round() as i64;
    format!(
        "{}: book what the rod shows, here {} if {feet} ft was read; if the rod is divided in \
         tenths of a foot say `rod = \"tenths\"`",
        echo(RodKind::Tenths, rod_m),
        written(count)
    )
}

/// A number on a rod in tenths that is longer than any.
fn too_long_help(value: f64) -> String {
    let (pointed_m, mm_m) = (LengthUnit::Foot.to_m(value / 100.0), value / 1000.0);
    let pointed = (pointed_m.abs() <= MAX_FOOT_ROD_M)
        .then(|| format!("with a point it is {}", echo(RodKind::Tenths, pointed_m)));
    let metric = (mm_m.abs() <= MAX_METRIC_ROD_M && value.fract() == 0.0).then(|| {
        format!(
            "{value} mm would be {mm_m:.3} m = {}: then say `rod = \"millimetres\"`",
            echo(RodKind::Tenths, mm_m)
        )
    });
    match (pointed, metric) {
        (Some(pointed), Some(metric)) => {
            format!("is a decimal point missing, or is the rod metric? {pointed}; {metric}")
        }
        (Some(pointed), None) => format!("is a decimal point missing? {pointed}"),
        (None, Some(metric)) => format!("is the rod metric? {metric}"),
        (None, None) => {
            "check the reading: is a decimal point missing, or is the rod metric?".to_owned()
        }
    }
}
