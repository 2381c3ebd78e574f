//! Sections: the yard cut open along a line, as numbers, not ink.
//!
//! Takes surfaces and lines, gives profiles with the areas of cut and fill between them. Knows no
//! scale and no colour.

use crate::design::Design;
use crate::diag::Diagnostic;
use crate::earthwork::section_areas;
use crate::geom::{Point, distance_m};
use crate::job::Job;
use crate::surface::{Profile, Rule};
use crate::survey::Survey;
use crate::terrain::Terrain;

/// The yard along a line.
#[derive(Clone, Debug)]
pub struct Section {
    /// Title.
    pub name: String,
    /// The line, from left to right on the drawing.
    pub line: Vec<Point>,
    /// Its length, metres.
    pub length_m: f64,
    /// Measured ground.
    pub ground: Profile,
    /// Finished surface.
    pub design: Profile,
    /// Surface the soil is dug and built to, where it differs.
    pub built: Option<Profile>,
    /// Area of cut to the surface to be built, m2.
    pub cut_m2: f64,
    /// Area of fill to the surface to be built, m2.
    pub fill_m2: f64,
}

/// The bed of a stream by station.
#[derive(Clone, Debug)]
pub struct StreamProfile {
    /// Name of the stream.
    pub name: String,
    /// Measured ground along the centre line, station 0 at the foot.
    pub ground: Profile,
    /// Finished surface along it.
    pub design: Profile,
    /// Bed by station, metres; two entries at one station are a drop, lower first.
    pub bed: Vec<(f64, f64)>,
}

/// The yard along one line.
pub fn section(name: &str, line: Vec<Point>, terrain: &Terrain, design: &Design) -> Section {
    let ground = terrain.surface.profile(&line);
    let finished = design.surface.profile(&line);
    let is_other = design.built.is_some() || design.dug.is_some();
    let built = is_other.then(|| design.to_build().profile(&line));
    let [cut_m2, fill_m2] = section_areas(&ground, built.as_ref().unwrap_or(&finished));
    Section {
        name: name.to_owned(),
        length_m: line.windows(2).map(|w| distance_m(w[0], w[1])).sum(),
        line,
        ground,
        design: finished,
        built,
        cut_m2,
        fill_m2,
    }
}

/// The sections a job asks for; two through every basin and one across every berm if it asks
/// for none.
///
/// # Errors
///
/// a place that does not exist
pub fn sections(
    job: &Job,
    survey: &Survey,
    terrain: &Terrain,
    design: &Design,
) -> Result<Vec<Section>, Diagnostic> {
    let mut sections = Vec::new();
    for spec in &job.sections {
        let line: Vec<Point> = survey.resolve(&spec.line)?.iter().map(|p| p.p).collect();
        if line.windows(2).all(|w| w[0] == w[1]) {
            return Err(
                Diagnostic::error("short-line", "a section needs two different points")
                    .at(spec.line.at.clone())
                    .help("give its start and its end"),
            );
        }
        sections.push(section(&spec.name, line, terrain, design));
    }
    if sections.is_empty() {
        for feature in &design.features {
            for (words, line) in automatic(
                &feature.laid.core,
                feature.laid.rule,
                feature.laid.axis.is_some(),
            ) {
                let name = format!("{}, {words}", feature.name);
                sections.push(section(&name, line, terrain, design));
            }
        }
    }
    Ok(sections)
}

/// Room on both sides of a floor or crest in an automatic section, metres.
const BESIDE_M: f64 = 5.0;

fn automatic(core: &[Point], rule: Rule, is_stream: bool) -> Vec<(&'static str, Vec<Point>)> {
    let (Some(west), Some(east)) = (
        core.iter().map(|p| p.x).min(),
        core.iter().map(|p| p.x).max(),
    ) else {
        return Vec::new();
    };
    let (Some(south), Some(north)) = (
        core.iter().map(|p| p.y).min(),
        core.iter().map(|p| p.y).max(),
    ) else {
        return Vec::new();
    };
    let beside = Point::from_m(BESIDE_M, BESIDE_M);
    let (x, y) = (west + (east - west) / 2, south + (north - south) / 2);
    let west_east = vec![
        Point::new(west - beside.x, y),
        Point::new(east + beside.x, y),
    ];
    let south_north = vec![
        Point::new(x, south - beside.y),
        Point::new(x, north + beside.y),
    ];
    let long_way_is_east = east - west >= north - south;
    match (is_stream, rule) {
        // A stream has its long profile.
        (true, _) => Vec::new(),
        (false, Rule::Lower) => {
            vec![("west to east", west_east), ("south to north", south_north)]
        }
        (false, Rule::Raise) if long_way_is_east => vec![("south to north", south_north)],
        (false, Rule::Raise) => vec![("west to east", west_east)],
    }
}

/// The long profile of every stream.
pub fn stream_profiles(terrain: &Terrain, design: &Design) -> Vec<StreamProfile> {
    design
        .features
        .iter()
        .filter_map(|feature| {
            let axis = feature.laid.axis.as_ref()?;
            Some(StreamProfile {
                name: feature.name.clone(),
                ground: terrain.surface.profile(&axis.line),
                design: design.surface.profile(&axis.line),
                bed: axis.bed.clone(),
            })
        })
        .collect()
}
