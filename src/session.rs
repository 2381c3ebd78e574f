//! An edit session: a job that is open, changed one parameter at a time.
//!
//! Takes a job folder through [`Files`]; gives the [`Outcome`] of the job as it stands after
//! every change, to the last bit that of a fresh run, and what the change did. Features before
//! the one that changed lie as they were: those after it are taken off and laid again. A change
//! that cannot be laid is refused, and nothing has changed.

use std::cell::RefCell;
use std::collections::BTreeMap;

use crate::design::{Design, lay};
use crate::diag::{At, Diagnostic, Failure, has_error, nearest};
use crate::files::{Files, Workers};
use crate::job::{Job, limits};
use crate::outcome::{Answers, Base, Outcome};
use crate::run::{JOB_FILE, job_from, job_text};
use crate::survey::Survey;

/// A job that is open.
///
/// Every file is read once: what changes on the disk while the job is open is not seen, so that
/// whatever was laid once can be laid again.
pub struct Session<'a> {
    files: ReadOnce<'a>,
    workers: &'a dyn Workers,
    /// The job file as it stands.
    text: String,
    outcome: Outcome,
    /// What is to be said of the job file.
    of_job: Vec<Diagnostic>,
    /// What is to be said of the survey and its ground.
    of_base: Vec<Diagnostic>,
    /// Texts before every change, and those taken back.
    past: Vec<String>,
    taken_back: Vec<String>,
}

/// Files that are read from where they lie only once; one that could not be read is tried again.
struct ReadOnce<'a> {
    files: &'a dyn Files,
    read: RefCell<BTreeMap<String, Vec<u8>>>,
}

impl Files for ReadOnce<'_> {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        if let Some(bytes) = self.read.borrow().get(name) {
            return Ok(bytes.clone());
        }
        let bytes = self.files.read(name)?;
        let mut read = self.read.borrow_mut();
        read.insert(name.to_owned(), bytes.clone());
        Ok(bytes)
    }

    fn today(&self) -> String {
        self.files.today()
    }
}

/// What a change did.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Changed {
    /// Features that lie as they were; those after them were laid again.
    pub kept: usize,
    /// True if the survey was read again, too.
    pub is_all_new: bool,
    /// Cut before and after, m3 bank.
    pub cut_m3: [f64; 2],
    /// Fill before and after, m3 tamped.
    pub fill_m3: [f64; 2],
    /// Features whose volumes are others now.
    pub features: Vec<FeatureChange>,
}

/// Volumes of one feature before and after; 0 where there was or is none of this name.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct FeatureChange {
    /// Name.
    pub name: String,
    /// Cut before and after, m3 bank.
    pub cut_m3: [f64; 2],
    /// Fill before and after, m3 tamped.
    pub fill_m3: [f64; 2],
}

impl<'a> Session<'a> {
    /// Opens a job.
    ///
    /// # Errors
    ///
    /// what keeps it from running, as [`crate::run::run`]
    pub fn open(files: &'a dyn Files, workers: &'a dyn Workers) -> Result<Session<'a>, Failure> {
        let text = job_text(files)?;
        let files = ReadOnce {
            files,
            read: RefCell::default(),
        };
        let (job, of_job) = good_job(&text)?;
        let (outcome, of_base) = whole(job, &files, workers)?;
        Ok(Session {
            files,
            workers,
            text,
            outcome,
            of_job,
            of_base,
            past: Vec::new(),
            taken_back: Vec::new(),
        })
    }

    /// The outcome of the job as it stands.
    pub fn outcome(&self) -> &Outcome {
        &self.outcome
    }

    /// What is to be said of the job file; the rest is among the diagnostics of the outcome.
    pub fn job_diagnostics(&self) -> &[Diagnostic] {
        &self.of_job
    }

    /// The job file as it stands, with its comments.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Changes one parameter of a feature.
    ///
    /// # Input
    ///
    /// `value` as it would stand in the job file: `"depth:3.0"` with its quotes, `1.5`, a list
    /// # Errors
    ///
    /// no such feature, a value that is not one, or what keeps the changed job from being laid;
    /// the job is then as it was
    pub fn set(&mut self, feature: &str, key: &str, value: &str) -> Result<Changed, Failure> {
        let text = with_value(&self.text, feature, key, value)?;
        self.edit(text)
    }

    /// Puts another text in the place of the job file.
    ///
    /// # Errors
    ///
    /// what keeps that job from running; the job is then as it was
    pub fn edit(&mut self, text: String) -> Result<Changed, Failure> {
        let changed = self.become_text(&text)?;
        self.past.push(std::mem::replace(&mut self.text, text));
        self.taken_back.clear();
        Ok(changed)
    }

    /// Takes the last change back; `None` if there is none.
    ///
    /// # Errors
    ///
    /// none in practice: this text has been laid before, from files that are held
    pub fn undo(&mut self) -> Option<Result<Changed, Failure>> {
        let text = self.past.last()?.clone();
        let changed = self.become_text(&text);
        if changed.is_ok() {
            self.past.pop();
            let now = std::mem::replace(&mut self.text, text);
            self.taken_back.push(now);
        }
        Some(changed)
    }

    /// Makes the last change that was taken back once more; `None` if there is none.
    ///
    /// # Errors
    ///
    /// as [`Session::undo`]
    pub fn redo(&mut self) -> Option<Result<Changed, Failure>> {
        let text = self.taken_back.last()?.clone();
        let changed = self.become_text(&text);
        if changed.is_ok() {
            self.taken_back.pop();
            let now = std::mem::replace(&mut self.text, text);
            self.past.push(now);
        }
        Some(changed)
    }

    fn become_text(&mut self, text: &str) -> Result<Changed, Failure> {
        let before = Volumes::of(&self.outcome);
        let (job, of_job) = good_job(text)?;
        let kept = kept(&self.outcome.job, &job);
        match kept {
            Some(kept) => self.lay_again(job, kept)?,
            None => (self.outcome, self.of_base) = whole(job, &self.files, self.workers)?,
        }
        self.of_job = of_job;
        Ok(before.changed(&Volumes::of(&self.outcome), kept))
    }

    /// Keeps the first features and lays the rest as another job has them.
    fn lay_again(&mut self, job: Job, kept: usize) -> Result<(), Failure> {
        let outcome = &mut self.outcome;
        let mut design = std::mem::take(&mut outcome.design);
        let (survey, terrain) = (&outcome.survey, &outcome.terrain);
        let lay_from = |design: &mut Design, job: &Job| {
            design.lay_from(kept, job, survey, terrain, &self.files)
        };
        let result = lay_from(&mut design, &job).and_then(|said| {
            let answers = Answers::of(&job, survey, terrain, &design, self.workers)?;
            Ok((said, answers))
        });
        match result {
            Ok((said, answers)) => {
                let diagnostics = self.of_base.iter().cloned().chain(said).collect();
                outcome.redesign(job, design, diagnostics, answers);
                Ok(())
            }
            Err(failure) => {
                let again = lay_from(&mut design, &outcome.job);
                debug_assert!(
                    again.is_ok(),
                    "it lay before, of the same entries and files"
                );
                outcome.design = design;
                Err(failure)
            }
        }
    }
}

/// The job in a text, if nothing is wrong with it.
fn good_job(text: &str) -> Result<(Job, Vec<Diagnostic>), Failure> {
    let (job, said) = job_from(text)?;
    if has_error(&said) {
        return Err(Failure(said));
    }
    Ok((job, said))
}

/// The outcome of a whole job, and what is to be said of its survey and ground.
fn whole(
    job: Job,
    files: &dyn Files,
    workers: &dyn Workers,
) -> Result<(Outcome, Vec<Diagnostic>), Failure> {
    let (survey, said) = Survey::of(&job, files)?;
    let base = Base::of(&job, survey, said)?;
    let of_base = base.diagnostics.clone();
    let (design, said) = lay(&job, &base.survey, &base.terrain, files)?;
    let answers = Answers::of(&job, &base.survey, &base.terrain, &design, workers)?;
    let outcome = Outcome::of(job, base, design, said, answers, files.today());
    Ok((outcome, of_base))
}

/// How many features stay as they were laid when one job follows another; `None` if the survey
/// or the ground may be another.
///
/// Entries are compared as they are written, with their lines: messages name lines and quote
/// values, and -0.0 is not 0.0. What has moved to another line is laid again.
fn kept(old: &Job, new: &Job) -> Option<usize> {
    let base = |job: &Job| {
        let from = (&job.file, job.units, &job.surveys, &job.control);
        let made = (
            &job.imports,
            &job.strikes,
            &job.ground,
            job.limits.shot_height_m,
        );
        format!("{from:?} {made:?}")
    };
    let under_all = |job: &Job| {
        let roots = job.limits.get(&limits::ROOTS_PER_TRUNK).value;
        let buried = job.limits.get(&limits::WALL_BURIED).value;
        let chord_m = job.limits.chord_m;
        format!("{:?} {chord_m:?} {roots:?} {buried:?}", job.keep_offs)
    };
    if base(old) != base(new) {
        return None;
    }
    if under_all(old) != under_all(new) {
        return Some(0);
    }
    let pairs = old.features.iter().zip(&new.features);
    let same = pairs.take_while(|(old, new)| format!("{old:?}") == format!("{new:?}"));
    Some(same.count())
}

/// The text with one value of a feature put in, and all else as it stands.
fn with_value(text: &str, feature: &str, key: &str, value: &str) -> Result<String, Failure> {
    let refuse = |code, message: String, help: &str| {
        let fault = Diagnostic::error(code, message).at(At::file(JOB_FILE));
        Failure::from(fault.help(help))
    };
    let mut document: toml_edit::DocumentMut =
        text.parse().map_err(|e: toml_edit::TomlError| {
            refuse("not-toml", e.message().to_owned(), "mend the job file")
        })?;
    let mut value: toml_edit::Value = value.parse().map_err(|e: toml_edit::TomlError| {
        refuse(
            "bad-value",
            format!("`{value}` is no value: {}", e.message()),
            "write it as it stands in the job file: text in quotes, lists in brackets",
        )
    })?;
    value.decor_mut().clear();
    let mut names: Vec<String> = Vec::new();
    let mut found = None;
    for entry in document.get_mut("feature").map_or_else(Vec::new, entries) {
        match entry.get("name").and_then(toml_edit::Item::as_str) {
            Some(name) if name == feature => found = found.or(Some(entry)),
            name => names.extend(name.map(str::to_owned)),
        }
    }
    let Some(entry) = found else {
        let help = match nearest(feature, names.iter().map(String::as_str)) {
            Some(name) => format!("perhaps \"{name}\" is meant"),
            None if names.is_empty() => "the job has no feature: add one to its file".to_owned(),
            None => format!("features are: {}", names.join(", ")),
        };
        let message = format!("no feature is called \"{feature}\"");
        return Err(refuse("no-feature", message, &help));
    };
    match entry.get_mut(key) {
        None => {
            entry.insert(key, toml_edit::Item::Value(value));
        }
        Some(item) => {
            let Some(old) = item.as_value_mut() else {
                let message = format!("`{key}` of \"{feature}\" has keys of its own");
                let help = "change them in the job file, where each stands on its line";
                return Err(refuse("has-keys", message, help));
            };
            *value.decor_mut() = old.decor().clone();
            *old = value;
        }
    }
    Ok(document.to_string())
}

/// The entries of a list, whether each has its heading or all stand in brackets.
fn entries(list: &mut toml_edit::Item) -> Vec<&mut dyn toml_edit::TableLike> {
    match list {
        toml_edit::Item::ArrayOfTables(tables) => tables
            .iter_mut()
            .map(|table| table as &mut dyn toml_edit::TableLike)
            .collect(),
        toml_edit::Item::Value(toml_edit::Value::Array(values)) => values
            .iter_mut()
            .filter_map(toml_edit::Value::as_inline_table_mut)
            .map(|table| table as &mut dyn toml_edit::TableLike)
            .collect(),
        _ => Vec::new(),
    }
}

/// Volumes of an outcome by feature.
struct Volumes {
    total: [f64; 2],
    features: Vec<(String, [f64; 2])>,
}

impl Volumes {
    fn of(outcome: &Outcome) -> Volumes {
        let all = &outcome.to_build;
        Volumes {
            total: [all.cut_m3, all.fill_m3],
            features: all
                .features
                .iter()
                .map(|f| (f.name.clone(), [f.cut_m3, f.fill_m3]))
                .collect(),
        }
    }

    fn find(&self, name: &str) -> [f64; 2] {
        let found = self.features.iter().find(|f| f.0 == name);
        found.map_or([0.0; 2], |f| f.1)
    }

    fn changed(&self, after: &Volumes, kept: Option<usize>) -> Changed {
        let gone = self
            .features
            .iter()
            .filter(|f| after.features.iter().all(|g| g.0 != f.0));
        let features = after
            .features
            .iter()
            .chain(gone)
            .filter_map(|(name, _)| {
                let (was, is) = (self.find(name), after.find(name));
                (was != is).then(|| FeatureChange {
                    name: name.clone(),
                    cut_m3: [was[0], is[0]],
                    fill_m3: [was[1], is[1]],
                })
            })
            .collect();
        Changed {
            kept: kept.unwrap_or(0),
            is_all_new: kept.is_none(),
            cut_m3: [self.total[0], after.total[0]],
            fill_m3: [self.total[1], after.total[1]],
            features,
        }
    }
}
