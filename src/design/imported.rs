//! A surface of a file of its own, laid by lowering, raising, or both.
//!
//! Keys: `points = "pool.csv"` (in the folder and in the unit of the job) or `file = "pad.xml#Pad"`
//! (a surface, elevation grid or cloud of another program, in its own unit), `rule = "lower"`,
//! `"raise"` or `"replace"`, `side_run_per_rise` (0, an upright edge, if not given), `corners`.

use crate::diag::{At, Diagnostic, Failure};
use crate::files::Input;
use crate::geom::{P3, Point};
use crate::job::{GroundSpec, ImportKind, ImportSpec, SurveyKind, SurveySpec, Table};
use crate::surface::{Label, Patch, Rule, Surface};
use crate::survey::{Sources, Survey};
use crate::terrain::build;
use crate::units::NM_PER_M;

use super::entry::{corners, required, side_role, word};
use super::shape::{Corners, SidePart, sides_along};
use super::{Kind, Labels, Laid, Role, Shape, Site, Step};

pub(super) const KIND: Kind = Kind {
    name: "surface",
    read,
};

#[derive(Debug)]
struct Imported {
    file: File,
    at: At,
    rules: &'static [Rule],
    side_run_per_rise: f64,
    corners: Corners,
}

/// Where the surface comes from.
#[derive(Debug)]
enum File {
    /// A table of points.
    Points(String),
    /// A file of another program.
    Import(ImportKind, String),
}

/// The file, by its ending one of another program or a table of points.
fn file_of(name: String, at: &At, diagnostics: &mut Vec<Diagnostic>) -> Option<File> {
    let file = name.split_once('#').map_or(&*name, |(file, _)| file);
    let kind = ImportKind::of_name(file);
    if kind.is_none() {
        diagnostics.push(
            Diagnostic::error(
                "bad-file-name",
                "the ending of this name is no format of a surface",
            )
            .at(at.clone())
            .help(
                "name a LandXML, GeoTIFF, ASCII grid, LAS or LAZ file; points of a table are \
                     named by points = \"pool.csv\"",
            ),
        );
    }
    Some(File::Import(kind?, name))
}

fn read(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Option<Box<dyn Shape>> {
    let is_import = table.has("file");
    let (key, example) = match is_import {
        true => ("file", "file = \"pad.xml#Pad\""),
        false => (
            "points",
            "points = \"pool.csv\"   # x, y, z and perhaps name and code, in the folder of the job",
        ),
    };
    let file = required(table, key, example, Table::text, diagnostics);
    let file = file.and_then(|(name, at)| {
        let file = match is_import {
            true => file_of(name, &at, diagnostics)?,
            false => File::Points(name),
        };
        Some((file, at))
    });
    let rules: [(&str, &'static [Rule]); 3] = [
        ("lower", &[Rule::Lower]),
        ("raise", &[Rule::Raise]),
        ("replace", &[Rule::Lower, Rule::Raise]),
    ];
    let rules = word(table, "rule", &rules, diagnostics);
    let side_run_per_rise = if table.has("side_run_per_rise") {
        super::entry::side_run_per_rise(table, diagnostics)?
    } else {
        table.expect(&["side_run_per_rise"]);
        0.0
    };
    let corners = corners(table, diagnostics);
    let (file, at) = file?;
    Some(Box::new(Imported {
        file,
        at,
        rules,
        side_run_per_rise,
        corners,
    }))
}

impl Imported {
    /// The surface, in the local frame of the site.
    fn surface(
        &self,
        site: &Site,
        notes: &mut Vec<Diagnostic>,
    ) -> Result<(Surface, Vec<Input>), Failure> {
        let (mut surveys, mut imports) = (Vec::new(), Vec::new());
        match &self.file {
            File::Points(file) => surveys.push(SurveySpec {
                at: self.at.clone(),
                ..SurveySpec::new(SurveyKind::Points, file.clone(), site.units)
            }),
            File::Import(kind, name) => imports.push(ImportSpec {
                at: self.at.clone(),
                ..ImportSpec::named(*kind, name, site.units)
            }),
        }
        let sources = Sources {
            surveys: &surveys,
            imports: &imports,
            ..Sources::default()
        };
        let (survey, said) = Survey::read_with(&sources, site.files)?;
        notes.extend(said);
        let (terrain, said) = build(&survey, &GroundSpec::default())?;
        notes.extend(said);
        let nm = NM_PER_M as i64;
        let by = Point::new(
            (terrain.origin.x_m - site.origin.x_m) * nm,
            (terrain.origin.y_m - site.origin.y_m) * nm,
        );
        Ok((terrain.surface.moved(by), survey.inputs))
    }
}

/// The outer edges of a surface as closed lines, the surface to the left.
fn rims(surface: &Surface) -> Vec<Vec<P3>> {
    let mut onward: std::collections::BTreeMap<Point, Vec<(P3, P3)>> =
        std::collections::BTreeMap::new();
    for f in surface.facets() {
        let corners = surface.corners(f);
        for (k, n) in surface.neighbours(f).into_iter().enumerate() {
            if n == Surface::NONE {
                let (a, b) = (corners[k], corners[(k + 1) % 3]);
                onward.entry(a.p).or_default().push((a, b));
            }
        }
    }
    let mut rims = Vec::new();
    while let Some((&start, _)) = onward.first_key_value() {
        let mut rim = Vec::new();
        let mut at = start;
        while let Some(edges) = onward.get_mut(&at) {
            let edge = edges.pop();
            if edges.is_empty() {
                onward.remove(&at);
            }
            let Some((a, b)) = edge else { break };
            rim.push(a);
            at = b.p;
            if at == start {
                break;
            }
        }
        rims.push(rim);
    }
    rims
}

impl Shape for Imported {
    fn check(&self, _survey: &Survey, _faults: &mut Vec<Diagnostic>) {}

    fn lay(&self, site: &Site, label: Labels) -> Result<Laid, Diagnostic> {
        let mut notes = Vec::new();
        let (surface, inputs) = self.surface(site, &mut notes).map_err(|Failure(all)| {
            let first = all.into_iter().next();
            first.unwrap_or_else(|| Diagnostic::error("no-surface", "there is no surface"))
        })?;
        let top = label("surface", Role::Floor);
        let edge: Label = label("edge", side_role(self.side_run_per_rise));
        let rims = rims(&surface);
        let points: Vec<P3> = rims.concat();
        let mut steps = Vec::new();
        for &rule in self.rules {
            let run = self.side_run_per_rise;
            let sides = site.sides(rule, run, self.corners, &points, &self.at)?;
            let mut patch = Patch::new();
            for f in surface.facets() {
                patch.add_in_plane(&[surface.corners(f)], surface.source(f).plane, top);
            }
            for rim in &rims {
                let runs = vec![[run, run]; rim.len()];
                sides_along(&mut patch, rim, true, &runs, &sides, &mut |_: SidePart| {
                    edge
                });
            }
            steps.push(Step { rule, patch });
        }
        let core = points.iter().map(|c| c.p).collect();
        Ok(Laid {
            notes,
            inputs,
            core_is_outline: false,
            ..Laid::new(self.rules[0], steps, core, self.side_run_per_rise)
        })
    }
}
