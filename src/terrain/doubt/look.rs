//! What slip a wrong height looks like.

use crate::geom::Point;
use crate::survey::Shot;

use super::Looked;

/// A slip explains a height if it brings it this near to what the neighbours say, in units of
/// the scatter there.
const NEAR: f64 = 1.5;

/// The slip that puts a height right, if one does so well enough.
pub(super) fn looks_like(
    looked: &Looked,
    shot: &Shot,
    says_m: f64,
    scatter_m: f64,
) -> Option<String> {
    let unit = looked.show.unit();
    let (is, says) = (unit.from_m(shot.z_m), unit.from_m(says_m));
    let near = NEAR * unit.from_m(scatter_m);
    let off = is - says;
    if let Some(z) = swapped_place(looked, shot)
        && (z - shot.z_m).abs() <= NEAR * scatter_m
    {
        return Some("x and y changed places".to_owned());
    }
    if (is + says).abs() <= near && says.abs() > 4.0 * near {
        return Some("a wrong sign".to_owned());
    }
    // Whole units first: a foot or a metre misread on the rod is the commonest.
    for whole in [1.0, 2.0, 5.0, 10.0] {
        if (off.abs() - whole).abs() <= near.min(0.2 * whole) {
            let name = if unit.is_foot() { "ft" } else { "m" };
            return Some(format!("{whole} {name} misread"));
        }
    }
    if let Some(z) = swapped_digits(is).find(|z| (z - says).abs() <= near) {
        return Some(format!(
            "two digits that changed places ({z:.2} written as {is:.2})"
        ));
    }
    // A reading of feet and inches written with a point: at most 11 in as ".11", 0.81 ft off,
    // and 9 in as ".9", 0.15 ft. Common practice, no source.
    let inches = |n: f64| [n / 10.0 - n / 12.0, n / 100.0 - n / 12.0];
    let is_inches = (1..12).flat_map(|n| inches(f64::from(n)));
    if unit.is_foot()
        && let Some(_) = is_inches
            .filter(|d| d.abs() > 2.0 * near / NEAR)
            .find(|d| (off.abs() - d.abs()).abs() <= 0.3 * near)
    {
        return Some("inches written as decimals of a foot".to_owned());
    }
    None
}

/// Height of the ground where a shot would lie with x and y exchanged, if it is ground without
/// that shot.
fn swapped_place(looked: &Looked, shot: &Shot) -> Option<f64> {
    const NM: i64 = 1_000_000_000;
    let origin = looked.survey.origin;
    let (x, y) = (
        shot.p.x.checked_add(origin.x_m.checked_mul(NM)?)?,
        shot.p.y.checked_add(origin.y_m.checked_mul(NM)?)?,
    );
    let place: Point = origin.local(y, x)?;
    let surface = &looked.terrain.surface;
    let facet = surface.facet_at(place)?;
    // Ground that rests on the shot itself proves nothing.
    let is_own = surface.corners(facet).iter().any(|c| c.p == shot.p);
    (!is_own).then(|| surface.source(facet).plane.z_at(place))
}

/// A height with two digits that stand side by side exchanged, to the hundredth.
fn swapped_digits(value: f64) -> impl Iterator<Item = f64> {
    let text = format!("{:.2}", value.abs());
    let digits: Vec<usize> = text
        .char_indices()
        .filter(|(_, c)| c.is_ascii_digit())
        .map(|(at, _)| at)
        .collect();
    let swap = move |pair: &[usize]| {
        let mut bytes = text.clone().into_bytes();
        bytes.swap(pair[0], pair[1]);
        let swapped: f64 = String::from_utf8(bytes).ok()?.parse().ok()?;
        Some(swapped.copysign(value))
    };
    let swapped: Vec<f64> = digits.windows(2).filter_map(swap).collect();
    swapped.into_iter()
}
