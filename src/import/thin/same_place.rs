//! Several heights at one place.

use std::collections::BTreeMap;

use crate::geom::{P3, Point};
use crate::job::SamePlace;

/// Which height counts at a place, over many batches.
#[derive(Debug)]
pub(super) struct Heights {
    rule: SamePlace,
    /// How many points of this batch are one at their place, where it is more than one and their
    /// mean counts.
    in_batch: BTreeMap<Point, u32>,
    /// The same of points kept.
    kept: BTreeMap<Point, u32>,
}

impl Heights {
    pub(super) fn new(rule: SamePlace) -> Heights {
        Heights {
            rule,
            in_batch: BTreeMap::new(),
            kept: BTreeMap::new(),
        }
    }

    pub(super) fn rule(&self) -> SamePlace {
        self.rule
    }

    /// One point of all points of a batch at one place, in the order they came.
    pub(super) fn of_group(&mut self, group: &[P3]) -> P3 {
        let p = group[0].p;
        // The first of them may have waited, and stand for several.
        let waited = self.in_batch.get(&p).copied().unwrap_or(1);
        let z = height(self.rule, group.iter().map(|point| point.z), waited);
        if self.rule == SamePlace::Mean && group.len() > 1 {
            self.in_batch.insert(p, waited + group.len() as u32 - 1);
        }
        P3 { p, z }
    }

    /// The height at the place of a point kept, with another point there.
    pub(super) fn with_kept(&mut self, kept: P3, more: P3) -> f64 {
        if self.rule != SamePlace::Mean {
            return height(self.rule, [kept.z, more.z].into_iter(), 1);
        }
        let more_of = self.in_batch.remove(&kept.p).unwrap_or(1);
        let kept_of = self.kept.entry(kept.p).or_insert(1);
        let sum = kept.z * f64::from(*kept_of) + more.z * f64::from(more_of);
        *kept_of += more_of;
        sum / f64::from(*kept_of)
    }

    /// Notes that a point of the batch is kept.
    pub(super) fn keep(&mut self, p: Point) {
        if !self.in_batch.is_empty()
            && let Some(count) = self.in_batch.remove(&p)
        {
            self.kept.insert(p, count);
        }
    }

    /// Forgets those of the batch that do not wait for the next.
    pub(super) fn next_batch(&mut self, waiting: &[P3]) {
        let before = std::mem::take(&mut self.in_batch);
        if !before.is_empty() {
            let waits = |point: &P3| Some((point.p, *before.get(&point.p)?));
            self.in_batch = waiting.iter().filter_map(waits).collect();
        }
    }
}

/// Points at different places: the first of each place, in the order they came, and how many
/// there were besides.
pub(super) fn settled(mut points: Vec<P3>, rule: SamePlace) -> (Vec<P3>, u64) {
    let mut order: Vec<u32> = (0..points.len() as u32).collect();
    let place = |k: u32| points[k as usize].p;
    order.sort_unstable_by_key(|&k| (place(k), k));
    let mut is_first = vec![true; points.len()];
    let mut group = Vec::new();
    let mut heights = Heights::new(rule);
    let mut same_place = 0;
    let mut from = 0;
    while from < order.len() {
        let p = points[order[from] as usize].p;
        let count = order[from..]
            .iter()
            .take_while(|&&k| points[k as usize].p == p)
            .count();
        let ids = &order[from..from + count];
        if count > 1 {
            group.clear();
            group.extend(ids.iter().map(|&k| points[k as usize]));
            points[ids[0] as usize] = heights.of_group(&group);
            ids[1..].iter().for_each(|&k| is_first[k as usize] = false);
            same_place += count as u64 - 1;
        }
        from += count;
    }
    let mut is_first = is_first.into_iter();
    points.retain(|_| is_first.next().unwrap_or(true));
    (points, same_place)
}

/// The height that counts; the first stands for several.
fn height(rule: SamePlace, heights: impl Iterator<Item = f64> + Clone, first_of: u32) -> f64 {
    let mut all = heights.clone();
    let first = all.next().unwrap_or(f64::NAN);
    match rule {
        SamePlace::Lowest => all.fold(first, f64::min),
        SamePlace::Highest => all.fold(first, f64::max),
        SamePlace::First => first,
        SamePlace::Mean => {
            let count = heights.count() as f64 + f64::from(first_of) - 1.0;
            all.fold(first * f64::from(first_of), |sum, z| sum + z) / count
        }
    }
}
