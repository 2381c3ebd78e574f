//! What a LandXML file holds, as written: points with their ids, faces by ids, lists of points.
//!
//! All points are written northing, easting, height.

use crate::diag::{At, Diagnostic};
use crate::geom::Point;
use crate::job::ImportSpec;
use crate::units::{MAX_COORDINATE_M, Scale};

use super::xml::Xml;

/// How numbers of a file become lengths.
#[derive(Clone, Copy, Debug)]
pub(super) struct Scales {
    pub(super) plan: Scale,
    pub(super) height: Scale,
}

/// A point as written, absolute.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spot {
    /// Number in the surface; 0 for points without one.
    pub(super) id: u64,
    pub(super) line: u32,
    pub(super) p: Point,
    /// Height, metres; NaN where none is given.
    pub(super) z: f64,
}

/// A face as written.
#[derive(Clone, Copy, Debug)]
pub(super) struct Face {
    /// Ids of its corners; the fourth is 0 in a triangle.
    pub(super) ids: [u64; 4],
    pub(super) line: u32,
    /// Which edges lie on breaklines, as bits.
    pub(super) breaks: u8,
    /// Outside of what is shown.
    pub(super) is_invisible: bool,
}

/// A surface as written.
#[derive(Debug, Default)]
pub(super) struct Written {
    pub(super) name: String,
    pub(super) line: usize,
    pub(super) state: Option<String>,
    /// There is a `Definition`.
    pub(super) is_defined: bool,
    pub(super) spots: Vec<Spot>,
    pub(super) faces: Vec<Face>,
    /// Points it was made from.
    pub(super) source: Vec<Spot>,
    /// Breaklines it was made from, each with its line.
    pub(super) breaklines: Vec<Vec<Spot>>,
    /// What else it was made from, in words, that is not read.
    pub(super) beside: Vec<&'static str>,
}

impl Written {
    /// True for a surface that says something of the ground.
    pub(super) fn has_ground(&self) -> bool {
        self.is_defined || !self.source.is_empty() || !self.breaklines.is_empty()
    }

    /// Reads the element `Surface`, which is open.
    pub(super) fn read(
        spec: &ImportSpec,
        xml: &mut Xml<'_>,
        scales: Scales,
    ) -> Result<Written, Diagnostic> {
        let owned = |value: Option<std::borrow::Cow<'_, str>>| value.map(|v| v.into_owned());
        let mut surface = Written {
            name: owned(xml.attribute("name")?).unwrap_or_default(),
            line: xml.line(),
            state: owned(xml.attribute("state")?),
            ..Written::default()
        };
        while let Some(name) = xml.child()? {
            match name {
                "Definition" => surface.definition(spec, xml, scales)?,
                "SourceData" => surface.source_data(spec, xml, scales)?,
                _ => xml.skip()?,
            }
        }
        Ok(surface)
    }

    fn definition(
        &mut self,
        spec: &ImportSpec,
        xml: &mut Xml<'_>,
        scales: Scales,
    ) -> Result<(), Diagnostic> {
        if self.is_defined {
            return Err(Diagnostic::error(
                "surface-twice",
                format!("surface \"{}\" is defined twice", self.name),
            )
            .at(xml.at())
            .help("write the file again with one definition of it"));
        }
        self.is_defined = true;
        let mut text = String::new();
        while let Some(name) = xml.child()? {
            let is_points = name == "Pnts";
            if !is_points && name != "Faces" {
                xml.skip()?;
                continue;
            }
            while let Some(name) = xml.child()? {
                match name {
                    "P" if is_points => {
                        let at = xml.at();
                        let id = xml.attribute("id")?.unwrap_or_default().into_owned();
                        xml.text(&mut text)?;
                        let id = id_of(&id).ok_or_else(|| bad_id(spec, at.line, &id))?;
                        let mut spot = spot(spec, at.line, &text, scales)?;
                        spot.id = id;
                        self.spots.push(spot);
                    }
                    "F" if !is_points => {
                        let face = self.face(spec, xml, &mut text)?;
                        self.faces.push(face);
                    }
                    _ => xml.skip()?,
                }
            }
        }
        Ok(())
    }

    fn face(
        &self,
        spec: &ImportSpec,
        xml: &mut Xml<'_>,
        text: &mut String,
    ) -> Result<Face, Diagnostic> {
        let line = xml.line();
        let is_invisible = xml.attribute("i")?.is_some_and(|i| i.trim() == "1");
        let breaks = match xml.attribute("b")? {
            Some(bits) => bits.trim().parse().unwrap_or(0),
            None => 0,
        };
        xml.text(text)?;
        let mut ids = [0; 4];
        let mut count = 0;
        for word in text.split_ascii_whitespace() {
            let id = id_of(word).ok_or_else(|| bad_id(spec, line, word))?;
            if count < 4 {
                ids[count] = id;
            }
            count += 1;
        }
        if count != 3 && count != 4 {
            return Err(Diagnostic::error(
                "bad-face",
                format!(
                    "face {} has {count} corners; a face has 3, in a grid 4",
                    self.faces.len() + 1
                ),
            )
            .at(At::cell(&spec.file, line, "F", text.trim()))
            .help("write the surface again as triangles"));
        }
        Ok(Face {
            ids,
            line: line as u32,
            breaks,
            is_invisible,
        })
    }

    fn source_data(
        &mut self,
        spec: &ImportSpec,
        xml: &mut Xml<'_>,
        scales: Scales,
    ) -> Result<(), Diagnostic> {
        while let Some(name) = xml.child()? {
            match name {
                "DataPoints" => {
                    for list in lists(spec, xml, scales)? {
                        self.source.extend(list);
                    }
                }
                "Breaklines" => {
                    while let Some(name) = xml.child()? {
                        if name == "Breakline" {
                            let lines = lists(spec, xml, scales)?;
                            self.breaklines.extend(lines);
                        } else {
                            self.beside.push("retaining walls");
                            xml.skip()?;
                        }
                    }
                }
                other => {
                    self.beside.push(match other {
                        "Boundaries" => "boundaries",
                        "PointFiles" => "files of points",
                        "Contours" => "contours",
                        _ => "other data",
                    });
                    xml.skip()?;
                }
            }
        }
        Ok(())
    }
}

/// Lists of points in the element that is open: those with heights, and those without.
fn lists(
    spec: &ImportSpec,
    xml: &mut Xml<'_>,
    scales: Scales,
) -> Result<Vec<Vec<Spot>>, Diagnostic> {
    let mut lists = Vec::new();
    let mut text = String::new();
    while let Some(name) = xml.child()? {
        let dimensions = match name {
            "PntList3D" => 3,
            "PntList2D" => 2,
            _ => {
                xml.skip()?;
                continue;
            }
        };
        let line = xml.line();
        xml.text(&mut text)?;
        let mut list = Vec::new();
        let mut words = text.split_ascii_whitespace();
        while let Some(north) = words.next() {
            let east = words.next();
            let height = if dimensions == 3 { words.next() } else { None };
            if east.is_none() || (dimensions == 3 && height.is_none()) {
                return Err(Diagnostic::error(
                    "bad-point",
                    format!("the list ends in the middle of point {}", list.len() + 1),
                )
                .at(At::cell(&spec.file, line, "PntList", north))
                .help("every point has a northing and an easting, and in a 3D list a height"));
            }
            let number = list.len() + 1;
            list.push(
                place(spec, line, [Some(north), east, height], scales).map_err(|mut fault| {
                    fault.message = format!("point {number} of the list: {}", fault.message);
                    fault
                })?,
            );
        }
        lists.push(list);
    }
    Ok(lists)
}

/// Reads the element `CgPoints`, which is open: points that belong to no surface.
pub(super) fn loose_points(
    spec: &ImportSpec,
    xml: &mut Xml<'_>,
    scales: Scales,
    points: &mut Vec<Spot>,
) -> Result<(), Diagnostic> {
    let mut text = String::new();
    while let Some(name) = xml.child()? {
        if name != "CgPoint" {
            xml.skip()?;
            continue;
        }
        let line = xml.line();
        xml.text(&mut text)?;
        // A point that only refers to another has no text.
        if !text.trim().is_empty() {
            points.push(spot(spec, line, &text, scales)?);
        }
    }
    Ok(())
}

fn id_of(text: &str) -> Option<u64> {
    text.trim().parse().ok().filter(|&id| id > 0)
}

fn bad_id(spec: &ImportSpec, line: usize, text: &str) -> Diagnostic {
    Diagnostic::error("bad-id", "a point is named by a whole number from 1")
        .at(At::cell(&spec.file, line, "id", text))
        .help("write the surface again")
}

/// A point from its text.
fn spot(spec: &ImportSpec, line: usize, text: &str, scales: Scales) -> Result<Spot, Diagnostic> {
    let mut words = text.split_ascii_whitespace();
    let first = [words.next(), words.next(), words.next()];
    if first[1].is_none() || words.next().is_some() {
        return Err(
            Diagnostic::error("bad-point", "a point is its northing, easting and height")
                .at(At::cell(&spec.file, line, "", text.trim()))
                .help("write the file again"),
        );
    }
    place(spec, line, first, scales)
}

fn place(
    spec: &ImportSpec,
    line: usize,
    [north, east, height]: [Option<&str>; 3],
    scales: Scales,
) -> Result<Spot, Diagnostic> {
    let plan = |what: &str, text: Option<&str>| {
        let text = text.unwrap_or_default();
        scales
            .plan
            .parse_nm(text)
            .ok_or_else(|| no_coordinate(spec, line, what, text))
    };
    let p = Point::new(plan("easting", east)?, plan("northing", north)?);
    let z = match height {
        None => f64::NAN,
        Some(text) => {
            let z = text.parse::<f64>().map(|z| z * scales.height.metres());
            match z {
                Ok(z) if z.abs() <= MAX_COORDINATE_M => z,
                _ => return Err(no_coordinate(spec, line, "height", text)),
            }
        }
    };
    Ok(Spot {
        id: 0,
        line: line as u32,
        p,
        z,
    })
}

fn no_coordinate(spec: &ImportSpec, line: usize, what: &str, text: &str) -> Diagnostic {
    Diagnostic::error(
        "bad-number",
        format!("this {what} is no number, or is beyond {MAX_COORDINATE_M:e} m"),
    )
    .at(At::cell(&spec.file, line, what, text))
    .help("write numbers with a decimal point; look at the unit")
}
