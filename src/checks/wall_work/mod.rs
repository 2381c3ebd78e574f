//! Drawn walls: their heights, what loads them, what they stand on, tiers, drains.
//!
//! Finds, and says what the engineer is asked; the numbers stand on the engineer's page. Nothing
//! here is a verdict on a wall.

mod above;
mod engineer;
mod ground;
mod heights;
mod numbers;

use crate::design::WallPlan;
use crate::earthwork::{WallPoint, WallQuantities, wall_quantities};

use super::{Checked, Context, Finding, Measure, Severity};

use above::Around;
use numbers::sections;

pub use above::{Surcharge, Tier, What};
pub use numbers::{WallCase, WallSection};

/// A wall as it is built.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize)]
pub struct WallWork {
    /// Heights, courses, stone, soil.
    #[serde(flatten)]
    pub quantities: WallQuantities,
    /// What loads the soil behind it.
    pub surcharges: Vec<Surcharge>,
    /// Walls above that act together with it.
    pub tiers: Vec<Tier>,
    /// What water it holds, and where, metres along it.
    pub holds_water: Option<(String, f64)>,
    /// Sections for the engineer, the highest first.
    pub sections: Vec<WallSection>,
}

/// Rules that drawn walls alone can answer.
const OF_DRAWN: [&str; 6] = ["WL-4", "WL-6", "WL-7", "WL-8", "WL-10", "WL-12"];
/// Rules that are answered for walls that are needed as well.
const OF_NEEDED_TOO: [&str; 4] = ["WL-1", "WL-2", "WL-3", "WL-9"];

pub(super) fn check(context: &Context, out: &mut Checked) {
    let walls = wall_quantities(context.design, context.terrain.origin);
    if walls.is_empty() {
        for id in OF_DRAWN {
            out.missing(id, "no wall is drawn");
        }
        for id in OF_NEEDED_TOO {
            out.looked(id, "no wall is drawn");
        }
        return;
    }
    let keep_offs = std::mem::take(&mut out.keep_offs);
    let around = Around::new(context, &keep_offs);
    for wall in &walls {
        let feature = &context.design.features[wall.feature];
        let Some(plan) = feature.laid.wall.as_deref() else {
            continue;
        };
        let surcharges = around.surcharges(plan, wall);
        let work = WallWork {
            sections: sections(context, plan, wall, &surcharges),
            tiers: around.tiers(plan, wall, &walls),
            holds_water: around.holds_water(plan, wall),
            quantities: wall.clone(),
            surcharges,
        };
        let drawn = Drawn {
            context,
            plan,
            work: &work,
        };
        drawn.heights(out);
        drawn.loads(out);
        drawn.tiers(out);
        drawn.under(&around, out);
        drawn.water(out);
        drawn.numbers(out);
        drawn.order(out);
        out.wall_works.push(work);
    }
    out.keep_offs = keep_offs;
}

/// A wall with what is known of it.
struct Drawn<'a> {
    context: &'a Context<'a>,
    plan: &'a WallPlan,
    work: &'a WallWork,
}

impl Drawn<'_> {
    fn name(&self) -> &str {
        &self.work.quantities.name
    }

    fn length(&self, m: f64) -> String {
        self.context.show().length(m)
    }

    /// A hard height with its unit: limits of walls are held to a hundredth of a foot.
    fn height(&self, m: f64) -> String {
        self.context.show().level_with_unit(m)
    }

    /// A finding at a station.
    fn find(
        &self,
        ids: &'static [&'static str],
        severity: Severity,
        station_m: f64,
        words: String,
    ) -> Finding {
        let p = self.plan.line.at(station_m);
        Finding {
            ids,
            feature: Some(self.name().to_owned()),
            place: format!(
                "{} along it, {}",
                self.length(station_m),
                self.context.place(p)
            ),
            at_m: Some(self.context.absolute(p)),
            caution: (severity <= Severity::Warn).then_some(4),
            ..Finding::new("wall", severity, words)
        }
    }

    fn highest(&self, height: impl Fn(&WallPoint) -> f64) -> Option<&WallPoint> {
        let points = self.work.quantities.stations.iter();
        points.reduce(|a, b| if height(b) > height(a) { b } else { a })
    }
}

fn metres(value: f64) -> Measure {
    Measure { value, unit: "m" }
}
