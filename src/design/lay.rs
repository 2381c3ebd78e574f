//! Lays the features of a job on its ground, in order.

use crate::diag::{At, Diagnostic, Failure, has_error, nearest};
use crate::files::Files;
use crate::geom::{P3, Point, distance_m};
use crate::job::{FeatureEntry, Job, LevelSpec, limits};
use crate::surface::{ComposeError, Delta, Label, Rule, Surface};
use crate::survey::Survey;
use crate::terrain::{GROUND, Terrain};
use crate::units::LengthUnit;

use super::layer::{self, Hollow};
use super::room::{self, Core, KeptClear};
use super::{
    Change, Design, Feature, FeatureUndo, KINDS, KeepOffPlace, Kind, Labels, Laid, Layer,
    LevelsAre, Part, ReadFeature, Role, Site, Step, Stop, in_unit, place_keep_offs, strip,
};

/// Reads every feature entry of a job; faults are collected over all of them.
///
/// # Errors
///
/// an unknown kind, a missing or unknown key, a value that is not usable
pub fn read_features(job: &Job) -> Result<Vec<ReadFeature>, Failure> {
    let mut diagnostics = Vec::new();
    let mut features = Vec::new();
    for entry in &job.features {
        let Some(kind) = KINDS.iter().find(|k| k.name == entry.kind) else {
            let names: Vec<&str> = KINDS.iter().map(|k| k.name).collect();
            let help = match nearest(&entry.kind, names.iter().copied()) {
                Some(name) => format!("did you mean \"{name}\"?"),
                None => format!("kinds are: {}", names.join(", ")),
            };
            diagnostics.push(
                Diagnostic::error(
                    "unknown-kind",
                    format!("no kind of feature is called \"{}\"", entry.kind),
                )
                .at(entry.at.clone())
                .help(help),
            );
            continue;
        };
        let mut table = entry.table.clone();
        let layers = layer::read(&mut table, &mut diagnostics);
        let keep_clear_of = room::read(&mut table, &mut diagnostics);
        if let Some(shape) = (kind.read)(&mut table, &mut diagnostics) {
            features.push(ReadFeature {
                kind,
                shape,
                layers,
                keep_clear_of,
            });
        }
        table.finish(&mut diagnostics);
    }
    if has_error(&diagnostics) {
        Err(Failure(diagnostics))
    } else {
        Ok(features)
    }
}

/// Lays all features.
///
/// # Errors
///
/// a feature that cannot be laid, with the line of the job and what to do; a shape
/// the kernel refuses leaves the surface as it was and stops here
pub fn lay(
    job: &Job,
    survey: &Survey,
    terrain: &Terrain,
    files: &dyn Files,
) -> Result<(Design, Vec<Diagnostic>), Failure> {
    let mut design = Design::bare(terrain);
    let said = design.lay_from(0, job, survey, terrain, files)?;
    Ok((design, said))
}

impl Design {
    /// The ground with nothing laid on it.
    pub fn bare(terrain: &Terrain) -> Design {
        Design {
            surface: terrain.surface.clone(),
            parts: vec![Part {
                feature: None,
                name: "ground".to_owned(),
                role: Role::Ground,
            }],
            ..Design::default()
        }
    }

    /// Keeps the first features as they lie and lays those that come after them in a job.
    ///
    /// # Input
    ///
    /// `keep` features that were laid from the same entries, with the same keep-offs and limits
    /// # Errors
    ///
    /// as [`lay`]; then as many features are left as could be laid
    pub fn lay_from(
        &mut self,
        keep: usize,
        job: &Job,
        survey: &Survey,
        terrain: &Terrain,
        files: &dyn Files,
    ) -> Result<Vec<Diagnostic>, Failure> {
        let features = read_features(job)?;
        let mut said = Vec::new();
        for feature in &features {
            feature.shape.check(survey, &mut said);
        }
        let keep_offs = place_keep_offs(job, survey)?;
        said.extend(unknown_keep_offs(&features, &keep_offs));
        if has_error(&said) {
            return Err(Failure(said));
        }
        while self.features.len() > keep {
            self.take_off_last();
        }
        said.extend(self.features.iter().flat_map(|f| f.said.clone()));
        let yard = Yard {
            job,
            files,
            survey,
            terrain,
            keep_offs: &keep_offs,
        };
        for (feature, entry) in features.iter().zip(&job.features).skip(keep) {
            match yard.add(self, feature, entry) {
                Ok(()) => said.extend(
                    self.features
                        .iter()
                        .last()
                        .map_or(&[][..], |f| &f.said)
                        .iter()
                        .cloned(),
                ),
                Err(Failure(faults)) => {
                    said.extend(faults);
                    return Err(Failure(said));
                }
            }
        }
        find_runs_out(self);
        Ok(said)
    }
}

/// Names after `keep_clear_of` that no keep-off has.
fn unknown_keep_offs(features: &[ReadFeature], keep_offs: &[KeepOffPlace]) -> Vec<Diagnostic> {
    let mut faults = Vec::new();
    for (names, at) in features.iter().filter_map(|f| f.keep_clear_of.as_ref()) {
        for name in names {
            if keep_offs.iter().all(|k| k.name != *name) {
                let known = keep_offs.iter().map(|k| k.name.as_str());
                let help = match nearest(name, known) {
                    Some(near) => format!("perhaps \"{near}\" is meant"),
                    None => "draw it with [[keep-off]]".to_owned(),
                };
                let message = format!("no keep-off is called \"{name}\"");
                let fault = Diagnostic::error("unknown-keep-off", message);
                faults.push(fault.at(at.clone()).help(help));
            }
        }
    }
    faults
}

/// What features are laid on.
struct Yard<'a> {
    job: &'a Job,
    files: &'a dyn Files,
    survey: &'a Survey,
    terrain: &'a Terrain,
    keep_offs: &'a [KeepOffPlace],
}

impl Yard<'_> {
    /// What a feature may look at, with layers of this thickness on it.
    fn site<'d>(&'d self, design: &'d Design, parts: &[Part], layers_m: f64) -> Site<'d> {
        Site {
            survey: self.survey,
            files: self.files,
            ground: &self.terrain.surface,
            so_far: &design.surface,
            surfaces: std::iter::once(&design.surface)
                .chain(&design.dug)
                .chain(&design.built)
                .collect(),
            chord_m: self.job.limits.chord_m,
            buried_per_height: self.job.limits.get(&limits::WALL_BURIED).value,
            settlement: parts.iter().map(|part| share(design, part)).collect(),
            units: self.job.units,
            origin: self.terrain.origin,
            layers_m,
        }
    }

    /// Lays one more feature. On a fault the design is as it was.
    fn add(
        &self,
        design: &mut Design,
        feature: &ReadFeature,
        entry: &FeatureEntry,
    ) -> Result<(), Failure> {
        let mut undo = FeatureUndo {
            parts: design.parts.len(),
            strips: design.strip_touched.len(),
            ..FeatureUndo::default()
        };
        match self.try_add(design, feature, entry, &mut undo) {
            Ok(laid) => {
                design.features.push(Feature { undo, ..laid });
                Ok(())
            }
            Err(failure) => {
                design.take_back(undo);
                Err(failure)
            }
        }
    }

    fn try_add(
        &self,
        design: &mut Design,
        feature: &ReadFeature,
        entry: &FeatureEntry,
        undo: &mut FeatureUndo,
    ) -> Result<Feature, Failure> {
        let kind = feature.kind;
        let layers = &feature.layers;
        let number = design.features.len();
        let is_strip = kind.name == strip::KIND.name;
        let thick_m = layers.thick_m();
        let mut parts = design.parts.clone();
        let site = self.site(design, &parts, thick_m.iter().sum());
        let mut laid = feature.shape.lay(&site, &mut |name, role| {
            label(&mut parts, number, name, role)
        })?;
        let given = layers.given(feature.shape.levels_are(), laid.rule)?;
        let clear = match &feature.keep_clear_of {
            Some((names, at)) => self.kept_clear(names, at, &laid, &mut |name, role| {
                label(&mut parts, number, name, role)
            })?,
            None => Vec::new(),
        };
        with_layers(&mut laid, &parts, given, thick_m);
        let fills: Vec<(usize, &Layer, &LevelSpec)> = layers.fills().collect();
        if !fills.is_empty() && laid.dug.is_none() {
            laid.dug = Some(laid.finished.clone());
        }
        if is_strip {
            strips_well(design, &laid, entry)?;
            let touched = laid.strip_touched_m.map(|thick_m| (number, thick_m));
            design.strip_touched.extend(touched);
        }
        let refuse =
            |error: ComposeError| refused(&error, self.terrain, entry, kind, self.job.units);
        // Up to here they were the same.
        if laid.built.is_some() && design.built.is_none() {
            design.built = Some(design.soil().clone());
            undo.made_built = true;
        }
        if laid.dug.is_some() && design.dug.is_none() {
            design.dug = Some(design.surface.clone());
            undo.made_dug = true;
        }
        let [on_finished, on_dug, on_built] = &mut undo.deltas;
        let soil = laid.dug.as_ref().unwrap_or(&laid.finished);
        let mut dug = Put::default();
        if let Some(surface) = &mut design.dug {
            dug = put(surface, soil, &clear, on_dug).map_err(refuse)?;
        }
        let mut built = Put::default();
        if let Some(surface) = &mut design.built {
            let steps = laid.built.as_ref().unwrap_or(soil);
            built = put(surface, steps, &clear, on_built).map_err(refuse)?;
        }
        // What fills a hollow needs the rim of the dug surface.
        let shaped = laid.finished.len();
        let mut filled_to_m = Vec::new();
        for (k, layer, to) in fills {
            let site = self.site(design, &parts, 0.0);
            let soil = laid.dug.as_ref().unwrap_or(&laid.finished);
            let hollow = Hollow::of(design.soil(), soil, &parts);
            let (step, z_m) = hollow.fill(&site, layer, to, &mut |name, role| {
                label(&mut parts, number, name, role)
            })?;
            filled_to_m.push((k, z_m));
            laid.finished.push(step);
        }
        let finished =
            put(&mut design.surface, &laid.finished, &clear, on_finished).map_err(refuse)?;
        for ((k, _), change) in (filled_to_m.iter()).zip(finished.changes[shaped..].iter()) {
            if change.is_empty() {
                return Err(layer::fills_nothing(&layers.layers[*k]).into());
            }
        }
        design.parts = parts;
        let mut said = std::mem::take(&mut laid.notes);
        let puts = [&dug, &built, &finished];
        let is_idle = puts
            .iter()
            .all(|put| put.changes.iter().all(Change::is_empty));
        if is_idle && laid.strip_touched_m.is_none() {
            said.push(no_effect(
                &laid,
                &design.surface,
                entry,
                kind,
                self.job.units,
            ));
            return Err(Failure(said));
        }
        if is_strip && laid.strip_touched_m.is_none() {
            undo.stripped_before = Some(design.stripped.take().map(Box::new));
            design.stripped = Some(design.surface.clone());
        }
        if laid.core_is_outline && !laid.finished.is_empty() {
            warn_partly(
                &laid,
                &design.surface,
                &self.terrain.surface,
                entry,
                &mut said,
            );
        }
        let changes = match (&design.built, &design.dug) {
            (Some(_), _) => built.changes,
            (None, Some(_)) => dug.changes,
            (None, None) => finished.changes,
        };
        Ok(Feature {
            kind: kind.name,
            name: entry.name.clone(),
            at: entry.at.clone(),
            laid,
            layers: layers.layers.clone(),
            filled_to_m,
            stops: finished.stops,
            changes,
            undo: FeatureUndo::default(),
            runs_out: Vec::new(),
            said,
        })
    }

    /// The areas that a feature keeps clear of.
    fn kept_clear(
        &self,
        names: &[String],
        at: &At,
        laid: &Laid,
        label: Labels,
    ) -> Result<Vec<KeptClear>, Diagnostic> {
        let Some((low, high)) = bounds(&laid.finished) else {
            return Ok(Vec::new());
        };
        let core = Core {
            points: &laid.core,
            is_outline: laid.core_is_outline,
        };
        // Beyond everything the feature may touch.
        let reach_m = distance_m(low, high);
        let wanted = self.keep_offs.iter().filter(|k| names.contains(&k.name));
        wanted
            .map(|place| {
                let face = label(&format!("face at {}", place.name), Role::Face);
                KeptClear::of(place, &core, reach_m, face, at)
            })
            .collect()
    }
}

/// Box round all pieces of some steps.
fn bounds(steps: &[Step]) -> Option<(Point, Point)> {
    let corners = steps.iter().flat_map(|s| s.patch.triangles());
    let points = corners.flat_map(|(t, _)| t.map(|c| c.p));
    points.map(|p| (p, p)).reduce(|(a, b), (c, d)| {
        (
            Point::new(a.x.min(c.x), a.y.min(c.y)),
            Point::new(b.x.max(d.x), b.y.max(d.y)),
        )
    })
}

/// Parts the finished from the dug shape by the thickness of the layers between.
fn with_layers(laid: &mut Laid, parts: &[Part], given: LevelsAre, thick_m: [f64; 2]) {
    let [on_all_m, on_floor_m] = thick_m;
    if on_all_m + on_floor_m == 0.0 {
        return;
    }
    let under = |steps: &[Step]| {
        let mut soil = layer::shifted(steps, -on_all_m);
        if on_floor_m > 0.0 {
            soil.push(layer::box_out(&soil, parts, on_floor_m));
        }
        soil
    };
    match (given, &laid.dug) {
        // A kind that lays its own soil has its layers there.
        (_, Some(_)) => {}
        (LevelsAre::Finished, None) => {
            laid.dug = Some(under(&laid.finished));
            laid.built = laid.built.as_deref().map(under);
        }
        (LevelsAre::Dug, None) => {
            let finished = layer::shifted(&laid.finished, on_all_m);
            laid.dug = Some(std::mem::replace(&mut laid.finished, finished));
        }
    }
}

/// What laying steps on one surface did.
#[derive(Default)]
struct Put {
    changes: Vec<Change>,
    stops: Vec<Stop>,
}

/// Lays all steps of a feature and puts back what it must keep clear of; every composition that
/// was done is added to `deltas`.
fn put(
    surface: &mut Surface,
    steps: &[Step],
    clear: &[KeptClear],
    deltas: &mut Vec<Delta>,
) -> Result<Put, ComposeError> {
    let mut put = Put::default();
    let Some((low, high)) = bounds(steps) else {
        return Ok(put);
    };
    let parts = room::parts_before(surface, clear, low, high)?;
    put.compose(surface, steps, false, deltas)?;
    let levels = steps.iter().flat_map(|s| s.patch.triangles());
    let range = levels
        .flat_map(|(t, _)| t.map(|c| (c.z, c.z)))
        .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
        .unwrap_or((0.0, 0.0));
    let (back, stops) = room::stops(clear, &parts, surface, range);
    put.stops = stops;
    put.compose(surface, &back, true, deltas)?;
    Ok(put)
}

impl Put {
    fn compose(
        &mut self,
        surface: &mut Surface,
        steps: &[Step],
        puts_back: bool,
        deltas: &mut Vec<Delta>,
    ) -> Result<(), ComposeError> {
        for step in steps {
            let composed = surface.compose(&step.patch, step.rule)?;
            self.changes.push(Change {
                rule: step.rule,
                puts_back,
                removed: surface.removed_by(&composed.delta).collect(),
                added: surface.added_by(&composed.delta).collect(),
            });
            deltas.push(composed.delta);
        }
        Ok(())
    }
}

impl Design {
    /// Takes the last feature off again: everything is as it was before it was laid.
    pub fn take_off_last(&mut self) {
        if let Some(feature) = self.features.pop() {
            self.take_back(feature.undo);
        }
    }

    fn take_back(&mut self, undo: FeatureUndo) {
        let [finished, dug, built] = undo.deltas;
        take_back(&mut self.surface, finished);
        let others = [
            (&mut self.dug, dug, undo.made_dug),
            (&mut self.built, built, undo.made_built),
        ];
        for (surface, deltas, was_made) in others {
            match surface {
                _ if was_made => *surface = None,
                Some(surface) => take_back(surface, deltas),
                None => {}
            }
        }
        if let Some(before) = undo.stripped_before {
            self.stripped = before.map(|surface| *surface);
        }
        self.parts.truncate(undo.parts);
        self.strip_touched.truncate(undo.strips);
    }
}

/// Takes compositions back, the last first.
fn take_back(surface: &mut Surface, deltas: Vec<Delta>) {
    for delta in deltas.into_iter().rev() {
        let undone = surface.undo(delta);
        debug_assert!(undone.is_ok(), "compositions are taken back in order");
    }
}

/// Refuses a strip that cannot come here.
fn strips_well(design: &Design, laid: &Laid, entry: &FeatureEntry) -> Result<(), Diagnostic> {
    let is_touched = laid.strip_touched_m.is_some();
    let refuse = |message: String, help: &str| {
        let fault = Diagnostic::error("strip", message);
        Err(fault.at(entry.at.clone()).help(help))
    };
    let mut before = design.features.iter();
    if let Some(first) = before.find(|f| !f.is_strip())
        && !is_touched
    {
        return refuse(
            format!(
                "\"{}\" strips the ground, but \"{}\" already lies there",
                entry.name, first.name
            ),
            "move this entry before the first feature that is no strip",
        );
    }
    let mut strips = design.features.iter().filter(|f| f.is_strip());
    if let Some(other) = strips.find(|f| f.laid.strip_touched_m.is_some() != is_touched) {
        return refuse(
            format!(
                "one of \"{}\" and \"{}\" strips an area and the other everything that is touched: where both do, it is not said which comes first",
                other.name, entry.name
            ),
            "strip areas, or everything that is touched, in as many layers as there are",
        );
    }
    Ok(())
}

/// Settlement allowance of a part.
fn share(design: &Design, part: &Part) -> f64 {
    part.feature
        .and_then(|f| design.features.get(f))
        .map_or(0.0, |f| f.laid.settlement)
}

fn label(parts: &mut Vec<Part>, feature: usize, name: &str, role: Role) -> Label {
    let found = parts
        .iter()
        .position(|p| p.feature == Some(feature) && p.name == name);
    let index = found.unwrap_or_else(|| {
        parts.push(Part {
            feature: Some(feature),
            name: name.to_owned(),
            role,
        });
        parts.len() - 1
    });
    index as Label
}

fn refused(
    error: &ComposeError,
    terrain: &Terrain,
    entry: &FeatureEntry,
    kind: &Kind,
    units: LengthUnit,
) -> Failure {
    let place = error.at().map_or(String::new(), |p| {
        let x = p.x_m() + terrain.origin.x_m as f64;
        let y = p.y_m() + terrain.origin.y_m as f64;
        format!(" at {} E, {} N", in_unit(units, x), in_unit(units, y))
    });
    Diagnostic::error(
        "cannot-lay",
        format!(
            "the {} \"{}\" cannot be laid{place}: {error}",
            kind.name, entry.name
        ),
    )
    .at(entry.at.clone())
    .help("move a corner there a little, or make the side slopes less steep")
    .into()
}

/// Why a shape changed nothing: it lies off the survey, or on the wrong side of what is there.
fn no_effect(
    laid: &Laid,
    surface: &Surface,
    entry: &FeatureEntry,
    kind: &Kind,
    units: LengthUnit,
) -> Diagnostic {
    let under: Vec<f64> = laid.core.iter().filter_map(|&p| surface.z_at(p)).collect();
    let name = format!("the {} \"{}\"", kind.name, entry.name);
    let diagnostic = if under.is_empty() {
        Diagnostic::error("outside", format!("{name} lies outside the survey"))
            .help("move it inside the outline, or shoot the ground it stands on")
    } else {
        let low = under.iter().copied().fold(f64::INFINITY, f64::min);
        let high = under.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let (is, should) = match laid.rule {
            Rule::Lower => ("above", "lower"),
            Rule::Raise => ("below", "raise"),
        };
        let words = format!(
            "{name} lies {is} the ground everywhere, or {is} what the features before it left, so there is nothing to do"
        );
        Diagnostic::error("no-effect", words).help(format!(
            "{should} it: the surface there is at {} to {}",
            in_unit(units, low),
            in_unit(units, high)
        ))
    };
    diagnostic.at(entry.at.clone())
}

/// Says when a floor lies partly above the ground (or a crest below it).
fn warn_partly(
    laid: &Laid,
    design: &Surface,
    ground: &Surface,
    entry: &FeatureEntry,
    diagnostics: &mut Vec<Diagnostic>,
) {
    let untouched = |p: &Point| matches!((design.z_at(*p), ground.z_at(*p)), (Some(d), Some(g)) if d.to_bits() == g.to_bits());
    let count = laid.core.iter().filter(|p| untouched(p)).count();
    if count > 0 {
        let (what, side) = match laid.rule {
            Rule::Lower => ("floor", "above"),
            Rule::Raise => ("crest", "below"),
        };
        diagnostics.push(
            Diagnostic::warn(
                "partly",
                format!(
                    "the {what} of \"{}\" lies {side} the ground at {count} of its {} corners",
                    entry.name,
                    laid.core.len()
                ),
            )
            .at(entry.at.clone())
            .help(format!("the {what} is cut off where it meets the ground; change its level if that is not meant")),
        );
    }
}

/// Rim edges of the design that belong to a feature: there it runs over the edge of the survey.
/// The soil under layers may do so where what is seen does not: the longer of the two counts.
fn find_runs_out(design: &mut Design) {
    let over = |surface: &Surface| -> Vec<Vec<[P3; 2]>> {
        let mut edges = vec![Vec::new(); design.features.len()];
        for f in surface.facets().filter(|&f| surface.label(f) != GROUND) {
            let Some(feature) = design.parts[surface.label(f) as usize].feature else {
                continue;
            };
            let corners = surface.corners(f);
            for (k, n) in surface.neighbours(f).into_iter().enumerate() {
                if n == Surface::NONE {
                    edges[feature].push([corners[k], corners[(k + 1) % 3]]);
                }
            }
        }
        edges
    };
    let length = |edges: &[[P3; 2]]| -> f64 {
        let ends = edges.iter();
        ends.map(|[a, b]| distance_m(a.p, b.p)).sum()
    };
    let mut longest = over(&design.surface);
    for surface in design.dug.iter().chain(&design.built) {
        for (own, other) in longest.iter_mut().zip(over(surface)) {
            if length(&other) > length(own) {
                *own = other;
            }
        }
    }
    for (feature, edges) in design.features.iter_mut().zip(longest) {
        feature.runs_out = edges;
    }
}
