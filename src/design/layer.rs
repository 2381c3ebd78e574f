//! Layers that lie on the soil of a feature: underlay, liner, stone, gravel, topsoil.
//!
//! Keys: `layers = [ { name = "underlay" }, { name = "stone", thick = 0.5, porosity = 0.4 },
//! { name = "stone", to = "depth:0.3" } ]`, from the soil up, and `levels_are = "finished"` or
//! `"dug"`: which of the two surfaces the levels of the feature describe.
//!
//! A layer without `thick` is a sheet: it has an area and no volume. A layer with `thick` follows
//! the shape, measured plumb; with `on = "floor"` it lies on the floor alone, which is boxed out
//! for it. A layer with `to` fills a hollow up to a level; `depth:` counts from the lowest place
//! of its rim.

use std::collections::BTreeMap;

use crate::diag::{At, Diagnostic};
use crate::geom::{P3, Point};
use crate::job::{LevelSpec, LevelWord, Table};
use crate::surface::{Label, Patch, Rule, Surface};

use super::entry::{required, word};
use super::shape::let_in;
use super::{Labels, Part, Role, Site, Step};

/// How much of a layer there is.
#[derive(Clone, Debug, PartialEq)]
pub enum Amount {
    /// A sheet, such as a liner: an area.
    Sheet,
    /// So thick, metres plumb.
    Thick(f64),
    /// As much as fills the hollow to a level.
    UpTo(LevelSpec),
}

/// A layer as the job asks for it.
#[derive(Clone, Debug, PartialEq)]
pub struct Layer {
    /// What it is, such as `stone`.
    pub name: String,
    /// How much.
    pub amount: Amount,
    /// True if it lies on the floor alone.
    pub on_floor: bool,
    /// Share of voids in it; `None` if not given.
    pub porosity: Option<f64>,
    /// Where the job asks for it.
    pub at: At,
}

impl Layer {
    /// Thickness, metres plumb; 0 for a sheet and for what fills up to a level.
    pub fn thick_m(&self) -> f64 {
        match self.amount {
            Amount::Thick(thick_m) => thick_m,
            Amount::Sheet | Amount::UpTo(_) => 0.0,
        }
    }
}

/// Which surface the levels of a feature describe.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum LevelsAre {
    /// What is seen when all is done.
    #[default]
    Finished,
    /// Where the soil ends.
    Dug,
}

/// The layers of a feature.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Layers {
    /// From the soil up.
    pub layers: Vec<Layer>,
    /// Which surface the levels describe; `None` leaves it to the kind.
    pub levels_are: Option<LevelsAre>,
}

/// What the name of a layer that fills a hollow ends in where it lies beside the floor.
pub(crate) const BESIDE_FLOOR: &str = " beside the floor";

/// What is steeper is no floor but the face it is boxed out with: 1 across for 10 up.
pub(crate) const STEEPEST_FLOOR_RISE_PER_RUN: f64 = 10.0;

/// Thickest layer, metres; thicker is a mistake of unit.
const THICKEST_M: f64 = 20.0;

/// Reads `layers` and `levels_are`.
pub(super) fn read(table: &mut Table, diagnostics: &mut Vec<Diagnostic>) -> Layers {
    let levels_are = table.has("levels_are").then(|| {
        let words = [("finished", LevelsAre::Finished), ("dug", LevelsAre::Dug)];
        word(table, "levels_are", &words, diagnostics)
    });
    let mut layers: Vec<Layer> = Vec::new();
    for mut entry in table.tables("layers", diagnostics) {
        let at = entry.at();
        let name = required(
            &mut entry,
            "name",
            "name = \"gravel\"",
            Table::words,
            diagnostics,
        );
        let thick = entry.length_m("thick", diagnostics);
        let to = entry.level("to", diagnostics);
        let words = [("all", false), ("floor", true)];
        let on_floor = word(&mut entry, "on", &words, diagnostics);
        let porosity = entry.number("porosity", diagnostics);
        entry.finish(diagnostics);
        let Some((name, _)) = name else { continue };
        let mut refuse = |code, message: &str, at: &At, help: &str| {
            diagnostics.push(Diagnostic::error(code, message).at(at.clone()).help(help));
        };
        if let Some((share, at)) = &porosity
            && !(0.0..1.0).contains(share)
        {
            refuse(
                "bad-porosity",
                "the porosity of a layer is a share of its volume, 0 to below 1",
                at,
                "0.4 is usual for washed stone of one size",
            );
        }
        if let Some((thick_m, at)) = &thick
            && !(0.0 < *thick_m && *thick_m <= THICKEST_M)
        {
            refuse(
                "bad-layer",
                "a layer is more than 0 and at most 20 m thick",
                at,
                "leave `thick` out for a sheet such as a liner",
            );
        }
        let amount = match (thick, to) {
            (Some(_), Some(to)) => {
                refuse(
                    "bad-layer",
                    "this layer has a thickness and a level at once",
                    &to.at,
                    "keep `thick` for a layer that follows the shape, `to` for one that fills it",
                );
                continue;
            }
            (Some((thick_m, _)), None) => Amount::Thick(thick_m),
            (None, Some(to)) => Amount::UpTo(to),
            (None, None) => Amount::Sheet,
        };
        if matches!(amount, Amount::Thick(_))
            && layers.iter().any(|l| matches!(l.amount, Amount::UpTo(_)))
        {
            refuse(
                "bad-layer",
                "a layer that follows the shape cannot lie on one that fills it to a level",
                &at,
                "list it before, or give it a level with `to`",
            );
        }
        layers.push(Layer {
            name,
            amount,
            on_floor,
            porosity: porosity.map(|(share, _)| share),
            at,
        });
    }
    Layers { layers, levels_are }
}

impl Layers {
    /// Thickness of what lies on the whole shape, and of what lies on its floor alone, metres.
    pub fn thick_m(&self) -> [f64; 2] {
        let sum = |on_floor: bool| {
            let own = self.layers.iter().filter(|l| l.on_floor == on_floor);
            own.map(Layer::thick_m).sum()
        };
        [sum(false), sum(true)]
    }

    /// Those that fill a hollow to a level, with their numbers.
    pub(super) fn fills(&self) -> impl Iterator<Item = (usize, &Layer, &LevelSpec)> {
        let numbered = self.layers.iter().enumerate();
        numbered.filter_map(|(k, layer)| match &layer.amount {
            Amount::UpTo(to) => Some((k, layer, to)),
            _ => None,
        })
    }

    /// Which surface the levels describe, of a kind that usually describes `usual`.
    ///
    /// # Errors
    ///
    /// a layer on the floor alone of a shape whose levels are the dug ones: nothing says how it
    /// meets the sides
    pub(super) fn given(&self, usual: LevelsAre, rule: Rule) -> Result<LevelsAre, Diagnostic> {
        let given = self.levels_are.unwrap_or(usual);
        let on_floor = self.layers.iter().find(|l| l.on_floor && l.thick_m() > 0.0);
        match (given, on_floor) {
            (_, Some(layer)) if rule == Rule::Raise => Err(Diagnostic::error(
                "bad-layer",
                format!(
                    "\"{}\" lies on the crest alone: a crest is not boxed out, its sides would not hold it",
                    layer.name
                ),
            )
            .at(layer.at.clone())
            .help("let it lie on the sides, too, or lay a pad on the crest")),
            (LevelsAre::Dug, Some(layer)) => Err(Diagnostic::error(
                "bad-layer",
                format!(
                    "\"{}\" lies on the floor alone, but the levels of this feature are those of the dug floor and sides",
                    layer.name
                ),
            )
            .at(layer.at.clone())
            .help("give the level it is filled to with `to`, or write levels_are = \"finished\"")),
            _ => Ok(given),
        }
    }
}

/// Steps shifted plumb.
pub(super) fn shifted(steps: &[Step], by_m: f64) -> Vec<Step> {
    let shift = |step: &Step| Step {
        rule: step.rule,
        patch: step.patch.raised(by_m),
    };
    steps.iter().map(shift).collect()
}

/// The floor boxed out: lowered by a thickness, with upright edges.
pub(super) fn box_out(steps: &[Step], parts: &[Part], thick_m: f64) -> Step {
    let mut patch = Patch::new();
    // Two edges are one where they run at one level; at a drop they are two.
    let key = |a: P3, b: P3| (a.p, a.z.to_bits(), b.p, b.z.to_bits());
    let mut edges: BTreeMap<_, (P3, P3, Label)> = BTreeMap::new();
    for (corners, label) in steps.iter().flat_map(|step| step.patch.triangles()) {
        if parts[label as usize].role != Role::Floor {
            continue;
        }
        let low = corners.map(|c| P3 {
            z: c.z - thick_m,
            ..c
        });
        patch.add(&low, label);
        for k in 0..3 {
            let (a, b) = (low[k], low[(k + 1) % 3]);
            if edges.remove(&key(b, a)).is_none() {
                edges.insert(key(a, b), (a, b, label));
            }
        }
    }
    // What is left of the edges is the outline of the floor, the floor to its left.
    let outline: Vec<(P3, P3, Label)> = edges.into_values().collect();
    let_in(&mut patch, &outline, thick_m);
    Step {
        rule: Rule::Lower,
        patch,
    }
}

/// A hollow that a layer may fill: the floor and the rim of a feature on its dug surface.
pub(super) struct Hollow {
    /// Triangles of the floor.
    floor: Vec<[P3; 3]>,
    /// Box round all pieces.
    low: Point,
    high: Point,
    /// Lowest place of the rim.
    rim: Option<P3>,
}

impl Hollow {
    /// The hollow that some steps have left in a surface.
    pub(super) fn of(surface: &Surface, steps: &[Step], parts: &[Part]) -> Hollow {
        let pieces: Vec<([P3; 3], Label)> =
            steps.iter().flat_map(|s| s.patch.triangles()).collect();
        let (mut low, mut high) = (Point::default(), Point::default());
        for (k, p) in pieces.iter().flat_map(|(t, _)| t.map(|c| c.p)).enumerate() {
            if k == 0 {
                (low, high) = (p, p);
            }
            low = Point::new(low.x.min(p.x), low.y.min(p.y));
            high = Point::new(high.x.max(p.x), high.y.max(p.y));
        }
        let feature = pieces.first().and_then(|(_, l)| parts[*l as usize].feature);
        let own = |l: Label| parts[l as usize].feature == feature;
        let is_floor = |l: Label| parts[l as usize].role == Role::Floor;
        Hollow {
            floor: pieces
                .iter()
                .filter(|(_, l)| is_floor(*l))
                .map(|(t, _)| *t)
                .collect(),
            low,
            high,
            rim: lowest_rim(surface, &surface.facets_in(low, high), own),
        }
    }

    /// The raising that fills it to a level: a level sheet, of which only what hangs together
    /// with the floor is laid.
    ///
    /// # Errors
    ///
    /// a level above the lowest place of the rim: it would run out there
    pub(super) fn fill(
        &self,
        site: &Site,
        layer: &Layer,
        to: &LevelSpec,
        label: Labels,
    ) -> Result<(Step, f64), Diagnostic> {
        let refuse = |message: String, help: String| {
            Diagnostic::error("bad-layer", message)
                .at(to.at.clone())
                .help(help)
        };
        let rim = self.rim.ok_or_else(|| {
            refuse(
                format!("there is no hollow for \"{}\" to fill", layer.name),
                "give `thick` instead of `to`".to_owned(),
            )
        })?;
        let z_m = match (site.fixed_level(to)?, to.word) {
            (Some(z), _) => z,
            (None, LevelWord::Depth(depth)) => rim.z - depth,
            (None, _) => {
                return Err(refuse(
                    format!(
                        "\"{}\" fills a hollow: a height above the ground says nothing of it",
                        layer.name
                    ),
                    "write depth:... (below the lowest place of the rim), level:... or below-benchmark:..."
                        .to_owned(),
                ));
            }
        };
        if z_m > rim.z {
            return Err(refuse(
                format!(
                    "\"{}\" filled to {} would run out over the rim, which lies at {} at {}",
                    layer.name,
                    site.length(z_m),
                    site.length(rim.z),
                    site.place(rim.p)
                ),
                format!(
                    "fill it to {} at most, or raise the rim there",
                    site.length(rim.z)
                ),
            ));
        }
        let over_floor = label(&layer.name, Role::Floor);
        let beside = label(&format!("{}{BESIDE_FLOOR}", layer.name), Role::Floor);
        let mut patch = Patch::new();
        for corners in &self.floor {
            patch.add(&corners.map(|c| P3 { z: z_m, ..c }), over_floor);
        }
        let at = |x, y| P3 {
            p: Point::new(x, y),
            z: z_m,
        };
        let (low, high) = (self.low, self.high);
        let sheet = [
            at(low.x, low.y),
            at(high.x, low.y),
            at(high.x, high.y),
            at(low.x, high.y),
        ];
        patch.add(&sheet, beside);
        patch.anchor(over_floor);
        let step = Step {
            rule: Rule::Raise,
            patch,
        };
        Ok((step, z_m))
    }
}

/// The fault of a layer that fills up to a level which is no higher than what is there.
pub(super) fn fills_nothing(layer: &Layer) -> Diagnostic {
    let message = format!(
        "\"{}\" is filled to a level that is not above the floor, or not above the layers below it",
        layer.name
    );
    Diagnostic::error("bad-layer", message)
        .at(layer.at.clone())
        .help("list the layers from the soil up, each to a higher level")
}

/// The lowest place where facets of a feature meet others.
fn lowest_rim(surface: &Surface, facets: &[u32], own: impl Fn(Label) -> bool) -> Option<P3> {
    let mut lowest: Option<P3> = None;
    for &f in facets {
        if !own(surface.label(f)) {
            continue;
        }
        let corners = surface.corners(f);
        for (k, n) in surface.neighbours(f).into_iter().enumerate() {
            if n == Surface::NONE || !own(surface.label(n)) {
                for c in [corners[k], corners[(k + 1) % 3]] {
                    let is_lower = |l: P3| c.z < l.z || (c.z == l.z && c.p < l.p);
                    if lowest.is_none_or(is_lower) {
                        lowest = Some(c);
                    }
                }
            }
        }
    }
    lowest
}
