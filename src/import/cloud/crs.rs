//! What a file says of its units: by GeoTIFF keys, by well-known text, or by the code of its
//! coordinate system alone.
//!
//! # Source
//!
//! Open Geospatial Consortium, GeoTIFF 1.1, OGC 19-008r4 (2019), chapter 7 (keys); units by the
//! code of a system: EPSG Geodetic Parameter Dataset (IOGP), as `epsg_units.txt` says

use super::header::Header;
use super::units::unit_words;
use super::wkt::{self, WktUnits};
use crate::units::LengthUnit;

/// Record with the directory of GeoTIFF keys.
const DIRECTORY: u16 = 34735;
/// Record with the numbers that keys refer to.
const DOUBLES: u16 = 34736;
/// Record with well-known text.
const WKT: u16 = 2112;

/// Keys, by their numbers in the standard.
pub(in crate::import) mod key {
    pub(in crate::import) const MODEL: u16 = 1024;
    pub(in crate::import) const GEODETIC: u16 = 2048;
    pub(in crate::import) const PROJECTED: u16 = 3072;
    pub(in crate::import) const PLAN_UNIT: u16 = 3076;
    pub(in crate::import) const PLAN_UNIT_SIZE: u16 = 3077;
    pub(in crate::import) const VERTICAL: u16 = 4096;
    pub(in crate::import) const HEIGHT_UNIT: u16 = 4099;
}

/// Value of a key that is not one of the dataset's but described by other keys.
const OF_ITS_OWN: u16 = 32767;

/// Share by which a factor written with few digits may be off and still be meant: the two feet
/// are two millionths apart.
const SAME_FACTOR: f64 = 2.0e-7;

/// What a file says of a unit.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::import) enum Said {
    /// A unit that is known here.
    Unit(LengthUnit),
    /// Coordinates on the globe, in degrees.
    Degrees,
    /// Coordinates from the centre of the Earth.
    EarthCentred,
    /// A unit of length that is not known here.
    Other(String),
}

/// Units by all that a file says.
#[derive(Clone, Debug, Default)]
pub(super) struct Stated {
    /// What counts, for plan and heights.
    pub(super) plan: Option<Said>,
    /// The same for heights.
    pub(super) height: Option<Said>,
    /// Where two records of the file contradict each other, in words.
    pub(super) contradictions: Vec<String>,
    /// A coordinate system is named by its code, and the code is not known here.
    pub(super) code: Option<u16>,
}

impl Stated {
    /// Of the records of a file. Where both kinds of record are there, the header says which of
    /// them rules.
    pub(super) fn of(header: &Header) -> Stated {
        let text = header.projection(WKT).map(String::from_utf8_lossy);
        let text = text.and_then(|text| wkt::units(&text));
        let keys = header.projection(DIRECTORY).map(|directory| {
            let doubles = header.projection(DOUBLES).unwrap_or_default();
            Keys::read(directory, doubles)
        });
        let by_text = text.unwrap_or_default();
        let by_keys = keys.as_ref().map(Keys::units).unwrap_or_default();
        let mut contradictions = Vec::new();
        let mut rule = |what: &str, text: Option<Said>, keys: Option<Said>| {
            let (first, second) = if header.wkt_rules {
                (&text, &keys)
            } else {
                (&keys, &text)
            };
            if let (Some(first), Some(second)) = (first, second)
                && first != second
            {
                let names = ["its well-known text", "its GeoTIFF keys"];
                let [used, other] = match header.wkt_rules {
                    true => names,
                    false => [names[1], names[0]],
                };
                contradictions.push(format!(
                    "{other} says that {what} are in {}, {used} that they are in {}; the header says that the latter rules",
                    second.words(),
                    first.words()
                ));
            }
            first.clone().or_else(|| second.clone())
        };
        Stated {
            plan: rule("coordinates", by_text.plan, by_keys.plan),
            height: rule("heights", by_text.height, by_keys.height),
            contradictions,
            code: keys.and_then(|keys| keys.code()),
        }
    }
}

impl Said {
    /// In words.
    pub(super) fn words(&self) -> String {
        match self {
            Said::Unit(unit) => unit_words(*unit).to_owned(),
            Said::Degrees => "degrees".to_owned(),
            Said::EarthCentred => "metres from the centre of the Earth".to_owned(),
            Said::Other(name) => format!("the unit {name}"),
        }
    }
}

/// The unit whose metres a factor gives.
pub(in crate::import) fn length_unit(factor: f64) -> Option<LengthUnit> {
    [
        LengthUnit::Metre,
        LengthUnit::Foot,
        LengthUnit::UsSurveyFoot,
    ]
    .into_iter()
    .find(|unit| (factor / unit.metres() - 1.0).abs() <= SAME_FACTOR)
}

/// The unit of a coordinate system by its code; `kind` is "plan" or "height".
pub(in crate::import) fn by_code(kind: &str, code: u16) -> Option<Said> {
    let table = include_str!("epsg_units.txt");
    let lines = table.lines().filter_map(|line| line.strip_prefix(kind));
    let unit = lines.map(str::trim_start).find_map(|line| {
        let (unit, codes) = line.split_once(' ')?;
        let holds = codes.split(' ').any(|run| {
            let (first, last) = run.split_once('-').unwrap_or((run, run));
            let bound = |text: &str| text.parse::<u16>().ok();
            bound(first).is_some_and(|first| first <= code)
                && bound(last).is_some_and(|last| code <= last)
        });
        holds.then_some(unit)
    })?;
    LengthUnit::from_name(unit).map(Said::Unit)
}

/// GeoTIFF keys.
struct Keys<'a> {
    /// Number, record, count and value of each.
    keys: Vec<[u16; 4]>,
    doubles: &'a [u8],
}

impl Keys<'_> {
    fn read<'a>(directory: &[u8], doubles: &'a [u8]) -> Keys<'a> {
        let words: Vec<u16> = directory
            .chunks_exact(2)
            .map(|b| u16::from_le_bytes([b[0], b[1]]))
            .collect();
        let claimed = words.get(3).map_or(0, |&n| usize::from(n));
        let keys = words
            .get(4..)
            .unwrap_or_default()
            .chunks_exact(4)
            .take(claimed)
            .map(|k| [k[0], k[1], k[2], k[3]])
            .collect();
        Keys { keys, doubles }
    }

    /// The value of a key that is held in the directory itself.
    fn get(&self, id: u16) -> Option<u16> {
        let key = self.keys.iter().find(|k| k[0] == id && k[1] == 0)?;
        Some(key[3])
    }

    /// The value of a key that is held in the record of numbers.
    fn double(&self, id: u16) -> Option<f64> {
        let key = self.keys.iter().find(|k| k[0] == id && k[1] == DOUBLES)?;
        let at = usize::from(key[3]) * 8;
        let bytes = self.doubles.get(at..at + 8)?;
        Some(f64::from_le_bytes(bytes.try_into().ok()?))
    }

    fn units(&self) -> WktUnits {
        let unit = |id| match self.get(id)? {
            9001 => Some(Said::Unit(LengthUnit::Metre)),
            9002 => Some(Said::Unit(LengthUnit::Foot)),
            9003 => Some(Said::Unit(LengthUnit::UsSurveyFoot)),
            0 => None,
            OF_ITS_OWN => {
                let factor = self.double(key::PLAN_UNIT_SIZE)?;
                let words = || Said::Other(format!("of {factor} m"));
                Some(length_unit(factor).map_or_else(words, Said::Unit))
            }
            code => Some(Said::Other(format!("EPSG {code}"))),
        };
        let model = self.get(key::MODEL);
        let projected = self.get(key::PROJECTED).filter(|&code| code > 0);
        let plan = match model {
            Some(2) => Some(Said::Degrees),
            Some(3) => Some(Said::EarthCentred),
            None if projected.is_none() && self.get(key::GEODETIC).is_some() => Some(Said::Degrees),
            _ => unit(key::PLAN_UNIT).or_else(|| by_code("plan", projected?)),
        };
        let vertical = || by_code("height", self.get(key::VERTICAL)?);
        WktUnits {
            plan,
            height: unit(key::HEIGHT_UNIT).or_else(vertical),
        }
    }

    /// The code of a coordinate system whose unit is not known.
    fn code(&self) -> Option<u16> {
        let code = self.get(key::PROJECTED)?;
        let known = code == 0 || code == OF_ITS_OWN || by_code("plan", code).is_some();
        (!known).then_some(code)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::LengthUnit::{Foot, Metre, UsSurveyFoot};

    fn units(keys: &[[u16; 4]], doubles: &[f64]) -> (Option<Said>, Option<Said>) {
        let mut words = vec![1, 1, 0, keys.len() as u16];
        words.extend(keys.iter().flatten());
        let directory: Vec<u8> = words.iter().flat_map(|w| w.to_le_bytes()).collect();
        let doubles: Vec<u8> = doubles.iter().flat_map(|d| d.to_le_bytes()).collect();
        let units = Keys::read(&directory, &doubles).units();
        (units.plan, units.height)
    }

    #[test]
    fn keys_state_units() {
        let unit = |u| Some(Said::Unit(u));
        let both = [[1024, 0, 1, 1], [3076, 0, 1, 9002], [4099, 0, 1, 9003]];
        assert_eq!(units(&both, &[]), (unit(Foot), unit(UsSurveyFoot)));
        // EPSG 2949 is in metres, 2992 in feet, 32104 in metres; vertical 6360 in US survey feet.
        assert_eq!(units(&[[3072, 0, 1, 2949]], &[]), (unit(Metre), None));
        let coded = [[3072, 0, 1, 2992], [4096, 0, 1, 6360]];
        assert_eq!(units(&coded, &[]), (unit(Foot), unit(UsSurveyFoot)));
        let own = [
            [3072, 0, 1, 32767],
            [3076, 0, 1, 32767],
            [3077, 34736, 1, 1],
        ];
        assert_eq!(
            units(&own, &[7.0, 0.3048006096]),
            (unit(UsSurveyFoot), None)
        );
        assert_eq!(units(&own, &[7.0]), (None, None));
        assert_eq!(units(&[[1024, 0, 1, 2]], &[]).0, Some(Said::Degrees));
        assert_eq!(units(&[[2048, 0, 1, 4326]], &[]).0, Some(Said::Degrees));
        let yard = units(&[[3076, 0, 1, 9036]], &[]).0;
        assert_eq!(yard, Some(Said::Other("EPSG 9036".into())));
        // A directory that claims more than it holds.
        assert!(
            Keys::read(&[1, 0, 1, 0, 0, 0, 255, 255, 1], &[])
                .keys
                .is_empty()
        );
    }

    #[test]
    fn the_two_feet_are_told_apart_by_their_factor() {
        assert_eq!(length_unit(0.3048), Some(Foot));
        assert_eq!(length_unit(0.304_800_61), Some(UsSurveyFoot));
        assert_eq!(length_unit(0.304_800_609_601_219), Some(UsSurveyFoot));
        assert_eq!(length_unit(0.3047972), None);
        assert_eq!(length_unit(f64::NAN), None);
    }
}
