//! Surfaces of several sources brought into one frame.

use crate::diag::{At, Diagnostic, Failure};
use crate::geom::{Origin, P3, Point};
use crate::surface::Surface;
use crate::terrain::GROUND;
use crate::units::MAX_COORDINATE_M;

use super::source::{Kind, Loaded, Told};

/// The frame of several surfaces: that of the first which has one.
fn common_origin(loaded: &[Loaded]) -> Option<Origin> {
    loaded.iter().find_map(|l| match &l.surface {
        Kind::Surface { origin, .. } => Some(*origin),
        Kind::Plane { .. } => None,
    })
}

/// What surfaces say of themselves, in the frame [`align`] brings them to.
pub(super) fn told(loaded: &[Loaded]) -> Vec<Told> {
    let common = common_origin(loaded).unwrap_or_default();
    let of = |l: &Loaded| {
        let mut told = l.told.clone();
        if let Kind::Surface { origin, .. } = &l.surface
            && let Some(by) = origin.shift_to(common)
        {
            for point in told.breaklines.iter_mut().flatten() {
                point.p = Point::new(point.p.x + by.x, point.p.y + by.y);
            }
        }
        told
    };
    loaded.iter().map(of).collect()
}

/// Surfaces in one common local frame; planes are given the extent of the others.
///
/// # Errors
///
/// only planes, so that there is no extent; surfaces that lie worlds apart
pub(super) fn align(loaded: Vec<Loaded>) -> Result<(Vec<(String, Surface)>, Origin), Failure> {
    let Some(origin) = common_origin(&loaded) else {
        return Err(
            Diagnostic::error("no-extent", "a level or a plane has no end by itself")
                .help("give at least one surface with shots")
                .into(),
        );
    };
    let mut low: Option<Point> = None;
    let mut high: Option<Point> = None;
    let mut found: Vec<(String, Kind)> = Vec::new();
    for Loaded { name, surface, .. } in loaded {
        let kind = match surface {
            Kind::Surface {
                surface,
                origin: own,
            } => {
                let nm = 1_000_000_000i64;
                let by = (own.x_m - origin.x_m)
                    .checked_mul(nm)
                    .zip((own.y_m - origin.y_m).checked_mul(nm));
                let Some((x, y)) = by else {
                    return Err(Diagnostic::error("apart", "the surfaces lie too far apart").into());
                };
                let surface = if x == 0 && y == 0 {
                    surface
                } else {
                    Box::new(surface.moved(Point::new(x, y)))
                };
                for v in surface.vertices() {
                    low = Some(low.map_or(v.p, |l| Point::new(l.x.min(v.p.x), l.y.min(v.p.y))));
                    high = Some(high.map_or(v.p, |h| Point::new(h.x.max(v.p.x), h.y.max(v.p.y))));
                }
                Kind::Surface { surface, origin }
            }
            plane @ Kind::Plane { .. } => plane,
        };
        found.push((name, kind));
    }
    let (low, high) = (low.unwrap_or_default(), high.unwrap_or_default());
    let surfaces = found
        .into_iter()
        .map(|(name, kind)| match kind {
            Kind::Surface { surface, .. } => Ok((name, *surface)),
            Kind::Plane { z0_m, east, north } => {
                let margin = 1_000_000_000;
                let z = |p: Point| {
                    let x = p.x_m() + origin.x_m as f64;
                    let y = p.y_m() + origin.y_m as f64;
                    z0_m + east * x + north * y
                };
                let corners = [
                    Point::new(low.x - margin, low.y - margin),
                    Point::new(high.x + margin, low.y - margin),
                    Point::new(high.x + margin, high.y + margin),
                    Point::new(low.x - margin, high.y + margin),
                ];
                let vertices: Vec<P3> = corners.iter().map(|&p| P3 { p, z: z(p) }).collect();
                if vertices
                    .iter()
                    .any(|v| v.z.is_nan() || v.z.abs() > MAX_COORDINATE_M)
                {
                    return Err(Diagnostic::error(
                        "far-plane",
                        "heights of this plane are far beyond any place on Earth",
                    )
                    .at(At::cell("command line", 0, "SOURCE", name))
                    .help("check Z0 and both rises; a rise is for one unit east or north")
                    .into());
                }
                Surface::from_triangles(vertices, &[[0, 1, 2], [0, 2, 3]], GROUND)
                    .map(|surface| (name, surface))
                    .map_err(|e| Failure::from(Diagnostic::error("plane", e.to_string())))
            }
        })
        .collect::<Result<Vec<_>, Failure>>()?;
    Ok((surfaces, origin))
}
