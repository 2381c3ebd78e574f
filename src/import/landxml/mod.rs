//! Surfaces and points of LandXML 1.2.
//!
//! The file is read as a stream: `xml.rs` gives its elements, `written.rs` what a surface holds,
//! `mesh.rs` the faces. Of several surfaces only the one that is asked for is held.
//!
//! # Source
//!
//! LandXML-1.2 schema (2008)

mod lengths;
mod mesh;
mod points;
mod written;
mod xml;

use std::io::{Seek, SeekFrom};

use crate::diag::{At, Diagnostic, Failure, nearest};
use crate::files::{Files, Stream};
use crate::job::ImportSpec;

use super::units::settle;
use super::{Content, Facts, Import, UnitFound, UnitFrom, unreadable};

use lengths::FileUnits;
use mesh::Mesh;
use points::{Answer, points, source_points};
use written::{Scales, Spot, Written, loose_points};
use xml::Xml;

/// How exact heights of a surface from elsewhere are meant to be, metres, where nobody says:
/// judged here, as ground shots with a rod on grass.
const HEIGHT_ERROR_M: f64 = 0.05;

/// Most names that a message lists.
const LISTED: usize = 20;

/// Reads a file.
///
/// # Errors
///
/// in words: what cannot be read, where, and what to do
pub(super) fn read(
    spec: &ImportSpec,
    files: &dyn Files,
) -> Result<(Import, Vec<Diagnostic>), Failure> {
    let (stream, input) = super::open(spec, files)?;
    let (units, stream) = units_of(spec, stream)?;
    let (plan, height, mut said) = settle(spec, units.stated());
    let typed = |found: UnitFound| found.from == UnitFrom::Typed;
    let scales = Scales {
        plan: units.plan(plan.unit, typed(plan)),
        height: units.height(height.unit, typed(height)),
    };
    let held = Held::read(spec, stream, scales, &mut said)?;
    let surface = held.chosen(spec, &mut said)?;
    let (what, answer) = match surface {
        Some(surface) => {
            tell(spec, surface, &mut said);
            let what = format!("surface \"{}\"", surface.name);
            if surface.is_defined {
                let mesh = mesh::build(spec, surface)?;
                tell_mesh(spec, surface, &mesh, plan, &mut said);
                (what, Answer::faces(mesh, surface))
            } else {
                (what, source_points(spec, surface, &mut said)?)
            }
        }
        None => (
            "points".to_owned(),
            points(spec, held.loose.iter().copied())?,
        ),
    };
    let facts = Facts {
        format: format!("LandXML {}, {what}{}", held.version, units.words()),
        plan_unit: plan,
        height_unit: height,
        counted: answer.counted,
        read: answer.read,
        kept: answer.kept,
        left_out: answer.left_out,
        loss: None,
        height_error_m: spec.height_error_m.unwrap_or(HEIGHT_ERROR_M),
    };
    let import = Import {
        taken_away: None,
        source: spec.source(),
        origin: answer.origin,
        content: answer.content,
        facts,
        input,
    };
    Ok((import, said))
}

impl Answer {
    fn faces(mesh: Mesh, surface: &Written) -> Answer {
        Answer {
            content: Content::Faces(mesh.faces),
            origin: mesh.origin,
            counted: "faces",
            read: surface.faces.len() as u64,
            kept: mesh.kept,
            left_out: mesh.left_out,
        }
    }
}

/// The units of the file, wherever they stand in it. They usually come first; the rest of the
/// file is read only once it is known in which unit. Gives the file back at its start.
fn units_of(
    spec: &ImportSpec,
    stream: Box<dyn Stream>,
) -> Result<(FileUnits, Box<dyn Stream>), Diagnostic> {
    let mut xml = Xml::new(&spec.file, stream)?;
    let mut units = FileUnits::default();
    if root(spec, &mut xml)? {
        while let Some(name) = xml.child()? {
            if name == "Units" {
                units = FileUnits::read(spec, &mut xml)?;
                break;
            }
            xml.skip()?;
        }
    }
    let mut stream = xml.into_stream();
    stream
        .seek(SeekFrom::Start(0))
        .map_err(|error| unreadable(spec, &error))?;
    Ok((units, stream))
}

/// Opens the root.
fn root(spec: &ImportSpec, xml: &mut Xml<'_>) -> Result<bool, Diagnostic> {
    match xml.child()? {
        Some("LandXML") => Ok(true),
        Some(_) => {
            let name = xml.name().to_owned();
            Err(
                Diagnostic::error("unknown-format", "the file is XML, but no LandXML")
                    .at(At::cell(&spec.file, xml.line(), "", name))
                    .help("write the surface as LandXML 1.2; its first element is LandXML"),
            )
        }
        None => Err(Diagnostic::error("unknown-format", "the file is no XML")
            .at(At::file(&spec.file))
            .help("write the surface as LandXML 1.2")),
    }
}

/// What is held of a file.
struct Held {
    version: String,
    /// The surface that is asked for, or the first of several.
    surface: Option<Written>,
    /// Names of all that have ground.
    names: Vec<String>,
    /// Points that belong to no surface.
    loose: Vec<Spot>,
}

impl Held {
    fn read(
        spec: &ImportSpec,
        stream: Box<dyn Stream>,
        scales: Scales,
        said: &mut Vec<Diagnostic>,
    ) -> Result<Held, Diagnostic> {
        let mut xml = Xml::new(&spec.file, stream)?;
        let mut held = Held {
            version: "of an unknown version".to_owned(),
            surface: None,
            names: Vec::new(),
            loose: Vec::new(),
        };
        root(spec, &mut xml)?;
        if let Some(version) = xml.attribute("version")? {
            held.version = version.into_owned();
        }
        if held.version != "1.2" {
            said.push(
                Diagnostic::note(
                    "landxml-version",
                    format!("the file is LandXML {}; it is read as 1.2", held.version),
                )
                .at(xml.at())
                .help("surfaces of 1.0 and 1.1 are written alike"),
            );
        }
        let mut is_twice = false;
        while let Some(name) = xml.child()? {
            match name {
                "Surfaces" => {
                    while let Some(name) = xml.child()? {
                        if name != "Surface" {
                            xml.skip()?;
                            continue;
                        }
                        is_twice |= held.surface(spec, &mut xml, scales)?;
                    }
                }
                "CgPoints" => loose_points(spec, &mut xml, scales, &mut held.loose)?,
                _ => xml.skip()?,
            }
        }
        if is_twice {
            let name = spec.surface.clone().unwrap_or_default();
            return Err(Diagnostic::error(
                "surface-twice",
                format!("the file has several surfaces with the name \"{name}\""),
            )
            .at(At::file(&spec.file))
            .help("give each surface a name of its own"));
        }
        Ok(held)
    }

    /// Takes the surface that is open; true if it is a second one of the name that is asked for.
    fn surface(
        &mut self,
        spec: &ImportSpec,
        xml: &mut Xml<'_>,
        scales: Scales,
    ) -> Result<bool, Diagnostic> {
        let name = xml.attribute("name")?.unwrap_or_default().into_owned();
        let is_asked = spec.surface.as_ref().is_none_or(|asked| *asked == name);
        if !is_asked {
            self.names.push(name);
            xml.skip()?;
            return Ok(false);
        }
        let surface = Written::read(spec, xml, scales)?;
        if surface.has_ground() {
            self.names.push(name);
            if self.surface.is_some() {
                return Ok(spec.surface.is_some());
            }
            self.surface = Some(surface);
        }
        Ok(false)
    }

    /// The surface that is meant; `None` for a file of points alone.
    fn chosen(
        &self,
        spec: &ImportSpec,
        said: &mut Vec<Diagnostic>,
    ) -> Result<Option<&Written>, Diagnostic> {
        let refuse = |code, message: String, help: String| {
            Err(Diagnostic::error(code, message)
                .at(At::file(&spec.file))
                .help(help))
        };
        if let Some(asked) = &spec.surface {
            if self.surface.is_some() {
                return Ok(self.surface.as_ref());
            }
            let near = nearest(asked, self.names.iter().map(String::as_str));
            let help = match near {
                Some(name) => format!("is \"{name}\" meant? {}", self.list()),
                None => self.list(),
            };
            let message = format!("the file has no surface \"{asked}\"");
            return refuse("no-surface", message, help);
        }
        if self.names.len() > 1 {
            return refuse(
                "several-surfaces",
                format!(
                    "the file has {} surfaces; which one is meant?",
                    self.names.len()
                ),
                format!("name one: {}#{}; {}", spec.file, self.names[0], self.list()),
            );
        }
        if self.surface.is_none() && self.loose.is_empty() {
            return refuse(
                "no-surface",
                "the file has neither a surface with faces or points, nor points".into(),
                "write the surface again, with its definition".into(),
            );
        }
        if self.surface.is_some() && !self.loose.is_empty() {
            said.push(
                Diagnostic::note(
                    "points-beside",
                    format!(
                        "{} points beside the surface are not read",
                        self.loose.len()
                    ),
                )
                .at(At::file(&spec.file)),
            );
        }
        Ok(self.surface.as_ref())
    }

    fn list(&self) -> String {
        if self.names.is_empty() {
            return "it has none".to_owned();
        }
        let names: Vec<String> = self
            .names
            .iter()
            .take(LISTED)
            .map(|name| format!("\"{name}\""))
            .collect();
        let more = match self.names.len().saturating_sub(LISTED) {
            0 => String::new(),
            more => format!(" and {more} more"),
        };
        format!("it has {}{more}", names.join(", "))
    }
}

/// What is to be known of a surface before it is used.
fn tell(spec: &ImportSpec, surface: &Written, said: &mut Vec<Diagnostic>) {
    let at = || At::line(&spec.file, surface.line);
    if let Some(state) = surface
        .state
        .as_deref()
        .filter(|state| *state != "existing")
    {
        said.push(
            Diagnostic::warn(
                "surface-state",
                format!("surface \"{}\" is marked as {state}", surface.name),
            )
            .at(at())
            .help("is it the ground as it lies?"),
        );
    }
    if let (true, false) = (surface.is_defined, surface.source.is_empty()) {
        said.push(
            Diagnostic::note(
                "source-data",
                format!(
                    "the {} points that surface \"{}\" was made from are not read: its faces are \
                     the surface",
                    surface.source.len(),
                    surface.name
                ),
            )
            .at(at()),
        );
    }
    let mut beside = surface.beside.clone();
    beside.sort_unstable();
    beside.dedup();
    if !beside.is_empty() {
        said.push(
            Diagnostic::note(
                "source-data",
                format!(
                    "what surface \"{}\" was made from is not read: {}",
                    surface.name,
                    beside.join(", ")
                ),
            )
            .at(at()),
        );
    }
}

/// What became of the faces.
fn tell_mesh(
    spec: &ImportSpec,
    surface: &Written,
    mesh: &Mesh,
    plan: UnitFound,
    said: &mut Vec<Diagnostic>,
) {
    let mut note = |code, message: String| {
        said.push(Diagnostic::note(code, message).at(At::line(&spec.file, surface.line)));
    };
    if mesh.squares > 0 {
        note(
            "diagonals",
            format!(
                "{} faces of four corners are parted from the first to the third; parted the \
                 other way the volume moves by {:.1} {} at most",
                mesh.squares,
                mesh.bound_m3 / plan.unit.volume_m3(),
                plan.unit.volume_name()
            ),
        );
    }
    if mesh.lonely > 0 {
        note(
            "points-beside",
            format!(
                "{} points belong to no face, or lie where another does",
                mesh.lonely
            ),
        );
    }
    if mesh.off_edge > 0 {
        note(
            "breaklines",
            format!(
                "{} links of its breaklines are no edges of the surface and are not followed",
                mesh.off_edge
            ),
        );
    }
    if mesh.is_unchecked {
        note(
            "faces-unchecked",
            "its faces are so long and narrow that they were held against each other only along \
             their edges: whether some lie over others is not known"
                .into(),
        );
    }
}
