//! Surfaces in open formats, for other programs.
//!
//! Takes a surface as volumes are counted from it, with its origin, the names of its labels and
//! its lines; gives bytes. Every format reads back to the same volume within its own precision.
//! Facets leave as they are: nothing is welded, thinned or turned; what a format cannot hold is
//! counted and said in the file. Knows no job and no disk.

mod breaklines;
mod geojson;
mod gltf;
mod landxml;
mod lines;
mod stated;
mod table;

use crate::files::Content;
use crate::geom::{Origin, P3};
use crate::surface::{Label, Surface};
use crate::units::LengthUnit;

pub use geojson::write as write_geojson;
pub use gltf::{write_glb, write_gltf};
pub use landxml::write as write_landxml;
pub use lines::{Drawn, Form, Place, contour_lines, of_surface, profile_lines};
pub use table::{write_facets, write_vertices};

/// Surfaces in one frame, on their way into one file.
#[derive(Clone, Debug)]
pub struct Parcel<'a> {
    /// Where the frame begins.
    pub origin: Origin,
    /// The surfaces.
    pub surfaces: Vec<Leaving<'a>>,
    /// Unit of formats that are in a unit of choice.
    pub unit: LengthUnit,
    /// Day of writing, `YYYY-MM-DD`.
    pub date: String,
}

/// One surface on its way out.
#[derive(Clone, Debug)]
pub struct Leaving<'a> {
    /// What it is called in the file: `ground`, `design`.
    pub name: String,
    /// The facets volumes are counted from.
    pub surface: &'a Surface,
    /// What a facet belongs to, by label.
    pub labels: Vec<Named>,
    /// Lines the surface follows, in its own frame.
    pub breaklines: Vec<Vec<P3>>,
    /// Whether it is there or is to be.
    pub state: State,
}

/// What a label means.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Named {
    /// The feature; `None` for the ground.
    pub feature: Option<String>,
    /// Part of the feature, or what the ground is.
    pub part: String,
    /// How it is coloured.
    pub look: Look,
}

impl Named {
    /// Measured ground.
    pub fn ground() -> Named {
        Named {
            feature: None,
            part: "ground".to_owned(),
            look: Look::Ground,
        }
    }

    /// "Reservoir, north side".
    pub fn whole(&self) -> String {
        match &self.feature {
            Some(feature) => format!("{feature}, {}", self.part),
            None => self.part.clone(),
        }
    }
}

/// What a facet is coloured as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Look {
    /// Ground as it was measured.
    Ground,
    /// Part of a feature that is dug.
    Dug,
    /// Part of a feature that is filled.
    Filled,
}

/// Whether a surface is there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// Measured.
    Existing,
    /// To be made.
    Proposed,
}

impl State {
    /// The word of LandXML, used in every format.
    pub fn word(self) -> &'static str {
        match self {
            State::Existing => "existing",
            State::Proposed => "proposed",
        }
    }
}

impl Leaving<'_> {
    /// What a label means; a label without a name is told by its number.
    pub fn named(&self, label: Label) -> Named {
        self.labels
            .get(label as usize)
            .cloned()
            .unwrap_or_else(|| Named {
                part: format!("part {label}"),
                ..Named::ground()
            })
    }
}

/// A format, as the ending of a file name says it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// LandXML 1.2: surfaces, in the unit of the parcel.
    LandXml,
    /// glTF 2.0 in one binary file: surfaces, metres.
    Glb,
    /// The same as text, with the numbers inside.
    Gltf,
    /// Lines and areas, metres.
    GeoJson,
    /// Two tables, of vertices and of facets, metres.
    Csv,
}

impl Format {
    /// Endings of file names that are written.
    pub const ENDINGS: [&'static str; 6] = ["xml", "landxml", "glb", "gltf", "geojson", "csv"];

    /// The format a file name asks for.
    pub fn of_name(file: &str) -> Option<Format> {
        let (_, ending) = file.rsplit_once('.')?;
        match ending.to_ascii_lowercase().as_str() {
            "xml" | "landxml" => Some(Format::LandXml),
            "glb" => Some(Format::Glb),
            "gltf" => Some(Format::Gltf),
            "geojson" => Some(Format::GeoJson),
            "csv" => Some(Format::Csv),
            _ => None,
        }
    }

    /// What it is called.
    pub fn words(self) -> &'static str {
        match self {
            Format::LandXml => "LandXML 1.2",
            Format::Glb | Format::Gltf => "glTF 2.0, in metres",
            Format::GeoJson => "GeoJSON in local metres: not longitude and latitude",
            Format::Csv => "CSV, in metres",
        }
    }
}

/// The files a parcel becomes under a name: one, or two tables for each surface.
///
/// # Input
///
/// `file` whose ending says the format
pub fn files<'a>(parcel: &'a Parcel, format: Format, file: &str) -> Vec<(String, Content<'a>)> {
    let one = |content: Content<'a>| vec![(file.to_owned(), content)];
    match format {
        Format::LandXml => one(Box::new(|out| write_landxml(parcel, out))),
        Format::Glb => one(Box::new(|out| write_glb(parcel, out))),
        Format::Gltf => one(Box::new(|out| write_gltf(parcel, out))),
        Format::GeoJson => one(Box::new(|out| {
            let drawn: Vec<Drawn> = parcel.surfaces.iter().flat_map(of_surface).collect();
            write_geojson(parcel.origin, &drawn, out)
        })),
        Format::Csv => {
            let (stem, ending) = file.rsplit_once('.').unwrap_or((file, "csv"));
            let is_one = parcel.surfaces.len() == 1;
            let tables = parcel.surfaces.iter().map(|leaving| {
                let stem = match is_one {
                    true => stem.to_owned(),
                    false => format!("{stem}-{}", plain(&leaving.name)),
                };
                let vertices: Content = Box::new(|out| write_vertices(parcel.origin, leaving, out));
                let facets: Content = Box::new(|out| write_facets(leaving, out));
                [
                    (format!("{stem}-vertices.{ending}"), vertices),
                    (format!("{stem}-facets.{ending}"), facets),
                ]
            });
            tables.flatten().collect()
        }
    }
}

/// A name that may stand in a file name everywhere.
fn plain(name: &str) -> String {
    let fits = |c: char| c.is_alphanumeric() || "-_.".contains(c);
    name.chars()
        .map(|c| if fits(c) { c } else { '_' })
        .collect()
}
