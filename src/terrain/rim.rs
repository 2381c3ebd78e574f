//! What is taken off the rim of the ground, and what is too steep to be ground at all.
//!
//! Takes the triangles between shots and lines, says which stay. Knows no outline: its rim is
//! wherever triangles end, at the hull of the shots, at the outline or at a hole.

use std::collections::BTreeSet;

use crate::diag::{Diagnostic, Failure, has_error};
use crate::geom::{P3, Triangulation, distance_m};
use crate::surface::Plane;
use crate::survey::Survey;

use super::build::{MAX_LISTED, files_of};
use super::lines::Line;
use super::weave::Woven;

/// Slivers at the rim steeper than this are taken off: they lie between shots almost in line,
/// and their slope means nothing. Far above any wall a rod can be held to.
const STEEPEST_GROUND: f64 = 1.0e4;

/// A sliver is this many times longer than wide, at least.
const SLIVER_LENGTH: f64 = 1.0e3;

/// Ground steeper than this is refused: 3 m of height within 60 micrometres. No two places are
/// shot so close, and heights beside such a face are uncertain by 0.2 mm.
const STEEPEST_USABLE: f64 = 5.0e4;

/// The triangles of the ground before it is trimmed.
pub(super) struct Rim<'a> {
    pub(super) survey: &'a Survey,
    pub(super) lines: &'a [Line],
    pub(super) woven: &'a Woven,
    pub(super) t: &'a Triangulation,
}

impl Rim<'_> {
    fn corners(&self, t: usize) -> [P3; 3] {
        self.t.triangles[t].map(|v| self.woven.vertices[v as usize])
    }

    fn steepness(&self, t: usize) -> f64 {
        let [a, b, c] = self.corners(t);
        Plane::through(a, b, c).steepness()
    }

    /// Kept triangles too steep to be used.
    fn too_steep<'k>(&'k self, keep: &'k [bool]) -> impl Iterator<Item = usize> + 'k {
        (0..keep.len()).filter(|&t| keep[t] && self.steepness(t) > STEEPEST_USABLE)
    }

    /// Refuses two places almost at one with two heights. They are refused at the rim as well:
    /// the sliver beside them could be taken off, but one of the heights would still be wrong.
    pub(super) fn refuse_near_shots(
        &self,
        keep: &[bool],
        diagnostics: &mut Vec<Diagnostic>,
    ) -> Result<(), Failure> {
        let mut pairs = BTreeSet::new();
        for t in self.too_steep(keep) {
            let (ids, corners) = (self.t.triangles[t], self.corners(t));
            for k in 0..3 {
                let next = (k + 1) % 3;
                let (a, b) = (corners[k], corners[next]);
                // No facet is less steep than its edges, so none is missed.
                if (a.z - b.z).abs() > STEEPEST_USABLE * distance_m(a.p, b.p) {
                    pairs.insert((ids[k].min(ids[next]), ids[k].max(ids[next])));
                }
            }
        }
        let faults = pairs.iter().take(MAX_LISTED).map(|&(a, b)| {
            let [p, q] = [a, b].map(|v| self.woven.vertices[v as usize]);
            let (one, one_at) = self.woven.name(a, self.survey, self.lines);
            let (other, other_at) = self.woven.name(b, self.survey, self.lines);
            Diagnostic::error(
                "too-steep",
                format!(
                    "{one} and {other} are {} m apart in plan and {:.3} m in height",
                    small(distance_m(p.p, q.p)),
                    (p.z - q.z).abs()
                ),
            )
            .at(one_at)
            .at(other_at)
            .help(
                "if they are one place, take the wrong one out; if they are top and foot of a \
                 wall, give them places a millimetre apart or more",
            )
        });
        diagnostics.extend(faults);
        finish(self.survey, pairs.len(), diagnostics)
    }

    /// Takes triangles off the rim: too long ones, and slivers of absurd slope.
    ///
    /// Slivers go from the hull and from the sides of outlines and holes alike: a shot a hair
    /// beside a side is meant to be on it, and what is taken off is a thousand times longer
    /// than wide.
    pub(super) fn peel(
        &self,
        max_edge_m: Option<f64>,
        keep: &mut [bool],
        diagnostics: &mut Vec<Diagnostic>,
    ) {
        let is_long = |t: usize| {
            max_edge_m.is_some_and(|limit| sides_m(self.corners(t)).iter().any(|&m| m > limit))
        };
        let is_steep = |t: usize| {
            let longest = sides_m(self.corners(t)).into_iter().fold(0.0, f64::max);
            self.steepness(t) > STEEPEST_GROUND && self.width_m(t) * SLIVER_LENGTH < longest
        };
        let (mut long, mut steep) = (0, 0);
        let is_rim = |t: u32, keep: &[bool]| {
            let mut neighbours = self.t.neighbours[t as usize].iter();
            neighbours.any(|&n| n == Triangulation::NONE || !keep[n as usize])
        };
        let all = 0..self.t.triangles.len() as u32;
        let mut rim: Vec<u32> = all.filter(|&t| is_rim(t, keep)).collect();
        while let Some(t) = rim.pop() {
            if !keep[t as usize] || !is_rim(t, keep) {
                continue;
            }
            let t = t as usize;
            let neighbours = &self.t.neighbours[t];
            let is_long = is_long(t);
            if is_long || is_steep(t) {
                keep[t] = false;
                long += usize::from(is_long);
                steep += usize::from(!is_long);
                rim.extend(neighbours.iter().filter(|&&n| n != Triangulation::NONE));
            }
        }
        if long > 0 {
            diagnostics.push(Diagnostic::note(
                "longest-edge",
                format!(
                    "{long} triangles at the rim have an edge longer than the limit and were \
                     taken off"
                ),
            ));
        }
        if steep > 0 {
            diagnostics.push(Diagnostic::note(
                "rim-slivers",
                match steep {
                    1 => "1 sliver between points almost in line was taken off the rim".to_owned(),
                    n => {
                        format!("{n} slivers between points almost in line were taken off the rim")
                    }
                },
            ));
        }
    }

    /// Refuses what is left and too steep: a place a hair beside the line between two others,
    /// at another height.
    pub(super) fn refuse_steep(
        &self,
        keep: &[bool],
        diagnostics: &mut Vec<Diagnostic>,
    ) -> Result<(), Failure> {
        let steep: Vec<usize> = self.too_steep(keep).collect();
        for &t in steep.iter().take(MAX_LISTED) {
            let sides = sides_m(self.corners(t));
            let longest = (0..3)
                .max_by(|&i, &j| sides[i].total_cmp(&sides[j]))
                .unwrap_or(0);
            let turned = |k: usize| (longest + k) % 3;
            let [a, b, c] = [0, 1, 2].map(|k| self.corners(t)[turned(k)]);
            let names = [0, 1, 2].map(|k| {
                let v = self.t.triangles[t][turned(k)];
                self.woven.name(v, self.survey, self.lines)
            });
            let [bx, by] = b.p.relative_m(a.p);
            let [cx, cy] = c.p.relative_m(a.p);
            let along = (bx * cx + by * cy) / (bx * bx + by * by);
            let off = c.z - (a.z + (b.z - a.z) * along);
            let side = if off > 0.0 { "above" } else { "below" };
            let [(a, a_at), (b, b_at), (c, c_at)] = names;
            diagnostics.push(
                Diagnostic::error(
                    "too-steep",
                    format!(
                        "{c} lies {} m beside the line from {a} to {b} and {:.3} m {side} it",
                        small(self.width_m(t)),
                        off.abs()
                    ),
                )
                .at(c_at)
                .at(a_at)
                .at(b_at)
                .help(
                    "if it belongs on that line, name it there or move it onto it; if not, check \
                     the heights",
                ),
            );
        }
        finish(self.survey, steep.len(), diagnostics)
    }

    /// Width of a triangle across its longest side, metres.
    fn width_m(&self, t: usize) -> f64 {
        let corners = self.corners(t);
        let longest = sides_m(corners).into_iter().fold(0.0, f64::max);
        let [bx, by] = corners[1].p.relative_m(corners[0].p);
        let [cx, cy] = corners[2].p.relative_m(corners[0].p);
        (bx * cy - by * cx).abs() / longest
    }
}

/// Lengths of the sides from each corner to the next, metres.
fn sides_m([a, b, c]: [P3; 3]) -> [f64; 3] {
    [
        distance_m(a.p, b.p),
        distance_m(b.p, c.p),
        distance_m(c.p, a.p),
    ]
}

/// A length that may be a few nanometres: in full, without the zeros behind.
fn small(m: f64) -> String {
    let text = format!("{m:.9}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Counts the faults that were not listed; fails if there are any.
fn finish(survey: &Survey, count: usize, diagnostics: &mut Vec<Diagnostic>) -> Result<(), Failure> {
    if count > MAX_LISTED {
        let more = count - MAX_LISTED;
        let mut rest = Diagnostic::error("too-steep", format!("and {more} more places like these"));
        rest.at = files_of(survey);
        diagnostics.push(rest);
    }
    if has_error(diagnostics) {
        return Err(Failure(std::mem::take(diagnostics)));
    }
    Ok(())
}
