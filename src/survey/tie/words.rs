//! What a tape that does not agree looks like, in words.
//!
//! Takes lengths in metres and the unit they were read in, gives parts of sentences.

use crate::units::LengthUnit;

/// A length as tapes are read: hundredths of a foot, millimetres.
pub(crate) fn length(unit: LengthUnit, metres: f64) -> String {
    let value = unit.from_m(metres);
    if unit.is_foot() {
        format!("{value:.2} ft")
    } else {
        format!("{value:.3} m")
    }
}

/// A place in words, from whole nanometres.
pub(crate) fn place(unit: LengthUnit, at_m: [f64; 2]) -> String {
    format!("{} E, {} N", length(unit, at_m[0]), length(unit, at_m[1]))
}

/// The angle at which two tapes cross, to a degree.
pub(crate) fn crossing(sin: f64) -> String {
    format!("{:.0} degrees", sin.clamp(0.0, 1.0).asin().to_degrees())
}

/// The slip that a booked tape looks like if another length agrees with the rest.
pub(crate) fn slip(unit: LengthUnit, booked_m: f64, should_m: f64, slack_m: f64) -> Option<String> {
    let off_m = (should_m - booked_m).abs();
    let steps: &[(f64, &str)] = if unit.is_foot() {
        &[(0.3048, "1 ft"), (3.048, "10 ft"), (0.0254, "1 in")]
    } else {
        &[(1.0, "1 m"), (10.0, "10 m"), (0.1, "10 cm")]
    };
    if let Some((_, name)) = steps
        .iter()
        .find(|(step_m, _)| (off_m - step_m).abs() <= slack_m.min(step_m / 4.0))
    {
        return Some(format!("it looks misread by {name}"));
    }
    let booked = format!("{:.2}", unit.from_m(booked_m));
    let digits: Vec<usize> = booked
        .char_indices()
        .filter(|(_, c)| c.is_ascii_digit())
        .map(|(at, _)| at)
        .collect();
    for pair in digits.windows(2) {
        let mut bytes = booked.clone().into_bytes();
        bytes.swap(pair[0], pair[1]);
        let swapped = String::from_utf8(bytes).unwrap_or_default();
        let agrees = swapped
            .parse::<f64>()
            .is_ok_and(|v| (unit.to_m(v) - should_m).abs() <= slack_m);
        if swapped != booked && agrees {
            return Some(format!("it looks like {swapped} with two digits swapped"));
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_are_recognised() {
        let ft = LengthUnit::Foot;
        let said = |booked: f64, should: f64| {
            slip(ft, ft.to_m(booked), ft.to_m(should), ft.to_m(0.05)).unwrap_or_default()
        };
        assert!(said(28.4, 29.42).ends_with("1 ft"));
        assert!(said(28.4, 18.38).ends_with("10 ft"));
        assert!(said(28.4, 28.4 + 1.0 / 12.0).ends_with("1 in"));
        assert!(said(28.4, 24.8).contains("24.80 with two digits"));
        assert_eq!(said(28.4, 31.0), "");
        assert!(
            slip(LengthUnit::Metre, 8.40, 9.41, 0.03).is_some_and(|text| text.ends_with("1 m"))
        );
    }
}
