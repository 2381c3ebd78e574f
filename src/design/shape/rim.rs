//! Sides along a line whose levels vary, with a slope of its own for every edge.
//!
//! Takes a line, open or closed, with the slope on the right of every edge; gives the pieces of
//! the sides and of the corners between them. At a corner that turns outward the planes of two
//! sides meet in a hip, or a fan of facets goes over from one slope to the other. At a corner
//! that turns inward the two sides overlap. Where slopes differ and the line hardly turns, the
//! planes would meet far away or nowhere: there the flatter side ends in an upright cheek.

use crate::geom::P3;
use crate::surface::{Label, Patch};

use super::collapse::{collapse, strip_ends};
use super::corner::{Wedge, corner, fan};
use super::flank::Flank;
use super::joint::{Fill, Joint};
use super::sides::{Corners, FACE_RUN_PER_RISE, Sides, strip};
use super::vector::{cross, offset};

/// Run for each unit of rise at the start and at the end of an edge, at right angles to it in
/// plan; 0 for an upright face.
pub type EdgeRun = [f64; 2];

/// A part of the sides along a line.
#[derive(Clone, Copy, Debug)]
pub enum SidePart {
    /// The side of an edge.
    Edge(usize),
    /// A facet of a corner, by the direction it looks to in plan.
    Corner([f64; 2]),
    /// The upright end of the side of this edge, which is flatter than the one beside it.
    Cheek(usize),
}

/// Adds the sides along a line, to the right of it.
///
/// # Input
///
/// two or more points (three for a closed line, counter-clockwise), neighbours different;
/// `runs` one for every edge, in a closed line the last from the last point to the first; of
/// `sides` everything but the slope
pub fn sides_along(
    patch: &mut Patch,
    line: &[P3],
    is_closed: bool,
    runs: &[EdgeRun],
    sides: &Sides,
    label: &mut dyn FnMut(SidePart) -> Label,
) {
    let n = line.len();
    let rise = sides.rise(line.iter().map(|p| p.z));
    let up = rise.signum();
    let start = line.iter().map(|p| p.z * up).fold(f64::INFINITY, f64::min) * up;
    // All sides end at one level.
    let rise_at = |k: usize| rise + (start - line[k].z);
    let flanks: Vec<Flank> = runs
        .iter()
        .enumerate()
        .map(|(k, &run)| {
            let ends = [k, (k + 1) % n];
            Flank::new(ends.map(|e| line[e]), run, ends.map(rise_at))
        })
        .collect();
    let count = flanks.len();
    let is_even = flanks
        .iter()
        .all(|f| f.gradient == 0.0 && f.run == flanks[0].run);
    let mut joints: Vec<Option<Joint>> = (0..count)
        .map(|k| {
            let before = if k == 0 { count } else { k } - 1;
            (k > 0 || is_closed)
                .then(|| Joint::new([&flanks[before], &flanks[k]], sides.corners, is_even))
        })
        .collect();
    let outlines = collapse(&flanks, &mut joints);
    for (k, flank) in flanks.iter().enumerate() {
        let [starts, ends] = strip_ends(&flanks, &joints, k);
        let part = label(SidePart::Edge(k));
        match &outlines[k] {
            Some(outline) => patch.add(outline, part),
            None if flank.is_even => patch.add(&[flank.a, starts, ends, flank.b], part),
            None => {
                patch.add(&[flank.a, starts, ends], part);
                patch.add(&[flank.a, ends, flank.b], part);
            }
        }
        if let Some(joint) = &joints[k] {
            let before = if k == 0 { count } else { k } - 1;
            fill(patch, joint, &flanks, [before, k], sides, label);
        }
    }
}

/// Adds what lies between the sides of two edges.
fn fill(
    patch: &mut Patch,
    joint: &Joint,
    flanks: &[Flank],
    edges: [usize; 2],
    sides: &Sides,
    label: &mut dyn FnMut(SidePart) -> Label,
) {
    let [before, after] = edges.map(|k| &flanks[k]);
    let (at, far, rise) = (joint.at, joint.far, after.rise[0]);
    let out = [before.out, after.out];
    let runs = [before.run[1], after.run[0]];
    match joint.fill {
        Fill::Shared | Fill::Overlap => {}
        Fill::Even => {
            let wedge = Wedge {
                run: [0.0, runs[0]],
                rise: [0.0, rise],
                reach: runs[0],
            };
            let mut facing = |out| label(SidePart::Corner(out));
            corner(patch, at, out, wedge, sides, &mut facing);
        }
        Fill::Hip(hip) => {
            for (far, edge) in far.into_iter().zip(edges) {
                patch.add(&[at, far, hip], label(SidePart::Edge(edge)));
            }
        }
        Fill::TwoHips([first, second], between) => {
            patch.add(&[at, far[0], first], label(SidePart::Edge(edges[0])));
            patch.add(&[at, first, second], label(SidePart::Corner(between)));
            patch.add(&[at, second, far[1]], label(SidePart::Edge(edges[1])));
        }
        Fill::Fan(corners) => {
            let chord_m = (corners == Corners::Round).then_some(sides.chord_m);
            let mut facing = |out| label(SidePart::Corner(out));
            fan(patch, at, out, (runs, rise), chord_m, &mut facing);
        }
        Fill::Cheek(flat) => cheek(patch, joint, [before, after], flat, edges[flat], label),
        Fill::Faced | Fill::Reach(..) => {
            for (end, edge) in edges.into_iter().enumerate() {
                if let Fill::Reach(far_end, hip) = joint.fill
                    && far_end == end
                {
                    patch.add(&[at, far[end], hip], label(SidePart::Edge(edge)));
                    continue;
                }
                let away = [before.along, after.along.map(|d| -d)][end];
                face(
                    patch,
                    [at, far[end]],
                    away,
                    rise,
                    label(SidePart::Cheek(edge)),
                );
            }
        }
    }
}

/// The upright end of a side along the ray it ends in; at a corner that turns outward the side
/// goes on as far as the ray of the other.
fn cheek(
    patch: &mut Patch,
    joint: &Joint,
    flanks: [&Flank; 2],
    flat: usize,
    edge: usize,
    label: &mut dyn FnMut(SidePart) -> Label,
) {
    let [flank, other] = [flanks[flat], flanks[1 - flat]];
    let mut foot = joint.far[flat];
    if cross(flanks[0].out, flanks[1].out) > 0.0 {
        // In the plane of the flat side, along the ray of the other.
        let face = flank.face(1 - flat);
        let z = face.height(other.out.map(|o| o * face.run));
        foot = offset(joint.at, other.out, face.run, z);
        let part = label(SidePart::Edge(edge));
        patch.add(&[joint.at, joint.far[flat], foot], part);
    }
    // It leans over the other side.
    let away = match flat {
        0 => other.along,
        _ => other.along.map(|d| -d),
    };
    let part = label(SidePart::Cheek(edge));
    face(patch, [joint.at, foot], away, flanks[1].rise[0], part);
}

/// An upright face over the ray in which a side ends.
fn face(patch: &mut Patch, [from, to]: [P3; 2], away: [f64; 2], rise: f64, label: Label) {
    strip(
        patch,
        from,
        to,
        away,
        rise.abs() * FACE_RUN_PER_RISE,
        rise,
        label,
    );
}
