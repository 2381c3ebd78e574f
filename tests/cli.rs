//! The program as a user types it: answers, errors with a remedy, exit codes, whole reports.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};

use approx::assert_relative_eq;
use serde_json::Value;
use tempfile::TempDir;

#[path = "common/program.rs"]
mod program;

use program::{cutbank, err, fixtures, json, out, untimed};

const POINTS: &str = "name,x,y,z,code\n1,0,0,100,edge\n2,40,0,100,edge\n3,40,30,100,edge\n4,0,30,100,edge\n5,20,14,100,\n";

const JOB: &str = r#"[job]
name = "Small yard"
units = "ft"

[[survey]]
points = "points.csv"

[[feature]]
kind = "basin"
name = "Pond"
outline = [[16.0, 12.0], [24.0, 12.0], [24.0, 18.0], [16.0, 18.0]]
floor = "depth:2.0"
side_run_per_rise = 1.5
"#;

/// A job folder with changes to its two files.
fn job(change: impl Fn(&mut String, &mut String)) -> TempDir {
    let dir = TempDir::new().unwrap();
    let (mut job, mut points) = (JOB.to_owned(), POINTS.to_owned());
    change(&mut job, &mut points);
    std::fs::write(dir.path().join("job.toml"), job).unwrap();
    std::fs::write(dir.path().join("points.csv"), points).unwrap();
    dir
}

#[test]
fn the_example_reports_and_exits_0() {
    let dir = TempDir::new().unwrap();
    let output = cutbank(dir.path(), &["report"]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    for file in [
        "index.html",
        "report.json",
        "plan.svg",
        "section-1.svg",
        "profile-1.svg",
        "walls.csv",
    ] {
        let path = dir.path().join("report").join(file);
        assert!(path.metadata().unwrap().len() > 0, "{file}");
    }
    let text = out(&output);
    assert!(
        text.lines().count() <= 60 && text.contains("index.html"),
        "{text}"
    );
}

#[test]
fn walls_are_listed_and_made_entries() {
    let dir = TempDir::new().unwrap();
    assert_eq!(cutbank(dir.path(), &["new", "mine"]).status.code(), Some(0));
    let run = |more: &[&str]| {
        let output = cutbank(dir.path(), &[&["walls", "mine"], more].concat());
        assert_eq!(output.status.code(), Some(0), "{}", err(&output));
        out(&output)
    };
    let text = run(&[]);
    assert!(text.starts_with("Walls needed: 1 stretch."), "{text}");
    assert!(text.contains("carries besides its soil: the slope of Fall berm above it"));
    let value: serde_json::Value = serde_json::from_str(&run(&["--format", "json"])).unwrap();
    assert!(value["walls"][0]["max_height_m"].is_number());
    assert!(run(&["--format", "csv"]).starts_with("wall,feature,along,"));
    let entry = run(&["--entry", "1"]);
    assert!(
        entry.contains("[[feature]]\nkind = \"wall\"\nname = \"Wall 1\""),
        "{entry}"
    );
    // Pasted into the job it lays, and the wall is asked for no more.
    let path = dir.path().join("mine/job.toml");
    let job = std::fs::read_to_string(&path).unwrap();
    std::fs::write(&path, job + "\n" + &entry).unwrap();
    let text = run(&[]);
    assert!(text.starts_with("Walls needed: none"), "{text}");
    let output = cutbank(dir.path(), &["walls", "mine", "--entry", "1"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        err(&output).contains("this job needs no wall"),
        "{}",
        err(&output)
    );
}

#[test]
fn a_new_job_checks_and_runs_like_the_example() {
    let dir = TempDir::new().unwrap();
    assert_eq!(cutbank(dir.path(), &["new", "mine"]).status.code(), Some(0));
    assert_eq!(
        cutbank(dir.path(), &["check", "mine"]).status.code(),
        Some(0)
    );
    let a = cutbank(
        dir.path(),
        &["report", "mine", "--out", "a", "--format", "json"],
    );
    let b = cutbank(dir.path(), &["report", "--out", "b", "--format", "json"]);
    assert_eq!(untimed(&a), untimed(&b));
    // A folder that is there already is not written over.
    let again = cutbank(dir.path(), &["new", "mine"]);
    assert_eq!(again.status.code(), Some(2));
    assert!(err(&again).contains("already"));
}

#[test]
fn volumes_of_a_small_job() {
    let dir = job(|_, _| {});
    let output = cutbank(
        dir.path(),
        &["report", ".", "--out", "r", "--format", "json"],
    );
    // Floor 8 by 6 ft, 2 ft deep, sides 1.5 across : 1 up, mitred: the prismoidal rule is exact.
    let (bottom, middle, top) = (8.0 * 6.0, 11.0 * 9.0, 14.0 * 12.0);
    let ft3 = 2.0 / 6.0 * (bottom + 4.0 * middle + top);
    let report = json(&output);
    let cut = report["to_build"]["cut_m3"].as_f64().unwrap();
    assert_relative_eq!(cut, ft3 * 0.3048f64.powi(3), max_relative = 1e-8);
    let volume = json(&cutbank(
        dir.path(),
        &["volume", ".:ground", ".:design", "--format", "json"],
    ));
    assert_relative_eq!(
        volume["cut_m3"].as_f64().unwrap(),
        cut,
        max_relative = 1e-12
    );
    assert_eq!(volume["fill_m3"].as_f64(), Some(0.0));
    for (answer, stages) in [
        (&report, vec!["read", "run", "draw", "write"]),
        (&volume, vec!["read", "build", "judge", "design", "volume"]),
    ] {
        let seconds = answer["stages_s"].as_object().unwrap();
        assert_eq!(seconds.keys().collect::<Vec<_>>(), stages);
    }
    let filed = std::fs::read(dir.path().join("r/report.json")).unwrap();
    let filed: Value = serde_json::from_slice(&filed).unwrap();
    assert_eq!(untimed(&output), filed);
}

#[test]
fn exit_1_says_stop() {
    let dir = job(|job, _| job.push_str("[limits]\ntemporary_run_per_rise = 3.0\n"));
    let output = cutbank(dir.path(), &["report", ".", "--out", "r"]);
    assert_eq!(output.status.code(), Some(1), "{}", err(&output));
    assert!(dir.path().join("r/index.html").exists());
}

#[test]
fn shots_from_the_standard_input_are_read_once() {
    let dir = job(|job, _| *job = job.replace("points.csv", "-"));
    let mut child = Command::new(env!("CARGO_BIN_EXE_cutbank"))
        .args(["report", ".", "--out", "r", "--format", "json"])
        .current_dir(dir.path())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut pipe = child.stdin.take().unwrap();
    pipe.write_all(POINTS.as_bytes()).unwrap();
    drop(pipe);
    let piped = json(&child.wait_with_output().unwrap());
    // The digest of the same shots in a file.
    let dir = job(|_, _| {});
    let filed = json(&cutbank(
        dir.path(),
        &["report", ".", "--out", "r", "--format", "json"],
    ));
    assert_eq!(piped["inputs"][1]["file"], "-");
    assert_eq!(piped["inputs"][1]["bytes"], POINTS.len());
    assert_eq!(piped["inputs"][1]["digest"], filed["inputs"][1]["digest"]);
}

/// A job that cannot run: exit 2, these words on standard error, nothing on standard output, and
/// the last good report as it was.
fn refused(change: impl Fn(&mut String, &mut String), words: &[&str]) {
    let good = job(|_, _| {});
    assert_eq!(
        cutbank(good.path(), &["report", ".", "--out", "r"])
            .status
            .code(),
        Some(0)
    );
    let before = std::fs::read(good.path().join("r/report.json")).unwrap();
    let bad = job(change);
    for file in ["job.toml", "points.csv"] {
        std::fs::copy(bad.path().join(file), good.path().join(file)).unwrap();
    }
    let output = cutbank(good.path(), &["report", ".", "--out", "r"]);
    let said = err(&output);
    assert_eq!(output.status.code(), Some(2), "{said}");
    for word in words {
        assert!(said.contains(word), "no \"{word}\" in:\n{said}");
    }
    assert!(said.contains("help: "), "no remedy in:\n{said}");
    assert_eq!(out(&output), "");
    assert_eq!(
        std::fs::read(good.path().join("r/report.json")).unwrap(),
        before
    );
    let leftovers: Vec<_> = std::fs::read_dir(good.path())
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.starts_with('.'))
        .collect();
    assert!(leftovers.is_empty(), "{leftovers:?}");
}

#[test]
fn bad_input_is_named_with_its_remedy() {
    // A missing file.
    refused(
        |job, _| *job = job.replace("points.csv", "shots.csv"),
        &["job.toml line 6", "shots.csv"],
    );
    // A bad number.
    refused(
        |_, points| *points = points.replace("3,40,30,100", "3,40,30,\"12,4\""),
        &["points.csv line 4", "\"z\"", "12,4", "decimal point"],
    );
    for word in ["nan", "inf", "1e300", "one hundred", ""] {
        refused(
            |_, points| *points = points.replace("3,40,30,100", &format!("3,40,30,{word}")),
            &["points.csv line 4", "\"z\""],
        );
    }
    // An unknown code, with the nearest known one.
    refused(
        |job, _| job.push_str("[ground]\noutline = \"code:edgee\"\n"),
        &["job.toml line 15", "edgee", "edge"],
    );
    // An unknown key, with the nearest known one.
    refused(
        |job, _| *job = job.replace("side_run_per_rise", "side_run_per_ris"),
        &["job.toml line 13", "side_run_per_ris", "side_run_per_rise"],
    );
    // An unknown kind of feature.
    refused(
        |job, _| *job = job.replace("\"basin\"", "\"basim\""),
        &["job.toml line 8", "basim", "did you mean \"basin\""],
    );
    // A floor above the ground.
    refused(
        |job, _| *job = job.replace("depth:2.0", "level:101.0"),
        &["job.toml line 8", "Pond", "above the ground", "lower it"],
    );
    // Outside the survey.
    refused(
        |job, _| {
            *job = job.replace(
                "[[16.0, 12.0], [24.0, 12.0], [24.0, 18.0], [16.0, 18.0]]",
                "[[116.0, 12.0], [124.0, 12.0], [124.0, 18.0]]",
            )
        },
        &["job.toml line 11", "inside the survey"],
    );
    // An outline that crosses itself.
    refused(
        |job, _| *job = job.replace("[24.0, 12.0], [24.0, 18.0]", "[24.0, 18.0], [24.0, 12.0]"),
        &["job.toml line 11", "cross"],
    );
    // Too few points; all on a line; none at all.
    refused(
        |_, points| points.truncate(points.find("3,40").unwrap()),
        &["points.csv", "three"],
    );
    refused(
        |_, points| *points = "name,x,y,z\n1,0,0,1\n2,1,1,1\n3,2,2,1\n4,3,3,2\n".to_owned(),
        &["line"],
    );
    refused(|_, points| points.clear(), &["points.csv", "no rows"]);
    refused(
        |_, points| *points = "name,x,y,z\n".to_owned(),
        &["points.csv"],
    );
    // One place with two heights.
    refused(
        |_, points| points.push_str("6,20,14,101,\n"),
        &["points.csv line 6", "points.csv line 7", "duplicates"],
    );
    // Breaklines that cross at two heights.
    refused(
        |job, points| {
            points.push_str("a1,5,5,100,a\na2,10,10,100,a\nb1,5,10,101,b\nb2,10,5,101,b\n");
            job.push_str("[ground]\nbreaklines = [\"code:a\", \"code:b\"]\n");
        },
        &["job.toml line 15", "cross", "crossings"],
    );
    // A unit nobody knows; no unit at all.
    refused(
        |job, _| *job = job.replace("\"ft\"", "\"feet\""),
        &["job.toml line 3", "feet", "ft"],
    );
    refused(
        |job, _| *job = job.replace("units = \"ft\"\n", ""),
        &["job.toml", "units"],
    );
    // Below a benchmark that is not there.
    refused(
        |job, _| *job = job.replace("depth:2.0", "below-benchmark:5"),
        &["job.toml line 12", "benchmark"],
    );
    // A soil nobody knows.
    refused(
        |job, _| job.push_str("[soil]\nkind = \"loam\"\n[soil2]\n"),
        &["soil2"],
    );
    refused(
        |job, _| job.push_str("[soil]\nkind = \"lome\"\n"),
        &["job.toml line 15", "lome"],
    );
    // Not TOML, and not text.
    refused(|job, _| job.push_str("[ground\n"), &["job.toml line 14"]);
}

#[test]
fn check_says_everything_at_once() {
    let dir = job(|job, points| {
        *job = job
            .replace("depth:2.0", "depht:2.0")
            .replace("\"ft\"", "\"feet\"");
        job.push_str("[soil]\nkind = \"lome\"\nbarow = 1\n");
        *points = points.replace("1,0,0,100", "1,0,zero,100");
    });
    let output = cutbank(dir.path(), &["check", "."]);
    assert_eq!(output.status.code(), Some(2));
    let said = err(&output);
    for word in ["feet", "barow", "depht"] {
        assert!(said.contains(word), "no {word} in:\n{said}");
    }
    let dir = job(|_, points| {
        *points = points
            .replace("1,0,0,100", "1,0,zero,100")
            .replace("2,40,0", "2,forty,0")
    });
    let said = err(&cutbank(dir.path(), &["check", "."]));
    assert!(said.contains("zero") && said.contains("forty"), "{said}");
}

#[test]
fn a_broken_write_leaves_the_last_report() {
    let dir = job(|_, _| {});
    // A folder with something of the user's in it is not replaced.
    std::fs::create_dir(dir.path().join("mine")).unwrap();
    std::fs::write(dir.path().join("mine/notes.txt"), "keep").unwrap();
    let output = cutbank(dir.path(), &["report", ".", "--out", "mine"]);
    assert_eq!(output.status.code(), Some(2));
    assert_eq!(
        std::fs::read_to_string(dir.path().join("mine/notes.txt")).unwrap(),
        "keep"
    );
    let output = cutbank(dir.path(), &["report", ".", "--out", "points.csv"]);
    assert_eq!(output.status.code(), Some(2));
    let output = cutbank(dir.path(), &["report", ".", "--out", "points.csv/r"]);
    assert_eq!(output.status.code(), Some(2), "{}", err(&output));
}

#[test]
fn a_new_report_keeps_what_lies_beside_the_old_one() {
    let dir = job(|_, _| {});
    let report = || cutbank(dir.path(), &["report", ".", "--out", "r"]);
    assert_eq!(report().status.code(), Some(0));
    let r = dir.path().join("r");
    std::fs::write(r.join("notes.txt"), "gate is 3 ft wide").unwrap();
    std::fs::create_dir(r.join("photos")).unwrap();
    std::fs::write(r.join("photos/north.txt"), "north side").unwrap();
    // More sections than this job has: left behind by an earlier report.
    std::fs::write(r.join("section-7.svg"), "<svg/>").unwrap();
    std::fs::write(r.join("plan.svg"), "old").unwrap();
    let output = report();
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let text = |name: &str| std::fs::read_to_string(r.join(name)).unwrap();
    assert_eq!(text("notes.txt"), "gate is 3 ft wide");
    assert_eq!(text("photos/north.txt"), "north side");
    assert!(text("plan.svg").starts_with("<svg") || text("plan.svg").starts_with("<?xml"));
    assert!(!r.join("section-7.svg").exists());
    // Every other file is one that a report writes.
    for entry in std::fs::read_dir(&r).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        let is_known = ["notes.txt", "photos"].contains(&&*name);
        assert_ne!(cutbank::report::is_report_file(&name), is_known, "{name}");
    }
    let hidden = std::fs::read_dir(dir.path()).unwrap().filter(|e| {
        e.as_ref()
            .unwrap()
            .file_name()
            .to_str()
            .unwrap()
            .starts_with('.')
    });
    assert_eq!(hidden.count(), 0);
}

#[test]
fn levels_of_the_yard_book() {
    // fixtures/level_book_yard: one set-up of a laser, closing 0.01 ft low; levels are plane
    // minus rod.
    let book = fixtures().join("level_book_yard/levels.csv");
    let book = book.to_str().unwrap();
    let dir = TempDir::new().unwrap();
    let arguments = [
        "levels",
        book,
        "--benchmark",
        "BM1=100.00",
        "--rod",
        "tenths",
        "--format",
        "json",
    ];
    let value = json(&cutbank(dir.path(), &arguments));
    assert_relative_eq!(
        value["setups"][0]["plane_m"].as_f64().unwrap(),
        105.37 * 0.3048,
        max_relative = 1e-12
    );
    assert_relative_eq!(
        value["misclosure_m"].as_f64().unwrap(),
        -0.01 * 0.3048,
        max_relative = 1e-9
    );
    assert_eq!(value["status"], "closed");
    let ground = json(&cutbank(
        dir.path(),
        &[
            "ground",
            book,
            "--benchmark",
            "BM1=100.00",
            "--units",
            "ft",
            "--above",
            "95",
            "--format",
            "json",
        ],
    ));
    assert_eq!(
        (ground["points"].as_u64(), ground["triangles"].as_u64()),
        (Some(48), Some(85))
    );
    // Independent prisms over the certified triangulation: 19358.555466666665 cubic feet.
    assert_relative_eq!(
        ground["volume_above_m3"].as_f64().unwrap(),
        19_358.555_466_666_665 * 0.3048f64.powi(3),
        max_relative = 1e-12
    );
    let text = out(&cutbank(
        dir.path(),
        &[
            "levels",
            book,
            "--benchmark",
            "BM1=100.00",
            "--rod",
            "tenths",
        ],
    ));
    assert!(text.contains("105.37") && text.contains("closed"), "{text}");
}

/// A page that does not close names the sights that can be wrong, on the terminal and in JSON.
#[test]
fn a_book_with_a_mistake_says_where_to_look() {
    let dir = TempDir::new().unwrap();
    // The stump read from both set-ups; the backsight of the second is a foot too long.
    let text = "setup,rod kind,point,type,rod\n1,,step,BS,4.62\n1,,stump,FS,9.11\n\
                2,,stump,BS,3.38\n2,,step,FS,-2.11\n";
    std::fs::write(dir.path().join("page.csv"), text).unwrap();
    let call = |more: &[&str]| {
        let book = [
            "levels",
            "page.csv",
            "--rod",
            "tenths",
            "--benchmark",
            "step=100",
        ];
        cutbank(dir.path(), &[&book, more].concat())
    };
    let output = call(&[]);
    assert_eq!(output.status.code(), Some(1));
    let said = out(&output);
    for words in [
        "look first at, likeliest first:",
        "a rod misread by 1 ft, any of these 4 sights; the book cannot tell which:",
        "line 4, BS on stump from set-up 2: 3.38, would be 2.38",
        "page check agrees: sum of backsights 8.000 - sum of foresights 7.000 = 1.000 ft",
        "4.62 ft = 4 ft 7-7/16 in",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
    let value: Value = serde_json::from_str(&out(&call(&["--format", "json"]))).unwrap();
    assert_eq!(value["suspects"][0]["slip"], "foot");
    assert_eq!(value["suspects"][0]["would_be"], "3.62");
    assert_eq!(
        value["allowance"],
        "0.02 ft per root set-up (common practice, no source)"
    );
    let wide = call(&["--allow", "1.5 ft"]);
    assert_eq!(wide.status.code(), Some(0));
    assert!(out(&wide).contains("1.50 ft is allowed"), "{}", out(&wide));
    let bad = call(&["--allow", "5 mm per setup"]);
    assert_eq!(bad.status.code(), Some(2));
    assert!(err(&bad).contains("\"12 mm per root km\""), "{}", err(&bad));
}

#[test]
fn sections_and_planes() {
    let dir = job(|_, _| {});
    let value = json(&cutbank(
        dir.path(),
        &[
            "section",
            "points.csv",
            "plane:99,0.1,0",
            "--units",
            "ft",
            "--line",
            "-5,10",
            "45,10",
            "--format",
            "json",
        ],
    ));
    let points = value["points"].as_array().unwrap();
    // Only inside the shots, from x = 0 to x = 40.
    assert_relative_eq!(points[0]["x_m"].as_f64().unwrap(), 0.0, epsilon = 1e-9);
    assert_relative_eq!(
        points.last().unwrap()["x_m"].as_f64().unwrap(),
        40.0 * 0.3048,
        max_relative = 1e-9
    );
    assert_relative_eq!(
        points[0]["distance_m"].as_f64().unwrap(),
        5.0 * 0.3048,
        max_relative = 1e-9
    );
    let plane = value["sections"][1]["points"].as_array().unwrap();
    let (a, b) = (&plane[0], plane.last().unwrap());
    let rise = (b["z_m"].as_f64().unwrap() - a["z_m"].as_f64().unwrap())
        / (b["x_m"].as_f64().unwrap() - a["x_m"].as_f64().unwrap());
    assert_relative_eq!(rise, 0.1, max_relative = 1e-9);
    // Cut and fill against a level: 40 by 30 ft, 1 ft down.
    let volume = json(&cutbank(
        dir.path(),
        &[
            "volume",
            "points.csv",
            "level:99",
            "--units",
            "ft",
            "--format",
            "json",
        ],
    ));
    assert_relative_eq!(
        volume["cut_m3"].as_f64().unwrap(),
        1200.0 * 0.3048f64.powi(3),
        max_relative = 1e-12
    );
    assert_relative_eq!(
        volume["net_m3"].as_f64().unwrap(),
        volume["cut_m3"].as_f64().unwrap()
    );
    let csv = out(&cutbank(
        dir.path(),
        &[
            "volume",
            "points.csv",
            "level:99",
            "--units",
            "ft",
            "--format",
            "csv",
        ],
    ));
    assert!(
        csv.starts_with("schema,from,to,cut_m3,fill_m3,net_m3"),
        "{csv}"
    );
}

#[test]
fn volumes_above_and_below_a_level_are_two() {
    // A ramp 12 by 10 m that rises from 0 to 3 m; the level at 1 m leaves a wedge of 8 m with
    // 2 m at its high end above, and one of 4 m with 1 m at its low end below.
    let dir = TempDir::new().unwrap();
    std::fs::write(
        dir.path().join("ramp.csv"),
        "name,x,y,z\n1,0,0,0\n2,12,0,3\n3,12,10,3\n4,0,10,0\n5,5,4,1.25\n",
    )
    .unwrap();
    let ground = |above: &str, format: &str| {
        cutbank(
            dir.path(),
            &["ground", "ramp.csv", "--above", above, "--format", format],
        )
    };
    for (level, above, below) in [
        ("1", 8.0 * 2.0 / 2.0 * 10.0, 4.0 * 1.0 / 2.0 * 10.0),
        // The level beneath all of it, and over all of it.
        ("-2", 12.0 * 10.0 * 3.5, 0.0),
        ("4", 0.0, 12.0 * 10.0 * 2.5),
    ] {
        let value = json(&ground(level, "json"));
        for (key, expected) in [("volume_above_m3", above), ("volume_below_m3", below)] {
            let found = value[key].as_f64().unwrap();
            assert_relative_eq!(found, expected, max_relative = 1e-12);
        }
    }
    let text = out(&ground("1", "text"));
    for words in ["volume above 1 m: 80", "volume below 1 m: 20"] {
        assert!(text.contains(words), "{text}");
    }
    let csv = out(&ground("1", "csv"));
    let head = csv.lines().next().unwrap();
    assert!(head.starts_with("schema,source,points,triangles,"), "{csv}");
    assert!(head.ends_with(",volume_above_m3,volume_below_m3"), "{csv}");
    // Not asked for is not there.
    let plain = json(&cutbank(
        dir.path(),
        &["ground", "ramp.csv", "--format", "json"],
    ));
    assert!(plain.get("volume_above_m3").is_none());
}

#[test]
fn wrong_calls_say_what_to_type() {
    let dir = job(|_, _| {});
    for (arguments, word) in [
        (vec!["ground", "nothing.csv"], "nothing.csv"),
        (vec!["ground", "."], ".:ground"),
        (vec!["ground", "scan.laz"], "there is no file scan.laz"),
        (vec!["volume", "level:1", "level:2"], "surface with shots"),
        (vec!["volume", "points.csv", "level:high"], "level:Z"),
        (vec!["volume", "points.csv", "plane:1,2"], "plane:Z0,DX,DY"),
        (
            vec!["section", "points.csv", "--line", "0,0", "1,one"],
            "--line",
        ),
        (
            vec!["section", "points.csv", "--line", "500,500", "600,500"],
            "none of the surfaces",
        ),
        (
            vec!["ground", "points.csv", "--above", "nan"],
            "beyond any place",
        ),
        (
            vec!["ground", "points.csv", "--above", "1e300"],
            "beyond any place",
        ),
        (
            vec!["ground", "points.csv", "--max-edge", "0"],
            "more than 0",
        ),
        (
            vec!["volume", "points.csv", "level:1e300"],
            "beyond any place",
        ),
        (
            vec!["volume", "points.csv", "plane:1,1e9,0"],
            "beyond any place",
        ),
        (
            vec!["levels", "points.csv", "--benchmark", "BM1=1e300"],
            "NAME=LEVEL",
        ),
        (vec!["levels", "points.csv"], "points.csv"),
        (vec!["report", "nowhere"], "job.toml"),
        (vec!["dig"], "dig"),
    ] {
        let output = cutbank(dir.path(), &arguments);
        assert_eq!(
            output.status.code(),
            Some(2),
            "{arguments:?}: {}",
            err(&output)
        );
        assert!(
            err(&output).contains(word),
            "{arguments:?}:\n{}",
            err(&output)
        );
        assert_eq!(out(&output), "", "{arguments:?}");
    }
}

#[test]
fn the_same_bits_twice() {
    let dir = TempDir::new().unwrap();
    let a = cutbank(dir.path(), &["report", "--out", "a", "--format", "json"]);
    let b = cutbank(dir.path(), &["report", "--out", "b", "--format", "json"]);
    assert_eq!(untimed(&a), untimed(&b));
    for file in ["index.html", "plan.svg", "report.json"] {
        let read = |folder: &str| std::fs::read(dir.path().join(folder).join(file)).unwrap();
        assert_eq!(read("a"), read("b"), "{file}");
    }
}

#[test]
fn commands_of_the_readme_run() {
    // Every line of a `console` block that starts with "cutbank" is typed as it stands, in order,
    // in one folder.
    let readme =
        std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap();
    let dir = TempDir::new().unwrap();
    let mut count = 0;
    for block in readme.split("```console").skip(1) {
        for line in block.split("```").next().unwrap().lines() {
            let Some(arguments) = line.trim().strip_prefix("cutbank ") else {
                continue;
            };
            let arguments: Vec<&str> = arguments
                .split('#')
                .next()
                .unwrap()
                .split_whitespace()
                .collect();
            let output = cutbank(dir.path(), &arguments);
            assert_eq!(output.status.code(), Some(0), "{line}:\n{}", err(&output));
            count += 1;
        }
    }
    assert!(count >= 6, "only {count} commands found");
}

#[test]
fn a_job_among_the_sources_sets_the_unit() {
    let dir = job(|_, _| {});
    // The job is in feet: 40 ft by 30 ft of ground, 1 ft above this level.
    let volume = json(&cutbank(
        dir.path(),
        &["volume", ".:ground", "level:99", "--format", "json"],
    ));
    assert_relative_eq!(
        volume["cut_m3"].as_f64().unwrap(),
        1200.0 * 0.3048f64.powi(3),
        max_relative = 1e-12
    );
    let text = out(&cutbank(dir.path(), &["ground", ".:ground"]));
    assert!(text.contains("1200 sq ft"), "{text}");
    let output = cutbank(dir.path(), &["ground", ".:ground", "--max-edge", "3"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(err(&output).contains("--max-edge"), "{}", err(&output));
}

#[test]
fn drops_near_bends_and_ends() {
    // A stream round a bend of 7.0710678... m from the head, drops typed to the centimetre.
    let stream = |levels: &str| {
        job(|job, points| {
            *points = points
                .replace(",0,100", ",0,104")
                .replace("40,30", "40,60")
                .replace("0,30", "0,60");
            let at = job.find("[[feature]]").unwrap();
            job.truncate(at);
            job.push_str(&format!(
                "[[feature]]\nkind = \"stream\"\nname = \"S\"\nline = [[10, 10], [15, 15], [25, 15]]\n\
                 width = 1\nside_run_per_rise = 0\n{levels}\n"
            ));
        })
    };
    for at in ["7.07", "7.0710678", "7.08", "7.0"] {
        let dir = stream(&format!(
            "start = \"depth:1.0\"\nfall_percent = 1\ndrops = [{{ at = {at}, height = 0.5 }}]"
        ));
        let output = cutbank(dir.path(), &["report", ".", "--out", "r"]);
        assert!(output.status.code() < Some(2), "{at}: {}", err(&output));
    }
    // A drop at an end has no stream above or below it.
    let dir = stream("levels = [\"level:99\", \"level:98.5\", [\"level:98\", \"level:97\"]]");
    let output = cutbank(dir.path(), &["report", ".", "--out", "r"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        err(&output).contains("none below a drop at the foot"),
        "{}",
        err(&output)
    );
    // Neither may the second level of a drop be higher.
    let dir = stream("levels = [\"level:99\", [\"level:98\", \"level:98.5\"], \"level:97\"]");
    let output = cutbank(dir.path(), &["report", ".", "--out", "r"]);
    assert!(
        err(&output).contains("higher than the first"),
        "{}",
        err(&output)
    );
}
