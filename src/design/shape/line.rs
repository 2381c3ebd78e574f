//! A centre line in plan: points and arcs, by station.
//!
//! An arc is built of chords. Stations are counted along the chords, so that every length,
//! level and drawing that follows them agrees with the surface.

use crate::geom::{Point, distance_m};

use super::along::SAME_STATION_M;
use super::vector::{cross, direction, dot, left_of};

/// A centre line.
#[derive(Clone, Debug, PartialEq)]
pub struct CentreLine {
    points: Vec<Point>,
    stations_m: Vec<f64>,
    given_m: Vec<f64>,
    bends: Vec<Bend>,
}

/// A bend of a centre line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bend {
    /// Station where it begins, metres; at a corner without an arc the same as where it ends.
    pub from_m: f64,
    /// Station where it ends, metres.
    pub to_m: f64,
    /// Turn, radians; to the left positive.
    pub turn: f64,
}

/// How the points of a line are joined.
#[derive(Clone, Debug, PartialEq)]
pub struct Rounding {
    /// Radius of the bend at every point, metres; 0 for a corner. The first and the last have
    /// none.
    pub radii_m: Vec<f64>,
    /// Points (from 0) that lie on an arc from the point before to the point after.
    pub through: Vec<usize>,
    /// Longest chord error, metres.
    pub chord_m: f64,
    /// How far beside the line that error is kept, metres.
    pub beside_m: f64,
}

/// Why a line cannot be rounded as asked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NoRoom {
    /// The point (from 0) whose arc is too long.
    pub point: usize,
    /// Largest radius for which there is room, metres.
    pub fits_m: f64,
}

/// Turns by less than this are no bends, radians: 10 degrees. A line shot by rod wavers by as
/// much.
const LEAST_BEND: f64 = 0.1745;

/// Turns by less than this, radians, get no arc: over a kilometre it would be a nanometre off.
const LEAST_ARC: f64 = 1.0e-6;

/// Most chords of one arc.
const MAX_CHORDS: f64 = 512.0;

impl CentreLine {
    /// A line through points without arcs.
    ///
    /// # Input
    ///
    /// two or more points, neighbours different
    pub fn straight(points: &[Point]) -> CentreLine {
        let ends = (0..points.len()).map(|k| (k, k)).collect();
        CentreLine::finish(points.to_vec(), ends, &[])
    }

    /// A line through points, its bends rounded, with arcs through three points.
    ///
    /// # Input
    ///
    /// two or more points, neighbours different; `radii_m` one for each; no two neighbours in
    /// `through`, and neither end
    /// # Errors
    ///
    /// two arcs reach into one another, or past an end
    pub fn new(points: &[Point], rounding: &Rounding) -> Result<CentreLine, NoRoom> {
        let n = points.len();
        let on_arc = |k: usize| (k.max(1) - 1..=k + 1).any(|j| rounding.through.contains(&j));
        let turns: Vec<f64> = (0..n)
            .map(|k| match k {
                _ if k == 0 || k + 1 == n || on_arc(k) || rounding.radii_m[k] <= 0.0 => 0.0,
                _ => turn(points[k - 1], points[k], points[k + 1]),
            })
            .collect();
        let tangents: Vec<f64> = (0..n)
            .map(|k| rounding.radii_m[k] * (turns[k].abs() / 2.0).tan())
            .map(|t| if t.is_finite() { t } else { 0.0 })
            .collect();
        for (k, pair) in points.windows(2).enumerate() {
            let room = distance_m(pair[0], pair[1]);
            let wanted = tangents[k] + tangents[k + 1];
            if wanted > room + SAME_STATION_M {
                let point = if tangents[k] > tangents[k + 1] {
                    k
                } else {
                    k + 1
                };
                let fits_m = rounding.radii_m[point] * room / wanted;
                return Err(NoRoom { point, fits_m });
            }
        }
        let mut line = vec![points[0]];
        let mut ends = vec![(0, 0)];
        let mut arcs = Vec::new();
        for k in 1..n {
            let from = line.len();
            if rounding.through.contains(&(k - 1)) {
                chords(
                    &mut line,
                    points[k - 2],
                    points[k - 1],
                    points[k],
                    1,
                    rounding,
                );
            } else if rounding.through.contains(&k) {
                chords(
                    &mut line,
                    points[k - 1],
                    points[k],
                    points[k + 1],
                    0,
                    rounding,
                );
                arcs.push((k, three_point_turn(points[k - 1], points[k], points[k + 1])));
            } else if turns[k].abs() > LEAST_ARC {
                fillet(
                    &mut line,
                    [points[k - 1], points[k], points[k + 1]],
                    turns[k],
                    rounding.radii_m[k],
                    rounding,
                );
                ends.push((from, line.len() - 1));
                arcs.push((k, turns[k]));
                continue;
            }
            if line.last() != Some(&points[k]) {
                line.push(points[k]);
            }
            ends.push((line.len() - 1, line.len() - 1));
        }
        Ok(CentreLine::finish(line, ends, &arcs))
    }

    fn finish(points: Vec<Point>, ends: Vec<(usize, usize)>, arcs: &[(usize, f64)]) -> CentreLine {
        let mut stations_m = vec![0.0];
        for (k, pair) in points.windows(2).enumerate() {
            stations_m.push(stations_m[k] + distance_m(pair[0], pair[1]));
        }
        let given_m: Vec<f64> = ends
            .iter()
            .map(|&(a, b)| (stations_m[a] + stations_m[b]) / 2.0)
            .collect();
        let mut bends = Vec::new();
        for k in 1..ends.len().saturating_sub(1) {
            let (a, b) = ends[k];
            let arc = arcs.iter().find(|arc| arc.0 == k);
            let (from, to, turn) = match arc {
                Some(&(_, turn)) if a == b => (ends[k - 1].1, ends[k + 1].0, turn),
                Some(&(_, turn)) => (a, b, turn),
                None => (a, a, turn(points[a - 1], points[a], points[a + 1])),
            };
            if turn.abs() >= LEAST_BEND {
                bends.push(Bend {
                    from_m: stations_m[from],
                    to_m: stations_m[to],
                    turn,
                });
            }
        }
        CentreLine {
            points,
            stations_m,
            given_m,
            bends,
        }
    }

    /// The points, those of arcs included.
    pub fn points(&self) -> &[Point] {
        &self.points
    }

    /// Stations of the points, metres from the start.
    pub fn stations_m(&self) -> &[f64] {
        &self.stations_m
    }

    /// Stations of the points as given; of a rounded one that of the middle of its arc.
    pub fn given_m(&self) -> &[f64] {
        &self.given_m
    }

    /// Bends of ten degrees and more.
    pub fn bends(&self) -> &[Bend] {
        &self.bends
    }

    /// Length, metres.
    pub fn length_m(&self) -> f64 {
        self.stations_m[self.stations_m.len() - 1]
    }

    /// The number of the stretch that holds a station, and how far along it; at a point the end
    /// of the stretch before it.
    pub(super) fn stretch(&self, station_m: f64) -> (usize, f64) {
        let last = self.points.len() - 2;
        let after = self
            .stations_m
            .partition_point(|&s| s < station_m - SAME_STATION_M);
        let k = after.clamp(1, last + 1) - 1;
        let length = self.stations_m[k + 1] - self.stations_m[k];
        (k, (station_m - self.stations_m[k]).clamp(0.0, length))
    }

    /// Direction of a stretch.
    pub(super) fn ahead(&self, stretch: usize) -> [f64; 2] {
        direction(self.points[stretch], self.points[stretch + 1])
    }

    /// Tangent of half the turn at a point; to the left positive, 0 at the ends.
    pub(super) fn half_turn(&self, point: usize) -> f64 {
        if point == 0 || point + 1 == self.points.len() {
            return 0.0;
        }
        let (a, b) = (self.ahead(point - 1), self.ahead(point));
        let along = 1.0 + dot(a, b);
        cross(a, b) / along
    }

    /// The place at a station.
    pub fn at(&self, station_m: f64) -> Point {
        let (k, x) = self.stretch(station_m);
        let (a, b) = (self.points[k], self.points[k + 1]);
        let length = self.stations_m[k + 1] - self.stations_m[k];
        if length - x <= SAME_STATION_M {
            return b;
        }
        let [dx, dy] = self.ahead(k);
        let step = Point::from_m(dx * x, dy * x);
        Point::new(a.x + step.x, a.y + step.y)
    }

    /// The place beside the line, left of it positive, square to the stretch there.
    pub fn beside(&self, station_m: f64, offset_m: f64) -> Point {
        let p = self.at(station_m);
        let [x, y] = left_of(self.ahead(self.stretch(station_m).0));
        let step = Point::from_m(x * offset_m, y * offset_m);
        Point::new(p.x + step.x, p.y + step.y)
    }

    /// Ends of the lines across a strip at a station: square to the stretch, and at a bend also
    /// square to the next and on the line that halves it.
    pub fn across(&self, station_m: f64, half_m: f64) -> Vec<[Point; 2]> {
        let p = self.at(station_m);
        let (k, _) = self.stretch(station_m);
        let mut ways = vec![left_of(self.ahead(k))];
        if station_m >= self.stations_m[k + 1] - SAME_STATION_M && k + 2 < self.points.len() {
            let (side, ahead, turn) = (ways[0], self.ahead(k), self.half_turn(k + 1));
            ways.push([0, 1].map(|i| side[i] - ahead[i] * turn));
            ways.push(left_of(self.ahead(k + 1)));
        }
        let end = |way: [f64; 2], offset: f64| {
            let step = Point::from_m(way[0] * offset, way[1] * offset);
            Point::new(p.x + step.x, p.y + step.y)
        };
        ways.into_iter()
            .map(|way| [-half_m, half_m].map(|offset| end(way, offset)))
            .collect()
    }

    /// The line beside a stretch, left of it positive.
    pub fn parallel(&self, stretch: usize, offset_m: f64) -> [Point; 2] {
        let side = left_of(self.ahead(stretch));
        let step = Point::from_m(side[0] * offset_m, side[1] * offset_m);
        [stretch, stretch + 1].map(|k| {
            let p = self.points[k];
            Point::new(p.x + step.x, p.y + step.y)
        })
    }

    /// How far a place lies along a stretch from its start, and to the left of it, metres.
    pub fn from_stretch(&self, stretch: usize, p: Point) -> [f64; 2] {
        let (from, ahead) = (p.relative_m(self.points[stretch]), self.ahead(stretch));
        [dot(from, ahead), dot(from, left_of(ahead))]
    }

    /// The places of a stretch of the line, both ends included.
    pub fn between(&self, from_m: f64, to_m: f64) -> Vec<Point> {
        let inside = |s: f64| s > from_m + SAME_STATION_M && s < to_m - SAME_STATION_M;
        let middle = (self.points.iter().zip(&self.stations_m))
            .filter(|&(_, &s)| inside(s))
            .map(|(&p, _)| p);
        std::iter::once(self.at(from_m))
            .chain(middle)
            .chain(std::iter::once(self.at(to_m)))
            .collect()
    }

    /// The first place where the line crosses itself.
    pub fn crossing(&self) -> Option<Point> {
        let n = self.points.len();
        for i in 0..n - 1 {
            for j in i + 2..n - 1 {
                let met = meeting(
                    [self.points[i], self.points[i + 1]],
                    [self.points[j], self.points[j + 1]],
                );
                if met.is_some() {
                    return met;
                }
            }
        }
        None
    }
}

/// Where two stretches cross.
fn meeting([a, b]: [Point; 2], [c, d]: [Point; 2]) -> Option<Point> {
    use crate::geom::orient_sign;
    let (s, t) = (orient_sign(a, b, c), orient_sign(a, b, d));
    let (u, v) = (orient_sign(c, d, a), orient_sign(c, d, b));
    if s * t >= 0 || u * v >= 0 {
        return None;
    }
    let (ab, cd, ac) = (b.relative_m(a), d.relative_m(c), c.relative_m(a));
    let share = cross(ac, cd) / cross(ab, cd);
    let step = Point::from_m(ab[0] * share, ab[1] * share);
    Some(Point::new(a.x + step.x, a.y + step.y))
}

/// The turn at `b`, radians, to the left positive.
fn turn(a: Point, b: Point, c: Point) -> f64 {
    let (before, after) = (direction(a, b), direction(b, c));
    cross(before, after).atan2(dot(before, after))
}

/// How far an arc from `a` through `b` to `c` turns: twice the angle between its chords.
fn three_point_turn(a: Point, b: Point, c: Point) -> f64 {
    2.0 * turn(a, b, c)
}

/// Chords of an arc of a radius and a turn.
fn chord_count(radius_m: f64, turn: f64, rounding: &Rounding) -> usize {
    let outside = radius_m + rounding.beside_m;
    let share = (rounding.chord_m / outside.max(rounding.chord_m)).min(0.5);
    let one = (1.0 - share).acos() * 2.0;
    (turn.abs() / one).ceil().clamp(1.0, MAX_CHORDS) as usize
}

/// Adds an arc of a radius round a bend, from tangent point to tangent point.
fn fillet(
    line: &mut Vec<Point>,
    [a, b, c]: [Point; 3],
    turn: f64,
    radius_m: f64,
    rounding: &Rounding,
) {
    let before = direction(a, b);
    let tangent = radius_m * (turn.abs() / 2.0).tan();
    let side = left_of(before).map(|d| d * turn.signum());
    let count = chord_count(radius_m, turn, rounding);
    for j in 0..=count {
        let (sin, cos) = (turn.abs() * j as f64 / count as f64).sin_cos();
        let (along, aside) = (radius_m * sin - tangent, radius_m * (1.0 - cos));
        let step = if j == count {
            // The last lies on the stretch ahead, whatever the rounding of the angle.
            direction(b, c).map(|d| d * tangent)
        } else {
            [0, 1].map(|i| before[i] * along + side[i] * aside)
        };
        let step = Point::from_m(step[0], step[1]);
        let p = Point::new(b.x + step.x, b.y + step.y);
        if line.last() != Some(&p) {
            line.push(p);
        }
    }
}

/// Adds the inner points of one half of an arc through three points: from `a` to `b`, or from
/// `b` to `c`.
fn chords(line: &mut Vec<Point>, a: Point, b: Point, c: Point, half: usize, rounding: &Rounding) {
    let [bx, by] = b.relative_m(a);
    let [cx, cy] = c.relative_m(a);
    let twice = 2.0 * (bx * cy - by * cx);
    let (bb, cc) = (bx * bx + by * by, cx * cx + cy * cy);
    let centre = [(cy * bb - by * cc) / twice, (bx * cc - cx * bb) / twice];
    let radius = centre[0].hypot(centre[1]);
    if !radius.is_finite() || radius > FLATTEST_ARC_M {
        return;
    }
    let [from, to] = if half == 0 {
        [[0.0, 0.0], [bx, by]]
    } else {
        [[bx, by], [cx, cy]]
    };
    let spoke = [from[0] - centre[0], from[1] - centre[1]];
    let end = [to[0] - centre[0], to[1] - centre[1]];
    let mut sweep = cross(spoke, end).atan2(dot(spoke, end));
    // All the way round in the sense of the three points.
    let sense = (bx * cy - by * cx).signum();
    if sweep * sense < 0.0 {
        sweep += sense * std::f64::consts::TAU;
    }
    let count = chord_count(radius, sweep, rounding);
    for j in 1..count {
        let (sin, cos) = (sweep * j as f64 / count as f64).sin_cos();
        let x = centre[0] + spoke[0] * cos - spoke[1] * sin;
        let y = centre[1] + spoke[0] * sin + spoke[1] * cos;
        let step = Point::from_m(x, y);
        line.push(Point::new(a.x + step.x, a.y + step.y));
    }
}

/// An arc flatter than this radius is a straight line, metres.
const FLATTEST_ARC_M: f64 = 1.0e5;
