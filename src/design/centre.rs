//! The centre line that streams, channels, trenches and walls are laid along, as a job gives it.
//!
//! | key | meaning |
//! | --- | --- |
//! | `line` | its points, in the direction of flow |
//! | `bend_radius` | radius every bend is rounded by; or one for each bend, 0 for a corner |
//! | `arcs` | `[{ through = 3 }]`: from the 2nd to the 4th point runs an arc through the 3rd |

use crate::diag::{At, Diagnostic};
use crate::geom::Point;
use crate::job::{PlaceList, Table};
use crate::survey::Survey;

use super::Site;
use super::entry::{line, required};
use super::shape::{BendFault, CentreLine, Loft, NoRoom, Rounding, Section};

/// A centre line as written.
#[derive(Debug)]
pub(super) struct Centre {
    pub(super) places: PlaceList,
    radii: Option<(Vec<f64>, At)>,
    arcs: Vec<(usize, At)>,
}

/// Largest radius of a bend, metres: beyond it is a mistake of unit.
const LARGEST_RADIUS_M: f64 = 1_000.0;

/// Reads the keys of a centre line.
pub(super) fn centre(
    table: &mut Table,
    example: &str,
    diagnostics: &mut Vec<Diagnostic>,
) -> Option<Centre> {
    let places = required(table, "line", example, Table::places, diagnostics);
    let radii = table.lengths_m("bend_radius", "3.0", diagnostics);
    if let Some((radii, at)) = &radii
        && !radii.iter().all(|r| (0.0..=LARGEST_RADIUS_M).contains(r))
    {
        diagnostics.push(
            Diagnostic::error("bad-radius", "the radius of a bend is 0 to 1 km")
                .at(at.clone())
                .help("write bend_radius = 3.0 for every bend, or one for each in brackets; 0 is a corner"),
        );
    }
    let mut arcs = Vec::new();
    for mut entry in table.tables("arcs", diagnostics) {
        let through = required(
            &mut entry,
            "through",
            "through = 3",
            Table::number,
            diagnostics,
        );
        entry.finish(diagnostics);
        let Some((number, at)) = through else {
            continue;
        };
        if number.fract() == 0.0 && (2.0..1.0e6).contains(&number) {
            arcs.push((number as usize - 1, at));
        } else {
            diagnostics.push(
                Diagnostic::error("bad-arc", "`through` is the number of a point of the line, counted from 1; an arc needs one before and one after it")
                    .at(at)
                    .help("write for example arcs = [{ through = 3 }]: an arc from the 2nd to the 4th point through the 3rd"),
            );
        }
    }
    arcs.sort_by_key(|arc| arc.0);
    Some(Centre {
        places: places?,
        radii,
        arcs,
    })
}

impl Centre {
    /// True if no bend is rounded and no arc given.
    pub(super) fn is_of_corners(&self) -> bool {
        self.radii.is_none() && self.arcs.is_empty()
    }

    /// The points as given; `what` is a thing with its article.
    pub(super) fn points(&self, survey: &Survey, what: &str) -> Result<Vec<Point>, Diagnostic> {
        let points = line(survey, &self.places, what)?;
        if let Some((radii, at)) = &self.radii
            && radii.len() != 1
            && radii.len() + 2 != points.len()
        {
            let bends = points.len() - 2;
            return Err(Diagnostic::error(
                "radius-count",
                format!("the line has {bends} bends but {} radii are given", radii.len()),
            )
            .at(at.clone())
            .help("give one radius for all bends, or one for each point between the first and the last"));
        }
        for (k, (through, at)) in self.arcs.iter().enumerate() {
            let is_neighbour = k > 0 && self.arcs[k - 1].0 + 1 >= *through;
            if is_neighbour || through + 1 >= points.len() {
                return Err(Diagnostic::error(
                    "bad-arc",
                    format!(
                        "no arc can run through point {} of {}: it needs a point before and one after it that are not on another arc's middle",
                        through + 1,
                        points.len()
                    ),
                )
                .at(at.clone())
                .help("points of the line are counted from 1; two arcs may share an end"));
            }
        }
        Ok(points)
    }

    /// The line with its bends; `half_m` is how far beside it the chords are kept true.
    pub(super) fn lay(
        &self,
        site: &Site,
        what: &str,
        half_m: f64,
    ) -> Result<CentreLine, Diagnostic> {
        let points = self.points(site.survey, what)?;
        let n = points.len();
        let radii_m = match &self.radii {
            None => vec![0.0; n],
            Some((radii, _)) if radii.len() == 1 => vec![radii[0]; n],
            Some((radii, _)) => {
                let ends = [0.0];
                ends.iter().chain(radii).chain(&ends).copied().collect()
            }
        };
        let rounding = Rounding {
            radii_m,
            through: self.arcs.iter().map(|arc| arc.0).collect(),
            chord_m: site.chord_m,
            beside_m: half_m,
        };
        CentreLine::new(&points, &rounding).map_err(|NoRoom { point, fits_m }| {
            let at = self.radii.as_ref().map_or(&self.places.at, |r| &r.1);
            Diagnostic::error(
                "no-room-for-bend",
                format!(
                    "the bend at {} is too long for the stretches beside it: a radius of {} fits",
                    site.place(points[point]),
                    site.length(fits_m)
                ),
            )
            .at(at.clone())
            .help("make the radius smaller, or move the points of the line apart")
        })
    }

    /// Sections along the line; a bend they cannot go round is refused with its place.
    pub(super) fn loft(
        &self,
        site: &Site,
        what: &str,
        line: &CentreLine,
        sections: &[Section],
    ) -> Result<Loft, Diagnostic> {
        Loft::new(line, sections).map_err(|fault| match fault {
            BendFault::Folds { at, needs_m } => Diagnostic::error(
                "tight-bend",
                format!(
                    "the bend of {what} at {} is tighter than its width: its inside lies {} from the line and would fold over itself",
                    site.place(at),
                    site.length(needs_m)
                ),
            )
            .at(self.places.at.clone())
            .help(format!(
                "give the bend a radius of more than {} with longer stretches beside it, or make it narrower there",
                site.length(needs_m)
            )),
            BendFault::TurnsBack { at } => Diagnostic::error(
                "tight-bend",
                format!("the line of {what} turns back on itself at {}", site.place(at)),
            )
            .at(self.places.at.clone())
            .help("list the points in order along the line, or put another point into the bend"),
        })
    }

    /// What is said of a line that crosses itself.
    pub(super) fn crossing(
        &self,
        site: &Site,
        what: &str,
        line: &CentreLine,
    ) -> Option<Diagnostic> {
        let at = line.crossing()?;
        Some(
            Diagnostic::warn(
                "line-crosses",
                format!(
                    "the line of {what} crosses itself at {}; the lower of the two is dug there",
                    site.place(at)
                ),
            )
            .at(self.places.at.clone())
            .help("list the points in order along the line if that is not meant"),
        )
    }
}
