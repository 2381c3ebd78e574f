//! How far a patch reaches: the facets it can win, and the lines where it does.
//!
//! Sides run on far beyond where they meet the ground. Above the highest ground (below the
//! lowest, when raising) nothing can win, so everything is cut off there first.

use crate::geom::{P3, Point};
use crate::surface::grid::Span;
use crate::surface::height_tolerance_m;
use crate::surface::patch::Patch;
use crate::surface::surface::Surface;

use super::boxes::Boxes;
use super::pair::{Pair, flatter};
use super::trim::{Stretch, holding, inside, where_at_least, without};

/// Sides are cut off this much above the highest ground, metres: far enough that the rounding of
/// the cut is not felt where they meet it.
const ABOVE_M: f64 = 0.1;

/// What of a patch can win.
pub(super) struct Reach {
    /// Facets that lose something, ascending.
    pub(super) facets: Vec<u32>,
    /// Pieces that win something, ascending.
    pub(super) pieces: Vec<u32>,
    /// Lines where facets and pieces are equally high.
    pub(super) daylight: Vec<[Point; 2]>,
    /// Sides of the pieces that win, where they can win.
    pub(super) sides: Vec<[Point; 2]>,
    /// (facet, piece) where the piece wins, ascending by facet.
    pairs: Vec<(u32, u32)>,
    /// False if lines must be kept whole.
    is_trimmed: bool,
    sign: f64,
}

/// Heights turned round when raising, so that the lower always wins; nothing above the top counts.
#[derive(Clone, Copy)]
struct Under {
    sign: f64,
    top: f64,
}

impl Under {
    /// The part of a side that is not above the top, in a fixed direction: every piece that
    /// shares the side finds the same lattice point.
    fn side(self, a: P3, b: P3) -> Option<[Point; 2]> {
        let (a, b) = if b.p < a.p { (b, a) } else { (a, b) };
        let (ha, hb) = (self.top - self.sign * a.z, self.top - self.sign * b.z);
        if ha < 0.0 && hb < 0.0 {
            return None;
        }
        if ha >= 0.0 && hb >= 0.0 {
            return Some([a.p, b.p]);
        }
        let t = ha / (ha - hb);
        let cut = Point::new(
            a.p.x + (t * (b.p.x - a.p.x) as f64).round() as i64,
            a.p.y + (t * (b.p.y - a.p.y) as f64).round() as i64,
        );
        Some(if ha >= 0.0 { [a.p, cut] } else { [cut, b.p] })
    }

    /// The box round what of a piece is not above the top.
    fn span(self, [a, b, c]: [P3; 3]) -> Option<Span> {
        let sides = [(a, b), (b, c), (c, a)];
        Span::of(
            sides
                .into_iter()
                .filter_map(|(a, b)| self.side(a, b))
                .flatten(),
        )
    }
}

impl Reach {
    /// `None` if no piece wins anywhere. With `sign` 1 the lower wins, with -1 the higher.
    pub(super) fn find(surface: &Surface, patch: &Patch, sign: f64) -> Option<Reach> {
        let mut under = Under {
            sign,
            top: f64::INFINITY,
        };
        let mut numbers: Vec<u32> = (0..patch.pieces.len() as u32).collect();
        let mut spans: Vec<Span> = patch
            .pieces
            .iter()
            .map(|p| Span::triangle(p.corners.map(|c| c.p)))
            .collect();
        let mut facets: Vec<u32> = Vec::new();
        // Cutting narrows the boxes, and that may lower the highest ground under them.
        for _ in 0..2 {
            facets.clear();
            for span in common_spans(&spans) {
                surface.facets_near(&span, |f| facets.push(f));
            }
            facets.sort_unstable();
            facets.dedup();
            let corners = facets.iter().flat_map(|&f| surface.corners(f));
            let highest = corners
                .map(|c| sign * c.z)
                .fold(f64::NEG_INFINITY, f64::max);
            under.top = highest + ABOVE_M;
            (numbers, spans) = numbers
                .into_iter()
                .filter_map(|i| Some((i, under.span(patch.pieces[i as usize].corners)?)))
                .unzip();
        }
        Reach::among(surface, patch, under, &facets, &numbers, &spans)
    }

    fn among(
        surface: &Surface,
        patch: &Patch,
        under: Under,
        facets: &[u32],
        numbers: &[u32],
        spans: &[Span],
    ) -> Option<Reach> {
        let sign = under.sign;
        let boxes = Boxes::new(spans);
        let mut reach = Reach {
            facets: Vec::new(),
            pieces: Vec::new(),
            daylight: Vec::new(),
            sides: Vec::new(),
            pairs: Vec::new(),
            // What hangs together with an anchor is also found where nothing wins.
            is_trimmed: patch.anchors.is_empty(),
            sign,
        };
        let mut is_worthwhile = false;
        let mut wins = vec![false; spans.len()];
        for &f in facets {
            let corners = surface.corners(f);
            let mut loses = false;
            boxes.near(&Span::triangle(corners.map(|c| c.p)), |k| {
                let piece = &patch.pieces[numbers[k as usize] as usize];
                let plane = &patch.sheets[piece.sheet as usize].plane;
                // The difference is linear: where it is nowhere positive at the corners of the
                // facet, the piece wins nowhere on it. Most facets end here.
                if corners
                    .iter()
                    .all(|c| sign * (c.z - plane.z_at(c.p)) <= 0.0)
                {
                    return;
                }
                let pair = Pair::new(surface, f, patch, piece, sign);
                if pair.highest() > pair.tolerance {
                    is_worthwhile |= pair.is_worthwhile();
                    loses = true;
                    wins[k as usize] = true;
                    reach.pairs.push((f, numbers[k as usize]));
                    reach.daylight.extend(pair.daylight());
                }
            });
            if loses {
                reach.facets.push(f);
            }
        }
        if !is_worthwhile {
            return None;
        }
        for (k, &number) in numbers.iter().enumerate() {
            if !wins[k] {
                continue;
            }
            reach.pieces.push(number);
            let piece = &patch.pieces[number as usize];
            if !reach.is_trimmed {
                let [a, b, c] = piece.corners;
                let sides = [(a, b), (b, c), (c, a)].into_iter();
                let sides = sides.filter_map(|(a, b)| under.side(a, b));
                reach.sides.extend(sides);
            }
            boxes.near(&spans[k], |j| {
                let other = &patch.pieces[numbers[j as usize] as usize];
                if j as usize > k && wins[j as usize] && other.sheet != piece.sheet {
                    let pair = Pair::of_pieces(patch, piece, other, sign);
                    reach.daylight.extend(pair.daylight());
                }
            });
        }
        if reach.is_trimmed {
            reach.trim_sides(surface, patch);
        }
        Some(reach)
    }

    /// The sides of pieces where they win. A side that two pieces share counts once, where either
    /// wins.
    fn trim_sides(&mut self, surface: &Surface, patch: &Patch) {
        let mut sides: Vec<Side> = Vec::new();
        for &(f, number) in &self.pairs {
            let plan = surface.plan(f);
            let plane = &surface.source(f).plane;
            let corners = patch.pieces[number as usize].corners;
            for k in 0..3 {
                let (a, b) = (corners[k], corners[(k + 1) % 3]);
                let (a, b) = if b.p < a.p { (b, a) } else { (a, b) };
                let line = [a.p, b.p];
                let gain = |c: P3| self.sign * (plane.z_at(c.p) - c.z);
                let least = -height_tolerance_m(plane.steepness());
                let stretch = inside(line, plan)
                    .and_then(|stretch| where_at_least(stretch, [gain(a), gain(b)], least));
                if let Some(stretch) = stretch {
                    sides.push(Side {
                        line,
                        z: [a.z, b.z],
                        stretch,
                    });
                }
            }
        }
        sides.sort_unstable_by(|s, t| {
            let z = |s: &Side| s.z.map(f64::to_bits);
            (s.line.cmp(&t.line)).then_with(|| z(s).cmp(&z(t)))
        });
        for same in sides.chunk_by(|s, t| s.line == t.line && s.z == t.z) {
            let from = same.iter().map(|s| s.stretch[0]).fold(1.0, f64::min);
            let to = same.iter().map(|s| s.stretch[1]).fold(0.0, f64::max);
            self.sides.push(holding(same[0].line, [from, to]));
        }
    }

    /// The parts of the edge between two facets that no piece hides.
    pub(super) fn trim_edge(
        &self,
        surface: &Surface,
        patch: &Patch,
        facets: [u32; 2],
        line: [Point; 2],
        visit: impl FnMut([Point; 2]),
    ) {
        let mut hidden = Vec::new();
        if self.is_trimmed {
            let own = surface.source(facets[0]).plane;
            let under = flatter(surface, (facets[0], own), facets[1]);
            for f in facets {
                let first = self.pairs.partition_point(|&(other, _)| other < f);
                for &(_, number) in self.pairs[first..].iter().take_while(|pair| pair.0 == f) {
                    let piece = &patch.pieces[number as usize];
                    let plane = &patch.sheets[piece.sheet as usize].plane;
                    let least = 2.0 * height_tolerance_m(under.steepness() + plane.steepness());
                    let gain = |p: Point| self.sign * (under.z_at(p) - plane.z_at(p));
                    let stretch = inside(line, piece.corners.map(|c| c.p))
                        .and_then(|stretch| where_at_least(stretch, line.map(gain), least));
                    hidden.extend(stretch);
                }
            }
        }
        without(line, &mut hidden, visit);
    }
}

/// A side of a piece, and where along it the piece wins.
struct Side {
    line: [Point; 2],
    z: [f64; 2],
    stretch: Stretch,
}

/// Boxes that hold all of these, those together that lie together: one query for many pieces.
fn common_spans(spans: &[Span]) -> Vec<Span> {
    let area = |s: &Span| (s.high.x - s.low.x + 1) as f64 * (s.high.y - s.low.y + 1) as f64;
    let mut common: Vec<(Span, f64)> = Vec::new();
    for span in spans {
        if let Some((last, sum)) = common.last_mut() {
            let both = Span {
                low: Point::new(last.low.x.min(span.low.x), last.low.y.min(span.low.y)),
                high: Point::new(last.high.x.max(span.high.x), last.high.y.max(span.high.y)),
            };
            if area(&both) <= 2.0 * (*sum + area(span)) {
                (*last, *sum) = (both, *sum + area(span));
                continue;
            }
        }
        common.push((*span, area(span)));
    }
    common.into_iter().map(|(span, _)| span).collect()
}
