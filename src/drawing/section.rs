//! Cross-sections: the yard cut open along a line, heights and lengths at one scale.
//!
//! Takes the sections of an outcome, gives an SVG for each. The areas written on it are the
//! outcome's; the bands drawn are the same ones.

use super::canvas::{Canvas, Grid, Written, bar, draw};
use super::ink::{Anchor, fit};
use super::region::{dots, hatch};
use super::scale::{Paper, Scale};
use super::{CUT, CUT_PALE, FILL, FILL_PALE, ZONE_GREY, width_mm};
use crate::outcome::Outcome;
use crate::section::Section;
use crate::show::Show;
use crate::surface::Profile;

/// Field for the drawing on A4, mm: beside it stand levels, above it the title, below it the
/// bars.
pub(super) const LEFT_MM: f64 = 26.0;
pub(super) const RIGHT_MM: f64 = 30.0;
pub(super) const TOP_MM: f64 = 33.0;
pub(super) const BELOW_MM: f64 = 38.0;

/// Dash and gap of existing ground, mm.
pub(super) const EXISTING: [f64; 2] = [2.0, 1.2];

/// Letters of sections: without C and F, which mean cut and fill, and without I and O, which
/// look like numbers.
const LETTERS: [char; 22] = [
    'A', 'B', 'D', 'E', 'G', 'H', 'J', 'K', 'L', 'M', 'N', 'P', 'Q', 'R', 'S', 'T', 'U', 'V', 'W',
    'X', 'Y', 'Z',
];

/// A, B, D, E, G ... Z, AA, AB ...: the name of a section on the plan.
pub fn letters(number: usize) -> String {
    let mut left = number;
    let mut word = String::new();
    loop {
        word.insert(0, LETTERS[left % LETTERS.len()]);
        if left < LETTERS.len() {
            return word;
        }
        left = left / LETTERS.len() - 1;
    }
}

/// Every cross-section of a job, in its order.
///
/// # Units
///
/// the SVG's user unit is a hundredth of a millimetre on paper
pub fn sections(outcome: &Outcome) -> Vec<String> {
    outcome
        .sections
        .iter()
        .enumerate()
        .map(|(number, section)| one(outcome, number, section))
        .collect()
}

/// True if no surface lies along a section's line.
pub(crate) fn is_off_survey(section: &Section) -> bool {
    section.ground.runs.is_empty() && section.design.runs.is_empty()
}

/// Narrower gaps than this are not marked, mm.
const LEAST_GAP_MM: f64 = 1.0;

/// Where a line of a length has neither ground nor finished surface, metres along it.
fn gaps(section: &Section) -> Vec<[f64; 2]> {
    let mut spans: Vec<[f64; 2]> = section
        .ground
        .runs
        .iter()
        .chain(&section.design.runs)
        .filter_map(|run| Some([run.first()?.distance_m, run.last()?.distance_m]))
        .collect();
    spans.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let mut found = Vec::new();
    let mut reached = 0.0;
    for [from, to] in spans {
        if from > reached {
            found.push([reached, from]);
        }
        reached = to.max(reached);
    }
    if section.length_m > reached {
        found.push([reached, section.length_m]);
    }
    found
}

/// The sheet of a section off the survey: words, no levels.
fn off_survey(outcome: &Outcome, title: &str) -> String {
    let width = Paper::A4.width_mm;
    draw(width, TOP_MM + 20.0, title, |canvas| {
        let words = "Cut and fill not computed: the survey does not reach this line.".to_owned();
        heading(canvas, title, &[words], outcome);
        canvas.text(
            [width / 2.0, TOP_MM + 6.0],
            Anchor::Middle,
            &Written::bold("no ground along this line", 3.5),
        );
    })
}

/// Stretch of a section where soil is cut or placed.
#[derive(Clone, Debug)]
struct Band {
    is_cut: bool,
    /// Distance and level, metres: along the top, back along the bottom.
    ring: Vec<[f64; 2]>,
    /// Distance, top and bottom where it is tallest.
    tallest: [f64; 3],
}

/// Bands smaller than this are rounding where ground and finished surface are one.
const LEAST_BAND_M2: f64 = 1.0e-6;

/// The bands between two profiles over the same line.
fn bands(ground: &Profile, target: &Profile) -> Vec<Band> {
    let breaks = ground.breaks_with(target);
    let both = |s: f64| Some([ground.z_at(s)?, target.z_at(s)?]);
    let both_after = |s: f64| Some([z_after(ground, s)?, z_after(target, s)?]);
    let mut open: Option<(bool, Vec<[f64; 3]>)> = None;
    let mut found = Vec::new();
    let mut add = |is_cut: bool, from: [f64; 3], to: [f64; 3]| match &mut open {
        Some((cut, list)) if *cut == is_cut && list.last().is_some_and(|l| l[0] >= from[0]) => {
            list.push(to);
        }
        _ => found.extend(open.replace((is_cut, vec![from, to]))),
    };
    for pair in breaks.windows(2) {
        let middle = (pair[0] + pair[1]) / 2.0;
        let (Some(_), Some(a), Some(b)) = (both(middle), both_after(pair[0]), both(pair[1])) else {
            continue;
        };
        let (da, db) = (a[0] - a[1], b[0] - b[1]);
        let (from, to) = ([pair[0], a[0], a[1]], [pair[1], b[0], b[1]]);
        if da == 0.0 && db == 0.0 {
            continue;
        }
        if da >= 0.0 && db >= 0.0 || da <= 0.0 && db <= 0.0 {
            add(da + db > 0.0, from, to);
        } else {
            let t = da / (da - db);
            let z = a[0] + t * (b[0] - a[0]);
            let cross = [pair[0] + t * (pair[1] - pair[0]), z, z];
            add(da > 0.0, from, cross);
            add(db > 0.0, cross, to);
        }
    }
    found.extend(open.take());
    found
        .into_iter()
        .filter(|(_, list)| {
            let area = |w: &[[f64; 3]]| {
                let heights = (w[0][1] - w[0][2]).abs() + (w[1][1] - w[1][2]).abs();
                heights / 2.0 * (w[1][0] - w[0][0])
            };
            list.windows(2).map(area).sum::<f64>() > LEAST_BAND_M2
        })
        .filter_map(|(is_cut, list)| {
            let tallest = *list
                .iter()
                .max_by(|x, y| (x[1] - x[2]).abs().total_cmp(&(y[1] - y[2]).abs()))?;
            let there = list.iter().map(|p| [p[0], p[1]]);
            let back = list.iter().rev().map(|p| [p[0], p[2]]);
            Some(Band {
                is_cut,
                ring: there.chain(back).collect(),
                tallest: [
                    tallest[0],
                    tallest[1].max(tallest[2]),
                    tallest[1].min(tallest[2]),
                ],
            })
        })
        .collect()
}

/// Height at a distance, behind the step if there is one.
fn z_after(profile: &Profile, distance_m: f64) -> Option<f64> {
    let last_there = profile.runs.iter().find_map(|run| {
        let next = run.partition_point(|p| p.distance_m <= distance_m);
        let last = run.get(next.checked_sub(1)?)?;
        (last.distance_m == distance_m).then_some(last.z_m)
    });
    last_there.or_else(|| profile.z_at(distance_m))
}

/// Lowest and highest of levels, metres; a metre about zero if there are none.
pub(super) fn level_range(levels: impl Iterator<Item = f64>) -> [f64; 2] {
    let [low, high] = levels.fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], z| {
        [l.min(z), h.max(z)]
    });
    if low > high { [-0.5, 0.5] } else { [low, high] }
}

/// Runs of a profile on paper.
pub(super) fn runs(grid: &Grid, profile: &Profile) -> Vec<Vec<[f64; 2]>> {
    profile
        .runs
        .iter()
        .map(|run| run.iter().map(|p| grid.at(p.distance_m, p.z_m)).collect())
        .collect()
}

/// The benchmark by name and level.
pub(super) fn benchmark(outcome: &Outcome) -> Option<(&str, f64)> {
    let mark = outcome.survey.benchmark.as_ref()?;
    Some((&mark.name, mark.level_m))
}

fn one(outcome: &Outcome, number: usize, section: &Section) -> String {
    let show = Show::new(outcome.job.units);
    let letter = letters(number);
    let title = format!("Section {letter}-{letter}': {}", section.name);
    if is_off_survey(section) {
        return off_survey(outcome, &title);
    }
    let target = section.built.as_ref().unwrap_or(&section.design);
    let all = section
        .ground
        .points()
        .chain(section.design.points())
        .chain(section.built.iter().flat_map(Profile::points));
    let levels = level_range(all.map(|p| p.z_m));
    let paper = Paper::A4;
    let room = [
        paper.width_mm - LEFT_MM - RIGHT_MM,
        // A step of levels more may be needed below and above.
        paper.height_mm - TOP_MM - BELOW_MM - 26.0,
    ];
    let scale = Scale::fitting(show.unit(), [section.length_m, levels[1] - levels[0]], room);
    let k = scale.mm_per_m();
    let grid = Grid::new([LEFT_MM, TOP_MM], section.length_m, levels, k, 1.0, show);
    let bottom = TOP_MM + grid.size_mm()[1];
    // Where nothing settles the surface to build is the finished one and needs no line.
    let built = section
        .built
        .as_ref()
        .filter(|b| differ(b, &section.design));
    draw(paper.width_mm, bottom + BELOW_MM, &title, |canvas| {
        let areas = areas_in_words(show, section);
        heading(
            canvas,
            &title,
            &[
                format!("{areas}, from existing ground to the surface to be built"),
                format!("True scale, heights and lengths alike: {}", scale.words),
            ],
            outcome,
        );
        let found = bands(&section.ground, target);
        for band in &found {
            let ring: Vec<[f64; 2]> = band.ring.iter().map(|p| grid.at(p[0], p[1])).collect();
            if band.is_cut {
                canvas.area(&ring, CUT_PALE);
                for line in hatch(std::slice::from_ref(&ring), 1.6, true) {
                    canvas.line(&line, width_mm::HATCH, CUT);
                }
            } else {
                canvas.area(&ring, FILL_PALE);
                for place in dots(std::slice::from_ref(&ring), 1.5) {
                    canvas.dot(place, 0.4, FILL);
                }
            }
            let mut edge = ring.clone();
            edge.extend(ring.first());
            canvas.line(&edge, width_mm::HATCH, ZONE_GREY);
        }
        let along = format!("distance from {letter}, {}", show.length_unit());
        grid.axes(canvas, show, &along, benchmark(outcome));
        if let Some(built) = built {
            for run in runs(&grid, built) {
                canvas.line(&run, width_mm::THIN, "#000000");
            }
        }
        for run in runs(&grid, &section.design) {
            canvas.line(&run, width_mm::NEW, "#000000");
        }
        for run in runs(&grid, &section.ground) {
            // White below the dashes keeps them apart from the finished line where both run.
            canvas.dashed(&run, EXISTING, width_mm::MIDDLE, "#000000");
        }
        letters_of(canvas, &grid, show, section, &found);
        for gap in gaps(section) {
            no_surface(canvas, &grid, gap);
        }
        let ends = Written::bold(&letter, 3.5);
        canvas.text([LEFT_MM, TOP_MM - 3.4], Anchor::Middle, &ends);
        let other = format!("{letter}'");
        let end = [LEFT_MM + grid.size_mm()[0], TOP_MM - 3.4];
        canvas.text(end, Anchor::Middle, &Written::bold(&other, 3.5));
        let y = bottom + 14.0;
        let x = key(
            canvas,
            [LEFT_MM, y],
            built.map(|_| soil_words(outcome)),
            &found,
        );
        bar(canvas, [x.max(LEFT_MM), y + 9.5], k, show, &scale.words);
    })
}

/// Hatches a gap and names it.
fn no_surface(canvas: &Canvas<'_>, grid: &Grid, [from, to]: [f64; 2]) {
    const WORDS: &str = "no surface";
    let (left, right) = (grid.at(from, 0.0)[0], grid.at(to, 0.0)[0]);
    if right - left < LEAST_GAP_MM {
        return;
    }
    let top = grid.corner[1];
    let bottom = top + grid.size_mm()[1];
    let ring = vec![[left, top], [right, top], [right, bottom], [left, bottom]];
    for line in hatch(&[ring], 3.0, true) {
        canvas.line(&line, width_mm::HATCH, "#8C8C8C");
    }
    // Beside a narrow gap the words stand at the top, where the paper is emptiest.
    let half = super::ink::text_width_mm(WORDS, 2.5) / 2.0 + 1.0;
    let is_narrow = right - left < 2.0 * half;
    let y = if is_narrow {
        top + 2.4
    } else {
        (top + bottom) / 2.0
    };
    let field = [grid.corner[0], grid.corner[0] + grid.size_mm()[0]];
    let x = ((left + right) / 2.0).clamp(field[0] + half, (field[1] - half).max(field[0] + half));
    canvas.text_on_white([x, y], &Written::plain(WORDS));
}

/// Two lines closer than this on paper at every scale are one, metres.
const ONE_LINE_M: f64 = 0.001;

/// True if two profiles over one line part somewhere.
fn differ(a: &Profile, b: &Profile) -> bool {
    let part = |z: f64, other: Option<f64>| other.is_none_or(|o| (z - o).abs() > ONE_LINE_M);
    a.points().any(|p| part(p.z_m, b.z_at(p.distance_m)))
        || b.points().any(|p| part(p.z_m, a.z_at(p.distance_m)))
}

/// "cut C 12.3 sq ft, fill F none".
fn areas_in_words(show: Show, section: &Section) -> String {
    format!(
        "Cut C {}, fill F {}",
        show.area_or_none(section.cut_m2),
        show.area_or_none(section.fill_m2)
    )
}

/// Title, what it shows, whose it is.
pub(super) fn heading(canvas: &Canvas<'_>, title: &str, lines: &[String], outcome: &Outcome) {
    let width = Paper::A4.width_mm - 24.0;
    let title = fit(title, 4.4, width);
    canvas.text([12.0, 10.0], Anchor::Start, &Written::bold(&title, 4.2));
    for (k, line) in lines.iter().enumerate() {
        let at = [12.0, 15.6 + 4.0 * k as f64];
        canvas.text(at, Anchor::Start, &Written::plain(&fit(line, 2.5, width)));
    }
    let job = format!("{}, {}", outcome.job.name, outcome.date);
    let at = [12.0, 15.6 + 4.0 * lines.len() as f64];
    canvas.text(at, Anchor::Start, &Written::plain(&fit(&job, 2.5, width)));
}

/// C and F inside their bands, or above those that are too thin.
fn letters_of(canvas: &Canvas<'_>, grid: &Grid, show: Show, section: &Section, found: &[Band]) {
    let count = |is_cut: bool| found.iter().filter(|b| b.is_cut == is_cut).count();
    let mut last_above = f64::NEG_INFINITY;
    for band in found {
        let width = band
            .ring
            .iter()
            .map(|p| p[0])
            .fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], d| {
                [l.min(d), h.max(d)]
            });
        let [s, top, low] = band.tallest;
        let (top, low) = (grid.at(s, top), grid.at(s, low));
        let height = low[1] - top[1];
        let (word, hex, m2) = if band.is_cut {
            ("C", CUT, section.cut_m2)
        } else {
            ("F", FILL, section.fill_m2)
        };
        let across = (width[1] - width[0]) * grid.mm_per_m;
        if height * across < 0.5 {
            continue;
        }
        // The outcome knows the area of all bands of a sign together.
        let words = if count(band.is_cut) == 1 {
            format!("{word} {}", show.area(m2))
        } else {
            word.to_owned()
        };
        let text = Written {
            colour: hex,
            ..Written::bold(&words, 3.0)
        };
        let room = super::ink::text_width_mm(&words, 3.2) + 2.0;
        if height > 5.5 && across > room * 1.3 {
            let middle = grid.at((width[0] + width[1]) / 2.0, 0.0)[0];
            let x = top[0].clamp(
                grid.at(width[0], 0.0)[0] + room / 2.0,
                grid.at(width[1], 0.0)[0] - room / 2.0,
            );
            // Between the tallest place and the middle.
            let x = (x + middle) / 2.0;
            canvas.text_on_white([x, (top[1] + low[1]) / 2.0], &text);
        } else {
            // Cut is named below, fill above: there the paper is empty.
            let bottom = grid.corner[1] + grid.size_mm()[1];
            let is_below = band.is_cut && low[1] + 6.0 < bottom;
            let mut y = if is_below { low[1] + 4.0 } else { top[1] - 4.0 };
            if !is_below && top[0] - last_above < room {
                y -= 3.6;
            }
            if !is_below {
                last_above = top[0];
            }
            let y = y.max(grid.corner[1] + 2.0);
            let left = grid.corner[0] + room / 2.0;
            let x = top[0].clamp(left, (left + grid.size_mm()[0] - room).max(left));
            let edge = if is_below { y - 1.6 } else { y + 1.6 };
            canvas.line(
                &[[x, edge], [top[0], (top[1] + low[1]) / 2.0]],
                width_mm::HATCH,
                "#000000",
            );
            canvas.text_on_white([x, y], &text);
        }
    }
}

/// What the lines and areas mean; gives where the next row may start.
/// The words for the surface to build are given where it is drawn.
fn key(canvas: &Canvas<'_>, [x, y]: [f64; 2], built: Option<&str>, found: &[Band]) -> f64 {
    let mut at = x;
    let mut next = |canvas: &Canvas<'_>, words: &str, sample: &dyn Fn(f64)| {
        sample(at);
        canvas.text([at + 12.0, y], Anchor::Start, &Written::plain(words));
        at += 18.0 + super::ink::text_width_mm(words, 2.5);
    };
    next(canvas, "existing", &|x| {
        canvas.dashed(
            &[[x, y], [x + 10.0, y]],
            EXISTING,
            width_mm::MIDDLE,
            "#000000",
        );
    });
    next(canvas, "finished", &|x| {
        canvas.line(&[[x, y], [x + 10.0, y]], width_mm::NEW, "#000000");
    });
    if let Some(words) = built {
        next(canvas, words, &|x| {
            canvas.line(&[[x, y], [x + 10.0, y]], width_mm::THIN, "#000000");
        });
    }
    let ring = |x: f64| {
        vec![
            [x, y - 1.8],
            [x + 10.0, y - 1.8],
            [x + 10.0, y + 1.8],
            [x, y + 1.8],
        ]
    };
    if found.iter().any(|b| b.is_cut) {
        next(canvas, "C cut", &|x| {
            canvas.block([x, y - 1.8], [10.0, 3.6], CUT_PALE);
            for line in hatch(&[ring(x)], 1.6, true) {
                canvas.line(&line, width_mm::HATCH, CUT);
            }
            canvas.frame([x, y - 1.8], [10.0, 3.6], width_mm::HATCH, ZONE_GREY);
        });
    }
    if found.iter().any(|b| !b.is_cut) {
        next(canvas, "F fill", &|x| {
            canvas.block([x, y - 1.8], [10.0, 3.6], FILL_PALE);
            for place in dots(&[ring(x)], 1.5) {
                canvas.dot(place, 0.4, FILL);
            }
            canvas.frame([x, y - 1.8], [10.0, 3.6], width_mm::HATCH, ZONE_GREY);
        });
    }
    x
}

/// What the line of the soil to be made is called.
fn soil_words(outcome: &Outcome) -> &'static str {
    let design = &outcome.design;
    match (&design.dug, &design.built) {
        (Some(_), Some(_)) => "soil to build, under its layers and before it settles",
        (Some(_), None) => "soil to build, under its layers",
        _ => "to build, before it settles",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::surface::ProfilePoint;

    fn profile(points: &[(f64, f64)]) -> Profile {
        Profile {
            runs: vec![
                points
                    .iter()
                    .map(|&(distance_m, z_m)| ProfilePoint {
                        distance_m,
                        x_m: distance_m,
                        y_m: 0.0,
                        z_m,
                    })
                    .collect(),
            ],
        }
    }

    #[test]
    fn bands_hold_the_areas_of_the_section() {
        let ground = profile(&[(0.0, 0.0), (10.0, 0.0)]);
        let target = profile(&[
            (0.0, 0.0),
            (2.0, -1.0),
            (4.0, 1.0),
            (6.0, 1.0),
            (7.0, 0.0),
            (10.0, 0.0),
        ]);
        let found = bands(&ground, &target);
        // By hand: a triangle 3 by 1 below, a trapezoid (2 + 4) / 2 by 1 above.
        assert_eq!(
            found.iter().map(|b| b.is_cut).collect::<Vec<_>>(),
            [true, false]
        );
        for (band, by_hand) in found.iter().zip([1.5, 3.0]) {
            let area = crate::geom::twice_area_of(&band.ring).abs() / 2.0;
            assert!((area - by_hand).abs() < 1.0e-12, "{area}");
        }
    }

    #[test]
    fn sections_are_lettered() {
        let names: Vec<String> = [0, 1, 2, 21, 22, 43, 44].map(letters).to_vec();
        assert_eq!(names, ["A", "B", "D", "Z", "AA", "AZ", "BA"]);
    }
}
