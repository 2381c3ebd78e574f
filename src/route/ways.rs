//! Obstacles made ready once, and asked for the shortest ways between places.

use super::disc::TOUCH_M;
use super::gap::{Blocked, Narrow, narrowest, why_blocked};
use super::obstacle::{Obstacle, Pieces, Shape};
use super::search::{Found, Graph, Part, Until};
use crate::geom::{Point, nearest_on};

/// Longest distance between an arc and the chords it is drawn with, metres. Lengths are those of
/// the arcs.
pub(super) const CHORD_M: f64 = 0.001;

/// Least width, metres: below it a way is a line, which slips between pieces that touch.
pub(super) const LEAST_WIDTH_M: f64 = 1.0e-6;

/// Obstacles, as somebody of a width sees them: built once, asked many times.
#[derive(Clone, Debug)]
pub struct Ways {
    pub(super) obstacles: Vec<Obstacle>,
    pub(super) width_m: f64,
    /// What metres count from.
    pub(super) base: Point,
    pub(super) graph: Graph,
}

/// A way.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// Which of the places it starts from, and at which it ends.
    pub ends: [usize; 2],
    /// Its middle line; arcs as chords within a millimetre.
    pub line: Vec<Point>,
    /// Its length in plan, metres, along the arcs.
    pub length_m: f64,
    /// The narrowest place it passes; `None` if all are four times as wide as the way.
    pub narrowest: Option<Narrow>,
}

impl Ways {
    /// Makes obstacles ready.
    ///
    /// # Input
    ///
    /// `width_m` above zero; less than a micrometre counts as one
    /// # Cost
    ///
    /// O(n m) for n corners and m sides, of which most are told apart by a box
    pub fn new(obstacles: Vec<Obstacle>, width_m: f64) -> Ways {
        let first = obstacles.iter().find_map(|obstacle| match &obstacle.shape {
            Shape::Area(rings) => rings.first()?.corners().first().copied(),
            Shape::Lines(lines) => lines.first()?.first().copied(),
            Shape::Disc { centre, .. } => Some(*centre),
        });
        let base = first.unwrap_or_default();
        let width_m = width_m.max(LEAST_WIDTH_M);
        let graph = Graph::of(Pieces::of(&obstacles, base, width_m / 2.0));
        Ways {
            obstacles,
            width_m,
            base,
            graph,
        }
    }

    /// The same obstacles for another width.
    pub(super) fn at_width(&self, width_m: f64) -> Ways {
        Ways::new(self.obstacles.clone(), width_m)
    }

    /// The shortest way between two places.
    ///
    /// # Errors
    ///
    /// what closes it
    pub fn between(&self, from: Point, to: Point) -> Result<Way, Blocked> {
        self.nearest(&[from], &[to])
    }

    /// The shortest way from any of some places to any of others.
    ///
    /// # Errors
    ///
    /// what closes it, for the first place of each
    pub fn nearest(&self, from: &[Point], to: &[Point]) -> Result<Way, Blocked> {
        self.passable(from, to)
            .ok_or_else(|| why_blocked(self, from, to))
    }

    /// The same without a reason.
    pub(super) fn passable(&self, from: &[Point], to: &[Point]) -> Option<Way> {
        let (starts, goals) = (self.with_room(from), self.with_room(to));
        let (a, b) = (self.metres(&starts, from), self.metres(&goals, to));
        let found = self.graph.search(&a, &b, Until::First);
        let (goal, found) = found
            .into_iter()
            .enumerate()
            .find_map(|(k, f)| Some((k, f?)))?;
        Some(self.way([starts[found.from], goals[goal]], &found))
    }

    /// Lengths in plan from one place to each of others, metres; `None` where there is no way.
    pub fn lengths_m(&self, from: Point, to: &[Point]) -> Vec<Option<f64>> {
        let mut lengths = vec![None; to.len()];
        if self.with_room(&[from]).is_empty() {
            return lengths;
        }
        let goals = self.with_room(to);
        let start = [from.relative_m(self.base)];
        let found = self
            .graph
            .search(&start, &self.metres(&goals, to), Until::All);
        for (goal, found) in goals.into_iter().zip(found) {
            lengths[goal] = found.map(|f| f.length_m);
        }
        lengths
    }

    /// The obstacle that leaves no room at a place, and how much is missing, metres; `None` where
    /// there is room.
    pub fn in_the_way_at(&self, p: Point) -> Option<(usize, f64)> {
        let at = p.relative_m(self.base);
        let mut worst: Option<(usize, f64)> = None;
        for bar in self.graph.pieces.bars_near(at, at) {
            // Only what is nearer than it may be, and more so than the worst so far.
            let reach = bar.keep_m - worst.map_or(TOUCH_M, |w| w.1);
            let near = nearest_on(at, bar.ends_m);
            let [x, y] = [near[0] - at[0], near[1] - at[1]];
            if reach > 0.0 && x * x + y * y < reach * reach {
                worst = Some((bar.obstacle, bar.keep_m - (x * x + y * y).sqrt()));
            }
        }
        worst.or_else(|| {
            let mut at = self.graph.pieces.obstacles_at(at);
            let covering = at.find(|&k| self.obstacles[k].covers(p))?;
            Some((covering, self.width_m / 2.0))
        })
    }

    /// Places beside an obstacle, as near to it as the width lets one come, about `apart_m` from
    /// each other; those with room to stand.
    pub fn beside(&self, obstacle: usize, apart_m: f64) -> Vec<Point> {
        // A lattice unit farther, so that rounding does not bring them too near.
        const CLEAR_M: f64 = 1.0e-8;
        let mut places = Vec::new();
        for bar in self.graph.pieces.bars_of(obstacle) {
            let [a, b] = bar.ends_m;
            let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
            let length = dx.hypot(dy);
            let steps = (length / apart_m.max(CHORD_M)).ceil().clamp(1.0, 1000.0) as usize;
            let keep = bar.keep_m + CLEAR_M;
            let mut add = |x: f64, y: f64| places.push(self.point([x, y]));
            if length > 0.0 {
                let (nx, ny) = (-dy / length * keep, dx / length * keep);
                for k in 0..=steps {
                    let t = k as f64 / steps as f64;
                    let (x, y) = (a[0] + t * dx, a[1] + t * dy);
                    add(x + nx, y + ny);
                    add(x - nx, y - ny);
                }
            } else {
                for k in 0..16 {
                    let (sin, cos) = (std::f64::consts::TAU * f64::from(k) / 16.0).sin_cos();
                    add(a[0] + keep * cos, a[1] + keep * sin);
                }
            }
        }
        places.sort_unstable();
        places.dedup();
        places.retain(|&p| self.in_the_way_at(p).is_none());
        places
    }

    /// Numbers of the places at which there is room.
    fn with_room(&self, places: &[Point]) -> Vec<usize> {
        let has_room = |k: &usize| self.in_the_way_at(places[*k]).is_none();
        (0..places.len()).filter(has_room).collect()
    }

    fn metres(&self, numbers: &[usize], places: &[Point]) -> Vec<[f64; 2]> {
        let metres = |&k: &usize| places[k].relative_m(self.base);
        numbers.iter().map(metres).collect()
    }

    pub(super) fn point(&self, [x, y]: [f64; 2]) -> Point {
        let step = Point::from_m(x, y);
        Point::new(self.base.x + step.x, self.base.y + step.y)
    }

    fn way(&self, ends: [usize; 2], found: &Found) -> Way {
        let mut line: Vec<Point> = Vec::new();
        for part in &found.parts {
            match *part {
                Part::Straight(ends) => line.extend(ends.map(|p| self.point(p))),
                Part::Arc {
                    middle_m,
                    radius_m,
                    from,
                    sweep,
                } => {
                    let widest = 2.0 * (1.0 - CHORD_M / radius_m.max(CHORD_M)).acos();
                    let steps = (sweep.abs() / widest).ceil().max(1.0) as usize;
                    for k in 1..steps {
                        let (sin, cos) = (from + sweep * k as f64 / steps as f64).sin_cos();
                        let at = [middle_m[0] + radius_m * cos, middle_m[1] + radius_m * sin];
                        line.push(self.point(at));
                    }
                }
            }
        }
        line.dedup();
        let narrowest = narrowest(self, &line);
        Way {
            ends,
            line,
            length_m: found.length_m,
            narrowest,
        }
    }
}
