//! The option `--export`: what an answer was computed from, as a file for other programs.
//!
//! Takes surfaces and lines of a command, writes the file its ending asks for. What cannot be
//! written is said before anything is computed.

use std::path::{Path, PathBuf};

use crate::diag::{At, Diagnostic, Failure};
use crate::export::{Drawn, Format, Leaving, Parcel, files, write_geojson};
use crate::files::{Content, Files as _};
use crate::geom::Origin;
use crate::report::taken_away;
use crate::surface::Surface;
use crate::survey::Survey;
use crate::units::LengthUnit;

use super::disk::Disk;
use super::source::{Told, short_name};
use super::whole::write_files;

/// A file to export to, with the format its ending says.
#[derive(Clone, Debug)]
pub(super) struct Export {
    file: String,
    format: Format,
}

/// Draws what the ground filter took away from the first cloud it was used on.
///
/// # Errors
///
/// no filter was used; what cannot be written
pub(super) fn write_taken_away(
    file: &str,
    survey: Option<&Survey>,
    unit: LengthUnit,
) -> Result<(), Failure> {
    let refused = |words: &str| {
        Diagnostic::error("bad-export", format!("{file} is not written: {words}")).at(At::cell(
            "command line",
            0,
            "--taken-away",
            file,
        ))
    };
    let pictures = survey.map_or_else(Vec::new, |survey| taken_away(survey, unit));
    let Some(svg) = pictures.into_iter().next() else {
        return Err(
            refused("no ground filter was used, so nothing was taken away")
                .help("leave the option out, or say --ground-filter always")
                .into(),
        );
    };
    let content: Content = Box::new(move |out| out.write_all(svg.as_bytes()));
    write_files(&[(file.to_owned(), content)]).map_err(|words| {
        refused(&words)
            .help("name another file, or make room")
            .into()
    })
}

impl Export {
    /// What was typed, if anything was.
    ///
    /// # Errors
    ///
    /// an ending that is no format
    pub(super) fn of(typed: Option<&str>) -> Result<Option<Export>, Failure> {
        let Some(file) = typed else { return Ok(None) };
        let format = Format::of_name(file).ok_or_else(|| {
            let endings: Vec<String> = Format::ENDINGS.map(|e| format!(".{e}")).to_vec();
            refused(file, "the ending of this name is no format that is written").help(format!(
                "let it end in {}: LandXML, glTF, GeoJSON or CSV",
                endings.join(", ")
            ))
        })?;
        Ok(Some(Export {
            file: file.to_owned(),
            format,
        }))
    }

    /// The same where the answer is lines.
    ///
    /// # Errors
    ///
    /// an ending other than that of GeoJSON
    pub(super) fn of_lines(typed: Option<&str>) -> Result<Option<Export>, Failure> {
        let export = Export::of(typed)?;
        match &export {
            Some(Export { file, format }) if *format != Format::GeoJson => {
                Err(refused(file, "lines are written as GeoJSON only")
                    .help(
                        "let the name end in .geojson; for a table of the lines take --format csv",
                    )
                    .into())
            }
            _ => Ok(export),
        }
    }

    /// Writes surfaces of one frame; gives the names of the files.
    ///
    /// # Input
    ///
    /// what each surface says of itself, in the same order
    /// # Errors
    ///
    /// in words; then nothing is left behind
    pub(super) fn surfaces(
        &self,
        surfaces: &[(String, Surface)],
        told: Vec<Told>,
        origin: Origin,
        unit: LengthUnit,
    ) -> Result<Vec<String>, Failure> {
        let made_from: Vec<PathBuf> = told.iter().flat_map(|t| t.made_from.clone()).collect();
        let is_short_unique = surfaces.iter().enumerate().all(|(k, (name, _))| {
            let rest = &surfaces[k + 1..];
            rest.iter().all(|(n, _)| short_name(n) != short_name(name))
        });
        let leaving = surfaces.iter().zip(told).map(|((name, surface), told)| {
            let name = if is_short_unique {
                short_name(name)
            } else {
                name
            };
            Leaving {
                name: name.to_owned(),
                surface,
                labels: told.labels,
                breaklines: told.breaklines,
                state: told.state,
            }
        });
        let parcel = Parcel {
            origin,
            surfaces: leaving.collect(),
            unit,
            date: Disk::new("").today(),
        };
        let files = files(&parcel, self.format, &self.file);
        for (name, _) in &files {
            let is_here = |path: &PathBuf| is_same_file(path, Path::new(name));
            if made_from.iter().any(is_here) {
                let words = format!("{name} is what the surface was made from");
                return Err(refused(&self.file, &words)
                    .help("name another file with --export")
                    .into());
            }
        }
        self.write(files)
    }

    /// Writes lines; gives the name of the file.
    ///
    /// # Errors
    ///
    /// as [`Export::surfaces`]
    pub(super) fn lines(&self, origin: Origin, drawn: &[Drawn]) -> Result<Vec<String>, Failure> {
        let content: Content = Box::new(|out| write_geojson(origin, drawn, out));
        self.write(vec![(self.file.clone(), content)])
    }

    fn write(&self, files: Vec<(String, Content)>) -> Result<Vec<String>, Failure> {
        write_files(&files).map_err(|words| {
            refused(&self.file, &words)
                .help("nothing was written; name another file with --export, or make room")
        })?;
        Ok(files.into_iter().map(|(name, _)| name).collect())
    }

    /// What was written, for people.
    pub(super) fn words(&self, written: &[String]) -> String {
        format!(
            "written: {} ({})\n",
            written.join(", "),
            self.format.words()
        )
    }
}

/// True if both names lead to one file that is there.
fn is_same_file(one: &Path, other: &Path) -> bool {
    let place = |path: &Path| path.canonicalize().ok();
    place(one).is_some_and(|one| place(other) == Some(one))
}

fn refused(file: &str, words: &str) -> Diagnostic {
    Diagnostic::error("cannot-write", words).at(At::cell("command line", 0, "--export", file))
}
