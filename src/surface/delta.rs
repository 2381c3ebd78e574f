//! What one composition changed: enough to tell it, and to put everything back.

use crate::geom::P3;

use super::plane::Source;
use super::surface::{Facet, Surface};

/// What one composition changed on a surface; [`Surface::undo`] takes it back.
///
/// Corners and planes of facets taken out stay in the surface as long as the composition does,
/// so a delta is as small as the change.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Delta {
    /// Facets taken out, with what they were.
    pub(super) removed: Vec<(u32, Facet)>,
    /// Ids of the facets put in, in order.
    pub(super) added: Vec<u32>,
    /// Links of facets round the change that were turned to new neighbours.
    pub(super) links: Vec<Link>,
    /// Cells of the grid that got an entry, in order.
    pub(super) cells: Vec<usize>,
    pub(super) before: Before,
}

/// A side of a facet and the neighbour it had.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Link {
    pub(super) facet: u32,
    pub(super) side: u8,
    pub(super) neighbour: u32,
}

/// How much there was of everything before the composition.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Before {
    pub(super) vertices: usize,
    pub(super) facets: usize,
    pub(super) sources: usize,
    pub(super) dead: usize,
    pub(super) compositions: u64,
}

/// Why a composition cannot be taken back; the surface is as it was.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("only the last composition can be taken back: this is number {number} of {of}")]
pub struct UndoError {
    /// Which composition the delta tells of, from 1.
    pub number: u64,
    /// How many the surface holds.
    pub of: u64,
}

impl Delta {
    /// True if the composition changed nothing.
    pub fn is_empty(&self) -> bool {
        self.added.is_empty() && self.removed.is_empty()
    }

    /// Ids of the facets put in; they hold until the next composition.
    pub fn added(&self) -> &[u32] {
        &self.added
    }

    /// Ids the facets taken out had.
    pub fn removed(&self) -> impl Iterator<Item = u32> + '_ {
        self.removed.iter().map(|&(id, _)| id)
    }
}

impl Surface {
    pub(super) fn before(&self) -> Before {
        Before {
            vertices: self.vertices.len(),
            facets: self.facets.len(),
            sources: self.sources.len(),
            dead: self.dead.len(),
            compositions: self.compositions,
        }
    }

    /// Corners and planes of the facets that a composition took out.
    pub fn removed_by<'a>(
        &'a self,
        delta: &'a Delta,
    ) -> impl Iterator<Item = ([P3; 3], Source)> + 'a {
        delta.removed.iter().map(|(_, facet)| self.shape(facet))
    }

    /// Corners and planes of the facets that the last composition put in.
    pub fn added_by<'a>(
        &'a self,
        delta: &'a Delta,
    ) -> impl Iterator<Item = ([P3; 3], Source)> + 'a {
        delta
            .added
            .iter()
            .map(|&f| self.shape(&self.facets[f as usize]))
    }

    fn shape(&self, facet: &Facet) -> ([P3; 3], Source) {
        (
            facet.v.map(|v| self.vertices[v as usize]),
            self.source_of(facet),
        )
    }

    /// Takes back the last composition: every bit is as it was before it, ids included, so that
    /// what is composed next comes out as if it had never been. Several go in reverse order.
    ///
    /// # Input
    ///
    /// the delta of a composition of this surface, or of the one it is a copy of
    /// # Errors
    ///
    /// [`UndoError`] if it is not the last
    /// # Cost
    ///
    /// that of the facets that changed, not of the whole surface
    pub fn undo(&mut self, delta: Delta) -> Result<(), UndoError> {
        if delta.is_empty() {
            return Ok(());
        }
        let Delta {
            removed,
            added,
            links,
            cells,
            before,
        } = delta;
        if before.compositions + 1 != self.compositions {
            return Err(UndoError {
                number: before.compositions + 1,
                of: self.compositions,
            });
        }
        for &cell in cells.iter().rev() {
            self.grid.take_last(cell);
        }
        for link in links.iter().rev() {
            self.facets[link.facet as usize].n[link.side as usize] = link.neighbour;
        }
        // New facets took the places of those taken out first, then of others dead before, then
        // new ones.
        let from_dead = added.get(removed.len()..).unwrap_or_default();
        self.dead.truncate(before.dead);
        for &id in added.iter().filter(|&&id| (id as usize) < before.facets) {
            self.facets[id as usize] = Facet::DEAD;
        }
        self.dead.extend(
            from_dead
                .iter()
                .rev()
                .filter(|&&id| (id as usize) < before.facets),
        );
        for (id, facet) in removed {
            if facet.source.is_own() {
                self.cut.remove(&facet.source.id());
            }
            self.facets[id as usize] = facet;
        }
        self.vertices.truncate(before.vertices);
        self.facets.truncate(before.facets);
        self.sources.truncate(before.sources);
        self.compositions = before.compositions;
        Ok(())
    }
}
