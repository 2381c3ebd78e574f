//! Stretches of a line along which something has to be held: as drawn, and at the limit slope.

use crate::geom::Point;

use super::super::wall::JOINED_M;
use super::envelope::{Envelope, Reached};
use super::obstacle::Obstacle;
use super::rim::plan;

/// One place of a line: the level on the low side and that of the soil that is to be held (for a
/// cut: the ground and the level dug to).
#[derive(Clone, Copy, Debug)]
pub(crate) struct Step {
    pub(crate) station: f64,
    pub(crate) ground: f64,
    pub(crate) finished: f64,
}

impl Step {
    pub(crate) fn height(&self) -> f64 {
        (self.finished - self.ground).abs()
    }

    /// More than rounding.
    pub(crate) fn differs(&self) -> bool {
        self.height() >= 1.0e-6
    }
}

/// A stretch of one feature on one side, place by place.
#[derive(Clone, Debug)]
pub(crate) struct Run {
    pub(crate) owner: usize,
    pub(crate) is_fill: bool,
    /// True if the design stops there in an upright face.
    pub(crate) is_in_design: bool,
    pub(crate) steps: Vec<[Step; 2]>,
}

impl Run {
    pub(crate) fn start(&self) -> f64 {
        self.steps.first().map_or(0.0, |s| s[0].station)
    }

    pub(crate) fn end(&self) -> f64 {
        self.steps.last().map_or(0.0, |s| s[1].station)
    }

    pub(crate) fn length_m(&self) -> f64 {
        self.end() - self.start()
    }

    pub(crate) fn max_height_m(&self) -> f64 {
        let heights = self.steps.iter().flatten().map(Step::height);
        heights.fold(0.0, f64::max)
    }

    pub(crate) fn face_m2(&self) -> f64 {
        self.steps
            .iter()
            .map(|[a, b]| (a.height() + b.height()) / 2.0 * (b.station - a.station))
            .sum()
    }

    /// True if they share a part of the line of this length or closer than a wall unit.
    pub(crate) fn is_beside(&self, other: &Run, round_m: Option<f64>) -> bool {
        let near = |shift: f64| {
            self.start() + shift <= other.end() + JOINED_M
                && other.start() <= self.end() + shift + JOINED_M
        };
        near(0.0) || round_m.is_some_and(|l| near(l) || near(-l))
    }

    /// True if a station lies in it.
    pub(crate) fn covers(&self, station: f64, round_m: Option<f64>) -> bool {
        let within = |s: f64| s >= self.start() && s <= self.end();
        within(station) || round_m.is_some_and(|l| within(station + l) || within(station - l))
    }
}

/// Puts pieces in order along the line together where they are closer than a wall unit.
pub(crate) fn joined(
    pieces: impl IntoIterator<Item = (usize, bool, [Step; 2])>,
    is_in_design: bool,
) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    for (owner, is_fill, next) in pieces {
        match runs.last_mut() {
            Some(run)
                if run.owner == owner
                    && run.is_fill == is_fill
                    && next[0].station - run.end() <= JOINED_M =>
            {
                run.steps.push(next);
            }
            _ => runs.push(Run {
                owner,
                is_fill,
                is_in_design,
                steps: vec![next],
            }),
        }
    }
    runs
}

/// Round a closed line the last run goes on in the first.
pub(crate) fn close_round(runs: &mut Vec<Run>, length_m: f64) {
    if runs.len() < 2 {
        return;
    }
    let (first, last) = (&runs[0], &runs[runs.len() - 1]);
    let goes_on = first.owner == last.owner
        && first.is_fill == last.is_fill
        && first.start() + length_m - last.end() <= JOINED_M;
    if goes_on {
        let mut first = runs.remove(0);
        for step in first.steps.iter_mut().flatten() {
            step.station += length_m;
        }
        if let Some(last) = runs.last_mut() {
            last.steps.extend(first.steps);
        }
    }
}

/// How far a height between two stations may be off the straight line between them, metres: a
/// tenth of a millimetre, far below what a level shows.
pub(crate) const HEIGHT_TOLERANCE_M: f64 = 1.0e-4;

/// Halvings of a strip: 0.25 m / 2^12 is 0.06 mm.
const HALVINGS: u32 = 12;

/// The side of a feature at the limit slope along a line.
pub(crate) struct AtLine<'a> {
    pub(crate) obstacle: &'a Obstacle,
    pub(crate) envelope: &'a Envelope<'a>,
    /// The level of the core where the line runs over it.
    pub(crate) core: &'a dyn Fn(Point) -> Option<f64>,
    /// Level above the obstacle at which soil of another slope begins, and how far off: of a dig
    /// its own side up to the natural ground. Gives the level the soil lands on, and how much
    /// higher it stands there.
    pub(crate) landing: &'a dyn Fn(f64, f64) -> (f64, f64),
}

/// One evaluated place.
#[derive(Clone, Copy)]
struct Seen {
    step: Step,
    /// Height to hold, metres; below nothing where it landed before.
    height: f64,
    source: usize,
}

impl AtLine<'_> {
    /// Where the soil comes from at a place, and its level.
    pub(crate) fn reached(&self, p: Point) -> Option<Reached> {
        if let Some(z_m) = (self.core)(p) {
            let [x, y] = plan(p);
            return Some(Reached {
                z_m,
                from: [x, y, z_m],
                source: usize::MAX,
            });
        }
        self.envelope.at(plan(p))
    }

    fn see(&self, station: f64) -> Option<Seen> {
        let low = self.obstacle.low.z_at(station)?;
        let (ground, above) = (self.landing)(station, low);
        let reached = self.reached(self.obstacle.at(station))?;
        let finished = reached.z_m + above;
        Some(Seen {
            step: Step {
                station,
                ground,
                finished,
            },
            height: self.envelope.height_m(finished, ground),
            source: reached.source,
        })
    }

    /// Pieces along the line where the side at the limit slope has not landed yet.
    pub(crate) fn pieces(&self) -> Vec<[Step; 2]> {
        let mut pieces = Vec::new();
        for strip in &self.obstacle.strips {
            // Far off nothing arrives: the level changes by the limit slope at most.
            let (ground, above) = match self.obstacle.feature {
                None => (strip.low_m, 0.0),
                Some(_) => (self.landing)((strip.from + strip.to) / 2.0, strip.low_m),
            };
            let swing = (strip.to - strip.from) / 2.0 * self.envelope.slope() + strip.swing_m;
            let most = self.envelope.most_height_m(strip.middle, ground - above);
            if most + swing > 0.0 {
                self.between(strip.from, strip.to, &mut pieces);
            }
        }
        pieces
    }

    fn between(&self, a: f64, b: f64, pieces: &mut Vec<[Step; 2]>) {
        // Just inside: at a step of the ground both levels stand at one station.
        let inside = (b - a) * 1.0e-6;
        let (from, to) = (self.see(a + inside), self.see(b - inside));
        let set = |seen: Option<Seen>, station: f64| {
            seen.map(|mut s| {
                s.step.station = station;
                s
            })
        };
        let middle = self.see((a + b) / 2.0);
        self.refine(set(from, a), set(to, b), [a, b], middle, HALVINGS, pieces);
    }

    fn refine(
        &self,
        from: Option<Seen>,
        to: Option<Seen>,
        [a, b]: [f64; 2],
        middle: Option<Seen>,
        left: u32,
        pieces: &mut Vec<[Step; 2]>,
    ) {
        let m = (a + b) / 2.0;
        let stands = |s: &Option<Seen>| s.is_some_and(|s| s.height > 0.0);
        let split = left > 0 && {
            match (&from, &middle, &to) {
                (Some(f), Some(c), Some(t)) => {
                    let is_all_low = f.height <= 0.0 && c.height <= 0.0 && t.height <= 0.0;
                    let bend = (c.height - (f.height + t.height) / 2.0).abs();
                    let is_one = f.source == c.source && c.source == t.source;
                    // Where sources change, a bend near one end shows half in the middle; several
                    // that hide each other are looked for more closely.
                    let hidden = if is_one {
                        0.0
                    } else {
                        self.envelope.slope() * (b - a) / 32.0
                    };
                    let could_rise = c.height + self.envelope.slope() * (b - a) > 0.0;
                    (!is_all_low || could_rise)
                        && (2.0 * bend > HEIGHT_TOLERANCE_M
                            || hidden > HEIGHT_TOLERANCE_M
                            || stands(&from) != stands(&to)
                            || is_all_low && could_rise && left > HALVINGS - 3)
                }
                (None, None, None) => left > HALVINGS - 2,
                _ => true,
            }
        };
        if split {
            let quarter = self.see((a + m) / 2.0);
            let third = self.see((m + b) / 2.0);
            self.refine(from, middle, [a, m], quarter, left - 1, pieces);
            self.refine(middle, to, [m, b], third, left - 1, pieces);
            return;
        }
        let piece = match (from, to) {
            (Some(f), Some(t)) if f.height > 0.0 && t.height > 0.0 => [f.step, t.step],
            // One end has landed: the foot of the wall lies where the heights meet.
            (Some(f), Some(t)) if f.height > 0.0 || t.height > 0.0 => {
                let share = (f.height / (f.height - t.height)).clamp(0.0, 1.0);
                let mix = |x: f64, y: f64| x + share * (y - x);
                let ground = mix(f.step.ground, t.step.ground);
                let foot = Step {
                    station: mix(a, b),
                    ground,
                    finished: ground,
                };
                if f.height > 0.0 {
                    [f.step, foot]
                } else {
                    [foot, t.step]
                }
            }
            _ => return,
        };
        pieces.push(piece);
    }
}
