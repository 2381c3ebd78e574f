//! Extremes: how far facets lie below and above a surface, and how low and high.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use crate::geom::P3;

/// How far two surfaces are apart where they are farthest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extreme {
    /// Difference in height, metres, more than 0.
    pub by_m: f64,
    /// Where, on the second surface; of several places the one farthest west, then south.
    pub at: P3,
}

/// The farthest that facets lie below and above another surface, and how low and high they lie.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extremes {
    /// Where they lie deepest below it; `None` if they do nowhere.
    pub deepest_cut: Option<Extreme>,
    /// Where they lie highest above it; `None` if they do nowhere.
    pub highest_fill: Option<Extreme>,
    /// Lowest corner of facets that share plan area with it.
    pub lowest: P3,
    /// Highest corner of facets that share plan area with it.
    pub highest: P3,
}

impl Extremes {
    pub(super) fn merge(&mut self, other: &Extremes) {
        let farther = |a: Option<Extreme>, b: Option<Extreme>| match (a, b) {
            (Some(a), Some(b)) => Some(if Rank(a) >= Rank(b) { a } else { b }),
            (a, b) => a.or(b),
        };
        self.deepest_cut = farther(self.deepest_cut, other.deepest_cut);
        self.highest_fill = farther(self.highest_fill, other.highest_fill);
        self.lowest = lower(self.lowest, other.lowest);
        self.highest = higher(self.highest, other.highest);
    }
}

/// Order of extremes: the farther, of equal ones the one at the lower place. A place is rounded, so
/// two facets may give it two heights: then the lower.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rank(pub(super) Extreme);

impl Ord for Rank {
    fn cmp(&self, other: &Rank) -> Ordering {
        let (a, b) = (&self.0, &other.0);
        a.by_m
            .total_cmp(&b.by_m)
            .then(b.at.p.cmp(&a.at.p))
            .then(b.at.z.total_cmp(&a.at.z))
    }
}

impl PartialOrd for Rank {
    fn partial_cmp(&self, other: &Rank) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Rank {
    fn eq(&self, other: &Rank) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Rank {}

/// The extremes of facets, one of each.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Ranks {
    /// All, so that some can be taken away; else only the farthest.
    is_full: bool,
    /// How many facets have just this one.
    count: BTreeMap<Rank, usize>,
}

impl Ranks {
    pub(super) fn new(is_full: bool) -> Ranks {
        Ranks {
            is_full,
            ..Ranks::default()
        }
    }

    pub(super) fn add(&mut self, rank: Rank, count: usize) {
        if !self.is_full {
            match self.count.last_key_value() {
                Some((last, _)) if *last >= rank => return,
                _ => self.count.clear(),
            }
        }
        *self.count.entry(rank).or_default() += count;
    }

    pub(super) fn merge(&mut self, other: &Ranks) {
        other.count.iter().for_each(|(&r, &n)| self.add(r, n));
    }

    pub(super) fn take(&mut self, other: &Ranks) {
        for (rank, &count) in &other.count {
            if let Some(own) = self.count.get_mut(rank) {
                *own = own.saturating_sub(count);
                if *own == 0 {
                    self.count.remove(rank);
                }
            }
        }
    }

    pub(super) fn farthest(&self) -> Option<Extreme> {
        self.count.last_key_value().map(|(rank, _)| rank.0)
    }
}

/// The lower of two places, of equal ones the one farther west, then south.
pub(super) fn lower(a: P3, b: P3) -> P3 {
    if b.z < a.z || (b.z <= a.z && b.p < a.p) {
        b
    } else {
        a
    }
}

/// The higher of two places, of equal ones the one farther west, then south.
pub(super) fn higher(a: P3, b: P3) -> P3 {
    if b.z > a.z || (b.z >= a.z && b.p < a.p) {
        b
    } else {
        a
    }
}

/// How far one facet lies below and above the other surface at most.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Depths {
    pub(super) cut: Option<Extreme>,
    pub(super) fill: Option<Extreme>,
    pub(super) is_common: bool,
}

impl Depths {
    /// The facet shares plan area with the other surface.
    pub(super) fn see_common(&mut self) {
        self.is_common = true;
    }

    /// A difference in height at a corner of a common part, cut positive; the place is asked for
    /// only if it may count.
    pub(super) fn see(&mut self, depth_m: f64, at: impl FnOnce() -> P3) {
        let by_m = depth_m.abs();
        let best = if depth_m > 0.0 {
            &mut self.cut
        } else {
            &mut self.fill
        };
        if by_m > 0.0 && best.is_none_or(|best| by_m >= best.by_m) {
            let new = Extreme { by_m, at: at() };
            if best.is_none_or(|best| Rank(new) > Rank(best)) {
                *best = Some(new);
            }
        }
    }
}
