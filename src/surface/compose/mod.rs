//! Composition: lays a patch on a surface by lowering or raising it.
//!
//! The way, step by step (`DEVELOPERS.md`, "The kernel", gives the reasons):
//!
//! 1. Facets where a piece of the patch wins are found with the grid; with their edge
//!    neighbours they are the *region*. Nothing outside the region changes.
//! 2. Edges of the region, sides of the pieces, as far as they can show, and the *daylight*
//!    lines where a facet and a piece (or two pieces) meet are noded on the lattice and
//!    triangulated.
//! 3. Each triangle finds the facet and the pieces that hold its centre, exactly; the one that
//!    wins there is its source.
//! 4. Only edges between different sources are kept; vertices that merely cut a straight edge
//!    in two go. What is left is noded and triangulated again.
//! 5. Every vertex is checked against the planes of all facets around it, the area against what
//!    was there, and every new facet against an evaluation of its own. Only then is the surface
//!    touched.
//!
//! If an edge of the region's rim would have to be cut, the facet behind it joins the region and
//! the work starts again. What fails a check is tried again with the patch moved by a few units.

mod arrangement;
mod boxes;
mod finder;
mod kept;
mod pair;
mod reach;
mod region;
mod trim;
mod verify;

use std::collections::BTreeMap;

use crate::geom::{CdtError, NodingError, P3, Point};

use super::delta::{Delta, Link};
use super::grid::Span;
use super::patch::Patch;
use super::plane::Source;
use super::surface::{Facet, SourceId, Surface};

pub(super) use finder::Centre;
use region::Region;

/// Which of two heights wins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rule {
    /// The lower: digging.
    Lower,
    /// The higher: filling.
    Raise,
}

impl Rule {
    fn sign(self) -> f64 {
        match self {
            Rule::Lower => 1.0,
            Rule::Raise => -1.0,
        }
    }
}

/// What a composition did.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Composed {
    /// Facets taken out.
    pub removed: usize,
    /// Facets put in.
    pub added: usize,
    /// Which ones, and how to take it back.
    pub delta: Delta,
}

/// Why a patch could not be laid; the surface is as it was.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum ComposeError {
    /// The rim of the patch does not reach the surface: there would be a step in it.
    #[error("the shape ends in the air: its rim is {gap_m:.6} m off the surface")]
    OpenRim {
        /// Where the step is highest.
        at: Point,
        /// Its height.
        gap_m: f64,
    },
    /// Lines too close together to be told apart.
    #[error("lines too close together to be told apart")]
    Unsettled {
        /// Where.
        at: Point,
    },
    /// The plan area changed: a check of the kernel against itself.
    #[error("the plan area would change")]
    AreaChanged {
        /// A place in the region.
        at: Point,
    },
    /// The region grew without end.
    #[error("the change spreads without end")]
    Spreads {
        /// A place in the region.
        at: Point,
    },
    /// A facet would lie off both the surface and the patch: a check of the kernel against itself.
    #[error("a height would come out wrong by {off_m:.9} m")]
    WrongHeight {
        /// Where.
        at: Point,
        /// By how much.
        off_m: f64,
    },
    /// A piece is steeper than [`STEEPEST`], or has no slope that is a number.
    #[error("a face rises {steepness:.0} times its run; up to {STEEPEST:.0} can be laid")]
    TooSteep {
        /// A corner of the piece.
        at: Point,
        /// Its rise over run.
        steepness: f64,
    },
    /// The triangulator failed.
    #[error(transparent)]
    Triangulation(#[from] CdtError),
}

impl ComposeError {
    /// The place the error is about, if it has one.
    pub fn at(&self) -> Option<Point> {
        match *self {
            ComposeError::OpenRim { at, .. }
            | ComposeError::Unsettled { at }
            | ComposeError::AreaChanged { at }
            | ComposeError::WrongHeight { at, .. }
            | ComposeError::TooSteep { at, .. }
            | ComposeError::Spreads { at } => Some(at),
            ComposeError::Triangulation(_) => None,
        }
    }
}

impl From<NodingError> for ComposeError {
    fn from(error: NodingError) -> ComposeError {
        match error {
            NodingError::Unsettled { at } => ComposeError::Unsettled { at },
        }
    }
}

/// How often the region may grow before the composition is given up.
const MAX_GROWTHS: usize = 100;

/// Steepest piece that is laid, rise over run: ten times that of the near-vertical faces of
/// features. Beyond, a unit of the lattice in plan is more than a tenth of a millimetre of height.
pub const STEEPEST: f64 = 1.0e5;

/// Moves of the patch in plan, lattice units, tried one after the other when it cannot be laid as
/// it lies. What fails is a matter of lines that all but touch; a step of a unit or two parts
/// them. A step is at most [`super::HEIGHT_TOLERANCE_UNITS`] long, so heights stay within the
/// tolerance.
const STEPS: [[i64; 2]; 9] = [
    [0, 0],
    [1, 1],
    [-1, 1],
    [2, -1],
    [-2, -1],
    [1, 3],
    [-3, 1],
    [2, -3],
    [-3, -2],
];

/// A shape that ends in the air by more than this, metres, does so wherever it is moved.
const CLEARLY_OPEN_M: f64 = 1.0e-3;

impl Surface {
    /// Lays a patch on the surface.
    ///
    /// Where the patch leaves the surface it is cut off at its rim. Where heights agree within
    /// the tolerance the surface that was there stays, so laying the same patch twice changes
    /// nothing. A patch that cannot be laid as it lies is moved by a few lattice units in a fixed
    /// order of steps before it is refused.
    ///
    /// # Errors
    ///
    /// [`ComposeError`], that of the patch as it lies; the surface is then unchanged
    /// # Cost
    ///
    /// that of the facets and pieces that meet, not of the whole surface
    pub fn compose(&mut self, patch: &Patch, rule: Rule) -> Result<Composed, ComposeError> {
        if let Some((at, steepness)) = patch.steeper_than(STEEPEST) {
            return Err(ComposeError::TooSteep { at, steepness });
        }
        let mut refusal = None;
        for [x, y] in STEPS {
            let moved;
            let patch = if [x, y] == [0, 0] {
                patch
            } else {
                moved = patch.moved(Point::new(x, y));
                &moved
            };
            match self.change(patch, rule) {
                Ok(None) => return Ok(Composed::default()),
                Ok(Some(change)) => return Ok(self.commit(&change)),
                Err(error) => {
                    let is_clear = matches!(error, ComposeError::OpenRim { gap_m, .. } if gap_m > CLEARLY_OPEN_M);
                    refusal.get_or_insert(error);
                    if is_clear {
                        break;
                    }
                }
            }
        }
        Err(refusal.unwrap_or(ComposeError::Spreads {
            at: Point::default(),
        }))
    }

    /// What a patch changes; `None` for nothing.
    fn change(&self, patch: &Patch, rule: Rule) -> Result<Option<Change>, ComposeError> {
        let Some(mut region) = Region::find(self, patch, rule) else {
            return Ok(None);
        };
        for _ in 0..MAX_GROWTHS {
            match region.work()? {
                Outcome::Unchanged => return Ok(None),
                Outcome::Grow(more) => region.grow(&more),
                Outcome::Done(change) => return Ok(Some(change)),
            }
        }
        Err(ComposeError::Spreads {
            at: self.plan(region.first())[0],
        })
    }

    fn commit(&mut self, change: &Change) -> Composed {
        let mut delta = Delta {
            removed: change
                .removed
                .iter()
                .map(|&f| (f, self.facets[f as usize]))
                .collect(),
            before: self.before(),
            ..Delta::default()
        };
        self.compositions += 1;
        let mut sheets: BTreeMap<u32, u32> = BTreeMap::new();
        for winner in &change.winners {
            match *winner {
                Winner::Sheet(sheet) => {
                    sheets.entry(sheet).or_insert_with(|| {
                        let source = change.sheets[sheet as usize];
                        self.sources.push(source);
                        self.num_own + self.sources.len() as u32 - 1
                    });
                }
                Winner::Ground(source) if source < self.num_own => {
                    let plane = self.source_by_id(source);
                    self.cut.entry(source).or_insert(plane);
                }
                Winner::Ground(_) => {}
            }
        }
        let vertex: Vec<u32> = change
            .vertices
            .iter()
            .map(|v| match *v {
                Vertex::Old(id) => id,
                Vertex::New(p3) => {
                    self.vertices.push(p3);
                    self.vertices.len() as u32 - 1
                }
            })
            .collect();
        for &f in &change.removed {
            self.facets[f as usize] = Facet::DEAD;
        }
        self.dead.extend(change.removed.iter().rev());
        let ids: Vec<u32> = change
            .triangles
            .iter()
            .map(|_| {
                self.dead.pop().unwrap_or_else(|| {
                    self.facets.push(Facet::DEAD);
                    self.facets.len() as u32 - 1
                })
            })
            .collect();
        for (t, &id) in ids.iter().enumerate() {
            let v = change.triangles[t].map(|k| vertex[k as usize]);
            let mut n = [Surface::NONE; 3];
            for k in 0..3 {
                n[k] = match change.neighbours[t][k] {
                    Behind::Inside(other) => ids[other as usize],
                    Behind::Outside(facet) => {
                        let other = &mut self.facets[facet as usize];
                        for j in 0..3 {
                            if other.v[j] == v[(k + 1) % 3] && other.v[(j + 1) % 3] == v[k] {
                                delta.links.push(Link {
                                    facet,
                                    side: j as u8,
                                    neighbour: other.n[j],
                                });
                                other.n[j] = id;
                            }
                        }
                        facet
                    }
                    Behind::Nothing => Surface::NONE,
                };
            }
            let source = match change.winners[t] {
                Winner::Ground(source) => source,
                Winner::Sheet(sheet) => sheets[&sheet],
            };
            let source = SourceId::stored(source);
            self.facets[id as usize] = Facet { v, n, source };
            let plan = v.map(|k| self.vertices[k as usize].p);
            self.grid
                .insert(id, &Span::triangle(plan), &mut delta.cells);
        }
        delta.added = ids;
        Composed {
            removed: delta.removed.len(),
            added: delta.added.len(),
            delta,
        }
    }
}

/// Where a triangle comes from: a plane of the surface, or a sheet of the patch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Winner {
    Ground(u32),
    Sheet(u32),
}

#[derive(Clone, Copy, Debug)]
enum Vertex {
    Old(u32),
    New(P3),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Behind {
    Inside(u32),
    Outside(u32),
    Nothing,
}

/// What is to be taken out and put in.
struct Change {
    removed: Vec<u32>,
    vertices: Vec<Vertex>,
    triangles: Vec<[u32; 3]>,
    neighbours: Vec<[Behind; 3]>,
    winners: Vec<Winner>,
    sheets: Vec<Source>,
}

enum Outcome {
    Unchanged,
    Grow(Vec<u32>),
    Done(Change),
}
