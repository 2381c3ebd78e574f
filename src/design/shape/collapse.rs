//! Sides that end below the rim because the hips on both sides of them run together.
//!
//! Where a steep side stands beside a flat one at a blunt corner, the steep plane goes on over
//! the flat one, and may cut it off altogether; above that place its two neighbours meet.

use crate::geom::{P3, Point, orient_sign};

use super::flank::Flank;
use super::joint::{Fill, Joint};
use super::vector::{cross, offset};

/// A side with what its ends have become, from the edge outward.
struct Front {
    flank: usize,
    left: Vec<P3>,
    right: Vec<P3>,
    /// True if its start is a line in which it meets the side before.
    starts_at_hip: bool,
}

impl Front {
    fn ends(&self) -> [P3; 2] {
        // Both hold the end of the edge and one place more at the least.
        [
            self.left[self.left.len() - 1],
            self.right[self.right.len() - 1],
        ]
    }

    /// Where its ends cross, in its plane; `None` if they do not.
    fn apex(&self, flank: &Flank) -> Option<P3> {
        let from = |p: P3| p.p.relative_m(flank.a.p);
        let last = |line: &[P3]| Some((from(*line.iter().rev().nth(1)?), from(*line.last()?)));
        let ((a, to_a), (b, to_b)) = (last(&self.left)?, last(&self.right)?);
        let [da, db] = [
            [to_a[0] - a[0], to_a[1] - a[1]],
            [to_b[0] - b[0], to_b[1] - b[1]],
        ];
        let apart = [b[0] - a[0], b[1] - a[1]];
        let share = cross(apart, db) / cross(da, db);
        let of_right = cross(apart, da) / cross(da, db);
        if !(0.0..1.0).contains(&share) || !(0.0..1.0).contains(&of_right) {
            return None;
        }
        let at = [a[0] + share * da[0], a[1] + share * da[1]];
        let step = Point::from_m(at[0], at[1]);
        let p = Point::new(flank.a.p.x + step.x, flank.a.p.y + step.y);
        let z = flank.a.z + flank.face(0).height(p.relative_m(flank.a.p));
        Some(P3 { p, z })
    }
}

/// Gives the outlines of the sides whose hips run together and of their neighbours; their
/// corners are left with nothing to fill on that side.
///
/// Hips that run together where no two planes meet above are given up, and a facet goes over
/// from one side to the other there.
pub(super) fn collapse(flanks: &[Flank], joints: &mut [Option<Joint>]) -> Vec<Option<Vec<P3>>> {
    loop {
        match try_collapse(flanks, joints) {
            Ok(outlines) => {
                settle(flanks, joints, &outlines);
                return outlines;
            }
            // Each time one hip less.
            Err(joint) => {
                let before = if joint == 0 { flanks.len() } else { joint } - 1;
                joints[joint] = Some(Joint::without_hip([&flanks[before], &flanks[joint]]));
            }
        }
    }
}

/// The outlines, or the corner whose hip must be given up.
fn try_collapse(flanks: &[Flank], joints: &[Option<Joint>]) -> Result<Vec<Option<Vec<P3>>>, usize> {
    let count = flanks.len();
    let mut outlines: Vec<Option<Vec<P3>>> = vec![None; count];
    let mut fronts = fronts(flanks, joints);
    let mut touched = vec![false; count];
    loop {
        let n = fronts.len();
        let crossing = (0..n)
            .filter_map(|k| {
                fronts[k]
                    .apex(&flanks[fronts[k].flank])
                    .map(|apex| (k, apex))
            })
            .min_by(|(_, a), (_, b)| {
                (a.z * flanks[0].rise[0].signum()).total_cmp(&(b.z * flanks[0].rise[0].signum()))
            });
        let Some((k, apex)) = crossing else {
            break;
        };
        let next = (k + 1) % n;
        let before = (k + n - 1) % n;
        let gone = fronts[k].flank;
        let given_up = [gone, (gone + 1) % count].into_iter().find(|&j| {
            matches!(
                &joints[j],
                Some(Joint {
                    fill: Fill::Hip(_),
                    ..
                })
            )
        });
        let meet = || {
            let is_between = fronts[k].starts_at_hip && fronts[next].starts_at_hip && n > 3;
            let is_even = [before, k, next]
                .iter()
                .all(|&f| flanks[fronts[f].flank].is_even);
            let [before, after] = [&flanks[fronts[before].flank], &flanks[fronts[next].flank]];
            let rise = fronts[k].ends()[0].z - apex.z;
            let way = before
                .face(1)
                .meets(&after.face(0), flanks[gone].out, rise)?;
            let length = way[0].hypot(way[1]);
            (is_between && is_even).then(|| offset(apex, way.map(|w| w / length), length, rise))
        };
        let Some(hip) = meet() else {
            match given_up {
                Some(joint) => return Err(joint),
                None => break,
            }
        };
        for (front, end) in [(before, 1), (next, 0)] {
            touched[fronts[front].flank] = true;
            let front = &mut fronts[front];
            let line = if end == 1 {
                &mut front.right
            } else {
                &mut front.left
            };
            line.pop();
            line.extend([apex, hip]);
        }
        let front = &mut fronts[k];
        front.left.pop();
        front.right.pop();
        front.left.push(apex);
        outlines[gone] = Some(outline(front));
        fronts.remove(k);
    }
    for front in &fronts {
        // A hip that leans over a side past the ray at its other end.
        let [starts, ends] = strip_ends(flanks, joints, front.flank);
        let Flank { a, b, .. } = flanks[front.flank];
        let is_past =
            orient_sign(a.p, starts.p, ends.p) <= 0 || orient_sign(starts.p, ends.p, b.p) <= 0;
        if touched[front.flank] || is_past {
            outlines[front.flank] = Some(outline(front));
        }
    }
    Ok(outlines)
}

fn outline(front: &Front) -> Vec<P3> {
    front
        .left
        .iter()
        .chain(front.right.iter().rev())
        .copied()
        .collect()
}

fn fronts(flanks: &[Flank], joints: &[Option<Joint>]) -> Vec<Front> {
    let count = flanks.len();
    // A corner between even sides is a hip too, once it is needed as one.
    let meets = |k: usize| {
        let joint = joints[k].as_ref()?;
        let before = if k == 0 { count } else { k } - 1;
        match joint.fill {
            Fill::Hip(hip) => Some(hip),
            Fill::Shared => Some(joint.far[0]),
            Fill::Even => match Joint::at_hip([&flanks[before], &flanks[k]])?.fill {
                Fill::Hip(hip) => Some(hip),
                _ => None,
            },
            _ => None,
        }
    };
    (0..count)
        .map(|k| {
            let after = (k + 1) % count;
            let [starts, ends] = strip_ends(flanks, joints, k);
            Front {
                flank: k,
                left: vec![flanks[k].a, meets(k).unwrap_or(starts)],
                right: vec![flanks[k].b, meets(after).unwrap_or(ends)],
                starts_at_hip: meets(k).is_some(),
            }
        })
        .collect()
}

/// Far ends of a side between the rays it ends in.
pub(super) fn strip_ends(flanks: &[Flank], joints: &[Option<Joint>], k: usize) -> [P3; 2] {
    let after = (k + 1) % flanks.len();
    [
        joints[k]
            .as_ref()
            .map_or_else(|| flanks[k].far(0), |j| j.far[1]),
        joints[after]
            .as_ref()
            .map_or_else(|| flanks[k].far(1), |j| j.far[0]),
    ]
}

/// Takes from the corners what the outlines hold already.
fn settle(flanks: &[Flank], joints: &mut [Option<Joint>], outlines: &[Option<Vec<P3>>]) {
    let count = flanks.len();
    for (k, joint) in joints.iter_mut().enumerate() {
        let before = if k == 0 { count } else { k } - 1;
        let is_drawn = [before, k].map(|f| outlines[f].is_some());
        if is_drawn == [false; 2] {
            continue;
        }
        let Some(joint) = joint else {
            continue;
        };
        if let (Fill::Even, Some(at_hip)) =
            (joint.fill, Joint::at_hip([&flanks[before], &flanks[k]]))
        {
            *joint = at_hip;
        }
        if let Fill::Hip(hip) = joint.fill {
            for (far, _) in joint
                .far
                .iter_mut()
                .zip(is_drawn)
                .filter(|(_, drawn)| *drawn)
            {
                *far = hip;
            }
        }
    }
}
