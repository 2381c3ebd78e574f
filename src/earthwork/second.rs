//! A second way to the same volume: parallel sections, as one would do by hand.

use crate::geom::{Point, distance_m};
use crate::surface::{Profile, Surface};

/// Volume from parallel sections by average end areas and by the prismoidal rule.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize)]
pub struct SecondMethod {
    /// Sections taken.
    pub sections: usize,
    /// Distance between them, m.
    pub spacing_m: f64,
    /// Cut by average end areas, m3.
    pub cut_end_area_m3: f64,
    /// Fill by average end areas, m3.
    pub fill_end_area_m3: f64,
    /// Cut by the prismoidal rule, m3.
    pub cut_prismoidal_m3: f64,
    /// Fill by the prismoidal rule, m3.
    pub fill_prismoidal_m3: f64,
}

/// Sections taken by default: an even number of gaps, as the prismoidal rule needs.
const GAPS: usize = 40;

/// Volumes by sections across the longer side of the box round everything that changes.
///
/// # Source
///
/// average end areas and the prismoidal rule (Simpson's), route-surveying texts;
/// check values SEC-01 to SEC-11
pub fn by_sections(ground: &Surface, design: &Surface, changed: &[Point]) -> Option<SecondMethod> {
    let low = Point::new(
        changed.iter().map(|p| p.x).min()?,
        changed.iter().map(|p| p.y).min()?,
    );
    let high = Point::new(
        changed.iter().map(|p| p.x).max()?,
        changed.iter().map(|p| p.y).max()?,
    );
    let along_x = high.x - low.x >= high.y - low.y;
    let mut areas = Vec::with_capacity(GAPS + 1);
    for k in 0..=GAPS as i64 {
        let at = |from: i64, to: i64| from + (to - from) / GAPS as i64 * k;
        let line = if along_x {
            [
                Point::new(at(low.x, high.x), low.y),
                Point::new(at(low.x, high.x), high.y),
            ]
        } else {
            [
                Point::new(low.x, at(low.y, high.y)),
                Point::new(high.x, at(low.y, high.y)),
            ]
        };
        areas.push(section_areas(
            &ground.profile(&line),
            &design.profile(&line),
        ));
    }
    let end = if along_x {
        Point::new(high.x, low.y)
    } else {
        Point::new(low.x, high.y)
    };
    let spacing = distance_m(low, end) / GAPS as f64;
    let end_area = |k: usize| -> f64 {
        areas
            .windows(2)
            .map(|w| (w[0][k] + w[1][k]) / 2.0 * spacing)
            .sum()
    };
    let prismoidal = |k: usize| -> f64 {
        areas
            .windows(3)
            .step_by(2)
            .map(|w| (w[0][k] + 4.0 * w[1][k] + w[2][k]) / 6.0 * 2.0 * spacing)
            .sum()
    };
    Some(SecondMethod {
        sections: GAPS + 1,
        spacing_m: spacing,
        cut_end_area_m3: end_area(0),
        fill_end_area_m3: end_area(1),
        cut_prismoidal_m3: prismoidal(0),
        fill_prismoidal_m3: prismoidal(1),
    })
}

/// Areas of cut and fill between two profiles over the same line, square metres.
pub fn section_areas(ground: &Profile, design: &Profile) -> [f64; 2] {
    let breaks = ground.breaks_with(design);
    let mut areas = [0.0; 2];
    for pair in breaks.windows(2) {
        let width = pair[1] - pair[0];
        // Between two breaks the difference is linear. It is read inside and drawn out to the
        // ends, where one of the profiles may have a step or its own end.
        let depth = |t: f64| {
            let s = pair[0] + t * width;
            Some(ground.z_at(s)? - design.z_at(s)?)
        };
        let (Some(near), Some(far)) = (depth(0.25), depth(0.75)) else {
            continue;
        };
        let (a, b) = (1.5 * near - 0.5 * far, 1.5 * far - 0.5 * near);
        if a >= 0.0 && b >= 0.0 {
            areas[0] += (a + b) / 2.0 * width;
        } else if a <= 0.0 && b <= 0.0 {
            areas[1] -= (a + b) / 2.0 * width;
        } else {
            let t = a / (a - b);
            let (first, second) = (a.abs() / 2.0 * t * width, b.abs() / 2.0 * (1.0 - t) * width);
            areas[usize::from(a < 0.0)] += first;
            areas[usize::from(b < 0.0)] += second;
        }
    }
    areas
}
