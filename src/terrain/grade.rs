//! How well ground is known, in words from measured to guessed.

/// How well a place is known, by its half range.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Grade {
    /// As good as a soil shot: within 0.15 ft, which reads 0.1 ft.
    Measured,
    /// Within 0.25 ft.
    Close,
    /// Within 0.5 ft.
    Fair,
    /// Beyond.
    Guessed,
}

impl Grade {
    /// From measured to guessed.
    pub const ALL: [Grade; 4] = [Grade::Measured, Grade::Close, Grade::Fair, Grade::Guessed];

    /// The largest half range of the grade, metres; infinite for guessed ground.
    pub fn limit_m(self) -> f64 {
        const FOOT: f64 = 0.3048;
        match self {
            Grade::Measured => 0.15 * FOOT,
            Grade::Close => 0.25 * FOOT,
            Grade::Fair => 0.5 * FOOT,
            Grade::Guessed => f64::INFINITY,
        }
    }

    /// The grade of a half range.
    pub fn of(half_range_m: f64) -> Grade {
        Grade::ALL
            .into_iter()
            .find(|grade| half_range_m <= grade.limit_m())
            .unwrap_or(Grade::Guessed)
    }

    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Grade::Measured => "measured",
            Grade::Close => "close",
            Grade::Fair => "fair",
            Grade::Guessed => "guessed",
        }
    }
}

/// Ground of one grade.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct GradeArea {
    /// The grade.
    pub grade: Grade,
    /// Plan area, square metres.
    pub area_m2: f64,
}
