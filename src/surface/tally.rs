//! Volumes, areas and extremes by label: what is found between two surfaces, kept so that parts
//! can be added and taken away exactly.

use std::collections::{BTreeMap, BTreeSet};

use crate::files::Workers;
use crate::geom::P3;

use super::clip::Parts;
use super::extreme::{Depths, Extremes, Rank, Ranks, higher, lower};
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

impl Sums {
    /// Nothing yet. If facets are to be taken away again, all extremes are kept.
    pub(super) fn new(is_full: bool) -> Sums {
        let ranks = Ranks::new(is_full);
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
            by_label: overlay::between(from, by_m, to, overlay::Of::all(true), workers),
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
            .map(|f| (to.corners(f), to.source(f)));
        for (label, sums) in Tally::of(from, self.by_m, facets).by_label {
            self.by_label.insert(label, sums);
        }
    }

    /// The volumes, areas and extremes.
    pub fn result(&self) -> LabelledCutFill {
        LabelledCutFill::of(&self.by_label)
    }
}
