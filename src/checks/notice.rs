//! The notice to those who mark buried lines: how many working days lie between it and the dig.
//!
//! The day of the notice does not count; digging may begin on the day after the last of the days
//! asked for. Working days are Monday to Friday: holidays are not known here, and it is said.

use crate::job::limits;
use crate::units::{WEEKDAYS, day_from_1970, days_since_1970, weekday};

use super::{Checked, Context, Finding, Measure, Severity};

/// Saturday, by number of the weekday.
const SATURDAY: usize = 5;

fn is_working(day: i64) -> bool {
    weekday(day) < SATURDAY
}

/// The first day to dig, after so many whole working days.
fn earliest(notified: i64, days: i64) -> i64 {
    let mut day = notified;
    let mut left = days;
    while left > 0 {
        day += 1;
        left -= i64::from(is_working(day));
    }
    day + 1
}

/// Whole working days between two days, neither counted.
fn between(notified: i64, dig: i64) -> i64 {
    (notified + 1..dig).filter(|day| is_working(*day)).count() as i64
}

fn words_of(day: i64) -> String {
    format!("{} {}", WEEKDAYS[weekday(day)], day_from_1970(day))
}

/// Farthest dig ahead of a notice that is counted day by day: ten years.
const LONG_DAYS: i64 = 3_660;

pub(super) fn check(context: &Context, digs: bool, out: &mut Checked) {
    let limit = context.job.limits.get(&limits::NOTICE_DAYS);
    let asked = (limit.value.ceil() as i64).clamp(1, LONG_DAYS);
    let dig = context.job.dig_day.as_ref();
    let dig = dig.and_then(|(text, _)| days_since_1970(text));
    for k in 0..out.access.services.len() {
        let service = &out.access.services[k];
        let name = service.name.clone();
        let Some(notified) = service.notified.as_deref().and_then(days_since_1970) else {
            if digs {
                let missing = format!("{name}: the day of the notice is not given (notified)");
                out.missing("EX-13", missing);
            }
            continue;
        };
        let first = earliest(notified, asked);
        out.access.services[k].earliest_dig = Some(day_from_1970(first));
        if !digs {
            continue;
        }
        let Some(dig) = dig else {
            let missing = format!(
                "{name}: told on {}, so digging may begin on {}; no day of digging is given ([job] dig)",
                words_of(notified),
                words_of(first)
            );
            out.missing("EX-13", missing);
            continue;
        };
        let passed = match dig - notified {
            days if days > LONG_DAYS => LONG_DAYS,
            _ => between(notified, dig),
        };
        let counted = format!(
            "{name}: told on {}, digging on {}: {passed} whole working days between them, {asked} are asked for; holidays are not known here",
            words_of(notified),
            words_of(dig)
        );
        out.looked("EX-13", counted.clone());
        if dig < first {
            let measure = |value: i64| {
                Some(Measure {
                    value: value as f64,
                    unit: "working days",
                })
            };
            out.find(Finding {
                ids: &["EX-13"],
                place: name.clone(),
                measured: measure(passed),
                limit: measure(asked),
                limit_from: limit.from.clone(),
                cure: format!(
                    "dig on {} at the earliest, {} days later, and not before the marks are there",
                    words_of(first),
                    first - dig
                ),
                caution: Some(1),
                ..Finding::new("notice", Severity::Stop, counted)
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn working_days_are_counted() {
        let day = |text| days_since_1970(text).unwrap();
        // 2026-06-05 is a Friday: Monday, Tuesday, Wednesday are whole days, Thursday is the first.
        assert_eq!(day_from_1970(earliest(day("2026-06-05"), 3)), "2026-06-11");
        assert_eq!(between(day("2026-06-05"), day("2026-06-11")), 3);
        assert_eq!(between(day("2026-06-05"), day("2026-06-08")), 0);
        // Told on a Saturday counts as told before Monday.
        assert_eq!(day_from_1970(earliest(day("2026-06-06"), 2)), "2026-06-10");
        assert_eq!(between(day("2026-06-11"), day("2026-06-05")), 0);
    }
}
