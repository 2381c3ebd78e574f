//! A TOML table as written: every key with its line, every key asked for once, the rest refused.
//!
//! Takes the entries of `written` and the unit of the job, gives values in SI with the place
//! they came from, and a diagnostic for each that is not what its key takes. Does not know
//! which keys there are: whoever asks for a key makes it known.

mod values;

use crate::diag::{At, Diagnostic, nearest};
use crate::units::{LengthUnit, MAX_COORDINATE_M, NM_PER_M};

use super::place::{LevelSpec, Place, PlaceList, printable};
use super::written::{self, Entry, Value, Written};

/// Largest plain number accepted. No ratio, weight or price of a yard comes near it, and squares
/// and cubes of it are still finite.
const MAX_NUMBER: f64 = 1.0e12;

/// A table of the job file. Reading takes keys out; [`Table::finish`] refuses what is left.
///
/// Every reader gives `None` both for a key that is not there and for one that is refused; in
/// the second case it has pushed an error, so a missing key is told apart by [`Table::has`]
/// beforehand.
#[derive(Clone, Debug)]
pub struct Table {
    file: String,
    /// Line of its heading or opening brace; 0 for the whole file.
    line: usize,
    /// Keys that lead here, with dots between; empty for the whole file.
    path: String,
    /// How messages call it: `feature "Reservoir"`.
    title: String,
    /// Its `name`, if it has one.
    name: String,
    units: LengthUnit,
    entries: Vec<Entry>,
    /// Keys that were asked for, in the order they were.
    asked: Vec<String>,
}

impl Table {
    /// The whole file as one table, in metres until [`Table::set_units`].
    ///
    /// # Errors
    ///
    /// one diagnostic for a text that is not TOML, with its line
    pub fn parse(file: &str, text: &str) -> Result<Table, Diagnostic> {
        Ok(Table {
            file: file.to_string(),
            line: 0,
            path: String::new(),
            title: "the job".to_string(),
            name: String::new(),
            units: LengthUnit::Metre,
            entries: written::parse(file, text)?,
            asked: Vec::new(),
        })
    }

    /// Place of the table itself: line of its heading, its path, its name.
    pub fn at(&self) -> At {
        At::cell(&self.file, self.line, &self.path, &self.name)
    }

    /// Unit of the lengths in this table.
    pub fn units(&self) -> LengthUnit {
        self.units
    }

    /// Sets the unit of lengths, here and in tables taken out of this one afterwards.
    pub fn set_units(&mut self, units: LengthUnit) {
        self.units = units;
    }

    /// How messages call this table, such as `feature "Reservoir"`.
    pub fn title(&self) -> &str {
        &self.title
    }

    /// Gives the table a name that the file leaves out.
    pub(super) fn set_name(&mut self, name: &str) {
        self.title = format!("{} \"{}\"", last_key(&self.path), printable(name));
        self.name = name.to_string();
    }

    /// True if the key is there and not yet taken. Does not make the key known to
    /// [`Table::finish`]; see [`Table::expect`].
    pub fn has(&self, key: &str) -> bool {
        self.entries.iter().any(|entry| entry.key == key)
    }

    /// True if the key holds a list of groups in braces, for keys that take these or plain values.
    pub fn holds_groups(&self, key: &str) -> bool {
        let is_group = |item: &Written| matches!(item.value, Value::Table(_));
        self.entries.iter().any(|entry| match &entry.value.value {
            Value::List(items) => entry.key == key && items.first().is_some_and(is_group),
            _ => false,
        })
    }

    /// Makes keys known to [`Table::finish`] that may not all be asked for.
    pub fn expect(&mut self, keys: &[&str]) {
        for key in keys {
            if !self.asked.iter().any(|asked| asked == key) {
                self.asked.push((*key).to_string());
            }
        }
    }

    /// Takes a key out unread, and says where it stood.
    pub fn discard(&mut self, key: &str) -> Option<At> {
        let entry = self.take(key)?;
        Some(At {
            line: entry.line,
            ..self.at_value(key, &entry.value)
        })
    }

    /// Text in quotes.
    pub fn text(&mut self, key: &str, diags: &mut Vec<Diagnostic>) -> Option<(String, At)> {
        let entry = self.take(key)?;
        let at = self.at_value(key, &entry.value);
        match entry.value.value {
            Value::Text(text) => Some((text, at)),
            other => {
                let help = match other {
                    Value::Number { .. } => format!("write {key} = \"{}\"", printable(&at.text)),
                    _ => format!("write for example {key} = \"...\""),
                };
                diags.push(wrong_kind(key, "text in quotes", &other, at).help(help));
                None
            }
        }
    }

    /// Text in quotes, or a bare number as its digits, for a key that takes either.
    pub fn words(&mut self, key: &str, diags: &mut Vec<Diagnostic>) -> Option<(String, At)> {
        let entry = self.take(key)?;
        let at = self.at_value(key, &entry.value);
        match entry.value.value {
            Value::Text(text) | Value::Number { decimal: text, .. } => Some((text, at)),
            other => {
                let help = format!("write for example {key} = \"...\"");
                diags.push(wrong_kind(key, "text or a number", &other, at).help(help));
                None
            }
        }
    }

    /// A list of texts in quotes.
    pub fn texts(&mut self, key: &str, diags: &mut Vec<Diagnostic>) -> Option<(Vec<String>, At)> {
        let entry = self.take(key)?;
        let at = self.at_value(key, &entry.value);
        let help = format!("write for example {key} = [\"name\", \"x\", \"y\"]");
        let Value::List(items) = entry.value.value else {
            diags.push(wrong_kind(key, "a list of texts", &entry.value.value, at).help(help));
            return None;
        };
        let mut texts = Vec::new();
        for item in items {
            let at = self.at_value(key, &item);
            match item.value {
                Value::Text(text) => texts.push(text),
                other => {
                    diags.push(wrong_kind(key, "a list of texts", &other, at).help(help));
                    return None;
                }
            }
        }
        Some((texts, at))
    }

    /// True if the key holds text in quotes, for a key that takes something else as well.
    pub fn is_text(&self, key: &str) -> bool {
        let entry = self.entries.iter().find(|entry| entry.key == key);
        entry.is_some_and(|entry| matches!(entry.value.value, Value::Text(_)))
    }

    /// A list of numbers without a unit.
    pub fn numbers(&mut self, key: &str, diags: &mut Vec<Diagnostic>) -> Option<(Vec<f64>, At)> {
        let entry = self.take(key)?;
        let at = self.at_value(key, &entry.value);
        let Value::List(items) = &entry.value.value else {
            let help = format!("write for example {key} = [2]");
            diags.push(wrong_kind(key, "a list of numbers", &entry.value.value, at).help(help));
            return None;
        };
        let numbers = items
            .iter()
            .map(|item| self.number_of(key, item, "2", diags));
        Some((numbers.collect::<Option<_>>()?, at))
    }

    /// A number without a unit, whole or not; infinite ones and those beyond `1e12` are refused.
    pub fn number(&mut self, key: &str, diags: &mut Vec<Diagnostic>) -> Option<(f64, At)> {
        let entry = self.take(key)?;
        let at = self.at_value(key, &entry.value);
        let value = self.number_of(key, &entry.value, "1.5", diags)?;
        if value.abs() > MAX_NUMBER {
            diags.push(
                Diagnostic::error("bad-number", format!("`{key}` is too large to be meant"))
                    .at(at)
                    .help("numbers up to 1e12 are taken"),
            );
            return None;
        }
        Some((value, at))
    }

    /// A length in the unit of the job, as metres; those beyond [`MAX_COORDINATE_M`] are refused.
    pub fn length_m(&mut self, key: &str, diags: &mut Vec<Diagnostic>) -> Option<(f64, At)> {
        let entry = self.take(key)?;
        let at = self.at_value(key, &entry.value);
        let value_m = self.one_length_m(key, &entry.value, "3.0", &at, diags)?;
        Some((value_m, at))
    }

    /// One value as a length, metres.
    fn one_length_m(
        &self,
        key: &str,
        value: &Written,
        example: &str,
        at: &At,
        diags: &mut Vec<Diagnostic>,
    ) -> Option<f64> {
        let value_m = self.units.to_m(self.number_of(key, value, example, diags)?);
        if value_m.abs() <= MAX_COORDINATE_M {
            return Some(value_m);
        }
        diags.push(
            Diagnostic::error("bad-number", format!("`{key}` is too large to be meant"))
                .at(at.clone())
                .help(format!("lengths in this job are in {}", self.units.name())),
        );
        None
    }

    /// `true` or `false`.
    pub fn flag(&mut self, key: &str, diags: &mut Vec<Diagnostic>) -> Option<(bool, At)> {
        let entry = self.take(key)?;
        let at = self.at_value(key, &entry.value);
        match entry.value.value {
            Value::Flag(flag) => Some((flag, at)),
            other => {
                let help = format!("write {key} = true or {key} = false, without quotes");
                diags.push(wrong_kind(key, "true or false", &other, at).help(help));
                None
            }
        }
    }

    /// One of a few words, as its index in `names`.
    pub fn choice(
        &mut self,
        key: &str,
        names: &[&str],
        diags: &mut Vec<Diagnostic>,
    ) -> Option<(usize, At)> {
        let entry = self.take(key)?;
        let at = self.at_value(key, &entry.value);
        let words = names
            .iter()
            .map(|name| format!("\"{name}\""))
            .collect::<Vec<_>>()
            .join(", ");
        let Value::Text(word) = &entry.value.value else {
            let error = wrong_kind(key, "a word in quotes", &entry.value.value, at);
            diags.push(error.help(format!("write one of {words}")));
            return None;
        };
        if let Some(index) = names.iter().position(|name| name == word) {
            return Some((index, at));
        }
        let help = match nearest(word, names.iter().copied()) {
            Some(name) => format!("perhaps \"{name}\" is meant; one of {words} is taken"),
            None => format!("write one of {words}"),
        };
        let message = format!("`{key}` does not know this word");
        diags.push(Diagnostic::error("bad-word", message).at(at).help(help));
        None
    }

    /// One place: a shot by name, or coordinates in the unit of the job.
    pub fn place(&mut self, key: &str, diags: &mut Vec<Diagnostic>) -> Option<(Place, At)> {
        let entry = self.take(key)?;
        let at = self.at_value(key, &entry.value);
        Some((self.place_of(key, &entry.value, diags)?, at))
    }

    /// A list of places: `"code:fence"`, `"shots:31-38,40"`, or places one by one.
    pub fn places(&mut self, key: &str, diags: &mut Vec<Diagnostic>) -> Option<PlaceList> {
        let entry = self.take(key)?;
        self.places_of(key, &entry.value, diags)
    }

    /// Several lists of places, each as [`Table::places`] takes it.
    pub fn place_lists(
        &mut self,
        key: &str,
        diags: &mut Vec<Diagnostic>,
    ) -> Option<(Vec<PlaceList>, At)> {
        let entry = self.take(key)?;
        let at = self.at_value(key, &entry.value);
        let help = format!("write for example {key} = [\"code:top\", \"shots:31-38\"]");
        let Value::List(items) = &entry.value.value else {
            let error = wrong_kind(key, "a list of lines or areas", &entry.value.value, at);
            diags.push(error.help(help));
            return None;
        };
        let lists: Vec<_> = items
            .iter()
            .map(|item| self.places_of(key, item, diags))
            .collect();
        Some((lists.into_iter().collect::<Option<_>>()?, at))
    }

    /// A level in one of the four ways of [`LevelWord`](super::LevelWord).
    pub fn level(&mut self, key: &str, diags: &mut Vec<Diagnostic>) -> Option<LevelSpec> {
        let entry = self.take(key)?;
        self.level_of(key, &entry.value, diags)
    }

    /// A list of levels; an item with two of them is above and below a drop.
    pub fn levels(
        &mut self,
        key: &str,
        diags: &mut Vec<Diagnostic>,
    ) -> Option<(Vec<Vec<LevelSpec>>, At)> {
        let entry = self.take(key)?;
        let at = self.at_value(key, &entry.value);
        let help = format!(
            "write for example {key} = [\"level:98.0\", [\"level:97.5\", \"level:96.0\"]], \
             two in brackets above and below a drop"
        );
        let Value::List(items) = &entry.value.value else {
            let error = wrong_kind(key, "a list of levels", &entry.value.value, at);
            diags.push(error.help(help));
            return None;
        };
        if items.is_empty() {
            let message = format!("`{key}` is an empty list");
            diags.push(Diagnostic::error("bad-level", message).at(at).help(help));
            return None;
        }
        let mut all = Vec::new();
        for item in items {
            all.push(match &item.value {
                Value::List(pair) if pair.len() == 2 => {
                    let pair: Vec<_> = pair
                        .iter()
                        .map(|one| self.level_of(key, one, diags))
                        .collect();
                    pair.into_iter().collect::<Option<Vec<_>>>()
                }
                Value::List(pair) => {
                    let message = format!(
                        "two levels make a drop in `{key}`, and {} stand in these brackets",
                        pair.len()
                    );
                    let at = self.at_value(key, item);
                    diags.push(Diagnostic::error("bad-level", message).at(at).help(&*help));
                    None
                }
                _ => self.level_of(key, item, diags).map(|one| vec![one]),
            });
        }
        Some((all.into_iter().collect::<Option<_>>()?, at))
    }

    /// The keys that are there, in the order of the file: for groups whose keys are names.
    pub fn keys(&self) -> Vec<String> {
        self.entries.iter().map(|entry| entry.key.clone()).collect()
    }

    /// One length, or several in brackets, as metres.
    pub fn lengths_m(
        &mut self,
        key: &str,
        example: &str,
        diags: &mut Vec<Diagnostic>,
    ) -> Option<(Vec<f64>, At)> {
        let entry = self.take(key)?;
        let at = self.at_value(key, &entry.value);
        let items = match &entry.value.value {
            Value::List(items) => items.iter().collect(),
            _ => vec![&entry.value],
        };
        let all: Option<Vec<f64>> = items
            .into_iter()
            .map(|item| self.one_length_m(key, item, example, &at, diags))
            .collect();
        Some((all?, at))
    }

    /// A corner: east and north in whole nanometres and, behind them, a level in metres.
    pub fn corner(
        &mut self,
        key: &str,
        diags: &mut Vec<Diagnostic>,
    ) -> Option<((i64, i64), Option<f64>, At)> {
        let entry = self.take(key)?;
        let at = self.at_value(key, &entry.value);
        // East and north may be written in quotes, in feet and inches.
        let length = |value: &Written| match &value.value {
            Value::Text(text) => self.units.parse_length_nm(text),
            _ => self.nm_of(value),
        };
        let corner = match &entry.value.value {
            Value::List(items) => match &items[..] {
                [x, y] => length(x).zip(length(y)).map(|place| (place, None)),
                [x, y, z] => {
                    let level_m = self.nm_of(z).map(|nm| nm as f64 / NM_PER_M);
                    (length(x).zip(length(y)))
                        .zip(level_m)
                        .map(|(place, level_m)| (place, Some(level_m)))
                }
                _ => None,
            },
            _ => None,
        };
        let Some((place, level_m)) = corner else {
            let unit = self.units.name();
            diags.push(
                Diagnostic::error(
                    "bad-corner",
                    "a corner is given by east and north, and its level if tapes lie along the ground",
                )
                .at(at)
                .help(format!("write in {unit}: {} = [28.4, 0.0] or [28.4, 0.0, 100.3]", printable(key))),
            );
            return None;
        };
        Some((place, level_m, at))
    }

    /// The group of keys under a heading of its own or in braces.
    pub fn table(&mut self, key: &str, diags: &mut Vec<Diagnostic>) -> Option<Table> {
        let entry = self.take(key)?;
        let at = self.at_value(key, &entry.value);
        match entry.value.value {
            Value::Table(entries) => Some(self.inner(key, None, entry.value.line, entries)),
            other => {
                let help = if self.path.is_empty() {
                    format!("write it once, under the heading [{key}]")
                } else {
                    format!("write for example {key} = {{ name = \"...\" }}")
                };
                diags.push(wrong_kind(key, "one group of keys", &other, at).help(help));
                None
            }
        }
    }

    /// The tables under a repeated heading, or the groups in braces of a list.
    pub fn tables(&mut self, key: &str, diags: &mut Vec<Diagnostic>) -> Vec<Table> {
        let Some(entry) = self.take(key) else {
            return Vec::new();
        };
        let at = self.at_value(key, &entry.value);
        let help = if self.path.is_empty() {
            format!("write the heading with two brackets on each side: [[{key}]]")
        } else {
            format!("write for example {key} = [ {{ name = \"...\" }} ]")
        };
        let Value::List(items) = entry.value.value else {
            let error = wrong_kind(key, "a list of groups", &entry.value.value, at);
            diags.push(error.help(help));
            return Vec::new();
        };
        let mut tables = Vec::new();
        for (index, item) in items.into_iter().enumerate() {
            let at = self.at_value(key, &item);
            match item.value {
                Value::Table(entries) => {
                    tables.push(self.inner(key, Some(index), item.line, entries));
                }
                other => {
                    diags.push(wrong_kind(key, "a list of groups", &other, at).help(&*help));
                }
            }
        }
        tables
    }

    /// The error for a key that must be there, at the line of the table.
    ///
    /// `example` is a value (`"\"depth:3.0\""`), or the whole line (`"floor = ..."`).
    pub fn missing(&self, key: &str, example: &str) -> Diagnostic {
        let rest = example.strip_prefix(key).unwrap_or_default();
        let line = if rest.trim_start().starts_with('=') {
            example.to_string()
        } else {
            format!("{key} = {example}")
        };
        Diagnostic::error("missing-key", format!("{} needs `{key}`", self.title))
            .at(At::line(&self.file, self.line))
            .help(format!("write for example {line}"))
    }

    /// The error for a table that must hold one of several keys and holds none or more.
    ///
    /// `Some` with the key if exactly one is there. All of them become known.
    pub fn one_of<'k>(
        &mut self,
        keys: &[&'k str],
        example: &str,
        diags: &mut Vec<Diagnostic>,
    ) -> Option<&'k str> {
        self.expect(keys);
        let there: Vec<&str> = keys.iter().copied().filter(|key| self.has(key)).collect();
        let list = |keys: &[&str]| {
            keys.iter()
                .map(|key| format!("`{key}`"))
                .collect::<Vec<_>>()
                .join(", ")
        };
        match there[..] {
            [key] => Some(key),
            [] => {
                let message = format!("{} needs one of {}", self.title, list(keys));
                diags.push(
                    Diagnostic::error("missing-key", message)
                        .at(At::line(&self.file, self.line))
                        .help(format!("write for example {example}")),
                );
                None
            }
            _ => {
                let message = format!("{} has {} at once", self.title, list(&there));
                let mut error = Diagnostic::error("one-of", message).help("keep one of them");
                for key in there {
                    error.at.extend(self.discard(key));
                }
                diags.push(error);
                None
            }
        }
    }

    /// Refuses every key that was not asked for, each at its own line with the nearest known key.
    pub fn finish(self, diags: &mut Vec<Diagnostic>) {
        for entry in &self.entries {
            let shown = printable(&entry.key);
            let heading = matches!(entry.value.value, Value::Table(_) | Value::List(_));
            let message = if self.path.is_empty() && !heading {
                format!("`{shown}` stands before the first heading")
            } else {
                format!("{} has no key `{shown}`", self.title)
            };
            let help = match nearest(&entry.key, self.asked.iter().map(String::as_str)) {
                Some(known) => format!("perhaps `{known}` is meant"),
                None if self.asked.is_empty() => "take it out".to_string(),
                None => {
                    let known: Vec<_> = self.asked.iter().map(|k| format!("`{k}`")).collect();
                    format!("it takes {}", known.join(", "))
                }
            };
            let at = At {
                line: entry.line,
                ..self.at_value(&shown, &entry.value)
            };
            diags.push(Diagnostic::error("unknown-key", message).at(at).help(help));
        }
    }

    /// Takes an entry out and makes its key known.
    fn take(&mut self, key: &str) -> Option<Entry> {
        self.expect(&[key]);
        let index = self.entries.iter().position(|entry| entry.key == key)?;
        Some(self.entries.remove(index))
    }

    /// Place of a value under one of the keys of this table.
    fn at_value(&self, key: &str, value: &Written) -> At {
        let path = if self.path.is_empty() {
            key.to_string()
        } else {
            format!("{}.{key}", self.path)
        };
        At::cell(&self.file, value.line, path, &value.text)
    }

    /// A table inside this one; `index` counts those of a list.
    fn inner(&self, key: &str, index: Option<usize>, line: usize, entries: Vec<Entry>) -> Table {
        let name = entries
            .iter()
            .find_map(|entry| match &entry.value.value {
                Value::Text(name) if entry.key == "name" => Some(name.clone()),
                _ => None,
            })
            .unwrap_or_default();
        let own = match index {
            _ if !name.is_empty() => format!("{key} \"{}\"", printable(&name)),
            Some(index) => format!("{key} {}", index + 1),
            None if self.path.is_empty() => format!("[{key}]"),
            None => format!("`{key}`"),
        };
        let (path, title) = if self.path.is_empty() {
            (key.to_string(), own)
        } else {
            (
                format!("{}.{key}", self.path),
                format!("{own} of {}", self.title),
            )
        };
        Table {
            file: self.file.clone(),
            line,
            path,
            title,
            name,
            units: self.units,
            entries,
            asked: Vec::new(),
        }
    }
}

/// The last of the keys that lead to a table.
fn last_key(path: &str) -> &str {
    path.rsplit('.').next().unwrap_or(path)
}

/// The error for a value of the wrong kind; the caller adds an example.
fn wrong_kind(key: &str, wanted: &str, found: &Value, at: At) -> Diagnostic {
    Diagnostic::error(
        "bad-type",
        format!("`{key}` must be {wanted}, not {}", found.kind()),
    )
    .at(at)
}

#[cfg(test)]
mod tests;
