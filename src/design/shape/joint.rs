//! Corners between the sides of two edges.

use crate::geom::P3;

use super::flank::{Face, Flank, SHALLOW, hip};
use super::sides::Corners;
use super::vector::{cross, dot, is_straight, middle};

/// A corner: where the side before and the one after it end, and what fills the rest.
pub(super) struct Joint {
    pub(super) at: P3,
    /// Far end of the side before and of the side after, on the rays they end in.
    pub(super) far: [P3; 2],
    pub(super) fill: Fill,
}

#[derive(Clone, Copy)]
pub(super) enum Fill {
    /// Nothing: the sides share their ends.
    Shared,
    /// Nothing: the sides overlap, and the one that wins is laid.
    Overlap,
    /// The same; where one reaches past the other it ends upright instead of in the air.
    Faced,
    /// The same; the side before (0) or after (1) goes on to the line where the planes meet,
    /// beyond its end at right angles.
    Reach(usize, P3),
    /// As between two level edges of one slope.
    Even,
    /// Both go on up to the line where their planes meet.
    Hip(P3),
    /// The same twice, with a plane between them that looks this way.
    TwoHips([P3; 2], [f64; 2]),
    /// Facets from one slope to the other; a single one at a mitred corner.
    Fan(Corners),
    /// An upright end of the side before (0) or after (1).
    Cheek(usize),
}

impl Joint {
    /// # Input
    ///
    /// `is_even`: all sides of the line have one slope and start at one level
    pub(super) fn new([before, after]: [&Flank; 2], corners: Corners, is_even: bool) -> Joint {
        let at = after.a;
        let plain = [before.far(1), after.far(0)];
        let joint = |far, fill| Joint { at, far, fill };
        let faces = [before.face(1), after.face(0)];
        let runs = faces.map(|f| f.run);
        let is_one_slope = runs[0].to_bits() == runs[1].to_bits();
        let flatter = Fill::Cheek(usize::from(runs[1] > runs[0]));
        if is_straight(before.out, after.out, runs[0].max(runs[1])) {
            return match is_one_slope {
                true => joint([plain[0]; 2], Fill::Shared),
                false => joint(plain, flatter),
            };
        }
        let is_level = before.gradient == 0.0 && after.gradient == 0.0;
        let is_outward = cross(before.out, after.out) > 0.0;
        let bend = dot(before.out, after.out);
        let takes_up = is_one_slope || bend <= 0.0 || cross(before.out, after.out) >= SHALLOW;
        match (is_outward, corners) {
            (true, Corners::Round) if is_one_slope => joint(plain, Fill::Even),
            (true, Corners::Round) if takes_up => joint(plain, Fill::Fan(Corners::Round)),
            (true, Corners::Round) => joint(plain, flatter),
            (true, Corners::Mitre) if is_one_slope && is_level => joint(plain, Fill::Even),
            (true, Corners::Mitre) => {
                if let Some(joint) = Joint::at_hip([before, after]) {
                    joint
                } else if let Some(two) = two_hips(at, [before, after]).filter(|_| bend < 0.0) {
                    joint(plain, two)
                } else if takes_up {
                    joint(plain, Fill::Fan(Corners::Mitre))
                } else {
                    joint(plain, flatter)
                }
            }
            (false, _) if is_even => joint(plain, Fill::Overlap),
            (false, _) if is_valley(faces, after.rise[0]) => joint(plain, Fill::Faced),
            (false, _) => inward([before, after]).unwrap_or(joint(plain, Fill::Faced)),
        }
    }

    /// A corner at the line in which the planes meet. A side that it leans over ends there;
    /// one that it leans away from goes on to it beyond its end at right angles.
    pub(super) fn at_hip([before, after]: [&Flank; 2]) -> Option<Joint> {
        let at = after.a;
        let hip = hip(at, [&before.face(1), &after.face(0)], after.rise[0])?;
        let way = hip.p.relative_m(at.p);
        let end = |leans_over: bool, plain: P3| if leans_over { hip } else { plain };
        Some(Joint {
            at,
            far: [
                end(dot(before.along, way) < 0.0, before.far(1)),
                end(dot(after.along, way) > 0.0, after.far(0)),
            ],
            fill: Fill::Hip(hip),
        })
    }

    /// The same corner without a hip: a single facet from one side to the other where it turns
    /// outward, and sides that overlap where it turns inward.
    pub(super) fn without_hip([before, after]: [&Flank; 2]) -> Joint {
        Joint {
            at: after.a,
            far: [before.far(1), after.far(0)],
            fill: if cross(before.out, after.out) > 0.0 {
                Fill::Fan(Corners::Mitre)
            } else {
                Fill::Faced
            },
        }
    }
}

/// A corner that turns inward and is no valley at right angles to its edges: `None` if the
/// planes meet only beyond the edges.
fn inward([before, after]: [&Flank; 2]) -> Option<Joint> {
    let met = Joint::at_hip([before, after])?;
    let Fill::Hip(hip) = met.fill else {
        return None;
    };
    let way = hip.p.relative_m(met.at.p);
    // How far the line leans over each side.
    let leans = [-dot(before.along, way), dot(after.along, way)];
    let fits = |end: usize| leans[end] <= [before, after][end].length;
    let far = [before.far(1), after.far(0)];
    let reach = |end: usize| Joint {
        at: met.at,
        far,
        fill: Fill::Reach(end, hip),
    };
    match leans.map(|lean| lean > 0.0) {
        [true, true] => (fits(0) && fits(1)).then_some(met),
        [true, false] => fits(0).then(|| reach(1)),
        [false, true] => fits(1).then(|| reach(0)),
        [false, false] => None,
    }
}

/// At a corner that turns inward each side goes on to its own ray at right angles; there the
/// other must be the one that wins.
fn is_valley([before, after]: [Face; 2], rise: f64) -> bool {
    let wins = |one: &Face, other: &Face| {
        (other.height(other.out) - one.height(other.out)) * rise.signum() >= 0.0
    };
    wins(&before, &after) && wins(&after, &before)
}

/// Where a corner is so sharp that its planes meet far away: cut off by a plane between them, of
/// the slope between theirs.
fn two_hips(at: P3, [before, after]: [&Flank; 2]) -> Option<Fill> {
    let rise = after.rise[0];
    let faces = [before.face(1), after.face(0)];
    let out = middle(before.out, after.out);
    let run = (faces[0].run + faces[1].run) / 2.0;
    let between = Face {
        slope: out.map(|o| o * rise / run),
        out,
        run,
    };
    let first = hip(at, [&faces[0], &between], rise)?;
    let second = hip(at, [&between, &faces[1]], rise)?;
    // A hip that leans over one of the sides would need that side cut.
    let lean = |along: [f64; 2], hip: P3| dot(along, hip.p.relative_m(at.p));
    (lean(before.along, first) >= 0.0 && lean(after.along, second) <= 0.0)
        .then_some(Fill::TwoHips([first, second], out))
}
