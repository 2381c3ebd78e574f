//! Places by an offset from the baseline, a bearing, or lines of a grid.
//!
//! Takes a name with such a whereabouts, gives its place once what it hangs on has one. Knows no
//! tapes that cross.

use std::collections::{BTreeMap, BTreeSet};

use crate::diag::Diagnostic;
use crate::job::{GridSpec, Place, Side};
use crate::survey::entry::{GridLine, Whereabouts};

use super::circle::Plan;
use super::fix::Ellipse;
use super::place::Search;
use super::result::{TieFix, Way};

impl Search<'_> {
    /// Places what hangs on placed names by an offset, a bearing or a grid, until nothing moves.
    ///
    /// # Cost
    ///
    /// every name once, and again as often as a name it hangs on is placed
    pub(super) fn place_beside_all(&mut self, corners_only: bool) {
        let mut waiting: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for index in 0..self.named.len() {
            for on in self.hangs_on(index) {
                waiting.entry(on).or_default().push(index);
            }
        }
        let mut due: BTreeSet<usize> = (0..self.named.len()).collect();
        while !due.is_empty() && self.said.is_sound() {
            // In the order of the names, then again those before the name they hang on.
            let mut next = BTreeSet::new();
            while let Some(index) = due.pop_first() {
                let named = &self.named[index];
                if named.place.is_some() || (corners_only && !named.is_corner) {
                    continue;
                }
                let Some(place) = self.place_beside(index) else {
                    continue;
                };
                self.settle(index, place, None);
                self.tell_beside(index, place);
                for &other in waiting.get(&index).into_iter().flatten() {
                    if other > index {
                        due.insert(other);
                    } else {
                        next.insert(other);
                    }
                }
            }
            due = next;
        }
    }

    /// The names that must have a place before this one can, unless it is placed by tapes.
    fn hangs_on(&self, index: usize) -> Vec<usize> {
        let baseline = self.control.baseline.iter();
        let mut names: Vec<&str> = baseline.flat_map(|(a, b, _)| [&**a, &**b]).collect();
        match &self.named[index].way {
            Some(Whereabouts::Offset { .. }) => {}
            Some(Whereabouts::Bearing { tape, .. }) => names = vec![&tape.corner],
            Some(Whereabouts::Grid { frame, .. }) => {
                let frame = frame.as_deref();
                let ends = frame.map(|f| [f.origin.as_ref(), f.towards.as_ref()]);
                for (place, _) in ends.into_iter().flatten().flatten() {
                    if let Place::Shot(name) = place {
                        names.push(name);
                    }
                }
            }
            Some(Whereabouts::Coordinates { .. } | Whereabouts::Tapes { .. }) | None => {
                names.clear();
            }
        }
        names.iter().filter_map(|name| self.find(name)).collect()
    }

    /// Where a name lies that is placed by an offset, a bearing or a grid, if what it hangs on is
    /// placed already.
    pub(super) fn place_beside(&mut self, index: usize) -> Option<(i64, i64)> {
        if let Some(Whereabouts::Tapes { .. }) = self.named[index].way {
            return None;
        }
        match self.named[index].way.clone()? {
            Whereabouts::Offset { station_m, left_m } => {
                let (origin, along, _) = self.baseline()?;
                Self::absolute(
                    origin,
                    [
                        along[0] * station_m - along[1] * left_m,
                        along[1] * station_m + along[0] * left_m,
                    ],
                )
            }
            Whereabouts::Bearing { tape, toward } => {
                let corner = self.find(&tape.corner)?;
                let from = self.named[corner].place?;
                let length_m = self.level_m(corner, index, &tape)?;
                Self::absolute(from, [toward[0] * length_m, toward[1] * length_m])
            }
            Whereabouts::Grid { column, row, frame } => {
                let frame = frame.as_deref();
                let (across_m, along_m) = self.crossing(index, &column, &row, frame)?;
                let (origin, along, side) = self.grid_frame(frame)?;
                let left_m = if side == Side::Left {
                    along_m
                } else {
                    -along_m
                };
                Self::absolute(
                    origin,
                    [
                        along[0] * across_m - along[1] * left_m,
                        along[1] * across_m + along[0] * left_m,
                    ],
                )
            }
            Whereabouts::Coordinates { .. } | Whereabouts::Tapes { .. } => None,
        }
    }

    /// Start and direction of the baseline, and the names of its ends.
    pub(super) fn baseline(&self) -> Option<((i64, i64), Plan, [usize; 2])> {
        let (from, to, _) = self.control.baseline.as_ref()?;
        let (from, to) = (self.find(from)?, self.find(to)?);
        let (start, end) = (self.named[from].place?, self.named[to].place?);
        Some((start, direction(start, end)?, [from, to]))
    }

    /// Distances of a crossing along the columns and along the rows, metres.
    fn crossing(
        &mut self,
        index: usize,
        column: &GridLine,
        row: &GridLine,
        frame: Option<&GridSpec>,
    ) -> Option<(f64, f64)> {
        let spacing = frame
            .and_then(|frame| frame.spacing_m)
            .or(self.control.spacing_m);
        let metres = |line: &GridLine, spacing_m: Option<f64>| match (line, spacing_m) {
            (GridLine::At(m), _) | (GridLine::Named(_, Some(m)), None) => Some(*m),
            (GridLine::Nth(n), Some(s)) => Some(*n as f64 * s),
            (GridLine::Named(name, _), Some(s)) => number_of(name).map(|n| n * s),
            (GridLine::Nth(_) | GridLine::Named(_, None), None) => None,
        };
        let across_m = metres(column, spacing.map(|s| s.0));
        let along_m = metres(row, spacing.map(|s| s.1));
        if across_m.is_none() || along_m.is_none() {
            let at = self.named[index].at.clone();
            if spacing.is_none() {
                // Of the whole grid, not of each of its rods.
                let message = "the lines of the grid have names, but their spacing is not given";
                let fault = Diagnostic::error("no-spacing", message).at(at).help(
                    "give it: `spacing = 10` (or `[10, 8]`) under `[control]` or at the grid, or \
                     `--spacing 10`",
                );
                self.said.once(fault);
            } else {
                let message = "a line of the grid is named by letters or by a number";
                let fault = Diagnostic::error("bad-line-name", message)
                    .at(at)
                    .help("write A, B, C (A is the first) or 0, 1, 2");
                self.said.say(fault);
            }
        }
        across_m.zip(along_m)
    }

    /// Where a grid begins, the direction of its columns, and the side its rows run to.
    fn grid_frame(&self, frame: Option<&GridSpec>) -> Option<((i64, i64), Plan, Side)> {
        let look_up = |place: &Place| match place {
            Place::Coordinates(x, y) => Some((*x, *y)),
            Place::Shot(name) => self.named[self.find(name)?].place,
            Place::Code(_) => None,
        };
        let own = frame.map(|frame| (frame.origin.as_ref(), frame.towards.as_ref(), frame.side));
        if let Some((origin, towards, side)) = own
            && (origin.is_some() || towards.is_some())
        {
            let start = origin.map_or(Some((0, 0)), |(place, _)| look_up(place))?;
            let along = match towards {
                Some((place, _)) => direction(start, look_up(place)?)?,
                None => [1.0, 0.0],
            };
            return Some((start, along, side));
        }
        let side = own
            .map(|(_, _, side)| side)
            .or(self.control.side)
            .unwrap_or_default();
        if self.control.baseline.is_some() {
            let (start, along, _) = self.baseline()?;
            return Some((start, along, side));
        }
        Some(((0, 0), [1.0, 0.0], side))
    }

    /// How a name was placed by an offset, a bearing or a grid.
    pub(super) fn tell_beside(&mut self, index: usize, place_nm: (i64, i64)) {
        let sigma_m = self.sigma_m;
        let named = &self.named[index];
        let (way, corners, ellipse) = match &named.way {
            Some(Whereabouts::Offset { .. }) => {
                let round = Ellipse {
                    semi_major_m: sigma_m,
                    semi_minor_m: sigma_m,
                    along: [1.0, 0.0],
                };
                let ends = self.control.baseline.as_ref();
                let ends = ends.map_or(Vec::new(), |(a, b, _)| vec![a.clone(), b.clone()]);
                (Way::Offset, ends, Some(round))
            }
            Some(Whereabouts::Bearing { tape, .. }) => {
                (Way::Bearing, vec![tape.corner.clone()], None)
            }
            _ => (Way::Grid, Vec::new(), None),
        };
        let is_free = match &named.way {
            Some(Whereabouts::Grid { frame, .. }) => {
                self.control.baseline.is_none()
                    && frame
                        .as_ref()
                        .is_none_or(|f| f.origin.is_none() && f.towards.is_none())
            }
            _ => false,
        };
        if is_free {
            let message =
                "the grid has no place: its lines begin at 0, 0, columns are counted to the east";
            self.said.once(
                Diagnostic::note("assumed-place", message)
                    .at(named.at.clone())
                    .help(
                        "give `baseline` under `[control]`, or `origin` and `towards` of a grid file, \
                         if it is to meet other shots",
                    ),
            );
        }
        self.found.ties.push(TieFix {
            name: named.name.clone(),
            way,
            corners,
            place_nm,
            sin_crossing: None,
            times_error: None,
            ellipse,
            largest_residual_m: None,
            at: named.at.clone(),
        });
    }
}

/// Unit vector from one place to another.
fn direction(from: (i64, i64), to: (i64, i64)) -> Option<Plan> {
    let [dx, dy] = Search::local(to, from);
    let length_m = dx.hypot(dy);
    (length_m > 0.0).then(|| [dx / length_m, dy / length_m])
}

/// Number of a line named by a number, or by letters with A as 0, Z as 25 and AA as 26.
fn number_of(name: &str) -> Option<f64> {
    let name = name.trim();
    if let Ok(number) = name.parse::<i32>() {
        return Some(f64::from(number));
    }
    let letters = (1..=3).contains(&name.len()) && name.bytes().all(|b| b.is_ascii_alphabetic());
    letters.then(|| {
        let value = name.bytes().fold(0, |n, b| {
            n * 26 + i32::from(b.to_ascii_uppercase() - b'A') + 1
        });
        f64::from(value - 1)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_of_a_grid_are_numbered() {
        let numbers = ["A", "b", "Z", "AA", "AB", "0", "12", "-1"].map(number_of);
        let want = [0.0, 1.0, 25.0, 26.0, 27.0, 0.0, 12.0, -1.0].map(Some);
        assert_eq!(numbers, want);
        assert_eq!(number_of("A1"), None);
    }
}
