//! Bearings as they are called out.
//!
//! Takes the text of a bearing, gives the unit vector along it. Knows no corner.

/// Unit vector, east and north, of a bearing: degrees clockwise from north (`245.5`), degrees,
/// minutes and seconds (`245-30-15`, `245° 30' 15"`, `245 30 15`), or of a quadrant (`N45-30E`,
/// `S 12.5 W`, `N-45-30-E`).
///
/// # Errors
///
/// what is wrong, in a sentence
pub fn read_bearing(text: &str) -> Result<[f64; 2], String> {
    let clean = text.trim().to_uppercase();
    let ends = (clean.chars().next(), clean.chars().next_back());
    if let (Some(from @ ('N' | 'S')), Some(to @ ('E' | 'W'))) = ends
        && clean.len() > 2
    {
        let angle = degrees(clean[1..clean.len() - 1].trim_matches([' ', '-']))?;
        if angle > 90.0 {
            return Err("a bearing of a quadrant lies between 0 and 90 degrees".to_owned());
        }
        let (sin, cos) = exact_sin_cos(angle);
        let east = if to == 'E' { sin } else { -sin };
        let north = if from == 'N' { cos } else { -cos };
        return Ok([east, north]);
    }
    let angle = degrees(&clean)?;
    if angle > 360.0 {
        return Err("a bearing lies between 0 and 360 degrees".to_owned());
    }
    let (sin, cos) = exact_sin_cos(angle);
    Ok([sin, cos])
}

/// Sine and cosine of degrees; whole quarters of a turn without rounding.
fn exact_sin_cos(degrees: f64) -> (f64, f64) {
    let quarters = (degrees / 90.0).round();
    let (sin, cos) = (degrees - quarters * 90.0).to_radians().sin_cos();
    match quarters as i64 % 4 {
        0 => (sin, cos),
        1 => (cos, -sin),
        2 => (-sin, -cos),
        _ => (-cos, sin),
    }
}

/// Degrees as a decimal, or with minutes and seconds behind hyphens, marks or spaces.
fn degrees(text: &str) -> Result<f64, String> {
    let none = || "this is no bearing".to_owned();
    let plain = text
        .trim_end_matches(['"', '\u{2033}', '\'', '\u{2032}', '\u{b0}', 'D'])
        .replace(['\u{b0}', 'D', '\'', '\u{2032}', '"', '\u{2033}'], "-");
    let parts: Vec<&str> = plain
        .split('-')
        .flat_map(|part| match part.trim() {
            "" => vec![""],
            part => part.split_whitespace().collect(),
        })
        .collect();
    if parts.len() > 3 {
        return Err(none());
    }
    let mut angle = 0.0;
    for (index, part) in parts.iter().enumerate() {
        let digits = !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit() || b == b'.');
        let value: f64 = digits
            .then(|| part.parse().ok())
            .flatten()
            .ok_or_else(none)?;
        let last = index + 1 == parts.len();
        if index > 0 && value >= 60.0 {
            return Err("minutes and seconds are less than 60".to_owned());
        }
        if !last && value.fract() != 0.0 {
            return Err("only the last part of a bearing has decimals".to_owned());
        }
        angle += value / 60.0_f64.powi(index as i32);
    }
    Ok(angle)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bearings_in_all_notations() {
        let near = |text: &str, east: f64, north: f64| {
            let [e, n] = read_bearing(text).expect(text);
            assert!(
                (e - east).abs() < 1e-15 && (n - north).abs() < 1e-15,
                "{text}"
            );
        };
        near("0", 0.0, 1.0);
        near("90", 1.0, 0.0);
        near("180", 0.0, -1.0);
        near("360", 0.0, 1.0);
        near("N90E", 1.0, 0.0);
        let (sin, cos) = 12.5_f64.to_radians().sin_cos();
        near("S 12.5 W", -sin, -cos);
        near("192-30", -sin, -cos);
        let (sin, cos) = (65.0 + 30.0 / 60.0 + 15.0 / 3600.0_f64)
            .to_radians()
            .sin_cos();
        near("245-30-15", -sin, -cos);
        near("245\u{b0}30'15\"", -sin, -cos);
        near("s65-30-15w", -sin, -cos);
        near("S-65-30-15-W", -sin, -cos);
        near("S 65 30 15 W", -sin, -cos);
        near("245\u{b0} 30' 15\"", -sin, -cos);
        near("245d30'15\"", -sin, -cos);
        let (sin, cos) = 45.5_f64.to_radians().sin_cos();
        near("N45-30E", sin, cos);
        for bad in [
            "", "N", "NE", "N91E", "361", "-5", "12-60", "12.5-30", "1-2-3-4", "nan", "1e300",
            "E45N", "12,5", "12--30", "12 75",
        ] {
            assert!(read_bearing(bad).is_err(), "{bad}");
        }
    }
}
