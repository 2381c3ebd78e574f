//! How high a wall is, what loads the soil behind it, and walls above it.

use crate::earthwork::WallPoint;
use crate::job::limits;

use super::super::{Checked, Finding, Severity};
use super::above::What;
use super::{Drawn, metres};

/// Heights closer than this to a limit are at it, metres: a nanometre times what sums up.
const AT_LIMIT_M: f64 = 1.0e-6;

impl Drawn<'_> {
    /// WL-1 and WL-3.
    pub(super) fn heights(&self, out: &mut Checked) {
        let Some(point) = self.highest(|p| p.total_m) else {
            return;
        };
        let limits = &self.context.job.limits;
        let is_own = limits.set_by_user.iter().any(|k| k == "wall_height");
        let (limit_m, from) = (
            limits.wall_height_m,
            match is_own {
                true => "your limit".to_owned(),
                false => "IRC R105.2, IBC 105.2; local rule governs; yours to change in [limits]"
                    .to_owned(),
            },
        );
        let exposed = match point.exposed_m {
            Some(m) => format!("{} above the ground before it", self.height(m)),
            None => "with no ground known before it".to_owned(),
        };
        let both = format!(
            "{} stands {exposed} and is {} high from the bottom of {} to its top",
            self.name(),
            self.height(point.total_m),
            match self.plan.base_stone {
                Some(_) => "its base stone",
                None => "its first course",
            }
        );
        out.looked("WL-1", both.clone());
        if point.total_m > limit_m + AT_LIMIT_M {
            let over = point.total_m - limit_m;
            out.find(Finding {
                measured: Some(metres(point.total_m)),
                limit: Some(metres(limit_m)),
                limit_from: from,
                cure: format!(
                    "ask the permit office and an engineer; or lower the top by {}, or part it into tiers",
                    self.height(over)
                ),
                ..self.find(
                    &["WL-1"],
                    Severity::Warn,
                    point.station_m,
                    format!("{both}, over {}: many places ask for a permit above that", self.height(limit_m)),
                )
            });
        }
        // What is held counts to the top of the wall at most.
        let held = |p: &WallPoint| match (p.front_m, p.behind_m) {
            (Some(front), Some(behind)) => behind.min(p.top_m) - front,
            _ => f64::NEG_INFINITY,
        };
        let Some(point) = self.highest(held).filter(|p| held(p).is_finite()) else {
            out.missing(
                "WL-3",
                format!("no ground is known before and behind {}", self.name()),
            );
            return;
        };
        let held = held(point);
        let limit = limits.get(&limits::DESIGNED_WALL);
        out.looked(
            "WL-3",
            format!("{} holds {}", self.name(), self.height(held.max(0.0))),
        );
        if held > limit.value + AT_LIMIT_M {
            out.find(Finding {
                measured: Some(metres(held)),
                limit: Some(metres(limit.value)),
                limit_from: limit.from,
                cure: format!(
                    "have it designed; or lower what it holds by {}, or part it into tiers",
                    self.height(held - limit.value)
                ),
                ..self.find(
                    &["WL-3"],
                    Severity::Warn,
                    point.station_m,
                    format!(
                        "{} holds {} of soil, more than {}: a wall that holds so much and is not held at its top has to be designed, not just built",
                        self.name(),
                        self.height(held),
                        self.height(limit.value)
                    ),
                )
            });
        }
    }

    /// WL-2.
    pub(super) fn loads(&self, out: &mut Checked) {
        let limit = self.context.job.limits.get(&limits::SURCHARGE_REACH);
        let reach = format!("within {:.1} times its height behind it", limit.value);
        if self.work.surcharges.is_empty() {
            out.looked(
                "WL-2",
                format!(
                    "nothing is drawn {reach} of {}; loads that are not drawn are not known",
                    self.name()
                ),
            );
        }
        for load in &self.work.surcharges {
            let where_ = match load.what {
                What::Slope => "rises behind it".to_owned(),
                _ => format!("lies {} behind its back", self.length(load.distance_m)),
            };
            let need = self.highest(|p| p.body_m).map_or(0.0, |p| p.body_m) * limit.value;
            out.find(Finding {
                measured: Some(metres(load.distance_m)),
                limit: Some(metres(need)),
                limit_from: limit.from.clone(),
                cure: match load.what {
                    What::Slope => format!("let the ground behind lie level over {}, or ask an engineer", self.length(need)),
                    _ => format!(
                        "move one of the two so that they are {} apart ({} more), or ask an engineer",
                        self.length(need),
                        self.length((need - load.distance_m).max(0.0))
                    ),
                },
                ..self.find(
                    &["WL-2"],
                    Severity::Warn,
                    load.station_m,
                    format!("{} loads the soil behind {}: it {where_}. For the engineer: a wall that carries more than level soil is no wall of the usual kind, whatever its height", load.words, self.name()),
                )
            });
        }
    }

    /// WL-9.
    pub(super) fn tiers(&self, out: &mut Checked) {
        let limit = self.context.job.limits.get(&limits::TIERS);
        if self.work.tiers.is_empty() {
            out.looked(
                "WL-9",
                format!(
                    "no wall stands above {} closer than {:.1} times its height",
                    self.name(),
                    limit.value
                ),
            );
        }
        for tier in &self.work.tiers {
            out.find(Finding {
                measured: Some(metres(tier.distance_m)),
                limit: Some(metres(tier.apart_m)),
                limit_from: limit.from.clone(),
                cure: format!(
                    "move \"{}\" back by {}, or take the two as one wall {} high",
                    tier.name,
                    self.length(tier.apart_m - tier.distance_m),
                    self.height(tier.combined_m)
                ),
                ..self.find(
                    &["WL-9"],
                    Severity::Warn,
                    tier.station_m,
                    format!(
                        "{} and \"{}\" act together: their faces are {} apart, less than {:.1} times the height of the lower; their combined height is {}",
                        self.name(),
                        tier.name,
                        self.length(tier.distance_m),
                        limit.value,
                        self.height(tier.combined_m)
                    ),
                )
            });
        }
    }
}
