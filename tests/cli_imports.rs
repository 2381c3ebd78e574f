//! Files of other programs as typed: every set is digested or refused in words.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

use std::path::Path;

use tempfile::TempDir;

mod common;
#[path = "common/program.rs"]
mod program;

use common::{close, near, package, reference_data};
use program::{cutbank, err, json, out};

/// 20 by 15 points on a plane, 1 m apart, with what may stand in such a file.
fn plane_xyz(head: &str, unit_m: f64) -> String {
    let mut text = head.to_owned();
    for k in 0..300 {
        let (x, y) = (f64::from(k % 20), f64::from(k / 20));
        let z = 100.0 + 0.1 * x - 0.05 * y;
        let [x, y, z] = [500_000.0 + x, 4_100_000.0 + y, z].map(|m| m / unit_m);
        text += &format!("{x:.9} {y:.9}\t{z:.9}\n");
    }
    text
}

#[test]
fn points_as_text_are_read_line_by_line() {
    let dir = TempDir::new().unwrap();
    let write = |name: &str, text: &str| std::fs::write(dir.path().join(name), text).unwrap();
    write("plain.xyz", &plane_xyz("", 1.0));
    write(
        "head.XYZ",
        &plane_xyz("# a remark\nEasting;Northing;Height\n", 1.0),
    );
    write("feet.xyz", &plane_xyz("", 0.3048));
    for (file, units) in [("plain.xyz", "m"), ("head.XYZ", "m"), ("feet.xyz", "ft")] {
        let call = [
            "ground", file, "--above", "0", "--units", units, "--format", "json",
        ];
        let got = json(&cutbank(dir.path(), &call));
        // The closed form of a plane over a rectangle: its height in the middle times the area.
        let middle = 100.0 + 0.1 * 9.5 - 0.05 * 7.0;
        let area = 19.0 * 14.0;
        close(
            file,
            got["volume_above_m3"].as_f64().unwrap(),
            area * middle,
            1e-9,
        );
        close(file, got["area_m2"].as_f64().unwrap(), area, 1e-9);
        let import = &got["imports"][0];
        assert_eq!(import["kept"], 300, "{file}");
        assert_eq!(import["plan_unit"]["unit"], units);
        assert_eq!(import["plan_unit"]["from"], "typed");
    }
    // A part of it, doubled places, more columns.
    let mut text = plane_xyz("", 1.0);
    text += "500000 4100000 90.0\n500001 4100000 300 17 extra\n";
    write("part.xyz", &text);
    let call = [
        "ground",
        "part.xyz",
        "--bounds",
        "500000,4100000,500009,4100014",
        "--format",
        "json",
    ];
    let output = cutbank(dir.path(), &call);
    let got = json(&output);
    assert!(
        err(&output).contains("1 lines have more than x, y and z"),
        "{}",
        err(&output)
    );
    let import = &got["imports"][0];
    assert_eq!(
        (&import["read"], &import["kept"]),
        (&302.into(), &150.into())
    );
    let left: Vec<String> = import["left_out"]
        .as_array()
        .unwrap()
        .iter()
        .map(|l| format!("{} {}", l["count"], l["why"].as_str().unwrap()))
        .collect();
    assert_eq!(
        left,
        ["150 outside the bounds", "2 at the place of another"]
    );
    // The lowest of those at one place is taken.
    near("lowest", got["min_z_m"].as_f64().unwrap(), 90.0, 1e-9);
    for (text, expected) in [
        ("1 2 3\n4 5\n", "line 2, \"x"),
        (
            "1 2 3\n4 five 6\n",
            "line 2, \"y\": \"five\": this is not a number",
        ),
        ("1 2 nan\n", "line 1, \"z\": \"nan\""),
        ("1 2 1e300\n", "line 1, \"z\": \"1e300\""),
        ("name,x,y,z\nA,1,2,3\n", "are not x, y and z in this order"),
        ("# nothing\n", "the file has no point"),
        ("", "the file is empty"),
    ] {
        write("bad.xyz", text);
        let output = cutbank(dir.path(), &["ground", "bad.xyz"]);
        assert_eq!(output.status.code(), Some(2), "{text:?}");
        let words = err(&output);
        assert!(words.contains("bad.xyz"), "{words}");
        assert!(
            words.contains(expected)
                || expected == "line 2, \"x" && words.contains("fewer than three numbers"),
            "{text:?}: {words}"
        );
    }
}

#[test]
fn options_that_no_source_understands_are_refused() {
    let dir = TempDir::new().unwrap();
    std::fs::write(
        dir.path().join("a.csv"),
        "name,x,y,z\n1,0,0,1\n2,9,0,1\n3,0,9,1\n",
    )
    .unwrap();
    for (option, value) in [
        ("--classes", "2"),
        ("--thin", "0.1"),
        ("--bounds", "0,0,1,1"),
    ] {
        let output = cutbank(dir.path(), &["ground", "a.csv", option, value]);
        assert_eq!(output.status.code(), Some(2));
        let words = err(&output);
        assert!(
            words.contains(option) && words.contains("no source is one"),
            "{words}"
        );
    }
    std::fs::write(dir.path().join("b.xyz"), plane_xyz("", 1.0)).unwrap();
    let output = cutbank(dir.path(), &["ground", "b.xyz", "--bounds", "5,0,1,1"]);
    assert!(
        err(&output).contains("west, south, east and north end"),
        "{}",
        err(&output)
    );
    let output = cutbank(dir.path(), &["ground", "b.xyz", "--taken-away", "t.svg"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        err(&output).contains("no ground filter was used"),
        "{}",
        err(&output)
    );
    assert!(!dir.path().join("t.svg").exists());
}

/// A real cloud through a whole job: thinned, filtered, drawn, exported, read back.
#[test]
fn a_shipped_cloud_becomes_a_yard() {
    let dir = TempDir::new().unwrap();
    let cloud = package("las").join("tests/data/32-1-472-150-76.laz");
    std::fs::copy(&cloud, dir.path().join("scan.laz")).unwrap();
    let call = [
        "ground",
        "scan.laz",
        "--ground-filter",
        "always",
        "--taken-away",
        "away.svg",
        "--thin",
        "0.2",
        "--export",
        "ground.xml",
        "--above",
        "0",
        "--format",
        "json",
    ];
    let output = cutbank(dir.path(), &call);
    let got = json(&output);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let svg = std::fs::read_to_string(dir.path().join("away.svg")).unwrap();
    assert!(
        svg.starts_with("<svg") && svg.contains("away"),
        "{}",
        &svg[..200]
    );
    let import = &got["imports"][0];
    let count = |value: &serde_json::Value| value.as_u64().unwrap();
    let left: u64 = import["left_out"]
        .as_array()
        .unwrap()
        .iter()
        .map(|l| count(&l["count"]))
        .sum();
    assert_eq!(count(&import["read"]), count(&import["kept"]) + left);
    let loss = &import["loss"];
    assert!((loss["tolerance_m"].as_f64().unwrap() - 0.2).abs() < 1e-12);
    // Few enough that all of them were looked at, so none is off by more.
    assert_eq!(loss["looked_at"], loss["points"]);
    assert_eq!(loss["beyond"], 0);
    // What left comes back with the same volume.
    let call = ["ground", "ground.xml", "--above", "0", "--format", "json"];
    let back = json(&cutbank(dir.path(), &call));
    for key in [
        "area_m2",
        "volume_above_m3",
        "surface_area_m2",
        "min_z_m",
        "max_z_m",
    ] {
        close(
            key,
            back[key].as_f64().unwrap(),
            got[key].as_f64().unwrap(),
            1e-12,
        );
    }
    assert_eq!(back["triangles"], got["triangles"]);
}

/// Every file of the outside sets, as a new user would try it.
#[test]
fn every_file_is_digested_or_refused_in_words() {
    let Some(data) = reference_data("every_file_is_digested_or_refused_in_words") else {
        return;
    };
    let dir = TempDir::new().unwrap();
    let mut names: Vec<String> = std::fs::read_dir(&data)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| {
            Path::new(name)
                .extension()
                .is_some_and(|e| !["md", "py"].iter().any(|x| e == *x))
        })
        .collect();
    names.sort();
    assert!(names.len() > 15, "{names:?}");
    for name in names {
        let path = data.join(&name);
        let mut call = vec!["ground", path.to_str().unwrap()];
        if name.starts_with("level_book") {
            call.extend(["--benchmark", "BM1=100", "--rod", "tenths"]);
        }
        let output = cutbank(dir.path(), &call);
        let words = err(&output);
        // A matrix of heights without a place, a corner or a distance says of no point where it is.
        if name == "volcano.csv" {
            assert_eq!(output.status.code(), Some(2));
            assert!(words.contains("no line of column heads"), "{words}");
        } else if name.starts_with("broken") {
            assert_eq!(output.status.code(), Some(2), "{name}: {words}");
            assert!(
                words.contains(&name) && words.contains("help:"),
                "{name}: {words}"
            );
            println!("{}", words.lines().next().unwrap_or_default());
        } else {
            assert_eq!(output.status.code(), Some(0), "{name}: {words}");
            assert!(out(&output).contains("triangles"), "{name}");
        }
    }
}
