//! The rim of a feature: where its core ends and its sides begin.
//!
//! Found from labels, so it works for every kind: an edge between a floor, bed or crest and a side
//! of the same feature. A side that falls away from the core is fill, one that rises is cut; a pad
//! on a slope has both. No rim is:
//!
//! - an edge to a near-vertical face: the design holds it there, and the face is listed as one;
//! - an edge to another feature: that one goes on there;
//! - an edge to the ground: the feature ends there by itself;
//! - anything of a loose pile or of a wall, which are not tamped soil, and of a trench that is
//!   filled again.

use crate::design::{Design, Role};
use crate::geom::{P3, Point};
use crate::surface::{Rule, Surface};

/// A straight piece of a rim.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Piece {
    /// One end, metres in the local frame.
    pub(crate) from: [f64; 3],
    /// The other.
    pub(crate) to: [f64; 3],
    /// Away from the core, square to the piece, of length one.
    pub(crate) out: [f64; 2],
}

/// The rim of a feature.
#[derive(Clone, Debug, Default)]
pub(crate) struct Rim {
    /// Where sides of fill begin.
    pub(crate) fill: Vec<Piece>,
    /// Where sides of a cut begin.
    pub(crate) cut: Vec<Piece>,
}

impl Rim {
    /// Its pieces of fill, or of cut.
    pub(crate) fn of(&self, is_fill: bool) -> &[Piece] {
        if is_fill { &self.fill } else { &self.cut }
    }
}

/// A side that lies flatter than this neither rises nor falls, rise over run.
const LEVEL: f64 = 1.0e-3;

/// Pieces shorter than this are where rounded lines meet, metres.
const SHORTEST_M: f64 = 1.0e-6;

/// The rims of all features, by number.
pub(crate) fn rims(design: &Design) -> Vec<Rim> {
    let mut rims = vec![Rim::default(); design.features.len()];
    add(design, &design.surface, &mut rims, false);
    // A hole stands open as it is dug, before stone and gravel lie in it.
    if let Some(dug) = &design.dug {
        add(design, dug, &mut rims, true);
    }
    rims
}

fn add(design: &Design, surface: &Surface, rims: &mut [Rim], cuts_only: bool) {
    for f in surface.facets() {
        let part = &design.parts[surface.label(f) as usize];
        let (Role::Floor, Some(number)) = (part.role, part.feature) else {
            continue;
        };
        let laid = &design.features[number].laid;
        let is_loose_or_built = laid.rule == Rule::Raise && !laid.places_soil;
        if is_loose_or_built || laid.is_refilled() {
            continue;
        }
        let corners = surface.corners(f);
        for (k, n) in surface.neighbours(f).into_iter().enumerate() {
            if n == Surface::NONE {
                continue;
            }
            let beside = &design.parts[surface.label(n) as usize];
            if beside.role != Role::Side || beside.feature != Some(number) {
                continue;
            }
            let (a, b) = (corners[k], corners[(k + 1) % 3]);
            let [dx, dy] = b.p.relative_m(a.p);
            let length = dx.hypot(dy);
            if length < SHORTEST_M {
                continue;
            }
            // Facets are counter-clockwise: the core lies to the left of the edge.
            let out = [dy / length, -dx / length];
            let plane = surface.source(n).plane;
            let rise = plane.slope[0] * out[0] + plane.slope[1] * out[1];
            if rise.abs() < LEVEL {
                continue;
            }
            let piece = Piece {
                from: place(a),
                to: place(b),
                out,
            };
            match rise < 0.0 {
                true if !cuts_only => rims[number].fill.push(piece),
                false => rims[number].cut.push(piece),
                true => {}
            }
        }
    }
}

/// Metres in the local frame.
fn place(c: P3) -> [f64; 3] {
    [c.p.x_m(), c.p.y_m(), c.z]
}

/// The same of a place in plan.
pub(crate) fn plan(p: Point) -> [f64; 2] {
    [p.x_m(), p.y_m()]
}
