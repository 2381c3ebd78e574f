//! Point clouds: what is taken of them and what is said of the rest, against readings by a
//! general-purpose library (`fixtures/scans`); units; headers held against points; damage.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod common;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use common::{Folder, Random, Threads, package, reference_data};
use cutbank::diag::{Diagnostic, Failure, Level};
use cutbank::files::{Files, Workers};
use cutbank::geom::{P3, Point};
use cutbank::import::{Import, UnitFrom, read};
use cutbank::job::{GroundFilter, ImportKind, ImportSpec, SamePlace, Sieve};
use cutbank::units::LengthUnit;
use serde_json::Value;

/// A cloud with nothing left out but doubled places.
fn whole(file: &str) -> ImportSpec {
    let mut spec = ground(file);
    spec.cloud.classes = Some((0..=255).collect());
    spec.cloud.keep_withheld = true;
    spec.cloud.keep_overlap = true;
    spec
}

/// A cloud read the usual way.
fn ground(file: &str) -> ImportSpec {
    ImportSpec::new(ImportKind::Cloud, file, LengthUnit::Metre)
}

/// The files that the `las` crate ships.
fn shipped() -> PathBuf {
    package("las").join("tests/data")
}

fn folder(directory: &Path) -> Folder {
    Folder {
        directory: Some(directory.to_owned()),
        ..Folder::default()
    }
}

fn read_in(directory: &Path, spec: &ImportSpec) -> (Import, Vec<Diagnostic>) {
    let answer = read(spec, &folder(directory));
    let (import, said) = answer.unwrap_or_else(|fault| panic!("{}: {fault}", spec.file));
    assert!(said.iter().all(|d| d.level != Level::Error), "{said:?}");
    let left: u64 = import.facts.left_out.iter().map(|l| l.count).sum();
    assert_eq!(import.facts.read, import.facts.kept + left, "{}", spec.file);
    assert_eq!(import.facts.kept as usize, import.content.points().len());
    (import, said)
}

fn refusal(answer: Result<(Import, Vec<Diagnostic>), Failure>, file: &str, code: &str) -> String {
    let fault = answer.map(|(import, _)| import.facts).unwrap_err();
    let words = fault.to_string();
    let first = &fault.0[0];
    assert_eq!(first.code, code, "{words}");
    assert!(words.contains(file), "the file is not named: {words}");
    words
}

fn readings() -> Value {
    let text = include_str!("../fixtures/scans/readings.json");
    serde_json::from_str(text).unwrap()
}

fn left_out(import: &Import, why: &str) -> u64 {
    let left = import.facts.left_out.iter().find(|l| l.why == why);
    left.map_or(0, |l| l.count)
}

/// Sums of absolute positions and heights, whole nanometres.
fn sums_nm(import: &Import) -> [i128; 3] {
    let origin = [import.origin.x_m, import.origin.y_m].map(|m| i128::from(m) * 1_000_000_000);
    let mut sums = [0; 3];
    for P3 { p, z } in import.content.points() {
        sums[0] += i128::from(p.x) + origin[0];
        sums[1] += i128::from(p.y) + origin[1];
        sums[2] += (z * 1e9).round() as i128;
    }
    sums
}

/// The same of `count` stored integers whose sums are known, exactly: scales and offsets are
/// decimals.
fn sums_of(reading: &Value, places: &Value, unit: LengthUnit) -> [f64; 3] {
    let decimal = |text: &str| -> (i128, i128) {
        let (whole, part) = text.split_once('.').unwrap_or((text, ""));
        (
            format!("{whole}{part}").parse().unwrap(),
            10i128.pow(part.len() as u32),
        )
    };
    let count = i128::from(places["count"].as_u64().unwrap());
    let (num, den) = unit.metre_ratio();
    [0, 1, 2].map(|k| {
        let sum = i128::from(places["sums"][k].as_i64().unwrap());
        let (scale, scale_parts) = decimal(reading["scales"][k].as_str().unwrap());
        let (offset, offset_parts) = decimal(reading["offsets"][k].as_str().unwrap());
        let whole = sum * scale * offset_parts + count * offset * scale_parts;
        let nm = num * 1_000_000_000;
        let (q, r) = (
            whole / (scale_parts * offset_parts),
            whole % (scale_parts * offset_parts),
        );
        let exact = q * nm / den;
        let rest = (q * nm % den) as f64 / den as f64
            + r as f64 * nm as f64 / den as f64 / (scale_parts * offset_parts) as f64;
        exact as f64 + rest
    })
}

fn holds_against(directory: &Path, file: &str, unit: LengthUnit) {
    let readings = readings();
    let reading = &readings["files"][file];
    for (mut spec, places) in [(whole(file), "places"), (ground(file), "ground_places")] {
        spec.units = Some(unit);
        let places = &reading[places];
        if places["count"] == 0 {
            continue;
        }
        let (import, _) = read_in(directory, &spec);
        let facts = &import.facts;
        assert_eq!(facts.read, reading["points"].as_u64().unwrap());
        assert_eq!(facts.kept, places["count"].as_u64().unwrap(), "{file}");
        let format = format!("LAS 1.{}", &reading["version"].as_str().unwrap()[2..]);
        let format = format!("{}, point format {}", &format[4..], reading["format"]);
        assert!(facts.format.ends_with(&format), "{} {format}", facts.format);
        let (got, want) = (sums_nm(&import), sums_of(reading, places, unit));
        for k in 0..3 {
            // Every point is rounded by half a nanometre at most, the sum itself by f64.
            let most = facts.kept as f64 / 2.0 + want[k].abs() * 3e-16;
            let off = (got[k] as f64 - want[k]).abs();
            assert!(off <= most, "{file} {k}: {} {} {off}", got[k], want[k]);
        }
        if spec.cloud.classes.is_none() {
            for (class, count) in reading["classes"].as_object().unwrap() {
                let name = format!("class {class} (");
                let left = facts.left_out.iter().find(|l| l.why.starts_with(&name));
                let want = if class == "2" {
                    0
                } else {
                    count.as_u64().unwrap()
                };
                assert_eq!(left.map_or(0, |l| l.count), want, "{file} {class}");
            }
        }
    }
}

/// Real files of all kinds against a general-purpose library's reading: counts by class, sums of
/// coordinates, formats.
#[test]
fn shipped_files_are_read_as_by_a_library() {
    let shipped = shipped();
    for (file, unit) in [
        ("autzen.las", LengthUnit::Foot),
        ("autzen.laz", LengthUnit::Foot),
        ("autzen.copc.laz", LengthUnit::Foot),
        ("extrabytes.laz", LengthUnit::Metre),
        ("32-1-472-150-76.laz", LengthUnit::Metre),
    ] {
        holds_against(&shipped, file, unit);
    }
}

#[test]
fn public_sets_are_read_as_by_a_library() {
    let Some(data) = reference_data("public_sets_are_read_as_by_a_library") else {
        return;
    };
    for (file, unit) in [
        ("hills_mtm7.laz", LengthUnit::Metre),
        ("autzen_feet.laz", LengthUnit::Foot),
        ("autzen_small.las", LengthUnit::Foot),
        ("autzen_small.copc.laz", LengthUnit::Foot),
        ("field_usft_14.las", LengthUnit::UsSurveyFoot),
    ] {
        holds_against(&data, file, unit);
    }
}

/// Nothing depends on the number of threads.
#[test]
fn any_number_of_threads_reads_the_same() {
    struct Many(Folder, Threads);
    impl Files for Many {
        fn read(&self, name: &str) -> Result<Vec<u8>, String> {
            self.0.read(name)
        }
        fn workers(&self) -> &dyn Workers {
            &self.1
        }
        fn today(&self) -> String {
            self.0.today()
        }
    }
    let (shipped, file) = (shipped(), "extrabytes.laz");
    let (one, _) = read_in(&shipped, &whole(file));
    for threads in [2, 3, 7] {
        let files = Many(folder(&shipped), Threads(threads));
        let (many, _) = read(&whole(file), &files).unwrap();
        assert_eq!(many.content.points(), one.content.points());
        assert_eq!(many.facts, one.facts);
    }
}

/// Traps of the public sets: what each says of its units, and what is done with it.
#[test]
fn units_are_told_and_overridden() {
    let shipped = shipped();
    let facts = |directory: &Path, spec: &ImportSpec| {
        let (import, said) = read_in(directory, spec);
        let codes: Vec<&str> = said.iter().map(|d| d.code).collect();
        (import.facts.plan_unit, import.facts.height_unit, codes)
    };
    // GeoKey 3076 is the foot; heights have no key.
    let (plan, height, said) = facts(&shipped, &whole("autzen.laz"));
    assert_eq!((plan.unit, plan.from), (LengthUnit::Foot, UnitFrom::File));
    assert_eq!(
        (height.unit, height.from),
        (LengthUnit::Foot, UnitFrom::TakenForGranted)
    );
    assert_eq!(said, ["unit-assumed"]);
    // A compound system in WKT: plan in feet, heights in US survey feet.
    let (plan, height, said) = facts(&shipped, &whole("autzen.copc.laz"));
    assert_eq!((plan.unit, plan.from), (LengthUnit::Foot, UnitFrom::File));
    assert_eq!(
        (height.unit, height.from),
        (LengthUnit::UsSurveyFoot, UnitFrom::File)
    );
    assert_eq!(said, [""; 0]);
    // Nothing is named.
    let mut spec = whole("extrabytes.laz");
    spec.if_silent = LengthUnit::UsSurveyFoot;
    let (plan, height, said) = facts(&shipped, &spec);
    let granted = (LengthUnit::UsSurveyFoot, UnitFrom::TakenForGranted);
    assert_eq!(
        [(plan.unit, plan.from), (height.unit, height.from)],
        [granted; 2]
    );
    assert_eq!(said, ["unit-assumed"]);
    // The user wins, for both, and is told.
    let mut spec = whole("32-1-472-150-76.laz");
    spec.units = Some(LengthUnit::Foot);
    let (plan, height, said) = facts(&shipped, &spec);
    assert_eq!(
        (plan.from, plan.overruled),
        (UnitFrom::Typed, Some(LengthUnit::Metre))
    );
    assert_eq!(
        (height.unit, height.overruled),
        (LengthUnit::Foot, Some(LengthUnit::Metre))
    );
    assert_eq!(said, ["unit-overruled"; 2]);
    spec.z_units = Some(LengthUnit::Metre);
    let (_, height, said) = facts(&shipped, &spec);
    assert_eq!(
        (height.unit, height.from, height.overruled),
        (LengthUnit::Metre, UnitFrom::Typed, None)
    );
    assert_eq!(said, ["unit-overruled"]);
}

#[test]
fn units_of_the_public_sets() {
    let Some(data) = reference_data("units_of_the_public_sets") else {
        return;
    };
    let metre = LengthUnit::Metre;
    for (file, plan, height) in [
        // EPSG 2949 and nothing else.
        ("hills_mtm7.laz", metre, metre),
        ("autzen_feet.laz", LengthUnit::Foot, LengthUnit::Foot),
        (
            "field_usft_14.las",
            LengthUnit::UsSurveyFoot,
            LengthUnit::UsSurveyFoot,
        ),
        // It names metres and holds feet: only the user can know.
        ("autzen_small.copc.laz", metre, LengthUnit::UsSurveyFoot),
    ] {
        let (import, _) = read_in(&data, &ground(file));
        assert_eq!(import.facts.plan_unit.unit, plan, "{file}");
        assert_eq!(import.facts.height_unit.unit, height, "{file}");
        assert_eq!(import.facts.plan_unit.from, UnitFrom::File, "{file}");
    }
    let mut spec = ground("autzen_small.copc.laz");
    spec.units = Some(LengthUnit::Foot);
    let (import, said) = read_in(&data, &spec);
    let plan = import.facts.plan_unit;
    assert_eq!((plan.unit, plan.overruled), (LengthUnit::Foot, Some(metre)));
    assert!(
        said[0]
            .message
            .contains("the file states m, and is read in ft"),
        "{}",
        said[0]
    );
    let (import, said) = read_in(&data, &ground("autzen_small.las"));
    assert_eq!(import.facts.plan_unit.from, UnitFrom::TakenForGranted);
    assert!(
        said[0]
            .message
            .contains("in which unit plan and heights are"),
        "{}",
        said[0]
    );
}

/// Files that were cut off, or claim what they do not hold.
#[test]
fn broken_files_are_refused_in_words() {
    let Some(data) = reference_data("broken_files_are_refused_in_words") else {
        return;
    };
    for (file, code, words) in [
        (
            "broken_truncated_autzen_small.las",
            "cloud-count",
            "the header claims 1,065 points, the file holds 636",
        ),
        (
            "broken_truncated_hills_mtm7.laz",
            "cloud-cut-off",
            "cut off or never finished",
        ),
        (
            "broken_count_too_high.las",
            "cloud-count",
            "the header claims 1,000,000 points, the file holds 1,065",
        ),
        (
            "broken_header_only.las",
            "cloud-count",
            "the header claims 1,065 points, the file ends before the first",
        ),
        (
            "broken_bad_signature.las",
            "not-a-cloud",
            "it begins with \"XASF\" in place of LASF",
        ),
    ] {
        let said = refusal(read(&whole(file), &folder(&data)), file, code);
        assert!(said.contains(words), "{said}");
    }
}

/// The public sets have as many ground points as the reference results count.
#[test]
fn ground_points_of_the_public_sets() {
    let Some(data) = reference_data("ground_points_of_the_public_sets") else {
        return;
    };
    for set in ["hills_mtm7", "autzen_feet", "field_usft_14"] {
        let text = std::fs::read_to_string(data.join(format!("expected/{set}.json"))).unwrap();
        let expected: Value = serde_json::from_str(&text).unwrap();
        let ending = if set == "field_usft_14" { "las" } else { "laz" };
        let mut spec = ground(&format!("{set}.{ending}"));
        spec.cloud.same_place = SamePlace::First;
        let (import, _) = read_in(&data, &spec);
        assert_eq!(
            import.facts.kept,
            expected["points"].as_u64().unwrap(),
            "{set}"
        );
        let unit = import.facts.plan_unit.unit;
        let lowest = import
            .content
            .points()
            .iter()
            .map(|p| p.z)
            .fold(f64::MAX, f64::min);
        let want = expected["measures"]["z_min"].as_f64().unwrap();
        assert!((import.facts.height_unit.unit.from_m(lowest) - want).abs() < 1e-9);
        let origin = [import.origin.x_m, import.origin.y_m].map(|m| m as f64);
        for k in 0..2 {
            let low = import
                .content
                .points()
                .iter()
                .map(|p| [p.p.x, p.p.y][k])
                .min()
                .unwrap();
            let low = unit.from_m(origin[k] + low as f64 / 1e9);
            let want = expected["origin_subtracted"][k].as_f64().unwrap();
            assert!((low - want).abs() < 1e-6, "{set}: {low} {want}");
        }
    }
}

/// A header with steps of a millimetre from 500,000, 4,100,000.
fn stepped(minor: u8, format: u8, packed: bool) -> las::Builder {
    let mut builder = las::Builder::from((1, minor));
    builder.point_format = las::point::Format::new(format).unwrap();
    builder.point_format.is_compressed = packed;
    let step = |offset| las::Transform {
        scale: 0.001,
        offset,
    };
    builder.transforms = las::Vector {
        x: step(500_000.0),
        y: step(4_100_000.0),
        z: step(0.0),
    };
    builder
}

/// A cloud written by the `las` crate: point format, packed or not.
fn made(format: u8, packed: bool, points: impl Iterator<Item = las::Point>) -> Vec<u8> {
    let builder = stepped(if format >= 6 { 4 } else { 2 }, format, packed);
    let header = builder.into_header().unwrap();
    let mut writer = las::Writer::new(std::io::Cursor::new(Vec::new()), header).unwrap();
    for point in points {
        writer.write_point(point).unwrap();
    }
    writer.into_inner().unwrap().into_inner()
}

/// A point of a made cloud.
fn point(format: u8, [x, y, z]: [f64; 3], class: u8) -> las::Point {
    let format = las::point::Format::new(format).unwrap();
    las::Point {
        x: 500_000.0 + x,
        y: 4_100_000.0 + y,
        z,
        classification: las::point::Classification::new(class).unwrap(),
        return_number: 1,
        number_of_returns: 1,
        gps_time: format.has_gps_time.then_some(x),
        color: format.has_color.then(las::Color::default),
        nir: format.has_nir.then_some(7),
        ..las::Point::default()
    }
}

#[test]
fn every_point_left_out_has_a_reason() {
    for (format, packed) in [(0, false), (3, true), (6, false), (8, true)] {
        let new = format >= 6;
        let at = |k: u32, class| point(format, [f64::from(k), 1.0, 100.0], class);
        let mut points: Vec<las::Point> = (0..20).map(|k| at(k, 2)).collect();
        points.extend((20..23).map(|k| at(k, 7)));
        points.extend((23..25).map(|k| at(k, 18)));
        points.extend((25..29).map(|k| at(k, 5)));
        points[3].is_withheld = true;
        points[4].is_overlap = true;
        points[5].is_overlap = true;
        points[9].x = points[8].x;
        points[9].z = 99.5;
        let bytes = made(format, packed, points.into_iter());
        let files = Folder::default().with_bytes("a.laz", &bytes);
        let mut spec = ground("a.laz");
        let nm = 1_000_000_000;
        // Up to and with the point at 15 m.
        spec.cloud.bounds_nm = Some([0, 0, 500_015 * nm, 4_100_001 * nm]);
        let import = |spec: &ImportSpec| read(spec, &files).unwrap().0;
        let usual = import(&spec);
        // The writer turns the flag of overlap into class 12 in old formats.
        let overlap =
            ["class 12 (overlap)", "flagged as overlap of flight lines"][usize::from(new)];
        for (why, count) in [
            ("class 5 (high vegetation)", 4),
            ("class 7 (low noise)", 3),
            ("class 18 (high noise)", 2),
            ("flagged withheld", 1),
            (overlap, 2),
            ("outside the bounds", 4),
            ("at the place of another", 1),
        ] {
            assert_eq!(left_out(&usual, why), count, "format {format}: {why}");
        }
        assert_eq!((usual.facts.read, usual.facts.kept), (29, 12));
        let doubled = usual
            .content
            .points()
            .iter()
            .find(|p| p.p.x == 8 * nm)
            .unwrap();
        assert_eq!(doubled.z, 99.5);
        spec.cloud.bounds_nm = None;
        spec.cloud.keep_withheld = true;
        spec.cloud.keep_overlap = true;
        spec.cloud.same_place = SamePlace::Highest;
        let kept = if new { 19 } else { 17 };
        assert_eq!(import(&spec).facts.kept, kept, "format {format}");
        spec.cloud.classes = Some(vec![7, 18]);
        assert_eq!(import(&spec).facts.kept, 5);
        spec.cloud.classes = Some(vec![9]);
        let words = refusal(read(&spec, &files), "a.laz", "cloud-no-ground");
        assert!(
            words.contains("class 9 (water)") && words.contains("3 class 7"),
            "{words}"
        );
    }
}

/// Shares of errors of the ground filter: ground taken away (type I), and objects kept (type II).
///
/// Source: G. Sithole, G. Vosselman, Experimental comparison of filter algorithms for bare-Earth
/// extraction from airborne laser scanning point clouds, ISPRS Journal of Photogrammetry and Remote
/// Sensing 59 (2004), 85-101, section 4.2
fn filter_errors(files: &Folder, file: &str, sieve: Sieve) -> [f64; 2] {
    let places = |spec: &ImportSpec| -> BTreeSet<(Point, u64)> {
        let (import, _) = read(spec, files).unwrap();
        let points = import.content.points().iter();
        points.map(|p| (p.p, p.z.to_bits())).collect()
    };
    let of_classes = |classes: &mut dyn Iterator<Item = u8>| {
        let mut spec = ground(file);
        spec.cloud.classes = Some(classes.collect());
        spec
    };
    let is_object = |class: &u8| ![2, 7, 9, 18].contains(class);
    let is_ground = places(&of_classes(&mut [2].into_iter()));
    let is_object = places(&of_classes(&mut (0..=255).filter(is_object)));
    let mut spec = of_classes(&mut (0..=255).filter(|c| ![7, 9, 18].contains(c)));
    spec.cloud.filter = GroundFilter::Always;
    spec.cloud.sieve = sieve;
    let kept = places(&spec);
    let share = |part: usize, whole: usize| part as f64 / whole as f64;
    [
        1.0 - share(kept.intersection(&is_ground).count(), is_ground.len()),
        share(kept.intersection(&is_object).count(), is_object.len()),
    ]
}

/// The filter against the classes of public sets. Class 1 is not classified rather than an object:
/// in `hills_mtm7` and `autzen_feet` it holds all points near the ground that were not made class 2,
/// so that objects kept count what lies on the ground too.
#[test]
fn the_ground_filter_finds_the_ground_of_public_sets() {
    let Some(data) = reference_data("the_ground_filter_finds_the_ground_of_public_sets") else {
        return;
    };
    for (file, most) in [
        ("hills_mtm7.laz", [0.021, 0.22]),
        ("autzen_feet.laz", [0.002, 0.72]),
        ("field_usft_14.las", [0.000_1, 0.007]),
    ] {
        let [lost, kept] = filter_errors(&folder(&data), file, Sieve::default());
        println!("{file}: type I {lost:.4}, type II {kept:.4}");
        assert!(lost <= most[0] && kept <= most[1], "{file}: {lost} {kept}");
    }
}

/// A yard without classes: a slope with a mound, a house of 9 by 7 m and 6 m high, bushes of 0.6 to
/// 2.6 m, and a few echoes far below. What is ground is known.
#[test]
fn ground_is_told_by_its_shape() {
    let mut random = Random(17);
    let mut truth = Vec::new();
    for _ in 0..60_000 {
        let (x, y) = (random.between(0.0, 60.0), random.between(0.0, 50.0));
        let mound = 1.2 * (-((x - 45.0) / 6.0).powi(2) - ((y - 35.0) / 5.0).powi(2)).exp();
        let z = 100.0 + 0.12 * x - 0.05 * y + mound + random.between(-0.02, 0.02);
        let on_house = (12.0..21.0).contains(&x) && (20.0..27.0).contains(&y);
        let in_bush = (x / 4.0).sin() * (y / 3.0).cos() > 0.6 && random.below(2) == 0;
        let off = if on_house {
            6.0
        } else if random.below(5_000) == 0 {
            -8.0
        } else if in_bush {
            random.between(0.6, 2.6)
        } else {
            0.0
        };
        truth.push(([x, y, z + off], off));
    }
    let points = truth.iter().map(|&(place, _)| point(3, place, 1));
    let bytes = made(3, true, points);
    let files = Folder::default().with_bytes("phone.laz", &bytes);
    let (import, said) = read(&ground("phone.laz"), &files).unwrap();
    assert!(
        said.iter().any(|d| d.code == "cloud-unclassified"),
        "{said:?}"
    );
    let key = |[x, y, _]: [f64; 3]| [x, y].map(|v| (v * 1000.0).round() as i64);
    let origin = import.origin;
    assert_eq!([origin.x_m, origin.y_m], [500_000, 4_100_000]);
    let kept: BTreeSet<[i64; 2]> = import
        .content
        .points()
        .iter()
        .map(|p| [p.p.x / 1_000_000, p.p.y / 1_000_000])
        .collect();
    let mut errors = [(0, 0); 2];
    for &(place, off) in &truth {
        let is_kept = kept.contains(&key(place));
        let (wrong, all) = &mut errors[usize::from(off != 0.0)];
        *all += 1;
        *wrong += usize::from(is_kept != (off == 0.0));
    }
    println!("ground lost and all, objects kept and all: {errors:?}");
    let [(lost, ground_points), (objects, all_objects)] = errors;
    assert!(lost * 1000 <= ground_points, "{lost} of {ground_points}");
    assert!(objects * 200 <= all_objects, "{objects} of {all_objects}");
    // The picture is an account of the same points.
    let picture = import.taken_away.as_ref().unwrap();
    let counted: u64 = picture.cells.iter().map(|c| u64::from(c.count)).sum();
    assert_eq!(counted, picture.above + picture.below);
    let above = left_out(&import, "stands on the ground, by the ground filter");
    let below = left_out(&import, "lies below the ground, by the ground filter");
    assert_eq!([above, below], [picture.above, picture.below]);
    let left: u64 = import.facts.left_out.iter().map(|l| l.count).sum();
    assert_eq!(import.facts.read, import.facts.kept + left);
    let house = picture.cells.iter().find(|cell| {
        let at = |k: u32, low: i64| (f64::from(k) + 0.5) * picture.cell_m + low as f64 / 1e9;
        let (x, y) = (at(cell.column, picture.low.x), at(cell.row, picture.low.y));
        (x - 16.0).abs() < 1.0 && (y - 23.0).abs() < 1.0
    });
    let highest_m = house.unwrap().highest_m;
    assert!((highest_m - 6.0).abs() < 0.2, "{highest_m}");
    // With a slope that a house keeps to, it stays: the parameters are taken.
    let mut spec = ground("phone.laz");
    spec.cloud.sieve.slope_rise_per_run = 10.0;
    let steep = read(&spec, &files).unwrap().0;
    assert!(steep.facts.kept > import.facts.kept + 1000);
    spec.cloud.sieve.cell_m = 0.0;
    let words = refusal(read(&spec, &files), "phone.laz", "cloud-filter");
    assert!(
        words.contains("the cell of the ground filter is 0"),
        "{words}"
    );
    spec.cloud.filter = GroundFilter::Never;
    let all = read(&spec, &files).unwrap().0;
    assert!(all.taken_away.is_none() && all.facts.kept > 59_900);
}

/// Waves of ground under bushes and trees, with the class of every point: both errors are known.
#[test]
fn the_ground_filter_on_a_made_cloud() {
    let mut random = Random(3);
    let points: Vec<las::Point> = (0..40_000)
        .map(|_| {
            let (x, y) = (random.between(0.0, 90.0), random.between(0.0, 90.0));
            let wave = 1.5 * (x / 13.0).sin() * (y / 17.0).cos();
            let (off, class) = match random.below(20) {
                0..=2 => (random.between(0.9, 3.0), 4),
                3 => (random.between(3.0, 9.0), 5),
                _ => (random.between(-0.03, 0.03), 2),
            };
            point(6, [x, y, 100.0 + 0.02 * x + wave + off], class)
        })
        .collect();
    let bytes = made(6, true, points.into_iter());
    let files = Folder::default().with_bytes("a.laz", &bytes);
    let [lost, kept] = filter_errors(&files, "a.laz", Sieve::default());
    println!("made: type I {lost:.4}, type II {kept:.4}");
    assert!(lost < 0.002 && kept < 0.01, "{lost} {kept}");
}

/// The yard of a hundred points that the tests of headers damage.
fn small(format: u8, packed: bool) -> Vec<u8> {
    let at = |k: u32| {
        [
            f64::from(k % 10),
            f64::from(k / 10),
            100.0 + f64::from(k) / 100.0,
        ]
    };
    made(format, packed, (0..100).map(|k| point(format, at(k), 2)))
}

/// Reads bytes as a file.
fn read_bytes(bytes: &[u8]) -> Result<(Import, Vec<Diagnostic>), Failure> {
    read(
        &ground("a.laz"),
        &Folder::default().with_bytes("a.laz", bytes),
    )
}

/// Formats with and without colours, waves and time hold the same places, packed or not.
#[test]
fn every_point_format_is_read() {
    let (want, _) = read_bytes(&small(0, false)).unwrap();
    assert_eq!(want.facts.kept, 100);
    for format in 0..=10 {
        for packed in [false, true] {
            let mut builder = stepped(4, format, packed);
            builder.point_format.extra_bytes = u16::from(format);
            let header = builder.into_header().unwrap();
            let mut writer = las::Writer::new(std::io::Cursor::new(Vec::new()), header).unwrap();
            for k in 0..100 {
                let at = [
                    f64::from(k % 10),
                    f64::from(k / 10),
                    100.0 + f64::from(k) / 100.0,
                ];
                let mut point = point(format, at, 2);
                point.waveform = [4, 5, 9, 10].contains(&format).then(Default::default);
                point.extra_bytes = vec![k as u8; usize::from(format)];
                writer.write_point(point).unwrap();
            }
            let bytes = writer.into_inner().unwrap().into_inner();
            let (import, _) =
                read_bytes(&bytes).unwrap_or_else(|fault| panic!("{format}: {fault}"));
            assert_eq!(
                import.content.points(),
                want.content.points(),
                "{format} {packed}"
            );
            assert!(
                import
                    .facts
                    .format
                    .ends_with(&format!("point format {format}"))
            );
        }
    }
}

/// Headers that make no sense: LAS Specification 1.4 R15, table 3, says where the numbers stand.
#[test]
fn headers_that_make_no_sense_are_refused_in_words() {
    let f64s = |v: f64| v.to_le_bytes().to_vec();
    let cases: [(usize, Vec<u8>, &str, &str); 15] = [
        (
            131,
            f64s(0.0),
            "cloud-scale",
            "the scale of x in the header is 0",
        ),
        (
            147,
            f64s(f64::NAN),
            "cloud-scale",
            "the scale of z in the header is no number",
        ),
        (
            139,
            f64s(-0.01),
            "cloud-scale",
            "the scale of y in the header is -1e-2",
        ),
        (131, f64s(1e300), "cloud-scale", "the step of coordinates"),
        (
            155,
            f64s(1e300),
            "cloud-scale",
            "the offset of x in the header is 1e300",
        ),
        (
            155,
            f64s(5.0e8),
            "cloud-too-far",
            "no coordinate is larger than 400000000 m",
        ),
        (107, vec![0; 4], "cloud-empty", "holds no point"),
        (
            107,
            vec![255; 4],
            "cloud-count",
            "the header claims 4,294,967,295 points, the file holds 100",
        ),
        (
            104,
            vec![11],
            "cloud-format",
            "point format 11 is not known",
        ),
        (
            104,
            vec![3],
            "cloud-format",
            "one of format 3 has 34 at least",
        ),
        (24, vec![2], "cloud-version", "LAS version 2.2 is not known"),
        (25, vec![7], "cloud-version", "LAS version 1.7 is not known"),
        (
            100,
            vec![255; 4],
            "cloud-records",
            "record 1 of the 4294967295 that the header claims",
        ),
        (
            94,
            vec![9, 0],
            "cloud-header",
            "the header says it is 9 bytes long",
        ),
        (
            96,
            vec![255; 4],
            "cloud-count",
            "the file ends before the first",
        ),
    ];
    for (at, bytes, code, words) in cases {
        let mut file = small(0, false);
        file[at..at + bytes.len()].copy_from_slice(&bytes);
        let said = refusal(read_bytes(&file), "a.laz", code);
        assert!(said.contains(words), "{said}");
        assert!(said.contains("help: "), "{said}");
    }
    for length in 0..227 {
        assert!(read_bytes(&small(0, true)[..length]).is_err(), "{length}");
    }
    // The record of the packing: an absurd length, another kind of packing, no record.
    let packed = small(1, true);
    for (at, byte, code) in [
        (248, 255, "cloud-records"),
        (281, 9, "cloud-packing"),
        (229, b'X', "cloud-packing"),
    ] {
        let mut file = packed.clone();
        file[at] = byte;
        refusal(read_bytes(&file), "a.laz", code);
    }
}

/// A point outside the box of the header is named, with its number and its coordinates.
#[test]
fn points_outside_the_box_of_the_header_are_named() {
    let lower = |mut bytes: Vec<u8>| {
        bytes[211..219].copy_from_slice(&100.975f64.to_le_bytes());
        bytes
    };
    let words = "2 of 100 points lie outside the box in the header";
    let place = "point 99 at 500008.000, 4100009.000, 100.980; point 100 at 500009.000, 4100009.000, 100.990";
    let said = refusal(read_bytes(&lower(small(1, true))), "a.laz", "cloud-outside");
    assert!(said.contains(words) && said.contains(place), "{said}");
    let (import, said) = read_bytes(&lower(small(1, false))).unwrap();
    let outside = |said: &[Diagnostic]| {
        let found = said.iter().find(|d| d.code == "cloud-outside").unwrap();
        found.message.clone()
    };
    assert_eq!(import.facts.kept, 100);
    assert!(outside(&said).contains(words) && outside(&said).contains(place));
    // A turned byte of a height of a file that is not packed: point 8, its third byte of z.
    let mut bytes = small(0, false);
    let points_at = u32::from_le_bytes(bytes[96..100].try_into().unwrap()) as usize;
    bytes[points_at + 7 * 20 + 10] ^= 0x40;
    let (_, said) = read_bytes(&bytes).unwrap();
    let said = outside(&said);
    assert!(
        said.contains("1 of 100 points lie outside") && said.contains("point 8 at"),
        "{said}"
    );
}

/// Every byte of packed points turned, one at a time: what is read as if nothing were wrong.
#[test]
fn a_turned_byte_hardly_ever_passes() {
    let shipped = shipped();
    for (file, every, most) in [
        ("autzen.laz", 3, 0.005),
        ("autzen.copc.laz", 3, 0.01),
        ("extrabytes.laz", 61, 0.005),
    ] {
        let good = std::fs::read(shipped.join(file)).unwrap();
        let at = u32::from_le_bytes(good[96..100].try_into().unwrap()) as usize + 8;
        let files = |bytes: &[u8]| Folder::default().with_bytes(file, bytes);
        let (want, _) = read(&whole(file), &files(&good)).unwrap();
        let table = i64::from_le_bytes(good[at - 8..at].try_into().unwrap()) as usize;
        let (mut refused, mut warned, mut same, mut passed) = (0, 0, 0, 0);
        for k in (at..table).step_by(every) {
            let mut bytes = good.clone();
            bytes[k] ^= 1 << (k % 8);
            match read(&whole(file), &files(&bytes)) {
                Err(_) => refused += 1,
                Ok((_, said)) if said.iter().any(|d| d.level == Level::Warn) => warned += 1,
                Ok((import, _)) if import.content.points() == want.content.points() => same += 1,
                Ok(_) => passed += 1,
            }
        }
        println!(
            "{file}: {refused} refused, {warned} warned, {same} the same points, {passed} passed"
        );
        let all = refused + warned + same + passed;
        assert!(
            f64::from(passed) <= most * f64::from(all),
            "{file}: {passed} of {all}"
        );
    }
}

/// A made cloud with records about its coordinate system, and what is said of its units.
fn with_records(wkt_rules: bool, records: &[(u16, Vec<u8>)], scale: f64) -> Vec<u8> {
    let mut builder = las::Builder::from((1, 4));
    builder.has_wkt_crs = wkt_rules;
    builder.transforms.x.scale = scale;
    builder.transforms.y.scale = scale;
    let vlrs = records.iter().map(|(record_id, data)| las::Vlr {
        user_id: "LASF_Projection".to_owned(),
        record_id: *record_id,
        description: String::new(),
        data: data.clone(),
    });
    builder.vlrs = vlrs.collect();
    let header = builder.into_header().unwrap();
    let mut writer = las::Writer::new(std::io::Cursor::new(Vec::new()), header).unwrap();
    for k in 0..50 {
        let at = f64::from(k);
        let mut point = point(0, [at / 7.0, at / 11.0, 3.0 + at], 2);
        point.x -= 500_000.0;
        point.y -= 4_100_000.0;
        writer.write_point(point).unwrap();
    }
    writer.into_inner().unwrap().into_inner()
}

#[test]
fn records_that_contradict_each_other_and_degrees() {
    let keys = |keys: &[[u16; 4]]| {
        let words = [1, 1, 0, keys.len() as u16];
        let words = words.iter().chain(keys.iter().flatten());
        (
            34735,
            words.flat_map(|w| w.to_le_bytes()).collect::<Vec<u8>>(),
        )
    };
    let text = |unit: &str| (2112, format!("PROJCS[\"p\",{unit}]").into_bytes());
    let foot = "UNIT[\"foot\",0.3048]";
    let metre_keys = || keys(&[[1024, 0, 1, 1], [3076, 0, 1, 9001]]);
    for (wkt_rules, unit) in [(true, LengthUnit::Foot), (false, LengthUnit::Metre)] {
        let bytes = with_records(wkt_rules, &[metre_keys(), text(foot)], 0.001);
        let (import, said) = read_bytes(&bytes).unwrap();
        assert_eq!(import.facts.plan_unit.unit, unit);
        assert_eq!(said[0].code, "units-contradict");
        assert!(said[0].message.contains("the latter rules"), "{}", said[0]);
    }
    // A text too long for a usual record lies behind the points.
    let long = format!("{foot},REMARK[\"{}\"]", "x".repeat(70_000));
    let (import, _) = read_bytes(&with_records(true, &[text(&long)], 0.001)).unwrap();
    assert_eq!(import.facts.plan_unit.unit, LengthUnit::Foot);
    for records in [
        vec![keys(&[[1024, 0, 1, 2], [2048, 0, 1, 4326]])],
        vec![(
            2112,
            b"GEOGCS[\"g\",UNIT[\"degree\",0.0174532925199433]]".to_vec(),
        )],
    ] {
        let said = refusal(
            read_bytes(&with_records(true, &records, 0.001)),
            "a.laz",
            "cloud-degrees",
        );
        assert!(
            said.contains("in degrees") && said.contains("projected"),
            "{said}"
        );
    }
    let said = refusal(
        read_bytes(&with_records(false, &[], 1e-7)),
        "a.laz",
        "cloud-degrees",
    );
    assert!(
        said.contains("look like degrees") && said.contains("--units m"),
        "{said}"
    );
    let mut spec = ground("a.laz");
    spec.units = Some(LengthUnit::Metre);
    let files = Folder::default().with_bytes("a.laz", &with_records(false, &[], 1e-7));
    assert_eq!(read(&spec, &files).unwrap().0.facts.kept, 50);
    let link = "UNIT[\"link\",0.201168]";
    let said = refusal(
        read_bytes(&with_records(true, &[text(link)], 0.001)),
        "a.laz",
        "cloud-unit",
    );
    assert!(
        said.contains("the unit \"link\", which is not known here"),
        "{said}"
    );
    let unknown = keys(&[[1024, 0, 1, 1], [3072, 0, 1, 1234]]);
    let (_, said) = read_bytes(&with_records(false, &[unknown], 0.001)).unwrap();
    assert!(said[1].message.contains("EPSG 1234"), "{said:?}");
}

/// What stopped the unpacker or made it ask for gigabytes, found by mangling: a start beyond its
/// range, and a layer that claims four gigabytes.
#[test]
fn what_the_unpacker_does_not_bear_is_refused() {
    for (format, place) in [(1, 28), (6, 30 + 4)] {
        let mut bytes = small(format, true);
        let at = u32::from_le_bytes(bytes[96..100].try_into().unwrap()) as usize + 8 + place;
        bytes[at..at + 4].fill(0xff);
        let said = refusal(read_bytes(&bytes), "a.laz", "cloud-damaged");
        assert!(
            said.contains("points 1 to 100 cannot be unpacked"),
            "{said}"
        );
    }
}
