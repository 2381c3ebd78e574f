//! Files of other programs and machines: point clouds, elevation grids, surfaces.
//!
//! Takes how a job names a file, gives an [`Import`]: points or faces in metres about an origin
//! of their own, and [`Facts`]: what the file is, in which units, what was left out and why.
//! Only this room knows their formats. Knows no shot: to bring an import to the benchmark of a
//! job is done by `survey`.

mod cloud;
mod elevations;
mod facts;
mod landxml;
mod overlap;
mod taken;
mod thin;
mod units;
mod xyz;

use crate::diag::{At, Diagnostic, Failure};
use crate::files::{Files, Input, Stream};
use crate::geom::{Origin, P3};
use crate::job::{ImportKind, ImportSpec};

pub use facts::{Facts, LeftOut, Loss, UnitFound, UnitFrom};
pub use taken::{TakenAway, TakenCell};
pub use thin::{LARGE, TOLERANCE_M, Thinned, Thinner};

/// What a file holds, in the local frame of its own origin.
#[derive(Clone, Debug)]
pub struct Import {
    /// The file, with the surface in it if one is named.
    pub source: String,
    /// Where its frame begins.
    pub origin: Origin,
    /// Points or faces.
    pub content: Content,
    /// What was read, and how.
    pub facts: Facts,
    /// What a ground filter took away; `None` where none was used.
    pub taken_away: Option<TakenAway>,
    /// The file itself.
    pub input: Input,
}

/// What is known of a surface.
#[derive(Clone, Debug)]
pub enum Content {
    /// Points of the ground at different places, that a surface is to be laid over.
    Points(Vec<P3>),
    /// A surface as given: its faces are not to be changed.
    Faces(Faces),
}

/// A surface as given.
#[derive(Clone, Debug, Default)]
pub struct Faces {
    /// Corners, each place once.
    pub vertices: Vec<P3>,
    /// Counter-clockwise triangles that do not overlap.
    pub triangles: Vec<[u32; 3]>,
    /// Lines it follows, as vertices in their order.
    pub breaklines: Vec<Vec<u32>>,
}

impl Content {
    /// The points, or the corners of the faces.
    pub fn points(&self) -> &[P3] {
        match self {
            Content::Points(points) => points,
            Content::Faces(faces) => &faces.vertices,
        }
    }
}

/// Reads a file as a job or a command line names it.
///
/// # Errors
///
/// in words: what cannot be read, where, and what to do
pub fn read(spec: &ImportSpec, files: &dyn Files) -> Result<(Import, Vec<Diagnostic>), Failure> {
    let (import, mut said) = match spec.kind {
        ImportKind::Cloud if xyz::is_one(&spec.file) => xyz::read(spec, files),
        ImportKind::Cloud => cloud::read(spec, files),
        ImportKind::Elevations => elevations::read(spec, files),
        ImportKind::Surface => landxml::read(spec, files),
    }?;
    let facts = &import.facts;
    let left_out: u64 = facts.left_out.iter().map(|left| left.count).sum();
    debug_assert_eq!(facts.read, facts.kept + left_out, "{facts:?}");
    said.extend(mixed_units(spec, facts));
    Ok((import, said))
}

/// Doubts a file that states metres in plan and feet in height, or the other way round.
fn mixed_units(spec: &ImportSpec, facts: &Facts) -> Option<Diagnostic> {
    let (plan, height) = (facts.plan_unit, facts.height_unit);
    let is_stated = |found: UnitFound| found.from == UnitFrom::File;
    let is_mixed = plan.unit.is_foot() != height.unit.is_foot();
    (is_mixed && is_stated(plan) && is_stated(height)).then(|| {
        let message = format!(
            "the file states {} in plan and {} in height: seldom meant, and every slope hangs on it",
            plan.unit.name(),
            height.unit.name()
        );
        Diagnostic::warn("units-mixed", message)
            .at(At::file(&spec.file))
            .help(
                "check a length that you know; say what is right: units and z_units (--units, \
                 --z-units)",
            )
    })
}

/// Opens a file at its start, with the digest of it.
fn open(spec: &ImportSpec, files: &dyn Files) -> Result<(Box<dyn Stream>, Input), Diagnostic> {
    let mut stream = files.open(&spec.file).map_err(|why| {
        Diagnostic::error(
            "unreadable-file",
            format!("{} cannot be read: {why}", spec.file),
        )
        .at(spec.at.clone())
        .help("names are relative to the job folder; check the spelling")
    })?;
    let input =
        Input::of_stream(&spec.file, &mut *stream).map_err(|error| unreadable(spec, &error))?;
    if input.bytes == 0 {
        return Err(Diagnostic::error("empty-file", "the file is empty")
            .at(At::file(&spec.file))
            .help("copy it again from where it came"));
    }
    Ok((stream, input))
}

/// A file that cannot be read to its end.
fn unreadable(spec: &ImportSpec, error: &std::io::Error) -> Diagnostic {
    Diagnostic::error(
        "unreadable-file",
        format!("the file cannot be read: {error}"),
    )
    .at(At::file(&spec.file))
    .help("copy it again from where it came")
}
