//! Lines and areas on their way out, and those a surface has by itself.
//!
//! Takes surfaces, contours and profiles, gives what is drawn of them as plain data.

use serde_json::{Map, Value, json};

use crate::geom::{P3, Point};
use crate::surface::{Contour, Profile, areas, borders};

use super::Leaving;

/// One thing to be drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawn {
    /// What it is: `outline`, `daylight`, `contour`, `section`.
    pub kind: &'static str,
    /// Its own name.
    pub name: String,
    /// What else is known, with the unit in the key.
    pub more: Map<String, Value>,
    /// Where it is.
    pub form: Form,
}

/// Lines or areas.
#[derive(Clone, Debug, PartialEq)]
pub enum Form {
    /// Lines of two places or more; a closed one has its first place again at its end.
    Lines(Vec<Vec<Place>>),
    /// Areas, each as its rings: the outer one counter-clockwise and first, then clockwise those
    /// round its holes. First and last place of a ring are the same.
    Areas(Vec<Vec<Vec<Place>>>),
}

/// A place, with its height if there is one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Plan position.
    pub p: Point,
    /// Height, metres.
    pub z_m: Option<f64>,
}

impl From<P3> for Place {
    fn from(point: P3) -> Place {
        Place {
            p: point.p,
            z_m: Some(point.z),
        }
    }
}

impl From<Point> for Place {
    fn from(p: Point) -> Place {
        Place { p, z_m: None }
    }
}

impl Drawn {
    /// A thing of which no more is known.
    pub fn new(kind: &'static str, name: impl Into<String>, form: Form) -> Drawn {
        Drawn {
            kind,
            name: name.into(),
            more: Map::new(),
            form,
        }
    }

    /// The same, and one thing more that is known.
    #[must_use]
    pub fn with(mut self, key: &str, value: impl Into<Value>) -> Drawn {
        self.more.insert(key.to_owned(), value.into());
        self
    }
}

/// What a surface has by itself: its outline, every part of a feature, where features meet the
/// ground, and breaklines.
pub fn of_surface(leaving: &Leaving) -> Vec<Drawn> {
    let surface = leaving.surface;
    let places = |line: &Vec<u32>| -> Vec<Place> {
        let vertex = |&v: &u32| Place::from(surface.vertices()[v as usize]);
        line.iter().map(vertex).collect()
    };
    let area = |take: &dyn Fn(u32) -> bool| {
        let of = |rings: Vec<Vec<u32>>| rings.iter().map(places).collect();
        Form::Areas(areas(surface, take).into_iter().map(of).collect())
    };
    let surface_is = |drawn: Drawn| drawn.with("surface", &*leaving.name);
    let mut drawn = vec![surface_is(Drawn::new(
        "outline",
        &leaving.name,
        area(&|_| true),
    ))];
    let mut labels: Vec<u32> = surface.facets().map(|f| surface.label(f)).collect();
    labels.sort_unstable();
    labels.dedup();
    let mut features: Vec<String> = Vec::new();
    for &label in &labels {
        let named = leaving.named(label);
        let Some(feature) = &named.feature else {
            continue;
        };
        if !features.contains(feature) {
            features.push(feature.clone());
        }
        let part = Drawn::new("part", named.whole(), area(&|f| surface.label(f) == label));
        let part = part.with("feature", &**feature).with("part", &*named.part);
        drawn.push(surface_is(part));
    }
    let feature_of: Vec<Option<String>> = (0..labels.last().map_or(0, |l| l + 1))
        .map(|label| leaving.named(label).feature)
        .collect();
    for feature in &features {
        let is_own = |f: u32| feature_of[surface.label(f) as usize].as_ref() == Some(feature);
        let is_ground = |f: u32| feature_of[surface.label(f) as usize].is_none();
        let lines = borders(surface, &is_own, &|n| n.is_some_and(is_ground));
        if !lines.is_empty() {
            let form = Form::Lines(lines.iter().map(places).collect());
            let daylight = Drawn::new("daylight", &**feature, form).with("feature", &**feature);
            drawn.push(surface_is(daylight));
        }
    }
    if !leaving.breaklines.is_empty() {
        let line = |line: &Vec<P3>| line.iter().copied().map(Place::from).collect();
        let form = Form::Lines(leaving.breaklines.iter().map(line).collect());
        drawn.push(surface_is(Drawn::new("breaklines", &leaving.name, form)));
    }
    drawn
}

/// Contours of a surface, one thing a level.
pub fn contour_lines(name: &str, contours: &[Contour]) -> Vec<Drawn> {
    let of_level = |lines: &[Contour]| {
        let level_m = lines[0].level_m;
        let line = |line: &Contour| -> Vec<Place> {
            let again = line.points.first().filter(|_| line.closed);
            let place = |&[x, y]: &[f64; 2]| Place {
                p: Point::from_m(x, y),
                z_m: Some(level_m),
            };
            line.points.iter().chain(again).map(place).collect()
        };
        let length_m: f64 = lines.iter().map(Contour::length_m).sum();
        Drawn::new(
            "contour",
            name,
            Form::Lines(lines.iter().map(line).collect()),
        )
        .with("surface", name)
        .with("level_m", level_m)
        .with("length_m", json!(length_m))
    };
    contours
        .chunk_by(|a, b| a.level_m.to_bits() == b.level_m.to_bits())
        .map(of_level)
        .collect()
}

/// A surface along a line, with a height at every break; `None` where it meets none.
pub fn profile_lines(name: &str, surface: &str, profile: &Profile) -> Option<Drawn> {
    let runs = profile.runs.iter().filter(|run| run.len() > 1);
    let lines: Vec<Vec<Place>> = runs
        .map(|run| {
            let place = |p: &crate::surface::ProfilePoint| Place {
                p: Point::from_m(p.x_m, p.y_m),
                z_m: Some(p.z_m),
            };
            run.iter().map(place).collect()
        })
        .collect();
    let form = Form::Lines(lines);
    let is_empty = matches!(&form, Form::Lines(lines) if lines.is_empty());
    (!is_empty).then(|| Drawn::new("section", name, form).with("surface", surface))
}
