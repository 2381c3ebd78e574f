//! Shots: their tapes from placed corners, and what is doubtful about each.

use crate::diag::Diagnostic;
use crate::job::Side;
use crate::survey::entry::{Tape, Whereabouts};
use crate::units::NM_PER_M;

use super::circle::{Plan, apart_m};
use super::fix::{
    DOUBTED, Fix, Miss, REFUSED, Suspect, Tied, best_crossing, fixes, is_on_side, suspects,
};
use super::place::Search;
use super::result::{TieFix, Undecided, Way};
use super::words;

/// Sine of 30 degrees: two tapes that cross at less ask for a third.
const THIN_CROSSING: f64 = 0.5;

/// The tapes to one shot, and the corners they come from.
struct Shot {
    index: usize,
    name: String,
    tapes: Vec<Tape>,
    corners: Vec<usize>,
    ties: Vec<Tied>,
    /// Corner that the metres count from.
    reference: (i64, i64),
}

impl Search<'_> {
    /// Places every shot that can be placed.
    pub(super) fn place_shots(&mut self) {
        self.place_beside_all(false);
        for index in 0..self.named.len() {
            let named = &self.named[index];
            match &named.way {
                Some(_) if named.is_given && !named.is_corner => {
                    let message = format!(
                        "{} has coordinates and is placed by them; its tapes, offset or grid line are not read",
                        named.name
                    );
                    let note = Diagnostic::note("coordinates-win", message).at(named.at.clone());
                    self.said.say(note);
                }
                Some(_) if named.place.is_some() => {}
                Some(Whereabouts::Tapes { tapes, side }) => {
                    let (tapes, side) = (tapes.clone(), *side);
                    self.place_by_tapes(index, tapes, side);
                }
                Some(Whereabouts::Offset { .. }) => self.no_baseline(index),
                Some(Whereabouts::Bearing { tape, .. }) => {
                    let (corner, at) = (tape.corner.clone(), tape.at.clone());
                    if self.said.is_sound() {
                        self.unknown_corner(&corner, at);
                    }
                }
                Some(Whereabouts::Grid { .. }) if self.said.is_sound() => {
                    let at = named.at.clone();
                    self.said.say(
                        Diagnostic::error("no-grid", "it is not known where the grid lies")
                            .at(at)
                            .help("give `baseline` under `[control]`, or `origin` and `towards` as coordinates or known corners"),
                    );
                }
                _ => {}
            }
        }
    }

    /// The error for an offset without a line to count from.
    fn no_baseline(&mut self, index: usize) {
        let at = self.named[index].at.clone();
        let fault = match &self.control.baseline {
            None => Diagnostic::error("no-baseline", "stations and offsets need a baseline")
                .at(at)
                .help("give it: `baseline = [\"A\", \"B\"]` under `[control]`, or `--baseline A,B`; station 0 is at A"),
            Some((from, to, baseline_at)) => Diagnostic::error(
                "no-baseline",
                format!("the baseline from {from} to {to} has no place or no length"),
            )
            .at(baseline_at.clone())
            .help("give coordinates to both ends, or tape them"),
        };
        self.said.once(fault);
    }

    fn place_by_tapes(&mut self, index: usize, tapes: Vec<Tape>, side: Option<Side>) {
        let mut shot = Shot {
            index,
            name: self.named[index].name.clone(),
            tapes: Vec::new(),
            corners: Vec::new(),
            ties: Vec::new(),
            reference: (0, 0),
        };
        for tape in tapes {
            let Some(corner) = self.find(&tape.corner) else {
                continue;
            };
            let Some(place) = self.named[corner].place else {
                let at = tape.at.clone();
                return self.unknown_corner(&tape.corner, at);
            };
            let Some(length_m) = self.level_m(corner, index, &tape) else {
                return;
            };
            if shot.ties.is_empty() {
                shot.reference = place;
            }
            shot.ties.push(Tied {
                corner: Search::local(place, shot.reference),
                length_m,
            });
            shot.corners.push(corner);
            shot.tapes.push(tape);
        }
        let [_, _, ..] = shot.ties[..] else {
            let message = format!("{} has one tape only, so its place is not known", shot.name);
            let help = "tape it from a second corner";
            return self.leave_out(&shot, "one-tape", &message, help, &[]);
        };
        match fixes(&shot.ties, self.sigma_m) {
            Err(miss) => self.tell_miss(&shot, miss),
            Ok(found) => self.decide(&shot, found, side),
        }
    }

    /// The error for tapes that meet nowhere.
    fn tell_miss(&mut self, shot: &Shot, miss: Miss) {
        let unit = self.unit;
        let corner = |i: usize| self.named[shot.corners[i]].name.as_str();
        let long = |m: f64| words::length(unit, m);
        let apart = apart_m(shot.ties[0].corner, shot.ties[1].corner);
        let (message, help) = match miss {
            Miss::Apart(by_m) => (
                format!(
                    "the tapes to {} do not reach each other: {} and {} are {} too short for the {} from {} to {}",
                    shot.name,
                    long(shot.ties[0].length_m),
                    long(shot.ties[1].length_m),
                    long(by_m),
                    long(apart),
                    corner(0),
                    corner(1)
                ),
                format!(
                    "tape again: with {} from {} right, the one from {} is at least {}",
                    long(shot.ties[0].length_m),
                    corner(0),
                    corner(1),
                    long(apart - shot.ties[0].length_m)
                ),
            ),
            Miss::Inside(by_m) => {
                let (far, near) = if shot.ties[0].length_m > shot.ties[1].length_m {
                    (0, 1)
                } else {
                    (1, 0)
                };
                (
                    format!(
                        "the tapes to {} do not meet: {} from {} is {} too long for {} from {}",
                        shot.name,
                        long(shot.ties[far].length_m),
                        corner(far),
                        long(by_m),
                        long(shot.ties[near].length_m),
                        corner(near)
                    ),
                    format!(
                        "tape again: with {} from {} right, the one from {} is at most {}",
                        long(shot.ties[near].length_m),
                        corner(near),
                        corner(far),
                        long(apart + shot.ties[near].length_m)
                    ),
                )
            }
            Miss::OneCorner => (
                format!("all tapes to {} come from one place", shot.name),
                "tape it from another corner".to_owned(),
            ),
        };
        let at = shot.tapes.iter().take(2).map(|tape| tape.at.clone());
        let mut fault = Diagnostic::error("tapes-do-not-meet", message).help(help);
        fault.at.extend(at);
        self.said.say(fault);
    }

    /// Takes the one place that is meant, or keeps both for the user to decide.
    fn decide(&mut self, shot: &Shot, found: Vec<Fix>, side: Option<Side>) {
        // The side said for all shots decides between two answers and contradicts none.
        let side = side.or(self.control.side.filter(|_| found.len() > 1));
        let a = shot.ties[0].corner;
        // A corner may have been taped from twice: the line runs to the next other place.
        let second = shot.ties.iter().position(|tie| tie.corner != a);
        let second = second.unwrap_or_default();
        let b = shot.ties[second].corner;
        let line = (
            self.named[shot.corners[0]].name.clone(),
            self.named[shot.corners[second]].name.clone(),
        );
        let on_side =
            |fix: &&Fix| side.is_none_or(|side| is_on_side(a, b, fix.at, side == Side::Left));
        let told: Vec<&Fix> = found.iter().filter(on_side).collect();
        let fix = match (&found[..], &told[..]) {
            (_, [one]) => *one,
            ([one], []) => {
                // A place on the line itself is on no side; only a clear contradiction is told.
                if one.times_error.is_finite() && one.sin_crossing > THIN_CROSSING {
                    let message = format!(
                        "{} is booked {} of the line from {} to {}, but its tapes put it on the other side",
                        shot.name,
                        side.map_or("", Side::name),
                        line.0,
                        line.1
                    );
                    let at = self.named[shot.index].at.clone();
                    self.said.say(
                        Diagnostic::warn("side-differs", message)
                            .at(at)
                            .help("check the side and the tapes; the tapes are followed"),
                    );
                }
                one
            }
            _ => return self.tell_both(shot, &found, &line),
        };
        let used = self.judge(shot, fix);
        if used {
            self.take(shot, fix);
        }
    }

    /// The warning for a shot with two answers.
    fn tell_both(&mut self, shot: &Shot, found: &[Fix], line: &(String, String)) {
        let unit = self.unit;
        let at = |fix: &Fix| self.absolute_m(shot, fix.at);
        let places: Vec<[f64; 2]> = found.iter().map(at).collect();
        let words: Vec<String> = places.iter().map(|p| words::place(unit, *p)).collect();
        let message = format!(
            "{} may be at {}; it is not used for the ground until one is decided",
            shot.name,
            words.join(" or at ")
        );
        let third = self.third_corner(shot, found[0].at);
        let help = format!(
            "write `side` left or right in its row, looking from {} to {}{}",
            line.0,
            line.1,
            third.map_or(String::new(), |(name, _)| format!(
                ", or take a third tape, from {name}"
            ))
        );
        self.leave_out(shot, "two-answers", &message, &help, &places);
    }

    /// A place in absolute metres.
    fn absolute_m(&self, shot: &Shot, at: Plan) -> [f64; 2] {
        [
            shot.reference.0 as f64 / NM_PER_M + at[0],
            shot.reference.1 as f64 / NM_PER_M + at[1],
        ]
    }

    /// Keeps a shot out of the ground, and says so.
    fn leave_out(
        &mut self,
        shot: &Shot,
        code: &'static str,
        message: &str,
        help: &str,
        answers: &[Plan],
    ) {
        let at = self.named[shot.index].at.clone();
        self.found.unplaced.push(Undecided {
            name: shot.name.clone(),
            answers_m: answers.to_vec(),
            why: message.to_owned(),
            at: at.clone(),
        });
        self.said
            .say(Diagnostic::warn(code, message).at(at).help(help));
    }

    /// The placed corner, not yet taped from, that would cross best.
    fn third_corner(&self, shot: &Shot, at: Plan) -> Option<(String, f64)> {
        let free: Vec<(&str, Plan)> = self
            .corners
            .iter()
            .filter(|index| !shot.corners.contains(index))
            .filter_map(|&index| {
                let n = &self.named[index];
                let place = Search::local(n.place?, shot.reference);
                Some((n.name.as_str(), place))
            })
            .collect();
        let places: Vec<Plan> = free.iter().map(|(_, place)| *place).collect();
        let (best, times) = best_crossing(&shot.ties, at, &places)?;
        Some((free[best].0.to_owned(), times))
    }

    /// Says what is doubtful about a place; false if it is not to be used.
    fn judge(&mut self, shot: &Shot, fix: &Fix) -> bool {
        if fix.worst() > DOUBTED {
            let (message, help) = self.disagreement(shot, fix);
            if fix.worst() > REFUSED {
                let message = format!("{message}; {} is not used for the ground", shot.name);
                let answers = [self.absolute_m(shot, fix.at)];
                self.leave_out(shot, "tapes-disagree", &message, &help, &answers);
                return false;
            }
            let at = self.named[shot.index].at.clone();
            self.said.say(
                Diagnostic::warn("tapes-doubtful", message)
                    .at(at)
                    .help(help),
            );
        }
        if fix.sin_crossing < THIN_CROSSING {
            let times = if fix.times_error < 100.0 {
                format!("{:.1} times", fix.times_error)
            } else {
                "more than 100 times".to_owned()
            };
            let message = format!(
                "the tapes to {} cross at {} only: the place may be off by {times} the error of a tape",
                shot.name,
                words::crossing(fix.sin_crossing)
            );
            let help = match self.third_corner(shot, fix.at) {
                Some((name, better)) if better < fix.times_error / 1.2 => {
                    format!("take a third tape, from {name}: then it is {better:.1} times")
                }
                _ => "take a third tape, from a corner well off the line of both".to_owned(),
            };
            let at = self.named[shot.index].at.clone();
            self.said
                .say(Diagnostic::warn("thin-crossing", message).at(at).help(help));
        }
        true
    }

    /// Which tape does not agree, by how much, and what it looks like.
    fn disagreement(&self, shot: &Shot, fix: &Fix) -> (String, String) {
        let unit = self.unit;
        let corner = |i: usize| self.named[shot.corners[i]].name.as_str();
        let slack_m = 2.0 * self.sigma_m;
        let found = suspects(&shot.ties, fix, self.sigma_m);
        let slip = |tie: usize, should_m: f64| {
            words::slip(unit, shot.ties[tie].length_m, should_m, slack_m)
        };
        // The nearest length of each tape, for those that do not look like a slip.
        let mut nearest = found.clone();
        nearest.dedup_by_key(|suspect| suspect.tie);
        let all = nearest.len();
        let mut likely: Vec<&Suspect> = found
            .iter()
            .filter(|s| slip(s.tie, s.should_m).is_some())
            .collect();
        if let ([], [one]) = (&likely[..], &nearest[..]) {
            likely.push(one);
        }
        match likely[..] {
            [one] => {
                let slip = slip(one.tie, one.should_m);
                let message = format!(
                    "the tape to {} from {}, {}, {} the others: {} would agree{}",
                    shot.name,
                    corner(one.tie),
                    words::length(unit, shot.ties[one.tie].length_m),
                    if all == 1 {
                        "does not agree with"
                    } else {
                        "seems not to agree with"
                    },
                    words::length(unit, one.should_m),
                    slip.map_or(String::new(), |slip| format!("; {slip}"))
                );
                (message, format!("tape it again from {}", corner(one.tie)))
            }
            _ => {
                let size = |i: usize| fix.residuals_m[i].abs();
                let worst = (0..fix.residuals_m.len())
                    .max_by(|&a, &b| size(a).total_cmp(&size(b)))
                    .unwrap_or_default();
                let message = format!(
                    "the tapes to {} do not meet in one place: the one from {} is off by {} even at the best, {} than chance",
                    shot.name,
                    corner(worst),
                    words::length(unit, fix.residuals_m[worst].abs()),
                    if fix.worst() > REFUSED {
                        "far more"
                    } else {
                        "more"
                    }
                );
                let each: Vec<String> = nearest
                    .iter()
                    .map(|s| format!("{} from {}", words::length(unit, s.should_m), corner(s.tie)))
                    .collect();
                let help = if each.is_empty() {
                    "tape it again from every corner".to_owned()
                } else {
                    format!(
                        "any one of these would make the others agree: {}; tape it again, or from one corner more",
                        each.join(", ")
                    )
                };
                (message, help)
            }
        }
    }

    /// Takes a place.
    fn take(&mut self, shot: &Shot, fix: &Fix) {
        let Some(place_nm) = Search::absolute(shot.reference, fix.at) else {
            let at = self.named[shot.index].at.clone();
            self.said.say(
                Diagnostic::error("far-place", "the shot lies beyond any place on Earth")
                    .at(at)
                    .help("check the tapes and their unit"),
            );
            return;
        };
        self.settle(shot.index, place_nm, fix.ellipse);
        let checked = shot.ties.len() > 2;
        self.found.ties.push(TieFix {
            name: shot.name.clone(),
            way: Way::Tapes,
            corners: shot
                .corners
                .iter()
                .map(|&corner| self.named[corner].name.clone())
                .collect(),
            place_nm,
            sin_crossing: Some(fix.sin_crossing),
            times_error: fix.times_error.is_finite().then_some(fix.times_error),
            ellipse: fix.ellipse,
            largest_residual_m: checked.then(|| fix.largest_residual_m()),
            at: self.named[shot.index].at.clone(),
        });
    }
}
