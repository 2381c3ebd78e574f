//! From a typed SOURCE to a surface.

use std::path::{Path, PathBuf};

use crate::design::lay;
use crate::diag::{At, Diagnostic, Failure};
use crate::export::{Named, State};
use crate::files::{Files, Input};
use crate::geom::{Origin, P3};
use crate::job::{
    Duplicates, GroundSpec, ImportKind, ImportSpec, Job, Limits, Place, PlaceList, PlaceListWord,
    SurveyKind,
};
use crate::show::Show;
use crate::surface::Surface;
use crate::survey::{Sources, Survey};
use crate::terrain::{LeaveOut, NotTrusted, Terrain, Trust, build, doubts};
use crate::units::LengthUnit;

use super::args::{DecimalWord, DuplicatesWord, Reading, UnitWord};
use super::disk::{Disk, Example};
use super::held::Held;
use super::stages::Stages;

/// A surface with where it lies and what was doubtful about it.
pub(super) struct Loaded {
    pub(super) name: String,
    pub(super) surface: Kind,
    /// The shots it rests on, if it rests on shots.
    pub(super) survey: Option<Survey>,
    pub(super) diagnostics: Vec<Diagnostic>,
    /// For measured ground.
    pub(super) trust: Option<Result<Trust, NotTrusted>>,
    /// What its labels mean and which lines it follows, for other programs.
    pub(super) told: Told,
}

/// What a surface says of itself when it leaves.
#[derive(Clone, Debug)]
pub(super) struct Told {
    pub(super) labels: Vec<Named>,
    pub(super) breaklines: Vec<Vec<P3>>,
    pub(super) state: State,
    /// Files it was made from, which are not to be written over.
    pub(super) made_from: Vec<PathBuf>,
}

impl Told {
    /// Measured ground with these lines, from files in a folder.
    fn ground(breaklines: Vec<Vec<P3>>, folder: &str, inputs: &[Input]) -> Told {
        Told {
            labels: vec![Named::ground()],
            breaklines,
            state: State::Existing,
            made_from: paths(folder, inputs),
        }
    }

    /// A level or a plane, which nobody measured.
    fn plane() -> Told {
        Told {
            state: State::Proposed,
            ..Told::ground(Vec::new(), "", &[])
        }
    }
}

fn paths(folder: &str, inputs: &[Input]) -> Vec<PathBuf> {
    let path = |input: &Input| Path::new(folder).join(&input.file);
    inputs.iter().map(path).collect()
}

/// What ground says of its own shots, and how far it is to be trusted.
fn judged(
    survey: &Survey,
    spec: &GroundSpec,
    terrain: &Terrain,
    show: Show,
    soil_m: f64,
) -> (Vec<Diagnostic>, Result<Trust, NotTrusted>) {
    let left_out = LeaveOut::of(terrain);
    (
        doubts(survey, spec, terrain, &left_out, show, soil_m),
        Trust::of(terrain, survey, &left_out, soil_m),
    )
}

impl Loaded {
    /// A level, metres, as wide as the surfaces it is aligned with.
    pub(super) fn level(name: &str, z0_m: f64) -> Loaded {
        Loaded {
            name: name.to_owned(),
            surface: Kind::Plane {
                z0_m,
                east: 0.0,
                north: 0.0,
            },
            survey: None,
            diagnostics: Vec::new(),
            trust: None,
            told: Told::plane(),
        }
    }
}

/// A surface, or a plane that takes its extent from another surface.
pub(super) enum Kind {
    Surface {
        surface: Box<Surface>,
        origin: Origin,
    },
    Plane {
        z0_m: f64,
        east: f64,
        north: f64,
    },
}

/// The job folder and the surface of it that a SOURCE names, if it does.
fn job_of(source: &str) -> Option<(&str, &str)> {
    let (job, which) = source.rsplit_once(':')?;
    ["ground", "design", "dug", "built"]
        .contains(&which)
        .then_some((job, which))
}

/// What a SOURCE holds if it is a file of another program.
fn import_kind(source: &str) -> Option<ImportKind> {
    let file = source.rsplit_once('#').map_or(source, |(file, _)| file);
    match ImportKind::of_name(file) {
        // Only these hold several surfaces by name.
        Some(ImportKind::Surface) => Some(ImportKind::Surface),
        _ => ImportKind::of_name(source),
    }
}

/// What a surface is called where its job is known: `ground` of `yard:ground`.
pub(super) fn short_name(source: &str) -> &str {
    job_of(source).map_or(source, |(_, which)| which)
}

/// True if a SOURCE is a surface of a job folder.
pub(super) fn is_job(source: &str) -> bool {
    job_of(source).is_some()
}

/// The reading for these sources: typed numbers and answers are in the unit of the first job
/// among them, unless the command line names one.
///
/// # Errors
///
/// options that say how a file is read, where there is no file; a job that cannot be read
pub(super) fn for_sources(reading: &Reading, sources: &[&str]) -> Result<Reading, Failure> {
    let is_file =
        |s: &&str| job_of(s).is_none() && !s.starts_with("level:") && !s.starts_with("plane:");
    let unused = [
        ("--columns", !reading.columns.is_empty()),
        ("--decimal", reading.decimal == DecimalWord::Comma),
        ("--pace", reading.pace.is_some()),
        ("--breaklines", reading.breaklines.is_some()),
        ("--outline", reading.outline.is_some()),
        ("--max-edge", reading.max_edge.is_some()),
        ("--rod", reading.rod.is_some()),
        ("--benchmark", reading.benchmark.is_some()),
        ("--backsight", reading.backsight.is_some()),
        ("--corner", !reading.corner.is_empty()),
        ("--distance", !reading.distance.is_empty()),
        ("--tapes", reading.tapes.is_some()),
        ("--tape-error", reading.tape_error.is_some()),
        ("--side", reading.side.is_some()),
        ("--baseline", reading.baseline.is_some()),
        ("--spacing", !reading.spacing.is_empty()),
    ];
    if let Some((option, _)) = unused.iter().find(|(_, is_given)| *is_given)
        && !sources.iter().any(is_file)
    {
        return Err(Diagnostic::error(
            "no-file-to-read",
            format!("{option} says how a file is read, but no source is a file"),
        )
        .help("a job says in its job.toml how its files are read")
        .into());
    }
    let imports: Vec<ImportKind> = sources.iter().filter_map(|s| import_kind(s)).collect();
    if let Some((option, _)) = reading.cloud_options().iter().find(|(_, is)| *is)
        && !imports.contains(&ImportKind::Cloud)
    {
        return Err(Diagnostic::error(
            "no-cloud-to-read",
            format!("{option} says how a point cloud is read, but no source is one"),
        )
        .help("a point cloud is a .las, .laz or .xyz file")
        .into());
    }
    if reading.height_error.is_some() && imports.is_empty() {
        let message = "--height-error is for point clouds, elevation grids and surfaces";
        return Err(Diagnostic::error("no-file-to-read", message)
            .help("the accuracy of shots is `shot_height` in the [limits] of a job")
            .into());
    }
    let mut reading = reading.clone();
    if let (None, Some((job, _))) = (reading.units, sources.iter().find_map(|s| job_of(s))) {
        let disk = Disk::new(job);
        let files: &dyn Files = if job.is_empty() { &Example } else { &disk };
        let (job, _) = crate::run::read_job(files)?;
        reading.units = Some(match job.units {
            LengthUnit::Metre => UnitWord::M,
            LengthUnit::Foot => UnitWord::Ft,
            LengthUnit::UsSurveyFoot => UnitWord::UsFt,
        });
        reading.units_of_job = true;
    }
    Ok(reading)
}

/// Reads a SOURCE.
///
/// # Errors
///
/// in words: what cannot be read, and what to type instead
pub(super) fn load(
    source: &str,
    reading: &Reading,
    stages: &mut Stages,
) -> Result<Loaded, Failure> {
    match job_of(source) {
        Some((folder, which)) => load_job(source, which, Measured::read(folder, stages)?, stages),
        None => load_other(source, reading, stages),
    }
}

/// Reads several SOURCEs; a job that several of them name is measured once.
///
/// # Errors
///
/// as [`load`]
pub(super) fn load_all(
    sources: &[&str],
    reading: &Reading,
    stages: &mut Stages,
) -> Result<Vec<Loaded>, Failure> {
    let mut known: Vec<Measured> = Vec::new();
    let mut loaded = Vec::with_capacity(sources.len());
    for (k, source) in sources.iter().enumerate() {
        let Some((folder, which)) = job_of(source) else {
            loaded.push(load_other(source, reading, stages)?);
            continue;
        };
        let of_folder = |measured: &Measured| measured.folder == folder;
        let measured = match known.iter().position(of_folder) {
            Some(at) => known.swap_remove(at),
            None => Measured::read(folder, stages)?,
        };
        let mut later = sources[k + 1..].iter().filter_map(|s| job_of(s));
        if later.any(|(other, _)| other == folder) {
            known.push(measured.clone());
        }
        loaded.push(load_job(source, which, measured, stages)?);
    }
    Ok(loaded)
}

/// A level, a plane, or a file.
fn load_other(source: &str, reading: &Reading, stages: &mut Stages) -> Result<Loaded, Failure> {
    let typed = || At::cell("command line", 0, "SOURCE", source);
    let number = |text: &str| text.trim().parse::<f64>().ok().filter(|n| n.is_finite());
    if let Some(rest) = source.strip_prefix("level:") {
        let z = number(rest).ok_or_else(|| {
            Failure::from(
                Diagnostic::error("bad-level", "a level is level:Z")
                    .at(typed())
                    .help("write for example level:100"),
            )
        })?;
        return Ok(Loaded::level(source, reading.z_unit().to_m(z)));
    }
    if let Some(rest) = source.strip_prefix("plane:") {
        let parts: Vec<Option<f64>> = rest.split(',').map(number).collect();
        let &[Some(z0), Some(east), Some(north)] = parts.as_slice() else {
            return Err(Diagnostic::error("bad-plane", "a plane is plane:Z0,DX,DY")
                .at(typed())
                .help("Z0 is its height at 0,0; DX and DY its rise per unit east and north: plane:101,-0.02,0")
                .into());
        };
        // Rise per unit: of height units for one plan unit.
        let ratio = reading.z_unit().metres() / reading.unit().metres();
        return Ok(Loaded {
            name: source.to_owned(),
            surface: Kind::Plane {
                z0_m: reading.z_unit().to_m(z0),
                east: east * ratio,
                north: north * ratio,
            },
            survey: None,
            diagnostics: Vec::new(),
            trust: None,
            told: Told::plane(),
        });
    }
    load_file(source, reading, stages)
}

/// A job up to its ground.
#[derive(Clone)]
struct Measured {
    folder: String,
    job: Job,
    survey: Survey,
    terrain: Terrain,
    diagnostics: Vec<Diagnostic>,
}

/// Files of a job folder; an empty one is the built-in example.
fn files_of(folder: &str) -> Box<dyn Files> {
    match folder.is_empty() {
        true => Box::new(Example),
        false => Box::new(Disk::new(folder)),
    }
}

impl Measured {
    fn read(folder: &str, stages: &mut Stages) -> Result<Measured, Failure> {
        let files = &*files_of(folder);
        let (job, mut diagnostics) = stages.time("read", || crate::run::read_job(files))?;
        let (survey, more) = stages.time("read", || Survey::of(&job, files))?;
        diagnostics.extend(more);
        let (terrain, more) = stages.time("build", || build(&survey, &job.ground))?;
        diagnostics.extend(more);
        Ok(Measured {
            folder: folder.to_owned(),
            job,
            survey,
            terrain,
            diagnostics,
        })
    }
}

/// A surface of a job folder.
fn load_job(
    source: &str,
    which: &str,
    measured: Measured,
    stages: &mut Stages,
) -> Result<Loaded, Failure> {
    let Measured {
        folder,
        job,
        survey,
        terrain,
        mut diagnostics,
    } = measured;
    let folder = &*folder;
    let mut trust = None;
    let mut told = Told::ground(terrain.breaklines.clone(), folder, &survey.inputs);
    told.made_from.push(Path::new(folder).join("job.toml"));
    let surface = if which == "ground" {
        let (show, soil_m) = (Show::new(job.units), job.limits.shot_height_m);
        let (more, map) = stages.time("judge", || {
            judged(&survey, &job.ground, &terrain, show, soil_m)
        });
        diagnostics.extend(more);
        trust = Some(map);
        terrain.surface
    } else {
        let (design, more) = stages.time("design", || {
            lay(&job, &survey, &terrain, &*files_of(folder))
        })?;
        diagnostics.extend(more);
        told.labels = crate::report::names(&design);
        for feature in &design.features {
            told.made_from.extend(paths(folder, &feature.laid.inputs));
        }
        told.state = State::Proposed;
        match which {
            "built" => design.to_build().clone(),
            "dug" => design.soil().clone(),
            _ => design.surface,
        }
    };
    Ok(Loaded {
        name: source.to_owned(),
        surface: Kind::Surface {
            surface: Box::new(surface),
            origin: terrain.origin,
        },
        survey: Some(survey),
        diagnostics,
        trust,
        told,
    })
}

fn load_file(source: &str, reading: &Reading, stages: &mut Stages) -> Result<Loaded, Failure> {
    let files = Disk::new("");
    if Path::new(source).is_dir() {
        return Err(Diagnostic::error("folder", "this is a folder")
            .at(At::file(source))
            .help(format!(
                "for a job folder write {source}:ground, {source}:design, {source}:dug or {source}:built"
            ))
            .into());
    }
    let ending = Path::new(source)
        .extension()
        .map(|e| e.to_string_lossy().to_lowercase())
        .unwrap_or_default();
    if ["gz", "zip", "7z"].contains(&ending.as_str()) {
        return Err(
            Diagnostic::error("packed", format!(".{ending} files are not unpacked"))
                .at(At::file(source))
                .help("unpack it and name the file in it; a .laz is read as it is")
                .into(),
        );
    }
    let imported = import_kind(source).map(|kind| reading.import(source, kind));
    let imports: Vec<ImportSpec> = imported.transpose()?.into_iter().collect();
    let mut granted = None;
    let mut specs = Vec::new();
    let mut held: &dyn Files = &files;
    let first;
    if imports.is_empty() {
        first = stages.time("read", || Held::read(&files, source))?;
        let kind = first.kind(reading);
        granted = reading.taken_for_granted(source, &kind);
        specs.push(reading.spec(source, kind)?);
        held = &first;
    }
    let named_code = |option: &Option<String>| {
        option
            .as_deref()
            .and_then(|o| o.strip_prefix("code:"))
            .map(str::to_owned)
    };
    let file_of = |option: &Option<String>| {
        option
            .as_deref()
            .filter(|o| !o.starts_with("code:"))
            .map(str::to_owned)
    };
    for file in [file_of(&reading.breaklines), file_of(&reading.outline)]
        .into_iter()
        .flatten()
    {
        let plain = Reading {
            columns: Vec::new(),
            ..reading.clone()
        };
        specs.push(plain.spec(&file, SurveyKind::Points)?);
    }
    let control = reading.control(specs.first().map_or(reading.unit(), |spec| spec.units))?;
    let (survey, mut diagnostics) = stages.time("read", || {
        Survey::read_with(
            &Sources {
                surveys: &specs,
                imports: &imports,
                control: Some(&control),
                ..Sources::default()
            },
            held,
        )
    })?;
    diagnostics.extend(granted);
    let by_code = |code: String, option: &str| PlaceList {
        at: At::cell("command line", 0, option, format!("code:{code}")),
        word: PlaceListWord::Code(code),
    };
    let spec = GroundSpec {
        outline: match (named_code(&reading.outline), file_of(&reading.outline)) {
            (Some(code), _) => Some(by_code(code, "--outline")),
            (None, Some(file)) => lines_of(&survey, &file, "--outline", true).pop(),
            (None, None) => None,
        },
        holes: Vec::new(),
        breaklines: match (
            named_code(&reading.breaklines),
            file_of(&reading.breaklines),
        ) {
            (Some(code), _) => vec![by_code(code, "--breaklines")],
            (None, Some(file)) => lines_of(&survey, &file, "--breaklines", false),
            (None, None) => Vec::new(),
        },
        max_edge_m: reading.max_edge.map(|l| reading.unit().to_m(l)),
        duplicates: match reading.duplicates {
            DuplicatesWord::Refuse => Duplicates::Refuse,
            DuplicatesWord::First => Duplicates::First,
            DuplicatesWord::Mean => Duplicates::Mean,
        },
        ..GroundSpec::default()
    };
    let (terrain, more) = stages.time("build", || build(&survey, &spec))?;
    diagnostics.extend(more);
    let (show, soil_m) = (Show::new(reading.z_unit()), Limits::default().shot_height_m);
    let (more, trust) = stages.time("judge", || judged(&survey, &spec, &terrain, show, soil_m));
    diagnostics.extend(more);
    let told = Told::ground(terrain.breaklines, "", &survey.inputs);
    Ok(Loaded {
        name: source.to_owned(),
        surface: Kind::Surface {
            surface: Box::new(terrain.surface),
            origin: terrain.origin,
        },
        survey: Some(survey),
        diagnostics,
        trust: Some(trust),
        told,
    })
}

/// Lines of a points file: one for every run of rows with the same code, or all as one.
fn lines_of(survey: &Survey, file: &str, option: &str, is_one: bool) -> Vec<PlaceList> {
    let shots: Vec<_> = survey.shots.iter().filter(|s| s.at.file == file).collect();
    let (x, y) = (
        survey.origin.x_m * 1_000_000_000,
        survey.origin.y_m * 1_000_000_000,
    );
    shots
        .chunk_by(|a, b| is_one || a.code == b.code)
        .map(|run| PlaceList {
            at: At::cell(file, run[0].at.line, option, run[0].code.clone()),
            word: PlaceListWord::Places(
                run.iter()
                    .map(|s| Place::Coordinates(s.p.x + x, s.p.y + y))
                    .collect(),
            ),
        })
        .collect()
}
