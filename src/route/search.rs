//! The search: from disc to disc along lines that touch both, the most promising first.
//!
//! # Source
//!
//! P. E. Hart, N. J. Nilsson, B. Raphael, "A formal basis for the heuristic determination of
//! minimum cost paths", 1968; what is left is never taken to be longer than the straight line

use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::f64::consts::TAU;

use super::disc::{FreeArc, TOUCH_M, Tangent, Turn, free_arcs, tangent};
use super::obstacle::{Corner, Pieces};
use crate::geom::gap_between;

/// A corner that can be gone round, with the arcs on which.
#[derive(Clone, Debug)]
pub(super) struct Bend {
    corner: Corner,
    arcs: Vec<FreeArc>,
}

/// Pieces made ready to be asked.
#[derive(Clone, Debug, Default)]
pub(super) struct Graph {
    pub(super) pieces: Pieces,
    bends: Vec<Bend>,
}

/// A part of a way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Part {
    /// Straight on, metres about the base.
    Straight([[f64; 2]; 2]),
    /// Round a corner.
    Arc {
        middle_m: [f64; 2],
        radius_m: f64,
        /// Where it begins, radians.
        from: f64,
        /// How far it goes, radians, counter-clockwise above 0.
        sweep: f64,
    },
}

/// A way as it was found.
#[derive(Clone, Debug)]
pub(super) struct Found {
    /// Which of the places it starts from.
    pub(super) from: usize,
    pub(super) length_m: f64,
    pub(super) parts: Vec<Part>,
}

/// How far a search goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Until {
    /// The nearest of the places asked for.
    First,
    /// Each of them.
    All,
}

/// Where a stretch ends.
#[derive(Clone, Copy, Debug, PartialEq)]
enum End {
    /// On a disc, going round it.
    Bend(usize, Turn),
    /// At a place asked for.
    Goal(usize),
}

/// A stretch that leaves a disc.
#[derive(Clone, Copy, Debug)]
struct Leave {
    arc: usize,
    along: f64,
    tangent: Tangent,
    to: End,
}

/// Something reached, with how.
#[derive(Clone, Copy, Debug)]
struct Step {
    /// The step before; `None` at the start.
    before: Option<usize>,
    length_m: f64,
    kind: Kind,
}

#[derive(Clone, Copy, Debug)]
enum Kind {
    /// At a place to leave a disc, come along its arc: number of the bend and turn, of the leave,
    /// and the arc gone.
    Round {
        slot: usize,
        leave: usize,
        from: f64,
        sweep: f64,
    },
    /// Along a straight stretch, which is not yet known to be free.
    Fly { tangent: Tangent, to: End },
    /// A start.
    Start(usize),
}

/// Order of the queue: shortest possible whole first, then first come.
#[derive(PartialEq)]
struct Queued(f64, usize);

impl Eq for Queued {}
impl PartialOrd for Queued {
    fn partial_cmp(&self, other: &Queued) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Queued {
    fn cmp(&self, other: &Queued) -> std::cmp::Ordering {
        self.0.total_cmp(&other.0).then(self.1.cmp(&other.1))
    }
}

impl Graph {
    pub(super) fn of(pieces: Pieces) -> Graph {
        let bends = pieces
            .corners
            .iter()
            .map(|&corner| Bend {
                corner,
                arcs: free_arcs(corner, &pieces),
            })
            .filter(|bend| !bend.arcs.is_empty())
            .collect();
        Graph { pieces, bends }
    }

    /// True if a straight stretch keeps its distance from everything.
    pub(super) fn is_free(&self, [a, b]: [[f64; 2]; 2]) -> bool {
        let low = [a[0].min(b[0]), a[1].min(b[1])];
        let high = [a[0].max(b[0]), a[1].max(b[1])];
        self.pieces.bars_near(low, high).all(|bar| {
            let [p, q] = bar.ends_m;
            let keep = bar.keep_m;
            let is_far =
                (0..2).any(|k| p[k].min(q[k]) - keep > high[k] || p[k].max(q[k]) + keep < low[k]);
            is_far || gap_between([a, b], bar.ends_m).distance_m >= keep - TOUCH_M
        })
    }

    /// Shortest ways from the nearest of the starts, in the order of the goals.
    pub(super) fn search(
        &self,
        starts: &[[f64; 2]],
        goals: &[[f64; 2]],
        until: Until,
    ) -> Vec<Option<Found>> {
        let mut run = Run::new(self, goals, until);
        for (k, &start) in starts.iter().enumerate() {
            run.start(k, start);
        }
        run.go()
    }
}

/// One search.
struct Run<'a> {
    graph: &'a Graph,
    goals: &'a [[f64; 2]],
    until: Until,
    /// Box round the goals.
    goal_box: [[f64; 2]; 2],
    steps: Vec<Step>,
    queue: BinaryHeap<Reverse<Queued>>,
    /// Stretches that leave a disc by turn, once it was reached: two slots for each bend.
    leaves: Vec<Option<Vec<Leave>>>,
    /// Which of them were reached.
    is_done: Vec<Vec<bool>>,
    found: Vec<Option<Found>>,
}

fn slot_of(bend: usize, turn: Turn) -> usize {
    2 * bend + usize::from(turn == Turn::Right)
}

impl<'a> Run<'a> {
    fn new(graph: &'a Graph, goals: &'a [[f64; 2]], until: Until) -> Run<'a> {
        let mut goal_box = [[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]];
        for goal in goals {
            for k in 0..2 {
                goal_box[0][k] = goal_box[0][k].min(goal[k]);
                goal_box[1][k] = goal_box[1][k].max(goal[k]);
            }
        }
        let slots = 2 * graph.bends.len();
        Run {
            graph,
            goals,
            until,
            goal_box,
            steps: Vec::new(),
            queue: BinaryHeap::new(),
            leaves: vec![None; slots],
            is_done: vec![Vec::new(); slots],
            found: vec![None; goals.len()],
        }
    }

    /// Least length from a place to any goal.
    fn left_m(&self, at: [f64; 2]) -> f64 {
        let [low, high] = self.goal_box;
        let off = |k: usize| (low[k] - at[k]).max(at[k] - high[k]).max(0.0);
        let [x, y] = [off(0), off(1)];
        (x * x + y * y).sqrt()
    }

    fn push(&mut self, step: Step, at: [f64; 2]) {
        let least = step.length_m + self.left_m(at);
        self.queue.push(Reverse(Queued(least, self.steps.len())));
        self.steps.push(step);
    }

    fn start(&mut self, number: usize, at: [f64; 2]) {
        let before = self.steps.len();
        self.steps.push(Step {
            before: None,
            length_m: 0.0,
            kind: Kind::Start(number),
        });
        let from = Corner {
            at_m: at,
            keep_m: 0.0,
        };
        for (tangent, to) in self.stretches((from, Turn::Left)) {
            let step = Step {
                before: Some(before),
                length_m: tangent.length_m,
                kind: Kind::Fly { tangent, to },
            };
            self.push(step, tangent.ends_m[1]);
        }
    }

    /// Stretches from a disc to every other and to the goals, free or not.
    fn stretches(&self, from: (Corner, Turn)) -> Vec<(Tangent, End)> {
        let mut stretches = Vec::new();
        for (k, bend) in self.graph.bends.iter().enumerate() {
            for turn in Turn::BOTH {
                if let Some(t) = tangent(from, (bend.corner, turn))
                    && bend.arcs.iter().any(|a| a.along(t.outs[1], turn).is_some())
                {
                    stretches.push((t, End::Bend(k, turn)));
                }
            }
        }
        for (k, &at_m) in self.goals.iter().enumerate() {
            let goal = Corner { at_m, keep_m: 0.0 };
            let is_there = from.0.keep_m == 0.0 && from.0.at_m == at_m;
            let stretch = match is_there {
                true => Some(Tangent {
                    ends_m: [at_m; 2],
                    outs: [[1.0, 0.0]; 2],
                    length_m: 0.0,
                }),
                false => tangent(from, (goal, Turn::Left)),
            };
            stretches.extend(stretch.map(|t| (t, End::Goal(k))));
        }
        stretches
    }

    /// The stretches that leave a disc, in the order in which they are come by.
    fn prepare(&mut self, bend: usize, turn: Turn) -> usize {
        let slot = slot_of(bend, turn);
        if self.leaves[slot].is_none() {
            let Bend { corner, arcs } = &self.graph.bends[bend];
            let mut leaves: Vec<Leave> = Vec::new();
            for (tangent, to) in self.stretches((*corner, turn)) {
                let on = arcs
                    .iter()
                    .enumerate()
                    .find_map(|(arc, a)| a.along(tangent.outs[0], turn).map(|along| (arc, along)));
                if let Some((arc, along)) = on {
                    leaves.push(Leave {
                        arc,
                        along,
                        tangent,
                        to,
                    });
                }
            }
            leaves.sort_by(|a, b| (a.arc.cmp(&b.arc)).then(a.along.total_cmp(&b.along)));
            self.is_done[slot] = vec![false; leaves.len()];
            self.leaves[slot] = Some(leaves);
        }
        slot
    }

    /// Goes on along a disc from a direction to the next place where it can be left.
    fn round(
        &mut self,
        before: usize,
        bend: usize,
        turn: Turn,
        out: [f64; 2],
        passed: Option<usize>,
    ) {
        let slot = self.prepare(bend, turn);
        let Bend { corner, arcs } = &self.graph.bends[bend];
        let Some(leaves) = &self.leaves[slot] else {
            return;
        };
        let on = |(arc, a): (usize, &FreeArc)| a.along(out, turn).map(|along| (arc, along));
        let (arc, along) = match passed {
            Some(k) => (leaves[k].arc, leaves[k].along),
            None => match arcs.iter().enumerate().find_map(on) {
                Some(found) => found,
                None => return,
            },
        };
        let first = leaves.partition_point(|l| l.arc < arc);
        let end = leaves.partition_point(|l| l.arc <= arc);
        let next = match passed {
            Some(k) => k + 1,
            // Straight on is no turn, whatever rounding says.
            None => first + leaves[first..end].partition_point(|l| l.along < along - 1.0e-9),
        };
        let (next, turned) = if next < end {
            (next, 0.0)
        } else if arcs[arc].is_whole() && first < end {
            (first, TAU)
        } else {
            return;
        };
        if self.is_done[slot][next] {
            return;
        }
        let sweep = (leaves[next].along + turned - along).max(0.0);
        let at = leaves[next].tangent.ends_m[0];
        let step = Step {
            before: Some(before),
            length_m: self.steps[before].length_m + sweep * corner.keep_m,
            kind: Kind::Round {
                slot,
                leave: next,
                from: out[1].atan2(out[0]),
                sweep: sweep * turn.sign(),
            },
        };
        self.push(step, at);
    }

    fn go(mut self) -> Vec<Option<Found>> {
        let mut missing = self.goals.len();
        while let Some(Reverse(Queued(_, number))) = self.queue.pop() {
            let step = self.steps[number];
            match step.kind {
                Kind::Start(_) => {}
                Kind::Round { slot, leave, .. } => {
                    if std::mem::replace(&mut self.is_done[slot][leave], true) {
                        continue;
                    }
                    let Some(Leave { tangent, to, .. }) =
                        self.leaves[slot].as_ref().map(|leaves| leaves[leave])
                    else {
                        continue;
                    };
                    let fly = Step {
                        before: Some(number),
                        length_m: step.length_m + tangent.length_m,
                        kind: Kind::Fly { tangent, to },
                    };
                    self.push(fly, tangent.ends_m[1]);
                    let turn = Turn::BOTH[slot % 2];
                    self.round(number, slot / 2, turn, tangent.outs[0], Some(leave));
                }
                Kind::Fly { tangent, to } => {
                    if let End::Goal(k) = to
                        && self.found[k].is_some()
                    {
                        continue;
                    }
                    if !self.graph.is_free(tangent.ends_m) {
                        continue;
                    }
                    match to {
                        End::Goal(k) => {
                            self.found[k] = Some(self.way(number));
                            missing -= 1;
                            if self.until == Until::First || missing == 0 {
                                break;
                            }
                        }
                        End::Bend(bend, turn) => {
                            self.round(number, bend, turn, tangent.outs[1], None);
                        }
                    }
                }
            }
        }
        self.found
    }

    /// The steps that lead to one, from the start.
    fn way(&self, last: usize) -> Found {
        let mut parts = Vec::new();
        let mut from = 0;
        let mut at = Some(last);
        while let Some(number) = at {
            let step = self.steps[number];
            match step.kind {
                Kind::Start(number) => from = number,
                Kind::Fly { tangent, .. } => parts.push(Part::Straight(tangent.ends_m)),
                Kind::Round {
                    slot, from, sweep, ..
                } => {
                    let corner = self.graph.bends[slot / 2].corner;
                    // Backwards: what was gone before, on the same disc, comes last.
                    match parts.last_mut() {
                        Some(Part::Arc {
                            from: after,
                            sweep: more,
                            ..
                        }) => (*after, *more) = (from, *more + sweep),
                        _ => parts.push(Part::Arc {
                            middle_m: corner.at_m,
                            radius_m: corner.keep_m,
                            from,
                            sweep,
                        }),
                    }
                }
            }
            at = step.before;
        }
        parts.reverse();
        Found {
            from,
            length_m: self.steps[last].length_m,
            parts,
        }
    }
}
