//! A section drawn along a centre line, and the sides round what it leaves.
//!
//! Where the line bends, the section stands on the line that halves the bend, and near it it
//! turns there little by little: bed and banks go round without a step, whatever their fall.
//! A bed that would fold over itself inside a bend is refused. The sides may fold there: then
//! the lower (or higher) of what overlaps counts, which is the envelope of the section as it is
//! drawn along.

use crate::geom::{P3, Point};
use crate::surface::{Label, Patch};

use super::along::SAME_STATION_M;
use super::line::CentreLine;
use super::sheet::Sheet;
use super::sides::{Corners, FACE_RUN_PER_RISE, Sides};
use super::vector::{cross, dot, left_of, middle, right_of};

/// A section across a centre line, and what the stretch from it to the next is called.
#[derive(Clone, Debug)]
pub struct Section {
    /// Station, metres.
    pub at_m: f64,
    /// Offset (left of the line positive) and level of its corners, metres, from right to left;
    /// all sections of a loft have the same number of them, two or more.
    pub across: Vec<[f64; 2]>,
    /// Labels of the right side, of the strips between the corners, and of the left side.
    pub labels: Vec<Label>,
}

/// Sections along a line, standing where they belong.
#[derive(Clone, Debug)]
pub struct Loft {
    rows: Vec<Row>,
}

#[derive(Clone, Debug)]
struct Row {
    corners: Vec<Corner>,
    labels: Vec<Label>,
}

#[derive(Clone, Copy, Debug)]
struct Corner {
    offset_m: f64,
    /// Metres from the start of the line, before rounding to the lattice: the directions of
    /// short steep stretches are taken from it.
    from_start: [f64; 2],
    at: P3,
}

/// Why a section cannot be drawn round a bend.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum BendFault {
    /// The inside of the bend would turn back on itself.
    Folds {
        /// Where, on the inside.
        at: Point,
        /// Distance of the inside from the line there, metres: the least radius.
        needs_m: f64,
    },
    /// The line turns back on itself.
    TurnsBack {
        /// Where.
        at: Point,
    },
}

/// Run for each unit of rise of the sides of a loft, and the labels of its ends.
#[derive(Clone, Copy, Debug)]
pub struct Skirt {
    /// To the right of the line and to the left.
    pub sides: [f64; 2],
    /// Before the first section and after the last.
    pub ends: [f64; 2],
    /// Labels of the ends.
    pub end_labels: [Label; 2],
}

/// Tangent of half the sharpest turn: its mitre lies four times as far out as the offset.
const SHARPEST: f64 = 3.87;

/// Before and after a bend the section turns over this many times the largest offset times the
/// tangent of half the bend, so that sections do not cross within twice that offset.
const TURNS_WITHIN: f64 = 2.0;

/// The longest mitre of a corner of the sides, as a multiple of the run.
const MITRE_LIMIT: f64 = 4.0;

/// Most facets of one round corner.
const MAX_ROUND_FACETS: f64 = 512.0;

impl Loft {
    /// Sections along a line, one more at every point of the line between the first and the last.
    ///
    /// # Input
    ///
    /// two or more sections by rising station, within the line
    /// # Errors
    ///
    /// a bed that would fold over itself inside a bend
    pub fn new(line: &CentreLine, sections: &[Section]) -> Result<Loft, BendFault> {
        for k in 0..line.points().len() {
            if line.half_turn(k).abs() > SHARPEST || line.half_turn(k).is_nan() {
                return Err(BendFault::TurnsBack {
                    at: line.points()[k],
                });
            }
        }
        let widest = sections
            .iter()
            .flat_map(|s| &s.across)
            .map(|c| c[0].abs())
            .fold(0.0, f64::max);
        let rows: Vec<(usize, Row)> = with_points(line, sections)
            .into_iter()
            .map(|section| row(line, section, widest))
            .collect();
        for pair in rows.windows(2) {
            let ahead = line.ahead(pair[1].0);
            for (one, other) in pair[0].1.corners.iter().zip(&pair[1].1.corners) {
                let step = [0, 1].map(|i| other.from_start[i] - one.from_start[i]);
                if dot(step, ahead) <= 0.0 {
                    let needs_m = one.offset_m.abs().max(other.offset_m.abs());
                    return Err(BendFault::Folds {
                        at: one.at.p,
                        needs_m,
                    });
                }
            }
        }
        Ok(Loft {
            rows: rows.into_iter().map(|(_, row)| row).collect(),
        })
    }

    /// The outline of what the sections cover, counter-clockwise: along the right edge, across
    /// the foot, back along the left edge.
    pub fn outline(&self) -> Vec<P3> {
        self.rim().into_iter().map(|edge| edge.from.at).collect()
    }

    /// Corners of every section, from right to left, in the order of the line.
    pub fn sections(&self) -> impl Iterator<Item = Vec<P3>> + '_ {
        self.rows
            .iter()
            .map(|row| row.corners.iter().map(|c| c.at).collect())
    }

    /// The same sections at other levels.
    pub fn moved(&self, level: impl Fn(P3) -> f64) -> Loft {
        let mut loft = self.clone();
        for corner in loft.rows.iter_mut().flat_map(|row| &mut row.corners) {
            corner.at.z = level(corner.at);
        }
        loft
    }

    /// Edges round the outline, each with the labels and the way its side goes.
    fn rim(&self) -> Vec<Edge> {
        let (n, m) = (self.rows.len(), self.rows[0].corners.len());
        let number = |row: usize, column: usize| (row * m + column) as u32;
        let edge = |row: usize, column: usize, side| Edge {
            corner: number(row, column),
            from: self.rows[row].corners[column],
            side,
        };
        let right = (0..n - 1).map(|k| edge(k, 0, Side::Right(k)));
        let foot = (0..m - 1).map(|i| edge(n - 1, i, Side::Foot));
        let left = (1..n).rev().map(|k| edge(k, m - 1, Side::Left(k - 1)));
        let head = (1..m).rev().map(|i| edge(0, i, Side::Head));
        right.chain(foot).chain(left).chain(head).collect()
    }

    fn label_of(&self, side: Side, skirt: &Skirt) -> Label {
        match side {
            Side::Right(row) => self.rows[row].labels[0],
            Side::Left(row) => self.rows[row].labels[self.rows[row].corners.len()],
            Side::Head => skirt.end_labels[0],
            Side::Foot => skirt.end_labels[1],
        }
    }

    /// The pieces: strips between the sections, and sides round them.
    pub fn patch(&self, sides: &Sides, skirt: &Skirt) -> Patch {
        let mut sheet = Sheet::default();
        let up = sides.up();
        for corner in self.rows.iter().flat_map(|row| &row.corners) {
            sheet.corner(corner.at);
        }
        let m = self.rows[0].corners.len() as u32;
        for (k, row) in self.rows[..self.rows.len() - 1].iter().enumerate() {
            let first = k as u32 * m;
            for i in 0..m - 1 {
                let (a, b) = (first + i, first + i + m);
                let label = row.labels[i as usize + 1];
                sheet.quadrangle([a, b, b + 1, a + 1], label, up);
            }
        }
        let rim = self.rim();
        let (run, rise) = sides.reach(rim.iter().map(|e| e.from.at.z));
        let high = rise.abs();
        let reach = run / sides.run_per_rise.max(FACE_RUN_PER_RISE);
        let n = rim.len();
        let ways: Vec<Way> = (0..n)
            .map(|k| {
                let step =
                    [0, 1].map(|i| rim[(k + 1) % n].from.from_start[i] - rim[k].from.from_start[i]);
                let length = step[0].hypot(step[1]);
                let run = match rim[k].side {
                    Side::Right(_) => skirt.sides[0],
                    Side::Left(_) => skirt.sides[1],
                    Side::Head => skirt.ends[0],
                    Side::Foot => skirt.ends[1],
                };
                let rise = rim[(k + 1) % n].from.at.z - rim[k].from.at.z;
                Way {
                    out: right_of([step[0] / length, step[1] / length]),
                    run: run.max(FACE_RUN_PER_RISE),
                    grade: up * rise / length,
                }
            })
            .collect();
        // At every corner the rays between the sides before and after it.
        let mut rays: Vec<Vec<u32>> = Vec::with_capacity(n);
        for k in 0..n {
            let (before, after) = (ways[(k + n - 1) % n], ways[k]);
            let far = between(before, after, sides, reach)
                .into_iter()
                .map(|ray| {
                    let at = rim[k].from.at;
                    sheet.corner(moved(at, ray.map(|d| d * high), rise))
                })
                .collect();
            rays.push(far);
        }
        for k in 0..n {
            let (edge, next) = (&rim[k], &rim[(k + 1) % n]);
            let label = self.label_of(edge.side, skirt);
            for pair in rays[k].windows(2) {
                sheet.triangle([edge.corner, pair[0], pair[1]], label);
            }
            let (last, first) = (rays[k][rays[k].len() - 1], rays[(k + 1) % n][0]);
            let strip = [edge.corner, last, first, next.corner];
            let Some(met) = meeting(strip.map(|c| sheet.corners[c as usize])) else {
                sheet.quadrangle(strip, label, up);
                continue;
            };
            // The side narrows to nothing: it folds over itself beyond. Where the planes before and
            // after a corner meet in a valley (seen from a dig), the lower of them counts anyhow.
            let is_inner = |k: usize| {
                let (before, after) = (ways[(k + n - 1) % n], ways[k]);
                cross(before.gradient(), after.gradient()) < 0.0
            };
            let [a, b, c, d] = strip;
            // A hip between two sides stays whole, whatever folds over it.
            if is_inner((k + 1) % n) {
                sheet.triangle([a, b, d], label);
                sheet.triangle([b, c, d], label);
            } else {
                sheet.triangle([a, b, c], label);
                sheet.triangle([a, c, d], label);
            }
            // From there on the sides before and after it meet each other.
            for (at, beside, [near, far], share) in [
                (k, (k + n - 1) % n, [a, b], met[0]),
                ((k + 1) % n, (k + 1) % n, [d, c], met[1]),
            ] {
                if !is_inner(at) {
                    continue;
                }
                let (near, far) = (sheet.corners[near as usize], sheet.corners[far as usize]);
                let step = far.p.relative_m(near.p).map(|d| d * share);
                let start = moved(near, step, (far.z - near.z) * share);
                let rest = rise - (start.z - near.z);
                let step = ways[beside].out.map(|d| d * ways[beside].run * rest.abs());
                let label = self.label_of(rim[beside].side, skirt);
                sheet.tongue([start, far, moved(start, step, rest)], label);
            }
        }
        sheet.patch(rise)
    }
}

/// A place moved in plan and height.
fn moved(from: P3, step: [f64; 2], rise: f64) -> P3 {
    let step = Point::from_m(step[0], step[1]);
    P3 {
        p: Point::new(from.p.x + step.x, from.p.y + step.y),
        z: from.z + rise,
    }
}

/// Where the rays at both ends of a strip cross, as shares of their lengths.
fn meeting([a, b, c, d]: [P3; 4]) -> Option<[f64; 2]> {
    let (one, other, base) = (
        b.p.relative_m(a.p),
        c.p.relative_m(d.p),
        d.p.relative_m(a.p),
    );
    let turn = cross(one, other);
    let shares = [cross(base, other) / turn, cross(base, one) / turn];
    shares
        .iter()
        .all(|s| (0.0..1.0).contains(s))
        .then_some(shares)
}

/// An edge of the outline, from its corner to that of the next.
struct Edge {
    corner: u32,
    from: Corner,
    side: Side,
}

#[derive(Clone, Copy)]
enum Side {
    Right(usize),
    Foot,
    Left(usize),
    Head,
}

/// The way a side goes from its edge.
#[derive(Clone, Copy)]
struct Way {
    out: [f64; 2],
    run: f64,
    /// Rise of the edge itself, ahead, for each unit of its length, as the sides rise.
    grade: f64,
}

impl Way {
    /// Gradient of its plane in plan.
    fn gradient(&self) -> [f64; 2] {
        let ahead = left_of(self.out);
        [0, 1].map(|i| self.out[i] / self.run + ahead[i] * self.grade)
    }

    /// Straight out.
    fn square(&self) -> [f64; 2] {
        self.out.map(|d| d * self.run)
    }

    /// The line in which two planes meet; `None` if they are all but one plane, or meet far away.
    fn hip(&self, other: &Way) -> Option<[f64; 2]> {
        let (a, b) = (self.gradient(), other.gradient());
        let turn = cross(a, b);
        if turn.abs() < SAME_PLANE * a[0].hypot(a[1]) * b[0].hypot(b[1]) {
            return None;
        }
        let hip = [(b[1] - a[1]) / turn, (a[0] - b[0]) / turn];
        let longest = self.run.max(other.run) * MITRE_LIMIT;
        (hip[0].hypot(hip[1]) <= longest).then_some(hip)
    }

    /// The line half way between two sides of one slope.
    fn mitre(&self, other: &Way) -> Option<[f64; 2]> {
        let scale = self.run / (1.0 + dot(self.out, other.out));
        let mitre = [0, 1].map(|i| (self.out[i] + other.out[i]) * scale);
        let is_near = mitre[0].hypot(mitre[1]) <= self.run * MITRE_LIMIT;
        (self.run == other.run && is_near).then_some(mitre)
    }
}

/// The sine of the angle between two planes' gradients below which rounding decides where they
/// meet.
const SAME_PLANE: f64 = 1.0e-6;

/// Turns by less than this, the sine of the angle, are too small to solve for the hip of two
/// different slopes.
const SMALLEST_HIP: f64 = 0.05;

/// The rays between two sides that meet in a corner: run east and north for one of rise.
fn between(before: Way, after: Way, sides: &Sides, reach: f64) -> Vec<[f64; 2]> {
    let (turn, along) = (cross(before.out, after.out), dot(before.out, after.out));
    let is_same = before.run == after.run;
    if !is_same && turn.abs() < SMALLEST_HIP {
        return vec![before.square(), after.square()];
    }
    let is_face = before.run.min(after.run) <= FACE_RUN_PER_RISE;
    if turn > 0.0 && sides.corners == Corners::Round && !is_face {
        let angle = turn.atan2(along);
        let reach = reach * before.run.max(after.run);
        let chord = (1.0 - (sides.chord_m / reach.max(sides.chord_m)).min(0.5)).acos() * 2.0;
        let count = (angle / chord).ceil().clamp(1.0, MAX_ROUND_FACETS) as usize;
        // Less than one facet: a bend of the line, not a corner.
        if count > 1 || !is_same {
            return (0..=count)
                .map(|k| {
                    let t = k as f64 / count as f64;
                    let (sin, cos) = (angle * t).sin_cos();
                    let run = before.run + (after.run - before.run) * t;
                    let [x, y] = before.out;
                    [(x * cos - y * sin) * run, (x * sin + y * cos) * run]
                })
                .collect();
        }
    }
    if let Some(ray) = before.hip(&after).or_else(|| before.mitre(&after)) {
        return vec![ray];
    }
    if turn <= 0.0 {
        return vec![before.square(), after.square()];
    }
    // A sharp corner is cut off.
    let half = Way {
        out: middle(before.out, after.out),
        run: (before.run + after.run) / 2.0,
        grade: 0.0,
    };
    let rays = [before.hip(&half), half.hip(&after)];
    rays.map(|ray| ray.unwrap_or(half.square())).to_vec()
}

/// The sections, and one between them at every point of the line.
fn with_points(line: &CentreLine, sections: &[Section]) -> Vec<Section> {
    let mut all: Vec<Section> = Vec::with_capacity(sections.len());
    for (k, section) in sections.iter().enumerate() {
        all.push(section.clone());
        let Some(next) = sections.get(k + 1) else {
            break;
        };
        let between = line
            .stations_m()
            .iter()
            .filter(|&&s| s > section.at_m + SAME_STATION_M && s < next.at_m - SAME_STATION_M);
        for &at_m in between {
            let t = (at_m - section.at_m) / (next.at_m - section.at_m);
            let across = section.across.iter().zip(&next.across);
            let across = across.map(|(a, b)| [0, 1].map(|i| a[i] + (b[i] - a[i]) * t));
            all.push(Section {
                at_m,
                across: across.collect(),
                labels: section.labels.clone(),
            });
        }
    }
    all
}

/// Where a section stands, and the stretch of the line it belongs to.
fn row(line: &CentreLine, section: Section, widest: f64) -> (usize, Row) {
    let (stretch, x) = line.stretch(section.at_m);
    let length = line.stations_m()[stretch + 1] - line.stations_m()[stretch];
    let ahead = line.ahead(stretch);
    let (start, end) = (line.half_turn(stretch), -line.half_turn(stretch + 1));
    let turned = skew([start, end], x, length, widest);
    let from = line.points()[stretch].relative_m(line.points()[0]);
    let side = left_of(ahead);
    let corners = section.across.iter().map(|&[offset_m, z]| {
        let from_start =
            [0, 1].map(|i| from[i] + ahead[i] * (x + offset_m * turned) + side[i] * offset_m);
        let step = Point::from_m(from_start[0], from_start[1]);
        let origin = line.points()[0];
        let p = Point::new(origin.x + step.x, origin.y + step.y);
        Corner {
            from_start,
            offset_m,
            at: P3 { p, z },
        }
    });
    let corners = corners.collect();
    (
        stretch,
        Row {
            corners,
            labels: section.labels,
        },
    )
}

/// How far a section is turned from square, as the tangent of the angle: at both ends of a
/// stretch it halves the bend, in the middle it is square.
fn skew([start, end]: [f64; 2], x: f64, length: f64, widest: f64) -> f64 {
    let [first, last] = [start, end].map(|t| t.abs() * widest * TURNS_WITHIN);
    if first + last > length {
        return start + (end - start) * x / length;
    }
    if x < first {
        start * (1.0 - x / first)
    } else if length - x < last {
        end * (1.0 - (length - x) / last)
    } else {
        0.0
    }
}
