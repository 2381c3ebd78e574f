//! Volumes, areas and extremes by label: what is found between two surfaces, kept so that parts
//! can be added and taken away exactly.

use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};

use crate::files::Workers;
use crate::geom::P3;

use super::clip::Parts;
use super::overlay;
use super::plane::{Label, Source};
use super::sum::Grains;
use super::surface::Surface;

/// Volumes and areas between two surfaces; cut where the second lies below the first.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct CutFill {
    /// Volume above the second and below the first surface, cubic metres.
    pub cut_m3: f64,
    /// Volume above the first and below the second surface, cubic metres.
    pub fill_m3: f64,
    /// Plan area of the cut, square metres.
    pub cut_area_m2: f64,
    /// Plan area of the fill, square metres.
    pub fill_area_m2: f64,
    /// Plan area covered by both surfaces, square metres.
    pub common_area_m2: f64,
}

impl CutFill {
    /// Cut minus fill, cubic metres.
    pub fn net_m3(&self) -> f64 {
        self.cut_m3 - self.fill_m3
    }
}

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
    fn merge(&mut self, other: &Extremes) {
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
struct Rank(Extreme);

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
struct Ranks {
    /// All, so that some can be taken away; else only the farthest.
    is_full: bool,
    /// How many facets have just this one.
    count: BTreeMap<Rank, usize>,
}

impl Ranks {
    fn add(&mut self, rank: Rank, count: usize) {
        if !self.is_full {
            match self.count.last_key_value() {
                Some((last, _)) if *last >= rank => return,
                _ => self.count.clear(),
            }
        }
        *self.count.entry(rank).or_default() += count;
    }

    fn merge(&mut self, other: &Ranks) {
        other.count.iter().for_each(|(&r, &n)| self.add(r, n));
    }

    fn take(&mut self, other: &Ranks) {
        for (rank, &count) in &other.count {
            if let Some(own) = self.count.get_mut(rank) {
                *own = own.saturating_sub(count);
                if *own == 0 {
                    self.count.remove(rank);
                }
            }
        }
    }

    fn farthest(&self) -> Option<Extreme> {
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

/// A volume by the labels of the second surface.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LabelledCutFill {
    /// Everything.
    pub total: CutFill,
    /// By label; adds up to the total.
    pub by_label: BTreeMap<Label, CutFill>,
    /// By label; of labels that share plan area with the first surface.
    pub extremes: BTreeMap<Label, Extremes>,
}

impl LabelledCutFill {
    pub(super) fn of(by_label: &BTreeMap<Label, Sums>) -> LabelledCutFill {
        let mut total = Sums::default();
        by_label.values().for_each(|sums| total.merge(sums));
        LabelledCutFill {
            total: total.result(),
            by_label: by_label
                .iter()
                .map(|(&l, sums)| (l, sums.result()))
                .collect(),
            extremes: by_label
                .iter()
                .filter_map(|(&l, sums)| Some((l, sums.extremes()?)))
                .collect(),
        }
    }

    /// Extremes of several labels together; `None` if none shares plan area with the first
    /// surface.
    pub fn extremes_of(&self, labels: impl IntoIterator<Item = Label>) -> Option<Extremes> {
        labels
            .into_iter()
            .filter_map(|label| self.extremes.get(&label).copied())
            .reduce(|mut all, one| {
                all.merge(&one);
                all
            })
    }
}

/// What was found of one label.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Sums {
    facets: usize,
    cut: Grains,
    fill: Grains,
    cut_area: Grains,
    fill_area: Grains,
    common_area: Grains,
    cuts: Ranks,
    fills: Ranks,
    /// Lowest and highest corner.
    levels: Option<[P3; 2]>,
}

/// How far one facet lies below and above the other surface at most.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Depths {
    cut: Option<Extreme>,
    fill: Option<Extreme>,
    is_common: bool,
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

impl Sums {
    /// Nothing yet. If facets are to be taken away again, all extremes are kept.
    pub(super) fn new(is_full: bool) -> Sums {
        let ranks = Ranks {
            is_full,
            ..Ranks::default()
        };
        Sums {
            cuts: ranks.clone(),
            fills: ranks,
            ..Sums::default()
        }
    }

    pub(super) fn count(&mut self, facets: usize) {
        self.facets += facets;
    }

    pub(super) fn add(&mut self, parts: &Parts, area: f64) {
        self.cut.add(parts.above);
        self.fill.add(parts.below);
        self.cut_area.add(parts.above_area);
        self.fill_area.add(parts.below_area);
        self.common_area.add(area);
    }

    /// Ends a facet with these corners.
    pub(super) fn end(&mut self, corners: &[P3; 3], depths: &Depths) {
        if !depths.is_common {
            return;
        }
        for &c in corners {
            let [lowest, highest] = self.levels.get_or_insert([c; 2]);
            *lowest = lower(*lowest, c);
            *highest = higher(*highest, c);
        }
        if let Some(cut) = depths.cut {
            self.cuts.add(Rank(cut), 1);
        }
        if let Some(fill) = depths.fill {
            self.fills.add(Rank(fill), 1);
        }
    }

    pub(super) fn merge(&mut self, other: &Sums) {
        self.facets += other.facets;
        self.cut.merge(other.cut);
        self.fill.merge(other.fill);
        self.cut_area.merge(other.cut_area);
        self.fill_area.merge(other.fill_area);
        self.common_area.merge(other.common_area);
        self.cuts.merge(&other.cuts);
        self.fills.merge(&other.fills);
        if let Some([low, high]) = other.levels {
            let [lowest, highest] = self.levels.get_or_insert([low, high]);
            *lowest = lower(*lowest, low);
            *highest = higher(*highest, high);
        }
    }

    /// Takes a part away; levels stay as they are.
    fn take(&mut self, part: &Sums) {
        self.facets = self.facets.saturating_sub(part.facets);
        self.cut.take(part.cut);
        self.fill.take(part.fill);
        self.cut_area.take(part.cut_area);
        self.fill_area.take(part.fill_area);
        self.common_area.take(part.common_area);
        self.cuts.take(&part.cuts);
        self.fills.take(&part.fills);
    }

    /// True if a level went with a part and what comes in does not reach it.
    fn misses_level(&self, gone: &Sums, new: Option<&Sums>) -> bool {
        let (Some([low, high]), Some([gone_low, gone_high])) = (self.levels, gone.levels) else {
            return false;
        };
        let new = new.and_then(|new| new.levels);
        (low == gone_low && new.is_none_or(|[new, _]| lower(low, new) != new))
            || (high == gone_high && new.is_none_or(|[_, new]| higher(high, new) != new))
    }

    fn extremes(&self) -> Option<Extremes> {
        let [lowest, highest] = self.levels?;
        Some(Extremes {
            deepest_cut: self.cuts.farthest(),
            highest_fill: self.fills.farthest(),
            lowest,
            highest,
        })
    }

    fn result(&self) -> CutFill {
        CutFill {
            cut_m3: self.cut.value(),
            fill_m3: self.fill.value(),
            cut_area_m2: self.cut_area.value(),
            fill_area_m2: self.fill_area.value(),
            common_area_m2: self.common_area.value(),
        }
    }
}

/// Cut, fill and extremes of facets over a surface, kept up to date while facets come and go.
///
/// Sums are of whole grains, so the tally of a surface that was edited and the tally of the same
/// facets counted anew are equal to the last bit.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tally {
    by_m: f64,
    by_label: BTreeMap<Label, Sums>,
}

impl Tally {
    /// Of all facets of `to` over `from` raised by `by_m` metres (lowered, if negative).
    pub fn between(from: &Surface, by_m: f64, to: &Surface, workers: &dyn Workers) -> Tally {
        Tally {
            by_m,
            by_label: overlay::between(from, by_m, to, None, true, workers),
        }
    }

    /// Of some facets over `from` raised by `by_m` metres, as [`Surface::removed_by`] and
    /// [`Surface::added_by`] give them.
    ///
    /// # Cost
    ///
    /// that of these facets and of those below them
    pub fn of(
        from: &Surface,
        by_m: f64,
        facets: impl IntoIterator<Item = ([P3; 3], Source)>,
    ) -> Tally {
        let mut by_label = BTreeMap::new();
        for (corners, source) in facets {
            let sums = by_label
                .entry(source.label)
                .or_insert_with(|| Sums::new(true));
            overlay::add_facet(from, by_m, corners, source, sums);
        }
        Tally { by_m, by_label }
    }

    /// Adds another tally over the same surface.
    pub(super) fn merge(&mut self, other: &Tally) {
        for (&label, sums) in &other.by_label {
            self.by_label
                .entry(label)
                .or_insert_with(|| Sums::new(true))
                .merge(sums);
        }
    }

    /// Takes out facets and puts in others, both counted over `from` by [`Tally::of`] with the
    /// same raise. `to` is the surface as it is then.
    ///
    /// # Cost
    ///
    /// that of the two parts; where the lowest or highest corner of a label went and none came in
    /// its stead, that of the facets of that label and a look at the label of every facet
    pub fn exchange(&mut self, from: &Surface, to: &Surface, removed: &Tally, added: &Tally) {
        let mut missed = BTreeSet::new();
        for (label, part) in &removed.by_label {
            let Some(sums) = self.by_label.get_mut(label) else {
                continue;
            };
            sums.take(part);
            if sums.facets == 0 {
                self.by_label.remove(label);
            } else if sums.misses_level(part, added.by_label.get(label)) {
                missed.insert(*label);
            }
        }
        self.merge(added);
        if missed.is_empty() {
            return;
        }
        let facets = to
            .facets()
            .filter(|&f| missed.contains(&to.label(f)))
            .map(|f| (to.corners(f), *to.source(f)));
        for (label, sums) in Tally::of(from, self.by_m, facets).by_label {
            self.by_label.insert(label, sums);
        }
    }

    /// The volumes, areas and extremes.
    pub fn result(&self) -> LabelledCutFill {
        LabelledCutFill::of(&self.by_label)
    }
}
