//! Files of other programs: elevation grids and surfaces, against independent results, other
//! libraries' readings, closed forms, and what must be refused in words.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod common;
#[path = "imports/grids.rs"]
mod grids;
#[path = "imports/mangled.rs"]
mod mangled;
#[path = "imports/surfaces.rs"]
mod surfaces;

use cutbank::diag::{Diagnostic, Failure, Level};
use cutbank::import::{Content, Faces, Import, read};
use cutbank::job::{ImportKind, ImportSpec};
use cutbank::surface::Surface;
use cutbank::units::LengthUnit;

use common::{Folder, close};
use serde_json::Value;

/// A file of this name read the usual way, lengths in metres where it is silent.
fn spec(file: &str) -> ImportSpec {
    let kind = ImportKind::of_name(file).unwrap();
    ImportSpec::new(kind, file, LengthUnit::Metre)
}

/// Reads bytes under a name.
fn import(file: &str, bytes: &[u8]) -> Result<(Import, Vec<Diagnostic>), Failure> {
    read(&spec(file), &Folder::default().with_bytes(file, bytes))
}

/// Reads what must be read; its account must add up.
fn good(spec: &ImportSpec, folder: &Folder) -> (Import, Vec<Diagnostic>) {
    let (import, said) =
        read(spec, folder).unwrap_or_else(|fault| panic!("{}: {fault}", spec.file));
    adds_up(&import);
    (import, said)
}

/// What was read is what was kept and what was left out.
fn adds_up(import: &Import) {
    let facts = &import.facts;
    let left_out: u64 = facts.left_out.iter().map(|l| l.count).sum();
    assert_eq!(facts.read, facts.kept + left_out, "{facts:?}");
}

/// The faces of an import, and the surface they make.
fn faces(import: &Import) -> (&Faces, Surface) {
    let Content::Faces(faces) = &import.content else {
        panic!("{} has points, no faces", import.source);
    };
    let surface = Surface::from_triangles(faces.vertices.clone(), &faces.triangles, 0).unwrap();
    surface.check_consistent().unwrap();
    (faces, surface)
}

/// How many were left out for a reason.
fn left_out(import: &Import, why: &str) -> u64 {
    let reasons = import.facts.left_out.iter();
    reasons
        .filter(|l| l.why.contains(why))
        .map(|l| l.count)
        .sum()
}

/// The words of a refusal, which must name the file and say what to do.
fn refusal(file: &str, result: Result<(Import, Vec<Diagnostic>), Failure>) -> String {
    let Err(Failure(said)) = result else {
        panic!("{file} was read");
    };
    assert!(said.iter().any(|d| d.level == Level::Error), "{file}");
    for d in &said {
        assert!(d.at.iter().all(|at| at.file == file), "{d}");
        assert!(!d.at.is_empty() && !d.help.is_empty(), "{d}");
    }
    Failure(said).to_string()
}

/// Panics unless words are said.
#[track_caller]
fn says(text: &str, words: &[&str]) {
    for word in words {
        assert!(text.contains(word), "{word:?} is not said in: {text}");
    }
}

/// Everything said, in one text.
fn all(said: &[Diagnostic]) -> String {
    said.iter().map(|d| format!("{d}\n")).collect()
}

/// Share by which results of the same triangles may differ.
const SAME: f64 = 1.0e-9;

/// Holds a surface against results for the same triangles, computed apart from this program.
fn hold_measures(surface: &Surface, measures: &Value, level_m: f64) {
    let facts = surface.facts().unwrap();
    for (what, got) in [
        ("plan_area", facts.area_m2),
        ("surface_area_3d", facts.surface_area_m2),
        ("volume_above_z_ref", surface.volume_above_m3(level_m)),
        (
            "slope_mean_plan_area_weighted",
            facts.mean_slope_rise_per_run,
        ),
        ("slope_max", facts.max_slope_rise_per_run),
    ] {
        close(what, got, measures[what].as_f64().unwrap(), SAME);
    }
}
