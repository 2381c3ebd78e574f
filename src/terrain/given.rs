//! A ground that is given face by face: nothing is triangulated anew.

use crate::diag::{At, Diagnostic, Failure};
use crate::import::{Content, Faces};
use crate::job::GroundSpec;
use crate::surface::{Surface, SurfaceError};
use crate::survey::Survey;

use super::{GROUND, Imported, Terrain};

/// The ground of a surface or an elevation grid.
///
/// # Errors
///
/// anything beside it that would change its faces: another import, an outline, holes, areas
/// without data, lines, a longest edge; faces that make no surface
pub(super) fn as_given(
    survey: &Survey,
    spec: &GroundSpec,
) -> Result<(Terrain, Vec<Diagnostic>), Failure> {
    let [brought] = &survey.imports[..] else {
        let mut fault = Diagnostic::error(
            "several-surfaces",
            "a surface given face by face is the whole ground; nothing else is laid beside it",
        )
        .help("keep one of the imports; a second surface can be laid on it as a feature");
        let sources = survey.imports.iter().map(|b| At::file(&b.import.source));
        fault.at.extend(sources);
        return Err(fault.into());
    };
    let source = &brought.import.source;
    let lists = [&spec.holes, &spec.no_data, &spec.breaklines];
    let lines = spec.outline.iter().chain(lists.into_iter().flatten());
    let cuts: Vec<At> = lines.map(|line| line.at.clone()).collect();
    if !cuts.is_empty() || spec.max_edge_m.is_some() {
        let message = format!(
            "the faces of {source} are used as they are: an outline, holes, lines and a longest edge \
             would change them"
        );
        let mut fault = Diagnostic::error("faces-as-given", message).help(
            "take them out of [ground]; to have the ground triangulated anew, give its points as CSV",
        );
        fault.at = cuts;
        return Err(fault.into());
    }
    let Content::Faces(Faces {
        vertices,
        triangles,
        breaklines,
    }) = &brought.import.content
    else {
        return Err(Diagnostic::error("no-ground", "there is no ground").into());
    };
    let surface = Surface::from_triangles(vertices.clone(), triangles, GROUND)
        .map_err(|error| no_surface(&error, source, survey))?;
    let mut notes = Vec::new();
    if !survey.shots.is_empty() {
        let message = format!(
            "the ground is the surface {source}, face by face; the {} shots of the job are no part of it",
            survey.shots.len()
        );
        notes.push(Diagnostic::note("faces-as-given", message).at(At::file(source)));
    }
    let mut line_edges: Vec<[u32; 2]> = breaklines
        .iter()
        .flat_map(|line| line.windows(2).map(|w| [w[0].min(w[1]), w[0].max(w[1])]))
        .collect();
    line_edges.sort_unstable();
    line_edges.dedup();
    let lines = breaklines.iter();
    let lines = lines.map(|line| line.iter().map(|&v| vertices[v as usize]).collect());
    let terrain = Terrain {
        breaklines: lines.collect(),
        imported: vec![Imported {
            vertices: 0..vertices.len() as u32,
            height_error_m: brought.import.facts.height_error_m,
        }],
        surface,
        origin: survey.origin,
        line_edges,
        ..Terrain::default()
    };
    Ok((terrain, notes))
}

fn no_surface(error: &SurfaceError, source: &str, survey: &Survey) -> Failure {
    let place = match error {
        SurfaceError::BadTriangle(face) => format!(", face {} in the order of the file", face + 1),
        SurfaceError::ThreeAtAnEdge { at } => format!(
            " near {:.2} m E, {:.2} m N",
            at.x_m() + survey.origin.x_m as f64,
            at.y_m() + survey.origin.y_m as f64
        ),
    };
    Diagnostic::error(
        "no-surface",
        format!("the faces of {source} make no surface: {error}{place}"),
    )
    .at(At::file(source))
    .help("faces must not overlap, and every place has one height; send the surface out again")
    .into()
}
