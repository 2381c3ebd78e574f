//! A ground of more facets than paper can show, in squares.
//!
//! Takes what bands go by, gives squares with their band. Knows not what the bands are of.

use crate::geom::{P3, Point};
use crate::surface::Surface;
use crate::terrain::GROUND;
use crate::units::NM_PER_M;

/// Grounds of more facets than this are shown in squares: each facet of a larger one is smaller
/// than a letter on the largest paper.
const MOST_FACETS: usize = 20_000;

/// Side of a square on paper, mm.
const SIDE_MM: f64 = 3.0;

/// What the bands of facets go by.
pub(super) enum Banding<'a> {
    /// A number of each facet; a square has the band that the middle of its area has.
    Middle(&'a dyn Fn(u32) -> usize),
    /// The slope of each facet, rise over run; a square has that of its mean plane, since single
    /// facets of a scan lean with every error of a height.
    Slope(&'a dyn Fn(f64) -> usize),
}

impl Banding<'_> {
    /// Band of a facet.
    pub(super) fn of(&self, ground: &Surface, facet: u32) -> usize {
        match self {
            Banding::Middle(band_of) => band_of(facet),
            Banding::Slope(band_of) => band_of(ground.source(facet).plane.steepness()),
        }
    }
}

/// Squares as a surface of two facets each, with the band of every facet.
pub(super) struct Squares {
    pub(super) surface: Surface,
    pub(super) band_of: Vec<usize>,
    /// Side of a square, metres.
    pub(super) side_m: f64,
}

impl Squares {
    /// Squares of a ground; `None` if it has so few facets that each can be seen.
    ///
    /// A facet counts to the square its centre lies in. A square is shown where the facets that
    /// count to it have half its area or more.
    ///
    /// # Input
    ///
    /// fewer than eight bands; `mm_per_m` of the paper
    pub(super) fn of(ground: &Surface, mm_per_m: f64, banding: &Banding) -> Option<Squares> {
        const BANDS: usize = 8;
        if ground.num_facets() <= MOST_FACETS {
            return None;
        }
        let side_m = SIDE_MM / mm_per_m;
        let side = (side_m * NM_PER_M).round().max(1.0) as i64;
        let centre = |f: u32| {
            let [a, b, c] = ground.corners(f).map(|c| c.p);
            Point::new((a.x + b.x + c.x) / 3, (a.y + b.y + c.y) / 3)
        };
        let square = |f: u32| {
            let p = centre(f);
            (p.x.div_euclid(side), p.y.div_euclid(side))
        };
        let columns = ground.facets().map(|f| square(f).0);
        let (west, east) = columns.fold((i64::MAX, i64::MIN), |(a, b), x| (a.min(x), b.max(x)));
        let rows = ground.facets().map(|f| square(f).1);
        let (south, north) = rows.fold((i64::MAX, i64::MIN), |(a, b), y| (a.min(y), b.max(y)));
        let width = (east - west + 1) as usize;
        let count = width * (north - south + 1) as usize;
        // Areas by band, and the slope east and north weighted by area.
        let mut areas = vec![[0.0f64; BANDS]; count];
        let mut slopes = vec![[0.0f64; 2]; count];
        for f in ground.facets() {
            let (x, y) = square(f);
            let at = (y - south) as usize * width + (x - west) as usize;
            let area = ground.area_m2(f);
            areas[at][banding.of(ground, f).min(BANDS - 1)] += area;
            for (sum, rise) in slopes[at].iter_mut().zip(ground.source(f).plane.slope) {
                *sum += rise * area;
            }
        }
        let shown = areas.iter().zip(&slopes).map(|(areas, slope)| {
            let whole: f64 = areas.iter().sum();
            (whole * 2.0 >= side_m * side_m).then(|| match banding {
                Banding::Slope(band_of) => band_of(slope[0].hypot(slope[1]) / whole),
                Banding::Middle(_) => {
                    let mut sum = 0.0;
                    let middle = areas.iter().position(|area| {
                        sum += area;
                        sum * 2.0 >= whole
                    });
                    middle.unwrap_or(0)
                }
            })
        });
        let shown: Vec<Option<usize>> = shown.collect();
        let corner = |x: usize, y: usize| P3 {
            p: Point::new((west + x as i64) * side, (south + y as i64) * side),
            z: 0.0,
        };
        let mut ids = vec![u32::MAX; (width + 1) * (shown.len() / width + 1)];
        let (mut vertices, mut triangles, mut bands) = (Vec::new(), Vec::new(), Vec::new());
        for (at, band) in shown.iter().enumerate() {
            let Some(band) = *band else { continue };
            let (x, y) = (at % width, at / width);
            let mut id = |x: usize, y: usize| {
                let id = &mut ids[y * (width + 1) + x];
                if *id == u32::MAX {
                    *id = vertices.len() as u32;
                    vertices.push(corner(x, y));
                }
                *id
            };
            let [a, b, c, d] = [id(x, y), id(x + 1, y), id(x + 1, y + 1), id(x, y + 1)];
            triangles.extend([[a, b, c], [a, c, d]]);
            bands.extend([band, band]);
        }
        let surface = Surface::from_triangles(vertices, &triangles, 0).ok()?;
        Some(Squares {
            surface,
            band_of: bands,
            side_m,
        })
    }
}

/// Side of the squares that heights are averaged over for contours, on paper, mm.
const MEAN_MM: f64 = 2.0;

/// A dense ground with the errors of single heights averaged out, for contours that can be read;
/// with the side of the squares it was averaged over, metres. `None` for other grounds.
///
/// A node of the squares has the mean height of the vertices nearer to it than to any other, or
/// that of the ground there; where there is no ground there is none.
pub(super) fn averaged(ground: &Surface, mm_per_m: f64) -> Option<(Surface, f64)> {
    if ground.num_facets() <= MOST_FACETS {
        return None;
    }
    let side_m = MEAN_MM / mm_per_m;
    let side = (side_m * NM_PER_M).round().max(1.0) as i64;
    let mut is_used = vec![false; ground.vertices().len()];
    for v in ground.facets().flat_map(|f| ground.vertex_ids(f)) {
        is_used[v as usize] = true;
    }
    let used = || {
        let all = ground.vertices().iter().zip(&is_used);
        all.filter_map(|(c, is_used)| is_used.then_some(c))
    };
    let node = |p: Point| {
        (
            (p.x + side / 2).div_euclid(side),
            (p.y + side / 2).div_euclid(side),
        )
    };
    let (mut low, mut high) = ((i64::MAX, i64::MAX), (i64::MIN, i64::MIN));
    for (x, y) in used().map(|c| node(c.p)) {
        low = (low.0.min(x), low.1.min(y));
        high = (high.0.max(x), high.1.max(y));
    }
    let width = (high.0 - low.0 + 1) as usize;
    let mut sums = vec![(0.0f64, 0u32); width * (high.1 - low.1 + 1) as usize];
    for c in used() {
        let (x, y) = node(c.p);
        let sum = &mut sums[(y - low.1) as usize * width + (x - low.0) as usize];
        *sum = (sum.0 + c.z, sum.1 + 1);
    }
    let mut vertices = Vec::new();
    let ids: Vec<Option<u32>> = sums
        .into_iter()
        .enumerate()
        .map(|(at, (sum, count))| {
            let (x, y) = (low.0 + (at % width) as i64, low.1 + (at / width) as i64);
            let p = Point::new(x * side, y * side);
            let z = match count {
                0 => ground.z_at(p)?,
                n => sum / f64::from(n),
            };
            vertices.push(P3 { p, z });
            Some(vertices.len() as u32 - 1)
        })
        .collect();
    let mut triangles = Vec::new();
    for at in 0..ids.len().saturating_sub(width) {
        if at % width + 1 == width {
            continue;
        }
        let corners = [ids[at], ids[at + 1], ids[at + width + 1], ids[at + width]];
        if let [Some(a), Some(b), Some(c), Some(d)] = corners {
            triangles.extend([[a, b, c], [a, c, d]]);
        }
    }
    let surface = Surface::from_triangles(vertices, &triangles, GROUND).ok()?;
    Some((surface, side_m))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A level ground of `n` by `n` cells of half a metre, two facets each.
    fn ground(n: u32) -> Surface {
        let at = |x: u32, y: u32| y * (n + 1) + x;
        let vertices = (0..(n + 1) * (n + 1))
            .map(|k| P3 {
                p: Point::from_m(f64::from(k % (n + 1)) * 0.5, f64::from(k / (n + 1)) * 0.5),
                z: 100.0,
            })
            .collect();
        let triangles: Vec<[u32; 3]> = (0..n * n)
            .flat_map(|k| {
                let (x, y) = (k % n, k / n);
                let [a, b, c, d] = [at(x, y), at(x + 1, y), at(x + 1, y + 1), at(x, y + 1)];
                [[a, b, c], [a, c, d]]
            })
            .collect();
        Surface::from_triangles(vertices, &triangles, 0).unwrap()
    }

    #[test]
    fn heights_are_averaged_over_squares() {
        assert!(averaged(&ground(20), 3.0).is_none());
        // 2 mm are 2 m on this paper: nodes of 4 by 4 vertices.
        let (surface, side_m) = averaged(&ground(120), 1.0).unwrap();
        assert!((side_m - 2.0).abs() < 1e-9);
        assert_eq!(surface.num_facets(), 30 * 30 * 2);
        assert!(
            surface
                .vertices()
                .iter()
                .all(|c| (c.z - 100.0).abs() < 1e-9)
        );
    }

    #[test]
    fn squares_cover_a_dense_ground_and_take_its_bands() {
        assert!(Squares::of(&ground(20), 3.0, &Banding::Middle(&|_| 0)).is_none());
        let dense = ground(120);
        // The western half is of band 1, the rest of band 3.
        let is_west = |f: u32| dense.corners(f).iter().all(|c| c.p.x_m() <= 30.0);
        let middle = |f| if is_west(f) { 1 } else { 3 };
        let squares = Squares::of(&dense, 3.0, &Banding::Middle(&middle)).unwrap();
        assert!((squares.side_m - 1.0).abs() < 1e-9);
        assert_eq!(squares.surface.num_facets(), 60 * 60 * 2);
        let area = |band: usize| {
            let own = |f: &u32| squares.band_of[*f as usize] == band;
            let facets = squares.surface.facets().filter(own);
            facets.map(|f| squares.surface.area_m2(f)).sum::<f64>()
        };
        assert!((area(1) - 1800.0).abs() < 1e-6);
        assert!((area(3) - 1800.0).abs() < 1e-6);
        // Level facets have a level mean.
        let steep = |slope: f64| usize::from(slope > 0.0);
        let squares = Squares::of(&dense, 3.0, &Banding::Slope(&steep)).unwrap();
        assert!(squares.band_of.iter().all(|&band| band == 0));
    }
}
