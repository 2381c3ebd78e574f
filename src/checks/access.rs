//! Gates and ways for barrows: how long, how steep, how narrow, and what closes them.
//!
//! Ways run on the ground as it was measured, while digs lie open: they go round buildings,
//! boundaries but for their gates, trunks, steep banks, walls, piles and, at the setback of an
//! edge, every dig. A trench that is filled again is passed over; so is a berm or a pad, which
//! does not stand yet.

mod barriers;
mod gates;
mod told;

use crate::design::KeepOffPlace;
use crate::diag::{At, Diagnostic, nearest};
use crate::geom::{Point, distance_m};
use crate::job::{Job, Place, RouteSpec, limits};
use crate::route::{Narrow, Steep, Trail, Way, Ways, trail};
use crate::survey::Survey;

use super::footprint::{Footprint, is_dig};
use super::piles::PilePlace;
use super::roots::Tree;
use super::services::Service;
use super::{Checked, Context};

use barriers::Barriers;
use gates::{GatePlace, place_gates};
use told::{closed, gate_finding, route_findings};

/// Stretch over which the steepness of a way counts, metres: a barrow and who pushes it.
const OVER_M: f64 = 1.5;

/// Between the places at which a way may end beside a feature, metres.
const BESIDE_EVERY_M: f64 = 0.25;

/// Gates, ways, and what they have to go round.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize)]
pub struct Access {
    /// Gates.
    pub gates: Vec<Gate>,
    /// Ways, those without a way too.
    pub routes: Vec<Route>,
    /// Trees.
    pub trees: Vec<Tree>,
    /// Buried lines.
    pub services: Vec<Service>,
    /// Piles.
    pub piles: Vec<PilePlace>,
    /// What ways go round and what they leave out, in words.
    pub words: String,
}

/// A gate.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Gate {
    /// What it is called.
    pub name: String,
    /// Its posts, absolute, metres; `None` where no line is drawn to stand in.
    pub posts_m: Option<[[f64; 2]; 2]>,
    /// Its middle, absolute, metres.
    pub at_m: [f64; 2],
    /// Clear width, metres.
    pub clear_m: f64,
}

/// A way that was asked for.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Route {
    /// What it is called.
    pub name: String,
    /// Where it starts, in words.
    pub from: String,
    /// Where it ends, in words.
    pub to: String,
    /// Width it takes, metres.
    pub width_m: f64,
    /// Its middle line, absolute, metres; empty if there is no way.
    pub line_m: Vec<[f64; 2]>,
    /// Length in plan, metres.
    pub length_m: f64,
    /// Length along the slope, metres.
    pub along_slope_m: f64,
    /// Sum of all rises on the way there, metres.
    pub climb_m: f64,
    /// Sum of all falls, metres.
    pub fall_m: f64,
    /// The steepest stretch of a barrow's length.
    pub steepest: Option<SlopeThere>,
    /// The steepest cross slope.
    pub cross: Option<SlopeThere>,
    /// The narrowest place.
    pub narrowest: Option<NarrowThere>,
    /// Length over ground that was not measured, metres.
    pub off_survey_m: f64,
    /// What closes it, if it is closed.
    pub closed_by: Option<Closed>,
}

/// What closes a way.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Closed {
    /// In words, with the place.
    pub words: String,
    /// Where, absolute, metres; `None` where there is no gap at all.
    pub at_m: Option<[f64; 2]>,
    /// Width that is missing, metres; `None` where there is no gap at all.
    pub missing_m: Option<f64>,
    /// What to do.
    pub cure: String,
}

/// A slope at a place of a way.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct SlopeThere {
    /// Rise over run; above zero uphill on the way there, or where the left side is higher.
    pub rise_per_run: f64,
    /// Distance from the start, metres.
    pub station_m: f64,
    /// Where, absolute, metres.
    pub at_m: [f64; 2],
}

/// A narrow place.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct NarrowThere {
    /// Clear width, metres.
    pub clear_m: f64,
    /// A place on each side, absolute, metres.
    pub ends_m: [[f64; 2]; 2],
    /// What stands on each side.
    pub between: [String; 2],
}

impl NarrowThere {
    /// "between the shed and the fence".
    pub fn words(&self) -> String {
        let [a, b] = &self.between;
        match a == b {
            true => format!("at {a}"),
            false => format!("between {a} and {b}"),
        }
    }
}

/// Where a way starts or ends.
#[derive(Clone, Copy, Debug)]
enum End {
    Gate(usize),
    Feature(usize),
    Place(Point),
}

/// Says what is wrong with gates and routes before there is a ground.
///
/// # Errors
///
/// a place, a gate or a feature that does not exist
pub fn check_access(
    job: &Job,
    survey: &Survey,
    keep_offs: &[KeepOffPlace],
) -> Result<(), Diagnostic> {
    place_gates(job, survey, keep_offs)?;
    let features: Vec<&str> = job.features.iter().map(|f| f.name.as_str()).collect();
    for route in &job.routes {
        for end in [&route.from, &route.to] {
            find_end(job, survey, &features, end)?;
        }
        route
            .via
            .as_ref()
            .map_or(Ok(Vec::new()), |via| survey.resolve(via))?;
    }
    Ok(())
}

/// A gate or a feature by its name, or a place.
fn find_end(
    job: &Job,
    survey: &Survey,
    features: &[&str],
    (place, at): &(Place, At),
) -> Result<End, Diagnostic> {
    if let Place::Shot(name) = place {
        if let Some(gate) = job.gates.iter().position(|g| g.name == *name) {
            return Ok(End::Gate(gate));
        }
        if let Some(feature) = features.iter().position(|f| f == name) {
            return Ok(End::Feature(feature));
        }
        let is_shot = survey.shots.iter().any(|shot| shot.name == *name);
        if !is_shot {
            let gates = job.gates.iter().map(|g| g.name.as_str());
            let known: Vec<&str> = gates.chain(features.iter().copied()).collect();
            let message = format!("no gate, feature or shot is called \"{name}\"");
            let help = match nearest(name, known.iter().copied()) {
                Some(word) => format!("did you mean \"{word}\"?"),
                None => "give the name of a gate, a feature or a shot, or coordinates".to_owned(),
            };
            let fault = Diagnostic::error("unknown-end", message).at(at.clone());
            return Err(fault.help(help));
        }
    }
    survey.resolve_place(place, at).map(|(p, _)| End::Place(p))
}

pub(super) fn check(
    context: &Context,
    footprints: &[Footprint],
    out: &mut Checked,
) -> Result<(), Diagnostic> {
    let gates = place_gates(context.job, context.survey, &out.keep_offs)?;
    let absolute = |p: Point| context.absolute(p);
    out.access.gates = gates
        .iter()
        .map(|gate| Gate {
            name: gate.name.clone(),
            posts_m: gate.posts.map(|posts| posts.map(absolute)),
            at_m: absolute(gate.middle),
            clear_m: gate.clear_m,
        })
        .collect();
    let width = context.job.limits.get(&limits::BARROW_WIDTH);
    for gate in &gates {
        out.find(gate_finding(context, gate, width.value, &width.from));
    }
    let mut routing = Routing {
        context,
        gates: &gates,
        footprints,
        keep_offs: &out.keep_offs,
        ready: None,
    };
    let routes = routing.all(width.value)?;
    let words = match (gates.is_empty(), routes.is_empty()) {
        (true, true) => "Not computed: no gate is drawn and no way is asked for.".to_owned(),
        (false, true) => "None: nothing is dug or piled, and no way is asked for.".to_owned(),
        _ => routing.words(),
    };
    out.access.words = words;
    for (route, way) in routes {
        for finding in route_findings(context, &route, way.as_ref()) {
            out.find(finding);
        }
        out.access.routes.push(route);
    }
    Ok(())
}

/// Asks for ways, with the obstacles for the width that was asked for last.
struct Routing<'a> {
    context: &'a Context<'a>,
    gates: &'a [GatePlace],
    footprints: &'a [Footprint],
    keep_offs: &'a [KeepOffPlace],
    ready: Option<(f64, Barriers, Ways)>,
}

impl Routing<'_> {
    fn all(&mut self, width_m: f64) -> Result<Vec<(Route, Option<Way>)>, Diagnostic> {
        let (job, survey) = (self.context.job, self.context.survey);
        let features = &self.context.design.features;
        let names: Vec<&str> = features.iter().map(|f| f.name.as_str()).collect();
        let mut routes = Vec::new();
        for spec in &job.routes {
            let from = find_end(job, survey, &names, &spec.from)?;
            let to = find_end(job, survey, &names, &spec.to)?;
            let via = match &spec.via {
                Some(places) => survey.resolve(places)?.iter().map(|p| p.p).collect(),
                None => Vec::new(),
            };
            routes.push(self.asked_for(spec, from, to, &via, spec.width_m.unwrap_or(width_m)));
        }
        if job.routes.is_empty() && !self.gates.is_empty() {
            for (number, feature) in features.iter().enumerate() {
                // A trench that is filled again the same day keeps its soil beside it.
                let is_open = is_dig(feature) && !feature.laid.is_refilled();
                let is_end = is_open || feature.kind == "pile";
                if is_end && !self.footprints[number].is_empty() {
                    routes.push(self.nearest_gate_to(number, width_m));
                }
            }
        }
        Ok(routes)
    }

    fn ready(&mut self, width_m: f64) -> &(f64, Barriers, Ways) {
        let old = self.ready.take().filter(|(of_m, ..)| *of_m == width_m);
        self.ready.insert(old.unwrap_or_else(|| {
            let barriers = Barriers::of(
                self.context,
                self.keep_offs,
                self.gates,
                self.footprints,
                width_m,
            );
            let ways = Ways::new(barriers.obstacles.clone(), width_m);
            (width_m, barriers, ways)
        }))
    }

    /// Places a way may start from or end at, and words for it.
    fn end(&mut self, end: End, width_m: f64) -> (Vec<Point>, String) {
        match end {
            End::Place(p) => (vec![p], self.context.place(p)),
            End::Gate(gate) => (vec![self.gates[gate].middle], self.gates[gate].name.clone()),
            End::Feature(number) => {
                let name = self.context.design.features[number].name.clone();
                let rims = self.footprints[number].rims.clone();
                let (_, barriers, ways) = self.ready(width_m);
                let places = match barriers.of_feature(number) {
                    Some(obstacle) => ways.beside(obstacle, BESIDE_EVERY_M),
                    None => rims.iter().flat_map(|rim| along_rim(rim)).collect(),
                };
                (places, name)
            }
        }
    }

    fn asked_for(
        &mut self,
        spec: &RouteSpec,
        from: End,
        to: End,
        via: &[Point],
        width_m: f64,
    ) -> (Route, Option<Way>) {
        let (starts, from) = self.end(from, width_m);
        let (ends, to) = self.end(to, width_m);
        let mut whole: Option<Way> = None;
        let mut at = starts;
        let stops = via.iter().map(|p| vec![*p]).chain([ends]);
        let stops: Vec<Vec<Point>> = stops.collect();
        let mut closed_by = None;
        for stop in stops {
            match self.leg(&at, &stop, [&from, &to], width_m) {
                Ok(way) => {
                    at = vec![stop[way.ends[1]]];
                    whole = Some(joined(whole, way));
                }
                Err(closed) => {
                    closed_by = Some(closed);
                    break;
                }
            }
        }
        let way = whole.filter(|_| closed_by.is_none());
        let names = [spec.name.clone(), from, to];
        (self.route(names, width_m, way.as_ref(), closed_by), way)
    }

    /// From the gate with the shortest way.
    fn nearest_gate_to(&mut self, feature: usize, width_m: f64) -> (Route, Option<Way>) {
        // A gate in a fence within the yard lets nobody in from the street.
        let entries: Vec<&GatePlace> = match self.gates.iter().any(|gate| gate.is_entry) {
            true => self.gates.iter().filter(|gate| gate.is_entry).collect(),
            false => self.gates.iter().collect(),
        };
        let starts: Vec<Point> = entries.iter().map(|gate| gate.middle).collect();
        let (ends, to) = self.end(End::Feature(feature), width_m);
        let first = &entries[0].name;
        let (from, way, closed_by) = match self.leg(&starts, &ends, [first, &to], width_m) {
            Ok(way) => (way.ends[0], Some(way), None),
            Err(closed) => (0, None, Some(closed)),
        };
        let from = entries[from].name.clone();
        let names = [format!("{from} to {to}"), from, to];
        (self.route(names, width_m, way.as_ref(), closed_by), way)
    }

    /// A stretch of a way, or what closes it.
    fn leg(
        &mut self,
        from: &[Point],
        to: &[Point],
        names: [&str; 2],
        width_m: f64,
    ) -> Result<Way, Closed> {
        let context = self.context;
        for (places, name) in [(from, names[0]), (to, names[1])] {
            if places.is_empty() {
                return Err(Closed::no_room(context, name, width_m));
            }
        }
        let (_, barriers, ways) = self.ready(width_m);
        ways.nearest(from, to)
            .map_err(|blocked| closed(context, barriers, &blocked, names[0], names[1]))
    }

    fn route(
        &mut self,
        [name, from, to]: [String; 3],
        width_m: f64,
        way: Option<&Way>,
        closed_by: Option<Closed>,
    ) -> Route {
        let context = self.context;
        let line: &[Point] = way.map_or(&[], |way| &way.line);
        let on = match way {
            Some(_) => trail(&context.terrain.surface, line, width_m, OVER_M),
            None => Trail::default(),
        };
        let there = |steep: Steep| {
            let [x, y] = steep.at_m;
            SlopeThere {
                rise_per_run: steep.rise_per_run,
                station_m: steep.station_m,
                at_m: context.absolute(Point::from_m(x, y)),
            }
        };
        let gates = self.gates;
        let (_, barriers, _) = self.ready(width_m);
        let narrowest = way.and_then(|way| way.narrowest).map(|narrow| {
            // A gate that is too narrow was passed as if it were not: told as it is.
            match gates.iter().find(|gate| gate.is_at(narrow.ends, width_m)) {
                Some(gate) => NarrowThere {
                    clear_m: gate.clear_m,
                    ends_m: gate
                        .posts
                        .unwrap_or(narrow.ends)
                        .map(|p| context.absolute(p)),
                    between: [gate.name.clone(), gate.name.clone()],
                },
                None => NarrowThere {
                    clear_m: narrow.clear_m,
                    ends_m: narrow.ends.map(|p| context.absolute(p)),
                    between: narrow.obstacles.map(|o| barriers.names[o].clone()),
                },
            }
        });
        Route {
            name,
            from,
            to,
            width_m,
            line_m: line.iter().map(|p| context.absolute(*p)).collect(),
            length_m: way.map_or(0.0, |way| way.length_m),
            along_slope_m: on.along_slope_m,
            climb_m: on.climb_m,
            fall_m: on.fall_m,
            steepest: on.steepest.map(there),
            cross: on.cross.map(there),
            narrowest,
            off_survey_m: on.off_surface_m,
            closed_by,
        }
    }

    fn words(&self) -> String {
        let setback = self.context.job.limits.get(&limits::EDGE_SETBACK).value;
        let bank = self.context.job.limits.slope(&limits::BARROW_BANK);
        let left_out = self
            .ready
            .as_ref()
            .is_some_and(|(_, b, _)| b.banks_left_out);
        let banks = if left_out {
            "the ground has too many steep places to go round each, so banks are not looked at"
                .to_owned()
        } else {
            format!("banks steeper than {bank}")
        };
        let chosen = match self.context.job.routes.is_empty() {
            true => {
                "No way is asked for, so there is one to each dig that stays open and each pile, from the gate in the boundary with the shortest way. "
            }
            false => "",
        };
        format!(
            "{chosen}Shortest in plan, on the ground as it was measured, while the digs lie open. They go round buildings, lines and boundaries but for their gates, trunks, walls, piles, {banks}, and keep {} from the edge of every dig. A trench that is filled again is passed over on boards; a berm or a pad does not stand yet.",
            self.context.show().length(setback)
        )
    }
}

/// Places along a rim.
fn along_rim(rim: &[Point]) -> Vec<Point> {
    let mut places = Vec::new();
    for pair in rim.windows(2) {
        let steps = (distance_m(pair[0], pair[1]) / BESIDE_EVERY_M)
            .ceil()
            .clamp(1.0, 1000.0);
        for k in 0..steps as i64 {
            let t = k as f64 / steps;
            let [x, y] = pair[1].relative_m(pair[0]);
            let step = Point::from_m(x * t, y * t);
            places.push(Point::new(pair[0].x + step.x, pair[0].y + step.y));
        }
    }
    places
}

fn joined(before: Option<Way>, next: Way) -> Way {
    let Some(mut whole) = before else { return next };
    whole.line.extend(next.line);
    whole.line.dedup();
    whole.length_m += next.length_m;
    let narrower = |a: Narrow, b: Narrow| if b.clear_m < a.clear_m { b } else { a };
    whole.narrowest = match (whole.narrowest, next.narrowest) {
        (Some(a), Some(b)) => Some(narrower(a, b)),
        (a, b) => a.or(b),
    };
    whole
}
