//! Long profiles of streams: bed, drops and ground by station, the foot on the left.
//!
//! Takes the profiles of an outcome, gives an SVG for each. Heights may be drawn taller than
//! lengths; then the title says so and two bar scales stand below.

use super::canvas::{Grid, Written, bar, draw};
use super::ink::Anchor;
use super::scale::{Paper, Scale, axis_number};
use super::section::{
    BELOW_MM, EXISTING, LEFT_MM, RIGHT_MM, TOP_MM, benchmark, heading, level_range, runs,
};
use super::width_mm;
use crate::outcome::Outcome;
use crate::section::StreamProfile;
use crate::show::Show;

/// Heights are drawn taller, by one of these, until the profile is this tall, mm.
const WELL_SEEN_MM: f64 = 30.0;
const TALLER: [f64; 3] = [1.0, 2.0, 5.0];

/// Every long profile of a job, in the order of its streams.
///
/// # Units
///
/// the SVG's user unit is a hundredth of a millimetre on paper
pub fn profiles(outcome: &Outcome) -> Vec<String> {
    outcome.profiles.iter().map(|p| one(outcome, p)).collect()
}

/// Where two entries of the bed lie at one station, metres.
const SAME_STATION_M: f64 = 1.0e-6;

fn one(outcome: &Outcome, stream: &StreamProfile) -> String {
    let show = Show::new(outcome.job.units);
    let length_m = stream
        .bed
        .iter()
        .map(|b| b.0)
        .chain(stream.ground.points().map(|p| p.distance_m))
        .fold(0.0, f64::max);
    let levels = level_range(
        stream
            .bed
            .iter()
            .map(|b| b.1)
            .chain(stream.ground.points().map(|p| p.z_m)),
    );
    let paper = Paper::A4;
    let room = [
        paper.width_mm - LEFT_MM - RIGHT_MM,
        paper.height_mm - TOP_MM - BELOW_MM - 40.0,
    ];
    let rise = levels[1] - levels[0];
    let scale = Scale::fitting(show.unit(), [length_m, rise], room);
    let k = scale.mm_per_m();
    let taller = TALLER
        .into_iter()
        .filter(|t| rise * k * t <= room[1])
        .find(|t| rise * k * t >= WELL_SEEN_MM)
        .or_else(|| TALLER.into_iter().rfind(|t| rise * k * t <= room[1]))
        .unwrap_or(1.0);
    let mut grid = Grid::new([LEFT_MM, TOP_MM], length_m, levels, k, taller, show);
    // Names of drops stand above the bed.
    while (grid.levels_m[1] - levels[1]) * k * taller < 10.0 {
        grid.levels_m[1] += grid.step_m;
    }
    let bottom = TOP_MM + grid.size_mm()[1];
    let how = if taller > 1.0 {
        format!("heights drawn {taller:.0} times as tall as lengths")
    } else {
        "true scale".to_owned()
    };
    let title = format!("{}, long profile, {how}", stream.name);
    draw(paper.width_mm, bottom + BELOW_MM, &title, |canvas| {
        let build_from = if taller > 1.0 {
            "Do not measure slopes off this drawing. "
        } else {
            ""
        };
        heading(
            canvas,
            &title,
            &[
                "Station 0 is the foot; stations grow upstream. Water runs to the left.".to_owned(),
                format!("{build_from}Lengths {}", scale.words),
            ],
            outcome,
        );
        let along = format!("station, {}", show.length_unit());
        grid.axes(canvas, show, &along, benchmark(outcome));
        for run in runs(&grid, &stream.ground) {
            canvas.dashed(&run, EXISTING, width_mm::MIDDLE, "#000000");
        }
        let bed: Vec<[f64; 2]> = stream.bed.iter().map(|b| grid.at(b.0, b.1)).collect();
        canvas.line(&bed, width_mm::HEAVY, "#000000");
        let unit = show.length_unit();
        for pair in even_reaches(&stream.bed).windows(2) {
            let ((s0, z0), (s1, z1)) = (pair[0], pair[1]);
            if s1 - s0 <= SAME_STATION_M {
                let words = format!("drop {} {unit}", show.level((z1 - z0).abs()));
                let top = grid.at(s1, z0.max(z1));
                canvas.line(
                    &[[top[0], top[1] - 0.6], [top[0], top[1] - 5.2]],
                    width_mm::HATCH,
                    "#000000",
                );
                canvas.text_on_white([top[0], top[1] - 6.6], &Written::bold(&words, 2.5));
            } else {
                let (a, b) = (grid.at(s0, z0), grid.at(s1, z1));
                let words = fall(z1 - z0, s1 - s0);
                let width = super::ink::text_width_mm(&words, 2.5);
                if b[0] - a[0] > width + 1.0 {
                    let at = [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0 + 3.4];
                    let inside = at[1] < bottom - 1.8;
                    let at = if inside { at } else { [at[0], at[1] - 6.4] };
                    canvas.text_on_white(at, &Written::plain(&words));
                }
            }
        }
        // The way the water runs.
        let [x, y] = [LEFT_MM + grid.size_mm()[0] / 2.0, TOP_MM + 3.2];
        canvas.line(&[[x + 9.0, y], [x - 9.0, y]], width_mm::NEW, "#000000");
        let head = [[x - 11.0, y], [x - 8.0, y - 1.0], [x - 8.0, y + 1.0]];
        canvas.area(&head, "#000000");
        canvas.text([x + 11.0, y], Anchor::Start, &Written::plain("flow"));
        let y = bottom + 14.0;
        canvas.dashed(
            &[[LEFT_MM, y], [LEFT_MM + 10.0, y]],
            EXISTING,
            width_mm::MIDDLE,
            "#000000",
        );
        canvas.text(
            [LEFT_MM + 12.0, y],
            Anchor::Start,
            &Written::plain("existing ground"),
        );
        let x = LEFT_MM + 48.0;
        canvas.line(&[[x, y], [x + 10.0, y]], width_mm::HEAVY, "#000000");
        canvas.text(
            [x + 12.0, y],
            Anchor::Start,
            &Written::plain("bed, with drops"),
        );
        let y = y + 9.5;
        if taller > 1.0 {
            bar(canvas, [LEFT_MM, y], k, show, "lengths");
            bar(canvas, [LEFT_MM + 80.0, y], k * taller, show, "heights");
        } else {
            bar(canvas, [LEFT_MM, y], k, show, &scale.words);
        }
    })
}

/// Two falls closer than this are one, rise over run.
const SAME_FALL: f64 = 5.0e-4;

/// The bed without the points inside reaches of one fall.
fn even_reaches(bed: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let slope = |a: (f64, f64), b: (f64, f64)| {
        let run = b.0 - a.0;
        (run > SAME_STATION_M).then(|| (b.1 - a.1) / run)
    };
    let mut even: Vec<(f64, f64)> = Vec::with_capacity(bed.len());
    for &next in bed {
        if let [.., before, last] = even[..]
            && let (Some(one), Some(other)) = (slope(before, last), slope(last, next))
            && (one - other).abs() < SAME_FALL
        {
            even.pop();
        }
        even.push(next);
    }
    even
}

/// The fall of a reach in percent.
fn fall(rise_m: f64, run_m: f64) -> String {
    format!("{} %", axis_number(rise_m / run_m * 100.0, 0.1))
}
