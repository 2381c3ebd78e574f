//! Points of a LandXML file that has no faces, each place once.

use crate::diag::{At, Diagnostic};
use crate::geom::{Origin, P3, PointMap};
use crate::import::{Content, LeftOut};
use crate::job::ImportSpec;

use super::mesh::two_heights;
use super::written::{Spot, Written};

/// Faces or points with their account.
pub(super) struct Answer {
    pub(super) content: Content,
    pub(super) origin: Origin,
    pub(super) counted: &'static str,
    pub(super) read: u64,
    pub(super) kept: u64,
    pub(super) left_out: Vec<LeftOut>,
}

/// Points of a surface that has no faces of its own.
pub(super) fn source_points(
    spec: &ImportSpec,
    surface: &Written,
    said: &mut Vec<Diagnostic>,
) -> Result<Answer, Diagnostic> {
    let lines = match surface.breaklines.len() {
        0 => "",
        _ => "; the points of its breaklines are among them, the lines between are not followed",
    };
    said.push(
        Diagnostic::warn(
            "no-definition",
            format!(
                "surface \"{}\" has points and no faces: a surface is laid over its points anew{lines}",
                surface.name
            ),
        )
        .at(At::line(&spec.file, surface.line))
        .help("write it with its definition to have it as it was"),
    );
    let on_lines = surface.breaklines.iter().flatten();
    points(spec, surface.source.iter().chain(on_lines).copied())
}

/// Points at different places.
pub(super) fn points(
    spec: &ImportSpec,
    spots: impl Iterator<Item = Spot>,
) -> Result<Answer, Diagnostic> {
    let (mut read, mut no_height, mut twice) = (0, 0, 0);
    let mut first: PointMap<u32> = PointMap::default();
    let mut kept: Vec<Spot> = Vec::new();
    for spot in spots {
        read += 1;
        if spot.z.is_nan() {
            no_height += 1;
            continue;
        }
        let number = kept.len() as u32;
        let before = &kept[..];
        match first.entry(spot.p) {
            std::collections::hash_map::Entry::Vacant(place) => {
                place.insert(number);
                kept.push(spot);
            }
            std::collections::hash_map::Entry::Occupied(place) => {
                let other = &before[*place.get() as usize];
                if other.z.to_bits() != spot.z.to_bits() {
                    return Err(two_heights(spec, other, &spot));
                }
                twice += 1;
            }
        }
    }
    let west = kept.iter().map(|s| s.p.x).min();
    let south = kept.iter().map(|s| s.p.y).min();
    let (Some(west), Some(south), true) = (west, south, kept.len() > 2) else {
        return Err(Diagnostic::error(
            "no-points",
            format!(
                "the file has {} points with a height; a surface needs three",
                kept.len()
            ),
        )
        .at(At::file(&spec.file))
        .help("write the surface again, with its definition"));
    };
    let origin = Origin::below(west, south);
    let place = |s: &Spot| {
        Some(P3 {
            p: origin.local(s.p.x, s.p.y)?,
            z: s.z,
        })
    };
    let why = [
        ("points without a height", no_height),
        ("given twice", twice),
    ];
    let left_out = why.into_iter().filter(|&(_, count)| count > 0);
    Ok(Answer {
        origin,
        counted: "points",
        read,
        kept: kept.len() as u64,
        left_out: left_out
            .map(|(why, count)| LeftOut {
                why: why.to_owned(),
                count,
            })
            .collect(),
        content: Content::Points(kept.iter().filter_map(place).collect()),
    })
}
