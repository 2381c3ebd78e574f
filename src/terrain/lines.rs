//! Outline, holes, areas without data and breaklines: from names in the job to lines with heights.

use crate::diag::{At, Diagnostic};
use crate::geom::{P3, Point, Ring, RingFault};
use crate::surface::Surface;
use crate::survey::PlacedShot;

use super::reach::within;

/// A line of the ground, resolved.
pub(super) struct Line {
    pub(super) points: Vec<P3>,
    pub(super) closed: bool,
    pub(super) at: At,
    /// True if it reached beyond the shots and was cut at the outermost of them.
    pub(super) is_cut: bool,
}

/// The error for corners that make no ring.
pub(super) fn bad_outline(fault: &RingFault, at: &At) -> Diagnostic {
    Diagnostic::error(
        "bad-outline",
        format!("this outline is not usable: {fault}"),
    )
    .at(at.clone())
    .help("list the corners in walking order, each once")
}

impl Line {
    /// A line through places. Corners given by coordinates take their height from the surface
    /// over the bare shots; a ring that reaches beyond it is cut there.
    pub(super) fn through(
        placed: &[PlacedShot],
        at: &At,
        closed: bool,
        bare: &Surface,
    ) -> Result<Line, Diagnostic> {
        let mut points: Vec<P3> = Vec::with_capacity(placed.len());
        for place in placed {
            let z = match place.z_m.or_else(|| bare.z_at(place.p)) {
                Some(z) => z,
                None if closed => {
                    return Ok(Line {
                        points: within(placed, bare, at)?,
                        closed,
                        at: at.clone(),
                        is_cut: true,
                    });
                }
                None => {
                    return Err(Diagnostic::error(
                        "no-height",
                        "a corner of this line lies outside all shots, so its height is not known",
                    )
                    .at(at.clone())
                    .help("shoot it, or move it inside the shots"));
                }
            };
            if points.last().is_none_or(|last| last.p != place.p) {
                points.push(P3 { p: place.p, z });
            }
        }
        if closed && points.len() > 1 && points[0].p == points[points.len() - 1].p {
            points.pop();
        }
        let least = if closed { 3 } else { 2 };
        if points.len() < least {
            return Err(Diagnostic::error(
                "short-line",
                format!(
                    "this line needs at least {least} different places, it has {}",
                    points.len()
                ),
            )
            .at(at.clone())
            .help("add places, or check the code"));
        }
        Ok(Line {
            points,
            closed,
            at: at.clone(),
            is_cut: false,
        })
    }

    /// The ring of a closed line.
    pub(super) fn ring(&self) -> Result<Ring, Diagnostic> {
        let corners: Vec<Point> = self.points.iter().map(|p| p.p).collect();
        Ring::new(&corners).map_err(|fault| bad_outline(&fault, &self.at))
    }
}
