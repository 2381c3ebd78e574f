//! Sides at the limit slope that never meet the ground.
//!
//! From the middle of every piece of rim a way is followed square to it over the measured ground.
//! On plane ground that falls by `g` a side of `z` across : 1 up reaches `z h / (1 - z g)`; at
//! `z g = 1` and more it never lands. So a way that leaves the survey is told apart: never lands
//! where the ground falls as steeply as the side, not known where it does not.

use crate::geom::Point;
use crate::surface::Profile;
use crate::units::Slope;

use super::super::slope::side_limit;
use super::super::{Checked, Finding, Measure, Severity};
use super::rim::Piece;
use super::{Yard, is_wall};

/// How the side at the limit slope of a feature ends.
#[derive(Default)]
struct Ends {
    unknown: usize,
    held: usize,
    /// Length of rim from which it never lands, metres.
    never_m: f64,
    /// Fall of the ground there and the place, the steepest.
    worst: Option<(f64, [f64; 3], f64)>,
}

pub(super) fn check(yard: &Yard, out: &mut Checked) {
    let context = yard.context;
    let design = context.design;
    let Some(far) = reach_m(yard) else {
        out.missing("GR-9", "there is no ground");
        return;
    };
    let (mut sides, mut unknown, mut held, mut found) = (0, 0, 0, 0);
    for (number, feature) in design.features.iter().enumerate() {
        if is_wall(design, number) {
            continue;
        }
        for is_fill in [true, false] {
            let pieces = yard.rims[number].of(is_fill);
            let Some(limit) = side_limit(context, feature, is_fill) else {
                if !pieces.is_empty() {
                    out.missing(
                        "GR-9",
                        format!("no limit is offered for cuts in {}", context.soil.name),
                    );
                }
                continue;
            };
            let slope = limit.slope.rise_per_run();
            let mut ends = Ends::default();
            for piece in pieces {
                yard.follow(piece, is_fill, slope, far, &mut ends);
            }
            sides += usize::from(!pieces.is_empty());
            unknown += ends.unknown;
            held += ends.held;
            if let Some((ground, from, gap)) = ends.worst {
                found += 1;
                let place = Point::from_m(from[0], from[1]);
                let show = context.show();
                let fall = Slope::from_rise_per_run(ground);
                let (what, way) = if is_fill {
                    ("fill", "falls")
                } else {
                    ("cut", "rises")
                };
                out.find(Finding {
                    ids: &["GR-9"],
                    feature: Some(feature.name.clone()),
                    place: context.place(place),
                    at_m: Some(context.absolute(place)),
                    measured: Some(Measure {
                        value: ground,
                        unit: "rise_per_run",
                    }),
                    limit: Some(Measure {
                        value: slope,
                        unit: "rise_per_run",
                    }),
                    limit_from: limit.from,
                    cure: format!(
                        "hold it with a wall along {} of its edge, or put it where the ground {way} by less than {:.0} percent; a line to land before, drawn as a keep-off, tells the height of the wall",
                        show.length(ends.never_m),
                        limit.slope.percent()
                    ),
                    ..Finding::new(
                        "never-lands",
                        Severity::Stop,
                        format!(
                            "{}: its {what} at the limit slope of {:.2} across : 1 up never meets the ground over {} of its edge: the ground {way} as steeply, by {:.0} percent; at the end of the survey it is still {} off",
                            feature.name,
                            limit.slope.run_per_rise(),
                            show.length(ends.never_m),
                            fall.percent(),
                            show.length(gap)
                        ),
                    )
                });
            }
        }
    }
    let words = format!(
        "sides of {sides} kinds at their limit slope followed over the ground: {found} never meet it{}",
        if held > 0 {
            ", some end at a line first"
        } else {
            ""
        }
    );
    out.looked("GR-9", words);
    if unknown > 0 {
        out.missing(
            "GR-9",
            "at the limit slope some sides run out of the survey before they land, on ground flat enough to land on: survey further out",
        );
    }
}

/// Farther than anything in the survey, metres.
fn reach_m(yard: &Yard) -> Option<f64> {
    let vertices = yard.context.terrain.surface.vertices();
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for v in vertices {
        for (axis, m) in [v.p.x_m(), v.p.y_m()].into_iter().enumerate() {
            low[axis] = low[axis].min(m);
            high[axis] = high[axis].max(m);
        }
    }
    let far = (high[0] - low[0]).hypot(high[1] - low[1]);
    far.is_finite().then_some(far)
}

/// Rims higher over the ground than this have a side, metres.
const LANDED_M: f64 = 1.0e-3;

impl Yard<'_> {
    fn follow(&self, piece: &Piece, is_fill: bool, slope: f64, far: f64, ends: &mut Ends) {
        let middle = |axis: usize| (piece.from[axis] + piece.to[axis]) / 2.0;
        let from = [middle(0), middle(1), middle(2)];
        let end = [from[0] + far * piece.out[0], from[1] + far * piece.out[1]];
        let line = [
            Point::from_m(from[0], from[1]),
            Point::from_m(end[0], end[1]),
        ];
        let ground: Profile = self.context.terrain.surface.profile(&line);
        let Some(run) = ground.runs.first() else {
            ends.unknown += 1;
            return;
        };
        let sign = if is_fill { 1.0 } else { -1.0 };
        let height = |d: f64, z: f64| sign * (from[2] - z) - slope * d;
        if !run.iter().any(|q| height(q.distance_m, q.z_m) <= LANDED_M) {
            self.leave(piece, from, run, sign, slope, ends);
        }
    }

    /// The way leaves the survey without landing.
    fn leave(
        &self,
        piece: &Piece,
        from: [f64; 3],
        run: &[crate::surface::ProfilePoint],
        sign: f64,
        slope: f64,
        ends: &mut Ends,
    ) {
        let Some(last) = run.last() else { return };
        let at = |q: &crate::surface::ProfilePoint| [q.x_m, q.y_m];
        let is_held = self.obstacles.iter().any(|o| {
            let mut lines = o.line.windows(2);
            lines.any(|w| crosses([from[0], from[1]], at(last), w))
        });
        if is_held {
            ends.held += 1;
            return;
        }
        let first = run[0];
        let length = last.distance_m - first.distance_m;
        if length <= 0.0 {
            ends.unknown += 1;
            return;
        }
        let fall = sign * (first.z_m - last.z_m) / length;
        if fall < slope * (1.0 - AS_STEEP) {
            ends.unknown += 1;
            return;
        }
        let [dx, dy] = [0, 1].map(|axis| piece.to[axis] - piece.from[axis]);
        ends.never_m += dx.hypot(dy);
        let gap = sign * (from[2] - last.z_m) - slope * last.distance_m;
        if ends.worst.is_none_or(|(steepest, ..)| fall > steepest) {
            ends.worst = Some((fall, from, gap));
        }
    }
}

/// Ground this close to the slope of a side, as a share, is as steep: shots on a plane are rounded.
const AS_STEEP: f64 = 1.0e-6;

/// True if the way between two places crosses a piece of a line.
fn crosses(a: [f64; 2], b: [f64; 2], line: &[Point]) -> bool {
    let [c, d] = [line[0], line[1]].map(super::plan);
    let side = |p: [f64; 2], q: [f64; 2], r: [f64; 2]| {
        (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])
    };
    side(a, b, c) * side(a, b, d) <= 0.0 && side(c, d, a) * side(c, d, b) <= 0.0
}
