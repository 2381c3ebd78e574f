//! Gates: where they stand, how wide they are, and the lines they open.

use crate::design::KeepOffPlace;
use crate::diag::{At, Diagnostic};
use crate::geom::{Point, distance_m, nearest_on};
use crate::job::{GateShape, Job, KeepOffKind};
use crate::survey::Survey;

use super::super::stream::along;

/// How far a post may stand from a line that is drawn and still be part of it, metres: a fence
/// stands a step off the line it is drawn on.
const BESIDE_LINE_M: f64 = 1.0;

/// A gate with its place found.
#[derive(Clone, Debug)]
pub(super) struct GatePlace {
    pub(super) name: String,
    /// Its posts; `None` for one that is given by its middle where no line is drawn.
    pub(super) posts: Option<[Point; 2]>,
    pub(super) middle: Point,
    pub(super) clear_m: f64,
    /// True if it stands in a boundary: it lets people in from outside.
    pub(super) is_entry: bool,
}

/// Lines that gates stand in: boundaries, and fences or the like.
fn has_gates(keep_off: &KeepOffPlace) -> bool {
    match keep_off.kind {
        KeepOffKind::Boundary => true,
        KeepOffKind::Other => keep_off.area.is_none(),
        _ => false,
    }
}

/// Finds the gates of a job.
///
/// # Errors
///
/// a place that does not exist, posts that are not two
pub(super) fn place_gates(
    job: &Job,
    survey: &Survey,
    keep_offs: &[KeepOffPlace],
) -> Result<Vec<GatePlace>, Diagnostic> {
    let gates = job.gates.iter().map(|gate| {
        let found = |posts: Option<[Point; 2]>, middle: Point, clear_m: f64| GatePlace {
            name: gate.name.clone(),
            posts,
            middle,
            clear_m,
            is_entry: keep_offs
                .iter()
                .any(|k| k.kind == KeepOffKind::Boundary && is_beside(&k.line, middle)),
        };
        match &gate.shape {
            GateShape::Posts(places) => {
                let posts: Vec<Point> = survey.resolve(places)?.iter().map(|p| p.p).collect();
                match posts[..] {
                    [a, b] if a != b => {
                        let middle = Point::new((a.x + b.x) / 2, (a.y + b.y) / 2);
                        Ok(found(Some([a, b]), middle, distance_m(a, b)))
                    }
                    _ => Err(not_two(&gate.name, posts.len(), &places.at)),
                }
            }
            GateShape::Middle { place, at, width_m } => {
                let (middle, _) = survey.resolve_place(place, at)?;
                let posts = direction_of_line(keep_offs, middle).map(|[x, y]| {
                    let step = Point::from_m(x * width_m / 2.0, y * width_m / 2.0);
                    [
                        Point::new(middle.x - step.x, middle.y - step.y),
                        Point::new(middle.x + step.x, middle.y + step.y),
                    ]
                });
                Ok(found(posts, middle, *width_m))
            }
        }
    });
    gates.collect()
}

/// True if a place lies beside a line.
fn is_beside(line: &[Point], p: Point) -> bool {
    line.windows(2).any(|pair| {
        let [x, y] = nearest_on([0.0; 2], [pair[0], pair[1]].map(|q| q.relative_m(p)));
        x.hypot(y) <= BESIDE_LINE_M
    })
}

fn not_two(name: &str, found: usize, at: &At) -> Diagnostic {
    let message = match found {
        2 => format!("the posts of gate \"{name}\" stand at one place"),
        n => format!("gate \"{name}\" has {n} posts, and a gate has two"),
    };
    Diagnostic::error("bad-gate", message)
        .at(at.clone())
        .help("give the inner faces of both posts, or its middle as at = ... with width = ...")
}

/// Direction of the line drawn nearest to a place, if one is near.
fn direction_of_line(keep_offs: &[KeepOffPlace], p: Point) -> Option<[f64; 2]> {
    let mut best: Option<(f64, [f64; 2])> = None;
    for pair in keep_offs
        .iter()
        .filter(|k| has_gates(k))
        .flat_map(|k| k.line.windows(2))
    {
        let ends = [pair[0].relative_m(p), pair[1].relative_m(p)];
        let [x, y] = nearest_on([0.0; 2], ends);
        let far = x.hypot(y);
        let length = distance_m(pair[0], pair[1]);
        if far <= BESIDE_LINE_M && length > 0.0 && best.is_none_or(|(least, _)| far < least) {
            let [dx, dy] = pair[1].relative_m(pair[0]);
            best = Some((far, [dx / length, dy / length]));
        }
    }
    best.map(|(_, direction)| direction)
}

impl GatePlace {
    /// The same with its posts so far apart that a width comes through.
    pub(super) fn at_least(&self, width_m: f64) -> GatePlace {
        // A micrometre more, so that rounding does not close it.
        let wanted = width_m + 1.0e-6;
        let mut gate = self.clone();
        if let Some([a, b]) = &mut gate.posts
            && self.clear_m < wanted
        {
            let [x, y] = b.relative_m(*a);
            let more = (wanted / self.clear_m - 1.0) / 2.0;
            let step = Point::from_m(x * more, y * more);
            (a.x, a.y) = (a.x - step.x, a.y - step.y);
            (b.x, b.y) = (b.x + step.x, b.y + step.y);
        }
        gate
    }

    /// True if a narrow place is this gate, set so wide that a width comes through: as wide as
    /// that, from beside one post to beside the other.
    pub(super) fn is_at(&self, ends: [Point; 2], width_m: f64) -> bool {
        // What rounding and the opening of the gate may change.
        const SAME_M: f64 = 1.0e-5;
        let is_beside = |[a, b]: [Point; 2]| {
            let beside = |p: Point, q: Point| distance_m(p, q) <= BESIDE_LINE_M;
            let is_so = beside(ends[0], a) && beside(ends[1], b);
            let is_turned = beside(ends[0], b) && beside(ends[1], a);
            let wide_m = distance_m(ends[0], ends[1]);
            (is_so || is_turned) && (wide_m - distance_m(a, b)).abs() <= SAME_M
        };
        self.at_least(width_m).posts.is_some_and(is_beside)
    }
}

/// A keep-off line as what is left of it between its gates.
pub(super) fn opened(keep_off: &KeepOffPlace, gates: &[GatePlace]) -> Vec<Vec<Point>> {
    let mut pieces = vec![keep_off.line.clone()];
    if !has_gates(keep_off) {
        return pieces;
    }
    for posts in gates.iter().filter_map(|gate| gate.posts) {
        pieces = pieces.iter().flat_map(|piece| open(piece, posts)).collect();
    }
    pieces
}

/// A line without the stretch between two posts beside it; its new ends are the posts.
fn open(line: &[Point], posts: [Point; 2]) -> Vec<Vec<Point>> {
    let mut on: Vec<(f64, Point)> = Vec::new();
    for post in posts {
        let mut start = 0.0;
        let mut best: Option<(f64, f64)> = None;
        for pair in line.windows(2) {
            let [x, y] = nearest_on([0.0; 2], [pair[0], pair[1]].map(|p| p.relative_m(post)));
            let foot = Point::from_m(x, y);
            let foot = Point::new(post.x + foot.x, post.y + foot.y);
            let far = x.hypot(y);
            if far <= BESIDE_LINE_M && best.is_none_or(|(least, _)| far < least) {
                best = Some((far, start + distance_m(pair[0], foot)));
            }
            start += distance_m(pair[0], pair[1]);
        }
        match best {
            Some((_, station)) => on.push((station, post)),
            None => return vec![line.to_vec()],
        }
    }
    on.sort_by(|a, b| a.0.total_cmp(&b.0));
    let [(low, first), (high, second)] = on[..] else {
        return vec![line.to_vec()];
    };
    let whole: f64 = line.windows(2).map(|w| distance_m(w[0], w[1])).sum();
    let between = |from: f64, to: f64| -> Vec<Point> {
        let mut part = vec![along(line, from)];
        let mut station = 0.0;
        for pair in line.windows(2) {
            station += distance_m(pair[0], pair[1]);
            if station > from && station < to {
                part.push(pair[1]);
            }
        }
        part.push(along(line, to));
        part
    };
    // A line that closes has the gate where it is shorter, though it may begin in the gate.
    let is_closed = line.first() == line.last();
    if is_closed && high - low > whole / 2.0 {
        let mut part = vec![first];
        part.extend(between(low, high));
        part.push(second);
        return vec![part];
    }
    let mut before = between(0.0, low);
    before.push(first);
    let mut after = vec![second];
    after.extend(between(high, whole));
    if is_closed {
        // One piece from post to post, over where the line begins.
        after.pop();
        after.extend(before);
        return vec![after];
    }
    vec![before, after]
}
