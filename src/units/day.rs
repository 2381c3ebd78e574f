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

/// The day so many days after 1970-01-01, written `2026-05-31`.
pub fn day_from_1970(days: i64) -> String {
    let days = days + 719_468;
    let era = days.div_euclid(146_097);
    let of_era = days.rem_euclid(146_097);
    let year = (of_era - of_era / 1_460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year + year / 4 - year / 100);
    let month = (5 * of_year + 2) / 153;
    let day = of_year - (153 * month + 2) / 5 + 1;
    let month = if month < 10 { month + 3 } else { month - 9 };
    let year = year + era * 400 + i64::from(month <= 2);
    format!("{year:04}-{month:02}-{day:02}")
}

/// Day of the week of a day counted from 1970-01-01: 0 for Monday to 6 for Sunday.
pub fn weekday(days: i64) -> usize {
    // 1970-01-01 was a Thursday.
    (days + 3).rem_euclid(7) as usize
}

/// Names of the days of the week, in the order of [`weekday`].
pub const WEEKDAYS: [&str; 7] = [
    "Monday",
    "Tuesday",
    "Wednesday",
    "Thursday",
    "Friday",
    "Saturday",
    "Sunday",
];

#[cfg(test)]
mod tests {
    use super::{WEEKDAYS, day_from_1970, days_since_1970, weekday};

    #[test]
    fn days_come_back() {
        for days in (-800_000..800_000).step_by(97) {
            let text = day_from_1970(days);
            if text.len() == 10 && !text.starts_with('-') {
                assert_eq!(days_since_1970(&text), Some(days), "{text}");
            }
        }
        // 2000-01-01 was a Saturday (public calendars).
        let day = days_since_1970("2000-01-01").unwrap();
        assert_eq!(WEEKDAYS[weekday(day)], "Saturday");
    }

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
