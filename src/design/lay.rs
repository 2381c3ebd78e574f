//! Lays the features of a job on its ground, in order.

use crate::diag::{Diagnostic, Failure, has_error, nearest};
use crate::geom::{P3, Point};
use crate::job::{FeatureEntry, Job};
use crate::surface::{ComposeError, Label, Rule, Surface};
use crate::survey::Survey;
use crate::terrain::{GROUND, Terrain};
use crate::units::LengthUnit;

use super::{Design, Feature, KINDS, Kind, Laid, Part, ReadFeature, Role, Site, Step, in_unit};

/// Reads every feature entry of a job; faults are collected over all of them.
///
/// # Errors
///
/// an unknown kind, a missing or unknown key, a value that is not usable
pub fn read_features(job: &Job) -> Result<Vec<ReadFeature>, Failure> {
    let mut diagnostics = Vec::new();
    let mut shapes = Vec::new();
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
        if let Some(shape) = (kind.read)(&mut table, &mut diagnostics) {
            shapes.push((kind, shape));
        }
        table.finish(&mut diagnostics);
    }
    if has_error(&diagnostics) {
        Err(Failure(diagnostics))
    } else {
        Ok(shapes)
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
) -> Result<(Design, Vec<Diagnostic>), Failure> {
    let shapes = read_features(job)?;
    let mut diagnostics = Vec::new();
    for (_, shape) in &shapes {
        shape.check(survey, &mut diagnostics);
    }
    if has_error(&diagnostics) {
        return Err(Failure(diagnostics));
    }
    let mut design = Design {
        surface: terrain.surface.clone(),
        built: None,
        features: Vec::new(),
        parts: vec![Part {
            feature: None,
            name: "ground".to_owned(),
            role: Role::Ground,
        }],
    };
    for (number, ((kind, shape), entry)) in shapes.iter().zip(&job.features).enumerate() {
        let mut parts = std::mem::take(&mut design.parts);
        let site = Site {
            survey,
            ground: &terrain.surface,
            so_far: &design.surface,
            surfaces: std::iter::once(&design.surface)
                .chain(&design.built)
                .collect(),
            chord_m: job.limits.chord_m,
            settlement: parts.iter().map(|part| share(&design, part)).collect(),
            units: job.units,
            origin: terrain.origin,
        };
        let laid = shape.lay(&site, &mut |name, role| {
            label(&mut parts, number, name, role)
        });
        design.parts = parts;
        let laid = match laid {
            Ok(laid) => laid,
            Err(diagnostic) => {
                diagnostics.push(diagnostic);
                return Err(Failure(diagnostics));
            }
        };
        let refuse = |error: ComposeError| refused(&error, terrain, entry, kind, job.units);
        if laid.built.is_some() && design.built.is_none() {
            // Up to here what is built and what is finished were the same.
            design.built = Some(design.surface.clone());
        }
        let composed = compose(&mut design.surface, &laid.finished).map_err(refuse)?;
        if let Some(built) = &mut design.built {
            let steps = laid.built.as_ref().unwrap_or(&laid.finished);
            compose(built, steps).map_err(refuse)?;
        }
        if composed == 0 {
            diagnostics.push(no_effect(&laid, &design.surface, entry, kind, job.units));
            return Err(Failure(diagnostics));
        }
        if laid.core_is_outline {
            warn_partly(
                &laid,
                &design.surface,
                &terrain.surface,
                entry,
                &mut diagnostics,
            );
        }
        design.features.push(Feature {
            kind: kind.name,
            name: entry.name.clone(),
            at: entry.at.clone(),
            laid,
            runs_out: Vec::new(),
        });
    }
    find_runs_out(&mut design);
    Ok((design, diagnostics))
}

/// Lays all steps of a feature; on a fault the surface is as it was. Gives the facets added.
fn compose(surface: &mut Surface, steps: &[Step]) -> Result<usize, ComposeError> {
    let before = (steps.len() > 1).then(|| surface.clone());
    let mut added = 0;
    for step in steps {
        match surface.compose(&step.patch, step.rule) {
            Ok(composed) => added += composed.added,
            Err(error) => {
                if let Some(before) = before {
                    *surface = before;
                }
                return Err(error);
            }
        }
    }
    Ok(added)
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
fn find_runs_out(design: &mut Design) {
    let mut found: Vec<(usize, [P3; 2])> = Vec::new();
    for f in design.surface.facets() {
        let label = design.surface.label(f);
        if label == GROUND {
            continue;
        }
        let Some(feature) = design.parts[label as usize].feature else {
            continue;
        };
        let corners = design.surface.corners(f);
        for (k, n) in design.surface.neighbours(f).into_iter().enumerate() {
            if n == Surface::NONE {
                found.push((feature, [corners[k], corners[(k + 1) % 3]]));
            }
        }
    }
    for (feature, edge) in found {
        design.features[feature].runs_out.push(edge);
    }
}
