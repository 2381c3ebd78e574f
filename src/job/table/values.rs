//! What one value means: a number, a place, a list of places, a level.
//!
//! Takes a value as written and the key it stands under, gives its meaning in SI or pushes the
//! one error that says what is wrong with it. Does not take keys out of the table.

use crate::diag::Diagnostic;
use crate::job::place::{LevelSpec, LevelWord, Place, PlaceList, PlaceListWord, parse_number};
use crate::job::written::{Value, Written};

use super::{Table, wrong_kind};

impl Table {
    /// A finite number.
    pub(super) fn number_of(
        &self,
        key: &str,
        value: &Written,
        example: &str,
        diags: &mut Vec<Diagnostic>,
    ) -> Option<f64> {
        let at = self.at_value(key, value);
        let Value::Number { decimal, .. } = &value.value else {
            let help = match &value.value {
                Value::Text(text) if parse_number(text).is_some() => {
                    format!("leave the quotes out: {key} = {}", text.trim())
                }
                Value::Text(text) if parse_number(&text.replace(',', ".")).is_some() => {
                    format!(
                        "use a decimal point: {key} = {}",
                        text.trim().replace(',', ".")
                    )
                }
                _ => format!("write for example {key} = {example}"),
            };
            diags.push(wrong_kind(key, "a number", &value.value, at).help(help));
            return None;
        };
        let number = parse_number(decimal);
        if number.is_none() {
            let message = format!("`{key}` must be a finite number");
            let help = format!("write for example {key} = {example}");
            diags.push(Diagnostic::error("bad-number", message).at(at).help(help));
        }
        number
    }

    /// One place: text or a whole number names a shot, two numbers are coordinates.
    pub(super) fn place_of(
        &self,
        key: &str,
        value: &Written,
        diags: &mut Vec<Diagnostic>,
    ) -> Option<Place> {
        let at = self.at_value(key, value);
        let unit = self.units.name();
        let help = format!(
            "name one shot, as \"31\" or \"code:tree\", or give east and north in {unit}, as [12.0, 40.5]"
        );
        let refuse = |message: String| Diagnostic::error("bad-place", message).at(at.clone());
        let error = match &value.value {
            Value::Text(name) if name.trim().is_empty() => {
                refuse(format!("`{key}` names no shot")).help(help)
            }
            Value::Text(name) if name.starts_with("shots:") => {
                refuse(format!("`{key}` takes one place here, not a list of them")).help(help)
            }
            Value::Text(name) => {
                let name = name.trim();
                return Some(match name.strip_prefix("code:").map(str::trim) {
                    Some(code) if !code.is_empty() => Place::Code(code.to_string()),
                    _ => Place::Shot(name.to_string()),
                });
            }
            Value::Number {
                decimal,
                whole: true,
            } => return Some(Place::Shot(decimal.clone())),
            Value::Number { .. } => {
                refuse(format!("`{key}` takes a place, not a number")).help(format!(
                    "put the name of a shot in quotes, as \"{}\"; {help}",
                    value.text
                ))
            }
            Value::List(pair) => match &pair[..] {
                [x, y] => match (self.nm_of(x), self.nm_of(y)) {
                    (Some(x), Some(y)) => return Some(Place::Coordinates(x, y)),
                    (x, _) => {
                        let bad = if x.is_some() { y } else { &pair[0] };
                        Diagnostic::error(
                            "bad-place",
                            format!("a coordinate of `{key}` is not a number of {unit} that can be meant"),
                        )
                        .at(self.at_value(key, bad))
                        .help(help)
                    }
                },
                _ => refuse(format!(
                    "a place of `{key}` has two coordinates, not {}",
                    pair.len()
                ))
                .help(help),
            },
            other => wrong_kind(key, "a place", other, at.clone()).help(help),
        };
        diags.push(error);
        None
    }

    /// A coordinate in whole nanometres, from the digits as typed.
    pub(super) fn nm_of(&self, value: &Written) -> Option<i64> {
        match &value.value {
            Value::Number { decimal, .. } => self.units.parse_nm(decimal),
            _ => None,
        }
    }

    /// A list of places in one of the ways of [`PlaceListWord`].
    pub(super) fn places_of(
        &self,
        key: &str,
        value: &Written,
        diags: &mut Vec<Diagnostic>,
    ) -> Option<PlaceList> {
        let at = self.at_value(key, value);
        let help = "write \"code:fence\", \"shots:31-38,40\", or places one by one, \
                    as [\"31\", [12.0, 40.5]]";
        let refuse = |message: String| {
            Diagnostic::error("bad-place", message)
                .at(at.clone())
                .help(help)
        };
        let word = match &value.value {
            Value::Text(text) => PlaceListWord::parse(text).map_err(refuse),
            Value::List(items) if items.is_empty() => {
                Err(refuse(format!("`{key}` holds no place")))
            }
            Value::List(items) => {
                let places: Vec<_> = items
                    .iter()
                    .map(|item| self.place_of(key, item, diags))
                    .collect();
                Ok(PlaceListWord::Places(
                    places.into_iter().collect::<Option<_>>()?,
                ))
            }
            other => Err(wrong_kind(key, "a list of places", other, at.clone()).help(help)),
        };
        match word {
            Ok(word) => Some(PlaceList { word, at }),
            Err(error) => {
                diags.push(error);
                None
            }
        }
    }

    /// A level in one of the ways of [`LevelWord`].
    pub(super) fn level_of(
        &self,
        key: &str,
        value: &Written,
        diags: &mut Vec<Diagnostic>,
    ) -> Option<LevelSpec> {
        let at = self.at_value(key, value);
        let unit = self.units.name();
        let help = |number: &str| {
            format!(
                "say how it is meant, in {unit}: \"level:{number}\", \"below-benchmark:{number}\", \
                 \"depth:{number}\" (below the ground) or \"height:{number}\" (above the ground)"
            )
        };
        let error = match &value.value {
            Value::Text(text) => match LevelWord::parse(text, self.units) {
                Ok(word) => return Some(LevelSpec { word, at }),
                Err(message) => {
                    let bare = parse_number(text).map(|_| text.trim());
                    Diagnostic::error("bad-level", message)
                        .at(at)
                        .help(help(bare.unwrap_or("3.0")))
                }
            },
            Value::Number { decimal, .. } if parse_number(decimal).is_some() => {
                let message = format!("`{key}` does not say how the level is meant");
                Diagnostic::error("bad-level", message)
                    .at(at)
                    .help(help(&value.text))
            }
            other => wrong_kind(key, "a level", other, at).help(help("3.0")),
        };
        diags.push(error);
        None
    }
}
