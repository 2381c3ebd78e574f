//! `[control]` of a job: corners, baseline, and how tapes were held.
//!
//! Takes its table, gives plain data in SI. Knows no survey: whether the corners are enough is
//! found out by the room `survey`.

use crate::diag::{At, Diagnostic};
use crate::job::{ControlSpec, CornerSpec, DistanceSpec, Side, Table, Tapes};
use crate::units::{LengthUnit, NM_PER_M};

use super::positive_m;

/// Longest distance between two corners, metres: no yard's tape reaches 10 km.
const MAX_TAPE_M: f64 = 1.0e4;

pub(super) fn read_control(root: &mut Table, diags: &mut Vec<Diagnostic>) -> ControlSpec {
    let Some(mut table) = root.table("control", diags) else {
        return ControlSpec::default();
    };
    let mut control = ControlSpec::default();
    if let Some(mut corners) = table.table("corners", diags) {
        for name in corners.keys() {
            if let Some((place_nm, level_m, at)) = corners.corner(&name, diags) {
                control.corners.push(CornerSpec {
                    name: name.trim().to_owned(),
                    place_nm,
                    level_m,
                    at,
                });
            }
        }
    }
    if let Some((texts, at)) = table.texts("distances", diags) {
        for text in texts {
            match read_distance(&text, table.units()) {
                Ok((from, to, length_m)) => control.distances.push(DistanceSpec {
                    from,
                    to,
                    length_m,
                    at: At { text, ..at.clone() },
                }),
                Err((message, help)) => diags.push(
                    Diagnostic::error("bad-distance", message)
                        .at(At { text, ..at.clone() })
                        .help(help),
                ),
            }
        }
    }
    if let Some(mut sides) = table.table("side", diags) {
        for name in sides.keys() {
            if let Some((index, at)) = sides.choice(&name, &Side::NAMES, diags) {
                let side = [Side::Left, Side::Right][index];
                control.sides.push((name.trim().to_owned(), side, at));
            }
        }
    }
    if let Some((ends, at)) = table.texts("baseline", diags) {
        match &ends[..] {
            [from, to] if from.trim() != to.trim() => {
                control.baseline = Some((from.trim().to_owned(), to.trim().to_owned(), at));
            }
            _ => diags.push(
                Diagnostic::error("bad-baseline", "a baseline runs from one corner to another")
                    .at(at)
                    .help("write for example baseline = [\"A\", \"B\"]: station 0 is at A"),
            ),
        }
    }
    control.bearing = table.text("bearing", diags);
    control.tapes = match table.choice("tapes", &["level", "ground"], diags) {
        Some((1, _)) => Tapes::Ground,
        _ => Tapes::Level,
    };
    control.tape_error_m = positive_m("tape_error", &mut table, diags);
    control.spacing_m = read_spacing(&mut table, diags);
    table.finish(diags);
    control
}

/// `spacing = 10`, or `[10, 8]` between columns and between rows.
pub(super) fn read_spacing(table: &mut Table, diags: &mut Vec<Diagnostic>) -> Option<(f64, f64)> {
    let (lengths, at) = table.lengths_m("spacing", "10", diags)?;
    let spacing = match lengths[..] {
        [one] => Some((one, one)),
        [columns, rows] => Some((columns, rows)),
        _ => None,
    };
    let spacing = spacing.filter(|&(columns, rows)| columns > 0.0 && rows > 0.0);
    if spacing.is_none() {
        let message = "the spacing of a grid is one or two lengths of more than 0";
        diags.push(Diagnostic::error("bad-range", message).at(at).help(
            "write for example spacing = 10, or spacing = [10, 8] between columns and between rows",
        ));
    }
    spacing
}

/// Reads `A-B 28.40`: two corners and the distance between them, which comes back in metres.
/// Names that hold a hyphen or a space are parted by ` - ` and a colon: `gate post - shed: 12.3`.
/// The distance may be in feet and inches: `A-B 28' 4"`.
///
/// # Errors
///
/// what is wrong, and what to write
pub fn read_distance(
    text: &str,
    units: LengthUnit,
) -> Result<(String, String, f64), (String, String)> {
    let help = || "write for example \"A-B 28.40\", or \"gate post - shed: 28.40\"".to_owned();
    let refuse = |message: &str| (message.to_owned(), help());
    let text = text.trim();
    let (corners, number) = match text.rsplit_once(':') {
        Some(parts) => parts,
        None => part_at_space(text, units).map_err(refuse)?,
    };
    let (from, to) = corners
        .split_once(" - ")
        .or_else(|| corners.split_once('-'))
        .ok_or_else(|| refuse("this does not name two corners"))?;
    let (from, to) = (from.trim(), to.trim());
    if from.is_empty() || to.is_empty() || from == to {
        return Err(refuse("this does not name two corners"));
    }
    let length_m = units
        .parse_length_nm(number)
        .map(|nm| nm as f64 / NM_PER_M)
        .ok_or_else(|| match units.length_meant(number.trim()) {
            Some(help) => {
                let message = format!("the distance is no clear length in {}", units.name());
                (message, help)
            }
            None => refuse("the distance is not a number"),
        })?;
    if !(length_m > 0.0 && length_m <= MAX_TAPE_M) {
        return Err(refuse(
            "a distance between corners is more than 0 and less than 10 km",
        ));
    }
    Ok((from.to_owned(), to.to_owned(), length_m))
}

/// Parts corners and distance where no colon does: at the first space behind which all the rest
/// is a length, since a length in feet and inches may hold spaces.
///
/// # Errors
///
/// no space, or two readings: `A - post 2 8` may end in 8 or in 2 ft 8 in
fn part_at_space(text: &str, units: LengthUnit) -> Result<(&str, &str), &'static str> {
    let last = text
        .rsplit_once(char::is_whitespace)
        .ok_or("this is no distance between corners")?;
    let mut spaces = text.match_indices(char::is_whitespace);
    let longest = spaces.find_map(|(at, _)| {
        let (corners, rest) = (&text[..at], text[at..].trim());
        (units.parse_length_nm(rest).is_some() && corners.contains('-')).then_some((corners, rest))
    });
    match longest {
        Some((_, rest))
            if rest != last.1
                && !rest.contains(['\'', '\u{2019}', '\u{2032}'])
                && !rest.contains("ft")
                && units.parse_length_nm(last.1).is_some() =>
        {
            Err("the distance can be meant in two ways: part it from the corners by a colon")
        }
        Some(parts) => Ok(parts),
        None => Ok(last),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_distance_may_be_in_feet_and_inches() {
        let feet = |text| {
            read_distance(text, LengthUnit::Foot)
                .map(|(from, to, m)| (from, to, (m / 0.0254 * 1e6).round() / 1e6))
                .map_err(|(message, help)| format!("{message}; {help}"))
        };
        let told = |from: &str, to: &str, inches| Ok((from.to_owned(), to.to_owned(), inches));
        for text in [
            "A-B 28' 4\"",
            "A-B 28-4",
            "A-B: 28 ft 4 in",
            "A - B 28' 4\"",
            "A-B 340\"",
        ] {
            assert_eq!(feet(text), told("A", "B", 340.0), "{text}");
        }
        assert_eq!(feet("A-B 28.5"), told("A", "B", 342.0));
        assert_eq!(
            feet("gate post - shed 12.5"),
            told("gate post", "shed", 150.0)
        );
        assert_eq!(feet("A - post 2: 8-0"), told("A", "post 2", 96.0));
        assert!(
            feet("A-B: 28 4")
                .unwrap_err()
                .contains("28.4 for decimal feet")
        );
        // 2 ft 8-1/2 in from B, or half an inch from a corner called `B 2-8`: no guess.
        assert!(feet("A-B 2-8 1/2\"").unwrap_err().contains("by a colon"));
    }
}
