//! The yard before and after the work, made ready for water, with all that is asked after marked.

use crate::design::{Design, KeepOffPlace};
use crate::flow::{Drains, Line, Mark, Pits, Tin};
use crate::geom::{Point, Ring, distance_m};
use crate::job::{KeepOffKind, Use};
use crate::surface::{Surface, borders};
use crate::terrain::GROUND;

use super::super::Context;

/// A rim of the ground this near a building is its wall, metres: corners of a hole and of a
/// building are often shot once and typed once.
const AT_WALL_M: f64 = 0.15;

/// One state of the yard.
pub(super) struct State<'a> {
    pub(super) surface: &'a Surface,
    pub(super) tin: Tin,
    pub(super) pits: Pits,
    /// What drains where, every hollow full.
    pub(super) drains: Drains,
}

/// The yard before and after.
pub(super) struct Yard<'a> {
    pub(super) before: State<'a>,
    pub(super) after: State<'a>,
    /// Outlines of buildings with the number of their keep-off.
    pub(super) buildings: Vec<(usize, Ring)>,
    /// Keep-offs that are lines of property.
    pub(super) boundaries: Vec<usize>,
    pub(super) mown: Vec<(String, Ring)>,
}

/// The mark of a keep-off.
pub(super) fn keep_off_mark(number: usize) -> Mark {
    number as Mark
}

impl<'a> Yard<'a> {
    pub(super) fn of(context: &Context<'a>, keep_offs: &[KeepOffPlace]) -> Yard<'a> {
        let of_kind = |kind| {
            let all = keep_offs.iter().enumerate();
            all.filter(move |(_, k)| k.kind == kind)
        };
        let buildings: Vec<(usize, Ring)> = of_kind(KeepOffKind::Building)
            .filter_map(|(k, place)| Some((k, place.area.clone()?)))
            .collect();
        let boundaries: Vec<usize> = of_kind(KeepOffKind::Boundary).map(|(k, _)| k).collect();
        let mown = used(context, Use::Mown);
        let mut lines: Vec<Line> = buildings
            .iter()
            .map(|(_, ring)| Line {
                points: closed(ring),
                mark: None,
            })
            .collect();
        lines.extend(boundaries.iter().map(|&k| Line {
            points: keep_offs[k].line.clone(),
            mark: Some(keep_off_mark(k)),
        }));
        let first_feature = keep_offs.len();
        let design = context.design;
        let feature_at = |p: Point| -> Option<usize> {
            let facet = design.surface.facet_at(p)?;
            feature_of(design, &design.surface, facet)
        };
        let mark = |p: Point, feature: Option<usize>| -> Option<Mark> {
            let building = buildings.iter().find(|(_, ring)| ring.contains(p));
            match building {
                Some((k, _)) => Some(keep_off_mark(*k)),
                None => feature.map(|f| (first_feature + f) as Mark),
            }
        };
        let state = |surface: &'a Surface, lines: &[Line], is_after: bool| {
            let mut tin = Tin::cut(surface, lines);
            tin.mark(|p, facet| {
                let feature = match is_after {
                    true => feature_of(design, surface, facet),
                    false => feature_at(p),
                };
                mark(p, feature)
            });
            tin.mark_rim(|a, b| {
                let middle = Point::new((a.x + b.x) / 2, (a.y + b.y) / 2);
                let at_wall = |(_, ring): &&(usize, Ring)| {
                    ring.sides()
                        .any(|side| distance_to_m(middle, side) <= AT_WALL_M)
                };
                let building = buildings.iter().find(at_wall);
                building.map(|(k, _)| keep_off_mark(*k))
            });
            tin.hold(buildings.iter().map(|(k, _)| keep_off_mark(*k)).collect());
            let pits = Pits::of(&tin);
            let drains = Drains::of(&tin, &pits, f64::INFINITY);
            State {
                surface,
                tin,
                pits,
                drains,
            }
        };
        let mut before_lines = lines.clone();
        before_lines.extend(territories(design));
        lines.extend(mown.iter().map(|(_, ring)| Line {
            points: closed(ring),
            mark: None,
        }));
        let before = state(&context.terrain.surface, &before_lines, false);
        let after = state(&design.surface, &lines, true);
        Yard {
            before,
            after,
            buildings,
            boundaries,
            mown,
        }
    }
}

/// The mark of a feature, after those of all keep-offs.
pub(super) fn feature_mark(keep_offs: &[KeepOffPlace], feature: usize) -> Mark {
    (keep_offs.len() + feature) as Mark
}

/// The feature a facet belongs to; a strip is no feature, it leaves the ground as it lies.
pub(super) fn feature_of(design: &Design, surface: &Surface, facet: u32) -> Option<usize> {
    let feature = design.parts[surface.label(facet) as usize].feature?;
    (!design.features[feature].is_strip()).then_some(feature)
}

/// Borders between features, and between them and the ground.
fn territories(design: &Design) -> Vec<Line> {
    let surface = &design.surface;
    let mut found = Vec::new();
    for feature in 0..design.features.len() {
        let is_of =
            |f: u32| surface.label(f) != GROUND && feature_of(design, surface, f) == Some(feature);
        for line in borders(surface, &is_of, &|n| n.is_none_or(|n| !is_of(n))) {
            let points = line.iter().map(|&v| surface.vertices()[v as usize].p);
            found.push(Line {
                points: points.collect(),
                mark: None,
            });
        }
    }
    found
}

fn closed(ring: &Ring) -> Vec<Point> {
    let mut points = ring.corners().to_vec();
    points.push(points[0]);
    points
}

/// Areas that are used in one way, with their outlines. Places that do not exist are said where
/// slopes are held against uses.
pub(super) fn used(context: &Context, used: Use) -> Vec<(String, Ring)> {
    let areas = context.job.areas.iter().filter(|area| area.used == used);
    areas
        .filter_map(|area| {
            let places = context.survey.resolve(&area.area).ok()?;
            let mut corners: Vec<Point> = places.iter().map(|p| p.p).collect();
            corners.dedup();
            Some((area.name.clone(), Ring::new(&corners).ok()?))
        })
        .collect()
}

/// Distance of a place from a stretch of a line, metres.
pub(super) fn distance_to_m(p: Point, (a, b): (Point, Point)) -> f64 {
    let ([x, y], [ex, ey]) = (p.relative_m(a), b.relative_m(a));
    let square = ex * ex + ey * ey;
    let share = match square > 0.0 {
        true => ((x * ex + y * ey) / square).clamp(0.0, 1.0),
        false => return distance_m(p, a),
    };
    (x - share * ex).hypot(y - share * ey)
}
