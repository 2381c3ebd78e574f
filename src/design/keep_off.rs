//! Lines and areas that the work must not pass: where they lie.

use crate::diag::{At, Diagnostic};
use crate::geom::{Point, Ring};
use crate::job::{Job, KeepOffKind, KeepOffShape};
use crate::survey::Survey;

/// A keep-off with its places found.
#[derive(Clone, Debug)]
pub struct KeepOffPlace {
    /// What it is called.
    pub name: String,
    /// What it is.
    pub kind: KeepOffKind,
    /// The line; closed for an area.
    pub line: Vec<Point>,
    /// The area, if it is one.
    pub area: Option<Ring>,
    /// Its middle: the line of a band, the centre of a circle, the line itself of a line. Nothing
    /// for an area.
    pub middle: Vec<Point>,
}

/// Corners of a circle built of straight sides.
const CIRCLE_CORNERS: usize = 72;

/// Finds the places of all keep-offs.
///
/// # Errors
///
/// a place that does not exist, an outline that is not usable
pub fn place_keep_offs(job: &Job, survey: &Survey) -> Result<Vec<KeepOffPlace>, Diagnostic> {
    job.keep_offs
        .iter()
        .map(|keep_off| {
            let ring = |corners: &[Point], at: &At| {
                Ring::new(corners).map_err(|fault| {
                    Diagnostic::error(
                        "bad-outline",
                        format!("the area of \"{}\" is not usable: {fault}", keep_off.name),
                    )
                    .at(at.clone())
                    .help("list the corners in walking order, each once; for a band along a line, leave out short jogs or draw two lines")
                })
            };
            let points = |places| -> Result<Vec<Point>, Diagnostic> {
                let mut points: Vec<Point> = survey.resolve(places)?.iter().map(|p| p.p).collect();
                points.dedup();
                Ok(points)
            };
            let mut middle = Vec::new();
            let (line, area) = match &keep_off.shape {
                KeepOffShape::Line(places) => {
                    let line = points(places)?;
                    middle.clone_from(&line);
                    if line.len() < 2 {
                        return Err(Diagnostic::error(
                            "short-line",
                            "a keep-off line needs two different points",
                        )
                        .at(places.at.clone())
                        .help("add a point, or give a centre and a radius"));
                    }
                    (line, None)
                }
                KeepOffShape::Area(places) => closed(ring(&points(places)?, &places.at)?),
                KeepOffShape::Circle {
                    centre,
                    radius,
                    at,
                } => {
                    let (centre, _) = survey.resolve_place(centre, at)?;
                    middle.push(centre);
                    closed(ring(&circle(centre, radius.metres(&job.limits)), at)?)
                }
                KeepOffShape::Band { line, half_width_m } => {
                    middle = points(line)?;
                    closed(ring(&band(&middle, *half_width_m), &line.at)?)
                }
            };
            Ok(KeepOffPlace {
                name: keep_off.name.clone(),
                kind: keep_off.kind,
                line,
                area,
                middle,
            })
        })
        .collect()
}

fn closed(ring: Ring) -> (Vec<Point>, Option<Ring>) {
    let mut line = ring.corners().to_vec();
    line.push(line[0]);
    (line, Some(ring))
}

fn circle(centre: Point, radius_m: f64) -> Vec<Point> {
    (0..CIRCLE_CORNERS)
        .map(|k| {
            let (sin, cos) = (std::f64::consts::TAU * k as f64 / CIRCLE_CORNERS as f64).sin_cos();
            let step = Point::from_m(radius_m * cos, radius_m * sin);
            Point::new(centre.x + step.x, centre.y + step.y)
        })
        .collect()
}

/// A band along a line, mitred at its bends, square at its ends.
fn band(line: &[Point], half_m: f64) -> Vec<Point> {
    let n = line.len();
    if n < 2 {
        return Vec::new();
    }
    let direction = |k: usize| {
        let [x, y] = line[k + 1].relative_m(line[k]);
        let length = x.hypot(y);
        [x / length, y / length]
    };
    let mut sides: [Vec<Point>; 2] = [Vec::new(), Vec::new()];
    for (k, &bend) in line.iter().enumerate() {
        let before = direction(k.saturating_sub(1).min(n - 2));
        let after = direction(k.min(n - 2));
        let sum = [before[0] + after[0], before[1] + after[1]];
        let square = (sum[0] * sum[0] + sum[1] * sum[1]).max(0.25);
        // Half the sum over its square: the mitre point at unit distance from both stretches.
        let out = [-sum[1] * 2.0 / square, sum[0] * 2.0 / square];
        for (side, sign) in sides.iter_mut().zip([1.0, -1.0]) {
            let step = Point::from_m(out[0] * half_m * sign, out[1] * half_m * sign);
            side.push(Point::new(bend.x + step.x, bend.y + step.y));
        }
    }
    let [mut left, right] = sides;
    left.extend(right.into_iter().rev());
    left
}
