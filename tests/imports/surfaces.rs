//! Surfaces and points of LandXML.

use std::path::Path;

use cutbank::diag::{Diagnostic, Failure};
use cutbank::export::write_landxml;
use cutbank::files::OneThread;
use cutbank::geom::{Point, orient};
use cutbank::import::{Content, Import, UnitFrom, read};
use cutbank::job::ImportSpec;
use cutbank::report;
use cutbank::surface::{cut_fill, cut_fill_within};
use cutbank::units::LengthUnit;
use serde_json::Value;

use super::common::{Folder, close, inside, near, plane_over, ring, run_job};
use super::{
    SAME, adds_up, all, faces, good, hold_measures, import, left_out, refusal, says, spec,
};

const METRIC: &str = "<Units><Metric linearUnit=\"meter\" areaUnit=\"squareMeter\"/></Units>";

/// A file of these elements.
fn document(inside: &str) -> String {
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<LandXML \
         xmlns=\"http://www.landxml.org/schema/LandXML-1.2\" version=\"1.2\" date=\"2024-05-01\" \
         time=\"08:00:00\">\n{inside}\n</LandXML>\n"
    )
}

/// A surface of these points (id, northing, easting, height) and faces.
fn surface(name: &str, points: &str, faces: &str) -> String {
    let points: String = points
        .split(';')
        .map(|p| p.trim().split_once(' ').unwrap())
        .map(|(id, p)| format!("<P id=\"{id}\">{p}</P>\n"))
        .collect();
    format!(
        "<Surfaces><Surface name=\"{name}\"><Definition surfType=\"TIN\">\n<Pnts>\n{points}</Pnts>\n\
         <Faces>{faces}</Faces></Definition></Surface></Surfaces>"
    )
}

fn read_text(text: &str) -> (Import, String) {
    let (import, said) = good(&spec("s.xml"), &Folder::default().with("s.xml", text));
    (import, all(&said))
}

fn try_text(text: &str) -> Result<(Import, Vec<Diagnostic>), Failure> {
    import("s.xml", text.as_bytes())
}

fn refused_text(text: &str) -> String {
    refusal("s.xml", try_text(text))
}

/// A square of 10 m with a corner up 3 m: 1 south-west, 2 south-east, 3 north-east, 4 north-west.
const SQUARE: &str = "1 200 100 0; 2 200 110 0; 3 210 110 3; 4 210 100 0";

#[test]
fn a_yard_is_as_computed_elsewhere() {
    let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures");
    let text = std::fs::read_to_string(fixtures.join("level_book_yard/expected.json")).unwrap();
    let expected: Value = serde_json::from_str(&text).unwrap();
    let folder = Folder {
        directory: Some(fixtures.join("yard_metric")),
        ..Folder::default()
    };
    let (yard, said) = good(&spec("yard.landxml.xml"), &folder);
    assert!(said.is_empty(), "{}", all(&said));
    let found = yard.facts.plan_unit;
    assert_eq!(
        (found.unit, found.from),
        (LengthUnit::Metre, UnitFrom::File)
    );
    says(&yard.facts.format, &["LandXML 1.2", "\"yard\""]);
    assert_eq!(
        (yard.facts.read, yard.facts.kept, yard.facts.counted),
        (85, 85, "faces")
    );
    // The yard lies at 500000 E, 4200000 N; its west and south ends are -1.7 and -1.9 m off that.
    assert_eq!((yard.origin.y_m, yard.origin.x_m), (4_199_998, 499_998));
    let (_, ground) = faces(&yard);
    let number = |v: &Value| v.as_f64().unwrap();
    hold_measures(&ground, &expected["measures"], 95.0);
    // The planes of the reference count from the yard's own zero.
    let dx = (500_000 - yard.origin.x_m) as f64;
    let dy = (4_200_000 - yard.origin.y_m) as f64;
    for (name, key) in [("level", "level_pad"), ("inclined", "inclined_plane")] {
        let p = &expected[key]["plane_z"];
        let [a, b, c] = ["a", "b", "c"].map(|k| number(&p[k]));
        let plane = plane_over([-10.0, -10.0], [100.0, 100.0], |x, y| {
            a * (x - dx) + b * (y - dy) + c
        });
        let by = cut_fill(&ground, &plane, &OneThread).total;
        close(name, by.cut_m3, number(&expected[key]["cut"]), SAME);
        close(name, by.fill_m3, number(&expected[key]["fill"]), SAME);
    }
    let corners: Vec<[f64; 2]> = expected["pad"]["pad_ring"]
        .as_array()
        .unwrap()
        .iter()
        .map(|c| [number(&c[0]) + dx, number(&c[1]) + dy])
        .collect();
    let p = &expected["pad"]["plane_z"];
    let plane = plane_over([-10.0, -10.0], [100.0, 100.0], |_, y| {
        number(&p["b"]) * (y - dy) + number(&p["c"])
    });
    let by = cut_fill_within(&ground, &plane, &inside(&ring(&corners)), &OneThread).total;
    close("pad", by.cut_m3, number(&expected["pad"]["cut"]), SAME);
    close("pad", by.fill_m3, number(&expected["pad"]["fill"]), SAME);
}

#[test]
fn northing_comes_before_easting_and_ids_have_gaps() {
    let text = document(
        &(METRIC.to_owned()
            + &surface(
                "a",
                "70 210 110 3; 5 200 100 0; 999999999999 210 100 0; 6 200 110 0",
                // Clockwise, counter-clockwise, and spread over lines.
                "<F>5 70 6</F><F n=\"0 1 0\">\n 5\n 70 999999999999 </F>",
            )),
    );
    let (import, _) = read_text(&text);
    let (mesh, ground) = faces(&import);
    assert_eq!((import.origin.x_m, import.origin.y_m), (100, 200));
    assert_eq!(
        mesh.vertices[0].p,
        Point::new(10_000_000_000, 10_000_000_000)
    );
    for t in &mesh.triangles {
        let [a, b, c] = t.map(|v| mesh.vertices[v as usize].p);
        assert!(orient(a, b, c) > 0);
    }
    // Two prisms with one corner up 3 m over half of 100 m2 each.
    near(
        "volume",
        ground.volume_above_m3(0.0),
        2.0 * 50.0 * 3.0 / 3.0,
        1e-9,
    );
}

#[test]
fn every_unit_is_the_length_it_is() {
    // NIST: 12 in = 1 ft = 0.3048 m, US survey foot 1200/3937 m, mile 5280 ft.
    for (system, unit, metres) in [
        ("Metric", "millimeter", 0.001),
        ("Metric", "centimeter", 0.01),
        ("Metric", "meter", 1.0),
        ("Metric", "kilometer", 1000.0),
        ("Imperial", "foot", 0.3048),
        ("Imperial", "USSurveyFoot", 1200.0 / 3937.0),
        ("Imperial", "inch", 0.0254),
        ("Imperial", "mile", 1609.344),
    ] {
        let units =
            format!("<Units><{system} linearUnit=\"{unit}\" volumeUnit=\"cubicYard\"/></Units>");
        let body = surface("a", SQUARE, "<F>1 2 3</F><F>1 3 4</F>");
        // Units may stand behind what is in them.
        for text in [
            document(&(units.clone() + &body)),
            document(&(body.clone() + &units)),
        ] {
            let (import, _) = read_text(&text);
            let (mesh, ground) = faces(&import);
            let east = mesh.vertices[1].p.x_m() - mesh.vertices[0].p.x_m();
            near(unit, east, 10.0 * metres, 0.6e-9);
            near(unit, mesh.vertices[2].z, 3.0 * metres, 1e-12 * metres);
            near(
                unit,
                mesh.vertices[0].p.x_m() + import.origin.x_m as f64,
                100.0 * metres,
                1e-6 * metres,
            );
            assert_eq!(ground.num_facets(), 2);
            assert_eq!(import.facts.plan_unit.from, UnitFrom::File);
            assert_eq!(import.facts.plan_unit.unit.is_foot(), system == "Imperial");
        }
    }
    // Heights of their own; plain feet beside a kind of foot are that kind.
    for (linear, heights, metres) in [
        ("meter", "feet", 0.3048),
        ("USSurveyFoot", "feet", 1200.0 / 3937.0),
        ("foot", "meter", 1.0),
    ] {
        let units =
            format!("<Units><Metric linearUnit=\"{linear}\" elevationUnit=\"{heights}\"/></Units>");
        let (import, _) = read_text(&document(&(units + &surface("a", SQUARE, "<F>1 2 3</F>"))));
        near(heights, faces(&import).0.vertices[2].z, 3.0 * metres, 1e-12);
    }
    let silent = document(&surface("a", SQUARE, "<F>1 2 3</F>"));
    let (import, said) = read_text(&silent);
    assert_eq!(import.facts.plan_unit.from, UnitFrom::TakenForGranted);
    says(&said, &["does not say in which unit"]);
    // What is typed wins, and it is told.
    let typed = ImportSpec {
        units: Some(LengthUnit::Foot),
        ..spec("s.xml")
    };
    let text = document(&(METRIC.to_owned() + &surface("a", SQUARE, "<F>1 2 3</F>")));
    let (import, said) = good(&typed, &Folder::default().with("s.xml", &text));
    near(
        "feet",
        faces(&import).1.facts().unwrap().area_m2,
        50.0 * 0.3048 * 0.3048,
        1e-9,
    );
    assert_eq!(import.facts.height_unit.overruled, Some(LengthUnit::Metre));
    says(&all(&said), &["the file states m, and is read in ft"]);
    let strange = text.replace("meter", "cubit");
    says(
        &refused_text(&strange),
        &["linearUnit", "cubit", "line 3", "--units"],
    );
    let (import, _) = good(&typed, &Folder::default().with("s.xml", &strange));
    assert_eq!(import.facts.plan_unit.from, UnitFrom::Typed);
}

#[test]
fn what_is_no_face_is_left_out_and_counted() {
    let (import, said) = read_text(&document(
        &(METRIC.to_owned()
            + &surface(
                "a",
                // 5 lies on the middle of 1-2, 6 above it at the same height, 7 is used by none,
                // 8 is point 3 once more.
                &format!("{SQUARE}; 5 200 105 0; 6 200 105 0; 7 205 105 9; 8 210 110 3"),
                "<F>1 2 3</F><F i=\"1\">1 2 99</F><F>1 2 5</F><F>5 6 1</F><F>2 2 3</F><F i=\"0\">1 8 4</F>",
            )),
    ));
    assert_eq!((import.facts.read, import.facts.kept), (6, 2));
    assert_eq!(left_out(&import, "invisible"), 1);
    assert_eq!(left_out(&import, "area"), 3);
    let (mesh, ground) = faces(&import);
    assert_eq!(mesh.vertices.len(), 4);
    near("area", ground.facts().unwrap().area_m2, 100.0, 1e-9);
    says(&said, &["4 points belong to no face"]);
    // Several elements of faces are one surface.
    let two = document(
        &(METRIC.to_owned() + &surface("a", SQUARE, "<F>1 2 3</F></Faces><Faces><F>1 3 4</F>")),
    );
    assert_eq!(read_text(&two).0.facts.kept, 2);
}

#[test]
fn faces_that_make_no_ground_are_refused_with_their_place() {
    let with =
        |points: &str, faces: &str| document(&(METRIC.to_owned() + &surface("a", points, faces)));
    for (points, faces, words) in [
        (
            SQUARE,
            "<F>1 2 3</F>\n<F>1 3 77</F>",
            &["line 11", "face 2", "point 77"][..],
        ),
        (SQUARE, "<F>1 2</F>", &["line 10", "face 1 has 2 corners"]),
        (SQUARE, "<F>1 2 3 4 1</F>", &["face 1 has 5 corners"]),
        (SQUARE, "<F>1 2 x</F>", &["\"x\"", "whole number from 1"]),
        (SQUARE, "<F>1 2 0</F>", &["\"0\"", "whole number from 1"]),
        (
            "0 1 1 1; 2 1 2 3; 3 2 2 2",
            "<F>2 3 0</F>",
            &["line 5", "whole number from 1"],
        ),
        (
            "1 1 1 1; 1 1 2 3; 3 2 2 2",
            "<F>1 2 3</F>",
            &["line 5", "line 6", "id 1"],
        ),
        (
            "1 1 1 1; 2 1 2; 3 2 2 2",
            "<F>1 2 3</F>",
            &["line 9", "line 6", "point 2, which has no height"],
        ),
        (
            "1 1 1 1; 2 1 2 3 4; 3 2 2 2",
            "<F>1 2 3</F>",
            &["line 6", "northing, easting and height"],
        ),
        (
            "1 1 1 1; 2 1 1e300 3; 3 2 2 2",
            "<F>1 2 3</F>",
            &["line 6", "easting", "1e300"],
        ),
        (
            "1 1 1 1; 2 1 2 nan; 3 2 2 2",
            "<F>1 2 3</F>",
            &["line 6", "height", "nan"],
        ),
        (
            "1 1 1 1; 2 1,5 2 3; 3 2 2 2",
            "<F>1 2 3</F>",
            &["line 6", "northing", "decimal point"],
        ),
        // Over each other: on the same side of an edge, three at an edge, one inside another.
        (
            SQUARE,
            "<F>1 2 3</F>\n<F>1 2 4</F>",
            &["faces 1 and 2 lie over each other", "line 11"],
        ),
        (
            SQUARE,
            "<F>1 2 3</F>\n<F>1 3 4</F>\n<F>4 1 3</F>",
            &["faces 2 and 3 lie over each other"],
        ),
        (
            "1 0 0 0; 2 0 90 0; 3 90 0 0; 4 10 10 5; 5 10 20 5; 6 20 10 5",
            "<F>1 2 3</F><F>4 5 6</F>",
            &["faces 1 and 2 lie over each other"],
        ),
        // An upright wall: two heights at one place.
        (
            "1 0 0 0; 2 0 9 0; 3 9 0 0; 4 0 0 2; 5 0 9 2; 6 -9 0 2",
            "<F>1 2 3</F><F>4 5 6</F>",
            &["point 1 and point 4", "heights 0 m and 2 m", "millimetre"],
        ),
        (SQUARE, "<F i=\"1\">1 2 3</F>", &["no visible face"]),
        (SQUARE, "", &["no visible face"]),
    ] {
        says(&refused_text(&with(points, faces)), words);
    }
    // A point without height that no face uses does not matter.
    let (import, _) = read_text(&with(&format!("{SQUARE}; 9 205 105"), "<F>1 2 3</F>"));
    assert_eq!(import.facts.kept, 1);
}

#[test]
fn grids_have_faces_of_four_corners() {
    let grid = |points: &str, faces: &str| {
        let text = surface("a", points, faces).replace("\"TIN\"", "\"grid\"");
        document(&(METRIC.to_owned() + &text))
    };
    for face in ["1 2 3 4", "4 3 2 1", "2 3 4 1"] {
        let (import, said) = read_text(&grid(SQUARE, &format!("<F>{face}</F>")));
        assert_eq!((import.facts.read, import.facts.kept), (1, 1));
        let (_, ground) = faces(&import);
        // 3 m at one corner of 100 m2: over the diagonal through it A x 2 z / 6, else A z / 6;
        // the difference is the volume that the note gives.
        let through = if face == "1 2 3 4" { 2.0 } else { 1.0 };
        near(
            "volume",
            ground.volume_above_m3(0.0),
            100.0 * through * 3.0 / 6.0,
            1e-9,
        );
        says(&said, &["1 faces of four corners", "by 50.0 m3 at most"]);
    }
    // An arrow has one way to be parted; three corners on a line leave one triangle.
    let arrow = "1 0 0 0; 2 10 10 0; 3 0 20 0; 4 5 10 0";
    let (import, _) = read_text(&grid(arrow, "<F>1 2 3 4</F>"));
    near(
        "arrow",
        faces(&import).1.facts().unwrap().area_m2,
        50.0,
        1e-9,
    );
    let line = "1 0 0 0; 2 0 5 0; 3 0 10 0; 4 10 5 0";
    let (import, _) = read_text(&grid(line, "<F>1 2 3 4</F>"));
    near(
        "three on a line",
        faces(&import).1.facts().unwrap().area_m2,
        50.0,
        1e-9,
    );
    says(
        &refused_text(&grid(SQUARE, "<F>1 3 2 4</F>")),
        &["sides of face 1 cross"],
    );
}

#[test]
fn one_of_several_surfaces_is_asked_for_by_name() {
    let one = |name: &str, faces: &str| surface(name, SQUARE, faces);
    let text = document(
        &(METRIC.to_owned()
            + &one("lawn", "<F>1 2 3</F>")
            + &one("B &amp; C", "<F>1 2 3</F><F>1 3 4</F>")),
    );
    says(
        &refused_text(&text),
        &["2 surfaces", "s.xml#lawn", "\"B & C\""],
    );
    let folder = Folder::default().with("s.xml", &text);
    let asked = |name: &str| ImportSpec {
        surface: Some(name.into()),
        ..spec("s.xml")
    };
    let (import, _) = good(&asked("B & C"), &folder);
    assert_eq!((import.facts.read, &*import.source), (2, "s.xml#B & C"));
    assert_eq!(good(&asked("lawn"), &folder).0.facts.read, 1);
    says(
        &refusal("s.xml", read(&asked("lawm"), &folder)),
        &["no surface \"lawm\"", "is \"lawn\" meant?"],
    );
    let twins =
        document(&(METRIC.to_owned() + &one("a", "<F>1 2 3</F>") + &one("a", "<F>1 2 3</F>")));
    let folder = Folder::default().with("s.xml", &twins);
    says(
        &refusal("s.xml", read(&asked("a"), &folder)),
        &["several surfaces with the name \"a\""],
    );
    // One without anything is none.
    let empty = document(
        &(METRIC.to_owned()
            + "<Surfaces><Surface name=\"x\"/></Surfaces>"
            + &one("a", "<F>1 2 3</F>")),
    );
    assert_eq!(read_text(&empty).0.facts.kept, 1);
    let state = text.replace("name=\"lawn\"", "name=\"lawn\" state=\"proposed\"");
    let folder = Folder::default().with("s.xml", &state);
    says(
        &all(&good(&asked("lawn"), &folder).1),
        &["marked as proposed"],
    );
}

#[test]
fn breaklines_come_by_bits_and_from_the_source() {
    // Bit 1 is the edge from the first to the second corner, 2 the next, 4 the last.
    let by_bits = document(
        &(METRIC.to_owned() + &surface("a", SQUARE, "<F b=\"5\">3 2 1</F><F b=\"4\">1 3 4</F>")),
    );
    let (import, _) = read_text(&by_bits);
    // Edges 3-2, 1-3 and 4-1: vertices are numbered as the points, from 0.
    assert_eq!(faces(&import).0.breaklines, [vec![1, 2, 0, 3]]);
    let source = "<SourceData><Boundaries><Boundary bndType=\"outer\" edgeTrim=\"true\"><PntList3D>0 0 0</PntList3D></Boundary></Boundaries>\
        <Breaklines><Breakline brkType=\"standard\"><PntList3D>200 100 0 210 110 3 210 100 0</PntList3D></Breakline>\
        <Breakline><PntList2D>200 110 210 100</PntList2D></Breakline></Breaklines>\
        <DataPoints><PntList3D>1 2 3</PntList3D></DataPoints></SourceData><Definition";
    let text = document(
        &(METRIC.to_owned()
            + &surface("a", SQUARE, "<F>1 2 3</F><F>1 3 4</F>").replace("<Definition", source)),
    );
    let (import, said) = read_text(&text);
    assert_eq!(faces(&import).0.breaklines, [vec![0, 2, 3]]);
    says(
        &said,
        &[
            "1 links of its breaklines",
            "boundaries",
            "1 points that surface \"a\" was made from",
        ],
    );
}

#[test]
fn points_without_faces_are_points() {
    let list = "<Surfaces><Surface name=\"a\"><SourceData><DataPoints><PntList3D>\n0 0 1 0 10 2\n10 0 3 0 10 2</PntList3D></DataPoints>\
        <Breaklines><Breakline><PntList3D>10 10 4 10 0 3</PntList3D></Breakline></Breaklines><PointFiles><PointFile fileName=\"/etc/passwd\"/></PointFiles></SourceData></Surface></Surfaces>";
    let (import, said) = read_text(&document(&(METRIC.to_owned() + list)));
    let Content::Points(points) = &import.content else {
        panic!()
    };
    assert_eq!(points.len(), 4);
    // Northing first: the second lies 10 m east.
    assert_eq!(points[1].p, Point::new(10_000_000_000, 0));
    assert_eq!(
        (
            import.facts.read,
            import.facts.kept,
            left_out(&import, "twice")
        ),
        (6, 4, 2)
    );
    says(
        &said,
        &[
            "laid over its points anew",
            "lines between are not followed",
            "files of points",
        ],
    );
    let loose = "<CgPoints><CgPoint name=\"1\">0 0 1</CgPoint><CgPoint>0 10 2</CgPoint><CgPoint name=\"flat\">5 5</CgPoint>\
        <CgPoint pntRef=\"1\"/><CgPoint>10 0 3</CgPoint></CgPoints>";
    let (import, _) = read_text(&document(&(METRIC.to_owned() + loose)));
    assert_eq!(
        (
            import.facts.read,
            import.facts.kept,
            left_out(&import, "without a height")
        ),
        (4, 3, 1)
    );
    assert_eq!(import.facts.counted, "points");
    let clash = loose.replace("10 0 3", "0 10 5");
    says(
        &refused_text(&document(&(METRIC.to_owned() + &clash))),
        &["one place", "2 m and 5 m", "line 3"],
    );
    says(&refused_text(&document(METRIC)), &["neither a surface"]);
    says(
        &refused_text(&document(
            &(METRIC.to_owned() + &list.replace("\n10 0 3 0 10 2", " 10 0")),
        )),
        &["ends in the middle of point 3"],
    );
    let few = "<CgPoints><CgPoint>0 0 1</CgPoint></CgPoints>";
    says(&refused_text(&document(few)), &["1 points with a height"]);
    // Beside a surface, loose points are told.
    let both = document(&(METRIC.to_owned() + loose + &surface("a", SQUARE, "<F>1 2 3</F>")));
    says(&read_text(&both).1, &["4 points beside the surface"]);
}

#[test]
fn xml_that_would_harm_is_refused() {
    let good = document(&(METRIC.to_owned() + &surface("a", SQUARE, "<F>1 2 3</F>")));
    read_text(&good);
    let bomb = "<!DOCTYPE x [<!ENTITY a \"aaaaaaaaaa\"><!ENTITY b \"&a;&a;&a;&a;&a;&a;&a;&a;\"><!ENTITY c \"&b;&b;&b;&b;&b;&b;\">]>\n<LandXML";
    says(
        &refused_text(
            &good
                .replacen("<LandXML", bomb, 1)
                .replace("<F>1", "<F>&c;1"),
        ),
        &["line 2", "document type definition"],
    );
    let outside = "<!DOCTYPE x SYSTEM \"file:///etc/passwd\">\n<LandXML";
    says(
        &refused_text(&good.replacen("<LandXML", outside, 1)),
        &["document type definition"],
    );
    says(
        &refused_text(&good.replace("<F>1", "<F>&c;1")),
        &["line 10", "no entity of XML"],
    );
    says(
        &refused_text(&good.replace("name=\"a\"", "name=\"&c;\"")),
        &["XML is broken"],
    );
    // References that XML itself has are what they stand for.
    read_text(&good.replace("<F>1", "<F>&#49;"));
    read_text(&good.replace("<F>1 2 3", "<F><![CDATA[1 2]]><!-- a -> b --> 3"));
    let deep = good.replace(
        "<Surfaces>",
        &("<Feature>".repeat(100_000) + &"</Feature>".repeat(100_000) + "<Surfaces>"),
    );
    says(&refused_text(&deep), &["deeper than 64"]);
    let long = good.replace(
        "<Surfaces>",
        &format!("<Feature x=\"{}\"/><Surfaces>", "y".repeat(1 << 17)),
    );
    says(&refused_text(&long), &["a tag is longer"]);
    says(&refused_text(&good[..good.len() / 2]), &["line"]);
    says(
        &refused_text(&good.replace("</Pnts>", "</Points>")),
        &["XML is broken", "Points"],
    );
    says(&refused_text("hello"), &["no XML"]);
    says(&refused_text(""), &["empty"]);
    says(&refused_text("<gml/>"), &["no LandXML", "gml"]);
    for encoding in ["ISO-8859-1", "UTF-16"] {
        says(
            &refused_text(&good.replace("UTF-8", encoding)),
            &["another encoding", encoding],
        );
    }
    let wide: Vec<u8> = good.encode_utf16().flat_map(u16::to_le_bytes).collect();
    says(&refusal("s.xml", import("s.xml", &wide)), &["UTF-16"]);
    let mut latin = good.replace("name=\"a\"", "name=\"B?\"").into_bytes();
    let at = latin.iter().position(|&b| b == b'?').unwrap();
    let at = at + 1 + latin[at + 1..].windows(2).position(|w| w == b"B?").unwrap() + 1;
    latin[at] = 0xf6;
    says(&refusal("s.xml", import("s.xml", &latin)), &["not UTF-8"]);
    // A prefix, another version and strange elements are no harm.
    let prefixed = good
        .replace("</", "</l:")
        .replace("<Surf", "<l:Surf")
        .replace("<Def", "<l:Def")
        .replace("<P", "<l:P")
        .replace("<F", "<l:F")
        .replace("<Units", "<l:Units")
        .replace("<LandXML", "<l:LandXML")
        .replace("xmlns=", "xmlns:l=")
        .replace("version=\"1.2\"", "version=\"1.0\"")
        .replace("<Metric", "<l:Metric");
    let (import, said) = read_text(&prefixed);
    assert_eq!(import.facts.kept, 1);
    says(&said, &["LandXML 1.0; it is read as 1.2"]);
    let (bom, _) = read_text(&format!("\u{feff}{good}"));
    adds_up(&bom);
}

/// What leaves the program comes back: every facet to the last bit, every breakline.
#[test]
fn surfaces_that_left_come_back() {
    let levels = include_str!("../../fixtures/garden/levels.csv");
    let outcome = run_job(
        Folder::default().with("levels.csv", levels),
        include_str!("../../fixtures/garden/job.toml"),
    );
    let mut parcel = report::surfaces(&outcome);
    for (unit, within_m) in [(LengthUnit::Metre, 0.0), (LengthUnit::Foot, 1.0e-9)] {
        parcel.unit = unit;
        let mut bytes = Vec::new();
        write_landxml(&parcel, &mut bytes).unwrap();
        let folder = Folder::default().with_bytes("s.xml", &bytes);
        assert_eq!(parcel.surfaces.len(), 4);
        says(
            &refusal("s.xml", read(&spec("s.xml"), &folder)),
            &["4 surfaces", "\"dug\""],
        );
        for leaving in &parcel.surfaces {
            let asked = ImportSpec {
                surface: Some(leaving.name.clone()),
                ..spec("s.xml")
            };
            let (import, said) = good(&asked, &folder);
            let (mesh, back) = faces(&import);
            assert_eq!(import.facts.plan_unit.unit, unit);
            let was = leaving.surface;
            assert_eq!(
                import.facts.kept as usize,
                was.num_facets(),
                "{}",
                leaving.name
            );
            assert!(
                !all(&said).contains("links of its breaklines"),
                "{}",
                all(&said)
            );
            let shift = parcel.origin.shift_to(import.origin).unwrap();
            for (f, g) in was.facets().zip(back.facets()) {
                for (one, other) in was.corners(f).iter().zip(back.corners(g)) {
                    let moved = Point::new(one.p.x + shift.x, one.p.y + shift.y);
                    assert_eq!(moved, other.p);
                    assert!((one.z - other.z).abs() <= within_m);
                }
            }
            let is_ground = leaving.name == "ground";
            assert_eq!(
                mesh.breaklines.is_empty(),
                is_ground && leaving.breaklines.is_empty()
            );
        }
    }
}
