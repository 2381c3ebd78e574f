//! What the keys of a GeoTIFF say: units, and which point of a cell its place is.
//!
//! # Source
//!
//! Open Geospatial Consortium, GeoTIFF 1.1, OGC 19-008r4 (2019), chapter 7 and annexes

use crate::diag::{At, Diagnostic};
use crate::import::cloud::crs::{Said, by_code, key, length_unit};
use crate::import::units::Stated;
use crate::job::ImportSpec;
use crate::units::LengthUnit;

use super::lattice::Anchor;

/// Key: which point of a cell its place is.
const RASTER: u16 = 1025;

/// Tag that holds numbers of keys.
const DOUBLES: u16 = 34736;

/// A unit that is described by its size.
const OF_ITS_OWN: u16 = 32767;

/// The keys of a file.
#[derive(Debug, Default)]
pub(super) struct GeoKeys {
    /// Number, tag of the value, count, value or place of it.
    keys: Vec<[u16; 4]>,
    doubles: Vec<f64>,
}

impl GeoKeys {
    /// From the directory of keys and the numbers they refer to.
    pub(super) fn new(directory: &[u16], doubles: Vec<f64>) -> GeoKeys {
        let claimed = directory.get(3).map_or(0, |&n| usize::from(n));
        let keys = directory.get(4..).unwrap_or_default().chunks_exact(4);
        GeoKeys {
            keys: keys
                .take(claimed)
                .map(|k| [k[0], k[1], k[2], k[3]])
                .collect(),
            doubles,
        }
    }

    fn code(&self, id: u16) -> Option<u16> {
        let key = self.keys.iter().find(|k| k[0] == id && k[1] == 0)?;
        (key[3] != 0).then_some(key[3])
    }

    fn double(&self, id: u16) -> Option<f64> {
        let key = self.keys.iter().find(|k| k[0] == id && k[1] == DOUBLES)?;
        self.doubles.get(usize::from(key[3])).copied()
    }

    /// Which point of a cell its place is; its corner if nothing is said.
    pub(super) fn anchor(&self) -> Anchor {
        match self.code(RASTER) {
            Some(2) => Anchor::Centre,
            _ => Anchor::Corner,
        }
    }

    /// The units that are stated.
    ///
    /// # Errors
    ///
    /// degrees, metres from the centre of the Earth, a unit that is not known; unless the user
    /// says one
    pub(super) fn units(
        &self,
        spec: &ImportSpec,
        said: &mut Vec<Diagnostic>,
    ) -> Result<Stated, Diagnostic> {
        let refuse = |message: String| {
            Diagnostic::error("grid-unit", message)
                .at(At::file(&spec.file))
                .help(
                    "a yard is measured in metres or feet: bring the grid to a projected \
                     coordinate system in metres or feet first; if the file is wrong, say its \
                     units with `units` and `z_units` (`--units`, `--z-units`)",
                )
        };
        let model = self.code(key::MODEL);
        let on_the_globe = model == Some(2)
            || model.is_none()
                && self.code(key::PROJECTED).is_none()
                && self.code(key::GEODETIC).is_some();
        let no_length = match model {
            _ if on_the_globe => Some("degrees"),
            Some(3) => Some("metres from the centre of the Earth"),
            _ => None,
        };
        match (no_length, spec.units) {
            (None, _) => {}
            (Some(words), None) => {
                return Err(refuse(format!("coordinates of the grid are in {words}")));
            }
            (Some(words), Some(typed)) => said.push(
                Diagnostic::warn(
                    "unit-overruled",
                    format!(
                        "plan: the file states {words}, and is read in {}, as typed",
                        typed.name()
                    ),
                )
                .at(At::file(&spec.file))
                .help("leave `units` (--units) away if the file is right"),
            ),
        }
        let plan = match self.unit(key::PLAN_UNIT) {
            Err(words) if spec.units.is_none() => {
                return Err(refuse(format!("coordinates of the grid are in {words}")));
            }
            unit => unit.ok().flatten(),
        };
        let height = match self.unit(key::HEIGHT_UNIT) {
            Err(words) if spec.units.is_none() && spec.z_units.is_none() => {
                return Err(refuse(format!("heights of the grid are in {words}")));
            }
            unit => unit.ok().flatten(),
        };
        // Where no unit is named, the code of the system may tell it.
        let coded = |kind, id| match by_code(kind, self.code(id)?)? {
            Said::Unit(unit) => Some(unit),
            _ => None,
        };
        Ok(Stated {
            plan: plan.or_else(|| coded("plan", key::PROJECTED)),
            height: height.or_else(|| coded("height", key::VERTICAL)),
        })
    }

    /// The unit a key names; in words if it is not known here.
    fn unit(&self, id: u16) -> Result<Option<LengthUnit>, String> {
        match self.code(id) {
            None => Ok(None),
            Some(9001) => Ok(Some(LengthUnit::Metre)),
            Some(9002) => Ok(Some(LengthUnit::Foot)),
            Some(9003) => Ok(Some(LengthUnit::UsSurveyFoot)),
            Some(OF_ITS_OWN) => {
                let size_m = self.double(key::PLAN_UNIT_SIZE);
                let unit = size_m.and_then(length_unit);
                match (unit, size_m) {
                    (Some(unit), _) => Ok(Some(unit)),
                    (None, Some(m)) if m.is_finite() => Err(format!("units of {m} m")),
                    _ => Err("a unit whose size is not given".into()),
                }
            }
            Some(code) => Err(format!("a unit that is not known here (EPSG {code})")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::ImportKind;
    use crate::units::LengthUnit::{Foot, Metre, UsSurveyFoot};

    fn stated(keys: &[[u16; 4]], doubles: &[f64]) -> Result<Stated, Diagnostic> {
        let mut directory = vec![1, 1, 0, keys.len() as u16];
        directory.extend(keys.iter().flatten());
        let spec = ImportSpec::new(ImportKind::Elevations, "g.tif", Metre);
        GeoKeys::new(&directory, doubles.to_vec()).units(&spec, &mut Vec::new())
    }

    #[test]
    fn units_by_key_by_size_and_by_code() {
        let both = [[1024, 0, 1, 1], [3076, 0, 1, 9002], [4099, 0, 1, 9003]];
        let found = stated(&both, &[]).unwrap();
        assert_eq!((found.plan, found.height), (Some(Foot), Some(UsSurveyFoot)));
        let sized = [[3076, 0, 1, 32767], [3077, 34736, 1, 0]];
        assert_eq!(stated(&sized, &[0.3048]).unwrap().plan, Some(Foot));
        // EPSG 2231 is in US survey feet, vertical 5703 in metres.
        let coded = [[1024, 0, 1, 1], [3072, 0, 1, 2231], [4096, 0, 1, 5703]];
        let found = stated(&coded, &[]).unwrap();
        assert_eq!(
            (found.plan, found.height),
            (Some(UsSurveyFoot), Some(Metre))
        );
        assert_eq!(stated(&[], &[]).unwrap().plan, None);
        for (keys, words) in [
            (&[[1024, 0, 1, 2]][..], "degrees"),
            (&[[2048, 0, 1, 4326]], "degrees"),
            (&[[1024, 0, 1, 3]], "centre of the Earth"),
            (&[[3076, 0, 1, 9036]], "EPSG 9036"),
            (&[[3076, 0, 1, 32767]], "size is not given"),
            (&[[4099, 0, 1, 9036]], "heights of the grid"),
        ] {
            assert!(stated(keys, &[]).unwrap_err().message.contains(words));
        }
    }
}
