//! Two flat pieces that share some plan area: where one wins, and the line where they meet.

use crate::geom::{P3, Point};
use crate::surface::clip::Polygon;
use crate::surface::height_tolerance_m;
use crate::surface::patch::{Patch, Piece};
use crate::surface::plane::Plane;
use crate::surface::surface::Surface;

/// A strip narrower than this, metres, is no reason to change anything: edges are straightened by
/// two units and rounded by one or two more on either side, the patch may have been moved by
/// four, and what that leaves must not be taken for a change.
pub(super) const NARROWEST_M: f64 = 16.0e-9;

/// Nor is a gain of less than this many tolerances: so a shape laid again changes nothing.
pub(super) const WORTHWHILE: f64 = 4.0;

/// A facet and a piece, or two pieces, that share some plan area.
pub(super) struct Pair {
    pub(super) origin: Point,
    pub(super) polygon: Polygon,
    /// Height of the first over the second at the corners, positive where the second wins.
    pub(super) gain: [f64; 9],
    pub(super) tolerance: f64,
    pub(super) first: [P3; 3],
    pub(super) second: [P3; 3],
    /// Planes that tell the heights along the sides of the first.
    pub(super) along: [Plane; 3],
    pub(super) first_plane: Plane,
    pub(super) second_plane: Plane,
}

impl Pair {
    pub(super) fn new(
        surface: &Surface,
        facet: u32,
        patch: &Patch,
        piece: &Piece,
        sign: f64,
    ) -> Pair {
        let own = surface.source(facet).plane;
        let mut pair = Pair::between(
            (surface.corners(facet), &own),
            (piece.corners, &patch.sheets[piece.sheet as usize].plane),
            sign,
        );
        for (plane, n) in pair.along.iter_mut().zip(surface.neighbours(facet)) {
            *plane = flatter(surface, (facet, own), n);
        }
        pair
    }

    pub(super) fn of_pieces(patch: &Patch, first: &Piece, second: &Piece, sign: f64) -> Pair {
        Pair::between(
            (first.corners, &patch.sheets[first.sheet as usize].plane),
            (second.corners, &patch.sheets[second.sheet as usize].plane),
            sign,
        )
    }

    pub(super) fn between(
        (first, first_plane): ([P3; 3], &Plane),
        (second, second_plane): ([P3; 3], &Plane),
        sign: f64,
    ) -> Pair {
        let origin = first[0].p;
        let polygon = Polygon::common(
            first.map(|c| c.p.relative_m(origin)),
            second.map(|c| c.p.relative_m(origin)),
        );
        let base = first_plane.z_at(origin) - second_plane.z_at(origin);
        let slope = [
            first_plane.slope[0] - second_plane.slope[0],
            first_plane.slope[1] - second_plane.slope[1],
        ];
        let mut gain = [0.0; 9];
        for (gain, q) in gain.iter_mut().zip(polygon.corners()) {
            *gain = sign * (base + slope[0] * q[0] + slope[1] * q[1]);
        }
        Pair {
            origin,
            polygon,
            gain,
            tolerance: height_tolerance_m(first_plane.steepness() + second_plane.steepness()),
            first,
            second,
            along: [*first_plane; 3],
            first_plane: *first_plane,
            second_plane: *second_plane,
        }
    }

    pub(super) fn gains(&self) -> &[f64] {
        &self.gain[..self.polygon.corners().len()]
    }

    pub(super) fn highest(&self) -> f64 {
        // A common part thinner than the lattice decides nothing.
        if self.polygon.area() < 1.0e-18 {
            return f64::NEG_INFINITY;
        }
        self.gains()
            .iter()
            .copied()
            .fold(f64::NEG_INFINITY, f64::max)
    }

    /// True if the second wins by [`WORTHWHILE`] tolerances on a strip of the common part that is
    /// wider than [`NARROWEST_M`].
    pub(super) fn is_worthwhile(&self) -> bool {
        let least = WORTHWHILE * self.tolerance;
        if self.highest() <= least {
            return false;
        }
        let corners = self.polygon.corners();
        let (mut part, mut len) = ([[0.0f64; 2]; 18], 0);
        for (i, &p) in corners.iter().enumerate() {
            let j = if i + 1 == corners.len() { 0 } else { i + 1 };
            let (gp, gq) = (self.gain[i] - least, self.gain[j] - least);
            if gp > 0.0 {
                part[len] = p;
                len += 1;
            }
            if (gp > 0.0) != (gq > 0.0) {
                let (q, t) = (corners[j], gp / (gp - gq));
                part[len] = [p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])];
                len += 1;
            }
        }
        let part = &part[..len];
        let from = part[0];
        let (mut twice_area, mut longest) = (0.0, 0.0f64);
        for pair in part.windows(2) {
            let [[ax, ay], [bx, by]] = [pair[0], pair[1]].map(|p| [p[0] - from[0], p[1] - from[1]]);
            twice_area += ax * by - ay * bx;
            longest = longest.max(bx.hypot(by));
        }
        twice_area > NARROWEST_M * longest
    }

    /// The line where the two are equally high, inside the common part.
    pub(super) fn daylight(&self) -> Option<[Point; 2]> {
        let gains = self.gains();
        if self.highest() <= self.tolerance
            || gains.iter().copied().fold(f64::INFINITY, f64::min) >= 0.0
        {
            return None;
        }
        let mut ends: Vec<Point> = Vec::with_capacity(4);
        for (i, &gain) in gains.iter().enumerate() {
            let j = if i + 1 == gains.len() { 0 } else { i + 1 };
            if gain == 0.0 {
                let q = self.polygon.corners()[i];
                let offset = Point::from_m(q[0], q[1]);
                ends.push(Point::new(
                    self.origin.x + offset.x,
                    self.origin.y + offset.y,
                ));
            } else if (gain > 0.0) != (gains[j] > 0.0) && gains[j] != 0.0 {
                ends.push(self.on_side(self.polygon.sides()[i]));
            }
        }
        // Rounding may find the same end several times: the two farthest apart are meant.
        let mut best: Option<(f64, [Point; 2])> = None;
        for (i, &a) in ends.iter().enumerate() {
            for &b in &ends[i + 1..] {
                let far = ((b.x - a.x) as f64).hypot((b.y - a.y) as f64);
                if far > 0.0 && best.is_none_or(|(most, _)| far > most) {
                    best = Some((far, [a, b]));
                }
            }
        }
        best.map(|(_, ends)| ends)
    }

    /// The daylight point on a side, computed from the whole side in a fixed direction: every
    /// pair that shares the side and the other plane finds the same lattice point.
    pub(super) fn on_side(&self, side: u8) -> Point {
        let k = side as usize % 3;
        let triangle = if side < 3 { &self.first } else { &self.second };
        let (mut a, mut b) = (triangle[k], triangle[(k + 1) % 3]);
        if b.p < a.p {
            std::mem::swap(&mut a, &mut b);
        }
        let gain = |c: P3| {
            if side < 3 {
                self.along[k].z_at(c.p) - self.second_plane.z_at(c.p)
            } else {
                c.z - self.first_plane.z_at(c.p)
            }
        };
        let (at_a, at_b) = (gain(a), gain(b));
        let t = at_a / (at_a - at_b);
        let t = if t.is_finite() {
            t.clamp(0.0, 1.0)
        } else {
            0.5
        };
        Point::new(
            a.p.x + (t * (b.p.x - a.p.x) as f64).round() as i64,
            a.p.y + (t * (b.p.y - a.p.y) as f64).round() as i64,
        )
    }
}

/// The plane that tells the heights along the edge between a facet and its neighbour: the flatter
/// of theirs, for a corner a unit aside is then least wrong.
pub(super) fn flatter(surface: &Surface, (facet, own): (u32, Plane), neighbour: u32) -> Plane {
    if neighbour == Surface::NONE {
        return own;
    }
    let other = surface.source(neighbour).plane;
    let key = |f: u32, plane: &Plane| (plane.steepness(), surface.facets[f as usize].source.id());
    let (one, two) = (key(facet, &own), key(neighbour, &other));
    if one.0.total_cmp(&two.0).then(one.1.cmp(&two.1)).is_le() {
        own
    } else {
        other
    }
}
