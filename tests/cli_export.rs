//! `--export` as typed: which file it writes, and that nothing is left behind where it cannot.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

use std::path::Path;
use std::process::{Command, Output};

use tempfile::TempDir;

#[path = "common/program.rs"]
mod program;

use program::{cutbank, err, json, out};

/// Names in a folder, sorted.
fn names(dir: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(dir).unwrap();
    let mut names: Vec<String> = entries
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

#[test]
fn the_ending_says_the_format() {
    let dir = TempDir::new().unwrap();
    for (file, files, starts) in [
        ("a.xml", vec!["a.xml"], "<?xml"),
        ("b.LandXML", vec!["b.LandXML"], "<?xml"),
        ("c.glb", vec!["c.glb"], "glTF"),
        ("d.gltf", vec!["d.gltf"], "{\"asset\""),
        (
            "e.geojson",
            vec!["e.geojson"],
            "{\"type\":\"FeatureCollection\"",
        ),
        ("f.csv", vec!["f-vertices.csv", "f-facets.csv"], "id,"),
    ] {
        let output = cutbank(dir.path(), &["ground", ":design", "--export", file]);
        assert_eq!(output.status.code(), Some(0), "{}", err(&output));
        let words = format!("written: {} (", files.join(", "));
        assert!(out(&output).contains(&words), "{}", out(&output));
        for file in files {
            let bytes = std::fs::read(dir.path().join(file)).unwrap();
            assert!(bytes.starts_with(starts.as_bytes()), "{file}");
            std::fs::remove_file(dir.path().join(file)).unwrap();
        }
        assert_eq!(names(dir.path()), Vec::<String>::new());
    }
}

#[test]
fn two_surfaces_stand_in_one_file_in_the_unit_of_the_job() {
    let dir = TempDir::new().unwrap();
    let arguments = ["volume", ":ground", ":built", "--format", "json"];
    let plain = json(&cutbank(dir.path(), &arguments));
    let with = [&arguments[..], &["--export", "both.xml"]].concat();
    let exported = json(&cutbank(dir.path(), &with));
    assert_eq!(exported["written"], serde_json::json!(["both.xml"]));
    assert_eq!(exported["cut_m3"], plain["cut_m3"]);
    assert!(plain.get("written").is_none());
    let text = std::fs::read_to_string(dir.path().join("both.xml")).unwrap();
    for part in [
        "<Surface name=\"ground\" state=\"existing\"",
        "<Surface name=\"built\" state=\"proposed\"",
        "linearUnit=\"foot\"",
    ] {
        assert!(text.contains(part), "{part}");
    }
    let with = [&arguments[..], &["--units", "m", "--export", "both.csv"]].concat();
    json(&cutbank(dir.path(), &with));
    assert_eq!(
        names(dir.path()),
        [
            "both-built-facets.csv",
            "both-built-vertices.csv",
            "both-ground-facets.csv",
            "both-ground-vertices.csv",
            "both.xml"
        ]
    );
}

#[test]
fn an_export_is_a_source_with_the_same_volumes() {
    let dir = TempDir::new().unwrap();
    for unit in ["ft", "m", "us-ft"] {
        let arguments = [
            "volume", ":ground", ":built", "--format", "json", "--units", unit,
        ];
        let with = [&arguments[..], &["--export", "both.xml"]].concat();
        let was = json(&cutbank(dir.path(), &with));
        let arguments = [
            "volume",
            "both.xml#ground",
            "both.xml#built",
            "--format",
            "json",
        ];
        let back = json(&cutbank(dir.path(), &arguments));
        for key in ["cut_m3", "fill_m3", "common_area_m2"] {
            let (was, back) = (was[key].as_f64().unwrap(), back[key].as_f64().unwrap());
            // What the file says of corners and planes is less.
            assert!((was - back).abs() < 5.0e-6, "{unit}, {key}: {was}, {back}");
        }
        // And it may be what the next export is made of, but not in its place.
        let again = |file| cutbank(dir.path(), &["ground", "both.xml#built", "--export", file]);
        assert_eq!(again("both.xml").status.code(), Some(2));
        assert_eq!(again("again.xml").status.code(), Some(0));
    }
}

#[test]
fn lines_are_geojson() {
    let dir = TempDir::new().unwrap();
    let line = [
        "section",
        ":ground",
        ":design",
        "--line",
        "33,15.5",
        "60.5,15.5",
    ];
    for arguments in [&["contours", ":ground"][..], &line] {
        let with = |file| [arguments, &["--export", file]].concat();
        let output = cutbank(dir.path(), &with("lines.geojson"));
        assert_eq!(output.status.code(), Some(0), "{}", err(&output));
        let text = std::fs::read_to_string(dir.path().join("lines.geojson")).unwrap();
        assert!(text.contains("not longitude and latitude"));
        std::fs::remove_file(dir.path().join("lines.geojson")).unwrap();
        let output = cutbank(dir.path(), &with("lines.xml"));
        assert_eq!(output.status.code(), Some(2));
        assert!(err(&output).contains("lines are written as GeoJSON only"));
        assert!(err(&output).contains("--format csv"), "{}", err(&output));
        assert_eq!(names(dir.path()), Vec::<String>::new());
    }
}

#[test]
fn what_stands_in_the_way_is_said_and_nothing_is_left() {
    let dir = TempDir::new().unwrap();
    std::fs::create_dir(dir.path().join("folder.xml")).unwrap();
    std::fs::write(dir.path().join("file"), "a file").unwrap();
    for (file, words) in [
        (
            "yard.dwg",
            "let it end in .xml, .landxml, .glb, .gltf, .geojson, .csv",
        ),
        ("yard", "no format that is written"),
        ("-", "no format that is written"),
        ("folder.xml", "folder.xml is a folder"),
        ("missing/yard.xml", "there is no folder missing"),
        ("file/yard.xml", "file is a file, no folder"),
        ("/proc/yard.xml", "/proc/yard.xml failed"),
    ] {
        let output = cutbank(dir.path(), &["ground", ":ground", "--export", file]);
        assert_eq!(output.status.code(), Some(2), "{file}");
        assert!(err(&output).contains(words), "{file}: {}", err(&output));
        assert!(err(&output).contains("--export"), "{}", err(&output));
        assert_eq!(out(&output), "", "{file}");
        assert_eq!(names(dir.path()), ["file", "folder.xml"]);
    }
}

#[test]
fn what_a_surface_was_made_from_is_not_written_over() {
    let dir = TempDir::new().unwrap();
    assert_eq!(cutbank(dir.path(), &["new", "yard"]).status.code(), Some(0));
    // A survey may have any name: one that the export of facets would have.
    let job = dir.path().join("yard/job.toml");
    let text = std::fs::read_to_string(&job).unwrap();
    std::fs::write(&job, text.replace("levels.csv", "levels-facets.csv")).unwrap();
    let book = dir.path().join("yard/levels-facets.csv");
    std::fs::rename(dir.path().join("yard/levels.csv"), &book).unwrap();
    let before = std::fs::read(&book).unwrap();
    let export = |file: &str| cutbank(dir.path(), &["ground", "yard:ground", "--export", file]);
    for file in ["yard/levels.csv", "./yard/../yard/levels.csv"] {
        let output = export(file);
        assert_eq!(output.status.code(), Some(2));
        let words = "levels-facets.csv is what the surface was made from";
        assert!(err(&output).contains(words), "{}", err(&output));
        assert_eq!(std::fs::read(&book).unwrap(), before);
        assert_eq!(
            names(&dir.path().join("yard")),
            ["job.toml", "levels-facets.csv"]
        );
    }
    assert_eq!(export("yard/other.csv").status.code(), Some(0));
    // An export of before is written over.
    assert_eq!(export("yard/other.csv").status.code(), Some(0));
}

/// Runs the program where no file may be larger than some blocks of 512 or 1024 bytes.
#[cfg(unix)]
fn with_small_files(dir: &Path, blocks: u32, arguments: &str) -> Output {
    let program = env!("CARGO_BIN_EXE_cutbank");
    // The signal is ignored, so that the write fails as on a full disk.
    let script = format!("trap '' XFSZ; ulimit -f {blocks}; exec '{program}' {arguments}");
    let mut shell = Command::new("sh");
    shell.args(["-c", &script]).current_dir(dir);
    shell.output().unwrap()
}

#[cfg(unix)]
#[test]
fn a_file_that_does_not_fit_leaves_the_old_one() {
    for file in [
        "yard.xml",
        "yard.glb",
        "yard.gltf",
        "yard.geojson",
        "yard.csv",
    ] {
        let dir = TempDir::new().unwrap();
        std::fs::write(dir.path().join("yard-facets.csv"), "old").unwrap();
        std::fs::write(dir.path().join(file), "old").unwrap();
        let before = names(dir.path());
        let output = with_small_files(dir.path(), 2, &format!("ground :design --export {file}"));
        assert_eq!(output.status.code(), Some(2), "{}", err(&output));
        let said = err(&output);
        assert!(said.contains("larger than a file may be here"), "{said}");
        assert_eq!(names(dir.path()), before);
        for name in before {
            let text = std::fs::read_to_string(dir.path().join(name)).unwrap();
            assert_eq!(text, "old");
        }
    }
    // The report folder too, in the middle of its exports.
    let dir = TempDir::new().unwrap();
    assert_eq!(cutbank(dir.path(), &["report"]).status.code(), Some(0));
    let page = || std::fs::read(dir.path().join("report/index.html")).unwrap();
    let (before, folder) = (page(), names(&dir.path().join("report")));
    let output = with_small_files(dir.path(), 400, "report");
    assert_eq!(output.status.code(), Some(2), "{}", err(&output));
    assert_eq!(names(dir.path()), ["report"]);
    assert_eq!(
        (page(), names(&dir.path().join("report"))),
        (before, folder)
    );
}

/// A tiny disk of its own; `None` where this user may not have one.
#[cfg(target_os = "linux")]
struct TinyDisk(TempDir);

#[cfg(target_os = "linux")]
impl TinyDisk {
    fn new(options: &str) -> Option<TinyDisk> {
        let dir = TempDir::new().unwrap();
        let mut mount = Command::new("mount");
        mount.args(["-t", "tmpfs", "-o", options, "tmpfs"]);
        let done = mount.arg(dir.path()).output();
        let is_there = done.is_ok_and(|done| done.status.success());
        is_there.then_some(TinyDisk(dir))
    }
}

#[cfg(target_os = "linux")]
impl Drop for TinyDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(self.0.path()).output();
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_and_a_read_only_one_are_told() {
    let Some(full) = TinyDisk::new("size=40k") else {
        println!("not run: a full disk, this user may not mount one");
        return;
    };
    for file in ["yard.xml", "yard.csv"] {
        let output = cutbank(full.0.path(), &["ground", ":design", "--export", file]);
        assert_eq!(output.status.code(), Some(2), "{}", err(&output));
        assert!(
            err(&output).contains("the disk is full"),
            "{}",
            err(&output)
        );
        assert_eq!(names(full.0.path()), Vec::<String>::new());
    }
    let output = cutbank(full.0.path(), &["report"]);
    assert_eq!(output.status.code(), Some(2), "{}", err(&output));
    assert_eq!(names(full.0.path()), Vec::<String>::new());
    let Some(shut) = TinyDisk::new("size=40k,ro") else {
        return;
    };
    let output = cutbank(
        shut.0.path(),
        &["ground", ":design", "--export", "yard.xml"],
    );
    assert_eq!(output.status.code(), Some(2), "{}", err(&output));
    assert!(
        err(&output).contains("the disk is read-only"),
        "{}",
        err(&output)
    );
}
