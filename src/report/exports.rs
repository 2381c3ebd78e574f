//! What of an outcome leaves for other programs, as plain data for the formats.
//!
//! Takes an outcome, gives surfaces with the names of their parts, and the lines of the yard.
//! Computes no result: geometry here follows the surfaces of the outcome.

use crate::design::Design;
use crate::export::{
    Drawn, Form, Format, Leaving, Look, Named, Parcel, Place, State, contour_lines,
    files as written, of_surface, profile_lines, write_geojson,
};
use crate::files::Content;
use crate::geom::{P3, Point, Ring, triangulate};
use crate::import::{Loss, Thinner};
use crate::job::{SamePlace, Thin};
use crate::outcome::Outcome;
use crate::surface::{
    Profile, Rule, Surface, contour_interval_m, contour_pieces, contours, levels_between,
};
use crate::terrain::GROUND;

/// Surfaces that a report folder may hold.
pub(super) const SURFACES: [&str; 4] = ["ground", "design", "dug", "built"];

/// What is behind the name of a surface in the names of its files.
pub(super) const ENDINGS: [&str; 4] = [".xml", ".glb", "-vertices.csv", "-facets.csv"];

/// A surface of more facets is left out of the folder, and the page says how to get it: each
/// would take some 50 MB.
pub(super) const MOST_FACETS: usize = 250_000;

/// Contours of more straight pieces are left out of the lines, and the page says how to get them:
/// they would take some 25 MB.
pub(super) const MOST_CONTOUR_PIECES: usize = 500_000;

/// What the labels of a design mean.
pub fn names(design: &Design) -> Vec<Named> {
    let named = |part: &crate::design::Part| {
        let feature = part.feature.map(|number| &design.features[number]);
        Named {
            feature: feature.map(|feature| feature.name.clone()),
            part: part.name.clone(),
            look: match feature.map(|feature| feature.laid.rule) {
                None => Look::Ground,
                Some(Rule::Lower) => Look::Dug,
                Some(Rule::Raise) => Look::Filled,
            },
        }
    };
    design.parts.iter().map(named).collect()
}

/// The ground, the finished surface and, where they differ from it, what is dug to and what is
/// built.
pub fn surfaces(outcome: &Outcome) -> Parcel<'_> {
    let design = &outcome.design;
    let labels = names(design);
    let leaving = |name: &str, surface, state| Leaving {
        name: name.to_owned(),
        surface,
        labels: labels.clone(),
        breaklines: outcome.terrain.breaklines.clone(),
        state,
    };
    let mut surfaces = vec![leaving("ground", &outcome.terrain.surface, State::Existing)];
    let others = [
        ("design", Some(&design.surface)),
        ("dug", design.dug.as_ref()),
        ("built", design.built.as_ref()),
    ];
    if !design.features.is_empty() {
        let proposed = others.into_iter().filter_map(|(name, surface)| {
            surface.map(|surface| leaving(name, surface, State::Proposed))
        });
        surfaces.extend(proposed);
    }
    Parcel {
        origin: outcome.terrain.origin,
        surfaces,
        unit: outcome.job.units,
        date: outcome.date.clone(),
    }
}

/// File of the thinned ground.
pub(super) const THINNED: &str = "ground-thinned.glb";

/// Points that a ground to be looked at has at most.
const MOST_SEEN: usize = 200_000;

/// Tolerance that thinning a ground to be looked at begins with, metres; it is doubled until the
/// points are few enough.
const SEEN_WITHIN_M: f64 = 0.1;

/// A ground too large for the folder, thinned to be looked at; with what that lost. `None` for
/// other grounds.
pub(super) fn thinned(ground: &Surface) -> Option<(Surface, Loss)> {
    if ground.num_facets() <= MOST_FACETS {
        return None;
    }
    let mut is_used = vec![false; ground.vertices().len()];
    for v in ground.facets().flat_map(|f| ground.vertex_ids(f)) {
        is_used[v as usize] = true;
    }
    let all = ground.vertices().iter().zip(is_used);
    let points: Vec<P3> = all.filter_map(|(c, used)| used.then_some(*c)).collect();
    let mut tolerance_m = SEEN_WITHIN_M;
    loop {
        let mut thinner = Thinner::new(Thin::Within(tolerance_m), SamePlace::First);
        thinner.take(&points);
        let seen = thinner.finish();
        if seen.points.len() <= MOST_SEEN {
            let plan: Vec<Point> = seen.points.iter().map(|c| c.p).collect();
            let t = triangulate(&plan, &[]).ok()?;
            let surface = Surface::from_triangles(seen.points, &t.triangles, GROUND).ok()?;
            return Some((surface, seen.loss?));
        }
        tolerance_m *= 2.0;
    }
}

/// What a thinned ground lost, in words.
pub(super) fn words_of_loss(loss: &Loss) -> String {
    let looked = match loss.looked_at == loss.points {
        true => "all of them".to_owned(),
        false => format!("{} of them, evenly chosen,", loss.looked_at),
    };
    format!(
        "thinned, {} points left out; {looked} lie within {:.3} m of it",
        loss.points, loss.worst_m
    )
}

/// Every surface in each format of surfaces, and the lines of the yard.
pub(super) fn files(outcome: &Outcome) -> Vec<(String, Content<'_>)> {
    let whole = surfaces(outcome);
    let mut files: Vec<(String, Content)> = Vec::new();
    for leaving in &whole.surfaces {
        if leaving.surface.num_facets() > MOST_FACETS {
            continue;
        }
        let parcel = Parcel {
            surfaces: vec![leaving.clone()],
            ..whole.clone()
        };
        for (format, ending) in [
            (Format::LandXml, "xml"),
            (Format::Glb, "glb"),
            (Format::Csv, "csv"),
        ] {
            let file = format!("{}.{ending}", leaving.name);
            for (k, (name, _)) in written(&parcel, format, &file).into_iter().enumerate() {
                let (parcel, file) = (parcel.clone(), file.clone());
                files.push((
                    name,
                    Box::new(move |out| written(&parcel, format, &file)[k].1(out)),
                ));
            }
        }
    }
    if let Some((surface, loss)) = thinned(&outcome.terrain.surface) {
        let parcel = whole.clone();
        files.push((
            THINNED.to_owned(),
            Box::new(move |out| {
                let seen = Parcel {
                    surfaces: vec![Leaving {
                        name: format!("ground, {}", words_of_loss(&loss)),
                        surface: &surface,
                        labels: Vec::new(),
                        breaklines: Vec::new(),
                        state: State::Existing,
                    }],
                    origin: parcel.origin,
                    unit: parcel.unit,
                    date: parcel.date.clone(),
                };
                written(&seen, Format::Glb, THINNED)
                    .into_iter()
                    .try_for_each(|(_, content)| content(out))
            }),
        ));
    }
    files.push((
        "lines.geojson".to_owned(),
        Box::new(|out| write_geojson(outcome.terrain.origin, &lines(outcome), out)),
    ));
    files
}

/// Outlines, parts, daylight lines, contours, sections, centre lines and keep-offs of a yard.
pub fn lines(outcome: &Outcome) -> Vec<Drawn> {
    let (terrain, design) = (&outcome.terrain, &outcome.design);
    let mut drawn = Vec::new();
    for leaving in &surfaces(outcome).surfaces {
        let is_wanted = |d: &Drawn| match &*leaving.name {
            "ground" => true,
            "design" => d.kind == "part" || d.kind == "daylight",
            _ => d.kind == "daylight",
        };
        drawn.extend(of_surface(leaving).into_iter().filter(is_wanted));
    }
    let rings = |kind, rings: &mut dyn Iterator<Item = &Ring>| -> Vec<Drawn> {
        rings
            .map(|ring| Drawn::new(kind, kind, Form::Areas(vec![vec![closed(ring.corners())]])))
            .collect()
    };
    drawn.extend(rings("hole", &mut terrain.holes.iter()));
    drawn.extend(rings(
        "no data",
        &mut terrain.no_data.iter().map(|n| &n.ring),
    ));
    for keep_off in &outcome.keep_offs {
        let form = match &keep_off.area {
            Some(ring) => Form::Areas(vec![vec![closed(ring.corners())]]),
            None => Form::Lines(vec![
                keep_off.line.iter().copied().map(Place::from).collect(),
            ]),
        };
        let is_line = keep_off.area.is_some() || keep_off.line.len() > 1;
        let thing = Drawn::new("keep-off", &*keep_off.name, form)
            .with("keep_off", serde_json::json!(keep_off.kind));
        drawn.extend(is_line.then_some(thing));
    }
    for feature in &design.features {
        for (name, line) in feature.laid.lines.iter().filter(|(_, line)| line.len() > 1) {
            let form = Form::Lines(vec![line.iter().copied().map(Place::from).collect()]);
            drawn.push(Drawn::new("line", &**name, form).with("feature", &*feature.name));
        }
    }
    drawn.extend(contoured(outcome));
    for section in &outcome.sections {
        let profiles: [(&str, Option<&Profile>); 3] = [
            ("ground", Some(&section.ground)),
            ("design", Some(&section.design)),
            ("built", section.built.as_ref()),
        ];
        for (surface, profile) in profiles {
            drawn.extend(profile.and_then(|p| profile_lines(&section.name, surface, p)));
        }
    }
    drawn
}

/// Contours of the ground, and of the finished surface where it is ground no longer.
fn contoured(outcome: &Outcome) -> Vec<Drawn> {
    if num_contour_pieces(outcome) > MOST_CONTOUR_PIECES {
        return Vec::new();
    }
    let levels_m = levels_m(outcome);
    let of = |name: &str, surface: &Surface, take: &dyn Fn(u32) -> bool| {
        contour_lines(name, &contours(surface, &levels_m, take))
    };
    let finished = &outcome.design.surface;
    let mut drawn = of("ground", &outcome.terrain.surface, &|_| true);
    let is_new = |f: u32| finished.label(f) != GROUND;
    drawn.extend(of("design", finished, &is_new));
    drawn
}

/// How many straight pieces the contours of both surfaces have.
pub(super) fn num_contour_pieces(outcome: &Outcome) -> usize {
    let levels_m = levels_m(outcome);
    [&outcome.terrain.surface, &outcome.design.surface]
        .map(|surface| contour_pieces(surface, &levels_m))
        .iter()
        .sum()
}

/// The levels of the plan, metres.
fn levels_m(outcome: &Outcome) -> Vec<f64> {
    let Some((low, high)) = outcome.terrain.surface.z_range() else {
        return Vec::new();
    };
    let interval_m = contour_interval_m(outcome.job.units, high - low);
    let (low, high) = outcome
        .design
        .surface
        .z_range()
        .map_or((low, high), |(a, b)| (low.min(a), high.max(b)));
    let levels = levels_between(low, high, interval_m).into_iter();
    levels.map(|(_, level_m)| level_m).collect()
}

/// Corners with the first again at the end.
fn closed(corners: &[Point]) -> Vec<Place> {
    let again = corners.first();
    corners
        .iter()
        .chain(again)
        .copied()
        .map(Place::from)
        .collect()
}
