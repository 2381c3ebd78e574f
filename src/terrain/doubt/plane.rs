//! The plane through places that fits their heights best.

use crate::geom::P3;
use crate::surface::Plane;

/// The plane of least squares, each place with its weight.
pub(super) fn best_plane(places: &[P3], weight: impl Fn(usize) -> f64) -> Plane {
    let origin = places.first().copied().unwrap_or_default();
    let at = |k: usize| places[k].p.relative_m(origin.p);
    let all: f64 = (0..places.len()).map(&weight).sum();
    let mean = |of: &dyn Fn(usize) -> f64| {
        let sum: f64 = (0..places.len()).map(|k| weight(k) * of(k)).sum();
        sum / all.max(f64::MIN_POSITIVE)
    };
    let (mx, my, mz) = (
        mean(&|k| at(k)[0]),
        mean(&|k| at(k)[1]),
        mean(&|k| places[k].z),
    );
    let sum = |of: &dyn Fn(f64, f64, f64) -> f64| {
        mean(&|k| of(at(k)[0] - mx, at(k)[1] - my, places[k].z - mz))
    };
    let (xx, xy, yy) = (
        sum(&|x, _, _| x * x),
        sum(&|x, y, _| x * y),
        sum(&|_, y, _| y * y),
    );
    let (xz, yz) = (sum(&|x, _, z| x * z), sum(&|_, y, z| y * z));
    let det = xx * yy - xy * xy;
    let slope = if det > 0.0 {
        [(xz * yy - yz * xy) / det, (yz * xx - xz * xy) / det]
    } else {
        [0.0, 0.0]
    };
    Plane {
        through: P3 {
            p: origin.p,
            z: mz - slope[0] * mx - slope[1] * my,
        },
        slope,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::Point;

    #[test]
    fn a_plane_fits_itself() {
        let z = |x: f64, y: f64| 3.0 + 0.2 * x - 0.1 * y;
        let places: Vec<P3> = [(4.0, 7.0), (0.0, 0.0), (9.0, 1.0), (3.0, 8.0)]
            .map(|(x, y)| P3 {
                p: Point::from_m(x, y),
                z: z(x, y),
            })
            .to_vec();
        let plane = best_plane(&places, |k| (k + 1) as f64);
        let far = Point::from_m(-20.0, 33.0);
        assert!((plane.z_at(far) - z(-20.0, 33.0)).abs() < 1e-9);
    }
}
