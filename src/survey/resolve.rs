//! Places of a job looked up among the shots.
//!
//! Takes places by shot, by code or by coordinates, gives plan positions and the heights of
//! shots. Knows no surface: the height of a place that is no shot is not known here.

use crate::diag::{At, Diagnostic, nearest};
use crate::geom::Point;
use crate::job::{Place, PlaceList, PlaceListWord};
use crate::units::{MAX_COORDINATE_M, NM_PER_M};

use super::Survey;
use super::code::codes_of;

/// Most shots one list of places may name, ranges written out.
pub const MAX_RANGE_SHOTS: usize = 10_000;

/// Names or codes that an error lists before it says how many more there are.
const MAX_NAMED: usize = 12;

/// A place of a job in the local frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlacedShot {
    /// Plan position relative to the survey's origin.
    pub p: Point,
    /// Height of the shot, metres; `None` for a place given by coordinates.
    pub z_m: Option<f64>,
    /// Index of the shot in [`Survey::shots`]; `None` for a place given by coordinates.
    pub shot: Option<usize>,
}

impl Survey {
    /// Looks up a list of places.
    ///
    /// A code stands for all shots that carry it (upper or lower case; one of several in their
    /// cell), in booked order. A
    /// range of shots (`31-38`, `S1-S9`, also descending) is written out; a shot whose own name
    /// looks like a range is taken by name.
    ///
    /// # Errors
    ///
    /// a code or shot the survey does not have, with the nearest it has; a list of
    /// more than [`MAX_RANGE_SHOTS`] or of nothing
    pub fn resolve(&self, places: &PlaceList) -> Result<Vec<PlacedShot>, Diagnostic> {
        let at = &places.at;
        let mut found = Vec::new();
        match &places.word {
            PlaceListWord::Code(code) => {
                found = self.shots_of(code);
                if found.is_empty() {
                    return Err(self.no_code(code, at));
                }
            }
            PlaceListWord::Shots(items) => {
                for item in items {
                    self.range(item.trim(), at, &mut found)?;
                }
            }
            PlaceListWord::Places(list) => {
                for place in list {
                    found.push(self.look_up(place, at)?);
                }
            }
        }
        if found.is_empty() {
            return Err(Diagnostic::error("no-places", "the list names no place")
                .at(at.clone())
                .help("name shots, a code or coordinates"));
        }
        Ok(found)
    }

    /// Looks up one place: its plan position, and its height if it is a shot.
    ///
    /// # Errors
    ///
    /// a shot the survey does not have; coordinates beyond the range of the lattice
    pub fn resolve_place(
        &self,
        place: &Place,
        at: &At,
    ) -> Result<(Point, Option<f64>), Diagnostic> {
        self.look_up(place, at).map(|found| (found.p, found.z_m))
    }

    fn look_up(&self, place: &Place, at: &At) -> Result<PlacedShot, Diagnostic> {
        match place {
            Place::Shot(name) => match self.by_name.get(name.trim()) {
                Some(&index) => Ok(self.placed(index)),
                None => Err(self.no_shot(&[name.trim()], at)),
            },
            Place::Code(code) => {
                let list = PlaceList {
                    word: PlaceListWord::Code(code.clone()),
                    at: at.clone(),
                };
                match self.resolve(&list)?.as_slice() {
                    [one] => Ok(*one),
                    several => Err(Diagnostic::error(
                        "several-shots",
                        format!(
                            "one place is asked for, but {} shots have the code \"{code}\"",
                            several.len()
                        ),
                    )
                    .at(at.clone())
                    .help("name the shot, or give coordinates")),
                }
            }
            &Place::Coordinates(x_nm, y_nm) => {
                let limit = (MAX_COORDINATE_M * NM_PER_M) as u64;
                let near = x_nm.unsigned_abs() <= limit && y_nm.unsigned_abs() <= limit;
                match self.origin.local(x_nm, y_nm).filter(|_| near) {
                    Some(p) => Ok(PlacedShot {
                        p,
                        z_m: None,
                        shot: None,
                    }),
                    None => Err(Diagnostic::error(
                        "far-place",
                        "the coordinates are far beyond any place on Earth",
                    )
                    .at(at.clone())
                    .help("check the coordinates and their unit")),
                }
            }
        }
    }

    pub(super) fn placed(&self, index: usize) -> PlacedShot {
        let shot = &self.shots[index];
        PlacedShot {
            p: shot.p,
            z_m: Some(shot.z_m),
            shot: Some(index),
        }
    }

    /// One item of a list of shots: a name, or a range of numbered names.
    fn range(&self, item: &str, at: &At, found: &mut Vec<PlacedShot>) -> Result<(), Diagnostic> {
        let too_many = || {
            let message = format!("the list names more than {MAX_RANGE_SHOTS} shots");
            Diagnostic::error("too-many-shots", message)
                .at(at.clone())
                .help("check the ends of the ranges")
        };
        let range = match self.by_name.get(item) {
            Some(_) => None,
            None => Range::of(item),
        };
        let Some(range) = range else {
            let Some(&index) = self.by_name.get(item) else {
                return Err(self.no_shot(&[item], at));
            };
            if found.len() >= MAX_RANGE_SHOTS {
                return Err(too_many());
            }
            found.push(self.placed(index));
            return Ok(());
        };
        if range.from.abs_diff(range.to)
            >= (MAX_RANGE_SHOTS - found.len().min(MAX_RANGE_SHOTS)) as u64
        {
            return Err(too_many());
        }
        let mut missing: Vec<String> = Vec::new();
        for step in 0..=range.from.abs_diff(range.to) {
            let number = if range.from <= range.to {
                range.from + step
            } else {
                range.from - step
            };
            let name = format!("{}{number:0width$}", range.prefix, width = range.width);
            match self.by_name.get(&name) {
                Some(&index) => found.push(self.placed(index)),
                None => missing.push(name),
            }
        }
        if missing.is_empty() {
            return Ok(());
        }
        let missing: Vec<&str> = missing.iter().map(String::as_str).collect();
        Err(self.no_shot(&missing, at))
    }

    /// The error for shots that are not there.
    fn no_shot(&self, missing: &[&str], at: &At) -> Diagnostic {
        let first = missing.first().copied().unwrap_or("");
        let message = if missing.len() == 1 {
            format!("the survey has no shot named \"{first}\"")
        } else {
            format!("the survey has no shots named {}", some_of(missing))
        };
        if let Some(struck) = self.struck.iter().find(|struck| struck.shot.name == first) {
            return Diagnostic::error("struck-shot", format!("shot \"{first}\" is struck out"))
                .at(at.clone())
                .at(struck.shot.at.clone())
                .help("name another shot, or take its [[strike]] entry out of the job");
        }
        let help = match nearest(first, self.by_name.keys().map(String::as_str)) {
            Some(near) => format!("the nearest name it has is \"{near}\""),
            None => {
                let names: Vec<&str> = self.by_name.keys().map(String::as_str).collect();
                format!("its shots are {}", some_of(&names))
            }
        };
        Diagnostic::error("no-shot", message)
            .at(at.clone())
            .help(help)
    }

    /// The error for a code that no shot carries.
    fn no_code(&self, code: &str, at: &At) -> Diagnostic {
        let mut codes: Vec<&str> = Vec::new();
        for code in self.shots.iter().flat_map(|shot| codes_of(&shot.code)) {
            if !codes.contains(&code) && codes.len() < 1000 {
                codes.push(code);
            }
        }
        let help = if codes.is_empty() {
            "no shot of the survey carries a code; name the shots instead".to_owned()
        } else {
            let all = format!("the codes of the survey are {}", some_of(&codes));
            match nearest(code, codes.iter().copied()) {
                Some(near) => format!("is \"{near}\" meant? {all}"),
                None => all,
            }
        };
        Diagnostic::error("no-code", format!("no shot carries the code \"{code}\""))
            .at(at.clone())
            .help(help)
    }
}

/// The first names of a list, and how many more.
fn some_of(names: &[&str]) -> String {
    let mut text = names
        .iter()
        .take(MAX_NAMED)
        .copied()
        .collect::<Vec<_>>()
        .join(", ");
    if names.len() > MAX_NAMED {
        text.push_str(&format!(" and {} more", names.len() - MAX_NAMED));
    }
    text
}

/// A range of numbered names.
#[derive(Debug, PartialEq, Eq)]
struct Range<'a> {
    prefix: &'a str,
    from: u64,
    to: u64,
    /// Digits to fill up with zeros, where the first name has leading zeros.
    width: usize,
}

impl<'a> Range<'a> {
    /// Reads `31-38`, `S1-S9` or `S1-9`; it may run downwards. Anything else with a hyphen
    /// (`TP-1`) is no range.
    fn of(item: &'a str) -> Option<Range<'a>> {
        item.match_indices('-').find_map(|(dash, _)| {
            let (left, right) = (item[..dash].trim(), item[dash + 1..].trim());
            let digits_at = left.rfind(|c: char| !c.is_ascii_digit()).map_or(0, |i| {
                i + left[i..].chars().next().map_or(1, char::len_utf8)
            });
            let (prefix, first) = left.split_at(digits_at);
            let second = right.strip_prefix(prefix).unwrap_or(right);
            if !second.bytes().all(|b| b.is_ascii_digit()) {
                return None;
            }
            // No number of 64 bits has more digits than this.
            let width = if first.starts_with('0') {
                first.len()
            } else {
                0
            };
            if width > 20 {
                return None;
            }
            Some(Range {
                prefix,
                from: first.parse().ok()?,
                to: second.parse().ok()?,
                width,
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::Origin;
    use crate::survey::{PointClass, Shot};

    fn survey(shots: &[(&str, &str)]) -> Survey {
        let mut survey = Survey {
            origin: Origin { x_m: 10, y_m: -20 },
            ..Survey::default()
        };
        for (i, &(name, code)) in shots.iter().enumerate() {
            survey.by_name.entry(name.to_owned()).or_insert(i);
            survey.shots.push(Shot {
                name: name.to_owned(),
                p: Point::new(i as i64, 0),
                z_m: i as f64,
                code: code.to_owned(),
                class: PointClass::Soil,
                at: At::line("f.csv", i + 2),
            });
        }
        survey
    }

    fn list(word: PlaceListWord) -> PlaceList {
        PlaceList {
            word,
            at: At::line("job.toml", 7),
        }
    }

    fn order(survey: &Survey, items: &[&str]) -> Result<Vec<usize>, Diagnostic> {
        let items = items.iter().map(|&item| item.to_owned()).collect();
        let found = survey.resolve(&list(PlaceListWord::Shots(items)))?;
        Ok(found.iter().filter_map(|place| place.shot).collect())
    }

    #[test]
    fn ranges_are_written_out() {
        let names = ["1", "2", "3", "S-1", "S-2", "S-3", "P09", "P10", "2-1"];
        let survey = survey(&names.map(|name| (name, "")));
        assert_eq!(order(&survey, &["1-3", "2"]).unwrap(), [0, 1, 2, 1]);
        assert_eq!(order(&survey, &["3-1"]).unwrap(), [2, 1, 0]);
        assert_eq!(order(&survey, &["S-1-S-3"]).unwrap(), [3, 4, 5]);
        assert_eq!(order(&survey, &["S-3 - 2"]).unwrap(), [5, 4]);
        assert_eq!(order(&survey, &["P09-P10"]).unwrap(), [6, 7]);
        // The name itself wins over the range it looks like.
        assert_eq!(order(&survey, &["2-1"]).unwrap(), [8]);
        let gap = order(&survey, &["2-6"]).unwrap_err();
        assert_eq!((gap.code, gap.at[0].line), ("no-shot", 7));
        assert!(gap.message.contains("4, 5, 6"), "{}", gap.message);
        for wild in [
            "1-10001",
            "1-18446744073709551615",
            "18446744073709551615-0",
        ] {
            assert_eq!(
                order(&survey, &[wild]).unwrap_err().code,
                "too-many-shots",
                "{wild}"
            );
        }
        for odd in [
            "",
            "-",
            "1-",
            "-3",
            "1-99999999999999999999",
            "\u{e9}1-\u{e9}2",
            "S1",
        ] {
            assert_eq!(order(&survey, &[odd]).unwrap_err().code, "no-shot", "{odd}");
        }
        let zeros = format!("{}1-2", "0".repeat(70_000));
        assert_eq!(order(&survey, &[&zeros]).unwrap_err().code, "no-shot");
        assert_eq!(order(&survey, &[]).unwrap_err().code, "no-places");
    }

    #[test]
    fn ranges_that_make_too_many_together_are_refused() {
        let names: Vec<String> = (1..=9000).map(|n| n.to_string()).collect();
        let survey = survey(&names.iter().map(|n| (n.as_str(), "")).collect::<Vec<_>>());
        assert_eq!(order(&survey, &["1-9000"]).unwrap().len(), 9000);
        assert_eq!(
            order(&survey, &["1-9000", "1-9000"]).unwrap_err().code,
            "too-many-shots"
        );
    }

    #[test]
    fn names_that_look_like_ranges_are_names() {
        // Rows and columns of a grid, beside plain numbers.
        let names = ["1", "2", "3", "1-1", "1-2", "1-3"];
        let survey = survey(&names.map(|name| (name, "")));
        assert_eq!(order(&survey, &["1-1", "1-2", "1-3"]).unwrap(), [3, 4, 5]);
        // A range over such names; one that is nobody's name is a range of numbers.
        assert_eq!(order(&survey, &["1-1-1-3"]).unwrap(), [3, 4, 5]);
        assert_eq!(order(&survey, &["2-3"]).unwrap(), [1, 2]);
    }

    #[test]
    fn codes_come_in_booked_order() {
        let survey = survey(&[("b", "fence"), ("a", "toe"), ("c", "Fence")]);
        let found = survey
            .resolve(&list(PlaceListWord::Code("fence".into())))
            .unwrap();
        assert_eq!(
            found.iter().map(|p| p.z_m).collect::<Vec<_>>(),
            [Some(0.0), Some(2.0)]
        );
        let unknown = survey
            .resolve(&list(PlaceListWord::Code("fense".into())))
            .unwrap_err();
        assert_eq!(unknown.at[0].line, 7);
        assert!(unknown.help.contains("\"fence\" meant") && unknown.help.contains("toe"));
    }

    #[test]
    fn single_places() {
        let survey = survey(&[("b", "fence"), ("apple", "tree"), ("c", "fence")]);
        let at = At::line("job.toml", 3);
        let by_code = |code: &str| survey.resolve_place(&Place::Code(code.into()), &at);
        assert_eq!(by_code("tree").unwrap(), (Point::new(1, 0), Some(1.0)));
        assert_eq!(by_code("fence").unwrap_err().code, "several-shots");
        assert_eq!(by_code("shed").unwrap_err().code, "no-code");
        let coordinates = Place::Coordinates(12_000_000_000, -19_500_000_000);
        assert_eq!(
            survey.resolve_place(&coordinates, &at).unwrap(),
            (Point::new(2_000_000_000, 500_000_000), None)
        );
        assert_eq!(
            survey
                .resolve_place(&Place::Shot("apple".into()), &at)
                .unwrap(),
            (Point::new(1, 0), Some(1.0))
        );
        let wrong = survey
            .resolve_place(&Place::Shot("appel".into()), &at)
            .unwrap_err();
        assert!(wrong.help.contains("\"apple\"") && wrong.at[0].line == 3);
        assert!(
            survey
                .resolve_place(&Place::Coordinates(i64::MIN, i64::MAX), &at)
                .is_err()
        );
        let places = vec![coordinates, Place::Shot("b".into())];
        let found = survey
            .resolve(&list(PlaceListWord::Places(places)))
            .unwrap();
        assert_eq!((found[0].shot, found[1].shot), (None, Some(0)));
    }
}
