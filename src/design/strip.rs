//! A strip: sod or topsoil taken off first, over an area or over everything that is touched.
//!
//! Keys: `thick`, and `outline` or `over = "touched"`. Over an area it follows what the strips
//! before it have left, with upright edges: sod and topsoil over one another add up. Over what is touched it is no shape of its own: the soil is counted from a
//! ground that lies lower by its thickness wherever the work changes anything.

use crate::diag::Diagnostic;
use crate::geom::Point;
use crate::job::{PlaceList, Table};
use crate::surface::{Patch, Rule};
use crate::survey::Survey;

use super::entry::{required, ring};
use super::shape::upright_round;
use super::{Kind, Labels, Laid, Role, Shape, Site, Step};

pub(super) const KIND: Kind = Kind {
    name: "strip",
    read,
};

#[derive(Debug)]
struct Strip {
    /// Where; `None` over everything that is touched.
    outline: Option<PlaceList>,
    thick_m: f64,
}

/// Thinnest and thickest strip, metres.
const THINNEST_M: f64 = 0.005;
const THICKEST_M: f64 = 2.0;

fn read(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Box<dyn Shape>> {
    let example =
        "outline = \"code:lawn\"   # or over = \"touched\", which is wherever the work goes";
    let outline = match table.one_of(&["outline", "over"], example, diagnostics)? {
        "outline" => Some(table.places("outline", diagnostics)?),
        _ => {
            table.choice("over", &["touched"], diagnostics)?;
            None
        }
    };
    let (thick_m, at) = required(table, "thick", "thick = 0.3", Table::length_m, diagnostics)?;
    if !(THINNEST_M..=THICKEST_M).contains(&thick_m) {
        diagnostics.push(
            Diagnostic::error("bad-strip", "sod and topsoil are 5 mm to 2 m thick")
                .at(at)
                .help("write the thickness in the job's unit"),
        );
        return None;
    }
    Some(Box::new(Strip { outline, thick_m }))
}

impl Shape for Strip {
    fn check(&self, survey: &Survey, faults: &mut Vec<Diagnostic>) {
        if let Some(outline) = &self.outline {
            faults.extend(ring(survey, outline, "strip").err());
        }
    }

    fn lay(&self, site: &Site, label: Labels) -> Result<Laid, Diagnostic> {
        let Some(outline) = &self.outline else {
            return Ok(Laid {
                strip_touched_m: Some(self.thick_m),
                ..Laid::new(Rule::Lower, Vec::new(), Vec::new(), 0.0)
            });
        };
        let ring = ring(site.survey, outline, "strip")?;
        let stripped = label("stripped ground", Role::Strip);
        let edge = label("edge", Role::Strip);
        let corners = ring.corners();
        let end = |of: fn(&Point) -> i64, most: bool| {
            let all = corners.iter().map(of);
            if most { all.max() } else { all.min() }.unwrap_or(0)
        };
        let low = Point::new(end(|p| p.x, false), end(|p| p.y, false));
        let high = Point::new(end(|p| p.x, true), end(|p| p.y, true));
        let part = site.so_far.part_inside(&ring, low, high).map_err(|e| {
            Diagnostic::error("bad-outline", format!("this outline cannot be laid: {e}"))
                .at(outline.at.clone())
                .help("move a corner a little")
        })?;
        let mut patch = Patch::new();
        for (pieces, source) in &part.facets {
            patch.add_in_plane(pieces, source.plane, stripped);
        }
        upright_round(&mut patch, &ring, &part.border, self.thick_m + 0.01, edge);
        let step = Step {
            rule: Rule::Lower,
            patch: patch.raised(-self.thick_m),
        };
        Ok(Laid::new(Rule::Lower, vec![step], corners.to_vec(), 0.0))
    }
}
