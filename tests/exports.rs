//! What leaves the program, read back by readers of another make: the same facets, and volumes
//! within what each format says of itself.
#![allow(clippy::unwrap_used, missing_docs)]

mod common;

use std::collections::BTreeMap;

use common::{Folder, Random, at, close, plane_over, ring, run_job, surface, written};
use cutbank::design::shape::{Corners, Sides, floor_with_sides};
use cutbank::diag::{Diagnostic, Level};
use cutbank::export::{
    Drawn, Form, Format, Leaving, Look, Named, Parcel, Place, State, files, write_geojson,
    write_glb, write_gltf, write_landxml,
};
use cutbank::files::OneThread;
use cutbank::geom::{Origin, P3, Point, distance_m, orient};
use cutbank::import::{self, Content};
use cutbank::job::{ImportKind, ImportSpec};
use cutbank::outcome::Outcome;
use cutbank::report;
use cutbank::surface::{Rule, Surface, cut_fill};
use cutbank::units::LengthUnit;

const UNITS: [LengthUnit; 3] = [
    LengthUnit::Metre,
    LengthUnit::Foot,
    LengthUnit::UsSurveyFoot,
];

/// Far from any origin, as coordinates of a national grid.
const FAR: Origin = Origin {
    x_m: 500_000,
    y_m: 4_200_000,
};

fn garden() -> Outcome {
    let folder =
        Folder::default().with("levels.csv", include_str!("../fixtures/garden/levels.csv"));
    run_job(folder, include_str!("../fixtures/garden/job.toml"))
}

/// A ground with basins and mounds laid over each other at random; near-upright sides among them.
fn composed(seed: u64) -> Surface {
    let mut random = Random(seed * 77 + 3);
    let points: Vec<P3> = (0..60)
        .map(|_| {
            let z = random.between(9.0, 11.0);
            at(random.between(0.0, 30.0), random.between(0.0, 30.0), z)
        })
        .collect();
    let mut yard = surface(&points, 0);
    let mut laid = 0;
    for label in 1..8 {
        let rule = [Rule::Lower, Rule::Raise][random.below(2) as usize];
        let sides = Sides {
            rule,
            run_per_rise: [1.0e-4, 0.5, 1.0, 2.0][random.below(4) as usize],
            limit_z_m: if rule == Rule::Lower { 15.0 } else { 5.0 },
            corners: Corners::Mitre,
            chord_m: 0.1,
        };
        let (x, y) = (random.between(3.0, 27.0), random.between(3.0, 27.0));
        let corners: Vec<[f64; 2]> = (0..5)
            .map(|k| {
                let turn = std::f64::consts::TAU * f64::from(k) / 5.0;
                let far = random.between(1.0, 4.0);
                [x + far * turn.cos(), y + far * turn.sin()]
            })
            .collect();
        let z = if rule == Rule::Lower { 9.0 } else { 11.0 };
        let patch = floor_with_sides(&ring(&corners), z, label, &sides, &mut |_| label);
        laid += usize::from(yard.compose(&patch, rule).is_ok());
    }
    assert!(laid > 3, "{seed}: {laid}");
    yard
}

fn leaving<'a>(name: &str, surface: &'a Surface) -> Leaving<'a> {
    let part = |label: u32| Named {
        feature: Some(format!("Pond \"{label}\", <north> & more")),
        part: "side".to_owned(),
        look: if label.is_multiple_of(2) {
            Look::Dug
        } else {
            Look::Filled
        },
    };
    Leaving {
        name: name.to_owned(),
        surface,
        labels: std::iter::once(Named::ground())
            .chain((1..8).map(part))
            .collect(),
        breaklines: Vec::new(),
        state: State::Proposed,
    }
}

fn parcel<'a>(surfaces: Vec<Leaving<'a>>, unit: LengthUnit, origin: Origin) -> Parcel<'a> {
    Parcel {
        origin,
        surfaces,
        unit,
        date: "2024-05-01".to_owned(),
    }
}

/// The surfaces of a test: those of the garden, and random ones.
fn all(outcome: &Outcome) -> Vec<(String, Surface)> {
    let parcel = report::surfaces(outcome);
    let own = parcel.surfaces.iter();
    let mut all: Vec<(String, Surface)> = own
        .map(|leaving| (leaving.name.clone(), leaving.surface.clone()))
        .collect();
    assert_eq!(
        all.iter().map(|(name, _)| &**name).collect::<Vec<_>>(),
        ["ground", "design", "dug", "built"]
    );
    all.extend((0..12).map(|seed| (format!("composed {seed}"), composed(seed))));
    all
}

/// What the file says volumes may differ by, worked out here: planes of facets against corners.
fn off_planes_m3(surface: &Surface) -> f64 {
    let off = |f: u32| {
        let plane = surface.source(f).plane;
        let corners = surface.corners(f).map(|c| (plane.z_at(c.p) - c.z).abs());
        corners.into_iter().fold(0.0, f64::max)
    };
    surface.facets().map(|f| off(f) * surface.area_m2(f)).sum()
}

/// Cut and fill against levels, with which a surface and the one read back are held together.
#[track_caller]
fn same_volumes(what: &str, was: &Surface, back: &Surface, within_m3: f64) {
    for level in [8.0, 9.7, 30.0] {
        let level = plane_over([-100.0, -100.0], [100.0, 100.0], |_, _| level);
        let (one, other) = (
            cut_fill(was, &level, &OneThread).total,
            cut_fill(back, &level, &OneThread).total,
        );
        // Sums are kept in 2^-56 m3, one for each facet at most.
        let within = within_m3 + 1.0e-12;
        for (part, one, other) in [
            ("cut", one.cut_m3, other.cut_m3),
            ("fill", one.fill_m3, other.fill_m3),
        ] {
            let off = (one - other).abs();
            assert!(
                off <= within,
                "{what}, {part}: {off:.3e} of {within:.3e} m3"
            );
        }
    }
}

/// Every vertex and facet as it was, to the last bit.
#[track_caller]
fn same_facets(what: &str, was: &Surface, back: &Surface) {
    assert_eq!(was.num_facets(), back.num_facets(), "{what}");
    for (f, g) in was.facets().zip(back.facets()) {
        for (one, other) in was.corners(f).iter().zip(back.corners(g)) {
            assert_eq!(one.p, other.p, "{what}");
            assert_eq!(one.z.to_bits(), other.z.to_bits(), "{what}");
        }
    }
}

/// A surface of a LandXML file by name, with what its description says, in the frame of an origin.
fn read_landxml(text: &str, name: &str, origin: Origin) -> (Surface, String) {
    let document = roxmltree::Document::parse(text).unwrap();
    let root = document.root_element();
    assert!(root.has_tag_name(("http://www.landxml.org/schema/LandXML-1.2", "LandXML")));
    for required in ["version", "date", "time"] {
        assert!(root.attribute(required).is_some());
    }
    let find = |word: &str| {
        let mut nodes = root.descendants();
        nodes.find_map(|n| n.attribute("linearUnit").filter(|unit| *unit == word))
    };
    let unit = match (find("meter"), find("foot"), find("USSurveyFoot")) {
        (Some(_), None, None) => LengthUnit::Metre,
        (None, Some(_), None) => LengthUnit::Foot,
        (None, None, Some(_)) => LengthUnit::UsSurveyFoot,
        other => panic!("{other:?}"),
    };
    let tag = |word: &'static str| move |n: &roxmltree::Node| n.tag_name().name() == word;
    let of_name = |n: &roxmltree::Node| n.attribute("name") == Some(name);
    let surface = root
        .descendants()
        .filter(tag("Surface"))
        .find(of_name)
        .unwrap();
    let definition = surface.children().find(tag("Definition")).unwrap();
    assert_eq!(definition.attribute("surfType"), Some("TIN"));
    let mut vertices = Vec::new();
    let mut ids = BTreeMap::new();
    for p in definition.descendants().filter(tag("P")) {
        let words: Vec<&str> = p.text().unwrap().split(' ').collect();
        // Northing first.
        let nm = |text: &str| unit.parse_nm(text).unwrap();
        ids.insert(p.attribute("id").unwrap().to_owned(), vertices.len() as u32);
        vertices.push(P3 {
            p: origin.local(nm(words[1]), nm(words[0])).unwrap(),
            z: unit.to_m(words[2].parse().unwrap()),
        });
    }
    let triangles: Vec<[u32; 3]> = definition
        .descendants()
        .filter(tag("F"))
        .map(|f| {
            assert_ne!(f.attribute("b"), Some("0"));
            let ids: Vec<u32> = f.text().unwrap().split(' ').map(|id| ids[id]).collect();
            ids.try_into().unwrap()
        })
        .collect();
    let number = |key: &str| definition.attribute(key).unwrap().parse::<f64>().unwrap();
    let back = Surface::from_triangles(vertices, &triangles, 0).unwrap();
    let facts = back.facts().unwrap();
    close(
        "area",
        number("area2DSurf") * unit.area_m2(),
        facts.area_m2,
        1e-9,
    );
    assert!((unit.to_m(number("elevMin")) - facts.min_z_m).abs() < 1e-12);
    (back, surface.attribute("desc").unwrap().to_owned())
}

fn landxml(parcel: &Parcel) -> String {
    let mut bytes = Vec::new();
    write_landxml(parcel, &mut bytes).unwrap();
    String::from_utf8(bytes).unwrap()
}

#[test]
fn landxml_in_metres_comes_back_to_the_last_bit() {
    let outcome = garden();
    for origin in [Origin::default(), FAR] {
        for (name, surface) in all(&outcome) {
            let text = landxml(&parcel(
                vec![leaving(&name, &surface)],
                LengthUnit::Metre,
                origin,
            ));
            let (back, words) = read_landxml(&text, &name, origin);
            same_facets(&name, &surface, &back);
            let off = off_planes_m3(&surface);
            same_volumes(&name, &surface, &back, off);
            let told = match off {
                0.0 => "corners are the planes volumes".to_owned(),
                off => format!("at most {off:.1e} m3"),
            };
            assert!(words.contains(&told), "{words}");
            assert!(off < 1.0e-4, "{name}: {off}");
        }
    }
}

#[test]
fn landxml_comes_back_through_the_reader_of_this_program() {
    let outcome = garden();
    for unit in UNITS {
        for (name, surface) in all(&outcome) {
            let edges = |s: &Surface| -> Vec<[Point; 2]> {
                let mut edges: Vec<[Point; 2]> = Vec::new();
                for f in s.facets() {
                    let c = s.corners(f);
                    edges.extend((0..3).map(|k| [c[k].p, c[(k + 1) % 3].p]));
                }
                edges.sort_unstable();
                edges
            };
            let text = landxml(&parcel(vec![leaving(&name, &surface)], unit, FAR));
            let folder = Folder::default().with("yard.xml", &text);
            // Another unit where the file is silent: it is not.
            let mut spec = ImportSpec::new(ImportKind::Surface, "yard.xml", LengthUnit::Metre);
            spec.surface = Some(name.clone());
            let (import, said) = import::read(&spec, &folder).unwrap_or_else(|e| panic!("{e}"));
            assert_eq!(import.facts.plan_unit.unit, unit);
            // Nothing to complain of but that it is a design, which it is.
            let is_doubt = |d: &&Diagnostic| d.level != Level::Note;
            let doubts: Vec<&str> = said.iter().filter(is_doubt).map(|d| d.code).collect();
            assert_eq!(doubts, ["surface-state"]);
            assert_eq!(import.facts.read, import.facts.kept, "{name}");
            let Content::Faces(faces) = import.content else {
                panic!("{name}: points");
            };
            let back = Surface::from_triangles(faces.vertices, &faces.triangles, 0).unwrap();
            let by = import.origin.shift_to(FAR).unwrap();
            let back = back.moved(by);
            if unit == LengthUnit::Metre {
                assert_eq!(edges(&surface), edges(&back), "{name}");
                let above = |s: &Surface| s.volume_above_m3(5.0);
                close("volume", above(&back), above(&surface), 1.0e-14);
            }
            let within = off_planes_m3(&surface) + 1.0e-9;
            same_volumes(&name, &surface, &back, within);
        }
    }
    // Breaklines come back too, along the same edges.
    let whole = report::surfaces(&outcome);
    let folder = Folder::default().with("yard.xml", &landxml(&whole));
    let mut spec = ImportSpec::new(ImportKind::Surface, "yard.xml", LengthUnit::Metre);
    spec.surface = Some("ground".to_owned());
    let (import, _) = import::read(&spec, &folder).unwrap_or_else(|e| panic!("{e}"));
    let Content::Faces(faces) = import.content else {
        panic!("points");
    };
    let length = |lines: Vec<Vec<Point>>| -> f64 {
        let sides = lines.iter().flat_map(|line| line.windows(2));
        sides.map(|s| distance_m(s[0], s[1])).sum()
    };
    let back = faces.breaklines.iter();
    let back = back.map(|line| line.iter().map(|&v| faces.vertices[v as usize].p).collect());
    let given = outcome.terrain.breaklines.iter();
    let given = given.map(|line| line.iter().map(|p| p.p).collect());
    close(
        "lines",
        length(back.collect()),
        length(given.collect()),
        1.0e-9,
    );
}

#[test]
fn landxml_in_feet_comes_back_to_the_nanometre() {
    let outcome = garden();
    let mut left_out = 0;
    for unit in &UNITS[1..] {
        for (name, surface) in all(&outcome) {
            let text = landxml(&parcel(vec![leaving(&name, &surface)], *unit, FAR));
            let (back, words) = read_landxml(&text, &name, FAR);
            let places = |s: &Surface| {
                let used = s.facets().flat_map(|f| s.corners(f));
                used.map(|c| (c.p, c.z)).collect::<BTreeMap<Point, f64>>()
            };
            for ((p, z), (q, back)) in places(&surface).into_iter().zip(places(&back)) {
                assert_eq!(p, q, "{name}");
                // At most the last bit.
                assert!((z - back).abs() <= z.next_up() - z, "{name}");
            }
            // What is left out has no area to speak of, and is told.
            let gone = surface.num_facets() - back.num_facets();
            left_out += gone;
            let told = format!("left out: {gone} facets");
            assert_eq!(words.contains(&told), gone > 0, "{name}, {gone}: {words}");
            let area = |s: &Surface| s.twice_area_nm2();
            assert!(area(&surface) - area(&back) < 1_000_000_000_000, "{name}");
            let within = off_planes_m3(&surface) + 1.0e-9;
            same_volumes(&name, &surface, &back, within);
        }
    }
    assert!(left_out > 0, "no surface here has a facet that thin");
}

#[test]
fn no_face_of_a_landxml_file_is_without_area_in_its_own_decimals() {
    let outcome = garden();
    for unit in UNITS {
        for (name, surface) in all(&outcome) {
            let text = landxml(&parcel(vec![leaving(&name, &surface)], unit, FAR));
            // The same digits read as metres are whole nanometres: exact.
            let as_metres = text
                .replace("linearUnit=\"USSurveyFoot\"", "linearUnit=\"meter\"")
                .replace("linearUnit=\"foot\"", "linearUnit=\"meter\"");
            let document = roxmltree::Document::parse(&as_metres).unwrap();
            let mut vertices = vec![Point::default()];
            let mut faces = 0;
            for node in document.descendants() {
                let words: Vec<&str> = node.text().unwrap_or("").split(' ').collect();
                let nm = |k: usize| LengthUnit::Metre.parse_nm(words[k]).unwrap();
                match node.tag_name().name() {
                    "P" => vertices.push(Point::new(nm(1), nm(0))),
                    "F" => {
                        let corner = |k: usize| vertices[words[k].parse::<usize>().unwrap()];
                        assert!(orient(corner(0), corner(1), corner(2)) > 0, "{name}");
                        faces += 1;
                    }
                    _ => {}
                }
            }
            assert!(faces > 50, "{name}: {faces}");
        }
    }
}

#[test]
fn several_surfaces_and_their_breaklines_stand_in_one_landxml_file() {
    let outcome = garden();
    let parcel = report::surfaces(&outcome);
    let text = landxml(&parcel);
    let document = roxmltree::Document::parse(&text).unwrap();
    let names: Vec<&str> = document
        .descendants()
        .filter(|n| n.tag_name().name() == "Surface")
        .map(|n| n.attribute("name").unwrap())
        .collect();
    assert_eq!(names, ["ground", "design", "dug", "built"]);
    for leaving in &parcel.surfaces {
        let (back, _) = read_landxml(&text, &leaving.name, parcel.origin);
        assert!(back.num_facets() > 50);
    }
    // On the ground the marked edges are those the terrain knows to lie on lines.
    let ground = document
        .descendants()
        .find(|n| n.attribute("name") == Some("ground"))
        .unwrap();
    let mut marked: Vec<[u32; 2]> = Vec::new();
    let surface = &outcome.terrain.surface;
    let faces = ground.descendants().filter(|n| n.tag_name().name() == "F");
    for (f, face) in surface.facets().zip(faces) {
        let v = surface.vertex_ids(f);
        let bits: usize = face.attribute("b").unwrap_or("0").parse().unwrap();
        for k in (0..3).filter(|k| bits & 1 << k != 0) {
            let (a, b) = (v[k], v[(k + 1) % 3]);
            marked.push([a.min(b), a.max(b)]);
        }
    }
    marked.sort_unstable();
    marked.dedup();
    assert!(!marked.is_empty());
    // Those at the rim are the outline and the holes.
    let mut within = outcome.terrain.line_edges.clone();
    within.retain(|edge| {
        let has_edge = |f: &u32| {
            let v = surface.vertex_ids(*f);
            edge.iter().all(|e| v.contains(e))
        };
        surface.facets().filter(has_edge).count() == 2
    });
    assert_eq!(marked, within);
    // Every edge that is marked stands in one breakline, once.
    let points = |n: roxmltree::Node| n.text().unwrap().split(' ').count() / 3;
    let stretches: usize = ground
        .descendants()
        .filter(|n| n.tag_name().name() == "PntList3D")
        .map(|n| points(n) - 1)
        .sum();
    assert_eq!(stretches, marked.len());
}

#[test]
fn tables_come_back_to_the_last_bit() {
    let outcome = garden();
    for (name, surface) in all(&outcome) {
        let parcel = parcel(vec![leaving(&name, &surface)], LengthUnit::Foot, FAR);
        let tables = files(&parcel, Format::Csv, "yard.csv");
        let names: Vec<&str> = tables.iter().map(|(name, _)| &**name).collect();
        assert_eq!(names, ["yard-vertices.csv", "yard-facets.csv"]);
        let [vertices, facets] = [&tables[0].1, &tables[1].1].map(written);
        let mut reader = csv::Reader::from_reader(&*vertices);
        assert_eq!(reader.headers().unwrap(), vec!["id", "x_m", "y_m", "z_m"]);
        let vertices: Vec<P3> = reader
            .records()
            .enumerate()
            .map(|(k, row)| {
                let row = row.unwrap();
                assert_eq!(row[0], (k + 1).to_string());
                let nm = |k: usize| LengthUnit::Metre.parse_nm(&row[k]).unwrap();
                P3 {
                    p: FAR.local(nm(1), nm(2)).unwrap(),
                    z: row[3].parse().unwrap(),
                }
            })
            .collect();
        let mut reader = csv::Reader::from_reader(&*facets);
        let mut labels = Vec::new();
        let triangles: Vec<[u32; 3]> = reader
            .records()
            .map(|row| {
                let row = row.unwrap();
                labels.push((row[4].parse::<u32>().unwrap(), row[5].to_owned()));
                [1, 2, 3].map(|k| row[k].parse::<u32>().unwrap() - 1)
            })
            .collect();
        let back = Surface::from_triangles(vertices, &triangles, 0).unwrap();
        same_facets(&name, &surface, &back);
        same_volumes(&name, &surface, &back, off_planes_m3(&surface));
        for (f, (label, feature)) in surface.facets().zip(labels) {
            assert_eq!(surface.label(f), label);
            let named = parcel.surfaces[0].named(label);
            assert_eq!(named.feature.unwrap_or_default(), feature);
        }
    }
}

/// A glTF file as triangles in the frame of the parcel: east, north, up, with their material.
struct Seen {
    triangles: Vec<([[f64; 3]; 3], String)>,
    extras: serde_json::Value,
}

fn read_gltf(bytes: &[u8]) -> Seen {
    let gltf = gltf::Gltf::from_slice(bytes).unwrap();
    let blob = gltf.blob.clone().unwrap_or_else(|| {
        let value: serde_json::Value = serde_json::from_slice(bytes).unwrap();
        let uri = value["buffers"][0]["uri"].as_str().unwrap();
        let text = uri
            .strip_prefix("data:application/octet-stream;base64,")
            .unwrap();
        decoded(text)
    });
    let mut triangles = Vec::new();
    let node = gltf.nodes().next().unwrap();
    let ([tx, ty, tz], ..) = node.transform().decomposed();
    for primitive in node.mesh().unwrap().primitives() {
        let reader = primitive.reader(|_| Some(&blob));
        let positions: Vec<[f32; 3]> = reader.read_positions().unwrap().collect();
        let ids: Vec<u32> = reader.read_indices().unwrap().into_u32().collect();
        let material = primitive.material().name().unwrap().to_owned();
        assert!(primitive.material().double_sided());
        for ids in ids.chunks_exact(3) {
            let corner = |id: u32| {
                let [x, y, z] = positions[id as usize].map(f64::from);
                // x east, y up, z south.
                [x + f64::from(tx), -(z + f64::from(tz)), y + f64::from(ty)]
            };
            let corners = [corner(ids[0]), corner(ids[1]), corner(ids[2])];
            triangles.push((corners, material.clone()));
        }
    }
    let extras: serde_json::Value =
        serde_json::from_str(node.extras().as_ref().unwrap().get()).unwrap();
    Seen { triangles, extras }
}

/// Base64 (RFC 4648, section 4), by hand.
fn decoded(text: &str) -> Vec<u8> {
    let value = |c: u8| match c {
        b'A'..=b'Z' => u32::from(c - b'A'),
        b'a'..=b'z' => u32::from(c - b'a') + 26,
        b'0'..=b'9' => u32::from(c - b'0') + 52,
        b'+' => 62,
        b'/' => 63,
        other => panic!("{other}"),
    };
    let mut bytes = Vec::new();
    let digits: Vec<u32> = text.trim_end_matches('=').bytes().map(value).collect();
    for four in digits.chunks(4) {
        let word = four.iter().fold(0, |word, digit| word << 6 | digit) << (6 * (4 - four.len()));
        bytes.extend(&word.to_be_bytes()[1..four.len()]);
    }
    bytes
}

#[test]
fn gltf_holds_every_facet_within_what_it_states() {
    let outcome = garden();
    let (mut without_area, mut turned) = (0, 0);
    for (name, surface) in all(&outcome) {
        let parcel = parcel(vec![leaving(&name, &surface)], LengthUnit::Metre, FAR);
        let mut bytes = Vec::new();
        write_glb(&parcel, &mut bytes).unwrap();
        let seen = read_gltf(&bytes);
        let mut text = Vec::new();
        write_gltf(&parcel, &mut text).unwrap();
        assert_eq!(seen.triangles, read_gltf(&text).triangles, "{name}");

        let number = |key: &str| seen.extras[key].as_f64().unwrap();
        let rounding_m = number("largest_rounding_m");
        // Half of the last of 24 binary digits, 16 m from the middle at most.
        assert!(
            rounding_m > 0.0 && rounding_m <= 2f64.powi(-21),
            "{rounding_m}"
        );
        let gone = number("facets_left_out_without_area") as usize;
        assert_eq!(seen.triangles.len() + gone, surface.num_facets());
        without_area += gone;
        turned += number("facets_turned_by_rounding") as usize;

        // Facet by facet in the order of labels: no corner is farther off than is stated.
        let mut by_label: Vec<u32> = surface.facets().collect();
        by_label.sort_by_key(|&f| surface.label(f));
        let mut left = seen.triangles.iter().peekable();
        let mut skipped = 0;
        for f in by_label {
            let corners = surface.corners(f);
            let is_here = left.peek().is_some_and(|(seen, _)| {
                seen.iter().zip(corners).all(|(s, c)| {
                    let exact = [c.p.x_m(), c.p.y_m(), c.z];
                    s.iter()
                        .zip(exact)
                        .all(|(s, e)| (s - e).abs() <= rounding_m + 1e-13)
                })
            });
            match left.next_if(|_| is_here) {
                Some((_, material)) => {
                    let named = parcel.surfaces[0].named(surface.label(f));
                    assert_eq!(*material, named.whole());
                }
                None => {
                    skipped += 1;
                    // Thinner than the rounding of its corners.
                    let area_m2 = surface.area_m2(f);
                    assert!(area_m2 < 40.0 * 4.0 * rounding_m, "{name}: {area_m2}");
                }
            }
        }
        assert_eq!((skipped, left.count()), (gone, 0), "{name}");

        // The volume above a level, facets turned over by rounding counted as such.
        let volume: f64 = seen
            .triangles
            .iter()
            .map(|([a, b, c], _)| {
                let twice = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
                twice / 2.0 * ((a[2] + b[2] + c[2]) / 3.0 - 5.0)
            })
            .sum();
        let facts = surface.facts().unwrap();
        // A corner moves the surface by the rounding up and, sideways, by the rounding times its
        // slope, both ways; at the rim by the rounding times the height counted.
        let slope_area: f64 = surface
            .facets()
            .map(|f| surface.area_m2(f) * surface.source(f).plane.steepness())
            .sum();
        let rim_m = 150.0;
        let bound = rounding_m * (facts.area_m2 + 2.0 * slope_area + 2.0 * rim_m * facts.max_z_m);
        let off = (volume - surface.volume_above_m3(5.0)).abs();
        assert!(off <= bound, "{name}: {off:.3e} of {bound:.3e} m3");
    }
    assert!(without_area > 0 && turned > 0, "{without_area}, {turned}");
}

#[test]
fn near_upright_faces_of_a_yard_survive_in_gltf() {
    // A pit of 40 m by 30 m, 1 m deep, with faces that lean 0.1 mm in a metre.
    let ground = plane_over([-30.0, -30.0], [30.0, 30.0], |_, _| 10.0);
    let mut yard = ground.clone();
    let corners = ring(&[[-20.0, -15.0], [20.0, -15.0], [20.0, 15.0], [-20.0, 15.0]]);
    let sides = Sides {
        rule: Rule::Lower,
        run_per_rise: 1.0e-4,
        limit_z_m: 11.0,
        corners: Corners::Mitre,
        chord_m: 0.1,
    };
    let patch = floor_with_sides(&corners, 9.0, 1, &sides, &mut |_| 2);
    yard.compose(&patch, Rule::Lower).unwrap();
    let parcel = parcel(vec![leaving("pit", &yard)], LengthUnit::Metre, FAR);
    let mut bytes = Vec::new();
    write_glb(&parcel, &mut bytes).unwrap();
    let seen = read_gltf(&bytes);
    assert_eq!(seen.extras["facets_left_out_without_area"], 0);
    assert_eq!(seen.extras["facets_turned_by_rounding"], 0);
    // The faces are there with their whole area: a metre high all round, 140 m.
    let area: f64 = seen
        .triangles
        .iter()
        .filter(|(corners, _)| {
            let heights = corners.map(|c| c[2]);
            heights.iter().any(|z| *z < 9.5) && heights.iter().any(|z| *z > 9.5)
        })
        .map(|([a, b, c], _)| {
            let side = |to: &[f64; 3]| [to[0] - a[0], to[1] - a[1], to[2] - a[2]];
            let (u, v) = (side(b), side(c));
            let cross = [
                u[1] * v[2] - u[2] * v[1],
                u[2] * v[0] - u[0] * v[2],
                u[0] * v[1] - u[1] * v[0],
            ];
            cross.iter().map(|x| x * x).sum::<f64>().sqrt() / 2.0
        })
        .sum();
    close("upright area", area, 140.0, 1.0e-5);
}

#[test]
fn geojson_is_read_by_another_reader_and_says_that_it_is_local() {
    let outcome = garden();
    let mut bytes = Vec::new();
    let drawn = report::lines(&outcome);
    write_geojson(outcome.terrain.origin, &drawn, &mut bytes).unwrap();
    let text = String::from_utf8(bytes).unwrap();
    let collection: geojson::FeatureCollection = text
        .parse::<geojson::GeoJson>()
        .unwrap()
        .try_into()
        .unwrap();
    let foreign = collection.foreign_members.unwrap();
    assert!(foreign["name"].as_str().unwrap().contains("not longitude"));
    assert_eq!(foreign["coordinates_are"]["unit"], "m");
    assert_eq!(collection.features.len(), drawn.len());
    let kind = |f: &geojson::Feature| f.property("kind").unwrap().as_str().unwrap().to_owned();
    let mut kinds: Vec<String> = collection.features.iter().map(kind).collect();
    kinds.dedup();
    for wanted in [
        "outline", "part", "daylight", "contour", "section", "keep-off", "line",
    ] {
        assert!(kinds.iter().any(|k| k == wanted), "{wanted}: {kinds:?}");
    }
    // Parts add up to the outline of the ground and what of it is left, in plan.
    let area = |f: &geojson::Feature| -> f64 {
        let value = serde_json::to_value(f.geometry.as_ref().unwrap()).unwrap();
        let rings = value["coordinates"].as_array().unwrap().iter();
        rings
            .flat_map(|area| area.as_array().unwrap())
            .map(|ring| {
                let ring: Vec<Vec<f64>> = serde_json::from_value(ring.clone()).unwrap();
                assert_eq!(ring.first(), ring.last());
                assert!(ring.len() > 3);
                let sides = ring.windows(2);
                sides
                    .map(|s| (s[0][0] * s[1][1] - s[1][0] * s[0][1]) / 2.0)
                    .sum::<f64>()
            })
            .sum()
    };
    let ground = outcome.terrain.surface.facts().unwrap();
    let outline = &collection.features[0];
    close("outline", area(outline), ground.area_m2, 1.0e-9);
    let design = &outcome.design;
    let parts = collection.features.iter().filter(|f| kind(f) == "part");
    let in_parts: f64 = parts.map(area).sum();
    let labelled: f64 = design
        .surface
        .facets()
        .filter(|&f| design.surface.label(f) != 0)
        .map(|f| design.surface.area_m2(f))
        .sum();
    close("parts", in_parts, labelled, 1.0e-9);
    // Contours lie at their level, and every number has its unit in the key.
    for f in &collection.features {
        for (key, value) in f.properties.as_ref().unwrap() {
            assert!(!value.is_number() || key.ends_with("_m"), "{key}");
        }
    }
}

#[test]
fn what_is_too_large_for_the_report_folder_is_said_on_the_page() {
    // 361 by 361 cells, 259,200 facets, rough enough for contours everywhere.
    let mut grid = "ncols 361\nnrows 361\nxllcorner 0\nyllcorner 0\ncellsize 1\n".to_owned();
    let mut random = Random(11);
    for _ in 0..361 {
        let row: Vec<String> = (0..361).map(|_| random.below(9).to_string()).collect();
        grid += &row.join(" ");
        grid.push('\n');
    }
    let job = "[job]\nname = \"Scan\"\nunits = \"m\"\n[[survey]]\nelevations = \"grid.asc\"\n";
    let outcome = run_job(Folder::default().with("grid.asc", &grid), job);
    assert_eq!(outcome.terrain.surface.num_facets(), 259_200);
    let page = report::html(&outcome);
    for words in [
        "ground has 259200 facets, too many for this folder: cutbank ground JOB:ground --export",
        "straight pieces, too many for lines.geojson",
    ] {
        assert!(page.contains(words), "{words}");
    }
    let files = report::files(&outcome);
    let exports: Vec<&str> = files.iter().map(|(name, _)| &**name).collect();
    assert!(!exports.iter().any(|name| name.starts_with("ground.xml")));
    let (_, lines) = files.last().unwrap();
    let text = String::from_utf8(written(lines)).unwrap();
    assert!(text.contains(r#""kind":"outline""#) && !text.contains(r#""kind":"contour""#));
}

#[test]
fn coordinates_of_geojson_are_exact() {
    let place = Place::from(at(0.1, -0.25, 99.125));
    let thing = Drawn::new(
        "line",
        "a",
        Form::Lines(vec![vec![place, Point::new(1, -1).into()]]),
    );
    let mut bytes = Vec::new();
    write_geojson(FAR, &[thing.with("length_m", 1.5)], &mut bytes).unwrap();
    let text = String::from_utf8(bytes).unwrap();
    assert!(text.contains("[[[500000.1,4199999.75,99.125],[500000.000000001,4199999.999999999]]]"));
    assert!(text.contains(r#"{"kind":"line","name":"a","length_m":1.5}"#));
}

#[test]
fn hostile_names_are_only_names() {
    let ground = plane_over([0.0, 0.0], [10.0, 10.0], |x, _| x / 10.0);
    let name = "]]><!-- \"&\u{1}\u{fffe} '</Surface>\\u0001";
    let leaving = Leaving {
        labels: vec![Named {
            feature: Some(name.to_owned()),
            part: "=1+1,\n\"".to_owned(),
            look: Look::Dug,
        }],
        ..leaving(name, &ground)
    };
    let parcel = parcel(vec![leaving], LengthUnit::Metre, FAR);
    let text = landxml(&parcel);
    let document = roxmltree::Document::parse(&text).unwrap();
    let mut found = document.descendants();
    let surface = found.find(|n| n.tag_name().name() == "Surface").unwrap();
    assert_eq!(
        surface.attribute("name"),
        Some("]]><!-- \"&   '</Surface>\\u0001")
    );
    for format in [Format::Glb, Format::Gltf, Format::GeoJson, Format::Csv] {
        for (_, content) in files(&parcel, format, "a.csv") {
            let bytes = written(&content);
            match format {
                Format::Glb | Format::Gltf => {
                    assert_eq!(read_gltf(&bytes).triangles.len(), 2);
                }
                Format::GeoJson => {
                    let _: geojson::GeoJson = String::from_utf8(bytes).unwrap().parse().unwrap();
                }
                _ => assert_eq!(csv::Reader::from_reader(&*bytes).records().count() % 2, 0),
            }
        }
    }
}

#[test]
fn what_cannot_be_written_is_an_error_and_no_panic() {
    /// Takes so many bytes and then no more.
    struct Full(usize);
    impl std::io::Write for Full {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            if bytes.len() > self.0 {
                return Err(std::io::ErrorKind::StorageFull.into());
            }
            self.0 -= bytes.len();
            Ok(bytes.len())
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }
    let yard = composed(1);
    let parcel = parcel(vec![leaving("yard", &yard)], LengthUnit::Foot, FAR);
    for format in [
        Format::LandXml,
        Format::Glb,
        Format::Gltf,
        Format::GeoJson,
        Format::Csv,
    ] {
        for (name, content) in files(&parcel, format, "yard.csv") {
            let whole = written(&content).len();
            for room in [0, 1, 100, whole / 2, whole - 1] {
                let said = content(&mut Full(room)).unwrap_err();
                assert_eq!(said.kind(), std::io::ErrorKind::StorageFull, "{name}");
            }
            content(&mut Full(whole)).unwrap();
        }
    }
    // LandXML holds no surface without facets.
    let none = Surface::default();
    let empty = Parcel {
        surfaces: vec![leaving("none", &none)],
        ..parcel.clone()
    };
    let said = write_landxml(&empty, &mut Vec::new()).unwrap_err();
    assert!(said.to_string().contains("none has no facet"), "{said}");
}
