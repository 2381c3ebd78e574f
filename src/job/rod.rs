//! How a rod is divided and held, in the words of a job.
//!
//! Takes a few words, gives a [`Rod`]. Reads no reading: that is `survey`.

/// How a rod is divided.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum RodKind {
    /// Feet and decimals of a foot.
    #[default]
    Tenths,
    /// Feet, inches and eighths.
    InchEighths,
    /// Metres; a reading may also be booked with `mm` or `cm`.
    Metric,
    /// Metres, booked in millimetres without a point.
    Millimetres,
    /// The rod shows the elevation itself.
    Direct,
}

impl RodKind {
    /// Words a job may use, in the order of the variants.
    pub const NAMES: [&'static str; 5] =
        ["tenths", "inch-eighths", "metric", "millimetres", "direct"];

    /// Every kind, in the order of [`RodKind::NAMES`].
    const ALL: [RodKind; 5] = [
        RodKind::Tenths,
        RodKind::InchEighths,
        RodKind::Metric,
        RodKind::Millimetres,
        RodKind::Direct,
    ];

    /// The word for it.
    pub fn name(self) -> &'static str {
        match self {
            RodKind::Tenths => "tenths",
            RodKind::InchEighths => "inch-eighths",
            RodKind::Metric => "metric",
            RodKind::Millimetres => "millimetres",
            RodKind::Direct => "direct",
        }
    }

    /// True for the two rods divided in feet.
    pub fn is_foot(self) -> bool {
        matches!(self, RodKind::Tenths | RodKind::InchEighths)
    }
}

/// A rod as it was used in one set-up.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Rod {
    /// How it is divided.
    pub kind: RodKind,
    /// Held with its foot up, under something overhead: every reading counts upward.
    pub upside_down: bool,
}

impl From<RodKind> for Rod {
    fn from(kind: RodKind) -> Rod {
        Rod {
            kind,
            upside_down: false,
        }
    }
}

impl Rod {
    /// What a job or a book may write, for help texts.
    pub const WORDS: &'static str = "tenths, inch-eighths, metric, millimetres or direct, and `tenths upside-down` for a rod \
         that stood on its head";

    /// Reads `tenths` or `tenths upside-down`; `None` if it is neither, or a direct rod upside
    /// down, which could be meant in two ways.
    pub fn from_words(text: &str) -> Option<Rod> {
        let text = text.trim().to_lowercase();
        let (word, upside_down) = match text.split_once([' ', ',']) {
            Some((word, rest)) => {
                let rest = rest.trim().replace(' ', "-");
                (rest == "upside-down").then_some((word, true))?
            }
            None => (text.as_str(), false),
        };
        let kind = match word {
            "mm" | "millimeters" => RodKind::Millimetres,
            _ => RodKind::ALL.into_iter().find(|kind| kind.name() == word)?,
        };
        let sound = !(upside_down && kind == RodKind::Direct);
        sound.then_some(Rod { kind, upside_down })
    }

    /// The words that [`Rod::from_words`] reads.
    pub fn words(self) -> String {
        let turned = if self.upside_down { " upside-down" } else { "" };
        format!("{}{turned}", self.kind.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_come_back() {
        for kind in RodKind::ALL {
            for upside_down in [false, true] {
                let rod = Rod { kind, upside_down };
                let read = Rod::from_words(&rod.words());
                let sound = !(upside_down && kind == RodKind::Direct);
                assert_eq!(read, sound.then_some(rod), "{}", rod.words());
            }
        }
        assert_eq!(RodKind::ALL.map(RodKind::name), RodKind::NAMES);
        assert_eq!(Rod::from_words("mm"), Some(RodKind::Millimetres.into()));
        assert_eq!(Rod::from_words("feet"), None);
        assert_eq!(Rod::from_words("tenths down"), None);
        assert_eq!(Rod::from_words(""), None);
    }
}
