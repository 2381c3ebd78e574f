//! An edit session: a job that is open, changed one parameter at a time.
//!
//! Takes a job folder through [`Files`]; gives the [`Outcome`] of the job as it stands after
//! every change, and what the change did. Features before the one that changed lie as they were:
//! those after it are taken off and laid again. A change that cannot be laid is refused, and
//! nothing has changed.

use crate::design::lay;
use crate::diag::{At, Diagnostic, Failure, has_error, nearest};
use crate::files::{Files, Workers};
use crate::job::Job;
use crate::outcome::{Answers, Base, Outcome};
use crate::run::{JOB_FILE, job_from};
use crate::survey::Survey;

/// A job that is open.
pub struct Session<'a> {
    files: &'a dyn Files,
    workers: &'a dyn Workers,
    /// The job file as it stands.
    text: String,
    outcome: Outcome,
    /// What is to be said of the job file and the survey.
    said: Vec<Diagnostic>,
    /// Texts before every change, and those taken back.
    past: Vec<String>,
    taken_back: Vec<String>,
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

/// Keys of the job that change nothing below the features.
const ABOVE_THE_DESIGN: [&str; 2] = ["section", "soil"];

/// Keys of the job that features look at, beside their own entries.
const BELOW_THE_DESIGN: [&str; 1] = ["keep-off"];

impl<'a> Session<'a> {
    /// Opens a job.
    ///
    /// # Errors
    ///
    /// what keeps it from running, as [`crate::run::run`]
    pub fn open(files: &'a dyn Files, workers: &'a dyn Workers) -> Result<Session<'a>, Failure> {
        let bytes = files.read(JOB_FILE).map_err(|words| {
            Failure::from(Diagnostic::error("no-job", words).at(At::file(JOB_FILE)))
        })?;
        let text = String::from_utf8(bytes).map_err(|_| {
            let fault = Diagnostic::error("not-utf-8", "the job file is not UTF-8 text");
            Failure::from(fault.at(At::file(JOB_FILE)).help("save it as UTF-8"))
        })?;
        let (outcome, said) = whole(&text, files, workers)?;
        Ok(Session {
            files,
            workers,
            text,
            outcome,
            said,
            past: Vec::new(),
            taken_back: Vec::new(),
        })
    }

    /// The outcome of the job as it stands.
    pub fn outcome(&self) -> &Outcome {
        &self.outcome
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
    /// none but those of files that have changed on the disk since
    pub fn undo(&mut self) -> Option<Result<Changed, Failure>> {
        let text = self.past.pop()?;
        let changed = self.become_text(&text);
        if changed.is_ok() {
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
        let text = self.taken_back.pop()?;
        let changed = self.become_text(&text);
        if changed.is_ok() {
            let now = std::mem::replace(&mut self.text, text);
            self.past.push(now);
        }
        Some(changed)
    }

    fn become_text(&mut self, text: &str) -> Result<Changed, Failure> {
        let before = Volumes::of(&self.outcome);
        let kept = match kept(&self.text, text, self.outcome.design.features.len()) {
            Some(kept) => {
                self.lay_again(text, kept)?;
                Some(kept)
            }
            None => {
                let (outcome, said) = whole(text, self.files, self.workers)?;
                (self.outcome, self.said) = (outcome, said);
                None
            }
        };
        Ok(before.changed(&Volumes::of(&self.outcome), kept))
    }

    /// Keeps the first features and lays the rest as another text has them.
    fn lay_again(&mut self, text: &str, kept: usize) -> Result<(), Failure> {
        let (job, _) = good_job(text)?;
        let outcome = &mut self.outcome;
        let mut design = std::mem::take(&mut outcome.design);
        let mut attempt = |job: &Job| {
            let (survey, terrain) = (&outcome.survey, &outcome.terrain);
            let said = design.lay_from(kept, job, survey, terrain, self.files)?;
            let answers = Answers::of(job, survey, terrain, &design, self.workers)?;
            Ok((said, answers))
        };
        let result = attempt(&job);
        match result {
            Ok((said, answers)) => {
                let diagnostics = self.said.iter().cloned().chain(said).collect();
                outcome.redesign(job, design, diagnostics, answers);
                Ok(())
            }
            Err(failure) => {
                // What lay before lies again: it has once, from the same entries.
                let (job, survey, terrain) = (&outcome.job, &outcome.survey, &outcome.terrain);
                design.lay_from(kept, job, survey, terrain, self.files)?;
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

/// The outcome of a whole job, and what is to be said of its file and survey.
fn whole(
    text: &str,
    files: &dyn Files,
    workers: &dyn Workers,
) -> Result<(Outcome, Vec<Diagnostic>), Failure> {
    let (job, mut said) = good_job(text)?;
    let (survey, more) = Survey::of(&job, files)?;
    said.extend(more);
    let base = Base::of(&job, survey, said)?;
    let said = base.diagnostics.clone();
    let (design, more) = lay(&job, &base.survey, &base.terrain, files)?;
    let answers = Answers::of(&job, &base.survey, &base.terrain, &design, workers)?;
    let outcome = Outcome::of(job, base, design, more, answers, files.today());
    Ok((outcome, said))
}

/// How many of the features that were laid stay as they are when one text follows another; `None`
/// if the survey or the ground may be another.
fn kept(old: &str, new: &str, laid: usize) -> Option<usize> {
    let (mut old_job, mut new_job) = (old.parse::<toml::Table>().ok()?, new.parse().ok()?);
    let take = |job: &mut toml::Table, key: &str| job.remove(key);
    let pair =
        |key: &str, old: &mut toml::Table, new: &mut toml::Table| (take(old, key), take(new, key));
    let (old_features, new_features) = pair("feature", &mut old_job, &mut new_job);
    for key in ABOVE_THE_DESIGN {
        pair(key, &mut old_job, &mut new_job);
    }
    let mut keep = laid;
    for key in BELOW_THE_DESIGN {
        let (old, new) = pair(key, &mut old_job, &mut new_job);
        if old != new {
            keep = 0;
        }
    }
    if old_job != new_job {
        return None;
    }
    let list = |features: Option<toml::Value>| match features {
        Some(toml::Value::Array(list)) => list,
        _ => Vec::new(),
    };
    let (old_list, new_list) = (list(old_features), list(new_features));
    // Messages name lines: what has moved to another line is laid again.
    let lines = |text: &str| -> Vec<usize> {
        let numbered = text.lines().enumerate();
        let heads = numbered.filter(|(_, l)| l.trim_start().starts_with("[[feature]]"));
        heads.map(|(k, _)| k).collect()
    };
    let (old_lines, new_lines) = (lines(old), lines(new));
    let same = (0..old_list.len().min(new_list.len()))
        .take_while(|&k| old_list[k] == new_list[k] && old_lines.get(k) == new_lines.get(k))
        .count();
    Some(keep.min(same))
}

/// The text with one value of a feature put in, and all else as it stands.
fn with_value(text: &str, feature: &str, key: &str, value: &str) -> Result<String, Failure> {
    let refuse = |code, message: String, help: String| {
        Failure::from(
            Diagnostic::error(code, message)
                .at(At::file(JOB_FILE))
                .help(help),
        )
    };
    let mut document: toml_edit::DocumentMut =
        text.parse().map_err(|e: toml_edit::TomlError| {
            refuse(
                "not-toml",
                e.message().to_owned(),
                "mend the job file".into(),
            )
        })?;
    let mut value: toml_edit::Value = value.parse().map_err(|e: toml_edit::TomlError| {
        refuse(
            "bad-value",
            format!("`{value}` is no value: {}", e.message()),
            "write it as it stands in the job file: text in quotes, lists in brackets".into(),
        )
    })?;
    let tables = document
        .get_mut("feature")
        .and_then(toml_edit::Item::as_array_of_tables_mut);
    let mut names: Vec<String> = Vec::new();
    let mut is_found = false;
    for table in tables
        .into_iter()
        .flat_map(toml_edit::ArrayOfTables::iter_mut)
    {
        let name = table.get("name").and_then(|n| n.as_str()).unwrap_or("");
        if name != feature {
            names.push(name.to_owned());
            continue;
        }
        match table.get_mut(key).and_then(toml_edit::Item::as_value_mut) {
            Some(old) => {
                *value.decor_mut() = old.decor().clone();
                *old = value;
            }
            None => {
                table.insert(key, toml_edit::Item::Value(value));
            }
        }
        is_found = true;
        break;
    }
    if is_found {
        return Ok(document.to_string());
    }
    let help = match nearest(feature, names.iter().map(String::as_str)) {
        Some(name) => format!("perhaps \"{name}\" is meant"),
        None => format!("features are: {}", names.join(", ")),
    };
    Err(refuse(
        "no-feature",
        format!("no feature is called \"{feature}\""),
        help,
    ))
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
