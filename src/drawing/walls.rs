//! Walls that are needed: a plan of all of them, and the face of each, true to scale.
//!
//! Takes the walls of an outcome, gives sheets of A4: the plan first, then as many faces on a
//! sheet as fit. The heights written are the outcome's.

use super::canvas::{Canvas, Grid, Written, bar, draw};
use super::ink::{Anchor, fit};
use super::scale::{Paper, Scale, round_step};
use super::section::{BELOW_MM, EXISTING, LEFT_MM, RIGHT_MM, benchmark, heading, level_range};
use super::{ZONE_GREY, width_mm};
use crate::checks::{Wall, WallStation};
use crate::outcome::Outcome;
use crate::show::Show;

/// Where drawings begin below the title of a sheet, mm.
const TOP_MM: f64 = 30.0;

/// The plan may be this tall, mm.
const PLAN_MM: f64 = 76.0;

/// A face may be this tall, mm.
const FACE_MM: f64 = 62.0;

/// Above a face stand its title and numbers, below it the stations and the bar, mm.
const ABOVE_FACE_MM: f64 = 16.0;
const BELOW_FACE_MM: f64 = 24.0;

/// Heights are written this far apart at least, mm.
const APART_MM: f64 = 13.0;

/// A part of a sheet: how tall it is, and how it is drawn from a height on.
struct Block<'a> {
    height_mm: f64,
    ink: Ink<'a>,
}

/// Draws a part from a height on.
type Ink<'a> = Box<dyn Fn(&Canvas<'_>, f64) + 'a>;

/// Sheets with the walls of a job; none if no wall is needed.
///
/// # Units
///
/// the SVG's user unit is a hundredth of a millimetre on paper
pub fn walls(outcome: &Outcome) -> Vec<String> {
    if outcome.walls.is_empty() {
        return Vec::new();
    }
    let mut blocks = vec![plan(outcome)];
    let faces = outcome.walls.iter().enumerate();
    blocks.extend(faces.map(|(k, wall)| face(outcome, k, wall)));
    let room = Paper::A4.height_mm - TOP_MM - 8.0;
    let mut sheets: Vec<Vec<Block>> = Vec::new();
    let mut left = 0.0;
    for block in blocks {
        if block.height_mm > left || sheets.is_empty() {
            sheets.push(Vec::new());
            left = room;
        }
        left -= block.height_mm;
        if let Some(sheet) = sheets.last_mut() {
            sheet.push(block);
        }
    }
    let count = sheets.len();
    sheets
        .iter()
        .enumerate()
        .map(|(k, sheet)| {
            let title = format!("Walls needed, sheet {} of {count}", k + 1);
            let height: f64 = sheet.iter().map(|b| b.height_mm).sum();
            let height = (TOP_MM + height + 8.0).max(TOP_MM + BELOW_MM);
            draw(Paper::A4.width_mm, height, &title, |canvas| {
                let line = "Exposed heights; the base is buried deeper. No wall is designed here: sliding, overturning and bearing are for an engineer.";
                heading(canvas, &title, &[line.to_owned()], outcome);
                let mut y = TOP_MM;
                for block in sheet {
                    (block.ink)(canvas, y);
                    y += block.height_mm;
                }
            })
        })
        .collect()
}

/// Soil above and below the wall, metres.
fn top(s: &WallStation) -> f64 {
    s.ground_m.max(s.finished_m)
}

fn low(s: &WallStation) -> f64 {
    s.ground_m.min(s.finished_m)
}

/// The base below the ground at a station: the same share of the height everywhere.
fn base(wall: &Wall, s: &WallStation) -> f64 {
    low(s) - wall.buried_m * s.height_m / wall.max_height_m
}

fn face<'a>(outcome: &'a Outcome, number: usize, wall: &'a Wall) -> Block<'a> {
    let show = Show::new(outcome.job.units);
    let stations = wall.stations.iter();
    let levels = level_range(stations.flat_map(|s| [top(s), base(wall, s)]));
    let room = [Paper::A4.width_mm - LEFT_MM - RIGHT_MM, FACE_MM - 14.0];
    let size = [wall.length_m, levels[1] - levels[0]];
    let scale = Scale::fitting(show.unit(), size, room);
    let k = scale.mm_per_m();
    let grid = Grid::new([LEFT_MM, 0.0], wall.length_m, levels, k, 1.0, show);
    let height_mm = grid.size_mm()[1] + ABOVE_FACE_MM + BELOW_FACE_MM;
    let ink = move |canvas: &Canvas<'_>, y: f64| {
        let mut grid = grid;
        grid.corner[1] = y + ABOVE_FACE_MM;
        let title = format!(
            "W{}: {} along \"{}\", {} long, up to {} exposed, {} of face",
            number + 1,
            wall.feature,
            wall.keep_off,
            show.length(wall.length_m),
            show.level_with_unit(wall.max_height_m),
            show.area(wall.face_m2)
        );
        let width = Paper::A4.width_mm - 24.0;
        let title = fit(&title, 3.0, width);
        canvas.text([12.0, y + 3.0], Anchor::Start, &Written::bold(&title, 2.9));
        let what = if wall.holds_fill {
            "Thick: soil to hold; dashed: ground before it; fine dashes: bottom of the footing; grey: the side at the limit slope, where it is another."
        } else {
            "Thick: ground to hold; dashed: level dug to; fine dashes: bottom of the footing; grey: the side at the limit slope, where it is another."
        };
        let words = fit(what, 2.5, width);
        canvas.text([12.0, y + 7.4], Anchor::Start, &Written::plain(&words));
        elevation(canvas, &grid, show, wall);
        let along = format!("station, {}", show.length_unit());
        grid.axes(canvas, show, &along, benchmark(outcome));
        let bottom = grid.corner[1] + grid.size_mm()[1];
        bar(
            canvas,
            [LEFT_MM + 40.0, bottom + 11.5],
            k,
            show,
            &format!("true scale, {}", scale.words),
        );
    };
    Block {
        height_mm,
        ink: Box::new(ink),
    }
}

/// The face with its lines and heights.
fn elevation(canvas: &Canvas<'_>, grid: &Grid, show: Show, wall: &Wall) {
    let line = |level: &dyn Fn(&WallStation) -> f64| -> Vec<[f64; 2]> {
        let stations = wall.stations.iter();
        stations.map(|s| grid.at(s.station_m, level(s))).collect()
    };
    let (above, below) = (line(&top), line(&low));
    let mut ring = above.clone();
    ring.extend(below.iter().rev());
    canvas.area(&ring, "#E4E4E0");
    canvas.line(&above, width_mm::HEAVY, "#000000");
    canvas.dashed(&below, EXISTING, width_mm::MIDDLE, "#000000");
    let footing = line(&|s| base(wall, s));
    canvas.dashed(&footing, [0.8, 0.8], width_mm::THIN, "#000000");
    if wall.stations.iter().any(differs) {
        let at_limit = line(&|s| match (s.limit_height_m, wall.holds_fill) {
            (Some(h), true) => low(s) + h,
            (Some(h), false) => top(s) - h,
            (None, _) => top(s),
        });
        canvas.dashed(&at_limit, [3.0, 0.8], width_mm::THIN, ZONE_GREY);
    }
    let mut last = f64::NEG_INFINITY;
    for s in heights(wall, APART_MM / grid.mm_per_m) {
        let (a, b) = (grid.at(s.station_m, top(s)), grid.at(s.station_m, low(s)));
        canvas.line(&[a, b], width_mm::HATCH, "#000000");
        let words = show.level(s.height_m);
        // At its ends a wall has no height to speak of, and the axis stands there.
        if s.height_m < 0.1 * wall.max_height_m {
            continue;
        }
        if a[0] - last >= APART_MM * 0.9 {
            canvas.text_on_white([a[0], a[1] - 2.6], &Written::plain(&words));
            last = a[0];
        }
    }
}

/// True if the limit slope asks for another height.
fn differs(s: &WallStation) -> bool {
    /// A hard level, metres.
    const SAME_M: f64 = 0.003;
    s.limit_height_m
        .is_some_and(|h| (h - s.height_m).abs() > SAME_M)
}

/// Stations whose heights are written: the highest, and evenly between, along the wall.
fn heights(wall: &Wall, apart_m: f64) -> Vec<&WallStation> {
    let mut highest: Option<&WallStation> = None;
    for s in &wall.stations {
        if highest.is_none_or(|h| s.height_m > h.height_m) {
            highest = Some(s);
        }
    }
    let mut chosen: Vec<&WallStation> = highest.into_iter().collect();
    for s in &wall.stations {
        let far = |c: &&WallStation| (c.station_m - s.station_m).abs() >= apart_m;
        if chosen.iter().all(far) {
            chosen.push(s);
        }
    }
    chosen.sort_by(|a, b| a.station_m.total_cmp(&b.station_m));
    chosen
}

/// All walls in plan with their numbers and stations.
fn plan(outcome: &Outcome) -> Block<'_> {
    let show = Show::new(outcome.job.units);
    let places = outcome.walls.iter().flat_map(|w| &w.stations);
    let (mut from, mut to) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for s in places {
        for (axis, m) in [s.x_m, s.y_m].into_iter().enumerate() {
            from[axis] = from[axis].min(m);
            to[axis] = to[axis].max(m);
        }
    }
    // Room round the walls, so that the lines and shapes beside them are seen.
    let margin = 0.15 * (to[0] - from[0]).max(to[1] - from[1]) + 2.0;
    let from = from.map(|m| m - margin);
    let to = to.map(|m| m + margin);
    let width = Paper::A4.width_mm - LEFT_MM - RIGHT_MM;
    let size = [to[0] - from[0], to[1] - from[1]];
    let scale = Scale::fitting(show.unit(), size, [width, PLAN_MM]);
    let k = scale.mm_per_m();
    let field = [size[0] * k, size[1] * k];
    let ink = move |canvas: &Canvas<'_>, y: f64| {
        let corner = [LEFT_MM, y + 4.0];
        let at = |x_m: f64, y_m: f64| {
            [
                corner[0] + (x_m - from[0]) * k,
                corner[1] + field[1] - (y_m - from[1]) * k,
            ]
        };
        let origin = outcome.terrain.origin;
        let of =
            |p: crate::geom::Point| at(p.x_m() + origin.x_m as f64, p.y_m() + origin.y_m as f64);
        let inside = |line: &[[f64; 2]]| clipped(line, corner, field);
        for feature in &outcome.design.features {
            let mut core: Vec<[f64; 2]> = feature.laid.core.iter().map(|&p| of(p)).collect();
            if feature.laid.core_is_outline && !core.is_empty() {
                core.push(core[0]);
            }
            for piece in inside(&core) {
                canvas.line(&piece, width_mm::THIN, ZONE_GREY);
            }
        }
        for keep_off in &outcome.keep_offs {
            let line: Vec<[f64; 2]> = keep_off.line.iter().map(|&p| of(p)).collect();
            for piece in inside(&line) {
                canvas.dashed(&piece, [6.0, 1.5], width_mm::MIDDLE, "#000000");
            }
        }
        for (number, wall) in outcome.walls.iter().enumerate() {
            let line: Vec<[f64; 2]> = wall.stations.iter().map(|s| at(s.x_m, s.y_m)).collect();
            canvas.line(&line, 1.6, "#000000");
            ticks(canvas, show, wall, k, &at);
            let middle = &wall.stations[wall.stations.len() / 2];
            let p = at(middle.x_m, middle.y_m);
            let name = format!("W{}", number + 1);
            // Across from the numbers of the stations.
            let next = &wall.stations[(wall.stations.len() / 2 + 1).min(wall.stations.len() - 1)];
            let q = at(next.x_m, next.y_m);
            let far = (q[0] - p[0]).hypot(q[1] - p[1]).max(1.0e-9);
            let [nx, ny] = [-(q[1] - p[1]) / far, (q[0] - p[0]) / far];
            let place = [p[0] - 5.5 * nx, p[1] - 5.5 * ny];
            canvas.text_on_white(place, &Written::bold(&name, 3.5));
        }
        canvas.frame(corner, field, width_mm::THIN, "#000000");
        let right = corner[0] + field[0] - 5.0;
        canvas.line(
            &[[right, corner[1] + 14.0], [right, corner[1] + 4.0]],
            width_mm::NEW,
            "#000000",
        );
        canvas.text_on_white([right, corner[1] + 2.8], &Written::bold("N", 3.0));
        let bottom = corner[1] + field[1];
        bar(canvas, [LEFT_MM, bottom + 8.0], k, show, &scale.words);
        let words = "thick: wall, ticks and numbers: stations along it; long dashes: keep-off; thin: floors, beds and crests";
        canvas.text(
            [LEFT_MM, bottom + 2.8],
            Anchor::Start,
            &Written::plain(words),
        );
    };
    Block {
        height_mm: field[1] + 26.0,
        ink: Box::new(ink),
    }
}

/// Even stations across a wall, in the unit.
fn ticks(
    canvas: &Canvas<'_>,
    show: Show,
    wall: &Wall,
    mm_per_m: f64,
    at: &dyn Fn(f64, f64) -> [f64; 2],
) {
    let unit = show.unit();
    let step_m = unit.to_m(round_step(unit.from_m(24.0 / mm_per_m)));
    let mut next = 0.0;
    for w in wall.stations.windows(2) {
        while next <= w[1].station_m {
            let length = (w[1].station_m - w[0].station_m).max(f64::MIN_POSITIVE);
            let t = ((next - w[0].station_m) / length).clamp(0.0, 1.0);
            let (a, b) = (at(w[0].x_m, w[0].y_m), at(w[1].x_m, w[1].y_m));
            let p = [0, 1].map(|axis| a[axis] + t * (b[axis] - a[axis]));
            let far = (b[0] - a[0]).hypot(b[1] - a[1]).max(1.0e-9);
            let [nx, ny] = [-(b[1] - a[1]) / far, (b[0] - a[0]) / far];
            canvas.line(
                &[
                    [p[0] - 1.4 * nx, p[1] - 1.4 * ny],
                    [p[0] + 1.4 * nx, p[1] + 1.4 * ny],
                ],
                width_mm::MIDDLE,
                "#000000",
            );
            let words = show.length_number(next);
            canvas.text(
                [p[0] + 4.2 * nx, p[1] + 4.2 * ny],
                Anchor::Middle,
                &Written::plain(&words),
            );
            next += step_m;
        }
    }
}

/// The parts of a line inside a field.
fn clipped(line: &[[f64; 2]], corner: [f64; 2], size: [f64; 2]) -> Vec<Vec<[f64; 2]>> {
    let mut pieces: Vec<Vec<[f64; 2]>> = Vec::new();
    for w in line.windows(2) {
        let (mut from, mut to) = (0.0_f64, 1.0_f64);
        for axis in 0..2 {
            let d = w[1][axis] - w[0][axis];
            for (edge, is_low) in [(corner[axis], true), (corner[axis] + size[axis], false)] {
                let off = if is_low {
                    w[0][axis] - edge
                } else {
                    edge - w[0][axis]
                };
                let change = if is_low { d } else { -d };
                if change == 0.0 {
                    if off < 0.0 {
                        to = -1.0;
                    }
                } else if change > 0.0 {
                    from = from.max(-off / change);
                } else {
                    to = to.min(-off / change);
                }
            }
        }
        if from < to {
            let at = |t: f64| [0, 1].map(|axis| w[0][axis] + t * (w[1][axis] - w[0][axis]));
            pieces.push(vec![at(from), at(to)]);
        }
    }
    pieces
}
