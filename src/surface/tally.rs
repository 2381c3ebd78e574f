//! Volumes, areas and extremes by label: what is found between two surfaces, kept so that parts
//! can be added and taken away exactly.

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
        farther(&mut self.deepest_cut, other.deepest_cut);
        farther(&mut self.highest_fill, other.highest_fill);
        if is_lower(other.lowest, self.lowest) {
            self.lowest = other.lowest;
        }
        if is_higher(other.highest, self.highest) {
            self.highest = other.highest;
        }
    }

    /// True if one of these was an extreme of `all` and what has come in since does not reach it.
    fn are_missed(&self, all: &Extremes, since: Option<&Extremes>) -> bool {
        let cut = self.deepest_cut.is_some()
            && self.deepest_cut == all.deepest_cut
            && !reaches(since.and_then(|s| s.deepest_cut), all.deepest_cut);
        let fill = self.highest_fill.is_some()
            && self.highest_fill == all.highest_fill
            && !reaches(since.and_then(|s| s.highest_fill), all.highest_fill);
        let low = self.lowest == all.lowest && since.is_none_or(|s| is_lower(all.lowest, s.lowest));
        let high =
            self.highest == all.highest && since.is_none_or(|s| is_higher(all.highest, s.highest));
        cut || fill || low || high
    }
}

/// Order of extremes: the farther, of equal ones the one at the lower place. A place is rounded, so
/// two facets may give it two heights: then the lower.
fn is_farther(a: Extreme, b: Extreme) -> bool {
    a.by_m > b.by_m
        || (a.by_m >= b.by_m && (a.at.p < b.at.p || (a.at.p == b.at.p && a.at.z < b.at.z)))
}

fn farther(best: &mut Option<Extreme>, other: Option<Extreme>) {
    if let Some(other) = other
        && best.is_none_or(|best| is_farther(other, best))
    {
        *best = Some(other);
    }
}

fn reaches(since: Option<Extreme>, all: Option<Extreme>) -> bool {
    match (since, all) {
        (Some(since), Some(all)) => !is_farther(all, since),
        _ => false,
    }
}

/// Order of places by level: the lower, of equal ones the one farther west, then south.
pub(super) fn is_lower(a: P3, b: P3) -> bool {
    a.z < b.z || (a.z <= b.z && a.p < b.p)
}

/// The same, the higher first.
pub(super) fn is_higher(a: P3, b: P3) -> bool {
    a.z > b.z || (a.z >= b.z && a.p < b.p)
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
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Sums {
    pub(super) facets: usize,
    pub(super) cut: Grains,
    pub(super) fill: Grains,
    pub(super) cut_area: Grains,
    pub(super) fill_area: Grains,
    pub(super) common_area: Grains,
    pub(super) extremes: Option<Extremes>,
}

impl Sums {
    pub(super) fn add(&mut self, parts: &Parts, area: f64) {
        self.cut.add(parts.above);
        self.fill.add(parts.below);
        self.cut_area.add(parts.above_area);
        self.fill_area.add(parts.below_area);
        self.common_area.add(area);
    }

    /// Levels of a facet that shares plan area with the first surface.
    pub(super) fn see_levels(&mut self, corners: [P3; 3]) {
        for c in corners {
            match &mut self.extremes {
                Some(extremes) => {
                    if is_lower(c, extremes.lowest) {
                        extremes.lowest = c;
                    }
                    if is_higher(c, extremes.highest) {
                        extremes.highest = c;
                    }
                }
                None => {
                    self.extremes = Some(Extremes {
                        deepest_cut: None,
                        highest_fill: None,
                        lowest: c,
                        highest: c,
                    });
                }
            }
        }
    }

    /// A difference in height at a corner of a common part, cut positive; the place is asked for
    /// only if it may count.
    pub(super) fn see_depth(&mut self, depth_m: f64, at: impl FnOnce() -> P3) {
        let Some(extremes) = &mut self.extremes else {
            return;
        };
        let best = if depth_m > 0.0 {
            &mut extremes.deepest_cut
        } else {
            &mut extremes.highest_fill
        };
        let by_m = depth_m.abs();
        if by_m > 0.0 && best.is_none_or(|best| by_m >= best.by_m) {
            farther(best, Some(Extreme { by_m, at: at() }));
        }
    }

    pub(super) fn merge(&mut self, other: &Sums) {
        self.facets += other.facets;
        self.cut.merge(other.cut);
        self.fill.merge(other.fill);
        self.cut_area.merge(other.cut_area);
        self.fill_area.merge(other.fill_area);
        self.common_area.merge(other.common_area);
        match (&mut self.extremes, other.extremes) {
            (Some(own), Some(other)) => own.merge(&other),
            (own @ None, other) => *own = other,
            (Some(_), None) => {}
        }
    }

    /// Takes a part away; extremes stay as they are.
    fn take(&mut self, part: &Sums) {
        self.facets = self.facets.saturating_sub(part.facets);
        self.cut.take(part.cut);
        self.fill.take(part.fill);
        self.cut_area.take(part.cut_area);
        self.fill_area.take(part.fill_area);
        self.common_area.take(part.common_area);
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
            by_label: overlay::between(from, by_m, to, None, workers),
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
            let sums: &mut Sums = by_label.entry(source.label).or_default();
            overlay::add_facet(from, by_m, corners, source, sums);
        }
        Tally { by_m, by_label }
    }

    pub(super) fn with(by_label: BTreeMap<Label, Sums>) -> Tally {
        Tally {
            by_m: 0.0,
            by_label,
        }
    }

    /// Adds another tally over the same surface.
    pub(super) fn merge(&mut self, other: &Tally) {
        for (&label, sums) in &other.by_label {
            self.by_label.entry(label).or_default().merge(sums);
        }
    }

    /// Takes out facets and puts in others, both counted over `from` by [`Tally::of`] with the
    /// same raise. `to` is the surface as it is then: facets of a label whose extreme went are
    /// looked through again.
    ///
    /// # Cost
    ///
    /// that of the two parts; where an extreme went and none as far came, that of the facets of
    /// its label and a look at the label of every facet
    pub fn exchange(&mut self, from: &Surface, to: &Surface, removed: &Tally, added: &Tally) {
        let mut missed = BTreeSet::new();
        for (label, part) in &removed.by_label {
            let Some(sums) = self.by_label.get_mut(label) else {
                continue;
            };
            sums.take(part);
            let since = added.by_label.get(label);
            if sums.facets == 0 {
                self.by_label.remove(label);
            } else if let (Some(all), Some(gone)) = (&sums.extremes, &part.extremes)
                && gone.are_missed(all, since.and_then(|s| s.extremes.as_ref()))
            {
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
        let mut total = Sums::default();
        self.by_label.values().for_each(|sums| total.merge(sums));
        LabelledCutFill {
            total: total.result(),
            by_label: self
                .by_label
                .iter()
                .map(|(&label, sums)| (label, sums.result()))
                .collect(),
            extremes: self
                .by_label
                .iter()
                .filter_map(|(&label, sums)| Some((label, sums.extremes?)))
                .collect(),
        }
    }
}
