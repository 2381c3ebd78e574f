//! From a job and its files to an [`Outcome`]: the only place that knows the order.

use crate::checks::{Context, cautions, check, check_access};
use crate::design::{Design, lay, place_keep_offs, read_features};
use crate::diag::{At, Diagnostic, Failure, has_error};
use crate::earthwork::{
    Lift, Soil, balance, by_sections, extents, layer_quantities, lifts, volumes, works,
};
use crate::files::{Files, Input, Workers};
use crate::geom::{Point, Ring};
use crate::job::{Job, read_partly};
use crate::outcome::{Answers, Base, Outcome, VisitOutcome};
use crate::section::{sections, stream_profiles};
use crate::show::Show;
use crate::surface::{Label, cut_fill_without};
use crate::survey::{Brought, PlacedShot, Survey};
use crate::terrain::{GROUND, LeaveOut, Relief, Terrain, Trust, build, doubts};
use crate::units::{BankVolume, TampedVolume};

/// Name of the job file in its folder.
pub const JOB_FILE: &str = "job.toml";

/// Reads the job file through `files`, the features' own entries and the soil included.
///
/// # Errors
///
/// everything that is wrong with it
pub fn read_job(files: &dyn Files) -> Result<(Job, Vec<Diagnostic>), Failure> {
    let (job, diagnostics) = read_entries(files)?;
    if has_error(&diagnostics) {
        Err(Failure(diagnostics))
    } else {
        Ok((job, diagnostics))
    }
}

/// The job as far as it can be read, and all that is said of it, by line.
fn read_entries(files: &dyn Files) -> Result<(Job, Vec<Diagnostic>), Failure> {
    job_from(&job_text(files)?)
}

/// The text of the job file.
pub(crate) fn job_text(files: &dyn Files) -> Result<String, Failure> {
    let bytes = files.read(JOB_FILE).map_err(|words| {
        Failure::from(
            Diagnostic::error("no-job", words)
                .at(At::file(JOB_FILE))
                .help("name a folder with a job.toml; `cutbank new DIR` makes one"),
        )
    })?;
    String::from_utf8(bytes).map_err(|e| {
        let good = &e.as_bytes()[..e.utf8_error().valid_up_to()];
        let line = good.iter().filter(|b| **b == b'\n').count() + 1;
        Failure::from(
            Diagnostic::error("not-utf-8", "the job file is not UTF-8 text")
                .at(At::line(JOB_FILE, line))
                .help("save it as UTF-8"),
        )
    })
}

/// The same from its text.
pub(crate) fn job_from(text: &str) -> Result<(Job, Vec<Diagnostic>), Failure> {
    let (job, mut diagnostics) = read_partly(JOB_FILE, text)?;
    if let Err(Failure(more)) = read_features(&job) {
        diagnostics.extend(more);
    }
    diagnostics.extend(Soil::from_spec(&job.soil).err());
    diagnostics.sort_by_key(|d| d.at.first().map_or(0, |at| at.line));
    Ok((job, diagnostics))
}

/// Reads a job and its survey, and says everything that is wrong; computes nothing.
///
/// # Errors
///
/// the faults
pub fn check_job(files: &dyn Files) -> Result<Vec<Diagnostic>, Failure> {
    let (job, mut diagnostics) = read_entries(files)?;
    if job.surveys.is_empty() && job.imports.is_empty() {
        // Told by the reader of the job: no survey, or none that says which file it is.
        return Err(Failure(diagnostics));
    }
    match Survey::of(&job, files) {
        Err(Failure(more)) => diagnostics.extend(more),
        Ok((survey, more)) if survey.visit.is_some() && job.features.is_empty() => {
            diagnostics.extend(more);
            let message = "no shot has a place: the job tells levels and slopes, and no ground";
            diagnostics.push(
                Diagnostic::note("visit", message)
                    .at(At::file(JOB_FILE))
                    .help("give shots x and y, or tapes from two corners, to get a ground"),
            );
        }
        Ok((survey, more)) => {
            diagnostics.extend(more);
            diagnostics.extend(survey.few_shots());
            match place_keep_offs(&job, &survey) {
                Ok(places) => diagnostics.extend(check_access(&job, &survey, &places).err()),
                Err(fault) => diagnostics.push(fault),
            }
            for feature in read_features(&job).unwrap_or_default() {
                feature.shape.check(&survey, &mut diagnostics);
            }
            let ground = &job.ground;
            let one = |line| vec![line];
            let areas = ground.holes.iter().chain(&ground.no_data);
            let meant = (ground
                .outline
                .iter()
                .map(|p| (survey.line(p).map(one), true)))
            .chain(areas.map(|p| (survey.lines(p), true)))
            .chain(ground.breaklines.iter().map(|p| (survey.lines(p), false)))
            .chain(job.sections.iter().map(|section| {
                let line = survey.resolve(&section.line);
                (line.map(|line| one((line, section.line.at.clone()))), false)
            }));
            for (lines, is_ring) in meant {
                match lines {
                    Ok(lines) => diagnostics.extend(
                        lines
                            .iter()
                            .filter_map(|(line, at)| unusable(line, at, is_ring)),
                    ),
                    Err(diagnostic) => diagnostics.push(diagnostic),
                }
            }
        }
    }
    if has_error(&diagnostics) {
        Err(Failure(diagnostics))
    } else {
        Ok(diagnostics)
    }
}

/// What is wrong with a line or an outline, if anything.
fn unusable(line: &[PlacedShot], at: &At, is_ring: bool) -> Option<Diagnostic> {
    let points: Vec<Point> = line.iter().map(|place| place.p).collect();
    let fault = if is_ring {
        Ring::new(&points).err()?.to_string()
    } else if points.windows(2).all(|pair| pair[0] == pair[1]) {
        "it needs two different places".to_owned()
    } else {
        return None;
    };
    Some(
        Diagnostic::error("bad-line", format!("this line is not usable: {fault}"))
            .at(at.clone())
            .help("list the places in walking order, each once"),
    )
}

/// What a job has an answer to.
#[derive(Debug)]
pub enum Answer {
    /// A yard: its shots have places.
    Yard(Box<Outcome>),
    /// A quick visit: levels of named points, and no work to be laid.
    Visit(Box<VisitOutcome>),
}

/// Runs a job as far as its survey goes: with places to an outcome, without to a visit.
///
/// # Errors
///
/// as [`run`]; a job without places that lays features
pub fn answer(job: Job, files: &dyn Files, workers: &dyn Workers) -> Result<Answer, Failure> {
    let (mut survey, diagnostics) = Survey::of(&job, files)?;
    match survey.visit.take() {
        Some(visit) if job.features.is_empty() => {
            let inputs = inputs(&job, &survey);
            Ok(Answer::Visit(Box::new(VisitOutcome {
                date: files.today(),
                job,
                survey,
                visit,
                diagnostics,
                inputs,
            })))
        }
        _ => yard(job, survey, diagnostics, files, workers)
            .map(|outcome| Answer::Yard(Box::new(outcome))),
    }
}

/// Runs a job.
///
/// # Errors
///
/// what keeps it from running, every fault found up to there; shots without places among them
pub fn run(job: Job, files: &dyn Files, workers: &dyn Workers) -> Result<Outcome, Failure> {
    let (survey, diagnostics) = Survey::of(&job, files)?;
    yard(job, survey, diagnostics, files, workers)
}

/// Everything after the survey.
fn yard(
    job: Job,
    survey: Survey,
    diagnostics: Vec<Diagnostic>,
    files: &dyn Files,
    workers: &dyn Workers,
) -> Result<Outcome, Failure> {
    Soil::from_spec(&job.soil)?;
    let base = Base::of(&job, survey, diagnostics)?;
    let (design, said) = lay(&job, &base.survey, &base.terrain, files)?;
    let answers = Answers::of(&job, &base.survey, &base.terrain, &design, workers)?;
    Ok(Outcome::of(job, base, design, said, answers, files.today()))
}

impl Base {
    /// The ground of a survey, and what can be said of it.
    ///
    /// # Errors
    ///
    /// what keeps the ground from being built
    pub(crate) fn of(
        job: &Job,
        survey: Survey,
        mut diagnostics: Vec<Diagnostic>,
    ) -> Result<Base, Failure> {
        let (terrain, more) = build(&survey, &job.ground)?;
        diagnostics.extend(more);
        let left_out = LeaveOut::of(&terrain);
        let (show, soil_m) = (Show::new(job.units), job.limits.shot_height_m);
        diagnostics.extend(doubts(
            &survey,
            &job.ground,
            &terrain,
            &left_out,
            show,
            soil_m,
        ));
        let trust = Trust::of(&terrain, &survey, &left_out, soil_m);
        let (ground_facts, relief) = terrain
            .surface
            .facts()
            .zip(Relief::of(&terrain.surface, Some(&survey)))
            .ok_or_else(|| Failure::from(Diagnostic::error("no-ground", "there is no ground")))?;
        Ok(Base {
            survey,
            terrain,
            trust,
            ground_facts,
            relief,
            diagnostics,
        })
    }
}

impl Answers {
    /// What a design means on its ground.
    ///
    /// # Errors
    ///
    /// an unknown soil, a keep-off or a section whose places do not exist
    pub(crate) fn of(
        job: &Job,
        survey: &Survey,
        terrain: &Terrain,
        design: &Design,
        workers: &dyn Workers,
    ) -> Result<Answers, Failure> {
        let soil = Soil::from_spec(&job.soil)?;
        let layers = layer_quantities(design, workers);
        let count = |surface| volumes(&terrain.surface, surface, design, &layers, workers);
        let finished = count(design.soil());
        let to_build = match &design.built {
            Some(built) => count(built),
            None => finished.clone(),
        };
        let found = cut_fill_without(
            GROUND,
            &terrain.surface,
            0.0,
            design.to_build(),
            None,
            workers,
        );
        let lifts = all_lifts(terrain, design);
        let extents = extents(design, &design.surface, &found);
        let works = works(&terrain.surface, design);
        let changed: Vec<Point> = design
            .to_build()
            .facets()
            .filter(|&f| design.to_build().label(f) != GROUND)
            .flat_map(|f| design.to_build().corners(f))
            .map(|c| c.p)
            .collect();
        // Sections know no ground that is lower wherever something is touched.
        let second = match design.strip_touched.is_empty() {
            true => {
                let ground = design.stripped.as_ref().unwrap_or(&terrain.surface);
                by_sections(ground, design.to_build(), &changed)
            }
            false => None,
        };
        let height_m = height_uncertainty_m(job, survey, terrain.num_shots);
        let balance = balance(
            &soil,
            BankVolume::from_m3(to_build.cut_m3 - to_build.strip_m3),
            TampedVolume::from_m3(to_build.fill_m3 - to_build.other_fill_m3),
            to_build.cut_area_m2,
            to_build.fill_area_m2,
            height_m,
        );
        let context = Context {
            job,
            survey,
            terrain,
            design,
            soil: &soil,
            to_build: &to_build,
            extents: &extents,
            workers,
        };
        let checked = check(&context)?;
        let cautions = cautions(&context, &checked.findings);
        let sections = sections(job, survey, terrain, design)?;
        let profiles = stream_profiles(terrain, design);
        let mut inputs = inputs(job, survey);
        inputs.extend(design.features.iter().flat_map(|f| f.laid.inputs.clone()));
        Ok(Answers {
            soil,
            finished,
            to_build,
            layers,
            extents,
            works,
            lifts,
            second,
            balance,
            height_m,
            findings: checked.findings,
            walls: checked.walls,
            keep_offs: checked.keep_offs,
            rules: checked.rules,
            drainage: checked.drainage,
            access: checked.access,
            wall_works: checked.wall_works,
            cautions,
            sections,
            profiles,
            inputs,
        })
    }
}

/// The fills that are tamped in layers, layer by layer.
fn all_lifts(terrain: &Terrain, design: &Design) -> Vec<(String, Vec<Lift>)> {
    let ground = design.stripped.as_ref().unwrap_or(&terrain.surface);
    let built = design.to_build();
    let features = design.features.iter().enumerate();
    features
        .filter_map(|(number, feature)| {
            let lift_m = feature.laid.lift_m?;
            let labels: Vec<Label> = design.labels(number).collect();
            let lifts = lifts(ground, built, &labels, lift_m);
            Some((feature.name.clone(), lifts))
        })
        .collect()
}

/// The job file and the survey files as they were read.
fn inputs(job: &Job, survey: &Survey) -> Vec<Input> {
    std::iter::once(&job.input)
        .chain(&survey.inputs)
        .cloned()
        .collect()
}

/// How far the ground may be off as a whole: the misclosure of the books, which shifts all shots
/// alike, the mean of the shots' own errors, and that of an import as a whole. What lies between
/// the points is not in it.
fn height_uncertainty_m(job: &Job, survey: &Survey, num_shots: usize) -> f64 {
    let closure = survey
        .books
        .iter()
        .filter_map(|book| book.misclosure_m)
        .map(f64::abs)
        .fold(0.0, f64::max);
    let mean = match num_shots {
        0 => 0.0,
        n => job.limits.shot_height_m / (n as f64).sqrt(),
    };
    let imports = survey.imports.iter().map(Brought::whole_error_m);
    closure.hypot(mean).hypot(imports.fold(0.0, f64::max))
}
