//! Corners: those with a place, those placed by an offset or a bearing, and those known by the
//! distances between them.

use std::collections::BTreeSet;

use crate::diag::{At, Diagnostic};
use crate::job::Side;
use crate::survey::entry::{Tape, Whereabouts};

use super::bearing::read_bearing;
use super::fix::REFUSED;
use super::network::{
    Adjusted, Beside, Distance, MAX_CORNERS, Network, NetworkFault, adjust_corners,
};
use super::place::Search;
use super::words;

/// The corners of a network by their number in the list of names, and the tapes between them.
struct Corners {
    /// Index among the names of each corner of the network.
    names: Vec<usize>,
    /// Tape of each distance, and the two names it joins.
    tapes: Vec<(usize, usize, Tape)>,
}

impl Search<'_> {
    /// Gives every corner its place.
    pub(super) fn place_corners(&mut self) {
        self.place_beside_all(true);
        if self.said.is_sound() {
            self.place_by_distances();
        }
        if self.said.is_sound() {
            self.place_beside_all(true);
        }
        for index in 0..self.named.len() {
            let named = &self.named[index];
            if named.is_corner
                && named.place.is_none()
                && named.way.is_none()
                && self.said.is_sound()
            {
                let (name, at) = (named.name.clone(), named.at.clone());
                self.unknown_corner(&name, at);
            }
        }
    }

    /// Every tape between two corners, in booked order: those of the job first.
    fn tapes_between(&self) -> Vec<(usize, usize, Tape)> {
        let mut tapes = Vec::new();
        for distance in &self.control.distances {
            if let (Some(a), Some(b)) = (self.find(&distance.from), self.find(&distance.to)) {
                let tape = Tape {
                    corner: distance.from.clone(),
                    length_m: distance.length_m,
                    at: distance.at.clone(),
                };
                tapes.push((a, b, tape));
            }
        }
        for (index, named) in self.named.iter().enumerate().filter(|(_, n)| n.is_corner) {
            if let Some(Whereabouts::Tapes { tapes: own, .. }) = &named.way {
                for tape in own {
                    if let Some(corner) = self.find(&tape.corner) {
                        tapes.push((corner, index, tape.clone()));
                    }
                }
            }
        }
        tapes
    }

    fn place_by_distances(&mut self) {
        let tapes = self.tapes_between();
        if tapes.is_empty() {
            return;
        }
        let joined: BTreeSet<usize> = tapes.iter().flat_map(|(a, b, _)| [*a, *b]).collect();
        let mut order: Vec<usize> = Vec::new();
        let baseline = self.control.baseline.iter().flat_map(|(a, b, _)| [a, b]);
        let listed = self.control.distances.iter().flat_map(|d| [&d.from, &d.to]);
        order.extend(baseline.chain(listed).filter_map(|name| self.find(name)));
        // Corners that tapes begin at come before those that are only taped to.
        order.extend(tapes.iter().map(|(a, _, _)| *a));
        order.extend(tapes.iter().map(|(_, b, _)| *b));
        let mut names: Vec<usize> = Vec::new();
        for index in order {
            if joined.contains(&index) && !names.contains(&index) {
                names.push(index);
            }
        }
        let corners = Corners { names, tapes };
        let Some((network, reference)) = self.network(&corners) else {
            return;
        };
        let line = network.first_line();
        if let Some((first, second)) = line {
            self.tell_first_line(&corners, &network, first, second);
        }
        match adjust_corners(&network) {
            Ok(adjusted) => self.take_corners(&corners, &network, &adjusted, reference),
            Err(fault) => self.refuse(&corners, &network, &fault),
        }
    }

    /// The network of corners in metres about the first that has a place.
    fn network(&mut self, corners: &Corners) -> Option<(Network, (i64, i64))> {
        let reference = corners
            .names
            .iter()
            .find_map(|&index| self.named[index].place)
            .unwrap_or_default();
        let number = |index: usize| corners.names.iter().position(|&other| other == index);
        let mut network = Network {
            given: corners
                .names
                .iter()
                .map(|&i| self.named[i].place.map(|p| Search::local(p, reference)))
                .collect(),
            distances: Vec::new(),
            sides: vec![None; corners.names.len()],
            toward: [1.0, 0.0],
            sigma_m: self.sigma_m,
        };
        for (a, b, tape) in &corners.tapes {
            let length_m = self.level_m(*a, *b, tape);
            if let (Some(a), Some(b), Some(length_m)) = (number(*a), number(*b), length_m) {
                network.distances.push(Distance { a, b, length_m });
            }
        }
        for (number, &index) in corners.names.iter().enumerate() {
            network.sides[number] = self.side_of(index).and_then(|(from, to, side)| {
                let at = |end| corners.names.iter().position(|&other| other == end);
                Some(Beside {
                    from: at(from)?,
                    to: at(to)?,
                    left: side == Side::Left,
                })
            });
        }
        for (name, _, at) in &self.control.sides {
            if self.find(name).is_none() {
                self.unknown_corner(name, at.clone());
            }
        }
        if let Some((text, at)) = &self.control.bearing {
            match read_bearing(text) {
                Ok(toward) => network.toward = toward,
                Err(message) => self.said.say(
                    Diagnostic::error("bad-bearing", message)
                        .at(at.clone())
                        .help("write degrees clockwise from north, as \"245.5\" or \"245-30-15\", or \"N45-30E\""),
                ),
            }
        }
        self.said.is_sound().then_some((network, reference))
    }

    /// The line and the side that are told for a corner.
    fn side_of(&self, index: usize) -> Option<(usize, usize, Side)> {
        let told = |(name, _, _): &&(String, Side, At)| self.find(name) == Some(index);
        let by_job = self.control.sides.iter().find(told);
        let side = match (by_job, &self.named[index].way) {
            (Some((_, side, _)), _) => *side,
            (None, Some(Whereabouts::Tapes { side, .. })) => side.or(self.control.side)?,
            (None, None) => self.control.side?,
            (None, Some(_)) => return None,
        };
        let two = |mut ends: Vec<usize>| {
            let first = *ends.first()?;
            ends.retain(|&end| end != first);
            Some((first, *ends.first()?, side))
        };
        let own = match &self.named[index].way {
            Some(Whereabouts::Tapes { tapes, .. }) if by_job.is_none() => tapes
                .iter()
                .filter_map(|tape| self.find(&tape.corner))
                .collect(),
            _ => Vec::new(),
        };
        // A row with one tape tells the side as well: the others are in the job or in other rows.
        two(own).or_else(|| {
            let all = self.tapes_between();
            let beside = all.iter().filter_map(|&(a, b, _)| match index {
                i if i == a => Some(b),
                i if i == b => Some(a),
                _ => None,
            });
            two(beside.collect())
        })
    }

    /// Says where the corners were put, if nothing in the files does.
    fn tell_first_line(
        &mut self,
        corners: &Corners,
        network: &Network,
        first: usize,
        second: usize,
    ) {
        let name = |number: usize| self.named[corners.names[number]].name.clone();
        let (a, b) = (name(first), name(second));
        let where_to = match &self.control.bearing {
            Some((text, _)) => format!("{b} lies from it at the bearing {text}"),
            None => format!("{b} lies due east of it"),
        };
        let is_free = network.given.iter().all(Option::is_none);
        let message = if is_free {
            format!("no corner has coordinates: {a} is put at 0, 0, and {where_to}")
        } else {
            format!("only {a} has coordinates: {where_to}")
        };
        let at = self.named[corners.names[first]].at.clone();
        let turned = self
            .named
            .iter()
            .find(|n| matches!(n.way, Some(Whereabouts::Bearing { .. })))
            .filter(|_| self.control.bearing.is_none())
            .map(|n| n.at.clone());
        match turned {
            Some(bearing_at) => self.said.say(
                Diagnostic::error(
                    "no-bearing",
                    format!("bearings are used, but the bearing from {a} to {b} is not known"),
                )
                .at(bearing_at)
                .help("give it: `bearing = \"92-30\"` under `[control]`, or coordinates of two corners"),
            ),
            None => self.said.say(
                Diagnostic::note("assumed-place", message)
                    .at(at)
                    .help("give coordinates of two corners if the yard is to lie true to north"),
            ),
        }
    }

    /// Takes adjusted corners over, and says what does not agree.
    fn take_corners(
        &mut self,
        corners: &Corners,
        network: &Network,
        adjusted: &Adjusted,
        reference: (i64, i64),
    ) {
        for (number, &index) in corners.names.iter().enumerate() {
            if self.named[index].place.is_some() {
                continue;
            }
            match Search::absolute(reference, adjusted.places[number]) {
                Some(place) => self.settle(index, place, adjusted.ellipses[number]),
                None => {
                    let at = self.named[index].at.clone();
                    self.said.say(
                        Diagnostic::error("far-place", "the corner lies beyond any place on Earth")
                            .at(at)
                            .help("check the coordinates and their unit"),
                    );
                }
            }
        }
        let Some(wrong) = &adjusted.wrong else {
            return;
        };
        let unit = self.unit;
        let pair = |number: usize| {
            let (a, b, tape) = &corners.tapes[number];
            let (a, b) = (&self.named[*a].name, &self.named[*b].name);
            (format!("{a}-{b}"), tape)
        };
        let off_m = adjusted.residuals_m[wrong.worst];
        let (worst, _) = pair(wrong.worst);
        let mut message = format!(
            "the distances between the corners do not agree: {worst} is off by {} even at the best, {} than chance",
            words::length(unit, off_m.abs()),
            if wrong.standard > REFUSED {
                "far more"
            } else {
                "more"
            }
        );
        let at = match wrong.suspects[..] {
            [(number, should_m)] => {
                let (name, tape) = pair(number);
                let slip = words::slip(
                    unit,
                    network.distances[number].length_m,
                    should_m,
                    2.0 * self.sigma_m,
                );
                message = format!(
                    "the distances between the corners agree without {name} of {}: it should be {}{}",
                    words::length(unit, network.distances[number].length_m),
                    words::length(unit, should_m),
                    slip.map_or(String::new(), |slip| format!("; {slip}"))
                );
                tape.at.clone()
            }
            _ => pair(wrong.worst).1.at.clone(),
        };
        let diagnostic = if wrong.standard > REFUSED {
            Diagnostic::error("wrong-distance", message)
        } else {
            Diagnostic::warn("doubtful-distance", message)
        };
        self.said.say(
            diagnostic.at(at).help(
                "tape it again; `tape_error` under `[control]` says how far a tape may be off",
            ),
        );
    }

    /// Says why the corners cannot be placed, and what to tape.
    fn refuse(&mut self, corners: &Corners, network: &Network, fault: &NetworkFault) {
        let name = |number: usize| self.named[corners.names[number]].name.clone();
        let at = |number: usize| self.named[corners.names[number]].at.clone();
        let diagnostic = match fault {
            NetworkFault::Missing(pairs) => {
                let list: Vec<String> = pairs
                    .iter()
                    .map(|&(a, b)| format!("{}-{}", name(a), name(b)))
                    .collect();
                let (a, b) = pairs.first().copied().unwrap_or_default();
                let loose = if network.given[b].is_none() { b } else { a };
                let is_are = if list.len() == 1 {
                    "the distance".to_owned()
                } else {
                    format!("{} distances, such as", list.len())
                };
                Diagnostic::error(
                    "loose-corner",
                    format!(
                        "the corner {} is not held in place: {is_are} {} is missing",
                        name(loose),
                        list.join(", ")
                    ),
                )
                .at(at(loose))
                .help(format!(
                    "tape {0} and add it (`distances = [\"{0} 12.30\"]` under `[control]`, or a row), \
                     or give {1} coordinates",
                    list.first().map_or("", String::as_str),
                    name(loose)
                ))
            }
            NetworkFault::EitherSide(differ) => {
                let open = differ.iter().find(|&&n| network.sides[n].is_none());
                let number = open.or(differ.first()).copied().unwrap_or_default();
                let ends: Vec<String> = network
                    .distances
                    .iter()
                    .filter_map(|d| match number {
                        n if n == d.a => Some(name(d.b)),
                        n if n == d.b => Some(name(d.a)),
                        _ => None,
                    })
                    .take(2)
                    .collect();
                let corner = name(number);
                Diagnostic::error(
                    "either-side",
                    format!(
                        "the corner {corner} may lie left or right of the line from {}",
                        ends.join(" to ")
                    ),
                )
                .at(at(number))
                .help(format!(
                    "say which: `side = {{ {corner} = \"left\" }}` under `[control]`, a column `side` in its row, \
                     or tape it from a third corner that is not in line with both"
                ))
            }
            NetworkFault::Nowhere(number) => {
                let list: Vec<String> = network
                    .distances
                    .iter()
                    .filter_map(|d| match *number {
                        n if n == d.a => Some((d.b, d.length_m)),
                        n if n == d.b => Some((d.a, d.length_m)),
                        _ => None,
                    })
                    .map(|(other, m)| format!("{} {}", name(other), words::length(self.unit, m)))
                    .collect();
                Diagnostic::error(
                    "tapes-do-not-meet",
                    format!(
                        "the distances to the corner {} meet nowhere: {}",
                        name(*number),
                        list.join(", ")
                    ),
                )
                .at(at(*number))
                .help("one of them is too short or too long; tape them again")
            }
            NetworkFault::TooMany => Diagnostic::error(
                "many-corners",
                format!(
                    "{} corners hang on each other by tape; at most {MAX_CORNERS} are adjusted together",
                    corners.names.len()
                ),
            )
            .at(at(0))
            .help("give coordinates to some of them"),
        };
        self.said.say(diagnostic);
    }
}
