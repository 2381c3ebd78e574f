//! Points of a cloud come in, those that shape the ground stay.
//!
//! Takes points in any order, batch by batch; gives those that are kept, and what leaving out
//! the others lost. Memory goes with what is kept, and not with what came in.

mod batch;
mod draft;
mod same_place;
mod sample;

use crate::geom::P3;
use crate::job::{SamePlace, Thin};

use super::Loss;
use batch::Batch;
use draft::{Draft, Dropped};
use same_place::{Heights, settled};
use sample::Sample;

/// Up to so many points nothing is thinned unless a tolerance is asked for.
pub const LARGE: usize = 1_000_000;

/// Tolerance that is begun with where none is asked for, metres: a clean cut by machine is no
/// truer (common practice, no source).
pub const TOLERANCE_M: f64 = 0.05;

/// So many points kept are enough where no tolerance is asked for: beyond, it is doubled.
const ENOUGH: usize = 4_000_000;

/// Points that are thinned at a time: many, so that few of them lie before the front of what
/// was read.
const BATCH: usize = 1 << 21;

/// Points before the front that wait for the next batch, at most.
const WAITING: usize = BATCH / 4;

/// Leaves points out, as long as the surface without them is not off by more than a tolerance.
///
/// The surface so far is a Delaunay triangulation of the points kept. A batch is laid on it, the
/// point farthest off in every triangle is put in, and so on until none is off by more than the
/// tolerance (in `draft.rs`). Points kept stay kept.
///
/// Points whose triangle will change with what comes next, since it lies at the front of what
/// was read, wait for the next batch. What was dropped is remembered by an even sample; at the end
/// points are held against the final surface. If all that was dropped is remembered, those that
/// are off by more than the tolerance are put back, until none is. If not, half of the
/// sample is put back like that, and the loss is told from the other half, which had no say.
///
/// Points at one place become one, by rule, if they come in one batch or if the first of them
/// was kept. A point at the place of one that was dropped is a point like any other.
#[derive(Debug)]
pub struct Thinner {
    thin: Thin,
    tolerance_m: f64,
    heights: Heights,
    waiting: Vec<P3>,
    batch: Batch,
    draft: Option<Draft>,
    sample: Sample,
    taken: u64,
    same_place: u64,
    /// Which part of the file was taken.
    part: f64,
    /// Points kept, and that part, after the batch before.
    before: Option<(usize, f64)>,
}

/// What is left of a cloud.
#[derive(Clone, Debug)]
pub struct Thinned {
    /// Points at different places.
    pub points: Vec<P3>,
    /// Points that were one with another at their place.
    pub same_place: u64,
    /// What thinning lost; `None` if nothing was thinned.
    pub loss: Option<Loss>,
}

impl Thinner {
    /// Nothing taken yet.
    pub fn new(thin: Thin, same_place: SamePlace) -> Thinner {
        Thinner {
            thin,
            tolerance_m: match thin {
                Thin::Within(tolerance_m) => tolerance_m,
                Thin::IfLarge | Thin::Never => TOLERANCE_M,
            },
            heights: Heights::new(same_place),
            waiting: Vec::new(),
            batch: Batch::default(),
            draft: None,
            sample: Sample::default(),
            taken: 0,
            same_place: 0,
            part: 1.0,
            before: None,
        }
    }

    /// Tells which part of the file will have been taken after the next points, 0 to 1: where too
    /// many points would be kept at the pace of the last batch, the tolerance is doubled at once.
    pub fn has_read(&mut self, part: f64) {
        self.part = part;
    }

    /// Takes points, in the order of the file.
    pub fn take(&mut self, points: &[P3]) {
        self.taken += points.len() as u64;
        if self.thin == Thin::Never {
            self.waiting.extend_from_slice(points);
            return;
        }
        let mut points = points;
        while !points.is_empty() {
            let room = BATCH - self.waiting.len().min(BATCH - 1);
            let (now, later) = points.split_at(room.min(points.len()));
            self.waiting.extend_from_slice(now);
            points = later;
            if self.waiting.len() >= BATCH {
                self.thin(WAITING);
            }
        }
    }

    /// No more points: what is left of all that were taken.
    ///
    /// Points that were not thinned are in the order they came; others along a curve, those near
    /// each other together.
    pub fn finish(mut self) -> Thinned {
        let is_small = self.thin == Thin::IfLarge && self.waiting.len() <= LARGE;
        if self.draft.is_none() && (self.thin == Thin::Never || is_small) {
            return self.whole();
        }
        self.thin(0);
        let is_complete = self.sample.is_complete();
        let again = self.sample.take_for_repair();
        let Some(draft) = &mut self.draft else {
            return self.whole();
        };
        let batch = &mut self.batch;
        batch.fill(&again, &mut Heights::new(SamePlace::First));
        drop(again);
        draft.lay(batch, self.tolerance_m, &mut self.heights);
        draft.lift(batch, 0, |dropped| {
            if let Dropped::Out(point) = dropped {
                self.sample.offer(point);
            }
        });
        let measured = draft.measure(self.sample.for_measure(is_complete), self.tolerance_m);
        let points = self.draft.map(Draft::into_points).unwrap_or_default();
        let loss = Loss {
            tolerance_m: self.tolerance_m,
            points: self.taken - self.same_place - points.len() as u64,
            looked_at: measured.count,
            worst_m: measured.worst_m,
            rms_m: measured.rms_m(),
            beyond: measured.beyond,
        };
        Thinned {
            points,
            same_place: self.same_place,
            loss: Some(loss),
        }
    }

    /// Nothing is thinned, or all points lie on one line and there is no surface to measure by.
    fn whole(self) -> Thinned {
        let (points, same_place) = settled(self.waiting, self.heights.rule());
        let same_place = self.same_place + same_place;
        let left_out = self.taken - same_place - points.len() as u64;
        let loss = Loss {
            tolerance_m: self.tolerance_m,
            points: left_out,
            looked_at: 0,
            worst_m: 0.0,
            rms_m: 0.0,
            beyond: 0,
        };
        Thinned {
            points,
            same_place,
            loss: (left_out > 0).then_some(loss),
        }
    }

    /// Thins what waits; up to `may_wait` points go on waiting.
    fn thin(&mut self, may_wait: usize) {
        self.batch.fill(&self.waiting, &mut self.heights);
        self.waiting.clear();
        self.same_place += self.batch.same_place();
        self.lay(may_wait);
        while self.thin == Thin::IfLarge
            && let Some(draft) = self.draft.take_if(|draft| {
                foreseen(draft.num_points(), self.part, self.before) > ENOUGH as f64
            })
        {
            self.before = None;
            self.tolerance_m *= 2.0;
            let mut again = draft.into_points();
            again.extend(self.sample.take_for_repair());
            let once = &mut Heights::new(SamePlace::First);
            self.batch.fill(&again, once);
            drop(again);
            self.lay(0);
        }
        self.before = self
            .draft
            .as_ref()
            .map(|draft| (draft.num_points(), self.part));
    }

    /// All points so far lie on one line, where there is no surface to hold them against: every
    /// other one is dropped, for memory's sake.
    fn halve_line(&mut self) {
        let sample = &mut self.sample;
        self.waiting.sort_by_key(|point| point.p);
        let last = self.waiting.len() - 1;
        let mut k = 0..=last;
        self.waiting.retain(|&point| {
            let is_kept = k.next().is_none_or(|k| k % 2 == 0 || k == last);
            if !is_kept {
                sample.offer(point);
            }
            is_kept
        });
    }

    fn lay(&mut self, may_wait: usize) {
        let batch = &mut self.batch;
        let draft = match &mut self.draft {
            Some(draft) => draft,
            none => match Draft::new(batch) {
                Some(draft) => none.insert(draft),
                None => {
                    self.waiting.extend_from_slice(batch.points());
                    if may_wait > 0 {
                        self.halve_line();
                    }
                    return;
                }
            },
        };
        self.same_place += draft.lay(batch, self.tolerance_m, &mut self.heights);
        let (waiting, sample, heights) = (&mut self.waiting, &mut self.sample, &mut self.heights);
        draft.lift(batch, may_wait, |dropped| match dropped {
            Dropped::Waits(point) => waiting.push(point),
            Dropped::Out(point) => sample.offer(point),
        });
        heights.next_batch(waiting);
    }
}

/// How many points will be kept of the whole file, at the pace of the last batch: the first one
/// tells no pace, since it finds no surface there.
fn foreseen(kept: usize, part: f64, before: Option<(usize, f64)>) -> f64 {
    let kept = kept as f64;
    match before {
        Some((kept_before, part_before)) if part > part_before => {
            let pace = (kept - kept_before as f64).max(0.0) / (part - part_before);
            kept + pace * (1.0 - part).max(0.0)
        }
        _ => kept,
    }
}
