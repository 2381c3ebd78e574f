//! What barrows go round, by name: buildings, boundaries, trunks, banks, walls, piles, open digs.

use crate::design::{Feature, KeepOffPlace};
use crate::geom::{Point, Ring};
use crate::job::{KeepOffKind, limits};
use crate::route::{Obstacle, Shape, steep_banks};

use super::super::Context;
use super::super::footprint::{Footprint, is_dig};
use super::gates::{GatePlace, opened};

/// A bank lower than this is stepped over with a board, metres: 4 in (common practice, no
/// source).
const STEP_M: f64 = 0.1;

/// Banks with more corners than this in all are left out, and it is said: a ground of a scan.
const MOST_CORNERS: usize = 3_000;

/// Obstacles with the names they have in words.
#[derive(Clone, Debug, Default)]
pub(super) struct Barriers {
    pub(super) names: Vec<String>,
    pub(super) obstacles: Vec<Obstacle>,
    /// Width of what goes round them, metres.
    pub(super) width_m: f64,
    /// Obstacles of features: number of the feature, of the obstacle.
    pub(super) of_features: Vec<(usize, usize)>,
    /// True if the ground has too many steep places to go round each.
    pub(super) banks_left_out: bool,
}

/// True for what people work on with boards across, or fill again the same day.
fn is_passed_over(feature: &Feature) -> bool {
    feature.laid.is_refilled()
}

impl Barriers {
    /// Everything in the way of a width, metres.
    pub(super) fn of(
        context: &Context,
        keep_offs: &[KeepOffPlace],
        gates: &[GatePlace],
        footprints: &[Footprint],
        width_m: f64,
    ) -> Barriers {
        let mut barriers = Barriers {
            width_m,
            ..Barriers::default()
        };
        let gates: Vec<GatePlace> = gates.iter().map(|g| g.at_least(width_m)).collect();
        for keep_off in keep_offs {
            barriers.add_keep_off(context, keep_off, &gates);
        }
        for hole in &context.terrain.holes {
            barriers.add("a hole in the survey", area(hole), 0.0);
        }
        for area_of in &context.terrain.no_data {
            barriers.add("an area without data", area(&area_of.ring), 0.0);
        }
        barriers.add_banks(context);
        let setback_m = context.job.limits.get(&limits::EDGE_SETBACK).value;
        for (number, feature) in context.design.features.iter().enumerate() {
            let footprint = &footprints[number];
            let margin_m = match feature.kind {
                "wall" | "pile" => 0.0,
                _ if is_dig(feature) && !is_passed_over(feature) => setback_m,
                _ => continue,
            };
            if !footprint.is_empty() {
                barriers.of_features.push((number, barriers.names.len()));
                barriers.add(&feature.name, shape(&footprint.rims), margin_m);
            }
        }
        barriers
    }

    fn add(&mut self, name: &str, shape: Shape, margin_m: f64) {
        self.names.push(name.to_owned());
        self.obstacles.push(Obstacle { shape, margin_m });
    }

    fn add_keep_off(&mut self, context: &Context, keep_off: &KeepOffPlace, gates: &[GatePlace]) {
        let name = format!("\"{}\"", keep_off.name);
        match (keep_off.kind, &keep_off.area) {
            (KeepOffKind::Service, _) => {}
            (KeepOffKind::Roots, area) => {
                // The circle is the trunk times the user's factor, whichever of both was given.
                let factor = context.job.limits.get(&limits::ROOTS_PER_TRUNK).value;
                if let (Some(&centre), Some(area)) = (keep_off.middle.first(), area) {
                    let reach = area.corners().first().copied().unwrap_or(centre);
                    let radius_m = crate::geom::distance_m(centre, reach) / factor / 2.0;
                    let trunk = Shape::Disc { centre, radius_m };
                    self.add(&format!("the trunk of {name}"), trunk, 0.0);
                }
            }
            (KeepOffKind::Building | KeepOffKind::Other, Some(ring)) => {
                self.add(&name, area(ring), 0.0);
            }
            _ => self.add(&name, Shape::Lines(opened(keep_off, gates)), 0.0),
        }
    }

    fn add_banks(&mut self, context: &Context) {
        let steepest = context.job.limits.get(&limits::BARROW_BANK).value;
        let banks = steep_banks(&context.terrain.surface, steepest, STEP_M);
        let corners = |bank: &Obstacle| match &bank.shape {
            Shape::Lines(lines) => lines.iter().map(Vec::len).sum(),
            _ => 0usize,
        };
        if banks.iter().map(corners).sum::<usize>() > MOST_CORNERS {
            self.banks_left_out = true;
            return;
        }
        for bank in banks {
            self.add("a steep bank", bank.shape, 0.0);
        }
    }

    /// The obstacle of a feature.
    pub(super) fn of_feature(&self, feature: usize) -> Option<usize> {
        let mut of = self.of_features.iter();
        of.find(|(f, _)| *f == feature).map(|(_, o)| *o)
    }
}

fn area(ring: &Ring) -> Shape {
    Shape::Area(vec![ring.clone()])
}

/// Rims as an area; as lines where a rim touches itself.
fn shape(rims: &[Vec<Point>]) -> Shape {
    let rings: Result<Vec<Ring>, _> = rims.iter().map(|rim| Ring::new(rim)).collect();
    match rings {
        Ok(rings) => Shape::Area(rings),
        Err(_) => Shape::Lines(rims.to_vec()),
    }
}
