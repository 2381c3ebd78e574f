//! Room: a feature that must not pass a line or an area stops there in an upright face.
//!
//! Key: `keep_clear_of = ["North boundary"]`, names of keep-offs.
//!
//! The feature is laid whole; then what was there before is put back on the far side. The face
//! stands on the near side of the line and leans away from it by 0.1 mm in a metre.

use crate::diag::{At, Diagnostic};
use crate::geom::{Point, Ring, distance_m, orient_sign};
use crate::job::Table;
use crate::surface::{ComposeError, Label, Patch, Rule, Surface, SurfacePart};

use super::shape::upright_round;
use super::{KeepOffPlace, Step};

/// Reads `keep_clear_of`.
pub(super) fn read(
    table: &mut Table,
    diagnostics: &mut Vec<Diagnostic>,
) -> Option<(Vec<String>, At)> {
    table.texts("keep_clear_of", diagnostics)
}

/// An area that a feature keeps clear of.
#[derive(Clone, Debug)]
pub(super) struct KeptClear {
    /// Name of the keep-off.
    pub(super) name: String,
    /// The area; of a line the far side.
    pub(super) ring: Ring,
    /// The line along which a face may stand.
    pub(super) line: Vec<Point>,
    /// Label of the face.
    pub(super) face: Label,
}

/// A place of a face.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct FaceStation {
    /// Distance along the line of the keep-off, metres.
    pub station_m: f64,
    /// Plan position.
    #[serde(skip)]
    pub p: Point,
    /// Level of what was there before, metres.
    pub before_m: f64,
    /// Level the feature would have there, metres.
    pub shape_m: f64,
}

/// Where a feature stops at a keep-off instead of passing it.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Stop {
    /// Name of the keep-off.
    pub keep_off: String,
    /// Both levels at every break along its line; the whole line, also where they agree.
    pub stations: Vec<FaceStation>,
}

/// Floor or crest of a feature in plan.
pub(super) struct Core<'a> {
    pub(super) points: &'a [Point],
    pub(super) is_outline: bool,
}

impl Core<'_> {
    /// True if one of its sides crosses one of a ring.
    fn crosses(&self, ring: &Ring) -> bool {
        let closing = (self.points.last().zip(self.points.first())).filter(|_| self.is_outline);
        let own = self.points.windows(2).map(|w| (w[0], w[1]));
        own.chain(closing.map(|(&a, &b)| (a, b))).any(|(a, b)| {
            let parts = |a, b, c, d| orient_sign(a, b, c) * orient_sign(a, b, d) < 0;
            ring.sides()
                .any(|(c, d)| parts(a, b, c, d) && parts(c, d, a, b))
        })
    }
}

/// The area beyond a line, seen from a place: the line goes on straight at its ends.
///
/// # Errors
///
/// `None` if the line turns back so much that it has no far side
pub(super) fn far_side(line: &[Point], from: Point, reach_m: f64) -> Option<Ring> {
    let n = line.len();
    let ahead = |a: Point, b: Point| {
        let [x, y] = b.relative_m(a);
        let length = x.hypot(y);
        [x / length, y / length]
    };
    let (first, last) = (line[0], line[n - 1]);
    let moved = |p: Point, [x, y]: [f64; 2], by: f64| {
        let step = Point::from_m(x * by, y * by);
        Point::new(p.x + step.x, p.y + step.y)
    };
    let reach_m = reach_m
        + line
            .iter()
            .map(|&p| distance_m(p, from))
            .fold(0.0, f64::max);
    let start = moved(first, ahead(line[1], first), reach_m);
    let end = moved(last, ahead(line[n - 2], last), reach_m);
    // Away from the place, square to the chord.
    let [x, y] = ahead(start, end);
    let side = f64::from(orient_sign(start, end, from));
    let away = [y * side, -x * side];
    let mut corners = vec![start];
    corners.extend(line);
    corners.push(end);
    corners.push(moved(end, away, 2.0 * reach_m));
    corners.push(moved(start, away, 2.0 * reach_m));
    let ring = Ring::new(&corners).ok()?;
    (!ring.contains(from)).then_some(ring)
}

impl KeptClear {
    /// The ring of a keep-off, for a feature with this floor or crest.
    ///
    /// # Errors
    ///
    /// the feature stands on it, or on both sides of it
    pub(super) fn of(
        place: &KeepOffPlace,
        core: &Core,
        reach_m: f64,
        face: Label,
        at: &At,
    ) -> Result<KeptClear, Diagnostic> {
        let refuse = |message: String, help: &str| {
            Err(Diagnostic::error("no-room", message)
                .at(at.clone())
                .help(help))
        };
        let ring = match &place.area {
            Some(ring) => ring.clone(),
            None => match (core.points)
                .first()
                .and_then(|&p| far_side(&place.line, p, reach_m))
            {
                Some(ring) => ring,
                None => {
                    return refuse(
                        format!(
                            "\"{}\" turns back on itself, or the feature lies on it, so it has no far side",
                            place.name
                        ),
                        "draw it as an area",
                    );
                }
            },
        };
        if core.points.iter().any(|&p| ring.contains(p)) || core.crosses(&ring) {
            return refuse(
                format!(
                    "the floor or crest of this feature lies in \"{}\" in part, so nothing is left to stop there",
                    place.name
                ),
                "move the feature to one side of it",
            );
        }
        Ok(KeptClear {
            name: place.name.clone(),
            ring,
            line: place.line.clone(),
            face,
        })
    }

    /// The steps that put back what was there before, from the levels `low` to `high` at which
    /// the feature may have left the surface.
    fn put_back(&self, part: &SurfacePart, low: f64, high: f64) -> [Step; 2] {
        let top = part.border.iter().flat_map(|e| e.ends).map(|c| c.z);
        let (least, most) = top.fold((high, low), |(a, b), z| (a.min(z), b.max(z)));
        let step = |rule: Rule, rise: f64| {
            let mut patch = Patch::new();
            for (pieces, source) in &part.facets {
                patch.add_in_plane(pieces, source.plane, source.label);
            }
            upright_round(&mut patch, &self.ring, &part.border, rise, self.face);
            Step { rule, patch }
        };
        // A face more than reaches the level the feature may have gone to.
        let margin = 0.01;
        [
            step(Rule::Raise, -((most - low).max(0.0) + margin)),
            step(Rule::Lower, (high - least).max(0.0) + margin),
        ]
    }
}

/// What was there before inside each area.
pub(super) fn parts_before(
    surface: &Surface,
    clear: &[KeptClear],
    low: Point,
    high: Point,
) -> Result<Vec<SurfacePart>, ComposeError> {
    clear
        .iter()
        .map(|c| surface.part_inside(&c.ring, low, high))
        .collect()
}

/// Steps that put back what was there before, and where the feature would have gone.
pub(super) fn stops(
    clear: &[KeptClear],
    parts: &[SurfacePart],
    surface: &Surface,
    z_range: (f64, f64),
) -> (Vec<Step>, Vec<Stop>) {
    let mut steps = Vec::new();
    let mut stops = Vec::new();
    for (clear, part) in clear.iter().zip(parts) {
        if part.facets.is_empty() {
            continue;
        }
        steps.extend(clear.put_back(part, z_range.0, z_range.1));
        stops.push(Stop {
            keep_off: clear.name.clone(),
            stations: stations(clear, part, surface),
        });
    }
    (steps, stops)
}

/// Levels before and with the feature along the line, at every break of both.
fn stations(clear: &KeptClear, part: &SurfacePart, surface: &Surface) -> Vec<FaceStation> {
    let shape = surface.profile(&clear.line);
    let mut stations: Vec<FaceStation> = Vec::new();
    let mut walked = 0.0;
    for pair in clear.line.windows(2) {
        let length = distance_m(pair[0], pair[1]);
        // The border on this stretch, as distances along it.
        let mut own: Vec<(f64, f64)> = part
            .border
            .iter()
            .filter(|e| {
                let (a, b) = clear.ring.sides().nth(e.side).unwrap_or_default();
                (a, b) == (pair[0], pair[1]) || (b, a) == (pair[0], pair[1])
            })
            .flat_map(|e| e.ends)
            .map(|c| (distance_m(pair[0], c.p), c.z))
            .collect();
        own.sort_by(|a, b| a.0.total_cmp(&b.0));
        own.dedup_by(|a, b| a.0 == b.0);
        let breaks = shape.runs.iter().flatten().map(|q| q.distance_m - walked);
        let mut at: Vec<f64> = own.iter().map(|o| o.0).collect();
        if let (Some(first), Some(last)) = (own.first(), own.last()) {
            at.extend(breaks.filter(|&s| s > first.0 && s < last.0));
        }
        at.sort_by(f64::total_cmp);
        at.dedup();
        for s in at {
            let k = own
                .partition_point(|o| o.0 < s)
                .clamp(1, own.len().max(2) - 1);
            let (Some(&(s0, z0)), Some(&(s1, z1))) = (own.get(k - 1), own.get(k)) else {
                continue;
            };
            let t = if s1 > s0 { (s - s0) / (s1 - s0) } else { 0.0 };
            let before_m = z0 + t * (z1 - z0);
            let Some(shape_m) = shape.z_at(walked + s) else {
                continue;
            };
            let [dx, dy] = pair[1].relative_m(pair[0]).map(|d| d / length * s);
            let step = Point::from_m(dx, dy);
            stations.push(FaceStation {
                station_m: walked + s,
                p: Point::new(pair[0].x + step.x, pair[0].y + step.y),
                before_m,
                shape_m,
            });
        }
        walked += length;
    }
    stations
}
