//! Numbers that are missing, and heights that stand beside the wrong numbers.
//!
//! Takes names such as `17` or `F3`, gives runs of numbers. Two people with a rod and a book
//! lose step when one of them skips a number: from there on each height stands at the place of
//! the shot before or after.

use std::collections::{BTreeMap, BTreeSet};

use crate::diag::Diagnostic;
use crate::geom::distance_m;
use crate::surface::Plane;

use super::Looked;
use super::foretell::{Foretold, used_by};
use super::plane::best_plane;

/// Fewest names that count as numbered in sequence.
const MIN_RUN: usize = 10;

/// Largest share of a sequence that may be missing: with more, the names are not a sequence.
const MOST_MISSING: f64 = 0.2;

/// Gaps that are listed; the rest are counted.
const MOST_GAPS: usize = 12;

/// Fewest shots a slip moves: fewer make the ground likelier by chance.
const MIN_SLIPPED: usize = 8;

/// By how many numbers heights may have slipped. Two at once were tried: they name no more slips
/// and more clean yards.
const SLIPS: [i32; 2] = [1, -1];

/// The ground must be likelier with the slip put right by this much in the natural logarithm, the
/// starts and ways of a slip that are tried among it. Chosen on the made yards of
/// `tests/point_blunders.rs`.
const CLEAR: f64 = 8.0;

/// Names with one prefix, by number.
struct Run {
    /// Number and vertex, ascending; each number once.
    shots: Vec<(u64, u32)>,
}

/// Heights off by a number from a shot on.
struct Slip {
    /// The vertices whose heights slipped, by number.
    from: u32,
    to: u32,
    slipped: Vec<u32>,
    /// The height of each place stands at the shot after it (1) or before it (-1).
    by: i32,
    /// Roughness left of what it was.
    left: f64,
}

pub(super) struct Numbering {
    gaps: Vec<Diagnostic>,
    slips: Vec<Slip>,
}

pub(super) fn look(looked: &Looked, told: &[Option<Foretold>]) -> Numbering {
    let used_by = used_by(told);
    let mut runs: BTreeMap<&str, Run> = BTreeMap::new();
    for v in 0..looked.terrain.shots.len() as u32 {
        if let Some((prefix, number)) = looked.shot(v).and_then(|shot| split(&shot.name)) {
            let run = runs.entry(prefix).or_insert(Run { shots: Vec::new() });
            run.shots.push((number, v));
        }
    }
    // Heights are counted from a plane, since on a slope a shot moved along it looks rough though
    // nothing is wrong.
    let trend = best_plane(looked.shot_places(), |_| 1.0);
    let slips = runs
        .into_values()
        .filter_map(|mut run| {
            run.shots.sort_unstable();
            run.shots.dedup_by_key(|(number, _)| *number);
            slip(looked, told, &used_by, &trend, &run)
        })
        .collect();
    Numbering {
        gaps: gaps(looked),
        slips,
    }
}

impl Numbering {
    pub(super) fn has_slipped(&self, v: u32) -> bool {
        self.slips.iter().any(|slip| slip.slipped.contains(&v))
    }

    pub(super) fn words(&self, looked: &Looked) -> Vec<Diagnostic> {
        let slips = self.slips.iter().map(|slip| slip.words(looked));
        slips.chain(self.gaps.iter().cloned()).collect()
    }
}

/// A name as what stands before its number, and the number.
fn split(name: &str) -> Option<(&str, u64)> {
    let digits = name.bytes().rev().take_while(u8::is_ascii_digit).count();
    let (prefix, number) = name.split_at(name.len() - digits);
    Some((prefix, number.parse().ok()?))
}

/// Numbers that no sight and no shot carries, where nearly all of their sequence are there.
fn gaps(looked: &Looked) -> Vec<Diagnostic> {
    let survey = looked.survey;
    let mut sequences: BTreeMap<&str, BTreeSet<u64>> = BTreeMap::new();
    let sights = survey.books.iter().flat_map(|book| &book.sights);
    let struck = survey.struck.iter().map(|struck| struck.shot.name.as_str());
    let unplaced = survey.unplaced.iter().map(|shot| shot.name.as_str());
    let names = (survey.shots.iter().map(|shot| shot.name.as_str()))
        .chain(struck)
        .chain(unplaced)
        .chain(sights.map(|sight| sight.name.as_str()));
    for (prefix, number) in names.filter_map(split) {
        sequences.entry(prefix).or_default().insert(number);
    }
    let mut said = Vec::new();
    for (prefix, numbers) in sequences {
        let (Some(first), Some(last)) = (numbers.first(), numbers.last()) else {
            continue;
        };
        let missing = (last - first).saturating_add(1) - numbers.len() as u64;
        let share = missing as f64 / (missing + numbers.len() as u64) as f64;
        if numbers.len() < MIN_RUN || missing == 0 || share > MOST_MISSING {
            continue;
        }
        let ordered: Vec<u64> = numbers.iter().copied().collect();
        let holes = ordered.windows(2).filter(|pair| pair[1] - pair[0] > 1);
        let mut words: Vec<String> = holes
            .clone()
            .take(MOST_GAPS)
            .map(|pair| match (pair[0] + 1, pair[1] - 1) {
                (low, high) if low == high => format!("{prefix}{low}"),
                (low, high) => format!("{prefix}{low}-{prefix}{high}"),
            })
            .collect();
        let more = holes.clone().count() - words.len();
        if more > 0 {
            words.push(format!("{more} more gaps"));
        }
        let (list, verb) = match words.as_slice() {
            [one] if missing == 1 => (format!("number {one}"), "is"),
            [one] => (format!("numbers {one}"), "are"),
            [front @ .., last] => (format!("numbers {} and {last}", front.join(", ")), "are"),
            [] => continue,
        };
        let mut note = Diagnostic::note(
            "numbers-missing",
            format!("{list} {verb} missing between {prefix}{first} and {prefix}{last}"),
        )
        .help("if a shot was skipped in the book, look whether the heights after it slipped");
        let before = holes
            .clone()
            .next()
            .map(|pair| format!("{prefix}{}", pair[0]));
        let shot = before.and_then(|name| survey.by_name.get(&name));
        note.at.extend(shot.map(|&s| survey.shots[s].at.clone()));
        said.push(note);
    }
    said
}

/// The slip that makes the heights of a run likeliest beside one another, if it does so clearly.
fn slip(
    looked: &Looked,
    told: &[Option<Foretold>],
    used_by: &[Vec<u32>],
    trend: &Plane,
    run: &Run,
) -> Option<Slip> {
    let n = run.shots.len();
    if n < MIN_RUN + MIN_SLIPPED {
        return None;
    }
    let vertices = looked.terrain.surface.vertices();
    let trend: Vec<f64> = vertices.iter().map(|v| trend.z_at(v.p)).collect();
    let rough = |z: &[f64], v: u32| -> f64 {
        let one = |&u: &u32| {
            let (a, b) = (v as usize, u as usize);
            let step = (z[a] - trend[a]) - (z[b] - trend[b]);
            step.abs() / distance_m(vertices[a].p, vertices[b].p).sqrt()
        };
        looked.near.of(v).iter().map(one).sum()
    };
    // Minus the logarithm of how likely a height is beside those that foretell it.
    let unlikely = |z: &[f64], v: u32| -> f64 {
        told[v as usize].as_ref().map_or(0.0, |t| {
            let off = z[v as usize] - t.z_m(|u| z[u as usize]);
            t.unlikely(off)
        })
    };
    let heights: Vec<f64> = vertices.iter().map(|v| v.z).collect();
    let height_at = |k: usize, by: i32| {
        let other = k as i64 + i64::from(by);
        let other = usize::try_from(other).ok().filter(|&o| o < n)?;
        Some(heights[run.shots[other].1 as usize])
    };
    // By how much likelier, from which shot on, by which slip.
    let mut best: Option<(f64, usize, i32)> = None;
    for by in SLIPS {
        let mut z = heights.clone();
        let mut gained = 0.0;
        for k in (0..n).rev() {
            let v = run.shots[k].1;
            let Some(height) = height_at(k, by) else {
                continue;
            };
            let all = |z: &[f64]| -> f64 {
                let others = used_by[v as usize].iter().map(|&u| unlikely(z, u));
                unlikely(z, v) + others.sum::<f64>()
            };
            let before = all(&z);
            z[v as usize] = height;
            gained += before - all(&z);
            let is_long = (MIN_SLIPPED..=n - 3).contains(&(n - k));
            if is_long && best.is_none_or(|(most, _, _)| gained > most) {
                best = Some((gained, k, by));
            }
        }
    }
    let (_, first, by) = best.filter(|(gained, _, _)| *gained > 0.0)?;
    let mut z = heights.clone();
    let mut slipped = Vec::new();
    for k in first..n {
        if let Some(height) = height_at(k, by) {
            let v = run.shots[k].1;
            z[v as usize] = height;
            slipped.push(v);
        }
    }
    let (mut was, mut is) = (0.0, 0.0);
    for &v in &slipped {
        was += rough(&heights, v);
        is += rough(&z, v);
    }
    // A slip put right drops the height at one end of it: a single wrong one there, which all that
    // it foretells suffer from, must not pass for a slip.
    let ends = [run.shots[first].1, run.shots[n - 1].1];
    let is_beside = |v: u32| {
        ends.iter()
            .any(|&e| v == e || used_by[e as usize].contains(&v))
    };
    let rest = (0..told.len() as u32).filter(|&v| !is_beside(v));
    let gained: f64 = rest.map(|v| unlikely(&heights, v) - unlikely(&z, v)).sum();
    let is_clear = gained > CLEAR && is < was;
    is_clear.then(|| Slip {
        from: run.shots[first].1,
        to: run.shots[n - 1].1,
        slipped,
        by,
        left: is / was,
    })
}

impl Slip {
    fn words(&self, looked: &Looked) -> Diagnostic {
        let (from, to) = (looked.name(self.from), looked.name(self.to));
        let way = if self.by > 0 { "later" } else { "earlier" };
        let words = format!(
            "from shot {from} to shot {to} the heights seem to stand beside the wrong numbers: the \
             height of each place is booked one number {way}, and with that the ground there would be \
             {:.0} % less rough",
            (1.0 - self.left) * 100.0
        );
        let mut diagnostic = Diagnostic::warn("numbers-slipped", words).help(format!(
            "hold the book against the places: look for a number skipped or a height booked twice \
             near shot {from}, and set the heights of {from} to {to} right in the file"
        ));
        let shots = [self.from, self.to].into_iter();
        diagnostic.at = shots
            .filter_map(|v| Some(looked.shot(v)?.at.clone()))
            .collect();
        diagnostic
    }
}
