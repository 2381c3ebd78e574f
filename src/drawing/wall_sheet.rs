//! A drawn wall for the crew: its face from the front with courses and steps, levels below the
//! benchmark, and what it takes.
//!
//! Takes an outcome, gives an SVG. Every number on it is the outcome's.

use super::canvas::{Canvas, Grid, Written, bar, draw};
use super::ink::{Anchor, fit};
use super::region::dots;
use super::scale::{Paper, Scale};
use super::section::{EXISTING, LEFT_MM, RIGHT_MM, TOP_MM, benchmark, heading, level_range};
use super::{ZONE_GREY, width_mm};
use crate::checks::WallWork;
use crate::design::WallPlan;
use crate::outcome::Outcome;
use crate::show::Show;

/// Height of a row of the list of levels, mm: room for a pencil.
const ROW_MM: f64 = 6.0;
/// Columns of the list side by side, and rows in each.
const LIST_COLUMNS: usize = 2;
const LIST_ROWS: usize = 9;
/// Most joints between units that are drawn.
const MOST_JOINTS: usize = 4000;
const WALL_GREY: &str = "#ECECE8";

/// The sheet of a wall; `None` where the wall is not known.
///
/// # Units
///
/// the SVG's user unit is a hundredth of a millimetre on paper
pub fn wall_sheet(outcome: &Outcome, work: &WallWork) -> Option<String> {
    let feature = outcome.design.features.get(work.quantities.feature)?;
    let plan = feature.laid.wall.as_deref()?;
    let show = Show::new(outcome.job.units);
    let wall = &work.quantities;
    let thick = plan.base_stone.map_or(0.0, |s| s.thick_m);
    let grounds = wall
        .stations
        .iter()
        .flat_map(|p| [p.front_m, p.behind_m])
        .flatten();
    let bodies = wall
        .stations
        .iter()
        .flat_map(|p| [p.base_m - thick, p.top_m]);
    let levels = level_range(grounds.chain(bodies));
    let paper = Paper::A4;
    let list_mm = ROW_MM * (LIST_ROWS as f64 + 1.0) + 14.0;
    let room = [
        paper.width_mm - LEFT_MM - RIGHT_MM,
        paper.height_mm - TOP_MM - list_mm - 24.0,
    ];
    let scale = Scale::fitting(show.unit(), [wall.length_m, levels[1] - levels[0]], room);
    let mm = scale.mm_per_m();
    let grid = Grid::new([LEFT_MM, TOP_MM], wall.length_m, levels, mm, 1.0, show);
    let bottom = TOP_MM + grid.size_mm()[1];
    let title = format!("Wall sheet: {}", wall.name);
    let from = if plan.side > 0.0 { "left" } else { "right" };
    let lines = [
        format!(
            "the foot of its face unrolled from its start; the soil it holds lies to the {from} of the line"
        ),
        format!(
            "True scale: {}. Levels of the underside of the first course and of the top.",
            scale.words
        ),
    ];
    let height = bottom + 22.0 + list_mm;
    Some(draw(paper.width_mm, height, &title, |canvas| {
        heading(canvas, &title, &lines, outcome);
        face(canvas, &grid, plan, thick);
        let along = format!("along the foot of the face, {}", show.length_unit());
        grid.axes(canvas, show, &along, benchmark(outcome));
        profiles(canvas, &grid, work);
        bar(canvas, [LEFT_MM + 50.0, bottom + 9.5], mm, show, "");
        let key = "heavy: finished ground before the wall; dashes: ground behind";
        canvas.text(
            [LEFT_MM + 120.0, bottom + 9.5],
            Anchor::Start,
            &Written::plain(key),
        );
        list(canvas, outcome, work, [12.0, bottom + 20.0]);
        quantities(canvas, show, work, plan, [206.0, bottom + 20.0]);
    }))
}

/// Courses, joints, cap, base stone.
fn face(canvas: &Canvas<'_>, grid: &Grid, plan: &WallPlan, thick: f64) {
    let cap = plan.cap_m.unwrap_or(0.0);
    let mut left = MOST_JOINTS;
    for stretch in &plan.stretches {
        let (from, to, base) = (stretch.from_m, stretch.to_m, stretch.base_z_m);
        if thick > 0.0 {
            let ring = vec![
                grid.at(from, base - thick),
                grid.at(to, base - thick),
                grid.at(to, base),
                grid.at(from, base),
            ];
            for place in dots(std::slice::from_ref(&ring), 1.6) {
                canvas.dot(place, 0.5, ZONE_GREY);
            }
            let edge: Vec<[f64; 2]> = ring.iter().chain(ring.first()).copied().collect();
            canvas.line(&edge, width_mm::HATCH, ZONE_GREY);
        }
        let mut ring = vec![grid.at(from, base)];
        ring.extend(stretch.top.iter().map(|&(s, z)| grid.at(s, z)));
        ring.push(grid.at(to, base));
        canvas.area(&ring, WALL_GREY);
        if cap > 0.0 {
            let line: Vec<[f64; 2]> = stretch
                .top
                .iter()
                .map(|&(s, z)| grid.at(s, z - cap))
                .collect();
            canvas.line(&line, width_mm::MIDDLE, "#000000");
        }
        if let Some(course) = plan.course_m {
            let top = stretch.top_at(from) - cap;
            let count = ((top - base) / course).round().max(0.0) as usize;
            let lowest = plan
                .stretches
                .iter()
                .map(|s| s.base_z_m)
                .fold(f64::INFINITY, f64::min);
            for k in 0..count {
                let z = base + k as f64 * course;
                if k > 0 {
                    canvas.line(
                        &[grid.at(from, z), grid.at(to, z)],
                        width_mm::HATCH,
                        "#000000",
                    );
                }
                // Joints of every second course stand half a unit on, counted from the lowest.
                if let Some(unit) = plan.unit_m {
                    let is_odd = ((z - lowest) / course).round() as i64 % 2 != 0;
                    let shift = if is_odd { unit / 2.0 } else { 0.0 };
                    let mut s = ((from - shift) / unit).floor() * unit + shift;
                    while s < to && left > 0 {
                        if s > from {
                            canvas.line(
                                &[grid.at(s, z), grid.at(s, z + course)],
                                width_mm::HATCH,
                                "#8C8C8C",
                            );
                            left -= 1;
                        }
                        s += unit;
                    }
                }
            }
        }
        let edge: Vec<[f64; 2]> = ring.iter().chain(ring.first()).copied().collect();
        canvas.line(&edge, width_mm::NEW, "#000000");
    }
}

/// Ground before and behind.
fn profiles(canvas: &Canvas<'_>, grid: &Grid, work: &WallWork) {
    let stations = &work.quantities.stations;
    let runs = |z: &dyn Fn(usize) -> Option<f64>| -> Vec<Vec<[f64; 2]>> {
        let mut runs: Vec<Vec<[f64; 2]>> = vec![Vec::new()];
        for (k, point) in stations.iter().enumerate() {
            match (z(k), runs.last_mut()) {
                (Some(z), Some(run)) => run.push(grid.at(point.station_m, z)),
                _ => runs.push(Vec::new()),
            }
        }
        runs
    };
    for run in runs(&|k| stations[k].behind_m) {
        canvas.dashed(&run, EXISTING, width_mm::MIDDLE, "#000000");
    }
    for run in runs(&|k| stations[k].front_m) {
        canvas.line(&run, width_mm::HEAVY, "#000000");
    }
    for point in stations {
        let [x, y] = grid.at(point.station_m, point.base_m);
        canvas.line(&[[x, y], [x, y + 1.2]], width_mm::THIN, "#000000");
    }
}

/// Levels at every stretch in walking order, with room for a pencil.
fn list(canvas: &Canvas<'_>, outcome: &Outcome, work: &WallWork, [x, y]: [f64; 2]) {
    let show = Show::new(outcome.job.units);
    let mark = benchmark(outcome);
    let level = |z: f64| match mark {
        Some((_, level)) => show.below_benchmark(z, level),
        None => show.level(z),
    };
    let unit = show.length_unit();
    let words = match mark {
        Some((name, _)) => format!("Levels below {name}, {unit}; stations in {unit}"),
        None => format!("Levels and stations in {unit}"),
    };
    canvas.text([x, y], Anchor::Start, &Written::bold(&words, 2.8));
    let rows = stretches(work);
    let widths = [24.0, 20.0, 20.0, 20.0, 13.0];
    let heads = ["from to", "base", "top from", "top to", "courses"];
    let wide = 99.0;
    for column in 0..LIST_COLUMNS.min(rows.len().div_ceil(LIST_ROWS)) {
        let left = x + wide * column as f64;
        let mut at = left;
        for (head, width) in heads.iter().zip(widths) {
            canvas.text([at, y + ROW_MM], Anchor::Start, &Written::plain(head));
            at += width;
        }
        for (k, row) in rows
            .iter()
            .skip(column * LIST_ROWS)
            .take(LIST_ROWS)
            .enumerate()
        {
            let line = y + ROW_MM * (k as f64 + 2.0);
            let cells = [
                format!(
                    "{} to {}",
                    show.length_number(row.from_m),
                    show.length_number(row.to_m)
                ),
                level(row.base_m),
                level(row.top_m),
                level(row.top_to_m),
                row.courses.map_or("-".to_owned(), |n| n.to_string()),
            ];
            let mut at = left;
            for (cell, width) in cells.iter().zip(widths) {
                let cell = Written {
                    size_mm: 3.2,
                    ..Written::plain(cell)
                };
                canvas.text([at, line], Anchor::Start, &cell);
                at += width;
            }
            canvas.line(
                &[[left, line + 2.6], [left + wide - 5.0, line + 2.6]],
                width_mm::HATCH,
                "#8C8C8C",
            );
        }
    }
    let shown = LIST_ROWS * LIST_COLUMNS;
    if rows.len() > shown {
        let words = format!("{} more in engineer.html", rows.len() - shown);
        let at = [x, y + ROW_MM * (LIST_ROWS as f64 + 2.0)];
        canvas.text(at, Anchor::Start, &Written::bold(&words, 2.8));
    }
}

/// A stretch between changes of level.
pub(crate) struct Row {
    pub(crate) from_m: f64,
    pub(crate) to_m: f64,
    pub(crate) base_m: f64,
    /// At its start.
    pub(crate) top_m: f64,
    /// At its end.
    pub(crate) top_to_m: f64,
    pub(crate) courses: Option<u32>,
}

/// The stretches of a wall with one base level, as sheets list them.
pub(crate) fn stretches(work: &WallWork) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    let steps = &work.quantities.steps;
    for point in &work.quantities.stations {
        let is_step = |s: f64| steps.iter().any(|step| step.station_m == s);
        match rows.last_mut() {
            // At a step a station comes twice: it ends one stretch and begins the next.
            Some(row) if !(row.to_m == point.station_m && is_step(row.to_m)) => {
                row.to_m = point.station_m;
                row.top_to_m = point.top_m;
            }
            _ => rows.push(Row {
                from_m: point.station_m,
                to_m: point.station_m,
                base_m: point.base_m,
                top_m: point.top_m,
                top_to_m: point.top_m,
                courses: point.courses,
            }),
        }
    }
    rows
}

/// What the wall takes.
fn quantities(canvas: &Canvas<'_>, show: Show, work: &WallWork, plan: &WallPlan, [x, y]: [f64; 2]) {
    canvas.text([x, y], Anchor::Start, &Written::bold("What it takes", 2.8));
    for (k, (what, value)) in takes(show, work, plan).iter().enumerate() {
        let line = y + ROW_MM * 0.8 * (k as f64 + 1.2);
        canvas.text(
            [x, line],
            Anchor::Start,
            &Written::plain(&fit(what, 2.5, 40.0)),
        );
        canvas.text(
            [x + 42.0, line],
            Anchor::Start,
            &Written::plain(&fit(value, 2.5, 38.0)),
        );
    }
}

/// Quantities of a wall in words.
pub(crate) fn takes(show: Show, work: &WallWork, plan: &WallPlan) -> Vec<(&'static str, String)> {
    let q = &work.quantities;
    let mut all = vec![("length", show.length(q.length_m))];
    if let Some(course) = plan.course_m {
        let size = match plan.unit_m {
            Some(unit) => format!(
                "{} high, {} long",
                show.level_with_unit(course),
                show.level_with_unit(unit)
            ),
            None => format!("{} high", show.level_with_unit(course)),
        };
        all.push(("courses", format!("{}, {size}", q.courses.len())));
    }
    if let Some(units) = q.units {
        all.push((
            "units, without waste",
            crate::show::thousands(u64::from(units)),
        ));
    }
    if let Some(cap) = q.cap_m {
        let count = q
            .cap_units
            .map_or(String::new(), |n| format!(", {n} units"));
        all.push(("cap", format!("{}{count}", show.length(cap))));
    }
    all.push(("face, base to top", show.area(q.face_m2)));
    all.push(("body", show.volume_or_none(q.body_m3)));
    if plan.base_stone.is_some() {
        all.push(("base stone", show.volume_or_none(q.base_stone_m3)));
    }
    if plan.drain_stone.is_some() {
        all.push(("drain stone", show.volume_or_none(q.drain_stone_m3)));
    }
    if let Some(pipe) = q.pipe_m {
        let end = plan.pipe.map_or("", |p| {
            if p.out_at_start {
                "out at the start"
            } else {
                "out at the end"
            }
        });
        all.push(("drain pipe", format!("{}, {end}", show.length(pipe))));
    }
    all.push(("soil put back, tamped", show.volume_or_none(q.refill_m3)));
    all
}
