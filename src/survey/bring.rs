//! Imports brought into the frame of the job and, by common points, to its benchmark.
//!
//! Takes what the readers of other formats give and the points the job knows, gives imports in
//! the local frame with what is left at every common point. A fit that is bad is refused.

use std::collections::BTreeMap;

use crate::diag::{At, Diagnostic, Failure};
use crate::files::Files;
use crate::geom::{Origin, P3, Point, distance_m, orient, orient_sign, triangulate};
use crate::import::{Content, Import};
use crate::job::{Common, ImportSpec, Placing, Shift, SurveyKind, SurveySpec};
use crate::units::{LengthUnit, NM_PER_M};

use super::fit::{Fit, Left, Movement, Pair, spoilers, stretch, worst_m};
use super::points::read_points;

/// Fewest common points: with two, one that is wrong cannot be told from one that is right.
const MIN_COMMON: usize = 3;

/// How many times the heights of both may be off a common point may be off, if the job does not
/// say: twice one standard deviation leaves one good point in twenty outside.
const FIT: f64 = 2.0;

/// Points of a cloud that the height at a place is taken from: enough that those next to it are
/// joined as in the whole.
const NEAR: usize = 64;

/// Stretches that come from a wrong unit: feet taken for metres, metres for feet.
const UNIT_STRETCHES: [f64; 2] = [0.3048, 1.0 / 0.3048];

/// An import in the local frame of the survey.
#[derive(Clone, Debug)]
pub struct Brought {
    /// What was read; its origin is that of the survey.
    pub import: Import,
    /// How it was brought to the benchmark; `None` if it is used as it is.
    pub placement: Option<Placement>,
}

impl Brought {
    /// How far its heights may be off as a whole, metres: what the common points leave of it, or
    /// all that its source may be off, since errors of a datum do not cancel.
    pub fn whole_error_m(&self) -> f64 {
        match &self.placement {
            Some(placement) => {
                let left = placement.common.iter().map(|point| point.height_m);
                let squares: f64 = left.map(|m| m * m).sum();
                squares.sqrt() / placement.common.len() as f64
            }
            None => self.import.facts.height_error_m,
        }
    }

    /// True for a surface given face by face.
    pub fn is_faces(&self) -> bool {
        matches!(self.import.content, Content::Faces(_))
    }
}

/// How an import was moved, and how well it fits.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Placement {
    /// What was moved.
    pub shift: Shift,
    /// Added to heights, metres.
    pub up_m: f64,
    /// Turned counter-clockwise, degrees; zero for a shift in height only.
    pub turn_deg: f64,
    /// What is left at every common point.
    pub common: Vec<CommonPoint>,
    /// Farthest that a common point was let off, metres.
    pub fit_m: f64,
}

/// A common point after the shift.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct CommonPoint {
    /// Name of the shot.
    pub name: String,
    /// Distance in plan between both, metres; zero for a shift in height only.
    pub plan_m: f64,
    /// Height of the job above that of the import, metres.
    pub height_m: f64,
}

/// A point whose place and height the job knows, absolute.
#[derive(Clone, Debug)]
pub(super) struct Known {
    pub(super) x_nm: i64,
    pub(super) y_nm: i64,
    pub(super) z_m: f64,
    pub(super) at: At,
}

/// Brings an import into the frame of an origin.
///
/// # Input
///
/// `known`: what the job knows by name; `shot_m`: how exact its shots are meant to be
/// # Errors
///
/// fewer than three common points, names that nobody knows, places off the import, a fit
/// worse than the limit, places beyond the range of whole numbers
pub(super) fn bring(
    spec: &ImportSpec,
    mut import: Import,
    origin: Origin,
    known: &BTreeMap<String, Known>,
    shot_m: f64,
    files: &dyn Files,
) -> Result<Brought, Failure> {
    let by = import.origin.shift_to(origin).ok_or_else(|| far(spec))?;
    // Into the frame of the job first, so that both sides of a pair are small numbers.
    let Some(placing) = &spec.placing else {
        move_all(&mut import, spec, |p| {
            Some(Point::new(p.x.checked_add(by.x)?, p.y.checked_add(by.y)?))
        })?;
        import.origin = origin;
        return Ok(Brought {
            import,
            placement: None,
        });
    };
    let pairs = pairs(spec, placing, &import, origin, known, files)?;
    let (names, pairs): (Vec<&str>, Vec<Pair>) = pairs.iter().map(|(n, p)| (&**n, *p)).unzip();
    let limit_m = placing
        .fit_m
        .unwrap_or(FIT * import.facts.height_error_m.hypot(shot_m));
    let fit: Fit = match placing.shift {
        Shift::Height => |pairs| Some(Movement::up(pairs)),
        Shift::PlanAndHeight => Movement::in_plan,
    };
    let movement = fit(&pairs).ok_or_else(|| {
        Diagnostic::error("common-points", "all common points lie at one place")
            .at(placing.at.clone())
            .help("name points that lie apart, round the work")
    })?;
    if worst_m(&movement, &pairs) > limit_m {
        return Err(bad_fit(placing, &names, &pairs, &movement, fit, limit_m, known).into());
    }
    let by = match placing.shift {
        Shift::Height => by,
        Shift::PlanAndHeight => Point::default(),
    };
    move_all(&mut import, spec, |p| {
        let moved = movement.place(p);
        Some(Point::new(
            moved.x.checked_add(by.x)?,
            moved.y.checked_add(by.y)?,
        ))
    })?;
    let points = match &mut import.content {
        Content::Points(points) => points,
        Content::Faces(faces) => &mut faces.vertices,
    };
    for point in points {
        point.z += movement.up_m;
    }
    import.origin = origin;
    let common = names
        .iter()
        .zip(&pairs)
        .map(|(name, pair)| {
            let Left { plan_m, height_m } = movement.left(pair);
            CommonPoint {
                name: (*name).to_owned(),
                plan_m,
                height_m,
            }
        })
        .collect();
    Ok(Brought {
        import,
        placement: Some(Placement {
            shift: placing.shift,
            up_m: movement.up_m,
            turn_deg: movement.turn_deg(),
            common,
            fit_m: limit_m,
        }),
    })
}

/// Moves every point.
fn move_all(
    import: &mut Import,
    spec: &ImportSpec,
    to: impl Fn(Point) -> Option<Point>,
) -> Result<(), Failure> {
    let points = match &mut import.content {
        Content::Points(points) => points,
        Content::Faces(faces) => &mut faces.vertices,
    };
    for point in points {
        point.p = to(point.p).ok_or_else(|| far(spec))?;
    }
    Ok(())
}

fn far(spec: &ImportSpec) -> Failure {
    Diagnostic::error(
        "far-import",
        format!("{} lies too far from the shots of the job", spec.source()),
    )
    .at(spec.at.clone())
    .help("check its coordinates and units, or place it by common points: shift = \"plan-and-height\"")
    .into()
}

/// The common points by name. Plan positions of a shift in height are those of the job on both
/// sides.
fn pairs(
    spec: &ImportSpec,
    placing: &Placing,
    import: &Import,
    origin: Origin,
    known: &BTreeMap<String, Known>,
    files: &dyn Files,
) -> Result<Vec<(String, Pair)>, Failure> {
    let mut faults: Vec<Diagnostic> = Vec::new();
    let mut found = Vec::new();
    let mut add = |name: &str, at: &At, theirs: Option<(Point, f64)>, faults: &mut Vec<_>| {
        let Some(own) = known.get(name.trim()) else {
            faults.push(
                Diagnostic::error(
                    "unknown-common-point",
                    format!("the job has no point {name} with a place and a level"),
                )
                .at(at.clone())
                .help("name a shot, or give the benchmark a row with x, y and its level"),
            );
            return;
        };
        let to = origin.local(own.x_nm, own.y_nm);
        let pair = match theirs {
            Some((from, from_z_m)) => to.map(|to| (from, to, from_z_m)),
            None => {
                let place = import.origin.local(own.x_nm, own.y_nm);
                match place.and_then(|p| Some((p, z_near(&import.content, p)?))) {
                    Some((_, z)) => to.map(|to| (to, to, z)),
                    None => {
                        faults.push(
                            Diagnostic::error(
                                "off-import",
                                format!("{name} lies outside {}", spec.source()),
                            )
                            .at(at.clone())
                            .at(own.at.clone())
                            .help(
                                "name points on it; if its coordinates are not those of the job, \
                                 place it in plan as well: shift = \"plan-and-height\"",
                            ),
                        );
                        return;
                    }
                }
            }
        };
        if let Some((from, to, from_z_m)) = pair {
            found.push((
                name.to_owned(),
                Pair {
                    from,
                    to,
                    from_z_m,
                    to_z_m: own.z_m,
                },
            ));
        }
    };
    match &placing.common {
        Common::Shots(names) => {
            for name in names {
                add(name, &placing.at, None, &mut faults);
            }
        }
        Common::File(file) => {
            let plan = import.facts.plan_unit.unit;
            let spec = SurveySpec {
                at: placing.at.clone(),
                z_units: import.facts.height_unit.unit,
                ..SurveySpec::new(SurveyKind::Points, file.clone(), plan)
            };
            let (entries, _) = read_points(&spec, &super::bytes_of(&spec, files)?)?;
            for entry in entries {
                let place = entry.coordinates();
                let place = place.and_then(|(x, y)| import.origin.local(x, y));
                let theirs = match placing.shift {
                    Shift::PlanAndHeight => place.zip(entry.z_m),
                    // Its place says only where the height was taken.
                    Shift::Height => entry
                        .z_m
                        .zip(known.get(entry.name.trim()))
                        .and_then(|(z, own)| Some((origin.local(own.x_nm, own.y_nm)?, z))),
                };
                if theirs.is_none() && known.contains_key(entry.name.trim()) {
                    faults.push(
                        Diagnostic::error(
                            "half-common-point",
                            format!("{} has no place or no height", entry.name),
                        )
                        .at(entry.at.clone())
                        .help("give x, y and z as the import has them"),
                    );
                    continue;
                }
                add(&entry.name, &entry.at, theirs, &mut faults);
            }
        }
    }
    if faults.is_empty() && found.len() < MIN_COMMON {
        faults.push(
            Diagnostic::error(
                "few-common-points",
                format!(
                    "{} common points bring {} to the benchmark; it takes {MIN_COMMON}",
                    found.len(),
                    spec.source()
                ),
            )
            .at(placing.at.clone())
            .help("name three or more, well apart: with fewer a wrong one is not found out"),
        );
    }
    if faults.is_empty() {
        Ok(found)
    } else {
        Err(Failure(faults))
    }
}

/// Height of an import at a place of its frame, metres; `None` off it.
fn z_near(content: &Content, p: Point) -> Option<f64> {
    match content {
        Content::Faces(faces) => faces
            .triangles
            .iter()
            .find_map(|t| z_in(t.map(|v| faces.vertices[v as usize]), p)),
        Content::Points(points) => {
            let mut near: Vec<u32> = (0..points.len() as u32).collect();
            let key = |&k: &u32| {
                let [x, y] = points[k as usize].p.relative_m(p);
                (x * x + y * y).to_bits()
            };
            if near.len() > NEAR {
                near.select_nth_unstable_by_key(NEAR, key);
                near.truncate(NEAR);
            }
            let near: Vec<P3> = near.into_iter().map(|k| points[k as usize]).collect();
            let plan: Vec<Point> = near.iter().map(|c| c.p).collect();
            let t = triangulate(&plan, &[]).ok()?;
            let mut inside = t.triangles.iter();
            inside.find_map(|t| z_in(t.map(|v| near[v as usize]), p))
        }
    }
}

/// Height in a counter-clockwise triangle, metres; `None` outside.
fn z_in([a, b, c]: [P3; 3], p: Point) -> Option<f64> {
    let is_in = |a: P3, b: P3| orient_sign(a.p, b.p, p) >= 0;
    if !(is_in(a, b) && is_in(b, c) && is_in(c, a)) {
        return None;
    }
    let whole = orient(a.p, b.p, c.p) as f64;
    let share = |a: P3, b: P3| orient(a.p, b.p, p) as f64 / whole;
    Some(share(b, c) * a.z + share(c, a) * b.z + share(a, b) * c.z)
}

/// Says how bad a fit is, and which point spoils it.
fn bad_fit(
    placing: &Placing,
    names: &[&str],
    pairs: &[Pair],
    movement: &Movement,
    fit: Fit,
    limit_m: f64,
    known: &BTreeMap<String, Known>,
) -> Diagnostic {
    let length = |m: f64| format!("{m:.3} m ({:.2} ft)", LengthUnit::Foot.from_m(m));
    let fault = |message: String| Diagnostic::error("bad-fit", message).at(placing.at.clone());
    if placing.shift == Shift::PlanAndHeight
        && let Some(times) = stretch(pairs)
        && UNIT_STRETCHES
            .iter()
            .any(|unit| (times / unit - 1.0).abs() < 0.01)
    {
        return fault(format!(
            "the common points lie {times:.4} times as far apart in the job as in the import: one \
             of them is in feet and read as metres"
        ))
        .help("say `units` for the import, or check the unit of the job's own files");
    }
    let found = spoilers(pairs, fit, limit_m);
    if let Some(&(k, others_m, own_m)) = found.first() {
        let name = names[k];
        let also: Vec<&str> = found[1..].iter().map(|&(k, ..)| names[k]).collect();
        let message = format!(
            "the common points do not fit: without {name} the others agree within {}, and {name} is \
             {} off them; the limit is {}",
            length(others_m),
            length(own_m),
            length(limit_m)
        );
        let doubt = match also[..] {
            [] => String::new(),
            _ => format!(
                "; leaving out {} instead makes a fit as well, so measure both again",
                also.join(" or ")
            ),
        };
        let mut said = fault(message).help(format!(
            "check place and level of {name}, or take it out of the common points{doubt}"
        ));
        said.at.extend(known.get(name).map(|own| own.at.clone()));
        return said;
    }
    let list: Vec<String> = names
        .iter()
        .zip(pairs)
        .map(|(name, pair)| {
            let left = movement.left(pair);
            match placing.shift {
                Shift::Height => format!("{name} {:+.3} m", left.height_m),
                Shift::PlanAndHeight => {
                    format!(
                        "{name} {:.3} m in plan, {:+.3} m in height",
                        left.plan_m, left.height_m
                    )
                }
            }
        })
        .collect();
    fault(format!(
        "the common points do not fit, and it is not one of them alone: {}; the limit is {}",
        list.join("; "),
        length(limit_m)
    ))
    .help("check units and names of both, or say how far they may be off: fit = 0.10")
}

/// Warns of an import that lies nowhere near the shots.
pub(super) fn is_far_off(points: &[P3], shots: &[Point]) -> Option<f64> {
    let span = |points: &mut dyn Iterator<Item = Point>| {
        points.fold(None, |span: Option<(Point, Point)>, p| {
            let (low, high) = span.unwrap_or((p, p));
            Some((
                Point::new(low.x.min(p.x), low.y.min(p.y)),
                Point::new(high.x.max(p.x), high.y.max(p.y)),
            ))
        })
    };
    let (low, high) = span(&mut points.iter().map(|c| c.p))?;
    let (own_low, own_high) = span(&mut shots.iter().copied())?;
    let gap = |low: i64, high: i64, own_low: i64, own_high: i64| {
        (low.saturating_sub(own_high))
            .max(own_low.saturating_sub(high))
            .max(0) as f64
            / NM_PER_M
    };
    let apart_m =
        gap(low.x, high.x, own_low.x, own_high.x).hypot(gap(low.y, high.y, own_low.y, own_high.y));
    let size_m = distance_m(low, high).max(distance_m(own_low, own_high));
    (apart_m > size_m).then_some(apart_m)
}
