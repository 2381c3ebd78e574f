//! Levels of base and top along a wall: as given, by the rule, and in whole courses.

use crate::diag::{At, Diagnostic};
use crate::surface::Surface;

use super::super::Site;
use super::super::shape::{Along, CentreLine};
use super::super::stretch::{check_stretches, off_line};
use super::plan::WallStretch;
use super::{Base, Top, Wall};

/// How far before the foot the ground is looked at for the rule, metres: about a foot, where a
/// base may be laid bare.
const BEFORE_M: f64 = 0.3;

/// Most courses a wall may have; more is a mistake of unit.
const MOST_COURSES: f64 = 400.0;

/// Share of a course by which a level may miss one and still count as at it: rounding.
const SAME_COURSE: f64 = 1.0e-6;

/// Length along the wall in which levels change, where no unit is given, metres and feet.
const JOINT: f64 = 0.3;
const JOINT_FT: f64 = 1.0;

/// A level that changes along a wall, straight from one station to another.
#[derive(Clone, Copy)]
struct Piece {
    from: (f64, f64),
    to: (f64, f64),
}

impl Piece {
    fn at(&self, s: f64) -> f64 {
        let ((s0, z0), (s1, z1)) = (self.from, self.to);
        if s1 - s0 <= 0.0 {
            return z0;
        }
        z0 + (z1 - z0) * (s - s0) / (s1 - s0)
    }

    /// The part of it between two stations.
    fn within(&self, [a, b]: [f64; 2]) -> Option<[f64; 2]> {
        let (low, high) = (self.from.0.max(a), self.to.0.min(b));
        (low <= high).then(|| [self.at(low), self.at(high)])
    }
}

fn lowest(pieces: &[Piece], span: [f64; 2]) -> f64 {
    let ends = pieces.iter().filter_map(|p| p.within(span)).flatten();
    ends.fold(f64::INFINITY, f64::min)
}

fn highest(pieces: &[Piece], span: [f64; 2]) -> f64 {
    let ends = pieces.iter().filter_map(|p| p.within(span)).flatten();
    ends.fold(f64::NEG_INFINITY, f64::max)
}

/// Straight pieces through knots.
fn pieces(knots: &[(f64, f64)]) -> Vec<Piece> {
    let pair = |w: &[(f64, f64)]| Piece {
        from: w[0],
        to: w[1],
    };
    knots.windows(2).map(pair).collect()
}

/// Pieces looked at from one end of the wall to the other.
struct Sweep {
    /// By the station where they begin.
    pieces: Vec<Piece>,
    next: usize,
    near: Vec<Piece>,
}

impl Sweep {
    fn new(mut pieces: Vec<Piece>) -> Sweep {
        pieces.sort_by(|a, b| a.from.0.total_cmp(&b.from.0));
        Sweep {
            pieces,
            next: 0,
            near: Vec::new(),
        }
    }

    /// Those that reach into a span; spans come in order.
    fn within(&mut self, [from, to]: [f64; 2]) -> &[Piece] {
        while let Some(piece) = self.pieces.get(self.next).filter(|p| p.from.0 <= to) {
            self.near.push(*piece);
            self.next += 1;
        }
        self.near.retain(|p| p.to.0 >= from);
        &self.near
    }
}

/// A stretch as the job gives it: its ends, and what is said of its base and its top.
struct Given<'a> {
    span: [f64; 2],
    base: &'a Base,
    top: &'a Top,
}

impl Wall {
    /// Stretches with one base level, from the start of the line to its end.
    ///
    /// # Errors
    ///
    /// steps that do not lie on the line in order; no ground to count from; courses without end
    pub(super) fn stretches(
        &self,
        site: &Site,
        line: &CentreLine,
    ) -> Result<Vec<WallStretch>, Diagnostic> {
        let given = self.given(site, line)?;
        let mut all = Vec::new();
        for part in &given {
            let top = self.top_knots(site, line, part)?;
            let base_z_m = match (part.base, &self.extras.course) {
                // Found course by course below.
                (Base::Rule(_) | Base::Buried(..), Some(_)) => f64::NAN,
                _ => self.base_z(site, line, part.base, part.span, &top)?,
            };
            all.push(WallStretch {
                from_m: part.span[0],
                to_m: part.span[1],
                base_z_m,
                top,
            });
        }
        match &self.extras.course {
            Some((course_m, at)) => self.in_courses(site, line, &given, all, *course_m, at),
            None => Ok(all),
        }
    }

    /// Stretches between the steps that the job gives.
    fn given(&self, site: &Site, line: &CentreLine) -> Result<Vec<Given<'_>>, Diagnostic> {
        let length_m = line.length_m();
        let mut bounds = vec![0.0];
        for step in &self.steps {
            let from = bounds[bounds.len() - 1];
            check_stretches(site, line, &[("step", [from, step.at_m], &step.at)])?;
            bounds.push(step.at_m);
        }
        if let Some(last) = self.steps.last() {
            let span = [bounds[bounds.len() - 1], length_m];
            check_stretches(
                site,
                line,
                &[("stretch after the last step", span, &last.at)],
            )?;
        }
        bounds.push(length_m);
        let (mut base, mut top) = (&self.base, &self.top);
        let spans = bounds.windows(2).enumerate();
        Ok(spans
            .map(|(k, span)| {
                if let Some(step) = k.checked_sub(1).and_then(|k| self.steps.get(k)) {
                    base = step.base.as_ref().unwrap_or(base);
                    top = step.top.as_ref().unwrap_or(top);
                }
                Given {
                    span: [span[0], span[1]],
                    base,
                    top,
                }
            })
            .collect())
    }

    /// Stations and levels of the top of a stretch, straight between.
    fn top_knots(
        &self,
        site: &Site,
        line: &CentreLine,
        part: &Given,
    ) -> Result<Vec<(f64, f64)>, Diagnostic> {
        let [from_m, to_m] = part.span;
        let inside = |s: &f64| *s > from_m && *s < to_m;
        let mut stations: Vec<f64> = vec![from_m, to_m];
        stations.extend(line.stations_m().iter().copied().filter(inside));
        let along = match part.top {
            Top::Everywhere(_) => None,
            Top::Along(knots) => {
                let mut levels = Vec::new();
                for (at_m, spec) in knots {
                    if !(0.0..=line.length_m()).contains(at_m) {
                        return Err(off_line(site, line, "level of the top", *at_m, &spec.at));
                    }
                    levels.push((*at_m, site.level_at(spec, line.at(*at_m))?));
                }
                stations.extend(levels.iter().map(|k| k.0).filter(|s| inside(s)));
                Some(Along::new(levels))
            }
        };
        stations.sort_by(f64::total_cmp);
        stations.dedup();
        let level = |s: f64| match (part.top, &along) {
            (_, Some(along)) => Ok(along.at(s)),
            (Top::Everywhere(spec), None) => site.level_at(spec, line.at(s)),
            (Top::Along(_), None) => Ok(f64::NAN),
        };
        stations.into_iter().map(|s| Ok((s, level(s)?))).collect()
    }

    /// Level of the base of a stretch.
    fn base_z(
        &self,
        site: &Site,
        line: &CentreLine,
        base: &Base,
        span: [f64; 2],
        top: &[(f64, f64)],
    ) -> Result<f64, Diagnostic> {
        if let Base::Level(spec) = base {
            return site.level_at(spec, line.at(span[0]));
        }
        if let Base::Buried(buried_m, at) = base {
            return Ok(self.lowest_under(site, line, span, at)? - buried_m);
        }
        let wanted = self.wanted(site, line, base, span, top)?;
        Ok(lowest(&wanted, span))
    }

    /// Lowest measured ground along the foot, the middle and the back of the base.
    fn lowest_under(
        &self,
        site: &Site,
        line: &CentreLine,
        [from_m, to_m]: [f64; 2],
        at: &At,
    ) -> Result<f64, Diagnostic> {
        let mut lowest = f64::INFINITY;
        for share in [0.0, 0.5, 1.0] {
            let offset = share * self.thickness_m * self.side;
            let mut stations = line.stations_m().to_vec();
            stations.retain(|&s| s > from_m && s < to_m);
            let along: Vec<_> = std::iter::once(from_m)
                .chain(stations)
                .chain([to_m])
                .map(|s| line.beside(s, offset))
                .collect();
            let ground = site.ground.profile(&along);
            lowest = ground.points().map(|p| p.z_m).fold(lowest, f64::min);
        }
        match lowest.is_finite() {
            true => Ok(lowest),
            false => Err(no_ground(site, line, from_m, at)),
        }
    }

    /// The level that the base may not pass at every station, in pieces: below the ground by what
    /// is asked for, or by the rule.
    fn wanted(
        &self,
        site: &Site,
        line: &CentreLine,
        base: &Base,
        span: [f64; 2],
        top: &[(f64, f64)],
    ) -> Result<Vec<Piece>, Diagnostic> {
        let tops = pieces(top);
        let is_rule = matches!(base, Base::Rule(_));
        let before = if is_rule { Some(-BEFORE_M) } else { None };
        let under = [0.0, 0.5, 1.0].map(|share| share * self.thickness_m);
        let surfaces: Vec<&Surface> = match is_rule {
            true => vec![site.ground, site.so_far],
            false => vec![site.ground],
        };
        let mut wanted = Vec::new();
        for offset in before.into_iter().chain(under) {
            for surface in &surfaces {
                for piece in beside(surface, line, offset * self.side) {
                    if piece.within(span).is_none() {
                        continue;
                    }
                    match base {
                        Base::Buried(buried_m, _) => {
                            wanted.push(lowered(piece, |z, _| z - buried_m))
                        }
                        _ => wanted.extend(tops.iter().filter_map(|top| {
                            let from = piece.from.0.max(top.from.0);
                            let to = piece.to.0.min(top.to.0);
                            let ends = [from, to].map(|s| (s, piece.at(s)));
                            let part = Piece {
                                from: ends[0],
                                to: ends[1],
                            };
                            (from < to).then(|| {
                                lowered(part, |z, s| {
                                    z - (top.at(s) - z).max(0.0) * site.buried_per_height
                                })
                            })
                        })),
                    }
                }
            }
        }
        if lowest(&wanted, span).is_finite() {
            return Ok(wanted);
        }
        Err(no_ground(site, line, span[0], base.at()))
    }

    /// The same stretches with base and top in whole courses. The base goes down and the top up
    /// to the next course; both change at joints.
    fn in_courses(
        &self,
        site: &Site,
        line: &CentreLine,
        given: &[Given],
        stretches: Vec<WallStretch>,
        course_m: f64,
        at: &At,
    ) -> Result<Vec<WallStretch>, Diagnostic> {
        let cap_m = self.extras.cap_m.unwrap_or(0.0);
        let mut parts = Vec::new();
        let mut datum = f64::INFINITY;
        for (part, stretch) in given.iter().zip(&stretches) {
            let wanted = match part.base {
                Base::Level(_) => pieces(&part.span.map(|s| (s, stretch.base_z_m))),
                base => self.wanted(site, line, base, part.span, &stretch.top)?,
            };
            datum = datum.min(lowest(&wanted, part.span));
            parts.push((part.span, wanted, pieces(&stretch.top)));
        }
        let number = |rise: f64| rise / course_m;
        let mut found: Vec<([f64; 2], [i64; 2])> = Vec::new();
        for (span, wanted, tops) in parts {
            let high = number(highest(&tops, span) - datum);
            if high > MOST_COURSES || !high.is_finite() {
                return Err(Diagnostic::error(
                    "many-courses",
                    format!(
                        "in courses of {} the wall would have more than {MOST_COURSES} of them",
                        site.length(course_m)
                    ),
                )
                .at(at.clone())
                .help("write the height of a course in the unit of the job"));
            }
            let (mut wanted, mut tops) = (Sweep::new(wanted), Sweep::new(tops));
            for cell in self.cells(site, span) {
                let under = lowest(wanted.within(cell), cell);
                let over = highest(tops.within(cell), cell);
                let base = (number(under - datum) + SAME_COURSE).floor() as i64;
                let top = number(over - cap_m - datum) - SAME_COURSE;
                // A top that would be below its base is refused with its place.
                let levels = [base, top.ceil() as i64];
                match found.last_mut() {
                    Some((last, same)) if *same == levels => last[1] = cell[1],
                    _ => found.push((cell, levels)),
                }
            }
        }
        let level = |k: i64| datum + k as f64 * course_m;
        Ok(found
            .into_iter()
            .map(|([from_m, to_m], [base, top])| WallStretch {
                from_m,
                to_m,
                base_z_m: level(base),
                top: [from_m, to_m].map(|s| (s, level(top) + cap_m)).to_vec(),
            })
            .collect())
    }

    /// Lengths of the wall from joint to joint within a stretch.
    fn cells(&self, site: &Site, [from, to]: [f64; 2]) -> Vec<[f64; 2]> {
        let joint = self.extras.unit_m.unwrap_or(match site.units.is_foot() {
            true => site.units.to_m(JOINT_FT),
            false => JOINT,
        });
        let mut cells = Vec::new();
        let (mut start, mut k) = (from, (from / joint).floor() as i64 + 1);
        while start < to {
            let mut end = k as f64 * joint;
            // A last piece of less than half a joint goes with the one before it.
            if end > to - joint / 2.0 {
                end = to;
            }
            if end > start + joint / 4.0 || end == to {
                cells.push([start, end]);
                start = end;
            }
            k += 1;
        }
        cells
    }
}

/// The surface so far right before the foot of a wall within a span, by rising station; empty off
/// the survey.
pub(super) fn before_foot(
    surface: &Surface,
    line: &CentreLine,
    side: f64,
    [from, to]: [f64; 2],
) -> Vec<(f64, f64)> {
    let mut knots: Vec<(f64, f64)> = beside(surface, line, -AT_FOOT_M * side)
        .iter()
        .filter(|p| p.to.0 > from && p.from.0 < to)
        .flat_map(|p| [p.from.0.max(from), p.to.0.min(to)].map(|s| (s, p.at(s))))
        .collect();
    knots.sort_by(|a, b| a.0.total_cmp(&b.0));
    let reaches =
        |k: Option<&(f64, f64)>, s: f64| k.is_some_and(|k| (k.0 - s).abs() <= 2.0 * AT_FOOT_M);
    if !reaches(knots.first(), from) || !reaches(knots.last(), to) {
        return Vec::new();
    }
    // Breaks side by side are one; the last stays.
    let last = knots[knots.len() - 1];
    knots.dedup_by(|b, a| b.0 - a.0 < KNOTS_APART_M);
    while knots.len() > 1 && knots.last().is_some_and(|k| last.0 - k.0 < KNOTS_APART_M) {
        knots.pop();
    }
    knots.push(last);
    thinned(&knots)
}

/// A line without the knots that lie on it to a millimetre.
fn thinned(knots: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let (Some(&(s0, z0)), Some(&(s1, z1))) = (knots.first(), knots.last()) else {
        return Vec::new();
    };
    let off = |&(s, z): &(f64, f64)| (z - z0 - (z1 - z0) * (s - s0) / (s1 - s0)).abs();
    let inner = 1..knots.len().max(2) - 1;
    let farthest = inner.max_by(|&i, &j| off(&knots[i]).total_cmp(&off(&knots[j])));
    match farthest.filter(|&k| off(&knots[k]) > ON_LINE_M) {
        Some(k) => {
            let mut all = thinned(&knots[..=k]);
            all.pop();
            all.extend(thinned(&knots[k..]));
            all
        }
        None => vec![(s0, z0), (s1, z1)],
    }
}

/// Knots of the ground before a wall are at least so far apart, metres.
const KNOTS_APART_M: f64 = 0.02;
/// A knot so near to a line lies on it, metres.
const ON_LINE_M: f64 = 0.001;

/// True if features before have changed the ground before the foot, or where the face leans back.
pub(super) fn is_changed(site: &Site, line: &CentreLine, side: f64, lean_m: f64) -> bool {
    let z = |surface: &Surface, offset: f64| -> Vec<(f64, f64)> {
        let pieces = beside(surface, line, offset * side);
        pieces.iter().flat_map(|p| [p.from, p.to]).collect()
    };
    let differs = |offset: f64| {
        let (was, is) = (z(site.ground, offset), z(site.so_far, offset));
        was.len() != is.len()
            || was
                .iter()
                .zip(&is)
                .any(|(a, b)| (a.0 - b.0).abs().max((a.1 - b.1).abs()) > CHANGED_M)
    };
    differs(-AT_FOOT_M) || differs(lean_m / 2.0)
}

/// How far before the foot the ground is looked up, metres: past the lean of upright faces.
pub(super) const AT_FOOT_M: f64 = 0.005;
/// Levels and breaks that differ by less are the same, metres.
const CHANGED_M: f64 = 1.0e-6;

/// A piece at other levels.
fn lowered(piece: Piece, level: impl Fn(f64, f64) -> f64) -> Piece {
    let at = |(s, z): (f64, f64)| (s, level(z, s));
    Piece {
        from: at(piece.from),
        to: at(piece.to),
    }
}

/// A surface beside a line, by station of the line.
fn beside(surface: &Surface, line: &CentreLine, offset_m: f64) -> Vec<Piece> {
    let stations = line.stations_m();
    let mut all = Vec::new();
    for (k, start) in stations.iter().enumerate().take(stations.len() - 1) {
        let profile = surface.profile(&line.parallel(k, offset_m));
        for run in &profile.runs {
            let knots: Vec<(f64, f64)> =
                run.iter().map(|p| (start + p.distance_m, p.z_m)).collect();
            all.extend(pieces(&knots));
        }
    }
    all
}

fn no_ground(site: &Site, line: &CentreLine, from_m: f64, at: &At) -> Diagnostic {
    Diagnostic::error(
        "no-ground-there",
        format!(
            "there is no ground under the wall at {}",
            site.place(line.at(from_m))
        ),
    )
    .at(at.clone())
    .help("keep it inside the survey, or give the level of its base")
}
