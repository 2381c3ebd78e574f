//! How steep the face of a dig may be drawn while people work below it: by the type of soil that
//! a competent person has found, and 1.5 across : 1 up until then.

use crate::job::DigType;
use crate::units::Slope;

use super::{Checked, Context};

/// A slope for temporary faces, and whose it is.
pub(super) struct Temporary {
    /// `None` in rock: a face may stand upright.
    pub(super) slope: Option<Slope>,
    /// Whose limit, and where it is from.
    pub(super) from: String,
    /// The rules it rests on.
    pub(super) ids: &'static [&'static str],
}

/// Hours and depth up to which Type A may stand steeper: 29 CFR 1926 subpart P, appendix B,
/// short-term note.
const SHORT_HOURS: f64 = 24.0;
const SHORT_DEPTH_M: f64 = 12.0 * 0.3048;

/// The type of soil the job tells.
pub(super) fn dig_type(context: &Context) -> Option<DigType> {
    let soil = &context.job.soil;
    let by_strength = soil.strength_pa.map(DigType::of_strength);
    soil.classified.as_ref().map(|(t, _)| *t).or(by_strength)
}

/// The steepest temporary face of a dig of a depth.
///
/// # Source
///
/// 29 CFR 1926 subpart P, appendix B, table B-1: 3/4, 1 and 1.5 across : 1 up for types A, B and
/// C; 1/2 for type A open 24 hours or less and 12 ft deep or less.
pub(super) fn temporary(context: &Context, depth_m: f64) -> Temporary {
    let limits = &context.job.limits;
    let own = |k: &String| k.starts_with("temporary");
    if limits.set_by_user.iter().any(own) {
        return Temporary {
            slope: Some(limits.temporary),
            from: "your limit for temporary faces".to_owned(),
            ids: &["EX-4"],
        };
    }
    let table = "29 CFR 1926 subpart P, appendix B, table B-1";
    let of_type = |run: f64, name: &str| Temporary {
        slope: Some(Slope::from_run_per_rise(run)),
        from: format!("type {name} as classified by you ({table}); a competent person decides"),
        ids: &["EX-4"],
    };
    let hours = context.job.soil.open_hours;
    let is_short = hours.is_some_and(|h| h <= SHORT_HOURS) && depth_m <= SHORT_DEPTH_M;
    match dig_type(context) {
        None => Temporary {
            slope: Some(limits.temporary),
            from: "1.5 across : 1 up until a competent person classifies the soil (29 CFR 1926.652(b)(1)); yours to change in [limits]".to_owned(),
            ids: &["EX-3"],
        },
        Some(DigType::Rock) => Temporary {
            slope: None,
            from: "rock as classified by you; a competent person decides".to_owned(),
            ids: &["EX-4"],
        },
        Some(DigType::A) if is_short => Temporary {
            slope: Some(Slope::from_run_per_rise(0.5)),
            from: "type A open 24 hours or less and 12 ft deep or less (29 CFR 1926 subpart P, appendix B, short-term note); a competent person decides".to_owned(),
            ids: &["EX-4", "EX-5"],
        },
        Some(DigType::A) => of_type(0.75, "A"),
        Some(DigType::B) => of_type(1.0, "B"),
        Some(DigType::C) => of_type(1.5, "C"),
    }
}

/// What is to be said of the type of soil itself.
pub(super) fn say(context: &Context, out: &mut Checked) {
    let soil = &context.job.soil;
    match (dig_type(context), soil.strength_pa, &soil.classified) {
        (None, ..) => {
            out.looked(
                "EX-3",
                "the soil is not classified: temporary faces are held against the slope for that",
            );
            out.missing("EX-4", "write classified = \"A\", \"B\", \"C\" or \"rock\" in [soil] once a competent person has classified it");
            out.missing("EX-5", "the soil is not classified");
        }
        (Some(t), _, given) => {
            let how = match given {
                Some(_) => "as classified",
                None => "by its unconfined strength",
            };
            out.looked("EX-3", format!("the soil is type {t:?} {how}"));
            out.looked(
                "EX-4",
                format!("type {t:?} {how}: temporary faces are held against the slope for that"),
            );
            match (t, soil.open_hours) {
                (DigType::A, None) => out.missing(
                    "EX-5",
                    "write open_hours in [soil]: how long the dig stands open",
                ),
                (DigType::A, Some(hours)) => out.looked("EX-5", format!("open {hours} hours")),
                _ => out.looked(
                    "EX-5",
                    "the soil is no type A: no steeper slope for a short time",
                ),
            }
        }
    }
}
