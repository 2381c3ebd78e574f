//! Discs round corners: where a way may run on one, and the lines that touch two.

use std::f64::consts::TAU;

use super::obstacle::{Bar, Corner, Pieces};
use crate::geom::nearest_on;

/// Ways may come this much nearer to an obstacle than asked for, metres: a tenth of the lattice,
/// far above rounding. So a gap of exactly the width is passed, one a nanometre narrower is not.
pub(super) const TOUCH_M: f64 = 1.0e-10;

/// Directions closer than this are one, radians.
const SAME_DIRECTION: f64 = 1.0e-9;

/// A way round a disc.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Turn {
    /// Counter-clockwise: the disc lies to the left.
    Left,
    /// Clockwise.
    Right,
}

impl Turn {
    pub(super) const BOTH: [Turn; 2] = [Turn::Left, Turn::Right];

    pub(super) fn sign(self) -> f64 {
        match self {
            Turn::Left => 1.0,
            Turn::Right => -1.0,
        }
    }
}

/// A straight line that touches two discs.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tangent {
    /// Where it touches, metres about the base.
    pub(super) ends_m: [[f64; 2]; 2],
    /// The same as directions from the centres, of length 1.
    pub(super) outs: [[f64; 2]; 2],
    /// Its length, metres.
    pub(super) length_m: f64,
}

/// The line from a disc, left after turning one way, to another that is then gone round the
/// other way given; `None` if one lies in the other or they overlap where the line crosses over.
pub(super) fn tangent(from: (Corner, Turn), to: (Corner, Turn)) -> Option<Tangent> {
    let [dx, dy] = [0, 1].map(|k| to.0.at_m[k] - from.0.at_m[k]);
    let square = dx * dx + dy * dy;
    let k = to.1.sign() * to.0.keep_m - from.1.sign() * from.0.keep_m;
    // Discs that just touch have a line of no length between them.
    let far = square.sqrt();
    if far <= TOUCH_M || far < k.abs() - TOUCH_M {
        return None;
    }
    let length_m = (square - k * k).max(0.0).sqrt();
    let scale = (length_m * length_m + k * k).sqrt() * far;
    let d = [
        (dx * length_m + dy * k) / scale,
        (dy * length_m - dx * k) / scale,
    ];
    let touch = |(corner, turn): (Corner, Turn)| {
        let out = [d[1] * turn.sign(), -d[0] * turn.sign()];
        let at = [0, 1].map(|k| corner.at_m[k] + out[k] * corner.keep_m);
        (at, out)
    };
    let ((a, out_a), (b, out_b)) = (touch(from), touch(to));
    Some(Tangent {
        ends_m: [a, b],
        outs: [out_a, out_b],
        length_m,
    })
}

/// A stretch of a circle on which the middle of a way may run.
#[derive(Clone, Copy, Debug)]
pub(super) struct FreeArc {
    /// Where it begins, radians, counter-clockwise.
    start: f64,
    /// How far it goes, radians.
    pub(super) sweep: f64,
    /// Direction of its middle, and the cosine of half its sweep: most directions are told to be
    /// off it by these.
    middle: [f64; 2],
    cos_half: f64,
}

impl FreeArc {
    fn new(start: f64, sweep: f64) -> FreeArc {
        let (sin, cos) = (start + sweep / 2.0).sin_cos();
        FreeArc {
            start,
            sweep,
            middle: [cos, sin],
            cos_half: (sweep / 2.0).min(std::f64::consts::PI).cos(),
        }
    }

    /// True if it is the whole circle.
    pub(super) fn is_whole(self) -> bool {
        self.sweep >= TAU
    }

    /// How far along a direction lies, counted in the sense of a turn; `None` off it.
    pub(super) fn along(self, out: [f64; 2], turn: Turn) -> Option<f64> {
        // A cosine changes by no more than the angle.
        if out[0] * self.middle[0] + out[1] * self.middle[1] < self.cos_half - 2.0 * SAME_DIRECTION
        {
            return None;
        }
        let angle = out[1].atan2(out[0]);
        let mut along = (angle - self.start).rem_euclid(TAU);
        if along > TAU - SAME_DIRECTION {
            along = 0.0;
        }
        if along > self.sweep + SAME_DIRECTION {
            return None;
        }
        let along = along.min(self.sweep);
        Some(match turn {
            Turn::Left => along,
            Turn::Right => self.sweep - along,
        })
    }
}

/// The arcs round a corner that keep their distance from all bars, in order.
pub(super) fn free_arcs(corner: Corner, pieces: &Pieces) -> Vec<FreeArc> {
    let mut shut: Vec<[f64; 2]> = Vec::new();
    let low = corner.at_m.map(|v| v - corner.keep_m);
    let high = corner.at_m.map(|v| v + corner.keep_m);
    for bar in pieces.bars_near(low, high) {
        let near = nearest_on(corner.at_m, bar.ends_m);
        let [x, y] = [0, 1].map(|k| near[k] - corner.at_m[k]);
        let reach = corner.keep_m + bar.keep_m - TOUCH_M;
        if x * x + y * y < reach * reach {
            shut.extend(shut_arcs(corner, bar));
        }
    }
    shut.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let mut joined: Vec<[f64; 2]> = Vec::new();
    for arc in shut {
        match joined.last_mut() {
            Some(last) if arc[0] <= last[1] => last[1] = last[1].max(arc[1]),
            _ => joined.push(arc),
        }
    }
    let Some((&first, &last)) = joined.first().zip(joined.last()) else {
        return vec![FreeArc::new(0.0, TAU)];
    };
    let mut free: Vec<FreeArc> = joined
        .windows(2)
        .map(|pair| FreeArc::new(pair[0][1], pair[1][0] - pair[0][1]))
        .collect();
    // Over the direction where counting begins.
    let sweep = first[0] + TAU - last[1];
    if sweep > SAME_DIRECTION {
        free.push(FreeArc::new(last[1], sweep));
    }
    free.retain(|arc| arc.sweep > SAME_DIRECTION);
    free
}

/// Stretches of the circle round a corner that come too near to a bar, from 0 to one turn.
fn shut_arcs(corner: Corner, bar: &Bar) -> Vec<[f64; 2]> {
    let reach = bar.keep_m - TOUCH_M;
    let r = corner.keep_m;
    let relative = |p: [f64; 2]| [p[0] - corner.at_m[0], p[1] - corner.at_m[1]];
    let ends = bar.ends_m.map(relative);
    // Directions at which the circle may enter or leave what is too near.
    let mut cuts: Vec<f64> = vec![0.0, TAU];
    let mut cut = |middle: f64, cos: f64| {
        if cos.abs() <= 1.0 {
            let half = cos.acos();
            cuts.extend([middle - half, middle + half].map(|a| a.rem_euclid(TAU)));
        }
    };
    for [x, y] in ends {
        let far = x.hypot(y);
        if far > 0.0 {
            cut(
                y.atan2(x),
                (r * r + far * far - reach * reach) / (2.0 * r * far),
            );
        }
    }
    let [ux, uy] = [ends[1][0] - ends[0][0], ends[1][1] - ends[0][1]];
    let length = ux.hypot(uy);
    if length > 0.0 {
        let [nx, ny] = [-uy / length, ux / length];
        let offset = ends[0][0] * nx + ends[0][1] * ny;
        for side in [reach, -reach] {
            cut(ny.atan2(nx), (offset + side) / r);
        }
    }
    cuts.sort_by(f64::total_cmp);
    let is_shut = |angle: f64| {
        let p = [r * angle.cos(), r * angle.sin()];
        let near = nearest_on(p, ends);
        (near[0] - p[0]).hypot(near[1] - p[1]) < reach
    };
    cuts.windows(2)
        .filter(|pair| pair[1] > pair[0] && is_shut((pair[0] + pair[1]) / 2.0))
        .map(|pair| [pair[0], pair[1]])
        .collect()
}
