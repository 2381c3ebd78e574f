//! Days of the calendar, for notices that run out.

/// Days from 1970-01-01 to a day written `2026-05-31`; `None` for what is no day.
///
/// # Source
///
/// The Gregorian calendar counted in eras of 400 years that begin in March, so that the leap day
/// is the last of its year.
pub fn days_since_1970(text: &str) -> Option<i64> {
    let mut parts = text.split('-');
    let mut next = |digits: usize| {
        let part = parts.next()?;
        let is_number = part.len() == digits && part.bytes().all(|b| b.is_ascii_digit());
        is_number.then(|| part.parse::<i64>().ok())?
    };
    let (year, month, day) = (next(4)?, next(2)?, next(2)?);
    if parts.next().is_some() || !(1..=12).contains(&month) {
        return None;
    }
    let is_leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let length = match month {
        2 if is_leap => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    };
    if !(1..=length).contains(&day) {
        return None;
    }
    let year = if month <= 2 { year - 1 } else { year };
    let era = year.div_euclid(400);
    let of_era = year.rem_euclid(400);
    let of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
    Some(era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468)
}

#[cfg(test)]
mod tests {
    use super::days_since_1970;

    #[test]
    fn days_are_counted() {
        assert_eq!(days_since_1970("1970-01-01"), Some(0));
        assert_eq!(days_since_1970("2000-03-01"), Some(11_017));
        let between = |a, b| days_since_1970(b).unwrap() - days_since_1970(a).unwrap();
        assert_eq!(between("2024-02-28", "2024-03-01"), 2);
        assert_eq!(between("2026-02-28", "2026-03-01"), 1);
        assert_eq!(between("2025-12-31", "2026-01-01"), 1);
        for bad in [
            "",
            "2026-2-1",
            "2026-02-29",
            "2026-13-01",
            "26-01-01",
            "2026-01-01-",
            "x",
        ] {
            assert_eq!(days_since_1970(bad), None, "{bad}");
        }
    }
}
