//! What stands in the way: areas, lines, discs, as pieces with a room to keep round each.

use std::ops::Range;

use crate::geom::{Point, Ring, orient_sign};

/// Something in the way.
#[derive(Clone, Debug, PartialEq)]
pub struct Obstacle {
    /// Where it stands.
    pub shape: Shape,
    /// Room to keep from it besides half the width of the way, metres.
    pub margin_m: f64,
}

/// Where an obstacle stands.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// What an odd number of rings surround.
    Area(Vec<Ring>),
    /// Lines that are not crossed; one that closes has its first point again at its end.
    Lines(Vec<Vec<Point>>),
    /// A disc.
    Disc {
        /// Its centre.
        centre: Point,
        /// Its radius, metres.
        radius_m: f64,
    },
}

impl Obstacle {
    /// An obstacle without a margin.
    pub fn new(shape: Shape) -> Obstacle {
        Obstacle {
            shape,
            margin_m: 0.0,
        }
    }

    /// True inside an area or a disc, and on the line round it.
    pub fn covers(&self, p: Point) -> bool {
        match &self.shape {
            Shape::Area(rings) => rings.iter().filter(|ring| ring.contains(p)).count() % 2 == 1,
            Shape::Lines(_) => false,
            Shape::Disc { centre, radius_m } => {
                let [x, y] = p.relative_m(*centre);
                x.hypot(y) <= *radius_m
            }
        }
    }
}

/// A straight piece of an obstacle, or the middle of a disc.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bar {
    /// Its ends, metres about the base; the same twice for a disc.
    pub(super) ends_m: [[f64; 2]; 2],
    /// What the middle of a way keeps from it, metres.
    pub(super) keep_m: f64,
    /// What of that is half the width of the way, metres.
    pub(super) half_m: f64,
    /// Number of the obstacle.
    pub(super) obstacle: usize,
}

/// A place a way may bend round.
#[derive(Clone, Copy, Debug)]
pub(super) struct Corner {
    /// Metres about the base.
    pub(super) at_m: [f64; 2],
    /// What the middle of a way keeps from it, metres.
    pub(super) keep_m: f64,
}

/// Pieces and corners of all obstacles.
#[derive(Clone, Debug, Default)]
pub(super) struct Pieces {
    bars: Vec<Bar>,
    pub(super) corners: Vec<Corner>,
    /// Bars of each obstacle, with the box of all that is too near to one of them.
    spans: Vec<Span>,
}

#[derive(Clone, Debug)]
struct Span {
    bars: Range<usize>,
    low: [f64; 2],
    high: [f64; 2],
}

impl Span {
    fn of(bars: &[Bar], range: Range<usize>) -> Span {
        let mut span = Span {
            bars: range.clone(),
            low: [f64::INFINITY; 2],
            high: [f64::NEG_INFINITY; 2],
        };
        for bar in &bars[range] {
            for end in bar.ends_m {
                for (k, v) in end.into_iter().enumerate() {
                    span.low[k] = span.low[k].min(v - bar.keep_m);
                    span.high[k] = span.high[k].max(v + bar.keep_m);
                }
            }
        }
        span
    }
}

impl Pieces {
    /// Of obstacles, for a way of this half width, metres.
    pub(super) fn of(obstacles: &[Obstacle], base: Point, half_m: f64) -> Pieces {
        let mut pieces = Pieces::default();
        for (number, obstacle) in obstacles.iter().enumerate() {
            let first = pieces.bars.len();
            let keep_m = half_m + obstacle.margin_m;
            match &obstacle.shape {
                Shape::Area(rings) => {
                    for ring in rings {
                        let mut line = ring.corners().to_vec();
                        line.extend(line.first().copied());
                        pieces.add_line(&line, base, [keep_m, half_m], number);
                    }
                }
                Shape::Lines(lines) => {
                    for line in lines {
                        pieces.add_line(line, base, [keep_m, half_m], number);
                    }
                }
                Shape::Disc { centre, radius_m } => {
                    let at_m = centre.relative_m(base);
                    let keep_m = keep_m + radius_m;
                    pieces.add(at_m, at_m, [keep_m, half_m], number);
                    pieces.corners.push(Corner { at_m, keep_m });
                }
            }
            let span = Span::of(&pieces.bars, first..pieces.bars.len());
            pieces.spans.push(span);
        }
        pieces
    }

    /// All bars.
    pub(super) fn bars(&self) -> &[Bar] {
        &self.bars
    }

    /// Bars of an obstacle.
    pub(super) fn bars_of(&self, obstacle: usize) -> &[Bar] {
        &self.bars[self.spans[obstacle].bars.clone()]
    }

    /// Bars of the obstacles that a box may come too near to.
    pub(super) fn bars_near(&self, low: [f64; 2], high: [f64; 2]) -> impl Iterator<Item = &Bar> {
        let is_near =
            move |span: &&Span| (0..2).all(|k| span.low[k] <= high[k] && span.high[k] >= low[k]);
        let near = self.spans.iter().filter(is_near);
        near.flat_map(|span| &self.bars[span.bars.clone()])
    }

    /// Numbers of the obstacles whose boxes hold a place.
    pub(super) fn obstacles_at(&self, at: [f64; 2]) -> impl Iterator<Item = usize> {
        let holds =
            move |span: &Span| (0..2).all(|k| span.low[k] <= at[k] && span.high[k] >= at[k]);
        let spans = self.spans.iter().enumerate();
        spans.filter(move |(_, span)| holds(span)).map(|(k, _)| k)
    }

    fn add(&mut self, a: [f64; 2], b: [f64; 2], [keep_m, half_m]: [f64; 2], obstacle: usize) {
        self.bars.push(Bar {
            ends_m: [a, b],
            keep_m,
            half_m,
            obstacle,
        });
    }

    fn add_line(&mut self, line: &[Point], base: Point, keep: [f64; 2], obstacle: usize) {
        let mut line = line.to_vec();
        line.dedup();
        let n = line.len();
        if n == 1 {
            let at_m = line[0].relative_m(base);
            self.add(at_m, at_m, keep, obstacle);
        }
        for pair in line.windows(2) {
            let [a, b] = [pair[0].relative_m(base), pair[1].relative_m(base)];
            self.add(a, b, keep, obstacle);
        }
        let is_closed = n > 2 && line[0] == line[n - 1];
        let bends = if is_closed { n - 1 } else { n };
        for k in 0..bends {
            let before = if k > 0 {
                Some(line[k - 1])
            } else {
                is_closed.then(|| line[n - 2])
            };
            let after = line.get(k + 1).copied();
            // Nothing bends round a point in the middle of a straight line.
            let is_straight = matches!((before, after), (Some(a), Some(b))
                if orient_sign(a, line[k], b) == 0 && is_between(a, line[k], b));
            if !is_straight {
                self.corners.push(Corner {
                    at_m: line[k].relative_m(base),
                    keep_m: keep[0],
                });
            }
        }
    }
}

/// True if `p`, on the line through `a` and `b`, does not turn back.
fn is_between(a: Point, p: Point, b: Point) -> bool {
    let ([ax, ay], [bx, by]) = (a.relative_m(p), b.relative_m(p));
    ax * bx + ay * by < 0.0
}
