//! A section of a drawn wall for the engineer, true to scale: body, stone, ground, water.
//!
//! Takes a section of the outcome, gives an SVG. Every number on it is the outcome's.

use super::canvas::{Canvas, Grid, Written, bar, draw};
use super::ink::Anchor;
use super::region::{dots, hatch};
use super::scale::{Paper, Scale};
use super::section::{BELOW_MM, EXISTING, LEFT_MM, RIGHT_MM, TOP_MM, benchmark, heading};
use super::{ZONE_GREY, width_mm};
use crate::checks::{WallSection, WallWork};
use crate::design::WallPlan;
use crate::outcome::Outcome;
use crate::show::Show;

/// What is shown before the foot, as a share of the height, metres at least.
const BEFORE_SHARE: f64 = 0.6;
const BEFORE_LEAST_M: f64 = 0.3;
/// Width beside the drawing for words, mm.
const WORDS_MM: f64 = 46.0;
const WALL_GREY: &str = "#D8D8D3";
const STONE_GREY: &str = "#6B6B6B";
const WATER: &str = "#000000";

/// The sections of a wall, the highest first; none where the wall is not known.
///
/// # Units
///
/// the SVG's user unit is a hundredth of a millimetre on paper
pub fn wall_sections(outcome: &Outcome, work: &WallWork) -> Vec<String> {
    let feature = outcome.design.features.get(work.quantities.feature);
    let Some(plan) = feature.and_then(|f| f.laid.wall.as_deref()) else {
        return Vec::new();
    };
    let sections = work.sections.iter().enumerate();
    sections
        .map(|(k, section)| one(outcome, work, plan, k, section))
        .collect()
}

fn one(
    outcome: &Outcome,
    work: &WallWork,
    plan: &WallPlan,
    k: usize,
    section: &WallSection,
) -> String {
    let show = Show::new(outcome.job.units);
    let height = section.top_m - section.base_m;
    let stone = plan.base_stone;
    let drain = plan.drain_stone;
    let behind = section.ground_m.last().map_or(height, |g| g[0]);
    let before = (height * BEFORE_SHARE)
        .max(BEFORE_LEAST_M)
        .max(stone.map_or(0.0, |s| s.before_m * 1.5));
    let length = before + plan.thickness_m + behind;
    let low = section.base_m - stone.map_or(0.0, |s| s.thick_m);
    let highest = section
        .ground_m
        .iter()
        .map(|g| g[1])
        .fold(section.top_m, f64::max);
    let paper = Paper::A4;
    let room = [
        paper.width_mm - LEFT_MM - RIGHT_MM - WORDS_MM,
        paper.height_mm - TOP_MM - BELOW_MM - 26.0,
    ];
    // Walls are small: a tenth and a twentieth, or an inch for one and two feet, as well.
    let scale = large_scale(show, [length, highest - low], room);
    let mm = scale.mm_per_m();
    let grid = Grid::new([LEFT_MM, TOP_MM], length, [low, highest], mm, 1.0, show);
    let bottom = TOP_MM + grid.size_mm()[1];
    let title = format!(
        "{}: section {} for the engineer",
        work.quantities.name,
        k + 1
    );
    let lines = [
        format!(
            "at {} along the foot of its face, {} high from its base",
            show.length(section.station_m),
            show.level_with_unit(height)
        ),
        format!("True scale: {}. Not an engineer's design.", scale.words),
    ];
    draw(paper.width_mm, bottom + BELOW_MM, &title, |canvas| {
        heading(canvas, &title, &lines, outcome);
        let along = format!("across the wall, {}", show.length_unit());
        grid.axes(canvas, show, &along, benchmark(outcome));
        let place = |x: f64, z: f64| grid.at(before + x, z);
        let ring = |points: &[[f64; 2]]| -> Vec<[f64; 2]> {
            points.iter().map(|p| place(p[0], p[1])).collect()
        };
        let back = plan.thickness_m;
        // Soil behind, up to the ground there.
        let mut soil = vec![
            [back, section.base_m],
            [back, section.behind_m.min(section.top_m)],
        ];
        soil.extend(section.ground_m.iter().map(|g| [back + g[0], g[1]]));
        soil.push([back + behind, section.base_m]);
        for line in hatch(&[ring(&soil)], 3.2, true) {
            canvas.line(&line, width_mm::HATCH, "#B4B4AF");
        }
        if let Some(drain) = drain {
            let top = (section.top_m.min(section.behind_m) - drain.soil_cap_m).max(section.base_m);
            stones(
                canvas,
                &ring(&rectangle(
                    [back, section.base_m],
                    [back + drain.width_m, top],
                )),
            );
        }
        if let Some(stone) = stone {
            let from = [-stone.before_m, section.base_m - stone.thick_m];
            let to = [back + stone.behind_m, section.base_m];
            stones(canvas, &ring(&rectangle(from, to)));
        }
        body(canvas, plan, section, &ring);
        if let Some(pipe) = plan
            .pipe_levels()
            .iter()
            .find(|p| (p.0 - section.station_m).abs() < 1.0)
        {
            let width = drain.map_or(0.0, |d| d.width_m);
            canvas.dot(
                place(back + width / 2.0, pipe.1 + PIPE_M / 2.0),
                PIPE_M * mm,
                "#000000",
            );
            canvas.dot(
                place(back + width / 2.0, pipe.1 + PIPE_M / 2.0),
                PIPE_M * mm * 0.7,
                "#FFFFFF",
            );
        }
        grounds(canvas, section, before, &ring, plan);
        marks(canvas, show, plan, section, &grid, before);
        bar(canvas, [LEFT_MM, bottom + 17.0], mm, show, &scale.words);
        let words = [
            "solid: finished ground",
            "long dashes: water case, full to the ground behind",
            "dots: stone; grey: wall; hatched: soil behind",
        ];
        for (k, words) in words.iter().enumerate() {
            let at = [LEFT_MM + 70.0, bottom + 14.0 + 4.0 * k as f64];
            canvas.text(at, Anchor::Start, &Written::plain(words));
        }
    })
}

/// Diameter a drain pipe is drawn with, metres: 4 in.
const PIPE_M: f64 = 0.1;

/// The largest scale that takes a section of a wall.
fn large_scale(show: Show, size_m: [f64; 2], room: [f64; 2]) -> Scale {
    let large: Vec<Scale> = match show.unit().is_foot() {
        true => [1.0, 2.0, 3.0]
            .map(|ft: f64| Scale {
                denominator: ft * 12.0,
                words: format!("1 in = {ft:.0} ft (1 : {:.0})", ft * 12.0),
            })
            .to_vec(),
        false => [10.0, 20.0, 25.0]
            .map(|n: f64| Scale {
                denominator: n,
                words: format!("1 : {n:.0}"),
            })
            .to_vec(),
    };
    let fits = |s: &&Scale| (0..2).all(|k| size_m[k] * s.mm_per_m() <= room[k]);
    match large.iter().find(fits) {
        Some(scale) => scale.clone(),
        None => Scale::fitting(show.unit(), size_m, room),
    }
}

/// Places across the wall and levels, metres, on paper.
type OnPaper<'a> = &'a dyn Fn(&[[f64; 2]]) -> Vec<[f64; 2]>;

fn rectangle([x0, z0]: [f64; 2], [x1, z1]: [f64; 2]) -> [[f64; 2]; 4] {
    [[x0, z0], [x1, z0], [x1, z1], [x0, z1]]
}

fn closed(ring: &[[f64; 2]]) -> Vec<[f64; 2]> {
    ring.iter().chain(ring.first()).copied().collect()
}

/// Stone: white with dots and a thin outline.
fn stones(canvas: &Canvas<'_>, ring: &[[f64; 2]]) {
    canvas.area(ring, "#FFFFFF");
    for place in dots(&[ring.to_vec()], 2.0) {
        canvas.dot(place, 0.7, STONE_GREY);
    }
    canvas.line(&closed(ring), width_mm::THIN, ZONE_GREY);
}

/// The body with its courses and its cap.
fn body(canvas: &Canvas<'_>, plan: &WallPlan, section: &WallSection, ring: OnPaper<'_>) {
    let corners: Vec<[f64; 2]> = section
        .body_m
        .iter()
        .map(|c| [c[0], section.base_m + c[1]])
        .collect();
    let outline = ring(&corners);
    canvas.area(&outline, WALL_GREY);
    let height = section.top_m - section.base_m;
    let cap = plan.cap_m.unwrap_or(0.0);
    let mut joints: Vec<f64> = Vec::new();
    if let Some(course) = plan.course_m {
        let count = ((height - cap) / course).round() as usize;
        joints.extend((1..count).map(|k| k as f64 * course));
    }
    if cap > 0.0 {
        joints.push(height - cap);
    }
    for z in joints {
        let ends = [
            [z * plan.batter_run_per_rise, section.base_m + z],
            [plan.thickness_m, section.base_m + z],
        ];
        canvas.line(&ring(&ends), width_mm::THIN, "#000000");
    }
    canvas.line(&closed(&outline), width_mm::HEAVY, "#000000");
}

/// Ground before and behind, and the water that the second case takes.
fn grounds(
    canvas: &Canvas<'_>,
    section: &WallSection,
    before: f64,
    ring: OnPaper<'_>,
    plan: &WallPlan,
) {
    if let Some(z) = section.front_m {
        let at = ((z - section.base_m).max(0.0)) * plan.batter_run_per_rise;
        canvas.line(&ring(&[[-before, z], [at, z]]), width_mm::NEW, "#000000");
    }
    let back = plan.thickness_m;
    let mut line = vec![[back, section.behind_m]];
    line.extend(section.ground_m.iter().map(|g| [back + g[0], g[1]]));
    canvas.line(&ring(&line), width_mm::NEW, "#000000");
    let far = section.ground_m.last().map_or(0.0, |g| g[0]);
    let z = section.behind_m.min(section.top_m);
    let water = ring(&[[back, z], [back + far, z]]);
    canvas.dashed(&water, [4.0, EXISTING[1]], width_mm::MIDDLE, WATER);
}

/// Heights beside the drawing and words on its parts.
fn marks(
    canvas: &Canvas<'_>,
    show: Show,
    plan: &WallPlan,
    section: &WallSection,
    grid: &Grid,
    before: f64,
) {
    let place = |x: f64, z: f64| grid.at(before + x, z);
    // Heights, before the foot: exposed, and all of it.
    let thick = plan.base_stone.map_or(0.0, |s| s.thick_m);
    let mut heights = vec![(section.base_m - thick, 0.75, "in all")];
    if let Some(front) = section.front_m {
        heights.push((front, 0.35, "exposed"));
    }
    for (from, share, word) in heights {
        let x = -before * share;
        let (a, b) = (place(x, from), place(x, section.top_m));
        canvas.line(&[a, b], width_mm::THIN, "#000000");
        for p in [a, b] {
            canvas.line(
                &[[p[0] - 1.2, p[1]], [p[0] + 1.2, p[1]]],
                width_mm::THIN,
                "#000000",
            );
        }
        let words = format!("{} {word}", show.level(section.top_m - from));
        canvas.text_on_white(
            [
                a[0],
                (a[1] + b[1]) / 2.0 + if word == "in all" { 3.0 } else { -3.0 },
            ],
            &Written::plain(&words),
        );
    }
    let right = grid.corner[0] + grid.size_mm()[0] + 20.0;
    let say = |from: [f64; 2], y: f64, words: &str| {
        canvas.line(&[from, [right - 1.0, y]], width_mm::HATCH, "#000000");
        canvas.text([right, y], Anchor::Start, &Written::plain(words));
    };
    let top = grid.corner[1] + 6.0;
    let thickness = format!("wall, base {} wide", show.length(plan.thickness_m));
    say(
        place(
            plan.thickness_m * 0.8,
            section.base_m + 0.75 * (section.top_m - section.base_m),
        ),
        top,
        &thickness,
    );
    let mut y = top + 7.0;
    if let Some(drain) = plan.drain_stone {
        let words = format!("drain stone, {} wide", show.length(drain.width_m));
        let z = section.base_m + 0.5 * (section.behind_m.min(section.top_m) - section.base_m);
        say(place(plan.thickness_m + drain.width_m * 0.7, z), y, &words);
        y += 7.0;
    }
    if let Some(stone) = plan.base_stone {
        let words = format!("base stone, {} thick", show.length(stone.thick_m));
        say(
            place(plan.thickness_m * 0.7, section.base_m - stone.thick_m / 2.0),
            y,
            &words,
        );
        y += 7.0;
    }
    let rise = match section.rise_per_run > 0.0 {
        true => format!(
            "ground behind: {}",
            crate::units::Slope::from_rise_per_run(section.rise_per_run)
        ),
        false => "ground behind: level or falling".to_owned(),
    };
    for (k, part) in super::ink::wrap(&rise, 2.5, WORDS_MM + 8.0)
        .iter()
        .enumerate()
    {
        canvas.text(
            [right, y + 4.0 * k as f64],
            Anchor::Start,
            &Written::plain(part),
        );
    }
    // Toe and heel below the base.
    let below = section.base_m - thick;
    for (x, word) in [(0.0, "toe"), (plan.thickness_m, "heel")] {
        let [px, py] = place(x, below);
        canvas.text([px, py + 3.0], Anchor::Middle, &Written::plain(word));
    }
}
