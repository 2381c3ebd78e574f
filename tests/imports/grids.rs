//! Elevation grids: ASCII and GeoTIFF.

use std::path::{Path, PathBuf};

use cutbank::files::OneThread;
use cutbank::geom::{Point, orient};
use cutbank::import::{Import, UnitFrom, read};
use cutbank::job::ImportSpec;
use cutbank::surface::{Surface, cut_fill, cut_fill_within};
use cutbank::units::LengthUnit;
use serde_json::Value;

use super::common::{Folder, close, inside, near, plane_over, reference_data, ring};
use super::{SAME, all, faces, good, hold_measures, import, left_out, refusal, says, spec};

fn json(path: &Path) -> Value {
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

/// The same surface, every diagonal turned: in a grid each two faces of a square follow each
/// other, and the second corner of the first is the one that the second lacks.
fn turned(import: &Import) -> Surface {
    let (faces, _) = faces(import);
    let triangles: Vec<[u32; 3]> = faces
        .triangles
        .chunks_exact(2)
        .flat_map(|two| {
            let ([sw, se, ne], [_, _, nw]) = (two[0], two[1]);
            [[sw, se, nw], [se, ne, nw]]
        })
        .collect();
    Surface::from_triangles(faces.vertices.clone(), &triangles, 0).unwrap()
}

/// Holds a surface of the hill against results for one diagonal, found by clipping and by solids.
fn hold(surface: &Surface, expected: &Value) {
    hold_measures(surface, &expected["measures"], 90.0);
    let level = plane_over([-1.0, -1.0], [861.0, 601.0], |_, _| 130.0);
    let by_level = cut_fill(surface, &level, &OneThread).total;
    close(
        "cut",
        by_level.cut_m3,
        number(&expected["level_pad"]["cut"]),
        SAME,
    );
    close(
        "fill",
        by_level.fill_m3,
        number(&expected["level_pad"]["fill"]),
        SAME,
    );
    let corners: Vec<[f64; 2]> = expected["pad"]["pad_ring"]
        .as_array()
        .unwrap()
        .iter()
        .map(|c| [number(&c[0]), number(&c[1])])
        .collect();
    let pad = plane_over([-1.0, -1.0], [861.0, 601.0], |_, _| 165.0);
    let on_pad = cut_fill_within(surface, &pad, &inside(&ring(&corners)), &OneThread).total;
    close(
        "pad cut",
        on_pad.cut_m3,
        number(&expected["pad"]["cut"]),
        SAME,
    );
    close(
        "pad fill",
        on_pad.fill_m3,
        number(&expected["pad"]["fill"]),
        SAME,
    );
}

#[test]
fn a_hill_from_three_kinds_of_file_is_one_surface_and_as_computed_elsewhere() {
    let Some(data) = reference_data("a_hill_from_three_kinds_of_file") else {
        return;
    };
    let expected = json(&data.join("expected/volcano_grid.json"));
    let folder = Folder {
        directory: Some(data),
        ..Folder::default()
    };
    let (hill, said) = good(&spec("volcano.asc"), &folder);
    let (mesh, surface) = faces(&hill);
    assert_eq!((hill.facts.read, hill.facts.kept), (5307, 5307));
    assert_eq!(mesh.triangles.len(), 10_320);
    assert_eq!((hill.origin.x_m, hill.origin.y_m), (0, 0));
    hold(&surface, &expected["diagonal_sw_ne"]);
    hold(&turned(&hill), &expected["diagonal_nw_se"]);
    // The note tells what the choice of diagonals does: 100 m3 between the two fixed ones, and
    // the bound over all choices as the reference computed it.
    let bound =
        number(&expected["diagonal_sw_ne"]["triangulation"]["bound_on_volume_change_by_ties"]);
    says(
        &all(&said),
        &[
            "south-west to north-east",
            "100.0 m3 less",
            &format!("{bound:.1} m3"),
        ],
    );
    says(
        &all(&said),
        &["does not say in which unit plan and heights are"],
    );

    let (tiff, _) = good(&spec("volcano.tif"), &folder);
    assert_eq!(tiff.origin, hill.origin);
    let (same, _) = faces(&tiff);
    assert_eq!(same.vertices, mesh.vertices);
    assert_eq!(same.triangles, mesh.triangles);

    // What other libraries read of that file, as sums over rows from the north and columns.
    let sums = json(&grids().join("volcano_tif.json"));
    assert_eq!(number(&sums["known"]) as usize, same.vertices.len());
    let columns = number(&sums["columns"]) as usize;
    let sum = |weight: &dyn Fn(usize, usize) -> usize| -> f64 {
        let weighted = same.vertices.iter().enumerate();
        weighted
            .map(|(k, v)| v.z * weight(k / columns, k % columns) as f64)
            .sum()
    };
    assert_eq!(sum(&|_, _| 1), number(&sums["sum"]));
    assert_eq!(sum(&|_, c| c), number(&sums["sum_by_column"]));
    assert_eq!(sum(&|r, _| r), number(&sums["sum_by_row"]));
    assert_eq!(sum(&|r, c| r * c), number(&sums["sum_by_both"]));

    let (holed, _) = good(&spec("volcano_corner_nodata_crlf.asc"), &folder);
    assert_eq!(left_out(&holed, "NODATA"), 24);
    assert_eq!(holed.facts.kept, 5307 - 24);
    let (mesh_with_hole, surface) = faces(&holed);
    assert_eq!(holed.origin, hill.origin);
    // 4 x 6 cells without a height are corners of 5 x 7 squares; the four at the corners of the
    // hole keep a triangle each.
    assert_eq!(mesh_with_hole.triangles.len(), 10_320 - 2 * 35 + 4);
    close(
        "area",
        surface.facts().unwrap().area_m2,
        516_000.0 - 33.0 * 100.0,
        SAME,
    );
    let at = |p: Point| surface.z_at(p);
    for v in &mesh.vertices {
        assert!(at(v.p).is_none_or(|z| z.to_bits() == v.z.to_bits()));
    }
}

fn grids() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/grids")
}

/// Every made GeoTIFF against what two general-purpose libraries read of it: heights bit by bit,
/// places to the nanometre.
#[test]
fn tiffs_are_read_as_other_libraries_read_them() {
    let expected = json(&grids().join("expected.json"));
    let folder = Folder {
        directory: Some(grids()),
        ..Folder::default()
    };
    for (name, file) in expected["files"].as_object().unwrap() {
        let mut spec = spec(name);
        // Places in the frame of the file, whatever unit it names.
        spec.units = Some(LengthUnit::Metre);
        let (import, _) = good(&spec, &folder);
        let (columns, rows) = (
            file["columns"].as_u64().unwrap() as usize,
            file["rows"].as_u64().unwrap() as usize,
        );
        let index = file["heights"].as_u64().unwrap() as usize;
        let heights = expected["heights"][index].as_array().unwrap();
        let place: Vec<f64> = file["placement"]
            .as_array()
            .unwrap()
            .iter()
            .map(number)
            .collect();
        assert_eq!(heights.len(), columns * rows);
        assert_eq!(import.facts.read as usize, heights.len(), "{name}");
        let unknown = heights.iter().filter(|z| z.is_null()).count() as u64;
        assert_eq!(left_out(&import, "NODATA"), unknown, "{name}");
        let (mesh, surface) = faces(&import);
        let mut vertices = mesh.vertices.iter();
        let mut lonely = 0;
        for (k, z) in heights.iter().enumerate() {
            let Some(z) = z.as_str().map(|z| z.parse::<f64>().unwrap()) else {
                continue;
            };
            let (c, r) = ((k % columns) as f64 + 0.5, (k / columns) as f64 + 0.5);
            // Halves are exact here, and thirty degrees good to a tenth of a micrometre.
            let x = place[0] * c + place[1] * r + place[2] - import.origin.x_m as f64;
            let y = place[3] * c + place[4] * r + place[5] - import.origin.y_m as f64;
            let next = vertices.clone().next();
            let here =
                next.filter(|v| (v.p.x_m() - x).abs() < 1.0e-8 && (v.p.y_m() - y).abs() < 1.0e-8);
            match here {
                Some(v) => {
                    assert_eq!(v.z.to_bits(), z.to_bits(), "{name}, cell {k}");
                    vertices.next();
                }
                None => lonely += 1,
            }
        }
        assert_eq!(vertices.count(), 0, "{name}");
        assert_eq!(left_out(&import, "square"), lonely, "{name}");
        assert!(surface.num_facets() > 0);
    }
}

#[test]
fn tiffs_state_their_units_and_places() {
    let folder = Folder {
        directory: Some(grids()),
        ..Folder::default()
    };
    let (feet, _) = good(&spec("f32_us_feet.tif"), &folder);
    let found = feet.facts.plan_unit;
    assert_eq!(
        (found.unit, found.from),
        (LengthUnit::UsSurveyFoot, UnitFrom::File)
    );
    // Heights are said to be nothing: those of the plan are taken for granted, and it is told.
    let height = feet.facts.height_unit;
    assert_eq!(
        (height.unit, height.from),
        (LengthUnit::UsSurveyFoot, UnitFrom::TakenForGranted)
    );
    // The centre of the first cell, 500000.5 ft east: 3937 US survey feet are 1200 m.
    let (mesh, _) = faces(&feet);
    let east = 500_000.5 * 1200.0 / 3937.0;
    near(
        "east",
        mesh.vertices[0].p.x_m() + feet.origin.x_m as f64,
        east,
        1e-9,
    );

    let mut typed = spec("f32_us_feet.tif");
    typed.units = Some(LengthUnit::Foot);
    let (import, said) = good(&typed, &folder);
    assert_eq!(
        import.facts.plan_unit.overruled,
        Some(LengthUnit::UsSurveyFoot)
    );
    says(&all(&said), &["the file states us-ft", "read in ft"]);

    // The same grid by a corner, by a centre and by a tie in its middle.
    let (corner, _) = good(&spec("f32_none_strips.tif"), &folder);
    for name in ["f32_point.tif", "f32_tied_inside.tif", "f32_utm.tif"] {
        let (other, _) = good(&spec(name), &folder);
        assert_eq!(
            faces(&other).0.vertices,
            faces(&corner).0.vertices,
            "{name}"
        );
    }
    let (point, said) = good(&spec("f32_point.tif"), &folder);
    assert_eq!(point.facts.plan_unit.from, UnitFrom::File);
    says(&all(&said), &["in which unit heights are"]);
    says(
        &point.facts.format,
        &["GeoTIFF", "decimals of 32 bits", "21 columns x 18 rows"],
    );

    // Rows from the south, and a grid turned by thirty degrees, have as many faces.
    for name in ["f32_south_up.tif", "f32_turned.tif"] {
        let (other, _) = good(&spec(name), &folder);
        let (mesh, surface) = faces(&other);
        assert_eq!(mesh.triangles.len(), 2 * 20 * 17, "{name}");
        close("area", surface.facts().unwrap().area_m2, 340.0 * 0.25, 1e-8);
    }
    // From the south, the diagonal still runs from south-west to north-east.
    let (south_up, _) = good(&spec("f32_south_up.tif"), &folder);
    let (mesh, _) = faces(&south_up);
    let [a, _, c] = mesh.triangles[0].map(|v| mesh.vertices[v as usize].p);
    assert!(c.x > a.x && c.y > a.y, "{a:?} {c:?}");

    let (_, said) = good(&spec("two_pages.tif"), &folder);
    says(&all(&said), &["2 pages", "the first is read"]);
    let (_, said) = good(&spec("with_overviews.tif"), &folder);
    assert!(!all(&said).contains("pages"));
}

#[test]
fn tiffs_that_cannot_be_meant_are_refused_in_words() {
    let folder = Folder {
        directory: Some(grids()),
        ..Folder::default()
    };
    for (name, words) in [
        ("refused_degrees.tif", "degrees"),
        ("refused_zstd.tif", "Zstandard"),
        ("refused_lerc.tif", "LERC"),
        ("refused_no_place.tif", "stretched or shifted"),
        ("refused_three_bands.tif", "3 bands"),
        ("refused_scaled.tif", "a scale"),
        ("refused_mask.tif", "mask"),
    ] {
        says(&refusal(name, read(&spec(name), &folder)), &[words]);
    }
    // Who knows better than the file is believed, and told.
    let mut typed = spec("refused_degrees.tif");
    typed.units = Some(LengthUnit::Metre);
    let (_, said) = good(&typed, &folder);
    says(&all(&said), &["degrees", "read in m, as typed"]);
    // Cut off anywhere, a file is refused or whole.
    let whole = std::fs::read(grids().join("f32_deflate_p3_tiles.tif")).unwrap();
    for length in (0..whole.len()).step_by(41) {
        refusal("cut.tif", import("cut.tif", &whole[..length]));
    }
    // A bare TIFF without a place.
    let bare = refusal("a.tif", import("a.tif", b"II*\0\x08\0\0\0\0\0\0\0\0\0"));
    says(&bare, &["does not say what its values mean"]);
}

const HEAD: &str = "ncols 3\nnrows 3\nxllcorner 100\nyllcorner 200\ncellsize 2\n";

fn read_text(text: &str) -> (Import, String) {
    let (import, said) = good(&spec("g.asc"), &Folder::default().with("g.asc", text));
    (import, all(&said))
}

fn refused_text(text: &str) -> String {
    refusal("g.asc", import("g.asc", text.as_bytes()))
}

#[test]
fn heads_come_in_any_order_and_case() {
    let (plain, _) = read_text(&format!("{HEAD}1 2 3\n4 5 6\n7 8 9\n"));
    let (mesh, _) = faces(&plain);
    // Row 1 is the northern one; centres lie half a cell inside.
    let first = mesh.vertices[0];
    assert_eq!((plain.origin.x_m, plain.origin.y_m), (101, 201));
    assert_eq!((first.p, first.z), (Point::new(0, 4_000_000_000), 1.0));
    let last = mesh.vertices[8];
    assert_eq!((last.p, last.z), (Point::new(4_000_000_000, 0), 9.0));
    for text in [
        // Other order and case, centres, CRLF, trailing blanks, values over lines, exponents.
        "CELLSIZE 2.0 \r\nYLLCENTER 201\r\nXLLCENTER 1.01e2\r\nNROWS 3\r\nNCOLS 3\r\n1 2 \r\n3 4\r\n\r\n5 6 7.0e0 80E-1 +9\r\n",
        "\u{feff}ncols 3 nrows 3 xllcorner 100 yllcenter 201 dx 2 dy 2.00 1 2 3 4 5 6 7 8 9",
    ] {
        let (other, _) = read_text(text);
        assert_eq!(other.origin, plain.origin);
        assert_eq!(faces(&other).0.vertices, mesh.vertices, "{text}");
        assert_eq!(faces(&other).0.triangles, mesh.triangles);
    }
    // Cells twice as wide as high.
    let (wide, _) = read_text("ncols 2\nnrows 2\nxllcenter 0\nyllcenter 0\ndx 2\ndy 1\n0 0 0 0");
    near("area", faces(&wide).1.facts().unwrap().area_m2, 2.0, 1e-12);
}

/// Where a square cannot lie on a plane, the surface of one square over either diagonal is known:
/// `A (2 z00 + 2 z11 + z01 + z10) / 6` over the diagonal 00-11.
#[test]
fn the_diagonal_and_what_it_does_to_volumes() {
    // West, east of the northern row, then of the southern: the south-west corner is up 6.
    let (square, said) =
        read_text("ncols 2\nnrows 2\nxllcenter 0\nyllcenter 0\ncellsize 3\n0 0\n6 0\n");
    let (mesh, surface) = faces(&square);
    // Corners: north-west 0, north-east 1, south-west 2, south-east 3.
    assert_eq!(mesh.triangles, [[2, 3, 1], [2, 1, 0]]);
    let a = 9.0;
    near(
        "volume",
        surface.volume_above_m3(0.0),
        a * (2.0 * 6.0) / 6.0,
        1e-12,
    );
    near(
        "turned",
        turned(&square).volume_above_m3(0.0),
        a * 6.0 / 6.0,
        1e-12,
    );
    // t = 0 + 6 - 0 - 0, the difference A |t| / 6 = 9 m3.
    says(&said, &["would hold 9.0 m3 less", "more than 9.0 m3"]);
    // Two squares bent opposite ways: turned both, nothing changes; turned one, 9 m3.
    let (_, said) =
        read_text("ncols 3\nnrows 2\nxllcenter 0\nyllcenter 0\ncellsize 3\n0 0 0\n6 0 6\n");
    says(&said, &["would hold 0.0 m3", "more than 18.0 m3"]);
}

#[test]
fn holes_stay_holes_and_are_counted() {
    let nodata = format!("{HEAD}NODATA_value -1\n");
    // One corner unknown: one triangle there, three whole squares.
    let (corner, _) = read_text(&format!("{nodata}-1 2 3\n4 5 6\n7 8 9"));
    assert_eq!(faces(&corner).0.triangles.len(), 7);
    assert_eq!((corner.facts.kept, left_out(&corner, "NODATA")), (8, 1));
    // The centre unknown: four triangles, cut off corners.
    let (centre, _) = read_text(&format!("{nodata}1 2 3\n4 -1.0 6\n7 8 9"));
    assert_eq!(faces(&centre).0.triangles.len(), 4);
    near(
        "area",
        faces(&centre).1.facts().unwrap().area_m2,
        8.0,
        1e-12,
    );
    // Two known of a square give nothing; a lone cell is left out and counted.
    let (lone, _) = read_text(&format!("{nodata}1 -1 3\n-1 -1 6\n7 8 9"));
    assert_eq!(faces(&lone).0.triangles.len(), 1);
    assert_eq!(left_out(&lone, "NODATA"), 3);
    assert_eq!((lone.facts.kept, left_out(&lone, "square")), (3, 3));
    // nan is a hole, -9999 too where nothing else is said, and it is told.
    let (custom, said) = read_text(&format!("{HEAD}-9999 2 3\n4 5 6\n7 8 NaN"));
    assert_eq!(left_out(&custom, "NODATA"), 2);
    says(&said, &["1 cells of -9999"]);
    let text = refused_text(&format!("{nodata}1 -1 3\n-1 -1 -1\n7 -1 9"));
    says(&text, &["there is no surface"]);
}

/// Positions are start plus k steps, rounded once: the 4,001st column of a tenth of a foot lies
/// at 0.1 ft x 4000 to the nanometre, which 4,000 rounded additions would miss.
#[test]
fn far_cells_lie_where_they_belong() {
    let mut text = "ncols 4001\nnrows 2\nxllcenter 0.3\nyllcenter -0.7\ncellsize 0.1\n".to_owned();
    for _ in 0..2 * 4001 {
        text += "0 ";
    }
    let folder = Folder::default().with("g.asc", &text);
    for (unit, num, den) in [
        (LengthUnit::Metre, 1_000_000_000i128, 1i128),
        (LengthUnit::Foot, 304_800_000, 1),
        (LengthUnit::UsSurveyFoot, 1_200_000_000_000, 3937),
    ] {
        let typed = ImportSpec {
            units: Some(unit),
            ..spec("g.asc")
        };
        let (import, _) = good(&typed, &folder);
        let (mesh, _) = faces(&import);
        for k in [0i128, 1, 3, 1234, 4000] {
            // (0.3 + 0.1 k) units in nanometres, to the nearest whole number.
            let (n, d) = ((3 + k) * num, 10 * den);
            let want = (2 * n + d).div_euclid(2 * d);
            let got = i128::from(mesh.vertices[k as usize].p.x)
                + i128::from(import.origin.x_m) * 1_000_000_000;
            assert_eq!(got, want, "{unit:?} {k}");
        }
    }
}

#[test]
fn grids_that_cannot_be_meant_are_refused_with_their_place() {
    let data = "1 2 3\n4 5 6\n7 8 9\n";
    for (text, words) in [
        (
            format!("{HEAD}1 2 3\n4 5 6\n7 8"),
            &["ends in row 3 behind 2", "9 in all"][..],
        ),
        (
            format!("{HEAD}{data}10"),
            &["line 9", "more heights than the 9"],
        ),
        (
            format!("{HEAD}1 2 3\n4 five 6\n7 8 9"),
            &["line 7", "\"five\"", "height 2 of row 2"],
        ),
        (
            format!("{HEAD}1 2 3\n4,5 5 6\n7 8 9"),
            &["line 7", "decimal point"],
        ),
        (
            format!("{HEAD}1 2 3\n4 1e30 6\n7 8 9"),
            &["height 2 of row 2", "beyond", "NODATA_value"],
        ),
        (
            format!("{HEAD}1 2 3\n4 inf 6\n7 8 9"),
            &["height 2 of row 2", "no number"],
        ),
        (format!("ncols 3\n{data}"), &["lacks nrows"]),
        (
            format!("ncols 3\nnrows 3\ncellsize 1\nyllcorner 0\n{data}"),
            &["lacks xllcorner"],
        ),
        (
            format!("{HEAD}ncols 3\n{data}"),
            &["ncols is given twice", "line 1", "line 6"],
        ),
        (
            format!("{HEAD}xllcenter 3\n{data}"),
            &["both xllcorner and xllcenter"],
        ),
        (
            format!("{HEAD}cellsze 3\n{data}"),
            &["line 6", "is cellsize meant?"],
        ),
        (format!("{HEAD}dx 3\n{data}"), &["one `cellsize`, or both"]),
        (
            "ncols 3.5\nnrows 3\nxllcorner 0\nyllcorner 0\ncellsize 1\n1".into(),
            &["ncols is no whole number", "3.5"],
        ),
        (
            "ncols 3\nnrows 3\nxllcorner 0\nyllcorner 0\ncellsize 0\n1".into(),
            &["cellsize is not above zero"],
        ),
        (
            "ncols 3\nnrows 3\nxllcorner 0\nyllcorner 0\ncellsize -1\n1".into(),
            &["cellsize is not above zero"],
        ),
        (
            "ncols 3\nnrows 3\nxllcorner 0\nyllcorner 0\ncellsize 1e-8\n1".into(),
            &["thinner than a micrometre"],
        ),
        (
            "ncols 1\nnrows 3\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2 3".into(),
            &["1 columns and 3 rows"],
        ),
        (
            "ncols 3\nnrows 3\nxllcorner 9e8\nyllcorner 0\ncellsize 1\n1".into(),
            &["900000000 m east"],
        ),
        (
            "ncols 3\nnrows 3\nxllcorner 1e999\nyllcorner 0\ncellsize 1\n1".into(),
            &["no number"],
        ),
        (
            "ncols 4000000000\nnrows 4000000000\nxllcorner 0\nyllcorner 0\ncellsize 1\n1".into(),
            &["at most 100000000"],
        ),
        (
            "ncols 9000\nnrows 9000\nxllcorner 0\nyllcorner 0\ncellsize 1\n1".into(),
            &["does not hold them"],
        ),
        ("x,y,z\n1,2,3\n".into(), &["no elevation grid"]),
        ("1 2 3\n".into(), &["neither a GeoTIFF nor"]),
        (String::new(), &["empty"]),
    ] {
        says(&refused_text(&text), words);
    }
    let missing = read(&spec("no.asc"), &Folder::default()).unwrap_err();
    says(&missing.to_string(), &["cannot be read"]);
    // A word without end is no reason for memory without end.
    let long = format!("{HEAD}1 2 {}", "9".repeat(1 << 20));
    says(&refused_text(&long), &["height 3 of row 1"]);
}

/// Random grids with holes: every face is counter-clockwise, no square is covered twice, and the
/// area is that of the squares.
#[test]
fn random_holes_leave_a_surface() {
    let mut random = super::common::Random(7);
    for _ in 0..200 {
        let (columns, rows) = (2 + random.below(7) as usize, 2 + random.below(7) as usize);
        let known: Vec<bool> = (0..columns * rows).map(|_| random.below(4) > 0).collect();
        let mut text =
            format!("ncols {columns}\nnrows {rows}\nxllcorner 0\nyllcorner 0\ncellsize 1\n");
        for known in &known {
            text += &if *known {
                format!("{} ", random.below(9))
            } else {
                "nan ".into()
            };
        }
        let mut halves = 0i128;
        for r in 0..rows - 1 {
            for c in 0..columns - 1 {
                let k = r * columns + c;
                let corners = [k, k + 1, k + columns, k + columns + 1];
                halves += match corners.iter().filter(|&&k| known[k]).count() {
                    4 => 2,
                    3 => 1,
                    _ => 0,
                };
            }
        }
        if halves == 0 {
            says(&refused_text(&text), &["there is no surface"]);
            continue;
        }
        let (import, _) = read_text(&text);
        let (mesh, surface) = faces(&import);
        assert_eq!(mesh.triangles.len() as i128, halves);
        assert_eq!(surface.twice_area_nm2(), halves * 1_000_000_000_000_000_000);
        for t in &mesh.triangles {
            let [a, b, c] = t.map(|v| mesh.vertices[v as usize].p);
            assert!(orient(a, b, c) > 0);
        }
    }
}
